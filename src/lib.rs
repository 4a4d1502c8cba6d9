//! beadwise reads a laboratory's analysis of ion-exchange resin and says what to do with the bed.
//!
//! ```text
//! bytes ─ readers ─▶ Document ─ extract ─▶ drafts ─ reconcile ─▶ Record ─ judge ─▶ Judgement ─ report ─▶ table, CSV, JSON
//!                                  ▲                                         ▲         └─ plan ─▶ Plan ─▶ sheets
//!                           lexicon (grammar/)                        specs (grammar/)
//! ```
//!
//! The parts stand below from low to high: each uses only parts above it in this list.

pub mod place;
pub mod quantity;
pub mod record;
pub mod value;
pub mod lexicon;
pub mod document;
pub mod readers;
pub mod extract;
pub mod reconcile;
pub mod sheets;
pub mod pipeline;
pub mod specs;
pub mod judge;
#[cfg(feature = "beds")]
pub mod beds;
pub mod plan;
pub mod report;
#[cfg(feature = "cli")]
pub mod cli;
