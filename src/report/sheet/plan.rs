//! The plan itself: what to do, with each sum as a person can check it.

use super::softener::{course_words, doses, field, meter, money_of, year};
use super::tank::{both, nitrate, volume_and_top_off, water};
use super::{Block, FOR_CLEANING, FOR_SAMPLING, FOR_SETTINGS, Sheet, assumed, resin_name, with_last_word};
use crate::judge::Verdict;
use crate::plan::{Course, Origin, Plan};
use crate::report::units::{Of, Units, percent};

/// The plan.
///
/// ```
/// use beadwise::judge::{Context, example, judge};
/// use beadwise::plan::{Bed, Knowledge, Wishes, plan};
/// use beadwise::report::{sheet::{plan_sheet, text}, units::Units, look::Look};
/// let record = example::record("class sac-gel-8\nform Na\nvessel Softener 2\ntotal_capacity volume 1.8\nbed_volume 283\nfeed_hardness 342")?;
/// let context = Context::builtin()?;
/// let bed = Bed::from_report(&record, &judge(&record, &context), &context);
/// let plan = plan(&bed, &context, Knowledge::builtin()?, Wishes::default())?;
/// let page = text(&plan_sheet(&plan, Units::Us), &Look::default());
/// assert!(page.starts_with("Plan: Softener 2\n"));
/// assert!(page.lines().all(|line| line.chars().count() <= 80));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn plan_sheet(plan: &Plan, units: Units) -> Sheet {
    let mut sheet = Sheet::new("Plan", plan);
    sheet.under.push(resin_name(plan));
    if let Some(date) = &plan.about.sampled_on {
        sheet.under.push(format!("sampled {date}"));
    }
    sheet.add("In short", vec![Block::Items(in_short(plan, units))]);
    sheet.add("Put right first", vec![Block::Items(plan.about.fix_first.clone())]);
    if let Some(top) = &plan.top_off {
        sheet.add("Bed volume and top-off", volume_and_top_off(plan, top, units));
    }
    sheet.add("What carries beads away", vec![Block::Items(plan.backwash_advice.clone())]);
    sheet.add("At the rebed", vec![Block::Items(plan.rebed_advice.clone())]);
    if let Some(softening) = &plan.softening {
        sheet.add("Meter", meter(softening, units));
        sheet.add("Before the meter is moved", vec![Block::Items(plan.meter_advice.clone())]);
        sheet.add("A year of salt, water and chloride", year(softening, units));
        sheet.add("Salt dose", doses(softening, units));
    }
    if let Some(gap) = &plan.field {
        sheet.add("The field against the laboratory", field(gap, plan, units));
    }
    if let Some(run) = &plan.nitrate {
        sheet.warn("Nitrate run", nitrate(run, plan, units));
    }
    sheet.add("Backwash and pressure drop", water(plan, units));
    if let Some(costs) = &plan.costs {
        sheet.add("What the options cost", money_of(costs, plan.about.prices_on.as_deref()));
    }
    sheet.add("Not said here", vec![Block::Items(plan.silent_on.clone())]);
    let asked = plan
        .asked
        .iter()
        .map(|asked| format!("--{}: {}, for {}", asked.id.replace('_', "-"), asked.name, asked.why))
        .collect();
    sheet.add("Not known, and worth telling", vec![Block::Items(asked)]);
    sheet.warn("Since the last analysis", vec![Block::Items(plan.about.since.clone())]);
    let doubted =
        plan.about.doubted.iter().map(|text| format!("{text}: doubted, only a limit, or beyond reason")).collect();
    sheet.add("In the report and not used", vec![Block::Items(doubted)]);
    sheet.add("Figures used", vec![used(plan, units)]);
    let elsewhere = [&FOR_SETTINGS[..], &FOR_CLEANING, &FOR_SAMPLING].concat();
    sheet.add("Assumed, and where from", vec![assumed(plan, units, |id| !elsewhere.contains(&id))]);
    sheet.warn("Cautions", vec![Block::Items(with_last_word(&plan.about.cautions))]);
    sheet
}

fn in_short(plan: &Plan, units: Units) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(verdict) = plan.about.verdict {
        let words = |verdict: Verdict| match verdict {
            Verdict::Keep => "keep the resin",
            Verdict::Clean => "clean it",
            Verdict::TopOff => "top it off",
            Verdict::Replace => "replace it",
            Verdict::Resample => "no verdict yet: sample or ask again",
        };
        let mut line = format!("Verdict of the last analysis: {}", words(verdict));
        for also in plan.about.also.iter().filter(|also| **also != verdict) {
            line.push_str(&format!(", and {}", words(*also)));
        }
        lines.push(format!("{line}."));
    }
    if let Some(litres) = plan.top_off.as_ref().and_then(|top| top.litres) {
        lines.push(format!("Top off with {} of new resin.", both(litres)));
    }
    if let Some((softening, now)) = plan.softening.as_ref().and_then(|s| Some((s, s.outcomes.first()?))) {
        if let Some(meter) = now.meter {
            lines.push(format!(
                "Meter for the bed {}: {}.",
                if now.course == Course::Keep { "as it is" } else { "with new resin" },
                units.show(meter, Of::Water)
            ));
        }
        let after = softening.outcomes.iter().find(|outcome| outcome.course == softening.advised);
        if let Some((after, meter)) =
            after.filter(|after| after.course != now.course).and_then(|after| Some((after, after.meter?)))
        {
            lines.push(format!(
                "Meter after the work ({}): {}, once a hardness test at the end of a run bears it out.",
                course_words(after.course).to_lowercase(),
                units.show(meter, Of::Water)
            ));
        }
    }
    if let Some(share) = plan.field.as_ref().and_then(|gap| gap.parts.iter().find(|part| part.part == "remainder")) {
        lines
            .push(format!("Of the fall in the run, {} of the old run is explained by no resin.", percent(share.share)));
    }
    if let Some(cheapest) = plan.costs.as_ref().and_then(|costs| costs.cheapest) {
        lines.push(format!("Cheapest over the horizon, by salt, water and work at your prices: {}. That stands beside the verdict, and does not move it.", course_words(cheapest).to_lowercase()));
    }
    lines
}

pub(super) fn used(plan: &Plan, units: Units) -> Block {
    let words = |from| match from {
        Origin::Report => "report",
        Origin::Given => "you",
        Origin::History => "history",
        Origin::Worked => "class",
        Origin::Assumed => "assumed",
    };
    Block::Pairs(
        plan.used
            .iter()
            .filter(|used| used.from != Origin::Assumed)
            .map(|used| {
                (used.name.clone(), format!("{} ({})", units.input(used.value, &used.unit, used.id), words(used.from)))
            })
            .collect(),
    )
}
