//! One bed with all that is known of it, in order of time and parted into charges.
//!
//! A charge is what has a history, not a tank: at a rebed the timeline begins anew.

use super::error::StoreError;
use super::filing::taken_on;
use super::log::{BedState, Event, EventKind, Reading};
use super::outlook::Role;
use super::register::Bed;
use super::store::{Store, column};
use crate::judge::{Limits, first_day, years_between};
use crate::record::{FieldFigure, Record};
use serde::Serialize;

/// One fill of resin.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Charge {
    /// ISO date; none where it is not known.
    pub from: Option<String>,
    /// Who says so.
    pub told_by: String,
    /// Class, where the charge has one of its own.
    pub resin_class: Option<String>,
}

/// One analysis under its bed.
#[derive(Clone, Debug, PartialEq)]
pub struct Analysis {
    /// SHA-256 of its report; empty for one that is not filed.
    pub report: String,
    /// ISO date that stands for it.
    pub on: Option<String>,
    /// Whether it counts: a later report may have taken its place.
    pub counts: bool,
    /// The record as read.
    pub record: Record,
    /// Number of its charge.
    pub charge: usize,
}

/// A bed across the years.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Timeline {
    /// The register's entry.
    pub bed: Bed,
    /// Charges in order; there is always one.
    pub charges: Vec<Charge>,
    /// Analyses in order of time, those without a date last.
    pub analyses: Vec<Analysis>,
    /// Readings in order of time.
    pub readings: Vec<Reading>,
    /// Events in order of time.
    pub events: Vec<Event>,
}

impl Store {
    /// All that is known of a bed.
    ///
    /// # Errors
    /// There is no such bed, or the store cannot be read.
    pub fn timeline(&self, called: &str) -> Result<Timeline, StoreError> {
        let bed = self.bed(called)?;
        let analyses = self.run(|db| {
            let mut rows = db.prepare_cached(
                "SELECT report, taken_on, counts, record FROM analysis WHERE bed = ?1
                 ORDER BY taken_on IS NULL, taken_on, report, number",
            )?;
            rows.query_map([&bed.id], |row| {
                Ok(Analysis {
                    report: row.get(0)?,
                    on: row.get(1)?,
                    counts: row.get(2)?,
                    record: column(row, 3)?,
                    charge: 0,
                })
            })?
            .collect::<rusqlite::Result<Vec<_>>>()
        })?;
        let (readings, events) = (self.readings(&bed.id)?, self.events(&bed.id)?);
        Ok(Timeline { bed, charges: Vec::new(), analyses, readings, events }.parted())
    }
}

/// Two dates this close, in years, are told of one fill: a report often rounds to the year.
const SAME_FILL: f64 = 1.0;

impl Timeline {
    /// A bed that no store knows, from reports of it alone.
    ///
    /// ```
    /// use beadwise::{beds::{Bed, Timeline}, judge::example};
    /// let of = |year: i32| example::record(&format!("sampled_on {year}-03-01\nform Na\ntotal_capacity volume 1.90"));
    /// let line = Timeline::of(Bed::named("Mill Street Laundry", "Softener 2"), &[of(2025)?, of(2019)?]);
    /// assert_eq!(line.analyses[0].on.as_deref(), Some("2019-03-01"));
    /// # Ok::<(), String>(())
    /// ```
    pub fn of(bed: Bed, records: &[Record]) -> Self {
        let empty = Self { bed, ..Self::default() }.parted();
        records.iter().fold(empty, |line, record| {
            let (mut line, at) = line.with(record);
            if let Some(analysis) = line.analyses.get_mut(at) {
                analysis.report.clone_from(&record.source.sha256);
            }
            line
        })
    }

    /// The same with one more analysis, which need not be filed, and that analysis' place among the others.
    ///
    /// The filed form of the same sample steps aside for it.
    pub(super) fn with(mut self, record: &Record) -> (Self, usize) {
        let sample = &record.sample;
        self.analyses.retain(|other| {
            let theirs = &other.record.sample;
            record.source.sha256.is_empty()
                || other.record.source.sha256 != record.source.sha256
                || (&theirs.sample_id, &theirs.sampled_on, &theirs.position, &theirs.condition)
                    != (&sample.sample_id, &sample.sampled_on, &sample.position, &sample.condition)
        });
        let on = taken_on(sample);
        let later = |other: &Analysis| match (&other.on, &on) {
            (None, Some(_)) => true,
            (Some(other), Some(on)) => other > on,
            _ => false,
        };
        let at = self.analyses.iter().position(later).unwrap_or(self.analyses.len());
        let analysis = Analysis { report: String::new(), on, counts: true, record: record.clone(), charge: 0 };
        self.analyses.insert(at, analysis);
        (self.parted(), at)
    }

    /// Finds the charges, and which of them each analysis is of.
    fn parted(mut self) -> Self {
        let told = self.analyses.iter().filter(|analysis| analysis.counts).filter_map(|analysis| {
            let told = analysis.record.sample.installed_on.clone()?;
            Some((told, analysis.record.source.file.as_str()))
        });
        let mut charges = charges_of(&self.bed, &self.events, told);
        let first = charges.first().and_then(|charge| charge.from.as_deref()).and_then(first_day);
        let before =
            |on: &Option<String>| on.as_deref().and_then(first_day).zip(first).is_some_and(|(on, first)| on < first);
        if charges.is_empty() || self.analyses.iter().any(|analysis| before(&analysis.on)) {
            charges.insert(0, Charge { from: None, told_by: "nobody".into(), resin_class: None });
        }
        for analysis in &mut self.analyses {
            let on = analysis.on.as_deref().and_then(first_day);
            analysis.charge = charges
                .iter()
                .rposition(|charge| match (charge.from.as_deref().and_then(first_day), on) {
                    (Some(from), Some(on)) => from <= on,
                    (Some(_), None) | (None, _) => true,
                })
                .unwrap_or(0);
        }
        self.charges = charges;
        self
    }

    /// The charge that is in the tank now.
    pub fn current(&self) -> usize {
        self.charges.len().saturating_sub(1)
    }

    /// Class of a charge: its own, else the register's, else what most of its analyses say.
    pub fn class_of(&self, charge: usize) -> Option<String> {
        let own = self.charges.get(charge).and_then(|charge| charge.resin_class.clone());
        own.or_else(|| self.bed.resin_class.clone()).or_else(|| {
            self.analyses
                .iter()
                .rev()
                .find_map(|a| a.record.sample.resin_class.clone().filter(|_| a.charge == charge && a.counts))
        })
    }

    /// The analysis that stands for new resin in a charge: its first, if the charge was young then.
    pub fn baseline(&self, charge: usize, limits: &Limits) -> Option<&Analysis> {
        let from = self.charges.get(charge)?.from.as_deref()?;
        let first = self.analyses.iter().find(|analysis| {
            analysis.charge == charge && analysis.counts && analysis.on.is_some() && analysis.stands_for_bed()
        })?;
        years_between(Some(from), first.on.as_deref()).filter(|age| *age <= limits.baseline_within).map(|_| first)
    }

    /// The record of an analysis with what is known of its bed beside it: the case that is judged.
    ///
    /// What the report says itself is never replaced.
    pub fn case(&self, analysis: &Analysis, limits: &Limits) -> Record {
        let mut record = analysis.record.clone();
        let sample = &mut record.sample;
        let or = |place: &mut Option<String>, known: Option<String>| {
            if place.is_none() {
                *place = known;
            }
        };
        or(&mut sample.site, Some(self.bed.site.clone()).filter(|name| !name.is_empty()));
        or(&mut sample.vessel, Some(self.bed.vessel.clone()).filter(|name| !name.is_empty()));
        or(&mut sample.duty, self.bed.duty.clone());
        or(&mut sample.resin_class, self.class_of(analysis.charge));
        or(&mut sample.installed_on, self.charges.get(analysis.charge).and_then(|charge| charge.from.clone()));
        or(&mut sample.sampled_on, analysis.on.clone());
        sample.drinking_water = sample.drinking_water.or(self.bed.drinking_water);
        let mut add = |quantity: &str, value: Option<f64>, unit: &str, words: &str| {
            let there = record.field.iter().any(|figure| figure.quantity == quantity);
            if let Some(value) = value.filter(|_| !there) {
                record.field.push(FieldFigure {
                    quantity: quantity.to_owned(),
                    value: Some(value),
                    unit: Some(unit.to_owned()),
                    as_written: words.to_owned(),
                    ..FieldFigure::default()
                });
            }
        };
        for (quantity, amount) in [
            ("bed_volume_at_startup", &self.bed.volume),
            ("tank_bore", &self.bed.tank_bore),
            ("freeboard_at_startup", &self.bed.freeboard_at_startup),
        ] {
            if let Some(amount) = amount {
                add(quantity, Some(amount.value), &amount.unit, &amount.as_written);
            }
        }
        for (quantity, amount) in &self.bed.water {
            add(quantity, Some(amount.value), &amount.unit, &amount.as_written);
        }
        let mut state = None;
        for reading in self.readings_near(analysis, limits) {
            if reading.quantity == "freeboard" {
                state = Some(reading.state);
            }
            let words = format!("read at the bed on {}", reading.taken_on);
            add(&reading.quantity, reading.mean(), reading.unit(), &words);
        }
        if record.sample.cycle_state.is_none() {
            record.sample.cycle_state = state.and_then(BedState::word).map(str::to_owned);
        }
        record
    }

    /// Readings that belong to an analysis, the nearest in time first.
    fn readings_near(&self, analysis: &Analysis, limits: &Limits) -> Vec<&Reading> {
        let Some(on) = analysis.on.as_deref().and_then(first_day) else { return Vec::new() };
        let apart = |reading: &Reading| {
            first_day(&reading.taken_on).map_or(f64::INFINITY, |day| {
                f64::from(i32::try_from((day - on).num_days().abs()).unwrap_or(i32::MAX)) / 30.44
            })
        };
        let mut near: Vec<&Reading> =
            self.readings.iter().filter(|reading| apart(reading) <= limits.reading_near).collect();
        near.sort_by(|a, b| apart(a).total_cmp(&apart(b)));
        near
    }
}

/// The charges of a bed by its register, its events and what reports tell: an installation date, and the report's file.
pub(super) fn charges_of<'a>(
    bed: &Bed,
    events: &[Event],
    told: impl Iterator<Item = (String, &'a str)>,
) -> Vec<Charge> {
    let mut charges: Vec<Charge> = Vec::new();
    if let Some(from) = bed.installed_on.clone() {
        charges.push(Charge { from: Some(from), told_by: "the register".into(), resin_class: None });
    }
    for event in events.iter().filter(|event| event.kind == EventKind::Rebedded) {
        charges.push(Charge {
            from: Some(event.happened_on.clone()),
            told_by: "a rebed that was written down".into(),
            resin_class: event.resin_class.clone(),
        });
    }
    // A report that tells of a later filling tells of a rebed that nobody wrote down.
    for (told, file) in told.filter(|(told, _)| first_day(told).is_some()) {
        let near = |charge: &Charge| {
            charge.from.as_deref().is_some_and(|from| {
                years_between(Some(from), Some(&told))
                    .or_else(|| years_between(Some(&told), Some(from)))
                    .is_some_and(|apart| apart < SAME_FILL)
            })
        };
        let first_known = charges.iter().filter_map(|charge| charge.from.as_deref()).min();
        let earlier = first_known.is_some_and(|first| told.as_str() < first);
        if !charges.iter().any(near) && !earlier {
            charges.push(Charge { from: Some(told), told_by: format!("the report {file}"), resin_class: None });
        }
    }
    charges.sort_by_key(|charge| charge.from.as_deref().and_then(first_day));
    charges
}

impl Analysis {
    /// Whether its sample is of the whole bed as it stood, and not of one depth or of a bench trial.
    pub fn stands_for_bed(&self) -> bool {
        Role::of(&self.record.sample) == Role::Bed
    }
}
