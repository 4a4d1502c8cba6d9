//! Capacity on its way down, and faster than a year should take.

use crate::judge::case::Case;
use crate::judge::findings::{Findings, Weight};
use crate::judge::model::Model;
use crate::judge::words;
use crate::specs::Family;

pub(super) const ID: &str = "capacity-declining";

pub(super) fn check(case: &Case<'_>, model: &Model, out: &mut Findings) {
    let limits = case.info.limits();
    let (watch, replace) = (case.info.loss_watch(), case.info.loss_replace);
    let Some(left) = model.remaining else { return };
    if out.wants_words() && model.loss >= watch && model.loss < replace {
        out.say(Weight::Supports, ID, None, || {
            let unexplained = if model.unexplained > model.loss / 2.0 {
                " What was measured does not explain most of it."
            } else {
                ""
            };
            format!(
                "{}: {} is lost, past the {} from which the cause is looked for and short of the {} at which the bed is replaced.{unexplained}",
                super::capacity_below_limit::told(case, model, left),
                words::percent(model.loss),
                words::percent(watch),
                words::percent(replace)
            )
        });
    } else if out.wants_words() && model.loss < watch && left <= limits.capacity_ceiling {
        out.say(Weight::Notes, ID, None, || format!("{}.", super::capacity_below_limit::told(case, model, left)));
    }
    if let Some(age) = case.info.age.filter(|age| *age >= 1.0)
        && case.info.family() != Family::Sba
        && model.loss / age > limits.capacity_loss_per_year
    {
        out.say(Weight::Supports, ID, None, || {
            format!(
                "{} lost in {} years is more than {} a year: something in the water or the operation wears the resin out.",
                words::percent(model.loss),
                words::number(age),
                words::percent(limits.capacity_loss_per_year)
            )
        });
    }
}
