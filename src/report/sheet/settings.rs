//! The settings card: what to set on the valve, for the bed as it is and after the work.

use super::{Block, FOR_SETTINGS, Sheet, assumed, resin_name, with_last_word};
use crate::plan::{Card, Course, Outcome, Plan, Softening};
use crate::report::units::{Of, Units, number};

/// The settings card; says why where there is none.
pub fn settings_card(plan: &Plan, units: Units) -> Sheet {
    let mut sheet = Sheet::new("Settings", plan);
    sheet.under.push(resin_name(plan));
    let cards = plan.softening.as_ref().zip(plan.cards);
    let found = cards.and_then(|(softening, cards)| {
        let now = softening.outcomes.first()?;
        let after = softening.outcomes.iter().find(|outcome| outcome.course == softening.advised)?;
        Some((softening, now, after, cards))
    });
    let Some((softening, now, after, (card_now, card_after))) = found else {
        let mut why = plan.silent_on.clone();
        why.extend(
            plan.asked.iter().map(|asked| format!("Missing: {} (--{})", asked.name, asked.id.replace('_', "-"))),
        );
        sheet.add("No card", vec![Block::Text("The card cannot be filled in:".to_owned()), Block::Items(why)]);
        return sheet;
    };
    let same = now.course == after.course;
    let mut head = vec!["Set".to_owned(), super::softener::course_words(now.course).to_owned()];
    if !same {
        head.push(format!("After: {}", super::softener::course_words(after.course)));
    }
    let rows = lines(softening, now, &card_now, plan, units)
        .into_iter()
        .zip(lines(softening, after, &card_after, plan, units))
        .map(|((name, now), (_, after))| if same { vec![name, now] } else { vec![name, now, after] })
        .collect();
    sheet.add("On the valve", vec![Block::Table { head, rows }]);
    let mut notes = Vec::new();
    if now.course == Course::Replace {
        notes.push("The capacity of the resin in the tank is not known: this card is for new resin, and the bed as it is does less.".to_owned());
    }
    if let Some((least, most)) = plan.hydraulics.and_then(|water| water.backwash_rate) {
        let temperature = plan.hydraulics.map_or(f64::NAN, |water| water.temperature);
        notes.push(format!(
            "Backwash rate at {}: {}. Colder water lifts the bed higher: set it by the coldest of the year.",
            units.show(temperature, Of::Temperature),
            units.range(least, most, Of::Speed)
        ));
    }
    if after.days.is_some_and(|days| days > card_after.day_override) {
        notes.push("The day override comes before the meter: salt goes on resin that is not exhausted. A lower dose of salt, or a longer override where the water bears it, wastes less.".to_owned());
    }
    if card_now.iron {
        notes.push(
            "Iron in the water: the day override is short, so that it does not lie long on the resin.".to_owned(),
        );
    }
    if softening.dose_assumed {
        notes.push(
            "The salt dose is a default, not this bed's: give --salt-per-regeneration or --salt-dose.".to_owned(),
        );
    }
    sheet.add("Assumed, and where from", vec![assumed(plan, units, |id| FOR_SETTINGS.contains(&id))]);
    sheet.add("Notes", vec![Block::Items(notes)]);
    sheet.warn("Before the meter is raised", vec![Block::Checks(with_last_word(&plan.meter_advice))]);
    let blank = |name: &str| (name.to_owned(), String::new());
    sheet.add(
        "Tested",
        vec![Block::Form(vec![blank("Hardness at the end of a run"), blank("At what flow"), blank("Set by, date")])],
    );
    sheet
}

fn lines(softening: &Softening, outcome: &Outcome, card: &Card, plan: &Plan, units: Units) -> Vec<(String, String)> {
    let unknown = || "not known".to_owned();
    let minutes = |value: f64| format!("{} min", number(value.round()));
    let row = |name: &str, value: String| (name.to_owned(), value);
    let flow = plan.hydraulics.and_then(|water| water.backwash_flow);
    vec![
        row("Hardness, with iron", softening.compensated.map_or_else(unknown, |h| units.show(h, Of::Hardness))),
        row("Meter", outcome.meter.map_or_else(unknown, |litres| units.show(litres, Of::Water))),
        row("Reserve in that", outcome.reserve.map_or_else(unknown, |litres| units.show(litres, Of::Water))),
        row("Day override", format!("{} days", number(card.day_override))),
        row("Salt", units.show(outcome.salt, Of::Mass)),
        row("Salt dose", units.show(softening.dose, Of::Dose)),
        row("Refill water", units.show(card.refill_water, Of::Water)),
        row("Refill", card.refill_minutes.map_or_else(|| "water ÷ refill flow".to_owned(), minutes)),
        row("Backwash", minutes(card.backwash_minutes)),
        row("Backwash flow", flow.map_or_else(unknown, |(low, high)| units.range(low, high, Of::Flow))),
        row("Brine draw", minutes(card.brine_minutes)),
        row("Slow rinse", minutes(card.slow_rinse_minutes)),
        row("Fast rinse", units.show(card.fast_rinse, Of::Water)),
    ]
}
