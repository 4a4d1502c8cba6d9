//! Which class of resin the report's own words name.
//!
//! Words are facets of `grammar/resin_words.toml`; what they make together stands in the rules below each class.

use super::words;

/// A class told from words, with what was assumed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ClassReading {
    /// The class, where the words leave only one.
    pub class: Option<String>,
    /// Ionic form named with it.
    pub form: Option<String>,
    /// Classes that the words leave open, where it is more than one.
    pub candidates: Vec<String>,
}

/// Reads the words for a resin.
pub fn resin_class(text: &str) -> ClassReading {
    let _ = words(text);
    ClassReading::default()
}
