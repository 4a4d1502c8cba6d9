//! What changed between two analyses in how things are measured: each change can make a false step.

use super::names::Key;
use crate::quantity::Unit;
use crate::record::{Measurement, Record};

/// What differs in how two analyses were made: laboratory, and method, form and printed unit of each property.
pub(super) fn changes(before: &Record, after: &Record) -> Vec<String> {
    let mut changes = Vec::new();
    let key = |name: &Option<String>| name.as_deref().map(Key::plain);
    if let (Some(one), Some(two)) = (&before.sample.laboratory, &after.sample.laboratory)
        && key(&before.sample.laboratory) != key(&after.sample.laboratory)
    {
        changes.push(format!("laboratory: {one}, then {two}"));
    }
    for m in &after.measurements {
        let same = |other: &&Measurement| other.property == m.property && other.basis == m.basis;
        let Some(other) = before.measurements.iter().find(same) else { continue };
        let name = crate::judge::property_words(&m.property);
        if let (Some(one), Some(two)) = (&other.method, &m.method)
            && key(&other.method) != key(&m.method)
        {
            changes.push(format!("{name}, method: {one}, then {two}"));
        }
        if let (Some(one), Some(two)) = (&other.form, &m.form)
            && one != two
        {
            changes.push(format!("{name}, form: {one}, then {two}"));
        }
        let (one, two) = (printed_unit(&other.as_written), printed_unit(&m.as_written));
        if one != two && !same_unit(&one, &two) {
            changes.push(format!("{name}, unit: {one}, then {two}"));
        }
    }
    changes
}

/// What a printed figure leaves when its number, its tolerance and its footnotes are taken off.
fn printed_unit(as_written: &str) -> String {
    let rest = as_written
        .trim_start_matches(|c: char| c.is_ascii_digit() || " .,<>=~≤≥+-−\"'\u{a0}\u{202f}".contains(c))
        .trim_end_matches('"');
    rest.split(['±', '(']).next().unwrap_or_default().trim().to_owned()
}

/// Whether two spellings are one unit, or one of them is none that is known.
fn same_unit(one: &str, two: &str) -> bool {
    match (Unit::parse(one), Unit::parse(two)) {
        (Some(one), Some(two)) => {
            one.dimension == two.dimension
                && one.kind == two.kind
                && (one.factor / two.factor - 1.0).abs() < 1e-9
                && one.substance == two.substance
        }
        _ => true,
    }
}
