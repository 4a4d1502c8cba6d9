//! Filing: a report under the beds that its records speak of, in one change.
//!
//! A record's bed is known by site and vessel. What could be two beds is not decided here: [`Store::place`] says so,
//! and whoever files decides.

use super::error::StoreError;
use super::names::Key;
use super::register::{Bed, insert_bed, update_bed};
use super::rows::{Row, compressed, expanded, insert_analysis};
use super::store::{Change, Store, column};
use super::typed::Amount;
use crate::judge::first_day;
use crate::record::{FileReading, Record, Sample};
use rusqlite::{OptionalExtension, Transaction, params};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// Where a record belongs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "placing")]
pub enum Placing {
    /// Under this bed.
    Known {
        /// Its id.
        bed: String,
    },
    /// Under a bed that the store does not know.
    Unknown,
    /// Under one of these, or under a new one.
    Unsure {
        /// Their ids.
        beds: Vec<String>,
    },
    /// The report names neither site nor vessel, or not enough of them.
    Nameless,
}

/// What somebody decided for a record.
#[derive(Clone, Debug, PartialEq)]
pub enum Target {
    /// Under this bed; remembered for these names.
    Bed(String),
    /// Under a new bed.
    New(Box<Bed>),
}

/// What somebody says of a record over the report: kept beside it, and said again when the report is read again.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Given {
    /// Name of the site.
    pub site: Option<String>,
    /// Name of the vessel.
    pub vessel: Option<String>,
    /// ISO date of the sampling.
    pub sampled_on: Option<String>,
}

impl Given {
    /// Says it of a record.
    pub fn apply(&self, record: &mut Record) {
        let sample = &mut record.sample;
        for (place, given) in [
            (&mut sample.site, &self.site),
            (&mut sample.vessel, &self.vessel),
            (&mut sample.sampled_on, &self.sampled_on),
        ] {
            if given.is_some() {
                place.clone_from(given);
            }
        }
    }
}

/// A record with its bed.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// The record, with what is given already said of it.
    pub record: Record,
    /// What somebody says of it over the report.
    pub given: Given,
    /// Where it goes.
    pub target: Target,
}

/// What to do where the store has another file of the same laboratory and report number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Twin {
    /// Refuse.
    Refuse,
    /// The new file takes the old one's place, which stays in the store and no longer counts.
    Replace,
    /// Both count.
    Beside,
}

/// A report to file.
#[derive(Clone, Debug)]
pub struct Report<'a> {
    /// The file's bytes.
    pub bytes: &'a [u8],
    /// What was left aside in it.
    pub reading: &'a FileReading,
    /// Each record with its bed.
    pub records: &'a [Placed],
    /// ISO date of the filing.
    pub today: &'a str,
    /// What to do with a twin.
    pub twin: Twin,
}

/// What a filing came to.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Filed {
    /// The store held these bytes already, and nothing changed.
    pub already: bool,
    /// The bed of each record, in their order.
    pub beds: Vec<String>,
    /// Beds that were registered for it.
    pub new_beds: Vec<String>,
    /// Facts that a bed lacked and the report told, in words.
    pub learned: Vec<String>,
    /// Names of files whose place it took.
    pub replaced: Vec<String>,
}

impl Store {
    /// Whether a file of this hash is filed.
    ///
    /// # Errors
    /// The store cannot be read.
    pub fn has_report(&self, sha256: &str) -> Result<bool, StoreError> {
        self.run(|db| {
            db.query_row("SELECT count(*) FROM report WHERE sha256 = ?1", [sha256], |row| row.get::<_, i64>(0))
        })
        .map(|count| count > 0)
    }

    /// Where a sample belongs, by the names of its site and vessel.
    ///
    /// # Errors
    /// The store cannot be read.
    pub fn place(&self, sample: &Sample) -> Result<Placing, StoreError> {
        let site = Key::site(sample.site.as_deref().unwrap_or_default());
        let vessel = Key::vessel(sample.vessel.as_deref().unwrap_or_default());
        let known: Option<String> = self.run(|db| {
            db.query_row(
                "SELECT id FROM bed WHERE site_key = ?1 AND vessel_key = ?2
                 UNION SELECT bed FROM alias WHERE site_key = ?1 AND vessel_key = ?2",
                params![site.as_str(), vessel.as_str()],
                |row| row.get(0),
            )
            .optional()
        })?;
        if let Some(bed) = known.filter(|_| !site.is_empty() && !vessel.is_empty()) {
            return Ok(Placing::Known { bed });
        }
        if site.is_empty() && vessel.is_empty() {
            return Ok(Placing::Nameless);
        }
        let beds = self.run(|db| could_be(db, &site, &vessel))?;
        Ok(match beds {
            beds if !beds.is_empty() => Placing::Unsure { beds },
            _ if site.is_empty() || vessel.is_empty() => Placing::Nameless,
            _ => Placing::Unknown,
        })
    }

    /// Names of filed files of the same laboratory and report number, other than this one.
    ///
    /// # Errors
    /// The store cannot be read.
    pub fn twins(&self, sha256: &str, records: &[Record]) -> Result<Vec<String>, StoreError> {
        self.run(|db| twins(db, sha256, records.iter())).map(|found| found.into_iter().map(|(_, name)| name).collect())
    }

    /// Files a report: entirely, or not at all.
    ///
    /// # Errors
    /// A bed that is not there, a twin that nobody decided on, or a store that cannot be written.
    pub fn file(&mut self, report: &Report<'_>) -> Result<Filed, StoreError> {
        let source = &report.reading.source;
        let content = compressed(report.bytes)
            .map_err(|error| StoreError::Refused(format!("{}: it could not be compressed: {error}", source.file)))?;
        self.write(|change| {
            let there: i64 =
                change.query_row("SELECT count(*) FROM report WHERE sha256 = ?1", [&source.sha256], |row| row.get(0))?;
            if there > 0 {
                let beds = beds_of(change, &source.sha256)?;
                return Ok(Filed { already: true, beds, ..Filed::default() });
            }
            let mut filed = Filed::default();
            let twins = twins(change, &source.sha256, report.records.iter().map(|placed| &placed.record))?;
            for (sha256, name) in twins {
                match report.twin {
                    Twin::Refuse => {
                        return Err(Change::Refused(format!(
                            "{}: the store has this report number of this laboratory already, as {name}",
                            source.file
                        )));
                    }
                    Twin::Replace => {
                        change.execute("UPDATE analysis SET counts = 0 WHERE report = ?1", [&sha256])?;
                        filed.replaced.push(name);
                    }
                    Twin::Beside => {}
                }
            }
            change.execute(
                "INSERT INTO report (sha256, name, size, content, reading, filed_on, read_by) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                params![
                    source.sha256,
                    source.file,
                    i64::try_from(report.bytes.len()).unwrap_or(i64::MAX),
                    content,
                    serde_json::to_string(report.reading)?,
                    report.today,
                    env!("CARGO_PKG_VERSION"),
                ],
            )?;
            for (at, placed) in report.records.iter().enumerate() {
                let Placed { record, given, target } = placed;
                let bed = match target {
                    Target::Bed(bed) => bed.clone(),
                    Target::New(bed) => match named(change, bed)? {
                        // Two records of one report may name one new bed.
                        Some(there) => there,
                        None => {
                            let id = insert_bed(change, bed)?;
                            filed.new_beds.push(id.clone());
                            id
                        }
                    },
                };
                remember(change, &bed, &record.sample)?;
                filed.learned.extend(learn(change, &bed, record)?);
                let number = i64::try_from(at + 1).unwrap_or(i64::MAX);
                insert_analysis(change, &Row::of(&source.sha256, number, &bed, record, given))?;
                filed.beds.push(bed);
            }
            Ok(filed)
        })
    }

    /// The bytes of a filed report.
    ///
    /// # Errors
    /// There is none of this hash, or it is damaged.
    pub fn original(&self, sha256: &str) -> Result<Vec<u8>, StoreError> {
        let content: Option<Vec<u8>> = self.run(|db| {
            db.query_row("SELECT content FROM report WHERE sha256 = ?1", [sha256], |row| row.get(0)).optional()
        })?;
        let content =
            content.ok_or_else(|| StoreError::Refused(format!("{sha256}: no report of this hash is filed")))?;
        expanded(&content).map_err(|error| StoreError::Damaged {
            path: self.path().to_owned(),
            what: format!("the file of report {sha256} cannot be unpacked: {error}"),
        })
    }
}

/// Names of more words than this are compared with every bed's.
const MANY_WORDS: usize = 8;

/// Beds that could be meant by these names, in the order of their ids.
fn could_be(db: &rusqlite::Connection, site: &Key, vessel: &Key) -> rusqlite::Result<Vec<String>> {
    let words: Vec<&str> = site.as_str().split_whitespace().collect();
    let pick = |row: &rusqlite::Row<'_>| {
        let (id, s, v): (String, String, String) = (row.get(0)?, row.get(1)?, row.get(2)?);
        Ok((Key::stored(&s).could_be(site) && Key::stored(&v).could_be(vessel)).then_some(id))
    };
    if words.is_empty() || words.len() > MANY_WORDS {
        let mut rows = db.prepare_cached("SELECT id, site_key, vessel_key FROM bed ORDER BY id")?;
        return rows.query_map([], pick)?.filter_map(Result::transpose).collect();
    }
    // Keys that are made of some of these words; the words of a key stand in order. No word: a bed without a site.
    let mut sites: BTreeSet<String> = (0..1_u32 << words.len())
        .map(|some| {
            let kept: Vec<&str> =
                words.iter().enumerate().filter(|(at, _)| some >> at & 1 == 1).map(|(_, w)| *w).collect();
            kept.join(" ")
        })
        .collect();
    // Keys that hold all of these words are among those that hold the rarest of them.
    let mut count = db.prepare_cached("SELECT count(*) FROM (SELECT 1 FROM site_word WHERE word = ?1 LIMIT 100)")?;
    let mut rarest: Option<(i64, &str)> = None;
    for word in &words {
        let found: i64 = count.query_row([word], |row| row.get(0))?;
        if rarest.is_none_or(|(least, _)| found < least) {
            rarest = Some((found, word));
        }
    }
    let mut holding = db.prepare_cached("SELECT site_key FROM site_word WHERE word = ?1")?;
    for key in holding.query_map([rarest.map_or("", |(_, word)| word)], |row| row.get::<_, String>(0))? {
        let key = key?;
        if Key::stored(&key).could_be(site) {
            sites.insert(key);
        }
    }
    let mut rows = db.prepare_cached("SELECT id, site_key, vessel_key FROM bed WHERE site_key = ?1")?;
    let mut beds = Vec::new();
    for key in sites {
        for bed in rows.query_map([&key], pick)? {
            beds.extend(bed?);
        }
    }
    beds.sort();
    Ok(beds)
}

/// The facts that a record tells of its bed, for the register.
pub fn bed_of(record: &Record) -> Bed {
    let sample = &record.sample;
    let mut bed = Bed::named(sample.site.as_deref().unwrap_or_default(), sample.vessel.as_deref().unwrap_or_default());
    bed.duty.clone_from(&sample.duty);
    bed.resin_class.clone_from(&sample.resin_class);
    bed.product.clone_from(&sample.resin_as_written);
    bed.installed_on.clone_from(&sample.installed_on);
    bed.drinking_water = sample.drinking_water;
    let plain = |quantity: &str| {
        let figure = record.field.iter().find(|f| f.quantity == quantity && f.doubts.is_empty())?;
        Some(Amount { value: figure.value?, unit: figure.unit.clone()?, as_written: figure.as_written.clone() })
    };
    bed.volume = plain("bed_volume_at_startup");
    bed.tank_bore = plain("tank_bore");
    bed.freeboard_at_startup = plain("freeboard_at_startup");
    bed
}

/// The day that stands for an analysis: sampled, else received, else reported.
pub fn taken_on(sample: &Sample) -> Option<String> {
    [&sample.sampled_on, &sample.received_on, &sample.reported_on]
        .into_iter()
        .flatten()
        .find(|date| first_day(date).is_some())
        .cloned()
}

fn named(change: &Transaction<'_>, bed: &Bed) -> Result<Option<String>, Change> {
    Ok(change
        .query_row(
            "SELECT id FROM bed WHERE site_key = ?1 AND vessel_key = ?2",
            params![Key::site(&bed.site).as_str(), Key::vessel(&bed.vessel).as_str()],
            |row| row.get(0),
        )
        .optional()?)
}

/// Remembers whole names under which somebody filed a record with a bed of other names.
fn remember(change: &Transaction<'_>, bed: &str, sample: &Sample) -> Result<(), Change> {
    let site = Key::site(sample.site.as_deref().unwrap_or_default());
    let vessel = Key::vessel(sample.vessel.as_deref().unwrap_or_default());
    if site.is_empty() || vessel.is_empty() {
        return Ok(());
    }
    change.execute(
        "INSERT INTO alias (site_key, vessel_key, bed)
         SELECT ?1, ?2, ?3 WHERE NOT EXISTS (SELECT 1 FROM bed WHERE site_key = ?1 AND vessel_key = ?2)
         ON CONFLICT DO NOTHING",
        params![site.as_str(), vessel.as_str(), bed],
    )?;
    Ok(())
}

/// Fills in what the register lacks; what it has is never overwritten by a report.
fn learn(change: &Transaction<'_>, id: &str, record: &Record) -> Result<Vec<String>, Change> {
    let bed: Option<Bed> =
        change.query_row("SELECT facts FROM bed WHERE id = ?1", [id], |row| column(row, 0)).optional()?;
    let Some(bed) = bed else { return Err(Change::Refused(format!("{id}: there is no such bed"))) };
    let told = bed_of(record);
    let mut new = bed.clone();
    let mut learned = Vec::new();
    macro_rules! fill {
        ($($field:ident $words:literal $show:expr;)*) => {$(
            if let (None, Some(value)) = (&new.$field, &told.$field) {
                learned.push(format!("{id}: {} {}", $words, $show(value)));
                new.$field = Some(value.clone());
            }
        )*};
    }
    let text = |value: &String| value.clone();
    let amount = |value: &Amount| value.as_written.clone();
    fill! {
        duty "duty" text;
        resin_class "resin class" text;
        product "resin" text;
        installed_on "installed on" text;
        drinking_water "drinking water" |yes: &bool| if *yes { "yes" } else { "no" };
        volume "volume at start-up" amount;
        tank_bore "tank bore" amount;
        freeboard_at_startup "freeboard at start-up" amount;
    }
    if new != bed {
        update_bed(change, &new)?;
    }
    Ok(learned)
}

fn beds_of(change: &Transaction<'_>, sha256: &str) -> rusqlite::Result<Vec<String>> {
    let mut rows = change.prepare("SELECT bed FROM analysis WHERE report = ?1 ORDER BY number")?;
    rows.query_map([sha256], |row| row.get(0))?.collect()
}

fn twins<'a>(
    db: &rusqlite::Connection,
    sha256: &str,
    records: impl Iterator<Item = &'a Record>,
) -> rusqlite::Result<Vec<(String, String)>> {
    let mut found: Vec<(String, String)> = Vec::new();
    let mut rows = db.prepare_cached(
        "SELECT DISTINCT report.sha256, report.name FROM analysis JOIN report ON report.sha256 = analysis.report
         WHERE number_key = ?1 AND laboratory_key IS ?2 AND counts = 1 AND report.sha256 <> ?3",
    )?;
    for record in records {
        let Some(number) = record.sample.report_number.as_deref().map(Key::plain).filter(|key| !key.is_empty()) else {
            continue;
        };
        let laboratory = record
            .sample
            .laboratory
            .as_deref()
            .map(Key::plain)
            .filter(|key| !key.is_empty())
            .map(|key| key.as_str().to_owned());
        for twin in
            rows.query_map(params![number.as_str(), laboratory, sha256], |row| Ok((row.get(0)?, row.get(1)?)))?
        {
            let twin = twin?;
            if !found.contains(&twin) {
                found.push(twin);
            }
        }
    }
    Ok(found)
}
