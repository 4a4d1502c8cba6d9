//! A label and its figure to a measurement: unit, basis, form, bound, and what is not sure.

use super::label::{Kind, Lab};
use super::rows::Fig;
use super::words::{Limit, SheetWords};
use crate::lexicon::{Lexicon, Quantity};
use crate::quantity::{Dimension, Unit, UnitKind};
use crate::reconcile::{Path, path};
use crate::record::{Doubt, Measurement, Qualifier};

/// How well a figure suits a property.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fit {
    /// Its unit measures something else, or its size is impossible.
    None,
    /// No unit, and a possible size.
    Bare,
    /// Unit and size are those of the property.
    Full,
}

/// What figures are settled with.
pub struct Settler<'a> {
    /// The words of reports.
    pub lexicon: &'a Lexicon,
    /// The words of sheets.
    pub words: &'a SheetWords,
}

/// A unit's way to the canonical one, and whether the unit was assumed.
struct Way {
    path: Option<Path>,
    unit: Option<Unit>,
    assumed: bool,
}

impl Settler<'_> {
    /// Whether the figure can be one of the label's.
    pub fn fit(&self, lab: &Lab, fig: &Fig) -> Fit {
        let Some(property) = self.property(lab, fig) else { return Fit::None };
        let Some(value) = fig.value.value else { return Fit::None };
        let printed = fig.value.unit.is_some();
        let grading = property.id == "mean_size"
            && !lab.facets.iter().any(|facet| facet == "mean")
            && fig.value.high.is_some_and(|high| high > value * self.words.grading);
        if grading {
            return Fit::None;
        }
        if property.units.get("").is_some_and(|unit| unit == "1") {
            let none = fig.value.unit.as_ref().is_none_or(|unit| unit.kind == UnitKind::Dimensionless);
            return if none && within(property, None, value) { Fit::Bare } else { Fit::None };
        }
        let Some(way) = self.way(property, lab, fig) else {
            let capacity = property.units.contains_key("volume") && !printed && lab.unit.is_none();
            return if capacity && within(property, lab.basis.as_deref().or(Some("volume")), value) {
                Fit::Bare
            } else {
                Fit::None
            };
        };
        let possible = way
            .path
            .as_ref()
            .and_then(|p| p.apply(value))
            .is_some_and(|v| within(property, way.path.as_ref().and_then(|p| p.basis.as_deref()), v));
        match (possible, printed) {
            (false, true) if lab.unit.is_some() || printed => {
                // An impossible size in the right unit is the figure's own trouble, and is doubted.
                Fit::Bare
            }
            (false, _) => Fit::None,
            (true, true) => Fit::Full,
            (true, false) => {
                if lab.unit.is_some() {
                    Fit::Full
                } else {
                    Fit::Bare
                }
            }
        }
    }

    /// The property of a label's figure: "Density 1.28 g/mL" is the bead's, "0.82 g/mL" the bed's.
    fn property(&self, lab: &Lab, fig: &Fig) -> Option<&Quantity> {
        let Kind::Property(id) = &lab.kind else { return None };
        let named = |words: &[&str]| lab.facets.iter().any(|facet| words.contains(&facet.as_str()));
        if id == "bulk_density" && !named(&["bulk", "shipping_weight", "true", "bead"]) {
            let bead = self.lexicon.property("true_density")?;
            let size = self.way(bead, lab, fig).and_then(|way| way.path?.apply(fig.value.value?));
            if size.is_some_and(|size| within(bead, None, size)) {
                return Some(bead);
            }
        }
        self.lexicon.property(id)
    }

    fn way(&self, property: &Quantity, lab: &Lab, fig: &Fig) -> Option<Way> {
        let words = lab.basis.as_deref();
        let substance = lab.facets.iter().any(|id| id == "as_caco3").then_some("CaCO3");
        let metal = property.units.contains_key("volume") && property.units.get("volume").is_some_and(|u| u == "mg/L");
        if let Some(unit) = fig.value.unit.as_ref().or(lab.unit.as_ref()) {
            let mut found = path(unit, property, words, substance);
            // A specific gravity, and beads by share: "1.28 g/mL" of a plain "density" is the bead's.
            if found.is_none()
                && property.id == "crush_strength"
                && unit.dimension == (Dimension { mass: 1, ..Dimension::default() })
            {
                found = path(&Unit::parse("g/bead")?, property, None, None);
            }
            let found = found.filter(|p| !(metal && p.canonical == "mg/L"))?;
            return Some(Way { path: Some(found), unit: Some(unit.clone()), assumed: false });
        }
        let value = fig.value.value?;
        let capacity = property.units.get("volume").is_some_and(|u| u == "eq/L");
        let candidates: Vec<String> = match words {
            Some("volume") if capacity => vec!["eq/L".into(), "kgr/ft3".into()],
            Some("dry_mass" | "wet_mass") if capacity => vec!["eq/kg".into()],
            _ => self.words.assumed(&property.id).to_vec(),
        };
        candidates.iter().find_map(|text| {
            let unit = Unit::parse(text)?;
            let way = path(&unit, property, words, None)?;
            let fits = within(property, way.basis.as_deref(), way.apply(value)?);
            fits.then_some(Way { path: Some(way), unit: Some(unit), assumed: true })
        })
    }

    /// The measurement.
    pub fn measurement(&self, lab: &Lab, fig: &Fig, form: Option<String>) -> Option<Measurement> {
        let property = self.property(lab, fig)?;
        let value = fig.value.value?;
        let mut doubts = Vec::new();
        let way = self.way(property, lab, fig);
        let mut m = Measurement {
            property: property.id.clone(),
            label: lab.text.clone(),
            as_written: fig.written.clone(),
            place: fig.place.clone(),
            ..Measurement::default()
        };
        let doubt = |code: &str, text: String| Doubt::new(code, Some(&m.property), text, &fig.place);
        let apply = |number: f64| match &way {
            Some(Way { path: Some(path), .. }) => path.apply(number),
            _ => Some(number),
        };
        let dimensionless = property.units.get("").is_some_and(|unit| unit == "1");
        let mut low = apply(value);
        let mut high = fig.value.high.and_then(apply);
        match &way {
            Some(way) => {
                m.unit = way.path.as_ref().map(|p| p.canonical.clone());
                m.basis = way.path.as_ref().and_then(|p| p.basis.clone());
                let natural = property.id == "true_density" && lab.facets.iter().any(|f| f == "specific_gravity");
                if way.assumed && !natural {
                    let unit = way.unit.as_ref().map_or(String::new(), |unit| unit.text.clone());
                    doubts.push(doubt(
                        "unit-assumed",
                        format!("No unit is printed; only {unit} makes the figure possible."),
                    ));
                }
            }
            None if dimensionless => m.unit = Some("1".into()),
            None if fig.value.unit.is_none() && lab.unit.is_none() => {
                doubts.push(doubt("no-unit", format!("No unit is printed with \"{}\".", fig.written)));
                (low, high) = (None, None);
                m.basis = lab.basis.clone();
            }
            None => return None,
        }
        let by_mass = m.unit.as_deref() == Some("eq/kg") || m.unit.as_deref() == Some("mg/kg");
        if by_mass && m.basis.is_none() {
            // Sheets give capacities by mass for dry resin; a wet figure of new resin is about half of it.
            if m.unit.as_deref() == Some("eq/kg") {
                m.basis = Some("dry_mass".into());
            }
            if !lab.dry_by_standard {
                let text = format!("\"{}\" does not say whether the resin is weighed dry.", lab.text);
                doubts.push(doubt("basis-unknown", text));
            }
        }
        let tolerance = fig.value.plus_minus.and_then(|half| Some((apply(value + half)? - low?).abs())).or_else(|| {
            let (half, share) = lab.tolerance?;
            if share { low.map(|v| v * half / 100.0) } else { Some((apply(value + half)? - low?).abs()) }
        });
        let limit = fig.limit.or(lab.limit);
        (m.qualifier, m.value, m.high) = match (high, tolerance, limit) {
            (Some(high), _, _) => (Qualifier::Range, low, Some(high)),
            (None, Some(half), _) => (Qualifier::Range, low.map(|v| tidy(v - half)), low.map(|v| tidy(v + half))),
            (_, _, Some(Limit::Min)) => (Qualifier::Above, low, None),
            (_, _, Some(Limit::Max)) => (Qualifier::Below, low, None),
            (_, _, Some(Limit::About)) => (Qualifier::About, low, None),
            _ => (Qualifier::Equal, low, None),
        };
        let needs_form = m.property.ends_with("_capacity")
            || m.property == "moisture_retention"
            || m.property == "regenerated_sites";
        let named = !lab.forms.is_empty() || !fig.forms.is_empty();
        m.form = form.filter(|_| needs_form || named);
        if !lab.unexplained.is_empty() {
            let words = lab.unexplained.join(" ");
            doubts.push(doubt(
                "label-uncertain",
                format!("In \"{}\" the words \"{words}\" are not understood.", lab.text),
            ));
        }
        if lab.attrition {
            doubts
                .push(doubt("after-attrition", format!("\"{}\" counts beads after a test that wears them.", lab.text)));
        }
        let size_of_no_kind = m.property == "mean_size" && !lab.facets.iter().any(|f| f == "mean");
        if size_of_no_kind {
            doubts.push(doubt("label-uncertain", format!("\"{}\" does not say which size is meant.", lab.text)));
        }
        if m.property == "fines"
            && let Some(mm) = lab.cut.as_ref().and_then(|cut| cut.opening_mm())
            && !(0.28..=0.32).contains(&mm)
        {
            doubts.push(doubt("other-cut", format!("Fines are counted below {mm} mm here, not below 0.300 mm.")));
        }
        if let Some(v) = m.value
            && !within(property, m.basis.as_deref(), v)
        {
            doubts
                .push(doubt("implausible", format!("{v} lies outside what {} can be.", property.name.to_lowercase())));
        }
        for (other, unit) in &fig.also {
            self.compare(property, lab, (*other, unit), value, &m, &mut doubts);
        }
        if let Some(token) = &fig.value.mended {
            doubts.push(doubt("letters-for-digits", format!("\"{token}\" was read as a number.")));
        }
        if fig.may_be_grouped {
            let text = format!("One or two digits stand right before \"{}\"; both may be one number.", fig.written);
            doubts.push(doubt("blank-grouped", text));
        }
        if let Some(confidence) = fig.recognized {
            let text = format!("Read from a picture; the program was {:.0} % sure of it.", confidence * 100.0);
            doubts.push(doubt("recognized-text", text));
        }
        m.doubts = doubts;
        Some(m)
    }

    /// The same figure in another unit is checked against the first.
    fn compare(
        &self,
        property: &Quantity,
        lab: &Lab,
        other: (f64, &Unit),
        first: f64,
        m: &Measurement,
        doubts: &mut Vec<Doubt>,
    ) {
        let Some(value) = m.value.filter(|_| m.qualifier != Qualifier::Range) else { return };
        let Some(way) = path(other.1, property, lab.basis.as_deref(), None) else { return };
        if way.canonical != m.unit.as_deref().unwrap_or("") || other.0 == first {
            return;
        }
        if let Some(v) = way.apply(other.0)
            && !self.agree(v, value)
        {
            let text = format!("\"{}\" says {value} and {v} {} for one thing.", m.as_written, way.canonical);
            doubts.push(Doubt::new("conflict", Some(&m.property), text, &m.place).with_alternatives([value, v]));
        }
    }

    /// Whether two numbers are one in two roundings.
    pub fn agree(&self, a: f64, b: f64) -> bool {
        (a - b).abs() <= self.words.agree * a.abs().max(b.abs())
    }

    /// The figure in the property's canonical unit.
    pub fn canonical(&self, lab: &Lab, fig: &Fig) -> Option<(String, f64, Option<f64>)> {
        let property = self.property(lab, fig)?;
        let path = self.way(property, lab, fig)?.path?;
        Some((path.canonical.clone(), path.apply(fig.value.value?)?, fig.value.high.and_then(|v| path.apply(v))))
    }
}

fn within(property: &Quantity, basis: Option<&str>, value: f64) -> bool {
    let range = property
        .plausible
        .get(basis.unwrap_or(""))
        .or_else(|| property.plausible.get("dry_mass").filter(|_| basis.is_none()));
    range.is_none_or(|[low, high]| (*low..=*high).contains(&value))
}

fn tidy(value: f64) -> f64 {
    let text = format!("{value:.10}");
    text.parse().unwrap_or(value)
}
