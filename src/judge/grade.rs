//! Grades and scores: where a figure stands on its band.

use super::baseline::From;
use super::policy::{Band, Measure};
use crate::place::Where;
use crate::record::Qualifier;
use serde::Serialize;

/// How far gone one property is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Mark {
    /// As new resin.
    New,
    /// Worn as one expects.
    Good,
    /// To be watched.
    Watch,
    /// Needs something done.
    Poor,
    /// Done for.
    Spent,
}

impl Mark {
    /// The contract's word.
    pub fn word(self) -> &'static str {
        match self {
            Self::New => "new",
            Self::Good => "good",
            Self::Watch => "watch",
            Self::Poor => "poor",
            Self::Spent => "spent",
        }
    }
}

/// What a figure was compared with.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GradeNew {
    /// A minimum, or the low end of a range.
    pub low: Option<f64>,
    /// A maximum, or the high end of a range.
    pub high: Option<f64>,
    /// A lone or first figure.
    pub typical: Option<f64>,
    /// Whose figure it is.
    pub from: From,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// One property against new.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Grade {
    /// Property of the contract.
    pub property: String,
    /// Basis of the contract.
    pub basis: Option<String>,
    /// Ionic form, for properties that depend on it.
    pub form: Option<String>,
    /// How the report bounds it; a figure that was worked out has no bound.
    #[serde(skip)]
    pub qualifier: Qualifier,
    /// In `unit`.
    pub value: f64,
    /// Canonical unit.
    pub unit: String,
    /// Where it stands in the report; empty for a worked-out figure.
    #[serde(rename = "where")]
    pub place: Where,
    /// What it was compared with.
    pub new: Option<GradeNew>,
    /// Of the reference figure of `new`.
    pub percent_of_new: Option<f64>,
    /// How far gone.
    pub grade: Mark,
    /// 0 to 100.
    pub score: f64,
    /// The rule that graded it.
    pub rule: String,
    /// Whether the resin's score rests on it.
    pub weighs: bool,
    /// Worked out from other figures rather than measured.
    pub calculated: bool,
    /// Where the cuts of its band come from.
    pub band: String,
}

/// Score at which each grade begins: new, good, watch, poor, spent; and 0.
pub const SCORES: [f64; 6] = [100.0, 95.0, 80.0, 55.0, 25.0, 0.0];

/// Grade and score of a measure on its band. The score never rises as the measure gets worse.
pub fn mark(band: &Band, measure: f64) -> (Mark, f64) {
    let sign = if band.measure.worse_upward() { 1.0 } else { -1.0 };
    let worse = measure * sign;
    let cuts = band.cuts.map(|cut| cut * sign);
    let slack = 1e-9 * cuts[4].abs().max(1.0);
    let spent = if band.inclusive { worse >= cuts[4] - slack } else { worse > cuts[4] + slack };
    let mark = if spent {
        Mark::Spent
    } else if worse > cuts[3] + slack {
        Mark::Poor
    } else if worse > cuts[2] + slack {
        Mark::Watch
    } else if worse > cuts[1] + slack {
        Mark::Good
    } else {
        Mark::New
    };
    (mark, score(&cuts, worse))
}

fn score(cuts: &[f64; 6], worse: f64) -> f64 {
    if worse <= cuts[0] {
        return SCORES[0];
    }
    for (pair, scores) in cuts.windows(2).zip(SCORES.windows(2)) {
        if let ([from, to], [high, low]) = (pair, scores)
            && worse <= *to
        {
            return high + (low - high) * (worse - from) / (to - from);
        }
    }
    0.0
}

/// The number that a band is about.
pub fn measure_of(band: &Band, value: f64, share: Option<f64>, rise: Option<f64>, fall: Option<f64>) -> Option<f64> {
    match band.measure {
        Measure::Percent => share.map(|share| share * 100.0),
        Measure::Rise => rise,
        Measure::Fall => fall,
        Measure::Above | Measure::Below => Some(value),
    }
}
