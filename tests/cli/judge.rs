//! `beadwise judge` and `beadwise spec`.

use crate::kit::{BROKEN, Folder, MARCH};
use serde_json::Value;

/// 1.95 eq/L of a sodium-form gel cation with 47.3 % moisture is within what its class has new (minimum 1.9 eq/L, 44
/// to 48 %): a bed to keep.
const SOUND: &str = "\
Vessel: Softener 2
Date sampled: 2025-03-21
Resin: strong acid cation, gel
Duty: softening
Total capacity (Na form): 1.95 eq/L
Moisture retention: 47.0 %
Whole beads: 96 %
Iron, dry basis: 250 mg/kg
";

fn judged(folder: &Folder, arguments: &[&str]) -> (i32, Value) {
    let run = folder.run(&[&["judge", "--json", "--today", "2025-04-01"], arguments].concat());
    (run.status, serde_json::from_str(&run.out).unwrap_or_else(|error| panic!("{error}: {}", run.err)))
}

#[test]
fn the_json_has_the_keys_of_the_contract() {
    let folder = Folder::with(&[("march.txt", MARCH.as_bytes()), ("broken.xlsx", BROKEN)]);
    let (status, document) = judged(&folder, &["march.txt", "broken.xlsx", "--class", "sac-gel-8"]);
    assert_eq!(status, 1);
    assert_eq!(document["contract"], 1);
    assert_eq!(document["errors"][0]["code"], "not-a-workbook");
    let judgement = document["judgements"][0].as_object().unwrap();
    for key in [
        "source",
        "sample",
        "verdict",
        "also",
        "certainty",
        "shares",
        "score",
        "baseline",
        "grades",
        "loss",
        "recovery",
        "causes",
        "fix_first",
        "reasons",
        "would_change",
        "missing",
        "resample_how",
        "cautions",
        "replace_by",
        "next_sample_on",
    ] {
        assert!(judgement.contains_key(key), "{key} is missing");
    }
    for key in
        ["property", "basis", "form", "value", "unit", "where", "new", "percent_of_new", "grade", "score", "rule"]
    {
        assert!(judgement["grades"][0].get(key).is_some(), "{key} is missing in {}", judgement["grades"][0]);
    }
}

#[test]
fn a_sound_bed_is_kept_and_the_page_says_why() {
    let folder = Folder::with(&[("sound.txt", SOUND.as_bytes())]);
    let arguments = ["sound.txt", "--class", "sac-gel-8", "--drinking", "no"];
    let (status, document) = judged(&folder, &arguments);
    assert_eq!(status, 0);
    assert_eq!(document["judgements"][0]["verdict"], "keep");
    assert_eq!(document["judgements"][0]["sample"]["drinking_water"], false);
    let page = folder.run(&[&["judge"], &arguments[..]].concat());
    assert!(page.out.contains("KEEP"), "{}", page.out);
    assert!(page.out.lines().all(|line| line.chars().count() <= 80), "{}", page.out);
}

#[test]
fn limits_of_ones_own_are_used_and_broken_ones_name_their_line() {
    let folder = Folder::with(&[
        ("sound.txt", SOUND.as_bytes()),
        ("ours.toml", b"[limit.capacity_loss_replace]\nvalue = 0.3\nsource = \"our practice\"\n"),
        ("wrong.toml", b"\n[limit.no_such_limit]\nvalue = 0.3\nsource = \"our practice\"\n"),
    ]);
    assert_eq!(folder.run(&["judge", "sound.txt", "--class", "sac-gel-8", "--policy", "ours.toml"]).status, 0);
    let run = folder.run(&["judge", "sound.txt", "--policy", "wrong.toml"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("wrong.toml:2"), "{}", run.err);
}

#[test]
fn classes_are_listed_shown_and_checked() {
    let folder = Folder::with(&[("sound.txt", SOUND.as_bytes())]);
    let list = folder.run(&["spec", "list"]).out;
    for class in [
        "sac-gel-8",
        "sac-gel-10",
        "sac-macro",
        "wac",
        "sba1-gel",
        "sba1-porous",
        "sba1-macro",
        "sba2-gel",
        "sba-acrylic",
        "sba-nitrate",
        "wba-macro",
    ] {
        assert!(list.lines().any(|line| line.split_whitespace().next() == Some(class)), "{class}: {list}");
    }
    assert!(folder.run(&["spec", "show", "sac-gel-8"]).out.contains("grammar/specs/cation.toml:"));
    for arguments in [&["spec", "show", "sac-gel-9"][..], &["judge", "sound.txt", "--class", "sac-gel-9"]] {
        let run = folder.run(arguments);
        assert_eq!(run.status, 2);
        assert!(run.err.contains("sac-gel-8"), "what is known is named: {}", run.err);
    }
    for wrong in [&["--today", "yesterday"][..], &["--drinking", "maybe"]] {
        assert_eq!(folder.run(&[&["judge", "sound.txt"], wrong].concat()).status, 2);
    }
}
