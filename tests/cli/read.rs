//! `beadwise read`.

use crate::kit::{BROKEN, FORMULA, Folder, MARCH};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;

fn keys(value: &Value) -> BTreeSet<&str> {
    value.as_object().unwrap_or_else(|| panic!("no object: {value}")).keys().map(String::as_str).collect()
}

fn read_json(folder: &Folder, arguments: &[&str]) -> (i32, Value) {
    let run = folder.run(&[&["read", "--json"], arguments].concat());
    let document = serde_json::from_str(&run.out).unwrap_or_else(|error| panic!("{error}: {}\n{}", run.out, run.err));
    (run.status, document)
}

/// Keys as the published contract, version 1, names them.
#[test]
fn the_json_has_the_keys_of_the_contract() {
    let folder = Folder::with(&[("march.txt", MARCH.as_bytes())]);
    let (status, document) = read_json(&folder, &["march.txt"]);
    assert_eq!(status, 0);
    assert_eq!(document["contract"], 1);
    let has = |value: &Value, wanted: &[&str]| {
        let keys = keys(value);
        for key in wanted {
            assert!(keys.contains(key), "{key} is missing in {value}");
        }
    };
    has(&document, &["contract", "files", "records", "errors"]);
    let file = &document["files"][0];
    has(file, &["source", "unread", "set_aside", "doubts"]);
    let record = &document["records"][0];
    has(record, &["source", "sample", "measurements", "field", "sieve", "remarks", "unread", "doubts"]);
    has(
        &record["sample"],
        &[
            "sample_id",
            "customer",
            "site",
            "vessel",
            "position",
            "laboratory",
            "report_number",
            "sampled_on",
            "received_on",
            "reported_on",
            "installed_on",
            "resin_as_written",
            "resin_class",
            "form",
            "condition",
            "cycle_state",
            "duty",
            "drinking_water",
        ],
    );
    has(
        &record["measurements"][0],
        &[
            "property",
            "basis",
            "form",
            "qualifier",
            "value",
            "high",
            "uncertainty",
            "unit",
            "label",
            "as_written",
            "method",
            "reference",
            "where",
            "doubts",
        ],
    );
    let hash: String = Sha256::digest(MARCH.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!(record["source"], json!({"file": "march.txt", "format": "text", "sha256": hash}));
    assert_eq!(record["sample"]["vessel"], "Softener 2");
    assert_eq!(record["sample"]["site"], "Mill Street Laundry");
    assert_eq!(record["sample"]["sampled_on"], "2025-03-21");
    assert_eq!(record["sample"]["customer"], Value::Null, "unknown is null and never left out");
}

#[test]
fn figures_come_with_qualifier_unit_words_and_place() {
    let folder = Folder::with(&[("march.txt", MARCH.as_bytes())]);
    let (_, document) = read_json(&folder, &["march.txt"]);
    let measurements = document["records"][0]["measurements"].as_array().unwrap();
    let of = |property: &str| measurements.iter().find(|m| m["property"] == property).unwrap();
    let capacity = of("total_capacity");
    assert_eq!(
        (&capacity["value"], &capacity["unit"], &capacity["basis"]),
        (&json!(1.72), &json!("eq/L"), &json!("volume"))
    );
    let iron = of("iron");
    assert_eq!((&iron["qualifier"], &iron["value"], &iron["unit"]), (&json!("<"), &json!(50.0), &json!("mg/kg")));
    assert_eq!(of("moisture_retention")["where"], json!({"line": 9}));
    assert_eq!(of("moisture_retention")["as_written"], "47.3 %");
}

#[test]
fn the_same_bytes_give_the_same_bytes() {
    let folder = Folder::with(&[("a.txt", MARCH.as_bytes()), ("b.txt", FORMULA.as_bytes()), ("c.bin", BROKEN)]);
    let first = folder.run(&["read", "--json", "a.txt", "b.txt", "c.bin"]);
    for _ in 0..3 {
        assert_eq!(folder.run(&["read", "--json", "a.txt", "b.txt", "c.bin"]).out, first.out);
    }
}

#[test]
fn a_file_that_cannot_be_read_is_an_error_and_the_others_are_read() {
    let folder = Folder::with(&[("march.txt", MARCH.as_bytes()), ("broken.xlsx", BROKEN)]);
    let (status, document) = read_json(&folder, &["broken.xlsx", "missing.txt", "march.txt"]);
    assert_eq!(status, 1);
    assert_eq!(document["records"].as_array().unwrap().len(), 1);
    let errors = document["errors"].as_array().unwrap();
    let codes: Vec<(&str, &str)> =
        errors.iter().map(|e| (e["file"].as_str().unwrap(), e["code"].as_str().unwrap())).collect();
    assert!(codes.contains(&("broken.xlsx", "not-a-workbook")), "{codes:?}");
    assert!(codes.contains(&("missing.txt", "not-found")), "{codes:?}");
    for error in errors {
        assert_eq!(keys(error), BTreeSet::from(["code", "file", "part", "text"]));
    }
}

#[test]
fn exit_status_tells_all_read_some_unread_and_usage() {
    let folder = Folder::with(&[("march.txt", MARCH.as_bytes()), ("shopping.txt", b"bread, butter\n")]);
    assert_eq!(folder.run(&["read", "march.txt"]).status, 0);
    assert_eq!(folder.run(&["read", "march.txt", "missing.txt"]).status, 1);
    assert_eq!(folder.run(&["read", "shopping.txt"]).status, 1, "no results");
    for usage in [
        &["read"][..],
        &["read", "--nonsense", "march.txt"],
        &["read", "--encoding", "klingon", "march.txt"],
        &["read", "--grammar", "missing.toml", "march.txt"],
        &["reed", "march.txt"],
    ] {
        let run = folder.run(usage);
        assert_eq!(run.status, 2, "{usage:?}: {}", run.err);
        assert!(run.out.is_empty() && !run.err.is_empty());
    }
    for help in ["--help", "--version"] {
        assert_eq!(folder.run(&[help]).status, 0);
    }
}

#[test]
fn messages_name_the_file_what_is_wrong_and_what_to_do() {
    let folder = Folder::with(&[("broken.xlsx", BROKEN)]);
    let run = folder.run(&["read", "broken.xlsx", "missing.txt"]);
    let lines: Vec<&str> = run.err.lines().collect();
    assert!(lines.iter().any(|line| line.starts_with("missing.txt: ") && line.contains("check the name")), "{lines:?}");
    assert!(
        lines.iter().any(|line| line.starts_with("broken.xlsx: ") && line.ends_with("[not-a-workbook]")),
        "{lines:?}"
    );
    assert!(run.out.is_empty());
}

#[test]
fn standard_input_is_a_file_too() {
    let folder = Folder::new();
    let run = folder.run_with(&["read", "--json", "-"], MARCH);
    let document: Value = serde_json::from_str(&run.out).unwrap();
    assert_eq!(document["records"][0]["source"]["file"], "-");
    assert_eq!(document["records"][0]["sample"]["vessel"], "Softener 2");
}

#[test]
fn folders_are_read_to_their_ends_in_order() {
    let folder = Folder::with(&[
        ("reports/b.txt", MARCH.as_bytes()),
        ("reports/2024/z.txt", MARCH.as_bytes()),
        ("reports/.hidden/x.txt", MARCH.as_bytes()),
    ]);
    let (_, document) = read_json(&folder, &["reports"]);
    let names: Vec<&str> =
        document["files"].as_array().unwrap().iter().map(|f| f["source"]["file"].as_str().unwrap()).collect();
    assert_eq!(names, ["2024/z.txt", "b.txt"]);
}

#[test]
fn tables_show_figures_places_and_doubts_at_eighty_columns() {
    let ambiguous = MARCH.replace("2025-03-21", "03/04/2025");
    let folder = Folder::with(&[("march.txt", ambiguous.as_bytes())]);
    let run = folder.run(&["read", "march.txt"]);
    assert_eq!(run.status, 0);
    for part in ["Softener 2", "Mill Street Laundry", "1.72 eq/L", "47.3 %", "< 50 mg/kg", "line 9", "ambiguous-date"] {
        assert!(run.out.contains(part), "{part} is missing in\n{}", run.out);
    }
    let widest = run.out.lines().map(|line| line.chars().count()).max().unwrap();
    assert!(widest <= 80, "{widest} columns\n{}", run.out);
    assert!(run.out.lines().all(|line| line.trim_end() == line), "no blanks at the ends of lines");
}

#[test]
fn pages_are_plain_when_piped_whatever_the_environment() {
    let folder = Folder::with(&[("march.txt", MARCH.as_bytes())]);
    for (name, value) in [("NO_COLOR", "1"), ("CLICOLOR_FORCE", "1"), ("TERM", "xterm")] {
        for arguments in [&["read", "march.txt"][..], &["judge", "march.txt"], &["explain", "iron"]] {
            let output = folder.command().args(arguments).env(name, value).output().unwrap();
            assert!(!output.stdout.is_empty(), "{arguments:?}");
            assert!(!output.stdout.contains(&0x1b), "{arguments:?} with {name}");
        }
    }
}

#[test]
fn a_terminal_is_told_nothing_by_a_report() {
    let hostile =
        "Vessel: Soft\u{1b}]0;owned\u{7}ener\u{202e} 2\nMoisture retention: 47.3 %\nColour: dark\u{9b}31m brown 3\n";
    let folder = Folder::with(&[("evil\u{1b}[2Jname.txt", hostile.as_bytes())]);
    let run = folder.run(&["read", "--all", "."]);
    for stream in [&run.out, &run.err] {
        assert!(
            !stream.chars().any(|c| (c.is_control() && c != '\n') || ('\u{202a}'..='\u{202e}').contains(&c)),
            "{stream:?}"
        );
    }
}

#[test]
fn a_pipe_that_is_closed_is_success() {
    let folder = Folder::with(&[("march.txt", MARCH.as_bytes())]);
    for arguments in [
        &["read", "march.txt"][..],
        &["read", "--json", "march.txt"],
        &["convert", "march.txt"],
        &["completions", "bash"],
        &["explain"],
    ] {
        let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_beadwise"))
            .args(arguments)
            .current_dir(folder.path(""))
            .stdout(std::process::Stdio::piped())
            .stderr(std::process::Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        let err = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{arguments:?}: {err}");
        assert!(!err.contains("panicked") && !err.contains("Broken pipe"), "{arguments:?}: {err}");
    }
}

#[test]
fn words_of_ones_own_are_read_and_a_broken_file_of_them_names_its_line() {
    let report = "Vessel: Softener 2\nSwamp factor: 47.3 %\n";
    let folder = Folder::with(&[
        ("odd.txt", report.as_bytes()),
        ("ours.toml", b"[moisture]\nen = \"swamp factor\"\n"),
        ("broken.toml", b"\n[moisture\n"),
    ]);
    let (status, document) = read_json(&folder, &["odd.txt", "--grammar", "ours.toml"]);
    assert_eq!(status, 0);
    assert_eq!(document["records"][0]["measurements"][0]["property"], "moisture_retention");
    let run = folder.run(&["read", "odd.txt", "--grammar", "broken.toml"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("broken.toml:2"), "{}", run.err);
}
