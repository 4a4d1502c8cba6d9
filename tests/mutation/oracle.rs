//! Whether the reading of a changed report says only what that report says.

use crate::changes::{Changed, Expect};
use crate::known::{Known, Read, figures, same};
use beadwise::pipeline::Outcome;

/// A figure that was read without a doubt and is not what the changed report says.
#[derive(Clone, Debug)]
pub struct Wrong {
    pub cause: String,
    pub text: String,
}

#[derive(Default)]
pub struct Judged {
    pub figures: usize,
    pub plain: usize,
    pub wrong: Vec<Wrong>,
}

/// Compares a reading with what the change leaves to be read.
pub fn judge(known: &Known, changed: &Changed, outcome: &Outcome) -> Judged {
    let read = figures(outcome, &known.truth);
    let mut judged = Judged { figures: read.len(), ..Judged::default() };
    for figure in &read {
        if !figure.doubts.is_empty() || figure.value.is_none() {
            continue;
        }
        judged.plain += 1;
        if let Some(cause) = cause(known, changed, figure, &read) {
            judged.wrong.push(Wrong { cause, text: shown(figure) });
        }
    }
    judged
}

fn basis_of(read: &Read) -> &str {
    read.basis.as_deref().unwrap_or("-")
}

fn shown(read: &Read) -> String {
    format!(
        "{}/{} {} {:?}{} {} (\"{}\" at {})",
        read.property,
        basis_of(read),
        read.qualifier,
        read.value.unwrap_or_default(),
        read.high.map_or(String::new(), |h| format!("..{h}")),
        read.unit.as_deref().unwrap_or("-"),
        read.as_written,
        read.place
    )
}

fn is_named_alike(a: &Read, b: &Read) -> bool {
    a.property == b.property && a.basis == b.basis && a.unit == b.unit
}

/// Why a plain figure is wrong; none where it is right.
fn cause(known: &Known, changed: &Changed, figure: &Read, read: &[Read]) -> Option<String> {
    let is_target = |base: &Read| changed.target.as_ref().is_some_and(|t| t.is(base));
    let here: Vec<&Read> = known.baseline.iter().filter(|b| b.place == figure.place).collect();
    // What was not read rightly before says nothing now.
    if here.iter().any(|b| !b.right || !b.doubts.is_empty()) {
        return None;
    }
    let holds = |base: &Read| {
        let factor = match (&changed.expect, is_target(base)) {
            (Expect::Scaled(factor), true) => *factor,
            (Expect::Absent | Expect::Doubted, true) => return false,
            _ => 1.0,
        };
        let qualifier = match (&changed.expect, is_target(base)) {
            (Expect::Qualified(sign), true) => sign,
            _ => base.qualifier,
        };
        same(base.value.map(|v| v * factor), figure.value)
            && same(base.high.map(|v| v * factor), figure.high)
            && qualifier == figure.qualifier
    };
    let fits = |base: &&&Read| is_named_alike(base, figure) && holds(base);
    let fitting: Vec<&&Read> = here.iter().filter(fits).collect();
    if !fitting.is_empty() {
        let own = |base: &&&Read| !is_of_another(known, base, figure);
        if changed.moves_samples || fitting.iter().any(own) {
            return None;
        }
        return Some("given to another sample".to_owned());
    }
    // The same figure may be printed elsewhere too, and another print of it may now be the one that counts.
    let elsewhere = known
        .baseline
        .iter()
        .any(|b| b.place != figure.place && is_named_alike(b, figure) && holds(b) && !is_of_another(known, b, figure));
    let is_in_truth = !is_changed_target(changed, figure) && figure.right && here.is_empty();
    if elsewhere || is_in_truth {
        return None;
    }
    Some(describe(&here, changed, figure, read))
}

/// Whether the changed figure itself stands at this place.
fn is_changed_target(changed: &Changed, figure: &Read) -> bool {
    changed.target.as_ref().is_some_and(|t| t.place == figure.place)
}

/// Whether a figure has gone to the sample of another one.
fn is_of_another(known: &Known, base: &Read, figure: &Read) -> bool {
    base.sample != figure.sample && known.baseline.iter().any(|b| b.sample == figure.sample && b.sample != base.sample)
}

fn describe(here: &[&Read], changed: &Changed, figure: &Read, read: &[Read]) -> String {
    let target =
        here.iter().find(|b| changed.target.as_ref().is_some_and(|t| t.is(b)) && b.property == figure.property);
    if let Some(base) = target {
        match changed.expect {
            Expect::Absent if is_named_alike(base, figure) => {
                return "another figure taken for the lost one".to_owned();
            }
            Expect::Doubted if is_named_alike(base, figure) => {
                return format!("read in {} all the same", base.unit.as_deref().unwrap_or("no unit"));
            }
            Expect::Qualified(_) if same(base.value, figure.value) => return "sign not seen".to_owned(),
            Expect::Scaled(_) if same(base.value, figure.value) && base.unit == figure.unit => {
                return "change not seen".to_owned();
            }
            _ => {}
        }
    }
    let close_by = |b: &&&Read| same(b.value, figure.value) && same(b.high, figure.high);
    if let Some(base) = here.iter().find(|b| close_by(b)) {
        if base.property != figure.property {
            return format!("another property: {} for {}", figure.property, base.property);
        }
        if base.basis != figure.basis || base.unit != figure.unit {
            return format!("another basis: {} for {} of {}", basis_of(figure), basis_of(base), base.property);
        }
        return "another qualifier".to_owned();
    }
    if let Some(base) = here.iter().find(|b| is_named_alike(b, figure))
        && let (Some(before), Some(now)) = (base.value, figure.value)
    {
        let step = (now / before).abs().log10();
        if step.is_finite() && (step - step.round()).abs() < 0.003 && step.round() != 0.0 {
            return format!("value off by 10^{}", step.round());
        }
        return "another value".to_owned();
    }
    let property = &figure.property;
    if read.iter().filter(|r| r.place == figure.place).count() > here.len() {
        return format!("a figure more on the line, as {property}");
    }
    if here.is_empty() { format!("a number that is none, as {property}") } else { format!("mixed up, as {property}") }
}
