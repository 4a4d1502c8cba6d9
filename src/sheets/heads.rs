//! The heads of a table's columns on a sheet.

use super::label::Reader;
use super::rows::{Fig, Row};
use super::words::Limit;
use crate::quantity::Unit;
use crate::value::{Decimal, find};

/// What a column of values holds.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Column {
    /// Left and right edge of its head.
    pub x: (f32, f32),
    /// Ionic form.
    pub form: Option<String>,
    /// Bound.
    pub limit: Option<Limit>,
    /// Product.
    pub product: Option<String>,
    /// Part of a mixed bed.
    pub component: Option<String>,
    /// Unit of all its figures.
    pub unit: Option<Unit>,
    /// It holds labels, units or methods.
    pub silent: bool,
}

impl Column {
    fn says(&self) -> bool {
        self.form.is_some() || self.limit.is_some() || self.product.is_some() || self.component.is_some()
    }
}

/// The heads in a row, if it is one of heads.
pub fn heads(row: &Row, reader: &Reader<'_>, style: Decimal) -> Option<Vec<Column>> {
    if row.cells.len() < 2 {
        return None;
    }
    let words = reader.words;
    let mut columns = Vec::new();
    let mut names = 0;
    let mut labels = 0;
    let first_is_label = row
        .cells
        .first()
        .is_some_and(|cell| words.label.is(&cell.text) || words.product.is(&cell.text) || words.shipped.is(&cell.text));
    let first_is_shipped = row.cells.first().is_some_and(|cell| words.shipped.is(&cell.text));
    for (at, cell) in row.cells.iter().enumerate() {
        let mut column = Column { x: (cell.x0, cell.x1), ..Column::default() };
        let (rest, forms) = reader.take_forms(&cell.text);
        let (rest, limit) = words.take_bound(&rest);
        let empty = |text: &str| !words.filler.without(text).0.chars().any(char::is_alphanumeric);
        let component = if reader.mixed { words.component(&cell.text) } else { None };
        if at == 0 && first_is_label {
            column.silent = true;
        } else if let Some((id, _)) = component {
            column.component = Some(id.to_owned());
            column.form = forms.first().cloned();
        } else if forms.len() == 1 && (empty(&rest) || words.value.is(&rest)) {
            column.form = forms.first().cloned();
            column.limit = limit;
        } else if limit.is_some() && (empty(&rest) || words.value.is(&rest)) {
            column.limit = limit;
        } else if words.si.is(&cell.text) || words.us.is(&cell.text) || words.value.is(&cell.text) {
            labels += 1;
        } else if words.other.is(&cell.text) || words.label.is(&cell.text) {
            column.silent = true;
            labels += 1;
        } else if Unit::parse(cell.text.trim()).is_some() {
            column.unit = Unit::parse(cell.text.trim());
        } else {
            let figures = find(&cell.text, style);
            let bare =
                figures.iter().all(|f| f.value.unit.is_none() && f.value.bound.is_none() && f.value.high.is_none());
            let lettered = cell.text.chars().any(char::is_alphabetic);
            if !bare || !lettered || first_is_shipped {
                return None;
            }
            column.product = Some(cell.raw.clone());
            names += 1;
        }
        columns.push(column);
    }
    let said = columns.iter().filter(|column| column.says()).count();
    let told = said - names;
    let valid = if names > 0 {
        // Names are known as such only under a label of names, or beside a blank corner of a hard table.
        first_is_label && (names >= 2 || told > 0 || labels > 0) && labels <= columns.len()
    } else {
        told >= 2 || (told >= 1 && (first_is_label || labels > 0)) || (first_is_label && labels > 0)
    };
    if !valid {
        return None;
    }
    if names == 1 && labels > 0 {
        // A lone odd head, as "Guaranteed figures", names no product.
        columns.iter_mut().for_each(|column| column.product = None);
    }
    Some(columns)
}

/// Heads under heads: what the upper says holds for all the lower ones that it spans.
pub fn under(upper: &[Column], mut lower: Vec<Column>) -> Vec<Column> {
    for column in &mut lower {
        let above = upper
            .iter()
            .filter(|head| head.says())
            .max_by(|a, b| overlap(a.x, column.x).total_cmp(&overlap(b.x, column.x)));
        if let Some(head) = above.filter(|head| overlap(head.x, column.x) > 0.0) {
            column.form = column.form.take().or_else(|| head.form.clone());
            column.limit = column.limit.or(head.limit);
            column.product = column.product.take().or_else(|| head.product.clone());
            column.component = column.component.take().or_else(|| head.component.clone());
        }
    }
    lower
}

fn overlap(a: (f32, f32), b: (f32, f32)) -> f32 {
    a.1.min(b.1) - a.0.max(b.0)
}

/// The column that each figure stands in; none where that is not plain.
pub fn columns_of<'c>(columns: &'c [Column], figures: &[&Fig], hard: bool) -> Vec<Option<&'c Column>> {
    let valued: Vec<&Column> = columns.iter().filter(|column| !column.silent).collect();
    if valued.is_empty() {
        return vec![None; figures.len()];
    }
    if valued.iter().all(|column| column.x == (0.0, 0.0)) {
        // Heads whose places copying has lost: by order, where the count fits.
        let fits = figures.len() == valued.len();
        return (0..figures.len()).map(|at| valued.get(at).copied().filter(|_| fits)).collect();
    }
    let cells: std::collections::BTreeSet<usize> = figures.iter().map(|fig| fig.cell).collect();
    let by_order = !hard && cells.len() == valued.len();
    figures
        .iter()
        .map(|fig| {
            if by_order {
                let at = cells.iter().position(|cell| *cell == fig.cell)?;
                return valued.get(at).copied();
            }
            let nearest = valued.iter().max_by(|a, b| overlap(a.x, fig.x).total_cmp(&overlap(b.x, fig.x)))?;
            let apart = overlap(nearest.x, fig.x);
            (apart > 0.0 || (!hard && apart > -4.0 * (fig.x.1 - fig.x.0).max(1.0))).then_some(*nearest)
        })
        .collect()
}
