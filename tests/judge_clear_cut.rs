//! Beds of every class with the verdict that practice gives, from `tests/judge/clear-cut.txt`.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a failed test is what a panic is for")]

use beadwise::judge::{Context, Judgement, Policy, example, judge};
use std::fmt::Write as _;

const BEDS: &str = include_str!("judge/clear-cut.txt");
const MORE_BEDS: &str = include_str!("judge/practice-2.txt");
const KEYS: [&str; 12] =
    ["=", "why", "names", "causes", "sure", "unsure", "also", "cautions", "main", "remedy", "no-remedy", "fix"];

/// What does not hold of one bed, in words; empty where all does.
fn wrong(block: &str, context: &Context<'_>) -> String {
    let (title, rest) = block.split_once('\n').unwrap();
    let mut record = String::new();
    let mut wanted: Vec<(&str, &str)> = Vec::new();
    for line in rest.lines().filter(|line| !line.is_empty()) {
        match line.split_once(' ') {
            Some((key, text)) if KEYS.contains(&key) => wanted.push((key, text)),
            _ => {
                record.push_str(line);
                record.push('\n');
            }
        }
    }
    let j = judge(&example::record(&record).unwrap_or_else(|e| panic!("{title}: {e}")), context);
    let mut wrong = String::new();
    for (key, text) in wanted {
        if !holds(&j, key, text) {
            writeln!(wrong, "{title}: {key} {text}").unwrap();
        }
    }
    if !wrong.is_empty() {
        writeln!(
            wrong,
            "    {:?} {:?} {:?}\n    {:#?}\n    {:?} {:?}",
            j.verdict,
            j.resample_how,
            j.shares,
            j.reasons,
            j.causes.iter().map(|cause| (&cause.cause, cause.strength)).collect::<Vec<_>>(),
            j.remedy.iter().map(|remedy| &remedy.recipe).collect::<Vec<_>>()
        )
        .unwrap();
    }
    wrong
}

fn holds(j: &Judgement, key: &str, text: &str) -> bool {
    let number = || text.parse::<f64>().unwrap();
    let reasons = j.reasons.join("\n");
    match key {
        "=" => {
            let mut words = text.split_whitespace();
            let verdict = words.next().is_some_and(|words| words.split('|').any(|word| word == j.verdict.word()));
            verdict && words.next().is_none_or(|how| Some(how) == j.resample_how.map(|how| how.word()))
        }
        "names" => text.split(", ").all(|figure| reasons.contains(figure)),
        "causes" => text.split(", ").all(|id| j.causes.iter().any(|cause| cause.cause == id)),
        "sure" => j.certainty >= number(),
        "unsure" => j.certainty <= number(),
        "also" => j.also.iter().any(|also| also.word() == text),
        "main" => j.causes.first().is_some_and(|cause| cause.cause == text),
        "remedy" => text.split(", ").all(|id| j.remedy.iter().any(|remedy| remedy.recipe == id)),
        "no-remedy" => text.split(", ").all(|id| j.remedy.iter().all(|remedy| remedy.recipe != id)),
        "fix" => j.fix_first.iter().any(|fix| fix.contains(text)),
        "cautions" => j.cautions.iter().any(|caution| caution.contains(text)),
        _ => true,
    }
}

#[test]
fn clear_cut_beds_get_the_verdict_of_practice() {
    // A certainty to a hundredth needs no ten thousand draws.
    let mut policy = Policy::builtin().unwrap().clone();
    policy.limits.draws = 2000.0;
    let context = Context { policy: &policy, ..Context::builtin().unwrap() };
    let beds: Vec<&str> = [BEDS, MORE_BEDS].into_iter().flat_map(|beds| beds.split("\n## ").skip(1)).collect();
    assert!(beds.len() >= 100);
    let wrong: String = beds.iter().map(|block| wrong(block, &context)).collect();
    assert!(wrong.is_empty(), "{wrong}");
}

/// Every class is there with at least a bed to keep and one to replace.
#[test]
fn every_class_has_its_beds() {
    for class in beadwise::specs::Specs::builtin().unwrap().spec_list() {
        for verdict in ["= keep", "= replace"] {
            assert!(
                BEDS.split("\n## ").any(|bed| bed.contains(&format!("class {}\n", class.id)) && bed.contains(verdict)),
                "{} has no bed with {verdict}",
                class.id
            );
        }
    }
}
