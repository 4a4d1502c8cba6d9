//! Tables whose columns are labels, products, or parts of a mixed bed.

use super::heads::Column;
use super::label::{Kind, Lab};
use super::rows::{Fig, Piece, Row, joined, pieces};
use super::settle::Fit;
use super::walk::Walk;
use crate::quantity::Unit;

/// Headings have no more words than this.
const LONGEST_HEAD: usize = 11;

impl Walk<'_> {
    /// A row of words under the names of products: their type, their form.
    pub(super) fn describes_products(&mut self, row: &Row) -> bool {
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

    /// A row of labels, each the head of a column of figures.
    pub(super) fn heads_across(&mut self, row: &Row) -> bool {
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

    pub(super) fn row_across(&mut self, row: &Row) -> bool {
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

    /// Heads whose gaps copying has lost: "Specification Na+ form H+ form", "Characteristics Cation Anion".
    pub(super) fn heads_in_words(&mut self, text: &str, count: usize) -> bool {
        let lab = self.reader.label(text);
        let aside = self.reader.words.aside.within(text) && !self.reader.words.properties.within(text);
        if count > LONGEST_HEAD || aside || matches!(lab.kind, Kind::Property(_) | Kind::Shipped) {
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
}

fn nearest(across: &mut [(Lab, (f32, f32))], x: (f32, f32)) -> Option<&mut (Lab, (f32, f32))> {
    let overlap = |b: (f32, f32)| x.1.min(b.1) - x.0.max(b.0);
    across.iter_mut().max_by(|a, b| overlap(a.1).total_cmp(&overlap(b.1)))
}
