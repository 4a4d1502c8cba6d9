//! A row of a table that lost a cell is doubted.
#![allow(clippy::unwrap_used)]

use beadwise::lexicon::Lexicon;
use beadwise::pipeline;
use beadwise::readers::ReadOptions;

const HEAD: &str = "Sample,Total capacity eq/L,Moisture %,Whole beads %,Iron mg/kg dry,Copper mg/kg dry\n";

/// Whether each figure of a sample carries the doubt.
fn doubted(rows: &str, sample: &str) -> Vec<bool> {
    let text = format!("{HEAD}{rows}");
    let outcome = pipeline::read("a.csv", text.as_bytes(), &ReadOptions::default(), Lexicon::builtin());
    let record = outcome.records.iter().find(|r| r.sample.sample_id.as_deref() == Some(sample)).unwrap();
    record.measurements.iter().map(|m| m.doubts.iter().any(|d| d.code == "shifted-row")).collect()
}

#[test]
fn a_row_that_lost_a_cell_is_doubted_as_a_whole() {
    // The moisture of 51.4 is gone: 88 whole beads stand under moisture, 640 mg/kg of iron under whole beads.
    let rows = "L-1,1.80,47.2,95,310,12\nL-2,1.71,88,640,15\nL-3,1.65,52.9,90,820,20\n";
    assert_eq!(doubted(rows, "L-2"), [true; 4]);
    assert_eq!(doubted(rows, "L-1"), [false; 5]);
}

#[test]
fn a_row_whose_last_test_was_not_made_is_not() {
    let rows = "L-1,1.80,47.2,95,310,12\nL-2,1.71,51.4,88,640,\nL-3,1.65,52.9,90,820,20\n";
    assert_eq!(doubted(rows, "L-2"), [false; 4]);
}
