//! Strips of a page to rows of cells, with the room above each.

use super::borders;
use super::cells::{self, Cell, Row};
use super::furniture;
use super::layout::{self, Strip};
use super::ledger::Ledger;
use super::style::Style;
use crate::lexicon::Lexicon;

/// Cuts the strips of one block into rows. The words of what is no part of the report are set aside.
pub fn rows(
    strips: &mut [Strip<'_>],
    char_width: f32,
    is_mail: bool,
    lexicon: &Lexicon,
    style: &Style,
    ledger: &mut Ledger,
) -> Vec<Row> {
    if char_width > layout::PRINT {
        borders::confirm(strips, char_width);
    }
    let mut rows: Vec<Row> = Vec::new();
    let mut gap = 0;
    let mut last: Option<(f32, f32, Option<u32>, Option<u32>)> = None;
    let mut in_head = is_mail;
    let mut last_top = f32::NEG_INFINITY;
    let mut last_pitch: Option<f32> = None;
    for (at, strip) in strips.iter().enumerate() {
        if strip.is_blank() {
            gap += 1;
            in_head = false;
            continue;
        }
        if cells::is_rule(strip) && strip.table.is_none() {
            if let (Some(last), Some(place)) = (last.as_mut(), strip.words.first().map(|w| w.word.place.line)) {
                last.1 = strip.bottom;
                last.2 = place;
            }
            continue;
        }
        let text_line = strip.words.first().and_then(|w| w.word.place.line);
        if let Some((_, bottom, last_line, table)) = last {
            if strip.table.is_some() && table == strip.table {
                gap += ((strip.top - bottom).max(0.0) as u32).min(5);
                if strip.top == 0.0 && bottom == 0.0 {
                    gap = 0;
                }
            } else if char_width > layout::PRINT {
                let height = (strip.bottom - strip.top).max(1.0);
                // Lines that all stand wide apart are one table set with room, and no blank lines.
                let pitch = strip.top - last_top;
                let next = strips.get(at + 1).map(|next| next.top - strip.top);
                let even = |other: f32| (other - pitch).abs() <= 0.12 * pitch;
                let regular = pitch < 4.0 * height && (next.is_some_and(even) || last_pitch.is_some_and(even));
                gap += u32::from(strip.top - bottom > 0.9 * height && !regular);
            } else if let (Some(a), Some(b)) = (last_line, text_line)
                && b > a + 1
                && gap == 0
            {
                gap = b - a - 1;
                in_head = false;
            }
        }
        // Rows of a sheet are counted; those of a page are as high as they are drawn.
        if last_top.is_finite() {
            last_pitch = Some(strip.top - last_top);
        }
        last_top = strip.top;
        let bottom = if strip.table.is_some() { strip.bottom.max(strip.top + 1.0) } else { strip.bottom };
        last = Some((strip.top, bottom, text_line, strip.table));
        furniture::set_aside(strip, ledger);
        let mut cells = cells::cut_line(strip, char_width.max(0.01), lexicon, style);
        cells::name_bounds(&mut cells, lexicon, style);
        if in_head && furniture::is_mail_head(&strip.text()) {
            ledger.set_aside(&strip.ids(), "mail-head");
            continue;
        }
        if cells.is_empty() {
            continue;
        }
        let char_width = if strip.table.is_some() { 0.0 } else { char_width };
        let (top, bottom) = (strip.top, strip.bottom);
        rows.push(Row { cells, table: strip.table, gap, char_width, line: strip.number, grouped: None, top, bottom });
        gap = 0;
    }
    fill_merged(&mut rows);
    rows
}

/// A merged cell holds for each row that it spans.
fn fill_merged(rows: &mut [Row]) {
    for at in 0..rows.len() {
        let Some(row) = rows.get(at) else { break };
        let merged: Vec<Cell> = row.cells.iter().filter(|c| c.rows > 1).cloned().collect();
        for cell in merged {
            for down in 1..cell.rows as usize {
                let Some(below) = rows.get_mut(at + down) else { break };
                if below.table.is_none()
                    || below.gap > 0
                    || below.cells.iter().any(|c| c.overlap(cell.x0, cell.x1) > 0.0)
                {
                    continue;
                }
                let mut copy = cell.with_text(cell.text.clone());
                copy.typed.clone_from(&cell.typed);
                copy.rows = 1;
                let position = below.cells.iter().position(|c| c.x0 > copy.x0).unwrap_or(below.cells.len());
                below.cells.insert(position, copy);
            }
        }
    }
}
