//! Lines and paragraphs of a document as plain text that knows the words it is made of.

use super::super::ledger::WordId;
use crate::document::{Document, Line};
use crate::place::Where;

/// A line, or lines that run on, as text. Cells are set apart by ` | `.
#[derive(Clone, Debug, Default)]
pub struct Text {
    /// The words, joined.
    pub text: String,
    /// First and last byte of each word, its id and its place.
    pub spans: Vec<(usize, usize, WordId, Where)>,
    /// Number of its first line, counted over the document.
    pub line: u32,
    /// Part of the document.
    pub part: usize,
    /// Paragraph, counted over the document.
    pub paragraph: usize,
    /// It is a row of a hard table.
    pub table: bool,
}

impl Text {
    /// Words under some bytes.
    pub fn words(&self, start: usize, end: usize) -> Vec<WordId> {
        self.spans.iter().filter(|(from, to, ..)| *from < end && start < *to).map(|(.., id, _)| *id).collect()
    }

    /// Where some bytes stand.
    pub fn place(&self, start: usize) -> Where {
        let at = self.spans.iter().find(|(_, to, ..)| start < *to).or(self.spans.last());
        at.map(|(.., place)| place.clone()).unwrap_or_default()
    }

    /// Cells: text set apart by gaps or borders, with the byte where each begins.
    pub fn cells(&self) -> Vec<(usize, &str)> {
        let mut at = 0;
        let mut cells = Vec::new();
        for cell in self.text.split(" | ") {
            cells.push((at, cell));
            at += cell.len() + 3;
        }
        cells
    }

    fn push(&mut self, other: &Self) {
        if !self.text.is_empty() {
            self.text.push(' ');
        }
        let shift = self.text.len();
        self.text.push_str(&other.text);
        self.spans.extend(other.spans.iter().map(|(a, b, id, place)| (a + shift, b + shift, *id, place.clone())));
    }
}

/// The lines of a document; `ids` gives the ids of each line's words.
pub fn lines(document: &Document, ids: &[Vec<WordId>]) -> Vec<Text> {
    let mut all = Vec::new();
    let mut number = 0usize;
    let mut paragraph = 0usize;
    for (part, content) in document.parts.iter().enumerate() {
        for page in &content.pages {
            paragraph += 1;
            let mut last: Option<(f32, Option<u32>)> = None;
            for line in &page.lines {
                let own = ids.get(number).map(Vec::as_slice).unwrap_or_default();
                let at = u32::try_from(number).unwrap_or(u32::MAX);
                number += 1;
                if line.words.iter().all(|w| w.text.trim().is_empty()) {
                    paragraph += 1;
                    continue;
                }
                let place_line = line.words.first().and_then(|w| w.place.line);
                let height = (line.bottom - line.top).max(1.0);
                let apart = last.is_some_and(|(bottom, before)| {
                    let skipped = matches!((before, place_line), (Some(a), Some(b)) if b > a + 1);
                    let gap = page.char_width > 1.5 && line.top - bottom > 0.9 * height;
                    (skipped && page.char_width <= 1.5) || gap
                });
                if apart || line.table.is_some() {
                    paragraph += 1;
                }
                last = Some((line.bottom, place_line));
                all.push(one(line, own, page.char_width, at, part, paragraph));
            }
        }
    }
    all
}

fn one(line: &Line, ids: &[WordId], char_width: f32, number: u32, part: usize, paragraph: usize) -> Text {
    let mut text = Text { line: number, part, paragraph, table: line.table.is_some(), ..Text::default() };
    let mut end: Option<f32> = None;
    for (word, id) in line.words.iter().zip(ids) {
        let written = word.text.split_whitespace().collect::<Vec<_>>().join(" ");
        if written.is_empty() {
            continue;
        }
        let wide = end.is_some_and(|x| word.x0 - x > 2.0 * char_width.max(0.5));
        if !text.text.is_empty() {
            text.text.push_str(if word.hard_left || wide { " | " } else { " " });
        }
        let from = text.text.len();
        text.text.push_str(&written);
        text.spans.push((from, text.text.len(), *id, word.place.clone()));
        end = Some(word.x1);
    }
    text
}

/// Paragraphs: lines of running text joined where one follows on the other.
pub fn paragraphs(lines: &[Text]) -> Vec<Text> {
    let mut all: Vec<Text> = Vec::new();
    for line in lines {
        match all.last_mut() {
            Some(last) if last.paragraph == line.paragraph && last.part == line.part => last.push(line),
            _ => all.push(line.clone()),
        }
    }
    all
}
