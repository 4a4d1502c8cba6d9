//! Fonts rebuilt from scratch, so that the text pass meets none of the shapes that it stumbles over.
//!
//! Each code that a page shows is given its character here where the file says it; names of glyphs are left to the
//! text pass, which has the list of them; a code that nothing explains is given [`UNEXPLAINED`] and counted there.

use super::cmap::{Decoder, ToUnicode};
use super::names;
use super::simple;
use super::source;
use super::writer::Writer;
use lopdf::{Dictionary, Document, Object, ObjectId};
use std::collections::HashMap;
use std::io::Write as _;

/// Stands for a code whose character the file does not say. The text pass knows it by the name `commaaccent`.
pub const UNEXPLAINED: char = '\u{f6c3}';
/// Different codes of one composite font.
const MOST_CODES: usize = 60_000;

/// Fonts met so far.
#[derive(Default)]
pub struct Fonts<'a> {
    fonts: Vec<Font<'a>>,
    by_id: HashMap<ObjectId, usize>,
    bare: bool,
}

struct Font<'a> {
    dictionary: &'a Dictionary,
    kind: Kind,
}

enum Kind {
    Simple { used: Box<[bool; 256]> },
    Composite { decoder: Option<Decoder>, codes: Vec<Shown>, index: HashMap<u32, u16> },
}

struct Shown {
    code: u32,
    glyph: u32,
    meant: Option<char>,
}

impl<'a> Fonts<'a> {
    /// No fonts yet. `bare`: font programs are left out, for the careful second try.
    pub fn new(bare: bool) -> Self {
        Self { bare, ..Self::default() }
    }

    /// The font of a name in a page's resources.
    pub fn find(&mut self, doc: &'a Document, resources: &'a Dictionary, name: &[u8]) -> Option<usize> {
        let list = source::dictionary(doc, resources, b"Font")?;
        let object = list.get(name).ok()?;
        self.add(doc, object)
    }

    /// A font by its object.
    pub fn add(&mut self, doc: &'a Document, object: &'a Object) -> Option<usize> {
        let id = object.as_reference().ok();
        if let Some(known) = id.and_then(|id| self.by_id.get(&id)) {
            return Some(*known);
        }
        let dictionary = source::resolve(doc, object)?.as_dict().ok()?;
        if id.is_none()
            && let Some(known) = self.fonts.iter().position(|f| std::ptr::eq(f.dictionary, dictionary))
        {
            return Some(known);
        }
        let kind = if source::name(doc, dictionary, b"Subtype") == Some(b"Type0") {
            let decoder = match source::entry(doc, dictionary, b"Encoding") {
                Some(Object::Name(name)) => Decoder::named(name),
                Some(Object::Stream(stream)) => source::content(stream).map(|c| Decoder::mapped(&c)),
                _ => Some(Decoder::TwoBytes),
            };
            Kind::Composite { decoder, codes: Vec::new(), index: HashMap::new() }
        } else {
            Kind::Simple { used: Box::new([false; 256]) }
        };
        self.fonts.push(Font { dictionary, kind });
        let index = self.fonts.len() - 1;
        if let Some(id) = id {
            self.by_id.insert(id, index);
        }
        Some(index)
    }

    /// Writes a string in the codes of the rebuilt font. Gives the number of glyphs.
    pub fn show(&mut self, font: usize, bytes: &[u8], out: &mut Vec<u8>) -> usize {
        let Some(font) = self.fonts.get_mut(font) else { return 0 };
        out.push(b'<');
        let count = match &mut font.kind {
            Kind::Simple { used } => {
                for byte in bytes {
                    if let Some(used) = used.get_mut(usize::from(*byte)) {
                        *used = true;
                    }
                    push_hexadecimal(out, *byte);
                }
                bytes.len()
            }
            Kind::Composite { decoder, codes, index } => {
                let two_bytes = Decoder::TwoBytes;
                let decoder = decoder.as_ref().unwrap_or(&two_bytes);
                let mut rest = bytes;
                let mut count = 0;
                while let Some((code, length)) = decoder.next(rest) {
                    rest = rest.get(length.max(1)..).unwrap_or_default();
                    let known = index.get(&code.code).copied();
                    let new = known.unwrap_or_else(|| {
                        let new = u16::try_from(codes.len().min(MOST_CODES)).unwrap_or(u16::MAX);
                        if codes.len() < MOST_CODES {
                            codes.push(Shown { code: code.code, glyph: code.glyph, meant: code.meant });
                            index.insert(code.code, new);
                        }
                        new
                    });
                    let [high, low] = new.to_be_bytes();
                    push_hexadecimal(out, high);
                    push_hexadecimal(out, low);
                    count += 1;
                }
                count
            }
        };
        out.push(b'>');
        count
    }

    /// Writes all fonts. Gives the entries of the dictionary that names them.
    pub fn write(&self, doc: &Document, writer: &mut Writer) -> Vec<u8> {
        let mut entries = Vec::new();
        for (index, font) in self.fonts.iter().enumerate() {
            let id = match &font.kind {
                Kind::Simple { used } => simple::write(doc, font.dictionary, used, self.bare, writer),
                Kind::Composite { decoder, codes, .. } => {
                    write_composite(doc, font.dictionary, decoder.as_ref(), codes, writer)
                }
            };
            let _ = write!(entries, "/F{index} {id} 0 R ");
        }
        entries
    }
}

/// A font's own map of characters.
pub fn to_unicode(doc: &Document, font: &Dictionary) -> Option<ToUnicode> {
    match source::entry(doc, font, b"ToUnicode")? {
        Object::Stream(stream) => source::content(stream).map(|c| ToUnicode::parse(&c)),
        _ => None,
    }
}

fn write_composite(
    doc: &Document,
    font: &Dictionary,
    decoder: Option<&Decoder>,
    codes: &[Shown],
    writer: &mut Writer,
) -> u32 {
    let map = to_unicode(doc, font);
    let identity = matches!(source::entry(doc, font, b"ToUnicode"), Some(Object::Name(_)));
    let base =
        source::name(doc, font, b"BaseFont").map(|n| String::from_utf8_lossy(n).into_owned()).unwrap_or_default();
    let descendant = source::entry(doc, font, b"DescendantFonts")
        .and_then(|o| o.as_array().ok())
        .and_then(|a| source::resolve(doc, a.first()?))
        .and_then(|o| o.as_dict().ok());
    let given = descendant.map(|d| Widths::of(doc, d)).unwrap_or_default();
    // Half an em for Latin characters of fonts whose glyphs are numbered by a table that is not at hand.
    let by_meaning = matches!(decoder, Some(Decoder::Unicode | Decoder::Legacy(_)));
    let mut says = Vec::new();
    let mut widths = Vec::new();
    for (new, shown) in (0_u32..).zip(codes) {
        let text = map.as_ref().and_then(|m| m.get(shown.code)).and_then(|t| names::settled(&t, &base));
        let text = text.or_else(|| shown.meant.filter(|c| !c.is_control()).map(String::from));
        let text =
            text.or_else(|| char::from_u32(shown.code).filter(|c| identity && !c.is_control()).map(String::from));
        let width = match shown.meant {
            Some(c) if by_meaning && c.is_ascii() => 500.0,
            _ => given.get(shown.glyph),
        };
        says.push((new, text.unwrap_or_else(|| UNEXPLAINED.to_string())));
        widths.push(width);
    }
    let map = writer.add_stream(b"", &written_map(&says, 2));
    let mut object = b"<</Type/Font/Subtype/Type0/BaseFont/B/Encoding/Identity-H/DescendantFonts[<</Type/Font\
        /Subtype/CIDFontType2/BaseFont/B/FontDescriptor<</Type/FontDescriptor>>/DW 1000/W[0["
        .to_vec();
    for width in widths {
        let _ = write!(object, "{} ", width.round());
    }
    let _ = write!(object, "]]>>]/ToUnicode {map} 0 R>>");
    writer.add(&object)
}

/// Widths of a composite font's glyphs.
#[derive(Default)]
struct Widths {
    default: f32,
    single: HashMap<u32, f32>,
    ranges: Vec<(u32, u32, f32)>,
}

impl Widths {
    fn of(doc: &Document, font: &Dictionary) -> Self {
        let default = source::entry(doc, font, b"DW").and_then(|o| source::number(doc, o)).unwrap_or(1000.0);
        let mut widths = Self { default, ..Self::default() };
        let Some(Object::Array(list)) = source::entry(doc, font, b"W") else { return widths };
        let whole = |o: &Object| source::number(doc, o).map(|n| n.max(0.0) as u32);
        let mut rest: &[Object] = list;
        while let [first, second, ..] = rest {
            let Some(first) = whole(first) else { break };
            if let Some(Object::Array(each)) = source::resolve(doc, second) {
                for (glyph, width) in (first..).zip(each.iter().take(70_000)) {
                    if let Some(width) = source::number(doc, width) {
                        widths.single.insert(glyph, width);
                    }
                }
                rest = rest.get(2..).unwrap_or_default();
            } else {
                let (Some(last), Some(width)) = (whole(second), rest.get(2).and_then(|o| source::number(doc, o)))
                else {
                    break;
                };
                widths.ranges.push((first, last, width));
                rest = rest.get(3..).unwrap_or_default();
            }
            if widths.single.len() + widths.ranges.len() > 140_000 {
                break;
            }
        }
        widths.ranges.sort_by_key(|r| r.0);
        widths
    }

    fn get(&self, glyph: u32) -> f32 {
        if let Some(width) = self.single.get(&glyph) {
            return *width;
        }
        let after = self.ranges.partition_point(|r| r.0 <= glyph);
        let range = after.checked_sub(1).and_then(|i| self.ranges.get(i)).filter(|r| glyph <= r.1);
        range.map_or(self.default, |r| r.2)
    }
}

/// A map of characters as the text pass wants it.
pub fn written_map(says: &[(u32, String)], bytes: usize) -> Vec<u8> {
    let mut map =
        format!("1 begincodespacerange <{:0w$x}> <{:f<w$}> endcodespacerange\n", 0, "", w = bytes * 2).into_bytes();
    // The text pass counts on a map that has entries.
    let _ = writeln!(map, "{} beginbfchar", says.len() + usize::from(says.is_empty()));
    if says.is_empty() {
        map.extend_from_slice(b"<00> <0020>\n");
    }
    for (code, text) in says {
        let _ = write!(map, "<{:0w$x}> <", code, w = bytes * 2);
        for unit in text.encode_utf16() {
            let _ = write!(map, "{unit:04x}");
        }
        map.extend_from_slice(b">\n");
    }
    map.extend_from_slice(b"endbfchar\n");
    map
}

fn push_hexadecimal(out: &mut Vec<u8>, byte: u8) {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    for digit in [byte >> 4, byte & 15] {
        out.push(DIGITS.get(usize::from(digit)).copied().unwrap_or(b'0'));
    }
}
