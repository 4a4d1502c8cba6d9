//! Published vectors of least squares, intervals and robust slopes.
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use super::*;

fn line(x: &[f64], y: &[f64]) -> Fit {
    let rows: Vec<Row> = x.iter().zip(y).map(|(x, y)| Row { knowns: vec![1.0, *x], measured: *y }).collect();
    fit(&rows, &[Belief::FLAT; 2], Scatter::UNKNOWN).unwrap()
}

fn digits(found: f64, certified: f64, digits: i32) {
    let apart = (found / certified - 1.0).abs();
    assert!(apart < 0.5 * 10_f64.powi(-digits), "{found} against {certified}: {apart:e} apart");
}

/// NIST Statistical Reference Datasets, linear regression, "Norris"; certified values of NIST.
#[test]
fn a_flat_prior_meets_the_certified_values_of_norris_to_ten_digits() {
    let x = [
        0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0, 447.5,
        11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2,
        669.1, 448.9, 0.5,
    ];
    let y = [
        0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9,
        10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9,
        668.4, 449.2, 0.2,
    ];
    let norris = line(&x, &y);
    digits(norris.coefficients[0], -0.262_323_073_774_029, 10);
    digits(norris.coefficients[1], 1.002_116_818_020_45, 10);
    digits(norris.deviation(0), 0.232_818_234_301_152, 10);
    digits(norris.deviation(1), 0.429_796_848_199_937e-3, 10);
    digits(norris.scatter, 0.884_796_396_144_373, 10);
    digits(norris.scatter * norris.scatter * norris.freedom, 26.617_398_529_422_4, 10);
}

/// The data set `cars` of R (distance to stop by speed) and the intervals that the R tutorials print for it.
#[test]
fn intervals_are_those_that_r_gives_for_cars() {
    let speed = [
        4., 4., 7., 7., 8., 9., 10., 10., 10., 11., 11., 12., 12., 12., 12., 13., 13., 13., 13., 14., 14., 14., 14.,
        15., 15., 15., 16., 16., 17., 17., 17., 18., 18., 18., 18., 19., 19., 19., 20., 20., 20., 20., 20., 22., 23.,
        24., 24., 24., 24., 25.,
    ];
    let dist = [
        2., 10., 4., 22., 16., 10., 18., 26., 34., 17., 28., 14., 20., 24., 28., 26., 34., 34., 46., 26., 36., 60.,
        80., 20., 26., 54., 32., 40., 32., 40., 50., 42., 56., 76., 84., 36., 46., 68., 32., 48., 52., 56., 64., 66.,
        54., 70., 92., 93., 120., 85.,
    ];
    let cars = line(&speed, &dist);
    assert!((cars.coefficients[0] + 17.579).abs() < 0.0005);
    assert!((cars.coefficients[1] - 3.932).abs() < 0.0005);
    let reach = cars.reach(0.95);
    // R: predict(lm(dist ~ speed), data.frame(speed = c(12, 19, 24, 10)), interval = "confidence").
    for (at, fit, low, high) in [(12.0, 29.6, 24.4, 34.8), (19.0, 57.1, 51.8, 62.4), (24.0, 76.8, 68.4, 85.2)] {
        let (value, deviation) = cars.at(&[1.0, at]);
        assert!((value - fit).abs() < 0.051, "{value}");
        assert!((value - reach * deviation - low).abs() < 0.051);
        assert!((value + reach * deviation - high).abs() < 0.051);
    }
    let (value, deviation) = cars.at(&[1.0, 10.0]);
    assert!((value - reach * deviation - 15.46).abs() < 0.0051);
    assert!((value + reach * deviation - 28.02).abs() < 0.0151);
    // A prediction adds the scatter of one measurement: R prints -1.749529 and 60.96915 at 12.
    let (value, deviation) = cars.at(&[1.0, 12.0]);
    let whole = (deviation * deviation + cars.scatter * cars.scatter).sqrt();
    assert!((value - reach * whole + 1.749_529).abs() < 1e-4);
    assert!((value + reach * whole - 60.969_15).abs() < 1e-4);
}

/// Helsel and Hirsch's teaching set, as its two slopes are taught: 1.0 robust, 1.714 by least squares.
#[test]
fn one_wild_point_moves_least_squares_and_not_the_robust_slope() {
    let x = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0];
    let y = [1.0, 2.0, 3.0, 4.0, 5.0, 16.0, 7.0];
    let points: Vec<(f64, f64)> = x.iter().copied().zip(y).collect();
    let (slope, intercept) = theil_sen(&points).unwrap();
    assert!((slope - 1.0).abs() < 1e-12 && intercept.abs() < 1e-12);
    let least = line(&x, &y);
    assert!((least.coefficients[1] - 1.714).abs() < 0.0005);
    assert!((least.coefficients[0] + 1.429).abs() < 0.0005);
}

#[test]
fn an_even_count_of_slopes_takes_the_mean_of_the_two_middle_ones() {
    // Slopes between (0,0), (1,1), (2,3), (4,4): 1, 1.5, 1, 2, 1, 0.5. Sorted 0.5 1 1 1 1.5 2: the median is 1.
    let (slope, _) = theil_sen(&[(0.0, 0.0), (1.0, 1.0), (2.0, 3.0), (4.0, 4.0)]).unwrap();
    assert!((slope - 1.0).abs() < 1e-12);
    assert_eq!(theil_sen(&[(1.0, 2.0)]), None);
    assert_eq!(theil_sen(&[(1.0, 2.0), (1.0, 3.0)]), None);
}

#[test]
fn a_prior_is_a_weighted_mean_with_the_data() {
    // One unknown: prior 10 with deviation 1, four measurements of mean 14 with deviation 2 each.
    // Weights 1/1 and 4/4: (10 x 1 + 14 x 1) / 2 = 12.
    let rows: Vec<Row> = [12.0, 16.0, 13.0, 15.0].iter().map(|y| Row { knowns: vec![1.0], measured: *y }).collect();
    let found = fit(&rows, &[Belief { mean: 10.0, sd: 1.0 }], Scatter { sd: 2.0, worth: 1000.0 }).unwrap();
    assert!((found.coefficients[0] - 12.0).abs() < 1e-12);
    // Variance 1 / (1 + 1) = 0.5, as the scatter is all but given.
    assert!((found.deviation(0) - 0.5_f64.sqrt()).abs() < 0.01);
}

#[test]
fn what_cannot_be_told_apart_gives_no_fit() {
    let same = [Row { knowns: vec![1.0, 2.0], measured: 1.0 }, Row { knowns: vec![1.0, 2.0], measured: 2.0 }];
    assert_eq!(fit(&same, &[Belief::FLAT; 2], Scatter::UNKNOWN), None);
    assert_eq!(fit(&[], &[Belief::FLAT; 2], Scatter::UNKNOWN), None);
    let exact = [Row { knowns: vec![1.0, 0.0], measured: 1.0 }, Row { knowns: vec![1.0, 1.0], measured: 2.0 }];
    assert_eq!(fit(&exact, &[Belief::FLAT; 2], Scatter::UNKNOWN), None, "no freedom is left for a scatter");
    let odd = [Row { knowns: vec![1.0], measured: f64::NAN }];
    assert_eq!(fit(&odd, &[Belief::FLAT], Scatter::UNKNOWN), None);
}
