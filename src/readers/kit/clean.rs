//! Characters that print nothing and can make a line show other than it reads.

/// Takes out control characters, terminal sequences, bidirectional overrides and zero-width marks; line ends become
/// `\n`, and tabs stay.
///
/// ```
/// use beadwise::readers::kit::clean::clean;
/// assert_eq!(clean("a\u{202e}b\u{1b}[31mc\r\nd\te\u{200b}"), "abc\nd\te");
/// ```
pub fn clean(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut characters = text.chars().peekable();
    while let Some(character) = characters.next() {
        match character {
            '\r' => {
                if characters.peek() == Some(&'\n') {
                    characters.next();
                }
                out.push('\n');
            }
            '\u{1b}' if characters.peek() == Some(&'[') => {
                // A terminal sequence ends at its first letter; one that never ends is cut at 16 characters.
                for _ in 0..16 {
                    if characters.next().is_none_or(|c| c.is_ascii_alphabetic()) {
                        break;
                    }
                }
            }
            '\u{85}' | '\u{2028}' | '\u{2029}' => out.push('\n'),
            other if is_unseen(other) => {}
            other => out.push(other),
        }
    }
    out
}

/// Form feeds and vertical tabs are unseen too: who needs them as line ends looks for them before cleaning.
fn is_unseen(character: char) -> bool {
    matches!(character,
        '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}'
        | '\u{2060}'..='\u{2064}' | '\u{2066}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}')
        || (character.is_control() && !matches!(character, '\n' | '\t'))
}
