//! Records in a few short lines, for rule pages, guides and tests.
//!
//! ```text
//! class sac-gel-8
//! form Na
//! total_capacity volume 1.41          a figure: property, basis where it has one, value in the canonical unit
//! iron dry_mass < 50                  a bound
//! iron dry_mass 6200 new < 100        with the new-resin figure printed beside it: a number, < a maximum, > a minimum
//! moisture_retention 47 form H        in a form of its own
//! total_capacity volume 1.9 doubt conflict 1.4 1.9
//! freeboard 0.66                      a field figure
//! sampled_on 2025-03-01               any key of the sample
//! ```

use super::slot::Slot;
use crate::record::{Doubt, FieldFigure, Measurement, Qualifier, Record, Reference, Sample};

/// Field quantities that no slot holds but a record may.
const OTHER_FIELD: [&str; 4] = ["salt_dose", "feed_hardness", "temperature", "flow"];

/// Reads such lines.
///
/// # Errors
/// The first line that cannot be read.
pub fn record(text: &str) -> Result<Record, String> {
    let mut record = Record::default();
    for line in text.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#')) {
        read_line(&mut record, line).ok_or_else(|| format!("cannot read the line: {line}"))?;
    }
    Ok(record)
}

fn read_line(record: &mut Record, line: &str) -> Option<()> {
    let words: Vec<&str> = line.split_whitespace().collect();
    let (first, rest) = words.split_first()?;
    if let Some(place) = sample_key(&mut record.sample, first) {
        *place = Some(rest.join(" "));
        return (!rest.is_empty()).then_some(());
    }
    match *first {
        "drinking_water" => record.sample.drinking_water = Some(*rest.first()? == "true"),
        "doubt" => record.doubts.push(Doubt {
            code: (*rest.first()?).to_owned(),
            property: rest.get(1).map(|word| (*word).to_owned()),
            alternatives: rest.iter().skip(2).map(|word| serde_json::Value::from(*word)).collect(),
            text: line.to_owned(),
            ..Doubt::default()
        }),
        quantity if Slot::of_field(quantity).is_some() || OTHER_FIELD.contains(&quantity) => {
            let (qualifier, value, rest) = bounded(rest)?;
            rest.is_empty().then_some(())?;
            record.field.push(FieldFigure {
                quantity: quantity.to_owned(),
                qualifier,
                value: Some(value),
                unit: Slot::of_field(quantity).map(|slot| slot.unit().to_owned()),
                as_written: line.to_owned(),
                ..FieldFigure::default()
            });
        }
        property => record.measurements.push(measurement(property, rest, line)?),
    }
    Some(())
}

fn measurement(property: &str, rest: &[&str], line: &str) -> Option<Measurement> {
    let basis = rest.first().copied().filter(|word| ["volume", "dry_mass", "wet_mass", "no_basis"].contains(word));
    let rest = if basis.is_some() { rest.get(1..)? } else { rest };
    let basis = basis.filter(|basis| *basis != "no_basis");
    let (qualifier, value, mut rest) = bounded(rest)?;
    let mut m = Measurement {
        property: property.to_owned(),
        basis: basis.map(str::to_owned),
        qualifier,
        value: Some(value),
        unit: Slot::of(property, basis).map(|slot| slot.unit().to_owned()),
        label: property.to_owned(),
        as_written: line.to_owned(),
        ..Measurement::default()
    };
    while let Some((word, after)) = rest.split_first() {
        rest = match *word {
            "form" => {
                m.form = Some((*after.first()?).to_owned());
                after.get(1..)?
            }
            "n" => {
                m.uncertainty = Some(crate::record::Uncertainty {
                    value: None,
                    kind: "as-printed".to_owned(),
                    n: Some(after.first()?.parse().ok()?),
                });
                after.get(1..)?
            }
            "new" => {
                let (qualifier, value, after) = bounded(after)?;
                let mut reference = Reference { as_written: line.to_owned(), ..Reference::default() };
                match qualifier {
                    Qualifier::Above => reference.low = Some(value),
                    Qualifier::Below => reference.high = Some(value),
                    _ => reference.typical = Some(value),
                }
                m.reference = Some(reference);
                after
            }
            "doubt" => {
                let (code, others) = after.split_first()?;
                let alternatives: Vec<serde_json::Value> = others
                    .iter()
                    .map(|word| {
                        word.parse::<f64>().map_or_else(|_| serde_json::Value::from(*word), serde_json::Value::from)
                    })
                    .collect();
                m.doubts.push(Doubt {
                    code: (*code).to_owned(),
                    property: Some(property.to_owned()),
                    alternatives,
                    text: line.to_owned(),
                    ..Doubt::default()
                });
                &[]
            }
            _ => return None,
        };
    }
    Some(m)
}

/// A value with its sign, and the words after it.
fn bounded<'a, 'b>(words: &'a [&'b str]) -> Option<(Qualifier, f64, &'a [&'b str])> {
    let (first, rest) = words.split_first()?;
    let qualifier = match *first {
        "<" => Qualifier::Below,
        ">" => Qualifier::Above,
        "~" => Qualifier::About,
        number => return Some((Qualifier::Equal, number.parse().ok()?, rest)),
    };
    let (number, rest) = rest.split_first()?;
    Some((qualifier, number.parse().ok()?, rest))
}

fn sample_key<'a>(sample: &'a mut Sample, key: &str) -> Option<&'a mut Option<String>> {
    Some(match key {
        "class" => &mut sample.resin_class,
        "form" => &mut sample.form,
        "sample_id" => &mut sample.sample_id,
        "customer" => &mut sample.customer,
        "site" => &mut sample.site,
        "vessel" => &mut sample.vessel,
        "position" => &mut sample.position,
        "laboratory" => &mut sample.laboratory,
        "sampled_on" => &mut sample.sampled_on,
        "reported_on" => &mut sample.reported_on,
        "installed_on" => &mut sample.installed_on,
        "resin" => &mut sample.resin_as_written,
        "condition" => &mut sample.condition,
        "cycle_state" => &mut sample.cycle_state,
        "duty" => &mut sample.duty,
        _ => return None,
    })
}
