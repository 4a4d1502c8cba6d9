//! Moisture below new. On an anion resin: organic load, or groups that are gone. On a cation: another resin, or a dry jar.

use crate::judge::case::Case;
use crate::judge::findings::{Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;
use crate::judge::baseline::From;

pub(super) const ID: &str = "moisture-below-new";

pub(super) fn check(case: &Case<'_>, _model: &Model, out: &mut Findings) {
    if !out.wants_words() {
        return;
    }
    let Some(figure) = case.info.figures.get(Slot::Moisture) else { return };
    if case.info.family().is_cation() {
        of_cation(case, figure.at(), figure.form_known, out);
        return;
    }
    // Type 1 gel is sold from 43 to 60 % moisture: against the class the figure says nothing.
    let class_only = figure.new.as_ref().is_none_or(|new| new.from == From::Class);
    if class_only && case.info.class.id == "sba1-gel" {
        out.say(Weight::Notes, ID, None, || {
            format!(
                "Moisture {} cannot be judged: type 1 gel is sold from {} to {}. With the product's sheet or the bed's first analysis it could.",
                words::quantity(figure.at(), "%"),
                words::quantity(case.new_moisture.0, "%"),
                words::quantity(case.new_moisture.1, "%")
            )
        });
        return;
    }
    out.grade(case, Slot::Moisture, ID, figure.form_known);
    let Some(fall) = case.moisture_fall() else { return };
    if fall > case.info.limits().moisture_fall_watch && figure.form_known {
        let text = format!(
            "Moisture {} is {} points below the least that new resin shows ({})",
            words::quantity(figure.at(), "%"),
            words::number((fall * 10.0).round() / 10.0),
            words::quantity(case.new_moisture.0, "%")
        );
        out.cause(if case.info.organics_known { "heat-or-age" } else { "organic-fouling" }, case.info.limits().strength_hint, || text.clone());
        out.say(Weight::Supports, ID, None, || format!("{text}: organic matter sits in the beads, or groups are gone."));
    }
}

/// A cation does not lose water in service: the resin is a tighter one than the report says, or the jar has dried.
fn of_cation(case: &Case<'_>, water: f64, form_known: bool, out: &mut Findings) {
    let Some(fall) = case.moisture_fall() else { return };
    if !form_known || fall <= case.info.limits().moisture_fall_watch {
        return;
    }
    let text = || {
        format!(
            "Moisture {} is {} points below the least that new resin shows ({})",
            words::quantity(water, "%"),
            words::number((fall * 10.0).round() / 10.0),
            words::quantity(case.new_moisture.0, "%")
        )
    };
    out.cause("wrong-or-mixed-resin", case.info.limits().strength_hint, text);
    out.say(Weight::Supports, ID, None, || {
        format!("{}: a tighter resin than the report names, or a jar that has dried out on its way.", text())
    });
}
