//! Tables of a page: spans laid out on a grid, tables that only arrange the page told from those that hold figures.

use super::Reader;
use super::dom::{Id, attribute, name};
use super::flow::Flow;
use super::style::Display;
use crate::document::{Line, Word};
use crate::place::Where;
use ego_tree::NodeRef;
use scraper::Node;

/// Columns beyond which a table is made to hurt.
const MOST_COLUMNS: u32 = 1000;

struct Cell<'a> {
    node: NodeRef<'a, Node>,
    column: u32,
    columns: u32,
    rows: u32,
    nested: bool,
    text: String,
    line: u32,
}

struct Row<'a> {
    number: u32,
    cells: Vec<Cell<'a>>,
}

impl<'a> Reader<'a> {
    /// Reads a table, and the tables within it as tables of their own.
    pub(super) fn table(&mut self, table: NodeRef<'a, Node>, depth: usize) {
        let mut sections: [Vec<Vec<NodeRef<'a, Node>>>; 3] = Default::default();
        let mut loose = Vec::new();
        for child in table.children() {
            if self.skip(child) {
                continue;
            }
            let display = self.styles.shown(child.id(), child.value()).display;
            match (name(child.value()), display) {
                ("caption", _) => self.block(child, depth),
                ("thead", _) => sections[0].push(self.rows_of(child)),
                ("tfoot", _) => sections[2].push(self.rows_of(child)),
                ("tbody", _) => sections[1].push(self.rows_of(child)),
                ("tr", _) | (_, Some(Display::TableRow)) => loose.push(child),
                ("colgroup" | "col", _) => {}
                _ if child.value().is_element() => self.block(child, depth),
                _ => {}
            }
        }
        if !loose.is_empty() {
            sections[1].push(loose);
        }
        let mut rows = Vec::new();
        let mut number = 0;
        for section in sections.into_iter().flatten() {
            self.lay_out(&section, &mut number, &mut rows, depth);
        }
        if rows.is_empty() {
            return;
        }
        if is_arrangement(&rows) {
            for cell in rows.into_iter().flat_map(|r| r.cells) {
                self.block(cell.node, depth);
            }
            return;
        }
        if let Some(stacked) = unstack(&rows) {
            let id = self.next_table();
            for (index, texts) in stacked.into_iter().enumerate() {
                let number = u32::try_from(index).unwrap_or(0) + 1;
                let cells = texts.into_iter().enumerate();
                self.row(id, number, cells.map(|(c, (text, line))| (text, line, c as u32, 1, 1)));
            }
            return;
        }
        let mut id = None;
        for row in rows {
            let nested = row.cells.iter().any(|c| c.nested);
            let (flowing, plain): (Vec<_>, Vec<_>) =
                row.cells.into_iter().partition(|c| nested && (c.nested || c.text.contains('\n')));
            // A lone cell beside nested tables is a heading of the arrangement, not a row of figures.
            let (flowing, plain) = if nested && plain.iter().filter(|c| !c.text.is_empty()).count() < 2 {
                let mut all: Vec<_> = flowing.into_iter().chain(plain).collect();
                all.sort_by_key(|c| c.column);
                (all, Vec::new())
            } else {
                (flowing, plain)
            };
            if plain.iter().any(|c| !c.text.is_empty()) {
                let id = *id.get_or_insert_with(|| self.next_table());
                self.row(id, row.number, plain.into_iter().map(|c| (c.text, c.line, c.column, c.columns, c.rows)));
            }
            for cell in flowing {
                self.block(cell.node, depth);
                if cell.nested {
                    id = None;
                }
            }
        }
    }

    /// Writes a row of a hard table: text, source line, column, columns and rows spanned.
    pub(super) fn row(&mut self, table: u32, row: u32, cells: impl Iterator<Item = (String, u32, u32, u32, u32)>) {
        let mut words = Vec::new();
        for (text, line, column, columns, rows) in cells {
            if text.is_empty() {
                continue;
            }
            let mut place = Where { line: Some(line), ..Where::table_cell(table, row, column + 1) };
            if let Some(part) = self.part {
                place = place.in_part(part);
            }
            let mut word = Word::cell(text, column, place);
            word.x1 = (column + columns) as f32;
            word.rows = rows;
            words.push(word);
        }
        if !words.is_empty() {
            let top = self.top;
            self.lines.push(Line { table: Some(table), words, top, bottom: top + 1.0 });
            self.top += 1.0;
        }
    }

    pub(super) fn next_table(&mut self) -> u32 {
        self.tables += 1;
        self.top += 1.0;
        self.tables
    }

    fn rows_of(&mut self, section: NodeRef<'a, Node>) -> Vec<NodeRef<'a, Node>> {
        section.children().filter(|r| name(r.value()) == "tr" && !self.skip(*r)).collect()
    }

    fn lay_out(&mut self, section: &[NodeRef<'a, Node>], number: &mut u32, rows: &mut Vec<Row<'a>>, depth: usize) {
        // For each column, the rows below that a cell from above still covers.
        let mut covered: Vec<u32> = Vec::new();
        for (index, tr) in section.iter().enumerate() {
            let below = u32::try_from(section.len() - index).unwrap_or(u32::MAX);
            let mut cells = Vec::new();
            let mut starts: Vec<(usize, usize, u32)> = Vec::new();
            let mut column = 0_usize;
            for td in tr.children() {
                let display = self.styles.shown(td.id(), td.value()).display;
                let is_cell = matches!(name(td.value()), "td" | "th") || display == Some(Display::TableCell);
                if !is_cell || self.skip(td) {
                    continue;
                }
                while covered.get(column).is_some_and(|c| *c > 0) {
                    column += 1;
                }
                if column >= MOST_COLUMNS as usize {
                    break;
                }
                let columns = span(td.value(), "colspan", 1).clamp(1, MOST_COLUMNS - column as u32);
                let spanned = span(td.value(), "rowspan", 1);
                let spanned = if spanned == 0 { below } else { spanned.min(below) };
                let nested = td.descendants().skip(1).any(|n| name(n.value()) == "table" || name(n.value()) == "dl");
                let (text, line) = self.cell_text(td, depth);
                cells.push(Cell { node: td, column: column as u32, columns, rows: spanned, nested, text, line });
                starts.push((column, columns as usize, spanned));
                column += columns as usize;
            }
            for c in &mut covered {
                *c = c.saturating_sub(1);
            }
            for (start, columns, spanned) in starts {
                if covered.len() < start + columns {
                    covered.resize(start + columns, 0);
                }
                for c in covered.iter_mut().skip(start).take(columns) {
                    *c = (*c).max(spanned - 1);
                }
            }
            *number += 1;
            if !cells.is_empty() {
                rows.push(Row { number: *number, cells });
            }
        }
    }

    /// Own text of a cell, without the tables in it.
    pub(super) fn cell_text(&mut self, cell: NodeRef<'a, Node>, depth: usize) -> (String, u32) {
        let mut flow = Flow::default();
        let gathering = std::mem::replace(&mut self.gathering, true);
        self.children(cell, &mut flow, false, depth + 1);
        self.gathering = gathering;
        let line = flow.first_line().or(self.dom.line(cell.id())).unwrap_or(1);
        (flow.into_cell(), line)
    }

    /// Terms and their values as rows of two cells.
    pub(super) fn definitions(&mut self, list: NodeRef<'a, Node>, depth: usize) {
        let mut items: Vec<NodeRef<'a, Node>> = Vec::new();
        for child in list.children() {
            if self.skip(child) {
                continue;
            }
            match name(child.value()) {
                "dt" | "dd" => items.push(child),
                "div" => {
                    let inner: Vec<_> = child.children().collect();
                    for item in inner {
                        if matches!(name(item.value()), "dt" | "dd") && !self.skip(item) {
                            items.push(item);
                        }
                    }
                }
                _ if child.value().is_element() => self.block(child, depth),
                _ => {}
            }
        }
        let table = self.next_table();
        let mut number = 0;
        let mut terms: Vec<(String, u32)> = Vec::new();
        for item in items {
            let (text, line) = self.cell_text(item, depth);
            if name(item.value()) == "dt" {
                terms.push((text, line));
            } else {
                number += 1;
                let term = terms.pop();
                // A second term to the same value, or one without a value, keeps a row of its own.
                for (text, line) in terms.drain(..) {
                    self.row(table, number, [(text, line, 0, 1, 1)].into_iter());
                    number += 1;
                }
                let term = term.map(|(text, line)| (text, line, 0, 1, 1));
                self.row(table, number, term.into_iter().chain([(text, line, 1, 1, 1)]));
                let nested: Vec<Id> = nested_roots(item);
                for id in nested {
                    if let Some(node) = self.dom.html.tree.get(id) {
                        self.element(node, &mut Flow::default(), false, depth);
                    }
                }
            }
        }
        for (text, line) in terms {
            number += 1;
            self.row(table, number, [(text, line, 0, 1, 1)].into_iter());
        }
        self.top += 1.0;
    }
}

/// Outermost tables and lists of definitions within a node.
pub(super) fn nested_roots(node: NodeRef<'_, Node>) -> Vec<Id> {
    let is_root = |n: &NodeRef<'_, Node>| matches!(name(n.value()), "table" | "dl");
    node.descendants()
        .skip(1)
        .filter(|n| is_root(n) && !n.ancestors().take_while(|a| a.id() != node.id()).any(|a| is_root(&a)))
        .map(|n| n.id())
        .collect()
}

fn span(cell: &Node, attribute_name: &str, otherwise: u32) -> u32 {
    attribute(cell, attribute_name)
        .map(|v| v.trim().chars().take_while(char::is_ascii_digit).collect::<String>())
        .and_then(|v| v.parse().ok())
        .unwrap_or(otherwise)
}

/// Whether a table only arranges the page: one cell, or one row or column of cells that hold whole passages.
fn is_arrangement(rows: &[Row<'_>]) -> bool {
    let filled = || rows.iter().flat_map(|r| &r.cells).filter(|c| c.nested || !c.text.is_empty());
    let passages = filled().filter(|c| c.nested || c.text.contains('\n')).count();
    match filled().count() {
        0 | 1 => true,
        _ if rows.len() == 1 => passages > 0 && unstack(rows).is_none(),
        count if rows.iter().all(|r| r.cells.len() == 1) => passages * 2 >= count,
        _ => false,
    }
}

/// One row whose cells stack the same number of lines (labels in one, figures in the next) as rows.
fn unstack(rows: &[Row<'_>]) -> Option<Vec<Vec<(String, u32)>>> {
    let [row] = rows else { return None };
    let count = row.cells.first()?.text.lines().count();
    if count < 2 || row.cells.len() < 2 || row.cells.iter().any(|c| c.nested || c.text.lines().count() != count) {
        return None;
    }
    // Lines that carry their own labels belong to their cell, not to each other.
    let later = row.cells.iter().skip(1).flat_map(|c| c.text.lines());
    if later.clone().any(|l| l.contains(':')) {
        return None;
    }
    let mut stacked = vec![Vec::new(); count];
    for cell in &row.cells {
        for (line, to) in cell.text.lines().zip(&mut stacked) {
            to.push((line.to_owned(), cell.line));
        }
    }
    Some(stacked)
}
