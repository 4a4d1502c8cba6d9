//! Figures that should agree and do not.

use crate::judge::case::Case;
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;

pub(super) const ID: &str = "figures-do-not-close";

pub(super) fn check(case: &Case<'_>, _model: &Model, out: &mut Findings) {
    for unclosed in &case.info.figures.unclosed {
        out.fire(ID);
        if unclosed.asks {
            out.call(Call::Ask, ID);
            out.say(Weight::Decides, ID, Some(Call::Ask), || {
                format!("{} No verdict can rest on such a pair: the one figure says keep where the other says replace, or one of them cannot be.", unclosed.text)
            });
        } else if unclosed.weighs {
            out.say(Weight::Supports, ID, None, || unclosed.text.clone());
        }
    }
}
