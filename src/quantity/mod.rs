//! Quantities: what a printed unit means, and how one unit goes over into another.
//!
//! Takes the text of a unit as a laboratory writes it, gives a [`Unit`]: dimension, exact factor, the substance that
//! it counts ("as CaCO3") and the matter that it is counted on ("dry", "as received"). The words stand in
//! `grammar/units.toml`. Knows nothing of properties, bases of a record, or numbers beside the unit.

/// Grams of calcium carbonate to the equivalent, as the trade reckons it: every figure "as CaCO3", and every salt and
/// hardness sum, uses it. Source: F. de Dardel, "Concentration and capacity units", 2010, whose tables use 50.
/// Exact chemistry gives 50.043.
pub const CACO3_GRAMS_PER_EQUIVALENT: f64 = 50.0;

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
}

impl Unit {
    /// Reads a unit; the whole text must be one.
    pub fn parse(text: &str) -> Option<Unit> {
        let text = text.trim();
        let (mass, length, amount, factor, kind) = match text {
            "%" => (0, 0, 0, 0.01, UnitKind::Percent),
            "ppm" => (0, 0, 0, 1e-6, UnitKind::PartsPerMillion),
            "mg/kg" => (0, 0, 0, 1e-6, UnitKind::Ordinary),
            "g/L" => (1, -3, 0, 1.0, UnitKind::Ordinary),
            "mg/L" => (1, -3, 0, 1e-3, UnitKind::Ordinary),
            "eq/L" | "meq/mL" => (0, -3, 1, 1e3, UnitKind::Ordinary),
            "eq/kg" | "meq/g" => (-1, 0, 1, 1.0, UnitKind::Ordinary),
            "kgr/ft3" | "kgr/ft³" => (1, -3, 0, 64.79891e-3 / 28.316846592e-3, UnitKind::Grains),
            "mm" => (0, 1, 0, 1e-3, UnitKind::Ordinary),
            "in" => (0, 1, 0, 25.4e-3, UnitKind::Ordinary),
            _ => return None,
        };
        Some(Unit {
            text: text.to_owned(),
            dimension: Dimension { mass, length, amount, ..Dimension::default() },
            factor,
            offset: 0.0,
            substance: None,
            matter: None,
            kind,
        })
    }

    /// Converts a value into another unit of the same dimension.
    pub fn convert(&self, value: f64, target: &Unit) -> Option<f64> {
        (self.dimension == target.dimension)
            .then(|| (value * self.factor + self.offset - target.offset) / target.factor)
            .filter(|v| v.is_finite())
    }

    /// Whether the spelling is a word or letter that stands for much else: a unit only after a number or in brackets.
    pub fn is_risky_alone(&self) -> bool {
        self.text.chars().count() <= 2
    }
}

/// Grams of an element in one gram of a substance; none where the pair is not known.
pub fn as_element(substance: &str, element: &str) -> Option<f64> {
    match (substance, element) {
        ("Fe2O3", "Fe") => Some(0.69943),
        (a, b) if a == b => Some(1.0),
        _ => None,
    }
}
