//! `beadwise explain`: what a word of the program's, or of a report's, means, and where that comes from.

use super::knowledge::KnowledgeArgs;
use super::output::{self, Status, Stop};
use super::reading::ReadingArgs;
use crate::report::explain::{self, Knowledge};

const EXAMPLES: &str = "\
Examples:
  beadwise explain          everything that can be explained
  beadwise explain iron     a property: its units, and the labels it is known by
  beadwise explain kgr/ft3  a unit
  beadwise explain basis-unknown
      a doubt, an error, or a reason for setting aside
  beadwise explain iron-on-cation  a rule
  beadwise explain \"Wasserrückhaltevermögen\"  how a report's own label is read";

/// Explain a property, unit, class, doubt, rule, or a label as reports have it
#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Args {
    /// What to explain; without it, everything that can be is listed
    #[arg(value_name = "TERM")]
    pub term: Vec<String>,
    #[command(flatten)]
    pub knowledge: KnowledgeArgs,
    #[command(flatten)]
    pub reading: ReadingArgs,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Status, Stop> {
    let session = args.reading.session()?;
    let (specs, policy) = args.knowledge.load()?;
    let knowledge =
        Knowledge { lexicon: &session.lexicon, overlays: &session.overlays, specs: &specs, policy: &policy };
    let width = usize::from(output::look().width);
    let term = args.term.join(" ");
    if term.trim().is_empty() {
        output::print(&explain::index(&knowledge, width))?;
        return Ok(Status::AllRead);
    }
    match explain::explain(&term, &knowledge, width) {
        Some(page) => output::print(&page)?,
        None => {
            let near = explain::near(&term, &knowledge);
            let hint = if near.is_empty() {
                "beadwise explain alone lists what is known".to_owned()
            } else {
                format!("did you mean {}?", near.join(", "))
            };
            return Err(Stop::Usage(format!("explain {term}: this is not known; {hint}")));
        }
    }
    Ok(Status::AllRead)
}
