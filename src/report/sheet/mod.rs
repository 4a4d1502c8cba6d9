//! Sheets: pages to print or to read in a terminal, from one description of what stands on them.
//!
//! [`plan_sheet`], [`settings_card`], [`cleaning_sheet`] and [`sampling_sheet`] say what stands there; [`text()`] and
//! [`page`] print it. Nothing here reckons: every figure is the plan's.

mod cleaning;
mod html;
mod plan;
mod sampling;
mod settings;
mod softener;
mod tank;
mod text;

pub use cleaning::cleaning_sheet;
pub use html::page;
pub use plan::plan_sheet;
pub use sampling::sampling_sheet;
pub use settings::settings_card;
pub use text::text;

#[cfg(feature = "beds")]
pub(super) use softener::course_words;
#[cfg(feature = "beds")]
pub(super) use tank::both;

use crate::plan::{Origin, Plan};
use crate::report::units::Units;

/// One thing on a sheet.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// A paragraph.
    Text(String),
    /// Points without order.
    Items(Vec<String>),
    /// Steps in order.
    Steps(Vec<String>),
    /// Things to tick off.
    Checks(Vec<String>),
    /// A name and what stands beside it.
    Pairs(Vec<(String, String)>),
    /// A table; all but the first column stand right.
    Table {
        /// Heads.
        head: Vec<String>,
        /// Rows as long as the head.
        rows: Vec<Vec<String>>,
    },
    /// Lines to fill in by hand, some with what is known.
    Form(Vec<(String, String)>),
}

/// A part of a sheet under one heading.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Heading.
    pub title: String,
    /// Whether it warns.
    pub warns: bool,
    /// What stands there.
    pub blocks: Vec<Block>,
}

/// One sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// Title.
    pub title: String,
    /// Lines under it.
    pub under: Vec<String>,
    /// Whether it is carried to the job and must fit one piece of paper.
    pub one_page: bool,
    /// Its parts.
    pub sections: Vec<Section>,
}

impl Sheet {
    fn new(title: &str, plan: &Plan) -> Self {
        Self { title: format!("{title}: {}", bed_name(plan)), under: Vec::new(), one_page: false, sections: Vec::new() }
    }

    /// Adds a part, unless nothing would stand in it.
    fn add(&mut self, title: &str, blocks: Vec<Block>) {
        self.push(title, blocks, false);
    }

    fn warn(&mut self, title: &str, blocks: Vec<Block>) {
        self.push(title, blocks, true);
    }

    fn push(&mut self, title: &str, blocks: Vec<Block>, warns: bool) {
        let blocks: Vec<Block> = blocks.into_iter().filter(|block| !block.is_empty()).collect();
        if !blocks.is_empty() {
            self.sections.push(Section { title: title.to_owned(), warns, blocks });
        }
    }
}

impl Block {
    fn is_empty(&self) -> bool {
        match self {
            Self::Text(text) => text.is_empty(),
            Self::Items(lines) | Self::Steps(lines) | Self::Checks(lines) => lines.is_empty(),
            Self::Pairs(pairs) | Self::Form(pairs) => pairs.is_empty(),
            Self::Table { rows, .. } => rows.is_empty(),
        }
    }
}

/// The parts of a plan that are sums, each under its title.
#[cfg(feature = "beds")]
pub(super) fn work_in_figures(plan: &Plan, units: Units) -> Vec<(&'static str, Vec<Block>)> {
    let mut parts: Vec<(&'static str, Vec<Block>)> = Vec::new();
    if let Some(top) = plan.top_off.as_ref().filter(|top| top.room.is_some() || plan.shape.volume.is_some()) {
        parts.push(("Bed volume and top-off", tank::volume_and_top_off(plan, top, units)));
    }
    if let Some(softening) = plan.softening.as_ref().filter(|softening| softening.hardness.is_some()) {
        parts.push(("Meter", softener::meter(softening, units)));
        parts.push(("A year of salt, water and chloride", softener::year(softening, units)));
    }
    if let Some(gap) = &plan.field {
        parts.push(("The field against the laboratory", softener::field(gap, plan, units)));
    }
    if let Some(run) = &plan.nitrate {
        parts.push(("Nitrate run", tank::nitrate(run, plan, units)));
    }
    if let Some(costs) = &plan.costs {
        parts.push(("What the options cost", softener::money_of(costs, plan.about.prices_on.as_deref())));
    }
    if !parts.is_empty() {
        let elsewhere = [&FOR_SETTINGS[..], &FOR_CLEANING, &FOR_SAMPLING].concat();
        parts.push(("Figures used", vec![plan::used(plan, units)]));
        parts.push(("Assumed, and where from", vec![assumed(plan, units, |id| !elsewhere.contains(&id))]));
    }
    parts.retain(|(_, blocks)| blocks.iter().any(|block| !block.is_empty()));
    parts
}

/// What the bed is called.
fn bed_name(plan: &Plan) -> String {
    let parts: Vec<&str> = [&plan.about.vessel, &plan.about.site].into_iter().flatten().map(String::as_str).collect();
    if parts.is_empty() { "a bed without a name".to_owned() } else { parts.join(", ") }
}

/// The resin in words.
fn resin_name(plan: &Plan) -> String {
    match (&plan.about.class, &plan.class_name) {
        (Some(id), Some(name)) => format!("{name} ({id})"),
        _ => "resin not known".to_owned(),
    }
}

/// Cautions that end with who decides, once.
pub(super) fn with_last_word(cautions: &[String]) -> Vec<String> {
    let mut cautions = cautions.to_vec();
    if !cautions.iter().any(|text| text.starts_with("Local codes")) {
        cautions.push(LAST_WORD.to_owned());
    }
    cautions
}

const LAST_WORD: &str = "Local codes, the makers of resin and vessel, and licensed practice come before this sheet.";

/// Inputs that the settings card alone rests on.
const FOR_SETTINGS: [&str; 8] = [
    "brine_strength",
    "brine_density",
    "brine_rate",
    "slow_rinse",
    "fast_rinse",
    "backwash_time",
    "salt_to_water",
    "refill_flow",
];

/// Inputs that the cleaning sheet alone rests on.
const FOR_CLEANING: [&str; 4] = ["tank_temperature_most", "acid_strength", "acid_density", "soda_ash"];

/// Inputs that the sampling sheet alone rests on.
const FOR_SAMPLING: [&str; 6] = ["pipe_bore", "pipe_fill", "jar", "large_tank", "depth_points", "depth_spread"];

/// What was assumed, of the inputs that are wanted, with its source.
fn assumed(plan: &Plan, units: Units, wanted: impl Fn(&str) -> bool) -> Block {
    Block::Items(
        plan.used
            .iter()
            .filter(|used| used.from == Origin::Assumed && wanted(used.id))
            .map(|used| {
                let range = used.range.map_or(String::new(), |[low, high]| {
                    format!(
                        ", conventions {} to {}",
                        units.input(low, &used.unit, used.id),
                        units.input(high, &used.unit, used.id)
                    )
                });
                format!(
                    "{}: {}{range} (--{}). {}",
                    used.name,
                    units.input(used.value, &used.unit, used.id),
                    used.id.replace('_', "-"),
                    used.source.as_deref().unwrap_or_default()
                )
            })
            .collect(),
    )
}
