//! The rules' pages: each has its headings, and its two beds do what they say. `docs/rules` holds them in print.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a failed test is what a panic is for")]

use beadwise::judge::{Context, Policy, RULES, example, judge};
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::Path;

const HEADINGS: [&str; 5] = ["## What it does", "## Why", "## Limit and its source", "## Fires", "## Silent"];

fn bed<'a>(page: &'a str, heading: &str) -> &'a str {
    let after = page.split_once(heading).unwrap_or_else(|| panic!("no {heading}")).1;
    let after = after.split_once("```bed\n").expect("a bed").1;
    after.split_once("```").expect("an end of the bed").0
}

#[test]
fn every_page_has_its_headings_in_order() {
    for rule in RULES {
        assert!(rule.page.starts_with(&format!("# {}\n\n", rule.id)), "{}", rule.id);
        let places: Vec<_> = HEADINGS.iter().map(|heading| rule.page.find(heading)).collect();
        assert!(places.iter().all(Option::is_some), "{}: {places:?}", rule.id);
        assert!(places.windows(2).all(|pair| pair[0] < pair[1]), "{}", rule.id);
    }
}

/// A limit that a page names and the policy does not have would stay in braces.
#[test]
fn every_limit_that_a_page_names_is_there() {
    for rule in RULES {
        assert!(!rule.printed(Policy::builtin().unwrap()).contains("{limit:"), "{}", rule.id);
        assert!(!rule.printed(Policy::builtin().unwrap()).contains("{band:"), "{}", rule.id);
    }
}

#[test]
fn ids_are_unique_and_files_are_registered() {
    let ids: BTreeSet<_> = RULES.iter().map(|rule| rule.id.replace('-', "_")).collect();
    assert_eq!(ids.len(), RULES.len());
    let files: BTreeSet<String> = std::fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("src/judge/rules"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ext| ext == "md"))
        .map(|path| path.file_stem().unwrap().to_string_lossy().into_owned())
        .collect();
    assert_eq!(ids, files);
}

#[test]
fn every_rule_fires_on_its_one_bed_and_not_on_its_other() {
    // Whether a rule fires rests on no draw.
    let mut policy = Policy::builtin().unwrap().clone();
    policy.limits.draws = 50.0;
    let context = Context { policy: &policy, ..Context::builtin().unwrap() };
    for rule in RULES {
        for (heading, wanted) in [("## Fires", true), ("## Silent", false)] {
            let record = example::record(bed(rule.page, heading)).unwrap_or_else(|e| panic!("{}: {e}", rule.id));
            let judgement = judge(&record, &context);
            let fired = judgement.rules.iter().any(|id| id == rule.id);
            assert_eq!(fired, wanted, "{} on its bed under {heading}: {:#?}", rule.id, judgement.reasons);
        }
    }
}

/// `UPDATE=1 cargo test` writes what this test otherwise checks.
#[test]
fn docs_rules_are_current() {
    let policy = Policy::builtin().unwrap();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/rules");
    let mut wanted: Vec<(String, String)> =
        RULES.iter().map(|rule| (format!("{}.md", rule.id), rule.printed(policy))).collect();
    let mut index =
        String::from("# Rules\n\nOne page for each rule, printed from the rule's own page in `src/judge/rules`.\n\n");
    for rule in RULES {
        let summary = rule.page.lines().nth(2).unwrap_or_default();
        writeln!(index, "- [{0}]({0}.md): {summary}", rule.id).unwrap();
    }
    wanted.push(("README.md".to_owned(), index));
    if std::env::var_os("UPDATE").is_some() {
        std::fs::create_dir_all(&folder).unwrap();
        for (name, text) in &wanted {
            std::fs::write(folder.join(name), text).unwrap();
        }
    }
    for (name, text) in &wanted {
        let found = std::fs::read_to_string(folder.join(name)).unwrap_or_default();
        assert!(found == *text, "docs/rules/{name} is stale: run UPDATE=1 cargo test --test judge_rules");
    }
    let names: BTreeSet<&str> = wanted.iter().map(|(name, _)| name.as_str()).collect();
    for entry in std::fs::read_dir(&folder).unwrap() {
        let name = entry.unwrap().file_name().to_string_lossy().into_owned();
        assert!(names.contains(name.as_str()), "docs/rules/{name} belongs to no rule");
    }
}
