//! Facts named in passing: "Report TH-3077, issued 30 August 2024", "softener core, taken on 5 May".
//!
//! A letterhead, a title or a sentence names facts without a label and a value of their own. What is found here gives
//! way to what a label states.

use super::cells::Cell;
use super::ledger::WordId;
use super::scope::{Fact, Trust};
use super::table::{self, Desk};
use crate::lexicon::{FacetId, Label, Lexicon, Target, Word, class_words_in, words};
use crate::place::Where;
use crate::value::date::find_dates;
use regex::Regex;
use std::sync::OnceLock;

/// A fact that a text names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mention {
    /// Id of the fact.
    pub key: String,
    /// Bytes of what it says.
    pub start: usize,
    /// See `start`.
    pub end: usize,
    /// Where the words begin that name it.
    pub from: usize,
}

/// Words between the name of a fact and what it says: "sampled by the client on 5 May".
const REACH: usize = 4;

/// Facts that a text names.
pub fn find(text: &str, lexicon: &Lexicon) -> Vec<Mention> {
    if text.len() > 2_000 {
        return Vec::new();
    }
    let list = words(text);
    let mut found = dates(text, &list, lexicon);
    found.extend(numbered(text, &list, lexicon));
    if let Some((start, end)) = class_words_in(text) {
        found.push(Mention { key: "resin".into(), start, end, from: start });
    }
    found.extend(core(text, &list, lexicon));
    found.extend(form(text, &list, lexicon));
    found
}

/// "the core that you pulled": a core sample.
fn core(text: &str, list: &[Word], lexicon: &Lexicon) -> Option<Mention> {
    let word = list.iter().find(|w| {
        let label = lexicon.understand(text.get(w.start..w.end).unwrap_or_default(), &[]);
        matches!(label.position.as_deref(), Some("core" | "composite")) && label.unexplained.is_empty()
    })?;
    Some(Mention { key: "position".into(), start: word.start, end: word.end, from: word.start })
}

/// "converted to the sodium form", "in der Natriumform geprüft": the form that the resin was tested in.
fn form(text: &str, list: &[Word], lexicon: &Lexicon) -> Option<Mention> {
    static CONVERTED: OnceLock<Option<Regex>> = OnceLock::new();
    let turned = CONVERTED
        .get_or_init(|| {
            Regex::new(r"(?i)\bconver(?:ted|sion|tid[ao]|ti[es]?)\b|\b(?:tested|examined|measured|results)\b[^.;]*\bform\b|überführt|umgeladen|sous forme|\w+form\b.*(?:geprüft|gemessen|untersucht)")
                .ok()
        })
        .as_ref()
        .is_some_and(|p| p.is_match(text));
    if !turned {
        return None;
    }
    (0..list.len()).find_map(|at| {
        (1..=3).rev().find_map(|length| {
            let (first, last) = (list.get(at)?, list.get(at + length - 1)?);
            let run = text.get(first.start..last.end)?;
            let label = lexicon.understand(run, &[]);
            let whole = label.form.is_some() && label.unexplained.is_empty() && label.target.is_none();
            (whole && run.len() > 3).then(|| Mention {
                key: "form".into(),
                start: first.start,
                end: last.end,
                from: first.start,
            })
        })
    })
}

/// "Unit 6, Tannery Way": a line of an address, whose unit is no vessel.
pub fn is_address(text: &str) -> bool {
    static STREET: OnceLock<Option<Regex>> = OnceLock::new();
    STREET
        .get_or_init(|| {
            Regex::new(r"(?i)\b(?:road|rd|street|st|lane|ln|avenue|ave|way|drive|mill|works|estate|park|court|house|quay|blvd|highway|hwy|suite|industrial|box)\b\.?,?|stra(?:ß|ss)e|\brue\b|\bcalle\b|\bavenida\b|\bchemin\b")
                .ok()
        })
        .as_ref()
        .is_some_and(|p| p.is_match(text))
        && text.split(|c: char| !c.is_alphanumeric()).any(|w| w.eq_ignore_ascii_case("unit"))
}

/// Dates, by the words before them: "taken 3 September", "Report 24-560 of 17 December".
fn dates(text: &str, list: &[Word], lexicon: &Lexicon) -> Vec<Mention> {
    let mut found: Vec<Mention> = Vec::new();
    let mut last = 0;
    for date in find_dates(text) {
        let clause = text
            .get(last..date.start)
            .and_then(|t| t.rfind([';', '(', ')', '|', '•']).map(|at| last + at + 1))
            .unwrap_or(last);
        last = date.end;
        let before: Vec<&Word> = list.iter().filter(|w| w.start >= clause && w.end <= date.start).collect();
        if let Some((key, from)) = date_key(text, &before, lexicon) {
            found.push(Mention { key, start: date.start, end: date.end, from });
            continue;
        }
        // "die am 20. März 2025 gezogene Probe": the word stands behind its date.
        let behind = list
            .iter()
            .find(|w| w.start >= date.end)
            .filter(|w| text.get(date.end..w.start).is_some_and(|t| t.trim().is_empty() || t.trim() == "("));
        let named = behind.and_then(|w| text.get(w.start..w.end)).map(|w| lexicon.understand(w, &[]));
        if let Some(Target::Key(key)) = named.and_then(|l| l.target)
            && matches!(key.as_str(), "sampled_on" | "received_on")
        {
            found.push(Mention { key, start: date.start, end: date.end, from: date.start });
        }
    }
    found
}

/// The nearest words that name a date of their own. An earlier report's date is none of this one's.
fn date_key(text: &str, before: &[&Word], lexicon: &Lexicon) -> Option<(String, usize)> {
    let phrase = |from: usize, to: usize| -> Option<(Label, usize)> {
        let (first, last) = (before.get(from)?, before.get(to.checked_sub(1)?)?);
        Some((lexicon.understand(text.get(first.start..last.end)?, &[]), first.start))
    };
    let nearest = before.len().saturating_sub(REACH);
    for to in (nearest..=before.len()).rev() {
        for from in to.saturating_sub(5)..to {
            let Some((label, start)) = phrase(from, to) else { continue };
            if label.has_context("previous") {
                return None;
            }
            match label.target {
                Some(Target::Key(key)) if key.ends_with("_on") && label.unexplained.is_empty() => {
                    return Some((key, start));
                }
                _ => {}
            }
        }
    }
    // "Report 24-560 of 17 December 2024"
    let report = lexicon.facet_id("report")?;
    let near = before.len().saturating_sub(REACH + 2);
    (near..before.len())
        .rev()
        .filter_map(|at| phrase(at, at + 1))
        .find(|(label, _)| label.facets.contains(&report))
        .map(|(_, start)| ("reported_on".to_owned(), start))
}

/// "Report TH-3077", "Sample ref. OA/5580/1", "vessel CAT-A": a name with a mark behind it.
fn numbered(text: &str, list: &[Word], lexicon: &Lexicon) -> Vec<Mention> {
    let facet = |id: &str| lexicon.facet_id(id);
    let (report, sample, vessel) = (facet("report"), facet("sample"), facet("vessel"));
    let vessel = vessel.filter(|_| !is_address(text));
    let mut found: Vec<Mention> = Vec::new();
    for (at, word) in list.iter().enumerate() {
        let named = names(text, list, at, lexicon);
        let has = |id: Option<FacetId>| id.is_some_and(|f| named.contains(&f));
        let key = match () {
            () if has(report) => "report_number",
            () if has(sample) => "sample_id",
            () if has(vessel) => "vessel",
            () => continue,
        };
        if found.iter().any(|m| m.key == key) || earlier(text, list, at, lexicon) {
            continue;
        }
        let Some((start, end)) = mark_behind(text, list, at, key, lexicon) else { continue };
        // The words of a vessel are part of its name; "vessel CAT-A" is called CAT-A.
        let generic =
            key == "vessel" && text.get(start..end).is_some_and(|t| t.len() > 1 && t.contains(char::is_alphabetic));
        let start = if key == "vessel" && !generic { word.start } else { start };
        found.push(Mention { key: key.to_owned(), start, end, from: word.start });
    }
    found
}

fn names(text: &str, list: &[Word], at: usize, lexicon: &Lexicon) -> Vec<FacetId> {
    let Some(word) = list.get(at) else { return Vec::new() };
    let written = text.get(word.start..word.end).unwrap_or_default();
    if written.chars().count() < 3 {
        return Vec::new();
    }
    lexicon.understand(written, &[]).facets.into_iter().collect()
}

/// "the previous report TR-22107", "last year's sample"
fn earlier(text: &str, list: &[Word], at: usize, lexicon: &Lexicon) -> bool {
    list.get(at.saturating_sub(2)..at)
        .unwrap_or_default()
        .iter()
        .any(|w| text.get(w.start..w.end).is_some_and(|t| lexicon.understand(t, &[]).has_context("previous")))
}

/// The mark behind a name: letters and figures in one run, "No.", "ref." and the like between them.
fn mark_behind(text: &str, list: &[Word], at: usize, key: &str, lexicon: &Lexicon) -> Option<(usize, usize)> {
    let number = lexicon.facet_id("number");
    let mut counted = false;
    let mut next = at + 1;
    while let Some(word) = list.get(next) {
        let written = text.get(word.start..word.end)?;
        let label = lexicon.understand(written, &[]);
        let digit = written.chars().any(|c| c.is_ascii_digit());
        let is_number = number.is_some_and(|n| label.facets.contains(&n)) || matches!(written, "#" | "N" | "n" | "ref");
        if digit || next > at + 4 {
            break;
        }
        let token = token_at(text, word.start);
        if token.chars().any(|c| c.is_ascii_digit()) || key == "vessel" && written.len() == 1 {
            break;
        }
        // "vessel CAT-A": capitals and a stroke make a mark without a figure.
        if key == "vessel" && is_capital_mark(token) {
            break;
        }
        let filler = label.target.is_none() && label.unexplained.is_empty() && !label.facets.is_empty() || is_number;
        let same = matches!(&label.target, Some(Target::Key(k)) if k == key);
        if !(filler || same || lexicon.explains(written) && label.facets.is_empty()) {
            return None;
        }
        counted |= is_number;
        next += 1;
    }
    let word = list.get(next)?;
    let between = text.get(list.get(at)?.end..word.start)?;
    if between.contains([';', '(', ')', '|', ','] as [char; 5]) || between.contains(". ") && !counted {
        return None;
    }
    let token = token_at(text, word.start).trim_end_matches(['.', ',', ':', ';', ')', '/', '-']);
    let digits = token.chars().filter(char::is_ascii_digit).count();
    let letters = token.chars().filter(|c| c.is_ascii_alphabetic()).count();
    let (start, end) = (word.start, word.start + token.len());
    if find_dates(text).iter().any(|d| d.start < end && start < d.end) || token.contains('%') {
        return None;
    }
    let enough = match key {
        "report_number" => digits >= 2 && (digits + letters >= 3),
        "sample_id" => digits >= 1 && letters >= 1 && digits + letters >= 3 || counted && digits >= 1,
        _ => {
            digits >= 1 && letters + digits <= 8
                || is_capital_mark(token)
                || token.len() == 1 && token.chars().all(|c| c.is_ascii_uppercase())
        }
    };
    // A figure with its unit behind it is no mark: "report 12 mg/L".
    let figure = letters == 0
        && text
            .get(end..)
            .and_then(|t| t.split_whitespace().next())
            .is_some_and(|next| crate::quantity::Unit::parse(next).is_some());
    (enough && !figure).then_some((start, end))
}

fn token_at(text: &str, start: usize) -> &str {
    text.get(start..).and_then(|t| t.split_whitespace().next()).unwrap_or_default()
}

fn is_capital_mark(token: &str) -> bool {
    let token = token.trim_end_matches(['.', ',', ':', ';', ')']);
    token.len() >= 3
        && token.len() <= 10
        && token.contains('-')
        && token.chars().all(|c| c.is_ascii_uppercase() || c.is_ascii_digit() || matches!(c, '-' | '/'))
}

/// The name of a laboratory, where a line at the head of a report is one.
pub fn laboratory(text: &str, lexicon: &Lexicon) -> Option<String> {
    let known = letterhead();
    let part = parts(text).into_iter().find(|part| {
        let list = words(part);
        let names = list.iter().enumerate().any(|(at, word)| {
            known.words.iter().any(|w| starts_with(&list, at, w))
                || known
                    .words
                    .iter()
                    .any(|w| matches!(&w[..], [one] if one.len() >= 5 && word.folded.ends_with(one.as_str())))
        });
        let other = list.iter().enumerate().any(|(at, _)| known.not.iter().any(|w| starts_with(&list, at, w)));
        let proper = part
            .split_whitespace()
            .any(|w| w.chars().next().is_some_and(char::is_uppercase) && !lexicon.explains(w) && w.chars().count() > 2);
        names && !other && proper && (2..=8).contains(&list.len()) && !part.chars().any(|c| c.is_ascii_digit())
    })?;
    Some(part.trim().trim_matches([',', ';', '"']).trim().to_owned())
}

/// Whether a line holds a word that no name has: "Certificate of analysis".
pub fn is_title(text: &str) -> bool {
    let list = words(text);
    list.iter().enumerate().any(|(at, _)| letterhead().not.iter().any(|w| starts_with(&list, at, w)))
}

/// Parts of a line that strokes and points set apart.
pub fn parts(text: &str) -> Vec<&str> {
    let mut parts = vec![text];
    for mark in [" - ", " – ", " — ", " · ", "|", "•", " * ", " / ", "   "] {
        parts = parts.into_iter().flat_map(|p| p.split(mark)).collect();
    }
    parts
}

fn starts_with(list: &[Word], at: usize, phrase: &[String]) -> bool {
    phrase.iter().enumerate().all(|(i, w)| list.get(at + i).is_some_and(|word| &word.folded == w))
}

struct Letterhead {
    words: Vec<Vec<String>>,
    not: Vec<Vec<String>>,
}

fn letterhead() -> &'static Letterhead {
    static DATA: OnceLock<Letterhead> = OnceLock::new();
    DATA.get_or_init(|| {
        let table: toml::Table = include_str!("../../grammar/letterhead.toml").parse().unwrap_or_default();
        let list = |key: &str| -> Vec<Vec<String>> {
            table
                .get("laboratory")
                .and_then(|t| t.get(key))
                .and_then(toml::Value::as_str)
                .unwrap_or_default()
                .split(['|', '\n'])
                .map(|phrase| words(phrase).into_iter().map(|w| w.folded).collect::<Vec<_>>())
                .filter(|phrase| !phrase.is_empty())
                .collect()
        };
        Letterhead { words: list("words"), not: list("not") }
    })
}

/// Where a text stands, for the facts that it names.
pub struct Origin<'a> {
    /// Its place.
    pub place: &'a Where,
    /// Its words.
    pub words: &'a [WordId],
    /// A sentence names a sample, a vessel or a report in passing; only a line of its own opens one.
    pub sentence: bool,
}

impl<'a> Origin<'a> {
    /// A cell of a line that is no sentence.
    pub fn of(cell: &'a Cell) -> Self {
        Self { place: &cell.place, words: &cell.words, sentence: false }
    }

    /// Its words under some bytes of its text; all of them where they cannot be told apart.
    fn words_under(&self, text: &str, start: usize, end: usize) -> Vec<WordId> {
        let tokens = text.split_whitespace().map(|token| token.as_ptr() as usize - text.as_ptr() as usize);
        let starts: Vec<usize> = tokens.collect();
        if starts.len() != self.words.len() {
            return self.words.to_vec();
        }
        let spans = starts.iter().zip(starts.iter().skip(1).copied().chain([text.len()]));
        self.words.iter().zip(spans).filter(|(_, (from, to))| **from < end && start < *to).map(|(w, _)| *w).collect()
    }
}

/// Takes in the facts that a text names; true if there were any.
pub fn learn(text: &str, origin: &Origin<'_>, desk: &mut Desk<'_>) -> bool {
    let mut any = false;
    for mention in find(text, desk.lexicon) {
        let said = text.get(mention.start..mention.end).unwrap_or_default();
        let words = origin.words_under(text, mention.start, mention.end);
        any |= learn_one(&mention, said, &Origin { words: &words, ..*origin }, desk);
    }
    any
}

/// Takes in one fact.
pub fn learn_one(mention: &Mention, said: &str, origin: &Origin<'_>, desk: &mut Desk<'_>) -> bool {
    if mention.key == "analysed_on" {
        return false;
    }
    let known = desk.scopes.knows(&mention.key);
    let identity = super::scope::IDENTITY.contains(&mention.key.as_str());
    // Another report number at the head of a page opens another report; in a sentence it is only spoken of.
    if identity && (known || origin.sentence && desk.scopes.has_open_figures())
        || mention.key == "report_number" && known && origin.sentence
    {
        return false;
    }
    desk.ledger.set_aside(origin.words, table::reason(&mention.key));
    let fact = Fact {
        key: mention.key.clone(),
        text: said.trim().to_owned(),
        place: origin.place.clone(),
        words: origin.words.to_vec(),
        order: desk.style.order(),
        trust: Trust::Mentioned,
    };
    // "ANION: strong base anion, type 1": another resin under a heading is another bed's.
    if fact.key == "resin" && !origin.sentence && desk.scopes.has_open_figures() && desk.scopes.differs(&fact) {
        desk.scopes.leave_table();
        desk.scopes.open().learn(fact);
        return true;
    }
    desk.scopes.learn(fact, desk.lexicon);
    true
}

/// Cuts off a fact's own words what they say besides: "Softener 2, Whitlow Inn, sampled 11 March 2024".
pub fn own_part(key: &str, text: &str, lexicon: &Lexicon) -> Option<usize> {
    if key.ends_with("_on") {
        return None;
    }
    static PAGE: OnceLock<Option<Regex>> = OnceLock::new();
    let page = PAGE
        .get_or_init(|| {
            Regex::new(r"(?i)(?:^|\s)\(?(?:page|pg\.?|seite|blatt|p[áa]gina|hoja|sheet|p\.)\s*\d+|\s+rev\.?\s").ok()
        })
        .as_ref()
        .and_then(|p| p.find(text))
        .map(|m| m.start());
    // "OA/5712   2 September 2024": no number holds a date.
    let number = key == "report_number" || key == "sample_id";
    let date = find_dates(text).first().map(|d| d.start).filter(|&at| number && at > 0);
    find(text, lexicon)
        .into_iter()
        .filter(|m| m.key.ends_with("_on") && m.from > 0)
        .map(|m| m.from)
        .chain(page)
        .chain(date)
        .min()
        .map(|at| text.get(..at).map_or(at, |t| t.trim_end().trim_end_matches([',', ';', '(', '-', '–', '.']).len()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn facts(text: &str) -> Vec<(String, String)> {
        find(text, Lexicon::builtin())
            .into_iter()
            .map(|m| (m.key, text.get(m.start..m.end).unwrap_or_default().to_owned()))
            .collect()
    }

    fn fact(text: &str, key: &str) -> Option<String> {
        facts(text).into_iter().find(|(k, _)| k == key).map(|(_, t)| t)
    }

    #[test]
    fn dates_are_named_by_the_words_before_them() {
        for (text, key, said) in [
            ("taken 2024-09-03        reported 2024-09-20", "sampled_on", "2024-09-03"),
            ("taken 2024-09-03        reported 2024-09-20", "reported_on", "2024-09-20"),
            ("Report DP-24-066 / issued August 9, 2024 / samples of July 18, 2024", "reported_on", "August 9, 2024"),
            ("Colonne cationique, carottage du 14/05/2024 Édité le 29/05/2024", "sampled_on", "14/05/2024"),
            ("Bericht E-0457/23 vom 11. Oktober 2023", "reported_on", "11. Oktober 2023"),
            ("Muestras tomadas el 14/08/2024 - resina catiónica fuerte gel", "sampled_on", "14/08/2024"),
            ("Sampled 2024-01-22 by the client, Eltham Beverages, vessel SOFT-01,", "sampled_on", "2024-01-22"),
        ] {
            assert_eq!(fact(text, key).as_deref(), Some(said), "{text}");
        }
        assert_eq!(
            fact("The last sample was taken in May 2021, see our previous report of 3 June 2021", "reported_on"),
            None
        );
    }

    #[test]
    fn marks_behind_a_name_are_taken() {
        for (text, key, said) in [
            ("RAPPORT D’ESSAI N° LA-24-0612                     Page 1/1", "report_number", "LA-24-0612"),
            ("Report of test QS/5521                                  issued 2024-02-09", "report_number", "QS/5521"),
            ("TEST CERTIFICATE GM/24/3306                      Page 1 of 2", "report_number", "GM/24/3306"),
            ("Informe PN-402      Fecha de muestreo: 17/10/2024", "report_number", "PN-402"),
            ("Sample ref OA/5580/1, Softener C, sampled 5 June 2024", "sample_id", "OA/5580/1"),
            ("Sample ref OA/5580/1, Softener C, sampled 5 June 2024", "vessel", "Softener C"),
            ("Sampled 2024-09-10, Wickham Boiler House, vessel CAT-A.", "vessel", "CAT-A"),
            ("RESIN ANALYSIS REPORT                               Report No. TR-24817", "report_number", "TR-24817"),
        ] {
            assert_eq!(fact(text, key).as_deref(), Some(said), "{text}");
        }
        assert_eq!(fact("Please report 12 mg/L of iron", "report_number"), None);
        assert_eq!(fact("our previous report TR-22107 said so", "report_number"), None);
    }

    #[test]
    fn a_laboratory_is_known_by_its_letterhead() {
        for (text, said) in [
            ("Ingenieurbüro Elbtal – Harzlabor", None),
            ("CORVID LANE LABS", Some("CORVID LANE LABS")),
            ("Moorgrund Institut f. Harzprüfung", Some("Moorgrund Institut f. Harzprüfung")),
            ("LABORATOIRE DES AULNES", Some("LABORATOIRE DES AULNES")),
            ("Sedgemoor Ion Exchange Laboratory", Some("Sedgemoor Ion Exchange Laboratory")),
            ("Fenwick & Rowe Assay Office", Some("Fenwick & Rowe Assay Office")),
            ("Laboratory report", None),
            ("Resin analysis", None),
            ("Whitlow Lab - resin results", Some("Whitlow Lab")),
        ] {
            assert_eq!(laboratory(text, Lexicon::builtin()).as_deref(), said, "{text}");
        }
    }

    #[test]
    fn what_a_value_says_besides_is_cut_off() {
        let text = "Softener 2, Whitlow Inn, sampled Mar 11, 2024";
        let end = own_part("vessel", text, Lexicon::builtin()).unwrap_or_default();
        assert_eq!(&text[..end], "Softener 2, Whitlow Inn");
        assert_eq!(own_part("vessel", "Softener 2", Lexicon::builtin()), None);
    }
}
