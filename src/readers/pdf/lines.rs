//! Glyphs to lines: baselines gathered, small raised and lowered glyphs brought to the line that they belong to.

use super::upright::{Mark, Rise};

/// Segments of a line beyond which overlap is no longer looked at.
const MOST_COMPARED: usize = 300;

/// A line of a page.
#[derive(Clone, Debug, Default)]
pub struct TextLine {
    /// Its glyphs, from left to right.
    pub marks: Vec<Mark>,
    /// Baseline.
    pub y: f32,
    /// Upper edge.
    pub top: f32,
    /// Lower edge.
    pub bottom: f32,
}

/// Glyphs that follow each other on one baseline without a wide gap.
struct Segment {
    marks: Vec<Mark>,
    x0: f32,
    x1: f32,
    y: f32,
    size: f32,
    shown: usize,
}

impl Segment {
    fn of(marks: Vec<Mark>) -> Option<Self> {
        let shown = marks.iter().filter(|m| !m.is_blank()).count();
        let first = marks.iter().find(|m| !m.is_blank())?;
        let last = marks.iter().rev().find(|m| !m.is_blank())?;
        let size = marks.iter().filter(|m| !m.is_blank()).map(|m| m.size).fold(0.0, f32::max);
        let (x0, x1, y) = (first.x0, last.x1, first.y);
        Some(Self { marks, x0, x1, y, size, shown })
    }
}

/// Gathers glyphs into lines, from top to bottom.
pub fn lines(marks: Vec<Mark>) -> Vec<TextLine> {
    let (mut segments, baselines) = segments(marks);
    let hosts: Vec<Option<(usize, Rise)>> = (0..segments.len()).map(|i| host(i, &segments, &baselines)).collect();
    let mut lines: Vec<(f32, f32, Vec<usize>)> = Vec::new();
    let mut line_of = vec![usize::MAX; segments.len()];
    let mut order: Vec<usize> = (0..segments.len()).filter(|i| hosts.get(*i).is_some_and(Option::is_none)).collect();
    let at = |i: &usize| segments.get(*i).map_or(0.0, |s| s.y);
    order.sort_by(|a, b| at(a).total_cmp(&at(b)));
    for index in order {
        let Some(segment) = segments.get(index) else { continue };
        let near = lines
            .iter()
            .enumerate()
            .rev()
            .take(4)
            .filter(|(_, line)| (segment.y - line.0).abs() <= 0.35 * segment.size.min(line.1))
            .filter(|(_, line)| {
                line.2.len() > MOST_COMPARED || !line.2.iter().any(|o| overlaps(segment, segments.get(*o)))
            })
            .min_by(|a, b| (segment.y - a.1.0).abs().total_cmp(&(segment.y - b.1.0).abs()))
            .map(|found| found.0);
        let line = near.unwrap_or(lines.len());
        match lines.get_mut(line) {
            Some(found) => found.2.push(index),
            None => lines.push((segment.y, segment.size, vec![index])),
        }
        if let Some(to) = line_of.get_mut(index) {
            *to = line;
        }
    }
    let mut gathered: Vec<TextLine> = lines.iter().map(|l| TextLine { y: l.0, ..TextLine::default() }).collect();
    for index in 0..segments.len() {
        let host = hosts.get(index).copied().flatten();
        let owner = host.map_or(index, |h| h.0);
        let Some(line) = line_of.get(owner).and_then(|l| gathered.get_mut(*l)) else { continue };
        let Some(segment) = segments.get_mut(index) else { continue };
        let rise = host.map_or(Rise::None, |h| h.1);
        line.marks.extend(segment.marks.drain(..).map(|mark| Mark { rise, ..mark }));
    }
    for line in &mut gathered {
        line.marks.sort_by(|a, b| a.x0.total_cmp(&b.x0));
        let on_line = || line.marks.iter().filter(|m| m.rise == Rise::None && !m.is_blank());
        line.top = on_line().map(|m| m.y - 0.78 * m.size).fold(f32::MAX, f32::min);
        line.bottom = on_line().map(|m| m.y + 0.22 * m.size).fold(f32::MIN, f32::max);
    }
    gathered.sort_by(|a, b| a.y.total_cmp(&b.y));
    gathered
}

/// Baselines, each with its segments from left to right.
type Baselines = Vec<(f32, Vec<usize>)>;

fn segments(mut marks: Vec<Mark>) -> (Vec<Segment>, Baselines) {
    marks.sort_by(|a, b| a.y.total_cmp(&b.y));
    let mut segments: Vec<Segment> = Vec::new();
    let mut baselines: Baselines = Vec::new();
    let mut rest = marks.as_slice();
    while let Some(first) = rest.first() {
        let end = rest.partition_point(|m| m.y - first.y <= 0.08 * first.size.max(4.0));
        let (row, later) = rest.split_at(end.max(1));
        rest = later;
        let mut row = row.to_vec();
        row.sort_by(|a, b| a.x0.total_cmp(&b.x0));
        row.dedup_by(|next, before| is_twice(before, next));
        let collides = |pair: &[Mark]| match pair {
            [one, next] => !one.is_blank() && !next.is_blank() && one.x1 - next.x0 > 0.3 * (next.x1 - next.x0).max(0.5),
            _ => false,
        };
        // Text that runs into other text is told apart by the order in which it was written.
        let overprinted = row.windows(2).filter(|w| collides(w)).count() >= 2;
        if overprinted {
            row.sort_by_key(|m| m.order);
        }
        let found = runs(row, overprinted);
        let start = segments.len();
        segments.extend(found.into_iter().filter_map(Segment::of));
        if segments.len() > start {
            baselines.push((first.y, (start..segments.len()).collect()));
        }
    }
    (segments, baselines)
}

/// Glyphs of one baseline cut at wide gaps, at changes of size, and at steps back.
fn runs(row: Vec<Mark>, overprinted: bool) -> Vec<Vec<Mark>> {
    let mut found = Vec::new();
    let mut open: Vec<Mark> = Vec::new();
    for mark in row {
        let parts = open.last().is_some_and(|last| {
            let size = last.size.max(mark.size);
            let ratio = last.size.min(mark.size) / size.max(0.01);
            let gap = mark.x0 - last.x1;
            gap > 0.7 * size || ratio < 0.8 && !mark.is_blank() && !last.is_blank() || overprinted && gap < -0.5 * size
        });
        if parts {
            found.push(std::mem::take(&mut open));
        }
        open.push(mark);
    }
    found.push(open);
    found
}

/// Bold type is sometimes made by drawing a glyph again, a hair to the side.
fn is_twice(before: &Mark, next: &Mark) -> bool {
    before.character == next.character
        && !next.is_blank()
        && (before.x0 - next.x0).abs() < 0.1 * next.size
        && (before.size - next.size).abs() < 0.1 * next.size
}

fn overlaps(one: &Segment, other: Option<&Segment>) -> bool {
    let Some(other) = other else { return false };
    let common = one.x1.min(other.x1) - one.x0.max(other.x0);
    common > 0.3 * (one.x1 - one.x0).min(other.x1 - other.x0).max(1.0)
}

/// The segment that a short raised or lowered one belongs to.
fn host(index: usize, segments: &[Segment], baselines: &Baselines) -> Option<(usize, Rise)> {
    let small = segments.get(index)?;
    if small.shown > 8 {
        return None;
    }
    let reach = 4.0 * small.size;
    let first = baselines.partition_point(|b| b.0 < small.y - reach);
    let mut best: Option<(f32, usize, Rise)> = None;
    for (y, row) in baselines.iter().skip(first).take_while(|b| b.0 <= small.y + reach) {
        if (y - small.y).abs() < 0.01 {
            continue;
        }
        let at = |i: &usize| segments.get(*i).map_or(f32::MAX, |s| s.x0);
        let after = row.partition_point(|i| at(i) <= small.x0 + 0.3 * small.size);
        let left = after.checked_sub(1).and_then(|i| row.get(i));
        for candidate in [left, row.get(after)].into_iter().flatten() {
            let Some(large) = segments.get(*candidate) else { continue };
            let Some(rise) = rises(small, large) else { continue };
            let distance = (large.y - small.y).abs();
            if best.is_none_or(|b| distance < b.0) {
                best = Some((distance, *candidate, rise));
            }
        }
    }
    best.map(|b| (b.1, b.2))
}

/// Whether a segment is raised or lowered against another that it touches.
fn rises(small: &Segment, large: &Segment) -> Option<Rise> {
    let up = (large.y - small.y) / large.size.max(0.01);
    let ratio = small.size / large.size.max(0.01);
    let rise = if ratio <= 0.87 {
        match up {
            0.12..=0.75 => Rise::Raised,
            -0.45..=-0.03 => Rise::Lowered,
            _ => return None,
        }
    } else if ratio <= 1.15 && small.shown <= 3 && small.shown < large.shown {
        match up {
            0.2..=0.6 => Rise::Raised,
            -0.5..=-0.15 => Rise::Lowered,
            _ => return None,
        }
    } else {
        return None;
    };
    let after = large.marks.partition_point(|m| m.x0 <= small.x0 + 0.2 * small.size);
    let left = large.marks.get(..after)?.iter().rev().find(|m| !m.is_blank());
    let right = large.marks.get(after..)?.iter().find(|m| !m.is_blank());
    if right.is_some_and(|r| r.x0 < small.x1 - 0.35 * small.size) {
        return None;
    }
    let follows = left.is_some_and(|l| {
        let gap = (small.x0 - l.x1) / small.size;
        (-0.6..=0.4).contains(&gap)
    });
    // A footnote's own mark stands in front of its text.
    let leads = small.shown <= 2
        && rise == Rise::Raised
        && right.is_some_and(|r| {
            let gap = (r.x0 - small.x1) / large.size;
            (-0.1..=0.6).contains(&gap)
        });
    (follows || leads).then_some(rise)
}
