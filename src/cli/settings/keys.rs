//! Every setting by name, with what it takes.

use super::{From, Setting, figure};
use crate::cli::output::Stop;
use crate::plan::Fact;
use std::ffi::OsStr;

/// What a setting takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// One of these words.
    Choice(&'static [&'static str]),
    /// A file.
    File,
    /// Files, laid over each other in order.
    Files,
    /// Words.
    Text,
    /// A price or a figure of the costs, as the option of this name takes it.
    Price(Fact),
    /// A limit of the policy.
    Limit(&'static str),
}

/// One setting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Key {
    /// Name in the file, with its table before a point.
    pub path: &'static str,
    /// What it takes.
    pub kind: Kind,
    /// What it settles, in a few words.
    pub what: &'static str,
    /// The option that comes before it; none where there is no one option.
    pub option: Option<&'static str>,
    /// An example that can be used.
    pub example: &'static str,
}

const fn key(
    path: &'static str,
    kind: Kind,
    option: Option<&'static str>,
    example: &'static str,
    what: &'static str,
) -> Key {
    Key { path, kind, what, option, example }
}

/// All settings, in the order in which they are shown.
pub const KEYS: &[Key] = &[
    key("units", Kind::Choice(&["us", "si"]), Some("--units"), "us", "units of the sheets of a plan"),
    key("store", Kind::File, Some("--store"), "beds.db", "the store of beds"),
    key("to", Kind::Choice(&["csv", "xlsx", "json", "jsonl"]), Some("--to"), "csv", "what convert writes"),
    key("grammar", Kind::Files, Some("--grammar"), "words.toml", "words of your own"),
    key("spec", Kind::Files, Some("--spec"), "resins.toml", "new-resin figures of your own"),
    key("policy", Kind::Files, Some("--policy"), "limits.toml", "limits of your own"),
    key("settings", Kind::Files, Some("--settings"), "plan.toml", "defaults, curves and work orders of your own"),
    key("prices.on", Kind::Text, Some("--prices-on"), "2025-03", "when the prices were asked"),
    key("prices.salt_price", Kind::Price(Fact::SaltPrice), Some("--salt-price"), "0.20/lb", "salt"),
    key("prices.water_price", Kind::Price(Fact::WaterPrice), Some("--water-price"), "12/1000gal", "water and sewer"),
    key("prices.resin_price", Kind::Price(Fact::ResinPrice), Some("--resin-price"), "120/ft3", "new resin"),
    key(
        "prices.disposal_price",
        Kind::Price(Fact::DisposalPrice),
        Some("--disposal-price"),
        "20/ft3",
        "getting rid of old resin",
    ),
    key("prices.cleaning_cost", Kind::Price(Fact::CleaningCost), Some("--cleaning-cost"), "400", "a cleaning, all in"),
    key("prices.top_off_labour", Kind::Price(Fact::TopOffLabour), Some("--top-off-labour"), "250", "work of a top-off"),
    key("prices.rebed_labour", Kind::Price(Fact::RebedLabour), Some("--rebed-labour"), "600", "work of a replacement"),
    key("prices.horizon", Kind::Price(Fact::Horizon), Some("--horizon"), "5", "years looked ahead"),
    key("prices.discount_rate", Kind::Price(Fact::DiscountRate), Some("--discount-rate"), "5%", "discount rate"),
    key(
        "prices.price_spread",
        Kind::Price(Fact::PriceSpread),
        Some("--price-spread"),
        "10%",
        "how far prices may move",
    ),
    key("laboratory.source", Kind::Text, None, "Northbank Analytical, 2025", "who says the figures below"),
    key("laboratory.capacity", Kind::Limit("capacity_sd"), None, "0.015", "of a capacity, as a share of it"),
    key("laboratory.moisture", Kind::Limit("moisture_sd"), None, "0.5", "of a moisture, in points"),
    key("laboratory.density", Kind::Limit("density_sd"), None, "0.02", "of a settled density, as a share of it"),
    key("laboratory.metals", Kind::Limit("metal_sd"), None, "0.2", "of a metal on resin, as a share of it"),
    key("laboratory.organics", Kind::Limit("organics_sd"), None, "0.2", "of organic matter, as a share of it"),
    key("laboratory.other", Kind::Limit("other_sd"), None, "0.1", "of any other figure, as a share of it"),
    key("laboratory.beads", Kind::Limit("bead_count"), None, "200", "beads counted, where a report does not say"),
];

impl Key {
    /// The variable of the environment that comes before the file, as `BEADWISE_SALT_PRICE`.
    pub fn variable(&self) -> String {
        format!("BEADWISE_{}", self.path.trim_start_matches("prices.").replace('.', "_").to_uppercase())
    }

    /// Whether a value can be meant.
    ///
    /// # Errors
    /// What it is and how to write it.
    pub fn check(&self, value: &str) -> Result<(), String> {
        let wrong = |why: String| Err(format!("{why}; write it as \"{}\"", self.example));
        match self.kind {
            Kind::Choice(words) if !words.contains(&value) => {
                Err(format!("\"{value}\" is none of {}", words.join(", ")))
            }
            Kind::File | Kind::Files | Kind::Text if value.trim().is_empty() => wrong("it is empty".to_owned()),
            Kind::Price(fact) => match figure(fact, value) {
                Ok(number) if number >= 0.0 => Ok(()),
                Ok(_) => wrong(format!("\"{value}\" is below zero")),
                Err(why) => Err(format!("\"{value}\": {why}")),
            },
            Kind::Limit(_) => match value.parse::<f64>() {
                Ok(number) if number.is_finite() && number > 0.0 => Ok(()),
                _ => {
                    Err(format!("\"{value}\" is no standard deviation; write a number above zero, as {}", self.example))
                }
            },
            _ => Ok(()),
        }
    }

    /// A setting made by a variable of the environment.
    pub(super) fn read_environment(&self, value: &OsStr) -> Result<Setting, Stop> {
        let name = self.variable();
        let values: Vec<String> = match self.kind {
            Kind::Files => std::env::split_paths(value).map(|path| path.to_string_lossy().into_owned()).collect(),
            _ => vec![value.to_string_lossy().into_owned()],
        };
        for value in &values {
            self.check(value).map_err(|why| Stop::Usage(format!("environment, {name}: {why}")))?;
        }
        Ok(Setting { values, from: From::Environment(name) })
    }
}
