//! Names of sites and vessels, compared as people mean them.
//!
//! Takes names as reports write them, gives keys that spelling does not change. The words stand in
//! `grammar/bed_names.toml`.

use crate::lexicon::words;
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Words {
    fillers: BTreeSet<String>,
    same: BTreeMap<String, String>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Names {
    site: Words,
    vessel: Words,
}

const TEXT: &str = include_str!("../../grammar/bed_names.toml");

fn names() -> &'static Names {
    static NAMES: OnceLock<Names> = OnceLock::new();
    NAMES.get_or_init(|| {
        let mut names: Names = toml::from_str(TEXT).unwrap_or_default();
        for words in [&mut names.site, &mut names.vessel] {
            words.same = words.same.iter().map(|(short, long)| (fold(short), fold(long))).collect();
            words.fillers = words.fillers.iter().map(|word| fold(word)).collect();
        }
        names
    })
}

fn fold(word: &str) -> String {
    words(word).into_iter().map(|word| word.folded).collect()
}

/// A name as the set of its words: two spellings of one name have one key.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Key(String);

impl Key {
    /// The key of a site's name.
    pub fn site(name: &str) -> Self {
        Self::of(name, &names().site)
    }

    /// The key of a vessel's name.
    ///
    /// ```
    /// use beadwise::beds::Key;
    /// assert_eq!(Key::vessel("Softener No. 2 (lead)"), Key::vessel("SOFTENER 2"));
    /// assert_eq!(Key::vessel("S2"), Key::vessel("softener II"));
    /// assert_ne!(Key::vessel("Softener 1"), Key::vessel("Softener 2"));
    /// ```
    pub fn vessel(name: &str) -> Self {
        Self::of(name, &names().vessel)
    }

    /// The key of a laboratory's name, or of a report's number: nothing is left out.
    pub fn plain(name: &str) -> Self {
        Self(parted(name).into_iter().collect::<Vec<_>>().join(" "))
    }

    /// As it stands in the store.
    pub fn stored(text: &str) -> Self {
        Self(text.to_owned())
    }

    fn of(name: &str, known: &Words) -> Self {
        let bare = without_brackets(name);
        let all: BTreeSet<String> =
            parted(&bare).into_iter().map(|word| known.same.get(&word).cloned().unwrap_or(word)).collect();
        let telling: BTreeSet<String> = all.iter().filter(|word| !known.fillers.contains(*word)).cloned().collect();
        // A vessel that is called "Tank" and nothing else is still called something.
        let kept = if telling.is_empty() { all } else { telling };
        Self(kept.into_iter().collect::<Vec<_>>().join(" "))
    }

    /// The words, joined by blanks.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Whether there is no name.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Whether both could be names of one thing: one is missing, or all its words are in the other.
    pub fn could_be(&self, other: &Self) -> bool {
        let (one, two): (BTreeSet<&str>, BTreeSet<&str>) =
            (self.0.split_whitespace().collect(), other.0.split_whitespace().collect());
        one.is_subset(&two) || two.is_subset(&one)
    }
}

/// What stands in brackets is said beside the name.
fn without_brackets(name: &str) -> String {
    let mut depth = 0_u32;
    let mut kept = String::new();
    for c in name.chars() {
        match c {
            '(' | '[' => depth += 1,
            ')' | ']' => depth = depth.saturating_sub(1),
            c if depth == 0 => kept.push(c),
            _ => {}
        }
    }
    if kept.trim().is_empty() { name.to_owned() } else { kept }
}

/// Folded words; letters and digits that stand together are words of their own: "S2" is "s 2".
fn parted(name: &str) -> Vec<String> {
    let mut all = Vec::new();
    for word in words(name) {
        let mut piece = String::new();
        for c in word.folded.chars() {
            let breaks = piece.chars().last().is_some_and(|last: char| last.is_ascii_digit() != c.is_ascii_digit());
            if breaks {
                all.push(std::mem::take(&mut piece));
            }
            piece.push(c);
        }
        if !piece.is_empty() {
            // "02" and "2" number the same vessel.
            let bare = piece.trim_start_matches('0');
            all.push(if piece.chars().all(|c| c.is_ascii_digit()) && !bare.is_empty() {
                bare.to_owned()
            } else {
                piece
            });
        }
    }
    all
}

/// A short name to type, made of the names of site and vessel: `mill-street-laundry/softener-2`.
///
/// ```
/// assert_eq!(beadwise::beds::slug("Mill Street Laundry", "Softener No. 2 (lead)"), "mill-street-laundry/softener-no-2");
/// ```
pub fn slug(site: &str, vessel: &str) -> String {
    let part = |name: &str| {
        let mut text = String::new();
        for c in without_brackets(name).to_lowercase().chars() {
            if c.is_alphanumeric() {
                text.push(c);
            } else if !text.is_empty() && !text.ends_with('-') {
                text.push('-');
            }
        }
        text.trim_end_matches('-').to_owned()
    };
    match (part(site), part(vessel)) {
        (site, vessel) if site.is_empty() => vessel,
        (site, vessel) if vessel.is_empty() => site,
        (site, vessel) => format!("{site}/{vessel}"),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn the_words_of_names_can_be_read() {
        let names: Names = toml::from_str(TEXT).unwrap();
        assert!(!names.vessel.same.is_empty() && !names.site.fillers.is_empty());
    }

    #[test]
    fn spellings_of_one_name_have_one_key() {
        for (one, two) in [
            ("Mill Street Laundry", "mill street laundry."),
            ("Mill St. Laundry", "MILL STREET LAUNDRY"),
            ("Blanchisserie des Trois Gués", "blanchisserie des trois gues"),
        ] {
            assert_eq!(Key::site(one), Key::site(two), "{one}");
        }
        for (one, two) in [
            ("Anion vessel of the two-bed deionizer", "Two-bed deionizer, anion"),
            ("Softener #02", "softener 2"),
            ("Adoucisseur 1", "adoucisseur 1"),
        ] {
            assert_eq!(Key::vessel(one), Key::vessel(two), "{one}");
        }
    }

    #[test]
    fn other_names_are_other_beds_or_could_be_the_same() {
        let key = Key::vessel;
        assert!(!key("Softener 1").could_be(&key("Softener 2")));
        assert!(key("Softener").could_be(&key("Softener 2")));
        assert!(key("").could_be(&key("Softener 2")));
        assert!(key("Anion").could_be(&key("Two-bed deionizer, anion")));
        assert!(!key("Cation").could_be(&key("Anion")));
        assert!(!key("Tank").is_empty());
    }
}
