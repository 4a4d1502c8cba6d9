//! What can go wrong with a store, each with what to do.

use std::path::{Path, PathBuf};

/// Why the store could not do what was asked.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// There is no store yet.
    #[error("{}: there is no store of beds here yet; `beds add` or `beds file --new` begins one", .0.display())]
    Missing(PathBuf),
    /// Another kind of file.
    #[error("{}: this is no store of beds; name another file with --store", .0.display())]
    Foreign(PathBuf),
    /// Written by a later version of the program.
    #[error("{}: a later version of beadwise wrote this store (its layout is {found}, this program knows {known}); use that version", path.display())]
    Newer {
        /// The store.
        path: PathBuf,
        /// Its layout.
        found: i64,
        /// The newest layout that is known here.
        known: i64,
    },
    /// It may be read and not written.
    #[error("{}: the store cannot be written: it or its folder is read-only. Nothing was changed", .0.display())]
    ReadOnly(PathBuf),
    /// No room is left.
    #[error("{}: the disk is full. Nothing was changed: make room and try again", .0.display())]
    Full(PathBuf),
    /// Another process holds it.
    #[error("{}: another program has been writing to the store for too long; try again when it has ended", .0.display())]
    Busy(PathBuf),
    /// Its file is broken.
    #[error("{}: the store is damaged ({what}). Keep a copy, then bring back a backup with `beds restore`", path.display())]
    Damaged {
        /// The store.
        path: PathBuf,
        /// What was found.
        what: String,
    },
    /// Whatever else the database or the disk says.
    #[error("{}: {what}", path.display())]
    Failed {
        /// The store.
        path: PathBuf,
        /// What was found.
        what: String,
    },
    /// What was asked does not fit what the store holds.
    #[error("{0}")]
    Refused(String),
}

impl StoreError {
    /// An error of the database, told for this store.
    pub fn of(path: &Path, error: &rusqlite::Error) -> Self {
        use rusqlite::ErrorCode;
        let path = path.to_owned();
        match error.sqlite_error_code() {
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => Self::ReadOnly(path),
            Some(ErrorCode::DiskFull) => Self::Full(path),
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy(path),
            Some(ErrorCode::NotADatabase) => Self::Foreign(path),
            Some(ErrorCode::DatabaseCorrupt) => Self::Damaged { path, what: error.to_string() },
            Some(ErrorCode::CannotOpen) => Self::Failed {
                path,
                what: "the store cannot be opened; check that its folder exists and may be written to".to_owned(),
            },
            Some(ErrorCode::SystemIoFailure) => Self::Failed {
                path,
                what: format!(
                    "the disk is full, or failed ({error}). Nothing was changed: make room, check the disk and try again"
                ),
            },
            _ => Self::Failed { path, what: error.to_string() },
        }
    }
}
