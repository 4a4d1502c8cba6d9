//! Rows of a table from which a cell was lost, so that the rest moved up.
//!
//! A figure that slid under its neighbour's head may well look possible there. What gives it away is the row: it ends
//! short of the others, and something in it does not fit the head above it.

use crate::place::Where;
use crate::record::{Doubt, Record};
use std::collections::BTreeMap;

/// A figure this many times larger or smaller than those above and below it in its column is out of line.
const OUT_OF_LINE: f64 = 20.0;

/// Rows of fewer figures than this say nothing of a shift.
const FEWEST_FIGURES: usize = 3;

/// Doubts every figure of a row that ends before the other rows of its table and holds one that does not fit.
pub fn doubt_shifted_rows(records: &mut [Record]) {
    let tables: Vec<Option<Row>> = records.iter().map(row_of).collect();
    let mut shifted = Vec::new();
    for (at, own) in tables.iter().enumerate() {
        let Some(own) = own else { continue };
        let others: Vec<(&Row, &Record)> = tables
            .iter()
            .zip(records.iter())
            .enumerate()
            .filter(|(i, _)| *i != at)
            .filter_map(|(_, (row, record))| Some((row.as_ref().filter(|r| r.table == own.table)?, record)))
            .collect();
        if others.len() < 2 || others.iter().any(|(r, _)| r.end <= own.end) {
            continue;
        }
        let Some(record) = records.get(at) else { continue };
        let unlike = record.measurements.iter().any(|m| {
            let doubtful = m.doubts.iter().any(|d| matches!(d.code.as_str(), "implausible" | "unit-unfit"));
            let mut column: Vec<f64> = others
                .iter()
                .flat_map(|(_, r)| &r.measurements)
                .filter(|o| o.property == m.property && o.basis == m.basis)
                .filter_map(|o| o.value)
                .filter(|v| *v > 0.0)
                .collect();
            column.sort_by(f64::total_cmp);
            let usual = column.get(column.len() / 2);
            let out = match (usual, m.value) {
                (Some(usual), Some(value)) if value > 0.0 => value / usual > OUT_OF_LINE || usual / value > OUT_OF_LINE,
                _ => false,
            };
            doubtful || out
        });
        if unlike {
            shifted.push(at);
        }
    }
    for at in shifted {
        let Some(record) = records.get_mut(at) else { continue };
        for m in &mut record.measurements {
            let doubt = Doubt::new(
                "shifted-row",
                Some(&m.property),
                "Its row ends before the others of the table and holds a figure that does not fit its column; a cell \
                 may be missing, and the figures behind it may stand one column aside.",
                &m.place,
            );
            m.doubts.push(doubt);
        }
    }
}

/// The row that holds all figures of a record.
struct Row {
    table: (Option<String>, Option<String>, Option<u32>, Option<u32>),
    end: u32,
}

fn row_of(record: &Record) -> Option<Row> {
    let mut rows: BTreeMap<u32, u32> = BTreeMap::new();
    let first = &record.measurements.first()?.place;
    for m in &record.measurements {
        let (row, column) = position(&m.place)?;
        let end = rows.entry(row).or_default();
        *end = column.max(*end);
    }
    let name = |text: &Option<std::sync::Arc<str>>| text.as_ref().map(ToString::to_string);
    match rows.into_iter().collect::<Vec<_>>().as_slice() {
        [(_, end)] if record.measurements.len() >= FEWEST_FIGURES => {
            Some(Row { table: (name(&first.part), name(&first.sheet), first.page, first.table), end: *end })
        }
        _ => None,
    }
}

/// Row and column of a cell of delimited text, a letter's table or a sheet.
fn position(place: &Where) -> Option<(u32, u32)> {
    if let Some(cell) = &place.cell {
        let digits = cell.find(|c: char| c.is_ascii_digit())?;
        let (letters, row) = cell.split_at_checked(digits)?;
        let column = letters.chars().try_fold(0u32, |sum, c| {
            sum.checked_mul(26)?.checked_add(u32::from(c.to_ascii_uppercase()).checked_sub(u32::from('A'))? + 1)
        })?;
        return Some((row.parse().ok()?, column));
    }
    Some((place.row.or(place.line)?, place.column?))
}
