//! A line's glyphs to words: parted by blanks, by gaps, by rules and by the edges of what they stand in.

use super::content::TextState;
use super::lines::TextLine;
use super::upright::{Mark, Rise, Stroke};
use crate::readers::marks;

/// Gap that parts two words, over the size of the type.
const GAP: f32 = 0.13;

/// A word on the upright page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Piece {
    /// Its text.
    pub text: String,
    /// Left edge.
    pub x0: f32,
    /// Right edge.
    pub x1: f32,
    /// Baseline.
    pub y: f32,
    /// Size of the type.
    pub size: f32,
    /// A rule, or the edge of a cell, stands before it.
    pub hard_left: bool,
    /// Read by character recognition.
    pub recognized: bool,
    /// A line is drawn through it.
    pub struck: bool,
}

impl Piece {
    /// A point inside it, for finding its cell.
    pub fn middle(&self) -> (f32, f32) {
        ((self.x0 + self.x1) / 2.0, self.y - 0.3 * self.size)
    }
}

/// Rules of a page, ready to be asked about.
pub struct Rules<'a> {
    /// Upright rules by their place across.
    uprights: Vec<&'a Stroke>,
    levels: Vec<&'a Stroke>,
    width: f32,
    states: &'a [TextState],
}

impl<'a> Rules<'a> {
    /// Sorts the rules of a page.
    pub fn new(uprights: &'a [Stroke], levels: &'a [Stroke], width: f32, states: &'a [TextState]) -> Self {
        let sorted = |list: &'a [Stroke]| {
            let mut sorted: Vec<&Stroke> = list.iter().collect();
            sorted.sort_by(|a, b| a.at.total_cmp(&b.at));
            sorted
        };
        Self { uprights: sorted(uprights), levels: sorted(levels), width, states }
    }

    /// Places across at which an upright rule crosses a line.
    fn crossing(&self, y: f32, size: f32) -> Vec<f32> {
        let middle = y - 0.3 * size;
        self.uprights.iter().filter(|u| u.from <= middle && middle <= u.to).map(|u| u.at).collect()
    }

    /// Begin and end of the lines drawn through the middle of a line of text.
    fn through(&self, y: f32, size: f32) -> Vec<(f32, f32)> {
        let first = self.levels.partition_point(|l| l.at < y - 0.5 * size);
        let strikes = |l: &&&Stroke| !l.edge && l.to - l.from < 0.6 * self.width;
        let near = self.levels.iter().skip(first).take_while(|l| l.at <= y - 0.14 * size);
        near.filter(strikes).map(|l| (l.from, l.to)).collect()
    }

    /// Whether two glyphs stand in boxes beside each other that cut their text off.
    fn is_cut(&self, one: &Mark, next: &Mark) -> bool {
        if one.state == next.state {
            return false;
        }
        let (Some(one), Some(next)) = (self.states.get(one.state), self.states.get(next.state)) else { return false };
        let common = one.clip.within(&next.clip);
        one.clip != next.clip && (common.width() < 0.5 || common.height() < 0.5)
    }
}

/// Cuts a line into words.
pub fn words(line: &TextLine, rules: &Rules<'_>) -> Vec<Piece> {
    let size = line.marks.iter().filter(|m| !m.is_blank()).map(|m| m.size).fold(0.0, f32::max);
    let crossing = rules.crossing(line.y, size);
    let mut words: Vec<Piece> = Vec::new();
    let mut open: Option<Open> = None;
    let mut blank = Blank::None;
    let mut last: Option<Mark> = None;
    for mark in &line.marks {
        if mark.is_blank() {
            let fixed = mark.character != ' ' && blank == Blank::None;
            blank = if fixed { Blank::Fixed(mark.character) } else { Blank::Plain };
            continue;
        }
        let border = last.is_some_and(|l| is_ruled(&crossing, &l, mark) || rules.is_cut(&l, mark));
        let parted = match (&open, last) {
            (Some(open), Some(last)) => border || parts(open, &last, mark, blank),
            _ => false,
        };
        if parted && let Some(open) = open.take() {
            words.push(open.finish());
        }
        let word = open.get_or_insert_with(|| Open::new(mark, border));
        if let (Blank::Fixed(c), false) = (blank, word.text.is_empty()) {
            word.text.push(c);
        }
        word.push(mark);
        blank = Blank::None;
        last = Some(*mark);
    }
    words.extend(open.map(Open::finish));
    let through = rules.through(line.y, size);
    if !through.is_empty() {
        for word in &mut words {
            let width = (word.x1 - word.x0).max(0.1);
            word.struck = through.iter().any(|t| t.1.min(word.x1) - t.0.max(word.x0) > 0.8 * width);
        }
    }
    words
}

#[derive(Clone, Copy, PartialEq)]
enum Blank {
    None,
    Plain,
    /// A blank that does not break.
    Fixed(char),
}

fn is_ruled(crossing: &[f32], last: &Mark, next: &Mark) -> bool {
    let size = last.size.min(next.size);
    let from = (last.x1 - 0.25 * size).max((last.x0 + last.x1) / 2.0);
    let to = (next.x0 + 0.25 * size).min((next.x0 + next.x1) / 2.0);
    let first = crossing.partition_point(|x| *x < from);
    crossing.get(first).is_some_and(|x| *x <= to)
}

fn parts(open: &Open, last: &Mark, next: &Mark, blank: Blank) -> bool {
    let gap = next.x0 - last.x1;
    match blank {
        Blank::Plain => return true,
        // A blank that does not break holds a figure together, and nothing else.
        Blank::Fixed(_) => {
            return !(last.character.is_ascii_digit() && next.character.is_ascii_digit() && gap < 0.45 * next.size);
        }
        Blank::None => {}
    }
    let size = last.size.max(next.size);
    let gap = gap - if last.spacing > 0.0 { last.spacing.min(0.6 * size) } else { 0.0 };
    if last.rise != next.rise {
        // A footnote's own mark, in front of its text, is a word of its own.
        let leads = last.rise == Rise::Raised && open.is_raised;
        return leads || gap > 0.45 * size;
    }
    gap > GAP * size
}

/// A word that is being put together.
struct Open {
    text: String,
    raised: String,
    /// Everything so far is raised.
    is_raised: bool,
    built_up: bool,
    x0: f32,
    x1: f32,
    y: f32,
    size: f32,
    hard_left: bool,
    recognized: bool,
}

impl Open {
    fn new(mark: &Mark, hard_left: bool) -> Self {
        Self {
            text: String::new(),
            raised: String::new(),
            is_raised: true,
            built_up: false,
            x0: mark.x0,
            x1: mark.x1,
            y: mark.y,
            size: 0.0,
            hard_left,
            recognized: false,
        }
    }

    fn push(&mut self, mark: &Mark) {
        self.x0 = self.x0.min(mark.x0);
        self.x1 = self.x1.max(mark.x1);
        self.recognized |= mark.recognized;
        if mark.rise == Rise::Raised {
            self.raised.push(mark.character);
            return;
        }
        self.settle();
        self.is_raised = false;
        self.text.push(mark.character);
        if mark.rise == Rise::None && mark.size >= self.size {
            self.size = mark.size;
            self.y = mark.y;
        }
    }

    fn settle(&mut self) {
        if self.raised.is_empty() {
            return;
        }
        let raised = std::mem::take(&mut self.raised);
        let raised = marks::raise(&raised, self.text.chars().next_back());
        self.text.push_str(&raised);
        self.built_up = true;
    }

    fn finish(mut self) -> Piece {
        self.settle();
        if self.built_up {
            marks::join_built_up(&mut self.text);
        }
        if self.size == 0.0 {
            self.size = 6.0;
        }
        Piece {
            text: self.text,
            x0: self.x0,
            x1: self.x1,
            y: self.y,
            size: self.size,
            hard_left: self.hard_left,
            recognized: self.recognized,
            struck: false,
        }
    }
}
