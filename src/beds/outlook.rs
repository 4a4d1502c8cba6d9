//! Every bed's way ahead, from one pass over the store: what `due` and `rank` are worked out from.
//!
//! Figures of one charge are lined up here, for one bed's history just as for all beds at once.

use super::error::StoreError;
use super::log::{Event, EventKind, Reading};
use super::register::Bed;
use super::series::{Dated, Track, Trend};
use super::store::{Store, column};
use super::timeline::{Charge, charges_of};
use crate::judge::{Limits, Policy, first_day, years_between};
use crate::record::Sample;
use crate::specs::{Class, Specs};
use std::collections::{BTreeMap, BTreeSet};

/// What a sample is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    /// The whole bed as it stood.
    Bed,
    /// One depth of it.
    Depth,
    /// The resin after a cleaning.
    Cleaned,
}

impl Role {
    pub(super) fn of(sample: &Sample) -> Self {
        match (sample.condition.as_deref(), sample.position.as_deref()) {
            (Some("after-cleaning"), _) => Self::Cleaned,
            (_, Some("top" | "middle" | "bottom")) => Self::Depth,
            _ => Self::Bed,
        }
    }

    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Bed => "bed",
            Self::Depth => "depth",
            Self::Cleaned => "cleaned",
        }
    }

    fn from_word(word: &str) -> Self {
        match word {
            "depth" => Self::Depth,
            "cleaned" => Self::Cleaned,
            _ => Self::Bed,
        }
    }
}

/// One figure as it was found.
#[derive(Clone, Debug)]
pub(super) struct Sighting {
    pub on: String,
    pub role: Role,
    pub laboratory: Option<String>,
    pub form: String,
    pub value: f64,
}

/// One figure a day, and the days on which a cleaning shows.
///
/// Cores of several depths on one day are their mean where no core of the whole bed is there. A sample after a cleaning
/// on the day of another is a trial on the bench, and no state of the bed.
pub(super) fn lined_up(sightings: &[Sighting]) -> (Vec<(Dated, String)>, Vec<String>) {
    let days: BTreeSet<&str> = sightings.iter().map(|sighting| sighting.on.as_str()).collect();
    let mut line = Vec::new();
    let mut cleaned = Vec::new();
    for day in days {
        let of = |role: Role| -> Vec<&Sighting> {
            sightings.iter().filter(|sighting| sighting.on == day && sighting.role == role).collect()
        };
        let (bed, depths, after) = (of(Role::Bed), of(Role::Depth), of(Role::Cleaned));
        let group = if !bed.is_empty() {
            bed
        } else if depths.len() > 1 {
            depths
        } else if depths.is_empty() && !after.is_empty() {
            cleaned.push(day.to_owned());
            after
        } else {
            continue;
        };
        let Some(first) = group.first() else { continue };
        let same: Vec<f64> =
            group.iter().filter(|sighting| sighting.form == first.form).map(|sighting| sighting.value).collect();
        let count = f64::from(u32::try_from(same.len()).unwrap_or(u32::MAX)).max(1.0);
        let value = same.iter().sum::<f64>() / count;
        line.push((Dated { on: day.to_owned(), value, laboratory: first.laboratory.clone() }, first.form.clone()));
    }
    (line, cleaned)
}

/// What the capacities of a charge are set against, and what that is.
pub(super) struct NewCapacity {
    values: BTreeMap<String, f64>,
    /// In words.
    pub(super) told: String,
    /// Whether it is the charge's own.
    pub(super) own: bool,
}

impl NewCapacity {
    /// The charge's own first figure where the charge was young then; else the class's.
    pub(super) fn of(
        line: &[(Dated, String)],
        track: &Track,
        class: &Class,
        from: Option<&str>,
        policy: &Policy,
    ) -> Self {
        let class_figure = |form: &str| {
            let form = if form.is_empty() { class.standard_form.as_str() } else { form };
            let figure = class.figure(&track.property, track.basis.as_deref(), Some(form))?;
            figure.typical.as_ref().or(figure.low.as_ref()).map(|bound| bound.value)
        };
        let own = line.first().filter(|(dated, _)| {
            let age = from.and_then(|from| years_between(Some(from), Some(&dated.on)));
            age.is_some_and(|age| age <= policy.limits.baseline_within)
        });
        let mut values = BTreeMap::new();
        for (_, form) in line {
            if let Some(value) = class_figure(form) {
                values.insert(form.clone(), value);
            }
        }
        let mut told = format!("what new resin of the class {} has", class.id);
        if let Some((dated, form)) = own {
            values.insert(form.clone(), dated.value);
            told = format!("the charge's own first analysis, {}", dated.on);
        }
        Self { values, told, own: own.is_some() }
    }

    /// A figure as per cent of new; none in a form that no new figure is known of.
    pub(super) fn percent(&self, value: f64, form: &str) -> Option<f64> {
        self.values.get(form).filter(|new| **new > 0.0).map(|new| 100.0 * value / new)
    }
}

/// Cleanings that were written down, and those that samples show: the one and the sample that proves it are one step.
pub(super) fn with_shown(told: &[String], shown: Vec<String>, limits: &Limits) -> Vec<String> {
    let proves = |day: &String| {
        told.iter()
            .any(|step| years_between(Some(step), Some(day)).is_some_and(|apart| apart * 12.0 <= limits.reading_near))
    };
    let shown: Vec<String> = shown.into_iter().filter(|day| !proves(day)).collect();
    let mut steps = [told, &shown].concat();
    steps.sort();
    steps
}

/// The trend of a charge's capacity.
pub(super) fn capacity_trend(
    sightings: &[Sighting],
    class: &Class,
    from: Option<&str>,
    steps: &[String],
    today: &str,
    policy: &Policy,
) -> Option<(Trend, NewCapacity)> {
    let track = Track::capacity(class, policy);
    let (line, cleaned) = lined_up(sightings);
    let new = NewCapacity::of(&line, &track, class, from, policy);
    let figures: Vec<Dated> = line
        .iter()
        .filter_map(|(dated, form)| Some(Dated { value: new.percent(dated.value, form)?, ..dated.clone() }))
        .collect();
    let steps = with_shown(steps, cleaned, &policy.limits);
    let mut trend = track.trend(&figures, from, &steps, today, policy)?;
    trend.notes.insert(0, format!("Per cent of {}.", new.told));
    Some((trend, new))
}

/// What lies ahead of one bed.
#[derive(Clone, Debug)]
pub struct Outlook {
    /// The register's entry.
    pub bed: Bed,
    /// Class of the charge that is in it.
    pub class: Option<String>,
    /// The charge that is in it.
    pub charge: Charge,
    /// Newest analysis of that charge.
    pub last_on: Option<String>,
    /// Newest event of a kind that changes the resin.
    pub last_step: Option<Event>,
    /// Its capacity's way.
    pub trend: Option<Trend>,
    /// Readings of the charge in order of time.
    pub readings: Vec<Reading>,
}

#[derive(Default)]
struct Gathered {
    told: Vec<(String, String)>,
    dates: Vec<String>,
    sightings: Vec<(String, Sighting)>,
    events: Vec<Event>,
    readings: Vec<Reading>,
}

impl Store {
    /// What lies ahead of each bed, or of those of one site.
    ///
    /// # Errors
    /// The store cannot be read.
    pub fn outlooks(
        &self,
        site: Option<&str>,
        today: &str,
        specs: &Specs,
        policy: &Policy,
    ) -> Result<Vec<Outlook>, StoreError> {
        let mut gathered = self.gathered()?;
        Ok(self
            .beds(site)?
            .into_iter()
            .map(|bed| {
                let found = gathered.remove(&bed.id).unwrap_or_default();
                outlook(bed, found, today, specs, policy)
            })
            .collect())
    }

    fn gathered(&self) -> Result<BTreeMap<String, Gathered>, StoreError> {
        let mut all: BTreeMap<String, Gathered> = BTreeMap::new();
        self.run(|db| {
            let mut rows = db.prepare(
                "SELECT bed, taken_on, installed_on, report.name FROM analysis JOIN report ON report.sha256 = analysis.report
                 WHERE counts = 1",
            )?;
            let mut rows = rows.query([])?;
            while let Some(row) = rows.next()? {
                let entry = all.entry(row.get(0)?).or_default();
                entry.dates.extend(row.get::<_, Option<String>>(1)?);
                if let Some(told) = row.get(2)? {
                    entry.told.push((told, row.get(3)?));
                }
            }
            let mut rows = db.prepare(
                "SELECT bed, taken_on, role, laboratory_key, property, form, value
                 FROM analysis JOIN figure ON figure.analysis = analysis.id
                 WHERE counts = 1 AND taken_on IS NOT NULL AND basis = 'volume'
                   AND property IN ('total_capacity', 'salt_splitting_capacity')",
            )?;
            let mut rows = rows.query([])?;
            while let Some(row) = rows.next()? {
                let sighting = Sighting {
                    on: row.get(1)?,
                    role: Role::from_word(row.get_ref(2)?.as_str()?),
                    laboratory: row.get(3)?,
                    form: row.get(5)?,
                    value: row.get(6)?,
                };
                all.entry(row.get(0)?).or_default().sightings.push((row.get(4)?, sighting));
            }
            let mut rows = db.prepare("SELECT bed, body FROM event ORDER BY happened_on, id")?;
            let mut rows = rows.query([])?;
            while let Some(row) = rows.next()? {
                all.entry(row.get(0)?).or_default().events.push(column(row, 1)?);
            }
            let mut rows = db.prepare("SELECT bed, body FROM reading ORDER BY taken_on, id")?;
            let mut rows = rows.query([])?;
            while let Some(row) = rows.next()? {
                all.entry(row.get(0)?).or_default().readings.push(column(row, 1)?);
            }
            Ok(all)
        })
    }
}

fn outlook(bed: Bed, found: Gathered, today: &str, specs: &Specs, policy: &Policy) -> Outlook {
    let told = found.told.iter().map(|(told, file)| (told.clone(), file.as_str()));
    let charges = charges_of(&bed, &found.events, told);
    let charge = charges.last().cloned().unwrap_or_default();
    let since = charge.from.as_deref().and_then(first_day);
    let is_in = |on: &str| since.is_none_or(|since| first_day(on).is_some_and(|on| on >= since));
    let class_id = charge.resin_class.clone().or_else(|| bed.resin_class.clone());
    let class = class_id.as_deref().and_then(|id| specs.class(id));
    let steps: Vec<String> = found
        .events
        .iter()
        .filter(|event| event.kind == EventKind::Cleaned && is_in(&event.happened_on))
        .map(|event| event.happened_on.clone())
        .collect();
    let trend = class.and_then(|class| {
        let track = Track::capacity(class, policy);
        let own: Vec<Sighting> = found
            .sightings
            .into_iter()
            .filter(|(property, sighting)| *property == track.property && is_in(&sighting.on))
            .map(|(_, sighting)| sighting)
            .collect();
        capacity_trend(&own, class, charge.from.as_deref(), &steps, today, policy).map(|(trend, _)| trend)
    });
    Outlook {
        last_on: found.dates.iter().filter(|on| is_in(on)).max().cloned(),
        last_step: found.events.iter().rev().find(|event| event.kind.steps() && is_in(&event.happened_on)).cloned(),
        readings: found.readings.into_iter().filter(|reading| is_in(&reading.taken_on)).collect(),
        class: class_id,
        bed,
        charge,
        trend,
    }
}
