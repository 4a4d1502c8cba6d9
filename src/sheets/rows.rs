//! A document as rows of cells, and a cell as words and figures in the order of print.

use super::words::{Limit, SheetWords};
use crate::document::{Document, Line, Page, Typed};
use crate::place::Where;
use crate::quantity::Unit;
use crate::record::Qualifier;
use crate::value::{Decimal, Located, StyleUse, Value, find};

/// A cell, or a run of words without a wide gap in it.
#[derive(Clone, Debug, Default)]
pub struct Cell {
    /// As printed.
    pub raw: String,
    /// In the words of the lexicon.
    pub text: String,
    /// Left edge.
    pub x0: f32,
    /// Right edge.
    pub x1: f32,
    /// Where it stands.
    pub place: Where,
    /// Confidence of character recognition.
    pub recognized: Option<f32>,
}

/// Cells that stand beside each other.
#[derive(Clone, Debug, Default)]
pub struct Row {
    /// From left to right.
    pub cells: Vec<Cell>,
    /// The hard table that it belongs to.
    pub table: Option<(usize, u32)>,
}

/// One printed figure.
#[derive(Clone, Debug)]
pub struct Fig {
    /// What it says.
    pub value: Value,
    /// Words beside it that bound it.
    pub limit: Option<Limit>,
    /// As printed.
    pub written: String,
    /// Forms named behind it.
    pub forms: Vec<String>,
    /// Words behind it, as "dry basis".
    pub words: String,
    /// The same figure in another unit.
    pub also: Vec<(f64, Unit)>,
    /// Left and right edge of its cell.
    pub x: (f32, f32),
    /// Its cell's position in the row.
    pub cell: usize,
    /// Where it stands.
    pub place: Where,
    /// Confidence of character recognition.
    pub recognized: Option<f32>,
    /// One or two digits stand right before it, so that both may be one number: "1 200".
    pub may_be_grouped: bool,
}

/// Words or a figure.
#[derive(Clone, Debug)]
pub enum Piece {
    /// Text of a cell between its figures: text, position of its cell, and whether it opens that cell.
    Words(String, usize, bool),
    /// A figure.
    Fig(Box<Fig>),
}

/// The rows of all parts and pages.
pub fn rows(document: &Document, words: &SheetWords) -> Vec<Row> {
    let pages = document.parts.iter().flat_map(|part| &part.pages);
    let mut rows = Vec::new();
    for (number, page) in pages.enumerate() {
        for line in &page.lines {
            let row = row(number, page, line, words);
            if !row.cells.is_empty() {
                rows.push(row);
            }
        }
    }
    mend(rows)
}

fn row(number: usize, page: &Page, line: &Line, words: &SheetWords) -> Row {
    let mut cells: Vec<Cell> = Vec::new();
    let gap = page.char_width * 1.9;
    for word in &line.words {
        let typed = match &word.typed {
            Some(Typed::Number { unit: Some(unit), .. }) if !word.text.contains(unit.as_str()) => format!(" {unit}"),
            _ => String::new(),
        };
        let text = format!("{}{typed}", word.text.split_whitespace().collect::<Vec<_>>().join(" "));
        if text.is_empty() {
            continue;
        }
        match cells.last_mut() {
            Some(last) if line.table.is_none() && !word.hard_left && word.x0 - last.x1 < gap => {
                // Print may set pieces of one word apart without a blank between them.
                let apart = word.x0 - last.x1 > page.char_width * 0.15;
                last.raw.push_str(if apart { " " } else { "" });
                last.raw.push_str(&text);
                last.x1 = word.x1;
                last.recognized = least(last.recognized, word.recognized);
            }
            _ => cells.push(Cell {
                raw: text,
                text: String::new(),
                x0: word.x0,
                x1: word.x1,
                place: word.place.clone(),
                recognized: word.recognized,
            }),
        }
    }
    for cell in &mut cells {
        // Dots that lead the eye to the figure.
        while let Some(start) = cell.raw.find("...").or_else(|| cell.raw.find("…")) {
            let rest = cell.raw.get(start..).unwrap_or("");
            let length = rest.len() - rest.trim_start_matches(['.', '…', ' ']).len();
            cell.raw.replace_range(start..start + length, " : ");
        }
        cell.text = apart(&words.plain(&cell.raw));
    }
    Row { cells, table: line.table.map(|table| (number, table)) }
}

fn least(a: Option<f32>, b: Option<f32>) -> Option<f32> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    }
}

/// Joins lines that copying broke inside a figure: "45 -" and "50 %", "≥" and "2.0", "0.54" and "± 0.06 mm".
fn mend(rows: Vec<Row>) -> Vec<Row> {
    let mut mended: Vec<Row> = Vec::new();
    for row in rows {
        if let (Some(last), [cell]) = (mended.last_mut(), row.cells.as_slice())
            && row.table.is_none()
            && last.table.is_none()
            && let Some(before) = last.cells.last_mut()
            && broken(&before.text, &cell.text)
        {
            before.raw = format!("{} {}", before.raw, cell.raw);
            before.text = format!("{} {}", before.text, cell.text);
            continue;
        }
        mended.push(row);
    }
    mended
}

fn broken(before: &str, after: &str) -> bool {
    let (before, after) = (before.trim(), after.trim());
    let digit_ends = before.ends_with(|c: char| c.is_ascii_digit() || c == '%');
    let digit_starts = after.starts_with(|c: char| c.is_ascii_digit());
    let sign_ends = before.ends_with(['≥', '≤', '<', '>', '±'])
        || (before.ends_with(['-', '–', '—', '~']) && before.chars().any(|c| c.is_ascii_digit()));
    let rest = after.trim_start_matches(['±', '-', '–', '—', '~', '+', '/']);
    let sign_starts = rest.len() < after.len() && rest.trim_start().starts_with(|c: char| c.is_ascii_digit());
    (sign_ends && digit_starts) || (digit_ends && sign_starts)
}

/// The decimal mark of the document: what most of its figures prove.
pub fn style(rows: &[Row]) -> Decimal {
    let (mut point, mut comma) = (0, 0);
    for cell in rows.iter().flat_map(|row| &row.cells) {
        let chars: Vec<char> = cell.text.chars().collect();
        for (at, c) in chars.iter().enumerate() {
            let digit = |i: usize| chars.get(i).is_some_and(char::is_ascii_digit);
            let short = digit(at + 1) && !(digit(at + 1) && digit(at + 2) && digit(at + 3));
            if at > 0 && digit(at - 1) && short {
                match c {
                    '.' => point += 1,
                    ',' => comma += 1,
                    _ => {}
                }
            }
        }
    }
    if comma > point { Decimal::Comma } else { Decimal::Point }
}

/// A row as words and figures.
pub fn pieces(row: &Row, style: Decimal) -> Vec<Piece> {
    let mut pieces = Vec::new();
    for (number, cell) in row.cells.iter().enumerate() {
        let mut at = 0;
        let mut opens = true;
        let words = |text: &str, opens: &mut bool, pieces: &mut Vec<Piece>| {
            let text = text.trim().trim_matches(['|', '•', '·', '*', '…', '_']).trim();
            if text.chars().any(|c| c.is_alphanumeric() || "%±<>≥≤".contains(c)) {
                pieces.push(Piece::Words(text.to_owned(), number, *opens));
                *opens = false;
            }
        };
        let tolerances = tolerances(&cell.text);
        for located in located(&cell.text, style) {
            if tolerances.iter().any(|(start, end)| *start <= located.start && located.end <= *end) {
                continue;
            }
            let before = cell.text.get(at..located.start).unwrap_or("");
            words(before, &mut opens, &mut pieces);
            let written = cell.text.get(located.start..located.end).unwrap_or("").trim().to_owned();
            let may_be_grouped = grouped_with(cell.text.get(..located.start).unwrap_or(""), &written);
            let mut value = located.value;
            // "1.9 min" is a minimum, and no time.
            if value.bound.is_some() && value.unit.as_ref().is_some_and(|u| u.text.trim_end_matches('.') == "min") {
                value.unit = None;
            }
            if value.styles == StyleUse::Ambiguous {
                value.styles = StyleUse::Neutral;
            }
            let limit = value.bound.map(Limit::from).or(match value.qualifier {
                Qualifier::About => Some(Limit::About),
                Qualifier::Above => Some(Limit::Min),
                Qualifier::Below => Some(Limit::Max),
                _ => None,
            });
            opens = false;
            pieces.push(Piece::Fig(Box::new(Fig {
                limit,
                written,
                forms: Vec::new(),
                words: String::new(),
                also: value.also.clone(),
                value,
                x: (cell.x0, cell.x1),
                cell: number,
                place: cell.place.clone(),
                recognized: cell.recognized,
                may_be_grouped,
            })));
            at = located.end;
        }
        words(cell.text.get(at..).unwrap_or(""), &mut opens, &mut pieces);
    }
    pieces
}

/// The figures of a text, without the units that stand before them: "% 43 - 48" is a label's unit and a range.
fn located(text: &str, style: Decimal) -> Vec<Located> {
    let mut all = Vec::new();
    let mut from = 0;
    while let Some(rest) = text.get(from..).filter(|rest| !rest.is_empty()) {
        let Some(first) = find(rest, style).into_iter().next() else { break };
        let written = rest.get(first.start..first.end).unwrap_or("");
        let digit = written.find(|c: char| c.is_ascii_digit()).unwrap_or(0);
        let prefix = written.get(..digit).unwrap_or("");
        let unit_first = prefix
            .split_whitespace()
            .any(|word| Unit::parse(word.trim_matches(['(', ')', ','])).is_some_and(|u| !u.text.starts_with("min")));
        if unit_first && digit > 0 {
            from += first.start + digit;
            // A dot or sign that opens the number stays with it.
            if text.get(..from).is_some_and(|t| t.ends_with('.'))
                && text.get(..from - 1).is_some_and(|t| t.ends_with(' '))
            {
                from -= 1;
            }
            if let Some(next) = text.get(from..).and_then(|rest| find(rest, style).into_iter().next())
                && next.start == 0
            {
                all.push(Located { start: from, end: from + next.end, value: next.value });
                from += next.end.max(1);
            } else {
                from += 1;
                while !text.is_char_boundary(from) && from < text.len() {
                    from += 1;
                }
            }
            continue;
        }
        let end = from + first.end;
        all.push(Located { start: from + first.start, end, value: first.value });
        from = end.max(from + 1);
    }
    all
}

/// Between the figures of two columns that a blank parts.
const PARTED: &str = " | ";

/// Sheets print figures side by side: "820 800" is two. A group that begins with a nought, as in "20 000", is a part of
/// the number before it.
fn apart(text: &str) -> String {
    const GROUP: usize = 3;
    let chars: Vec<char> = text.chars().collect();
    let digits_from = |at: usize| chars.get(at..).unwrap_or_default().iter().take_while(|c| c.is_ascii_digit()).count();
    let mut out = String::new();
    for (at, c) in chars.iter().enumerate() {
        let before = at.checked_sub(1).and_then(|i| chars.get(i)).is_some_and(char::is_ascii_digit);
        if *c == ' ' && before && digits_from(at + 1) > 0 {
            let group = digits_from(at + 1) == GROUP && chars.get(at + 1) == Some(&'0');
            if !group {
                out.push_str(PARTED);
            }
        } else {
            out.push(*c);
        }
    }
    out
}

/// Whether what stands before a figure of three digits may be its thousands.
fn grouped_with(before: &str, written: &str) -> bool {
    let whole = written.chars().take_while(char::is_ascii_digit).count() == 3
        && !written.chars().nth(3).is_some_and(|c| matches!(c, '.' | ','));
    let Some(before) = before.strip_suffix(PARTED).filter(|_| whole) else { return false };
    let digits = before.chars().rev().take_while(char::is_ascii_digit).count();
    let earlier = before.chars().rev().nth(digits);
    (1..=2).contains(&digits) && !earlier.is_some_and(|c| matches!(c, '.' | ',' | '-' | '–'))
}

/// Where "(± 5 %)" stands in a label, and not behind a figure.
fn tolerances(text: &str) -> Vec<(usize, usize)> {
    text.match_indices('(')
        .filter_map(|(start, _)| {
            let inside = text.get(start + 1..)?;
            let end = start + 1 + inside.find(')')? + 1;
            let signed = inside.trim_start().starts_with('±') || inside.trim_start().starts_with("+/-");
            let behind = text.get(..start)?.trim_end().ends_with(|c: char| c.is_ascii_digit());
            (signed && !behind).then_some((start, end))
        })
        .collect()
}

/// Two figures parted by words that only join them, and a figure's own range, made one.
pub fn joined(pieces: Vec<Piece>) -> Vec<Piece> {
    let mut out: Vec<Piece> = Vec::new();
    for piece in pieces {
        let joins = matches!(out.last(), Some(Piece::Words(w, ..)) if ["-", "–", "to", "~", "—", "...", "bis", "à", "a", "up to"].contains(&w.trim()));
        if let Piece::Fig(next) = &piece
            && joins
            && out.len() >= 2
            && let Some(Piece::Fig(first)) = out.get(out.len() - 2)
            && first.value.qualifier == Qualifier::Equal
            && next.value.qualifier == Qualifier::Equal
            && first.value.value < next.value.value
        {
            let mut whole = first.clone();
            whole.value.high = next.value.value;
            whole.value.qualifier = Qualifier::Range;
            whole.value.unit = next.value.unit.clone().or_else(|| first.value.unit.clone());
            whole.written = format!("{} - {}", first.written, next.written);
            out.truncate(out.len() - 2);
            out.push(Piece::Fig(whole));
            continue;
        }
        out.push(piece);
    }
    out
}
