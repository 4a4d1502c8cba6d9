//! What to do next: which bed to sample when and why, and which bed waiting would cost most.

use super::log::{EventKind, Reading};
use super::outlook::Outlook;
use super::register::Bed;
use crate::judge::{Limits, Policy, months_on, years_between};
use crate::specs::{Family, Specs};
use serde::Serialize;

/// Something that is to be done at a bed on a day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Due {
    /// Id of the bed.
    pub bed: String,
    /// Its names.
    pub title: String,
    /// Its site.
    pub site: String,
    /// `sample` or `freeboard`.
    pub what: String,
    /// ISO date; a day in the past is overdue.
    pub on: String,
    /// Why, and why then.
    pub why: String,
    /// What to take and ask for.
    pub how: String,
}

/// One bed in the order of what waiting would cost.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ranked {
    /// Id of the bed.
    pub bed: String,
    /// Its names.
    pub title: String,
    /// Its site.
    pub site: String,
    /// Class of its resin.
    pub resin_class: Option<String>,
    /// Capacity as per cent of new, on its line today.
    pub capacity: Option<f64>,
    /// Chance that the limit is met by the next sample; none where nothing can be foretold.
    pub chance: Option<f64>,
    /// The day of the next sample.
    pub next_sample_on: String,
    /// Volume of resin, L.
    pub volume: f64,
    /// Whether that volume is the bed's own, or the one taken for beds without.
    pub volume_known: bool,
    /// What waiting puts at stake: chance and field readings times volume, L.
    pub at_stake: f64,
    /// The same in money, where the price of resin is known.
    pub cost: Option<f64>,
    /// Currency of it.
    pub currency: Option<String>,
    /// What the readings at the bed say.
    pub field: Vec<String>,
    /// Why it stands where it stands.
    pub why: Vec<String>,
}

/// What readings at a bed say.
struct Field {
    /// Share of the water between regenerations that is gone.
    run_fall: f64,
    /// In words.
    told: Vec<String>,
}

/// All that is due, the earliest first.
pub fn due(outlooks: &[Outlook], today: &str, specs: &Specs, policy: &Policy) -> Vec<Due> {
    let mut all = Vec::new();
    for outlook in outlooks {
        let (on, why) = next_sample(outlook, today, specs, policy);
        let family = outlook.class.as_deref().and_then(|id| specs.class(id)).map(|class| class.family);
        let tests: Vec<String> = family
            .map(|family| policy.wanted(family).iter().map(|test| crate::judge::property_words(test)).collect())
            .unwrap_or_default();
        let how = if tests.is_empty() {
            "A core of the whole depth, about a litre, wet and sealed; name the resin's class too.".to_owned()
        } else {
            format!("A core of the whole depth, about a litre, wet and sealed. Ask for {}.", tests.join(", "))
        };
        all.push(item(&outlook.bed, "sample", on, why, how));
        all.extend(freeboard_due(outlook, today, &policy.limits));
    }
    all.sort_by(|a, b| a.on.cmp(&b.on).then_with(|| a.bed.cmp(&b.bed)).then_with(|| a.what.cmp(&b.what)));
    all
}

fn item(bed: &Bed, what: &str, on: String, why: String, how: String) -> Due {
    Due { bed: bed.id.clone(), title: bed.title(), site: bed.site.clone(), what: what.to_owned(), on, why, how }
}

/// The day of a bed's next sample, and why then.
fn next_sample(outlook: &Outlook, today: &str, specs: &Specs, policy: &Policy) -> (String, String) {
    let limits = &policy.limits;
    let now = || today.to_owned();
    let Some(last) = &outlook.last_on else {
        return match (&outlook.charge.from, outlook.charge.told_by.as_str()) {
            (Some(from), told_by) if !told_by.contains("register") => (
                months_on(from, limits.new_charge_sample).unwrap_or_else(now),
                format!(
                    "the charge of {from} has no analysis of its own: its first one is what all later ones are set against"
                ),
            ),
            _ => (now(), "this bed has no dated analysis yet".to_owned()),
        };
    };
    if let Some(step) =
        outlook.last_step.as_ref().filter(|step| step.happened_on > *last && step.kind == EventKind::Cleaned)
    {
        let on = months_on(&step.happened_on, limits.next_sample_cleaned).unwrap_or_else(now);
        return (on, format!("to see what the cleaning of {} brought back", step.happened_on));
    }
    let family = outlook.class.as_deref().and_then(|id| specs.class(id)).map(|class| class.family);
    let Some(family) = family else {
        let on = months_on(last, limits.next_sample_aging).unwrap_or_else(now);
        return (on, "the class of its resin is not known".to_owned());
    };
    if let Some(trend) = &outlook.trend
        && trend.left_out.iter().any(|(on, why)| on == last && why.contains("deviations"))
    {
        return (now(), format!("the analysis of {last} does not fit the ones before it: repeat it"));
    }
    let (watch, replace) = match family {
        Family::Sba => (limits.strong_loss_watch, limits.strong_loss_replace),
        _ => (limits.capacity_loss_watch, limits.capacity_loss_replace),
    };
    let loss = outlook.trend.as_ref().map(|trend| 1.0 - trend.now / 100.0);
    let (months, why) = match loss {
        Some(loss) if loss >= replace => {
            return (now(), "its line is past the limit: decide between cleaning and a new charge".to_owned());
        }
        Some(loss) if loss > f64::midpoint(watch, replace) => {
            (limits.next_sample_late, "it is near the end of its life")
        }
        Some(loss) if loss >= watch => (limits.next_sample_aging, "it is aging"),
        Some(_) if family.is_cation() => (limits.next_sample_sound, "it is sound"),
        None if family.is_cation() => (limits.next_sample_aging, "nothing can be foretold of it"),
        _ => (limits.next_sample_aging, "anion resin is looked at every year"),
    };
    let on = months_on(last, months).unwrap_or_else(now);
    let early = outlook.trend.as_ref().and_then(|trend| trend.meets.as_ref()?.earliest.clone());
    match early {
        Some(early) if early < on => {
            // No sooner than a bed near its end is sampled: a year's wear must show above the laboratory's noise.
            let soonest = months_on(last, limits.next_sample_late).unwrap_or_else(now);
            let why =
                format!("by then the chance that it is past its limit is one in ten or more (last sampled {last})");
            (early.max(soonest).min(on), why)
        }
        _ => (on, format!("{why} (last sampled {last})")),
    }
}

fn freeboard_due(outlook: &Outlook, today: &str, limits: &Limits) -> Option<Due> {
    let last = outlook.readings.iter().rev().find(|reading| reading.quantity == "freeboard");
    let how = "After a regeneration, from the same rim, at several points: write down the state of the bed.".to_owned();
    let (on, why) = match last {
        Some(last) => (months_on(&last.taken_on, limits.freeboard_every)?, format!("last taped on {}", last.taken_on)),
        None if outlook.bed.freeboard_at_startup.is_some() => {
            (today.to_owned(), "the freeboard at start-up is known, and none since".to_owned())
        }
        None => return None,
    };
    Some(item(&outlook.bed, "freeboard", on, why, how))
}

/// All beds, the one first that waiting would cost most.
pub fn rank(outlooks: &[Outlook], today: &str, specs: &Specs, policy: &Policy) -> Vec<Ranked> {
    let mut all: Vec<Ranked> = outlooks.iter().map(|outlook| ranked(outlook, today, specs, policy)).collect();
    all.sort_by(|a, b| b.at_stake.total_cmp(&a.at_stake).then_with(|| a.bed.cmp(&b.bed)));
    all
}

fn ranked(outlook: &Outlook, today: &str, specs: &Specs, policy: &Policy) -> Ranked {
    let limits = &policy.limits;
    let bed = &outlook.bed;
    let (next, why_next) = next_sample(outlook, today, specs, policy);
    // An overdue sample is pulled after a while all the same: the chance is that of today at least.
    let by = next.as_str().max(today);
    let chance = outlook.trend.as_ref().and_then(|trend| trend.chance_by(by));
    let field = field(outlook, limits);
    let volume = bed.volume.as_ref().map(|volume| volume.value);
    let litres = volume.unwrap_or(limits.unknown_volume);
    let risk = 1.0 - (1.0 - chance.unwrap_or(0.0)) * (1.0 - field.run_fall);
    let at_stake = litres * risk;
    let mut why = Vec::new();
    match chance {
        Some(chance) => why.push(format!("{:.0} in 100 that its limit is met by {by}", chance * 100.0)),
        None if outlook.last_on.is_none() => why.push("no dated analysis of this charge".to_owned()),
        None => why.push("no line can be drawn: its class or a plain capacity is missing".to_owned()),
    }
    why.push(format!("next sample {next}: {why_next}"));
    if volume.is_none() {
        why.push(format!("volume not known, counted as {litres:.0} L"));
    }
    Ranked {
        bed: bed.id.clone(),
        title: bed.title(),
        site: bed.site.clone(),
        resin_class: outlook.class.clone(),
        capacity: outlook.trend.as_ref().map(|trend| trend.now),
        chance,
        next_sample_on: next,
        volume: litres,
        volume_known: volume.is_some(),
        at_stake,
        cost: bed.resin_price.as_ref().map(|price| price.per_litre * at_stake),
        currency: bed.resin_price.as_ref().map(|price| price.currency.clone()),
        field: field.told,
        why,
    }
}

/// What the readings at the bed say, beside what the laboratory sees.
fn field(outlook: &Outlook, limits: &Limits) -> Field {
    let of = |quantity: &'static str| outlook.readings.iter().filter(move |reading| reading.quantity == quantity);
    let mut told = Vec::new();
    let mut run_fall = 0.0;
    let newest_run = of("volume_between_regenerations").next_back();
    let first_run = outlook
        .bed
        .run_at_startup
        .as_ref()
        .map(|amount| amount.value)
        .or_else(|| of("volume_between_regenerations").next().and_then(Reading::mean));
    if let (Some(now), Some(first)) = (newest_run.and_then(Reading::mean), first_run.filter(|first| *first > 0.0)) {
        let fall = 1.0 - now / first;
        if fall >= limits.run_fall_watch {
            run_fall = fall.clamp(0.0, 1.0);
            told.push(format!("water between regenerations down {:.0} %", fall * 100.0));
        }
    }
    if let (Some(newest), Some(start)) = (of("freeboard").next_back(), &outlook.bed.freeboard_at_startup)
        && let Some(now) = newest.mean()
        && now - start.value > 2.0 * limits.tape_sd
    {
        told.push(format!("surface {:.0} mm lower than at start-up", (now - start.value) * 1000.0));
    }
    if let Some((newest, share)) =
        of("freeboard").next_back().and_then(|newest| Some((newest, channelling(newest, &outlook.bed)?)))
        && share >= limits.channelling_spread
    {
        told.push(format!("depth varies by {:.0} % on {}: channelling suspected", share * 100.0, newest.taken_on));
    }
    Field { run_fall, told }
}

/// Spread of a bed's depth over the points of a freeboard, as a share of its depth where that is known.
pub fn channelling(reading: &Reading, bed: &Bed) -> Option<f64> {
    let bore = bed.tank_bore.as_ref()?.value;
    let litres = bed.volume.as_ref()?.value;
    let area = std::f64::consts::PI * bore * bore / 4.0;
    if area <= 0.0 {
        return None;
    }
    reading.spread_of_depth(litres / 1000.0 / area)
}

/// Whether a day has passed, in years; none where it has not.
pub fn overdue(due: &Due, today: &str) -> Option<f64> {
    years_between(Some(&due.on), Some(today)).filter(|years| *years > 0.0)
}
