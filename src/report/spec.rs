//! A resin class as a page of terminal text: every new-resin figure with its source and the line that it stands at.

use super::plain::{safe, wrapped};
use crate::judge::{property_words, quantity_words};
use crate::specs::{Bound, Class, Specs};

/// The classes, one to a line.
pub fn list(specs: &Specs) -> String {
    let width = specs.spec_list().map(|class| class.id.len()).max().unwrap_or(0);
    specs.spec_list().map(|class| format!("{:width$}  {}\n", class.id, safe(&class.name))).collect()
}

/// One class.
///
/// ```
/// use beadwise::{report::spec::page, specs::Specs};
/// let text = page(Specs::builtin()?.class("sac-gel-8").ok_or("no such class")?, 80);
/// assert!(text.contains("total capacity by volume, Na form"));
/// assert!(text.contains("grammar/specs/cation.toml:"));
/// assert!(text.lines().all(|line| line.chars().count() <= 80));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn page(class: &Class, width: usize) -> String {
    let mut lines = wrapped(&safe(&format!("{}: {}", class.id, class.name)), width, "", "  ");
    lines.extend(wrapped(&safe(&class.about), width, "", ""));
    lines.extend(wrapped(&format!("Laboratories test it in the {} form.", class.standard_form), width, "", ""));
    for figure in &class.figures {
        let basis = match figure.basis.as_deref() {
            Some("volume") if figure.property.starts_with("organics") => " of resin",
            Some("volume") => " by volume",
            Some("dry_mass") => " of dry resin",
            Some("wet_mass") => " of wet resin",
            _ => "",
        };
        let form = figure.form.as_ref().map_or(String::new(), |form| format!(", {form} form"));
        lines.push(String::new());
        lines.extend(wrapped(&format!("{}{basis}{form}", property_words(&figure.property)), width, "", "  "));
        let unit = unit(&figure.property, figure.basis.as_deref());
        for (word, bound) in [("at least", &figure.low), ("compared with", &figure.typical), ("at most", &figure.high)]
        {
            if let Some(bound) = bound {
                lines.extend(bound_lines(word, bound, unit, width));
            }
        }
    }
    for fact in class.facts.values() {
        lines.push(String::new());
        let text = format!("{} {}", fact.name.replace('_', " "), quantity_words(fact.value, &fact.unit));
        lines.extend(wrapped(&safe(&text), width, "", "  "));
        lines.extend(wrapped(&safe(&format!("{} ({})", fact.source, fact.origin)), width, "    ", "    "));
    }
    lines.join("\n") + "\n"
}

fn bound_lines(word: &str, bound: &Bound, unit: &str, width: usize) -> Vec<String> {
    let mut lines = wrapped(&format!("{word} {}", quantity_words(bound.value, unit)), width, "  ", "    ");
    lines.extend(wrapped(&safe(&format!("{} ({})", bound.source, bound.origin)), width, "    ", "    "));
    lines
}

fn unit(property: &str, basis: Option<&str>) -> &'static str {
    match (property, basis) {
        (capacity, Some("volume")) if capacity.ends_with("_capacity") => "eq/L",
        (capacity, Some(_)) if capacity.ends_with("_capacity") => "eq/kg",
        ("moisture_retention" | "whole_beads" | "cracked_beads" | "broken_beads" | "fines", _) => "%",
        ("crush_above_200g" | "regenerated_sites", _) => "%",
        ("mean_size" | "harmonic_mean_size" | "effective_size", _) => "mm",
        ("uniformity_coefficient", _) => "1",
        ("bulk_density", _) => "g/L",
        ("true_density", _) => "g/mL",
        ("crush_strength", _) => "g/bead",
        (_, Some("volume")) => "mg/L",
        _ => "mg/kg",
    }
}
