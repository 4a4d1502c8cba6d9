//! Blocks of a page: what stands beside each other without belonging together is told apart before lines are read.
//!
//! A printed page may hold two columns ("sample details left, results right", text in two columns, a sieve table
//! beside the results). Their lines need not stand level, so no line of such a page may be read across. A white
//! river parts two columns only where what stands on each side of it can be read without the other: pairs of label
//! and value, sentences, or a sieve table. The columns of one table fail that, because their figures have no labels.

use super::bands;
use super::borders;
use super::cells::{self, Cell};
use super::ledger::WordId;
use super::style::Style;
use crate::document::{Page, Word};
use crate::lexicon::Lexicon;
use std::collections::BTreeSet;

/// A word of a strip.
#[derive(Clone, Copy, Debug)]
pub struct Spot<'d> {
    /// Its number in the document.
    pub id: WordId,
    /// The word.
    pub word: &'d Word,
    /// Left edge; that of a page's continuation is set right of the page that it continues.
    pub x0: f32,
    /// Right edge.
    pub x1: f32,
}

/// A line of a page, or as much of it as stands in one column.
#[derive(Clone, Debug, Default)]
pub struct Strip<'d> {
    /// Its words.
    pub words: Vec<Spot<'d>>,
    /// Number of the hard table that it is a row of.
    pub table: Option<u32>,
    /// Upper edge.
    pub top: f32,
    /// Lower edge.
    pub bottom: f32,
    /// Number of the line in the document.
    pub number: u32,
    /// Words that begin a cell though little room stands before them.
    pub parted: Vec<WordId>,
}

impl Strip<'_> {
    /// Whether nothing is written on it.
    pub fn is_blank(&self) -> bool {
        self.words.iter().all(|s| s.word.text.trim().is_empty())
    }

    /// Its words joined by blanks.
    pub fn text(&self) -> String {
        let words: Vec<&str> = self.words.iter().map(|s| s.word.text.trim()).filter(|t| !t.is_empty()).collect();
        words.join(" ")
    }

    /// Numbers of its words.
    pub fn ids(&self) -> Vec<WordId> {
        self.words.iter().map(|s| s.id).collect()
    }
}

/// The lines of a page, whole. `line_words` holds the numbers of the words of each line of the document so far.
pub fn strips<'d>(page: &'d Page, line_words: &mut Vec<Vec<WordId>>) -> Vec<Strip<'d>> {
    let mut next = line_words.iter().rev().find_map(|l| l.last()).map_or(0, |id| id.0.saturating_add(1));
    let mut strips = Vec::with_capacity(page.lines.len());
    for line in &page.lines {
        let mut words = Vec::with_capacity(line.words.len());
        for word in &line.words {
            words.push(Spot { id: WordId(next), word, x0: word.x0, x1: word.x1 });
            next = next.saturating_add(1);
        }
        let number = u32::try_from(line_words.len()).unwrap_or(u32::MAX);
        line_words.push(words.iter().map(|s| s.id).collect());
        let (table, top, bottom) = (line.table, line.top, line.bottom);
        strips.push(Strip { words, table, top, bottom, number, parted: Vec::new() });
    }
    strips
}

/// Width of a character from which a page is one of print.
pub const PRINT: f32 = 1.5;
/// Columns within columns.
const DEEPEST: u32 = 4;
/// Lines of a page beyond which nobody set columns.
const MOST_LINES: usize = 400;
/// Places on a page at which a column may begin.
const MOST_EDGES: usize = 40;

/// Parts the lines of a page into blocks, in the order in which they are read.
pub fn blocks<'d>(strips: Vec<Strip<'d>>, char_width: f32, lexicon: &Lexicon, style: &Style) -> Vec<Vec<Strip<'d>>> {
    if char_width <= PRINT || strips.len() > MOST_LINES {
        return vec![strips];
    }
    let mut found = Vec::new();
    Parting { char_width, lexicon, style }.part(strips, 0, &mut found);
    found.retain(|block| !block.is_empty());
    found
}

struct Parting<'a> {
    char_width: f32,
    lexicon: &'a Lexicon,
    style: &'a Style,
}

/// Lines between two that reach across, and where their right column begins.
struct River {
    from: usize,
    to: usize,
    edge: f32,
    weight: usize,
}

impl Parting<'_> {
    fn part<'d>(&self, strips: Vec<Strip<'d>>, depth: u32, found: &mut Vec<Vec<Strip<'d>>>) {
        let river = if depth < DEEPEST { self.river(&strips) } else { None };
        let Some(river) = river else {
            found.push(strips);
            return;
        };
        let mut above = strips;
        let mut beside = above.split_off(river.from);
        let below = beside.split_off(river.to - river.from);
        let (mut left, mut right) = (Vec::new(), Vec::new());
        for strip in beside {
            let (one, other) = cut(&strip, river.edge);
            left.extend(one);
            right.extend(other);
        }
        for block in [above, left, right, below] {
            if !block.is_empty() {
                self.part(block, depth + 1, found);
            }
        }
    }

    /// The river that parts most.
    fn river(&self, strips: &[Strip<'_>]) -> Option<River> {
        let cells: Vec<Vec<Cell>> =
            strips.iter().map(|s| cells::cut_line(s, self.char_width, self.lexicon, self.style)).collect();
        let mut best: Option<River> = None;
        for edge in self.edges(strips) {
            let halves: Vec<Option<Halves<'_>>> =
                strips.iter().zip(&cells).map(|(strip, cells)| self.halves(strip, cells, edge)).collect();
            for run in halves.split(Option::is_none).filter(|r| r.len() >= 3) {
                let lines: Vec<&Halves<'_>> = run.iter().flatten().collect();
                let Some((first, last)) = self.reach(&lines) else { continue };
                let Some(part) = lines.get(first..=last) else { continue };
                if let Some(weight) = self.weight(part)
                    && best.as_ref().is_none_or(|b| weight > b.weight)
                    && let (Some(from), Some(to)) = (part.first(), part.last())
                {
                    let at = |line: &Halves<'_>| strips.iter().position(|s| s.number == line.number).unwrap_or(0);
                    best = Some(River { from: at(from), to: at(to) + 1, edge, weight });
                }
            }
        }
        best
    }

    /// Lines of a run that belong to its two columns: around those whose right half has a label or a sentence, up to
    /// the first whose right half needs the left one.
    fn reach(&self, lines: &[&Halves<'_>]) -> Option<(usize, usize)> {
        let own = |line: &&Halves<'_>| match line.right {
            [] => false,
            [only] => self.is_label(only) || only.word_count() >= 4,
            [label, ..] => self.is_label(label) || self.heads_sieve(line.right),
        };
        let needs = |line: &&Halves<'_>| {
            let figure = |c: &Cell| {
                let seen = c.seen(self.lexicon, self.style);
                seen.value.is_some() || seen.unit.is_some() || seen.blank
            };
            !line.left.is_empty() && line.right.first().is_some_and(figure)
        };
        let mut first = lines.iter().position(own)?;
        let mut last = lines.iter().rposition(own)?;
        while first > 0 && lines.get(first - 1).is_some_and(|l| !needs(l)) {
            first -= 1;
        }
        let sieve = lines.iter().any(|l| self.heads_sieve(l.right));
        while lines.get(last + 1).is_some_and(|l| sieve || !needs(l)) {
            last += 1;
        }
        Some((first, last))
    }

    /// Places at which several lines begin anew, behind a gap or far from the margin.
    fn edges(&self, strips: &[Strip<'_>]) -> Vec<f32> {
        let gap = 1.3 * self.char_width;
        let running = || strips.iter().filter(|s| s.table.is_none());
        let margin = running().filter_map(|s| s.words.first()).map(|w| w.x0).fold(f32::INFINITY, f32::min);
        let mut starts: Vec<f32> = Vec::new();
        for strip in running() {
            let mut end = margin + 14.0 * self.char_width - gap;
            for word in &strip.words {
                if word.x0 - end > gap {
                    starts.push(word.x0);
                }
                end = word.x1.max(end);
            }
        }
        starts.sort_by(f32::total_cmp);
        let mut edges = Vec::new();
        let mut rest = starts.as_slice();
        while let Some(first) = rest.first() {
            let count = rest.partition_point(|x| x - first <= 1.2 * self.char_width).max(1);
            if count >= 3 && edges.len() < MOST_EDGES {
                edges.push(first - 0.3 * self.char_width);
            }
            rest = rest.get(count..).unwrap_or_default();
        }
        edges
    }

    /// What of a line stands left and right of an edge; none where it runs over it, or where a label waits on the
    /// left for the figure on the right.
    fn halves<'c>(&self, strip: &Strip<'_>, cells: &'c [Cell], edge: f32) -> Option<Halves<'c>> {
        let (left, right) = cells.split_at(cells.partition_point(|c| c.x0 < edge));
        let reaches = left.last().is_some_and(|c| c.x1 > edge + self.char_width)
            || strip.words.iter().any(|w| w.x0 < edge - self.char_width && w.x1 > edge + self.char_width);
        let touches = match (left.last(), right.first()) {
            (Some(left), Some(right)) => right.x0 - left.x1 < borders::CLEAR * self.char_width,
            _ => false,
        };
        let waits = match (left, right.first()) {
            ([only], Some(next)) => {
                let seen = next.seen(self.lexicon, self.style);
                bands::is_figure_label(only, self.lexicon, self.style) && (seen.value.is_some() || seen.unit.is_some())
            }
            _ => false,
        };
        let broken = strip.table.is_some() || reaches || touches || waits;
        (!broken).then_some(Halves { number: strip.number, left, right })
    }

    /// How much can be read on both sides of an edge; none where one side needs the other.
    fn weight(&self, lines: &[&Halves<'_>]) -> Option<usize> {
        let mut left = Side::default();
        let mut right = Side::default();
        let (mut level, mut needing) = (0, 0);
        for line in lines {
            if let (false, Some(next)) = (line.left.is_empty(), line.right.first()) {
                level += 1;
                let waits = matches!(line.left, [only] if self.is_label(only));
                needing += usize::from(waits && !self.is_label(next));
            }
            self.take(line.left, &mut left);
            self.take(line.right, &mut right);
        }
        let fewer = left.rows.min(right.rows);
        let is_level = level * 5 > fewer * 3;
        // Titles over two columns ("Sample details   Results") look like one label that waits for its value.
        if fewer < 2 || needing > 1 + left.labels.len() / 4 {
            return None;
        }
        let pairs = |side: &Side| side.labels.len() >= 2 && side.pairs * 3 >= side.rows;
        let prose = |side: &Side| side.prose >= 3 && side.prose * 3 >= side.rows * 2;
        let parts = match (pairs(&left), pairs(&right)) {
            (true, true) => true,
            (true, false) => right.is_sieve() || prose(&right) && !is_level,
            // An address beside the facts of the report.
            (false, true) => left.is_sieve() || !is_level && needing == 0,
            (false, false) => prose(&left) && prose(&right),
        };
        let weight = left.labels.len() + right.labels.len() + left.prose.min(right.prose);
        parts.then_some(weight)
    }

    /// "US mesh   Opening, mm   % retained", with nothing of another table before it.
    fn heads_sieve(&self, cells: &[Cell]) -> bool {
        let own = cells.first().is_some_and(|c| c.seen(self.lexicon, self.style).role.is_none());
        own && cells.len() >= 2 && cells.iter().any(|c| self.names_sieve(c))
    }

    fn names_sieve(&self, cell: &Cell) -> bool {
        let label = &cell.seen(self.lexicon, self.style).label;
        label.target.is_none() && self.lexicon.facet_id("sieve").is_some_and(|s| label.facets.contains(&s))
    }

    fn is_label(&self, cell: &Cell) -> bool {
        cell.colon || bands::is_label(cell, self.lexicon, self.style)
    }

    fn take(&self, cells: &[Cell], side: &mut Side) {
        if cells.is_empty() {
            return;
        }
        side.rows += 1;
        side.sieve_head |= side.rows <= 3 && self.heads_sieve(cells);
        match cells {
            [only] if only.word_count() >= 4 => side.prose += 1,
            [label, value, ..] if self.is_label(label) && !bands::is_label(value, self.lexicon, self.style) => {
                side.pairs += 1;
                side.labels.insert(label.text.to_lowercase());
            }
            _ => {
                let figures = cells.iter().filter(|c| c.seen(self.lexicon, self.style).value.is_some()).count();
                side.figures += usize::from(figures >= 2 || figures == cells.len());
            }
        }
    }
}

/// A line on both sides of an edge.
struct Halves<'c> {
    number: u32,
    left: &'c [Cell],
    right: &'c [Cell],
}

/// What stands on one side of a river.
#[derive(Default)]
struct Side {
    rows: usize,
    /// Rows that begin with a label and hold its value.
    pairs: usize,
    labels: BTreeSet<String>,
    /// Rows of several words and nothing else.
    prose: usize,
    /// Rows of figures without a label.
    figures: usize,
    sieve_head: bool,
}

impl Side {
    fn is_sieve(&self) -> bool {
        self.sieve_head && self.figures >= 3
    }
}

/// What of a line stands left and right of an edge.
fn cut<'d>(strip: &Strip<'d>, edge: f32) -> (Option<Strip<'d>>, Option<Strip<'d>>) {
    let (left, right): (Vec<_>, Vec<_>) = strip.words.iter().copied().partition(|w| w.x0 < edge);
    let half = |words: Vec<Spot<'d>>| (!words.is_empty()).then(|| Strip { words, ..strip.clone() });
    (half(left), half(right))
}
