//! Narrow gaps that are borders of columns because the lines around them say so.
//!
//! "2,140 mg/kg" with little room between figure and unit looks like two words of one cell; where other lines have a
//! column begin, or end, in the same place, it is two cells.

use super::layout::Strip;

/// Gap from which words are cells whatever stands above and below, over the width of a character.
pub const CLEAR: f32 = 1.3;
/// A gap is wider than a blank from here on.
const WIDER: f32 = 1.45;
/// Lines above and below that are asked.
const AROUND: usize = 12;
/// Lines that must agree, where none of them has a clear gap.
const ENOUGH: usize = 3;

/// A gap between two words of a line.
#[derive(Clone, Copy)]
struct Gap {
    from: f32,
    to: f32,
    /// Position of the word behind it.
    at: usize,
}

/// Marks the words before which other lines confirm a border.
pub fn confirm(strips: &mut [Strip<'_>], char_width: f32) {
    let clear = CLEAR * char_width;
    let blank = blank(strips, char_width);
    let gaps: Vec<Vec<Gap>> = strips.iter().map(|s| gaps(s, WIDER * blank)).collect();
    let near = 0.4 * char_width;
    for (at, strip) in strips.iter_mut().enumerate() {
        for gap in gaps.get(at).into_iter().flatten().filter(|g| g.to - g.from <= clear) {
            let from = at.saturating_sub(AROUND);
            let around = gaps.iter().enumerate().skip(from).take(2 * AROUND + 1).filter(|(other, _)| *other != at);
            let (mut agreeing, mut sure) = (0, 0);
            for (_, others) in around {
                let fits = |o: &&Gap| {
                    let common = o.to.min(gap.to) - o.from.max(gap.from);
                    let aligned = (o.to - gap.to).abs() <= near || (o.from - gap.from).abs() <= near;
                    common >= 0.5 * (gap.to - gap.from) && aligned
                };
                if let Some(other) = others.iter().find(fits) {
                    agreeing += 1;
                    sure += usize::from(other.to - other.from > clear);
                }
            }
            if sure >= 2 || agreeing >= ENOUGH {
                strip.parted.extend(strip.words.get(gap.at).map(|w| w.id));
            }
        }
    }
}

/// Width of an ordinary blank.
fn blank(strips: &[Strip<'_>], char_width: f32) -> f32 {
    let mut widths: Vec<f32> = strips
        .iter()
        .filter(|s| s.table.is_none())
        .flat_map(|s| gaps(s, 0.1 * char_width))
        .map(|g| g.to - g.from)
        .filter(|w| *w < CLEAR * char_width)
        .collect();
    widths.sort_by(f32::total_cmp);
    // Most blanks are ordinary; those of a bare table may all be borders, and then none is taken for ordinary.
    let usual = 0.7 * char_width;
    widths.get(widths.len() / 3).copied().unwrap_or(usual).min(usual)
}

fn gaps(strip: &Strip<'_>, least: f32) -> Vec<Gap> {
    let mut found = Vec::new();
    if strip.table.is_some() {
        return found;
    }
    let mut end: Option<f32> = None;
    for (at, word) in strip.words.iter().enumerate() {
        if let Some(from) = end
            && word.x0 - from > least
        {
            found.push(Gap { from, to: word.x0, at });
        }
        end = Some(end.map_or(word.x1, |e| e.max(word.x1)));
    }
    found
}
