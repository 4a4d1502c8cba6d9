//! `beadwise judge`: what to do with each bed, and why.

use super::contained;
use super::inputs;
use super::knowledge::{KnowledgeArgs, no_class};
use super::output::{self, Status, Stop};
use super::reading::ReadingArgs;
use crate::judge::{Context, Judgements};
use crate::record::CONTRACT;
use crate::report::judgement;
use chrono::NaiveDate;
use clap::{ValueEnum, ValueHint};
use std::io::Write;
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  beadwise judge march.pdf
  beadwise judge march.pdf --class sac-gel-8     where the report does not say the resin
  beadwise judge --json reports/ > verdicts.json
  beadwise judge march.pdf --policy ours.toml    with limits of your own
  beadwise judge march.pdf --bed softener-2      with what the store knows of the bed

Classes: beadwise spec list. What a rule or limit means: beadwise explain TERM.";

/// Whether people drink the water.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum YesNo {
    /// They do, or may
    Yes,
    /// It is certain that nobody does
    No,
}

/// Judge the resin of each report: keep, clean, top off or replace
#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Args {
    /// Reports, or folders of them; - is standard input
    #[arg(required = true, value_name = "FILE", value_hint = ValueHint::AnyPath)]
    pub files: Vec<PathBuf>,
    /// Print one JSON document instead of pages
    #[arg(long)]
    pub json: bool,
    /// Class of the resin, over what the report says
    #[arg(long, value_name = "ID")]
    pub class: Option<String>,
    /// Whether people drink the water, over what the report says
    #[arg(long, value_enum, value_name = "yes|no", hide_possible_values = true)]
    pub drinking: Option<YesNo>,
    /// Date to judge on, as 2025-03-31, instead of today's
    #[arg(long, value_name = "DATE")]
    pub today: Option<NaiveDate>,
    #[cfg(feature = "beds")]
    #[command(flatten)]
    pub known: super::known_bed::KnownBedArgs,
    #[command(flatten)]
    pub knowledge: KnowledgeArgs,
    #[command(flatten)]
    pub reading: ReadingArgs,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Status, Stop> {
    let session = args.reading.session()?;
    let (specs, policy) = args.knowledge.load()?;
    if let Some(class) = args.class.as_deref().filter(|id| specs.class(id).is_none()) {
        return Err(no_class("--class ", class, &specs));
    }
    let today = args.today.unwrap_or_else(|| chrono::Local::now().date_naive()).to_string();
    let context = Context {
        specs: &specs,
        policy: &policy,
        class: args.class.as_deref(),
        sheet: &[],
        first: None,
        today: Some(&today),
    };
    #[cfg(feature = "beds")]
    let known = args.known.open()?;
    let workers = session.workers();
    let found = inputs::gather(&args.files);
    found.tell_repeated();
    found.errors.iter().for_each(output::report);
    let mut all = Judgements { contract: CONTRACT, judgements: Vec::new(), errors: found.errors };
    let mut out = output::standard_output();
    let look = output::look();
    let mut first = true;
    contained::each(&found.files, &workers, |_, outcome| {
        for mut record in outcome.records {
            if let Some(drinking) = args.drinking {
                record.sample.drinking_water = Some(drinking == YesNo::Yes);
            }
            #[cfg(feature = "beds")]
            let judgement = known.judge(&record, &context)?;
            #[cfg(not(feature = "beds"))]
            let judgement = crate::judge::judge(&record, &context);
            if args.json {
                all.judgements.push(judgement);
                continue;
            }
            if !std::mem::take(&mut first) {
                out.write_all(b"\n")?;
            }
            out.write_all(judgement::page(&judgement, &look).as_bytes())?;
        }
        out.flush()?;
        outcome.errors.iter().for_each(output::report);
        all.errors.extend(outcome.errors);
        Ok::<(), Stop>(())
    })?;
    drop(out);
    if args.json {
        output::print_json(&all)?;
    }
    Ok(Status::of(!all.errors.is_empty()))
}
