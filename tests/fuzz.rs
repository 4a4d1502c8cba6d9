//! Damaged seeds for everything that takes bytes or text from outside: no panic, whatever comes.
//!
//! Seeds are the reports of this repository and its own data files. A changed input is made of one seed or two by
//! changing, cutting, doubling and joining pieces; a panic prints the target and writes the input, so that it can be
//! kept in `tests/fuzz/found`, from where each is tried again in every run.
//!
//! `cargo test` gives each target a moment. For long runs:
//!
//! ```text
//! FUZZ_SECONDS=3600 FUZZ_TARGET=pdf cargo test --release --test fuzz -- --nocapture
//! ```

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, clippy::print_stdout)]

#[allow(dead_code)]
#[path = "mutation/random.rs"]
mod random;

use beadwise::document::{Document, Line, Page, Part, Typed, Word};
use beadwise::judge::Policy;
use beadwise::lexicon::Lexicon;
use beadwise::pipeline;
use beadwise::place::Where;
use beadwise::quantity::Unit;
use beadwise::readers::{Limits, ReadOptions};
use beadwise::specs::{Specs, Text};
use beadwise::value::{self, Decimal, date};
use random::Random;
use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn files(folder: &str, extensions: &[&str]) -> Vec<PathBuf> {
    let mut folders = vec![root().join(folder)];
    let mut found = Vec::new();
    while let Some(folder) = folders.pop() {
        for path in fs::read_dir(folder).into_iter().flatten().map(|e| e.unwrap().path()) {
            let extension = path.extension().map(|e| e.to_string_lossy().into_owned()).unwrap_or_default();
            if path.is_dir() {
                folders.push(path);
            } else if extensions.contains(&extension.as_str()) {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

fn seeds(extensions: &[&str]) -> Vec<Vec<u8>> {
    let folders = ["fixtures-demo", "tests/corpus/development", "tests/readers"];
    folders.iter().flat_map(|folder| files(folder, extensions)).map(|path| fs::read(path).unwrap()).collect()
}

fn read(name: &str, bytes: &[u8]) {
    let limits = Limits { cells: 100_000, pdf_seconds: 60, ..Limits::default() };
    let options = ReadOptions { limits, ..ReadOptions::default() };
    pipeline::read(name, bytes, &options, Lexicon::builtin());
}

fn grammar(text: &str) {
    for decimal in [Decimal::Point, Decimal::Comma] {
        value::parse(text, decimal);
        for found in value::find(text, decimal) {
            assert!(text.get(found.start..found.end).is_some());
        }
    }
    let _ = (Unit::parse(text), date::parse_date(text), date::find_dates(text));
    Lexicon::builtin().understand(text, &[]);
    Lexicon::builtin().role(text);
}

/// A page of words taken from the text, thrown anywhere.
fn document(text: &str) {
    let mut random = Random::seeded(text);
    let words: Vec<&str> = text.split_whitespace().take(300).collect();
    let lines = words
        .chunks(1 + random.below(9))
        .enumerate()
        .map(|(at, words)| {
            let table = (random.below(3) == 0).then_some(random.below(3) as u32);
            let words = words.iter().map(|text| {
                let x0 = random.below(90) as f32;
                let mut word = Word::soft(*text, x0, x0 + random.below(20) as f32, Where::line(at as u32 + 1));
                word.rows = random.below(4) as u32;
                word.hard_left = random.below(3) == 0;
                word.recognized = (random.below(9) == 0).then_some(0.5);
                word.typed = (random.below(5) == 0).then(|| Typed::Number {
                    value: [0.0, -1.0, 47.3, f64::MAX, 1e-300, f64::NAN][random.below(6)],
                    decimals: Some(random.below(20) as u8),
                    unit: Some((*text).to_owned()),
                });
                word
            });
            Line { table, words: words.collect(), top: at as f32, bottom: at as f32 + 1.0 }
        })
        .collect();
    let pages = vec![Page { name: None, lines, char_width: [0.0, 1.0, 5.5][random.below(3)] }];
    let parts = vec![Part { name: None, format: "text".into(), pages }];
    pipeline::from_document(&Document { parts, ..Document::default() }, Lexicon::builtin());
}

fn overlay(text: &str) {
    let _ = Lexicon::with_overlays(&[("own.toml".to_owned(), text.to_owned())]);
    let own = [Text { name: "own.toml", text }];
    let _ = (Policy::with_overlay(&own), Specs::with_overlay(&own));
}

#[cfg(feature = "beds")]
fn import(bytes: &[u8]) {
    let folder = tempfile::tempdir().unwrap();
    let mut store = beadwise::beds::Store::open_or_begin(&folder.path().join("beds.db")).unwrap();
    if store.import(bytes).is_ok() {
        assert!(store.check().is_ok());
    }
}

#[cfg(feature = "beds")]
fn exports() -> Vec<Vec<u8>> {
    let bed = "{\"line\":\"store\",\"beadwise\":\"0.1.0\",\"contract\":1,\"layout\":1}\n{\"line\":\"bed\",\"bed\":{\"id\":1,\"site\":\"Mill Street Laundry\",\"vessel\":\"Softener 2\"},\"site_key\":\"mill street laundry\",\"vessel_key\":\"softener 2\"}\n{\"line\":\"alias\",\"site_key\":\"a\",\"vessel_key\":\"b\",\"bed\":1}\n";
    vec![bed.as_bytes().to_vec()]
}

/// One seed, or two joined, with a few pieces changed.
fn damaged(seeds: &[Vec<u8>], random: &mut Random) -> Vec<u8> {
    const VALUES: [u8; 12] = [0, 0xff, 0x7f, 0x80, b'9', b'-', b'.', b',', b'<', b'(', b'\n', b' '];
    let mut bytes = random.pick(seeds).cloned().unwrap_or_default();
    if random.below(8) == 0 {
        let other = random.pick(seeds).cloned().unwrap_or_default();
        bytes.truncate(random.below(bytes.len() + 1));
        bytes.extend(other.iter().skip(random.below(other.len() + 1)));
    }
    for _ in 0..=random.below(8) {
        let at = random.below(bytes.len().max(1)).min(bytes.len());
        let end = (at + random.below(60)).min(bytes.len());
        match random.below(7) {
            0 => bytes.truncate(at),
            1 => drop(bytes.drain(at..end)),
            2 => {
                let piece = bytes[at..end].repeat(1 + random.below(20));
                bytes.splice(at..at, piece);
            }
            3 => bytes.insert(at, VALUES[random.below(VALUES.len())]),
            _ => {
                if let Some(byte) = bytes.get_mut(at) {
                    *byte =
                        if random.below(2) == 0 { VALUES[random.below(VALUES.len())] } else { random.below(256) as u8 };
                }
            }
        }
    }
    bytes
}

type Target = (&'static str, fn() -> Vec<Vec<u8>>, fn(&[u8]));

fn text_of(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// Lines of reports.
fn lines() -> Vec<Vec<u8>> {
    let texts = seeds(&["txt", "csv", "eml"]);
    texts
        .iter()
        .flat_map(|t| t.split(|b| *b == b'\n').map(<[u8]>::to_vec).collect::<Vec<_>>())
        .filter(|l| l.len() > 3)
        .collect()
}

const TARGETS: &[Target] = &[
    ("grammar", lines, |bytes| grammar(&text_of(bytes))),
    ("document", || seeds(&["txt"]), |bytes| document(&text_of(bytes))),
    ("text", || seeds(&["txt"]), |bytes| read("a.txt", bytes)),
    ("csv", || seeds(&["csv", "tsv", "psv"]), |bytes| read("a.csv", bytes)),
    ("eml", || seeds(&["eml"]), |bytes| read("a.eml", bytes)),
    ("html", || seeds(&["html", "htm"]), |bytes| read("a.html", bytes)),
    ("pdf", || seeds(&["pdf"]), |bytes| read("a.pdf", bytes)),
    ("docx", || seeds(&["docx"]), |bytes| read("a.docx", bytes)),
    ("xlsx", || seeds(&["xlsx", "xlsb"]), |bytes| read("a.xlsx", bytes)),
    ("xls", || seeds(&["xls"]), |bytes| read("a.xls", bytes)),
    ("ods", || seeds(&["ods"]), |bytes| read("a.ods", bytes)),
    (
        "overlay",
        || files("grammar", &["toml"]).iter().map(|p| fs::read(p).unwrap()).collect(),
        |bytes| overlay(&text_of(bytes)),
    ),
    #[cfg(feature = "beds")]
    ("import", exports, import),
];

#[test]
fn no_damaged_input_panics() {
    let seconds: f64 = std::env::var("FUZZ_SECONDS").ok().and_then(|s| s.parse().ok()).unwrap_or(0.4);
    let only = std::env::var("FUZZ_TARGET").ok();
    // Another start for each long run, the same in every short one.
    let salt = std::env::var("FUZZ_SALT").unwrap_or_default();
    let mut found = Vec::new();
    for (name, seeds, run) in TARGETS.iter().filter(|t| only.as_deref().is_none_or(|only| only == t.0)) {
        let seeds = seeds();
        assert!(!seeds.is_empty(), "{name} has no seeds");
        let mut random = Random::seeded(&format!("{name}{salt}"));
        let until = Instant::now() + Duration::from_secs_f64(seconds);
        let mut tries = 0;
        let mut slowest = Duration::ZERO;
        while Instant::now() < until {
            tries += 1;
            let bytes = damaged(&seeds, &mut random);
            let start = Instant::now();
            let ended = catch_unwind(AssertUnwindSafe(|| run(&bytes)));
            if start.elapsed() > slowest {
                slowest = start.elapsed();
            }
            if ended.is_err() {
                let file = std::env::temp_dir().join(format!("beadwise-{name}-{tries}"));
                fs::write(&file, &bytes).unwrap();
                found.push(format!("{name}: {}", file.display()));
                if found.len() > 20 {
                    break;
                }
            }
        }
        println!("{name}: {tries} inputs, the slowest took {slowest:.1?}");
    }
    assert!(found.is_empty(), "inputs that panic:\n{}", found.join("\n"));
}

#[test]
fn what_was_found_once_is_tried_again() {
    for file in fs::read_dir(root().join("tests/fuzz/found")).into_iter().flatten().map(|e| e.unwrap().path()) {
        let name = file.file_name().unwrap().to_string_lossy().into_owned();
        let target = TARGETS.iter().find(|t| name.starts_with(&format!("{}-", t.0)));
        let (_, _, run) = target.unwrap_or_else(|| panic!("{name} names no target"));
        run(&fs::read(&file).unwrap());
    }
}
