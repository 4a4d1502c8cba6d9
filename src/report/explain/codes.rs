//! Codes of doubts and errors, and reasons for setting aside, with their meanings.

use crate::lexicon::Origin;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::OnceLock;
use toml::Spanned;

/// What a code is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A doubt of a figure, record or file.
    Doubt,
    /// An error of a file.
    Error,
    /// A reason for setting a number aside.
    SetAside,
}

/// A code with its meaning.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Code {
    /// The code, permanent.
    pub id: String,
    /// What it says.
    pub meaning: String,
    /// What to do about it; none where nothing is to be done.
    pub action: Option<String>,
    /// Where the entry stands.
    pub origin: Origin,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    meaning: String,
    r#do: Option<String>,
}

const FILES: [(&str, &str); 3] = [
    ("grammar/doubts.toml", include_str!("../../../grammar/doubts.toml")),
    ("grammar/errors.toml", include_str!("../../../grammar/errors.toml")),
    ("grammar/set_aside.toml", include_str!("../../../grammar/set_aside.toml")),
];

impl Kind {
    /// Every kind.
    pub const ALL: [Self; 3] = [Self::Doubt, Self::Error, Self::SetAside];

    /// What one of them is.
    pub fn singular(self) -> &'static str {
        match self {
            Self::Doubt => "a doubt",
            Self::Error => "an error of a file",
            Self::SetAside => "a reason for setting a number aside",
        }
    }

    /// Heading of a list of them.
    pub fn plural(self) -> &'static str {
        match self {
            Self::Doubt => "Doubts",
            Self::Error => "Errors of files",
            Self::SetAside => "Reasons for setting numbers aside",
        }
    }

    fn known(self) -> &'static BTreeMap<String, Code> {
        static KNOWN: OnceLock<[BTreeMap<String, Code>; 3]> = OnceLock::new();
        // A test reads the files and shows what is wrong with them; a user cannot get here with a broken one.
        let all = KNOWN.get_or_init(|| FILES.map(|(file, text)| read(file, text).unwrap_or_default()));
        let [doubts, errors, aside] = all;
        match self {
            Self::Doubt => doubts,
            Self::Error => errors,
            Self::SetAside => aside,
        }
    }
}

fn read(file: &str, text: &str) -> Result<BTreeMap<String, Code>, toml::de::Error> {
    let entries: BTreeMap<String, Spanned<Entry>> = toml::from_str(text)?;
    let code = |(id, entry): (String, Spanned<Entry>)| {
        let origin = Origin { file: file.to_owned(), line: super::spellings::line_of(text, entry.span().start) };
        let Entry { meaning, r#do } = entry.into_inner();
        (id.clone(), Code { id, meaning, action: r#do, origin })
    };
    Ok(entries.into_iter().map(code).collect())
}

/// A code by its name.
pub fn code(kind: Kind, id: &str) -> Option<&'static Code> {
    kind.known().get(id)
}

/// All codes of a kind, in alphabetical order.
pub fn codes(kind: Kind) -> impl Iterator<Item = &'static Code> {
    kind.known().values()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_files_can_be_read_and_their_lines_are_right() {
        for (file, text) in FILES {
            let codes = read(file, text);
            assert!(codes.is_ok(), "{file}: {codes:?}");
            for code in codes.unwrap_or_default().values() {
                let line = text.lines().nth(code.origin.line - 1);
                assert_eq!(line, Some(format!("[{}]", code.id).as_str()), "{}", code.origin);
                assert!(!code.meaning.trim().is_empty());
            }
        }
        assert!(codes(Kind::Doubt).chain(codes(Kind::Error)).all(|code| code.action.is_some()));
    }
}
