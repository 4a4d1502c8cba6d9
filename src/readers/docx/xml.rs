//! A small tree of one XML part, held flat so that no nesting can exhaust the stack.

use quick_xml::XmlVersion;
use quick_xml::events::{BytesStart, Event};
use quick_xml::reader::Reader;

/// Nodes beyond this are a file made to hurt.
const MOST_NODES: usize = 2_000_000;

/// An element, or a run of text.
#[derive(Default)]
pub struct Node {
    /// Local name; empty for text.
    pub name: Box<str>,
    attributes: Vec<(Box<str>, Box<str>)>,
    children: Vec<u32>,
    /// Text, for a run of text.
    pub text: Box<str>,
}

/// The tree. The root is node 0, whose children are the top elements.
pub struct Tree {
    nodes: Vec<Node>,
    nothing: Node,
}

impl Tree {
    /// Parses a part. `Err` says in words what is wrong with it.
    pub fn parse(xml: &str) -> Result<Self, String> {
        let mut reader = Reader::from_str(xml);
        let mut nodes = vec![Node::default()];
        let mut open = vec![0_u32];
        loop {
            let event = reader.read_event().map_err(|e| e.to_string())?;
            match event {
                Event::Start(start) => {
                    let id = add(&mut nodes, &open, element(&start))?;
                    open.push(id);
                }
                Event::Empty(start) => {
                    add(&mut nodes, &open, element(&start))?;
                }
                Event::End(_) => {
                    if open.len() > 1 {
                        open.pop();
                    }
                }
                Event::Text(text) => push_text(&mut nodes, &open, &text.xml10_content())?,
                Event::CData(data) => push_text(&mut nodes, &open, &data.xml10_content())?,
                // A reference comes as an event of its own: left out, `< 50` would lose its sign.
                Event::GeneralRef(reference) => {
                    let c = match reference.resolve_char_ref() {
                        Ok(Some(c)) => Some(c),
                        _ => match &*reference {
                            "lt" => Some('<'),
                            "gt" => Some('>'),
                            "amp" => Some('&'),
                            "quot" => Some('"'),
                            "apos" => Some('\''),
                            _ => None,
                        },
                    };
                    let mut buffer = [0; 4];
                    let text = c.unwrap_or('\u{fffd}').encode_utf8(&mut buffer);
                    push_text(&mut nodes, &open, text)?;
                }
                Event::Eof => break,
                Event::Decl(_) | Event::PI(_) | Event::DocType(_) | Event::Comment(_) => {}
            }
        }
        if open.len() > 1 {
            return Err("it ends in the middle".to_owned());
        }
        Ok(Self { nodes, nothing: Node::default() })
    }

    /// A node.
    pub fn node(&self, id: u32) -> &Node {
        self.nodes.get(id as usize).unwrap_or(&self.nothing)
    }

    /// Name of a node.
    pub fn name(&self, id: u32) -> &str {
        &self.node(id).name
    }

    /// Children of a node.
    pub fn children(&self, id: u32) -> &[u32] {
        &self.node(id).children
    }

    /// The first child of a name.
    pub fn child(&self, id: u32, name: &str) -> Option<u32> {
        self.children(id).iter().copied().find(|c| self.name(*c) == name)
    }

    /// An attribute by its local name.
    pub fn attribute(&self, id: u32, name: &str) -> Option<&str> {
        self.node(id).attributes.iter().find(|a| &*a.0 == name).map(|a| &*a.1)
    }

    /// `val` of the child of a name.
    pub fn value(&self, id: u32, child: &str) -> Option<&str> {
        self.child(id, child).and_then(|c| self.attribute(c, "val"))
    }

    /// A switch: present and not turned off. None where it is absent.
    pub fn switch(&self, id: u32, child: &str) -> Option<bool> {
        let child = self.child(id, child)?;
        Some(!matches!(self.attribute(child, "val"), Some("0" | "false" | "off" | "none")))
    }

    /// All nodes below one, in order of the document.
    pub fn below(&self, id: u32) -> Below<'_> {
        Below { tree: self, stack: self.children(id).iter().rev().copied().collect() }
    }

    /// All text below a node.
    pub fn text(&self, id: u32) -> String {
        self.below(id).map(|n| &*self.node(n).text).collect()
    }
}

/// See [`Tree::below`].
pub struct Below<'a> {
    tree: &'a Tree,
    stack: Vec<u32>,
}

impl Iterator for Below<'_> {
    type Item = u32;

    fn next(&mut self) -> Option<u32> {
        let id = self.stack.pop()?;
        self.stack.extend(self.tree.children(id).iter().rev());
        Some(id)
    }
}

fn element(start: &BytesStart<'_>) -> Node {
    let name = start.local_name().as_ref().into();
    let attributes = start
        .attributes()
        .with_checks(false)
        .flatten()
        .map(|a| {
            let value = a.normalized_value(XmlVersion::Implicit1_0).unwrap_or_default();
            (a.key.local_name().as_ref().into(), value.as_ref().into())
        })
        .collect();
    Node { name, attributes, ..Node::default() }
}

fn add(nodes: &mut Vec<Node>, open: &[u32], node: Node) -> Result<u32, String> {
    if nodes.len() >= MOST_NODES {
        return Err("it has too many elements".to_owned());
    }
    let id = u32::try_from(nodes.len()).map_err(|e| e.to_string())?;
    nodes.push(node);
    if let Some(parent) = open.last().and_then(|p| nodes.get_mut(*p as usize)) {
        parent.children.push(id);
    }
    Ok(id)
}

fn push_text(nodes: &mut Vec<Node>, open: &[u32], text: &str) -> Result<(), String> {
    if text.is_empty() || open.len() < 2 {
        return Ok(());
    }
    add(nodes, open, Node { text: text.into(), ..Node::default() }).map(|_| ())
}
