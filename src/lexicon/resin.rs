//! Which class of resin the report's own words name.
//!
//! Takes a text, gives a [`ClassReading`]. Words are the facets of `grammar/resin_words.toml`; what they make together,
//! and what the trade takes for granted where words are missing, stands in `grammar/resins.toml`. What neither settles
//! stays open: no class is better than a guessed one, because the class decides what the resin is compared with.

use super::{EntryLines, FacetKind, GrammarError, Lexicon, Origin, parse_toml, words};
use serde::Deserialize;
use std::collections::{BTreeSet, HashMap};
use std::sync::OnceLock;

/// A class told from words, with what was assumed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ClassReading {
    /// The class, where the words leave only one.
    pub class: Option<String>,
    /// Ionic form named with it.
    pub form: Option<String>,
    /// Classes that the words leave open, where they do not settle one.
    pub candidates: Vec<String>,
    /// What the trade takes for granted and the words do not say, each with its source.
    pub assumed: Vec<String>,
}

/// A class of resins.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ResinClass {
    /// Permanent id, as `sac-gel-8`.
    pub id: String,
    /// Name on screens.
    pub name: String,
    /// Facets that all must be known.
    pub is: BTreeSet<String>,
    /// Facets that none may be known.
    pub not: BTreeSet<String>,
    /// Per cent of divinylbenzene, lowest and highest, where the class is one of a grade.
    pub crosslink: Option<[f64; 2]>,
    /// Source of the band.
    pub source: String,
    /// Where the entry stands.
    pub origin: Origin,
}

/// Reads the words for a resin: its class, and the ionic form if it is named.
///
/// ```
/// use beadwise::lexicon::resin_class;
/// let read = resin_class("Strong acid cation, gel, 10 % DVB, Na form");
/// assert_eq!(read.class.as_deref(), Some("sac-gel-10"));
/// assert_eq!(read.form.as_deref(), Some("Na"));
/// assert_eq!(resin_class("anion exchanger").class, None);
/// ```
pub fn resin_class(text: &str) -> ClassReading {
    let rules = Rules::builtin();
    let units = rules.units(text);
    rules.read(&units, text)
}

/// Where running text names a class of resin: the bytes of the first run of words that says what is exchanged and how
/// strongly, or of what make. Words for a duty alone ("softener resin") name none here, because letters use them for
/// whatever is in the tank.
///
/// ```
/// use beadwise::lexicon::class_words_in;
/// let text = "It is the same strong acid cation gel resin as before.";
/// let (start, end) = class_words_in(text).unwrap_or_default();
/// assert_eq!(&text[start..end], "strong acid cation gel resin");
/// assert_eq!(class_words_in("The resin in the softener is brown."), None);
/// ```
pub fn class_words_in(text: &str) -> Option<(usize, usize)> {
    Rules::builtin().class_words(text)
}

/// All resin classes, in the order of the grammar.
pub fn resin_classes() -> &'static [ResinClass] {
    &Rules::builtin().classes
}

const RESIN_WORDS: (&str, &str) = ("grammar/resin_words.toml", include_str!("../../grammar/resin_words.toml"));
const RESINS: (&str, &str) = ("grammar/resins.toml", include_str!("../../grammar/resins.toml"));

/// Facets that say which ion the resin takes up.
const EXCHANGE: [&str; 2] = ["cation", "anion"];
const STRENGTH: [&str; 2] = ["strong", "weak"];
const MAKE: [&str; 8] = ["gel", "macro", "porous", "acrylic", "styrenic", "crosslink", "type1", "type2"];
const ABBREVIATION: [&str; 6] = ["sac", "wac", "sba", "sba1", "sba2", "wba"];

#[derive(Deserialize)]
struct ClassEntry {
    name: String,
    is: String,
    #[serde(default)]
    not: String,
    crosslink: Option<[f64; 2]>,
    #[serde(default)]
    source: String,
}

#[derive(Clone, Debug, Deserialize)]
struct ConclusionEntry {
    when: String,
    #[serde(default)]
    not: String,
    gives: String,
    crosslink: Option<[f64; 2]>,
    #[serde(default)]
    text: String,
    #[serde(default)]
    source: String,
}

#[derive(Clone, Debug, Default, Deserialize)]
struct CrosslinkUnsaid {
    percent: f64,
    text: String,
    source: String,
}

#[derive(Deserialize)]
struct Designation {
    pattern: String,
    class: String,
}

type Facets = BTreeSet<String>;

/// One conclusion from facets to more facets.
#[derive(Clone, Debug, Default)]
struct Conclusion {
    when: Facets,
    not: Facets,
    gives: Facets,
    crosslink: Option<[f64; 2]>,
    text: String,
}

/// What a phrase stands for.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Meaning {
    Facet(String),
    /// Ionic form, named with the word "form".
    Form(String),
    /// National designation that points to a class.
    Designation(String),
}

/// A phrase, a number or a word without a meaning, with its place in the text.
#[derive(Clone, Debug)]
struct Unit {
    meaning: Option<Meaning>,
    number: Option<f64>,
    folded: String,
    start: usize,
    end: usize,
    /// A percentage that was taken as one of divinylbenzene, or the number of it.
    crosslink: bool,
}

impl Unit {
    fn facet(&self) -> Option<&str> {
        match &self.meaning {
            Some(Meaning::Facet(id)) => Some(id),
            _ => None,
        }
    }

    fn is(&self, facet: &str) -> bool {
        self.facet() == Some(facet)
    }

    fn ion(&self) -> Option<&str> {
        self.facet().and_then(|f| f.strip_prefix("ion_"))
    }

    /// Its number, in figures or as a word.
    fn value(&self) -> Option<f64> {
        self.number.or_else(|| self.facet()?.strip_prefix("number_")?.parse().ok())
    }

    /// Says something of the resin, or may stand between words that do.
    fn known(&self) -> bool {
        let number_word = self.facet().is_some_and(|f| f.starts_with("number_"));
        self.crosslink || (self.meaning.is_some() && !number_word && !self.is("percent") && !self.is("figure"))
    }
}

#[derive(Debug, Default)]
struct Rules {
    classes: Vec<ResinClass>,
    exclusive: Vec<Facets>,
    implies: Vec<Conclusion>,
    assumes: Vec<Conclusion>,
    unsaid: CrosslinkUnsaid,
    /// First folded word to (rest of the words, meaning), longest first.
    phrases: HashMap<String, Vec<(Vec<String>, Meaning)>>,
}

fn facets_of(names: &str) -> Facets {
    names.split_whitespace().map(str::to_owned).collect()
}

impl Rules {
    fn builtin() -> &'static Self {
        static BUILTIN: OnceLock<Rules> = OnceLock::new();
        // A test loads the built-in files and shows the error; a user cannot get here with a broken one.
        BUILTIN.get_or_init(|| Self::load(RESIN_WORDS, RESINS).unwrap_or_default())
    }

    fn load(word_file: (&str, &str), class_file: (&str, &str)) -> Result<Self, GrammarError> {
        let mut rules = Self::default();
        let mut known: Facets = facets_of("form_fb");
        let lines = EntryLines::new(word_file.1);
        for (id, value) in parse_toml(word_file.0, word_file.1)? {
            let origin = Origin { file: word_file.0.to_owned(), line: lines.of(&id) };
            if id == "designation" {
                let list: Vec<Designation> = value.try_into().map_err(|e: toml::de::Error| GrammarError {
                    origin: origin.clone(),
                    text: format!("a [[designation]] cannot be read: {e}"),
                })?;
                for entry in list {
                    for spelling in entry.pattern.split('|') {
                        rules.add_phrase(spelling, Meaning::Designation(entry.class.clone()), &origin)?;
                    }
                }
                continue;
            }
            for spellings in value.as_table().into_iter().flatten().filter_map(|(_, list)| list.as_str()) {
                for spelling in spellings.split('|') {
                    rules.add_phrase(spelling, Meaning::Facet(id.clone()), &origin)?;
                }
            }
            known.insert(id);
        }
        rules.add_form_phrases(Lexicon::builtin());
        rules.add_classes(class_file, &known)?;
        for phrases in rules.phrases.values_mut() {
            phrases.sort_by_key(|(rest, _)| std::cmp::Reverse(rest.len()));
        }
        Ok(rules)
    }

    fn add_phrase(&mut self, spelling: &str, meaning: Meaning, origin: &Origin) -> Result<(), GrammarError> {
        let folded: Vec<String> = words(spelling).into_iter().map(|w| w.folded).collect();
        let Some((first, rest)) = folded.split_first() else { return Ok(()) };
        let list = self.phrases.entry(first.clone()).or_default();
        match list.iter().find(|(other, _)| other.as_slice() == rest) {
            Some((_, other)) if *other != meaning => Err(GrammarError {
                origin: origin.clone(),
                text: format!("\"{}\" stands for both {other:?} and {meaning:?}; keep one", spelling.trim()),
            }),
            Some(_) => Ok(()),
            None => {
                list.push((rest.to_vec(), meaning));
                Ok(())
            }
        }
    }

    /// The spellings of forms in `words.toml`; the symbols alone stand in `resin_words.toml`, because a bare "h" or
    /// "na" is a form only beside a resin.
    fn add_form_phrases(&mut self, lexicon: &Lexicon) {
        for facet in lexicon.facets().iter().filter(|f| f.kind == FacetKind::Form) {
            let Some(form) = &facet.gives else { continue };
            for spelling in &facet.spellings {
                // A spelling that has a meaning already keeps it.
                let _ = self.add_phrase(spelling, Meaning::Form(form.clone()), &facet.origin);
            }
        }
    }

    fn add_classes(&mut self, (file, text): (&str, &str), known: &Facets) -> Result<(), GrammarError> {
        let lines = EntryLines::new(text);
        let origin_of = |id: &str| Origin { file: file.to_owned(), line: lines.of(id) };
        let check = |names: &str, origin: &Origin| {
            let facets = facets_of(names);
            match facets.iter().find(|f| !known.contains(*f)) {
                Some(unknown) => Err(GrammarError {
                    origin: origin.clone(),
                    text: format!("there is no facet [{unknown}] in grammar/resin_words.toml"),
                }),
                None => Ok(facets),
            }
        };
        for (id, value) in parse_toml(file, text)? {
            let origin = origin_of(&id);
            let broken = |e: toml::de::Error| GrammarError {
                origin: origin.clone(),
                text: format!("entry [{id}] cannot be read: {e}"),
            };
            match id.as_str() {
                "exclusive" => {
                    let groups: Vec<String> = value.try_into().map_err(broken)?;
                    for group in groups {
                        self.exclusive.push(check(&group, &origin)?);
                    }
                }
                "implies" | "assumes" => {
                    let entries: Vec<ConclusionEntry> = value.try_into().map_err(broken)?;
                    for entry in entries {
                        let conclusion = Conclusion {
                            when: check(&entry.when, &origin)?,
                            not: check(&entry.not, &origin)?,
                            gives: check(&entry.gives, &origin)?,
                            crosslink: entry.crosslink,
                            text: format!("{} ({})", entry.text, entry.source),
                        };
                        if id == "implies" { self.implies.push(conclusion) } else { self.assumes.push(conclusion) }
                    }
                }
                "crosslink_unsaid" => self.unsaid = value.try_into().map_err(broken)?,
                _ => {
                    let entry: ClassEntry = value.try_into().map_err(broken)?;
                    self.classes.push(ResinClass {
                        is: check(&entry.is, &origin)?,
                        not: check(&entry.not, &origin)?,
                        id,
                        name: entry.name,
                        crosslink: entry.crosslink,
                        source: entry.source,
                        origin,
                    });
                }
            }
        }
        self.classes.sort_by_key(|c| c.origin.line);
        Ok(())
    }

    /// The text as phrases, numbers and unknown words: of all ways to cut it into phrases, the one that leaves the
    /// fewest words without a meaning, and of those the one in the fewest phrases. "Gel type 1" is a gel of type 1,
    /// not a "gel type" and a number.
    fn units(&self, text: &str) -> Vec<Unit> {
        const UNKNOWN: usize = 1_000;
        let tokens = words(text);
        // What is best from each word on, filled from the end: (cost, unit, words that it takes).
        let mut best: Vec<(usize, Option<Unit>, usize)> = vec![(0, None, 0); tokens.len() + 1];
        for at in (0..tokens.len()).rev() {
            let Some(token) = tokens.get(at) else { continue };
            let cost_after = |taken: usize| best.get(at + taken).map_or(0, |(cost, _, _)| *cost);
            let single = match number_at(text, &tokens, at) {
                Some((value, taken)) => (UNKNOWN - 1, None, Some(value), taken),
                None => (UNKNOWN, None, None, 1),
            };
            let phrases = self.phrases.get(&token.folded).into_iter().flatten().filter(|(rest, _)| {
                tokens
                    .get(at + 1..at + 1 + rest.len())
                    .is_some_and(|next| next.iter().map(|w| &w.folded).eq(rest.iter()))
                    && !separated(text, tokens.get(at..=at + rest.len()).unwrap_or_default())
            });
            let choice = phrases
                .map(|(rest, meaning)| (1, Some(meaning), None, rest.len() + 1))
                .chain([single])
                .min_by_key(|(cost, _, _, taken)| (cost + cost_after(*taken), std::cmp::Reverse(*taken)));
            let Some((cost, meaning, number, taken)) = choice else { continue };
            let end = tokens.get(at + taken - 1).map_or(token.end, |last| last.end);
            let chosen = unit(meaning.cloned(), number, &token.folded, token.start, end);
            let total = cost + cost_after(taken);
            if let Some(place) = best.get_mut(at) {
                *place = (total, Some(chosen), taken);
            }
        }
        let mut units = Vec::new();
        let mut at = 0;
        while let Some((_, Some(chosen), taken)) = best.get(at) {
            units.push(chosen.clone());
            at += taken.max(&1);
        }
        units
    }

    fn read(&self, units: &[Unit], text: &str) -> ClassReading {
        let mut units = units.to_vec();
        let crosslink = mark_crosslink(&mut units);
        let mut facts = said(&units, text);
        let form = form(&units, &facts, text);
        if form.as_deref() == Some("FB") {
            facts.insert("form_fb".into());
        }
        if crosslink.is_some() {
            facts.insert("percent".into());
        } else {
            facts.remove("percent");
        }
        self.conclude(&mut facts);
        let mut reading = ClassReading { form, ..ClassReading::default() };
        let conflict = self.exclusive.iter().any(|group| group.intersection(&facts).count() > 1);
        let designated: BTreeSet<&str> = units
            .iter()
            .filter_map(|u| match &u.meaning {
                Some(Meaning::Designation(class)) => Some(class.as_str()),
                _ => None,
            })
            .collect();
        if !conflict && !facts.contains("mixed_bed") {
            let mut complete = facts.clone();
            // A designation says more than custom does: it fills the gaps that assumptions would.
            if designated.is_empty() {
                reading.assumed = self.assume(&mut complete, crosslink);
            }
            reading.class = self.class_of(&complete, crosslink, designated.is_empty(), &mut reading.assumed);
            if reading.class.is_none()
                && let [only] = designated.iter().copied().collect::<Vec<_>>().as_slice()
                && self.classes.iter().any(|c| c.id == *only && self.consistent(c, &facts, crosslink))
            {
                reading.class = Some((*only).to_owned());
            }
        }
        if reading.class.is_none() {
            reading.assumed.clear();
            reading.candidates = self.candidates(&facts, crosslink);
            for class in designated {
                if !reading.candidates.iter().any(|c| c == class) {
                    reading.candidates.push(class.to_owned());
                }
            }
        }
        reading
    }

    fn conclude(&self, facts: &mut Facets) {
        // Conclusions feed each other; each round adds a facet or is the last.
        loop {
            let before = facts.len();
            for rule in &self.implies {
                if rule.when.is_subset(facts) && rule.not.is_disjoint(facts) {
                    facts.extend(rule.gives.iter().cloned());
                }
            }
            if facts.len() == before {
                return;
            }
        }
    }

    fn assume(&self, facts: &mut Facets, crosslink: Option<(f64, f64)>) -> Vec<String> {
        let mut assumed = Vec::new();
        for rule in &self.assumes {
            let fits = match (rule.crosslink, crosslink) {
                (Some([low, high]), Some((from, to))) => low <= from && to <= high,
                _ => true,
            };
            if fits
                && rule.when.is_subset(facts)
                && rule.not.is_disjoint(facts)
                && !rule.gives.is_subset(facts)
                && self.exclusive.iter().all(|g| g.is_disjoint(&rule.gives) || self.agree(g, facts, &rule.gives))
            {
                facts.extend(rule.gives.iter().cloned());
                self.conclude(facts);
                assumed.push(rule.text.clone());
            }
        }
        assumed
    }

    /// Nothing of the group is known that the other set does not have.
    fn agree(&self, group: &Facets, facts: &Facets, other: &Facets) -> bool {
        let known: Facets = group.intersection(facts).cloned().collect();
        known.is_empty() || !known.is_disjoint(other)
    }

    fn class_of(
        &self,
        facts: &Facets,
        crosslink: Option<(f64, f64)>,
        may_assume: bool,
        assumed: &mut Vec<String>,
    ) -> Option<String> {
        let fitting: Vec<&ResinClass> =
            self.classes.iter().filter(|c| c.is.is_subset(facts) && c.not.is_disjoint(facts)).collect();
        let by_grade = fitting.iter().any(|c| c.crosslink.is_some());
        let (from, to) = match crosslink {
            Some(band) => band,
            None if !by_grade => (0.0, 0.0),
            None if may_assume => {
                assumed.push(format!("{} ({})", self.unsaid.text, self.unsaid.source));
                (self.unsaid.percent, self.unsaid.percent)
            }
            None => return None,
        };
        let mut left = fitting.into_iter().filter(|c| c.crosslink.is_none_or(|[low, high]| low <= from && to <= high));
        match (left.next(), left.next()) {
            (Some(only), None) => Some(only.id.clone()),
            _ => None,
        }
    }

    /// Whether the class contradicts nothing that is known.
    fn consistent(&self, class: &ResinClass, facts: &Facets, crosslink: Option<(f64, f64)>) -> bool {
        // Half a per cent on each side: "9 %" leaves both neighbours open.
        const SLACK: f64 = 0.5;
        let two_resins = EXCHANGE.iter().all(|e| facts.contains(*e));
        self.exclusive.iter().all(|group| {
            let (known, needed): (Facets, Facets) =
                (group.intersection(facts).cloned().collect(), group.intersection(&class.is).cloned().collect());
            known.is_empty() || needed.is_empty() || !known.is_disjoint(&needed)
        }) && (two_resins || class.not.is_disjoint(facts))
            && match (class.crosslink, crosslink) {
                (Some([low, high]), Some((from, to))) => low - SLACK <= to && from <= high + SLACK,
                _ => true,
            }
    }

    fn candidates(&self, facts: &Facets, crosslink: Option<(f64, f64)>) -> Vec<String> {
        let mut facts = facts.clone();
        let of_a_resin = ["cation", "anion", "type1", "type2", "mixed_bed"].iter().any(|f| facts.contains(*f));
        if !of_a_resin || facts.contains("other_resin") {
            return Vec::new();
        }
        if facts.contains("mixed_bed") && STRENGTH.iter().all(|s| !facts.contains(*s)) {
            facts.insert("strong".into());
        }
        self.classes.iter().filter(|c| self.consistent(c, &facts, crosslink)).map(|c| c.id.clone()).collect()
    }

    fn class_words(&self, text: &str) -> Option<(usize, usize)> {
        let mut units = self.units(text);
        mark_crosslink(&mut units);
        let mut from = 0;
        while from < units.len() {
            let mut to = from;
            while let Some(next) = units.get(to)
                && next.known()
                && (to == from || !breaks(text, units.get(to - 1), next))
            {
                to += 1;
            }
            let follows = units.get(to).filter(|next| {
                next.is("figure") && !breaks(text, to.checked_sub(1).and_then(|last| units.get(last)), next)
            });
            let run = trimmed(units.get(from..to).unwrap_or_default());
            if follows.is_none()
                && let (Some(first), Some(last)) = (run.first(), run.last())
                && self.names_class(run, text)
            {
                let span = text.get(first.start..last.end).unwrap_or_default();
                let open = span.matches('(').count() > span.matches(')').count();
                let closing = text.get(last.end..).and_then(|rest| rest.find(')')).filter(|at| open && *at <= 2);
                return Some((first.start, last.end + closing.map_or(0, |at| at + 1)));
            }
            from = to.max(from + 1);
        }
        None
    }

    fn names_class(&self, run: &[Unit], text: &str) -> bool {
        let mut facts = said(run, text);
        let any = |facts: &Facets, list: &[&str]| list.iter().any(|f| facts.contains(*f));
        let said_something = any(&facts, &["cation", "anion", "resin"]);
        if run.iter().any(|u| matches!(u.meaning, Some(Meaning::Designation(_)))) {
            return said_something;
        }
        let softens = any(&facts, &["softening", "softener_resin"]);
        let names_exchange =
            any(&facts, &EXCHANGE) || any(&facts, &ABBREVIATION) || facts.contains("nitrate_selective");
        let acid_or_base = any(&facts, &["acid", "base"]) && (facts.contains("resin") || any(&facts, &MAKE));
        self.conclude(&mut facts);
        let strength_or_make = any(&facts, &STRENGTH) || any(&facts, &MAKE);
        ((names_exchange || acid_or_base) && strength_or_make)
            || (softens && any(&facts, &["gel", "macro", "crosslink"]))
    }
}

fn unit(meaning: Option<Meaning>, number: Option<f64>, folded: &str, start: usize, end: usize) -> Unit {
    Unit { meaning, number, folded: folded.to_owned(), start, end, crosslink: false }
}

/// A comma, a semicolon or a bracket stands between the words: they are no phrase.
fn separated(text: &str, tokens: &[super::Word]) -> bool {
    tokens.windows(2).any(|pair| match pair {
        [a, b] => text.get(a.end..b.start).is_some_and(|gap| gap.contains([',', ';', ':', '(', ')'])),
        _ => false,
    })
}

/// The number that starts at a word, and how many words it takes ("8.0" is two).
fn number_at(text: &str, tokens: &[super::Word], at: usize) -> Option<(f64, usize)> {
    let first = tokens.get(at)?;
    let whole: f64 = first.folded.chars().all(|c| c.is_ascii_digit()).then(|| first.folded.parse().ok()).flatten()?;
    let fraction = tokens.get(at + 1).filter(|next| {
        matches!(text.get(first.end..next.start), Some("." | ",")) && next.folded.chars().all(|c| c.is_ascii_digit())
    });
    match fraction {
        Some(next) => format!("{}.{}", first.folded, next.folded).parse().ok().map(|value| (value, 2)),
        None => Some((whole, 1)),
    }
}

/// Finds the per cent of divinylbenzene, marks its units, and gives its range.
fn mark_crosslink(units: &mut [Unit]) -> Option<(f64, f64)> {
    // Grades run from 2 to 20 per cent; a larger figure without the word is a moisture or a count.
    const GRADES: std::ops::RangeInclusive<f64> = 2.0..=20.0;
    let mut bands: Vec<(f64, f64)> = Vec::new();
    // A word for crosslinking belongs to one figure.
    let mut taken_words = BTreeSet::new();
    let pure = units.iter().all(|u| u.value().is_some() || u.is("percent") || u.known());
    for at in 0..units.len() {
        let Some(value) = units.get(at).and_then(Unit::value).filter(|v| GRADES.contains(v)) else { continue };
        let percent = units.get(at + 1).is_some_and(|u| u.is("percent"));
        let after = at + 1 + usize::from(percent);
        let is_crosslink = |i: &Option<usize>| i.and_then(|i| units.get(i)).is_some_and(|u| u.is("crosslink"));
        let skip_ahead = (after..units.len()).take(4).find(|&i| units.get(i).is_some_and(|u| !u.is("filler")));
        let low = at.checked_sub(1).and_then(|i| units.get(i)).filter(|u| GRADES.contains(&u.value().unwrap_or(0.0)));
        let first = if low.is_some() { at - 1 } else { at };
        let before = (0..first).rev().take(4).find(|&i| units.get(i).is_some_and(|u| !u.is("filler")));
        let word = [skip_ahead, before].into_iter().filter(is_crosslink).flatten().find(|i| !taken_words.contains(i));
        // The end of the text, or a word that belongs to the resin's name, on both sides.
        let plain =
            |i: Option<usize>| i.and_then(|i| units.get(i)).is_none_or(|u| u.meaning.is_some() && !u.is("figure"));
        let alone = percent && plain(skip_ahead) && plain(before);
        // "SAC gel 10": a grade right behind the gel, where the text is nothing but a resin's name.
        let behind_gel = pure && before.is_some_and(|i| i + 1 == first && units.get(i).is_some_and(|u| u.is("gel")));
        if word.is_none() && !alone && !behind_gel {
            continue;
        }
        taken_words.extend(word);
        let from = low.and_then(Unit::value).unwrap_or(value);
        bands.push((from.min(value), value.max(from)));
        for unit in units.iter_mut().take(after).skip(first) {
            unit.crosslink = true;
        }
    }
    bands.into_iter().reduce(|(a, b), (c, d)| (a.min(c), b.max(d)))
}

/// The facets that the words say.
fn said(units: &[Unit], text: &str) -> Facets {
    let pure = units.iter().all(Unit::known);
    let shouted = |u: &Unit| text.get(u.start..u.end).is_some_and(|s| s.chars().any(char::is_uppercase));
    // Only through words that belong to the resin's name: another word between ends the neighbourhood.
    let near = |at: usize, list: &[&str]| {
        const REACH: usize = 3;
        let listed = |unit: &&Unit| unit.facet().is_some_and(|f| list.contains(&f));
        let back =
            units.get(..at).into_iter().flatten().rev().take(REACH).take_while(|u| u.known()).any(|u| listed(&u));
        back || units.iter().skip(at + 1).take(REACH).take_while(|u| u.known()).any(|u| listed(&u))
    };
    let mut facts = Facets::new();
    for (at, unit) in units.iter().enumerate() {
        let Some(facet) = unit.facet() else { continue };
        let counts = match facet {
            // A strong smell or a weak jet is no strength of the resin's.
            "strong" | "weak" => near(at, &["acid", "base", "cation", "anion"]),
            // Acids and bases also clean; only beside words for a resin are they its groups.
            "acid" | "base" => pure || near(at, &["resin", "cation", "anion"]) || near(at, &MAKE),
            // "Mr" is a title, "mp" many things.
            "macro_abbreviation" => text.get(unit.start..unit.end).is_some_and(|s| s.chars().all(char::is_uppercase)),
            // "sac" is a bag in French, "quat" a biocide.
            _ if ABBREVIATION.contains(&facet) && unit.folded.chars().count() <= 4 => {
                shouted(unit) || units.iter().any(|u| u.facet().is_some_and(|f| MAKE.contains(&f)))
            }
            _ => true,
        };
        if counts {
            facts.insert(facet.to_owned());
        }
    }
    facts
}

/// The ionic form that the words name; two that differ name none, unless they are said to be mixed.
fn form(units: &[Unit], facts: &Facets, text: &str) -> Option<String> {
    let ion_form = |ion: &str| match ion {
        "na" => "Na",
        "h" => "H",
        "ca" => "Ca",
        "cl" => "Cl",
        "oh" => "OH",
        "no3" => "NO3",
        "so4" => "SO4",
        "hco3" => "HCO3",
        "fb" => "FB",
        // Magnesium, too, comes only beside other ions.
        _ => "mixed",
    };
    let of_a_resin = EXCHANGE.iter().chain(&ABBREVIATION).chain(&["nitrate_selective", "softener_resin", "resin"]);
    let of_a_resin = of_a_resin.into_iter().any(|f| facts.contains(*f))
        || units.iter().any(|u| matches!(u.meaning, Some(Meaning::Designation(_))));
    let pure = units.iter().all(Unit::known);
    // (position, form, named with "form")
    let mut found: Vec<(usize, String, bool)> = Vec::new();
    for (at, unit) in units.iter().enumerate() {
        if let Some(Meaning::Form(form)) = &unit.meaning {
            found.push((at, form.clone(), true));
            continue;
        }
        let Some(ion) = unit.ion() else { continue };
        let word = |i: Option<usize>| i.and_then(|i| units.get(i)).is_some_and(|u| u.is("form_word"));
        let filler = |i: Option<usize>| i.and_then(|i| units.get(i)).is_some_and(|u| u.is("filler"));
        let (back, ahead) = (at.checked_sub(1), Some(at + 1));
        let with_word = word(back)
            || word(ahead)
            || (filler(back) && word(at.checked_sub(2)))
            || (filler(ahead) && word(Some(at + 2)));
        let written = text.get(unit.start..unit.end).unwrap_or_default();
        let follows = text.get(unit.end..).unwrap_or_default();
        let symbol = written.len() <= 4 && written.starts_with(char::is_uppercase);
        // "Ca. 8 %" is "about 8 %".
        let abbreviation =
            ion == "ca" && (follows.starts_with('.') || units.get(at + 1).is_some_and(|u| u.number.is_some()));
        let alone = of_a_resin && !matches!(ion, "mixed" | "mg") && !abbreviation && (symbol || pure);
        let beside = |step: usize| {
            units.get(at + step).is_some_and(|u| matches!(u.meaning, Some(Meaning::Form(_))) || u.ion().is_some())
        };
        let in_pair = symbol && (beside(1) || (filler(ahead) && beside(2)));
        // "Mixed Na/Ca/Mg form": the ions between belong to it.
        let ions_then_word = ion == "mixed"
            && units
                .iter()
                .skip(at + 1)
                .find(|u| u.ion().is_none() && !matches!(u.meaning, Some(Meaning::Form(_))))
                .is_some_and(|u| u.is("form_word"));
        let with_word = with_word || ions_then_word;
        if with_word || alone || in_pair || ion == "fb" {
            found.push((at, ion_form(ion).to_owned(), with_word));
        }
    }
    let forms = |named: bool| -> BTreeSet<&str> {
        found.iter().filter(|(_, _, n)| *n || !named).map(|(_, form, _)| form.as_str()).collect()
    };
    let named = forms(true);
    let pair = found.windows(2).any(|pair| match pair {
        [(a, first, _), (b, second, with_word)] => first != second && *with_word && b - a <= 2,
        _ => false,
    });
    if named.contains("mixed") {
        return Some("mixed".into());
    }
    if pair && !named.is_empty() {
        let two_resins = facts.contains("mixed_bed") || EXCHANGE.iter().all(|e| facts.contains(*e));
        return (!two_resins).then(|| "mixed".into());
    }
    let chosen = if named.is_empty() { forms(false) } else { named };
    match chosen.into_iter().collect::<Vec<_>>().as_slice() {
        [only] => Some((*only).to_owned()),
        _ => None,
    }
}

/// Whether a sentence or a paragraph ends between two units.
fn breaks(text: &str, before: Option<&Unit>, next: &Unit) -> bool {
    let Some(gap) = before.and_then(|b| text.get(b.end..next.start)) else { return false };
    gap.contains("\n\n") || gap.contains([';', '?', '!']) || gap.contains(". ") || gap.contains(".\n")
}

/// A run without the words at its ends that say nothing of a resin.
fn trimmed(mut run: &[Unit]) -> &[Unit] {
    let idle = |u: &Unit| u.is("filler") || u.is("form_word") || u.ion().is_some_and(|i| i == "mixed");
    while let Some((last, rest)) = run.split_last()
        && idle(last)
    {
        run = rest;
    }
    while let Some((first, rest)) = run.split_first()
        && idle(first)
    {
        run = rest;
    }
    run
}

#[cfg(test)]
mod tests;
