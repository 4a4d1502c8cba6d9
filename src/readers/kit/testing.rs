//! What the tests of several readers share.

#![allow(clippy::unwrap_used)]

use crate::document::{Document, Typed, Word};
use crate::readers::{ReadOptions, read};

/// Bytes of a file of `tests/readers`.
pub fn bytes(name: &str) -> Vec<u8> {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/readers").join(name);
    std::fs::read(path).unwrap()
}

/// Reads a file of `tests/readers`.
pub fn fixture(name: &str) -> Document {
    read(name, &bytes(name), &ReadOptions::default()).unwrap()
}

/// Cells as `Sheet!C3 text` with what is typed behind it: `number 47.3 decimals 1 unit %`, `date`, `formula`.
pub fn cells(document: &Document) -> Vec<String> {
    let lines = document.parts.iter().flat_map(|p| &p.pages).flat_map(|p| &p.lines);
    lines.flat_map(|l| &l.words).map(cell).collect()
}

fn cell(word: &Word) -> String {
    let place = &word.place;
    let mut text = format!("{}!{} {}", place.sheet.as_deref().unwrap(), place.cell.as_deref().unwrap(), word.text);
    match &word.typed {
        None => {}
        Some(Typed::Number { value, decimals, unit }) => {
            text += &format!(" [number {value}");
            text += &decimals.map(|d| format!(" decimals {d}")).unwrap_or_default();
            text += &unit.as_ref().map(|u| format!(" unit {u}")).unwrap_or_default();
            text += "]";
        }
        Some(Typed::Date(date)) => text += &format!(" [date {date}]"),
        Some(Typed::FormulaWithoutValue { formula }) => text += &format!("[formula {formula}]"),
    }
    if word.x1 - word.x0 != 1.0 || word.rows != 1 {
        text += &format!(" [spans {} by {}]", word.x1 - word.x0, word.rows);
    }
    text
}

/// What the `traps` workbooks hold, by `tests/readers/make.py`; the formula's cell differs from writer to writer.
pub fn traps(formula: &str) -> Vec<String> {
    let cells = [
        "B3 moisture",
        "C3 47.3% [number 47.3 decimals 1 unit %]",
        "B4 whole beads",
        "C4 92.0% [number 92 decimals 1 unit %]",
        "B5 iron",
        "C5 6200 mg/kg [number 6200 decimals 0 unit mg/kg]",
        "B6 sampled",
        "C6 2025-03-01 [date 2025-03-01]",
        "B7 number as text",
        "C7 12.5",
        "B8 formula",
        formula,
        "B9 capacity",
        "C9 1.42 [number 1.41666 decimals 2]",
        "B10 merged [spans 3 by 1]",
        "B11 flag",
        "C11 TRUE",
        "B12 error",
        "C12 #N/A",
        "B13 density",
        "C13 0.8 g/cm³ & <1",
        "B15 time",
        "C15 14:30",
        "B16 manganese",
        "C16 < 50",
        "B17 shown by nothing",
        "B18 general",
        "C18 37.6 [number 37.6]",
        "B19 month",
        "C19 2016-05",
        "B20 installed",
        "C20 2016-05-17 [date 2016-05-17]",
    ];
    let first = cells.iter().map(|cell| format!("Results!{cell}"));
    let second = ["Second core!A1 iron", "Second core!B1 50 [number 50]"].iter().map(ToString::to_string);
    first.chain(second).collect()
}

/// What is said of the hidden things in the `traps` workbooks.
pub const TRAPS_HIDDEN: [&str; 4] = [
    "rows of sheet Results are hidden (14); left out: 2 cells",
    "columns of sheet Results are hidden (F); left out: 1 cell",
    "number formats of sheet Results show nothing; left out: 1 cell",
    "sheet Calc is hidden; left out: 1 cell",
];

/// What is said of hidden things.
pub fn hidden(document: &Document) -> Vec<&str> {
    let kind = crate::document::NoticeKind::HiddenContent;
    document.notices.iter().filter(|n| n.kind == kind).map(|n| n.text.as_str()).collect()
}
