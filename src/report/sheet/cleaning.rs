//! The cleaning as a work order for one page.

use super::{Block, FOR_CLEANING, Sheet, assumed, resin_name, with_last_word};
use crate::plan::{Cleaning, Plan};
use crate::report::units::{Of, Units, number, percent};

/// The cleaning sheet; says why where there is none.
pub fn cleaning_sheet(plan: &Plan, units: Units) -> Sheet {
    let mut sheet = Sheet::new("Cleaning", plan);
    sheet.under.push(resin_name(plan));
    sheet.one_page = true;
    let Some(cleaning) = &plan.cleaning else {
        let why = if plan.about.drinking_water == Some(false) {
            "Nothing in the last analysis calls for a cleaning that there is a work order for."
        } else {
            "Nothing in the last analysis calls for a cleaning that may be done on a bed that people drink from, or may drink from. If it is certain that nobody does, say so with --drinking no. Stronger chemicals are left to a specialist."
        };
        sheet.add("No work order", vec![Block::Text(why.to_owned())]);
        return sheet;
    };
    sheet.under.push(cleaning.title.clone());
    sheet.under.push(format!("Against: {}", cleaning.answers.join(", ")));
    sheet.warn("Before step 1", vec![Block::Items(with_last_word(&cleaning.cautions))]);
    sheet.warn("Never", vec![Block::Items(cleaning.work.never.clone())]);
    sheet.add("Wear and have at hand", vec![Block::Checks(cleaning.work.protect.clone())]);
    sheet.add(
        "Lock-out",
        vec![Block::Checks(vec![
            "Service and bypass valves shut, locked and tagged; pressure gauge at zero; vent open.".to_owned(),
            "Whoever uses the water knows that it is off, and until when.".to_owned(),
        ])],
    );
    let mut pairs = quantities(cleaning, units);
    if let Some(now) = plan.softening.as_ref().and_then(|softening| softening.outcomes.first()) {
        pairs.push(("Salt for a regeneration".to_owned(), units.show(now.salt, Of::Mass)));
    }
    sheet.add("Quantities", vec![Block::Pairs(pairs), Block::Items(cleaning.work.needs.clone())]);
    sheet.add("Steps", vec![Block::Steps(cleaning.work.steps.clone())]);
    sheet.add("Stop when", vec![Block::Items(cleaning.work.stop.clone())]);
    let mut service = cleaning.work.service.clone();
    service.push(cleaning.end_check.clone());
    sheet.warn("Not back to service until", vec![Block::Checks(service)]);
    sheet.add("Waste", vec![Block::Items(cleaning.work.waste.clone())]);
    let blank = |name: &str| (name.to_owned(), String::new());
    sheet.add(
        "Signed",
        vec![Block::Form(vec![
            blank("Hardness in and out, before"),
            blank("Hardness in and out, after"),
            blank("pH in and out, after"),
            blank("Waste went to"),
            blank("Done by, date and time"),
            blank("Put back to service by, date and time"),
        ])],
    );
    sheet.add("Assumed, and where from", vec![assumed(plan, units, |id| FOR_CLEANING.contains(&id))]);
    sheet.add("Source", vec![Block::Text(format!("{}.", cleaning.work.source.trim_end_matches('.')))]);
    sheet
}

fn quantities(cleaning: &Cleaning, units: Units) -> Vec<(String, String)> {
    let mut pairs: Vec<(String, String)> = Vec::new();
    let mut say = |name: &str, value: String| pairs.push((name.to_owned(), value));
    match cleaning.volume {
        Some(volume) => say("Resin", units.show(volume, Of::Resin)),
        None => say("Resin", "volume not known: give --bed-volume, or --tank-bore and --bed-depth".to_owned()),
    }
    for chemical in &cleaning.chemicals {
        say("Dose", format!("{} of {}", units.show(chemical.dose, Of::Dose), chemical.name));
        say("Basis of the dose", format!("{}. Source: {}", chemical.basis, chemical.source));
        if let (Some(quantity), Some(volume)) = (chemical.quantity, cleaning.volume) {
            say(
                "For this bed",
                format!(
                    "{} × {} = {}",
                    units.show(chemical.dose, Of::Dose),
                    units.show(volume, Of::Resin),
                    units.show(quantity, Of::Mass)
                ),
            );
        }
        // The acid's own lines follow, with what dilutes it.
        let bought = chemical.bought.as_ref().filter(|_| !chemical.is_acid);
        if let Some((bought, litres)) = bought.and_then(|bought| bought.litres.map(|litres| (bought, litres))) {
            say("As bought", format!("{} of {}", units.show(litres, Of::Water), bought.name));
        }
    }
    if let Some(acid) = &cleaning.acid {
        say(
            "Acid as bought",
            format!(
                "{} of {} acid: {} ÷ {} ÷ {} kg/L, reckoned as 100 % HCl",
                units.show(acid.bought, Of::Water),
                percent(acid.bought_strength),
                units.show(acid.pure, Of::Mass),
                number(acid.bought_strength),
                number(acid.bought_density)
            ),
        );
        say("Soft water to dilute with", units.show(acid.water, Of::Water));
        say("Solution", format!("about {} of {} acid", units.show(acid.solution, Of::Water), percent(acid.strength)));
        say("Soda ash for the waste", units.show(acid.soda_ash, Of::Mass));
    }
    say(
        "Hottest solution",
        format!("{}, set by {}", units.show(cleaning.temperature_most, Of::Temperature), cleaning.temperature_by),
    );
    pairs
}
