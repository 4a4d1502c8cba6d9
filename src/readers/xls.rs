//! Workbooks of Excel 5 to 2003.
//!
//! The records are read here rather than by calamine: their number formats, hidden rows and raised figures have to be
//! read anyway, and calamine lays a sheet out densely, so that two far cells can take all memory. The tests hold
//! both against each other.

use super::kit::biff::{Record, Records, Strings, f64_at, kind, shared_strings, u16_at, u32_at};
use super::kit::content::Content;
use super::kit::grid::{Cell, Merged, Sheet, Value, page};
use super::kit::number_format::NumberFormat;
use super::kit::workbook::{Look, Room, error_word, guarded, not_a_workbook, rk};
use super::{Input, ReadError, ReadOptions, ReadOutput};
use crate::document::Part;
use encoding_rs::WINDOWS_1252;
use std::collections::BTreeMap;
use std::io::{Cursor, Read};
use std::sync::Arc;

/// Kind of a substream that is a worksheet (MS-XLS, section 2.4.28).
const WORKSHEET: u8 = 0;
/// Index that no font has; those behind it stand one place earlier (MS-XLS, section 2.5.129).
const NO_FONT: u16 = 4;

pub(super) fn sniff(input: &Input<'_>) -> bool {
    matches!(input.content, Content::Compound(_))
        && (input.content.compound_holds("Workbook") || input.content.compound_holds("Book"))
}

pub(super) fn read(input: &Input<'_>, options: &ReadOptions) -> Result<ReadOutput, ReadError> {
    guarded(|| {
        let stream = workbook_stream(input.bytes)?;
        let globals = Globals::read(&stream)?;
        let mut output = ReadOutput::default();
        let mut part = Part::default();
        let mut room = Room::new(&options.limits);
        for listed in globals.sheets.iter().filter(|sheet| sheet.kind == WORKSHEET) {
            let sheet = read_sheet(&stream, listed, &globals, &mut room)?;
            part.pages.extend(page(sheet, &mut output.notices));
        }
        output.parts.push(part);
        Ok(output)
    })
}

fn workbook_stream(bytes: &[u8]) -> Result<Vec<u8>, ReadError> {
    let mut file = cfb::CompoundFile::open(Cursor::new(bytes)).map_err(|error| not_a_workbook(&error))?;
    for name in ["Workbook", "Book"] {
        if let Ok(stream) = file.open_stream(name) {
            let mut content = Vec::new();
            // A stream cannot hold more than the file; a chain of sectors that runs in a ring can claim to.
            stream.take(bytes.len() as u64).read_to_end(&mut content).map_err(|error| not_a_workbook(&error))?;
            return Ok(content);
        }
    }
    Err(not_a_workbook(&"it holds no workbook stream"))
}

struct ListedSheet {
    place: usize,
    name: String,
    hidden: bool,
    kind: u8,
}

/// What the first part of the stream says for all sheets.
struct Globals {
    strings: Strings,
    sheets: Vec<ListedSheet>,
    shared: Vec<String>,
    /// Format of each cell style.
    formats: Vec<Arc<NumberFormat>>,
    /// Look of each font.
    looks: Vec<Look>,
    from_1904: bool,
    /// Written by a program that computes nothing: no record of a computation stands in it.
    never_computed: bool,
}

/// Record that Excel and LibreOffice leave where formulas were computed (MS-XLS, section 2.4.215).
const RECALC_ID: u16 = 0x01c1;

impl Globals {
    fn read(stream: &[u8]) -> Result<Self, ReadError> {
        let mut globals = Self {
            strings: Strings { unicode: true, page: WINDOWS_1252 },
            sheets: Vec::new(),
            shared: Vec::new(),
            formats: Vec::new(),
            looks: Vec::new(),
            from_1904: false,
            never_computed: true,
        };
        let mut codes: BTreeMap<u16, Arc<NumberFormat>> = BTreeMap::new();
        let mut styles = Vec::new();
        for record in Records::from(stream, 0) {
            let data = record.data;
            match record.kind {
                kind::BOF => globals.strings.unicode = u16_at(data, 0) != Some(0x0500),
                kind::FILE_PASS => {
                    return Err(ReadError::new(
                        "encrypted",
                        "the workbook is encrypted; open it with its password and save it again without one",
                    ));
                }
                kind::CODE_PAGE => globals.strings.page = Strings::page(u16_at(data, 0).unwrap_or(1252)),
                kind::DATE_MODE => globals.from_1904 = u16_at(data, 0) == Some(1),
                kind::FONT => {
                    // The name is a short string in old workbooks too.
                    let name = globals.strings.read(data.get(14..).unwrap_or_default(), true).unwrap_or_default();
                    globals.looks.push(Look::of(&name, u16_at(data, 8) == Some(1)));
                }
                kind::FORMAT => {
                    let short = !globals.strings.unicode;
                    let code = globals.strings.read(data.get(2..).unwrap_or_default(), short);
                    if let (Some(id), Some(code)) = (u16_at(data, 0), code) {
                        codes.insert(id, Arc::new(NumberFormat::parse(&code)));
                    }
                }
                kind::XF => styles.push(u16_at(data, 2).unwrap_or(0)),
                kind::BOUND_SHEET => globals.sheets.extend(listed_sheet(data, globals.strings)),
                kind::SST => globals.shared = shared_strings(&record, &|font| globals.look(font)),
                RECALC_ID => globals.never_computed = false,
                kind::EOF => break,
                _ => {}
            }
        }
        globals.formats = styles
            .into_iter()
            .map(|id| codes.entry(id).or_insert_with(|| Arc::new(NumberFormat::built_in(id))).clone())
            .collect();
        Ok(globals)
    }

    fn look(&self, font: u16) -> Look {
        let index = if font > NO_FONT { font - 1 } else { font };
        self.looks.get(usize::from(index)).copied().unwrap_or_default()
    }

    fn format(&self, data: &[u8]) -> Option<Arc<NumberFormat>> {
        self.formats.get(usize::from(u16_at(data, 4)?)).cloned()
    }
}

fn listed_sheet(data: &[u8], strings: Strings) -> Option<ListedSheet> {
    Some(ListedSheet {
        place: u32_at(data, 0)? as usize,
        hidden: *data.get(4)? & 3 != 0,
        kind: *data.get(5)?,
        name: strings.read(data.get(6..)?, true)?.replace('\0', ""),
    })
}

fn read_sheet(stream: &[u8], listed: &ListedSheet, globals: &Globals, room: &mut Room) -> Result<Sheet, ReadError> {
    let mut sheet =
        Sheet { name: listed.name.clone(), hidden: listed.hidden, from_1904: globals.from_1904, ..Sheet::default() };
    // A chart on a sheet is a stream inside the stream, with cells of its own.
    let mut depth = 0_usize;
    let mut waiting: Option<Cell> = None;
    for record in Records::from(stream, listed.place) {
        match record.kind {
            kind::BOF => depth += 1,
            kind::EOF if depth <= 1 => break,
            kind::EOF => depth -= 1,
            _ if depth != 1 => {}
            kind::STRING => {
                if let Some(cell) = waiting.take() {
                    let text = globals.strings.read(record.data, false).unwrap_or_default();
                    room.add(&mut sheet.cells, Cell { value: Value::Text(text), ..cell })?;
                }
            }
            _ => {
                for cell in cells(&record, globals) {
                    if let Some(without_text) = waiting.take() {
                        room.add(&mut sheet.cells, without_text)?;
                    }
                    if record.kind == kind::FORMULA && text_follows(record.data) {
                        waiting = Some(cell);
                    } else {
                        room.add(&mut sheet.cells, cell)?;
                    }
                }
                shape(&record, &mut sheet);
            }
        }
    }
    if let Some(without_text) = waiting {
        room.add(&mut sheet.cells, without_text)?;
    }
    Ok(sheet)
}

/// Rows, columns and merged ranges.
fn shape(record: &Record<'_>, sheet: &mut Sheet) {
    let data = record.data;
    let at = |place: usize| u16_at(data, place).map(u32::from);
    match record.kind {
        kind::ROW => {
            let is_hidden = u16_at(data, 12).is_some_and(|flags| flags & 0x20 != 0) || at(6) == Some(0);
            if let (true, Some(row)) = (is_hidden, at(0)) {
                sheet.hidden_rows.add(row, row);
            }
        }
        kind::COL_INFO => {
            let is_hidden = u16_at(data, 8).is_some_and(|flags| flags & 1 != 0) || at(4) == Some(0);
            if let (true, Some(first), Some(last)) = (is_hidden, at(0), at(2)) {
                sheet.hidden_columns.add(first, last.max(first));
            }
        }
        kind::MERGE_CELLS => {
            let ranges = data.get(2..).unwrap_or_default().chunks_exact(8);
            sheet.merged.extend(ranges.filter_map(|range| {
                let at = |place: usize| u16_at(range, place).map(u32::from);
                Some(Merged { first: (at(0)?, at(4)?), last: (at(2)?, at(6)?) })
            }));
        }
        _ => {}
    }
}

/// The cells of one record; nearly always one.
fn cells(record: &Record<'_>, globals: &Globals) -> Vec<Cell> {
    let data = record.data;
    if record.kind == kind::MUL_RK {
        return mul_rk(data, globals).unwrap_or_default();
    }
    let value = match record.kind {
        kind::NUMBER => f64_at(data, 6).map(Value::Number),
        kind::RK => u32_at(data, 6).map(|bits| Value::Number(rk(bits))),
        kind::LABEL_SST => {
            let index = u32_at(data, 6).map(|index| index as usize);
            let missing = || Value::Text(format!("#missing string {}", index.unwrap_or(0)));
            index.map(|i| globals.shared.get(i).map_or_else(missing, |text| Value::Text(text.clone())))
        }
        kind::LABEL | kind::R_STRING => {
            data.get(6..).and_then(|rest| globals.strings.read(rest, false)).map(Value::Text)
        }
        kind::BOOL_ERR => match (data.get(6), data.get(7)) {
            (Some(value), Some(0)) => Some(Value::Bool(*value != 0)),
            (Some(code), Some(_)) => Some(Value::Text(error_word(*code))),
            _ => None,
        },
        kind::FORMULA => formula_value(data, globals),
        _ => None,
    };
    let at = |place: usize| u16_at(data, place).map(u32::from);
    match (value, at(0), at(2)) {
        (Some(value), Some(row), Some(column)) => vec![Cell { column, row, value, format: globals.format(data) }],
        _ => Vec::new(),
    }
}

fn mul_rk(data: &[u8], globals: &Globals) -> Option<Vec<Cell>> {
    let (row, first) = (u32::from(u16_at(data, 0)?), u32::from(u16_at(data, 2)?));
    let numbers = data.get(4..data.len().checked_sub(2)?)?.chunks_exact(6);
    let cell = |(column, number): (u32, &[u8])| {
        let format = globals.formats.get(usize::from(u16_at(number, 0)?)).cloned();
        Some(Cell { column, row, value: Value::Number(rk(u32_at(number, 2)?)), format })
    };
    Some((first..).zip(numbers).filter_map(cell).collect())
}

/// The stored value of a formula. Source: MS-XLS, section 2.5.133.
fn formula_value(data: &[u8], globals: &Globals) -> Option<Value> {
    let without_value = Value::Formula(String::new());
    if u16_at(data, 12)? != 0xffff {
        let number = f64_at(data, 6)?;
        // Programs that write formulas without computing them store a zero.
        return Some(if globals.never_computed && number == 0.0 { without_value } else { Value::Number(number) });
    }
    let inner = *data.get(8)?;
    Some(match data.get(6)? {
        0 => without_value,
        1 => Value::Bool(inner != 0),
        2 => Value::Text(error_word(inner)),
        _ if globals.never_computed => without_value,
        _ => Value::Text(String::new()),
    })
}

/// Whether the text of a formula follows in a record of its own.
fn text_follows(data: &[u8]) -> bool {
    u16_at(data, 12) == Some(0xffff) && data.get(6) == Some(&0)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::kit::testing::{TRAPS_HIDDEN, bytes, cells as cells_shown, fixture, hidden, traps};
    use super::*;
    use calamine::{Data, Reader, Xls};

    #[test]
    fn every_trap_is_read_as_it_is_shown() {
        let document = fixture("traps.xls");
        assert_eq!(document.source.format, "xls");
        assert_eq!(cells_shown(&document), traps("C8 93.0 [number 93 decimals 1]"));
        assert_eq!(hidden(&document), TRAPS_HIDDEN);
    }

    #[test]
    fn a_program_that_does_not_compute_leaves_formulas_without_value() {
        let document = fixture("xlwt.xls");
        assert_eq!(
            cells_shown(&document),
            [
                "Results!A1 moisture",
                "Results!B1 47.3% [number 47.3 decimals 1 unit %]",
                "Results!A2 iron",
                "Results!B2 6200 mg/kg [number 6200 decimals 0 unit mg/kg]",
                "Results!A3 beads",
                "Results!B3 92 [number 92]",
                "Results!A4 formula",
                "Results!B4 [formula ]",
                "Results!A6 0.8 g/cm³ dry",
                "Results!A7 merged [spans 3 by 2]",
            ]
        );
        assert_eq!(
            hidden(&document),
            [
                "rows of sheet Results are hidden (5); left out: 1 cell",
                "columns of sheet Results are hidden (D); left out: 1 cell",
                "sheet Calc is hidden; left out: 1 cell"
            ]
        );
    }

    #[test]
    fn dates_count_from_1904_where_the_workbook_says_so() {
        assert_eq!(cells_shown(&fixture("epoch1904.xls")), ["Sheet!A1 2025-03-01 [date 2025-03-01]"]);
    }

    #[test]
    fn calamine_finds_the_same_numbers_and_words() {
        for name in ["traps.xls", "xlwt.xls", "epoch1904.xls"] {
            let bytes = bytes(name);
            let stream = workbook_stream(&bytes).unwrap();
            let globals = Globals::read(&stream).unwrap();
            let mut book = Xls::new(Cursor::new(bytes.as_slice())).unwrap();
            assert_eq!(book.has_1904_epoch(), globals.from_1904);
            for listed in &globals.sheets {
                let sheet = read_sheet(&stream, listed, &globals, &mut Room::new(&Default::default())).unwrap();
                let range = book.worksheet_range(&listed.name).unwrap();
                let mut compared = 0;
                for cell in &sheet.cells {
                    let theirs = range.get_value((cell.row, cell.column));
                    let same = match (&cell.value, theirs) {
                        (Value::Number(ours), Some(Data::Float(theirs))) => ours == theirs,
                        (Value::Number(ours), Some(Data::Int(theirs))) => *ours == *theirs as f64,
                        (Value::Number(ours), Some(Data::DateTime(theirs))) => *ours == theirs.as_f64(),
                        (Value::Bool(ours), Some(Data::Bool(theirs))) => ours == theirs,
                        (Value::Text(ours), Some(Data::Error(theirs))) => *ours == theirs.to_string(),
                        // calamine does not raise figures.
                        (Value::Text(ours), Some(Data::String(theirs))) => ours.replace('³', "3") == *theirs,
                        (Value::Formula(_), Some(Data::String(theirs))) => theirs.is_empty(),
                        _ => false,
                    };
                    assert!(same, "{name} {} {cell:?} {theirs:?}", listed.name);
                    compared += 1;
                }
                let filled = range.used_cells().filter(|(_, _, data)| **data != Data::Empty).count();
                assert_eq!(compared, filled, "{name} {}", listed.name);
            }
        }
    }

    #[test]
    fn workbooks_of_excel_5_have_their_strings_in_a_code_page() {
        let record = |kind: u16, data: &[u8]| {
            let length = u16::try_from(data.len()).unwrap();
            [&kind.to_le_bytes()[..], &length.to_le_bytes()[..], data].concat()
        };
        let mut globals = record(kind::BOF, &[0, 5, 5, 0]);
        globals.extend(record(kind::CODE_PAGE, &1252_u16.to_le_bytes()));
        globals.extend(record(kind::FORMAT, b"\xa4\x00\x090.0\" \xb5m\""));
        globals.extend(record(kind::XF, &[0, 0, 0xa4, 0]));
        let place = u32::try_from(globals.len() + 4 + 11 + 4).unwrap();
        globals.extend(record(kind::BOUND_SHEET, &[&place.to_le_bytes()[..], b"\x00\x00\x04Pr\xfcf"].concat()));
        globals.extend(record(kind::EOF, &[]));
        globals.extend(record(kind::BOF, &[0, 5, 0x10, 0]));
        globals.extend(record(kind::LABEL, b"\x00\x00\x00\x00\x00\x00\x05\x00Gr\xf6\xdfe"));
        globals.extend(record(kind::NUMBER, &[&[0, 0, 1, 0, 0, 0][..], &640.0_f64.to_le_bytes()].concat()));
        globals.extend(record(kind::EOF, &[]));
        let mut file = cfb::CompoundFile::create(Cursor::new(Vec::new())).unwrap();
        std::io::Write::write_all(&mut file.create_stream("Book").unwrap(), &globals).unwrap();
        let document = crate::readers::read("a.xls", file.into_inner().get_ref(), &ReadOptions::default()).unwrap();
        assert_eq!(cells_shown(&document), ["Prüf!A1 Größe", "Prüf!B1 640.0 µm [number 640 decimals 1 unit µm]"]);
    }

    #[test]
    fn an_encrypted_workbook_is_named_as_such() {
        // BOF of Excel 97 and a FILEPASS record.
        let stream = [0x09, 0x08, 4, 0, 0, 6, 5, 0, 0x2f, 0, 2, 0, 1, 0];
        assert_eq!(Globals::read(&stream).err().map(|e| e.code), Some("encrypted"));
    }
}
