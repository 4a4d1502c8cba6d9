//! How well reports are read: the demo's hand-written truths, one analysis in many layouts, and words that are not known.
//!
//! `UPDATE=1 cargo test --test corpus` writes `tests/corpus/results.csv`; without it a difference in either direction
//! fails, so that no figure gets worse unseen and none gets better unrecorded. A wrong value without a doubt always
//! fails, unless `tests/corpus/known-gaps.txt` lists it with a reason; a listed one that no longer happens fails too.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

#[path = "corpus/render.rs"]
mod render;
#[path = "corpus/score.rs"]
mod score;
#[path = "corpus/truth.rs"]
mod truth;

use beadwise::lexicon::Lexicon;
use beadwise::pipeline::{self, Outcome};
use beadwise::readers::ReadOptions;
use beadwise::record::{Measurement, Reading};
use score::Score;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

fn read(name: &str, bytes: &[u8]) -> Outcome {
    pipeline::read(name, bytes, &ReadOptions::default(), Lexicon::builtin())
}

fn beside(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus").join(name)
}

/// Lines `test | what | reason` of the gaps that are known.
fn known_gaps(test: &str) -> BTreeSet<String> {
    let text = fs::read_to_string(beside("known-gaps.txt")).unwrap_or_default();
    let mut gaps = BTreeSet::new();
    for line in text.lines().map(str::trim).filter(|l| !l.is_empty() && !l.starts_with('#')) {
        let cells: Vec<&str> = line.split(" | ").map(str::trim).collect();
        let [of, what, reason] = cells.as_slice() else {
            panic!("known-gaps.txt: \"{line}\" is not test | what | reason")
        };
        assert!(!reason.is_empty(), "known-gaps.txt: \"{what}\" has no reason");
        if *of == test {
            gaps.insert((*what).to_owned());
        }
    }
    gaps
}

/// Fails on gaps that are not listed and on listed ones that are gone.
fn check_gaps(test: &str, found: &BTreeSet<String>, notes: &str) {
    let known = known_gaps(test);
    let new: Vec<&String> = found.difference(&known).collect();
    let gone: Vec<&String> = known.difference(found).collect();
    assert!(new.is_empty() && gone.is_empty(), "{notes}\nnot listed: {new:#?}\nlisted but gone: {gone:#?}");
}

#[test]
fn demo_reports_score_as_recorded() {
    let mut csv = format!("report,{}\n", Score::HEADS.join(","));
    let mut notes = String::new();
    let mut gaps = BTreeSet::new();
    let mut total = [0; Score::HEADS.len()];
    for case in truth::cases() {
        let outcome = read(&case.file, &case.bytes);
        let scored = score::score(&case, &outcome);
        let cells = scored.score.cells();
        for (sum, cell) in total.iter_mut().zip(cells) {
            *sum += cell;
        }
        let _ = writeln!(csv, "{},{}", case.name, cells.map(|c| c.to_string()).join(","));
        for note in &scored.notes {
            let _ = writeln!(notes, "{}: {note}", case.name);
        }
        gaps.extend(scored.gaps.iter().map(|gap| format!("{}: {gap}", case.name)));
    }
    let _ = writeln!(csv, "total,{}", total.map(|c| c.to_string()).join(","));
    let file = beside("results.csv");
    if std::env::var_os("UPDATE").is_some() {
        fs::write(&file, &csv).expect("results.csv is writable");
    }
    println!("{notes}\n{csv}");
    check_gaps("demo", &gaps, &notes);
    let committed = fs::read_to_string(&file).unwrap_or_default().replace("\r\n", "\n");
    let changes = changes(&committed, &csv);
    assert!(changes.is_empty(), "{notes}\n{}\nIf it is meant: UPDATE=1 cargo test --test corpus", changes.join("\n"));
}

/// Each figure that is not as committed.
fn changes(committed: &str, now: &str) -> Vec<String> {
    let rows = |text: &str| -> BTreeMap<String, Vec<String>> {
        text.lines()
            .map(|line| line.split(',').map(str::to_owned).collect::<Vec<_>>())
            .filter_map(|cells| cells.split_first().map(|(name, rest)| (name.clone(), rest.to_vec())))
            .collect()
    };
    let (before, after) = (rows(committed), rows(now));
    let mut found = Vec::new();
    for name in before.keys().chain(after.keys()).collect::<BTreeSet<_>>() {
        match (before.get(name), after.get(name)) {
            (Some(a), Some(b)) => {
                for ((head, a), b) in Score::HEADS.iter().zip(a).zip(b).filter(|((_, a), b)| a != b) {
                    found.push(format!("{name}: {head} was {a}, is {b}"));
                }
            }
            (None, Some(_)) => found.push(format!("{name} is new")),
            _ => found.push(format!("{name} is gone")),
        }
    }
    found
}

#[test]
fn every_number_of_the_demo_is_accounted_for() {
    // A reason that swallows most of a document is a hole in the account; these four can rightly be most of a letter.
    const MAY_BE_MOST: [&str; 4] = ["label", "heading", "date", "identifier"];
    const MOST: f64 = 0.6;
    let mut wrong = Vec::new();
    for case in truth::cases() {
        let outcome = read(&case.file, &case.bytes);
        let account = &outcome.account;
        let aside: usize = account.set_aside.values().sum();
        if account.numbers == 0 || account.read + aside + account.unread != account.numbers {
            wrong.push(format!("{}: {account:?} does not add up", case.name));
        }
        for (reason, count) in &account.set_aside {
            let share = *count as f64 / account.numbers.max(1) as f64;
            if reason.trim().is_empty() || (share > MOST && !MAY_BE_MOST.contains(&reason.as_str())) {
                wrong.push(format!("{}: {count} of {} are set aside as \"{reason}\"", case.name, account.numbers));
            }
        }
        for aside in outcome.file.iter().flat_map(|f| &f.set_aside).filter(|a| a.reason.trim().is_empty()) {
            wrong.push(format!("{}: \"{}\" is set aside without a reason", case.name, aside.text));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn numbers_that_are_no_results_are_measured_nowhere() {
    // The truths name the numbers most likely to be taken for results; where one is a bare figure it must not be a value.
    for case in truth::cases() {
        let outcome = read(&case.file, &case.bytes);
        for aside in
            case.truth.numbers_set_aside.iter().filter(|a| a.reason == "telephone" || a.reason == "page-number")
        {
            let taken =
                outcome.records.iter().flat_map(|r| &r.measurements).find(|m| m.as_written.contains(&aside.text));
            assert!(taken.is_none(), "{}: {} ({}) was read as {taken:?}", case.name, aside.text, aside.reason);
        }
    }
}

#[test]
fn the_same_bytes_give_the_same_words() {
    for case in truth::cases() {
        let json = || {
            let outcome = read(&case.file, &case.bytes);
            let reading = Reading {
                files: outcome.file.into_iter().collect(),
                records: outcome.records,
                errors: outcome.errors,
                ..Reading::default()
            };
            serde_json::to_string(&reading).expect("a reading is JSON")
        };
        assert_eq!(json(), json(), "{}", case.name);
    }
}

fn shown(m: &Measurement) -> String {
    let basis = m.basis.as_deref().map_or(String::new(), |b| format!("/{b}"));
    format!("{}{basis} = {:?} {}", m.property, m.value, m.unit.as_deref().unwrap_or("-"))
}

/// What is not as the rendered analysis has it.
fn problems_of(report: &render::Rendered, outcome: &Outcome) -> BTreeSet<String> {
    // Figures in other units are printed with four digits.
    let close = |a: f64, b: f64| (a - b).abs() <= 0.002 * a.abs().max(b.abs());
    let close_or_none = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => close(a, b),
        (None, None) => true,
        _ => false,
    };
    let mut problems = BTreeSet::new();
    if outcome.records.len() != report.samples.len() {
        problems.insert(format!("{} records, not {}", outcome.records.len(), report.samples.len()));
    }
    for unread in outcome.file.iter().flat_map(|f| &f.unread).chain(outcome.records.iter().flat_map(|r| &r.unread)) {
        problems.insert(format!("unread: {}", unread.text));
    }
    let nothing = beadwise::record::Record::default();
    for (at, &sample) in report.samples.iter().enumerate() {
        let record = outcome.records.get(at).unwrap_or(&nothing);
        for doubt in &record.doubts {
            problems.insert(format!("sample {at}: needless doubt on the record: {}", doubt.code));
        }
        for field in &record.field {
            problems.insert(format!("sample {at}: WRONG: {} {:?}", field.quantity, field.value));
        }
        if report.samples != [1, 0] && record.sample.sample_id.as_deref() != Some(render::SAMPLES[sample]) {
            problems.insert(format!("sample {at}: is called {:?}", record.sample.sample_id));
        }
        if record.sample.resin_class.as_deref() != Some("sac-gel-8") {
            problems.insert(format!("sample {at}: resin {:?}", record.sample.resin_as_written));
        }
        let measurements = record.measurements.as_slice();
        let mut taken = vec![false; measurements.len()];
        for row in &render::ROWS {
            let same = measurements.iter().enumerate().position(|(i, m)| {
                !taken[i]
                    && m.property == row.property
                    && m.basis.as_deref() == row.basis
                    && m.unit.as_deref() == Some(row.unit)
                    && m.qualifier.word() == "="
                    && m.value.is_some_and(|v| close(v, row.values[sample]))
            });
            let Some(i) = same else {
                problems.insert(format!("sample {at}: missed {}", row.property));
                continue;
            };
            taken[i] = true;
            let m = &measurements[i];
            if !m.doubts.is_empty() {
                let codes: Vec<&str> = m.doubts.iter().map(|d| d.code.as_str()).collect();
                problems.insert(format!("sample {at}: needless doubt on {}: {codes:?}", shown(m)));
            }
            let (low, high, typical) = m.reference.as_ref().map_or((None, None, None), |r| (r.low, r.high, r.typical));
            let wanted = if report.new_resin { row.new } else { (None, None) };
            if !(close_or_none(low, wanted.0) && close_or_none(high, wanted.1) && typical.is_none()) {
                problems.insert(format!(
                    "sample {at}: reference of {} is {:?}, not {wanted:?}",
                    row.property,
                    (low, high, typical)
                ));
            }
        }
        for (m, _) in measurements.iter().zip(&taken).filter(|(_, taken)| !**taken) {
            let how = if m.doubts.is_empty() { "WRONG without a doubt" } else { "wrong, doubted" };
            problems.insert(format!("sample {at}: {how}: {}", shown(m)));
        }
    }
    problems
}

#[test]
fn one_analysis_reads_alike_in_every_layout() {
    let mut found = BTreeSet::new();
    let mut notes = String::new();
    let reports = render::reports();
    assert!(reports.len() > 500, "{} reports", reports.len());
    for report in &reports {
        let problems = problems_of(report, &read(report.file, report.text.as_bytes()));
        if !problems.is_empty() {
            let list = problems.iter().cloned().collect::<Vec<_>>().join("\n");
            let _ = writeln!(notes, "--- {}\n{}\n{list}", report.name, report.text);
        }
        found.extend(problems.into_iter().map(|p| format!("{}: {p}", report.name)));
    }
    if let Some(file) = std::env::var_os("LAYOUT_NOTES") {
        fs::write(file, &notes).expect("the notes' file is writable");
    }
    check_gaps("layout", &found, &notes);
}

#[test]
fn a_wrong_reading_of_a_layout_is_noticed() {
    for mut report in render::reports().into_iter().filter(|r| r.samples == [0, 1]) {
        report.samples = &[1, 0];
        let problems = problems_of(&report, &read(report.file, report.text.as_bytes()));
        assert!(problems.iter().any(|p| p.contains("WRONG")), "{}: {problems:?}", report.name);
    }
}

/// Labels as laboratories print them, each with a unit and a figure of its size, and the property that it names.
const LABELS: [(&str, &str, &str, &str); 40] = [
    ("Total exchange capacity", "1.80", "eq/L", "total_capacity"),
    ("Total volume capacity", "1.80", "eq/L", "total_capacity"),
    ("Total dry capacity", "4.40", "eq/kg", "total_capacity"),
    ("Wet volume capacity, total", "1.80", "meq/mL", "total_capacity"),
    ("Salt splitting capacity", "1.10", "eq/L", "salt_splitting_capacity"),
    ("Strong base capacity", "1.10", "eq/L", "salt_splitting_capacity"),
    ("Weak base capacity", "0.20", "eq/L", "weak_capacity"),
    ("Weak acid capacity", "0.20", "eq/L", "weak_capacity"),
    ("Operating capacity", "1.10", "eq/L", "operating_capacity"),
    ("Moisture retention", "48.0", "%", "moisture_retention"),
    ("Water content", "48.0", "%", "moisture_retention"),
    ("Whole beads", "93", "%", "whole_beads"),
    ("Cracked beads", "5", "%", "cracked_beads"),
    ("Broken beads", "2", "%", "broken_beads"),
    ("Iron on dry resin", "640", "mg/kg", "iron"),
    ("Manganese, dry basis", "85", "mg/kg", "manganese"),
    ("Copper, dry basis", "15", "mg/kg", "copper"),
    ("Aluminium, dry basis", "60", "mg/kg", "aluminium"),
    ("Silica, dry basis", "220", "mg/kg", "silica"),
    ("Total organic carbon", "620", "mg/L", "organics_toc"),
    ("Permanganate demand", "410", "mg/L", "organics_permanganate"),
    ("Mean bead size", "0.64", "mm", "mean_size"),
    ("Harmonic mean size", "0.61", "mm", "harmonic_mean_size"),
    ("Effective size", "0.48", "mm", "effective_size"),
    ("Uniformity coefficient", "1.5", "", "uniformity_coefficient"),
    ("Settled density", "812", "g/L", "bulk_density"),
    ("True density", "1.26", "g/mL", "true_density"),
    ("Crush strength", "310", "g/bead", "crush_strength"),
    ("Regenerated sites", "62", "%", "regenerated_sites"),
    ("Totale Volumenkapazität", "1,80", "eq/L", "total_capacity"),
    ("Gerissene Kugeln", "5", "%", "cracked_beads"),
    ("Ganze Kugeln", "93", "%", "whole_beads"),
    ("Mittlere Korngröße", "0,64", "mm", "mean_size"),
    ("Eisen, Trockenbasis", "640", "mg/kg", "iron"),
    ("Capacité totale", "1,80", "eq/L", "total_capacity"),
    ("Teneur en eau", "48,0", "%", "moisture_retention"),
    ("Billes fissurées", "5", "%", "cracked_beads"),
    ("Capacidad total", "1,80", "eq/L", "total_capacity"),
    ("Contenido de humedad", "48,0", "%", "moisture_retention"),
    ("Perlas rotas", "2", "%", "broken_beads"),
];

/// Words that no language of the trade has.
const NONSENSE: [&str; 3] = ["Quorvix", "blandorf", "Zerrumpel"];

fn with_label(label: &str, value: &str, unit: &str) -> String {
    format!("Vessel: Softener 2\nSample: MSL-S2-25\n\n{label}: {value} {unit}\nUniformity: see sheet\n")
}

/// The figure as it is printed, without its unit.
fn figure_of(m: &Measurement) -> &str {
    m.as_written.split_whitespace().next().unwrap_or_default()
}

fn measured(text: &str) -> Vec<Measurement> {
    read("report.txt", text.as_bytes()).records.into_iter().flat_map(|r| r.measurements).collect()
}

#[test]
fn a_word_that_is_not_known_gives_no_other_property() {
    let mut found = BTreeSet::new();
    for (at, (label, value, unit, property)) in LABELS.iter().enumerate() {
        let whole = measured(&with_label(label, value, unit));
        if !whole.iter().any(|m| m.property == *property && m.value.is_some()) {
            found.insert(format!(
                "{label}: {value} {unit}: not read as {property}: {:?}",
                whole.iter().map(shown).collect::<Vec<_>>()
            ));
        }
        let words: Vec<&str> = label.split(' ').collect();
        for dropped in 0..words.len() {
            let word = words[dropped].trim_end_matches(',');
            // "on", "de", "en": no spelling of anything.
            if word.len() < 4 {
                continue;
            }
            let nonsense = NONSENSE[(at + dropped) % NONSENSE.len()];
            let changed: Vec<String> = words
                .iter()
                .enumerate()
                .map(|(i, w)| if i == dropped { w.replace(word, nonsense) } else { (*w).to_owned() })
                .collect();
            let changed = changed.join(" ");
            for m in measured(&with_label(&changed, value, unit)).iter().filter(|m| m.doubts.is_empty()) {
                found.insert(format!("{changed}: {value} {unit}: read without a doubt as {}", shown(m)));
            }
        }
    }
    check_gaps("synonym", &found, "");
}

#[test]
fn nonsense_labels_give_no_measurement() {
    let mut found = BTreeSet::new();
    for (value, unit) in [
        ("1.80", "eq/L"),
        ("48.0", "%"),
        ("640", "mg/kg"),
        ("0.64", "mm"),
        ("812", "g/L"),
        ("310", "g/bead"),
        ("37.6", "kgr/ft³"),
    ] {
        for label in ["Quorvix", "Blandorf of zerrumpel", "Zerrumpel (quorvix)", "X", "No. 7", "Grumt index"] {
            for text in [
                with_label(label, value, unit),
                format!("Property,Result,Unit\n{label},{value},{unit}\nMoisture,47.1,%\n"),
            ] {
                for m in measured(&text).iter().filter(|m| figure_of(m) == value) {
                    found.insert(format!("{label}: {value} {unit}: read as {}", shown(m)));
                }
            }
        }
    }
    check_gaps("nonsense", &found, "");
}

#[test]
fn feed_water_gives_no_property_of_the_resin() {
    const FEED: [(&str, &str, &str); 28] = [
        ("Feed iron", "2.8", "mg/L"),
        ("Iron in feed water", "2.8", "mg/L"),
        ("Iron, raw water", "2.8", "mg/L"),
        ("Well water iron", "2.8", "ppm"),
        ("Inlet iron", "2.8", "mg/L"),
        ("Influent manganese", "0.4", "mg/L"),
        ("Manganese (feed)", "0.4", "mg/L"),
        ("Feed hardness", "310", "mg/L as CaCO3"),
        ("Raw water hardness", "18", "gpg"),
        ("Outlet hardness", "1.0", "mg/L as CaCO3"),
        ("Effluent hardness", "1.0", "mg/L"),
        ("Feed chlorine", "0.7", "mg/L"),
        ("Free chlorine in the feed", "0.7", "mg/L"),
        ("Feed water TOC", "3.1", "mg/L"),
        ("Feed silica", "14", "mg/L"),
        ("Raw water silica", "14", "mg/L"),
        ("Feed nitrate", "62", "mg/L"),
        ("Sodium in treated water", "120", "mg/L"),
        ("Feed water COD", "4", "mg/L"),
        ("Eisen im Rohwasser", "0,12", "mg/l"),
        ("Rohwasserhärte", "18", "°dH"),
        ("Mangan im Speisewasser", "0,05", "mg/l"),
        ("Fer de l'eau d'alimentation", "0,15", "mg/L"),
        ("Fer, eau brute", "0,15", "mg/L"),
        ("Dureté de l'eau brute", "28", "°f"),
        ("Hierro en agua de alimentación", "0,15", "mg/L"),
        ("Hierro, agua cruda", "0,15", "mg/L"),
        ("Dureza del agua cruda", "310", "mg/L"),
    ];
    let mut found = BTreeSet::new();
    for (label, value, unit) in FEED {
        let layouts = [
            with_label(label, value, unit),
            format!("Vessel: Softener 2\n\nMetals on resin, dry basis\n{label}: {value} {unit}\nIron: 640 mg/kg\n"),
            format!("Property;Result;Unit\nMoisture;47.1;%\n{label};{value};{unit}\nWhole beads;93;%\n"),
        ];
        for (at, text) in layouts.iter().enumerate() {
            for m in measured(text).iter().filter(|m| figure_of(m) == value) {
                found.insert(format!("layout {at}: {label}: {value} {unit}: read as {}", shown(m)));
            }
        }
    }
    check_gaps("feed", &found, "");
}
