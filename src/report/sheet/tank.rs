//! The plan's parts on the tank: volume, top-off, nitrate run, backwash and pressure drop.

use super::Block;
use crate::plan::{Course, NitrateRun, Plan, State, TopOff, Withheld};
use crate::report::units::{Of, Units, number, percent};

/// Resin is bought by both.
pub(in crate::report) fn both(litres: f64) -> String {
    format!("{} ({})", Units::Us.show(litres, Of::Resin), Units::Si.show(litres, Of::Resin))
}

pub(super) fn volume_and_top_off(plan: &Plan, top: &TopOff, units: Units) -> Vec<Block> {
    let shape = &plan.shape;
    let resin = |litres| units.show(litres, Of::Resin);
    let mut pairs: Vec<(String, String)> = Vec::new();
    let mut say = |name: &str, value: String| pairs.push((name.to_owned(), value));
    if let Some((bore, area)) = shape.bore.zip(shape.area) {
        say(
            "Cross-section",
            format!("π/4 × {} squared = {}", units.show(bore, Of::Length), units.show(area, Of::Area)),
        );
    }
    if let Some(volume) = shape.volume {
        let name = if shape.taken_from_startup { "Volume, as at start-up" } else { "Volume as measured" };
        say(name, resin(volume));
    }
    if let Some(by_depth) = shape.by_depth {
        say("By bore and depth", format!("{}: the two should agree", resin(by_depth)));
    }
    if let Some(start) = shape.volume_at_startup {
        say("Volume at start-up", resin(start));
    }
    if let Some((drop, area)) = shape.drop.zip(shape.area) {
        say(
            "Surface below start-up",
            format!(
                "{} × {} = {}",
                units.show(drop, Of::Length),
                units.show(area, Of::Area),
                resin(drop * area * 1000.0)
            ),
        );
    }
    let state = match plan.about.state {
        State::Regenerated => "measured regenerated: nothing to allow for",
        State::Exhausted => "measured exhausted, when the beads are smaller",
        State::Unknown => "not said whether regenerated or exhausted: both are allowed for",
    };
    say("Allowed for the form", format!("{} to {}: {state}", percent(top.form_shift.0), percent(top.form_shift.1)));
    if let Some(now) = top.regenerated {
        say("Volume if regenerated", units.range(now.low, now.high, Of::Resin));
    }
    if let Some(room) = top.room {
        say("Room to the start-up level", units.range(room.low, room.high, Of::Resin));
    }
    if top.swollen > 1.0 {
        say("Swollen by lost crosslinks", format!("to {} times its new volume, by its moisture", number(top.swollen)));
        if let Some(lost) = top.lost {
            say("Beads gone, as new resin", format!("{}, part of it hidden by the swelling", resin(lost)));
        }
    }
    if let Some(litres) = top.litres {
        say("New resin to load", both(litres));
        if let Some(bags) = top.bags {
            say(
                "To buy",
                format!("whole bags of {}: {}; keep what is left over wet and closed", resin(top.bag), number(bags)),
            );
        }
    }
    if let Some((softening, _)) = plan.softening.as_ref().zip(top.litres)
        && let Some(mixed) =
            softening.outcomes.iter().find(|outcome| matches!(outcome.course, Course::TopOff | Course::CleanAndTopOff))
    {
        say("Bed after it", format!("{} at {} of new capacity", resin(mixed.volume), percent(mixed.share.best)));
    }
    let why = match top.withheld {
        None if top.room.is_some_and(|room| room.low < room.high) => {
            "To load is what is missing for certain. The rest only once the bed has been measured regenerated.".to_owned()
        }
        None => String::new(),
        Some(Withheld::Unknown) => {
            "No top-off is worked out: the freeboard now and at start-up, and the bore, are not all known.".to_owned()
        }
        Some(Withheld::WithinFormShift) => {
            "No top-off: what seems missing may be no more than the smaller beads of an exhausted bed. Regenerate it, and measure the freeboard again.".to_owned()
        }
        Some(Withheld::TooLittle) => {
            format!("No top-off: less than {} of the bed is missing.", percent(top.matters_from))
        }
        Some(Withheld::Full) => {
            let swollen = if top.swollen > 1.0 { " A swollen bed can have lost beads and still be full." } else { "" };
            format!("No top-off: the bed stands as high as at start-up, or higher.{swollen}")
        }
        Some(Withheld::Replaced) => "No top-off: this resin is to be replaced, and new beads would be lost on it.".to_owned(),
    };
    vec![Block::Pairs(pairs), Block::Text(why), Block::Steps(plan.top_off_order.clone())]
}

pub(super) fn nitrate(run: &NitrateRun, plan: &Plan, units: Units) -> Vec<Block> {
    let mut pairs: Vec<(String, String)> = Vec::new();
    let mut say = |name: &str, value: String| pairs.push((name.to_owned(), value));
    let how = if run.measured { "measured" } else { "that of new resin, for want of a measured one" };
    say("Strong-base capacity", format!("{}, {how}", Units::Si.show(run.capacity, Of::Capacity)));
    say("Feed", format!("nitrate {} and sulfate {} meq/L", number(run.feed.0), number(run.feed.1)));
    if let Some((low, high)) = run.bed_volumes {
        let used = format!("{} to {} of capacity used", percent(run.used.0), percent(run.used.1));
        let sum = if run.selective {
            format!("{used}, of the ceiling below")
        } else {
            format!("{used} × {} ÷ ({} + {}) × 1,000", number(run.capacity), number(run.feed.0), number(run.feed.1))
        };
        say("Run", format!("{} to {} bed volumes: {sum}", number(low.round()), number(high.round())));
    }
    if let Some((low, high)) = run.litres {
        say("For this bed", units.range(low, high, Of::Water));
    }
    if let Some(ceiling) = run.ceiling {
        say(
            "Latest end",
            format!("{} bed volumes, all sites at equilibrium with the feed. {}", number(ceiling.round()), run.source),
        );
    }
    vec![Block::Pairs(pairs), Block::Items(plan.nitrate_advice.clone())]
}

pub(super) fn water(plan: &Plan, units: Units) -> Vec<Block> {
    let Some(water) = &plan.hydraulics else { return Vec::new() };
    let mut pairs: Vec<(String, String)> = Vec::new();
    let mut say = |name: &str, value: String| pairs.push((name.to_owned(), value));
    if let Some((low, high)) = water.backwash_rate {
        let flow = match (water.backwash_flow, plan.shape.area) {
            (Some((least, most)), Some(area)) => {
                format!(" × {} = {}", units.show(area, Of::Area), units.range(least, most, Of::Flow))
            }
            _ => String::new(),
        };
        say(
            "Backwash",
            format!(
                "{} at {}{flow}",
                units.range(low, high, Of::Speed),
                units.show(water.temperature, Of::Temperature)
            ),
        );
    }
    if let Some((clean, speed)) = water.clean_drop.zip(water.speed) {
        say(
            "Clean bed would drop",
            format!(
                "{} ({}) at {}, beads of {} mm, by Ergun",
                units.show(clean.best, Of::Pressure),
                units.range(clean.low, clean.high, Of::Pressure),
                units.show(speed, Of::Speed),
                number(water.bead_size)
            ),
        );
    }
    if let Some(measured) = water.measured_drop {
        let over = water.over_clean.map_or(String::new(), |over| format!(", {} times that", number(over)));
        let clogged = match water.clogged {
            Some(true) => ": fines, dirt or soft beads. Look:",
            _ => "",
        };
        say("Measured", format!("{}{over}{clogged}", units.show(measured, Of::Pressure)));
    }
    vec![Block::Pairs(pairs), Block::Checks(plan.pressure_advice.clone())]
}
