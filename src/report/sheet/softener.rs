//! The plan's parts on a softener: meter, year, salt dose, the field, money.

use super::Block;
use crate::plan::{Costs, Course, FieldGap, Outcome, Plan, Softening};
use crate::report::units::{Of, Units, money, number, percent};

/// Words for a course.
pub(in crate::report) fn course_words(course: Course) -> &'static str {
    match course {
        Course::Keep => "As it is",
        Course::Clean => "Cleaned",
        Course::TopOff => "Topped off",
        Course::CleanAndTopOff => "Cleaned, topped off",
        Course::Replace => "New resin",
    }
}

pub(super) fn meter(softening: &Softening, units: Units) -> Vec<Block> {
    let mut pairs: Vec<(String, String)> = Vec::new();
    let mut say = |name: &str, value: String| pairs.push((name.to_owned(), value));
    if let (Some(hardness), Some(compensated)) = (softening.hardness, softening.compensated) {
        say("Hardness", units.show(hardness, Of::Hardness));
        if compensated != hardness {
            say(
                "With iron and manganese",
                format!("{} (a convention: see the factors below)", units.show(compensated, Of::Hardness)),
            );
        }
    }
    let dose = if softening.dose_assumed { " (assumed)" } else { "" };
    say("Salt dose", format!("{}{dose}", units.show(softening.dose, Of::Dose)));
    say(
        "Curve of capacity",
        format!(
            "{} ({}), give or take {}. {}",
            softening.curve_name,
            softening.curve,
            percent(softening.curve_spread),
            softening.curve_source
        ),
    );
    let mut blocks = vec![Block::Pairs(pairs)];
    blocks.push(Block::Items(softening.outcomes.iter().map(|outcome| working(softening, outcome, units)).collect()));
    let head = ["", "Resin", "Of new", "Capacity", "Meter", "Salt"].map(str::to_owned).to_vec();
    let rows = softening
        .outcomes
        .iter()
        .map(|outcome| {
            vec![
                course_words(outcome.course).to_owned(),
                units.show(outcome.volume, Of::Resin),
                percent(outcome.share.best),
                units.show(outcome.capacity.best, Of::Capacity),
                outcome.meter.map_or("?".to_owned(), |litres| units.show(litres, Of::Water)),
                units.show(outcome.salt, Of::Mass),
            ]
        })
        .collect();
    blocks.push(Block::Table { head, rows });
    if let Some([(low, at_low), (high, at_high)]) = softening.iron_range {
        blocks.push(Block::Text(format!(
            "Conventions for iron run from {} to {} grains for each mg/L: the first meter above would be {} with the one and {} with the other.",
            number(low),
            number(high),
            units.show(at_low, Of::Water),
            units.show(at_high, Of::Water)
        )));
    }
    if let Some(share) = softening.bypass {
        blocks.push(Block::Text(format!(
            "{} of the water may go round the softener for the blend wanted.",
            percent(share)
        )));
    }
    blocks
}

/// One course's sum, as it is done by hand.
fn working(softening: &Softening, outcome: &Outcome, units: Units) -> String {
    let name = course_words(outcome.course);
    let capacity = format!(
        "{name}: {} ({}) × {}",
        units.show(outcome.capacity.best, Of::Capacity),
        units.range(outcome.capacity.low, outcome.capacity.high, Of::Capacity),
        units.show(outcome.volume, Of::Resin)
    );
    match (outcome.run, outcome.reserve, outcome.meter, softening.compensated) {
        (Some(run), Some(reserve), Some(meter), Some(hardness)) => {
            let days = outcome.days.map_or(String::new(), |days| format!(", {} days", number(days)));
            format!(
                "{capacity} ÷ {} = {} ({}); less a reserve of {}, rounded down: {}{days}.",
                units.show(hardness, Of::Hardness),
                units.show(run.best, Of::Water),
                units.range(run.low, run.high, Of::Water),
                units.show(reserve, Of::Water),
                units.show(meter, Of::Water)
            )
        }
        _ => format!("{capacity}."),
    }
}

fn efficiency(softening: &Softening, value: f64, units: Units) -> String {
    let (rated, strict) = softening.lines;
    let mark = match value {
        value if value >= strict => "both lines",
        value if value >= rated => "first line",
        _ => "neither",
    };
    format!("{}, {mark}", units.show(value, Of::Efficiency))
}

pub(super) fn year(softening: &Softening, units: Units) -> Vec<Block> {
    let head = ["", "Runs", "Salt", "Chloride", "Water"].map(str::to_owned).to_vec();
    let rows: Vec<Vec<String>> = softening
        .outcomes
        .iter()
        .filter_map(|outcome| {
            let year = outcome.year?;
            Some(vec![
                course_words(outcome.course).to_owned(),
                number(year.regenerations.round()),
                units.show(year.salt, Of::Mass),
                units.show(year.chloride, Of::Mass),
                units.show(year.water, Of::Water),
            ])
        })
        .collect();
    if rows.is_empty() {
        return vec![Block::Text("Not worked out: the day's or the year's use of water is not known.".to_owned())];
    }
    let softened = softening.outcomes.iter().find_map(|outcome| outcome.year).map_or(f64::NAN, |y| y.water_softened);
    vec![
        Block::Table { head, rows },
        Block::Text(format!(
            "For {} softened in a year, by the meter, and by a day override only where one was told. Salt sends 0.607 of its mass to the drain as chloride.",
            units.show(softened, Of::Water)
        )),
    ]
}

pub(super) fn doses(softening: &Softening, units: Units) -> Vec<Block> {
    let leaks = softening.leakage_most.is_some();
    let mut head = ["Dose", "Capacity", "Run", "Efficiency"].map(str::to_owned).to_vec();
    if leaks {
        head.push("Leaks".to_owned());
    }
    let rows = softening
        .doses
        .iter()
        .enumerate()
        .map(|(at, outcome)| {
            let mark = if Some(at) == softening.best_dose { " *" } else { "" };
            let mut row = vec![
                format!("{}{mark}", units.show(outcome.salt * 1000.0 / outcome.volume, Of::Dose)),
                units.show(outcome.capacity.best, Of::Capacity),
                outcome.run.map_or("?".to_owned(), |run| units.show(run.best, Of::Water)),
                efficiency(softening, outcome.efficiency, units),
            ];
            if leaks {
                row.push(outcome.leakage.map_or("?".to_owned(), |leakage| units.show(leakage, Of::Hardness)));
            }
            row
        })
        .collect();
    let (rated, strict) = softening.lines;
    let quality = match softening.leakage_most {
        Some(most) => format!("no more than {} through the bed", units.show(most, Of::Hardness)),
        None => format!(
            "water soft throughout ({} or more; with --feed-tds the leakage is reckoned)",
            units.show(softening.least_dose, Of::Dose)
        ),
    };
    let none = match softening.best_dose {
        Some(_) => "",
        None => " No dose of these does: ask for more resin, a second bed or another regeneration.",
    };
    let leakage = if leaks {
        " Leakage is reckoned for a sound, evenly salted bed; expect half to twice as much, and test it."
    } else {
        " Test what leaks through."
    };
    vec![
        Block::Text(format!("{}, at other doses:", course_words(softening.advised))),
        Block::Table { head, rows },
        Block::Text(format!(
            "* the best: the least salt that {quality} and a run of a day allow.{none} Lines: {} and {}; chemistry allows {}.{leakage}",
            units.show(rated, Of::Efficiency),
            units.show(strict, Of::Efficiency),
            units.show(softening.stoichiometric, Of::Efficiency)
        )),
    ]
}

pub(super) fn field(gap: &FieldGap, plan: &Plan, units: Units) -> Vec<Block> {
    let words = |part: &str| match part {
        "capacity" => "resin's capacity",
        "volume" => "resin's volume",
        "water" => "harder water",
        "settings" => "salt setting",
        _ => "no resin explains",
    };
    let head = ["", "Run times", "Of the old run"].map(str::to_owned).to_vec();
    let rows = gap
        .parts
        .iter()
        .map(|part| vec![words(part.part).to_owned(), number(part.factor), percent(part.share)])
        .collect();
    vec![
        Block::Text(format!(
            "The run went from {} to {}: {} of it is gone.",
            units.show(gap.before, Of::Water),
            units.show(gap.now, Of::Water),
            percent(gap.fall)
        )),
        Block::Table { head, rows },
        Block::Text(format!(
            "The factors multiply to {}; the last is give or take {:.2}. New resin brings back no more than the first two lines.{}",
            number(gap.now / gap.before),
            gap.uncertain,
            match gap.told {
                (true, true) => "",
                (false, false) => " Hardness and salt setting were not told for the start, and are taken as unchanged.",
                (false, true) => " Hardness was not told for the start, and is taken as unchanged.",
                (true, false) => " The salt setting was not told for the start, and is taken as unchanged.",
            }
        )),
        Block::Text("For what no resin explains, check:".to_owned()),
        Block::Checks(plan.field_advice.clone()),
    ]
}

pub(super) fn money_of(costs: &Costs, prices_on: Option<&str>) -> Vec<Block> {
    let head = ["", "At once", "First year", "All, today", "Saved", "Pays in"].map(str::to_owned).to_vec();
    let rows = costs
        .courses
        .iter()
        .map(|cost| {
            let saved = cost.saved.map_or(String::new(), |saved| money(saved.best));
            let payback = match (cost.payback, cost.course) {
                (_, Course::Keep) => String::new(),
                (Some(years), _) => format!("{} a", number((years * 10.0).round() / 10.0)),
                (None, _) => "never".to_owned(),
            };
            vec![
                course_words(cost.course).to_owned(),
                money(cost.first),
                money(cost.first_year),
                money(cost.present),
                saved,
                payback,
            ]
        })
        .collect();
    let prices = prices_on.map_or_else(
        || "The prices are yours and carry no date (--prices-on).".to_owned(),
        |date| format!("The prices are yours, as of {date}."),
    );
    let mut lines = vec![
        prices,
        format!(
            "Salt and water over {} years, resin losing {} of new capacity a year, at a discount rate of {}. All, today is the present value of every payment; saved is against leaving the bed as it is. What bad water costs is not in it, nor the work that a call-back takes, nor what is left of new resin at the end.",
            number(costs.years),
            percent(costs.loss_per_year),
            percent(costs.rate)
        ),
    ];
    if let Some(first) = costs.swings.first() {
        let turns = if costs.turns {
            " It decides whether the change pays."
        } else {
            " It does not change whether the change pays."
        };
        lines.push(format!(
            "What weighs most on the best change: {}, which moves its saving from {} to {}.{turns}",
            first.input,
            money(first.at_low),
            money(first.at_high)
        ));
    }
    for cost in &costs.courses {
        if let Some(saved) = cost.saved {
            let paid = cost.payback_discounted.map_or("not within the horizon".to_owned(), |years| {
                format!("in {} years", number((years * 10.0).round() / 10.0))
            });
            let returns =
                cost.rate_of_return.map_or(String::new(), |rate| format!(" returns {} a year;", percent(rate)));
            lines.push(format!(
                "{}: saves {} ({} to {});{returns} with interest it pays {paid}; all of it is {} a year.",
                course_words(cost.course),
                money(saved.best),
                money(saved.low),
                money(saved.high),
                money(cost.yearly)
            ));
        }
    }
    vec![Block::Table { head, rows }, Block::Items(lines)]
}
