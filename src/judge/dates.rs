//! Dates cut to what is known, and the arithmetic on them. No clock.

use chrono::{Datelike, Months, NaiveDate};

/// The first day that a date can mean: `2016-05` is 1 May 2016.
pub fn first_day(text: &str) -> Option<NaiveDate> {
    let mut pieces = text.trim().splitn(3, '-');
    let year = pieces.next()?.parse().ok()?;
    let month = pieces.next().map_or(Some(1), |month| month.parse().ok())?;
    let day = pieces.next().map_or(Some(1), |day| day.get(..2).unwrap_or(day).parse().ok())?;
    NaiveDate::from_ymd_opt(year, month, day)
}

/// Years from one date to another, none where one is not known or they stand the wrong way round.
///
/// ```
/// let years = beadwise::judge::years_between(Some("2016-05"), Some("2025-05-01"));
/// assert!((years.unwrap_or(0.0) - 9.0).abs() < 0.01);
/// ```
pub fn years_between(from: Option<&str>, to: Option<&str>) -> Option<f64> {
    let days = (first_day(to?)? - first_day(from?)?).num_days();
    (days >= 0).then(|| f64::from(i32::try_from(days).unwrap_or(i32::MAX)) / 365.25)
}

/// A date some months on, in ISO 8601.
pub fn months_on(from: &str, months: f64) -> Option<String> {
    if !(0.0..12_000.0).contains(&months) {
        return None;
    }
    // Whole months: a date in years to come is no better known than that.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked to lie within 0 and 12,000")]
    let whole = months.round() as u32;
    first_day(from)?.checked_add_months(Months::new(whole)).map(|date| date.format("%Y-%m-%d").to_string())
}

/// The month of an ISO date.
pub fn month_of(date: &str) -> Option<String> {
    first_day(date).map(|date| format!("{:04}-{:02}", date.year(), date.month()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cut_date_counts_from_its_first_day() {
        assert_eq!(first_day("2016"), NaiveDate::from_ymd_opt(2016, 1, 1));
        assert_eq!(first_day("2016-05"), NaiveDate::from_ymd_opt(2016, 5, 1));
        assert_eq!(first_day("2016-05-31T10:00"), NaiveDate::from_ymd_opt(2016, 5, 31));
        for wrong in ["", "soon", "2016-13", "2016-02-30", "-5"] {
            assert_eq!(first_day(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn months_are_added_within_the_calendar() {
        assert_eq!(months_on("2025-01-31", 1.0).as_deref(), Some("2025-02-28"));
        assert_eq!(months_on("2025-03-01", 24.0).as_deref(), Some("2027-03-01"));
        assert_eq!(months_on("2025-03-01", f64::INFINITY), None);
    }
}
