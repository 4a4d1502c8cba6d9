//! Water through the bed: pressure drop, and the backwash that lifts the bed and keeps it in the tank.

use super::knowledge::Water;

/// Density in kg/m³ and viscosity in Pa·s of water at a temperature in Cel; the table's end beyond it.
///
/// Density runs straight between points, viscosity straight in its logarithm. Source: IAPWS-95, IAPWS R12-08.
pub fn water_at(water: &Water, temperature: f64) -> Option<(f64, f64)> {
    let rows = || water.temperature.iter().zip(&water.density).zip(&water.viscosity).map(|((t, d), v)| (*t, *d, *v));
    let first = rows().next()?;
    let last = rows().next_back()?;
    if temperature <= first.0 {
        return Some((first.1, first.2 / 1000.0));
    }
    let above = rows().find(|row| row.0 >= temperature);
    let below = rows().take_while(|row| row.0 < temperature).last();
    match (below, above) {
        (Some(a), Some(b)) => {
            let along = (temperature - a.0) / (b.0 - a.0);
            let density = a.1 + along * (b.1 - a.1);
            let viscosity = (a.2.ln() + along * (b.2.ln() - a.2.ln())).exp();
            Some((density, viscosity / 1000.0))
        }
        _ => Some((last.1, last.2 / 1000.0)),
    }
}

/// Pressure drop of a bed in Pa for each metre of depth, by Ergun.
///
/// 150 μ(1−ε)²v/(d²ε³) + 1.75 ρ(1−ε)v²/(dε³): harmonic mean bead size d in m, voids ε, speed v through the empty tank in
/// m/s, density ρ in kg/m³, viscosity μ in Pa·s. Source: S. Ergun, 1952, as in the documentation of `fluids`.
///
/// ```
/// // `fluids` documentation: dp 0.8 mm, voidage 0.4, 1 mm/s, 1000 kg/m3, 1 mPa s: 1338.8671875 Pa/m.
/// let drop = beadwise::plan::flow::ergun(8e-4, 0.4, 1e-3, 1e3, 1e-3);
/// assert!((drop - 1338.8671875).abs() < 1e-6);
/// ```
pub fn ergun(bead: f64, voids: f64, speed: f64, density: f64, viscosity: f64) -> f64 {
    let solid = 1.0 - voids;
    let cubed = voids.powi(3);
    150.0 * viscosity * solid * solid * speed / (bead * bead * cubed)
        + 1.75 * density * solid * speed * speed / (bead * cubed)
}

/// Backwash rate at a temperature that lifts the bed as a rate at 20 °C does, in the unit of that rate.
///
/// Goes with 1/viscosity, which holds where beads settle slowly. Source: our own derivation from Stokes' and Kozeny's
/// laws; the resin maker's curve goes first.
///
/// ```
/// use beadwise::plan::{Knowledge, flow::backwash_at};
/// // Viscosity at 10 °C is 1.304 times that at 20 °C: 6 gpm/ft2 become 4.60.
/// let rate = backwash_at(6.0, 10.0, Knowledge::builtin()?.water()).ok_or("no water")?;
/// assert!((rate - 6.0 / 1.304).abs() < 0.005);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn backwash_at(rate: f64, temperature: f64, water: &Water) -> Option<f64> {
    Some(rate * water_at(water, 20.0)?.1 / water_at(water, temperature)?.1)
}
