//! The figures that the model works with, each with its property, basis and canonical unit.
//!
//! A slot is a place in a plain array, so that ten thousand draws of a record cost no look-ups.

macro_rules! slots {
    ($($name:ident, $property:literal, $basis:expr, $unit:literal;)*) => {
        /// One figure that the model knows: a property on a basis, or something of the bed.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[allow(missing_docs, reason = "each name is its property and basis, as `keys` gives them")]
        #[repr(usize)]
        pub enum Slot { $($name),* }

        impl Slot {
            /// All slots in order.
            pub const ALL: &'static [Self] = &[$(Self::$name),*];

            /// Property or field quantity, basis and canonical unit of the contract.
            pub fn keys(self) -> (&'static str, Option<&'static str>, &'static str) {
                match self { $(Self::$name => ($property, $basis, $unit)),* }
            }
        }
    };
}

slots! {
    TotalVolume, "total_capacity", Some("volume"), "eq/L";
    TotalDry, "total_capacity", Some("dry_mass"), "eq/kg";
    TotalWet, "total_capacity", Some("wet_mass"), "eq/kg";
    StrongVolume, "salt_splitting_capacity", Some("volume"), "eq/L";
    StrongDry, "salt_splitting_capacity", Some("dry_mass"), "eq/kg";
    StrongWet, "salt_splitting_capacity", Some("wet_mass"), "eq/kg";
    WeakVolume, "weak_capacity", Some("volume"), "eq/L";
    WeakDry, "weak_capacity", Some("dry_mass"), "eq/kg";
    WeakWet, "weak_capacity", Some("wet_mass"), "eq/kg";
    Moisture, "moisture_retention", None, "%";
    Whole, "whole_beads", None, "%";
    Cracked, "cracked_beads", None, "%";
    Broken, "broken_beads", None, "%";
    Iron, "iron", Some("dry_mass"), "mg/kg";
    Manganese, "manganese", Some("dry_mass"), "mg/kg";
    Copper, "copper", Some("dry_mass"), "mg/kg";
    Aluminium, "aluminium", Some("dry_mass"), "mg/kg";
    Barium, "barium", Some("dry_mass"), "mg/kg";
    Calcium, "calcium", Some("dry_mass"), "mg/kg";
    Silica, "silica", Some("dry_mass"), "mg/kg";
    OrganicsToc, "organics_toc", Some("volume"), "mg/L";
    OrganicsCod, "organics_cod", Some("volume"), "mg/L";
    OrganicsPermanganate, "organics_permanganate", Some("volume"), "mg/L";
    Fines, "fines", None, "%";
    CrushStrength, "crush_strength", None, "g/bead";
    CrushAbove200, "crush_above_200g", None, "%";
    RegeneratedSites, "regenerated_sites", None, "%";
    BulkDensity, "bulk_density", None, "g/L";
    TrueDensity, "true_density", None, "g/mL";
    MeanSize, "mean_size", None, "mm";
    HarmonicMeanSize, "harmonic_mean_size", None, "mm";
    EffectiveSize, "effective_size", None, "mm";
    UniformityCoefficient, "uniformity_coefficient", None, "1";
    Freeboard, "freeboard", None, "m";
    FreeboardAtStartup, "freeboard_at_startup", None, "m";
    BedDepth, "bed_depth", None, "m";
    TankBore, "tank_bore", None, "m";
    BedVolume, "bed_volume", None, "L";
    BedVolumeAtStartup, "bed_volume_at_startup", None, "L";
    PressureDrop, "pressure_drop", None, "kPa";
    FeedChlorine, "feed_chlorine", None, "mg/L";
    FeedChloramine, "feed_chloramine", None, "mg/L";
    FeedIron, "feed_iron", None, "mg/L";
    ServiceAge, "service_age", None, "a";
}

/// How many slots there are.
pub const COUNT: usize = Slot::ALL.len();

/// A figure in each slot; not a number where it is not known.
#[derive(Clone, Copy, Debug)]
pub struct Values([f64; COUNT]);

impl Default for Values {
    fn default() -> Self {
        Self([f64::NAN; COUNT])
    }
}

impl Values {
    /// The figure, where it is known.
    pub fn get(&self, slot: Slot) -> Option<f64> {
        let value = self.0.get(slot as usize).copied().unwrap_or(f64::NAN);
        (!value.is_nan()).then_some(value)
    }

    /// Sets or takes away the figure.
    pub fn set(&mut self, slot: Slot, value: Option<f64>) {
        if let Some(place) = self.0.get_mut(slot as usize) {
            *place = value.unwrap_or(f64::NAN);
        }
    }
}

impl Slot {
    /// The slot of a property of the contract on a basis.
    pub fn of(property: &str, basis: Option<&str>) -> Option<Self> {
        Self::ALL.iter().copied().find(|slot| {
            let (name, at, _) = slot.keys();
            name == property && at == basis && !slot.is_field()
        })
    }

    /// The slot of a field quantity of the contract.
    pub fn of_field(quantity: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|slot| slot.keys().0 == quantity && slot.is_field())
    }

    /// Whether it is of the bed and its water, and not of the resin.
    pub fn is_field(self) -> bool {
        self >= Self::Freeboard
    }

    /// Property or quantity of the contract.
    pub fn property(self) -> &'static str {
        self.keys().0
    }

    /// Basis of the contract.
    pub fn basis(self) -> Option<&'static str> {
        self.keys().1
    }

    /// Canonical unit.
    pub fn unit(self) -> &'static str {
        self.keys().2
    }

    /// Whether it is a capacity, on any basis.
    pub fn is_capacity(self) -> bool {
        self <= Self::WeakWet
    }

    /// Whether it is a metal or silica on the resin.
    pub fn is_metal(self) -> bool {
        (Self::Iron..=Self::Silica).contains(&self)
    }

    /// Whether it is organic matter on the resin.
    pub fn is_organics(self) -> bool {
        (Self::OrganicsToc..=Self::OrganicsPermanganate).contains(&self)
    }

    /// Whether it is a share of beads by count.
    pub fn is_count(self) -> bool {
        matches!(self, Self::Whole | Self::Cracked | Self::Broken | Self::CrushAbove200)
    }

    /// Whether it can pass 100 no more than a share can.
    pub fn is_percentage(self) -> bool {
        self.unit() == "%"
    }

    /// Whether the ionic form changes the figure enough that two forms are not compared.
    pub fn depends_on_form(self) -> bool {
        self.is_capacity() || matches!(self, Self::Moisture | Self::BulkDensity | Self::TrueDensity)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_slot_is_found_by_its_keys() {
        for slot in Slot::ALL {
            let (property, basis, _) = slot.keys();
            let found = if slot.is_field() { Slot::of_field(property) } else { Slot::of(property, basis) };
            assert_eq!(found, Some(*slot));
        }
    }

    #[test]
    fn operating_capacity_has_no_slot() {
        assert_eq!(Slot::of("operating_capacity", Some("volume")), None);
    }
}
