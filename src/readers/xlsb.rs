//! Binary workbooks of Excel since 2007. Source of all records: MS-XLSB, section 2.4.
//!
//! Read here rather than by calamine for the same reasons as `.xls`; the tests hold both against each other.

use super::kit::archive::Archive;
use super::kit::biff::{f64_at, u16_at, u32_at};
use super::kit::grid::{Cell, Merged, Sheet, Value, page};
use super::kit::number_format::NumberFormat;
use super::kit::ooxml;
use super::kit::workbook::{Look, Room, error_word, guarded, not_a_workbook, rich_text, rk};
use super::{Input, ReadError, ReadOptions, ReadOutput};
use crate::document::Part;
use std::collections::BTreeMap;
use std::sync::Arc;

mod kind {
    pub const ROW_HEADER: u16 = 0;
    pub const CELL_RK: u16 = 2;
    pub const CELL_ERROR: u16 = 3;
    pub const CELL_BOOL: u16 = 4;
    pub const CELL_REAL: u16 = 5;
    pub const CELL_TEXT: u16 = 6;
    pub const CELL_SHARED: u16 = 7;
    pub const FORMULA_TEXT: u16 = 8;
    pub const FORMULA_NUMBER: u16 = 9;
    pub const FORMULA_BOOL: u16 = 10;
    pub const FORMULA_ERROR: u16 = 11;
    pub const SHARED_ITEM: u16 = 19;
    pub const FONT: u16 = 43;
    pub const FORMAT: u16 = 44;
    pub const STYLE: u16 = 47;
    pub const COLUMN_INFO: u16 = 60;
    pub const CELL_RICH: u16 = 62;
    pub const END_SHEET: u16 = 130;
    pub const WORKBOOK: u16 = 153;
    pub const SHEET: u16 = 156;
    pub const MERGED: u16 = 176;
    pub const CELL_STYLES: u16 = 617;
    pub const END_CELL_STYLES: u16 = 618;
}

pub(super) fn sniff(input: &Input<'_>) -> bool {
    input.content.zip_holds("xl/workbook.bin")
}

pub(super) fn read(input: &Input<'_>, options: &ReadOptions) -> Result<ReadOutput, ReadError> {
    let mut archive = Archive::open(input.bytes, &options.limits)?;
    guarded(|| {
        let styles = Styles::read(&archive.entry("xl/styles.bin")?.unwrap_or_default());
        let strings = archive.entry("xl/sharedStrings.bin")?.unwrap_or_default();
        let strings: Vec<String> = Records(&strings)
            .filter(|record| record.kind == kind::SHARED_ITEM)
            .map(|record| styles.rich(record.data).unwrap_or_default())
            .collect();
        let paths = ooxml::relationships(&archive.text("xl/_rels/workbook.bin.rels")?.unwrap_or_default());
        let listing = archive.entry("xl/workbook.bin")?.ok_or_else(|| not_a_workbook(&"it holds no list of sheets"))?;
        let from_1904 = Records(&listing)
            .any(|record| record.kind == kind::WORKBOOK && u32_at(record.data, 0).is_some_and(|flags| flags & 1 != 0));
        let mut output = ReadOutput::default();
        let mut part = Part::default();
        let mut room = Room::new(&options.limits);
        for listed in Records(&listing).filter(|record| record.kind == kind::SHEET) {
            let Some((hidden, id, name)) = listed_sheet(listed.data) else { continue };
            let Some((kind, target)) = paths.get(&id) else { continue };
            if !kind.ends_with("/worksheet") {
                continue;
            }
            let path = ooxml::in_folder("xl", target);
            let records = archive
                .entry(&path)?
                .ok_or_else(|| not_a_workbook(&format!("it lists sheet {name} and does not hold it")))?;
            let mut sheet = Sheet { name, hidden, from_1904, ..Sheet::default() };
            fill(&mut sheet, &records, &styles, &strings, &mut room)?;
            part.pages.extend(page(sheet, &mut output.notices));
        }
        output.parts.push(part);
        Ok(output)
    })
}

struct Record<'a> {
    kind: u16,
    data: &'a [u8],
}

/// The records of one part of the file: number and length in seven bits to the byte, then the content.
struct Records<'a>(&'a [u8]);

impl<'a> Records<'a> {
    fn number(&mut self, most: u32) -> Option<u32> {
        let mut number = 0;
        for step in 0..most {
            let (byte, rest) = self.0.split_first()?;
            self.0 = rest;
            number |= u32::from(byte & 0x7f) << (7 * step);
            if byte & 0x80 == 0 {
                break;
            }
        }
        Some(number)
    }
}

impl<'a> Iterator for Records<'a> {
    type Item = Record<'a>;

    fn next(&mut self) -> Option<Record<'a>> {
        let kind = u16::try_from(self.number(2)?).ok()?;
        let length = self.number(4)? as usize;
        let data = self.0.get(..length)?;
        self.0 = self.0.get(length..)?;
        Some(Record { kind, data })
    }
}

/// Units of a string whose length stands in four bytes before it, and where it ends.
fn units(data: &[u8], place: usize) -> Option<(Vec<u16>, usize)> {
    let count = u32_at(data, place)? as usize;
    let start = place.checked_add(4)?;
    let end = start.checked_add(count.checked_mul(2)?)?;
    let bytes = data.get(start..end)?;
    Some((bytes.chunks_exact(2).filter_map(|pair| u16_at(pair, 0)).collect(), end))
}

fn text(data: &[u8], place: usize) -> Option<(String, usize)> {
    units(data, place).map(|(units, end)| (String::from_utf16_lossy(&units), end))
}

/// Hidden, relationship id and name of a sheet.
fn listed_sheet(data: &[u8]) -> Option<(bool, String, String)> {
    let (id, end) = text(data, 8)?;
    Some((u32_at(data, 0)? & 3 != 0, id, text(data, end)?.0))
}

#[derive(Default)]
struct Styles {
    formats: Vec<Arc<NumberFormat>>,
    /// Look of each font.
    looks: Vec<Look>,
}

impl Styles {
    fn read(bytes: &[u8]) -> Self {
        let mut styles = Self::default();
        let mut codes: BTreeMap<u16, Arc<NumberFormat>> = BTreeMap::new();
        let mut of_cells = false;
        for record in Records(bytes) {
            match record.kind {
                kind::FONT => {
                    let name = text(record.data, 21).map(|(name, _)| name).unwrap_or_default();
                    styles.looks.push(Look::of(&name, u16_at(record.data, 6) == Some(1)));
                }
                kind::FORMAT => {
                    if let (Some(id), Some((code, _))) = (u16_at(record.data, 0), text(record.data, 2)) {
                        codes.insert(id, Arc::new(NumberFormat::parse(&code)));
                    }
                }
                kind::CELL_STYLES => of_cells = true,
                kind::END_CELL_STYLES => of_cells = false,
                kind::STYLE if of_cells => {
                    let id = u16_at(record.data, 2).unwrap_or(0);
                    let format = codes.entry(id).or_insert_with(|| Arc::new(NumberFormat::built_in(id)));
                    styles.formats.push(format.clone());
                }
                _ => {}
            }
        }
        styles
    }

    /// Text with its runs (MS-XLSB, section 2.5.122).
    fn rich(&self, data: &[u8]) -> Option<String> {
        let flags = *data.first()?;
        let (units, end) = units(data, 1)?;
        let mut runs = Vec::new();
        if flags & 1 != 0 {
            let count = u32_at(data, end)? as usize;
            let all = data.get(end.checked_add(4)?..)?;
            for run in all.chunks_exact(4).take(count) {
                let font = usize::from(u16_at(run, 2)?);
                runs.push((usize::from(u16_at(run, 0)?), self.looks.get(font).copied().unwrap_or_default()));
            }
        }
        Some(rich_text(&units, &runs))
    }
}

/// Reads a sheet's records into it.
fn fill(
    sheet: &mut Sheet,
    records: &[u8],
    styles: &Styles,
    strings: &[String],
    room: &mut Room,
) -> Result<(), ReadError> {
    let mut row = 0;
    for record in Records(records) {
        let data = record.data;
        match record.kind {
            kind::ROW_HEADER => {
                row = u32_at(data, 0).unwrap_or(row);
                // fDyZero is bit 4 of the twelfth byte.
                if data.get(11).is_some_and(|flags| flags & 0x10 != 0) || u16_at(data, 8) == Some(0) {
                    sheet.hidden_rows.add(row, row);
                }
            }
            kind::COLUMN_INFO => {
                let is_hidden = u16_at(data, 16).is_some_and(|flags| flags & 1 != 0) || u32_at(data, 8) == Some(0);
                if let (true, Some(first), Some(last)) = (is_hidden, u32_at(data, 0), u32_at(data, 4)) {
                    sheet.hidden_columns.add(first, last.max(first));
                }
            }
            kind::MERGED => {
                let at = |place| u32_at(data, place);
                if let (Some(top), Some(bottom), Some(left), Some(right)) = (at(0), at(4), at(8), at(12)) {
                    sheet.merged.push(Merged { first: (top, left), last: (bottom, right) });
                }
            }
            kind::END_SHEET => return Ok(()),
            _ => {
                if let (Some(value), Some(column)) = (value(&record, styles, strings), u32_at(data, 0)) {
                    let style = u32_at(data, 4).unwrap_or(0) & 0x00ff_ffff;
                    let format = styles.formats.get(style as usize).cloned();
                    room.add(&mut sheet.cells, Cell { column, row, value, format })?;
                }
            }
        }
    }
    Err(not_a_workbook(&format!("sheet {} is cut short", sheet.name)))
}

fn value(record: &Record<'_>, styles: &Styles, strings: &[String]) -> Option<Value> {
    let data = record.data;
    Some(match record.kind {
        kind::CELL_RK => Value::Number(rk(u32_at(data, 8)?)),
        kind::CELL_REAL | kind::FORMULA_NUMBER => Value::Number(f64_at(data, 8)?),
        kind::CELL_BOOL | kind::FORMULA_BOOL => Value::Bool(*data.get(8)? != 0),
        kind::CELL_ERROR | kind::FORMULA_ERROR => Value::Text(error_word(*data.get(8)?)),
        kind::CELL_TEXT | kind::FORMULA_TEXT => Value::Text(text(data, 8)?.0),
        kind::CELL_RICH => Value::Text(styles.rich(data.get(8..)?)?),
        kind::CELL_SHARED => {
            let index = u32_at(data, 8)? as usize;
            Value::Text(strings.get(index).cloned().unwrap_or_else(|| format!("#missing string {index}")))
        }
        _ => return None,
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::kit::testing::{TRAPS_HIDDEN, bytes, cells, fixture, hidden, traps};
    use super::*;
    use calamine::{Data, Reader, Xlsb};
    use std::io::Cursor;

    #[test]
    fn every_trap_is_read_as_it_is_shown() {
        let document = fixture("traps.xlsb");
        assert_eq!(document.source.format, "xlsb");
        assert_eq!(cells(&document), traps("C8 93.0 [number 93 decimals 1]"));
        assert_eq!(hidden(&document), TRAPS_HIDDEN);
    }

    #[test]
    fn calamine_finds_the_same_cells() {
        let mut book = Xlsb::new(Cursor::new(bytes("traps.xlsb"))).unwrap();
        let range = book.worksheet_range("Results").unwrap();
        let at = |cell| range.get_value(cell).cloned().unwrap_or_default();
        assert_eq!(at((2, 2)), Data::Float(0.473));
        assert_eq!(at((3, 2)), Data::Int(92));
        assert_eq!(at((7, 2)), Data::Float(93.0));
        assert_eq!(at((10, 2)), Data::Bool(true));
        assert_eq!(at((12, 2)), Data::String("0.8 g/cm3 & <1".into()));
        // B and C of 18 rows, less the C of the merged one, and F3.
        assert_eq!(range.used_cells().filter(|(_, _, data)| **data != Data::Empty).count(), 36);
    }

    #[test]
    fn lengths_are_read_in_seven_bits_and_a_cut_record_ends_the_list() {
        let mut bytes = vec![0x9c, 0x01, 0x81, 0x01];
        bytes.extend([7; 129]);
        bytes.extend([5, 9, 1]);
        let records: Vec<(u16, usize)> = Records(&bytes).map(|r| (r.kind, r.data.len())).collect();
        assert_eq!(records, [(156, 129)]);
    }
}
