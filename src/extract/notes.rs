//! Footnotes, and remarks that give all figures of a report their basis.

use super::scope::Draft;
use super::table::{Footnotes, plain_mark};
use crate::document::{Document, Page};
use crate::lexicon::{FacetKind, Lexicon, ShortName, Target};
use crate::quantity::Unit;
use regex::Regex;
use std::sync::OnceLock;

fn pattern(cell: &'static OnceLock<Option<Regex>>, source: &str) -> Option<&'static Regex> {
    cell.get_or_init(|| Regex::new(source).ok()).as_ref()
}

/// Footnotes of a page: "(d) dry basis", "* on dry resin", "1) as CaCO3".
pub fn footnotes(page: &Page, lexicon: &Lexicon) -> Footnotes {
    static NOTE: OnceLock<Option<Regex>> = OnceLock::new();
    let mut notes = Footnotes::new();
    let Some(pattern) = pattern(
        &NOTE,
        r"(?:^|\s{2,}|[;,.]\s+)(\*+|[†‡§#]+|[¹²³⁴⁵ᵃᵇᶜᵈᵉᶠᵍʰⁱʲ]|\(?(?:\d|[a-z])\)|\((?:[¹²³])\)|\[(?:\d|[a-z])\]|(?:\d|[a-z])\s*[=:]|(?:\d|[a-e])\s{2,})\s*(\p{L}[^;*†‡¹²³ᵃᵇᶜᵈᵉᶠᵍʰⁱʲ]*)",
    ) else {
        return notes;
    };
    for line in &page.lines {
        let text = line.words.iter().map(|w| w.text.as_str()).collect::<Vec<_>>().join(if line.table.is_some() {
            "   "
        } else {
            " "
        });
        // Raised marks need no room before them to tell one note from the next.
        let text = ['¹', '²', '³', '†', '‡', 'ᵃ', 'ᵇ', 'ᶜ', 'ᵈ', 'ᵉ', 'ᶠ', 'ᵍ', 'ʰ', 'ⁱ', 'ʲ']
            .iter()
            .fold(text, |t, m| t.replace(&format!(" {m}"), &format!("\n{m}")));
        for found in text.split('\n').flat_map(|piece| pattern.captures_iter(piece)) {
            let (Some(mark), Some(body)) = (found.get(1), found.get(2)) else { continue };
            let facets: Vec<_> = lexicon
                .understand(body.as_str(), &[])
                .facets
                .into_iter()
                .filter(|&id| {
                    lexicon.facet(id).is_some_and(|f| {
                        matches!(f.kind, FacetKind::Basis | FacetKind::Form | FacetKind::As | FacetKind::State)
                    })
                })
                .collect();
            if !facets.is_empty() {
                notes.entry(plain_mark(mark.as_str())).or_insert(facets);
            }
        }
    }
    notes
}

/// Short names that the document explains itself: "GK = Gesamtkapazität, WG = Wassergehalt", "TC = total capacity,
/// kgr/cf", "WB, CB, BB = whole, cracked, broken beads, % by count", "SBC strong base capacity; TC total capacity".
pub fn legend(document: &Document, lexicon: &Lexicon) -> Vec<ShortName> {
    const MOST: usize = 64;
    let mut found: Vec<ShortName> = Vec::new();
    for line in document.parts.iter().flat_map(|p| &p.pages).flat_map(|p| &p.lines) {
        let text = line.text();
        let entries = if text.contains(['=', '≙']) { explained(&text, lexicon) } else { listed(&text, lexicon) };
        for entry in entries {
            let known = lexicon.understand(&entry.name, &[]).target;
            let says_more = known != entry.target || (entry.unit.is_some() && known.is_some());
            if says_more && found.len() < MOST {
                found.push(entry);
            }
        }
    }
    found
}

/// Names before an equals sign; what they mean runs on to the next one.
fn explained(text: &str, lexicon: &Lexicon) -> Vec<ShortName> {
    static NAMES: OnceLock<Option<Regex>> = OnceLock::new();
    let mut found = Vec::new();
    let Some(names) =
        pattern(&NAMES, r"(?:^|[\s,;(])(\p{L}[\p{L}\d]{0,5}(?:\s*,\s*\p{L}[\p{L}\d]{0,5})*)\s*(?:=|:=|≙)\s*")
    else {
        return found;
    };
    for piece in text.split([';', '|']) {
        let heads: Vec<_> =
            names.captures_iter(piece).filter_map(|c| Some((c.get(0)?.range(), c.get(1)?.as_str()))).collect();
        for (at, (range, names)) in heads.iter().enumerate() {
            let end = heads.get(at + 1).map_or(piece.len(), |(next, _)| next.start);
            let body = piece.get(range.end..end).unwrap_or_default().trim().trim_end_matches([',', '.', ')']);
            let mut names: Vec<&str> = names.split(',').map(str::trim).collect();
            // "ES = effective size, UC = ...": small letters are the end of the meaning before.
            if !names.iter().all(|n| n.chars().all(|c| c.is_uppercase() || c.is_ascii_digit())) {
                names = names.split_off(names.len() - 1);
            }
            found.extend(short_names(&names, body, lexicon));
        }
    }
    found
}

/// "SBC strong base capacity; TC total capacity": two or more of a kind in one line.
fn listed(text: &str, lexicon: &Lexicon) -> Vec<ShortName> {
    if !text.contains(';') {
        return Vec::new();
    }
    let found: Vec<ShortName> = text
        .split(';')
        .filter_map(|piece| {
            let (name, body) = piece.trim().split_once([' ', ':'])?;
            let short = (2..=6).contains(&name.chars().count()) && name.chars().all(char::is_uppercase);
            let wordy = body.trim().chars().filter(|c| c.is_alphabetic()).count() > 3;
            (short && wordy && !has_figure(body))
                .then(|| short_names(&[name], body.trim().trim_end_matches('.'), lexicon))?
                .pop()
        })
        .collect();
    if found.len() < 2 { Vec::new() } else { found }
}

fn short_names(names: &[&str], body: &str, lexicon: &Lexicon) -> Vec<ShortName> {
    // Longer texts are sentences, which explain no name.
    const LONGEST: usize = 60;
    if body.chars().count() > LONGEST || body.chars().count() < 3 {
        return Vec::new();
    }
    let (words, unit) = match body.rsplit_once(',') {
        Some((words, unit)) if Unit::parse(unit).is_some() => (words, Unit::parse(unit)),
        _ => (body, None),
    };
    let meanings: Vec<&str> = if names.len() == 1 { vec![words] } else { words.split(',').map(str::trim).collect() };
    if meanings.len() != names.len() {
        return Vec::new();
    }
    names
        .iter()
        .zip(meanings)
        .filter_map(|(name, meaning)| {
            let label = lexicon.understand(meaning, &[]);
            let figure = matches!(label.target, Some(Target::Property(_))) && label.is_clear();
            figure.then(|| ShortName {
                name: (*name).to_owned(),
                facets: label.facets.iter().copied().collect(),
                unit: unit.clone().or(label.unit),
                target: label.target,
            })
        })
        .collect()
}

/// A remark on many figures: "All metals on dry basis".
#[derive(Clone, Debug, PartialEq)]
pub struct General {
    part: usize,
    basis: String,
    metals: bool,
    all: bool,
    properties: Vec<String>,
}

/// Remarks of a document that give figures their basis.
pub fn general(document: &Document, lexicon: &Lexicon) -> Vec<General> {
    static METALS: OnceLock<Option<Regex>> = OnceLock::new();
    static ALL: OnceLock<Option<Regex>> = OnceLock::new();
    let metals = pattern(
        &METALS,
        r"(?i)^\s*(?:(?:all|alle|tous|toutes|todos|todas)(?:\s+(?:of\s+(?:them|these)|two|three|four|zwei|drei|vier|deux|trois|les\s+deux|les\s+trois|los\s+tres|las\s+tres))?|both|these|beide|diese|les\s+deux|ambos|ambas|estos)\s+(?:are|were|is|as|on|sind|auf|bezogen|sont|sur|rapport[ée]s|son|est[áa]n|sobre|referidos)\b|\b(?:metals?|metalle?n?|metallgehalte?|metallwerte|schwermetalle|m[ée]taux|metales|elements?|elemente|éléments|elementos|foulants?|contaminants?|ash|impurities|verunreinigungen|belagsbildner)\b",
    );
    let all = pattern(
        &ALL,
        r"(?i)\b(?:all|alle|s[äa]mtliche|tous|toutes|todos|todas|les|los|die)\b.*\b(?:results?|values?|concentrations?|figures?|data|ergebnisse|werte|gehalte|konzentrationen|r[ée]sultats|teneurs|valeurs|concentrations|resultados|valores|contenidos|concentraciones|mg/kg|ppm)\b|^\s*(?:results?|ergebnisse|r[ée]sultats|resultados|ppm|mg/kg|concentrations?|gehalte)\b",
    );
    let mut found = Vec::new();
    for (part, content) in document.parts.iter().enumerate() {
        for page in &content.pages {
            let lines: Vec<String> = page.lines.iter().map(crate::document::Line::text).collect();
            for (at, line) in lines.iter().enumerate() {
                // A remark may run over two lines.
                let joined = lines.get(at + 1).map_or_else(|| line.clone(), |next| format!("{line} {next}"));
                for text in [line.as_str(), joined.as_str()] {
                    for sentence in text.split(['.', ';']).filter(|s| s.len() < 160 && !has_figure(s)) {
                        if let Some(general) = one(sentence, part, metals, all, lexicon)
                            && !found.contains(&general)
                        {
                            found.push(general);
                        }
                    }
                }
            }
        }
    }
    found
}

fn has_figure(text: &str) -> bool {
    text.split_whitespace().any(|w| w.starts_with(|c: char| c.is_ascii_digit()) || w.starts_with(['<', '>']))
}

fn one(text: &str, part: usize, metals: Option<&Regex>, all: Option<&Regex>, lexicon: &Lexicon) -> Option<General> {
    if text.split_whitespace().count() < 2 {
        return None;
    }
    let label = lexicon.understand(text, &[]);
    let basis = label.basis.clone().filter(|b| b != "volume")?;
    let metals = metals.is_some_and(|p| p.is_match(text));
    let all = all.is_some_and(|p| p.is_match(text));
    let mut properties = Vec::new();
    for property in lexicon.properties() {
        let [head] = property.means.first().map(|m| m.split(' ').collect::<Vec<_>>()).unwrap_or_default()[..] else {
            continue;
        };
        if property.substance.is_some() && lexicon.facet_id(head).is_some_and(|f| label.facets.contains(&f)) {
            properties.push(property.id.clone());
        }
    }
    // The label of one figure ("Iron, dry") is its own; a remark names metals, all results, or several of them.
    (metals || all || properties.len() >= 2).then_some(General { part, basis, metals, all, properties })
}

/// Gives the figures that lack a basis the one of the remarks, where these agree.
pub fn apply(notes: &[General], drafts: &mut [Draft], lexicon: &Lexicon) {
    for draft in drafts {
        let part = draft.part;
        for figure in &mut draft.figures {
            let Some(Target::Property(id)) = &figure.label.target else { continue };
            let by_head = figure.head.as_ref().is_some_and(|h| h.basis.is_some());
            if figure.label.basis.is_some() || by_head {
                continue;
            }
            let Some(property) = lexicon.property(id) else { continue };
            let element = property.substance.is_some();
            let mut bases: Vec<&str> = notes
                .iter()
                .filter(|n| n.part == part)
                .filter(|n| (element && n.metals) || n.all || n.properties.contains(id))
                .map(|n| n.basis.as_str())
                .collect();
            bases.sort_unstable();
            bases.dedup();
            let per_volume = figure.value.unit.iter().chain(figure.label.unit.iter()).any(|u| u.dimension.length == -3);
            if let [basis] = bases[..]
                && property.units.contains_key(basis)
                && !per_volume
            {
                figure.label.basis = Some(basis.to_owned());
            }
        }
    }
}
