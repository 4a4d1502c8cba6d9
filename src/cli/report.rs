//! `beadwise report`: one page of HTML to hand on, of a report, a bed, a site or the whole fleet.

mod views;

use super::beds::StoreArgs;
use super::knowledge::{KnowledgeArgs, no_class};
use super::output::{self, Status, Stop};
use super::plan::{FactsArgs, plan_knowledge};
use super::reading::ReadingArgs;
use super::whole::WholeFile;
use super::{contained, inputs, saved::OrSaved};
use crate::beds::{Ranked, rank};
use crate::judge::Context;
use crate::record::FileError;
use crate::report::page::{BedView, Page, html};
use chrono::NaiveDate;
use clap::ValueHint;
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use views::{Dossier, of_reports, of_store};

const EXAMPLES: &str = "\
Examples:
  beadwise report march.pdf -o softener-2.html   a page to hand to the customer
  beadwise report 2019.pdf 2023.pdf 2025.pdf     one bed over the years
  beadwise report march.pdf --feed-hardness 20gpg --salt-dose 8lb/ft3 \\
      --daily-use 900gal --salt-price 0.20/lb --water-price 12/1000gal \\
      --resin-price 120/ft3 --rebed-labour 600 --disposal-price 20/ft3
  beadwise report --bed softener-2               a bed of the store, by years
  beadwise report --site \"Mill Street\"           all beds of a site
  beadwise report --all -o beds.html             all beds, most pressing first

The page is one file that loads nothing. Print it from any browser: it fits
Letter and A4. Without -o it goes to standard output where that is piped, else
to beadwise-report.html.";

/// Where a page goes that nobody named, on a terminal.
const DEFAULT: &str = "beadwise-report.html";

/// Make one page of HTML to hand on: verdict, figures, years, evidence; it prints
#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Args {
    /// Reports, or folders of them, or records as read --json prints them; - is standard input
    #[arg(value_name = "REPORT", value_hint = ValueHint::AnyPath, required_unless_present_any = ["bed", "site", "all"])]
    files: Vec<PathBuf>,
    /// File to write; - is standard output
    #[arg(short, long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    output: Option<PathBuf>,
    /// A bed of the store, by its id or a part of it; may be given more than once
    #[arg(long, value_name = "BED", conflicts_with_all = ["files", "site", "all"])]
    bed: Vec<String>,
    /// All beds of one site of the store
    #[arg(long, value_name = "NAME", conflicts_with_all = ["files", "all"])]
    site: Option<String>,
    /// All beds of the store, the most pressing first
    #[arg(long, conflicts_with = "files")]
    all: bool,
    /// Only this vessel, where a report has several
    #[arg(long, value_name = "NAME")]
    vessel: Option<String>,
    /// Class of the resin, over what the report says
    #[arg(long, value_name = "ID")]
    class: Option<String>,
    /// Date to speak from, as 2025-03-31, instead of today's
    #[arg(long, value_name = "DATE")]
    today: Option<NaiveDate>,
    #[command(flatten)]
    store: StoreArgs,
    #[command(flatten)]
    facts: FactsArgs,
    #[command(flatten)]
    knowledge: KnowledgeArgs,
    #[command(flatten)]
    reading: ReadingArgs,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Status, Stop> {
    let session = args.reading.session()?;
    let (specs, policy) = args.knowledge.load()?;
    let knowledge = plan_knowledge(&args.facts.settings)?;
    let given = args.facts.given.read(&knowledge).map_err(Stop::Usage)?;
    if let Some(class) = args.class.as_deref().filter(|id| specs.class(id).is_none()) {
        return Err(no_class("--class ", class, &specs));
    }
    let today = super::beds::today(args.today);
    let sheet = args.knowledge.sheet()?;
    let context = Context {
        specs: &specs,
        policy: &policy,
        class: args.class.as_deref(),
        sheet: &sheet,
        first: None,
        today: Some(&today),
    };
    spare_reports(args)?;
    let target = Target::of(args.output.as_deref())?;
    let mut errors: Vec<FileError> = Vec::new();
    let asking = views::Asking { facts: &args.facts, given: &given, knowledge: &knowledge, context };
    let mut ranking: Option<Vec<Ranked>> = None;
    let dossiers: Vec<Dossier> = if args.files.is_empty() {
        let store = args.store.look()?;
        let ids: Vec<String> = if args.bed.is_empty() {
            let outlooks = store.outlooks(args.site.as_deref(), &today, &specs, &policy)?;
            let ranked = rank(&outlooks, &today, &specs, &policy);
            let ids = ranked.iter().map(|bed| bed.bed.clone()).collect();
            ranking = Some(ranked);
            ids
        } else {
            args.bed.clone()
        };
        if ids.is_empty() {
            let whose = args.site.as_ref().map_or(String::new(), |site| format!(" of {site}"));
            return Err(Stop::Usage(format!(
                "the store holds no bed{whose}; `beadwise beds list` shows what it holds"
            )));
        }
        let found = of_store(&store, &ids, &asking)?;
        if found.is_empty() {
            return Err(Stop::Usage(
                "no analysis is filed under what was asked for; `beadwise beds file REPORT` files one".to_owned(),
            ));
        }
        found
    } else {
        let workers = session.workers();
        let found = inputs::gather(&args.files);
        found.tell_repeated();
        found.errors.iter().for_each(output::report);
        errors.extend(found.errors);
        let mut records = Vec::new();
        contained::each(&found.files, &OrSaved(&workers), |_, outcome| {
            outcome.errors.iter().for_each(output::report);
            errors.extend(outcome.errors);
            records.extend(outcome.records);
            Ok::<(), Stop>(())
        })?;
        if records.is_empty() {
            return Err(Stop::Failed("no sample was found, and so no page is written".to_owned()));
        }
        of_reports(records, args.vessel.as_deref(), &asking)?
    };
    let page = Page {
        today: &today,
        units: args.facts.units(),
        policy: &policy,
        beds: dossiers.iter().map(|dossier| view(dossier, &asking)).collect(),
        ranking: ranking.as_deref(),
        site: args.site.as_deref(),
    };
    target.write(&html(&page))?;
    Ok(Status::of(!errors.is_empty()))
}

fn view<'a>(dossier: &'a Dossier, asking: &views::Asking<'a>) -> BedView<'a> {
    BedView {
        id: dossier.id.clone(),
        judgement: &dossier.judgement,
        record: &dossier.record,
        complaint: dossier.complaint.as_deref(),
        class: dossier.class.as_deref().and_then(|id| asking.context.specs.class(id)),
        plan: dossier.plan.as_ref().ok(),
        no_plan: dossier.plan.as_ref().err().cloned(),
        history: dossier.history.as_ref(),
        left_alone: crate::judge::left_alone(&dossier.judgement, asking.context.policy),
    }
}

/// Keeps a report from being written over.
fn spare_reports(args: &Args) -> Result<(), Stop> {
    let real = |path: &Path| path.canonicalize().ok();
    match args.output.as_deref().and_then(real) {
        Some(output) if args.files.iter().any(|file| real(file).is_some_and(|file| file == output)) => {
            Err(Stop::Usage(format!("-o {}: this is one of the reports; name another file", output.display())))
        }
        _ => Ok(()),
    }
}

/// Where the page goes.
enum Target {
    Out,
    File(Box<WholeFile>, PathBuf),
}

impl Target {
    /// Looked at before the work begins, so that a name that cannot be used is told at once.
    fn of(named: Option<&Path>) -> Result<Self, Stop> {
        let file = |path: &Path| Ok(Self::File(Box::new(WholeFile::begin("-o", path)?), path.to_owned()));
        match named {
            Some(path) if path == Path::new("-") => Ok(Self::Out),
            Some(path) => file(path),
            None if !std::io::stdout().is_terminal() => Ok(Self::Out),
            None if Path::new(DEFAULT).exists() => Err(Stop::Usage(format!(
                "{DEFAULT} is there already; name another file with -o, or that one to write over it"
            ))),
            None => file(Path::new(DEFAULT)),
        }
    }

    fn write(self, text: &str) -> Result<(), Stop> {
        match self {
            Self::Out => output::print(text),
            Self::File(mut file, path) => {
                file.write_all(text.as_bytes())?;
                file.finish()?;
                output::say(&format!("{} written; open it in a browser, and print it from there", path.display()));
                Ok(())
            }
        }
    }
}
