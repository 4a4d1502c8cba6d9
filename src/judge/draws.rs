//! The measurements' uncertainties carried through the model, by drawing them.
//!
//! Takes an [`Info`], gives the shares of the verdicts and the spread of the model's numbers. The seed is policy, so
//! that the same record gives the same answer.

use super::baseline::From;
use super::case::{Case, Info, State};
use super::decide::verdict;
use super::figures::{Figure, Reading};
use super::findings::Findings;
use super::model::{Model, work_out};
use super::rules::ask_all;
use super::slot::Slot;

/// Numbers that look random and repeat: splitmix64.
pub struct Draw(u64);

impl Draw {
    /// Starts from a seed.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Even over 0 to 1.
    #[allow(clippy::cast_precision_loss, reason = "53 bits fit a double")]
    pub fn even(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Normal with mean 0 and deviation 1.
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.even()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.even()).cos()
    }

    /// Triangular between low and high with its peak at best.
    pub fn triangle(&mut self, low: f64, best: f64, high: f64) -> f64 {
        let width = high - low;
        if width <= 0.0 {
            return best;
        }
        let even = self.even();
        let peak = (best - low) / width;
        if even < peak {
            low + (even * width * (best - low)).sqrt()
        } else {
            high - ((1.0 - even) * width * (high - best)).sqrt()
        }
    }
}

/// Wilson's interval of a share that was counted: its ends, at z standard deviations.
///
/// ```
/// // Newcombe, Statistics in Medicine 17 (1998) 857-872: 81 of 263 at 95 %.
/// let (low, high) = beadwise::judge::wilson(81.0 / 263.0, 263.0, 1.959_963_984_540_054);
/// assert!((low - 0.2553).abs() < 5e-5 && (high - 0.3662).abs() < 5e-5);
/// ```
pub fn wilson(share: f64, count: f64, z: f64) -> (f64, f64) {
    let shrunk = 1.0 + z * z / count;
    let centre = (share + z * z / (2.0 * count)) / shrunk;
    let half = z * (share * (1.0 - share) / count + z * z / (4.0 * count * count)).sqrt() / shrunk;
    (centre - half, centre + half)
}

/// What the draws gave.
#[derive(Clone, Debug, Default)]
pub struct Drawn {
    /// Share of each verdict.
    pub shares: [f64; 5],
    /// The models, for their spread.
    pub models: Vec<Model>,
}

impl Drawn {
    /// The fifth and ninety-fifth of a hundred of one of the model's numbers.
    pub fn spread(&self, number: impl Fn(&Model) -> Option<f64>) -> Option<(f64, f64)> {
        let mut all: Vec<f64> = self.models.iter().filter_map(number).filter(|v| v.is_finite()).collect();
        all.sort_by(f64::total_cmp);
        let at = |share: usize| all.get((all.len().saturating_sub(1)) * share / 100).copied();
        at(5).zip(at(95))
    }
}

/// Draws a record so many times.
pub fn draw(info: &Info<'_>, times: f64) -> Drawn {
    let limits = info.limits();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to 1 to 1,000,000")]
    let count = times.clamp(1.0, 1e6) as usize;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "any number does for a seed")]
    let mut draw = Draw::new(limits.seed as u64);
    let central = info.central();
    let mut findings = Findings::quiet();
    let mut drawn = Drawn::default();
    for _ in 0..count {
        let case = one(&central, &mut draw);
        let model = work_out(&case);
        findings.clear();
        ask_all(&case, &model, &mut findings);
        let (verdict, _) = verdict(&findings);
        if let Some(share) = drawn.shares.get_mut(verdict as usize) {
            *share += 1.0;
        }
        drawn.models.push(model);
    }
    let total: f64 = drawn.shares.iter().sum();
    for share in &mut drawn.shares {
        *share /= total.max(1.0);
    }
    drawn
}

fn one<'a>(central: &Case<'a>, draw: &mut Draw) -> Case<'a> {
    let info = central.info;
    let limits = info.limits();
    let mut case = *central;
    for (slot, figure) in &info.figures.by_slot {
        case.v.set(*slot, Some(one_figure(*slot, figure, draw)));
    }
    // One product differs from its class in all its capacities alike, so they share one deviation.
    let product = draw.normal();
    let water = draw.normal();
    for slot in Slot::ALL.iter().copied().filter(|slot| slot.is_capacity()) {
        let from = info.figures.get(slot).and_then(|figure| figure.new.as_ref()).map_or(From::Class, |new| new.from);
        let sd = match from {
            From::Bed => limits.capacity_sd,
            From::Sheet | From::Report => limits.sheet_sd,
            From::Class => limits.class_sd,
        };
        case.n.set(slot, central.n.get(slot).map(|new| new * (1.0 + sd * product)));
    }
    let from = info.figures.get(Slot::Moisture).and_then(|figure| figure.new.as_ref()).map(|new| new.from);
    let sd = if from == Some(From::Class) { limits.class_moisture_sd } else { limits.moisture_sd };
    case.n.set(Slot::Moisture, central.n.get(Slot::Moisture).map(|new| new + sd * water));
    let knobs = &mut case.knobs;
    knobs.metals_block = draw.triangle(limits.metals_block_low, limits.metals_block_best, limits.metals_block_high);
    knobs.restored =
        draw.triangle(limits.cleaning_restores_low, limits.cleaning_restores_best, limits.cleaning_restores_high);
    knobs.organics_restored =
        draw.triangle(limits.organics_restored_low, limits.organics_restored_best, limits.organics_restored_high);
    knobs.unknown_restored = draw.triangle(0.0, limits.unknown_restored_best, limits.unknown_restored_high);
    knobs.weak_is_fouling = draw.triangle(0.0, limits.weak_gain_is_fouling, 1.0);
    let (low, high) = info.shrinkage;
    let even = draw.even();
    knobs.shrinkage = match info.state {
        State::Regenerated => 0.0,
        State::Exhausted => low + (high - low) * even,
        State::Unknown => low.min(0.0) + (high.max(0.0) - low.min(0.0)) * even,
    };
    case
}

fn one_figure(slot: Slot, figure: &Figure, draw: &mut Draw) -> f64 {
    let reading = pick(&figure.readings, draw.even());
    let even = draw.even();
    let normal = draw.normal();
    let value = reading.low + (reading.high - reading.low) * even;
    let value = match figure.counted {
        Some(count) => {
            let (low, high) = wilson((value / 100.0).clamp(0.0, 1.0), count, 1.0);
            100.0 * ((low + high) / 2.0 + (high - low) / 2.0 * normal)
        }
        None => value + figure.sd * normal,
    };
    if slot.is_percentage() { value.clamp(0.0, 100.0) } else { value.max(0.0) }
}

fn pick(readings: &[Reading], even: f64) -> Reading {
    let total: f64 = readings.iter().map(|reading| reading.weight).sum();
    let mut rest = even * total;
    for reading in readings {
        rest -= reading.weight;
        if rest <= 0.0 {
            return *reading;
        }
    }
    readings.last().copied().unwrap_or(Reading { at: f64::NAN, low: f64::NAN, high: f64::NAN, weight: 1.0 })
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a failed test is what a panic is for")]
mod tests {
    use super::*;

    /// Newcombe, Statistics in Medicine 17 (1998) 857-872, score method at 95 %; the last two from memory.
    #[test]
    fn wilson_intervals_are_the_published_ones() {
        let z = 1.959_963_984_540_054;
        for (hits, of, low, high) in [
            (81.0, 263.0, 0.2553, 0.3662),
            (15.0, 148.0, 0.0624, 0.1605),
            (0.0, 20.0, 0.0, 0.1611),
            (1.0, 29.0, 0.0061, 0.1718),
        ] {
            let (got_low, got_high) = wilson(hits / of, of, z);
            assert!((got_low - low).abs() < 5e-5, "{hits}/{of}: {got_low}");
            assert!((got_high - high).abs() < 5e-5, "{hits}/{of}: {got_high}");
        }
    }

    fn quantiles(mut values: Vec<f64>, low: f64, high: f64) -> (f64, f64) {
        values.sort_by(f64::total_cmp);
        let at = |share: f64| {
            #[allow(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                clippy::cast_precision_loss,
                reason = "a place in the list"
            )]
            let place = (share * values.len() as f64) as usize;
            values[place.min(values.len() - 1)]
        };
        (at(low), at(high))
    }

    /// JCGM 101:2008, 9.2.2 and 9.2.3: the sum of four standard normals spans ±3.92 at 95 %, of four rectangulars ±3.88.
    #[test]
    fn sums_of_draws_spread_as_jcgm_101_says() {
        let mut draw = Draw::new(1);
        let normal: Vec<f64> = (0..200_000).map(|_| (0..4).map(|_| draw.normal()).sum()).collect();
        let (low, high) = quantiles(normal, 0.025, 0.975);
        assert!((low + 3.92).abs() < 0.04 && (high - 3.92).abs() < 0.04, "{low} {high}");
        let root = 3.0_f64.sqrt();
        let even: Vec<f64> = (0..200_000).map(|_| (0..4).map(|_| (2.0 * draw.even() - 1.0) * root).sum()).collect();
        let (low, high) = quantiles(even, 0.025, 0.975);
        assert!((low + 3.88).abs() < 0.04 && (high - 3.88).abs() < 0.04, "{low} {high}");
    }

    /// NPL DEM-ES-011, 9.2: the logarithm of an even draw between 0.1 and 1.1 has mean −0.665 and deviation 0.606.
    #[test]
    fn the_logarithm_of_an_even_draw_is_as_published() {
        let mut draw = Draw::new(2);
        let count = 200_000_u32;
        let logs: Vec<f64> = (0..count).map(|_| (0.1 + draw.even()).ln()).collect();
        let mean = logs.iter().sum::<f64>() / f64::from(count);
        let sd = (logs.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / f64::from(count)).sqrt();
        assert!((mean + 0.665).abs() < 0.004 && (sd - 0.606).abs() < 0.004, "{mean} {sd}");
    }

    #[test]
    fn a_triangle_stays_within_its_ends_and_peaks_where_told() {
        let mut draw = Draw::new(3);
        let all: Vec<f64> = (0..20_000).map(|_| draw.triangle(0.3, 0.7, 1.0)).collect();
        assert!(all.iter().all(|v| (0.3..=1.0).contains(v)));
        // Mean of a triangle: a third of the sum of its three points.
        let mean = all.iter().sum::<f64>() / 20_000.0;
        assert!((mean - 2.0 / 3.0).abs() < 0.005, "{mean}");
    }
}
