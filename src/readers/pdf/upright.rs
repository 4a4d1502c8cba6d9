//! Pages turned so that most of their text runs to the right, measured in points from the upper left corner.

use super::pass::RawPage;
use super::paths::Rect;
use crate::readers::marks;
use std::collections::HashMap;

/// Type smaller than this is not meant to be seen.
const SMALLEST: f32 = 0.8;
/// Hidden glyphs of one page that are looked at for what they cut.
const MOST_CUT: usize = 500;
/// Share of the page that pictures must cover for invisible text to be their reading.
const SCANNED: f32 = 0.5;

/// Where a glyph stands against the line that it belongs to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Rise {
    /// On the line.
    #[default]
    None,
    /// Above it, smaller.
    Raised,
    /// Below it, smaller.
    Lowered,
}

/// A glyph on the upright page.
#[derive(Clone, Copy, Debug)]
pub struct Mark {
    /// Left edge.
    pub x0: f32,
    /// Right edge, without added spacing.
    pub x1: f32,
    /// Baseline, from the top.
    pub y: f32,
    /// Size of the type.
    pub size: f32,
    /// Spacing added to each glyph.
    pub spacing: f32,
    /// The character.
    pub character: char,
    /// Number of the state.
    pub state: usize,
    /// Read by character recognition.
    pub recognized: bool,
    /// Against its line.
    pub rise: Rise,
    /// Place in the order of the content.
    pub order: u32,
}

impl Mark {
    /// Whether it only parts words.
    pub fn is_blank(&self) -> bool {
        self.character.is_whitespace()
    }
}

/// A rule on the upright page: along is the axis that it runs on.
#[derive(Clone, Copy, Debug)]
pub struct Stroke {
    /// Where it stands across.
    pub at: f32,
    /// Where it begins.
    pub from: f32,
    /// Where it ends.
    pub to: f32,
    /// An edge of a background.
    pub edge: bool,
}

/// Text of one direction other than most of the page's.
pub struct Turned {
    /// Glyphs in a frame of their own, where they run to the right.
    pub marks: Vec<Mark>,
    /// How to get from that frame to the page's.
    turn: Turn,
}

/// An upright page.
#[derive(Default)]
pub struct Upright {
    /// Glyphs that run to the right.
    pub marks: Vec<Mark>,
    /// Text of other directions.
    pub turned: Vec<Turned>,
    /// Upright rules.
    pub uprights: Vec<Stroke>,
    /// Level rules.
    pub levels: Vec<Stroke>,
    /// Width.
    pub width: f32,
    /// Height.
    pub height: f32,
    /// Characters left out because nobody sees them.
    pub unseen: String,
    /// Figures were cut off by the edge of what they stand in.
    pub cut_off: bool,
    /// The page is mostly pictures.
    pub is_scan: bool,
}

/// A turn of the page: quarter turns, or the angle of slanting text.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Turn {
    Quarters(u8, f32, f32),
    Slant(f32),
}

impl Turn {
    fn apply(self, x: f32, y: f32) -> (f32, f32) {
        match self {
            Self::Quarters(1, width, _) => (y, width - x),
            Self::Quarters(2, width, height) => (width - x, height - y),
            Self::Quarters(3, _, height) => (height - y, x),
            Self::Quarters(..) => (x, y),
            Self::Slant(angle) => (x * angle.cos() + y * angle.sin(), y * angle.cos() - x * angle.sin()),
        }
    }

    fn undo(self, x: f32, y: f32) -> (f32, f32) {
        match self {
            Self::Quarters(1, width, _) => (width - y, x),
            Self::Quarters(2, width, height) => (width - x, height - y),
            Self::Quarters(3, _, height) => (y, height - x),
            Self::Quarters(..) => (x, y),
            Self::Slant(angle) => (x * angle.cos() - y * angle.sin(), x * angle.sin() + y * angle.cos()),
        }
    }
}

impl Turned {
    /// A point of this text on the page.
    pub fn on_page(&self, x: f32, y: f32) -> (f32, f32) {
        self.turn.undo(x, y)
    }

    /// Whether it runs square to the page.
    pub fn is_square(&self) -> bool {
        matches!(self.turn, Turn::Quarters(..))
    }
}

/// Direction of a run: quarter turns clockwise from rightwards, or whole degrees.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
enum Direction {
    Quarters(u8),
    Degrees(i16),
}

/// Stands where a figure is cut off by the edge of what it stands in.
const CUT: char = '\u{fffd}';

/// A glyph that the edge of what it stands in hides.
struct Hidden {
    at: (f32, f32),
    length: f32,
    size: f32,
    state: usize,
}

#[derive(Clone, Copy)]
struct Placed {
    at: (f32, f32),
    along: (f32, f32),
    mark: Mark,
}

/// Turns a page upright.
pub fn upright(page: &RawPage) -> Upright {
    let (width, height) = page.frame.size();
    let mut out = Upright { width, height, ..Upright::default() };
    let area = (page.frame.right - page.frame.left) * (page.frame.top - page.frame.bottom);
    let covered: f32 = page.pictures.iter().map(|p| p.width() * p.height()).sum();
    out.is_scan = covered > SCANNED * area;

    let mut last_unseen = None;
    let mut hidden_by_cut: Vec<Hidden> = Vec::new();
    let mut by_direction: HashMap<Direction, Vec<Placed>> = HashMap::new();
    for (order, glyph) in (0_u32..).zip(&page.text.glyphs) {
        let along = page.frame.turned(glyph.advance.0, glyph.advance.1);
        let up = page.frame.turned(glyph.up.0, glyph.up.1);
        let length = along.0.hypot(along.1);
        let direction = if length > 0.01 { along } else { (-up.1, up.0) };
        let norm = direction.0.hypot(direction.1);
        if norm < 0.001 {
            continue;
        }
        let unit = (direction.0 / norm, direction.1 / norm);
        // Height of the type square to its line: slanted type is no higher for its slant.
        let size = (unit.0 * up.1 - unit.1 * up.0).abs();
        let state = page.states.get(glyph.state);
        let hidden = state.is_some_and(|s| s.hidden);
        let invisible = state.is_some_and(|s| s.invisible);
        let outside = state.is_some_and(|s| is_outside(glyph, &s.clip));
        if hidden || size < SMALLEST || (invisible && !out.is_scan) || outside {
            if outside && glyph.character.is_numeric() {
                out.cut_off = true;
            }
            if outside && !glyph.character.is_whitespace() && hidden_by_cut.len() < MOST_CUT {
                let at = page.frame.shown(glyph.at.0, glyph.at.1);
                hidden_by_cut.push(Hidden { at, length, size, state: glyph.state });
            } else if !outside && out.unseen.len() < 400 {
                if last_unseen.is_some_and(|at: (f32, f32)| (at.1 - glyph.at.1).abs() > 1.0) {
                    out.unseen.push(' ');
                }
                last_unseen = Some(glyph.at);
                out.unseen.push(glyph.character);
            }
            continue;
        }
        let mark = Mark {
            x0: 0.0,
            x1: length,
            y: 0.0,
            size,
            spacing: glyph.spacing * size,
            character: glyph.character,
            state: glyph.state,
            recognized: invisible,
            rise: Rise::None,
            order,
        };
        let placed = Placed { at: page.frame.shown(glyph.at.0, glyph.at.1), along: unit, mark };
        let direction = direction_of(unit);
        let list = by_direction.entry(direction).or_default();
        list.push(placed);
    }
    for list in by_direction.values_mut() {
        mark_cuts(list, &hidden_by_cut);
        mark_full(list, page);
    }
    let count = |list: &[Placed]| list.iter().filter(|p| !p.mark.is_blank()).count();
    let main = by_direction
        .iter()
        .filter_map(|(d, list)| match d {
            Direction::Quarters(q) => Some((*q, count(list))),
            Direction::Degrees(_) => None,
        })
        .max_by_key(|(q, n)| (*n, u8::MAX - q))
        .map_or(0, |m| m.0);
    let page_turn = Turn::Quarters(main, width, height);
    if main % 2 == 1 {
        (out.width, out.height) = (height, width);
    }
    let mut directions: Vec<_> = by_direction.into_iter().collect();
    directions.sort_by_key(|d| d.0);
    for (direction, list) in directions {
        let (w, h) = (out.width, out.height);
        let turn = match direction {
            Direction::Quarters(q) => Turn::Quarters((q + 4 - main) % 4, w, h),
            Direction::Degrees(_) => {
                let Some(first) = list.first() else { continue };
                let along = turned_direction(first.along, main);
                Turn::Slant(along.1.atan2(along.0))
            }
        };
        let marks: Vec<Mark> = list
            .into_iter()
            .map(|placed| {
                let on_page = page_turn.apply(placed.at.0, placed.at.1);
                let (x, y) = turn.apply(on_page.0, on_page.1);
                Mark { x0: x + placed.mark.x0, x1: x + placed.mark.x1, y, ..placed.mark }
            })
            .collect();
        let marks = composed(marks);
        if direction == Direction::Quarters(main) { out.marks = marks } else { out.turned.push(Turned { marks, turn }) }
    }
    for rule in &page.rules {
        let Rect { x0, y0, x1, y1 } = rule.place;
        let corner = |x, y| {
            let shown = page.frame.shown(x, y);
            page_turn.apply(shown.0, shown.1)
        };
        let ((a, b), (c, d)) = (corner(x0, y0), corner(x1, y1));
        let (left, right, top, bottom) = (a.min(c), a.max(c), b.min(d), b.max(d));
        if rule.upright != ((u32::from(page.frame.turns) + u32::from(main)) % 2 == 1) {
            out.uprights.push(Stroke { at: (left + right) / 2.0, from: top, to: bottom, edge: rule.edge });
        } else {
            out.levels.push(Stroke { at: (top + bottom) / 2.0, from: left, to: right, edge: rule.edge });
        }
    }
    out
}

/// Letters whose accents were drawn as glyphs of their own, put together.
fn composed(marks: Vec<Mark>) -> Vec<Mark> {
    let mut out: Vec<Mark> = Vec::with_capacity(marks.len());
    for mark in marks {
        if let Some(last) = out.last_mut() {
            let middle = |m: &Mark| (m.x0 + m.x1) / 2.0;
            let near =
                (middle(last) - middle(&mark)).abs() < 0.2 * mark.size && (last.y - mark.y).abs() < 0.5 * mark.size;
            if near && let Some(character) = marks::compose(mark.character, last.character) {
                *last = Mark { character, ..mark };
                continue;
            }
            if near && let Some(character) = marks::compose(last.character, mark.character) {
                last.character = character;
                continue;
            }
        }
        out.push(mark);
    }
    out
}

/// A figure beside hidden text may be half a number: a sign is set to it that no number holds.
fn mark_cuts(list: &mut Vec<Placed>, hidden: &[Hidden]) {
    let mut cuts = Vec::new();
    for hidden in hidden {
        for placed in list.iter().filter(|p| p.mark.state == hidden.state) {
            let (dx, dy) = (hidden.at.0 - placed.at.0, hidden.at.1 - placed.at.1);
            let along = dx * placed.along.0 + dy * placed.along.1;
            let across = (dx * placed.along.1 - dy * placed.along.0).abs();
            let near = 0.25 * hidden.size;
            let is_figure = placed.mark.character.is_numeric()
                || matches!(placed.mark.character, '.' | ',' | '±' | '<' | '-' | '−');
            if !is_figure || across > near {
                continue;
            }
            let mark = Mark { character: CUT, ..placed.mark };
            if (along - placed.mark.x1).abs() < near {
                cuts.push(Placed { mark: Mark { x0: placed.mark.x1, ..mark }, ..*placed });
            } else if (along + hidden.length).abs() < near {
                cuts.push(Placed { mark: Mark { x0: -0.01, x1: 0.0, ..mark }, ..*placed });
            }
        }
    }
    list.extend(cuts);
}

/// One office suite drops what does not fit a cell, so that nothing hidden is left to tell: a text that starts at the
/// margin of its box and fills it to less than a character is taken to go on.
fn mark_full(list: &mut Vec<Placed>, page: &RawPage) {
    let page_width = page.frame.right - page.frame.left;
    let mut cuts = Vec::new();
    let mut start = 0;
    for end in 1..=list.len() {
        let (Some(first), Some(last)) = (list.get(start), list.get(end - 1)) else { break };
        if list.get(end).is_some_and(|n| n.mark.state == last.mark.state && n.at.1 == last.at.1) {
            continue;
        }
        start = end;
        let Some(state) = page.states.get(first.mark.state) else { continue };
        let (Some(one), Some(other)) = (glyph_of(page, first), glyph_of(page, last)) else { continue };
        let margin = one.at.0 - state.clip.x0;
        let left_over = state.clip.x1 - (other.at.0 + other.advance.0);
        let narrow = state.clip.width() < 0.9 * page_width;
        let is_figure = last.mark.character.is_numeric() || matches!(last.mark.character, '.' | ',' | '±');
        if narrow && is_figure && (0.5..3.0).contains(&margin) && left_over < 0.7 * last.mark.size {
            let mark = Mark { x0: last.mark.x1, character: CUT, ..last.mark };
            cuts.push(Placed { mark, ..*last });
        }
    }
    if !cuts.is_empty() {
        list.extend(cuts);
    }
}

fn glyph_of<'a>(page: &'a RawPage, placed: &Placed) -> Option<&'a super::glyphs::Glyph> {
    page.text.glyphs.get(placed.mark.order as usize)
}

fn direction_of(unit: (f32, f32)) -> Direction {
    let degrees = unit.1.atan2(unit.0).to_degrees();
    let quarters = (degrees / 90.0).round();
    if (degrees - quarters * 90.0).abs() < 3.0 {
        Direction::Quarters((quarters as i32).rem_euclid(4) as u8)
    } else {
        Direction::Degrees(degrees.round() as i16)
    }
}

fn turned_direction(along: (f32, f32), quarters: u8) -> (f32, f32) {
    match quarters {
        1 => (along.1, -along.0),
        2 => (-along.0, -along.1),
        3 => (-along.1, along.0),
        _ => along,
    }
}

/// Whether the middle of a glyph lies outside what may be seen, by more than a hair.
fn is_outside(glyph: &super::glyphs::Glyph, clip: &Rect) -> bool {
    let x = glyph.at.0 + glyph.advance.0 * 0.5 + glyph.up.0 * 0.3;
    let y = glyph.at.1 + glyph.advance.1 * 0.5 + glyph.up.1 * 0.3;
    x < clip.x0 - 0.5 || x > clip.x1 + 0.5 || y < clip.y0 - 0.5 || y > clip.y1 + 0.5
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turns_are_undone() {
        for turn in [
            Turn::Quarters(1, 600.0, 800.0),
            Turn::Quarters(2, 600.0, 800.0),
            Turn::Quarters(3, 600.0, 800.0),
            Turn::Slant(0.7),
        ] {
            let (x, y) = turn.apply(100.0, 50.0);
            let (x, y) = turn.undo(x, y);
            assert!((x - 100.0).abs() < 0.01 && (y - 50.0).abs() < 0.01);
        }
    }

    #[test]
    fn directions_are_told() {
        assert_eq!(direction_of((1.0, 0.01)), Direction::Quarters(0));
        assert_eq!(direction_of((0.0, 1.0)), Direction::Quarters(1));
        assert_eq!(direction_of((0.0, -1.0)), Direction::Quarters(3));
        assert_eq!(direction_of((0.7, -0.7)), Direction::Degrees(-45));
    }
}
