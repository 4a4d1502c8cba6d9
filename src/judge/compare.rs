//! Two analyses side by side: before and after a cleaning, or the top of a bed and its whole depth.
//!
//! Takes two records of one class, gives what differs and whether that is more than the laboratory's noise.

use super::Context;
use super::figures::{Figures, gather};
use super::slot::Slot;
use super::words;
use crate::record::Record;
use serde::Serialize;

/// Differences of two laboratory figures within this many of their deviations are noise: 95 of 100 are.
const NOISE: f64 = 1.96;

/// One figure in both analyses.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Difference {
    /// Property of the contract.
    pub property: String,
    /// Basis of the contract.
    pub basis: Option<String>,
    /// In the first.
    pub before: f64,
    /// In the second.
    pub after: f64,
    /// Canonical unit.
    pub unit: String,
    /// Standard deviation of the difference.
    pub noise: f64,
    /// Whether it is more than noise.
    pub real: bool,
    /// In words.
    pub text: String,
}

/// What differs between two analyses, in the order of the properties.
///
/// Figures that are doubted or in different forms are not set against each other.
///
/// ```
/// use beadwise::judge::{Context, example, compare};
/// let before = example::record("class sac-gel-8\nform Na\ntotal_capacity volume 1.60\niron dry_mass 6000")?;
/// let after = example::record("class sac-gel-8\nform Na\ntotal_capacity volume 1.78\niron dry_mass 5800")?;
/// let differences = compare(&before, &after, &Context::builtin()?);
/// // 1.5 % of each makes 0.036 eq/L for the difference, so 0.18 is real; 20 % of iron makes 200 mg/kg noise.
/// assert!(differences.iter().any(|d| d.property == "total_capacity" && d.real));
/// assert!(differences.iter().any(|d| d.property == "iron" && !d.real));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compare(before: &Record, after: &Record, context: &Context<'_>) -> Vec<Difference> {
    let (first, second) = (figures(before, context), figures(after, context));
    Slot::ALL
        .iter()
        .filter(|slot| !slot.is_field())
        .filter_map(|slot| {
            let (a, b) = (first.get(*slot)?, second.get(*slot)?);
            if a.is_open() || b.is_open() || a.form != b.form {
                return None;
            }
            let deviation = |figure: &super::figures::Figure| match figure.counted {
                Some(count) => {
                    let share = (figure.at() / 100.0).clamp(0.0, 1.0);
                    let (low, high) = super::draws::wilson(share, count, 1.0);
                    100.0 * (high - low) / 2.0
                }
                None => figure.sd,
            };
            let noise = deviation(a).hypot(deviation(b));
            let change = b.at() - a.at();
            let real = change.abs() > NOISE * noise;
            let unit = slot.unit();
            let ending = if real { "more than the laboratory's noise" } else { "within the laboratory's noise" };
            let name = words::sentence(&words::slot_name(*slot));
            let (was, is) = (words::quantity(a.at(), unit), words::quantity(b.at(), unit));
            let text = if was == is {
                format!("{name}: {is} in both.")
            } else {
                format!("{name} went from {was} to {is}: {ending}.")
            };
            Some(Difference {
                property: slot.property().to_owned(),
                basis: slot.basis().map(str::to_owned),
                before: a.at(),
                after: b.at(),
                unit: unit.to_owned(),
                noise,
                real,
                text,
            })
        })
        .collect()
}

/// What the top of a bed shows against its whole depth: the water meets the top first, so oxidants and foulants do too.
///
/// The bed is judged by its whole depth; the top tells what is coming.
///
/// ```
/// use beadwise::judge::{Context, example, top_against_core};
/// let top = example::record("class sac-gel-8\nform Na\nmoisture_retention 57\niron dry_mass 5000")?;
/// let core = example::record("class sac-gel-8\nform Na\nmoisture_retention 53\niron dry_mass 1500")?;
/// let said = top_against_core(&top, &core, &Context::builtin()?);
/// assert!(said[0].contains("oxidant"));
/// assert!(said[1].contains("iron"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn top_against_core(top: &Record, core: &Record, context: &Context<'_>) -> Vec<String> {
    top_above_core(top, core, context).into_iter().map(|(_, text)| text).collect()
}

/// The same, each with the cause that it points to.
pub(super) fn top_above_core(top: &Record, core: &Record, context: &Context<'_>) -> Vec<(&'static str, String)> {
    const FOULANTS: [(&str, &str); 6] = [
        ("iron", "iron-fouling"),
        ("manganese", "manganese-fouling"),
        ("aluminium", "aluminium-fouling"),
        ("organics_permanganate", "organic-fouling"),
        ("organics_cod", "organic-fouling"),
        ("organics_toc", "organic-fouling"),
    ];
    let differences = compare(core, top, context);
    let risen = |property: &str| differences.iter().find(|d| d.property == property && d.real && d.after > d.before);
    let mut said = Vec::new();
    if let Some(d) = risen("moisture_retention") {
        said.push((
            "oxidation",
            format!(
                "The top of the bed holds {} of water, the whole depth {}: an oxidant comes in with the water.",
                words::quantity(d.after, &d.unit),
                words::quantity(d.before, &d.unit)
            ),
        ));
    }
    for (property, cause) in FOULANTS {
        if let Some(d) = risen(property) {
            said.push((
                cause,
                format!(
                    "The top of the bed carries more {} than its whole depth ({} against {}): it comes in with the water.",
                    words::name(property),
                    words::quantity(d.after, &d.unit),
                    words::quantity(d.before, &d.unit)
                ),
            ));
        }
    }
    said
}

fn figures(record: &Record, context: &Context<'_>) -> Figures {
    let id = context.class.or(record.sample.resin_class.as_deref());
    gather(record, id.and_then(|id| context.specs.class(id)), context.policy, context)
}
