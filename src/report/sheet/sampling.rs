//! How to take the next core, and the form that goes with it.

use super::{Block, FOR_SAMPLING, Sheet, assumed, resin_name};
use crate::plan::{Plan, State};
use crate::report::units::{Of, Units, number, percent};

/// The sampling sheet with its submittal form.
pub fn sampling_sheet(plan: &Plan, units: Units) -> Sheet {
    let mut sheet = Sheet::new("Next core", plan);
    sheet.under.push(resin_name(plan));
    sheet.one_page = true;
    sheet.warn("Before the tank is opened", vec![Block::Items(plan.sampling_cautions.clone())]);
    let sampling = &plan.sampling;
    let mut pairs: Vec<(String, String)> = Vec::new();
    let mut say = |name: &str, value: String| pairs.push((name.to_owned(), value));
    match (sampling.in_resin, plan.shape.depth) {
        (Some(half), Some(depth)) => say(
            "Depth in the resin",
            format!("at least {}: half of the bed's {}", units.show(half, Of::Length), units.show(depth, Of::Length)),
        ),
        _ => say("Depth in the resin", "at least half of the bed's depth".to_owned()),
    }
    match sampling.pipe {
        Some(pipe) => {
            say("Length of pipe", format!("at least {}, and a hand's breadth to hold", units.show(pipe, Of::Length)))
        }
        None => say("Length of pipe", "freeboard, half of the bed's depth, and a hand's breadth to hold".to_owned()),
    }
    let valve = if sampling.valve {
        "with a valve at its top: a tank of this bore makes a plug that runs out of an open pipe"
    } else {
        "closed at the top with thumb or stopper"
    };
    say("Bore of pipe", format!("{}, {valve}", units.show(sampling.pipe_bore, Of::Length)));
    if let (Some(thrust), Some(thrusts)) = (sampling.thrust, sampling.thrusts) {
        say(
            "Thrusts",
            format!(
                "about {}: a jar of {} ÷ {} from each",
                number(thrusts),
                units.jar(sampling.jar),
                units.jar(thrust)
            ),
        );
    }
    say(
        "Freeboard",
        format!(
            "tape {} points and take their mean; readings that differ by {} or more speak of channels",
            number(sampling.points),
            percent(sampling.spread)
        ),
    );
    sheet.add("For this bed", vec![Block::Pairs(pairs)]);
    sheet.add("Steps", vec![Block::Steps(plan.sampling_steps.clone())]);
    sheet.add("Not from", vec![Block::Items(plan.sampling_not.clone())]);
    sheet.add("On the label", vec![Block::Checks(plan.label.clone())]);
    let known = |name: &str, value: &Option<String>| (name.to_owned(), value.clone().unwrap_or_default());
    let blank = |name: &str| (name.to_owned(), String::new());
    let length = |value: Option<f64>| value.map(|value| units.show(value, Of::Length));
    let drinking = plan.about.drinking_water.map(|yes| if yes { "yes" } else { "no" }.to_owned());
    sheet.add(
        "Submittal form",
        vec![Block::Form(vec![
            known("Customer", &plan.about.customer),
            known("Site", &plan.about.site),
            known("Vessel", &plan.about.vessel),
            known("Duty", &plan.about.duty),
            known("Drinking water", &drinking),
            ("Resin".to_owned(), plan.class_name.clone().unwrap_or_default()),
            known("In use since", &plan.about.installed_on),
            known("Tank bore", &length(plan.shape.bore)),
            known("Bed volume at start-up", &plan.shape.volume_at_startup.map(|litres| units.show(litres, Of::Resin))),
            known("Last sample", &plan.about.sampled_on),
            ("Bed when sampled".to_owned(), String::new()),
            blank("Freeboard, ten points"),
            blank("Water since the last regeneration"),
            blank("Hardness, iron, chlorine of the feed"),
            blank("Trouble seen"),
            blank("Taken by, date and hour"),
        ])],
    );
    if plan.about.state == State::Unknown {
        sheet.add(
            "Last time it was not said",
            vec![Block::Text(
                "Whether the bed was regenerated or exhausted: write it down this time, or the top-off stays a range."
                    .to_owned(),
            )],
        );
    }
    sheet.add("Tests to ask for", vec![Block::Checks(sampling.tests.clone())]);
    sheet.add("Assumed, and where from", vec![assumed(plan, units, |id| FOR_SAMPLING.contains(&id))]);
    sheet
}
