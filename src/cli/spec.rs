//! `beadwise spec`: what new resin of each class shows, and what a maker's sheet says of it.

use super::contained::Kind;
use super::knowledge::{KnowledgeArgs, no_class};
use super::output::{self, Status, Stop};
use super::read;
use super::reading::ReadingArgs;
use crate::report::spec;
use clap::{Subcommand, ValueHint};
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  beadwise spec list
  beadwise spec show sac-gel-8
  beadwise spec show sac-gel-8 --spec ours.toml  with figures of your own
  beadwise spec read sheet.pdf               what a product data sheet says
  beadwise spec read --json sheet.pdf > ours.json
  beadwise judge march.pdf --spec ours.json  against that product";

/// Show what new resin has: each class with its sources, or a maker's product data sheet
#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Args {
    #[command(subcommand)]
    pub what: What,
}

/// What to show.
#[derive(Debug, Subcommand)]
pub enum What {
    /// List the classes
    #[command(after_help = EXAMPLES)]
    List {
        #[command(flatten)]
        knowledge: KnowledgeArgs,
    },
    /// Show one class: every figure with its source
    #[command(after_help = EXAMPLES)]
    Show {
        /// Class, as sac-gel-8
        #[arg(value_name = "CLASS")]
        class: String,
        #[command(flatten)]
        knowledge: KnowledgeArgs,
    },
    /// Read product data sheets: minima, maxima, ranges and typical figures of new resin
    #[command(after_help = EXAMPLES)]
    Read {
        /// Product data sheets, or folders of them; - is standard input
        #[arg(required = true, value_name = "SHEET", value_hint = ValueHint::AnyPath)]
        sheets: Vec<PathBuf>,
        /// Print one JSON document instead of tables: judge --spec takes it
        #[arg(long)]
        json: bool,
        /// List every number that was set aside or left unread
        #[arg(long, conflicts_with = "json")]
        all: bool,
        #[command(flatten)]
        reading: ReadingArgs,
    },
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Status, Stop> {
    match &args.what {
        What::Read { sheets, json, all, reading } => {
            let args = read::Args { files: sheets.clone(), json: *json, all: *all, reading: reading.clone() };
            return read::run_on(&args, Kind::Sheets);
        }
        What::List { knowledge } => output::print(&spec::list(&knowledge.load()?.0))?,
        What::Show { class, knowledge } => {
            let (specs, _) = knowledge.load()?;
            let found = specs.class(class).ok_or_else(|| no_class("", class, &specs))?;
            output::print(&spec::page(found, usize::from(output::look().width)))?;
        }
    }
    Ok(Status::AllRead)
}
