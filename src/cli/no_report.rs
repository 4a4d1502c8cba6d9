//! Files of a folder that are plainly no report.
//!
//! Takes a path; says why it is none. What tells them apart stands in `grammar/no_report.toml`.

use serde::Deserialize;
use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::sync::OnceLock;

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Marks {
    endings: Vec<String>,
    stems: Vec<String>,
    heads: Vec<String>,
    #[serde(rename = "source")]
    _source: String,
}

fn marks() -> &'static Marks {
    static CELL: OnceLock<Marks> = OnceLock::new();
    // The test of the data shows that it reads.
    CELL.get_or_init(|| toml::from_str(include_str!("../../grammar/no_report.toml")).unwrap_or_default())
}

/// Stands in the properties of a workbook that `convert` has written.
pub const WORKBOOK_MARK: &str = "Written by beadwise convert";

/// Why a file of a folder is plainly no report; none where it may be one.
pub fn why(path: &Path) -> Option<String> {
    let marks = marks();
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    if let Some(ending) = ending.as_ref().filter(|ending| marks.endings.contains(ending)) {
        return Some(format!("no report ends in .{ending}"));
    }
    let stem = path.file_stem().map(|stem| stem.to_string_lossy().to_lowercase());
    if stem.is_some_and(|stem| marks.stems.contains(&stem)) {
        return Some("its name says that it is about the folder".to_owned());
    }
    let head = head(path)?;
    if marks.heads.iter().any(|mark| head.starts_with(mark.as_bytes())) || is_own_workbook(path, &head) {
        return Some("it is a table or list of this program's own".to_owned());
    }
    None
}

/// Whether a file is one that `convert` wrote earlier, which may be written over.
pub fn is_earlier_output(path: &Path) -> bool {
    let Some(head) = head(path) else { return false };
    let of_documents: [&[u8]; 2] = [b"{\n  \"contract\":", b"{\"source\":{\"file\":"];
    let tables = marks().heads.iter().map(|mark| mark.as_bytes());
    head.is_empty() || tables.chain(of_documents).any(|mark| head.starts_with(mark)) || is_own_workbook(path, &head)
}

fn head(path: &Path) -> Option<Vec<u8>> {
    let mut head = Vec::new();
    File::open(path).and_then(|file| file.take(64).read_to_end(&mut head)).ok()?;
    Some(head)
}

fn is_own_workbook(path: &Path, head: &[u8]) -> bool {
    const MOST: u64 = 64 * 1024;
    let properties = || -> Option<Vec<u8>> {
        let mut archive = zip::ZipArchive::new(File::open(path).ok()?).ok()?;
        let mut bytes = Vec::new();
        archive.by_name("docProps/core.xml").ok()?.take(MOST).read_to_end(&mut bytes).ok()?;
        Some(bytes)
    };
    head.starts_with(b"PK") && properties().is_some_and(|bytes| String::from_utf8_lossy(&bytes).contains(WORKBOOK_MARK))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn the_marks_can_be_read() {
        let marks: Marks = toml::from_str(include_str!("../../grammar/no_report.toml")).unwrap();
        assert!(!marks.endings.is_empty() && !marks.heads.is_empty());
    }

    #[test]
    fn notes_and_own_tables_are_no_reports_and_reports_are_not_among_them() {
        let folder = tempfile::tempdir().unwrap();
        let is_none = |name: &str, text: &str| {
            let path = folder.path().join(name);
            std::fs::write(&path, text).unwrap();
            why(&path).is_some()
        };
        assert!(is_none("truth.toml", "x = 1"));
        assert!(is_none("README", "About this folder"));
        assert!(is_none("all.csv", "file,sample_id,site,vessel,position\r\n"));
        assert!(is_none("beds.csv", "file,record,site,vessel,date\n"));
        assert!(!is_none("march.csv", "Property,Result,Unit\nMoisture retention,47.3,%\n"));
        assert!(!is_none("march.txt", "Moisture retention: 47.3 %"));
        assert!(!is_none("report", "Moisture retention: 47.3 %"));
    }
}
