//! "Upper", "Lower", "High" and "Low" over columns: limits beside a column of results, samples without one.
#![allow(clippy::unwrap_used, clippy::panic)]

use beadwise::lexicon::Lexicon;
use beadwise::pipeline;
use beadwise::readers::ReadOptions;
use beadwise::record::Record;

fn read(text: &str) -> Vec<Record> {
    pipeline::read("a.csv", text.as_bytes(), &ReadOptions::default(), Lexicon::builtin()).records
}

fn capacities(records: &[Record]) -> Vec<(Option<String>, Option<f64>)> {
    records.iter().map(|r| (r.sample.position.clone(), r.measurements.first().and_then(|m| m.value))).collect()
}

#[test]
fn upper_and_lower_are_places_in_the_bed() {
    let two = "Test,Unit,Upper,Lower\nTotal capacity,eq/L,1.61,1.85\nMoisture,%,54.2,48.8\n";
    assert_eq!(capacities(&read(two)), [(Some("top".into()), Some(1.61)), (Some("bottom".into()), Some(1.85))]);
    let three = "Test,Unit,Upper,Middle,Lower\nTotal capacity,eq/L,1.61,1.78,1.85\nMoisture,%,54.2,50.1,48.8\n";
    let places = [("top", 1.61), ("middle", 1.78), ("bottom", 1.85)];
    assert_eq!(capacities(&read(three)), places.map(|(place, value)| (Some(place.to_owned()), Some(value))));
}

#[test]
fn low_and_high_without_a_result_are_two_samples() {
    let records = read("Test,Unit,High,Low\nTotal capacity,eq/L,1.61,1.85\nMoisture,%,54.2,48.8\n");
    assert_eq!(records.len(), 2);
    assert_eq!(records.iter().map(|r| r.measurements.len()).sum::<usize>(), 4);
}

#[test]
fn low_and_high_beside_a_result_are_its_limits() {
    for head in ["Result", "Outcome", "This core"] {
        limits(&format!("Test,{head},Low,High,Unit\nTotal capacity,1.73,1.9,,eq/L\nMoisture,51.5,44,48,%\n"));
    }
}

fn limits(text: &str) {
    let records = read(text);
    let [record] = records.as_slice() else { panic!("{} records", records.len()) };
    let moisture = record.measurements.iter().find(|m| m.property == "moisture_retention").unwrap();
    assert_eq!(moisture.value, Some(51.5));
    let limits = moisture.reference.as_ref().unwrap();
    assert_eq!((limits.low, limits.high), (Some(44.0), Some(48.0)));
}
