//! One figure: which basis, which unit, and what the value is in the canonical one.

use crate::extract::Figure;
use crate::lexicon::{Lexicon, Quantity, Role, Target};
use crate::quantity::{Dimension, Matter, Share, Unit, UnitKind, as_element};
use crate::record::{Doubt, FieldFigure, Measurement, Qualifier, Record, Reference, Uncertainty, Unread};
use crate::value::Bound;

/// A measurement with what is needed to weigh it against others.
#[derive(Clone, Debug)]
pub struct Candidate {
    /// The measurement.
    pub measurement: Measurement,
    /// Size of one unit in its last printed digit, in the canonical unit.
    pub last_digit: f64,
    /// The mean of replicates beside it.
    pub is_mean: bool,
    /// One of several replicates.
    pub is_replicate: bool,
    /// Named "perfect" rather than "whole".
    pub perfect: bool,
    /// The label says "total", or otherwise which capacity it is.
    pub says_which: bool,
}

/// Where a unit was printed; a nearer place goes before a farther one.
fn units(figure: &Figure) -> Vec<Unit> {
    let mut found = Vec::new();
    found.extend(figure.value.unit.clone());
    found.extend(figure.unit_column.as_ref().and_then(|u| u.1.clone()));
    found.extend(figure.label.unit.clone());
    found.extend(figure.head.as_ref().and_then(|h| h.unit.clone()));
    if found.is_empty() {
        found.extend(figure.section_unit.clone());
    }
    found
}

/// Settles one figure into a measurement candidate or a bed figure.
pub fn settle(figure: Figure, lexicon: &Lexicon, record: &mut Record, candidates: &mut Vec<Candidate>) {
    match figure.label.target.clone() {
        Some(Target::Property(id)) => {
            if let Some(property) = lexicon.property(&id) {
                candidates.push(measurement(figure, property, lexicon, record));
            }
        }
        Some(Target::Field(id)) => {
            let id = field_by_unit(&id, &figure);
            if let Some(quantity) = lexicon.field(&id) {
                let field = field_figure(&figure, quantity);
                let twin = record.field.iter().position(|f| f.quantity == field.quantity);
                match twin.and_then(|at| record.field.get_mut(at)) {
                    Some(known) if same(known.value, field.value, 0.006) => {}
                    Some(known) => {
                        let alternatives: Vec<f64> = known.value.into_iter().chain(field.value).collect();
                        let doubt = Doubt::new(
                            "conflict",
                            Some(&field.quantity),
                            format!("\"{}\" and \"{}\" are given for the same.", known.as_written, field.as_written),
                            &field.place,
                        )
                        .with_alternatives(alternatives);
                        known.doubts.push(doubt.clone());
                        record.field.push(FieldFigure { doubts: vec![doubt], ..field });
                    }
                    None => record.field.push(field),
                }
            }
        }
        _ => record
            .unread
            .push(Unread { text: format!("{} {}", figure.label_text, figure.as_written), place: figure.place }),
    }
}

fn same(a: Option<f64>, b: Option<f64>, relative: f64) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= relative * a.abs().max(b.abs()),
        _ => false,
    }
}

/// "Salt: 10 lb" is a weight, "Salt per regeneration: 10 lb/ft³" is a dose.
fn field_by_unit(id: &str, figure: &Figure) -> String {
    let unit = units(figure).into_iter().next();
    let per_volume = unit.as_ref().is_some_and(|u| u.dimension.length == -3);
    let weight = unit.as_ref().is_some_and(|u| u.dimension == Dimension { mass: 1, ..Dimension::default() });
    match id {
        "salt_dose" if weight => "salt_per_regeneration".to_owned(),
        "salt_per_regeneration" if per_volume => "salt_dose".to_owned(),
        other => other.to_owned(),
    }
}

fn doubt(code: &str, figure: &Figure, text: impl Into<String>) -> Doubt {
    Doubt::new(code, figure.label.target.as_ref().map(Target::id), text, &figure.place)
}

/// "1, 02 mol/L", "0. 09": a blank behind the decimal mark.
fn broken_number(text: &str) -> bool {
    let mut last = [' '; 3];
    text.chars().any(|c| {
        let broken = matches!(last, [d, '.' | ',', ' '] if d.is_ascii_digit()) && c.is_ascii_digit();
        last = [last[1], last[2], c];
        broken
    })
}

/// Doubts that lie in the printed text itself.
fn text_doubts(figure: &Figure) -> Vec<Doubt> {
    let mut doubts = figure.doubts.clone();
    // In a column that holds results, "≤ 50" is one; alone, or in words ("max. 50"), it may be the limit.
    let signed = figure.as_written.trim_start().starts_with(['≤', '≥']);
    if figure.value.bound.is_some() && !(figure.in_column && signed) {
        doubts.push(doubt(
            "limit-as-result",
            figure,
            format!("\"{}\" is worded as a limit; it may be a specification and no result.", figure.as_written),
        ));
    }
    if broken_number(&figure.as_written) {
        doubts.push(doubt(
            "broken-number",
            figure,
            format!("A blank stands inside the number in \"{}\"; part of it may be missing here.", figure.as_written),
        ));
    }
    if let Some(token) = &figure.value.mended {
        doubts.push(doubt("letters-for-digits", figure, format!("\"{token}\" was read as a number.")));
    }
    if !figure.label.unexplained.is_empty() {
        let words = figure.label.unexplained.join("\", \"");
        doubts.push(doubt(
            "label-uncertain",
            figure,
            format!("In \"{}\" the words \"{words}\" are not understood.", figure.label_text),
        ));
    }
    let loose: Vec<&String> = figure.label.loose_numbers.iter().filter(|n| n.chars().count() > 1).collect();
    if !loose.is_empty() {
        doubts.push(doubt(
            "label-uncertain",
            figure,
            format!("\"{}\" holds a number that is not understood.", figure.label_text),
        ));
    }
    doubts
}

fn measurement(figure: Figure, property: &Quantity, lexicon: &Lexicon, record: &Record) -> Candidate {
    let mut doubts = text_doubts(&figure);
    let value = &figure.value;
    let found = units(&figure);
    let of_resin = [
        value.unit.as_ref(),
        figure.unit_column.as_ref().and_then(|(_, u)| u.as_ref()),
        figure.head.as_ref().and_then(|h| h.unit.as_ref()),
        figure.section_unit.as_ref(),
    ];
    if figure.label.eluate && !of_resin.into_iter().flatten().any(|u| u.matter.is_some()) {
        doubts.push(doubt(
            "label-uncertain",
            &figure,
            format!("\"{}\" may count per litre of what was washed off, and not of resin.", figure.label_text),
        ));
    }
    let basis_words = figure.label.basis.clone().or_else(|| figure.head.as_ref().and_then(|h| h.basis.clone()));
    let substance = figure.label.substance.clone().or_else(|| figure.head.as_ref().and_then(|h| h.substance.clone()));
    let form = figure
        .label
        .form
        .clone()
        .or_else(|| figure.head.as_ref().and_then(|h| h.form.clone()))
        .or_else(|| record.sample.form.clone());
    let mut paths: Vec<(Path, Unit)> = Vec::new();
    for unit in &found {
        if let Some(path) = path(unit, property, basis_words.as_deref(), substance.as_deref()) {
            paths.push((path, unit.clone()));
        }
    }
    if paths.len() < found.len() && !paths.is_empty() || paths.is_empty() && !found.is_empty() {
        let texts: Vec<String> = found.iter().map(|u| u.text.clone()).collect();
        let unfit = found.iter().any(|u| path(u, property, basis_words.as_deref(), substance.as_deref()).is_none());
        if unfit {
            doubts.push(
                doubt(
                    "unit-unfit",
                    &figure,
                    format!("The unit \"{}\" does not fit {}.", texts.join("\" / \""), property.name),
                )
                .with_alternatives(texts),
            );
        }
    }
    // "94 %" beside "of 400 counted": the count says on how many beads the percentage stands.
    let counted = |u: &Unit| u.share == Some(Share::Count) && (u.factor - 0.01).abs() > 1e-9;
    if paths.iter().any(|(_, u)| u.kind == UnitKind::Percent && !counted(u)) {
        paths.retain(|(_, u)| !counted(u));
    }
    if let (Some((a, ua)), Some((b, ub))) = (paths.first(), paths.get(1))
        && let Some(number) = value.value
        && let (Some(x), Some(y)) = (a.apply(number), b.apply(number))
        && !same(Some(x), Some(y), 1e-6)
        && number != 0.0
    {
        doubts.push(
            doubt(
                "unit-conflict",
                &figure,
                format!("Two units are printed for it, \"{}\" and \"{}\".", ua.text, ub.text),
            )
            .with_alternatives([x, y]),
        );
    }
    let mut path = paths.into_iter().next().map(|p| p.0);
    let unit_column_text = figure.unit_column.as_ref().filter(|u| u.1.is_none()).map(|u| u.0.clone());
    if path.is_none() && found.is_empty() {
        path = without_unit(&figure, property, basis_words.as_deref(), unit_column_text.as_deref(), &mut doubts);
    }
    let basis = match (&path, basis_words.clone()) {
        (Some(p), _) => p.basis.clone(),
        (None, words) => words.filter(|b| property.units.contains_key(b)),
    };
    let needs_basis = !property.units.contains_key("");
    if needs_basis && basis.is_none() && path.is_some() {
        doubts.push(doubt(
            "basis-unknown",
            &figure,
            "Neither the report nor the unit says whether this is per dry mass, wet mass or volume.",
        ));
    }
    if let (Some(words), Some(p)) = (&basis_words, &path)
        && p.basis.as_ref().is_some_and(|b| b != words)
        && needs_basis
    {
        doubts.push(doubt(
            "basis-conflict",
            &figure,
            format!("The words say {words}, the unit says {}.", p.basis.clone().unwrap_or_default()),
        ));
    }
    // Metals are counted per mass of resin; "1.6 mg/L" without a word of the resin may be the water's.
    if needs_basis
        && property.substance.is_some()
        && !property.id.starts_with("organics_")
        && basis_words.is_none()
        && path.as_ref().is_some_and(|p| p.basis.as_deref() == Some("volume"))
        && !found.iter().any(|u| u.matter.is_some())
    {
        doubts.push(doubt(
            "water-or-resin",
            &figure,
            format!(
                "\"{}\" is printed by volume, with no word of the resin; it may be of the water.",
                figure.as_written
            ),
        ));
    }
    let unit = path.as_ref().map(|p| p.canonical.clone());
    let convert = |x: Option<f64>| x.and_then(|x| path.as_ref().and_then(|p| p.apply(x)));
    let mut m = Measurement {
        property: property.id.clone(),
        basis,
        form: form.filter(|_| needs_basis || property.id == "moisture_retention" || figure.label.form.is_some()),
        qualifier: value.qualifier,
        value: convert(value.value),
        high: convert(value.high),
        uncertainty: None,
        unit: unit.filter(|u| u != "1").or_else(|| property.units.get("").filter(|u| *u == "1").cloned()),
        label: figure.label_text.clone(),
        as_written: figure.as_written.clone(),
        method: figure.method.clone(),
        reference: None,
        place: figure.place.clone(),
        doubts: Vec::new(),
    };
    if let Some(form) = &figure.label.form {
        m.form = Some(form.clone());
    }
    detection(&figure, &mut m, &convert, &mut doubts);
    if value.trace {
        doubts.push(doubt("trace", &figure, "Only \"trace\" is printed."));
    }
    uncertainty(&figure, &mut m, &convert);
    m.reference = reference(&figure, property, path.as_ref(), basis_words.as_deref(), substance.as_deref());
    style(&figure, &m, &convert, &mut doubts);
    if m.value.is_none() && path.is_none() && !value.not_detected && !value.trace {
        m.unit = None;
        if !doubts.iter().any(|d| d.code == "no-unit" || d.code == "unit-unfit") {
            doubts.push(doubt("no-unit", &figure, "No unit is printed for it."));
        }
    }
    if property.cut
        && let Some(cut) = &figure.label.cut
        && property.id == "fines"
        && let Some(mm) = cut.opening_mm()
        && !(0.295..=0.32).contains(&mm)
    {
        doubts.push(doubt("other-cut", &figure, format!("Fines are counted below {mm} mm here, not below 0.300 mm.")));
    }
    plausible(&figure, property, &m, &mut doubts);
    m.doubts = doubts;
    let has = |id: &str| lexicon.facet_id(id).is_some_and(|f| figure.label.facets.contains(&f));
    Candidate {
        last_digit: convert(Some(value.last_digit)).map_or(0.0, f64::abs),
        measurement: m,
        is_mean: figure.is_mean,
        is_replicate: figure.is_replicate,
        perfect: has("perfect"),
        says_which: has("total") || has("strong") || has("weak"),
    }
}

/// How a printed number becomes the canonical one.
#[derive(Clone, Debug)]
pub struct Path {
    /// Basis that the unit, or the words with it, give.
    pub basis: Option<String>,
    /// Canonical unit.
    pub canonical: String,
    from: Unit,
    to: Unit,
    factor: f64,
}

impl Path {
    /// Converts a number.
    pub fn apply(&self, number: f64) -> Option<f64> {
        self.from.convert(number, &self.to).map(|v| v * self.factor).filter(|v| v.is_finite()).map(tidy)
    }
}

/// Floating-point dust away: twelve significant digits are more than any laboratory prints.
fn tidy(value: f64) -> f64 {
    if value == 0.0 {
        return 0.0;
    }
    let scale = 10f64.powi(12 - value.abs().log10().ceil() as i32);
    let rounded = (value * scale).round() / scale;
    if rounded.is_finite() { rounded } else { value }
}

/// How a figure of a property goes over from its printed unit into the canonical one; none where the unit does not
/// measure it. `words` is the basis that words give, `substance` what words say is counted.
///
/// ```
/// use beadwise::{lexicon::Lexicon, quantity::Unit, reconcile};
/// let capacity = Lexicon::builtin().property("total_capacity").ok_or("no such property")?;
/// let printed = Unit::parse("kgr/ft3").ok_or("no such unit")?;
/// let path = reconcile::path(&printed, capacity, None, None).ok_or("no way")?;
/// assert_eq!(path.canonical, "eq/L");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn path(unit: &Unit, property: &Quantity, words: Option<&str>, substance: Option<&str>) -> Option<Path> {
    let amount = Dimension { amount: 1, ..Dimension::default() };
    let substance = unit.substance.as_deref().or(substance);
    let by_matter = match unit.matter {
        Some(Matter::Dry) => Some("dry_mass"),
        Some(Matter::Wet) => Some("wet_mass"),
        Some(Matter::Resin(_)) => Some("volume"),
        None => None,
    };
    let make = |basis: Option<&str>, canonical: &str, from: Unit, factor: f64| {
        let to = Unit::parse(canonical)?;
        from.convert(1.0, &to)?;
        Some(Path { basis: basis.map(str::to_owned), canonical: canonical.to_owned(), from, to, factor })
    };
    if let Some(canonical) = property.units.get("") {
        if canonical == "1" {
            return None;
        }
        if canonical == "g/bead" {
            let per_bead = Unit { dimension: Dimension { bead: -1, ..unit.dimension }, ..unit.clone() };
            return make(None, canonical, unit.clone(), 1.0)
                .or_else(|| make(None, canonical, per_bead, 1.0))
                .or_else(|| newtons(unit));
        }
        return make(None, canonical, unit.clone(), 1.0);
    }
    if property.units.get("volume").is_some_and(|u| u == "eq/L") {
        let per_volume = Dimension { length: -3, ..amount };
        let per_mass = Dimension { mass: -1, ..amount };
        if unit.dimension == per_volume {
            return make(Some("volume"), "eq/L", unit.clone(), 1.0);
        }
        if unit.dimension == per_mass {
            let basis = by_matter.filter(|b| *b != "volume").or(words.filter(|w| *w != "volume"));
            return make(basis, "eq/kg", unit.clone(), 1.0);
        }
        if unit.dimension == (Dimension { mass: 1, length: -3, ..Dimension::default() }) {
            let mut counted = unit.clone();
            counted.substance = substance.map(str::to_owned);
            return make(Some("volume"), "eq/L", counted.as_equivalents()?, 1.0);
        }
        return None;
    }
    let element = property.substance.as_deref().unwrap_or_default();
    let factor = match substance {
        None => 1.0,
        Some(s) if s == element => 1.0,
        Some("O2") if element == "KMnO4" => 1.0 / 0.2531,
        Some(s) => as_element(s, element)?,
    };
    let fraction = unit.dimension == Dimension::default()
        && matches!(
            unit.kind,
            UnitKind::Percent
                | UnitKind::Permille
                | UnitKind::PartsPerMillion
                | UnitKind::PartsPerBillion
                | UnitKind::Ordinary
        );
    if fraction {
        let basis = by_matter.or(words).filter(|b| property.units.contains_key(*b) && *b != "volume");
        return make(basis, "mg/kg", unit.clone(), factor);
    }
    if unit.dimension == (Dimension { mass: 1, length: -3, ..Dimension::default() }) {
        return make(Some("volume"), "mg/L", unit.clone(), factor);
    }
    None
}

/// A load in newtons on a bead, as the grams that press as hard. Standard gravity 9.80665 m/s² (exact by definition).
fn newtons(unit: &Unit) -> Option<Path> {
    let force = Dimension { mass: 1, length: 1, time: -2, ..Dimension::default() };
    let bare = Dimension { bead: 0, ..unit.dimension };
    if bare != force {
        return None;
    }
    let to = Unit::parse("g/bead")?;
    let from = Unit { dimension: to.dimension, factor: unit.factor / 9.80665, ..unit.clone() };
    Some(Path { basis: None, canonical: "g/bead".into(), from, to, factor: 1.0 })
}

/// No unit is printed: one that alone makes the figure possible is assumed, with a doubt.
fn without_unit(
    figure: &Figure,
    property: &Quantity,
    words: Option<&str>,
    odd: Option<&str>,
    doubts: &mut Vec<Doubt>,
) -> Option<Path> {
    let number = figure.value.value;
    if property.units.get("").is_some_and(|u| u == "1") {
        let percent = Unit::parse("%")?;
        return Some(Path { basis: None, canonical: "1".into(), from: percent.clone(), to: percent, factor: 1.0 });
    }
    let candidates: &[&str] = match property.units.get("").map(String::as_str) {
        Some("%") => &["%"],
        Some("mm") => &["mm", "µm"],
        Some("g/L") => &["g/L", "g/mL", "lb/ft3"],
        Some("g/mL") => &["g/mL"],
        Some("g/bead") => &["g/bead"],
        _ if property.units.get("volume").is_some_and(|u| u == "eq/L") => &["eq/L", "kgr/ft3", "eq/kg"],
        _ => &[],
    };
    if figure.value.not_detected && number.is_none() {
        // No figure at all: a unit would mean nothing, but the basis may be known.
        return None;
    }
    if property.id == "true_density" && figure.label_text.to_lowercase().contains("gravity") {
        let unit = Unit::parse("g/mL")?;
        return path(&unit, property, words, None);
    }
    let named_percent = figure.label.percent_word || figure.head.as_ref().is_some_and(|h| h.percent_word);
    if named_percent && candidates == ["%"] {
        return path(&Unit::parse("%")?, property, words, None);
    }
    let number = number?;
    let fits: Vec<(Path, &str)> = candidates
        .iter()
        .filter_map(|text| {
            let unit = Unit::parse(text)?;
            let path = path(&unit, property, words, None)?;
            if words.is_some_and(|w| path.basis.as_deref().is_some_and(|b| b != w)) {
                return None;
            }
            let value = path.apply(number)?;
            let key = path.basis.clone().unwrap_or_default();
            let range = property.plausible.get(&key).or_else(|| property.plausible.get("dry_mass"))?;
            (range[0] <= value && value <= range[1]).then_some((path, *text))
        })
        .collect();
    if let Some(odd) = odd {
        doubts.push(doubt("unit-unknown", figure, format!("The unit \"{odd}\" is not known.")));
    }
    match fits.as_slice() {
        [(path, text)] => {
            doubts.push(doubt(
                "unit-assumed",
                figure,
                format!("No unit is printed; only {text} makes the figure possible."),
            ));
            Some(path.clone())
        }
        _ => {
            let texts: Vec<String> = fits.iter().map(|(_, t)| (*t).to_owned()).collect();
            doubts.push(doubt("no-unit", figure, "No unit is printed for it.").with_alternatives(texts));
            None
        }
    }
}

fn detection(
    figure: &Figure,
    m: &mut Measurement,
    convert: &dyn Fn(Option<f64>) -> Option<f64>,
    doubts: &mut Vec<Doubt>,
) {
    if !figure.value.not_detected {
        return;
    }
    m.qualifier = Qualifier::Below;
    if m.value.is_none() {
        m.value = figure.detection_limit.as_ref().and_then(|limit| convert(limit.value));
    }
    if m.value.is_none() {
        doubts.push(doubt("no-detection-limit", figure, "Not detected, but no limit of detection is printed."));
    }
}

fn uncertainty(figure: &Figure, m: &mut Measurement, convert: &dyn Fn(Option<f64>) -> Option<f64>) {
    let value = &figure.value;
    let column = figure.deviation.as_ref();
    let relative = column
        .filter(|d| d.unit.as_ref().is_some_and(|u| u.kind == UnitKind::Percent) && m.unit.as_deref() != Some("%"));
    let spread = match (value.plus_minus, relative, column) {
        (Some(x), _, _) => convert(Some(x)),
        (None, Some(percent), _) => percent.value.and_then(|p| m.value.map(|v| tidy(v * p / 100.0))),
        (None, None, Some(d)) => convert(d.value.or(d.plus_minus)),
        _ => None,
    };
    if spread.is_some() || value.count.is_some() {
        m.uncertainty = Some(Uncertainty { value: spread, kind: "as-printed".into(), n: value.count });
    }
}

fn reference(
    figure: &Figure,
    property: &Quantity,
    own: Option<&Path>,
    words: Option<&str>,
    substance: Option<&str>,
) -> Option<Reference> {
    let mut reference = Reference::default();
    let mut texts = Vec::new();
    for printed in &figure.references {
        texts.push(printed.text.clone());
        let Some(value) = &printed.value else { continue };
        let path = match &value.unit {
            Some(unit) => {
                path(unit, property, words, substance).filter(|p| own.is_none_or(|o| o.canonical == p.canonical))
            }
            None => own.cloned(),
        };
        let Some(path) = path else { continue };
        let at = |x: Option<f64>| x.and_then(|x| path.apply(x));
        let bound = value.bound.or(match printed.role {
            Role::SpecificationLow => Some(Bound::Minimum),
            Role::SpecificationHigh => Some(Bound::Maximum),
            _ => None,
        });
        match (value.qualifier, bound) {
            (Qualifier::Range, _) => {
                reference.low = at(value.value);
                reference.high = at(value.high);
            }
            (_, Some(Bound::Minimum)) | (Qualifier::Above, None) => reference.low = at(value.value),
            (_, Some(Bound::Maximum)) | (Qualifier::Below, None) => reference.high = at(value.value),
            _ => match (value.value, value.plus_minus) {
                (Some(x), Some(d)) => {
                    reference.low = at(Some(x - d));
                    reference.high = at(Some(x + d));
                }
                _ => reference.typical = at(value.value),
            },
        }
    }
    texts.retain(|t| !crate::value::is_blank_mark(t));
    if texts.is_empty() {
        return None;
    }
    reference.as_written = texts.join("; ");
    Some(reference)
}

fn range_of<'p>(property: &'p Quantity, basis: Option<&str>) -> Option<&'p [f64; 2]> {
    property.plausible.get(basis.unwrap_or_default()).or_else(|| property.plausible.get("dry_mass"))
}

/// Two readings of one number: what is impossible falls away, what stays is doubted.
fn style(figure: &Figure, m: &Measurement, convert: &dyn Fn(Option<f64>) -> Option<f64>, doubts: &mut Vec<Doubt>) {
    let Some(other) = &figure.other_style else { return };
    let readings: Vec<f64> = [m.value, convert(other.value)].into_iter().flatten().collect();
    doubts.push(
        doubt(
            "ambiguous-number",
            figure,
            format!("\"{}\": the mark may be a decimal or a thousands mark.", figure.as_written),
        )
        .with_alternatives(readings),
    );
}

fn plausible(figure: &Figure, property: &Quantity, m: &Measurement, doubts: &mut Vec<Doubt>) {
    let Some(value) = m.value else { return };
    let Some([low, high]) = range_of(property, m.basis.as_deref()).copied() else { return };
    let ends = [Some(value), m.high];
    if m.qualifier == Qualifier::Below && value <= high {
        return;
    }
    for value in ends.into_iter().flatten() {
        if value < low || value > high {
            let slips: Vec<f64> = [value / 10.0, value * 10.0, value / 100.0, value * 100.0]
                .into_iter()
                .filter(|v| low <= *v && *v <= high)
                .map(tidy)
                .collect();
            doubts.push(
                doubt(
                    "implausible",
                    figure,
                    format!(
                        "{value} {} lies outside what {} can be ({low} to {high}).",
                        m.unit.clone().unwrap_or_default(),
                        property.name.to_lowercase()
                    ),
                )
                .with_alternatives(slips),
            );
            return;
        }
    }
}

/// What only the whole record shows: an operating figure that calls itself "capacity".
pub fn look_again(record: &mut Record, says_which: &[bool]) {
    let moisture = record.measurements.iter().find(|m| m.property == "moisture_retention").and_then(|m| m.value);
    let cation = record.sample.resin_class.as_deref().is_none_or(|c| c.starts_with("sac"));
    for (m, says) in record.measurements.iter_mut().zip(says_which) {
        if *says || m.property != "total_capacity" || m.basis.as_deref() != Some("volume") {
            continue;
        }
        let operating_size = m.value.is_some_and(|v| (0.68..=1.57).contains(&v));
        if cation && operating_size && moisture.is_none_or(|w| w < 50.0) {
            m.doubts.push(Doubt::new(
                "operating-or-total",
                Some("total_capacity"),
                "The label says neither total nor operating, and the figure has the size of an operating capacity.",
                &m.place,
            ));
        }
    }
}

fn field_figure(figure: &Figure, quantity: &Quantity) -> FieldFigure {
    let mut doubts = text_doubts(figure);
    let canonical = quantity.units.get("").cloned().unwrap_or_default();
    let mut found = units(figure);
    if found.is_empty()
        && let Some(unit) = unit_in_words(&figure.label_text, quantity)
    {
        found.push(unit);
    }
    let convert = |unit: &Unit, x: f64| field_value(unit, x, quantity, &canonical, figure.label.substance.as_deref());
    let unit = found.iter().find(|u| convert(u, 1.0).is_some()).cloned();
    let value = |x: Option<f64>| x.and_then(|x| unit.as_ref().and_then(|u| convert(u, x))).map(tidy);
    let mut field = FieldFigure {
        quantity: quantity.id.clone(),
        qualifier: if figure.value.not_detected { Qualifier::Below } else { figure.value.qualifier },
        value: value(figure.value.value),
        high: value(figure.value.high),
        unit: Some(canonical.clone()),
        as_written: figure.as_written.clone(),
        place: figure.place.clone(),
        doubts: Vec::new(),
    };
    if unit.is_none() {
        field.unit = None;
        let code = if found.is_empty() { "no-unit" } else { "unit-unfit" };
        doubts.push(doubt(code, figure, format!("No unit that fits {} is printed.", quantity.name.to_lowercase())));
    }
    if figure.value.not_detected && field.value.is_none() {
        field.value = figure.detection_limit.as_ref().and_then(|d| value(d.value));
        doubts.push(doubt("no-detection-limit", figure, "Not detected, but no limit of detection is printed."));
    }
    if let (Some(v), Some([low, high])) = (field.value, quantity.plausible.get("").copied())
        && (v < low || v > high)
        && field.qualifier != Qualifier::Below
    {
        doubts.push(doubt(
            "implausible",
            figure,
            format!("{v} lies outside what {} can be.", quantity.name.to_lowercase()),
        ));
    }
    if let Some(other) = &figure.other_style {
        let readings: Vec<f64> = [field.value, value(other.value)].into_iter().flatten().collect();
        doubts.push(
            doubt(
                "ambiguous-number",
                figure,
                format!("\"{}\": the mark may be a decimal or a thousands mark.", figure.as_written),
            )
            .with_alternatives(readings),
        );
    }
    field.doubts = doubts;
    field
}

/// "Gallons between regenerations": the unit is a word of the label.
fn unit_in_words(label: &str, quantity: &Quantity) -> Option<Unit> {
    let canonical = Unit::parse(quantity.units.get("")?)?;
    label.split(|c: char| !c.is_alphabetic()).filter(|w| w.chars().count() >= 3).find_map(|word| {
        let unit = Unit::parse(word)?;
        (unit.dimension == canonical.dimension && unit.kind == canonical.kind).then_some(unit)
    })
}

fn field_value(
    unit: &Unit,
    x: f64,
    quantity: &Quantity,
    canonical: &str,
    label_substance: Option<&str>,
) -> Option<f64> {
    let target = Unit::parse(canonical)?;
    let mass_volume = Dimension { mass: 1, length: -3, ..Dimension::default() };
    let substance = unit.substance.as_deref().or(label_substance);
    let hard = quantity.id.contains("hardness") || quantity.id.contains("alkalinity");
    if canonical == "mg/L" {
        if hard {
            let per_volume = Dimension { amount: 1, length: -3, ..Dimension::default() };
            if unit.dimension == per_volume {
                let eq = unit.convert(x, &Unit::parse("eq/L")?)?;
                // A millimole of hardness is one of calcium and magnesium, two equivalents.
                let charges = if unit.text.to_lowercase().contains("mol") && quantity.id.contains("hardness") {
                    2.0
                } else {
                    1.0
                };
                return Some(eq * charges * crate::quantity::CACO3_GRAMS_PER_EQUIVALENT * 1000.0);
            }
            if unit.dimension == (Dimension { mass: 1, ..Dimension::default() }) && unit.kind == UnitKind::Grains {
                // "18 grains" of hardness are grains per US gallon (common practice, no source).
                return Unit::parse("gr/gal")?.convert(x, &target);
            }
        }
        if unit.dimension == Dimension::default()
            && matches!(unit.kind, UnitKind::PartsPerMillion | UnitKind::PartsPerBillion)
        {
            let milligrams = x * unit.factor * 1e6;
            return Some(milligrams * substance_factor(substance, quantity)?);
        }
        if unit.dimension == mass_volume {
            let factor = if matches!(unit.kind, UnitKind::Hardness | UnitKind::Grains) {
                1.0
            } else {
                substance_factor(substance, quantity)?
            };
            return unit.convert(x, &target).map(|v| v * factor);
        }
        return None;
    }
    unit.convert(x, &target)
}

fn substance_factor(substance: Option<&str>, quantity: &Quantity) -> Option<f64> {
    let Some(element) = quantity.substance.as_deref() else { return Some(1.0) };
    match substance {
        None => Some(1.0),
        Some(s) if s == element => Some(1.0),
        Some("N" | "NO3-N") if element == "NO3" => as_element("N", "NO3").or(Some(4.42664)),
        Some("Ca") if element == "CaCO3" => as_element("Ca", "CaCO3").or(Some(2.4973)),
        Some("CaO") if element == "CaCO3" => Some(50.0 / 28.0),
        Some(s) => as_element(s, element),
    }
}
