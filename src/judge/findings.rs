//! What the rules found: calls for a verdict, grades, reasons, causes and cautions.
//!
//! In a draw only the calls matter, and no words are made: [`Findings::quiet`] skips them.

use super::case::Case;
use super::grade::{Grade, GradeNew, mark, measure_of};
use super::slot::Slot;
use crate::place::Where;
use crate::record::Qualifier;
use serde::Serialize;

/// What a rule calls for, the strongest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[repr(usize)]
pub enum Call {
    /// The report contradicts itself: ask the laboratory.
    Ask,
    /// Take the resin out.
    Replace,
    /// The deciding test was not run.
    Test,
    /// Clean it.
    Clean,
    /// Add the beads that are missing.
    TopOff,
    /// Too little was measured to say that the bed is sound.
    TooLittle,
}

/// The calls in the order of their strength.
pub const CALLS: [Call; 6] = [Call::Ask, Call::Replace, Call::Test, Call::Clean, Call::TopOff, Call::TooLittle];

/// How much a reason weighs; the deciding ones are told first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// It decides.
    Decides,
    /// It supports, or points to the cause.
    Supports,
    /// It should be known.
    Notes,
}

/// One reason.
#[derive(Clone, Debug, PartialEq)]
pub struct Reason {
    /// How much it weighs.
    pub weight: Weight,
    /// The rule that gave it.
    pub rule: &'static str,
    /// What the rule called for.
    pub call: Option<Call>,
    /// In words.
    pub text: String,
}

/// One cause with what speaks for it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Cause {
    /// Permanent id.
    pub cause: String,
    /// 0 to 1.
    pub strength: f64,
    /// What speaks for it.
    pub evidence: Vec<String>,
}

/// All that the rules found in one case.
#[derive(Debug, Default)]
pub struct Findings {
    quiet: bool,
    calls: [Option<&'static str>; 6],
    /// Rules that fired.
    pub fired: Vec<&'static str>,
    /// Grades.
    pub grades: Vec<Grade>,
    /// Reasons.
    pub reasons: Vec<Reason>,
    /// Causes.
    pub causes: Vec<Cause>,
    /// Cautions by id.
    pub cautions: Vec<&'static str>,
    /// Tests that would tell more, the most telling first.
    pub missing: Vec<&'static str>,
}

impl Findings {
    /// Findings that keep only the calls.
    pub fn quiet() -> Self {
        Self { quiet: true, ..Self::default() }
    }

    /// Forgets everything, for the next draw.
    pub fn clear(&mut self) {
        self.calls = [None; 6];
    }

    /// Calls for a verdict.
    pub fn call(&mut self, call: Call, rule: &'static str) {
        if let Some(place) = self.calls.get_mut(call as usize) {
            place.get_or_insert(rule);
        }
        self.fire(rule);
    }

    /// The rule that first made a call.
    pub fn called(&self, call: Call) -> Option<&'static str> {
        self.calls.get(call as usize).copied().flatten()
    }

    /// The strongest call.
    pub fn strongest(&self) -> Option<(Call, &'static str)> {
        CALLS.iter().find_map(|call| self.called(*call).map(|rule| (*call, rule)))
    }

    /// Notes that a rule fired.
    pub fn fire(&mut self, rule: &'static str) {
        if !self.quiet && !self.fired.contains(&rule) {
            self.fired.push(rule);
        }
    }

    /// Whether words are wanted.
    pub fn wants_words(&self) -> bool {
        !self.quiet
    }

    /// Gives a reason.
    pub fn say(&mut self, weight: Weight, rule: &'static str, call: Option<Call>, text: impl FnOnce() -> String) {
        if !self.quiet {
            self.fire(rule);
            let reason = Reason { weight, rule, call, text: text() };
            if !self.reasons.contains(&reason) {
                self.reasons.push(reason);
            }
        }
    }

    /// Points to a cause; several pointers add up as chances do.
    pub fn cause(&mut self, id: &str, strength: f64, evidence: impl FnOnce() -> String) {
        if self.quiet {
            return;
        }
        let strength = strength.clamp(0.0, 1.0);
        let evidence = evidence();
        match self.causes.iter_mut().find(|cause| cause.cause == id) {
            Some(cause) => {
                cause.strength = 1.0 - (1.0 - cause.strength) * (1.0 - strength);
                cause.evidence.push(evidence);
            }
            None => self.causes.push(Cause { cause: id.to_owned(), strength, evidence: vec![evidence] }),
        }
    }

    /// Asks for a caution.
    pub fn caution(&mut self, id: &'static str) {
        if !self.quiet && !self.cautions.contains(&id) {
            self.cautions.push(id);
        }
    }

    /// Names a test that would tell more.
    pub fn missing(&mut self, property: &'static str) {
        if !self.quiet && !self.missing.contains(&property) {
            self.missing.push(property);
        }
    }

    /// Grades a slot on its band; nothing where there is no figure, no band or nothing to compare with.
    pub fn grade(&mut self, case: &Case<'_>, slot: Slot, rule: &'static str, weighs: bool) {
        if self.quiet {
            return;
        }
        let (Some(value), Some(band), Some(figure)) =
            (case.get(slot), case.info.band(slot), case.info.figures.get(slot))
        else {
            return;
        };
        let share = case.share(slot);
        let Some(measure) = measure_of(band, value, share, case.moisture_rise(), case.moisture_fall()) else { return };
        let (grade, score) = mark(band, measure);
        let measurement = case.info.record.measurements.get(figure.index);
        self.grades.push(Grade {
            property: slot.property().to_owned(),
            basis: slot.basis().map(str::to_owned),
            form: figure.form.clone(),
            qualifier: if figure.converted.is_some() { Qualifier::Equal } else { figure.qualifier },
            value,
            unit: slot.unit().to_owned(),
            place: measurement.map(|m| m.place.clone()).unwrap_or_default(),
            new: figure.new.as_ref().map(|new| GradeNew {
                low: new.low,
                high: new.high,
                typical: new.typical,
                from: new.from,
                source: new.source.clone(),
            }),
            percent_of_new: share.filter(|_| slot.is_capacity()).map(|share| share * 100.0),
            grade,
            score,
            rule: rule.to_owned(),
            // A figure that no resin of the class can have says nothing of its wear.
            weighs: weighs
                && share.is_none_or(|share| !slot.is_capacity() || share <= case.info.limits().capacity_ceiling),
            calculated: figure.converted.is_some(),
            band: band.source_words(),
        });
    }

    /// Grades a figure that was worked out of others and stands nowhere in the report.
    pub fn grade_worked_out(&mut self, case: &Case<'_>, slot: Slot, share: f64, rule: &'static str) {
        if self.quiet {
            return;
        }
        let (Some(new), Some(band)) = (case.n.get(slot), case.info.band(slot)) else { return };
        let (grade, score) = mark(band, share * 100.0);
        self.grades.push(Grade {
            property: slot.property().to_owned(),
            basis: slot.basis().map(str::to_owned),
            form: None,
            qualifier: Qualifier::Equal,
            value: share * new,
            unit: slot.unit().to_owned(),
            place: Where::default(),
            new: None,
            percent_of_new: Some(share * 100.0),
            grade,
            score,
            rule: rule.to_owned(),
            weighs: true,
            calculated: true,
            band: band.source_words(),
        });
    }
}
