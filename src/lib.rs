//! beadwise reads a laboratory's analysis of ion-exchange resin and says what to do with the bed.
//!
//! ```text
//! bytes ─ readers ─▶ Document ─ extract ─▶ drafts ─ reconcile ─▶ Record ─ judge ─▶ Judgement ─ report ─▶ table, CSV, JSON
//!                                  ▲                                         ▲         └─ plan ─▶ Plan ─▶ sheets
//!                           lexicon (grammar/)                        specs (grammar/)
//! ```
//!
//! From a report to a verdict, as the command line goes it, without a disk or a clock:
//!
//! ```
//! use beadwise::{
//!     judge::{Context, Verdict, judge},
//!     lexicon::Lexicon,
//!     pipeline,
//!     readers::ReadOptions,
//! };
//!
//! let report = "\
//! Northbank Analytical
//! Site: Mill Street Laundry
//! Vessel: Softener 2
//! Date sampled: 2023-05-16
//! Resin: strong acid cation, gel, 8 % DVB, Na form
//! Total capacity: 31.9 kgr/ft³
//! Moisture retention: 57.6 %
//! Whole beads: 74 %
//! ";
//!
//! // Bytes to records. Each figure carries its unit, its words and its place.
//! let outcome = pipeline::read("may.txt", report.as_bytes(), &ReadOptions::default(), Lexicon::builtin());
//! let record = outcome.records.first().ok_or("no sample")?;
//! let capacity = record.all("total_capacity", Some("volume")).next().ok_or("no capacity")?;
//! // 31.9 kgr/ft³ at 21.85 kgr/ft³ to the eq/L are 1.460 eq/L.
//! assert_eq!(capacity.value.map(|value| format!("{value:.3}")), Some("1.460".to_owned()));
//! assert_eq!((capacity.unit.as_deref(), capacity.place.line), (Some("eq/L"), Some(6)));
//!
//! // A record to a verdict, against new resin of its class and the built-in limits.
//! let judgement = judge(record, &Context::builtin()?);
//! assert_eq!(judgement.verdict, Verdict::Replace);
//! println!("{}", judgement.reasons.join("\n"));
//!
//! // What was read and what was judged, as programs take them: docs/schema holds their shape.
//! let json = serde_json::to_string_pretty(&judgement)?;
//! assert!(json.contains("\"verdict\": \"replace\""));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! | to | see |
//! |---|---|
//! | read a file | [`pipeline::read`], [`readers::FORMATS`] |
//! | use a record | [`record::Record`] |
//! | have words of one's own | [`lexicon::Lexicon::with_overlays`] |
//! | judge, with limits of one's own | [`judge::judge`], [`judge::Policy::with_overlay`] |
//! | plan the work | [`plan::plan`] |
//! | keep beds across the years | `beds::Store` |
//! | write tables | [`report::csv`] |
//!
//! Without default features the library reads and judges alone: `beds` adds the store, `cli` the command line.
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
