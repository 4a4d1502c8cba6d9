//! One bed over the years: what each analysis found, what changed in how it was found, and where it is going.

use super::changes::changes;
use super::log::{Event, EventKind};
use super::outlook::{NewCapacity, Role, Sighting, capacity_trend, lined_up, with_shown};
use super::register::Bed;
use super::rows::plain_figures;
use super::series::{Dated, Track, Trend};
use super::timeline::{Analysis, Charge, Timeline};
use crate::judge::{Context, From, Judgement, Limits, ReplaceBy, Verdict, judge};
use crate::record::Record;
use serde::Serialize;

/// One figure of one analysis.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Shown {
    /// Property of the contract.
    pub property: String,
    /// Basis of the contract.
    pub basis: Option<String>,
    /// Ionic form.
    pub form: Option<String>,
    /// `=`, `<`, `>`, `~` or `range`.
    pub qualifier: String,
    /// In `unit`.
    pub value: Option<f64>,
    /// Canonical unit.
    pub unit: Option<String>,
    /// As the report has it.
    pub as_written: String,
    /// Test method.
    pub method: Option<String>,
    /// Per cent of what it is compared with.
    pub percent_of_new: Option<f64>,
    /// `bed`, `sheet`, `report` or `class`.
    pub new_from: Option<String>,
    /// Whether the reader doubted it: a doubted figure is on no line.
    pub doubted: bool,
}

/// One analysis in a history.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Entry {
    /// ISO date that stands for it; none where the report gives none.
    pub on: Option<String>,
    /// Name of the report's file.
    pub file: String,
    /// SHA-256 of the report.
    pub report: String,
    /// Who analysed it.
    pub laboratory: Option<String>,
    /// The laboratory's number.
    pub report_number: Option<String>,
    /// Where in the bed it was taken.
    pub position: Option<String>,
    /// `as-received` or `after-cleaning`.
    pub condition: Option<String>,
    /// Number of its charge, from 1.
    pub charge: usize,
    /// Whether it counts: a later report may have taken its place.
    pub counts: bool,
    /// What the judgement was.
    pub verdict: Verdict,
    /// How sure.
    pub certainty: f64,
    /// 0 to 100.
    pub score: Option<f64>,
    /// Its figures.
    pub figures: Vec<Shown>,
    /// The file that the same sample stands in too, where an earlier report is of it.
    pub repeats: Option<String>,
    /// What changed since the analysis before it in how things are measured: each can make a false step.
    pub changes: Vec<String>,
}

/// Something measured at the bed, by somebody who stood there or as a report says.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Measured {
    /// ISO date.
    pub on: String,
    /// Field quantity of the contract.
    pub quantity: String,
    /// Mean of the points, in `unit`.
    pub value: f64,
    /// Canonical unit.
    pub unit: String,
    /// Number of points.
    pub points: usize,
    /// Highest less lowest point; none for a single one.
    pub spread: Option<f64>,
    /// `regenerated` or `exhausted`, where it is known.
    pub state: Option<String>,
    /// The rim that a freeboard was taped from.
    pub rim: Option<String>,
    /// File of the report that says so; none for a reading at the bed.
    pub file: Option<String>,
    /// Anything else.
    pub note: Option<String>,
}

impl Entry {
    fn same_sample(&self, other: &Self) -> bool {
        self.counts
            && self.on.is_some()
            && (&self.on, &self.position, &self.condition) == (&other.on, &other.position, &other.condition)
            && (self.charge, self.report != other.report) == (other.charge, true)
    }
}

/// A bed over the years.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct History {
    /// The register's entry.
    pub bed: Bed,
    /// Class of the charge that is in it.
    pub resin_class: Option<String>,
    /// Charges in order.
    pub charges: Vec<Charge>,
    /// Analyses in order of time.
    pub entries: Vec<Entry>,
    /// Events in order of time.
    pub events: Vec<Event>,
    /// What was measured at the bed, in order of time.
    pub readings: Vec<Measured>,
    /// Trends of the charge that is in it: capacity first.
    pub trends: Vec<Trend>,
    /// What should be known of it.
    pub notes: Vec<String>,
}

impl Timeline {
    /// The history of the bed; `context` says by what it is judged, and what day it is.
    pub fn history(&self, context: &Context<'_>) -> History {
        let judged: Vec<Judgement> = self.analyses.iter().map(|analysis| self.judged(analysis, context)).collect();
        let mut entries: Vec<Entry> = Vec::new();
        for (at, (analysis, judgement)) in self.analyses.iter().zip(&judged).enumerate() {
            let before = self
                .analyses
                .iter()
                .take(at)
                .rev()
                .find(|other| other.charge == analysis.charge && other.counts && other.on.is_some());
            let changes = before.map(|before| changes(&before.record, &analysis.record)).unwrap_or_default();
            let mut entry = entry(analysis, judgement, changes);
            entry.repeats = entries.iter().find(|other| other.same_sample(&entry)).map(|other| other.file.clone());
            entries.push(entry);
        }
        for charge in 0..self.charges.len() {
            self.set_against_one(charge, context, &mut entries);
        }
        let trends = self.trends(&judged, context);
        let mut notes = Vec::new();
        let undated = self.analyses.iter().filter(|analysis| analysis.on.is_none()).count();
        if undated > 0 {
            notes.push(format!("Analyses without a date, which are on no line: {undated}."));
        }
        for charge in self.charges.iter().filter(|charge| charge.told_by.starts_with("the report")) {
            notes.push(format!(
                "A filling on {} is told by {} and was not written down: the timeline begins anew there. If it is so, write it down with `beadwise beds event`.",
                charge.from.as_deref().unwrap_or("an unknown day"),
                charge.told_by
            ));
        }
        let current = self.current();
        if self.class_of(current).is_none() {
            notes.push("The class of the resin is not known, so nothing can be compared or foretold: name it with `beadwise beds set`.".to_owned());
        }
        History {
            bed: self.bed.clone(),
            resin_class: self.class_of(current),
            charges: self.charges.clone(),
            entries,
            events: self.events.clone(),
            readings: self.measured(),
            trends,
            notes,
        }
    }

    /// Readings at the bed, and what reports say of it without a doubt.
    fn measured(&self) -> Vec<Measured> {
        let read = self.readings.iter().filter_map(|reading| {
            Some(Measured {
                on: reading.taken_on.clone(),
                quantity: reading.quantity.clone(),
                value: reading.mean()?,
                unit: reading.unit().to_owned(),
                points: reading.points.len(),
                spread: reading.spread(),
                state: reading.state.word().map(str::to_owned),
                rim: reading.rim.clone(),
                file: None,
                note: reading.note.clone(),
            })
        });
        let told = self.analyses.iter().filter(|analysis| analysis.counts).flat_map(|analysis| {
            let plain = analysis.record.field.iter().filter(|figure| figure.doubts.is_empty());
            plain.filter_map(|figure| {
                Some(Measured {
                    on: analysis.on.clone()?,
                    quantity: figure.quantity.clone(),
                    value: figure.value?,
                    unit: figure.unit.clone()?,
                    points: 1,
                    spread: None,
                    state: analysis.record.sample.cycle_state.clone(),
                    rim: None,
                    file: Some(analysis.record.source.file.clone()),
                    note: None,
                })
            })
        });
        let mut all: Vec<Measured> = read.chain(told).collect();
        all.sort_by(|a, b| (&a.on, &a.quantity, &a.file).cmp(&(&b.on, &b.quantity, &b.file)));
        // Three depths of one report all tell of the one bed.
        all.dedup();
        all
    }

    /// Capacities of one charge are all set against one figure, or a change of it would show as a step of the resin.
    fn set_against_one(&self, charge: usize, context: &Context<'_>, entries: &mut [Entry]) {
        let Some(class) = self.class_of(charge).and_then(|id| context.specs.class(&id)) else { return };
        let track = Track::capacity(class, context.policy);
        let (line, _) = lined_up(&self.sightings(charge, &track.property, track.basis.as_deref()));
        let from = self.charges.get(charge).and_then(|charge| charge.from.as_deref());
        let new = NewCapacity::of(&line, &track, class, from, context.policy);
        for entry in entries.iter_mut().filter(|entry| entry.charge == charge + 1) {
            let same = |figure: &&mut Shown| figure.property == track.property && figure.basis == track.basis;
            for figure in entry.figures.iter_mut().filter(same) {
                let form = figure.form.as_deref().unwrap_or_default();
                if let Some(percent) = figure.value.and_then(|value| new.percent(value, form)) {
                    figure.percent_of_new = Some(percent);
                    figure.new_from = Some(if new.own { From::Bed } else { From::Class }.word().to_owned());
                }
            }
        }
    }

    /// Judges one analysis with all that is known of its bed: baseline, freeboard, readings; without the trend.
    fn judged(&self, analysis: &Analysis, context: &Context<'_>) -> Judgement {
        let limits = &context.policy.limits;
        let case = self.case(analysis, limits);
        let first = self.baseline(analysis.charge, limits).filter(|first| first.record != analysis.record);
        let class = self.class_of(analysis.charge);
        let own =
            Context { first: first.map(|first| &first.record), class: context.class.or(class.as_deref()), ..*context };
        judge(&case, &own)
    }

    /// The verdict on one analysis of a known bed: baseline, freeboard and trend are the bed's own.
    ///
    /// The record need not be filed.
    ///
    /// ```
    /// use beadwise::{beds::{Bed, Store}, judge::{Context, From, example}};
    /// let mut store = Store::in_memory()?;
    /// let bed = Bed { resin_class: Some("sac-gel-8".into()), ..Bed::named("Mill Street Laundry", "Softener 2") };
    /// let id = store.add_bed(&bed)?;
    /// let record = example::record("sampled_on 2025-03-01\nform Na\ntotal_capacity volume 1.90\nmoisture_retention 48")?;
    /// let context = Context { today: Some("2025-04-01"), ..Context::builtin()? };
    /// // The report does not say the class: the register does.
    /// let judgement = store.timeline(&id)?.verdict(&record, &context);
    /// assert_eq!(judgement.grades[0].new.as_ref().map(|new| new.from), Some(From::Class));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn verdict(&self, record: &Record, context: &Context<'_>) -> Judgement {
        let (line, at) = self.clone().with(record);
        match line.analyses.get(at) {
            Some(analysis) => line.verdict_on(analysis, context),
            None => judge(record, context),
        }
    }

    fn verdict_on(&self, analysis: &Analysis, context: &Context<'_>) -> Judgement {
        let mut judgement = self.judged(analysis, context);
        let newest = self
            .analyses
            .iter()
            .filter(|other| other.counts && other.charge == analysis.charge)
            .filter_map(|other| other.on.as_ref())
            .max();
        if analysis.on.is_none() || newest != analysis.on.as_ref() {
            return judgement;
        }
        let trend = self.capacity_trend(analysis.charge, context);
        if let Some(trend) = trend.filter(|trend| trend.count > 1) {
            judgement.reasons.push(told(&trend));
            judgement.reasons.extend(trend.notes.iter().skip(1).cloned());
            if matches!(judgement.verdict, Verdict::Keep | Verdict::TopOff) {
                judgement.replace_by = replace_by(&trend);
            }
        }
        judgement
    }

    /// Trends of the charge that is in the tank.
    fn trends(&self, judged: &[Judgement], context: &Context<'_>) -> Vec<Trend> {
        let current = self.current();
        let Some(class) = self.class_of(current).and_then(|id| context.specs.class(&id)) else { return Vec::new() };
        let from = self.charges.get(current).and_then(|charge| charge.from.as_deref());
        let today = context.today.unwrap_or_default();
        let steps = self.steps(current, &context.policy.limits);
        let mut trends: Vec<Trend> = self.capacity_trend(current, context).into_iter().collect();
        for track in Track::others(class, context.policy) {
            let sightings: Vec<Sighting> = if track.property == "score" {
                self.analyses
                    .iter()
                    .zip(judged)
                    .filter(|(analysis, _)| analysis.charge == current && analysis.counts)
                    .filter_map(|(analysis, judgement)| analysis.sighting("", judgement.score?))
                    .collect()
            } else {
                self.sightings(current, &track.property, track.basis.as_deref())
            };
            let standard = class.standard_form.as_str();
            let (line, _) = lined_up(&sightings);
            let figures: Vec<Dated> = line
                .into_iter()
                .filter(|(_, form)| form.is_empty() || form == standard || track.property != "moisture_retention")
                .map(|(dated, _)| dated)
                .collect();
            trends.extend(track.trend(&figures, from, &steps, today, context.policy));
        }
        trends
    }

    fn capacity_trend(&self, charge: usize, context: &Context<'_>) -> Option<Trend> {
        let class = context.specs.class(&self.class_of(charge)?)?;
        let track = Track::capacity(class, context.policy);
        let sightings = self.sightings(charge, &track.property, track.basis.as_deref());
        let from = self.charges.get(charge).and_then(|charge| charge.from.as_deref());
        let today = context.today.unwrap_or_default();
        let steps = self.steps(charge, &context.policy.limits);
        capacity_trend(&sightings, class, from, &steps, today, context.policy).map(|(trend, _)| trend)
    }

    fn sightings(&self, charge: usize, property: &str, basis: Option<&str>) -> Vec<Sighting> {
        self.analyses
            .iter()
            .filter(|analysis| analysis.charge == charge && analysis.counts)
            .filter_map(|analysis| {
                let (.., form, value) = plain_figures(&analysis.record)
                    .find(|(name, on, ..)| *name == property && *on == basis.unwrap_or_default())?;
                analysis.sighting(form, value)
            })
            .collect()
    }

    /// Days in a charge on which it was cleaned: written down, or shown by a sample after a cleaning.
    fn steps(&self, charge: usize, limits: &Limits) -> Vec<String> {
        let from = self.charges.get(charge).and_then(|charge| charge.from.clone());
        let until = self.charges.get(charge + 1).and_then(|charge| charge.from.clone());
        let told: Vec<String> = self
            .events
            .iter()
            .filter(|event| event.kind == EventKind::Cleaned)
            .map(|event| event.happened_on.clone())
            .filter(|on| from.as_ref().is_none_or(|from| on >= from) && until.as_ref().is_none_or(|until| on < until))
            .collect();
        let samples: Vec<Sighting> = self
            .analyses
            .iter()
            .filter(|analysis| analysis.charge == charge && analysis.counts)
            .filter_map(|analysis| analysis.sighting("", 0.0))
            .collect();
        with_shown(&told, lined_up(&samples).1, limits)
    }
}

impl Analysis {
    fn sighting(&self, form: &str, value: f64) -> Option<Sighting> {
        Some(Sighting {
            on: self.on.clone()?,
            role: Role::of(&self.record.sample),
            laboratory: self.record.sample.laboratory.clone(),
            form: form.to_owned(),
            value,
        })
    }
}

fn entry(analysis: &Analysis, judgement: &Judgement, changes: Vec<String>) -> Entry {
    let record = &analysis.record;
    let figures = record
        .measurements
        .iter()
        .map(|m| {
            let grade = judgement.grades.iter().find(|grade| grade.property == m.property && grade.basis == m.basis);
            Shown {
                property: m.property.clone(),
                basis: m.basis.clone(),
                form: m
                    .form
                    .clone()
                    .or_else(|| record.sample.form.clone().filter(|_| m.property.ends_with("_capacity"))),
                qualifier: m.qualifier.word().to_owned(),
                value: m.value,
                unit: m.unit.clone(),
                as_written: m.as_written.clone(),
                method: m.method.clone(),
                percent_of_new: grade.and_then(|grade| grade.percent_of_new),
                new_from: grade.and_then(|grade| Some(grade.new.as_ref()?.from.word().to_owned())),
                doubted: !m.doubts.is_empty(),
            }
        })
        .collect();
    Entry {
        on: analysis.on.clone(),
        file: record.source.file.clone(),
        report: analysis.report.clone(),
        laboratory: record.sample.laboratory.clone(),
        report_number: record.sample.report_number.clone(),
        position: record.sample.position.clone(),
        condition: record.sample.condition.clone(),
        charge: analysis.charge + 1,
        counts: analysis.counts,
        verdict: judgement.verdict,
        certainty: judgement.certainty,
        score: judgement.score,
        figures,
        repeats: None,
        changes,
    }
}

/// "Over 5 analyses capacity falls by 2.1 points of new a year (1.6 to 2.7), and is 84 % of new now; ..."
fn told(trend: &Trend) -> String {
    let slope = trend.per_year;
    let way = if slope.best < 0.0 { "falls" } else { "rises" };
    let (low, high) = if slope.best < 0.0 { (-slope.high, -slope.low) } else { (slope.low, slope.high) };
    let end = match trend.meets.as_ref() {
        Some(meets) => match (&meets.earliest, &meets.likely, &meets.latest) {
            (Some(earliest), Some(likely), latest) => format!(
                "; it meets the limit of {:.0} % around {} (between {} and {}, four times in five)",
                trend.limit.unwrap_or(f64::NAN),
                month(likely),
                month(earliest),
                latest.as_deref().map_or_else(|| "a time out of sight".to_owned(), month)
            ),
            _ => "; its limit is out of sight".to_owned(),
        },
        None => String::new(),
    };
    format!(
        "Over {} analyses of this charge capacity {way} by {:.1} points of new a year ({low:.1} to {high:.1}), and the line stands at {:.0} % now{end}.",
        trend.count,
        slope.best.abs(),
        trend.now
    )
}

fn month(date: &str) -> String {
    date.get(..7).unwrap_or(date).to_owned()
}

fn replace_by(trend: &Trend) -> Option<ReplaceBy> {
    let meets = trend.meets.as_ref()?;
    Some(ReplaceBy { earliest: month(meets.earliest.as_deref()?), latest: month(meets.latest.as_deref()?) })
}
