//! Broken and cracked beads.

use crate::judge::case::Case;
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;

pub(super) const ID: &str = "beads-broken";

pub(super) fn check(case: &Case<'_>, _model: &Model, out: &mut Findings) {
    out.grade(case, Slot::Whole, ID, true);
    let Some(whole) = case.get(Slot::Whole).or_else(|| {
        let (cracked, broken) = (case.get(Slot::Cracked)?, case.get(Slot::Broken)?);
        Some((100.0 - cracked - broken).max(0.0))
    }) else {
        return;
    };
    let limits = case.info.limits();
    let watch = case.info.band(Slot::Whole).map_or(0.0, super::super::policy::Band::watch);
    if whole >= watch {
        return;
    }
    let text = || format!("Only {} of the beads are whole", words::quantity(whole, "%"));
    out.cause("breakage", ((watch - whole) / limits.strength_beads_span).clamp(limits.strength_least, limits.strength_most), text);
    let support = support(case);
    if let Some((_, words)) = &support {
        out.cause("breakage", limits.strength_mark, words);
    }
    if whole < limits.whole_beads_alone || (whole < limits.whole_beads_supported && support.is_some()) {
        out.call(Call::Replace, ID);
        out.say(Weight::Decides, ID, Some(Call::Replace), || match support {
            Some((_, words)) => format!("{}, and {}: broken beads do not mend.", text(), words()),
            None => format!("{}: broken beads do not mend.", text()),
        });
    } else if whole < limits.whole_beads_supported {
        out.missing("fines");
        out.missing("pressure_drop");
        out.say(Weight::Supports, ID, None, || {
            format!("{}. Alone that is no reason to replace a bed: look at its pressure drop, its fines and how many beads are in pieces.", text())
        });
    } else {
        out.say(Weight::Supports, ID, None, || format!("{}: to be watched.", text()));
    }
}

type Support<'a> = (Slot, Box<dyn Fn() -> String + 'a>);

/// What bears breakage out beside the count.
fn support<'a>(case: &'a Case<'_>) -> Option<Support<'a>> {
    let limits = case.info.limits();
    if let Some(fines) = case.get(Slot::Fines).filter(|fines| *fines >= limits.fines_support) {
        return Some((Slot::Fines, Box::new(move || format!("fines are {}", words::quantity(fines, "%")))));
    }
    if let Some(drop) = case.get(Slot::PressureDrop).filter(|drop| *drop >= limits.pressure_drop_high) {
        return Some((Slot::PressureDrop, Box::new(move || format!("the pressure drop is {}", words::quantity(drop, "kPa")))));
    }
    if let Some((broken, cracked)) = case.get(Slot::Broken).zip(case.get(Slot::Cracked)).filter(|(b, c)| b > c) {
        return Some((
            Slot::Broken,
            Box::new(move || {
                let (broken, cracked) = (words::quantity(broken, "%"), words::quantity(cracked, "%"));
                format!("more of them are in pieces ({broken}) than cracked ({cracked})")
            }),
        ));
    }
    let mean = case.get(Slot::CrushStrength).zip(case.info.band(Slot::CrushStrength));
    if let Some((load, _)) = mean.filter(|(load, band)| *load < band.poor()) {
        return Some((
            Slot::CrushStrength,
            Box::new(move || format!("they break at {} on average", words::quantity(load, "g/bead"))),
        ));
    }
    let weak = case.get(Slot::CrushAbove200).filter(|share| *share < limits.crush_above_200g_supported)?;
    Some((Slot::CrushAbove200, Box::new(move || format!("only {} bear 200 g", words::quantity(weak, "%")))))
}
