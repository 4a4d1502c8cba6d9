//! Figures inside sentences.
//!
//! A figure of running text is read where the words around it name one property and its unit fits that property.
//! Words such as "new", "against", "last year", "limit" make it a reference, not a result.

use super::cells::{Cell, Row};
use super::ledger::WordId;
use super::naming::{Found, compares, divide, kin, name_bounds, named, speaks_of, spec_word};
use super::paragraph::{Paragraph, facts, vessels_in};
use super::scope::{Fact, Trust};
pub use super::several::figures_of_cell;
use super::several::role_in;
use super::table::{self, Desk};
use super::{Figure, ReferenceText, phrases};
use crate::lexicon::{Label, Role, Target};
use crate::place::Where;
use crate::quantity::{Unit, UnitKind};
use crate::record::Doubt;
use crate::value;

/// Reads running lines, each entry of a list by itself.
pub fn read(rows: &[Row], words: &dyn Fn(WordId) -> Option<(String, Where)>, desk: &mut Desk<'_>) {
    let mut from = 0;
    for at in 1..=rows.len() {
        if rows.get(at).is_none_or(begins_entry)
            && let Some(entry) = rows.get(from..at)
        {
            read_entry(entry, words, desk);
            from = at;
        }
    }
}

fn read_entry(rows: &[Row], words: &dyn Fn(WordId) -> Option<(String, Where)>, desk: &mut Desk<'_>) {
    let paragraph = Paragraph::of(rows, words);
    let line = rows.first().map_or(0, |r| r.line);
    let unsure = rows.iter().flat_map(|r| &r.cells).find(|c| c.recognized.is_some());
    let mut told = Told::default();
    for (start, end) in paragraph.sentences() {
        sentence(&paragraph, start, end, line, unsure, &mut told, desk);
    }
}

/// Whether a row begins an entry of a list: "* Beads: whole 97.5 %".
fn begins_entry(row: &Row) -> bool {
    row.cells.first().is_some_and(|c| {
        let mut chars = c.text.trim_start().chars();
        matches!(chars.next(), Some('*' | '-' | '•' | '–' | '·' | '►')) && chars.next().is_none_or(char::is_whitespace)
    })
}

/// What the figures so far were of.
#[derive(Default)]
struct Told {
    /// The last one was of the water and not of the resin.
    water: bool,
    /// The unit of the last one, and what it was.
    last: Option<(Unit, Target)>,
    /// The basis of metals that the sentence began with: "on dry resin we found 260 mg/kg of iron and ...".
    basis: Option<String>,
}

impl Told {
    fn see(&mut self, target: &Target, unit: Option<&Unit>) {
        self.water = matches!(target, Target::Field(id) if id.starts_with("feed_") || id == "outlet_hardness");
        self.last = unit.map(|u| (u.clone(), target.clone()));
    }
}

#[allow(clippy::too_many_lines)]
fn sentence(
    paragraph: &Paragraph,
    start: usize,
    end: usize,
    line: u32,
    unsure: Option<&Cell>,
    told: &mut Told,
    desk: &mut Desk<'_>,
) {
    let mut text = paragraph.text.get(start..end).unwrap_or_default().to_owned();
    facts(paragraph, &text, start, desk);
    text = phrases::plain_units(&text);
    told.last = None;
    told.basis = None;
    let general = phrases::basis_behind(&text, desk.lexicon);
    speak(paragraph, &mut text, start, line, general.as_deref(), told, desk);
    let base = phrases::tally(&text).filter(|_| phrases::share_of(&text, desk.lexicon));
    if let Some((from, to, _)) = base {
        let words = paragraph.words_in(start + from, start + to);
        desk.ledger.set_aside(&words, "count");
        blank(&mut text, from, to);
    }
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
    let mut found = name_bounds(found, &text);
    if found.is_empty() {
        return;
    }
    count_shares(&mut found, base.map(|b| b.2), &text, desk);
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
        let said = desk.lexicon.understand(so_far, &[]);
        let behind = desk.lexicon.understand(after, &[]);
        // "town water of 285 mg/l hardness is treated": what was said first of the water holds.
        let spoken_of = ["feed", "outlet"].iter().any(|c| said.has_context(c));
        for context in ["feed", "outlet", "wash"] {
            if said.has_context(context) || behind.has_context(context) && !(spoken_of && context != "wash") {
                desk.section.extend(desk.lexicon.facet_id(context));
            }
        }
        // "hardness of the well water 410 mg/L; iron 1.6 mg/L": what is counted per litre beside it is in the water.
        let per_litre = figure.value.unit.as_ref().is_some_and(|u| {
            (u.dimension.mass == 1 && u.dimension.length == -3 || u.kind == UnitKind::PartsPerMillion)
                && u.matter.is_none()
        });
        // Words beside it that name the resin, or a basis, say otherwise.
        let on_resin = [before, after].iter().any(|words| {
            desk.lexicon.understand(words, &[]).basis.is_some() || speaks_of(words, &["resin", "bead"], desk.lexicon)
        });
        let in_water = told.water && per_litre && !on_resin;
        if in_water && !said.has_context("wash") {
            desk.section.extend(desk.lexicon.facet_id("feed"));
        }
        let mut front = named(before, figure, false, desk);
        let mut back = named(after, figure, true, desk);
        // "town water of 285 mg/l hardness is treated"
        let treated = |label: &Label| label.target.as_ref().is_some_and(|t| t.id() == "outlet_hardness");
        if back.as_ref().is_some_and(treated) && said.has_context("feed") && !said.has_context("outlet") {
            let feed: Vec<_> = desk.lexicon.facet_id("feed").into_iter().collect();
            back = Some(desk.lexicon.understand("hardness", &feed));
        }
        if front.is_none() && back.is_none() {
            front = figure.value.unit.as_ref().and_then(|u| {
                let water = told.water
                    || ["feed", "outlet"].iter().any(|c| said.has_context(c) || behind.has_context(c))
                    || speaks_of(&text, &["water", "hardness"], desk.lexicon);
                phrases::by_unit(u, before, water, desk.lexicon)
            });
        }
        let mut assumed = None;
        if figure.value.unit.is_none() && front.is_none() && back.is_none() {
            // "TEC 1.22 eq/l, of which strong 1.03 and weak 0.19": a bare figure in a list has the unit of the others.
            let same = |label: &Label| {
                label
                    .target
                    .as_ref()
                    .zip(told.last.as_ref())
                    .is_some_and(|(t, (_, l))| t != l && kin(t, l, desk.lexicon))
            };
            let labels = [before, after].map(|words| desk.lexicon.understand(words.trim(), &desk.section));
            let [ahead, behind] = labels;
            if same(&ahead) && ahead.unexplained.len() <= 1 {
                front = Some(ahead);
                assumed.clone_from(&told.last);
            } else if same(&behind) && behind.unexplained.len() <= 1 {
                back = Some(behind);
                assumed.clone_from(&told.last);
            }
        }
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
        let role =
            role.filter(|r| !(matches!(*r, Role::PercentOfNew | Role::Count) && (of_beads(&front) || of_beads(&back))));
        // "The dried beads carry 540 mg/kg", "run length 260 m3": a count has no unit, and such a run is no repetition.
        let of_bed = back.as_ref().is_some_and(|l| matches!(l.target, Some(Target::Field(_))));
        let role =
            role.filter(|r| !(*r == Role::Count && figure.value.unit.is_some() || *r == Role::Replicate && of_bed));
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
        let element =
            matches!(&target, Target::Property(id) if desk.lexicon.property(id).is_some_and(|p| p.substance.is_some()));
        let per_mass = figure.value.unit.as_ref().is_some_and(|u| u.dimension.length == 0);
        if element && per_mass {
            // "On dry matter we found 260 mg/kg of iron and 1.35 g/kg of silica."
            if at == 0 {
                told.basis = desk.lexicon.understand(before, &[]).basis.filter(|b| b != "volume");
            }
            if label.basis.is_none() {
                label.basis = general.clone().or_else(|| told.basis.clone());
            }
        }
        let mut value = figure.value.clone();
        if let Some((unit, of)) = &assumed {
            value.unit = Some(unit.clone());
            if !of.id().ends_with("_beads") && !of.id().ends_with("_capacity") {
                doubts.push(Doubt::new(
                    "unit-assumed",
                    Some(target.id()),
                    format!("The unit \"{}\" is that of the figure before it.", unit.text),
                    &paragraph.place(start + figure.start),
                ));
            }
        }
        told.see(&target, value.unit.as_ref());
        if digits_before(so_far)
            && text.get(figure.start..).is_some_and(|t| t.starts_with(|c: char| c.is_ascii_digit()))
        {
            doubts.push(Doubt::new(
                "broken-number",
                Some(target.id()),
                "Digits stand right before this figure; both may be one number.",
                &paragraph.place(start + figure.start),
            ));
        }
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
                label_text: label_text
                    .split_whitespace()
                    .collect::<Vec<_>>()
                    .join(" ")
                    .trim_matches([',', ';', ':', '(', ')', '*', '-', '•', ' '])
                    .to_owned(),
                label,
                value,
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

/// Reads the figures that phrases of the grammar say, and blanks them.
fn speak(
    paragraph: &Paragraph,
    text: &mut String,
    start: usize,
    line: u32,
    basis: Option<&str>,
    told: &mut Told,
    desk: &mut Desk<'_>,
) {
    let spoken = phrases::find(text, desk.lexicon, desk.style);
    let whole = text.clone();
    for said in spoken {
        let words = paragraph.words_in(start + said.figure.0, start + said.figure.1);
        let clause = whole.get(..said.start).unwrap_or_default();
        let clause = clause.rsplit([';', '(']).next().unwrap_or_default();
        let around = format!("{clause} {}", whole.get(said.start..said.end).unwrap_or_default());
        let context = desk.lexicon.understand(&around, &[]);
        let own_start = said.label.target.as_ref().is_some_and(|t| t.id().ends_with("_at_startup"));
        blank(text, said.start, said.end);
        if context.has_context("new") || context.has_context("previous") || context.has_context("startup") && !own_start
        {
            desk.ledger.set_aside(&words, "limit");
            continue;
        }
        let Some(target) = said.label.target.clone() else { continue };
        let place = paragraph.place(start + said.figure.0);
        let mut doubts = Vec::new();
        if let Some(code) = &said.doubt {
            doubts.push(Doubt::new(
                code,
                Some(target.id()),
                "The unit is the one that this figure is always given in.",
                &place,
            ));
        }
        let mut label = said.label;
        if label.basis.is_none()
            && matches!(&target, Target::Property(id) if desk.lexicon.property(id).is_some_and(|p| p.substance.is_some()))
        {
            label.basis = basis.map(str::to_owned);
        }
        let index = desk.scopes.open_index();
        desk.ledger.read(&words);
        told.see(&target, said.value.0.unit.as_ref());
        let Some(draft) = desk.scopes.drafts.get_mut(index) else { continue };
        let (low, high) = draft.lines.unwrap_or((line, line));
        draft.lines = Some((low.min(line), high.max(line)));
        draft.figures.push(Figure {
            label,
            value: said.value.0,
            other_style: said.value.1,
            head: None,
            unit_column: None,
            section_unit: None,
            label_text: whole.get(said.start..said.end).unwrap_or_default().trim().to_owned(),
            references: Vec::new(),
            detection_limit: None,
            deviation: None,
            method: None,
            as_written: whole
                .get(said.figure.0..said.figure.1)
                .unwrap_or_default()
                .trim_matches([' ', '.', ',', ';'])
                .to_owned(),
            place,
            doubts,
            is_mean: false,
            is_replicate: false,
            in_column: false,
        });
    }
}

/// Blanks bytes of a text, with a comma first, so that what stands on either side is parted.
fn blank(text: &mut String, from: usize, to: usize) {
    if to > from && text.is_char_boundary(from) && text.is_char_boundary(to) {
        text.replace_range(from..to, &format!(",{}", " ".repeat(to - from - 1)));
    }
}

/// Bare counts of whole, cracked and broken beads become shares: of the beads counted, or of a hundred that they make up.
fn count_shares(found: &mut [Found], base: Option<f64>, text: &str, desk: &Desk<'_>) {
    let bare: Vec<f64> = found
        .iter()
        .filter(|f| f.value.unit.is_none() && f.value.decimals == 0)
        .filter_map(|f| f.value.value)
        .collect();
    let label = desk.lexicon.understand(text, &[]);
    let names = ["whole", "perfect", "cracked", "broken"]
        .iter()
        .filter(|id| desk.lexicon.facet_id(id).is_some_and(|f| label.facets.contains(&f)))
        .count();
    let hundred = bare.len() >= 2 && names >= bare.len().min(3) && (bare.iter().sum::<f64>() - 100.0).abs() < 0.01;
    let Some(base) = base.or_else(|| hundred.then_some(100.0)) else { return };
    if names == 0 {
        return;
    }
    for figure in found.iter_mut().filter(|f| f.value.unit.is_none() && f.value.decimals == 0) {
        let Some(count) = figure.value.value.filter(|c| *c <= base) else { continue };
        if let Some((share, _)) = desk.style.value(&phrases::percent(count, base)) {
            figure.value = share;
            figure.other = None;
        }
    }
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

/// "275 0 ppm", "7 9 %": one to three digits and a blank before a figure. Years and parts of a decimal are no such digits.
fn digits_before(text: &str) -> bool {
    let Some(before) = text.strip_suffix(' ').filter(|t| t.ends_with(|c: char| c.is_ascii_digit())) else {
        return false;
    };
    let digits = before.chars().rev().take_while(char::is_ascii_digit).count();
    let earlier = before.chars().rev().nth(digits);
    digits <= 3 && earlier.is_none_or(|c| c.is_whitespace() || c == '(')
}
