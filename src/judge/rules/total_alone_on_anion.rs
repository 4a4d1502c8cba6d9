//! Only the total capacity of a strong-base resin: it cannot clear the resin, and can only condemn it.

use crate::judge::case::Case;
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;
use crate::judge::model::organics_poor;
use crate::specs::Family;

pub(super) const ID: &str = "total-alone-on-anion";

pub(super) fn check(case: &Case<'_>, model: &Model, out: &mut Findings) {
    if case.info.family() != Family::Sba || model.remaining.is_some() {
        return;
    }
    let Some((slot, share)) = case.first_share(&[Slot::TotalVolume, Slot::TotalDry, Slot::TotalWet]) else { return };
    out.missing("salt_splitting_capacity");
    let limits = case.info.limits();
    let strong = match slot {
        Slot::TotalDry => Slot::StrongDry,
        Slot::TotalWet => Slot::StrongWet,
        _ => Slot::StrongVolume,
    };
    // No more sites can be strong than there are in all.
    let at_most = case.get(slot).zip(case.n.get(strong)).map_or(share, |(total, new)| total / new);
    if at_most <= 1.0 - case.info.loss_replace + 1e-9 && !organics_poor(case) {
        out.call(Call::Replace, ID);
        out.say(Weight::Decides, ID, Some(Call::Replace), || {
            format!(
                "{}: even if every site left were a strong one, no more than {} of new strong-base capacity could be left.",
                words::against(case, slot),
                words::percent(at_most)
            )
        });
    } else if share < 1.0 - limits.strong_loss_watch {
        out.call(Call::Test, ID);
        out.say(Weight::Decides, ID, Some(Call::Test), || {
            format!(
                "{}: how much of what is left is strong-base is not measured, and that is what decides on this resin.",
                words::against(case, slot)
            )
        });
    } else {
        out.say(Weight::Supports, ID, None, || {
            format!(
                "{}. The total alone does not show strong sites that have turned weak: have the salt-splitting capacity measured.",
                words::against(case, slot)
            )
        });
    }
}
