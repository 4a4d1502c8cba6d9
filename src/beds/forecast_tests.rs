//! The published and constructed vectors of a threshold crossing, oddities, and the honesty of the interval.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::print_stdout)]

use super::*;

const NEVER: Oddity = Oddity { points: usize::MAX, deviations: 0.0 };

fn series(values: &[f64]) -> Vec<Point> {
    values
        .iter()
        .zip(0_u32..)
        .map(|(value, year)| Point { years: f64::from(year), value: *value, laboratory: 0 })
        .collect()
}

/// ICH Q1E: a shelf life is where the one-sided 95 % confidence limit of the line crosses the limit. Values for these
/// seven points were worked out apart from this program, with scipy.
#[test]
fn the_crossing_of_a_confidence_limit_is_that_of_the_worked_example() {
    let points = series(&[100.0, 97.5, 96.0, 92.5, 91.0, 88.0, 86.5]);
    let line = draw(&points, &[], &Prior::FLAT, NEVER).unwrap();
    let (_, slope, _) = line.slope(0.8);
    assert!((slope + 2.303_571).abs() < 1e-6);
    assert!((line.at(0.0).0 - 99.982_143).abs() < 1e-6);
    for (share, years) in [(0.05, 10.252_68), (0.5, 10.844_96), (0.95, 11.535_09)] {
        let met = line.crossing(75.0, true, share, 0.0, 40.0).unwrap();
        assert!((met - years).abs() < 1e-4, "{share}: {met}");
    }
    assert!((line.robust_slope.unwrap() + 2.25).abs() < 1e-12);
}

fn prior() -> Prior {
    Prior {
        start: Belief { mean: 100.0, sd: 4.0 },
        slope: Belief { mean: -3.0, sd: 1.56 },
        scatter: Scatter { sd: 2.0, worth: 8.0 },
        laboratories: None,
        step: Belief::FLAT,
    }
}

#[test]
fn one_bad_analysis_is_named_and_does_not_move_the_line() {
    let points = series(&[100.0, 97.0, 94.5, 75.0, 88.0, 85.2]);
    let line = draw(&points, &[], &prior(), Oddity { points: 4, deviations: 3.5 }).unwrap();
    assert_eq!(line.odd, Some(3));
    let clean = draw(&series(&[100.0, 97.0, 94.5]), &[], &prior(), NEVER).unwrap();
    assert!((line.at(8.0).0 - 76.0).abs() < 1.5, "{:?}", line.at(8.0));
    assert!(clean.odd.is_none());
    let steady = draw(&series(&[100.0, 97.0, 94.5, 91.0, 88.0]), &[], &prior(), Oddity { points: 4, deviations: 3.5 });
    assert_eq!(steady.unwrap().odd, None);
}

#[test]
fn a_cleaning_is_a_step_and_no_gain_of_age() {
    // Three points a year falling, ten points back at year 2.5, falling on.
    let points = series(&[100.0, 97.0, 94.0, 101.0, 98.0, 95.0]);
    let step = Prior { step: Belief { mean: 5.0, sd: 10.0 }, ..prior() };
    let line = draw(&points, &[2.5], &step, NEVER).unwrap();
    assert!((line.slope(0.8).1 + 3.0).abs() < 0.3, "{:?}", line.slope(0.8));
    let blind = draw(&points, &[], &prior(), NEVER).unwrap();
    assert!(blind.slope(0.8).1 > line.slope(0.8).1);
}

#[test]
fn another_laboratory_widens_the_line() {
    let mut points = series(&[100.0, 97.0, 94.0, 86.0, 83.0]);
    for point in points.iter_mut().skip(3) {
        point.laboratory = 1;
    }
    let apart = Prior { laboratories: Some(3.0), ..prior() };
    let told = draw(&points, &[], &apart, NEVER).unwrap();
    let untold = draw(&points, &[], &prior(), NEVER).unwrap();
    assert!(told.slope(0.8).1 > untold.slope(0.8).1, "the step is not all taken for wear");
    assert!(told.at(5.0).1 > untold.at(5.0).1);
}

/// A line that does not fall never meets its limit, and nothing runs on for ever.
#[test]
fn what_does_not_fall_is_not_foretold() {
    let line = draw(&series(&[100.0, 100.0, 100.1, 100.0]), &[], &Prior::FLAT, NEVER).unwrap();
    assert_eq!(line.meets(75.0, true, 3.0, 40.0).likely, None);
}

/// Simulated beds with known truth: the interval of eighty in a hundred must hold the true date about that often.
/// Start, slope and scatter of each bed are drawn from what is said to be known beforehand.
#[test]
fn the_interval_of_eighty_in_a_hundred_holds_the_truth_about_that_often() {
    // Park and Miller's generator, Lewis's constants; sums of twelve make a normal.
    let mut state: u64 = 20_251;
    let mut uniform = || {
        state = state * 16_807 % 2_147_483_647;
        f64::from(u32::try_from(state).unwrap()) / 2_147_483_647.0
    };
    let prior = prior();
    for (name, count) in [("1 analysis", 1), ("2 analyses", 2), ("4 analyses", 4), ("8 analyses", 8)] {
        let beds = 1500;
        let mut held = 0_u32;
        for _ in 0..beds {
            let mut normal = || (0..12).map(|_| uniform()).sum::<f64>() - 6.0;
            let freedom: f64 = (0..8).map(|_| normal().powi(2)).sum();
            let scatter = prior.scatter.sd * (8.0 / freedom).sqrt();
            let start = prior.start.mean + prior.start.sd * normal();
            let slope = prior.slope.mean + prior.slope.sd * normal();
            let points: Vec<Point> = (1..=count)
                .map(|year| {
                    let years = f64::from(year);
                    Point { years, value: start + slope * years + scatter * normal(), laboratory: 0 }
                })
                .collect();
            let truth = if slope < 0.0 { (75.0 - start) / slope } else { f64::INFINITY };
            let line = draw(&points, &[], &prior, Oddity { points: 4, deviations: 4.5 }).unwrap();
            let met = line.meets(75.0, true, 0.0, 200.0);
            let late = met.latest.is_none_or(|latest| truth <= latest);
            let early = met.earliest.map_or(truth >= 200.0, |earliest| truth >= earliest);
            held += u32::from(late && early);
        }
        let share = f64::from(held) / f64::from(beds);
        println!("{name}: the 80 % interval holds the true date in {:.1} % of {beds} beds", share * 100.0);
        assert!((0.76..=0.84).contains(&share), "{name}: {share}");
    }
}
