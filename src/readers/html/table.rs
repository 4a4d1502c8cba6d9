//! Tables of a page: spans laid out on a grid, tables that only arrange the page told from those that hold figures.

use super::Reader;
use super::dom::{Id, attribute, name};
use super::flow::Flow;
use super::style::Display;
use crate::readers::grid::{self, Cell, Step};
use ego_tree::NodeRef;
use scraper::Node;

/// Columns beyond which a table is made to hurt.
const MOST_COLUMNS: u32 = 1000;

type Row<'a> = grid::Row<NodeRef<'a, Node>>;

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
        let mut id = 0;
        for step in grid::plan(rows) {
            match step {
                Step::Row { starts, row } => {
                    if starts {
                        id = self.next_table();
                    }
                    self.row(id, row);
                }
                Step::Passage(node) => self.block(node, depth),
            }
        }
    }

    /// Writes a row of a hard table.
    pub(super) fn row(&mut self, table: u32, row: Row<'a>) {
        let Some(mut line) = grid::line(table, row, self.top) else { return };
        if let Some(part) = self.part {
            for word in &mut line.words {
                word.place.part = Some(part.clone());
            }
        }
        self.lines.push(line);
        self.top += 1.0;
    }

    /// A cell of one column and row.
    pub(super) fn plain_cell(&mut self, node: NodeRef<'a, Node>, column: u32, depth: usize) -> Cell<NodeRef<'a, Node>> {
        let (text, line) = self.cell_text(node, depth);
        Cell { node, column, columns: 1, rows: 1, nested: false, text, line }
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
    pub(super) fn cell_text(&mut self, cell: NodeRef<'a, Node>, depth: usize) -> (String, Option<u32>) {
        let mut flow = Flow::default();
        let gathering = std::mem::replace(&mut self.gathering, true);
        self.children(cell, &mut flow, false, depth + 1);
        self.gathering = gathering;
        let line = flow.first_line().or(self.dom.line(cell.id()));
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
        let mut terms = Vec::new();
        for item in items {
            if name(item.value()) == "dt" {
                terms.push(self.plain_cell(item, 0, depth));
                continue;
            }
            // A second term to the same value, or one without a value, keeps a row of its own.
            let last = terms.pop();
            for term in terms.drain(..) {
                number += 1;
                self.row(table, Row { number, cells: vec![term] });
            }
            number += 1;
            let value = self.plain_cell(item, 1, depth);
            self.row(table, Row { number, cells: last.into_iter().chain([value]).collect() });
            for id in nested_roots(item) {
                if let Some(node) = self.dom.html.tree.get(id) {
                    self.element(node, &mut Flow::default(), false, depth);
                }
            }
        }
        for term in terms {
            number += 1;
            self.row(table, Row { number, cells: vec![term] });
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
