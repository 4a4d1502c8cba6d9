//! `beadwise convert --to xlsx`, read back by another reader.

use crate::kit::{FORMULA, Folder, MARCH, rows};
use calamine::{Data, Range, Reader, Xlsx, open_workbook};
use std::collections::BTreeMap;
use std::io::Read;

/// A date whose day and month could be exchanged, on a bed of its own.
const APRIL: &str = "\
Vessel: Softener 3
Date sampled: 04/03/2025
Moisture retention: 48.1 %
Iron, dry basis: 1,250 mg/kg
";

fn folder() -> Folder {
    let folder = Folder::with(&[
        ("reports/march.txt", MARCH.as_bytes()),
        ("reports/april.txt", APRIL.as_bytes()),
        ("reports/odd.txt", FORMULA.as_bytes()),
    ]);
    let run = folder.run(&["convert", "reports", "-o", "all.xlsx"]);
    assert_eq!(run.status, 0, "{}", run.err);
    folder
}

fn sheet(folder: &Folder, name: &str) -> Range<Data> {
    let mut book: Xlsx<_> = open_workbook(folder.path("all.xlsx")).unwrap();
    assert_eq!(book.sheet_names(), ["Samples", "Measurements"]);
    book.worksheet_range(name).unwrap()
}

/// Rows by their heads.
fn by_head(range: &Range<Data>) -> Vec<BTreeMap<String, Data>> {
    let heads: Vec<String> = range.headers().unwrap();
    range.rows().skip(1).map(|row| heads.iter().cloned().zip(row.iter().cloned()).collect()).collect()
}

fn part(folder: &Folder, name: &str) -> String {
    let mut archive = zip::ZipArchive::new(std::fs::File::open(folder.path("all.xlsx")).unwrap()).unwrap();
    let mut text = String::new();
    archive.by_name(name).unwrap().read_to_string(&mut text).unwrap();
    text
}

#[test]
fn both_sheets_hold_what_the_tables_hold_with_numbers_as_numbers_and_dates_as_dates() {
    let folder = folder();
    for (name, arguments) in [("Samples", &["--wide"][..]), ("Measurements", &[])] {
        let table = rows(&folder.run(&[&["convert", "reports", "--to", "csv"], arguments].concat()).out);
        let cells = by_head(&sheet(&folder, name));
        assert_eq!(cells.len(), table.len(), "{name}");
        for (cells, row) in cells.iter().zip(&table) {
            for (head, text) in row {
                let shown = match &cells[head] {
                    Data::Float(number) => number.to_string(),
                    Data::DateTime(date) => date.as_datetime().unwrap().format("%Y-%m-%d").to_string(),
                    Data::Empty => String::new(),
                    Data::String(text) => text.clone(),
                    other => panic!("{head}: {other:?}"),
                };
                assert_eq!(&shown, text, "{name}, {head}");
            }
        }
    }
    let samples = by_head(&sheet(&folder, "Samples"));
    let march = &samples[1];
    assert_eq!(march["total_capacity.volume[eq/L]"], Data::Float(1.72));
    assert_eq!(march["iron.dry_mass[mg/kg].qualifier"], Data::String("<".into()));
    assert!(matches!(march["sampled_on"], Data::DateTime(_)), "{:?}", march["sampled_on"]);
    let long = by_head(&sheet(&folder, "Measurements"));
    assert!(long.iter().all(|row| matches!(row["value"], Data::Float(_)) && matches!(row["unit"], Data::String(_))));
}

#[test]
fn doubts_are_notes_on_their_cells() {
    let folder = folder();
    for comments in ["xl/comments1.xml", "xl/comments2.xml"] {
        let notes = part(&folder, comments);
        // april.txt comes first; sampled_on is the sixth column.
        assert!(notes.contains("ref=\"F2\"") && notes.contains("ambiguous-date"), "{notes}");
        assert!(notes.contains("2025-04-03") && notes.contains("2025-03-04"), "{notes}");
    }
}

#[test]
fn text_of_reports_is_never_a_formula() {
    let folder = folder();
    for sheet in ["xl/worksheets/sheet1.xml", "xl/worksheets/sheet2.xml"] {
        assert!(!part(&folder, sheet).contains("<f>"), "{sheet}");
    }
    let vessel = |folder: &Folder| by_head(&sheet(folder, "Samples"))[2]["vessel"].clone();
    assert!(matches!(vessel(&folder), Data::String(text) if text.starts_with("'=HYPERLINK(")));
    assert_eq!(folder.run(&["convert", "reports", "--exact", "-o", "all.xlsx"]).status, 0);
    assert!(matches!(vessel(&folder), Data::String(text) if text.starts_with("=HYPERLINK(")));
    assert!(part(&folder, "xl/styles.xml").contains("quotePrefix=\"1\""));
    assert!(!part(&folder, "xl/worksheets/sheet1.xml").contains("<f>"));
}

#[test]
fn an_earlier_workbook_of_ours_is_passed_over_and_a_laboratorys_is_never_written_over() {
    let folder = folder();
    assert_eq!(folder.run(&["convert", "reports", "-o", "reports/all.xlsx"]).status, 0);
    let run = folder.run(&["convert", "reports", "-o", "other.csv"]);
    assert!(run.status == 0 && run.err.contains("all.xlsx is no report and is passed over"), "{}", run.err);
    assert_eq!(folder.run(&["convert", "reports", "-o", "reports/all.xlsx"]).status, 0);
    let laboratory = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures-demo/06-mill-street-both-2019/NB-19-0411 Mill Street.xlsx");
    std::fs::copy(laboratory, folder.path("reports/lab.xlsx")).unwrap();
    let run = folder.run(&["convert", "reports", "-o", "reports/lab.xlsx"]);
    assert!(run.status == 2 && run.err.contains("written over"), "{}", run.err);
}
