//! Old reports under a better grammar: what would change, and only then the change.
//!
//! Reading itself is done elsewhere: this part takes the records that a report gives today.

use super::error::StoreError;
use super::rows::{ROW, Row, insert_analysis};
use super::store::{Change, Store};
use crate::record::{FileReading, Measurement, Record};
use rusqlite::params;
use serde::Serialize;

/// A filed report: what it was called, and its hash.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FiledReport {
    /// SHA-256 of the bytes.
    pub sha256: String,
    /// Name as it was filed.
    pub name: String,
    /// ISO date of the filing.
    pub filed_on: String,
}

/// What reading a report again changes.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Rereading {
    /// Name of the report.
    pub file: String,
    /// SHA-256 of the report.
    pub sha256: String,
    /// Each change in words; empty where nothing changes.
    pub changes: Vec<String>,
    /// Why it cannot be taken over, where it cannot.
    pub hindrance: Option<String>,
}

impl Store {
    /// Reports that are filed, in the order of their filing; of one bed where one is named.
    ///
    /// # Errors
    /// The store cannot be read.
    pub fn reports(&self, bed: Option<&str>) -> Result<Vec<FiledReport>, StoreError> {
        self.run(|db| {
            let mut rows = db.prepare(
                "SELECT sha256, name, filed_on FROM report
                 WHERE ?1 IS NULL OR EXISTS (SELECT 1 FROM analysis WHERE report = sha256 AND bed = ?1)
                 ORDER BY filed_on, rowid",
            )?;
            rows.query_map([bed], |row| {
                Ok(FiledReport { sha256: row.get(0)?, name: row.get(1)?, filed_on: row.get(2)? })
            })?
            .collect()
        })
    }

    /// What the records of a report would change, if they took the place of those that are filed.
    ///
    /// # Errors
    /// The store cannot be read.
    pub fn compare_reading(&self, report: &FiledReport, records: &[Record]) -> Result<Rereading, StoreError> {
        let filed = self.filed_rows(&report.sha256)?;
        let mut changes = Vec::new();
        let mut hindrance = None;
        if filed.len() != records.len() {
            changes.push(format!("{} records instead of {}", records.len(), filed.len()));
            hindrance = Some("its records have become more or fewer, so their beds must be named anew: take the report out and file it again".to_owned());
        }
        for (at, (old, new)) in filed.iter().zip(records).enumerate() {
            let before = if records.len() > 1 { format!("record {}: ", at + 1) } else { String::new() };
            changes.extend(
                differences(&old.record, &said(old, new)).into_iter().map(|change| format!("{before}{change}")),
            );
        }
        Ok(Rereading { file: report.name.clone(), sha256: report.sha256.clone(), changes, hindrance })
    }

    /// Puts the records of a report in the place of those that are filed, each under the bed of the one before.
    ///
    /// # Errors
    /// Their number is another one, or the store cannot be written.
    pub fn take_reading(&mut self, sha256: &str, reading: &FileReading, records: &[Record]) -> Result<(), StoreError> {
        let filed = self.filed_rows(sha256)?;
        if filed.len() != records.len() {
            return Err(StoreError::Refused(format!(
                "{}: {} records instead of {}; nothing was changed",
                reading.source.file,
                records.len(),
                filed.len()
            )));
        }
        self.write(|change| {
            change.execute(
                "UPDATE report SET reading = ?2, read_by = ?3 WHERE sha256 = ?1",
                params![sha256, serde_json::to_string(reading)?, env!("CARGO_PKG_VERSION")],
            )?;
            for (old, record) in filed.iter().zip(records) {
                let record = said(old, record);
                let row = Row { counts: old.counts, ..Row::of(sha256, old.number, &old.bed, &record, &old.given) };
                insert_analysis(change, &row)?;
            }
            Ok(())
        })
    }

    /// Takes a report out of the store, with its analyses; gives the ids of the beds that it was under.
    ///
    /// # Errors
    /// There is no such report, or the store cannot be written.
    pub fn take_out(&mut self, sha256: &str) -> Result<Vec<String>, StoreError> {
        self.write(|change| {
            let mut rows = change.prepare("SELECT DISTINCT bed FROM analysis WHERE report = ?1 ORDER BY bed")?;
            let beds = rows.query_map([sha256], |row| row.get(0))?.collect::<rusqlite::Result<Vec<String>>>()?;
            drop(rows);
            change.execute("DELETE FROM analysis WHERE report = ?1", [sha256])?;
            if change.execute("DELETE FROM report WHERE sha256 = ?1", [sha256])? == 0 {
                return Err(Change::Refused(format!("{sha256}: no report of this hash is filed")));
            }
            Ok(beds)
        })
    }

    fn filed_rows(&self, sha256: &str) -> Result<Vec<Row>, StoreError> {
        self.run(|db| {
            let mut rows =
                db.prepare_cached(&format!("SELECT {ROW} FROM analysis WHERE report = ?1 ORDER BY number"))?;
            rows.query_map([sha256], Row::read)?.collect()
        })
    }
}

/// A new reading with what somebody had said of the old one.
fn said(old: &Row, new: &Record) -> Record {
    let mut record = new.clone();
    old.given.apply(&mut record);
    record
}

/// What differs between two readings of one sample, in words.
fn differences(old: &Record, new: &Record) -> Vec<String> {
    let mut all = Vec::new();
    let plain = |sample| serde_json::to_value(sample).unwrap_or_default();
    let (before, after) = (plain(&old.sample), plain(&new.sample));
    if let (Some(before), Some(after)) = (before.as_object(), after.as_object()) {
        for (key, value) in after {
            let was = before.get(key).unwrap_or(&serde_json::Value::Null);
            if was != value {
                all.push(format!("{key}: {} instead of {}", word(value), word(was)));
            }
        }
    }
    let same = |a: &Measurement, b: &Measurement| a.property == b.property && a.basis == b.basis && a.form == b.form;
    for m in &new.measurements {
        match old.measurements.iter().find(|other| same(other, m)) {
            None => all.push(format!("new figure: {}", figure(m))),
            Some(other)
                if (other.value, other.high, other.qualifier) != (m.value, m.high, m.qualifier)
                    || other.unit != m.unit =>
            {
                all.push(format!("{} instead of {}", figure(m), figure(other)));
            }
            Some(other) if other.doubts.len() != m.doubts.len() => {
                all.push(format!("{}: {} doubts instead of {}", m.property, m.doubts.len(), other.doubts.len()));
            }
            Some(_) => {}
        }
    }
    for m in old.measurements.iter().filter(|m| !new.measurements.iter().any(|other| same(other, m))) {
        all.push(format!("no longer read: {}", figure(m)));
    }
    for f in &new.field {
        match old.field.iter().find(|other| other.quantity == f.quantity) {
            None => all.push(format!("new at the bed: {} {}", f.quantity, f.as_written)),
            Some(other) if other.value != f.value => {
                all.push(format!("{}: {} instead of {}", f.quantity, f.as_written, other.as_written));
            }
            Some(_) => {}
        }
    }
    for f in old.field.iter().filter(|f| !new.field.iter().any(|other| other.quantity == f.quantity)) {
        all.push(format!("no longer read at the bed: {} {}", f.quantity, f.as_written));
    }
    if all.is_empty() && old != new {
        all.push("places, words or remarks alone".to_owned());
    }
    all
}

fn figure(m: &Measurement) -> String {
    let basis = m.basis.as_deref().map(|basis| format!(" {basis}")).unwrap_or_default();
    let form = m.form.as_deref().map(|form| format!(" {form}")).unwrap_or_default();
    let value = m.value.map_or_else(|| "no figure".to_owned(), |value| format!("{}{value}", m.qualifier.sign()));
    format!("{}{basis}{form} {value} {}", m.property, m.unit.as_deref().unwrap_or_default())
}

fn word(value: &serde_json::Value) -> String {
    match value {
        serde_json::Value::Null => "nothing".to_owned(),
        serde_json::Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}
