//! Pictures: where a figure stands between new and spent, where capacity went, and a property across the years.
//!
//! Places along a picture are per cent of its width, so that it fills a telephone, a screen or a sheet of paper with
//! letters of one size. Every shade is a pattern too, and every mark a shape.

use crate::judge::SCORES;
use maud::{Markup, html};

/// A number of a picture.
pub fn n(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

fn pc(share: f64) -> String {
    format!("{}%", n(100.0 * share))
}

/// The patterns that all pictures of a page use.
pub fn patterns() -> Markup {
    html! {
        svg width="0" height="0" class="defs" aria-hidden="true" focusable="false" {
            defs {
                pattern id="dots" width="5" height="5" patternUnits="userSpaceOnUse" {
                    rect class="paper" width="5" height="5" {}
                    circle class="ink" cx="1.5" cy="1.5" r=".7" {}
                }
                pattern id="thin" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                    rect class="paper" width="6" height="6" {}
                    rect class="ink" width="1" height="6" {}
                }
                pattern id="thick" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                    rect class="paper" width="5" height="5" {}
                    rect class="ink" width="2.4" height="5" {}
                }
                pattern id="cross" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                    rect class="paper" width="6" height="6" {}
                    rect class="ink" width="1.2" height="6" {}
                    rect class="ink" width="6" height="1.2" {}
                }
                pattern id="bars" width="4" height="4" patternUnits="userSpaceOnUse" {
                    rect class="paper" width="4" height="4" {}
                    rect class="ink" width="4" height="1" {}
                }
            }
        }
    }
}

/// Where a score stands between new, at the left, and spent.
pub fn strip(id: &str, title: &str, desc: &str, score: f64) -> Markup {
    let at = 1.0 - score.clamp(0.0, 100.0) / 100.0;
    html! {
        svg class="strip" width="100%" height="24" role="img" aria-labelledby=(format!("{id}-t {id}-d")) {
            title id=(format!("{id}-t")) { (title) }
            desc id=(format!("{id}-d")) { (desc) }
            @for (zone, pair) in SCORES.windows(2).enumerate() {
                @if let [from, to] = pair {
                    rect class=(format!("zone zone-{zone}")) x=(n(100.0 - from) + "%") y="11" width=(n(from - to) + "%") height="11" {}
                }
            }
            svg class="mark" x=(pc(at)) y="0" overflow="visible" {
                path d="M0 12 L-6 1 L6 1 Z" {}
                path class="gap" d="M0 11 V22" {}
                path class="needle" d="M0 11 V22" {}
            }
        }
    }
}

/// One part of a whole.
pub struct Share {
    /// Key that stands in the picture and beside the part in the table.
    pub key: char,
    /// Share of the whole.
    pub share: f64,
}

/// What is left of new capacity, at the left, and where the rest went; `limit` is the share at which a bed is replaced.
pub fn bar(id: &str, title: &str, desc: &str, left: f64, parts: &[Share], limit: Option<f64>) -> Markup {
    let mut at = left.clamp(0.0, 1.0);
    let placed: Vec<(f64, f64, usize, char)> = parts
        .iter()
        .enumerate()
        .map(|(number, part)| {
            let from = at;
            at = (at + part.share.max(0.0)).min(1.0);
            (from, at - from, number, part.key)
        })
        .collect();
    html! {
        svg class="bar" width="100%" height="64" role="img" aria-labelledby=(format!("{id}-t {id}-d")) {
            title id=(format!("{id}-t")) { (title) }
            desc id=(format!("{id}-d")) { (desc) }
            rect class="left" x="0" y="20" width=(pc(left.clamp(0.0, 1.0))) height="30" {}
            text class="small" x="8" y="39" { (n((100.0 * left).round())) " % of new is left" }
            @for (from, width, number, key) in &placed {
                rect class=(format!("part part-{}", number % 5)) x=(pc(*from)) y="20" width=(pc(*width)) height="30" {}
                @if *width > 0.02 {
                    text class="small key" x=(pc(from + width / 2.0)) y="63" text-anchor="middle" { (key) }
                }
            }
            rect class="outline" x="0" y="20" width="100%" height="30" {}
            @if let Some(limit) = limit {
                line class="limit" x1=(pc(limit)) x2=(pc(limit)) y1="14" y2="56" {}
                text class="small limit-word" x=(pc(limit)) y="10" text-anchor="middle" { "replaced from " (n((100.0 * limit).round())) " %" }
            }
        }
    }
}

/// The pattern of a part, for the table beside the picture.
pub fn swatch(number: usize) -> Markup {
    html! {
        svg class="swatch" width="20" height="12" aria-hidden="true" focusable="false" {
            rect class=(format!("part part-{}", number % 5)) x=".5" y=".5" width="19" height="11" {}
        }
    }
}

/// A figure of a chart.
pub struct Dot {
    /// Day of the calendar.
    pub day: f64,
    /// In the chart's unit.
    pub value: f64,
    /// Whether it is not on the line.
    pub off: bool,
}

/// The line on one day, and the middle eighty in a hundred around it.
#[derive(Clone, Copy)]
pub struct Reach {
    /// Day of the calendar.
    pub day: f64,
    /// Low end.
    pub low: f64,
    /// The line.
    pub best: f64,
    /// High end.
    pub high: f64,
}

/// A property across the years.
pub struct Chart {
    /// Begins the ids.
    pub id: String,
    /// Name of the picture.
    pub title: String,
    /// What it shows, in sentences.
    pub desc: String,
    /// Figures.
    pub dots: Vec<Dot>,
    /// The line, from the first day shown to the last.
    pub line: Vec<Reach>,
    /// The limit and its words.
    pub limit: Option<(f64, String)>,
    /// Day that the page speaks from.
    pub today: f64,
    /// What was done to the bed, by day.
    pub done: Vec<(f64, String)>,
    /// First and last day shown.
    pub days: (f64, f64),
    /// Lowest and highest value shown.
    pub values: (f64, f64),
    /// Values that are written at the side.
    pub ticks: Vec<f64>,
    /// Days that are written below, with their words.
    pub years: Vec<(f64, String)>,
}

/// Height of the field that the line is drawn in.
const HEIGHT: f64 = 210.0;
/// Units along the stretched field of lines.
const ALONG: f64 = 1000.0;

impl Chart {
    fn x(&self, day: f64) -> f64 {
        (day - self.days.0) / (self.days.1 - self.days.0)
    }

    fn y(&self, value: f64) -> f64 {
        (self.values.1 - value) / (self.values.1 - self.values.0) * HEIGHT
    }

    fn path(&self, line: &[Reach], of: impl Fn(&Reach) -> f64) -> String {
        let place = |reach: &Reach| format!("{} {}", n(ALONG * self.x(reach.day)), n(self.y(of(reach))));
        let places: Vec<String> = line.iter().map(place).collect();
        if places.is_empty() { String::new() } else { format!("M{}", places.join(" L")) }
    }

    fn band(&self) -> String {
        let back: Vec<Reach> = self.line.iter().rev().copied().collect();
        let (out, home) = (self.path(&self.line, |r| r.high), self.path(&back, |r| r.low));
        if out.is_empty() { out } else { format!("{out} L{} Z", home.trim_start_matches('M')) }
    }

    /// The picture.
    pub fn draw(&self) -> Markup {
        let past: Vec<Reach> = self.line.iter().filter(|reach| reach.day <= self.today).copied().collect();
        // The two parts of the line meet on the last day of the past.
        let ahead: Vec<Reach> =
            self.line.iter().filter(|reach| reach.day >= past.last().map_or(self.today, |r| r.day)).copied().collect();
        let id = &self.id;
        html! {
            svg class="chart" width="100%" height=(n(HEIGHT + 24.0)) overflow="visible" role="img" aria-labelledby=(format!("{id}-t {id}-d")) {
                title id=(format!("{id}-t")) { (self.title) }
                desc id=(format!("{id}-d")) { (self.desc) }
                @for tick in &self.ticks {
                    line class="grid" x1="0" x2="100%" y1=(n(self.y(*tick))) y2=(n(self.y(*tick))) {}
                    text class="small" x="-8" y=(n(self.y(*tick) + 4.0)) text-anchor="end" { (label(*tick)) }
                }
                @for (day, words) in &self.years {
                    line class="tick" x1=(pc(self.x(*day))) x2=(pc(self.x(*day))) y1=(n(HEIGHT)) y2=(n(HEIGHT + 5.0)) {}
                    text class="small" x=(pc(self.x(*day))) y=(n(HEIGHT + 19.0)) text-anchor="middle" { (words) }
                }
                // Only lines and areas may be stretched: letters and marks stand outside.
                svg viewBox=(format!("0 0 {} {}", n(ALONG), n(HEIGHT))) preserveAspectRatio="none" width="100%" height=(n(HEIGHT)) {
                    path class="band" d=(self.band()) {}
                    path class="band-edge" d=(self.path(&self.line, |r| r.high)) {}
                    path class="band-edge" d=(self.path(&self.line, |r| r.low)) {}
                    path class="trend" d=(self.path(&past, |r| r.best)) {}
                    path class="trend ahead" d=(self.path(&ahead, |r| r.best)) {}
                }
                line class="axis" x1="0" x2="100%" y1=(n(HEIGHT)) y2=(n(HEIGHT)) {}
                @for (day, words) in &self.done {
                    line class="done" x1=(pc(self.x(*day))) x2=(pc(self.x(*day))) y1="12" y2=(n(HEIGHT)) {}
                    text class="small halo" x=(pc(self.x(*day))) y="9" text-anchor="middle" { (words) }
                }
                @if let Some((limit, words)) = &self.limit {
                    line class="limit" x1="0" x2="100%" y1=(n(self.y(*limit))) y2=(n(self.y(*limit))) {}
                    @let (place, anchor) = self.limit_word_at(*limit);
                    text class="small halo limit-word" x=(place) y=(n(self.limit_word(*limit))) text-anchor=(anchor) { (words) }
                }
                @if self.today > self.days.0 && self.today < self.days.1 {
                    line class="today" x1=(pc(self.x(self.today))) x2=(pc(self.x(self.today))) y1=(n(HEIGHT - 12.0)) y2=(n(HEIGHT)) {}
                    text class="small halo" x=(pc(self.x(self.today))) y=(n(HEIGHT - 16.0)) text-anchor="middle" { "today" }
                }
                @for dot in &self.dots {
                    @if dot.off {
                        svg x=(pc(self.x(dot.day))) y=(n(self.y(dot.value))) overflow="visible" { path class="off" d="M-4 -4 L4 4 M-4 4 L4 -4" {} }
                    } @else {
                        circle class="dot" cx=(pc(self.x(dot.day))) cy=(n(self.y(dot.value))) r="4.2" {}
                    }
                }
            }
        }
    }

    /// At the left end, or at the right one where a figure stands in the way.
    fn limit_word_at(&self, limit: f64) -> (&'static str, &'static str) {
        let y = self.limit_word(limit);
        let in_the_way = |dot: &Dot| self.x(dot.day) < 0.25 && (self.y(dot.value) - y).abs() < 20.0;
        if self.dots.iter().any(in_the_way) { ("100%", "end") } else { ("6", "start") }
    }

    /// Above its line, or below where there is no room above.
    fn limit_word(&self, limit: f64) -> f64 {
        let y = self.y(limit);
        if y < 18.0 { y + 14.0 } else { y - 6.0 }
    }
}

/// A value at the side of a chart.
fn label(value: f64) -> String {
    crate::report::units::number(value)
}

/// A small mark that stands for the verdict, a shape of its own for each.
pub fn verdict_mark(verdict: crate::judge::Verdict) -> Markup {
    use crate::judge::Verdict;
    html! {
        svg class="verdict-mark" width="44" height="44" viewBox="0 0 44 44" aria-hidden="true" focusable="false" {
            @match verdict {
                Verdict::Keep => { circle cx="22" cy="22" r="19" {} path class="cut" d="M13 22.5 L20 29.5 L32 16" {} },
                Verdict::Clean => { path d="M22 2 C30 14 37 20 37 28 A15 14 0 0 1 7 28 C7 20 14 14 22 2 Z" {} path class="cut" d="M14 28 A8 8 0 0 0 20 35" {} },
                Verdict::TopOff => { path d="M22 3 L42 39 L2 39 Z" {} path class="cut" d="M22 18 V33 M14.5 25.5 H29.5" {} },
                Verdict::Replace => { rect x="4" y="4" width="36" height="36" {} path class="cut" d="M14 14 L30 30 M30 14 L14 30" {} },
                Verdict::Resample => { circle class="open" cx="22" cy="22" r="18" {} circle cx="22" cy="31" r="2.4" {} path class="line" d="M16 17 A6 6 0 1 1 22 23 V26" {} },
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_pictures_are_short() {
        assert_eq!((n(1.0), n(0.125), n(-0.001), n(99.999)), ("1".into(), "0.12".into(), "0".into(), "100".into()));
    }

    #[test]
    fn a_spent_figure_stands_at_the_right_end() {
        let drawn = strip("s", "iron", "spent", 0.0).into_string();
        assert!(drawn.contains("class=\"mark\" x=\"100%\""), "{drawn}");
        assert!(strip("s", "iron", "new", 100.0).into_string().contains("class=\"mark\" x=\"0%\""));
    }

    #[test]
    fn parts_of_a_bar_stand_one_after_the_other() {
        let parts = [Share { key: 'A', share: 0.2 }, Share { key: 'B', share: 0.07 }];
        let drawn = bar("b", "t", "d", 0.73, &parts, Some(0.75)).into_string();
        assert!(drawn.contains("part-0\" x=\"73%\" y=\"20\" width=\"20%\""), "{drawn}");
        assert!(drawn.contains("part-1\" x=\"93%\" y=\"20\" width=\"7%\""), "{drawn}");
    }
}
