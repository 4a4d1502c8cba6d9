//! Compares what was read with the truth, figure by figure.

use crate::truth::{Case, Figure, Reference, TruthRecord};
use beadwise::pipeline::Outcome;
use beadwise::place::Where;
use beadwise::record::{Doubt, Record};
use std::collections::BTreeMap;

/// Two values are the same within what conversion factors of fewer digits make of them.
const TOLERANCE: f64 = 0.006;

/// One row of the results file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Score {
    /// Figures of the truth: measurements, bed and water, sieves.
    pub figures: usize,
    /// Read with property, basis, qualifier, value and unit as in the truth.
    pub right: usize,
    /// Not read, or read with another value.
    pub missed: usize,
    /// Read with another value, or not in the report at all, and not doubted.
    pub wrong_plain: usize,
    /// The same, but doubted.
    pub wrong_doubted: usize,
    /// Right, but a doubt that an honest reader must raise is not there.
    pub undoubted: usize,
    /// Right and doubted without need.
    pub needless: usize,
    /// Right, but said to stand elsewhere.
    pub place_wrong: usize,
    /// Right, but in another ionic form.
    pub form_wrong: usize,
    /// New-resin figures that were read otherwise, or not.
    pub reference_wrong: usize,
    /// Facts about the samples in the truth.
    pub keys: usize,
    pub keys_right: usize,
    pub keys_missed: usize,
    pub keys_wrong: usize,
    /// Records that the report does not hold, and those that were not found.
    pub records_wrong: usize,
    /// Doubts about a record or the file that the truth does not raise.
    pub needless_record: usize,
    /// Doubts about a record that the truth raises.
    pub record_doubts_missed: usize,
    pub remarks_missed: usize,
}

impl Score {
    pub const HEADS: [&str; 18] = [
        "figures",
        "right",
        "missed",
        "wrong_plain",
        "wrong_doubted",
        "undoubted",
        "needless",
        "place_wrong",
        "form_wrong",
        "reference_wrong",
        "keys",
        "keys_right",
        "keys_missed",
        "keys_wrong",
        "records_wrong",
        "needless_record",
        "record_doubts_missed",
        "remarks_missed",
    ];

    pub fn cells(&self) -> [usize; 18] {
        [
            self.figures,
            self.right,
            self.missed,
            self.wrong_plain,
            self.wrong_doubted,
            self.undoubted,
            self.needless,
            self.place_wrong,
            self.form_wrong,
            self.reference_wrong,
            self.keys,
            self.keys_right,
            self.keys_missed,
            self.keys_wrong,
            self.records_wrong,
            self.needless_record,
            self.record_doubts_missed,
            self.remarks_missed,
        ]
    }
}

/// The score of one report, and a line for each thing that is not as it should be.
#[derive(Default)]
pub struct Scored {
    pub score: Score,
    pub notes: Vec<String>,
    /// Wrong without a doubt, as `known-gaps.txt` names them.
    pub gaps: Vec<String>,
}

/// A read figure in one shape for measurements and the bed.
struct Read<'a> {
    property: &'a str,
    basis: Option<&'a str>,
    form: Option<&'a str>,
    qualifier: &'a str,
    value: Option<f64>,
    high: Option<f64>,
    unit: Option<&'a str>,
    place: &'a Where,
    reference: Option<&'a beadwise::record::Reference>,
    uncertainty: Option<&'a beadwise::record::Uncertainty>,
    doubts: &'a [Doubt],
}

pub fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= TOLERANCE * a.abs().max(b.abs()) + 1e-9
}

fn close_or_none(a: Option<f64>, b: Option<f64>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => close(a, b),
        (None, None) => true,
        _ => false,
    }
}

fn folded(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

/// Compares everything in one report.
pub fn score(case: &Case, outcome: &Outcome) -> Scored {
    let mut scored = Scored::default();
    for error in &outcome.errors {
        scored.notes.push(format!("error {}: {}", error.code, error.text));
    }
    let pairs = pair(&case.truth.record, &outcome.records);
    let found = pairs.iter().flatten().count();
    scored.score.records_wrong = (case.truth.record.len() - found) + (outcome.records.len() - found);
    let nothing = Record::default();
    for (at, truth) in case.truth.record.iter().enumerate() {
        let record = pairs.get(at).copied().flatten().and_then(|i| outcome.records.get(i));
        if record.is_none() {
            scored.notes.push(format!("record {at} was not found"));
        }
        compare(at, truth, record.unwrap_or(&nothing), &mut scored);
    }
    for (i, record) in outcome.records.iter().enumerate().filter(|(i, _)| !pairs.contains(&Some(*i))) {
        scored.notes.push(format!("record {i} of the reading is in no truth: {:?}", record.sample.sample_id));
        // Its facts are copies of the other records'; only its figures can mislead.
        let mut nameless = record.clone();
        nameless.sample = beadwise::record::Sample::default();
        compare(case.truth.record.len() + i, &TruthRecord::none(), &nameless, &mut scored);
    }
    for doubt in outcome.file.iter().flat_map(|f| &f.doubts) {
        if !case.truth.record.iter().flat_map(|r| &r.doubt).any(|d| d.code == doubt.code) {
            scored.score.needless_record += 1;
            scored.notes.push(format!("needless doubt on the file: {} {}", doubt.code, doubt.text));
        }
    }
    for gap in &scored.gaps {
        scored.notes.push(format!("WRONG WITHOUT A DOUBT: {gap}"));
    }
    scored
}

impl TruthRecord {
    fn none() -> Self {
        Self {
            sample: toml::Table::new(),
            measurement: Vec::new(),
            field: Vec::new(),
            sieve: Vec::new(),
            remark: Vec::new(),
            doubt: Vec::new(),
        }
    }
}

/// Which record of the reading is which of the truth: most figures and facts alike first.
fn pair(truths: &[TruthRecord], records: &[Record]) -> Vec<Option<usize>> {
    let mut likeness: Vec<(usize, usize, usize)> = Vec::new();
    for (t, truth) in truths.iter().enumerate() {
        for (r, record) in records.iter().enumerate() {
            let sample = sample_of(record);
            let keys = truth
                .sample
                .iter()
                .filter(|(key, value)| sample.get(key.as_str()).is_some_and(|s| folded(s) == folded(&text_of(value))))
                .map(|(key, _)| if key == "sample_id" { 3 } else { 1 })
                .sum::<usize>();
            let figures = truth
                .measurement
                .iter()
                .filter(|f| {
                    record.measurements.iter().any(|m| m.property == f.property && close_or_none(m.value, f.value))
                })
                .count();
            if keys + figures > 0 {
                likeness.push((keys + 3 * figures, t, r));
            }
        }
    }
    likeness.sort_by_key(|(points, t, r)| (std::cmp::Reverse(*points), *t, *r));
    let mut pairs = vec![None; truths.len()];
    for (_, t, r) in likeness {
        if pairs.get(t).is_some_and(Option::is_none) && !pairs.contains(&Some(r)) {
            pairs[t] = Some(r);
        }
    }
    pairs
}

fn text_of(value: &toml::Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

fn sample_of(record: &Record) -> BTreeMap<String, String> {
    let json = serde_json::to_value(&record.sample).unwrap_or_default();
    json.as_object()
        .into_iter()
        .flatten()
        .filter(|(_, v)| !v.is_null())
        .map(|(k, v)| (k.clone(), v.as_str().map_or_else(|| v.to_string(), str::to_owned)))
        .collect()
}

fn compare(at: usize, truth: &TruthRecord, record: &Record, scored: &mut Scored) {
    compare_keys(at, truth, record, scored);
    let measured: Vec<Read<'_>> = record
        .measurements
        .iter()
        .map(|m| Read {
            property: &m.property,
            basis: m.basis.as_deref(),
            form: m.form.as_deref(),
            qualifier: m.qualifier.word(),
            value: m.value,
            high: m.high,
            unit: m.unit.as_deref(),
            place: &m.place,
            reference: m.reference.as_ref(),
            uncertainty: m.uncertainty.as_ref(),
            doubts: &m.doubts,
        })
        .collect();
    compare_figures(at, &truth.measurement, &measured, record, scored);
    let field: Vec<Read<'_>> = record
        .field
        .iter()
        .map(|f| Read {
            property: &f.quantity,
            basis: None,
            form: None,
            qualifier: f.qualifier.word(),
            value: f.value,
            high: f.high,
            unit: f.unit.as_deref(),
            place: &f.place,
            reference: None,
            uncertainty: None,
            doubts: &f.doubts,
        })
        .collect();
    compare_figures(at, &truth.field, &field, record, scored);
    compare_sieves(at, truth, record, scored);
    for remark in &truth.remark {
        let wanted = folded(&remark.text);
        if !record.remarks.iter().any(|r| folded(&r.text).contains(&wanted)) {
            scored.score.remarks_missed += 1;
            scored.notes.push(format!("record {at}: remark missed: {}", remark.text));
        }
    }
    for doubt in &truth.doubt {
        let there = record
            .doubts
            .iter()
            .any(|d| d.code == doubt.code && (doubt.property.is_none() || d.property == doubt.property));
        if !there {
            scored.score.record_doubts_missed += 1;
            scored.notes.push(format!("record {at}: doubt missed: {} {:?}", doubt.code, doubt.property));
        }
    }
    for doubt in &record.doubts {
        // A doubt that names a figure which the truth doubts, or a figure that was left out, is about that figure.
        let of_figure = truth
            .measurement
            .iter()
            .chain(&truth.field)
            .any(|f| Some(&f.property) == doubt.property.as_ref() && !f.doubts.is_empty());
        let expected = truth.doubt.iter().any(|d| d.code == doubt.code);
        if !of_figure && !expected {
            scored.score.needless_record += 1;
            scored
                .notes
                .push(format!("record {at}: needless doubt: {} {:?} {}", doubt.code, doubt.property, doubt.text));
        }
    }
}

fn compare_keys(at: usize, truth: &TruthRecord, record: &Record, scored: &mut Scored) {
    let sample = sample_of(record);
    scored.score.keys += truth.sample.len();
    for (key, value) in &truth.sample {
        let wanted = text_of(value);
        match sample.get(key.as_str()) {
            Some(found) if folded(found) == folded(&wanted) => scored.score.keys_right += 1,
            Some(found) => {
                scored.score.keys_wrong += 1;
                scored.notes.push(format!("record {at}: {key} is {found:?}, not {wanted:?}"));
            }
            None => {
                scored.score.keys_missed += 1;
                scored.notes.push(format!("record {at}: {key} missed: {wanted:?}"));
            }
        }
    }
    for (key, found) in sample.iter().filter(|(key, _)| !truth.sample.contains_key(key.as_str())) {
        scored.score.keys_wrong += 1;
        scored.notes.push(format!("record {at}: {key} is {found:?}, and the report does not say it"));
    }
}

fn compare_figures(at: usize, truths: &[Figure], read: &[Read<'_>], record: &Record, scored: &mut Scored) {
    scored.score.figures += truths.len();
    let mut taken = vec![false; read.len()];
    let mut missing: Vec<&Figure> = Vec::new();
    for truth in truths {
        let fits = |r: &Read<'_>| {
            r.property == truth.property
                && r.basis == truth.basis.as_deref()
                && r.qualifier == truth.qualifier
                && close_or_none(r.value, truth.value)
                && close_or_none(r.high, truth.high)
                && r.unit == truth.unit.as_deref()
        };
        let free = |i: &usize| !taken[*i] && fits(&read[*i]);
        let there = |i: &usize| place_fits(&truth.place, read[*i].place);
        let candidates: Vec<usize> = (0..read.len()).filter(free).collect();
        let Some(i) = candidates.iter().copied().find(|i| there(i)).or(candidates.first().copied()) else {
            missing.push(truth);
            continue;
        };
        taken[i] = true;
        right(at, truth, &read[i], record, scored);
    }
    scored.score.missed += missing.len();
    for truth in &missing {
        scored.notes.push(format!(
            "record {at}: missed {} = {} {:?} at {}",
            name(&truth.property, truth.basis.as_deref()),
            truth.as_written,
            truth.value,
            shown(&truth.place)
        ));
    }
    for r in read.iter().zip(&taken).filter(|(_, taken)| !**taken).map(|(r, _)| r) {
        let text =
            format!("{at}: {} {} {:?} {}", name(r.property, r.basis), r.qualifier, r.value, r.unit.unwrap_or("-"));
        let record_doubts = record.doubts.iter().filter(|d| d.property.as_deref() == Some(r.property)).count();
        if r.doubts.len() + record_doubts > 0 {
            scored.score.wrong_doubted += 1;
            let codes: Vec<&str> = r.doubts.iter().map(|d| d.code.as_str()).collect();
            scored.notes.push(format!("record {text} at {} is wrong, but doubted: {codes:?}", r.place));
        } else {
            scored.score.wrong_plain += 1;
            scored.gaps.push(format!("record {text} at {}", r.place));
        }
    }
}

fn right(at: usize, truth: &Figure, read: &Read<'_>, record: &Record, scored: &mut Scored) {
    let score = &mut scored.score;
    let name = name(read.property, read.basis);
    score.right += 1;
    let on_record: Vec<&str> = record
        .doubts
        .iter()
        .filter(|d| d.property.as_deref() == Some(read.property))
        .map(|d| d.code.as_str())
        .collect();
    let raised: Vec<&str> = read.doubts.iter().map(|d| d.code.as_str()).chain(on_record).collect();
    let must: Vec<&str> = truth.doubts.iter().map(String::as_str).collect();
    if must.is_empty() && !read.doubts.is_empty() {
        score.needless += 1;
        scored.notes.push(format!("record {at}: {name} {} doubted without need: {raised:?}", truth.as_written));
    }
    let raised_as_it_must = must.iter().all(|m| if *m == "?" { !raised.is_empty() } else { raised.contains(m) });
    if !raised_as_it_must {
        score.undoubted += 1;
        scored.gaps.push(format!("record {at}: {name} {} must be doubted: {must:?}, is {raised:?}", truth.as_written));
    }
    if !place_fits(&truth.place, read.place) {
        score.place_wrong += 1;
        scored.notes.push(format!(
            "record {at}: {name} {} stands at {}, not {}",
            truth.as_written,
            shown(&truth.place),
            read.place
        ));
    }
    if truth.form.is_some() && truth.form.as_deref() != read.form {
        score.form_wrong += 1;
        scored.notes.push(format!("record {at}: {name} is in form {:?}, not {:?}", truth.form, read.form));
    }
    if !reference_fits(truth.reference.as_ref(), read.reference) {
        score.reference_wrong += 1;
        scored
            .notes
            .push(format!("record {at}: reference of {name} is {:?}, not {:?}", truth.reference, read.reference));
    }
    if let Some(wanted) = &truth.uncertainty {
        let same = read.uncertainty.is_some_and(|u| close_or_none(u.value, wanted.value) && u.n == wanted.n);
        if !same {
            score.reference_wrong += 1;
            scored.notes.push(format!("record {at}: uncertainty of {name} is {wanted:?}, not {:?}", read.uncertainty));
        }
    }
}

fn reference_fits(truth: Option<&Reference>, read: Option<&beadwise::record::Reference>) -> bool {
    match (truth, read) {
        (None, None) => true,
        (Some(t), Some(r)) => {
            close_or_none(t.low, r.low) && close_or_none(t.high, r.high) && close_or_none(t.typical, r.typical)
        }
        _ => false,
    }
}

fn compare_sieves(at: usize, truth: &TruthRecord, record: &Record, scored: &mut Scored) {
    scored.score.figures += truth.sieve.len();
    let mut taken = vec![false; record.sieve.len()];
    for sieve in &truth.sieve {
        let found = record.sieve.iter().enumerate().position(|(i, r)| {
            !taken[i] && close(r.opening, sieve.opening) && r.kind == sieve.kind && close(r.value, sieve.value)
        });
        match found {
            Some(i) => {
                taken[i] = true;
                scored.score.right += 1;
                if !place_fits(&sieve.place, &record.sieve[i].place) {
                    scored.score.place_wrong += 1;
                    scored.notes.push(format!(
                        "record {at}: sieve {} stands at {}",
                        sieve.opening,
                        shown(&sieve.place)
                    ));
                }
            }
            None => {
                scored.score.missed += 1;
                scored
                    .notes
                    .push(format!("record {at}: sieve {} {} missed: {}", sieve.opening, sieve.kind, sieve.value));
            }
        }
    }
    for r in record.sieve.iter().zip(&taken).filter(|(_, taken)| !**taken).map(|(r, _)| r) {
        scored.score.wrong_plain += 1;
        scored.gaps.push(format!("record {at}: sieve {} mm {} {} at {}", r.opening, r.kind, r.value, r.place));
    }
}

fn place_fits(truth: &toml::Table, read: &Where) -> bool {
    let json = serde_json::to_value(read).unwrap_or_default();
    truth.iter().all(|(key, wanted)| match (wanted, json.get(key.as_str())) {
        (toml::Value::Integer(n), Some(found)) => found.as_i64() == Some(*n),
        (toml::Value::String(s), Some(found)) => found.as_str() == Some(s.as_str()),
        _ => false,
    })
}

fn shown(place: &toml::Table) -> String {
    place.iter().map(|(k, v)| format!("{k} {}", text_of(v))).collect::<Vec<_>>().join(", ")
}

fn name(property: &str, basis: Option<&str>) -> String {
    basis.map_or_else(|| property.to_owned(), |b| format!("{property}/{b}"))
}
