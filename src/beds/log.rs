//! What is done and measured at the bed itself: field readings and events.

use super::error::StoreError;
use super::store::{Store, column};
use super::typed::Amount;
use crate::judge::first_day;
use rusqlite::params;
use serde::{Deserialize, Serialize};

/// Whether the bed stood regenerated or exhausted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum BedState {
    /// Just regenerated.
    Regenerated,
    /// At the end of its run: beads are smaller, and the bed stands lower.
    Exhausted,
    /// Not said.
    #[default]
    Unknown,
}

impl BedState {
    /// As `sample.cycle_state` of a record has it.
    pub fn word(self) -> Option<&'static str> {
        match self {
            Self::Regenerated => Some("regenerated"),
            Self::Exhausted => Some("exhausted"),
            Self::Unknown => None,
        }
    }
}

/// Something measured at the bed on one day, at one point or several.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Reading {
    /// ISO date.
    pub taken_on: String,
    /// Field quantity of the contract, as `freeboard`.
    pub quantity: String,
    /// Each point as it was typed.
    pub points: Vec<Amount>,
    /// Whether the bed stood regenerated or exhausted.
    pub state: BedState,
    /// The rim that a freeboard was taped from.
    pub rim: Option<String>,
    /// Anything else.
    pub note: Option<String>,
}

impl Reading {
    /// Mean of the points, in the canonical unit.
    pub fn mean(&self) -> Option<f64> {
        let count = u32::try_from(self.points.len()).ok().filter(|count| *count > 0)?;
        Some(self.points.iter().map(|point| point.value).sum::<f64>() / f64::from(count))
    }

    /// Highest less lowest of the points; none for a single one.
    pub fn spread(&self) -> Option<f64> {
        let values = || self.points.iter().map(|point| point.value);
        let (low, high) = (values().fold(f64::INFINITY, f64::min), values().fold(f64::NEG_INFINITY, f64::max));
        (self.points.len() > 1).then_some(high - low)
    }

    /// Canonical unit of the points.
    pub fn unit(&self) -> &str {
        self.points.first().map_or("", |point| point.unit.as_str())
    }

    /// Spread of the bed's depth as a share of its mean depth, where the points are freeboards and the depth of the
    /// bed is known. From 15 % on channelling is suspected (UFC 3-240-13FN, 2-2.5.1.4).
    ///
    /// ```
    /// use beadwise::beds::{Reading, amount};
    /// let points = ["20 in", "22 in", "27 in"].iter().map(|text| amount("freeboard", text)).collect::<Result<_, _>>()?;
    /// let reading = Reading { quantity: "freeboard".into(), points, ..Reading::default() };
    /// // Depths by hand: with a mean freeboard of 23 in on a bed 42 in deep, 7 in of spread are 7 / 42 = 16.7 %.
    /// assert!((reading.spread_of_depth(42.0 * 0.0254).unwrap() - 0.1667).abs() < 1e-4);
    /// # Ok::<(), String>(())
    /// ```
    pub fn spread_of_depth(&self, depth: f64) -> Option<f64> {
        self.spread().filter(|_| depth > 0.0).map(|spread| spread / depth)
    }
}

/// Kinds of events.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum EventKind {
    /// The resin was cleaned: the timeline steps.
    Cleaned,
    /// Resin was added: the timeline steps.
    ToppedOff,
    /// A new charge: the timeline begins anew.
    Rebedded,
    /// The valve was rebuilt.
    ValveRebuilt,
    /// Something else, in the note.
    #[default]
    Other,
}

impl EventKind {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Cleaned => "cleaned",
            Self::ToppedOff => "topped off",
            Self::Rebedded => "rebedded",
            Self::ValveRebuilt => "valve rebuilt",
            Self::Other => "noted",
        }
    }

    /// Whether the resin is not the same afterwards.
    pub fn steps(self) -> bool {
        matches!(self, Self::Cleaned | Self::ToppedOff)
    }
}

/// Something done to the bed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Event {
    /// ISO date.
    pub happened_on: String,
    /// What it was.
    pub kind: EventKind,
    /// Resin added, or the new charge's volume.
    pub volume: Option<Amount>,
    /// Class of a new charge, where it is another one.
    pub resin_class: Option<String>,
    /// Lot of the resin.
    pub lot: Option<String>,
    /// Certificate that came with it.
    pub certificate: Option<String>,
    /// Where a sample of the new charge is kept.
    pub kept_sample: Option<String>,
    /// Anything else.
    pub note: Option<String>,
}

impl Store {
    /// Writes down a reading; the same one twice is one.
    ///
    /// # Errors
    /// No such bed, no date, no point, or a store that cannot be written.
    pub fn add_reading(&mut self, bed: &str, reading: &Reading) -> Result<bool, StoreError> {
        day(&reading.taken_on)?;
        if reading.points.is_empty() {
            return Err(StoreError::Refused(format!("{}: a reading needs a number", reading.quantity)));
        }
        let id = self.bed(bed)?.id;
        self.write(|change| {
            Ok(change.execute(
                "INSERT INTO reading (bed, taken_on, body) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING",
                params![id, reading.taken_on, serde_json::to_string(reading)?],
            )? > 0)
        })
    }

    /// Writes down an event; the same one twice is one.
    ///
    /// # Errors
    /// No such bed, no date, or a store that cannot be written.
    pub fn add_event(&mut self, bed: &str, event: &Event) -> Result<bool, StoreError> {
        day(&event.happened_on)?;
        let id = self.bed(bed)?.id;
        self.write(|change| {
            Ok(change.execute(
                "INSERT INTO event (bed, happened_on, body) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING",
                params![id, event.happened_on, serde_json::to_string(event)?],
            )? > 0)
        })
    }

    /// Readings of a bed in order of time.
    ///
    /// # Errors
    /// The store cannot be read.
    pub fn readings(&self, bed: &str) -> Result<Vec<Reading>, StoreError> {
        self.bodies("SELECT body FROM reading WHERE bed = ?1 ORDER BY taken_on, id", bed)
    }

    /// Events of a bed in order of time.
    ///
    /// # Errors
    /// The store cannot be read.
    pub fn events(&self, bed: &str) -> Result<Vec<Event>, StoreError> {
        self.bodies("SELECT body FROM event WHERE bed = ?1 ORDER BY happened_on, id", bed)
    }

    pub(super) fn bodies<T: serde::de::DeserializeOwned>(&self, query: &str, bed: &str) -> Result<Vec<T>, StoreError> {
        self.run(|db| {
            let mut rows = db.prepare_cached(query)?;
            rows.query_map([bed], |row| column(row, 0))?.collect()
        })
    }
}

fn day(date: &str) -> Result<(), StoreError> {
    match first_day(date) {
        Some(_) => Ok(()),
        None => Err(StoreError::Refused(format!("\"{date}\" is no date; write it as 2025-03-31"))),
    }
}
