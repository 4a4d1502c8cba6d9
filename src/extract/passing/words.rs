//! The phrases of `grammar/passing.toml`, and how they are found in a text.

use std::collections::BTreeMap;
use std::sync::OnceLock;

/// All phrases, by section and entry.
#[derive(Debug, Default)]
pub struct Passing {
    sections: BTreeMap<String, BTreeMap<String, Vec<String>>>,
}

impl Passing {
    /// The phrases that the program ships.
    pub fn builtin() -> &'static Self {
        static DATA: OnceLock<Passing> = OnceLock::new();
        DATA.get_or_init(|| {
            let table: toml::Table = include_str!("../../../grammar/passing.toml").parse().unwrap_or_default();
            let entries = |section: &toml::Value| -> BTreeMap<String, Vec<String>> {
                let table = section.as_table().cloned().unwrap_or_default();
                table.into_iter().map(|(name, text)| (name, phrases(text.as_str().unwrap_or_default()))).collect()
            };
            Self { sections: table.iter().map(|(name, section)| (name.clone(), entries(section))).collect() }
        })
    }

    /// The phrases of an entry, as `dates` and `received_on`, in lower case, the longest first.
    pub fn phrases(&'static self, section: &str, entry: &str) -> &'static [String] {
        self.sections.get(section).and_then(|s| s.get(entry)).map(Vec::as_slice).unwrap_or_default()
    }

    /// The entries of a section.
    pub fn entries(&'static self, section: &str) -> Vec<&'static str> {
        self.sections.get(section).map(|s| s.keys().map(String::as_str).collect()).unwrap_or_default()
    }
}

fn phrases(text: &str) -> Vec<String> {
    let mut list: Vec<String> = text.split(['|', '\n']).map(|p| lower(p.trim())).filter(|p| !p.is_empty()).collect();
    list.sort_by_key(|p| std::cmp::Reverse(p.len()));
    list
}

/// Lower case that leaves every byte where it was.
pub fn lower(text: &str) -> String {
    text.chars()
        .map(|c| {
            let mut small = c.to_lowercase();
            match (small.next(), small.next()) {
                (Some(one), None) if one.len_utf8() == c.len_utf8() => one,
                _ => c,
            }
        })
        .collect()
}

/// Where the words of a phrase stand in a text that is in lower case: whole words only.
pub fn occurrences(text: &str, phrase: &str) -> Vec<(usize, usize)> {
    let word = |c: char| c.is_alphanumeric();
    text.match_indices(phrase)
        .filter(|(at, found)| {
            let before = text.get(..*at).and_then(|t| t.chars().next_back());
            let after = text.get(at + found.len()..).and_then(|t| t.chars().next());
            let opens = !phrase.starts_with(word) || before.is_none_or(|c| !word(c) && c != '-');
            let closes = !phrase.ends_with(word) || after.is_none_or(|c| !word(c));
            opens && closes
        })
        .map(|(at, found)| (at, at + found.len()))
        .collect()
}

/// The phrase of a list that a text begins with.
pub fn begins<'t>(text: &'t str, phrases: &[String]) -> Option<&'t str> {
    let small = lower(text);
    let phrase = phrases.iter().find(|p| occurrences(&small, p).first().is_some_and(|(at, _)| *at == 0))?;
    text.get(phrase.len()..)
}

/// Whether a text holds a phrase of a list.
pub fn holds(text: &str, phrases: &[String]) -> bool {
    let small = lower(text);
    phrases.iter().any(|p| !occurrences(&small, p).is_empty())
}

/// The phrase that stands nearest before the end of a text; of two that end alike, the longer.
pub fn nearest(text: &str, phrases: &[String]) -> Option<(usize, usize)> {
    let small = lower(text);
    phrases.iter().flat_map(|p| occurrences(&small, p)).max_by_key(|(from, to)| (*to, std::cmp::Reverse(*from)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn phrases_are_whole_words() {
        assert_eq!(occurrences("pulled, unpulled", "pulled"), [(0, 6)]);
        assert_eq!(occurrences("in: 4 nov", "in:"), [(0, 3)]);
        assert!(occurrences("berlin: 4 nov", "in:").is_empty());
        assert_eq!(lower("ÉDITÉ LE"), "édité le");
    }

    #[test]
    fn every_section_has_phrases() {
        for section in ["dates", "installed_on", "report_number", "customer", "laboratory", "position", "cycle", "form"]
        {
            let entries = Passing::builtin().entries(section);
            assert!(!entries.is_empty(), "{section}");
            for entry in entries {
                assert!(!Passing::builtin().phrases(section, entry).is_empty(), "{section}.{entry}");
            }
        }
    }
}
