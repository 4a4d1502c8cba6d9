//! Document to drafts: which figure belongs to which property of which sample.
//!
//! Knows layouts, not laboratories. Takes a [`Document`], gives an [`Extraction`]: figures with their labels, units
//! and places, facts about the samples, and an account of every number. Settles no unit and no basis: that is
//! `reconcile`'s.
//!
//! The way of a page: its lines become rows of cells (`cells`), rows become bands that belong together (`bands`),
//! and a band is read as a table (`table`), as pairs of label and value, or as sentences (`prose`).
//! Samples open and close as the facts about them change (`scope`); the `ledger` sees to it that no number is lost.

mod bands;
mod cells;
mod ledger;
mod mentions;
mod naming;
mod notes;
mod page;
mod paragraph;
mod phrases;
mod prose;
mod scope;
mod several;
mod sieve;
mod style;
mod table;

pub use ledger::{Account, Ledger};
pub use scope::{Draft, Fact, Trust};
pub use style::Style;

use crate::document::Document;
use crate::lexicon::{Label, Lexicon, Role};
use crate::place::Where;
use crate::quantity::Unit;
use crate::record::{Doubt, Remark, SetAside, SieveFigure, Unread};
use crate::value::Value;

/// A reference figure printed beside a result.
#[derive(Clone, Debug)]
pub struct ReferenceText {
    /// What its column or words say that it is.
    pub role: Role,
    /// As written.
    pub text: String,
    /// As read.
    pub value: Option<Value>,
}

/// A figure with all that stands around it.
#[derive(Clone, Debug)]
pub struct Figure {
    /// What it is the figure of.
    pub label: Label,
    /// The report's own name for it.
    pub label_text: String,
    /// The figure.
    pub value: Value,
    /// The figure in the other number style, where the document does not decide.
    pub other_style: Option<Value>,
    /// Head of its column, where the figure stands in a table.
    pub head: Option<Label>,
    /// Unit of its row's own column.
    pub unit_column: Option<(String, Option<Unit>)>,
    /// Unit of the section or table above it.
    pub section_unit: Option<Unit>,
    /// Printed beside it.
    pub references: Vec<ReferenceText>,
    /// Detection limit printed beside it.
    pub detection_limit: Option<Value>,
    /// Uncertainty printed beside it.
    pub deviation: Option<Value>,
    /// Method printed beside it.
    pub method: Option<String>,
    /// As written, unit included.
    pub as_written: String,
    /// Where it stands.
    pub place: Where,
    /// Doubts that arose in reading it.
    pub doubts: Vec<Doubt>,
    /// The mean of replicates that stand beside it.
    pub is_mean: bool,
    /// One of several replicates.
    pub is_replicate: bool,
    /// It stands in a column that a head gives to results.
    pub in_column: bool,
}

/// All that was found in a document.
#[derive(Clone, Debug, Default)]
pub struct Extraction {
    /// One for each sample.
    pub drafts: Vec<Draft>,
    /// Numbers that belong to no one sample and were not understood.
    pub unread: Vec<Unread>,
    /// Numbers set aside for a named reason.
    pub set_aside: Vec<SetAside>,
    /// Doubts about the whole file.
    pub doubts: Vec<Doubt>,
    /// Numbers in the document, and how they ended.
    pub account: Account,
}

/// A sieve, a remark: what goes into a record as it is.
#[derive(Clone, Debug)]
pub enum Aside {
    /// One sieve.
    Sieve(SieveFigure),
    /// Free words.
    Remark(Remark),
}

/// Finds the figures and facts of a document.
pub fn extract(document: &Document, lexicon: &Lexicon) -> Extraction {
    let legend = notes::legend(document, lexicon);
    if legend.is_empty() {
        return page::Reader::new(document, lexicon).run();
    }
    let taught = lexicon.with_names(&legend);
    page::Reader::new(document, &taught).run()
}
