//! A density that resin of the class does not have: another resin, or a mixture, is in the bed.

use crate::judge::case::Case;
use crate::judge::findings::{Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;

pub(super) const ID: &str = "density-of-another-resin";

pub(super) fn check(case: &Case<'_>, _model: &Model, out: &mut Findings) {
    // Swollen beads are light because they hold water.
    if !out.wants_words() || case.moisture_rise().is_some_and(|rise| rise > 0.0) {
        return;
    }
    let tolerance = case.info.limits().density_tolerance;
    for slot in [Slot::TrueDensity, Slot::BulkDensity] {
        let new = case.info.figures.get(slot).and_then(|figure| figure.new.as_ref());
        let Some((value, new)) = case.get(slot).zip(new) else { continue };
        let Some((low, high)) = new.lower().zip(new.upper()) else { continue };
        let past = if value < low { low / value - 1.0 } else { value / high - 1.0 };
        // Water has a density of 1 g/mL, so what tells beads apart is what they have above it.
        let span = if slot == Slot::TrueDensity { tolerance * (high - 1.0).max(0.0) } else { tolerance };
        if past <= span.max(tolerance / 5.0) {
            continue;
        }
        let text = || {
            format!(
                "{} {} lies outside the {} to {} of new resin of its class",
                words::sentence(&words::slot_name(slot)),
                words::quantity(value, slot.unit()),
                words::number(low),
                words::quantity(high, slot.unit())
            )
        };
        out.cause("wrong-or-mixed-resin", 0.4, text);
        out.say(Weight::Supports, ID, None, || {
            format!("{}: another resin, or a mixture of two, may be in the bed. Make sure of it before anything is bought.", text())
        });
    }
}
