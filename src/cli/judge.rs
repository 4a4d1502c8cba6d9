//! `beadwise judge`: what to do with each bed, and why.

use super::contained::{self, Contained};
use super::inputs;
use super::knowledge::{KnowledgeArgs, no_class};
use super::output::{self, Status, Stop};
use super::reading::ReadingArgs;
use super::saved::OrSaved;
use crate::judge::{Context, Judgement, Judgements, judge, judge_after, partner, tell_each_other};
use crate::record::{CONTRACT, Record};
use crate::report::judgement;
use chrono::NaiveDate;
use clap::{ValueEnum, ValueHint};
use rayon::prelude::*;
use std::io::Write;
use std::path::{Path, PathBuf};

const EXAMPLES: &str = "\
Examples:
  beadwise judge march.pdf
  beadwise judge march.pdf --class sac-gel-8
      where the report does not say the resin
  beadwise judge --json reports/ > verdicts.json
  beadwise judge march.pdf --policy ours.toml  with limits of your own
  beadwise judge march.pdf --bed softener-2
      with what the store knows of the bed
  beadwise judge --before march.pdf june.pdf
      what a cleaning between the two brought back
  beadwise judge records.json               records that read --json has printed

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
    /// Reports, or folders of them, or records as read --json prints them; - is standard input
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
    /// Report from before a cleaning of the same bed: says what the cleaning brought back
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub before: Option<PathBuf>,
    /// Date to judge on, as 2025-03-31, instead of today's
    #[arg(long, value_name = "DATE", value_parser = crate::cli::date)]
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
    let sheet = args.knowledge.sheet()?;
    let context = Context {
        specs: &specs,
        policy: &policy,
        class: args.class.as_deref(),
        sheet: &sheet,
        first: None,
        today: Some(&today),
    };
    #[cfg(feature = "beds")]
    let known = args.known.open()?;
    let workers = session.workers();
    let reader = OrSaved(&workers);
    let before = args.before.as_ref().map(|path| earlier(path, &reader)).transpose()?;
    let found = inputs::gather(&args.files);
    found.tell_repeated();
    found.errors.iter().for_each(output::report);
    let mut all = Judgements { contract: CONTRACT, judgements: Vec::new(), errors: found.errors };
    let mut out = output::standard_output();
    let look = output::look();
    let mut first = true;
    contained::each(&found.files, &reader, |_, outcome| {
        let mut records = outcome.records;
        if let Some(drinking) = args.drinking {
            for record in &mut records {
                record.sample.drinking_water = Some(drinking == YesNo::Yes);
            }
        }
        // A store is asked by one thread.
        #[cfg(feature = "beds")]
        let of_known_beds = |records: &[Record]| -> Result<Vec<Judgement>, Stop> {
            records.iter().map(|record| known.judge(record, &context)).collect()
        };
        #[cfg(not(feature = "beds"))]
        let of_known_beds = |_: &[Record]| -> Result<Vec<Judgement>, Stop> { Ok(Vec::new()) };
        let judged = |record: &Record| match before.as_ref().map(|before| partner(record, before)) {
            Some(Some(before)) => judge_after(before, record, &context),
            Some(None) => {
                output::say(&format!("{}: --before holds no sample that is surely of this bed", told(record)));
                judge(record, &context)
            }
            None => judge(record, &context),
        };
        // Thousands of records in one file are judged on all cores.
        #[cfg(feature = "beds")]
        let looked_up = before.is_none() && args.known.is_asked();
        #[cfg(not(feature = "beds"))]
        let looked_up = false;
        let mut judgements: Vec<Judgement> =
            if looked_up { of_known_beds(&records)? } else { records.par_iter().map(judged).collect() };
        tell_each_other(&records, &mut judgements, &context);
        for judgement in judgements {
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

/// The records of the report from before.
fn earlier(path: &Path, reader: &dyn Contained) -> Result<Vec<Record>, Stop> {
    let name = inputs::text(path);
    let found = inputs::gather(&[path.to_owned()]);
    let mut records = Vec::new();
    let mut errors = found.errors;
    contained::each(&found.files, reader, |_, outcome| {
        records.extend(outcome.records);
        errors.extend(outcome.errors);
        Ok::<(), Stop>(())
    })?;
    match (records.is_empty(), errors.first()) {
        (true, Some(error)) => Err(Stop::Usage(format!("--before {name}: {}", error.text))),
        (true, None) => Err(Stop::Usage(format!("--before {name}: it holds no sample"))),
        (false, _) => {
            errors.iter().for_each(output::report);
            Ok(records)
        }
    }
}

/// A sample as messages call it.
fn told(record: &Record) -> String {
    let sample = &record.sample;
    let name = [&sample.vessel, &sample.sample_id].into_iter().find_map(|name| name.as_deref());
    name.map_or_else(|| record.source.file.clone(), |name| format!("{}: {name}", record.source.file))
}
