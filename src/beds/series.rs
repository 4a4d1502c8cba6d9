//! A property of one charge over the years: its line, its limit, and when the two meet.
//!
//! Takes dated figures and what is known of the class, gives a [`Trend`]. Class experience stands in the
//! specifications, uncertainties and limits in the policy; none stands here.

use super::forecast::{Line, Oddity, Point, Prior, draw};
use super::regress::{Belief, Scatter};
use crate::judge::{Policy, first_day, months_on};
use crate::specs::{Class, Family, Structure};
use serde::Serialize;

/// Half the width of the middle eighty in a hundred of a normal distribution, in deviations.
const MIDDLE_EIGHTY: f64 = 1.281_552;

/// One figure on one day.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Dated {
    /// ISO date.
    pub on: String,
    /// In the unit of the series.
    pub value: f64,
    /// Who analysed it.
    pub laboratory: Option<String>,
}

/// What a series is of.
#[derive(Clone, Debug, PartialEq)]
pub struct Track {
    /// Property of the contract, or `score`.
    pub property: String,
    /// Basis of the contract.
    pub basis: Option<String>,
    /// Unit of its values: `% of new` for capacities.
    pub unit: String,
    /// The limit, whether the property falls towards it, and where it comes from.
    pub limit: Option<(f64, bool, String)>,
    prior: Prior,
    /// Age, in years, before which a figure is not on the line.
    settles: f64,
    /// Loss in a year that must be looked into.
    fast: Option<f64>,
}

/// When a limit is met.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Meets {
    /// ISO date: with a chance of one in ten it is earlier. None: not within the years looked at.
    pub earliest: Option<String>,
    /// As likely earlier as later.
    pub likely: Option<String>,
    /// With a chance of one in ten it is later.
    pub latest: Option<String>,
}

/// Change in a year, in the unit of the series.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Slope {
    /// With a chance of one in ten it is lower.
    pub low: f64,
    /// Best.
    pub best: f64,
    /// With a chance of one in ten it is higher.
    pub high: f64,
    /// Robust slope of Theil and Sen, from the figures alone; none for a single one, or across a cleaning.
    pub robust: Option<f64>,
}

/// A property on its way.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Trend {
    /// Property of the contract, or `score`.
    pub property: String,
    /// Basis of the contract.
    pub basis: Option<String>,
    /// Unit of its values.
    pub unit: String,
    /// Figures on the line.
    pub count: usize,
    /// The figures.
    pub points: Vec<Dated>,
    /// Dates of figures that are not on the line, each with the reason.
    pub left_out: Vec<(String, String)>,
    /// Change in a year, with an interval of eighty in a hundred.
    pub per_year: Slope,
    /// The line on the day that was asked for.
    pub now: f64,
    /// Half of the interval of eighty in a hundred around it.
    pub now_within: f64,
    /// The limit.
    pub limit: Option<f64>,
    /// Where the limit comes from.
    pub limit_source: Option<String>,
    /// When it is met.
    pub meets: Option<Meets>,
    /// Whether it runs faster than good service takes.
    pub fast: bool,
    /// What the line rests on, and what should be known of it.
    pub notes: Vec<String>,
    #[serde(skip)]
    line: Option<(Line, chrono::NaiveDate, bool)>,
}

impl Track {
    /// The capacity that a class is judged by: total of cation resins and weak-base ones, strong-base of the others.
    pub fn capacity(class: &Class, policy: &Policy) -> Self {
        let limits = &policy.limits;
        let strong = class.family == Family::Sba;
        let (name, loss) = if strong {
            ("strong_loss_replace", limits.strong_loss_replace)
        } else {
            ("capacity_loss_replace", limits.capacity_loss_replace)
        };
        let source = policy.limit(name).map(|limit| limit.source.clone()).unwrap_or_default();
        let low = class.fact("loss_per_year_low");
        let high = class.fact("loss_per_year_high");
        let slope = low.zip(high).map_or(Belief::FLAT, |(low, high)| Belief {
            mean: -100.0 * f64::midpoint(low, high),
            sd: 100.0 * (high - low) / 2.0 / MIDDLE_EIGHTY,
        });
        let first = class.fact("first_year_loss");
        let start = match (strong, first) {
            (true, first) => Belief { mean: 100.0 * (1.0 - first.unwrap_or(0.0)), sd: 100.0 * limits.anion_start_sd },
            (false, _) => Belief { mean: 100.0, sd: 100.0 * limits.trend_start_sd },
        };
        Self {
            property: if strong { "salt_splitting_capacity" } else { "total_capacity" }.to_owned(),
            basis: Some("volume".to_owned()),
            unit: "% of new".to_owned(),
            limit: Some((100.0 * (1.0 - loss), true, source)),
            prior: Prior {
                start,
                slope,
                scatter: Scatter {
                    sd: 100.0 * limits.capacity_sd.hypot(limits.trend_core_sd),
                    worth: limits.trend_worth,
                },
                laboratories: Some(100.0 * limits.trend_laboratory_sd),
                step: Belief { mean: 0.0, sd: 100.0 * limits.trend_step_sd },
            },
            settles: if strong { limits.anion_settles } else { 0.0 },
            fast: (!strong).then_some(100.0 * limits.capacity_loss_per_year),
        }
    }

    /// The other properties that have a limit of their own in a class, and the score.
    pub fn others(class: &Class, policy: &Policy) -> Vec<Self> {
        let limits = &policy.limits;
        let source = |name: &str| policy.limit(name).map(|limit| limit.source.clone()).unwrap_or_default();
        let plain = |property: &str, basis: Option<&str>, unit: &str, sd: f64, limit| Self {
            property: property.to_owned(),
            basis: basis.map(str::to_owned),
            unit: unit.to_owned(),
            limit,
            prior: Prior { scatter: Scatter { sd, worth: limits.trend_worth }, ..Prior::FLAT },
            settles: 0.0,
            fast: None,
        };
        let standard = Some(class.standard_form.as_str());
        let moisture = class.figure("moisture_retention", None, standard).and_then(|figure| {
            let most = figure.high.as_ref().or(figure.typical.as_ref())?.value;
            match (class.family, class.structure) {
                (Family::Sac, Structure::Gel) => {
                    Some((most + limits.moisture_rise_replace, false, source("moisture_rise_replace")))
                }
                (Family::Sba, Structure::Gel) if class.id.starts_with("sba1") => {
                    Some((limits.anion_moisture_floor, true, source("anion_moisture_floor")))
                }
                _ => None,
            }
        });
        // Of the widest case, a bed with half of its beads whole.
        let counted = 50.0 / limits.bead_count.max(1.0).sqrt();
        let whole = Some((limits.whole_beads_supported, true, source("whole_beads_supported")));
        let iron = policy
            .band("iron", Some("dry_mass"), class.family)
            .map(|band| (band.poor(), false, "from here a cleaning is called for".to_owned()));
        let iron_sd = iron.as_ref().map_or(1.0, |(poor, ..)| poor * limits.metal_sd);
        vec![
            plain("moisture_retention", None, "%", limits.moisture_sd, moisture),
            plain("whole_beads", None, "%", counted, whole),
            plain("iron", Some("dry_mass"), "mg/kg", iron_sd, iron),
            plain("score", None, "points", limits.trend_score_sd, None),
        ]
    }

    /// The trend through some figures of one charge.
    ///
    /// `from` is the day the charge was put in, `steps` the days on which it was cleaned or topped off, `today` the day
    /// that the answer is for. None where the figures are too few to draw a line.
    pub fn trend(
        &self,
        figures: &[Dated],
        from: Option<&str>,
        steps: &[String],
        today: &str,
        policy: &Policy,
    ) -> Option<Trend> {
        let limits = &policy.limits;
        let dated = |figure: &Dated| first_day(&figure.on);
        let start = from.and_then(first_day);
        let zero = start.or_else(|| figures.iter().filter_map(dated).min())?;
        let years =
            |day: chrono::NaiveDate| f64::from(i32::try_from((day - zero).num_days()).unwrap_or(i32::MAX)) / 365.25;
        let mut left_out = Vec::new();
        let mut laboratories: Vec<String> = Vec::new();
        let mut points = Vec::new();
        let mut used: Vec<Dated> = Vec::new();
        for figure in figures {
            let Some(day) = dated(figure).filter(|_| figure.value.is_finite()) else { continue };
            if start.is_some() && years(day) < self.settles {
                left_out.push((
                    figure.on.clone(),
                    "the first loss of a new anion charge is steeper than its line".to_owned(),
                ));
                continue;
            }
            let name = figure.laboratory.as_deref().map(|name| super::names::Key::plain(name).as_str().to_owned());
            let laboratory = name.unwrap_or_default();
            let number = laboratories.iter().position(|known| *known == laboratory).unwrap_or_else(|| {
                laboratories.push(laboratory);
                laboratories.len() - 1
            });
            points.push(Point { years: years(day), value: figure.value, laboratory: number });
            used.push(figure.clone());
        }
        let last = points.iter().map(|point| point.years).fold(0.0, f64::max);
        let steps: Vec<f64> =
            steps.iter().filter_map(|day| first_day(day)).map(years).filter(|at| *at > 0.0 && *at <= last).collect();
        let mut prior = self.prior;
        if start.is_none() {
            prior.start = Belief::FLAT;
        }
        if points.is_empty() {
            return None;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small count from the policy")]
        let oddity = Oddity { points: limits.trend_odd_points as usize, deviations: limits.trend_odd_deviations };
        let line = draw(&points, &steps, &prior, oddity)?;
        let mut notes = Vec::new();
        if let Some(odd) = line.odd.and_then(|at| used.get(at)) {
            let newest = used.iter().all(|other| other.on <= odd.on);
            left_out.push((
                odd.on.clone(),
                format!("it lies {:.1} deviations off the line of all the others", line.odd_by),
            ));
            notes.push(if newest {
                format!(
                    "The newest analysis, {}, does not fit the others: have it repeated before anything is done on it.",
                    odd.on
                )
            } else {
                format!("The analysis of {} does not fit the others and is left out of the line.", odd.on)
            });
        }
        if laboratories.len() > 1 {
            notes.push(format!(
                "{} laboratories: a step between them counts less than wear within one.",
                laboratories.len()
            ));
        }
        let now_at = first_day(today).map_or(last, years).max(0.0);
        let (now, deviation) = line.at(now_at);
        // A line may leave what the scale holds; what is told may not.
        let now = if matches!(self.unit.as_str(), "%" | "points") { now.clamp(0.0, 100.0) } else { now.max(0.0) };
        let (low, best, high) = line.slope(0.8);
        let reach = MIDDLE_EIGHTY * deviation;
        let count = used.len() - usize::from(line.odd.is_some());
        if count < 3 && prior.slope != Belief::FLAT {
            notes.push("So few analyses leave most to what its class has shown elsewhere.".to_owned());
        }
        if start.is_none() {
            notes.push("When the charge was put in is not known: the line starts at the first analysis.".to_owned());
        }
        let falls_fast = self.fast.is_some_and(|fast| -best > fast);
        if falls_fast {
            notes.push(
                "It falls faster than good service takes: look for the cause (UFC 3-240-13FN, 2-2.5.1.4.1).".to_owned(),
            );
        }
        let horizon = now_at + limits.trend_horizon;
        let meets = self.limit.as_ref().map(|(limit, falling, _)| {
            let met = line.meets(*limit, *falling, last.min(now_at), horizon);
            let date = |at: Option<f64>| at.and_then(|at| on_line(zero, at));
            Meets { earliest: date(met.earliest), likely: date(met.likely), latest: date(met.latest) }
        });
        // Through a step the slopes between pairs mean nothing.
        let robust = line.robust_slope.filter(|_| steps.is_empty());
        let falling = self.limit.as_ref().is_none_or(|(_, falling, _)| *falling);
        Some(Trend {
            property: self.property.clone(),
            basis: self.basis.clone(),
            unit: self.unit.clone(),
            count,
            points: used,
            left_out,
            per_year: Slope { low, best, high, robust },
            now,
            now_within: reach,
            limit: self.limit.as_ref().map(|(limit, ..)| *limit),
            limit_source: self.limit.as_ref().map(|(_, _, source)| source.clone()),
            meets,
            fast: falls_fast,
            notes,
            line: Some((line, zero, falling)),
        })
    }
}

impl Trend {
    /// Chance that the limit has been met by a day; none where there is no limit.
    pub fn chance_by(&self, day: &str) -> Option<f64> {
        let (line, zero, falling) = self.line.as_ref()?;
        let years = f64::from(i32::try_from((first_day(day)? - *zero).num_days()).ok()?) / 365.25;
        Some(line.chance(self.limit?, *falling, years.max(0.0)))
    }
}

impl Trend {
    /// The line on a day, in the unit of the series; none where there is no such day.
    pub fn at(&self, day: &str) -> Option<f64> {
        let (line, zero, _) = self.line.as_ref()?;
        let years = f64::from(i32::try_from((first_day(day)? - *zero).num_days()).ok()?) / 365.25;
        Some(line.at(years).0.max(0.0))
    }
}

impl Trend {
    /// The middle eighty in a hundred around the line on a day: low, the line, high; none where there is no such day.
    ///
    /// The ends are [`Trend::at`] give or take 1.2816 standard deviations of the line, so that on the day of
    /// [`Trend::now`] they are [`Trend::now_within`] from it.
    pub fn within(&self, day: &str) -> Option<(f64, f64, f64)> {
        let (line, zero, _) = self.line.as_ref()?;
        let years = f64::from(i32::try_from((first_day(day)? - *zero).num_days()).ok()?) / 365.25;
        let (value, deviation) = line.at(years);
        let reach = MIDDLE_EIGHTY * deviation;
        Some(((value - reach).max(0.0), value.max(0.0), (value + reach).max(0.0)))
    }
}

/// The day some years after another.
fn on_line(zero: chrono::NaiveDate, years: f64) -> Option<String> {
    months_on(&zero.format("%Y-%m-%d").to_string(), years * 12.0)
}
