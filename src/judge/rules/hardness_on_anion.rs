//! Calcium on an anion resin: hardness has been laid down by caustic.

use crate::judge::case::Case;
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;

pub(super) const ID: &str = "hardness-on-anion";

pub(super) fn check(case: &Case<'_>, _model: &Model, out: &mut Findings) {
    if case.info.family().is_cation() {
        return;
    }
    out.grade(case, Slot::Calcium, ID, true);
    let (Some(value), true) = (case.get(Slot::Calcium), case.is_watch(Slot::Calcium)) else { return };
    let text = || format!("Calcium {} on the dry resin", words::quantity(value, "mg/kg"));
    if case.is_poor(Slot::Calcium) {
        out.cause("hardness-on-anion", case.foulant_strength(Slot::Calcium), text);
        out.caution("two-bed");
        out.call(Call::Clean, ID);
        out.say(Weight::Decides, ID, Some(Call::Clean), || {
            format!("{}: hardness laid down by caustic, which a dilute acid takes off.", text())
        });
    } else {
        out.cause("hardness-on-anion", case.foulant_strength(Slot::Calcium), text);
        out.say(Weight::Supports, ID, None, || format!("{}: to be watched.", text()));
    }
}
