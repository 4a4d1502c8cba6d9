//! Walks a letter's content: paragraphs to lines, tables to hard rows, text boxes after the paragraph they hang on.

use super::paragraph::Paragraph;
use super::style::{Style, Styles};
use super::xml::Tree;
use crate::document::{Line, Notice, NoticeKind};
use crate::place::Where;
use crate::readers::grid::{self, Cell, Row, Step};
use crate::readers::marks;
use std::collections::{HashMap, HashSet};

/// Content nested deeper is not looked into.
const DEEPEST: usize = 120;
/// Columns of a table, at most.
const MOST_COLUMNS: u32 = 1000;
/// Left-out passages that are named one by one.
const MOST_NOTICES: usize = 20;

/// What all parts of a letter share while they are read.
pub struct Letter<'a> {
    /// Its styles.
    pub styles: &'a Styles,
    /// Distance of ordinary tab stops in points.
    pub tab: f32,
    /// Tables so far.
    pub tables: u32,
    /// Paragraphs so far, tables' and text boxes' own not counted.
    pub paragraphs: u32,
    /// Numbers of the notes that the text refers to, by kind and identifier, in order.
    pub notes: Vec<(&'static str, String)>,
    /// What was left out.
    pub notices: Vec<Notice>,
    /// Something was nested too deep to be read.
    pub too_deep: bool,
}

/// Reads one part (body, header, notes) of a letter.
pub struct Reader<'a, 'b> {
    /// The part.
    pub tree: &'a Tree,
    /// The letter.
    pub letter: &'b mut Letter<'a>,
    /// Lines so far.
    pub lines: Vec<Line>,
    top: f32,
    boxes: Vec<u32>,
    read_boxes: HashSet<u32>,
    /// Number of the note that is being read.
    pub note: Option<usize>,
}

impl<'a, 'b> Reader<'a, 'b> {
    /// Starts on a part.
    pub fn new(tree: &'a Tree, letter: &'b mut Letter<'a>) -> Self {
        Self { tree, letter, lines: Vec::new(), top: 0.0, boxes: Vec::new(), read_boxes: HashSet::new(), note: None }
    }

    /// Reads all blocks of a node. `place`: where they stand, if that is not their own paragraph.
    pub fn blocks(&mut self, node: u32, place: Option<&Where>, depth: usize) {
        if depth > DEEPEST {
            self.letter.too_deep = true;
            return;
        }
        let tree = self.tree;
        for child in tree.children(node) {
            match tree.name(*child) {
                "p" => self.paragraph(*child, place, depth),
                "tbl" => self.table(*child, depth),
                "del" | "moveFrom" => self.left_out("a tracked deletion was", *child, true),
                "altChunk" => self.letter.notices.push(Notice {
                    kind: NoticeKind::UnreadableAttachment,
                    text: "a document embedded in the letter was not read".to_owned(),
                    place: Where::default(),
                }),
                "AlternateContent" => {
                    if let Some(shown) = self.alternative(*child) {
                        self.blocks(shown, place, depth + 1);
                    }
                }
                "sdt" | "sdtContent" | "ins" | "moveTo" | "customXml" | "smartTag" => {
                    self.blocks(*child, place, depth + 1);
                }
                _ => {}
            }
        }
    }

    fn paragraph(&mut self, node: u32, place: Option<&Where>, depth: usize) {
        let place = match place {
            Some(place) => place.clone(),
            None => {
                self.letter.paragraphs += 1;
                Where::line(self.letter.paragraphs)
            }
        };
        let (paragraph, style) = self.gather(node, depth);
        let column = self.letter.styles.size * 0.5;
        let tab = self.letter.tab;
        let lines = paragraph.into_lines(&style, column, tab, &place, &mut self.top);
        self.lines.extend(lines);
        self.text_boxes(&place, depth);
    }

    /// Text boxes met since the last call, as passages of their own.
    fn text_boxes(&mut self, place: &Where, depth: usize) {
        for content in std::mem::take(&mut self.boxes) {
            if !self.read_boxes.insert(content) {
                continue;
            }
            self.top += 1.0;
            self.blocks(content, Some(place), depth + 1);
            self.top += 1.0;
        }
    }

    fn gather(&mut self, node: u32, depth: usize) -> (Paragraph, Style) {
        let tree = self.tree;
        let properties = tree.child(node, "pPr");
        let named = self.letter.styles.resolve(properties.and_then(|p| tree.value(p, "pStyle")));
        let style = match properties {
            Some(p) => Style::of_paragraph(tree, p).over(&named),
            None => named,
        };
        let mut paragraph = Paragraph::default();
        self.inline(node, &style, &mut paragraph, depth + 1);
        (paragraph, style)
    }

    fn inline(&mut self, node: u32, style: &Style, to: &mut Paragraph, depth: usize) {
        if depth > DEEPEST {
            self.letter.too_deep = true;
            return;
        }
        let tree = self.tree;
        for child in tree.children(node) {
            match tree.name(*child) {
                "r" => self.run(*child, style, to, depth + 1),
                "del" | "moveFrom" => self.left_out("a tracked deletion was", *child, true),
                "AlternateContent" => {
                    if let Some(shown) = self.alternative(*child) {
                        self.inline(shown, style, to, depth + 1);
                    }
                }
                "pPr" | "rPr" | "sdtPr" | "sdtEndPr" | "rt" => {}
                // Raised and lowered parts of formulas are elements, not properties.
                "sup" => {
                    let raised = Style { raised: Some(true), ..style.clone() };
                    self.inline(*child, &raised, to, depth + 1);
                }
                "den" => {
                    to.push("/", style, self.letter.styles.size);
                    self.inline(*child, style, to, depth + 1);
                }
                _ => self.inline(*child, style, to, depth + 1),
            }
        }
    }

    fn run(&mut self, node: u32, style: &Style, to: &mut Paragraph, depth: usize) {
        let tree = self.tree;
        let mut style = style.clone();
        if let Some(properties) = tree.child(node, "rPr") {
            if let Some(name) = tree.value(properties, "rStyle") {
                style = self.letter.styles.resolve(Some(name)).over(&style);
            }
            style = Style::of_run(tree, properties).over(&style);
        }
        if style.vanish == Some(true) {
            self.left_out("hidden text was", node, false);
            return;
        }
        if style.strike == Some(true) {
            self.left_out("struck-out text was", node, false);
            return;
        }
        let size = self.letter.styles.size;
        for child in tree.children(node) {
            match tree.name(*child) {
                "t" => to.push(&tree.text(*child), &style, size),
                "tab" | "ptab" => to.control('\t'),
                "br" | "cr" => to.control('\n'),
                "noBreakHyphen" => to.push("-", &style, size),
                "sym" => {
                    let code = tree.attribute(*child, "char").and_then(|c| u32::from_str_radix(c, 16).ok());
                    let c = code.and_then(char::from_u32).unwrap_or('\u{fffd}');
                    let is_symbol = tree.attribute(*child, "font").is_some_and(|f| f.eq_ignore_ascii_case("symbol"));
                    let c = if is_symbol { marks::from_symbol(c) } else { c };
                    // The sign has a font of its own, whatever the run's is.
                    let own = Style { symbol: None, ..style.clone() };
                    to.push(c.encode_utf8(&mut [0; 4]), &own, size);
                }
                kind @ ("footnoteReference" | "endnoteReference")
                    if tree.attribute(*child, "customMarkFollows").is_none() =>
                {
                    let kind = if kind == "footnoteReference" { "footnote" } else { "endnote" };
                    let number = self.note_number(kind, tree.attribute(*child, "id").unwrap_or_default());
                    self.mark(number, &style, to);
                }
                "footnoteRef" | "endnoteRef" => {
                    if let Some(number) = self.note {
                        self.mark(number, &style, to);
                        to.push(" ", &Style { raised: Some(false), ..style.clone() }, size);
                    }
                }
                "drawing" | "pict" | "object" | "AlternateContent" => self.find_boxes(*child),
                "ruby" => {
                    if let Some(base) = tree.child(*child, "rubyBase") {
                        self.inline(base, &style, to, depth + 1);
                    }
                }
                _ => {}
            }
        }
    }

    fn mark(&mut self, number: usize, style: &Style, to: &mut Paragraph) {
        let raised = Style { raised: Some(true), ..style.clone() };
        to.push(&number.to_string(), &raised, self.letter.styles.size);
    }

    fn note_number(&mut self, kind: &'static str, id: &str) -> usize {
        // A cell is looked at more than once; its notes keep their numbers.
        if !self.letter.notes.iter().any(|n| n.0 == kind && n.1 == id) {
            self.letter.notes.push((kind, id.to_owned()));
        }
        self.letter.notes.iter().filter(|n| n.0 == kind).position(|n| n.1 == id).map_or(0, |i| i + 1)
    }

    /// The branch of alternative content that a word processor of today shows.
    fn alternative(&self, node: u32) -> Option<u32> {
        self.tree.child(node, "Choice").or_else(|| self.tree.child(node, "Fallback"))
    }

    /// Text boxes stand twice in the file: as a shape of today and, as a fallback, as one of old.
    fn find_boxes(&mut self, node: u32) {
        let tree = self.tree;
        let mut stack = vec![node];
        while let Some(id) = stack.pop() {
            match tree.name(id) {
                "txbxContent" => self.boxes.push(id),
                "AlternateContent" => {
                    let holds = |branch: &u32| tree.below(*branch).any(|n| tree.name(n) == "txbxContent");
                    let choice = tree.child(id, "Choice").filter(holds);
                    stack.extend(choice.or_else(|| tree.child(id, "Fallback")));
                }
                _ => stack.extend(tree.children(id).iter().rev()),
            }
        }
    }

    fn left_out(&mut self, what: &str, node: u32, always: bool) {
        let tree = self.tree;
        let shown = |n: &u32| matches!(tree.name(*n), "t" | "delText");
        let text: String = tree.below(node).filter(shown).map(|n| tree.text(n)).collect();
        let says = if always { text.chars().any(char::is_alphanumeric) } else { text.chars().any(char::is_numeric) };
        if !says || self.letter.notices.len() >= MOST_NOTICES {
            return;
        }
        let place = Where::line(self.letter.paragraphs.max(1));
        let excerpt: String = text.trim().chars().take(60).collect();
        let notice = Notice { kind: NoticeKind::HiddenContent, text: format!("{what} left out: {excerpt}"), place };
        if !self.letter.notices.contains(&notice) {
            self.letter.notices.push(notice);
        }
    }

    fn table(&mut self, node: u32, depth: usize) {
        self.letter.tables += 1;
        let number = self.letter.tables;
        let mut rows = Vec::new();
        let mut merged = Vec::new();
        self.rows(node, number, &mut rows, &mut merged, depth + 1);
        span_rows(&mut rows, &merged);
        self.top += 1.0;
        for step in grid::plan(rows) {
            match step {
                Step::Row { row, .. } => {
                    if let Some(line) = grid::line(number, row, self.top) {
                        self.lines.push(line);
                        self.top += 1.0;
                    }
                }
                Step::Passage((cell, place)) => {
                    self.blocks(cell, Some(&place), depth + 1);
                }
            }
        }
        self.text_boxes(&Where { table: Some(number), ..Where::default() }, depth);
        self.top += 1.0;
    }

    /// Rows of a table. `merged`: row and column of each cell that goes on from the one above it.
    fn rows(
        &mut self,
        node: u32,
        table: u32,
        rows: &mut Vec<Row<(u32, Where)>>,
        merged: &mut Vec<(u32, u32)>,
        depth: usize,
    ) {
        if depth > DEEPEST {
            self.letter.too_deep = true;
            return;
        }
        let tree = self.tree;
        for child in tree.children(node) {
            if tree.name(*child) != "tr" {
                if matches!(tree.name(*child), "sdt" | "sdtContent" | "ins" | "customXml") {
                    self.rows(*child, table, rows, merged, depth + 1);
                }
                continue;
            }
            let number = rows.last().map_or(0, |r| r.number) + 1;
            let mut row = Row { number, cells: Vec::new() };
            let properties = tree.child(*child, "trPr");
            if properties.is_some_and(|p| tree.child(p, "del").is_some()) {
                self.left_out("a tracked deletion of a row was", *child, true);
            } else if properties.is_some_and(|p| tree.switch(p, "hidden") == Some(true)) {
                self.left_out("a hidden row was", *child, false);
            } else {
                let before = properties.and_then(|p| tree.value(p, "gridBefore")).and_then(|v| v.parse().ok());
                let mut column = before.unwrap_or(0).min(MOST_COLUMNS);
                self.cells(*child, table, &mut row, &mut column, merged, depth + 1);
            }
            rows.push(row);
        }
    }

    fn cells(
        &mut self,
        node: u32,
        table: u32,
        row: &mut Row<(u32, Where)>,
        column: &mut u32,
        merged: &mut Vec<(u32, u32)>,
        depth: usize,
    ) {
        let tree = self.tree;
        for child in tree.children(node) {
            match tree.name(*child) {
                "sdt" | "sdtContent" | "ins" | "customXml" if depth <= DEEPEST => {
                    self.cells(*child, table, row, column, merged, depth + 1);
                }
                "tc" if *column < MOST_COLUMNS => {
                    let properties = tree.child(*child, "tcPr");
                    let goes_on = |name| {
                        properties
                            .and_then(|p| tree.child(p, name))
                            .is_some_and(|m| tree.attribute(m, "val").is_none_or(|v| v == "continue"))
                    };
                    let columns = properties.and_then(|p| tree.value(p, "gridSpan")).and_then(|v| v.parse().ok());
                    let columns = columns.unwrap_or(1).clamp(1, MOST_COLUMNS);
                    let start = *column;
                    *column += columns;
                    if goes_on("vMerge") {
                        merged.push((row.number, start));
                        self.left_out("text of a cell under a merged one was", *child, false);
                        continue;
                    }
                    if goes_on("hMerge") {
                        if let Some(last) = row.cells.last_mut() {
                            last.columns += columns;
                        }
                        continue;
                    }
                    let place = Where::table_cell(table, row.number, start + 1);
                    let (text, nested) = self.cell_text(*child, depth);
                    let node = (*child, place);
                    row.cells.push(Cell { node, column: start, columns, rows: 1, nested, text, line: None });
                }
                _ => {}
            }
        }
    }

    /// Text of a cell, paragraph by paragraph, and whether tables stand in it.
    fn cell_text(&mut self, cell: u32, depth: usize) -> (String, bool) {
        let tree = self.tree;
        let nested = tree.below(cell).any(|n| tree.name(n) == "tbl");
        let mut lines = Vec::new();
        let mut stack: Vec<u32> = tree.children(cell).iter().rev().copied().collect();
        while let Some(id) = stack.pop() {
            match tree.name(id) {
                "p" => {
                    let text = self.gather(id, depth).0.into_text();
                    lines.extend(text.lines().map(str::trim).filter(|l| !l.is_empty()).map(str::to_owned));
                }
                "tbl" => {}
                "del" | "moveFrom" => self.left_out("a tracked deletion was", id, true),
                "AlternateContent" => stack.extend(self.alternative(id)),
                _ => stack.extend(tree.children(id).iter().rev()),
            }
        }
        (lines.join("\n"), nested)
    }
}

/// Gives the cell on top of a vertical merge the rows that go on below it.
fn span_rows(rows: &mut [Row<(u32, Where)>], merged: &[(u32, u32)]) {
    let mut open: HashMap<u32, (usize, usize, u32)> = HashMap::new();
    for index in 0..rows.len() {
        let Some(number) = rows.get(index).map(|r| r.number) else { continue };
        let goes_on: Vec<u32> = merged.iter().filter(|m| m.0 == number).map(|m| m.1).collect();
        for column in &goes_on {
            if let Some((row, cell, spanned)) = open.get_mut(column) {
                *spanned += 1;
                if let Some(top) = rows.get_mut(*row).and_then(|r| r.cells.get_mut(*cell)) {
                    top.rows = *spanned;
                }
            }
        }
        open.retain(|column, _| goes_on.contains(column));
        let Some(row) = rows.get(index) else { continue };
        for (cell, at) in row.cells.iter().enumerate() {
            open.insert(at.column, (index, cell, 1));
        }
    }
}
