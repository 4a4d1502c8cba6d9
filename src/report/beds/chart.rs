//! A trend as a chart of characters: its points, its line and its limit.

use crate::beds::Trend;
use crate::judge::first_day;

const ROWS: usize = 9;
/// Room for the numbers at the left.
const LABEL: usize = 8;

/// The chart, at most `width` characters wide; nothing for fewer than two points.
///
/// `o` is a figure, `x` one that is not on the line, `.` the line, `-` the limit.
pub fn chart(trend: &Trend, width: usize) -> Vec<String> {
    let days: Vec<(f64, f64, bool)> = trend
        .points
        .iter()
        .filter_map(|point| {
            let day = f64::from(day_number(&point.on)?);
            let off = trend.left_out.iter().any(|(on, _)| *on == point.on);
            Some((day, point.value, off))
        })
        .collect();
    let (Some(first), Some(last)) = (least(&days, |d| d.0), most(&days, |d| d.0)) else { return Vec::new() };
    if days.len() < 2 || last <= first || width < 40 {
        return Vec::new();
    }
    let likely = trend.meets.as_ref().and_then(|meets| day_number(meets.likely.as_deref()?)).map(f64::from);
    // The way to the limit is shown where it is not longer than the way so far.
    let end = likely.filter(|day| *day > last && *day - last <= last - first).unwrap_or(last);
    let columns = width.saturating_sub(LABEL + 3).min(66);
    let line: Vec<Option<f64>> =
        (0..columns).map(|column| trend.at(&date(first + (end - first) * share(column, columns))?)).collect();
    let values = || days.iter().map(|day| day.1).chain(line.iter().flatten().copied());
    let limit = trend.limit.filter(|limit| {
        let (low, high) = (values().fold(f64::INFINITY, f64::min), values().fold(f64::NEG_INFINITY, f64::max));
        let room = (high - low).max(1e-9);
        *limit > low - 2.0 * room && *limit < high + 2.0 * room
    });
    let low = values().chain(limit).fold(f64::INFINITY, f64::min);
    let high = values().chain(limit).fold(f64::NEG_INFINITY, f64::max);
    let (low, high) = if high - low < 1e-9 { (low - 1.0, high + 1.0) } else { (low, high) };
    let row_of = |value: f64| place((high - value) / (high - low), ROWS);
    let mut grid = vec![vec![' '; columns]; ROWS];
    let mut put = |row: usize, column: usize, mark: char| {
        if let Some(cell) = grid.get_mut(row).and_then(|line| line.get_mut(column)) {
            *cell = mark;
        }
    };
    if let Some(limit) = limit {
        (0..columns).for_each(|column| put(row_of(limit), column, '-'));
    }
    for (column, value) in line.iter().enumerate() {
        if let Some(value) = value {
            put(row_of(*value), column, '.');
        }
    }
    for (day, value, off) in &days {
        put(row_of(*value), place((day - first) / (end - first), columns), if *off { 'x' } else { 'o' });
    }
    let mut lines: Vec<String> = grid
        .into_iter()
        .enumerate()
        .map(|(row, cells)| {
            let value = high - (high - low) * share(row, ROWS);
            let label = if row % 2 == 0 { label(value) } else { String::new() };
            format!("{label:>LABEL$} |{}", cells.into_iter().collect::<String>().trim_end())
        })
        .collect();
    let (from, to) = (date(first).unwrap_or_default(), date(end).unwrap_or_default());
    let (from, to) = (from.get(..7).unwrap_or_default(), to.get(..7).unwrap_or_default());
    lines.push(format!("{:>LABEL$} +{}", "", "-".repeat(columns)));
    lines.push(format!("{:>LABEL$}  {from}{to:>rest$}", "", rest = columns.saturating_sub(from.len())));
    let off = if days.iter().any(|day| day.2) { ", x not on the line" } else { "" };
    let drawn = if limit.is_some() { ", - limit" } else { "" };
    lines.push(format!("{:>LABEL$}  o figure{off}, . line{drawn}", ""));
    lines
}

fn label(value: f64) -> String {
    if value.abs() >= 1000.0 { format!("{value:.0}") } else { format!("{value:.1}") }
}

fn least<T>(all: &[T], of: impl Fn(&T) -> f64) -> Option<f64> {
    all.iter().map(of).min_by(f64::total_cmp)
}

fn most<T>(all: &[T], of: impl Fn(&T) -> f64) -> Option<f64> {
    all.iter().map(of).max_by(f64::total_cmp)
}

/// Where one of several places stands between the first and the last.
#[allow(clippy::cast_precision_loss, reason = "places on a page are few")]
fn share(at: usize, of: usize) -> f64 {
    at as f64 / (of.max(2) - 1) as f64
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "brought between 0 and the number of places first"
)]
fn place(share: f64, of: usize) -> usize {
    (share.clamp(0.0, 1.0) * (of.max(1) - 1) as f64).round() as usize
}

fn day_number(date: &str) -> Option<i32> {
    use chrono::Datelike;
    first_day(date).map(|day| day.num_days_from_ce())
}

#[allow(clippy::cast_possible_truncation, reason = "days of the calendar")]
fn date(day: f64) -> Option<String> {
    chrono::NaiveDate::from_num_days_from_ce_opt(day.round() as i32).map(|day| day.format("%Y-%m-%d").to_string())
}
