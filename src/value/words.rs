//! The words and signs of the grammar, read once from `grammar/value.ebnf`.

use super::Context;
use crate::quantity::Setting;
use nom::IResult;
use nom::error::{Error, ErrorKind};
use std::collections::HashMap;
use std::sync::OnceLock;

pub(super) const GRAMMAR: &str = include_str!("../../grammar/value.ebnf");

/// Blanks that one blank of a terminal may stand for.
const MOST_BLANKS: usize = 2;

#[derive(Debug)]
struct Terminal {
    printed: String,
    folded: Vec<char>,
    letters: usize,
}

/// Terminals of one production, by their first character, the longest first.
type Terminals = HashMap<char, Vec<Terminal>>;

/// One production of the grammar: its name, and its terminals where it is nothing but a choice of them.
pub(super) struct Production {
    pub name: String,
    pub terminals: Vec<String>,
}

/// The productions of an EBNF text, in its order.
pub(super) fn productions(source: &str) -> Vec<Production> {
    let mut found: Vec<Production> = Vec::new();
    let mut word = String::new();
    let mut chars = source.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '(' if chars.peek() == Some(&'*') => {
                let mut last = ' ';
                for c in chars.by_ref() {
                    if last == '*' && c == ')' {
                        break;
                    }
                    last = c;
                }
            }
            '?' => for _ in chars.by_ref().take_while(|c| *c != '?') {},
            '"' | '\'' => {
                let text: String = chars.by_ref().take_while(|d| *d != c).collect();
                if let Some(production) = found.last_mut() {
                    production.terminals.push(text);
                }
            }
            '=' => {
                let name = word.split_whitespace().last().unwrap_or("").to_owned();
                found.push(Production { name, terminals: Vec::new() });
                word.clear();
            }
            ';' => word.clear(),
            c => word.push(c),
        }
    }
    found
}

fn lexicon() -> &'static HashMap<String, Terminals> {
    static LEXICON: OnceLock<HashMap<String, Terminals>> = OnceLock::new();
    LEXICON.get_or_init(|| {
        let mut lexicon = HashMap::new();
        for production in productions(GRAMMAR) {
            let mut terminals: Terminals = HashMap::new();
            for printed in production.terminals {
                let folded: Vec<char> = printed.chars().flat_map(char::to_lowercase).collect();
                let Some(first) = folded.first().copied() else { continue };
                let letters = printed.chars().filter(|c| c.is_alphabetic()).count();
                terminals.entry(first).or_default().push(Terminal { printed, folded, letters });
            }
            for choices in terminals.values_mut() {
                choices.sort_by_key(|t| std::cmp::Reverse(t.folded.len()));
            }
            lexicon.insert(production.name, terminals);
        }
        lexicon
    })
}

/// Takes the longest terminal of a production from the start of the input.
pub(super) fn word<'a>(production: &str, input: &'a str, context: Context) -> IResult<&'a str, &'static str> {
    let strict = context.setting == Setting::Running && matches!(production, "not_detected_word" | "deviation_word");
    find_terminal(production, input, strict)
        .ok_or_else(|| nom::Err::Error(Error::new(input, ErrorKind::Tag)))
        .map(|(printed, end)| (input.get(end..).unwrap_or(""), printed))
}

/// Whether the whole text is a terminal of a production.
pub(super) fn is_word(production: &str, text: &str) -> bool {
    // Two letters are too easily something else in another case: "NA" and sodium.
    let short = text.chars().filter(|c| c.is_alphabetic()).count() <= 2;
    find_terminal(production, text, short).is_some_and(|(_, end)| end == text.len())
}

fn find_terminal(production: &str, input: &str, strict: bool) -> Option<(&'static str, usize)> {
    let first = input.chars().next()?.to_lowercase().next()?;
    let choices = lexicon().get(production)?.get(&first)?;
    choices.iter().find_map(|terminal| {
        let end = match_length(terminal, input)?;
        // "Ca 12" is calcium, "CA" too.
        let symbol = production == "about_word"
            && (terminal.letters <= 1 || (terminal.letters <= 2 && !terminal.printed.contains('.')));
        let exact = !(strict || symbol) || terminal.letters > 4 || input.get(..end) == Some(terminal.printed.as_str());
        let next = input.get(end..)?.chars().next();
        let inside = terminal.printed.ends_with(char::is_alphabetic) && next.is_some_and(char::is_alphabetic);
        (exact && !inside).then_some((terminal.printed.as_str(), end))
    })
}

fn match_length(terminal: &Terminal, input: &str) -> Option<usize> {
    let mut wanted = terminal.folded.iter().copied().peekable();
    let mut at = 0;
    let mut chars = input.chars().peekable();
    while let Some(&want) = wanted.peek() {
        if want == ' ' {
            wanted.next();
            let mut blanks = 0;
            while blanks < MOST_BLANKS
                && let Some(c) = chars.next_if(|c| c.is_whitespace())
            {
                at += c.len_utf8();
                blanks += 1;
            }
            if blanks == 0 {
                return None;
            }
            continue;
        }
        let c = chars.next()?;
        at += c.len_utf8();
        for folded in c.to_lowercase() {
            if wanted.next() != Some(folded) {
                return None;
            }
        }
    }
    Some(at)
}
