//! One page: from glyphs and rules to lines of the neutral page.

use super::banded;
use super::lines::{self, TextLine};
use super::pass::RawPage;
use super::ruled::{self, Placed, Table};
use super::upright::{self, Mark, Upright};
use super::words::{self, Piece, Rules};
use crate::document::{Line, Notice, NoticeKind, Page, Word};
use crate::place::Where;

/// Confidence of text that a scanner's program laid invisibly over the picture: unknown, and not to be trusted.
const RECOGNIZED: f32 = 0.5;
/// Words struck out that are named one by one.
const MOST_STRUCK: usize = 10;

/// A page as read.
pub struct ReadPage {
    /// The page.
    pub page: Page,
    /// What was left out or could not be told.
    pub notices: Vec<Notice>,
    /// Characters shown, blanks not counted.
    pub shown: usize,
    /// Of these, those that cannot be told.
    pub unexplained: usize,
    /// The page is mostly a picture.
    pub is_scan: bool,
}

/// What stands on the page, with its upper edge.
enum Block {
    Running(f32, Line),
    Table(f32, Table),
}

impl Block {
    fn top(&self) -> f32 {
        match self {
            Self::Running(top, _) | Self::Table(top, _) => *top,
        }
    }
}

/// Reads a page.
pub fn read(raw: &RawPage, number: u32) -> ReadPage {
    let mut page = upright::upright(raw);
    use_blanks(&mut page.marks);
    let all = || page.marks.iter().chain(page.turned.iter().flat_map(|t| &t.marks)).filter(|m| !m.is_blank());
    let shown = all().count();
    let unexplained = raw.text.unexplained;
    let char_width = typical_width(&page.marks);
    let mut notices = Notices { number, list: Vec::new() };
    notices.about(raw, &page, unexplained);

    let rules = Rules::new(&page.uprights, &page.levels, page.width, &raw.states);
    let marks = std::mem::take(&mut page.marks);
    let lines = lines::lines(marks);
    let mut placed = Vec::new();
    let mut edges: Vec<(f32, f32)> = Vec::new();
    for (line, text) in (1_u32..).zip(&lines) {
        edges.push((text.top, text.bottom));
        for piece in words::words(text, &rules) {
            if piece.struck {
                notices.struck(&piece, line);
            } else {
                placed.push(Placed { piece, line });
            }
        }
    }
    let mut after = u32::try_from(lines.len()).unwrap_or(u32::MAX);
    let mut turned = turned_lines(&page, &raw.states, &mut after);
    placed.extend(turned.iter().flatten().filter(|t| t.on_page).map(|t| t.placed.clone()));
    let mut tables = ruled::tables(&page.uprights, &page.levels, &mut placed);
    tables.extend(banded::tables(&page.levels, &mut placed));
    // Turned text in a table's cell was taken with it; the rest follows below the page.
    for line in &mut turned {
        line.retain(|t| {
            let same = |p: &Placed| p.line == t.placed.line && p.piece.x0 == t.placed.piece.x0;
            !t.on_page || placed.iter().any(same)
        });
    }
    let first_turned = u32::try_from(lines.len()).unwrap_or(u32::MAX);
    placed.retain(|p| p.line <= first_turned);

    let mut blocks: Vec<Block> = Vec::new();
    for (text, words) in group(placed) {
        let (top, bottom) = text.checked_sub(1).and_then(|i| edges.get(i as usize)).copied().unwrap_or_default();
        blocks.push(Block::Running(top, running(words, top, bottom, number, text)));
    }
    blocks.extend(tables.into_iter().map(|t| Block::Table(t.rows.first().map_or(0.0, |r| r.top), t)));
    blocks.sort_by(|a, b| a.top().total_cmp(&b.top()));
    let mut out = Vec::new();
    let mut table_number = 0;
    for block in blocks {
        match block {
            Block::Running(_, line) => out.push(line),
            Block::Table(_, table) => {
                table_number += 1;
                out.extend(table_lines(table, table_number, number));
            }
        }
    }
    for line in turned.into_iter().filter(|l| !l.is_empty()) {
        let text = line.first().map_or(0, |t| t.placed.line);
        let top = page.height + (text - first_turned.min(text)) as f32 * 12.0;
        let words = line.into_iter().map(|t| t.own).collect();
        out.push(running(words, top, top + 10.0, number, text));
    }
    let page_read = Page { name: None, lines: out, char_width };
    ReadPage { page: page_read, notices: notices.list, shown, unexplained, is_scan: page.is_scan }
}

/// Some programs write every blank as one that does not break; then none of them means anything.
fn use_blanks(marks: &mut [Mark]) {
    if marks.iter().all(|m| m.character != ' ') {
        for mark in marks.iter_mut().filter(|m| m.is_blank()) {
            mark.character = ' ';
        }
    }
}

fn typical_width(marks: &[Mark]) -> f32 {
    let mut widths: Vec<f32> =
        marks.iter().filter(|m| !m.is_blank()).map(|m| m.x1 - m.x0).filter(|w| *w > 0.1).collect();
    let middle = widths.len() / 2;
    if widths.is_empty() {
        return 5.0;
    }
    let (_, median, _) = widths.select_nth_unstable_by(middle, f32::total_cmp);
    *median
}

fn group(placed: Vec<Placed>) -> Vec<(u32, Vec<Piece>)> {
    let mut lines: Vec<(u32, Vec<Piece>)> = Vec::new();
    for word in placed {
        match lines.last_mut() {
            Some((line, words)) if *line == word.line => words.push(word.piece),
            _ => lines.push((word.line, vec![word.piece])),
        }
    }
    lines
}

fn running(words: Vec<Piece>, top: f32, bottom: f32, page: u32, line: u32) -> Line {
    let words = words.into_iter().enumerate().map(|(index, piece)| {
        let mut word = Word::soft(piece.text, piece.x0, piece.x1, Where::page_line(page, line));
        word.hard_left = piece.hard_left && index > 0;
        word.recognized = piece.recognized.then_some(RECOGNIZED);
        word
    });
    Line { table: None, words: words.collect(), top, bottom }
}

fn table_lines(table: Table, number: u32, page: u32) -> Vec<Line> {
    let rows = table.rows.into_iter().map(|row| {
        let words = row.cells.into_iter().map(|cell| {
            let column = u32::try_from(cell.column).unwrap_or(0);
            let mut word = Word::cell(cell.text, column, Where::page_line(page, cell.line));
            word.x1 = (cell.column + cell.columns) as f32;
            word.rows = u32::try_from(cell.rows).unwrap_or(1);
            word.recognized = cell.recognized.then_some(RECOGNIZED);
            word
        });
        Line { table: Some(number), words: words.collect(), top: row.top, bottom: row.bottom }
    });
    rows.collect()
}

/// A word of text that runs in another direction.
struct TurnedWord {
    /// In the frame of its own text.
    own: Piece,
    /// On the page, by its middle, to find the cell that it stands in.
    placed: Placed,
    /// It stands square to the page, so that it may belong to a cell.
    on_page: bool,
}

fn turned_lines(page: &Upright, states: &[super::content::TextState], after: &mut u32) -> Vec<Vec<TurnedWord>> {
    let mut found = Vec::new();
    for turned in &page.turned {
        let rules = Rules::new(&[], &[], page.width, states);
        let text: Vec<TextLine> = lines::lines(turned.marks.clone());
        for line in text {
            *after = after.saturating_add(1);
            let number = *after;
            let mut across: Option<f32> = None;
            let pieces = words::words(&line, &rules).into_iter().map(|own| {
                let (x, y) = turned.on_page(own.middle().0, own.middle().1);
                let mut piece = own.clone();
                // Words of one turned line stand above each other; a hair across keeps their order.
                let left = across.map_or(x - 0.5, |a| a + 0.01);
                across = Some(left);
                (piece.x0, piece.x1, piece.y) = (left, left + 1.0, y + 0.3 * own.size);
                TurnedWord { own, placed: Placed { piece, line: number }, on_page: turned.is_square() }
            });
            found.push(pieces.collect());
        }
    }
    found
}

/// What there is to say of a page.
struct Notices {
    number: u32,
    list: Vec<Notice>,
}

impl Notices {
    fn push(&mut self, kind: NoticeKind, text: String) {
        let place = Where { page: Some(self.number), ..Where::default() };
        self.list.push(Notice { kind, text, place });
    }

    fn about(&mut self, raw: &RawPage, page: &Upright, unexplained: usize) {
        if unexplained > 0 {
            let text = format!("{unexplained} characters cannot be told; they are shown as \u{fffd}");
            self.push(NoticeKind::UnmappedText, text);
        }
        if raw.fontless > 0 {
            let text = format!("{} runs of text name no font and were not read", raw.fontless);
            self.push(NoticeKind::UnmappedText, text);
        }
        let strange = strange_ideographs(&page.marks);
        if strange > 0 {
            let text = format!(
                "{strange} characters inside Latin words are not Latin: the file's map of characters is broken"
            );
            self.push(NoticeKind::UnmappedText, text);
        }
        if page.unseen.chars().any(char::is_numeric) {
            let excerpt: String =
                page.unseen.split_whitespace().collect::<Vec<_>>().join(" ").chars().take(60).collect();
            self.push(NoticeKind::HiddenContent, format!("text that the page does not show was left out: {excerpt}"));
        }
        if page.cut_off {
            let text = "figures are cut off at the edge of the page or of a cell".to_owned();
            self.push(NoticeKind::HiddenContent, text);
        }
        if raw.damaged {
            let text = "the content of the page breaks off; something may be missing".to_owned();
            self.push(NoticeKind::Damaged, text);
        }
        if raw.remarks > 0 {
            self.push(NoticeKind::HiddenContent, "remarks added to the page were not read".to_owned());
        }
    }

    fn struck(&mut self, piece: &Piece, line: u32) {
        if piece.text.chars().any(char::is_numeric) && self.list.len() < MOST_STRUCK {
            let place = Where::page_line(self.number, line);
            let text = format!("struck out and left out: {}", piece.text);
            self.list.push(Notice { kind: NoticeKind::HiddenContent, text, place });
        }
    }
}

/// Ideographs with a Latin letter on each side, which no language writes.
fn strange_ideographs(marks: &[Mark]) -> usize {
    let is_ideograph = |m: &Mark| matches!(u32::from(m.character), 0x3400..=0x9fff | 0xac00..=0xd7a3 | 0xf900..=0xfaff);
    let is_latin = |m: &Mark| m.character.is_ascii_lowercase();
    let mut count = 0;
    let mut latin_before = false;
    let mut open = 0;
    for mark in marks {
        if is_ideograph(mark) {
            open += usize::from(latin_before || open > 0);
            latin_before = false;
        } else {
            if is_latin(mark) {
                count += open;
            }
            open = 0;
            latin_before = is_latin(mark);
        }
    }
    count
}
