//! Lines to rows of cells: where one thing ends and the next begins on a line.
//!
//! In a hard table a word is a cell already. In running text a run of words with single blanks between them is one
//! chunk; a chunk is cut further at a colon, at leader dots, at bars, and where a label is followed by its figure.

use super::borders;
use super::layout::{Spot, Strip};
use super::ledger::WordId;
use super::style::Style;
use crate::document::Typed;
use crate::lexicon::{Label, Lexicon, Role, Target};
use crate::place::Where;
use crate::quantity::{Unit, UnitKind};
use crate::value::{self, Value, date};
use std::cell::OnceCell;

/// A cell: text between borders.
#[derive(Clone, Debug, Default)]
pub struct Cell {
    /// Its text.
    pub text: String,
    /// Left edge.
    pub x0: f32,
    /// Right edge.
    pub x1: f32,
    /// Rows that a merged cell spans.
    pub rows: u32,
    /// Words that it is made of.
    pub words: Vec<WordId>,
    /// Where it stands.
    pub place: Where,
    /// What the format says of its value.
    pub typed: Option<Typed>,
    /// A colon, leader or equals sign stood behind it.
    pub colon: bool,
    /// It was cut out of a chunk: its left neighbour stands one blank away.
    pub cut: bool,
    /// Read by character recognition with this confidence.
    pub recognized: Option<f32>,
    /// A border that the document draws stands on its left: a tab, a bar.
    pub hard: bool,
    /// Marks of footnotes that stood raised behind its words.
    pub marks: Vec<String>,
    /// Reads like a value but names one: "smaller than 0.300 mm" before "0.3 %".
    pub names: bool,
    seen: OnceCell<Seen>,
}

/// What a cell could be, each looked at once.
#[derive(Clone, Debug, Default)]
pub struct Seen {
    /// A whole value, and its reading in the other style.
    pub value: Option<(Value, Option<Value>)>,
    /// A unit and nothing else.
    pub unit: Option<Unit>,
    /// A date and nothing else.
    pub date: Option<date::DateText>,
    /// The name of a column or row.
    pub role: Option<Role>,
    /// As a label.
    pub label: Label,
    /// "n/a", "—": no figure here.
    pub blank: bool,
    /// A test method and nothing else.
    pub method: bool,
}

/// Cells beside each other.
#[derive(Clone, Debug, Default)]
pub struct Row {
    /// From left to right.
    pub cells: Vec<Cell>,
    /// Number of the hard table, where it is a row of one.
    pub table: Option<u32>,
    /// Blank lines, or empty rows, above it.
    pub gap: u32,
    /// Width of a character; 0 in a hard table.
    pub char_width: f32,
    /// Number of the line in its document.
    pub line: u32,
    /// Cell that is a figure's label only under the heading of its group.
    pub grouped: Option<usize>,
    /// Upper edge of its line.
    pub top: f32,
    /// Lower edge of its last line.
    pub bottom: f32,
}

impl Cell {
    /// Looks at the cell, once.
    pub fn seen(&self, lexicon: &Lexicon, style: &Style) -> &Seen {
        self.seen.get_or_init(|| look(self, lexicon, style))
    }

    /// Whether the two stand over each other.
    pub fn overlap(&self, x0: f32, x1: f32) -> f32 {
        (self.x1.min(x1) - self.x0.max(x0)).max(0.0)
    }

    /// A cell with other text in the same place.
    pub fn with_text(&self, text: String) -> Cell {
        Cell { text, seen: OnceCell::new(), typed: None, ..self.clone() }
    }

    /// The cell with another line of itself.
    pub fn joined(&self, next: &Cell) -> Cell {
        let broken = self.text.ends_with('-') && next.text.starts_with(char::is_lowercase);
        let text = match self.text.strip_suffix('-').filter(|_| broken) {
            Some(start) => format!("{start}{}", next.text),
            None => format!("{} {}", self.text, next.text),
        };
        let mut cell = self.with_text(text);
        cell.x0 = self.x0.min(next.x0);
        cell.x1 = self.x1.max(next.x1);
        cell.words.extend(&next.words);
        cell.marks.extend_from_slice(&next.marks);
        cell.colon |= next.colon;
        cell
    }

    /// Letters in it.
    pub fn letters(&self) -> usize {
        self.text.chars().filter(|c| c.is_alphabetic()).count()
    }

    /// Words in it.
    pub fn word_count(&self) -> usize {
        self.text.split_whitespace().count()
    }
}

fn look(cell: &Cell, lexicon: &Lexicon, style: &Style) -> Seen {
    let text = cell.text.trim();
    let mut seen = Seen { blank: value::is_blank_mark(text), ..Seen::default() };
    match &cell.typed {
        Some(Typed::Number { value, decimals, unit }) => {
            let decimals = decimals.unwrap_or(0);
            let shown = value::parse(text, value::Decimal::Point);
            let base = shown.unwrap_or_default();
            seen.value = Some((
                Value {
                    value: Some(*value),
                    decimals,
                    last_digit: 10f64.powi(-i32::from(decimals)),
                    unit: unit.as_deref().and_then(Unit::parse).or(base.unit),
                    ..Value::default()
                },
                None,
            ));
            return seen;
        }
        Some(Typed::Date(day)) => {
            seen.date =
                Some(date::DateText { readings: vec![day.to_string()], order: None, start: 0, end: text.len() });
            return seen;
        }
        _ => {}
    }
    if text.is_empty() || seen.blank {
        return seen;
    }
    if text.len() > 400 {
        return seen;
    }
    seen.date = date::parse_date(text);
    if cell.names {
        seen.label = lexicon.understand(text, &[]);
        return seen;
    }
    if !(seen.date.is_some() && text.chars().filter(|c| c.is_ascii_digit()).count() > 4) {
        seen.value = style.value(text);
    }
    if seen.value.is_none() && seen.date.is_none() {
        seen.unit = Unit::parse(text);
        seen.method = crate::lexicon::is_method(text);
        if !seen.method {
            seen.role = lexicon.role(text);
            seen.label = lexicon.understand(text, &[]);
        }
    }
    seen
}

/// Cuts a strip into cells.
pub fn cut_line(strip: &Strip<'_>, char_width: f32, lexicon: &Lexicon, style: &Style) -> Vec<Cell> {
    if strip.table.is_some() {
        return strip
            .words
            .iter()
            .filter(|spot| !spot.word.text.trim().is_empty())
            .flat_map(|spot| {
                let (id, word) = (spot.id, spot.word);
                let (text, marks) = without_marks(word.text.trim_end());
                let cell = Cell {
                    text: clean(text),
                    marks,
                    x0: spot.x0,
                    x1: spot.x1,
                    rows: word.rows.max(1),
                    words: vec![id],
                    place: word.place.clone(),
                    typed: word.typed.clone(),
                    recognized: word.recognized,
                    ..Cell::default()
                };
                if cell.typed.is_some() { vec![cell] } else { cut_hard(cell, lexicon) }
            })
            .collect();
    }
    let mut cells = Vec::new();
    for chunk in chunks(strip, char_width) {
        cut_chunk(chunk, lexicon, style, &mut cells, 0);
    }
    cells
}

/// A size that bounds, before a share, is no value but the name of one: "smaller than 0.300 mm = 0.3 %".
pub fn name_bounds(cells: &mut [Cell], lexicon: &Lexicon, style: &Style) {
    let share = |cell: &Cell| {
        let seen = cell.seen(lexicon, style);
        let value = seen.value.as_ref().map(|(v, _)| v);
        value.is_some_and(|v| v.unit.as_ref().is_some_and(|u| u.kind == UnitKind::Percent))
            || seen.unit.as_ref().is_some_and(|u| u.kind == UnitKind::Percent)
    };
    let Some(at) = cells.iter().position(|c| c.letters() > 1) else { return };
    let is_share = cells.iter().skip(at + 1).any(share);
    let Some(cell) = cells.get_mut(at).filter(|_| is_share) else { return };
    let bound = cell.seen(lexicon, style).value.as_ref().is_some_and(|(v, _)| {
        let plain = |u: &Unit| u.dimension.length + u.dimension.mass == 1 && u.dimension.amount == 0;
        (v.bound.is_some() || v.qualifier != crate::record::Qualifier::Equal) && v.unit.as_ref().is_some_and(plain)
    });
    if bound && lexicon.understand(&cell.text, &[]).is_clear() {
        let text = cell.text.clone();
        *cell = cell.with_text(text);
        cell.names = true;
    }
}

/// Letters that only a footnote's mark is raised to.
pub const RAISED: [char; 10] = ['ᵃ', 'ᵇ', 'ᶜ', 'ᵈ', 'ᵉ', 'ᶠ', 'ᵍ', 'ʰ', 'ⁱ', 'ʲ'];

/// "Ironᶜ", "Ironᵃ,ᵇ": the word, and the marks behind it. A mark alone stands before its note and is left.
fn without_marks(text: &str) -> (&str, Vec<String>) {
    let bare = text.trim_end_matches(|c| RAISED.contains(&c) || c == ',');
    let marks = text.get(bare.len()..).unwrap_or_default();
    if bare.is_empty() || !marks.contains(RAISED) {
        return (text, Vec::new());
    }
    (bare, marks.split(',').filter(|m| !m.is_empty()).flat_map(str::chars).map(String::from).collect())
}

fn clean(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// In a sheet, "Vessel: Softener 2" may stand in one cell.
fn cut_hard(cell: Cell, lexicon: &Lexicon) -> Vec<Cell> {
    if let Some(at) = colon(&cell.text)
        && cell.text.len() > at + 1
        && cell.word_count() <= 24
    {
        let (head, tail) = split_at(&cell.text, at);
        let label = lexicon.understand(head, &[]);
        if label.target.is_some() && label.unexplained.is_empty() && !tail.trim().is_empty() {
            let width = (cell.x1 - cell.x0) / 8.0;
            let mut left = cell.with_text(head.trim().to_owned());
            left.colon = true;
            left.x1 = cell.x0 + width;
            let mut right = cell.with_text(tail.trim().to_owned());
            right.x0 = cell.x0 + width;
            right.cut = true;
            return vec![left, right];
        }
    }
    let mut cell = cell;
    if let Some(stripped) = cell.text.strip_suffix([':', '=']).filter(|t| !t.trim().is_empty()) {
        let text = stripped.trim_end().to_owned();
        cell = cell.with_text(text);
        cell.colon = true;
    }
    vec![cell]
}

/// Runs of words with single blanks between them.
fn chunks(strip: &Strip<'_>, char_width: f32) -> Vec<Vec<Piece>> {
    let limit = if (char_width - 1.0).abs() < 0.01 { 1.5 } else { borders::CLEAR * char_width };
    let mut found: Vec<Vec<Piece>> = Vec::new();
    let mut current: Vec<Piece> = Vec::new();
    let mut after_bar = false;
    for spot in &strip.words {
        let (id, word) = (spot.id, spot.word);
        let text = word.text.trim();
        let apart = current.last().is_some_and(|last| spot.x0 - last.x1 > limit)
            || word.hard_left
            || strip.parted.contains(&id);
        if apart && !current.is_empty() {
            found.push(std::mem::take(&mut current));
        }
        let bar = matches!(text, "|" | "│" | "┃" | "║" | "¦");
        if bar || is_leader(text) {
            after_bar |= bar;
            if !current.is_empty() {
                let mut done = std::mem::take(&mut current);
                if !bar && let Some(last) = done.last_mut() {
                    last.leader = true;
                }
                found.push(done);
            } else if !bar && let Some(last) = found.last_mut().and_then(|c| c.last_mut()) {
                last.leader = true;
            }
            continue;
        }
        for (number, mut piece) in split_word(spot).into_iter().enumerate() {
            let hard = piece.hard;
            piece.hard |= number == 0 && (word.hard_left || std::mem::take(&mut after_bar));
            if hard && !current.is_empty() {
                found.push(std::mem::take(&mut current));
            }
            let ends = piece.leader;
            if !piece.text.is_empty() {
                current.push(piece);
            } else if ends && let Some(last) = current.last_mut() {
                last.leader = true;
            }
            if ends && !current.is_empty() {
                found.push(std::mem::take(&mut current));
            }
        }
    }
    if !current.is_empty() {
        found.push(current);
    }
    found
}

#[derive(Clone, Debug)]
struct Piece {
    text: String,
    x0: f32,
    x1: f32,
    id: WordId,
    place: Where,
    recognized: Option<f32>,
    leader: bool,
    hard: bool,
    marks: Vec<String>,
}

/// A word may hold leader dots ("Moisture......52.3") or bars ("|52.3|").
fn split_word(spot: &Spot<'_>) -> Vec<Piece> {
    let word = spot.word;
    let piece = |text: &str, from: usize, leader: bool, hard: bool| {
        let total = word.text.chars().count().max(1) as f32;
        let before = word.text.get(..from).map_or(0, |t| t.chars().count()) as f32;
        let width = (spot.x1 - spot.x0) / total;
        let (bare, marks) = without_marks(text);
        Piece {
            text: bare.to_owned(),
            marks,
            x0: spot.x0 + before * width,
            x1: spot.x0 + (before + text.chars().count() as f32) * width,
            id: spot.id,
            place: word.place.clone(),
            recognized: word.recognized,
            leader,
            hard,
        }
    };
    let text = word.text.as_str();
    let mut pieces = Vec::new();
    let mut start = 0;
    let mut hard = false;
    let bytes = text.as_bytes();
    let mut at = 0;
    while at < text.len() {
        let rest = text.get(at..).unwrap_or_default();
        let run = rest.chars().take_while(|c| matches!(c, '.' | '…' | '_' | '·')).map(char::len_utf8).sum::<usize>();
        let dots = rest.chars().take_while(|c| matches!(c, '.' | '…' | '_' | '·')).count();
        if dots >= 3 || (dots >= 1 && rest.starts_with('…') && start < at) {
            let before = text.get(start..at).unwrap_or_default();
            pieces.push(piece(before, start, true, hard));
            hard = true;
            at += run;
            if text.get(at..).is_some_and(|t| t.starts_with(':')) {
                at += 1;
            }
            start = at;
            continue;
        }
        if matches!(bytes.get(at), Some(b'|')) {
            let before = text.get(start..at).unwrap_or_default();
            if !before.is_empty() {
                pieces.push(piece(before, start, false, hard));
            }
            hard = true;
            at += 1;
            start = at;
            continue;
        }
        at += rest.chars().next().map_or(1, char::len_utf8);
    }
    let before = text.get(start..).unwrap_or_default();
    if !before.is_empty() {
        pieces.push(piece(before, start, false, hard));
    }
    pieces
}

fn is_leader(text: &str) -> bool {
    let count = text.chars().count();
    let all = |set: &[char]| text.chars().all(|c| set.contains(&c));
    (count >= 2 && all(&['.', '…', '·', ':']) && text != "::")
        || (count >= 3 && all(&['_', '-', '–', '=', '~']))
        || text == "…"
        || (count == 1 && text == ".")
}

fn join(pieces: &[Piece]) -> String {
    let mut text = String::new();
    for piece in pieces {
        if !text.is_empty() {
            text.push(' ');
        }
        text.push_str(&piece.text);
    }
    text
}

fn cell_of(pieces: &[Piece]) -> Cell {
    let first = pieces.first();
    let last = pieces.last();
    let mut words: Vec<WordId> = pieces.iter().map(|p| p.id).collect();
    words.dedup();
    Cell {
        text: join(pieces),
        x0: first.map_or(0.0, |p| p.x0),
        x1: last.map_or(0.0, |p| p.x1),
        rows: 1,
        words,
        place: first.map(|p| p.place.clone()).unwrap_or_default(),
        recognized: pieces.iter().filter_map(|p| p.recognized).min_by(f32::total_cmp),
        colon: last.is_some_and(|p| p.leader),
        hard: first.is_some_and(|p| p.hard),
        marks: pieces.iter().flat_map(|p| p.marks.iter().cloned()).collect(),
        ..Cell::default()
    }
}

fn push_cell(mut cell: Cell, cells: &mut Vec<Cell>) {
    if cell.text.ends_with([',', ';']) {
        let length = cell.text.trim_end_matches([',', ';', ' ']).len();
        cell.text.truncate(length);
    }
    if let Some(stripped) = cell.text.strip_suffix(':').or_else(|| cell.text.strip_suffix('=')) {
        cell.text = stripped.trim_end().to_owned();
        cell.colon = true;
    }
    if cell.text.is_empty() || cell.text.chars().all(|c| matches!(c, ':' | '=' | '.')) {
        if let Some(last) = cells.last_mut() {
            last.colon = true;
        }
        return;
    }
    cells.push(cell);
}

/// Cuts a chunk where its own words say so.
fn cut_chunk(pieces: Vec<Piece>, lexicon: &Lexicon, style: &Style, cells: &mut Vec<Cell>, depth: u32) {
    let text = join(&pieces);
    if pieces.is_empty() {
        return;
    }
    let whole = cell_of(&pieces);
    if depth > 6 || text.len() > 600 {
        push_cell(whole, cells);
        return;
    }
    if style.value(&text).is_some() || date::parse_date(&text).is_some() {
        push_cell(whole, cells);
        return;
    }
    // "Label: rest"
    let colon =
        pieces.iter().position(|p| p.text.len() > 1 && p.text.ends_with([':', '=']) || p.text == ":" || p.text == "=");
    if let Some(at) = colon.or_else(|| full_stop(&pieces, lexicon))
        && at + 1 < pieces.len()
    {
        let (head, tail) = pieces.split_at(at + 1);
        let head_text = join(head);
        let head_text = head_text.trim_end_matches([':', '=', ' ', '.']);
        let label = lexicon.understand(head_text, &[]);
        let tail_only = if label.is_clear() { sentence_end(head) } else { clear_tail(head, lexicon) };
        if let Some(from) = tail_only {
            let (front, back) = head.split_at(from);
            cut_chunk(front.to_vec(), lexicon, style, cells, depth + 1);
            let mut rest = back.to_vec();
            rest.extend_from_slice(tail);
            cut_chunk(rest, lexicon, style, cells, depth + 1);
            return;
        }
        let known = label.target.is_some() || lexicon.role(head_text).is_some();
        let short = head.len() <= 7 && !head_text.contains(['.', ';']);
        if (known && label.unexplained.len() <= 2) || short {
            let mut left = cell_of(head);
            left.text = head_text.to_owned();
            left.colon = true;
            if !left.text.is_empty() {
                cells.push(left);
            }
            let before = cells.len();
            cut_chunk(tail.to_vec(), lexicon, style, cells, depth + 1);
            if let Some(cell) = cells.get_mut(before) {
                cell.cut = true;
            }
            return;
        }
    }
    // A label, then its figure one blank behind: "Moisture retention 52.3 % 44 - 48".
    if pieces.len() <= 14 {
        for (located, _) in style.find(&text) {
            let before = text.get(..located.start).unwrap_or_default().trim();
            if before.is_empty() {
                break;
            }
            // "strong acid cation, 10 % DVB gel", "mean of 30 beads": no label and its figure.
            let resin = crate::lexicon::class_words_in(&text)
                .is_some_and(|(from, to)| from < located.end && located.start < to);
            let counted = located.value.unit.as_ref().is_some_and(|u| u.dimension.bead == 1 && u.dimension.mass == 0);
            if resin || counted {
                continue;
            }
            let label = lexicon.understand(before, &[]);
            if !(label.is_clear() && label.target.as_ref().is_some_and(Target::is_figure)) {
                continue;
            }
            // Words of the label may hold a figure themselves: the whole must not be a longer label.
            if lexicon.understand(&text, &[]).is_clear() {
                break;
            }
            let after = text.get(located.end..).unwrap_or_default().trim();
            if after.split_whitespace().count() > 6 {
                break;
            }
            let Some(count) = piece_count(&pieces, located.start) else { break };
            let Some(end) = piece_count(&pieces, located.end) else { break };
            let (head, rest) = pieces.split_at(count.min(pieces.len()));
            let (figure, tail) = rest.split_at(end.saturating_sub(count).min(rest.len()));
            if head.is_empty() || figure.is_empty() {
                break;
            }
            push_cell(cell_of(head), cells);
            let mut cell = cell_of(figure);
            cell.cut = true;
            push_cell(cell, cells);
            if !tail.is_empty() {
                let at = cells.len();
                cut_chunk(tail.to_vec(), lexicon, style, cells, depth + 1);
                if let Some(cell) = cells.get_mut(at) {
                    cell.cut = true;
                }
            }
            return;
        }
    }
    push_cell(whole, cells);
}

/// A full stop behind a word, and not behind the short form of one ("No.").
fn ends_sentence(text: &str) -> bool {
    text.ends_with('.') && text.chars().filter(|c| c.is_lowercase()).count() >= 4
}

/// "Client. Corbel Street Bakery": a fact whose label ends in a full stop.
fn full_stop(pieces: &[Piece], lexicon: &Lexicon) -> Option<usize> {
    let at = pieces.iter().take(3).position(|p| ends_sentence(&p.text))?;
    let (head, rest) = pieces.split_at(at + 1);
    let capital = |p: Option<&Piece>| p.is_some_and(|p| p.text.starts_with(|c: char| c.is_uppercase()));
    let named = rest.first().is_some_and(|p| p.text.starts_with(|c: char| c.is_uppercase() || c.is_ascii_digit()));
    let text = join(head);
    let label = lexicon.understand(text.trim_end_matches('.'), &[]);
    let fact = matches!(label.target, Some(Target::Key(_))) && label.is_clear();
    (pieces.len() <= 12 && capital(head.first()) && named && fact).then_some(at)
}

/// "three depths. Resin: gel": what stands before the end of a sentence is no part of the label.
fn sentence_end(head: &[Piece]) -> Option<usize> {
    head.windows(2)
        .rposition(|pair| match pair {
            [a, b] => ends_sentence(&a.text) && b.text.starts_with(char::is_uppercase),
            _ => false,
        })
        .map(|at| at + 1)
}

/// "Softener 2, top, sampled: 18 Nov": the label before the colon is only the last of the words.
fn clear_tail(head: &[Piece], lexicon: &Lexicon) -> Option<usize> {
    (1..head.len()).rev().find(|&from| {
        let ends = from
            .checked_sub(1)
            .and_then(|p| head.get(p))
            .is_some_and(|p| p.text.ends_with([',', ';', ')', '-', '–', '.']));
        let text = head.get(from..).map(join).unwrap_or_default();
        ends && lexicon.understand(text.trim_end_matches([':', '=', ' ']), &[]).is_clear()
    })
}

/// How many pieces end at or before a byte of their joined text; none where it falls inside one.
fn piece_count(pieces: &[Piece], byte: usize) -> Option<usize> {
    let mut at = 0;
    for (count, piece) in pieces.iter().enumerate() {
        if byte <= at {
            return Some(count);
        }
        let end = at + piece.text.len();
        if byte < end {
            return None;
        }
        if byte == end {
            return Some(count + 1);
        }
        at = end + 1;
    }
    Some(pieces.len())
}

fn colon(text: &str) -> Option<usize> {
    text.match_indices(':')
        .map(|(at, _)| at)
        .find(|&at| text.get(at + 1..).is_some_and(|t| t.starts_with(char::is_whitespace) || t.is_empty()))
}

fn split_at(text: &str, at: usize) -> (&str, &str) {
    (text.get(..at).unwrap_or_default(), text.get(at + 1..).unwrap_or_default())
}

/// Whether a line is only ruling: dashes, equals signs, box corners.
pub fn is_rule(strip: &Strip<'_>) -> bool {
    !strip.words.is_empty()
        && strip.words.iter().all(|w| {
            let t = w.word.text.trim();
            !t.is_empty()
                && t.chars().all(|c| {
                    matches!(c, '-' | '=' | '_' | '–' | '—' | '*' | '+' | '|' | '~' | ':' | '.' | '#')
                        || ('─'..='╿').contains(&c)
                })
        })
        && strip.words.iter().map(|w| w.word.text.chars().count()).sum::<usize>() >= 3
}
