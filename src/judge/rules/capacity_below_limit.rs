//! Capacity past the limit that cleaning cannot restore.

use crate::judge::case::Case;
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;
use crate::judge::model::Known;
use crate::specs::Family;

pub(super) const ID: &str = "capacity-below-limit";

pub(super) fn check(case: &Case<'_>, model: &Model, out: &mut Findings) {
    if case.info.family() == Family::Sba {
        return;
    }
    grades(case, model, out);
    let (Some(left), Some(after)) = (model.remaining, model.after) else { return };
    let limit = 1.0 - case.info.loss_replace;
    let past = |share: f64| share <= limit + 1e-9;
    if !past(left) {
        return;
    }
    if past(after) {
        out.call(Call::Replace, ID);
        out.say(Weight::Decides, ID, Some(Call::Replace), || {
            let back = if case.info.cleaned {
                "and the bed has been cleaned before this sample".to_owned()
            } else if after > left + 0.005 {
                format!("and a cleaning would bring it back to about {} only", words::about(after))
            } else {
                "and nothing was found that a cleaning would bring back".to_owned()
            };
            let lost = words::percent(model.loss);
            format!("{}: {lost} is lost, {back}. {}", told(case, model, left), case.info.loss_replace_words())
        });
    } else if model.blocked + model.fouled > 0.0 {
        out.call(Call::Clean, ID);
        out.say(Weight::Decides, ID, Some(Call::Clean), || {
            format!(
                "{}: past the limit, but the foulants found explain enough of it that a cleaning should bring it back to about {}.",
                told(case, model, left),
                words::about(after)
            )
        });
    } else {
        out.call(Call::Test, ID);
        out.say(Weight::Decides, ID, Some(Call::Test), || {
            format!(
                "{}: past the limit, but the foulants were not measured, so nobody can say whether a cleaning would bring it back.",
                told(case, model, left)
            )
        });
    }
}

fn grades(case: &Case<'_>, model: &Model, out: &mut Findings) {
    for slot in [
        Slot::TotalVolume,
        Slot::TotalDry,
        Slot::TotalWet,
        Slot::StrongVolume,
        Slot::StrongDry,
        Slot::StrongWet,
        Slot::WeakVolume,
        Slot::WeakDry,
        Slot::WeakWet,
    ] {
        out.grade(case, slot, ID, true);
    }
    if matches!(model.known, Known::Calculated(_) | Known::FromMoisture)
        && let Some(left) = model.remaining
    {
        out.grade_worked_out(case, Slot::TotalVolume, left, ID);
    }
}

/// The capacity that is left, with how it is known.
pub(super) fn told(case: &Case<'_>, model: &Model, left: f64) -> String {
    match model.known {
        Known::Measured(slot) => words::against(case, slot),
        Known::Calculated(slot) => {
            format!("{}; with the moisture that makes about {} of new by volume", words::against(case, slot), words::about(left))
        }
        _ => format!(
            "By its moisture ({}) the resin has about {} of its new capacity by volume left",
            words::quantity(case.get(Slot::Moisture).unwrap_or(f64::NAN), "%"),
            words::about(left)
        ),
    }
}
