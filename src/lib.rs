//! beadwise reads a laboratory's analysis of ion-exchange resin and says what to do with the bed.
//!
//! ```text
//! bytes ─ readers ─▶ Document ─ extract ─▶ findings ─ reconcile ─▶ Record ─ judge ─▶ Judgement ─ report ─▶ table, CSV, JSON
//!                                  ▲                                          ▲
//!                           lexicon (grammar/)                         specs (grammar/)
//! ```
//!
//! The parts stand below from low to high: each uses only parts above it in this list.

pub mod document;
pub mod judge;
pub mod place;
pub mod readers;
pub mod record;
pub mod report;
pub mod specs;
