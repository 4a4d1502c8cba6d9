//! From a record to a judgement: what to do with the bed, why, and how sure that is.
//!
//! ```text
//! record ─ figures ─▶ case ─ model ─▶ rules ─▶ calls ─▶ verdict ─ draws ─▶ certainty ─ advise ─▶ judgement
//!             ▲                          ▲
//!    baseline, closure             policy (grammar/)
//! ```
//!
//! A pure function of the record and a [`Context`]: no disk, no clock. No limit stands here; they are policy.

mod advise;
mod baseline;
mod case;
mod change;
mod closure;
mod compare;
mod dates;
mod decide;
mod draws;
pub mod example;
mod figures;
mod findings;
mod grade;
mod judgement;
mod left_out;
mod limits;
mod model;
mod policy;
mod rules;
mod sizes;
mod slot;
mod together;
mod unknown;
mod waiting;
mod words;
mod worth;

pub use baseline::From;
pub use case::loss_replace;
pub use closure::{Unclosed, volume_capacity};
pub use compare::{Difference, compare, top_against_core};
pub use dates::{first_day, months_on, years_between};
pub use decide::{ResampleHow, Verdict};
pub use draws::wilson;
pub use findings::Cause;
pub use grade::{Grade, GradeNew, Mark, SCORES};
pub use judgement::{Baseline, Compared, Economic, Judgement, Judgements, Loss, LossPart, Recovery, Remedy, ReplaceBy};
pub use left_out::LeftOut;
pub use limits::{Limit, Limits};
pub use model::swelling_left;
pub use policy::{Band, Measure, Policy};
pub use rules::{RULES, Rule, rule};
pub use sizes::{mean_sizes, passing, size_at};
pub use together::{judge_after, judge_all, partner, tell_each_other};
pub use waiting::{LeftAlone, left_alone};
pub use words::{name as property_words, quantity as quantity_words};

use crate::record::Record;
use crate::specs::{Class, Family, KnowledgeError, PROPERTIES, Specs};
use case::Info;
use draws::Drawn;
use figures::gather;
use findings::{CALLS, Call, Findings, Weight};
use model::{Model, work_out};
use slot::Slot;
use std::collections::BTreeMap;

/// What a record is judged by, beside its own figures.
#[derive(Clone, Copy)]
pub struct Context<'a> {
    /// New-resin figures.
    pub specs: &'a Specs,
    /// Limits and words.
    pub policy: &'a Policy,
    /// The class that the user names, over the report's.
    pub class: Option<&'a str>,
    /// Product sheets, one record for each resin and form.
    pub sheet: &'a [Record],
    /// The bed's own first analysis.
    pub first: Option<&'a Record>,
    /// ISO date; for records without one, and for dates that have passed.
    pub today: Option<&'a str>,
}

impl Context<'static> {
    /// The built-in specifications and policy, and nothing else.
    ///
    /// # Errors
    /// An entry of the built-in data that cannot be read, with its file and line.
    pub fn builtin() -> Result<Self, KnowledgeError> {
        Ok(Self {
            specs: Specs::builtin()?,
            policy: Policy::builtin()?,
            class: None,
            sheet: &[],
            first: None,
            today: None,
        })
    }
}

impl Context<'_> {
    /// The date that ages are reckoned to: sampled, else reported, else today.
    pub fn judged_on(&self, record: &Record) -> Option<String> {
        let known = |date: &Option<String>| date.clone().filter(|date| dates::first_day(date).is_some());
        known(&record.sample.sampled_on)
            .or_else(|| known(&record.sample.reported_on))
            .or_else(|| self.today.map(str::to_owned))
    }
}

/// Judges one record.
///
/// ```
/// use beadwise::judge::{Context, Verdict, example, judge};
/// let record = example::record(
///     "class sac-gel-8\nform Na\ntotal_capacity volume 1.95\nmoisture_retention 47\nwhole_beads 96\niron dry_mass 250",
/// )?;
/// let judgement = judge(&record, &Context::builtin()?);
/// assert_eq!(judgement.verdict, Verdict::Keep);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn judge(record: &Record, context: &Context<'_>) -> Judgement {
    let class = context.class.or(record.sample.resin_class.as_deref()).and_then(|id| context.specs.class(id));
    match class {
        Some(class) => match unknown::other_class(record, class, context) {
            Some(other) => unknown::between(record, class, other, context),
            None => by_class(record, class, context),
        },
        None => unknown::judge(record, context),
    }
}

/// Judges a record by one class.
fn by_class(record: &Record, class: &Class, context: &Context<'_>) -> Judgement {
    let policy = context.policy;
    let figures = gather(record, Some(class), policy, context);
    let info = Info::new(record, class, policy, &figures, context);
    let central = info.central();
    let model = work_out(&central);
    let mut findings = Findings::default();
    rules::ask_all(&central, &model, &mut findings);
    let drawn = draws::draw(&info, policy.limits.draws);
    let decision = decide_on(&info, &model, &findings, drawn.shares);
    write(record, context, &info, &model, &mut findings, &drawn, decision)
}

/// A verdict with its shares.
struct Decision {
    verdict: Verdict,
    how: Option<ResampleHow>,
    shares: BTreeMap<String, f64>,
    certainty: f64,
    undecided: Option<String>,
}

fn decide_on(info: &Info<'_>, model: &Model, findings: &Findings, mut shares: [f64; 5]) -> Decision {
    let limits = info.limits();
    let (central, how) = decide::verdict(findings);
    let how = how.map(|how| if how == ResampleHow::AddTests && !info.kept { ResampleHow::NewCore } else { how });
    let of = |shares: &[f64; 5], verdict: Verdict| shares.get(verdict as usize).copied().unwrap_or(0.0);
    let open = info.figures.by_slot.values().any(figures::Figure::is_open);
    let top = decide::VERDICTS
        .iter()
        .copied()
        .max_by(|a, b| of(&shares, *a).total_cmp(&of(&shares, *b)).then(b.cmp(a)))
        .unwrap_or(central);
    let (mut verdict, mut how) =
        if open && top != central && top != Verdict::Resample { (top, None) } else { (central, how) };
    let mut share = of(&shares, verdict);
    let mut undecided = None;
    let foulants_known = match info.family() {
        Family::Sba | Family::Wba => info.organics_known,
        Family::Sac | Family::Wac => info.metals_known,
    };
    let rests_on_foulants = !foulants_known && model.unexplained + model.lost > limits.capacity_loss_watch;
    if verdict != Verdict::Resample && share < limits.share_to_decide && (open || rests_on_foulants) {
        undecided = Some(if open {
            "The doubted figures leave more than one verdict possible: ask the laboratory which reading is right."
                .to_owned()
        } else {
            "What lies on the resin was not measured, and the verdict turns on it.".to_owned()
        });
        verdict = Verdict::Resample;
        how = Some(match (open, info.kept) {
            (true, _) => ResampleHow::AskLaboratory,
            (false, true) => ResampleHow::AddTests,
            (false, false) => ResampleHow::NewCore,
        });
        // What is not decided is the share of being wrong with the likeliest answer.
        for each in &mut shares {
            *each *= share;
        }
        if let Some(resample) = shares.get_mut(Verdict::Resample as usize) {
            *resample += 1.0 - share;
        }
        share = of(&shares, Verdict::Resample);
    }
    let trust = trust(info, model, verdict);
    let mut told = BTreeMap::new();
    for (verdict, each) in decide::VERDICTS.iter().zip(shares) {
        let each = each * trust + if *verdict == Verdict::Resample { 1.0 - trust } else { 0.0 };
        if each > 0.0 {
            told.insert(verdict.word().to_owned(), rounded(each));
        }
    }
    let certainty = if verdict == Verdict::Resample { share * trust + 1.0 - trust } else { share * trust };
    Decision { verdict, how, shares: told, certainty: rounded(certainty), undecided }
}

/// Trust that is left for what was not measured or not said.
fn trust(info: &Info<'_>, model: &Model, verdict: Verdict) -> f64 {
    let limits = info.limits();
    let figures: f64 = info.figures.by_slot.values().map(|figure| figure.trust).product();
    let mut trust = figures * limits.trust_in_a_jar;
    if info.sample.duty.is_none() {
        trust *= limits.trust_without_duty;
    }
    if verdict == Verdict::Clean && info.sample.drinking_water.is_none() {
        trust *= limits.trust_without_use;
    }
    let foulants_known = if info.family().is_cation() { info.metals_known } else { info.organics_known };
    if verdict == Verdict::Keep && !foulants_known {
        trust *=
            if model.loss < info.loss_watch() { limits.trust_without_foulants } else { limits.trust_without_cause };
    }
    if !matches!(model.known, model::Known::Measured(_)) {
        trust *= match (info.family(), verdict) {
            // Its total can condemn a strong-base resin, for no more sites can be strong than there are.
            (Family::Sba, Verdict::Replace) => 1.0,
            (Family::Sba, _) => limits.trust_without_strong,
            _ => limits.trust_without_capacity,
        };
    }
    if rules::looks_operating(info, model) {
        trust *= limits.trust_operating_size;
    }
    if info.figures.unclosed.iter().any(|doubt| doubt.weighs) {
        trust *= limits.trust_closure;
    }
    trust
}

fn rounded(share: f64) -> f64 {
    (share * 1000.0).round() / 1000.0
}

fn write(
    record: &Record,
    context: &Context<'_>,
    info: &Info<'_>,
    model: &Model,
    findings: &mut Findings,
    drawn: &Drawn,
    decision: Decision,
) -> Judgement {
    let Decision { verdict, how, shares, certainty, undecided } = decision;
    let judged_on = context.judged_on(record);
    let also: Vec<Verdict> = [(Call::Clean, Verdict::Clean), (Call::TopOff, Verdict::TopOff)]
        .into_iter()
        .filter(|(call, also)| {
            // A bed that is replaced is neither cleaned nor topped off.
            findings.called(*call).is_some()
                && *also != verdict
                && !matches!(verdict, Verdict::Replace | Verdict::Resample)
        })
        .map(|(_, also)| also)
        .collect();
    let causes = advise::told_causes(findings, info);
    let cleans = verdict == Verdict::Clean || also.contains(&Verdict::Clean);
    let remedy = if cleans { advise::remedies(&causes, info) } else { Vec::new() };
    let mut reasons = reasons(findings, verdict);
    if let Some(text) = undecided {
        reasons.insert(0, text);
    }
    reasons.extend(untold(info, model));
    reasons.extend(notes(info, verdict, model.loss));
    let next = advise::next_sample(verdict, how, model, info, judged_on.as_deref(), context.today);
    Judgement {
        source: record.source.clone(),
        sample: record.sample.clone(),
        verdict,
        cautions: advise::cautions(verdict, &also, findings, &remedy, info),
        also,
        certainty,
        certainty_words: certainty_words(info.policy, certainty).to_owned(),
        shares,
        score: score(findings),
        baseline: told_baseline(info),
        loss: loss(model, drawn),
        recovery: recovery(model, drawn, info),
        fix_first: advise::fix_first(&causes, info),
        causes,
        reasons,
        would_change: change::would_change(info, verdict),
        missing: worth::order(advise::missing(findings, info), record, info, context),
        resample_how: how,
        economic: advise::economic(verdict, model, info),
        overridden: info.policy.overridden(),
        compared: None,
        remedy,
        replace_by: matches!(verdict, Verdict::Keep | Verdict::TopOff)
            .then(|| advise::replace_by(model, info, judged_on.as_deref()))
            .flatten(),
        next_sample_on: next.0,
        next_sample_why: next.1,
        left_out: info.figures.left_out.clone(),
        doubts: info.figures.unclosed.clone(),
        rules: findings.fired.iter().map(|id| (*id).to_owned()).collect(),
        grades: std::mem::take(&mut findings.grades),
    }
}

/// How sure, in words.
pub fn certainty_words(policy: &Policy, certainty: f64) -> &'static str {
    if certainty >= policy.limits.quite_sure_from {
        "quite sure"
    } else if certainty >= policy.limits.likely_from {
        "likely"
    } else {
        "a close call"
    }
}

fn score(findings: &Findings) -> Option<f64> {
    findings
        .grades
        .iter()
        .filter(|grade| grade.weighs)
        .map(|grade| grade.score)
        .min_by(f64::total_cmp)
        .map(|score| (score * 10.0).round() / 10.0)
}

/// Reasons in the order that a reader wants them: what decides, what supports it, what should be known.
fn reasons(findings: &Findings, verdict: Verdict) -> Vec<String> {
    let calls = |call: Call| match call {
        Call::Ask | Call::Test | Call::TooLittle => Verdict::Resample,
        Call::Replace => Verdict::Replace,
        Call::Clean => Verdict::Clean,
        Call::TopOff => Verdict::TopOff,
    };
    let rank = |reason: &findings::Reason| match reason.call {
        Some(call) if calls(call) == verdict => (0, CALLS.iter().position(|known| *known == call)),
        _ if reason.weight == Weight::Decides => (1, None),
        _ if reason.weight == Weight::Supports => (2, None),
        _ => (3, None),
    };
    let mut all: Vec<&findings::Reason> = findings.reasons.iter().collect();
    all.sort_by_key(|reason| rank(reason));
    all.iter().map(|reason| reason.text.clone()).collect()
}

/// What of the loss cannot be told from the tests that were run, with the test that would tell.
fn untold(info: &Info<'_>, model: &Model) -> Vec<String> {
    if model.remaining.is_none() || model.loss < info.loss_watch() {
        return Vec::new();
    }
    let has = |slot: Slot| info.figures.get(slot).is_some();
    let mut told = Vec::new();
    if info.is_gel_cation() && !has(Slot::Moisture) {
        told.push("Without the moisture nobody can tell whether the beads have swollen, which no cleaning mends: have it measured.".to_owned());
    }
    if info.family().is_cation() && !info.metals_known {
        told.push(
            "Without the iron nobody can tell how much of the loss a cleaning could bring back: have it measured."
                .to_owned(),
        );
    }
    if !info.family().is_cation() && !info.organics_known {
        told.push("Without a test of organic matter nobody can tell fouled sites, of which some come back, from lost ones: have it run.".to_owned());
    }
    let weak = [Slot::WeakVolume, Slot::WeakDry, Slot::WeakWet, Slot::TotalVolume, Slot::TotalDry, Slot::TotalWet];
    if info.family() == Family::Sba && !weak.into_iter().any(has) {
        told.push("Without the total capacity nobody can tell strong sites that have turned weak, for good, from fouled ones: have it measured.".to_owned());
    }
    told
}

/// What a reader should know beside the reasons.
fn notes(info: &Info<'_>, verdict: Verdict, loss: f64) -> Vec<String> {
    let mut notes = Vec::new();
    for figure in info.figures.by_slot.values().filter(|figure| figure.is_open() && !figure.slot.is_field()) {
        let readings: Vec<String> =
            figure.readings.iter().map(|reading| words::quantity(reading.at, figure.slot.unit())).collect();
        let form = if figure.form_known { "" } else { " (its ionic form is not printed)" };
        notes.push(format!(
            "{}: doubted{form}; judged with {}.",
            words::sentence(&words::slot_name(figure.slot)),
            words::list(&readings)
        ));
    }
    notes.extend(info.figures.left_out.iter().filter(|left| !left.minor).map(LeftOut::in_words));
    // A figure that the reader left out is no figure of the record, but its doubt says that there was one.
    for doubt in &info.record.doubts {
        if let Some(property) = doubt.property.as_deref().filter(|property| PROPERTIES.contains(property)) {
            let text = doubt.text.trim_end_matches('.');
            notes.push(format!("{} in doubt: {text}.", words::sentence(&words::name(property))));
        }
    }
    if verdict == Verdict::Clean {
        notes.push(
            "The laboratory's own preparation has already taken off part of what a cleaning would; a bench cleaning trial on the kept sample tells what it would bring.".to_owned(),
        );
    }
    let silica_counts = matches!(info.sample.duty.as_deref(), Some("demineralizing" | "polishing"));
    if verdict == Verdict::Keep && info.family() == Family::Sba && silica_counts && loss >= info.loss_watch() {
        notes.push(
            "Where silica counts, its leakage can end this bed before its capacity does: look at the outlet too."
                .to_owned(),
        );
    }
    if info.sample.duty.is_none() {
        notes.push("What the bed is for is not said; that lowers the certainty a little.".to_owned());
    }
    notes
}

fn told_baseline(info: &Info<'_>) -> Baseline {
    let mut by: BTreeMap<From, Vec<String>> = BTreeMap::new();
    let mut name = None;
    for figure in info.figures.by_slot.values() {
        let Some(new) = &figure.new else { continue };
        by.entry(new.from).or_default().push(words::slot_name(figure.slot));
        if new.from != From::Class && name.is_none() {
            name = Some(new.source.clone());
        }
    }
    let words: Vec<String> = by
        .iter()
        .map(|(from, of)| {
            let whose = match from {
                From::Bed => "the bed's own first analysis".to_owned(),
                From::Sheet => "the product sheet".to_owned(),
                From::Report => "the new-resin figures printed in the report".to_owned(),
                From::Class => format!("the class {} ({})", info.class.id, info.class.name),
            };
            format!("{} against {whose}", words::list(of))
        })
        .collect();
    let from = by.keys().next().copied();
    Baseline {
        from: from.map(|from| from.word().to_owned()),
        name: match from {
            Some(From::Class) => Some(info.class.id.clone()),
            _ => name,
        },
        text: if words.is_empty() {
            "Nothing could be compared with new resin.".to_owned()
        } else {
            format!("{}.", words::sentence(&words.join("; ")))
        },
    }
}

fn loss(model: &Model, drawn: &Drawn) -> Option<Loss> {
    model.remaining?;
    type Part = (&'static str, fn(&Model) -> f64);
    const PARTS: [Part; 6] = [
        ("swelling", |m| m.swelling),
        ("blocked", |m| m.blocked),
        ("fouled", |m| m.fouled),
        ("turned-weak", |m| m.turned_weak),
        ("lost-sites", |m| m.lost),
        ("unexplained", |m| m.unexplained),
    ];
    let parts = PARTS
        .iter()
        .filter_map(|(name, number)| {
            let best = number(model);
            let (low, high) = drawn.spread(|m| Some(number(m))).unwrap_or((best, best));
            (best > 0.0005 || high > 0.005).then(|| LossPart {
                part: (*name).to_owned(),
                low: rounded(low.min(best)),
                best: rounded(best),
                high: rounded(high.max(best)),
            })
        })
        .collect();
    Some(Loss { total: rounded(model.loss), parts })
}

fn recovery(model: &Model, drawn: &Drawn, info: &Info<'_>) -> Option<Recovery> {
    let best = model.after?;
    let (low, high) = drawn.spread(|m| m.after).unwrap_or((best, best));
    let of = if info.family() == Family::Sba { "new strong-base capacity" } else { "new total capacity" };
    Some(Recovery {
        low: rounded(low.min(best)),
        best: rounded(best),
        high: rounded(high.max(best)),
        of: of.to_owned(),
    })
}
