//! What each course costs over some years, which is cheapest, and which input decides.

use super::bed::{Facts, Spread};
use super::knowledge::{Curve, Fact};
use super::meter::{Basis, Course};
use super::money;
use super::top_off::TopOff;
use crate::specs::Class;
use serde::Serialize;

/// One course in money. Which money is for the user to say.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Cost {
    /// Which.
    pub course: Course,
    /// Paid at once.
    pub first: f64,
    /// Salt and water in the first year.
    pub first_year: f64,
    /// Present value of all payments over the horizon.
    pub present: f64,
    /// The same as equal payments at each year's end.
    pub yearly: f64,
    /// Present value saved against keeping; below zero where it costs more.
    pub saved: Option<Spread>,
    /// Years until what is paid at once comes back, without interest.
    pub payback: Option<f64>,
    /// The same with interest.
    pub payback_discounted: Option<f64>,
    /// Internal rate of return against keeping.
    pub rate_of_return: Option<f64>,
}

/// How far one input moves what the cheapest course saves.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Swing {
    /// In words.
    pub input: &'static str,
    /// Saving at its low end.
    pub at_low: f64,
    /// Saving at its high end.
    pub at_high: f64,
}

/// All courses in money.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Costs {
    /// Years looked ahead.
    pub years: f64,
    /// Discount rate.
    pub rate: f64,
    /// Capacity that the resin loses in a year, as a share of new.
    pub loss_per_year: f64,
    /// Each course whose prices are known.
    pub courses: Vec<Cost>,
    /// The cheapest over the horizon.
    pub cheapest: Option<Course>,
    /// What weighs most on the saving of the best course against keeping, the heaviest first.
    pub swings: Vec<Swing>,
    /// Whether the heaviest of them turns the saving into a loss.
    pub turns: bool,
}

/// Everything that a course's money is worked from; moved one at a time for the spread.
#[derive(Clone, Copy)]
struct Case<'a> {
    facts: &'a Facts<'a>,
    basis: Basis,
    curve: &'a Curve,
    loss: f64,
    loss_ends: (f64, f64),
    salt_price: f64,
    water_price: f64,
    first_factor: f64,
    years: f64,
    rate: f64,
}

impl Case<'_> {
    /// Payments of a course, today's first; none where one cannot be reckoned.
    fn payments(&self, course: (Course, f64, Spread), first: f64) -> Option<Vec<f64>> {
        let (course, volume, share) = course;
        let mut payments = vec![first * self.first_factor];
        let mut year = 0.0;
        while year < self.years {
            // The share in the middle of the year stands for the whole of it.
            let left = share.best - self.loss * (year + 0.5);
            let year_of = self.basis.outcome(course, volume, Spread::exact(left), self.curve)?.year?;
            payments.push(year_of.salt * self.salt_price + year_of.water * self.water_price);
            year += 1.0;
        }
        Some(payments)
    }

    fn first(&self, course: Course, volume: f64, top_off: &TopOff) -> Option<f64> {
        let price = |fact| self.facts.want(fact);
        match course {
            Course::Keep => Some(0.0),
            Course::Clean => price(Fact::CleaningCost),
            Course::TopOff => {
                let bags = top_off.bags? * top_off.bag;
                Some(bags * price(Fact::ResinPrice)? + price(Fact::TopOffLabour)?)
            }
            Course::CleanAndTopOff => {
                let cleaning = self.first(Course::Clean, volume, top_off)?;
                Some(cleaning + self.first(Course::TopOff, volume, top_off)?)
            }
            Course::Replace => {
                let resin = price(Fact::ResinPrice)? + price(Fact::DisposalPrice)?;
                Some(volume * resin + price(Fact::RebedLabour)?)
            }
        }
    }
}

/// What each course costs; none where salt and water have no price or a year's use is not known.
///
/// Present values by [`money::present_value`]. The spread adds the effects of single inputs as squares, each moved to
/// its ends alone.
pub fn costs(
    facts: &Facts<'_>,
    courses: &[(Course, f64, Spread)],
    top_off: &TopOff,
    basis: Basis,
    curve: &Curve,
    class: &Class,
) -> Option<Costs> {
    let (salt_price, water_price) = facts.want(Fact::SaltPrice).zip(facts.want(Fact::WaterPrice))?;
    let rates = class.fact("loss_per_year_low").zip(class.fact("loss_per_year_high"))?;
    let case = Case {
        facts,
        basis,
        curve,
        loss: f64::midpoint(rates.0, rates.1),
        loss_ends: rates,
        salt_price,
        water_price,
        first_factor: 1.0,
        years: facts.look(Fact::Horizon)?.round(),
        rate: facts.look(Fact::DiscountRate)?,
    };
    let keep = courses.iter().find(|(course, _, _)| *course == Course::Keep).copied();
    let kept = keep.and_then(|keep| case.payments(keep, 0.0));
    let firsts: Vec<Option<f64>> =
        courses.iter().map(|(course, volume, _)| case.first(*course, *volume, top_off)).collect();
    let mut all: Vec<Cost> = Vec::new();
    for (course, first) in courses.iter().zip(&firsts) {
        let Some(first) = first else { continue };
        let Some(payments) = case.payments(*course, *first) else { continue };
        let present = money::present_value(case.rate, &payments);
        let flows = kept.as_ref().filter(|_| course.0 != Course::Keep).map(|kept| against(kept, &payments));
        let saved = flows.as_ref().map(|flows| {
            let best = money::present_value(case.rate, flows);
            let half = swings(&case, keep, *course, *first)
                .iter()
                .map(|swing| ((swing.at_high - swing.at_low) / 2.0).powi(2))
                .sum::<f64>()
                .sqrt();
            Spread { low: best - half, best, high: best + half }
        });
        all.push(Cost {
            course: course.0,
            first: *first,
            first_year: payments.get(1).copied().unwrap_or(0.0),
            present,
            yearly: money::equal_payment(case.rate, case.years, present),
            saved,
            payback: flows.as_ref().and_then(|flows| money::payback(0.0, flows)),
            payback_discounted: flows.as_ref().and_then(|flows| money::payback(case.rate, flows)),
            rate_of_return: flows.as_ref().and_then(|flows| money::internal_rate(flows)),
        });
    }
    let cheapest = all.iter().min_by(|a, b| a.present.total_cmp(&b.present)).map(|cost| cost.course);
    let best_change = all
        .iter()
        .filter(|cost| cost.course != Course::Keep)
        .min_by(|a, b| a.present.total_cmp(&b.present))
        .map(|cost| (cost.course, cost.first));
    let mut heaviest = best_change
        .and_then(|(course, first)| Some((courses.iter().find(|known| known.0 == course)?, first)))
        .map_or_else(Vec::new, |(course, first)| swings(&case, keep, *course, first));
    heaviest.sort_by(|a, b| (b.at_high - b.at_low).abs().total_cmp(&(a.at_high - a.at_low).abs()));
    let turns = heaviest.first().is_some_and(|swing| (swing.at_low > 0.0) != (swing.at_high > 0.0));
    Some(Costs {
        years: case.years,
        rate: case.rate,
        loss_per_year: case.loss,
        courses: all,
        cheapest,
        swings: heaviest,
        turns,
    })
}

fn against(kept: &[f64], payments: &[f64]) -> Vec<f64> {
    kept.iter().zip(payments).map(|(kept, paid)| kept - paid).collect()
}

/// What a course saves against keeping, with one input at a time at its ends.
fn swings(
    case: &Case<'_>,
    keep: Option<(Course, f64, Spread)>,
    course: (Course, f64, Spread),
    first: f64,
) -> Vec<Swing> {
    let Some(keep) = keep else { return Vec::new() };
    let saved = |case: &Case<'_>, keep: (Course, f64, Spread), course: (Course, f64, Spread)| {
        let flows = against(&case.payments(keep, 0.0)?, &case.payments(course, first)?);
        Some(money::present_value(case.rate, &flows))
    };
    let price = case.facts.look(Fact::PriceSpread).unwrap_or(0.0);
    let used = case.facts.look(Fact::UseSpread).unwrap_or(0.0);
    let at = |known: (Course, f64, Spread), share: f64| (known.0, known.1, Spread::exact(share));
    let low_high = |input, change: &dyn Fn(&mut Case<'_>, f64), ends: (f64, f64)| {
        let end = |factor: f64| {
            let mut moved = *case;
            change(&mut moved, factor);
            saved(&moved, keep, course)
        };
        Some(Swing { input, at_low: end(ends.0)?, at_high: end(ends.1)? })
    };
    let spread = case.curve.spread;
    let shared = |input,
                  low: ((Course, f64, Spread), (Course, f64, Spread)),
                  high: ((Course, f64, Spread), (Course, f64, Spread))| {
        Some(Swing { input, at_low: saved(case, low.0, low.1)?, at_high: saved(case, high.0, high.1)? })
    };
    [
        low_high(
            "the year's use of water",
            &|c, f| c.basis.yearly = c.basis.yearly.map(|y| y * f),
            (1.0 - used, 1.0 + used),
        ),
        low_high("the curve of operating capacity", &|c, f| c.basis.curve_factor = f, (1.0 - spread, 1.0 + spread)),
        low_high("the price of salt", &|c, f| c.salt_price *= f, (1.0 - price, 1.0 + price)),
        low_high("the price of water", &|c, f| c.water_price *= f, (1.0 - price, 1.0 + price)),
        low_high("what is paid at once", &|c, f| c.first_factor = f, (1.0 - price, 1.0 + price)),
        low_high("the resin's loss in a year", &|c, f| c.loss = f, case.loss_ends),
        shared("the capacity that is left", (at(keep, keep.2.low), course), (at(keep, keep.2.high), course)),
        shared(
            "the capacity that the work brings",
            (keep, at(course, course.2.low)),
            (keep, at(course, course.2.high)),
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
}
