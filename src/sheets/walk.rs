//! Rows in order to labelled figures: headings, sub-labels, columns, and lists that copying tore apart.

use super::blocks::align;
use super::heads::{Column, columns_of, heads, under};
use super::label::{Kind, Lab, Reader};
use super::rows::{Fig, Piece, Row, joined, pieces};
use super::settle::{Fit, Settler};
use super::words::Limit;
use crate::lexicon::is_method;
use crate::place::Where;
use crate::quantity::{Unit, UnitKind};
use crate::reconcile::path;
use crate::record::{Doubt, Qualifier, SetAside, Unread};
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
    reader: &'a Reader<'a>,
    settler: &'a Settler<'a>,
    style: Decimal,
    out: Walked,
    operating: bool,
    parent: Option<Lab>,
    columns: Vec<Column>,
    columns_fresh: bool,
    table: Option<(usize, u32)>,
    across: Vec<(Lab, (f32, f32))>,
    component: Option<String>,
    labels: Vec<Lab>,
    values: Vec<Fig>,
    units: Vec<Unit>,
    expect_form: bool,
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
            self.prose(&parts, row);
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

    /// A row of words under the names of products: their type, their form.
    fn describes_products(&mut self, row: &Row) -> bool {
        let valued: Vec<Column> =
            self.columns.iter().filter(|c| c.product.is_some() || c.component.is_some()).cloned().collect();
        if valued.len() < 2 || row.cells.len() != valued.len() + 1 {
            return false;
        }
        let quiet = row.cells.iter().skip(1).all(|cell| {
            let figures = joined(pieces(&Row { cells: vec![cell.clone()], table: None }, self.style));
            !figures.iter().any(|piece| matches!(piece, Piece::Fig(_)))
        });
        let label = row.cells.first().map(|cell| cell.text.clone()).unwrap_or_default();
        if !quiet || matches!(self.reader.label(&label).kind, Kind::Property(_)) {
            return false;
        }
        let form = self.reader.words.shipped.is(&label);
        for (column, cell) in valued.iter().zip(row.cells.iter().skip(1)) {
            let text = if form { format!("{} form", cell.text.trim()) } else { cell.text.clone() };
            if let Some(product) = column.product.clone() {
                self.out.described.push((product, text));
            } else if form {
                self.out.shipped.push((column.component.clone(), self.reader.take_forms(&text).1));
            }
        }
        true
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

    /// A row of labels, each the head of a column of figures.
    fn heads_across(&mut self, row: &Row) -> bool {
        if row.cells.len() < 3 {
            return false;
        }
        let labs: Vec<(Lab, (f32, f32))> =
            row.cells.iter().map(|cell| (self.reader.label(&cell.text), (cell.x0, cell.x1))).collect();
        let only_figure = row.cells.iter().any(|cell| {
            let own = joined(pieces(&Row { cells: vec![cell.clone()], table: None }, self.style));
            matches!(own.as_slice(), [Piece::Fig(_)])
        });
        if only_figure {
            return false;
        }
        let properties = labs.iter().filter(|(lab, _)| matches!(lab.kind, Kind::Property(_))).count();
        let figures = joined(pieces(row, self.style))
            .iter()
            .filter(|piece| matches!(piece, Piece::Fig(fig) if fig.value.unit.is_none() || fig.value.bound.is_some()))
            .count();
        if properties < 2 || figures > 0 || properties * 2 < row.cells.len() {
            return false;
        }
        self.flush();
        self.across = labs;
        true
    }

    fn row_across(&mut self, row: &Row) -> bool {
        if self.across.is_empty() {
            return false;
        }
        let units: Vec<Option<Unit>> =
            row.cells.iter().map(|cell| Unit::parse(cell.text.trim().trim_matches(['(', ')']))).collect();
        if units.iter().flatten().count() >= 2 && units.iter().flatten().count() * 2 >= row.cells.len() {
            for (cell, unit) in row.cells.iter().zip(units) {
                if let (Some(unit), Some((lab, _))) = (unit, nearest(&mut self.across, (cell.x0, cell.x1))) {
                    lab.unit = Some(unit);
                }
            }
            return true;
        }
        let mut figs: Vec<Fig> = Vec::new();
        let mut name = None;
        let mut told: Vec<(usize, String)> = Vec::new();
        for piece in joined(pieces(row, self.style)) {
            match piece {
                Piece::Fig(fig) if fig.cell > 0 || row.cells.len() == self.across.len() => figs.push(*fig),
                Piece::Words(text, 0, _) if name.is_none() => name = Some(text),
                Piece::Words(text, cell, _) if cell > 0 => told.push((cell, text)),
                _ => {}
            }
        }
        let name = row.cells.first().filter(|_| name.is_some()).map(|cell| cell.raw.clone());
        let named = name.is_some();
        let figs: Vec<Fig> = figs.into_iter().filter(|fig| !(named && fig.cell == 0)).collect();
        if figs.len() < 2 {
            self.across.clear();
            return false;
        }
        for (at, text) in told {
            let head = row.cells.get(at).and_then(|cell| nearest(&mut self.across, (cell.x0, cell.x1)));
            let (Some(name), Some((lab, _))) = (&name, head) else { continue };
            let form = lab.kind == Kind::Shipped;
            self.out.described.push((name.clone(), if form { format!("{text} form") } else { text }));
        }
        for fig in figs {
            let Some((lab, _)) = nearest(&mut self.across, fig.x) else { continue };
            let lab = lab.clone();
            let form = lab.forms.first().cloned();
            if self.settler.fit(&lab, &fig) == Fit::None {
                self.leave(&lab, &fig);
            } else {
                let column = Column { product: name.clone(), ..Column::default() };
                self.emit(&lab, fig, form, Some(&column), None);
            }
        }
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
            Kind::Sub => self.sub(lab, &text),
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

    /// Heads whose gaps copying has lost: "Specification Na+ form H+ form", "Characteristics Cation Anion".
    fn heads_in_words(&mut self, text: &str, count: usize) -> bool {
        let lab = self.reader.label(text);
        let aside = self.reader.words.aside.within(text) && !self.reader.words.properties.within(text);
        if count > HEADING + 2 || aside || matches!(lab.kind, Kind::Property(_) | Kind::Shipped) {
            return false;
        }
        let forms = self.reader.take_forms(text).1;
        let mut columns: Vec<Column> = Vec::new();
        if forms.len() >= 2 && forms.first() != forms.get(1) {
            columns = forms.into_iter().map(|form| Column { form: Some(form), ..Column::default() }).collect();
        } else if self.reader.mixed {
            let mut parts: Vec<&str> = Vec::new();
            for word in text.split_whitespace() {
                let part = self.reader.words.component(word).map(|(id, _)| id);
                if let Some(part) = part.filter(|part| *part != "mixture" && !parts.contains(part)) {
                    parts.push(part);
                }
            }
            if parts.len() == 2 {
                columns = parts
                    .into_iter()
                    .map(|part| Column { component: Some(part.to_owned()), ..Column::default() })
                    .collect();
            }
        }
        if columns.is_empty() {
            return false;
        }
        self.flush();
        self.labels.clear();
        self.parent = None;
        if self.reader.words.operating.within(text) || self.reader.words.properties.within(text) {
            self.operating = self.reader.words.operating.within(text);
        }
        self.columns = columns;
        self.columns_fresh = true;
        true
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
    fn sub(&mut self, lab: Lab, text: &str) {
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
        let _ = text;
        self.labels.push(whole);
    }

    fn lab(&self, text: &str) -> Lab {
        let mut lab = self.reader.label(text);
        lab.operating = self.operating;
        lab
    }

    /// A line of prose: its numbers describe, and are not read.
    fn prose(&mut self, parts: &[Piece], row: &Row) {
        for piece in parts {
            if let Piece::Fig(fig) = piece {
                self.out.set_aside.push(SetAside {
                    text: fig.written.clone(),
                    reason: "remark".into(),
                    place: fig.place.clone(),
                });
            }
        }
        let _ = row;
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
        } else if matches!(lab.kind, Kind::Property(_)) && self.values.is_empty() {
            if let Some(last) = self.labels.last().filter(|last| last.kind == Kind::Unknown) {
                let whole = self.lab(&format!("{} {label}", last.text));
                if matches!(whole.kind, Kind::Property(_))
                    && whole.unexplained.is_empty()
                    && whole.facets.len() > lab.facets.len()
                    && last.text.split_whitespace().count() <= 2
                {
                    lab = whole;
                }
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

    /// Gives the figures of a label to their columns and forms.
    fn handle(&mut self, lab: &Lab, figs: Vec<Fig>, row: &Row) {
        let mut lab = lab.clone();
        let mut own: Vec<Fig> = Vec::new();
        let mut figs = figs.into_iter().peekable();
        while let Some(fig) = figs.next() {
            let opening = fig.value.unit.as_ref().is_some_and(|unit| {
                unit.kind == UnitKind::Mesh
                    || unit.dimension.length == 1
                    || unit.dimension.bead == -1
                    || (unit.dimension.mass == 1 && unit.dimension.length == 0)
            });
            let shares = figs.peek().is_some_and(|next| {
                next.value.unit.as_ref().or(lab.unit.as_ref()).is_none_or(|unit| unit.kind == UnitKind::Percent)
            });
            if opening
                && shares
                && let Some(next) = figs.peek()
                && let Some(cut) = self.with_cut(&lab, &fig)
            {
                if matches!(cut.kind, Kind::Property(_)) && self.settler.fit(&cut, next) != Fit::None {
                    self.give(&lab, std::mem::take(&mut own), row);
                    lab = cut;
                    self.aside(&fig, "label");
                    continue;
                }
                if cut.kind == Kind::Aside {
                    self.give(&lab, std::mem::take(&mut own), row);
                    lab = cut;
                    self.aside(&fig, "label");
                    continue;
                }
            }
            let grading = matches!(&lab.kind, Kind::Property(id) if id == "mean_size")
                && !lab.facets.iter().any(|facet| facet == "mean")
                && matches!((fig.value.value, fig.value.high), (Some(low), Some(high)) if high > low * self.reader.words.grading);
            if grading {
                self.leave(&Lab { kind: Kind::Aside, ..lab.clone() }, &fig);
                continue;
            }
            let keeps = !lab.operating || self.kept_in_operation(&lab);
            if matches!(lab.kind, Kind::Property(_)) && keeps && self.settler.fit(&lab, &fig) != Fit::None {
                own.push(fig);
            } else {
                self.leave(&lab, &fig);
            }
        }
        self.give(&lab, own, row);
    }

    /// The label with a sieve or load that a figure names: "< 0.3 mm", "-50 mesh", "> 200 g/bead".
    fn with_cut(&self, lab: &Lab, fig: &Fig) -> Option<Lab> {
        let written = fig.written.trim();
        let bare = written.trim_start_matches(['-', '–', '+', '<', '>', '≤', '≥', ' ']);
        let unit = fig.value.unit.as_ref()?;
        let sieve = unit.kind == UnitKind::Mesh || unit.dimension.length == 1;
        let below =
            written.starts_with(['-', '–', '<', '≤']) || lab.facets.iter().any(|f| f == "through" || f == "fines");
        if sieve && fig.value.high.is_some() {
            return Some(Lab { kind: Kind::Aside, ..lab.clone() });
        }
        let mut cut = if sieve {
            if !below {
                return Some(Lab { kind: Kind::Aside, ..lab.clone() });
            }
            self.lab(&format!("fines through {bare}"))
        } else {
            self.lab(&format!("beads above {bare}"))
        };
        cut.text = format!("{} {written}", lab.text).trim().to_owned();
        // The "max" of "< 300 µm (max.)" bounds the figure to come.
        cut.limit = self.reader.words.take_bound(written).1;
        cut.unit = lab.unit.clone().filter(|unit| unit.kind == UnitKind::Percent);
        Some(cut)
    }

    fn kept_in_operation(&self, lab: &Lab) -> bool {
        let Kind::Property(id) = &lab.kind else { return false };
        id.ends_with("_capacity") || id == "moisture_retention" || id == "uniformity_coefficient" || id == "whole_beads"
    }

    fn give(&mut self, lab: &Lab, mut figs: Vec<Fig>, row: &Row) {
        if figs.is_empty() {
            return;
        }
        // "min. 2.0 1.8": the word before the first holds for all.
        let led = figs.first().filter(|fig| fig.written.starts_with(char::is_alphabetic)).and_then(|fig| fig.limit);
        if led.is_some() && figs.iter().skip(1).all(|fig| fig.limit.is_none() && fig.value.high.is_none()) {
            figs.iter_mut().for_each(|fig| fig.limit = led);
        }
        let columns = self.columns.clone();
        let refs: Vec<&Fig> = figs.iter().collect();
        let mut whose: Vec<Vec<Column>> = Vec::new();
        for (fig, column) in refs.iter().zip(columns_of(&columns, &refs, row.table.is_some())) {
            let spanned: Vec<Column> = columns
                .iter()
                .filter(|c| row.table.is_some() && !c.silent && c.x.0 >= fig.x.0 && c.x.1 <= fig.x.1)
                .cloned()
                .collect();
            whose.push(if spanned.len() > 1 { spanned } else { column.cloned().into_iter().collect() });
        }
        // The same figure in another unit joins the one before it.
        let mut groups: Vec<(Fig, Vec<Column>)> = Vec::new();
        for (mut fig, columns) in figs.into_iter().zip(whose) {
            if fig.value.unit.is_none() {
                // "1.35 eq/L (1.30 min.)": one unit for both.
                let beside = groups.last().filter(|(last, _)| last.cell == fig.cell && lab.unit.is_none());
                fig.value.unit = columns
                    .first()
                    .and_then(|c| c.unit.clone())
                    .or_else(|| beside.and_then(|(last, _)| last.value.unit.clone()));
            }
            fig.limit = fig.limit.or_else(|| columns.first().and_then(|c| c.limit));
            let same_columns = |other: &[Column]| {
                let key = |c: &[Column]| c.first().map(|c| (c.form.clone(), c.product.clone(), c.component.clone()));
                key(other) == key(&columns)
            };
            let joins = groups.last_mut().is_some_and(|(last, other)| {
                let twice = last.value.unit.as_ref().map(|u| &u.text) != fig.value.unit.as_ref().map(|u| &u.text)
                    && last.value.unit.is_some()
                    && fig.value.unit.is_some();
                if !same_columns(other) {
                    return false;
                }
                if twice && self.same_kind(lab, last, &fig) {
                    if let (Some(value), Some(unit)) = (fig.value.value, fig.value.unit.clone()) {
                        last.also.push((value, unit));
                        last.written = format!("{} {}", last.written, fig.written);
                        last.limit = last.limit.or(fig.limit.filter(|limit| matches!(limit, Limit::Min | Limit::Max)));
                        last.forms.extend(fig.forms.clone());
                    }
                    return true;
                }
                let pair = last.limit == Some(Limit::Min) && fig.limit == Some(Limit::Max);
                if pair && last.value.high.is_none() && last.value.value < fig.value.value && lab.forms.len() < 2 {
                    last.value.high = fig.value.value;
                    last.value.qualifier = Qualifier::Range;
                    last.value.unit = last.value.unit.take().or_else(|| fig.value.unit.clone());
                    last.written = format!("{} - {}", last.written, fig.written);
                    return true;
                }
                false
            });
            if !joins {
                groups.push((fig, columns));
            }
        }
        let unclear = groups.len() > 1 && {
            let key = |(fig, columns): &(Fig, Vec<Column>)| {
                let of = columns.first();
                let whose =
                    of.map(|c| (c.form.clone(), c.product.clone(), c.component.clone(), c.limit.map(|l| l as u8)));
                let unit = self.settler.canonical(lab, fig).map(|(unit, ..)| unit);
                let told = (fig.limit.map(|l| l as u8), fig.forms.first().cloned(), fig.words.clone(), unit);
                (whose, told)
            };
            let keys: Vec<_> = groups.iter().map(key).collect();
            let sizes: Vec<_> = groups.iter().map(|(fig, _)| (fig.value.value, fig.value.high)).collect();
            let told: Vec<_> = keys.iter().zip(&sizes).collect();
            let twice = told.iter().enumerate().any(|(at, (key, size))| {
                told.iter().skip(at + 1).any(|(other, other_size)| key == other && size != other_size)
            });
            twice && lab.forms.len() != groups.len()
        };
        let in_order = lab.forms.len() > 1 && lab.forms.len() == groups.len();
        for (at, (fig, columns)) in groups.into_iter().enumerate() {
            let form = fig.forms.first().cloned().or_else(|| {
                if in_order {
                    lab.forms.get(at).cloned()
                } else {
                    lab.forms.first().filter(|_| lab.forms.len() == 1).cloned()
                }
            });
            let doubt = unclear.then(|| {
                let text = format!("More than one figure stands by \"{}\", and no head says which is which.", lab.text);
                Doubt::new("more-than-one-figure", None, text, &fig.place)
            });
            let doubt = doubt.or_else(|| {
                (lab.forms.len() > 1 && !in_order && fig.forms.is_empty() && columns.is_empty()).then(|| {
                    let text = format!(
                        "\"{}\" names more than one form, and the figure does not say which is its own.",
                        lab.text
                    );
                    Doubt::new("label-uncertain", None, text, &fig.place).with_alternatives(lab.forms.clone())
                })
            });
            if columns.is_empty() {
                self.emit(lab, fig, form, None, doubt);
            } else {
                for column in &columns {
                    self.emit(lab, fig.clone(), form.clone(), Some(column), doubt.clone());
                }
            }
        }
    }

    /// Whether two figures are of one property and basis, so that they may be one in two units.
    fn same_kind(&self, lab: &Lab, a: &Fig, b: &Fig) -> bool {
        match (self.settler.canonical(lab, a), self.settler.canonical(lab, b)) {
            (Some((unit_a, low_a, high_a)), Some((unit_b, low_b, high_b))) => {
                let close = |x: f64, y: f64| (x - y).abs() <= 0.2 * x.abs().max(y.abs());
                unit_a == unit_b && close(low_a, low_b) && high_a.is_some() == high_b.is_some()
            }
            _ => false,
        }
    }

    fn emit(&mut self, lab: &Lab, fig: Fig, form: Option<String>, column: Option<&Column>, doubt: Option<Doubt>) {
        self.out.found.push(Found {
            product: column.and_then(|c| c.product.clone()),
            component: lab
                .component
                .clone()
                .or_else(|| column.and_then(|c| c.component.clone()))
                .or_else(|| self.component.clone()),
            column_form: column.and_then(|c| c.form.clone()),
            lab: lab.clone(),
            fig,
            form,
            doubt,
        });
    }

    fn aside(&mut self, fig: &Fig, reason: &str) {
        self.out.set_aside.push(SetAside {
            text: fig.written.clone(),
            reason: reason.into(),
            place: fig.place.clone(),
        });
    }

    fn leave(&mut self, lab: &Lab, fig: &Fig) {
        if lab.kind == Kind::Aside || lab.operating {
            self.out.set_aside.push(SetAside {
                text: format!("{} {}", lab.text, fig.written).trim().to_owned(),
                reason: "operation".into(),
                place: fig.place.clone(),
            });
        } else {
            self.unread(&lab.text, &fig.written, &fig.place);
        }
    }

    fn unread(&mut self, label: &str, written: &str, place: &Where) {
        self.out.unread.push(Unread { text: format!("{label} {written}").trim().to_owned(), place: place.clone() });
    }

    /// Units that stand by themselves between labels and figures: each to the next label that it measures.
    fn give_units(&self, labels: &mut [Lab], units: Vec<Unit>) {
        let mut next = 0;
        for unit in units {
            let fits = |lab: &Lab| lab.unit.is_none() && measures(lab, &unit, self.reader);
            let property = labels.iter().skip(next).position(fits);
            let hit = property
                .or_else(|| labels.iter().skip(next).position(|lab| lab.kind == Kind::Aside && lab.unit.is_none()));
            let Some(at) = hit.map(|at| at + next) else { continue };
            if let Some(lab) = labels.get_mut(at) {
                lab.unit = Some(unit);
            }
            next = at + 1;
        }
    }

    /// Ends a run of labels and a run of figures.
    fn flush(&mut self) {
        let mut figs = std::mem::take(&mut self.values);
        let units = std::mem::take(&mut self.units);
        if figs.is_empty() {
            self.units = units;
            return;
        }
        let mut labels = std::mem::take(&mut self.labels);
        self.give_units(&mut labels, units);
        // The same figure in two units, one after the other, is one.
        let mut single: Vec<Fig> = Vec::new();
        for fig in figs.drain(..) {
            let twin = single.last_mut().filter(|last| {
                last.value.unit.is_some()
                    && fig.value.unit.is_some()
                    && last.value.unit.as_ref().map(|u| &u.text) != fig.value.unit.as_ref().map(|u| &u.text)
                    && labels.iter().any(|lab| self.same_kind(lab, last, &fig))
            });
            match (twin, fig.value.value, fig.value.unit.clone()) {
                (Some(last), Some(value), Some(unit)) => {
                    last.also.push((value, unit));
                    last.limit = last.limit.or(fig.limit);
                    last.written = format!("{} {}", last.written, fig.written);
                }
                _ => single.push(fig),
            }
        }
        let pairs = align(&labels, &single, self.settler);
        let mut used = vec![false; single.len()];
        for pair in &pairs {
            let (Some(lab), Some(fig)) = (labels.get(pair.label).cloned(), single.get(pair.figure).cloned()) else {
                continue;
            };
            if let Some(flag) = used.get_mut(pair.figure) {
                *flag = true;
            }
            if lab.kind == Kind::Aside || (lab.operating && !self.kept_in_operation(&lab)) {
                self.leave(&Lab { kind: Kind::Aside, ..lab }, &fig);
                continue;
            }
            let form = fig.forms.first().cloned().or_else(|| lab.forms.first().cloned());
            let doubt = (!pair.certain).then(|| {
                let text = format!(
                    "Labels stand apart from figures here; \"{}\" was given to \"{}\" by unit and order.",
                    fig.written, lab.text
                );
                Doubt::new("order-uncertain", None, text, &fig.place)
            });
            self.emit(&lab, fig, form, None, doubt);
        }
        for (fig, used) in single.iter().zip(used) {
            if !used {
                self.unread("", &fig.written, &fig.place);
            }
        }
        self.parent = None;
    }
}

/// The property of a label that the unit measures.
fn measures(lab: &Lab, unit: &Unit, reader: &Reader<'_>) -> bool {
    let Kind::Property(id) = &lab.kind else { return false };
    let Some(property) = reader.lexicon.property(id) else { return false };
    let bead = (id == "bulk_density").then(|| reader.lexicon.property("true_density")).flatten();
    path(unit, property, lab.basis.as_deref(), None).is_some()
        || bead.is_some_and(|bead| path(unit, bead, None, None).is_some())
}

fn text_of(row: &Row) -> String {
    row.cells.iter().map(|cell| cell.text.as_str()).collect::<Vec<_>>().join(" ")
}

fn nearest(across: &mut [(Lab, (f32, f32))], x: (f32, f32)) -> Option<&mut (Lab, (f32, f32))> {
    let overlap = |b: (f32, f32)| x.1.min(b.1) - x.0.max(b.0);
    across.iter_mut().max_by(|a, b| overlap(a.1).total_cmp(&overlap(b.1)))
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
