//! Fonts of single bytes, rebuilt.

use super::core_widths::CoreWidths;
use super::fonts::{to_unicode, written_map};
use super::names::{self, Meaning};
use super::source;
use super::writer::Writer;
use lopdf::{Dictionary, Document, Object};
use std::collections::HashMap;
use std::io::Write as _;

/// Name of [`super::fonts::UNEXPLAINED`].
const UNEXPLAINED_NAME: &str = "commaaccent";

/// Writes a font for the codes that are used. Gives its number.
pub fn write(doc: &Document, font: &Dictionary, used: &[bool; 256], bare: bool, writer: &mut Writer) -> u32 {
    let simple = Simple::of(doc, font);
    if simple.is_builtin_sign_font() {
        let name = if simple.base.contains("Dingbats") { "ZapfDingbats" } else { "Symbol" };
        return writer.add(format!("<</Type/Font/Subtype/Type1/BaseFont/{name}>>").as_bytes());
    }
    let map = to_unicode(doc, font);
    let given = simple.widths(doc, font);
    let codes: Vec<u8> = (0..=255_u8).filter(|c| used.get(usize::from(*c)).copied().unwrap_or(false)).collect();
    let meanings: Vec<(u8, Meaning)> = codes
        .iter()
        .map(|code| {
            let own = map.as_ref().and_then(|m| m.get(u32::from(*code))).and_then(|t| simple.settled(&t));
            (*code, own.map_or_else(|| simple.meaning(*code), Meaning::Text))
        })
        .collect();
    let (first, last) = (codes.first().copied().unwrap_or(0), codes.last().copied().unwrap_or(0));
    let mut widths: Vec<f32> = (first..=last)
        .map(|code| given.as_ref().and_then(|g| g.get(usize::from(code))).copied().unwrap_or(0.0))
        .collect();
    if given.is_none() {
        for (code, meaning) in &meanings {
            if let Some(width) = widths.get_mut(usize::from(code - first)) {
                *width = simple.standard_width(meaning);
            }
        }
    }
    let mut object =
        format!("<</Type/Font/Subtype/Type1/BaseFont/B/FirstChar {first}/LastChar {last}/Widths[").into_bytes();
    for width in widths {
        let _ = write!(object, "{} ", width.round());
    }
    object.push(b']');
    // Where every code is what the text pass takes it for anyway, it need look nothing up.
    if !meanings.iter().all(|(code, meaning)| is_taken_so(*code, meaning)) {
        simple.explain(doc, font, &meanings, bare, writer, &mut object);
    }
    object.extend_from_slice(b">>");
    writer.add(&object)
}

/// Whether the text pass takes a code for this character when it is told nothing: ASCII and Latin-1.
fn is_taken_so(code: u8, meaning: &Meaning) -> bool {
    match meaning {
        Meaning::Text(text) => {
            matches!(code, b' '..=b'~' | 0xa1..=0xac | 0xae..=0xff)
                && text.chars().eq(std::iter::once(char::from(code)))
        }
        _ => false,
    }
}

/// What a simple font says of its codes.
struct Simple {
    base: String,
    encoding: names::Base,
    differences: HashMap<u8, Vec<u8>>,
    program: Program,
    kind: Vec<u8>,
    scale: f32,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Program {
    None,
    Type1,
    Compact,
    TrueType,
}

impl Simple {
    fn of(doc: &Document, font: &Dictionary) -> Self {
        let base = source::name(doc, font, b"BaseFont").map(|n| String::from_utf8_lossy(n).into_owned());
        let base = base.unwrap_or_default();
        let base = match base.split_once('+') {
            Some((tag, rest)) if tag.len() == 6 => rest.to_owned(),
            _ => base,
        };
        let kind = source::name(doc, font, b"Subtype").unwrap_or_default().to_vec();
        let descriptor = source::dictionary(doc, font, b"FontDescriptor");
        let has = |key: &[u8]| descriptor.is_some_and(|d| d.has(key));
        let program = if has(b"FontFile2") {
            Program::TrueType
        } else if has(b"FontFile") {
            Program::Type1
        } else if has(b"FontFile3") {
            Program::Compact
        } else {
            Program::None
        };
        let mut differences = HashMap::new();
        let mut encoding = names::Base::Builtin;
        match source::entry(doc, font, b"Encoding") {
            Some(Object::Name(name)) => encoding = names::Base::named(name),
            Some(Object::Dictionary(dictionary)) => {
                encoding = source::name(doc, dictionary, b"BaseEncoding").map_or(encoding, names::Base::named);
                if let Some(Object::Array(list)) = source::entry(doc, dictionary, b"Differences") {
                    differences = differences_of(doc, list);
                }
            }
            _ => {}
        }
        if encoding == names::Base::Builtin {
            let in_program = match program {
                Program::Type1 => descriptor.and_then(|d| source::entry(doc, d, b"FontFile")),
                _ => None,
            };
            if let Some(Object::Stream(stream)) = in_program
                && let Some(content) = source::content(stream)
            {
                for (code, name) in names::type1_encoding(&content) {
                    differences.entry(code).or_insert(name);
                }
            }
            encoding = match (program, kind.as_slice()) {
                // The standard's own rule for a font without a program; for one in TrueType what all programs do.
                (Program::None | Program::Type1, b"Type1" | b"MMType1") => names::Base::Standard,
                (Program::TrueType | Program::None, _) if kind != b"Type3" => names::Base::WinAnsi,
                _ => names::Base::Builtin,
            };
        }
        let scale = match source::numbers(doc, font, b"FontMatrix") {
            Some(matrix) if kind == b"Type3" => matrix.first().map_or(1.0, |a| a.abs() * 1000.0),
            _ => 1.0,
        };
        Self { base, encoding, differences, program, kind, scale }
    }

    /// Writes what the codes mean: as a map where that is known here, as names where the text pass may know them.
    fn explain(
        &self,
        doc: &Document,
        font: &Dictionary,
        meanings: &[(u8, Meaning)],
        bare: bool,
        writer: &mut Writer,
        object: &mut Vec<u8>,
    ) {
        let mut says = Vec::new();
        let mut differences = Vec::new();
        let mut unexplained = Vec::new();
        for (code, meaning) in meanings {
            match meaning {
                Meaning::Text(text) => says.push((u32::from(*code), text.clone())),
                Meaning::Named(name) => {
                    let _ = write!(differences, "{code}/{name} ");
                    unexplained.push(*code);
                }
                // What the program says stands before this too.
                Meaning::InFont | Meaning::Unexplained => unexplained.push(*code),
            }
        }
        // Named first, unexplained after: the text pass keeps the first name that it knows.
        for code in unexplained {
            let _ = write!(differences, "{code}/{UNEXPLAINED_NAME} ");
        }
        let program = self.compact_program(doc, font).filter(|_| !bare);
        if says.len() < meanings.len() {
            // A base without names, so that nothing is taken for what it may not be.
            object.extend_from_slice(b"/Encoding<</Differences[");
            object.extend_from_slice(&differences);
            object.extend_from_slice(b"]>>");
            if let Some(program) = program {
                let program = writer.add_stream(b"/Subtype/Type1C", &program);
                let _ = write!(object, "/FontDescriptor<</Type/FontDescriptor/FontFile3 {program} 0 R>>");
            }
        }
        let map = writer.add_stream(b"", &written_map(&says, 1));
        let _ = write!(object, "/ToUnicode {map} 0 R");
    }

    /// The two standard fonts of signs have codes of their own, which the text pass knows.
    fn is_builtin_sign_font(&self) -> bool {
        self.program == Program::None
            && self.differences.is_empty()
            && (self.base.starts_with("Symbol") || self.base.contains("Dingbats"))
    }

    /// Text of a map, with the private codes of sign fonts put right. None where it says nothing.
    fn settled(&self, text: &str) -> Option<String> {
        names::settled(text, &self.base)
    }

    fn meaning(&self, code: u8) -> Meaning {
        if self.is_builtin_sign_font() {
            return Meaning::InFont;
        }
        if let Some(name) = self.differences.get(&code) {
            return names::meaning(name, code);
        }
        match self.encoding.character(code) {
            Some(c) => Meaning::Text(c.to_string()),
            None if code == b' ' => Meaning::Text(" ".to_owned()),
            None if self.encoding == names::Base::Builtin && self.program == Program::Compact => Meaning::InFont,
            None => Meaning::Unexplained,
        }
    }

    /// Width of a code where the file leaves it to the reader.
    fn standard_width(&self, meaning: &Meaning) -> f32 {
        let Some(core) = CoreWidths::of(names::core_font(&self.base)) else { return 600.0 };
        let character = match meaning {
            Meaning::Text(text) => text.chars().next().unwrap_or('0'),
            _ => '0',
        };
        f32::from(core.width(character))
    }

    /// Widths of all codes in thousandths; none where the file leaves them to the reader.
    fn widths(&self, doc: &Document, font: &Dictionary) -> Option<Vec<f32>> {
        let first = source::entry(doc, font, b"FirstChar").and_then(|o| source::number(doc, o)).unwrap_or(0.0);
        let given = source::entry(doc, font, b"Widths")?.as_array().ok()?;
        let missing = source::dictionary(doc, font, b"FontDescriptor")
            .and_then(|d| source::entry(doc, d, b"MissingWidth"))
            .and_then(|o| source::number(doc, o))
            .unwrap_or(0.0);
        let mut widths = vec![missing * self.scale; 256];
        let first = first.clamp(0.0, 255.0) as usize;
        for (to, width) in widths.iter_mut().skip(first).zip(given) {
            *to = (source::number(doc, width).unwrap_or(missing) * self.scale).clamp(-20_000.0, 20_000.0);
        }
        Some(widths)
    }

    /// The font program, where only it says what the codes are.
    fn compact_program(&self, doc: &Document, font: &Dictionary) -> Option<Vec<u8>> {
        if self.program != Program::Compact || self.encoding != names::Base::Builtin || self.kind == b"Type3" {
            return None;
        }
        let descriptor = source::dictionary(doc, font, b"FontDescriptor")?;
        let Object::Stream(stream) = source::entry(doc, descriptor, b"FontFile3")? else { return None };
        (source::name(doc, &stream.dict, b"Subtype") == Some(b"Type1C")).then(|| source::content(stream))?
    }
}

fn differences_of(doc: &Document, list: &[Object]) -> HashMap<u8, Vec<u8>> {
    let mut found = HashMap::new();
    let mut code = 0_i64;
    for object in list.iter().take(4096) {
        match source::resolve(doc, object) {
            Some(Object::Integer(i)) => code = *i,
            Some(Object::Real(r)) => code = r.round() as i64,
            Some(Object::Name(name)) => {
                if let Ok(code) = u8::try_from(code) {
                    found.insert(code, name.clone());
                }
                code = code.saturating_add(1);
            }
            _ => {}
        }
    }
    found
}
