//! Figures inside sentences, and cells that hold more than one figure.
//!
//! A figure of running text is read where the words around it name one property and its unit fits that property.
//! Words such as "new", "against", "last year", "limit" make it a reference, not a result.

use super::cells::{Cell, Row};
use super::ledger::WordId;
use super::scope::{Fact, Trust};
use super::style::Style;
use super::table::{self, Desk};
use super::{Figure, ReferenceText, mentions};
use crate::lexicon::{Label, Lexicon, Quantity, Role, Target};
use crate::place::Where;
use crate::quantity::{Unit, UnitKind};
use crate::record::Doubt;
use crate::value::{self, Value};
use regex::Regex;
use std::sync::OnceLock;

/// What a cell with several figures says.
#[derive(Clone, Debug, Default)]
pub struct Split {
    /// The result, and its reading in the other style.
    pub result: Option<(Value, Option<Value>)>,
    /// References among them.
    pub references: Vec<ReferenceText>,
    /// Figures that nothing explains.
    pub leftover: Vec<String>,
    /// The words around the figures.
    pub words: String,
}

/// Reads a cell that is more than one value expression.
pub fn figures_of_cell(text: &str, lexicon: &Lexicon, style: &Style) -> Option<Split> {
    if text.len() > 300 {
        return None;
    }
    let found = style.find(text);
    if found.is_empty() {
        return None;
    }
    let mut split = Split::default();
    let mut last = 0;
    let count = found.len();
    for (number, (located, other)) in found.into_iter().enumerate() {
        let before = text.get(last..located.start).unwrap_or_default();
        let after = text.get(located.end..).unwrap_or_default();
        let after = if number + 1 < count { after.split([',', ';', ')']).next().unwrap_or_default() } else { after };
        let role = role_in(before, lexicon).or_else(|| role_in(after, lexicon));
        let slice = text.get(located.start..located.end).unwrap_or_default().to_owned();
        if split.result.is_none() || !after.is_empty() && number + 1 == count {
            split.words = format!("{} {before} {after}", split.words);
        }
        last = located.end;
        match role {
            Some(role @ (Role::Specification | Role::SpecificationLow | Role::SpecificationHigh)) => {
                split.references.push(ReferenceText { role, text: slice, value: Some(located.value) });
            }
            Some(
                Role::PercentOfNew
                | Role::DetectionLimit
                | Role::Previous
                | Role::Change
                | Role::Count
                | Role::Deviation,
            ) => {}
            _ if split.result.is_none() => split.result = Some((located.value, other)),
            _ => split.leftover.push(slice),
        }
    }
    if let Some((value, _)) = &split.result {
        // A figure in words that are no value: "about twice that of 52.3", "see 4.2".
        let words = text.split_whitespace().filter(|w| w.chars().filter(|c| c.is_alphabetic()).count() > 2).count();
        if words > 8 && value.unit.is_none() {
            return None;
        }
    }
    Some(split)
}

/// The role that words beside a figure give it.
fn role_in(text: &str, lexicon: &Lexicon) -> Option<Role> {
    let cleaned = text.trim_matches(|c: char| !c.is_alphanumeric() && c != '%' && c != '#').trim();
    if cleaned.is_empty() {
        return None;
    }
    let words: Vec<&str> = cleaned.split_whitespace().collect();
    for length in (1..=words.len().min(5)).rev() {
        for start in [words.len() - length, 0] {
            let Some(run) = words.get(start..start + length) else { continue };
            let run = run.join(" ");
            if let Some(role) = lexicon.role(&run)
                && !matches!(
                    role,
                    Role::Result | Role::Unit | Role::Parameter | Role::Average | Role::Rating | Role::Method
                )
            {
                return Some(role);
            }
        }
    }
    let label = lexicon.understand(cleaned, &[]);
    if label.has_context("new") || label.has_context("startup") {
        return Some(Role::Specification);
    }
    label.has_context("previous").then_some(Role::Previous)
}

/// Running lines joined, with the way back from a byte to its line.
struct Paragraph {
    text: String,
    /// Start of each word in the text, its id, and its place.
    words: Vec<(usize, usize, WordId, Where)>,
}

impl Paragraph {
    fn of(rows: &[Row], lines: &dyn Fn(WordId) -> Option<(String, Where)>) -> Self {
        let mut paragraph = Self { text: String::new(), words: Vec::new() };
        for row in rows {
            let mut seen: Option<WordId> = None;
            for id in row.cells.iter().flat_map(|c| c.words.iter().copied()) {
                if seen == Some(id) {
                    continue;
                }
                seen = Some(id);
                let Some((text, place)) = lines(id) else { continue };
                let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
                if !paragraph.text.is_empty() {
                    paragraph.text.push(' ');
                }
                let start = paragraph.text.len();
                paragraph.text.push_str(&text);
                paragraph.words.push((start, paragraph.text.len(), id, place));
            }
        }
        paragraph
    }

    fn words_in(&self, start: usize, end: usize) -> Vec<WordId> {
        self.words.iter().filter(|(a, b, _, _)| *a < end && start < *b).map(|w| w.2).collect()
    }

    fn place(&self, at: usize) -> Where {
        self.words.iter().find(|(_, end, _, _)| at < *end).map(|w| w.3.clone()).unwrap_or_default()
    }

    /// Spans of its sentences.
    fn sentences(&self) -> Vec<(usize, usize)> {
        static END: OnceLock<Option<Regex>> = OnceLock::new();
        let mut spans = Vec::new();
        let mut start = 0;
        if let Some(pattern) = END.get_or_init(|| Regex::new(r"[.!?;]\s+(?:[A-ZÄÖÜÉÈÀÁÍÓÚÑ¿(„«]|[-•*] )").ok())
        {
            for found in pattern.find_iter(&self.text) {
                let stop = found.start() + 1;
                let head = self.text.get(start..stop).unwrap_or_default();
                let last = head.split_whitespace().last().unwrap_or_default().to_lowercase();
                // "approx. 50", "No. 3", "Dr. Vance", "Nr. 7": no end of a sentence.
                let short = [
                    "no.", "nr.", "approx.", "ca.", "dr.", "mr.", "mrs.", "ms.", "st.", "vs.", "max.", "min.", "spec.",
                    "env.", "aprox.", "bzw.", "i.", "a.",
                ];
                if short.contains(&last.as_str()) {
                    continue;
                }
                spans.push((start, stop));
                start = stop;
            }
        }
        if start < self.text.len() {
            spans.push((start, self.text.len()));
        }
        spans
    }
}

/// Reads running lines.
pub fn read(rows: &[Row], words: &dyn Fn(WordId) -> Option<(String, Where)>, desk: &mut Desk<'_>) {
    let paragraph = Paragraph::of(rows, words);
    let line = rows.first().map_or(0, |r| r.line);
    let unsure = rows.iter().flat_map(|r| &r.cells).find(|c| c.recognized.is_some());
    for (start, end) in paragraph.sentences() {
        sentence(&paragraph, start, end, line, unsure, desk);
    }
}

struct Found {
    start: usize,
    end: usize,
    value: Value,
    other: Option<Value>,
}

fn sentence(paragraph: &Paragraph, start: usize, end: usize, line: u32, unsure: Option<&Cell>, desk: &mut Desk<'_>) {
    let text = paragraph.text.get(start..end).unwrap_or_default().to_owned();
    facts(paragraph, &text, start, desk);
    let dates = value::date::find_dates(&text);
    for date in &dates {
        desk.ledger.set_aside(&paragraph.words_in(start + date.start, start + date.end), "date");
    }
    let found: Vec<Found> = desk
        .style
        .find(&text)
        .into_iter()
        .filter(|(l, _)| !dates.iter().any(|d| l.start < d.end && d.start < l.end))
        .map(|(l, other)| Found { start: l.start, end: l.end, value: l.value, other })
        .collect();
    let found = name_bounds(found, &text);
    if found.is_empty() {
        return;
    }
    of_state(paragraph, &text, start, desk);
    // The words between two figures belong in part to the one before, in part to the one after.
    let mut segments: Vec<(String, String)> = Vec::new();
    for (at, figure) in found.iter().enumerate() {
        let previous = at.checked_sub(1).and_then(|p| found.get(p)).map_or(0, |f| f.end);
        let between = text.get(previous..figure.start).unwrap_or_default();
        let (tail, head) = if at == 0 { ("", between) } else { divide(between) };
        if let Some(last) = segments.last_mut() {
            tail.clone_into(&mut last.1);
        }
        segments.push((head.to_owned(), String::new()));
    }
    if let (Some(last), Some(figure)) = (segments.last_mut(), found.last()) {
        let rest = text.get(figure.end..).unwrap_or_default();
        let stop = rest.find([';']).unwrap_or(rest.len());
        rest.get(..stop).unwrap_or_default().clone_into(&mut last.1);
    }
    let vessels = vessels_in(&text, desk.lexicon);
    let mut after_mode: Option<bool> = None;
    let mut last_target: Option<(Target, usize)> = None;
    // "New resin of this class shows 2.0 meq/mL and 44 to 48 % moisture."
    let of_new = segments.first().is_some_and(|(before, _)| {
        let label = desk.lexicon.understand(before, &[]);
        (label.has_context("new") || label.has_context("startup"))
            && label.target.as_ref().is_none_or(|t| !t.is_figure())
    });
    for (at, (figure, (before, after))) in found.iter().zip(&segments).enumerate() {
        // What the sentence says of the feed holds for all its figures: "the feed holds 280 mg/L of hardness and 0.8 of iron".
        let section = desk.section.clone();
        let so_far = text.get(..figure.start).unwrap_or_default();
        for context in ["feed", "outlet", "wash"] {
            if desk.lexicon.understand(so_far, &[]).has_context(context)
                || desk.lexicon.understand(after, &[]).has_context(context)
            {
                desk.section.extend(desk.lexicon.facet_id(context));
            }
        }
        let front = named(before, figure, desk);
        let back = named(after, figure, desk);
        desk.section = section;
        let role = of_new
            .then_some(Role::Specification)
            .or_else(|| role_in(before, desk.lexicon))
            .or_else(|| compares(before).then_some(Role::Previous))
            .or_else(|| role_in(after, desk.lexicon).filter(|_| front.is_none() || before.trim().is_empty()));
        let words = paragraph.words_in(start + figure.start, start + figure.end);
        // "the remaining 5 percent were fragments": a share of the beads, and none of new resin.
        let of_beads = |label: &Option<Label>| {
            label.as_ref().and_then(|l| l.target.as_ref()).is_some_and(|t| t.id().ends_with("_beads"))
        };
        let role = role.filter(|r| !(*r == Role::PercentOfNew && (of_beads(&front) || of_beads(&back))));
        if let Some(role) = role
            && !(matches!(role, Role::Specification)
                && at == 0
                && front.as_ref().is_some_and(|l| !l.has_context("new"))
                && !spec_word(before, desk.lexicon))
        {
            let reason = match role {
                Role::PercentOfNew => "percent-of-new",
                Role::DetectionLimit => "detection-limit",
                Role::Previous | Role::Change => "earlier-figure",
                Role::Count => "count",
                _ => "limit",
            };
            desk.ledger.set_aside(&words, reason);
            if let Some((target, index)) = &last_target
                && matches!(role, Role::Specification | Role::SpecificationLow | Role::SpecificationHigh)
                && let Some(draft) = desk.scopes.drafts.get_mut(*index)
                && let Some(known) = draft.figures.iter_mut().rev().find(|f| f.label.target.as_ref() == Some(target))
            {
                let slice = text.get(figure.start..figure.end).unwrap_or_default().to_owned();
                known.references.push(ReferenceText { role, text: slice, value: Some(figure.value.clone()) });
            }
            continue;
        }
        let (label, label_text, ambiguous) = match (front, back) {
            (Some(front), Some(back)) if front.target != back.target => match after_mode {
                Some(true) => (back, after, false),
                Some(false) => (front, before, false),
                None => (front, before, at > 0),
            },
            (Some(front), _) => {
                after_mode.get_or_insert(false);
                (front, before, false)
            }
            (None, Some(back)) => {
                after_mode.get_or_insert(true);
                (back, after, false)
            }
            (None, None) => continue,
        };
        let mut label = label;
        if label.basis.is_none() {
            // "3,450 mg/kg on dry resin": the basis stands behind the figure.
            label.basis = desk.lexicon.understand(after, &[]).basis;
        }
        let Some(target) = label.target.clone() else { continue };
        let mut doubts: Vec<Doubt> =
            unsure.and_then(|cell| table::recognized(cell, Some(&target))).into_iter().collect();
        if figure.value.blank_grouped && desk.style.decimal() != Some(value::Decimal::Comma) {
            doubts.push(Doubt::new(
                "blank-grouped",
                Some(target.id()),
                "Figures with a blank between them are read as one number; they may be two.",
                &paragraph.place(start + figure.start),
            ));
        }
        let negated =
            ["no", "not", "nicht", "pas", "no menos"].iter().any(|w| before.trim_end().to_lowercase().ends_with(w));
        if ambiguous || negated {
            doubts.push(Doubt::new(
                "ambiguous-label",
                Some(target.id()),
                "The words before and behind this figure name different properties.",
                &paragraph.place(start + figure.start),
            ));
        }
        let slice = text.get(figure.start..figure.end).unwrap_or_default().trim().to_owned();
        // In a sentence on two vessels a figure is the nearer one's.
        if let Some((from, to)) = vessels.iter().rfind(|(_, to)| *to <= figure.start).filter(|_| vessels.len() > 1)
            && let Some(name) = text.get(*from..*to)
        {
            let fact = Fact {
                key: "vessel".into(),
                text: name.to_owned(),
                place: paragraph.place(start + from),
                ..Fact::default()
            };
            desk.scopes.learn(fact, desk.lexicon);
        }
        let index = desk.scopes.open_index();
        desk.ledger.read(&words);
        if let Some(draft) = desk.scopes.drafts.get_mut(index) {
            let (low, high) = draft.lines.unwrap_or((line, line));
            draft.lines = Some((low.min(line), high.max(line)));
            draft.figures.push(Figure {
                label_text: label_text.trim().trim_matches([',', ';', ':', '(', ')']).trim().to_owned(),
                label,
                value: figure.value.clone(),
                other_style: figure.other.clone(),
                head: None,
                unit_column: None,
                section_unit: None,
                references: Vec::new(),
                detection_limit: None,
                deviation: None,
                method: None,
                as_written: slice,
                place: paragraph.place(start + figure.start),
                doubts,
                is_mean: false,
                is_replicate: false,
                in_column: false,
            });
        }
        last_target = Some((target, index));
    }
}

/// "<0.3 mm 1.1 %": a size that bounds, before a share, belongs to the words and is no figure.
fn name_bounds(found: Vec<Found>, text: &str) -> Vec<Found> {
    let names: Vec<bool> = found
        .iter()
        .enumerate()
        .map(|(at, figure)| {
            let size = figure.value.unit.as_ref().is_some_and(|u| u.dimension.length == 1 && u.dimension.mass == 0)
                || figure.value.unit.as_ref().is_some_and(|u| u.kind == UnitKind::Mesh);
            let bound = figure.value.bound.is_some() || figure.value.qualifier != crate::record::Qualifier::Equal;
            let next = found.get(at + 1).filter(|n| {
                n.value.unit.as_ref().is_some_and(|u| u.kind == UnitKind::Percent)
                    && text.get(figure.end..n.start).is_some_and(|t| t.trim().len() <= 4)
            });
            size && bound && next.is_some()
        })
        .collect();
    found.into_iter().zip(names).filter(|(_, names)| !names).map(|(f, _)| f).collect()
}

/// "As received, the resin held ...", "After cleaning, the capacity was ...": the state that a sentence begins with.
fn of_state(paragraph: &Paragraph, text: &str, start: usize, desk: &mut Desk<'_>) {
    let Some((clause, _)) = text.split_once(',') else { return };
    let label = desk.lexicon.understand(clause.trim(), &[]);
    let Some(state) = label.state.filter(|s| matches!(s.as_str(), "as-received" | "after-cleaning")) else { return };
    if label.unexplained.len() > 1 || clause.split_whitespace().count() > 6 {
        return;
    }
    let fact = Fact {
        key: "condition".into(),
        text: state,
        place: paragraph.place(start),
        words: Vec::new(),
        order: None,
        trust: Trust::Stated,
    };
    desk.scopes.learn(fact, desk.lexicon);
}

fn spec_word(text: &str, lexicon: &Lexicon) -> bool {
    text.split_whitespace().any(|w| lexicon.role(w).is_some_and(|r| matches!(r, Role::Specification)))
}

/// "against 1.9", "down from 61": compared with, not found.
fn compares(before: &str) -> bool {
    static WORDS: OnceLock<Option<Regex>> = OnceLock::new();
    WORDS
        .get_or_init(|| {
            Regex::new(r"(?i)\b(?:against|from|versus|vs|compared (?:with|to)|instead of|gegen(?:über)?|statt|von zuvor|nach zuletzt|contre|au lieu de|frente a|contra|en lugar de|limit(?: of| is)?|than)\W*(?:the|a|an|der|die|das|den|le|la|les|el|los)?\W*$").ok()
        })
        .as_ref()
        .is_some_and(|p| p.is_match(before))
}

/// Where the words between two figures part: at a comma, a semicolon, a bracket or an "and".
fn divide(between: &str) -> (&str, &str) {
    static BORDER: OnceLock<Option<Regex>> = OnceLock::new();
    let border = BORDER
        .get_or_init(|| {
            Regex::new(
                r"(?i)[,;()]|\s(?:and|und|et|y|e|sowie|while|whereas|but|aber|mais|pero|with|bei|mit|avec|con)\s",
            )
            .ok()
        })
        .as_ref()
        .and_then(|p| p.find_iter(between).last());
    match border {
        Some(found) => {
            (between.get(..found.start()).unwrap_or_default(), between.get(found.start()..).unwrap_or_default())
        }
        None => ("", between),
    }
}

/// The property that words name, if the figure's unit can be one of it.
fn named(words: &str, figure: &Found, desk: &Desk<'_>) -> Option<Label> {
    let mut text = words;
    // Only the clause next to the figure counts, unless it names nothing.
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return None;
    }
    let mut label = desk.lexicon.understand(trimmed, &desk.section);
    if label.target.as_ref().is_none_or(|t| !t.is_figure()) {
        let clause = text.rsplit([',', ';', ':']).next().unwrap_or_default();
        text = clause;
        label = desk.lexicon.understand(text.trim(), &desk.section);
    }
    let target = label.target.clone()?;
    let quantity: &Quantity = match &target {
        Target::Property(id) => desk.lexicon.property(id)?,
        Target::Field(id) => desk.lexicon.field(id)?,
        Target::Key(_) => return None,
    };
    let fits = match &figure.value.unit {
        Some(unit) => unit_fits(unit, quantity),
        None => quantity.units.values().any(|u| u == "1") || figure.value.not_detected,
    };
    fits.then_some(label)
}

/// Whether a figure in this unit can be one of the quantity.
pub fn unit_fits(unit: &Unit, quantity: &Quantity) -> bool {
    quantity.units.values().any(|canonical| {
        let Some(target) = Unit::parse(canonical) else { return canonical == "1" };
        if unit.dimension == target.dimension && (unit.kind == UnitKind::Percent) == (target.kind == UnitKind::Percent)
        {
            return true;
        }
        let mass_volume = unit.dimension.mass == 1 && unit.dimension.length == -3;
        let fraction = matches!(
            unit.kind,
            UnitKind::Percent | UnitKind::PartsPerMillion | UnitKind::Permille | UnitKind::PartsPerBillion
        );
        match canonical.as_str() {
            "eq/L" => mass_volume && (unit.substance.is_some() || unit.kind == UnitKind::Grains),
            "mg/kg" | "mg/L" => fraction || mass_volume,
            _ => false,
        }
    })
}

/// Facts named in a sentence: a vessel, the date it was sampled.
fn facts(paragraph: &Paragraph, text: &str, start: usize, desk: &mut Desk<'_>) {
    for mention in mentions::find(text, desk.lexicon) {
        let at = start + mention.start;
        let words = paragraph.words_in(at, start + mention.end);
        let said = text.get(mention.start..mention.end).unwrap_or_default();
        mentions::learn_one(
            &mention,
            said,
            &mentions::Origin { place: &paragraph.place(at), words: &words, sentence: true },
            desk,
        );
    }
    for (from, to) in vessels_in(text, desk.lexicon).into_iter().take(1) {
        let words = paragraph.words_in(start + from, start + to);
        desk.ledger.set_aside(&words, table::reason("vessel"));
        let fact = Fact {
            key: "vessel".into(),
            text: text.get(from..to).unwrap_or_default().trim().to_owned(),
            place: paragraph.place(start + from),
            words,
            order: None,
            trust: Trust::Stated,
        };
        desk.scopes.learn(fact, desk.lexicon);
    }
}

/// "Softener B", "Tank No. 3", "Enthärter 2": a vessel's word with a short mark behind it.
fn vessels_in(text: &str, lexicon: &Lexicon) -> Vec<(usize, usize)> {
    let Some(vessel) = lexicon.facet_id("vessel") else { return Vec::new() };
    let list = crate::lexicon::words(text);
    let mut found = Vec::new();
    for pair in list.windows(2) {
        let [word, mark] = pair else { continue };
        let (Some(written), Some(between), Some(mark_text)) =
            (text.get(word.start..word.end), text.get(word.end..mark.start), text.get(mark.start..mark.end))
        else {
            continue;
        };
        if written.chars().count() < 4 {
            continue;
        }
        let label = lexicon.understand(written, &[]);
        if !label.facets.contains(&vessel) || !label.unexplained.is_empty() {
            continue;
        }
        let short = mark_text.chars().count() <= 3
            && mark_text.chars().all(|c| c.is_ascii_digit() || c.is_ascii_uppercase())
            && mark_text.chars().any(|c| c.is_ascii_digit() || mark_text.chars().count() == 1);
        if short && between.trim().chars().all(|c| matches!(c, '#' | '-' | '.' | ':')) {
            found.push((word.start, mark.end));
        }
    }
    found
}
