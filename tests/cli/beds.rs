//! The store of beds as it is used: filed, asked, killed in the middle, kept.

use crate::kit::{Folder, MARCH};
use serde_json::Value;

/// A report on the other softener of the same site.
fn other(vessel: &str, year: u32, capacity: f64) -> String {
    format!(
        "Northbank Analytical\nReport no.: NB-{year}-{vessel}\nSite: Mill Street Laundry\nVessel: Softener {vessel}\nDate sampled: {year}-05-21\nDate installed: 2016-05\nResin: strong acid cation, gel\n\nTotal capacity (Na form): {capacity:.2} eq/L\nMoisture retention: 47.3 %\n"
    )
}

fn beds<'a>(rest: &[&'a str]) -> Vec<&'a str> {
    [&["beds", "--store", "beds.db"], rest].concat()
}

fn json(folder: &Folder, rest: &[&str]) -> Value {
    let run = folder.run(&beds(rest));
    serde_json::from_str(&run.out).unwrap_or_else(|error| panic!("{error}: {}{}", run.out, run.err))
}

/// Five years of two softeners.
fn years() -> Folder {
    let folder = Folder::with(&[]);
    for year in 2018..2023 {
        folder.write(&format!("in/s1-{year}.txt"), other("1", year, 1.98 - 0.04 * f64::from(year - 2018)).as_bytes());
        folder.write(&format!("in/s2-{year}.txt"), other("2", year, 1.80 - 0.07 * f64::from(year - 2018)).as_bytes());
    }
    let run = folder.run(&beds(&["file", "--new", "in"]));
    assert_eq!(run.status, 0, "{}", run.err);
    folder
}

#[test]
fn years_of_reports_are_filed_by_one_command_and_filing_them_again_changes_nothing() {
    let folder = years();
    let listed = json(&folder, &["list", "--json"]);
    assert_eq!(listed["beds"].as_array().unwrap().len(), 2);
    let before = folder.run(&beds(&["export"])).out;
    let again = folder.run(&beds(&["file", "--new", "in"]));
    assert_eq!(again.status, 0);
    assert!(again.out.lines().all(|line| line.contains("filed before")), "{}", again.out);
    assert_eq!(folder.run(&beds(&["export"])).out, before);
}

#[test]
fn views_fit_the_page_and_have_a_json_form() {
    let folder = years();
    for rest in [
        &["history", "softener-2", "--today", "2023-01-01"][..],
        &["trend", "softener-2", "--today", "2023-01-01"],
        &["due", "--today", "2023-01-01"],
        &["rank", "--today", "2023-01-01"],
        &["list"],
        &["show", "softener-2"],
        &["check"],
        &["reread"],
    ] {
        let run = folder.run(&beds(rest));
        assert_eq!(run.status, 0, "{rest:?}: {}", run.err);
        assert!(run.out.lines().all(|line| line.chars().count() <= 80), "{rest:?}:\n{}", run.out);
        let document = json(&folder, &[rest, &["--json"]].concat());
        assert_eq!(document["contract"], 1, "{rest:?}");
    }
    let ranked = json(&folder, &["rank", "--json", "--today", "2023-01-01"]);
    assert_eq!(ranked["beds"][0]["bed"], "mill-street-laundry/softener-2", "the faster one comes first");
    let history = json(&folder, &["history", "softener-2", "--json", "--today", "2023-01-01"]);
    assert_eq!(history["entries"].as_array().unwrap().len(), 5);
    // By hand: 0.07 eq/L a year of 2.00 eq/L (class sac-gel-8) is 3.5 points.
    let slope = history["trends"][0]["per_year"]["robust"].as_f64().unwrap();
    assert!((slope + 3.5).abs() < 0.05, "{slope}");
}

#[test]
fn what_could_be_two_beds_is_refused_in_a_pipe_until_it_is_named() {
    let folder = years();
    let nameless = MARCH.replace("Vessel: Softener 2\n", "");
    folder.write("march.txt", nameless.as_bytes());
    let run = folder.run(&beds(&["file", "--new", "march.txt"]));
    assert_eq!(run.status, 1);
    assert!(
        run.err.contains("which-bed") && run.err.contains("softener-1 or mill-street-laundry/softener-2"),
        "{}",
        run.err
    );
    folder.write("list.csv", b"file,vessel\nmarch.txt,Softener 2\n");
    let run = folder.run(&beds(&["file", "--list", "list.csv"]));
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(run.out.contains("mill-street-laundry/softener-2"), "{}", run.out);
    // Reading it again keeps what the list said.
    let again = json(&folder, &["reread", "--json"]);
    assert!(
        again["reports"].as_array().unwrap().iter().all(|report| report["changes"] == Value::Array(vec![])),
        "{again:#}"
    );
}

#[test]
fn an_unknown_bed_needs_a_word() {
    let folder = years();
    folder.write(
        "far.txt",
        other("2", 2020, 1.9)
            .replace("Mill Street Laundry", "Pine Ridge Clinic")
            .replace("NB-2020", "NB-20-9")
            .as_bytes(),
    );
    let run = folder.run(&beds(&["file", "far.txt"]));
    assert_eq!(run.status, 1);
    assert!(run.err.contains("unknown-bed") && run.err.contains("--new"), "{}", run.err);
    let run = folder.run(&beds(&["file", "--bed", "softener-1", "far.txt"]));
    assert_eq!(run.status, 0, "{}", run.err);
}

#[test]
fn the_verdict_knows_the_bed() {
    let folder = years();
    // No class and no age in it: the store knows both.
    folder.write(
        "now.txt",
        b"Sample: core\nDate sampled: 2022-11-21\nTotal capacity (Na form): 1.60 eq/L\nMoisture retention: 48.0 %\n",
    );
    let alone: Value = serde_json::from_str(&folder.run(&["judge", "--json", "now.txt"]).out).unwrap();
    assert_eq!(alone["judgements"][0]["verdict"], "resample");
    let run = folder.run(&[
        "judge",
        "--json",
        "now.txt",
        "--bed",
        "softener-1",
        "--store",
        "beds.db",
        "--today",
        "2022-12-01",
    ]);
    let known: Value = serde_json::from_str(&run.out).unwrap_or_else(|error| panic!("{error}: {}", run.err));
    let judgement = &known["judgements"][0];
    assert_ne!(judgement["verdict"], "resample");
    let reasons = judgement["reasons"].to_string();
    assert!(reasons.contains("analyses of this charge"), "{reasons}");
}

#[test]
fn mistakes_end_with_status_2_and_say_what_to_do() {
    let folder = years();
    for (rest, says) in [
        (&["history", "softener"][..], "several beds could be meant"),
        (&["history", "boiler"], "no bed is called so"),
        (&["reading", "softener-1", "--on", "2025-01-01", "freeboard=26"], "unit"),
        (&["reading", "softener-1", "--on", "2025-01-01", "26 in"], "write it as"),
        (&["add", "--site", "Mill Street Laundry", "--vessel", "softener 2"], "already"),
        (&["set", "softener-1", "--class", "sac"], "no such class"),
        (&["take-out", "nothing.txt"], "no report"),
        (&["file", "-"], "name the file"),
    ] {
        let run = folder.run(&beds(rest));
        assert_eq!(run.status, 2, "{rest:?}: {}{}", run.out, run.err);
        assert!(run.err.contains(says), "{rest:?}: {}", run.err);
    }
    let run = folder.run(&["beds", "--store", "none.db", "list"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("no store of beds here yet"), "{}", run.err);
    assert!(!folder.path("none.db").exists(), "looking begins no store");
}

#[test]
fn readings_and_events_are_written_down_in_any_unit() {
    let folder = years();
    let facts = &[
        "set",
        "softener-1",
        "--volume",
        "10 ft3",
        "--bore",
        "24 in",
        "--freeboard",
        "20 in",
        "--resin-price",
        "180 USD/ft3",
    ];
    let run = folder.run(&beds(facts));
    assert!(run.out.contains("283 L (10 ft³)") && run.out.contains("0.61 m (24 in)"), "{}", run.out);
    // By hand: a bed 10 ft3 / 3.1416 ft2 = 38.2 in deep; points 6 in apart are 15.7 % of it.
    let points = &[
        "reading",
        "softener-1",
        "--on",
        "2022-06-01",
        "--state",
        "regenerated",
        "freeboard=20 in",
        "freeboard=26 in",
    ];
    let run = folder.run(&beds(points));
    assert!(run.out.contains("varies by 16 %") && run.out.contains("channelling"), "{}", run.out);
    let run = folder.run(&beds(&[
        "event",
        "softener-1",
        "rebedded",
        "--on",
        "2022-09-01",
        "--lot",
        "L 7",
        "--volume",
        "10 ft3",
    ]));
    assert!(run.out.contains("Keep a sample"), "{}", run.out);
    let history = folder.run(&beds(&["history", "softener-1"])).out;
    assert!(history.contains("lot L 7") && history.contains("Charge 2 of 2022-09-01"), "{history}");
    let due = folder.run(&beds(&["due", "--today", "2022-09-02"])).out;
    assert!(due.contains("no analysis of its own"), "{due}");
}

#[test]
fn the_calendar_is_written_whole_and_holds_what_is_due() {
    let folder = years();
    let run = folder.run(&beds(&["due", "--ics", "due.ics", "--today", "2023-01-01"]));
    assert_eq!((run.status, run.out.as_str()), (0, ""));
    let text = folder.text("due.ics");
    assert!(text.starts_with("BEGIN:VCALENDAR\r\n") && text.ends_with("END:VCALENDAR\r\n"));
    assert_eq!(text.matches("BEGIN:VEVENT\r\n").count(), 2);
}

#[test]
fn a_store_goes_out_as_lines_and_comes_back() {
    let folder = years();
    assert_eq!(folder.run(&beds(&["export", "-o", "all.jsonl"])).status, 0);
    assert_eq!(folder.run(&["beds", "--store", "new.db", "import", "all.jsonl"]).status, 0);
    assert_eq!(folder.run(&["beds", "--store", "new.db", "export"]).out, folder.text("all.jsonl"));
    let refused = folder.run(&["beds", "--store", "new.db", "import", "all.jsonl"]);
    assert_eq!(refused.status, 2, "{}", refused.err);
    assert_eq!(folder.run(&beds(&["backup", "copy.db"])).status, 0);
    assert_eq!(folder.run(&["beds", "--store", "back.db", "restore", "copy.db"]).status, 0);
    assert_eq!(folder.run(&["beds", "--store", "back.db", "export"]).out, folder.text("all.jsonl"));
}

#[test]
fn a_report_taken_out_can_be_filed_again() {
    let folder = years();
    let run = folder.run(&beds(&["take-out", "s1-2019.txt"]));
    assert_eq!(run.status, 0, "{}", run.err);
    assert_eq!(json(&folder, &["history", "softener-1", "--json"])["entries"].as_array().unwrap().len(), 4);
    let run = folder.run(&beds(&["file", "in/s1-2019.txt"]));
    assert!(run.out.contains("filed under"), "{}{}", run.out, run.err);
}
