//! Number formats of spreadsheets: what a person sees of a stored number.
//!
//! A format decides whether 0.473 is shown as `47.3%`, 45717 as a date, 40 as `< 50`, and it may show a unit that no
//! cell holds. Codes are those of ECMA-376 part 1, section 18.8.31.

use super::decimal::{fixed, general, scientific};
use crate::document::Typed;
use chrono::{Datelike, Days, NaiveDate};

/// Serial number of the last day that a spreadsheet has, 31 December 9999.
const LAST_SERIAL: f64 = 2_958_465.0;

/// A format code, cut into its sections.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct NumberFormat {
    sections: Vec<Section>,
}

/// What a format makes of a number.
#[derive(Clone, Debug, PartialEq)]
pub struct Shown {
    /// As a person sees it, without marks between thousands; a date as ISO 8601, as far as the format shows it.
    pub text: String,
    /// What the format says of the value. None where it shows other words than the number's own.
    pub typed: Option<Typed>,
    /// The format hides the number (`;;;`).
    pub hidden: bool,
}

#[derive(Clone, Debug, PartialEq)]
struct Section {
    condition: Option<(String, f64)>,
    form: Form,
}

#[derive(Clone, Debug, PartialEq)]
enum Form {
    Number(NumberForm),
    Date(DateForm),
    Words(String),
}

#[derive(Clone, Debug, Default, PartialEq)]
struct NumberForm {
    prefix: String,
    suffix: String,
    /// Decimals at most, and those shown even where they are zero. None: as many as there are.
    decimals: Option<(usize, usize)>,
    integers: usize,
    /// Powers of ten by which the value is shown larger: 2 for each `%`, minus 3 for each comma after the digits.
    shift: i32,
    exponent: bool,
    fraction: bool,
    /// Digits and literals in turn, where literals stand between the digits as in a telephone number.
    broken: Option<Vec<Token>>,
}

#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct DateForm {
    year: bool,
    month: bool,
    day: bool,
    clock: bool,
    seconds: bool,
    elapsed: bool,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Token {
    Literal(char),
    Digit(char),
    Point,
    Comma,
    Percent,
    Exponent,
    General,
    Date(char),
    Elapsed(char),
}

impl NumberFormat {
    /// Reads a format code. Any text is taken; what makes no sense in it is shown as it stands.
    ///
    /// ```
    /// use beadwise::readers::kit::number_format::NumberFormat;
    /// assert_eq!(NumberFormat::parse("0.0%").show(0.473, false).text, "47.3%");
    /// assert_eq!(NumberFormat::parse("0.0\"%\"").show(47.3, false).text, "47.3%");
    /// ```
    pub fn parse(code: &str) -> Self {
        let mut sections = Vec::new();
        let mut rest = code;
        while let Some((section, after)) = Section::parse(rest) {
            sections.push(section);
            rest = after;
        }
        Self { sections }
    }

    /// The format of a built-in number, dates in an order of their own since only their parts matter here.
    /// Source: ECMA-376 part 1, section 18.8.30.
    pub fn built_in(id: u16) -> Self {
        Self::parse(match id {
            1 | 3 | 5 | 6 | 37 | 38 | 41 | 42 => "#,##0",
            2 | 4 | 7 | 8 | 39 | 40 | 43 | 44 => "#,##0.00",
            9 => "0%",
            10 => "0.00%",
            11 => "0.00E+00",
            12 => "# ?/?",
            13 => "# ??/??",
            14..=16 | 22 | 27..=31 | 36 | 50..=54 | 57 | 58 => "yyyy-mm-dd",
            17 => "mmm-yy",
            18 | 20 | 32 | 34 | 55 => "h:mm",
            19 | 21 | 33 | 35 | 45 | 47 | 56 => "h:mm:ss",
            46 => "[h]:mm:ss",
            48 => "##0.0E+0",
            _ => "General",
        })
    }

    /// Whether positive numbers of this format are dates or times.
    pub fn is_date(&self) -> bool {
        self.sections.first().is_some_and(|s| matches!(s.form, Form::Date(_)))
    }

    /// Whether it says nothing of its own.
    pub fn is_general(&self) -> bool {
        match self.sections.as_slice() {
            [] => true,
            [only] => only.form == Form::Number(NumberForm::default()),
            _ => false,
        }
    }

    /// What a person sees of a number. `from_1904`: dates count from 1 January 1904.
    pub fn show(&self, value: f64, from_1904: bool) -> Shown {
        match self.form(value) {
            _ if !value.is_finite() => Shown { text: value.to_string(), typed: None, hidden: false },
            None => NumberForm::default().show(value),
            Some(Form::Number(form)) => form.show(value),
            Some(Form::Date(form)) => form.show(value, from_1904),
            Some(Form::Words(words)) => {
                let text = words.trim().to_owned();
                Shown { hidden: text.is_empty(), text, typed: None }
            }
        }
    }

    fn form(&self, value: f64) -> Option<&Form> {
        // The fourth section is for text.
        let sections = self.sections.get(..self.sections.len().min(3)).unwrap_or_default();
        if sections.iter().any(|s| s.condition.is_some()) {
            let meets = |s: &&Section| s.condition.as_ref().is_none_or(|(sign, limit)| holds(value, sign, *limit));
            return sections.iter().find(meets).map(|s| &s.form);
        }
        let index = match sections.len() {
            2.. if value < 0.0 => 1,
            3.. if value == 0.0 => 2,
            _ => 0,
        };
        sections.get(index).map(|s| &s.form)
    }
}

fn holds(value: f64, sign: &str, limit: f64) -> bool {
    match sign {
        "<" => value < limit,
        "<=" => value <= limit,
        ">" => value > limit,
        ">=" => value >= limit,
        "<>" => value != limit,
        _ => value == limit,
    }
}

impl Section {
    /// The first section of a code and the rest after its semicolon; none where nothing is left.
    fn parse(code: &str) -> Option<(Self, &str)> {
        if code.is_empty() {
            return None;
        }
        let mut tokens = Vec::new();
        let mut condition = None;
        let mut rest = code;
        while let Some(character) = rest.chars().next() {
            let after = rest.get(character.len_utf8()..).unwrap_or_default();
            rest = match character {
                ';' => {
                    // A code that ends in a semicolon has one more section, and that is empty.
                    let after = if after.is_empty() { "\"\"" } else { after };
                    return Some((Self { condition, form: form(&tokens) }, after));
                }
                '"' => {
                    let (inside, after) = after.split_once('"').unwrap_or((after, ""));
                    tokens.extend(inside.chars().map(Token::Literal));
                    after
                }
                '\\' | '_' | '*' => {
                    let next = after.chars().next();
                    match (character, next) {
                        ('\\', Some(literal)) => tokens.push(Token::Literal(literal)),
                        ('_', _) => tokens.push(Token::Literal(' ')),
                        _ => {}
                    }
                    next.and_then(|c| after.get(c.len_utf8()..)).unwrap_or_default()
                }
                '[' => {
                    let (inside, after) = after.split_once(']').unwrap_or((after, ""));
                    bracket(inside, &mut tokens, &mut condition);
                    after
                }
                _ => plain(character, rest, after, &mut tokens),
            };
        }
        Some((Self { condition, form: form(&tokens) }, ""))
    }
}

/// `[Red]`, `[>=100]`, `[$€-407]`, `[h]`.
fn bracket(inside: &str, tokens: &mut Vec<Token>, condition: &mut Option<(String, f64)>) {
    if let Some(symbol) = inside.strip_prefix('$') {
        let symbol = symbol.rsplit_once('-').map_or(symbol, |(symbol, _)| symbol);
        tokens.extend(symbol.chars().map(Token::Literal));
        return;
    }
    let limit_at = inside.find(|c| !matches!(c, '<' | '>' | '=')).unwrap_or(inside.len());
    let (sign, limit) = inside.split_at(limit_at);
    if let (false, Ok(limit)) = (sign.is_empty(), limit.trim().parse()) {
        *condition = Some((sign.to_owned(), limit));
        return;
    }
    let lower = inside.to_ascii_lowercase();
    for unit in ['h', 'm', 's'] {
        if !lower.is_empty() && lower.chars().all(|c| c == unit) {
            tokens.push(Token::Elapsed(unit));
        }
    }
}

/// One character outside of quotes; gives what is left after it.
fn plain<'a>(character: char, rest: &'a str, after: &'a str, tokens: &mut Vec<Token>) -> &'a str {
    let word = |word: &str| rest.get(..word.len()).is_some_and(|head| head.eq_ignore_ascii_case(word));
    let skip = |count: usize| rest.get(count..).unwrap_or_default();
    if word("general") {
        tokens.push(Token::General);
        return skip(7);
    }
    for clock in ["am/pm", "a/p"] {
        if word(clock) {
            tokens.push(Token::Date('h'));
            return skip(clock.len());
        }
    }
    if (word("e+") || word("e-")) && matches!(tokens.last(), Some(Token::Digit(_) | Token::Point)) {
        tokens.push(Token::Exponent);
        return skip(2);
    }
    tokens.push(match character {
        '0' | '#' | '?' => Token::Digit(character),
        '.' => Token::Point,
        ',' => Token::Comma,
        '%' => Token::Percent,
        '@' => Token::General,
        'y' | 'm' | 'd' | 'h' | 's' | 'e' | 'b' | 'Y' | 'M' | 'D' | 'H' | 'S' => Token::Date(character),
        other => Token::Literal(other),
    });
    after
}

fn form(tokens: &[Token]) -> Form {
    let digits: Vec<usize> = (0..tokens.len()).filter(|i| matches!(tokens.get(*i), Some(Token::Digit(_)))).collect();
    let has_date = tokens.iter().any(|t| matches!(t, Token::Date(_) | Token::Elapsed(_)));
    let is_elapsed = tokens.iter().any(|t| matches!(t, Token::Elapsed(_)));
    if let Some(at) = tokens.iter().position(|t| *t == Token::General) {
        let (before, after) = tokens.split_at(at);
        return Form::Number(NumberForm {
            prefix: spelled(before),
            suffix: spelled(after),
            shift: 2 * percents(tokens),
            ..NumberForm::default()
        });
    }
    // A date has digits only behind its seconds; elsewhere they make the letters a unit that somebody left unquoted,
    // as in `0.0 mg/kg`.
    if has_date && (is_elapsed || digits.iter().all(|i| is_of_seconds(tokens, *i))) {
        return Form::Date(date_form(tokens));
    }
    match (digits.first(), digits.last()) {
        (Some(first), Some(last)) => Form::Number(number_form(tokens, *first, *last)),
        _ => Form::Words(spelled(tokens)),
    }
}

fn is_of_seconds(tokens: &[Token], digit: usize) -> bool {
    let before = tokens.get(..digit).unwrap_or_default().iter().rev();
    let mut before = before.skip_while(|t| matches!(t, Token::Digit(_) | Token::Point));
    matches!(before.next(), Some(Token::Date('s' | 'S')))
}

fn percents(tokens: &[Token]) -> i32 {
    tokens.iter().map(|t| i32::from(*t == Token::Percent)).sum()
}

/// The characters that stand around a number.
fn spelled(tokens: &[Token]) -> String {
    tokens
        .iter()
        .filter_map(|token| match token {
            Token::Literal(c) | Token::Date(c) | Token::Elapsed(c) => Some(*c),
            Token::Percent => Some('%'),
            Token::Point => Some('.'),
            Token::Comma => Some(','),
            Token::Digit(_) | Token::Exponent | Token::General => None,
        })
        .collect()
}

fn number_form(tokens: &[Token], first: usize, last: usize) -> NumberForm {
    // The point may come before the first digit, or after the last.
    let first = if first > 0 && tokens.get(first - 1) == Some(&Token::Point) { first - 1 } else { first };
    let core = tokens.get(first..=last).unwrap_or_default();
    let after = tokens.get(last + 1..).unwrap_or_default();
    let cuts = after.iter().take_while(|t| matches!(t, Token::Comma | Token::Point)).count();
    let (cut, after) = after.split_at(cuts);
    let exponent = core.contains(&Token::Exponent);
    let mantissa = core.split(|t| *t == Token::Exponent).next().unwrap_or_default();
    let mut halves = mantissa.splitn(2, |t| *t == Token::Point);
    let (whole, part) = (halves.next().unwrap_or_default(), halves.next().unwrap_or_default());
    let zeros = |tokens: &[Token]| tokens.iter().filter(|t| **t == Token::Digit('0')).count();
    let fraction = core.windows(2).any(|w| matches!(w, [Token::Literal('/'), _]))
        && core.iter().any(|t| *t == Token::Digit('?') || *t == Token::Digit('#'));
    let places = part.iter().filter(|t| matches!(t, Token::Digit(_))).count();
    let fixed_places = part.iter().rposition(|t| *t == Token::Digit('0')).map_or(0, |i| i + 1).min(places);
    let is_broken = core.iter().any(|t| matches!(t, Token::Literal(_) | Token::Date(_) | Token::Elapsed(_)));
    let thousands = cut.iter().map(|t| i32::from(*t == Token::Comma)).sum::<i32>();
    NumberForm {
        prefix: spelled(tokens.get(..first).unwrap_or_default()),
        suffix: spelled(after),
        decimals: (!fraction).then_some((places, fixed_places)),
        integers: zeros(whole),
        shift: 2 * percents(tokens) - 3 * thousands,
        exponent,
        fraction,
        broken: (is_broken && !fraction).then(|| core.to_vec()),
    }
}

fn date_form(tokens: &[Token]) -> DateForm {
    let mut date = DateForm::default();
    let units: Vec<char> = tokens
        .iter()
        .filter_map(|t| match t {
            Token::Date(c) | Token::Elapsed(c) => Some(c.to_ascii_lowercase()),
            _ => None,
        })
        .collect();
    date.elapsed = tokens.iter().any(|t| matches!(t, Token::Elapsed(_)));
    let mut previous = ' ';
    for (index, unit) in units.iter().enumerate() {
        match unit {
            'y' | 'e' | 'b' => date.year = true,
            'd' => date.day = true,
            'h' => date.clock = true,
            's' => (date.clock, date.seconds) = (true, true),
            // Minutes stand behind hours or before seconds.
            'm' => {
                let next = units.iter().skip(index).find(|u| **u != 'm');
                if previous == 'h' || next == Some(&'s') || date.elapsed {
                    date.clock = true
                } else {
                    date.month = true
                }
            }
            _ => {}
        }
        if *unit != 'm' {
            previous = *unit;
        }
    }
    date
}

impl NumberForm {
    fn show(&self, stored: f64) -> Shown {
        let value = shifted(stored, self.shift);
        if let Some(core) = &self.broken {
            let text = format!("{}{}{}", self.prefix, fill(core, value), self.suffix);
            return Shown { text: text.trim().to_owned(), typed: None, hidden: false };
        }
        let (digits, decimals) = match self.decimals {
            _ if self.fraction => (general(value), None),
            None => (general(value), None),
            Some((most, _)) if self.exponent => (scientific(value, most), None),
            Some((most, least)) => {
                let digits = fixed(value, most, least, self.integers);
                let shown = digits.split_once('.').map_or(0, |(_, part)| part.len());
                (digits, u8::try_from(shown).ok())
            }
        };
        labelled(&self.prefix, &digits, &self.suffix, value, decimals)
    }
}

/// A number among the words that its format puts around it.
pub fn labelled(prefix: &str, digits: &str, suffix: &str, value: f64, decimals: Option<u8>) -> Shown {
    // A sign or bracket for negative numbers is part of the number, which carries its own.
    let prefix = prefix.trim().trim_matches(['-', '−', '+', '(', ' ']);
    let suffix = if value < 0.0 { suffix.trim_end().trim_end_matches(')') } else { suffix.trim_end() };
    let text = format!("{prefix}{}{digits}{suffix}", if prefix.is_empty() { "" } else { " " });
    let unit = suffix.trim();
    // `< 0`, `0 ± 0.2`: words that change what the number says are kept as words.
    let changes =
        !prefix.is_empty() || unit.chars().any(|c| c.is_ascii_digit() || "<>±≤≥~".contains(c)) && !is_unit(unit);
    let unit = (!unit.is_empty() && unit.chars().any(|c| c.is_alphanumeric() || c == '%')).then(|| unit.to_owned());
    let typed = (!changes).then_some(Typed::Number { value, decimals, unit });
    Shown { text: text.trim().to_owned(), typed, hidden: false }
}

/// Units with a figure in them: `kgr/ft3`, `mg/100 mL`.
fn is_unit(text: &str) -> bool {
    text.starts_with(|c: char| c.is_alphabetic() || c == '%') && !text.contains(['<', '>', '±', '≤', '≥', '~'])
}

/// A number with its decimal point moved, to the right where `shift` is positive.
pub fn shifted(value: f64, shift: i32) -> f64 {
    match shift {
        0 => value,
        // The decimal digits move and the value stays the one that was typed: 0.473 × 100 is 47.3, not 47.3000…07.
        _ => format!("{value:e}")
            .split_once('e')
            .and_then(|(digits, exponent)| Some((digits, exponent.parse::<i32>().ok()?)))
            .and_then(|(digits, exponent)| format!("{digits}e{}", exponent + shift).parse().ok())
            .unwrap_or(value),
    }
}

/// Puts the digits of a whole number into their places, from the right: 5550199 in `000-0000`.
fn fill(core: &[Token], value: f64) -> String {
    let digits = fixed(value.abs(), 0, 0, 1);
    let mut left: Vec<char> = digits.chars().collect();
    let first_digit = core.iter().position(|t| matches!(t, Token::Digit(_)));
    let mut out = Vec::new();
    for (index, token) in core.iter().enumerate().rev() {
        match token {
            Token::Digit(kind) => {
                if let Some(digit) = left.pop().or((*kind == '0').then_some('0')) {
                    out.push(digit);
                }
                if Some(index) == first_digit {
                    while let Some(digit) = left.pop() {
                        out.push(digit);
                    }
                }
            }
            Token::Literal(c) | Token::Date(c) => out.push(*c),
            Token::Point => out.push('.'),
            _ => {}
        }
    }
    if value < 0.0 {
        out.push('-');
    }
    out.iter().rev().collect()
}

impl DateForm {
    fn show(self, value: f64, from_1904: bool) -> Shown {
        let words = |text: String| Shown { text, typed: None, hidden: false };
        if self.elapsed || !(self.year || self.month || self.day) {
            return words(clock(value, self.elapsed, self.seconds));
        }
        let Some(date) = date_of(value, from_1904) else { return words(general(value)) };
        match (self.year, self.month, self.day) {
            // The format shows less than a day, and so does whoever reads it.
            (true, true, false) => words(format!("{:04}-{:02}", date.year(), date.month())),
            (true, false, false) => words(format!("{:04}", date.year())),
            _ => Shown { text: date.to_string(), typed: Some(Typed::Date(date)), hidden: false },
        }
    }
}

/// The date of a serial number; none outside of what a spreadsheet shows.
pub fn date_of(serial: f64, from_1904: bool) -> Option<NaiveDate> {
    if !(0.0..LAST_SERIAL + 1.0).contains(&serial) {
        return None;
    }
    let days = serial.floor() as u64;
    if from_1904 {
        return NaiveDate::from_ymd_opt(1904, 1, 1)?.checked_add_days(Days::new(days));
    }
    // Day 60 is a 29 February 1900 that never was; the days before it are counted from one day later.
    let start = match days {
        0 | 60 => return None,
        1..60 => NaiveDate::from_ymd_opt(1899, 12, 31)?,
        _ => NaiveDate::from_ymd_opt(1899, 12, 30)?,
    };
    start.checked_add_days(Days::new(days))
}

fn clock(value: f64, elapsed: bool, seconds: bool) -> String {
    let value = if elapsed { value.abs() } else { value.abs().fract() };
    let total = (value * 86_400.0).round().min(1e12) as u64;
    let (hours, minutes, rest) = (total / 3600, total / 60 % 60, total % 60);
    if seconds { format!("{hours:02}:{minutes:02}:{rest:02}") } else { format!("{hours:02}:{minutes:02}") }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn shown(code: &str, value: f64) -> (String, Option<Typed>) {
        let shown = NumberFormat::parse(code).show(value, false);
        (shown.text, shown.typed)
    }

    fn typed(value: f64, decimals: Option<u8>, unit: Option<&str>) -> Option<Typed> {
        Some(Typed::Number { value, decimals, unit: unit.map(str::to_owned) })
    }

    #[test]
    fn a_percent_sign_outside_quotes_shows_hundredfold_and_a_quoted_one_does_not() {
        assert_eq!(shown("0.0%", 0.473), ("47.3%".into(), typed(47.3, Some(1), Some("%"))));
        assert_eq!(shown("0.00\\ %;[Red]\\-0.00\\ %", 0.473), ("47.30 %".into(), typed(47.3, Some(2), Some("%"))));
        assert_eq!(shown("0.0\"%\"", 47.3), ("47.3%".into(), typed(47.3, Some(1), Some("%"))));
        assert_eq!(shown("0.0\\%", 47.3), ("47.3%".into(), typed(47.3, Some(1), Some("%"))));
        assert_eq!(shown("0.0_%", 47.3), ("47.3".into(), typed(47.3, Some(1), None)));
        assert_eq!(shown("[Red][%]0.0", 47.3), ("47.3".into(), typed(47.3, Some(1), None)));
        assert_eq!(NumberFormat::built_in(9).show(0.47, false).text, "47%");
        assert_eq!(NumberFormat::built_in(10).show(0.47, false).text, "47.00%");
    }

    #[test]
    fn the_value_is_kept_and_the_text_is_rounded() {
        assert_eq!(shown("0.00", 1.41666), ("1.42".into(), typed(1.41666, Some(2), None)));
        assert_eq!(shown("#,##0", 6200.4), ("6200".into(), typed(6200.4, Some(0), None)));
        assert_eq!(shown("0.##", 1.5), ("1.5".into(), typed(1.5, Some(1), None)));
        assert_eq!(shown("00000", 123.0), ("00123".into(), typed(123.0, Some(0), None)));
        assert_eq!(shown("#.00", 0.25), (".25".into(), typed(0.25, Some(2), None)));
        assert_eq!(shown("0.00E+00", 6200.0), ("6.20E+03".into(), typed(6200.0, None, None)));
        assert_eq!(shown("# ?/?", 1.5), ("1.5".into(), typed(1.5, None, None)));
        assert_eq!(shown("0.0,", 6200.0), ("6.2".into(), typed(6.2, Some(1), None)));
    }

    #[test]
    fn units_in_a_format_are_units_of_the_number() {
        assert_eq!(shown("0\" mg/kg\"", 6200.0), ("6200 mg/kg".into(), typed(6200.0, Some(0), Some("mg/kg"))));
        assert_eq!(shown("0.0 mg/kg", 6200.0), ("6200.0 mg/kg".into(), typed(6200.0, Some(1), Some("mg/kg"))));
        assert_eq!(shown("General\" kgr/ft3\"", 37.6), ("37.6 kgr/ft3".into(), typed(37.6, None, Some("kgr/ft3"))));
        assert_eq!(shown("#,##0.00\\ [$eq/L]", 1.7), ("1.70 eq/L".into(), typed(1.7, Some(2), Some("eq/L"))));
    }

    #[test]
    fn words_that_change_the_meaning_are_no_number() {
        assert_eq!(shown("\"< \"0", 50.0), ("< 50".into(), None));
        assert_eq!(shown("[<50]\"< 50\";0", 40.0), ("< 50".into(), None));
        assert_eq!(shown("[<50]\"< 50\";0", 60.0), ("60".into(), typed(60.0, Some(0), None)));
        assert_eq!(shown("0;-0;\"ND\"", 0.0), ("ND".into(), None));
        assert_eq!(shown("0.0\" ± 0.2\"", 47.3), ("47.3 ± 0.2".into(), None));
        assert_eq!(shown("000-0000", 5_550_199.0), ("555-0199".into(), None));
        assert!(NumberFormat::parse(";;;").show(47.3, false).hidden);
    }

    #[test]
    fn negative_numbers_carry_their_own_sign() {
        assert_eq!(shown("0.0;(0.0)", -1.5), ("-1.5".into(), typed(-1.5, Some(1), None)));
        assert_eq!(shown("0.0;[Red]0.0", -1.5), ("-1.5".into(), typed(-1.5, Some(1), None)));
        assert_eq!(shown("0.0", -0.01).0, "0.0");
    }

    fn date(code: &str, serial: f64, from_1904: bool) -> (String, bool) {
        let shown = NumberFormat::parse(code).show(serial, from_1904);
        (shown.text, matches!(shown.typed, Some(Typed::Date(_))))
    }

    #[test]
    fn serial_numbers_are_dates_as_far_as_the_format_shows() {
        // 45717 is 1 March 2025: 25569 is 1 January 1970 (ECMA-376 part 1, 18.17.4), and 20148 days lie between.
        assert_eq!(date("dd/mm/yyyy", 45717.0, false), ("2025-03-01".into(), true));
        assert_eq!(date("d\\.\\ mmmm\\ yyyy;@", 45717.75, false), ("2025-03-01".into(), true));
        assert_eq!(date("[$-409]m/d/yy h:mm AM/PM", 45717.75, false), ("2025-03-01".into(), true));
        // The two systems lie 1462 days apart (the same section).
        assert_eq!(date("yyyy-mm-dd", 45717.0 - 1462.0, true), ("2025-03-01".into(), true));
        assert_eq!(date("mmm-yy", 45717.0, false), ("2025-03".into(), false));
        assert_eq!(date("yyyy", 45717.0, false), ("2025".into(), false));
        assert_eq!(date("h:mm", 0.75, false), ("18:00".into(), false));
        assert_eq!(date("mm:ss.0", 0.5, false), ("12:00:00".into(), false));
        assert_eq!(date("[h]:mm", 1.5, false), ("36:00".into(), false));
        assert_eq!(date("yyyy-mm-dd", 59.0, false).0, "1900-02-28");
        assert_eq!(date("yyyy-mm-dd", 61.0, false).0, "1900-03-01");
        assert_eq!(date("yyyy-mm-dd", -1.0, false), ("-1".into(), false));
        assert!(NumberFormat::parse("m/d/yy").is_date() && !NumberFormat::parse("0.0 mg/kg").is_date());
    }

    #[test]
    fn any_code_is_taken() {
        for code in
            ["", ";", "\"", "\\", "[", "_", "*", "[$", "[<]", "0;;;;;;", "E+", "/", "?/", "@@", "%", ".", "0.0.0"]
        {
            for value in [0.0, -1.0, 1e300, f64::NAN, f64::MIN_POSITIVE] {
                NumberFormat::parse(code).show(value, false);
            }
        }
    }
}
