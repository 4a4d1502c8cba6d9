//! Value expressions inside running text.

use super::date::find_dates;
use super::grammar::expression;
use super::number::LONGEST_NUMBER;
use super::words::word;
use super::{Context, Decimal, Located, StyleUse};
use crate::quantity::Setting;
use crate::quantity::memo::{Answers, remembered};
use std::cell::RefCell;

/// Finds the value expressions in running text, left to right, without overlap; units are taken greedily.
///
/// Digits glued to letters, dates, times, telephone numbers and numbers of things ("V2", "25-0317") are no values.
///
/// ```
/// use beadwise::value::{find, Decimal};
/// let found = find("Moisture of core V2 was 47.3 %", Decimal::Point);
/// assert_eq!(found.len(), 1);
/// assert_eq!(found[0].value.value, Some(47.3));
/// ```
pub fn find(text: &str, decimal: Decimal) -> Vec<Located> {
    thread_local! {
        static POINT: Answers<Vec<Located>> = RefCell::default();
        static COMMA: Answers<Vec<Located>> = RefCell::default();
    }
    let answers = if decimal == Decimal::Point { &POINT } else { &COMMA };
    remembered(answers, text, |text| find_all(text, decimal))
}

fn find_all(text: &str, decimal: Decimal) -> Vec<Located> {
    let mut found = Vec::new();
    let mut asides = asides(text).into_iter().peekable();
    let mut before = Before::default();
    let mut at = 0;
    while let Some(rest) = text.get(at..).filter(|rest| !rest.is_empty()) {
        while asides.next_if(|(_, end)| *end <= at).is_some() {}
        if let Some((_, end)) = asides.peek().filter(|(start, _)| *start <= at) {
            before = Before::default();
            at = *end;
            continue;
        }
        let Some(first) = rest.chars().next() else { break };
        let limit = asides.peek().map_or(text.len(), |(start, _)| *start);
        let window = text.get(at..limit).unwrap_or(rest);
        if before.allows(first) && may_start(window, first) {
            if let Some(length) = legend_length(window) {
                before = Before::default();
                at += length;
                continue;
            }
            if let Some((length, value)) = read(window, decimal) {
                // "2 x 5 ft³" is ten; a tank is "24 x 72 in".
                if !(before.multiplies() && value.unit.as_ref().is_some_and(|unit| unit.dimension.length != 1)) {
                    found.push(Located { start: at, end: at + length, value });
                }
                before = before.after(text.get(at..at + length).unwrap_or(""));
                at += length;
                continue;
            }
            let token = glued_length(window, first);
            if token > 0 {
                before = before.after(text.get(at..at + token).unwrap_or(""));
                at += token;
                continue;
            }
        }
        before = before.and(first);
        at += first.len_utf8();
    }
    found
}

fn read(window: &str, decimal: Decimal) -> Option<(usize, super::Value)> {
    let line = clip(window, 2 * LONGEST_NUMBER);
    let line = line.split(['\n', '\r']).next().unwrap_or(line);
    let read = |decimal| {
        let (rest, value) = expression(line, Context { decimal, setting: Setting::Running }).ok()?;
        Some((line.len() - rest.len(), value))
    };
    let (length, value) = read(decimal)?;
    match value.styles {
        StyleUse::Proves(style) if style != decimal => read(style),
        _ => Some((length, value)),
    }
}

fn clip(text: &str, most: usize) -> &str {
    let mut end = text.len().min(most);
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    text.get(..end).unwrap_or("")
}

/// Characters within which a word that begins a value must come to its figure.
const LONGEST_LEAD: usize = 60;

/// Length of "ND = not detected", which explains a mark and reports nothing; none where a digit stands in it.
fn legend_length(window: &str) -> Option<usize> {
    let context = Context { decimal: Decimal::Point, setting: Setting::Running };
    let window = clip(window, LONGEST_NUMBER);
    let (rest, _) = word("not_detected_word", window, context).ok()?;
    let meaning = rest.trim_start().strip_prefix('=')?;
    let end = meaning.find([';', ',', '.', '\n', '|']).unwrap_or(meaning.len());
    let text = meaning.get(..end)?;
    (!text.contains(char::is_numeric)).then(|| window.len() - meaning.len() + end)
}

/// A cheap look before the grammar is asked.
fn may_start(window: &str, first: char) -> bool {
    match first {
        c if c.is_numeric() => true,
        '+' | '-' | '−' | '–' | '.' | ',' => window.chars().nth(1).is_some_and(char::is_numeric),
        '<' | '>' | '≤' | '≥' | '~' | '≈' | '∼' | '=' | '⩽' | '⩾' | '≦' | '≧' | '＜' | '＞' => true,
        '%' | '°' | '‰' => true,
        c if c.is_alphabetic() => {
            let context = Context { decimal: Decimal::Point, setting: Setting::Running };
            window.chars().take(LONGEST_LEAD).any(char::is_numeric)
                || ["not_detected_word", "trace_word"].iter().any(|name| word(name, window, context).is_ok())
        }
        _ => false,
    }
}

/// Length of what must be passed over as a whole when no value stands there: a word, or digits glued to anything.
fn glued_length(window: &str, first: char) -> usize {
    if !first.is_alphanumeric() {
        return 0;
    }
    let mut end = 0;
    let mut chars = window.chars().peekable();
    while let Some(c) = chars.next() {
        let goes_on = chars.peek().is_some_and(|next| next.is_alphanumeric());
        let joins = matches!(c, '-' | '–' | '.' | '/' | ':' | ',' | '_' | '×' | '*' | '+' | '#' | '@' | '\'' | '’');
        if !(c.is_alphanumeric() || (joins && goes_on)) {
            break;
        }
        end += c.len_utf8();
    }
    // A word ends at the sign that may begin a figure: "Iron:6200", "Iron<5", "Iron,5".
    if first.is_alphabetic() {
        let token = window.get(..end).unwrap_or("");
        let cut = token
            .char_indices()
            .find(|(at, c)| matches!(c, ':' | ',') && !token.get(..*at).is_some_and(|t| t.ends_with(char::is_numeric)));
        if let Some((cut, _)) = cut {
            return cut;
        }
    }
    end
}

/// The two characters before a place, and whether a count or a price leads up to it.
#[derive(Clone, Copy, Default)]
struct Before {
    last: Option<char>,
    second: Option<char>,
    third: Option<char>,
    fourth: Option<char>,
}

impl Before {
    fn and(self, c: char) -> Self {
        Self { last: Some(c), second: self.last, third: self.second, fourth: self.third }
    }

    fn after(self, text: &str) -> Self {
        let mut tail: Vec<char> = text.chars().rev().take(4).collect();
        tail.reverse();
        tail.into_iter().fold(self, Self::and)
    }

    /// Whether an expression that begins with this character may begin here.
    fn allows(self, first: char) -> bool {
        let Some(last) = self.last else { return true };
        let letter = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
        let figure = first.is_alphanumeric() || matches!(first, '.' | ',' | '+' | '-' | '−' | '–');
        if !figure {
            let count = first == '=' && self.counts(self.last, self.second, self.third);
            return !(count || matches!(last, '<' | '>'));
        }
        // ". .5" of a dotted leader is not a decimal point.
        if matches!(first, '.' | ',') && !(last.is_whitespace() || matches!(last, '(' | '[' | '=' | ':' | '|')) {
            return false;
        }
        match last {
            c if c.is_alphanumeric() => false,
            '_' | '#' | '@' | '$' | '€' | '£' | '^' | '\\' | '&' => false,
            ':' | ',' | ';' => !(self.second.is_some_and(char::is_numeric) && first.is_numeric()),
            '.' | '/' | '-' | '–' | '−' | '‐' | '‑' | '\'' | '’' | '+' | '*' | '×' | '°' => {
                !letter(self.second)
            }
            '=' => !self.counts(self.second, self.third, self.fourth),
            c if c.is_whitespace() => {
                let money = matches!(self.second, Some('$' | '€' | '£'));
                let count = self.second == Some('=') && self.counts(self.third, self.fourth, None);
                !(money || count)
            }
            _ => true,
        }
    }

    /// "2 x " leads up to this place.
    fn multiplies(self) -> bool {
        self.last == Some(' ')
            && matches!(self.second, Some('x' | '×' | 'X'))
            && self.third == Some(' ')
            && self.fourth.is_some_and(char::is_numeric)
    }

    /// "n = 200" by itself counts beads.
    fn counts(self, a: Option<char>, b: Option<char>, c: Option<char>) -> bool {
        let is_n = |c: Option<char>| matches!(c, Some('n' | 'N'));
        let apart = |c: Option<char>| !c.is_some_and(char::is_alphanumeric);
        (is_n(a) && apart(b)) || (a.is_some_and(char::is_whitespace) && is_n(b) && apart(c))
    }
}

/// Spans that hold digits and no values: dates and telephone numbers, in order and without overlap.
fn asides(text: &str) -> Vec<(usize, usize)> {
    let mut spans: Vec<(usize, usize)> = find_dates(text).into_iter().map(|date| (date.start, date.end)).collect();
    spans.extend(telephones(text));
    spans.sort_unstable();
    let mut apart: Vec<(usize, usize)> = Vec::new();
    for (start, end) in spans {
        if apart.last().is_none_or(|(_, last)| *last <= start) {
            apart.push((start, end));
        }
    }
    apart
}

/// Groups of digits that are dialled: "+49 30 1234567", "(555) 019-9123", "555-019-9123", "01 45 67 89 10".
fn telephones(text: &str) -> Vec<(usize, usize)> {
    let mut found = Vec::new();
    let mut boundary = true;
    let mut skip_to = 0;
    for (at, c) in text.char_indices() {
        if at >= skip_to && boundary && (c.is_ascii_digit() || c == '+' || c == '(') {
            match telephone(text.get(at..).unwrap_or("")) {
                Some(length) => {
                    found.push((at, at + length));
                    skip_to = at + length;
                }
                None => skip_to = at + c.len_utf8(),
            }
        }
        boundary = !(c.is_alphanumeric() || matches!(c, '.' | ',' | '-' | '+' | '/' | '<' | '>'));
    }
    found
}

fn telephone(text: &str) -> Option<usize> {
    let (mut groups, mut joints) = (Vec::<usize>::new(), Vec::<String>::new());
    let mut joint = String::new();
    let mut within = false;
    let mut end = 0;
    for (at, c) in text.char_indices().take(32) {
        if c.is_ascii_digit() {
            if !within {
                groups.push(0);
                joints.push(std::mem::take(&mut joint));
            }
            within = true;
            end = at + 1;
            if let Some(last) = groups.last_mut() {
                *last += 1;
            }
        } else if matches!(c, '+' | '(' | ')' | '-' | '–' | '/' | ' ' | '.') && !joint.ends_with(' ') {
            within = false;
            joint.push(c);
        } else {
            break;
        }
    }
    let digits: usize = groups.iter().sum();
    let (lead, inner) = joints.split_first()?;
    let first = groups.first().copied()?;
    let zero = text.trim_start_matches(['+', '(']).starts_with('0');
    let all = |joint: &str| inner.iter().all(|j| j == joint);
    let dialled = (lead.starts_with('+') && groups.len() >= 2 && !all("."))
        || (lead == "(" && (2..=5).contains(&first) && inner.first().is_some_and(|j| j.starts_with(')')))
        || (groups.len() == 3
            && groups.iter().all(|g| (3..=4).contains(g))
            && (all("-") || (all(".") && groups.ends_with(&[4]))))
        || (zero && groups.len() >= 4 && groups.iter().all(|g| *g == 2))
        || (zero
            && first >= 3
            && groups.len() >= 2
            && matches!(inner.first().map(String::as_str), Some("/" | "-" | " / ")));
    (dialled && (7..=15).contains(&digits)).then_some(end)
}
