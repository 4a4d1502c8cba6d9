//! Letters of a word processor (.docx): paragraphs as running lines, tables as hard rows.
//!
//! Takes the bytes of the file, gives one page with headers first, then the body, its notes, and footers.
//! Tracked deletions, hidden and struck-out text are left out, and said; comments are not read.

mod body;
mod package;
mod paragraph;
mod style;
mod xml;

use super::{ReadError, ReadOptions, ReadOutput};
use crate::document::{Line, Notice, NoticeKind, Page, Part};
use crate::place::Where;
use body::{Letter, Reader};
use package::{Package, not_a_letter};
use style::Styles;
use xml::Tree;

/// Headers and footers that are looked at.
const MOST_HEADERS: usize = 60;

/// Reads a letter.
///
/// # Errors
///
/// `not-a-docx`, `encrypted`, `too-large`, and `no-text-layer` for a letter that is only pictures.
pub fn read(bytes: &[u8], options: &ReadOptions) -> Result<ReadOutput, ReadError> {
    // A password is of no use: a letter's encryption wraps the whole container.
    let mut package = Package::open(bytes, &options.limits)?;
    let main = main_part(&mut package)?;
    let Some(document) = parse(&mut package, &main)? else {
        return Err(not_a_letter(&format!("its part {main} is missing")));
    };
    let relations = relations(&mut package, &main)?;
    let folder = main.rsplit_once('/').map_or("", |f| f.0);
    let beside = |name: &str| if folder.is_empty() { name.to_owned() } else { format!("{folder}/{name}") };

    let styles = Styles::of(parse(&mut package, &beside("styles.xml"))?.as_ref());
    let settings = parse(&mut package, &beside("settings.xml"))?;
    let setting = |name: &str| settings.as_ref().and_then(|t| t.child(t.child(0, "settings")?, name).map(|n| (t, n)));
    let tab = setting("defaultTabStop").and_then(|(t, n)| t.attribute(n, "val")?.parse::<f32>().ok());
    let tab = (tab.unwrap_or(720.0) / 20.0).clamp(4.0, 400.0);
    let even_pages = setting("evenAndOddHeaders").is_some();

    let references = header_references(&document, even_pages);
    let mut apart = Vec::new();
    for (id, header, shown) in references {
        let Some(target) = relations.iter().find(|r| r.0 == id).map(|r| resolve(folder, &r.1)) else { continue };
        if let Some(tree) = parse(&mut package, &target)? {
            apart.push((tree, header, shown));
        }
    }
    let footnotes = parse(&mut package, &beside("footnotes.xml"))?;
    let endnotes = parse(&mut package, &beside("endnotes.xml"))?;
    let comments = parse(&mut package, &beside("comments.xml"))?;
    let names = package.names();

    let mut letter = Letter {
        styles: &styles,
        tab,
        tables: 0,
        paragraphs: 0,
        notes: Vec::new(),
        notices: Vec::new(),
        too_deep: false,
    };
    // The body first, so that its paragraphs and tables count from 1.
    let body = {
        let mut reader = Reader::new(&document, &mut letter);
        if let Some(body) = document.child(0, "document").and_then(|d| document.child(d, "body")) {
            reader.blocks(body, None, 0);
        }
        reader.lines
    };
    let notes = read_notes(footnotes.as_ref(), endnotes.as_ref(), &mut letter);
    let mut headers = Vec::new();
    let mut footers = Vec::new();
    let mut seen: Vec<String> = Vec::new();
    for (tree, header, shown) in &apart {
        let mut reader = Reader::new(tree, &mut letter);
        for root in tree.children(0) {
            reader.blocks(*root, None, 0);
        }
        let lines = reader.lines;
        let text: String = lines.iter().map(|l| l.text() + "\n").collect();
        if text.trim().is_empty() || seen.contains(&text) {
            continue;
        }
        if !shown {
            if text.chars().any(char::is_numeric) {
                letter.notices.push(hidden("a header that no page shows was left out"));
            }
            continue;
        }
        seen.push(text);
        if *header { headers.push(lines) } else { footers.push(lines) }
    }
    if comments.is_some_and(|c| c.text(0).chars().any(char::is_alphanumeric)) {
        letter.notices.push(hidden("comments in the margin were not read"));
    }
    if names.iter().any(|n| n.contains("/embeddings/")) {
        letter.notices.push(Notice {
            kind: NoticeKind::UnreadableAttachment,
            text: "a file embedded in the letter was not read".to_owned(),
            place: Where::default(),
        });
    }
    if letter.too_deep {
        return Err(ReadError {
            code: "too-large",
            text: "the letter nests its content too deep to be read; save it again as a plain letter".to_owned(),
            part: None,
        });
    }
    let lines = in_order(headers.into_iter().chain([body, notes]).chain(footers));
    let pictures = names.iter().any(|n| n.contains("/media/"));
    if lines.is_empty() && pictures {
        return Err(ReadError {
            code: "no-text-layer",
            text: "the letter holds pictures and no text; ask the laboratory for the report as text".to_owned(),
            part: None,
        });
    }
    let page = Page { name: None, lines, char_width: 1.0 };
    let part = Part { name: None, format: "docx".to_owned(), pages: vec![page] };
    Ok(ReadOutput { parts: vec![part], notices: letter.notices })
}

fn hidden(text: &str) -> Notice {
    Notice { kind: NoticeKind::HiddenContent, text: text.to_owned(), place: Where::default() }
}

/// Passages one below the other.
fn in_order(passages: impl Iterator<Item = Vec<Line>>) -> Vec<Line> {
    let mut all: Vec<Line> = Vec::new();
    for passage in passages {
        let start = all.last().map_or(0.0, |l| l.bottom + 2.0) - passage.first().map_or(0.0, |l| l.top);
        all.extend(passage.into_iter().map(|mut line| {
            line.top += start;
            line.bottom += start;
            line
        }));
    }
    all
}

fn read_notes<'a>(footnotes: Option<&'a Tree>, endnotes: Option<&'a Tree>, letter: &mut Letter<'a>) -> Vec<Line> {
    let mut passages = Vec::new();
    for (kind, tree, root) in [("footnote", footnotes, "footnotes"), ("endnote", endnotes, "endnotes")] {
        let Some((tree, root)) = tree.and_then(|t| Some((t, t.child(0, root)?))) else { continue };
        let ids: Vec<String> = letter.notes.iter().filter(|n| n.0 == kind).map(|n| n.1.clone()).collect();
        for (index, id) in ids.iter().enumerate() {
            let note = tree.children(root).iter().copied().find(|n| tree.attribute(*n, "id") == Some(id));
            let Some(note) = note else { continue };
            let mut reader = Reader::new(tree, letter);
            reader.note = Some(index + 1);
            reader.blocks(note, None, 0);
            passages.push(reader.lines);
        }
    }
    in_order(passages.into_iter())
}

fn parse(package: &mut Package<'_>, name: &str) -> Result<Option<Tree>, ReadError> {
    let Some(text) = package.text(name)? else { return Ok(None) };
    Tree::parse(&text).map(Some).map_err(|e| not_a_letter(&format!("its part {name} is broken: {e}")))
}

/// Name of the part that holds the text.
fn main_part(package: &mut Package<'_>) -> Result<String, ReadError> {
    if let Some(tree) = parse(package, "_rels/.rels")? {
        let target = tree.below(0).find_map(|n| {
            let kind = tree.attribute(n, "Type")?;
            if kind.ends_with("/officeDocument") { tree.attribute(n, "Target") } else { None }
        });
        if let Some(target) = target {
            return Ok(target.trim_start_matches('/').to_owned());
        }
    }
    Ok("word/document.xml".to_owned())
}

/// Identifiers and targets of what a part refers to.
fn relations(package: &mut Package<'_>, part: &str) -> Result<Vec<(String, String)>, ReadError> {
    let (folder, name) = part.rsplit_once('/').unwrap_or(("", part));
    let path = if folder.is_empty() { format!("_rels/{name}.rels") } else { format!("{folder}/_rels/{name}.rels") };
    let Some(tree) = parse(package, &path)? else { return Ok(Vec::new()) };
    let found = tree.below(0).filter_map(|n| {
        let id = tree.attribute(n, "Id")?.to_owned();
        Some((id, tree.attribute(n, "Target")?.to_owned()))
    });
    Ok(found.collect())
}

fn resolve(folder: &str, target: &str) -> String {
    match target.strip_prefix('/') {
        Some(absolute) => absolute.to_owned(),
        None if folder.is_empty() => target.to_owned(),
        None => format!("{folder}/{target}"),
    }
}

/// Headers and footers in order of first use: identifier, whether a header, whether any page shows it.
fn header_references(tree: &Tree, even_pages: bool) -> Vec<(String, bool, bool)> {
    let mut found: Vec<(String, bool, bool)> = Vec::new();
    for section in tree.below(0).filter(|n| tree.name(*n) == "sectPr") {
        let first_page = tree.switch(section, "titlePg") == Some(true);
        for child in tree.children(section) {
            let header = match tree.name(*child) {
                "headerReference" => true,
                "footerReference" => false,
                _ => continue,
            };
            let shown = match tree.attribute(*child, "type") {
                Some("first") => first_page,
                Some("even") => even_pages,
                _ => true,
            };
            let Some(id) = tree.attribute(*child, "id") else { continue };
            if let Some(known) = found.iter_mut().find(|f| f.0 == id) {
                known.2 |= shown;
            } else if found.len() < MOST_HEADERS {
                found.push((id.to_owned(), header, shown));
            }
        }
    }
    found
}

#[cfg(test)]
#[path = "docx/tests.rs"]
mod tests;
