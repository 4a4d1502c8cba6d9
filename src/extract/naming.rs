//! What the words beside a figure of running text name.

use super::table::Desk;
use crate::lexicon::{Label, Lexicon, Quantity, Role, Target};
use crate::quantity::{Unit, UnitKind};
use crate::value::Value;
use regex::Regex;
use std::sync::OnceLock;

/// A figure of a sentence.
pub struct Found {
    /// Bytes of it.
    pub start: usize,
    /// See `start`.
    pub end: usize,
    /// As read.
    pub value: Value,
    /// In the other number style.
    pub other: Option<Value>,
}

/// Figures that stand in one list have one unit: shares of the beads, capacities, elements, what the water holds.
pub fn kin(one: &Target, other: &Target, lexicon: &Lexicon) -> bool {
    let kind = |target: &Target| match target {
        Target::Property(id) if id.ends_with("_beads") => 1,
        Target::Property(id)
            if matches!(id.as_str(), "total_capacity" | "salt_splitting_capacity" | "weak_capacity") =>
        {
            2
        }
        Target::Property(id) if lexicon.property(id).is_some_and(|p| p.substance.is_some()) => 3,
        Target::Field(id) if id.starts_with("feed_") && id != "feed_hardness" => 4,
        _ => 0,
    };
    kind(one) == kind(other) && kind(one) > 0
}

/// Whether words have one of some facets.
pub fn speaks_of(text: &str, facets: &[&str], lexicon: &Lexicon) -> bool {
    let label = lexicon.understand(text, &[]);
    facets.iter().any(|id| lexicon.facet_id(id).is_some_and(|f| label.facets.contains(&f)))
}

/// "<0.3 mm 1.1 %": a size that bounds, before a share, belongs to the words and is no figure.
pub fn name_bounds(found: Vec<Found>, text: &str) -> Vec<Found> {
    let names: Vec<bool> = found
        .iter()
        .enumerate()
        .map(|(at, figure)| {
            let size = figure.value.unit.as_ref().is_some_and(|u| u.dimension.length == 1 && u.dimension.mass == 0)
                || figure.value.unit.as_ref().is_some_and(|u| u.kind == UnitKind::Mesh);
            let bound = figure.value.bound.is_some() || figure.value.qualifier != crate::record::Qualifier::Equal;
            let next = found.get(at + 1).filter(|n| {
                n.value.unit.as_ref().is_some_and(|u| u.kind == UnitKind::Percent)
                    && text.get(figure.end..n.start).is_some_and(|t| t.trim().len() <= 4)
            });
            size && bound && next.is_some()
        })
        .collect();
    found.into_iter().zip(names).filter(|(_, names)| !names).map(|(f, _)| f).collect()
}

/// Whether a word is one of a specification.
pub fn spec_word(text: &str, lexicon: &Lexicon) -> bool {
    text.split_whitespace().any(|w| lexicon.role(w).is_some_and(|r| matches!(r, Role::Specification)))
}

/// "against 1.9", "down from 61": compared with, not found.
pub fn compares(before: &str) -> bool {
    static WORDS: OnceLock<Option<Regex>> = OnceLock::new();
    WORDS
        .get_or_init(|| {
            Regex::new(r"(?i)\b(?:against|from|versus|vs|compared (?:with|to)|instead of|gegen(?:über)?|statt|von zuvor|nach zuletzt|contre|au lieu de|frente a|contra|en lugar de|limit(?: of| is)?|than)\W*(?:the|a|an|der|die|das|den|le|la|les|el|los)?\W*$").ok()
        })
        .as_ref()
        .is_some_and(|p| p.is_match(before))
}

/// Where the words between two figures part: at a comma, a semicolon, a bracket or an "and".
pub fn divide(between: &str) -> (&str, &str) {
    static BORDER: OnceLock<Option<Regex>> = OnceLock::new();
    let border = BORDER
        .get_or_init(|| {
            Regex::new(
                r"(?i)[,;()]|\s/\s|\s(?:and|und|et|y|e|sowie|while|whereas|but|aber|mais|pero|with|bei|mit|avec|con)\s",
            )
            .ok()
        })
        .as_ref()
        .and_then(|p| {
            let all: Vec<_> = p.find_iter(between).collect();
            // "das Schüttgewicht bei": a word before the figure alone parts nothing.
            let (last, earlier) = all.split_last()?;
            let lone = between.get(last.end()..).is_some_and(|rest| rest.trim().is_empty())
                && ["bei", "mit", "with", "avec", "con"].contains(&last.as_str().trim().to_lowercase().as_str());
            Some(if lone { *earlier.last().unwrap_or(last) } else { *last })
        });
    match border {
        Some(found) => {
            (between.get(..found.start()).unwrap_or_default(), between.get(found.start()..).unwrap_or_default())
        }
        None => ("", between),
    }
}

/// The property that words name, if the figure's unit can be one of it.
pub fn named(words: &str, figure: &Found, behind: bool, desk: &Desk<'_>) -> Option<Label> {
    let mut text = words;
    // Only the clause next to the figure counts, unless it names nothing.
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return None;
    }
    let mut label = desk.lexicon.understand(trimmed, &desk.section);
    if label.target.as_ref().is_none_or(|t| !t.is_figure()) {
        let mut clauses = text.split([',', ';', ':']).filter(|c| c.chars().any(char::is_alphanumeric));
        let clause = if behind { clauses.next() } else { clauses.next_back() }.unwrap_or_default();
        // "... all the way to gravel. freeboard": a line that begins small ends no sentence.
        let clause = if behind { clause } else { clause.rsplit(". ").next().unwrap_or_default() };
        text = clause;
        label = desk.lexicon.understand(text.trim(), &desk.section);
    } else if !label.unexplained.is_empty() {
        // "Field data: freeboard", "El agua de entrada tiene una dureza de": the words next to the figure say it better.
        let list: Vec<&str> = trimmed.split_whitespace().collect();
        let near = (1..list.len()).find_map(|from| {
            let part = list.get(from..)?.join(" ");
            let near = desk.lexicon.understand(&part, &desk.section);
            (near.target == label.target && near.unexplained.is_empty()).then_some(near)
        });
        if let Some(near) = near.filter(|_| matches!(label.target, Some(Target::Field(_)))) {
            label = near;
        }
    }
    let target = label.target.clone()?;
    // A temperature may also be the laboratory's.
    if target.id() == "temperature" && !super::phrases::in_service(words) {
        return None;
    }
    let quantity: &Quantity = match &target {
        Target::Property(id) => desk.lexicon.property(id)?,
        Target::Field(id) => desk.lexicon.field(id)?,
        Target::Key(_) => return None,
    };
    let fits = match &figure.value.unit {
        Some(unit) => unit_fits(unit, quantity),
        // "ES .44": a size is given in millimetres; the doubt about it comes with its unit.
        None => {
            let size =
                quantity.units.values().any(|u| u == "mm") && label.is_clear() && !behind && figure.value.decimals > 0;
            quantity.units.values().any(|u| u == "1") || figure.value.not_detected || size
        }
    };
    fits.then_some(label)
}

/// Whether a figure in this unit can be one of the quantity.
fn unit_fits(unit: &Unit, quantity: &Quantity) -> bool {
    quantity.units.values().any(|canonical| {
        let spelt = if canonical == "Cel" { "°C" } else { canonical };
        let Some(target) = Unit::parse(spelt) else { return canonical == "1" };
        if unit.dimension == target.dimension && (unit.kind == UnitKind::Percent) == (target.kind == UnitKind::Percent)
        {
            return true;
        }
        let mass_volume = unit.dimension.mass == 1 && unit.dimension.length == -3;
        let fraction = matches!(
            unit.kind,
            UnitKind::Percent | UnitKind::PartsPerMillion | UnitKind::Permille | UnitKind::PartsPerBillion
        );
        match canonical.as_str() {
            "eq/L" => mass_volume && (unit.substance.is_some() || unit.kind == UnitKind::Grains),
            "mg/kg" | "mg/L" => fraction || mass_volume,
            _ => false,
        }
    })
}
