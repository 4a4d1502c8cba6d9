//! What the table of analyses holds, and how a report's file is packed.

use super::filing::{Given, taken_on};
use super::names::Key;
use super::outlook::Role;
use super::store::{Change, column};
use crate::record::Record;
use flate2::{Compression, read::ZlibDecoder, write::ZlibEncoder};
use rusqlite::{Transaction, params};
use serde::{Deserialize, Serialize};
use std::io::{Read, Write};

/// A row of the table of analyses.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Row {
    pub report: String,
    pub number: i64,
    pub bed: String,
    pub taken_on: Option<String>,
    pub laboratory_key: Option<String>,
    pub number_key: Option<String>,
    pub installed_on: Option<String>,
    pub role: String,
    pub counts: bool,
    pub record: Box<Record>,
    pub given: Given,
}

/// The columns of a [`Row`], in its order.
pub(super) const ROW: &str =
    "report, number, bed, taken_on, laboratory_key, number_key, installed_on, role, counts, record, given";

impl Row {
    /// With everything that is worked out from the record.
    pub(super) fn of(report: &str, number: i64, bed: &str, record: &Record, given: &Given) -> Self {
        let key = |text: &Option<String>| {
            text.as_deref().map(Key::plain).filter(|key| !key.is_empty()).map(|key| key.as_str().to_owned())
        };
        Self {
            report: report.to_owned(),
            number,
            bed: bed.to_owned(),
            taken_on: taken_on(&record.sample),
            laboratory_key: key(&record.sample.laboratory),
            number_key: key(&record.sample.report_number),
            installed_on: record.sample.installed_on.clone(),
            role: Role::of(&record.sample).word().to_owned(),
            counts: true,
            record: Box::new(record.clone()),
            given: given.clone(),
        }
    }

    /// As the database has it, from the columns of [`ROW`].
    pub(super) fn read(row: &rusqlite::Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            report: row.get(0)?,
            number: row.get(1)?,
            bed: row.get(2)?,
            taken_on: row.get(3)?,
            laboratory_key: row.get(4)?,
            number_key: row.get(5)?,
            installed_on: row.get(6)?,
            role: row.get(7)?,
            counts: row.get(8)?,
            record: Box::new(column(row, 9)?),
            given: column(row, 10)?,
        })
    }
}

/// Adds one analysis with its figures, or puts it in the place of the one of the same report and number.
pub(super) fn insert_analysis(change: &Transaction<'_>, row: &Row) -> Result<(), Change> {
    change.execute("DELETE FROM analysis WHERE report = ?1 AND number = ?2", params![row.report, row.number])?;
    change.execute(
        &format!("INSERT INTO analysis ({ROW}) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)"),
        params![
            row.report,
            row.number,
            row.bed,
            row.taken_on,
            row.laboratory_key,
            row.number_key,
            row.installed_on,
            row.role,
            row.counts,
            serde_json::to_string(&row.record)?,
            serde_json::to_string(&row.given)?,
        ],
    )?;
    insert_figures(change, change.last_insert_rowid(), &row.record)
}

/// Writes the plain figures of an analysis.
fn insert_figures(change: &Transaction<'_>, analysis: i64, record: &Record) -> Result<(), Change> {
    let mut insert = change.prepare_cached(
        "INSERT INTO figure (analysis, property, basis, form, value) VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT DO NOTHING",
    )?;
    for (property, basis, form, value) in plain_figures(record) {
        insert.execute(params![analysis, property, basis, form, value])?;
    }
    Ok(())
}

/// Figures that carry no doubt and are no bounds: property, basis, form and value.
pub(super) fn plain_figures(record: &Record) -> impl Iterator<Item = (&str, &str, &str, f64)> {
    use crate::record::Qualifier;
    record.measurements.iter().filter_map(|m| {
        let form = m.form.as_deref().or(record.sample.form.as_deref()).unwrap_or_default();
        let plain = m.doubts.is_empty() && matches!(m.qualifier, Qualifier::Equal | Qualifier::About);
        let value = m.value.filter(|value| plain && value.is_finite())?;
        Some((m.property.as_str(), m.basis.as_deref().unwrap_or_default(), form, value))
    })
}

/// Bytes as they are kept.
pub(super) fn compressed(bytes: &[u8]) -> std::io::Result<Vec<u8>> {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::default());
    encoder.write_all(bytes)?;
    encoder.finish()
}

/// Bytes as they were.
pub(super) fn expanded(content: &[u8]) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    ZlibDecoder::new(content).read_to_end(&mut bytes)?;
    Ok(bytes)
}
