//! `beadwise convert`: files and folders of reports to one table.

use super::contained;
use super::inputs::{self, Inputs};
use super::output::{self, Status, Stop};
use super::reading::{ReadingArgs, Session};
use super::spool::Spool;
use super::whole::WholeFile;
use crate::lexicon::Lexicon;
use crate::pipeline::Outcome;
use crate::record::{CONTRACT, FileError, Record};
use crate::report::csv::{self as rows, Text, WideRow, WideTable};
use clap::{ValueEnum, ValueHint};
use indicatif::{ProgressBar, ProgressStyle};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

const EXAMPLES: &str = "\
Examples:
  beadwise convert march.pdf --to csv
  beadwise convert reports/ --to csv --wide -o beds.csv
  beadwise convert reports/ --to jsonl -o all.jsonl --rejects unread.csv

With -o, what could not be read is listed in a file beside it (beds.rejects.csv) unless
--rejects names another. Outputs are written whole or not at all.";

/// What to write.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum To {
    /// One row for each measurement
    Csv,
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
    /// What to write
    #[arg(long, value_enum, default_value = "csv")]
    pub to: To,
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
    if args.to != To::Csv && (args.wide || args.exact) {
        let option = if args.wide { "--wide" } else { "--exact" };
        return Err(Stop::Usage(format!("{option} is for --to csv; leave it out")));
    }
    let session = args.reading.session()?;
    let rejects = args.rejects.clone().or_else(|| args.output.as_deref().and_then(rejects_beside));
    let mut found = inputs::gather(&args.paths);
    for own in args.output.iter().chain(&rejects) {
        spare(&mut found, own)?;
    }
    found.tell_repeated();
    match &args.output {
        Some(path) => {
            let mut file = WholeFile::begin("--output", path)?;
            let ended = convert(args, found, &session, &mut file)?;
            // The list first: a finished table whose gaps are not listed would look complete.
            write_rejects(args, rejects.as_deref(), &ended.errors)?;
            file.finish()?;
            ended.tell();
            Ok(Status::of(!ended.errors.is_empty()))
        }
        None => {
            let mut out = output::standard_output();
            let ended = convert(args, found, &session, &mut out)?;
            out.flush()?;
            write_rejects(args, rejects.as_deref(), &ended.errors)?;
            ended.tell();
            Ok(Status::of(!ended.errors.is_empty()))
        }
    }
}

/// Keeps an output of an earlier run from being read as a report, and a report from being written over.
fn spare(found: &mut Inputs, own: &Path) -> Result<(), Stop> {
    let Ok(real) = own.canonicalize() else { return Ok(()) };
    let is_own = |path: &PathBuf| path.canonicalize().is_ok_and(|other| other == real);
    let before = found.files.len();
    found.files.retain(|input| !input.path.as_ref().is_some_and(is_own));
    if found.files.len() < before && !is_earlier_output(&real) {
        return Err(Stop::Usage(format!(
            "{}: this is one of the files to read, and would be written over; name another file",
            own.display()
        )));
    }
    Ok(())
}

fn is_earlier_output(path: &Path) -> bool {
    let mut head = Vec::new();
    let read = std::fs::File::open(path).and_then(|file| file.take(64).read_to_end(&mut head));
    let marks: [&[u8]; 4] =
        [b"file,sample_id,site,", b"file,part,code,text", b"{\n  \"contract\":", b"{\"source\":{\"file\":"];
    read.is_ok() && (head.is_empty() || marks.iter().any(|mark| head.starts_with(mark)))
}

fn rejects_beside(output: &Path) -> Option<PathBuf> {
    // A device such as /dev/null has nothing beside it.
    let is_file = std::fs::metadata(output).map_or(true, |data| data.is_file());
    is_file.then(|| output.with_extension("rejects.csv"))
}

fn write_rejects(args: &Args, path: Option<&Path>, errors: &[FileError]) -> Result<(), Stop> {
    let Some(path) = path else { return Ok(()) };
    // The list of an earlier run must not stand beside a newer table; where all is well and none is there, none is made.
    if args.rejects.is_none() && errors.is_empty() && !path.exists() {
        return Ok(());
    }
    let mut file = WholeFile::begin("--rejects", path)?;
    let mut writer = csv_writer(&mut file);
    writer.write_record(rows::REJECTS)?;
    for error in errors {
        let part = error.part.as_deref().unwrap_or_default();
        writer.write_record([&Text::Guarded.cell(&error.file), &Text::Guarded.cell(part), &error.code, &error.text])?;
    }
    writer.flush()?;
    drop(writer);
    file.finish()
}

/// Rows end as RFC 4180 has it.
fn csv_writer<W: Write>(to: W) -> csv::Writer<W> {
    csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(to)
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

fn convert(args: &Args, found: Inputs, session: &Session, out: &mut dyn Write) -> Result<Ended, Stop> {
    let text = if args.exact { Text::Exact } else { Text::Guarded };
    let mut sink: Box<dyn Sink + '_> = match args.to {
        To::Csv if args.wide => {
            Box::new(Wide { table: WideTable::default(), spool: Spool::new()?, out, lexicon: &session.lexicon, text })
        }
        To::Csv => Box::new(Long::begin(out, text)?),
        To::Json => Box::new(Json { files: Spool::new()?, records: Spool::new()?, out }),
        To::Jsonl => Box::new(JsonLines { out }),
    };
    let mut ended = Ended { errors: found.errors, ..Ended::default() };
    let progress = progress(found.files.len());
    for error in &ended.errors {
        progress.suspend(|| output::report(error));
    }
    let workers = session.workers();
    contained::each(&found.files, &workers, |_, outcome| {
        sink.take(&outcome)?;
        ended.count(&outcome);
        for error in &outcome.errors {
            progress.suspend(|| output::report(error));
        }
        ended.errors.extend(outcome.errors);
        progress.inc(1);
        Ok::<(), Stop>(())
    })?;
    progress.finish_and_clear();
    sink.end(&ended.errors)?;
    Ok(ended)
}

fn progress(files: usize) -> ProgressBar {
    // It stays hidden where standard error is no terminal.
    let bar = ProgressBar::new(u64::try_from(files).unwrap_or(u64::MAX));
    if let Ok(style) = ProgressStyle::with_template("{bar:30} {pos} of {len} files, {eta} left") {
        bar.set_style(style);
    }
    bar
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
