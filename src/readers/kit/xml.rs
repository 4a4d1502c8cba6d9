//! The few things that every XML of an archive needs.

use quick_xml::Reader;
use quick_xml::events::{BytesRef, BytesStart};

/// A reader in which `<a/>` arrives as a start and an end, and a missing end is no error.
pub fn reader(text: &str) -> Reader<&[u8]> {
    let mut reader = Reader::from_str(text);
    let config = reader.config_mut();
    config.expand_empty_elements = true;
    config.check_end_names = false;
    config.allow_unmatched_ends = true;
    reader
}

/// The value of an attribute by its name without a prefix.
pub fn attribute(element: &BytesStart<'_>, name: &str) -> Option<String> {
    element.attributes().with_checks(false).flatten().find(|a| a.key.local_name().as_ref() == name).map(|a| {
        a.normalized_value(quick_xml::XmlVersion::default())
            .map(|value| value.into_owned())
            .unwrap_or_else(|_| a.value.to_string())
    })
}

/// The character that a reference stands for: without it, `&lt; 50` would become ` 50`.
pub fn resolve(reference: &BytesRef<'_>) -> Option<char> {
    if reference.is_char_ref() {
        return reference.resolve_char_ref().ok().flatten();
    }
    match reference.xml10_content().as_ref() {
        "lt" => Some('<'),
        "gt" => Some('>'),
        "amp" => Some('&'),
        "quot" => Some('"'),
        "apos" => Some('\''),
        _ => None,
    }
}

/// Whether an XML boolean says yes.
pub fn is_true(value: &str) -> bool {
    matches!(value.trim(), "1" | "true" | "TRUE" | "True" | "on")
}
