//! The field against the laboratory: how much of a shorter run the resin explains, and how much it cannot.

use super::bed::Facts;
use super::knowledge::{Curve, Fact};
use super::meter::Basis;
use super::softening::capacity_of_used;
use super::top_off::Geometry;
use serde::Serialize;

/// One thing that shortens a run.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Part {
    /// `capacity`, `volume`, `water`, `settings` or `remainder`.
    pub part: &'static str,
    /// What the run is multiplied by.
    pub factor: f64,
    /// Its part of the fall, as a share of the run at the start; below zero where it lengthens the run.
    pub share: f64,
}

/// The fall of the run, taken apart.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FieldGap {
    /// Run when the resin was new, L.
    pub before: f64,
    /// Run now, L.
    pub now: f64,
    /// Share of the run that is gone.
    pub fall: f64,
    /// Parts that multiply to now over before, and whose shares add up to the fall.
    pub parts: Vec<Part>,
    /// Whether hardness and salt dose at the start were told; else they are taken as unchanged.
    pub told: (bool, bool),
    /// Half-width of the remainder's factor from the curve's spread and the laboratory's.
    pub uncertain: f64,
}

/// Shares of a fall that factors make: each has its logarithm's part of it, so that they add up whatever their order.
///
/// ```
/// // By hand: 0.86 x 0.95 x 0.857 = 0.70; the fall of 30 % is shared by ln 0.86, ln 0.95 and ln 0.857 of ln 0.70.
/// let shares = beadwise::plan::shares_of_fall(&[0.86, 0.95, 0.70 / (0.86 * 0.95)]);
/// assert!((shares.iter().sum::<f64>() - 0.30).abs() < 1e-12);
/// assert!((shares[0] - 0.1269).abs() < 0.0002);
/// ```
pub fn shares_of_fall(factors: &[f64]) -> Vec<f64> {
    let all: f64 = factors.iter().product();
    let whole = all.ln();
    factors.iter().map(|factor| if whole == 0.0 { -factor.ln() } else { (1.0 - all) * factor.ln() / whole }).collect()
}

/// Splits the fall into resin capacity, resin volume, water, settings, and what none of them explains.
pub fn gap(facts: &Facts<'_>, shape: &Geometry, basis: &Basis, curve: &Curve) -> Option<FieldGap> {
    let now = facts.look(Fact::Run)?;
    let Some(before) = facts.look(Fact::RunBefore) else {
        facts.ask(Fact::RunBefore);
        return None;
    };
    let share = facts.bed.about.share?;
    let dose_before = facts.want(Fact::SaltDoseBefore).unwrap_or(basis.dose);
    let at = |dose: f64, share: f64| capacity_of_used(curve, dose, share, basis.total_of_new);
    let capacity = at(dose_before, share.best)? / at(dose_before, 1.0)?;
    let settings = at(basis.dose, share.best)? / at(dose_before, share.best)?;
    let volume = shape.volume.zip(shape.volume_at_startup).map_or(1.0, |(now, start)| now / start);
    let hardness = facts.want(Fact::FeedHardness).zip(facts.want(Fact::FeedHardnessBefore));
    let water = hardness.map_or(1.0, |(now, before)| before / now);
    let told = (hardness.is_some(), facts.bed.known(Fact::SaltDoseBefore).is_some());
    let all = now / before;
    let remainder = all / (capacity * volume * water * settings);
    let factors = [capacity, volume, water, settings, remainder];
    if factors.iter().any(|factor| !(factor.is_finite() && *factor > 0.0)) {
        return None;
    }
    let names = ["capacity", "volume", "water", "settings", "remainder"];
    let parts = names
        .into_iter()
        .zip(factors)
        .zip(shares_of_fall(&factors))
        .map(|((part, factor), share)| Part { part, factor, share })
        .collect();
    let laboratory = (share.high - share.low) / 2.0 / share.best;
    let uncertain = remainder * laboratory.hypot(curve.spread);
    Some(FieldGap { before, now, fall: 1.0 - all, parts, told, uncertain })
}
