//! Files made to hurt: each ends in a document or in an error that says why, soon, and never in a panic.
//!
//! They are made here, small where they can be, so that nothing hostile lies about. Time is bounded generously: what
//! goes wrong here takes minutes or all memory, and not some more seconds.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use beadwise::lexicon::Lexicon;
use beadwise::pipeline;
use beadwise::readers::{Limits, ReadOptions};
use std::io::{Cursor, Write};
use std::time::{Duration, Instant};

const LONGEST: Duration = Duration::from_secs(60);

/// Codes of the errors of a file; empty where it was read.
fn codes(name: &str, bytes: &[u8], limits: Limits) -> Vec<String> {
    let start = Instant::now();
    let options = ReadOptions { limits, ..ReadOptions::default() };
    let outcome = pipeline::read(name, bytes, &options, Lexicon::builtin());
    assert!(start.elapsed() < LONGEST, "{name} took {:?}", start.elapsed());
    assert!(outcome.errors.iter().all(|e| !e.text.is_empty() && !e.code.is_empty()));
    outcome.errors.into_iter().map(|e| e.code).collect()
}

fn code(name: &str, bytes: impl AsRef<[u8]>) -> String {
    codes(name, bytes.as_ref(), Limits::default()).join(" ")
}

fn zipped(entries: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in entries {
        zip.start_file(*name, zip::write::SimpleFileOptions::default()).unwrap();
        zip.write_all(content).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

const MAIN: &str = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
const OFFICE: &str = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";

/// A workbook of one sheet, whose XML is `head`, a worksheet element around `inner`.
fn workbook(head: &str, inner: &str) -> Vec<u8> {
    let relations = "http://schemas.openxmlformats.org/package/2006/relationships";
    let sheet = format!("{head}<worksheet xmlns=\"{MAIN}\">{inner}</worksheet>");
    zipped(&[
        ("[Content_Types].xml", b"<Types xmlns=\"http://schemas.openxmlformats.org/package/2006/content-types\"/>"),
        ("_rels/.rels", format!("<Relationships xmlns=\"{relations}\"><Relationship Id=\"rId1\" Type=\"{OFFICE}/officeDocument\" Target=\"xl/workbook.xml\"/></Relationships>").as_bytes()),
        ("xl/_rels/workbook.xml.rels", format!("<Relationships xmlns=\"{relations}\"><Relationship Id=\"rId1\" Type=\"{OFFICE}/worksheet\" Target=\"worksheets/sheet1.xml\"/></Relationships>").as_bytes()),
        ("xl/workbook.xml", format!("<workbook xmlns=\"{MAIN}\" xmlns:r=\"{OFFICE}\"><sheets><sheet name=\"R\" sheetId=\"1\" r:id=\"rId1\"/></sheets></workbook>").as_bytes()),
        ("xl/worksheets/sheet1.xml", sheet.as_bytes()),
    ])
}

fn letter(body: &str) -> Vec<u8> {
    let document = format!(
        "<w:document xmlns:w=\"http://schemas.openxmlformats.org/wordprocessingml/2006/main\"><w:body>{body}</w:body></w:document>"
    );
    zipped(&[("[Content_Types].xml", b"<Types/>"), ("word/document.xml", document.as_bytes())])
}

/// A PDF of these objects, the first of which is its root.
fn pdf(objects: &[String]) -> Vec<u8> {
    let mut file = b"%PDF-1.4\n".to_vec();
    let mut offsets = Vec::new();
    for (number, object) in (1..).zip(objects) {
        offsets.push(file.len());
        file.extend(format!("{number} 0 obj\n{object}\nendobj\n").bytes());
    }
    let table = file.len();
    file.extend(format!("xref\n0 {}\n0000000000 65535 f \n", objects.len() + 1).bytes());
    offsets.iter().for_each(|at| file.extend(format!("{at:010} 00000 n \n").bytes()));
    let size = objects.len() + 1;
    file.extend(format!("trailer<</Size {size}/Root 1 0 R>>\nstartxref\n{table}\n%%EOF").bytes());
    file
}

fn stream(dictionary: &str, content: &str) -> String {
    format!("<<{dictionary}/Length {}>>stream\n{content}\nendstream", content.len())
}

const CATALOG: &str = "<</Type/Catalog/Pages 2 0 R>>";
const FONT: &str = "<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>";
const TEXT: &str = "BT /F1 12 Tf 72 700 Td (Moisture: 47.3 %) Tj ET";

#[test]
fn containers_that_grow_are_refused() {
    let blank = " ".repeat(8 << 20);
    assert_eq!(code("bomb.xlsx", workbook("", &blank)), "too-large");
    assert_eq!(code("bomb.docx", letter(&" ".repeat(70 << 20))), "too-large");
    let inside = zipped(&[("a.xlsx", &workbook("", &blank))]);
    assert_eq!(code("inside.zip", inside), "unknown-format");
    let many: Vec<String> = (0..5000).map(|n| format!("x{n}")).collect();
    let mut entries: Vec<(&str, &[u8])> = many.iter().map(|n| (n.as_str(), &b""[..])).collect();
    entries.push(("xl/workbook.xml", b"<workbook/>"));
    assert!(!code("entries.xlsx", zipped(&entries)).is_empty());
}

#[test]
fn entities_that_multiply_are_not_followed() {
    let mut head = "<!DOCTYPE a [<!ENTITY a0 \"ha\">".to_owned();
    for n in 1..10 {
        head += &format!("<!ENTITY a{n} \"{}\">", format!("&a{};", n - 1).repeat(10));
    }
    head += "]>";
    let cell = "<sheetData><row r=\"1\"><c r=\"A1\" t=\"inlineStr\"><is><t>&a9;</t></is></c></row></sheetData>";
    assert!(!code("laughs.xlsx", workbook(&head, cell)).is_empty());
}

#[test]
fn sheets_are_as_large_as_their_cells_and_not_as_they_claim() {
    let corner = "<dimension ref=\"A1:XFD1048576\"/><sheetData><row r=\"1\"><c r=\"A1\"><v>1</v></c></row>\
                  <row r=\"1048576\"><c r=\"XFD1048576\"><v>2</v></c></row></sheetData>";
    assert_eq!(code("far.xlsx", workbook("", corner)), "no-results");
    let merges: String = (1..20_000).map(|n| format!("<mergeCell ref=\"A{n}:XFD1048576\"/>")).collect();
    let merged =
        format!("<sheetData><row r=\"1\"><c r=\"A1\"><v>1</v></c></row></sheetData><mergeCells>{merges}</mergeCells>");
    assert_eq!(code("merges.xlsx", workbook("", &merged)), "no-results");
    let attributes: String = (0..20_000).map(|n| format!(" a{n}=\"1\"")).collect();
    let row = format!("<sheetData><row r=\"1\"{attributes}><c r=\"A1\"><v>1</v></c></row></sheetData>");
    assert_eq!(code("attributes.xlsx", workbook("", &row)), "no-results");
}

#[test]
fn the_limit_of_cells_is_named_and_can_be_set() {
    let rows: String = (1..40).map(|n| format!("Moisture;47.{n};%\n")).collect();
    let limits = Limits { cells: 100, ..Limits::default() };
    assert_eq!(codes("a.csv", rows.as_bytes(), limits), ["too-large"]);
    let options = ReadOptions { limits: Limits { cells: 100, ..Limits::default() }, ..ReadOptions::default() };
    let outcome = pipeline::read("a.csv", rows.as_bytes(), &options, Lexicon::builtin());
    assert!(outcome.errors[0].text.contains("limit cells"), "{}", outcome.errors[0].text);
    assert!(codes("a.csv", rows.as_bytes(), Limits::default()).is_empty());
}

#[test]
fn lines_longer_than_any_page_are_refused_in_every_format() {
    let long = "1.5 ".repeat(30_000);
    for (name, bytes) in [
        ("a.txt", format!("Moisture: {long}").into_bytes()),
        ("a.csv", format!("a;b\nc;{long}\nd;e\n").into_bytes()),
        ("a.html", format!("<p>Moisture: {long}</p>").into_bytes()),
        ("a.docx", letter(&format!("<w:p><w:r><w:t>{long}</w:t></w:r></w:p>"))),
        (
            "a.eml",
            format!("From: a@example.org\nSubject: x\nMIME-Version: 1.0\nContent-Type: text/html\n\n<p>{long}</p>")
                .into_bytes(),
        ),
    ] {
        let found = code(name, bytes);
        assert!(found.contains("too-large"), "{name}: {found}");
    }
}

#[test]
fn lines_of_one_kind_of_character_end_soon() {
    for piece in [
        "1",
        "1-",
        "1,",
        "1.5 ",
        "a",
        "a ",
        "(",
        "±<",
        "03/04/2024 ",
        "µ",
        "total capacity ",
        "=",
        ". ",
        "\"",
        "mg/",
        "x10^",
    ] {
        let line = piece.repeat(8_000 / piece.len());
        for name in ["a.txt", "a.csv", "a.html"] {
            let _ = code(name, format!("Moisture: {line} 47.3 %\n"));
        }
    }
}

#[test]
fn deep_nesting_ends_in_a_reading_or_an_error() {
    let _ = code("a.html", "<div>".repeat(50_000) + "Moisture: 47.3 %");
    let _ = code("a.html", "<table><tr><td>".repeat(5_000) + "Moisture: 47.3 %");
    let table = "<w:tbl><w:tr><w:tc>".repeat(5_000) + "<w:p/>" + &"</w:tc></w:tr></w:tbl>".repeat(5_000);
    assert_eq!(code("a.docx", letter(&table)), "too-large");
    let mut mail = "Moisture: 47.3 %".to_owned();
    for n in 0..300 {
        mail = format!("Content-Type: multipart/mixed; boundary=\"b{n}\"\n\n--b{n}\n{mail}\n--b{n}--\n");
    }
    let _ = code("a.eml", format!("From: a@example.org\nSubject: x\nMIME-Version: 1.0\n{mail}"));
    let array = "[".repeat(20_000) + &"]".repeat(20_000);
    let page = format!("<</Type/Page/Parent 2 0 R/MediaBox {array}>>");
    let _ = code("a.pdf", pdf(&[CATALOG.into(), "<</Type/Pages/Count 1/Kids[3 0 R]>>".into(), page]));
}

#[test]
fn spans_wider_than_any_table_are_cut() {
    let cell = "<w:tc><w:tcPr><w:gridSpan w:val=\"1000000000\"/></w:tcPr><w:p/></w:tc>".repeat(50);
    let _ = code("a.docx", letter(&format!("<w:tbl><w:tr>{cell}</w:tr></w:tbl>")));
    let wide = "<td rowspan=60000 colspan=1000>x</td>".repeat(20);
    let _ = code("a.html", format!("<table><tr>{wide}</tr>{}</table>", "<tr><td>1</td></tr>".repeat(500)));
}

#[test]
fn objects_of_a_pdf_that_lead_in_circles_are_not_followed_for_ever() {
    let own = ["<</Type/Catalog/Pages 2 0 R>>", "<</Type/Pages/Count 1/Kids[2 0 R]>>"].map(str::to_owned);
    assert_eq!(code("kids.pdf", pdf(&own)), "broken-pdf");
    assert_eq!(code("self.pdf", pdf(&["1 0 R".to_owned()])), "broken-pdf");
    let pages = "<</Type/Pages/Count 1/Kids[3 0 R]/Parent 3 0 R>>".to_owned();
    let page = "<</Type/Page/Parent 2 0 R/Contents 4 0 R>>".to_owned();
    let _ = code("parent.pdf", pdf(&[CATALOG.into(), pages, page, stream("", TEXT)]));
    // The form shows itself twice; what stands on the page is read all the same.
    let pages = "<</Type/Pages/Count 1/Kids[3 0 R]>>".to_owned();
    let page = "<</Type/Page/Parent 2 0 R/MediaBox[0 0 612 792]/Resources<</XObject<</X 4 0 R>>/Font<</F1 5 0 R>>>>/Contents 6 0 R>>".to_owned();
    let form = stream("/Type/XObject/Subtype/Form/BBox[0 0 612 792]/Resources<</XObject<</X 4 0 R>>>>", "/X Do /X Do");
    let content = stream("", &format!("/X Do {TEXT}"));
    assert_eq!(code("form.pdf", pdf(&[CATALOG.into(), pages, page, form, FONT.into(), content])), "");
}

#[test]
fn pages_beyond_the_limit_are_refused_unless_it_is_set_higher() {
    let kids: String = (0..20).map(|n| format!("{} 0 R ", n + 5)).collect();
    let pages = format!("<</Type/Pages/Count 20/Kids[{kids}]>>");
    let page = "<</Type/Page/Parent 2 0 R/MediaBox[0 0 612 792]/Resources<</Font<</F1 3 0 R>>>>/Contents 4 0 R>>";
    let mut objects = vec![CATALOG.to_owned(), pages, FONT.to_owned(), stream("", TEXT)];
    objects.extend(std::iter::repeat_n(page.to_owned(), 20));
    let file = pdf(&objects);
    assert_eq!(codes("a.pdf", &file, Limits { pages: 19, ..Limits::default() }), ["too-large"]);
    assert_eq!(codes("a.pdf", &file, Limits { pages: 20, ..Limits::default() }), [""; 0]);
}

#[test]
fn bytes_that_are_no_text_between_bytes_that_are() {
    let _ = code("a.txt", [b"Moisture: 47.3 %\n".as_slice(), &[0; 10_000]].concat());
    let mixed =
        ["H\u{e4}rte \u{b5}\n".as_bytes(), b"H\xe4rte \xb5\n", b"\xff\xfeH\0\xe4\0\nMoisture: 47.3 %\n"].concat();
    let _ = code("a.txt", &mixed);
    let _ = code("a.csv", [b"a;b;c\n".as_slice(), &mixed, b"1;2;3\n"].concat());
}

#[test]
fn reports_of_the_demo_that_break_off_are_errors_or_documents() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures-demo");
    let mut files = Vec::new();
    for folder in std::fs::read_dir(root).unwrap().map(|e| e.unwrap().path()).filter(|p| p.is_dir()) {
        files.extend(
            std::fs::read_dir(folder)
                .unwrap()
                .map(|e| e.unwrap().path())
                .filter(|p| p.extension().is_some_and(|e| e != "toml")),
        );
    }
    files.sort();
    assert!(files.len() > 25);
    for file in files {
        let bytes = std::fs::read(&file).unwrap();
        let name = file.file_name().unwrap().to_string_lossy().into_owned();
        for part in [5, 9] {
            let _ = code(&name, &bytes[..bytes.len() * part / 10]);
        }
    }
}
