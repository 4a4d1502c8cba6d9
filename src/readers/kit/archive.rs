//! Zip archives, opened so that none can grow beyond the limits.

use crate::readers::{Limits, ReadError, too_large};
use std::io::{Cursor, Read};
use zip::ZipArchive;

/// An open archive whose entries have all been inflated once and found within the limits.
pub struct Archive<'a> {
    zip: ZipArchive<Cursor<&'a [u8]>>,
    limit: u64,
}

impl<'a> Archive<'a> {
    /// Opens an archive.
    ///
    /// # Errors
    ///
    /// `too-large` where an entry inflates beyond the limits, whatever its header claims; `not-a-workbook` where the
    /// archive itself does not open.
    pub fn open(bytes: &'a [u8], limits: &Limits) -> Result<Self, ReadError> {
        let mut zip = ZipArchive::new(Cursor::new(bytes)).map_err(|error| damaged(&error))?;
        let mut total = 0_u64;
        for index in 0..zip.len() {
            let Ok(entry) = zip.by_index(index) else { continue };
            let packed = entry.compressed_size().min(bytes.len() as u64);
            // Small entries are let off: a run of zeros packs better than any report and harms nobody.
            let allowed = packed.saturating_mul(limits.expansion_ratio).max(1 << 20);
            let left = limits.expanded_bytes.saturating_sub(total);
            let room = left.min(allowed);
            let mut counted = entry.take(room.saturating_add(1));
            // What does not inflate is left for the reader to report, if it needs that entry at all.
            let grown = std::io::copy(&mut counted, &mut std::io::sink()).unwrap_or(0);
            if grown > room {
                let name = if left <= allowed { "unpacked-mib" } else { "unpacked-ratio" };
                return Err(too_large("bytes once unpacked, or more,", total + grown, total + room, name));
            }
            total += grown;
        }
        Ok(Self { zip, limit: limits.expanded_bytes })
    }

    /// Names of the entries.
    pub fn names(&self) -> Vec<String> {
        self.zip.file_names().filter_map(Result::ok).map(|name| name.replace('\\', "/")).collect()
    }

    /// The content of an entry, its name in any case of letters; `None` where there is none.
    ///
    /// # Errors
    ///
    /// `not-a-workbook` where the entry is damaged.
    pub fn entry(&mut self, name: &str) -> Result<Option<Vec<u8>>, ReadError> {
        let wanted = name.trim_start_matches('/');
        let found = (0..self.zip.len()).find(|index| {
            let entry = self.zip.name_for_index(*index).and_then(Result::ok);
            entry.is_some_and(|n| n.replace('\\', "/").trim_start_matches('/').eq_ignore_ascii_case(wanted))
        });
        let Some(index) = found else { return Ok(None) };
        let entry = self.zip.by_index(index).map_err(|error| damaged(&error))?;
        let mut content = Vec::new();
        entry.take(self.limit).read_to_end(&mut content).map_err(|error| damaged(&error))?;
        Ok(Some(content))
    }

    /// The content of an entry as text.
    ///
    /// # Errors
    ///
    /// As for [`Self::entry`].
    pub fn text(&mut self, name: &str) -> Result<Option<String>, ReadError> {
        let Some(bytes) = self.entry(name)? else { return Ok(None) };
        // Nearly always UTF-8 without a mark, which needs no second copy.
        match String::from_utf8(bytes) {
            Ok(text) if !text.starts_with('\u{feff}') && !text.contains('\0') => Ok(Some(text)),
            Ok(text) => Ok(super::encoding::decode(text.as_bytes(), None)?.map(|d| d.text)),
            Err(other) => Ok(super::encoding::decode(other.as_bytes(), None)?.map(|d| d.text)),
        }
    }
}

fn damaged(error: &dyn std::fmt::Display) -> ReadError {
    ReadError::new("not-a-workbook", format!("the archive is damaged ({error}); fetch the file again"))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use std::io::Write;

    fn packed(content: &[u8]) -> Vec<u8> {
        let mut writer = zip::ZipWriter::new(Cursor::new(Vec::new()));
        writer.start_file("Folder/A.xml", zip::write::SimpleFileOptions::default()).unwrap();
        writer.write_all(content).unwrap();
        writer.finish().unwrap().into_inner()
    }

    #[test]
    fn an_entry_that_grows_too_much_is_refused() {
        let bytes = packed(&vec![b' '; 4 << 20]);
        assert_eq!(Archive::open(&bytes, &Limits::default()).err().map(|e| e.code), Some("too-large"));
        let limits = Limits { expansion_ratio: 100_000, ..Limits::default() };
        assert!(Archive::open(&bytes, &limits).is_ok());
        let limits = Limits { expanded_bytes: 1 << 20, ..limits };
        assert_eq!(Archive::open(&bytes, &limits).err().map(|e| e.code), Some("too-large"));
    }

    #[test]
    fn names_are_found_in_any_case() {
        let bytes = packed(b"<a/>");
        let mut archive = Archive::open(&bytes, &Limits::default()).unwrap();
        assert_eq!(archive.text("folder/a.xml").unwrap().as_deref(), Some("<a/>"));
        assert_eq!(archive.entry("other").unwrap(), None);
    }
}
