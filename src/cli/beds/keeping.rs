//! `beds check`, `backup`, `restore`, `export`, `import`, `reread`, `take-out`: keeping the store.

use super::StoreArgs;
use crate::cli::contained::Contained;
use crate::cli::output::{self, Status, Stop};
use crate::cli::reading::ReadingArgs;
use crate::cli::whole::WholeFile;
use crate::record::CONTRACT;
use crate::report::beds as page;
use clap::ValueHint;
use serde::Serialize;
use std::fs::File;
use std::io::{self, BufReader};
use std::path::PathBuf;

/// Look through the whole store for damage
#[derive(Debug, clap::Args)]
#[command(after_help = super::examples::CHECK)]
pub struct Check {
    /// Print one JSON document instead of a page
    #[arg(long)]
    pub json: bool,
}

/// Write a copy of the store, also while it is in use
#[derive(Debug, clap::Args)]
#[command(after_help = super::examples::BACKUP)]
pub struct Backup {
    /// The copy; never takes another file's place
    #[arg(value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub to: PathBuf,
}

/// Take everything from a backup in place of what the store holds
#[derive(Debug, clap::Args)]
#[command(after_help = super::examples::RESTORE)]
pub struct Restore {
    /// The backup
    #[arg(value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub from: PathBuf,
}

/// Write everything as lines of JSON
#[derive(Debug, clap::Args)]
#[command(after_help = super::examples::EXPORT)]
pub struct Export {
    /// The file; standard output without one
    #[arg(short, long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub output: Option<PathBuf>,
}

/// Take an export into a store that holds nothing
#[derive(Debug, clap::Args)]
#[command(after_help = super::examples::IMPORT)]
pub struct Import {
    /// The lines; - is standard input
    #[arg(value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub from: PathBuf,
}

/// Read the filed reports again, and show what would change
#[derive(Debug, clap::Args)]
#[command(after_help = super::examples::REREAD)]
pub struct Reread {
    /// Only the reports of this bed
    #[arg(long, value_name = "BED")]
    pub bed: Option<String>,
    /// Make the changes that are shown
    #[arg(long)]
    pub apply: bool,
    /// Print one JSON document instead of a page
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub reading: ReadingArgs,
}

/// Take a filed report out of the store
#[derive(Debug, clap::Args)]
#[command(after_help = super::examples::TAKE_OUT)]
pub struct TakeOut {
    /// Name of the report's file, or the beginning of its SHA-256
    #[arg(value_name = "REPORT")]
    pub report: String,
}

#[derive(Serialize)]
struct Document<T> {
    contract: u32,
    #[serde(flatten)]
    what: T,
}

#[derive(Serialize)]
struct Rereadings<'a> {
    applied: bool,
    reports: &'a [crate::beds::Rereading],
}

/// Runs `beds check`; damage ends it with status 1.
pub fn check(store: &StoreArgs, args: &Check) -> Result<Status, Stop> {
    let checked = store.look()?.check()?;
    if args.json {
        output::print_json(&Document { contract: CONTRACT, what: &checked })?;
    } else {
        output::print(&page::checked(&checked, &output::look()))?;
    }
    Ok(Status::of(!checked.wrong.is_empty()))
}

/// Runs `beds backup`.
pub fn backup(store: &StoreArgs, args: &Backup) -> Result<Status, Stop> {
    store.look()?.back_up(&args.to)?;
    output::say(&format!("{}: written", args.to.display()));
    Ok(Status::AllRead)
}

/// Runs `beds restore`.
pub fn restore(store: &StoreArgs, args: &Restore) -> Result<Status, Stop> {
    let stamp = chrono::Local::now().format("%Y-%m-%dT%H%M%S").to_string();
    let saved = store.begin()?.restore(&args.from, &stamp)?;
    if let Some(saved) = saved {
        output::say(&format!("what the store held is kept in {}", saved.display()));
    }
    check(store, &Check { json: false })
}

/// Runs `beds export`.
pub fn export(store: &StoreArgs, args: &Export) -> Result<Status, Stop> {
    let mut store = store.look()?;
    let count = match &args.output {
        Some(path) => {
            let mut file = WholeFile::begin("--output", path)?;
            let count = store.export(&mut file)?;
            file.finish()?;
            count
        }
        None => store.export(&mut output::standard_output())?,
    };
    output::say(&format!("{count} lines"));
    Ok(Status::AllRead)
}

/// Runs `beds import`.
pub fn import(store: &StoreArgs, args: &Import) -> Result<Status, Stop> {
    let count = if args.from.as_os_str() == "-" {
        store.begin()?.import(BufReader::new(io::stdin().lock()))?
    } else {
        let file = File::open(&args.from)
            .map_err(|error| Stop::Usage(format!("{}: it cannot be read: {error}", args.from.display())))?;
        store.begin()?.import(BufReader::new(file))?
    };
    output::say(&format!("{count} lines taken in"));
    Ok(Status::AllRead)
}

/// Runs `beds reread`.
pub fn reread(store: &StoreArgs, args: &Reread) -> Result<Status, Stop> {
    let session = args.reading.session()?;
    let workers = session.workers();
    let mut store = if args.apply { store.open()? } else { store.look()? };
    let bed = args.bed.as_ref().map(|called| store.bed(called)).transpose()?;
    let mut all = Vec::new();
    let mut failed = false;
    for report in store.reports(bed.as_ref().map(|bed| bed.id.as_str()))? {
        let bytes = store.original(&report.sha256)?;
        let outcome = workers.read(&report.name, &bytes);
        outcome.errors.iter().for_each(output::report);
        failed |= !outcome.errors.is_empty();
        let Some(reading) = outcome.file else { continue };
        let found = store.compare_reading(&report, &outcome.records)?;
        if args.apply && found.hindrance.is_none() && !found.changes.is_empty() {
            store.take_reading(&report.sha256, &reading, &outcome.records)?;
        }
        failed |= found.hindrance.is_some();
        all.push(found);
    }
    if args.json {
        let what = Rereadings { applied: args.apply, reports: &all };
        output::print_json(&Document { contract: CONTRACT, what })?;
    } else {
        output::print(&page::reread(&all, args.apply, &output::look()))?;
    }
    Ok(Status::of(failed))
}

/// Runs `beds take-out`.
pub fn take_out(store: &StoreArgs, args: &TakeOut) -> Result<Status, Stop> {
    let mut store = store.open()?;
    let reports = store.reports(None)?;
    let meant: Vec<_> = reports
        .iter()
        .filter(|report| {
            report.name == args.report || args.report.len() >= 6 && report.sha256.starts_with(&args.report)
        })
        .collect();
    match meant.as_slice() {
        [report] => {
            let beds = store.take_out(&report.sha256)?;
            output::say(&format!("{}: taken out; it was filed under {}", report.name, beds.join(", ")));
            Ok(Status::AllRead)
        }
        [] => Err(Stop::Usage(format!("{}: no report of this name or hash is filed", args.report))),
        several => {
            let hashes: Vec<&str> = several.iter().map(|report| report.sha256.get(..12).unwrap_or_default()).collect();
            Err(Stop::Usage(format!(
                "{}: several are called so; name one by its hash: {}",
                args.report,
                hashes.join(", ")
            )))
        }
    }
}
