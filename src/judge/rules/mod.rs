//! The rules: one rule, one file, one page.
//!
//! A rule reads a case and its model and writes findings. Its page says what it does, why, and on whose limit, and
//! carries a bed that makes it fire and one that does not. Its id never changes.

use super::case::Case;
use super::findings::Findings;
use super::model::Model;

/// One rule.
pub struct Rule {
    /// Permanent id.
    pub id: &'static str,
    /// Its page, Markdown.
    pub page: &'static str,
    check: fn(&Case<'_>, &Model, &mut Findings),
}

macro_rules! rules {
    ($($name:ident),* $(,)?) => {
        $(pub(in crate::judge) mod $name;)*

        /// All rules, in the order in which they are asked.
        pub const RULES: &[Rule] = &[
            $(Rule { id: $name::ID, page: include_str!(concat!(stringify!($name), ".md")), check: $name::check }),*
        ];
    };
}

rules! {
    resin_class_unknown,
    capacity_above_new,
    capacity_below_limit,
    capacity_declining,
    moisture_above_new,
    weak_sites_on_cation,
    strong_base_below_limit,
    total_alone_on_anion,
    strong_sites_turned_weak,
    moisture_below_new,
    iron_on_cation,
    iron_on_anion,
    metals_on_resin,
    barium_on_resin,
    organics_on_anion,
    organics_hide_capacity,
    silica_on_anion,
    hardness_on_anion,
    beads_broken,
    beads_weak,
    fines_above_new,
    bed_short_of_resin,
    bed_past_its_life,
    sites_not_regenerated,
    oxidant_in_feed,
    figures_do_not_close,
    capacity_of_operating_size,
    too_little_measured,
}

/// Asks every rule.
pub fn ask_all(case: &Case<'_>, model: &Model, findings: &mut Findings) {
    for rule in RULES {
        (rule.check)(case, model, findings);
    }
}

pub use capacity_of_operating_size::looks_operating;

/// A rule by its id.
pub fn rule(id: &str) -> Option<&'static Rule> {
    RULES.iter().find(|rule| rule.id == id)
}
