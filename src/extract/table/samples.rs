//! The names of samples over columns and between rows: vessels, places in the bed, marks of their own.

use super::*;

/// A heading that names a sample: its vessel, its place in the bed, its own name. False if it names none.
pub fn names_sample(cell: &Cell, desk: &mut Desk<'_>) -> bool {
    let lexicon = desk.lexicon;
    let text = cell.text.trim().trim_matches(['=', '*', '#', '~', '-', '_']).trim();
    if names_exchanger(text) {
        desk.ledger.set_aside(&cell.words, reason("vessel"));
        let fact = Fact {
            key: "vessel".into(),
            text: text.to_owned(),
            place: cell.place.clone(),
            words: cell.words.clone(),
            ..Fact::default()
        };
        desk.scopes.learn(fact, lexicon);
        return true;
    }
    let text = mentions::own_part("vessel", text, lexicon).and_then(|end| text.get(..end)).unwrap_or(text);
    let label = lexicon.understand(text, &[]);
    let has = |id: &str| lexicon.facet_id(id).is_some_and(|f| label.facets.contains(&f));
    let marked = !label.unexplained.is_empty() || !label.loose_numbers.is_empty();
    let context = ["feed", "outlet", "wash"].iter().any(|c| label.has_context(c));
    let named = (has("sample") || has("vessel")) && marked && label.unexplained.len() <= 3;
    let placed = label.position.is_some() && label.unexplained.len() <= 1 && label.loose_numbers.len() <= 1;
    let sentence = cell.word_count() > 7 || (text.ends_with('.') && cell.word_count() > 3);
    if context
        || sentence
        || mentions::is_address(text)
        || has("report")
        || !(named || placed)
        || label.target.as_ref().is_some_and(Target::is_figure)
    {
        return false;
    }
    let facts = name_facts(cell, text, desk);
    let any = !facts.is_empty();
    for fact in facts {
        desk.ledger.set_aside(&fact.words, reason(&fact.key));
        desk.scopes.learn(fact, lexicon);
    }
    any
}

/// "CATION 2A", "Anion exchanger B": one of the beds of a demineralizer.
pub(super) fn names_exchanger(text: &str) -> bool {
    static NAME: OnceLock<Option<Regex>> = OnceLock::new();
    NAME.get_or_init(|| {
        Regex::new(
            r"^(?i:cation|anion|kationen?|anionen?|cationique|anionique|cati[oó]n|ani[oó]n|mixed bed|mischbett|polisher)(?i:[- ]?(?:exchanger|unit|vessel|tank|bed|filter|tauscher|austauscher|column|échangeur))?\s+[A-Z]?-?\d{1,3}[A-Z]?$|^(?i:cation|anion)\s+[A-Z]$",
        )
        .ok()
    })
    .as_ref()
    .is_some_and(|p| p.is_match(text))
}

/// Facts that the head of a value column gives: a date, a place in the bed, a vessel, a sample's name.
pub(super) fn head_facts(head: &Head, desk: &Desk<'_>) -> Vec<Fact> {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let mut facts = Vec::new();
    for cell in &head.cells {
        let seen = cell.seen(lexicon, style);
        let fact = |key: &str, text: &str| Fact {
            key: key.to_owned(),
            text: text.trim().to_owned(),
            place: cell.place.clone(),
            words: cell.words.clone(),
            order: style.order(),
            trust: Trust::Stated,
        };
        let lone_year = cell.text.trim().len() == 4 && crate::value::date::parse_date(cell.text.trim()).is_some();
        if seen.date.is_some() || lone_year {
            facts.push(fact("sampled_on", &cell.text));
            continue;
        }
        if seen.unit.is_some() && cell.text.contains(['/', '%']) {
            continue;
        }
        if seen.role.is_some() {
            continue;
        }
        facts.extend(name_facts(cell, &cell.text, desk));
    }
    facts
}

/// What a sample's or column's name says: place in the bed, vessel, or a name of its own.
pub fn name_facts(cell: &Cell, text: &str, desk: &Desk<'_>) -> Vec<Fact> {
    let lexicon = desk.lexicon;
    let mut facts = Vec::new();
    let mut fact = |key: &str, text: &str| {
        facts.push(Fact {
            key: key.to_owned(),
            text: text.trim().trim_matches(['-', '–', ':', ',', '(', ')']).trim().to_owned(),
            place: cell.place.clone(),
            words: cell.words.clone(),
            order: desk.style.order(),
            trust: Trust::Stated,
        });
    };
    let dates = crate::value::date::find_dates(text);
    let mut rest = text.to_owned();
    for date in dates.iter().rev() {
        if let Some(found) = text.get(date.start..date.end) {
            fact("sampled_on", found);
            if rest.is_char_boundary(date.start) && rest.is_char_boundary(date.end) && date.end <= rest.len() {
                rest.replace_range(date.start..date.end, "");
            }
        }
    }
    let rest = rest.trim().trim_matches(['-', '–', ':', ',', '(', ')', '/']).trim().to_owned();
    if rest.is_empty() {
        return facts;
    }
    let label = lexicon.understand(&rest, &[]);
    let has = |id: &str| lexicon.facet_id(id).is_some_and(|f| label.facets.contains(&f));
    let named = !label.unexplained.is_empty() || !label.loose_numbers.is_empty();
    if only_describes(&label, lexicon) {
        return facts;
    }
    if let Some(state) = &label.state
        && !named
    {
        fact("condition", state);
        return facts;
    }
    if label.position.is_some() {
        if !named && !has("vessel") {
            fact("position", &rest);
            return facts;
        }
        // "Softener 2 - top": a vessel and a place in it.
        for separator in [" - ", " – ", ", ", " / ", ": ", " ("] {
            if let Some((a, b)) = rest.split_once(separator) {
                let left = lexicon.understand(a, &[]);
                let right = lexicon.understand(b, &[]);
                let (name, place) = if right.position.is_some() && right.unexplained.is_empty() {
                    (a, b)
                } else if left.position.is_some() && left.unexplained.is_empty() {
                    (b, a)
                } else {
                    continue;
                };
                fact("position", place);
                let name = name.trim();
                let inner = lexicon.understand(name, &[]);
                let vessel = lexicon.facet_id("vessel").is_some_and(|f| inner.facets.contains(&f));
                fact(if vessel { "vessel" } else { "sample_id" }, name);
                return facts;
            }
        }
    }
    if has("vessel")
        && has("sample")
        && let Some((sample, vessel)) = sample_and_vessel(&rest, lexicon)
    {
        fact("sample_id", sample);
        fact("vessel", vessel);
        return facts;
    }
    if has("vessel") && (named || rest.split_whitespace().count() >= 1) {
        fact("vessel", vessel_part(&rest, lexicon));
    } else if named || !label.facets.is_empty() {
        let stripped = strip_sample_word(&rest, lexicon);
        fact("sample_id", &stripped);
    }
    facts
}

/// "Lab sample 25-0910 - Softener 1": the name of the sample, and the vessel.
pub(super) fn sample_and_vessel<'t>(text: &'t str, lexicon: &Lexicon) -> Option<(&'t str, &'t str)> {
    let (sample, vessel) = (lexicon.facet_id("sample")?, lexicon.facet_id("vessel")?);
    [" — ", " – ", " - ", ": ", ", "].iter().find_map(|separator| {
        let (name, place) = text.split_once(separator)?;
        let (left, right) = (lexicon.understand(name, &[]), lexicon.understand(place, &[]));
        let parted = left.facets.contains(&sample) && !left.facets.contains(&vessel) && right.facets.contains(&vessel);
        let start = name.find(|c: char| c.is_ascii_digit())?;
        let from = name.get(..start)?.rfind(' ').map_or(0, |at| at + 1);
        parted.then_some((name.get(from..)?, place))
    })
}

/// "Softener East - resin trend", "Resin history, softener 1": the part of a title that names the vessel.
pub(super) fn vessel_part<'t>(text: &'t str, lexicon: &Lexicon) -> &'t str {
    let (Some(vessel), Some(resin)) = (lexicon.facet_id("vessel"), lexicon.facet_id("resin")) else { return text };
    for separator in [" - ", " – ", " — ", ", ", ": "] {
        let Some((a, b)) = text.split_once(separator) else { continue };
        let (left, right) = (lexicon.understand(a, &[]), lexicon.understand(b, &[]));
        let (in_left, in_right) = (left.facets.contains(&vessel), right.facets.contains(&vessel));
        if in_left && !in_right && right.facets.contains(&resin) {
            return a;
        }
        if in_right && !in_left && left.facets.contains(&resin) {
            return b;
        }
    }
    text
}

/// "Sample V2-core" is named V2-core; "Sample 3" is named by both words where nothing else is left.
pub(super) fn strip_sample_word(text: &str, lexicon: &Lexicon) -> String {
    let mut words = text.split_whitespace();
    let Some(first) = words.next() else { return text.to_owned() };
    let rest = words.collect::<Vec<_>>().join(" ");
    let sample = lexicon.facet_id("sample");
    let number = lexicon.facet_id("number");
    let label = lexicon.understand(first, &[]);
    let is_word =
        sample.is_some_and(|s| label.facets.contains(&s)) || number.is_some_and(|s| label.facets.contains(&s));
    if is_word && label.unexplained.is_empty() && !rest.is_empty() {
        strip_sample_word(rest.trim_start_matches(['#', ':', '-', '.']).trim(), lexicon)
    } else {
        text.to_owned()
    }
}
