//! Records that `read --json` or `spec read --json` has printed: taken as they are, where a command wants records.

use super::contained::{Contained, failed};
use super::output::Stop;
use super::reading::text_of;
use crate::pipeline::Outcome;
use crate::record::{CONTRACT, FileError, Record};
use serde::Deserialize;
use std::path::{Path, PathBuf};

/// The document that `read --json` prints.
#[derive(Deserialize)]
struct Saved {
    contract: u32,
    #[serde(default)]
    records: Vec<Record>,
    #[serde(default)]
    errors: Vec<FileError>,
}

/// Takes saved records as they are, and hands every other file on to be read.
pub struct OrSaved<'a>(pub &'a dyn Contained);

impl Contained for OrSaved<'_> {
    fn read(&self, name: &str, bytes: &[u8]) -> Outcome {
        if !is_saved(name) {
            return self.0.read(name, bytes);
        }
        match std::str::from_utf8(bytes).map_err(|error| error.to_string()).and_then(parse) {
            Ok(saved) => Outcome { records: saved.records, errors: saved.errors, ..Outcome::default() },
            Err(why) => failed(name, "not-records", why),
        }
    }

    fn byte_limit(&self) -> usize {
        self.0.byte_limit()
    }
}

/// Whether a file is one of saved records, by its name.
pub fn is_saved(name: &str) -> bool {
    Path::new(name).extension().is_some_and(|extension| extension.eq_ignore_ascii_case("json"))
}

fn parse(text: &str) -> Result<Saved, String> {
    let saved: Saved = serde_json::from_str(text.trim_start_matches('\u{feff}')).map_err(|error| {
        format!("these are no records as `beadwise read --json` prints them ({error}); name the report itself")
    })?;
    if saved.contract == CONTRACT {
        Ok(saved)
    } else {
        Err(format!(
            "its contract is {}, and this program knows {CONTRACT}; print the records anew with `beadwise read --json`",
            saved.contract
        ))
    }
}

/// The records of files that options or settings name, each with what names it.
pub fn records(files: &[(String, PathBuf)]) -> Result<Vec<Record>, Stop> {
    let mut records = Vec::new();
    for (option, path) in files {
        let saved =
            parse(&text_of(option, path)?).map_err(|why| Stop::Usage(format!("{option} {}: {why}", path.display())))?;
        records.extend(saved.records);
    }
    Ok(records)
}
