//! A bed as it is now: its last analysis, with what is known of the bed and what has happened since beside it.

use super::log::EventKind;
use super::timeline::{Analysis, Timeline};
use crate::judge::{Limits, first_day};
use crate::record::{FieldFigure, Record};

/// What a plan for a bed of the store begins with.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Now {
    /// The last analysis of the charge in the tank, with the bed's own facts and its newest readings beside it; without
    /// measurements where this charge has no analysis.
    pub record: Record,
    /// Field quantities that the store tells and no report.
    pub told: Vec<String>,
    /// What has changed since that analysis, in words.
    pub since: Vec<String>,
}

impl Timeline {
    /// The bed as it is now.
    ///
    /// A reading that is newer than the last analysis takes the place of what its report says of the bed: a report
    /// tells how the bed stood when its jar was filled, and work is planned for the bed of today. What the last report
    /// does not say of water and bore is taken from the newest one that does.
    ///
    /// ```
    /// use beadwise::beds::{Bed, Reading, Store, amount};
    /// use beadwise::judge::Policy;
    /// let mut store = Store::in_memory()?;
    /// let id = store.add_bed(&Bed::named("Mill Street Laundry", "Softener 2"))?;
    /// let points = vec![amount("freeboard", "30 in")?];
    /// store.add_reading(&id, &Reading { taken_on: "2025-03-01".into(), quantity: "freeboard".into(), points, ..Reading::default() })?;
    /// let now = store.timeline(&id)?.now(&Policy::builtin()?.limits);
    /// assert_eq!(now.record.field[0].value, Some(0.762));
    /// assert_eq!(now.since, ["This charge has no analysis yet: the plan rests on new resin of its class."]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn now(&self, limits: &Limits) -> Now {
        let charge = self.current();
        let last = self.analyses.iter().rev().find(|analysis| {
            analysis.charge == charge && analysis.counts && analysis.on.is_some() && analysis.stands_for_bed()
        });
        let none = Analysis { report: String::new(), on: None, counts: true, record: Record::default(), charge };
        let analysis = last.unwrap_or(&none);
        let mut record = self.case(analysis, limits);
        let was_told = |quantity: &str| analysis.record.field.iter().any(|figure| figure.quantity == quantity);
        let mut told: Vec<String> =
            record.field.iter().map(|figure| figure.quantity.clone()).filter(|quantity| !was_told(quantity)).collect();
        // The water and the tank are the same whoever last told of them.
        let lasting = |quantity: &str| quantity.starts_with("feed_") || quantity == "tank_bore";
        for other in self.analyses.iter().rev().filter(|other| other.counts) {
            for figure in
                other.record.field.iter().filter(|figure| lasting(&figure.quantity) && figure.doubts.is_empty())
            {
                if !record.field.iter().any(|known| known.quantity == figure.quantity) {
                    told.push(figure.quantity.clone());
                    record.field.push(figure.clone());
                }
            }
        }
        let mut since = Vec::new();
        if last.is_none() {
            since.push("This charge has no analysis yet: the plan rests on new resin of its class.".to_owned());
        }
        let begun = self.charges.get(charge).and_then(|charge| charge.from.clone());
        let after = |on: &str, than: &Option<String>| {
            let than = than.as_deref().and_then(first_day);
            than.is_none_or(|than| first_day(on).is_some_and(|on| on >= than))
        };
        let from = analysis.on.clone().or(begun);
        for reading in self.readings.iter().filter(|reading| after(&reading.taken_on, &from)) {
            record.field.retain(|figure| figure.quantity != reading.quantity);
            record.field.push(FieldFigure {
                quantity: reading.quantity.clone(),
                value: reading.mean(),
                unit: Some(reading.unit().to_owned()),
                as_written: format!("read at the bed on {}", reading.taken_on),
                ..FieldFigure::default()
            });
            if reading.quantity == "freeboard" {
                record.sample.cycle_state = reading.state.word().map(str::to_owned);
            }
            if !told.contains(&reading.quantity) {
                told.push(reading.quantity.clone());
            }
        }
        let later = self.events.iter().filter(|event| event.kind != EventKind::Rebedded && last.is_some());
        for event in later.filter(|event| after(&event.happened_on, &analysis.on)) {
            let warns = match event.kind {
                EventKind::Cleaned | EventKind::ToppedOff => {
                    ": the analysis is older, so sample again before more is done"
                }
                _ => "",
            };
            since.push(format!("{} {}{warns}.", event.happened_on, event.kind.words()));
        }
        Now { record, told, since }
    }
}
