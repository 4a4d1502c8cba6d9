//! Beds across the years: which there are, what was found in them, where they are going, and which comes next.
//!
//! ```text
//! records ─ filing ─▶ store ─ timeline ─▶ series ─ forecast ─▶ trend ─▶ history, due, rank, the verdict of a known bed
//!                       ▲
//!        register, readings, events
//! ```
//!
//! The disk is touched in [`Store`] alone, and there is no clock: whoever asks says what day it is.

mod ahead;
mod changes;
mod error;
mod filing;
pub mod forecast;
mod history;
mod ics;
mod keep;
mod log;
mod names;
mod now;
mod outlook;
mod register;
pub mod regress;
mod reread;
mod rows;
mod series;
mod store;
mod timeline;
mod transfer;
mod typed;

pub use ahead::{Due, Ranked, channelling, due, overdue, rank};
pub use error::StoreError;
pub use filing::{Filed, Given, Placed, Placing, Report, Target, Twin, bed_of, taken_on};
pub use history::{Entry, History, Measured, Shown};
pub use ics::calendar;
pub use keep::{Checked, hash};
pub use log::{BedState, Event, EventKind, Reading};
pub use names::{Key, slug};
pub use now::Now;
pub use outlook::Outlook;
pub use register::{Bed, Price};
pub use reread::{FiledReport, Rereading};
pub use series::{Dated, Meets, Slope, Track, Trend};
pub use store::Store;
pub use timeline::{Analysis, Charge, Timeline};
pub use transfer::TransferError;
pub use typed::{Amount, amount, known_names};

#[cfg(test)]
mod tests;
