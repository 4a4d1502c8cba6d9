//! Figures: digits with their marks, in either number style.

use super::{Context, Decimal, StyleUse};
use nom::branch::alt;
use nom::bytes::complete::{tag, take_while_m_n, take_while1};
use nom::character::complete::{char, one_of, satisfy};
use nom::combinator::{not, opt, peek, recognize, verify};
use nom::error::{Error, ErrorKind};
use nom::multi::{many_m_n, many0};
use nom::sequence::{pair, preceded, terminated};
use nom::{IResult, Parser};

/// Tokens longer than this are no figures.
pub(super) const LONGEST_NUMBER: usize = 200;

/// A figure as printed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Figure {
    pub value: f64,
    pub decimals: u8,
    pub last_digit: f64,
    pub styles: StyleUse,
    pub mended: Option<String>,
    pub blank_grouped: bool,
    pub signed: bool,
}

impl Figure {
    fn whole(value: f64) -> Self {
        Self {
            value,
            decimals: 0,
            last_digit: 1.0,
            styles: StyleUse::Neutral,
            mended: None,
            blank_grouped: false,
            signed: false,
        }
    }

    fn scaled(self, exponent: i32) -> Option<Self> {
        // Through text, so that 1.2e-3 is the nearest float to 0.0012 and not a product's rounding.
        let value: f64 = format!("{}e{exponent}", self.value).parse().ok()?;
        let last_digit: f64 = format!("{}e{exponent}", self.last_digit).parse().ok()?;
        value.is_finite().then_some(Self { value, last_digit, ..self })
    }
}

fn fail<T>(input: &str) -> IResult<&str, T> {
    Err(nom::Err::Error(Error::new(input, ErrorKind::Verify)))
}

/// A figure with its sign.
pub(super) fn figure(input: &str, context: Context) -> IResult<&str, Figure> {
    alt((|i| plain_figure(i, context), |i| mended_figure(i, context))).parse(input)
}

/// A figure in digits.
pub(super) fn plain_figure(input: &str, context: Context) -> IResult<&str, Figure> {
    let (rest, negative) = opt(sign).parse(input)?;
    let (rest, figure) = alt((mixed, |i| scientific(i, context))).parse(rest)?;
    signed(rest, figure, negative)
}

/// A figure with letters among its digits.
pub(super) fn mended_figure(input: &str, context: Context) -> IResult<&str, Figure> {
    let (rest, negative) = opt(sign).parse(input)?;
    let (rest, figure) = mended(rest, context)?;
    signed(rest, figure, negative)
}

fn signed(rest: &str, figure: Figure, negative: Option<bool>) -> IResult<&str, Figure> {
    let value = if negative == Some(true) { -figure.value } else { figure.value };
    Ok((rest, Figure { value, signed: negative.is_some(), ..figure }))
}

/// True for a minus. The figure follows at once: "- 5" is a dash and a figure.
pub(super) fn sign(input: &str) -> IResult<&str, bool> {
    let (rest, sign) = one_of("+-−–").parse(input)?;
    let (rest, _) = peek(satisfy(|c| !c.is_whitespace())).parse(rest)?;
    Ok((rest, sign != '+'))
}

/// "½", "2½", "2 ½".
fn mixed(input: &str) -> IResult<&str, Figure> {
    let (rest, whole) = opt(terminated(digits, opt(char(' ')))).parse(input)?;
    let (rest, part) = vulgar_fraction(rest)?;
    let whole: f64 = whole.unwrap_or("0").parse().unwrap_or(f64::INFINITY);
    if !whole.is_finite() {
        return fail(input);
    }
    Ok((rest, Figure { last_digit: part.1, ..Figure::whole(whole + part.0) }))
}

/// Value of the sign, and of one part of it.
fn vulgar_fraction(input: &str) -> IResult<&str, (f64, f64)> {
    let (rest, sign) = one_of("½¼¾⅓⅔⅛⅜⅝⅞").parse(input)?;
    let (top, bottom) = match sign {
        '½' => (1.0, 2.0),
        '¼' => (1.0, 4.0),
        '¾' => (3.0, 4.0),
        '⅓' => (1.0, 3.0),
        '⅔' => (2.0, 3.0),
        '⅛' => (1.0, 8.0),
        '⅜' => (3.0, 8.0),
        '⅝' => (5.0, 8.0),
        _ => (7.0, 8.0),
    };
    Ok((rest, (top / bottom, 1.0 / bottom)))
}

/// "1/2", "2 1/2", "2-1/2": a figure only where a unit follows, which `measured` sees to.
pub(super) fn fraction(input: &str) -> IResult<&str, Figure> {
    let (rest, whole) = opt(terminated(short_digits, one_of(" -"))).parse(input)?;
    let (rest, top) = short_digits(rest)?;
    let (rest, _) = char('/').parse(rest)?;
    let (rest, bottom) = short_digits(rest)?;
    let numbers = [whole.unwrap_or("0"), top, bottom].map(|d| d.parse::<f64>().unwrap_or(0.0));
    let [whole, top, bottom] = numbers;
    if top < 1.0 || top >= bottom || ![2.0, 3.0, 4.0, 8.0, 16.0, 32.0, 64.0].contains(&bottom) {
        return fail(input);
    }
    Ok((rest, Figure { last_digit: 1.0 / bottom, ..Figure::whole(whole + top / bottom) }))
}

fn short_digits(input: &str) -> IResult<&str, &str> {
    terminated(take_while_m_n(1, 3, |c: char| c.is_ascii_digit()), not(digit)).parse(input)
}

fn scientific(input: &str, context: Context) -> IResult<&str, Figure> {
    if let Ok((rest, power)) = power_of_ten(input) {
        // A bare "10³" may as well be a ten with a footnote: neither is read.
        let bare = input.get(2..).is_some_and(|exponent| exponent.starts_with(is_superscript_digit));
        if bare {
            return fail(input);
        }
        return match Figure::whole(1.0).scaled(power) {
            Some(figure) => Ok((rest, figure)),
            None => fail(input),
        };
    }
    let (rest, figure) = number(input, context)?;
    match exponent(rest) {
        Ok((rest, power)) => figure.scaled(power).map_or_else(|| fail(input), |figure| Ok((rest, figure))),
        Err(_) => Ok((rest, figure)),
    }
}

fn exponent(input: &str) -> IResult<&str, i32> {
    alt((
        preceded(one_of("eE"), (opt(sign), terminated(take_while_m_n(1, 3, |c: char| c.is_ascii_digit()), not(digit))))
            .map(|(minus, power)| signed_power(minus, power)),
        preceded(times, power_of_ten),
    ))
    .parse(input)
}

fn signed_power(minus: Option<bool>, power: &str) -> i32 {
    let power = power.parse::<i32>().unwrap_or(0);
    if minus == Some(true) { -power } else { power }
}

fn times(input: &str) -> IResult<&str, char> {
    let blank = |i| opt(char(' ')).parse(i);
    let (rest, _) = blank(input)?;
    let (rest, sign) = one_of("xX×·*⋅").parse(rest)?;
    let (rest, _) = blank(rest)?;
    Ok((rest, sign))
}

/// "10^3", "10⁻³".
fn power_of_ten(input: &str) -> IResult<&str, i32> {
    let (rest, _) = tag("10").parse(input)?;
    alt((
        preceded(char('^'), (opt(sign), terminated(take_while_m_n(1, 3, |c: char| c.is_ascii_digit()), not(digit))))
            .map(|(minus, power)| signed_power(minus, power)),
        superscript_power,
    ))
    .parse(rest)
}

fn superscript_power(input: &str) -> IResult<&str, i32> {
    let (rest, minus) = opt(one_of("⁻⁺")).parse(input)?;
    let (rest, power) = take_while_m_n(1, 3, is_superscript_digit).parse(rest)?;
    let digits: String = power.chars().filter_map(superscript_digit).collect();
    Ok((rest, signed_power(minus.map(|c| c == '⁻'), &digits)))
}

fn is_superscript_digit(c: char) -> bool {
    superscript_digit(c).is_some()
}

fn superscript_digit(c: char) -> Option<char> {
    "⁰¹²³⁴⁵⁶⁷⁸⁹".chars().position(|d| d == c).and_then(|at| char::from_digit(u32::try_from(at).ok()?, 10))
}

/// Superscript digits and letters that mark a footnote.
pub(super) fn superscript(input: &str) -> IResult<&str, &str> {
    take_while_m_n(1, 3, |c: char| is_superscript_digit(c) || matches!(c, 'ᵃ' | 'ᵇ' | 'ᶜ' | 'ᵈ' | 'ᵉ')).parse(input)
}

fn number(input: &str, context: Context) -> IResult<&str, Figure> {
    alt((|i| grouped(i, context), |i| marked(i, context))).parse(input)
}

fn three_digits(input: &str) -> IResult<&str, &str> {
    terminated(take_while_m_n(3, 3, |c: char| c.is_ascii_digit()), not(digit)).parse(input)
}

fn digit(input: &str) -> IResult<&str, char> {
    satisfy(|c| c.is_ascii_digit()).parse(input)
}

/// 1 234.5 or 1'234.5.
fn grouped(input: &str, _context: Context) -> IResult<&str, Figure> {
    let (rest, first) = verify(short_digits, |d: &str| !d.starts_with('0')).parse(input)?;
    let (_, blank) = group_blank(rest)?;
    let (rest, groups) = many_m_n(1, 6, preceded(char(blank), three_digits)).parse(rest)?;
    let (rest, decimals) = opt(pair(mark, digits)).parse(rest)?;
    // "92 100 98" is three columns; so may "92 100" be two, which is why the figure says that it was grouped so.
    let plain = blank == ' ';
    if peek((mark, digit)).parse(rest).is_ok()
        || (plain && peek((char::<&str, Error<&str>>(' '), digit)).parse(rest).is_ok())
    {
        return fail(input);
    }
    let mut plain_digits = first.to_owned();
    plain_digits.extend(groups);
    let styles = decimals.map_or(StyleUse::Neutral, |(mark, _)| StyleUse::Proves(style_of_mark(mark)));
    match assemble(&plain_digits, decimals.map_or("", |(_, d)| d), styles) {
        Some(figure) => Ok((rest, Figure { blank_grouped: plain, ..figure })),
        None => fail(input),
    }
}

fn group_blank(input: &str) -> IResult<&str, char> {
    one_of(" '’\u{a0}\u{2009}\u{202f}\u{2007}\u{2008}").parse(input)
}

fn mark(input: &str) -> IResult<&str, char> {
    one_of(".,").parse(input)
}

pub(super) fn digits(input: &str) -> IResult<&str, &str> {
    take_while1(|c: char| c.is_ascii_digit()).parse(input)
}

fn style_of_mark(mark: char) -> Decimal {
    if mark == ',' { Decimal::Comma } else { Decimal::Point }
}

/// Digits with points and commas; the style says which of them is the decimal mark.
fn marked(input: &str, context: Context) -> IResult<&str, Figure> {
    let (rest, token) =
        alt((recognize((digits, many0((mark, digits)))), recognize((mark, digits, not((mark, digit))))))
            .parse(input)?;
    if token.len() > LONGEST_NUMBER {
        return fail(input);
    }
    interpret(token, context.decimal).map_or_else(|| fail(input), |figure| Ok((rest, figure)))
}

/// What a token of digits, points and commas means in a style; none where it is no number in either.
pub(super) fn interpret(token: &str, decimal: Decimal) -> Option<Figure> {
    let points = token.matches('.').count();
    let commas = token.matches(',').count();
    let whole = |styles| assemble(&token.replace(['.', ','], ""), "", styles);
    match (points, commas) {
        (0, 0) => assemble(token, "", StyleUse::Neutral),
        (1, 0) | (0, 1) => {
            let mark = if points == 1 { '.' } else { ',' };
            let (before, after) = token.split_once(mark)?;
            let own = style_of_mark(mark);
            let could_be_group = after.len() == 3 && (1..=3).contains(&before.len()) && !before.starts_with('0');
            if !could_be_group {
                assemble(before, after, StyleUse::Proves(own))
            } else if own == decimal {
                assemble(before, after, StyleUse::Ambiguous)
            } else {
                whole(StyleUse::Ambiguous)
            }
        }
        (_, 0) | (0, _) => {
            let mark = if points > 0 { '.' } else { ',' };
            let other = if mark == '.' { Decimal::Comma } else { Decimal::Point };
            groups_of_three(token, mark).then(|| whole(StyleUse::Proves(other)))?
        }
        _ => {
            let last = token.rfind(['.', ','])?;
            let (before, after) = (token.get(..last)?, token.get(last + 1..)?);
            let mark = if token.get(last..)?.starts_with('.') { '.' } else { ',' };
            let group = if mark == '.' { ',' } else { '.' };
            (!before.contains(mark) && groups_of_three(before, group))
                .then(|| assemble(&before.replace(group, ""), after, StyleUse::Proves(style_of_mark(mark))))?
        }
    }
}

fn groups_of_three(token: &str, mark: char) -> bool {
    let mut groups = token.split(mark);
    let first = groups.next().unwrap_or("");
    (1..=3).contains(&first.len()) && !first.starts_with('0') && groups.all(|group| group.len() == 3)
}

fn assemble(whole: &str, decimals: &str, styles: StyleUse) -> Option<Figure> {
    let count = u8::try_from(decimals.len()).ok()?;
    let value: f64 =
        format!("{}.{}", if whole.is_empty() { "0" } else { whole }, if decimals.is_empty() { "0" } else { decimals })
            .parse()
            .ok()?;
    let last_digit: f64 = format!("1e-{count}").parse().ok()?;
    value.is_finite().then_some(Figure { decimals: count, last_digit, styles, ..Figure::whole(value) })
}

/// A token with letters that were meant as digits: "6,2OO", "l.72". Keeps the token, so that the reading is doubted.
fn mended(input: &str, context: Context) -> IResult<&str, Figure> {
    let (rest, token) = take_while_m_n(2, 24, |c: char| c.is_ascii_digit() || ".,OolI|S".contains(c)).parse(input)?;
    let trimmed = token.trim_end_matches(['.', ',']);
    let Some(rest_after) = input.get(trimmed.len()..) else { return fail(input) };
    if rest.starts_with(char::is_alphanumeric) {
        return fail(input);
    }
    let figure = mend(trimmed).and_then(|plain| interpret(&plain, context.decimal));
    match figure {
        Some(figure) => Ok((rest_after, Figure { mended: Some(trimmed.to_owned()), ..figure })),
        None => fail(input),
    }
}

/// The token in digits, where it is more digits than letters and cannot be a name, a formula or litres.
fn mend(token: &str) -> Option<String> {
    let digits = token.chars().filter(char::is_ascii_digit).count();
    let letters = token.chars().filter(|c| c.is_alphabetic() || *c == '|').count();
    let marked = token.contains(['.', ',']);
    let first_is_digit = token.starts_with(|c: char| c.is_ascii_digit());
    if digits == 0 || letters == 0 || letters > digits.max(if marked { 1 } else { 2 }) {
        return None;
    }
    if token.ends_with('l') && !marked {
        return None;
    }
    // Without a mark only "9O", "1OO", "6I2" look like figures; "O2", "S5", "I1", "5o" are other things.
    let plausible = marked || (first_is_digit && !token.contains(['S', 'o', 'l']));
    let fives = token.matches('S').count();
    if !plausible || fives > 1 || (fives == 1 && digits < 2) {
        return None;
    }
    let plain = token.chars().map(|c| match c {
        'O' | 'o' => '0',
        'l' | 'I' | '|' => '1',
        'S' => '5',
        c => c,
    });
    Some(plain.collect())
}
