//! `beds history`, `trend`, `due`, `rank`: looking at the store.

use super::{StoreArgs, today};
use crate::beds;
use crate::cli::knowledge::KnowledgeArgs;
use crate::cli::output::{self, Status, Stop};
use crate::cli::whole::WholeFile;
use crate::judge::Context;
use crate::lexicon::Lexicon;
use crate::record::CONTRACT;
use crate::report::beds as page;
use crate::specs::near_or_all;
use chrono::NaiveDate;
use clap::ValueHint;
use serde::Serialize;
use std::io::Write;
use std::path::PathBuf;

/// What every view takes.
#[derive(Debug, clap::Args)]
pub struct View {
    /// Print one JSON document instead of a page
    #[arg(long)]
    pub json: bool,
    /// Date to look from, as 2025-03-31, instead of today's
    #[arg(long, value_name = "DATE", value_parser = crate::cli::date)]
    pub today: Option<NaiveDate>,
    #[command(flatten)]
    pub knowledge: KnowledgeArgs,
}

/// Show one bed over the years, with its trends
#[derive(Debug, clap::Args)]
#[command(after_help = super::examples::HISTORY)]
pub struct History {
    /// The bed
    #[arg(value_name = "BED")]
    pub bed: String,
    /// Only the trend of this property, as total_capacity or score
    #[arg(long, value_name = "PROPERTY")]
    pub property: Option<String>,
    #[command(flatten)]
    pub view: View,
}

/// Show what is to be sampled and measured when, and why
#[derive(Debug, clap::Args)]
#[command(after_help = super::examples::DUE)]
pub struct Due {
    /// Only of this site
    #[arg(long, value_name = "NAME")]
    pub site: Option<String>,
    /// Only what is due within so many months
    #[arg(long, value_name = "MONTHS")]
    pub within: Option<u32>,
    /// Write a calendar (RFC 5545) that calendar programs take
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub ics: Option<PathBuf>,
    #[command(flatten)]
    pub view: View,
}

/// Order all beds by what waiting for the next sample would cost
#[derive(Debug, clap::Args)]
#[command(after_help = super::examples::RANK)]
pub struct Rank {
    /// Only of this site
    #[arg(long, value_name = "NAME")]
    pub site: Option<String>,
    #[command(flatten)]
    pub view: View,
}

#[derive(Serialize)]
struct HistoryDocument<'a> {
    contract: u32,
    today: &'a str,
    #[serde(flatten)]
    history: &'a beds::History,
}

#[derive(Serialize)]
struct TrendDocument<'a> {
    contract: u32,
    today: &'a str,
    bed: &'a str,
    trends: Vec<&'a beds::Trend>,
    notes: &'a [String],
}

#[derive(Serialize)]
struct DueDocument<'a> {
    contract: u32,
    today: &'a str,
    due: &'a [beds::Due],
}

#[derive(Serialize)]
struct RankDocument<'a> {
    contract: u32,
    today: &'a str,
    beds: &'a [beds::Ranked],
}

/// Runs `beds history`, or `beds trend`.
pub fn history(store: &StoreArgs, args: &History, trends_alone: bool) -> Result<Status, Stop> {
    let (specs, policy) = args.view.knowledge.load()?;
    let today = today(args.view.today);
    let timeline = store.look()?.timeline(&args.bed)?;
    let context = Context { specs: &specs, policy: &policy, class: None, sheet: &[], first: None, today: Some(&today) };
    let history = timeline.history(&context);
    let only = args.property.as_deref();
    if let Some(property) = only.filter(|only| history.trends.iter().all(|trend| trend.property != *only)) {
        no_trend(property, &history)?;
    }
    match (args.view.json, trends_alone) {
        (true, false) => output::print_json(&HistoryDocument { contract: CONTRACT, today: &today, history: &history })?,
        (true, true) => output::print_json(&TrendDocument {
            contract: CONTRACT,
            today: &today,
            bed: &history.bed.id,
            trends: history.trends.iter().filter(|trend| only.is_none_or(|only| only == trend.property)).collect(),
            notes: &history.notes,
        })?,
        (false, false) => output::print(&page::history(&history, only, &output::look()))?,
        (false, true) => output::print(&page::trends(&history, only, &output::look()))?,
    }
    Ok(Status::AllRead)
}

/// Says that a property has no trend here, or that it is none.
fn no_trend(property: &str, history: &beds::History) -> Result<(), Stop> {
    let drawn: Vec<&str> = history.trends.iter().map(|trend| trend.property.as_str()).collect();
    let properties = Lexicon::builtin().properties().iter().map(|property| property.id.as_str());
    let known: Vec<&str> = drawn.iter().copied().chain(properties).collect();
    if !known.contains(&property) {
        let near = near_or_all(property, &known);
        return Err(Stop::Usage(format!("--property {property}: there is no such property; did you mean {near}?")));
    }
    let there_are =
        if drawn.is_empty() { "no trend yet".to_owned() } else { format!("trends of {}", drawn.join(", ")) };
    output::say(&format!("--property {property}: this bed has no trend of it; there are {there_are}"));
    Ok(())
}

/// Runs `beds due`.
pub fn due(store: &StoreArgs, args: &Due) -> Result<Status, Stop> {
    let (specs, policy) = args.view.knowledge.load()?;
    let today = today(args.view.today);
    let outlooks = store.look()?.outlooks(args.site.as_deref(), &today, &specs, &policy)?;
    let mut due = beds::due(&outlooks, &today, &specs, &policy);
    if let Some(months) = args.within {
        let end = crate::judge::months_on(&today, f64::from(months));
        due.retain(|item| end.as_ref().is_none_or(|end| item.on <= *end));
    }
    if let Some(path) = &args.ics {
        let stamp = chrono::Utc::now().format("%Y%m%dT%H%M%SZ").to_string();
        let mut file = WholeFile::begin("--ics", path)?;
        file.write_all(beds::calendar(&due, &today, &stamp).as_bytes())?;
        file.finish()?;
        output::say(&format!("{}: {} entries", path.display(), due.len()));
    }
    if args.view.json {
        output::print_json(&DueDocument { contract: CONTRACT, today: &today, due: &due })?;
    } else if args.ics.is_none() {
        output::print(&page::due(&due, &today, &output::look()))?;
    }
    Ok(Status::AllRead)
}

/// Runs `beds rank`.
pub fn rank(store: &StoreArgs, args: &Rank) -> Result<Status, Stop> {
    let (specs, policy) = args.view.knowledge.load()?;
    let today = today(args.view.today);
    let outlooks = store.look()?.outlooks(args.site.as_deref(), &today, &specs, &policy)?;
    let ranked = beds::rank(&outlooks, &today, &specs, &policy);
    if args.view.json {
        output::print_json(&RankDocument { contract: CONTRACT, today: &today, beds: &ranked })?;
    } else {
        output::print(&page::rank(&ranked, &output::look()))?;
    }
    Ok(Status::AllRead)
}
