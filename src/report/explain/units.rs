//! Units: how they are spelt, and what they come to in the canonical units of the record.

use super::spellings::line_of;
use crate::lexicon::{Origin, fold};
use crate::quantity::{Matter, Unit};
use serde::Deserialize;
use toml::Spanned;

const UNITS: (&str, &str) = ("grammar/units.toml", include_str!("../../../grammar/units.toml"));

/// Canonical units of the record contract.
const CANONICAL: [&str; 15] =
    ["eq/L", "eq/kg", "mg/kg", "mg/L", "%", "mm", "g/L", "g/mL", "g/bead", "m", "L", "L/h", "Cel", "kPa", "kg"];

#[derive(Deserialize)]
struct File {
    #[serde(default)]
    unit: Vec<Spanned<Entry>>,
}

#[derive(Deserialize)]
struct Entry {
    id: String,
    #[serde(default)]
    symbols: Vec<String>,
    #[serde(default)]
    exact: Vec<String>,
    #[serde(default)]
    names: Vec<String>,
}

/// What is known of a unit.
pub struct Known {
    /// Id of its entry, where it is no compound.
    pub id: Option<String>,
    /// Spellings of the entry.
    pub spellings: Vec<String>,
    /// Where the entry stands.
    pub origin: Option<Origin>,
    /// What one of it comes to, as "1 kgr/ft3 = 0.04577 eq/L".
    pub sums: Vec<String>,
    /// What the words beside it add.
    pub notes: Vec<String>,
}

/// Looks up a unit by its id or as it is printed.
pub fn look_up(term: &str) -> Option<Known> {
    let file: File = toml::from_str(UNITS.1).unwrap_or(File { unit: Vec::new() });
    let entry = file.unit.iter().find(|entry| {
        let entry = entry.get_ref();
        let spelt = |text: &&String| text.as_str() == term;
        entry.id == term.to_lowercase()
            || entry.symbols.iter().chain(&entry.exact).any(|text| spelt(&text))
            || entry.names.iter().any(|name| fold(name) == fold(term) && !fold(term).is_empty())
    });
    let printed = Unit::parse(term).or_else(|| {
        entry.and_then(|e| e.get_ref().symbols.iter().chain(&e.get_ref().names).find_map(|s| Unit::parse(s)))
    });
    if entry.is_none() && printed.is_none() {
        return None;
    }
    let mut known = Known { id: None, spellings: Vec::new(), origin: None, sums: Vec::new(), notes: Vec::new() };
    if let Some(entry) = entry {
        known.origin = Some(Origin { file: UNITS.0.to_owned(), line: line_of(UNITS.1, entry.span().start) });
        let entry = entry.get_ref();
        known.id = Some(entry.id.clone());
        known.spellings = entry.symbols.iter().chain(&entry.exact).chain(&entry.names).cloned().collect();
    }
    if let Some(unit) = &printed {
        known.sums = sums(unit);
        known.notes = notes(unit);
    }
    Some(known)
}

fn sums(unit: &Unit) -> Vec<String> {
    let equivalents = unit.as_equivalents();
    CANONICAL
        .iter()
        .filter_map(|text| Some((*text, Unit::parse(text)?)))
        .filter(|(text, _)| *text != unit.text)
        .filter_map(|(text, canonical)| {
            let direct = unit.convert(1.0, &canonical).map(|value| (value, ""));
            let counted = || {
                equivalents
                    .as_ref()?
                    .convert(1.0, &canonical)
                    .map(|value| (value, " (as CaCO3, 50 g to the equivalent)"))
            };
            let (value, how) = direct.or_else(counted)?;
            Some(format!("1 {} = {} {text}{how}", unit.text, shown(value)))
        })
        .collect()
}

/// Six figures, without an exponent while it can be read without one.
fn shown(value: f64) -> String {
    let exact = value.to_string();
    if exact.len() <= 9 {
        return exact;
    }
    let before = value.abs().log10().floor() + 1.0;
    let decimals = (6.0 - before).clamp(0.0, 15.0) as usize;
    format!("{value:.decimals$}")
}

fn notes(unit: &Unit) -> Vec<String> {
    let mut notes = Vec::new();
    notes.extend(unit.substance.as_ref().map(|substance| format!("It counts {substance}.")));
    notes.extend(unit.matter.map(|matter| {
        let what = match matter {
            Matter::Dry => "dry resin",
            Matter::Wet => "drained wet resin",
            Matter::Resin(_) => "settled resin by volume",
        };
        format!("It is counted on {what}.")
    }));
    if unit.is_risky_alone() {
        notes.push(
            "Its spelling means much else, so it is a unit only behind a number, in brackets or in a column of units."
                .to_owned(),
        );
    }
    notes
}
