//! Strong-base capacity past the limit that cleaning cannot restore.

use crate::judge::case::Case;
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;
use crate::judge::model::Known;
use crate::specs::Family;

pub(super) const ID: &str = "strong-base-below-limit";

pub(super) fn check(case: &Case<'_>, model: &Model, out: &mut Findings) {
    if case.info.family() != Family::Sba {
        return;
    }
    for slot in [Slot::StrongVolume, Slot::StrongDry, Slot::StrongWet, Slot::TotalVolume, Slot::TotalDry, Slot::TotalWet] {
        out.grade(case, slot, ID, true);
    }
    let (Some(left), Some(after)) = (model.remaining, model.after) else { return };
    if let Known::Calculated(_) = model.known {
        out.grade_worked_out(case, Slot::StrongVolume, left, ID);
    }
    let limit = 1.0 - case.info.loss_replace;
    let past = |share: f64| share <= limit + 1e-9;
    if !past(left) {
        return;
    }
    if past(after) {
        out.call(Call::Replace, ID);
        out.say(Weight::Decides, ID, Some(Call::Replace), || {
            let why = if case.info.cleaned {
                "and the bed has been cleaned before this sample"
            } else if model.turned_weak > model.loss / 2.0 {
                "and strong sites that have turned weak do not come back"
            } else if !case.info.organics_known {
                "and, though organic matter was not measured, a cleaning seldom brings so much back"
            } else {
                "and a cleaning would not bring enough of it back"
            };
            format!(
                "{}: {} of the strong-base capacity is lost, {why}. {}",
                told(case, model, left),
                words::percent(model.loss),
                case.info.loss_replace_words()
            )
        });
    } else if model.fouled > 0.0 {
        out.call(Call::Clean, ID);
        out.say(Weight::Decides, ID, Some(Call::Clean), || {
            format!(
                "{}: past the limit, but what is on the resin explains enough of it that a cleaning may bring it back to about {}.",
                told(case, model, left),
                words::about(after)
            )
        });
    } else {
        out.call(Call::Test, ID);
        out.say(Weight::Decides, ID, Some(Call::Test), || {
            format!(
                "{}: past the limit, but organic matter was not measured, so nobody can say whether a cleaning would bring it back.",
                told(case, model, left)
            )
        });
    }
}

fn told(case: &Case<'_>, model: &Model, left: f64) -> String {
    match model.known {
        Known::Measured(slot) => words::against(case, slot),
        _ => format!("Total less weak capacity leaves {} of new strong-base capacity", words::about(left)),
    }
}
