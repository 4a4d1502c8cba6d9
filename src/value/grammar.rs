//! Value expressions: the productions of `grammar/value.ebnf` above the figure.

use super::number::{Figure, digits, figure, fraction, plain_figure, superscript};
use super::unit::{Measured, foot, inch, measured, spaced, unit};
use super::words::word;
use super::{Bound, Context, StyleUse, Value};
use crate::quantity::{Dimension, Setting, Unit, UnitKind};
use crate::record::Qualifier;
use nom::branch::alt;
use nom::character::complete::{char, one_of, satisfy};
use nom::combinator::{opt, peek, recognize};
use nom::error::{Error, ErrorKind};
use nom::{IResult, Parser};

/// Most comments, second units and brackets behind one figure.
const MOST_ADDENDA: usize = 4;

pub(super) fn fail<T>(input: &str) -> IResult<&str, T> {
    Err(nom::Err::Error(Error::new(input, ErrorKind::Verify)))
}

/// The longest value expression at the start of the input.
pub(super) fn expression(input: &str, context: Context) -> IResult<&str, Value> {
    alt((|i| undetected(i, context), |i| traced(i, context), |i| limits(i, context), |i| amount(i, context)))
        .parse(input)
}

fn undetected(input: &str, context: Context) -> IResult<&str, Value> {
    if let Ok((rest, _)) = word("not_detected_word", input, context) {
        let (rest, limit) = opt(|i| stated_limit(i, context)).parse(rest)?;
        // "ND = not detected" explains the mark.
        if context.setting == Setting::Running && limit.is_none() && spaced(rest).starts_with('=') {
            return fail(input);
        }
        return Ok((rest, Value { not_detected: true, ..limited(limit) }));
    }
    let (rest, _) = below(input, context)?;
    let (rest, limit) = measured(spaced(rest), context)?;
    let (rest, open) = opt(one_of("([")).parse(spaced(rest))?;
    let (rest, _) = word("not_detected_word", rest, context)?;
    let rest = if open.is_some() { one_of(")]").parse(rest)?.0 } else { rest };
    Ok((rest, Value { not_detected: true, ..limited(Some(limit)) }))
}

fn traced(input: &str, context: Context) -> IResult<&str, Value> {
    let (rest, _) = word("trace_word", input, context)?;
    let (rest, limit) = opt(|i| stated_limit(i, context)).parse(rest)?;
    // "trace metals" is no figure.
    if context.setting == Setting::Running && limit.is_none() && spaced(rest).starts_with(char::is_alphanumeric) {
        return fail(input);
    }
    let qualifier = if limit.is_some() { Qualifier::Below } else { Qualifier::Equal };
    Ok((rest, Value { trace: true, ..limited(limit) }.qualified(qualifier)))
}

/// "(<5)", ", limit 5 mg/kg", "@ 5": what could have been found.
fn stated_limit(input: &str, context: Context) -> IResult<&str, Measured> {
    let (rest, comma) = opt(one_of(",;")).parse(input)?;
    let (rest, open) = opt(one_of("([")).parse(spaced(rest))?;
    let (rest, named) = opt(|i| word("limit_word", i, context)).parse(spaced(rest))?;
    let (rest, _) = opt(one_of("=:")).parse(spaced(rest))?;
    let (rest, compared) = lead(spaced(rest), context)?;
    let (rest, limit) = measured(spaced(rest), context)?;
    let said = named.is_some() || compared.qualifier == Some(Qualifier::Below);
    // "ND 5" may be two columns; "ND (1)" a footnote.
    let one_digit = limit.unit.is_none() && limit.figure.decimals == 0 && limit.figure.value < 10.0;
    if !said && (open.is_none() || one_digit || comma.is_some()) {
        return fail(input);
    }
    if compared.qualifier == Some(Qualifier::Above) {
        return fail(input);
    }
    let rest = match open {
        Some(_) => {
            let (rest, _) = opt(|i| word("limit_word", i, context)).parse(spaced(rest))?;
            one_of(")]").parse(spaced(rest))?.0
        }
        None => rest,
    };
    Ok((rest, limit))
}

fn limited(limit: Option<Measured>) -> Value {
    limit.map_or_else(Value::default, Measured::into_value).qualified(Qualifier::Below)
}

/// "min 44 %, max 48 %", "44 min / 48 max".
fn limits(input: &str, context: Context) -> IResult<&str, Value> {
    let (rest, first) = opt(|i| word("minimum_word", i, context)).parse(input)?;
    let (rest, low) = measured(spaced(skip_colon(rest)), context)?;
    let (rest, _) = if first.is_some() { (rest, "") } else { word("minimum_word", spaced(rest), context)? };
    let (rest, _) = opt(one_of(",;/-–")).parse(spaced(rest))?;
    let (rest, _) = if first.is_some() { word("maximum_word", spaced(rest), context)? } else { (rest, "") };
    let (rest, high) = measured(spaced(skip_colon(rest)), context)?;
    let (rest, _) = if first.is_some() { (rest, "") } else { word("maximum_word", spaced(rest), context)? };
    join(low, high).map_or_else(|| fail(input), |value| Ok((rest, value)))
}

fn skip_colon(input: &str) -> &str {
    input.strip_prefix(':').unwrap_or(input)
}

/// What stands before a figure.
#[derive(Clone, Copy, Default)]
struct Lead {
    qualifier: Option<Qualifier>,
    bound: Option<Bound>,
}

fn lead(input: &str, context: Context) -> IResult<&str, Lead> {
    let mut found = Lead::default();
    let mut rest = input;
    for _ in 0..3 {
        let Ok((after, (qualifier, bound))) = lead_piece(rest, context) else { break };
        let clash = found.qualifier.is_some_and(|q| qualifier.is_some_and(|other| q != other))
            || found.bound.is_some_and(|b| bound.is_some_and(|other| b != other));
        if clash {
            return fail(input);
        }
        found.qualifier = found.qualifier.or(qualifier);
        found.bound = found.bound.or(bound);
        let after = if bound.is_some() { skip_colon(after) } else { after };
        rest = spaced(after);
    }
    Ok((rest, found))
}

type Piece = (Option<Qualifier>, Option<Bound>);

fn lead_piece(input: &str, context: Context) -> IResult<&str, Piece> {
    alt((
        |i| word("minimum_word", i, context).map(|(r, _)| (r, (Some(Qualifier::Above), Some(Bound::Minimum)))),
        |i| word("maximum_word", i, context).map(|(r, _)| (r, (Some(Qualifier::Below), Some(Bound::Maximum)))),
        |i| word("typical_word", i, context).map(|(r, _)| (r, (None, Some(Bound::Typical)))),
        |i| qualifier(i, context),
    ))
    .parse(input)
}

fn qualifier(input: &str, context: Context) -> IResult<&str, Piece> {
    alt((
        |i| word("at_least_sign", i, context).map(|(r, _)| (r, (Some(Qualifier::Above), Some(Bound::Minimum)))),
        |i| word("at_most_sign", i, context).map(|(r, _)| (r, (Some(Qualifier::Below), Some(Bound::Maximum)))),
        |i| above(i, context).map(|(r, q)| (r, (Some(q), None))),
        |i| below(i, context).map(|(r, q)| (r, (Some(q), None))),
        |i| about(i, context).map(|(r, q)| (r, (Some(q), None))),
        |i| char('=').parse(i).map(|(r, _)| (r, (None, None))),
    ))
    .parse(input)
}

fn above(input: &str, context: Context) -> IResult<&str, Qualifier> {
    alt((|i| word("above_sign", i, context), |i| word("above_word", i, context))).map(|_| Qualifier::Above).parse(input)
}

fn below(input: &str, context: Context) -> IResult<&str, Qualifier> {
    alt((|i| word("below_sign", i, context), |i| word("below_word", i, context))).map(|_| Qualifier::Below).parse(input)
}

fn about(input: &str, context: Context) -> IResult<&str, Qualifier> {
    alt((|i| word("about_sign", i, context), |i| word("about_word", i, context))).map(|_| Qualifier::About).parse(input)
}

fn amount(input: &str, context: Context) -> IResult<&str, Value> {
    let (rest, lead) = lead(input, context)?;
    let (mut rest, mut value) = body(rest, context)?;
    let mut bound = lead.bound;
    let mut sign = lead.qualifier;
    // A second unit in brackets must not be taken for a footnote, nor the other way round: each fails on the other.
    for _ in 0..MOST_ADDENDA {
        if value.footnote.is_none()
            && let Ok((after, mark)) = footnote(rest)
        {
            value.footnote = Some(mark.to_owned());
            rest = after;
        } else if let Ok((after, added)) = annotation(rest, context) {
            if !added.apply(&mut value) {
                break;
            }
            rest = after;
        } else if let Ok((after, other)) = also(rest, context, value.unit.as_ref().map(|unit| unit.text.as_str())) {
            match beads_counted(&other) {
                Some(count) => value.count = Some(count),
                None => value.also.push(other),
            }
            rest = after;
        } else if bound.is_none()
            && let Ok((after, (trailing, implied))) = trailing_bound(rest, context)
            && implied.is_none_or(|q| sign.is_none_or(|s| s == q))
        {
            // "contact 30 min" is a time in a sentence, "1.9 min" a minimum in a column: both stay open here.
            let minutes = context.setting == Setting::Running && value.unit.is_none();
            let printed = rest.get(..rest.len() - after.len()).unwrap_or("").trim();
            if minutes && printed.trim_end_matches('.').eq_ignore_ascii_case("min") {
                value.unit = Unit::parse(printed);
            } else {
                sign = sign.or(implied);
            }
            bound = Some(trailing);
            rest = after;
        } else {
            break;
        }
    }
    value.bound = bound;
    match (value.qualifier, sign) {
        (_, None) => {}
        (Qualifier::Range, Some(Qualifier::About)) => {}
        // "max 45-50" keeps its range, "< 45-50" is nothing.
        (Qualifier::Range, Some(_)) if bound.is_some() => {}
        (Qualifier::Range, Some(_)) => return fail(input),
        (_, Some(sign)) => value.qualifier = sign,
    }
    settle_percent(&mut value);
    Ok((rest, value))
}

/// "0.47 (47 %)" is one percentage.
fn settle_percent(value: &mut Value) {
    let [(percent, unit)] = value.also.as_slice() else { return };
    let Some(share) = value.value else { return };
    if value.unit.is_none()
        && unit.kind == UnitKind::Percent
        && share.abs() <= 1.5
        && (share * 100.0 - percent).abs() <= 100.0 * value.last_digit
    {
        value.value = Some(*percent);
        value.unit = Some(unit.clone());
        value.decimals = value.decimals.saturating_sub(2);
        value.last_digit = (value.last_digit * 100.0).min(1.0);
        value.also.clear();
    }
}

fn body(input: &str, context: Context) -> IResult<&str, Value> {
    alt((
        |i| unit_first(i, context),
        |i| between(i, context),
        |i| feet_inches(i, context),
        |i| range(i, context),
        |i| toleranced(i, context),
        |i| measured(i, context).map(|(rest, m)| (rest, m.into_value())),
    ))
    .parse(input)
}

/// `2' 2"`, "2 ft 2 in": given in inches.
fn feet_inches(input: &str, context: Context) -> IResult<&str, Value> {
    let (rest, feet) = plain_figure(input, context)?;
    let (rest, _) = foot(spaced(rest), context)?;
    let (rest, _) = opt(char('-')).parse(spaced(rest))?;
    let (rest, inches) = alt((fraction, |i| plain_figure(i, context))).parse(spaced(rest))?;
    let (rest, unit) = inch(spaced(rest), context)?;
    let whole = feet.value.fract() == 0.0 && !inches.signed && (0.0..12.0).contains(&inches.value);
    if !whole {
        return fail(input);
    }
    let sum = 12.0 * feet.value.abs() + inches.value;
    let value = if feet.value < 0.0 { -sum } else { sum };
    let styles = both_styles(feet.styles, inches.styles);
    Ok((rest, Measured { figure: Figure { value, styles, ..inches }, unit: Some(unit) }.into_value()))
}

fn between(input: &str, context: Context) -> IResult<&str, Value> {
    let (rest, _) = word("between_word", input, context)?;
    let (rest, low) = range_end(spaced(rest), context)?;
    let (rest, _) = word("and_word", spaced(rest), context)?;
    let (rest, high) = measured(spaced(rest), context)?;
    join(low, high).map_or_else(|| fail(input), |value| Ok((rest, value)))
}

fn range(input: &str, context: Context) -> IResult<&str, Value> {
    let (after_low, low) = range_end(input, context)?;
    let at = spaced(after_low);
    let blank_before = at.len() < after_low.len();
    let mut dash = false;
    let (rest, by_word) = match word("range_mark", at, context) {
        Ok((rest, mark)) => {
            let blank_after = rest.starts_with(char::is_whitespace);
            let dots = mark.starts_with(['.', '…']);
            // "45 -50" is two columns; "Vessel 2 ... 47" a leader; "45 ~50" two figures.
            let closed = blank_before == blank_after && !(dots && blank_before && context.setting == Setting::Running);
            let ellipsis = mark == "…" && context.setting == Setting::Alone;
            if !(closed || ellipsis) {
                return fail(input);
            }
            dash = !dots && mark != "~" && mark != "÷";
            (rest, false)
        }
        Err(_) => {
            let mesh = one_of::<_, _, Error<&str>>("x×/").parse(at).ok();
            match mesh {
                Some((rest, _)) => return mesh_range(input, low, rest, context),
                None => (word("range_word", at, context)?.0, true),
            }
        }
    };
    let blank_after = rest.starts_with(char::is_whitespace);
    if by_word && !(blank_before && blank_after) {
        return fail(input);
    }
    let (rest, high) = measured(spaced(rest), context)?;
    if high.figure.signed && !low.figure.signed {
        return fail(input);
    }
    let bare = low.unit.is_none() && high.unit.is_none() && dash;
    if bare && !blank_before && looks_like_a_name(input, rest) {
        return fail(input);
    }
    // "Vessel 2 - 47.3 %": a number of something, then a figure.
    let uneven = low.figure.decimals == 0 && high.figure.decimals > 0 && low.unit.is_none();
    if context.setting == Setting::Running && blank_before && !by_word && uneven {
        return fail(input);
    }
    join(low, high).map_or_else(|| fail(input), |value| Ok((rest, value)))
}

/// The low end, which need not be followed by anything in particular.
fn range_end(input: &str, context: Context) -> IResult<&str, Measured> {
    let (rest, figure) = figure(input, context)?;
    match unit(spaced(rest), context) {
        // "45 a 50" and "5-10": what could be a unit is a word of the range.
        Ok((after, found)) if !found.is_risky_alone() || goes_on(spaced(after), context) => {
            Ok((after, Measured { figure, unit: Some(found) }))
        }
        _ => Ok((rest, Measured { figure, unit: None })),
    }
}

fn goes_on(input: &str, context: Context) -> bool {
    ["range_mark", "range_word", "and_word", "tolerance_mark"].iter().any(|name| word(name, input, context).is_ok())
}

/// "16 x 50 mesh", "16/50 mesh".
fn mesh_range<'a>(input: &'a str, low: Measured, rest: &'a str, context: Context) -> IResult<&'a str, Value> {
    let (rest, high) = measured(spaced(rest), context)?;
    if low.unit.is_some() || high.unit.as_ref().is_none_or(|u| u.kind != UnitKind::Mesh) {
        return fail(input);
    }
    join(low, high).map_or_else(|| fail(input), |value| Ok((rest, value)))
}

/// "25-0317", "24-1187", "555-0199", "2016-2024": numbers of things, telephones, years.
fn looks_like_a_name(input: &str, rest: &str) -> bool {
    let printed = input.get(..input.len() - rest.len()).unwrap_or("").trim();
    let mut halves = printed.split(['-', '–', '—', '−', '‐', '‑']);
    let (Some(first), Some(second), None) = (halves.next(), halves.next(), halves.next()) else { return true };
    let is_year = |text: &str| text.len() == 4 && (text.starts_with("19") || text.starts_with("20"));
    let leading_zero = |text: &str| text.len() > 1 && text.starts_with('0') && !text.contains(['.', ',']);
    let continues =
        ['-', '–'].iter().any(|dash| rest.strip_prefix(*dash).is_some_and(|r| r.starts_with(char::is_numeric)));
    let telephone = first.len() == 3 && second.len() == 4 && printed.chars().all(|c| c.is_ascii_digit() || c == '-');
    let years = is_year(first) && is_year(second);
    let number = |text: &str| text.chars().all(|c| c.is_ascii_digit());
    let report = number(first) && number(second) && first != "0" && second.len() >= first.len() + 2;
    report || continues || leading_zero(first) || leading_zero(second) || telephone || years
}

/// A range from its two ends, in the unit of the first that has one; none where they do not fit.
fn join(low: Measured, high: Measured) -> Option<Value> {
    let styles = both_styles(low.figure.styles, high.figure.styles);
    let top = match (&low.unit, &high.unit) {
        (Some(a), Some(b)) if a.text != b.text => b.convert(high.figure.value, a)?,
        _ => high.figure.value,
    };
    // "from 2016 to 2024" is a time.
    let year = |m: &Measured| m.unit.is_none() && m.figure.decimals == 0 && (1950.0..2100.0).contains(&m.figure.value);
    if top < low.figure.value || (year(&low) && year(&high)) {
        return None;
    }
    let mended = low.figure.mended.clone().or_else(|| high.figure.mended.clone());
    let blank_grouped = low.figure.blank_grouped || high.figure.blank_grouped;
    let unit = low.unit.clone().or(high.unit);
    let value = Measured { unit, ..low }.into_value();
    Some(Value { qualifier: Qualifier::Range, high: Some(top), styles, mended, blank_grouped, ..value })
}

pub(super) fn both_styles(a: StyleUse, b: StyleUse) -> StyleUse {
    match (a, b) {
        (StyleUse::Proves(x), StyleUse::Proves(y)) if x != y => StyleUse::Ambiguous,
        (StyleUse::Proves(_), _) => a,
        (_, StyleUse::Proves(_)) => b,
        (StyleUse::Ambiguous, _) | (_, StyleUse::Ambiguous) => StyleUse::Ambiguous,
        _ => StyleUse::Neutral,
    }
}

fn toleranced(input: &str, context: Context) -> IResult<&str, Value> {
    let (rest, main) = range_end(input, context)?;
    let (rest, within) = tolerance(spaced(rest), context)?;
    let styles = both_styles(main.figure.styles, within.figure.styles);
    // "47 ± 2 %": the unit stands for both.
    let shared = main.unit.is_none();
    let unit = if shared { within.unit.clone() } else { main.unit.clone() };
    let mut value = Measured { unit, ..main }.into_value();
    value.styles = styles;
    if shared {
        value.plus_minus = Some(within.figure.value.abs());
        return Ok((rest, value));
    }
    if Addendum::of_tolerance(within).apply(&mut value) { Ok((rest, value)) } else { fail(input) }
}

fn tolerance(input: &str, context: Context) -> IResult<&str, Measured> {
    let (rest, _) = word("tolerance_mark", input, context)?;
    measured(spaced(rest), context)
}

/// "kgr/ft3 37.6", "% 47.3".
fn unit_first(input: &str, context: Context) -> IResult<&str, Value> {
    if input.starts_with(|c: char| c.is_ascii_digit()) {
        return fail(input);
    }
    let (rest, found) = unit(input, context)?;
    if found.is_risky_alone() || found.offset != 0.0 {
        return fail(input);
    }
    let (rest, mark) = opt(one_of(":=")).parse(rest)?;
    let at = spaced(rest);
    if at.len() == rest.len() && mark.is_none() && !found.text.ends_with('%') {
        return fail(input);
    }
    let (rest, lone) = measured(at, context)?;
    if lone.unit.is_some() {
        return fail(input);
    }
    Ok((rest, Measured { unit: Some(found), ..lone }.into_value()))
}

/// What stands behind a figure and belongs to it.
#[derive(Default)]
struct Addendum {
    tolerance: Option<Measured>,
    is_deviation: bool,
    count: Option<u32>,
}

impl Addendum {
    fn of_tolerance(within: Measured) -> Self {
        Self { tolerance: Some(within), ..Self::default() }
    }

    /// False where the tolerance is in a unit that does not fit.
    fn apply(self, value: &mut Value) -> bool {
        if let Some(within) = self.tolerance {
            let size = within.figure.value.abs();
            let relative =
                |unit: &Unit| unit.kind == UnitKind::Percent && within.unit.as_ref().is_some_and(|w| w != unit);
            let size = match (&value.unit, &within.unit) {
                (_, None) => Some(size),
                (Some(own), Some(other)) if own.text == other.text => Some(size),
                // "1.72 eq/L ± 5 %" is a share of the figure.
                (own, Some(other)) if other.kind == UnitKind::Percent && !own.as_ref().is_some_and(relative) => {
                    value.value.map(|v| (v * size / 100.0).abs())
                }
                (Some(own), Some(other)) => other.convert(size, own).filter(|_| own.offset == 0.0),
                (None, Some(_)) => None,
            };
            let Some(size) = size else { return false };
            value.plus_minus = Some(size);
            value.plus_minus_is_deviation = self.is_deviation;
            value.styles = both_styles(value.styles, within.figure.styles);
        }
        if self.count.is_some() {
            value.count = self.count;
        }
        true
    }
}

/// "(±2.0)", ", n = 3", "(SD 2.0, n = 3)".
fn annotation(input: &str, context: Context) -> IResult<&str, Addendum> {
    let (rest, _) = opt(one_of(",;")).parse(input)?;
    let (rest, open) = opt(one_of("([")).parse(spaced(rest))?;
    let mut found = Addendum::default();
    let mut at = spaced(rest);
    let mut end = None;
    for _ in 0..3 {
        if let Ok((after, within)) = tolerance(at, context) {
            found.tolerance = Some(within);
            end = Some(after);
        } else if let Ok((after, within)) =
            deviation(at, context).and_then(|found| if open.is_some() { Ok(found) } else { fail(at) })
        {
            found.tolerance = Some(within);
            found.is_deviation = true;
            end = Some(after);
        } else if let Ok((after, count)) = count(at, context) {
            found.count = Some(count);
            end = Some(after);
        } else {
            break;
        }
        let Some(after) = end else { break };
        match one_of::<_, _, Error<&str>>(",;").parse(after) {
            Ok((next, _)) => at = spaced(next),
            Err(_) => break,
        }
    }
    let Some(end) = end else { return fail(input) };
    let rest = if open.is_some() { one_of(")]").parse(spaced(end))?.0 } else { end };
    Ok((rest, found))
}

fn deviation(input: &str, context: Context) -> IResult<&str, Measured> {
    let (rest, _) = word("deviation_word", input, context)?;
    let (rest, _) = opt(one_of("=:")).parse(spaced(rest))?;
    measured(spaced(rest), context)
}

fn count(input: &str, context: Context) -> IResult<&str, u32> {
    let (rest, _) = word("count_word", input, context)?;
    let (rest, _) = one_of("=:").parse(spaced(rest))?;
    let (rest, number) = digits(spaced(rest))?;
    number.parse().map_or_else(|_| fail(input), |count| Ok((rest, count)))
}

/// "(1.72 eq/L)", "= 1.72 eq/L": the same figure in another unit.
fn also<'a>(input: &'a str, context: Context, own: Option<&str>) -> IResult<&'a str, (f64, Unit)> {
    let (rest, open) = opt(one_of("([")).parse(spaced(input))?;
    let (rest, said) = opt(|i| word("equal_word", i, context)).parse(spaced(rest))?;
    if open.is_none() && (said.is_none() || own.is_none()) {
        return fail(input);
    }
    let (rest, other) = measured(spaced(rest), context)?;
    let Some(unit) = other.unit else { return fail(input) };
    // "5 mg/L or 6 mg/L" are two figures.
    if open.is_none() && own == Some(unit.text.as_str()) {
        return fail(input);
    }
    let rest = if open.is_some() { one_of(")]").parse(spaced(rest))?.0 } else { rest };
    Ok((rest, (other.figure.value, unit)))
}

/// "92 % (200 beads)" says how many were counted.
fn beads_counted((figure, unit): &(f64, Unit)) -> Option<u32> {
    let beads = Dimension { bead: 1, ..Dimension::default() };
    (unit.dimension == beads && figure.fract() == 0.0).then(|| format!("{figure}").parse().ok())?
}

/// "41.5 min", "100 (max.)".
fn trailing_bound(input: &str, context: Context) -> IResult<&str, (Bound, Option<Qualifier>)> {
    let (rest, comma) = opt(char(',')).parse(input)?;
    let at = spaced(rest);
    let (rest, open) = opt(one_of("([")).parse(at)?;
    if at.len() == input.len() && comma.is_none() && open.is_none() {
        return fail(input);
    }
    let (rest, found) = alt((
        |i| word("minimum_word", i, context).map(|(r, _)| (r, (Bound::Minimum, Some(Qualifier::Above)))),
        |i| word("maximum_word", i, context).map(|(r, _)| (r, (Bound::Maximum, Some(Qualifier::Below)))),
        |i| word("typical_word", i, context).map(|(r, _)| (r, (Bound::Typical, None))),
    ))
    .parse(rest)?;
    let rest = if open.is_some() { one_of(")]").parse(rest)?.0 } else { rest };
    // "10 min 44": the word belongs to the next figure.
    let next = spaced(rest);
    if open.is_none() && next.starts_with(|c: char| c.is_numeric() || matches!(c, '<' | '>' | '=')) {
        return fail(input);
    }
    Ok((rest, found))
}

/// A mark stuck to a figure: `*`, `†`, `²`, `a)`, `(1)`.
fn footnote(input: &str) -> IResult<&str, &str> {
    let name = |c: char| c.is_ascii_digit() || ('a'..='f').contains(&c);
    let end = |i| peek(satisfy(|c| !c.is_alphanumeric())).map(|_| ()).or(nom::combinator::eof.map(|_| ())).parse(i);
    alt((
        recognize(nom::multi::many_m_n(1, 3, char('*'))),
        recognize(one_of("†‡§#¶")),
        superscript,
        recognize((char('^'), satisfy(name), end)),
        recognize((satisfy(name), char(')'))),
        recognize((char(' '), superscript)).map(str::trim_start),
        recognize((char(' '), nom::multi::many_m_n(1, 3, one_of("*†‡")))).map(str::trim_start),
        recognize((char(' '), satisfy(name), char(')'))).map(str::trim_start),
        recognize((opt(char(' ')), char('('), satisfy(name), char(')'))).map(str::trim_start),
        recognize((opt(char(' ')), char('['), satisfy(name), char(']'))).map(str::trim_start),
    ))
    .parse(input)
}

impl Measured {
    pub(super) fn into_value(self) -> Value {
        let figure = self.figure;
        Value {
            value: Some(figure.value),
            decimals: figure.decimals,
            last_digit: figure.last_digit,
            styles: figure.styles,
            mended: figure.mended,
            blank_grouped: figure.blank_grouped,
            unit: self.unit,
            ..Value::default()
        }
    }
}

impl Value {
    fn qualified(self, qualifier: Qualifier) -> Self {
        Self { qualifier, ..self }
    }
}
