//! Straight-line arithmetic: least squares with or without prior knowledge, and the robust slope of Theil and Sen.
//!
//! Takes rows of numbers, gives a [`Fit`]. Knows nothing of resin.
//!
//! Prior knowledge enters as rows of its own, so that one solver serves both: with a flat prior it is ordinary least
//! squares, and as points gather the data outweigh any prior. The solver is Householder's, which keeps all digits.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// One observation: the known numbers of its row, and what was measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// One number for each coefficient.
    pub knowns: Vec<f64>,
    /// What was measured.
    pub measured: f64,
}

/// What is known of a coefficient beforehand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Belief {
    /// Expected value.
    pub mean: f64,
    /// Standard deviation; infinite where nothing is known.
    pub sd: f64,
}

impl Belief {
    /// Nothing is known.
    pub const FLAT: Self = Self { mean: 0.0, sd: f64::INFINITY };

    fn is_flat(self) -> bool {
        !(self.sd.is_finite() && self.sd > 0.0)
    }
}

/// What is known beforehand of the scatter of single measurements.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scatter {
    /// Standard deviation of one measurement.
    pub sd: f64,
    /// How many measurements that knowledge is worth; zero where nothing is known.
    pub worth: f64,
}

impl Scatter {
    /// Nothing is known: the scatter comes from the measurements alone.
    pub const UNKNOWN: Self = Self { sd: 1.0, worth: 0.0 };
}

/// A fitted line.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// Best value of each coefficient.
    pub coefficients: Vec<f64>,
    /// Standard deviation of one measurement around the line.
    pub scatter: f64,
    /// Degrees of freedom of every interval.
    pub freedom: f64,
    /// Upper triangle of the solved system, row by row.
    triangle: Vec<Vec<f64>>,
}

/// Fits; none where there are too few rows for what is asked, or they do not tell the coefficients apart.
///
/// ```
/// use beadwise::beds::regress::{Belief, Row, Scatter, fit};
/// let rows: Vec<Row> = [(0.0, 1.0), (1.0, 3.1), (2.0, 4.9)]
///     .iter()
///     .map(|(x, y)| Row { knowns: vec![1.0, *x], measured: *y })
///     .collect();
/// let line = fit(&rows, &[Belief::FLAT; 2], Scatter::UNKNOWN).unwrap();
/// // Slope (4.9 − 1.0) / 2 by hand, for three points at equal steps.
/// assert!((line.coefficients[1] - 1.95).abs() < 1e-12);
/// ```
pub fn fit(rows: &[Row], beliefs: &[Belief], scatter: Scatter) -> Option<Fit> {
    let width = beliefs.len();
    if width == 0 || rows.iter().any(|row| row.knowns.len() != width) {
        return None;
    }
    let mut system: Vec<Vec<f64>> = Vec::with_capacity(rows.len() + width);
    for row in rows {
        let mut line = row.knowns.clone();
        line.push(row.measured);
        system.push(line);
    }
    for (at, belief) in beliefs.iter().enumerate().filter(|(_, belief)| !belief.is_flat()) {
        let weight = scatter.sd / belief.sd;
        let mut line = vec![0.0; width + 1];
        *line.get_mut(at)? = weight;
        *line.get_mut(width)? = weight * belief.mean;
        system.push(line);
    }
    let equations = system.len();
    if equations < width || system.iter().flatten().any(|number| !number.is_finite()) {
        return None;
    }
    triangulate(&mut system, width)?;
    let left: f64 = system.iter().skip(width).filter_map(|line| line.get(width)).map(|rest| rest * rest).sum();
    let freedom = scatter.worth + f64::from(u32::try_from(equations - width).ok()?);
    if freedom <= 0.0 {
        return None;
    }
    let variance = (scatter.worth * scatter.sd * scatter.sd + left) / freedom;
    system.truncate(width);
    let right: Vec<f64> = system.iter().filter_map(|line| line.get(width).copied()).collect();
    for line in &mut system {
        line.truncate(width);
    }
    let coefficients = solve_upper(&system, &right)?;
    Some(Fit { coefficients, scatter: variance.sqrt(), freedom, triangle: system })
}

impl Fit {
    /// The line at some knowns, and its standard deviation.
    pub fn at(&self, knowns: &[f64]) -> (f64, f64) {
        let value = self.coefficients.iter().zip(knowns).map(|(c, k)| c * k).sum();
        // Forward substitution in the transposed triangle: |R⁻ᵀ k| is the deviation in units of the scatter.
        let mut solved: Vec<f64> = Vec::with_capacity(knowns.len());
        for (at, known) in knowns.iter().enumerate() {
            let mut rest = *known;
            for (row, done) in self.triangle.iter().zip(&solved) {
                rest -= row.get(at).copied().unwrap_or(0.0) * done;
            }
            let pivot = self.triangle.get(at).and_then(|row| row.get(at)).copied().unwrap_or(f64::NAN);
            solved.push(rest / pivot);
        }
        (value, self.scatter * solved.iter().map(|part| part * part).sum::<f64>().sqrt())
    }

    /// Standard deviation of one coefficient.
    pub fn deviation(&self, of: usize) -> f64 {
        let mut knowns = vec![0.0; self.coefficients.len()];
        if let Some(one) = knowns.get_mut(of) {
            *one = 1.0;
        }
        self.at(&knowns).1
    }

    /// How many deviations a two-sided interval of this share reaches to each side.
    pub fn reach(&self, share: f64) -> f64 {
        student_quantile(self.freedom, 0.5 + share / 2.0)
    }

    /// Chance that the line at some knowns lies at or below a value.
    pub fn chance_below(&self, knowns: &[f64], value: f64) -> f64 {
        let (middle, deviation) = self.at(knowns);
        if deviation > 0.0 {
            student_below(self.freedom, (value - middle) / deviation)
        } else if middle <= value {
            1.0
        } else {
            0.0
        }
    }
}

/// Brings the first columns to upper triangular form by reflections, carrying the last column along.
fn triangulate(system: &mut [Vec<f64>], width: usize) -> Option<()> {
    let scale = system.iter().flat_map(|line| line.iter().take(width)).fold(0.0_f64, |most, x| most.max(x.abs()));
    for column in 0..width {
        let below: Vec<f64> = system.iter().skip(column).map(|line| line.get(column).copied().unwrap_or(0.0)).collect();
        let length = below.iter().map(|x| x * x).sum::<f64>().sqrt();
        // Relative to the largest number: a column that the others make up leaves only rounding.
        if length <= scale * 1e-13 {
            return None;
        }
        let first = below.first().copied()?;
        let target = if first > 0.0 { -length } else { length };
        let mut mirror = below;
        *mirror.first_mut()? = first - target;
        let norm: f64 = mirror.iter().map(|x| x * x).sum();
        for other in column..=width {
            let along: f64 = mirror
                .iter()
                .zip(system.iter().skip(column))
                .map(|(m, line)| m * line.get(other).copied().unwrap_or(0.0))
                .sum();
            let step = 2.0 * along / norm;
            for (m, line) in mirror.iter().zip(system.iter_mut().skip(column)) {
                if let Some(cell) = line.get_mut(other) {
                    *cell -= step * m;
                }
            }
        }
    }
    Some(())
}

fn solve_upper(triangle: &[Vec<f64>], right: &[f64]) -> Option<Vec<f64>> {
    let mut solved = vec![0.0; right.len()];
    for at in (0..right.len()).rev() {
        let row = triangle.get(at)?;
        let rest: f64 = row.iter().zip(&solved).skip(at + 1).map(|(c, x)| c * x).sum();
        *solved.get_mut(at)? = (right.get(at)? - rest) / row.get(at)?;
    }
    solved.iter().all(|x| x.is_finite()).then_some(solved)
}

fn student(freedom: f64) -> Option<StudentsT> {
    StudentsT::new(0.0, 1.0, freedom).ok()
}

/// Share of Student's distribution below a number.
fn student_below(freedom: f64, number: f64) -> f64 {
    student(freedom).map_or(f64::NAN, |student| student.cdf(number))
}

/// The number below which a share of Student's distribution lies.
fn student_quantile(freedom: f64, share: f64) -> f64 {
    student(freedom).map_or(f64::NAN, |student| student.inverse_cdf(share))
}

/// The line of Theil and Sen: the median of the slopes between all pairs, and the median of what is left of each
/// point. A few bad points do not move it. Source: PNNL, Visual Sample Plan, nonparametric estimate of trend.
///
/// ```
/// use beadwise::beds::regress::theil_sen;
/// // A teaching example of Helsel and Hirsch: one wild point among seven leaves the slope at 1.
/// let points = [(1.0, 1.0), (2.0, 2.0), (3.0, 3.0), (4.0, 4.0), (5.0, 5.0), (6.0, 16.0), (7.0, 7.0)];
/// let (slope, intercept) = theil_sen(&points).unwrap();
/// assert!((slope - 1.0).abs() < 1e-12 && intercept.abs() < 1e-12);
/// ```
pub fn theil_sen(points: &[(f64, f64)]) -> Option<(f64, f64)> {
    let mut slopes = Vec::new();
    for (at, (x, y)) in points.iter().enumerate() {
        for (other_x, other_y) in points.iter().skip(at + 1) {
            let run = other_x - x;
            if run != 0.0 {
                slopes.push((other_y - y) / run);
            }
        }
    }
    let slope = median(&mut slopes)?;
    let mut rests: Vec<f64> = points.iter().map(|(x, y)| y - slope * x).collect();
    Some((slope, median(&mut rests)?))
}

/// The middle of some numbers; the mean of the two middle ones where their count is even.
pub fn median(numbers: &mut [f64]) -> Option<f64> {
    numbers.sort_by(f64::total_cmp);
    let half = numbers.len() / 2;
    let upper = numbers.get(half).copied()?;
    if numbers.len() % 2 == 1 {
        return Some(upper);
    }
    Some((numbers.get(half.checked_sub(1)?).copied()? + upper) / 2.0)
}

#[cfg(test)]
#[path = "regress_tests.rs"]
mod tests;
