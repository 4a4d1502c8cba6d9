//! Barium on a cation resin: as sulfate it stays.

use crate::judge::case::Case;
use crate::judge::findings::{Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;

pub(super) const ID: &str = "barium-on-resin";

pub(super) fn check(case: &Case<'_>, _model: &Model, out: &mut Findings) {
    out.grade(case, Slot::Barium, ID, true);
    let (Some(value), true) = (case.get(Slot::Barium), case.is_watch(Slot::Barium)) else { return };
    let text = || format!("Barium {} on the dry resin", words::quantity(value, "mg/kg"));
    out.cause("barium-sulfate", case.info.limits().strength_watch, text);
    out.say(Weight::Supports, ID, None, || {
        format!("{}: where it has met sulfate it sits there as a salt that no cleaning takes off.", text())
    });
}
