//! Workbooks of Excel since 2007.
//!
//! calamine streams values and styles; [`kit::ooxml`](super::kit::ooxml) reads beside it what it does not give:
//! hidden rows and columns, raised figures, merged ranges, formulas without a value, cells that it stumbles over.

use super::kit::archive::Archive;
use super::kit::content::Content;
use super::kit::grid::{Cell, Sheet, Value, page};
use super::kit::number_format::NumberFormat;
use super::kit::ooxml::{self, SheetFacts};
use super::kit::workbook::{Room, date_text, guarded, iso_date, not_a_workbook};
use super::{Input, Limits, ReadError, ReadOptions, ReadOutput};
use crate::document::Part;
use calamine::{DataRef, Reader, SheetType, SheetVisible, Xlsx, XlsxError};
use std::collections::{BTreeMap, HashSet};
use std::io::Cursor;
use std::sync::Arc;

type Book<'a> = Xlsx<Cursor<&'a [u8]>>;

pub(super) fn sniff(input: &Input<'_>) -> bool {
    match input.content {
        // The workbook may stand under any name; its folder of sheets does not.
        Content::Zip { names, .. } => names.iter().any(|name| name.to_ascii_lowercase().starts_with("xl/")),
        _ => false,
    }
}

pub(super) fn read(input: &Input<'_>, options: &ReadOptions) -> Result<ReadOutput, ReadError> {
    let mut archive = Archive::open(input.bytes, &options.limits)?;
    let facts = ooxml::Package::read(&mut archive)?;
    guarded(|| {
        let mut book = Xlsx::new(Cursor::new(input.bytes)).map_err(|error| not_a_workbook(&error))?;
        let from_1904 = book.has_1904_epoch();
        let mut output = ReadOutput::default();
        let mut part = Part::default();
        let mut room = Room::new(&options.limits);
        for listed in book.sheets_metadata().to_vec() {
            if listed.typ != SheetType::WorkSheet {
                continue;
            }
            let sheet_facts = match facts.sheet_path(&listed.name) {
                Some(path) => ooxml::sheet_facts(&archive.text(path)?.unwrap_or_default(), &facts)?,
                None => SheetFacts::default(),
            };
            let cells = cells(&mut book, &listed.name, &sheet_facts, &options.limits, &mut room)?;
            let sheet = Sheet {
                name: listed.name.clone(),
                hidden: listed.visible != SheetVisible::Visible,
                cells,
                hidden_rows: sheet_facts.hidden_rows,
                hidden_columns: sheet_facts.hidden_columns,
                merged: sheet_facts.merged,
                from_1904,
            };
            part.pages.extend(page(sheet, &mut output.notices));
        }
        output.parts.push(part);
        Ok(output)
    })
}

/// The cells of a sheet. `room`: how many more the limit allows.
fn cells(
    book: &mut Book<'_>,
    name: &str,
    facts: &SheetFacts,
    limits: &Limits,
    room: &mut Room,
) -> Result<Vec<Cell>, ReadError> {
    let mut reader = match book.worksheet_cells_reader(name) {
        Ok(reader) => reader,
        // A dialog or chart that is listed as a sheet.
        Err(XlsxError::NotAWorksheet(_) | XlsxError::WorksheetNotFound(_)) => return Ok(Vec::new()),
        Err(error) => return Err(damaged(name, &error)),
    };
    let mut formats: BTreeMap<usize, Arc<NumberFormat>> = BTreeMap::new();
    let mut cells = Vec::new();
    let mut seen = HashSet::new();
    let mut stumbles = 0_usize;
    loop {
        let (cell, style) = match reader.next_cell_with_style_id() {
            Ok(Some(next)) => next,
            Ok(None) => break,
            Err(error @ (XlsxError::Xml(_) | XlsxError::XmlEof(_) | XlsxError::Io(_) | XlsxError::Zip(_))) => {
                return Err(damaged(name, &error));
            }
            // One cell that says something unheard of; its text comes from the facts.
            Err(error) => {
                stumbles += 1;
                if stumbles > limits.cells {
                    return Err(damaged(name, &error));
                }
                continue;
            }
        };
        let (row, column) = cell.get_position();
        let format = formats.entry(style).or_insert_with(|| {
            let format = reader.styles().get(style).and_then(|s| s.number_format.as_ref());
            Arc::new(format.map_or_else(NumberFormat::default, |f| match f.format_id {
                Some(id) if f.format_code == "General" => NumberFormat::built_in(u16::try_from(id).unwrap_or(0)),
                _ => NumberFormat::parse(&f.format_code),
            }))
        });
        if facts.formulas.contains_key(&(row, column)) {
            continue;
        }
        let Some(value) = value(cell.get_value(), format) else { continue };
        let value = match facts.texts.get(&(row, column)) {
            Some(text) => Value::Text(text.clone()),
            None => value,
        };
        seen.insert((row, column));
        room.add(&mut cells, Cell { column, row, value, format: Some(format.clone()) })?;
    }
    for ((row, column), text) in facts.texts.iter().filter(|(at, _)| !seen.contains(*at)) {
        room.add(&mut cells, Cell { column: *column, row: *row, value: Value::Text(text.clone()), format: None })?;
    }
    for ((row, column), formula) in &facts.formulas {
        room.add(
            &mut cells,
            Cell { column: *column, row: *row, value: Value::Formula(formula.clone()), format: None },
        )?;
    }
    Ok(cells)
}

fn value(data: &DataRef<'_>, format: &NumberFormat) -> Option<Value> {
    Some(match data {
        DataRef::Empty => return None,
        DataRef::Int(number) => Value::Number(*number as f64),
        DataRef::Float(number) => Value::Number(*number),
        DataRef::String(text) => Value::Text(text.clone()),
        DataRef::SharedString(text) => Value::Text((*text).to_owned()),
        DataRef::Bool(yes) => Value::Bool(*yes),
        // A built-in date of another language than ours has no code; the format takes all others.
        DataRef::DateTime(time) if format.is_general() => date_text(time),
        DataRef::DateTime(time) => Value::Number(time.as_f64()),
        DataRef::DateTimeIso(text) => iso_date(text),
        DataRef::DurationIso(text) => Value::Text(text.clone()),
        DataRef::Error(error) => Value::Text(error.to_string()),
    })
}

fn damaged(sheet: &str, error: &dyn std::fmt::Display) -> ReadError {
    ReadError::new(
        "not-a-workbook",
        format!("sheet {sheet} is damaged ({error}); open the file in a spreadsheet program and save it again"),
    )
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::kit::testing::{TRAPS_HIDDEN, cells, fixture, hidden, traps};
    use super::*;
    use crate::document::NoticeKind;
    use crate::readers::read as read_file;
    use std::io::Write;

    #[test]
    fn every_trap_is_read_as_it_is_shown() {
        let document = fixture("traps.xlsx");
        assert_eq!(document.source.format, "xlsx");
        assert_eq!(cells(&document), traps("C8 [formula C4+1]"));
        assert_eq!(hidden(&document), TRAPS_HIDDEN);
        let formulas = document.notices.iter().filter(|n| n.kind == NoticeKind::FormulaWithoutValue);
        assert_eq!(formulas.map(|n| n.place.cell.as_deref()).collect::<Vec<_>>(), [Some("C8")]);
    }

    #[test]
    fn shared_strings_and_stored_values_are_read() {
        let document = fixture("resaved.xlsx");
        assert_eq!(cells(&document), traps("C8 93.0 [number 93 decimals 1]"));
        assert_eq!(hidden(&document), TRAPS_HIDDEN);
    }

    #[test]
    fn dates_count_from_1904_where_the_workbook_says_so() {
        assert_eq!(cells(&fixture("epoch1904.xlsx")), ["Sheet!A1 2025-03-01 [date 2025-03-01]"]);
    }

    /// A workbook of one sheet with these rows.
    fn book(rows: &str, strings: &str) -> Vec<u8> {
        let mut writer = zip::ZipWriter::new(Cursor::new(Vec::new()));
        let schema = "http://schemas.openxmlformats.org";
        let entries = [
            (
                "_rels/.rels",
                format!(
                    "<Relationships><Relationship Id=\"a\" Type=\"{schema}/officeDocument/2006/relationships/officeDocument\" Target=\"xl/workbook.xml\"/></Relationships>"
                ),
            ),
            (
                "xl/_rels/workbook.xml.rels",
                format!(
                    "<Relationships><Relationship Id=\"b\" Type=\"{schema}/officeDocument/2006/relationships/worksheet\" Target=\"worksheets/s.xml\"/></Relationships>"
                ),
            ),
            (
                "xl/workbook.xml",
                format!(
                    "<workbook xmlns:r=\"{schema}/officeDocument/2006/relationships\"><sheets><sheet name=\"S\" sheetId=\"1\" r:id=\"b\"/></sheets></workbook>"
                ),
            ),
            ("xl/sharedStrings.xml", strings.to_owned()),
            ("xl/worksheets/s.xml", format!("<worksheet><sheetData>{rows}</sheetData></worksheet>")),
        ];
        for (name, content) in entries {
            writer.start_file(name, zip::write::SimpleFileOptions::default()).unwrap();
            writer.write_all(content.as_bytes()).unwrap();
        }
        writer.finish().unwrap().into_inner()
    }

    #[test]
    fn one_bad_cell_does_not_lose_the_others() {
        let rows = "<row r=\"1\"><c r=\"A1\" t=\"e\"><v>#SPILL!</v></c><c r=\"B1\" t=\"n\"><v>1,5</v></c><c r=\"C1\"><v>2.5</v></c></row>";
        let document = read_file("a.xlsx", &book(rows, "<sst/>"), &ReadOptions::default()).unwrap();
        assert_eq!(cells(&document), ["S!A1 #SPILL!", "S!B1 1,5", "S!C1 2.5 [number 2.5]"]);
    }

    #[test]
    fn far_corners_take_no_memory_and_cells_are_counted() {
        let rows =
            "<row r=\"1\"><c r=\"A1\"><v>1</v></c></row><row r=\"1048576\"><c r=\"XFD1048576\"><v>2</v></c></row>";
        let bytes = book(rows, "<sst/>");
        let document = read_file("a.xlsx", &bytes, &ReadOptions::default()).unwrap();
        assert_eq!(cells(&document), ["S!A1 1 [number 1]", "S!XFD1048576 2 [number 2]"]);
        let options = ReadOptions { limits: Limits { cells: 1, ..Limits::default() }, ..ReadOptions::default() };
        assert_eq!(read_file("a.xlsx", &bytes, &options).unwrap_err().code, "too-large");
    }

    #[test]
    fn a_claim_of_many_strings_and_a_cut_sheet_are_errors() {
        let bomb = book("", "<sst uniqueCount=\"999999999999999\"></sst>");
        assert_eq!(read_file("a.xlsx", &bomb, &ReadOptions::default()).unwrap_err().code, "not-a-workbook");
        let cut = book("<row r=\"1\"><c r=\"A1\"><v>1</v></c></row><row", "<sst/>");
        assert_eq!(read_file("a.xlsx", &cut, &ReadOptions::default()).unwrap_err().code, "not-a-workbook");
    }
}
