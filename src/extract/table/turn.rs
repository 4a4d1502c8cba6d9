//! Tables that run across are turned, heads of several lines are joined, and group names are carried down.

use super::*;

/// Rows at the top of a band whose labels, read downwards, are properties: the table runs across.
pub fn turned(rows: &[Row], desk: &Desk<'_>) -> Option<(usize, usize)> {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let down = rows.iter().filter(|row| figure_row(row, lexicon, style)).count();
    let first = rows.iter().position(|row| {
        let values = row.cells.iter().filter(|c| is_figure(c, lexicon, style)).count();
        values >= 2 || (values >= 1 && row.cells.len() >= 2 && !figure_row(row, lexicon, style))
    })?;
    let mut best: Option<(usize, usize, usize)> = None;
    for start in first.saturating_sub(4)..first {
        let heads = rows.get(start..first)?;
        let body = rows.get(first..)?;
        let count = across_count(heads, body, lexicon, style);
        if count > best.map_or(0, |b| b.2) {
            best = Some((start, first, count));
        }
    }
    let (start, first, count) = best?;
    let enough = count >= 2 || (count == 1 && down == 0 && rows.len() - first >= 2);
    (enough && count > down).then_some((start, first))
}

pub(super) fn across_count(heads: &[Row], body: &[Row], lexicon: &Lexicon, style: &Style) -> usize {
    let spans = bands::columns(&body.iter().collect::<Vec<_>>());
    let joined = join_heads(heads, &spans);
    spans
        .iter()
        .zip(&joined)
        .filter(|(span, head)| {
            let label = lexicon.understand(&head.text, &[]);
            label.target.as_ref().is_some_and(Target::is_figure)
                && label.unexplained.len() <= 1
                && body
                    .iter()
                    .any(|r| r.cells.iter().any(|c| c.overlap(span.x0, span.x1) > 0.0 && is_figure(c, lexicon, style)))
        })
        .count()
}

#[derive(Clone, Debug, Default)]
pub(super) struct Head {
    pub(super) text: String,
    pub(super) cells: Vec<Cell>,
}

/// Head texts of each column, read downwards.
pub(super) fn join_heads(heads: &[Row], spans: &[Span]) -> Vec<Head> {
    let mut joined = vec![Head::default(); spans.len()];
    let mut group_units: Vec<Option<String>> = vec![None; spans.len()];
    for (number, row) in heads.iter().enumerate() {
        for (cell, columns) in assign(row, spans) {
            // "Capacity, eq/L" over "strong", "weak" and "total": the unit is that of each.
            let group = (columns.len() > 1 && number + 1 < heads.len()).then(|| unit_of_group(&cell.text)).flatten();
            for at in columns {
                if let (Some((_, unit)), Some(place)) = (group, group_units.get_mut(at)) {
                    *place = Some(unit.to_owned());
                }
                if let Some(head) = joined.get_mut(at) {
                    // "Freeboard" over "in": set off, the unit is no word of the label.
                    let unit = !head.text.is_empty() && Unit::parse(&cell.text).is_some();
                    if unit {
                        head.text.push(',');
                    }
                    if !head.text.is_empty() {
                        head.text.push(' ');
                    }
                    head.text.push_str(group.map_or(cell.text.as_str(), |(words, _)| words));
                    head.cells.push(cell.clone());
                    if unit {
                        group_units.get_mut(at).map(Option::take);
                    }
                }
            }
        }
    }
    for (head, unit) in joined.iter_mut().zip(group_units) {
        if let Some(unit) = unit {
            head.text.push_str(", ");
            head.text.push_str(&unit);
        }
    }
    joined
}

/// The words and the unit of a head: "Capacity, eq/L", "Beads (%)".
pub(super) fn unit_of_group(text: &str) -> Option<(&str, &str)> {
    let text = text.trim();
    let (words, unit) = match text.strip_suffix([')', ']']) {
        Some(inside) => inside.rsplit_once(['(', '[']),
        None => text.rsplit_once(','),
    }?;
    let (words, unit) = (words.trim(), unit.trim());
    (!words.is_empty() && Unit::parse(unit).is_some()).then_some((words, unit))
}

/// Columns of each cell of a head row. As many cells as columns stand in their order.
pub(super) fn assign<'r>(row: &'r Row, spans: &[Span]) -> Vec<(&'r Cell, Vec<usize>)> {
    let reach = if row.char_width > 0.0 { 6.0 * row.char_width } else { 0.0 };
    let over: Vec<Vec<usize>> = row.cells.iter().map(|c| bands::over(c, spans, reach)).collect();
    let mut taken = vec![0usize; spans.len()];
    for list in &over {
        for &at in list {
            if let Some(count) = taken.get_mut(at) {
                *count += 1;
            }
        }
    }
    let clash = taken.iter().any(|&n| n > 1);
    if row.char_width > 0.0 && row.cells.len() == spans.len() && (clash || over.iter().any(|o| o.len() != 1)) {
        return row.cells.iter().enumerate().map(|(at, c)| (c, vec![at])).collect();
    }
    row.cells.iter().zip(over).collect()
}

pub(super) fn is_figure(cell: &Cell, lexicon: &Lexicon, style: &Style) -> bool {
    cell.seen(lexicon, style).value.is_some()
}

/// A row whose label is a figure's and that holds a figure, or says that there is none.
pub(super) fn figure_row(row: &Row, lexicon: &Lexicon, style: &Style) -> bool {
    let label = row.cells.iter().position(|c| bands::is_figure_label(c, lexicon, style)).or(row.grouped);
    label.is_some_and(|at| {
        row.cells.iter().enumerate().any(|(i, c)| {
            let seen = c.seen(lexicon, style);
            i != at
                && (seen.value.is_some()
                    || seen.blank
                    || (seen.unit.is_none() && c.text.chars().any(|c| c.is_ascii_digit())))
        })
    })
}

/// Turns a table that runs across, so that each property becomes a row.
pub fn turn(rows: &[Row], start: usize, first: usize) -> Vec<Row> {
    let heads = rows.get(start..first).unwrap_or_default();
    let body = rows.get(first..).unwrap_or_default();
    let spans = bands::columns(&body.iter().collect::<Vec<_>>());
    let joined = join_heads(heads, &spans);
    let mut turned = Vec::new();
    for (at, (span, head)) in spans.iter().zip(joined).enumerate() {
        let mut cells = Vec::new();
        if let Some(first_head) = head.cells.first() {
            let mut label = first_head.with_text(head.text.clone());
            label.words = head.cells.iter().flat_map(|c| c.words.iter().copied()).collect();
            label.x0 = 0.0;
            label.x1 = 1.0;
            label.colon = false;
            label.rows = 1;
            cells.push(label);
        }
        for (number, row) in body.iter().enumerate() {
            for (cell, columns) in assign(row, &spans) {
                if columns.first() == Some(&at) && (columns.len() == 1 || span.x0 <= cell.x0) {
                    let mut cell = cell.clone();
                    cell.x0 = number as f32 + 1.0;
                    cell.x1 = cell.x0 + 1.0;
                    cell.rows = 1;
                    cell.cut = false;
                    cells.push(cell);
                }
            }
        }
        let line = body.first().map_or(0, |r| r.line);
        turned.push(Row { cells, table: Some(u32::MAX), line, ..Row::default() });
    }
    turned
}

/// Rows whose label is one only under the heading of their group: "total" under "Capacity".
pub(super) fn mark_groups(rows: &[Row], section: &[FacetId], lexicon: &Lexicon, style: &Style) -> Vec<Row> {
    let mut group = section.to_vec();
    rows.iter()
        .map(|row| {
            let mut row = row.clone();
            if row.cells.iter().any(|c| bands::is_figure_label(c, lexicon, style)) {
                return row;
            }
            if let [only] = row.cells.as_slice() {
                if only.word_count() <= 8 && only.seen(lexicon, style).value.is_none() {
                    group = lexicon.heading_facets(&only.text);
                }
                return row;
            }
            let mut around = group.clone();
            for (at, cell) in row.cells.iter().enumerate() {
                let seen = cell.seen(lexicon, style);
                if seen.value.is_some() || seen.date.is_some() || seen.unit.is_some() {
                    break;
                }
                let label = lexicon.understand(&cell.text, &around);
                if label.target.as_ref().is_some_and(Target::is_figure)
                    && label.unexplained.is_empty()
                    && !matches!(&seen.label.target, Some(Target::Key(_)))
                {
                    row.grouped = Some(at);
                    break;
                }
                around.extend(lexicon.heading_facets(&cell.text));
            }
            row
        })
        .collect()
}

/// In a sheet the name of a group stands once, and the cells below it are empty: it holds for these rows too.
pub(super) fn carry_groups(rows: &[Row], lexicon: &Lexicon, style: &Style) -> Vec<Row> {
    let mut group: Option<Cell> = None;
    let left = rows.iter().flat_map(|r| &r.cells).map(|c| c.x0).fold(f32::INFINITY, f32::min);
    rows.iter()
        .map(|row| {
            let mut row = row.clone();
            let Some(first) = row.cells.first() else { return row };
            if row.table.is_none() || row.table == Some(u32::MAX) {
                return row;
            }
            if first.x0 <= left {
                let words = first.seen(lexicon, style).value.is_none() && first.letters() > 2;
                let label = row.cells.get(1).is_some_and(|c| c.letters() > 1 && c.seen(lexicon, style).unit.is_none());
                group = (words && label && row.cells.len() >= 3 && !bands::is_figure_label(first, lexicon, style))
                    .then(|| first.clone());
            } else if let Some(group) = &group
                && row.cells.len() >= 2
                && first.x0 < group.x1 + 1.5
            {
                let mut copy = group.with_text(group.text.clone());
                copy.words.clear();
                row.cells.insert(0, copy);
            }
            row
        })
        .collect()
}

/// Whether a row of the band is a figure's, its group's heading taken in.
pub fn has_grouped(rows: &[Row], desk: &Desk<'_>) -> bool {
    mark_groups(rows, &desk.section, desk.lexicon, desk.style)
        .iter()
        .any(|r| r.grouped.is_some() && figure_row(r, desk.lexicon, desk.style))
}
