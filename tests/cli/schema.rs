//! `docs/schema`: what programs may rely on, held against what the program prints.

use crate::kit::{BROKEN, Folder, MARCH};
use jsonschema::Validator;
use serde_json::{Value, json};
use std::fs;
use std::path::PathBuf;

fn repository(path: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn schema(name: &str) -> Value {
    let text = fs::read_to_string(repository("docs/schema").join(format!("{name}.json"))).unwrap();
    serde_json::from_str(&text).unwrap_or_else(|error| panic!("{name}: {error}"))
}

/// The schema without room for keys that it does not name: a key that is printed is to be published.
fn closed(schema: &Value) -> Value {
    match schema {
        Value::Object(fields) => {
            let mut fields: serde_json::Map<String, Value> =
                fields.iter().map(|(key, value)| (key.clone(), closed(value))).collect();
            let is_object =
                fields.get("type").is_some_and(|kind| kind == "object") && fields.contains_key("properties");
            if is_object && !fields.contains_key("additionalProperties") {
                fields.insert("additionalProperties".into(), false.into());
            }
            Value::Object(fields)
        }
        Value::Array(items) => items.iter().map(closed).collect(),
        other => other.clone(),
    }
}

fn validator(schema: &Value) -> Validator {
    jsonschema::draft202012::meta::validate(schema).unwrap_or_else(|error| panic!("no schema: {error}"));
    jsonschema::draft202012::new(schema).unwrap_or_else(|error| panic!("no schema: {error}"))
}

fn holds(validator: &Validator, document: &Value, what: &str) {
    let wrong: Vec<String> =
        validator.iter_errors(document).take(5).map(|error| format!("{}: {error}", error.instance_path())).collect();
    assert!(wrong.is_empty(), "{what}: {}", wrong.join("\n"));
}

fn printed(arguments: &[&str]) -> Value {
    let run = Folder::with(&[("broken.xlsx", BROKEN), ("march.txt", MARCH.as_bytes())]).run(arguments);
    serde_json::from_str(&run.out).unwrap_or_else(|error| panic!("{arguments:?}: {error}: {}", run.err))
}

#[test]
fn all_that_is_printed_is_as_published_to_the_last_key() {
    let demo = repository("fixtures-demo");
    let demo = demo.to_str().unwrap();
    let read = validator(&closed(&schema("read")));
    let document = printed(&["read", "--json", demo, "broken.xlsx", "march.txt"]);
    assert!(document["records"].as_array().unwrap().len() > 40 && document["errors"].as_array().unwrap().len() == 1);
    holds(&read, &document, "read");
    let record = validator(&closed(&schema("record")));
    for one in document["records"].as_array().unwrap() {
        holds(&record, one, "a line of jsonl");
    }
    let folder = Folder::new();
    folder.write("records.json", document.to_string().as_bytes());
    let run = folder.run(&["judge", "--json", "records.json", "--today", "2025-11-25"]);
    let judged: Value = serde_json::from_str(&run.out).unwrap();
    let judge = validator(&closed(&schema("judge")));
    holds(&judge, &judged, "judge");
    let demo = repository("fixtures-demo/14-mill-street-s1-cleaning-2021/MSL softener 1 then and now.ods");
    let demo = demo.to_str().unwrap();
    holds(&judge, &printed(&["judge", "--json", "--before", demo, demo]), "judge --before");
}

#[test]
fn what_is_not_of_the_contract_is_refused() {
    let read = validator(&schema("read"));
    let good = printed(&["read", "--json", "march.txt"]);
    holds(&read, &good, "read");
    let spoilt = |path: &str, value: Value| {
        let mut document = good.clone();
        *document.pointer_mut(path).unwrap_or_else(|| panic!("{path}")) = value;
        document
    };
    for (path, value) in [
        ("/contract", json!(2)),
        ("/records/0/measurements/0/unit", json!("meq/mL")),
        ("/records/0/measurements/0/property", json!("capacity")),
        ("/records/0/measurements/0/value", json!("1.72")),
        ("/records/0/measurements/1/basis", json!("volume")),
        ("/records/0/sample/sampled_on", json!("21 March 2025")),
        ("/records/0/source/sha256", json!("abc")),
        ("/records/0/sample", json!({})),
    ] {
        assert!(!read.is_valid(&spoilt(path, value.clone())), "{path} as {value}");
    }
    let mut more = good.clone();
    more["records"][0]["colour"] = json!("amber");
    assert!(read.is_valid(&more), "keys may be added");
}

#[test]
fn the_record_of_a_line_is_the_record_of_a_document() {
    let (read, record) = (schema("read"), schema("record"));
    for (name, definition) in record["$defs"].as_object().unwrap() {
        assert_eq!(definition, &read["$defs"][name], "{name}");
    }
    for (key, value) in read["$defs"]["record"].as_object().unwrap().iter().filter(|(key, _)| *key != "description") {
        assert_eq!(&record[key], value, "{key}");
    }
    let judge = schema("judge");
    for name in ["source", "where", "date", "sample", "error"] {
        assert_eq!(judge["$defs"][name], read["$defs"][name], "{name}");
    }
}
