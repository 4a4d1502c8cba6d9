//! Everything in the store as lines of JSON, and back: nothing is lost on the way.
//!
//! The first line says what the file is. Each other line is one row, after the rows that it belongs to: beds, other
//! names, reports with their files, analyses, readings, events. The same store gives the same bytes.

use super::error::StoreError;
use super::keep::hash;
use super::log::{Event, Reading};
use super::names::Key;
use super::register::{Bed, remember_site};
use super::rows::{ROW, Row, compressed, expanded, insert_analysis};
use super::store::{Change, Store, column, newest};
use crate::record::{CONTRACT, FileReading};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use rusqlite::{Transaction, params};
use serde::{Deserialize, Serialize};
use std::io::{BufRead, Write};

/// One line of an export.
#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "line")]
enum Line {
    /// What the file is.
    Store { beadwise: String, contract: u32, layout: i64 },
    /// A bed of the register.
    Bed { bed: Box<Bed>, site_key: String, vessel_key: String },
    /// Another name of a bed.
    Alias { site_key: String, vessel_key: String, bed: String },
    /// A report with its file in base64.
    Report {
        sha256: String,
        name: String,
        reading: Box<FileReading>,
        filed_on: String,
        read_by: String,
        content: String,
    },
    /// A record under its bed.
    Analysis(Row),
    /// A reading at a bed.
    Reading { bed: String, reading: Reading },
    /// An event.
    Event { bed: String, event: Event },
}

/// Why an export or import ended before its end.
#[derive(Debug, thiserror::Error)]
pub enum TransferError {
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// Reading or writing the lines.
    #[error("{0}")]
    Lines(#[from] std::io::Error),
    /// A line that cannot be taken in.
    #[error("line {at}: {what}. Nothing was taken in")]
    Line {
        /// Number of the line, from 1.
        at: usize,
        /// What is wrong with it.
        what: String,
    },
}

impl Store {
    /// Writes every row as a line; gives the number of lines.
    ///
    /// # Errors
    /// The store cannot be read, or the lines cannot be written.
    pub fn export(&mut self, out: &mut impl Write) -> Result<usize, TransferError> {
        let path = self.path().to_owned();
        // One transaction: rows that others write meanwhile are in it all or not at all.
        let view = self.db.transaction().map_err(|error| StoreError::of(&path, &error))?;
        let mut count = 0;
        let mut failed = None;
        let mut put = |line: &Line| -> bool {
            let written = serde_json::to_writer(&mut *out, line)
                .map_err(std::io::Error::from)
                .and_then(|()| out.write_all(b"\n"));
            count += 1;
            failed = written.err();
            failed.is_none()
        };
        let walked = walk(&view, &mut put);
        drop(view);
        if let Some(error) = failed {
            return Err(error.into());
        }
        walked.map_err(|error| StoreError::of(&path, &error))?;
        out.flush()?;
        Ok(count)
    }

    /// Takes the lines of an export into a store that holds nothing; gives the number of lines.
    ///
    /// # Errors
    /// The store holds something, or a line is not one of an export: then nothing is taken in.
    pub fn import(&mut self, lines: impl BufRead) -> Result<usize, TransferError> {
        let mut at = 0;
        let mut wrong = None;
        let done = self.write(|change| {
            let held: i64 =
                change.query_row("SELECT (SELECT count(*) FROM bed) + (SELECT count(*) FROM report)", [], |row| {
                    row.get(0)
                })?;
            if held > 0 {
                return Err(Change::Refused(
                    "this store holds beds already; take the lines into a new one, named with --store".to_owned(),
                ));
            }
            for line in lines.lines() {
                at += 1;
                let taken = line
                    .map_err(|error| error.to_string())
                    .and_then(|line| {
                        serde_json::from_str::<Line>(&line).map_err(|error| format!("not a line of an export: {error}"))
                    })
                    .and_then(|line| {
                        if (at == 1) != matches!(line, Line::Store { .. }) {
                            return Err(
                                "an export begins with the line that says what it is, and has one such line".to_owned()
                            );
                        }
                        take(change, &line).map_err(|error| match error {
                            Change::Refused(text) => text,
                            Change::Database(error) => error.to_string(),
                        })
                    });
                if let Err(what) = taken {
                    wrong = Some(what.clone());
                    return Err(Change::Refused(what));
                }
            }
            if at == 0 {
                return Err(Change::Refused("there are no lines".to_owned()));
            }
            Ok(at)
        });
        match (wrong, done) {
            (Some(what), _) => Err(TransferError::Line { at, what }),
            (None, done) => Ok(done?),
        }
    }
}

fn walk(db: &Transaction<'_>, put: &mut impl FnMut(&Line) -> bool) -> rusqlite::Result<()> {
    let mut each =
        |query: &str, line: &dyn Fn(&rusqlite::Row<'_>) -> rusqlite::Result<Line>| -> rusqlite::Result<bool> {
            let mut rows = db.prepare(query)?;
            let mut rows = rows.query([])?;
            while let Some(row) = rows.next()? {
                if !put(&line(row)?) {
                    return Ok(false);
                }
            }
            Ok(true)
        };
    let first = |_: &rusqlite::Row<'_>| {
        Ok(Line::Store { beadwise: env!("CARGO_PKG_VERSION").to_owned(), contract: CONTRACT, layout: newest() })
    };
    let _ = each("SELECT 1", &first)?
        && each("SELECT facts, site_key, vessel_key FROM bed ORDER BY id", &|row| {
            Ok(Line::Bed { bed: Box::new(column(row, 0)?), site_key: row.get(1)?, vessel_key: row.get(2)? })
        })?
        && each("SELECT site_key, vessel_key, bed FROM alias ORDER BY site_key, vessel_key", &|row| {
            Ok(Line::Alias { site_key: row.get(0)?, vessel_key: row.get(1)?, bed: row.get(2)? })
        })?
        && each(
            "SELECT sha256, name, reading, filed_on, read_by, content FROM report ORDER BY filed_on, sha256",
            &|row| {
                let bytes = expanded(row.get_ref(5)?.as_blob()?).map_err(|error| {
                    rusqlite::Error::FromSqlConversionFailure(5, rusqlite::types::Type::Blob, Box::new(error))
                })?;
                Ok(Line::Report {
                    sha256: row.get(0)?,
                    name: row.get(1)?,
                    reading: Box::new(column(row, 2)?),
                    filed_on: row.get(3)?,
                    read_by: row.get(4)?,
                    content: STANDARD.encode(bytes),
                })
            },
        )?
        && each(&format!("SELECT {ROW} FROM analysis ORDER BY report, number"), &|row| {
            Ok(Line::Analysis(Row::read(row)?))
        })?
        && each("SELECT bed, body FROM reading ORDER BY bed, taken_on, id", &|row| {
            Ok(Line::Reading { bed: row.get(0)?, reading: column(row, 1)? })
        })?
        && each("SELECT bed, body FROM event ORDER BY bed, happened_on, id", &|row| {
            Ok(Line::Event { bed: row.get(0)?, event: column(row, 1)? })
        })?;
    Ok(())
}

fn take(change: &Transaction<'_>, line: &Line) -> Result<(), Change> {
    match line {
        Line::Store { contract, layout, .. } => {
            if *contract != CONTRACT || *layout > newest() {
                return Err(Change::Refused(
                    "a later version of beadwise wrote these lines; use that version".to_owned(),
                ));
            }
        }
        Line::Bed { bed, site_key, vessel_key } => {
            remember_site(change, &Key::stored(site_key))?;
            change.execute(
                "INSERT INTO bed (id, site_key, vessel_key, facts) VALUES (?1, ?2, ?3, ?4)",
                params![bed.id, site_key, vessel_key, serde_json::to_string(bed)?],
            )?;
        }
        Line::Alias { site_key, vessel_key, bed } => {
            change.execute(
                "INSERT INTO alias (site_key, vessel_key, bed) VALUES (?1, ?2, ?3)",
                params![site_key, vessel_key, bed],
            )?;
        }
        Line::Report { sha256, name, reading, filed_on, read_by, content } => {
            let bytes = STANDARD.decode(content).map_err(|error| Change::Refused(format!("its file: {error}")))?;
            if hash(&bytes) != *sha256 {
                return Err(Change::Refused(format!("the file {name} is not the one that its hash names")));
            }
            let packed = compressed(&bytes).map_err(|error| Change::Refused(error.to_string()))?;
            change.execute(
                "INSERT INTO report (sha256, name, size, content, reading, filed_on, read_by) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                params![
                    sha256,
                    name,
                    i64::try_from(bytes.len()).unwrap_or(i64::MAX),
                    packed,
                    serde_json::to_string(reading)?,
                    filed_on,
                    read_by
                ],
            )?;
        }
        Line::Analysis(row) => insert_analysis(change, row)?,
        Line::Reading { bed, reading } => {
            change.execute(
                "INSERT INTO reading (bed, taken_on, body) VALUES (?1, ?2, ?3)",
                params![bed, reading.taken_on, serde_json::to_string(reading)?],
            )?;
        }
        Line::Event { bed, event } => {
            change.execute(
                "INSERT INTO event (bed, happened_on, body) VALUES (?1, ?2, ?3)",
                params![bed, event.happened_on, serde_json::to_string(event)?],
            )?;
        }
    }
    Ok(())
}
