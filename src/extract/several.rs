//! Cells that hold more than one figure: "0.86 eq/l (0.95 at start-up)".

use super::ReferenceText;
use super::style::Style;
use crate::lexicon::{Lexicon, Role};
use crate::value::Value;

/// What a cell with several figures says.
#[derive(Clone, Debug, Default)]
pub struct Split {
    /// The result, and its reading in the other style.
    pub result: Option<(Value, Option<Value>)>,
    /// References among them.
    pub references: Vec<ReferenceText>,
    /// Figures that nothing explains.
    pub leftover: Vec<String>,
    /// The words around the figures.
    pub words: String,
}

/// Reads a cell that is more than one value expression.
pub fn figures_of_cell(text: &str, lexicon: &Lexicon, style: &Style) -> Option<Split> {
    if text.len() > 300 {
        return None;
    }
    let found = style.find(text);
    if found.is_empty() {
        return None;
    }
    let mut split = Split::default();
    let mut last = 0;
    let count = found.len();
    for (number, (located, other)) in found.into_iter().enumerate() {
        let before = text.get(last..located.start).unwrap_or_default();
        let after = text.get(located.end..).unwrap_or_default();
        let after = if number + 1 < count { own_words(after) } else { after };
        let role = role_in(before, lexicon).or_else(|| role_in(after, lexicon));
        let slice = text.get(located.start..located.end).unwrap_or_default().to_owned();
        if split.result.is_none() || !after.is_empty() && number + 1 == count {
            split.words = format!("{} {before} {after}", split.words);
        }
        last = located.end;
        match role {
            Some(role @ (Role::Specification | Role::SpecificationLow | Role::SpecificationHigh)) => {
                split.references.push(ReferenceText { role, text: slice, value: Some(located.value) });
            }
            Some(
                Role::PercentOfNew
                | Role::DetectionLimit
                | Role::Previous
                | Role::Change
                | Role::Count
                | Role::Deviation,
            ) => {}
            _ if split.result.is_none() => split.result = Some((located.value, other)),
            _ => split.leftover.push(slice),
        }
    }
    if let Some((value, _)) = &split.result {
        // A figure in words that are no value: "about twice that of 52.3", "see 4.2".
        let words = text.split_whitespace().filter(|w| w.chars().filter(|c| c.is_alphabetic()).count() > 2).count();
        if words > 8 && value.unit.is_none() {
            return None;
        }
    }
    Some(split)
}

/// The words behind a figure that are its own, where another follows: "0.86 eq/l (0.95 at start-up)" has none.
fn own_words(after: &str) -> &str {
    let stop = after.find([',', ';', ')']).unwrap_or(after.len());
    let opened = after.find('(').filter(|&at| {
        let figure = after.find(|c: char| c.is_ascii_digit()).unwrap_or(after.len());
        at < figure && after.get(at..figure).is_some_and(|t| !t.contains(')'))
    });
    after.get(..opened.map_or(stop, |at| at.min(stop))).unwrap_or(after)
}

/// The role that words beside a figure give it.
pub fn role_in(text: &str, lexicon: &Lexicon) -> Option<Role> {
    let cleaned = text.trim_matches(|c: char| !c.is_alphanumeric() && c != '%' && c != '#').trim();
    if cleaned.is_empty() {
        return None;
    }
    let words: Vec<&str> = cleaned.split_whitespace().collect();
    for length in (1..=words.len().min(5)).rev() {
        for start in [words.len() - length, 0] {
            let Some(run) = words.get(start..start + length) else { continue };
            let run = run.join(" ");
            if let Some(role) = lexicon.role(&run)
                && !matches!(
                    role,
                    Role::Result | Role::Unit | Role::Parameter | Role::Average | Role::Rating | Role::Method
                )
            {
                return Some(role);
            }
        }
    }
    let label = lexicon.understand(cleaned, &[]);
    if label.has_context("new") || label.has_context("startup") {
        return Some(Role::Specification);
    }
    label.has_context("previous").then_some(Role::Previous)
}
