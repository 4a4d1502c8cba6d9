//! More capacity than new resin of the class can hold: the class, the unit or the decimal is not what it seems.

use crate::judge::case::Case;
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;
use crate::judge::model::organics_watch;
use crate::specs::Family;

pub(super) const ID: &str = "capacity-above-new";

pub(super) fn check(case: &Case<'_>, _model: &Model, out: &mut Findings) {
    // Sorbed humic acids exchange ions themselves, so an organically loaded anion can rightly show more than new.
    if !case.info.family().is_cation() && organics_watch(case) {
        return;
    }
    let ceiling = case.info.limits().capacity_ceiling;
    let slots = match case.info.family() {
        Family::Sba => [Slot::TotalVolume, Slot::TotalDry, Slot::StrongVolume, Slot::StrongDry],
        _ => [Slot::TotalVolume, Slot::TotalDry, Slot::TotalWet, Slot::StrongVolume],
    };
    for slot in slots {
        if case.share(slot).is_some_and(|share| share > ceiling) {
            out.call(Call::Ask, ID);
            out.say(Weight::Decides, ID, Some(Call::Ask), || {
                format!(
                    "{}: more than resin of this class can hold. The class, the unit, the basis or a decimal is wrong.",
                    words::against(case, slot)
                )
            });
            out.cause("wrong-or-mixed-resin", case.info.limits().strength_mark, || words::against(case, slot));
        }
    }
}
