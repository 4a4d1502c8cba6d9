//! Rows that belong together, and where their columns run.

use super::cells::{Cell, Row};
use super::mentions;
use super::style::Style;
use crate::lexicon::{Lexicon, Target};

/// Splits the rows of a page where blank lines or another table begin.
pub fn bands(rows: Vec<Row>) -> Vec<Vec<Row>> {
    // A page set in double spacing has a gap above every line.
    let gaps = rows.iter().filter(|r| r.gap > 0).count();
    let doubled = rows.len() > 8 && gaps * 10 > rows.len() * 8;
    let limit = u32::from(doubled) + 1;
    let mut found: Vec<Vec<Row>> = Vec::new();
    let mut table = None;
    for row in rows {
        let starts = row.gap >= limit || row.table != table;
        table = row.table;
        match found.last_mut() {
            Some(band) if !starts => band.push(row),
            _ => found.push(vec![row]),
        }
    }
    found
}

/// Splits a band where another report or sample begins without a blank line before it.
pub fn cut_samples(band: Vec<Row>, lexicon: &Lexicon, style: &Style) -> Vec<Vec<Row>> {
    let mut found: Vec<Vec<Row>> = Vec::new();
    let mut seen: Vec<String> = Vec::new();
    let mut number: Option<String> = None;
    let mut figures = false;
    for row in band {
        let report = row.cells.iter().find_map(|cell| {
            let mention = mentions::find(&cell.text, lexicon).into_iter().find(|m| m.key == "report_number")?;
            cell.text.get(mention.start..mention.end).map(str::to_owned)
        });
        let key = row.cells.first().filter(|_| row.cells.len() > 1).and_then(|first| {
            match &first.seen(lexicon, style).label.target {
                Some(Target::Key(key)) if is_label(first, lexicon, style) => Some(key.clone()),
                _ => None,
            }
        });
        let another = report.is_some() && number.is_some() && report != number;
        let names = |key: &String| matches!(key.as_str(), "sample_id" | "vessel" | "report_number");
        let again = key.as_ref().is_some_and(|k| names(k) && seen.contains(k));
        if figures && (another || again) || found.is_empty() {
            found.push(Vec::new());
            seen.clear();
            figures = false;
        }
        number = report.or(number);
        seen.extend(key);
        figures |= row.cells.iter().any(|c| is_figure_label(c, lexicon, style));
        if let Some(last) = found.last_mut() {
            last.push(row);
        }
    }
    found
}

/// Runs of x that the cells of some rows fill: the columns.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// Left edge.
    pub x0: f32,
    /// Right edge.
    pub x1: f32,
}

/// Finds the columns that the cells of rows stand in.
pub fn columns(rows: &[&Row]) -> Vec<Span> {
    let mut cells: Vec<(usize, f32, f32)> =
        rows.iter().enumerate().flat_map(|(at, row)| row.cells.iter().map(move |c| (at, c.x0, c.x1))).collect();
    cells.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.2.total_cmp(&b.2)));
    loop {
        let mut groups: Vec<Vec<(usize, f32, f32)>> = Vec::new();
        let mut edge = f32::NEG_INFINITY;
        for &cell in &cells {
            if cell.1 >= edge {
                groups.push(Vec::new());
                edge = f32::NEG_INFINITY;
            }
            if let Some(group) = groups.last_mut() {
                group.push(cell);
            }
            edge = edge.max(cell.2);
        }
        // A column holds one cell of each row; where it holds two, a wide cell bridges two columns.
        let bridged = groups.iter().find(|g| {
            let mut seen: Vec<usize> = g.iter().map(|c| c.0).collect();
            seen.sort_unstable();
            seen.windows(2).any(|w| w[0] == w[1])
        });
        let Some(group) = bridged else {
            return groups
                .iter()
                .filter_map(|g| {
                    let x0 = g.iter().map(|c| c.1).min_by(f32::total_cmp)?;
                    let x1 = g.iter().map(|c| c.2).max_by(f32::total_cmp)?;
                    Some(Span { x0, x1 })
                })
                .collect();
        };
        let widest = group.iter().copied().max_by(|a, b| (a.2 - a.1).total_cmp(&(b.2 - b.1)));
        let Some(widest) = widest else { return Vec::new() };
        let before = cells.len();
        cells.retain(|c| *c != widest);
        if cells.len() == before || cells.is_empty() {
            return Vec::new();
        }
    }
}

/// Columns that a cell stands over, or the nearest one where it stands over none.
pub fn over(cell: &Cell, columns: &[Span], reach: f32) -> Vec<usize> {
    let mut hits: Vec<(usize, f32)> =
        columns.iter().enumerate().map(|(at, s)| (at, cell.overlap(s.x0, s.x1))).filter(|(_, o)| *o > 0.0).collect();
    if hits.is_empty() {
        let near = columns
            .iter()
            .enumerate()
            .map(|(at, s)| (at, (s.x0 - cell.x1).max(cell.x0 - s.x1)))
            // Neighbours in a sheet touch, and are no nearer to each other for that.
            .filter(|(_, d)| reach > 0.0 && *d <= reach)
            .min_by(|a, b| a.1.total_cmp(&b.1));
        return near.map(|(at, _)| vec![at]).unwrap_or_default();
    }
    if hits.len() > 1 {
        // A head covers a column only if it covers most of it; a slight overlap belongs to the neighbour.
        let best = hits.iter().map(|h| h.1).max_by(f32::total_cmp).unwrap_or(0.0);
        hits.retain(|&(at, o)| columns.get(at).is_some_and(|s| o >= 0.6 * (s.x1 - s.x0)) || o >= best - f32::EPSILON);
    }
    hits.into_iter().map(|h| h.0).collect()
}

/// Whether a cell is the label of a figure or a fact, with nothing left over.
pub fn is_label(cell: &Cell, lexicon: &Lexicon, style: &Style) -> bool {
    let seen = cell.seen(lexicon, style);
    if seen.value.is_some() || seen.date.is_some() {
        return false;
    }
    let own = match &seen.label.target {
        // "Sample code" is a fact's label, though "code" alone may head a column.
        Some(Target::Key(_)) => {
            cell.colon || (seen.label.is_clear() && (seen.role.is_none() || seen.label.facets.len() > 1))
        }
        Some(_) => seen.label.unexplained.len() <= 1 || cell.colon,
        None => false,
    };
    own && (seen.unit.is_none() || cell.colon)
}

/// Whether a cell is the label of a figure.
pub fn is_figure_label(cell: &Cell, lexicon: &Lexicon, style: &Style) -> bool {
    is_label(cell, lexicon, style) && cell.seen(lexicon, style).label.target.as_ref().is_some_and(Target::is_figure)
}

/// Splits a sheet's band at columns that are empty all the way down, where what stands right of them has labels or
/// sieves of its own.
fn split_at_gap(rows: &[Row], lexicon: &Lexicon, style: &Style) -> Option<f32> {
    let right_end = rows.iter().flat_map(|r| &r.cells).map(|c| c.x1).fold(0.0, f32::max);
    let filled =
        |at: f32| rows.iter().any(|r| r.cells.len() > 1 && r.cells.iter().any(|c| c.overlap(at, at + 1.0) > 0.0));
    let sieve = lexicon.facet_id("sieve");
    let mut at = 1.0;
    while at + 1.0 < right_end {
        if !filled(at) && filled(at - 1.0) {
            let left = rows.iter().filter(|r| r.cells.iter().any(|c| c.x0 < at)).count();
            let first: Vec<&Cell> = rows.iter().filter_map(|r| r.cells.iter().find(|c| c.x0 > at)).collect();
            let labels = first.iter().filter(|c| is_label(c, lexicon, style) || c.colon).count();
            let sieves =
                first.first().is_some_and(|c| sieve.is_some_and(|s| c.seen(lexicon, style).label.facets.contains(&s)));
            if left >= 2 && first.len() >= 2 && (labels >= 2 || sieves) {
                return Some(at);
            }
        }
        at += 1.0;
    }
    None
}

fn part_at(rows: Vec<Row>, edge: f32) -> (Vec<Row>, Vec<Row>) {
    let mut left = Vec::new();
    let mut right = Vec::new();
    for row in rows {
        let (a, b): (Vec<Cell>, Vec<Cell>) = row.cells.iter().cloned().partition(|c| c.x0 < edge);
        if !b.is_empty() {
            right.push(Row { cells: b, gap: if right.is_empty() { row.gap } else { 0 }, ..row.clone() });
        }
        if !a.is_empty() {
            left.push(Row { cells: a, ..row });
        }
    }
    (left, right)
}

/// Two stacks of labels whose lines do not stand level: where the right one begins.
fn stacks_edge(rows: &[Row], lexicon: &Lexicon, style: &Style) -> Option<f32> {
    let width = rows.iter().map(|r| r.char_width).fold(0.0, f32::max);
    if width <= 0.0 {
        return None;
    }
    let firsts: Vec<f32> = rows
        .iter()
        .filter_map(|r| r.cells.first().filter(|c| is_label(c, lexicon, style) && r.cells.len() >= 2))
        .map(|c| c.x0)
        .collect();
    let left = firsts.iter().copied().fold(f32::INFINITY, f32::min);
    let mut far: Vec<f32> = firsts.iter().copied().filter(|x| *x > left + 15.0 * width).collect();
    far.sort_by(f32::total_cmp);
    let middle = far.get(far.len() / 2).copied()?;
    let agreeing = far.iter().filter(|x| (**x - middle).abs() <= 2.0 * width).count();
    let near = firsts.iter().filter(|x| (**x - left).abs() <= 2.0 * width).count();
    let edge = middle - 1.5 * width;
    let crossing = rows
        .iter()
        .filter(|r| r.cells.len() > 1)
        .flat_map(|r| &r.cells)
        .filter(|c| c.x0 < edge && c.x1 > middle + width)
        .count();
    (agreeing >= 3 && near >= 3 && crossing == 0).then_some(edge)
}

/// Where a sieve table begins right of the results.
fn sieve_edge(rows: &[Row], lexicon: &Lexicon, style: &Style) -> Option<f32> {
    let sieve = lexicon.facet_id("sieve")?;
    let head = rows.iter().find(|r| r.cells.len() >= 3)?;
    let at = head.cells.iter().skip(1).position(|c| {
        let label = &c.seen(lexicon, style).label;
        label.facets.contains(&sieve) && label.target.is_none()
    })? + 1;
    let edge = head.cells.get(at)?.x0 - 0.6 * head.char_width.max(0.01);
    let left =
        rows.iter().filter(|r| r.cells.iter().any(|c| c.x0 < edge && is_figure_label(c, lexicon, style))).count();
    let crossing = rows.iter().flat_map(|r| &r.cells).filter(|c| c.x0 < edge && c.x1 > edge + 0.02).count();
    (left >= 2 && crossing == 0).then_some(edge)
}

/// Splits a band whose right half is a second stack of labels ("sample details left, results right").
pub fn split_sides(rows: Vec<Row>, lexicon: &Lexicon, style: &Style) -> Vec<Vec<Row>> {
    // In a sheet, rows of facts in pairs may stand right on a table, whose columns are not theirs.
    let above = rows
        .iter()
        .take_while(|r| r.table.is_some() && (r.cells.len() == 1 || super::table::is_pair_row(r, lexicon, style)))
        .count();
    let paired = rows.iter().take(above).any(|r| r.cells.len() > 1);
    let figures_below = rows.iter().skip(above).any(|r| r.cells.iter().any(|c| is_figure_label(c, lexicon, style)));
    if paired && figures_below {
        let mut above_rows = rows;
        let below = above_rows.split_off(above);
        let mut all = split_sides(above_rows, lexicon, style);
        all.extend(split_sides(below, lexicon, style));
        return all;
    }
    let hard = rows.iter().all(|r| r.table.is_some());
    let gap = if hard { split_at_gap(&rows, lexicon, style) } else { stacks_edge(&rows, lexicon, style) };
    if let Some(edge) = gap.or_else(|| sieve_edge(&rows, lexicon, style)) {
        let (left, right) = part_at(rows, edge);
        let mut all = split_sides(left, lexicon, style);
        all.extend(split_sides(right, lexicon, style));
        return all;
    }
    let mut starts: Vec<f32> = Vec::new();
    for row in &rows {
        let mut filled = false;
        let mut seen_label = false;
        for (at, cell) in row.cells.iter().enumerate() {
            // A word at the end of its row has no value: "eq/L | Harzvolumen".
            let valued = at + 1 < row.cells.len();
            if is_label(cell, lexicon, style) && (valued || !seen_label) || (cell.colon && !cell.cut) {
                if seen_label && filled {
                    starts.push(cell.x0);
                    break;
                }
                seen_label = true;
                filled = false;
            } else {
                filled = true;
            }
        }
    }
    if starts.len() < 2 {
        return vec![rows];
    }
    starts.sort_by(f32::total_cmp);
    let width = rows.iter().map(|r| r.char_width).fold(0.0, f32::max);
    let tolerance = if width > 0.0 { 2.5 * width } else { 0.01 };
    let middle = starts.get(starts.len() / 2).copied().unwrap_or(0.0);
    let agreeing = starts.iter().filter(|s| (**s - middle).abs() <= tolerance).count();
    if agreeing < 2 || agreeing * 2 < starts.len() {
        return vec![rows];
    }
    let edge = starts.iter().copied().filter(|s| (*s - middle).abs() <= tolerance).fold(f32::INFINITY, f32::min) - 0.01;
    // The border must not run through cells that are anything but titles.
    let crossing = rows
        .iter()
        .flat_map(|r| r.cells.iter().map(move |c| (r, c)))
        .filter(|(r, c)| r.cells.len() > 1 && c.x0 < edge && c.x1 > edge + 0.02)
        .count();
    if crossing > 1 {
        return vec![rows];
    }
    let (left, right) = part_at(rows, edge);
    let mut all = split_sides(left, lexicon, style);
    all.extend(split_sides(right, lexicon, style));
    all
}
