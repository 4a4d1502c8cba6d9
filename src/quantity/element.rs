//! Restating a mass of one substance as another: Fe2O3 as Fe, N as NO3.

use super::table::{Table, table};

/// Grams of `element` in, or made of, one gram of `substance`; none where the pair shares no atom to go by.
///
/// Computed from the formulas and atomic weights in `grammar/units.toml` (IUPAC abridged, from memory), conserving one
/// atom. Organic matter by carbon, oxygen demand and permanganate is never restated: the tests measure different things.
///
/// ```
/// use beadwise::quantity::as_element;
/// assert!((as_element("Fe2O3", "Fe").unwrap() - 0.69943).abs() < 1e-5);
/// assert_eq!(as_element("KMnO4", "O2"), None);
/// ```
pub fn as_element(substance: &str, element: &str) -> Option<f64> {
    if substance == element {
        return Some(1.0);
    }
    let table = table();
    let from = table.by_id.get(substance)?;
    let to = table.by_id.get(element)?;
    let key = from.key.as_ref()?;
    if to.key.as_ref() != Some(key) {
        return None;
    }
    let from_atoms = f64::from(*from.formula.get(key)?);
    let to_atoms = f64::from(*to.formula.get(key)?);
    let ratio = from_atoms / to_atoms * molar_mass(table, element)? / molar_mass(table, substance)?;
    Some(ratio).filter(|v| v.is_finite())
}

fn molar_mass(table: &Table, substance: &str) -> Option<f64> {
    let formula = &table.by_id.get(substance)?.formula;
    formula.iter().map(|(atom, count)| Some(table.weights.get(atom)? * f64::from(*count))).sum()
}
