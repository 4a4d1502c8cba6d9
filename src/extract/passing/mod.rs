//! Facts about the sample that no label states: in letterheads, headings, sentences, signatures and lone cells.
//!
//! Takes the document and its drafts once all figures are read, and fills only what is still unknown. What is found
//! in two different ways in one document is left open; what stands without a word that names it carries a doubt.
//! Its words are `grammar/passing.toml`.

mod dates;
mod names;
mod numbers;
mod sample;
mod text;
pub mod tidy;
mod words;

use super::ledger::{Ledger, WordId};
use super::scope::{Draft, Fact, Trust};
use super::table::reason;
use crate::document::Document;
use crate::lexicon::{Lexicon, fold, resin_class};
use crate::place::Where;
use crate::record::Doubt;
use crate::value::date::Order;
use text::Text;

/// A fact found in passing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Found {
    /// Id of the fact.
    pub key: String,
    /// What it says.
    pub text: String,
    /// Words that it is made of.
    pub words: Vec<WordId>,
    /// Where it stands.
    pub place: Where,
    /// No word names it: it may be something else.
    pub unsure: bool,
}

impl Found {
    fn new(key: &str, text: &str, at: &Text, start: usize, end: usize) -> Self {
        Self {
            key: key.to_owned(),
            text: text.trim().to_owned(),
            words: at.words(start, end),
            place: at.place(start),
            unsure: false,
        }
    }

    fn unsure(mut self) -> Self {
        self.unsure = true;
        self
    }
}

/// Fills what the drafts do not know, and cuts off what values say besides.
pub fn complete(
    document: &Document,
    ids: &[Vec<WordId>],
    lexicon: &Lexicon,
    drafts: &mut [Draft],
    ledger: &mut Ledger,
    order: &dyn Fn(usize) -> Option<Order>,
) {
    for draft in drafts.iter_mut() {
        tidy::facts(draft, lexicon);
    }
    let several = drafts.iter().any(|d| drafts.first().is_some_and(|first| d.report != first.report));
    if drafts.is_empty() || several {
        return;
    }
    let lines = text::lines(document, ids);
    let first_figure = drafts.iter().filter_map(|d| d.lines).map(|(first, _)| first).min().unwrap_or(u32::MAX);
    let page = Reading { lines: &lines, paragraphs: &text::paragraphs(&lines), first_figure, lexicon };
    let mail = document.parts.first().is_some_and(|p| p.format == "eml");
    let mut found = dates::find(&page);
    found.extend(numbers::find(&page, mail));
    found.extend(names::find(&page));
    let alone = drafts.iter().filter(|d| !d.previous).count() == 1;
    found.extend(sample::find(&page, alone));
    for key in KEYS {
        let of_key: Vec<&Found> = found.iter().filter(|f| f.key == *key).collect();
        let Some(chosen) = choose(key, &of_key) else { continue };
        // "MSL-S1-25" over a column is one of the samples, whichever.
        let names_sample = drafts.iter().any(|d| {
            ["sample_id", "vessel"].iter().any(|id| d.fact(id).is_some_and(|f| fold(&f.text) == fold(&chosen.text)))
        });
        if *key == "report_number" && chosen.unsure && names_sample {
            continue;
        }
        let part = lines.iter().find(|l| l.spans.iter().any(|s| chosen.words.contains(&s.2))).map_or(0, |l| l.part);
        let mut used = false;
        for draft in drafts.iter_mut().filter(|d| !d.previous || !PER_SAMPLE.contains(key)) {
            used |= fill(draft, chosen, order(part));
        }
        if used {
            ledger.set_aside(&chosen.words, reason(key));
        }
    }
}

const KEYS: &[&str] = &[
    "sampled_on",
    "received_on",
    "reported_on",
    "installed_on",
    "report_number",
    "laboratory",
    "customer",
    "vessel",
    "position",
    "cycle_state",
    "form",
];

/// Keys that an earlier result printed beside this one does not share.
const PER_SAMPLE: [&str; 4] = ["sampled_on", "received_on", "reported_on", "report_number"];

/// What is read for facts.
pub struct Reading<'a> {
    /// Lines.
    pub lines: &'a [Text],
    /// Lines of running text, joined.
    pub paragraphs: &'a [Text],
    /// Number of the first line with a figure.
    pub first_figure: u32,
    /// Words.
    pub lexicon: &'a Lexicon,
}

/// The one that all agree on. Of letterheads and numbers the first; surer ones outweigh the others.
fn choose<'f>(key: &str, found: &[&'f Found]) -> Option<&'f Found> {
    let sure: Vec<&&Found> = found.iter().filter(|f| !f.unsure).collect();
    let pool: Vec<&&Found> = if sure.is_empty() { found.iter().collect() } else { sure };
    let first = pool.first()?;
    let ordered = ["laboratory", "report_number", "customer"].contains(&key);
    let said = |f: &Found| {
        if key.ends_with("_on") {
            let date = crate::value::date::parse_date(&f.text);
            return date.map(|d| d.readings.join(" ")).unwrap_or_else(|| fold(&f.text));
        }
        fold(&f.text)
    };
    (ordered || pool.iter().all(|f| said(f) == said(first))).then_some(**first)
}

fn fill(draft: &mut Draft, found: &Found, order: Option<Order>) -> bool {
    let key = found.key.as_str();
    if key == "form" && draft.fact("resin").is_some_and(|f| resin_class(&f.text).form.is_some()) {
        return false;
    }
    let weak = |f: &Fact| key == "position" && f.trust < Trust::Stated && fold(&f.text) != fold(&found.text);
    match draft.fact(key) {
        // "Stichprobe, Mischprobe aus fünf Einstichen": a composite of cores is a composite.
        Some(known) if weak(known) && found.text == "composite" => {}
        Some(_) => return false,
        None => {}
    }
    let named = |id: &str| draft.fact(id).is_some_and(|f| fold(&f.text) == fold(&found.text));
    if key == "report_number" && found.unsure && (named("sample_id") || named("vessel")) {
        return false;
    }
    if found.unsure {
        draft.doubts.push(Doubt::new(
            "key-guessed",
            Some(key),
            format!("\"{}\" stands there without a word that says what it is.", found.text),
            &found.place,
        ));
    }
    draft.facts.retain(|f| f.key != key);
    draft.facts.push(Fact {
        key: key.to_owned(),
        text: found.text.clone(),
        place: found.place.clone(),
        words: found.words.clone(),
        order,
        trust: Trust::Mentioned,
    });
    true
}
