//! Text that is safe to print, and lines that fit.

/// Text of a report without what a terminal would obey: control characters, and marks that turn the writing round.
///
/// ```
/// use beadwise::report::plain::safe;
/// assert_eq!(safe("Softener\u{1b}[31m 2\u{202e}\n"), "Softener[31m 2 ");
/// ```
pub fn safe(text: &str) -> String {
    text.chars()
        .filter_map(|c| match c {
            '\n' | '\r' | '\t' => Some(' '),
            '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{61c}' | '\u{feff}' => {
                None
            }
            c if c.is_control() => None,
            c => Some(c),
        })
        .collect()
}

/// The same for a text of several lines, which stay what they are.
pub fn lines(text: &str) -> String {
    text.lines().map(|line| safe(line) + "\n").collect()
}

/// Breaks text into lines of at most `width` characters, the first after `first`, the others after `rest`.
///
/// A word that is longer than a line stands on its own.
pub fn wrapped(text: &str, width: usize, first: &str, rest: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = first.to_owned();
    let mut empty = true;
    for word in joined(text) {
        let space = usize::from(!empty);
        if !empty && line.chars().count() + space + word.chars().count() > width {
            lines.push(std::mem::replace(&mut line, rest.to_owned()));
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(&word);
        empty = false;
    }
    if !empty {
        lines.push(line);
    }
    lines
}

/// Words, a per cent sign with the number before it.
fn joined(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match words.last_mut().filter(|before| word.starts_with('%') && before.ends_with(|c: char| c.is_ascii_digit()))
        {
            Some(number) => {
                number.push(' ');
                number.push_str(word);
            }
            None => words.push(word.to_owned()),
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_break_between_words() {
        assert_eq!(wrapped("one two three", 9, "- ", "  "), ["- one two", "  three"]);
        assert_eq!(wrapped("from 90 to 98 %.", 14, "", ""), ["from 90 to", "98 %."]);
        assert_eq!(wrapped("unbreakable", 4, "", ""), ["unbreakable"]);
        assert!(wrapped("  ", 10, "- ", "").is_empty());
    }

    #[test]
    fn marks_that_turn_the_writing_go() {
        assert_eq!(safe("a\u{202e}b\u{7}c\u{2066}d\u{200f}"), "abcd");
        assert_eq!(safe("Härte µm³"), "Härte µm³");
    }
}
