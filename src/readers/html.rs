//! Web pages and HTML mail: tables and definition lists as hard tables, everything else as running lines.
//!
//! Takes HTML text, gives one [`Page`]. What the page does not show (hidden elements, scripts) is left out,
//! and said where it held figures.

mod dom;
mod flow;
mod style;
mod table;

use super::{ReadError, ReadOptions, ReadOutput, grid, marks, too_large};
use crate::document::{Notice, NoticeKind, Page, Part};
use crate::place::Where;
use dom::{Dom, attribute, name};
use ego_tree::NodeRef;
use encoding_rs::{Encoding, UTF_8, WINDOWS_1252};
use flow::Flow;
use scraper::Node;
use std::sync::Arc;
use style::{Display, Styles};

/// Elements nested deeper are read as bare text.
const DEEPEST: usize = 200;
/// Hidden passages that are named one by one.
const MOST_NOTICES: usize = 20;

/// Reads a page of HTML.
///
/// # Errors
///
/// `too-large`, `time-limit` for a page made to hurt, `unknown-encoding` for a label nobody knows.
pub fn read(bytes: &[u8], options: &ReadOptions) -> Result<ReadOutput, ReadError> {
    // The tree of a page takes several times its bytes.
    let limit = options.limits.file_bytes / 2;
    if bytes.len() > limit {
        return Err(too_large("bytes of HTML", bytes.len() as u64, limit as u64, "file-mib"));
    }
    let (text, mut notices) = decode(bytes, options)?;
    let dom = Dom::parse(&text);
    if dom.cut {
        return Err(ReadError {
            code: "time-limit",
            text: "the page has too many elements, or nests them too deep; save the report itself as a page of its own"
                .to_owned(),
            part: None,
        });
    }
    let (page, found) = page(&dom, None);
    notices.extend(found);
    let part = Part { name: None, format: "html".to_owned(), pages: vec![page] };
    Ok(ReadOutput { parts: vec![part], notices })
}

/// Reads HTML that is at hand as text, as the body of a mail. What is beyond the limits is left out.
pub fn read_text(html: &str, part: Option<&Arc<str>>) -> Vec<Page> {
    read_text_noticed(html, part).0
}

/// As [`read_text`], with what was hidden.
pub fn read_text_noticed(html: &str, part: Option<&Arc<str>>) -> (Vec<Page>, Vec<Notice>) {
    let dom = Dom::parse(html);
    let (page, mut notices) = page(&dom, part);
    if dom.cut {
        let text = "the page is too large; its end was not read".to_owned();
        notices.push(Notice { kind: NoticeKind::HiddenContent, text, place: Where::default() });
    }
    (vec![page], notices)
}

fn page(dom: &Dom, part: Option<&Arc<str>>) -> (Page, Vec<Notice>) {
    let styles = Styles::of(dom);
    let mut reader =
        Reader { dom, styles, part, lines: Vec::new(), notices: Vec::new(), top: 0.0, tables: 0, gathering: false };
    reader.block(dom.html.tree.root(), 0);
    (Page { name: None, lines: reader.lines, char_width: 1.0 }, reader.notices)
}

/// Bytes to text: byte order mark, the caller's label, the page's own label, valid UTF-8, Windows-1252.
fn decode(bytes: &[u8], options: &ReadOptions) -> Result<(String, Vec<Notice>), ReadError> {
    let named = match &options.encoding {
        Some(label) => Some(Encoding::for_label(label.as_bytes()).ok_or_else(|| ReadError {
            code: "unknown-encoding",
            text: format!("no encoding is called {label:?}; try utf-8 or windows-1252"),
            part: None,
        })?),
        None => None,
    };
    let valid = std::str::from_utf8(bytes).is_ok();
    let encoding = named.or_else(|| declared_encoding(bytes)).unwrap_or(if valid { UTF_8 } else { WINDOWS_1252 });
    // Pages that say UTF-8 and are not come from programs that never knew better.
    let encoding = if encoding == UTF_8 && !valid && named.is_none() { WINDOWS_1252 } else { encoding };
    let (text, used, broken) = encoding.decode(bytes);
    let mut notices = Vec::new();
    if broken {
        let text = format!("some characters could not be read as {}; name the right one with --encoding", used.name());
        notices.push(Notice { kind: NoticeKind::Encoding, text, place: Where::default() });
    }
    Ok((text.into_owned(), notices))
}

fn declared_encoding(bytes: &[u8]) -> Option<&'static Encoding> {
    let head = bytes.get(..bytes.len().min(2048)).unwrap_or_default();
    let head = String::from_utf8_lossy(head).to_ascii_lowercase();
    let after = head.split_once("charset")?.1.trim_start().strip_prefix('=')?;
    let label: String = after
        .trim_start_matches(['"', '\'', ' '])
        .chars()
        .take_while(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | ':'))
        .collect();
    // A page in a two-byte encoding could not have been searched for its label.
    Encoding::for_label(label.as_bytes()).filter(|e| e.is_ascii_compatible())
}

struct Reader<'a> {
    dom: &'a Dom,
    styles: Styles,
    part: Option<&'a Arc<str>>,
    lines: Vec<crate::document::Line>,
    notices: Vec<Notice>,
    top: f32,
    tables: u32,
    /// The text of a cell is being gathered: no lines are written.
    gathering: bool,
}

impl<'a> Reader<'a> {
    /// Reads a node as a block of its own.
    fn block(&mut self, node: NodeRef<'a, Node>, depth: usize) {
        let mut flow = Flow::default();
        self.children(node, &mut flow, false, depth + 1);
        self.write(&mut flow);
    }

    fn write(&mut self, flow: &mut Flow) {
        let empty = flow.emptied();
        let full = std::mem::replace(flow, empty);
        if !full.is_blank() {
            let lines = full.into_lines(&mut self.top, self.part);
            self.lines.extend(lines);
        }
    }

    /// Ends the line that is being gathered; outside cells the lines are written.
    fn end(&mut self, flow: &mut Flow) {
        if self.gathering {
            flow.end_block();
        } else {
            self.write(flow);
        }
    }

    fn children(&mut self, node: NodeRef<'a, Node>, flow: &mut Flow, kept: bool, depth: usize) {
        if depth > DEEPEST {
            for text in node.descendants() {
                if let Some(t) = text.value().as_text() {
                    flow.push(t, self.dom.line(text.id()).unwrap_or(1), kept);
                    flow.push(" ", 1, false);
                }
            }
            return;
        }
        for child in node.children() {
            if let Some(text) = child.value().as_text() {
                flow.push(text, self.dom.line(child.id()).unwrap_or(1), kept);
            } else if let Some(comment) = child.value().as_comment() {
                // Conditional comments are markup for one mail program, not somebody's remark.
                let is_markup = comment.trim_start().starts_with('[') || comment.contains('<');
                if !is_markup && comment.chars().any(char::is_alphabetic) {
                    self.notice_left_out("a comment in the page", comment, child.id());
                }
            } else if child.value().is_element() && !self.skip(child) {
                self.element(child, flow, kept, depth);
            }
        }
    }

    fn element(&mut self, node: NodeRef<'a, Node>, flow: &mut Flow, kept: bool, depth: usize) {
        let shown = self.styles.shown(node.id(), node.value());
        let line = self.dom.line(node.id()).unwrap_or(1);
        let tag = name(node.value());
        if tag == "sup" || (shown.raised == Some(true) && depth < DEEPEST) {
            let text = self.plain_text(node);
            flow.push_raised(&text, line);
            return;
        }
        let is_table = tag == "table" || shown.display == Some(Display::Table);
        if is_table || tag == "dl" {
            self.end(flow);
            if self.gathering {
                return;
            }
            self.top += 1.0;
            if is_table {
                self.table(node, depth + 1)
            } else {
                self.definitions(node, depth + 1)
            }
            self.top += 1.0;
            return;
        }
        if !self.gathering
            && let Some(Display::Flex | Display::Grid(_)) = shown.display
            && self.side_by_side(node, shown.display, flow, depth)
        {
            return;
        }
        match tag {
            "br" => flow.break_line(),
            "wbr" => {}
            "input" => self.input(node, flow, line),
            "select" => self.select(node, flow),
            "pre" | "textarea" => {
                self.end(flow);
                self.children(node, flow, true, depth + 1);
                self.end(flow);
            }
            "li" => {
                self.end(flow);
                self.children(node, flow, kept, depth + 1);
                self.end(flow);
            }
            "ul" | "ol" => {
                self.end(flow);
                flow.indent = flow.indent.saturating_add(2);
                self.children(node, flow, kept, depth + 1);
                self.end(flow);
                flow.indent = flow.indent.saturating_sub(2);
            }
            _ if is_block(tag, shown.display) => {
                self.end(flow);
                if matches!(tag, "p" | "h1" | "h2" | "h3" | "h4" | "h5" | "h6" | "hr" | "section") && !self.gathering {
                    self.top += 1.0;
                }
                self.children(node, flow, kept, depth + 1);
                self.end(flow);
            }
            _ => self.children(node, flow, kept, depth + 1),
        }
    }

    /// Children that style sets beside each other, as a row of a hard table. False where one of them is a passage.
    fn side_by_side(
        &mut self,
        node: NodeRef<'a, Node>,
        display: Option<Display>,
        flow: &mut Flow,
        depth: usize,
    ) -> bool {
        let items: Vec<_> = node.children().filter(|c| c.value().is_element() && !self.skip(*c)).collect();
        if items.len() < 2
            || items.len() > 2000
            || node.children().any(|c| c.value().as_text().is_some_and(|t| !t.trim().is_empty()))
        {
            return false;
        }
        let mut cells = Vec::new();
        for item in items {
            let (text, line) = self.cell_text(item, depth);
            if text.contains('\n') || !table::nested_roots(item).is_empty() {
                return false;
            }
            cells.push((item, text, line));
        }
        self.end(flow);
        let across = match display {
            Some(Display::Grid(columns)) => columns as usize,
            _ => cells.len(),
        };
        // Rows of the same width that follow each other are one table.
        let last = self.lines.last().filter(|l| l.top + 1.5 > self.top);
        let goes_on = display == Some(Display::Flex)
            && last.is_some_and(|l| {
                l.table == Some(self.tables) && l.words.last().is_some_and(|w| w.x1 as usize == across)
            });
        let (table, mut number) = if goes_on {
            (self.tables, last.and_then(|l| l.words.last()).and_then(|w| w.place.row).unwrap_or(0))
        } else {
            (self.next_table(), 0)
        };
        for row in cells.chunks(across.max(1)) {
            number += 1;
            let cells = (0..).zip(row).map(|(column, (node, text, line))| grid::Cell {
                node: *node,
                column,
                columns: 1,
                rows: 1,
                nested: false,
                text: text.clone(),
                line: *line,
            });
            self.row(table, grid::Row { number, cells: cells.collect() });
        }
        true
    }

    fn plain_text(&mut self, node: NodeRef<'a, Node>) -> String {
        let texts: Vec<&str> = node
            .descendants()
            .filter(|n| !n.ancestors().any(|a| self.styles.is_hidden(a.id(), a.value())))
            .filter_map(|n| n.value().as_text())
            .map(|t| &**t)
            .collect();
        texts.concat().split_inclusive(char::is_whitespace).collect()
    }

    fn input(&mut self, node: NodeRef<'a, Node>, flow: &mut Flow, line: u32) {
        let kind = attribute(node.value(), "type").unwrap_or("text").to_ascii_lowercase();
        if !matches!(
            kind.as_str(),
            "hidden" | "password" | "checkbox" | "radio" | "submit" | "button" | "reset" | "image"
        ) {
            flow.push(attribute(node.value(), "value").unwrap_or_default(), line, false);
        }
    }

    fn select(&mut self, node: NodeRef<'a, Node>, flow: &mut Flow) {
        let options: Vec<_> = node.descendants().filter(|n| name(n.value()) == "option").collect();
        let chosen = options.iter().find(|o| attribute(o.value(), "selected").is_some()).or(options.first());
        if let Some(option) = chosen {
            let text = self.plain_text(*option);
            flow.push(&text, self.dom.line(option.id()).unwrap_or(1), false);
        }
    }

    /// Whether a node is left out. What is hidden and held figures is said, once for each passage.
    fn skip(&mut self, node: NodeRef<'a, Node>) -> bool {
        if matches!(
            name(node.value()),
            "script" | "style" | "template" | "head" | "noscript" | "title" | "meta" | "link"
        ) {
            return true;
        }
        let struck =
            matches!(name(node.value()), "s" | "strike" | "del") || self.styles.is_struck(node.id(), node.value());
        if !struck && !self.styles.is_hidden(node.id(), node.value()) {
            return false;
        }
        let texts = node.descendants().filter(|n| {
            n.value().is_text() && !n.ancestors().any(|a| matches!(name(a.value()), "script" | "style" | "template"))
        });
        let text: String = texts.filter_map(|n| n.value().as_text()).map(|t| &**t).collect::<Vec<_>>().join(" ");
        self.notice_left_out(if struck { "struck out" } else { "hidden on the page" }, &text, node.id());
        true
    }

    fn notice_left_out(&mut self, how: &str, text: &str, id: dom::Id) {
        if !text.chars().any(char::is_numeric) || self.notices.len() >= MOST_NOTICES {
            return;
        }
        let words: Vec<&str> = text.split_whitespace().collect();
        let excerpt: String = words.join(" ").chars().filter(|c| marks::is_shown(*c)).take(60).collect();
        let mut place = Where::line(self.dom.line(id).unwrap_or(1));
        if let Some(part) = self.part {
            place = place.in_part(part);
        }
        let notice = Notice { kind: NoticeKind::HiddenContent, text: format!("{how} and left out: {excerpt}"), place };
        // A cell is looked at more than once.
        if !self.notices.contains(&notice) {
            self.notices.push(notice);
        }
    }
}

fn is_block(tag: &str, display: Option<Display>) -> bool {
    match display {
        Some(Display::Inline) => false,
        Some(_) => true,
        None => matches!(
            tag,
            "address"
                | "article"
                | "aside"
                | "blockquote"
                | "body"
                | "center"
                | "dd"
                | "details"
                | "div"
                | "dt"
                | "fieldset"
                | "figcaption"
                | "figure"
                | "footer"
                | "form"
                | "h1"
                | "h2"
                | "h3"
                | "h4"
                | "h5"
                | "h6"
                | "header"
                | "hr"
                | "html"
                | "legend"
                | "main"
                | "menu"
                | "nav"
                | "p"
                | "section"
                | "summary"
                | "td"
                | "th"
                | "tr"
                | "tbody"
                | "caption"
        ),
    }
}

#[cfg(test)]
#[path = "html/tests.rs"]
mod tests;
