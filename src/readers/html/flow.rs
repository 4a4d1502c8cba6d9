//! Running text of a page: blanks collapsed as a browser does, every word with its line of the source.

use crate::document::{Line, Word};
use crate::place::Where;
use crate::readers::marks;
use std::sync::Arc;

/// Text that is being gathered, with breaks as `\n` and tabs of preformatted text as `\t`.
#[derive(Default)]
pub struct Flow {
    text: String,
    /// Byte of the text, and the line of the source that stands from there on.
    marks: Vec<(usize, u32)>,
    blank: bool,
    built_up: bool,
    /// Columns that the lines are set in.
    pub indent: u32,
}

impl Flow {
    /// Appends text that starts on a line of the source. `kept`: blanks and breaks stand as written.
    pub fn push(&mut self, text: &str, mut line: u32, kept: bool) {
        for c in text.chars() {
            let breaks = c == '\n';
            if kept && (breaks || c == '\t') {
                self.text.push(c);
                self.blank = false;
            } else if c.is_ascii_whitespace() {
                if kept {
                    self.text.push(' ');
                } else {
                    self.blank = true;
                }
            } else if marks::is_shown(c) {
                self.settle_blank();
                self.mark(line);
                marks::push_shown(&mut self.text, c);
            }
            if breaks {
                line = line.saturating_add(1);
            }
        }
    }

    /// Appends raised text as superscripts.
    pub fn push_raised(&mut self, text: &str, line: u32) {
        if text.trim().is_empty() {
            self.blank |= !text.is_empty();
            return;
        }
        if text.starts_with(char::is_whitespace) {
            self.blank = true;
        }
        self.settle_blank();
        self.mark(line);
        let raised = marks::raise(text, self.text.chars().next_back().filter(|c| !c.is_whitespace()));
        self.text.push_str(&raised);
        self.built_up = true;
        self.blank = text.ends_with(char::is_whitespace);
    }

    /// A forced break.
    pub fn break_line(&mut self) {
        self.blank = false;
        self.text.push('\n');
    }

    /// The end of a block: a break, unless the line is empty.
    pub fn end_block(&mut self) {
        self.blank = false;
        if !self.text.is_empty() && !self.text.ends_with('\n') {
            self.text.push('\n');
        }
    }

    /// An empty flow with the same indent.
    pub fn emptied(&self) -> Self {
        Self { indent: self.indent, ..Self::default() }
    }

    /// Whether nothing is to be seen.
    pub fn is_blank(&self) -> bool {
        self.text.trim().is_empty()
    }

    /// First line of the source that a word stands on.
    pub fn first_line(&self) -> Option<u32> {
        self.marks.first().map(|m| m.1)
    }

    /// The text of a table's cell: lines trimmed, empty ones dropped.
    pub fn into_cell(self) -> String {
        let lines: Vec<&str> = self.text.lines().map(str::trim).filter(|l| !l.is_empty()).collect();
        let mut text = lines.join("\n").replace('\t', " ");
        if self.built_up {
            marks::join_built_up(&mut text);
        }
        text
    }

    /// Words on lines, by character columns; `top` counts the lines on.
    pub fn into_lines(self, top: &mut f32, part: Option<&Arc<str>>) -> Vec<Line> {
        let mut lines = Vec::new();
        let mut at = 0;
        for piece in self.text.split('\n') {
            let words = self.words(piece, at, part);
            at += piece.len() + 1;
            if !words.is_empty() {
                lines.push(Line { table: None, words, top: *top, bottom: *top + 1.0 });
            }
            if !piece.is_empty() || !lines.is_empty() {
                *top += 1.0;
            }
        }
        lines
    }

    fn words(&self, piece: &str, at: usize, part: Option<&Arc<str>>) -> Vec<Word> {
        let mut words: Vec<Word> = Vec::new();
        let mut column = self.indent;
        let mut open: Option<(usize, u32)> = None;
        let mut hard = false;
        // Two no-break blanks in a row are there to set columns apart; a lone one holds a figure together.
        let parts = |c: char, next: Option<char>, before: Option<char>| {
            c.is_ascii_whitespace()
                || (is_fixed_blank(c)
                    && [next, before].iter().any(|n| n.is_none_or(|n| n.is_ascii_whitespace() || is_fixed_blank(n))))
        };
        let mut before = None;
        let mut chars = piece.char_indices().peekable();
        let mut finish = |open: &mut Option<(usize, u32)>, end: usize, column: u32, hard: &mut bool| {
            let Some((start, first)) = open.take() else { return };
            let mut text = piece.get(start..end).unwrap_or_default().to_owned();
            if self.built_up {
                marks::join_built_up(&mut text);
            }
            let mut place = Where::line(self.line_at(at + start));
            if let Some(part) = part {
                place = place.in_part(part);
            }
            let mut word = Word::soft(text, first as f32, column as f32, place);
            word.hard_left = std::mem::take(hard);
            words.push(word);
        };
        while let Some((i, c)) = chars.next() {
            if parts(c, chars.peek().map(|n| n.1), before) {
                finish(&mut open, i, column, &mut hard);
                if c == '\t' {
                    hard = true;
                    column = (column / 8 + 1).saturating_mul(8);
                } else {
                    column += 1;
                }
            } else {
                if open.is_none() {
                    open = Some((i, column));
                }
                column += 1;
            }
            before = Some(c);
        }
        finish(&mut open, piece.len(), column, &mut hard);
        words
    }

    fn line_at(&self, byte: usize) -> u32 {
        let after = self.marks.partition_point(|m| m.0 <= byte);
        after.checked_sub(1).and_then(|i| self.marks.get(i)).map_or(1, |m| m.1)
    }

    fn mark(&mut self, line: u32) {
        if self.marks.last().is_none_or(|m| m.1 != line) {
            self.marks.push((self.text.len(), line));
        }
    }

    fn settle_blank(&mut self) {
        if std::mem::take(&mut self.blank) && !self.text.is_empty() && !self.text.ends_with(['\n', '\t', ' ']) {
            self.text.push(' ');
        }
    }
}

fn is_fixed_blank(c: char) -> bool {
    matches!(c, '\u{a0}' | '\u{2000}'..='\u{200a}' | '\u{202f}' | '\u{3000}')
}
