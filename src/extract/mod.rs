//! Document to drafts: which figure belongs to which property of which sample.
//!
//! Knows layouts, not laboratories. Takes a [`Document`], gives an [`Extraction`]: figures with their labels, units
//! and places, facts about the samples, and an account of every number. Settles no unit and no basis: that is
//! `reconcile`'s.
//!
//! The way of a page: it is cut into blocks that stand beside or below each other (`layout`), the lines of a block
//! become rows of cells (`rows`, `cells`), rows become bands that belong together (`bands`), and a band is read as a
//! table (`table`), as pairs of label and value, or as sentences (`runs`, `prose`).
//! Samples open and close as the facts about them change (`scope`); the `ledger` sees to it that no number is lost.

mod bands;
mod borders;
mod cells;
mod closing;
mod furniture;
mod layout;
mod ledger;
mod letterhead;
mod mentions;
mod naming;
mod notes;
mod page;
mod pages;
mod paragraph;
mod passing;
mod phrases;
mod prose;
mod rows;
mod runs;
mod scope;
mod several;
mod sieve;
mod style;
mod table;
mod wraps;

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
    let mut extraction = if legend.is_empty() {
        page::Reader::new(document, lexicon).run()
    } else {
        page::Reader::new(document, &lexicon.with_names(&legend)).run()
    };
    set_means_aside(&mut extraction);
    extraction
}
/// A sheet of means over the samples of other sheets is no sample of its own.
fn set_means_aside(extraction: &mut Extraction) {
    let is_means = |d: &Draft| !d.figures.is_empty() && d.figures.iter().all(|f| f.is_mean);
    let samples: Vec<(usize, usize)> =
        extraction.drafts.iter().filter(|d| !d.figures.is_empty() && !is_means(d)).map(|d| (d.part, d.page)).collect();
    let (means, kept): (Vec<Draft>, Vec<Draft>) = std::mem::take(&mut extraction.drafts).into_iter().partition(|d| {
        is_means(d)
            && samples.iter().filter(|(part, _)| *part == d.part).count() >= 2
            && samples.iter().all(|(part, page)| *part != d.part || *page != d.page)
    });
    extraction.drafts = kept;
    for draft in means {
        extraction.unread.extend(draft.unread);
        for figure in draft.figures {
            extraction.account.read = extraction.account.read.saturating_sub(1);
            *extraction.account.set_aside.entry("other-column".to_owned()).or_default() += 1;
            extraction.set_aside.push(SetAside {
                text: figure.as_written,
                reason: "other-column".to_owned(),
                place: figure.place,
            });
        }
    }
}
