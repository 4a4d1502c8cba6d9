//! Rows of a printed table whose cells run over several lines, put together.
//!
//! Without rules only the room between lines tells them: those of one cell stand closer than rows do. A figure may
//! stand level with the first line of its label, the last, the middle, or between two. Where all lines stand
//! equally close, a label's line that begins small or ends open ("Total capacity by", "volume, in the") still goes on.

use super::bands::{self, Span};
use super::cells::{Cell, Row};
use super::style::Style;
use crate::lexicon::{Lexicon, Target};

/// Lines that one row of a table may have.
const MOST: usize = 6;
/// Rows stand at least this much farther apart than the lines of a cell.
const APART: f32 = 1.18;

/// Puts the lines of wrapped cells together.
pub fn join(rows: Vec<Row>, lexicon: &Lexicon, style: &Style) -> Vec<Row> {
    if rows.len() < 3 || rows.iter().all(|r| r.char_width <= 0.0) {
        return rows;
    }
    let wraps = Wraps { lexicon, style };
    let grouped = wraps.groups(&rows);
    let mut joined = Vec::with_capacity(rows.len());
    let mut rest = rows.into_iter();
    for count in grouped {
        let group: Vec<Row> = rest.by_ref().take(count).collect();
        match <[Row; 1]>::try_from(group) {
            Ok([row]) => joined.push(row),
            Err(group) => joined.push(wraps.one(group)),
        }
    }
    joined
}

struct Wraps<'a> {
    lexicon: &'a Lexicon,
    style: &'a Style,
}

impl Wraps<'_> {
    /// How many rows each group has, in their order.
    fn groups(&self, rows: &[Row]) -> Vec<usize> {
        let mut counts = Vec::new();
        let mut at = 0;
        while at < rows.len() {
            let count = self.by_room(rows, at).or_else(|| self.by_words(rows, at)).unwrap_or(1);
            counts.push(count);
            at += count;
        }
        counts
    }

    /// Rows from `at` on that stand closer to each other than to what is above and below.
    fn by_room(&self, rows: &[Row], at: usize) -> Option<usize> {
        let first = rows.get(at).filter(|r| is_printed(r))?;
        let second = rows.get(at + 1).filter(|r| is_printed(r))?;
        let inner = pitch(first, second);
        let height = (first.bottom - first.top).max(1.0);
        if inner > 1.9 * height {
            return None;
        }
        let mut count = 2;
        while count <= MOST {
            let (Some(last), Some(next)) = (rows.get(at + count - 1), rows.get(at + count)) else { break };
            if !is_printed(next) || pitch(last, next) > inner * APART {
                break;
            }
            count += 1;
        }
        let group = rows.get(at..at + count)?;
        let above = at.checked_sub(1).and_then(|a| rows.get(a)).filter(|r| is_printed(r));
        let below = rows.get(at + count).filter(|r| is_printed(r));
        let far = |one: Option<&Row>, next: Option<&Row>| match (one, next) {
            (Some(one), Some(next)) => pitch(one, next) >= inner * APART,
            _ => true,
        };
        let parted = above.is_some() || below.is_some();
        (count <= MOST
            && parted
            && far(above, Some(first))
            && far(group.last(), below)
            && self.is_one_row(group)
            && self.has_figure_label(group))
        .then_some(count)
    }

    /// A line that its words say goes on in the next.
    fn by_words(&self, rows: &[Row], at: usize) -> Option<usize> {
        let mut best = None;
        for count in 2..=MOST.min(rows.len() - at) {
            let group = rows.get(at..at + count)?;
            let [.., last, next] = group else { break };
            if !is_printed(last)
                || !is_printed(next)
                || next.gap > 0
                || pitch(last, next) > 1.9 * (last.bottom - last.top)
            {
                break;
            }
            let follows =
                self.label_end(last).is_none_or(ends_open) || self.label_of(next).is_none_or(|c| begins_small(&c.text));
            if !follows {
                break;
            }
            if self.is_one_row(group) && self.has_figure_label(group) && self.gains(group) {
                best = Some(count);
            }
        }
        best
    }

    /// Whether the label says more together than line by line.
    fn gains(&self, group: &[Row]) -> bool {
        let joined = self.lexicon.understand(&self.label_text(group), &[]);
        let clear = |text: &str| {
            let label = self.lexicon.understand(text, &[]);
            label.is_clear().then_some(label)
        };
        let figure = |t: &Option<Target>| t.as_ref().is_some_and(Target::is_figure);
        let alone =
            group.iter().filter_map(|r| self.label_of(r)).filter_map(|c| clear(&c.text)).filter(|l| figure(&l.target));
        // Two labels of two properties are two rows.
        let others = alone.filter(|l| l.target != joined.target).count();
        joined.is_clear() && figure(&joined.target) && others == 0
    }

    /// Whether the group holds one figure at most in each column, and at least one.
    fn is_one_row(&self, group: &[Row]) -> bool {
        let spans = bands::columns(&group.iter().collect::<Vec<_>>());
        let spans = if spans.is_empty() { spread(group) } else { spans };
        let mut figures = vec![0usize; spans.len()];
        for row in group {
            for cell in &row.cells {
                let seen = cell.seen(self.lexicon, self.style);
                let is_label = self.label_of(row).is_some_and(|l| std::ptr::eq(l, cell));
                if cell.colon || seen.date.is_some() || seen.role.is_some() && seen.value.is_none() && !is_label {
                    return false;
                }
                // What was cut out of a run of words has its label before it.
                if cell.cut && seen.value.is_some() && row.cells.len() > 1 {
                    continue;
                }
                if seen.value.is_some() && !is_label {
                    let Some(&at) = bands::over(cell, &spans, 0.0).first() else { return false };
                    if let Some(count) = figures.get_mut(at) {
                        *count += 1;
                    }
                }
            }
        }
        // A label and its figure below it are two cells, and no two lines of one.
        let under = group
            .iter()
            .filter_map(|r| self.label_of(r))
            .any(|c| bands::over(c, &spans, 0.0).first().and_then(|&at| figures.get(at)).is_some_and(|n| *n > 0));
        if under {
            return false;
        }
        let labelled = group.iter().filter(|r| self.label_of(r).is_some()).count();
        let full = group.iter().filter(|r| self.label_of(r).is_some() && r.cells.len() > 1).count();
        figures.iter().any(|n| *n > 0) && figures.iter().all(|n| *n <= 1) && labelled >= 1 && full <= 1
    }

    /// Whether the label of the group is a figure's, and no line of it a heading or the name of a sample.
    fn has_figure_label(&self, group: &[Row]) -> bool {
        let names = |cell: &Cell| {
            // "resin" at the end of "on the volume of backwashed and settled" names none.
            if begins_small(&cell.text) {
                return false;
            }
            let label = &cell.seen(self.lexicon, self.style).label;
            let has = |id: &str| self.lexicon.facet_id(id).is_some_and(|f| label.facets.contains(&f));
            matches!(label.target, Some(Target::Key(_))) || has("sample") || has("vessel") || label.position.is_some()
        };
        let label = self.lexicon.understand(&self.label_text(group), &[]);
        label.target.as_ref().is_some_and(Target::is_figure)
            && label.unexplained.len() <= 1
            && !group.iter().filter_map(|r| self.label_of(r)).any(names)
    }

    /// The words that a row begins with.
    fn label_of<'r>(&self, row: &'r Row) -> Option<&'r Cell> {
        let first = row.cells.first()?;
        let seen = first.seen(self.lexicon, self.style);
        // "(0.300 mm)" below "Fines, through 50 mesh" is no figure of its row.
        let bracketed = first.text.starts_with('(') && !first.cut;
        let words = seen.value.is_none() && seen.unit.is_none() && !seen.blank && first.letters() > 1;
        (words || bracketed).then_some(first)
    }

    fn label_end<'r>(&self, row: &'r Row) -> Option<&'r str> {
        self.label_of(row).map(|c| c.text.as_str())
    }

    fn label_text(&self, group: &[Row]) -> String {
        let left = group.iter().filter_map(|r| self.label_of(r)).map(|c| c.x0).fold(f32::INFINITY, f32::min);
        let parts: Vec<&str> = group
            .iter()
            .filter_map(|r| self.label_of(r).filter(|c| c.x0 < left + 4.0 * r.char_width))
            .map(|c| c.text.as_str())
            .collect();
        parts.join(" ")
    }

    /// The lines of a group as one row: the cells of each column, read downwards.
    fn one(&self, group: Vec<Row>) -> Row {
        let spans = bands::columns(&group.iter().collect::<Vec<_>>());
        let spans = if spans.is_empty() { spread(&group) } else { spans };
        let mut columns: Vec<Option<Cell>> = vec![None; spans.len()];
        let bottom = group.iter().map(|r| r.bottom).fold(f32::MIN, f32::max);
        let anchor = group.iter().find(|r| r.cells.iter().any(|c| c.seen(self.lexicon, self.style).value.is_some()));
        let line = anchor.map(|r| r.line);
        let mut whole = group.first().cloned().unwrap_or_default();
        for cell in group.into_iter().flat_map(|r| r.cells) {
            let at = bands::over(&cell, &spans, f32::INFINITY).first().copied();
            let Some(slot) = at.and_then(|at| columns.get_mut(at)) else { continue };
            match slot {
                Some(kept) => *kept = kept.joined(&cell),
                None => *slot = Some(cell),
            }
        }
        whole.cells = columns.into_iter().flatten().collect();
        whole.bottom = bottom;
        whole.line = line.unwrap_or(whole.line);
        whole
    }
}

fn is_printed(row: &Row) -> bool {
    row.table.is_none() && row.char_width > super::layout::PRINT && row.bottom > row.top
}

fn pitch(one: &Row, next: &Row) -> f32 {
    (next.top - one.top).max(0.1)
}

/// Columns of cells that all bridge each other: where they begin and end.
fn spread(group: &[Row]) -> Vec<Span> {
    let mut spans: Vec<Span> = Vec::new();
    let mut cells: Vec<&Cell> = group.iter().flat_map(|r| &r.cells).collect();
    cells.sort_by(|a, b| a.x0.total_cmp(&b.x0));
    for cell in cells {
        match spans.last_mut() {
            Some(last) if cell.x0 < last.x1 => last.x1 = last.x1.max(cell.x1),
            _ => spans.push(Span { x0: cell.x0, x1: cell.x1 }),
        }
    }
    spans
}

/// "Total capacity by", "Density (backwashed", "Iron, as Fe,": more must follow.
fn ends_open(text: &str) -> bool {
    let text = text.trim_end();
    text.ends_with([',', '-', '–', '/', '(']) || text.matches('(').count() > text.matches(')').count()
}

fn begins_small(text: &str) -> bool {
    text.starts_with(|c: char| c.is_lowercase() || c == '(')
}
