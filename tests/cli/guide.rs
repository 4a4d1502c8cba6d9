//! `docs/guide.md`: what it shows is what the program prints.
//!
//! A block marked `console` holds commands behind `$` and what they print. A line `[...]` stands for any lines.
//! `UPDATE=1 cargo test --test cli guide` prints it anew: of a block with elided lines, as many lines as were shown from
//! where each stretch begins.

use crate::kit::Folder;
use std::fs;
use std::path::Path;

const GUIDE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/guide.md");
const ELIDED: &str = "[...]";

struct Step {
    /// As the block has it, continued lines and all.
    typed: String,
    shown: String,
}

/// Words of a command: parted by blanks, kept together by double quotes.
fn words(typed: &str) -> Vec<String> {
    let joined = typed.replace("\\\n", " ");
    let mut words = Vec::new();
    for (at, piece) in joined.split('"').enumerate() {
        if at % 2 == 0 {
            words.extend(piece.split_whitespace().map(str::to_owned));
        } else {
            words.push(piece.to_owned());
        }
    }
    words
}

fn steps(block: &str) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::new();
    let mut continued = false;
    for line in block.lines() {
        if let Some(command) = line.strip_prefix("$ ") {
            steps.push(Step { typed: command.to_owned(), shown: String::new() });
            continued = line.ends_with('\\');
        } else if let Some(step) = steps.last_mut() {
            if continued {
                step.typed.push('\n');
                step.typed.push_str(line);
                continued = line.ends_with('\\');
            } else {
                step.shown.push_str(line);
                step.shown.push('\n');
            }
        }
    }
    steps
}

/// Whether lines are those shown, where elided ones may be any.
fn agrees(shown: &str, printed: &str) -> bool {
    let mut rest = printed;
    let parts: Vec<&str> = shown.split(&format!("{ELIDED}\n")).collect();
    for (at, part) in parts.iter().enumerate() {
        let (first, last) = (at == 0, at + 1 == parts.len());
        rest = match (first, last) {
            (true, true) => return part.trim_end() == rest.trim_end(),
            (true, false) => match rest.strip_prefix(part) {
                Some(rest) => rest,
                None => return false,
            },
            (false, true) => return rest.trim_end().ends_with(part.trim_end()),
            (false, false) => match rest.split_once(part) {
                Some((_, rest)) => rest,
                None => return false,
            },
        };
    }
    true
}

/// The stretches that are shown, as they are printed now; all of it where one begins nowhere.
fn renewed(shown: &str, printed: &str) -> String {
    let lines: Vec<&str> = printed.trim_end().lines().collect();
    let all = || lines.iter().map(|line| format!("{line}\n")).collect::<String>();
    if !shown.contains(ELIDED) {
        return all();
    }
    let mut anew = String::new();
    for (at, stretch) in shown.split(&format!("{ELIDED}\n")).enumerate() {
        if at > 0 {
            anew.push_str(&format!("{ELIDED}\n"));
        }
        let Some(first) = stretch.lines().next() else { continue };
        let Some(start) = (if at == 0 { Some(0) } else { lines.iter().position(|line| *line == first) }) else {
            return all();
        };
        anew.extend(lines.iter().skip(start).take(stretch.lines().count()).map(|line| format!("{line}\n")));
    }
    anew
}

#[test]
fn every_command_of_the_guide_prints_what_the_guide_shows() {
    let update = std::env::var_os("UPDATE").is_some();
    let guide = fs::read_to_string(GUIDE).unwrap();
    let folder = Folder::new();
    copy(Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures-demo")), &folder.path("fixtures-demo"));
    let mut anew = String::new();
    let mut differ = Vec::new();
    let mut rest = guide.as_str();
    while let Some((before, inside)) = rest.split_once("```console\n") {
        let (block, after) = inside.split_once("```").expect("each block is closed");
        anew.push_str(before);
        anew.push_str("```console\n");
        for step in steps(block) {
            let words = words(&step.typed);
            assert_eq!(words.first().map(String::as_str), Some("beadwise"), "{}", step.typed);
            let arguments: Vec<&str> = words.iter().skip(1).map(String::as_str).collect();
            let run = folder.run(&arguments);
            let printed: String =
                format!("{}{}", run.out, run.err).lines().map(|line| format!("{}\n", line.trim_end())).collect();
            assert!(run.status < 2, "{}: {printed}", step.typed);
            assert!(run.out.lines().all(|line| line.chars().count() <= 80), "wider than 80: {}\n{printed}", step.typed);
            let agrees = agrees(&step.shown, &printed);
            if !agrees {
                differ.push(format!("$ {}\n{printed}", step.typed));
            }
            anew.push_str(&format!("$ {}\n", step.typed));
            anew.push_str(&if agrees { step.shown.clone() } else { renewed(&step.shown, &printed) });
        }
        anew.push_str("```");
        rest = after;
    }
    anew.push_str(rest);
    if update {
        fs::write(GUIDE, anew).unwrap();
    }
    assert!(differ.is_empty() || update, "the guide shows otherwise:\n{}", differ.join("\n"));
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let target = to.join(path.file_name().unwrap());
        if path.is_dir() {
            copy(&path, &target);
        } else {
            fs::copy(&path, &target).unwrap();
        }
    }
}

#[test]
fn elided_lines_may_be_any_and_the_others_may_not() {
    assert!(agrees("a\nb\n", "a\nb\n"));
    assert!(agrees("a\n[...]\nc\n", "a\nb\nb\nc\n"));
    assert!(agrees("a\n[...]\n", "a\nb\n"));
    assert!(!agrees("a\n[...]\nc\n", "a\nb\n"));
    assert!(!agrees("a\n", "a\nb\n"));
    assert_eq!(renewed("a\n[...]\nc\nd\n[...]\n", "A\nb\nc\nD\ne\n"), "A\n[...]\nc\nD\n[...]\n");
}
