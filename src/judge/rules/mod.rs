//! The rules: one rule, one file, one page.
//!
//! A rule reads a case and its model and writes findings. Its page says what it does, why, and on whose limit, and
//! carries a bed that makes it fire and one that does not. Its id never changes.

use super::case::Case;
use super::findings::Findings;
use super::model::Model;
use super::policy::Policy;

/// One rule.
pub struct Rule {
    /// Permanent id.
    pub id: &'static str,
    /// Its page, Markdown.
    pub page: &'static str,
    check: fn(&Case<'_>, &Model, &mut Findings),
}

impl Rule {
    /// The page with each limit and band that it names written out: value, text, source, and whose entry it is where a
    /// user's took the place of the built-in one.
    ///
    /// ```
    /// use beadwise::judge::{Policy, rule};
    /// let page = rule("capacity-below-limit").ok_or("no such rule")?.printed(Policy::builtin()?);
    /// assert!(page.contains("`capacity_loss_replace`: 0.25. "));
    /// assert!(page.contains("UFC 3-240-13FN"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn printed(&self, policy: &Policy) -> String {
        let mut text = String::new();
        for line in self.page.lines() {
            let named = |kind: &str| line.strip_prefix(kind).and_then(|rest| rest.strip_suffix('}'));
            let limit = named("{limit:").and_then(|name| policy.limit(name).map(|limit| limit.in_words(name)));
            let band = named("{band:").and_then(|id| policy.band_by_id(id).map(super::policy::Band::in_words));
            text.push_str(&limit.or(band).unwrap_or_else(|| line.to_owned()));
            text.push('\n');
        }
        text
    }

    /// The names of the limits and the ids of the bands that it goes by, in the order of its page.
    ///
    /// ```
    /// let rule = beadwise::judge::rule("capacity-below-limit").ok_or("no such rule")?;
    /// assert!(rule.goes_by().any(|named| named == ("limit", "capacity_loss_replace")));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn goes_by(&self) -> impl Iterator<Item = (&'static str, &'static str)> {
        let named = |line: &'static str| line.strip_prefix('{')?.strip_suffix('}')?.split_once(':');
        self.page.lines().filter_map(named)
    }
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
    calcium_left_on_cation,
    density_of_another_resin,
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
