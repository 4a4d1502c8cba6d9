//! More free chlorine in the feed than the class bears.

use crate::judge::case::Case;
use crate::judge::findings::{Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;

pub(super) const ID: &str = "oxidant-in-feed";

pub(super) fn check(case: &Case<'_>, _model: &Model, out: &mut Findings) {
    let (Some(chlorine), Some(fact)) = (case.get(Slot::FeedChlorine), case.info.class.facts.get("chlorine_max")) else {
        return;
    };
    if chlorine <= fact.value {
        return;
    }
    let text = || {
        format!(
            "The feed carries {} of free chlorine; this class bears about {} ({})",
            words::quantity(chlorine, "mg/L"),
            words::quantity(fact.value, "mg/L"),
            fact.source
        )
    };
    out.cause("oxidation", 0.35, text);
    out.say(Weight::Supports, ID, None, || format!("{}.", text()));
}
