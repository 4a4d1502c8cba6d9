//! What the four readers of workbooks share.

use super::grid::Value;
use crate::document::Typed;
use crate::readers::ReadError;
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
    fn a_panic_becomes_an_error() {
        let error = guarded::<()>(|| std::panic::resume_unwind(Box::new("inside")));
        assert_eq!(error.map_err(|e| e.code), Err("not-a-workbook"));
    }
}
