//! More free chlorine or chloramine in the feed than the class bears.

use crate::judge::case::Case;
use crate::judge::findings::{Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;

pub(super) const ID: &str = "oxidant-in-feed";

pub(super) fn check(case: &Case<'_>, _model: &Model, out: &mut Findings) {
    let limits = case.info.limits();
    let Some(fact) = case.info.class.facts.get("chlorine_max") else { return };
    for (slot, name, harm) in [
        (Slot::FeedChlorine, "free chlorine", 1.0),
        (Slot::FeedChloramine, "chloramine", limits.chloramine_harm),
    ] {
        let Some(oxidant) = case.get(slot).filter(|oxidant| oxidant * harm > fact.value) else { continue };
        let text = || {
            format!(
                "The feed carries {} of {name}; this class bears about {} ({})",
                words::quantity(oxidant, "mg/L"),
                words::quantity(fact.value / harm, "mg/L"),
                fact.source
            )
        };
        out.cause("oxidation", limits.strength_hint, text);
        out.say(Weight::Supports, ID, None, || format!("{}.", text()));
    }
}
