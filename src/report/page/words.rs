//! Words of the page: names, dates, figures.

use super::BedView;
use crate::judge::quantity_words;
use crate::record::{Measurement, Qualifier, Sample};

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// A date as a person writes it, as far as it is known; anything else as it stands.
pub fn day(date: &str) -> String {
    let parts: Vec<&str> = date.split('-').collect();
    let month = |text: &str| MONTHS.get(text.parse::<usize>().ok()?.checked_sub(1)?).copied();
    match parts.as_slice() {
        [year, m, d] => match (month(m), d.parse::<u8>()) {
            (Some(month), Ok(day)) => format!("{day} {month} {year}"),
            _ => date.to_owned(),
        },
        [year, m] => month(m).map_or_else(|| date.to_owned(), |month| format!("{month} {year}")),
        _ => date.to_owned(),
    }
}

/// The month of a date.
pub fn month(date: &str) -> String {
    day(date.get(..7).unwrap_or(date))
}

/// First letter upper case.
pub fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map(|first| first.to_uppercase().chain(chars).collect()).unwrap_or_default()
}

fn named(part: Option<&String>) -> Option<String> {
    part.filter(|text| !text.trim().is_empty()).cloned()
}

/// What the bed is called, and where it stands.
pub fn names(sample: &Sample) -> (String, Option<String>) {
    let mut parts =
        [&sample.vessel, &sample.site, &sample.customer].into_iter().filter_map(|part| named(part.as_ref()));
    match parts.next() {
        Some(first) => {
            let rest: Vec<String> = parts.collect();
            (first, (!rest.is_empty()).then(|| rest.join(", ")))
        }
        None => match named(sample.sample_id.as_ref()) {
            Some(id) => (format!("Sample {id}"), None),
            None => ("A bed that the report does not name".to_owned(), None),
        },
    }
}

/// Both in one line.
pub fn bed_title(bed: &BedView<'_>) -> String {
    let (name, rest) = names(&bed.judgement.sample);
    rest.map_or_else(|| name.clone(), |rest| format!("{name}, {rest}"))
}

/// A figure with its unit, as it was read.
pub fn figure(qualifier: Qualifier, value: Option<f64>, high: Option<f64>, unit: Option<&str>) -> String {
    let Some(value) = value else { return "not read as a figure".to_owned() };
    let shown = |value: f64| match unit {
        Some(unit) => quantity_words(value, unit),
        None => quantity_words(value, "1"),
    };
    match high {
        Some(high) => format!("{} to {}", shown(value), shown(high)),
        None => format!("{}{}", qualifier.sign(), shown(value)),
    }
}

/// On which basis and in which form a figure holds.
pub fn basis(measurement: &Measurement) -> Option<String> {
    let basis = match measurement.basis.as_deref() {
        Some("dry_mass") => Some("dry".to_owned()),
        Some("wet_mass") => Some("drained, wet".to_owned()),
        Some("volume") => Some("by volume".to_owned()),
        _ => None,
    };
    let form = named(measurement.form.as_ref()).map(|form| format!("{form} form"));
    let both: Vec<String> = [basis, form].into_iter().flatten().collect();
    (!both.is_empty()).then(|| both.join(", "))
}

/// The text without what a browser or a clipboard would obey: control characters, and marks that turn the writing
/// round. Line ends stay.
pub fn printable(text: String) -> String {
    let kept = |c: &char| match *c {
        '\n' => true,
        '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{61c}' | '\u{feff}' => false,
        // What no encoding may hold, and what browsers take for an error.
        '\u{fffe}' | '\u{ffff}' | '\u{fdd0}'..='\u{fdef}' => false,
        c => !c.is_control(),
    };
    text.chars().filter(kept).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_written_as_far_as_they_are_known() {
        assert_eq!(day("2023-05-16"), "16 May 2023");
        assert_eq!(day("2016-05"), "May 2016");
        assert_eq!(day("2016"), "2016");
        assert_eq!(day("2016-13-01"), "2016-13-01");
        assert_eq!(day("spring"), "spring");
    }

    #[test]
    fn what_a_browser_would_obey_goes() {
        assert_eq!(printable("a\u{202e}b\u{7}\nc\u{2066}\u{85}é³".to_owned()), "ab\ncé³");
    }
}
