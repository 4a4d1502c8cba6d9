//! Records whose resin class is not known, or could be one of two.

use super::decide::{ResampleHow, Verdict};
use super::figures::gather;
use super::judgement::{Baseline, Judgement};
use super::{Context, by_class, rounded};
use crate::record::Record;
use crate::specs::Class;
use std::collections::BTreeMap;

/// A second class that the report's own doubt names.
pub(super) fn other_class<'a>(record: &Record, class: &Class, context: &Context<'a>) -> Option<&'a Class> {
    // The user's word settles it.
    if context.class.is_some() {
        return None;
    }
    record
        .doubts
        .iter()
        .filter(|doubt| doubt.property.as_deref() == Some("resin_class"))
        .flat_map(|doubt| &doubt.alternatives)
        .filter_map(|value| context.specs.class(value.as_str()?))
        .find(|other| other.id != class.id)
}

/// Judges by both classes: where they agree that stands, else the laboratory is asked.
pub(super) fn between(record: &Record, class: &Class, other: &Class, context: &Context<'_>) -> Judgement {
    let mut first = by_class(record, class, context);
    let second = by_class(record, other, context);
    let mut shares: BTreeMap<String, f64> = BTreeMap::new();
    for (verdict, share) in first.shares.iter().chain(&second.shares) {
        *shares.entry(verdict.clone()).or_default() += share / 2.0;
    }
    for share in shares.values_mut() {
        *share = rounded(*share);
    }
    let note = format!(
        "The report leaves open whether the resin is {} or {}; judged as the first it would be {}, as the second {}.",
        class.name,
        other.name,
        first.verdict.word(),
        second.verdict.word()
    );
    if first.verdict != second.verdict {
        first.verdict = Verdict::Resample;
        first.resample_how = Some(ResampleHow::AskLaboratory);
        first.also = Vec::new();
        first.remedy = Vec::new();
        first.economic = None;
        first.would_change = Vec::new();
        first.next_sample_on = None;
        first.reasons.insert(0, note);
        first.missing.insert(0, "resin_class".to_owned());
        let most = shares.values().copied().fold(0.0, f64::max);
        shares.insert("resample".to_owned(), rounded(1.0 - most));
        for (verdict, share) in &mut shares {
            if verdict != "resample" {
                *share = rounded(*share * most);
            }
        }
    } else {
        first.reasons.push(note);
    }
    first.certainty = shares.get(first.verdict.word()).copied().unwrap_or(0.0);
    super::certainty_words(context.policy, first.certainty).clone_into(&mut first.certainty_words);
    first.shares = shares;
    first
}

/// No class: says what would tell it, and what would be assumed.
pub(super) fn judge(record: &Record, context: &Context<'_>) -> Judgement {
    let figures = gather(record, None, context.policy, context);
    let named = context.class.or(record.sample.resin_class.as_deref());
    let mut reasons = vec![match (named, record.sample.resin_as_written.as_deref()) {
        (Some(id), _) => format!("The resin class `{id}` is not known here; `spec list` shows those that are."),
        (None, Some(text)) => format!("The report calls the resin \"{text}\", which does not tell its class."),
        (None, None) => "The report does not say which resin it is.".to_owned(),
    }];
    reasons.push(
        "Ask for the product name or the invoice, or read the drum: cation or anion, strong or weak, gel or macroporous, and for an anion the type."
            .to_owned(),
    );
    let assumed = assumed(record).and_then(|id| context.specs.class(id));
    if let Some(class) = assumed {
        let then = by_class(record, class, context);
        reasons.push(format!(
            "If it were {} (--class {}), the verdict would be {}, {}.",
            class.name,
            class.id,
            then.verdict.word(),
            then.certainty_words
        ));
        reasons.extend(then.reasons.first().map(|reason| format!("Under that assumption: {reason}")));
    }
    reasons.extend(figures.left_out.iter().map(super::LeftOut::in_words));
    let mut missing = vec!["resin_class".to_owned()];
    for property in ["total_capacity", "salt_splitting_capacity", "moisture_retention", "true_density"] {
        if !record.measurements.iter().any(|m| m.property == property) {
            missing.push(property.to_owned());
        }
    }
    Judgement {
        source: record.source.clone(),
        sample: record.sample.clone(),
        verdict: Verdict::Resample,
        also: Vec::new(),
        certainty: 1.0,
        certainty_words: super::certainty_words(context.policy, 1.0).to_owned(),
        shares: BTreeMap::from([("resample".to_owned(), 1.0)]),
        score: None,
        baseline: Baseline {
            from: None,
            name: None,
            text: "Nothing is compared: the resin's class is not known.".to_owned(),
        },
        grades: Vec::new(),
        loss: None,
        recovery: None,
        causes: Vec::new(),
        fix_first: Vec::new(),
        reasons,
        would_change: Vec::new(),
        missing,
        resample_how: Some(ResampleHow::AskLaboratory),
        economic: None,
        overridden: context.policy.overridden(),
        compared: None,
        remedy: Vec::new(),
        cautions: Vec::new(),
        replace_by: None,
        next_sample_on: None,
        next_sample_why: "no new jar yet: the class can be asked for".to_owned(),
        left_out: figures.left_out,
        doubts: figures.unclosed,
        rules: vec![super::rules::resin_class_unknown::ID.to_owned()],
    }
}

/// The class one would assume: from the duty, the ionic form and which tests were run.
fn assumed(record: &Record) -> Option<&'static str> {
    let sample = &record.sample;
    let has = |property: &str| record.measurements.iter().any(|m| m.property.starts_with(property));
    let form = sample.form.as_deref().or_else(|| record.measurements.iter().find_map(|m| m.form.as_deref()));
    let volume = record
        .measurements
        .iter()
        .find(|m| m.property == "total_capacity" && m.basis.as_deref() == Some("volume"))
        .and_then(|m| m.value);
    match (sample.duty.as_deref(), form) {
        (Some("nitrate"), _) | (_, Some("NO3")) => Some("sba-nitrate"),
        (Some("dealkalizing"), Some("H")) => Some("wac"),
        (_, Some("FB")) => Some("wba-macro"),
        // Of the cation resins only the weak-acid ones hold so much.
        (_, Some("H")) if volume.is_some_and(|volume| volume > 3.0) => Some("wac"),
        (_, Some("Na" | "Ca" | "H")) | (Some("softening"), _) => Some("sac-gel-8"),
        (_, Some("Cl" | "OH" | "SO4" | "HCO3")) => Some("sba1-gel"),
        _ if has("organics") => Some("sba1-gel"),
        _ if has("iron") && volume.is_some_and(|volume| volume > 1.5) => Some("sac-gel-8"),
        _ => None,
    }
}
