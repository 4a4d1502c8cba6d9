//! Calcium that a regeneration has left on a cation resin: gypsum or scale in the bed, or a regeneration that fell short.

use crate::judge::case::{Case, State};
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;

pub(super) const ID: &str = "calcium-left-on-cation";

pub(super) fn check(case: &Case<'_>, _model: &Model, out: &mut Findings) {
    // On a bed that was pulled exhausted calcium is the day's work.
    if !case.info.family().is_cation() || case.info.state != State::Regenerated {
        return;
    }
    out.grade(case, Slot::Calcium, ID, true);
    let (Some(value), true) = (case.get(Slot::Calcium), case.is_watch(Slot::Calcium)) else { return };
    let acid = matches!(case.info.sample.duty.as_deref(), Some("demineralizing" | "dealkalizing" | "polishing"));
    let text = || format!("Calcium {} on the dry resin of a regenerated bed", words::quantity(value, "mg/kg"));
    out.cause(if acid { "calcium-sulfate" } else { "hardness-precipitate" }, case.foulant_strength(Slot::Calcium), text);
    out.cause("too-little-regeneration", case.info.limits().strength_hint, text);
    if case.is_poor(Slot::Calcium) {
        out.call(Call::Clean, ID);
        out.say(Weight::Decides, ID, Some(Call::Clean), || {
            let what = if acid { "gypsum from sulfuric acid that was too strong for the load" } else { "scale" };
            format!("{}: {what}, or a regeneration that fell short. Try a full regeneration first; what stays takes dilute acid, slowly.", text())
        });
    } else {
        out.say(Weight::Supports, ID, None, || format!("{}: to be watched, with the regeneration.", text()));
    }
}
