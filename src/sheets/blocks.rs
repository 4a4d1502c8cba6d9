//! All labels first, all figures after: which belongs to which, by unit and order.

use super::label::{Kind, Lab};
use super::rows::Fig;
use super::settle::{Fit, Settler};
use crate::quantity::UnitKind;

/// More labels or figures than this in one run are no list that copying tore apart.
const LONGEST: usize = 80;

/// A label and figure that belong together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pair {
    /// Position of the label.
    pub label: usize,
    /// Position of the figure.
    pub figure: usize,
    /// Nothing else is possible.
    pub certain: bool,
}

/// Pairs labels with figures in order, so that as many as possible fit.
pub fn align(labels: &[Lab], figures: &[Fig], settler: &Settler<'_>) -> Vec<Pair> {
    if labels.is_empty() || figures.is_empty() || labels.len() > LONGEST || figures.len() > LONGEST {
        return Vec::new();
    }
    let score: Vec<Vec<i64>> =
        labels.iter().map(|lab| figures.iter().map(|fig| suits(lab, fig, settler)).collect()).collect();
    let at = |i: usize, j: usize| score.get(i).and_then(|row| row.get(j)).copied().unwrap_or(0);
    let ahead = best(labels.len(), figures.len(), &at);
    let behind = best(labels.len(), figures.len(), &|i, j| at(labels.len() - 1 - i, figures.len() - 1 - j));
    let look = |table: &[Vec<(i64, f64)>], i: usize, j: usize| {
        table.get(i).and_then(|row| row.get(j)).copied().unwrap_or((0, 0.0))
    };
    let mut top = 0;
    for i in 0..labels.len() {
        for j in 0..figures.len() {
            top = top.max(look(&ahead, i, j).0);
        }
    }
    if top == 0 {
        return Vec::new();
    }
    let mut ways = 0.0;
    for i in 0..labels.len() {
        for j in 0..figures.len() {
            let (value, count) = look(&ahead, i, j);
            if value == top {
                ways += count;
            }
        }
    }
    let through = |i: usize, j: usize| {
        let (before, count) = look(&ahead, i, j);
        let (after, more) = look(&behind, labels.len() - 1 - i, figures.len() - 1 - j);
        if at(i, j) > 0 && before + after - at(i, j) == top { count * more } else { 0.0 }
    };
    // Of several equally good ways, the one that takes the earliest figures.
    let mut pairs: Vec<Pair> = Vec::new();
    let mut next = 0;
    let mut reached = 0;
    for i in 0..labels.len() {
        let hit = (next..figures.len()).find(|j| {
            let before = look(&ahead, i, *j).0 - at(i, *j);
            through(i, *j) > 0.0 && before == reached
        });
        if let Some(j) = hit {
            pairs.push(Pair { label: i, figure: j, certain: (through(i, j) - ways).abs() < 0.5 });
            reached += at(i, j);
            next = j + 1;
        }
    }
    let wanted = labels.iter().filter(|lab| matches!(lab.kind, Kind::Property(_) | Kind::Aside)).count();
    // Words before the first label and behind the last are titles, and values that are told in words.
    let is_wanted = |lab: &Lab| matches!(lab.kind, Kind::Property(_) | Kind::Aside);
    let first = labels.iter().position(is_wanted).unwrap_or(0);
    let last = labels.iter().rposition(is_wanted).unwrap_or(0);
    let unknown = labels.iter().take(last).skip(first).any(|lab| lab.kind == Kind::Unknown);
    let complete = pairs.len() == wanted && pairs.len() == figures.len() && !unknown;
    for pair in &mut pairs {
        let others = |list: usize, fits: &dyn Fn(usize) -> bool| (0..list).filter(|other| fits(*other)).count();
        let labels_that_fit = others(labels.len(), &|i| at(i, pair.figure) > 0);
        let figures_that_fit = others(figures.len(), &|j| at(pair.label, j) > 0);
        let alone =
            labels_that_fit == 1 && (figures_that_fit == 1 || figures.len() == 1) && at(pair.label, pair.figure) >= 4;
        let lone_label = wanted == 1 && labels.len() == 1 && pair.figure == 0;
        pair.certain = pair.certain && (complete || alone || lone_label);
    }
    pairs
}

/// For each label and figure: the best sum of a run that ends there, and in how many ways it is had.
fn best(labels: usize, figures: usize, score: &dyn Fn(usize, usize) -> i64) -> Vec<Vec<(i64, f64)>> {
    let mut table: Vec<Vec<(i64, f64)>> = vec![vec![(0, 0.0); figures]; labels];
    for i in 0..labels {
        for j in 0..figures {
            let own = score(i, j);
            if own <= 0 {
                continue;
            }
            let (mut most, mut count) = (0, 1.0);
            for row in table.iter().take(i) {
                for (value, ways) in row.iter().take(j) {
                    if *value > most {
                        (most, count) = (*value, *ways);
                    } else if *value == most && *value > 0 {
                        count += *ways;
                    }
                }
            }
            if let Some(cell) = table.get_mut(i).and_then(|row| row.get_mut(j)) {
                *cell = (most + own, count);
            }
        }
    }
    table
}

fn suits(lab: &Lab, fig: &Fig, settler: &Settler<'_>) -> i64 {
    match &lab.kind {
        Kind::Property(_) => match settler.fit(lab, fig) {
            Fit::Full => 5,
            Fit::Bare => 4,
            Fit::None => 0,
        },
        Kind::Aside => match (&lab.unit, &fig.value.unit) {
            (Some(a), Some(b)) if a.dimension == b.dimension => 5,
            (Some(_), Some(_)) => 0,
            (_, Some(unit)) if unit.kind == UnitKind::Percent => 3,
            (_, Some(_)) => 3,
            (_, None) => 3,
        },
        _ => 0,
    }
}
