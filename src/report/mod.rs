//! Outputs: what was found, as people and programs read it. Nothing here computes.

pub mod csv;
pub mod look;
pub mod plain;
#[cfg(feature = "cli")]
pub mod table;
