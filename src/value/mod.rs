//! Values: what a printed figure says.
//!
//! Takes the text of a cell, or a line, and a number style; gives [`Value`]s: qualifier, figure, range, tolerance,
//! unit, marks. The grammar stands in `grammar/value.ebnf`, with its cases beside it. Settles nothing that needs
//! more than the text itself: which style a document uses is for the caller.

pub mod date;

use crate::quantity::Unit;
use crate::record::Qualifier;

/// The decimal mark.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Hash)]
pub enum Decimal {
    /// 1,234.5
    Point,
    /// 1.234,5
    Comma,
}

/// What a figure says of the number style.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum StyleUse {
    /// Reads the same in both.
    #[default]
    Neutral,
    /// Can only be that style.
    Proves(Decimal),
    /// Differs by style, and neither is excluded: `1,234`.
    Ambiguous,
}

/// A word or sign that makes the figure a limit.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Bound {
    /// "min", "at least", ≥.
    Minimum,
    /// "max", "up to", ≤.
    Maximum,
    /// "typ."
    Typical,
}

/// A printed figure.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Value {
    /// How it is bounded.
    pub qualifier: Qualifier,
    /// The figure; the low end of a range.
    pub value: Option<f64>,
    /// The high end of a range.
    pub high: Option<f64>,
    /// Tolerance printed after ±, in the figure's unit.
    pub plus_minus: Option<f64>,
    /// "n = 3".
    pub count: Option<u32>,
    /// Decimals of the figure as printed.
    pub decimals: u8,
    /// Size of one unit in the last printed digit.
    pub last_digit: f64,
    /// A word or sign that makes it a limit.
    pub bound: Option<Bound>,
    /// "ND", "not detected", "below detection limit".
    pub not_detected: bool,
    /// "trace".
    pub trace: bool,
    /// The token as printed, where letters were read as digits.
    pub mended: Option<String>,
    /// Unit printed with the figure.
    pub unit: Option<Unit>,
    /// The same figure in other units, printed after it.
    pub also: Vec<(f64, Unit)>,
    /// Mark of a footnote stuck to it.
    pub footnote: Option<String>,
    /// What it says of the number style.
    pub styles: StyleUse,
}

/// A figure inside running text.
#[derive(Clone, Debug, PartialEq)]
pub struct Located {
    /// First byte.
    pub start: usize,
    /// Byte after the last.
    pub end: usize,
    /// What stands there.
    pub value: Value,
}

/// Reads a cell; the whole of it must be one value expression.
pub fn parse(text: &str, decimal: Decimal) -> Option<Value> {
    let text = text.trim();
    let (number, unit) = match text.split_once(' ') {
        Some((number, unit)) => (number, Some(Unit::parse(unit)?)),
        None => (text, None),
    };
    let plain = if decimal == Decimal::Comma { number.replace(',', ".") } else { number.to_owned() };
    let value = plain.parse::<f64>().ok().filter(|v| v.is_finite())?;
    Some(Value { value: Some(value), last_digit: 1.0, unit, ..Value::default() })
}

/// Finds the value expressions in running text, left to right.
pub fn find(text: &str, decimal: Decimal) -> Vec<Located> {
    let mut found = Vec::new();
    let mut start = 0;
    for piece in text.split(' ') {
        if let Some(value) = parse(piece, decimal) {
            found.push(Located { start, end: start + piece.len(), value });
        }
        start += piece.len() + 1;
    }
    found
}

/// What one token or cell says of the number style.
pub fn style_of(text: &str) -> StyleUse {
    parse(text, Decimal::Point).map(|v| v.styles).unwrap_or_default()
}

/// Whether the text holds a number made of digits.
pub fn has_digit_number(text: &str) -> bool {
    text.chars().any(|c| c.is_ascii_digit())
}

/// Whether the text says that there is no figure: "n/a", "—", "not tested".
pub fn is_blank_mark(text: &str) -> bool {
    matches!(text.trim(), "" | "-" | "—" | "n/a")
}
