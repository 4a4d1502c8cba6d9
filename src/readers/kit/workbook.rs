//! What the four readers of workbooks share.

use super::grid::{Cell, Value};
use crate::document::Typed;
use crate::readers::{Limits, ReadError, marks, too_large};
use calamine::ExcelDateTime;
use chrono::{NaiveDate, NaiveDateTime};
use std::panic::{AssertUnwindSafe, catch_unwind};

/// The error for a workbook that does not open.
pub fn not_a_workbook(error: &dyn std::fmt::Display) -> ReadError {
    ReadError::new(
        "not-a-workbook",
        format!("the workbook does not open ({error}); open it in a spreadsheet program and save it again"),
    )
}

/// Runs a reader that rests on foreign parsers, and turns a panic of theirs into an error.
///
/// # Errors
///
/// Those of the reader, and `not-a-workbook` where it panics.
pub fn guarded<T>(read: impl FnOnce() -> Result<T, ReadError>) -> Result<T, ReadError> {
    catch_unwind(AssertUnwindSafe(read)).unwrap_or_else(|_| Err(not_a_workbook(&"its records contradict each other")))
}

/// How much the sheets of one workbook may still take.
///
/// One long string that two million cells refer to is small in the file and huge in memory, so text counts too.
pub struct Room {
    cells: usize,
    bytes: u64,
    limits: Limits,
}

impl Room {
    /// All of what the limits allow.
    pub fn new(limits: &Limits) -> Self {
        Self { cells: limits.cells, bytes: limits.expanded_bytes, limits: limits.clone() }
    }

    /// Adds a cell, if there is room.
    ///
    /// # Errors
    ///
    /// `too-large` where there is none.
    pub fn add(&mut self, cells: &mut Vec<Cell>, cell: Cell) -> Result<(), ReadError> {
        let bytes = match &cell.value {
            Value::Text(text) | Value::Shown(text, _) | Value::Formula(text) => text.len() as u64,
            Value::Number(_) | Value::Bool(_) | Value::Unseen => 0,
        };
        let limits = &self.limits;
        self.cells = self
            .cells
            .checked_sub(1)
            .ok_or_else(|| too_large("cells, or more,", limits.cells as u64 + 1, limits.cells as u64, "cells"))?;
        self.bytes = self.bytes.checked_sub(bytes).ok_or_else(|| {
            too_large("bytes of text, or more,", limits.expanded_bytes + 1, limits.expanded_bytes, "unpacked-mib")
        })?;
        cells.push(cell);
        Ok(())
    }
}

impl Room {
    /// Whether cells that are still to be added would find room, without taking it.
    ///
    /// # Errors
    ///
    /// `too-large` where there is none.
    pub fn check(&self, cells: &[Cell]) -> Result<(), ReadError> {
        let limit = self.limits.cells as u64;
        if cells.len() > self.cells { Err(too_large("cells, or more,", limit + 1, limit, "cells")) } else { Ok(()) }
    }
}

/// The number of an RK value. Source: MS-XLS, section 2.5.217.
pub fn rk(bits: u32) -> f64 {
    let number =
        if bits & 2 != 0 { f64::from(bits.cast_signed() >> 2) } else { f64::from_bits(u64::from(bits & !3) << 32) };
    if bits & 1 != 0 { number / 100.0 } else { number }
}

/// The word of an error value. Source: MS-XLS, section 2.5.10.
pub fn error_word(code: u8) -> String {
    match code {
        0x00 => "#NULL!".into(),
        0x07 => "#DIV/0!".into(),
        0x0f => "#VALUE!".into(),
        0x17 => "#REF!".into(),
        0x1d => "#NAME?".into(),
        0x24 => "#NUM!".into(),
        0x2a => "#N/A".into(),
        0x2b => "#GETTING_DATA".into(),
        other => format!("#error {other}"),
    }
}

/// How a run of a cell's text is drawn, as far as that changes what it says.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Look {
    /// As it stands.
    #[default]
    Plain,
    /// Raised: the 3 of `m³`, a footnote's mark.
    Raised,
    /// In the font of signs, in which an `m` is drawn as µ.
    Symbol,
}

impl Look {
    /// By the name of the font and whether it is raised.
    pub fn of(font: &str, raised: bool) -> Self {
        match raised {
            true => Self::Raised,
            false if font.trim().eq_ignore_ascii_case("symbol") => Self::Symbol,
            false => Self::Plain,
        }
    }

    /// Appends a run to a text as it is drawn.
    pub fn append(self, text: &mut String, run: &str) {
        match self {
            Self::Plain => text.push_str(run),
            Self::Symbol => text.extend(run.chars().map(marks::from_symbol)),
            Self::Raised => {
                let start = run.len() - run.trim_start().len();
                let end = run.trim_end().len().max(start);
                let inner = run.get(start..end).unwrap_or_default();
                text.push_str(run.get(..start).unwrap_or_default());
                let before = text.chars().next_back();
                text.push_str(&marks::raise(inner, before));
                text.push_str(run.get(end..).unwrap_or_default());
                marks::join_built_up(text);
            }
        }
    }
}

/// Text of UTF-16 units as it is drawn. `runs`: where each begins and its look.
pub fn rich_text(units: &[u16], runs: &[(usize, Look)]) -> String {
    let mut text = String::with_capacity(units.len());
    let (mut done, mut current) = (0, Look::Plain);
    for (start, look) in runs.iter().copied().chain(std::iter::once((units.len(), Look::Plain))) {
        // Runs that go back in a damaged file are taken where the one before them ended.
        let end = start.clamp(done, units.len().max(done));
        current.append(&mut text, &String::from_utf16_lossy(units.get(done..end).unwrap_or_default()));
        (done, current) = (end, look);
    }
    text
}

/// A date or time whose format is known to be one, but not which.
pub fn date_text(time: &ExcelDateTime) -> Value {
    let whole_days = time.as_f64() >= 1.0;
    match time.as_datetime() {
        Some(date) if whole_days && !time.is_duration() => date_value(date.date()),
        Some(date) if !time.is_duration() => Value::Text(date.time().format("%H:%M:%S").to_string()),
        _ => Value::Text(super::decimal::general(time.as_f64())),
    }
}

/// A date that stands in the file as ISO 8601, with or without a time; anything else stays text.
pub fn iso_date(text: &str) -> Value {
    let date = NaiveDate::parse_from_str(text.trim(), "%Y-%m-%d").ok().or_else(|| {
        let stamp = text.trim().trim_end_matches('Z');
        let forms = ["%Y-%m-%dT%H:%M:%S%.f", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M:%S%.f"];
        forms.iter().find_map(|form| NaiveDateTime::parse_from_str(stamp, form).ok()).map(|stamp| stamp.date())
    });
    date.map_or_else(|| Value::Text(text.to_owned()), date_value)
}

fn date_value(date: NaiveDate) -> Value {
    Value::Shown(date.to_string(), Some(Typed::Date(date)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn iso_dates_lose_their_time_and_other_text_stays() {
        let date = Value::Shown("2025-03-01".into(), NaiveDate::from_ymd_opt(2025, 3, 1).map(Typed::Date));
        for text in ["2025-03-01", "2025-03-01T14:30:00", "2025-03-01T14:30:00.250", "2025-03-01T14:30:00Z"] {
            assert_eq!(iso_date(text), date, "{text}");
        }
        assert_eq!(iso_date("2025"), Value::Text("2025".into()));
    }

    #[test]
    fn rk_numbers_are_floats_or_integers_and_may_be_hundredths() {
        // 1.0 is 0x3FF00000 in its upper half; 47.3 is the integer 4730 in hundredths.
        assert_eq!(rk(0x3ff0_0000), 1.0);
        assert_eq!(rk((4730 << 2) | 3), 47.3);
        assert_eq!(rk(((-5_i32) << 2).cast_unsigned() | 2), -5.0);
    }

    #[test]
    fn runs_are_drawn_as_their_fonts_have_them() {
        let units: Vec<u16> = "640 mm, g/cm3 dry".encode_utf16().collect();
        let (plain, raised, symbol) = (Look::Plain, Look::Raised, Look::Symbol);
        let runs = [(4, symbol), (5, plain), (12, raised), (13, plain)];
        assert_eq!(rich_text(&units, &runs), "640 µm, g/cm³ dry");
        assert_eq!(rich_text(&units, &[]), "640 mm, g/cm3 dry");
        assert_eq!(rich_text(&units, &[(99, raised), (3, plain)]), "640 mm, g/cm3 dry");
        assert_eq!(Look::of("Symbol", false), symbol);
        let mut text = "10".to_owned();
        raised.append(&mut text, " -3 ");
        assert_eq!(text, "10 ⁻³ ");
    }

    #[test]
    fn long_text_fills_the_room_as_many_cells_do() {
        let limits = Limits { expanded_bytes: 5, ..Limits::default() };
        let mut room = Room::new(&limits);
        let cell = Cell { column: 0, row: 0, value: Value::Text("1234".into()), format: None };
        let mut cells = Vec::new();
        assert!(room.add(&mut cells, cell.clone()).is_ok());
        assert_eq!(room.add(&mut cells, cell).map_err(|e| e.code), Err("too-large"));
    }

    #[test]
    fn a_panic_becomes_an_error() {
        let error = guarded::<()>(|| std::panic::resume_unwind(Box::new("inside")));
        assert_eq!(error.map_err(|e| e.code), Err("not-a-workbook"));
    }
}
