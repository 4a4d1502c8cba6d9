//! Text to comparable words: case, accents, umlaut spellings, plural s, and punctuation do not count.

/// One word of a text, folded, with its byte span.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Word {
    /// Folded spelling.
    pub folded: String,
    /// Start of the word in the text, in bytes.
    pub start: usize,
    /// End of the word in the text, in bytes.
    pub end: usize,
}

/// Splits a text into folded words.
///
/// ```
/// use beadwise::lexicon::words;
/// let folded: Vec<String> = words("Wasserrückhalte-Vermögen (%)").into_iter().map(|w| w.folded).collect();
/// assert_eq!(folded, ["wasserruckhalt", "vermogen", "%"]);
/// ```
pub fn words(text: &str) -> Vec<Word> {
    let mut found = Vec::new();
    let mut current = String::new();
    let mut start = 0;
    let mut end = 0;
    let mut close = |current: &mut String, start: usize, end: usize| {
        if !current.is_empty() {
            found.push(Word { folded: fold_word(current), start, end });
            current.clear();
        }
    };
    let mut rest = text.char_indices().peekable();
    while let Some((at, c)) = rest.next() {
        let next = at + c.len_utf8();
        let inner_mark = matches!(c, '\'' | '’' | '.')
            && current.chars().last().is_some_and(char::is_alphabetic)
            && rest.peek().is_some_and(|(_, n)| n.is_alphabetic());
        if c.is_uppercase() && joins_words(text, start, at, &current) {
            close(&mut current, start, end);
        }
        if c.is_alphanumeric() {
            if current.is_empty() {
                start = at;
            }
            // A raised figure is a footnote or a power, never part of a word's spelling.
            if !is_raised(c) {
                fold_char(c, &mut current);
            }
            end = next;
        } else if inner_mark && c == '.' {
            // "d.b.", "s.g.", "approx.value": dots inside abbreviations vanish.
            end = next;
        } else if inner_mark {
            // "d'eau": the article is a word of its own.
            close(&mut current, start, end);
        } else {
            close(&mut current, start, end);
            if matches!(c, '%' | '#' | '&' | '±' | 'Δ') {
                current.push(if c == 'Δ' { 'd' } else { c });
                start = at;
                end = next;
                close(&mut current, start, end);
            }
        }
    }
    close(&mut current, start, end);
    found
}

/// Folded words of a text joined by blanks: two texts that fold alike are the same label.
pub fn fold(text: &str) -> String {
    let folded: Vec<String> = words(text).into_iter().map(|w| w.folded).collect();
    folded.join(" ")
}

/// "SampleNo", "TotalCapacity": heads of exported tables join words by capitals. "NaCl" and "CaCO3" are one word.
fn joins_words(text: &str, start: usize, at: usize, current: &str) -> bool {
    let Some(written) = text.get(start..at) else { return false };
    !current.is_empty() && written.chars().rev().take_while(|c| c.is_lowercase()).count() >= 3
}

fn is_raised(c: char) -> bool {
    matches!(c, '¹' | '²' | '³' | '⁰' | '⁴'..='⁹' | 'ª')
}

fn fold_char(c: char, into: &mut String) {
    let plain = match c {
        'À'..='Å' | 'à'..='å' | 'ā' | 'Ā' => "a",
        'Æ' | 'æ' => "a",
        'Ç' | 'ç' | 'č' | 'Č' | 'ć' => "c",
        'È'..='Ë' | 'è'..='ë' | 'ē' | 'ę' | 'ě' => "e",
        'Ì'..='Ï' | 'ì'..='ï' | 'ī' => "i",
        'Ñ' | 'ñ' | 'ń' => "n",
        'Ò'..='Ö' | 'ò'..='ö' | 'Ø' | 'ø' | 'ō' => "o",
        'Œ' | 'œ' => "o",
        'Ù'..='Ü' | 'ù'..='ü' | 'ū' => "u",
        'Ý' | 'ý' | 'ÿ' => "y",
        'ß' => "ss",
        'º' | '°' => "",
        '₀'..='₉' => {
            let digit = u32::from(c) - u32::from('₀');
            into.extend(char::from_digit(digit, 10));
            return;
        }
        'ﬁ' => "fi",
        'ﬂ' => "fl",
        'ﬀ' => "ff",
        _ => {
            into.extend(c.to_lowercase());
            return;
        }
    };
    into.push_str(plain);
}

/// Plural s and written-out umlauts go, so that "Kapazitaet" and "Kapazität", "bead" and "beads" fold alike.
fn fold_word(word: &str) -> String {
    let mut folded = word.replace("ae", "a").replace("oe", "o").replace("ue", "u");
    let letters = folded.chars().filter(|c| c.is_alphabetic()).count();
    if letters >= 4 && letters == folded.chars().count() && folded.ends_with('s') && !folded.ends_with("ss") {
        folded.pop();
        if folded.ends_with("ie") {
            folded.truncate(folded.len() - 2);
            folded.push('y');
        }
    }
    let letters = folded.chars().filter(|c| c.is_alphabetic()).count();
    if letters >= 5 && folded.ends_with('e') {
        folded.pop();
    }
    folded
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spellings_of_one_word_fold_alike() {
        for (a, b) in [
            ("Kapazitaet", "kapazität"),
            ("beads", "BEAD"),
            ("Uniformity Coeff.", "uniformity coeff"),
            ("capacities", "capacity"),
            ("rétention d'eau", "retention d eau"),
            ("S.G.", "sg"),
            ("billes entières", "bille entiere"),
            ("ganze", "ganz"),
        ] {
            assert_eq!(fold(a), fold(b), "{a} / {b}");
        }
        assert_eq!(fold("mass"), "mass");
        assert_eq!(fold("CaCO₃"), "caco3");
        assert_eq!(fold("ft³"), "ft");
    }

    #[test]
    fn spans_point_into_the_text() {
        let text = "Teneur en eau : 52";
        for word in words(text) {
            assert!(text.get(word.start..word.end).is_some());
        }
    }
}
