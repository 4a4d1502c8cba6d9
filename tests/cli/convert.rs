//! `beadwise convert`.

use crate::kit::{BROKEN, FORMULA, Folder, MARCH, rows};
use serde_json::Value;

const HEADER: &str = "file,sample_id,site,vessel,position,sampled_on,reported_on,laboratory,resin_class,property,basis,\
                      form,qualifier,value,high,unit,label,as_written,method,where,doubts";

fn folder() -> Folder {
    Folder::with(&[
        ("reports/march.txt", MARCH.as_bytes()),
        ("reports/2024/odd.txt", FORMULA.as_bytes()),
        ("reports/broken.xlsx", BROKEN),
        ("reports/empty.txt", b""),
        ("reports/.draft.txt", MARCH.as_bytes()),
    ])
}

#[test]
fn a_folder_becomes_one_table_in_order_and_a_bad_file_does_not_stop_it() {
    let folder = folder();
    let run = folder.run(&["convert", "reports", "--to", "csv", "-o", "all.csv"]);
    assert_eq!(run.status, 1, "{}", run.err);
    assert!(run.out.is_empty());
    let text = folder.text("all.csv");
    assert_eq!(text.lines().next(), Some(HEADER));
    assert_eq!(text.matches("\r\n").count(), text.matches('\n').count(), "rows end as RFC 4180 has it");
    let rows = rows(&text);
    let files: Vec<&str> = rows.iter().map(|row| row["file"].as_str()).collect();
    assert_eq!(files, ["2024/odd.txt", "march.txt", "march.txt", "march.txt"]);
    let iron = rows.iter().find(|row| row["property"] == "iron").unwrap();
    for (column, cell) in [
        ("site", "Mill Street Laundry"),
        ("vessel", "Softener 2"),
        ("sampled_on", "2025-03-21"),
        ("basis", "dry_mass"),
        ("qualifier", "<"),
        ("value", "50"),
        ("high", ""),
        ("unit", "mg/kg"),
        ("where", "line 10"),
    ] {
        assert_eq!(iron[column], cell, "{column}");
    }
}

#[test]
fn what_could_not_be_read_is_listed_beside_the_table_or_where_it_is_wanted() {
    let folder = folder();
    folder.run(&["convert", "reports", "-o", "all.csv"]);
    folder.run(&["convert", "reports", "-o", "other.csv", "--rejects", "unread.csv"]);
    assert_eq!(folder.text("all.rejects.csv"), folder.text("unread.csv"));
    assert!(!folder.path("other.rejects.csv").exists());
    let rejects = rows(&folder.text("unread.csv"));
    let codes: Vec<(&str, &str)> = rejects.iter().map(|row| (row["file"].as_str(), row["code"].as_str())).collect();
    assert_eq!(codes, [("broken.xlsx", "not-a-workbook"), ("empty.txt", "empty-file")]);
    assert!(rejects.iter().all(|row| row["part"].is_empty() && !row["text"].is_empty()));
}

#[test]
fn where_all_was_read_no_list_of_rejects_is_made_and_an_old_one_is_emptied() {
    let folder = Folder::with(&[("march.txt", MARCH.as_bytes())]);
    assert_eq!(folder.run(&["convert", "march.txt", "-o", "all.csv"]).status, 0);
    assert_eq!(folder.names(), ["all.csv", "march.txt"]);
    folder.write("all.rejects.csv", b"file,part,code,text\r\nold.xlsx,,not-a-workbook,x\r\n");
    assert_eq!(folder.run(&["convert", "march.txt", "-o", "all.csv"]).status, 0);
    assert_eq!(folder.text("all.rejects.csv"), "file,part,code,text\r\n");
}

#[test]
fn text_of_reports_is_guarded_against_formulas_unless_it_is_wanted_exactly() {
    let folder = folder();
    let vessel = |arguments: &[&str]| {
        let run = folder.run(&[&["convert", "reports/2024/odd.txt"], arguments].concat());
        assert_eq!(run.status, 0, "{}", run.err);
        rows(&run.out)[0]["vessel"].clone()
    };
    assert!(vessel(&[]).starts_with("'=HYPERLINK("), "{}", vessel(&[]));
    assert!(vessel(&["--exact"]).starts_with("=HYPERLINK("));
    assert!(vessel(&["--wide"]).starts_with("'=HYPERLINK("));
}

#[test]
fn wide_has_a_row_for_each_sample_and_a_column_for_each_property_and_basis() {
    let folder = folder();
    let run = folder.run(&["convert", "reports", "--wide"]);
    let header = run.out.lines().next().unwrap();
    assert!(header.starts_with("file,sample_id,site,vessel,position,sampled_on,reported_on,laboratory,resin_class,"));
    let rows = rows(&run.out);
    assert_eq!(rows.len(), 2);
    assert_eq!(rows[1]["total_capacity.volume[eq/L]"], "1.72");
    assert_eq!(rows[0]["total_capacity.volume[eq/L]"], "");
    assert_eq!((rows[0]["moisture_retention[%]"].as_str(), rows[1]["moisture_retention[%]"].as_str()), ("51", "47.3"));
    assert_eq!(rows[1]["iron.dry_mass[mg/kg]"], "50");
    assert_eq!(rows[1]["iron.dry_mass[mg/kg].qualifier"], "<");
    assert!(!header.contains("moisture_retention[%].qualifier"), "only where a row has one: {header}");
}

#[test]
fn outputs_are_whole_or_not_there() {
    let folder = folder();
    folder.write("all.csv", b"as it was");
    let run = folder.run(&["convert", "reports", "-o", "all.csv", "--rejects", "none/unread.csv"]);
    assert_eq!(run.status, 2, "{}", run.err);
    assert_eq!(folder.text("all.csv"), "as it was");
    let run = folder.run(&["convert", "reports", "-o", "none/all.csv"]);
    assert_eq!(run.status, 2, "{}", run.err);
    assert_eq!(folder.names(), ["all.csv", "reports"], "no scratch file is left");
}

#[test]
fn a_report_is_never_written_over_and_an_earlier_output_never_read() {
    let folder = folder();
    let run = folder.run(&["convert", "reports", "-o", "reports/march.txt"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("written over"), "{}", run.err);
    assert_eq!(folder.text("reports/march.txt"), MARCH);
    let run = || {
        folder.run(&["convert", "reports", "-o", "reports/all.csv"]);
        folder.text("reports/all.csv")
    };
    assert_eq!(run(), run());
}

#[test]
fn json_is_the_document_of_read_and_jsonl_one_record_to_a_line() {
    let folder = folder();
    let whole: Value = serde_json::from_str(&folder.run(&["convert", "reports", "--to", "json"]).out).unwrap();
    let read: Value = serde_json::from_str(&folder.run(&["read", "--json", "reports"]).out).unwrap();
    assert_eq!(whole, read);
    let lines = folder.run(&["convert", "reports", "--to", "jsonl"]).out;
    let records: Vec<Value> = lines.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(Value::from(records), read["records"]);
}

#[test]
fn options_that_make_no_sense_together_are_usage_errors() {
    let folder = folder();
    for arguments in
        [&["--to", "json", "--wide"][..], &["--to", "jsonl", "--exact"], &["--to", "xml"], &["-o", "reports"]]
    {
        let run = folder.run(&[&["convert", "reports"], arguments].concat());
        assert_eq!(run.status, 2, "{arguments:?}: {}", run.err);
    }
    assert_eq!(folder.run(&["convert"]).status, 2);
}

#[test]
fn many_files_come_out_in_the_order_of_their_names() {
    let folder = Folder::new();
    for n in 0..150 {
        folder.write(&format!("reports/{n:03}.txt"), MARCH.replace("Softener 2", &format!("Softener {n}")).as_bytes());
    }
    let run = folder.run(&["convert", "reports", "--wide"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let vessels: Vec<String> = rows(&run.out).iter().map(|row| row["vessel"].clone()).collect();
    let expected: Vec<String> = (0..150).map(|n| format!("Softener {n}")).collect();
    assert_eq!(vessels, expected);
    assert!(run.err.contains("150 files read: 150 samples, 450 measurements"), "{}", run.err);
}
