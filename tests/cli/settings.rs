//! `beadwise config`, and that what is settled is followed.

use crate::kit::{Folder, MARCH, rows};
use serde_json::Value;

const SOFTENER: &str = "\
Vessel: Softener 2
Site: Mill Street Laundry
Date sampled: 2025-03-21
Resin: strong acid cation, gel, 8 % DVB
Duty: softening
Total capacity (Na form): 1.56 eq/L
Moisture retention: 47.0 %
Whole beads: 96 %
Iron, dry basis: 250 mg/kg
";

fn settled(text: &str) -> Folder {
    let folder = Folder::with(&[("march.txt", MARCH.as_bytes()), ("softener.txt", SOFTENER.as_bytes())]);
    folder.write("no-settings/beadwise/config.toml", text.as_bytes());
    folder
}

fn json(folder: &Folder, arguments: &[&str]) -> Value {
    let run = folder.run(arguments);
    serde_json::from_str(&run.out).unwrap_or_else(|error| panic!("{error}: {} {}", run.out, run.err))
}

/// The value of a setting, and who says so.
fn shown(document: &Value, setting: &str) -> (String, String) {
    let lines = document["settings"].as_array().unwrap();
    let line = lines.iter().find(|line| line["setting"] == setting).unwrap();
    let value = line["values"].get(0).and_then(Value::as_str).unwrap_or_default();
    (value.to_owned(), line["from"].as_str().unwrap().to_owned())
}

#[test]
fn show_says_of_each_setting_who_made_it() {
    let folder = settled("units = \"si\"\nto = \"jsonl\"\n\n[prices]\nsalt_price = \"0.20/lb\"\n");
    let output = folder
        .command()
        .args(["config", "show", "--json", "--units", "us"])
        .env("BEADWISE_WATER_PRICE", "12/1000gal")
        .output()
        .unwrap();
    let document: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(shown(&document, "units"), ("us".into(), "command line, --units".into()));
    assert_eq!(shown(&document, "prices.water_price").1, "environment, BEADWISE_WATER_PRICE");
    let (value, from) = shown(&document, "prices.salt_price");
    assert!(value == "0.20/lb" && from.ends_with("no-settings/beadwise/config.toml:5"), "{from}");
    // Half of 3 % at two standard deviations: limit.capacity_sd.
    assert_eq!(shown(&document, "laboratory.capacity"), ("0.015".into(), "built in".into()));
    let page = folder.run(&["config", "show"]).out;
    assert!(page.contains("prices.salt_price") && page.contains("not set"), "{page}");
    let path = folder.run(&["config", "path"]).out;
    assert!(path.trim_end().ends_with("no-settings/beadwise/config.toml"), "{path}");
}

#[test]
fn the_example_holds_line_by_line_when_its_marks_are_taken_away() {
    let folder = settled("");
    let example = folder.run(&["config", "example"]).out;
    let all: String = example
        .lines()
        .map(|line| line.strip_prefix("# ").filter(|rest| rest.contains(" = ")).unwrap_or(line).to_owned() + "\n")
        .collect();
    folder.write("own.toml", all.as_bytes());
    let document = json(&folder, &["--config", "own.toml", "config", "show", "--json"]);
    assert!(
        document["settings"]
            .as_array()
            .unwrap()
            .iter()
            .all(|line| line["from"].as_str().unwrap().contains("own.toml:"))
    );
}

#[test]
fn a_plan_is_printed_in_the_settled_units_and_reckoned_with_the_settled_prices() {
    let arguments = ["plan", "softener.txt", "--today", "2025-04-01", "--tank-bore=24in", "--bed-depth=30in"];
    let folder = settled("");
    assert!(folder.run(&arguments).out.contains("ft³"));
    let folder =
        settled("units = \"si\"\n[prices]\non = \"2025-03\"\nsalt_price = \"0.20/lb\"\nresin_price = \"120/ft3\"\n");
    assert!(!folder.run(&arguments).out.contains("ft³"));
    assert!(folder.run(&[&arguments[..], &["--units", "us"]].concat()).out.contains("ft³"), "an option comes before");
    let plan = json(&folder, &[&arguments[..], &["--json"]].concat());
    let used = plan["plans"][0]["used"].as_array().unwrap();
    let price = |id: &str| used.iter().find(|used| used["id"] == id).map(|used| used["value"].as_f64().unwrap());
    // 0.20 a pound is 0.20 / 0.45359237 = 0.440925 a kilogram.
    assert!(price("salt_price").is_some_and(|value| (value - 0.440_925).abs() < 1e-6), "{used:?}");
    assert_eq!(plan["plans"][0]["prices_on"], "2025-03");
}

#[test]
fn a_verdict_is_less_sure_with_a_laboratory_that_is_less_sure() {
    let certainty = |text: &str| {
        let document = json(&settled(text), &["judge", "--json", "softener.txt", "--class", "sac-gel-8"]);
        let judgement = &document["judgements"][0];
        (judgement["certainty"].as_f64().unwrap(), judgement["overridden"].to_string())
    };
    let (usual, none) = certainty("");
    let (wide, overridden) = certainty("[laboratory]\nsource = \"a round robin\"\ncapacity = 0.10\n");
    assert!(wide < usual, "{wide} against {usual}");
    assert_eq!(none, "[]");
    assert!(overridden.contains("0.1 instead of 0.015") && overridden.contains("config.toml:3"), "{overridden}");
}

#[cfg(feature = "beds")]
#[test]
fn the_settled_store_is_the_store() {
    let folder = settled("store = \"shared.db\"\n");
    assert_eq!(folder.run(&["beds", "add", "--site", "Mill Street Laundry", "--vessel", "Softener 2"]).status, 0);
    assert!(folder.path("no-settings/beadwise/shared.db").exists(), "told from the file that names it");
    assert!(folder.run(&["beds", "list"]).out.contains("softener-2"));
}

#[test]
fn settled_words_teach_every_command_and_the_settled_format_is_written() {
    let folder = settled("grammar = \"words.toml\"\nto = \"json\"\n");
    folder.write("no-settings/beadwise/words.toml", b"[moisture]\nkind = \"head\"\nen = \"sogginess\"\n");
    folder.write("odd.txt", b"Vessel: Softener 2\nSogginess: 47.3 %\n");
    let document = json(&folder, &["convert", "odd.txt"]);
    assert_eq!(document["records"][0]["measurements"][0]["property"], "moisture_retention");
    assert_eq!(rows(&folder.run(&["convert", "odd.txt", "--to", "csv"]).out)[0]["property"], "moisture_retention");
    folder.write("no-settings/beadwise/words.toml", b"[moisture]\nkind = \n");
    let run = folder.run(&["convert", "odd.txt"]);
    assert!(run.status == 2 && run.err.contains("words.toml:2"), "{}", run.err);
}

#[test]
fn what_cannot_be_followed_stops_every_command_that_would_follow_it() {
    let folder = settled("untis = \"us\"\n");
    for arguments in
        [&["judge", "march.txt"][..], &["convert", "march.txt"], &["plan", "march.txt"], &["config", "show"]]
    {
        let run = folder.run(arguments);
        assert_eq!(run.status, 2, "{arguments:?}");
        assert!(run.err.contains("config.toml:1: untis: there is no such setting; did you mean units?"), "{}", run.err);
    }
    for arguments in [&["config", "path"][..], &["config", "example"], &["completions", "bash"], &["man"]] {
        assert_eq!(folder.run(arguments).status, 0, "{arguments:?}");
    }
    let run = folder.run(&["--config", "none.toml", "judge", "march.txt"]);
    assert!(run.status == 2 && run.err.contains("--config none.toml"), "{}", run.err);
}
