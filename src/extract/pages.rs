//! What the printed pages of a part have to do with each other: heads and feet that each repeats, and tables that go
//! on to the right on a page of their own.

use super::bands;
use super::cells;
use super::layout::{self, Strip};
use super::ledger::Ledger;
use super::style::Style;
use crate::document::Part;
use crate::lexicon::{Lexicon, Target};
use regex::Regex;
use std::sync::OnceLock;

/// Lines of a page's head, and of its foot, that may be repeated.
const HEAD: usize = 4;
const FOOT: usize = 3;
/// Lines that stand as high on two pages, in points.
const AS_HIGH: f32 = 3.0;
/// Words that a line beside a table may have where no rule parts them.
const MOST_WORDS: usize = 8;
/// Rows of a table that make it worth joining.
const LEAST_ROWS: usize = 3;

/// A page of print made ready.
#[derive(Default)]
pub struct Sheet<'d> {
    /// Its foot, where later pages repeat it: it says something of the report, and nothing of the rows above it.
    pub foot: Vec<Strip<'d>>,
    /// All else.
    pub body: Vec<Strip<'d>>,
    /// Width of a character.
    pub char_width: f32,
}

/// Takes what pages repeat out of them, and joins tables that are wider than a page.
pub fn prepare<'d>(pages: Vec<Vec<Strip<'d>>>, part: &'d Part, desk: &mut Repeats<'_>) -> Vec<Sheet<'d>> {
    let widths = part.pages.iter().map(|p| p.char_width);
    let mut sheets: Vec<Sheet<'d>> =
        pages.into_iter().zip(widths).map(|(body, char_width)| Sheet { foot: Vec::new(), body, char_width }).collect();
    let printed = sheets.len() > 1
        && part.pages.iter().all(|p| p.name.is_none())
        && sheets.iter().all(|s| s.char_width > layout::PRINT || s.body.is_empty());
    if printed {
        desk.take_repeated(&mut sheets);
        desk.join_wide(&mut sheets);
    }
    sheets
}

/// What is needed to tell repeated lines from table heads.
pub struct Repeats<'a> {
    /// Words.
    pub lexicon: &'a Lexicon,
    /// Style of the part.
    pub style: &'a Style,
    /// Account of numbers.
    pub ledger: &'a mut Ledger,
}

impl Repeats<'_> {
    fn take_repeated(&mut self, sheets: &mut [Sheet<'_>]) {
        let keys: Vec<Vec<(f32, String)>> = sheets.iter().map(|s| s.body.iter().map(key).collect()).collect();
        let mut repeated: Vec<Vec<usize>> = vec![Vec::new(); sheets.len()];
        let mut feet: Vec<usize> = Vec::new();
        for (number, pair) in keys.windows(2).enumerate() {
            let [one, next] = pair else { continue };
            for at in edges(next.len()) {
                let Some((top, text)) = next.get(at) else { continue };
                let same =
                    |&other: &usize| one.get(other).is_some_and(|o| (o.0 - top).abs() <= AS_HIGH && o.1 == *text);
                let Some(before) = edges(one.len()).find(same) else { continue };
                let Some(strip) = sheets.get(number + 1).and_then(|s| s.body.get(at)) else { continue };
                if self.heads_table(strip) {
                    continue;
                }
                if let Some(list) = repeated.get_mut(number + 1) {
                    list.push(at);
                }
                if number == 0 && before >= HEAD && before + FOOT >= one.len() {
                    feet.push(before);
                }
            }
        }
        for (sheet, list) in sheets.iter_mut().zip(repeated) {
            for strip in take(&mut sheet.body, &list) {
                self.ledger.set_aside(&strip.ids(), "repeated-line");
            }
        }
        if let Some(first) = sheets.first_mut() {
            first.foot = take(&mut first.body, &feet);
        }
    }

    /// Whether a line names columns: they are needed on each page.
    fn heads_table(&self, strip: &Strip<'_>) -> bool {
        let names = |text: &str| {
            self.lexicon.role(text).is_some()
                || self.lexicon.understand(text, &[]).target.as_ref().is_some_and(Target::is_figure)
        };
        strip.words.iter().filter(|w| names(w.word.text.trim())).count() >= 2
    }

    /// A page without labels whose rows stand as high as those of an earlier one goes on to the right of it.
    fn join_wide(&self, sheets: &mut [Sheet<'_>]) {
        let labelled: Vec<usize> = sheets.iter().map(|s| self.labels(s)).collect();
        for at in 1..sheets.len() {
            if labelled.get(at).is_none_or(|n| *n > 0) {
                continue;
            }
            if sheets.get(at).is_none_or(|s| s.body.iter().any(is_sentence)) {
                continue;
            }
            let Some(rows) = sheets.get(at).map(tops).filter(|t| t.len() >= LEAST_ROWS) else { continue };
            let mut best: Option<(usize, usize)> = None;
            for (before, count) in labelled.iter().enumerate().take(at) {
                let Some(others) = sheets.get(before).map(tops) else { continue };
                let found = rows.iter().filter(|t| others.iter().any(|o| (*o - **t).abs() <= AS_HIGH / 2.0)).count();
                let differ = others.len().abs_diff(rows.len());
                if *count >= LEAST_ROWS
                    && found * 5 >= rows.len() * 4
                    && found * 5 >= others.len() * 3
                    && best.is_none_or(|b| differ < b.1)
                {
                    best = Some((before, differ));
                }
            }
            let Some((before, _)) = best else { continue };
            let Some(right) = sheets.get_mut(at).map(|s| std::mem::take(&mut s.body)) else { continue };
            let left_over = sheets.get_mut(before).map(|s| append(s, right)).unwrap_or_default();
            if let Some(sheet) = sheets.get_mut(at) {
                sheet.body = left_over;
            }
        }
    }

    /// Rows that begin with the label of a figure, wherever on the line it stands.
    fn labels(&self, sheet: &Sheet<'_>) -> usize {
        let labelled = |strip: &&Strip<'_>| {
            cells::cut_line(strip, sheet.char_width.max(0.01), self.lexicon, self.style)
                .iter()
                .any(|c| bands::is_figure_label(c, self.lexicon, self.style))
        };
        sheet.body.iter().filter(labelled).count()
    }
}

/// A line of text, which goes on to the right of no table.
fn is_sentence(strip: &Strip<'_>) -> bool {
    strip.table.is_none() && strip.words.len() > MOST_WORDS
}

fn tops(sheet: &Sheet<'_>) -> Vec<f32> {
    sheet.body.iter().filter(|s| !s.is_blank()).map(|s| s.top).collect()
}

/// Sets lines right of those as high; gives back what fits none.
fn append<'d>(sheet: &mut Sheet<'d>, right: Vec<Strip<'d>>) -> Vec<Strip<'d>> {
    let end = |hard: bool, sheet: &Sheet<'d>| {
        let own = sheet.body.iter().filter(|s| s.table.is_some() == hard);
        own.flat_map(|s| &s.words).map(|w| w.x1).fold(0.0, f32::max)
    };
    let (hard_end, soft_end) = (end(true, sheet), end(false, sheet) + 4.0 * sheet.char_width);
    let mut left_over = Vec::new();
    for strip in right {
        let fits = |s: &&mut Strip<'d>| {
            (s.top - strip.top).abs() <= AS_HIGH / 2.0 && s.table.is_some() == strip.table.is_some()
        };
        let Some(row) = sheet.body.iter_mut().find(fits) else {
            left_over.push(strip);
            continue;
        };
        let shift = if row.table.is_some() { hard_end } else { soft_end };
        row.words.extend(strip.words.into_iter().map(|mut word| {
            word.x0 += shift;
            word.x1 += shift;
            word
        }));
    }
    left_over
}

/// Positions of a page's first and last lines.
fn edges(count: usize) -> impl Iterator<Item = usize> {
    (0..count).filter(move |at| *at < HEAD || at + FOOT >= count)
}

/// How high a line stands, and its text without the number of its page.
fn key(strip: &Strip<'_>) -> (f32, String) {
    static NUMBER: OnceLock<Option<Regex>> = OnceLock::new();
    let text = strip.text();
    let number = NUMBER.get_or_init(|| {
        let page =
            r"(?i)\b(?:page|pg\.?|seite|blatt|p[áa]gina|hoja|sheet|p\.)\s*\d+(?:\s*(?:of|/|von|de|sur|-)\s*\d+)?";
        Regex::new(&format!(r"{page}|(?:^|\s)\d{{1,3}}(?:\s*(?:of|/|von|de|sur)\s*\d{{1,3}})?$")).ok()
    });
    let text = number.as_ref().map_or(text.clone(), |p| p.replace_all(&text, "").into_owned());
    (strip.top, text.trim().to_lowercase())
}

/// Takes the strips at some positions out.
fn take<'d>(strips: &mut Vec<Strip<'d>>, taken: &[usize]) -> Vec<Strip<'d>> {
    let (out, rest): (Vec<_>, Vec<_>) =
        std::mem::take(strips).into_iter().enumerate().partition(|(at, _)| taken.contains(at));
    *strips = rest.into_iter().map(|(_, s)| s).collect();
    out.into_iter().map(|(_, s)| s).collect()
}
