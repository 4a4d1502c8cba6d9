//! From a record to the figures that the model works with, each with every reading that was possible.
//!
//! Takes a record, a class and the policy, gives [`Figures`]: one figure for each slot, what it is compared with, and
//! what was left out with the reason. A doubted figure comes out with its alternatives or not at all.

use super::Context;
use super::baseline::{self, From, New};
use super::closure::{self, Unclosed};
use super::left_out::LeftOut;
use super::policy::{Policy, Weighs};
use super::slot::Slot;
use crate::record::{Doubt, Measurement, Qualifier, Record};
use crate::specs::{BASES, Class, FORMS};
use std::collections::BTreeMap;

/// One reading that is possible of a figure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// The number the verdict is found with.
    pub at: f64,
    /// Low end of what the figure itself allows.
    pub low: f64,
    /// High end of what the figure itself allows.
    pub high: f64,
    /// How likely against the others.
    pub weight: f64,
}

/// One figure.
#[derive(Clone, Debug)]
pub struct Figure {
    /// Which.
    pub slot: Slot,
    /// Readings, the likeliest first; never empty.
    pub readings: Vec<Reading>,
    /// Standard deviation of the measurement itself.
    pub sd: f64,
    /// Beads counted, where it is a count.
    pub counted: Option<f64>,
    /// The measurement or field figure that it comes from.
    pub index: usize,
    /// Ionic form, printed or taken.
    pub form: Option<String>,
    /// Whether the form is printed, for figures that depend on it.
    pub form_known: bool,
    /// Trust that its doubts leave.
    pub trust: f64,
    /// How it came to its basis, where it is not the report's own.
    pub converted: Option<String>,
    /// What new resin shows.
    pub new: Option<New>,
    /// How it is bounded.
    pub qualifier: Qualifier,
}

impl Figure {
    /// The number the verdict is found with.
    pub fn at(&self) -> f64 {
        self.readings.first().map_or(f64::NAN, |reading| reading.at)
    }

    /// Whether more than one reading is possible.
    pub fn is_open(&self) -> bool {
        self.readings.len() > 1
    }
}

/// All figures of a record.
#[derive(Clone, Debug, Default)]
pub struct Figures {
    /// By slot.
    pub by_slot: BTreeMap<Slot, Figure>,
    /// What was left out.
    pub left_out: Vec<LeftOut>,
    /// Figures that should agree and do not.
    pub unclosed: Vec<Unclosed>,
}

impl Figures {
    /// The figure of a slot.
    pub fn get(&self, slot: Slot) -> Option<&Figure> {
        self.by_slot.get(&slot)
    }

    fn leave_out(&mut self, property: &str, basis: Option<&str>, why: impl Into<String>) {
        let left =
            LeftOut { property: property.to_owned(), basis: basis.map(str::to_owned), why: why.into(), minor: false };
        if !self.left_out.contains(&left) {
            self.left_out.push(left);
        }
    }
}

/// A measurement on its way to a figure.
struct Raw {
    figure: Figure,
    native: bool,
    mean: bool,
}

/// Water and density that bring a figure from one basis to another.
struct Dryness {
    /// Kilograms of dry matter to a kilogram of wet resin.
    dry_share: Option<f64>,
    /// Kilograms of dry matter to a litre of bed.
    dry_matter: Option<f64>,
}

/// Gathers the figures of a record.
pub fn gather(record: &Record, class: Option<&Class>, policy: &Policy, context: &Context<'_>) -> Figures {
    let mut figures = Figures::default();
    let dryness = dryness(record, class);
    let mut groups: BTreeMap<Slot, Vec<Raw>> = BTreeMap::new();
    for (index, m) in record.measurements.iter().enumerate() {
        match raw(record, index, m, class, policy, &dryness) {
            Ok(raw) => groups.entry(raw.figure.slot).or_default().push(raw),
            Err(why) => figures.leave_out(&m.property, m.basis.as_deref(), why),
        }
    }
    for (slot, group) in groups {
        let group = one_form(group, class, &mut figures);
        if let Some(figure) = one_figure(group) {
            figures.by_slot.insert(slot, figure);
        }
    }
    for (index, field) in record.field.iter().enumerate() {
        let Some(slot) = Slot::of_field(&field.quantity) else { continue };
        let bounds = (field.qualifier, field.value, field.high);
        match readings(slot, bounds, &field.unit, &field.doubts, policy, 1.0) {
            Ok((readings, trust)) => {
                let figure = Figure {
                    slot,
                    sd: sd(slot, readings.first().map_or(0.0, |r| r.at), policy),
                    readings,
                    counted: None,
                    index,
                    form: None,
                    form_known: true,
                    trust,
                    converted: None,
                    new: None,
                    qualifier: field.qualifier,
                };
                figures.by_slot.entry(slot).or_insert(figure);
            }
            Err(why) => figures.leave_out(&field.quantity, None, why),
        }
    }
    compare(&mut figures, record, class, policy, context);
    closure::close(&mut figures, &record.sieve, class, policy);
    figures
}

fn dryness(record: &Record, class: Option<&Class>) -> Dryness {
    let plain = |property: &str| {
        record.measurements.iter().find(|m| m.property == property && m.doubts.is_empty()).and_then(|m| m.value)
    };
    let new = |slot: Slot| {
        class.and_then(|class| baseline::of_class(class, slot, Some(&class.standard_form))?.reference(slot))
    };
    let water = plain("moisture_retention").or_else(|| new(Slot::Moisture)).filter(|w| (1.0..99.0).contains(w));
    let density = plain("bulk_density").or_else(|| new(Slot::BulkDensity)).filter(|d| (100.0..3000.0).contains(d));
    let dry_share = water.map(|water| 1.0 - water / 100.0);
    Dryness { dry_share, dry_matter: dry_share.zip(density).map(|(share, density)| share * density / 1000.0) }
}

fn raw(
    record: &Record,
    index: usize,
    m: &Measurement,
    class: Option<&Class>,
    policy: &Policy,
    dryness: &Dryness,
) -> Result<Raw, String> {
    let (slot, factor, converted, mut either_basis) = place(m, dryness)?;
    if could_be_wet(m) {
        either_basis = dryness.dry_share.map(|share| 1.0 / share);
    }
    let bounds = (m.qualifier, m.value, m.high);
    let unit = if converted.is_some() || either_basis.is_some() { None } else { m.unit.clone() };
    let (mut readings, trust) = readings(slot, bounds, &unit, &m.doubts, policy, factor)?;
    if let Some(other) = either_basis {
        let dry = policy.limits.dry_basis_weight;
        let second: Vec<_> = readings
            .iter()
            .map(|r| Reading { weight: r.weight * (1.0 - dry), ..scaled(r, other) })
            .filter(|r| possible(slot, r))
            .collect();
        for reading in &mut readings {
            reading.weight *= dry;
        }
        readings.extend(second);
    }
    let form = m.form.clone().or_else(|| record.sample.form.clone());
    let doubted_form =
        m.doubts.iter().any(names_forms) || record.doubts.iter().any(|doubt| doubt.property.as_deref() == Some("form"));
    let form_known = !slot.depends_on_form() || (form.is_some() && !doubted_form);
    let form =
        if slot.depends_on_form() { form.or_else(|| class.map(|class| class.standard_form.clone())) } else { None };
    let at = readings.first().map_or(0.0, |r| r.at);
    let printed = m.uncertainty.as_ref();
    let printed_sd = printed.and_then(|u| {
        let value = u.value? * factor;
        Some(if u.kind == "standard-deviation" { value } else { value / 2.0 })
    });
    let about = if m.qualifier == Qualifier::About { 2.0 } else { 1.0 };
    Ok(Raw {
        native: converted.is_none() && either_basis.is_none(),
        mean: m.doubts.iter().any(|d| policy.doubt(&d.code).is_some_and(|p| p.weighs == Weighs::Mean)),
        figure: Figure {
            slot,
            readings,
            sd: printed_sd.filter(|sd| sd.is_finite() && *sd >= 0.0).unwrap_or_else(|| sd(slot, at, policy) * about),
            counted: slot
                .is_count()
                .then(|| printed.and_then(|u| u.n).map_or(policy.limits.bead_count, f64::from).max(1.0)),
            index,
            form,
            form_known,
            trust,
            converted,
            new: None,
            qualifier: m.qualifier,
        },
    })
}

/// Slot, factor to it, how it was converted, and the factor to the other basis where the basis is not known.
type Place = (Slot, f64, Option<String>, Option<f64>);

fn place(m: &Measurement, dryness: &Dryness) -> Result<Place, String> {
    if let Some(slot) = Slot::of(&m.property, m.basis.as_deref()) {
        return Ok((slot, 1.0, None, None));
    }
    if m.property == "operating_capacity" {
        return Err("an operating capacity is what one cycle uses at its salt dose; it is never set against a total \
                    capacity"
            .to_owned());
    }
    let dry = Slot::of(&m.property, Some("dry_mass"));
    let volume = Slot::of(&m.property, Some("volume"));
    let no_water = || "its basis cannot be converted without moisture and density".to_owned();
    match (m.basis.as_deref(), dry, volume) {
        (Some("wet_mass"), Some(slot), _) => {
            let share = dryness.dry_share.ok_or_else(no_water)?;
            Ok((slot, 1.0 / share, Some("worked from wet to dry resin".to_owned()), None))
        }
        (Some("volume"), Some(slot), _) => {
            let matter = dryness.dry_matter.ok_or_else(no_water)?;
            Ok((slot, 1.0 / matter, Some("worked from resin volume to dry resin".to_owned()), None))
        }
        (Some("dry_mass"), None, Some(slot)) => {
            let matter = dryness.dry_matter.ok_or_else(no_water)?;
            Ok((slot, matter, Some("worked from dry resin to resin volume".to_owned()), None))
        }
        (None, Some(slot), _) if m.unit.as_deref().is_none_or(|unit| unit == slot.unit()) => {
            let share = dryness.dry_share.ok_or_else(no_water)?;
            Ok((slot, 1.0, None, Some(1.0 / share)))
        }
        (None, _, Some(slot)) if m.unit.as_deref() == Some(slot.unit()) => Ok((slot, 1.0, None, None)),
        _ => Err("nothing in this program judges it".to_owned()),
    }
}

/// What a figure may mean: its own reading, or those of its doubts; and the trust that the doubts leave.
fn readings(
    slot: Slot,
    (qualifier, value, high): (Qualifier, Option<f64>, Option<f64>),
    unit: &Option<String>,
    doubts: &[Doubt],
    policy: &Policy,
    factor: f64,
) -> Result<(Vec<Reading>, f64), String> {
    let value = value.ok_or_else(|| "no figure could be read for it".to_owned())?;
    if let Some(unit) = unit.as_deref().filter(|unit| *unit != slot.unit()) {
        return Err(format!("its unit {unit} is not the {} that it is judged in", slot.unit()));
    }
    let mut trust = 1.0;
    let mut readings = vec![bounded(slot, qualifier, value * factor, high.map(|high| high * factor))];
    for doubt in doubts {
        let entry = policy.doubt(&doubt.code);
        match entry.map_or(Weighs::Alternatives, |entry| entry.weighs) {
            Weighs::Figure => trust *= entry.map_or(1.0, |entry| entry.trust),
            Weighs::Mean | Weighs::Basis => {}
            Weighs::Never => return Err(format!("it is doubted: {}", doubt.text)),
            Weighs::Alternatives if names_forms(doubt) || names_bases(doubt) => {}
            Weighs::Alternatives => {
                let numbers = numbers(doubt);
                if numbers.is_empty() && doubt.code != "conflict" {
                    return Err(format!("it is doubted, and no other reading is named: {}", doubt.text));
                }
                for number in numbers {
                    let other = bounded(slot, Qualifier::Equal, number * factor, None);
                    if readings.iter().all(|r| (r.at - other.at).abs() > 1e-9 * other.at.abs().max(1.0)) {
                        readings.push(other);
                    }
                }
            }
        }
    }
    let all = readings.len();
    readings.retain(|r| possible(slot, r));
    if readings.is_empty() {
        let text = if all > 1 { "none of its readings is" } else { "it is not" };
        return Err(format!("{text} a possible figure for this property"));
    }
    Ok((readings, trust))
}

fn bounded(slot: Slot, qualifier: Qualifier, value: f64, high: Option<f64>) -> Reading {
    let top = if slot.is_percentage() { 100.0 } else { value };
    let (at, low, high) = match (qualifier, high) {
        (Qualifier::Range, Some(high)) => ((value + high) / 2.0, value, high),
        (Qualifier::Below, _) => (value, 0.0, value),
        (Qualifier::Above, _) => (value, value, top.max(value)),
        _ => (value, value, value),
    };
    Reading { at, low, high, weight: 1.0 }
}

fn possible(slot: Slot, reading: &Reading) -> bool {
    let top = if slot.is_percentage() { 100.0 } else { f64::MAX };
    [reading.at, reading.low, reading.high].iter().all(|v| v.is_finite() && *v >= 0.0 && *v <= top)
        && reading.low <= reading.high
}

fn scaled(reading: &Reading, factor: f64) -> Reading {
    Reading { at: reading.at * factor, low: reading.low * factor, high: reading.high * factor, weight: reading.weight }
}

fn names_forms(doubt: &Doubt) -> bool {
    names_only(doubt, &FORMS)
}

fn names_bases(doubt: &Doubt) -> bool {
    names_only(doubt, &BASES)
}

fn names_only(doubt: &Doubt, known: &[&str]) -> bool {
    !doubt.alternatives.is_empty()
        && doubt.alternatives.iter().all(|value| value.as_str().is_some_and(|text| known.contains(&text)))
}

/// Whether a figure per dry resin could be one per wet resin.
fn could_be_wet(m: &Measurement) -> bool {
    let wet = |doubt: &&Doubt| doubt.alternatives.iter().any(|value| value.as_str() == Some("wet_mass"));
    m.basis.as_deref() == Some("dry_mass") && m.doubts.iter().filter(|doubt| names_bases(doubt)).any(|d| wet(&d))
}

fn numbers(doubt: &Doubt) -> Vec<f64> {
    doubt
        .alternatives
        .iter()
        .filter_map(|value| {
            value.as_f64().or_else(|| value.get("value")?.as_f64()).or_else(|| value.as_str()?.trim().parse().ok())
        })
        .filter(|number| number.is_finite())
        .collect()
}

/// One slot may be printed in two forms; the one that most can be compared with is judged.
fn one_form(mut group: Vec<Raw>, class: Option<&Class>, figures: &mut Figures) -> Vec<Raw> {
    if group.iter().any(|raw| raw.native) {
        group.retain(|raw| raw.native);
    }
    let standard = class.map(|class| class.standard_form.as_str());
    let best = group
        .iter()
        .find(|raw| raw.figure.form.as_deref() == standard)
        .or(group.first())
        .map(|raw| raw.figure.form.clone());
    let (kept, other): (Vec<_>, Vec<_>) = group.into_iter().partition(|raw| Some(&raw.figure.form) == best.as_ref());
    for raw in other {
        let (property, basis, _) = raw.figure.slot.keys();
        let form = raw.figure.form.unwrap_or_default();
        figures.leave_out(property, basis, format!("the figure in the {form} form is left for the standard form's"));
    }
    kept
}

/// Several figures for one slot are all readings of it; replicates are their mean.
fn one_figure(group: Vec<Raw>) -> Option<Figure> {
    let replicates = group.len() > 1 && group.iter().all(|raw| raw.mean);
    let mut group = group.into_iter().map(|raw| raw.figure);
    let mut figure = group.next()?;
    if replicates {
        let mut all: Vec<f64> = vec![figure.at()];
        all.extend(group.map(|other| other.at()));
        let count = f64::from(u32::try_from(all.len()).unwrap_or(u32::MAX));
        let mean = all.iter().sum::<f64>() / count;
        let spread = all.iter().map(|v| (v - mean).abs()).fold(0.0, f64::max);
        figure.readings = vec![Reading { at: mean, low: mean, high: mean, weight: 1.0 }];
        figure.sd = figure.sd.max(spread / 2.0);
        return Some(figure);
    }
    for other in group {
        figure.trust = figure.trust.min(other.trust);
        for reading in other.readings {
            if figure.readings.iter().all(|r| (r.at - reading.at).abs() > 1e-9 * reading.at.abs().max(1.0)) {
                figure.readings.push(reading);
            }
        }
    }
    Some(figure)
}

/// Finds what each figure is compared with, in its own form; and opens a figure whose form is not known.
fn compare(figures: &mut Figures, record: &Record, class: Option<&Class>, policy: &Policy, context: &Context<'_>) {
    let mut apart = Vec::new();
    for figure in figures.by_slot.values_mut().filter(|figure| !figure.slot.is_field()) {
        let beside = figure.converted.is_none().then(|| record.measurements.get(figure.index)).flatten();
        let form = figure.form.clone();
        figure.new = baseline::find(figure.slot, form.as_deref(), beside, class, context);
        if let Some(class) = class.filter(|_| figure.new.is_none() && figure.slot.depends_on_form()) {
            let standard = baseline::of_class(class, figure.slot, Some(&class.standard_form)).is_some();
            let why = match form.filter(|_| standard) {
                Some(form) => format!("no new-resin figure in the {form} form to compare it with"),
                None => "no new-resin figure to compare it with".to_owned(),
            };
            apart.push((figure.slot, why, standard));
        }
        if !figure.form_known {
            open_form(figure, class, policy);
        }
    }
    for (slot, why, telling) in apart {
        figures.leave_out(slot.property(), slot.basis(), why);
        if let Some(left) = figures.left_out.last_mut().filter(|_| !telling) {
            left.minor = true;
        }
    }
}

/// A figure without a form could have been taken in the other usual one: that reading is judged too, in proportion.
fn open_form(figure: &mut Figure, class: Option<&Class>, policy: &Policy) {
    let (Some(class), Some(new)) = (class, figure.new.as_ref()) else { return };
    if new.from == From::Report {
        return;
    }
    let other = match class.standard_form.as_str() {
        "Na" => "H",
        "Cl" => "OH",
        _ => return,
    };
    let slot = figure.slot;
    let Some(here) = new.reference(slot) else { return };
    let Some(there) = baseline::of_class(class, slot, Some(other)).and_then(|new| new.reference(slot)) else { return };
    let weight = policy.limits.other_form_weight;
    let second: Vec<_> = figure
        .readings
        .iter()
        .map(|r| {
            let moved = if slot == Slot::Moisture {
                let shift = here - there;
                Reading { at: r.at + shift, low: r.low + shift, high: r.high + shift, weight: r.weight }
            } else if there > 0.0 {
                scaled(r, here / there)
            } else {
                *r
            };
            Reading { weight: r.weight * weight, ..moved }
        })
        .filter(|r| possible(slot, r))
        .collect();
    for reading in &mut figure.readings {
        reading.weight *= 1.0 - weight;
    }
    figure.readings.extend(second);
}

fn sd(slot: Slot, at: f64, policy: &Policy) -> f64 {
    let l = &policy.limits;
    match slot {
        slot if slot.is_capacity() => at * l.capacity_sd,
        Slot::Moisture => l.moisture_sd,
        Slot::BulkDensity | Slot::TrueDensity => at * l.density_sd,
        slot if slot.is_metal() => at * l.metal_sd,
        slot if slot.is_organics() => at * l.organics_sd,
        Slot::Freeboard | Slot::FreeboardAtStartup | Slot::BedDepth => l.tape_sd,
        Slot::BedVolume | Slot::BedVolumeAtStartup => at * l.volume_sd,
        Slot::TankBore | Slot::ServiceAge => 0.0,
        slot if slot.is_count() => 0.0,
        _ => at * l.other_sd,
    }
}
