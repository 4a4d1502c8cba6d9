//! Drafts to records: units, bases, forms, dates and conflicts settled, with each choice and each doubt written down.
//!
//! Takes an [`Extraction`], gives [`Record`]s and the account of its file. Looks at no layout.

mod conflict;
mod facts;
mod figure;
mod shift;

pub use figure::{Path, path};

use crate::extract::{Aside, Draft, Extraction, Trust};
use crate::lexicon::{Lexicon, fold};
use crate::place::Source;
use crate::record::{FileReading, Record};

/// Settles all that was found in one file.
pub fn reconcile(extraction: Extraction, source: &Source, lexicon: &Lexicon) -> (FileReading, Vec<Record>) {
    let Extraction { drafts, unread, set_aside, doubts, account: _ } = extraction;
    let drafts = merge(drafts);
    let dates = facts::DateOrder::of(&drafts);
    let mut records: Vec<Record> = drafts.into_iter().map(|draft| record(draft, source, lexicon, &dates)).collect();
    shift::doubt_shifted_rows(&mut records);
    (FileReading { source: source.clone(), unread, set_aside, doubts }, records)
}

fn record(draft: Draft, source: &Source, lexicon: &Lexicon, dates: &facts::DateOrder) -> Record {
    let mut record = Record { source: source.clone(), ..Record::default() };
    record.doubts.clone_from(&draft.doubts);
    facts::settle(&draft.facts, dates, &mut record);
    let mut candidates = Vec::new();
    for figure in draft.figures {
        figure::settle(figure, lexicon, &mut record, &mut candidates);
    }
    let says_which = conflict::settle(candidates, &mut record);
    figure::look_again(&mut record, &says_which);
    for aside in draft.asides {
        match aside {
            Aside::Sieve(sieve) => record.sieve.push(sieve),
            Aside::Remark(remark) => record.remarks.push(remark),
        }
    }
    record.unread.extend(draft.unread);
    record
}

/// The same sample in a mail's body and its attachment, or on two sheets, is one.
fn merge(drafts: Vec<Draft>) -> Vec<Draft> {
    let parts = |part: usize, drafts: &[Draft]| drafts.iter().filter(|d| d.part == part).count();
    let lone: Vec<bool> = drafts.iter().map(|d| parts(d.part, &drafts) == 1).collect();
    let mut merged: Vec<(Draft, bool)> = Vec::new();
    for (draft, alone) in drafts.into_iter().zip(lone) {
        let twin = merged.iter_mut().find(|(known, known_alone)| same_sample(known, &draft, *known_alone && alone));
        match twin {
            Some((known, _)) => {
                for fact in draft.facts {
                    known.learn(fact);
                }
                known.figures.extend(draft.figures);
                known.asides.extend(draft.asides);
                known.unread.extend(draft.unread);
                for doubt in draft.doubts {
                    if !known.doubts.contains(&doubt) {
                        known.doubts.push(doubt);
                    }
                }
            }
            None => merged.push((draft, alone)),
        }
    }
    merged.into_iter().map(|(draft, _)| draft).collect()
}

fn same_sample(a: &Draft, b: &Draft, both_alone: bool) -> bool {
    if a.report != b.report || a.previous != b.previous {
        return false;
    }
    let text = |draft: &Draft, key: &str| draft.fact(key).filter(|f| f.trust == Trust::Stated).map(|f| fold(&f.text));
    // The names of two sheets tell two beds apart.
    let sheet = |draft: &Draft| draft.fact("vessel").filter(|f| f.trust == Trust::Guessed).map(|f| fold(&f.text));
    if let (Some(x), Some(y)) = (sheet(a), sheet(b))
        && x != y
    {
        return false;
    }
    let mut common = 0;
    for key in ["sample_id", "vessel", "position", "sampled_on", "condition"] {
        match (text(a, key), text(b, key)) {
            (Some(x), Some(y)) if x != y => {
                // A mail says "softener 2" where the report it brings says "Softener 2, new charge".
                let longer = x.starts_with(&format!("{y} ")) || y.starts_with(&format!("{x} "));
                if !(key == "vessel" && both_alone && a.part != b.part && longer) {
                    return false;
                }
            }
            (Some(_), Some(_)) if key == "sample_id" || key == "vessel" || key == "position" => common += 1,
            _ => {}
        }
    }
    let name = text(a, "sample_id").is_some() && text(a, "sample_id") == text(b, "sample_id");
    name || (a.part != b.part && (both_alone || common >= 1))
}
