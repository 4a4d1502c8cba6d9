//! A figure of a report that the judgement does not rest on.

use super::slot::Slot;
use super::words;
use serde::Serialize;

/// A figure that the judgement does not rest on, and why.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LeftOut {
    /// Property or field quantity.
    pub property: String,
    /// Basis of the contract.
    pub basis: Option<String>,
    /// In words.
    pub why: String,
    /// Nobody prints new-resin figures for it, so its absence is no news.
    #[serde(skip)]
    pub minor: bool,
}

impl LeftOut {
    /// A sentence.
    pub fn in_words(&self) -> String {
        let slot = Slot::of(&self.property, self.basis.as_deref());
        let name = slot.map_or_else(|| words::name(&self.property), words::slot_name);
        format!("{}: left out, {}.", words::sentence(&name), self.why.trim_end_matches('.'))
    }
}
