//! Samples open and close as the facts about them change.
//!
//! A fact of the whole report (laboratory, customer, report number) is shared by all its samples; a fact about one
//! sample (its name, vessel, place in the bed) starts a new one when it changes. What a scope says holds below it.

use super::ledger::WordId;
use super::{Aside, Figure};
use crate::lexicon::{Level, Lexicon, Target, fold};
use crate::place::Where;
use crate::record::{Doubt, Unread};
use crate::value::date::{Order, parse_date};

/// A fact about a sample, as written.
#[derive(Clone, Debug, Default)]
pub struct Fact {
    /// Id of the fact, as in the record's `sample`.
    pub key: String,
    /// As written.
    pub text: String,
    /// Where it stands.
    pub place: Where,
    /// Words that it is made of.
    pub words: Vec<WordId>,
    /// Order of day and month that its part of the document proves.
    pub order: Option<Order>,
    /// How it was said.
    pub trust: Trust,
}

/// How a fact was said: the surer statement outweighs the other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Trust {
    /// By a sheet's name, or a date without a word.
    Guessed,
    /// In passing, in a letterhead or a sentence.
    Mentioned,
    /// By a label or a head.
    #[default]
    Stated,
}

/// A sample in the making.
#[derive(Clone, Debug, Default)]
pub struct Draft {
    /// What is known of it.
    pub facts: Vec<Fact>,
    /// Its figures.
    pub figures: Vec<Figure>,
    /// Sieves and remarks.
    pub asides: Vec<Aside>,
    /// Numbers that were not understood and are its own.
    pub unread: Vec<Unread>,
    /// Doubts about it.
    pub doubts: Vec<Doubt>,
    /// Report that it belongs to, counted from 0.
    pub report: usize,
    /// Part of the file that it was found in.
    pub part: usize,
    /// Page or sheet that it was found on, counted over the file.
    pub page: usize,
    /// An earlier result printed beside this one.
    pub previous: bool,
    /// First and last line with a figure of it.
    pub lines: Option<(u32, u32)>,
}

impl Draft {
    /// A fact by its key.
    pub fn fact(&self, key: &str) -> Option<&Fact> {
        self.facts.iter().find(|f| f.key == key)
    }

    /// Adds a fact unless it is known as surely.
    pub fn learn(&mut self, fact: Fact) {
        match self.facts.iter_mut().find(|f| f.key == fact.key) {
            Some(known) if known.trust < fact.trust => *known = fact,
            Some(_) => {}
            None => self.facts.push(fact),
        }
    }

    fn has_identity(&self) -> bool {
        self.facts.iter().any(|f| IDENTITY.contains(&f.key.as_str()) && f.trust == Trust::Stated)
    }
}

/// Facts that tell one sample from another.
pub const IDENTITY: [&str; 4] = ["sample_id", "vessel", "position", "condition"];

/// Facts that an earlier result printed beside this one does not share with it.
const OWN: [&str; 5] = ["sampled_on", "sample_id", "report_number", "received_on", "reported_on"];

/// The samples of a document while it is read.
#[derive(Clone, Debug, Default)]
pub struct Scopes {
    /// All samples so far.
    pub drafts: Vec<Draft>,
    /// Facts of each report.
    pub shared: Vec<Vec<Fact>>,
    current: Option<usize>,
    part: usize,
    page: usize,
    sheet: Option<Fact>,
}

impl Scopes {
    /// Starts a new part of the file: its samples are told anew, its report goes on.
    pub fn start_part(&mut self, part: usize) {
        self.part = part;
        self.close();
    }

    /// Starts a sheet whose name may be that of a vessel.
    pub fn start_sheet(&mut self, name: Option<Fact>) {
        self.close();
        self.page += 1;
        self.sheet = name;
    }

    fn new_draft(&self, report: usize, previous: bool) -> Draft {
        let facts = self.sheet.iter().cloned().collect();
        Draft { report, part: self.part, page: self.page, previous, facts, ..Draft::default() }
    }

    /// Closes the open sample; facts of one that has no figures hold for what follows.
    pub fn close(&mut self) {
        if let Some(at) = self.current.take() {
            self.give_to_report(at);
        }
    }

    /// A sample without figures says something about those that come after it.
    fn give_to_report(&mut self, at: usize) {
        let Some(draft) = self.drafts.get_mut(at) else { return };
        if !draft.figures.is_empty() || !draft.asides.is_empty() {
            return;
        }
        // The name of a sheet is its own sample's; what a letterhead says in passing is the report's.
        let facts: Vec<Fact> = draft.facts.iter().filter(|f| f.trust > Trust::Guessed).cloned().collect();
        let report = draft.report;
        if at + 1 == self.drafts.len() {
            self.drafts.pop();
        }
        if let Some(shared) = self.shared.get_mut(report) {
            for fact in facts {
                match shared.iter_mut().find(|f| f.key == fact.key) {
                    Some(known) if known.trust < fact.trust => *known = fact,
                    Some(_) => {}
                    None => shared.push(fact),
                }
            }
        }
    }

    /// Whether the open sample or its report says otherwise.
    pub fn differs(&self, fact: &Fact) -> bool {
        let own = self.current.and_then(|at| self.drafts.get(at)).and_then(|d| d.fact(&fact.key));
        let shared = self.shared.last().and_then(|s| s.iter().find(|f| f.key == fact.key));
        own.or(shared).is_some_and(|known| fold(&known.text) != fold(&fact.text))
    }

    /// Whether the open sample or its report knows a fact already.
    pub fn knows(&self, key: &str) -> bool {
        self.current.and_then(|at| self.drafts.get(at)).is_some_and(|d| d.fact(key).is_some())
            || self.shared.last().is_some_and(|s| s.iter().any(|f| f.key == key))
    }

    fn report(&mut self) -> usize {
        if self.shared.is_empty() {
            self.shared.push(Vec::new());
        }
        self.shared.len() - 1
    }

    fn report_has_figures(&self) -> bool {
        let Some(report) = self.shared.len().checked_sub(1) else { return false };
        self.drafts.iter().any(|d| d.report == report && d.part == self.part && !d.figures.is_empty())
    }

    /// The open sample; opens one if none is.
    pub fn open(&mut self) -> &mut Draft {
        let report = self.report();
        let at = match self.current.filter(|&at| at < self.drafts.len()) {
            Some(at) => at,
            None => {
                self.drafts.push(self.new_draft(report, false));
                self.drafts.len() - 1
            }
        };
        self.current = Some(at);
        let last = self.drafts.len() - 1;
        &mut self.drafts[at.min(last)]
    }

    /// Position of the open sample, opened if need be.
    pub fn open_index(&mut self) -> usize {
        self.open();
        self.current.unwrap_or(0)
    }

    /// Whether a sample with figures is open.
    pub fn has_open_figures(&self) -> bool {
        self.current.and_then(|at| self.drafts.get(at)).is_some_and(|d| !d.figures.is_empty())
    }

    /// Takes a fact in; `lexicon` says how far it reaches.
    pub fn learn(&mut self, fact: Fact, lexicon: &Lexicon) {
        let report = self.report();
        let level = lexicon.key_level(&fact.key);
        let folded = fold(&fact.text);
        if level == Level::Sample {
            let starts_new =
                self.current.and_then(|at| self.drafts.get(at)).is_some_and(|draft| match draft.fact(&fact.key) {
                    Some(known) => {
                        known.trust == Trust::Stated
                            && fold(&known.text) != folded
                            && IDENTITY.contains(&fact.key.as_str())
                    }
                    None => !draft.figures.is_empty() && draft.has_identity() && IDENTITY.contains(&fact.key.as_str()),
                });
            if starts_new {
                // The same sample after a cleaning keeps its name, its vessel and its dates.
                let kept: Vec<Fact> = match fact.key.as_str() {
                    "condition" => self.current.and_then(|at| self.drafts.get(at)).map(|d| d.facts.clone()),
                    _ => None,
                }
                .unwrap_or_default();
                self.current = None;
                let draft = self.open();
                draft.learn(fact);
                for known in kept {
                    draft.learn(known);
                }
                return;
            }
            self.open().learn(fact);
            return;
        }
        if let Some(known) = self.shared.get_mut(report).and_then(|s| s.iter_mut().find(|f| f.key == fact.key))
            && known.trust < fact.trust
        {
            *known = fact;
            return;
        }
        let known = self.shared.get(report).and_then(|s| s.iter().find(|f| f.key == fact.key)).map(|f| fold(&f.text));
        if fact.trust < Trust::Stated && known.is_some() && fact.key != "report_number" {
            return;
        }
        let differs = known.as_ref().is_some_and(|k| *k != folded);
        if differs && fact.key == "report_number" && self.report_has_figures() {
            self.current = None;
            // Another report of the same file is the same laboratory's, until it says otherwise.
            let laboratory = self.shared.last().and_then(|s| s.iter().find(|f| f.key == "laboratory")).cloned();
            let laboratory = laboratory.map(|f| Fact { trust: Trust::Guessed, ..f });
            self.shared.push(std::iter::once(fact).chain(laboratory).collect());
            return;
        }
        // A site, resin or date printed after a sample's name is that sample's, once another sample has been seen.
        let own = level == Level::Site
            && self.current.and_then(|at| self.drafts.get(at)).is_some_and(Draft::has_identity)
            && (differs || self.report_has_figures() || known.is_none());
        if own && !self.has_open_figures() {
            self.open().learn(fact);
        } else if !differs && let Some(shared) = self.shared.get_mut(report) {
            if known.is_none() {
                shared.push(fact);
            }
        } else if differs {
            self.open().learn(fact);
        }
    }

    /// The sample that a column or row of a table belongs to, by the facts that its head gives.
    /// `alone` says that the table holds no other sample.
    pub fn sample_for(&mut self, facts: &[Fact], alone: bool, previous: bool) -> usize {
        let report = self.report();
        if facts.is_empty() && !previous {
            return self.open_index();
        }
        let matches = |draft: &Draft| {
            let mut common = 0;
            for fact in facts {
                if let Some(known) = draft.fact(&fact.key) {
                    if known.trust == Trust::Stated && fold(&known.text) != fold(&fact.text) {
                        return false;
                    }
                    common += usize::from(known.trust == Trust::Stated);
                }
            }
            common > 0 && draft.previous == previous
        };
        let part = self.part;
        // Two sheets with a column of one day each are two beds; a name is one wherever it stands.
        let page = self.page;
        let named = facts.iter().any(|f| IDENTITY.contains(&f.key.as_str()));
        if let Some(at) = self.drafts.iter().position(|d| {
            d.report == report
                && d.part == part
                && (named || d.page == page)
                && matches(d)
                && (!d.figures.is_empty() || alone)
        }) {
            if alone && !previous {
                self.current = Some(at);
            }
            return at;
        }
        if alone && !previous {
            let fits = self.current.and_then(|at| self.drafts.get(at)).is_none_or(|draft| {
                draft.figures.is_empty()
                    && facts.iter().all(|f| {
                        draft.fact(&f.key).is_none_or(|k| k.trust < Trust::Stated || fold(&k.text) == fold(&f.text))
                    })
            });
            if fits {
                let at = self.open_index();
                if let Some(draft) = self.drafts.get_mut(at) {
                    for fact in facts {
                        draft.learn(fact.clone());
                    }
                }
                return at;
            }
        }
        if previous {
            // An earlier result is one of the same bed.
            let kept = |f: &&Fact| !OWN.contains(&f.key.as_str());
            let of_bed: Vec<Fact> = self
                .current
                .and_then(|at| self.drafts.get(at))
                .map(|d| d.facts.iter().filter(kept).cloned().collect())
                .unwrap_or_default();
            let mut draft = self.new_draft(report, previous);
            for fact in facts.iter().cloned().chain(of_bed) {
                draft.learn(fact);
            }
            self.drafts.push(draft);
            return self.drafts.len() - 1;
        }
        // Facts printed above a table of several samples hold for all of them.
        if let Some(at) = self.current
            && self.drafts.get(at).is_some_and(|d| d.figures.is_empty())
        {
            self.current = None;
            self.give_to_report(at);
        }
        let mut draft = self.new_draft(report, previous);
        for fact in facts {
            draft.learn(fact.clone());
        }
        self.drafts.push(draft);
        let at = self.drafts.len() - 1;
        // What else the table says of its one sample is said of this one.
        if alone && !previous {
            self.current = Some(at);
        }
        at
    }

    /// Leaves a table of several samples: what follows is not the last column's.
    pub fn leave_table(&mut self) {
        self.current = None;
    }

    /// Gives each sample the facts of its report, and drops samples without figures.
    pub fn finish(mut self) -> Vec<Draft> {
        self.close();
        let shared = std::mem::take(&mut self.shared);
        self.drafts.retain(|d| !d.figures.is_empty() || !d.asides.is_empty());
        share_bed_figures(&mut self.drafts);
        for draft in &mut self.drafts {
            let Some(facts) = shared.get(draft.report) else { continue };
            for fact in facts {
                if draft.previous && OWN.contains(&fact.key.as_str()) {
                    continue;
                }
                draft.learn(fact.clone());
            }
        }
        self.drafts
    }
}

/// What is said once of the bed and its water, outside any sample, holds for the samples of its report; where these
/// are of several dates, for the newest.
fn share_bed_figures(drafts: &mut Vec<Draft>) {
    let of_bed = |draft: &Draft| {
        !draft.has_identity()
            && !draft.previous
            && draft.asides.is_empty()
            && draft.figures.iter().all(|f| matches!(f.label.target, Some(Target::Field(_))))
    };
    let day = |draft: &Draft| {
        let date = parse_date(&draft.fact("sampled_on")?.text)?;
        date.readings.into_iter().next()
    };
    for at in (0..drafts.len()).rev() {
        let Some(draft) = drafts.get(at).filter(|d| of_bed(d)).cloned() else { continue };
        let kin = |other: &Draft| other.report == draft.report && !other.previous && !of_bed(other);
        let newest = drafts.iter().filter(|d| kin(d)).filter_map(day).max();
        let mut taken = false;
        for other in drafts.iter_mut().filter(|d| kin(d)) {
            if day(other).is_none_or(|d| Some(d) == newest) {
                other.figures.extend(draft.figures.iter().cloned());
                taken = true;
            }
        }
        if taken {
            drafts.remove(at);
        }
    }
}
