//! The nearest single figures at which the verdict turns, found by search on the model.

use super::case::{Case, Info};
use super::decide::{Verdict, verdict};
use super::figures::Figure;
use super::findings::Findings;
use super::model::work_out;
use super::rules::ask_all;
use super::slot::Slot;
use super::words;
use crate::specs::Family;

/// How many turning figures are told.
const TOLD: usize = 3;

/// Figures that a reader can picture being otherwise.
const ASKED: [Slot; 18] = [
    Slot::TotalVolume,
    Slot::TotalDry,
    Slot::StrongVolume,
    Slot::StrongDry,
    Slot::WeakVolume,
    Slot::Moisture,
    Slot::Whole,
    Slot::Iron,
    Slot::Manganese,
    Slot::Aluminium,
    Slot::Silica,
    Slot::OrganicsToc,
    Slot::OrganicsCod,
    Slot::OrganicsPermanganate,
    Slot::Fines,
    Slot::Freeboard,
    Slot::BedVolume,
    Slot::Calcium,
];

fn of(case: &Case<'_>) -> Verdict {
    let mut findings = Findings::quiet();
    ask_all(case, &work_out(case), &mut findings);
    verdict(&findings).0
}

/// Sentences, the nearest first.
pub fn would_change(info: &Info<'_>, now: Verdict) -> Vec<String> {
    let central = info.central();
    if of(&central) != now {
        return Vec::new();
    }
    let mut turns: Vec<(f64, String)> = Vec::new();
    // The total of a strong-base resin is two-sided: more of it beside the same strong sites is more weak ones.
    let two_sided = |slot: Slot| info.family() == Family::Sba && matches!(slot, Slot::TotalVolume | Slot::TotalDry);
    let asked = ASKED.iter().filter(|slot| !two_sided(**slot));
    for figure in asked.filter_map(|slot| info.figures.get(*slot)) {
        for factor in [1.02, 0.98] {
            if let Some((distance, at, then)) = turn(&central, figure, factor, now) {
                let slot = figure.slot;
                let text = format!(
                    "With {} at {} instead of {} the verdict would be {}.",
                    words::slot_name(slot),
                    words::quantity(at, slot.unit()),
                    words::quantity(figure.at(), slot.unit()),
                    then.word()
                );
                turns.push((distance, text));
            }
        }
    }
    turns.sort_by(|a, b| a.0.total_cmp(&b.0));
    turns.into_iter().take(TOLD).map(|(_, text)| text).collect()
}

/// Walks a figure away until the verdict turns, then closes in on the turning point.
fn turn(central: &Case<'_>, figure: &Figure, factor: f64, now: Verdict) -> Option<(f64, f64, Verdict)> {
    let slot = figure.slot;
    let start = figure.at();
    let at = |value: f64| {
        let mut case = *central;
        case.v.set(slot, Some(value));
        of(&case)
    };
    let mut near = start;
    let mut far = start;
    // Down to about a fifth and up to about five times the figure.
    for _ in 0..80 {
        far *= factor;
        if slot.is_percentage() && far > 100.0 {
            return None;
        }
        let then = at(far);
        // On its way to another verdict a figure may pass where more would have to be measured.
        if then != now && then != Verdict::Resample {
            for _ in 0..30 {
                let middle = (near + far) / 2.0;
                if at(middle) == then { far = middle } else { near = middle }
            }
            // That less of a foulant would leave nothing to clean off is no advice.
            let foulant = slot.is_metal() || slot.is_organics();
            let told = !(foulant && far < start && then > now);
            return told.then(|| ((far / start).ln().abs() / spread(figure), far, then));
        }
        near = far;
    }
    None
}

/// How far a figure lies from its own noise: a capacity is known to 1.5 %, iron to 20 %.
fn spread(figure: &Figure) -> f64 {
    (figure.sd / figure.at().abs().max(1e-9)).max(0.01)
}
