//! Iron on an anion resin: it comes bound to organic matter, and caustic leaves it behind.

use crate::judge::case::Case;
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;

pub(super) const ID: &str = "iron-on-anion";

pub(super) fn check(case: &Case<'_>, model: &Model, out: &mut Findings) {
    if case.info.family().is_cation() {
        return;
    }
    out.grade(case, Slot::Iron, ID, true);
    let (Some(iron), true) = (case.get(Slot::Iron), case.is_watch(Slot::Iron)) else { return };
    let poor = case.is_poor(Slot::Iron);
    let text = || format!("Iron {} on the dry resin", words::quantity(iron, "mg/kg"));
    out.cause("iron-organic-fouling", case.foulant_strength(Slot::Iron), text);
    if poor || model.loss >= case.info.limits().strong_loss_watch {
        out.call(Call::Clean, ID);
        out.say(Weight::Decides, ID, Some(Call::Clean), || {
            let how = if case.info.sample.drinking_water == Some(false) {
                "brine and caustic take off the organic part, a dilute acid after them the iron"
            } else {
                "brine takes off part of the organic matter; the iron takes an acid, which on a bed that people drink from, or may, is a specialist's work"
            };
            format!("{}: on an anion resin it comes bound to organic matter; {how}.", text())
        });
    } else {
        out.say(Weight::Supports, ID, None, || format!("{}: to be watched.", text()));
    }
}
