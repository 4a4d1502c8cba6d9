//! `grammar/` as a queryable lexicon: which words make which label, column or fact.
//!
//! Takes the built-in data files and a user's overlays, gives [`Lexicon`] with one question for labels
//! ([`Lexicon::understand`]) and one for column heads ([`Lexicon::role`]). Does not look at layouts or values.
//! Each entry remembers its file and line, so that `explain` can say who won.

mod label;
mod resin;
mod words;

pub(crate) use label::strip_numbering;
pub use label::{Cut, Label, Role, Target, is_method, mesh_opening_mm};
pub use resin::{ClassReading, ResinClass, class_words_in, resin_class, resin_classes};
pub use words::{Word, fold, words};

use crate::quantity::memo::Memory;
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::OnceLock;

/// Position of a facet in the lexicon.
pub type FacetId = u16;

/// First folded word to phrases: the rest of their words, and the facets that they stand for, longest first.
type Phrases = HashMap<String, Vec<(Vec<String>, Vec<FacetId>)>>;

/// What a facet does in a label.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FacetKind {
    /// What is measured.
    Head,
    /// Which of several.
    Modifier,
    /// Per what.
    Basis,
    /// Ionic form.
    Form,
    /// Substance counted.
    As,
    /// Whose figure.
    Context,
    /// Says nothing by itself.
    Filler,
    /// A fact about the sample.
    Key,
    /// Names a column or row.
    Role,
    /// State of the sample.
    State,
    /// Place in the bed.
    Position,
}

/// One entry of `words.toml`.
#[derive(Clone, Debug)]
pub struct Facet {
    /// Permanent id.
    pub id: String,
    /// What it does.
    pub kind: FacetKind,
    /// Id that it stands for in a record, where it has one.
    pub gives: Option<String>,
    /// May be left out of account where the rest is clear.
    pub soft: bool,
    /// Spellings as written in the data.
    pub spellings: Vec<String>,
    /// The German ones among them.
    pub german: Vec<String>,
    /// Where the entry stands.
    pub origin: Origin,
}

/// File and line of an entry.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Origin {
    /// File, as `grammar/words.toml` or the user's path.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
}

impl std::fmt::Display for Origin {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}:{}", self.file, self.line)
    }
}

/// A property of the resin, or a quantity of the bed and its water.
#[derive(Clone, Debug)]
pub struct Quantity {
    /// Permanent id.
    pub id: String,
    /// Name on screens.
    pub name: String,
    /// What it is.
    pub about: String,
    /// Canonical unit by basis; the key is empty where no basis applies.
    pub units: BTreeMap<String, String>,
    /// Plausible range by basis, in the canonical unit.
    pub plausible: BTreeMap<String, [f64; 2]>,
    /// Element or substance that the figure counts.
    pub substance: Option<String>,
    /// The label must name a cut (sieve, load).
    pub cut: bool,
    /// Source of the bounds.
    pub source: String,
    /// Sets of facets, as written.
    pub means: Vec<String>,
    /// Where the entry stands.
    pub origin: Origin,
}

/// How far a fact about the sample reaches.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Level {
    /// A change of it starts a new sample.
    Sample,
    /// It may differ between samples, but does not start one.
    Site,
    /// It belongs to the whole report.
    Report,
}

/// A fact about the sample.
#[derive(Clone, Debug)]
pub struct Key {
    /// Permanent id, as in the record's `sample`.
    pub id: String,
    /// How far it reaches.
    pub level: Level,
    /// Sets of facets, as written.
    pub means: Vec<String>,
    /// Where the entry stands.
    pub origin: Origin,
}

/// An entry of the grammar that cannot be used.
#[derive(Clone, Debug, thiserror::Error)]
#[error("{origin}: {text}")]
pub struct GrammarError {
    /// Where.
    pub origin: Origin,
    /// What is wrong and what to do.
    pub text: String,
}

/// The whole of the grammar's words and meanings.
#[derive(Clone, Debug, Default)]
pub struct Lexicon {
    facets: Vec<Facet>,
    facet_ids: HashMap<String, FacetId>,
    /// First folded word to phrases (rest of the words, facets that the phrase stands for), longest first.
    label_phrases: Phrases,
    role_phrases: Phrases,
    /// Single German words of four letters and more: the parts that compounds are made of.
    compound_parts: HashMap<String, FacetId>,
    properties: Vec<Quantity>,
    fields: Vec<Quantity>,
    keys: Vec<Key>,
    meanings: HashMap<BTreeSet<FacetId>, Target>,
    /// Units that a document gives to its own short names.
    name_units: HashMap<String, crate::quantity::Unit>,
    /// Labels that were read before with these words.
    understood: Memory<Label>,
}

/// A short name that a document explains itself: "TC = total capacity, kgr/cf".
#[derive(Clone, Debug, PartialEq)]
pub struct ShortName {
    /// As written.
    pub name: String,
    /// Facets of what it means.
    pub facets: Vec<FacetId>,
    /// Unit of its figures, where the explanation gives one.
    pub unit: Option<crate::quantity::Unit>,
    /// What it stands for.
    pub target: Option<Target>,
}

#[derive(Deserialize)]
struct FacetEntry {
    kind: FacetKind,
    gives: Option<String>,
    #[serde(default)]
    soft: bool,
    #[serde(flatten)]
    languages: BTreeMap<String, toml::Value>,
}

#[derive(Deserialize)]
struct PropertyEntry {
    name: String,
    #[serde(default)]
    about: String,
    means: Vec<String>,
    #[serde(default)]
    units: BTreeMap<String, String>,
    unit: Option<String>,
    plausible: Option<toml::Value>,
    element: Option<String>,
    substance: Option<String>,
    #[serde(default)]
    cut: bool,
    #[serde(default)]
    source: String,
}

#[derive(Deserialize)]
struct KeyEntry {
    level: Level,
    means: Vec<String>,
}

const WORDS: (&str, &str) = ("grammar/words.toml", include_str!("../../grammar/words.toml"));
const ABBREVIATIONS: (&str, &str) = ("grammar/abbreviations.toml", include_str!("../../grammar/abbreviations.toml"));
const PROPERTIES: (&str, &str) = ("grammar/properties.toml", include_str!("../../grammar/properties.toml"));
const FIELD: (&str, &str) = ("grammar/field.toml", include_str!("../../grammar/field.toml"));
const KEYS: (&str, &str) = ("grammar/keys.toml", include_str!("../../grammar/keys.toml"));

impl Lexicon {
    /// The built-in grammar.
    ///
    /// ```
    /// use beadwise::lexicon::{Lexicon, Target};
    /// let lexicon = Lexicon::builtin();
    /// let label = lexicon.understand("Total exchange capacity (eq/L)", &[]);
    /// assert_eq!(label.target, Some(Target::Property("total_capacity".into())));
    /// ```
    pub fn builtin() -> &'static Self {
        static BUILTIN: OnceLock<Lexicon> = OnceLock::new();
        // A test loads the built-in files and shows the error; a user cannot get here with a broken one.
        BUILTIN.get_or_init(|| Self::with_overlays(&[]).unwrap_or_default())
    }

    /// The built-in grammar under the given overlays, each a file name and its text in the shape of `words.toml`:
    /// spellings add to an entry, a new entry must name its kind.
    ///
    /// # Errors
    ///
    /// [`GrammarError`] with file and line of what cannot be used.
    pub fn with_overlays(overlays: &[(String, String)]) -> Result<Self, GrammarError> {
        let mut lexicon = Self::default();
        lexicon.add_words(WORDS.0, WORDS.1, false)?;
        for (file, text) in overlays {
            lexicon.add_words(file, text, true)?;
        }
        lexicon.index_words()?;
        lexicon.add_abbreviations(ABBREVIATIONS.0, ABBREVIATIONS.1)?;
        lexicon.sort_phrases();
        lexicon.properties = lexicon.quantities(PROPERTIES.0, PROPERTIES.1)?;
        lexicon.fields = lexicon.quantities(FIELD.0, FIELD.1)?;
        lexicon.add_keys(KEYS.0, KEYS.1)?;
        lexicon.index_meanings()?;
        Ok(lexicon)
    }

    /// The property with an id.
    pub fn property(&self, id: &str) -> Option<&Quantity> {
        self.properties.iter().find(|q| q.id == id)
    }

    /// The quantity of the bed or its water with an id.
    pub fn field(&self, id: &str) -> Option<&Quantity> {
        self.fields.iter().find(|q| q.id == id)
    }

    /// All properties, in the order of the grammar.
    pub fn properties(&self) -> &[Quantity] {
        &self.properties
    }

    /// All quantities of the bed and its water.
    pub fn fields(&self) -> &[Quantity] {
        &self.fields
    }

    /// All facts about the sample.
    pub fn keys(&self) -> &[Key] {
        &self.keys
    }

    /// How far a fact about the sample reaches.
    pub fn key_level(&self, id: &str) -> Level {
        self.keys.iter().find(|k| k.id == id).map_or(Level::Report, |k| k.level)
    }

    /// All facets.
    pub fn facets(&self) -> &[Facet] {
        &self.facets
    }

    /// A facet by its position.
    pub fn facet(&self, id: FacetId) -> Option<&Facet> {
        self.facets.get(usize::from(id))
    }

    /// Position of a facet by its permanent id.
    pub fn facet_id(&self, id: &str) -> Option<FacetId> {
        self.facet_ids.get(id).copied()
    }

    fn add_words(&mut self, file: &str, text: &str, overlay: bool) -> Result<(), GrammarError> {
        let table = parse_toml(file, text)?;
        let lines = EntryLines::new(text);
        for (id, value) in table {
            let origin = Origin { file: file.to_owned(), line: lines.of(&id) };
            let known = self.facet_ids.get(&id).copied();
            let mut value = value;
            if overlay
                && let (Some(known), Some(entry)) = (known, value.as_table_mut())
                && let Some(facet) = self.facets.get(usize::from(known))
                && !entry.contains_key("kind")
            {
                entry.insert("kind".into(), toml::Value::String(kind_name(facet.kind).into()));
            }
            let entry: FacetEntry = value.try_into().map_err(|e| GrammarError {
                origin: origin.clone(),
                text: format!("entry [{id}] cannot be read: {e}"),
            })?;
            let mut spellings = Vec::new();
            let mut german = Vec::new();
            for (language, list) in &entry.languages {
                let Some(list) = list.as_str() else {
                    return Err(GrammarError {
                        origin,
                        text: format!("[{id}] {language} must be a text of spellings separated by |"),
                    });
                };
                let list: Vec<String> =
                    list.split('|').map(|s| s.trim().to_owned()).filter(|s| !s.is_empty()).collect();
                if language == "de" {
                    german.extend(list.iter().cloned());
                }
                spellings.extend(list);
            }
            match known {
                Some(known) if overlay => {
                    if let Some(facet) = self.facets.get_mut(usize::from(known)) {
                        facet.spellings.extend(spellings);
                        facet.german.extend(german);
                    }
                }
                Some(_) => {
                    return Err(GrammarError { origin, text: format!("entry [{id}] stands twice; join the two") });
                }
                None => {
                    let position = FacetId::try_from(self.facets.len())
                        .map_err(|_| GrammarError { origin: origin.clone(), text: "too many entries".into() })?;
                    self.facet_ids.insert(id.clone(), position);
                    self.facets.push(Facet {
                        id,
                        kind: entry.kind,
                        gives: entry.gives.filter(|g| !g.is_empty()),
                        soft: entry.soft,
                        spellings,
                        german,
                        origin,
                    });
                }
            }
        }
        Ok(())
    }

    fn index_words(&mut self) -> Result<(), GrammarError> {
        let mut seen: HashMap<(bool, String), FacetId> = HashMap::new();
        let facets = self.facets.clone();
        for (position, facet) in facets.iter().enumerate() {
            let id = FacetId::try_from(position).unwrap_or(FacetId::MAX);
            let is_role = facet.kind == FacetKind::Role;
            if !is_role {
                for spelling in &facet.german {
                    let folded = fold(spelling);
                    if !folded.contains(' ') && folded.chars().count() >= 4 {
                        self.compound_parts.insert(folded, id);
                    }
                }
            }
            for spelling in &facet.spellings {
                let folded: Vec<String> = words(spelling).into_iter().map(|w| w.folded).collect();
                if folded.is_empty() {
                    continue;
                }
                let key = (is_role, folded.join(" "));
                if let Some(&other) = seen.get(&key) {
                    // One spelling for two meanings is an error of the data, except that fillers give way.
                    let other_kind = self.facet(other).map(|f| f.kind);
                    if other == id || facet.kind == FacetKind::Filler {
                        continue;
                    }
                    if other_kind != Some(FacetKind::Filler) {
                        let other = self.facet(other).map_or(String::new(), |f| f.id.clone());
                        return Err(GrammarError {
                            origin: facet.origin.clone(),
                            text: format!("\"{spelling}\" stands for both [{other}] and [{}]; keep one", facet.id),
                        });
                    }
                }
                seen.insert(key, id);
                let phrases = if is_role { &mut self.role_phrases } else { &mut self.label_phrases };
                insert_phrase(phrases, &folded, vec![id]);
            }
        }
        Ok(())
    }

    fn add_abbreviations(&mut self, file: &str, text: &str) -> Result<(), GrammarError> {
        let lines = EntryLines::new(text);
        for (spelling, value) in parse_toml(file, text)? {
            let origin = Origin { file: file.to_owned(), line: lines.of(&spelling) };
            let facets = value.as_str().unwrap_or_default();
            let facets = self.facet_set(facets, &origin)?.into_iter().collect();
            let folded: Vec<String> = words(&spelling).into_iter().map(|w| w.folded).collect();
            insert_phrase(&mut self.label_phrases, &folded, facets);
        }
        Ok(())
    }

    /// A copy that knows more short names.
    pub fn with_names(&self, names: &[ShortName]) -> Self {
        let mut taught = self.clone();
        for ShortName { name, facets, unit, .. } in names {
            let folded: Vec<String> = words(name).into_iter().map(|w| w.folded).collect();
            if let Some(unit) = unit {
                taught.name_units.insert(folded.join(" "), unit.clone());
            }
            insert_phrase(&mut taught.label_phrases, &folded, facets.clone());
        }
        taught.sort_phrases();
        taught
    }

    fn sort_phrases(&mut self) {
        for phrases in self.label_phrases.values_mut().chain(self.role_phrases.values_mut()) {
            phrases.sort_by_key(|(rest, _)| std::cmp::Reverse(rest.len()));
        }
    }

    fn quantities(&self, file: &str, text: &str) -> Result<Vec<Quantity>, GrammarError> {
        let mut found = Vec::new();
        let lines = EntryLines::new(text);
        for (id, value) in parse_toml(file, text)? {
            let origin = Origin { file: file.to_owned(), line: lines.of(&id) };
            let entry: PropertyEntry = value.try_into().map_err(|e| GrammarError {
                origin: origin.clone(),
                text: format!("entry [{id}] cannot be read: {e}"),
            })?;
            let mut units = BTreeMap::new();
            for (basis, unit) in entry.units {
                units.insert(if basis == "none" { String::new() } else { basis }, unit);
            }
            if let Some(unit) = entry.unit {
                units.insert(String::new(), unit);
            }
            let mut plausible = BTreeMap::new();
            match entry.plausible {
                Some(toml::Value::Array(ends)) => {
                    plausible.insert(String::new(), bounds(&ends));
                }
                Some(toml::Value::Table(by_basis)) => {
                    for (basis, ends) in by_basis {
                        let ends = ends.as_array().cloned().unwrap_or_default();
                        plausible.insert(if basis == "none" { String::new() } else { basis }, bounds(&ends));
                    }
                }
                _ => {}
            }
            found.push(Quantity {
                id,
                name: entry.name,
                about: entry.about,
                units,
                plausible,
                substance: entry.element.or(entry.substance),
                cut: entry.cut,
                source: entry.source,
                means: entry.means,
                origin,
            });
        }
        found.sort_by_key(|q| q.origin.line);
        Ok(found)
    }

    fn add_keys(&mut self, file: &str, text: &str) -> Result<(), GrammarError> {
        let lines = EntryLines::new(text);
        for (id, value) in parse_toml(file, text)? {
            let origin = Origin { file: file.to_owned(), line: lines.of(&id) };
            let entry: KeyEntry = value.try_into().map_err(|e| GrammarError {
                origin: origin.clone(),
                text: format!("entry [{id}] cannot be read: {e}"),
            })?;
            self.keys.push(Key { id, level: entry.level, means: entry.means, origin });
        }
        self.keys.sort_by_key(|k| k.origin.line);
        Ok(())
    }

    fn facet_set(&self, names: &str, origin: &Origin) -> Result<BTreeSet<FacetId>, GrammarError> {
        names
            .split_whitespace()
            .map(|name| {
                self.facet_id(name).ok_or_else(|| GrammarError {
                    origin: origin.clone(),
                    text: format!("there is no facet [{name}] in grammar/words.toml"),
                })
            })
            .collect()
    }

    fn index_meanings(&mut self) -> Result<(), GrammarError> {
        let mut all: Vec<(Target, Vec<String>, Origin)> = Vec::new();
        for q in &self.properties {
            all.push((Target::Property(q.id.clone()), q.means.clone(), q.origin.clone()));
        }
        for q in &self.fields {
            all.push((Target::Field(q.id.clone()), q.means.clone(), q.origin.clone()));
        }
        for k in &self.keys {
            all.push((Target::Key(k.id.clone()), k.means.clone(), k.origin.clone()));
        }
        for (target, means, origin) in all {
            for names in means {
                let set = self.facet_set(&names, &origin)?;
                if let Some(other) = self.meanings.insert(set, target.clone())
                    && other != target
                {
                    return Err(GrammarError {
                        origin,
                        text: format!("the facets \"{names}\" stand for both {} and {}", other.id(), target.id()),
                    });
                }
            }
        }
        Ok(())
    }
}

fn bounds(ends: &[toml::Value]) -> [f64; 2] {
    let number = |v: Option<&toml::Value>| {
        v.and_then(|v| v.as_float().or_else(|| v.as_integer().map(|n| n as f64))).unwrap_or(f64::NAN)
    };
    [number(ends.first()), number(ends.get(1))]
}

fn insert_phrase(phrases: &mut Phrases, folded: &[String], facets: Vec<FacetId>) {
    let Some((first, rest)) = folded.split_first() else { return };
    let list = phrases.entry(first.clone()).or_default();
    match list.iter_mut().find(|(other, _)| other.as_slice() == rest) {
        Some(known) => known.1 = facets,
        None => list.push((rest.to_vec(), facets)),
    }
}

fn parse_toml(file: &str, text: &str) -> Result<toml::Table, GrammarError> {
    text.parse::<toml::Table>().map_err(|e| {
        let line =
            e.span().map_or(1, |span| text.get(..span.start).map_or(1, |before| before.matches('\n').count() + 1));
        GrammarError { origin: Origin { file: file.to_owned(), line }, text: e.message().to_owned() }
    })
}

/// Lines on which the entries of a file begin, all found in one pass.
struct EntryLines<'a>(HashMap<&'a str, usize>);

impl<'a> EntryLines<'a> {
    fn new(text: &'a str) -> Self {
        let mut lines = HashMap::new();
        for (line, written) in (1..).zip(text.lines()) {
            let head = written.trim_end().strip_prefix('[').and_then(|rest| rest.strip_suffix(']'));
            let pair = || written.strip_prefix('"').and_then(|rest| rest.split('"').next());
            if let Some(id) = head.or_else(pair) {
                lines.entry(id).or_insert(line);
            }
        }
        Self(lines)
    }

    /// The line of an entry; the first where it is not found.
    fn of(&self, id: &str) -> usize {
        self.0.get(id).copied().unwrap_or(1)
    }
}

fn kind_name(kind: FacetKind) -> &'static str {
    match kind {
        FacetKind::Head => "head",
        FacetKind::Modifier => "modifier",
        FacetKind::Basis => "basis",
        FacetKind::Form => "form",
        FacetKind::As => "as",
        FacetKind::Context => "context",
        FacetKind::Filler => "filler",
        FacetKind::Key => "key",
        FacetKind::Role => "role",
        FacetKind::State => "state",
        FacetKind::Position => "position",
    }
}

#[cfg(test)]
#[allow(clippy::panic)]
mod tests {
    use super::*;

    #[test]
    fn built_in_grammar_is_sound() {
        if let Err(error) = Lexicon::with_overlays(&[]) {
            panic!("{error}");
        }
    }

    #[test]
    fn overlays_add_spellings_and_name_their_line() {
        let overlay = ("mine.toml".to_owned(), "\n[moisture]\nen = \"swamp factor\"\n".to_owned());
        let lexicon = Lexicon::with_overlays(&[overlay]).unwrap_or_default();
        assert_eq!(lexicon.understand("Swamp factor", &[]).target, Some(Target::Property("moisture_retention".into())));
        let broken = ("mine.toml".to_owned(), "\n\n[wetness]\nen = \"wetness\"\n".to_owned());
        let error = Lexicon::with_overlays(&[broken]).err().map(|e| e.to_string()).unwrap_or_default();
        assert!(error.starts_with("mine.toml:3:"), "{error}");
    }
}
