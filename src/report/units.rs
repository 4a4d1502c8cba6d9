//! Figures in the reader's units: US customary or SI, from one canonical figure.

use crate::plan::softening::{
    DOSE_PER_LB_FT3, EQ_PER_KGR_FT3, G_PER_LB, GRAINS_PER_LB, L_PER_FT3, L_PER_GAL, MG_PER_GPG,
};

/// Which units a sheet is printed in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Units {
    /// US customary: gallons, pounds, grains, feet.
    #[default]
    Us,
    /// Litres, kilograms, metres.
    Si,
}

/// What a canonical figure is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Of {
    /// Resin, L.
    Resin,
    /// Water, L.
    Water,
    /// Length, m.
    Length,
    /// Cross-section, m².
    Area,
    /// Capacity, eq/L.
    Capacity,
    /// Sites of a bed, eq.
    Sites,
    /// Hardness, mg/L as CaCO3.
    Hardness,
    /// Dose, g/L of resin.
    Dose,
    /// Mass, kg.
    Mass,
    /// Flow, L/h.
    Flow,
    /// Speed, m/h.
    Speed,
    /// Pressure, kPa.
    Pressure,
    /// Temperature, Cel.
    Temperature,
    /// Hardness for the salt, gr/lb.
    Efficiency,
}

/// Metres in a foot.
const M_PER_FT: f64 = 0.3048;
/// kPa in a psi.
const KPA_PER_PSI: f64 = 6.894_757;

impl Units {
    /// Value and unit in these units.
    pub fn value(self, value: f64, of: Of) -> (f64, &'static str) {
        match (self, of) {
            (Self::Us, Of::Resin) => (value / L_PER_FT3, "ft³"),
            (Self::Si, Of::Resin) => (value, "L"),
            (Self::Us, Of::Water) => (value / L_PER_GAL, "gal"),
            (Self::Si, Of::Water) if value >= 1000.0 => (value / 1000.0, "m³"),
            (Self::Si, Of::Water) => (value, "L"),
            (Self::Us, Of::Length) => (value / M_PER_FT * 12.0, "in"),
            (Self::Si, Of::Length) => (value, "m"),
            (Self::Us, Of::Area) => (value / M_PER_FT / M_PER_FT, "ft²"),
            (Self::Si, Of::Area) => (value, "m²"),
            (Self::Us, Of::Capacity) => (value / EQ_PER_KGR_FT3, "kgr/ft³"),
            (Self::Si, Of::Capacity) => (value, "eq/L"),
            (Self::Us, Of::Sites) => (value / EQ_PER_KGR_FT3 / L_PER_FT3, "kgr"),
            (Self::Si, Of::Sites) => (value, "eq"),
            (Self::Us, Of::Hardness) => (value / MG_PER_GPG, "gpg"),
            (Self::Si, Of::Hardness) => (value, "mg/L as CaCO3"),
            (Self::Us, Of::Dose) => (value / DOSE_PER_LB_FT3, "lb/ft³"),
            (Self::Si, Of::Dose) => (value, "g/L"),
            (Self::Us, Of::Mass) => (value * 1000.0 / G_PER_LB, "lb"),
            (Self::Si, Of::Mass) => (value, "kg"),
            (Self::Us, Of::Flow) => (value / L_PER_GAL / 60.0, "gpm"),
            (Self::Si, Of::Flow) => (value / 1000.0, "m³/h"),
            (Self::Us, Of::Speed) => (value * 1000.0 * M_PER_FT * M_PER_FT / L_PER_GAL / 60.0, "gpm/ft²"),
            (Self::Si, Of::Speed) => (value, "m/h"),
            (Self::Us, Of::Pressure) => (value / KPA_PER_PSI, "psi"),
            (Self::Si, Of::Pressure) => (value, "kPa"),
            (Self::Us, Of::Temperature) => (value * 1.8 + 32.0, "°F"),
            (Self::Si, Of::Temperature) => (value, "°C"),
            (Self::Us, Of::Efficiency) => (value, "gr/lb"),
            (Self::Si, Of::Efficiency) => (value / GRAINS_PER_LB * 1000.0, "g/kg"),
        }
    }

    /// A figure with its unit.
    ///
    /// ```
    /// use beadwise::report::units::{Of, Units};
    /// // 1.5708 ft3 are 44.48 L.
    /// assert_eq!(Units::Us.show(44.48, Of::Resin), "1.571 ft³");
    /// assert_eq!(Units::Si.show(44.48, Of::Resin), "44.48 L");
    /// ```
    pub fn show(self, value: f64, of: Of) -> String {
        let (value, unit) = self.value(value, of);
        format!("{} {unit}", number(value))
    }

    /// From one figure to another, the unit once.
    pub fn range(self, low: f64, high: f64, of: Of) -> String {
        let ((low_value, low_unit), (high_value, high_unit)) = (self.value(low, of), self.value(high, of));
        let (from, to) = (number(low_value), number(high_value));
        if low_unit != high_unit {
            return format!("{from} {low_unit} to {to} {high_unit}");
        }
        if from == to { format!("{from} {low_unit}") } else { format!("{from} to {to} {high_unit}") }
    }

    /// A jar's worth of resin, L: bought in quarts or litres, not in cubic feet.
    pub fn jar(self, value: f64) -> String {
        match self {
            Self::Us => format!("{} qt", number(value / L_PER_GAL * 4.0)),
            Self::Si => format!("{} L", number(value)),
        }
    }

    /// A figure given by the canonical unit of an input.
    pub fn input(self, value: f64, unit: &str, id: &str) -> String {
        let of = match unit {
            "m" => Of::Length,
            "L" if id == "jar" => return self.jar(value),
            "L" if id.starts_with("bed_volume") || matches!(id, "bag" | "gravel") => Of::Resin,
            "L" => Of::Water,
            "g/L" => Of::Dose,
            "kg" => Of::Mass,
            "L/h" => Of::Flow,
            "kPa" => Of::Pressure,
            "Cel" => Of::Temperature,
            "mg/L" if id.contains("hardness") => Of::Hardness,
            "money/kg" if self == Self::Us => return format!("{} per lb", money(value * G_PER_LB / 1000.0)),
            "money/kg" => return format!("{} per kg", money(value)),
            "money/L" if id == "water_price" && self == Self::Us => {
                return format!("{} per 1,000 gal", money(value * L_PER_GAL * 1000.0));
            }
            "money/L" if id == "water_price" => return format!("{} per m³", money(value * 1000.0)),
            "money/L" if self == Self::Us => return format!("{} per ft³", money(value * L_PER_FT3)),
            "money/L" => return format!("{} per L", money(value)),
            "money" => return money(value),
            "a" => return format!("{} years", number(value)),
            "d" => return format!("{} days", number(value)),
            "1" => return number(value),
            other => return format!("{} {other}", number(value)),
        };
        self.show(value, of)
    }
}

/// Four figures, thousands parted by a comma, no empty decimals.
///
/// ```
/// use beadwise::report::units::number;
/// assert_eq!(number(3.14159), "3.142");
/// assert_eq!(number(12_345.6), "12,346");
/// assert_eq!(number(950.0), "950");
/// ```
pub fn number(value: f64) -> String {
    if !value.is_finite() {
        return "not known".to_owned();
    }
    let size = value.abs();
    let digits = match size {
        _ if size >= 1000.0 => 0,
        _ if size >= 100.0 => 1,
        _ if size >= 10.0 => 2,
        _ if size >= 0.1 || size == 0.0 => 3,
        _ => 5,
    };
    grouped(value, digits, true)
}

/// Money: whole from a hundred on, else with cents.
///
/// ```
/// use beadwise::report::units::money;
/// assert_eq!(money(1234.5), "1,235");
/// assert_eq!(money(0.25), "0.25");
/// ```
pub fn money(value: f64) -> String {
    let digits = match value.abs() {
        size if size >= 100.0 => 0,
        size if size >= 0.1 || size == 0.0 => 2,
        _ => 4,
    };
    grouped(value, digits, false)
}

/// A share in per cent with one decimal where it has one.
pub fn percent(share: f64) -> String {
    format!("{} %", grouped(share * 100.0, 1, true))
}

fn grouped(value: f64, digits: usize, trim: bool) -> String {
    // Half away from zero, which is what a person with a pencil does.
    let scale = 10_f64.powi(i32::try_from(digits).unwrap_or(0));
    let rounded = (value * scale).round() / scale;
    let text = format!("{:.digits$}", rounded.abs());
    let (whole, rest) = text.split_once('.').map_or((text.as_str(), ""), |(whole, rest)| (whole, rest));
    let rest = if trim { rest.trim_end_matches('0') } else { rest };
    let mut out = String::new();
    if rounded < 0.0 {
        out.push('-');
    }
    for (at, digit) in whole.chars().enumerate() {
        if at > 0 && (whole.len() - at).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    if !rest.is_empty() {
        out.push('.');
        out.push_str(rest);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_agree_with_published_pairs() {
        // 1 gpm/ft2 is 2.44475 m/h; 1 lb/ft3 is 16.0185 g/L; 2.0 eq/L are 43.7 kgr/ft3; 1 gpg is 17.118 mg/L.
        let near = |value: f64, of, wanted: f64| {
            let (found, _) = Units::Us.value(value, of);
            assert!((found - wanted).abs() < wanted * 1e-4, "{found} against {wanted}");
        };
        near(2.44475, Of::Speed, 1.0);
        near(16.0185, Of::Dose, 1.0);
        near(2.0, Of::Capacity, 43.7);
        near(17.118061, Of::Hardness, 1.0);
        near(100.0, Of::Temperature, 212.0);
        near(6.894757, Of::Pressure, 1.0);
        // 3,350 gr/lb are exactly 478.6 g/kg.
        assert!((Units::Si.value(3350.0, Of::Efficiency).0 - 478.6).abs() < 0.05);
    }

    #[test]
    fn ranges_say_their_unit_once() {
        assert_eq!(Units::Si.range(10.0, 20.0, Of::Resin), "10 to 20 L");
        assert_eq!(Units::Si.range(900.0, 2000.0, Of::Water), "900 L to 2 m³");
        assert_eq!(Units::Si.range(5.0, 5.0, Of::Mass), "5 kg");
    }

    #[test]
    fn small_and_odd_numbers_stay_readable() {
        assert_eq!(number(0.01234), "0.01234");
        assert_eq!(number(f64::NAN), "not known");
        assert_eq!(number(-44.483), "-44.48");
        assert_eq!(number(0.0), "0");
        assert_eq!(percent(0.1234), "12.3 %");
        assert_eq!(percent(0.5), "50 %");
    }
}
