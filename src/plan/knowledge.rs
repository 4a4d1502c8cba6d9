//! What `grammar/plan.toml` says: inputs with limits and defaults, curves, water, work orders, lines of advice.
//!
//! Takes that text and the user's over it, gives [`Knowledge`]. No default and no limit stands in the code.

use crate::specs::{Family, KnowledgeError, Text, near_or_all};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::OnceLock;

macro_rules! facts {
    ($($name:ident = $id:literal),* $(,)?) => {
        /// A fact that a plan is reckoned from; what it is stands at its entry in `grammar/plan.toml`.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[allow(missing_docs, reason = "each fact's words stand at its entry in grammar/plan.toml")]
        pub enum Fact { $($name),* }

        impl Fact {
            /// All of them.
            pub const ALL: &'static [Fact] = &[$(Fact::$name),*];

            /// Permanent id, as `tank_bore`; the contract's where the contract has one.
            pub fn id(self) -> &'static str {
                match self { $(Fact::$name => $id),* }
            }
        }
    };
}

facts! {
    TankBore = "tank_bore", TankHeight = "tank_height", BottomHead = "bottom_head", Gravel = "gravel",
    Freeboard = "freeboard", FreeboardAtStartup = "freeboard_at_startup", BedDepth = "bed_depth",
    BedVolume = "bed_volume", BedVolumeAtStartup = "bed_volume_at_startup", Bag = "bag", Tape = "tape",
    Moisture = "moisture", MoistureNew = "moisture_new", BeadSize = "bead_size", Voidage = "voidage",
    FeedHardness = "feed_hardness", FeedHardnessBefore = "feed_hardness_before", BlendHardness = "blend_hardness",
    FeedIron = "feed_iron", FeedManganese = "feed_manganese", IronFactor = "iron_factor",
    ManganeseFactor = "manganese_factor", OutletHardness = "outlet_hardness", Temperature = "temperature",
    FeedNitrate = "feed_nitrate", FeedSulfate = "feed_sulfate", FeedAlkalinity = "feed_alkalinity",
    FeedChloride = "feed_chloride", FeedTds = "feed_tds",
    Flow = "flow", PressureDrop = "pressure_drop", PressureDropFactor = "pressure_drop_factor",
    PressureDropMost = "pressure_drop_most", DailyUse = "daily_use", YearlyUse = "yearly_use",
    Run = "volume_between_regenerations", RunBefore = "volume_between_regenerations_before",
    SaltPerRegeneration = "salt_per_regeneration", SaltDose = "salt_dose", SaltDoseBefore = "salt_dose_before",
    LeastDose = "least_dose", LeakageMost = "leakage_most", HardnessSelectivity = "hardness_selectivity", Reserve = "reserve", MeterStep = "meter_step",
    WaterPerRegeneration = "water_per_regeneration", BrineStrength = "brine_strength",
    BrineDensity = "brine_density", BrineRate = "brine_rate", SlowRinse = "slow_rinse", FastRinse = "fast_rinse",
    BackwashTime = "backwash_time", SaltToWater = "salt_to_water", RefillFlow = "refill_flow",
    DayOverride = "day_override", DayOverrideIron = "day_override_iron", IronFrom = "iron_from",
    EfficiencyRated = "efficiency_rated", EfficiencyStrict = "efficiency_strict",
    NitrateUseLow = "nitrate_use_low", NitrateUseHigh = "nitrate_use_high", ClaimedThroughput = "claimed_throughput",
    SaltPrice = "salt_price", WaterPrice = "water_price", ResinPrice = "resin_price",
    DisposalPrice = "disposal_price", CleaningCost = "cleaning_cost", TopOffLabour = "top_off_labour",
    RebedLabour = "rebed_labour", PriceSpread = "price_spread", UseSpread = "use_spread", Horizon = "horizon",
    DiscountRate = "discount_rate",
    TankTemperatureMost = "tank_temperature_most", AcidStrength = "acid_strength", AcidDensity = "acid_density",
    SodaAsh = "soda_ash", PipeBore = "pipe_bore", PipeFill = "pipe_fill", Jar = "jar", LargeTank = "large_tank",
    DepthPoints = "depth_points", DepthSpread = "depth_spread",
}

impl Fact {
    /// The fact with this id.
    pub fn by_id(id: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|fact| fact.id() == id)
    }
}

/// What is known of one input.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Input {
    /// What it is called on a sheet.
    pub name: String,
    /// Canonical unit; `1` for a share or plain number, `money` or `money/<unit>` for a price.
    pub unit: String,
    /// Substance that the figure counts, as `CaCO3`.
    pub substance: Option<String>,
    /// Below this it is refused.
    pub low: f64,
    /// Above this it is refused.
    pub high: f64,
    /// What was likely meant by a figure that is too low.
    pub low_hint: Option<String>,
    /// What was likely meant by a figure that is too high.
    pub high_hint: Option<String>,
    /// What cannot be said without it.
    pub why: String,
    /// Used where nobody says otherwise.
    pub default: Option<f64>,
    /// What conventions run over.
    pub range: Option<[f64; 2]>,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// Operating capacity of new resin against the salt dose.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Curve {
    /// In words.
    pub name: String,
    /// Classes that it is for, by id.
    pub classes: Vec<String>,
    /// Share by which it may be off.
    pub spread: f64,
    /// lb/ft³ of salt, kgr/ft³ as CaCO3, rising.
    pub points: Vec<[f64; 2]>,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// Salt doses that a plan compares.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Doses {
    /// lb/ft³.
    pub pounds: Vec<f64>,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// Density and viscosity of water.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Water {
    /// Cel, rising.
    pub temperature: Vec<f64>,
    /// kg/m³.
    pub density: Vec<f64>,
    /// mPa·s.
    pub viscosity: Vec<f64>,
    /// The document.
    pub source: String,
}

/// Separation factors against chloride.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Selectivity {
    /// Of nitrate.
    pub nitrate: f64,
    /// Of sulfate, by equivalents.
    pub sulfate: f64,
    /// Of bicarbonate.
    pub bicarbonate: f64,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// Backwash rate of a kind of resin, at 20 °C.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Backwash {
    /// Families that it is for.
    pub families: Vec<Family>,
    /// Least and most, m/h.
    pub rate: [f64; 2],
    /// The document, or the words that say there is none.
    pub source: String,
}

/// The solution that an acid goes on as.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Solution {
    /// Share of acid by mass.
    pub strength: f64,
    /// g/mL.
    pub density: f64,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// A recipe as a work order.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Work {
    /// The acid's solution, where it is an acid with a dose.
    #[serde(skip_serializing)]
    pub acid: Option<Solution>,
    /// Protective equipment.
    pub protect: Vec<String>,
    /// What must never be mixed or done.
    pub never: Vec<String>,
    /// What to bring.
    pub needs: Vec<String>,
    /// What to do, in order.
    pub steps: Vec<String>,
    /// When to stop.
    pub stop: Vec<String>,
    /// Not back to service until each of these holds.
    pub service: Vec<String>,
    /// Where the waste goes.
    pub waste: Vec<String>,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// Lines of advice.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lines {
    /// In order.
    pub lines: Vec<String>,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// Everything that a plan needs to know beside the bed.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Knowledge {
    inputs: BTreeMap<String, Input>,
    curves: BTreeMap<String, Curve>,
    doses: Doses,
    water: Water,
    selectivity: BTreeMap<String, Selectivity>,
    backwash: BTreeMap<String, Backwash>,
    works: BTreeMap<String, Work>,
    lists: BTreeMap<String, Lines>,
}

const BUILTIN: Text<'static> = Text { name: "grammar/plan.toml", text: include_str!("../../grammar/plan.toml") };

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(default)]
    input: BTreeMap<String, toml::Spanned<InputEntry>>,
    #[serde(default)]
    curve: BTreeMap<String, toml::Spanned<Curve>>,
    doses: Option<Doses>,
    water: Option<toml::Spanned<Water>>,
    #[serde(default)]
    selectivity: BTreeMap<String, Selectivity>,
    #[serde(default)]
    backwash: BTreeMap<String, Backwash>,
    #[serde(default)]
    work: BTreeMap<String, Work>,
    #[serde(default)]
    list: BTreeMap<String, Lines>,
}

/// An input's keys, any of which a user may move by itself.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct InputEntry {
    name: Option<String>,
    unit: Option<String>,
    substance: Option<String>,
    low: Option<f64>,
    high: Option<f64>,
    low_hint: Option<String>,
    high_hint: Option<String>,
    why: Option<String>,
    default: Option<f64>,
    range: Option<[f64; 2]>,
    source: Option<String>,
}

impl Knowledge {
    /// The built-in entries.
    ///
    /// # Errors
    /// An entry of the built-in data that cannot be read, with its file and line.
    pub fn builtin() -> Result<&'static Self, KnowledgeError> {
        static CELL: OnceLock<Result<Knowledge, KnowledgeError>> = OnceLock::new();
        CELL.get_or_init(|| Self::default().with_texts(&[BUILTIN])).as_ref().map_err(Clone::clone)
    }

    /// The built-in entries with the user's over them, later ones over earlier ones.
    ///
    /// # Errors
    /// An entry that cannot be read, with its file and line.
    ///
    /// ```
    /// use beadwise::{plan::{Fact, Knowledge}, specs::Text};
    /// let own = "[input.iron_factor]\ndefault = 3.0\nsource = \"our own practice\"\n";
    /// let knowledge = Knowledge::with_overlay(&[Text { name: "own.toml", text: own }])?;
    /// assert_eq!(knowledge.input(Fact::IronFactor).and_then(|input| input.default), Some(3.0));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn with_overlay(texts: &[Text<'_>]) -> Result<Self, KnowledgeError> {
        Self::builtin()?.clone().with_texts(texts)
    }

    fn with_texts(mut self, texts: &[Text<'_>]) -> Result<Self, KnowledgeError> {
        for text in texts {
            self.lay_over(text)?;
        }
        for fact in Fact::ALL {
            self.inputs.get(fact.id()).ok_or_else(|| KnowledgeError::Missing {
                origin: BUILTIN.origin(0),
                entry: "the knowledge of a plan".to_owned(),
                key: fact.id(),
            })?;
        }
        Ok(self)
    }

    fn lay_over(&mut self, text: &Text<'_>) -> Result<(), KnowledgeError> {
        let file: File = toml::from_str(text.text).map_err(|error| text.malformed(&error))?;
        for (id, entry) in file.input {
            let origin = text.origin(entry.span().start);
            if Fact::by_id(&id).is_none() {
                let known: Vec<&str> = Fact::ALL.iter().map(|fact| fact.id()).collect();
                let known = near_or_all(&id, &known);
                return Err(KnowledgeError::Unknown { origin, kind: "input", name: id, known });
            }
            let entry = entry.into_inner();
            let before = self.inputs.remove(&id);
            let missing =
                |key| KnowledgeError::Missing { origin: origin.clone(), entry: format!("the input `{id}`"), key };
            let old = before.as_ref();
            let input = Input {
                name: entry.name.or_else(|| old.map(|o| o.name.clone())).ok_or_else(|| missing("name"))?,
                unit: entry.unit.or_else(|| old.map(|o| o.unit.clone())).ok_or_else(|| missing("unit"))?,
                substance: entry.substance.or_else(|| old.and_then(|o| o.substance.clone())),
                low: entry.low.or(old.map(|o| o.low)).ok_or_else(|| missing("low"))?,
                high: entry.high.or(old.map(|o| o.high)).ok_or_else(|| missing("high"))?,
                low_hint: entry.low_hint.or_else(|| old.and_then(|o| o.low_hint.clone())),
                high_hint: entry.high_hint.or_else(|| old.and_then(|o| o.high_hint.clone())),
                why: entry.why.or_else(|| old.map(|o| o.why.clone())).ok_or_else(|| missing("why"))?,
                default: entry.default.or(old.and_then(|o| o.default)),
                range: entry.range.or(old.and_then(|o| o.range)),
                source: entry.source.filter(|s| !s.trim().is_empty()).ok_or_else(|| missing("source"))?,
            };
            let inside = |value: f64| value.is_finite() && (input.low..=input.high).contains(&value);
            let parts = input.default.iter().chain(input.range.iter().flatten());
            if let Some(wrong) = parts.copied().find(|value| !inside(*value)) {
                let message = format!("{wrong} does not lie from {} to {}", input.low, input.high);
                return Err(KnowledgeError::OutOfRange { origin, entry: format!("the input `{id}`"), message });
            }
            self.inputs.insert(id, input);
        }
        for (id, curve) in file.curve {
            let origin = text.origin(curve.span().start);
            let curve = curve.into_inner();
            let rising = curve.points.len() > 1
                && curve.points.iter().flatten().all(|value| value.is_finite() && *value > 0.0)
                && curve.points.windows(2).all(|pair| match pair {
                    // Capacity grows with the dose, and what a pound of salt does falls.
                    [a, b] => a[0] < b[0] && a[1] <= b[1] && b[1] / b[0] <= a[1] / a[0],
                    _ => true,
                });
            if !rising || !(0.0..1.0).contains(&curve.spread) {
                let message = "it needs two points or more that rise, with less capacity to the pound from each to the next, and a spread below 1".to_owned();
                return Err(KnowledgeError::OutOfRange { origin, entry: format!("the curve `{id}`"), message });
            }
            self.curves.insert(id, curve);
        }
        if let Some(water) = file.water {
            let origin = text.origin(water.span().start);
            let water = water.into_inner();
            let count = water.temperature.len();
            if count < 2
                || water.density.len() != count
                || water.viscosity.len() != count
                || !water.temperature.is_sorted()
            {
                let message = "its three lists need one length, and temperatures that rise".to_owned();
                return Err(KnowledgeError::OutOfRange { origin, entry: "water".to_owned(), message });
            }
            self.water = water;
        }
        if let Some(doses) = file.doses {
            self.doses = doses;
        }
        self.selectivity.extend(file.selectivity);
        self.backwash.extend(file.backwash);
        self.works.extend(file.work);
        self.lists.extend(file.list);
        Ok(())
    }

    /// What is known of an input.
    pub fn input(&self, fact: Fact) -> Option<&Input> {
        self.inputs.get(fact.id())
    }

    /// A curve by its id.
    pub fn curve(&self, id: &str) -> Option<&Curve> {
        self.curves.get(id)
    }

    /// All curves by id.
    pub fn curve_list(&self) -> impl Iterator<Item = (&str, &Curve)> {
        self.curves.iter().map(|(id, curve)| (id.as_str(), curve))
    }

    /// Salt doses to compare, lb/ft³.
    pub fn doses(&self) -> &[f64] {
        &self.doses.pounds
    }

    /// Density and viscosity of water.
    pub fn water(&self) -> &Water {
        &self.water
    }

    /// Separation factors of a standard or a selective resin.
    pub fn selectivity(&self, selective: bool) -> Option<&Selectivity> {
        self.selectivity.get(if selective { "selective" } else { "standard" })
    }

    /// Backwash rate of a family at 20 °C.
    pub fn backwash(&self, family: Family) -> Option<&Backwash> {
        self.backwash.values().find(|entry| entry.families.contains(&family))
    }

    /// A recipe's work order.
    pub fn work(&self, recipe: &str) -> Option<&Work> {
        self.works.get(recipe)
    }

    /// Lines of advice; none for an id that is not there.
    pub fn lines(&self, id: &str) -> &[String] {
        self.lists.get(id).map_or(&[], |list| list.lines.as_slice())
    }
}
