//! Paths to rules: straight lines along the page, and the edges of backgrounds.

use super::lexer::Operand;

/// Rules kept of one page; drawings have more lines than tables.
const MOST_RULES: usize = 12_000;
/// Points kept of one path.
const MOST_POINTS: usize = 20_000;
/// Filled boxes thinner than this are lines.
const THIN: f32 = 3.0;

/// A transformation, as PDF writes it.
pub type Matrix = [f32; 6];

/// `first`, then `then`.
pub fn multiply(first: &Matrix, then: &Matrix) -> Matrix {
    let [a, b, c, d, e, f] = *first;
    let [g, h, i, j, k, l] = *then;
    [a * g + b * i, a * h + b * j, c * g + d * i, c * h + d * j, e * g + f * i + k, e * h + f * j + l]
}

/// A point transformed.
pub fn apply(matrix: &Matrix, point: (f32, f32)) -> (f32, f32) {
    let [a, b, c, d, e, f] = *matrix;
    (a * point.0 + c * point.1 + e, b * point.0 + d * point.1 + f)
}

/// An upright box.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rect {
    /// Left.
    pub x0: f32,
    /// Lower, where y goes up.
    pub y0: f32,
    /// Right.
    pub x1: f32,
    /// Upper, where y goes up.
    pub y1: f32,
}

impl Rect {
    /// The smallest box around some points.
    pub fn around(points: impl IntoIterator<Item = (f32, f32)>) -> Self {
        let mut found = Self { x0: f32::MAX, y0: f32::MAX, x1: f32::MIN, y1: f32::MIN };
        for (x, y) in points {
            found = Self { x0: found.x0.min(x), y0: found.y0.min(y), x1: found.x1.max(x), y1: found.y1.max(y) };
        }
        found
    }

    /// What both boxes cover; of no width or height where they do not meet.
    pub fn within(&self, other: &Self) -> Self {
        let x0 = self.x0.max(other.x0);
        let y0 = self.y0.max(other.y0);
        Self { x0, y0, x1: self.x1.min(other.x1).max(x0), y1: self.y1.min(other.y1).max(y0) }
    }

    /// Width.
    pub fn width(&self) -> f32 {
        self.x1 - self.x0
    }

    /// Height.
    pub fn height(&self) -> f32 {
        self.y1 - self.y0
    }
}

/// A straight line along the page, or an edge of a background.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rule {
    /// Where, lengthwise and across.
    pub place: Rect,
    /// Runs up and down.
    pub upright: bool,
    /// An edge of a background, not a line.
    pub edge: bool,
}

/// How a colour shows on paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// Shows.
    Dark,
    /// White, in a colour space where the numbers say so.
    White,
    /// Shows; numbers mean amounts of ink.
    Tint,
}

impl Ink {
    /// After a colour operator.
    pub fn of(operator: &[u8], operands: &[Operand], before: Self) -> Self {
        let numbers: Vec<f32> = operands.iter().filter_map(Operand::number).collect();
        let named_space = matches!(operator, b"g" | b"G" | b"rg" | b"RG" | b"k" | b"K");
        let is_white = match numbers.len() {
            3 => numbers.iter().all(|n| *n > 0.99),
            4 => numbers.iter().all(|n| *n < 0.01),
            // A lone number is light in grey and ink in a space of one ink.
            1 => (named_space || before != Self::Tint) && numbers.iter().all(|n| *n > 0.99),
            _ => false,
        };
        match (is_white, before) {
            (true, _) => Self::White,
            (false, Self::Tint) if !named_space => Self::Tint,
            (false, _) => Self::Dark,
        }
    }

    /// After a colour space was chosen.
    pub fn in_space(operands: &[Operand]) -> Self {
        match operands.last().and_then(Operand::name) {
            Some(b"DeviceGray" | b"DeviceRGB" | b"DeviceCMYK") => Self::Dark,
            _ => Self::Tint,
        }
    }
}

/// Whether two points lie on a line along the page.
fn is_along(from: (f32, f32), to: (f32, f32)) -> bool {
    (from.0 - to.0).abs() < 0.6 || (from.1 - to.1).abs() < 0.6
}

/// The current path, and the rules found so far.
#[derive(Default)]
pub struct Paths {
    /// Rules and edges.
    pub rules: Vec<Rule>,
    /// The current path is to clip.
    pub clips: bool,
    lines: Vec<Line>,
    points: usize,
}

#[derive(Default)]
struct Line {
    points: Vec<(f32, f32)>,
    curved: bool,
    closed: bool,
}

impl Line {
    /// A box with round corners has straight sides between them; three are enough.
    fn is_rounded_box(&self) -> bool {
        let is_side = |w: &&[(f32, f32)]| matches!(w, [from, to] if is_along(*from, *to) && (from.0 - to.0).hypot(from.1 - to.1) > 5.0);
        self.curved && self.points.len() <= 24 && self.points.windows(2).filter(is_side).count() >= 3
    }
}

impl Paths {
    /// Adds to the current path.
    pub fn add(&mut self, operator: &[u8], operands: &[Operand], matrix: &Matrix) {
        let numbers: Vec<f32> = operands.iter().filter_map(Operand::number).collect();
        if self.points > MOST_POINTS {
            return;
        }
        self.points += 1;
        match (operator, numbers.as_slice()) {
            (b"m", [.., x, y]) => self.start((*x, *y), matrix),
            (b"l", [.., x, y]) => self.extend((*x, *y), matrix, false),
            (b"c" | b"v" | b"y", [.., x, y]) => self.extend((*x, *y), matrix, true),
            (b"re", [.., x, y, width, height]) => {
                let (right, top) = (x + width, y + height);
                self.start((*x, *y), matrix);
                for point in [(right, *y), (right, top), (*x, top), (*x, *y)] {
                    self.extend(point, matrix, false);
                }
                if let Some(line) = self.lines.last_mut() {
                    line.closed = true;
                }
            }
            (b"h", _) => {
                if let Some(line) = self.lines.last_mut() {
                    line.closed = true;
                }
            }
            _ => {}
        }
    }

    fn start(&mut self, point: (f32, f32), matrix: &Matrix) {
        self.lines.push(Line { points: vec![apply(matrix, point)], ..Line::default() });
    }

    fn extend(&mut self, point: (f32, f32), matrix: &Matrix, curved: bool) {
        let point = apply(matrix, point);
        match self.lines.last_mut() {
            Some(line) if !line.closed => {
                line.points.push(point);
                line.curved |= curved;
            }
            Some(line) => {
                // After a closed line the pen stands at its start.
                let start = line.points.first().copied();
                self.lines.push(Line { points: start.into_iter().chain([point]).collect(), curved, closed: false });
            }
            None => self.lines.push(Line { points: vec![point], ..Line::default() }),
        }
    }

    /// Paints the current path and starts a new one.
    pub fn paint(&mut self, fill: Option<Ink>, stroke: Option<Ink>, closes: bool, clip: &mut Rect) {
        let lines = std::mem::take(&mut self.lines);
        self.points = 0;
        if stroke.is_some_and(|ink| ink != Ink::White) {
            for line in &lines {
                if line.is_rounded_box() {
                    self.edges(Rect::around(line.points.iter().copied()), false, clip);
                    continue;
                }
                let ends = line.points.first().filter(|_| line.closed || closes);
                let next = line.points.iter().skip(1).chain(ends);
                for (from, to) in line.points.iter().zip(next) {
                    self.segment(*from, *to, clip);
                }
            }
        }
        if fill.is_some_and(|ink| ink != Ink::White) {
            for line in &lines {
                self.filled(line, clip);
            }
        }
        if std::mem::take(&mut self.clips) {
            let points: Vec<_> = lines.iter().flat_map(|l| &l.points).copied().collect();
            if !points.is_empty() {
                *clip = clip.within(&Rect::around(points));
            }
        }
    }

    fn segment(&mut self, from: (f32, f32), to: (f32, f32), clip: &Rect) {
        let (dx, dy) = ((from.0 - to.0).abs(), (from.1 - to.1).abs());
        let upright = dx < dy;
        if dx.min(dy) > 0.6 || dx.max(dy) < 3.0 {
            return;
        }
        self.push(Rect::around([from, to]), upright, false, clip);
    }

    fn filled(&mut self, line: &Line, clip: &Rect) {
        let place = Rect::around(line.points.iter().copied());
        let straight = !line.curved
            && (4..=6).contains(&line.points.len())
            && line.points.windows(2).all(|w| matches!(w, [from, to] if is_along(*from, *to)));
        if line.is_rounded_box() {
            self.edges(place, true, clip);
            return;
        }
        // Borders are also drawn by filling a whole box of which a clip lets only one side through.
        let place = place.within(clip);
        if !straight || (place.width() < 3.0 && place.height() < 3.0) || place.width().min(place.height()) <= 0.0 {
            return;
        }
        if place.width() < THIN || place.height() < THIN {
            self.push(place, place.width() < place.height(), false, clip);
            return;
        }
        // A sheet of colour behind the page is not a border of anything on it.
        if place.width() > 0.97 * clip.width() && place.height() > 0.9 * clip.height() {
            return;
        }
        self.edges(place, true, clip);
    }

    fn edges(&mut self, place: Rect, edge: bool, clip: &Rect) {
        let Rect { x0, y0, x1, y1 } = place;
        self.push(Rect { x0, y0, x1: x0, y1 }, true, edge, clip);
        self.push(Rect { x0: x1, y0, x1, y1 }, true, edge, clip);
        self.push(Rect { x0, y0, x1, y1: y0 }, false, edge, clip);
        self.push(Rect { x0, y0: y1, x1, y1 }, false, edge, clip);
    }

    fn push(&mut self, place: Rect, upright: bool, edge: bool, clip: &Rect) {
        let shown = Rect {
            x0: place.x0.max(clip.x0 - 1.0),
            y0: place.y0.max(clip.y0 - 1.0),
            x1: place.x1.min(clip.x1 + 1.0),
            y1: place.y1.min(clip.y1 + 1.0),
        };
        if shown.x0 <= shown.x1 && shown.y0 <= shown.y1 && self.rules.len() < MOST_RULES {
            self.rules.push(Rule { place: shown, upright, edge });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAIN: Matrix = [1.0, 0.0, 0.0, 1.0, 0.0, 0.0];

    fn numbers(list: &[f32]) -> Vec<Operand> {
        list.iter().map(|n| Operand::Number(*n)).collect()
    }

    #[test]
    fn boxes_lines_and_backgrounds() {
        let mut paths = Paths::default();
        let mut clip = Rect { x0: 0.0, y0: 0.0, x1: 600.0, y1: 800.0 };
        paths.add(b"re", &numbers(&[10.0, 10.0, 100.0, 0.5]), &PLAIN);
        paths.paint(Some(Ink::Dark), None, false, &mut clip);
        paths.add(b"m", &numbers(&[10.0, 10.0]), &PLAIN);
        paths.add(b"l", &numbers(&[10.0, 90.0]), &PLAIN);
        paths.paint(None, Some(Ink::Dark), false, &mut clip);
        let got: Vec<_> = paths.rules.iter().map(|r| (r.upright, r.edge)).collect();
        assert_eq!(got, [(false, false), (true, false)]);
        paths.add(b"re", &numbers(&[10.0, 10.0, 100.0, 20.0]), &PLAIN);
        paths.paint(Some(Ink::White), None, false, &mut clip);
        assert_eq!(paths.rules.len(), 2);
        paths.add(b"re", &numbers(&[10.0, 10.0, 100.0, 20.0]), &PLAIN);
        paths.paint(Some(Ink::Dark), None, false, &mut clip);
        assert_eq!(paths.rules.iter().filter(|r| r.edge).count(), 4);
    }

    #[test]
    fn transformations_follow_each_other() {
        let moved = multiply(&[1.0, 0.0, 0.0, 1.0, 5.0, 0.0], &[2.0, 0.0, 0.0, 2.0, 0.0, 1.0]);
        assert_eq!(apply(&moved, (1.0, 1.0)), (12.0, 3.0));
    }
}
