//! The neutral page that every reader ends in: placed words, with no meaning yet.
//!
//! A reader gives [`Document`]; `extract` takes it. Borders between words are *hard* where the
//! format has them (a sheet's cell, a table's cell, a tab, a ruling line) and *soft* where there is only a gap;
//! where soft borders run is for `extract` to weigh. It serializes, so that a contained worker can hand it back.

use crate::place::{Source, Where};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// A file as read: its parts in order, the body first, then attachments.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Document {
    /// The file.
    pub source: Source,
    /// Body and attachments.
    pub parts: Vec<Part>,
    /// What the reader had to say about the whole file.
    pub notices: Vec<Notice>,
}

/// The body of a file, or one attachment.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Part {
    /// Name of the attachment; none for the body.
    pub name: Option<Arc<str>>,
    /// Format of this part, in the words of [`Source::format`].
    pub format: String,
    /// Pages, sheets, or the one run of text.
    pub pages: Vec<Page>,
}

/// A page of print, a sheet of a workbook, or a whole text.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Page {
    /// Name of the sheet.
    pub name: Option<Arc<str>>,
    /// Lines from top to bottom.
    pub lines: Vec<Line>,
    /// Width of an ordinary character in the units of [`Word::x0`]: 1 in text, points in print, 0 in pure grids.
    pub char_width: f32,
}

/// Words that stand beside each other.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// Number of the hard table that this line is a row of. None for running text with soft borders.
    pub table: Option<u32>,
    /// Words from left to right.
    pub words: Vec<Word>,
    /// Top and bottom, in points from the top of a printed page; row index in a grid; line index in text.
    pub top: f32,
    /// See `top`.
    pub bottom: f32,
}

/// A run of characters without a border in it. In a row of a hard table: the whole cell, blanks and line breaks kept.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Word {
    /// The text as shown; raised figures are given as `²`, `³`, lowered ones as plain characters.
    pub text: String,
    /// Left edge: character column in text, points in print, column index in a hard table.
    pub x0: f32,
    /// Right edge, exclusive. A merged cell spans several columns.
    pub x1: f32,
    /// Rows that a merged cell spans; 1 for everything else.
    pub rows: u32,
    /// A hard border stands between this word and the one before it on its line.
    pub hard_left: bool,
    /// Where the format itself says what the cell's value is.
    pub typed: Option<Typed>,
    /// Read by character recognition, with this confidence from 0 to 1.
    pub recognized: Option<f32>,
    /// Where it stands in the file.
    pub place: Where,
}

/// What a workbook's cell says of its own value.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Typed {
    /// A number. A percent-formatted 0.473 is `value` 47.3 with `unit` `%`.
    Number {
        /// Value as shown, unrounded.
        value: f64,
        /// Decimals that the format shows, where it says.
        decimals: Option<u8>,
        /// Unit that the number format shows and no text holds (`0.0" mg/kg"`), or `%`.
        unit: Option<String>,
    },
    /// A date.
    Date(chrono::NaiveDate),
    /// A formula that the file holds no value for.
    FormulaWithoutValue {
        /// The formula.
        formula: String,
    },
}

/// Something that the reader saw and that the record must say.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Notice {
    /// What kind.
    pub kind: NoticeKind,
    /// In words.
    pub text: String,
    /// Where.
    pub place: Where,
}

/// Kinds of [`Notice`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum NoticeKind {
    /// Hidden sheets, rows, columns, text or tracked deletions that were left out.
    HiddenContent,
    /// The characters could be read in more than one encoding, or some could not be read.
    Encoding,
    /// An attachment that could not be read.
    UnreadableAttachment,
    /// Text whose font says not which characters it shows.
    UnmappedText,
    /// A formula without a stored value.
    FormulaWithoutValue,
    /// The file is damaged and was read as far as it goes; something may be missing.
    Damaged,
}

impl Word {
    /// A word of running text.
    pub fn soft(text: impl Into<String>, x0: f32, x1: f32, place: Where) -> Self {
        Self { text: text.into(), x0, x1, rows: 1, place, ..Self::default() }
    }

    /// A whole cell of a hard table, by its column counted from 0.
    pub fn cell(text: impl Into<String>, column: u32, place: Where) -> Self {
        let x0 = column as f32;
        Self { text: text.into(), x0, x1: x0 + 1.0, rows: 1, hard_left: true, place, ..Self::default() }
    }
}

impl Line {
    /// Words joined by blanks, for messages and remarks.
    pub fn text(&self) -> String {
        let words: Vec<&str> = self.words.iter().map(|w| w.text.trim()).filter(|t| !t.is_empty()).collect();
        words.join(" ")
    }
}
