//! The parts of a letter's container, unpacked within limits.

use crate::readers::{Limits, ReadError, too_large};
use std::io::{Cursor, Read};
use zip::ZipArchive;

/// An opened container.
pub struct Package<'a> {
    zip: ZipArchive<Cursor<&'a [u8]>>,
    /// Unpacked bytes that are left to all parts that are read.
    left: u64,
    /// Unpacked bytes of one part.
    most: u64,
}

impl<'a> Package<'a> {
    /// Opens the container.
    pub fn open(bytes: &'a [u8], limits: &Limits) -> Result<Self, ReadError> {
        if bytes.starts_with(&[0xd0, 0xcf, 0x11, 0xe0]) {
            return Err(compound(bytes));
        }
        let zip =
            ZipArchive::new(Cursor::new(bytes)).map_err(|e| not_a_letter(&format!("its container is broken ({e})")))?;
        // The tree of a part takes several times its bytes.
        Ok(Self { zip, left: limits.expanded_bytes / 2, most: limits.expanded_bytes / 4 })
    }

    /// Names of all parts.
    pub fn names(&self) -> Vec<String> {
        (0..self.zip.len()).filter_map(|i| self.zip.name_for_index(i)?.ok()).map(|n| n.into_owned()).collect()
    }

    /// Text of a part; none where there is no such part.
    pub fn text(&mut self, name: &str) -> Result<Option<String>, ReadError> {
        let name = name.trim_start_matches('/');
        let wanted = (0..self.zip.len()).find(|i| {
            self.zip
                .name_for_index(*i)
                .is_some_and(|n| n.is_ok_and(|n| n.replace('\\', "/").eq_ignore_ascii_case(name)))
        });
        let Some(index) = wanted else { return Ok(None) };
        let broken = |e: &dyn std::fmt::Display| not_a_letter(&format!("its part {name} is broken ({e})"));
        let file = self.zip.by_index(index).map_err(|e| broken(&e))?;
        if file.encrypted() {
            return Err(encrypted());
        }
        let most = self.most.min(self.left);
        let mut bytes = Vec::new();
        file.take(most + 1).read_to_end(&mut bytes).map_err(|e| broken(&e))?;
        let size = bytes.len() as u64;
        if size > most {
            return Err(too_large("bytes unpacked from the letter, or more,", size, most, "unpacked-mib"));
        }
        self.left -= size;
        // A byte order mark decides; without one XML is UTF-8.
        let (text, _, _) = encoding_rs::UTF_8.decode(&bytes);
        Ok(Some(text.into_owned()))
    }
}

fn encrypted() -> ReadError {
    ReadError {
        code: "encrypted",
        text: "the letter is locked with a password; open it in a word processor, remove the password and save it"
            .to_owned(),
        part: None,
    }
}

/// The error for what is no letter.
pub fn not_a_letter(what: &str) -> ReadError {
    ReadError {
        code: "not-a-docx",
        text: format!(
            "this is no letter (.docx) that can be read: {what}; open it in a word processor and save it again"
        ),
        part: None,
    }
}

/// A compound file is either a locked letter or one in the old binary format.
fn compound(bytes: &[u8]) -> ReadError {
    let locked: Vec<u8> = "EncryptedPackage".encode_utf16().flat_map(u16::to_le_bytes).collect();
    if bytes.windows(locked.len()).any(|w| w == locked) {
        return encrypted();
    }
    not_a_letter("it is in the old binary format (.doc)")
}
