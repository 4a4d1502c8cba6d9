//! Each part of the program uses only parts below it: what a reader of the code may rely on.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// The parts from low to high; each may use those before it.
const PARTS: [&str; 18] = [
    "place",
    "quantity",
    "record",
    "value",
    "lexicon",
    "document",
    "readers",
    "extract",
    "reconcile",
    "sheets",
    "specs",
    "judge",
    "beds",
    "plan",
    "report",
    "pipeline",
    "cli",
    // Not a part: the two files that hold the parts together.
    "",
];

/// The way from bytes to records knows no verdict.
const NOT_IN_PIPELINE: [&str; 5] = ["specs", "judge", "beds", "plan", "report"];

fn rust_files(dir: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(dir).expect("src is readable") {
        let path = entry.expect("entry is readable").path();
        if path.is_dir() {
            rust_files(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") {
            into.push(path);
        }
    }
}

/// The code of a file: comments and the text inside quotes may name any part.
fn code(text: &str) -> String {
    let mut kept = String::new();
    for line in text.lines() {
        let line = line.split("//").next().unwrap_or_default();
        for (at, piece) in line.split('"').enumerate() {
            if at % 2 == 0 {
                kept.push_str(piece);
            }
        }
        kept.push('\n');
    }
    kept
}

/// First names after `crate::`, also of a group `crate::{a, b::{c, d}}`.
fn used(code: &str) -> BTreeSet<String> {
    let name =
        |text: &str| -> String { text.trim_start().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect() };
    let mut found = BTreeSet::new();
    for (at, _) in code.match_indices("crate::") {
        let rest = &code[at + "crate::".len()..];
        let Some(group) = rest.strip_prefix('{') else {
            found.insert(name(rest));
            continue;
        };
        let mut depth = 0;
        let mut start = 0;
        for (i, c) in group.char_indices() {
            match c {
                '{' => depth += 1,
                ',' | '}' if depth == 0 => {
                    found.insert(name(&group[start..i]));
                    start = i + 1;
                    if c == '}' {
                        break;
                    }
                }
                '}' => depth -= 1,
                _ => {}
            }
        }
    }
    found.remove("");
    found
}

fn rank(part: &str) -> Option<usize> {
    PARTS.iter().position(|p| *p == part)
}

fn part_of(src: &Path, file: &Path) -> String {
    let inside = file.strip_prefix(src).expect("file stands in src");
    let first = inside.components().next().expect("file has a name").as_os_str().to_string_lossy().into_owned();
    match first.strip_suffix(".rs") {
        Some("lib" | "main") => String::new(),
        Some(part) => part.to_owned(),
        None => first,
    }
}

#[test]
fn each_part_uses_only_parts_below_it() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    rust_files(&src, &mut files);
    assert!(files.len() > 20, "src was not found");
    let mut wrong = Vec::new();
    for file in files {
        let part = part_of(&src, &file);
        let shown = file.strip_prefix(&src).unwrap_or(&file).display().to_string();
        let Some(own) = rank(&part) else {
            wrong.push(format!("{shown}: \"{part}\" is no part of the list in this test"));
            continue;
        };
        for other in used(&code(&fs::read_to_string(&file).expect("source is readable"))) {
            let above = rank(&other).is_none_or(|other| other > own);
            let verdict_in_reading = part == "pipeline" && NOT_IN_PIPELINE.contains(&other.as_str());
            if other != part && (above || verdict_in_reading) {
                wrong.push(format!("{shown} ({part}) uses {other}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_scan_sees_groups_and_paths() {
    let text = code(
        "use crate::{place::Where, record::{Doubt, Record}, value};\nlet x = crate::judge::of(\"crate::cli\"); // crate::plan\n",
    );
    let found: Vec<String> = used(&text).into_iter().collect();
    assert_eq!(found, ["judge", "place", "record", "value"]);
}
