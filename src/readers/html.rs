//! Not read yet, but for the words of a mail's body.

use super::{ReadError, ReadOptions, ReadOutput, text};
use crate::document::Page;
use std::sync::Arc;

/// Says that the format is not read yet.
///
/// # Errors
///
/// Always `unsupported-yet`.
pub fn read(bytes: &[u8], options: &ReadOptions) -> Result<ReadOutput, ReadError> {
    let _ = (bytes, options);
    Err(ReadError::new("unsupported-yet", "html files are not read yet; save the report as text or as a workbook"))
}

/// The body of a mail without its tags.
pub fn read_text(html: &str, place_part: Option<&Arc<str>>) -> Vec<Page> {
    let mut plain = String::new();
    let mut in_tag = false;
    for character in html.chars() {
        match character {
            '<' => in_tag = true,
            '>' => {
                in_tag = false;
                plain.push('\n');
            }
            other if !in_tag => plain.push(other),
            _ => {}
        }
    }
    let mut page = text::page(&plain);
    for word in page.lines.iter_mut().flat_map(|line| &mut line.words) {
        word.place.part = place_part.cloned();
    }
    vec![page]
}
