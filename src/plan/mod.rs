//! What to do and what it is worth: top-off, meter, salt, water, money, the work orders.
//!
//! ```text
//! record, judgement ─▶ Bed ─ check ─▶ geometry ─ top-off ─▶ courses ─ softening ─▶ costs ─▶ Plan
//!          options ────▲                                   nitrate, flow, field, work ────▲
//! ```
//!
//! A pure function of a [`Bed`], a plain struct that anybody may fill, and of [`Knowledge`]: no disk, no clock. All
//! figures are in canonical units; `report` puts them into the reader's.

mod bed;
mod costs;
mod error;
mod field;
pub mod flow;
mod knowledge;
#[cfg(feature = "beds")]
mod known;
mod meter;
pub mod money;
pub mod nitrate;
pub mod softening;
mod top_off;
mod work;

pub use bed::{About, Bed, Facts, Known, Origin, Spread, State, total_of_new};
pub use costs::{Cost, Costs, Swing};
pub use error::PlanError;
pub use field::{FieldGap, Part, shares_of_fall};
pub use knowledge::{Backwash, Curve, Doses, Fact, Input, Knowledge, Lines, Selectivity, Solution, Water, Work};
pub use meter::{Basis, Course, Outcome, Softening, Year, kilograins};
pub use top_off::{Geometry, TopOff, Withheld, mixed_share};
pub use work::{Acid, Bought, Chemical, Cleaning, Sampling, acid_litres, thrust_litres};

use crate::judge::{Context, Verdict};
use crate::specs::{Class, Family};
use nitrate::Anions;
use serde::Serialize;

/// What a user asks for beside the bed.
#[derive(Clone, Copy, Debug, Default)]
pub struct Wishes<'a> {
    /// Curve of operating capacity by id.
    pub curve: Option<&'a str>,
    /// Cleaning recipe by id.
    pub recipe: Option<&'a str>,
}

/// An input as it was used.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Used {
    /// Permanent id.
    pub id: &'static str,
    /// What it is called.
    pub name: String,
    /// In `unit`.
    pub value: f64,
    /// Canonical unit.
    pub unit: String,
    /// Where it comes from.
    pub from: Origin,
    /// Source of the default, where it was assumed.
    pub source: Option<String>,
    /// What conventions run over, where it was assumed.
    pub range: Option<[f64; 2]>,
}

/// An input that is missing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Asked {
    /// Permanent id; the option is the same with dashes.
    pub id: &'static str,
    /// What it is called.
    pub name: String,
    /// What it would tell.
    pub why: String,
}

/// The water through the bed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Hydraulics {
    /// Coldest water, Cel.
    pub temperature: f64,
    /// Backwash rate at that temperature, m/h: least and most.
    pub backwash_rate: Option<(f64, f64)>,
    /// Backwash flow for the bore, L/h: least and most.
    pub backwash_flow: Option<(f64, f64)>,
    /// Speed through the empty tank at peak flow, m/h.
    pub speed: Option<f64>,
    /// Bead size, mm.
    pub bead_size: f64,
    /// Voids.
    pub voids: f64,
    /// Drop of a clean bed, kPa, with the most, best and least voids.
    pub clean_drop: Option<Spread>,
    /// Drop as measured, kPa.
    pub measured_drop: Option<f64>,
    /// Measured over clean.
    pub over_clean: Option<f64>,
    /// Whether that points to a clogged bed.
    pub clogged: Option<bool>,
}

/// A nitrate bed's run.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NitrateRun {
    /// Whether the resin is a nitrate-selective one.
    pub selective: bool,
    /// Strong-base capacity, eq/L.
    pub capacity: f64,
    /// Whether it was measured.
    pub measured: bool,
    /// Feed, meq/L: nitrate and sulfate.
    pub feed: (f64, f64),
    /// Share of capacity that a run uses.
    pub used: (f64, f64),
    /// Bed volumes by the working rule, or by the used share of equilibrium on a selective resin.
    pub bed_volumes: Option<(f64, f64)>,
    /// The same in litres for this bed.
    pub litres: Option<(f64, f64)>,
    /// Bed volumes at which nitrate comes through at the latest.
    pub ceiling: Option<f64>,
    /// Source of the separation factors.
    pub source: String,
}

/// Lines of the settings card that are not in [`Softening`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Card {
    /// Refill water, L.
    pub refill_water: f64,
    /// Refill time, min.
    pub refill_minutes: Option<f64>,
    /// Brine as it reaches the resin, L.
    pub brine: f64,
    /// Brine draw, min.
    pub brine_minutes: f64,
    /// Slow rinse, min.
    pub slow_rinse_minutes: f64,
    /// Fast rinse, L.
    pub fast_rinse: f64,
    /// Backwash, min.
    pub backwash_minutes: f64,
    /// Most days between regenerations.
    pub day_override: f64,
    /// Whether iron in the water shortens that.
    pub iron: bool,
}

/// What to do with one bed and what it is worth.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Plan {
    /// Whose bed it is, what is in it, and what was said of it.
    #[serde(flatten)]
    pub about: About,
    /// The class in words; none where it is not known.
    pub class_name: Option<String>,
    /// The bed in its tank.
    pub shape: Geometry,
    /// What is missing and what goes in.
    pub top_off: Option<TopOff>,
    /// The order of work of a top-off.
    pub top_off_order: Vec<String>,
    /// Meter, salt and years of a softener.
    pub softening: Option<Softening>,
    /// What to mind before the meter is moved.
    pub meter_advice: Vec<String>,
    /// The rest of the settings card, for the bed as it is and after the advised course.
    pub cards: Option<(Card, Card)>,
    /// The field against the laboratory.
    pub field: Option<FieldGap>,
    /// What to check for a remainder that no resin explains.
    pub field_advice: Vec<String>,
    /// A nitrate bed's run.
    pub nitrate: Option<NitrateRun>,
    /// What to mind on it.
    pub nitrate_advice: Vec<String>,
    /// Water through the bed.
    pub hydraulics: Option<Hydraulics>,
    /// What to look for behind a high pressure drop.
    pub pressure_advice: Vec<String>,
    /// What to look for behind lost beads.
    pub backwash_advice: Vec<String>,
    /// What to do at a rebed.
    pub rebed_advice: Vec<String>,
    /// Courses in money.
    pub costs: Option<Costs>,
    /// The cleaning.
    pub cleaning: Option<Cleaning>,
    /// The next core.
    pub sampling: Sampling,
    /// How to take it.
    pub sampling_steps: Vec<String>,
    /// Where not to take it from.
    pub sampling_not: Vec<String>,
    /// What to mind while doing so.
    pub sampling_cautions: Vec<String>,
    /// What to write on the label.
    pub label: Vec<String>,
    /// Inputs as they were used.
    pub used: Vec<Used>,
    /// Inputs that are missing.
    pub asked: Vec<Asked>,
    /// What this plan cannot say of this bed.
    pub silent_on: Vec<String>,
}

/// Makes the plan of a bed.
///
/// # Errors
/// Figures that cannot be meant or are beyond chemistry; a curve or recipe that is not there.
///
/// ```
/// use beadwise::judge::Context;
/// use beadwise::plan::{About, Bed, Fact, Knowledge, Known, Origin, State, Wishes, plan};
/// // A 24 in tank whose surface stands 6.0 in lower than at start-up: 3.1416 ft2 x 0.5 ft = 1.5708 ft3 = 44.48 L.
/// let about = About { class: Some("sac-gel-8".into()), state: State::Regenerated, ..About::default() };
/// let mut bed = Bed { about, ..Bed::default() };
/// for (fact, value) in [(Fact::TankBore, 0.6096), (Fact::Freeboard, 0.762), (Fact::FreeboardAtStartup, 0.6096), (Fact::BedVolumeAtStartup, 283.0)] {
///     bed.set(fact, Known { value, from: Origin::Given });
/// }
/// let plan = plan(&bed, &Context::builtin()?, Knowledge::builtin()?, Wishes::default())?;
/// let litres = plan.top_off.and_then(|top_off| top_off.litres).ok_or("no top-off")?;
/// assert!((litres - 44.48).abs() < 0.01);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn plan(bed: &Bed, context: &Context<'_>, knowledge: &Knowledge, wishes: Wishes<'_>) -> Result<Plan, PlanError> {
    let bed = &bed.without_absurd(knowledge);
    bed.check(knowledge)?;
    let facts = Facts::new(bed, knowledge);
    let class = bed.about.class.as_deref().and_then(|id| context.specs.class(id));
    let shape = top_off::geometry(&facts);
    let limits = &context.policy.limits;
    let top = class.map(|class| top_off::top_off(&facts, &shape, class, limits.skeleton_density, limits.top_off_from));
    let mut silent_on = Vec::new();
    if class.is_none() {
        silent_on.push(
            "Capacity, meter, cleaning and most else: the class of the resin is not known. Name it with --class."
                .to_owned(),
        );
    }
    let softens = class.is_some_and(|class| class.family == Family::Sac)
        && bed.about.duty.as_deref().is_none_or(|duty| duty == "softening");
    let mut soft = None;
    let mut costs = None;
    let mut gap = None;
    if let Some((class, top)) = class.zip(top.as_ref()).filter(|_| softens) {
        if let Some((softening, basis)) = meter::softening(&facts, &shape, top, class, wishes.curve)? {
            if let Some(curve) = knowledge.curve(&softening.curve) {
                gap = field::gap(&facts, &shape, &basis, curve);
                let courses = meter::courses(&facts, &shape, top);
                costs = costs::costs(&facts, &courses, top, basis, curve, class);
            }
            soft = Some(softening);
        }
    } else if class.is_some_and(|class| class.family != Family::Sba || !is_nitrate(bed, class)) {
        silent_on.push(
            "Meter, salt and money: this bed is no softener, and its capacity at a dose of acid or caustic is not modelled."
                .to_owned(),
        );
    }
    let nitrate = match class.filter(|class| is_nitrate(bed, class)) {
        Some(class) => nitrate_run(&facts, &shape, class)?,
        None => None,
    };
    if class.is_some_and(|class| is_nitrate(bed, class)) {
        silent_on.push("Salt and money of a nitrate bed: its capacity at a dose of salt is not modelled.".to_owned());
    }
    let hydraulics = class.and_then(|class| hydraulics(&facts, &shape, class));
    let cleaning = match class {
        Some(class) => work::cleaning(&facts, &shape, class, context, wishes.recipe)?,
        None => None,
    };
    let sampling = work::sampling(&facts, &shape, class, context);
    let cards = soft.as_ref().and_then(|soft| {
        let now = soft.outcomes.first()?;
        let after = soft.outcomes.iter().find(|outcome| outcome.course == soft.advised)?;
        Some((card(&facts, now)?, card(&facts, after)?))
    });
    let lines = |id: &str, said: bool| if said { knowledge.lines(id).to_vec() } else { Vec::new() };
    let tops = top.as_ref().is_some_and(|top| top.litres.is_some());
    let loses = tops || bed.is_called_for(Verdict::TopOff);
    let mut nitrate_advice = lines("nitrate", nitrate.is_some());
    if let Some(run) = &nitrate {
        nitrate_advice.extend_from_slice(knowledge.lines(if run.selective {
            "nitrate-selective"
        } else {
            "nitrate-standard"
        }));
    }
    Ok(Plan {
        about: bed.about.clone(),
        class_name: class.map(|class| class.name.clone()),
        shape,
        top_off_order: lines("top-off-order", tops),
        top_off: top,
        meter_advice: lines("meter", soft.is_some()),
        softening: soft,
        cards,
        field_advice: lines("remainder", gap.is_some()),
        field: gap,
        nitrate_advice,
        nitrate,
        pressure_advice: lines("pressure", hydraulics.is_some_and(|water| water.clogged == Some(true))),
        hydraulics,
        backwash_advice: lines("backwash", loses),
        rebed_advice: lines("rebed", bed.about.verdict == Some(Verdict::Replace)),
        costs,
        cleaning,
        sampling,
        sampling_steps: lines("sampling", true),
        sampling_not: lines("not-from", true),
        sampling_cautions: lines("sampling-cautions", true),
        label: lines("label", true),
        used: used(&facts),
        asked: asked(&facts),
        silent_on,
    })
}

fn is_nitrate(bed: &Bed, class: &Class) -> bool {
    class.family == Family::Sba && (bed.about.duty.as_deref() == Some("nitrate") || class.id == "sba-nitrate")
}

fn used(facts: &Facts<'_>) -> Vec<Used> {
    facts
        .used()
        .into_iter()
        .filter_map(|(fact, known)| {
            let input = facts.knowledge.input(fact)?;
            let assumed = known.from == Origin::Assumed;
            Some(Used {
                id: fact.id(),
                name: input.name.clone(),
                value: known.value,
                unit: input.unit.clone(),
                from: known.from,
                source: assumed.then(|| input.source.clone()),
                range: input.range.filter(|_| assumed),
            })
        })
        .collect()
}

fn asked(facts: &Facts<'_>) -> Vec<Asked> {
    let words = |fact: Fact| {
        let input = facts.knowledge.input(fact)?;
        Some(Asked { id: fact.id(), name: input.name.clone(), why: input.why.clone() })
    };
    facts.asked().into_iter().filter_map(words).collect()
}

fn card(facts: &Facts<'_>, outcome: &Outcome) -> Option<Card> {
    let refill_water = outcome.salt / facts.look(Fact::SaltToWater)?;
    let brine =
        softening::brine_volume(outcome.salt, facts.look(Fact::BrineStrength)?, facts.look(Fact::BrineDensity)?);
    let litres_a_minute = facts.look(Fact::BrineRate)? * outcome.volume / 60.0;
    let refill_flow = facts.want(Fact::RefillFlow);
    Some(Card {
        refill_water,
        refill_minutes: refill_flow.map(|flow| refill_water / flow * 60.0),
        brine,
        brine_minutes: brine / litres_a_minute,
        slow_rinse_minutes: facts.look(Fact::SlowRinse)? * outcome.volume / litres_a_minute,
        fast_rinse: facts.look(Fact::FastRinse)? * outcome.volume,
        backwash_minutes: facts.look(Fact::BackwashTime)?,
        day_override: meter::most_days(facts)?,
        iron: meter::has_iron(facts)?,
    })
}

fn hydraulics(facts: &Facts<'_>, shape: &Geometry, class: &Class) -> Option<Hydraulics> {
    let temperature = facts.look(Fact::Temperature)?;
    let water = facts.knowledge.water();
    let rate = facts.knowledge.backwash(class.family).and_then(|entry| {
        let [low, high] = entry.rate;
        Some((flow::backwash_at(low, temperature, water)?, flow::backwash_at(high, temperature, water)?))
    });
    let area = shape.area;
    if area.is_none() {
        facts.ask(Fact::TankBore);
    }
    let speed = facts.bed.known(Fact::Flow).zip(area).map(|(flow, area)| flow.value / 1000.0 / area);
    let bead_size = facts.look(Fact::BeadSize)?;
    let voids = facts.look(Fact::Voidage)?;
    let measured = facts.look(Fact::PressureDrop);
    if measured.is_some() && speed.is_none() {
        facts.ask(Fact::Flow);
    }
    let (density, viscosity) = flow::water_at(water, temperature)?;
    let drop = |voids: f64| {
        let pascals = flow::ergun(bead_size / 1000.0, voids, speed? / 3600.0, density, viscosity) * shape.depth?;
        Some(pascals / 1000.0)
    };
    let told = facts.bed.known(Fact::Voidage).is_some();
    let ends = facts.knowledge.input(Fact::Voidage)?.range.filter(|_| !told).unwrap_or([voids, voids]);
    let clean_drop = drop(voids).and_then(|best| Some(Spread { low: drop(ends[1])?, best, high: drop(ends[0])? }));
    let over_clean = measured.zip(clean_drop).map(|(measured, clean)| measured / clean.best);
    let most = facts.look(Fact::PressureDropMost)?;
    let factor = facts.look(Fact::PressureDropFactor)?;
    let clogged = measured.map(|measured| measured > most || over_clean.is_some_and(|over| over > factor));
    Some(Hydraulics {
        temperature,
        backwash_rate: rate,
        backwash_flow: rate.zip(area).map(|((low, high), area)| (low * area * 1000.0, high * area * 1000.0)),
        speed,
        bead_size,
        voids,
        clean_drop,
        measured_drop: measured,
        over_clean,
        clogged,
    })
}

fn nitrate_run(facts: &Facts<'_>, shape: &Geometry, class: &Class) -> Result<Option<NitrateRun>, PlanError> {
    let selective = class.id == "sba-nitrate";
    let new = class.figure("salt_splitting_capacity", Some("volume"), Some(class.standard_form.as_str()));
    let new = new.and_then(|figure| figure.typical.as_ref().or(figure.low.as_ref())).map(|bound| bound.value);
    let total = total_of_new(class).or(new);
    let nitrate = facts.want(Fact::FeedNitrate);
    if let (Some(claimed), Some(nitrate), Some(most)) = (facts.look(Fact::ClaimedThroughput), nitrate, total) {
        let found = nitrate::capacity_claimed(claimed, nitrate);
        if found > most {
            return Err(PlanError::BeyondSites { what: "the claimed run".to_owned(), found, most });
        }
    }
    let Some(capacity) = facts.bed.strong_base.or(new) else { return Ok(None) };
    let (Some(nitrate), Some(sulfate)) = (nitrate, facts.want(Fact::FeedSulfate)) else { return Ok(None) };
    let used = (facts.look(Fact::NitrateUseLow).unwrap_or(0.0), facts.look(Fact::NitrateUseHigh).unwrap_or(0.0));
    let factors = facts.knowledge.selectivity(selective);
    let others = facts.want(Fact::FeedAlkalinity).zip(facts.want(Fact::FeedChloride));
    let feed = Anions::from_mg(nitrate, sulfate, others.map_or(0.0, |o| o.0), others.map_or(0.0, |o| o.1));
    let ceiling =
        factors.zip(others).and_then(|(factors, _)| nitrate::bed_volumes_at_equilibrium(capacity, feed, factors));
    let bed_volumes = if selective {
        ceiling.map(|ceiling| (ceiling * used.0, ceiling * used.1))
    } else {
        let at = |used| nitrate::bed_volumes_by_rule(capacity, used, feed);
        at(used.0).zip(at(used.1))
    };
    Ok(Some(NitrateRun {
        selective,
        capacity,
        measured: facts.bed.strong_base.is_some(),
        feed: (feed.nitrate, feed.sulfate),
        used,
        bed_volumes,
        litres: bed_volumes.zip(shape.volume).map(|((low, high), volume)| (low * volume, high * volume)),
        ceiling,
        source: factors.map_or(String::new(), |factors| factors.source.clone()),
    }))
}
