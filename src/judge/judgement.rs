//! What `judge` says: the published JSON of the contract, version 1.

use super::closure::Unclosed;
use super::compare::Difference;
use super::decide::{ResampleHow, Verdict};
use super::findings::Cause;
use super::grade::Grade;
use super::left_out::LeftOut;
use crate::place::Source;
use crate::record::Sample;
use serde::Serialize;
use std::collections::BTreeMap;

/// What was compared with.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Baseline {
    /// `bed`, `sheet`, `report` or `class`; none where nothing could be compared.
    pub from: Option<String>,
    /// The class, or the file or report it comes from.
    pub name: Option<String>,
    /// In words.
    pub text: String,
}

/// One part of the loss, as shares of new capacity.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LossPart {
    /// `swelling`, `blocked`, `fouled`, `turned-weak`, `lost-sites` or `unexplained`.
    pub part: String,
    /// Fifth of a hundred draws.
    pub low: f64,
    /// With the figures as they stand.
    pub best: f64,
    /// Ninety-fifth of a hundred draws.
    pub high: f64,
}

/// The lost capacity, taken apart.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Loss {
    /// Share of new capacity lost in all.
    pub total: f64,
    /// Parts that add up to it.
    pub parts: Vec<LossPart>,
}

/// Capacity after a cleaning, as a share of new.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Recovery {
    /// Fifth of a hundred draws.
    pub low: f64,
    /// With the figures as they stand.
    pub best: f64,
    /// Ninety-fifth of a hundred draws.
    pub high: f64,
    /// Of which capacity.
    pub of: String,
}

/// One way of cleaning, for this bed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Remedy {
    /// Permanent id.
    pub recipe: String,
    /// In words.
    pub title: String,
    /// Causes that it answers.
    pub answers: Vec<String>,
    /// Whether it may be done on this bed as far as drinking water goes.
    pub drinking_water: bool,
    /// How much, for each litre and for the bed.
    pub dose: Option<String>,
    /// What to do.
    pub steps: String,
    /// Lowest of the limits of recipe and resin, Cel.
    pub temperature_max: Option<f64>,
    /// How to know that it is done.
    pub end_check: String,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// What the costs say, where that is not what the resin says.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Economic {
    /// What may be the cheaper thing to do.
    pub verdict: Verdict,
    /// Why; no price is known here.
    pub text: String,
}

/// An earlier analysis of the same bed, and what has changed since.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Compared {
    /// The earlier report.
    pub source: Source,
    /// When that sample was taken.
    pub sampled_on: Option<String>,
    /// What a cleaning was then expected to bring the capacity to.
    pub expected: Option<Recovery>,
    /// Every figure that stands in both.
    pub differences: Vec<Difference>,
    /// In words, the capacity first.
    pub text: Vec<String>,
}

/// A time within which a bed that is kept comes to its end.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReplaceBy {
    /// Month, at the fastest wear.
    pub earliest: String,
    /// Month, at the slowest.
    pub latest: String,
}

/// What to do with one sample's bed, and why.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Judgement {
    /// The file.
    pub source: Source,
    /// Who, where, when.
    pub sample: Sample,
    /// What to do.
    pub verdict: Verdict,
    /// What goes with it.
    pub also: Vec<Verdict>,
    /// The verdict's share.
    pub certainty: f64,
    /// `quite sure`, `likely` or `a close call`.
    pub certainty_words: String,
    /// Each verdict's share.
    pub shares: BTreeMap<String, f64>,
    /// 0 (spent) to 100 (new), by the limiting property; none where nothing could be graded.
    pub score: Option<f64>,
    /// What was compared with.
    pub baseline: Baseline,
    /// Each property against new.
    pub grades: Vec<Grade>,
    /// The lost capacity, taken apart.
    pub loss: Option<Loss>,
    /// Capacity after a cleaning.
    pub recovery: Option<Recovery>,
    /// Causes, the strongest first.
    pub causes: Vec<Cause>,
    /// What must be put right upstream first.
    pub fix_first: Vec<String>,
    /// Why, the deciding reasons first.
    pub reasons: Vec<String>,
    /// The nearest figures at which the verdict turns.
    pub would_change: Vec<String>,
    /// Tests that would tell more, the most telling first.
    pub missing: Vec<String>,
    /// How to get them.
    pub resample_how: Option<ResampleHow>,
    /// What the costs say, where that may be something else.
    pub economic: Option<Economic>,
    /// Limits and bands of the user's own that took the place of built-in ones, in words.
    pub overridden: Vec<String>,
    /// An earlier analysis, where one was given to compare with.
    pub compared: Option<Compared>,
    /// Ways of cleaning.
    pub remedy: Vec<Remedy>,
    /// Cautions of everything said here.
    pub cautions: Vec<String>,
    /// When a bed that is kept comes to its end.
    pub replace_by: Option<ReplaceBy>,
    /// ISO date.
    pub next_sample_on: Option<String>,
    /// Why then.
    pub next_sample_why: String,
    /// Figures that the judgement does not rest on.
    pub left_out: Vec<LeftOut>,
    /// Figures that should agree and do not.
    pub doubts: Vec<Unclosed>,
    /// Rules that fired.
    pub rules: Vec<String>,
}

/// A record that could not be judged because of the program's own data.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Judgements {
    /// Version of the contract.
    pub contract: u32,
    /// One for each record.
    pub judgements: Vec<Judgement>,
    /// Files that could not be read.
    pub errors: Vec<crate::record::FileError>,
}
