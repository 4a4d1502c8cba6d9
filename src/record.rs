//! The normalized record: one sample of resin, what was measured of it, and every doubt.
//!
//! `reconcile` fills it, `judge` and `report` read it. Serializes to the published contract, version 1.
//! Holds no reading, no rule and no output.

use crate::place::{Source, Where};
use serde::{Deserialize, Serialize};

/// Version of the JSON contract that these types serialize to.
pub const CONTRACT: u32 = 1;

/// How a figure is bounded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Qualifier {
    /// A plain figure.
    #[default]
    #[serde(rename = "=")]
    Equal,
    /// Below the figure: a detection limit, or a maximum.
    #[serde(rename = "<")]
    Below,
    /// Above the figure, or a minimum.
    #[serde(rename = ">")]
    Above,
    /// About.
    #[serde(rename = "~")]
    About,
    /// From `value` to `high`.
    #[serde(rename = "range")]
    Range,
}

impl Qualifier {
    /// The sign as it is printed; empty for a plain figure.
    pub fn sign(self) -> &'static str {
        match self {
            Self::Equal | Self::Range => "",
            Self::Below => "<",
            Self::Above => ">",
            Self::About => "~",
        }
    }

    /// The contract's word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Equal => "=",
            Self::Below => "<",
            Self::Above => ">",
            Self::About => "~",
            Self::Range => "range",
        }
    }
}

/// Something that the reader was not sure of.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Doubt {
    /// Permanent code, as `ambiguous-date`.
    pub code: String,
    /// Property, field quantity or sample key that it is about.
    pub property: Option<String>,
    /// The readings that were possible.
    pub alternatives: Vec<serde_json::Value>,
    /// In words.
    pub text: String,
    /// Where it arose.
    #[serde(rename = "where")]
    pub place: Where,
}

impl Doubt {
    /// A doubt without alternatives.
    pub fn new(code: &str, property: Option<&str>, text: impl Into<String>, place: &Where) -> Self {
        Self {
            code: code.to_owned(),
            property: property.map(str::to_owned),
            alternatives: Vec::new(),
            text: text.into(),
            place: place.clone(),
        }
    }

    /// The same doubt with the readings that were possible.
    pub fn with_alternatives<T: Into<serde_json::Value>>(mut self, alternatives: impl IntoIterator<Item = T>) -> Self {
        self.alternatives = alternatives.into_iter().map(Into::into).collect();
        self
    }
}

/// New-resin figure printed beside a result, in the measurement's unit.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Reference {
    /// A minimum, or the low end of a range.
    pub low: Option<f64>,
    /// A maximum, or the high end of a range.
    pub high: Option<f64>,
    /// A lone figure without "min" or "max".
    pub typical: Option<f64>,
    /// The report's own words.
    pub as_written: String,
}

/// Uncertainty printed with a figure, in the measurement's unit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Uncertainty {
    /// Half-width or deviation; none where only the count is known.
    pub value: Option<f64>,
    /// `as-printed` or `standard-deviation`.
    pub kind: String,
    /// Replicates, or beads counted.
    pub n: Option<u32>,
}

/// One property of the resin.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Measurement {
    /// Permanent id, as `total_capacity`.
    pub property: String,
    /// `volume`, `dry_mass`, `wet_mass`; none where it does not apply or is not known.
    pub basis: Option<String>,
    /// Ionic form that the figure holds for.
    pub form: Option<String>,
    /// How it is bounded.
    pub qualifier: Qualifier,
    /// Value in `unit`; the low end of a range.
    pub value: Option<f64>,
    /// High end of a range.
    pub high: Option<f64>,
    /// As printed with it.
    pub uncertainty: Option<Uncertainty>,
    /// Canonical unit of the property on its basis.
    pub unit: Option<String>,
    /// The report's own name for it.
    pub label: String,
    /// The report's own figure and unit.
    pub as_written: String,
    /// Test method named beside it.
    pub method: Option<String>,
    /// New-resin figure printed beside it.
    pub reference: Option<Reference>,
    /// Where it stands.
    #[serde(rename = "where")]
    pub place: Where,
    /// What is not sure of it.
    pub doubts: Vec<Doubt>,
}

/// Something the report says of the bed or its water.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct FieldFigure {
    /// Permanent id, as `freeboard`.
    pub quantity: String,
    /// How it is bounded.
    pub qualifier: Qualifier,
    /// Value in `unit`.
    pub value: Option<f64>,
    /// High end of a range.
    pub high: Option<f64>,
    /// Canonical unit of the quantity.
    pub unit: Option<String>,
    /// The report's own figure and unit.
    pub as_written: String,
    /// Where it stands.
    #[serde(rename = "where")]
    pub place: Where,
    /// What is not sure of it.
    pub doubts: Vec<Doubt>,
}

/// One sieve of a sieve analysis.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SieveFigure {
    /// Opening in mm.
    pub opening: f64,
    /// Always `mm`.
    pub unit: String,
    /// `retained`, `passing`, `cumulative_retained`.
    pub kind: String,
    /// Per cent.
    pub value: f64,
    /// Where it stands.
    #[serde(rename = "where")]
    pub place: Where,
}

/// Free words about the sample.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Remark {
    /// As written.
    pub text: String,
    /// Where it stands.
    #[serde(rename = "where")]
    pub place: Where,
}

/// A number that was not understood.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Unread {
    /// As written, with the words around it.
    pub text: String,
    /// Where it stands.
    #[serde(rename = "where")]
    pub place: Where,
}

/// A number that was set aside for a named reason.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SetAside {
    /// As written.
    pub text: String,
    /// `telephone`, `address`, `page-number`, `method`, `identifier`, `date`, `footnote-mark`, `percent-of-new`, `limit`, ...
    pub reason: String,
    /// Where it stands.
    #[serde(rename = "where")]
    pub place: Where,
}

/// Whose resin, which bed, who analysed it, when.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Sample {
    /// The laboratory's or sender's name of the sample.
    pub sample_id: Option<String>,
    /// For whom.
    pub customer: Option<String>,
    /// Plant, facility, location.
    pub site: Option<String>,
    /// Tank, softener, column.
    pub vessel: Option<String>,
    /// `core`, `top`, `middle`, `bottom`, `composite`, or the report's own words in lower case.
    pub position: Option<String>,
    /// Who analysed it.
    pub laboratory: Option<String>,
    /// The laboratory's number of the report.
    pub report_number: Option<String>,
    /// ISO 8601, cut to what is known.
    pub sampled_on: Option<String>,
    /// ISO 8601, cut to what is known.
    pub received_on: Option<String>,
    /// ISO 8601, cut to what is known.
    pub reported_on: Option<String>,
    /// ISO 8601, cut to what is known.
    pub installed_on: Option<String>,
    /// The report's own words for the resin.
    pub resin_as_written: Option<String>,
    /// Id of the resin class, as `sac-gel-8`.
    pub resin_class: Option<String>,
    /// Ionic form of the tested resin, as `Na`.
    pub form: Option<String>,
    /// `as-received` or `after-cleaning`.
    pub condition: Option<String>,
    /// `regenerated` or `exhausted`.
    pub cycle_state: Option<String>,
    /// `softening`, `dealkalizing`, `nitrate`, `organics-scavenging`, `demineralizing`, `polishing`.
    pub duty: Option<String>,
    /// Whether people drink the water.
    pub drinking_water: Option<bool>,
}

/// One sample of one report.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Record {
    /// The file it came from.
    pub source: Source,
    /// Whose, which, who, when.
    pub sample: Sample,
    /// Properties of the resin.
    pub measurements: Vec<Measurement>,
    /// The bed and its water.
    pub field: Vec<FieldFigure>,
    /// Sieve analysis.
    pub sieve: Vec<SieveFigure>,
    /// Free words.
    pub remarks: Vec<Remark>,
    /// Numbers that belong to this sample and were not understood.
    pub unread: Vec<Unread>,
    /// Doubts about the record, its keys, or figures that were left out.
    pub doubts: Vec<Doubt>,
}

/// One file as read: what was left aside in it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct FileReading {
    /// The file.
    pub source: Source,
    /// Numbers that belong to no one sample and were not understood.
    pub unread: Vec<Unread>,
    /// Numbers that were set aside for a named reason.
    pub set_aside: Vec<SetAside>,
    /// Doubts about the whole file.
    pub doubts: Vec<Doubt>,
}

/// A file, or a part of one, that could not be read.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct FileError {
    /// Name as given.
    pub file: String,
    /// The attachment, where it is one.
    pub part: Option<String>,
    /// Permanent code, as `not-a-workbook`.
    pub code: String,
    /// What was found and what to do.
    pub text: String,
}

/// All that `read` says: the published JSON document.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Version of the contract.
    pub contract: u32,
    /// One for each file that could be read.
    pub files: Vec<FileReading>,
    /// One for each sample.
    pub records: Vec<Record>,
    /// One for each file or part that could not be read.
    pub errors: Vec<FileError>,
}

impl Default for Reading {
    fn default() -> Self {
        Self { contract: CONTRACT, files: Vec::new(), records: Vec::new(), errors: Vec::new() }
    }
}

impl Record {
    /// Measurements of a property on a basis, in the order of the report.
    pub fn all(&self, property: &str, basis: Option<&str>) -> impl Iterator<Item = &Measurement> {
        let property = property.to_owned();
        let basis = basis.map(str::to_owned);
        self.measurements.iter().filter(move |m| m.property == property && m.basis == basis)
    }
}
