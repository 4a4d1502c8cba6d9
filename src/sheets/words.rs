//! `grammar/sheets.toml` as questions: what sheets call things.

use crate::lexicon::words as split;
use crate::value::Bound;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::OnceLock;

const TEXT: &str = include_str!("../../grammar/sheets.toml");

#[derive(Debug, Default, Deserialize)]
struct Entries {
    gloss: BTreeMap<String, String>,
    bound: BTreeMap<String, String>,
    aside: BTreeMap<String, String>,
    section: BTreeMap<String, String>,
    filler: BTreeMap<String, String>,
    head: BTreeMap<String, String>,
    component: BTreeMap<String, String>,
    ion: BTreeMap<String, String>,
    assume: BTreeMap<String, String>,
    agree: Agree,
}

#[derive(Debug, Default, Deserialize)]
struct Agree {
    share: f64,
    grading: f64,
}

/// How a word bounds a figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Limit {
    /// A minimum.
    Min,
    /// A maximum.
    Max,
    /// About.
    About,
    /// Typical: a plain figure.
    Typical,
}

impl From<Bound> for Limit {
    fn from(bound: Bound) -> Self {
        match bound {
            Bound::Minimum => Self::Min,
            Bound::Maximum => Self::Max,
            Bound::Typical => Self::Typical,
        }
    }
}

/// Folded phrases, the longest first.
#[derive(Debug, Default)]
pub struct Phrases(Vec<Vec<String>>);

impl Phrases {
    fn of(list: Option<&String>) -> Self {
        let mut phrases: Vec<Vec<String>> = list
            .map(|list| list.split('|').map(folded).filter(|phrase| !phrase.is_empty()).collect())
            .unwrap_or_default();
        phrases.sort_by_key(|phrase| std::cmp::Reverse(phrase.len()));
        Self(phrases)
    }

    /// Whether one of the phrases stands in the text.
    pub fn within(&self, text: &str) -> bool {
        let words = folded(text);
        self.0.iter().any(|phrase| words.windows(phrase.len()).any(|w| w == phrase.as_slice()))
    }

    /// Whether the text is one of the phrases.
    pub fn is(&self, text: &str) -> bool {
        let words = folded(text);
        self.0.contains(&words)
    }

    /// The text behind a phrase that it begins with.
    pub fn after<'t>(&self, text: &'t str) -> Option<&'t str> {
        let words = split(text);
        let phrase = self
            .0
            .iter()
            .find(|phrase| words.len() >= phrase.len() && phrase.iter().zip(&words).all(|(p, w)| *p == w.folded))?;
        let end = words.get(phrase.len().checked_sub(1)?)?.end;
        text.get(end..)
    }

    /// The text with every phrase blanked out, and whether there was one.
    pub fn without(&self, text: &str) -> (String, bool) {
        let words = split(text);
        let mut kept = text.to_owned();
        let mut found = false;
        let mut at = 0;
        while at < words.len() {
            let hit = self.0.iter().find(|phrase| {
                words.get(at..at + phrase.len()).is_some_and(|w| w.iter().zip(*phrase).all(|(w, p)| w.folded == *p))
            });
            let Some(phrase) = hit else {
                at += 1;
                continue;
            };
            if let (Some(first), Some(last)) = (words.get(at), words.get(at + phrase.len() - 1)) {
                kept.replace_range(first.start..last.end, &" ".repeat(last.end - first.start));
                found = true;
            }
            at += phrase.len();
        }
        (kept, found)
    }
}

fn folded(text: &str) -> Vec<String> {
    split(text).into_iter().map(|word| word.folded).collect()
}

/// All of it, ready to be asked.
#[derive(Debug, Default)]
pub struct SheetWords {
    gloss: Vec<(String, String)>,
    bounds: Vec<(Limit, Phrases)>,
    /// Figures that are not the resin's own.
    pub aside: Phrases,
    /// Opens the part on operation.
    pub operating: Phrases,
    /// Opens the part on the resin.
    pub properties: Phrases,
    /// Says nothing.
    pub filler: Phrases,
    /// Labels of the form as sold.
    pub shipped: Phrases,
    /// Labels of what is told in words.
    pub told: Phrases,
    /// Heads of metric columns.
    pub si: Phrases,
    /// Heads of columns in US units.
    pub us: Phrases,
    /// Heads of the column of labels.
    pub label: Phrases,
    /// Heads that say only that values follow.
    pub value: Phrases,
    /// Heads of columns that hold no values.
    pub other: Phrases,
    /// Labels of the products' names.
    pub product: Phrases,
    /// Parts of a mixed bed: id, words.
    pub components: Vec<(String, Phrases)>,
    ions: Vec<(String, String)>,
    assume: BTreeMap<String, Vec<String>>,
    /// Share by which two figures for one thing may differ.
    pub agree: f64,
    /// A range of sizes wider than this ratio is the sieve's, and no mean.
    pub grading: f64,
}

impl SheetWords {
    /// The built-in words. A test holds that the file can be read.
    pub fn builtin() -> &'static Self {
        static BUILTIN: OnceLock<SheetWords> = OnceLock::new();
        BUILTIN.get_or_init(|| toml::from_str(TEXT).map(Self::of).unwrap_or_default())
    }

    fn of(entries: Entries) -> Self {
        let by_length = |table: BTreeMap<String, String>| {
            let mut list: Vec<(String, String)> = table.into_iter().collect();
            list.sort_by_key(|(from, _)| std::cmp::Reverse(from.chars().count()));
            list
        };
        let limit = |name: &str| match name {
            "min" => Limit::Min,
            "max" => Limit::Max,
            "about" => Limit::About,
            _ => Limit::Typical,
        };
        let head = |name: &str| Phrases::of(entries.head.get(name));
        Self {
            bounds: entries.bound.iter().map(|(name, list)| (limit(name), Phrases::of(Some(list)))).collect(),
            aside: Phrases::of(entries.aside.get("words")),
            operating: Phrases::of(entries.section.get("operating")),
            properties: Phrases::of(entries.section.get("properties")),
            filler: Phrases::of(entries.filler.get("words")),
            shipped: Phrases::of(entries.filler.get("shipped")),
            told: Phrases::of(entries.filler.get("told")),
            si: head("si"),
            us: head("us"),
            label: head("label"),
            value: head("value"),
            other: head("other"),
            product: head("product"),
            components: entries.component.iter().map(|(id, list)| (id.clone(), Phrases::of(Some(list)))).collect(),
            assume: entries
                .assume
                .iter()
                .map(|(id, list)| (id.clone(), list.split('|').map(|unit| unit.trim().to_owned()).collect()))
                .collect(),
            agree: entries.agree.share,
            grading: entries.agree.grading,
            gloss: by_length(entries.gloss),
            ions: by_length(entries.ion),
        }
    }

    /// A text in the words of the lexicon: wide characters narrowed, terms put into English.
    pub fn plain(&self, text: &str) -> String {
        let narrowed: String = text
            .chars()
            .map(|c| match u32::from(c) {
                wide @ 0xff01..=0xff5e => char::from_u32(wide - 0xfee0).unwrap_or(c),
                0x3000 | 0x00a0 => ' ',
                _ => c,
            })
            .collect();
        let mut out = String::new();
        let mut rest = narrowed.as_str();
        while let Some(first) = rest.chars().next() {
            match self.gloss.iter().find(|(from, _)| rest.starts_with(from.as_str())) {
                Some((from, to)) => {
                    let wordy = from.chars().next().is_some_and(|c| u32::from(c) >= 0x2e80);
                    // "mmol/克" is one unit: what follows a stroke stays glued to it.
                    let glued = out.ends_with('/') || out.ends_with('(');
                    if wordy && !glued && !out.ends_with(' ') && !out.is_empty() {
                        out.push(' ');
                    }
                    out.push_str(to);
                    rest = rest.get(from.len()..).unwrap_or("");
                    if wordy && rest.chars().next().is_some_and(|c| c.is_alphanumeric()) {
                        out.push(' ');
                    }
                }
                None => {
                    out.push(first);
                    rest = rest.get(first.len_utf8()..).unwrap_or("");
                }
            }
        }
        out
    }

    /// The text without words that bound, and what they said.
    pub fn take_bound(&self, text: &str) -> (String, Option<Limit>) {
        let mut kept = text.to_owned();
        let mut limit = None;
        for (meaning, phrases) in &self.bounds {
            let (less, found) = phrases.without(&kept);
            kept = less;
            // A minimum or maximum says more than "typical" or "about" beside it.
            if found && !matches!(limit, Some(Limit::Min | Limit::Max)) {
                limit = Some(*meaning);
            }
        }
        (kept, limit)
    }

    /// The text without ions in brackets or with their charge, and the forms that they name, in order.
    pub fn take_ions(&self, text: &str) -> (String, Vec<String>) {
        let mut found: Vec<(usize, String)> = Vec::new();
        let mut kept = text.to_owned();
        for (written, form) in &self.ions {
            while let Some(at) = kept.find(written.as_str()) {
                let before = kept.get(..at).and_then(|t| t.chars().next_back());
                let after = kept.get(at + written.len()..).and_then(|t| t.chars().next());
                let inside = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
                if !inside(before) && !inside(after) {
                    found.push((at, form.clone()));
                }
                kept.replace_range(at..at + written.len(), &" ".repeat(written.len()));
            }
        }
        found.sort();
        (kept, found.into_iter().map(|(_, form)| form).collect())
    }

    /// Units that a bare figure of the property may be in.
    pub fn assumed(&self, property: &str) -> &[String] {
        self.assume.get(property).map_or(&[], Vec::as_slice)
    }

    /// The part of a mixed bed that a text names, and the text without its name.
    pub fn component(&self, text: &str) -> Option<(&str, String)> {
        self.components.iter().find_map(|(id, phrases)| {
            let (less, found) = phrases.without(text);
            found.then_some((id.as_str(), less))
        })
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a failed test is what a panic is for")]
mod tests {
    use super::*;

    #[test]
    fn the_words_can_be_read() {
        let entries: Entries = toml::from_str(TEXT).unwrap();
        assert!(!entries.gloss.is_empty());
        for list in entries.assume.values() {
            for unit in list.split('|') {
                assert!(crate::quantity::Unit::parse(unit.trim()).is_some(), "{unit}");
            }
        }
    }

    #[test]
    fn chinese_terms_become_words_that_are_known() {
        let words = SheetWords::builtin();
        assert_eq!(words.plain("体积全交换容量 mmol/mL ≥1.90").trim(), "total capacity volume mmol/mL ≥1.90");
        assert_eq!(words.plain("均一系数≤1.60"), "uniformity coefficient≤1.60");
        assert_eq!(words.plain("４５～５０％"), "45~50%");
    }

    #[test]
    fn ions_are_told_from_letters() {
        let (rest, forms) = SheetWords::builtin().take_ions("Total capacity H+ / Na+");
        assert_eq!(
            (rest.trim_end_matches([' ', '/']).trim(), forms),
            ("Total capacity", vec!["H".to_owned(), "Na".to_owned()])
        );
    }
}
