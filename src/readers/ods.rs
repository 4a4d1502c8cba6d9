//! OpenDocument spreadsheets.
//!
//! Their XML is read here rather than by calamine, which gives neither what a cell shows nor what is hidden, and
//! lays repeated rows out one by one.

use super::kit::archive::Archive;
use super::kit::content::Content;
use super::kit::decimal::{fixed, general};
use super::kit::grid::{Cell, Merged, Sheet, Value, page};
use super::kit::number_format::{Shown, labelled, shifted};
use super::kit::odf::{Styles, paragraphs, skip_element};
use super::kit::workbook::{Room, guarded, iso_date, not_a_workbook};
use super::kit::xml::{attribute, reader};
use super::{Input, ReadError, ReadOptions, ReadOutput};
use crate::document::Part;
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

/// Last row and column of the largest sheets, counted from 0; repeats beyond them are no cells.
const LAST_ROW: u32 = 1_048_575;
const LAST_COLUMN: u32 = 16_383;

pub(super) fn sniff(input: &Input<'_>) -> bool {
    match input.content {
        Content::Zip { mimetype, .. } => {
            input.content.zip_holds("content.xml")
                && (mimetype.contains("opendocument.spreadsheet") || (mimetype.is_empty() && input.extension == "ods"))
        }
        _ => false,
    }
}

pub(super) fn read(input: &Input<'_>, options: &ReadOptions) -> Result<ReadOutput, ReadError> {
    let mut archive = Archive::open(input.bytes, &options.limits)?;
    if archive.text("META-INF/manifest.xml")?.is_some_and(|manifest| manifest.contains("encryption-data")) {
        return Err(ReadError::new(
            "encrypted",
            "the workbook is encrypted; open it with its password and save it again without one",
        ));
    }
    let content = archive.text("content.xml")?.ok_or_else(|| not_a_workbook(&"it holds no content.xml"))?;
    let mut styles = Styles::default();
    styles.read(&archive.text("styles.xml")?.unwrap_or_default());
    styles.read(&content);
    guarded(|| {
        let mut output = ReadOutput::default();
        let mut part = Part::default();
        for sheet in sheets(&content, &styles, &mut Room::new(&options.limits))? {
            part.pages.extend(page(sheet, &mut output.notices));
        }
        output.parts.push(part);
        Ok(output)
    })
}

fn sheets(xml: &str, styles: &Styles, room: &mut Room) -> Result<Vec<Sheet>, ReadError> {
    let mut events = reader(xml);
    let mut sheets = Vec::new();
    let mut inside = false;
    loop {
        match events.read_event().map_err(|error| not_a_workbook(&error))? {
            Event::Start(e) => match e.local_name().as_ref() {
                "spreadsheet" => inside = true,
                // What was deleted under change tracking is no content.
                "tracked-changes" => skip_element(&mut events, &e),
                "table" if inside => sheets.push(table(&mut events, &e, styles, room)?),
                _ => {}
            },
            Event::Eof if !inside => return Err(not_a_workbook(&"its content.xml holds no spreadsheet")),
            Event::Eof => return Ok(sheets),
            _ => {}
        }
    }
}

fn count(element: &BytesStart<'_>, name: &str) -> u32 {
    attribute(element, name).and_then(|n| n.parse().ok()).unwrap_or(1).max(1)
}

fn is_collapsed(element: &BytesStart<'_>) -> bool {
    attribute(element, "visibility").is_some_and(|v| v == "collapse" || v == "filter")
}

fn table(
    events: &mut Reader<&[u8]>,
    element: &BytesStart<'_>,
    styles: &Styles,
    room: &mut Room,
) -> Result<Sheet, ReadError> {
    let style = attribute(element, "style-name").unwrap_or_default();
    let mut sheet = Sheet {
        name: attribute(element, "name").unwrap_or_default(),
        hidden: styles.hides_table(&style),
        ..Sheet::default()
    };
    let mut column_styles: Vec<(u32, String)> = Vec::new();
    let (mut column, mut row) = (0_u32, 0_u32);
    loop {
        match events.read_event().map_err(|error| not_a_workbook(&error))? {
            Event::Start(e) => match e.local_name().as_ref() {
                "table-column" => {
                    let last = column.saturating_add(count(&e, "number-columns-repeated") - 1);
                    let style = attribute(&e, "style-name").unwrap_or_default();
                    if is_collapsed(&e) || styles.has_no_size(&style) {
                        sheet.hidden_columns.add(column, last);
                    }
                    column_styles.push((last, attribute(&e, "default-cell-style-name").unwrap_or_default()));
                    column = last.saturating_add(1);
                }
                "table-row" => {
                    let repeats = count(&e, "number-rows-repeated");
                    let last = row.saturating_add(repeats - 1);
                    let style = attribute(&e, "style-name").unwrap_or_default();
                    if is_collapsed(&e) || styles.has_no_size(&style) {
                        sheet.hidden_rows.add(row, last);
                    }
                    let own_style = attribute(&e, "default-cell-style-name");
                    let cells =
                        read_row(events, row, own_style.as_deref(), &column_styles, styles, &mut sheet.merged, room)?;
                    for again in row..=last.min(LAST_ROW) {
                        if cells.is_empty() {
                            break;
                        }
                        for cell in &cells {
                            room.add(&mut sheet.cells, Cell { row: again, ..cell.clone() })?;
                        }
                    }
                    row = last.saturating_add(1);
                }
                "shapes" | "forms" | "dde-links" => skip_element(events, &e),
                _ => {}
            },
            Event::End(e) if e.local_name().as_ref() == "table" => return Ok(sheet),
            Event::Eof => return Err(not_a_workbook(&"its content.xml is cut short")),
            _ => {}
        }
    }
}

fn read_row(
    events: &mut Reader<&[u8]>,
    row: u32,
    own_style: Option<&str>,
    column_styles: &[(u32, String)],
    styles: &Styles,
    merged: &mut Vec<Merged>,
    room: &mut Room,
) -> Result<Vec<Cell>, ReadError> {
    let mut cells = Vec::new();
    let mut column = 0_u32;
    loop {
        match events.read_event().map_err(|error| not_a_workbook(&error))? {
            Event::Start(e) if ["table-cell", "covered-table-cell"].contains(&e.local_name().as_ref()) => {
                let is_covered = e.local_name().as_ref() == "covered-table-cell";
                let last = column.saturating_add(count(&e, "number-columns-repeated") - 1);
                let style = attribute(&e, "style-name")
                    .or_else(|| own_style.map(ToOwned::to_owned))
                    .or_else(|| column_styles.iter().find(|(end, _)| column <= *end).map(|(_, style)| style.clone()));
                let text = paragraphs(events, &e, styles);
                let value = value(&e, text.as_deref(), style.as_deref().unwrap_or_default(), styles);
                // What a merged cell covers is not seen.
                if let Some(value) = value.filter(|_| !is_covered) {
                    let spans = (count(&e, "number-rows-spanned"), count(&e, "number-columns-spanned"));
                    if spans != (1, 1) {
                        let end = (row.saturating_add(spans.0 - 1), column.saturating_add(spans.1 - 1));
                        merged
                            .push(Merged { first: (row, column), last: (end.0.min(LAST_ROW), end.1.min(LAST_COLUMN)) });
                    }
                    for again in column..=last.min(LAST_COLUMN) {
                        cells.push(Cell { column: again, row, value: value.clone(), format: None });
                    }
                    room.check(&cells)?;
                }
                column = last.saturating_add(1);
            }
            Event::End(e) if e.local_name().as_ref() == "table-row" => return Ok(cells),
            Event::Eof => return Err(not_a_workbook(&"its content.xml is cut short")),
            _ => {}
        }
    }
}

/// The value of a cell by its attributes and what it shows.
fn value(element: &BytesStart<'_>, text: Option<&str>, style: &str, styles: &Styles) -> Option<Value> {
    let kind = attribute(element, "value-type").unwrap_or_default();
    let number = || attribute(element, "value").and_then(|v| v.parse::<f64>().ok());
    let words = text.unwrap_or_default();
    // Only a format can hide a number; a program without one has merely left its text out.
    let shown = text.filter(|text| !text.trim().is_empty() || styles.data_style(style).is_some());
    match kind.as_str() {
        "float" | "currency" => number().map(|number| shown_number(number, shown, "")),
        "percentage" => number().map(|number| shown_number(shifted(number, 2), shown, "%")),
        "date" => {
            let written = attribute(element, "date-value").unwrap_or_default();
            Some(shown_date(&written, style, styles))
        }
        "boolean" if text.is_none() => attribute(element, "boolean-value").map(|yes| Value::Bool(yes == "true")),
        "time" if text.is_none() => attribute(element, "time-value").map(Value::Text),
        "time" | "boolean" => Some(Value::Text(words.to_owned())),
        // Some programs leave the text to the attribute.
        "string" if words.is_empty() => attribute(element, "string-value").map(Value::Text),
        "string" => Some(Value::Text(words.to_owned())),
        _ if words.is_empty() => attribute(element, "formula").map(Value::Formula),
        _ => Some(Value::Text(words.to_owned())),
    }
}

/// A date as far as its style shows it.
fn shown_date(written: &str, style: &str, styles: &Styles) -> Value {
    let value = iso_date(written);
    let parts = styles.date_parts(style);
    match (&value, parts) {
        (Value::Shown(date, _), Some((true, true, false))) => Value::Text(date.get(..7).unwrap_or(date).to_owned()),
        (Value::Shown(date, _), Some((true, false, false))) => Value::Text(date.get(..4).unwrap_or(date).to_owned()),
        _ => value,
    }
}

/// A number and what the cell shows of it: which of its marks is the decimal one is told by the number itself.
/// `unit`: what the kind of the cell implies, for programs that leave the shown text out.
fn shown_number(value: f64, text: Option<&str>, unit: &str) -> Value {
    let Some(text) = text.map(str::trim) else {
        let Shown { text, typed, .. } = labelled("", &general(value), unit, value, None);
        return Value::Shown(text, typed);
    };
    if text.is_empty() {
        return Value::Unseen;
    }
    let first = text.find(|c: char| c.is_ascii_digit());
    let last = text.rfind(|c: char| c.is_ascii_digit());
    let (Some(first), Some(last)) = (first, last) else { return Value::Text(text.to_owned()) };
    // A suffix such as `mg/100 mL` has digits of its own: try the shortest run of digits first.
    for end in ends_of_runs(text, first, last) {
        let (prefix, digits, suffix) = (
            text.get(..first).unwrap_or_default(),
            text.get(first..end).unwrap_or_default(),
            text.get(end..).unwrap_or_default(),
        );
        let Some((decimals, exponent)) = decimals_of(digits, value) else { continue };
        let plain = if exponent { digits.to_owned() } else { fixed(value.abs(), decimals, decimals, 1) };
        let sign = if value < 0.0 { "-" } else { "" };
        let decimals = (!exponent).then(|| u8::try_from(decimals).unwrap_or(u8::MAX));
        let Shown { text, typed, .. } = labelled(prefix, &format!("{sign}{plain}"), suffix, value, decimals);
        return Value::Shown(text, typed);
    }
    // It shows other words than its number: a fraction, a condition, a code.
    Value::Text(text.to_owned())
}

fn ends_of_runs(text: &str, first: usize, last: usize) -> Vec<usize> {
    let run = text.get(first..=last).unwrap_or_default();
    let mut ends: Vec<usize> = run
        .char_indices()
        .filter(|(at, c)| {
            c.is_ascii_digit()
                && !run.get(at + 1..).and_then(|r| r.chars().next()).is_some_and(|next| next.is_ascii_digit())
        })
        .map(|(at, _)| first + at + 1)
        .collect();
    // Longest first: `6,200` before `6`.
    ends.reverse();
    ends
}

/// How many decimals a run of digits shows of a value, and whether it is written with an exponent. None where it does
/// not show that value.
fn decimals_of(digits: &str, value: f64) -> Option<(usize, bool)> {
    if digits.contains(['e', 'E']) {
        let shown: f64 = digits.replace(',', ".").parse().ok()?;
        return ((shown - value.abs()).abs() <= 0.01 * value.abs()).then_some((0, true));
    }
    let bare: String = digits.chars().filter(char::is_ascii_digit).collect();
    let is_mark = |c: char| c.is_ascii_digit() || ".,'’\u{a0}\u{202f}\u{2009} ".contains(c);
    if !digits.chars().all(is_mark) {
        return None;
    }
    let after_mark = |mark: char| digits.rsplit_once(mark).map(|(_, part)| part.len());
    let candidates = [after_mark('.'), after_mark(','), Some(0)];
    candidates
        .into_iter()
        .flatten()
        .find(|decimals| {
            let shown: String =
                fixed(value.abs(), *decimals, *decimals, 1).chars().filter(char::is_ascii_digit).collect();
            shown.trim_start_matches('0') == bare.trim_start_matches('0')
                && (*decimals == 0 || digits.len() > *decimals)
        })
        .map(|decimals| (decimals, false))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::kit::testing::{TRAPS_HIDDEN, cells, fixture, hidden, traps};
    use super::*;
    use crate::document::{Document, Typed};
    use crate::readers::{Limits, read as read_file};
    use std::io::{Cursor, Write};

    #[test]
    fn every_trap_is_read_as_it_is_shown() {
        let document = fixture("traps.ods");
        assert_eq!(document.source.format, "ods");
        // What a cell shows is there to count decimals in, even where its format leaves them open.
        let counted = |cell: String| match cell.as_str() {
            "Results!C18 37.6 [number 37.6]" => "Results!C18 37.6 [number 37.6 decimals 1]".to_owned(),
            "Second core!B1 50 [number 50]" => "Second core!B1 50 [number 50 decimals 0]".to_owned(),
            _ => cell,
        };
        let expected: Vec<String> = traps("C8 93.0 [number 93 decimals 1]").into_iter().map(counted).collect();
        assert_eq!(cells(&document), expected);
        assert_eq!(hidden(&document), TRAPS_HIDDEN);
    }

    #[test]
    fn dates_are_written_out() {
        assert_eq!(cells(&fixture("epoch1904.ods")), ["Sheet!A1 2025-03-01 [date 2025-03-01]"]);
    }

    fn shown(value: f64, text: &str) -> (String, Option<Typed>) {
        match shown_number(value, Some(text), "") {
            Value::Shown(text, typed) => (text, typed),
            Value::Text(text) => (text, None),
            other => (format!("{other:?}"), None),
        }
    }

    fn number(value: f64, decimals: Option<u8>, unit: Option<&str>) -> Option<Typed> {
        Some(Typed::Number { value, decimals, unit: unit.map(str::to_owned) })
    }

    #[test]
    fn the_number_tells_which_mark_is_the_decimal_one() {
        assert_eq!(shown(6200.0, "6,200 mg/kg"), ("6200 mg/kg".into(), number(6200.0, Some(0), Some("mg/kg"))));
        assert_eq!(shown(6200.0, "6.200 mg/kg"), ("6200 mg/kg".into(), number(6200.0, Some(0), Some("mg/kg"))));
        assert_eq!(shown(6.2, "6,200"), ("6.200".into(), number(6.2, Some(3), None)));
        assert_eq!(shown(1234.5, "1 234,5"), ("1234.5".into(), number(1234.5, Some(1), None)));
        assert_eq!(shown(1234.5, "1.234,50 €"), ("1234.50 €".into(), number(1234.5, Some(2), None)));
        assert_eq!(shown(47.3, "47,3 %"), ("47.3 %".into(), number(47.3, Some(1), Some("%"))));
        assert_eq!(shown(1.41666, "1,42"), ("1.42".into(), number(1.41666, Some(2), None)));
        assert_eq!(shown(-1.5, "-1.5"), ("-1.5".into(), number(-1.5, Some(1), None)));
        assert_eq!(shown(12.0, "12 mg/100 mL"), ("12 mg/100 mL".into(), number(12.0, Some(0), Some("mg/100 mL"))));
        assert_eq!(shown(6200.0, "6.20E+03"), ("6.20E+03".into(), number(6200.0, None, None)));
        assert_eq!(shown(0.004, "0.00"), ("0.00".into(), number(0.004, Some(2), None)));
    }

    #[test]
    fn words_instead_of_the_number_stay_words() {
        assert_eq!(shown(40.0, "< 50"), ("< 50".into(), None));
        assert_eq!(shown(40.0, "< 40"), ("< 40".into(), None));
        assert_eq!(shown(1.0, "TRUE"), ("TRUE".into(), None));
        assert_eq!(shown(0.5, "1/2"), ("1/2".into(), None));
        assert_eq!(shown_number(5.0, Some(" "), ""), Value::Unseen);
        assert_eq!(shown_number(47.3, None, "%"), Value::Shown("47.3%".into(), number(47.3, None, Some("%"))));
    }

    fn book(rows: &str) -> Vec<u8> {
        let mut writer = zip::ZipWriter::new(Cursor::new(Vec::new()));
        let content = format!(
            "<office:document-content><office:body><office:spreadsheet><table:table table:name=\"S\">{rows}</table:table>\
             </office:spreadsheet></office:body></office:document-content>"
        );
        for (name, text) in [("mimetype", "application/vnd.oasis.opendocument.spreadsheet"), ("content.xml", &content)]
        {
            writer.start_file(name, zip::write::SimpleFileOptions::default()).unwrap();
            writer.write_all(text.as_bytes()).unwrap();
        }
        writer.finish().unwrap().into_inner()
    }

    fn read_rows(rows: &str, limits: Limits) -> Result<Document, ReadError> {
        read_file("a.ods", &book(rows), &ReadOptions { limits, ..ReadOptions::default() })
    }

    #[test]
    fn comments_are_no_text_and_a_formula_may_lack_its_value() {
        let rows = "<table:table-row><table:table-cell office:value-type=\"string\"><office:annotation><text:p>secret 9</text:p></office:annotation>\
            <text:p>a<text:s text:c=\"2\"/>b<text:tab/>c</text:p><text:p>d &lt; 5</text:p></table:table-cell>\
            <table:table-cell table:formula=\"of:=[.A1]+1\"/></table:table-row>";
        let document = read_rows(rows, Limits::default()).unwrap();
        assert_eq!(cells(&document), ["S!A1 a  b\tc\nd < 5", "S!B1 [formula of:=[.A1]+1]"]);
    }

    #[test]
    fn an_empty_text_hides_a_number_only_where_a_format_says_so() {
        let rows = "<table:table-row><table:table-cell office:value-type=\"float\" office:value=\"0\"><text:p></text:p></table:table-cell></table:table-row>";
        let document = read_rows(rows, Limits::default()).unwrap();
        assert_eq!(cells(&document), ["S!A1 0 [number 0]"]);
        assert!(document.notices.is_empty());
    }

    #[test]
    fn repeats_are_laid_out_within_the_limit() {
        let cell = "<table:table-cell table:number-columns-repeated=\"3\" office:value-type=\"float\" office:value=\"7\"><text:p>7</text:p></table:table-cell>";
        let row =
            |times: u32| format!("<table:table-row table:number-rows-repeated=\"{times}\">{cell}</table:table-row>");
        let document = read_rows(&row(2), Limits::default()).unwrap();
        assert_eq!(cells(&document).last().unwrap(), "S!C2 7 [number 7 decimals 0]");
        assert_eq!(cells(&document).len(), 6);
        assert_eq!(read_rows(&row(4_000_000_000), Limits::default()).unwrap_err().code, "too-large");
        let blank = "<table:table-row table:number-rows-repeated=\"4000000000\"><table:table-cell table:number-columns-repeated=\"4000000000\"/></table:table-row>";
        assert!(
            read_rows(&format!("{blank}{blank}"), Limits::default()).unwrap().parts.first().unwrap().pages.is_empty()
        );
    }

    #[test]
    fn a_cut_or_encrypted_file_is_an_error() {
        let mut writer = zip::ZipWriter::new(Cursor::new(Vec::new()));
        for (name, text) in [
            ("mimetype", "application/vnd.oasis.opendocument.spreadsheet"),
            ("content.xml", "\u{1}\u{2}"),
            ("META-INF/manifest.xml", "<manifest:encryption-data/>"),
        ] {
            writer.start_file(name, zip::write::SimpleFileOptions::default()).unwrap();
            writer.write_all(text.as_bytes()).unwrap();
        }
        let locked = writer.finish().unwrap().into_inner();
        assert_eq!(read_file("a.ods", &locked, &ReadOptions::default()).unwrap_err().code, "encrypted");
        assert_eq!(
            read_rows("<table:table-row><table:table-cell", Limits::default()).unwrap_err().code,
            "not-a-workbook"
        );
    }
}
