//! What goes out: the contract's JSON, the page, and the user's own limits in both.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a failed test is what a panic is for")]

use beadwise::judge::{Context, Judgements, Policy, Verdict, example, judge, rule};
use beadwise::record::Record;
use beadwise::report::judgement::page;
use beadwise::report::look::Look;
use beadwise::specs::{Specs, Text};
use serde_json::Value;

const BED: &str = "class sac-gel-8\nform Na\nduty softening\nvessel Softener 2\nsite Mill Street Laundry\n\
    sampled_on 2025-03-01\ninstalled_on 2016-05\ntotal_capacity volume 1.721 new > 1.899\nmoisture_retention 51.2\n\
    whole_beads 91 n 300\niron dry_mass 6200\ncycle_state regenerated\nfreeboard 0.66\nfreeboard_at_startup 0.50\n\
    bed_depth 0.75";

fn bed() -> Record {
    example::record(BED).unwrap()
}

/// The keys of the contract, version 1, each there in every judgement and of the kind that it has there.
#[test]
fn json_has_the_contracts_keys() {
    let context = Context::builtin().unwrap();
    for (record, known) in [(bed(), true), (example::record("total_capacity volume 1.2").unwrap(), false)] {
        let document = Judgements { contract: 1, judgements: vec![judge(&record, &context)], errors: Vec::new() };
        let json = serde_json::to_value(document).unwrap();
        assert_eq!(json["contract"], 1);
        assert!(json["errors"].as_array().unwrap().is_empty());
        let j = &json["judgements"][0];
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
            assert!(j.get(key).is_some(), "no {key}");
        }
        assert!(j["reasons"].as_array().unwrap().iter().all(Value::is_string));
        for key in ["from", "name", "text"] {
            assert!(j["baseline"].get(key).is_some(), "baseline has no {key}");
        }
        if known {
            for key in [
                "property",
                "basis",
                "form",
                "value",
                "unit",
                "where",
                "new",
                "percent_of_new",
                "grade",
                "score",
                "rule",
            ] {
                assert!(j["grades"][0].get(key).is_some(), "a grade has no {key}");
            }
            for key in ["low", "high", "typical", "from"] {
                assert!(j["grades"][0]["new"].get(key).is_some(), "new has no {key}");
            }
            for key in ["part", "low", "best", "high"] {
                assert!(j["loss"]["parts"][0].get(key).is_some(), "a part has no {key}");
            }
            assert_eq!(j["recovery"]["of"], "new total capacity");
            assert!(j["causes"][0]["strength"].is_number() && j["causes"][0]["evidence"].is_array());
            assert_eq!(j["verdict"], "clean");
            assert_eq!(j["also"], serde_json::json!(["top-off"]));
            assert_eq!(j["grades"][0]["new"]["from"], "report");
        }
    }
}

#[test]
fn same_record_same_bytes() {
    let context = Context::builtin().unwrap();
    let text = || serde_json::to_string(&judge(&bed(), &context)).unwrap();
    assert_eq!(text(), text());
}

#[test]
fn page_fits_eighty_columns_and_carries_no_control() {
    let context = Context::builtin().unwrap();
    let mut record = bed();
    record.sample.vessel = Some("Softener\u{1b}[31m 2\u{202e}\u{7}".to_owned());
    record.sample.resin_as_written = Some("gel\u{9b}31m".to_owned());
    record.sample.site = Some("A very long name of a site that goes on for more than one line of the page ".repeat(3));
    for width in [80, 60] {
        let text = page(&judge(&record, &context), &Look { width, color: false });
        for line in text.lines() {
            assert!(line.chars().count() <= usize::from(width), "{line}");
            assert!(!line.chars().any(|c| c.is_control() || c == '\u{202e}'), "{line:?}");
        }
    }
}

#[test]
fn page_says_whose_bed_what_to_do_how_sure_and_why() {
    let text = page(&judge(&bed(), &Context::builtin().unwrap()), &Look::default());
    for part in [
        "Softener 2, Mill Street Laundry",
        "CLEAN",
        "top the bed off",
        "How sure: quite sure",
        "6,200 mg/kg",
        "1.72 eq/L",
        "Put right first",
        "Cautions",
        "Local codes and licensed practice",
        "Next sample",
    ] {
        assert!(text.contains(part), "no {part:?} in\n{text}");
    }
    let place = |part: &str| text.find(part).unwrap();
    assert!(place("CLEAN") < place("Why") && place("Why") < place("Put right first"));
    assert!(place("Put right first") < place("How to clean") && place("How to clean") < place("Cautions"));
}

/// "< 200" is no 200: the page keeps how the report bounds a figure.
#[test]
fn page_keeps_the_bounds_of_figures() {
    let record = example::record("class sac-gel-8\nform Na\ntotal_capacity volume 1.9\niron dry_mass < 200").unwrap();
    let judgement = judge(&record, &Context::builtin().unwrap());
    let text = page(&judgement, &Look { width: 80, color: false });
    assert!(text.lines().any(|line| line.contains("iron, dry") && line.contains("<200 mg/kg")), "{text}");
}

#[test]
fn color_is_only_where_asked_for() {
    let j = judge(&bed(), &Context::builtin().unwrap());
    assert!(!page(&j, &Look::default()).contains('\u{1b}'));
    assert!(page(&j, &Look { color: true, ..Look::default() }).contains("\u{1b}[1;33mCLEAN\u{1b}[0m"));
}

/// 22 % lost: kept at the built-in 25 %, replaced under a user's 20 %, and the answer says whose limit it was.
#[test]
fn a_users_limit_is_used_and_shown() {
    let record = example::record(
        "class sac-gel-8\nform Na\nduty softening\ntotal_capacity volume 1.56\nmoisture_retention 54\niron dry_mass 80",
    )
    .unwrap();
    let context = Context::builtin().unwrap();
    assert_eq!(judge(&record, &context).verdict, Verdict::Keep);
    let own = "# ours\n[limit.capacity_loss_replace]\nvalue = 0.20\nsource = \"contract with the laundry\"\n";
    let policy = Policy::with_overlay(&[Text { name: "own.toml", text: own }]).unwrap();
    let j = judge(&record, &Context { policy: &policy, ..context });
    assert_eq!(j.verdict, Verdict::Replace);
    assert!(j.reasons[0].contains("20 % (contract with the laundry, overridden from 25 %)"), "{}", j.reasons[0]);
    let printed = rule("capacity-below-limit").unwrap().printed(&policy);
    assert!(printed.contains("Overridden at own.toml:2; built in: 0.25"), "{printed}");
}

#[test]
fn a_wrong_policy_entry_is_refused_with_its_line() {
    for (text, message) in [
        ("\n[limit.capacity_lost]\nvalue = 1\nsource = \"x\"", "own.toml:2: limit `capacity_lost` is not known"),
        ("[limit.capacity_loss_replace]\nvalue = 0.2", "own.toml:1: the limit `capacity_loss_replace` needs `source`"),
        (
            "[limit.capacity_loss_replace]\nvalue = -1\nsource = \"x\"",
            "own.toml:1: capacity_loss_replace: -1 is no limit",
        ),
        ("[limit.capacity_loss_replace]\nvalue = \"much\"", "own.toml:2: "),
        (
            "[band.fines]\nproperty = \"fines\"\nfor = [\"sac\"]\nmeasure = \"above\"\nnew = 1\ngood = 1\nwatch = 2\npoor = 3\nspent = 4\nzero = 5\nsource = \"x\"",
            "own.toml:1: the band `fines`: its cuts do not run from new to zero",
        ),
    ] {
        let error = Policy::with_overlay(&[Text { name: "own.toml", text }]).expect_err(text).to_string();
        assert!(error.starts_with(message), "{error} should open with {message}");
    }
}

/// Every number of the knowledge names a document or says that there is none.
#[test]
fn nothing_is_without_a_source() {
    let policy = Policy::builtin().unwrap();
    for (name, limit) in policy.limit_list() {
        assert!(!limit.source.is_empty() && !limit.text.is_empty(), "{name}");
    }
    for class in Specs::builtin().unwrap().spec_list() {
        for figure in &class.figures {
            for bound in [&figure.low, &figure.high, &figure.typical].into_iter().flatten() {
                assert!(bound.source.len() > 5, "{} {}", class.id, figure.property);
            }
        }
    }
}

/// A cause without an entry would be told without what to put right; a recipe without its cautions would be worse.
#[test]
fn causes_recipes_and_cautions_are_all_there() {
    let policy = Policy::builtin().unwrap();
    for (id, cause) in policy.cause_list() {
        for recipe in &cause.recipes {
            let recipe = policy.recipe(recipe).unwrap_or_else(|| panic!("{id}: no recipe {recipe}"));
            assert!(recipe.cautions.iter().any(|id| id == "licence"), "{}", recipe.title);
            for caution in &recipe.cautions {
                assert!(policy.caution(caution).is_some(), "no caution {caution}");
            }
        }
    }
    let rules = std::fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/src/judge/rules")).unwrap();
    for file in rules.map(|entry| entry.unwrap().path()).filter(|path| path.extension().is_some_and(|ext| ext == "rs"))
    {
        let text = std::fs::read_to_string(&file).unwrap();
        for call in ["out.cause(\"", "out.caution(\""] {
            for rest in text.split(call).skip(1) {
                let id = rest.split('"').next().unwrap();
                let known =
                    if call.contains("caution") { policy.caution(id).is_some() } else { policy.cause(id).is_some() };
                assert!(known, "{}: no entry {id}", file.display());
            }
        }
    }
}

/// Hypochlorite harms resin, and on drinking-water anion beds makes what nobody should drink: no recipe doses it.
#[test]
fn hypochlorite_is_never_offered() {
    let text = include_str!("../grammar/cleaning.toml");
    let told = text.lines().filter(|line| ["title", "steps", "dose"].iter().any(|key| line.starts_with(key)));
    for line in told {
        assert!(!line.to_lowercase().contains("hypochlorite") && !line.contains("bleach"), "{line}");
    }
}
