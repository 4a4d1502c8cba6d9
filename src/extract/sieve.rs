//! Sieve tables: an opening on each row, and the share retained or passing.

use super::Aside;
use super::bands::{self, Span};
use super::cells::{Cell, Row};
use super::table::Desk;
use crate::lexicon::{Label, mesh_opening_mm};
use crate::quantity::{Unit, UnitKind};
use crate::record::SieveFigure;

/// Reads a band that is a sieve table; false if it is none.
pub fn read(rows: &[Row], desk: &mut Desk<'_>) -> bool {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let Some((head_at, _)) = rows.iter().enumerate().find(|(_, row)| {
        let labels: Vec<&Label> = row.cells.iter().map(|c| &c.seen(lexicon, style).label).collect();
        row.cells.len() >= 2
            && labels.iter().any(|l| kind_of(l, desk).is_some())
            && labels.iter().any(|l| names_sieve(l, desk))
    }) else {
        return false;
    };
    let Some(head) = rows.get(head_at) else { return false };
    let body: Vec<&Row> = rows.iter().skip(head_at + 1).collect();
    let spans = bands::columns(&body);
    let mut kinds: Vec<Option<&'static str>> = vec![None; spans.len()];
    let mut opening_columns: Vec<(usize, Option<Unit>)> = Vec::new();
    for cell in &head.cells {
        let label = &cell.seen(lexicon, style).label;
        for at in bands::over(cell, &spans, 8.0 * head.char_width) {
            if let Some(kind) = kind_of(label, desk) {
                if let Some(slot) = kinds.get_mut(at) {
                    slot.get_or_insert(kind);
                }
            } else if names_sieve(label, desk) || label.unit.as_ref().is_some_and(|u| u.dimension.length == 1) {
                opening_columns.push((at, label.unit.clone()));
            }
        }
    }
    let mut any = false;
    for row in body {
        let Some((opening, words)) = opening_of(row, &opening_columns, &spans, desk) else { continue };
        for cell in &row.cells {
            let Some(kind) = bands::over(cell, &spans, 0.0).first().and_then(|&at| kinds.get(at).copied().flatten())
            else {
                continue;
            };
            let Some((value, _)) = &cell.seen(lexicon, style).value else { continue };
            let Some(share) = value.value else { continue };
            if value.unit.as_ref().is_some_and(|u| u.kind != UnitKind::Percent) {
                continue;
            }
            desk.ledger.read(&cell.words);
            desk.ledger.read(&words);
            let figure =
                SieveFigure { opening, unit: "mm".into(), kind: kind.into(), value: share, place: cell.place.clone() };
            desk.scopes.open().asides.push(Aside::Sieve(figure));
            any = true;
        }
    }
    any
}

fn names_sieve(label: &Label, desk: &Desk<'_>) -> bool {
    desk.lexicon.facet_id("sieve").is_some_and(|f| label.facets.contains(&f))
}

fn kind_of(label: &Label, desk: &Desk<'_>) -> Option<&'static str> {
    let has = |id: &str| desk.lexicon.facet_id(id).is_some_and(|f| label.facets.contains(&f));
    if has("cumulative") && !has("through") {
        Some("cumulative_retained")
    } else if has("retained") {
        Some("retained")
    } else if has("through") {
        Some("passing")
    } else {
        None
    }
}

/// The opening that a row names, in mm: a column of openings before one of mesh numbers.
fn opening_of(
    row: &Row,
    columns: &[(usize, Option<Unit>)],
    spans: &[Span],
    desk: &Desk<'_>,
) -> Option<(f64, Vec<super::ledger::WordId>)> {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let mut mesh = None;
    for cell in &row.cells {
        let column = bands::over(cell, spans, 0.0).first().and_then(|at| columns.iter().find(|(c, _)| c == at));
        let Some((_, head_unit)) = column else { continue };
        let seen = cell.seen(lexicon, style);
        if let Some(cut) = &seen.label.cut {
            if cut.unit.kind == UnitKind::Mesh {
                mesh = mesh.or_else(|| cut.opening_mm().map(|mm| (mm, words(cell, row))));
            } else if let Some(mm) = cut.opening_mm() {
                return Some((mm, words(cell, row)));
            }
            continue;
        }
        let number = seen.value.as_ref().map(|(v, _)| v).or(None)?;
        let figure = number.value?;
        let unit = number.unit.as_ref().or(head_unit.as_ref());
        match unit {
            Some(unit) if unit.dimension.length == 1 && unit.kind != UnitKind::Mesh => {
                let mm = Unit::parse("mm")?;
                return unit.convert(figure, &mm).map(|mm| (mm, words(cell, row)));
            }
            _ => {
                let opening = mesh_opening_mm(figure);
                mesh = mesh.or_else(|| opening.map(|mm| (mm, words(cell, row))));
            }
        }
    }
    mesh
}

fn words(cell: &Cell, _row: &Row) -> Vec<super::ledger::WordId> {
    cell.words.clone()
}
