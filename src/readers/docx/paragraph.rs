//! One paragraph: characters with estimated widths, set out along its tab stops.

use super::style::{Side, Stop, Style};
use crate::document::{Line, Word};
use crate::place::Where;
use crate::readers::marks;

/// A paragraph that is being gathered.
#[derive(Default)]
pub struct Paragraph {
    /// Characters (breaks as `\n`, tabs as `\t`) with their widths in points.
    glyphs: Vec<(char, f32)>,
    raised: String,
    built_up: bool,
}

impl Paragraph {
    /// Appends text of a run.
    pub fn push(&mut self, text: &str, style: &Style, size: f32) {
        if style.raised == Some(true) {
            self.raised.push_str(text);
            return;
        }
        self.settle();
        let size = style.size.unwrap_or(size);
        for c in text.chars() {
            let c = if style.symbol == Some(true) { marks::from_symbol(c) } else { c };
            let c = if c.is_ascii_whitespace() { ' ' } else { c };
            let width = if style.fixed == Some(true) { 0.6 } else { width(c) } * size;
            if let Some(letters) = marks::expand_ligature(c) {
                self.glyphs.extend(letters.chars().map(|l| (l, width * 0.5)));
            } else if marks::is_shown(c) {
                self.glyphs.push((c, width));
            }
        }
    }

    /// Appends a tab (`\t`) or a break (`\n`).
    pub fn control(&mut self, c: char) {
        self.settle();
        self.glyphs.push((c, 0.0));
    }

    /// Raised runs that follow each other are one exponent, so that they are raised together.
    fn settle(&mut self) {
        let raised = std::mem::take(&mut self.raised);
        if raised.is_empty() {
            return;
        }
        if raised.starts_with(' ') {
            self.glyphs.push((' ', 3.0));
        }
        let before = self.glyphs.last().map(|g| g.0).filter(|c| !c.is_whitespace());
        self.glyphs.extend(marks::raise(&raised, before).chars().map(|c| (c, 3.5)));
        if raised.len() > 1 && raised.ends_with(' ') {
            self.glyphs.push((' ', 3.0));
        }
        self.built_up = true;
    }

    /// The text, with `\n` and `\t` in it.
    pub fn into_text(mut self) -> String {
        self.settle();
        let mut text: String = self.glyphs.iter().map(|g| g.0).collect();
        if self.built_up {
            marks::join_built_up(&mut text);
        }
        text
    }

    /// Words on lines. `column` is the width of an ordinary character, `tab` the distance of ordinary tab stops.
    pub fn into_lines(mut self, style: &Style, column: f32, tab: f32, place: &Where, top: &mut f32) -> Vec<Line> {
        self.settle();
        let mut lines = Vec::new();
        let left = style.indent.0.unwrap_or(0.0);
        let first = style.indent.1.unwrap_or(0.0);
        let mut stops: Vec<Stop> = style.stops.iter().filter(|s| s.side != Side::Clear).copied().collect();
        if first < 0.0 {
            stops.push(Stop { at: left, side: Side::Left });
        }
        stops.sort_by(|a, b| a.at.total_cmp(&b.at));
        for (index, glyphs) in self.glyphs.split(|g| g.0 == '\n').enumerate() {
            let start = left + if index == 0 { first } else { 0.0 };
            let mut words = Vec::new();
            let mut x = start;
            let mut used = 0;
            for (index, piece) in glyphs.split(|g| g.0 == '\t').enumerate() {
                if index > 0 {
                    x = next_stop(x, piece, &stops, &mut used, tab);
                }
                self.words(piece, &mut x, index > 0, column, place, &mut words);
            }
            if !words.is_empty() {
                lines.push(Line { table: None, words, top: *top, bottom: *top + 1.0 });
            }
            *top += 1.0;
        }
        lines
    }

    fn words(&self, piece: &[(char, f32)], x: &mut f32, hard: bool, column: f32, place: &Where, words: &mut Vec<Word>) {
        let mut hard = hard;
        let mut text = String::new();
        let mut from = *x;
        let is_blank = |c: Option<&(char, f32)>| c.is_none_or(|g| g.0 == ' ' || is_fixed_blank(g.0));
        for (index, (c, width)) in piece.iter().enumerate() {
            // Two no-break blanks in a row set columns apart; a lone one holds a figure together.
            let parts = *c == ' '
                || (is_fixed_blank(*c)
                    && (is_blank(piece.get(index + 1)) || index == 0 || is_blank(piece.get(index - 1))));
            if parts {
                self.finish(&mut text, from, *x, &mut hard, column, place, words);
            } else {
                if text.is_empty() {
                    from = *x;
                }
                text.push(*c);
            }
            *x += width;
        }
        self.finish(&mut text, from, *x, &mut hard, column, place, words);
    }

    #[allow(clippy::too_many_arguments)]
    fn finish(
        &self,
        text: &mut String,
        from: f32,
        to: f32,
        hard: &mut bool,
        column: f32,
        place: &Where,
        words: &mut Vec<Word>,
    ) {
        if text.is_empty() {
            return;
        }
        let mut text = std::mem::take(text);
        if self.built_up {
            marks::join_built_up(&mut text);
        }
        let mut word = Word::soft(text, from / column, to / column, place.clone());
        // A tab at the start of a line is an indent, not a border.
        word.hard_left = std::mem::take(hard) && !words.is_empty();
        words.push(word);
    }
}

/// Where text goes after a tab. Widths are estimates, so that a stop just passed still counts, and each counts once.
fn next_stop(x: f32, piece: &[(char, f32)], stops: &[Stop], used: &mut usize, tab: f32) -> f32 {
    let found = stops.iter().enumerate().skip(*used).find(|(_, s)| s.at > x - 8.0);
    let Some((index, stop)) = found else {
        return ((x + 1.0) / tab).ceil() * tab;
    };
    *used = index + 1;
    let width: f32 = piece.iter().map(|g| g.1).sum();
    let before = match stop.side {
        Side::Left | Side::Clear => 0.0,
        Side::Centre => width / 2.0,
        Side::Right => width,
        Side::Decimal => piece.iter().take_while(|g| !matches!(g.0, '.' | ',')).map(|g| g.1).sum(),
    };
    (stop.at - before).max(x + 2.0)
}

fn is_fixed_blank(c: char) -> bool {
    matches!(c, '\u{a0}' | '\u{2000}'..='\u{200a}' | '\u{202f}' | '\u{3000}')
}

/// Width of a character over the size, as ordinary proportional fonts have it; enough to know which tab stop is next.
fn width(c: char) -> f32 {
    match c {
        'i' | 'j' | 'l' | '\'' | '|' => 0.22,
        ' ' | '.' | ',' | ':' | ';' | '!' | 'I' | 'f' | 't' | '/' => 0.28,
        'r' | '-' | '(' | ')' | '[' | ']' | '"' => 0.34,
        'm' | 'M' | 'w' | 'W' | '%' | '@' => 0.85,
        'A'..='Z' => 0.66,
        'a'..='z' | '0'..='9' => 0.52,
        c if u32::from(c) >= 0x2e80 => 1.0,
        _ => 0.55,
    }
}
