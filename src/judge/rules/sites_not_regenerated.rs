//! Few sites in the working form on a bed that was pulled regenerated: the brine or the valve, and not the resin.

use crate::judge::case::Case;
use crate::judge::findings::{Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;
use crate::judge::case::State;

pub(super) const ID: &str = "sites-not-regenerated";

pub(super) fn check(case: &Case<'_>, _model: &Model, out: &mut Findings) {
    let limits = case.info.limits();
    let Some(sites) = case.get(Slot::RegeneratedSites) else { return };
    if sites >= limits.regenerated_low || case.info.state == State::Exhausted {
        return;
    }
    let text = || format!("Only {} of the sites are in the working form", words::quantity(sites, "%"));
    let known = case.info.state == State::Regenerated;
    out.cause("too-little-regeneration", if known { limits.strength_most } else { limits.strength_watch }, text);
    out.say(Weight::Supports, ID, None, || {
        let ending = if known {
            "although the bed had been regenerated: the dose, the brine draw or the valve is at fault, and new resin would not help."
        } else {
            "If the core was pulled from a regenerated bed, the dose, the brine draw or the valve is at fault; if from an exhausted one, the figure says nothing."
        };
        if known { format!("{}, {ending}", text()) } else { format!("{}. {ending}", text()) }
    });
}
