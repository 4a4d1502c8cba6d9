//! Organic matter on an anion resin: brine and caustic take part of it off.

use crate::judge::case::Case;
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;

pub(super) const ID: &str = "organics-on-anion";

pub(super) fn check(case: &Case<'_>, model: &Model, out: &mut Findings) {
    if case.info.family().is_cation() {
        return;
    }
    let scavenger = case.info.sample.duty.as_deref() == Some("organics-scavenging");
    let lost = model.loss >= case.info.limits().strong_loss_watch;
    for slot in [Slot::OrganicsPermanganate, Slot::OrganicsCod, Slot::OrganicsToc] {
        out.grade(case, slot, ID, !scavenger);
        let (Some(value), true) = (case.get(slot), case.is_watch(slot)) else { continue };
        let poor = case.is_poor(slot);
        let text = || words::sentence(&format!("{} {} of resin", words::slot_name(slot), words::quantity(value, "mg/L")));
        out.cause("organic-fouling", case.foulant_strength(slot), text);
        if scavenger && !lost {
            out.say(Weight::Supports, ID, None, || {
                format!("{}: on a bed that is there to catch organic matter this is its day's work.", text())
            });
        } else if poor || lost {
            out.call(Call::Clean, ID);
            out.say(Weight::Decides, ID, Some(Call::Clean), || {
                let with = if case.info.sample.drinking_water == Some(false) { "warm alkaline brine" } else { "strong brine" };
                format!("{}: {with} takes part of it off, never all.", text())
            });
        } else {
            out.say(Weight::Supports, ID, None, || format!("{}: to be watched.", text()));
        }
    }
}
