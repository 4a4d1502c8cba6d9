//! Where the capacity went and what a cleaning would bring back, as numbers.
//!
//! Takes one [`Case`], gives a [`Model`]: plain arithmetic without words, so that it can be drawn ten thousand times.

use super::case::{Case, State};
use super::slot::Slot;
use crate::specs::Family;

/// How the remaining capacity is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Known {
    /// From a capacity that was measured by volume.
    Measured(Slot),
    /// Worked from a capacity by mass and the moisture.
    Calculated(Slot),
    /// Worked from moisture alone.
    FromMoisture,
    /// Not known.
    No,
}

/// The bed's capacity, taken apart. All shares are of new capacity.
#[derive(Clone, Copy, Debug)]
pub struct Model {
    /// What is left: total sites on a cation or weak-base resin, strong sites on a strong-base one.
    pub remaining: Option<f64>,
    /// How that is known.
    pub known: Known,
    /// Lost in all.
    pub loss: f64,
    /// Lost because beads took up water.
    pub swelling: f64,
    /// Blocked or diluted by metals.
    pub blocked: f64,
    /// What of the loss metals could block or dilute at most.
    pub blocked_most: f64,
    /// Fouled by organic matter or silica.
    pub fouled: f64,
    /// Strong sites turned weak.
    pub turned_weak: f64,
    /// Sites that are gone, as the capacity by dry mass shows.
    pub lost: f64,
    /// The rest.
    pub unexplained: f64,
    /// Capacity expected after a cleaning.
    pub after: Option<f64>,
    /// Share of the bed's volume that is missing, beyond its form shift.
    pub missing: Option<f64>,
    /// Volume of the bed's polymer now against new, by moisture: above 1 when it has swollen.
    pub grown: f64,
}

/// Works out one case.
pub fn work_out(case: &Case<'_>) -> Model {
    let mut model = Model {
        remaining: None,
        known: Known::No,
        loss: 0.0,
        swelling: 0.0,
        blocked: 0.0,
        blocked_most: 0.0,
        fouled: 0.0,
        turned_weak: 0.0,
        lost: 0.0,
        unexplained: 0.0,
        after: None,
        missing: missing(case),
        grown: 1.0,
    };
    match case.info.family() {
        Family::Sba => strong_base(case, &mut model),
        Family::Sac | Family::Wac | Family::Wba => by_total(case, &mut model),
    }
    model
}

/// Capacity that a litre of gel cation resin keeps when its moisture goes from new to now and its sites stay.
///
/// The polymer shrinks to (1 − W)/ρ of a bead's volume while the packing of beads stays: capacity goes with
/// (1 − W) / ((1 − W)/ρ + W). Moistures in per cent, ρ the dry polymer's density in g/mL.
///
/// ```
/// // By hand, ρ = 1.66: new at 45 %, 0.55/0.7813 = 0.7039; now at 60 %, 0.40/0.8410 = 0.4756; 0.676 is left.
/// let left = beadwise::judge::swelling_left(45.0, 60.0, 1.66);
/// assert!((left - 0.676).abs() < 0.001);
/// ```
pub fn swelling_left(new: f64, now: f64, skeleton: f64) -> f64 {
    let packed = |percent: f64| {
        let water = (percent / 100.0).clamp(0.0, 0.999);
        (1.0 - water) / ((1.0 - water) / skeleton + water)
    };
    packed(now) / packed(new)
}

/// Share of sites that metals could block at most, and the share of dry mass that they dilute.
fn blocked_at_most(case: &Case<'_>) -> (f64, f64) {
    // Charge over molar mass, eq/g; a trivalent ion can hold three sites.
    const METALS: [(Slot, f64); 4] = [
        (Slot::Iron, 3.0 / 55.845),
        (Slot::Manganese, 2.0 / 54.938),
        (Slot::Aluminium, 3.0 / 26.982),
        (Slot::Copper, 2.0 / 63.546),
    ];
    let Some(sites) = case.info.sites.filter(|sites| *sites > 0.0) else { return (0.0, 0.0) };
    let ash = case.info.limits().ash_per_metal;
    METALS
        .iter()
        // What sound resin carries too is no foulant, and an acid would bring nothing back by taking it off.
        .filter(|(slot, _)| case.is_watch(*slot))
        .filter_map(|(slot, charge)| {
            let mg_per_kg = case.get(*slot)?;
            Some((mg_per_kg / 1000.0 * charge / sites, mg_per_kg / 1e6 * ash))
        })
        .fold((0.0, 0.0), |sum, each| (sum.0 + each.0, sum.1 + each.1))
}

fn by_total(case: &Case<'_>, model: &mut Model) {
    let info = case.info;
    let gel = info.is_gel_cation();
    let water = case.get(Slot::Moisture).zip(case.n.get(Slot::Moisture)).filter(|_| gel);
    let left_by_water = water.map(|(now, new)| swelling_left(new, now, info.skeleton).min(1.0));
    let dry = case.first_share(&[Slot::TotalDry, Slot::StrongDry, Slot::WeakDry]);
    (model.remaining, model.known) = remaining(case, left_by_water, dry);
    model.grown = left_by_water.map_or(1.0, |left| 1.0 / left.max(0.01));
    let Some(left) = model.remaining else { return };
    model.loss = (1.0 - left).max(0.0);
    let swelling = left_by_water.map_or(0.0, |left| 1.0 - left);
    let (sites, ash) = blocked_at_most(case);
    let most = (sites + ash).min(1.0);
    let blocked = (sites * case.knobs.metals_block + ash).min(1.0);
    // Both are what could be lost by either; where they overlap the loss, each has its share of it.
    let fit = |blocked: f64| if swelling + blocked > model.loss { model.loss / (swelling + blocked) } else { 1.0 };
    model.blocked_most = most * fit(most);
    let shrink = fit(blocked);
    model.swelling = swelling * shrink;
    model.blocked = blocked * shrink;
    let rest = model.loss - model.swelling - model.blocked;
    if info.family() == Family::Wba && (organics_poor(case) || case.is_poor(Slot::Silica)) {
        model.fouled = rest;
    }
    let open = rest - model.fouled;
    let gone = dry.map_or(0.0, |(_, share)| (1.0 - model.swelling) * (1.0 - share).max(0.0));
    model.lost = (gone - model.blocked).clamp(0.0, open.max(0.0));
    model.unexplained = (open - model.lost).max(0.0);
    let foulants_known = if info.family() == Family::Wba { info.organics_known } else { info.metals_known };
    let knobs = &case.knobs;
    let mut back = knobs.restored * model.blocked + knobs.organics_restored * model.fouled;
    if !foulants_known {
        back += knobs.unknown_restored * (model.unexplained + model.lost);
    }
    // A cleaning that has gone before this sample has already brought back what it could.
    model.after = Some(left + if info.cleaned { 0.0 } else { back });
}

fn remaining(case: &Case<'_>, by_water: Option<f64>, dry: Option<(Slot, f64)>) -> (Option<f64>, Known) {
    let volume = match case.info.family() {
        Family::Sac => [Slot::TotalVolume, Slot::StrongVolume],
        _ => [Slot::TotalVolume, Slot::WeakVolume],
    };
    // A cation's strong sites are part of its total; where both were measured, the one that is further gone counts.
    let measured = volume.into_iter().filter_map(|slot| case.share(slot).map(|share| (slot, share)));
    let measured = if case.info.family() == Family::Sac {
        measured.min_by(|a, b| a.1.total_cmp(&b.1))
    } else {
        measured.take(1).next()
    };
    if let Some((slot, share)) = measured {
        return (Some(share), Known::Measured(slot));
    }
    if let Some(((slot, share), water)) = dry.zip(by_water) {
        return (Some(share * water), Known::Calculated(slot));
    }
    if let Some((slot, share)) = case.first_share(&[Slot::TotalWet, Slot::StrongWet, Slot::WeakWet]) {
        return (Some(share), Known::Calculated(slot));
    }
    if let Some((slot, share)) = dry {
        return (Some(share), Known::Calculated(slot));
    }
    match by_water.filter(|_| case.info.moisture_form_known) {
        Some(water) => (Some(water), Known::FromMoisture),
        None => (None, Known::No),
    }
}

/// Whether any organic figure is past its poor cut.
pub fn organics_poor(case: &Case<'_>) -> bool {
    [Slot::OrganicsToc, Slot::OrganicsCod, Slot::OrganicsPermanganate].iter().any(|slot| case.is_poor(*slot))
}

/// Whether any organic figure is past its watch cut.
pub fn organics_watch(case: &Case<'_>) -> bool {
    [Slot::OrganicsToc, Slot::OrganicsCod, Slot::OrganicsPermanganate].iter().any(|slot| case.is_watch(*slot))
}

/// Strong, total and weak sites on the first basis where strong ones are known or can be worked out.
struct Sites {
    slot: Slot,
    strong: f64,
    weak: Option<f64>,
    measured: bool,
}

fn strong_sites(case: &Case<'_>) -> Option<Sites> {
    let bases = [
        (Slot::StrongVolume, Slot::TotalVolume, Slot::WeakVolume),
        (Slot::StrongDry, Slot::TotalDry, Slot::WeakDry),
        (Slot::StrongWet, Slot::TotalWet, Slot::WeakWet),
    ];
    bases.iter().find_map(|(strong, total, weak)| {
        case.n.get(*strong)?;
        let (s, t, w) = (case.get(*strong), case.get(*total), case.get(*weak));
        match (s, t, w) {
            (Some(s), t, w) => {
                Some(Sites { slot: *strong, strong: s, weak: w.or(t.map(|t| (t - s).max(0.0))), measured: true })
            }
            (None, Some(t), Some(w)) => {
                Some(Sites { slot: *total, strong: (t - w).max(0.0), weak: Some(w), measured: false })
            }
            _ => None,
        }
    })
}

fn strong_base(case: &Case<'_>, model: &mut Model) {
    let Some(sites) = strong_sites(case) else { return };
    let limits = case.info.limits();
    let (strong_slot, weak_slot) = match sites.slot {
        Slot::StrongDry | Slot::TotalDry => (Slot::StrongDry, Slot::WeakDry),
        Slot::StrongWet | Slot::TotalWet => (Slot::StrongWet, Slot::WeakWet),
        _ => (Slot::StrongVolume, Slot::WeakVolume),
    };
    let Some(new) = case.n.get(strong_slot).filter(|new| *new > 0.0) else { return };
    let left = sites.strong / new;
    model.remaining = Some(left);
    model.known = if sites.measured { Known::Measured(sites.slot) } else { Known::Calculated(sites.slot) };
    model.loss = (1.0 - left).max(0.0);
    let new_weak = case.n.get(weak_slot).or_else(|| weak_of_new(case, strong_slot));
    let gain = sites.weak.zip(new_weak).map_or(0.0, |(weak, new_weak)| ((weak - new_weak) / new).max(0.0));
    // Sorbed organic acids exchange as weak sites do, so on a loaded resin a gain may be either.
    let either = match (organics_poor(case), organics_watch(case)) {
        (true, _) => case.knobs.weak_is_fouling,
        (false, true) => case.knobs.weak_is_fouling * limits.fouled_when_watched,
        (false, false) => 0.0,
    };
    let gain = gain.min(model.loss);
    model.turned_weak = gain * (1.0 - either);
    let rest = model.loss - model.turned_weak;
    let iron = case.is_poor(Slot::Iron) || case.is_poor(Slot::Calcium) || case.is_poor(Slot::Silica);
    let share = match (organics_poor(case), organics_watch(case) || iron) {
        (true, _) => 1.0,
        (false, true) => limits.fouled_when_watched,
        (false, false) => 0.0,
    };
    model.fouled = gain * either + (rest - gain * either) * share;
    let open = rest - model.fouled;
    if case.info.organics_known {
        model.lost = open;
    } else {
        model.unexplained = open;
    }
    let knobs = &case.knobs;
    let back = knobs.organics_restored * model.fouled + knobs.unknown_restored * model.unexplained;
    model.after = Some(left + if case.info.cleaned { 0.0 } else { back });
}

/// Weak sites of new resin where only its strong and total ones are given.
fn weak_of_new(case: &Case<'_>, strong: Slot) -> Option<f64> {
    let total = match strong {
        Slot::StrongDry => Slot::TotalDry,
        Slot::StrongWet => Slot::TotalWet,
        _ => Slot::TotalVolume,
    };
    Some((case.n.get(total)? - case.n.get(strong)?).max(0.0))
}

/// Share of the bed at start-up that is missing, beyond what its state explains.
fn missing(case: &Case<'_>) -> Option<f64> {
    let area = case.get(Slot::TankBore).map(|bore| std::f64::consts::PI / 4.0 * bore * bore * 1000.0);
    let drop = case.get(Slot::Freeboard).zip(case.get(Slot::FreeboardAtStartup)).map(|(now, start)| now - start);
    let (now, start) = (case.get(Slot::BedVolume), case.get(Slot::BedVolumeAtStartup));
    let share = if let Some((now, start)) = now.zip(start) {
        1.0 - now / start
    } else if let Some((drop, depth)) = drop.zip(case.get(Slot::BedDepth)) {
        drop / (depth + drop)
    } else {
        let litres = drop? * area?;
        match (now, start) {
            (_, Some(start)) => litres / start,
            (Some(now), _) => litres / (now + litres),
            _ => return None,
        }
    };
    let state = case.info.state;
    let shrinkage = if state == State::Regenerated { 0.0 } else { case.knobs.shrinkage };
    let share = 1.0 - (1.0 - share) / (1.0 - shrinkage.min(0.9));
    share.is_finite().then_some(share)
}
