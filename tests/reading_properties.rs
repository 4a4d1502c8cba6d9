//! What must hold of the reading of any table: the order of its rows and columns says nothing, and neither does when
//! and how often it is read.

#![allow(clippy::unwrap_used)]

use beadwise::lexicon::Lexicon;
use beadwise::pipeline::{self, Outcome};
use beadwise::readers::ReadOptions;
use proptest::prelude::*;

/// Label, unit, decimals, and the least and greatest figure that is printed: all within what the property can be.
const ROWS: [(&str, &str, usize, f64, f64); 9] = [
    ("Total capacity, Na form", "eq/L", 2, 1.0, 2.2),
    ("Moisture retention", "%", 1, 40.0, 60.0),
    ("Whole beads", "%", 0, 60.0, 99.0),
    ("Iron, dry basis", "mg/kg", 0, 20.0, 9000.0),
    ("Copper, dry basis", "mg/kg", 0, 5.0, 400.0),
    ("Uniformity coefficient", "", 2, 1.1, 1.9),
    ("Mean bead size", "mm", 2, 0.4, 0.9),
    ("Settled density", "g/L", 0, 690.0, 880.0),
    ("Crush strength", "g/bead", 0, 100.0, 900.0),
];

const METHODS: [&str; 2] = ["ASTM D2187", "in house"];

fn read(name: &str, text: &str) -> Outcome {
    pipeline::read(name, text.as_bytes(), &ReadOptions::default(), Lexicon::builtin())
}

/// Everything that is said of the figures but their places, in an order of its own.
fn said(outcome: &Outcome) -> Vec<String> {
    let mut all: Vec<String> = outcome
        .records
        .iter()
        .flat_map(|record| {
            record.measurements.iter().map(|m| {
                let codes: Vec<&str> = m.doubts.iter().map(|d| d.code.as_str()).collect();
                format!(
                    "{:?} {} {:?} {:?} {} {:?} {:?} {:?} {codes:?}",
                    record.sample.vessel,
                    m.property,
                    m.basis,
                    m.form,
                    m.qualifier.word(),
                    m.value,
                    m.unit,
                    m.method
                )
            })
        })
        .collect();
    all.sort();
    all
}

/// A column of a table: its head and its cells.
type Column = (String, Vec<String>);

fn table(columns: &[Column], rows: &[usize]) -> String {
    let line = |cells: Vec<&str>| cells.join(";") + "\n";
    let mut text = "Vessel;Softener 2\nSite;Mill Street Laundry\n\n".to_owned();
    text += &line(columns.iter().map(|c| c.0.as_str()).collect());
    for row in rows {
        text += &line(columns.iter().map(|c| c.1[*row].as_str()).collect());
    }
    text
}

prop_compose! {
    fn shares()(shares in prop::collection::vec(0.0..1.0_f64, ROWS.len())) -> Vec<String> {
        ROWS.iter().zip(shares).map(|((_, _, decimals, low, high), s)| format!("{:.decimals$}", low + s * (high - low))).collect()
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    #[test]
    fn the_order_of_rows_and_columns_says_nothing(
        values in shares(),
        rows in Just((0..ROWS.len()).collect::<Vec<_>>()).prop_shuffle(),
        order in Just(vec![0_usize, 1, 2]).prop_shuffle(),
    ) {
        let labels = ROWS.iter().map(|r| r.0.to_owned()).collect();
        let units = ROWS.iter().map(|r| r.1.to_owned()).collect();
        let methods = (0..ROWS.len()).map(|i| METHODS[i % 2].to_owned()).collect();
        let first: Column = ("Property".to_owned(), labels);
        let others: [Column; 3] =
            [("Unit".to_owned(), units), ("Result".to_owned(), values), ("Method".to_owned(), methods)];
        let straight: Vec<Column> = std::iter::once(&first).chain(&others).cloned().collect();
        let turned: Vec<Column> = std::iter::once(&first).chain(order.iter().map(|i| &others[*i])).cloned().collect();
        let as_printed: Vec<usize> = (0..ROWS.len()).collect();
        let expected = said(&read("a.csv", &table(&straight, &as_printed)));
        prop_assert_eq!(expected.len(), ROWS.len());
        prop_assert_eq!(&expected, &said(&read("a.csv", &table(&turned, &rows))));
    }

    #[test]
    fn the_order_of_lines_says_nothing(
        values in shares(),
        lines in Just((0..ROWS.len()).collect::<Vec<_>>()).prop_shuffle(),
    ) {
        let line = |i: usize| format!("{}: {} {}\n", ROWS[i].0, values[i], ROWS[i].1);
        let letter = |order: &[usize]| {
            "Vessel: Softener 2\n\n".to_owned() + &order.iter().map(|i| line(*i)).collect::<String>()
        };
        let as_printed: Vec<usize> = (0..ROWS.len()).collect();
        let expected = said(&read("a.txt", &letter(&as_printed)));
        prop_assert_eq!(expected.len(), ROWS.len());
        prop_assert_eq!(expected, said(&read("a.txt", &letter(&lines))));
    }

    #[test]
    fn columns_of_samples_may_stand_in_any_order(a in shares(), b in shares(), c in shares(), order in Just(vec![0_usize, 1, 2]).prop_shuffle()) {
        let samples = [("Softener 1", &a), ("Softener 2", &b), ("Softener 3", &c)];
        let sheet = |order: &[usize]| {
            let mut text = "Property;Unit".to_owned();
            for i in order {
                text += &format!(";{}", samples[*i].0);
            }
            for (at, row) in ROWS.iter().enumerate() {
                text += &format!("\n{};{}", row.0, row.1);
                for i in order {
                    text += &format!(";{}", samples[*i].1[at]);
                }
            }
            text + "\n"
        };
        let expected = said(&read("a.csv", &sheet(&[0, 1, 2])));
        prop_assert_eq!(expected.len(), 3 * ROWS.len());
        prop_assert_eq!(expected, said(&read("a.csv", &sheet(&order))));
    }

    #[test]
    fn the_same_bytes_give_the_same_bytes(bytes in prop::collection::vec(any::<u8>(), 0..600), pieces in prop::collection::vec(prop::sample::select(vec![
        "Total capacity", "Iron", "Moisture", ": ", "; ", "\n", "  ", "\t", "1.72", "47,3", "1,234", "eq/L", "%", "mg/kg", "Result", "New", "Sample", "A", "03/04/2024", "<", "<td>", "Subject: x\n",
    ]), 0..60)) {
        let json = |bytes: &[u8]| {
            let outcome = pipeline::read("a", bytes, &ReadOptions::default(), Lexicon::builtin());
            let parts = (serde_json::to_string(&outcome.records), serde_json::to_string(&outcome.file), serde_json::to_string(&outcome.errors));
            (parts.0.unwrap(), parts.1.unwrap(), parts.2.unwrap())
        };
        prop_assert_eq!(json(&bytes), json(&bytes));
        let text = pieces.concat();
        prop_assert_eq!(json(text.as_bytes()), json(text.as_bytes()));
    }
}
