//! The limits of `grammar/policy.toml`: each entry with its source, and their numbers by name.

use crate::specs::Origin;
use std::collections::BTreeMap;

macro_rules! limits {
    ($($name:ident),* $(,)?) => {
        /// Every limit by name, in the unit that its entry states; read once, so that a draw costs no look-up.
        #[derive(Clone, Copy, Debug, Default, PartialEq)]
        #[allow(missing_docs, reason = "each limit's text stands at its entry in grammar/policy.toml")]
        pub struct Limits { $(pub $name: f64),* }

        impl Limits {
            /// The names, in the order of the fields.
            pub const NAMES: &'static [&'static str] = &[$(stringify!($name)),*];

            pub(super) fn from_entries(entries: &BTreeMap<String, Limit>) -> Result<Self, &'static str> {
                Ok(Self { $($name: entries.get(stringify!($name)).ok_or(stringify!($name))?.value),* })
            }
        }
    };
}

limits! {
    capacity_loss_replace, capacity_loss_watch, capacity_loss_per_year, strong_loss_replace, strong_loss_watch,
    capacity_ceiling, operating_size_low, operating_size_high, moisture_rise_watch, moisture_rise_replace, anion_moisture_floor, moisture_fall_watch,
    gel_moisture_gap, weak_share_oxidised, weak_gain_watch, whole_beads_supported, whole_beads_alone,
    crush_above_200g_supported, pressure_drop_high, fines_support, regenerated_low, top_off_from, top_off_drop, old_bed_missing,
    organics_hide, strength_watch, strength_poor, strength_least, strength_most, strength_hint, strength_mark, strength_iron_speeds, chloramine_harm,
    strength_beads_span, strength_turned_span, fouled_when_watched, density_of_another, parts_impossible, trust_in_a_jar, metals_block_low, metals_block_best, metals_block_high, closure_tolerance, parts_tolerance, beads_tolerance, density_tolerance, size_tolerance, sieve_tolerance, sieve_pan, top_tells, sample_kept, pace_slow, pace_fast, pace_from_age, outcome_sound, outcome_worn, outcome_spent, draws_for_worth, small_bed,
    share_to_decide, tell_cause_from, skeleton_density, ash_per_metal, cleaning_restores_low, cleaning_restores_best,
    cleaning_restores_high, cleaning_gain_from, weak_gain_is_fouling, organics_restored_low, organics_restored_best, organics_restored_high,
    unknown_restored_best, unknown_restored_high, capacity_sd, moisture_sd, density_sd, metal_sd, organics_sd,
    other_sd, tape_sd, volume_sd, bead_count, class_sd, sheet_sd, class_moisture_sd, other_form_weight, draws, seed,
    quite_sure_from, likely_from, trust_without_duty, trust_without_use, trust_without_foulants, trust_without_cause,
    trust_operating_size, trust_without_capacity, dry_basis_weight,
    trust_without_strong, trust_closure, in_sight, next_sample_sound, next_sample_aging, next_sample_late,
    next_sample_cleaned, next_sample_replaced,
    trend_start_sd, trend_core_sd, trend_worth, trend_laboratory_sd, trend_step_sd, trend_score_sd, trend_odd_points, trend_odd_deviations, trend_horizon, anion_settles, anion_start_sd, baseline_within, channelling_spread, run_fall_watch, freeboard_every, reading_near, new_charge_sample, unknown_volume,
}

/// One limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// In `unit`.
    pub value: f64,
    /// Unit of the value; `1` for a share.
    pub unit: String,
    /// What it is the limit of.
    pub text: String,
    /// The document that it was read in, or the words that say there is none.
    pub source: String,
    /// The file and line of the entry that won.
    pub origin: Origin,
    /// The built-in value, where a user's entry took its place.
    pub instead_of: Option<f64>,
}

impl Limit {
    /// One line of a list: name, value, text and source.
    pub fn in_words(&self, name: &str) -> String {
        let unit = if self.unit == "1" { String::new() } else { format!(" {}", self.unit) };
        let own = self
            .instead_of
            .map_or(String::new(), |before| format!(" Overridden at {}; built in: {before}.", self.origin));
        format!("- `{name}`: {}{unit}. {}. Source: {}.{own}", self.value, self.text, self.source)
    }
}
