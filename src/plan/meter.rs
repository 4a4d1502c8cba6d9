//! The meter and a year of salt, water and chloride, for the bed as it is and for each thing that may be done with it.

use super::bed::{Facts, Spread, total_of_new};
use super::error::PlanError;
use super::knowledge::{Curve, Fact, Knowledge};
use super::softening::{self, DOSE_PER_LB_FT3, EQ_PER_KGR_FT3};
use super::top_off::{Geometry, TopOff, mixed_share};
use crate::judge::Verdict;
use crate::quantity::CACO3_GRAMS_PER_EQUIVALENT;
use crate::specs::Class;
use serde::Serialize;

const DAYS_PER_YEAR: f64 = 365.0;

/// Something that may be done with a bed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Course {
    /// Leave it as it is.
    Keep,
    /// Clean it.
    Clean,
    /// Top it off.
    TopOff,
    /// Clean it, then top it off.
    CleanAndTopOff,
    /// Put new resin in.
    Replace,
}

/// A year of one course.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Year {
    /// Water softened, L.
    pub water_softened: f64,
    /// Regenerations.
    pub regenerations: f64,
    /// Salt, kg.
    pub salt: f64,
    /// Water to the drain, L.
    pub water: f64,
    /// Chloride to the drain, kg.
    pub chloride: f64,
}

/// What the bed does under one course.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Outcome {
    /// Which.
    pub course: Course,
    /// Resin, L.
    pub volume: f64,
    /// Share of new total capacity.
    pub share: Spread,
    /// Operating capacity, eq/L.
    pub capacity: Spread,
    /// Salt at each regeneration, kg.
    pub salt: f64,
    /// Grains of hardness to the pound of salt.
    pub efficiency: f64,
    /// Hardness that comes through all through the run, mg/L as CaCO3, where the feed's salts are known.
    pub leakage: Option<f64>,
    /// Run to the end of capacity, L.
    pub run: Option<Spread>,
    /// Kept back, L.
    pub reserve: Option<f64>,
    /// The meter, L, rounded down.
    pub meter: Option<f64>,
    /// Days between regenerations at the heaviest use.
    pub days: Option<f64>,
    /// Water for each regeneration, L.
    pub water: f64,
    /// A year of it.
    pub year: Option<Year>,
}

/// What holds for all courses of a softener.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Softening {
    /// Curve of operating capacity, by id.
    pub curve: String,
    /// In words.
    pub curve_name: String,
    /// Its source.
    pub curve_source: String,
    /// Share that it may be off.
    pub curve_spread: f64,
    /// Salt dose, g/L.
    pub dose: f64,
    /// Whether the dose was told or is a default.
    pub dose_assumed: bool,
    /// Feed hardness, mg/L as CaCO3.
    pub hardness: Option<f64>,
    /// With iron and manganese.
    pub compensated: Option<f64>,
    /// The meter of the bed as it is with the least and most of the iron conventions, where there is iron.
    pub iron_range: Option<[(f64, f64); 2]>,
    /// Most that the salt can do, gr/lb.
    pub stoichiometric: f64,
    /// Efficiency lines, gr/lb: of a rated softener, and the stricter one.
    pub lines: (f64, f64),
    /// Each course.
    pub outcomes: Vec<Outcome>,
    /// The course that the verdict names.
    pub advised: Course,
    /// The advised course at other doses.
    pub doses: Vec<Outcome>,
    /// Index of the best of those.
    pub best_dose: Option<usize>,
    /// Least dose for water that must be soft throughout, g/L, where leakage cannot be reckoned.
    pub least_dose: f64,
    /// Most hardness that may come through, mg/L as CaCO3, where leakage is reckoned.
    pub leakage_most: Option<f64>,
    /// Share that may go round the softener, where a blended hardness is wanted.
    pub bypass: Option<f64>,
}

/// What outcomes are reckoned from; a copy with one figure moved shows what that figure weighs.
#[derive(Clone, Copy, Debug)]
pub struct Basis {
    /// Total capacity of new resin, eq/L.
    pub total_of_new: f64,
    /// Salt dose, g/L.
    pub dose: f64,
    /// Compensated hardness, mg/L as CaCO3.
    pub hardness: Option<f64>,
    /// Heaviest day, L.
    pub daily: Option<f64>,
    /// Softened in a year, L.
    pub yearly: Option<f64>,
    /// Share of the run kept back where no day's use is known.
    pub reserve: f64,
    /// Step of the meter, L.
    pub step: f64,
    /// Litres of water for each litre of resin.
    pub water: f64,
    /// Most days between regenerations, whatever the meter says; infinite where no override was told.
    pub most_days: f64,
    /// All cations of the feed, eq/L, and the resin's selectivity for hardness among them.
    pub salts: Option<(f64, f64)>,
    /// Times the curve.
    pub curve_factor: f64,
}

impl Basis {
    /// Works out a course: volume in L, share of new capacity.
    pub fn outcome(&self, course: Course, volume: f64, share: Spread, curve: &Curve) -> Option<Outcome> {
        let at = |share: f64| {
            let capacity = softening::capacity_of_used(curve, self.dose, share, self.total_of_new)? * self.curve_factor;
            Some(capacity.min(self.dose / softening::SALT_MOLAR_MASS))
        };
        let best = at(share.best)?;
        let down = (best - at(share.low).unwrap_or(best)) / best;
        let up = (at(share.high).unwrap_or(best) - best) / best;
        // Independent errors add as squares.
        let capacity = Spread {
            low: best * (1.0 - down.hypot(curve.spread)),
            best,
            high: (best * (1.0 + up.hypot(curve.spread))).min(self.dose / softening::SALT_MOLAR_MASS),
        };
        let salt = self.dose * volume / 1000.0;
        let run = self
            .hardness
            .map(|hardness| capacity.map(|capacity| softening::run(capacity, volume, hardness).unwrap_or(0.0)));
        let reserve = run.map(|run| self.daily.unwrap_or(run.best * self.reserve));
        let meter = run.zip(reserve).map(|(run, reserve)| softening::meter(run.best, reserve, self.step));
        let days = meter.zip(self.daily).map(|(meter, daily)| meter / daily);
        let water = self.water * volume;
        let year = self.yearly.zip(meter.filter(|meter| *meter > 0.0)).map(|(softened, meter)| {
            let regenerations = (softened / meter).max(DAYS_PER_YEAR / self.most_days);
            Year {
                water_softened: softened,
                regenerations,
                salt: regenerations * salt,
                water: regenerations * water,
                chloride: softening::chloride(regenerations * salt),
            }
        });
        let efficiency = softening::efficiency(best, self.dose);
        let sites = share.best * self.total_of_new;
        let leakage = self
            .salts
            .and_then(|(salts, selectivity)| softening::leakage(1.0 - best / sites, sites, salts, selectivity));
        Some(Outcome {
            course,
            volume,
            share,
            capacity,
            salt,
            efficiency,
            leakage,
            run,
            reserve,
            meter,
            days,
            water,
            year,
        })
    }
}

/// The salt dose in g/L: as told, else from the salt of a regeneration, else the default.
fn dose(facts: &Facts<'_>, volume: Option<f64>) -> (Option<f64>, bool) {
    if facts.bed.known(Fact::SaltDose).is_none()
        && let Some((salt, volume)) = facts.bed.known(Fact::SaltPerRegeneration).zip(volume)
    {
        facts.look(Fact::SaltPerRegeneration);
        return (Some(salt.value * 1000.0 / volume), false);
    }
    let assumed = facts.bed.known(Fact::SaltDose).is_none();
    if assumed {
        facts.ask(Fact::SaltPerRegeneration);
    }
    (facts.look(Fact::SaltDose), assumed)
}

/// Most days between regenerations: fewer where iron would lie on the resin.
pub fn most_days(facts: &Facts<'_>) -> Option<f64> {
    let iron = has_iron(facts)?;
    facts.look(if iron { Fact::DayOverrideIron } else { Fact::DayOverride })
}

/// The day override where somebody told it: a default says what to set, not how the valve has been run.
fn override_told(facts: &Facts<'_>) -> Option<f64> {
    let fact = if has_iron(facts)? { Fact::DayOverrideIron } else { Fact::DayOverride };
    facts.bed.known(fact).map(|known| known.value)
}

/// Whether there is iron enough in the water to matter.
pub fn has_iron(facts: &Facts<'_>) -> Option<bool> {
    Some(facts.look(Fact::FeedIron)? >= facts.look(Fact::IronFrom)?)
}

/// The curve by its id, else the one for the class.
///
/// # Errors
/// [`PlanError::NoCurve`] for an id that is not there.
pub fn curve<'k>(
    knowledge: &'k Knowledge,
    asked: Option<&str>,
    class: &Class,
) -> Result<Option<(&'k str, &'k Curve)>, PlanError> {
    let Some(asked) = asked else {
        let fits = |(_, curve): &(&str, &Curve)| curve.classes.contains(&class.id);
        // A class's own curve goes before one that serves several.
        return Ok(knowledge.curve_list().filter(fits).max_by_key(|(_, curve)| curve.classes.len()));
    };
    knowledge.curve_list().find(|(id, _)| *id == asked).map(Some).ok_or_else(|| PlanError::NoCurve {
        found: asked.to_owned(),
        known: knowledge.curve_list().map(|(id, _)| id).collect::<Vec<_>>().join(", "),
    })
}

/// Compensated hardness with a factor for iron, mg/L as CaCO3.
fn compensated(facts: &Facts<'_>, iron_factor: Option<f64>) -> Option<f64> {
    let hardness = facts.want(Fact::FeedHardness)?;
    let iron = facts.look(Fact::FeedIron)?;
    let factor = iron_factor.or_else(|| facts.look(Fact::IronFactor))?;
    let manganese = (facts.look(Fact::FeedManganese)?, facts.look(Fact::ManganeseFactor)?);
    Some(softening::compensated_hardness(hardness, (iron, factor), manganese))
}

/// All cations of the feed in eq/L, and the resin's selectivity for hardness among them.
fn salts(facts: &Facts<'_>) -> Option<(f64, f64)> {
    let solids = facts.want(Fact::FeedTds)? / 1000.0 / softening::SALT_MOLAR_MASS;
    // Solids that are less than the hardness among them were not reckoned as salt.
    let hardness = facts.look(Fact::FeedHardness).unwrap_or(0.0) / 1000.0 / CACO3_GRAMS_PER_EQUIVALENT;
    Some((solids.max(hardness), facts.look(Fact::HardnessSelectivity)?))
}

/// What a softener does under each course.
///
/// # Errors
/// Figures beyond chemistry, a curve that is not there, or a dose below it.
pub fn softening(
    facts: &Facts<'_>,
    shape: &Geometry,
    top_off: &TopOff,
    class: &Class,
    asked: Option<&str>,
) -> Result<Option<(Softening, Basis)>, PlanError> {
    let Some((id, curve)) = curve(facts.knowledge, asked, class)? else { return Ok(None) };
    let Some(total_of_new) = total_of_new(class) else { return Ok(None) };
    let volume = top_off.regenerated.map(|volume| volume.best);
    let (Some(volume), (Some(dose), dose_assumed)) = (volume, dose(facts, volume)) else {
        facts.ask(Fact::BedVolume);
        facts.ask(Fact::FeedHardness);
        return Ok(None);
    };
    let hardness = compensated(facts, None);
    refuse_beyond_chemistry(facts, hardness, volume, total_of_new)?;
    let least = curve.points.first().map_or(0.0, |point| point[0]);
    if softening::capacity_of_new(curve, dose).is_none() {
        return Err(PlanError::DoseBelowCurve { dose, low: least * DOSE_PER_LB_FT3, pounds: least });
    }
    let daily = facts.want(Fact::DailyUse);
    let yearly = facts.look(Fact::YearlyUse).or_else(|| Some(daily? * DAYS_PER_YEAR));
    let basis = Basis {
        total_of_new,
        dose,
        hardness,
        daily,
        yearly,
        reserve: if daily.is_none() { facts.look(Fact::Reserve).unwrap_or(0.0) } else { 0.0 },
        step: facts.look(Fact::MeterStep).unwrap_or(0.0),
        water: facts.look(Fact::WaterPerRegeneration).unwrap_or(0.0),
        most_days: override_told(facts).unwrap_or(f64::INFINITY),
        salts: salts(facts),
        curve_factor: 1.0,
    };
    let courses = courses(facts, shape, top_off);
    let outcomes: Vec<Outcome> =
        courses.iter().filter_map(|(course, volume, share)| basis.outcome(*course, *volume, *share, curve)).collect();
    let advised = advised(facts, &outcomes);
    let now = courses.iter().find(|(course, _, _)| *course == advised).copied();
    let doses: Vec<Outcome> = now.map_or_else(Vec::new, |(course, volume, share)| {
        let at = |pounds: &f64| {
            let dose = pounds * DOSE_PER_LB_FT3;
            Basis { dose, ..basis }.outcome(course, volume, share, curve)
        };
        facts.knowledge.doses().iter().filter_map(at).collect()
    });
    let least_dose = facts.look(Fact::LeastDose).unwrap_or(0.0);
    let leakage_most = basis.salts.and_then(|_| facts.look(Fact::LeakageMost));
    // Salt goes further the less there is of it, so the best dose is the least that quality and a day's run allow.
    let best_dose = doses.iter().position(|outcome| {
        let dose = outcome.salt * 1000.0 / outcome.volume;
        let soft = match outcome.leakage.zip(leakage_most) {
            Some((leakage, most)) => leakage <= most,
            None => dose >= least_dose * (1.0 - 1e-6),
        };
        soft && outcome.days.is_none_or(|days| days >= 1.0)
    });
    let iron_range = iron_range(facts, &basis, &courses, curve);
    let bypass = facts.look(Fact::BlendHardness).and_then(|wanted| {
        softening::bypass_share(facts.look(Fact::FeedHardness)?, facts.look(Fact::OutletHardness)?, wanted)
    });
    let lines =
        (facts.look(Fact::EfficiencyRated).unwrap_or(f64::NAN), facts.look(Fact::EfficiencyStrict).unwrap_or(f64::NAN));
    let softening = Softening {
        curve: id.to_owned(),
        curve_name: curve.name.clone(),
        curve_source: curve.source.clone(),
        curve_spread: curve.spread,
        dose,
        dose_assumed,
        hardness: facts.look(Fact::FeedHardness),
        compensated: hardness,
        iron_range,
        stoichiometric: softening::stoichiometric_efficiency(),
        lines,
        outcomes,
        advised,
        doses,
        best_dose,
        least_dose,
        leakage_most,
        bypass,
    };
    Ok(Some((softening, basis)))
}

/// Volume and share of each course that there is.
pub fn courses(facts: &Facts<'_>, shape: &Geometry, top_off: &TopOff) -> Vec<(Course, f64, Spread)> {
    let bed = facts.bed;
    let mut courses = Vec::new();
    let Some(volume) = top_off.regenerated.map(|volume| volume.best) else { return courses };
    if let Some(share) = bed.about.share {
        courses.push((Course::Keep, volume, share));
    }
    let cleaned = bed.share_cleaned.filter(|_| bed.offered().next().is_some());
    if let Some(share) = cleaned {
        courses.push((Course::Clean, volume, share));
    }
    let (course, old) = match cleaned.filter(|_| bed.is_to_be_cleaned()) {
        Some(share) => (Course::CleanAndTopOff, Some(share)),
        None => (Course::TopOff, bed.about.share),
    };
    if let Some((old, litres)) = old.zip(top_off.litres) {
        courses.push((course, volume + litres, old.map(|share| mixed_share(volume, share, litres))));
    }
    courses.push((Course::Replace, shape.volume_at_startup.unwrap_or(volume), Spread::exact(1.0)));
    courses
}

fn advised(facts: &Facts<'_>, outcomes: &[Outcome]) -> Course {
    let has = |course| outcomes.iter().any(|outcome| outcome.course == course);
    let wanted = match facts.bed.about.verdict {
        Some(Verdict::Replace) => Course::Replace,
        Some(Verdict::TopOff) if has(Course::CleanAndTopOff) => Course::CleanAndTopOff,
        Some(Verdict::TopOff) => Course::TopOff,
        Some(Verdict::Clean) if has(Course::CleanAndTopOff) => Course::CleanAndTopOff,
        Some(Verdict::Clean) => Course::Clean,
        _ if has(Course::TopOff) && facts.bed.is_called_for(Verdict::TopOff) => Course::TopOff,
        _ => Course::Keep,
    };
    if has(wanted) { wanted } else { outcomes.first().map_or(Course::Keep, |outcome| outcome.course) }
}

fn iron_range(
    facts: &Facts<'_>,
    basis: &Basis,
    courses: &[(Course, f64, Spread)],
    curve: &Curve,
) -> Option<[(f64, f64); 2]> {
    facts.bed.known(Fact::FeedIron).filter(|iron| iron.value > 0.0)?;
    let (course, volume, share) = courses.first().copied()?;
    let meter = |factor: f64| {
        let hardness = compensated(facts, Some(factor));
        let outcome = Basis { hardness, ..*basis }.outcome(course, volume, share, curve)?;
        Some((factor, outcome.meter?))
    };
    let [low, high] = facts.knowledge.input(Fact::IronFactor)?.range?;
    Some([meter(low)?, meter(high)?])
}

/// Refuses a run that today's salt or today's resin cannot have done.
fn refuse_beyond_chemistry(
    facts: &Facts<'_>,
    hardness: Option<f64>,
    volume: f64,
    total_of_new: f64,
) -> Result<(), PlanError> {
    let (Some(run), Some(_)) = (facts.bed.known(Fact::Run), hardness) else { return Ok(()) };
    // Iron's factor is a convention: what the resin really takes is the hardness.
    let Some(hardness) = facts.look(Fact::FeedHardness) else { return Ok(()) };
    let taken = run.value * hardness / 1000.0 / CACO3_GRAMS_PER_EQUIVALENT;
    let salt = facts.bed.known(Fact::SaltPerRegeneration).map(|salt| salt.value).or_else(|| {
        let dose = facts.bed.known(Fact::SaltDose)?;
        Some(dose.value * volume / 1000.0)
    });
    if let Some(salt) = salt {
        let found = softening::efficiency(taken, salt * 1000.0);
        let most = softening::stoichiometric_efficiency();
        if found > most {
            return Err(PlanError::BeyondSalt { found, most });
        }
    }
    let found = taken / volume;
    if found > total_of_new {
        let what = "the water between regenerations".to_owned();
        return Err(PlanError::BeyondSites { what, found, most: total_of_new });
    }
    Ok(())
}

/// kgr/ft³ as CaCO3 of a capacity in eq/L.
pub fn kilograins(capacity: f64) -> f64 {
    capacity / EQ_PER_KGR_FT3
}
