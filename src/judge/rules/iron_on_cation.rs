//! Iron on a cation resin: cleanable while the beads are sound.

use crate::judge::case::Case;
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;

pub(super) const ID: &str = "iron-on-cation";

pub(super) fn check(case: &Case<'_>, model: &Model, out: &mut Findings) {
    if !case.info.family().is_cation() {
        return;
    }
    out.grade(case, Slot::Iron, ID, true);
    let Some(iron) = case.get(Slot::Iron) else { return };
    let poor = case.is_poor(Slot::Iron);
    let watch = case.is_watch(Slot::Iron);
    let lost = cleaning_pays(case, model);
    if !watch {
        return;
    }
    let text = || format!("Iron {} on the dry resin", words::quantity(iron, "mg/kg"));
    out.cause("iron-fouling", case.foulant_strength(Slot::Iron), text);
    if case.moisture_rise().is_some_and(|rise| rise > case.info.limits().moisture_rise_watch) {
        out.cause("oxidation", case.info.limits().strength_iron_speeds, || "iron on the resin speeds oxidation".to_owned());
        out.say(Weight::Supports, ID, None, || {
            "Iron beside the rise in moisture: iron speeds the oxidation, so both have to be stopped.".to_owned()
        });
    }
    if poor || lost {
        out.call(Call::Clean, ID);
        out.say(Weight::Decides, ID, Some(Call::Clean), || {
            let share = if model.blocked_most > 0.005 {
                format!(" It can block or dilute at most about {} of new capacity.", words::about(model.blocked_most))
            } else {
                String::new()
            };
            format!("{}: sound resin stays below {}; an acid cleaner takes it off.{share}", text(), cut(case, poor))
        });
    } else {
        out.say(Weight::Supports, ID, None, || {
            format!("{}: past {}, from which it is watched; no cleaning is needed yet.", text(), cut(case, false))
        });
    }
}

/// Whether capacity is short enough, and enough of it sits under metals, that a cleaning is worth its trouble.
pub(super) fn cleaning_pays(case: &Case<'_>, model: &Model) -> bool {
    let limits = case.info.limits();
    // What an acid brings back of the blocked sites is not known; the verdict rests on what it usually does.
    let gain = limits.cleaning_restores_best * model.blocked_most;
    model.loss >= limits.capacity_loss_watch && gain >= limits.cleaning_gain_from
}

fn cut(case: &Case<'_>, poor: bool) -> String {
    let cut = case.info.band(Slot::Iron).map_or(f64::NAN, |band| if poor { band.poor() } else { band.watch() });
    words::quantity(cut, "mg/kg")
}
