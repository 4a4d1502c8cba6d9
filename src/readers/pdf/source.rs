//! What the front end asks of the file as it is: pages, boxes, resources, streams, all guarded against cycles.

use lopdf::{Dictionary, Document, LoadOptions, Object, ObjectId, Stream};

/// Steps up the page tree, or from reference to reference.
const LONGEST_CHAIN: usize = 64;

/// Bytes that a stream may unpack to.
pub const MOST_OF_A_STREAM: usize = 32 * 1024 * 1024;

/// Loads a file, repairing its table of objects where it must.
pub fn load(bytes: &[u8], password: Option<&str>) -> Result<Document, lopdf::Error> {
    let with = |force_reconstruct| {
        let options = LoadOptions {
            password: password.map(str::to_owned),
            max_decompressed_size: Some(2 * MOST_OF_A_STREAM),
            force_reconstruct,
            ..LoadOptions::default()
        };
        Document::load_mem_with_options(bytes, options)
    };
    let doc = with(false)?;
    // A table of objects that reads well and leads to no page is as bad as none.
    if doc.page_iter().next().is_none() && !doc.is_encrypted() { with(true) } else { Ok(doc) }
}

/// Follows references to the object itself.
pub fn resolve<'a>(doc: &'a Document, object: &'a Object) -> Option<&'a Object> {
    let mut object = object;
    for _ in 0..LONGEST_CHAIN {
        match object {
            Object::Reference(id) => object = doc.get_object(*id).ok()?,
            _ => return Some(object),
        }
    }
    None
}

/// An entry of a dictionary, references followed.
pub fn entry<'a>(doc: &'a Document, dictionary: &'a Dictionary, key: &[u8]) -> Option<&'a Object> {
    resolve(doc, dictionary.get(key).ok()?)
}

/// An entry that is a dictionary (or a stream's).
pub fn dictionary<'a>(doc: &'a Document, holder: &'a Dictionary, key: &[u8]) -> Option<&'a Dictionary> {
    match entry(doc, holder, key)? {
        Object::Dictionary(d) => Some(d),
        Object::Stream(s) => Some(&s.dict),
        _ => None,
    }
}

/// An entry that is a name.
pub fn name<'a>(doc: &'a Document, holder: &'a Dictionary, key: &[u8]) -> Option<&'a [u8]> {
    entry(doc, holder, key)?.as_name().ok()
}

/// A number, whole or not.
pub fn number(doc: &Document, object: &Object) -> Option<f32> {
    match resolve(doc, object)? {
        Object::Integer(i) => Some((*i).clamp(-10_000_000, 10_000_000) as f32),
        Object::Real(r) if r.is_finite() => Some(r.clamp(-1.0e7, 1.0e7)),
        _ => None,
    }
}

/// An entry that is a list of numbers; none where one of them is something else.
pub fn numbers(doc: &Document, holder: &Dictionary, key: &[u8]) -> Option<Vec<f32>> {
    let list = entry(doc, holder, key)?.as_array().ok()?;
    list.iter().take(70_000).map(|o| number(doc, o)).collect()
}

/// Content of a stream, unpacked within the limit. None where it cannot be unpacked.
pub fn content(stream: &Stream) -> Option<Vec<u8>> {
    if stream.dict.has(b"Filter") {
        stream.decompressed_content_with_limit(MOST_OF_A_STREAM).ok()
    } else {
        Some(stream.content.clone())
    }
}

/// An entry of a page, or of the nearest node above it that has one.
pub fn inherited<'a>(doc: &'a Document, page: &'a Dictionary, key: &[u8]) -> Option<&'a Object> {
    let mut node = page;
    for _ in 0..LONGEST_CHAIN {
        if let Some(found) = entry(doc, node, key) {
            return Some(found);
        }
        node = dictionary(doc, node, b"Parent")?;
    }
    None
}

/// Pages in order. Where the tree of pages is broken, all pages of the file, in the order of their numbers.
pub fn pages(doc: &Document, most: usize) -> Vec<ObjectId> {
    let pages: Vec<ObjectId> = doc.page_iter().take(most).collect();
    if pages.is_empty() { strays(doc).take(most).collect() } else { pages }
}

/// Pages, whether the tree of pages knows them or not.
fn strays(doc: &Document) -> impl Iterator<Item = ObjectId> + '_ {
    let is_page = |o: &Object| o.as_dict().is_ok_and(|d| d.has_type(b"Page"));
    doc.objects.iter().filter(move |(_, o)| is_page(o)).map(|(id, _)| *id)
}

/// Whether the tree of pages leads to none of the pages that there are.
pub fn has_strays_only(doc: &Document) -> bool {
    doc.page_iter().next().is_none() && strays(doc).next().is_some()
}

/// Left, bottom, right and top of a page's visible box, its turn in degrees, and the size of its unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Left edge.
    pub left: f32,
    /// Bottom edge.
    pub bottom: f32,
    /// Right edge.
    pub right: f32,
    /// Top edge.
    pub top: f32,
    /// Quarter turns, clockwise.
    pub turns: u8,
    /// Points for each unit.
    pub unit: f32,
}

impl Frame {
    /// Reads a page's boxes.
    pub fn of(doc: &Document, page: &Dictionary) -> Self {
        let rectangle = |key: &[u8]| {
            let list = inherited(doc, page, key)?.as_array().ok()?;
            let n: Vec<f32> = list.iter().filter_map(|o| number(doc, o)).collect();
            let [a, b, c, d] = n.get(..4)?.try_into().ok()?;
            let (left, right): (f32, f32) = if a < c { (a, c) } else { (c, a) };
            let (bottom, top): (f32, f32) = if b < d { (b, d) } else { (d, b) };
            (right - left > 1.0 && top - bottom > 1.0).then_some((left, bottom, right, top))
        };
        let media = rectangle(b"MediaBox").unwrap_or((0.0, 0.0, 612.0, 792.0));
        let crop = rectangle(b"CropBox").unwrap_or(media);
        // A crop box outside the page shows nothing; viewers then show the page.
        let shown = (crop.0.max(media.0), crop.1.max(media.1), crop.2.min(media.2), crop.3.min(media.3));
        let (left, bottom, right, top) = if shown.2 - shown.0 > 1.0 && shown.3 - shown.1 > 1.0 { shown } else { media };
        let turn = inherited(doc, page, b"Rotate").and_then(|o| number(doc, o)).unwrap_or(0.0);
        let turns = ((turn / 90.0).round() as i32).rem_euclid(4) as u8;
        let unit = entry(doc, page, b"UserUnit").and_then(|o| number(doc, o)).filter(|u| (0.01..=1000.0).contains(u));
        Self { left, bottom, right, top, turns, unit: unit.unwrap_or(1.0) }
    }

    /// Width and height as shown, in points.
    pub fn size(&self) -> (f32, f32) {
        let (width, height) = ((self.right - self.left) * self.unit, (self.top - self.bottom) * self.unit);
        if self.turns % 2 == 1 { (height, width) } else { (width, height) }
    }

    /// A point of the page as shown: points from its left and from its top.
    pub fn shown(&self, x: f32, y: f32) -> (f32, f32) {
        let (across, down) = match self.turns {
            1 => (y - self.bottom, x - self.left),
            2 => (self.right - x, y - self.bottom),
            3 => (self.top - y, self.right - x),
            _ => (x - self.left, self.top - y),
        };
        (across * self.unit, down * self.unit)
    }

    /// A direction of the page as shown.
    pub fn turned(&self, x: f32, y: f32) -> (f32, f32) {
        let (across, down) = match self.turns {
            1 => (y, x),
            2 => (-x, y),
            3 => (-y, -x),
            _ => (x, -y),
        };
        (across * self.unit, down * self.unit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turned_pages_are_shown_upright() {
        let frame = |turns| Frame { left: 10.0, bottom: 20.0, right: 110.0, top: 220.0, turns, unit: 1.0 };
        // The lower left corner of the paper: clockwise it goes to the upper left, upper right, lower right.
        assert_eq!(frame(0).shown(10.0, 20.0), (0.0, 200.0));
        assert_eq!(frame(1).shown(10.0, 20.0), (0.0, 0.0));
        assert_eq!(frame(2).shown(10.0, 20.0), (100.0, 0.0));
        assert_eq!(frame(3).shown(10.0, 20.0), (200.0, 100.0));
        assert_eq!(frame(1).size(), (200.0, 100.0));
        // Text that runs up the paper runs to the right once the paper is turned clockwise.
        assert_eq!(frame(1).turned(0.0, 1.0), (1.0, 0.0));
    }
}
