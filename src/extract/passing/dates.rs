//! Dates by the nearest words before them, with and without a year of their own.

use super::text::Text;
use super::words::{Passing, begins, lower, nearest, occurrences};
use super::{Found, Reading};
use crate::value::date::{DateText, find_dates, parse_date};

const KEYS: [&str; 3] = ["sampled_on", "received_on", "reported_on"];

/// Bytes between a word and the date that it names: "sampled by the client on 5 May".
const REACH: usize = 48;

/// Bytes between a word for another time and the word for a date: "the last sample was drawn".
const BESIDE: usize = 16;

/// Dates of a document that words name.
pub fn find(page: &Reading<'_>) -> Vec<Found> {
    let leads = Leads::builtin();
    let mut found = Vec::new();
    for text in page.paragraphs {
        let dates = find_dates(&text.text);
        named(text, &dates, &leads, &mut found);
        without_year(text, &dates, &leads, &mut found);
        installed(text, &leads, &mut found);
    }
    if !found.iter().any(|f| f.key == "reported_on") {
        for line in page.lines.iter().filter(|l| l.line < page.first_figure).take(12) {
            letter(line, &leads, &mut found);
        }
    }
    found
}

struct Leads {
    keys: Vec<(&'static str, &'static [String])>,
    none: &'static [String],
    letter: &'static [String],
    installed: &'static [String],
}

impl Leads {
    fn builtin() -> Self {
        let data = Passing::builtin();
        Self {
            keys: KEYS.iter().map(|k| (*k, data.phrases("dates", k))).collect(),
            none: data.phrases("dates", "none"),
            letter: data.phrases("dates", "letter"),
            installed: data.phrases("installed_on", "leads"),
        }
    }

    /// The key whose words stand nearest to the end of a clause.
    fn key(&self, clause: &str) -> Option<&'static str> {
        let other = nearest(clause, self.none);
        let (key, at) = self
            .keys
            .iter()
            .filter_map(|(key, phrases)| Some((*key, nearest(clause, phrases)?)))
            .max_by_key(|(_, (from, to))| (*to, std::cmp::Reverse(*from)))?;
        let near = clause.get(at.1..)?;
        // "dernier prélèvement": another date's word before this one's.
        let apart = |to: usize| clause.get(to..at.0).is_none_or(|t| t.len() > BESIDE || t.contains([',', ';', '.']));
        let spoiled = other.is_some_and(|(from, to)| to > at.1 || from > at.0 || at.0 >= to && !apart(to));
        (!spoiled && near.len() <= REACH && !near.contains(|c: char| c.is_ascii_digit())).then_some(key)
    }
}

/// The clause before a date: what stands behind the last mark that ends one.
fn clause(text: &str, from: usize, to: usize) -> &str {
    let whole = text.get(from..to).unwrap_or_default();
    // A label in the cell before its date.
    let trimmed = whole.trim_end_matches([' ', '|', ':', '\t', '*', '_']);
    let cut = trimmed
        .rfind([';', '|', '(', ')', '•', '·', '['])
        .into_iter()
        .chain(trimmed.rfind(". ").filter(|at| !trimmed.get(..*at).unwrap_or_default().ends_with("Dt")))
        .max()
        .map_or(0, |at| at + 1);
    let colon = whole.get(trimmed.len()..).is_some_and(|rest| rest.contains(':'));
    // "In:" is a word only with its colon.
    let end = if colon {
        trimmed.len() + whole.get(trimmed.len()..).and_then(|r| r.find(':')).map_or(0, |a| a + 1)
    } else {
        trimmed.len()
    };
    whole.get(cut..end).unwrap_or_default()
}

fn named(text: &Text, dates: &[DateText], leads: &Leads, found: &mut Vec<Found>) {
    let mut last = 0;
    for date in dates {
        let before = clause(&text.text, last, date.start);
        last = date.end;
        let said = text.text.get(date.start..date.end).unwrap_or_default();
        if let Some(key) = leads.key(before) {
            found.push(Found::new(key, said, text, date.start, date.end));
        }
    }
}

/// "pulled April 22, 2025, in our hands April 25": the year is that of the date before it.
fn without_year(text: &Text, dates: &[DateText], leads: &Leads, found: &mut Vec<Found>) {
    let small = lower(&text.text);
    let inside = |at: usize| dates.iter().any(|d| d.start <= at && at < d.end);
    for (key, phrases) in &leads.keys {
        for (from, to) in phrases.iter().flat_map(|p| occurrences(&small, p)) {
            let Some(year) = year_before(text, dates, from) else { continue };
            let Some(rest) = text.text.get(to..) else { continue };
            let tokens: Vec<(usize, &str)> = rest
                .split_whitespace()
                .take(5)
                .map(|t| (t.as_ptr() as usize - text.text.as_ptr() as usize, t))
                .collect();
            for pair in tokens.windows(2).take(3) {
                let [(start, a), (after, b)] = pair else { continue };
                let b = b.trim_matches(|c: char| !c.is_alphanumeric());
                let end = after + b.len();
                let year_follows = text
                    .text
                    .get(end..)
                    .is_some_and(|t| t.trim_start_matches([',', ' ', '.']).starts_with(|c: char| c.is_ascii_digit()));
                let whole = format!("{} {b} {year}", a.trim_start_matches(|c: char| !c.is_alphanumeric()));
                let short = a.chars().any(|c| c.is_ascii_digit()) != b.chars().any(|c| c.is_ascii_digit());
                if short && !year_follows && !inside(*start) && parse_date(&whole).is_some() {
                    found.push(Found::new(key, &whole, text, *start, end));
                    break;
                }
            }
        }
    }
}

fn year_before(text: &Text, dates: &[DateText], at: usize) -> Option<String> {
    let date = dates.iter().rfind(|d| d.start < at && !d.readings.is_empty())?;
    let _ = text;
    date.readings.first()?.get(..4).map(str::to_owned)
}

/// "Resin in vessel since Nov 2017", "installed 2018".
fn installed(text: &Text, leads: &Leads, found: &mut Vec<Found>) {
    let small = lower(&text.text);
    for (_, to) in leads.installed.iter().flat_map(|p| occurrences(&small, p)) {
        let Some(rest) = text.text.get(to..) else { continue };
        let shift = rest.len() - rest.trim_start_matches([' ', ':', '|', '=', '(']).len();
        let rest = rest.get(shift..).unwrap_or_default();
        let tokens: Vec<&str> = rest.split_whitespace().take(3).collect();
        for length in (1..=tokens.len()).rev() {
            let Some(last) = tokens.get(length - 1) else { continue };
            let end = last.as_ptr() as usize - rest.as_ptr() as usize + last.len();
            let said = rest.get(..end).unwrap_or_default().trim_end_matches(|c: char| !c.is_alphanumeric());
            if said.chars().filter(char::is_ascii_digit).count() >= 4 && parse_date(said).is_some() {
                found.push(Found::new("installed_on", said, text, to + shift, to + shift + said.len()));
                break;
            }
        }
    }
}

/// "Le 11 juin 2025", "Dt. 21-Aug-2025", "TBW-4471-A, May 6, 2025": alone in its cell, it is the report's.
fn letter(line: &Text, leads: &Leads, found: &mut Vec<Found>) {
    for (at, cell) in line.cells() {
        let dates = find_dates(cell);
        let [date] = dates.as_slice() else { continue };
        let before = cell.get(..date.start).unwrap_or_default();
        let after = cell.get(date.end..).unwrap_or_default();
        let lead = before.trim().trim_end_matches([',', ':']).trim();
        let word = lower(lead);
        let marked = super::numbers::is_mark(lead);
        let plain = !lead.is_empty() && leads.letter.contains(&word)
            || begins(lead, leads.letter).is_some_and(|rest| rest.trim_matches(['.', ':', ' ']).is_empty());
        let before_cell = line.text.get(..at).unwrap_or_default().trim_end_matches([' ', '|']);
        let labelled = before_cell.ends_with(':') || leads.key(before_cell).is_some();
        if after.trim_matches(['.', ' ', ')']).is_empty() && (marked || plain) && !labelled {
            let said = cell.get(date.start..date.end).unwrap_or_default();
            found.push(Found::new("reported_on", said, line, at + date.start, at + date.end));
        }
    }
}
