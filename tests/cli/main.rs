//! The program as it is run: small reports in folders of their own, and what comes out on both streams.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[cfg(feature = "beds")]
mod beds;
mod convert;
mod faults;
mod guide;
mod judge;
mod kit;
mod plan;
mod read;
#[cfg(feature = "beds")]
mod report;
mod schema;
mod settings;
mod words;
mod workbook;
mod wrong;
