//! Small edits of a document that keep its lines as a printer would have left them.

use beadwise::document::{Document, Line, Word};

/// A word by its part, page, line and number on that line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct At {
    pub part: usize,
    pub page: usize,
    pub line: usize,
    pub word: usize,
}

pub fn line(document: &Document, at: At) -> &Line {
    &document.parts[at.part].pages[at.page].lines[at.line]
}

pub fn line_mut(document: &mut Document, at: At) -> &mut Line {
    &mut document.parts[at.part].pages[at.page].lines[at.line]
}

pub fn word(document: &Document, at: At) -> &Word {
    &line(document, at).words[at.word]
}

pub fn char_width(document: &Document, at: At) -> f32 {
    document.parts[at.part].pages[at.page].char_width
}

/// Every word of a document.
pub fn words(document: &Document) -> impl Iterator<Item = (At, &Word)> {
    document.parts.iter().enumerate().flat_map(|(part, p)| {
        p.pages.iter().enumerate().flat_map(move |(page, g)| {
            g.lines.iter().enumerate().flat_map(move |(line, l)| {
                l.words.iter().enumerate().map(move |(word, w)| (At { part, page, line, word }, w))
            })
        })
    })
}

/// Gives a word another text. In running text what follows closely moves along; a column with room keeps its place.
pub fn retype(document: &mut Document, at: At, text: &str) {
    let width = char_width(document, at);
    let line = line_mut(document, at);
    let hard = line.table.is_some();
    let word = &mut line.words[at.word];
    let longer = (text.chars().count() as f32 - word.text.chars().count() as f32) * width;
    word.text = text.to_owned();
    word.typed = None;
    if hard {
        return;
    }
    let before = word.x1;
    word.x1 += longer;
    let gap = line.words.get(at.word + 1).map_or(f32::MAX, |next| next.x0 - before);
    if gap < 1.5 * width || longer > gap - 1.5 * width {
        for next in &mut line.words[at.word + 1..] {
            next.x0 += longer;
            next.x1 += longer;
        }
    }
}

/// Cuts a word of running text in two with a blank between; in a cell the blank is part of its text.
pub fn blank_at(document: &mut Document, at: At, byte: usize) {
    let text = word(document, at).text.clone();
    let (left, right) = text.split_at(byte);
    if line(document, at).table.is_some() {
        let spaced = format!("{left} {right}");
        retype(document, at, &spaced);
        return;
    }
    let width = char_width(document, at);
    let line = line_mut(document, at);
    let mut first = line.words[at.word].clone();
    let mut second = first.clone();
    first.text = left.to_owned();
    first.x1 = first.x0 + left.chars().count() as f32 * width;
    second.text = right.to_owned();
    second.hard_left = false;
    second.x0 = first.x1 + width;
    second.x1 = second.x0 + right.chars().count() as f32 * width;
    line.words.splice(at.word..=at.word, [first, second]);
}
