//! What is known of one bed, and what is refused.
//!
//! A plain struct of facts: a report fills it, options move it, and a store of beds may fill it as well.

use super::error::PlanError;
use super::knowledge::{Fact, Knowledge};
use crate::judge::{Context, Judgement, Remedy, Verdict};
use crate::record::{Qualifier, Record};
use crate::specs::{Class, Family};
use serde::Serialize;
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

/// Where a figure comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Origin {
    /// The laboratory's report.
    Report,
    /// The user.
    Given,
    /// The history of the bed.
    History,
    /// The default of `grammar/plan.toml`.
    Assumed,
    /// Worked from other figures.
    Worked,
}

/// A figure and where it comes from.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Known {
    /// In the canonical unit of its fact.
    pub value: f64,
    /// Where it comes from.
    pub from: Origin,
}

/// A best value with its ends.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Spread {
    /// Lowest.
    pub low: f64,
    /// Best.
    pub best: f64,
    /// Highest.
    pub high: f64,
}

impl Spread {
    /// A value known exactly.
    pub fn exact(value: f64) -> Self {
        Self { low: value, best: value, high: value }
    }

    /// Each of the three changed alike, by a function that keeps their order.
    pub fn map(self, change: impl Fn(f64) -> f64) -> Self {
        Self { low: change(self.low), best: change(self.best), high: change(self.high) }
    }
}

/// When the bed was measured and sampled.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum State {
    /// After regeneration.
    Regenerated,
    /// At the end of a run.
    Exhausted,
    /// Not said.
    #[default]
    Unknown,
}

/// Whose bed it is, what is in it, and what was said of it.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct About {
    /// Vessel.
    pub vessel: Option<String>,
    /// Site.
    pub site: Option<String>,
    /// Customer.
    pub customer: Option<String>,
    /// Laboratory of the last report.
    pub laboratory: Option<String>,
    /// ISO date of the last sample.
    pub sampled_on: Option<String>,
    /// ISO date of the charge.
    pub installed_on: Option<String>,
    /// Id of the resin class.
    pub class: Option<String>,
    /// `softening`, `nitrate`, ...
    pub duty: Option<String>,
    /// Whether people drink the water.
    pub drinking_water: Option<bool>,
    /// When it was measured and sampled.
    pub state: State,
    /// What to do, by the judgement.
    pub verdict: Option<Verdict>,
    /// What goes with it.
    pub also: Vec<Verdict>,
    /// What must be put right first.
    pub fix_first: Vec<String>,
    /// Cautions of the judgement.
    pub cautions: Vec<String>,
    /// Share of new capacity that is left.
    pub share: Option<Spread>,
    /// When prices were asked, in the user's words.
    pub prices_on: Option<String>,
    /// What has changed since the last analysis, as the store of beds tells it.
    pub since: Vec<String>,
    /// Figures of the report that were doubted, only bounds, or beyond their limits, and so not used.
    pub doubted: Vec<String>,
}

/// What is known of one bed.
///
/// ```
/// use beadwise::plan::{About, Bed, Fact, Known, Origin};
/// let about = About { class: Some("sac-gel-8".to_owned()), ..About::default() };
/// let mut bed = Bed { about, ..Bed::default() };
/// bed.set(Fact::TankBore, Known { value: 0.6096, from: Origin::Given });
/// assert_eq!(bed.known(Fact::TankBore).map(|known| known.value), Some(0.6096));
/// ```
#[derive(Clone, Debug, Default)]
pub struct Bed {
    /// Whose bed it is, what is in it, and what was said of it.
    pub about: About,
    /// Share of new capacity after a cleaning.
    pub share_cleaned: Option<Spread>,
    /// Strong-base capacity, eq/L, of an anion resin.
    pub strong_base: Option<f64>,
    /// Ways of cleaning, the mildest first.
    pub remedies: Vec<Remedy>,
    /// Tests that the last report lacked.
    pub missing: Vec<String>,
    /// Figures, each in the canonical unit of its fact.
    pub facts: BTreeMap<Fact, Known>,
}

impl Bed {
    /// What a report and its judgement say of the bed.
    pub fn from_report(record: &Record, judgement: &Judgement, context: &Context<'_>) -> Self {
        let sample = &record.sample;
        let about = About {
            vessel: sample.vessel.clone().or_else(|| sample.sample_id.clone()),
            site: sample.site.clone(),
            customer: sample.customer.clone(),
            laboratory: sample.laboratory.clone(),
            sampled_on: sample.sampled_on.clone(),
            installed_on: sample.installed_on.clone(),
            class: context.class.map(str::to_owned).or_else(|| sample.resin_class.clone()),
            duty: sample.duty.clone(),
            drinking_water: sample.drinking_water,
            state: match sample.cycle_state.as_deref() {
                Some("regenerated") => State::Regenerated,
                Some("exhausted") => State::Exhausted,
                _ => State::Unknown,
            },
            verdict: Some(judgement.verdict),
            also: judgement.also.clone(),
            fix_first: judgement.fix_first.clone(),
            cautions: judgement.cautions.clone(),
            ..About::default()
        };
        let mut bed =
            Self { about, remedies: judgement.remedy.clone(), missing: judgement.missing.clone(), ..Self::default() };
        // Two standard deviations of a capacity figure are the ends of what is left.
        let sd = 2.0 * context.policy.limits.capacity_sd;
        bed.about.share = judgement.loss.as_ref().map(|loss| {
            let best = (1.0 - loss.total).max(0.0);
            Spread { low: best * (1.0 - sd), best, high: best * (1.0 + sd) }
        });
        bed.share_cleaned = judgement.recovery.as_ref().map(|after| Spread {
            low: after.low.min(after.best),
            best: after.best,
            high: after.high.max(after.best),
        });
        for figure in &record.field {
            let Some(fact) = Fact::by_id(&figure.quantity) else { continue };
            let Some(value) = figure.value else { continue };
            if !figure.doubts.is_empty() || matches!(figure.qualifier, Qualifier::Below | Qualifier::Above) {
                bed.about.doubted.push(format!("{} ({})", fact.id(), figure.as_written));
                continue;
            }
            let value = figure.high.map_or(value, |high| (value + high) / 2.0);
            bed.set(fact, Known { value, from: Origin::Report });
        }
        bed.resin_figures(record, context);
        bed
    }

    fn resin_figures(&mut self, record: &Record, context: &Context<'_>) {
        let sure = |property: &str, basis: Option<&str>| {
            record.all(property, basis).find(|m| m.doubts.is_empty() && m.qualifier == Qualifier::Equal).cloned()
        };
        let class = self.about.class.as_deref().and_then(|id| context.specs.class(id));
        let size = sure("harmonic_mean_size", None).or_else(|| sure("mean_size", None));
        if let Some(value) = size.and_then(|m| m.value) {
            self.set(Fact::BeadSize, Known { value, from: Origin::Report });
        }
        if let Some((class, moisture)) = class.zip(sure("moisture_retention", None)) {
            let form = moisture.form.as_deref().or(Some(class.standard_form.as_str()));
            let figure = class.figure("moisture_retention", None, form);
            let new = figure.and_then(typical);
            // Products of a class differ: only what none of them shows when new counts as swelling.
            let most = figure.and_then(|figure| figure.high.as_ref()).map_or(f64::INFINITY, |bound| bound.value);
            if let Some((value, new)) = moisture.value.zip(new).filter(|(value, _)| *value > most) {
                self.set(Fact::Moisture, Known { value, from: Origin::Report });
                self.set(Fact::MoistureNew, Known { value: new, from: Origin::Worked });
            }
        }
        self.strong_base = sure("salt_splitting_capacity", Some("volume"))
            .and_then(|m| m.value)
            .filter(|_| class.is_some_and(|class| class.family == Family::Sba));
    }

    /// Ways of cleaning that may be offered: where people drink the water, or may, only what is made for that.
    pub fn offered(&self) -> impl Iterator<Item = &Remedy> {
        let dry = self.about.drinking_water == Some(false);
        self.remedies.iter().filter(move |remedy| remedy.drinking_water || dry)
    }

    /// Whether the verdict asks for a cleaning.
    pub fn is_to_be_cleaned(&self) -> bool {
        self.is_called_for(Verdict::Clean)
    }

    /// Whether the verdict is this, or has it beside it.
    pub fn is_called_for(&self, verdict: Verdict) -> bool {
        self.about.verdict == Some(verdict) || self.about.also.contains(&verdict)
    }

    /// Sets a fact.
    pub fn set(&mut self, fact: Fact, known: Known) {
        self.facts.insert(fact, known);
    }

    /// A fact as it was told, without defaults.
    pub fn known(&self, fact: Fact) -> Option<Known> {
        self.facts.get(&fact).copied()
    }

    /// Takes out what a report says beyond its limits, and keeps it among the doubted.
    pub fn without_absurd(&self, knowledge: &Knowledge) -> Self {
        let mut bed = self.clone();
        let beyond: Vec<(Fact, f64)> = bed
            .facts
            .iter()
            .filter(|(fact, known)| {
                let limits = knowledge.input(**fact);
                known.from == Origin::Report
                    && limits.is_some_and(|input| !(input.low..=input.high).contains(&known.value))
            })
            .map(|(fact, known)| (*fact, known.value))
            .collect();
        for (fact, value) in beyond {
            bed.facts.remove(&fact);
            let unit = knowledge.input(fact).map_or("", |input| input.unit.as_str());
            bed.about.doubted.push(format!("{} ({} {unit}, beyond what is taken)", fact.id(), rounded(value)));
        }
        bed
    }

    /// Refuses figures that cannot be meant.
    ///
    /// # Errors
    /// The first figure outside its limits, or a bed that does not go into its tank.
    pub fn check(&self, knowledge: &Knowledge) -> Result<(), PlanError> {
        // What a report says beyond these limits is left out and shown; what a person says is asked back.
        for (fact, known) in self.facts.iter().filter(|(_, known)| known.from != Origin::Report) {
            let Some(input) = knowledge.input(*fact) else { continue };
            let hint = if known.value < input.low {
                input.low_hint.as_deref()
            } else if known.value > input.high || !known.value.is_finite() {
                input.high_hint.as_deref()
            } else {
                continue;
            };
            let hint = hint.map_or(String::new(), |hint| format!(" {hint}"));
            let (unit, low, high) = (&input.unit, input.low, input.high);
            return Err(PlanError::Absurd {
                name: input.name.clone(),
                option: fact.id().replace('_', "-"),
                message: format!("{} {unit} is not from {low} to {high} {unit}.{hint}", rounded(known.value)),
            });
        }
        let at = |fact| self.known(fact).map(|known: Known| known.value);
        if let (Some(freeboard), Some(depth), Some(tank)) =
            (at(Fact::Freeboard), at(Fact::BedDepth), at(Fact::TankHeight))
            && freeboard + depth > tank + at(Fact::Tape).or_else(|| knowledge.input(Fact::Tape)?.default).unwrap_or(0.0)
        {
            return Err(PlanError::TallerThanTank { bed: depth, freeboard, tank });
        }
        for fact in [Fact::Freeboard, Fact::FreeboardAtStartup] {
            if let (Some(freeboard), Some(tank)) = (at(fact), at(Fact::TankHeight))
                && freeboard >= tank
            {
                return Err(PlanError::TallerThanTank { bed: 0.0, freeboard, tank });
            }
        }
        let area = at(Fact::TankBore).map(|bore| std::f64::consts::PI / 4.0 * bore * bore);
        for fact in [Fact::BedVolume, Fact::BedVolumeAtStartup] {
            if let (Some(litres), Some(area), Some(tank)) = (at(fact), area, at(Fact::TankHeight)) {
                let head = at(Fact::BottomHead).unwrap_or(0.0) * at(Fact::TankBore).unwrap_or(0.0).powi(3);
                let depth = (litres / 1000.0 - head) / area;
                if depth > tank {
                    return Err(PlanError::TallerThanTank { bed: depth, freeboard: 0.0, tank });
                }
            }
        }
        Ok(())
    }
}

/// A figure of a message: no more digits than a person would write.
fn rounded(value: f64) -> String {
    format!("{}", (value * 1000.0).round() / 1000.0)
}

fn typical(figure: &crate::specs::NewFigure) -> Option<f64> {
    figure.typical.as_ref().or(figure.low.as_ref()).map(|bound| bound.value)
}

/// What new resin of a class has in all, eq/L, in the form that laboratories test it in.
pub fn total_of_new(class: &Class) -> Option<f64> {
    class.figure("total_capacity", Some("volume"), Some(class.standard_form.as_str())).and_then(typical)
}

/// A bed with the knowledge to fill its gaps, which notes what was assumed and what was missing.
pub struct Facts<'a> {
    /// The bed.
    pub bed: &'a Bed,
    /// Defaults and limits.
    pub knowledge: &'a Knowledge,
    used: RefCell<BTreeMap<Fact, Known>>,
    asked: RefCell<BTreeSet<Fact>>,
}

impl<'a> Facts<'a> {
    /// Of a bed.
    pub fn new(bed: &'a Bed, knowledge: &'a Knowledge) -> Self {
        Self { bed, knowledge, used: RefCell::default(), asked: RefCell::default() }
    }

    /// A fact as told, else its default; noted as missing where there is neither.
    pub fn want(&self, fact: Fact) -> Option<f64> {
        let found = self.look(fact);
        if found.is_none() {
            self.asked.borrow_mut().insert(fact);
        }
        found
    }

    /// A fact as told, else its default; not missed where there is neither.
    pub fn look(&self, fact: Fact) -> Option<f64> {
        let assumed = || {
            let value = self.knowledge.input(fact)?.default?;
            Some(Known { value, from: Origin::Assumed })
        };
        let known = self.bed.known(fact).or_else(assumed)?;
        self.used.borrow_mut().insert(fact, known);
        Some(known.value)
    }

    /// Notes a fact as missing.
    pub fn ask(&self, fact: Fact) {
        self.asked.borrow_mut().insert(fact);
    }

    /// Facts that were used, in the order of their declaration.
    pub fn used(&self) -> Vec<(Fact, Known)> {
        self.used.borrow().iter().map(|(fact, known)| (*fact, *known)).collect()
    }

    /// Facts that were missing.
    pub fn asked(&self) -> Vec<Fact> {
        self.asked.borrow().iter().copied().collect()
    }
}
