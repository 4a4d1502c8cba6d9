//! Beads missing from the bed, beyond what its ionic form and the tape explain.

use crate::judge::case::Case;
use crate::judge::findings::{Call, Findings, Weight};
use crate::judge::model::Model;
use crate::judge::slot::Slot;
use crate::judge::words;
use crate::judge::case::State;

pub(super) const ID: &str = "bed-short-of-resin";

pub(super) fn check(case: &Case<'_>, model: &Model, out: &mut Findings) {
    let Some(missing) = model.missing else {
        by_the_drop_alone(case, out);
        return;
    };
    if missing <= case.info.limits().top_off_from {
        return;
    }
    out.cause("resin-loss", case.info.limits().strength_poor, || format!("about {} of the bed's volume is missing", words::about(missing)));
    out.caution("top-off-order");
    out.call(Call::TopOff, ID);
    out.say(Weight::Decides, ID, Some(Call::TopOff), || {
        let state = match case.info.state {
            State::Regenerated => "",
            State::Exhausted => ", after allowing for the smaller beads of an exhausted bed",
            State::Unknown => ", even if the bed was measured exhausted, when it stands lowest",
        };
        let figures = match (case.get(Slot::Freeboard), case.get(Slot::FreeboardAtStartup)) {
            (Some(now), Some(start)) => format!(
                "Freeboard {} against {} at start-up",
                words::quantity(now, "m"),
                words::quantity(start, "m")
            ),
            _ => "Bed volume against its volume at start-up".to_owned(),
        };
        let swollen = if model.grown > 1.05 {
            format!(" The beads have swollen by about {}, so more of them are missing than the level shows; add no more than there is room for.", words::about(model.grown - 1.0))
        } else {
            String::new()
        };
        format!("{figures}: about {} of the bed is missing{state}.{swollen}", words::about(missing))
    });
}

/// Without the bed's depth or bore only a great drop of its surface speaks.
fn by_the_drop_alone(case: &Case<'_>, out: &mut Findings) {
    let Some((now, start)) = case.get(Slot::Freeboard).zip(case.get(Slot::FreeboardAtStartup)) else { return };
    out.missing("bed_depth");
    if now - start < case.info.limits().top_off_drop {
        return;
    }
    out.cause("resin-loss", case.info.limits().strength_poor, || {
        format!("the bed's surface stands {} lower than at start-up", words::quantity(now - start, "m"))
    });
    out.caution("top-off-order");
    out.call(Call::TopOff, ID);
    out.say(Weight::Decides, ID, Some(Call::TopOff), || {
        format!(
            "Freeboard {} against {} at start-up: the bed stands {} lower, more than its form explains. Its depth or bore would tell how much resin that is.",
            words::quantity(now, "m"),
            words::quantity(start, "m"),
            words::quantity(now - start, "m")
        )
    });
}
