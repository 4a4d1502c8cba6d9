//! Reads class entries out of TOML and lays later texts over earlier ones.
//!
//! A later text wins for each number and each key by itself, so that an overlay can move one figure and leave
//! the rest. What stands twice in one text is an error: one of the two would be lost without a word.

use super::{BASES, Bound, Class, FORMS, Fact, Family, KnowledgeError, NewFigure, Origin, PROPERTIES, Structure, Text};
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};
use toml::Spanned;

/// The texts that the program carries.
pub(super) const BUILTIN: &[Text<'static>] = &[
    Text { name: "grammar/specs/cation.toml", text: include_str!("../../grammar/specs/cation.toml") },
    Text { name: "grammar/specs/anion.toml", text: include_str!("../../grammar/specs/anion.toml") },
];

/// Top-level tables of a knowledge text; those but `class` are the policy's and the lexicon's.
#[derive(Deserialize)]
struct File {
    #[serde(default)]
    class: BTreeMap<String, Spanned<ClassEntry>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ClassEntry {
    name: Option<String>,
    family: Option<Family>,
    structure: Option<Structure>,
    standard_form: Option<Spanned<String>>,
    about: Option<String>,
    #[serde(default)]
    figure: Vec<Spanned<FigureEntry>>,
    #[serde(default)]
    fact: Vec<Spanned<FactEntry>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FigureEntry {
    property: String,
    basis: Option<String>,
    form: Option<String>,
    low: Option<BoundEntry>,
    high: Option<BoundEntry>,
    typical: Option<BoundEntry>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BoundEntry {
    value: f64,
    source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FactEntry {
    name: String,
    value: f64,
    unit: String,
    source: String,
}

/// Lays the classes of one text over those read so far.
pub(super) fn merge(classes: &mut BTreeMap<String, Class>, text: &Text<'_>) -> Result<(), KnowledgeError> {
    let file: File = toml::from_str(text.text).map_err(|error| text.malformed(&error))?;
    for (id, entry) in file.class {
        // An inline table or a sub-table may open the class before its own head does; the id's first line is what
        // a reader looks for.
        let origin = text.origin(header(text.text, &id).unwrap_or(entry.span().start));
        let entry = entry.into_inner();
        let mut class = match classes.remove(&id) {
            Some(class) => class,
            None => fresh(&id, &entry, &origin)?,
        };
        lay_over(&mut class, entry, text, origin)?;
        classes.insert(id, class);
    }
    Ok(())
}

fn header(text: &str, id: &str) -> Option<usize> {
    text.find(&format!("[class.{id}]")).or_else(|| text.find(&format!("[class.{id}.")))
}

fn fresh(id: &str, entry: &ClassEntry, origin: &Origin) -> Result<Class, KnowledgeError> {
    let missing = |key| KnowledgeError::Missing { origin: origin.clone(), entry: format!("the new class `{id}`"), key };
    Ok(Class {
        id: id.to_owned(),
        name: entry.name.clone().ok_or_else(|| missing("name"))?,
        family: entry.family.ok_or_else(|| missing("family"))?,
        structure: entry.structure.ok_or_else(|| missing("structure"))?,
        standard_form: entry.standard_form.as_ref().ok_or_else(|| missing("standard_form"))?.get_ref().clone(),
        about: entry.about.clone().unwrap_or_default(),
        figures: Vec::new(),
        facts: BTreeMap::new(),
        origin: origin.clone(),
    })
}

fn lay_over(class: &mut Class, entry: ClassEntry, text: &Text<'_>, origin: Origin) -> Result<(), KnowledgeError> {
    if let Some(form) = &entry.standard_form {
        known(form.get_ref(), "form", &FORMS, &text.origin(form.span().start))?;
        class.standard_form = form.get_ref().clone();
        class.origin = origin;
    }
    set(&mut class.name, entry.name);
    set(&mut class.family, entry.family);
    set(&mut class.structure, entry.structure);
    set(&mut class.about, entry.about);
    let mut seen = BTreeSet::new();
    for figure in entry.figure {
        let origin = text.origin(figure.span().start);
        let figure = figure.into_inner();
        if !seen.insert((figure.property.clone(), figure.basis.clone(), figure.form.clone())) {
            return Err(KnowledgeError::Twice { origin, entry: described(&figure) });
        }
        lay_figure(&mut class.figures, figure, &origin)?;
    }
    let mut seen = BTreeSet::new();
    for fact in entry.fact {
        let origin = text.origin(fact.span().start);
        let fact = fact.into_inner();
        if !seen.insert(fact.name.clone()) {
            return Err(KnowledgeError::Twice { origin, entry: fact.name });
        }
        sourced(&fact.source, fact.value, &fact.name, &origin)?;
        let FactEntry { name, value, unit, source } = fact;
        class.facts.insert(name.clone(), Fact { name, value, unit, source, origin });
    }
    Ok(())
}

fn lay_figure(figures: &mut Vec<NewFigure>, entry: FigureEntry, origin: &Origin) -> Result<(), KnowledgeError> {
    let words = described(&entry);
    if let Some(form) = &entry.form {
        known(form, "form", &FORMS, origin)?;
    }
    known(&entry.property, "property", &PROPERTIES, origin)?;
    if let Some(basis) = &entry.basis {
        known(basis, "basis", &BASES, origin)?;
    }
    let place = figures
        .iter()
        .position(|f| f.property == entry.property && f.basis == entry.basis && f.form == entry.form)
        .unwrap_or_else(|| {
            figures.push(NewFigure {
                property: entry.property.clone(),
                basis: entry.basis.clone(),
                form: entry.form.clone(),
                ..NewFigure::default()
            });
            figures.len() - 1
        });
    let Some(figure) = figures.get_mut(place) else { return Ok(()) };
    for (slot, bound) in
        [(&mut figure.low, entry.low), (&mut figure.high, entry.high), (&mut figure.typical, entry.typical)]
    {
        if let Some(BoundEntry { value, source }) = bound {
            sourced(&source, value, &words, origin)?;
            *slot = Some(Bound { value, source, origin: origin.clone() });
        }
    }
    match (&figure.low, &figure.high) {
        (None, None) if figure.typical.is_none() => {
            Err(KnowledgeError::Missing { origin: origin.clone(), entry: words, key: "low`, `high` or `typical" })
        }
        (Some(low), Some(high)) if low.value > high.value => Err(KnowledgeError::OutOfRange {
            origin: origin.clone(),
            entry: words,
            message: format!("low {} is above high {}", low.value, high.value),
        }),
        _ => Ok(()),
    }
}

fn set<T>(slot: &mut T, value: Option<T>) {
    if let Some(value) = value {
        *slot = value;
    }
}

fn described(figure: &FigureEntry) -> String {
    let mut words = vec![figure.property.as_str()];
    words.extend(figure.basis.as_deref());
    words.extend(figure.form.as_deref());
    words.join(" ")
}

/// A figure under a name that nothing uses would be lost without a word.
fn known(name: &str, kind: &'static str, all: &[&str], origin: &Origin) -> Result<(), KnowledgeError> {
    if all.contains(&name) {
        return Ok(());
    }
    let known = super::near_or_all(name, all);
    Err(KnowledgeError::Unknown { origin: origin.clone(), kind, name: name.to_owned(), known })
}

/// Every number says where it comes from, or says that nothing does; and it is a number.
fn sourced(source: &str, value: f64, entry: &str, origin: &Origin) -> Result<(), KnowledgeError> {
    if source.trim().is_empty() {
        return Err(KnowledgeError::Missing { origin: origin.clone(), entry: entry.to_owned(), key: "source" });
    }
    if !value.is_finite() {
        return Err(KnowledgeError::OutOfRange {
            origin: origin.clone(),
            entry: entry.to_owned(),
            message: "not a finite number".to_owned(),
        });
    }
    Ok(())
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::expect_used, reason = "a failed test is what a panic is for")]
mod tests {
    use super::super::Specs;
    use super::*;

    /// The eleven classes that the contract names.
    const CONTRACT: [&str; 11] = [
        "sac-gel-10",
        "sac-gel-8",
        "sac-macro",
        "sba-acrylic",
        "sba-nitrate",
        "sba1-gel",
        "sba1-macro",
        "sba1-porous",
        "sba2-gel",
        "wac",
        "wba-macro",
    ];

    fn overlay(text: &str) -> Result<Specs, KnowledgeError> {
        Specs::with_overlay(&[Text { name: "own.toml", text }])
    }

    #[test]
    fn the_contracts_classes_are_there_and_no_other() {
        let ids: Vec<_> = Specs::builtin().unwrap().spec_list().map(|class| class.id.as_str()).collect();
        assert_eq!(ids, CONTRACT);
    }

    #[test]
    fn every_class_has_a_capacity_and_a_moisture_in_its_standard_form() {
        for class in Specs::builtin().unwrap().spec_list() {
            let form = Some(class.standard_form.as_str());
            assert!(class.figure("total_capacity", Some("volume"), form).is_some(), "{}", class.id);
            assert!(class.figure("moisture_retention", None, form).is_some(), "{}", class.id);
        }
    }

    #[test]
    fn an_entry_remembers_its_line() {
        let specs = Specs::builtin().unwrap();
        let class = specs.class("sac-gel-10").unwrap();
        let line = usize::try_from(class.origin.line).unwrap();
        let text = BUILTIN[0].text;
        assert_eq!(text.lines().nth(line - 1), Some("[class.sac-gel-10]"));
        let bound = class.figure("moisture_retention", None, Some("Na")).unwrap().low.clone().unwrap();
        let line = usize::try_from(bound.origin.line).unwrap();
        assert_eq!(text.lines().nth(line - 1), Some("[[class.sac-gel-10.figure]]"));
        assert_eq!(text.lines().nth(line), Some("property = \"moisture_retention\""));
    }

    #[test]
    fn errors_name_file_and_line() {
        for (text, message) in [
            ("\n\n[class.sac-gel-8]\nstandard_form = \"Fe\"", "own.toml:4: form `Fe` is not known"),
            ("[class.mine]\nname = \"x\"", "own.toml:1: the new class `mine` needs `family`"),
            (
                "\n[[class.wac.figure]]\nproperty = \"moisture\"\nlow = { value = 1.0, source = \"x\" }",
                "own.toml:2: property `moisture` is not known",
            ),
            ("[class.wac]\ncolour = 3", "own.toml:2: there is no key `colour` here"),
            (
                "\n[[class.wac.figure]]\nproperty = \"fines\"\nlow = { value = 1.0 }",
                "own.toml:4: missing field `source`",
            ),
            (
                "\n[[class.wac.figure]]\nproperty = \"fines\"\nhigh = { value = 1.0, source = \" \" }",
                "own.toml:2: fines needs `source`",
            ),
            (
                "[[class.wac.figure]]\nproperty = \"fines\"\nlow = { value = 9.0, source = \"x\" }",
                "own.toml:1: fines: low 9 is above high 4",
            ),
            ("class = 3", "own.toml:1: integer `3` stands where a map belongs"),
            ("[class", "own.toml:1: "),
        ] {
            let error = overlay(text).expect_err(text).to_string();
            assert!(error.starts_with(message), "{error} should open with {message}");
        }
    }

    #[test]
    fn what_stands_twice_in_one_text_is_refused() {
        let one = "[[class.wac.figure]]\nproperty = \"fines\"\nhigh = { value = 1.0, source = \"x\" }\n";
        assert!(overlay(one).is_ok());
        let error = overlay(&one.repeat(2)).expect_err("twice").to_string();
        assert_eq!(error, "own.toml:4: fines stands here twice");
    }
}
