//! What a term means and where that comes from: a property, quantity, unit, class, doubt, rule, limit or code, or a
//! label as reports have it.
//!
//! Takes the term and the effective [`Knowledge`]; gives a page of text. Everything shown names the file and line of
//! the entry that won, and, where a user's file took its place, of the one that lost.

mod codes;
mod page;
mod spellings;
mod units;

pub use codes::{Code, Kind, code, codes};

use crate::judge::{Policy, RULES};
use crate::lexicon::{Lexicon, Quantity, Target, fold};
use crate::specs::Specs;
use page::Page;
use spellings::Spellings;

/// All that is known, with the user's entries over the built-in ones.
#[derive(Clone, Copy)]
pub struct Knowledge<'a> {
    /// Words.
    pub lexicon: &'a Lexicon,
    /// The user's files of words that the lexicon was made with, by name and text.
    pub overlays: &'a [(String, String)],
    /// New-resin figures.
    pub specs: &'a Specs,
    /// Limits.
    pub policy: &'a Policy,
}

/// The page on a term; none where nothing is known of it.
///
/// ```
/// use beadwise::{judge::Policy, lexicon::Lexicon, specs::Specs};
/// use beadwise::report::explain::{Knowledge, explain};
/// let knowledge = Knowledge {
///     lexicon: Lexicon::builtin(),
///     overlays: &[],
///     specs: Specs::builtin()?,
///     policy: Policy::builtin()?,
/// };
/// let page = explain("basis-unknown", &knowledge, 80).ok_or("not known")?;
/// assert!(page.starts_with("basis-unknown: a doubt"));
/// assert!(page.contains("grammar/doubts.toml:"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn explain(term: &str, knowledge: &Knowledge<'_>, width: usize) -> Option<String> {
    explain_by(term, knowledge, &Spellings::gather(knowledge), width)
}

fn explain_by(term: &str, knowledge: &Knowledge<'_>, spellings: &Spellings, width: usize) -> Option<String> {
    let mut page = Page::new(knowledge, spellings, width);
    let lexicon = knowledge.lexicon;
    let named = |quantity: &&Quantity| quantity.id == id(term) || fold(&quantity.name) == fold(term);
    if let Some(property) = lexicon.properties().iter().find(named) {
        page.target(&Target::Property(property.id.clone()));
    }
    if let Some(quantity) = lexicon.fields().iter().find(named) {
        page.target(&Target::Field(quantity.id.clone()));
    }
    if let Some(key) = lexicon.keys().iter().find(|known| known.id == key_of(&id(term))) {
        page.target(&Target::Key(key.id.clone()));
    }
    if let Some(class) = knowledge.specs.class(&term.trim().to_lowercase()) {
        page.class(class);
    }
    for kind in Kind::ALL {
        if let Some(code) = code(kind, &dashed(term)) {
            page.code(kind, code);
        }
    }
    if let Some(rule) = crate::judge::rule(&dashed(term)) {
        page.rule(rule);
    }
    page.policy(&id(term), &dashed(term));
    page.unit(term.trim());
    // A slip in an id is better answered with the id that was meant than read as a label.
    let slipped = || term.contains(['_', '-']) && !term.contains(' ') && !near(term, knowledge).is_empty();
    if page.is_empty() && (lexicon.understand(term, &[]).is_clear() || !slipped()) {
        page.label(term);
    }
    page.finished()
}

/// The shape of ids of properties, quantities, keys and limits.
fn id(term: &str) -> String {
    term.trim().to_lowercase().replace([' ', '-'], "_")
}

/// The fact that a key of the record's `sample` is told from.
fn key_of(key: &str) -> &str {
    match key {
        "resin_as_written" | "resin_class" => "resin",
        "cycle_state" => "condition",
        key => key,
    }
}

/// The shape of codes, rules and causes.
fn dashed(term: &str) -> String {
    term.trim().to_lowercase().replace([' ', '_'], "-")
}

/// Ids by what they are, in the order of the grammar.
fn ids(knowledge: &Knowledge<'_>) -> Vec<(&'static str, Vec<String>)> {
    let quantities = |all: &[Quantity]| all.iter().map(|quantity| quantity.id.clone()).collect();
    let mut ids: Vec<(&'static str, Vec<String>)> = vec![
        ("Properties of the resin", quantities(knowledge.lexicon.properties())),
        ("The bed and its water", quantities(knowledge.lexicon.fields())),
        ("Facts about the sample", knowledge.lexicon.keys().iter().map(|key| key.id.clone()).collect()),
        ("Classes", knowledge.specs.spec_list().map(|class| class.id.clone()).collect()),
    ];
    for kind in Kind::ALL {
        ids.push((kind.plural(), codes(kind).map(|code| code.id.clone()).collect()));
    }
    ids.push(("Rules", RULES.iter().map(|rule| rule.id.to_owned()).collect()));
    ids.push(("Causes", knowledge.policy.cause_list().map(|(id, _)| id.to_owned()).collect()));
    ids.push(("Limits", knowledge.policy.limit_list().map(|(id, _)| id.to_owned()).collect()));
    ids
}

/// Everything that can be explained.
pub fn index(knowledge: &Knowledge<'_>, width: usize) -> String {
    let mut lines = Vec::new();
    for (heading, ids) in ids(knowledge) {
        lines.push(heading.to_owned());
        lines.extend(super::plain::wrapped(&ids.join(", "), width, "  ", "  "));
        lines.push(String::new());
    }
    let rest = "Beside these: any unit as it is printed (kgr/ft3, meq/mL), and any label as a report has it.";
    lines.extend(super::plain::wrapped(rest, width, "", ""));
    lines.join("\n") + "\n"
}

/// Known terms that look like this one, the likest first.
///
/// ```
/// use beadwise::{judge::Policy, lexicon::Lexicon, specs::Specs};
/// use beadwise::report::explain::{Knowledge, near};
/// let knowledge = Knowledge {
///     lexicon: Lexicon::builtin(),
///     overlays: &[],
///     specs: Specs::builtin()?,
///     policy: Policy::builtin()?,
/// };
/// assert_eq!(near("baisis-unkown", &knowledge).first().map(String::as_str), Some("basis-unknown"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn near(term: &str, knowledge: &Knowledge<'_>) -> Vec<String> {
    const MOST: usize = 4;
    let asked = dashed(term);
    let mut found: Vec<(usize, String)> = Vec::new();
    for known in ids(knowledge).into_iter().flat_map(|(_, ids)| ids) {
        let candidate = dashed(&known);
        let distance = crate::specs::distance(&asked, &candidate);
        let inside = asked.chars().count() >= 3 && (candidate.contains(&asked) || asked.contains(&candidate));
        if distance * 3 <= asked.chars().count() || inside {
            found.push((distance, known));
        }
    }
    found.sort();
    found.dedup_by(|a, b| a.1 == b.1);
    found.into_iter().take(MOST).map(|(_, known)| known).collect()
}

#[cfg(test)]
mod tests;
