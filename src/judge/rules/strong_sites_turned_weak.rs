//! Strong sites that have turned weak: heat or age, and no cleaning brings them back.

use crate::judge::case::Case;
use crate::judge::findings::{Findings, Weight};
use crate::judge::model::Model;
use crate::judge::words;
use crate::judge::model::organics_watch;
use crate::specs::Family;

pub(super) const ID: &str = "strong-sites-turned-weak";

pub(super) fn check(case: &Case<'_>, model: &Model, out: &mut Findings) {
    let limits = case.info.limits();
    if case.info.family() != Family::Sba || model.turned_weak < limits.weak_gain_watch {
        return;
    }
    let share = words::about(model.turned_weak);
    out.cause("heat-or-age", (model.turned_weak / limits.strength_turned_span).clamp(limits.strength_least, limits.strength_most), || {
        format!("weak sites have grown by {share} of the new strong-base capacity")
    });
    out.caution("two-bed");
    out.say(Weight::Supports, ID, None, || {
        let either = if organics_watch(case) { " Sorbed organic acids look the same, and part of what shows as weak is taken for fouling; a bench cleaning trial tells which." } else { "" };
        format!("About {share} of the strong sites have turned weak: heat or age, which no cleaning undoes.{either}")
    });
}
