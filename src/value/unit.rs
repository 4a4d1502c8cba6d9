//! Figures with their units.

use super::Context;
use super::grammar::fail;
use super::number::{Figure, fraction, mended_figure, plain_figure};
use super::words::word;
use crate::quantity::{Dimension, Setting, Unit, UnitKind, longest_unit};
use nom::branch::alt;
use nom::{IResult, Parser};

const FOOT: f64 = 0.3048;
const INCH: f64 = 0.0254;

/// A figure and the unit printed with it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Measured {
    pub figure: Figure,
    pub unit: Option<Unit>,
}

/// Skips the blanks that may stand inside an expression: a wider gap parts columns.
pub(super) fn spaced(input: &str) -> &str {
    let mut rest = input;
    for _ in 0..2 {
        rest = rest.strip_prefix([' ', '\u{a0}', '\u{2009}', '\u{202f}', '\u{2007}', '\t']).unwrap_or(rest);
    }
    rest
}

pub(super) fn measured(input: &str, context: Context) -> IResult<&str, Measured> {
    alt((
        |i| fraction_of_unit(i, context),
        |i| with_unit(i, context, plain_figure),
        |i| with_unit(i, context, mended_figure),
    ))
    .parse(input)
}

/// "1/2 in", "2 1/2 years": a bare fraction counts only before a length, else it may be page one of two.
fn fraction_of_unit(input: &str, context: Context) -> IResult<&str, Measured> {
    let (rest, figure) = fraction(input)?;
    let (rest, unit) = if figure.value < 1.0 {
        length_unit(spaced(rest), context)?
    } else {
        unit_after(rest, context)
            .and_then(|(after, unit)| if ends_clearly(after) { Ok((after, unit)) } else { fail(input) })?
    };
    Ok((rest, Measured { figure, unit: Some(unit) }))
}

fn with_unit<'a>(
    input: &'a str,
    context: Context,
    figure: impl Fn(&'a str, Context) -> IResult<&'a str, Figure>,
) -> IResult<&'a str, Measured> {
    let (rest, figure) = figure(input, context)?;
    if let Ok((after, unit)) = unit_after(rest, context) {
        // "100 L/vessel" is no hundred of anything else either.
        return if ends_clearly(after) { Ok((after, Measured { figure, unit: Some(unit) })) } else { fail(input) };
    }
    // "9 1/2" without a unit is not nine.
    let broken = rest.strip_prefix(' ').is_some_and(|rest| fraction(rest).is_ok());
    let printed = input.get(..input.len() - rest.len()).unwrap_or("");
    let number_of_a_thing =
        printed.len() > 1 && printed.starts_with('0') && printed.chars().all(|c| c.is_ascii_digit());
    if !broken && ends_clearly(rest) && !names_money(rest) && !number_of_a_thing && !multiplies(rest, context) {
        Ok((rest, Measured { figure, unit: None }))
    } else {
        fail(input)
    }
}

/// A unit behind a figure: glued, after a blank, after the hyphen of "24-inch", or in brackets.
fn unit_after(input: &str, context: Context) -> IResult<&str, Unit> {
    let at = spaced(input);
    let glued = at.len() == input.len();
    if let Some(inside) = at.strip_prefix(['(', '[']) {
        let (rest, found) = unit(inside, context)?;
        let Some(rest) = rest.strip_prefix([')', ']']) else { return fail(input) };
        // "(a)" is a footnote.
        let letter = found.text.chars().count() == 1 && found.text.starts_with(|c: char| ('a'..='f').contains(&c));
        return if letter { fail(input) } else { Ok((rest, found)) };
    }
    let hyphen = at.strip_prefix('-').filter(|rest| glued && rest.starts_with(char::is_alphabetic));
    let (rest, found) = unit(hyphen.unwrap_or(at), context)?;
    let one_letter = found.text.chars().count() == 1;
    let footnote = one_letter && found.text.starts_with(|c: char| ('a'..='f').contains(&c)) && rest.starts_with(')');
    if footnote || (glued && hyphen.is_none() && found.needs_blank()) || (hyphen.is_some() && one_letter) {
        return fail(input);
    }
    // "1.9 min" in a column is a minimum; `amount` sees to it.
    if is_minimum(&found) {
        return fail(input);
    }
    Ok((rest, found))
}

fn is_minimum(unit: &Unit) -> bool {
    unit.text.trim_end_matches('.').eq_ignore_ascii_case("min")
}

pub(super) fn unit(input: &str, context: Context) -> IResult<&str, Unit> {
    let Some((found, end)) = longest_unit(input, context.setting) else { return fail(input) };
    let rest = input.get(end..).unwrap_or("");
    if found.is_risky_alone() && context.setting == Setting::Running {
        let next = spaced(rest);
        let apart = next.len() < rest.len();
        let letter = found.text.chars().count() == 1 && found.needs_blank();
        // "5 in the bed" has no inches, "20 a month" no years.
        if apart
            && (word("determiner_word", next, context).is_ok() || (letter && next.starts_with(char::is_alphabetic)))
        {
            return fail(input);
        }
    }
    Ok((rest, found))
}

fn length_unit(input: &str, context: Context) -> IResult<&str, Unit> {
    let (rest, found) = unit(input, context)?;
    let length = Dimension { length: 1, ..Dimension::default() };
    if found.dimension == length && ends_clearly(rest) { Ok((rest, found)) } else { fail(input) }
}

fn length_of(input: &str, context: Context, size: f64) -> IResult<&str, Unit> {
    let (rest, found) = unit(input, context)?;
    let length = Dimension { length: 1, ..Dimension::default() };
    let fits = found.kind == UnitKind::Ordinary && found.dimension == length && (found.factor - size).abs() < 1e-9;
    if fits { Ok((rest, found)) } else { fail(input) }
}

pub(super) fn foot(input: &str, context: Context) -> IResult<&str, Unit> {
    length_of(input, context, FOOT)
}

pub(super) fn inch(input: &str, context: Context) -> IResult<&str, Unit> {
    let (rest, found) = length_of(input, context, INCH)?;
    if ends_clearly(rest) { Ok((rest, found)) } else { fail(input) }
}

/// Whether a figure may end before this text: what is glued on makes it a name, a date, a time or a ratio.
fn ends_clearly(rest: &str) -> bool {
    let mut chars = rest.chars();
    let Some(first) = chars.next() else { return true };
    let second = chars.next();
    let goes_on = second.is_some_and(char::is_alphanumeric);
    let digit = second.is_some_and(char::is_numeric);
    match first {
        'ᵃ' | 'ᵇ' | 'ᶜ' | 'ᵈ' | 'ᵉ' => true,
        c if c.is_alphabetic() || c.is_ascii_digit() => {
            // A footnote "a)" is read afterwards.
            ('a'..='f').contains(&c) && second == Some(')')
        }
        '_' | '@' | '°' | '\\' | '$' | '€' | '£' | '&' => false,
        ',' | '+' | '~' => !digit,
        '.' | ':' | '/' | '-' | '–' | '−' | '‐' | '‑' | '×' | '\'' | '’' => !goes_on,
        _ => true,
    }
}

/// "2 x 5 ft³" is ten cubic feet, which neither number says; "24 x 72 in" is a tank.
fn multiplies(rest: &str, context: Context) -> bool {
    let Some(other) = spaced(rest).strip_prefix(['x', '×', 'X']) else { return false };
    let Ok((rest, _)) = plain_figure(spaced(other), context) else { return false };
    unit_after(rest, context).is_ok_and(|(_, unit)| unit.dimension.length != 1 && unit.kind != UnitKind::Mesh)
}

fn names_money(rest: &str) -> bool {
    let next = spaced(rest);
    next.starts_with(['$', '€', '£', '¥']) || ["USD", "EUR", "GBP", "CHF"].iter().any(|code| next.starts_with(code))
}
