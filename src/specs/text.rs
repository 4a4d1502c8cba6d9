//! Texts of knowledge data, the places in them, and what can be wrong with them.

use super::near_or_all;
use std::sync::Arc;

/// Tables of a file of figures, limits and cleanings: each part reads its own.
const TABLES: [&str; 8] = ["class", "limit", "band", "doubt", "cause", "recipe", "caution", "wanted"];

/// One text of knowledge data with the name that messages use for it.
#[derive(Clone, Copy, Debug)]
pub struct Text<'a> {
    /// File name, as it is shown to the user.
    pub name: &'a str,
    /// TOML.
    pub text: &'a str,
}

/// The file and line that an entry stands at.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Origin {
    /// File name, as it is shown to the user.
    pub file: Arc<str>,
    /// Counted from 1.
    pub line: u32,
}

impl std::fmt::Display for Origin {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}:{}", self.file, self.line)
    }
}

/// Knowledge data that cannot be used. Each message opens with the file and line.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum KnowledgeError {
    /// Not TOML, or an entry with a wrong or unknown key.
    #[error("{origin}: {message}")]
    Malformed {
        /// Where.
        origin: Origin,
        /// What the TOML reader found.
        message: String,
    },
    /// A key that an entry of this kind needs.
    #[error("{origin}: {entry} needs `{key}`; add a line `{key} = ...`")]
    Missing {
        /// Where.
        origin: Origin,
        /// The entry, in words.
        entry: String,
        /// The key.
        key: &'static str,
    },
    /// A name that nothing in the program uses.
    #[error("{origin}: {kind} `{name}` is not known; did you mean: {known}?")]
    Unknown {
        /// Where.
        origin: Origin,
        /// What kind of name.
        kind: &'static str,
        /// The name.
        name: String,
        /// Names that would do.
        known: String,
    },
    /// Something stands twice in one text.
    #[error("{origin}: {entry} stands here twice")]
    Twice {
        /// Where the second one stands.
        origin: Origin,
        /// The entry, in words.
        entry: String,
    },
    /// A number that cannot be meant.
    #[error("{origin}: {entry}: {message}")]
    OutOfRange {
        /// Where.
        origin: Origin,
        /// The entry, in words.
        entry: String,
        /// Why not.
        message: String,
    },
}

impl Text<'_> {
    /// The origin of a byte offset of this text.
    pub fn origin(&self, offset: usize) -> Origin {
        Origin { file: self.name.into(), line: line_at(self.text, offset) }
    }

    /// A TOML reader's error with its line.
    pub fn malformed(&self, error: &toml::de::Error) -> KnowledgeError {
        let offset = error.span().map_or(0, |span| span.start);
        KnowledgeError::Malformed { origin: self.origin(offset), message: plain(error.message()) }
    }

    /// Refuses a table that nothing reads: what stands under a slip would be lost without a word.
    ///
    /// # Errors
    /// The first such table, with its line.
    pub fn tables_known(&self) -> Result<(), KnowledgeError> {
        let table = toml::de::DeTable::parse(self.text).map_err(|error| self.malformed(&error))?;
        let unknown = table.get_ref().keys().find(|name| !TABLES.contains(&name.get_ref().as_ref()));
        unknown.map_or(Ok(()), |name| {
            Err(KnowledgeError::Unknown {
                origin: self.origin(name.span().start),
                kind: "table",
                name: name.get_ref().to_string(),
                known: near_or_all(name.get_ref(), &TABLES),
            })
        })
    }
}

/// A message of the TOML reader in plain words.
fn plain(message: &str) -> String {
    let unknown = message.strip_prefix("unknown field `").and_then(|rest| rest.split_once("`, expected "));
    if let Some((asked, rest)) = unknown {
        let known: Vec<&str> = rest.split('`').skip(1).step_by(2).collect();
        return format!("there is no key `{asked}` here; did you mean: {}?", near_or_all(asked, &known));
    }
    match message.strip_prefix("invalid type: ").and_then(|rest| rest.rsplit_once(", expected ")) {
        Some((found, "f64")) => format!("{found} stands where a number belongs"),
        Some((found, wanted)) => format!("{found} stands where {wanted} belongs"),
        None => message.to_owned(),
    }
}

/// Line of a byte offset, counted from 1.
pub fn line_at(text: &str, offset: usize) -> u32 {
    let breaks = text.bytes().take(offset).filter(|byte| *byte == b'\n').count();
    u32::try_from(breaks).unwrap_or(u32::MAX - 1) + 1
}
