//! Weak sites on a strong-acid resin: a mark of oxidation.

use crate::judge::case::Case;
use crate::judge::findings::{Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;
use crate::specs::Family;

pub(super) const ID: &str = "weak-sites-on-cation";

pub(super) fn check(case: &Case<'_>, _model: &Model, out: &mut Findings) {
    if case.info.family() != Family::Sac || !out.wants_words() {
        return;
    }
    let bases = [
        (Slot::TotalVolume, Slot::StrongVolume, Slot::WeakVolume),
        (Slot::TotalDry, Slot::StrongDry, Slot::WeakDry),
        (Slot::TotalWet, Slot::StrongWet, Slot::WeakWet),
    ];
    let share = bases.iter().find_map(|(total, strong, weak)| {
        let (total, strong, weak) = (case.get(*total), case.get(*strong), case.get(*weak));
        let weak = weak.or_else(|| Some(total? - strong?))?;
        let total = total.or_else(|| Some(strong? + weak))?;
        (total > 0.0).then_some(weak / total)
    });
    if let Some(share) = share.filter(|share| *share >= case.info.limits().weak_share_oxidised) {
        let text = format!("{} of the sites are weak ones, which new strong-acid resin does not have", words::percent(share));
        out.cause("oxidation", case.info.limits().strength_mark, || text.clone());
        out.say(Weight::Supports, ID, None, || format!("{text}: a mark of oxidation."));
    }
}
