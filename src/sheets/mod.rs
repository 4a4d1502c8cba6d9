//! Product data sheets: what a resin's maker says of new resin.
//!
//! Takes a [`Document`], gives the same records as the reading of reports does, with bounds instead of results: one
//! record for each resin, and for each ionic form that has a column of its own. Figures that are not the resin's own
//! (temperatures, flows, regenerant) are set aside. The words stand in `grammar/sheets.toml` and `grammar/words.toml`.

mod across;
mod blocks;
mod give;
mod heads;
mod label;
mod rows;
mod settle;
mod walk;
mod words;

use crate::document::Document;
use crate::lexicon::{Lexicon, resin_class};
use crate::record::{Doubt, FileReading, Measurement, Qualifier, Record};
use label::Reader;
use settle::Settler;
use walk::{Found, Walk, Walked};
use words::SheetWords;

/// Lines at the head of a sheet, and in all, that are looked at for the class of the resin.
const DESCRIPTION_LINES: usize = 60;

/// Reads a product data sheet.
///
/// ```
/// use beadwise::{lexicon::Lexicon, readers, record::Qualifier, sheets};
/// let text = b"Total capacity, Na+ form    2.0 eq/L min. (43.7 kgr/ft3)\nMoisture    45 - 50 %\n";
/// let document = readers::read("sheet.txt", text, &readers::ReadOptions::default())?;
/// let (_, records) = sheets::read(&document, Lexicon::builtin());
/// let capacity = &records[0].measurements[0];
/// assert_eq!((capacity.qualifier, capacity.value), (Qualifier::Above, Some(2.0)));
/// # Ok::<(), beadwise::readers::ReadError>(())
/// ```
pub fn read(document: &Document, lexicon: &Lexicon) -> (FileReading, Vec<Record>) {
    let words = SheetWords::builtin();
    let rows = rows::rows(document, words);
    let style = rows::style(&rows);
    let lines: Vec<String> =
        rows.iter().map(|row| row.cells.iter().map(|cell| cell.text.as_str()).collect::<Vec<_>>().join(" ")).collect();
    let mixed = is_mixed(&lines, words);
    let reader = Reader::new(lexicon, words, mixed);
    let settler = Settler { lexicon, words };
    let walked = Walk::new(&reader, &settler, style).through(&rows);
    let records = records(document, &walked, &lines, &settler, words, mixed);
    let doubts = document.notices.iter().map(|notice| {
        let code = match notice.kind {
            crate::document::NoticeKind::HiddenContent => "hidden-content",
            crate::document::NoticeKind::Encoding => "encoding",
            crate::document::NoticeKind::UnreadableAttachment => "unreadable-attachment",
            crate::document::NoticeKind::UnmappedText => "unmapped-text",
            crate::document::NoticeKind::FormulaWithoutValue => "formula-without-value",
            crate::document::NoticeKind::Damaged => "damaged-file",
        };
        Doubt::new(code, None, notice.text.clone(), &notice.place)
    });
    let file = FileReading {
        source: document.source.clone(),
        unread: walked.unread,
        set_aside: walked.set_aside,
        doubts: doubts.collect(),
    };
    (file, records)
}

/// A sheet that names both halves of a mixed bed at the heads of lines or cells.
fn is_mixed(lines: &[String], words: &SheetWords) -> bool {
    let names = |id: &str| {
        words
            .components
            .iter()
            .filter(|(known, _)| known == id)
            .any(|(_, phrases)| lines.iter().any(|line| phrases.within(line)))
    };
    let mixture = words.components.iter().filter(|(known, _)| known == "mixture");
    let said = mixture.into_iter().any(|(_, phrases)| lines.iter().take(12).any(|line| phrases.within(line)));
    said && names("cation") && names("anion")
}

/// Whose record it is: product, part of a mixed bed, form of its column.
type Key = (Option<String>, Option<String>, Option<String>);

fn records(
    document: &Document,
    walked: &Walked,
    lines: &[String],
    settler: &Settler<'_>,
    words: &SheetWords,
    mixed: bool,
) -> Vec<Record> {
    let part = |found: &Found| found.component.clone().filter(|_| mixed).filter(|id| id != "mixture");
    let key = |found: &Found| -> Key { (found.product.clone(), part(found), found.column_form.clone()) };
    let mut keys: Vec<Key> = Vec::new();
    for found in &walked.found {
        let own = key(found);
        if !keys.contains(&own) {
            keys.push(own);
        }
    }
    // What stands in no form's column, or no product's, holds for all of them.
    let covered = |general: &Key, keys: &[Key]| {
        keys.iter().any(|k| {
            k != general
                && (general.0.is_none() || k.0 == general.0)
                && k.1 == general.1
                && (general.2.is_none() || k.2 == general.2)
                && (k.0.is_some() || k.2.is_some())
        })
    };
    let kept: Vec<Key> = keys.iter().filter(|k| !covered(k, &keys)).cloned().collect();
    let mut records = Vec::new();
    for own in &kept {
        let mut record = Record { source: document.source.clone(), ..Record::default() };
        let shipped = walked
            .shipped
            .iter()
            .find(|(component, _)| component.as_ref().filter(|id| *id != "mixture") == own.1.as_ref())
            .map(|(_, forms)| forms);
        record.sample.form = own.2.clone().or_else(|| match shipped.map(Vec::as_slice) {
            Some([form]) => Some(form.clone()),
            Some([first, rest @ ..]) if rest.iter().all(|form| form == first) => Some(first.clone()),
            Some([_, _, ..]) if own.1.is_none() && mixed => Some("mixed".into()),
            _ => None,
        });
        name(&mut record, own, lines, &walked.described, words, mixed);
        for found in &walked.found {
            let theirs = key(found);
            let general = theirs.1 == own.1
                && (theirs.0.is_none() || theirs.0 == own.0)
                && (theirs.2.is_none() || theirs.2 == own.2);
            let other_form = own.2.is_some() && theirs.2.is_none() && found.form.is_some();
            let first_of_its_kind = kept.iter().find(|k| k.0 == own.0 && k.1 == own.1) == Some(own);
            let homeless = other_form && !kept.iter().any(|k| k.2 == found.form) && first_of_its_kind;
            if general && (!other_form || found.form == own.2 || homeless) {
                add(&mut record, found, settler);
            }
        }
        conflicts(&mut record);
        if !record.measurements.is_empty() {
            records.push(record);
        }
    }
    records
}

/// The class, and the words that say it.
fn name(
    record: &mut Record,
    key: &Key,
    lines: &[String],
    described: &[(String, String)],
    words: &SheetWords,
    mixed: bool,
) {
    let sample = &mut record.sample;
    if let Some(product) = &key.0 {
        let own: Vec<&str> =
            described.iter().filter(|(name, _)| name == product).map(|(_, text)| text.as_str()).collect();
        let plain = words.plain(product);
        let all = std::iter::once(plain.as_str()).chain(own).collect::<Vec<_>>().join(", ");
        let read = resin_class(&all);
        sample.resin_as_written = Some(product.clone());
        sample.resin_class = read.class;
        if sample.form.is_none() {
            sample.form = read.form;
        }
        return;
    }
    let about = |line: &&String| match &key.1 {
        Some(part) if mixed => words.components.iter().any(|(id, phrases)| id == part && phrases.within(line)),
        _ => !mixed,
    };
    let described: Vec<&String> = lines.iter().take(DESCRIPTION_LINES).filter(about).collect();
    let named =
        described.iter().find(|line| line.split_whitespace().count() <= 40 && resin_class(line).class.is_some());
    if let Some(line) = named {
        let read = resin_class(line);
        sample.resin_class = read.class;
        sample.form = sample.form.take().or(read.form);
        sample.resin_as_written = Some(line.trim().to_owned());
    } else {
        let whole = described.iter().take(25).map(|line| line.as_str()).collect::<Vec<_>>().join(", ");
        sample.resin_class = resin_class(&whole).class;
        sample.resin_as_written = key.1.clone().or_else(|| lines.first().map(|line| line.trim().to_owned()));
    }
}

fn add(record: &mut Record, found: &Found, settler: &Settler<'_>) {
    let own_words = found.fig.words.as_str();
    let mut lab = found.lab.clone();
    if !own_words.is_empty() {
        lab.basis = Some(own_words.to_owned());
    }
    let form = found.form.clone().or_else(|| found.column_form.clone()).or_else(|| record.sample.form.clone());
    let Some(mut m) = settler.measurement(&lab, &found.fig, form) else { return };
    if found.column_form.is_some() && m.form.is_none() {
        m.form.clone_from(&found.column_form);
    }
    if let Some(mut doubt) = found.doubt.clone() {
        doubt.property = Some(m.property.clone());
        m.doubts.push(doubt);
    }
    let twin = record.measurements.iter_mut().find(|k| {
        k.property == m.property
            && k.basis == m.basis
            && (k.form == m.form || k.form.is_none() || m.form.is_none())
            && same_figure(k, &m, settler)
    });
    match twin {
        Some(known) => {
            if known.qualifier == Qualifier::Equal && m.qualifier != Qualifier::Equal {
                known.qualifier = m.qualifier;
            }
            known.form = known.form.take().or(m.form);
            if m.doubts.is_empty() {
                known.doubts.clear();
            }
        }
        None => record.measurements.push(m),
    }
}

/// The same figure printed twice, mostly in two units.
fn same_figure(a: &Measurement, b: &Measurement, settler: &Settler<'_>) -> bool {
    let close = |x: Option<f64>, y: Option<f64>| match (x, y) {
        (Some(x), Some(y)) => settler.agree(x, y),
        (None, None) => true,
        _ => false,
    };
    let bounds = a.qualifier == b.qualifier || (a.as_written == b.as_written);
    bounds && close(a.value, b.value) && close(a.high, b.high)
}

/// Two figures of one kind that are bounded alike and differ.
fn conflicts(record: &mut Record) {
    let before = record.measurements.clone();
    for (at, m) in record.measurements.iter_mut().enumerate() {
        let others: Vec<f64> = before
            .iter()
            .enumerate()
            .filter(|(other, k)| {
                let kind = k.property == m.property && k.basis == m.basis && k.form == m.form;
                *other != at && kind && k.qualifier == m.qualifier
            })
            .filter_map(|(_, k)| k.value)
            .collect();
        if !others.is_empty() {
            let text = format!("\"{}\" here, another figure for the same elsewhere in the sheet.", m.as_written);
            let mut both = others;
            both.extend(m.value);
            m.doubts.push(Doubt::new("conflict", Some(&m.property), text, &m.place).with_alternatives(both));
        }
    }
}
