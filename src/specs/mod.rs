//! New-resin figures of each resin class, each with the document it was read in.
//!
//! Takes `grammar/specs/*.toml` and the user's overlay texts, gives [`Specs`].
//! Holds no limit on used resin: those are policy, and belong to `judge`.

mod load;
mod nearest;
mod text;

pub use nearest::{distance, near_or_all, nearest};
pub use text::{KnowledgeError, Origin, Text, line_at};

use std::collections::BTreeMap;
use std::sync::OnceLock;

/// Properties of the contract.
pub const PROPERTIES: [&str; 30] = [
    "total_capacity",
    "salt_splitting_capacity",
    "weak_capacity",
    "operating_capacity",
    "moisture_retention",
    "whole_beads",
    "cracked_beads",
    "broken_beads",
    "iron",
    "manganese",
    "copper",
    "aluminium",
    "barium",
    "calcium",
    "magnesium",
    "sodium",
    "silica",
    "organics_toc",
    "organics_cod",
    "organics_permanganate",
    "mean_size",
    "harmonic_mean_size",
    "effective_size",
    "uniformity_coefficient",
    "fines",
    "bulk_density",
    "true_density",
    "crush_strength",
    "crush_above_200g",
    "regenerated_sites",
];

/// Bases of the contract.
pub const BASES: [&str; 3] = ["volume", "dry_mass", "wet_mass"];

/// Ionic forms of the contract.
pub const FORMS: [&str; 10] = ["Na", "H", "Ca", "Cl", "OH", "NO3", "SO4", "HCO3", "FB", "mixed"];

/// Units of mass that a dry capacity carries with its ion: kilograms per equivalent lost from Na to H.
///
/// 22.990 g/mol of sodium less 1.008 g/mol of hydrogen.
const NA_LESS_H_KG_PER_EQ: f64 = 0.021982;

/// One number of a specification.
#[derive(Clone, Debug, PartialEq)]
pub struct Bound {
    /// In the property's canonical unit.
    pub value: f64,
    /// The document that it was read in, or the words that say there is none.
    pub source: String,
    /// The file and line of the entry that won.
    pub origin: Origin,
}

/// What new resin of a class shows for one property, basis and form.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct NewFigure {
    /// Property of the contract.
    pub property: String,
    /// Basis of the contract; none where the property has none.
    pub basis: Option<String>,
    /// Ionic form that the figure holds for; none where form does not matter.
    pub form: Option<String>,
    /// What new resin has at least.
    pub low: Option<Bound>,
    /// What new resin has at most.
    pub high: Option<Bound>,
    /// What a used figure is compared with.
    pub typical: Option<Bound>,
}

/// A fact of a class that is no measured property, as the chlorine that it bears.
#[derive(Clone, Debug, PartialEq)]
pub struct Fact {
    /// Permanent id, as `chlorine_max`.
    pub name: String,
    /// In `unit`.
    pub value: f64,
    /// Unit of the value.
    pub unit: String,
    /// The document that it was read in, or the words that say there is none.
    pub source: String,
    /// The file and line of the entry that won.
    pub origin: Origin,
}

/// The kind of resin, which decides what the figures mean.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Family {
    /// Strong-acid cation.
    Sac,
    /// Weak-acid cation.
    Wac,
    /// Strong-base anion.
    Sba,
    /// Weak-base anion.
    Wba,
}

impl Family {
    /// Whether it exchanges cations.
    pub fn is_cation(self) -> bool {
        matches!(self, Self::Sac | Self::Wac)
    }
}

/// How the bead is built.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Structure {
    /// Clear, without lasting pores.
    Gel,
    /// With lasting pores.
    Macro,
}

/// One resin class.
#[derive(Clone, Debug, PartialEq)]
pub struct Class {
    /// Permanent id, as `sac-gel-8`.
    pub id: String,
    /// In words.
    pub name: String,
    /// What it exchanges.
    pub family: Family,
    /// How its beads are built.
    pub structure: Structure,
    /// The form that laboratories convert it to before they test it.
    pub standard_form: String,
    /// What a reader should know of it.
    pub about: String,
    /// New-resin figures, in the order of the file.
    pub figures: Vec<NewFigure>,
    /// Facts by name.
    pub facts: BTreeMap<String, Fact>,
    /// The file and line of the entry that won.
    pub origin: Origin,
}

impl Class {
    /// The figure for a property on a basis in exactly this form, or one that no form changes.
    ///
    /// ```
    /// let specs = beadwise::specs::Specs::builtin()?;
    /// let class = specs.class("sac-gel-8").ok_or("no such class")?;
    /// let figure = class.figure("total_capacity", Some("volume"), Some("Na")).ok_or("no such figure")?;
    /// assert_eq!(figure.typical.as_ref().map(|bound| bound.value), Some(2.0));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn figure(&self, property: &str, basis: Option<&str>, form: Option<&str>) -> Option<&NewFigure> {
        self.figures.iter().find(|f| {
            f.property == property && f.basis.as_deref() == basis && (f.form.is_none() || f.form.as_deref() == form)
        })
    }

    /// Value of a fact, in the unit its entry states.
    pub fn fact(&self, name: &str) -> Option<f64> {
        self.facts.get(name).map(|fact| fact.value)
    }
}

/// All classes: the built-in ones, with the user's entries over them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Specs {
    classes: BTreeMap<String, Class>,
}

impl Specs {
    /// The built-in classes.
    ///
    /// # Errors
    /// An entry of the built-in data that cannot be read, with its file and line.
    pub fn builtin() -> Result<&'static Self, KnowledgeError> {
        static BUILTIN: OnceLock<Result<Specs, KnowledgeError>> = OnceLock::new();
        BUILTIN.get_or_init(|| Self::default().with_texts(load::BUILTIN)).as_ref().map_err(Clone::clone)
    }

    /// The built-in classes with the user's texts over them, later ones over earlier ones.
    ///
    /// A text may hold policy entries beside classes; those are left to the policy.
    ///
    /// # Errors
    /// An entry that cannot be read, with its file and line.
    ///
    /// ```
    /// use beadwise::specs::{Specs, Text};
    /// let own = r#"
    /// [[class.sac-gel-8.figure]]
    /// property = "total_capacity"
    /// basis = "volume"
    /// form = "Na"
    /// typical = { value = 1.95, source = "our own purchase specification" }
    /// "#;
    /// let specs = Specs::with_overlay(&[Text { name: "own.toml", text: own }])?;
    /// let class = specs.class("sac-gel-8").ok_or("no such class")?;
    /// let figure = class.figure("total_capacity", Some("volume"), Some("Na")).ok_or("no such figure")?;
    /// assert_eq!(figure.typical.as_ref().map(|bound| bound.value), Some(1.95));
    /// assert_eq!(figure.typical.as_ref().map(|bound| bound.origin.to_string()), Some("own.toml:2".to_owned()));
    /// assert_eq!(figure.low.as_ref().map(|bound| bound.value), Some(1.9));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn with_overlay(texts: &[Text<'_>]) -> Result<Self, KnowledgeError> {
        texts.iter().try_for_each(Text::tables_known)?;
        Self::builtin()?.clone().with_texts(texts)
    }

    fn with_texts(mut self, texts: &[Text<'_>]) -> Result<Self, KnowledgeError> {
        for text in texts {
            load::merge(&mut self.classes, text)?;
        }
        Ok(self)
    }

    /// A class by its id.
    pub fn class(&self, id: &str) -> Option<&Class> {
        self.classes.get(id)
    }

    /// All classes in the order of their ids.
    pub fn spec_list(&self) -> impl Iterator<Item = &Class> {
        self.classes.values()
    }
}

/// Dry capacity of the same sites with the other ion on them: eq/kg dry, from the Na form to the H form.
///
/// 1/q_H = 1/q_Na − 0.0220, from the masses of the ions. None where the figure cannot be that of a resin.
///
/// ```
/// use beadwise::specs::{dry_capacity_h, dry_capacity_na};
/// // 4.505, 4.586, 4.667 eq/kg of sodium form stand against 5.0, 5.1, 5.2 of hydrogen form.
/// for (na, h) in [(4.505, 5.0), (4.586, 5.1), (4.667, 5.2)] {
///     assert!((dry_capacity_h(na).unwrap_or(0.0) - h).abs() < 0.001);
///     assert!((dry_capacity_na(h).unwrap_or(0.0) - na).abs() < 0.001);
/// }
/// ```
pub fn dry_capacity_h(na: f64) -> Option<f64> {
    (na > 0.0 && na * NA_LESS_H_KG_PER_EQ < 1.0).then(|| na / (1.0 - na * NA_LESS_H_KG_PER_EQ))
}

/// Dry capacity of the same sites with the other ion on them: eq/kg dry, from the H form to the Na form.
pub fn dry_capacity_na(h: f64) -> Option<f64> {
    (h > 0.0).then(|| h / (1.0 + h * NA_LESS_H_KG_PER_EQ))
}
