//! Limits, bands, doubts, causes, recipes, cautions and what waiting does: `grammar/policy.toml`, `cleaning.toml` and
//! `waiting.toml`.
//!
//! Takes those texts and the user's over them, gives [`Policy`]. No limit stands in the code of a rule.

use super::limits::{Limit, Limits};
use crate::specs::{Family, KnowledgeError, Origin, Text, near_or_all};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::OnceLock;
use toml::Spanned;

/// What a band's cuts are of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Measure {
    /// Per cent of new, the worse the lower.
    Percent,
    /// Points above new, the worse the higher.
    Rise,
    /// Points below new, the worse the higher.
    Fall,
    /// The figure itself, the worse the higher.
    Above,
    /// The figure itself, the worse the lower.
    Below,
}

impl Measure {
    /// Whether a higher number is the worse one.
    pub fn worse_upward(self) -> bool {
        matches!(self, Self::Rise | Self::Fall | Self::Above)
    }
}

/// Where each grade of a property begins.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// Permanent id.
    pub id: String,
    /// What the cuts are of.
    pub measure: Measure,
    /// Cuts of new, good, watch, poor, spent and zero.
    pub cuts: [f64; 6],
    /// Whether spent begins at its cut rather than past it.
    pub inclusive: bool,
    /// The source of each cut.
    pub sources: [String; 6],
    /// The file and line of the entry that won.
    pub origin: Origin,
    /// Whether a user's entry took the built-in one's place.
    pub overridden: bool,
    property: String,
    basis: Option<String>,
    families: Vec<Family>,
}

impl Band {
    /// Where the figure is no longer new, good, watch, poor: the cut of the grade that begins there.
    pub fn watch(&self) -> f64 {
        self.cuts[2]
    }
    /// The cut from which a property is poor.
    pub fn poor(&self) -> f64 {
        self.cuts[3]
    }
    /// The cut from which a property is spent.
    pub fn spent(&self) -> f64 {
        self.cuts[4]
    }

    /// One line of a list: id, cuts and source.
    pub fn in_words(&self) -> String {
        let of = match self.measure {
            Measure::Percent => "per cent of new",
            Measure::Rise => "points above new",
            Measure::Fall => "points below new",
            Measure::Above => "the figure, the higher the worse",
            Measure::Below => "the figure, the lower the worse",
        };
        let [_, good, watch, poor, spent, zero] = self.cuts;
        format!(
            "- band `{}` ({of}): good past {good}, watch past {watch}, poor past {poor}, spent past {spent}, score 0 at {zero}. Source: {}.",
            self.id,
            self.source_words()
        )
    }

    /// Where the cuts come from, in one line; a reader sees when a user moved them.
    pub fn source_words(&self) -> String {
        let mut sources: Vec<&str> = Vec::new();
        for source in &self.sources {
            if !sources.contains(&source.as_str()) {
                sources.push(source);
            }
        }
        let own = if self.overridden { format!("overridden by {}: ", self.origin) } else { String::new() };
        format!("{own}{}", sources.join("; "))
    }
}

/// How a doubted figure weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Weighs {
    /// By each reading that was possible.
    Alternatives,
    /// As it stands.
    Figure,
    /// By the mean of the figures that carry the doubt.
    Mean,
    /// On each basis that its unit allows.
    Basis,
    /// Not at all.
    Never,
}

/// What a doubt does to the figure that carries it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DoubtPolicy {
    /// How the figure weighs.
    pub weighs: Weighs,
    /// Trust that is left in the verdict, 0 to 1.
    pub trust: f64,
    /// In words.
    pub text: String,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// One cause: what to put right first, and which cleaning answers it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CauseEntry {
    /// In words.
    pub name: String,
    /// What must be put right upstream.
    pub fix: String,
    /// Recipes by id, the mildest first.
    #[serde(default)]
    pub recipes: Vec<String>,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// The strength at which a chemical is usually bought.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Supplied {
    /// In words, as `31 % acid`.
    pub name: String,
    /// Share of the pure chemical by mass.
    pub share: f64,
    /// kg/L.
    pub density: f64,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// A dose in grams for each litre of resin.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Dose {
    /// What, and on which basis.
    pub chemical: String,
    /// g/L of resin.
    pub value: f64,
    /// How it is put on.
    pub text: String,
    /// As it is bought, where that is not the pure chemical.
    pub supplied: Option<Supplied>,
    /// Whether this is the acid that a work order dilutes and neutralizes.
    #[serde(default)]
    pub is_acid: bool,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// A number with its source.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sourced {
    /// In the unit that its key implies.
    pub value: f64,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// One way of cleaning.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Recipe {
    /// In words.
    pub title: String,
    /// Families that it is for.
    pub families: Vec<Family>,
    /// Whether it may be offered for a bed that people drink from.
    pub drinking_water: bool,
    /// How much of each chemical; empty where the product's label says it.
    #[serde(default)]
    pub dose: Vec<Dose>,
    /// Cel, beside the resin's own limit.
    pub temperature_max: Option<Sourced>,
    /// What to do.
    pub steps: String,
    /// How to know that it is done.
    pub end_check: String,
    /// Cautions by id.
    pub cautions: Vec<String>,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// One caution.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Caution {
    /// In words.
    pub text: String,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// Tests that a report on a family should carry.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wanted {
    /// Properties, the most telling first; `organics` stands for any test of organic matter.
    pub tests: Vec<String>,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// What comes of a bed where nothing is done, for one verdict or cause.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Waiting {
    /// In words.
    pub text: String,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// All policy: the built-in entries, with the user's over them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Policy {
    /// Every limit's number.
    pub limits: Limits,
    entries: BTreeMap<String, Limit>,
    bands: BTreeMap<String, Band>,
    doubts: BTreeMap<String, DoubtPolicy>,
    causes: BTreeMap<String, CauseEntry>,
    recipes: BTreeMap<String, Recipe>,
    cautions: BTreeMap<String, Caution>,
    wanted: BTreeMap<String, Wanted>,
    waiting: BTreeMap<String, Waiting>,
}

const BUILTIN: &[Text<'static>] = &[
    Text { name: "grammar/policy.toml", text: include_str!("../../grammar/policy.toml") },
    Text { name: "grammar/cleaning.toml", text: include_str!("../../grammar/cleaning.toml") },
    Text { name: "grammar/waiting.toml", text: include_str!("../../grammar/waiting.toml") },
];

#[derive(Deserialize)]
struct File {
    #[serde(default)]
    limit: BTreeMap<String, Spanned<LimitEntry>>,
    #[serde(default)]
    band: BTreeMap<String, Spanned<BandEntry>>,
    #[serde(default)]
    doubt: BTreeMap<String, DoubtPolicy>,
    #[serde(default)]
    cause: BTreeMap<String, CauseEntry>,
    #[serde(default)]
    recipe: BTreeMap<String, Recipe>,
    #[serde(default)]
    caution: BTreeMap<String, Caution>,
    #[serde(default)]
    wanted: BTreeMap<String, Wanted>,
    #[serde(default)]
    waiting: BTreeMap<String, Waiting>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LimitEntry {
    value: f64,
    unit: Option<String>,
    text: Option<String>,
    source: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BandEntry {
    property: String,
    basis: Option<String>,
    r#for: Vec<Family>,
    measure: Measure,
    #[serde(default)]
    inclusive: bool,
    new: Cut,
    good: Cut,
    watch: Cut,
    poor: Cut,
    spent: Cut,
    zero: Cut,
    source: String,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum Cut {
    Bare(f64),
    Sourced(Sourced),
}

impl Policy {
    /// The built-in policy.
    ///
    /// # Errors
    /// An entry of the built-in data that cannot be read, with its file and line.
    pub fn builtin() -> Result<&'static Self, KnowledgeError> {
        static CELL: OnceLock<Result<Policy, KnowledgeError>> = OnceLock::new();
        CELL.get_or_init(|| Self::default().with_texts(BUILTIN, false)).as_ref().map_err(Clone::clone)
    }

    /// The built-in policy with the user's texts over it, later ones over earlier ones.
    ///
    /// # Errors
    /// An entry that cannot be read or names a limit that is not there, with its file and line.
    ///
    /// ```
    /// use beadwise::{judge::Policy, specs::Text};
    /// let own = "[limit.capacity_loss_replace]\nvalue = 0.30\nsource = \"our own practice\"\n";
    /// let policy = Policy::with_overlay(&[Text { name: "own.toml", text: own }])?;
    /// assert_eq!(policy.limits.capacity_loss_replace, 0.30);
    /// assert_eq!(policy.limit("capacity_loss_replace").and_then(|limit| limit.instead_of), Some(0.25));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn with_overlay(texts: &[Text<'_>]) -> Result<Self, KnowledgeError> {
        Self::builtin()?.clone().over(texts)
    }

    /// This policy with the user's texts over it, later ones over earlier ones.
    ///
    /// # Errors
    /// As [`Policy::with_overlay`].
    pub fn over(self, texts: &[Text<'_>]) -> Result<Self, KnowledgeError> {
        texts.iter().try_for_each(Text::tables_known)?;
        self.with_texts(texts, true)
    }

    /// This policy with one limit of the user's own.
    ///
    /// # Errors
    /// A name that is no limit, a value that can be none, or an empty source.
    pub fn with_limit(mut self, name: &str, value: f64, source: &str, origin: Origin) -> Result<Self, KnowledgeError> {
        let entry = LimitEntry { value, unit: None, text: None, source: Some(source.to_owned()) };
        self.lay_limit(name.to_owned(), entry, origin, true)?;
        self.with_texts(&[], true)
    }

    fn with_texts(mut self, texts: &[Text<'_>], user: bool) -> Result<Self, KnowledgeError> {
        for text in texts {
            self.lay_over(text, user)?;
        }
        self.limits = Limits::from_entries(&self.entries).map_err(|key| KnowledgeError::Missing {
            origin: Origin { file: "grammar/policy.toml".into(), line: 1 },
            entry: "the policy".to_owned(),
            key,
        })?;
        Ok(self)
    }

    fn lay_over(&mut self, text: &Text<'_>, user: bool) -> Result<(), KnowledgeError> {
        let file: File = toml::from_str(text.text).map_err(|error| text.malformed(&error))?;
        for (name, entry) in file.limit {
            let origin = text.origin(entry.span().start);
            self.lay_limit(name, entry.into_inner(), origin, user)?;
        }
        for (id, entry) in file.band {
            let origin = text.origin(entry.span().start);
            let band = band(&id, entry.into_inner(), origin, user)?;
            self.bands.insert(id, band);
        }
        self.doubts.extend(file.doubt);
        self.causes.extend(file.cause);
        self.recipes.extend(file.recipe);
        self.cautions.extend(file.caution);
        self.wanted.extend(file.wanted);
        self.waiting.extend(file.waiting);
        Ok(())
    }

    fn lay_limit(&mut self, name: String, entry: LimitEntry, origin: Origin, user: bool) -> Result<(), KnowledgeError> {
        if !Limits::NAMES.contains(&name.as_str()) {
            let known = near_or_all(&name, Limits::NAMES);
            return Err(KnowledgeError::Unknown { origin, kind: "limit", name, known });
        }
        if !entry.value.is_finite() || entry.value < 0.0 {
            let message = format!("{} is no limit", entry.value);
            return Err(KnowledgeError::OutOfRange { origin, entry: name, message });
        }
        let source = entry.source.filter(|source| !source.trim().is_empty()).ok_or(KnowledgeError::Missing {
            origin: origin.clone(),
            entry: format!("the limit `{name}`"),
            key: "source",
        })?;
        let before = self.entries.remove(&name);
        let instead_of = user.then(|| before.as_ref().map(|limit| limit.instead_of.unwrap_or(limit.value))).flatten();
        let (unit, text) = match before {
            Some(before) => (entry.unit.unwrap_or(before.unit), entry.text.unwrap_or(before.text)),
            None => (entry.unit.unwrap_or_default(), entry.text.unwrap_or_default()),
        };
        self.entries.insert(name, Limit { value: entry.value, unit, text, source, origin, instead_of });
        Ok(())
    }

    /// A limit with its source.
    pub fn limit(&self, name: &str) -> Option<&Limit> {
        self.entries.get(name)
    }

    /// All limits by name.
    pub fn limit_list(&self) -> impl Iterator<Item = (&str, &Limit)> {
        self.entries.iter().map(|(name, limit)| (name.as_str(), limit))
    }

    /// What the user's own entries have moved, in words.
    pub fn overridden(&self) -> Vec<String> {
        let limits = self.entries.iter().filter_map(|(name, limit)| {
            let before = limit.instead_of?;
            Some(format!(
                "{} ({name}): {} instead of {before}. Source: {}, {}.",
                limit.text, limit.value, limit.source, limit.origin
            ))
        });
        let bands = self.bands.values().filter(|band| band.overridden);
        limits.chain(bands.map(|band| band.in_words().trim_start_matches("- ").to_owned())).collect()
    }

    /// The band of a property on a basis, for a family of resins.
    pub fn band(&self, property: &str, basis: Option<&str>, family: Family) -> Option<&Band> {
        self.bands
            .values()
            .find(|band| band.property == property && band.basis.as_deref() == basis && band.families.contains(&family))
    }

    /// A band by its id.
    pub fn band_by_id(&self, id: &str) -> Option<&Band> {
        self.bands.get(id)
    }

    /// What a doubt does to its figure; none for the ordinary rule.
    pub fn doubt(&self, code: &str) -> Option<&DoubtPolicy> {
        self.doubts.get(code)
    }

    /// A cause by its id.
    pub fn cause(&self, id: &str) -> Option<&CauseEntry> {
        self.causes.get(id)
    }

    /// All causes by id.
    pub fn cause_list(&self) -> impl Iterator<Item = (&str, &CauseEntry)> {
        self.causes.iter().map(|(id, cause)| (id.as_str(), cause))
    }

    /// A recipe by its id.
    pub fn recipe(&self, id: &str) -> Option<&Recipe> {
        self.recipes.get(id)
    }

    /// Tests that a report on a family should carry, the most telling first.
    pub fn wanted(&self, family: Family) -> &[String] {
        let key = match family {
            Family::Sac => "sac",
            Family::Wac => "wac",
            Family::Sba => "sba",
            Family::Wba => "wba",
        };
        self.wanted.get(key).map_or(&[], |wanted| wanted.tests.as_slice())
    }

    /// What comes of a bed where nothing is done, by a verdict's word or a cause's id.
    pub fn waiting(&self, id: &str) -> Option<&Waiting> {
        self.waiting.get(id)
    }

    /// A caution by its id.
    pub fn caution(&self, id: &str) -> Option<&Caution> {
        self.cautions.get(id)
    }
}

fn band(id: &str, entry: BandEntry, origin: Origin, overridden: bool) -> Result<Band, KnowledgeError> {
    let parted = [entry.new, entry.good, entry.watch, entry.poor, entry.spent, entry.zero].map(|cut| match cut {
        Cut::Bare(value) => (value, entry.source.clone()),
        Cut::Sourced(sourced) => (sourced.value, sourced.source),
    });
    let cuts = [parted[0].0, parted[1].0, parted[2].0, parted[3].0, parted[4].0, parted[5].0];
    let upward = entry.measure.worse_upward();
    let ordered = cuts.windows(2).all(|pair| match pair {
        [a, b] => a.is_finite() && b.is_finite() && if upward { a < b } else { a > b },
        _ => true,
    });
    if !ordered {
        let message = "its cuts do not run from new to zero".to_owned();
        return Err(KnowledgeError::OutOfRange { origin, entry: format!("the band `{id}`"), message });
    }
    Ok(Band {
        id: id.to_owned(),
        measure: entry.measure,
        cuts,
        inclusive: entry.inclusive,
        sources: parted.map(|(_, source)| source),
        origin,
        overridden,
        property: entry.property,
        basis: entry.basis,
        families: entry.r#for,
    })
}
