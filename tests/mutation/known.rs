//! Reports with their truths, as read before anything is changed.

use crate::truth;
use beadwise::document::Document;
use beadwise::lexicon::Lexicon;
use beadwise::pipeline::{self, Outcome};
use beadwise::place::Where;
use beadwise::readers::{self, ReadOptions};
use serde_json::Value;
use std::fs;
use std::path::Path;

/// Two values are the same within what conversion factors of fewer digits make of them.
pub const TOLERANCE: f64 = 0.006;

/// A report, and what is known of it.
pub struct Known {
    pub name: String,
    pub document: Document,
    pub baseline: Vec<Read>,
    pub truth: Vec<True>,
}

/// A figure of the truth.
#[derive(Clone, Debug)]
pub struct True {
    pub property: String,
    /// None where the truth leaves it open.
    pub basis: Option<Option<String>>,
    pub value: Option<f64>,
    pub accept: Vec<f64>,
}

/// A figure as read.
#[derive(Clone, Debug)]
pub struct Read {
    /// What its sample is called: identifier, vessel, position, condition, day of sampling.
    pub sample: [Option<String>; 5],
    pub property: String,
    pub basis: Option<String>,
    pub qualifier: &'static str,
    pub value: Option<f64>,
    pub high: Option<f64>,
    pub unit: Option<String>,
    pub as_written: String,
    pub place: Where,
    pub doubts: Vec<String>,
    /// As the truth has it.
    pub right: bool,
}

pub fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= TOLERANCE * a.abs().max(b.abs()) + 1e-9
}

pub fn same(a: Option<f64>, b: Option<f64>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => close(a, b),
        (None, None) => true,
        _ => false,
    }
}

impl True {
    pub fn is(&self, read: &Read) -> bool {
        self.property == read.property
            && self.basis.as_ref().is_none_or(|basis| *basis == read.basis)
            && (same(self.value, read.value) || self.accept.iter().any(|a| same(Some(*a), read.value)))
    }
}

/// All figures of a reading, of resin and of the bed.
pub fn figures(outcome: &Outcome, truth: &[True]) -> Vec<Read> {
    let mut all = Vec::new();
    for record in &outcome.records {
        let s = &record.sample;
        let sample =
            [s.sample_id.clone(), s.vessel.clone(), s.position.clone(), s.condition.clone(), s.sampled_on.clone()];
        let on_record = |property: &str| {
            let of = |d: &&beadwise::record::Doubt| d.property.as_deref() == Some(property);
            record.doubts.iter().filter(of).map(|d| d.code.clone()).collect::<Vec<_>>()
        };
        for m in &record.measurements {
            let mut doubts: Vec<String> = m.doubts.iter().map(|d| d.code.clone()).collect();
            doubts.extend(on_record(&m.property));
            all.push(Read {
                sample: sample.clone(),
                property: m.property.clone(),
                basis: m.basis.clone(),
                qualifier: m.qualifier.word(),
                value: m.value,
                high: m.high,
                unit: m.unit.clone(),
                as_written: m.as_written.clone(),
                place: m.place.clone(),
                doubts,
                right: false,
            });
        }
        for f in &record.field {
            let mut doubts: Vec<String> = f.doubts.iter().map(|d| d.code.clone()).collect();
            doubts.extend(on_record(&f.quantity));
            all.push(Read {
                sample: sample.clone(),
                property: f.quantity.clone(),
                basis: None,
                qualifier: f.qualifier.word(),
                value: f.value,
                high: f.high,
                unit: f.unit.clone(),
                as_written: f.as_written.clone(),
                place: f.place.clone(),
                doubts,
                right: false,
            });
        }
    }
    for read in &mut all {
        read.right = truth.iter().any(|t| t.is(read));
    }
    all
}

fn known(name: String, file: &str, bytes: &[u8], truth: Vec<True>) -> Option<Known> {
    let document = readers::read(file, bytes, &ReadOptions::default()).ok()?;
    let outcome = pipeline::from_document(&document, Lexicon::builtin());
    let baseline = figures(&outcome, &truth);
    // A report that nothing was read from shows nothing.
    (!baseline.is_empty()).then_some(Known { name, document, baseline, truth })
}

/// The reports of the demo.
pub fn demo() -> Vec<Known> {
    truth::cases()
        .into_iter()
        .filter_map(|case| {
            let figures = case.truth.record.iter().flat_map(|r| r.measurement.iter().chain(&r.field));
            let truth = figures
                .map(|f| True {
                    property: f.property.clone(),
                    basis: Some(f.basis.clone()),
                    value: f.value,
                    accept: Vec::new(),
                })
                .collect();
            known(case.name, &case.file, &case.bytes, truth)
        })
        .collect()
}

/// The reports that the reader was developed on.
pub fn development() -> Vec<Known> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus/development");
    let mut all = Vec::new();
    for kind in ["pages", "tables", "text"] {
        let mut files: Vec<_> = fs::read_dir(root.join(kind)).unwrap().map(|e| e.unwrap().path()).collect();
        files.sort();
        for file in files {
            let truth_file = format!("{}.truth.json", file.display());
            let Ok(text) = fs::read_to_string(&truth_file) else { continue };
            let truth = truths(&serde_json::from_str(&text).unwrap());
            let name = file.file_name().unwrap().to_string_lossy().into_owned();
            all.extend(known(format!("{kind}/{name}"), &name, &fs::read(&file).unwrap(), truth));
        }
    }
    all
}

fn truths(json: &Value) -> Vec<True> {
    let list = |value: &Value, key: &str| value[key].as_array().cloned().unwrap_or_default();
    let mut all = Vec::new();
    for sample in list(json, "samples") {
        for figure in list(&sample, "measurements").into_iter().chain(list(&sample, "field")) {
            let mut names: Vec<String> =
                list(&figure, "alt_properties").iter().filter_map(|p| p.as_str().map(str::to_owned)).collect();
            names.extend(figure["property"].as_str().or(figure["quantity"].as_str()).map(str::to_owned));
            for property in names {
                all.push(True {
                    property,
                    basis: figure.get("basis").map(|basis| basis.as_str().map(str::to_owned)),
                    value: figure["value"].as_f64(),
                    accept: list(&figure, "accept").iter().filter_map(Value::as_f64).collect(),
                });
            }
        }
    }
    all
}
