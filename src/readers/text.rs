//! Plain text: lines of words with soft borders, by character column.
//!
//! Blank lines have no [`Line`]; [`Line::top`] counts them, so that a gap shows. A form feed ends a line and counts
//! as one there, but not in the line's number, which is an editor's.

use super::kit::clean::clean;
use super::{Input, Limits, ReadError, ReadOptions, ReadOutput, too_large};
use crate::document::{Line, Notice, NoticeKind, Page, Part, Word};
use crate::place::Where;

/// Columns from one tab stop to the next, as terminals and editors have it.
const TAB_STOP: usize = 8;
/// Lines with the same number of tabs that make a table.
const TABLE_ROWS: usize = 3;

pub(super) fn read(input: &Input<'_>, options: &ReadOptions) -> Result<ReadOutput, ReadError> {
    let Some(decoded) = input.content.text() else {
        return Err(ReadError::new("unknown-format", "the file is no text; save the report as text, workbook or PDF"));
    };
    check_size(&decoded.text, &options.limits)?;
    Ok(ReadOutput {
        parts: vec![Part { pages: vec![page(&decoded.text)], ..Part::default() }],
        notices: encoding_notice(decoded.doubt.as_deref()),
    })
}

/// Refuses text with more or longer lines than the limits allow.
pub(super) fn check_size(text: &str, limits: &Limits) -> Result<(), ReadError> {
    let lines = text.lines().count();
    if lines > limits.lines {
        return Err(too_large("lines", lines as u64, limits.lines as u64, "lines"));
    }
    let longest = text.lines().map(str::len).max().unwrap_or(0);
    if longest > limits.line_chars {
        return Err(too_large("characters in one line", longest as u64, limits.line_chars as u64, "line-chars"));
    }
    Ok(())
}

pub(super) fn encoding_notice(doubt: Option<&str>) -> Vec<Notice> {
    doubt
        .map(|text| Notice { kind: NoticeKind::Encoding, text: text.to_owned(), place: Where::default() })
        .into_iter()
        .collect()
}

/// A text as one page, each line placed by its number in the text.
pub fn page(text: &str) -> Page {
    let text = text.replace("\r\n", "\n").replace('\r', "\n");
    let numbered = (1_u32..).zip(text.split('\n')).map(|(number, line)| (number, line.to_owned())).collect();
    page_of_lines(numbered)
}

/// A page from lines with their numbers, for texts whose lines were joined.
pub fn page_of_lines(mut lines: Vec<(u32, String)>) -> Page {
    unquote(&mut lines);
    let pieces: Vec<(u32, String)> = lines
        .iter()
        .flat_map(|(number, line)| line.split(['\u{c}', '\u{b}']).map(|piece| (*number, clean(piece))))
        .collect();
    let mut page = Page { char_width: 1.0, ..Page::default() };
    let mut tables = 0_u32;
    let mut index = 0_usize;
    while let Some((number, line)) = pieces.get(index) {
        let rows = tab_rows(pieces.get(index..).unwrap_or_default());
        let mut push = |table: Option<u32>, words: Vec<Word>, index: usize| {
            if !words.is_empty() {
                page.lines.push(Line { table, words, top: index as f32, bottom: index as f32 + 1.0 });
            }
        };
        if rows < TABLE_ROWS {
            push(None, words(line, &Where::line(*number)), index);
            index += 1;
            continue;
        }
        tables += 1;
        for (number, line) in pieces.iter().skip(index).take(rows) {
            push(Some(tables), cells(line, &Where::line(*number)), index);
            index += 1;
        }
    }
    page
}

/// How many lines from the first one on have the same number of tabs, at least two: rows pasted from a sheet, whose
/// columns no tab stop aligns.
fn tab_rows(lines: &[(u32, String)]) -> usize {
    let tabs = |line: &str| line.matches('\t').count();
    let first = lines.first().map_or(0, |(_, line)| tabs(line));
    if first < 2 {
        return 0;
    }
    lines.iter().take_while(|(_, line)| tabs(line) == first).count()
}

fn cells(line: &str, place: &Where) -> Vec<Word> {
    let columns = (0_u32..).zip(line.split('\t'));
    let filled = columns.filter(|(_, text)| !text.trim().is_empty());
    filled.map(|(column, text)| Word::cell(text, column, place.clone())).collect()
}

/// The words of one line.
pub fn words(line: &str, place: &Where) -> Vec<Word> {
    let characters: Vec<char> = line.chars().collect();
    let mut words: Vec<Word> = Vec::new();
    let mut column = 0_usize;
    let mut hard = false;
    let mut open: Option<(String, usize)> = None;
    let mut close = |open: &mut Option<(String, usize)>, column: usize, hard: &mut bool| {
        if let Some((text, start)) = open.take() {
            let mut word = Word::soft(text, start as f32, column as f32, place.clone());
            word.hard_left = std::mem::take(hard);
            words.push(word);
        }
    };
    for (index, character) in characters.iter().enumerate() {
        let is_border = is_border(&characters, index);
        if is_border || (character.is_whitespace() && !glues_digits(&characters, index)) {
            close(&mut open, column, &mut hard);
            hard |= is_border || *character == '\t';
            if *character == '\t' {
                column = (column / TAB_STOP + 1) * TAB_STOP;
            } else {
                column += 1;
            }
            continue;
        }
        open.get_or_insert_with(|| (String::new(), column)).0.push(*character);
        column += 1;
    }
    close(&mut open, column, &mut hard);
    words
}

/// An upright stroke between blanks, or one of a drawn frame, is a border like a tab.
fn is_border(characters: &[char], index: usize) -> bool {
    let is_blank = |at: Option<usize>| at.and_then(|i| characters.get(i)).is_none_or(|c| c.is_whitespace());
    match characters.get(index) {
        Some('│' | '┃' | '║') => true,
        Some('|') => is_blank(index.checked_sub(1)) && is_blank(Some(index + 1)),
        _ => false,
    }
}

/// Whether a no-break or thin space parts the thousands of one number: `1 234,5`.
fn glues_digits(characters: &[char], index: usize) -> bool {
    let at = |offset: usize| characters.get(offset).copied().unwrap_or(' ');
    let is_glue = matches!(at(index), '\u{a0}' | '\u{202f}' | '\u{2009}' | '\u{2007}');
    is_glue
        && index > 0
        && at(index - 1).is_ascii_digit()
        && (1..=3).all(|step| at(index + step).is_ascii_digit())
        && !at(index + 4).is_ascii_digit()
}

/// Takes the `>` marks of quoted mail off. A mark before a number may be a comparison (`> 95 %`), so a run of marked
/// lines counts as quoted only where some line of it goes on with a word, or with nothing; and a line that goes on
/// with a number loses no more marks than the nearest line of words above it (else below) has.
fn unquote(lines: &mut [(u32, String)]) {
    let mut start = 0;
    while start < lines.len() {
        let run = lines.iter().skip(start).take_while(|(_, line)| marks(line).0 > 0).count();
        if run == 0 {
            start += 1;
            continue;
        }
        let Some(block) = lines.get_mut(start..start + run) else { return };
        let first_depth = block.iter().map(|(_, line)| marks(line)).find(|(_, rest)| !starts_with_number(rest));
        if let Some((mut depth, _)) = first_depth
            && block.iter().any(|(_, line)| speaks(marks(line).1))
        {
            for (_, line) in block.iter_mut() {
                let (count, rest) = marks(line);
                if !starts_with_number(rest) {
                    depth = count;
                }
                *line = if count > depth { format!("> {}", rest.trim_start()) } else { rest.to_owned() };
            }
        }
        start += run;
    }
}

/// How many `>` a line begins with, and what follows them and one blank.
fn marks(line: &str) -> (usize, &str) {
    let (mut count, mut rest) = (0, line);
    while let Some(after) = rest.trim_start().strip_prefix('>') {
        count += 1;
        rest = after.strip_prefix(' ').unwrap_or(after);
    }
    (count, rest)
}

fn starts_with_number(text: &str) -> bool {
    text.trim_start_matches([' ', '=', '\t', '~']).starts_with(|c: char| c.is_ascii_digit())
}

fn speaks(rest: &str) -> bool {
    let rest = rest.trim_start();
    rest.is_empty() || rest.starts_with(|c: char| c.is_alphabetic())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::readers::read as read_file;

    fn texts(line: &str) -> Vec<String> {
        words(line, &Where::line(1)).into_iter().map(|w| w.text).collect()
    }

    #[test]
    fn words_stand_at_their_character_columns() {
        let words = words("Iron,  Fe\t6200 mg/kg", &Where::line(7));
        let edges: Vec<(f32, f32, bool)> = words.iter().map(|w| (w.x0, w.x1, w.hard_left)).collect();
        // "Iron," takes columns 0 to 4, "Fe" 7 and 8, the tab goes on to column 16.
        assert_eq!(edges, [(0.0, 5.0, false), (7.0, 9.0, false), (16.0, 20.0, true), (21.0, 26.0, false)]);
        assert_eq!(words.first().unwrap().place, Where::line(7));
    }

    #[test]
    fn a_no_break_space_glues_thousands_and_nothing_else() {
        assert_eq!(texts("1\u{a0}234,5 mg/kg"), ["1\u{a0}234,5", "mg/kg"]);
        assert_eq!(texts("12\u{202f}345"), ["12\u{202f}345"]);
        assert_eq!(texts("37.6\u{a0}kgr"), ["37.6", "kgr"]);
        assert_eq!(texts("41.5\u{a0}\u{a0}376"), ["41.5", "376"]);
        assert_eq!(texts("3\u{a0}20"), ["3", "20"]);
    }

    #[test]
    fn units_and_comparisons_keep_their_characters() {
        assert_eq!(
            texts("≥ 95 ± 2 % 640 µm 1.2 g/cm³ 10² 25 °C ½"),
            "≥ 95 ± 2 % 640 µm 1.2 g/cm³ 10² 25 °C ½".split(' ').collect::<Vec<_>>()
        );
    }

    #[test]
    fn unseen_characters_are_taken_out() {
        assert_eq!(shown("47\u{202e}.3\u{7} \u{1b}[1m%\u{200b}"), ["47.3 %"]);
    }

    #[test]
    fn blank_lines_and_form_feeds_show_in_the_index_only() {
        let page = page("one\r\n\r\ntwo\u{c}three\rfour");
        let lines: Vec<(String, f32, Option<u32>)> =
            page.lines.iter().map(|l| (l.text(), l.top, l.words.first().and_then(|w| w.place.line))).collect();
        assert_eq!(
            lines,
            [
                ("one".into(), 0.0, Some(1)),
                ("two".into(), 2.0, Some(3)),
                ("three".into(), 3.0, Some(3)),
                ("four".into(), 4.0, Some(4))
            ]
        );
    }

    fn shown(text: &str) -> Vec<String> {
        page(text).lines.iter().map(Line::text).collect()
    }

    #[test]
    fn quote_marks_go_and_comparisons_stay() {
        assert_eq!(shown("> Moisture: 47.3\n>\n> > Iron: 50\n> 95 %"), ["Moisture: 47.3", "Iron: 50", "95 %"]);
        assert_eq!(shown("Whole beads\n> 95 %\nIron\n< 50"), ["Whole beads", "> 95 %", "Iron", "< 50"]);
        assert_eq!(shown("> 95 %\n> 200 g/bead"), ["> 95 %", "> 200 g/bead"]);
        assert_eq!(shown("> Whole beads\n> > 95 %"), ["Whole beads", "> 95 %"]);
        assert_eq!(shown("> > Whole beads\n> > 95 %\n>> Iron"), ["Whole beads", "95 %", "Iron"]);
    }

    #[test]
    fn strokes_are_borders_where_they_stand_alone() {
        let words = words("│ Iron │50| mg | kg|L", &Where::line(1));
        let seen: Vec<(&str, f32, bool)> = words.iter().map(|w| (w.text.as_str(), w.x0, w.hard_left)).collect();
        assert_eq!(seen, [("Iron", 2.0, true), ("50|", 8.0, true), ("mg", 12.0, false), ("kg|L", 17.0, true)]);
    }

    #[test]
    fn rows_pasted_from_a_sheet_are_a_table_inside_the_text() {
        let page = page("Dear all\nProperty\tResult\tUnit\nMoisture retention\t47.3\t%\nIron\t\tmg/kg\nVessel\tS2\n");
        let seen: Vec<(Option<u32>, Vec<f32>)> =
            page.lines.iter().map(|l| (l.table, l.words.iter().map(|w| w.x0).collect())).collect();
        assert_eq!(
            seen,
            [
                (None, vec![0.0, 5.0]),
                (Some(1), vec![0.0, 1.0, 2.0]),
                (Some(1), vec![0.0, 1.0, 2.0]),
                (Some(1), vec![0.0, 2.0]),
                (None, vec![0.0, 8.0])
            ]
        );
    }

    #[test]
    fn too_long_a_line_is_refused() {
        let options = ReadOptions { limits: Limits { line_chars: 10, ..Limits::default() }, ..ReadOptions::default() };
        assert_eq!(read_file("a.txt", b"12345678901", &options).unwrap_err().code, "too-large");
    }
}
