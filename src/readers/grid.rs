//! Tables that only arrange a page, told from tables that hold figures: the same in letters and web pages.

use crate::document::{Line, Word};
use crate::place::Where;

/// A cell laid out on its table's grid.
pub struct Cell<N> {
    /// Where the reader finds its content again.
    pub node: N,
    /// Column of the grid, from 0.
    pub column: u32,
    /// Columns spanned.
    pub columns: u32,
    /// Rows spanned.
    pub rows: u32,
    /// Other tables stand in it.
    pub nested: bool,
    /// Its own text, lines parted by `\n`.
    pub text: String,
    /// Line of the source, where the format has lines.
    pub line: Option<u32>,
}

/// A row of a table.
pub struct Row<N> {
    /// Number of the row, from 1.
    pub number: u32,
    /// Its cells, from left to right.
    pub cells: Vec<Cell<N>>,
}

/// What a reader writes down for a table, in order.
pub enum Step<N> {
    /// A row of hard cells; the first row of a new table where `starts`.
    Row {
        /// A new table starts here.
        starts: bool,
        /// The row.
        row: Row<N>,
    },
    /// The content of a cell as a passage of its own.
    Passage(N),
}

/// Takes a table apart into hard rows and passages.
pub fn plan<N: Clone>(rows: Vec<Row<N>>) -> Vec<Step<N>> {
    if is_arrangement(&rows) {
        return rows.into_iter().flat_map(|r| r.cells).map(|c| Step::Passage(c.node)).collect();
    }
    let rows = match unstack(&rows) {
        Some(stacked) => stacked,
        None => rows,
    };
    let mut steps = Vec::new();
    let mut starts = true;
    for row in rows {
        let nested = row.cells.iter().any(|c| c.nested);
        let (mut flowing, mut plain): (Vec<_>, Vec<_>) =
            row.cells.into_iter().partition(|c| nested && (c.nested || c.text.contains('\n')));
        // A lone cell beside nested tables is a heading of the arrangement, not a row of figures.
        if nested && plain.iter().filter(|c| !c.text.is_empty()).count() < 2 {
            flowing.append(&mut plain);
            flowing.sort_by_key(|c| c.column);
        }
        if plain.iter().any(|c| !c.text.is_empty()) {
            steps.push(Step::Row { starts, row: Row { number: row.number, cells: plain } });
            starts = false;
        }
        for cell in flowing {
            starts |= cell.nested;
            steps.push(Step::Passage(cell.node));
        }
    }
    steps
}

/// One cell; or one row, or one column, of cells that hold whole passages.
fn is_arrangement<N: Clone>(rows: &[Row<N>]) -> bool {
    let filled = || rows.iter().flat_map(|r| &r.cells).filter(|c| c.nested || !c.text.is_empty());
    let passages = filled().filter(|c| c.nested || c.text.contains('\n')).count();
    match filled().count() {
        0 | 1 => true,
        _ if rows.len() == 1 => passages > 0 && unstack(rows).is_none(),
        count if rows.iter().all(|r| r.cells.len() == 1) => passages * 2 >= count,
        _ => false,
    }
}

/// One row whose cells stack the same number of lines (labels in one, figures in the next), as rows.
fn unstack<N: Clone>(rows: &[Row<N>]) -> Option<Vec<Row<N>>> {
    let [row] = rows else { return None };
    let count = row.cells.first()?.text.lines().count();
    if count < 2 || row.cells.len() < 2 || row.cells.iter().any(|c| c.nested || c.text.lines().count() != count) {
        return None;
    }
    // Lines that carry their own labels belong to their cell, not to each other.
    if row.cells.iter().skip(1).flat_map(|c| c.text.lines()).any(|l| l.contains(':')) {
        return None;
    }
    let mut stacked: Vec<Row<N>> = (1..).take(count).map(|number| Row { number, cells: Vec::new() }).collect();
    for cell in &row.cells {
        for (line, to) in cell.text.lines().zip(&mut stacked) {
            to.cells.push(Cell {
                node: cell.node.clone(),
                column: cell.column,
                columns: cell.columns,
                rows: 1,
                nested: false,
                text: line.to_owned(),
                line: cell.line,
            });
        }
    }
    Some(stacked)
}

/// A row as a line of a hard table. None where no cell holds anything.
pub fn line<N>(table: u32, row: Row<N>, top: f32) -> Option<Line> {
    let mut words = Vec::new();
    for cell in row.cells {
        if cell.text.is_empty() {
            continue;
        }
        let place = Where { line: cell.line, ..Where::table_cell(table, row.number, cell.column + 1) };
        let mut word = Word::cell(cell.text, cell.column, place);
        word.x1 = cell.column.saturating_add(cell.columns.max(1)) as f32;
        word.rows = cell.rows.max(1);
        words.push(word);
    }
    (!words.is_empty()).then_some(Line { table: Some(table), words, top, bottom: top + 1.0 })
}
