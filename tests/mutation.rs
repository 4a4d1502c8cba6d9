//! What small changes to a report do to its reading: a digit, a unit, a label, a moved column, a lost head.
//!
//! Every report with a hand-written truth is read, changed a little, and read again. The truth moves with the change:
//! a digit that becomes another is right to be read as it stands. What counts is a figure that is read *without a
//! doubt* as something that the changed report does not say.
//!
//! `cargo test` makes a small sample of the changes. All of them, with the worst causes:
//!
//! ```text
//! MUTATIONS=10 cargo test --release --test mutation -- --ignored --nocapture
//! ```
//!
//! `MUTATIONS` is how many of each kind are made to each report, `MUTATION_REPORT` a file for the causes.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

#[path = "mutation/changes.rs"]
mod changes;
#[path = "mutation/known.rs"]
mod known;
#[path = "mutation/layout.rs"]
mod layout;
#[path = "mutation/oracle.rs"]
mod oracle;
#[path = "mutation/random.rs"]
mod random;
#[allow(dead_code)]
#[path = "corpus/truth.rs"]
mod truth;

use beadwise::lexicon::Lexicon;
use beadwise::pipeline;
use known::Known;
use oracle::Wrong;
use random::Random;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What became of the changes of one kind.
#[derive(Clone, Debug, Default)]
struct Tally {
    changes: usize,
    figures: usize,
    plain: usize,
    wrong_changes: usize,
    wrong_figures: usize,
    crashes: usize,
}

#[derive(Clone, Debug)]
struct Finding {
    kind: &'static str,
    report: String,
    change: String,
    wrong: Wrong,
}

#[derive(Default)]
struct Results {
    tallies: BTreeMap<&'static str, Tally>,
    findings: Vec<Finding>,
    crashes: Vec<String>,
}

fn try_changes(known: &Known, each: usize, results: &Mutex<Results>) {
    for (kind, change) in changes::KINDS {
        let mut random = Random::seeded(&format!("{}/{kind}", known.name));
        for _ in 0..each {
            let Some(changed) = change(known, &mut random) else { continue };
            let read =
                catch_unwind(AssertUnwindSafe(|| pipeline::from_document(&changed.document, Lexicon::builtin())));
            let mut results = results.lock().unwrap();
            let tally = results.tallies.entry(kind).or_default();
            tally.changes += 1;
            let Ok(outcome) = read else {
                tally.crashes += 1;
                results.crashes.push(format!("{}: {kind}: {}", known.name, changed.what));
                continue;
            };
            let judged = oracle::judge(known, &changed, &outcome);
            tally.figures += judged.figures;
            tally.plain += judged.plain;
            tally.wrong_figures += judged.wrong.len();
            tally.wrong_changes += usize::from(!judged.wrong.is_empty());
            results.findings.extend(judged.wrong.into_iter().map(|wrong| Finding {
                kind,
                report: known.name.clone(),
                change: changed.what.clone(),
                wrong,
            }));
        }
    }
}

/// Makes changes of every kind to every report, on as many threads as are wanted.
fn all_changes(reports: &[Known], each: usize, threads: usize) -> Results {
    let results = Mutex::new(Results::default());
    let next = AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                while let Some(known) = reports.get(next.fetch_add(1, Ordering::Relaxed)) {
                    try_changes(known, each, &results);
                }
            });
        }
    });
    let mut results = results.into_inner().unwrap();
    results.findings.sort_by(|a, b| (a.kind, &a.report, &a.change).cmp(&(b.kind, &b.report, &b.change)));
    results
}

fn share(part: usize, whole: usize) -> f64 {
    100.0 * part as f64 / whole.max(1) as f64
}

fn table(results: &Results) -> String {
    let mut text = format!(
        "{:<34}{:>9}{:>10}{:>10}{:>8}{:>9}{:>9}\n",
        "change", "changes", "figures", "undoubted", "wrong", "% of ch.", "crashes"
    );
    let mut sum = Tally::default();
    let mut row = |name: &str, t: &Tally| {
        let _ = writeln!(
            text,
            "{name:<34}{:>9}{:>10}{:>10}{:>8}{:>9.2}{:>9}",
            t.changes,
            t.figures,
            t.plain,
            t.wrong_figures,
            share(t.wrong_changes, t.changes),
            t.crashes
        );
    };
    for (kind, _) in changes::KINDS {
        let Some(t) = results.tallies.get(kind) else { continue };
        row(kind, t);
        sum.changes += t.changes;
        sum.figures += t.figures;
        sum.plain += t.plain;
        sum.wrong_changes += t.wrong_changes;
        sum.wrong_figures += t.wrong_figures;
        sum.crashes += t.crashes;
    }
    row("all", &sum);
    text
}

/// The causes of wrong figures, the most frequent first, each with a few of its cases.
fn causes(results: &Results, most: usize) -> String {
    let mut by_cause: BTreeMap<(&str, String), Vec<&Finding>> = BTreeMap::new();
    for finding in &results.findings {
        by_cause.entry((finding.kind, finding.wrong.cause.clone())).or_default().push(finding);
    }
    let mut ordered: Vec<_> = by_cause.into_iter().collect();
    ordered.sort_by_key(|(key, list)| (std::cmp::Reverse(list.len()), key.clone()));
    let mut text = String::new();
    for ((kind, cause), list) in ordered.iter().take(most) {
        let _ = writeln!(text, "\n## {} × {kind}: {cause}", list.len());
        let mut shown: BTreeMap<&str, usize> = BTreeMap::new();
        let mut lines = 0;
        for finding in list {
            let of_report = shown.entry(&finding.report).or_default();
            *of_report += 1;
            if *of_report > 2 || lines >= 12 {
                continue;
            }
            lines += 1;
            let _ = writeln!(text, "- {}: {} -> {}", finding.report, finding.change, finding.wrong.text);
        }
    }
    text
}

#[test]
fn a_changed_report_is_read_as_changed_or_doubted() {
    // As measured, a little above: what a change makes wrong is driven down in the full run, and held here.
    const MOST_WRONG_PERCENT: f64 = 4.0;
    let demo: Vec<Known> = known::demo();
    let results = all_changes(&demo, 1, 2);
    println!("{}\n{}", table(&results), causes(&results, 20));
    assert!(results.crashes.is_empty(), "{:#?}", results.crashes);
    let changes: usize = results.tallies.values().map(|t| t.changes).sum();
    let wrong: usize = results.tallies.values().map(|t| t.wrong_changes).sum();
    assert!(changes > 400, "{changes} changes");
    assert!(share(wrong, changes) <= MOST_WRONG_PERCENT, "{wrong} of {changes} changes gave a wrong figure");
}

#[test]
#[ignore = "minutes of work: the full measurement, by hand"]
fn measure_all_changes() {
    let each = std::env::var("MUTATIONS").ok().and_then(|n| n.parse().ok()).unwrap_or(10);
    let mut reports = known::demo();
    reports.extend(known::development());
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let results = all_changes(&reports, each, threads);
    let page = format!(
        "{} reports, {each} changes of each kind to each\n\n{}\n{}",
        reports.len(),
        table(&results),
        causes(&results, 60)
    );
    println!("{page}");
    if let Some(file) = std::env::var_os("MUTATION_REPORT") {
        std::fs::write(file, &page).expect("the report's file is writable");
    }
    assert!(results.crashes.is_empty(), "{:#?}", results.crashes);
}
