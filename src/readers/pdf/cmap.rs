//! Character maps: codes to Unicode, and strings to codes.

use super::lexer::{Lexer, Operand};
use encoding_rs::Encoding;
use std::collections::HashMap;

/// Entries of one map that are looked at.
const MOST_ENTRIES: usize = 70_000;

/// What a font's own map says of its codes. Ranges are kept as they are, so that none can be blown up.
#[derive(Default)]
pub struct ToUnicode {
    single: HashMap<u32, Vec<u16>>,
    ranges: Vec<(u32, u32, Vec<u16>)>,
}

impl ToUnicode {
    /// Reads a map.
    pub fn parse(data: &[u8]) -> Self {
        let mut map = Self::default();
        let mut lexer = Lexer::with_operands(data, MOST_ENTRIES * 3);
        let mut operands = Vec::new();
        while let Some(operator) = lexer.next(&mut operands) {
            match operator {
                b"endbfchar" => {
                    for pair in operands.chunks_exact(2) {
                        if let [Operand::Text(code), Operand::Text(to)] = pair {
                            map.single.insert(number(code), units(to));
                        }
                    }
                }
                b"endbfrange" => {
                    for range in operands.chunks_exact(3) {
                        let [Operand::Text(low), Operand::Text(high), to] = range else { continue };
                        let (low, high) = (number(low), number(high));
                        match to {
                            Operand::Text(to) if low <= high => map.ranges.push((low, high, units(to))),
                            Operand::Array(each) => {
                                for (code, to) in (low..=high).zip(each) {
                                    if let Operand::Text(to) = to {
                                        map.single.insert(code, units(to));
                                    }
                                }
                            }
                            _ => {}
                        }
                    }
                }
                _ => {}
            }
            if map.single.len() + map.ranges.len() > MOST_ENTRIES {
                break;
            }
        }
        map.ranges.sort_by_key(|r| r.0);
        map
    }

    /// The characters of a code. None where the map has none, or nothing that could be meant.
    pub fn get(&self, code: u32) -> Option<String> {
        let mut units = match self.single.get(&code) {
            Some(units) => units.clone(),
            None => {
                let after = self.ranges.partition_point(|r| r.0 <= code);
                let (low, _, to) = self.ranges.get(after.checked_sub(1)?).filter(|r| code <= r.1)?;
                let mut units = to.clone();
                let last = units.last_mut()?;
                *last = last.checked_add(u16::try_from(code - low).ok()?)?;
                units
            }
        };
        mend_ligature(&mut units);
        let text = String::from_utf16(&units).ok()?.replace(['\t', '\n', '\r'], " ");
        let is_meant = !text.is_empty() && !text.chars().any(|c| c.is_control() || c == '\u{fffd}' || c == '\u{ffff}');
        is_meant.then_some(text)
    }
}

/// One distiller writes the letters of a ligature with their bytes exchanged, so that "fi" becomes two ideographs, and
/// of three letters it adds the last two up: "ffi" comes as `6600 cf00`, `cf` being the sum of `66` and `69`.
fn mend_ligature(units: &mut Vec<u16>) {
    let letter = |code: u16| u8::try_from(code).ok().filter(u8::is_ascii_alphabetic).map(u16::from);
    if units.len() < 2 || units.iter().any(|u| u & 0xff != 0) {
        return;
    }
    if units.iter().all(|u| letter(u >> 8).is_some()) {
        units.iter_mut().for_each(|u| *u >>= 8);
    } else if let [0x6600, sum] = units.as_slice()
        && let Some(last) = (sum >> 8).checked_sub(0x66).and_then(letter)
    {
        *units = vec![0x66, 0x66, last];
    }
}

/// How the strings of a composite font are cut into codes.
pub enum Decoder {
    /// Two bytes, which are the glyph too.
    TwoBytes,
    /// Two bytes of Unicode.
    Unicode,
    /// An encoding from before Unicode.
    Legacy(&'static Encoding),
    /// A map in the file.
    Mapped {
        /// Low and high code, bytes.
        spaces: Vec<(u32, u32, usize)>,
        /// Low and high code, glyph of the low one.
        glyphs: Vec<(u32, u32, u32)>,
    },
}

/// One code of a string.
pub struct Code {
    /// The code.
    pub code: u32,
    /// The glyph, for widths.
    pub glyph: u32,
    /// Character that the code itself says.
    pub meant: Option<char>,
}

impl Decoder {
    /// One of the maps that readers are expected to know by name.
    pub fn named(name: &[u8]) -> Option<Self> {
        let name = std::str::from_utf8(name).ok()?;
        Some(match name {
            _ if name.starts_with("Identity") => Self::TwoBytes,
            _ if name.contains("UCS2") || name.contains("UTF16") => Self::Unicode,
            _ if name.starts_with("GB") => Self::Legacy(encoding_rs::GBK),
            _ if name.contains("B5") => Self::Legacy(encoding_rs::BIG5),
            _ if name.contains("RKSJ") => Self::Legacy(encoding_rs::SHIFT_JIS),
            _ if name.starts_with("KSC") => Self::Legacy(encoding_rs::EUC_KR),
            "EUC-H" | "EUC-V" => Self::Legacy(encoding_rs::EUC_JP),
            _ => return None,
        })
    }

    /// A map in the file.
    pub fn mapped(data: &[u8]) -> Self {
        let mut spaces = Vec::new();
        let mut glyphs = Vec::new();
        let mut lexer = Lexer::with_operands(data, MOST_ENTRIES * 3);
        let mut operands = Vec::new();
        while let Some(operator) = lexer.next(&mut operands) {
            match operator {
                b"endcodespacerange" => {
                    for pair in operands.chunks_exact(2) {
                        if let [Operand::Text(low), Operand::Text(high)] = pair {
                            spaces.push((number(low), number(high), low.len().clamp(1, 4)));
                        }
                    }
                }
                b"endcidrange" => {
                    for range in operands.chunks_exact(3) {
                        if let [Operand::Text(low), Operand::Text(high), Operand::Number(glyph)] = range {
                            glyphs.push((number(low), number(high), glyph.max(0.0) as u32));
                        }
                    }
                }
                b"endcidchar" => {
                    for pair in operands.chunks_exact(2) {
                        if let [Operand::Text(code), Operand::Number(glyph)] = pair {
                            glyphs.push((number(code), number(code), glyph.max(0.0) as u32));
                        }
                    }
                }
                _ => {}
            }
            if glyphs.len() > MOST_ENTRIES {
                break;
            }
        }
        glyphs.sort_by_key(|g: &(u32, u32, u32)| g.0);
        spaces.truncate(64);
        if spaces.is_empty() {
            spaces.push((0, 0xffff, 2));
        }
        Self::Mapped { spaces, glyphs }
    }

    /// The next code of a string, and how many bytes it takes.
    pub fn next(&self, bytes: &[u8]) -> Option<(Code, usize)> {
        let first = u32::from(*bytes.first()?);
        let pair = bytes.get(1).map(|b| first << 8 | u32::from(*b));
        match self {
            Self::TwoBytes => {
                let code = pair?;
                Some((Code { code, glyph: code, meant: None }, 2))
            }
            Self::Unicode => {
                let code = pair?;
                let high = 0xd800..0xdc00;
                if high.contains(&code)
                    && let (Some(c), Some(d)) = (bytes.get(2), bytes.get(3))
                {
                    let low = (u32::from(*c) << 8 | u32::from(*d)).wrapping_sub(0xdc00) & 0x3ff;
                    let code = 0x10000 + ((code - 0xd800) << 10 | low);
                    return Some((Code { code, glyph: code, meant: char::from_u32(code) }, 4));
                }
                Some((Code { code, glyph: code, meant: char::from_u32(code) }, 2))
            }
            Self::Legacy(encoding) => {
                let half_width = *encoding == encoding_rs::SHIFT_JIS && (0xa1..=0xdf).contains(&first);
                let length = if first < 0x80 || half_width || bytes.len() < 2 { 1 } else { 2 };
                let (text, _, broken) = encoding.decode(bytes.get(..length)?);
                let meant = if broken { None } else { text.chars().next() };
                let code = if length == 1 { first } else { pair? };
                Some((Code { code, glyph: code, meant }, length))
            }
            Self::Mapped { spaces, glyphs } => {
                let mut code = 0;
                for length in 1..=bytes.len().min(4) {
                    code = code << 8 | u32::from(*bytes.get(length - 1)?);
                    if spaces.iter().any(|s| s.2 == length && s.0 <= code && code <= s.1) {
                        let after = glyphs.partition_point(|g| g.0 <= code);
                        let range = after.checked_sub(1).and_then(|i| glyphs.get(i)).filter(|g| code <= g.1);
                        let glyph = range.map_or(code, |g| g.2.saturating_add(code - g.0));
                        return Some((Code { code, glyph, meant: None }, length));
                    }
                }
                // Outside all spaces: stepped over as the shortest code would be.
                let length = spaces.iter().map(|s| s.2).min().unwrap_or(1).min(bytes.len());
                Some((Code { code: first, glyph: first, meant: None }, length))
            }
        }
    }
}

fn number(bytes: &[u8]) -> u32 {
    bytes.iter().take(4).fold(0, |n, b| n << 8 | u32::from(*b))
}

fn units(bytes: &[u8]) -> Vec<u16> {
    match bytes {
        // A lone byte is not what the standard asks for, but clear.
        [byte] => vec![u16::from(*byte)],
        _ => bytes.chunks_exact(2).take(16).map(|p| p.iter().fold(0, |n, b| n << 8 | u16::from(*b))).collect(),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn single_codes_ranges_and_lists() {
        let map = ToUnicode::parse(
            b"1 begincodespacerange <00> <ff> endcodespacerange 2 beginbfchar <01> <00b5> <02> <00660069> endbfchar \
              2 beginbfrange <10> <12> <0041> <20> <21> [<2264> <2265>] endbfrange 1 beginbfchar <30> <0000> endbfchar",
        );
        let got: Vec<_> = [1, 2, 0x11, 0x21, 0x30, 0x99].iter().map(|c| map.get(*c)).collect();
        let want = [Some("µ"), Some("fi"), Some("B"), Some("≥"), None, None].map(|s| s.map(str::to_owned));
        assert_eq!(got, want);
    }

    #[test]
    fn exchanged_bytes_of_a_ligature_are_put_right() {
        let map = ToUnicode::parse(b"2 beginbfchar <01> <66006900> <02> <6600cf00> endbfchar");
        assert_eq!(map.get(1).as_deref(), Some("fi"));
        assert_eq!(map.get(2).as_deref(), Some("ffi"));
    }

    #[test]
    fn a_giant_range_costs_nothing() {
        let map = ToUnicode::parse(b"1 beginbfrange <00000000> <ffffffff> <0041> endbfrange");
        assert_eq!(map.get(2).as_deref(), Some("C"));
        assert_eq!(map.get(0xffff_ffff), None);
    }

    #[test]
    fn strings_are_cut_into_codes() {
        let codes = |d: &Decoder, mut bytes: &[u8]| {
            let mut found = Vec::new();
            while let Some((code, length)) = d.next(bytes) {
                found.push((code.code, code.meant));
                bytes = &bytes[length..];
            }
            found
        };
        assert_eq!(codes(&Decoder::TwoBytes, &[0, 1, 2, 3, 4]), [(1, None), (0x203, None)]);
        let gbk = Decoder::named(b"GBK-EUC-H").unwrap();
        assert_eq!(codes(&gbk, b"A\xb5\xa5"), [(0x41, Some('A')), (0xb5a5, Some('单'))]);
        let mapped = Decoder::mapped(
            b"1 begincodespacerange <00> <80> endcodespacerange 1 begincidrange <20> <7e> 1 endcidrange",
        );
        assert_eq!(mapped.next(b"!").map(|c| c.0.glyph), Some(2));
    }
}
