//! Styles and paragraphs of OpenDocument.

use super::workbook::Look;
use super::xml::{attribute, reader, resolve};
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use std::collections::{BTreeMap, BTreeSet};

/// What the styles of a document say that a reader needs.
#[derive(Debug, Default)]
pub struct Styles {
    hidden_tables: BTreeSet<String>,
    without_size: BTreeSet<String>,
    looks: BTreeMap<String, Look>,
    /// Year, month and day: which of them a date style shows.
    dates: BTreeMap<String, (bool, bool, bool)>,
    data_styles: BTreeMap<String, String>,
    parents: BTreeMap<String, String>,
}

impl Styles {
    /// Adds the styles of one XML.
    pub fn read(&mut self, xml: &str) {
        let mut events = reader(xml);
        let mut style = String::new();
        let mut date: Option<(String, (bool, bool, bool))> = None;
        while let Ok(event) = events.read_event() {
            match event {
                Event::Start(e) => match e.local_name().as_ref() {
                    // Styles come before the body.
                    "body" => break,
                    "style" => {
                        style = attribute(&e, "name").unwrap_or_default();
                        if let Some(data) = attribute(&e, "data-style-name") {
                            self.data_styles.insert(style.clone(), data);
                        }
                        if let Some(parent) = attribute(&e, "parent-style-name") {
                            self.parents.insert(style.clone(), parent);
                        }
                    }
                    "table-properties" if attribute(&e, "display").is_some_and(|d| d == "false") => {
                        self.hidden_tables.insert(style.clone());
                    }
                    "table-column-properties" if is_zero(attribute(&e, "column-width")) => {
                        self.without_size.insert(style.clone());
                    }
                    "table-row-properties" if is_zero(attribute(&e, "row-height")) => {
                        self.without_size.insert(style.clone());
                    }
                    "text-properties" => {
                        let is_raised = attribute(&e, "text-position").is_some_and(|p| is_up(&p));
                        let font = attribute(&e, "font-name").unwrap_or_default();
                        self.looks.insert(style.clone(), Look::of(&font, is_raised));
                    }
                    "date-style" => date = attribute(&e, "name").map(|name| (name, (false, false, false))),
                    "year" => date.iter_mut().for_each(|(_, parts)| parts.0 = true),
                    "month" => date.iter_mut().for_each(|(_, parts)| parts.1 = true),
                    "day" | "day-of-week" => date.iter_mut().for_each(|(_, parts)| parts.2 = true),
                    _ => {}
                },
                Event::End(e) if e.local_name().as_ref() == "date-style" => self.dates.extend(date.take()),
                Event::Eof => break,
                _ => {}
            }
        }
    }

    /// Whether a table style hides its sheet.
    pub fn hides_table(&self, style: &str) -> bool {
        self.hidden_tables.contains(style)
    }

    /// Whether a row or column style has no height or width.
    pub fn has_no_size(&self, style: &str) -> bool {
        self.without_size.contains(style)
    }

    /// Year, month and day: which of them a cell style shows of a date. None where it says nothing of dates.
    pub fn date_parts(&self, style: &str) -> Option<(bool, bool, bool)> {
        self.dates.get(self.data_style(style)?).copied()
    }

    /// Name of the data style that formats the numbers of a cell style.
    pub fn data_style(&self, style: &str) -> Option<&str> {
        let mut style = style;
        // Chains of parents are short; one that runs in a ring ends here.
        for _ in 0..16 {
            if let Some(data) = self.data_styles.get(style) {
                return Some(data);
            }
            style = self.parents.get(style)?;
        }
        None
    }
}

fn is_zero(size: Option<String>) -> bool {
    let number = size.map(|s| s.trim_end_matches(|c: char| c.is_ascii_alphabetic()).to_owned());
    number.and_then(|n| n.parse::<f64>().ok()).is_some_and(|n| n == 0.0)
}

/// `super 58%` or a positive percentage.
fn is_up(position: &str) -> bool {
    let first = position.split_whitespace().next().unwrap_or_default();
    first == "super" || first.strip_suffix('%').and_then(|n| n.parse::<f64>().ok()).is_some_and(|n| n > 0.0)
}

/// The text of an element's paragraphs, read up to its end; none where it has none. Comments and drawings are left
/// out, and runs are as they are drawn.
pub fn paragraphs(events: &mut Reader<&[u8]>, element: &BytesStart<'_>, styles: &Styles) -> Option<String> {
    let end = element.name().as_ref().to_owned();
    let mut text = String::new();
    let mut any_paragraph = false;
    let mut depth_of_paragraph = 0_usize;
    // Where each open span begins, and its look.
    let mut spans: Vec<(usize, Look)> = Vec::new();
    let mut nested = 0_usize;
    while let Ok(event) = events.read_event() {
        let mut push = |characters: &str| {
            if depth_of_paragraph > 0 {
                text.push_str(characters);
            }
        };
        match event {
            Event::Start(e) => match e.local_name().as_ref() {
                "p" | "h" => {
                    if depth_of_paragraph == 0 && !text.is_empty() {
                        text.push('\n');
                    }
                    any_paragraph = true;
                    depth_of_paragraph += 1;
                }
                "span" => {
                    let style = attribute(&e, "style-name").unwrap_or_default();
                    spans.push((text.len(), styles.looks.get(&style).copied().unwrap_or_default()));
                }
                "s" => {
                    let blanks = attribute(&e, "c").and_then(|n| n.parse::<usize>().ok()).unwrap_or(1);
                    push(&" ".repeat(blanks.min(1000)));
                }
                "tab" => push("\t"),
                "line-break" => push("\n"),
                "annotation" | "frame" | "custom-shape" | "control" | "note" | "ruby-text" => skip_element(events, &e),
                _ if e.name().as_ref() == end => nested += 1,
                _ => {}
            },
            // Line ends and indents of the XML are no characters of the text.
            Event::Text(t) => push(&t.xml10_content().replace(['\n', '\t'], " ")),
            Event::CData(t) => push(&t.xml10_content()),
            Event::GeneralRef(r) => push(&resolve(&r).map(String::from).unwrap_or_default()),
            Event::End(e) => match e.local_name().as_ref() {
                "p" | "h" => depth_of_paragraph = depth_of_paragraph.saturating_sub(1),
                "span" => {
                    if let Some((start, look)) = spans.pop()
                        && let Some(run) = text.get(start..).map(ToOwned::to_owned)
                    {
                        text.truncate(start);
                        look.append(&mut text, &run);
                    }
                }
                _ if e.name().as_ref() == end => {
                    if nested == 0 {
                        break;
                    }
                    nested -= 1;
                }
                _ => {}
            },
            Event::Eof => break,
            _ => {}
        }
    }
    any_paragraph.then_some(text)
}

/// Goes on to the end of an element.
pub fn skip_element(events: &mut Reader<&[u8]>, element: &BytesStart<'_>) {
    let name = element.name().as_ref().to_owned();
    let mut depth = 1_usize;
    while let Ok(event) = events.read_event() {
        match event {
            Event::Start(e) if e.name().as_ref() == name => depth += 1,
            Event::End(e) if e.name().as_ref() == name => {
                depth -= 1;
                if depth == 0 {
                    return;
                }
            }
            Event::Eof => return,
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parents_that_run_in_a_ring_end() {
        let mut styles = Styles::default();
        styles.read("<s><style:style style:name=\"a\" style:parent-style-name=\"b\"/><style:style style:name=\"b\" style:parent-style-name=\"a\"/></s>");
        assert_eq!(styles.date_parts("a"), None);
    }

    #[test]
    fn positions_above_the_line_are_up() {
        assert!(is_up("super 58%") && is_up("33% 58%"));
        assert!(!is_up("sub 58%") && !is_up("-33% 58%") && !is_up("0% 100%"));
    }
}
