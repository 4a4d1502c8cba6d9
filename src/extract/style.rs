//! Number style and date order of a part, settled once, with evidence.

use crate::document::{Part, Typed};
use crate::value::{self, Decimal, StyleUse, date};

/// What a part of a document proves of its own numbers and dates.
#[derive(Clone, Debug, Default)]
pub struct Style {
    /// Figures that can only have a decimal point.
    pub points: usize,
    /// Figures that can only have a decimal comma.
    pub commas: usize,
    /// Dates that can only have the day first, and the month first.
    pub day_first: usize,
    /// See `day_first`.
    pub month_first: usize,
}

impl Style {
    /// Gathers the evidence of a part.
    pub fn of(part: &Part) -> Self {
        let mut style = Self::default();
        for line in part.pages.iter().flat_map(|p| &p.lines) {
            if line.table.is_some() {
                for word in
                    line.words.iter().filter(|w| !matches!(w.typed, Some(Typed::Number { .. } | Typed::Date(_))))
                {
                    style.see(&word.text);
                }
            } else {
                style.see(&line.text());
            }
        }
        style
    }

    fn see(&mut self, text: &str) {
        let dates = date::find_dates(text);
        for found in &dates {
            match found.order {
                Some(date::Order::DayFirst) => self.day_first += 1,
                Some(date::Order::MonthFirst) => self.month_first += 1,
                None => {}
            }
        }
        // Both passes, since a figure is only found in the style that it can be read in.
        for located in value::find(text, Decimal::Point) {
            let in_date = dates.iter().any(|d| located.start < d.end && d.start < located.end);
            let numbering = located.start == 0
                && located.end < text.len()
                && located.value.unit.is_none()
                && text.len() > 12
                && text.get(located.end..).is_some_and(|t| t.trim_start().starts_with(char::is_alphabetic));
            if in_date || numbering {
                continue;
            }
            match located.value.styles {
                StyleUse::Proves(Decimal::Point) => self.points += 1,
                StyleUse::Proves(Decimal::Comma) => self.commas += 1,
                _ => {}
            }
        }
    }

    /// The decimal mark that the part proves; none where nothing does, or both are proved alike.
    pub fn decimal(&self) -> Option<Decimal> {
        match (self.points, self.commas) {
            (0, 0) => None,
            (points, commas) if points >= 4 * commas => Some(Decimal::Point),
            (points, commas) if commas >= 4 * points => Some(Decimal::Comma),
            _ => None,
        }
    }

    /// Whether days come first in the part's dates; none where nothing or both is proved.
    pub fn order(&self) -> Option<date::Order> {
        match (self.day_first, self.month_first) {
            (0, 0) => None,
            (_, 0) => Some(date::Order::DayFirst),
            (0, _) => Some(date::Order::MonthFirst),
            _ => None,
        }
    }

    /// Reads a cell: the figure, and the figure in the other style where the part does not decide between two.
    pub fn value(&self, text: &str) -> Option<(value::Value, Option<value::Value>)> {
        let settled = self.decimal();
        let first = settled.unwrap_or(Decimal::Point);
        let Some(value) = value::parse(text, first) else {
            return super::phrases::share(text, self).map(|share| (share, None));
        };
        let other = self.other(&value, settled, || value::parse(text, Decimal::Comma));
        Some((value, other))
    }

    /// Figures in running text, each with its other reading.
    pub fn find(&self, text: &str) -> Vec<(value::Located, Option<value::Value>)> {
        let settled = self.decimal();
        value::find(text, settled.unwrap_or(Decimal::Point))
            .into_iter()
            .map(|located| {
                let slice = text.get(located.start..located.end).unwrap_or_default();
                let other = self.other(&located.value, settled, || value::parse(slice, Decimal::Comma));
                (located, other)
            })
            .collect()
    }

    fn other(
        &self,
        value: &value::Value,
        settled: Option<Decimal>,
        read: impl Fn() -> Option<value::Value>,
    ) -> Option<value::Value> {
        if settled.is_some() || value.styles != StyleUse::Ambiguous {
            return None;
        }
        read().filter(|other| other.value != value.value || other.high != value.high)
    }
}
