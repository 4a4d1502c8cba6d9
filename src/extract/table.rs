//! A band of rows as a table: which way it runs, what each column holds, and the figures in it.
//!
//! Every table is read with its properties down the side; one with its properties across the top is turned first.

mod columns;
mod figures;
mod samples;
mod settle;
mod turn;

use super::bands::{self, Span};
use super::cells::{Cell, Row};
use super::ledger::{Ledger, WordId};
use super::scope::{Fact, Scopes, Trust};
use super::style::Style;
use super::{Figure, ReferenceText};
use super::{mentions, prose};
use crate::lexicon::{FacetId, FacetKind, Label, Lexicon, Role, Target, fold};
use crate::quantity::{Matter, Unit};
use crate::record::{Doubt, Qualifier};
pub use columns::is_pair_row;
use columns::*;
pub use figures::recognized;
use figures::*;
use regex::Regex;
use samples::*;
pub use samples::{name_facts, names_sample};
use settle::*;
use std::sync::OnceLock;
use turn::*;
pub use turn::{has_grouped, turn, turned};

/// What the reading of a table needs at hand.
pub struct Desk<'a> {
    /// Words.
    pub lexicon: &'a Lexicon,
    /// Number style of the part.
    pub style: &'a Style,
    /// Samples.
    pub scopes: &'a mut Scopes,
    /// Account of numbers.
    pub ledger: &'a mut Ledger,
    /// Facets of the headings above.
    pub section: Vec<FacetId>,
    /// Unit that a heading gives to all below it.
    pub section_unit: Option<Unit>,
    /// What the page's footnotes say, by their marks.
    pub footnotes: &'a Footnotes,
}

/// Facets that footnotes give to the figures that carry their mark.
pub type Footnotes = std::collections::HashMap<String, Vec<FacetId>>;

/// What a column holds.
#[derive(Clone, Debug, PartialEq)]
enum Holds {
    Label,
    Value,
    Reference(Role),
    Unit,
    Method,
    Detection,
    Deviation,
    Basis,
    Sign,
    Fact(String),
    Other(Role),
    Words,
}

#[derive(Clone, Debug)]
struct Column {
    span: Span,
    holds: Holds,
    head: Option<Label>,
    head_text: String,
    facts: Vec<Fact>,
    previous: bool,
    mean: bool,
    replicate: bool,
    named: bool,
    unsure: bool,
    /// Its head says that it holds the result.
    is_result: bool,
    /// Its head says of what the figures are ("dry basis", "result") and names no sample.
    describes: bool,
}

/// Columns of a table, kept for the bands below it that have no head of their own.
#[derive(Clone, Debug, Default)]
pub struct Carried {
    columns: Vec<Column>,
    samples: Vec<Option<usize>>,
}

/// Reads a band as a table with its properties down the side. Returns what bands below may need.
pub fn read(rows: &[Row], desk: &mut Desk<'_>, carried: Option<Carried>) -> Option<Carried> {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let carried_down = carry_groups(rows, lexicon, style);
    let marked = mark_groups(&carried_down, &desk.section, lexicon, style);
    let rows = marked.as_slice();
    let body: Vec<&Row> = rows.iter().filter(|r| figure_row(r, lexicon, style)).collect();
    if body.is_empty() {
        facts_only(rows, desk);
        return carried;
    }
    let first = rows.iter().position(|r| figure_row(r, lexicon, style)).unwrap_or(0);
    let spans = bands::columns(&body);
    // Heads stand right above the figures; facts further up have labels of their own.
    let mut heads: Vec<&Row> = rows
        .iter()
        .take(first)
        .rev()
        .take_while(|r| r.cells.len() == 1 || is_head_row(r, lexicon, style))
        .filter(|r| is_head_row(r, lexicon, style))
        .collect();
    heads.reverse();
    let mut columns = describe(&spans, &heads, &body, desk);
    attribute_rows(rows, &mut columns, desk);
    let has_heads = columns.iter().any(|c| c.named || !c.facts.is_empty());
    let reused = carried.filter(|c| !has_heads && fits(&c.columns, &spans));
    let (columns, samples) = match reused {
        Some(known) => (known.columns, known.samples),
        None => {
            settle(&mut columns, &body, desk);
            let samples = open_samples(&columns, desk);
            (columns, samples)
        }
    };
    let value_columns = columns.iter().filter(|c| c.holds == Holds::Value).count();
    let mut group: Vec<FacetId> = Vec::new();
    for row in rows {
        let head_row = heads.iter().any(|h| std::ptr::eq(*h, row));
        if head_row || is_attribute_row(row, &columns, lexicon, style) {
            for cell in &row.cells {
                desk.ledger.set_aside(&cell.words, "heading");
            }
            continue;
        }
        if figure_row(row, lexicon, style) {
            figures(row, &columns, &samples, &group, desk);
            continue;
        }
        // The name of a sample between its rows and another's, before what it may mention is looked for.
        if let [only] = row.cells.as_slice()
            && !only.colon
            && only.word_count() <= 8
            && only.seen(lexicon, style).value.is_none()
            && names_sample(only, desk)
        {
            group = lexicon.heading_facets(&only.text);
            continue;
        }
        if facts_of_row(row, desk, value_columns) {
            continue;
        }
        if row.cells.len() == 1
            && let Some(cell) = row.cells.first()
            && (cell.word_count() <= 8 || super::runs::is_long_heading(&cell.text))
            && cell.seen(lexicon, style).value.is_none()
        {
            group = lexicon.heading_facets(&cell.text);
            // "RESIN" under figures of the water: what its section said of the water no longer holds.
            if lexicon.facet_id("resin").is_some_and(|r| lexicon.understand(&cell.text, &[]).facets.contains(&r)) {
                let context = |id: &FacetId| lexicon.facet(*id).is_some_and(|f| f.kind == FacetKind::Context);
                desk.section.retain(|id| !context(id));
            }
            names_sample(cell, desk);
            continue;
        }
        figures(row, &columns, &samples, &group, desk);
    }
    let mut distinct: Vec<usize> = samples.iter().flatten().copied().collect();
    distinct.sort_unstable();
    distinct.dedup();
    if distinct.len() > 1 {
        desk.scopes.leave_table();
    }
    Some(Carried { columns, samples })
}

fn fits(known: &[Column], spans: &[Span]) -> bool {
    !known.is_empty()
        && spans.len() <= known.len()
        && spans.iter().all(|s| known.iter().any(|c| c.span.x0 < s.x1 && s.x0 < c.span.x1))
}

/// Reason for which the words of a fact are set aside.
pub fn reason(key: &str) -> &'static str {
    match key {
        "sampled_on" | "received_on" | "reported_on" | "installed_on" | "analysed_on" => "date",
        "customer" | "site" => "address",
        "resin" => "resin-name",
        "remark" => "remark",
        _ => "identifier",
    }
}

/// Facts in the rows of a band that holds no figure.
fn facts_only(rows: &[Row], desk: &mut Desk<'_>) {
    for row in rows {
        facts_of_row(row, desk, 0);
    }
}

/// Takes the facts of a row: "Vessel | Softener 2", "Sampled: 2025-03-01   Received: 2025-03-04".
pub fn facts_of_row(row: &Row, desk: &mut Desk<'_>, value_columns: usize) -> bool {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let mut any = false;
    let mut at = 0;
    while let Some(cell) = row.cells.get(at) {
        let seen = cell.seen(lexicon, style);
        let label = &seen.label;
        // "For: Selby Malt Co."
        if cell.colon
            && matches!(fold(&cell.text).as_str(), "for" | "fur" | "pour" | "para")
            && let Some(next) = row.cells.get(at + 1)
        {
            take_fact("customer", &next.text, next.words.clone(), next.place.clone(), Vec::new(), desk);
            any = true;
            at += 2;
            continue;
        }
        let Some(Target::Key(key)) = &label.target else {
            let titled = |next: &Cell| crate::lexicon::class_words_in(&next.text).is_some();
            if !cell.colon
                && value_columns <= 1
                && row.cells.get(at + 1).is_none_or(|next| next.colon || titled(next))
                && row.cells.len() > 1
                && seen.value.is_none()
                && names_sample(cell, desk)
            {
                any = true;
                at += 1;
                continue;
            }
            any |= mentions::learn(&cell.text, &mentions::Origin::of(cell), desk);
            if cell.colon
                && label.target.is_none()
                && let Some(next) = row.cells.get(at + 1)
            {
                // A label that the lexicon does not know: its text is none of the facts, though it may name some.
                any |= mentions::learn(&next.text, &mentions::Origin::of(next), desk);
                at += 1;
            }
            at += 1;
            continue;
        };
        if !(cell.colon || label.is_clear()) || label.unexplained.len() > 2 {
            if !cell.colon && value_columns <= 1 && seen.value.is_none() {
                any |= names_sample(cell, desk);
            }
            any |= mentions::learn(&cell.text, &mentions::Origin::of(cell), desk);
            at += 1;
            continue;
        }
        let mut text = String::new();
        let mut words: Vec<WordId> = Vec::new();
        let mut end = at + 1;
        let mut place = None;
        while let Some(next) = row.cells.get(end) {
            if bands::is_label(next, lexicon, style) || (next.colon && end > at + 1) {
                break;
            }
            if !text.is_empty() && !next.cut && row.cells.len() != end + 1 {
                break;
            }
            if !text.is_empty() {
                text.push(' ');
            }
            text.push_str(&next.text);
            words.extend(&next.words);
            place.get_or_insert_with(|| next.place.clone());
            end += 1;
        }
        // "Sample details   Results": two titles, and no name of a sample.
        let titles =
            lexicon.role(&text).is_some() && !text.chars().any(|c| c.is_ascii_digit()) && end == row.cells.len();
        if titles && matches!(key.as_str(), "sample_id" | "vessel") && !cell.colon {
            return any;
        }
        let label_number = label.loose_numbers.join(" ");
        if text.is_empty() && !label_number.is_empty() && label.unexplained.is_empty() {
            text = label_number;
            words.extend(&cell.words);
        }
        if !text.is_empty() && !crate::value::is_blank_mark(&text) && value_columns <= 64 {
            let key = key.clone();
            let place = place.unwrap_or_else(|| cell.place.clone());
            take_fact(&key, &text, words, place, cell.words.clone(), desk);
            any = true;
        }
        at = end.max(at + 1);
    }
    any
}

/// Takes one fact in, or what its text holds besides.
pub fn take_fact(
    key: &str,
    text: &str,
    words: Vec<WordId>,
    place: crate::place::Where,
    label_words: Vec<WordId>,
    desk: &mut Desk<'_>,
) {
    desk.ledger.set_aside(&words, reason(key));
    desk.ledger.set_aside(&label_words, "identifier");
    if key == "remark" {
        let draft = desk.scopes.open();
        draft.asides.push(super::Aside::Remark(crate::record::Remark { text: text.to_owned(), place }));
        return;
    }
    if key == "analysed_on" {
        return;
    }
    // "Bericht vom: 27.11.2024", "Probe vom: 12.11.2024"
    let dated = crate::value::date::parse_date(text).is_some_and(|d| d.start == 0 && d.end >= text.trim_end().len());
    let key = match key {
        "report_number" if dated => "reported_on",
        "sample_id" if dated => "sampled_on",
        _ => key,
    };
    // "Resin analysis report: Report No. TR-24817"
    let again = mentions::find(text, desk.lexicon)
        .into_iter()
        .find(|m| m.key == key && matches!(key, "report_number" | "sample_id"));
    let text = again.and_then(|m| text.get(m.start..)).unwrap_or(text);
    let own = mentions::own_part(key, text, desk.lexicon);
    if own == Some(0) {
        return;
    }
    let said = own.and_then(|end| text.get(..end)).unwrap_or(text).to_owned();
    let fact = Fact {
        key: key.to_owned(),
        text: said,
        place: place.clone(),
        words: words.clone(),
        order: desk.style.order(),
        trust: Trust::Stated,
    };
    desk.scopes.learn(fact, desk.lexicon);
    if let Some(rest) = own.and_then(|end| text.get(end..)) {
        mentions::learn(rest, &mentions::Origin { place: &place, words: &words, sentence: false }, desk);
    }
}

/// Footnote marks at the end of a cell: "Iron *", "1,420 (d)", "Total capacity¹".
pub fn marks(text: &str) -> Vec<String> {
    let trimmed = text.trim();
    if !trimmed.is_empty() && trimmed.chars().all(|c| super::cells::RAISED.contains(&c)) {
        return trimmed.chars().map(|c| plain_mark(&c.to_string())).collect();
    }
    if trimmed.len() == 1 && trimmed.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit()) {
        return vec![trimmed.to_owned()];
    }
    static MARK: OnceLock<Option<Regex>> = OnceLock::new();
    MARK.get_or_init(|| {
        Regex::new(
            r"(\*+|[†‡§#]+|[¹²³⁰⁴-⁹]+|\((?:\d{1,2}|[a-z]|[¹²³])\)|\s(?:\d|[a-z])\)|\[(?:\d|[a-z])\])(?:\s|,|:|$)",
        )
        .ok()
    })
    .as_ref()
    .map(|p| p.captures_iter(text).filter_map(|c| c.get(1)).map(|m| plain_mark(m.as_str())).collect())
    .unwrap_or_default()
}

/// "(1)", "1)", "¹" and "[1]" are one mark.
pub fn plain_mark(mark: &str) -> String {
    mark.chars()
        .filter_map(|c| match c {
            '(' | ')' | '[' | ']' | '.' | ':' | '=' => None,
            '¹' => Some('1'),
            '²' => Some('2'),
            '³' => Some('3'),
            '⁴' => Some('4'),
            '⁵' => Some('5'),
            'ᵃ' => Some('a'),
            'ᵇ' => Some('b'),
            'ᶜ' => Some('c'),
            'ᵈ' => Some('d'),
            'ᵉ' => Some('e'),
            'ᶠ' => Some('f'),
            'ᵍ' => Some('g'),
            'ʰ' => Some('h'),
            'ⁱ' => Some('i'),
            'ʲ' => Some('j'),
            _ if c.is_whitespace() => None,
            _ => Some(c),
        })
        .collect()
}
