//! Bytes to [`Document`]: one small file for each format.

pub mod docx;
mod grid;
pub mod html;
pub mod marks;
pub mod pdf;

use crate::document::{Document, Notice, Part};

/// How a file is to be read.
#[derive(Clone, Debug, Default)]
pub struct ReadOptions {
    /// Password of a protected file.
    pub password: Option<String>,
    /// Encoding of text, by its WHATWG label, instead of the one told from the bytes.
    pub encoding: Option<String>,
}

/// What a reader of one format hands back.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct ReadOutput {
    /// The body and its attachments.
    pub parts: Vec<Part>,
    /// What the record must say about what was read.
    pub notices: Vec<Notice>,
}

/// Why a file could not be read.
#[derive(Clone, Debug, thiserror::Error)]
#[error("{text}")]
pub struct ReadError {
    /// Permanent code, as `not-a-workbook`.
    pub code: &'static str,
    /// What was found and what to do.
    pub text: String,
    /// The attachment, where it is one.
    pub part: Option<String>,
}

/// Reads the bytes of a file into a [`Document`]. The format is told by content first, extension second.
///
/// # Errors
///
/// [`ReadError`] with its permanent code.
pub fn read(name: &str, bytes: &[u8], options: &ReadOptions) -> Result<Document, ReadError> {
    let _ = (name, bytes, options);
    Err(ReadError { code: "not-a-report", text: String::new(), part: None })
}
