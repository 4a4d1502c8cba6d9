//! Rows in order to labelled figures: headings, sub-labels, columns, and lists that copying tore apart.

use super::heads::{Column, heads, under};
use super::label::{Kind, Lab, Reader};
use super::rows::{Fig, Piece, Row, joined, pieces};
use super::settle::Settler;
use super::words::Limit;
use crate::lexicon::is_method;
use crate::quantity::Unit;
use crate::record::{Doubt, SetAside, Unread};
use crate::value::Decimal;

/// Lines with more words than this are prose.
const PROSE: usize = 18;
/// Headings have no more words than this.
const HEADING: usize = 9;

/// A figure with its label, and whose it is.
#[derive(Clone, Debug)]
pub struct Found {
    /// Product that has its own column or row.
    pub product: Option<String>,
    /// Part of a mixed bed.
    pub component: Option<String>,
    /// Form that has its own column.
    pub column_form: Option<String>,
    /// What it is.
    pub lab: Lab,
    /// The figure.
    pub fig: Fig,
    /// Form of this figure, where its label or its own words name one.
    pub form: Option<String>,
    /// What is not sure of the match.
    pub doubt: Option<Doubt>,
}

/// What the rows came to.
#[derive(Debug, Default)]
pub struct Walked {
    /// Figures of the resin.
    pub found: Vec<Found>,
    /// Numbers that are not the resin's own.
    pub set_aside: Vec<SetAside>,
    /// Numbers that were not understood.
    pub unread: Vec<Unread>,
    /// Forms as sold, by part of a mixed bed.
    pub shipped: Vec<(Option<String>, Vec<String>)>,
    /// Words about each product that has its own column: the product, and what stands in its column.
    pub described: Vec<(String, String)>,
}

/// The state between rows.
pub struct Walk<'a> {
    pub(super) reader: &'a Reader<'a>,
    pub(super) settler: &'a Settler<'a>,
    pub(super) style: Decimal,
    pub(super) out: Walked,
    pub(super) operating: bool,
    pub(super) parent: Option<Lab>,
    pub(super) columns: Vec<Column>,
    pub(super) columns_fresh: bool,
    pub(super) table: Option<(usize, u32)>,
    pub(super) across: Vec<(Lab, (f32, f32))>,
    pub(super) component: Option<String>,
    pub(super) labels: Vec<Lab>,
    pub(super) values: Vec<Fig>,
    pub(super) units: Vec<Unit>,
    pub(super) expect_form: bool,
}

impl<'a> Walk<'a> {
    /// At the first row.
    pub fn new(reader: &'a Reader<'a>, settler: &'a Settler<'a>, style: Decimal) -> Self {
        Self {
            reader,
            settler,
            style,
            out: Walked::default(),
            operating: false,
            parent: None,
            columns: Vec::new(),
            columns_fresh: false,
            table: None,
            across: Vec::new(),
            component: None,
            labels: Vec::new(),
            values: Vec::new(),
            units: Vec::new(),
            expect_form: false,
        }
    }

    /// Takes all rows.
    pub fn through(mut self, rows: &[Row]) -> Walked {
        for row in rows {
            self.row(row);
        }
        self.flush();
        self.out
    }

    fn row(&mut self, row: &Row) {
        if row.table != self.table {
            self.flush();
            if row.table.is_some() {
                self.columns.clear();
                self.parent = None;
            }
            self.across.clear();
            self.table = row.table;
        }
        if self.describes_products(row) || self.shipped(row) {
            return;
        }
        if self.heads_across(row) {
            self.columns_fresh = false;
            return;
        }
        if let Some(columns) = heads(row, self.reader, self.style) {
            self.flush();
            self.labels.clear();
            self.columns = if self.columns_fresh { under(&self.columns, columns) } else { columns };
            self.columns_fresh = true;
            return;
        }
        if self.row_across(row) {
            self.columns_fresh = false;
            return;
        }
        let parts = joined(pieces(row, self.style));
        let words: usize = row.cells.iter().map(|cell| cell.text.split_whitespace().count()).sum();
        if words > PROSE && row.cells.len() <= 2 && row.table.is_none() {
            self.prose(&parts);
            return;
        }
        if self.is_label_with_cut(&parts, row) {
            self.words(row, words);
        } else if parts.iter().any(|part| matches!(part, Piece::Fig(_))) {
            self.columns_fresh = false;
            self.figures(parts, row);
        } else {
            self.words(row, words);
        }
    }

    /// "Fines content < 0.300 mm" without its figure.
    fn is_label_with_cut(&self, parts: &[Piece], row: &Row) -> bool {
        let figures = parts.iter().filter(|part| matches!(part, Piece::Fig(_))).count();
        if figures != 1 || row.table.is_some() {
            return false;
        }
        let lab = self.reader.label(&text_of(row));
        let Kind::Property(id) = &lab.kind else { return false };
        lab.cut.is_some() && lab.unexplained.is_empty() && self.reader.lexicon.property(id).is_some_and(|p| p.cut)
    }

    /// "Ionic form as shipped: Na+".
    fn shipped(&mut self, row: &Row) -> bool {
        let text = text_of(row);
        if self.expect_form {
            let (rest, mut forms) = self.reader.take_forms(&text);
            if forms.is_empty() && text.split_whitespace().count() <= 3 {
                forms = self.reader.take_forms(&format!("{} form", text.trim())).1;
            }
            let rest = self.reader.words.filler.without(&rest).0;
            let heading = text.contains("form")
                && self.values.is_empty()
                && matches!(self.labels.last(), Some(l) if l.kind != Kind::Aside);
            if !forms.is_empty() && !rest.chars().any(char::is_alphanumeric) && !heading {
                self.expect_form = false;
                self.out.shipped.push((self.component.clone(), forms));
                return true;
            }
        }
        let Some(after) = self.reader.words.shipped.after(&text) else { return false };
        let after = after.trim().trim_start_matches([':', ',', '-', '(', ')', '.']).trim();
        if after.is_empty() {
            self.expect_form = true;
            return false;
        }
        let mut forms = self.reader.take_forms(after).1;
        if forms.is_empty() && after.split_whitespace().count() <= 4 {
            for word in after.split(['/', ' ', ',']).filter(|word| !word.is_empty()) {
                forms.extend(self.reader.take_forms(&format!("{word} form")).1);
            }
        }
        if forms.is_empty() || row.cells.len() > 3 {
            return false;
        }
        self.out.shipped.push((self.component.clone(), forms));
        true
    }

    fn words(&mut self, row: &Row, count: usize) {
        let text = text_of(row);
        let words = self.reader.words;
        if self.reader.mixed && count <= 5 {
            let hit = words
                .component(&text)
                .filter(|(_, rest)| !words.filler.without(rest).0.chars().any(char::is_alphanumeric));
            if let Some((id, _)) = hit {
                self.flush();
                self.component = Some(id.to_owned());
                self.columns.clear();
                self.parent = None;
                return;
            }
        }
        if words.label.is(&text) || words.value.is(&text) || words.other.is(&text) {
            return;
        }
        if self.heads_in_words(&text, count) {
            return;
        }
        let mut lab = self.lab(&text);
        if matches!(lab.kind, Kind::Property(_)) && !lab.unexplained.is_empty() {
            // Words of description, as "Amber spherical beads", are no label.
            lab.kind = Kind::Unknown;
        }
        if count <= HEADING && !matches!(lab.kind, Kind::Property(_) | Kind::Sub) {
            let operating = words.operating.within(&text);
            if operating || words.properties.within(&text) {
                if !self.values.is_empty() {
                    self.flush();
                }
                self.operating = operating;
                self.parent = None;
                if operating {
                    self.component = None;
                }
                return;
            }
        }
        self.columns_fresh = false;
        match lab.kind {
            Kind::Shipped => {}
            Kind::Told => self.labels.push(lab),
            Kind::Property(_) | Kind::Aside => {
                if !self.values.is_empty() {
                    self.flush();
                }
                let wrapped = self.wrapped(&text);
                if let Some(whole) = wrapped {
                    self.labels.pop();
                    self.parent = Some(whole.clone());
                    self.labels.push(whole);
                } else {
                    self.parent = Some(lab.clone());
                    self.labels.push(lab);
                }
            }
            Kind::Sub => self.sub(lab),
            Kind::Unknown => {
                if let Some(whole) = self.wrapped(&text) {
                    self.labels.pop();
                    self.parent = Some(whole.clone());
                    self.labels.push(whole);
                } else if self.values.is_empty() {
                    self.labels.push(lab);
                } else if self.values.len() >= self.labels.iter().filter(|l| l.kind != Kind::Unknown).count() {
                    self.flush();
                    self.labels.push(lab);
                }
            }
        }
    }

    /// The label before this line and this line as one, where only both together are understood.
    fn wrapped(&self, text: &str) -> Option<Lab> {
        let last = self.labels.last().filter(|_| self.values.is_empty())?;
        let alone = self.reader.label(text);
        let whole = self.lab(&format!("{} {text}", last.text));
        let both = matches!(whole.kind, Kind::Property(_)) && whole.unexplained.is_empty();
        let needed =
            last.kind == Kind::Unknown || (last.kind == Kind::Aside && last.text.split_whitespace().count() <= 2);
        let goes_on = text.trim_start().starts_with(|c: char| c.is_lowercase() || c == '(');
        let lone = !matches!(alone.kind, Kind::Property(_)) || alone.facets.len() < whole.facets.len();
        (both && lone && (needed || (goes_on && last.kind != Kind::Aside))).then_some(whole)
    }

    /// A line with only a form, a basis, a bound or a unit.
    fn sub(&mut self, lab: Lab) {
        if let Some(last) = self.values.last_mut() {
            last.forms.extend(lab.forms.clone());
            last.limit = last.limit.or(lab.limit);
            if last.value.unit.is_none() {
                last.value.unit.clone_from(&lab.unit);
            }
            if let Some(basis) = &lab.basis {
                last.words.clone_from(basis);
            }
            return;
        }
        let only_unit = lab.forms.is_empty() && lab.basis.is_none() && lab.limit.is_none();
        if let (true, Some(unit)) = (only_unit, &lab.unit) {
            self.units.push(unit.clone());
            return;
        }
        let Some(parent) = &self.parent else { return };
        if lab.forms.is_empty() && lab.basis.is_none() {
            if let Some(last) = self.labels.last_mut() {
                last.limit = last.limit.or(lab.limit);
                last.unit = last.unit.take().or(lab.unit);
            }
            return;
        }
        let whole = combined(parent, &lab);
        // The label above was a heading for its forms.
        if self.labels.last().is_some_and(|last| last.text == parent.text) {
            self.labels.pop();
        }
        self.labels.push(whole);
    }

    pub(super) fn lab(&self, text: &str) -> Lab {
        let mut lab = self.reader.label(text);
        lab.operating = self.operating;
        lab
    }

    /// A line of prose: its numbers describe, and are not read.
    fn prose(&mut self, parts: &[Piece]) {
        for piece in parts {
            if let Piece::Fig(fig) = piece {
                self.out.set_aside.push(SetAside {
                    text: fig.written.clone(),
                    reason: "remark".into(),
                    place: fig.place.clone(),
                });
            }
        }
    }

    /// A row that holds figures.
    fn figures(&mut self, parts: Vec<Piece>, row: &Row) {
        let mut label = String::new();
        let mut figs: Vec<Fig> = Vec::new();
        let mut prefix_forms = false;
        let mut prefix_unit = false;
        // "(< 0.3 mm), %" names the unit of the figure to come.
        let mut unit_to_come: Option<Unit> = None;
        let mut limit_to_come: Option<Limit> = None;
        let mut parts = parts.into_iter().peekable();
        while let Some(part) = parts.next() {
            match part {
                Piece::Fig(fig) => {
                    if figs.is_empty() {
                        let lab = self.reader.label(&label);
                        prefix_forms = !lab.forms.is_empty();
                        prefix_unit = lab.unit.is_some() && fig.value.unit.is_none();
                    }
                    let mut fig = *fig;
                    if fig.value.unit.is_none() {
                        fig.value.unit.clone_from(&unit_to_come);
                    }
                    fig.limit = fig.limit.or(limit_to_come);
                    figs.push(fig);
                }
                Piece::Words(text, _, _) if figs.is_empty() => {
                    if !is_method(text.trim()) {
                        label = format!("{label} {text}");
                    }
                }
                Piece::Words(text, cell, opens) => {
                    if is_method(text.trim()) && text.chars().any(|c| c.is_ascii_digit()) {
                        continue;
                    }
                    let lab = self.reader.label(&text);
                    let before_figure = matches!(parts.peek(), Some(Piece::Fig(_)));
                    let names = (prefix_forms && !lab.forms.is_empty()) || (prefix_unit && lab.unit.is_some());
                    let modifies = lab.kind == Kind::Sub && !(names && before_figure);
                    if modifies {
                        if let Some(fig) = figs.last_mut() {
                            if fig.value.unit.is_some() && lab.unit.is_some() {
                                unit_to_come.clone_from(&lab.unit);
                                limit_to_come = lab.limit;
                            } else {
                                modify(fig, &lab);
                            }
                        }
                        continue;
                    }
                    let known = matches!(lab.kind, Kind::Property(_) | Kind::Aside | Kind::Sub);
                    if known
                        || (opens && before_figure)
                        || figs.last().is_some_and(|fig| fig.cell != cell && before_figure)
                    {
                        self.segment(&label, std::mem::take(&mut figs), row);
                        label = text;
                    } else if let Some(fig) = figs.last_mut() {
                        // Words behind a figure that are not understood may still name its form.
                        fig.forms.extend(lab.forms.clone());
                        fig.limit = fig.limit.or(lab.limit);
                    }
                }
            }
        }
        self.segment(&label, figs, row);
    }

    /// A label and the figures behind it.
    fn segment(&mut self, label: &str, figs: Vec<Fig>, row: &Row) {
        let label = label.trim();
        let nothing = !label.chars().any(char::is_alphanumeric);
        if nothing {
            if !self.labels.is_empty() {
                self.values.extend(figs);
                return;
            }
            if let Some(parent) = self.parent.clone() {
                self.handle(&parent, figs, row);
            } else {
                self.handle(&Lab::default(), figs, row);
            }
            return;
        }
        let mut lab = self.lab(label);
        let below_parent = lab.kind == Kind::Sub && self.parent.is_some();
        if lab.kind == Kind::Sub {
            let only_bound = lab.forms.is_empty() && lab.basis.is_none() && lab.unit.is_none();
            if !self.labels.is_empty() && (only_bound || self.labels.len() > 1) {
                for mut fig in figs {
                    modify(&mut fig, &lab);
                    self.values.push(fig);
                }
                return;
            }
            if let Some(parent) = &self.parent {
                self.labels.retain(|known| known.text != parent.text);
                lab = combined(parent, &lab);
            }
        } else if lab.kind == Kind::Unknown && self.values.is_empty() {
            // A label that began on the line before.
            if let Some(last) = self.labels.last() {
                let whole = self.lab(&format!("{} {label}", last.text));
                if matches!(whole.kind, Kind::Property(_)) && whole.unexplained.is_empty() && last.kind == Kind::Unknown
                {
                    self.labels.pop();
                    lab = whole;
                }
            }
        } else if matches!(lab.kind, Kind::Property(_))
            && self.values.is_empty()
            && let Some(last) = self.labels.last().filter(|last| last.kind == Kind::Unknown)
        {
            let whole = self.lab(&format!("{} {label}", last.text));
            let better = matches!(whole.kind, Kind::Property(_)) && whole.unexplained.is_empty();
            let short = last.text.split_whitespace().count() <= 2;
            if better && short && whole.facets.len() > lab.facets.len() {
                lab = whole;
            }
        }
        self.flush();
        self.labels.clear();
        if matches!(lab.kind, Kind::Property(_) | Kind::Aside) {
            if !below_parent {
                self.parent = Some(lab.clone());
            }
        } else if lab.kind == Kind::Unknown {
            self.parent = None;
        }
        self.handle(&lab, figs, row);
    }
}

fn text_of(row: &Row) -> String {
    row.cells.iter().map(|cell| cell.text.as_str()).collect::<Vec<_>>().join(" ")
}

/// A sub-label under its parent.
fn combined(parent: &Lab, sub: &Lab) -> Lab {
    let mut whole = parent.clone();
    whole.text = format!("{} {}", parent.text, sub.text);
    if !sub.forms.is_empty() {
        whole.forms.clone_from(&sub.forms);
    }
    whole.basis = sub.basis.clone().or(whole.basis);
    whole.unit = sub.unit.clone().or(whole.unit);
    whole.limit = sub.limit.or(whole.limit);
    whole.tolerance = sub.tolerance.or(whole.tolerance);
    whole.component = sub.component.clone().or(whole.component);
    whole
}

/// What words behind a figure say of it.
fn modify(fig: &mut Fig, lab: &Lab) {
    fig.forms.extend(lab.forms.clone());
    fig.limit = match (fig.limit, lab.limit) {
        (Some(Limit::Min | Limit::Max), _) | (Some(_), None) => fig.limit,
        (_, limit) => limit,
    };
    if fig.value.unit.is_none() {
        fig.value.unit.clone_from(&lab.unit);
    }
    if let Some(basis) = &lab.basis {
        fig.words.clone_from(basis);
    }
    if let Some((half, false)) = lab.tolerance
        && fig.value.plus_minus.is_none()
    {
        fig.value.plus_minus = Some(half);
    }
}
