//! A bed that has outlived its class and lost a good part of its beads: new resin on top of it does not pay.

use crate::judge::case::Case;
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;
use crate::judge::words;

pub(super) const ID: &str = "bed-past-its-life";

pub(super) fn check(case: &Case<'_>, model: &Model, out: &mut Findings) {
    let (Some(age), Some(life)) = (case.info.age, case.info.class.fact("life")) else { return };
    if age < life - 1e-9 {
        return;
    }
    match model.missing.filter(|missing| *missing >= case.info.limits().old_bed_missing) {
        Some(missing) => {
            out.call(Call::Replace, ID);
            out.say(Weight::Decides, ID, Some(Call::Replace), || {
                format!(
                    "The bed is {} years old, its class lasts about {}, and {} of its volume is missing: topping off old resin does not pay.",
                    words::number(age),
                    words::number(life),
                    words::about(missing)
                )
            });
        }
        None => out.say(Weight::Notes, ID, None, || {
            format!("The bed is {} years old; its class lasts about {} on average.", words::number(age), words::number(life))
        }),
    }
}
