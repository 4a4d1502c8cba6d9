//! `beds file`: reports under their beds. What could be two beds is asked on a terminal and refused in a pipe.

use super::{StoreArgs, today};
use crate::beds::{Bed, Filed, Given, Placed, Placing, Report, Store, StoreError, Target, Twin, bed_of};
use crate::cli::contained;
use crate::cli::inputs::{self, Input};
use crate::cli::output::{self, Status, Stop};
use crate::cli::reading::{ReadingArgs, text_of};
use crate::judge::first_day;
use crate::pipeline::Outcome;
use crate::record::{CONTRACT, FileError, Record};
use crate::report::plain::{safe, wrapped};
use clap::ValueHint;
use serde::{Deserialize, Serialize};
use std::io::{self, BufRead, IsTerminal, Write};
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  beadwise beds file march.pdf       under the bed that it names
  beadwise beds file march.pdf --bed softener-2
  beadwise beds file --new reports/  registers beds that the store does not know
  beadwise beds file --new --list beds.csv  all that the list names

A list is a table with the columns file, record, site, vessel, date. It says
whose a report's record is (counted from 1; empty is all of them), over what the
report says; its files stand beside it. Filing the same bytes twice changes
nothing.";

/// File reports under their beds
#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Args {
    /// Reports, or folders of them; without any, all that the list names
    #[arg(required_unless_present = "list", value_name = "REPORT", value_hint = ValueHint::AnyPath)]
    pub files: Vec<PathBuf>,
    /// The bed that all of them are of
    #[arg(long, value_name = "BED", conflicts_with_all = ["new", "list"])]
    pub bed: Option<String>,
    /// Register beds that the store does not know, from what the report says
    #[arg(long)]
    pub new: bool,
    /// A table (CSV) that says which bed a report is of
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub list: Option<PathBuf>,
    /// Day of sampling, for records that give no date
    #[arg(long, value_name = "DATE", value_parser = crate::cli::date)]
    pub sampled: Option<chrono::NaiveDate>,
    /// Where this laboratory's report number is filed from another file: the new file takes its place
    #[arg(long, conflicts_with = "beside")]
    pub replace: bool,
    /// Where this laboratory's report number is filed from another file: file both
    #[arg(long)]
    pub beside: bool,
    /// Print one JSON document instead of lines
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub reading: ReadingArgs,
}

/// One line of a list.
#[derive(Debug, Deserialize)]
struct Listed {
    file: String,
    #[serde(default)]
    record: Option<usize>,
    #[serde(default)]
    site: Option<String>,
    #[serde(default)]
    vessel: Option<String>,
    #[serde(default)]
    date: Option<String>,
}

#[derive(Serialize)]
struct FiledFile {
    file: String,
    #[serde(flatten)]
    filed: Filed,
}

#[derive(Serialize)]
struct Document {
    contract: u32,
    filed: Vec<FiledFile>,
    errors: Vec<FileError>,
}

struct Filing<'a> {
    args: &'a Args,
    store: Store,
    bed: Option<Bed>,
    list: Vec<Listed>,
    today: String,
    ask: bool,
}

/// Runs the command.
pub fn run(store: &StoreArgs, args: &Args) -> Result<Status, Stop> {
    if args.files.iter().any(|file| file.as_os_str() == "-") {
        return Err(Stop::Usage("-: a filed report keeps its file, so name the file itself".to_owned()));
    }
    let session = args.reading.session()?;
    let list = args.list.as_deref().map(read_list).transpose()?.unwrap_or_default();
    let store = if args.new { store.begin()? } else { store.open()? };
    let bed = args.bed.as_ref().map(|called| store.bed(called)).transpose()?;
    let ask = io::stdin().is_terminal() && io::stderr().is_terminal();
    let mut filing = Filing { args, store, bed, list, today: today(None), ask };
    let workers = session.workers();
    let files =
        if args.files.is_empty() { listed_files(args.list.as_deref(), &filing.list) } else { args.files.clone() };
    let found = inputs::gather(&files);
    found.tell_repeated();
    let mut document = Document { contract: CONTRACT, filed: Vec::new(), errors: found.errors };
    document.errors.iter().for_each(output::report);
    let limit = contained::Contained::byte_limit(&workers);
    let mut out = output::standard_output();
    contained::each(&found.files, &workers, |input, outcome| {
        outcome.errors.iter().for_each(output::report);
        document.errors.extend(outcome.errors.iter().cloned());
        if outcome.records.is_empty() {
            return Ok(());
        }
        match filing.take(input, outcome, limit) {
            Ok(filed) => {
                if !args.json {
                    out.write_all(told(&input.name, &filed).as_bytes())?;
                    out.flush()?;
                }
                document.filed.push(FiledFile { file: input.name.clone(), filed });
            }
            Err(Hindrance::File(error)) => {
                output::report(&error);
                document.errors.push(error);
            }
            Err(Hindrance::Store(error)) => return Err(error),
        }
        Ok::<(), Stop>(())
    })?;
    drop(out);
    if args.json {
        output::print_json(&document)?;
    }
    Ok(Status::of(!document.errors.is_empty()))
}

/// What keeps a report from being filed.
enum Hindrance {
    /// Something about this report: the others go on.
    File(FileError),
    /// The store: nothing can go on.
    Store(Stop),
}

impl From<StoreError> for Hindrance {
    fn from(error: StoreError) -> Self {
        Self::Store(error.into())
    }
}

impl Filing<'_> {
    fn take(&mut self, input: &Input, outcome: Outcome, limit: usize) -> Result<Filed, Hindrance> {
        let refused = |code: &str, text: String| {
            Hindrance::File(FileError { file: input.name.clone(), part: None, code: code.to_owned(), text })
        };
        let Some(reading) = outcome.file else {
            return Err(refused("internal", "the reader gave records and no file; please report this".to_owned()));
        };
        let bytes = input.bytes(limit).map_err(Hindrance::File)?;
        if crate::beds::hash(&bytes) != reading.source.sha256 {
            return Err(refused("changed", "it changed while it was read; file it again".to_owned()));
        }
        if self.store.has_report(&reading.source.sha256)? {
            let report =
                Report { bytes: &bytes, reading: &reading, records: &[], today: &self.today, twin: Twin::Refuse };
            return Ok(self.store.file(&report)?);
        }
        let mut records = outcome.records;
        self.counted(&input.name, records.len()).map_err(|text| refused("list", text))?;
        let mut all_given = Vec::new();
        for (at, record) in records.iter_mut().enumerate() {
            let given = self.given(&input.name, at, record).map_err(|text| refused("list", text))?;
            given.apply(record);
            all_given.push(given);
        }
        let mut placed: Vec<Placed> = Vec::new();
        for (at, (record, given)) in records.iter().zip(all_given).enumerate() {
            let name = if records.len() > 1 { format!("record {}", at + 1) } else { "it".to_owned() };
            let target = match &self.bed {
                Some(bed) => Target::Bed(bed.id.clone()),
                None => self.target(&input.name, &name, record, &placed).map_err(|hindrance| match hindrance {
                    Undecided::Store(error) => Hindrance::from(error),
                    Undecided::Why(code, text) => refused(code, text),
                })?,
            };
            placed.push(Placed { record: record.clone(), given, target });
        }
        let twin = self.twin(input, &reading.source.sha256, &records).map_err(|hindrance| match hindrance {
            Undecided::Store(error) => Hindrance::from(error),
            Undecided::Why(code, text) => refused(code, text),
        })?;
        let report = Report { bytes: &bytes, reading: &reading, records: &placed, today: &self.today, twin };
        self.store.file(&report).map_err(|error| match error {
            StoreError::Refused(text) => refused("same-report-number", text),
            other => other.into(),
        })
    }

    /// The lines of the list that are of a file.
    fn lines_of(&self, file: &str) -> impl Iterator<Item = &Listed> {
        self.list.iter().filter(move |line| {
            file == line.file || file.ends_with(&format!("/{}", line.file)) || line.file.ends_with(&format!("/{file}"))
        })
    }

    /// A list that numbers the records of a report must know all of them: with one more or less, each is another one.
    fn counted(&self, file: &str, records: usize) -> Result<(), String> {
        match self.lines_of(file).filter_map(|line| line.record).max() {
            Some(most) if most != records => Err(format!(
                "the list numbers {most} records of it, and {records} were read; see them with `beadwise read` and number all of them"
            )),
            _ => Ok(()),
        }
    }

    /// What the list and the options say of a record.
    fn given(&self, file: &str, at: usize, record: &Record) -> Result<Given, String> {
        let mut all = Given::default();
        let lines = self.lines_of(file).filter(|line| line.record.is_none_or(|number| number == at + 1));
        let or = |text: &Option<String>, before: Option<String>| {
            text.clone().filter(|text| !text.trim().is_empty()).or(before)
        };
        for line in lines {
            all = Given {
                site: or(&line.site, all.site),
                vessel: or(&line.vessel, all.vessel),
                sampled_on: or(&line.date, all.sampled_on),
            };
        }
        if let Some(date) = all.sampled_on.as_ref().filter(|date| first_day(date).is_none()) {
            return Err(format!("the list gives \"{date}\" for it; write a date as 2025-03-31"));
        }
        if all.sampled_on.is_none() && record.sample.sampled_on.is_none() {
            all.sampled_on = self.args.sampled.map(|day| day.to_string());
        }
        Ok(all)
    }

    fn target(&self, file: &str, name: &str, record: &Record, before: &[Placed]) -> Result<Target, Undecided> {
        let placing = self.store.place(&record.sample)?;
        let called = called(record);
        match &placing {
            Placing::Known { bed } => return Ok(Target::Bed(bed.clone())),
            Placing::Unknown if self.args.new => return Ok(Target::New(Box::new(bed_of(record)))),
            _ => {}
        }
        // Depths of one core, or before and after: the samples of one report with the same names are of one bed.
        let same = |other: &&Placed| {
            (&other.record.sample.site, &other.record.sample.vessel) == (&record.sample.site, &record.sample.vessel)
                && other.record.sample.resin_class == record.sample.resin_class
        };
        if self.ask {
            if let Some(other) = before.iter().find(same) {
                return Ok(other.target.clone());
            }
            return self.asked(file, name, record, &placing);
        }
        match placing {
            Placing::Unsure { beds } => Err(Undecided::Why(
                "which-bed",
                format!(
                    "{name} is of {called}, which could be {} or a bed of its own; say which with --bed or --list",
                    beds.join(" or ")
                ),
            )),
            Placing::Nameless => Err(Undecided::Why(
                "which-bed",
                format!("{name} names {called}, which is not enough to know its bed; say which with --bed or --list"),
            )),
            _ => Err(Undecided::Why(
                "unknown-bed",
                format!(
                    "{name} is of {called}, which the store does not know; --new registers it, --bed files it under another"
                ),
            )),
        }
    }

    /// Asks on the terminal which bed a record is of.
    fn asked(&self, file: &str, name: &str, record: &Record, placing: &Placing) -> Result<Target, Undecided> {
        let choices: Vec<String> = match placing {
            Placing::Unsure { beds } => beds.iter().take(20).cloned().collect(),
            _ => Vec::new(),
        };
        output::say(&format!("{file}: {name} is of {}. Which bed is that?", called(record)));
        for (at, bed) in choices.iter().enumerate() {
            output::say(&format!("  {}  {bed}", at + 1));
        }
        let bed = bed_of(record);
        // A bed that is registered without one of its names could be any other one later.
        let named = !bed.site.is_empty() && !bed.vessel.is_empty();
        if named {
            output::say(&format!("  n  a new bed, {}", bed.id));
        }
        output::say("  or the id of another bed; nothing leaves the report out");
        let answer = answer();
        if let Some(choice) = answer.parse::<usize>().ok().and_then(|number| choices.get(number.checked_sub(1)?)) {
            return Ok(Target::Bed(choice.clone()));
        }
        match answer.as_str() {
            "" => Err(Undecided::Why("which-bed", "left out, as nobody said which bed it is of".to_owned())),
            "n" if named => Ok(Target::New(Box::new(bed))),
            called => Ok(Target::Bed(self.store.bed(called)?.id)),
        }
    }

    /// What to do with a report number that is filed already from another file.
    fn twin(&self, input: &Input, sha256: &str, records: &[Record]) -> Result<Twin, Undecided> {
        if self.args.replace {
            return Ok(Twin::Replace);
        }
        if self.args.beside {
            return Ok(Twin::Beside);
        }
        let twins = self.store.twins(sha256, records)?;
        if twins.is_empty() {
            return Ok(Twin::Refuse);
        }
        let names = twins.join(", ");
        if !self.ask {
            return Err(Undecided::Why(
                "same-report-number",
                format!(
                    "this laboratory's report number is filed already, from {names}; --replace puts this file in its place, --beside keeps both"
                ),
            ));
        }
        output::say(&format!("{}: this laboratory's report number is filed already, from {names}.", input.name));
        output::say("  r  this file takes its place    b  both count    nothing leaves this file out");
        match answer().as_str() {
            "r" => Ok(Twin::Replace),
            "b" => Ok(Twin::Beside),
            _ => Err(Undecided::Why("same-report-number", format!("left out beside {names}"))),
        }
    }
}

/// Why a record has no bed yet.
enum Undecided {
    Store(StoreError),
    Why(&'static str, String),
}

impl From<StoreError> for Undecided {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}

fn answer() -> String {
    let _ = write!(io::stderr().lock(), "> ");
    let mut line = String::new();
    // The end of the input is no answer, and so is an error.
    let _ = io::stdin().lock().read_line(&mut line);
    line.trim().to_owned()
}

/// What a report calls the bed of a record.
fn called(record: &Record) -> String {
    let sample = &record.sample;
    match (&sample.vessel, &sample.site) {
        (Some(vessel), Some(site)) => format!("\"{vessel}\" at \"{site}\""),
        (Some(vessel), None) => format!("\"{vessel}\" at no named site"),
        (None, Some(site)) => format!("no named vessel at \"{site}\""),
        (None, None) => "neither vessel nor site".to_owned(),
    }
}

fn told(file: &str, filed: &Filed) -> String {
    let mut beds: Vec<String> = Vec::new();
    for bed in &filed.beds {
        let new = if filed.new_beds.contains(bed) { " (new)" } else { "" };
        let text = format!("{bed}{new}");
        if !beds.contains(&text) {
            beds.push(text);
        }
    }
    let how = if filed.already { "filed before" } else { "filed" };
    let instead =
        if filed.replaced.is_empty() { String::new() } else { format!(", in place of {}", filed.replaced.join(", ")) };
    let mut text = format!("{file}: {how} under {}{instead}\n", beds.join(", "));
    for learned in filed.learned.iter().filter(|_| filed.new_beds.is_empty()) {
        text.push_str(&format!("  learned of {learned}\n"));
    }
    let width = usize::from(output::look().width);
    text.lines()
        .flat_map(|line| wrapped(&safe(line), width, if line.starts_with(' ') { "  " } else { "" }, "    "))
        .map(|line| line + "\n")
        .collect()
}

/// The files of a list, each once: they stand beside it.
fn listed_files(list: Option<&std::path::Path>, lines: &[Listed]) -> Vec<PathBuf> {
    let folder = list.and_then(std::path::Path::parent).map(PathBuf::from).unwrap_or_default();
    let mut files: Vec<PathBuf> = Vec::new();
    for line in lines {
        let path = folder.join(&line.file);
        if !files.contains(&path) {
            files.push(path);
        }
    }
    files
}

fn read_list(path: &std::path::Path) -> Result<Vec<Listed>, Stop> {
    let text = text_of("--list", path)?;
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text.trim_start_matches('\u{feff}').as_bytes());
    let has_files = reader.headers().is_ok_and(|head| head.iter().any(|name| name == "file"));
    if !has_files {
        return Err(Stop::Usage(format!(
            "--list {}: line 1: there is no column `file`; it needs file,record,site,vessel,date parted by commas",
            path.display()
        )));
    }
    reader
        .deserialize()
        .map(|line| line.map_err(|error| Stop::Usage(format!("--list {}: {error}", path.display()))))
        .collect()
}
