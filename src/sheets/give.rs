//! Labelled figures to their columns and forms; labels and figures that stand apart to each other.

use super::blocks::align;
use super::heads::{Column, columns_of};
use super::label::{Kind, Lab, Reader};
use super::rows::{Fig, Row};
use super::settle::Fit;
use super::walk::{Found, Walk};
use super::words::Limit;
use crate::place::Where;
use crate::quantity::{Unit, UnitKind};
use crate::reconcile::path;
use crate::record::{Doubt, Qualifier, SetAside, Unread};

impl Walk<'_> {
    /// Gives the figures of a label to their columns and forms.
    pub(super) fn handle(&mut self, lab: &Lab, figs: Vec<Fig>, row: &Row) {
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
    pub(super) fn with_cut(&self, lab: &Lab, fig: &Fig) -> Option<Lab> {
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

    pub(super) fn kept_in_operation(&self, lab: &Lab) -> bool {
        let Kind::Property(id) = &lab.kind else { return false };
        id.ends_with("_capacity") || id == "moisture_retention" || id == "uniformity_coefficient" || id == "whole_beads"
    }

    pub(super) fn give(&mut self, lab: &Lab, mut figs: Vec<Fig>, row: &Row) {
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
    pub(super) fn same_kind(&self, lab: &Lab, a: &Fig, b: &Fig) -> bool {
        match (self.settler.canonical(lab, a), self.settler.canonical(lab, b)) {
            (Some((unit_a, low_a, high_a)), Some((unit_b, low_b, high_b))) => {
                let close = |x: f64, y: f64| (x - y).abs() <= 0.2 * x.abs().max(y.abs());
                unit_a == unit_b && close(low_a, low_b) && high_a.is_some() == high_b.is_some()
            }
            _ => false,
        }
    }

    pub(super) fn emit(
        &mut self,
        lab: &Lab,
        fig: Fig,
        form: Option<String>,
        column: Option<&Column>,
        doubt: Option<Doubt>,
    ) {
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

    pub(super) fn aside(&mut self, fig: &Fig, reason: &str) {
        self.out.set_aside.push(SetAside {
            text: fig.written.clone(),
            reason: reason.into(),
            place: fig.place.clone(),
        });
    }

    pub(super) fn leave(&mut self, lab: &Lab, fig: &Fig) {
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

    pub(super) fn unread(&mut self, label: &str, written: &str, place: &Where) {
        self.out.unread.push(Unread { text: format!("{label} {written}").trim().to_owned(), place: place.clone() });
    }

    /// Units that stand by themselves between labels and figures: each to the next label that it measures.
    pub(super) fn give_units(&self, labels: &mut [Lab], units: Vec<Unit>) {
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
    pub(super) fn flush(&mut self) {
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
