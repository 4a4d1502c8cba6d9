//! The plan itself: what to do, with each sum as a person can check it.

use super::{Block, FOR_CLEANING, FOR_SAMPLING, FOR_SETTINGS, Sheet, assumed, resin_name, with_last_word};
use crate::judge::Verdict;
use crate::plan::{Costs, Course, FieldGap, NitrateRun, Origin, Outcome, Plan, Softening, State, TopOff, Withheld};
use crate::report::units::{Of, Units, money, number, percent};

/// Words for a course.
pub(super) fn course_words(course: Course) -> &'static str {
    match course {
        Course::Keep => "As it is",
        Course::Clean => "Cleaned",
        Course::TopOff => "Topped off",
        Course::Replace => "New resin",
    }
}

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
        lines.push(format!("Cheapest over the horizon, at your prices: {}.", course_words(cheapest).to_lowercase()));
    }
    lines
}

/// Resin is bought by both.
fn both(litres: f64) -> String {
    format!("{} ({})", Units::Us.show(litres, Of::Resin), Units::Si.show(litres, Of::Resin))
}

fn volume_and_top_off(plan: &Plan, top: &TopOff, units: Units) -> Vec<Block> {
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
        say("Volume as measured", resin(volume));
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
        && let Some(mixed) = softening.outcomes.iter().find(|outcome| outcome.course == Course::TopOff)
    {
        say("Bed after it", format!("{} at {} of new capacity", resin(mixed.volume), percent(mixed.share.best)));
    }
    let why = match top.withheld {
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

fn meter(softening: &Softening, units: Units) -> Vec<Block> {
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

fn year(softening: &Softening, units: Units) -> Vec<Block> {
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
            "For {} softened in a year, and the day override where it comes first; salt sends 0.607 of its mass to the drain as chloride.",
            units.show(softened, Of::Water)
        )),
    ]
}

fn doses(softening: &Softening, units: Units) -> Vec<Block> {
    let head = ["Dose", "Capacity", "Run", "Efficiency"].map(str::to_owned).to_vec();
    let rows = softening
        .doses
        .iter()
        .enumerate()
        .map(|(at, outcome)| {
            let mark = if Some(at) == softening.best_dose { " *" } else { "" };
            vec![
                format!("{}{mark}", units.show(outcome.salt * 1000.0 / outcome.volume, Of::Dose)),
                units.show(outcome.capacity.best, Of::Capacity),
                outcome.run.map_or("?".to_owned(), |run| units.show(run.best, Of::Water)),
                efficiency(softening, outcome.efficiency, units),
            ]
        })
        .collect();
    let (rated, strict) = softening.lines;
    vec![
        Block::Text(format!("{}, at other doses:", course_words(softening.advised))),
        Block::Table { head, rows },
        Block::Text(format!(
            "* the best: the least salt that water soft throughout ({} or more) and a run of a day allow. Lines: {} and {}; chemistry allows {}. Leakage is not modelled: test it.",
            units.show(softening.least_dose, Of::Dose),
            units.show(rated, Of::Efficiency),
            units.show(strict, Of::Efficiency),
            units.show(softening.stoichiometric, Of::Efficiency)
        )),
    ]
}

fn field(gap: &FieldGap, plan: &Plan, units: Units) -> Vec<Block> {
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

fn nitrate(run: &NitrateRun, plan: &Plan, units: Units) -> Vec<Block> {
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

fn water(plan: &Plan, units: Units) -> Vec<Block> {
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

fn money_of(costs: &Costs, prices_on: Option<&str>) -> Vec<Block> {
    let head = ["", "At once", "First year", "All, today", "Saved", "Pays in"].map(str::to_owned).to_vec();
    let rows = costs
        .courses
        .iter()
        .map(|cost| {
            let saved = cost.saved.map_or(String::new(), |saved| {
                format!("{} ({} to {})", money(saved.best), money(saved.low), money(saved.high))
            });
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
            "Salt and water over {} years, resin losing {} of new capacity a year, at a discount rate of {}. All, today is the present value of every payment; saved is against leaving the bed as it is, with its spread. What bad water costs is not in it, nor is the work that a call-back takes.",
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
        if let Some(rate) = cost.rate_of_return {
            let paid = cost.payback_discounted.map_or("not within the horizon".to_owned(), |years| {
                format!("in {} years", number((years * 10.0).round() / 10.0))
            });
            lines.push(format!(
                "{}: returns {} a year; with interest it pays {paid}; the whole is {} a year.",
                course_words(cost.course),
                percent(rate),
                money(cost.yearly)
            ));
        }
    }
    vec![Block::Table { head, rows }, Block::Items(lines)]
}

fn used(plan: &Plan, units: Units) -> Block {
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
