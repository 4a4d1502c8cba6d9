//! From calls to a verdict, and from shares to how sure it is.

use super::findings::{Call, Findings};
use serde::Serialize;

/// What to do with the bed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
#[repr(usize)]
pub enum Verdict {
    /// Leave it.
    Keep,
    /// Add the beads that are missing.
    TopOff,
    /// Clean it.
    Clean,
    /// Take the resin out.
    Replace,
    /// The report does not carry enough, or contradicts itself.
    Resample,
}

/// All verdicts, the mildest first.
pub const VERDICTS: [Verdict; 5] =
    [Verdict::Keep, Verdict::TopOff, Verdict::Clean, Verdict::Replace, Verdict::Resample];

impl Verdict {
    /// The contract's word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Keep => "keep",
            Self::TopOff => "top-off",
            Self::Clean => "clean",
            Self::Replace => "replace",
            Self::Resample => "resample",
        }
    }
}

/// How to get what the report lacks, the cheapest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ResampleHow {
    /// Ask what was measured.
    AskLaboratory,
    /// Have more measured on the sample that the laboratory keeps.
    AddTests,
    /// Pull a new core.
    NewCore,
}

impl ResampleHow {
    /// The contract's word.
    pub fn word(self) -> &'static str {
        match self {
            Self::AskLaboratory => "ask-laboratory",
            Self::AddTests => "add-tests",
            Self::NewCore => "new-core",
        }
    }
}

/// The verdict by the limiting rule.
pub fn verdict(findings: &Findings) -> (Verdict, Option<ResampleHow>) {
    match findings.strongest().map(|(call, _)| call) {
        Some(Call::Ask) => (Verdict::Resample, Some(ResampleHow::AskLaboratory)),
        Some(Call::Replace) => (Verdict::Replace, None),
        Some(Call::Test | Call::TooLittle) => (Verdict::Resample, Some(ResampleHow::AddTests)),
        Some(Call::Clean) => (Verdict::Clean, None),
        Some(Call::TopOff) => (Verdict::TopOff, None),
        None => (Verdict::Keep, None),
    }
}
