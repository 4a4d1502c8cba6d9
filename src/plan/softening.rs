//! Softening in numbers: capacity at a salt dose, the meter, salt, water and chloride.
//!
//! Plain arithmetic on numbers in canonical units: eq/L, L, mg/L as CaCO3, g of salt for each litre of resin.
//! Where the trade's figures are made of grains and pounds, they are converted exactly.

use super::knowledge::Curve;
use crate::quantity::CACO3_GRAMS_PER_EQUIVALENT;

/// Grams to a pound.
pub const G_PER_LB: f64 = 453.592_37;
/// Grams to a grain.
pub const G_PER_GRAIN: f64 = 0.064_798_91;
/// Litres to a cubic foot.
pub const L_PER_FT3: f64 = 28.316_846_592;
/// Litres to a US gallon.
pub const L_PER_GAL: f64 = 3.785_411_784;
/// g/L in a lb/ft³.
pub const DOSE_PER_LB_FT3: f64 = G_PER_LB / L_PER_FT3;
/// eq/L in a kgr/ft³ as CaCO3.
pub const EQ_PER_KGR_FT3: f64 = 1000.0 * G_PER_GRAIN / CACO3_GRAMS_PER_EQUIVALENT / L_PER_FT3;
/// mg/L as CaCO3 in a grain to the US gallon.
pub const MG_PER_GPG: f64 = 1000.0 * G_PER_GRAIN / L_PER_GAL;
/// Grains to a pound.
pub const GRAINS_PER_LB: f64 = 7000.0;
/// Molar mass of sodium chloride, g/mol.
pub const SALT_MOLAR_MASS: f64 = 58.443;
/// Molar mass of chloride, g/mol.
const CHLORIDE_MOLAR_MASS: f64 = 35.453;

/// Grains of hardness that a pound of salt can replace at most.
///
/// Source: one equivalent of salt for one of hardness, 50 g of CaCO3 to the equivalent; J. Franks, Water Technology.
///
/// ```
/// assert_eq!(beadwise::plan::softening::stoichiometric_efficiency().round(), 5989.0);
/// ```
pub fn stoichiometric_efficiency() -> f64 {
    GRAINS_PER_LB * CACO3_GRAMS_PER_EQUIVALENT / SALT_MOLAR_MASS
}

/// Operating capacity in eq/L of new resin at a dose in g/L; none below the curve, its end above it.
///
/// Between points it runs straight in the logarithms of both, so that a pound of salt never does more at a higher dose.
///
/// ```
/// use beadwise::plan::{Knowledge, softening::*};
/// let knowledge = Knowledge::builtin()?;
/// let curve = knowledge.curve("trade-sheet").ok_or("no such curve")?;
/// // 10 lb/ft3 of salt: 29.0 kgr/ft3 on the sheet.
/// let capacity = capacity_of_new(curve, 10.0 * DOSE_PER_LB_FT3).ok_or("outside")?;
/// assert!((capacity / EQ_PER_KGR_FT3 - 29.0).abs() < 1e-9);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn capacity_of_new(curve: &Curve, dose: f64) -> Option<f64> {
    let pounds = dose / DOSE_PER_LB_FT3;
    let (first, last) = (curve.points.first()?, curve.points.last()?);
    // A dose that was itself worked from a printed one may miss the end by the last bit.
    if !pounds.is_finite() || pounds < first[0] * (1.0 - 1e-9) {
        return None;
    }
    if pounds >= last[0] {
        return Some(last[1] * EQ_PER_KGR_FT3);
    }
    curve.points.windows(2).find_map(|pair| match pair {
        [a, b] if pounds <= b[0] => {
            let along = ((pounds / a[0]).ln() / (b[0] / a[0]).ln()).max(0.0);
            Some(a[1] * (b[1] / a[1]).powf(along) * EQ_PER_KGR_FT3)
        }
        _ => None,
    })
}

/// Operating capacity in eq/L of resin that keeps a share of new total capacity (eq/L), at a dose in g/L.
///
/// share × capacity of new resin at dose ÷ share: the sites that are left see more salt each. Never more than the
/// sites that are left, nor than the salt can regenerate. Source: dimensional similarity, our own derivation; no
/// published relation was found.
///
/// ```
/// use beadwise::plan::{Knowledge, softening::*};
/// let knowledge = Knowledge::builtin()?;
/// let curve = knowledge.curve("training").ok_or("no such curve")?;
/// // By hand at 6 lb/ft3 with 75 % left: 0.75 x (10286 ln 8 + 1326.3) = 17,037 gr/ft3 against 19,756 of new: 13.8 % less.
/// let left = capacity_of_used(curve, 6.0 * DOSE_PER_LB_FT3, 0.75, 2.0).ok_or("outside")?;
/// assert!((left / EQ_PER_KGR_FT3 - 17.037).abs() < 0.002);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn capacity_of_used(curve: &Curve, dose: f64, share: f64, total_of_new: f64) -> Option<f64> {
    if !(share > 0.0 && share.is_finite()) {
        return None;
    }
    let similar = share * capacity_of_new(curve, dose / share)?;
    Some(similar.min(share * total_of_new).min(dose / SALT_MOLAR_MASS))
}

/// Hardness in mg/L as CaCO3 that a meter is set by: iron and manganese (mg/L) count for so many grains a gallon each.
///
/// A convention, not chemistry.
///
/// ```
/// use beadwise::plan::softening::{MG_PER_GPG, compensated_hardness};
/// // A. O. Smith AOW-S400 installation guide, p. 5: 20 gpg and 3 mg/L of iron at 5 make 35 gpg.
/// let hardness = compensated_hardness(20.0 * MG_PER_GPG, (3.0, 5.0), (0.0, 2.0));
/// assert!((hardness / MG_PER_GPG - 35.0).abs() < 1e-9);
/// ```
pub fn compensated_hardness(hardness: f64, iron: (f64, f64), manganese: (f64, f64)) -> f64 {
    hardness + (iron.0 * iron.1 + manganese.0 * manganese.1) * MG_PER_GPG
}

/// Litres that a bed softens: capacity in eq/L, volume in L, hardness in mg/L as CaCO3.
///
/// ```
/// use beadwise::plan::softening::*;
/// // C. F. Michaud, "Ion exchange 101": 24,000 gr/ft3 at 20 gpg are 1,200 gallons to the cubic foot.
/// let litres = run(24.0 * EQ_PER_KGR_FT3, L_PER_FT3, 20.0 * MG_PER_GPG).unwrap_or(0.0);
/// assert!((litres / L_PER_GAL - 1200.0).abs() < 1e-6);
/// ```
pub fn run(capacity: f64, volume: f64, hardness: f64) -> Option<f64> {
    let litres = capacity * volume * 1000.0 * CACO3_GRAMS_PER_EQUIVALENT / hardness;
    (hardness > 0.0 && litres.is_finite()).then_some(litres)
}

/// The meter in litres: the run less the reserve, rounded down to the meter's step; never below zero.
///
/// ```
/// // G. Slusser, terrylove.com forum: 1,200 less 240 gallons are 960, and 950 on a meter with steps of 25.
/// assert_eq!(beadwise::plan::softening::meter(1200.0, 240.0, 25.0), 950.0);
/// ```
pub fn meter(run: f64, reserve: f64, step: f64) -> f64 {
    let litres = (run - reserve).max(0.0);
    if step > 0.0 { (litres / step + 1e-9).floor() * step } else { litres }
}

/// Grains of hardness taken out for each pound of salt: capacity in eq/L at a dose in g/L.
///
/// ```
/// use beadwise::plan::softening::*;
/// // 29.0 kgr/ft3 at 10 lb/ft3 are 2,900 grains to the pound.
/// assert!((efficiency(29.0 * EQ_PER_KGR_FT3, 10.0 * DOSE_PER_LB_FT3) - 2900.0).abs() < 1e-6);
/// ```
pub fn efficiency(capacity: f64, dose: f64) -> f64 {
    capacity * CACO3_GRAMS_PER_EQUIVALENT * GRAINS_PER_LB / dose
}

/// Chloride that a mass of salt sends to the drain, in the same unit: 0.6066 of it.
///
/// ```
/// // 600 lb of salt hold 364 lb of chloride.
/// assert_eq!(beadwise::plan::softening::chloride(600.0).round(), 364.0);
/// ```
pub fn chloride(salt: f64) -> f64 {
    salt * CHLORIDE_MOLAR_MASS / SALT_MOLAR_MASS
}

/// Hardness in mg/L as CaCO3 that a bed lets through all through its run: what its bottom, regenerated from above, gives
/// back to water that is otherwise soft.
///
/// `residual` is the share of sites that the regeneration left in the hardness form, `sites` the total capacity in
/// eq/L, `salts` all cations of the water in eq/L. At equilibrium the share x of hardness in the water is
/// y / (1 − y)² · salts / (K · sites), so leakage goes with the square of the salts. Source: the mass-action law of a
/// divalent ion against a monovalent one, as F. Helfferich, Ion Exchange (1962), writes it; the mean residual stands for
/// that of the bottom, which a co-current regeneration reaches last. None where nothing was regenerated.
///
/// ```
/// use beadwise::plan::softening::leakage;
/// // By hand: half the sites of 2 eq/L left, 0.01 eq/L of salts, K = 2.5: x = 0.5 / 0.25 * 0.01 / 5 = 0.004, of
/// // 0.01 eq/L 0.00004 eq/L, which is 2.0 mg/L as CaCO3. Twice the salts: four times as much.
/// assert!((leakage(0.5, 2.0, 0.01, 2.5).unwrap() - 2.0).abs() < 1e-9);
/// assert!((leakage(0.5, 2.0, 0.02, 2.5).unwrap() - 8.0).abs() < 1e-9);
/// ```
pub fn leakage(residual: f64, sites: f64, salts: f64, selectivity: f64) -> Option<f64> {
    let share = residual / (1.0 - residual).powi(2) * salts / (selectivity * sites);
    let hardness = share.min(1.0) * salts * 1000.0 * CACO3_GRAMS_PER_EQUIVALENT;
    ((0.0..1.0).contains(&residual) && hardness.is_finite()).then_some(hardness)
}

/// Share of the water that may go round the softener for a wanted hardness; none where that cannot be reached.
///
/// ```
/// // An exam item: raw 350, softened 10, wanted 100 mg/L: 26.5 % goes round.
/// let share = beadwise::plan::softening::bypass_share(350.0, 10.0, 100.0).unwrap_or(0.0);
/// assert!((share - 0.265).abs() < 0.0005);
/// ```
pub fn bypass_share(raw: f64, soft: f64, wanted: f64) -> Option<f64> {
    (soft <= wanted && wanted < raw).then(|| (wanted - soft) / (raw - soft))
}

/// Litres of brine: salt in kg, as a share by mass of brine with a density in g/mL.
///
/// ```
/// use beadwise::plan::softening::*;
/// // 10 lb at 10 % make 11.2 gallons.
/// let litres = brine_volume(10.0 * G_PER_LB / 1000.0, 0.10, 1.07);
/// assert!((litres / L_PER_GAL - 11.2).abs() < 0.05);
/// ```
pub fn brine_volume(salt: f64, strength: f64, density: f64) -> f64 {
    salt / strength / density
}
