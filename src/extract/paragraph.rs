//! Running lines joined to sentences, and the facts that these name.

use super::cells::Row;
use super::ledger::WordId;
use super::mentions;
use super::scope::{Fact, Trust};
use super::table::{self, Desk};
use crate::lexicon::Lexicon;
use crate::place::Where;
use regex::Regex;
use std::sync::OnceLock;

/// Running lines joined, with the way back from a byte to its line.
pub struct Paragraph {
    /// Its text, with single blanks.
    pub text: String,
    /// Start of each word in the text, its id, and its place.
    words: Vec<(usize, usize, WordId, Where)>,
}

impl Paragraph {
    /// Joins rows.
    pub fn of(rows: &[Row], lines: &dyn Fn(WordId) -> Option<(String, Where)>) -> Self {
        let mut paragraph = Self { text: String::new(), words: Vec::new() };
        for row in rows {
            let mut seen: Option<WordId> = None;
            for id in row.cells.iter().flat_map(|c| c.words.iter().copied()) {
                if seen == Some(id) {
                    continue;
                }
                seen = Some(id);
                let Some((text, place)) = lines(id) else { continue };
                let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
                // The strokes before the lines of a mail that is passed on.
                if !text.is_empty() && text.chars().all(|c| c == '>') {
                    continue;
                }
                if !paragraph.text.is_empty() {
                    paragraph.text.push(' ');
                }
                let start = paragraph.text.len();
                paragraph.text.push_str(&text);
                paragraph.words.push((start, paragraph.text.len(), id, place));
            }
        }
        paragraph
    }

    /// Words under some bytes.
    pub fn words_in(&self, start: usize, end: usize) -> Vec<WordId> {
        self.words.iter().filter(|(a, b, _, _)| *a < end && start < *b).map(|w| w.2).collect()
    }

    /// Place of a byte.
    pub fn place(&self, at: usize) -> Where {
        self.words.iter().find(|(_, end, _, _)| at < *end).map(|w| w.3.clone()).unwrap_or_default()
    }

    /// Spans of its sentences.
    pub fn sentences(&self) -> Vec<(usize, usize)> {
        static END: OnceLock<Option<Regex>> = OnceLock::new();
        let mut spans = Vec::new();
        let mut start = 0;
        if let Some(pattern) = END.get_or_init(|| Regex::new(r"[.!?;]\s+(?:[A-ZÄÖÜÉÈÀÁÍÓÚÑ¿(„«]|[-•*] )").ok())
        {
            for found in pattern.find_iter(&self.text) {
                let stop = found.start() + 1;
                let head = self.text.get(start..stop).unwrap_or_default();
                let last = head.split_whitespace().last().unwrap_or_default().to_lowercase();
                // "approx. 50", "No. 3", "Dr. Vance", "Nr. 7": no end of a sentence.
                let short = [
                    "no.", "nr.", "approx.", "ca.", "dr.", "mr.", "mrs.", "ms.", "st.", "vs.", "max.", "min.", "spec.",
                    "env.", "aprox.", "bzw.", "i.", "a.",
                ];
                if short.contains(&last.as_str()) {
                    continue;
                }
                spans.push((start, stop));
                start = stop;
            }
        }
        if start < self.text.len() {
            spans.push((start, self.text.len()));
        }
        spans
    }
}

/// Facts named in a sentence: a vessel, the date it was sampled.
pub fn facts(paragraph: &Paragraph, text: &str, start: usize, desk: &mut Desk<'_>) {
    for mention in mentions::find(text, desk.lexicon) {
        let at = start + mention.start;
        let words = paragraph.words_in(at, start + mention.end);
        let said = text.get(mention.start..mention.end).unwrap_or_default();
        mentions::learn_one(
            &mention,
            said,
            &mentions::Origin { place: &paragraph.place(at), words: &words, sentence: true },
            desk,
        );
    }
    for (from, to) in vessels_in(text, desk.lexicon).into_iter().take(1) {
        let words = paragraph.words_in(start + from, start + to);
        desk.ledger.set_aside(&words, table::reason("vessel"));
        let fact = Fact {
            key: "vessel".into(),
            text: text.get(from..to).unwrap_or_default().trim().to_owned(),
            place: paragraph.place(start + from),
            words,
            order: None,
            trust: Trust::Stated,
        };
        desk.scopes.learn(fact, desk.lexicon);
    }
}

/// "Softener B", "Tank No. 3", "Enthärter 2": a vessel's word with a short mark behind it.
pub fn vessels_in(text: &str, lexicon: &Lexicon) -> Vec<(usize, usize)> {
    let Some(vessel) = lexicon.facet_id("vessel") else { return Vec::new() };
    let list = crate::lexicon::words(text);
    let mut found = Vec::new();
    for pair in list.windows(2) {
        let [word, mark] = pair else { continue };
        let (Some(written), Some(between), Some(mark_text)) =
            (text.get(word.start..word.end), text.get(word.end..mark.start), text.get(mark.start..mark.end))
        else {
            continue;
        };
        if written.chars().count() < 4 {
            continue;
        }
        let label = lexicon.understand(written, &[]);
        if !label.facets.contains(&vessel) || !label.unexplained.is_empty() {
            continue;
        }
        let short = mark_text.chars().count() <= 3
            && mark_text.chars().all(|c| c.is_ascii_digit() || c.is_ascii_uppercase())
            && mark_text.chars().any(|c| c.is_ascii_digit() || mark_text.chars().count() == 1);
        if short && between.trim().chars().all(|c| matches!(c, '#' | '-' | '.' | ':')) {
            found.push((word.start, mark.end));
        }
    }
    found
}
