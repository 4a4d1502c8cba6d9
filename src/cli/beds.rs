//! `beadwise beds`: the store of beds across the years.

mod examples;
mod filing;
mod keeping;
mod log;
mod register;
mod views;

use super::output::{Status, Stop};
use super::settings;
use crate::beds::{Store, StoreError, TransferError};
use clap::{Subcommand, ValueHint};
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  beadwise beds add --site \"Mill Street Laundry\" --vessel \"Softener 2\" \\
      --class sac-gel-8
  beadwise beds file --new reports/  put reports under their beds
  beadwise beds history softener-2   one bed over the years
  beadwise beds due --ics due.ics    what to sample when, as a calendar
  beadwise beds rank                 which bed waiting would cost most
  beadwise beds backup beds-2025-11.db

A bed is called by its id, as mill-street-laundry/softener-2, or by a part that
no other shares. Quantities take any unit: \"24 in\", \"0.61 m\", \"10 ft3\", \"15
gpg\", \"1200 gal\".";

/// Keep beds across the years: register, reports, readings, history, what comes next
#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Args {
    #[command(flatten)]
    pub store: StoreArgs,
    #[command(subcommand)]
    pub what: What,
}

/// Where the store is.
#[derive(Debug, Default, clap::Args)]
pub struct StoreArgs {
    /// The store, instead of the one in your data folder
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath, global = true)]
    pub store: Option<PathBuf>,
}

/// What to do with the store.
#[derive(Debug, Subcommand)]
pub enum What {
    Add(register::Add),
    Set(register::Set),
    List(register::List),
    Show(register::Show),
    File(filing::Args),
    Reading(log::ReadingArgs),
    Event(log::EventArgs),
    History(views::History),
    /// Show the trends of one bed, and when each meets its limit
    #[command(after_help = examples::TREND)]
    Trend(views::History),
    Due(views::Due),
    Rank(views::Rank),
    Check(keeping::Check),
    Backup(keeping::Backup),
    Restore(keeping::Restore),
    Export(keeping::Export),
    Import(keeping::Import),
    Reread(keeping::Reread),
    TakeOut(keeping::TakeOut),
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Status, Stop> {
    let store = &args.store;
    match &args.what {
        What::Add(args) => register::add(store, args),
        What::Set(args) => register::set(store, args),
        What::List(args) => register::list(store, args),
        What::Show(args) => register::show(store, args),
        What::File(args) => filing::run(store, args),
        What::Reading(args) => log::reading(store, args),
        What::Event(args) => log::event(store, args),
        What::History(args) => views::history(store, args, false),
        What::Trend(args) => views::history(store, args, true),
        What::Due(args) => views::due(store, args),
        What::Rank(args) => views::rank(store, args),
        What::Check(args) => keeping::check(store, args),
        What::Backup(args) => keeping::backup(store, args),
        What::Restore(args) => keeping::restore(store, args),
        What::Export(args) => keeping::export(store, args),
        What::Import(args) => keeping::import(store, args),
        What::Reread(args) => keeping::reread(store, args),
        What::TakeOut(args) => keeping::take_out(store, args),
    }
}

impl StoreArgs {
    /// The store that is meant.
    pub fn path(&self) -> Result<PathBuf, Stop> {
        let settled = || settings::get().text("store").map(PathBuf::from);
        self.store.clone().or_else(settled).or_else(usual_store).ok_or_else(|| {
            Stop::Usage("there is no data folder to keep the store in; name a file with --store".to_owned())
        })
    }

    /// To write; begun where there is none.
    pub fn begin(&self) -> Result<Store, Stop> {
        Ok(Store::open_or_begin(&self.path()?)?)
    }

    /// To write; must be there.
    pub fn open(&self) -> Result<Store, Stop> {
        Ok(Store::open(&self.path()?)?)
    }

    /// To look at.
    pub fn look(&self) -> Result<Store, Stop> {
        Ok(Store::open_to_read(&self.path()?)?)
    }
}

/// The store where nobody names another.
pub fn usual_store() -> Option<PathBuf> {
    data_folder().map(|folder| folder.join("beadwise").join("beds.db"))
}

/// Where this system keeps the data of programs.
fn data_folder() -> Option<PathBuf> {
    let variable = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    if cfg!(windows) {
        return variable("LOCALAPPDATA");
    }
    let home = variable("HOME");
    if cfg!(target_os = "macos") {
        return home.map(|home| home.join("Library").join("Application Support"));
    }
    // As the XDG base directory specification has it: a relative path there does not count.
    variable("XDG_DATA_HOME")
        .filter(|path| path.is_absolute())
        .or_else(|| home.map(|home| home.join(".local").join("share")))
}

impl From<StoreError> for Stop {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::Refused(_) | StoreError::Missing(_) | StoreError::Foreign(_) => Self::Usage(error.to_string()),
            _ => Self::Failed(error.to_string()),
        }
    }
}

impl From<TransferError> for Stop {
    fn from(error: TransferError) -> Self {
        match error {
            TransferError::Store(error) => error.into(),
            TransferError::Lines(error) => error.into(),
            TransferError::Line { .. } => Self::Failed(error.to_string()),
        }
    }
}

/// Today as ISO 8601, unless another day is named.
pub fn today(named: Option<chrono::NaiveDate>) -> String {
    named.unwrap_or_else(|| chrono::Local::now().date_naive()).to_string()
}
