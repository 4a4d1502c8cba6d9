//! Nothing in the report shows how much capacity is left.

use crate::judge::case::Case;
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;
use crate::specs::Family;

pub(super) const ID: &str = "too-little-measured";

pub(super) fn check(case: &Case<'_>, model: &Model, out: &mut Findings) {
    let total = case.first_share(&[Slot::TotalVolume, Slot::TotalDry, Slot::TotalWet]);
    if model.remaining.is_some() || total.is_some() {
        return;
    }
    out.missing(if case.info.family() == Family::Sba { "salt_splitting_capacity" } else { "total_capacity" });
    out.call(Call::TooLittle, ID);
    out.say(Weight::Decides, ID, Some(Call::TooLittle), || {
        format!(
            "No {} that can be compared with new resin was read, so the report does not show how much is left.",
            words::name(if case.info.family() == Family::Sba { "salt_splitting_capacity" } else { "total_capacity" })
        )
    });
}
