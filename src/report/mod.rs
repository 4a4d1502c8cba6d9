//! Outputs: what was found, as people and programs read it. Nothing here computes.

#[cfg(feature = "cli")]
pub mod judgement;
pub mod plain;
pub mod spec;
