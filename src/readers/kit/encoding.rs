//! Bytes to characters: mark, then UTF-8, then UTF-16, then the 8-bit code pages of western machines.
//!
//! Statistical detectors read `Diam µm;640` as Chinese, so there is none: the 8-bit pages are weighed by what
//! stands in a report of this trade, and what stays open is said.

use crate::readers::ReadError;
use encoding_rs::{Encoding, MACINTOSH, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};

/// Text as decoded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Decoded {
    /// The characters, without a byte order mark; line ends as they came.
    pub text: String,
    /// Name of the encoding.
    pub encoding: &'static str,
    /// What could have been read otherwise, or not at all.
    pub doubt: Option<String>,
}

/// Upper half of code page 850. Source: Unicode Consortium, VENDORS/MICSFT/PC/CP850.TXT.
const CP850: &str = "ÇüéâäàåçêëèïîìÄÅÉæÆôöòûùÿÖÜø£Ø×ƒáíóúñÑªº¿®¬½¼¡«»░▒▓│┤ÁÂÀ©╣║╗╝¢¥┐└┴┬├─┼ãÃ╚╔╩╦╠═╬¤ðÐÊËÈıÍÎÏ┘┌█▄¦Ì▀ÓßÔÒõÕµþÞÚÛÙýÝ¯´\u{ad}±‗¾¶§÷¸°¨·¹³²■\u{a0}";

/// Decodes text, or gives `None` where the bytes are no text.
///
/// # Errors
///
/// `unknown-encoding` where the wanted label is none that is known.
///
/// ```
/// use beadwise::readers::kit::encoding::decode;
/// let decoded = decode(b"Diam \xb5m;640", None)?.ok_or("binary")?;
/// assert_eq!((decoded.text.as_str(), decoded.encoding), ("Diam µm;640", "windows-1252"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn decode(bytes: &[u8], wanted: Option<&str>) -> Result<Option<Decoded>, ReadError> {
    if let Some(label) = wanted {
        return decode_as(bytes, label).map(Some);
    }
    if let Some((encoding, mark)) = Encoding::for_bom(bytes) {
        return Ok(Some(with(encoding, bytes.get(mark..).unwrap_or_default())));
    }
    if let Some(decoded) = utf16_by_zeros(bytes) {
        return Ok(Some(decoded));
    }
    let bytes = without_padding(bytes);
    if is_binary(bytes) {
        return Ok(None);
    }
    if let Ok(text) = std::str::from_utf8(bytes) {
        return Ok(Some(Decoded { text: text.to_owned(), encoding: UTF_8.name(), doubt: None }));
    }
    Ok(Some(broken_utf8(bytes).unwrap_or_else(|| eight_bit(bytes))))
}

fn decode_as(bytes: &[u8], label: &str) -> Result<Decoded, ReadError> {
    if ["cp850", "ibm850", "850"].contains(&label.to_ascii_lowercase().as_str()) {
        return Ok(Decoded { text: cp850(bytes), encoding: "cp850", doubt: None });
    }
    let encoding = Encoding::for_label(label.as_bytes()).ok_or_else(|| {
        ReadError::new(
            "unknown-encoding",
            format!("no encoding is called {label:?}; give a label such as utf-8, windows-1252, utf-16le or cp850"),
        )
    })?;
    // A mark in the file is no character of the text, whatever encoding was asked for.
    let bytes = match Encoding::for_bom(bytes) {
        Some((marked, length)) if marked == encoding => bytes.get(length..).unwrap_or_default(),
        _ => bytes,
    };
    Ok(with(encoding, bytes))
}

fn with(encoding: &'static Encoding, bytes: &[u8]) -> Decoded {
    let (text, broken) = encoding.decode_without_bom_handling(bytes);
    let text = text.trim_end_matches(['\0', '\u{1a}']).to_owned();
    let doubt = broken.then(|| format!("some bytes are no {} and show as \u{fffd}", encoding.name()));
    Decoded { text, encoding: encoding.name(), doubt }
}

/// Old programs pad with zeros or end a file with Ctrl-Z.
fn without_padding(bytes: &[u8]) -> &[u8] {
    let end = bytes.iter().rposition(|b| !matches!(b, 0 | 0x1a)).map_or(0, |last| last + 1);
    bytes.get(..end).unwrap_or_default()
}

fn is_binary(bytes: &[u8]) -> bool {
    let odd = bytes.iter().filter(|b| matches!(b, 1..=8 | 14..=26 | 28..=31 | 127)).count();
    bytes.contains(&0) || odd * 50 > bytes.len()
}

fn utf16_by_zeros(bytes: &[u8]) -> Option<Decoded> {
    let units = bytes.len() / 2;
    if units < 2 {
        return None;
    }
    let zeros = |offset: usize| bytes.iter().skip(offset).step_by(2).filter(|b| **b == 0).count();
    let (even, odd) = (zeros(0), zeros(1));
    let encoding = if odd * 2 > units && even * 20 < units {
        UTF_16LE
    } else if even * 2 > units && odd * 20 < units {
        UTF_16BE
    } else {
        return None;
    };
    let decoded = with(encoding, bytes.get(..units * 2)?);
    let odd_characters = decoded.text.chars().filter(|c| c.is_control() && !"\t\r\n\u{c}\u{b}".contains(*c)).count();
    (decoded.doubt.is_none() && odd_characters * 50 <= units).then_some(decoded)
}

/// A file that is UTF-8 but for a byte or two: cut in the middle of a character, or pasted together.
fn broken_utf8(bytes: &[u8]) -> Option<Decoded> {
    let decoded = with(UTF_8, bytes);
    let broken = decoded.text.chars().filter(|c| *c == '\u{fffd}').count();
    let whole = decoded.text.chars().filter(|c| !c.is_ascii() && *c != '\u{fffd}').count();
    (whole > 2 * broken).then_some(decoded)
}

fn cp850(bytes: &[u8]) -> String {
    let upper: Vec<char> = CP850.chars().collect();
    bytes
        .iter()
        .map(|byte| match byte.checked_sub(128) {
            None => char::from(*byte),
            Some(index) => upper.get(usize::from(index)).copied().unwrap_or('\u{fffd}'),
        })
        .collect()
}

fn eight_bit(bytes: &[u8]) -> Decoded {
    let windows = with(WINDOWS_1252, bytes);
    let strange = strangeness(&windows.text);
    if strange == 0 {
        return windows;
    }
    let others = [
        Decoded { text: cp850(bytes), encoding: "cp850", doubt: None },
        Decoded { doubt: None, ..with(MACINTOSH, bytes) },
    ];
    let best = others.into_iter().map(|d| (strangeness(&d.text), d)).min_by_key(|(score, _)| *score);
    match best {
        Some((score, mut other)) if score * 3 < strange => {
            other.doubt = Some(format!(
                "read as {} because words and units make sense in it; as windows-1252 they do not",
                other.encoding
            ));
            other
        }
        _ => Decoded {
            doubt: Some(
                "read as windows-1252, in which some characters make no sense; give the encoding if they matter".into(),
            ),
            ..windows
        },
    }
}

/// How many characters beyond ASCII stand where no report would have them.
fn strangeness(text: &str) -> usize {
    let characters: Vec<char> = text.chars().collect();
    // One upright stroke is a misread sign; a frame has rules across too.
    let framed = characters.iter().filter(|c| matches!(c, '─' | '═')).count() > 2;
    let indices = 0..characters.len();
    indices.filter(|index| !(in_place(&characters, *index) || framed && is_frame(&characters, *index))).count()
}

fn is_frame(characters: &[char], index: usize) -> bool {
    characters.get(index).is_some_and(|c| ('\u{2500}'..='\u{256c}').contains(c))
}

fn in_place(characters: &[char], index: usize) -> bool {
    let at = |index: Option<usize>| index.and_then(|i| characters.get(i)).copied().unwrap_or(' ');
    let (before, character, after) = (at(index.checked_sub(1)), at(Some(index)), at(Some(index + 1)));
    let earlier = at(index.checked_sub(2));
    match character {
        _ if character.is_ascii() => true,
        'µ' => !before.is_alphabetic(),
        '²' | '³' | '¹' => before.is_alphanumeric() || before == ')' || before == '-' || before == '\u{2013}',
        '°' | 'º' | 'ª' => !before.is_alphabetic(),
        // A diameter.
        'Ø' if !after.is_alphabetic() => !before.is_alphabetic(),
        '±' | '≤' | '≥' | '×' | '·' | '•' | '÷' | '≈' => true,
        '½' | '¼' | '¾' | '™' | '®' | '©' | '§' | '€' | '£' | '‰' => true,
        '’' | '´' | '–' | '—' => true,
        '‘' | '“' | '”' | '„' | '«' | '»' | '…' | '\u{a0}' => {
            !(before.is_alphabetic() && after.is_alphabetic())
        }
        // In code page 850 these three are ³, µ and °: `mü`, `640 æm`, `25 øC`.
        'ü' if !after.is_alphabetic() => !(before == 'm' && (!earlier.is_alphabetic() || "cdkm".contains(earlier))),
        'æ' | 'ø' => before.is_alphabetic(),
        'ß' | 'ä' | 'ö' | 'ü' | 'é' | 'è' | 'ê' | 'ë' | 'à' | 'á' | 'â' | 'å' | 'ç' | 'í' | 'î' | 'ï' | 'ó' | 'ô'
        | 'ò' | 'ú' | 'û' | 'ù' | 'ñ' | 'œ' => before.is_alphabetic() || after.is_lowercase(),
        'Ä' | 'Ö' | 'Ü' | 'É' | 'È' | 'À' | 'Å' | 'Ç' | 'Ñ' | 'Ó' | 'Í' | 'Á' | 'Ú' | 'Æ' | 'Ø' => {
            !before.is_lowercase() && after.is_alphabetic()
        }
        // In Mac OS Roman one of these is °: `25 ¡C`.
        '¿' | '¡' => after.is_alphabetic() && !before.is_ascii_digit() && !earlier.is_ascii_digit(),
        _ => false,
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn text(bytes: &[u8]) -> (String, &'static str, bool) {
        let decoded = decode(bytes, None).unwrap().unwrap();
        (decoded.text, decoded.encoding, decoded.doubt.is_some())
    }

    #[test]
    fn marks_and_zero_bytes_tell_utf16() {
        let mut little = vec![0xff, 0xfe];
        little.extend("Eisen;<50;mg/kg\nµm".encode_utf16().flat_map(u16::to_le_bytes));
        assert_eq!(text(&little), ("Eisen;<50;mg/kg\nµm".into(), "UTF-16LE", false));
        assert_eq!(text(little.split_off(2).as_slice()), ("Eisen;<50;mg/kg\nµm".into(), "UTF-16LE", false));
        let big: Vec<u8> = "moisture 47.3".encode_utf16().flat_map(u16::to_be_bytes).collect();
        assert_eq!(text(&big), ("moisture 47.3".into(), "UTF-16BE", false));
        assert_eq!(text(b"\xef\xbb\xbfFeuchte"), ("Feuchte".into(), "UTF-8", false));
    }

    #[test]
    fn eight_bit_text_is_windows_1252_unless_words_say_otherwise() {
        assert_eq!(
            text(b"2 m\xb3, 640 \xb5m, 25 \xb0C, K\xf6rner"),
            ("2 m³, 640 µm, 25 °C, Körner".into(), "windows-1252", false)
        );
        // Bytes by code page 850: ä 84, ü 81, µ E6, ³ FC, ° F8.
        assert_eq!(
            text(b"Kapazit\x84t, Pr\x81fung, 640 \xe6m, m\xfc, 25 \xf8C").0,
            "Kapazität, Prüfung, 640 µm, m³, 25 °C"
        );
        // Bytes by Mac OS Roman: ≥ B3, ä 8A, µ B5.
        let (mac, _, doubt) = text(b"Kapazit\x8at \xb3 95 %");
        assert_eq!(mac, "Kapazität ≥ 95 %");
        assert!(doubt);
    }

    #[test]
    fn units_of_an_old_code_page_are_told_even_alone() {
        assert_eq!(text(b"Diam 640 \xe6m"), ("Diam 640 µm".into(), "cp850", true));
        assert_eq!(text(b"2 m\xfc"), ("2 m³".into(), "cp850", true));
        assert_eq!(text(b"25 \xf8C"), ("25 °C".into(), "cp850", true));
        assert_eq!(text(b"25 \xa1C"), ("25 °C".into(), "macintosh", true));
        for plain in [&b"Men\xfc, pr\xfcfen, \xfcber"[..], b"K\xf8benhavn", b"\xe9t\xe9, na\xefve", b"\xbfqu\xe9?"] {
            assert!(!text(plain).2, "{plain:?}");
        }
    }

    #[test]
    fn a_raised_figure_that_stands_alone_is_doubted() {
        // B3 is ³ in windows-1252, which makes no sense before a number.
        assert!(text(b"whole beads \xb3 95 %").2);
    }

    #[test]
    fn utf8_with_a_broken_byte_stays_utf8_and_says_so() {
        let mut bytes = "µm, m³, ≥ 95 °C".as_bytes().to_vec();
        bytes.push(0xe2);
        let (text, encoding, doubt) = text(&bytes);
        assert!(text.starts_with("µm, m³, ≥ 95 °C") && encoding == "UTF-8" && doubt);
    }

    #[test]
    fn bytes_that_are_no_text_are_none() {
        assert_eq!(decode(b"\x00\x01\x02\x03\x80\x90\xff", None).unwrap(), None);
        assert_eq!(decode(b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00", None).unwrap(), None);
    }

    #[test]
    fn a_label_wins_and_an_unknown_one_is_refused() {
        assert_eq!(decode(b"\xb1", Some("iso-8859-2")).unwrap().unwrap().text, "ą");
        assert_eq!(decode(b"\x81", Some("cp850")).unwrap().unwrap().text, "ü");
        assert_eq!(decode(b"x", Some("klingon")).unwrap_err().code, "unknown-encoding");
    }
}
