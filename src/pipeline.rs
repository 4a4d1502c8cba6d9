//! The way from bytes to records in one call.

use crate::document::Document;
use crate::extract::{self, Extraction};
use crate::lexicon::Lexicon;
use crate::readers::{self, ReadOptions};
use crate::reconcile;
use crate::record::{FileError, FileReading, Record};
use crate::sheets;

/// What one file came to.
#[derive(Clone, Debug, Default)]
pub struct Outcome {
    /// What was left aside in it; none if it could not be read.
    pub file: Option<FileReading>,
    /// One record for each sample.
    pub records: Vec<Record>,
    /// What could not be read.
    pub errors: Vec<FileError>,
    /// How its numbers ended.
    pub account: extract::Account,
}

/// Reads the bytes of one report into records.
///
/// ```
/// use beadwise::{lexicon::Lexicon, pipeline, readers::ReadOptions};
/// let report = b"Vessel: Softener 2\nTotal capacity: 37.6 kgr/ft3\nMoisture: 52.4 %\n";
/// let outcome = pipeline::read("march.txt", report, &ReadOptions::default(), Lexicon::builtin());
/// let record = &outcome.records[0];
/// assert_eq!(record.sample.vessel.as_deref(), Some("Softener 2"));
/// assert_eq!(record.measurements[1].value, Some(52.4));
/// ```
pub fn read(name: &str, bytes: &[u8], options: &ReadOptions, lexicon: &Lexicon) -> Outcome {
    match readers::read(name, bytes, options) {
        Ok(document) => from_document(&document, lexicon),
        Err(error) => refused(name, error),
    }
}

/// Reads the bytes of a product data sheet into records of new resin.
///
/// ```
/// use beadwise::{lexicon::Lexicon, pipeline, readers::ReadOptions, record::Qualifier};
/// let sheet = b"Total capacity, min.   2.0 eq/L\nMaximum temperature    120 \xC2\xB0C\n";
/// let outcome = pipeline::read_sheet("sheet.txt", sheet, &ReadOptions::default(), Lexicon::builtin());
/// assert_eq!(outcome.records[0].measurements.len(), 1);
/// assert_eq!(outcome.records[0].measurements[0].qualifier, Qualifier::Above);
/// ```
pub fn read_sheet(name: &str, bytes: &[u8], options: &ReadOptions, lexicon: &Lexicon) -> Outcome {
    let document = match readers::read(name, bytes, options) {
        Ok(document) => document,
        Err(error) => return refused(name, error),
    };
    let (file, records) = sheets::read(&document, lexicon);
    let mut outcome = Outcome { file: Some(file), records, ..Outcome::default() };
    if outcome.records.is_empty() {
        outcome.errors.push(FileError {
            file: document.source.file.clone(),
            part: None,
            code: "no-results".to_owned(),
            text:
                "No figure of a resin was found in it. If it is a product data sheet, see what is listed as unread; if \
                   it is a laboratory's report, read it with `beadwise read`."
                    .to_owned(),
        });
    }
    outcome
}

fn refused(name: &str, error: readers::ReadError) -> Outcome {
    let error =
        FileError { file: name.to_owned(), part: error.part.clone(), code: error.code.to_owned(), text: error.text };
    Outcome { errors: vec![error], ..Outcome::default() }
}

/// Finds the records of a document that is read already.
pub fn from_document(document: &Document, lexicon: &Lexicon) -> Outcome {
    let extraction: Extraction = extract::extract(document, lexicon);
    let account = extraction.account.clone();
    let (file, records) = reconcile::reconcile(extraction, &document.source, lexicon);
    let mut outcome = Outcome { file: Some(file), records, errors: Vec::new(), account };
    if outcome.records.is_empty() {
        outcome.errors.push(FileError {
            file: document.source.file.clone(),
            part: None,
            code: "no-results".to_owned(),
            text: "No result of a resin analysis was found in it. If it holds one, see what is listed as unread, and \
                   teach the words with a grammar file of your own (--grammar)."
                .to_owned(),
        });
    }
    outcome
}
