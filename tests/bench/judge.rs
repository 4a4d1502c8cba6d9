//! Time to judge one record, all 10,000 draws included: `cargo bench --bench judge`, or with a number of records after `--`.
//!
//! A few rounds in a test run, so that it stays sound; no limit is set on the time, because machines differ.

use beadwise::judge::{Context, example, judge};
use std::time::Instant;

const BEDS: [&str; 4] = [
    "class sac-gel-8\nform Na\nduty softening\ntotal_capacity volume 1.72\nmoisture_retention 51\nwhole_beads 91\niron dry_mass 6200",
    "class sba1-gel\nform Cl\nduty demineralizing\ntotal_capacity volume 1.2\nsalt_splitting_capacity volume 0.9\norganics_permanganate volume 8000",
    "class sac-gel-8\nduty softening\ntotal_capacity volume 1.44",
    "class wba-macro\nform FB\ntotal_capacity volume 1.0\nmoisture_retention 59\nwhole_beads 95\nsilica dry_mass 900",
];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let count = std::env::args().find_map(|argument| argument.parse::<u32>().ok());
    let count = count.unwrap_or(if cfg!(debug_assertions) { 4 } else { 1000 });
    let context = Context::builtin()?;
    let records = BEDS.iter().map(|text| example::record(text)).collect::<Result<Vec<_>, _>>()?;
    let start = Instant::now();
    let mut certainty = 0.0;
    for record in records.iter().cycle().take(usize::try_from(count)?) {
        certainty += judge(record, &context).certainty;
    }
    let each = start.elapsed().as_secs_f64() / f64::from(count) * 1000.0;
    println!("judge: {count} records, {each:.2} ms each (mean certainty {:.2})", certainty / f64::from(count));
    Ok(())
}
