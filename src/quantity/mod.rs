//! Quantities: what a printed unit means, and how one unit goes over into another.
//!
//! Takes the text of a unit as a laboratory writes it, gives a [`Unit`]: dimension, exact factor, the substance that
//! it counts ("as CaCO3") and the matter that it is counted on ("dry", "as received"). The words stand in
//! `grammar/units.toml`. Knows nothing of properties, bases of a record, or numbers beside the unit.

mod element;
pub(crate) mod memo;
mod parse;
mod table;
#[cfg(test)]
mod tests;

use std::cell::RefCell;

pub use element::as_element;
pub(crate) use parse::{Setting, longest_unit};

/// Grams of calcium carbonate to the equivalent, as the trade reckons it: every figure "as CaCO3", and every salt and
/// hardness sum, uses it. Source: F. de Dardel, "Concentration and capacity units", 2010, whose tables use 50.
/// Exact chemistry gives 50.043.
pub const CACO3_GRAMS_PER_EQUIVALENT: f64 = 50.0;

/// Grams of calcium oxide to the equivalent. Source: F. de Dardel, as above. Exact chemistry gives 28.0385.
pub const CAO_GRAMS_PER_EQUIVALENT: f64 = 28.0;

/// Exponents of the base dimensions.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
pub struct Dimension {
    /// Mass, in kilograms.
    pub mass: i8,
    /// Length, in metres.
    pub length: i8,
    /// Amount of charge, in equivalents; a mole of exchange sites is one.
    pub amount: i8,
    /// Time, in seconds.
    pub time: i8,
    /// Temperature, in kelvins.
    pub temperature: i8,
    /// Beads counted.
    pub bead: i8,
}

/// The volume of backwashed and settled resin.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
pub struct Volume;

/// What the substance is counted on.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Matter {
    /// Dry resin: "mg/kg dry", "mg/kg TS".
    Dry,
    /// Drained wet resin, as received: "eq/kg wet".
    Wet,
    /// Settled resin by volume: "g/L resin".
    Resin(Volume),
}

/// Families of units that need their own treatment.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
pub enum UnitKind {
    /// Nothing special.
    #[default]
    Ordinary,
    /// Per cent.
    Percent,
    /// Per mille.
    Permille,
    /// Parts per million.
    PartsPerMillion,
    /// Parts per billion (10⁹).
    PartsPerBillion,
    /// US mesh: a number of a sieve, not a length.
    Mesh,
    /// Built on grains, as kgr/ft³ and gr/gal: the trade means them as CaCO3.
    Grains,
    /// Hardness of water: mg/L as CaCO3 by definition.
    Hardness,
    /// No dimension, as a bead count.
    Dimensionless,
}

/// What a fraction is a share of.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Share {
    /// "% w/w", "Gew.-%", mg/kg.
    Mass,
    /// "% v/v".
    Volume,
    /// "% by count".
    Count,
}

/// A unit as printed.
#[derive(Clone, Debug, PartialEq)]
pub struct Unit {
    /// As written, trimmed.
    pub text: String,
    /// Exponents of the base dimensions.
    pub dimension: Dimension,
    /// To kg, m, equivalents, s, K, beads: value in base units = value × factor + offset.
    pub factor: f64,
    /// Zero but for degrees Celsius and Fahrenheit.
    pub offset: f64,
    /// Substance that is counted, normalised: `CaCO3`, `Fe`, `NO3-N`.
    pub substance: Option<String>,
    /// What it is counted on.
    pub matter: Option<Matter>,
    /// Family.
    pub kind: UnitKind,
    /// What a fraction is a share of, where that is said.
    pub share: Option<Share>,
}

impl Unit {
    /// Reads a unit; the whole text must be one. Brackets around it are allowed.
    ///
    /// ```
    /// use beadwise::quantity::{Matter, Unit};
    /// let printed = Unit::parse("mg Fe/kg dry").unwrap();
    /// assert_eq!(printed.substance.as_deref(), Some("Fe"));
    /// assert_eq!(printed.matter, Some(Matter::Dry));
    /// assert_eq!(Unit::parse("beads of resin"), None);
    /// ```
    pub fn parse(text: &str) -> Option<Unit> {
        thread_local! {
            static READ: memo::Answers<Option<Unit>> = RefCell::default();
        }
        memo::remembered(&READ, text, parse::parse_whole)
    }

    /// Converts a value into another unit of the same dimension; none where they differ.
    ///
    /// Fractions (%, ‰, ppm, mg/kg) go over into each other unless they are said to be shares of different things.
    /// Substance and matter are not looked at: [`as_element`] and the density of the resin are other steps.
    ///
    /// ```
    /// use beadwise::quantity::Unit;
    /// let inch = Unit::parse("in").unwrap();
    /// let metre = Unit::parse("m").unwrap();
    /// assert!((inch.convert(26.0, &metre).unwrap() - 0.6604).abs() < 1e-12);
    /// ```
    pub fn convert(&self, value: f64, target: &Unit) -> Option<f64> {
        let apart = |kind: UnitKind| matches!(kind, UnitKind::Mesh | UnitKind::Dimensionless);
        let kinds_fit = self.kind == target.kind || !(apart(self.kind) || apart(target.kind));
        let shares_fit = self.share.is_none() || target.share.is_none() || self.share == target.share;
        if self.dimension != target.dimension || !kinds_fit || !shares_fit {
            return None;
        }
        let ratio = to_fourteen_digits(self.factor / target.factor);
        let shift = (self.offset - target.offset) / target.factor;
        Some(to_fourteen_digits(value * ratio + shift)).filter(|v| v.is_finite())
    }

    /// The same unit counted in equivalents, where it counts calcium carbonate (or oxide) by mass: kgr/ft³, g CaCO3/L,
    /// degrees of hardness. Grains without a substance are meant as CaCO3 (common practice, no source).
    ///
    /// Uses [`CACO3_GRAMS_PER_EQUIVALENT`], and 28 g of CaO to the equivalent (F. de Dardel, 2010).
    ///
    /// ```
    /// use beadwise::quantity::Unit;
    /// let printed = Unit::parse("kgr/ft3").unwrap().as_equivalents().unwrap();
    /// let canonical = Unit::parse("eq/L").unwrap();
    /// assert!((printed.convert(43.7, &canonical).unwrap() - 2.0).abs() < 0.001);
    /// ```
    pub fn as_equivalents(&self) -> Option<Unit> {
        let grams = match (self.substance.as_deref(), self.kind) {
            (Some("CaCO3"), _) | (None, UnitKind::Grains) => CACO3_GRAMS_PER_EQUIVALENT,
            (Some("CaO"), _) => CAO_GRAMS_PER_EQUIVALENT,
            _ => return None,
        };
        if self.dimension.mass != 1 || self.dimension.amount != 0 {
            return None;
        }
        Some(Unit {
            dimension: Dimension { mass: 0, amount: 1, ..self.dimension },
            factor: self.factor * 1000.0 / grams,
            kind: UnitKind::Ordinary,
            substance: None,
            ..self.clone()
        })
    }

    /// Whether the spelling is a word or letter that stands for much else: a unit only after a number, in brackets, or
    /// in a column of units.
    ///
    /// ```
    /// use beadwise::quantity::Unit;
    /// assert!(Unit::parse("in").unwrap().is_risky_alone());
    /// assert!(!Unit::parse("mg/kg").unwrap().is_risky_alone());
    /// ```
    pub fn is_risky_alone(&self) -> bool {
        parse::lone_atom(&self.text).is_some_and(|atom| atom.risky)
    }

    /// Whether the spelling needs a blank between itself and a number: "100C" is a name.
    pub(crate) fn needs_blank(&self) -> bool {
        parse::lone_atom(&self.text).is_some_and(|atom| atom.spaced)
    }
}

/// Takes away the last bits, which are rounding: 1.72 meq/mL is 1.72 eq/L and not 1.7200000000000002.
fn to_fourteen_digits(value: f64) -> f64 {
    format!("{value:.13e}").parse().unwrap_or(value)
}
