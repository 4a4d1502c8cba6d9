//! Numbers of reports: behind a word that names them, or as a mark alone at the head of a letter.

use super::text::Text;
use super::words::{Passing, lower, occurrences};
use super::{Found, Reading};
use crate::value::date::find_dates;
use regex::Regex;
use std::sync::OnceLock;

/// Lines at the head of a report in which a mark may stand alone.
const HEAD: usize = 5;

/// The number of a report.
pub fn find(page: &Reading<'_>, mail: bool) -> Vec<Found> {
    let data = Passing::builtin();
    let leads = data.phrases("report_number", "leads");
    let heads = data.phrases("report_number", "numbers");
    let between = data.phrases("report_number", "between");
    let previous = data.phrases("dates", "none");
    let mut found = Vec::new();
    for (number, text) in page.lines.iter().enumerate() {
        let subject = subject_of(text, mail);
        if subject.is_none() && is_head_of_mail(text, mail) {
            continue;
        }
        let small = lower(&text.text);
        for (from, to) in leads.iter().flat_map(|p| occurrences(&small, p)) {
            let before = small.get(..from).unwrap_or_default();
            let spoiled = previous.iter().any(|p| before.trim_end().ends_with(p.as_str()));
            let inner = before.ends_with(|c: char| c.is_alphanumeric() || matches!(c, '-' | '/' | '.' | '_'));
            if !spoiled
                && !inner
                && let Some((start, end)) = mark_behind(&text.text, to, between)
            {
                found.push(Found::new(
                    "report_number",
                    text.text.get(start..end).unwrap_or_default(),
                    text,
                    start,
                    end,
                ));
            }
        }
        let head = text.line < page.first_figure;
        if head && number < 2 * HEAD {
            for (at, cell) in text.cells() {
                let small = lower(cell);
                let lead = heads.iter().find(|p| occurrences(&small, p).first().is_some_and(|(from, _)| *from == 0));
                if let Some(lead) = lead
                    && let Some((start, end)) = mark_behind(&text.text, at + lead.len(), &[])
                {
                    found.push(Found::new(
                        "report_number",
                        text.text.get(start..end).unwrap_or_default(),
                        text,
                        start,
                        end,
                    ));
                }
            }
        }
        let from = subject.unwrap_or(0);
        if subject.is_some() || head && number < HEAD || number + 3 >= page.lines.len() {
            alone(text, from, head || subject.is_some(), &mut found);
        }
    }
    found
}

/// Where the subject of a mail begins.
fn subject_of(text: &Text, mail: bool) -> Option<usize> {
    let rest = text.text.strip_prefix("Subject:").filter(|_| mail && text.part == 0)?;
    let mut rest = rest.trim_start();
    while let Some((first, behind)) = rest.split_once(':')
        && matches!(lower(first.trim()).as_str(), "re" | "fwd" | "fw" | "aw" | "wg" | "tr" | "rv" | "antw")
    {
        rest = behind.trim_start();
    }
    Some(text.text.len() - rest.len())
}

/// From, To and Date of a mail hold none.
pub fn is_head_of_mail(text: &Text, mail: bool) -> bool {
    mail && text.part == 0
        && ["From:", "To:", "Cc:", "Date:", "Subject:", "Sent:"].iter().any(|h| text.text.starts_with(h))
}

/// Marks that fill a part of a line by themselves.
fn alone(text: &Text, from: usize, head: bool, found: &mut Vec<Found>) {
    let mut at = from;
    let rest = text.text.get(from..).unwrap_or_default();
    for part in rest.split_inclusive([',', '(', ')', '|', '—', '–', '@']).flat_map(|p| p.split_inclusive(" - ")) {
        let start = at;
        at += part.len();
        let bracketed = part.trim_end().ends_with(')');
        let said = part.trim_matches(|c: char| !c.is_alphanumeric());
        let inner = part.find(said).unwrap_or(0);
        // "Lower Marsh, OH 43000" ends in a post code.
        if is_mark(said) && !super::names::is_town(said) && (head || bracketed) {
            found.push(Found::new("report_number", said, text, start + inner, start + inner + said.len()).unsure());
        }
    }
}

/// The mark right behind a word that names it.
fn mark_behind(text: &str, at: usize, between: &[String]) -> Option<(usize, usize)> {
    let mut at = at;
    for _ in 0..3 {
        let rest = text.get(at..)?;
        at += rest.len() - rest.trim_start_matches([' ', ':', '|', '#', '=', '.', '`', '*', '"', '°']).len();
        let small = lower(text.get(at..)?);
        let skipped = between.iter().find(|p| occurrences(&small, p).first().is_some_and(|(from, _)| *from == 0));
        match skipped {
            // "NR 25-3" may be a mark; "No. 25-3" holds a word before it.
            Some(word) => at += word.len(),
            None => break,
        }
    }
    let rest = text.get(at..)?;
    // "Our job number for this pair is 25-B-0917"
    let (rest, at) = match between.is_empty() {
        false if rest.starts_with("for ") || rest.starts_with("für ") || rest.starts_with("pour ") => {
            let to =
                [" is ", " ist ", " est ", " es "].iter().filter_map(|w| rest.find(w).map(|a| a + w.len())).min()?;
            (rest.get(to..).filter(|_| to < 40)?, at + to)
        }
        _ => (rest, at),
    };
    let end = mark_length(rest)?;
    Some((at, at + end))
}

/// Bytes of the mark that a text begins with.
fn mark_length(text: &str) -> Option<usize> {
    static MARK: OnceLock<Option<Regex>> = OnceLock::new();
    let mark = MARK
        .get_or_init(|| {
            Regex::new(r"^(?:[A-Z]{1,6}(?:[-/][A-Z]{1,3})? )?#?[A-Za-z0-9]*[A-Z0-9][A-Za-z0-9./\-]*(?: / \d[\w\-]*)?")
                .ok()
        })
        .as_ref()?;
    let found = mark.find(text)?;
    let said = found.as_str().trim_end_matches(['.', '/', '-', ',']);
    let digits = said.chars().filter(char::is_ascii_digit).count();
    let letters = said.chars().filter(|c| c.is_alphabetic()).count();
    let joined = said.contains(['-', '/', ' ']);
    let after = text.get(said.len()..).unwrap_or_default();
    let ends = !after.starts_with(|c: char| c.is_alphanumeric() || matches!(c, '%' | ',') && digits < 3);
    let dated = find_dates(text).iter().any(|d| d.start < said.len() && (d.start == 0 || letters == 0));
    // "report 12 mg/L", "file 3 of 4"
    let next = after.split_whitespace().next().unwrap_or_default();
    let unit = letters == 0 && !joined && crate::quantity::Unit::parse(next).is_some();
    let last = said.rsplit(' ').next().unwrap_or_default();
    let enough = digits >= 2 && digits + letters >= 3 && last.chars().any(|c| c.is_ascii_digit());
    (enough && ends && !dated && !unit && said.len() <= 24).then_some(said.len())
}

/// Letters and figures in one mark, as reports are numbered: "TBW-4471-A", "CL 25/88", "LH 1192".
pub fn is_mark(text: &str) -> bool {
    let digits = text.chars().filter(char::is_ascii_digit).count();
    let capitals = text.chars().take_while(char::is_ascii_uppercase).count();
    digits >= 3 && capitals >= 2 && text.contains(['-', '/', ' ']) && mark_length(text) == Some(text.len())
}

/// The mark that a value begins with, where other words follow it: "MW 25/201 Mallee Water & Resin Co.".
pub fn own_mark(text: &str) -> Option<(usize, usize)> {
    let between = Passing::builtin().phrases("report_number", "between");
    mark_behind(text, 0, between).filter(|(start, end)| {
        let rest = text.get(*end..).unwrap_or_default();
        let words = rest.split_whitespace().filter(|w| w.chars().any(char::is_lowercase)).count();
        *start > 0 && rest.trim().is_empty() || *start == 0 && words >= 1 && rest.starts_with(' ')
    })
}
