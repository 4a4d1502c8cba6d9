//! Figures, units and shares in words: one place, so that every reason reads alike.

use super::baseline::{From, New};
use super::case::Case;
use super::slot::Slot;

/// Grains of CaCO3 and cubic feet of an equivalent and litre: 1 eq/L is 21.85 kgr/ft³ at 50 g to the equivalent.
const KGR_PER_FT3: f64 = 21.85;

/// Name of a property or quantity in a sentence.
pub fn name(property: &str) -> String {
    match property {
        "salt_splitting_capacity" => "salt-splitting capacity".to_owned(),
        "weak_capacity" => "weak-site capacity".to_owned(),
        "moisture_retention" => "moisture".to_owned(),
        "crush_above_200g" => "share of beads bearing 200 g".to_owned(),
        "organics_toc" => "organic matter (as TOC)".to_owned(),
        "organics_cod" => "organic matter (as COD)".to_owned(),
        "organics_permanganate" => "organic matter (as KMnO4)".to_owned(),
        "regenerated_sites" => "share of sites in the working form".to_owned(),
        "bulk_density" => "settled density".to_owned(),
        "freeboard_at_startup" => "freeboard at start-up".to_owned(),
        "bed_volume_at_startup" => "bed volume at start-up".to_owned(),
        "resin_class" => "resin class".to_owned(),
        other => other.replace('_', " "),
    }
}

/// Name of a slot in a sentence, with its basis where that is not the usual one.
pub fn slot_name(slot: Slot) -> String {
    let base = name(slot.property());
    match slot.basis() {
        Some("dry_mass") if slot.is_capacity() => format!("{base} of dry resin"),
        Some("wet_mass") if slot.is_capacity() => format!("{base} of wet resin"),
        _ => base,
    }
}

/// First letter upper case.
pub fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map(|first| first.to_uppercase().chain(chars).collect()).unwrap_or_default()
}

/// A number with three figures, thousands parted by a comma.
pub fn number(value: f64) -> String {
    let size = value.abs();
    let digits: usize = if size >= 100.0 || size == 0.0 {
        0
    } else if size >= 10.0 {
        1
    } else {
        2
    };
    let plain = format!("{value:.digits$}");
    // What rounds to nothing has no sign.
    let plain = if plain.parse() == Ok(0.0) { "0".to_owned() } else { plain };
    let trimmed = if plain.contains('.') { plain.trim_end_matches('0').trim_end_matches('.') } else { &plain };
    let (whole, rest) = trimmed.split_once('.').map_or((trimmed, None), |(whole, rest)| (whole, Some(rest)));
    let (sign, whole) = whole.strip_prefix('-').map_or(("", whole), |whole| ("-", whole));
    let mut grouped = String::new();
    for (place, digit) in whole.chars().enumerate() {
        if place > 0 && (whole.len() - place).is_multiple_of(3) && whole.len() > 3 {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    rest.map_or_else(|| format!("{sign}{grouped}"), |rest| format!("{sign}{grouped}.{rest}"))
}

/// A number with its unit; a volume capacity in the dealer's unit too.
pub fn quantity(value: f64, unit: &str) -> String {
    match unit {
        "eq/L" => format!("{value:.2} eq/L ({:.1} kgr/ft³)", value * KGR_PER_FT3),
        "%" => format!("{} %", number((value * 10.0).round() / 10.0)),
        "1" => number(value),
        "L" => format!("{} L ({} ft³)", number(value), number(value / 28.316_846_592)),
        "m" => format!("{} m ({} in)", number(value), number(value / 0.0254)),
        "a" => format!("{} years", number(value)),
        "Cel" => format!("{} °C", number(value)),
        _ => format!("{} {unit}", number(value)),
    }
}

/// A share of something measured, in per cent with one decimal: 24.9 % lost and 25 % lost are different verdicts.
pub fn percent(share: f64) -> String {
    let tenth = (share * 1000.0).round() / 10.0 + 0.0;
    if tenth.fract() == 0.0 { format!("{tenth:.0} %") } else { format!("{tenth:.1} %") }
}

/// A share that is an estimate, in whole per cent.
pub fn about(share: f64) -> String {
    // Adding 0 takes the sign off a zero: "-0 %" reads as a loss.
    format!("{:.0} %", (share * 100.0).round() + 0.0)
}

/// Which new-resin figure is meant.
pub fn whose(new: &New) -> &'static str {
    match new.from {
        From::Bed => "the bed's own first analysis",
        From::Sheet => "the product sheet",
        From::Report => "the new-resin figure printed in the report",
        From::Class => "what new resin of its class has",
    }
}

/// "Total capacity 1.41 eq/L (30.8 kgr/ft³) is 70.5 % of 2.00 eq/L, what new resin of its class has".
pub fn against(case: &Case<'_>, slot: Slot) -> String {
    let value = case.get(slot).unwrap_or(f64::NAN);
    let figure = case.info.figures.get(slot);
    let sign = figure.map_or("", |figure| figure.qualifier.sign());
    let text = format!("{} {sign}{}", slot_name(slot), quantity(value, slot.unit()));
    let new = figure.and_then(|figure| figure.new.as_ref());
    let text = match (case.share(slot), case.n.get(slot), new) {
        (Some(share), Some(reference), Some(new)) if slot.is_capacity() => {
            format!("{text} is {} of {reference:.2} {}, {}", percent(share), slot.unit(), whose(new))
        }
        _ => text,
    };
    sentence(&text)
}

/// A list in a sentence: "a, b and c".
pub fn list(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_grouped_and_rounded_to_three_figures() {
        for (value, text) in [
            (6200.0, "6,200"),
            (1.5, "1.5"),
            (0.0, "0"),
            (1_234_567.0, "1,234,567"),
            (47.25, "47.2"),
            (-1200.0, "-1,200"),
            (0.62, "0.62"),
        ] {
            assert_eq!(number(value), text);
        }
    }

    #[test]
    fn a_capacity_is_shown_in_both_units() {
        // 2.0 eq/L x 21.85 = 43.7 kgr/ft3, as printed on product sheets.
        assert_eq!(quantity(2.0, "eq/L"), "2.00 eq/L (43.7 kgr/ft³)");
    }

    #[test]
    fn a_share_is_not_rounded_across_the_limit() {
        assert_eq!(percent(0.249), "24.9 %");
        assert_eq!(percent(0.25), "25 %");
        assert_eq!(percent(0.7154), "71.5 %");
        assert_eq!(about(0.7154), "72 %");
    }

    #[test]
    fn nothing_has_no_sign() {
        for share in [-0.0, -0.0004, 0.0004] {
            assert_eq!(about(share), "0 %");
            assert_eq!(percent(share), "0 %");
        }
        assert_eq!(number(-0.001), "0");
    }
}
