//! Stores that are new, foreign, newer, read-only or full.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::*;

#[test]
fn a_store_is_begun_once_and_opened_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("deep/er/beds.db");
    assert!(matches!(Store::open(&path), Err(StoreError::Missing(_))));
    drop(Store::open_or_begin(&path).unwrap());
    let store = Store::open(&path).unwrap();
    assert_eq!(store.known_layout().unwrap(), newest());
}

#[test]
fn another_kind_of_file_is_refused_and_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("letter.txt");
    std::fs::write(&path, "Dear laboratory, ".repeat(100)).unwrap();
    assert!(matches!(Store::open(&path), Err(StoreError::Foreign(_))));
    assert!(std::fs::read_to_string(&path).unwrap().starts_with("Dear laboratory"));
    let other = folder.path().join("other.db");
    Connection::open(&other).unwrap().execute_batch("CREATE TABLE mine (a)").unwrap();
    assert!(matches!(Store::open_or_begin(&other), Err(StoreError::Foreign(_))));
}

#[test]
fn a_store_of_a_later_version_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("beds.db");
    let store = Store::open_or_begin(&path).unwrap();
    store.db.pragma_update(None, "user_version", newest() + 1).unwrap();
    drop(store);
    let Err(error) = Store::open(&path) else { panic!("a later layout was opened") };
    assert!(error.to_string().contains("later version"), "{error}");
}

#[test]
fn a_full_disk_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("beds.db");
    let mut store = Store::open_or_begin(&path).unwrap();
    let add = |change: &Transaction<'_>, id: &str, facts: &str| {
        change.execute("INSERT INTO bed VALUES (?1, ?1, '', ?2)", [id, facts])
    };
    store.write(|change| Ok(add(change, "one", "{}")?)).unwrap();
    // SQLite's own limit of pages gives the error that a full disk gives.
    store.run(|db| db.pragma_update(None, "max_page_count", 1)).unwrap();
    let big = format!("\"{}\"", "x".repeat(200_000));
    let full = store.write(|change| {
        add(change, "two", "{}")?;
        Ok(add(change, "three", &big)?)
    });
    assert!(matches!(full, Err(StoreError::Full(_))), "{full:?}");
    drop(store);
    let store = Store::open(&path).unwrap();
    let ids: String = store.run(|db| db.query_row("SELECT group_concat(id) FROM bed", [], |row| row.get(0))).unwrap();
    assert_eq!(ids, "one");
}

#[test]
fn two_writers_wait_for_each_other() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("beds.db");
    let each = 40;
    let writers: Vec<_> = (0..4)
        .map(|writer| {
            let path = path.clone();
            std::thread::spawn(move || {
                let mut store = Store::open_or_begin(&path).unwrap();
                for n in 0..each {
                    let id = format!("{writer}-{n}");
                    store
                        .write(|change| Ok(change.execute("INSERT INTO bed VALUES (?1, ?1, '', '{}')", [&id])?))
                        .unwrap();
                }
            })
        })
        .collect();
    for writer in writers {
        writer.join().unwrap();
    }
    let store = Store::open(&path).unwrap();
    let count: i64 = store.run(|db| db.query_row("SELECT count(*) FROM bed", [], |row| row.get(0))).unwrap();
    assert_eq!(count, 4 * each);
}
