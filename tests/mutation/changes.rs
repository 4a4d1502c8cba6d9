//! The changes: each takes a report and gives it back changed in one small way, with what that leaves to be read.

use crate::known::{Known, Read};
use crate::layout::{self, At, blank_at, line, line_mut, retype, word, words};
use crate::random::Random;
use beadwise::document::{Document, Line, Typed};
use beadwise::place::Where;
use std::ops::Range;

/// A report after a change.
pub struct Changed {
    pub document: Document,
    pub what: String,
    pub expect: Expect,
    /// The figure that was changed, if one was.
    pub target: Option<Target>,
    /// Figures may rightly have gone to another sample.
    pub moves_samples: bool,
}

/// What the changed report says of the target; all other figures are as before.
#[derive(Clone, Debug)]
pub enum Expect {
    /// What it said before.
    Same,
    /// A value times this.
    Scaled(f64),
    /// No value at all.
    Absent,
    /// Something that no reader can be sure of.
    Doubted,
    /// The same value with this qualifier.
    Qualified(&'static str),
}

/// A figure before the change.
#[derive(Clone, Debug)]
pub struct Target {
    pub place: Where,
    number: String,
}

impl Target {
    pub fn is(&self, read: &Read) -> bool {
        read.place == self.place && numbers(&read.as_written).iter().any(|r| read.as_written[r.clone()] == self.number)
    }
}

pub type Change = fn(&Known, &mut Random) -> Option<Changed>;

/// All kinds, by what they are called.
pub const KINDS: &[(&str, Change)] = &[
    ("digit for another", digit),
    ("digit doubled", digit_doubled),
    ("digit lost", digit_lost),
    ("decimal mark swapped", mark_swapped),
    ("decimal mark lost", mark_lost),
    ("all decimal marks swapped", all_marks_swapped),
    ("letter for a digit", letter),
    ("blank in a number", blank_in_number),
    ("sign before a figure", sign),
    ("figure lost", figure_lost),
    ("unit misspelled", unit_misspelled),
    ("unit of another dimension", unit_of_another_dimension),
    ("unit of another size", unit_of_another_size),
    ("unit lost", unit_lost),
    ("unit glued to its figure", unit_glued),
    ("label misspelled", label_misspelled),
    ("label word of nonsense", label_of_nonsense),
    ("head word lost", head_word_lost),
    ("head word of nonsense", head_word_of_nonsense),
    ("line without figures lost", line_lost),
    ("line with a figure lost", figure_line_lost),
    ("lines swapped", lines_swapped),
    ("line repeated", line_repeated),
    ("line broken", line_broken),
    ("line moved right", line_moved),
    ("word moved a little", word_moved),
    ("columns swapped", columns_swapped),
    ("cell moved aside", cell_moved),
    ("cell lost, row moved up", row_moved_up),
];

/// The numbers in a text.
fn numbers(text: &str) -> Vec<Range<usize>> {
    let bytes = text.as_bytes();
    let is_digit = |i: usize| bytes.get(i).is_some_and(u8::is_ascii_digit);
    let mut found = Vec::new();
    let mut at = 0;
    while at < bytes.len() {
        if !is_digit(at) {
            at += 1;
            continue;
        }
        let start = at;
        while is_digit(at) || (matches!(bytes.get(at), Some(b'.' | b',')) && is_digit(at + 1)) {
            at += 1;
        }
        found.push(start..at);
    }
    found
}

struct Spot {
    at: At,
    range: Range<usize>,
    target: Target,
}

/// Figures of one plain number that were read rightly and without a doubt, and where their number stands.
fn spots(known: &Known) -> Vec<Spot> {
    let mut found = Vec::new();
    for read in known.baseline.iter().filter(|r| r.right && r.doubts.is_empty() && r.unit.as_deref() != Some("Cel")) {
        let written = numbers(&read.as_written);
        let [first, ..] = written.as_slice() else { continue };
        let number = &read.as_written[first.clone()];
        // "640 mg/L as CaCO3", "ft3": a second number that is glued to letters belongs to the unit.
        if written[1..].iter().any(|r| !read.as_written[..r.start].ends_with(char::is_alphabetic)) {
            continue;
        }
        let holds: Vec<(At, Range<usize>)> = words(&known.document)
            .filter(|(_, w)| w.place == read.place)
            .flat_map(|(at, w)| {
                let of_word = numbers(&w.text);
                of_word.into_iter().filter(|r| w.text[r.clone()] == *number).map(move |r| (at, r)).collect::<Vec<_>>()
            })
            .collect();
        // Where the same number stands twice on the line, which of them was read is not known.
        if let [(at, range)] = holds.as_slice() {
            let target = Target { place: read.place.clone(), number: number.to_owned() };
            found.push(Spot { at: *at, range: range.clone(), target });
        }
    }
    found
}

fn spot(known: &Known, random: &mut Random) -> Option<Spot> {
    let mut all = spots(known);
    (!all.is_empty()).then(|| all.swap_remove(random.below(all.len())))
}

fn is_typed(known: &Known, at: At) -> bool {
    word(&known.document, at).typed.is_some()
}

fn digits_of(number: &str) -> f64 {
    number.chars().filter(char::is_ascii_digit).collect::<String>().parse().unwrap_or(0.0)
}

/// Digits behind the only mark of a number.
fn decimals(number: &str) -> Option<usize> {
    let marks: Vec<usize> = number.match_indices(['.', ',']).map(|(i, _)| i).collect();
    match marks.as_slice() {
        [] => Some(0),
        [at] => Some(number.len() - at - 1),
        _ => None,
    }
}

/// Replaces the number of a spot.
fn renumber(known: &Known, spot: &Spot, number: &str, expect: Expect) -> Changed {
    let mut document = known.document.clone();
    let before = word(&document, spot.at).clone();
    let mut text = before.text.clone();
    text.replace_range(spot.range.clone(), number);
    retype(&mut document, spot.at, &text);
    if let (Expect::Scaled(factor), Some(Typed::Number { value, decimals, unit })) = (&expect, before.typed) {
        let typed = Typed::Number { value: value * factor, decimals, unit };
        line_mut(&mut document, spot.at).words[spot.at.word].typed = Some(typed);
    }
    let what = format!("\"{}\" becomes \"{text}\" in \"{}\"", before.text, line(&known.document, spot.at).text());
    Changed { document, what, expect, target: Some(spot.target.clone()), moves_samples: false }
}

fn plain(document: Document, what: String) -> Option<Changed> {
    Some(Changed { document, what, expect: Expect::Same, target: None, moves_samples: false })
}

fn digit_places(number: &str) -> Vec<usize> {
    number.char_indices().filter(|(_, c)| c.is_ascii_digit()).map(|(i, _)| i).collect()
}

fn digit(known: &Known, random: &mut Random) -> Option<Changed> {
    let spot = spot(known, random)?;
    let mut number = spot.target.number.clone();
    let at = *random.pick(&digit_places(&number))?;
    let new = random.below(10).to_string();
    number.replace_range(at..=at, &new);
    rescaled(known, &spot, &number, 0)
}

/// The number read as it now stands; `more` decimals than before.
fn rescaled(known: &Known, spot: &Spot, number: &str, more: i32) -> Option<Changed> {
    let (old, new) = (digits_of(&spot.target.number), digits_of(number));
    if old == 0.0 || new == 0.0 || number == spot.target.number {
        return None;
    }
    Some(renumber(known, spot, number, Expect::Scaled(new / old / 10_f64.powi(more))))
}

fn digit_doubled(known: &Known, random: &mut Random) -> Option<Changed> {
    let spot = spot(known, random)?;
    let mut number = spot.target.number.clone();
    let behind = decimals(&number)?;
    if is_typed(known, spot.at) || behind == 3 {
        return None;
    }
    let at = *random.pick(&digit_places(&number))?;
    let more = i32::from(at + behind >= number.len() && behind > 0);
    number.insert(at, number.as_bytes()[at] as char);
    rescaled(known, &spot, &number, more)
}

fn digit_lost(known: &Known, random: &mut Random) -> Option<Changed> {
    let spot = spot(known, random)?;
    let mut number = spot.target.number.clone();
    let behind = decimals(&number)?;
    if is_typed(known, spot.at) || behind == 3 || behind == 1 || number.len() < 2 {
        return None;
    }
    let at = *random.pick(&digit_places(&number))?;
    let is_behind = at + behind >= number.len() && behind > 0;
    number.remove(at);
    if number.starts_with(['.', ',']) {
        return None;
    }
    rescaled(known, &spot, &number, -i32::from(is_behind))
}

fn swap(number: &str) -> String {
    number
        .chars()
        .map(|c| {
            if c == '.' {
                ','
            } else if c == ',' {
                '.'
            } else {
                c
            }
        })
        .collect()
}

fn mark_swapped(known: &Known, random: &mut Random) -> Option<Changed> {
    let spot = spot(known, random)?;
    let behind = decimals(&spot.target.number)?;
    // A mark that groups thousands makes another number when it is swapped, and the report then says that number.
    if is_typed(known, spot.at) || behind == 0 || (behind == 3 && digits_of(&spot.target.number) >= 1000.0) {
        return None;
    }
    Some(renumber(known, &spot, &swap(&spot.target.number), Expect::Same))
}

fn mark_lost(known: &Known, random: &mut Random) -> Option<Changed> {
    let spot = spot(known, random)?;
    let number = &spot.target.number;
    let behind = decimals(number)?;
    if is_typed(known, spot.at) || behind == 0 || behind == 3 {
        return None;
    }
    let bare: String = number.chars().filter(char::is_ascii_digit).collect();
    Some(renumber(known, &spot, &bare, Expect::Scaled(10_f64.powi(i32::try_from(behind).ok()?))))
}

fn all_marks_swapped(known: &Known, random: &mut Random) -> Option<Changed> {
    if random.below(4) > 0 {
        return None;
    }
    let mut document = known.document.clone();
    let all: Vec<(At, String)> = words(&known.document)
        .filter(|(_, w)| w.typed.is_none() && w.place.sheet.is_none())
        .filter(|(_, w)| numbers(&w.text).iter().any(|r| w.text[r.clone()].contains(['.', ','])))
        .map(|(at, w)| (at, w.text.clone()))
        .collect();
    if all.is_empty() {
        return None;
    }
    for (at, mut text) in all {
        for range in numbers(&text).into_iter().rev() {
            let number = text[range.clone()].to_owned();
            // Dates and section numbers keep their dots.
            if decimals(&number).is_some() {
                text.replace_range(range, &swap(&number));
            }
        }
        retype(&mut document, at, &text);
    }
    plain(document, "all marks swapped".to_owned())
}

fn letter(known: &Known, random: &mut Random) -> Option<Changed> {
    const LIKE: [(char, char); 6] = [('0', 'O'), ('1', 'l'), ('5', 'S'), ('8', 'B'), ('2', 'Z'), ('0', 'o')];
    let spot = spot(known, random)?;
    let mut number = spot.target.number.clone();
    let (of, to) = *random.pick(&LIKE)?;
    let at = *random.pick(&number.match_indices(of).map(|(i, _)| i).collect::<Vec<_>>())?;
    number.replace_range(at..=at, to.encode_utf8(&mut [0; 4]));
    Some(renumber(known, &spot, &number, Expect::Same))
}

fn blank_in_number(known: &Known, random: &mut Random) -> Option<Changed> {
    let spot = spot(known, random)?;
    if is_typed(known, spot.at) || spot.target.number.len() < 2 {
        return None;
    }
    let at = spot.range.start + 1 + random.below(spot.target.number.len() - 1);
    let mut document = known.document.clone();
    blank_at(&mut document, spot.at, at);
    let what = format!("\"{}\" becomes \"{}\"", line(&known.document, spot.at).text(), line(&document, spot.at).text());
    Some(Changed { document, what, expect: Expect::Same, target: Some(spot.target), moves_samples: false })
}

fn sign(known: &Known, random: &mut Random) -> Option<Changed> {
    let spot = spot(known, random)?;
    let text = &word(&known.document, spot.at).text;
    if spot.range.start > 0 || !text.is_char_boundary(spot.range.end) {
        return None;
    }
    let before = line(&known.document, spot.at).words.get(spot.at.word.wrapping_sub(1));
    if before.is_some_and(|w| w.text.contains(['<', '>', '≤', '≥', '~', '±'])) {
        return None;
    }
    let (sign, qualifier) = *random.pick(&[("<", "<"), (">", ">"), ("~", "~")])?;
    Some(renumber(known, &spot, &format!("{sign}{}", spot.target.number), Expect::Qualified(qualifier)))
}

fn figure_lost(known: &Known, random: &mut Random) -> Option<Changed> {
    let spot = spot(known, random)?;
    let mut document = known.document.clone();
    let at = spot.at;
    let what = format!("\"{}\" lost from \"{}\"", word(&document, at).text, line(&document, at).text());
    line_mut(&mut document, at).words.remove(at.word);
    Some(Changed { document, what, expect: Expect::Absent, target: Some(spot.target), moves_samples: false })
}

#[path = "changes_of_lines.rs"]
mod lines;
#[path = "changes_of_words.rs"]
mod of_words;
use lines::*;
use of_words::*;
