//! `beadwise spec`: what new resin of each class shows.

use super::knowledge::{KnowledgeArgs, no_class};
use super::output::{self, Status, Stop};
use crate::report::spec;
use clap::Subcommand;

const EXAMPLES: &str = "\
Examples:
  beadwise spec list
  beadwise spec show sac-gel-8
  beadwise spec show sac-gel-8 --spec ours.toml  with figures of your own";

/// Show what new resin of each class has, and where each figure is from
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
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Status, Stop> {
    match &args.what {
        What::List { knowledge } => output::print(&spec::list(&knowledge.load()?.0))?,
        What::Show { class, knowledge } => {
            let (specs, _) = knowledge.load()?;
            let found = specs.class(class).ok_or_else(|| no_class("", class, &specs))?;
            output::print(&spec::page(found, usize::from(output::look().width)))?;
        }
    }
    Ok(Status::AllRead)
}
