//! A band of rows as a table: which way it runs, what each column holds, and the figures in it.
//!
//! Every table is read with its properties down the side; one with its properties across the top is turned first.

use super::bands::{self, Span};
use super::cells::{Cell, Row};
use super::ledger::{Ledger, WordId};
use super::scope::{Fact, Scopes, Trust};
use super::style::Style;
use super::{Figure, ReferenceText};
use super::{mentions, prose};
use crate::lexicon::{FacetId, FacetKind, Label, Lexicon, Role, Target, fold};
use crate::quantity::{Matter, Unit};
use crate::record::{Doubt, Qualifier};
use regex::Regex;
use std::sync::OnceLock;

/// What the reading of a table needs at hand.
pub struct Desk<'a> {
    /// Words.
    pub lexicon: &'a Lexicon,
    /// Number style of the part.
    pub style: &'a Style,
    /// Samples.
    pub scopes: &'a mut Scopes,
    /// Account of numbers.
    pub ledger: &'a mut Ledger,
    /// Facets of the headings above.
    pub section: Vec<FacetId>,
    /// Unit that a heading gives to all below it.
    pub section_unit: Option<Unit>,
    /// What the page's footnotes say, by their marks.
    pub footnotes: &'a Footnotes,
}

/// Facets that footnotes give to the figures that carry their mark.
pub type Footnotes = std::collections::HashMap<String, Vec<FacetId>>;

/// What a column holds.
#[derive(Clone, Debug, PartialEq)]
enum Holds {
    Label,
    Value,
    Reference(Role),
    Unit,
    Method,
    Detection,
    Deviation,
    Basis,
    Sign,
    Fact(String),
    Other(Role),
    Words,
}

#[derive(Clone, Debug)]
struct Column {
    span: Span,
    holds: Holds,
    head: Option<Label>,
    head_text: String,
    facts: Vec<Fact>,
    previous: bool,
    mean: bool,
    replicate: bool,
    named: bool,
    unsure: bool,
    /// Its head says that it holds the result.
    is_result: bool,
    /// Its head says of what the figures are ("dry basis", "result") and names no sample.
    describes: bool,
}

/// Columns of a table, kept for the bands below it that have no head of their own.
#[derive(Clone, Debug, Default)]
pub struct Carried {
    columns: Vec<Column>,
    samples: Vec<Option<usize>>,
}

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

fn across_count(heads: &[Row], body: &[Row], lexicon: &Lexicon, style: &Style) -> usize {
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
struct Head {
    text: String,
    cells: Vec<Cell>,
}

/// Head texts of each column, read downwards.
fn join_heads(heads: &[Row], spans: &[Span]) -> Vec<Head> {
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
fn unit_of_group(text: &str) -> Option<(&str, &str)> {
    let text = text.trim();
    let (words, unit) = match text.strip_suffix([')', ']']) {
        Some(inside) => inside.rsplit_once(['(', '[']),
        None => text.rsplit_once(','),
    }?;
    let (words, unit) = (words.trim(), unit.trim());
    (!words.is_empty() && Unit::parse(unit).is_some()).then_some((words, unit))
}

/// Columns of each cell of a head row. As many cells as columns stand in their order.
fn assign<'r>(row: &'r Row, spans: &[Span]) -> Vec<(&'r Cell, Vec<usize>)> {
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

fn is_figure(cell: &Cell, lexicon: &Lexicon, style: &Style) -> bool {
    cell.seen(lexicon, style).value.is_some()
}

/// A row whose label is a figure's and that holds a figure, or says that there is none.
fn figure_row(row: &Row, lexicon: &Lexicon, style: &Style) -> bool {
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
fn mark_groups(rows: &[Row], section: &[FacetId], lexicon: &Lexicon, style: &Style) -> Vec<Row> {
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
fn carry_groups(rows: &[Row], lexicon: &Lexicon, style: &Style) -> Vec<Row> {
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

/// Reads a band as a table with its properties down the side. Returns what bands below may need.
pub fn read(rows: &[Row], desk: &mut Desk<'_>, carried: Option<Carried>) -> Option<Carried> {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let carried_down = carry_groups(rows, lexicon, style);
    let marked = mark_groups(&carried_down, &desk.section, lexicon, style);
    let rows = marked.as_slice();
    let body: Vec<&Row> = rows.iter().filter(|r| figure_row(r, lexicon, style)).collect();
    if body.is_empty() {
        facts_only(rows, desk);
        return carried;
    }
    let first = rows.iter().position(|r| figure_row(r, lexicon, style)).unwrap_or(0);
    let spans = bands::columns(&body);
    // Heads stand right above the figures; facts further up have labels of their own.
    let mut heads: Vec<&Row> = rows
        .iter()
        .take(first)
        .rev()
        .take_while(|r| r.cells.len() == 1 || is_head_row(r, lexicon, style))
        .filter(|r| is_head_row(r, lexicon, style))
        .collect();
    heads.reverse();
    let mut columns = describe(&spans, &heads, &body, desk);
    attribute_rows(rows, &mut columns, desk);
    let has_heads = columns.iter().any(|c| c.named || !c.facts.is_empty());
    let reused = carried.filter(|c| !has_heads && fits(&c.columns, &spans));
    let (columns, samples) = match reused {
        Some(known) => (known.columns, known.samples),
        None => {
            settle(&mut columns, &body, desk);
            let samples = open_samples(&columns, desk);
            (columns, samples)
        }
    };
    let value_columns = columns.iter().filter(|c| c.holds == Holds::Value).count();
    let mut group: Vec<FacetId> = Vec::new();
    for row in rows {
        let head_row = heads.iter().any(|h| std::ptr::eq(*h, row));
        if head_row || is_attribute_row(row, &columns, lexicon, style) {
            for cell in &row.cells {
                desk.ledger.set_aside(&cell.words, "heading");
            }
            continue;
        }
        if figure_row(row, lexicon, style) {
            figures(row, &columns, &samples, &group, desk);
            continue;
        }
        // The name of a sample between its rows and another's, before what it may mention is looked for.
        if let [only] = row.cells.as_slice()
            && !only.colon
            && only.word_count() <= 8
            && only.seen(lexicon, style).value.is_none()
            && names_sample(only, desk)
        {
            group = lexicon.heading_facets(&only.text);
            continue;
        }
        if facts_of_row(row, desk, value_columns) {
            continue;
        }
        if row.cells.len() == 1
            && let Some(cell) = row.cells.first()
            && (cell.word_count() <= 8 || super::runs::is_long_heading(&cell.text))
            && cell.seen(lexicon, style).value.is_none()
        {
            group = lexicon.heading_facets(&cell.text);
            // "RESIN" under figures of the water: what its section said of the water no longer holds.
            if lexicon.facet_id("resin").is_some_and(|r| lexicon.understand(&cell.text, &[]).facets.contains(&r)) {
                let context = |id: &FacetId| lexicon.facet(*id).is_some_and(|f| f.kind == FacetKind::Context);
                desk.section.retain(|id| !context(id));
            }
            names_sample(cell, desk);
            continue;
        }
        figures(row, &columns, &samples, &group, desk);
    }
    let mut distinct: Vec<usize> = samples.iter().flatten().copied().collect();
    distinct.sort_unstable();
    distinct.dedup();
    if distinct.len() > 1 {
        desk.scopes.leave_table();
    }
    Some(Carried { columns, samples })
}

fn fits(known: &[Column], spans: &[Span]) -> bool {
    !known.is_empty()
        && spans.len() <= known.len()
        && spans.iter().all(|s| known.iter().any(|c| c.span.x0 < s.x1 && s.x0 < c.span.x1))
}

/// A row above the figures that names columns: no fact of its own, more than one cell or one that is a role.
fn is_head_row(row: &Row, lexicon: &Lexicon, style: &Style) -> bool {
    let Some(first) = row.cells.first() else { return false };
    if row.cells.len() == 1 {
        let seen = first.seen(lexicon, style);
        return seen.role.is_some() && first.word_count() <= 4 && !first.colon || (seen.unit.is_some() && !first.colon);
    }
    let fact = bands::is_label(first, lexicon, style)
        && !first.seen(lexicon, style).label.target.as_ref().is_some_and(Target::is_figure)
        && (first.colon || row.cells.len() == 2);
    if fact && row.cells.iter().skip(1).all(|c| c.seen(lexicon, style).role.is_none()) {
        return false;
    }
    if is_pair_row(row, lexicon, style)
        || row.cells.iter().skip(1).any(|c| c.colon)
        || row
            .cells
            .iter()
            .any(|c| mentions::find(&c.text, lexicon).iter().any(|m| m.key == "report_number" || m.key == "resin"))
    {
        return false;
    }
    let values = row.cells.iter().filter(|c| {
        let seen = c.seen(lexicon, style);
        seen.value.as_ref().is_some_and(|(v, _)| v.unit.is_some() || v.qualifier != Qualifier::Equal)
    });
    // "pH 7.3": a word that nothing explains and its figure head no columns.
    let pair = match row.cells.as_slice() {
        [_, value] => {
            value.seen(lexicon, style).value.is_some() && crate::value::date::parse_date(&value.text).is_none()
        }
        _ => false,
    };
    values.count() == 0 && !pair
}

/// "Report | WT/25/66 | Sampled | 2025-06-10": facts, each behind its own label. An export may put the kind of the line
/// before them.
pub fn is_pair_row(row: &Row, lexicon: &Lexicon, style: &Style) -> bool {
    let kind = row.cells.first().is_some_and(|c| c.text.chars().count() == 1 && c.letters() == 1);
    let cells = row.cells.get(usize::from(kind && row.cells.len() % 2 == 1)..).unwrap_or_default();
    let names_fact = |cell: &Cell| {
        let seen = cell.seen(lexicon, style);
        matches!(&seen.label.target, Some(Target::Key(_))) && seen.label.is_clear()
    };
    // The same label twice stands over two samples side by side.
    let mut names: Vec<&Target> = Vec::new();
    cells.len() >= 4
        && cells.len() % 2 == 0
        && cells.chunks_exact(2).all(|pair| {
            let [name, fact] = pair else { return false };
            let Some(target) = name.seen(lexicon, style).label.target.as_ref() else { return false };
            let new = !names.contains(&target);
            names.push(target);
            new && names_fact(name) && fact.seen(lexicon, style).role.is_none() && !names_fact(fact)
        })
}

fn describe(spans: &[Span], heads: &[&Row], body: &[&Row], desk: &Desk<'_>) -> Vec<Column> {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let plain: Vec<Row> = heads.iter().filter(|r| !attribute_like(r, lexicon, style)).map(|r| (*r).clone()).collect();
    let joined = join_heads(&plain, spans);
    let label_at = label_column(spans, body, lexicon, style);
    spans
        .iter()
        .enumerate()
        .zip(joined)
        .map(|((at, &span), head)| {
            let mut column = Column {
                span,
                holds: Holds::Words,
                head: None,
                head_text: head.text.clone(),
                facts: Vec::new(),
                previous: false,
                mean: false,
                replicate: false,
                named: false,
                unsure: false,
                is_result: false,
                describes: false,
            };
            if Some(at) == label_at {
                column.holds = Holds::Label;
                return column;
            }
            name_column(&mut column, &head, body, desk);
            column
        })
        .collect()
}

/// A row that begins with the label of a fact and goes on with the facts, rather than with the names of columns.
fn attribute_like(row: &Row, lexicon: &Lexicon, style: &Style) -> bool {
    let Some(first) = row.cells.first() else { return false };
    if !is_fact_label(first, lexicon, style) || row.cells.len() < 3 {
        return false;
    }
    let names = row.cells.iter().skip(1).filter(|c| {
        let seen = c.seen(lexicon, style);
        let key = matches!(&seen.label.target, Some(Target::Key(_))) && seen.label.is_clear();
        key || matches!(seen.role, Some(Role::Unit | Role::Parameter | Role::Result | Role::Method | Role::Rating))
    });
    names.count() * 2 < row.cells.len() - 1
}

fn is_fact_label(cell: &Cell, lexicon: &Lexicon, style: &Style) -> bool {
    matches!(&cell.seen(lexicon, style).label.target, Some(Target::Key(_)))
        && (cell.colon || cell.seen(lexicon, style).label.is_clear())
}

fn label_column(spans: &[Span], body: &[&Row], lexicon: &Lexicon, style: &Style) -> Option<usize> {
    let mut counts = vec![0usize; spans.len()];
    for row in body {
        if let Some(cell) = row
            .cells
            .iter()
            .find(|c| bands::is_figure_label(c, lexicon, style))
            .or_else(|| row.grouped.and_then(|at| row.cells.get(at)))
            && let Some(at) = bands::over(cell, spans, 0.0).first()
            && let Some(count) = counts.get_mut(*at)
        {
            *count += 1;
        }
    }
    counts.iter().enumerate().max_by_key(|(at, n)| (**n, usize::MAX - at)).filter(|(_, n)| **n > 0).map(|(at, _)| at)
}

/// What the head and the cells of a column say that it holds.
fn name_column(column: &mut Column, head: &Head, body: &[&Row], desk: &Desk<'_>) {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let cells: Vec<&Cell> = body
        .iter()
        .flat_map(|r| r.cells.iter().filter(|c| bands::over(c, std::slice::from_ref(&column.span), 0.0).len() == 1))
        .collect();
    let count = |f: &dyn Fn(&Cell) -> bool| cells.iter().filter(|c| f(c)).count();
    let values = count(&|c| is_figure(c, lexicon, style));
    let units = count(&|c| c.seen(lexicon, style).unit.is_some());
    let methods = count(&|c| c.seen(lexicon, style).method);
    let filled = count(&|c| !c.seen(lexicon, style).blank);
    let text = head.text.trim();
    column.named = !text.is_empty();
    let mut label = lexicon.understand(text, &[]);
    // A head that is a unit and nothing else.
    if label.unit.is_none()
        && let Some(unit) = head.cells.iter().find_map(|c| Unit::parse(&c.text)).or_else(|| Unit::parse(text))
    {
        label.basis = label.basis.take().or_else(|| {
            unit.matter.map(|m| match m {
                Matter::Dry => "dry_mass".to_owned(),
                Matter::Wet => "wet_mass".to_owned(),
                Matter::Resin(_) => "volume".to_owned(),
            })
        });
        label.unit = Some(unit);
    }
    match text.to_lowercase().as_str() {
        "in" | "inlet" => label.contexts.push("feed".to_owned()),
        "out" | "outlet" => label.contexts.push("outlet".to_owned()),
        _ => {}
    }
    let bases = count(&|c| names_basis(&c.text, lexicon));
    // "count", "drained" in a column of bases belong to properties that have none.
    if bases > 0 && (bases == filled || bases * 2 > filled && values == 0 && units == 0 && filled >= 4) {
        column.holds = Holds::Basis;
        return;
    }
    // "R", "F", "H" down the side of an export are kinds of lines, not degrees.
    let kinds = count(&|c| c.text.trim().chars().count() == 1 && c.text.chars().all(char::is_uppercase));
    if kinds > 1 && kinds == filled && text.is_empty() {
        column.holds = Holds::Words;
        return;
    }
    if units > 0 && units * 2 > filled && values <= filled / 3 {
        column.holds = Holds::Unit;
        return;
    }
    let signs = count(&|c| matches!(c.text.trim(), "=" | "<" | ">" | "~" | "≤" | "≥" | "<=" | ">="));
    if signs > 0 && signs == cells.len() {
        column.holds = Holds::Sign;
        return;
    }
    if methods > 0 && methods * 2 > filled {
        column.holds = Holds::Method;
        return;
    }
    if text.is_empty() {
        column.holds = by_content(&cells, values, filled, lexicon, style);
        column.unsure = column.holds == Holds::Value;
        return;
    }
    // A head of several lines: the role may stand in one of them ("Result" over "mg/kg", "2024" over "Result").
    let roles: Vec<Role> = head.cells.iter().filter_map(|c| c.seen(lexicon, style).role).collect();
    let role = lexicon.role(text).or_else(|| {
        let strong = roles.iter().copied().find(|r| !matches!(r, Role::Result | Role::Average));
        strong.or_else(|| roles.first().copied())
    });
    column.previous = label.has_context("previous") || role == Some(Role::Previous);
    let new = label.has_context("new") || label.has_context("startup");
    column.holds = match role {
        Some(Role::Result | Role::Previous) => Holds::Value,
        Some(Role::Average) => {
            column.mean = true;
            Holds::Value
        }
        Some(Role::Replicate) => {
            column.replicate = true;
            Holds::Value
        }
        Some(role @ (Role::Specification | Role::SpecificationLow | Role::SpecificationHigh)) => Holds::Reference(role),
        Some(Role::Unit) if units > 0 || values == 0 => Holds::Unit,
        Some(Role::Method) => Holds::Method,
        Some(Role::DetectionLimit) => Holds::Detection,
        Some(Role::Deviation) => Holds::Deviation,
        Some(Role::Parameter) if values == 0 => Holds::Words,
        // "Metric" over figures is no name of a property; "Item" over 1, 2, 3 counts them.
        Some(Role::Parameter) if fold(text) == "metric" => Holds::Value,
        Some(role) => Holds::Other(role),
        None if new || names_limits(text, &label, lexicon) => Holds::Reference(Role::Specification),
        None => {
            if matches!(&label.target, Some(Target::Key(key)) if key == "remark") {
                Holds::Other(Role::Rating)
            } else if let Some(Target::Key(key)) = &label.target
                && (values == 0 || names_by_number(key, &cells, lexicon, style))
                && label.is_clear()
            {
                Holds::Fact(key.clone())
            } else if values > 0 || filled == 0 {
                Holds::Value
            } else {
                by_content(&cells, values, filled, lexicon, style)
            }
        }
    };
    if column.holds == Holds::Value {
        column.is_result = matches!(role, Some(Role::Result));
        column.describes = column.is_result || only_describes(&label, lexicon);
        if !column.describes || matches!(role, Some(Role::Result)) {
            column.facts = head_facts(head, desk);
        }
    }
    column.head = Some(label);
}

/// Samples named by numbers: whole ones, each on several rows.
fn names_by_number(key: &str, cells: &[&Cell], lexicon: &Lexicon, style: &Style) -> bool {
    let whole = |c: &&Cell| {
        c.text.chars().all(|c| c.is_ascii_digit())
            && c.seen(lexicon, style).value.as_ref().is_some_and(|(v, _)| v.unit.is_none())
    };
    let mut names: Vec<&str> = cells.iter().map(|c| c.text.as_str()).collect();
    let all = names.len();
    names.sort_unstable();
    names.dedup();
    matches!(key, "sample_id" | "vessel" | "report_number")
        && cells.iter().all(whole)
        && (names.len() < all || all == 1)
}

/// "dry", "Trockenmasse", "wet volume": a basis and nothing else.
fn names_basis(text: &str, lexicon: &Lexicon) -> bool {
    let label = lexicon.understand(text, &[]);
    let basis = label.basis.is_some() && label.target.is_none() || of_volume(&label, lexicon);
    basis && label.unexplained.is_empty() && !text.contains(['/', '%'])
}

/// "Harzvolumen" in a column of bases.
fn of_volume(label: &Label, lexicon: &Lexicon) -> bool {
    label.facets.len() == 1 && lexicon.facet_id("bed_volume").is_some_and(|v| label.facets.contains(&v))
}

/// "on the dry resin": a remark that is a basis and nothing else.
fn says_basis(cell: &Cell, lexicon: &Lexicon) -> bool {
    let label = lexicon.understand(&cell.text, &[]);
    label.basis.is_some() && label.unexplained.is_empty() && label.loose_numbers.is_empty()
}

/// "Supplier's specification", "Plant limits": a word of the head says it, whatever stands beside it.
fn names_limits(text: &str, label: &Label, lexicon: &Lexicon) -> bool {
    !label.target.as_ref().is_some_and(Target::is_figure)
        && text.split_whitespace().any(|word| {
            matches!(lexicon.role(word), Some(Role::Specification | Role::SpecificationLow | Role::SpecificationHigh))
        })
}

fn by_content(cells: &[&Cell], values: usize, filled: usize, lexicon: &Lexicon, style: &Style) -> Holds {
    if values == 0 {
        return Holds::Words;
    }
    let bounded = cells
        .iter()
        .filter(|c| {
            c.seen(lexicon, style).value.as_ref().is_some_and(|(v, _)| {
                v.bound.is_some()
                    || v.qualifier == Qualifier::Range
                    || (v.qualifier != Qualifier::Equal && !v.not_detected)
            })
        })
        .count();
    if bounded * 2 > values && filled > 1 { Holds::Reference(Role::Specification) } else { Holds::Value }
}

/// A heading that names a sample: its vessel, its place in the bed, its own name. False if it names none.
pub fn names_sample(cell: &Cell, desk: &mut Desk<'_>) -> bool {
    let lexicon = desk.lexicon;
    let text = cell.text.trim().trim_matches(['=', '*', '#', '~', '-', '_']).trim();
    if names_exchanger(text) {
        desk.ledger.set_aside(&cell.words, reason("vessel"));
        let fact = Fact {
            key: "vessel".into(),
            text: text.to_owned(),
            place: cell.place.clone(),
            words: cell.words.clone(),
            ..Fact::default()
        };
        desk.scopes.learn(fact, lexicon);
        return true;
    }
    let text = mentions::own_part("vessel", text, lexicon).and_then(|end| text.get(..end)).unwrap_or(text);
    let label = lexicon.understand(text, &[]);
    let has = |id: &str| lexicon.facet_id(id).is_some_and(|f| label.facets.contains(&f));
    let marked = !label.unexplained.is_empty() || !label.loose_numbers.is_empty();
    let context = ["feed", "outlet", "wash"].iter().any(|c| label.has_context(c));
    let named = (has("sample") || has("vessel")) && marked && label.unexplained.len() <= 3;
    let placed = label.position.is_some() && label.unexplained.len() <= 1 && label.loose_numbers.len() <= 1;
    let sentence = cell.word_count() > 7 || (text.ends_with('.') && cell.word_count() > 3);
    if context
        || sentence
        || mentions::is_address(text)
        || has("report")
        || !(named || placed)
        || label.target.as_ref().is_some_and(Target::is_figure)
    {
        return false;
    }
    let facts = name_facts(cell, text, desk);
    let any = !facts.is_empty();
    for fact in facts {
        desk.ledger.set_aside(&fact.words, reason(&fact.key));
        desk.scopes.learn(fact, lexicon);
    }
    any
}

/// "CATION 2A", "Anion exchanger B": one of the beds of a demineralizer.
fn names_exchanger(text: &str) -> bool {
    static NAME: OnceLock<Option<Regex>> = OnceLock::new();
    NAME.get_or_init(|| {
        Regex::new(
            r"^(?i:cation|anion|kationen?|anionen?|cationique|anionique|cati[oó]n|ani[oó]n|mixed bed|mischbett|polisher)(?i:[- ]?(?:exchanger|unit|vessel|tank|bed|filter|tauscher|austauscher|column|échangeur))?\s+[A-Z]?-?\d{1,3}[A-Z]?$|^(?i:cation|anion)\s+[A-Z]$",
        )
        .ok()
    })
    .as_ref()
    .is_some_and(|p| p.is_match(text))
}

/// Facts that the head of a value column gives: a date, a place in the bed, a vessel, a sample's name.
fn head_facts(head: &Head, desk: &Desk<'_>) -> Vec<Fact> {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let mut facts = Vec::new();
    for cell in &head.cells {
        let seen = cell.seen(lexicon, style);
        let fact = |key: &str, text: &str| Fact {
            key: key.to_owned(),
            text: text.trim().to_owned(),
            place: cell.place.clone(),
            words: cell.words.clone(),
            order: style.order(),
            trust: Trust::Stated,
        };
        let lone_year = cell.text.trim().len() == 4 && crate::value::date::parse_date(cell.text.trim()).is_some();
        if seen.date.is_some() || lone_year {
            facts.push(fact("sampled_on", &cell.text));
            continue;
        }
        if seen.unit.is_some() && cell.text.contains(['/', '%']) {
            continue;
        }
        if seen.role.is_some() {
            continue;
        }
        facts.extend(name_facts(cell, &cell.text, desk));
    }
    facts
}

/// "Dry basis", "Na form", "metric", "In": they say of what the figures are, and name no sample.
fn only_describes(label: &Label, lexicon: &Lexicon) -> bool {
    let described =
        |kind: FacetKind| matches!(kind, FacetKind::Basis | FacetKind::Form | FacetKind::As | FacetKind::Context);
    label.unexplained.is_empty()
        && label.loose_numbers.is_empty()
        && label.facets.iter().all(|&id| lexicon.facet(id).is_some_and(|f| described(f.kind)))
}

/// What a sample's or column's name says: place in the bed, vessel, or a name of its own.
pub fn name_facts(cell: &Cell, text: &str, desk: &Desk<'_>) -> Vec<Fact> {
    let lexicon = desk.lexicon;
    let mut facts = Vec::new();
    let mut fact = |key: &str, text: &str| {
        facts.push(Fact {
            key: key.to_owned(),
            text: text.trim().trim_matches(['-', '–', ':', ',', '(', ')']).trim().to_owned(),
            place: cell.place.clone(),
            words: cell.words.clone(),
            order: desk.style.order(),
            trust: Trust::Stated,
        });
    };
    let dates = crate::value::date::find_dates(text);
    let mut rest = text.to_owned();
    for date in dates.iter().rev() {
        if let Some(found) = text.get(date.start..date.end) {
            fact("sampled_on", found);
            if rest.is_char_boundary(date.start) && rest.is_char_boundary(date.end) && date.end <= rest.len() {
                rest.replace_range(date.start..date.end, "");
            }
        }
    }
    let rest = rest.trim().trim_matches(['-', '–', ':', ',', '(', ')', '/']).trim().to_owned();
    if rest.is_empty() {
        return facts;
    }
    let label = lexicon.understand(&rest, &[]);
    let has = |id: &str| lexicon.facet_id(id).is_some_and(|f| label.facets.contains(&f));
    let named = !label.unexplained.is_empty() || !label.loose_numbers.is_empty();
    if only_describes(&label, lexicon) {
        return facts;
    }
    if let Some(state) = &label.state
        && !named
    {
        fact("condition", state);
        return facts;
    }
    if label.position.is_some() {
        if !named && !has("vessel") {
            fact("position", &rest);
            return facts;
        }
        // "Softener 2 - top": a vessel and a place in it.
        for separator in [" - ", " – ", ", ", " / ", ": ", " ("] {
            if let Some((a, b)) = rest.split_once(separator) {
                let left = lexicon.understand(a, &[]);
                let right = lexicon.understand(b, &[]);
                let (name, place) = if right.position.is_some() && right.unexplained.is_empty() {
                    (a, b)
                } else if left.position.is_some() && left.unexplained.is_empty() {
                    (b, a)
                } else {
                    continue;
                };
                fact("position", place);
                let name = name.trim();
                let inner = lexicon.understand(name, &[]);
                let vessel = lexicon.facet_id("vessel").is_some_and(|f| inner.facets.contains(&f));
                fact(if vessel { "vessel" } else { "sample_id" }, name);
                return facts;
            }
        }
    }
    if has("vessel")
        && has("sample")
        && let Some((sample, vessel)) = sample_and_vessel(&rest, lexicon)
    {
        fact("sample_id", sample);
        fact("vessel", vessel);
        return facts;
    }
    if has("vessel") && (named || rest.split_whitespace().count() >= 1) {
        fact("vessel", vessel_part(&rest, lexicon));
    } else if named || !label.facets.is_empty() {
        let stripped = strip_sample_word(&rest, lexicon);
        fact("sample_id", &stripped);
    }
    facts
}

/// "Lab sample 25-0910 - Softener 1": the name of the sample, and the vessel.
fn sample_and_vessel<'t>(text: &'t str, lexicon: &Lexicon) -> Option<(&'t str, &'t str)> {
    let (sample, vessel) = (lexicon.facet_id("sample")?, lexicon.facet_id("vessel")?);
    [" — ", " – ", " - ", ": ", ", "].iter().find_map(|separator| {
        let (name, place) = text.split_once(separator)?;
        let (left, right) = (lexicon.understand(name, &[]), lexicon.understand(place, &[]));
        let parted = left.facets.contains(&sample) && !left.facets.contains(&vessel) && right.facets.contains(&vessel);
        let start = name.find(|c: char| c.is_ascii_digit())?;
        let from = name.get(..start)?.rfind(' ').map_or(0, |at| at + 1);
        parted.then_some((name.get(from..)?, place))
    })
}

/// "Softener East - resin trend", "Resin history, softener 1": the part of a title that names the vessel.
fn vessel_part<'t>(text: &'t str, lexicon: &Lexicon) -> &'t str {
    let (Some(vessel), Some(resin)) = (lexicon.facet_id("vessel"), lexicon.facet_id("resin")) else { return text };
    for separator in [" - ", " – ", " — ", ", ", ": "] {
        let Some((a, b)) = text.split_once(separator) else { continue };
        let (left, right) = (lexicon.understand(a, &[]), lexicon.understand(b, &[]));
        let (in_left, in_right) = (left.facets.contains(&vessel), right.facets.contains(&vessel));
        if in_left && !in_right && right.facets.contains(&resin) {
            return a;
        }
        if in_right && !in_left && left.facets.contains(&resin) {
            return b;
        }
    }
    text
}

/// "Sample V2-core" is named V2-core; "Sample 3" is named by both words where nothing else is left.
fn strip_sample_word(text: &str, lexicon: &Lexicon) -> String {
    let mut words = text.split_whitespace();
    let Some(first) = words.next() else { return text.to_owned() };
    let rest = words.collect::<Vec<_>>().join(" ");
    let sample = lexicon.facet_id("sample");
    let number = lexicon.facet_id("number");
    let label = lexicon.understand(first, &[]);
    let is_word =
        sample.is_some_and(|s| label.facets.contains(&s)) || number.is_some_and(|s| label.facets.contains(&s));
    if is_word && label.unexplained.is_empty() && !rest.is_empty() {
        strip_sample_word(rest.trim_start_matches(['#', ':', '-', '.']).trim(), lexicon)
    } else {
        text.to_owned()
    }
}

/// Rows that give a fact for each column: "Sample ID | A-1 | A-2".
fn is_attribute_row(row: &Row, columns: &[Column], lexicon: &Lexicon, style: &Style) -> bool {
    let Some(first) = row.cells.first() else { return false };
    let values: Vec<&Column> = columns.iter().filter(|c| c.holds == Holds::Value).collect();
    is_fact_label(first, lexicon, style)
        && row.cells.len() > 2
        && values.len() > 1
        && row.cells.iter().skip(1).filter(|c| values.iter().any(|v| c.overlap(v.span.x0, v.span.x1) > 0.0)).count()
            >= 2
}

fn attribute_rows(rows: &[Row], columns: &mut [Column], desk: &Desk<'_>) {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let spans: Vec<Span> = columns.iter().map(|c| c.span).collect();
    for row in rows {
        let Some(first) = row.cells.first() else { continue };
        let enough = row.cells.len() > 2 || (row.table == Some(u32::MAX) && row.cells.len() == 2);
        let turned = row.table == Some(u32::MAX);
        if !is_fact_label(first, lexicon, style)
            || !enough
            || figure_row(row, lexicon, style)
            || (!turned && !attribute_like(row, lexicon, style))
            // "Unit" over the names of rows, once they are turned, is a column's head and no vessel.
            || (turned && (first.x0 > 0.0 || first.seen(lexicon, style).role.is_some()))
        {
            continue;
        }
        let Some(Target::Key(key)) = first.seen(lexicon, style).label.target.clone() else { continue };
        let key = if key == "reported_on" && fold(&first.text) != fold("report date") {
            "sampled_on".to_owned()
        } else {
            key
        };
        for cell in row.cells.iter().skip(1) {
            for at in bands::over(cell, &spans, 0.0) {
                let Some(column) = columns.get_mut(at) else { continue };
                if column.holds == Holds::Label {
                    continue;
                }
                // "Superior, media, inferior": among places in the bed the mean is the middle.
                let middle = fold(&cell.text) == "media"
                    && row.cells.iter().any(|c| c.seen(lexicon, style).label.position.is_some());
                if middle && column.facts.iter().all(|f| f.key != "position") {
                    column.facts.push(Fact {
                        key: "position".into(),
                        text: "middle".into(),
                        place: cell.place.clone(),
                        words: cell.words.clone(),
                        order: style.order(),
                        trust: Trust::Stated,
                    });
                    column.holds = Holds::Value;
                    column.mean = false;
                    continue;
                }
                if let Some(role) = cell.seen(lexicon, style).role
                    && role != Role::Result
                    && column.holds == Holds::Value
                {
                    column.named = true;
                    match role {
                        Role::Specification | Role::SpecificationLow | Role::SpecificationHigh => {
                            column.holds = Holds::Reference(role);
                        }
                        Role::Average => column.mean = true,
                        Role::Previous => column.previous = true,
                        Role::Unit => column.holds = Holds::Unit,
                        Role::Method => column.holds = Holds::Method,
                        Role::DetectionLimit => column.holds = Holds::Detection,
                        Role::Deviation => column.holds = Holds::Deviation,
                        other => column.holds = Holds::Other(other),
                    }
                    continue;
                }
                let label = &cell.seen(lexicon, style).label;
                if (label.has_context("new"))
                    && column.holds == Holds::Value
                    && matches!(key.as_str(), "sample_id" | "vessel" | "position")
                {
                    column.holds = Holds::Reference(Role::Specification);
                    column.named = true;
                    continue;
                }
                // "Softener 9 | 2024-05-21 | 2022-05-24"
                let dated = cell.seen(lexicon, style).date.is_some() && !key.ends_with("_on");
                let placed = key == "sample_id" && label.position.is_some() && label.unexplained.is_empty();
                let key = match () {
                    () if dated => "sampled_on".to_owned(),
                    () if placed => "position".to_owned(),
                    () => key.clone(),
                };
                if column.facts.iter().any(|f| f.key == key) {
                    continue;
                }
                let text = if key == "sample_id" { strip_sample_word(&cell.text, lexicon) } else { cell.text.clone() };
                column.facts.push(Fact {
                    key: key.clone(),
                    text,
                    place: cell.place.clone(),
                    words: cell.words.clone(),
                    order: style.order(),
                    trust: Trust::Stated,
                });
            }
        }
    }
}

/// "Outcome | Low | High": beside one column of results the ends of a range are its limits. "Upper | Lower" without
/// one are two places in the bed.
fn limits_beside_result(columns: &mut [Column], lexicon: &Lexicon) {
    let end = |c: &Column| lexicon.end_of_range(&c.head_text).filter(|_| c.holds == Holds::Value && !c.is_result);
    let ends: Vec<Option<Role>> = columns.iter().map(end).collect();
    let both = [Role::SpecificationLow, Role::SpecificationHigh].iter().all(|role| ends.contains(&Some(*role)));
    // The one column left is the result, whatever it is called, unless it too is a place in the bed.
    let others: Vec<&Column> =
        columns.iter().zip(&ends).filter(|(c, e)| c.holds == Holds::Value && e.is_none()).map(|(c, _)| c).collect();
    let between = |f: &Fact| {
        let position = lexicon.understand(&f.text, &[]).position;
        position.is_some_and(|p| p != "core" && p != "composite")
    };
    let placed = |c: &&Column| c.facts.iter().any(|f| f.key == "position" && between(f));
    if !both || others.len() != 1 || others.iter().any(placed) {
        return;
    }
    for (column, end) in columns.iter_mut().zip(ends) {
        if let Some(role) = end {
            column.holds = Holds::Reference(role);
            column.facts.clear();
        }
    }
}

/// Where the heads leave open which of several columns is the result.
fn settle(columns: &mut [Column], body: &[&Row], desk: &Desk<'_>) {
    let (lexicon, style) = (desk.lexicon, desk.style);
    limits_beside_result(columns, lexicon);
    for column in columns.iter_mut().filter(|c| !c.facts.is_empty() && c.holds == Holds::Value) {
        column.unsure = false;
        column.named = true;
    }
    // "Superior, media, inferior": among places in the bed the mean is the middle.
    let places = columns.iter().filter(|c| c.facts.iter().any(|f| f.key == "position")).count();
    for column in columns.iter_mut().filter(|c| c.mean && places >= 2 && fold(&c.head_text) == "media") {
        column.mean = false;
        column.unsure = false;
        column.facts.push(Fact { key: "position".into(), text: "middle".into(), ..Fact::default() });
    }
    // A mean beside several samples is no sample; beside replicates it is the result.
    let samples = columns.iter().filter(|c| c.holds == Holds::Value && !c.mean && !c.replicate).count();
    if samples > 0 {
        for column in columns.iter_mut().filter(|c| c.holds == Holds::Value && c.mean) {
            column.holds = Holds::Other(Role::Average);
        }
    }
    let has_result = columns.iter().any(|c| c.holds == Holds::Value && !c.unsure && !c.previous);
    let results = columns.iter().filter(|c| c.holds == Holds::Value && c.is_result).count();
    if results == 1 {
        // "k", "Charge": beside the one column headed as the result, a word that says nothing names no sample.
        for column in columns.iter_mut().filter(|c| c.holds == Holds::Value && !c.is_result) {
            let named = column.facts.iter().any(|f| f.key != "sample_id" || f.text.chars().any(|c| c.is_ascii_digit()));
            if !named && !column.previous && !column.mean && !column.replicate && !column.describes {
                column.holds = Holds::Other(Role::Rating);
            }
        }
    }
    if has_result {
        // Beside a named result, a column without a head is no sample.
        for column in columns.iter_mut().filter(|c| c.unsure) {
            column.holds = Holds::Other(Role::Rating);
        }
    }
    // Roles printed in the cells themselves: "min 1.9", "new 2.0".
    for column in columns.iter_mut().filter(|c| c.holds == Holds::Value && c.facts.is_empty()) {
        let cells: Vec<&Cell> = body
            .iter()
            .flat_map(|r| r.cells.iter().filter(|c| c.overlap(column.span.x0, column.span.x1) > 0.0))
            .collect();
        let bounded = cells
            .iter()
            .filter(|c| c.seen(lexicon, style).value.as_ref().is_some_and(|(v, _)| v.bound.is_some()))
            .count();
        if bounded > 0 && bounded * 2 > cells.len() && !column.named {
            column.holds = Holds::Reference(Role::Specification);
        }
    }
}

fn open_samples(columns: &[Column], desk: &mut Desk<'_>) -> Vec<Option<usize>> {
    let values: Vec<usize> = columns
        .iter()
        .enumerate()
        .filter(|(_, c)| c.holds == Holds::Value && !c.mean && !c.replicate)
        .map(|(at, _)| at)
        .collect();
    let long =
        columns.iter().any(|c| matches!(&c.holds, Holds::Fact(k) if super::scope::IDENTITY.contains(&k.as_str())));
    let alone = values.len() <= 1;
    let mut samples: Vec<Option<usize>> = vec![None; columns.len()];
    if long {
        return samples;
    }
    let named = values.iter().any(|&at| columns.get(at).is_some_and(|c| !c.facts.is_empty()));
    for &at in &values {
        let Some(column) = columns.get(at) else { continue };
        let mut facts = column.facts.clone();
        if alone && facts.is_empty() && !column.previous {
            // The sample that is open when the row is read: a heading between rows may change it.
            continue;
        }
        if !alone && facts.is_empty() && !column.previous && !column.describes && column.named && named {
            facts.push(Fact { key: "sample_id".into(), text: column.head_text.clone(), ..Fact::default() });
        }
        for fact in &facts {
            desk.ledger.set_aside(&fact.words, reason(&fact.key));
        }
        let previous = column.previous && !alone;
        let index = desk.scopes.sample_for(&facts, alone, previous);
        if let Some(slot) = samples.get_mut(at) {
            *slot = Some(index);
        }
    }
    samples
}

/// Reason for which the words of a fact are set aside.
pub fn reason(key: &str) -> &'static str {
    match key {
        "sampled_on" | "received_on" | "reported_on" | "installed_on" | "analysed_on" => "date",
        "customer" | "site" => "address",
        "resin" => "resin-name",
        "remark" => "remark",
        _ => "identifier",
    }
}

/// Facts in the rows of a band that holds no figure.
fn facts_only(rows: &[Row], desk: &mut Desk<'_>) {
    for row in rows {
        facts_of_row(row, desk, 0);
    }
}

/// Takes the facts of a row: "Vessel | Softener 2", "Sampled: 2025-03-01   Received: 2025-03-04".
pub fn facts_of_row(row: &Row, desk: &mut Desk<'_>, value_columns: usize) -> bool {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let mut any = false;
    let mut at = 0;
    while let Some(cell) = row.cells.get(at) {
        let seen = cell.seen(lexicon, style);
        let label = &seen.label;
        // "For: Selby Malt Co."
        if cell.colon
            && matches!(fold(&cell.text).as_str(), "for" | "fur" | "pour" | "para")
            && let Some(next) = row.cells.get(at + 1)
        {
            take_fact("customer", &next.text, next.words.clone(), next.place.clone(), Vec::new(), desk);
            any = true;
            at += 2;
            continue;
        }
        let Some(Target::Key(key)) = &label.target else {
            let titled = |next: &Cell| crate::lexicon::class_words_in(&next.text).is_some();
            if !cell.colon
                && value_columns <= 1
                && row.cells.get(at + 1).is_none_or(|next| next.colon || titled(next))
                && row.cells.len() > 1
                && seen.value.is_none()
                && names_sample(cell, desk)
            {
                any = true;
                at += 1;
                continue;
            }
            any |= mentions::learn(&cell.text, &mentions::Origin::of(cell), desk);
            if cell.colon
                && label.target.is_none()
                && let Some(next) = row.cells.get(at + 1)
            {
                // A label that the lexicon does not know: its text is none of the facts, though it may name some.
                any |= mentions::learn(&next.text, &mentions::Origin::of(next), desk);
                at += 1;
            }
            at += 1;
            continue;
        };
        if !(cell.colon || label.is_clear()) || label.unexplained.len() > 2 {
            if !cell.colon && value_columns <= 1 && seen.value.is_none() {
                any |= names_sample(cell, desk);
            }
            any |= mentions::learn(&cell.text, &mentions::Origin::of(cell), desk);
            at += 1;
            continue;
        }
        let mut text = String::new();
        let mut words: Vec<WordId> = Vec::new();
        let mut end = at + 1;
        let mut place = None;
        while let Some(next) = row.cells.get(end) {
            if bands::is_label(next, lexicon, style) || (next.colon && end > at + 1) {
                break;
            }
            if !text.is_empty() && !next.cut && row.cells.len() != end + 1 {
                break;
            }
            if !text.is_empty() {
                text.push(' ');
            }
            text.push_str(&next.text);
            words.extend(&next.words);
            place.get_or_insert_with(|| next.place.clone());
            end += 1;
        }
        // "Sample details   Results": two titles, and no name of a sample.
        let titles =
            lexicon.role(&text).is_some() && !text.chars().any(|c| c.is_ascii_digit()) && end == row.cells.len();
        if titles && matches!(key.as_str(), "sample_id" | "vessel") && !cell.colon {
            return any;
        }
        let label_number = label.loose_numbers.join(" ");
        if text.is_empty() && !label_number.is_empty() && label.unexplained.is_empty() {
            text = label_number;
            words.extend(&cell.words);
        }
        if !text.is_empty() && !crate::value::is_blank_mark(&text) && value_columns <= 64 {
            let key = key.clone();
            let place = place.unwrap_or_else(|| cell.place.clone());
            take_fact(&key, &text, words, place, cell.words.clone(), desk);
            any = true;
        }
        at = end.max(at + 1);
    }
    any
}

/// Takes one fact in, or what its text holds besides.
pub fn take_fact(
    key: &str,
    text: &str,
    words: Vec<WordId>,
    place: crate::place::Where,
    label_words: Vec<WordId>,
    desk: &mut Desk<'_>,
) {
    desk.ledger.set_aside(&words, reason(key));
    desk.ledger.set_aside(&label_words, "identifier");
    if key == "remark" {
        let draft = desk.scopes.open();
        draft.asides.push(super::Aside::Remark(crate::record::Remark { text: text.to_owned(), place }));
        return;
    }
    if key == "analysed_on" {
        return;
    }
    // "Bericht vom: 27.11.2024", "Probe vom: 12.11.2024"
    let dated = crate::value::date::parse_date(text).is_some_and(|d| d.start == 0 && d.end >= text.trim_end().len());
    let key = match key {
        "report_number" if dated => "reported_on",
        "sample_id" if dated => "sampled_on",
        _ => key,
    };
    // "Resin analysis report: Report No. TR-24817"
    let again = mentions::find(text, desk.lexicon)
        .into_iter()
        .find(|m| m.key == key && matches!(key, "report_number" | "sample_id"));
    let text = again.and_then(|m| text.get(m.start..)).unwrap_or(text);
    let own = mentions::own_part(key, text, desk.lexicon);
    if own == Some(0) {
        return;
    }
    let said = own.and_then(|end| text.get(..end)).unwrap_or(text).to_owned();
    let fact = Fact {
        key: key.to_owned(),
        text: said,
        place: place.clone(),
        words: words.clone(),
        order: desk.style.order(),
        trust: Trust::Stated,
    };
    desk.scopes.learn(fact, desk.lexicon);
    if let Some(rest) = own.and_then(|end| text.get(end..)) {
        mentions::learn(rest, &mentions::Origin { place: &place, words: &words, sentence: false }, desk);
    }
}

/// Reads the figures of one row.
fn figures(row: &Row, columns: &[Column], samples: &[Option<usize>], group: &[FacetId], desk: &mut Desk<'_>) {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let spans: Vec<Span> = columns.iter().map(|c| c.span).collect();
    let mut section = desk.section.clone();
    section.extend(group);
    // Cells to the left of the label in the same row are its group: "Metals | Iron".
    let labels: Vec<usize> = (0..row.cells.len())
        .filter(|&at| row.cells.get(at).is_some_and(|c| bands::is_figure_label(c, lexicon, style)))
        .collect();
    let mut starts = labels.clone();
    if let (true, Some(at)) = (starts.is_empty(), row.grouped) {
        starts.push(at);
    }
    if starts.is_empty() {
        // "total" under "Capacity": a label only with its group.
        let first = row.cells.iter().position(|c| {
            let seen = c.seen(lexicon, style);
            seen.value.is_none() && seen.date.is_none() && c.letters() > 1
        });
        match first {
            Some(at) => starts.push(at),
            None => return,
        }
    }
    for (number, &at) in starts.iter().enumerate() {
        let end = starts.get(number + 1).copied().unwrap_or(row.cells.len());
        let Some(cell) = row.cells.get(at) else { continue };
        let mut own_section = section.clone();
        let names = |c: &Cell| {
            bands::over(c, &spans, 0.0)
                .first()
                .and_then(|&at| columns.get(at))
                .is_some_and(|c| matches!(c.holds, Holds::Fact(_)))
        };
        for before in row.cells.iter().take(at).filter(|c| !is_figure(c, lexicon, style) && !names(c)) {
            own_section.extend(lexicon.heading_facets(&before.text));
        }
        let raised = row.cells.iter().flat_map(|c| &c.marks).map(|m| plain_mark(m));
        for mark in row.cells.iter().flat_map(|c| marks(&c.text)).chain(raised) {
            own_section.extend(desk.footnotes.get(&mark).into_iter().flatten());
        }
        if composite(row, at, end, cell, &own_section, columns, samples, desk) {
            continue;
        }
        let mut label = lexicon.understand(&cell.text, &own_section);
        if feed_against_unit(&label, row, lexicon, style) {
            label = lexicon.understand(&cell.text, group);
        }
        if label.target.is_none() {
            label = by_substance(label, cell, row, &own_section, lexicon, style);
        }
        let Some(target) = label.target.clone() else { continue };
        if !target.is_figure() {
            continue;
        }
        let mut around = Around::default();
        let mut results: Vec<(&Cell, Option<usize>)> = Vec::new();
        let right: Vec<&Cell> = row.cells.iter().take(end).skip(at + 1).collect();
        let mut cells = right.clone();
        if number == 0 {
            cells.extend(row.cells.iter().take(at));
        }
        for cell in cells {
            let column = bands::over(cell, &spans, 0.0).first().copied();
            let holds = column.and_then(|c| columns.get(c)).map(|c| c.holds.clone());
            // "Moisture 50.2 %   Density 822 g/L": behind a second label the columns of the table do not hold.
            let apart = starts.len() > 1 && matches!(holds, Some(Holds::Other(_) | Holds::Words | Holds::Label));
            let (column, holds) = if apart { (None, None) } else { (column, holds) };
            place_cell(
                cell,
                column,
                holds,
                &mut around,
                &mut results,
                columns,
                right.iter().any(|c| std::ptr::eq(*c, cell)),
                desk,
            );
        }
        let takes = |basis: &String| match &target {
            Target::Property(id) => lexicon.property(id).is_none_or(|p| p.units.contains_key(basis)),
            _ => true,
        };
        if label.basis.is_none() {
            label.basis = around.basis.clone().filter(takes);
        }
        let row_facts = row_facts(row, columns, &spans, desk);
        emit(row, cell, &label, around, results, columns, samples, row_facts, desk);
    }
}

/// "92 / 6 / 2 %": figures with a stroke between them; the stroke of "mg/L" is a unit's.
fn is_figure_list(text: &str) -> bool {
    static LIST: OnceLock<Option<Regex>> = OnceLock::new();
    LIST.get_or_init(|| Regex::new(r"^\s*[<>~]?\s*\d[\d.,]*\s*%?(?:\s*/\s*[<>~]?\s*\d[\d.,]*\s*%?)+(?:\s*\D*)?$").ok())
        .as_ref()
        .is_some_and(|p| p.is_match(text))
}

/// "Beads whole / cracked / broken: 92 / 6 / 2 %": several labels and as many figures in one cell each.
#[allow(clippy::too_many_arguments)]
fn composite(
    row: &Row,
    at: usize,
    end: usize,
    cell: &Cell,
    section: &[FacetId],
    columns: &[Column],
    samples: &[Option<usize>],
    desk: &mut Desk<'_>,
) -> bool {
    let lexicon = desk.lexicon;
    let labels: Vec<&str> = cell.text.split('/').map(str::trim).filter(|t| !t.is_empty()).collect();
    if labels.len() < 2 {
        return false;
    }
    let Some(value_cell) = row.cells.iter().take(end).skip(at + 1).find(|c| is_figure_list(&c.text)) else {
        return false;
    };
    let figures: Vec<&str> =
        value_cell.text.splitn(labels.len(), '/').map(str::trim).filter(|t| !t.is_empty()).collect();
    if figures.len() != labels.len() {
        return false;
    }
    let mut group = section.to_vec();
    group.extend(lexicon.heading_facets(labels.first().copied().unwrap_or_default()));
    let understood: Vec<Label> = labels.iter().map(|t| lexicon.understand(t, &group)).collect();
    let distinct: std::collections::BTreeSet<_> = understood.iter().filter_map(|l| l.target.clone()).collect();
    if distinct.len() != labels.len() || !distinct.iter().all(Target::is_figure) {
        return false;
    }
    let unit = desk.style.value(figures.last().copied().unwrap_or_default()).and_then(|(v, _)| v.unit);
    let sum: f64 = figures.iter().filter_map(|t| desk.style.value(t)).filter_map(|(v, _)| v.value).sum();
    // Shares of one count that add up to the whole need no sign to be percentages.
    let shares =
        figures.len() >= 2 && (99.0..=101.0).contains(&sum) && distinct.iter().all(|t| t.id().ends_with("_beads"));
    let beside = || {
        row.cells.iter().skip_while(|c| c.x0 <= value_cell.x0).find_map(|c| c.seen(lexicon, desk.style).unit.clone())
    };
    let unit = unit.or_else(|| if shares { Unit::parse("%") } else { beside() });
    let column = bands::over(value_cell, &columns.iter().map(|c| c.span).collect::<Vec<_>>(), 0.0).first().copied();
    let sample = column.and_then(|c| samples.get(c).copied().flatten()).unwrap_or_else(|| desk.scopes.open_index());
    for (label, text) in understood.into_iter().zip(figures) {
        let Some((mut value, other_style)) = desk.style.value(text) else { continue };
        if value.unit.is_none() {
            value.unit.clone_from(&unit);
        }
        let figure = Figure {
            label_text: cell.text.clone(),
            value,
            other_style,
            head: None,
            unit_column: None,
            section_unit: None,
            references: Vec::new(),
            detection_limit: None,
            deviation: None,
            method: None,
            as_written: value_cell.text.clone(),
            place: value_cell.place.clone(),
            doubts: recognized(value_cell, label.target.as_ref()).into_iter().collect(),
            label,
            is_mean: false,
            is_replicate: false,
            in_column: false,
        };
        if let Some(draft) = desk.scopes.drafts.get_mut(sample) {
            draft.figures.push(figure);
        }
    }
    desk.ledger.read(&value_cell.words);
    true
}

/// Under a heading for the feed, a figure per kilogram is still one of the resin.
fn feed_against_unit(label: &Label, row: &Row, lexicon: &Lexicon, style: &Style) -> bool {
    if !matches!(&label.target, Some(Target::Field(id)) if id.starts_with("feed_")) || label.unit.is_some() {
        return false;
    }
    row.cells.iter().any(|c| {
        let seen = c.seen(lexicon, style);
        let unit = seen.unit.as_ref().or(seen.value.as_ref().and_then(|(v, _)| v.unit.as_ref()));
        unit.is_some_and(|u| u.matter.is_some() || u.text.to_lowercase().contains("kg"))
    })
}

/// "Organic matter: 1,650 mg KMnO4 per litre of resin": the unit says which test it was.
fn by_substance(label: Label, cell: &Cell, row: &Row, section: &[FacetId], lexicon: &Lexicon, style: &Style) -> Label {
    let organics = lexicon.facet_id("organics").is_some_and(|o| label.facets.contains(&o));
    if !organics || !label.unexplained.is_empty() {
        return label;
    }
    let substance = row.cells.iter().find_map(|c| {
        let seen = c.seen(lexicon, style);
        let unit = seen.unit.as_ref().or(seen.value.as_ref().and_then(|(v, _)| v.unit.as_ref()));
        unit.and_then(|u| u.substance.clone())
    });
    let test = match substance.as_deref() {
        Some("KMnO4") => "permanganate",
        Some("O2") => "COD",
        Some("C") => "TOC",
        _ => return label,
    };
    let named = lexicon.understand(&format!("{} {test}", cell.text), section);
    if named.target.is_some() { named } else { label }
}

/// Footnote marks at the end of a cell: "Iron *", "1,420 (d)", "Total capacity¹".
pub fn marks(text: &str) -> Vec<String> {
    let trimmed = text.trim();
    if !trimmed.is_empty() && trimmed.chars().all(|c| super::cells::RAISED.contains(&c)) {
        return trimmed.chars().map(|c| plain_mark(&c.to_string())).collect();
    }
    if trimmed.len() == 1 && trimmed.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit()) {
        return vec![trimmed.to_owned()];
    }
    static MARK: OnceLock<Option<Regex>> = OnceLock::new();
    MARK.get_or_init(|| {
        Regex::new(
            r"(\*+|[†‡§#]+|[¹²³⁰⁴-⁹]+|\((?:\d{1,2}|[a-z]|[¹²³])\)|\s(?:\d|[a-z])\)|\[(?:\d|[a-z])\])(?:\s|,|:|$)",
        )
        .ok()
    })
    .as_ref()
    .map(|p| p.captures_iter(text).filter_map(|c| c.get(1)).map(|m| plain_mark(m.as_str())).collect())
    .unwrap_or_default()
}

/// "(1)", "1)", "¹" and "[1]" are one mark.
pub fn plain_mark(mark: &str) -> String {
    mark.chars()
        .filter_map(|c| match c {
            '(' | ')' | '[' | ']' | '.' | ':' | '=' => None,
            '¹' => Some('1'),
            '²' => Some('2'),
            '³' => Some('3'),
            '⁴' => Some('4'),
            '⁵' => Some('5'),
            'ᵃ' => Some('a'),
            'ᵇ' => Some('b'),
            'ᶜ' => Some('c'),
            'ᵈ' => Some('d'),
            'ᵉ' => Some('e'),
            'ᶠ' => Some('f'),
            'ᵍ' => Some('g'),
            'ʰ' => Some('h'),
            'ⁱ' => Some('i'),
            'ʲ' => Some('j'),
            _ if c.is_whitespace() => None,
            _ => Some(c),
        })
        .collect()
}

#[derive(Default)]
struct Around {
    references: Vec<ReferenceText>,
    units: Vec<(f32, String, Option<Unit>)>,
    method: Option<String>,
    detection: Option<crate::value::Value>,
    deviation: Option<crate::value::Value>,
    basis: Option<String>,
    sign: Option<String>,
}

#[allow(clippy::too_many_arguments)]
fn place_cell<'c>(
    cell: &'c Cell,
    column: Option<usize>,
    holds: Option<Holds>,
    around: &mut Around,
    results: &mut Vec<(&'c Cell, Option<usize>)>,
    columns: &[Column],
    right: bool,
    desk: &mut Desk<'_>,
) {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let seen = cell.seen(lexicon, style);
    let value = seen.value.as_ref().map(|(v, _)| v.clone());
    if matches!(cell.text.trim(), "=" | "<" | ">" | "~" | "≤" | "≥" | "<=" | ">=") {
        around.sign = Some(cell.text.trim().to_owned());
        return;
    }
    if seen.unit.is_some() && !(matches!(holds, Some(Holds::Value)) && value.is_some() || holds == Some(Holds::Basis)) {
        // The raised 3 of ft³ is no number of its own.
        desk.ledger.set_aside(&cell.words, "label");
        around.units.push((cell.x0, cell.text.clone(), seen.unit.clone()));
        return;
    }
    match holds {
        Some(Holds::Reference(role)) => {
            desk.ledger.set_aside(&cell.words, "limit");
            around.references.push(ReferenceText { role, text: cell.text.clone(), value });
        }
        Some(Holds::Unit) => {
            around.units.push((cell.x0, cell.text.clone(), seen.unit.clone()));
        }
        Some(Holds::Method) => {
            desk.ledger.set_aside(&cell.words, "method");
            around.method.get_or_insert(cell.text.clone());
        }
        Some(Holds::Detection) => {
            desk.ledger.set_aside(&cell.words, "detection-limit");
            around.detection = value;
        }
        Some(Holds::Deviation) => {
            desk.ledger.read(&cell.words);
            around.deviation = value;
        }
        Some(Holds::Other(Role::Rating) | Holds::Words) if value.is_none() && says_basis(cell, lexicon) => {
            around.basis = lexicon.understand(&cell.text, &[]).basis;
        }
        Some(Holds::Other(role)) => desk.ledger.set_aside(
            &cell.words,
            match role {
                Role::PercentOfNew => "percent-of-new",
                Role::Change => "change",
                Role::Count => "count",
                Role::Rating => "rating",
                _ => "other-column",
            },
        ),
        Some(Holds::Fact(_)) => {}
        Some(Holds::Basis) => {
            let label = lexicon.understand(&cell.text, &[]);
            let volume = of_volume(&label, lexicon).then(|| "volume".to_owned());
            around.basis = label.basis.or(volume);
        }
        Some(Holds::Sign) => around.sign = Some(cell.text.trim().to_owned()),
        Some(Holds::Label) | None if seen.method => {
            desk.ledger.set_aside(&cell.words, "method");
            around.method.get_or_insert(cell.text.clone());
        }
        Some(Holds::Words | Holds::Label) if !right => {}
        _ => {
            if seen.method {
                desk.ledger.set_aside(&cell.words, "method");
                around.method.get_or_insert(cell.text.clone());
                return;
            }
            if !right && !matches!(holds, Some(Holds::Value)) {
                return;
            }
            let bounded = value.as_ref().is_some_and(|v| v.bound.is_some());
            let unnamed = column.and_then(|c| columns.get(c)).is_none_or(|c| !c.named && c.facts.is_empty());
            if bounded && unnamed && !results.is_empty() {
                desk.ledger.set_aside(&cell.words, "limit");
                around.references.push(ReferenceText { role: Role::Specification, text: cell.text.clone(), value });
                return;
            }
            if value.is_none() && reference_words(cell, around, desk) {
                return;
            }
            if !seen.blank {
                results.push((cell, column));
            }
        }
    }
}

/// "(new: 2.0)", "spec. 45-50": a reference that says so itself.
fn reference_words(cell: &Cell, around: &mut Around, desk: &mut Desk<'_>) -> bool {
    let Some(split) = prose::figures_of_cell(&cell.text, desk.lexicon, desk.style) else { return false };
    if split.result.is_some() || split.references.is_empty() {
        return false;
    }
    desk.ledger.set_aside(&cell.words, "limit");
    around.references.extend(split.references);
    true
}

/// Facts that stand in the row itself, in a table with one row for each figure.
fn row_facts(row: &Row, columns: &[Column], spans: &[Span], desk: &mut Desk<'_>) -> Vec<Fact> {
    let mut facts = Vec::new();
    for cell in &row.cells {
        let Some(at) = bands::over(cell, spans, 0.0).first().copied() else { continue };
        let Some(Column { holds: Holds::Fact(key), .. }) = columns.get(at) else { continue };
        let mut key = if key == "reported_on" { "sampled_on".to_owned() } else { key.clone() };
        let label = desk.lexicon.understand(&cell.text, &[]);
        let vessel = desk.lexicon.facet_id("vessel").is_some_and(|v| label.facets.contains(&v));
        if matches!(key.as_str(), "position" | "site" | "sample_id") && (vessel || label.position.is_some()) {
            // "Softener North - core", "AB-2 / middle": a name and a place in one.
            let named = name_facts(cell, &cell.text, desk);
            if !named.is_empty() && (key != "sample_id" || named.len() > 1) {
                desk.ledger.set_aside(&cell.words, reason(&key));
                facts.extend(named);
                continue;
            }
            if vessel {
                key = "vessel".to_owned();
            }
        }
        desk.ledger.set_aside(&cell.words, reason(&key));
        facts.push(Fact {
            key,
            text: cell.text.clone(),
            place: cell.place.clone(),
            words: cell.words.clone(),
            order: desk.style.order(),
            trust: Trust::Stated,
        });
    }
    facts
}

#[allow(clippy::too_many_arguments)]
fn emit(
    row: &Row,
    label_cell: &Cell,
    label: &Label,
    around: Around,
    results: Vec<(&Cell, Option<usize>)>,
    columns: &[Column],
    samples: &[Option<usize>],
    row_facts: Vec<Fact>,
    desk: &mut Desk<'_>,
) {
    let identity: Vec<Fact> = row_facts
        .iter()
        .filter(|f| super::scope::IDENTITY.contains(&f.key.as_str()) || f.key == "sampled_on")
        .cloned()
        .collect();
    let named = |at: Option<usize>| at.and_then(|c| columns.get(c)).is_some_and(|c| !c.unsure);
    let unsure: Vec<&Cell> = results.iter().filter(|(_, at)| !named(*at)).map(|(c, _)| *c).collect();
    for &(cell, at) in &results {
        let column = at.and_then(|c| columns.get(c));
        let first_unsure = unsure.first().is_some_and(|c| std::ptr::eq(*c, cell));
        if !named(at) && !first_unsure {
            continue;
        }
        let Some(mut figure) = figure_of(cell, label, label_cell, &around, desk) else { continue };
        if !named(at) && unsure.len() > 1 {
            let others: Vec<String> = unsure.iter().map(|c| c.text.clone()).collect();
            let others: Vec<String> =
                others.into_iter().filter(|t| desk.style.value(t).is_some_and(|(v, _)| v.value.is_some())).collect();
            if others.len() > 1 {
                figure.doubts.push(
                    Doubt::new(
                        "ambiguous-column",
                        label.target.as_ref().map(Target::id),
                        "Several figures stand in this row and no head says which is the result.",
                        &cell.place,
                    )
                    .with_alternatives(others),
                );
            }
        }
        if let Some(head) = column.and_then(|c| c.head.as_ref())
            && (head.has_context("feed") || head.has_context("outlet"))
        {
            let context: Vec<FacetId> = head.contexts.iter().filter_map(|c| desk.lexicon.facet_id(c)).collect();
            let again = desk.lexicon.understand(&label_cell.text, &context);
            if again.target.as_ref().is_none_or(|t| !t.is_figure()) {
                continue;
            }
            figure.label = again;
        }
        if let Some(column) = column {
            figure.head.clone_from(&column.head);
            figure.in_column = column.named || !column.facts.is_empty();
            per_head(&mut figure);
            figure.is_mean = column.mean;
            figure.is_replicate = column.replicate;
        }
        let sample = if identity.is_empty() {
            at.and_then(|c| samples.get(c).copied().flatten())
        } else {
            let index = desk.scopes.sample_for(&identity, false, false);
            if let Some(draft) = desk.scopes.drafts.get_mut(index) {
                for fact in &row_facts {
                    draft.learn(fact.clone());
                }
            }
            Some(index)
        };
        let sample = sample.unwrap_or_else(|| desk.scopes.open_index());
        desk.ledger.read(&cell.words);
        desk.ledger.set_aside(&label_cell.words, "label");
        if let Some(draft) = desk.scopes.drafts.get_mut(sample) {
            let (low, high) = draft.lines.unwrap_or((row.line, row.line));
            draft.lines = Some((low.min(row.line), high.max(row.line)));
            draft.figures.push(figure);
        }
    }
}

/// "eq" in the unit column under "per litre" or "per kg dry resin": head and column make the unit together.
fn per_head(figure: &mut Figure) {
    let per = match figure.head.as_ref().and_then(|h| h.basis.as_deref()) {
        Some("volume") => "L",
        Some("dry_mass" | "wet_mass") => "kg",
        _ => return,
    };
    let Some((text, Some(unit))) = &figure.unit_column else { return };
    let d = &unit.dimension;
    let bare = d.length == 0 && d.time == 0 && d.temperature == 0 && d.bead == 0 && d.amount + d.mass == 1;
    if bare
        && unit.matter.is_none()
        && let Some(whole) = Unit::parse(&format!("{text}/{per}"))
    {
        figure.unit_column = Some((format!("{text}/{per}"), Some(whole)));
    }
}

/// The doubt on what character recognition read.
pub fn recognized(cell: &Cell, target: Option<&Target>) -> Option<Doubt> {
    let confidence = cell.recognized?;
    let text = format!("Read by character recognition, confidence {:.0} %.", confidence * 100.0);
    Some(Doubt::new("recognized-text", target.map(Target::id), text, &cell.place))
}

fn unit_distance(cell: &Cell, x: f32) -> f32 {
    if x >= cell.x0 { x - cell.x0 } else { 1000.0 + cell.x0 - x }
}

/// The figure that a cell holds.
fn figure_of(cell: &Cell, label: &Label, label_cell: &Cell, around: &Around, desk: &mut Desk<'_>) -> Option<Figure> {
    let seen = cell.seen(desk.lexicon, desk.style).clone();
    let mut references = around.references.clone();
    let mut doubts = Vec::new();
    let mut label = label.clone();
    let (mut value, other_style) = match seen.value {
        Some(pair) => pair,
        None => {
            let split = prose::figures_of_cell(&cell.text, desk.lexicon, desk.style)?;
            references.extend(split.references);
            if label.basis.is_none() {
                label.basis = desk.lexicon.understand(&split.words, &[]).basis;
            }
            let (value, other) = split.result?;
            if !split.leftover.is_empty() {
                doubts.push(
                    Doubt::new(
                        "more-than-one-figure",
                        label.target.as_ref().map(Target::id),
                        format!("\"{}\" holds more than one figure.", cell.text),
                        &cell.place,
                    )
                    .with_alternatives(split.leftover),
                );
            }
            (value, other)
        }
    };
    match around.sign.as_deref() {
        Some("<" | "≤" | "<=") if value.qualifier == Qualifier::Equal => value.qualifier = Qualifier::Below,
        Some(">" | "≥" | ">=") if value.qualifier == Qualifier::Equal => value.qualifier = Qualifier::Above,
        Some("~") if value.qualifier == Qualifier::Equal => value.qualifier = Qualifier::About,
        _ => {}
    }
    doubts.extend(recognized(cell, label.target.as_ref()));
    // Between hard borders, or beside a unit of its own, a blank can only be one between thousands.
    let bordered = cell.place.cell.is_some() || cell.place.column.is_some() || cell.hard;
    if value.blank_grouped && !bordered && desk.style.decimal() != Some(crate::value::Decimal::Comma) {
        doubts.push(Doubt::new(
            "blank-grouped",
            label.target.as_ref().map(Target::id),
            format!("\"{}\" is read as one number; it may be two.", cell.text),
            &cell.place,
        ));
    }
    // Of several units the one beside the figure, its right side first.
    let own_unit = around
        .units
        .iter()
        .min_by(|a, b| unit_distance(cell, a.0).total_cmp(&unit_distance(cell, b.0)))
        .map(|(_, text, unit)| (text.clone(), unit.clone()));
    let mut as_written = cell.text.clone();
    if value.unit.is_none() {
        let unit = own_unit.as_ref().map(|u| u.0.clone()).or_else(|| label.unit.as_ref().map(|u| u.text.clone()));
        if let Some(unit) = unit {
            as_written = format!("{as_written} {unit}");
        }
    }
    let method = around.method.clone().or_else(|| label.method.clone());
    Some(Figure {
        label,
        label_text: label_cell.text.clone(),
        value,
        other_style,
        head: None,
        unit_column: own_unit,
        section_unit: desk.section_unit.clone(),
        references,
        detection_limit: around.detection.clone(),
        deviation: around.deviation.clone(),
        method,
        as_written,
        place: cell.place.clone(),
        doubts,
        is_mean: false,
        is_replicate: false,
        in_column: false,
    })
}
