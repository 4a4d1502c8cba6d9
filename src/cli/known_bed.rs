//! `judge --bed`: what the store knows of the bed goes into the verdict.

use super::beds::StoreArgs;
use super::output::{self, Stop};
use crate::beds::{Placing, Store, Timeline};
use crate::judge::{Context, Judgement, judge};
use crate::record::Record;
use std::cell::Cell;

/// Options that name a bed of the store.
#[derive(Debug, Default, clap::Args)]
#[command(next_help_heading = "The bed")]
pub struct KnownBedArgs {
    /// The bed that the reports are of: its first analysis, freeboard and trend are judged with
    #[arg(long, value_name = "BED")]
    pub bed: Option<String>,
    #[command(flatten)]
    pub store: StoreArgs,
}

/// Where the beds of a judging come from.
pub struct KnownBeds {
    /// The bed of all reports.
    bed: Option<Box<Timeline>>,
    /// The store that each report's bed is looked up in.
    store: Option<Store>,
    told: Cell<bool>,
}

impl KnownBedArgs {
    /// Whether a bed or a store was named.
    pub fn is_asked(&self) -> bool {
        self.bed.is_some() || self.store.store.is_some()
    }

    /// Looks the bed up. Without one, a named store is asked for each report's own; without that, none is looked at.
    pub fn open(&self) -> Result<KnownBeds, Stop> {
        let store = self.is_asked().then(|| self.store.look()).transpose()?;
        let bed = match (&self.bed, &store) {
            (Some(called), Some(store)) => Some(Box::new(store.timeline(called)?)),
            _ => None,
        };
        Ok(KnownBeds { bed, store, told: Cell::new(false) })
    }
}

impl KnownBeds {
    /// The bed that was named.
    pub fn bed(&self) -> Option<&Timeline> {
        self.bed.as_deref()
    }

    /// Judges a record with what is known of its bed.
    pub fn judge(&self, record: &Record, context: &Context<'_>) -> Result<Judgement, Stop> {
        let (bed, store) = match (&self.bed, &self.store) {
            (Some(bed), _) => return Ok(bed.verdict(record, context)),
            (None, None) => return Ok(judge(record, context)),
            (None, Some(store)) => (store.place(&record.sample)?, store),
        };
        if let Placing::Known { bed } = bed {
            return Ok(store.timeline(&bed)?.verdict(record, context));
        }
        if !self.told.replace(true) {
            output::say(&format!(
                "{}: the store does not know its bed for certain, so it is judged by itself; --bed names one",
                record.source.file
            ));
        }
        Ok(judge(record, context))
    }
}
