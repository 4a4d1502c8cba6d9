//! Moisture above new on a cation resin: crosslinks are gone, and no cleaning brings them back.

use crate::judge::case::Case;
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;

pub(super) const ID: &str = "moisture-above-new";

pub(super) fn check(case: &Case<'_>, model: &Model, out: &mut Findings) {
    if !case.info.family().is_cation() {
        return;
    }
    out.grade(case, Slot::Moisture, ID, case.info.moisture_form_known);
    let Some(rise) = case.moisture_rise() else { return };
    let limits = case.info.limits();
    let gel = case.info.is_gel_cation();
    if rise <= limits.moisture_rise_watch {
        return;
    }
    // Without its form a figure counts only for what it stands above the wettest form.
    let rise = if case.info.moisture_form_known { rise } else { rise - limits.gel_moisture_gap };
    if rise <= limits.moisture_rise_watch {
        out.say(Weight::Notes, ID, None, || {
            format!(
                "Moisture {} stands high, but its ionic form is not printed, and the hydrogen form stands about {} points above the sodium form: ask in which form it was measured.",
                words::quantity(case.get(Slot::Moisture).unwrap_or(f64::NAN), "%"),
                words::number(limits.gel_moisture_gap)
            )
        });
        return;
    }
    out.cause("oxidation", (rise / limits.moisture_rise_replace).clamp(limits.strength_least, limits.strength_most), || words_of(case, rise));
    if gel && rise > limits.moisture_rise_replace + 1e-9 {
        out.call(Call::Replace, ID);
        out.say(Weight::Decides, ID, Some(Call::Replace), || {
            format!("{}: the beads have lost their crosslinks, and no cleaning brings those back.", words_of(case, rise))
        });
    } else {
        out.say(Weight::Supports, ID, None, || {
            let swelling = if model.swelling > 0.0 {
                format!(", which explains about {} of capacity", words::about(model.swelling))
            } else {
                String::new()
            };
            format!("{}: crosslinks are being lost to an oxidant{swelling}. No cleaning brings that back.", words_of(case, rise))
        });
    }
}

fn words_of(case: &Case<'_>, rise: f64) -> String {
    let (top, form) = if case.info.moisture_form_known {
        (case.new_moisture.1, "")
    } else {
        (case.new_moisture.1 + case.info.limits().gel_moisture_gap, " even in the hydrogen form")
    };
    format!(
        "Moisture {} is {} points above the most that new resin shows{form} ({})",
        words::quantity(case.get(Slot::Moisture).unwrap_or(f64::NAN), "%"),
        words::number((rise * 10.0).round() / 10.0),
        words::quantity(top, "%")
    )
}
