//! Nitrate beds: how much water a run can treat at most, and by the working rule.

use super::knowledge::Selectivity;

/// g/eq of nitrate, sulfate, bicarbonate as CaCO3, chloride.
const NITRATE: f64 = 62.004;
const SULFATE: f64 = 48.028;
const CALCIUM_CARBONATE: f64 = crate::quantity::CACO3_GRAMS_PER_EQUIVALENT;
const CHLORIDE: f64 = 35.453;

/// Anions of a feed, meq/L.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Anions {
    /// Nitrate.
    pub nitrate: f64,
    /// Sulfate.
    pub sulfate: f64,
    /// Bicarbonate.
    pub bicarbonate: f64,
    /// Chloride.
    pub chloride: f64,
}

impl Anions {
    /// From mg/L: nitrate as NO3, sulfate as SO4, alkalinity as CaCO3, chloride as Cl.
    pub fn from_mg(nitrate: f64, sulfate: f64, alkalinity: f64, chloride: f64) -> Self {
        Self {
            nitrate: nitrate / NITRATE,
            sulfate: sulfate / SULFATE,
            bicarbonate: alkalinity / CALCIUM_CARBONATE,
            chloride: chloride / CHLORIDE,
        }
    }
}

/// Bed volumes at which nitrate can come through at the latest: all strong sites (eq/L) at equilibrium with the feed.
///
/// q α c / Σ(α c) of nitrate, over its concentration. Source: equilibrium with constant separation factors, as in
/// textbooks; sulfate by equivalents.
///
/// ```
/// use beadwise::plan::{Selectivity, nitrate::{Anions, bed_volumes_at_equilibrium}};
/// // Textbook item (askfilo.com copy): 1.4 eq/L, nitrate 1.8 and chloride 2.5 meq/L, factor 3.2: 542 L/L.
/// let feed = Anions { nitrate: 1.8, sulfate: 0.0, bicarbonate: 0.0, chloride: 2.5 };
/// let factors = Selectivity { nitrate: 3.2, sulfate: 9.1, bicarbonate: 0.4, source: String::new() };
/// assert_eq!(bed_volumes_at_equilibrium(1.4, feed, &factors).map(f64::round), Some(542.0));
/// ```
pub fn bed_volumes_at_equilibrium(capacity: f64, feed: Anions, factors: &Selectivity) -> Option<f64> {
    let all = factors.nitrate * feed.nitrate
        + factors.sulfate * feed.sulfate
        + factors.bicarbonate * feed.bicarbonate
        + feed.chloride;
    let volumes = capacity * 1000.0 * factors.nitrate / all;
    (all > 0.0 && volumes.is_finite()).then_some(volumes)
}

/// Bed volumes of a run on a standard resin by the working rule: a share of strong-base capacity (eq/L) holds all of
/// the feed's nitrate and sulfate.
///
/// Source: common practice; the share is that of Davis, Table 8-2.
///
/// ```
/// use beadwise::plan::nitrate::{Anions, bed_volumes_by_rule};
/// // By hand: nitrate 15 mg/L as N is 66.4 as NO3, 1.0709 meq/L; sulfate 100 mg/L is 2.0821; 780 / 3.153 = 247.4.
/// let feed = Anions::from_mg(15.0 * 4.42664, 100.0, 0.0, 0.0);
/// assert!((bed_volumes_by_rule(1.3, 0.6, feed).unwrap_or(0.0) - 247.4).abs() < 0.05);
/// ```
pub fn bed_volumes_by_rule(capacity: f64, used: f64, feed: Anions) -> Option<f64> {
    let taken = feed.nitrate + feed.sulfate;
    let volumes = capacity * used * 1000.0 / taken;
    (taken > 0.0 && volumes.is_finite()).then_some(volumes)
}

/// Capacity in eq/L that a claimed run in bed volumes would need for its nitrate alone (mg/L as NO3).
///
/// ```
/// use beadwise::plan::{nitrate::capacity_claimed, softening::{L_PER_FT3, L_PER_GAL}};
/// // A seller's 16,800 gal/ft3 at 50 mg/L would need 1.81 eq/L, more than any strong-base resin has.
/// let claimed = capacity_claimed(16_800.0 * L_PER_GAL / L_PER_FT3, 50.0);
/// assert!((claimed - 1.81).abs() < 0.005);
/// ```
pub fn capacity_claimed(bed_volumes: f64, nitrate: f64) -> f64 {
    bed_volumes * nitrate / NITRATE / 1000.0
}
