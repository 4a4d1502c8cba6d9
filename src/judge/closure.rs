//! Figures that must agree because they are of one bead: what does not close is doubted, never mended.
//!
//! Takes the gathered figures, adds an [`Unclosed`] for each disagreement, and opens the volume capacity to the
//! reading that the other figures give, so that the verdict is found with both.

use super::figures::{Figures, Reading};
use super::policy::Policy;
use super::slot::Slot;
use super::words::{percent, quantity};
use super::{baseline, sizes};
use crate::record::SieveFigure;
use crate::specs::{Class, Family, Structure, dry_capacity_na};
use serde::Serialize;

/// One disagreement.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Unclosed {
    /// Permanent code of the doubt.
    pub code: String,
    /// The figure that does not close.
    pub property: String,
    /// As printed.
    pub value: f64,
    /// What the other figures make of it.
    pub expected: f64,
    /// Canonical unit of both.
    pub unit: String,
    /// The likeliest slip.
    pub slip: String,
    /// In words.
    pub text: String,
    /// Whether the verdict may rest on it.
    #[serde(skip)]
    pub weighs: bool,
    /// Whether the figures that disagree call for different verdicts, so that nobody can tell which is right.
    #[serde(skip)]
    pub asks: bool,
}

/// Volume capacity of a resin: eq/L = eq/kg dry × kg/L settled × (1 − water).
///
/// ```
/// // A published new lot: 5.16 eq/kg and 264 g/L of dry matter make 1.36 eq/L. Its density is 264 / (1 − 0.618).
/// let volume = beadwise::judge::volume_capacity(5.16, 264.0 / (1.0 - 0.618), 61.8);
/// assert!((volume - 1.36).abs() < 0.005);
/// ```
pub fn volume_capacity(dry_eq_per_kg: f64, density_g_per_l: f64, water_percent: f64) -> f64 {
    dry_eq_per_kg * density_g_per_l / 1000.0 * (1.0 - water_percent / 100.0)
}

/// Closes the figures.
pub fn close(figures: &mut Figures, sieve: &[SieveFigure], class: Option<&Class>, policy: &Policy) {
    volume(figures, class, policy);
    swelling(figures, class, policy);
    parts(figures, policy);
    beads(figures, policy);
    sizes::close(figures, sieve, policy);
}

fn volume(figures: &mut Figures, class: Option<&Class>, policy: &Policy) {
    for (volume, dry) in [(Slot::TotalVolume, Slot::TotalDry), (Slot::StrongVolume, Slot::StrongDry)] {
        let (Some(v), Some(d), Some(w)) = (figures.get(volume), figures.get(dry), figures.get(Slot::Moisture)) else {
            continue;
        };
        if v.is_open() || d.is_open() || w.is_open() || v.form != d.form || v.form != w.form {
            continue;
        }
        let (printed, dry_at, water) = (v.at(), d.at(), w.at());
        let form = v.form.clone();
        let measured =
            figures.get(Slot::BulkDensity).filter(|figure| figure.form == form).map(super::figures::Figure::at);
        let of_class = || baseline::of_class(class?, Slot::BulkDensity, form.as_deref())?.reference(Slot::BulkDensity);
        let Some(density) = measured.or_else(of_class) else { continue };
        // A density that was not measured is the class's, and one product differs from its class.
        let tolerance = policy.limits.closure_tolerance + if measured.is_some() { 0.0 } else { policy.limits.class_sd };
        let expected = volume_capacity(dry_at, density, water);
        if expected <= 0.0 || printed <= 0.0 || (printed / expected - 1.0).abs() <= tolerance {
            continue;
        }
        // On which side of the limit the bed stands; a strong-base resin's total says nothing of that.
        let limit = match (class.map(|class| class.family), volume) {
            (Some(Family::Sba), Slot::TotalVolume) => None,
            (Some(Family::Sba), _) => Some(1.0 - policy.limits.strong_loss_replace),
            _ => Some(1.0 - policy.limits.capacity_loss_replace),
        };
        let new = v.new.as_ref().and_then(|new| new.reference(volume));
        let asks = limit.zip(new).is_some_and(|(limit, new)| (printed / new <= limit) != (expected / new <= limit));
        let slip = slip(printed / expected, dry_at, water, class);
        let text = format!(
            "The volume capacity {} does not fit the dry capacity {}, settled density {} and moisture {}: they make {}. {slip}",
            quantity(printed, "eq/L"),
            quantity(dry_at, "eq/kg"),
            quantity(density, "g/L"),
            quantity(water, "%"),
            quantity(expected, "eq/L"),
        );
        figures.unclosed.push(Unclosed {
            code: "does-not-close".to_owned(),
            property: volume.property().to_owned(),
            value: printed,
            expected,
            unit: volume.unit().to_owned(),
            slip,
            text,
            weighs: true,
            asks,
        });
        if let Some(figure) = figures.by_slot.get_mut(&volume) {
            figure.readings.push(Reading { at: expected, low: expected, high: expected, weight: 1.0 });
        }
    }
}

/// A gel cation resin that has swollen has fewer sites in each litre, whatever its dry capacity.
fn swelling(figures: &mut Figures, class: Option<&Class>, policy: &Policy) {
    let gel = class.filter(|class| class.family == Family::Sac && class.structure == Structure::Gel);
    let (Some(_), Some(v), Some(w)) = (gel, figures.get(Slot::TotalVolume), figures.get(Slot::Moisture)) else {
        return;
    };
    if figures.get(Slot::TotalDry).is_some() || v.is_open() || w.is_open() || v.form != w.form {
        return;
    }
    let new = |figure: &super::figures::Figure| figure.new.as_ref().and_then(|new| new.reference(figure.slot));
    let Some((new_volume, new_water)) = new(v).zip(new(w)) else { return };
    let (printed, water) = (v.at(), w.at());
    let left = super::model::swelling_left(new_water, water, policy.limits.skeleton_density).min(1.0);
    let expected = new_volume * left;
    // Products differ from their class, so the figure may stand a good way above before it cannot be.
    let tolerance = policy.limits.closure_tolerance + policy.limits.class_sd;
    if expected <= 0.0 || printed / expected - 1.0 <= tolerance || printed / new_volume > policy.limits.capacity_ceiling
    {
        return;
    }
    let gap = policy.limits.gel_moisture_gap;
    let other_form = v.form.as_deref() == Some("Na") && (water - gap - new_water).abs() <= gap / 2.0;
    let limit = 1.0 - policy.limits.capacity_loss_replace;
    let asks = !other_form && left <= limit && printed / new_volume > limit;
    let slip = if other_form {
        format!(
            "The likeliest slip is the ionic form of the moisture: the hydrogen form stands about {gap} points above the sodium form."
        )
    } else {
        "Ask the laboratory which of the two was measured on this sample.".to_owned()
    };
    let text = format!(
        "At a moisture of {} a litre of this resin holds about {} at most, not the {} printed. {slip}",
        quantity(water, "%"),
        quantity(expected, "eq/L"),
        quantity(printed, "eq/L")
    );
    figures.unclosed.push(Unclosed {
        code: "does-not-close".to_owned(),
        property: "total_capacity".to_owned(),
        value: printed,
        expected,
        unit: "eq/L".to_owned(),
        slip,
        text,
        weighs: true,
        asks,
    });
}

fn slip(ratio: f64, dry: f64, water: f64, class: Option<&Class>) -> String {
    let near = |target: f64| (ratio / target - 1.0).abs() < 0.08;
    let share = 1.0 - water / 100.0;
    if near(10.0) || near(0.1) || near(100.0) || near(0.01) {
        "The likeliest slip is a decimal point.".to_owned()
    } else if near(21.85) || near(1.0 / 21.85) {
        "The likeliest slip is the unit: kgr/ft³ against eq/L.".to_owned()
    } else if near(1.0 / share) {
        "The likeliest slip is the basis: the dry capacity may be that of wet resin.".to_owned()
    } else if near(share) {
        "The likeliest slip is the basis: the volume capacity may be worked per wet mass, or the moisture counted twice."
            .to_owned()
    } else if class.is_some_and(|class| class.family == Family::Sac)
        && dry_capacity_na(dry).is_some_and(|na| near(na / dry))
    {
        "The likeliest slip is the ionic form: one may be in the hydrogen form.".to_owned()
    } else if ratio < 1.0 {
        "If the dry capacity is right, the volume capacity may be an operating one; ask which was measured.".to_owned()
    } else {
        "Ask the laboratory which of them was measured and which was worked out.".to_owned()
    }
}

fn parts(figures: &mut Figures, policy: &Policy) {
    for (total, strong, weak) in
        [(Slot::TotalVolume, Slot::StrongVolume, Slot::WeakVolume), (Slot::TotalDry, Slot::StrongDry, Slot::WeakDry)]
    {
        let (Some(t), Some(s)) = (figures.get(total), figures.get(strong)) else { continue };
        let w = figures.get(weak);
        if t.form != s.form || t.is_open() || s.is_open() || t.at() <= 0.0 {
            continue;
        }
        let (t, s) = (t.at(), s.at());
        let w = w.map(super::figures::Figure::at);
        let asks = s / t - 1.0 > policy.limits.parts_impossible;
        let sum = s + w.unwrap_or(0.0);
        let off = if w.is_some() { (sum - t).abs() } else { sum - t };
        if off / t <= policy.limits.parts_tolerance {
            continue;
        }
        let unit = total.unit();
        let (slip, text) = match w {
            Some(w) => (
                "One of the three may be on another basis or in another form.".to_owned(),
                format!(
                    "Strong sites {} and weak sites {} make {}, not the total {}.",
                    quantity(s, unit),
                    quantity(w, unit),
                    quantity(sum, unit),
                    quantity(t, unit)
                ),
            ),
            None => (
                "The two may have changed places.".to_owned(),
                format!(
                    "The salt-splitting capacity {} is above the total {}, of which it is a part.",
                    quantity(s, unit),
                    quantity(t, unit)
                ),
            ),
        };
        figures.unclosed.push(Unclosed {
            code: "does-not-close".to_owned(),
            property: total.property().to_owned(),
            value: t,
            expected: sum,
            unit: unit.to_owned(),
            slip,
            text,
            weighs: true,
            asks,
        });
    }
}

fn beads(figures: &mut Figures, policy: &Policy) {
    let at = |slot| figures.get(slot).filter(|figure| !figure.is_open()).map(super::figures::Figure::at);
    let (Some(whole), Some(cracked), Some(broken)) = (at(Slot::Whole), at(Slot::Cracked), at(Slot::Broken)) else {
        return;
    };
    let sum = whole + cracked + broken;
    if (sum - 100.0).abs() <= policy.limits.beads_tolerance {
        return;
    }
    let counted_in = (whole + broken - 100.0).abs() <= policy.limits.beads_tolerance;
    let slip = if counted_in {
        "The whole beads may count the cracked ones in.".to_owned()
    } else {
        "One of the three may be of another count.".to_owned()
    };
    let text = format!(
        "Whole {}, cracked {} and broken {} make {}. {slip}",
        quantity(whole, "%"),
        quantity(cracked, "%"),
        quantity(broken, "%"),
        percent(sum / 100.0)
    );
    figures.unclosed.push(Unclosed {
        code: "does-not-close".to_owned(),
        property: "whole_beads".to_owned(),
        value: whole,
        expected: 100.0 - cracked - broken,
        unit: "%".to_owned(),
        slip,
        text,
        weighs: true,
        asks: false,
    });
    if counted_in && let Some(figure) = figures.by_slot.get_mut(&Slot::Whole) {
        let expected = 100.0 - cracked - broken;
        figure.readings.push(Reading { at: expected, low: expected, high: expected, weight: 1.0 });
    }
}
