//! What a letter's styles say that reading needs: tab stops, hidden and raised text, size, fixed pitch.

use super::xml::Tree;
use std::collections::HashMap;

/// Styles based on one another, at most.
const LONGEST_CHAIN: usize = 12;

/// Where a tab goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stop {
    /// Points from the left edge of the text.
    pub at: f32,
    /// How the text stands at it.
    pub side: Side,
}

/// How text stands at a tab stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Starts there.
    Left,
    /// Is centred on it.
    Centre,
    /// Ends there.
    Right,
    /// Has its decimal mark there.
    Decimal,
    /// Not a stop: takes one away that a style set.
    Clear,
}

/// Character and paragraph properties, as far as they are given.
#[derive(Clone, Debug, Default)]
pub struct Style {
    /// Hidden text.
    pub vanish: Option<bool>,
    /// Struck out.
    pub strike: Option<bool>,
    /// Raised above the line (or, where false, not raised).
    pub raised: Option<bool>,
    /// Size in points.
    pub size: Option<f32>,
    /// All characters are of one width.
    pub fixed: Option<bool>,
    /// The font is the one of mathematical signs with codes of its own.
    pub symbol: Option<bool>,
    /// Indents in points: left, first line.
    pub indent: (Option<f32>, Option<f32>),
    /// Tab stops.
    pub stops: Vec<Stop>,
}

impl Style {
    /// These properties, and those of `under` where these say nothing.
    pub fn over(mut self, under: &Self) -> Self {
        self.vanish = self.vanish.or(under.vanish);
        self.strike = self.strike.or(under.strike);
        self.raised = self.raised.or(under.raised);
        self.size = self.size.or(under.size);
        self.fixed = self.fixed.or(under.fixed);
        self.symbol = self.symbol.or(under.symbol);
        self.indent = (self.indent.0.or(under.indent.0), self.indent.1.or(under.indent.1));
        for stop in &under.stops {
            if !self.stops.iter().any(|s| (s.at - stop.at).abs() < 0.5) {
                self.stops.push(*stop);
            }
        }
        self
    }

    /// Reads a paragraph's properties (`pPr`), without its style.
    pub fn of_paragraph(tree: &Tree, properties: u32) -> Self {
        let mut style = Self::default();
        let points = |node: u32, name: &str| {
            tree.attribute(node, name).and_then(|v| v.parse::<f32>().ok()).map(|v| (v / 20.0).clamp(-2000.0, 2000.0))
        };
        if let Some(tabs) = tree.child(properties, "tabs") {
            for tab in tree.children(tabs).iter().take(64) {
                let Some(at) = points(*tab, "pos") else { continue };
                let side = match tree.attribute(*tab, "val").unwrap_or("left") {
                    "right" | "end" => Side::Right,
                    "center" => Side::Centre,
                    "decimal" => Side::Decimal,
                    "clear" | "bar" => Side::Clear,
                    _ => Side::Left,
                };
                style.stops.push(Stop { at, side });
            }
        }
        if let Some(indent) = tree.child(properties, "ind") {
            let first = points(indent, "hanging").map(|h| -h).or(points(indent, "firstLine"));
            style.indent = (points(indent, "left").or(points(indent, "start")), first);
        }
        style
    }

    /// Reads a run's properties (`rPr`), without its style.
    pub fn of_run(tree: &Tree, properties: u32) -> Self {
        let font = tree.child(properties, "rFonts").and_then(|f| {
            let name = tree.attribute(f, "ascii").or(tree.attribute(f, "hAnsi"))?.to_ascii_lowercase();
            Some((
                ["courier", "consolas", "mono", "typewriter", "lucida console"].iter().any(|m| name.contains(m)),
                name == "symbol",
            ))
        });
        // A raised position without a smaller size is a matter of lay-out; figures raised by a point or more are not.
        let position = tree.value(properties, "position").and_then(|v| v.parse::<f32>().ok());
        let raised = match (tree.value(properties, "vertAlign"), position) {
            (Some("superscript"), _) => Some(true),
            (Some(_), _) => Some(false),
            (None, Some(half_points)) => Some(half_points >= 3.0),
            (None, None) => None,
        };
        let strike = tree.switch(properties, "strike").or(tree.switch(properties, "dstrike"));
        Self {
            vanish: tree.switch(properties, "vanish"),
            strike,
            raised,
            size: tree.value(properties, "sz").and_then(|v| v.parse::<f32>().ok()).map(|v| (v / 2.0).clamp(1.0, 200.0)),
            fixed: font.map(|f| f.0),
            symbol: font.map(|f| f.1),
            ..Self::default()
        }
    }
}

/// The style sheet of a letter.
#[derive(Default)]
pub struct Styles {
    named: HashMap<String, (Option<String>, Style)>,
    paragraph: Option<String>,
    /// Size of ordinary text in points.
    pub size: f32,
}

impl Styles {
    /// Reads `styles.xml`.
    pub fn of(tree: Option<&Tree>) -> Self {
        let mut styles = Self { size: 11.0, ..Self::default() };
        let Some((tree, root)) = tree.and_then(|t| Some((t, t.child(0, "styles")?))) else { return styles };
        for id in tree.children(root) {
            let own = |node: u32| {
                let paragraph = tree.child(node, "pPr").map(|p| Style::of_paragraph(tree, p)).unwrap_or_default();
                let run = tree.child(node, "rPr").map(|r| Style::of_run(tree, r)).unwrap_or_default();
                run.over(&paragraph)
            };
            match tree.name(*id) {
                "docDefaults" => {
                    let run = tree.child(*id, "rPrDefault").and_then(|d| tree.child(d, "rPr"));
                    let size = run.and_then(|r| Style::of_run(tree, r).size);
                    styles.size = size.unwrap_or(styles.size);
                }
                "style" => {
                    let Some(name) = tree.attribute(*id, "styleId") else { continue };
                    let default = matches!(tree.attribute(*id, "default"), Some("1" | "true"));
                    if default && tree.attribute(*id, "type") == Some("paragraph") {
                        styles.paragraph = Some(name.to_owned());
                    }
                    let based = tree.value(*id, "basedOn").map(str::to_owned);
                    styles.named.insert(name.to_owned(), (based, own(*id)));
                }
                _ => {}
            }
        }
        if let Some(size) = styles.resolve(None).size {
            styles.size = size;
        }
        styles
    }

    /// A style with all that it is based on; the default paragraph style where no name is given.
    pub fn resolve(&self, name: Option<&str>) -> Style {
        let mut style = Style::default();
        let mut next = name.or(self.paragraph.as_deref());
        for _ in 0..LONGEST_CHAIN {
            let Some((based, own)) = next.and_then(|n| self.named.get(n)) else { break };
            style = style.over(own);
            next = based.as_deref();
        }
        style
    }
}
