//! When a line meets its limit, how sure that is, and which point does not belong to the line.
//!
//! Takes points in years, gives dates in years. Robust to one bad point: it is named and left out of the line.

use super::regress::{Belief, Fit, Row, Scatter, fit, theil_sen};

/// What is known before any point is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prior {
    /// The line at year zero.
    pub start: Belief,
    /// Change in a year.
    pub slope: Belief,
    /// Scatter of one measurement.
    pub scatter: Scatter,
    /// Spread between laboratories; none where they are not told apart.
    pub laboratories: Option<f64>,
    /// What a cleaning may bring back; flat where it is not known.
    pub step: Belief,
}

impl Prior {
    /// Nothing is known: ordinary least squares.
    pub const FLAT: Self = Self {
        start: Belief::FLAT,
        slope: Belief::FLAT,
        scatter: Scatter::UNKNOWN,
        laboratories: None,
        step: Belief::FLAT,
    };
}

/// One point of a series.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Years since the start.
    pub years: f64,
    /// Measured.
    pub value: f64,
    /// Which laboratory, by number.
    pub laboratory: usize,
}

/// When a point counts as odd.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Oddity {
    /// Fewest points among which one can be called odd.
    pub points: usize,
    /// Deviations from the line of all the others.
    pub deviations: f64,
}

/// A line through a series.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    fit: Fit,
    steps: Vec<f64>,
    laboratories: usize,
    /// Number of the point that does not belong to it.
    pub odd: Option<usize>,
    /// How many deviations that point lies from the line of all others.
    pub odd_by: f64,
    /// Slope of Theil and Sen through the same points, for comparison.
    pub robust_slope: Option<f64>,
}

/// When a limit is met, in years since the start. None: not within the years looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Crossing {
    /// With a chance of one in ten it is earlier.
    pub earliest: Option<f64>,
    /// As likely earlier as later.
    pub likely: Option<f64>,
    /// With a chance of one in ten it is later.
    pub latest: Option<f64>,
}

/// Draws the line; `steps` are the years at which a cleaning or the like may have moved it.
///
/// ```
/// use beadwise::beds::forecast::{Oddity, Point, Prior, draw};
/// // Constructed: limit 75; the line by least squares meets it at 10.84 years.
/// let points: Vec<Point> = [100.0, 97.5, 96.0, 92.5, 91.0, 88.0, 86.5]
///     .iter()
///     .zip(0..)
///     .map(|(value, year)| Point { years: f64::from(year), value: *value, laboratory: 0 })
///     .collect();
/// let line = draw(&points, &[], &Prior::FLAT, Oddity { points: 4, deviations: 9.0 }).unwrap();
/// let met = line.crossing(75.0, true, 0.5, 0.0, 40.0).unwrap();
/// assert!((met - 10.84496).abs() < 1e-4);
/// ```
pub fn draw(points: &[Point], steps: &[f64], prior: &Prior, oddity: Oddity) -> Option<Line> {
    let laboratories = match prior.laboratories {
        Some(_) => points.iter().map(|point| point.laboratory + 1).max().filter(|count| *count > 1).unwrap_or(0),
        None => 0,
    };
    let mut beliefs = vec![prior.start, prior.slope];
    beliefs.extend(steps.iter().map(|_| prior.step));
    let spread = Belief { mean: 0.0, sd: prior.laboratories.unwrap_or(f64::INFINITY) };
    beliefs.extend(std::iter::repeat_n(spread, laboratories));
    let rows: Vec<Row> = points
        .iter()
        .map(|point| Row {
            knowns: knowns(point.years, steps, laboratories, Some(point.laboratory)),
            measured: point.value,
        })
        .collect();
    let all = fit(&rows, &beliefs, prior.scatter)?;
    let (mut odd, mut odd_by) = (None, 0.0);
    let mut best = all;
    if points.len() >= oddity.points {
        for at in 0..rows.len() {
            let others: Vec<Row> =
                rows.iter().enumerate().filter(|(other, _)| *other != at).map(|(_, row)| row.clone()).collect();
            let (Some(without), Some(row)) = (fit(&others, &beliefs, prior.scatter), rows.get(at)) else { continue };
            let (expected, deviation) = without.at(&row.knowns);
            let whole = (deviation * deviation + without.scatter * without.scatter).sqrt();
            let apart = (row.measured - expected).abs() / whole;
            if apart > oddity.deviations && apart > odd_by {
                (odd, odd_by, best) = (Some(at), apart, without);
            }
        }
    }
    let pairs: Vec<(f64, f64)> = points.iter().map(|point| (point.years, point.value)).collect();
    let robust_slope = theil_sen(&pairs).map(|(slope, _)| slope);
    Some(Line { fit: best, steps: steps.to_vec(), laboratories, odd, odd_by, robust_slope })
}

fn knowns(years: f64, steps: &[f64], laboratories: usize, laboratory: Option<usize>) -> Vec<f64> {
    let mut knowns = vec![1.0, years];
    knowns.extend(steps.iter().map(|step| if years >= *step { 1.0 } else { 0.0 }));
    knowns.extend((0..laboratories).map(|at| if Some(at) == laboratory { 1.0 } else { 0.0 }));
    knowns
}

impl Line {
    /// Change in a year: best, and the ends of a two-sided interval of this share.
    pub fn slope(&self, share: f64) -> (f64, f64, f64) {
        let best = self.fit.coefficients.get(1).copied().unwrap_or(f64::NAN);
        let reach = self.fit.reach(share) * self.fit.deviation(1);
        (best - reach, best, best + reach)
    }

    /// The line at a year, and its standard deviation.
    pub fn at(&self, years: f64) -> (f64, f64) {
        self.fit.at(&self.knowns(years))
    }

    /// Chance that the line has met the limit by a year; `falling` says from which side.
    pub fn chance(&self, limit: f64, falling: bool, years: f64) -> f64 {
        let below = self.fit.chance_below(&self.knowns(years), limit);
        if falling { below } else { 1.0 - below }
    }

    /// The first year from `from` on, up to `to`, at which that chance reaches a share.
    pub fn crossing(&self, limit: f64, falling: bool, share: f64, from: f64, to: f64) -> Option<f64> {
        let reached = |years: f64| self.chance(limit, falling, years) >= share;
        if reached(from) {
            return Some(from);
        }
        let mut low = from;
        // A quarter of a year is finer than any step in a bed's life; the bisection does the rest.
        let mut high = loop {
            let next = low + 0.25;
            if next > to {
                return None;
            }
            if reached(next) {
                break next;
            }
            low = next;
        };
        for _ in 0..50 {
            let middle = f64::midpoint(low, high);
            if reached(middle) {
                high = middle;
            } else {
                low = middle;
            }
        }
        Some(high)
    }

    /// When the limit is met, with an interval of eighty in a hundred.
    pub fn meets(&self, limit: f64, falling: bool, from: f64, to: f64) -> Crossing {
        let at = |share| self.crossing(limit, falling, share, from, to);
        Crossing { earliest: at(0.1), likely: at(0.5), latest: at(0.9) }
    }

    fn knowns(&self, years: f64) -> Vec<f64> {
        knowns(years, &self.steps, self.laboratories, None)
    }
}

#[cfg(test)]
#[path = "forecast_tests.rs"]
mod tests;
