//! Values: what a printed figure says.
//!
//! Takes the text of a cell, or a line, and a number style; gives [`Value`]s: qualifier, figure, range, tolerance,
//! unit, marks. The grammar stands in `grammar/value.ebnf`, with its cases beside it in `grammar/value.cases.toml`.
//! Settles nothing that needs more than the text itself: which style a document uses is for the caller.

pub mod date;
mod find;
mod grammar;
mod number;
#[cfg(test)]
mod tests;
mod unit;
mod words;

pub use find::find;

use crate::quantity::memo::{Answers, remembered};
use crate::quantity::{Setting, Unit};
use crate::record::Qualifier;
use std::cell::RefCell;

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
    /// The tolerance is called a standard deviation: "(SD 2.0)".
    pub plus_minus_is_deviation: bool,
    /// "n = 3".
    pub count: Option<u32>,
    /// Decimals of the figure as printed.
    pub decimals: u8,
    /// Size of one unit in the last printed digit: 1 for "1,500", 100 for "1.5e3". Zero where there is no figure.
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
    /// Figures with units of their own, printed behind it in brackets or after "=": mostly the same figure in another
    /// unit, but "1.72 eq/L (87 %)" is not, which the dimensions tell.
    pub also: Vec<(f64, Unit)>,
    /// Mark of a footnote stuck to it.
    pub footnote: Option<String>,
    /// What it says of the number style.
    pub styles: StyleUse,
    /// A plain blank stands between its groups of digits: "6 200" may also be two figures.
    pub blank_grouped: bool,
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

/// How the grammar reads a text.
#[derive(Clone, Copy, Debug)]
struct Context {
    decimal: Decimal,
    setting: Setting,
}

/// Cells longer than this are no figures.
const LONGEST_CELL: usize = 240;

/// Reads a cell; the whole of it must be one value expression, with its unit and marks.
///
/// ```
/// use beadwise::record::Qualifier;
/// use beadwise::value::{parse, Decimal};
/// let value = parse("< 1.234,5 mg/kg", Decimal::Comma).unwrap();
/// assert_eq!((value.qualifier, value.value), (Qualifier::Below, Some(1234.5)));
/// assert_eq!(parse("D2187", Decimal::Point), None);
/// ```
pub fn parse(text: &str, decimal: Decimal) -> Option<Value> {
    thread_local! {
        static POINT: Answers<Option<Value>> = RefCell::default();
        static COMMA: Answers<Option<Value>> = RefCell::default();
    }
    let answers = if decimal == Decimal::Point { &POINT } else { &COMMA };
    remembered(answers, text, |text| read(text, decimal))
}

fn read(text: &str, decimal: Decimal) -> Option<Value> {
    if text.len() > LONGEST_CELL {
        return None;
    }
    let cell = one_line(text);
    let value = whole(&cell, decimal)?;
    match value.styles {
        // "1.234 - 2.345,6": the second figure says how the first is meant.
        StyleUse::Proves(style) if style != decimal => whole(&cell, style),
        _ => Some(value),
    }
}

fn whole(cell: &str, decimal: Decimal) -> Option<Value> {
    let context = Context { decimal, setting: Setting::Alone };
    let inner = cell.strip_prefix(['(', '[']).and_then(|c| c.strip_suffix([')', ']'])).map(str::trim);
    [Some(cell), inner].into_iter().flatten().find_map(|cell| match grammar::expression(cell, context) {
        Ok((rest, value)) => matches!(rest.trim(), "" | ";").then_some(value),
        Err(_) => None,
    })
}

/// The cell with each run of blanks as one; blanks that group digits stay what they are.
fn one_line(text: &str) -> String {
    let mut line = String::with_capacity(text.len());
    for c in text.trim().chars() {
        let c = if matches!(c, '\t' | '\n' | '\r' | '\u{b}' | '\u{c}') { ' ' } else { c };
        if !(c == ' ' && line.ends_with(' ')) {
            line.push(c);
        }
    }
    line
}

/// What one numeric token or cell says of the number style.
///
/// ```
/// use beadwise::value::{style_of, Decimal, StyleUse};
/// assert_eq!(style_of("0,62"), StyleUse::Proves(Decimal::Comma));
/// assert_eq!(style_of("1,234"), StyleUse::Ambiguous);
/// assert_eq!(style_of("47"), StyleUse::Neutral);
/// ```
pub fn style_of(text: &str) -> StyleUse {
    parse(text, Decimal::Point).map(|v| v.styles).unwrap_or_default()
}

/// Whether the text holds a number in digits, wherever it stands.
pub fn has_digit_number(text: &str) -> bool {
    text.chars().any(|c| c.is_numeric())
}

/// Whether the text says that there is no figure: "n/a", "—", "not tested". An empty text says so too.
///
/// ```
/// use beadwise::value::is_blank_mark;
/// assert!(is_blank_mark("nicht bestimmt"));
/// assert!(!is_blank_mark("ND"));
/// ```
pub fn is_blank_mark(text: &str) -> bool {
    let text = text.trim();
    let inner = text.strip_prefix(['(', '[']).and_then(|t| t.strip_suffix([')', ']'])).unwrap_or(text);
    text.is_empty()
        || text.chars().all(|c| "-–—−_.…".contains(c))
        || words::is_word("blank_word", inner.trim_end_matches('.'))
        || words::is_word("blank_word", inner)
}
