//! A sheet's cells to a page: what is hidden goes, merged cells span, numbers show as their format has it.

use super::clean::clean;
use super::number_format::NumberFormat;
use crate::document::{Line, Notice, NoticeKind, Page, Typed, Word};
use crate::place::{Where, column_letters};
use std::collections::BTreeMap;
use std::sync::Arc;

/// What a cell holds, before its format is applied.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// A number, to be shown by the cell's format.
    Number(f64),
    /// Text.
    Text(String),
    /// `TRUE` or `FALSE`.
    Bool(bool),
    /// Already shown by the file itself, with what it says of the value.
    Shown(String, Option<Typed>),
    /// A formula that the file holds no value for.
    Formula(String),
    /// A number that its format does not show.
    Unseen,
}

/// A cell by its column and row, both counted from 0.
#[derive(Clone, Debug, PartialEq)]
pub struct Cell {
    /// Column from 0.
    pub column: u32,
    /// Row from 0.
    pub row: u32,
    /// What it holds.
    pub value: Value,
    /// How numbers in it are shown; none is `General`.
    pub format: Option<Arc<NumberFormat>>,
}

/// Ranges of hidden rows or columns, ends included.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Spans(Vec<(u32, u32)>);

impl Spans {
    /// Adds a range.
    pub fn add(&mut self, first: u32, last: u32) {
        match self.0.last_mut() {
            Some((from, to)) if *from <= first && first <= to.saturating_add(1) => *to = last.max(*to),
            _ => self.0.push((first, last)),
        }
    }

    /// Whether one of the ranges holds all from the first to the last. They must be sorted.
    fn hold_all(&self, first: u32, last: u32) -> bool {
        let after = self.0.partition_point(|(from, _)| *from <= first);
        after.checked_sub(1).and_then(|i| self.0.get(i)).is_some_and(|(_, to)| last <= *to)
    }

    fn sorted(mut self) -> Self {
        self.0.sort_unstable();
        let mut merged = Self::default();
        self.0.into_iter().for_each(|(first, last)| merged.add(first, last));
        merged
    }
}

/// A merged range, ends included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Merged {
    /// Its first row and column.
    pub first: (u32, u32),
    /// Its last row and column.
    pub last: (u32, u32),
}

/// A sheet as its reader found it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sheet {
    /// Its name.
    pub name: String,
    /// The sheet itself is hidden.
    pub hidden: bool,
    /// Cells in any order.
    pub cells: Vec<Cell>,
    /// Hidden rows.
    pub hidden_rows: Spans,
    /// Hidden columns.
    pub hidden_columns: Spans,
    /// Merged ranges.
    pub merged: Vec<Merged>,
    /// Dates count from 1904.
    pub from_1904: bool,
}

/// The page of a sheet, or none where the sheet is hidden or empty. What was left out is added to the notices.
pub fn page(sheet: Sheet, notices: &mut Vec<Notice>) -> Option<Page> {
    let name: Arc<str> = sheet.name.as_str().into();
    let notice = |kind, text: String, cell: Option<&Word>| {
        let place = cell.map_or_else(|| Where { sheet: Some(name.clone()), ..Where::default() }, |w| w.place.clone());
        Notice { kind, text, place }
    };
    let cells: Vec<Cell> = sheet.cells.into_iter().filter(|cell| !is_blank(&cell.value)).collect();
    if sheet.hidden {
        if !cells.is_empty() {
            let text = format!("sheet {name} is hidden; left out: {}", count(cells.len()));
            notices.push(notice(NoticeKind::HiddenContent, text, None));
        }
        return None;
    }
    let rows = sheet.hidden_rows.sorted();
    let columns = sheet.hidden_columns.sorted();
    let merged: BTreeMap<(u32, u32), (u32, u32)> = sheet.merged.iter().map(|m| (m.first, m.last)).collect();
    let mut left_out = LeftOut::default();
    let mut grid: BTreeMap<u32, BTreeMap<u32, Word>> = BTreeMap::new();
    for cell in cells {
        let at = (cell.row, cell.column);
        let (last_row, last_column) =
            merged.get(&at).map_or(at, |(row, column)| ((*row).max(at.0), (*column).max(at.1)));
        if rows.hold_all(cell.row, last_row) {
            *left_out.rows.entry(cell.row).or_default() += 1;
            continue;
        }
        if columns.hold_all(cell.column, last_column) {
            *left_out.columns.entry(cell.column).or_default() += 1;
            continue;
        }
        let Some(mut word) = word(&cell, &name, sheet.from_1904) else {
            left_out.by_format += 1;
            continue;
        };
        word.x1 = last_column as f32 + 1.0;
        word.rows = (last_row - cell.row).saturating_add(1);
        grid.entry(cell.row).or_default().insert(cell.column, word);
    }
    for text in left_out.texts(&name) {
        notices.push(notice(NoticeKind::HiddenContent, text, None));
    }
    let lines: Vec<Line> = grid
        .into_iter()
        .map(|(row, words)| Line {
            table: Some(1),
            words: words.into_values().collect(),
            top: row as f32,
            bottom: row as f32 + 1.0,
        })
        .collect();
    let mut without_value = lines
        .iter()
        .flat_map(|line| &line.words)
        .filter(|word| matches!(word.typed, Some(Typed::FormulaWithoutValue { .. })));
    if let Some(first) = without_value.next() {
        let number = 1 + without_value.count();
        let text = format!(
            "formulas of sheet {name} have no stored value: {}; open the file in a spreadsheet program, save it, and read it again",
            count(number)
        );
        notices.push(notice(NoticeKind::FormulaWithoutValue, text, Some(first)));
    }
    (!lines.is_empty()).then(|| Page { name: Some(name.clone()), lines, char_width: 0.0 })
}

fn count(cells: usize) -> String {
    if cells == 1 { "1 cell".into() } else { format!("{cells} cells") }
}

fn is_blank(value: &Value) -> bool {
    match value {
        Value::Text(text) | Value::Shown(text, None) => text.trim().is_empty(),
        _ => false,
    }
}

/// The word of a cell; none where its format shows nothing.
fn word(cell: &Cell, sheet: &str, from_1904: bool) -> Option<Word> {
    let (text, typed) = match &cell.value {
        Value::Number(number) => {
            let general = NumberFormat::default();
            let shown = cell.format.as_deref().unwrap_or(&general).show(*number, from_1904);
            if shown.hidden {
                return None;
            }
            (shown.text, shown.typed)
        }
        Value::Text(text) => (clean(text), None),
        Value::Unseen => return None,
        Value::Bool(yes) => (if *yes { "TRUE" } else { "FALSE" }.to_owned(), None),
        Value::Shown(text, typed) => (clean(text), typed.clone()),
        Value::Formula(formula) => (String::new(), Some(Typed::FormulaWithoutValue { formula: formula.clone() })),
    };
    let mut word = Word::cell(text, cell.column, Where::cell(sheet, cell.column, cell.row));
    word.typed = typed;
    Some(word)
}

/// Cells left out, by the row or column that is hidden.
#[derive(Default)]
struct LeftOut {
    rows: BTreeMap<u32, usize>,
    columns: BTreeMap<u32, usize>,
    by_format: usize,
}

impl LeftOut {
    fn texts(&self, sheet: &str) -> Vec<String> {
        let mut texts = Vec::new();
        if !self.rows.is_empty() {
            let cells = self.rows.values().sum();
            let names = listed(self.rows.keys(), |row| (u64::from(row) + 1).to_string());
            texts.push(format!("rows of sheet {sheet} are hidden ({names}); left out: {}", count(cells)));
        }
        if !self.columns.is_empty() {
            let cells = self.columns.values().sum();
            let names = listed(self.columns.keys(), column_letters);
            texts.push(format!("columns of sheet {sheet} are hidden ({names}); left out: {}", count(cells)));
        }
        if self.by_format > 0 {
            texts.push(format!("number formats of sheet {sheet} show nothing; left out: {}", count(self.by_format)));
        }
        texts
    }
}

/// `3 to 5, 9`, cut after a few.
fn listed<'a>(indices: impl Iterator<Item = &'a u32>, name: impl Fn(u32) -> String) -> String {
    let mut spans = Spans::default();
    indices.for_each(|index| spans.add(*index, *index));
    let mut names: Vec<String> = spans
        .0
        .iter()
        .take(8)
        .map(|(first, last)| if first == last { name(*first) } else { format!("{} to {}", name(*first), name(*last)) })
        .collect();
    if spans.0.len() > names.len() {
        names.push("and more".into());
    }
    names.join(", ")
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn text(column: u32, row: u32, text: &str) -> Cell {
        Cell { column, row, value: Value::Text(text.into()), format: None }
    }

    fn shown(page: &Page) -> Vec<String> {
        page.lines
            .iter()
            .flat_map(|l| &l.words)
            .map(|w| format!("{}={}", w.place.cell.as_deref().unwrap(), w.text))
            .collect()
    }

    #[test]
    fn what_is_hidden_is_left_out_and_said() {
        let mut sheet = Sheet {
            name: "Results".into(),
            cells: vec![
                text(0, 0, "a"),
                text(1, 0, "b"),
                text(0, 4, "c"),
                text(0, 5, "d"),
                text(2, 6, "e"),
                text(0, 9, " "),
            ],
            ..Sheet::default()
        };
        sheet.hidden_rows.add(5, 5);
        sheet.hidden_rows.add(4, 4);
        sheet.hidden_rows.add(9, 9);
        sheet.hidden_columns.add(2, 16383);
        let mut notices = Vec::new();
        let page = page(sheet, &mut notices).unwrap();
        assert_eq!(shown(&page), ["A1=a", "B1=b"]);
        let texts: Vec<&str> = notices.iter().map(|n| n.text.as_str()).collect();
        assert_eq!(
            texts,
            [
                "rows of sheet Results are hidden (5 to 6); left out: 2 cells",
                "columns of sheet Results are hidden (C); left out: 1 cell"
            ]
        );
    }

    #[test]
    fn a_merged_cell_spans_and_shows_where_any_of_it_shows() {
        let mut sheet = Sheet { name: "S".into(), cells: vec![text(1, 2, "head")], ..Sheet::default() };
        sheet.merged.push(Merged { first: (2, 1), last: (3, 4) });
        sheet.hidden_columns.add(1, 1);
        sheet.hidden_rows.add(2, 2);
        let page = page(sheet, &mut Vec::new()).unwrap();
        let line = page.lines.first().unwrap();
        let word = line.words.first().unwrap();
        assert_eq!((word.x0, word.x1, word.rows, line.top), (1.0, 5.0, 2, 2.0));
    }

    #[test]
    fn a_hidden_sheet_is_one_notice_and_an_empty_one_is_none() {
        let mut notices = Vec::new();
        let sheet = Sheet { name: "Calc".into(), hidden: true, cells: vec![text(0, 0, "1")], ..Sheet::default() };
        assert!(page(sheet, &mut notices).is_none());
        assert_eq!(notices.len(), 1);
        assert_eq!(notices.first().unwrap().place.sheet.as_deref(), Some("Calc"));
        assert!(page(Sheet { hidden: true, ..Sheet::default() }, &mut notices).is_none());
        assert_eq!(notices.len(), 1);
    }

    #[test]
    fn formulas_without_a_value_are_said_once_for_a_sheet() {
        let formula = |row| Cell { column: 0, row, value: Value::Formula("=A1".into()), format: None };
        let mut notices = Vec::new();
        let page =
            page(Sheet { name: "S".into(), cells: vec![formula(2), formula(3)], ..Sheet::default() }, &mut notices)
                .unwrap();
        assert_eq!(page.lines.len(), 2);
        assert_eq!(notices.len(), 1);
        assert_eq!(notices.first().unwrap().place.cell.as_deref(), Some("A3"));
    }
}
