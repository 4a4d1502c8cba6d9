//! The little of a page's style that decides what is seen, and what stands beside what.

use super::dom::{Dom, Id, attribute, name};
use scraper::{Node, Selector};
use std::collections::HashMap;

/// Rules looked at; a page with more is a framework's, and its first rules are the ones in use.
const MOST_RULES: usize = 3000;

/// Each rule is tried on each element.
const MOST_MATCHES: usize = 40_000_000;
/// A longer list of selectors is no style sheet of a report.
const LONGEST_SELECTOR: usize = 600;

/// How an element's box behaves, as far as reading needs it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Display {
    /// Not shown.
    Hidden,
    /// Runs on in its line.
    Inline,
    /// Starts its own line.
    Block,
    /// Children stand side by side.
    Flex,
    /// Children fill so many columns, row by row.
    Grid(u32),
    /// Behaves as `table`, `tr` or `td`.
    Table,
    /// See `Table`.
    TableRow,
    /// See `Table`.
    TableCell,
}

/// What style says of one element.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Shown {
    /// `display`, where style gives it.
    pub display: Option<Display>,
    invisible: Option<bool>,
    columns: Option<u32>,
    in_column: Option<bool>,
    /// Raised or lowered as `sup` and `sub` are.
    pub raised: Option<bool>,
    struck: bool,
}

impl Shown {
    fn over(self, other: Self) -> Self {
        Self {
            display: other.display.or(self.display),
            invisible: other.invisible.or(self.invisible),
            columns: other.columns.or(self.columns),
            in_column: other.in_column.or(self.in_column),
            raised: other.raised.or(self.raised),
            struck: self.struck || other.struck,
        }
    }

    fn is_hidden(self) -> bool {
        self.display == Some(Display::Hidden) || self.invisible == Some(true)
    }
}

/// The rules of a page's style sheets, matched against its elements.
#[derive(Default)]
pub struct Styles {
    of: HashMap<Id, Shown>,
}

impl Styles {
    /// Reads the page's own style sheets.
    pub fn of(dom: &Dom) -> Self {
        let mut styles = Self::default();
        let mut left = MOST_RULES.min(MOST_MATCHES / (dom.html.tree.nodes().len() + 1));
        for sheet in dom.html.tree.nodes().filter(|n| name(n.value()) == "style") {
            let css: String = sheet.children().filter_map(|c| c.value().as_text()).map(|t| &**t).collect();
            for (selectors, declarations) in rules(&strip_comments(&css)) {
                let shown = declared(&declarations);
                if shown == Shown::default() || left == 0 || selectors.len() > LONGEST_SELECTOR {
                    continue;
                }
                left -= 1;
                let Ok(selector) = Selector::parse(&selectors) else { continue };
                for element in dom.html.select(&selector) {
                    let known = styles.of.entry(element.id()).or_default();
                    *known = known.over(shown);
                }
            }
        }
        styles
    }

    /// What is known of an element: style sheets, then its own `style`, then `hidden`.
    pub fn shown(&self, id: Id, node: &Node) -> Shown {
        let mut shown = self.of.get(&id).copied().unwrap_or_default();
        if let Some(own) = attribute(node, "style") {
            shown = shown.over(declared(own));
        }
        // A `display` of any kind beats the attribute, as it does in a browser.
        if attribute(node, "hidden").is_some() && shown.display.is_none() {
            shown.display = Some(Display::Hidden);
        }
        match shown.display {
            Some(Display::Flex) if shown.in_column == Some(true) => shown.display = Some(Display::Block),
            Some(Display::Grid(_)) => {
                shown.display = Some(shown.columns.map_or(Display::Block, Display::Grid));
            }
            _ => {}
        }
        shown
    }

    /// Whether an element is struck out.
    pub fn is_struck(&self, id: Id, node: &Node) -> bool {
        node.is_element() && self.shown(id, node).struck
    }

    /// Whether an element and all in it is not shown.
    pub fn is_hidden(&self, id: Id, node: &Node) -> bool {
        node.is_element() && self.shown(id, node).is_hidden()
    }
}

fn strip_comments(css: &str) -> String {
    let mut out = String::with_capacity(css.len());
    let mut rest = css;
    while let Some(start) = rest.find("/*") {
        out.push_str(rest.get(..start).unwrap_or_default());
        rest = rest.get(start..).unwrap_or_default();
        let Some(end) = rest.find("*/") else { return out };
        rest = rest.get(end + 2..).unwrap_or_default();
    }
    out.push_str(rest);
    out.replace("<!--", " ").replace("-->", " ")
}

/// Selector and declarations of each rule. What is only for print, or for a narrow screen, is passed over.
fn rules(css: &str) -> Vec<(String, String)> {
    let mut found = Vec::new();
    let mut inside: Vec<bool> = Vec::new();
    let mut head = String::new();
    let mut chars = css.chars();
    while let Some(c) = chars.next() {
        match c {
            '{' if head.trim_start().starts_with('@') => {
                let at = head.trim().to_ascii_lowercase();
                let passes = at.starts_with("@supports")
                    || at.starts_with("@layer")
                    || (at.starts_with("@media") && !at.contains("print") && !at.contains("max-") && !at.contains('<'));
                inside.push(passes);
                head.clear();
            }
            '{' => {
                let declarations: String = chars.by_ref().take_while(|c| *c != '}').collect();
                if inside.iter().all(|p| *p) {
                    found.push((head.trim().to_owned(), declarations));
                }
                head.clear();
            }
            '}' => {
                inside.pop();
                head.clear();
            }
            ';' if head.trim_start().starts_with('@') => head.clear(),
            _ => head.push(c),
        }
    }
    found
}

fn declared(declarations: &str) -> Shown {
    let mut shown = Shown::default();
    let mut no_height = false;
    let mut clipped = false;
    for declaration in declarations.split(';') {
        let Some((property, value)) = declaration.split_once(':') else { continue };
        let value = value.to_ascii_lowercase().replace("!important", "");
        let value = value.trim();
        match property.trim().to_ascii_lowercase().as_str() {
            "display" => shown.display = display(value).or(shown.display),
            "visibility" => shown.invisible = Some(matches!(value, "hidden" | "collapse")),
            "opacity" => shown.invisible = Some(value.parse::<f32>().is_ok_and(|v| v == 0.0)).or(shown.invisible),
            "mso-hide" if value == "all" => shown.display = Some(Display::Hidden),
            "max-height" | "height" => no_height = matches!(value, "0" | "0px"),
            "overflow" => clipped = value == "hidden",
            "flex-direction" | "flex-flow" => shown.in_column = Some(value.starts_with("column")),
            "grid-template-columns" => shown.columns = columns(value),
            "text-decoration" | "text-decoration-line" => shown.struck |= value.contains("line-through"),
            "vertical-align" => {
                shown.raised = match value {
                    "super" => Some(true),
                    "sub" => Some(false),
                    _ => shown.raised,
                }
            }
            _ => {}
        }
    }
    if no_height && clipped {
        shown.display = Some(Display::Hidden);
    }
    shown
}

fn display(value: &str) -> Option<Display> {
    Some(match value {
        "none" => Display::Hidden,
        "inline" | "inline-block" => Display::Inline,
        "block" | "flow-root" | "list-item" => Display::Block,
        "flex" | "inline-flex" => Display::Flex,
        "grid" | "inline-grid" => Display::Grid(0),
        "table" | "inline-table" => Display::Table,
        "table-row" => Display::TableRow,
        "table-cell" => Display::TableCell,
        _ => return None,
    })
}

fn columns(value: &str) -> Option<u32> {
    if let Some(inner) = value.strip_prefix("repeat(") {
        return inner.split(',').next()?.trim().parse().ok().filter(|n| (2..=60).contains(n));
    }
    // Blanks inside `minmax(10px, 1fr)` part no columns.
    let mut depth = 0_i32;
    let mut count = 0_u32;
    let mut in_track = false;
    for c in value.chars() {
        match c {
            '(' => depth += 1,
            ')' => depth -= 1,
            _ => {}
        }
        if c.is_whitespace() && depth == 0 {
            in_track = false;
        } else if !in_track {
            in_track = true;
            count += 1;
        }
    }
    (2..=60).contains(&count).then_some(count)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rules_for_print_and_small_screens_are_passed_over() {
        let css = "@charset 'x'; .a{display:none} @media print{.b{display:none}} @media screen{.c{display:block}} .d{}";
        let heads: Vec<String> = rules(css).into_iter().map(|r| r.0).collect();
        assert_eq!(heads, [".a", ".c", ".d"]);
    }

    #[test]
    fn tracks_of_a_grid_are_counted() {
        assert_eq!(columns("2fr 1fr"), Some(2));
        assert_eq!(columns("repeat(3, 1fr)"), Some(3));
        assert_eq!(columns("minmax(10px, 1fr) auto auto"), Some(3));
        assert_eq!(columns("none"), None);
    }
}
