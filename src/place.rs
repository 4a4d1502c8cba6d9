//! Where a thing stands: which file, and where in it.
//!
//! Takes nothing, gives [`Source`] and [`Where`], which every other part carries along.
//! Knows nothing of formats or of resin.

use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// The file that something came from.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Source {
    /// Name of the file as it was given.
    pub file: String,
    /// Format told from the content: `text`, `eml`, `csv`, `xlsx`, `xls`, `xlsb`, `ods`, `pdf`, `docx`, `html`.
    pub format: String,
    /// SHA-256 of the bytes, in lower-case hexadecimal.
    pub sha256: String,
}

/// A place in a file. All numbers count from 1; what does not apply is left out.
///
/// ```
/// use beadwise::place::Where;
/// assert_eq!(Where::line(12).to_string(), "line 12");
/// assert_eq!(Where::cell("Results", 2, 6).to_string(), "sheet Results, cell C7");
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(default)]
pub struct Where {
    /// Name of the attachment, where the place is in one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part: Option<Arc<str>>,
    /// Page of a PDF.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub page: Option<u32>,
    /// Name of a workbook's sheet.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sheet: Option<Arc<str>>,
    /// Absolute cell of the sheet, as `C7`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cell: Option<Arc<str>>,
    /// Table of a letter.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub table: Option<u32>,
    /// Row of that table.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub row: Option<u32>,
    /// Line (paragraph, in a letter).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line: Option<u32>,
    /// Column of delimited text, or of a letter's table.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<u32>,
}

impl Where {
    /// A line of text.
    pub fn line(line: u32) -> Self {
        Self { line: Some(line), ..Self::default() }
    }

    /// A line and column of delimited text.
    pub fn line_column(line: u32, column: u32) -> Self {
        Self { line: Some(line), column: Some(column), ..Self::default() }
    }

    /// A line of a page.
    pub fn page_line(page: u32, line: u32) -> Self {
        Self { page: Some(page), line: Some(line), ..Self::default() }
    }

    /// A cell of a sheet, from its column and row counted from 0.
    pub fn cell(sheet: &str, column: u32, row: u32) -> Self {
        Self {
            sheet: Some(sheet.into()),
            cell: Some(format!("{}{}", column_letters(column), u64::from(row) + 1).into()),
            ..Self::default()
        }
    }

    /// A cell of a table in a letter or page, counted from 1.
    pub fn table_cell(table: u32, row: u32, column: u32) -> Self {
        Self { table: Some(table), row: Some(row), column: Some(column), ..Self::default() }
    }

    /// The same place inside an attachment.
    pub fn in_part(mut self, part: &Arc<str>) -> Self {
        self.part = Some(part.clone());
        self
    }
}

impl std::fmt::Display for Where {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let mut pieces = Vec::new();
        let mut push = |name: &str, value: Option<String>| {
            if let Some(value) = value {
                pieces.push(format!("{name} {value}"));
            }
        };
        push("attachment", self.part.as_ref().map(ToString::to_string));
        push("page", self.page.map(|n| n.to_string()));
        push("sheet", self.sheet.as_ref().map(ToString::to_string));
        push("cell", self.cell.as_ref().map(ToString::to_string));
        push("table", self.table.map(|n| n.to_string()));
        push("row", self.row.map(|n| n.to_string()));
        push("line", self.line.map(|n| n.to_string()));
        push("column", self.column.map(|n| n.to_string()));
        f.write_str(&pieces.join(", "))
    }
}

/// Letters of a sheet's column counted from 0: 0 is `A`, 26 is `AA`.
pub fn column_letters(column: u32) -> String {
    let mut rest = u64::from(column) + 1;
    let mut letters = Vec::new();
    while rest > 0 {
        rest -= 1;
        letters.push(char::from(b'A' + u8::try_from(rest % 26).unwrap_or(0)));
        rest /= 26;
    }
    letters.iter().rev().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_like_a_sheet() {
        assert_eq!(column_letters(0), "A");
        assert_eq!(column_letters(25), "Z");
        assert_eq!(column_letters(26), "AA");
        assert_eq!(column_letters(701), "ZZ");
        assert_eq!(column_letters(16383), "XFD");
    }
}
