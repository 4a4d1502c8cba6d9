//! Records as a workbook: one sheet with a row for each sample, one with a row for each measurement.
//!
//! Takes [`Record`]s, gives the bytes of an `.xlsx` file. The columns are those of [`super::csv`]; numbers are numbers
//! and whole dates are dates, a date of which only month or year is known stays text, and what the reader doubted
//! stands as a note on its cell. No cell is a formula.

use super::csv::{Holds, LONG, Text, WideRow, WideTable, long_rows};
use super::plain::safe;
use crate::lexicon::Lexicon;
use crate::record::{Doubt, Record};
use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, Note, Workbook as Book, Worksheet, XlsxError,
};
use std::collections::BTreeMap;

/// Rows that a sheet can hold, its head among them, and characters of a cell: limits of the format
/// (ECMA-376 as spreadsheet programs carry it out).
const ROWS: usize = 1_048_576;
const CHARACTERS: usize = 32_767;

/// A workbook could not be made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WorkbookError {
    /// More rows than a sheet holds.
    #[error("a sheet holds {ROWS} rows, and there are more; convert fewer reports at once, or write CSV")]
    TooLong,
    /// What the writer of the format says.
    #[error("the workbook could not be made: {0}")]
    Format(#[from] XlsxError),
}

/// What a cell of the wide sheet is noted for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum At {
    /// A key, by its place in [`LONG`].
    Key(usize),
    /// A figure, by its column.
    Figure(usize),
    /// The sample as a whole.
    Doubts,
}

struct Sample {
    row: WideRow,
    notes: BTreeMap<At, String>,
}

struct LongRow {
    cells: Vec<String>,
    /// Column and text.
    notes: BTreeMap<usize, String>,
}

/// Records on their way into a workbook.
#[derive(Default)]
pub struct Workbook {
    table: WideTable,
    samples: Vec<Sample>,
    rows: Vec<LongRow>,
}

impl Workbook {
    /// Takes a record in.
    pub fn take(&mut self, record: &Record, lexicon: &Lexicon, text: Text) {
        let row = self.table.row(record, lexicon, text);
        let mut notes: BTreeMap<At, String> = BTreeMap::new();
        let columns: BTreeMap<usize, usize> =
            row.figures().map(|(column, measurement)| (measurement, column)).collect();
        for doubt in &record.doubts {
            add(&mut notes, at_key(doubt).map_or(At::Doubts, At::Key), doubt);
        }
        for (at, measurement) in record.measurements.iter().enumerate() {
            let place = columns.get(&at).map_or(At::Doubts, |column| At::Figure(*column));
            measurement.doubts.iter().for_each(|doubt| add(&mut notes, place, doubt));
        }
        self.samples.push(Sample { row, notes });
        for (cells, measurement) in long_rows(record, text).zip(&record.measurements) {
            let mut notes: BTreeMap<usize, String> = BTreeMap::new();
            for doubt in &measurement.doubts {
                add(&mut notes, value_column(), doubt);
            }
            for doubt in &record.doubts {
                match (doubt.property.as_deref(), at_key(doubt)) {
                    (Some(property), _) if property == measurement.property => add(&mut notes, value_column(), doubt),
                    (_, Some(key)) => add(&mut notes, key, doubt),
                    _ => {}
                }
            }
            self.rows.push(LongRow { cells, notes });
        }
    }

    /// The file, with a mark in its properties that tells who wrote it.
    ///
    /// # Errors
    /// More rows than a sheet holds, or what the writer of the format says.
    ///
    /// ```
    /// let bytes = beadwise::report::workbook::Workbook::default().bytes("made by an example")?;
    /// assert!(bytes.starts_with(b"PK"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn bytes(&self, mark: &str) -> Result<Vec<u8>, WorkbookError> {
        if self.samples.len() >= ROWS || self.rows.len() >= ROWS {
            return Err(WorkbookError::TooLong);
        }
        let styles = Styles::new();
        let mut book = Book::new();
        book.set_properties(&DocProperties::new().set_author("beadwise").set_comment(mark));
        let columns = self.table.columns();
        let sheet = book.add_worksheet();
        sheet.set_name("Samples")?;
        let heads: Vec<(&str, Holds)> = columns.iter().map(|column| (column.name.as_str(), column.holds)).collect();
        begin(sheet, &heads, self.samples.len(), &styles)?;
        let places: BTreeMap<At, u16> = (0_u16..)
            .zip(&columns)
            .map(|(at, column)| match column.holds {
                Holds::Figure(Some(figure)) => (At::Figure(figure), at),
                _ if usize::from(at) + 1 == columns.len() => (At::Doubts, at),
                _ => (At::Key(usize::from(at)), at),
            })
            .collect();
        for (line, sample) in (1_u32..).zip(&self.samples) {
            for ((at, column), cell) in (0_u16..).zip(&columns).zip(self.table.finished(&sample.row)) {
                write(sheet, (line, at), &cell, column.holds, &styles)?;
            }
            for (place, text) in &sample.notes {
                if let Some(at) = places.get(place) {
                    note(sheet, (line, *at), text)?;
                }
            }
        }
        let sheet = book.add_worksheet();
        sheet.set_name("Measurements")?;
        let heads: Vec<(&str, Holds)> = LONG.iter().map(|name| (*name, Holds::of_key(name))).collect();
        begin(sheet, &heads, self.rows.len(), &styles)?;
        for (line, row) in (1_u32..).zip(&self.rows) {
            for ((at, (_, holds)), cell) in (0_u16..).zip(&heads).zip(&row.cells) {
                write(sheet, (line, at), cell, *holds, &styles)?;
            }
            for (at, text) in &row.notes {
                note(sheet, (line, u16::try_from(*at).unwrap_or(u16::MAX)), text)?;
            }
        }
        Ok(book.save_to_buffer()?)
    }
}

/// The column of [`LONG`] that holds the figure.
fn value_column() -> usize {
    LONG.iter().position(|name| *name == "value").unwrap_or(0)
}

/// The column of the key that a doubt of the record is about.
fn at_key(doubt: &Doubt) -> Option<usize> {
    let key = doubt.property.as_deref()?;
    LONG.iter().take_while(|name| **name != "property").position(|name| *name == key)
}

fn add<K: Ord>(notes: &mut BTreeMap<K, String>, at: K, doubt: &Doubt) {
    let mut text = if doubt.text.is_empty() { doubt.code.clone() } else { format!("{}: {}", doubt.code, doubt.text) };
    if !doubt.alternatives.is_empty() {
        let all: Vec<String> = doubt
            .alternatives
            .iter()
            .map(|value| value.as_str().map_or_else(|| value.to_string(), str::to_owned))
            .collect();
        text.push_str(&format!(" Possible readings: {}.", all.join(", ")));
    }
    let place = doubt.place.to_string();
    if !place.is_empty() {
        text.push_str(&format!(" ({place})"));
    }
    let note = notes.entry(at).or_default();
    if !note.is_empty() {
        note.push('\n');
    }
    note.push_str(&safe(&text));
}

struct Styles {
    head: Format,
    date: Format,
    /// As if typed behind an apostrophe: it stays text when somebody edits the cell.
    text: Format,
}

impl Styles {
    fn new() -> Self {
        Self {
            head: Format::new().set_bold().set_text_wrap().set_align(FormatAlign::Top),
            date: Format::new().set_num_format("yyyy-mm-dd"),
            text: Format::new().set_quote_prefix(),
        }
    }
}

fn begin(sheet: &mut Worksheet, heads: &[(&str, Holds)], rows: usize, styles: &Styles) -> Result<(), XlsxError> {
    for (at, (name, holds)) in (0_u16..).zip(heads) {
        sheet.write_string_with_format(0, at, *name, &styles.head)?;
        let width = match (*name, holds) {
            ("doubts" | "file" | "label" | "as_written" | "property", _) => 28,
            ("site" | "laboratory" | "vessel", _) => 22,
            (_, Holds::Word) => 15,
            (_, Holds::Date) => 11,
            (_, Holds::Figure(_)) => 14,
        };
        sheet.set_column_width(at, width)?;
    }
    // The longest heads, as salt_splitting_capacity.volume[eq/L], take three lines of such a column.
    let longest = heads.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0);
    sheet.set_row_height(0, if longest > 24 { 46 } else { 16 })?;
    sheet.set_freeze_panes(1, 0)?;
    if let (Some(last), rows @ 1..) = (heads.len().checked_sub(1), rows) {
        sheet.autofilter(0, 0, u32::try_from(rows).unwrap_or(u32::MAX), u16::try_from(last).unwrap_or(u16::MAX))?;
    }
    sheet.set_landscape().set_print_fit_to_pages(1, 0);
    sheet.set_repeat_rows(0, 0)?;
    Ok(())
}

fn write(sheet: &mut Worksheet, at: (u32, u16), cell: &str, holds: Holds, styles: &Styles) -> Result<(), XlsxError> {
    if cell.is_empty() {
        return Ok(());
    }
    let (row, column) = at;
    match holds {
        Holds::Figure(_) if let Ok(number) = cell.parse::<f64>() => sheet.write_number(row, column, number)?,
        Holds::Date if let Some(date) = date(cell) => {
            sheet.write_datetime_with_format(row, column, &date, &styles.date)?
        }
        _ => {
            // The format keeps no more of a cell; no figure is so long.
            let text: String = cell.chars().filter(|c| !c.is_control() || *c == '\n').take(CHARACTERS).collect();
            sheet.write_string_with_format(row, column, text, &styles.text)?
        }
    };
    Ok(())
}

/// A whole date; none where only its month or year is known.
fn date(text: &str) -> Option<ExcelDateTime> {
    let mut parts = text.split('-');
    let (year, month, day) = (parts.next()?, parts.next()?, parts.next()?);
    if parts.next().is_some() {
        return None;
    }
    ExcelDateTime::from_ymd(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?).ok()
}

fn note(sheet: &mut Worksheet, at: (u32, u16), text: &str) -> Result<(), XlsxError> {
    let kept: String = text.chars().take(CHARACTERS).collect();
    // About 45 characters to a line of a note this wide.
    let lines: usize = text.lines().map(|line| line.chars().count() / 45 + 1).sum();
    let height = u32::try_from(lines).unwrap_or(u32::MAX).saturating_mul(17).saturating_add(20).min(500);
    let note = Note::new(kept).set_author("beadwise").add_author_prefix(false).set_width(300).set_height(height);
    sheet.insert_note(at.0, at.1, &note)?;
    Ok(())
}
