//! Silica on an anion resin.

use crate::judge::case::Case;
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;

pub(super) const ID: &str = "silica-on-anion";

pub(super) fn check(case: &Case<'_>, _model: &Model, out: &mut Findings) {
    if case.info.family().is_cation() {
        return;
    }
    out.grade(case, Slot::Silica, ID, true);
    let (Some(value), true) = (case.get(Slot::Silica), case.is_watch(Slot::Silica)) else { return };
    let text = || format!("Silica {} on the dry resin", words::quantity(value, "mg/kg"));
    if case.is_poor(Slot::Silica) {
        out.cause("silica", case.foulant_strength(Slot::Silica), text);
        out.call(Call::Clean, ID);
        out.say(Weight::Decides, ID, Some(Call::Clean), || format!("{}: warm dilute caustic takes it off, slowly.", text()));
    } else {
        out.cause("silica", case.foulant_strength(Slot::Silica), text);
        out.say(Weight::Supports, ID, None, || format!("{}: to be watched.", text()));
    }
}
