//! Figures that should agree and do not.

use crate::judge::case::Case;
use crate::judge::findings::{Findings, Weight};
use crate::judge::model::Model;

pub(super) const ID: &str = "figures-do-not-close";

pub(super) fn check(case: &Case<'_>, _model: &Model, out: &mut Findings) {
    for unclosed in &case.info.figures.unclosed {
        out.say(Weight::Supports, ID, None, || unclosed.text.clone());
    }
}
