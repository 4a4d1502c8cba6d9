//! How much resin is in the tank, how much is missing, and how much new resin there is room for.

use super::bed::{Facts, Spread, State};
use super::knowledge::Fact;
use crate::judge::swelling_left;
use crate::specs::Class;
use serde::Serialize;

/// The bed in its tank.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Geometry {
    /// Cross-section, m².
    pub area: Option<f64>,
    /// Volume as measured, L.
    pub volume: Option<f64>,
    /// Whether that volume is only the one at start-up, for want of a measured one.
    pub taken_from_startup: bool,
    /// Volume by bore and depth, L, where both were told beside a volume: the two should agree.
    pub by_depth: Option<f64>,
    /// Volume at start-up, L.
    pub volume_at_startup: Option<f64>,
    /// Depth as measured, m.
    pub depth: Option<f64>,
    /// How far the surface stands below start-up, m.
    pub drop: Option<f64>,
    /// Bore of the tank, m.
    pub bore: Option<f64>,
}

/// Litres in a cylinder of this cross-section (m²) and height (m).
fn litres(area: f64, height: f64) -> f64 {
    area * height * 1000.0
}

/// Works the bed's volume out from what was measured.
///
/// V = π/4 · bore² · depth, with the bottom head's volume (a share of bore³) less the gravel where the depth is taken
/// from the tank's height. Source: UFC 3-240-13FN (2005), before 2-2.5.1.4.4.
pub fn geometry(facts: &Facts<'_>) -> Geometry {
    let bore = facts.look(Fact::TankBore);
    let told = |fact| facts.bed.known(fact).map(|known| known.value);
    let area = bore.map(|bore| std::f64::consts::PI / 4.0 * bore * bore).or_else(|| {
        let (volume, depth) = told(Fact::BedVolume).zip(told(Fact::BedDepth))?;
        Some(volume / 1000.0 / depth)
    });
    let below = |bore: f64| {
        let head = facts.look(Fact::BottomHead).unwrap_or(0.0) * bore.powi(3) * 1000.0;
        head - facts.look(Fact::Gravel).unwrap_or(0.0)
    };
    let by_tank = |freeboard| {
        let (height, freeboard) = facts.look(Fact::TankHeight).zip(facts.look(freeboard))?;
        Some(litres(area?, height - freeboard) + bore.map_or(0.0, below)).filter(|volume| *volume > 0.0)
    };
    let drop = facts.look(Fact::Freeboard).zip(facts.look(Fact::FreeboardAtStartup)).map(|(now, start)| now - start);
    let lost = drop.zip(area).map(|(drop, area)| litres(area, drop));
    let by_depth = || Some(litres(area?, facts.look(Fact::BedDepth)?));
    let checked = told(Fact::BedVolume).zip(bore).and_then(|_| by_depth());
    let mut volume = facts.look(Fact::BedVolume).or_else(by_depth).or_else(|| by_tank(Fact::Freeboard));
    let start = facts
        .look(Fact::BedVolumeAtStartup)
        .or_else(|| by_tank(Fact::FreeboardAtStartup))
        .or_else(|| Some(volume? + lost?));
    let mut taken_from_startup = false;
    if volume.is_none() {
        volume = start.zip(lost).map(|(start, lost)| start - lost).filter(|volume| *volume > 0.0);
        taken_from_startup = volume.is_none() && start.is_some();
        volume = volume.or(start);
    }
    let depth = facts.look(Fact::BedDepth).or_else(|| Some(volume? / 1000.0 / area?));
    Geometry { area, volume, taken_from_startup, by_depth: checked, volume_at_startup: start, depth, drop, bore }
}

/// Why there is no top-off.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Withheld {
    /// Volume or freeboard at start-up is not known.
    Unknown,
    /// What is missing may be the smaller beads of an exhausted bed.
    WithinFormShift,
    /// Less is missing than matters.
    TooLittle,
    /// The bed stands as high as at start-up, or higher.
    Full,
    /// The resin is to be replaced.
    Replaced,
}

/// What is missing and what goes in.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TopOff {
    /// Share that an exhausted bed stands lower by: the least and most allowed for.
    pub form_shift: (f64, f64),
    /// Volume now if regenerated, L.
    pub regenerated: Option<Spread>,
    /// Room up to the level at start-up, L; below zero where the bed has risen above it.
    pub room: Option<Spread>,
    /// How many times its new volume the resin has swollen to.
    pub swollen: f64,
    /// Beads gone, in litres of new resin: what the swelling hides is in it.
    pub lost: Option<f64>,
    /// Least share of the bed that matters.
    pub matters_from: f64,
    /// New resin to load, L.
    pub litres: Option<f64>,
    /// Litres in a bag.
    pub bag: f64,
    /// Whole bags to buy.
    pub bags: Option<f64>,
    /// Why nothing is loaded.
    pub withheld: Option<Withheld>,
}

/// Works out what is missing.
///
/// A bed measured exhausted stands lower by its form, and so is taken up to its regenerated volume first; a swollen
/// one stands higher, so that it can be full and yet have lost beads. What is loaded never exceeds the room to the
/// level at start-up, taken at its least.
pub fn top_off(facts: &Facts<'_>, shape: &Geometry, class: &Class, skeleton: f64, matters_from: f64) -> TopOff {
    let fact = |name| class.fact(name).unwrap_or(0.0).clamp(0.0, 0.9);
    let (least, most) = (fact("exhausted_shrinkage_low"), fact("exhausted_shrinkage_high"));
    let form_shift = match facts.bed.about.state {
        State::Regenerated => (0.0, 0.0),
        State::Exhausted => (least, most),
        State::Unknown => (0.0, most),
    };
    // A volume of unknown state is mostly the nominal one: it stands as told, and the form only widens its range.
    let middle = if facts.bed.about.state == State::Unknown { 0.0 } else { f64::midpoint(form_shift.0, form_shift.1) };
    let up = |volume: f64, shift: f64| volume / (1.0 - shift);
    let regenerated = shape.volume.map(|volume| Spread {
        low: up(volume, form_shift.0),
        best: up(volume, middle),
        high: up(volume, form_shift.1),
    });
    let start = shape.volume_at_startup.filter(|_| shape.drop.is_some() || told_volumes(facts));
    let room = regenerated.zip(start).map(|(now, start)| Spread {
        low: start - now.high,
        best: start - now.best,
        high: start - now.low,
    });
    let gel = class.id.contains("gel") && class.family == crate::specs::Family::Sac;
    let swollen = facts
        .bed
        .known(Fact::MoistureNew)
        .zip(facts.bed.known(Fact::Moisture))
        .filter(|_| gel)
        .map(|(new, now)| 1.0 / swelling_left(new.value, now.value, skeleton))
        .filter(|grown| *grown > 1.0 && grown.is_finite())
        .unwrap_or(1.0);
    let lost = regenerated.zip(start).map(|(now, start)| (start - now.best / swollen).max(0.0));
    let bag = facts.look(Fact::Bag).unwrap_or(super::softening::L_PER_FT3);
    let (litres, withheld) = match room.zip(start) {
        None => {
            facts.ask(Fact::FreeboardAtStartup);
            for fact in [Fact::Freeboard, Fact::TankBore] {
                if facts.bed.known(fact).is_none() {
                    facts.ask(fact);
                }
            }
            (None, Some(Withheld::Unknown))
        }
        Some((room, start)) => match load(room, start, matters_from, facts.bed.about.state) {
            Ok(_) if replaced(facts) => (None, Some(Withheld::Replaced)),
            Ok(litres) => (Some(litres), None),
            Err(why) => (None, Some(why)),
        },
    };
    let bags = litres.map(|litres| (litres / bag - 1e-9).ceil());
    TopOff { form_shift, regenerated, room, swollen, lost, matters_from, litres, bag, bags, withheld }
}

fn told_volumes(facts: &Facts<'_>) -> bool {
    facts.bed.known(Fact::BedVolume).is_some() && facts.bed.known(Fact::BedVolumeAtStartup).is_some()
}

fn replaced(facts: &Facts<'_>) -> bool {
    facts.bed.about.verdict == Some(crate::judge::Verdict::Replace)
}

/// Litres to load into a room, beside the volume at start-up.
fn load(room: Spread, start: f64, matters_from: f64, state: State) -> Result<f64, Withheld> {
    if room.high <= 0.0 {
        return Err(Withheld::Full);
    }
    if room.high / start <= matters_from {
        return Err(Withheld::TooLittle);
    }
    // Of a bed that is known to be exhausted its middle shift tells whether it matters, as it tells the verdict; of
    // one of unknown state only what no shift explains.
    let sure = if state == State::Unknown { room.low } else { room.best };
    if sure / start <= matters_from || room.low <= 0.0 {
        return Err(if room.low == room.high { Withheld::TooLittle } else { Withheld::WithinFormShift });
    }
    // What is loaded stays; more can follow when the bed was measured regenerated.
    Ok(room.low)
}

/// Share of new capacity of a bed that is part old and part new resin: volumes in L, share of the old.
///
/// ```
/// // By hand: 9 parts at 80 % and 1 part new: (9 x 0.8 + 1) / 10 = 0.82.
/// assert!((beadwise::plan::mixed_share(90.0, 0.8, 10.0) - 0.82).abs() < 1e-12);
/// ```
pub fn mixed_share(old: f64, share: f64, new: f64) -> f64 {
    (old * share + new) / (old + new)
}
