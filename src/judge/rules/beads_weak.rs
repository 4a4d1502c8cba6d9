//! Beads that break under a light load.

use crate::judge::case::Case;
use crate::judge::findings::{Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;

pub(super) const ID: &str = "beads-weak";

pub(super) fn check(case: &Case<'_>, _model: &Model, out: &mut Findings) {
    for slot in [Slot::CrushAbove200, Slot::CrushStrength] {
        out.grade(case, slot, ID, true);
        let (Some(value), Some(band)) = (case.get(slot), case.info.band(slot)) else { continue };
        if value < band.poor() {
            let text = || words::sentence(&format!("{} {}", words::slot_name(slot), words::quantity(value, slot.unit())));
            out.cause(if case.info.family().is_cation() { "oxidation" } else { "breakage" }, case.info.limits().strength_hint, text);
            out.say(Weight::Supports, ID, None, || {
                format!("{}: new beads bear far more; handle the bed gently and watch the pressure drop.", text())
            });
        }
    }
}
