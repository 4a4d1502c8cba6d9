//! Bytes to [`Document`]: one small file for each format, listed in [`FORMATS`].
//!
//! Needs the bytes of a file and its name; gives placed words without meaning. Knows formats, and nothing of resin.
//! The format is told from the content; the extension only decides where the content leaves it open.

use crate::document::{Document, Notice, Part};
use crate::place::Source;
use sha2::{Digest, Sha256};
use std::sync::Arc;

pub mod csv;
pub mod docx;
pub mod eml;
mod grid;
pub mod html;
pub mod kit;
pub mod marks;
pub mod ods;
pub mod pdf;
pub mod text;
pub mod xls;
pub mod xlsb;
pub mod xlsx;

use kit::content::{Content, Refusal};

/// How a file is to be read.
#[derive(Clone, Debug, Default)]
pub struct ReadOptions {
    /// Password of a protected file.
    pub password: Option<String>,
    /// Encoding of text, by its WHATWG label, instead of the one told from the bytes.
    pub encoding: Option<String>,
    /// How large a file may grow before it is refused.
    pub limits: Limits,
}

/// Bounds that keep a hostile or broken file from taking the machine with it. They are far above any report.
///
/// Each has a name of its own, by which an error points to it and [`Limits::set`] sets it.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Limits {
    /// Bytes of the file itself; HTML may have half of it.
    pub file_bytes: usize,
    /// Bytes that its compressed contents may grow to, all together.
    pub expanded_bytes: u64,
    /// Growth of any one compressed content: bytes out for each byte in.
    pub expansion_ratio: u64,
    /// Cells of a workbook or delimited file, all sheets together.
    pub cells: usize,
    /// Bytes in one line or cell of text.
    pub line_chars: usize,
    /// Lines of text.
    pub lines: usize,
    /// Mails inside mails.
    pub mail_depth: usize,
    /// Attachments of one mail.
    pub attachments: usize,
    /// Pages of a PDF.
    pub pages: usize,
    /// Seconds for one PDF.
    pub pdf_seconds: u64,
    /// Seconds for one file of any kind, where a worker reads it.
    pub seconds: u64,
    /// Bytes of address space of a worker.
    pub memory_bytes: u64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            file_bytes: 64 << 20,
            expanded_bytes: 256 << 20,
            expansion_ratio: 200,
            cells: 2_000_000,
            line_chars: 100_000,
            lines: 2_000_000,
            mail_depth: 3,
            attachments: 50,
            pages: 500,
            pdf_seconds: 12,
            seconds: 120,
            memory_bytes: 3 << 30,
        }
    }
}

/// Names of the limits, what each counts, and its unit in the field.
const LIMITS: [(&str, &str, u64); 12] = [
    ("file-mib", "MiB of the file itself", 1 << 20),
    ("unpacked-mib", "MiB of what it unpacks to", 1 << 20),
    ("unpacked-ratio", "bytes unpacked for each byte packed", 1),
    ("cells", "cells of a workbook or delimited file", 1),
    ("line-chars", "bytes in one line or cell of text", 1),
    ("lines", "lines of text", 1),
    ("mail-depth", "mails inside mails", 1),
    ("attachments", "attachments of one mail", 1),
    ("pages", "pages of a PDF", 1),
    ("pdf-seconds", "seconds for one PDF", 1),
    ("seconds", "seconds for one file", 1),
    ("memory-mib", "MiB of memory for the process that reads", 1 << 20),
];

impl Limits {
    /// Name, meaning and present value of each limit, in the unit that its name says.
    pub fn listed(&self) -> impl Iterator<Item = (&'static str, &'static str, u64)> {
        let values = [
            self.file_bytes as u64,
            self.expanded_bytes,
            self.expansion_ratio,
            self.cells as u64,
            self.line_chars as u64,
            self.lines as u64,
            self.mail_depth as u64,
            self.attachments as u64,
            self.pages as u64,
            self.pdf_seconds,
            self.seconds,
            self.memory_bytes,
        ];
        LIMITS.into_iter().zip(values).map(|((name, what, unit), value)| (name, what, value / unit))
    }

    /// Sets a limit by its name, to a number of what the name counts.
    ///
    /// # Errors
    ///
    /// There is no limit of this name, or it cannot be that much; the text says which there are.
    ///
    /// ```
    /// use beadwise::readers::Limits;
    /// let mut limits = Limits::default();
    /// limits.set("file-mib", 128)?;
    /// assert_eq!(limits.file_bytes, 128 * 1024 * 1024);
    /// assert!(limits.set("patience", 1).is_err());
    /// # Ok::<(), String>(())
    /// ```
    pub fn set(&mut self, name: &str, value: u64) -> Result<(), String> {
        let Some((_, _, unit)) = LIMITS.into_iter().find(|(known, _, _)| *known == name) else {
            let known: Vec<&str> = LIMITS.iter().map(|(known, _, _)| *known).collect();
            return Err(format!("there is no limit {name:?}; known are {}", known.join(", ")));
        };
        let value = value.checked_mul(unit).filter(|v| *v > 0).ok_or_else(|| format!("{name} cannot be {value}"))?;
        let count = usize::try_from(value).map_err(|_| format!("{name} cannot be that large on this machine"))?;
        match name {
            "file-mib" => self.file_bytes = count,
            "unpacked-mib" => self.expanded_bytes = value,
            "unpacked-ratio" => self.expansion_ratio = value,
            "cells" => self.cells = count,
            "line-chars" => self.line_chars = count,
            "lines" => self.lines = count,
            "mail-depth" => self.mail_depth = count,
            "attachments" => self.attachments = count,
            "pages" => self.pages = count,
            "pdf-seconds" => self.pdf_seconds = value,
            "seconds" => self.seconds = value,
            _ => self.memory_bytes = value,
        }
        Ok(())
    }
}

/// Why a file could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{text}")]
pub struct ReadError {
    /// Permanent code, as `not-a-workbook`.
    pub code: &'static str,
    /// What was found and what to do.
    pub text: String,
    /// The attachment, where it is one.
    pub part: Option<String>,
}

impl ReadError {
    /// An error about the file itself.
    pub fn new(code: &'static str, text: impl Into<String>) -> Self {
        Self { code, text: text.into(), part: None }
    }
}

/// What the reader of one format gives back.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct ReadOutput {
    /// The body first, then attachments.
    pub parts: Vec<Part>,
    /// What was left out or could not be read.
    pub notices: Vec<Notice>,
}

/// What the reader of one format is given.
pub struct Input<'a> {
    /// The bytes as they came.
    pub bytes: &'a [u8],
    /// What a first look at them found.
    pub content: &'a Content,
    /// Extension of the name in lower case, without its dot.
    pub extension: &'a str,
    /// How many mails this stands inside.
    pub depth: usize,
}

/// A format that can be read.
pub struct Format {
    /// Its name in [`Source::format`] and [`Part::format`].
    pub name: &'static str,
    /// Extensions that it commonly has.
    pub extensions: &'static [&'static str],
    /// Whether the content is in this format.
    sniff: fn(&Input<'_>) -> bool,
    read: fn(&Input<'_>, &ReadOptions) -> Result<ReadOutput, ReadError>,
}

/// Every format, in the order in which they are tried: the more a format's mark says, the earlier it stands.
pub const FORMATS: &[Format] = &[
    Format {
        name: "pdf",
        extensions: &["pdf"],
        sniff: |input| matches!(input.content, Content::Pdf),
        read: |input, options| pdf::read(input.bytes, options),
    },
    Format {
        name: "docx",
        extensions: &["docx", "docm"],
        sniff: |input| input.content.zip_holds("word/document.xml"),
        read: |input, options| docx::read(input.bytes, options),
    },
    Format { name: "xlsb", extensions: &["xlsb"], sniff: xlsb::sniff, read: xlsb::read },
    Format { name: "xlsx", extensions: &["xlsx", "xlsm"], sniff: xlsx::sniff, read: xlsx::read },
    Format { name: "ods", extensions: &["ods"], sniff: ods::sniff, read: ods::read },
    Format { name: "xls", extensions: &["xls"], sniff: xls::sniff, read: xls::read },
    Format {
        name: "html",
        extensions: &["html", "htm"],
        sniff: |input| input.content.text().is_some_and(|t| kit::content::is_html(&t.text)),
        read: |input, options| html::read(input.bytes, options),
    },
    Format { name: "eml", extensions: &["eml"], sniff: eml::sniff, read: eml::read },
    Format { name: "csv", extensions: &["csv", "tsv", "tab", "psv"], sniff: csv::sniff, read: csv::read },
    Format {
        name: "text",
        extensions: &["txt", "text", "asc", "prn"],
        sniff: |input| input.content.text().is_some(),
        read: text::read,
    },
];

/// Reads the bytes of a file into a [`Document`]. The format is told by content first, extension second.
///
/// # Errors
///
/// [`ReadError`] with its permanent code: `empty-file`, `too-large`, `encrypted`, `not-a-workbook`, `not-a-pdf`,
/// `not-a-letter`, `unsupported-format`, `unknown-format`, or one of the format's own.
///
/// ```
/// use beadwise::readers::{read, ReadOptions};
/// let document = read("report.txt", b"Moisture retention: 47.3 %", &ReadOptions::default())?;
/// assert_eq!(document.parts[0].pages[0].lines[0].text(), "Moisture retention: 47.3 %");
/// # Ok::<(), beadwise::readers::ReadError>(())
/// ```
pub fn read(name: &str, bytes: &[u8], options: &ReadOptions) -> Result<Document, ReadError> {
    let (format, output) = read_at_depth(name, bytes, options, 0)?;
    let sha256 = Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    let source = Source { file: name.to_owned(), format: format.to_owned(), sha256 };
    Ok(Document { source, parts: output.parts, notices: output.notices })
}

/// Reads a file or an attachment; gives the name of its format too.
pub(crate) fn read_at_depth(
    name: &str,
    bytes: &[u8],
    options: &ReadOptions,
    depth: usize,
) -> Result<(&'static str, ReadOutput), ReadError> {
    if bytes.is_empty() {
        return Err(ReadError::new("empty-file", "the file has no content (0 bytes); fetch or export it again"));
    }
    if bytes.len() > options.limits.file_bytes {
        return Err(too_large("bytes", bytes.len() as u64, options.limits.file_bytes as u64, "file-mib"));
    }
    let extension = name.rsplit_once('.').map(|(_, e)| e.to_ascii_lowercase()).unwrap_or_default();
    let content = kit::content::look(bytes, options)?;
    if let Some(Refusal { code, text }) = kit::content::refusal(&content, bytes, &extension) {
        return Err(ReadError::new(code, text));
    }
    let input = Input { bytes, content: &content, extension: &extension, depth };
    for format in FORMATS {
        if !(format.sniff)(&input) {
            continue;
        }
        if format.name == "text"
            && let Some(error) = kit::content::not_what_its_name_says(&extension)
        {
            return Err(error);
        }
        let mut output = (format.read)(&input, options)?;
        check_lines(&output, options.limits.line_chars)?;
        for part in &mut output.parts {
            if part.format.is_empty() {
                part.format = format.name.to_owned();
            }
        }
        return Ok((format.name, output));
    }
    Err(kit::content::unknown(&content, &extension))
}

/// Refuses lines and cells of a length that no page has; what they cost grows faster than they do.
fn check_lines(output: &ReadOutput, most: usize) -> Result<(), ReadError> {
    for line in output.parts.iter().flat_map(|part| &part.pages).flat_map(|page| &page.lines) {
        let lengths = line.words.iter().map(|word| word.text.len());
        let length = if line.table.is_none() { lengths.sum() } else { lengths.max().unwrap_or(0) };
        if length > most {
            return Err(too_large("bytes in one line or cell", length as u64, most as u64, "line-chars"));
        }
    }
    Ok(())
}

/// The one wording for everything that passes a limit.
pub(crate) fn too_large(what: &str, found: u64, limit: u64, name: &str) -> ReadError {
    ReadError::new(
        "too-large",
        format!(
            "{found} {what} were found and {limit} is the limit; split the file, save only the report from it, or \
             raise the limit {name}"
        ),
    )
}

/// Puts every place of an attachment's parts and notices into that attachment.
pub(crate) fn place_in_part(output: &mut ReadOutput, name: &Arc<str>) {
    for part in &mut output.parts {
        if part.name.is_some() {
            continue;
        }
        part.name = Some(name.clone());
        for word in part.pages.iter_mut().flat_map(|page| &mut page.lines).flat_map(|line| &mut line.words) {
            word.place.part = Some(name.clone());
        }
    }
    for notice in &mut output.notices {
        notice.place.part.get_or_insert_with(|| name.clone());
    }
}

#[cfg(test)]
mod tests;
