//! Manganese, aluminium or copper on a resin.

use crate::judge::case::Case;
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;

pub(super) const ID: &str = "metals-on-resin";

pub(super) fn check(case: &Case<'_>, model: &Model, out: &mut Findings) {
    let lost = super::iron_on_cation::cleaning_pays(case, model);
    for (slot, cause) in [
        (Slot::Manganese, "manganese-fouling"),
        (Slot::Aluminium, "aluminium-fouling"),
        (Slot::Copper, "copper-fouling"),
    ] {
        out.grade(case, slot, ID, true);
        let (Some(value), true) = (case.get(slot), case.is_watch(slot)) else { continue };
        let poor = case.is_poor(slot);
        let text = || words::sentence(&format!("{} {} on the dry resin", words::slot_name(slot), words::quantity(value, "mg/kg")));
        out.cause(cause, case.foulant_strength(slot), text);
        if poor || lost {
            out.call(Call::Clean, ID);
            out.say(Weight::Decides, ID, Some(Call::Clean), || format!("{}: brine does not take it off; an acid does.", text()));
        } else {
            out.say(Weight::Supports, ID, None, || format!("{}: to be watched.", text()));
        }
    }
}
