#![allow(clippy::unwrap_used)]
use super::*;
use std::collections::BTreeSet;

#[test]
fn every_reader_on_disk_is_in_the_registry_and_the_other_way_round() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/readers");
    let on_disk: BTreeSet<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path().file_stem().unwrap().to_string_lossy().into_owned())
        .filter(|stem| !["mod", "kit", "tests"].contains(&stem.as_str()))
        .collect();
    let registered: BTreeSet<String> = FORMATS.iter().map(|format| format.name.to_owned()).collect();
    assert_eq!(on_disk, registered);
}

#[test]
fn extensions_belong_to_one_format_each() {
    let all: Vec<&str> = FORMATS.iter().flat_map(|format| format.extensions).copied().collect();
    assert_eq!(all.len(), all.iter().collect::<BTreeSet<_>>().len());
}

fn code(name: &str, bytes: &[u8]) -> &'static str {
    read(name, bytes, &ReadOptions::default()).unwrap_err().code
}

#[test]
fn what_is_no_report_is_refused_by_name() {
    assert_eq!(code("a.txt", b""), "empty-file");
    assert_eq!(code("a.txt", b" \r\n\t "), "empty-file");
    assert_eq!(code("broken.xlsx", b"\x00\x01\x02\x03\x04\xff\xfe\x00\x80"), "not-a-workbook");
    assert_eq!(code("broken.xlsx", b"this is not a workbook at all"), "not-a-workbook");
    assert_eq!(code("cut.xlsx", b"PK\x03\x04\x14\x00\x00\x00"), "not-a-workbook");
    assert_eq!(code("a.pdf", b"Moisture 47.3 %"), "not-a-pdf");
    assert_eq!(code("a.docx", b"Moisture 47.3 %"), "not-a-letter");
    assert_eq!(code("a.bin", b"\x00\x01\x02\x03\x04\xff\xfe\x00\x80"), "unknown-format");
    assert_eq!(code("a.rtf", b"{\\rtf1\\ansi Moisture 47.3}"), "unsupported-format");
    assert_eq!(code("scan.png", b"\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIHDR"), "unsupported-format");
    assert_eq!(code("a.xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"), "not-a-workbook");
}

#[test]
fn a_file_over_the_limit_is_refused_before_it_is_read() {
    let options = ReadOptions { limits: Limits { file_bytes: 10, ..Limits::default() }, ..ReadOptions::default() };
    let error = read("a.txt", b"Moisture: 47.3", &options).unwrap_err();
    assert_eq!(error.code, "too-large");
    assert!(error.text.contains("14 bytes"), "{error}");
}

#[test]
fn the_content_tells_the_format_and_the_name_does_not() {
    let rows = b"property;value;unit\nmoisture;47,3;%\nwhole beads;92;%\n";
    for name in ["a.csv", "a.txt", "a.xls", "a"] {
        let document = read(name, rows, &ReadOptions::default()).unwrap();
        assert_eq!(document.source.format, "csv", "{name}");
    }
    let document = read("a.xls", b"<html><table><tr><td>x</td></tr></table></html>", &ReadOptions::default());
    assert!(document.is_err() || document.unwrap().source.format == "html");
}

#[test]
fn the_source_carries_the_hash_of_the_bytes() {
    // SHA-256 of the three bytes "abc": FIPS 180-4, example of section B.1.
    let document = read("a.txt", b"abc", &ReadOptions::default()).unwrap();
    assert_eq!(document.source.sha256, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}
