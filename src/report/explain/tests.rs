#![allow(clippy::unwrap_used)]

use super::*;
use std::path::{Path, PathBuf};

fn knowledge() -> Knowledge<'static> {
    Knowledge {
        lexicon: Lexicon::builtin(),
        overlays: &[],
        specs: Specs::builtin().unwrap(),
        policy: Policy::builtin().unwrap(),
    }
}

fn page(term: &str) -> String {
    explain(term, &knowledge(), 80).unwrap_or_default()
}

#[test]
fn everything_in_the_index_has_a_page_that_fits() {
    let knowledge = knowledge();
    let spellings = Spellings::gather(&knowledge);
    for id in ids(&knowledge).into_iter().flat_map(|(_, ids)| ids) {
        let page = explain_by(&id, &knowledge, &spellings, 80).unwrap_or_default();
        assert!(page.contains(&id), "{id}: {page}");
        // A word longer than the line may stand out, a sentence may not.
        for line in page.lines().filter(|line| line.chars().count() > 80) {
            assert!(line.split_whitespace().count() <= 3, "{id}: {line}");
        }
    }
}

#[test]
fn a_property_shows_units_spellings_by_language_and_lines() {
    let page = page("moisture_retention");
    assert!(page.starts_with("moisture_retention: Moisture retention, a property of the resin"), "{page}");
    for part in
        ["Unit: %", "grammar/properties.toml:", "grammar/words.toml:", "  de ", "Wasserrückhaltevermögen", "sac-gel-8"]
    {
        assert!(page.contains(part), "{part} is missing in {page}");
    }
    let names: Vec<&str> = page.lines().take(1).collect();
    assert_eq!(names.len(), 1);
    assert_eq!(page, self::page("Moisture retention"), "the name does as well as the id");
}

#[test]
fn lines_of_spellings_are_right() {
    let spellings = Spellings::gather(&knowledge());
    let text = include_str!("../../../grammar/words.toml");
    let moisture: Vec<_> = spellings.of("moisture").collect();
    assert!(moisture.len() >= 4);
    for line in moisture {
        let printed = text.lines().nth(line.origin.line - 1).unwrap();
        assert!(printed.starts_with(&format!("{} = ", line.language)), "{}: {printed}", line.origin);
    }
}

#[test]
fn a_users_words_name_their_own_line_and_say_who_gave_way() {
    let filler = Lexicon::builtin().facets().iter().find(|f| f.kind == crate::lexicon::FacetKind::Filler).unwrap();
    let word = filler.spellings.first().unwrap();
    let overlays = [("ours.toml".to_owned(), format!("[moisture]\nen = \"swamp factor | {word}\"\n"))];
    let lexicon = Lexicon::with_overlays(&overlays).unwrap();
    let own = Knowledge { lexicon: &lexicon, overlays: &overlays, ..knowledge() };
    let page = explain("moisture_retention", &own, 200).unwrap();
    assert!(page.contains(&format!("swamp factor, {word} (ours.toml:2)")), "{page}");
    assert!(page.contains(&format!("\"{word}\" also stands under {}, which gives way", filler.id)), "{page}");
}

#[test]
fn a_users_figures_and_limits_show_what_they_replaced() {
    use crate::specs::Text;
    let figure = "[[class.sac-gel-8.figure]]\nproperty = \"total_capacity\"\nbasis = \"volume\"\nform = \"Na\"\ntypical = { value = 1.95, source = \"ours\" }\n";
    let specs = Specs::with_overlay(&[Text { name: "ours.toml", text: figure }]).unwrap();
    let limit = "[limit.capacity_loss_replace]\nvalue = 0.3\nsource = \"ours\"\n";
    let policy = Policy::with_overlay(&[Text { name: "ours.toml", text: limit }]).unwrap();
    let own = Knowledge { specs: &specs, policy: &policy, ..knowledge() };
    let page = explain("sac-gel-8", &own, 200).unwrap();
    assert!(page.contains("compared with: 2 (grammar/specs/cation.toml:"), "{page}");
    assert!(page.contains("gave way to 1.95 (ours.toml:1)"), "{page}");
    let page = explain("capacity_loss_replace", &own, 200).unwrap();
    assert!(page.contains("built in: 0.25"), "{page}");
}

#[test]
fn units_come_to_the_canonical_ones() {
    // 1 eq/L = 21.85 kgr/ft3 with 50 g of CaCO3 to the equivalent, so 1 kgr/ft3 = 0.0458 eq/L.
    assert!(page("kgr/ft3").contains("1 kgr/ft3 = 0.04576"), "{}", page("kgr/ft3"));
    // An inch is 25.4 mm by definition.
    assert!(page("in").contains("1 in = 25.4 mm"), "{}", page("in"));
    assert!(page("mg Fe/kg dry").contains("It counts Fe."));
}

#[test]
fn labels_are_read_aloud_and_nonsense_is_not_known() {
    let page = page("Wasserrückhaltevermögen (%)");
    assert!(page.contains("moisture_retention"), "{page}");
    assert_eq!(explain("qwxzv", &knowledge(), 80), None);
    assert!(self::page("Total capacity of the purple resin").contains("purple"));
}

fn sources(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") && !path.ends_with("tests.rs") {
            into.push(path);
        }
    }
}

/// Sources of some parts of the program, each up to its tests.
fn code_of(parts: &[&str]) -> String {
    let mut paths = Vec::new();
    for part in parts {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("src").join(part);
        if path.is_dir() { sources(&path, &mut paths) } else { paths.push(path) }
    }
    paths
        .iter()
        .map(|path| std::fs::read_to_string(path).unwrap())
        .map(|text| text.split("#[cfg(test)]").next().unwrap_or_default().to_owned())
        .collect()
}

fn found(patterns: &[&str], code: &str) -> std::collections::BTreeSet<String> {
    patterns
        .iter()
        .flat_map(|pattern| {
            let pattern = regex::Regex::new(pattern).unwrap();
            pattern.captures_iter(code).map(|c| c.get(1).unwrap().as_str().to_owned()).collect::<Vec<_>>()
        })
        .collect()
}

/// Codes that the sources give but no file explains, and codes that are explained but given nowhere.
fn compare(kind: Kind, given: &std::collections::BTreeSet<String>, code: &str) {
    let missing: Vec<&String> = given.iter().filter(|id| super::code(kind, id).is_none()).collect();
    assert!(missing.is_empty(), "give {missing:?} a meaning in grammar/ ({})", kind.plural());
    let stale: Vec<&str> =
        codes(kind).map(|c| c.id.as_str()).filter(|id| !code.contains(&format!("\"{id}\""))).collect();
    assert!(stale.is_empty(), "nothing gives {stale:?} any more ({})", kind.plural());
}

#[test]
fn every_doubt_of_the_sources_has_a_meaning() {
    let code = code_of(&["extract", "reconcile", "sheets"]);
    let given = found(
        &[
            r#"Doubt::new\(\s*"([a-z-]+)""#,
            r#"\bdoubt\(\s*"([a-z-]+)""#,
            r#"NoticeKind::\w+ => "([a-z-]+)""#,
            r#"let code = if [^;]*?\{ "([a-z-]+)" \} else"#,
            r#"let code = if [^;]*?else \{ "([a-z-]+)" \};"#,
        ],
        &code,
    );
    assert!(given.len() > 20, "the patterns no longer find the doubts: {given:?}");
    compare(Kind::Doubt, &given, &code);
}

#[test]
fn every_error_of_the_sources_has_a_meaning() {
    let code = code_of(&["readers", "pipeline.rs", "cli"]);
    let given = found(
        &[
            r#"ReadError::new\(\s*"([a-z-]+)""#,
            r#"\b(?:error|failed)\((?:name, )?\s*"([a-z-]+)""#,
            r#"\bcode: "([a-z-]+)""#,
            r#"\bcode: if [^,;]*?[^;]*?\{ "([a-z-]+)" \} else"#,
            r#"\bcode: if [^;]*?else \{ "([a-z-]+)" \},"#,
            r#"=> \(\s*"([a-z-]+)","#,
            r#"Some\(\("([a-z]+-[a-z-]+)","#,
            r#"=>\s*\{\s*\("([a-z]+-[a-z-]+)","#,
        ],
        &code,
    );
    assert!(given.len() > 12, "the patterns no longer find the errors: {given:?}");
    compare(Kind::Error, &given, &code);
}

#[test]
fn every_reason_for_setting_aside_has_a_meaning() {
    let code = code_of(&["extract", "sheets"]);
    let given = found(
        &[
            r#"set_aside\([^;]*?,\s*"([a-z-]+)"\s*\)"#,
            r#"Role::[\w :|]+ => "([a-z-]+)","#,
            r#"\((?:phone|page|address|quality), "([a-z-]+)"\)"#,
        ],
        &code,
    );
    assert!(given.len() > 8, "the patterns no longer find the reasons: {given:?}");
    compare(Kind::SetAside, &given, &code);
}
