//! What a used figure is compared with: the bed's own first analysis, else a product sheet, else the figure printed
//! beside it, else the class.
//!
//! Takes the sources in that order, gives a [`New`] for one figure in its own ionic form, or nothing: a figure in a
//! form that no source speaks of is not compared, unless the chemistry converts it.

use super::Context;
use super::slot::Slot;
use crate::record::{Measurement, Qualifier, Record};
use crate::specs::{Class, dry_capacity_h, dry_capacity_na};
use serde::Serialize;

/// Where a new-resin figure comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum From {
    /// The bed's own first analysis.
    Bed,
    /// A product data sheet.
    Sheet,
    /// Printed in the report beside the result.
    Report,
    /// The specification of the class.
    Class,
}

impl From {
    /// The contract's word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Bed => "bed",
            Self::Sheet => "sheet",
            Self::Report => "report",
            Self::Class => "class",
        }
    }
}

/// What new resin shows, in the unit and form of the used figure.
#[derive(Clone, Debug, PartialEq)]
pub struct New {
    /// A minimum, or the low end of a range.
    pub low: Option<f64>,
    /// A maximum, or the high end of a range.
    pub high: Option<f64>,
    /// A lone or first figure.
    pub typical: Option<f64>,
    /// Whose figure it is.
    pub from: From,
    /// The document, or the words that say there is none.
    pub source: String,
    /// How it was brought to the figure's form, where it was.
    pub converted: Option<String>,
}

impl New {
    /// The one number that a used figure is set against.
    pub fn reference(&self, slot: Slot) -> Option<f64> {
        let middle = match (self.low, self.high) {
            (Some(low), Some(high)) if !slot.is_capacity() => Some((low + high) / 2.0),
            _ => None,
        };
        self.typical.or(middle).or(self.low).or(self.high)
    }

    /// The highest that new resin shows.
    pub fn upper(&self) -> Option<f64> {
        self.high.or(self.typical).or(self.low)
    }

    /// The lowest that new resin shows.
    pub fn lower(&self) -> Option<f64> {
        self.low.or(self.typical).or(self.high)
    }

    fn is_empty(&self) -> bool {
        self.low.is_none() && self.high.is_none() && self.typical.is_none()
    }

    fn map(mut self, how: &str, change: impl Fn(f64) -> Option<f64>) -> Option<Self> {
        let each = |value: Option<f64>| value.and_then(&change);
        (self.low, self.high, self.typical) = (each(self.low), each(self.high), each(self.typical));
        self.converted = Some(how.to_owned());
        (!self.is_empty()).then_some(self)
    }
}

/// The new-resin figure for a used one in `form`, from the first source that has it.
///
/// `beside` is the figure printed next to the result; it is in the result's own form.
pub fn find(
    slot: Slot,
    form: Option<&str>,
    beside: Option<&Measurement>,
    class: Option<&Class>,
    context: &Context<'_>,
) -> Option<New> {
    context
        .first
        .and_then(|record| of_record(record, slot, form, From::Bed))
        .or_else(|| context.sheet.iter().find_map(|record| of_record(record, slot, form, From::Sheet)))
        .or_else(|| beside.and_then(of_reference))
        .or_else(|| class.and_then(|class| of_class(class, slot, form)))
}

/// The class's figure for a form, converted where the chemistry allows.
pub fn of_class(class: &Class, slot: Slot, form: Option<&str>) -> Option<New> {
    let exact = |form: Option<&str>| {
        let figure = class.figure(slot.property(), slot.basis(), form)?;
        let value = |bound: &Option<crate::specs::Bound>| bound.as_ref().map(|bound| bound.value);
        let source = figure.typical.as_ref().or(figure.low.as_ref()).or(figure.high.as_ref());
        Some(New {
            low: value(&figure.low),
            high: value(&figure.high),
            typical: value(&figure.typical),
            from: From::Class,
            source: source.map(|bound| bound.source.clone()).unwrap_or_default(),
            converted: None,
        })
    };
    exact(form).or_else(|| wet_from_dry(class, slot, form)).or_else(|| as_the_total_swells(class, slot, form)).or_else(
        || {
            let other = other_cation_form(slot, form)?;
            convert(exact(Some(other))?, other)
        },
    )
}

/// Strong and weak sites are thinned by swelling just as the total is.
fn as_the_total_swells(class: &Class, slot: Slot, form: Option<&str>) -> Option<New> {
    let standard = Some(class.standard_form.as_str());
    if !matches!(slot, Slot::StrongVolume | Slot::WeakVolume) || form == standard {
        return None;
    }
    let total = |form| of_class(class, Slot::TotalVolume, form)?.reference(Slot::TotalVolume);
    let ratio = total(form)? / total(standard).filter(|total| *total > 0.0)?;
    of_class(class, slot, standard)?
        .map("thinned as the class's total capacity is in that form", |value| Some(value * ratio))
}

/// A wet capacity of new resin is its dry one less its water.
fn wet_from_dry(class: &Class, slot: Slot, form: Option<&str>) -> Option<New> {
    let dry = match slot {
        Slot::TotalWet => Slot::TotalDry,
        Slot::StrongWet => Slot::StrongDry,
        Slot::WeakWet => Slot::WeakDry,
        _ => return None,
    };
    let water = of_class(class, Slot::Moisture, form)?.reference(Slot::Moisture)?;
    of_class(class, dry, form)?
        .map("worked from the dry capacity and moisture of new resin", |value| Some(value * (1.0 - water / 100.0)))
}

fn of_record(record: &Record, slot: Slot, form: Option<&str>, from: From) -> Option<New> {
    let (property, basis, unit) = slot.keys();
    let measurements = || {
        record
            .measurements
            .iter()
            .filter(|m| {
                m.property == property && m.basis.as_deref() == basis && m.unit.as_deref().unwrap_or(unit) == unit
            })
            .filter(|m| m.doubts.is_empty())
    };
    let form_of = |m: &Measurement| m.form.clone().or_else(|| record.sample.form.clone());
    let gather = |wanted: Option<&str>| {
        let mut new =
            New { low: None, high: None, typical: None, from, source: record.source.file.clone(), converted: None };
        for m in measurements() {
            let own = form_of(m);
            if slot.depends_on_form() && own.is_some() && wanted.is_some() && own.as_deref() != wanted {
                continue;
            }
            match m.qualifier {
                Qualifier::Above => new.low = new.low.or(m.value),
                Qualifier::Below => new.high = new.high.or(m.value),
                Qualifier::Range => {
                    new.low = new.low.or(m.value);
                    new.high = new.high.or(m.high);
                }
                Qualifier::Equal | Qualifier::About => new.typical = new.typical.or(m.value),
            }
        }
        (!new.is_empty()).then_some(new)
    };
    gather(form).or_else(|| {
        let other = other_cation_form(slot, form)?;
        convert(gather(Some(other))?, other)
    })
}

fn of_reference(m: &Measurement) -> Option<New> {
    let reference = m.reference.as_ref()?;
    let new = New {
        low: reference.low,
        high: reference.high,
        typical: reference.typical,
        from: From::Report,
        source: format!("printed in the report: {}", reference.as_written),
        converted: None,
    };
    (!new.is_empty()).then_some(new)
}

/// Only a dry capacity goes over by the masses of the ions alone; a volume one needs the bead's swelling too.
fn other_cation_form(slot: Slot, form: Option<&str>) -> Option<&'static str> {
    match (slot, form) {
        (Slot::TotalDry | Slot::StrongDry, Some("H")) => Some("Na"),
        (Slot::TotalDry | Slot::StrongDry, Some("Na")) => Some("H"),
        _ => None,
    }
}

fn convert(new: New, from_form: &str) -> Option<New> {
    match from_form {
        "Na" => new.map("converted from the sodium to the hydrogen form by the masses of the ions", dry_capacity_h),
        _ => new.map("converted from the hydrogen to the sodium form by the masses of the ions", dry_capacity_na),
    }
}
