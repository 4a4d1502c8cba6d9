//! Figures that a sentence says without the words of a label: "a settled cubic foot weighs 47.5 lb",
//! "71 of every hundred beads are whole", "the whole, the cracked and the broken made up 88, 9 and 3 %".

use super::style::Style;
use crate::lexicon::{Label, Lexicon, Target};
use crate::quantity::Unit;
use crate::value::Value;
use regex::Regex;
use std::sync::OnceLock;

/// A figure with the label and unit that its sentence gives it.
pub struct Spoken {
    /// Bytes that it uses up.
    pub start: usize,
    /// See `start`.
    pub end: usize,
    /// Bytes of its figure and unit.
    pub figure: (usize, usize),
    /// What it is.
    pub label: Label,
    /// Its value, and its reading in the other number style.
    pub value: (Value, Option<Value>),
    /// Code of a doubt that it carries.
    pub doubt: Option<String>,
}

struct Phrase {
    label: String,
    unit: String,
    needs: Option<Regex>,
    doubt: Option<String>,
    patterns: Vec<Regex>,
}

struct UnitPhrase {
    label: String,
    feed: bool,
    pattern: Regex,
}

#[derive(Default)]
struct Data {
    phrases: Vec<Phrase>,
    units: Vec<UnitPhrase>,
    tally: Option<Regex>,
    counts: Vec<(String, f64)>,
    behind: Option<Regex>,
    service: Option<Regex>,
}

const NUMBER: &str = r"(?P<n>(?:[<>~≤≥]\s?)?(?:\d+(?:[.,]\d+)*|[.,]\d+))";

fn data() -> &'static Data {
    static DATA: OnceLock<Data> = OnceLock::new();
    DATA.get_or_init(|| {
        let table: toml::Table = include_str!("../../grammar/phrases.toml").parse().unwrap_or_default();
        let regex = |source: &str| Regex::new(&format!("(?i){}", source.replace("{n}", NUMBER))).ok();
        let text = |t: &toml::Value, key: &str| t.get(key).and_then(toml::Value::as_str).map(str::to_owned);
        let list = |key: &str| table.get(key).and_then(toml::Value::as_array).cloned().unwrap_or_default();
        let pattern_of = |key: &str| table.get(key).and_then(|t| text(t, "pattern")).and_then(|p| regex(&p));
        let phrases = list("phrase")
            .iter()
            .filter_map(|t| {
                Some(Phrase {
                    label: text(t, "label")?,
                    unit: text(t, "unit")?,
                    needs: text(t, "needs").and_then(|p| regex(&p)),
                    doubt: text(t, "doubt"),
                    patterns: t
                        .get("patterns")?
                        .as_array()?
                        .iter()
                        .filter_map(toml::Value::as_str)
                        .filter_map(regex)
                        .collect(),
                })
            })
            .collect();
        let units = list("unit")
            .iter()
            .filter_map(|t| {
                Some(UnitPhrase {
                    label: text(t, "label")?,
                    feed: t.get("feed").and_then(toml::Value::as_bool).unwrap_or_default(),
                    pattern: regex(&text(t, "pattern")?)?,
                })
            })
            .collect();
        let counts = table
            .get("tally")
            .and_then(|t| t.get("words"))
            .and_then(toml::Value::as_table)
            .map(|words| {
                words
                    .iter()
                    .filter_map(|(word, n)| Some((word.clone(), f64::from(i32::try_from(n.as_integer()?).ok()?))))
                    .collect()
            })
            .unwrap_or_default();
        Data {
            phrases,
            units,
            tally: pattern_of("tally"),
            counts,
            behind: pattern_of("behind"),
            service: pattern_of("temperature"),
        }
    })
}

/// Whether a line says a figure in one of these ways, so that it is read as a sentence.
pub fn speaks(text: &str, lexicon: &Lexicon, style: &Style) -> bool {
    text.len() < 400
        && text.chars().any(|c| c.is_ascii_digit())
        && (!lists(text, lexicon, style).is_empty()
            || data().phrases.iter().any(|p| p.needs.is_none() && p.patterns.iter().any(|r| r.is_match(text)))
            || tally(text).is_some_and(|_| of_beads(text, lexicon) >= 2))
}

/// Parts of a line that speak of whole, cracked or broken beads beside a figure.
fn of_beads(text: &str, lexicon: &Lexicon) -> usize {
    text.split([',', '/', ';'])
        .filter(|part| part.chars().any(|c| c.is_ascii_digit()) && share_of(part, lexicon))
        .count()
}

/// Whether words speak of whole, cracked or broken beads.
pub fn share_of(text: &str, lexicon: &Lexicon) -> bool {
    let label = lexicon.understand(text, &[]);
    ["whole", "cracked", "broken"].iter().any(|id| lexicon.facet_id(id).is_some_and(|f| label.facets.contains(&f)))
}

/// Figures that the phrases of the grammar and lists of names and figures give, none of them overlapping another.
pub fn find(text: &str, lexicon: &Lexicon, style: &Style) -> Vec<Spoken> {
    if text.len() > 3_000 {
        return Vec::new();
    }
    let mut found = lists(text, lexicon, style);
    for phrase in &data().phrases {
        for said in phrase.patterns.iter().flat_map(|p| p.captures_iter(text)) {
            let (Some(whole), Some(number)) = (said.name("s").or_else(|| said.get(0)), said.name("n")) else {
                continue;
            };
            let before = text.get(..whole.start()).unwrap_or_default();
            if phrase.needs.as_ref().is_some_and(|n| !n.is_match(before))
                || found.iter().any(|f: &Spoken| f.start < whole.end() && whole.start() < f.end)
            {
                continue;
            }
            let group = |name: &str| said.name(name).map_or("", |m| m.as_str());
            let unit = phrase.unit.replace("{u}", group("u")).replace("{v}", group("v"));
            let Some(value) = style.value(&format!("{} {unit}", number.as_str())) else { continue };
            let end = said.name("u").map_or(number.end(), |u| u.end().max(number.end()));
            // As written with its unit, where that is short.
            let end = if whole.end().saturating_sub(number.start()) <= 32 { whole.end().max(end) } else { end };
            found.push(Spoken {
                start: whole.start(),
                end: whole.end(),
                figure: (number.start(), end),
                label: lexicon.understand(&phrase.label, &[]),
                value,
                doubt: phrase.doubt.clone(),
            });
        }
    }
    found
}

/// "Fe / Mn / SiO2 on the dry resin: 95 / 14 / 1200 mg/kg": as many names as figures, in one order.
fn lists(text: &str, lexicon: &Lexicon, style: &Style) -> Vec<Spoken> {
    static RUN: OnceLock<Option<Regex>> = OnceLock::new();
    static ONE: OnceLock<Option<Regex>> = OnceLock::new();
    const SIGNED: &str = r"(?:[<>~]\s?)?\d+(?:[.,]\d+)*";
    let run = RUN.get_or_init(|| {
        Regex::new(&format!(
            r"(?:^|[\s:(]){SIGNED}(?:(?:\s*/\s*|,\s+|,?\s+(?:and|und|et|y)\s+){SIGNED})+(?:\s?(?:%|[\p{{L}}°µ/][^\s,;()]*(?:\s(?:per|je|par|por)\s\p{{L}}+)?))?"
        ))
        .ok()
    });
    let one = ONE.get_or_init(|| Regex::new(SIGNED).ok());
    let (Some(run), Some(one)) = (run.as_ref(), one.as_ref()) else { return Vec::new() };
    let mut found = Vec::new();
    for all in run.find_iter(text) {
        let numbers: Vec<(usize, usize)> =
            one.find_iter(all.as_str()).map(|m| (all.start() + m.start(), all.start() + m.end())).collect();
        let Some((_, last)) = numbers.last().copied() else { continue };
        let tail = text.get(last..all.end()).unwrap_or_default().trim().trim_end_matches(['.', ':']);
        let unit = if tail == "%" || Unit::parse(tail).is_some() { tail } else { "" };
        let before = text.get(..all.start()).unwrap_or_default();
        let Some(labels) = names_before(before, numbers.len(), lexicon) else { continue };
        let figures: Vec<f64> = numbers
            .iter()
            .filter_map(|(a, b)| text.get(*a..*b).and_then(|t| style.value(t)).and_then(|v| v.0.value))
            .collect();
        // Whole, cracked and broken beads make up all of them: nothing but a percentage does.
        let beads = labels.iter().all(|l| l.target.as_ref().is_some_and(|t| t.id().ends_with("_beads")));
        let whole = beads && labels.len() >= 2 && (figures.iter().sum::<f64>() - 100.0).abs() < 1.01;
        let unit = match (unit, whole) {
            ("", true) => "%",
            ("", false) => continue,
            (unit, _) => unit,
        };
        let basis = lexicon.understand(before, &[]).basis;
        let end = if unit == tail {
            last + text.get(last..all.end()).map_or(0, |t| t.trim_end_matches(['.', ':']).len())
        } else {
            last
        };
        for ((start, stop), mut label) in numbers.iter().copied().zip(labels) {
            let Some(value) = text.get(start..stop).and_then(|n| style.value(&format!("{n} {unit}"))) else {
                continue;
            };
            let element = label.target.as_ref().is_some_and(
                |t| matches!(t, Target::Property(id) if lexicon.property(id).is_some_and(|p| p.substance.is_some())),
            );
            if label.basis.is_none() && element {
                label.basis.clone_from(&basis);
            }
            let stop = if stop == last { end } else { stop };
            found.push(Spoken { start, end: stop, figure: (start, stop), label, value, doubt: None });
        }
    }
    found
}

/// The last names of figures before a list, as many as it has.
fn names_before(before: &str, count: usize, lexicon: &Lexicon) -> Option<Vec<Label>> {
    static BORDER: OnceLock<Option<Regex>> = OnceLock::new();
    let border = BORDER.get_or_init(|| Regex::new(r"(?i)\s*/\s*|,\s+|,?\s+(?:and|und|et|y)\s+").ok()).as_ref()?;
    let pieces: Vec<&str> = border.split(before).collect();
    let from = pieces.len().checked_sub(count)?;
    let mut labels: Vec<Label> = Vec::new();
    for piece in pieces.get(from..)? {
        // "Of two hundred beads under the glass the whole": the nearest words name it.
        let words: Vec<&str> = piece.split_whitespace().collect();
        let label = (0..words.len().min(8)).find_map(|n| {
            let tail = words.get(words.len().saturating_sub(words.len() - n)..)?.join(" ");
            let label = lexicon.understand(&tail, &[]);
            label.target.as_ref().is_some_and(Target::is_figure).then_some(label)
        })?;
        if piece.chars().any(|c| c.is_ascii_digit()) && label.target.as_ref().is_none_or(|t| t.id() != "silica") {
            return None;
        }
        labels.push(label);
    }
    let mut ids: Vec<&str> = labels.iter().filter_map(|l| l.target.as_ref()).map(Target::id).collect();
    ids.sort_unstable();
    ids.dedup();
    if ids.len() != count {
        return None;
    }
    for label in &mut labels {
        label.unexplained.clear();
        label.loose_numbers.clear();
    }
    Some(labels)
}

/// The number of beads that a sentence counts out of, and where it says so.
pub fn tally(text: &str) -> Option<(usize, usize, f64)> {
    let data = data();
    // Years are no counts: beads are counted in round numbers.
    data.tally.as_ref()?.captures_iter(text).find_map(|said| {
        let (whole, base) = (said.get(0)?, said.name("base")?);
        let word = base.as_str().split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
        let count = match word.parse::<f64>() {
            Ok(count) => count,
            Err(_) => data.counts.iter().find(|(w, _)| *w == word)?.1,
        };
        // "per 100 g", "of 100 %", "of 100.5"
        let next = text.get(whole.end()..).unwrap_or_default();
        let behind = next.split_whitespace().next().unwrap_or_default().trim_end_matches(['.', ',', ';', ')', ':']);
        let goes_on = next.starts_with(|c: char| c.is_alphanumeric())
            || next.starts_with(['.', ',']) && next.chars().nth(1).is_some_and(|c| c.is_ascii_digit());
        let of_unit = !behind.is_empty() && (behind == "%" || Unit::parse(behind).is_some());
        (count >= 100.0 && count % 50.0 == 0.0 && !goes_on && !(of_unit && said.name("of").is_none()))
            .then(|| (whole.start(), whole.end(), count))
    })
}

/// "97 von 100", "178 of 200 beads": a share in percent.
pub fn share(text: &str, style: &Style) -> Option<Value> {
    let text = text.trim();
    let (start, end, base) = tally(text)?;
    let count: f64 = text.get(..start)?.trim().parse::<u32>().ok()?.into();
    let rest = text.get(end..)?.trim_matches(|c: char| !c.is_alphanumeric());
    if count > base || rest.split_whitespace().count() > 2 || rest.chars().any(|c| c.is_ascii_digit()) {
        return None;
    }
    style.value(&percent(count, base)).map(|v| v.0)
}

/// A count of beads as a percentage.
pub fn percent(count: f64, base: f64) -> String {
    let share = (count / base * 1_000.0).round() / 10.0;
    if share.fract() == 0.0 { format!("{share:.0} %") } else { format!("{share:.1} %") }
}

/// The label that a unit alone gives its figure: "29 °f" of the feed, "2,950 mg KMnO4 per litre of resin"; `before` are
/// the words before it, `water` says that the sentence is on the water.
pub fn by_unit(unit: &Unit, before: &str, water: bool, lexicon: &Lexicon) -> Option<Label> {
    let known = data().units.iter().find(|u| u.pattern.is_match(unit.text.trim()))?;
    if known.feed != water {
        return None;
    }
    if !known.feed {
        return Some(lexicon.understand(&known.label, &[]));
    }
    // "Hardness in 19 gpg, out 0.5 gpg"
    let own = lexicon.understand(&format!("{} {}", known.label, before.trim_matches([',', ';', ' ', '(', ':'])), &[]);
    if own.has_context("outlet") {
        return matches!(own.target, Some(Target::Field(_))).then_some(own);
    }
    let section: Vec<_> = lexicon.facet_id("feed").into_iter().collect();
    Some(lexicon.understand(&known.label, &section))
}

/// The basis that the last words of a sentence give to all its figures: "both on the dry resin".
pub fn basis_behind(text: &str, lexicon: &Lexicon) -> Option<String> {
    let said = data().behind.as_ref()?.find(text.trim_end_matches(['.', ' ', ')']))?;
    lexicon.understand(said.as_str(), &[]).basis.filter(|b| b != "volume")
}

/// Whether words speak of a temperature of the water or in service.
pub fn in_service(text: &str) -> bool {
    data().service.as_ref().is_some_and(|p| p.is_match(text))
}

/// "3900 dry ppm", "29.9 kilograins a cubic foot": words of a unit in another order, in as many bytes.
pub fn plain_units(text: &str) -> String {
    static ORDER: OnceLock<Option<Regex>> = OnceLock::new();
    static ARTICLE: OnceLock<Option<Regex>> = OnceLock::new();
    let order = ORDER.get_or_init(|| Regex::new(r"(\d\s?)(dry|wet|drained) (ppm|mg/kg|g/kg|mg/g|%)").ok());
    let article = ARTICLE.get_or_init(|| {
        Regex::new(r"(?i)(\d\s?(?:kilograins|kgr|kgrs|grains|equivalents|eq|pounds|lbs?|grams|kg|g)) (an? ) ?(cubic foot|cu ft|lit(?:re|er)|kilo|gallon)\b").ok()
    });
    let mut text = text.to_owned();
    if let Some(pattern) = order {
        text = pattern.replace_all(&text, "$1$3 $2").into_owned();
    }
    if let Some(pattern) = article {
        text = pattern
            .replace_all(&text, |c: &regex::Captures<'_>| {
                let part = |n: usize| c.get(n).map_or("", |m| m.as_str());
                let whole = part(0).len();
                let body = format!("{} per {}", part(1), part(3));
                if body.len() == whole {
                    body
                } else {
                    format!(
                        "{} /{}{}",
                        part(1),
                        " ".repeat(whole.saturating_sub(part(1).len() + 2 + part(3).len())),
                        part(3)
                    )
                }
            })
            .into_owned();
    }
    text
}
