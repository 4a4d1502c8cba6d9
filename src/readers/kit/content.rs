//! A first look at bytes: what kind of thing they are, before any reader is asked.

use super::archive::Archive;
use super::encoding::{Decoded, decode};
use crate::readers::{ReadError, ReadOptions};
use std::io::Cursor;

/// What bytes turned out to be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Content {
    /// A PDF.
    Pdf,
    /// A zip archive.
    Zip {
        /// Names of its entries.
        names: Vec<String>,
        /// Content of its entry `mimetype`.
        mimetype: String,
    },
    /// A zip archive that does not open.
    BrokenZip,
    /// An OLE compound file, by the paths of its streams.
    Compound(Vec<String>),
    /// An OLE compound file that does not open.
    BrokenCompound,
    /// Text.
    Text(Decoded),
    /// Anything else.
    Binary,
}

impl Content {
    /// Whether it is an archive with this entry, in any case of letters.
    pub fn zip_holds(&self, entry: &str) -> bool {
        match self {
            Self::Zip { names, .. } => names.iter().any(|name| name.eq_ignore_ascii_case(entry)),
            _ => false,
        }
    }

    /// Whether it is a compound file with this stream, in any case of letters.
    pub fn compound_holds(&self, stream: &str) -> bool {
        match self {
            Self::Compound(streams) => streams.iter().any(|name| name.eq_ignore_ascii_case(stream)),
            _ => false,
        }
    }

    /// The text, where it is text.
    pub fn text(&self) -> Option<&Decoded> {
        match self {
            Self::Text(decoded) => Some(decoded),
            _ => None,
        }
    }
}

/// Looks at bytes.
///
/// # Errors
///
/// Those of [`decode`], and `too-large` for archives that grow beyond the limits.
pub fn look(bytes: &[u8], options: &ReadOptions) -> Result<Content, ReadError> {
    let after_mark = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes).trim_ascii_start();
    if after_mark.starts_with(b"%PDF-") {
        return Ok(Content::Pdf);
    }
    if bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"PK\x05\x06") {
        return Ok(look_into_zip(bytes, options)?.unwrap_or(Content::BrokenZip));
    }
    if bytes.starts_with(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1") {
        return Ok(look_into_compound(bytes));
    }
    let decoded = decode(bytes, options.encoding.as_deref())?;
    let junk_before_pdf = || bytes.get(..1024.min(bytes.len())).unwrap_or_default().windows(5).any(|w| w == b"%PDF-");
    Ok(match decoded {
        // Mail gateways put lines before a PDF; a letter that speaks of one is text through and through.
        None if junk_before_pdf() => Content::Pdf,
        None => Content::Binary,
        Some(decoded) => Content::Text(decoded),
    })
}

fn look_into_zip(bytes: &[u8], options: &ReadOptions) -> Result<Option<Content>, ReadError> {
    let mut archive = match Archive::open(bytes, &options.limits) {
        Ok(archive) => archive,
        Err(error) if error.code == "too-large" => return Err(error),
        Err(_) => return Ok(None),
    };
    let names = archive.names();
    let mimetype = archive.entry("mimetype").ok().flatten().unwrap_or_default();
    Ok(Some(Content::Zip { names, mimetype: String::from_utf8_lossy(&mimetype).trim().to_owned() }))
}

fn look_into_compound(bytes: &[u8]) -> Content {
    let Ok(file) = cfb::CompoundFile::open(Cursor::new(bytes)) else { return Content::BrokenCompound };
    let streams = file
        .walk()
        .take(10_000)
        .filter(|entry| entry.is_stream())
        .map(|entry| entry.path().to_string_lossy().trim_start_matches('/').to_owned())
        .collect();
    Content::Compound(streams)
}

/// Whether text is a page of HTML.
pub fn is_html(text: &str) -> bool {
    let mut rest = text.trim_start();
    // A comment, a declaration or an XML head may stand before the first element.
    for _ in 0..20 {
        if let Some(after) = rest.strip_prefix("<!--") {
            rest = after.split_once("-->").map_or("", |(_, r)| r).trim_start();
        } else if starts_with_no_case(rest, "<?xml") {
            rest = rest.split_once("?>").map_or("", |(_, r)| r).trim_start();
        } else {
            break;
        }
    }
    let starts = ["<!doctype html", "<html", "<head", "<body", "<table", "<meta", "<div", "<p>", "<style", "<title"];
    starts.iter().any(|start| starts_with_no_case(rest, start))
}

fn starts_with_no_case(text: &str, start: &str) -> bool {
    text.get(..start.len()).is_some_and(|head| head.eq_ignore_ascii_case(start))
}

/// Why bytes that were recognised are not read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal {
    /// Permanent code.
    pub code: &'static str,
    /// What was found and what to do.
    pub text: String,
}

/// Contents that are known and cannot be read.
pub fn refusal(content: &Content, bytes: &[u8], extension: &str) -> Option<Refusal> {
    let refuse = |code, text: &str| Some(Refusal { code, text: text.to_owned() });
    match content {
        Content::Compound(_) if content.compound_holds("EncryptedPackage") => refuse(
            "encrypted",
            "the file is an encrypted Office document; open it with its password and save it again without one",
        ),
        Content::Compound(_) if content.compound_holds("WordDocument") => refuse(
            "unsupported-format",
            "the file is a letter in Word's format of 1997 to 2003; save it as .docx or .pdf",
        ),
        Content::Compound(streams) if streams.iter().any(|name| name.starts_with("__substg1.0_")) => {
            refuse("unsupported-format", "the file is a message in Outlook's own format; save it as .eml or .pdf")
        }
        Content::Compound(_) if !content.compound_holds("Workbook") && !content.compound_holds("Book") => refuse(
            "not-a-workbook",
            "the file is an OLE compound file without a workbook in it; save the report from its own program as .xlsx or .pdf",
        ),
        Content::BrokenCompound => refuse(
            "not-a-workbook",
            "the file begins like an old Excel workbook, but is cut short or damaged; fetch it again",
        ),
        Content::BrokenZip => Some(broken_zip(extension)),
        Content::Zip { .. } => zip_refusal(content),
        Content::Text(decoded) if decoded.text.trim().is_empty() => {
            refuse("empty-file", "the file holds nothing but blanks; fetch or export it again")
        }
        Content::Text(decoded) => text_refusal(&decoded.text),
        Content::Binary => known_binary(bytes),
        Content::Pdf | Content::Compound(_) => None,
    }
}

fn broken_zip(extension: &str) -> Refusal {
    Refusal {
        code: if ["docx", "docm"].contains(&extension) { "not-a-letter" } else { "not-a-workbook" },
        text:
            "the file begins like a zip archive, as workbooks and letters are, but is cut short or damaged; fetch it again"
                .into(),
    }
}

fn zip_refusal(content: &Content) -> Option<Refusal> {
    let Content::Zip { names, mimetype } = content else { return None };
    let refuse = |code, text: &str| Some(Refusal { code, text: text.to_owned() });
    if ["word/document.xml", "xl/workbook.bin"].iter().any(|entry| content.zip_holds(entry))
        || names.iter().any(|name| name.to_ascii_lowercase().starts_with("xl/"))
        || mimetype.contains("opendocument.spreadsheet")
    {
        return None;
    }
    if mimetype.contains("opendocument.text") {
        return refuse("unsupported-format", "the file is an OpenDocument letter; save it as .docx or .pdf");
    }
    if content.zip_holds("content.xml") || content.zip_holds("[Content_Types].xml") {
        return None;
    }
    refuse("unknown-format", "the file is a zip archive; unpack it and give the reports in it")
}

fn text_refusal(text: &str) -> Option<Refusal> {
    let head = text.trim_start();
    if head.starts_with("{\\rtf") {
        return Some(Refusal {
            code: "unsupported-format",
            text: "the file is rich text (RTF); save it as .docx or .pdf".into(),
        });
    }
    let first = head.char_indices().nth(2000).map_or(head, |(end, _)| head.get(..end).unwrap_or(head));
    if head.starts_with("<?xml") && !is_html(text) {
        let what = if first.contains("urn:schemas-microsoft-com:office:spreadsheet") {
            "a workbook in Excel's XML of 2003"
        } else if first.contains("opendocument") {
            "a flat OpenDocument file"
        } else {
            "XML"
        };
        return Some(Refusal {
            code: "unsupported-format",
            text: format!("the file is {what}; save the report as .xlsx, .csv or .pdf"),
        });
    }
    None
}

fn known_binary(bytes: &[u8]) -> Option<Refusal> {
    let known: [(&[u8], &str); 9] = [
        (b"\x89PNG", "a picture (PNG)"),
        (b"\xff\xd8\xff", "a picture (JPEG)"),
        (b"GIF8", "a picture (GIF)"),
        (b"BM", "a picture (BMP)"),
        (b"II*\0", "a picture (TIFF)"),
        (b"MM\0*", "a picture (TIFF)"),
        (b"\x1f\x8b", "a gzip archive"),
        (b"7z\xbc\xaf", "a 7-Zip archive"),
        (b"Rar!", "a RAR archive"),
    ];
    if bytes.starts_with(b"\x09\x08") || bytes.starts_with(b"\x09\x04") || bytes.starts_with(b"\x09\x02") {
        return Some(Refusal {
            code: "unsupported-format",
            text: "the file is a workbook in Excel's format from before 1993; save it as .xlsx".into(),
        });
    }
    known.iter().find(|(mark, _)| bytes.starts_with(mark)).map(|(_, what)| Refusal {
        code: "unsupported-format",
        text: format!("the file is {what}; ask for the report as PDF with text, as a workbook or as text"),
    })
}

/// The error for plain text under a name that promises something else: an error page, a note, a broken download.
pub fn not_what_its_name_says(extension: &str) -> Option<ReadError> {
    let (code, what) = promised(extension)?;
    Some(ReadError::new(
        code,
        format!(
            "the name says {what}, but the content is plain text; fetch the file again, or name it .txt to read it as text"
        ),
    ))
}

fn promised(extension: &str) -> Option<(&'static str, &'static str)> {
    match extension {
        "xlsx" | "xlsm" | "xls" | "xlsb" | "ods" => Some(("not-a-workbook", "workbook")),
        "pdf" => Some(("not-a-pdf", "PDF")),
        "docx" | "docm" => Some(("not-a-letter", "Word document")),
        _ => None,
    }
}

/// The error for bytes that no reader takes.
pub fn unknown(content: &Content, extension: &str) -> ReadError {
    let found = match content {
        Content::Zip { .. } => "a zip archive that holds neither a workbook nor a letter",
        _ => "neither text nor any known kind of file",
    };
    let (code, what) = promised(extension).unwrap_or(("unknown-format", "nothing that is known"));
    ReadError::new(
        code,
        format!(
            "the name says {what}, but the content is {found}; fetch it again, or save the report as .pdf, .xlsx or .csv"
        ),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn html_is_told_by_its_first_element() {
        assert!(is_html("\n<!-- saved --><!DOCTYPE HTML><p>x"));
        assert!(is_html("<TABLE border=1>"));
        assert!(!is_html("< 50 mg/kg iron"));
        assert!(!is_html("Iron <50"));
    }
}
