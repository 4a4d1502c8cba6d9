//! Several figures for one property of one sample: the same twice, replicates, or a conflict.

use super::figure::Candidate;
use crate::record::{Doubt, Measurement, Record, Unread};

/// Settles the candidates of a record into its measurements. Gives, for each, whether its label says which capacity it is.
pub fn settle(candidates: Vec<Candidate>, record: &mut Record) -> Vec<bool> {
    let mut kept: Vec<Candidate> = Vec::new();
    let both_words = candidates.iter().any(|c| c.perfect)
        && candidates.iter().any(|c| c.measurement.property == "whole_beads" && !c.perfect);
    for candidate in candidates {
        if both_words && candidate.measurement.property == "whole_beads" && !candidate.perfect {
            // Where "perfect" stands beside "whole", "whole" counts cracked beads in.
            record.unread.push(Unread {
                text: format!("{} {}", candidate.measurement.label, candidate.measurement.as_written),
                place: candidate.measurement.place.clone(),
            });
            continue;
        }
        let twin = kept.iter().position(|known| {
            known.is_mean == candidate.is_mean
                && known.is_replicate == candidate.is_replicate
                && same_kind(&known.measurement, &candidate.measurement)
                && agrees(known, &candidate)
        });
        match twin.and_then(|at| kept.get_mut(at)) {
            Some(known) => join(known, candidate),
            None => kept.push(candidate),
        }
    }
    let kept = replicates(kept);
    let mut measurements: Vec<Measurement> = Vec::new();
    let mut which: Vec<bool> = Vec::new();
    for candidate in kept {
        which.push(candidate.says_which);
        measurements.push(candidate.measurement);
    }
    let mut conflicts: Vec<(usize, Doubt)> = Vec::new();
    for (at, m) in measurements.iter().enumerate() {
        let others: Vec<&Measurement> = measurements
            .iter()
            .enumerate()
            .filter(|(i, o)| *i != at && same_kind(o, m) && !o.doubts.iter().any(|d| d.code == "replicates"))
            .map(|(_, o)| o)
            .collect();
        if others.is_empty() || m.doubts.iter().any(|d| d.code == "replicates") {
            continue;
        }
        let mut alternatives: Vec<f64> = m.value.into_iter().collect();
        alternatives.extend(others.iter().filter_map(|o| o.value));
        let written: Vec<String> = others.iter().map(|o| format!("\"{}\"", o.as_written)).collect();
        conflicts.push((
            at,
            Doubt::new(
                "conflict",
                Some(&m.property),
                format!("\"{}\" here, {} elsewhere in the report.", m.as_written, written.join(", ")),
                &m.place,
            )
            .with_alternatives(alternatives),
        ));
    }
    for (at, doubt) in conflicts {
        if let Some(m) = measurements.get_mut(at) {
            m.doubts.push(doubt);
        }
    }
    record.measurements = measurements;
    which
}

fn same_kind(a: &Measurement, b: &Measurement) -> bool {
    a.property == b.property && a.basis == b.basis && (a.form == b.form || a.form.is_none() || b.form.is_none())
}

/// Whether two figures are the same within their last printed digits.
fn agrees(a: &Candidate, b: &Candidate) -> bool {
    let (x, y) = (&a.measurement, &b.measurement);
    if x.qualifier != y.qualifier && !(x.value == y.value && x.high == y.high) {
        return false;
    }
    match (x.value, y.value) {
        (Some(p), Some(q)) => {
            let digits = 0.5001 * (a.last_digit + b.last_digit);
            let different_units = x.as_written.trim() != y.as_written.trim();
            (p - q).abs() <= if different_units { digits.max(0.0012 * p.abs()) } else { digits.max(1e-9) }
        }
        (None, None) => x.as_written == y.as_written,
        _ => false,
    }
}

fn join(known: &mut Candidate, other: Candidate) {
    // The figure with fewer doubts, or more digits, stays.
    let better =
        (other.measurement.doubts.len(), other.last_digit) < (known.measurement.doubts.len(), known.last_digit);
    let (mut stays, gone) = if better { (other, known.clone()) } else { (known.clone(), other) };
    if stays.measurement.reference.is_none() {
        stays.measurement.reference = gone.measurement.reference;
    }
    if stays.measurement.method.is_none() {
        stays.measurement.method = gone.measurement.method;
    }
    if stays.measurement.uncertainty.is_none() {
        stays.measurement.uncertainty = gone.measurement.uncertainty;
    }
    stays.says_which |= gone.says_which;
    if stays.measurement.form.is_none() {
        stays.measurement.form = gone.measurement.form;
    }
    *known = stays;
}

/// Replicates beside their mean are the mean; without one each is given, doubted.
fn replicates(candidates: Vec<Candidate>) -> Vec<Candidate> {
    let mean_of =
        |c: &Candidate, all: &[Candidate]| all.iter().any(|o| o.is_mean && same_kind(&o.measurement, &c.measurement));
    let snapshot = candidates.clone();
    candidates
        .into_iter()
        .filter(|c| !(c.is_replicate && mean_of(c, &snapshot)))
        .map(|mut c| {
            let others =
                snapshot.iter().filter(|o| o.is_replicate && same_kind(&o.measurement, &c.measurement)).count();
            if c.is_replicate && others > 1 {
                let doubt = Doubt::new(
                    "replicates",
                    Some(&c.measurement.property),
                    "One of several determinations; no mean is printed.",
                    &c.measurement.place,
                );
                c.measurement.doubts.push(doubt);
            }
            c
        })
        .collect()
}
