//! HTML text to a tree whose nodes know the line of the source that they began on.

use html5ever::tendril::{StrTendril, TendrilSink};
use html5ever::tree_builder::{ElementFlags, NodeOrText, QuirksMode, TreeBuilderOpts, TreeSink};
use html5ever::{Attribute, ParseOpts, QualName};
use scraper::html::HtmlTreeSink;
use scraper::{Html, Node};
use std::borrow::Cow;
use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::rc::Rc;
use std::time::{Duration, Instant};

/// Identifier of a node.
pub type Id = <HtmlTreeSink as TreeSink>::Handle;

/// More nodes than any report has; a page beyond this is made to hurt.
const MOST_NODES: usize = 400_000;
/// Open elements are searched for each tag, so that time grows with the square of the depth.
const LONGEST: Duration = Duration::from_secs(3);
/// Bytes parsed between two looks at the limits.
const STEP: usize = 8 * 1024;

/// A parsed page.
pub struct Dom {
    /// The tree.
    pub html: Html,
    lines: HashMap<Id, u32>,
    /// The page was cut short at a limit.
    pub cut: bool,
}

impl Dom {
    /// Parses a whole page or a fragment. Never fails; what is beyond the limits is left out and `cut` is set.
    pub fn parse(text: &str) -> Self {
        let made = Rc::new(Cell::new(0));
        let sink = LocatedSink {
            inner: HtmlTreeSink::new(Html::new_document()),
            line: Cell::new(1),
            lines: RefCell::new(HashMap::new()),
            made: made.clone(),
        };
        // Text in `noscript` is what a reader without scripts sees, which is not what the page shows.
        let options = ParseOpts {
            tree_builder: TreeBuilderOpts { scripting_enabled: true, ..TreeBuilderOpts::default() },
            ..ParseOpts::default()
        };
        let mut parser = html5ever::parse_document(sink, options);
        let started = Instant::now();
        let mut rest = text;
        let mut cut = false;
        while !rest.is_empty() {
            if made.get() > MOST_NODES || started.elapsed() > LONGEST {
                cut = true;
                break;
            }
            let mut end = STEP.min(rest.len());
            while !rest.is_char_boundary(end) {
                end += 1;
            }
            let (now, later) = rest.split_at(end);
            parser.process(StrTendril::from(now));
            rest = later;
        }
        let (html, lines) = parser.finish();
        Self { html, lines, cut }
    }

    /// Line of the source that a node begins on, counted from 1.
    pub fn line(&self, id: Id) -> Option<u32> {
        self.lines.get(&id).copied()
    }
}

struct LocatedSink {
    inner: HtmlTreeSink,
    line: Cell<u32>,
    lines: RefCell<HashMap<Id, u32>>,
    made: Rc<Cell<usize>>,
}

impl LocatedSink {
    fn made(&self, id: Id, line: u32) -> Id {
        self.made.set(self.made.get() + 1);
        self.lines.borrow_mut().entry(id).or_insert(line);
        id
    }

    /// Line on which a piece of text starts: the parser hands it over at its end.
    fn start_of(&self, text: &NodeOrText<Id>) -> Option<u32> {
        match text {
            NodeOrText::AppendText(text) => {
                let breaks = text.bytes().filter(|b| *b == b'\n').count();
                Some(self.line.get().saturating_sub(u32::try_from(breaks).unwrap_or(0)).max(1))
            }
            NodeOrText::AppendNode(_) => None,
        }
    }
}

impl TreeSink for LocatedSink {
    type Handle = Id;
    type Output = (Html, HashMap<Id, u32>);
    type ElemName<'a> = <HtmlTreeSink as TreeSink>::ElemName<'a>;

    fn finish(self) -> Self::Output {
        (self.inner.finish(), self.lines.into_inner())
    }
    fn parse_error(&self, msg: Cow<'static, str>) {
        self.inner.parse_error(msg);
    }
    fn get_document(&self) -> Id {
        self.inner.get_document()
    }
    fn elem_name<'a>(&'a self, target: &'a Id) -> Self::ElemName<'a> {
        self.inner.elem_name(target)
    }
    fn create_element(&self, name: QualName, attrs: Vec<Attribute>, flags: ElementFlags) -> Id {
        self.made(self.inner.create_element(name, attrs, flags), self.line.get())
    }
    fn create_comment(&self, text: StrTendril) -> Id {
        self.made(self.inner.create_comment(text), self.line.get())
    }
    fn create_pi(&self, target: StrTendril, data: StrTendril) -> Id {
        self.made(self.inner.create_pi(target, data), self.line.get())
    }
    fn append(&self, parent: &Id, child: NodeOrText<Id>) {
        let start = self.start_of(&child);
        self.inner.append(parent, child);
        if let Some(start) = start {
            let text = self.inner.0.borrow().tree.get(*parent).and_then(|p| p.last_child()).map(|n| n.id());
            if let Some(id) = text {
                self.made(id, start);
            }
        }
    }
    fn append_based_on_parent_node(&self, element: &Id, prev_element: &Id, child: NodeOrText<Id>) {
        self.inner.append_based_on_parent_node(element, prev_element, child);
    }
    fn append_doctype_to_document(&self, name: StrTendril, public_id: StrTendril, system_id: StrTendril) {
        self.inner.append_doctype_to_document(name, public_id, system_id);
    }
    fn get_template_contents(&self, target: &Id) -> Id {
        self.inner.get_template_contents(target)
    }
    fn same_node(&self, x: &Id, y: &Id) -> bool {
        x == y
    }
    fn set_quirks_mode(&self, mode: QuirksMode) {
        self.inner.set_quirks_mode(mode);
    }
    fn append_before_sibling(&self, sibling: &Id, new_node: NodeOrText<Id>) {
        let start = self.start_of(&new_node);
        self.inner.append_before_sibling(sibling, new_node);
        if let Some(start) = start {
            let html = self.inner.0.borrow();
            let text = html.tree.get(*sibling).and_then(|s| s.prev_sibling()).filter(|n| n.value().is_text());
            if let Some(id) = text.map(|n| n.id()) {
                self.made(id, start);
            }
        }
    }
    fn add_attrs_if_missing(&self, target: &Id, attrs: Vec<Attribute>) {
        self.inner.add_attrs_if_missing(target, attrs);
    }
    fn remove_from_parent(&self, target: &Id) {
        self.inner.remove_from_parent(target);
    }
    fn reparent_children(&self, node: &Id, new_parent: &Id) {
        self.inner.reparent_children(node, new_parent);
    }
    fn set_current_line(&self, line_number: u64) {
        self.line.set(u32::try_from(line_number).unwrap_or(u32::MAX));
    }
}

/// Name of an element, empty for everything else.
pub fn name(node: &Node) -> &str {
    node.as_element().map_or("", |e| e.name())
}

/// An attribute of an element.
pub fn attribute<'a>(node: &'a Node, name: &str) -> Option<&'a str> {
    node.as_element().and_then(|e| e.attr(name))
}
