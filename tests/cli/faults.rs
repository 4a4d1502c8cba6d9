//! What is around the program fails: the reader of its output goes away, the disk is full, names are made to mislead.

use crate::kit::{Folder, MARCH};
use std::io::Read;
use std::process::{Command, Stdio};

fn program(folder: &Folder, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_beadwise"));
    command.current_dir(folder.path("")).args(arguments).stdin(Stdio::null()).stderr(Stdio::piped());
    command
}

#[test]
fn a_reader_that_goes_away_is_no_failure() {
    let folder = Folder::new();
    for n in 0..60 {
        folder.write(&format!("reports/{n:03}.txt"), MARCH.as_bytes());
    }
    for command in [&["read", "reports"][..], &["read", "--json", "reports"], &["convert", "reports"]] {
        let mut child = program(&folder, command).stdout(Stdio::piped()).spawn().unwrap();
        let mut some = [0; 10];
        child.stdout.take().unwrap().read_exact(&mut some).unwrap();
        let ended = child.wait_with_output().unwrap();
        let said = String::from_utf8_lossy(&ended.stderr).into_owned();
        assert_eq!(ended.status.code(), Some(0), "{command:?}: {said}");
        assert!(!said.contains("panicked"), "{said}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_said_in_words() {
    let folder = Folder::with(&[("march.txt", MARCH.as_bytes())]);
    for command in [&["read", "march.txt"][..], &["judge", "march.txt"], &["convert", "march.txt"]] {
        let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
        let ended = program(&folder, command).stdout(full).output().unwrap();
        let said = String::from_utf8_lossy(&ended.stderr).into_owned();
        assert_eq!(ended.status.code(), Some(1), "{command:?}: {said}");
        assert!(said.contains("could not be written"), "{said}");
    }
    let run = folder.run(&["convert", "march.txt", "-o", "/dev/full"]);
    assert_eq!(run.status, 1, "{}", run.err);
}

#[cfg(unix)]
#[test]
fn names_and_words_that_a_terminal_would_obey_are_printed_plainly() {
    let folder = Folder::new();
    let name = "march\n\u{1b}[2J\u{202e}.txt";
    folder.write(name, MARCH.replace("Softener 2", "Softener\u{1b}[31m 2\u{202e}").as_bytes());
    folder.write("broken\n\u{1b}]0;x\u{7}.xlsx", b"\x00\x01\x02");
    for command in [&["read", "."][..], &["judge", "."]] {
        let run = folder.run(command);
        for stream in [&run.out, &run.err] {
            assert!(!stream.contains(['\u{1b}', '\u{7}', '\u{202e}']), "{command:?}: {stream:?}");
        }
        assert!(!run.err.lines().any(|line| line.starts_with("]0")), "{}", run.err);
    }
}

#[test]
fn a_limit_is_set_by_its_name_and_reaches_the_worker() {
    let rows: String = (1..40).map(|n| format!("Moisture {n};47.{n};%\n")).collect();
    let folder = Folder::with(&[("rows.csv", rows.as_bytes())]);
    let run = folder.run(&["read", "--limit", "cells=20", "rows.csv"]);
    assert_eq!(run.status, 1);
    assert!(run.err.contains("limit cells") && run.err.contains("[too-large]"), "{}", run.err);
    assert!(!folder.run(&["read", "--limit", "cells=2_000", "rows.csv"]).err.contains("too-large"));
    for wrong in ["cells", "cells=0", "cells=many", "patience=3"] {
        assert_eq!(folder.run(&["read", "--limit", wrong, "rows.csv"]).status, 2, "{wrong}");
    }
}

#[cfg(feature = "beds")]
#[test]
fn two_that_file_into_one_store_at_once_both_end_well() {
    let folder = Folder::new();
    for n in 0..8 {
        let report =
            MARCH.replace("NB-25-0311", &format!("NB-25-04{n}")).replace("2025-03-21", &format!("201{n}-03-21"));
        folder.write(&format!("{}/{n}.txt", ["a", "b"][n % 2]), report.as_bytes());
    }
    let started: Vec<_> = ["a", "b"]
        .iter()
        .map(|part| {
            let arguments = ["beds", "--store", "beds.db", "file", "--new", part];
            program(&folder, &arguments).stdout(Stdio::piped()).spawn().unwrap()
        })
        .collect();
    for child in started {
        let ended = child.wait_with_output().unwrap();
        assert_eq!(ended.status.code(), Some(0), "{}", String::from_utf8_lossy(&ended.stderr));
    }
    let run = folder.run(&["beds", "--store", "beds.db", "check"]);
    assert_eq!(run.status, 0, "{}{}", run.out, run.err);
}
