//! One bed as the model sees it: numbers in slots, what they are compared with, and what is known about the bed.
//!
//! [`Info`] is made once for a record; a [`Case`] is one set of numbers within it, and is copied for every draw.

use super::figures::Figures;
use super::limits::Limits;
use super::policy::{Band, Policy};
use super::slot::{COUNT, Slot, Values};
use super::{Context, baseline, words};
use crate::record::{Record, Sample};
use crate::specs::{Class, Fact, Family, Structure};

/// Whether a core was pulled from a regenerated or an exhausted bed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// Pulled after regeneration.
    Regenerated,
    /// Pulled at the end of a run.
    Exhausted,
    /// Not said.
    Unknown,
}

/// What stays the same over all draws of a record.
pub struct Info<'a> {
    /// The class that the record is judged by.
    pub class: &'a Class,
    /// Limits, bands and words.
    pub policy: &'a Policy,
    /// The figures with their readings.
    pub figures: &'a Figures,
    /// Who, where, when.
    pub sample: &'a Sample,
    /// Where the figures stand in the report.
    pub record: &'a Record,
    /// Regenerated or exhausted.
    pub state: State,
    /// Years in service.
    pub age: Option<f64>,
    /// Metals were measured, so that an unexplained loss is not theirs.
    pub metals_known: bool,
    /// Organic matter was measured.
    pub organics_known: bool,
    /// The form of the moisture figure is known.
    pub moisture_form_known: bool,
    /// A cleaning has gone before this sample.
    pub cleaned: bool,
    /// The laboratory may still have the sample.
    pub kept: bool,
    /// Density of the dry polymer, g/mL.
    pub skeleton: f64,
    /// Exchange sites of new resin, eq/kg dry.
    pub sites: Option<f64>,
    /// Lower and upper end of what an exhausted bed stands lower by.
    pub shrinkage: (f64, f64),
    /// What the unmeasured strong and weak sites are compared with.
    pub new: Values,
    /// Share of new capacity that is lost and cannot be restored, from which a bed of this class is replaced.
    pub loss_replace: f64,
    bands: [Option<&'a Band>; COUNT],
}

/// What the model does not know and the draws vary.
#[derive(Clone, Copy, Debug)]
pub struct Knobs {
    /// Share that metals block of the sites that they could hold at most.
    pub metals_block: f64,
    /// Share of metal-blocked sites that a cleaning restores.
    pub restored: f64,
    /// Share of organically fouled sites that a cleaning restores.
    pub organics_restored: f64,
    /// Share of an unexplained loss that a cleaning restores while foulants were not measured.
    pub unknown_restored: f64,
    /// Share of the weak sites gained that are fouled strong ones, where organic matter is up.
    pub weak_is_fouling: f64,
    /// What the bed stands lower by for its state.
    pub shrinkage: f64,
}

/// One set of numbers of a record.
#[derive(Clone, Copy)]
pub struct Case<'a> {
    /// Figures.
    pub v: Values,
    /// What they are compared with.
    pub n: Values,
    /// Highest and lowest moisture of new resin.
    pub new_moisture: (f64, f64),
    /// What the draws vary beside the figures.
    pub knobs: Knobs,
    /// What stays the same.
    pub info: &'a Info<'a>,
}

impl<'a> Info<'a> {
    /// Gathers what a record says of its bed.
    pub fn new(
        record: &'a Record,
        class: &'a Class,
        policy: &'a Policy,
        figures: &'a Figures,
        context: &Context<'_>,
    ) -> Self {
        let known = |slots: &[Slot]| slots.iter().any(|slot| figures.get(*slot).is_some());
        let form = Some(class.standard_form.as_str());
        let of_class = |slot| baseline::of_class(class, slot, form).and_then(|new| new.reference(slot));
        let mut new = Values::default();
        for slot in Slot::ALL.iter().copied().filter(|slot| !slot.is_field()) {
            let own = figures.get(slot).map(|figure| figure.new.as_ref().and_then(|new| new.reference(slot)));
            let unmeasured = || baseline::find(slot, form, None, Some(class), context).and_then(|n| n.reference(slot));
            new.set(slot, own.unwrap_or_else(unmeasured));
        }
        let limits = &policy.limits;
        let moisture_form = figures.get(Slot::Moisture).and_then(|figure| figure.form.clone());
        let density_form = moisture_form.as_deref().or(form);
        let true_density =
            baseline::of_class(class, Slot::TrueDensity, density_form).and_then(|n| n.reference(Slot::TrueDensity));
        let skeleton = true_density
            .zip(new.get(Slot::Moisture))
            .map(|(density, water)| (1.0 - water / 100.0) / (1.0 / density - water / 100.0))
            // A pairing of two products' figures can leave no density that polymer has.
            .filter(|skeleton| (1.3..2.2).contains(skeleton))
            .unwrap_or(limits.skeleton_density);
        let sites = new.get(Slot::TotalDry).or_else(|| {
            let matter = of_class(Slot::BulkDensity)? / 1000.0 * (1.0 - of_class(Slot::Moisture)? / 100.0);
            Some(of_class(Slot::TotalVolume)? / matter)
        });
        let state = match record.sample.cycle_state.as_deref() {
            Some("regenerated") => State::Regenerated,
            Some("exhausted") => State::Exhausted,
            _ => State::Unknown,
        };
        let bands = std::array::from_fn(|index| {
            let slot = Slot::ALL.get(index).copied().filter(|slot| !slot.is_field())?;
            policy.band(slot.property(), slot.basis(), class.family)
        });
        Self {
            class,
            policy,
            figures,
            sample: &record.sample,
            record,
            state,
            age: figures.get(Slot::ServiceAge).map(super::figures::Figure::at).or_else(|| {
                super::dates::years_between(record.sample.installed_on.as_deref(), context.judged_on(record).as_deref())
            }),
            metals_known: known(&[Slot::Iron]),
            organics_known: known(&[Slot::OrganicsToc, Slot::OrganicsCod, Slot::OrganicsPermanganate]),
            moisture_form_known: figures.get(Slot::Moisture).is_some_and(|figure| {
                figure.form_known || figure.new.as_ref().is_some_and(|new| new.from == baseline::From::Report)
            }),
            kept: super::dates::years_between(context.judged_on(record).as_deref(), context.today)
                .is_none_or(|years| years * 12.0 <= limits.sample_kept),
            cleaned: record.sample.condition.as_deref() == Some("after-cleaning"),
            skeleton,
            sites,
            shrinkage: (
                class.fact("exhausted_shrinkage_low").unwrap_or(0.0),
                class.fact("exhausted_shrinkage_high").unwrap_or(0.0),
            ),
            new,
            loss_replace: loss_replace(class, policy),
            bands,
        }
    }

    /// The limits.
    pub fn limits(&self) -> &'a Limits {
        &self.policy.limits
    }

    /// Share of new capacity lost from which the cause is looked for.
    pub fn loss_watch(&self) -> f64 {
        let limits = self.limits();
        if self.class.family == Family::Sba { limits.strong_loss_watch } else { limits.capacity_loss_watch }
    }

    /// The replace limit with its source, as a sentence.
    pub fn loss_replace_words(&self) -> String {
        if let Some(fact) = own_loss_replace(self.class, self.policy) {
            return format!("The limit for this class is {} ({}).", words::percent(fact.value), fact.source);
        }
        let name = if self.class.family == Family::Sba { "strong_loss_replace" } else { "capacity_loss_replace" };
        self.policy.limit(name).map_or_else(String::new, |limit| {
            let own = limit
                .instead_of
                .map_or(String::new(), |before| format!(", overridden from {}", words::percent(before)));
            format!("The limit is {} ({}{own}).", words::percent(limit.value), limit.source)
        })
    }

    /// The band that grades a slot, for this family.
    pub fn band(&self, slot: Slot) -> Option<&'a Band> {
        self.bands.get(slot as usize).copied().flatten()
    }

    /// Family of the class.
    pub fn family(&self) -> Family {
        self.class.family
    }

    /// Whether the moisture scale of gel strong-acid resins holds.
    pub fn is_gel_cation(&self) -> bool {
        self.class.family == Family::Sac && self.class.structure == Structure::Gel
    }

    /// The numbers that the verdict is found with.
    pub fn central(&'a self) -> Case<'a> {
        let mut v = Values::default();
        for (slot, figure) in &self.figures.by_slot {
            v.set(*slot, Some(figure.at()));
        }
        let limits = self.limits();
        let moisture = self.figures.get(Slot::Moisture).and_then(|figure| figure.new.as_ref());
        let middle = self.new.get(Slot::Moisture);
        let end = |value: Option<f64>| value.or(middle).unwrap_or(f64::NAN);
        let shrinkage = match self.state {
            State::Regenerated => 0.0,
            State::Exhausted => (self.shrinkage.0 + self.shrinkage.1) / 2.0,
            // With the state unknown the whole form shift could be in the figure; no new resin on that ground.
            State::Unknown => self.shrinkage.1.max(0.0),
        };
        Case {
            v,
            n: self.new,
            new_moisture: (end(moisture.and_then(baseline::New::lower)), end(moisture.and_then(baseline::New::upper))),
            knobs: Knobs {
                metals_block: limits.metals_block_best,
                restored: limits.cleaning_restores_best,
                organics_restored: limits.organics_restored_best,
                unknown_restored: limits.unknown_restored_best,
                weak_is_fouling: limits.weak_gain_is_fouling,
                shrinkage,
            },
            info: self,
        }
    }
}

/// The class's own limit, where its resins wear as no other's do; a limit that the user has set goes before it.
/// Share of new capacity lost, for good, from which a bed of a class is replaced.
///
/// ```
/// use beadwise::judge::{Context, loss_replace};
/// let context = Context::builtin()?;
/// let limit = |id| context.specs.class(id).map(|class| loss_replace(class, context.policy));
/// // UFC 3-240-13FN, 2-2.5.1.4.4: a quarter.
/// assert_eq!(limit("sac-gel-8"), Some(0.25));
/// // A type 2 anion resin carries its own.
/// assert_eq!(limit("sba2-gel"), Some(0.45));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn loss_replace(class: &Class, policy: &Policy) -> f64 {
    match (class.family, own_loss_replace(class, policy)) {
        (_, Some(own)) => own.value,
        (Family::Sba, None) => policy.limits.strong_loss_replace,
        _ => policy.limits.capacity_loss_replace,
    }
}

fn own_loss_replace<'a>(class: &'a Class, policy: &Policy) -> Option<&'a Fact> {
    let users = policy.limit("strong_loss_replace").is_some_and(|limit| limit.instead_of.is_some());
    class.facts.get("strong_loss_replace").filter(|_| class.family == Family::Sba && !users)
}

impl Case<'_> {
    /// The figure of a slot.
    pub fn get(&self, slot: Slot) -> Option<f64> {
        self.v.get(slot)
    }

    /// The figure of a slot as a share of new.
    pub fn share(&self, slot: Slot) -> Option<f64> {
        let new = self.n.get(slot).filter(|new| *new > 0.0)?;
        self.figure_share(slot, new)
    }

    fn figure_share(&self, slot: Slot, new: f64) -> Option<f64> {
        self.get(slot).map(|value| value / new)
    }

    /// The first of several slots that can be compared, with its share of new.
    pub fn first_share(&self, slots: &[Slot]) -> Option<(Slot, f64)> {
        slots.iter().find_map(|slot| self.share(*slot).map(|share| (*slot, share)))
    }

    /// Points of moisture above the most that new resin shows; negative when below it.
    pub fn moisture_rise(&self) -> Option<f64> {
        self.get(Slot::Moisture).map(|water| water - self.new_moisture.1).filter(|rise| !rise.is_nan())
    }

    /// Points of moisture below the least that new resin shows; negative when above it.
    pub fn moisture_fall(&self) -> Option<f64> {
        self.get(Slot::Moisture).map(|water| self.new_moisture.0 - water).filter(|fall| !fall.is_nan())
    }

    /// Whether a foulant is at or past the cut where its grade of watch begins.
    pub fn is_watch(&self, slot: Slot) -> bool {
        self.get(slot).zip(self.info.band(slot)).is_some_and(|(value, band)| value > band.watch())
    }

    /// Whether a foulant is past the cut where it is poor.
    pub fn is_poor(&self, slot: Slot) -> bool {
        self.get(slot).zip(self.info.band(slot)).is_some_and(|(value, band)| value > band.poor())
    }

    /// How strongly a foulant past its watch cut points to its cause, in a straight line from cut to cut.
    pub fn foulant_strength(&self, slot: Slot) -> f64 {
        let limits = self.info.limits();
        let Some((value, band)) = self.get(slot).zip(self.info.band(slot)) else { return 0.0 };
        let steps = [
            (band.watch(), limits.strength_watch),
            (band.poor(), limits.strength_poor),
            (band.spent(), limits.strength_most),
        ];
        let between = steps.windows(2).find_map(|pair| match pair {
            [(low, weak), (high, strong)] if value <= *high => {
                Some(weak + (strong - weak) * ((value - low) / (high - low)).clamp(0.0, 1.0))
            }
            _ => None,
        });
        between.unwrap_or(limits.strength_most)
    }
}
