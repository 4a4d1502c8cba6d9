//! The vessel, the place in the bed, the state of the cycle and the tested form, in headings and sentences.

use super::super::mentions;
use super::text::Text;
use super::words::{Passing, holds, lower, occurrences};
use super::{Found, Reading};
use crate::lexicon::{FacetId, Lexicon, class_words_in};
use regex::Regex;
use std::sync::OnceLock;

/// Facts of the sample itself; a vessel only where one sample stands `alone` in the document.
pub fn find(page: &Reading<'_>, alone: bool) -> Vec<Found> {
    let mut found = Vec::new();
    for text in page.paragraphs {
        phrases("position", "position", text, &mut found);
        phrases("cycle", "cycle_state", text, &mut found);
        form(text, &mut found);
    }
    // A place named for each of several samples is none of them all; a composite is one of cores.
    let composite = found.iter().any(|f| f.key == "position" && f.text == "composite");
    if composite {
        found.retain(|f| f.key != "position" || f.text == "composite");
    } else if found.iter().any(|f| f.key == "position" && f.text != "core") {
        found.retain(|f| f.key != "position" || f.text != "core");
    }
    if alone {
        vessel(page, &mut found);
    }
    found
}

fn phrases(section: &str, key: &str, text: &Text, found: &mut Vec<Found>) {
    let data = Passing::builtin();
    let small = lower(&text.text);
    for value in data.entries(section) {
        let hit = data.phrases(section, value).iter().flat_map(|p| occurrences(&small, p)).next();
        if let Some((from, to)) = hit {
            found.push(Found::new(key, value, text, from, to));
            if let Some(last) = found.last_mut() {
                // Nothing of a phrase is a number of its own.
                last.words.clear();
            }
        }
    }
}

/// "put in the sodium cycle", "(abgetropft, Na-Form)", "ran it in Na form".
fn form(text: &Text, found: &mut Vec<Found>) {
    let data = Passing::builtin();
    let (before, after) = (data.phrases("form", "before"), data.phrases("form", "after"));
    let small = lower(&text.text);
    for ion in data.entries("form").into_iter().filter(|e| !matches!(*e, "before" | "after")) {
        for (from, to) in data.phrases("form", ion).iter().flat_map(|p| occurrences(&small, p)) {
            let behind = small.get(to..).unwrap_or_default();
            let plain = behind.trim_start_matches([' ', '-', '+', '⁺', '⁻']);
            let shift = behind.len() - plain.len();
            let closes = shift <= 2
                && after
                    .iter()
                    .any(|a| occurrences(plain, a.trim_start_matches('-')).first().is_some_and(|o| o.0 == 0));
            let front = small.get(..from).unwrap_or_default().trim_end_matches([' ', '|']);
            let opens = before.iter().any(|b| {
                let strong = b.contains("to") || b.contains("form") || b.ends_with('=');
                strong
                    && front.ends_with(b.as_str())
                    && occurrences(front, b).last().is_some_and(|o| o.1 == front.len())
            });
            if closes || opens && (ion.len() > 1 || ion == "H") {
                let said = text.text.get(from..to).unwrap_or_default();
                let mut hit = Found::new("form", if ion == "FB" { said } else { ion }, text, from, to);
                hit.words.clear();
                found.push(hit);
            }
        }
    }
}

fn vessel(page: &Reading<'_>, found: &mut Vec<Found>) {
    let Some(facet) = page.lexicon.facet_id("vessel") else { return };
    for line in page.paragraphs {
        if super::numbers::is_head_of_mail(line, true) && !line.text.starts_with("Subject:") {
            continue;
        }
        marked(line, facet, page.lexicon, found);
    }
    if found.iter().any(|f| f.key == "vessel") {
        return;
    }
    for line in page.lines.iter().filter(|l| l.line < page.first_figure) {
        plain(line, facet, page.lexicon, found);
    }
}

/// "Filter E1", "Cation unit C-II", "No. 2 softener", "softener skid SK-07".
fn marked(text: &Text, facet: FacetId, lexicon: &Lexicon, found: &mut Vec<Found>) {
    let tokens = tokens(&text.text);
    let is_noun = |at: usize| tokens.get(at).is_some_and(|(_, t)| noun(t, facet, lexicon));
    for at in 0..tokens.len() {
        if !is_noun(at) || is_noun(at + 1) {
            continue;
        }
        let Some((_, word)) = tokens.get(at) else { continue };
        let mut from = at;
        while from > 0 && is_noun(from - 1) && !ends_clause(tokens.get(from - 1).map_or("", |t| t.1)) {
            from -= 1;
        }
        if from > 0 && tokens.get(from - 1).is_some_and(|(_, t)| exchanger(t)) {
            from -= 1;
        }
        if mentions::is_address(&text.text) || earlier(&tokens, from, lexicon) {
            continue;
        }
        let before = from.checked_sub(2).and_then(|b| Some((tokens.get(b)?, tokens.get(b + 1)?)));
        if let Some((number, mark)) = before
            && counts(number.1)
            && is_mark(mark.1)
        {
            let end = tokens.get(at).map_or(0, |(s, t)| s + trimmed(t).len());
            push(text, number.0, end, found);
            continue;
        }
        if ends_clause(word) {
            continue;
        }
        let mut next = at + 1;
        while tokens.get(next).is_some_and(|(_, t)| counts(t)) {
            next += 1;
        }
        let Some((start, mark)) = tokens.get(next) else { continue };
        let said = trimmed(mark);
        let unit = tokens.get(next + 1).map_or("", |t| t.1);
        let figure = said.chars().all(|c| c.is_ascii_digit())
            && (crate::quantity::Unit::parse(trimmed(unit)).is_some() || matches!(unit, "x" | "×" | "of" | "by"))
            && next == at + 1;
        if is_mark(mark) && !figure {
            let begin = tokens.get(from).map_or(0, |t| t.0);
            push(text, begin, start + said.len(), found);
        }
    }
}

/// "NORTH TANK", "Bay softener", "lobby softener": a part of a heading that ends with a word for a vessel.
fn plain(line: &Text, facet: FacetId, lexicon: &Lexicon, found: &mut Vec<Found>) {
    let mut at = 0;
    for part in line.text.split_inclusive([',', '(', ')', '|', ';', ':', '.']).flat_map(|p| p.split_inclusive(" - ")) {
        let start = at;
        at += part.len();
        let said = part.trim_matches(|c: char| !c.is_alphanumeric());
        let words: Vec<&str> = said.split_whitespace().collect();
        let [first @ .., last] = words.as_slice() else { continue };
        let small = ["of", "the", "for", "from", "and", "a", "your", "our", "this", "in", "on", "twin", "duplex"];
        let known = |w: &&&str| lexicon.explains(w) || small.contains(&lower(w).as_str());
        let own = !first.is_empty() && first.len() <= 3 && !first.iter().any(|w| small.contains(&lower(w).as_str()));
        let named =
            own && !first.iter().all(|w| known(&w)) || own && first.len() == 1 && placed(first.first().unwrap_or(&""));
        if named && noun(last, facet, lexicon) && class_words_in(said).is_none() && !holds(said, &["resin".to_owned()])
        {
            let from = start + part.find(said).unwrap_or(0);
            push(line, from, from + said.len(), found);
        }
    }
}

fn placed(word: &str) -> bool {
    matches!(
        lower(word).as_str(),
        "north" | "south" | "east" | "west" | "left" | "right" | "duty" | "standby" | "lead" | "lag" | "main"
    )
}

fn push(text: &Text, from: usize, to: usize, found: &mut Vec<Found>) {
    if let Some(said) = text.text.get(from..to).filter(|s| !s.contains(" | ")) {
        found.push(Found::new("vessel", said, text, from, to));
    }
}

fn noun(token: &str, facet: FacetId, lexicon: &Lexicon) -> bool {
    let word = trimmed(token);
    let label = lexicon.understand(word, &[]);
    word.chars().count() > 2
        && label.facets.contains(&facet)
        && label.unexplained.is_empty()
        && !matches!(
            lower(word).as_str(),
            "system" | "source" | "equipment" | "conditioner" | "asset" | "cylinder" | "train"
        )
}

fn exchanger(token: &str) -> bool {
    matches!(lower(trimmed(token)).as_str(), "cation" | "anion" | "kationen" | "anionen" | "cationique" | "anionique")
}

/// "No.", "n°", "#": a word before the mark of a vessel.
fn counts(token: &str) -> bool {
    matches!(lower(token).as_str(), "no" | "no." | "nr" | "nr." | "n°" | "nº" | "#" | "number" | "num" | "num.")
}

fn is_mark(token: &str) -> bool {
    static MARK: OnceLock<Option<Regex>> = OnceLock::new();
    MARK.get_or_init(|| {
        Regex::new(r"^#?(?:[A-Z]{1,4}-?\d{1,3}[A-Za-z]?|\d{1,2}[A-Z]?|[A-Z]{1,3}-[IVX]{1,4}|[IVX]{1,4}|[A-Z])$").ok()
    })
    .as_ref()
    .is_some_and(|p| p.is_match(trimmed(token)))
}

fn trimmed(token: &str) -> &str {
    token.trim_matches(|c: char| !c.is_alphanumeric() && c != '#')
}

fn ends_clause(token: &str) -> bool {
    token.ends_with([',', '.', ';', ':', ')', '|']) && !counts(token)
}

fn earlier(tokens: &[(usize, &str)], at: usize, lexicon: &Lexicon) -> bool {
    let near = tokens.get(at.saturating_sub(3)..at).unwrap_or_default();
    near.iter().any(|(_, t)| lexicon.understand(trimmed(t), &[]).has_context("previous"))
}

fn tokens(text: &str) -> Vec<(usize, &str)> {
    text.split_whitespace().map(|t| (t.as_ptr() as usize - text.as_ptr() as usize, t)).collect()
}
