//! Every spelling of the lexicon with its language, file and line.
//!
//! The lexicon answers what a word means; this answers who said so. It reads the same texts in the same order.

use super::Knowledge;
use crate::lexicon::{FacetKind, Lexicon, Origin, fold};
use std::collections::BTreeMap;
use toml::{Spanned, Value};

const WORDS: (&str, &str) = ("grammar/words.toml", include_str!("../../../grammar/words.toml"));
const ABBREVIATIONS: (&str, &str) = ("grammar/abbreviations.toml", include_str!("../../../grammar/abbreviations.toml"));

/// One line of spellings of one entry.
#[derive(Clone, Debug)]
pub struct Spelled {
    /// Id of the entry.
    pub facet: String,
    /// `en`, `de`, ...
    pub language: String,
    /// As written in the data.
    pub words: Vec<String>,
    /// Where the line stands.
    pub origin: Origin,
}

/// A short name that stands for several entries at once.
#[derive(Clone, Debug)]
pub struct Abbreviation {
    /// As written.
    pub text: String,
    /// Where it stands.
    pub origin: Origin,
}

/// All of them.
#[derive(Debug, Default)]
pub struct Spellings {
    lines: Vec<Spelled>,
    /// Short names.
    pub abbreviations: Vec<Abbreviation>,
}

impl Spellings {
    /// Of the built-in words and of the user's.
    pub fn gather(knowledge: &Knowledge<'_>) -> Self {
        let mut all = Self::default();
        all.add(WORDS.0, WORDS.1);
        for (file, text) in knowledge.overlays {
            all.add(file, text);
        }
        let short: BTreeMap<String, Spanned<Value>> = toml::from_str(ABBREVIATIONS.1).unwrap_or_default();
        all.abbreviations = short
            .into_iter()
            .map(|(text, value)| Abbreviation { text, origin: origin(ABBREVIATIONS, value.span().start) })
            .collect();
        all
    }

    fn add(&mut self, file: &str, text: &str) {
        // The lexicon has taken the same text; what it refuses never comes this far.
        let entries: BTreeMap<String, BTreeMap<String, Spanned<Value>>> = toml::from_str(text).unwrap_or_default();
        for (facet, entry) in entries {
            for (language, value) in entry {
                let Some(list) = value.get_ref().as_str().filter(|_| !matches!(language.as_str(), "kind" | "gives"))
                else {
                    continue;
                };
                let words = list.split('|').map(|word| word.trim().to_owned()).filter(|word| !word.is_empty());
                let origin = origin((file, text), value.span().start);
                self.lines.push(Spelled { facet: facet.clone(), language, words: words.collect(), origin });
            }
        }
    }

    /// Lines of one entry, in the order of the files.
    pub fn of<'s>(&'s self, facet: &'s str) -> impl Iterator<Item = &'s Spelled> {
        self.lines.iter().filter(move |line| line.facet == facet)
    }

    /// Other entries that hold a spelling and give way to this one.
    pub fn losers(&self, line: &Spelled, lexicon: &Lexicon) -> Vec<(String, String, Origin)> {
        let kind = |id: &str| lexicon.facet_id(id).and_then(|id| lexicon.facet(id)).map(|facet| facet.kind);
        let own = kind(&line.facet);
        if own == Some(FacetKind::Filler) {
            return Vec::new();
        }
        let mut losers = Vec::new();
        for word in &line.words {
            let folded = fold(word);
            for other in self.lines.iter().filter(|other| other.facet != line.facet) {
                let gives_way = kind(&other.facet) == Some(FacetKind::Filler) && own != Some(FacetKind::Role);
                if gives_way && other.words.iter().any(|theirs| fold(theirs) == folded) {
                    losers.push((word.clone(), other.facet.clone(), other.origin.clone()));
                }
            }
        }
        losers
    }
}

fn origin((file, text): (&str, &str), offset: usize) -> Origin {
    Origin { file: file.to_owned(), line: line_of(text, offset) }
}

/// Line of a byte offset, counted from 1.
pub fn line_of(text: &str, offset: usize) -> usize {
    text.bytes().take(offset).filter(|byte| *byte == b'\n').count() + 1
}
