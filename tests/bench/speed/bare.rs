//! The libraries' own passes over a file: every character, cell or field once, and nothing made of it.

use calamine::Reader;
use std::error::Error;
use std::hint::black_box;
use std::io::{Cursor, Write};
use std::panic::catch_unwind;

/// The text pass over some PDF files panics; the benchmark is not about that.
pub fn silence() {
    std::panic::set_hook(Box::new(|_| {}));
}

pub fn pdf(bytes: &[u8]) {
    let _ = catch_unwind(|| black_box(pdf_extract::extract_text_from_mem(bytes)));
}

pub fn workbook(bytes: &[u8]) {
    let Ok(mut book) = calamine::open_workbook_auto_from_rs(Cursor::new(bytes)) else { return };
    for (_, range) in book.worksheets() {
        for cell in range.cells() {
            black_box(cell);
        }
    }
}

pub fn delimited(bytes: &[u8]) {
    let first = bytes.split(|b| *b == b'\n').next().unwrap_or_default();
    let count = |d: u8| first.iter().filter(|b| **b == d).count();
    let delimiter = [b',', b';', b'\t', b'|'].into_iter().max_by_key(|d| count(*d)).unwrap_or(b',');
    let mut rows = csv::ReaderBuilder::new().delimiter(delimiter).flexible(true).has_headers(false).from_reader(bytes);
    for row in rows.byte_records().flatten() {
        for field in &row {
            black_box(field);
        }
    }
}

/// A table of many samples: identifier, date, and eight figures.
pub fn big_table(rows: usize) -> Vec<u8> {
    let mut text =
        "Sample;Sampled;Total capacity (eq/L);Moisture (%);Whole beads (%);Iron, dry (mg/kg);Density (g/L)\n"
            .to_owned();
    for n in 0..rows {
        let v = n % 37;
        text += &format!(
            "S-{n};2024-03-{:02};1.{:02};4{}.{};9{};{};8{:02}\n",
            n % 28 + 1,
            v + 40,
            v % 9,
            v % 7,
            v % 9,
            100 + v * 3,
            v
        );
    }
    text.into_bytes()
}

/// The same as a workbook of inline strings and numbers.
pub fn big_workbook(rows: usize) -> Result<Vec<u8>, Box<dyn Error>> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let mut put = |name: &str, text: &str| -> Result<(), Box<dyn Error>> {
        zip.start_file(name, zip::write::SimpleFileOptions::default())?;
        zip.write_all(text.as_bytes())?;
        Ok(())
    };
    let types = "http://schemas.openxmlformats.org/package/2006/content-types";
    let relations = "http://schemas.openxmlformats.org/package/2006/relationships";
    let office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
    let main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
    let ml = "application/vnd.openxmlformats-officedocument.spreadsheetml";
    put(
        "[Content_Types].xml",
        &format!(
            "<Types xmlns=\"{types}\"><Default Extension=\"rels\" ContentType=\"application/vnd.openxmlformats-package.relationships+xml\"/><Override PartName=\"/xl/workbook.xml\" ContentType=\"{ml}.sheet.main+xml\"/><Override PartName=\"/xl/worksheets/sheet1.xml\" ContentType=\"{ml}.worksheet+xml\"/></Types>"
        ),
    )?;
    put(
        "_rels/.rels",
        &format!(
            "<Relationships xmlns=\"{relations}\"><Relationship Id=\"rId1\" Type=\"{office}/officeDocument\" Target=\"xl/workbook.xml\"/></Relationships>"
        ),
    )?;
    put(
        "xl/_rels/workbook.xml.rels",
        &format!(
            "<Relationships xmlns=\"{relations}\"><Relationship Id=\"rId1\" Type=\"{office}/worksheet\" Target=\"worksheets/sheet1.xml\"/></Relationships>"
        ),
    )?;
    put(
        "xl/workbook.xml",
        &format!(
            "<workbook xmlns=\"{main}\" xmlns:r=\"{office}\"><sheets><sheet name=\"Results\" sheetId=\"1\" r:id=\"rId1\"/></sheets></workbook>"
        ),
    )?;
    let mut sheet = format!("<worksheet xmlns=\"{main}\"><sheetData>");
    let table = String::from_utf8(big_table(rows))?;
    for (row, line) in (1_u32..).zip(table.lines()) {
        sheet += &format!("<row r=\"{row}\">");
        for (column, cell) in ('A'..='G').zip(line.split(';')) {
            let is_number = cell.parse::<f64>().is_ok();
            // Text is random enough that the archive's ratio stays that of an ordinary sheet.
            sheet += &if is_number {
                format!("<c r=\"{column}{row}\"><v>{cell}</v></c>")
            } else {
                format!("<c r=\"{column}{row}\" t=\"inlineStr\"><is><t>{cell}</t></is></c>")
            };
        }
        sheet += "</row>";
    }
    sheet += "</sheetData></worksheet>";
    put("xl/worksheets/sheet1.xml", &sheet)?;
    Ok(zip.finish()?.into_inner())
}
