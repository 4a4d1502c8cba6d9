//! Quantities as a person types them: "26 in", "10 ft3", "15 gpg".
//!
//! Takes text, gives the value in the unit that the store keeps, with the words beside it.

use crate::lexicon::Lexicon;
use crate::quantity::{CACO3_GRAMS_PER_EQUIVALENT, Dimension, Unit};
use crate::value::{Decimal, parse};
use serde::{Deserialize, Serialize};

/// A quantity that somebody typed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Amount {
    /// In `unit`.
    pub value: f64,
    /// Canonical unit.
    pub unit: String,
    /// As it was typed.
    pub as_written: String,
}

/// What the store keeps of a bed that no report prints, with its unit.
const OWN: [(&str, &str); 3] = [("tank_height", "m"), ("top_off_volume", "L"), ("chlorine_out", "mg/L")];

/// Reads a quantity by its id, as `freeboard` or `volume_between_regenerations`.
///
/// # Errors
/// What is wrong with the text, and what would be right.
///
/// ```
/// use beadwise::beds::amount;
/// // 26 in x 0.0254 m = 0.6604 m; 10 ft³ x 28.316846592 L; 15 gr/gal x 17.118 mg/L.
/// assert!((amount("freeboard", "26 in")?.value - 0.6604).abs() < 1e-9);
/// assert!((amount("bed_volume", "10 ft3")?.value - 283.16846592).abs() < 1e-6);
/// assert!((amount("feed_hardness", "15 gpg")?.value - 256.77).abs() < 0.01);
/// assert!(amount("freeboard", "26").unwrap_err().contains("unit"));
/// # Ok::<(), String>(())
/// ```
pub fn amount(quantity: &str, text: &str) -> Result<Amount, String> {
    let lexicon = Lexicon::builtin();
    let own = OWN.iter().find(|(id, _)| *id == quantity).map(|(_, unit)| (*unit).to_owned());
    let known = lexicon.field(quantity);
    let canonical = own.or_else(|| known.and_then(|known| known.units.get("").cloned())).ok_or_else(|| {
        let known = known_names();
        let known: Vec<&str> = known.split(", ").collect();
        let near = crate::specs::near_or_all(quantity, &known);
        format!("{quantity}: no quantity of a bed has this name; did you mean {near}?")
    })?;
    let read = || -> Option<crate::value::Value> { parse(text, Decimal::Point) };
    let value = read().ok_or_else(|| format!("{quantity} \"{text}\": write a number and its unit, as \"26 in\""))?;
    let number = value.value.ok_or_else(|| format!("{quantity} \"{text}\": there is no number in it"))?;
    if value.high.is_some() {
        return Err(format!("{quantity} \"{text}\": give one number; several points are given one by one"));
    }
    let unit = value
        .unit
        .ok_or_else(|| format!("{quantity} \"{text}\": its unit is missing, as in \"{number} {canonical}\""))?;
    let converted = convert(&unit, number, &canonical, quantity)
        .ok_or_else(|| format!("{quantity} \"{text}\": {} is no unit of it; one is {canonical}", unit.text))?;
    if let Some([low, high]) = known.and_then(|known| known.plausible.get("").copied())
        && !(low..=high).contains(&converted)
    {
        return Err(format!(
            "{quantity} \"{text}\": that is {converted:.4} {canonical}, which no bed has; check the unit"
        ));
    }
    if converted < 0.0 {
        return Err(format!("{quantity} \"{text}\": it cannot be below zero"));
    }
    Ok(Amount { value: converted, unit: canonical, as_written: text.trim().to_owned() })
}

/// Names of all quantities that can be given.
pub fn known_names() -> String {
    let mut names: Vec<&str> = Lexicon::builtin().fields().iter().map(|field| field.id.as_str()).collect();
    names.extend(OWN.iter().map(|(id, _)| *id));
    names.join(", ")
}

/// As `reconcile` does it for reports: hardness counts as calcium carbonate, whatever its unit says.
fn convert(unit: &Unit, number: f64, canonical: &str, quantity: &str) -> Option<f64> {
    let target = Unit::parse(canonical)?;
    let counted_as_carbonate = quantity.contains("hardness") || quantity.contains("alkalinity");
    if counted_as_carbonate {
        if unit.dimension == (Dimension { amount: 1, length: -3, ..Dimension::default() }) {
            let equivalents = unit.convert(number, &Unit::parse("eq/L")?)?;
            return Some(equivalents * CACO3_GRAMS_PER_EQUIVALENT * 1000.0);
        }
        if unit.dimension == (Dimension { mass: 1, ..Dimension::default() }) {
            // "15 grains" of hardness are grains to the US gallon (common practice, no source).
            return Unit::parse("gr/gal")?.convert(number * unit.factor / Unit::parse("gr")?.factor, &target);
        }
    }
    if canonical == "mg/L" && unit.dimension == Dimension::default() {
        // A part per million of a water is a milligram in a litre.
        return Some(number * unit.factor * 1e6);
    }
    unit.convert(number, &target)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn units_of_the_trade_are_read() {
        for (quantity, text, value) in [
            ("tank_bore", "24 in", 0.6096),
            ("volume_between_regenerations", "1200 gal", 1200.0 * 3.785_411_784),
            ("pressure_drop", "10 psi", 68.947_57),
            ("flow", "10 gpm", 10.0 * 3.785_411_784 * 60.0),
            ("feed_chlorine", "0.8 ppm", 0.8),
            ("feed_hardness", "3 meq/L", 150.0),
            ("salt_per_regeneration", "60 lb", 60.0 * 0.453_592_37),
            ("tank_height", "72 in", 1.8288),
        ] {
            let found = amount(quantity, text).unwrap().value;
            assert!((found / value - 1.0).abs() < 1e-5, "{quantity} {text}: {found}");
        }
    }

    #[test]
    fn what_cannot_be_meant_is_refused_with_what_to_do() {
        for (quantity, text, says) in [
            ("freeboard", "26", "unit"),
            ("freeboard", "26 kg", "no unit of it"),
            ("freeboard", "26 ft", "check the unit"),
            ("freeboard", "deep", "write a number"),
            ("freeboard", "20-26 in", "one number"),
            ("colour", "3 in", "no quantity"),
        ] {
            let told = amount(quantity, text).unwrap_err();
            assert!(told.contains(says), "{told}");
        }
    }
}
