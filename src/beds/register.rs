//! The register: which beds there are, and what is known of each.

use super::error::StoreError;
use super::names::{Key, slug};
use super::store::{Change, Store, column};
use super::typed::Amount;
use rusqlite::{OptionalExtension, Transaction, params};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A price as somebody gave it: prices carry their date, for they do not keep.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Price {
    /// In `currency` for one litre of resin.
    pub per_litre: f64,
    /// As `USD`.
    pub currency: String,
    /// ISO date.
    pub on: Option<String>,
    /// As it was typed.
    pub as_written: String,
}

/// What is known of one bed. Units are those of the contract; each amount keeps the words that were typed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Bed {
    /// Short name to type; permanent.
    pub id: String,
    /// Plant or customer.
    pub site: String,
    /// Tank, softener, column.
    pub vessel: String,
    /// `softening`, `dealkalizing`, `nitrate`, `organics-scavenging`, `demineralizing`, `polishing`.
    pub duty: Option<String>,
    /// What somebody complains of.
    pub complaint: Option<String>,
    /// Class of the resin.
    pub resin_class: Option<String>,
    /// Product and sheet.
    pub product: Option<String>,
    /// Volume of resin at start-up.
    pub volume: Option<Amount>,
    /// Inner width of the tank.
    pub tank_bore: Option<Amount>,
    /// Straight height of the tank.
    pub tank_height: Option<Amount>,
    /// Freeboard at start-up.
    pub freeboard_at_startup: Option<Amount>,
    /// Water between regenerations when the charge was new.
    pub run_at_startup: Option<Amount>,
    /// ISO date of the first known charge, cut to what is known.
    pub installed_on: Option<String>,
    /// Whether people drink the water.
    pub drinking_water: Option<bool>,
    /// Price of new resin.
    pub resin_price: Option<Price>,
    /// Analysis of the water, by the contract's field quantities.
    pub water: BTreeMap<String, Amount>,
    /// Anything else.
    pub note: Option<String>,
}

impl Bed {
    /// A bed by its two names, with the id made of them.
    pub fn named(site: &str, vessel: &str) -> Self {
        Self {
            id: slug(site, vessel),
            site: site.trim().to_owned(),
            vessel: vessel.trim().to_owned(),
            ..Self::default()
        }
    }

    /// Both names for a sentence.
    pub fn title(&self) -> String {
        match (self.vessel.as_str(), self.site.as_str()) {
            ("", site) => site.to_owned(),
            (vessel, "") => vessel.to_owned(),
            (vessel, site) => format!("{vessel}, {site}"),
        }
    }
}

impl Store {
    /// Registers a bed; gives its id.
    ///
    /// # Errors
    /// The store has a bed of these names, or the names are empty.
    ///
    /// ```
    /// use beadwise::beds::{Bed, Store};
    /// let mut store = Store::in_memory()?;
    /// let id = store.add_bed(&Bed::named("Mill Street Laundry", "Softener 2"))?;
    /// assert_eq!(id, "mill-street-laundry/softener-2");
    /// assert!(store.add_bed(&Bed::named("mill street laundry", "SOFTENER No. 2")).is_err());
    /// # Ok::<(), beadwise::beds::StoreError>(())
    /// ```
    pub fn add_bed(&mut self, bed: &Bed) -> Result<String, StoreError> {
        self.write(|change| insert_bed(change, bed))
    }

    /// Writes a bed's facts anew; its names may change, its id may not.
    ///
    /// # Errors
    /// There is no such bed, or another one has these names.
    pub fn set_bed(&mut self, bed: &Bed) -> Result<(), StoreError> {
        self.write(|change| update_bed(change, bed))
    }

    /// All beds by site and vessel; of one site where one is named.
    ///
    /// # Errors
    /// The store cannot be read.
    pub fn beds(&self, site: Option<&str>) -> Result<Vec<Bed>, StoreError> {
        let wanted = site.map(Key::site);
        let all = self.run(|db| {
            let mut rows = db.prepare("SELECT site_key, facts FROM bed ORDER BY site_key, vessel_key")?;
            rows.query_map([], |row| Ok((row.get::<_, String>(0)?, column::<Bed>(row, 1)?)))?
                .collect::<rusqlite::Result<Vec<_>>>()
        })?;
        Ok(all
            .into_iter()
            .filter(|(key, _)| wanted.as_ref().is_none_or(|wanted| Key::stored(key).could_be(wanted)))
            .map(|(_, bed)| bed)
            .collect())
    }

    /// The bed that is meant: by its id, or by an end of it that no other bed shares.
    ///
    /// # Errors
    /// No bed is called so, or several are; they are named.
    pub fn bed(&self, called: &str) -> Result<Bed, StoreError> {
        let exact = self.run(|db| {
            db.query_row("SELECT facts FROM bed WHERE id = ?1", [called], |row| column::<Bed>(row, 0)).optional()
        })?;
        if let Some(bed) = exact {
            return Ok(bed);
        }
        let all = self.beds(None)?;
        let wanted = called.to_lowercase();
        let mut close: Vec<Bed> = all.into_iter().filter(|bed| bed.id.contains(&wanted)).collect();
        match (close.pop(), close.as_slice()) {
            (Some(bed), []) => Ok(bed),
            (None, _) => {
                Err(StoreError::Refused(format!("{called}: no bed is called so; `beadwise beds list` shows them all")))
            }
            (Some(last), others) => {
                let mut ids: Vec<&str> = others.iter().map(|bed| bed.id.as_str()).collect();
                ids.push(&last.id);
                ids.truncate(8);
                Err(StoreError::Refused(format!("{called}: several beds could be meant: {}", ids.join(", "))))
            }
        }
    }
}

/// Adds a bed inside a change.
pub(super) fn insert_bed(change: &Transaction<'_>, bed: &Bed) -> Result<String, Change> {
    let (site, vessel) = (Key::site(&bed.site), Key::vessel(&bed.vessel));
    if site.is_empty() && vessel.is_empty() || bed.id.is_empty() {
        return Err(Change::Refused("a bed needs the name of its site or its vessel".to_owned()));
    }
    let taken: Option<String> = change
        .query_row(
            "SELECT id FROM bed WHERE site_key = ?1 AND vessel_key = ?2",
            params![site.as_str(), vessel.as_str()],
            |row| row.get(0),
        )
        .optional()?;
    if let Some(taken) = taken {
        return Err(Change::Refused(format!("{}: the store has this bed already, as {taken}", bed.title())));
    }
    // Two names may shorten to one id.
    let mut bed = bed.clone();
    let plain = bed.id.clone();
    let mut next = 2;
    while change.query_row("SELECT count(*) FROM bed WHERE id = ?1", [&bed.id], |row| row.get::<_, i64>(0))? > 0 {
        bed.id = format!("{plain}-{next}");
        next += 1;
    }
    remember_site(change, &site)?;
    change.execute(
        "INSERT INTO bed (id, site_key, vessel_key, facts) VALUES (?1, ?2, ?3, ?4)",
        params![bed.id, site.as_str(), vessel.as_str(), serde_json::to_string(&bed)?],
    )?;
    Ok(bed.id)
}

/// Writes a bed's facts inside a change.
pub(super) fn update_bed(change: &Transaction<'_>, bed: &Bed) -> Result<(), Change> {
    let (site, vessel) = (Key::site(&bed.site), Key::vessel(&bed.vessel));
    let taken: Option<String> = change
        .query_row(
            "SELECT id FROM bed WHERE site_key = ?1 AND vessel_key = ?2 AND id <> ?3",
            params![site.as_str(), vessel.as_str(), bed.id],
            |row| row.get(0),
        )
        .optional()?;
    if let Some(taken) = taken {
        return Err(Change::Refused(format!("{}: another bed has these names, {taken}", bed.title())));
    }
    remember_site(change, &site)?;
    let changed = change.execute(
        "UPDATE bed SET site_key = ?2, vessel_key = ?3, facts = ?4 WHERE id = ?1",
        params![bed.id, site.as_str(), vessel.as_str(), serde_json::to_string(bed)?],
    )?;
    if changed == 0 {
        return Err(Change::Refused(format!("{}: there is no such bed", bed.id)));
    }
    Ok(())
}

/// Writes down the words of a site's key.
pub(super) fn remember_site(change: &Transaction<'_>, site: &Key) -> Result<(), Change> {
    let mut insert =
        change.prepare_cached("INSERT INTO site_word (word, site_key) VALUES (?1, ?2) ON CONFLICT DO NOTHING")?;
    for word in site.as_str().split_whitespace() {
        insert.execute([word, site.as_str()])?;
    }
    Ok(())
}
