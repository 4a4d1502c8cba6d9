//! Cuts off what a value says besides: an address behind a customer, words behind a number, a person before a house.

use super::super::mentions;
use super::super::scope::{Draft, Fact};
use super::words::{Passing, begins, holds, lower};
use super::{names, numbers};
use crate::lexicon::{Lexicon, class_words_in};

/// Tidies the facts of a draft.
pub fn facts(draft: &mut Draft, lexicon: &Lexicon) {
    for fact in &mut draft.facts {
        match fact.key.as_str() {
            "customer" => cut_address(fact),
            "report_number" => {
                if let Some((start, end)) = numbers::own_mark(&fact.text)
                    && let Some(mark) = fact.text.get(start..end)
                {
                    fact.text = mark.to_owned();
                }
            }
            "laboratory" => {
                if let Some(name) = laboratory(&fact.text, lexicon) {
                    fact.text = name;
                }
            }
            "resin" => resin(fact, lexicon),
            _ => {}
        }
    }
    // "3 Weir Cottages, Oakhampton-on-Teme": the place of a laboratory, and not its name.
    draft.facts.retain(|f| f.key != "laboratory" || !f.text.starts_with(|c: char| c.is_ascii_digit()));
    split_vessel(draft, lexicon);
}

/// "Molkerei Grünwinkel eG, 74999 Grünwinkel"
fn cut_address(fact: &mut Fact) {
    let mut at = 0;
    for piece in fact.text.split(',') {
        if at > 0 && names::is_town(piece.trim()) {
            fact.text.truncate(at - 1);
            return;
        }
        at += piece.len() + 1;
    }
}

/// A house's own name: without the person before it, the town behind it, or its label.
pub fn laboratory(text: &str, lexicon: &Lexicon) -> Option<String> {
    let data = Passing::builtin();
    let (trade, forms) = (data.phrases("laboratory", "trade"), data.phrases("laboratory", "forms"));
    let labels = data.phrases("laboratory", "leads");
    let text = begins(text, labels).filter(|_| text.contains(':')).unwrap_or(text).trim_start_matches([':', ' ']);
    let text = text.rsplit_once(" @ ").map_or(text, |(_, house)| house).trim();
    let pieces: Vec<&str> = text.split(", ").collect();
    let speaks = |p: &str| mentions::laboratory(p, lexicon).is_some() || holds(p, trade);
    let at = pieces.iter().position(|p| p.split_whitespace().count() >= 2 && speaks(p)).unwrap_or(0);
    let mut name = (*pieces.get(at)?).to_owned();
    for piece in pieces.iter().skip(at + 1) {
        if !forms.contains(&lower(piece.trim())) {
            break;
        }
        name.push_str(", ");
        name.push_str(piece);
    }
    let name = name.trim().trim_end_matches([',', ';']).to_owned();
    (!name.is_empty()).then_some(name)
}

/// "resin: SBA type 1 gel", "softener A, 8% gel cation, Na form", "gel SAC 8 %, sodium form, installed 2018"
fn resin(fact: &mut Fact, lexicon: &Lexicon) {
    let data = Passing::builtin();
    let installed = data.phrases("installed_on", "leads");
    let mut text = fact.text.as_str();
    if let Some((before, rest)) = text.split_once(':')
        && before.split_whitespace().count() <= 3
        && class_words_in(before).is_none()
    {
        text = rest.trim_start();
    }
    if let Some((before, rest)) = text.split_once(", ")
        && before.split_whitespace().count() <= 3
        && class_words_in(before).is_none()
        && class_words_in(rest).is_some_and(|(start, _)| start <= 12)
        && !before.contains(|c: char| c.is_ascii_digit())
        && names_matter(before, lexicon)
    {
        text = rest;
    }
    let mut end = text.len();
    for mark in [", ", "; ", ". "] {
        for (at, _) in text.match_indices(mark) {
            let rest = text.get(at + mark.len()..).unwrap_or_default();
            let tested = ["tested", "geprüft", "ensayada", "testée", "analysée", "examined", "converted"];
            if begins(rest, installed).is_some() || tested.iter().any(|w| lower(rest).starts_with(w)) {
                end = end.min(at);
            }
        }
    }
    let text = text.get(..end).unwrap_or(text).to_owned();
    if class_words_in(&text).is_some() || crate::lexicon::resin_class(&text).class.is_some() {
        fact.text = text;
    }
}

/// "softener A": where the resin is, and nothing of its kind. "Enthärterharz" is of its kind.
fn names_matter(text: &str, lexicon: &Lexicon) -> bool {
    let label = lexicon.understand(text, &[]);
    let has = |id: &str| lexicon.facet_id(id).is_some_and(|f| label.facets.contains(&f));
    has("vessel") && !has("resin")
}

/// "DM cation 2 (SAC MR, Na form)": the bracket names the resin. "Piedra Lodge, lobby softener": the house stands first.
fn split_vessel(draft: &mut Draft, lexicon: &Lexicon) {
    let Some(at) = draft.facts.iter().position(|f| f.key == "vessel") else { return };
    let Some(fact) = draft.facts.get(at).cloned() else { return };
    if let Some((name, rest)) = fact.text.split_once(" (")
        && class_words_in(rest).is_some()
    {
        let resin = rest.trim_end_matches(')').to_owned();
        if draft.fact("resin").is_none() {
            draft.facts.push(Fact { key: "resin".into(), text: resin, ..fact.clone() });
        }
        if let Some(vessel) = draft.facts.get_mut(at) {
            vessel.text = name.trim().to_owned();
        }
        return;
    }
    let is_vessel = |t: &str| {
        let label = lexicon.understand(t, &[]);
        lexicon.facet_id("vessel").is_some_and(|v| label.facets.contains(&v))
    };
    if let Some((house, vessel)) = fact.text.split_once(", ")
        && names::is_name(house, lexicon)
        && !is_vessel(house)
        && is_vessel(vessel)
        && !vessel.contains(',')
    {
        if let Some(known) = draft.facts.get_mut(at) {
            known.text = vessel.to_owned();
        }
        if draft.fact("customer").is_none() {
            draft.facts.push(Fact { key: "customer".into(), text: house.to_owned(), ..fact });
        }
    }
}
