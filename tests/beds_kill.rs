//! Filing ended at any moment, over and over: the store is whole, and holds each report entirely or not at all.
//!
//! The test runs itself as a writer that files reports without end, and kills it. `BEADWISE_KILLS` sets how often. A
//! loss of power is another matter, and was not tried.

#![cfg(all(feature = "beds", unix))]
#![allow(clippy::unwrap_used, clippy::print_stdout, clippy::panic)]

use beadwise::beds::{Bed, Given, Placed, Report, Store, Target, Twin, hash};
use beadwise::judge::example;
use beadwise::place::Source;
use beadwise::record::{FileReading, Record};
use serde_json::Value;
use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

const RECORDS: usize = 3;

/// Not a test of its own: the writer that is killed.
#[test]
fn writer() {
    let Some(path) = std::env::var_os("BEADWISE_KILL_STORE") else { return };
    let run = std::env::var("BEADWISE_KILL_RUN").unwrap();
    let mut store = Store::open_or_begin(&PathBuf::from(path)).unwrap();
    for number in 0.. {
        let bytes = format!("report {number} of run {run}: {}", "figures ".repeat(number % 400)).into_bytes();
        let source = Source { file: format!("{run}-{number}.txt"), format: "text".into(), sha256: hash(&bytes) };
        let records: Vec<Placed> = (0..RECORDS)
            .map(|at| {
                let text = format!("class sac-gel-8\nform Na\nsampled_on 2020-05-15\ntotal_capacity volume 1.9{at}");
                let record = Record { source: source.clone(), ..example::record(&text).unwrap() };
                let bed = Bed::named(&format!("Plant {}", number % 7), &format!("Softener {at}"));
                Placed { record, given: Given::default(), target: Target::New(Box::new(bed)) }
            })
            .collect();
        let reading = FileReading { source, ..FileReading::default() };
        let report =
            Report { bytes: &bytes, reading: &reading, records: &records, today: "2025-11-25", twin: Twin::Refuse };
        store.file(&report).unwrap();
        println!("filed {}", reading.source.sha256);
        std::io::stdout().flush().unwrap();
    }
}

/// Reports whose filing a killed writer has acknowledged.
fn killed_writer(path: &Path, run: u32) -> Vec<String> {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "writer", "--nocapture"])
        .env("BEADWISE_KILL_STORE", path)
        .env("BEADWISE_KILL_RUN", run.to_string())
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let mut filed = Vec::new();
    // Every fifth one is ended while it opens the store; the others somewhere in their filings.
    if !run.is_multiple_of(5) {
        let first = lines.by_ref().map(Result::unwrap).find(|line| line.contains("filed "));
        filed.extend(first);
    }
    std::thread::sleep(Duration::from_micros(u64::from(run * 7_919 % 30_000)));
    child.kill().unwrap();
    child.wait().unwrap();
    filed.extend(lines.map_while(Result::ok));
    filed
        .iter()
        .filter_map(|line| Some(line.split_once("filed ")?.1.to_owned()))
        .filter(|hash| hash.len() == 64)
        .collect()
}

#[test]
fn killed_at_any_moment_the_store_is_whole_and_holds_reports_entirely_or_not_at_all() {
    let kills: u32 = std::env::var("BEADWISE_KILLS").ok().and_then(|text| text.parse().ok()).unwrap_or(60);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("beds.db");
    let mut acknowledged = Vec::new();
    for run in 1..=kills {
        acknowledged.extend(killed_writer(&path, run));
    }
    let mut store = Store::open(&path).unwrap();
    assert_eq!(store.check().unwrap().wrong, Vec::<String>::new());
    let mut lines = Vec::new();
    store.export(&mut lines).unwrap();
    let mut records: BTreeMap<String, usize> = BTreeMap::new();
    for line in lines.split(|byte| *byte == b'\n').filter(|line| !line.is_empty()) {
        let line: Value = serde_json::from_slice(line).unwrap();
        let report = |key: &str| line[key].as_str().unwrap().to_owned();
        match line["line"].as_str().unwrap() {
            "report" => drop(records.entry(report("sha256")).or_default()),
            "analysis" => *records.entry(report("report")).or_default() += 1,
            _ => {}
        }
    }
    assert!(records.values().all(|count| *count == RECORDS), "a report is there in part");
    for hash in &acknowledged {
        assert!(records.contains_key(hash), "{hash} was said to be filed and is not");
    }
    println!(
        "{kills} writers killed: {} reports acknowledged, {} whole in the store",
        acknowledged.len(),
        records.len()
    );
    assert!(acknowledged.len() > kills as usize / 2, "the writers were killed before they wrote anything");
}
