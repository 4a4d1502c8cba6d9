//! From the bytes of a file to glyphs and rules on upright pages.

use super::content::{Cleaned, Cleaner, Excess, TextState};
use super::fonts::Fonts;
use super::glyphs::{Gathered, Glyph};
use super::paths::{Matrix, Rect, Rule};
use super::source::{self, Frame};
use super::writer::Writer;
use lopdf::{Dictionary, Document, Object, ObjectId};
use std::collections::HashSet;
use std::io::Write as _;
use std::time::Instant;

/// Bytes of content of one page.
const MOST_CONTENT: usize = 16 * 1024 * 1024;
/// Annotations of one page.
const MOST_ANNOTATIONS: usize = 2_000;
/// Glyphs of one file.
const MOST_GLYPHS: usize = 3_000_000;

/// A page with its text and all that stands around it, in units of the page.
pub struct RawPage {
    /// Boxes and turn.
    pub frame: Frame,
    /// Glyphs.
    pub text: super::glyphs::Page,
    /// Rules.
    pub rules: Vec<Rule>,
    /// Pictures.
    pub pictures: Vec<Rect>,
    /// States that the glyphs number.
    pub states: Vec<TextState>,
    /// Strings for which no font was at hand.
    pub fontless: usize,
    /// Remarks that somebody put on the page.
    pub remarks: usize,
    /// Content is missing, or breaks off.
    pub damaged: bool,
}

/// What the annotations of a page add to it.
#[derive(Default)]
struct Added {
    remarks: usize,
    /// Content is missing, or breaks off.
    damaged: bool,
    /// Values of fields that bring no picture of themselves, each with its box.
    fields: Vec<(Rect, String)>,
}

/// Why the file could not be taken through.
pub enum Failure {
    /// More than is read.
    Excess(Excess),
    /// What the text pass could not read even at the second, careful try.
    Broken(String),
}

/// Takes all pages of a loaded file, of which there may be `most`, through the front end and the text pass.
///
/// The text pass may panic; the caller contains that. `bare` leaves out font programs, which is where panics come from.
pub fn run(doc: &Document, until: Instant, bare: bool, most: usize) -> Result<Vec<RawPage>, Failure> {
    let empty = Dictionary::new();
    let hidden_layers = hidden_layers(doc);
    let mut fonts = Fonts::new(bare);
    let mut cleaned: Vec<(Frame, Cleaned, Added)> = Vec::new();
    let mut glyphs = 0;
    for id in source::pages(doc, most.saturating_add(1)) {
        let Ok(page) = doc.get_dictionary(id) else { continue };
        if cleaned.len() >= most {
            return Err(Failure::Excess(Excess::Size));
        }
        let frame = Frame::of(doc, page);
        let (page, added) =
            clean(doc, id, page, &frame, &empty, &mut fonts, &hidden_layers, until).map_err(Failure::Excess)?;
        glyphs += page.glyphs;
        if glyphs > MOST_GLYPHS {
            return Err(Failure::Excess(Excess::Size));
        }
        cleaned.push((frame, page, added));
    }
    let mut writer = Writer::default();
    let root = writer.reserve();
    let tree = writer.reserve();
    let fonts = fonts.write(doc, &mut writer);
    let resources = writer.reserve();
    let mut object = b"<</Font<<".to_vec();
    object.extend_from_slice(&fonts);
    object.extend_from_slice(b">>>>");
    writer.fill(resources, &object);
    let mut kids = Vec::new();
    for (_, page, _) in &cleaned {
        let content = writer.add_stream(b"", &page.content);
        let page = format!(
            "<</Type/Page/Parent {tree} 0 R/MediaBox[0 0 612 792]/Resources {resources} 0 R/Contents {content} 0 R>>"
        );
        let _ = write!(kids, "{} 0 R ", writer.add(page.as_bytes()));
    }
    let mut object = format!("<</Type/Pages/Count {}/Kids[", cleaned.len()).into_bytes();
    object.extend_from_slice(&kids);
    object.extend_from_slice(b"]>>");
    writer.fill(tree, &object);
    writer.fill(root, format!("<</Type/Catalog/Pages {tree} 0 R>>").as_bytes());
    if Instant::now() > until {
        return Err(Failure::Excess(Excess::Time));
    }
    let minimal = writer.finish(root);
    let minimal = pdf_extract::Document::load_mem(&minimal)
        .map_err(|e| Failure::Broken(format!("its text cannot be read ({e})")))?;
    let mut gathered = Gathered::default();
    pdf_extract::output_doc(&minimal, &mut gathered)
        .map_err(|e| Failure::Broken(format!("its text cannot be read ({e})")))?;
    if gathered.pages.len() != cleaned.len() {
        return Err(Failure::Broken("some of its pages cannot be read".to_owned()));
    }
    let pages = cleaned.into_iter().zip(gathered.pages).map(|((frame, page, added), mut text)| {
        for (place, value) in &added.fields {
            text.glyphs.extend(set_in(place, value));
        }
        RawPage {
            frame,
            text,
            rules: page.rules,
            pictures: page.pictures,
            states: page.states,
            fontless: page.fontless,
            remarks: added.remarks,
            damaged: added.damaged,
        }
    });
    Ok(pages.collect())
}

#[allow(clippy::too_many_arguments)]
fn clean<'a>(
    doc: &'a Document,
    id: ObjectId,
    page: &'a Dictionary,
    frame: &Frame,
    empty: &'a Dictionary,
    fonts: &mut Fonts<'a>,
    hidden_layers: &HashSet<ObjectId>,
    until: Instant,
) -> Result<(Cleaned, Added), Excess> {
    let resources = source::inherited(doc, page, b"Resources").and_then(|o| o.as_dict().ok()).unwrap_or(empty);
    let (content, whole) = page_content(doc, id, page)?;
    let visible = Rect { x0: frame.left, y0: frame.bottom, x1: frame.right, y1: frame.top };
    let mut cleaner = Cleaner::new(doc, fonts, hidden_layers, until, visible);
    let ended = cleaner.content(&content, resources)?;
    let mut added = Added { damaged: !whole || !ended, ..Added::default() };
    let annotations = source::entry(doc, page, b"Annots").and_then(|o| o.as_array().ok());
    for annotation in annotations.into_iter().flatten().take(MOST_ANNOTATIONS) {
        let Some(Object::Dictionary(annotation)) = source::resolve(doc, annotation) else { continue };
        if let Some((form, placed)) = appearance(doc, annotation) {
            cleaner.form(form, placed, empty)?;
        } else if let Some(field) = bare_field(doc, annotation) {
            added.fields.push(field);
        }
        let is_remark = matches!(
            source::name(doc, annotation, b"Subtype"),
            Some(b"Text" | b"Highlight" | b"StrikeOut" | b"Underline" | b"Squiggly")
        );
        let says = source::entry(doc, annotation, b"Contents").and_then(|o| o.as_str().ok());
        if is_remark && says.is_some_and(|t| t.iter().any(u8::is_ascii_alphanumeric)) {
            added.remarks += 1;
        }
    }
    Ok((cleaner.finish(), added))
}

/// Content of a page, and whether all of it is there.
fn page_content(doc: &Document, id: ObjectId, page: &Dictionary) -> Result<(Vec<u8>, bool), Excess> {
    let mut content = Vec::new();
    let mut whole = true;
    let parts = doc.get_page_contents(id);
    for part in &parts {
        let unpacked = match doc.get_object(*part) {
            Ok(Object::Stream(stream)) => source::content(stream),
            _ => None,
        };
        match unpacked {
            Some(unpacked) => content.extend_from_slice(&unpacked),
            None => whole = false,
        }
        content.push(b'\n');
        if content.len() > MOST_CONTENT {
            return Err(Excess::Size);
        }
    }
    Ok((content, whole && (!parts.is_empty() || !page.has(b"Contents"))))
}

/// What an annotation shows on the page, with the transformation that puts it in its place.
fn appearance<'a>(doc: &'a Document, annotation: &'a Dictionary) -> Option<(&'a Object, Option<Matrix>)> {
    // Fields and free text are part of the page; remarks in the margin are somebody's own.
    if !matches!(source::name(doc, annotation, b"Subtype"), Some(b"Widget" | b"FreeText" | b"Stamp")) {
        return None;
    }
    if is_hidden(doc, annotation) {
        return None;
    }
    let normal = source::dictionary(doc, annotation, b"AP")?.get(b"N").ok()?;
    let form = match source::resolve(doc, normal)? {
        Object::Stream(_) => normal,
        Object::Dictionary(states) => states.get(source::name(doc, annotation, b"AS")?).ok()?,
        _ => return None,
    };
    let Object::Stream(stream) = source::resolve(doc, form)? else { return None };
    let corners = |holder: &Dictionary, key: &[u8]| <[f32; 4]>::try_from(source::numbers(doc, holder, key)?).ok();
    let boxed = |[a, b, c, d]: [f32; 4]| Rect::around([(a, b), (c, d)]);
    let target = boxed(corners(annotation, b"Rect")?);
    let [a, b, c, d] = corners(&stream.dict, b"BBox")?;
    let matrix = source::numbers(doc, &stream.dict, b"Matrix").and_then(|m| Matrix::try_from(m).ok());
    let matrix = matrix.unwrap_or([1.0, 0.0, 0.0, 1.0, 0.0, 0.0]);
    let drawn = Rect::around([(a, b), (c, b), (a, d), (c, d)].map(|p| super::paths::apply(&matrix, p)));
    if drawn.width() <= 0.0 || drawn.height() <= 0.0 {
        return None;
    }
    let (across, up) = (target.width() / drawn.width(), target.height() / drawn.height());
    Some((form, Some([across, 0.0, 0.0, up, target.x0 - across * drawn.x0, target.y0 - up * drawn.y0])))
}

/// Box and value of a field that has a value and no picture of it: viewers draw it themselves.
fn bare_field(doc: &Document, annotation: &Dictionary) -> Option<(Rect, String)> {
    if source::name(doc, annotation, b"Subtype") != Some(b"Widget")
        || annotation.has(b"AP")
        || is_hidden(doc, annotation)
    {
        return None;
    }
    let value = source::inherited(doc, annotation, b"V")?;
    let text = lopdf::decode_text_string(value).ok().filter(|t| !t.trim().is_empty())?;
    let corners = <[f32; 4]>::try_from(source::numbers(doc, annotation, b"Rect")?).ok()?;
    let [a, b, c, d] = corners;
    Some((Rect::around([(a, b), (c, d)]), text.chars().take(500).collect()))
}

fn is_hidden(doc: &Document, annotation: &Dictionary) -> bool {
    const HIDDEN_OR_NO_VIEW: i64 = 2 | 32;
    let flags = source::entry(doc, annotation, b"F").and_then(|o| o.as_i64().ok()).unwrap_or(0);
    flags & HIDDEN_OR_NO_VIEW != 0
}

/// The value of a field as glyphs in its box, as a viewer would set it.
fn set_in(place: &Rect, value: &str) -> impl Iterator<Item = Glyph> {
    let size = (0.7 * place.height()).clamp(4.0, 12.0);
    let (x, y) = (place.x0 + 2.0, place.y0 + 0.3 * place.height());
    let line: String = value.split_whitespace().collect::<Vec<_>>().join(" ");
    let glyphs: Vec<Glyph> = (0_u16..)
        .zip(line.chars())
        .map(|(index, character)| Glyph {
            at: (x + f32::from(index) * 0.5 * size, y),
            advance: (0.5 * size, 0.0),
            up: (0.0, size),
            spacing: 0.0,
            character,
            state: usize::MAX,
        })
        .collect();
    glyphs.into_iter()
}

/// Layers that are off when the file is opened.
fn hidden_layers(doc: &Document) -> HashSet<ObjectId> {
    let mut hidden = HashSet::new();
    let Some(properties) = doc.catalog().ok().and_then(|c| source::dictionary(doc, c, b"OCProperties")) else {
        return hidden;
    };
    let Some(default) = source::dictionary(doc, properties, b"D") else { return hidden };
    let list = |holder: &Dictionary, key: &[u8]| -> Vec<ObjectId> {
        let list = source::entry(doc, holder, key).and_then(|o| o.as_array().ok());
        list.into_iter().flatten().filter_map(|o| o.as_reference().ok()).collect()
    };
    if source::name(doc, default, b"BaseState") == Some(b"OFF") {
        hidden.extend(list(properties, b"OCGs"));
        for id in list(default, b"ON") {
            hidden.remove(&id);
        }
    }
    hidden.extend(list(default, b"OFF"));
    hidden
}

/// Whether files are attached inside the file.
pub fn has_attachments(doc: &Document) -> bool {
    let names = doc.catalog().ok().and_then(|c| source::dictionary(doc, c, b"Names"));
    names.is_some_and(|n| n.has(b"EmbeddedFiles"))
}
