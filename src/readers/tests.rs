#![allow(clippy::unwrap_used)]
use super::*;
use std::collections::BTreeSet;

/// `kit`, `grid` and `marks` are what several readers share; everything else in the folder is a format.
#[test]
fn every_reader_on_disk_is_in_the_registry_and_the_other_way_round() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/readers");
    let on_disk: BTreeSet<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path().file_stem().unwrap().to_string_lossy().into_owned())
        .filter(|stem| !["mod", "tests", "kit", "grid", "marks"].contains(&stem.as_str()))
        .collect();
    let registered: BTreeSet<String> = FORMATS.iter().map(|format| format.name.to_owned()).collect();
    assert_eq!(on_disk, registered);
}

#[test]
fn extensions_belong_to_one_format_each() {
    let all: Vec<&str> = FORMATS.iter().flat_map(|format| format.extensions).copied().collect();
    assert_eq!(all.len(), all.iter().collect::<BTreeSet<_>>().len());
}

/// The same numbers on every run, so that a failure comes back.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % sides.max(1)
    }

    /// Changes, cuts, doubles or drops a few bytes.
    fn damage(&mut self, bytes: &mut Vec<u8>) {
        for _ in 0..=self.roll(6) {
            let at = self.roll(bytes.len());
            match self.roll(5) {
                0 => bytes.truncate(at.max(1)),
                1 => {
                    let end = (at + self.roll(40)).min(bytes.len());
                    bytes.drain(at..end);
                }
                2 => {
                    let piece: Vec<u8> = bytes.iter().skip(at).take(self.roll(40)).copied().collect();
                    let to = self.roll(bytes.len());
                    bytes.splice(to..to, piece);
                }
                _ => {
                    let value = [0, 0xff, 0x7f, 0x80, b'9', self.roll(256) as u8][self.roll(6)];
                    if let Some(byte) = bytes.get_mut(at) {
                        *byte = value;
                    }
                }
            }
            if bytes.is_empty() {
                return;
            }
        }
    }
}

/// An archive whose entries are damaged behind whole checksums.
fn damaged_archive(bytes: &[u8], dice: &mut Dice) -> Vec<u8> {
    use std::io::{Cursor, Read, Write};
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut writer = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let victim = dice.roll(archive.len());
    for index in 0..archive.len() {
        let mut entry = archive.by_index(index).unwrap();
        let mut content = Vec::new();
        entry.read_to_end(&mut content).unwrap();
        if (index == victim || dice.roll(4) == 0) && !content.is_empty() {
            dice.damage(&mut content);
        }
        let stored = zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored);
        writer.start_file(entry.name().unwrap(), stored).unwrap();
        writer.write_all(&content).unwrap();
    }
    writer.finish().unwrap().into_inner()
}

#[test]
fn damaged_files_are_errors_or_documents_and_never_panics() {
    let rounds = std::env::var("DAMAGE_ROUNDS").ok().and_then(|n| n.parse().ok()).unwrap_or(40);
    let options = ReadOptions { limits: Limits { cells: 50_000, ..Limits::default() }, ..ReadOptions::default() };
    let mut dice = Dice(1);
    for name in ["traps.xlsx", "resaved.xlsx", "traps.xlsb", "traps.ods", "traps.xls", "xlwt.xls"] {
        let whole = kit::testing::bytes(name);
        for _ in 0..rounds {
            let mut bytes = whole.clone();
            if whole.starts_with(b"PK") && dice.roll(4) > 0 {
                bytes = damaged_archive(&whole, &mut dice);
            } else {
                dice.damage(&mut bytes);
            }
            let _ = read(name, &bytes, &options);
        }
    }
    let mail = "MIME-Version: 1.0\nFrom: a@example.org\nContent-Type: multipart/mixed; boundary=cut\n\n--cut\nContent-Type: text/plain\n\n\
        > Iron: <50 mg/kg\n--cut\nContent-Type: text/csv; name=a.csv\nContent-Transfer-Encoding: base64\n\nYTtiCjE7MgozOzQK\n--cut--\n";
    let table = "sep=;\nlab;\"a\nb\"\n47,3;%\n\n\u{fffd};µ\n";
    for (name, text) in [("a.eml", mail), ("a.csv", table), ("a.txt", mail)] {
        for _ in 0..rounds * 4 {
            let mut bytes = text.as_bytes().to_vec();
            dice.damage(&mut bytes);
            let _ = read(name, &bytes, &options);
        }
    }
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

#[test]
fn every_limit_is_raised_by_its_own_name_and_documented() {
    let page =
        std::fs::read_to_string(std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/formats.md")).unwrap();
    let start = Limits::default();
    for (name, _, value) in start.listed() {
        let mut limits = start.clone();
        limits.set(name, value + 1).unwrap();
        let changed: Vec<&str> =
            start.listed().zip(limits.listed()).filter(|(a, b)| a.2 != b.2).map(|(a, _)| a.0).collect();
        assert_eq!(changed, [name]);
        assert!(page.contains(&format!("| `{name}` | {value} |")), "docs/formats.md has no {name} of {value}");
        assert!(start.clone().set(name, 0).is_err());
    }
    assert!(Limits::default().set("file-mib", u64::MAX).is_err());
}
