//! Tables with rules all around: from rules to cells, from cells to rows.

use super::upright::Stroke;
use super::words::Piece;
use std::collections::HashMap;

/// Rules nearer than this are one.
pub(super) const NEAR: f32 = 3.0;
/// Columns and rows of one table.
const MOST_COLUMNS: usize = 80;
const MOST_ROWS: usize = 400;
/// Crossings looked at on one page.
const MOST_CROSSINGS: usize = 4_000_000;
/// Lines in a cell that make it a passage.
const PASSAGE: usize = 5;

/// A word with the number of its line on the page.
#[derive(Clone, Debug)]
pub struct Placed {
    /// The word.
    pub piece: Piece,
    /// Line on the page, from 1.
    pub line: u32,
}

/// A cell of a table.
#[derive(Clone, Debug, PartialEq)]
pub struct TableCell {
    /// Column from 0.
    pub column: usize,
    /// Columns spanned.
    pub columns: usize,
    /// Rows spanned.
    pub rows: usize,
    /// Text, lines parted by `\n`.
    pub text: String,
    /// Line on the page of its first word.
    pub line: u32,
    /// Read by character recognition.
    pub recognized: bool,
}

/// A row of a table.
#[derive(Clone, Debug, PartialEq)]
pub struct TableRow {
    /// Upper edge.
    pub top: f32,
    /// Lower edge.
    pub bottom: f32,
    /// Cells that hold something.
    pub cells: Vec<TableCell>,
}

/// A table of a page.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Rows that hold something.
    pub rows: Vec<TableRow>,
}

/// Finds the tables of a page. Words that stand in one are taken out of `words`.
pub fn tables(uprights: &[Stroke], levels: &[Stroke], words: &mut Vec<Placed>) -> Vec<Table> {
    let uprights = merged(uprights);
    let levels = merged(levels);
    if uprights.is_empty() || levels.is_empty() || uprights.len() * levels.len() > MOST_CROSSINGS {
        return Vec::new();
    }
    let mut found = Vec::new();
    for (uprights, levels) in components(&uprights, &levels) {
        if let Some(grid) = Grid::new(&uprights, &levels) {
            grid.tables(words, &mut found);
        }
    }
    found
}

/// Rules on one line that touch, as one.
pub(super) fn merged(strokes: &[Stroke]) -> Vec<Stroke> {
    let mut sorted: Vec<Stroke> = strokes.to_vec();
    sorted.sort_by(|a, b| a.at.total_cmp(&b.at));
    let mut found: Vec<Stroke> = Vec::new();
    let mut rest = sorted.as_slice();
    while let Some(first) = rest.first() {
        let end = rest.partition_point(|s| s.at - first.at <= NEAR / 2.0).max(1);
        let (near, later) = rest.split_at(end);
        rest = later;
        let mut near = near.to_vec();
        near.sort_by(|a, b| a.from.total_cmp(&b.from));
        let start = found.len();
        for stroke in near {
            match found.get_mut(start..).and_then(|f| f.last_mut()) {
                Some(last) if stroke.from <= last.to + NEAR => {
                    last.to = last.to.max(stroke.to);
                    last.edge &= stroke.edge;
                }
                _ => found.push(stroke),
            }
        }
    }
    found
}

/// Rules that hang together.
fn components(uprights: &[Stroke], levels: &[Stroke]) -> Vec<(Vec<Stroke>, Vec<Stroke>)> {
    let mut groups = Groups::new(uprights.len() + levels.len());
    for (i, level) in levels.iter().enumerate() {
        // Uprights are sorted by their place, so that only those along the level are looked at.
        let first = uprights.partition_point(|u| u.at < level.from - NEAR);
        for (j, upright) in uprights.iter().enumerate().skip(first).take_while(|u| u.1.at <= level.to + NEAR) {
            if upright.from - NEAR <= level.at && level.at <= upright.to + NEAR {
                groups.join(j, uprights.len() + i);
            }
        }
    }
    let mut found: Vec<(usize, Vec<Stroke>, Vec<Stroke>)> = Vec::new();
    for index in 0..uprights.len() + levels.len() {
        let root = groups.root(index);
        let position = found.iter().position(|f| f.0 == root).unwrap_or_else(|| {
            found.push((root, Vec::new(), Vec::new()));
            found.len() - 1
        });
        let Some(group) = found.get_mut(position) else { continue };
        match uprights.get(index) {
            Some(upright) => group.1.push(*upright),
            None => group.2.extend(index.checked_sub(uprights.len()).and_then(|i| levels.get(i))),
        }
    }
    found.into_iter().filter(|f| !f.1.is_empty() && !f.2.is_empty()).map(|f| (f.1, f.2)).collect()
}

struct Groups(Vec<usize>);

impl Groups {
    fn new(count: usize) -> Self {
        Self((0..count).collect())
    }

    fn root(&mut self, mut index: usize) -> usize {
        while let Some(parent) = self.0.get(index).copied() {
            if parent == index {
                break;
            }
            let above = self.0.get(parent).copied().unwrap_or(parent);
            if let Some(own) = self.0.get_mut(index) {
                *own = above;
            }
            index = parent;
        }
        index
    }

    fn join(&mut self, one: usize, other: usize) {
        let (one, other) = (self.root(one), self.root(other));
        if let Some(parent) = self.0.get_mut(one.max(other)) {
            *parent = one.min(other);
        }
    }
}

/// The lines of a table, and what its parting lines leave together.
struct Grid {
    xs: Vec<f32>,
    ys: Vec<f32>,
    regions: Vec<Region>,
    /// Region of each unit, row by row.
    units: Vec<usize>,
}

#[derive(Clone, Debug)]
struct Region {
    /// Units in it; fewer than its box has where the lines leave an L.
    count: usize,
    column: usize,
    row: usize,
    columns: usize,
    rows: usize,
}

impl Grid {
    fn new(uprights: &[Stroke], levels: &[Stroke]) -> Option<Self> {
        // Tables open at their sides end where their level rules do.
        let xs = places(uprights.iter().map(|u| u.at).chain(levels.iter().flat_map(|l| [l.from, l.to])));
        let ys = places(levels.iter().map(|l| l.at).chain(uprights.iter().flat_map(|u| [u.from, u.to])));
        let (columns, rows) = (xs.len().checked_sub(1)?, ys.len().checked_sub(1)?);
        if columns < 2 || rows < 2 || columns > MOST_COLUMNS || rows > MOST_ROWS {
            return None;
        }
        let covers = |list: &[Stroke], at: f32, from: f32, to: f32| {
            let on = list.iter().filter(|s| (s.at - at).abs() <= NEAR);
            let covered: f32 = on.map(|s| (s.to.min(to) - s.from.max(from)).max(0.0)).sum();
            // Round corners and spaced cells leave a little open at each end.
            covered >= 0.7 * (to - from) || covered >= 0.5 * (to - from) && covered + 2.0 * NEAR >= to - from
        };
        let mut groups = Groups::new(columns * rows);
        for (row, y) in ys.windows(2).enumerate() {
            for (column, x) in xs.windows(2).enumerate() {
                let ([left, right], [top, bottom]) = (x, y) else { continue };
                let unit = row * columns + column;
                if column + 1 < columns && !covers(uprights, *right, *top, *bottom) {
                    groups.join(unit, unit + 1);
                }
                if row + 1 < rows && !covers(levels, *bottom, *left, *right) {
                    groups.join(unit, unit + columns);
                }
            }
        }
        let mut regions: Vec<Region> = Vec::new();
        let mut by_root: HashMap<usize, usize> = HashMap::new();
        let mut units = Vec::with_capacity(columns * rows);
        for unit in 0..columns * rows {
            let (root, row, column) = (groups.root(unit), unit / columns, unit % columns);
            let index = *by_root.entry(root).or_insert(regions.len());
            units.push(index);
            match regions.get_mut(index) {
                Some(region) => {
                    let left = region.column.min(column);
                    region.columns = (region.column + region.columns).max(column + 1) - left;
                    region.column = left;
                    region.rows = row + 1 - region.row;
                    region.count += 1;
                }
                None => regions.push(Region { count: 1, column, row, columns: 1, rows: 1 }),
            }
        }
        Some(Self { xs, ys, regions, units })
    }

    fn tables(&self, words: &mut Vec<Placed>, found: &mut Vec<Table>) {
        let mut inside: Vec<Vec<usize>> = vec![Vec::new(); self.regions.len()];
        for (index, word) in words.iter().enumerate() {
            if let Some(list) = self.region_at(word.piece.middle()).and_then(|r| inside.get_mut(r)) {
                list.push(index);
            }
        }
        let cells: Vec<Vec<Vec<&Placed>>> =
            inside.iter().map(|list| by_line(list.iter().filter_map(|i| words.get(*i)).collect())).collect();
        let rows = self.ys.len() - 1;
        let mut bad = vec![false; rows];
        for (region, lines) in self.regions.iter().zip(&cells) {
            if lines.len() >= PASSAGE || self.straddles(region, lines) || region.count != region.rows * region.columns {
                bad.iter_mut().skip(region.row).take(region.rows).for_each(|b| *b = true);
            }
        }
        for (row, bad) in bad.iter_mut().enumerate() {
            *bad |= self.is_stacked(row, &cells);
        }
        let mut taken = Vec::new();
        let mut start = 0;
        while start < rows {
            let end = (start..rows).find(|r| bad.get(*r).copied().unwrap_or(true)).unwrap_or(rows);
            // A cell that reaches out of the run belongs to what is no table.
            let run = start..end;
            let fits = |r: &Region| r.row >= run.start && r.row + r.rows <= run.end;
            let (members, texts): (Vec<_>, Vec<_>) =
                self.regions.iter().zip(cells.iter().zip(&inside)).filter(|(r, _)| fits(r)).unzip();
            if let Some(table) = self.table(&members, &texts) {
                found.push(table);
                taken.extend(texts.iter().flat_map(|t| t.1.iter().copied()));
            }
            start = end + 1;
        }
        taken.sort_unstable();
        let mut index = 0;
        words.retain(|_| {
            index += 1;
            taken.binary_search(&(index - 1)).is_err()
        });
    }

    fn table(&self, regions: &[&Region], cells: &[(&Vec<Vec<&Placed>>, &Vec<usize>)]) -> Option<Table> {
        let mut rows: Vec<(usize, TableRow)> = Vec::new();
        let mut columns = Vec::new();
        for (region, (lines, _)) in regions.iter().zip(cells) {
            let Some(first) = lines.first().and_then(|l| l.first()) else { continue };
            let cell = TableCell {
                column: region.column,
                columns: region.columns,
                rows: region.rows,
                text: text_of(lines),
                line: first.line,
                recognized: lines.iter().flatten().any(|w| w.piece.recognized),
            };
            columns.push(region.column);
            let top = self.ys.get(region.row).copied().unwrap_or(0.0);
            let bottom = self.ys.get(region.row + 1).copied().unwrap_or(top);
            match rows.iter_mut().find(|r| r.0 == region.row) {
                Some((_, row)) => row.cells.push(cell),
                None => rows.push((region.row, TableRow { top, bottom, cells: vec![cell] })),
            }
        }
        columns.sort_unstable();
        columns.dedup();
        if rows.len() < 2 || columns.len() < 2 {
            return None;
        }
        rows.sort_by_key(|r| r.0);
        for (_, row) in &mut rows {
            row.cells.sort_by_key(|c| c.column);
        }
        Some(Table { rows: rows.into_iter().map(|r| r.1).collect() })
    }

    fn region_at(&self, point: (f32, f32)) -> Option<usize> {
        let slot = |list: &[f32], at: f32| {
            let after = list.partition_point(|p| *p <= at);
            after.checked_sub(1).filter(|_| after < list.len())
        };
        let (column, row) = (slot(&self.xs, point.0)?, slot(&self.ys, point.1)?);
        self.units.get(row * (self.xs.len() - 1) + column).copied()
    }

    /// Whether a line in a wide cell leaves a gap where other rows have a rule: there the rows lack theirs.
    fn straddles(&self, region: &Region, lines: &[Vec<&Placed>]) -> bool {
        let within = self.xs.get(region.column + 1..region.column + region.columns).unwrap_or_default();
        let straddle = |pair: &[&Placed]| match pair {
            [one, next] => {
                let wide = next.piece.x0 - one.piece.x1 > 1.5 * one.piece.size;
                wide && within.iter().any(|x| one.piece.x1 <= x + NEAR && x - NEAR <= next.piece.x0)
            }
            _ => false,
        };
        lines.iter().any(|line| line.windows(2).any(straddle))
    }

    /// Whether a row of cells holds several rows that no rule parts: figures stacked line by line beside others.
    fn is_stacked(&self, row: usize, cells: &[Vec<Vec<&Placed>>]) -> bool {
        let here: Vec<&Vec<Vec<&Placed>>> = self
            .regions
            .iter()
            .zip(cells)
            .filter(|(r, lines)| r.row == row && r.rows == 1 && !lines.is_empty())
            .map(|c| c.1)
            .collect();
        let numbers = |cell: &&&Vec<Vec<&Placed>>| {
            let starts = |line: &&Vec<&Placed>| line.first().is_some_and(|w| is_figure(&w.piece.text));
            // A line that ends in a sign goes on in the next.
            let goes_on = |line: &Vec<&Placed>| {
                line.last().is_some_and(|w| w.piece.text.ends_with(['±', '–', '-', '−', '<', '>', '×', '/']))
            };
            cell.len() >= 2 && cell.iter().filter(starts).count() * 5 >= cell.len() * 4 && !cell.iter().any(goes_on)
        };
        let Some(figures) = here.iter().find(numbers) else { return false };
        let most = here.iter().map(|c| c.len()).max().unwrap_or(0);
        // Figures wrapped in one cell stand beside cells of one line; rows stand beside rows.
        let as_tall = here.iter().filter(|c| c.len() == most).count();
        let shared = figures
            .iter()
            .filter_map(|l| l.first())
            .filter(|w| here.iter().filter(|c| c.iter().flatten().any(|o| o.line == w.line)).count() >= 2)
            .count();
        // Where the rows of the table have their rules, two lines are a wrapped cell.
        let few_rows = self.ys.len() <= 5;
        shared >= 2 && as_tall >= 2 && (most >= 3 || few_rows && as_tall == here.len())
    }
}

pub(super) fn is_figure(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '<' | '>' | '≤' | '≥' | '~' | '±' | '−' | '-' | '–'))
}

/// Places, those near each other taken together.
fn places(all: impl Iterator<Item = f32>) -> Vec<f32> {
    let mut all: Vec<f32> = all.collect();
    all.sort_by(f32::total_cmp);
    let mut found: Vec<f32> = Vec::new();
    for place in all {
        if found.last().is_none_or(|last| place - last > NEAR) {
            found.push(place);
        }
    }
    found
}

pub(super) fn by_line(mut words: Vec<&Placed>) -> Vec<Vec<&Placed>> {
    words.sort_by(|a, b| a.line.cmp(&b.line).then(a.piece.x0.total_cmp(&b.piece.x0)));
    let mut lines: Vec<Vec<&Placed>> = Vec::new();
    for word in words {
        match lines.last_mut() {
            Some(line) if line.last().is_some_and(|l| l.line == word.line) => line.push(word),
            _ => lines.push(vec![word]),
        }
    }
    lines
}

/// Text of a cell: wide gaps kept as blanks.
pub(super) fn text_of(lines: &[Vec<&Placed>]) -> String {
    let mut text = String::new();
    for line in lines {
        if !text.is_empty() {
            text.push('\n');
        }
        let mut end: Option<f32> = None;
        for word in line {
            if let Some(end) = end {
                let gap = (word.piece.x0 - end) / (0.5 * word.piece.size).max(0.5);
                let blanks = if gap < 3.0 { 1 } else { gap.min(40.0) as usize };
                text.extend(std::iter::repeat_n(' ', blanks));
            }
            text.push_str(&word.piece.text);
            end = Some(word.piece.x1);
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stroke(at: f32, from: f32, to: f32) -> Stroke {
        Stroke { at, from, to, edge: false }
    }

    fn word(text: &str, x0: f32, y: f32, line: u32) -> Placed {
        let x1 = x0 + 5.0 * text.chars().count() as f32;
        Placed { piece: Piece { text: text.to_owned(), x0, x1, y, size: 10.0, ..Piece::default() }, line }
    }

    /// Two columns and two rows of 20 points, the upper row one cell.
    #[test]
    fn a_merged_head_over_two_columns() {
        let uprights = [stroke(0.0, 0.0, 40.0), stroke(100.0, 20.0, 40.0), stroke(200.0, 0.0, 40.0)];
        let levels = [stroke(0.0, 0.0, 200.0), stroke(20.0, 0.0, 200.0), stroke(40.0, 0.0, 200.0)];
        let mut words = vec![
            word("Results", 80.0, 14.0, 1),
            word("Moisture", 5.0, 34.0, 2),
            word("47.2", 105.0, 34.0, 2),
            word("outside", 5.0, 80.0, 3),
        ];
        let tables = tables(&uprights, &levels, &mut words);
        let got: Vec<_> = tables
            .iter()
            .flat_map(|t| &t.rows)
            .flat_map(|r| &r.cells)
            .map(|c| (c.text.as_str(), c.column, c.columns, c.line))
            .collect();
        assert_eq!(got, [("Results", 0, 2, 1), ("Moisture", 0, 1, 2), ("47.2", 1, 1, 2)]);
        assert_eq!(words.len(), 1);
    }

    #[test]
    fn rows_without_rules_between_them_are_no_cells() {
        let uprights = [stroke(0.0, 0.0, 60.0), stroke(100.0, 0.0, 60.0), stroke(200.0, 0.0, 60.0)];
        let levels = [stroke(0.0, 0.0, 200.0), stroke(20.0, 0.0, 200.0), stroke(60.0, 0.0, 200.0)];
        let mut words = vec![
            word("Property", 5.0, 14.0, 1),
            word("Result", 105.0, 14.0, 1),
            word("Moisture", 5.0, 34.0, 2),
            word("47.2", 105.0, 34.0, 2),
            word("Iron", 5.0, 50.0, 3),
            word("620", 105.0, 50.0, 3),
        ];
        assert!(tables(&uprights, &levels, &mut words).is_empty());
        assert_eq!(words.len(), 6);
    }
}
