//! Samples that belong together: two cores of one bed, and one bed before and after a cleaning.
//!
//! Takes records, gives judgements that know of each other. Which records belong together is told by bed and position;
//! nothing is guessed where the report does not say.

use super::compare::{Difference, compare, top_above_core};
use super::findings::Cause;
use super::judgement::{Compared, Judgement};
use super::{Context, judge, words};
use crate::record::{Record, Sample};

/// Judges the records of one or several reports; the top and the whole depth of one bed are told of each other.
///
/// The bed is judged by its whole depth: the sample from its top keeps its own figures, causes and score, and takes its
/// verdict from the other.
///
/// ```
/// use beadwise::judge::{Context, Verdict, example, judge_all};
/// let core = example::record(
///     "class sac-gel-8\nform Na\nvessel Softener 2\nposition core\ntotal_capacity volume 1.80\nmoisture_retention 50\niron dry_mass 400",
/// )?;
/// let top = example::record(
///     "class sac-gel-8\nform Na\nvessel Softener 2\nposition top\ntotal_capacity volume 1.30\nmoisture_retention 61\niron dry_mass 2500",
/// )?;
/// let all = judge_all(&[core, top], &Context::builtin()?);
/// assert!(all.iter().all(|judgement| judgement.verdict == Verdict::Keep));
/// assert!(all[1].reasons[0].contains("judged by its core"));
/// assert!(all[0].causes.iter().any(|cause| cause.cause == "oxidation"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn judge_all(records: &[Record], context: &Context<'_>) -> Vec<Judgement> {
    let mut judgements: Vec<Judgement> = records.iter().map(|record| judge(record, context)).collect();
    tell_each_other(records, &mut judgements, context);
    judgements
}

/// Tells the judgements of records, each in its record's place, of the cores that are of one bed.
pub fn tell_each_other(records: &[Record], judgements: &mut [Judgement], context: &Context<'_>) {
    for (core, top) in pairs(records) {
        let (Some(whole), Some(upper)) = (records.get(core), records.get(top)) else { continue };
        if let Some(judgement) = judgements.get_mut(core) {
            tell_of_the_top(judgement, upper, whole, context);
        }
        let (Some(of_core), Some(of_top)) = (judgements.get(core).cloned(), judgements.get_mut(top)) else { continue };
        judge_by_the_core(of_top, of_core);
    }
}

/// Places of the core and the top of each bed that has one of both.
fn pairs(records: &[Record]) -> Vec<(usize, usize)> {
    let tops = records.iter().enumerate().filter(|(_, record)| position(&record.sample) == Some("top"));
    tops.filter_map(|(top, of_top)| {
        let mut cores = records.iter().enumerate().filter(|(_, record)| {
            record.source.file == of_top.source.file
                && matches!(position(&record.sample), None | Some("core" | "composite"))
                && same_bed(&record.sample, &of_top.sample, records.len())
        });
        // Two whole-depth samples of one bed: nothing says which of them goes with the top.
        cores.next().filter(|_| cores.next().is_none()).map(|(core, _)| (core, top))
    })
    .collect()
}

fn position(sample: &Sample) -> Option<&str> {
    sample.position.as_deref().map(str::trim).filter(|position| !position.is_empty())
}

/// Whether two samples are of one bed at one time; where no vessel is named, only two alone can be told to be.
fn same_bed(a: &Sample, b: &Sample, of: usize) -> bool {
    let alike = |a: &Option<String>, b: &Option<String>| a == b;
    alike(&a.vessel, &b.vessel)
        && alike(&a.site, &b.site)
        && alike(&a.customer, &b.customer)
        && alike(&a.sampled_on, &b.sampled_on)
        && alike(&a.condition, &b.condition)
        && (a.vessel.is_some() || of == 2)
}

fn tell_of_the_top(judgement: &mut Judgement, top: &Record, core: &Record, context: &Context<'_>) {
    let above = top_above_core(top, core, context);
    if above.is_empty() {
        judgement
            .reasons
            .push("The top of the bed is no worse than its whole depth, beyond the laboratory's noise.".to_owned());
    }
    for (id, text) in above {
        if let Some(entry) = context.policy.cause(id) {
            match judgement.causes.iter_mut().find(|cause| cause.cause == id) {
                Some(cause) => cause.evidence.push(text.clone()),
                None => judgement.causes.push(Cause {
                    cause: id.to_owned(),
                    strength: context.policy.limits.top_tells,
                    evidence: vec![text.clone()],
                }),
            }
            if !judgement.fix_first.contains(&entry.fix) {
                judgement.fix_first.push(entry.fix.clone());
            }
        }
        judgement.reasons.push(text);
    }
    judgement.causes.sort_by(|a, b| b.strength.total_cmp(&a.strength));
}

fn judge_by_the_core(top: &mut Judgement, core: Judgement) {
    let (whole, alone) = (core.verdict.word(), top.verdict.word());
    let alone = if whole == alone {
        "its top alone would say the same".to_owned()
    } else {
        format!("its top alone would say {alone}, for water, oxidants and foulants meet it first")
    };
    top.reasons.insert(0, format!("The bed is judged by its core, which says {whole}; {alone}."));
    top.verdict = core.verdict;
    top.also = core.also;
    top.certainty = core.certainty;
    top.certainty_words = core.certainty_words;
    top.shares = core.shares;
    top.resample_how = core.resample_how;
    top.remedy = core.remedy;
    top.economic = core.economic;
    top.cautions = core.cautions;
    top.would_change = Vec::new();
    top.replace_by = core.replace_by;
    top.next_sample_on = core.next_sample_on;
    top.next_sample_why = core.next_sample_why;
}

/// The record of the same bed among those of an earlier report: by vessel and position, else by sample, else the only one.
pub fn partner<'a>(after: &Record, before: &'a [Record]) -> Option<&'a Record> {
    let sample = &after.sample;
    let alike = |a: &Option<String>, b: &Option<String>| a.is_some() && a == b;
    let mut same = before.iter().filter(|record| {
        let other = &record.sample;
        match (&sample.vessel, &other.vessel) {
            (Some(_), Some(_)) => alike(&sample.vessel, &other.vessel) && position(sample) == position(other),
            _ => alike(&sample.sample_id, &other.sample_id),
        }
    });
    if let Some(found) = same.next() {
        return same.next().is_none().then_some(found);
    }
    // One sample in each report, and nothing that speaks against it.
    match before {
        [only] if sample.vessel.is_none() || only.sample.vessel.is_none() => Some(only),
        _ => None,
    }
}

/// Judges a bed after a cleaning, with what the cleaning brought back and whether that is more than noise.
///
/// ```
/// use beadwise::judge::{Context, example, judge_after};
/// let before = example::record("class sac-gel-8\nform Na\ntotal_capacity volume 1.60\nmoisture_retention 47\niron dry_mass 9000")?;
/// let after = example::record("class sac-gel-8\nform Na\ntotal_capacity volume 1.84\nmoisture_retention 47\niron dry_mass 700")?;
/// let judgement = judge_after(&before, &after, &Context::builtin()?);
/// let compared = judgement.compared.ok_or("nothing compared")?;
/// // 0.24 of the 2.0 eq/L that new resin has.
/// assert!(compared.text[0].contains("12 % of new capacity came back"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn judge_after(before: &Record, after: &Record, context: &Context<'_>) -> Judgement {
    let mut cleaned = after.clone();
    cleaned.sample.condition.get_or_insert_with(|| "after-cleaning".to_owned());
    let expected = judge(before, context);
    let mut judgement = judge(&cleaned, context);
    let differences = compare(before, &cleaned, context);
    let mut text = came_back(&expected, &judgement, &differences);
    text.extend(differences.iter().map(|difference| difference.text.clone()));
    if text.is_empty() {
        text.push("No figure stands in both reports in the same form, so nothing can be compared.".to_owned());
    }
    judgement.compared = Some(Compared {
        source: before.source.clone(),
        sampled_on: before.sample.sampled_on.clone(),
        expected: expected.recovery,
        differences,
        text,
    });
    judgement
}

/// What came back of the capacity, against what was to be expected.
fn came_back(before: &Judgement, after: &Judgement, differences: &[Difference]) -> Vec<String> {
    let (Some(was), Some(is)) = (&before.loss, &after.loss) else { return Vec::new() };
    let back = was.total - is.total;
    let capacity = differences.iter().filter(|d| d.property.ends_with("capacity"));
    let real = capacity.clone().any(|d| d.real);
    let mut text = Vec::new();
    if capacity.count() == 0 {
        return text;
    }
    text.push(match (real, back > 0.0) {
        (true, true) => format!("About {} of new capacity came back.", words::about(back)),
        (true, false) => {
            format!("About {} of new capacity went since, though the bed was cleaned.", words::about(-back))
        }
        (false, _) => "No more capacity came back than the laboratory's noise can make.".to_owned(),
    });
    if let Some(recovery) = before.recovery.as_ref().filter(|recovery| recovery.high - (1.0 - was.total) > 0.005) {
        let left = 1.0 - is.total;
        let against = if left < recovery.low {
            "less than"
        } else if left > recovery.high {
            "more than"
        } else {
            "within what"
        };
        text.push(format!(
            "{} of {} is there now, {against} was to be expected ({} to {}).",
            words::about(left),
            recovery.of,
            words::about(recovery.low),
            words::about(recovery.high)
        ));
    }
    text
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a failed test is what a panic is for")]
mod tests {
    use super::*;
    use crate::judge::{Verdict, example};

    fn record(text: &str) -> Record {
        example::record(&format!("class sac-gel-8\nform Na\nduty softening\n{text}")).unwrap()
    }

    fn context() -> Context<'static> {
        Context::builtin().unwrap()
    }

    #[test]
    fn cores_of_two_beds_are_not_set_against_each_other() {
        let core = record("vessel Softener 1\nposition core\ntotal_capacity volume 1.9\nmoisture_retention 46");
        let top = record(
            "vessel Softener 2\nposition top\ntotal_capacity volume 1.2\nmoisture_retention 62\niron dry_mass 100",
        );
        let all = judge_all(&[core, top], &context());
        assert_eq!(all[1].verdict, Verdict::Replace);
        assert!(all[0].reasons.iter().all(|reason| !reason.contains("top of the bed")));
    }

    #[test]
    fn a_top_like_its_core_is_said_to_be() {
        let core =
            record("vessel S\nposition core\ntotal_capacity volume 1.9\nmoisture_retention 47\niron dry_mass 300");
        let top =
            record("vessel S\nposition top\ntotal_capacity volume 1.89\nmoisture_retention 47.3\niron dry_mass 320");
        let all = judge_all(&[top, core], &context());
        assert!(all[1].reasons.iter().any(|reason| reason.contains("no worse")), "{:?}", all[1].reasons);
    }

    #[test]
    fn noise_is_no_recovery() {
        let before = record("total_capacity volume 1.60\nmoisture_retention 47\niron dry_mass 9000");
        let after = record("total_capacity volume 1.63\nmoisture_retention 47\niron dry_mass 8500");
        let compared = judge_after(&before, &after, &context()).compared.unwrap();
        assert!(compared.text[0].contains("noise"), "{:?}", compared.text);
        assert!(compared.differences.iter().all(|difference| !difference.real));
    }

    /// Two vessels before, one after: the one of the same name is the partner.
    #[test]
    fn partners_are_found_by_vessel() {
        let before = [record("vessel A\ntotal_capacity volume 1.5"), record("vessel B\ntotal_capacity volume 1.7")];
        let after = record("vessel B\ntotal_capacity volume 1.8");
        assert_eq!(partner(&after, &before), before.get(1));
        assert_eq!(partner(&record("vessel C\ntotal_capacity volume 1.8"), &before), None);
    }
}
