//! `beds reading` and `beds event`: what is measured and done at the bed itself.

use super::StoreArgs;
use super::register::pair;
use crate::beds::{BedState, Event, EventKind, Reading, amount, channelling};
use crate::cli::knowledge::no_class;
use crate::cli::output::{self, Status, Stop};
use crate::judge::{Policy, quantity_words};
use crate::specs::Specs;
use chrono::NaiveDate;
use clap::ValueEnum;

const READING_EXAMPLES: &str = "\
Examples:
  beadwise beds reading softener-2 --on 2025-03-01 freeboard=\"26 in\"
  beadwise beds reading softener-2 --on 2025-03-01 --state regenerated \\
      --rim \"top flange\" freeboard=\"25 in\" freeboard=\"26 in\" \\
      freeboard=\"28 in\" volume_between_regenerations=\"8200 gal\"

One quantity given several times is one reading at several points.";

/// How the bed stood.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum State {
    /// Just regenerated
    Regenerated,
    /// At the end of its run
    Exhausted,
    /// Not known
    #[default]
    Unknown,
}

/// Write down what was measured at a bed
#[derive(Debug, clap::Args)]
#[command(after_help = READING_EXAMPLES)]
pub struct ReadingArgs {
    /// The bed
    #[arg(value_name = "BED")]
    pub bed: String,
    /// Day of the reading
    #[arg(long, value_name = "DATE", value_parser = crate::cli::date)]
    pub on: NaiveDate,
    /// What was measured, with its unit
    #[arg(required = true, value_name = "QUANTITY=AMOUNT")]
    pub quantities: Vec<String>,
    /// How the bed stood: regenerated, exhausted or unknown
    #[arg(long, value_enum, default_value_t, hide_default_value = true, hide_possible_values = true)]
    pub state: State,
    /// The rim that the freeboard was taped from
    #[arg(long, value_name = "TEXT")]
    pub rim: Option<String>,
    /// Anything else
    #[arg(long, value_name = "TEXT")]
    pub note: Option<String>,
}

/// Kinds of events.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Kind {
    /// The resin was cleaned
    Cleaned,
    /// Resin was added
    ToppedOff,
    /// A new charge: the timeline begins anew
    Rebedded,
    /// The valve was rebuilt
    ValveRebuilt,
    /// Something else; say it in --note
    Other,
}

/// Write down what was done to a bed
#[derive(Debug, clap::Args)]
#[command(after_help = super::examples::EVENT)]
pub struct EventArgs {
    /// The bed
    #[arg(value_name = "BED")]
    pub bed: String,
    /// What was done
    #[arg(value_enum, value_name = "WHAT")]
    pub kind: Kind,
    /// Day of it
    #[arg(long, value_name = "DATE", value_parser = crate::cli::date)]
    pub on: NaiveDate,
    /// Resin added, or volume of the new charge, as "2 ft3"
    #[arg(long, value_name = "AMOUNT")]
    pub volume: Option<String>,
    /// Class of a new charge, where it is another one
    #[arg(long, value_name = "ID")]
    pub class: Option<String>,
    /// Lot of the resin
    #[arg(long, value_name = "TEXT")]
    pub lot: Option<String>,
    /// Certificate that came with it
    #[arg(long, value_name = "TEXT")]
    pub certificate: Option<String>,
    /// Where a sample of the new charge is kept
    #[arg(long, value_name = "TEXT")]
    pub kept_sample: Option<String>,
    /// Anything else
    #[arg(long, value_name = "TEXT")]
    pub note: Option<String>,
}

/// Runs `beds reading`.
pub fn reading(store: &StoreArgs, args: &ReadingArgs) -> Result<Status, Stop> {
    let mut store = store.open()?;
    let bed = store.bed(&args.bed)?;
    let mut readings: Vec<Reading> = Vec::new();
    for text in &args.quantities {
        let (quantity, value) = pair("", text)?;
        let point = amount(quantity, value).map_err(Stop::Usage)?;
        match readings.iter_mut().find(|reading| reading.quantity == quantity) {
            Some(reading) => reading.points.push(point),
            None => readings.push(Reading {
                taken_on: args.on.to_string(),
                quantity: quantity.to_owned(),
                points: vec![point],
                state: match args.state {
                    State::Regenerated => BedState::Regenerated,
                    State::Exhausted => BedState::Exhausted,
                    State::Unknown => BedState::Unknown,
                },
                rim: args.rim.clone(),
                note: args.note.clone(),
            }),
        }
    }
    let policy = Policy::builtin().map_err(|error| Stop::Failed(error.to_string()))?;
    let mut page = String::new();
    for reading in &readings {
        let new = store.add_reading(&bed.id, reading)?;
        let mean = reading.mean().map(|mean| quantity_words(mean, reading.unit())).unwrap_or_default();
        let points =
            if reading.points.len() > 1 { format!(", mean of {} points", reading.points.len()) } else { String::new() };
        let again = if new { "" } else { " (it was written down before)" };
        page.push_str(&format!("{}: {} {mean}{points}{again}\n", bed.title(), reading.quantity.replace('_', " ")));
        if reading.quantity != "freeboard" || reading.points.len() < 2 {
            continue;
        }
        match channelling(reading, &bed) {
            Some(share) if share >= policy.limits.channelling_spread => page.push_str(&format!(
                "  The depth of the bed varies by {:.0} %, {:.0} % or more: channelling is suspected (UFC 3-240-13FN).\n",
                share * 100.0,
                policy.limits.channelling_spread * 100.0
            )),
            Some(share) => page.push_str(&format!("  The depth of the bed varies by {:.0} %.\n", share * 100.0)),
            None => page.push_str("  Whether that is channelling cannot be said without the bed's volume and bore: beds set.\n"),
        }
    }
    output::print(&crate::report::plain::lines(&page))?;
    Ok(Status::AllRead)
}

/// Runs `beds event`.
pub fn event(store: &StoreArgs, args: &EventArgs) -> Result<Status, Stop> {
    if let Some(class) = &args.class {
        let specs = Specs::builtin().map_err(|error| Stop::Failed(error.to_string()))?;
        if specs.class(class).is_none() {
            return Err(no_class("--class ", class, specs));
        }
    }
    let mut store = store.open()?;
    let bed = store.bed(&args.bed)?;
    let volume = args.volume.as_ref().map(|text| amount("top_off_volume", text).map_err(Stop::Usage)).transpose()?;
    let event = Event {
        happened_on: args.on.to_string(),
        kind: match args.kind {
            Kind::Cleaned => EventKind::Cleaned,
            Kind::ToppedOff => EventKind::ToppedOff,
            Kind::Rebedded => EventKind::Rebedded,
            Kind::ValveRebuilt => EventKind::ValveRebuilt,
            Kind::Other => EventKind::Other,
        },
        volume,
        resin_class: args.class.clone(),
        lot: args.lot.clone(),
        certificate: args.certificate.clone(),
        kept_sample: args.kept_sample.clone(),
        note: args.note.clone(),
    };
    let new = store.add_event(&bed.id, &event)?;
    let again = if new { "" } else { " (it was written down before)" };
    let mut page = format!("{}: {} on {}{again}\n", bed.title(), event.kind.words(), event.happened_on);
    if event.kind == EventKind::Rebedded && event.kept_sample.is_none() {
        page.push_str("  Keep a sample of the new charge and have it tested: later analyses are set against it.\n");
    }
    output::print(&crate::report::plain::lines(&page))?;
    Ok(Status::AllRead)
}
