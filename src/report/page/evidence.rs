//! What the page rests on: each figure with its words and place, doubts, what is missing, limits and cautions.

use super::words::{basis, capital, figure};
use super::{Sheet, heading, items};
use crate::judge::{property_words, rule};
use crate::place::Where;
use crate::record::{Doubt, Reference};
use crate::report::units::{number, percent};
use maud::{Markup, html};

fn place(place: &Where) -> String {
    let words = place.to_string();
    if words.is_empty() { "told beside the report".to_owned() } else { words }
}

fn notes(doubts: &[Doubt], reference: Option<&Reference>, method: Option<&str>) -> Markup {
    html! {
        @if let Some(method) = method { span class="small-line" { "by " (method) } }
        @if let Some(reference) = reference.filter(|reference| !reference.as_written.is_empty()) {
            span class="small-line" { "new resin beside it: " (reference.as_written) }
        }
        @for doubt in doubts { span class="small-line doubt" { "Doubted: " (doubt.text) } }
    }
}

/// Each figure of the report, as it stands there and as it was read.
pub fn evidence(sheet: &Sheet<'_>) -> Option<Markup> {
    let record = sheet.bed.record;
    let nothing = record.measurements.is_empty() && record.field.is_empty() && record.sieve.is_empty();
    (!nothing).then(|| {
        html! {
            p class="note" {
                "From " strong { (record.source.file) } @if !record.source.format.is_empty() { " (" (record.source.format) ")" }
                @if let Some(start) = record.source.sha256.get(..16) { ", SHA-256 " code { (start) "…" } }
                ". Each figure stands with the report’s own words and its place there."
            }
            div class="scroll" tabindex="0" role="region" aria-label=(format!("Figures of the report: {}", sheet.name)) {
                table class="evidence-table" {
                    thead { tr { th scope="col" { "Figure" } th scope="col" { "In the report" } th scope="col" { "Read as" } th scope="col" { "Where" } } }
                    tbody {
                        @for m in &record.measurements {
                            tr {
                                th scope="row" { (capital(&property_words(&m.property))) @if let Some(basis) = basis(m) { span class="small-line" { (basis) } } }
                                td { (m.as_written) @if !m.label.is_empty() { span class="small-line" { "“" (m.label) "”" } } }
                                td {
                                    (figure(m.qualifier, m.value, m.high, m.unit.as_deref()))
                                    @if let Some(value) = m.uncertainty.as_ref().and_then(|u| u.value) { " ± " (number(value)) }
                                    @if let Some(n) = m.uncertainty.as_ref().and_then(|u| u.n) { span class="small-line" { (n) " counted" } }
                                    (notes(&m.doubts, m.reference.as_ref(), m.method.as_deref()))
                                }
                                td { (place(&m.place)) }
                            }
                        }
                        @for f in &record.field {
                            tr {
                                th scope="row" { (capital(&property_words(&f.quantity))) }
                                td { (f.as_written) }
                                td { (figure(f.qualifier, f.value, f.high, f.unit.as_deref())) (notes(&f.doubts, None, None)) }
                                td { (place(&f.place)) }
                            }
                        }
                        @for s in &record.sieve {
                            tr {
                                th scope="row" { "Sieve " (number(s.opening)) " " (s.unit) }
                                td { (number(s.value)) " %" }
                                td { (s.kind.replace('_', " ")) }
                                td { (place(&s.place)) }
                            }
                        }
                    }
                }
            }
            @if !record.remarks.is_empty() {
                (heading(sheet.level + 2, &format!("{}-remarks", sheet.id), "Remarks in the report"))
                ul { @for remark in &record.remarks { li { "“" (remark.text) "” " span class="where" { (place(&remark.place)) } } } }
            }
        }
    })
}

/// What the reader was not sure of, what does not add up, what was left out and what was not understood.
pub fn doubts(sheet: &Sheet<'_>) -> Option<Markup> {
    let (record, judgement) = (sheet.bed.record, sheet.bed.judgement);
    let of_figures = record.measurements.iter().map(|m| (&m.property, &m.doubts));
    let of_field = record.field.iter().map(|f| (&f.quantity, &f.doubts));
    let mut lines: Vec<String> = Vec::new();
    for (property, doubts) in of_figures.chain(of_field) {
        for doubt in doubts {
            lines.push(format!("{}: {}", capital(&property_words(property)), doubt.text));
        }
    }
    for doubt in &record.doubts {
        let of = doubt
            .property
            .as_ref()
            .map_or(String::new(), |property| format!("{}: ", capital(&property_words(property))));
        lines.push(format!("{of}{}", doubt.text));
    }
    lines.extend(judgement.doubts.iter().map(|doubt| doubt.text.clone()));
    lines.extend(judgement.left_out.iter().map(crate::judge::LeftOut::in_words));
    let nothing = lines.is_empty() && record.unread.is_empty();
    (!nothing).then(|| {
        html! {
            @if let Some(lines) = items(&lines) { (lines) }
            @if !record.unread.is_empty() {
                p { "Numbers in the report that were not understood, and so weigh nothing:" }
                ul { @for unread in &record.unread { li { "“" (unread.text) "” " span class="where" { (place(&unread.place)) } } } }
            }
        }
    })
}

/// What was not measured or not told.
pub fn missing(sheet: &Sheet<'_>) -> Option<Markup> {
    let judgement = sheet.bed.judgement;
    let asked = sheet.bed.plan.map_or(&[][..], |plan| plan.asked.as_slice());
    let silent = sheet.bed.plan.map_or(&[][..], |plan| plan.silent_on.as_slice());
    let nothing = judgement.missing.is_empty() && asked.is_empty() && silent.is_empty();
    (!nothing).then(|| {
        html! {
            @if !judgement.missing.is_empty() {
                p { "Not in the report, and worth asking the laboratory or taking at the bed, the most telling first:" }
                ol { @for property in &judgement.missing { li { (capital(&property_words(property))) } } }
            }
            @if !asked.is_empty() {
                p { "Not told, and wanted for the work in figures:" }
                ul { @for asked in asked { li { (capital(&asked.name)) ", for " (asked.why) } } }
            }
            @if let Some(lines) = items(silent) { p { "Not said here:" } (lines) }
        }
    })
}

/// Every limit and band that the verdict and the pictures go by, with its source.
pub fn limits(sheet: &Sheet<'_>) -> Option<Markup> {
    let (judgement, policy) = (sheet.bed.judgement, sheet.page.policy);
    let mut names: Vec<(&str, &str)> = Vec::new();
    for named in judgement.rules.iter().filter_map(|id| rule(id)).flat_map(crate::judge::Rule::goes_by) {
        if !names.contains(&named) {
            names.push(named);
        }
    }
    let limits = names.iter().filter(|(kind, _)| *kind == "limit").filter_map(|(_, name)| policy.limit(name));
    let limits: Vec<_> = limits.collect();
    let value = |limit: &crate::judge::Limit| match limit.unit.as_str() {
        "1" => percent(limit.value),
        "1/a" => format!("{} a year", percent(limit.value)),
        "mo" => format!("{} months", number(limit.value)),
        "a" => format!("{} years", number(limit.value)),
        unit => format!("{} {unit}", number(limit.value)),
    };
    let graded: Vec<(String, &str, &str)> = judgement
        .grades
        .iter()
        .map(|grade| {
            let new = grade.new.as_ref().map_or("", |new| new.source.as_str());
            (capital(&crate::report::judgement::grade_name(grade)), new, grade.band.as_str())
        })
        .collect();
    let waiting = &sheet.bed.left_alone;
    (!limits.is_empty() || !graded.is_empty()).then(|| {
        html! {
            p class="note" { "Where no document could be read, it is said: such a limit is common practice of the trade, and may be replaced by your own." }
            @if !limits.is_empty() {
                table class="sources" {
                    caption { "Limits that were asked in this verdict" }
                    thead { tr { th scope="col" { "Limit" } th scope="col" { "At" } th scope="col" { "Source" } } }
                    tbody {
                        @for limit in &limits {
                            tr {
                                th scope="row" { (limit.text) }
                                td { (value(limit)) @if let Some(before) = limit.instead_of { span class="small-line" { "your own; built in: " (number(before)) } } }
                                td { (limit.source) }
                            }
                        }
                    }
                }
            }
            @if !graded.is_empty() {
                table class="sources grades" {
                    caption { "New resin, and the grades between new and spent" }
                    thead { tr { th scope="col" { "Property" } th scope="col" { "New resin from" } th scope="col" { "Grades from" } } }
                    tbody {
                        @for (name, new, band) in &graded {
                            tr { th scope="row" { (name) } td { @if new.is_empty() { "no figure" } @else { (new) } } td { (band) } }
                        }
                    }
                }
            }
            @if let Some(own) = items(&judgement.overridden) { p { "Limits of your own:" } (own) }
            @if !waiting.is_empty() {
                p class="note" { "If nothing is done: " (waiting.iter().map(|line| line.source.as_str()).collect::<std::collections::BTreeSet<_>>().into_iter().collect::<Vec<_>>().join("; ")) "." }
            }
        }
    })
}

/// All cautions; who may do it always has the last word.
pub fn cautions(sheet: &Sheet<'_>) -> Option<Markup> {
    let mut lines = sheet.bed.judgement.cautions.clone();
    let of_work =
        sheet.bed.plan.and_then(|plan| plan.cleaning.as_ref()).map_or(&[][..], |cleaning| cleaning.cautions.as_slice());
    lines.extend(of_work.iter().filter(|text| !sheet.bed.judgement.cautions.contains(text)).cloned());
    let mut lines = crate::report::sheet::with_last_word(&lines);
    // Who may do it comes last, whatever came from the work.
    lines.sort_by_key(|line| line.starts_with("Local codes"));
    items(&lines).map(|list| html! { div class="warn" { (list) } })
}
