//! The store: one SQLite file that holds beds, reports, readings and events.
//!
//! Takes a path; gives a [`Store`]. Every change is one transaction: it is there entirely or not at all, whatever ends
//! the process. Several processes may use one store at once; a writer waits for the one before it.

use super::error::StoreError;
use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Marks the file as ours: "bead" in ASCII.
const APPLICATION: i64 = 0x6265_6164;

/// How long a writer waits for another.
const PATIENCE: Duration = Duration::from_secs(20);

/// Steps from an empty file to the layout of today; never changed, only added to.
const LAYOUTS: &[&str] = &[include_str!("layout1.sql")];

/// A store of beds.
#[derive(Debug)]
pub struct Store {
    pub(super) db: Connection,
    path: PathBuf,
}

impl Store {
    /// Opens the store for writing, and begins it where there is none.
    ///
    /// # Errors
    /// The file cannot be opened or written, is of another kind, or was written by a later version.
    pub fn open_or_begin(path: &Path) -> Result<Self, StoreError> {
        if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder).map_err(|error| StoreError::Failed {
                path: path.to_owned(),
                what: format!("its folder cannot be made: {error}"),
            })?;
        }
        Self::with_flags(path, OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE)
    }

    /// Opens a store that is there, for reading and writing.
    ///
    /// # Errors
    /// As [`Store::open_or_begin`]; and there is none.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        if !path.exists() {
            return Err(StoreError::Missing(path.to_owned()));
        }
        Self::with_flags(path, OpenFlags::SQLITE_OPEN_READ_WRITE)
    }

    /// Opens a store to look at it; works where nothing can be written.
    ///
    /// # Errors
    /// As [`Store::open`].
    pub fn open_to_read(path: &Path) -> Result<Self, StoreError> {
        match Self::open(path) {
            Err(StoreError::ReadOnly(_) | StoreError::Failed { .. }) => {}
            other => return other,
        }
        // Beside a log of changes that cannot be taken in, the file alone would show an old state.
        let mut log = path.as_os_str().to_owned();
        log.push("-wal");
        if std::fs::metadata(&log).is_ok_and(|data| data.len() > 0) {
            return Err(StoreError::ReadOnly(path.to_owned()));
        }
        let failed = |error: &rusqlite::Error| StoreError::of(path, error);
        let address = format!("file:{}?immutable=1", encoded(path));
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let db = Connection::open_with_flags(address, flags).map_err(|error| failed(&error))?;
        let store = Self { db, path: path.to_owned() };
        let layout = store.known_layout()?;
        if layout < newest() {
            return Err(StoreError::ReadOnly(path.to_owned()));
        }
        Ok(store)
    }

    /// A store in memory, for examples and tests.
    ///
    /// # Errors
    /// The database cannot be made.
    pub fn in_memory() -> Result<Self, StoreError> {
        let path = PathBuf::from(":memory:");
        let db = Connection::open_in_memory().map_err(|error| StoreError::of(&path, &error))?;
        Self { db, path }.made_ready()
    }

    fn with_flags(path: &Path, flags: OpenFlags) -> Result<Self, StoreError> {
        let db = Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)
            .map_err(|error| StoreError::of(path, &error))?;
        Self { db, path: path.to_owned() }.made_ready()
    }

    fn made_ready(mut self) -> Result<Self, StoreError> {
        self.run(|db| {
            db.busy_timeout(PATIENCE)?;
            db.pragma_update(None, "foreign_keys", true)
        })?;
        let layout = self.known_layout()?;
        self.run(|db| {
            // A filing must be on the disk before it is said to be: the write-ahead log is synced at each commit.
            db.pragma_update_and_check(None, "journal_mode", "wal", |_| Ok(()))?;
            db.pragma_update(None, "synchronous", "full")
        })?;
        if layout < newest() {
            self.write(|change| {
                // Another process may have been faster.
                let from: i64 = change.pragma_query_value(None, "user_version", |row| row.get(0))?;
                for step in LAYOUTS.iter().skip(usize::try_from(from).unwrap_or(usize::MAX)) {
                    change.execute_batch(step)?;
                }
                change.pragma_update(None, "application_id", APPLICATION)?;
                change.pragma_update(None, "user_version", newest())?;
                Ok(())
            })?;
        }
        Ok(self)
    }

    /// The layout of the file; an error where it is not one that this program knows.
    fn known_layout(&self) -> Result<i64, StoreError> {
        let number = |name: &str| self.run(|db| db.pragma_query_value(None, name, |row| row.get::<_, i64>(0)));
        let (application, layout) = (number("application_id")?, number("user_version")?);
        let tables: i64 = self.run(|db| db.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0)))?;
        if application != APPLICATION && (application != 0 || tables > 0) {
            return Err(StoreError::Foreign(self.path.clone()));
        }
        if layout > newest() {
            return Err(StoreError::Newer { path: self.path.clone(), found: layout, known: newest() });
        }
        Ok(layout)
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Reads from the database.
    pub(super) fn run<T>(&self, work: impl FnOnce(&Connection) -> rusqlite::Result<T>) -> Result<T, StoreError> {
        work(&self.db).map_err(|error| StoreError::of(&self.path, &error))
    }

    /// Changes the database in one transaction: all of it is done, or nothing.
    pub(super) fn write<T>(
        &mut self,
        work: impl FnOnce(&Transaction<'_>) -> Result<T, Change>,
    ) -> Result<T, StoreError> {
        let path = self.path.clone();
        let told = |error: Change| match error {
            Change::Database(error) => StoreError::of(&path, &error),
            Change::Refused(text) => StoreError::Refused(text),
        };
        // Immediate: two writers queue at the start instead of one failing in the middle.
        let change = self
            .db
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(|error| told(Change::Database(error)))?;
        let done = work(&change).map_err(told)?;
        change.commit().map_err(|error| StoreError::of(&path, &error))?;
        Ok(done)
    }
}

/// Why a change was given up.
#[derive(Debug)]
pub(super) enum Change {
    /// The database said no.
    Database(rusqlite::Error),
    /// It does not fit what the store holds.
    Refused(String),
}

impl From<rusqlite::Error> for Change {
    fn from(error: rusqlite::Error) -> Self {
        Self::Database(error)
    }
}

impl From<serde_json::Error> for Change {
    fn from(error: serde_json::Error) -> Self {
        Self::Database(unreadable(error))
    }
}

/// A stored text that is not what it should be, as an error of the database.
pub(super) fn unreadable(error: serde_json::Error) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(0, rusqlite::types::Type::Text, Box::new(error))
}

/// A JSON column as what it stands for.
pub(super) fn column<T: serde::de::DeserializeOwned>(row: &rusqlite::Row<'_>, at: usize) -> rusqlite::Result<T> {
    let text = row.get_ref(at)?.as_str().map_err(rusqlite::Error::from)?;
    serde_json::from_str(text).map_err(unreadable)
}

/// The newest layout that this program knows.
pub(super) fn newest() -> i64 {
    i64::try_from(LAYOUTS.len()).unwrap_or(i64::MAX)
}

/// A path as it stands in an address of SQLite.
fn encoded(path: &Path) -> String {
    let shown = path.to_string_lossy().replace('\\', "/");
    shown.replace('%', "%25").replace('?', "%3f").replace('#', "%23")
}

#[cfg(test)]
#[path = "store_tests.rs"]
mod tests;
