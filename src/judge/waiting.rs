//! What comes of a bed where nothing is done.
//!
//! Takes a judgement and the policy's words, gives lines. Foretells no date: that takes the line of a known bed.

use super::judgement::Judgement;
use super::policy::Policy;

/// One line of what waiting does, with where it comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftAlone {
    /// In words.
    pub text: String,
    /// The document, or the words that say there is none.
    pub source: String,
}

/// What comes of the bed where nothing is done: by its verdict, then by each cause that was told.
///
/// A bed that is kept has nothing to answer for its causes yet, and one that needs a better report none that is sure.
///
/// ```
/// use beadwise::judge::{Context, example, judge, left_alone};
/// let context = Context::builtin()?;
/// let record = example::record("class sac-gel-8\nform Na\ntotal_capacity volume 1.36\nmoisture_retention 60")?;
/// let lines = left_alone(&judge(&record, &context), context.policy);
/// assert!(lines[0].text.contains("Runs stay short"));
/// assert!(lines[1].text.contains("crosslinks"), "the oxidant that swelled it is still there");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn left_alone(judgement: &Judgement, policy: &Policy) -> Vec<LeftAlone> {
    use super::decide::Verdict;
    let causes = match judgement.verdict {
        Verdict::Keep | Verdict::Resample => &[][..],
        _ => judgement.causes.as_slice(),
    };
    let mut lines: Vec<LeftAlone> = Vec::new();
    let ids = std::iter::once(judgement.verdict.word()).chain(causes.iter().map(|cause| cause.cause.as_str()));
    for waiting in ids.filter_map(|id| policy.waiting(id)) {
        if !lines.iter().any(|line| line.text == waiting.text) {
            lines.push(LeftAlone { text: waiting.text.clone(), source: waiting.source.clone() });
        }
    }
    lines
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use crate::judge::Policy;
    use crate::judge::decide::VERDICTS;

    #[test]
    fn every_verdict_says_what_waiting_does() {
        let policy = Policy::builtin().unwrap();
        assert!(VERDICTS.iter().all(|verdict| policy.waiting(verdict.word()).is_some()));
    }
}
