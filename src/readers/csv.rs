//! Delimited text: rows of cells, the delimiter told from the content.
//!
//! A letter is full of commas and a decimal comma stands on every line of a German table, so text counts as delimited
//! only where a delimiter gives the same number of fields over and over. Rows above and below that block stay rows.
//! [`Line::top`] counts records and the blank lines between them.

use super::kit::clean::clean;
use super::text::{check_size, encoding_notice};
use super::{Input, ReadError, ReadOptions, ReadOutput, too_large};
use crate::document::{Line, Page, Part, Word};
use crate::place::Where;

/// Delimiters in the order in which they win where two fit equally well: the comma last, as it has other work.
const DELIMITERS: [u8; 4] = [b'\t', b';', b'|', b','];
/// Records that a guess of the delimiter looks at.
const LOOKED_AT: usize = 2_000;
/// Line breaks in one quoted field from which on the quotes are taken for inch marks or slips.
const FIELD_BREAKS: usize = 30;

/// How a text is cut into cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Dialect {
    delimiter: u8,
    quoting: bool,
    /// Fields in a row of the table.
    width: usize,
}

struct Record {
    line: u32,
    top: u32,
    fields: Vec<String>,
    raw: String,
}

pub(super) fn sniff(input: &Input<'_>) -> bool {
    let Some(decoded) = input.content.text() else { return false };
    let trusted = super::FORMATS.iter().any(|f| f.name == "csv" && f.extensions.contains(&input.extension));
    dialect(&normalized(&decoded.text), trusted).is_some()
}

pub(super) fn read(input: &Input<'_>, options: &ReadOptions) -> Result<ReadOutput, ReadError> {
    let decoded = input.content.text();
    let text = normalized(decoded.map_or("", |d| &d.text));
    check_size(&text, &options.limits)?;
    let Some(dialect) = dialect(&text, true) else {
        return Err(ReadError::new(
            "not-delimited",
            "no delimiter gives the same number of cells twice; name the file .txt",
        ));
    };
    let declared = declared_delimiter(&text).is_some();
    let records = records(&text, dialect, usize::MAX);
    let spaced = is_spaced(&records, dialect);
    let mut page = Page::default();
    let mut cells = 0_usize;
    let mut above = true;
    for record in records.iter().skip(usize::from(declared)) {
        cells += record.fields.len();
        if cells > options.limits.cells {
            return Err(too_large("cells", cells as u64, options.limits.cells as u64, "cells"));
        }
        above = above && (record.fields.len() != dialect.width || has_blanks_after_commas(record));
        let words = if !spaced && is_prose(record, dialect, above) {
            vec![Word::cell(clean(&record.raw), 0, Where::line_column(record.line, 1))]
        } else {
            row(record)
        };
        if !words.is_empty() {
            page.lines.push(Line { table: Some(1), words, top: record.top as f32, bottom: record.top as f32 + 1.0 });
        }
    }
    Ok(ReadOutput {
        parts: vec![Part { pages: vec![page], ..Part::default() }],
        notices: encoding_notice(decoded.and_then(|d| d.doubt.as_deref())),
    })
}

fn normalized(text: &str) -> String {
    text.replace("\r\n", "\n").replace('\r', "\n")
}

fn row(record: &Record) -> Vec<Word> {
    // A row of nothing but strokes is a rule drawn under a heading.
    let is_rule = |field: &String| field.trim().chars().all(|c| matches!(c, '-' | '=' | '+' | ':' | '_' | '|' | '*'));
    if record.fields.iter().all(is_rule) && record.fields.iter().any(|f| f.trim().len() > 1) {
        return Vec::new();
    }
    (0_u32..)
        .zip(&record.fields)
        .map(|(column, field)| (column, clean(unwrapped(field))))
        .filter(|(_, text)| !text.trim().is_empty())
        .map(|(column, text)| Word::cell(text, column, Where::line_column(record.line, column + 1)))
        .collect()
}

/// Spreadsheets write `="0012"` to keep text from becoming a number.
fn unwrapped(field: &str) -> &str {
    let inner = field.strip_prefix("=\"").and_then(|rest| rest.strip_suffix('"'));
    inner.unwrap_or(field)
}

fn declared_delimiter(text: &str) -> Option<u8> {
    let first = text.lines().next()?.trim().trim_matches('"');
    let delimiter = first.strip_prefix("sep=").or_else(|| first.strip_prefix("SEP="))?;
    match delimiter.as_bytes() {
        [] => Some(b'\t'),
        [one] if one.is_ascii_punctuation() => Some(*one),
        _ => None,
    }
}

/// The dialect that fits best, or none. `trusted`: the name already says that the text is delimited.
fn dialect(text: &str, trusted: bool) -> Option<Dialect> {
    if let Some(delimiter) = declared_delimiter(text) {
        return fit(text, delimiter).map(|fit| fit.dialect).or(Some(Dialect { delimiter, quoting: true, width: 1 }));
    }
    let mut best: Option<Fit> = None;
    for delimiter in DELIMITERS {
        let Some(fit) = fit(text, delimiter) else { continue };
        if !(if trusted { fit.is_possible() } else { fit.convinces() }) {
            continue;
        }
        if best.as_ref().is_none_or(|b| fit.beats(b)) {
            best = Some(fit);
        }
    }
    best.map(|fit| fit.dialect)
}

struct Fit {
    dialect: Dialect,
    /// Records with the commonest number of fields.
    rows: usize,
    /// Records that are not blank.
    records: usize,
    /// Delimiters of those rows that stand close, with no blank after them.
    close: usize,
    delimiters: usize,
    /// Rows in which some delimiter does not stand between two digits.
    worded: usize,
    /// Fields with a run of blanks inside, as columns of print have.
    gapped: usize,
}

impl Fit {
    /// Commas that all stand between digits are decimal ones, and runs of blanks are columns of print.
    fn is_possible(&self) -> bool {
        self.dialect.delimiter != b',' || (self.worded >= 1 && self.gapped * 2 < self.rows.max(1))
    }

    /// Whether it cuts more cells. A comma must have other work than decimals in a good part of its rows for that.
    fn beats(&self, other: &Self) -> bool {
        let score = |fit: &Self| fit.rows * (fit.dialect.width - 1);
        score(self) > score(other) && (self.dialect.delimiter != b',' || self.worded * 3 >= self.rows)
    }

    fn convinces(&self) -> bool {
        let share = |part: usize, whole: usize| part as f64 / whole.max(1) as f64;
        match self.dialect.delimiter {
            b',' => {
                self.dialect.width >= 3
                    && self.rows >= 3
                    && share(self.rows, self.records) >= 0.5
                    && share(self.close, self.delimiters) >= 0.8
                    && self.worded >= 1
                    && share(self.gapped, self.rows) < 0.2
            }
            b'\t' => self.rows >= 3 && share(self.rows, self.records) >= 0.7,
            _ => {
                (self.dialect.width >= 3 && self.rows >= 3 || self.rows >= 2 && self.rows == self.records)
                    || (self.rows >= 3 && share(self.rows, self.records) >= 0.6)
            }
        }
    }
}

fn fit(text: &str, delimiter: u8) -> Option<Fit> {
    let quoted = Dialect { delimiter, quoting: true, width: 0 };
    let mut records = records(text, quoted, LOOKED_AT);
    let mut quoting = true;
    if quotes_are_slips(&records, delimiter) {
        quoting = false;
        records = self::records(text, Dialect { quoting, ..quoted }, LOOKED_AT);
    }
    let filled: Vec<&Record> = records.iter().filter(|r| r.fields.iter().any(|f| !f.trim().is_empty())).collect();
    let width = commonest(filled.iter().map(|r| r.fields.len()).filter(|n| *n > 1))?;
    let rows: Vec<&&Record> = filled.iter().filter(|r| r.fields.len() == width).collect();
    let gaps = |row: &Record| row.fields.iter().any(|f| f.trim().contains("  "));
    Some(Fit {
        dialect: Dialect { delimiter, quoting, width },
        rows: rows.len(),
        records: filled.len(),
        close: rows.iter().map(|r| r.fields.iter().skip(1).filter(|f| !f.starts_with(' ')).count()).sum(),
        delimiters: rows.len() * (width - 1),
        worded: rows.iter().filter(|r| !only_between_digits(&r.fields)).count(),
        gapped: rows.iter().filter(|r| gaps(r)).count(),
    })
}

/// The commonest number, the larger of two that are equally common.
fn commonest(counts: impl Iterator<Item = usize>) -> Option<usize> {
    let mut tally = std::collections::BTreeMap::new();
    for count in counts {
        *tally.entry(count).or_insert(0_usize) += 1;
    }
    tally.into_iter().max_by_key(|(count, times)| (*times, *count)).map(|(count, _)| count)
}

/// Whether each delimiter of a row stands between two digits, as decimal commas do.
fn only_between_digits(fields: &[String]) -> bool {
    fields.iter().zip(fields.iter().skip(1)).all(|(left, right)| {
        left.ends_with(|c: char| c.is_ascii_digit()) && right.starts_with(|c: char| c.is_ascii_digit())
    })
}

/// An inch mark at the start of a field opens a quote that swallows the rows below it.
fn quotes_are_slips(records: &[Record], delimiter: u8) -> bool {
    let delimiter = char::from(delimiter);
    records.iter().flat_map(|r| &r.fields).filter(|f| f.contains('\n')).any(|field| {
        let breaks = field.matches('\n').count();
        breaks > FIELD_BREAKS
            || field.lines().skip(1).filter(|line| line.contains(delimiter)).count() > breaks.div_ceil(2)
    })
}

fn records(text: &str, dialect: Dialect, limit: usize) -> Vec<Record> {
    let mut reader = ::csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(dialect.delimiter)
        .quoting(dialect.quoting)
        .from_reader(text.as_bytes());
    let mut records: Vec<Record> = Vec::new();
    let mut fields = ::csv::StringRecord::new();
    let (mut line, mut top) = (1_u32, 0_u32);
    loop {
        let from = usize::try_from(reader.position().byte()).unwrap_or(usize::MAX);
        if records.len() >= limit || !reader.read_record(&mut fields).unwrap_or(false) {
            return records;
        }
        let to = usize::try_from(reader.position().byte()).unwrap_or(usize::MAX);
        let raw = text.get(from..to).unwrap_or_default();
        let blank = raw.chars().take_while(|c| *c == '\n').count();
        let blank = u32::try_from(blank).unwrap_or(u32::MAX);
        line = line.saturating_add(blank);
        top = top.saturating_add(blank);
        let breaks = raw.matches('\n').count();
        records.push(Record {
            line,
            top,
            fields: fields.iter().map(str::to_owned).collect(),
            raw: raw.trim_matches('\n').to_owned(),
        });
        line = line.saturating_add(u32::try_from(breaks).unwrap_or(u32::MAX).saturating_sub(blank));
        top = top.saturating_add(1);
    }
}

/// Whether the rows of the table themselves have a blank after each comma.
fn is_spaced(records: &[Record], dialect: Dialect) -> bool {
    let rows = records.iter().filter(|r| r.fields.len() == dialect.width);
    let (mut spaced, mut all) = (0_usize, 0_usize);
    for field in rows.flat_map(|r| r.fields.iter().skip(1)) {
        all += 1;
        spaced += usize::from(field.starts_with(' '));
    }
    spaced * 2 > all
}

/// A line of prose among rows whose commas have no blank after them. `above`: it stands above the first such row, and
/// may then have as many commas as one.
fn is_prose(record: &Record, dialect: Dialect, above: bool) -> bool {
    let is_number = |field: &String| field.trim().parse::<f64>().is_ok();
    dialect.delimiter == b','
        && record.fields.len() > 1
        && (record.fields.len() != dialect.width || (above && !record.fields.iter().any(is_number)))
        && !record.raw.contains('"')
        && has_blanks_after_commas(record)
}

fn has_blanks_after_commas(record: &Record) -> bool {
    record.fields.iter().skip(1).all(|f| f.starts_with(' ') && !f.trim().is_empty())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::readers::read as read_file;

    /// Rows as `top line: column=text|column=text`.
    fn rows(name: &str, bytes: &[u8]) -> Vec<String> {
        let document = read_file(name, bytes, &ReadOptions::default()).unwrap();
        assert_eq!(document.source.format, "csv");
        let lines = &document.parts.first().unwrap().pages.first().unwrap().lines;
        lines
            .iter()
            .map(|line| {
                let cells: Vec<String> = line
                    .words
                    .iter()
                    .map(|w| {
                        assert_eq!(w.place.column, Some(w.x0 as u32 + 1));
                        format!("{}={}", w.x0, w.text)
                    })
                    .collect();
                format!("{} {}: {}", line.top, line.words.first().unwrap().place.line.unwrap(), cells.join("|"))
            })
            .collect()
    }

    fn format(name: &str, text: &str) -> String {
        read_file(name, text.as_bytes(), &ReadOptions::default()).unwrap().source.format
    }

    #[test]
    fn decimal_commas_stay_in_the_cells_of_a_semicolon_file() {
        assert_eq!(
            rows("a.csv", b"Eigenschaft;Wert;Einheit\r\nFeuchte;47,3;%\r\n\r\nEisen;<50;mg/kg\r\n"),
            ["0 1: 0=Eigenschaft|1=Wert|2=Einheit", "1 2: 0=Feuchte|1=47,3|2=%", "3 4: 0=Eisen|1=<50|2=mg/kg"]
        );
    }

    #[test]
    fn a_preamble_and_a_quoted_line_break_keep_the_physical_lines() {
        let text = b"Larkfield Water Service, Unit 4, Mill Street\nReport,NB-17\n\n\nproperty,value,unit\n\
            \"moisture,\nretention\",47.3,%\nwhole beads,92,%\nremark,\"brown, \"\"old\"\"\",\n";
        assert_eq!(
            rows("a.csv", text),
            [
                "0 1: 0=Larkfield Water Service, Unit 4, Mill Street",
                "1 2: 0=Report|1=NB-17",
                "4 5: 0=property|1=value|2=unit",
                "5 6: 0=moisture,\nretention|1=47.3|2=%",
                "6 8: 0=whole beads|1=92|2=%",
                "7 9: 0=remark|1=brown, \"old\"",
            ]
        );
    }

    #[test]
    fn the_declared_delimiter_wins_and_its_line_is_no_row() {
        assert_eq!(
            rows("a.csv", b"sep=;\nmoisture;47,3\nbeads;92,0\n"),
            ["1 2: 0=moisture|1=47,3", "2 3: 0=beads|1=92,0"]
        );
    }

    #[test]
    fn tabs_and_pipes_are_told_without_a_name() {
        assert_eq!(rows("a", b"moisture\t47.3\t%\nbeads\t92\t%\niron\t<50\tmg/kg\n").len(), 3);
        assert_eq!(
            rows("a.txt", b"| property | value |\n|---|---|\n| iron | 50 |\n| copper | 2 |\n"),
            ["0 1: 1= property |2= value ", "2 3: 1= iron |2= 50 ", "3 4: 1= copper |2= 2 "]
        );
    }

    #[test]
    fn utf16_with_tabs_is_what_spreadsheets_call_unicode_text() {
        let mut bytes = vec![0xff, 0xfe];
        bytes.extend("Größe\tµm\r\nMittel\t640\r\nMax\t900\r\n".encode_utf16().flat_map(u16::to_le_bytes));
        assert_eq!(rows("a.txt", &bytes).first().unwrap(), "0 1: 0=Größe|1=µm");
    }

    #[test]
    fn a_letter_with_commas_is_no_table() {
        let letter = "Dear Sirs,\n\nyour resin, sampled in May, was tested, and here is what we found.\n\
            Moisture, 47.3 %, is high, iron, 6200 mg/kg, too.\nThe beads, brown, were 92 % whole.\n\nYours, the laboratory\n";
        assert_eq!(format("a.txt", letter), "text");
        assert_eq!(format("a", letter), "text");
        assert_eq!(format("a.txt", "Feuchte: 47,3 %\nEisen: 50,1 mg/kg\nKupfer: 2,0 mg/kg\nganz: 92,0 %\n"), "text");
        assert_eq!(format("a.txt", "Feuchte   47,3   45,0\nEisen   50,1   10,0\nKupfer   2,0   1,0\n"), "text");
        assert_eq!(format("a.txt", "Iron; 50 mg/kg\nplain\nlines\nmore\nlines\n"), "text");
    }

    #[test]
    fn commas_and_semicolons_in_cells_do_not_win() {
        let ranges = b"Feuchte;47,3 (45,0 bis 50,0)\nEisen;50,1 (0,0 bis 100,0)\nKupfer;2,0 (0,0 bis 5,0)\n";
        assert_eq!(rows("a.csv", ranges).first().unwrap(), "0 1: 0=Feuchte|1=47,3 (45,0 bis 50,0)");
        let remarks = b"property,value,remark\nmoisture,47.3,high; repeated\nbeads,92,brown; old\niron,50,low; once\n";
        assert_eq!(rows("a.csv", remarks).get(1).map(String::as_str), Some("1 2: 0=moisture|1=47.3|2=high; repeated"));
        assert_eq!(format("a.csv", "Feuchte   47,3   45,0\nEisen   50,1   10,0\nKupfer   2,0   1,0\n"), "text");
    }

    #[test]
    fn an_inch_mark_swallows_no_rows() {
        let text = b"item,value,unit\n\"24 in tank,24,in\nmoisture,47.3,%\nbeads,92,%\niron,50,mg/kg\n";
        assert_eq!(rows("a.csv", text).len(), 5);
    }

    #[test]
    fn a_row_without_content_leaves_a_gap() {
        assert_eq!(rows("a.csv", b"a;b\n;\nc;d\n"), ["0 1: 0=a|1=b", "2 3: 0=c|1=d"]);
    }

    #[test]
    fn too_many_cells_are_refused() {
        let limits = crate::readers::Limits { cells: 5, ..Default::default() };
        let options = ReadOptions { limits, ..ReadOptions::default() };
        assert_eq!(read_file("a.csv", b"a,b,c\nd,e,f\n", &options).unwrap_err().code, "too-large");
    }
}
