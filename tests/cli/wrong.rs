//! Wrong inputs: each message says which file or option, where, what was found, and what to do.

use crate::kit::{BROKEN, Folder, MARCH};

/// The command line, its exit status, and what its message must say.
type Case = (&'static [&'static str], i32, &'static [&'static str]);

const CASES: &[Case] = &[
    (&["judge", "none.txt"], 1, &["none.txt: there is no such file; check the name"]),
    (&["judge", "empty"], 1, &["empty: this folder holds no report", "name the folder with the reports"]),
    (&["judge", "nothing.txt"], 1, &["nothing.txt: ", "no content", "export it again"]),
    (&["judge", "letter.txt"], 1, &["letter.txt: ", "No result", "--grammar"]),
    (&["judge", "broken.xlsx"], 1, &["broken.xlsx: the name says workbook", "fetch it again"]),
    (&["judge", "march.txt", "--class", "sac-gell-8"], 2, &["--class sac-gell-8", "did you mean sac-gel-8?"]),
    (
        &["judge", "march.txt", "--policy", "slip.toml"],
        2,
        &["slip.toml:2: limit", "did you mean: capacity_loss_replace?"],
    ),
    (
        &["judge", "march.txt", "--policy", "word.toml"],
        2,
        &["word.toml:2: string \"much\" stands where a number belongs"],
    ),
    (&["judge", "march.txt", "--policy", "unsourced.toml"], 2, &["unsourced.toml:1: the limit", "add a line `source"]),
    (&["judge", "march.txt", "--policy", "table.toml"], 2, &["table.toml:1: table `limits`", "did you mean: limit?"]),
    (&["judge", "march.txt", "--policy", "none.toml"], 2, &["--policy none.toml: there is no such file"]),
    (&["judge", "march.txt", "--policy", "empty"], 2, &["--policy empty: this is a folder; name a file"]),
    (
        &["judge", "march.txt", "--spec", "spec.toml"],
        2,
        &["spec.toml:2", "no key `standard_frm`", "did you mean: standard_form?"],
    ),
    (&["judge", "old.json"], 1, &["old.json: its contract is 7", "print the records anew"]),
    (&["judge", "march.txt", "--today", "tomorrow"], 2, &["--today", "write a date as 2025-03-31"]),
    (&["judge", "march.txt", "--encoding", "klingon"], 2, &["--encoding klingon", "windows-1252"]),
    (&["jugde", "march.txt"], 2, &["jugde", "a similar subcommand exists: 'judge'"]),
    (&["plan", "march.txt", "--tank-bore", "24"], 2, &["--tank-bore 24: write it with its unit (in or m), as 24in"]),
    (&["plan", "march.txt", "--tank-bore", "wide"], 2, &["--tank-bore wide: there is no number in it; write"]),
    (&["plan", "march.txt", "--salt-price", "0.20"], 2, &["--salt-price 0.20: write it as a price for a unit"]),
    (&["plan", "march.txt", "--units", "metric"], 2, &["--units", "us, si"]),
    (&["plan", "march.txt", "--vessel", "Softener 9"], 2, &["--vessel Softener 9", "there are Softener 2"]),
    (&["plan", "march.txt", "--settings", "settings.toml"], 2, &["settings.toml:1: input", "did you mean: tank_bore?"]),
    (
        &["plan", "march.txt", "--html", "none/plan.html"],
        2,
        &["--html none/plan.html: there is no folder", "make it first"],
    ),
    (&["convert", "march.txt", "--to", "xml"], 2, &["xml", "possible values: csv, xlsx, json, jsonl"]),
    (
        &["convert", "march.txt", "-o", "none/all.csv"],
        2,
        &["--output none/all.csv: there is no folder", "make it first"],
    ),
    (&["convert", "march.txt", "-o", "empty"], 2, &["--output empty: this is a folder; name a file"]),
    (&["convert", "march.txt", "-o", "march.txt"], 2, &["march.txt: this is one of the files to read", "name another"]),
    (&["convert", "march.txt", "--to", "json", "--wide"], 2, &["--wide is for --to csv; leave it out"]),
    (&["spec", "show", "sac-gel"], 2, &["sac-gel: there is no such class", "spec list"]),
    (&["man", "juge"], 2, &["man juge", "did you mean judge?"]),
    (&["config", "show", "--units", "metric"], 2, &["--units", "none of us, si"]),
    (
        &["--config", "none.toml", "judge", "march.txt"],
        2,
        &["--config none.toml: there is no such file", "config example"],
    ),
];

#[cfg(feature = "beds")]
const OF_BEDS: &[Case] = &[
    (&["beds", "--store", "none.db", "list"], 2, &["none.db: there is no store of beds here yet", "begins one"]),
    (&["beds", "--store", "march.txt", "list"], 2, &["march.txt: this is no store of beds", "--store"]),
    (&["beds", "--store", "b.db", "show", "softener-9"], 2, &["softener-9: no bed is called so", "beds list"]),
    (
        &["beds", "--store", "b.db", "reading", "b", "--on", "2025-01-01", "freebord=26 in"],
        2,
        &["freebord", "did you mean freeboard?"],
    ),
    (
        &["beds", "--store", "b.db", "reading", "b", "--on", "2025-01-01", "freeboard=26"],
        2,
        &["freeboard \"26\"", "unit is missing"],
    ),
    (
        &["beds", "--store", "b.db", "event", "b", "cleened", "--on", "2025-01-01"],
        2,
        &["cleened", "similar value exists: 'cleaned'"],
    ),
    (
        &["beds", "--store", "b.db", "event", "b", "cleaned", "--on", "2025-13-01"],
        2,
        &["2025-13-01", "write a date as 2025-03-31"],
    ),
    (
        &["beds", "--store", "b.db", "file", "march.txt"],
        1,
        &["march.txt: ", "the store does not know", "--new registers it"],
    ),
    (&["beds", "--store", "b.db", "file", "--list", "list.csv"], 2, &["--list list.csv: line 1", "no column `file`"]),
    (&["beds", "--store", "b.db", "trend", "b", "--property", "capcity"], 2, &["--property capcity", "did you mean"]),
    (&["judge", "march.txt", "--bed", "softener-2", "--store", "none.db"], 2, &["none.db: there is no store"]),
];

fn folder() -> Folder {
    let folder = Folder::with(&[
        ("march.txt", MARCH.as_bytes()),
        ("empty/.hidden", b""),
        ("nothing.txt", b""),
        ("letter.txt", b"Dear customer, thank you for your order.\n"),
        ("broken.xlsx", BROKEN),
        ("slip.toml", b"\n[limit.capacity_loss_replaec]\nvalue = 0.3\nsource = \"ours\"\n"),
        ("word.toml", b"[limit.capacity_loss_replace]\nvalue = \"much\"\nsource = \"ours\"\n"),
        ("unsourced.toml", b"[limit.capacity_loss_replace]\nvalue = 0.3\n"),
        ("table.toml", b"[limits.capacity_loss_replace]\nvalue = 0.3\nsource = \"ours\"\n"),
        ("spec.toml", b"[class.sac-gel-8]\nstandard_frm = \"Na\"\n"),
        ("settings.toml", b"[input.tank_boer]\ndefault = 1\nsource = \"ours\"\n"),
        ("old.json", b"{\"contract\": 7, \"records\": []}"),
        ("list.csv", b"file;record\nmarch.txt;1\n"),
    ]);
    #[cfg(feature = "beds")]
    assert_eq!(folder.run(&["beds", "--store", "b.db", "add", "--site", "A", "--vessel", "B"]).status, 0);
    folder
}

fn check(cases: &[Case]) {
    let folder = folder();
    let mut wrong = Vec::new();
    for (arguments, status, parts) in cases {
        let run = folder.run(arguments);
        let lacks: Vec<&str> = parts.iter().copied().filter(|part| !run.err.contains(part)).collect();
        if run.status != *status || !lacks.is_empty() {
            wrong.push(format!("{arguments:?}: status {}, lacks {lacks:?}: {}", run.status, run.err));
        }
        if run.err.contains("os error") || run.err.contains("panicked") {
            wrong.push(format!("{arguments:?}: {}", run.err));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn each_wrong_input_is_told_with_where_what_and_what_to_do() {
    check(CASES);
}

#[cfg(feature = "beds")]
#[test]
fn so_is_each_wrong_input_to_the_store() {
    check(OF_BEDS);
}
