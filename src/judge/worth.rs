//! Which tests that were not run would make the verdict surest: the order in which to ask for them.
//!
//! Takes the record and the tests that are missing, gives them back in order. Each test is imagined to have come out
//! sound, worn and spent, the record is judged with it, and what the best verdict's share gains on average is its
//! worth.

use super::case::Info;
use super::figures::gather;
use super::findings::Findings;
use super::model::work_out;
use super::policy::Measure;
use super::slot::Slot;
use super::{Context, Decision, Verdict, decide_on, draws, rules};
use crate::record::{Measurement, Record};
use crate::specs::Class;

/// Puts the tests that would tell most first; those whose worth cannot be reckoned keep their place behind them.
pub fn order(missing: Vec<String>, record: &Record, info: &Info<'_>, context: &Context<'_>) -> Vec<String> {
    if missing.len() < 2 {
        return missing;
    }
    let now = sureness(record, info.class, context);
    let mut worth: Vec<(f64, String)> =
        missing.into_iter().map(|property| (gain(&property, now, record, info, context), property)).collect();
    // Gains within a hundredth are alike: what the policy names first stays first.
    worth.sort_by(|a, b| (b.0 * 100.0).round().total_cmp(&(a.0 * 100.0).round()));
    worth.into_iter().map(|(_, property)| property).collect()
}

/// What the best verdict's share gains on average by a test; 0 where that cannot be reckoned.
fn gain(property: &str, now: f64, record: &Record, info: &Info<'_>, context: &Context<'_>) -> f64 {
    let slot = [Some("volume"), Some("dry_mass"), None]
        .into_iter()
        .find_map(|basis| Slot::of(property, basis).filter(|slot| outcome(*slot, 1, info).is_some()));
    let Some(slot) = slot else { return 0.0 };
    let limits = info.limits();
    let outcomes = [limits.outcome_sound, limits.outcome_worn, limits.outcome_spent];
    let mut with = record.clone();
    let mut sum = 0.0;
    for (which, chance) in outcomes.into_iter().enumerate() {
        let Some(value) = outcome(slot, which, info) else { return 0.0 };
        with.measurements.truncate(record.measurements.len());
        with.measurements.push(Measurement {
            property: slot.property().to_owned(),
            basis: slot.basis().map(str::to_owned),
            form: slot.depends_on_form().then(|| info.class.standard_form.clone()),
            value: Some(value),
            unit: Some(slot.unit().to_owned()),
            ..Measurement::default()
        });
        sum += chance * sureness(&with, info.class, context);
    }
    sum / outcomes.iter().sum::<f64>().max(1e-9) - now
}

/// What a test may have come out with: in the middle of sound, of worn or of spent.
fn outcome(slot: Slot, which: usize, info: &Info<'_>) -> Option<f64> {
    let band = info.band(slot)?;
    let [_, good, watch, poor, spent, zero] = band.cuts;
    let cut = match which {
        0 => good,
        1 => (watch + poor) / 2.0,
        _ => (spent + zero) / 2.0,
    };
    let new = || info.new.get(slot);
    let value = match band.measure {
        Measure::Percent => new()? * cut / 100.0,
        Measure::Rise => new()? + cut,
        Measure::Fall => new()? - cut,
        Measure::Above | Measure::Below => cut,
    };
    // Strong sites are part of the total, whichever of the two was measured.
    let at = |other| info.figures.get(other).map(super::figures::Figure::at);
    Some(match slot {
        Slot::StrongVolume => at(Slot::TotalVolume).map_or(value, |total| value.min(total)),
        Slot::TotalVolume => at(Slot::StrongVolume).map_or(value, |strong| value.max(strong)),
        _ => value,
    })
}

/// Share of the verdict that is likeliest among those that decide.
fn sureness(record: &Record, class: &Class, context: &Context<'_>) -> f64 {
    let figures = gather(record, Some(class), context.policy, context);
    let info = Info::new(record, class, context.policy, &figures, context);
    let central = info.central();
    let model = work_out(&central);
    let mut findings = Findings::quiet();
    rules::ask_all(&central, &model, &mut findings);
    let drawn = draws::draw(&info, info.limits().draws * info.limits().draws_for_worth);
    let Decision { shares, .. } = decide_on(&info, &model, &findings, drawn.shares);
    shares
        .iter()
        .filter(|(verdict, _)| *verdict != Verdict::Resample.word())
        .map(|(_, share)| *share)
        .fold(0.0, f64::max)
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a failed test is what a panic is for")]
mod tests {
    use crate::judge::{Context, example, judge};

    fn missing(text: &str) -> Vec<String> {
        judge(&example::record(text).unwrap(), &Context::builtin().unwrap()).missing
    }

    /// Seven tenths of the capacity at normal moisture: whether iron holds the rest decides between clean and replace.
    #[test]
    fn iron_is_asked_for_first_where_the_verdict_turns_on_it() {
        let asked =
            missing("class sac-gel-8\nform Na\nduty softening\ntotal_capacity volume 1.44\nmoisture_retention 46");
        assert_eq!(asked[0], "iron", "{asked:?}");
    }

    /// Iron and moisture alone: without a capacity nothing is decided.
    #[test]
    fn capacity_is_asked_for_first_where_nothing_shows_it() {
        let asked = missing("class sac-gel-8\nduty softening\niron dry_mass 400\nwhole_beads 95");
        assert_eq!(asked[0], "total_capacity", "{asked:?}");
    }

    /// The strong sites decide on an anion resin of which only the total was measured.
    #[test]
    fn strong_sites_are_asked_for_first_beside_a_total() {
        let asked = missing("class sba1-gel\nform Cl\nduty demineralizing\ntotal_capacity volume 1.1\nwhole_beads 96");
        assert_eq!(asked[0], "salt_splitting_capacity", "{asked:?}");
    }
}
