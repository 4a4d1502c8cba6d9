//! `beadwise convert`: files and folders of reports to one table.

use super::contained;
use super::inputs::{self, Input, Inputs};
use super::no_report;
use super::output::{self, Status, Stop};
use super::progress::Progress;
use super::reading::{ReadingArgs, Session};
use super::saved;
use super::settings;
use super::spool::Spool;
use super::whole::WholeFile;
use crate::lexicon::Lexicon;
use crate::pipeline::Outcome;
use crate::record::{CONTRACT, FileError, Record};
use crate::report::csv::{self as rows, Text, WideRow, WideTable};
use crate::report::workbook::Workbook;
use clap::{ValueEnum, ValueHint};
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};

const EXAMPLES: &str = "\
Examples:
  beadwise convert march.pdf --to csv
  beadwise convert reports/ --to csv --wide -o beds.csv
  beadwise convert reports/ -o beds.xlsx  a workbook with typed cells
  beadwise convert reports/ --to jsonl -o all.jsonl --rejects unread.csv

Without --to, the ending of -o says what is written, else the setting `to`, else
CSV. With -o, what could not be read is listed in a file beside it
(beds.rejects.csv) unless --rejects names another, with the files of folders
that are no reports. Outputs are written whole or not at all.";

/// What to write.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum To {
    /// One row for each measurement
    Csv,
    /// A workbook: a sheet of samples and one of measurements, doubts as notes
    Xlsx,
    /// One document, as `read --json` prints it
    Json,
    /// One record to a line
    Jsonl,
}

/// Turn files and folders of reports into one table
#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Args {
    /// Reports, or folders of them (walked to their ends, hidden files left out); - is standard input
    #[arg(required = true, value_name = "PATH", value_hint = ValueHint::AnyPath)]
    pub paths: Vec<PathBuf>,
    /// What to write [default: by the ending of -o, else csv]
    #[arg(long, value_enum)]
    pub to: Option<To>,
    /// One row for each sample, one column for each property
    #[arg(long)]
    pub wide: bool,
    /// Keep text exactly as reports have it, also where a spreadsheet would run it as a formula
    #[arg(long)]
    pub exact: bool,
    /// File to write instead of standard output
    #[arg(short, long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub output: Option<PathBuf>,
    /// File to list in what could not be read
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub rejects: Option<PathBuf>,
    #[command(flatten)]
    pub reading: ReadingArgs,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Status, Stop> {
    let to = what_to(args);
    for (option, given, fits) in
        [("--wide", args.wide, to == To::Csv), ("--exact", args.exact, matches!(to, To::Csv | To::Xlsx))]
    {
        if given && !fits {
            return Err(Stop::Usage(format!("{option} is for --to csv; leave it out")));
        }
    }
    if to == To::Xlsx && args.output.is_none() && std::io::stdout().is_terminal() {
        return Err(Stop::Usage("a workbook is nothing for a terminal; name a file with -o".to_owned()));
    }
    let session = args.reading.session()?;
    let rejects = args.rejects.clone().or_else(|| args.output.as_deref().and_then(rejects_beside));
    let mut found = inputs::gather(&args.paths);
    for own in args.output.iter().chain(&rejects) {
        spare(&mut found, own)?;
    }
    pass_over_documents(&mut found);
    found.tell_repeated();
    match &args.output {
        Some(path) => {
            let mut file = WholeFile::begin("--output", path)?;
            let ended = convert(args, to, found, &session, &mut file)?;
            // The list first: a finished table whose gaps are not listed would look complete.
            write_rejects(args, rejects.as_deref(), &ended)?;
            file.finish()?;
            ended.tell();
            Ok(Status::of(!ended.errors.is_empty()))
        }
        None => {
            let mut out = output::standard_output();
            let ended = convert(args, to, found, &session, &mut out)?;
            out.flush()?;
            write_rejects(args, rejects.as_deref(), &ended)?;
            ended.tell();
            Ok(Status::of(!ended.errors.is_empty()))
        }
    }
}

/// A document that `read --json` printed into a folder of reports is none of them.
fn pass_over_documents(found: &mut Inputs) {
    let is_own = |input: &Input| {
        let path = input.path.as_deref();
        path.is_some_and(|path| saved::is_saved(&input.name) && no_report::is_earlier_output(path))
    };
    let (own, files): (Vec<Input>, Vec<Input>) = std::mem::take(&mut found.files).into_iter().partition(is_own);
    found.files = files;
    let why = "it holds records or verdicts that this program printed";
    found.passed_over.extend(own.into_iter().map(|input| (input.name, why.to_owned())));
}

/// Keeps an output of an earlier run from being read as a report, and a report from being written over.
fn spare(found: &mut Inputs, own: &Path) -> Result<(), Stop> {
    let Ok(real) = own.canonicalize() else { return Ok(()) };
    let is_own = |path: &PathBuf| path.canonicalize().is_ok_and(|other| other == real);
    let before = found.files.len();
    found.files.retain(|input| !input.path.as_ref().is_some_and(is_own));
    if found.files.len() < before && !no_report::is_earlier_output(&real) {
        return Err(Stop::Usage(format!(
            "{}: this is one of the files to read, and would be written over; name another file",
            own.display()
        )));
    }
    Ok(())
}

fn rejects_beside(output: &Path) -> Option<PathBuf> {
    // A device such as /dev/null has nothing beside it.
    let is_file = std::fs::metadata(output).map_or(true, |data| data.is_file());
    is_file.then(|| output.with_extension("rejects.csv"))
}

fn write_rejects(args: &Args, path: Option<&Path>, ended: &Ended) -> Result<(), Stop> {
    let Some(path) = path else { return Ok(()) };
    // The list of an earlier run must not stand beside a newer table; where all is well and none is there, none is made.
    let none = ended.errors.is_empty() && ended.passed_over.is_empty();
    if args.rejects.is_none() && none && !path.exists() {
        return Ok(());
    }
    let mut file = WholeFile::begin("--rejects", path)?;
    let mut writer = csv_writer(&mut file);
    writer.write_record(rows::REJECTS)?;
    for error in &ended.errors {
        let part = error.part.as_deref().unwrap_or_default();
        writer.write_record([&Text::Guarded.cell(&error.file), &Text::Guarded.cell(part), &error.code, &error.text])?;
    }
    for (file, why) in &ended.passed_over {
        let text = format!("passed over: {why}; name the file itself to have it read");
        writer.write_record([&Text::Guarded.cell(file), "", "no-report", &text])?;
    }
    writer.flush()?;
    drop(writer);
    file.finish()
}

/// Rows end as RFC 4180 has it.
fn csv_writer<W: Write>(to: W) -> csv::Writer<W> {
    csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(to)
}

/// What is to be written: as asked for, else by the name of the file, else as settled.
fn what_to(args: &Args) -> To {
    let by_name = args.output.as_deref().and_then(Path::extension).and_then(|ending| ending.to_str());
    let known = |word: &str| To::from_str(word, true).ok();
    let settled = || settings::get().text("to").and_then(known);
    args.to.or_else(|| by_name.and_then(known)).or_else(settled).unwrap_or(To::Csv)
}

/// How it went.
#[derive(Default)]
struct Ended {
    files: usize,
    records: usize,
    measurements: usize,
    /// Doubts that no row shows.
    hidden_doubts: usize,
    unread: usize,
    errors: Vec<FileError>,
    /// Files of folders that are no reports, each with why.
    passed_over: Vec<(String, String)>,
}

impl Ended {
    fn count(&mut self, outcome: &Outcome) {
        self.files += usize::from(outcome.errors.is_empty());
        self.records += outcome.records.len();
        for record in &outcome.records {
            self.measurements += record.measurements.len();
            self.unread += record.unread.len();
            self.hidden_doubts += record.doubts.iter().filter(|doubt| !rows::is_shown(record, doubt)).count();
        }
        if let Some(file) = &outcome.file {
            self.unread += file.unread.len();
            self.hidden_doubts += file.doubts.len();
        }
    }

    fn tell(&self) {
        let mut text = format!(
            "{} read: {}, {}",
            counted(self.files, "file"),
            counted(self.records, "sample"),
            counted(self.measurements, "measurement")
        );
        if !self.errors.is_empty() {
            text.push_str(&format!("; {} not read", counted(self.errors.len(), "file or part")));
        }
        if !self.passed_over.is_empty() {
            text.push_str(&format!("; {} passed over", counted(self.passed_over.len(), "file")));
        }
        if self.unread > 0 {
            text.push_str(&format!("; {} not understood", counted(self.unread, "number")));
        }
        if self.hidden_doubts > 0 {
            text.push_str(&format!("; {} on no single figure", counted(self.hidden_doubts, "doubt")));
        }
        if self.unread + self.hidden_doubts > 0 {
            text.push_str(" (see beadwise read --all)");
        }
        output::say(&text);
    }
}

fn counted(count: usize, what: &str) -> String {
    let what = match (count, what) {
        (1, _) => what.to_owned(),
        (_, "file or part") => "files or parts".to_owned(),
        _ => format!("{what}s"),
    };
    format!("{count} {what}")
}

/// One way of writing outcomes as they come.
trait Sink {
    fn take(&mut self, outcome: &Outcome) -> Result<(), Stop>;
    fn end(self: Box<Self>, errors: &[FileError]) -> Result<(), Stop>;
}

fn convert(args: &Args, to: To, found: Inputs, session: &Session, out: &mut dyn Write) -> Result<Ended, Stop> {
    let text = if args.exact { Text::Exact } else { Text::Guarded };
    let mut sink: Box<dyn Sink + '_> = match to {
        To::Csv if args.wide => {
            Box::new(Wide { table: WideTable::default(), spool: Spool::new()?, out, lexicon: &session.lexicon, text })
        }
        To::Csv => Box::new(Long::begin(out, text)?),
        To::Xlsx => Box::new(Sheets { book: Workbook::default(), out, lexicon: &session.lexicon, text }),
        To::Json => Box::new(Json { files: Spool::new()?, records: Spool::new()?, out }),
        To::Jsonl => Box::new(JsonLines { out }),
    };
    let mut ended = Ended { errors: found.errors, passed_over: found.passed_over, ..Ended::default() };
    ended.errors.iter().for_each(output::report);
    let progress = Progress::over(found.files.len(), args.output.is_none());
    let workers = session.workers();
    contained::each_of(&found.files, &workers, &progress, |_, outcome| {
        sink.take(&outcome)?;
        ended.count(&outcome);
        outcome.errors.iter().for_each(output::report);
        ended.errors.extend(outcome.errors);
        Ok::<(), Stop>(())
    })?;
    drop(progress);
    sink.end(&ended.errors)?;
    Ok(ended)
}

struct Long<'a> {
    writer: csv::Writer<&'a mut dyn Write>,
    text: Text,
}

impl<'a> Long<'a> {
    fn begin(out: &'a mut dyn Write, text: Text) -> Result<Self, Stop> {
        let mut writer = csv_writer(out);
        writer.write_record(rows::LONG)?;
        Ok(Self { writer, text })
    }
}

impl Sink for Long<'_> {
    fn take(&mut self, outcome: &Outcome) -> Result<(), Stop> {
        for row in outcome.records.iter().flat_map(|record| rows::long_rows(record, self.text)) {
            self.writer.write_record(row)?;
        }
        Ok(())
    }

    fn end(mut self: Box<Self>, _: &[FileError]) -> Result<(), Stop> {
        Ok(self.writer.flush()?)
    }
}

struct Wide<'a> {
    table: WideTable,
    spool: Spool,
    out: &'a mut dyn Write,
    lexicon: &'a Lexicon,
    text: Text,
}

impl Sink for Wide<'_> {
    fn take(&mut self, outcome: &Outcome) -> Result<(), Stop> {
        for record in &outcome.records {
            let row = self.table.row(record, self.lexicon, self.text);
            self.spool.push(&row)?;
        }
        Ok(())
    }

    fn end(self: Box<Self>, _: &[FileError]) -> Result<(), Stop> {
        let mut writer = csv_writer(self.out);
        writer.write_record(self.table.header())?;
        for row in self.spool.values::<WideRow>()? {
            writer.write_record(self.table.finished(&row?))?;
        }
        Ok(writer.flush()?)
    }
}

struct Sheets<'a> {
    book: Workbook,
    out: &'a mut dyn Write,
    lexicon: &'a Lexicon,
    text: Text,
}

impl Sink for Sheets<'_> {
    fn take(&mut self, outcome: &Outcome) -> Result<(), Stop> {
        outcome.records.iter().for_each(|record| self.book.take(record, self.lexicon, self.text));
        Ok(())
    }

    fn end(self: Box<Self>, _: &[FileError]) -> Result<(), Stop> {
        let bytes = self.book.bytes(no_report::WORKBOOK_MARK).map_err(|error| Stop::Failed(error.to_string()))?;
        Ok(self.out.write_all(&bytes)?)
    }
}

struct Json<'a> {
    files: Spool,
    records: Spool,
    out: &'a mut dyn Write,
}

impl Sink for Json<'_> {
    fn take(&mut self, outcome: &Outcome) -> Result<(), Stop> {
        if let Some(file) = &outcome.file {
            self.files.push(file)?;
        }
        outcome.records.iter().try_for_each(|record| self.records.push(record))?;
        Ok(())
    }

    fn end(self: Box<Self>, errors: &[FileError]) -> Result<(), Stop> {
        let Self { files, records, out } = *self;
        write!(out, "{{\n  \"contract\": {CONTRACT},\n  \"files\": ")?;
        write_array(out, files.lines()?)?;
        out.write_all(b",\n  \"records\": ")?;
        write_array(out, records.lines()?)?;
        out.write_all(b",\n  \"errors\": ")?;
        write_array(out, errors.iter().map(|error| serde_json::to_string(error).map_err(Into::into)))?;
        out.write_all(b"\n}\n")?;
        Ok(())
    }
}

/// An array with one value to a line.
fn write_array(out: &mut dyn Write, lines: impl Iterator<Item = std::io::Result<String>>) -> Result<(), Stop> {
    let mut between = "[\n    ";
    let mut any = false;
    for line in lines {
        write!(out, "{between}{}", line?)?;
        between = ",\n    ";
        any = true;
    }
    out.write_all(if any { b"\n  ]" } else { b"[]" })?;
    Ok(())
}

struct JsonLines<'a> {
    out: &'a mut dyn Write,
}

impl Sink for JsonLines<'_> {
    fn take(&mut self, outcome: &Outcome) -> Result<(), Stop> {
        outcome.records.iter().try_for_each(|record: &Record| {
            serde_json::to_writer(&mut *self.out, record)?;
            Ok(self.out.write_all(b"\n")?)
        })
    }

    fn end(self: Box<Self>, _: &[FileError]) -> Result<(), Stop> {
        Ok(())
    }
}
