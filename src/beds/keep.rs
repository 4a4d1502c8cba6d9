//! Keeping the store: is it whole, a copy of it, and back from a copy.

use super::error::StoreError;
use super::rows::{expanded, plain_figures};
use super::store::{Store, column};
use crate::record::Record;
use rusqlite::backup::Backup;
use serde::Serialize;
use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// What a check found.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Checked {
    /// Beds in the store.
    pub beds: i64,
    /// Reports, each with its file.
    pub reports: i64,
    /// Analyses.
    pub analyses: i64,
    /// Readings at the beds.
    pub readings: i64,
    /// Events.
    pub events: i64,
    /// What is wrong; empty where all is well.
    pub wrong: Vec<String>,
}

impl Store {
    /// Looks through the whole store: the database's own check, that every report's file is the one that its hash
    /// names, that every record can be read, and that trends rest on what the records say.
    ///
    /// # Errors
    /// The store cannot be read at all.
    pub fn check(&self) -> Result<Checked, StoreError> {
        let count = |table: &str| {
            self.run(|db| db.query_row(&format!("SELECT count(*) FROM {table}"), [], |row| row.get::<_, i64>(0)))
        };
        let mut checked = Checked {
            beds: count("bed")?,
            reports: count("report")?,
            analyses: count("analysis")?,
            readings: count("reading")?,
            events: count("event")?,
            wrong: Vec::new(),
        };
        let told: Vec<String> = self.run(|db| {
            let mut rows = db.prepare("PRAGMA integrity_check")?;
            rows.query_map([], |row| row.get(0))?.collect()
        })?;
        checked.wrong.extend(told.into_iter().filter(|line| line != "ok").map(|line| format!("database: {line}")));
        let loose: Vec<String> = self.run(|db| {
            let mut rows = db.prepare("PRAGMA foreign_key_check")?;
            rows.query_map([], |row| row.get(0))?.collect()
        })?;
        checked.wrong.extend(loose.into_iter().map(|table| format!("a row of `{table}` belongs to nothing")));
        self.check_reports(&mut checked)?;
        self.check_records(&mut checked)?;
        Ok(checked)
    }

    fn check_reports(&self, checked: &mut Checked) -> Result<(), StoreError> {
        self.run(|db| {
            let mut rows = db.prepare("SELECT sha256, name, size, content FROM report")?;
            let mut rows = rows.query([])?;
            while let Some(row) = rows.next()? {
                let (sha256, name, size): (String, String, i64) = (row.get(0)?, row.get(1)?, row.get(2)?);
                let wrong = match expanded(row.get_ref(3)?.as_blob()?) {
                    Err(error) => format!("cannot be unpacked: {error}"),
                    Ok(bytes) if i64::try_from(bytes.len()) != Ok(size) => "has another size than was filed".to_owned(),
                    Ok(bytes) if hash(&bytes) != sha256 => "is not the file that was filed".to_owned(),
                    Ok(_) => continue,
                };
                checked.wrong.push(format!("report {name}: its file {wrong}"));
            }
            Ok(())
        })
    }

    fn check_records(&self, checked: &mut Checked) -> Result<(), StoreError> {
        self.run(|db| {
            let mut figures = db.prepare("SELECT count(*) FROM figure WHERE analysis = ?1")?;
            let mut rows = db.prepare("SELECT id, report, number, record FROM analysis")?;
            let mut rows = rows.query([])?;
            while let Some(row) = rows.next()? {
                let (id, report, number): (i64, String, i64) = (row.get(0)?, row.get(1)?, row.get(2)?);
                let name = format!("record {number} of report {}", report.get(..12).unwrap_or(&report));
                match column::<Record>(row, 3) {
                    Err(error) => checked.wrong.push(format!("{name} cannot be read: {error}")),
                    Ok(record) => {
                        let mut told: Vec<_> = plain_figures(&record).map(|(p, b, f, _)| (p, b, f)).collect();
                        told.sort_unstable();
                        told.dedup();
                        let kept: i64 = figures.query_row([id], |row| row.get(0))?;
                        if i64::try_from(told.len()) != Ok(kept) {
                            checked
                                .wrong
                                .push(format!("{name}: its figures are not those that trends are drawn through"));
                        }
                    }
                }
            }
            Ok(())
        })
    }

    /// Writes a copy of the store; readers and writers may go on meanwhile. The copy takes its name when it is whole.
    ///
    /// # Errors
    /// There is a file of that name, or it cannot be written.
    pub fn back_up(&self, to: &Path) -> Result<(), StoreError> {
        let failed = |what: String| StoreError::Failed { path: to.to_owned(), what };
        if to.exists() {
            return Err(failed("there is a file of this name; a backup never takes another file's place".to_owned()));
        }
        let part = beside(to, "part");
        let _ = std::fs::remove_file(&part);
        let written = self
            .db
            .execute("VACUUM INTO ?1", [part.to_string_lossy()])
            .map_err(|error| StoreError::of(to, &error))
            .and_then(|_| {
                let synced = std::fs::File::open(&part).and_then(|file| file.sync_all());
                synced.map_err(|error| failed(format!("it could not be written to the disk: {error}")))
            })
            // A link is refused where another process made the file meanwhile; a rename would take its place.
            .and_then(|()| {
                std::fs::hard_link(&part, to)
                    .or_else(|_| {
                        if to.exists() {
                            Err(std::io::ErrorKind::AlreadyExists.into())
                        } else {
                            std::fs::rename(&part, to)
                        }
                    })
                    .map_err(|error| failed(format!("it could not be put in place: {error}")))
            });
        let _ = std::fs::remove_file(&part);
        written
    }

    /// Takes everything from a backup in place of what the store holds: all of it, or nothing.
    ///
    /// What the store held is backed up beside it first; that file's name comes back.
    ///
    /// # Errors
    /// The backup is no whole store, or the store cannot be written.
    pub fn restore(&mut self, from: &Path, stamp: &str) -> Result<Option<PathBuf>, StoreError> {
        let source = Self::open_to_read(from)?;
        let wrong = source.check()?.wrong;
        if let Some(first) = wrong.first() {
            return Err(StoreError::Damaged { path: from.to_owned(), what: first.clone() });
        }
        let held = self.run(|db| db.query_row("SELECT count(*) FROM bed", [], |row| row.get::<_, i64>(0)))? > 0;
        let mut saved = None;
        if held {
            let aside = beside(self.path(), &format!("before-restore-{stamp}"));
            self.back_up(&aside)?;
            saved = Some(aside);
        }
        let path = self.path().to_owned();
        let told = |error: rusqlite::Error| StoreError::of(&path, &error);
        let copy = Backup::new(&source.db, &mut self.db).map_err(told)?;
        // All pages in one step: whoever ends the process, the store is the old one or the new one.
        copy.run_to_completion(i32::MAX, Duration::from_millis(50), None).map_err(told)?;
        Ok(saved)
    }
}

/// SHA-256 in lower-case hexadecimal.
pub fn hash(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

fn beside(path: &Path, what: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(".");
    name.push(what);
    PathBuf::from(name)
}
