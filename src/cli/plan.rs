//! `beadwise plan`: what to do with a bed, how much, and what it is worth.

mod given;

pub use given::{Figures, canonical};

use super::contained;
use super::inputs;
use super::judge::YesNo;
use super::knowledge::{KnowledgeArgs, borrowed, no_class, texts};
use super::output::{self, Status, Stop};
use super::reading::ReadingArgs;
use super::settings;
use super::whole::WholeFile;
#[cfg(feature = "beds")]
use crate::beds::Timeline;
#[cfg(not(feature = "beds"))]
use crate::judge::judge;
use crate::judge::{Context, Judgement};
use crate::plan::{Bed, Knowledge, Plan, Wishes, plan};
use crate::record::{CONTRACT, FieldFigure, FileError, Record};
use crate::report::sheet::{Sheet, cleaning_sheet, page, plan_sheet, sampling_sheet, settings_card, text};
use crate::report::units::Units;
use crate::specs::KnowledgeError;
use chrono::NaiveDate;
use clap::{ValueEnum, ValueHint};
use serde::Serialize;
use std::collections::BTreeMap;
use std::io::Write;
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  beadwise plan march.pdf               what is known, and what is worth telling
  beadwise plan march.pdf --tank-bore 24in --freeboard 30in \\
      --freeboard-at-startup 24in --bed-depth 34in --feed-hardness 20gpg \\
      --salt-dose 8lb/ft3 --daily-use 900gal  top-off, meter and salt
  beadwise plan march.pdf --sheet cleaning  one sheet: a work order
  beadwise plan march.pdf --html plan.html  all sheets as one page to print
  beadwise plan --bed softener-2        a bed of the store, as it is now
  beadwise plan march.pdf --units si    litres, kilograms, metres

Every figure is given with its unit, as 24in, 0.61m, 20gpg, 342mg/L, 45lb.
--help lists all that can be told. What is not told is asked for, or assumed and
marked as such.";

/// One of the sheets.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Which {
    /// What to do and what it is worth
    Plan,
    /// What to set on the valve
    Settings,
    /// The cleaning as a work order
    Cleaning,
    /// How to take the next core, with the form for the laboratory
    Sampling,
    /// All of them
    All,
}

/// Units of the sheets.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum UnitsArg {
    /// Gallons, pounds, grains, feet
    Us,
    /// Litres, kilograms, metres
    Si,
}

/// When the bed was measured and sampled.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum StateArg {
    /// After a regeneration
    Regenerated,
    /// At the end of a run
    Exhausted,
}

/// What can be told of a bed over its report, and how its plan is wanted.
#[derive(Debug, clap::Args)]
pub struct FactsArgs {
    /// Units of the sheets [default: us]
    #[arg(long, value_enum, value_name = "us|si", hide_possible_values = true)]
    units: Option<UnitsArg>,
    /// Whether people drink the water, over what the report says
    #[arg(long, value_enum, value_name = "yes|no", hide_possible_values = true)]
    drinking: Option<YesNo>,
    /// Whether the bed was measured regenerated or exhausted, over what the report says
    #[arg(long, value_enum, value_name = "STATE")]
    state: Option<StateArg>,
    /// Curve of operating capacity, where the class's own is not wanted
    #[arg(long, value_name = "ID")]
    curve: Option<String>,
    /// Cleaning recipe, where the mildest is not wanted
    #[arg(long, value_name = "ID")]
    recipe: Option<String>,
    /// When the prices were asked, as 2025-03
    #[arg(long, value_name = "DATE", help_heading = "Prices, yours and of one date")]
    prices_on: Option<String>,
    /// Defaults, curves and work orders of your own, in the shape of grammar/plan.toml; may be given more than once
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath, help_heading = "Knowledge")]
    pub settings: Vec<PathBuf>,
    #[command(flatten)]
    pub given: given::Given,
}

impl FactsArgs {
    /// Units of the sheets.
    pub fn units(&self) -> Units {
        let settled = match settings::get().text("units") {
            Some("si") => UnitsArg::Si,
            _ => UnitsArg::Us,
        };
        match self.units.unwrap_or(settled) {
            UnitsArg::Us => Units::Us,
            UnitsArg::Si => Units::Si,
        }
    }

    /// When the prices were asked, as told or as the settings say.
    pub fn prices_on(&self) -> Option<String> {
        self.prices_on.clone().or_else(|| settings::get().text("prices.on").map(str::to_owned))
    }

    /// What is asked for beside the bed.
    pub fn wishes(&self) -> Wishes<'_> {
        Wishes { curve: self.curve.as_deref(), recipe: self.recipe.as_deref() }
    }
}

/// Plan the work on a bed: top-off, meter, salt, cleaning, next core, and what they are worth
#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Args {
    /// Reports, or folders of them; - is standard input
    #[cfg_attr(feature = "beds", arg(required_unless_present = "bed"))]
    #[cfg_attr(not(feature = "beds"), arg(required = true))]
    #[arg(value_name = "REPORT", value_hint = ValueHint::AnyPath)]
    files: Vec<PathBuf>,
    /// Which sheets to print; may be given more than once [default: plan; with --html all]
    #[arg(long, value_enum, value_name = "SHEET")]
    sheet: Vec<Which>,
    /// Write the sheets to this file as one page to print
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath, conflicts_with = "json")]
    html: Option<PathBuf>,
    /// Print one JSON document, in canonical units, instead of sheets
    #[arg(long)]
    json: bool,
    /// Only this vessel, where a report has several
    #[arg(long, value_name = "NAME")]
    vessel: Option<String>,
    /// Class of the resin, over what the report says
    #[arg(long, value_name = "ID")]
    class: Option<String>,
    /// Date to judge on, as 2025-03-31, instead of today's
    #[arg(long, value_name = "DATE", value_parser = crate::cli::date)]
    today: Option<NaiveDate>,
    #[cfg(feature = "beds")]
    #[command(flatten)]
    known: super::known_bed::KnownBedArgs,
    #[command(flatten)]
    facts: FactsArgs,
    #[command(flatten)]
    knowledge: KnowledgeArgs,
    #[command(flatten)]
    reading: ReadingArgs,
}

#[derive(Serialize)]
struct Plans {
    contract: u32,
    plans: Vec<Plan>,
    errors: Vec<FileError>,
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
    let mut errors = found.errors;
    let mut records = Vec::new();
    contained::each(&found.files, &workers, |_, outcome| {
        outcome.errors.iter().for_each(output::report);
        errors.extend(outcome.errors);
        records.extend(outcome.records);
        Ok::<(), Stop>(())
    })?;
    let records = wanted(records, args.vessel.as_deref())?;
    if records.len() > 1 && !given.is_empty() {
        let names: Vec<String> = records.iter().map(bed_words).collect();
        return Err(Stop::Usage(format!(
            "figures were given, and there are {} beds: {}. Say which with --vessel",
            records.len(),
            names.join("; ")
        )));
    }
    let wishes = args.facts.wishes();
    let mut plans = Vec::new();
    let mut beds: Vec<Bed> = Vec::new();
    #[cfg(feature = "beds")]
    if let Some(timeline) = known.bed().filter(|_| args.files.is_empty()) {
        beds.push(stored_bed(&args.facts, timeline, &context, &given, &knowledge));
    }
    for record in records {
        #[cfg(feature = "beds")]
        let judged = |record: &Record| known.judge(record, &context);
        #[cfg(not(feature = "beds"))]
        let judged = |record: &Record| Ok(judge(record, &context));
        beds.push(bed(&args.facts, record, &context, &given, &knowledge, judged)?);
    }
    for bed in beds {
        let name = bed.about.vessel.clone().unwrap_or_else(|| "the bed".to_owned());
        plans.push(plan(&bed, &context, &knowledge, wishes).map_err(|error| Stop::Usage(format!("{name}: {error}")))?);
    }
    let failed = !errors.is_empty();
    if args.json {
        output::print_json(&Plans { contract: CONTRACT, plans, errors })?;
        return Ok(Status::of(failed));
    }
    let sheets: Vec<Sheet> = plans.iter().flat_map(|plan| sheets(plan, args)).collect();
    match &args.html {
        Some(_) if sheets.is_empty() => {}
        Some(path) => {
            let mut file = WholeFile::begin("--html", path)?;
            file.write_all(page(&sheets).as_bytes())?;
            file.finish()?;
            output::say(&format!("{} written", path.display()));
        }
        None => {
            let look = output::look();
            let mut out = output::standard_output();
            for (at, sheet) in sheets.iter().enumerate() {
                if at > 0 {
                    out.write_all(b"\n\n")?;
                }
                out.write_all(text(sheet, &look).as_bytes())?;
            }
            out.flush()?;
        }
    }
    Ok(Status::of(failed))
}

/// Defaults, curves and work orders with the user's over them.
pub fn plan_knowledge(paths: &[PathBuf]) -> Result<Knowledge, Stop> {
    let texts = texts(&settings::get().files("settings", paths))?;
    Knowledge::with_overlay(&borrowed(&texts)).map_err(|error: KnowledgeError| Stop::Usage(error.to_string()))
}

fn bed_words(record: &Record) -> String {
    let sample = &record.sample;
    let name = sample.vessel.as_ref().or(sample.sample_id.as_ref());
    name.cloned().unwrap_or_else(|| "a bed without a name".to_owned())
}

/// The last record of each vessel: a plan is for the bed as it is, not for what it was.
fn wanted(records: Vec<Record>, vessel: Option<&str>) -> Result<Vec<Record>, Stop> {
    let names: Vec<String> = records.iter().map(bed_words).collect();
    let is_asked = |record: &Record| {
        vessel.is_none_or(|vessel| bed_words(record).to_lowercase().contains(&vessel.trim().to_lowercase()))
    };
    let mut last: BTreeMap<(Option<String>, String), usize> = BTreeMap::new();
    let mut order: Vec<(Option<String>, String)> = Vec::new();
    for (at, record) in records.iter().enumerate().filter(|(_, record)| is_asked(record)) {
        let key = (record.sample.site.clone(), bed_words(record));
        // A core says more of the whole bed than its top or bottom.
        let rank = |record: &Record| {
            let whole = record.sample.position.as_deref().is_none_or(|place| place == "core" || place == "composite");
            (record.sample.sampled_on.clone(), whole)
        };
        match last.get_mut(&key) {
            Some(known) => {
                let newer = records.get(*known).is_none_or(|old| rank(record) > rank(old));
                if newer {
                    *known = at;
                }
            }
            None => {
                last.insert(key.clone(), at);
                order.push(key);
            }
        }
    }
    if order.is_empty() && !records.is_empty() {
        let asked = vessel.unwrap_or_default();
        return Err(Stop::Usage(format!("--vessel {asked}: there is no such vessel; there are {}", names.join("; "))));
    }
    let left_out = records.iter().filter(|record| is_asked(record)).count() - order.len();
    if left_out > 0 {
        output::say(&format!("{left_out} older or partial samples of the same vessels are left out"));
    }
    let chosen: Vec<usize> = order.iter().filter_map(|key| last.get(key).copied()).collect();
    Ok(records.into_iter().enumerate().filter(|(at, _)| chosen.contains(at)).map(|(_, record)| record).collect())
}

/// The bed of a report, judged with what is told of it.
fn bed(
    facts: &FactsArgs,
    mut record: Record,
    context: &Context<'_>,
    given: &Figures,
    knowledge: &Knowledge,
    judged: impl Fn(&Record) -> Result<Judgement, Stop>,
) -> Result<Bed, Stop> {
    told_of(&mut record, facts, given, knowledge);
    let judgement = judged(&record)?;
    Ok(with_given(Bed::from_report(&record, &judgement, context), facts, given))
}

/// A bed of the store as it is now.
#[cfg(feature = "beds")]
fn stored_bed(
    facts: &FactsArgs,
    timeline: &Timeline,
    context: &Context<'_>,
    given: &Figures,
    knowledge: &Knowledge,
) -> Bed {
    let mut now = timeline.now(&context.policy.limits);
    told_of(&mut now.record, facts, given, knowledge);
    let judgement = timeline.verdict(&now.record, context);
    with_given(Bed::from_store(timeline, &now, &judgement, context), facts, given)
}

/// Says of a record what was told on the command line.
pub fn told_of(record: &mut Record, facts: &FactsArgs, given: &Figures, knowledge: &Knowledge) {
    if let Some(drinking) = facts.drinking {
        record.sample.drinking_water = Some(drinking == YesNo::Yes);
    }
    match facts.state {
        Some(StateArg::Regenerated) => record.sample.cycle_state = Some("regenerated".to_owned()),
        Some(StateArg::Exhausted) => record.sample.cycle_state = Some("exhausted".to_owned()),
        None => {}
    }
    // What is told of the bed is judged with the rest, so that plan and verdict speak of one bed.
    for (fact, known) in given {
        record.field.retain(|figure| figure.quantity != fact.id());
        record.field.push(FieldFigure {
            quantity: fact.id().to_owned(),
            value: Some(known.value),
            unit: knowledge.input(*fact).map(|input| input.unit.clone()),
            as_written: format!("--{}", fact.id().replace('_', "-")),
            ..FieldFigure::default()
        });
    }
}

/// A bed with the prices of the settings, and what was told over them.
pub fn with_given(mut bed: Bed, facts: &FactsArgs, given: &Figures) -> Bed {
    if let Some(day) = facts.prices_on() {
        bed.about.prices_on = Some(day);
    }
    for (fact, known) in settings::get().prices().iter().chain(given) {
        bed.set(*fact, *known);
    }
    bed
}

fn sheets(plan: &Plan, args: &Args) -> Vec<Sheet> {
    let units = args.facts.units();
    let unasked = if args.html.is_some() { Which::All } else { Which::Plan };
    let is_asked = |which| {
        args.sheet.contains(&which)
            || args.sheet.contains(&Which::All)
            || (args.sheet.is_empty() && (unasked == which || unasked == Which::All))
    };
    let mut sheets = Vec::new();
    for (which, make) in [
        (Which::Plan, plan_sheet as fn(&Plan, Units) -> Sheet),
        (Which::Settings, settings_card),
        (Which::Cleaning, cleaning_sheet),
        (Which::Sampling, sampling_sheet),
    ] {
        if is_asked(which) {
            sheets.push(make(plan, units));
        }
    }
    sheets
}
