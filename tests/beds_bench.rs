//! How the store grows: filing, ranking and one bed's history at several sizes.
//!
//! `cargo test --release --test beds_bench -- --ignored --nocapture` prints the times; `BEADWISE_BEDS` sets the largest
//! size. In the ordinary run a small store checks that the cost of a filing does not grow with the store.

#![cfg(feature = "beds")]
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use beadwise::beds::{Bed, Given, Placed, Placing, Report, Store, Target, Twin, bed_of, hash, rank};
use beadwise::judge::{Context, example};
use beadwise::place::Source;
use beadwise::record::{FileReading, Record};
use std::time::{Duration, Instant};

const TODAY: &str = "2025-11-25";
const YEARS: u32 = 10;

/// Report `year` of bed `bed`: a softener that loses 1 to 4 % a year.
fn record(bed: u32, year: u32) -> Record {
    let capacity = 2.0 - 0.02 * f64::from(bed % 4 + 1) * f64::from(year) * 0.5;
    let text = format!(
        "site Plant {bed}\nvessel Softener {}\nclass sac-gel-8\nform Na\nduty softening\ninstalled_on 2014-06\nlaboratory Northbank Analytical\nreport_sampled",
        bed % 3 + 1
    )
    .replace("report_sampled", &format!("sampled_on {}-05-15", 2015 + year));
    let figures =
        format!("total_capacity volume {capacity:.3}\nmoisture_retention 48\nwhole_beads 93\niron dry_mass 400");
    let mut record = example::record(&format!("{text}\n{figures}")).unwrap();
    record.sample.report_number = Some(format!("NB-{bed}-{year}"));
    record
}

/// As `beds file --new` does it, without the reading of a file.
fn file(store: &mut Store, bed: u32, year: u32) {
    let bytes = format!("report {year} of bed {bed}").into_bytes();
    let source = Source { file: format!("{bed}-{year}.txt"), format: "text".into(), sha256: hash(&bytes) };
    let record = Record { source: source.clone(), ..record(bed, year) };
    let target = match store.place(&record.sample).unwrap() {
        Placing::Known { bed } => Target::Bed(bed),
        _ => Target::New(Box::new(bed_of(&record))),
    };
    let records = [Placed { record, given: Given::default(), target }];
    let reading = FileReading { source, ..FileReading::default() };
    store
        .file(&Report { bytes: &bytes, reading: &reading, records: &records, today: TODAY, twin: Twin::Refuse })
        .unwrap();
}

struct Times {
    filing: Duration,
    ranking: Duration,
    history: Duration,
}

fn measure(beds: u32) -> Times {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open_or_begin(&folder.path().join("beds.db")).unwrap();
    let begun = Instant::now();
    for bed in 0..beds {
        for year in 0..YEARS {
            file(&mut store, bed, year);
        }
    }
    let filing = begun.elapsed();
    let context = Context { today: Some(TODAY), ..Context::builtin().unwrap() };
    let begun = Instant::now();
    let outlooks = store.outlooks(None, TODAY, context.specs, context.policy).unwrap();
    let ranked = rank(&outlooks, TODAY, context.specs, context.policy);
    let ranking = begun.elapsed();
    assert_eq!(ranked.len(), beds as usize);
    assert!(ranked.first().unwrap().at_stake >= ranked.last().unwrap().at_stake);
    let begun = Instant::now();
    let id = Bed::named("Plant 7", "Softener 2").id;
    let history = store.timeline(&id).unwrap().history(&context);
    let times = Times { filing, ranking, history: begun.elapsed() };
    assert_eq!(history.entries.len(), YEARS as usize);
    times
}

#[test]
#[ignore = "minutes; prints times"]
fn the_times_at_several_sizes() {
    let most: u32 = std::env::var("BEADWISE_BEDS").ok().and_then(|text| text.parse().ok()).unwrap_or(10_000);
    for beds in [most / 8, most / 4, most / 2, most] {
        let times = measure(beds);
        let each = times.filing / (beds * YEARS);
        println!(
            "{beds} beds, {} analyses: filing {:.1} s ({each:.1?} each), rank {:.2} s, one history {:.1?}",
            beds * YEARS,
            times.filing.as_secs_f64(),
            times.ranking.as_secs_f64(),
            times.history
        );
    }
}

/// Eight times the beds may not cost much more than eight times the time: a filing looks at no other bed.
#[test]
fn filing_grows_no_faster_than_the_store() {
    let (small, large) = (measure(15), measure(120));
    let filing = large.filing.as_secs_f64() / small.filing.as_secs_f64();
    // Three times the ratio of sizes leaves room for a busy machine; growth by the square would be 64.
    assert!(filing < 24.0, "filing took {filing:.1} times as long");
}
