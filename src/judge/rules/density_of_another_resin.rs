//! A density that resin of the class does not have: another resin, or a mixture, is in the bed.

use crate::judge::case::Case;
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;

pub(super) const ID: &str = "density-of-another-resin";

pub(super) fn check(case: &Case<'_>, model: &Model, out: &mut Findings) {
    let swollen = swollen(case);
    let tolerance = case.info.limits().density_tolerance;
    for slot in [Slot::TrueDensity, Slot::BulkDensity] {
        let new = case.info.figures.get(slot).and_then(|figure| figure.new.as_ref());
        let Some((value, new)) = case.get(slot).zip(new) else { continue };
        let Some((low, high)) = new.lower().zip(new.upper()) else { continue };
        let low = match (swollen, slot) {
            (Some(share), Slot::BulkDensity) => low * share,
            (Some(_), _) => continue,
            (None, _) => low,
        };
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
        out.cause("wrong-or-mixed-resin", case.info.limits().strength_mark, text);
        // On a resin that may be another one a loss against this class is no loss: nothing is bought on it.
        if past > case.info.limits().density_of_another && model.loss >= case.info.loss_watch() {
            out.call(Call::Ask, ID);
            out.say(Weight::Decides, ID, Some(Call::Ask), || {
                format!("{}: this is hardly the resin that the report names, and what it has lost cannot be told against another class. Ask what was sampled.", text())
            });
            continue;
        }
        out.say(Weight::Supports, ID, None, || {
            format!("{}: another resin, or a mixture of two, may be in the bed. Make sure of it before anything is bought.", text())
        });
    }
}

/// Share of its density that a resin keeps whose moisture has risen: swollen beads are light because they hold water.
/// None where it has not risen.
fn swollen(case: &Case<'_>) -> Option<f64> {
    let water = case.get(Slot::Moisture).filter(|_| case.moisture_rise().is_some_and(|rise| rise > 0.0))?;
    let of_bead = |percent: f64| {
        let water = percent / 100.0;
        1.0 / ((1.0 - water) / case.info.skeleton + water)
    };
    Some(of_bead(water) / of_bead(case.new_moisture.1))
}
