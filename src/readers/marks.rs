//! Raised characters and characters that nobody sees: what letters, web pages and print have in common.
//!
//! A raised figure must never run into the number before it (92.5 with a footnote 2 is not 92.52), so that
//! raised text becomes Unicode superscripts here and stays apart.

/// The superscript form of a character, where Unicode has one.
pub fn superscript(c: char) -> Option<char> {
    Some(match c {
        '0' => '⁰',
        '1' => '¹',
        '2' => '²',
        '3' => '³',
        '4' => '⁴',
        '5' => '⁵',
        '6' => '⁶',
        '7' => '⁷',
        '8' => '⁸',
        '9' => '⁹',
        '+' => '⁺',
        '-' | '−' | '–' | '‐' | '‑' => '⁻',
        '=' => '⁼',
        '(' => '⁽',
        ')' => '⁾',
        _ => return None,
    })
}

fn superscript_letter(c: char) -> Option<char> {
    const LETTERS: [char; 26] = [
        'ᵃ', 'ᵇ', 'ᶜ', 'ᵈ', 'ᵉ', 'ᶠ', 'ᵍ', 'ʰ', 'ⁱ', 'ʲ', 'ᵏ', 'ˡ', 'ᵐ', 'ⁿ', 'ᵒ', 'ᵖ', '\u{a7f4}', 'ʳ', 'ˢ', 'ᵗ', 'ᵘ',
        'ᵛ', 'ʷ', 'ˣ', 'ʸ', 'ᶻ',
    ];
    let index = u32::from(c).checked_sub(u32::from('a'))?;
    LETTERS.get(usize::try_from(index).ok()?).copied()
}

/// Whether a character is one that [`raise`] makes.
pub fn is_superscript(c: char) -> bool {
    matches!(c, '²' | '³' | '¹' | '⁰'..='⁾')
}

/// Raised text as Unicode superscripts. `before` is what stands in front of it.
///
/// Figures and signs are always raised, a lone letter too (a footnote's); ordinals (`st`, `nd`, `rd`, `th`) and whole
/// raised notes stay plain, the latter set off by a blank, since they are read and not counted.
pub fn raise(text: &str, before: Option<char>) -> String {
    let text = text.trim();
    let letters = text.chars().filter(|c| c.is_alphabetic()).count();
    if letters >= 4 {
        let glued = before.is_some_and(|c| !c.is_whitespace());
        return if glued { format!(" {text}") } else { text.to_owned() };
    }
    let lone = letters == 1;
    text.chars()
        .map(|c| superscript(c).or_else(|| if lone { superscript_letter(c) } else { None }).unwrap_or(c))
        .collect()
}

/// Fractions made of a raised and a lowered figure, and degrees made of a raised letter, as one character each.
pub fn join_built_up(text: &mut String) {
    for (built, joined) in [
        ("¹⁄2", "½"),
        ("¹/2", "½"),
        ("¹⁄4", "¼"),
        ("¹/4", "¼"),
        ("³⁄4", "¾"),
        ("³/4", "¾"),
        ("ᵒC", "°C"),
        ("ᵒF", "°F"),
        ("⁰C", "°C"),
        ("⁰F", "°F"),
    ] {
        if text.contains(built) {
            *text = text.replace(built, joined);
        }
    }
}

/// A letter and an accent set over or under it, as one character.
pub fn compose(letter: char, accent: char) -> Option<char> {
    let pairs = match accent {
        '¨' | '\u{308}' => "aäoöuüAÄOÖUÜeëiïıïEËIÏyÿ",
        '´' | '\u{301}' => "aáeéiíıíoóuúyýnńsśzźcćAÁEÉIÍOÓUÚYÝ",
        '`' | '\u{300}' => "aàeèiìıìoòuùAÀEÈIÌOÒUÙ",
        'ˆ' | '^' | '\u{302}' => "aâeêiîıîoôuûAÂEÊIÎOÔUÛ",
        '˜' | '~' | '\u{303}' => "aãoõnñAÃOÕNÑ",
        '˚' | '\u{30a}' => "aåAÅuů",
        'ˇ' | '\u{30c}' => "cčsšzžeěrřnňCČSŠZŽRŘ",
        '¸' | '\u{327}' => "cçCÇsş",
        _ => return None,
    };
    let mut pairs = pairs.chars();
    while let (Some(plain), Some(whole)) = (pairs.next(), pairs.next()) {
        if plain == letter {
            return Some(whole);
        }
    }
    None
}

/// Whether a character is drawn or parts words: not a control, a direction mark, a joiner or a soft hyphen.
pub fn is_shown(c: char) -> bool {
    !matches!(c,
        '\u{0}'..='\u{8}' | '\u{b}'..='\u{1f}' | '\u{7f}'..='\u{9f}' | '\u{ad}' | '\u{200b}'..='\u{200f}'
        | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}')
}

/// Ligatures taken apart. Nothing else is folded: `³`, `½` and `µ` mean what they are.
pub fn expand_ligature(c: char) -> Option<&'static str> {
    Some(match c {
        '\u{fb00}' => "ff",
        '\u{fb01}' => "fi",
        '\u{fb02}' => "fl",
        '\u{fb03}' => "ffi",
        '\u{fb04}' => "ffl",
        '\u{fb05}' | '\u{fb06}' => "st",
        _ => return None,
    })
}

/// Appends what of a character is to be seen.
pub fn push_shown(out: &mut String, c: char) {
    if let Some(letters) = expand_ligature(c) {
        out.push_str(letters);
    } else if is_shown(c) {
        out.push(c);
    }
}

/// Characters of the old font of mathematical signs, which hides them among letters or in the private area.
pub fn from_symbol(c: char) -> char {
    let code = u32::from(c);
    let code = if (0xf000..=0xf0ff).contains(&code) { code - 0xf000 } else { code };
    match code {
        0x20..=0x2c | 0x2e..=0x40 | 0x5b | 0x5d | 0x5f | 0x7b..=0x7d => char::from_u32(code).unwrap_or(c),
        0x2d => '−',
        0x61 => 'α',
        0x62 => 'β',
        0x63 => 'χ',
        0x64 => 'δ',
        0x44 => 'Δ',
        0x6d => 'µ',
        0x72 => 'ρ',
        0x73 => 'σ',
        0x53 => 'Σ',
        0x57 => 'Ω',
        0x7e => '~',
        0xa3 => '≤',
        0xb3 => '≥',
        0xb0 => '°',
        0xb1 => '±',
        0xb4 => '×',
        0xb7 => '·',
        0xb8 => '÷',
        0xb9 => '≠',
        0xbb => '≈',
        _ => c,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_raised_and_words_are_not() {
        assert_eq!(raise("3", Some('m')), "³");
        assert_eq!(raise("−3", Some('0')), "⁻³");
        assert_eq!(raise("1,2", Some('5')), "¹,²");
        assert_eq!(raise("a", Some('5')), "ᵃ");
        assert_eq!(raise("2+", Some('a')), "²⁺");
        assert_eq!(raise("th", Some('4')), "th");
        assert_eq!(raise("see note 3", Some('4')), " see note 3");
    }

    #[test]
    fn built_up_signs_become_one() {
        let mut text = "25 ⁰C and 1¹/2 ft".to_owned();
        join_built_up(&mut text);
        assert_eq!(text, "25 °C and 1½ ft");
    }
}
