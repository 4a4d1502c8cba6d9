//! `beadwise read`: what reports say, as tables or as the published JSON.

use super::contained::{self, Kind};
use super::inputs;
use super::output::{self, Status, Stop};
use super::reading::ReadingArgs;
use crate::record::Reading;
use crate::report::table;
use clap::ValueHint;
use std::io::Write;
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  beadwise read march.pdf
  beadwise read --all march.eml     also list what was set aside and left unread
  beadwise read --json reports/*.xlsx  one JSON document for other programs
  cat march.txt | beadwise read -   from standard input";

/// Read reports and show what they say
#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Args {
    /// Reports, or folders of them; - is standard input
    #[arg(required = true, value_name = "FILE", value_hint = ValueHint::AnyPath)]
    pub files: Vec<PathBuf>,
    /// Print one JSON document instead of tables
    #[arg(long)]
    pub json: bool,
    /// List every number that was set aside or left unread
    #[arg(long, conflicts_with = "json")]
    pub all: bool,
    #[command(flatten)]
    pub reading: ReadingArgs,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Status, Stop> {
    run_on(args, Kind::Reports)
}

/// Reads files of one kind and prints what they say.
pub fn run_on(args: &Args, kind: Kind) -> Result<Status, Stop> {
    let session = args.reading.session()?;
    let workers = session.workers().of(kind);
    let found = inputs::gather(&args.files);
    found.tell_repeated();
    let mut reading = Reading { errors: found.errors, ..Reading::default() };
    reading.errors.iter().for_each(output::report);
    if args.json {
        contained::each(&found.files, &workers, |_, outcome| {
            outcome.errors.iter().for_each(output::report);
            reading.files.extend(outcome.file);
            reading.records.extend(outcome.records);
            reading.errors.extend(outcome.errors);
            Ok::<(), Stop>(())
        })?;
        output::print_json(&reading)?;
        return Ok(Status::of(!reading.errors.is_empty()));
    }
    let look = output::look();
    let mut failed = !reading.errors.is_empty();
    let mut out = output::standard_output();
    let mut first = true;
    contained::each(&found.files, &workers, |_, outcome| {
        let page = table::page(outcome.file.as_ref(), &outcome.records, &session.lexicon, &look, args.all);
        if !page.is_empty() {
            if !std::mem::take(&mut first) {
                out.write_all(b"\n")?;
            }
            out.write_all(page.as_bytes())?;
            // What could not be read stands on the other stream: keep the two in order on a terminal.
            out.flush()?;
        }
        outcome.errors.iter().for_each(output::report);
        failed |= !outcome.errors.is_empty();
        Ok::<(), Stop>(())
    })?;
    out.flush()?;
    Ok(Status::of(failed))
}
