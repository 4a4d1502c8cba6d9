//! Outputs: what was found, as people and programs read it. Nothing here computes.

#[cfg(all(feature = "cli", feature = "beds"))]
pub mod beds;
pub mod csv;
pub mod explain;
#[cfg(feature = "cli")]
pub mod judgement;
pub mod look;
#[cfg(all(feature = "cli", feature = "beds"))]
pub mod page;
pub mod plain;
#[cfg(feature = "cli")]
pub mod settings;
#[cfg(feature = "cli")]
pub mod sheet;
pub mod spec;
#[cfg(feature = "cli")]
pub mod table;
pub mod units;
#[cfg(feature = "cli")]
pub mod workbook;
