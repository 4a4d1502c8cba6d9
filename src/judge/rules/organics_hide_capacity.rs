//! Capacity that looks sound on an organically loaded anion resin: the load itself exchanges ions.

use crate::judge::case::Case;
use crate::judge::findings::{Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;
use crate::judge::model::organics_watch;

pub(super) const ID: &str = "organics-hide-capacity";

pub(super) fn check(case: &Case<'_>, _model: &Model, out: &mut Findings) {
    if case.info.family().is_cation() || !organics_watch(case) {
        return;
    }
    let slots = [Slot::TotalVolume, Slot::TotalDry, Slot::StrongVolume, Slot::StrongDry];
    if let Some((slot, _)) = case.first_share(&slots).filter(|(_, share)| *share >= case.info.limits().organics_hide) {
        out.say(Weight::Supports, ID, None, || {
            format!(
                "{}, but organic acids held by the resin exchange ions themselves: this capacity does not clear the bed.",
                words::against(case, slot)
            )
        });
    }
}
