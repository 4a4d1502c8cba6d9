//! What names of glyphs and the standard encodings say.

use super::lexer::hexadecimal_digit;
use crate::readers::marks;

/// An encoding that a font starts from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Base {
    /// The font program's own.
    Builtin,
    /// Adobe's standard encoding.
    Standard,
    /// Windows.
    WinAnsi,
    /// Macintosh.
    MacRoman,
}

/// Upper half of Adobe's standard encoding (PDF Reference, appendix D).
const STANDARD: [(u8, char); 55] = [
    (0xa1, '¡'),
    (0xa2, '¢'),
    (0xa3, '£'),
    (0xa4, '⁄'),
    (0xa5, '¥'),
    (0xa6, 'ƒ'),
    (0xa7, '§'),
    (0xa8, '¤'),
    (0xa9, '\''),
    (0xaa, '“'),
    (0xab, '«'),
    (0xac, '‹'),
    (0xad, '›'),
    (0xae, 'ﬁ'),
    (0xaf, 'ﬂ'),
    (0xb1, '–'),
    (0xb2, '†'),
    (0xb3, '‡'),
    (0xb4, '·'),
    (0xb6, '¶'),
    (0xb7, '•'),
    (0xb8, '‚'),
    (0xb9, '„'),
    (0xba, '”'),
    (0xbb, '»'),
    (0xbc, '…'),
    (0xbd, '‰'),
    (0xbf, '¿'),
    (0xc1, '`'),
    (0xc2, '´'),
    (0xc3, 'ˆ'),
    (0xc4, '˜'),
    (0xc5, '¯'),
    (0xc6, '˘'),
    (0xc7, '˙'),
    (0xc8, '¨'),
    (0xca, '˚'),
    (0xcb, '¸'),
    (0xcd, '˝'),
    (0xce, '˛'),
    (0xcf, 'ˇ'),
    (0xd0, '—'),
    (0xe1, 'Æ'),
    (0xe3, 'ª'),
    (0xe8, 'Ł'),
    (0xe9, 'Ø'),
    (0xea, 'Œ'),
    (0xeb, 'º'),
    (0xf1, 'æ'),
    (0xf5, 'ı'),
    (0xf8, 'ł'),
    (0xf9, 'ø'),
    (0xfa, 'œ'),
    (0xfb, 'ß'),
    (0x27, '’'),
];

impl Base {
    /// An encoding by its name.
    pub fn named(name: &[u8]) -> Self {
        match name {
            b"WinAnsiEncoding" => Self::WinAnsi,
            b"MacRomanEncoding" => Self::MacRoman,
            b"StandardEncoding" => Self::Standard,
            _ => Self::Builtin,
        }
    }

    /// Character of a code.
    pub fn character(self, code: u8) -> Option<char> {
        if code < 0x20 {
            return None;
        }
        let decoded = |encoding: &'static encoding_rs::Encoding| {
            let (text, _) = encoding.decode_without_bom_handling(std::slice::from_ref(&code));
            text.chars().next().filter(|c| !c.is_control() && *c != '\u{fffd}')
        };
        let c = match self {
            Self::Builtin => return None,
            Self::WinAnsi => decoded(encoding_rs::WINDOWS_1252)?,
            Self::MacRoman => decoded(encoding_rs::MACINTOSH)?,
            Self::Standard => match STANDARD.iter().find(|s| s.0 == code) {
                Some((_, c)) => *c,
                None if code == b'`' => '‘',
                None if code < 0x7f => char::from(code),
                None => return None,
            },
        };
        Some(if c == '\u{ad}' { '-' } else { c })
    }
}

/// What a code of a simple font means.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Meaning {
    /// This text.
    Text(String),
    /// The glyph of this name, which the text pass may know.
    Named(String),
    /// Whatever the font program says.
    InFont,
    /// Nothing says what.
    Unexplained,
}

/// What the name of a glyph means.
pub fn meaning(name: &[u8], code: u8) -> Meaning {
    let Ok(name) = std::str::from_utf8(name) else { return Meaning::Unexplained };
    if name.starts_with('.') || name.is_empty() || name.len() > 40 {
        return Meaning::Unexplained;
    }
    let (stem, suffix) = name.split_once('.').unwrap_or((name, ""));
    // Raised and old-style figures have names of their own.
    let (stem, suffix) = ["superior", "oldstyle", "inferior"]
        .iter()
        .find_map(|s| stem.strip_suffix(s).filter(|d| digit(d).is_some()).map(|d| (d, *s)))
        .unwrap_or((stem, suffix));
    if let Some(digit) = digit(stem) {
        let raised = suffix.contains("sup") || suffix == "numr";
        return Meaning::Text(if raised { marks::superscript(digit).unwrap_or(digit) } else { digit }.to_string());
    }
    match stem {
        "nbspace" | "nonbreakingspace" | "nonbreakspace" | "space" => return Meaning::Text(" ".to_owned()),
        "sfthyphen" | "softhyphen" | "hyphen" => return Meaning::Text("-".to_owned()),
        _ => {}
    }
    if let Some(text) = by_code_point(stem) {
        return Meaning::Text(text);
    }
    if stem.contains('_') {
        let parts: Vec<&str> = stem.split('_').collect();
        if parts.iter().all(|p| p.len() == 1 && p.chars().all(|c| c.is_ascii_alphabetic())) {
            return Meaning::Text(parts.concat());
        }
        return Meaning::Unexplained;
    }
    // Bitmap fonts of TeX name glyphs by their codes, which are ASCII for what stands in figures and words.
    if let Some(number) = stem.strip_prefix('a').and_then(|n| n.parse::<u8>().ok()) {
        let is_ascii = number == code && (number.is_ascii_alphanumeric() || b"%()+,-./:;=".contains(&number));
        return if is_ascii { Meaning::Text(char::from(number).to_string()) } else { Meaning::Unexplained };
    }
    if stem.chars().all(|c| c.is_ascii_alphanumeric()) { Meaning::Named(stem.to_owned()) } else { Meaning::Unexplained }
}

fn digit(name: &str) -> Option<char> {
    const NAMES: [&str; 10] = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"];
    ('0'..='9').zip(NAMES).find(|n| n.1 == name).map(|n| n.0)
}

/// `uni00B500B3`, `u1F600`.
fn by_code_point(name: &str) -> Option<String> {
    let read = |digits: &[u8]| {
        let code = digits.iter().try_fold(0_u32, |n, d| Some(n << 4 | u32::from(hexadecimal_digit(*d)?)))?;
        char::from_u32(code).filter(|c| !c.is_control())
    };
    if let Some(digits) = name.strip_prefix("uni")
        && !digits.is_empty()
        && digits.len() % 4 == 0
    {
        return digits.as_bytes().chunks(4).map(read).collect();
    }
    let digits = name.strip_prefix('u').filter(|d| (4..=6).contains(&d.len()))?;
    read(digits.as_bytes()).map(String::from)
}

/// Text that a map gives, with private codes put right. None where they say nothing.
pub fn settled(text: &str, font: &str) -> Option<String> {
    let signs = ["Symbol", "symbol"].iter().any(|s| font.contains(s));
    let ornaments = ["ingdings", "ebdings", "Dingbats", "Marlett"].iter().any(|s| font.contains(s));
    text.chars()
        .map(|c| match u32::from(c) {
            0xad => Some('-'),
            0xf730..=0xf739 => char::from_u32(u32::from(c) - 0xf730 + 0x30),
            0xf761..=0xf77a => char::from_u32(u32::from(c) - 0xf761 + 0x41),
            0xf020..=0xf0ff if signs => Some(marks::from_symbol(c)).filter(|s| *s != c),
            0xf020..=0xf0ff if ornaments => Some('•'),
            0xe000..=0xf8ff => None,
            _ => Some(c),
        })
        .collect()
}

/// Codes and names of the encoding that a Type 1 program carries in its clear part.
pub fn type1_encoding(program: &[u8]) -> Vec<(u8, Vec<u8>)> {
    let clear = program.windows(5).position(|w| w == b"eexec").unwrap_or(program.len().min(65_536));
    let text = String::from_utf8_lossy(program.get(..clear).unwrap_or_default());
    let mut found = Vec::new();
    let words: Vec<&str> = text.split_ascii_whitespace().take(20_000).collect();
    for window in words.windows(4) {
        // `dup 65 /A put`, and without a blank, `dup 65/A put`.
        match window {
            ["dup", code, name, "put"] => {
                if let (Ok(code), Some(name)) = (code.parse::<u8>(), name.strip_prefix('/')) {
                    found.push((code, name.as_bytes().to_vec()));
                }
            }
            ["dup", joined, "put", _] => {
                if let Some((code, name)) = joined.split_once('/')
                    && let Ok(code) = code.parse::<u8>()
                {
                    found.push((code, name.as_bytes().to_vec()));
                }
            }
            _ => {}
        }
    }
    found
}

/// The standard font whose widths stand in for those of a font that gives none.
pub fn core_font(name: &str) -> &'static str {
    let lower = name.to_ascii_lowercase();
    let bold = lower.contains("bold") || lower.contains("black");
    let has = |words: &[&str]| words.iter().any(|w| lower.contains(w));
    if has(&["courier", "mono", "consolas"]) {
        "Courier"
    } else if has(&["times", "serif", "roman", "georgia", "garamond"]) && !lower.contains("sans") {
        match (bold, has(&["italic", "oblique"])) {
            (true, true) => "Times-BoldItalic",
            (true, false) => "Times-Bold",
            (false, true) => "Times-Italic",
            (false, false) => "Times-Roman",
        }
    } else if bold {
        "Helvetica-Bold"
    } else {
        "Helvetica"
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_figures_and_signs() {
        let text = |t: &str| Meaning::Text(t.to_owned());
        assert_eq!(meaning(b"three.superior", 1), text("³"));
        assert_eq!(meaning(b"threesuperior", 1), text("³"));
        assert_eq!(meaning(b"seven.lf", 1), text("7"));
        assert_eq!(meaning(b"uni00B5", 1), text("µ"));
        assert_eq!(meaning(b"f_f_i", 1), text("ffi"));
        assert_eq!(meaning(b"a52", 52), text("4"));
        assert_eq!(meaning(b"a52", 53), Meaning::Unexplained);
        assert_eq!(meaning(b"lessequal", 1), Meaning::Named("lessequal".to_owned()));
        assert_eq!(meaning(b"cid:12", 1), Meaning::Unexplained);
    }

    #[test]
    fn private_codes_of_sign_fonts() {
        assert_eq!(settled("\u{f0b3}", "SymbolMT").as_deref(), Some("≥"));
        assert_eq!(settled("\u{f0a7}", "Wingdings-Regular").as_deref(), Some("•"));
        assert_eq!(settled("\u{f041}", "Fancy"), None);
    }

    #[test]
    fn a_program_says_its_encoding() {
        let program =
            b"/Encoding 256 array\ndup 65 /A put\ndup 66/lessequal put\nreadonly def currentfile eexec dup 1 /x put";
        assert_eq!(type1_encoding(program), [(65, b"A".to_vec()), (66, b"lessequal".to_vec())]);
    }

    #[test]
    fn standard_encodings() {
        assert_eq!(Base::Standard.character(0xb1), Some('–'));
        assert_eq!(Base::WinAnsi.character(0xb5), Some('µ'));
        assert_eq!(Base::WinAnsi.character(0x81), None);
        assert_eq!(Base::MacRoman.character(0xb2), Some('≤'));
    }
}
