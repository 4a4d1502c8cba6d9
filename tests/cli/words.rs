//! `beadwise explain`, `beadwise completions`, and help.

use crate::kit::Folder;

#[test]
fn terms_of_every_kind_are_explained_with_their_place() {
    let folder = Folder::new();
    for (term, part) in [
        ("iron", "grammar/properties.toml:"),
        ("freeboard", "grammar/field.toml:"),
        ("sampled_on", "grammar/keys.toml:"),
        ("kgr/ft3", "eq/L"),
        ("sac-gel-8", "grammar/specs/cation.toml:"),
        ("basis-unknown", "grammar/doubts.toml:"),
        ("encrypted", "grammar/errors.toml:"),
        ("percent-of-new", "grammar/set_aside.toml:"),
        ("iron-on-cation", "Limit and its source"),
        ("capacity_loss_replace", "UFC 3-240-13FN"),
        ("Wasserrückhaltevermögen", "moisture_retention"),
    ] {
        let run = folder.run(&["explain", term]);
        assert_eq!(run.status, 0, "{term}: {}", run.err);
        assert!(run.out.contains(part), "{term}: {}", run.out);
    }
    assert_eq!(folder.run(&["explain", "total", "capacity"]).status, 0, "several words are one term");
}

#[test]
fn what_is_not_known_is_a_usage_error_with_a_hint() {
    let folder = Folder::new();
    let run = folder.run(&["explain", "moisture_retension"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("moisture_retention"), "{}", run.err);
}

#[test]
fn every_command_helps_with_examples_and_shells_are_served() {
    let folder = Folder::new();
    for command in ["read", "convert", "judge", "plan", "spec", "explain", "completions"] {
        let run = folder.run(&[command, "--help"]);
        assert_eq!(run.status, 0);
        assert!(run.out.contains("Examples:\n  beadwise "), "{command}: {}", run.out);
        assert!(folder.run(&["--help"]).out.contains(command));
    }
    assert!(!folder.run(&["--help"]).out.contains("read-worker"), "what is not for people is not shown");
    for shell in ["bash", "zsh", "fish", "powershell"] {
        let run = folder.run(&["completions", shell]);
        assert!(run.status == 0 && run.out.contains("beadwise"), "{shell}");
    }
}
