//! A total capacity of a gel cation that has the size of an operating one, with nothing to bear it out.

use crate::judge::case::{Case, Info};
use crate::judge::findings::{Findings, Weight};
use crate::judge::model::{Known, Model};
use crate::judge::slot::Slot;
use crate::judge::words;

pub(super) const ID: &str = "capacity-of-operating-size";

pub(super) fn check(case: &Case<'_>, model: &Model, out: &mut Findings) {
    if !out.wants_words() || !looks_operating(case.info, model) {
        return;
    }
    out.say(Weight::Supports, ID, None, || {
        format!(
            "{} has the size of an operating capacity, and the moisture is that of sound resin: before new resin is bought make sure that the total was measured, best by the capacity of the dry resin.",
            words::sentence(&format!(
                "{} {}",
                words::slot_name(Slot::TotalVolume),
                words::quantity(case.get(Slot::TotalVolume).unwrap_or(f64::NAN), "eq/L")
            ))
        )
    });
}

/// Whether the total may be an operating figure: its size, moisture that explains no loss, and no dry capacity beside it.
pub fn looks_operating(info: &Info<'_>, model: &Model) -> bool {
    let limits = info.limits();
    let at = |slot| info.figures.get(slot).map(crate::judge::figures::Figure::at);
    let size = at(Slot::TotalVolume)
        .is_some_and(|total| (limits.operating_size_low..=limits.operating_size_high).contains(&total));
    let upper = info.figures.get(Slot::Moisture).and_then(|figure| figure.new.as_ref()?.upper());
    let sound = at(Slot::Moisture).zip(upper).is_some_and(|(water, upper)| water <= upper);
    info.is_gel_cation()
        && size
        && sound
        && model.known == Known::Measured(Slot::TotalVolume)
        && model.unexplained + model.lost > limits.capacity_loss_watch
        // Where foulants or swelling account for most of the loss, the total is what it says.
        && model.unexplained + model.lost > model.loss / 2.0
        && [Slot::TotalDry, Slot::StrongDry, Slot::StrongVolume].iter().all(|slot| at(*slot).is_none())
}
