//! Fines in the bed: a long backwash takes them out.

use crate::judge::case::Case;
use crate::judge::findings::{Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;

pub(super) const ID: &str = "fines-above-new";

pub(super) fn check(case: &Case<'_>, _model: &Model, out: &mut Findings) {
    out.grade(case, Slot::Fines, ID, true);
    let (Some(value), true) = (case.get(Slot::Fines), case.is_watch(Slot::Fines)) else { return };
    let text = || format!("Fines {} pass 0.3 mm", words::quantity(value, "%"));
    out.cause("fines", case.foulant_strength(Slot::Fines), text);
    out.say(Weight::Supports, ID, None, || {
        format!("{}: a long backwash takes them out, and the freeboard is measured again after it.", text())
    });
}
