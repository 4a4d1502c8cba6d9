//! Dates as laboratories print them, in English, German, French and Spanish.
//!
//! Gives every reading that a date can have; which one holds is for whoever sees the whole document. Two-digit years
//! from 69 are of the last century. A number that could as well be a report's number ("2016-05", "2016") is a date only
//! where the whole text is one.

use chrono::NaiveDate;
use regex::{Captures, Regex};
use std::sync::OnceLock;

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
    /// The order that this date proves; none where it is ambiguous, or where no order shows.
    pub order: Option<Order>,
    /// First byte.
    pub start: usize,
    /// Byte after the last.
    pub end: usize,
}

/// Texts longer than this are no dates.
const LONGEST_DATE: usize = 80;

/// Years that a four-digit number may mean.
const YEARS: std::ops::RangeInclusive<i32> = 1950..=2099;

const MONTHS: [&str; 12] = [
    "january|januar|janvier|enero|jänner|jaenner|janv|jän|jan|ene",
    "february|februar|février|fevrier|febrero|febr|févr|fevr|fév|feb",
    "march|märz|maerz|mars|marzo|mär|mrz|mar",
    "april|avril|abril|apr|avr|abr",
    "mayo|may|mai",
    "june|juni|juin|junio|jun",
    "july|juli|juillet|julio|juil|jul",
    "august|août|aout|agosto|aug|ago",
    "september|septembre|septiembre|setiembre|sept|sep",
    "october|oktober|octobre|octubre|okt|oct",
    "november|novembre|noviembre|nov",
    "december|dezember|décembre|decembre|diciembre|dez|déc|dec|dic",
];

const WEEKDAYS: &str = "monday|tuesday|wednesday|thursday|friday|saturday|sunday|mon|tues|tue|wed|thurs|thur|thu|fri|sat|sun\
|montag|dienstag|mittwoch|donnerstag|freitag|samstag|sonnabend|sonntag|mo|di|mi|do|fr|sa|so\
|lundi|mardi|mercredi|jeudi|vendredi|samedi|dimanche|lun|mer|jeu|ven|sam|dim\
|lunes|martes|miércoles|miercoles|jueves|viernes|sábado|sabado|domingo|mié|jue|vie|sáb|dom";

const TIME: &str = r"(?:(?:T|,?\s{1,2}(?:(?:at|um|à|a las)\s)?)\d{1,2}(?::\d{2}){1,2}(?:\.\d{1,9})?(?:\s?(?:am|pm|a\.m\.|p\.m\.|uhr|h)\b)?(?:\s?(?:Z\b|UTC\b|GMT\b|CES?T\b|[ECMP][SD]T\b))?(?:\s?[+-]\d{2}:?\d{2})?(?:\s\([A-Za-z ]{2,32}\))?)?";

/// How the parts of a match are to be read.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Form {
    YearMonthDay,
    /// Day and month in either order.
    Either,
    /// The same with hyphens, where a short year may also stand first.
    EitherHyphen,
    DayMonthYear,
    MonthDayYear,
    MonthYear,
    YearMonth,
    Year,
}

struct Pattern {
    regex: Regex,
    form: Form,
    /// Only where the whole text is the date.
    alone: bool,
}

fn patterns() -> &'static [Pattern] {
    static PATTERNS: OnceLock<Vec<Pattern>> = OnceLock::new();
    PATTERNS.get_or_init(|| {
        let month = format!("(?P<name>{})", MONTHS.join("|"));
        let number = r"(?P<m>\d{1,2})";
        let day = r"(?P<d>\d{1,2})";
        let year = r"(?P<y>\d{4})";
        let any_year = r"(?P<y>\d{4}|\d{2})";
        let ordinal = r"(?:st|nd|rd|th|er|º|°|\.)?";
        let table: Vec<(String, Form, bool)> = vec![
            (format!(r"{year}-{number}-{day}{TIME}"), Form::YearMonthDay, false),
            (format!(r"{year}/{number}/{day}{TIME}"), Form::YearMonthDay, false),
            (format!(r"{year}\.{number}\.{day}{TIME}"), Form::YearMonthDay, false),
            (format!(r"(?P<a>\d{{1,2}})/(?P<b>\d{{1,2}})/{any_year}{TIME}"), Form::Either, false),
            (format!(r"(?P<a>\d{{1,2}})-(?P<b>\d{{1,2}})-{any_year}{TIME}"), Form::EitherHyphen, false),
            (format!(r"{day}\.\s?{number}\.\s?{year}{TIME}"), Form::DayMonthYear, false),
            (format!(r"(?P<d>\d{{2}})\.(?P<m>\d{{2}})\.(?P<y>\d{{2}}){TIME}"), Form::DayMonthYear, false),
            (format!(r"{day}\.{number}\.(?P<y>\d{{2}}){TIME}"), Form::DayMonthYear, true),
            (
                format!(r"{day}{ordinal}[\s./-]{{0,2}}(?:de\s|of\s)?{month}\.?[\s,./-]{{0,2}}(?:de\s|del\s)?['’]?{year}{TIME}"),
                Form::DayMonthYear,
                false,
            ),
            (format!(r"{day}{ordinal}[./-]{month}\.?[./-]['’]?(?P<y>\d{{2}}){TIME}"), Form::DayMonthYear, false),
            (format!(r"{day}{ordinal}\s?{month}\.?\s?['’]?(?P<y>\d{{2}}){TIME}"), Form::DayMonthYear, true),
            (format!(r"{month}\.?[\s-]{{1,2}}{day}(?:st|nd|rd|th)?[\s,-]{{1,2}}{year}{TIME}"), Form::MonthDayYear, false),
            (format!(r"{month}\.?\s{day}(?:st|nd|rd|th)?,\s?['’]?(?P<y>\d{{2}})"), Form::MonthDayYear, true),
            (format!(r"{month}\.?[\s,./-]{{0,2}}(?:de\s|del\s|of\s)?{year}"), Form::MonthYear, false),
            (format!(r"{month}\.?(?:-|\s?['’])(?P<y>\d{{2}})"), Form::MonthYear, false),
            (format!(r"{number}/{year}"), Form::MonthYear, false),
            (format!(r"(?P<m>0[1-9]|1[0-2])[.-]{year}"), Form::MonthYear, true),
            (format!(r"{year}[-/](?P<m>0[1-9]|1[0-2])"), Form::YearMonth, true),
            (year.to_owned(), Form::Year, true),
        ];
        table
            .into_iter()
            .filter_map(|(source, form, alone)| {
                let regex = regex::RegexBuilder::new(&source).case_insensitive(true).build().ok()?;
                Some(Pattern { regex, form, alone })
            })
            .collect()
    })
}

fn weekday() -> Option<&'static Regex> {
    static WEEKDAY: OnceLock<Option<Regex>> = OnceLock::new();
    let source = format!(r"^(?i:{WEEKDAYS})(?:\.?,?\s{{1,2}}|,\s?)(?:(?i:den|le|el)\s)?");
    WEEKDAY.get_or_init(|| Regex::new(&source).ok()).as_ref()
}

/// Reads a text that is wholly a date; a weekday before it and a time of day after it are tolerated.
///
/// ```
/// use beadwise::value::date::parse_date;
/// assert_eq!(parse_date("Tue, 4 Mar 2025 10:12:01 +0100").unwrap().readings, ["2025-03-04"]);
/// assert_eq!(parse_date("03/04/2024").unwrap().readings, ["2024-03-04", "2024-04-03"]);
/// assert_eq!(parse_date("30/02/2024"), None);
/// ```
pub fn parse_date(text: &str) -> Option<DateText> {
    let trimmed = text.trim();
    if trimmed.is_empty() || trimmed.len() > LONGEST_DATE {
        return None;
    }
    let start = text.len() - text.trim_start().len();
    let skipped = weekday().and_then(|regex| regex.find(trimmed)).map_or(0, |found| found.end());
    let rest = trimmed.get(skipped..)?;
    patterns().iter().find_map(|pattern| {
        let captures = pattern.regex.captures(rest)?;
        let whole = captures.get(0)?;
        if whole.start() != 0 || !matches!(rest.get(whole.end()..), Some("" | ".")) {
            return None;
        }
        let (readings, order) = readings(&captures, pattern.form)?;
        Some(DateText { readings, order, start, end: start + trimmed.len() })
    })
}

/// Finds the dates in running text, left to right, without overlap.
///
/// ```
/// use beadwise::value::date::find_dates;
/// let found = find_dates("sampled 1 March 2025, received 5 March 2025");
/// assert_eq!(found.len(), 2);
/// assert_eq!(found[1].readings, ["2025-03-05"]);
/// ```
pub fn find_dates(text: &str) -> Vec<DateText> {
    if !text.contains(|c: char| c.is_ascii_digit()) {
        return Vec::new();
    }
    let mut found: Vec<DateText> = Vec::new();
    for pattern in patterns().iter().filter(|pattern| !pattern.alone) {
        let mut from = 0;
        while let Some(captures) = pattern.regex.captures_at(text, from) {
            let Some(whole) = captures.get(0) else { break };
            let fits = stands_free(text, whole.start(), whole.end());
            match readings(&captures, pattern.form).filter(|_| fits) {
                Some((readings, order)) => {
                    found.push(DateText { readings, order, start: whole.start(), end: whole.end() });
                    from = whole.end();
                }
                None => {
                    let step = text.get(whole.start()..).and_then(|t| t.chars().next()).map_or(1, char::len_utf8);
                    from = whole.start() + step;
                }
            }
        }
    }
    found.sort_by_key(|date| (date.start, std::cmp::Reverse(date.end)));
    let mut apart: Vec<DateText> = Vec::new();
    for date in found {
        if apart.last().is_none_or(|last| last.end <= date.start) {
            apart.push(date);
        }
    }
    apart
}

/// Neither end may be glued to what makes it part of a longer number or name.
fn stands_free(text: &str, start: usize, end: usize) -> bool {
    let mut before = text.get(..start).unwrap_or("").chars().rev();
    let (last, second) = (before.next(), before.next());
    let mut after = text.get(end..).unwrap_or("").chars();
    let (next, following) = (after.next(), after.next());
    let joins = |c: char| matches!(c, '-' | '/' | '.' | ',' | '_' | '+');
    let glued_before = last.is_some_and(|c| {
        c.is_alphanumeric() || c == '_' || (joins(c) && second.is_some_and(char::is_alphanumeric) && c != ',')
    });
    let glued_after = next.is_some_and(|c| {
        c.is_alphanumeric() || c == '_' || (joins(c) && c != ',' && following.is_some_and(char::is_alphanumeric))
    });
    !glued_before && !glued_after
}

fn readings(captures: &Captures<'_>, form: Form) -> Option<(Vec<String>, Option<Order>)> {
    let text = |name: &str| captures.name(name).map(|m| m.as_str());
    let number = |name: &str| text(name)?.parse::<u32>().ok();
    let year = full_year(text("y")?)?;
    let month = || match text("name") {
        Some(name) => month_number(name),
        None => number("m").filter(|m| (1..=12).contains(m)),
    };
    match form {
        Form::YearMonthDay | Form::DayMonthYear | Form::MonthDayYear => {
            Some((vec![iso(year, month()?, number("d")?)?], None))
        }
        Form::Either | Form::EitherHyphen => {
            let (a, b) = (number("a")?, number("b")?);
            let month_first = iso(year, a, b);
            let day_first = iso(year, b, a);
            let order = match (&month_first, &day_first) {
                (Some(_), None) => Some(Order::MonthFirst),
                (None, Some(_)) => Some(Order::DayFirst),
                _ => None,
            };
            let mut readings: Vec<String> = [month_first, day_first].into_iter().flatten().collect();
            readings.dedup();
            // "25-03-01" may begin with its year; with slashes and dots nobody writes so.
            let short = text("y").is_some_and(|y| y.len() == 2);
            if form == Form::EitherHyphen && short && a > 12 {
                let year_first = full_year(text("a")?).and_then(|year| iso(year, b, number("y")?));
                let ambiguous = year_first.is_some();
                readings.extend(year_first);
                readings.dedup();
                return Some((readings, order.filter(|_| !ambiguous))).filter(|(r, _)| !r.is_empty());
            }
            (!readings.is_empty()).then_some((readings, order))
        }
        Form::MonthYear | Form::YearMonth => Some((vec![format!("{year:04}-{:02}", month()?)], None)),
        Form::Year => Some((vec![format!("{year:04}")], None)),
    }
}

fn full_year(digits: &str) -> Option<i32> {
    let year: i32 = digits.parse().ok()?;
    let year = match digits.len() {
        2 if year >= 69 => 1900 + year,
        2 => 2000 + year,
        _ => year,
    };
    YEARS.contains(&year).then_some(year)
}

fn month_number(name: &str) -> Option<u32> {
    let name = name.to_lowercase();
    let at = MONTHS.iter().position(|names| names.split('|').any(|n| n == name))?;
    u32::try_from(at + 1).ok()
}

fn iso(year: i32, month: u32, day: u32) -> Option<String> {
    NaiveDate::from_ymd_opt(year, month, day).map(|date| date.format("%Y-%m-%d").to_string())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::panic)]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn every_pattern_compiles() {
        assert_eq!(patterns().len(), 19);
        assert!(weekday().is_some());
    }

    #[test]
    fn whole_dates_of_one_reading() {
        for (text, iso) in [
            ("2025-03-01", "2025-03-01"),
            ("2025/03/01", "2025-03-01"),
            ("2025.3.1", "2025-03-01"),
            ("13.04.2025", "2025-04-13"),
            ("3.4.2025", "2025-04-03"),
            ("3. 4. 2025", "2025-04-03"),
            ("03.04.25", "2025-04-03"),
            ("3-Apr-24", "2024-04-03"),
            ("03-APR-2024", "2024-04-03"),
            ("Apr. 3rd, 2024", "2024-04-03"),
            ("April 3, 2024", "2024-04-03"),
            ("Apr 3 2024", "2024-04-03"),
            ("3 April 2024", "2024-04-03"),
            ("3rd of April 2024", "2024-04-03"),
            ("3. März 2024", "2024-03-03"),
            ("3. Maerz 2024", "2024-03-03"),
            ("3 mars 2024", "2024-03-03"),
            ("1er mars 2024", "2024-03-01"),
            ("3 de abril de 2024", "2024-04-03"),
            ("3 de abril del 2024", "2024-04-03"),
            ("12. Dez. 2023", "2023-12-12"),
            ("12 déc. 2023", "2023-12-12"),
            ("12 dic 2023", "2023-12-12"),
            ("24 août 2022", "2022-08-24"),
            ("24/ago/2022", "2022-08-24"),
            ("7 juil. 2021", "2021-07-07"),
            ("7 Jänner 2021", "2021-01-07"),
            ("May 2016", "2016-05"),
            ("05/2016", "2016-05"),
            ("5/2016", "2016-05"),
            ("05.2016", "2016-05"),
            ("2016-05", "2016-05"),
            ("mayo de 2016", "2016-05"),
            ("Mai 2016", "2016-05"),
            ("Sept. 2019", "2019-09"),
            ("May-16", "2016-05"),
            ("févr. 2018", "2018-02"),
            ("2016", "2016"),
            ("1998", "1998"),
            ("Tue, 4 Mar 2025 10:12:01 +0100", "2025-03-04"),
            ("2025-03-01T08:30:00Z", "2025-03-01"),
            ("2025-03-01 08:30", "2025-03-01"),
            ("Tuesday, March 4, 2025", "2025-03-04"),
            ("Dienstag, 4. März 2025", "2025-03-04"),
            ("mardi 4 mars 2025", "2025-03-04"),
            ("martes, 4 de marzo de 2025", "2025-03-04"),
            ("04/04/2024", "2024-04-04"),
            ("29.02.2024", "2024-02-29"),
            ("3 Apr 98", "1998-04-03"),
            ("Apr 3, '24", "2024-04-03"),
            (" 2025-03-01 ", "2025-03-01"),
            ("4 Mar 2025 14:05 Uhr", "2025-03-04"),
            ("3 April 2024.", "2024-04-03"),
        ] {
            let date = parse_date(text).unwrap_or_else(|| panic!("{text:?} is no date"));
            assert_eq!(date.readings, [iso], "{text}");
        }
    }

    #[test]
    fn day_and_month_that_can_be_exchanged() {
        let date = parse_date("03/04/2024").unwrap();
        assert_eq!(date.readings, ["2024-03-04", "2024-04-03"]);
        assert_eq!(date.order, None);
        assert_eq!(parse_date("3/4/24").unwrap().readings, ["2024-03-04", "2024-04-03"]);
        assert_eq!(parse_date("03-04-2024").unwrap().readings.len(), 2);
        let date = parse_date("13/04/2024").unwrap();
        assert_eq!((date.readings.as_slice(), date.order), (&["2024-04-13".to_owned()][..], Some(Order::DayFirst)));
        let date = parse_date("04/13/2024").unwrap();
        assert_eq!((date.readings.as_slice(), date.order), (&["2024-04-13".to_owned()][..], Some(Order::MonthFirst)));
        assert_eq!(parse_date("25-03-01").unwrap().readings, ["2001-03-25", "2025-03-01"]);
        assert_eq!(parse_date("25-03-01").unwrap().order, None);
        assert_eq!(parse_date("13.04.2025").unwrap().order, None, "dots are day first anyway");
    }

    #[test]
    fn what_is_no_date() {
        for text in [
            "",
            "12",
            "1949",
            "2100",
            "30/02/2024",
            "31.04.2025",
            "13/13/2024",
            "2025-13-01",
            "00/00/2024",
            "29.02.2023",
            "April",
            "3 April",
            "555-0199",
            "25-0317",
            "47.3",
            "1.2.3.4",
            "May",
            "12:30",
            "2025-03-01-A7",
            "D2187-17",
            "1/2/1234",
            "20250301",
            "3 Foo 2024",
            "March of the beads",
            "1 2 2024",
            "2024 mg/kg",
            "10-20-30-40",
        ] {
            assert_eq!(parse_date(text), None, "{text:?}");
        }
    }

    #[test]
    fn dates_in_running_text() {
        let text = "Échantillon prélevé le 3 mars 2024, reçu 05.03.2024; report 2024-0317, V2, ref 24-117, installed May 2016, 2019.";
        let found = find_dates(text);
        let printed: Vec<&str> = found.iter().map(|d| text.get(d.start..d.end).unwrap()).collect();
        assert_eq!(printed, ["3 mars 2024", "05.03.2024", "May 2016"]);
        assert_eq!(find_dates("2025-03-01 08:30 and 12.03.2025-A").len(), 1);
        assert_eq!(find_dates("from 03/04/2024 to 13/04/2024").len(), 2);
        assert_eq!(find_dates("section 3.4.12 of 2016"), []);
        assert_eq!(find_dates("1.234.567,8 and 12/2024/5"), []);
        assert_eq!(find_dates("05/2016, Sept-2019").len(), 2);
        let found = find_dates("Sent: Tue, 4 Mar 2025 10:12:01 +0100");
        assert!(found.iter().any(|d| d.readings == ["2025-03-04"] && d.end == 36));
    }

    proptest! {
        #[test]
        fn no_text_panics(text in "(?s).{0,80}") {
            let _ = parse_date(&text);
            for date in find_dates(&text) {
                prop_assert!(text.get(date.start..date.end).is_some());
            }
        }

        #[test]
        fn printed_dates_read_back(days in 0i64..50_000) {
            let date = NaiveDate::from_ymd_opt(1950, 1, 1).unwrap() + chrono::Duration::days(days);
            let iso = date.format("%Y-%m-%d").to_string();
            for format in ["%Y-%m-%d", "%d.%m.%Y", "%-d %B %Y", "%B %-d, %Y", "%d-%b-%Y", "%Y/%m/%d", "%d/%m/%Y", "%m/%d/%Y"] {
                let printed = date.format(format).to_string();
                let read = parse_date(&printed).unwrap_or_else(|| panic!("{printed}"));
                prop_assert!(read.readings.contains(&iso), "{printed}: {:?}", read.readings);
                prop_assert_eq!(find_dates(&format!("on {printed}, as")).len(), 1);
            }
        }
    }
}
