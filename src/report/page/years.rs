//! The bed across the years: its analyses, what was done, and each property's line with its reach and limit.

use super::words::{capital, day, month};
use super::{Sheet, heading, items, svg};
use crate::beds::{Entry, History, Trend};
use crate::judge::{first_day, property_words, quantity_words};
use crate::report::beds::analysis_row;
use crate::report::units::number;
use chrono::{Datelike, NaiveDate};
use maud::{Markup, html};

/// Nothing where there is but one analysis and no line.
pub fn years(sheet: &Sheet<'_>) -> Option<Markup> {
    let history = sheet.bed.history.filter(|history| history.entries.len() > 1)?;
    let drawn: Vec<(&Trend, Option<svg::Chart>)> = history
        .trends
        .iter()
        .enumerate()
        .map(|(at, trend)| (trend, chart(trend, history, sheet.page.today, &format!("{}-y{at}", sheet.id))))
        .collect();
    Some(html! {
        (analyses(history, sheet))
        @for (at, (trend, chart)) in drawn.iter().enumerate() {
            (line(trend, chart.as_ref(), sheet, at))
        }
        (work(history))
        @if let Some(notes) = items(&history.notes) { p { "To know:" } (notes) }
    })
}

fn analyses(history: &History, sheet: &Sheet<'_>) -> Markup {
    let head = ["Sampled", "Capacity", "Of new", "Moisture", "Whole", "Iron, dry", "Score", "Verdict"];
    html! {
        div class="scroll" tabindex="0" role="region" aria-label=(format!("All analyses: {}", sheet.name)) {
            table class="figures" {
                caption { "All analyses" }
                thead { tr { @for cell in head { th scope="col" { (cell) } } } }
                @for (at, charge) in history.charges.iter().enumerate() {
                    @let entries: Vec<&Entry> = history.entries.iter().filter(|entry| entry.charge == at + 1).collect();
                    @if !entries.is_empty() {
                        tbody {
                            @if history.charges.len() > 1 {
                                tr class="charge" { th scope="rowgroup" colspan="8" { (charge.from.as_ref().map_or_else(|| "Charge of an unknown day".to_owned(), |from| format!("Charge of {}", day(from)))) } }
                            }
                            @for entry in entries {
                                tr { @for (column, cell) in analysis_row(entry).iter().enumerate() { @if column == 0 { th scope="row" { (cell) } } @else { td { (cell) } } } }
                            }
                        }
                    }
                }
            }
        }
        @if history.entries.iter().flat_map(|entry| &entry.figures).any(|figure| figure.doubted) {
            p class="note" { "? the reader doubted the figure: it is on no line." }
        }
        @let changes: Vec<String> = history.entries.iter().filter(|entry| !entry.changes.is_empty()).map(|entry| format!("{}: changed since the one before, which can make a false step: {}.", entry.on.clone().unwrap_or_default(), entry.changes.join("; "))).collect();
        @if !changes.is_empty() { ul class="note" { @for change in &changes { li { (change) } } } }
    }
}

fn name(trend: &Trend) -> String {
    let basis = if trend.basis.as_deref() == Some("dry_mass") { ", dry" } else { "" };
    let name =
        if trend.property == "score" { "score of the resin".to_owned() } else { property_words(&trend.property) };
    format!("{}{basis}, {}", capital(&name), trend.unit)
}

fn value(value: f64) -> String {
    if value.abs() >= 1000.0 { number(value) } else { format!("{value:.1}") }
}

/// A change with its sign, as it is printed.
fn signed(value: f64) -> String {
    // What rounds to nothing has no sign.
    if value.abs() < 0.05 {
        return "0.0".to_owned();
    }
    crate::report::beds::signed(value).replace('-', "\u{2212}")
}

/// What the line says, in sentences.
fn told(trend: &Trend, today: &str) -> String {
    let slope = trend.per_year;
    let falls = slope.best < 0.0;
    let (way, best, low, high) = match (slope.low < 0.0, slope.high < 0.0) {
        (true, true) => ("Falls by", value(-slope.best), value(-slope.high), value(-slope.low)),
        (false, false) => ("Rises by", value(slope.best), value(slope.low), value(slope.high)),
        _ => (
            if falls { "Falls, if at all, by" } else { "Rises, if at all, by" },
            value(slope.best.abs()),
            signed(slope.low),
            signed(slope.high),
        ),
    };
    let robust = match slope.robust {
        Some(robust) if trend.count > 2 => {
            format!(" The median slope, which one bad figure cannot bend, is {}.", signed(robust))
        }
        _ => String::new(),
    };
    let mut text = format!(
        "{way} {best} a year ({low} to {high}, four times in five), from {}.{robust} The line stands at {} today, give or take {}.",
        if trend.count == 1 { "one figure".to_owned() } else { format!("{} figures", trend.count) },
        value(trend.now),
        value(trend.now_within)
    );
    if let Some((limit, meets)) = trend.limit.zip(trend.meets.as_ref()) {
        let source = trend.limit_source.as_ref().map_or(String::new(), |source| format!(" ({source})"));
        let limit = format!("its limit of {}{source}", number(limit));
        text.push_str(&match (&meets.earliest, &meets.likely, &meets.latest) {
            (_, _, Some(late)) if late.as_str() <= today => format!(" It is past {limit}."),
            (Some(early), Some(likely), Some(late)) => format!(
                " It meets {limit} around {}, four times in five between {} and {}.",
                month(likely),
                month(early),
                month(late)
            ),
            (Some(early), Some(likely), None) => {
                format!(
                    " It meets {limit} around {}, hardly before {}, and perhaps much later.",
                    month(likely),
                    month(early)
                )
            }
            (Some(early), None, _) => format!(" It hardly meets {limit}; one chance in ten by {}.", month(early)),
            _ => format!(" It meets {limit} in no time that can be foreseen."),
        });
    }
    text
}

fn line(trend: &Trend, chart: Option<&svg::Chart>, sheet: &Sheet<'_>, at: usize) -> Markup {
    let name = name(trend);
    html! {
        div class="group line" {
            div class="drawn" {
            (heading(sheet.level + 2, &format!("{}-line-{at}", sheet.id), &name))
            @if let Some(chart) = chart {
                figure {
                    div class="plot" { (chart.draw()) }
                    figcaption class="key" {
                        span { svg class="swatch" width="20" height="12" aria-hidden="true" focusable="false" { circle class="dot" cx="10" cy="6" r="4" {} } "figure" }
                        @if chart.dots.iter().any(|dot| dot.off) { span { svg class="swatch" width="20" height="12" aria-hidden="true" focusable="false" { path class="off" d="M6 2 L14 10 M6 10 L14 2" {} } "not on the line" } }
                        span { svg class="swatch" width="28" height="12" aria-hidden="true" focusable="false" { path class="trend" d="M0 6 H14" {} path class="trend ahead" d="M16 6 H23" {} } "line so far, and ahead" }
                        span { svg class="swatch" width="20" height="12" aria-hidden="true" focusable="false" { rect class="band" width="20" height="12" {} path class="band-edge" d="M0 1 H20 M0 11 H20" {} } "four times in five" }
                        @if chart.limit.is_some() { span { svg class="swatch" width="28" height="12" aria-hidden="true" focusable="false" { path class="limit" d="M0 6 H28" {} } "limit" } }
                    }
                }
            }
            p { (told(trend, sheet.page.today)) }
            @for note in &trend.notes { p class="note" { (note) } }
            }
            (table(trend, sheet.page.today, &name))
        }
    }
}

/// The numbers of a chart.
fn table(trend: &Trend, today: &str, name: &str) -> Markup {
    let off = |on: &str| trend.left_out.iter().find(|(date, _)| date == on).map(|(_, why)| why.as_str());
    let ahead: Vec<(&str, &str)> = std::iter::once((today, "today"))
        .chain(trend.meets.iter().flat_map(|meets| {
            let dates = [
                (&meets.earliest, "limit, earliest"),
                (&meets.likely, "limit, likeliest"),
                (&meets.latest, "limit, latest"),
            ];
            dates.into_iter().filter_map(|(date, words)| Some((date.as_deref()?, words)))
        }))
        .collect();
    html! {
        div class="scroll" {
            table class=(if trend.points.len() < 16 { "figures numbers short" } else { "figures numbers" }) {
                caption { "In numbers: " (name) }
                thead { tr { th scope="col" { "Date" } th scope="col" { "Figure" } th scope="col" { "Line" } th scope="col" { "Four times in five" } } }
                tbody {
                    @for point in &trend.points {
                        tr {
                            th scope="row" { (day(&point.on)) @if let Some(by) = &point.laboratory { span class="small-line" { (by) } } }
                            td { (value(point.value)) @if let Some(why) = off(&point.on) { span class="small-line" { "not on the line: " (why) } } }
                            (reach(trend, &point.on))
                        }
                    }
                    @for (on, words) in ahead {
                        tr { th scope="row" { (day(on)) span class="small-line" { (words) } } td { "–" } (reach(trend, on)) }
                    }
                }
            }
        }
    }
}

fn reach(trend: &Trend, on: &str) -> Markup {
    html! {
        @match trend.within(on) {
            Some((low, best, high)) => { td { (value(best)) } td { (value(low)) " to " (value(high)) } },
            None => { td { "–" } td { "–" } },
        }
    }
}

/// What was done to the bed and measured at it.
fn work(history: &History) -> Markup {
    let done: Vec<String> = history
        .events
        .iter()
        .map(|event| {
            let mut parts = vec![event.kind.words().to_owned()];
            parts.extend(event.volume.as_ref().map(|volume| volume.as_written.clone()));
            parts.extend(event.lot.as_ref().map(|lot| format!("lot {lot}")));
            parts.extend(event.note.clone());
            format!("{}: {}", day(&event.happened_on), parts.join(", "))
        })
        .collect();
    let measured: Vec<String> = history
        .readings
        .iter()
        .map(|reading| {
            let mut parts = vec![quantity_words(reading.value, &reading.unit)];
            if let (true, Some(spread)) = (reading.points > 1, reading.spread) {
                parts.push(format!("mean of {}, {} apart", reading.points, quantity_words(spread, &reading.unit)));
            }
            parts.extend(reading.state.clone());
            parts.extend(reading.file.clone());
            parts.extend(reading.note.clone());
            format!("{}: {} {}", day(&reading.on), property_words(&reading.quantity), parts.join(", "))
        })
        .collect();
    html! {
        @if let Some(done) = items(&done) { div class="group" { p class="leads" { "What was done:" } (done) } }
        @if let Some(measured) = items(&measured) { div class="group" { p class="leads" { "Measured at the bed:" } (measured) } }
    }
}

const DAYS_A_YEAR: f64 = 365.25;
/// Places at which the line is drawn.
const STEPS: u32 = 60;

fn number_of(date: &str) -> Option<f64> {
    first_day(date).map(|day| f64::from(day.num_days_from_ce()))
}

#[allow(clippy::cast_possible_truncation, reason = "days of the calendar")]
fn date_of(day: f64) -> Option<NaiveDate> {
    NaiveDate::from_num_days_from_ce_opt(day.round() as i32)
}

/// A chart of a trend; none without a figure.
fn chart(trend: &Trend, history: &History, today: &str, id: &str) -> Option<svg::Chart> {
    let dots: Vec<svg::Dot> = trend
        .points
        .iter()
        .filter_map(|point| {
            let off = trend.left_out.iter().any(|(on, _)| *on == point.on);
            Some(svg::Dot { day: number_of(&point.on)?, value: point.value, off })
        })
        .collect();
    let first = dots.iter().map(|dot| dot.day).min_by(f64::total_cmp)?;
    let last = dots.iter().map(|dot| dot.day).max_by(f64::total_cmp)?;
    let now = number_of(today)?;
    let told = last.max(now);
    let meets = trend.meets.as_ref();
    let date = |date: Option<&String>| date.and_then(|date| number_of(date));
    let aim = date(meets.and_then(|m| m.latest.as_ref())).or_else(|| date(meets.and_then(|m| m.likely.as_ref())));
    // As far ahead as the way so far, at most: further out a line says little.
    let farthest = told + (told - first).max(2.0 * DAYS_A_YEAR);
    let end = aim.map_or(told + DAYS_A_YEAR, |aim| (aim + DAYS_A_YEAR / 2.0).clamp(told + DAYS_A_YEAR / 2.0, farthest));
    let start = first - (end - first) * 0.03;
    let line: Vec<svg::Reach> = (0..=STEPS)
        .filter_map(|step| {
            let day = first + (end - first) * f64::from(step) / f64::from(STEPS);
            let (low, best, high) = trend.within(&date_of(day)?.format("%Y-%m-%d").to_string())?;
            Some(svg::Reach { day, low, best, high })
        })
        .collect();
    let (values, ticks) = scale(&dots, &line, trend.limit, matches!(trend.unit.as_str(), "%" | "points"));
    let shown = |value: f64| (values.0..=values.1).contains(&value);
    let unit = match trend.unit.as_str() {
        "% of new" | "%" => " %",
        _ => "",
    };
    let limit =
        trend.limit.filter(|limit| shown(*limit)).map(|limit| (limit, format!("limit {}{unit}", number(limit))));
    let done = history
        .events
        .iter()
        .filter(|event| event.kind.steps())
        .filter_map(|event| {
            Some((
                number_of(&event.happened_on).filter(|day| (start..=end).contains(day))?,
                event.kind.words().to_owned(),
            ))
        })
        .collect();
    Some(svg::Chart {
        id: id.to_owned(),
        title: format!("{} across the years", name(trend)),
        desc: told_short(trend, today),
        dots,
        line,
        limit,
        today: now,
        done,
        days: (start, end),
        values,
        ticks,
        years: calendar(start, end),
    })
}

fn told_short(trend: &Trend, today: &str) -> String {
    let ends = trend.points.first().zip(trend.points.last()).map_or(String::new(), |(first, last)| {
        format!("From {} on {} to {} on {}. ", value(first.value), day(&first.on), value(last.value), day(&last.on))
    });
    format!("{ends}{}", told(trend, today))
}

/// Lowest and highest value shown, with round steps between.
fn scale(dots: &[svg::Dot], line: &[svg::Reach], limit: Option<f64>, of_hundred: bool) -> ((f64, f64), Vec<f64>) {
    let values: Vec<f64> = dots.iter().map(|dot| dot.value).chain(line.iter().map(|reach| reach.best)).collect();
    let mut low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let mut high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let room = (high - low).max(high.abs() * 0.05).max(1e-6);
    // A limit far off would press the line flat.
    if let Some(limit) = limit.filter(|limit| *limit > low - 3.0 * room && *limit < high + 3.0 * room) {
        low = low.min(limit);
        high = high.max(limit);
    }
    let reach = |of: fn(&svg::Reach) -> f64| line.iter().map(of);
    low = low.min(reach(|r| r.low).fold(f64::INFINITY, f64::min).max(low - room));
    high = high.max(reach(|r| r.high).fold(f64::NEG_INFINITY, f64::max).min(high + room));
    let rough = (high - low) / 4.0;
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 2.5, 5.0, 10.0].into_iter().map(|of| of * power).find(|step| *step >= rough).unwrap_or(rough);
    let (low, high) = ((low / step).floor() * step, (high / step).ceil() * step);
    let mut ticks = Vec::new();
    let mut at = low;
    while at <= high + step / 2.0 && ticks.len() < 12 {
        ticks.push(at);
        at += step;
    }
    // Nothing of a hundred is more than a hundred.
    let high = if of_hundred && low < 100.0 { high.min(100.0) } else { high };
    ((low.max(0.0), high), ticks.into_iter().filter(|tick| (0.0..=high).contains(tick)).collect())
}

/// First days of years, as many as have room below a narrow picture.
fn calendar(start: f64, end: f64) -> Vec<(f64, String)> {
    let Some((from, to)) = date_of(start).zip(date_of(end)) else { return Vec::new() };
    let span = to.year() - from.year();
    let step = [1, 2, 5, 10, 20].into_iter().find(|step| span / step <= 7).unwrap_or(50);
    (from.year()..=to.year())
        .filter(|year| year % step == 0)
        .filter_map(|year| Some((f64::from(NaiveDate::from_ymd_opt(year, 1, 1)?.num_days_from_ce()), year.to_string())))
        .filter(|(day, _)| (start..=end).contains(day))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_side_has_round_steps_that_hold_all_values() {
        let dots = [92.5, 73.0].map(|value| svg::Dot { day: 0.0, value, off: false });
        let ((low, high), ticks) = scale(&dots, &[], Some(75.0), false);
        assert_eq!((low, high), (70.0, 95.0));
        assert_eq!(ticks, [70.0, 75.0, 80.0, 85.0, 90.0, 95.0]);
    }

    #[test]
    fn years_are_written_where_there_is_room() {
        let day = |year| f64::from(NaiveDate::from_ymd_opt(year, 6, 1).map_or(0, |date| date.num_days_from_ce()));
        let words = |from, to| calendar(day(from), day(to)).into_iter().map(|(_, year)| year).collect::<Vec<_>>();
        assert_eq!(words(2018, 2021), ["2019", "2020", "2021"]);
        assert_eq!(words(2010, 2022), ["2012", "2014", "2016", "2018", "2020", "2022"]);
    }
}
