//! Facts about the sample: dates, place in the bed, resin, duty.

use crate::extract::{Draft, Fact};
use crate::lexicon::{fold, resin_class};
use crate::record::{Doubt, Record};
use crate::value::date::{DateText, Order, find_dates, parse_date};

/// Order of day and month that the document's own dates leave open or decide.
#[derive(Clone, Copy, Debug, Default)]
pub struct DateOrder {
    by_sequence: Option<Order>,
}

const SEQUENCE: [&str; 4] = ["installed_on", "sampled_on", "received_on", "reported_on"];

impl DateOrder {
    /// Sampled ≤ received ≤ reported may leave one order only.
    pub fn of(drafts: &[Draft]) -> Self {
        let holds = |at: usize| {
            drafts.iter().all(|draft| {
                let days: Vec<String> = SEQUENCE
                    .iter()
                    .filter_map(|key| draft.fact(key))
                    .filter_map(|fact| date_of(&fact.text))
                    .filter_map(|date| {
                        let reading =
                            if date.readings.len() > 1 { date.readings.get(at) } else { date.readings.first() };
                        reading.cloned()
                    })
                    .collect();
                days.windows(2).all(|pair| match pair {
                    [a, b] => {
                        let shared = a.len().min(b.len());
                        a.get(..shared) <= b.get(..shared)
                    }
                    _ => true,
                })
            })
        };
        let by_sequence = match (holds(0), holds(1)) {
            (true, false) => Some(Order::MonthFirst),
            (false, true) => Some(Order::DayFirst),
            _ => None,
        };
        Self { by_sequence }
    }
}

fn date_of(text: &str) -> Option<DateText> {
    parse_date(text).or_else(|| find_dates(text).into_iter().next())
}

/// Fills the record's sample from the facts of its draft.
pub fn settle(facts: &[Fact], order: &DateOrder, record: &mut Record) {
    for fact in facts {
        let text = fact.text.trim().to_owned();
        if text.is_empty() {
            continue;
        }
        match fact.key.as_str() {
            "sampled_on" | "received_on" | "reported_on" | "installed_on" => date(fact, order, record),
            "sample_id" => record.sample.sample_id = Some(text),
            "customer" => record.sample.customer = Some(text),
            "site" => record.sample.site = Some(text),
            "vessel" => record.sample.vessel = Some(text),
            "position" => record.sample.position = Some(position(&text)),
            "laboratory" => record.sample.laboratory = Some(text),
            "report_number" => record.sample.report_number = Some(text),
            "resin" => resin(&text, record),
            "form" => {
                let read = resin_class(&format!("{text} form"));
                record.sample.form = read.form.or_else(|| resin_class(&text).form);
            }
            "condition" => condition(&text, record),
            "cycle_state" if record.sample.cycle_state.is_none() => record.sample.cycle_state = Some(text),
            "duty" => record.sample.duty = duty(&text),
            "drinking_water" => record.sample.drinking_water = yes_no(&text),
            _ => {}
        }
    }
    if record.sample.duty.is_none() {
        let resin = record.sample.resin_as_written.clone().unwrap_or_default();
        let vessel = record.sample.vessel.clone().unwrap_or_default();
        record.sample.duty = duty(&vessel).or_else(|| duty(&resin));
    }
    if record.sample.position.is_none() && record.sample.sample_id.as_deref().is_some_and(names_core) {
        record.sample.position = Some("core".into());
    }
}

fn names_core(text: &str) -> bool {
    fold(text).split(' ').any(|w| w == "core")
}

fn date(fact: &Fact, order: &DateOrder, record: &mut Record) {
    let Some(found) = date_of(&fact.text) else {
        return;
    };
    let chosen = match found.readings.as_slice() {
        [one] => Some(one.clone()),
        [month_first, day_first, ..] => match fact.order.or(order.by_sequence) {
            Some(Order::MonthFirst) => Some(month_first.clone()),
            Some(Order::DayFirst) => Some(day_first.clone()),
            None => {
                record.doubts.push(
                    Doubt::new(
                        "ambiguous-date",
                        Some(&fact.key),
                        format!(
                            "\"{}\": day and month could be exchanged, and no other date of the report decides it.",
                            fact.text
                        ),
                        &fact.place,
                    )
                    .with_alternatives(found.readings.clone()),
                );
                None
            }
        },
        [] => None,
    };
    let slot = match fact.key.as_str() {
        "sampled_on" => &mut record.sample.sampled_on,
        "received_on" => &mut record.sample.received_on,
        "reported_on" => &mut record.sample.reported_on,
        _ => &mut record.sample.installed_on,
    };
    *slot = chosen;
}

/// `core`, `top`, `middle`, `bottom`, `composite`, or the report's own words in lower case.
fn position(text: &str) -> String {
    let label = crate::lexicon::Lexicon::builtin().understand(text, &[]);
    label.position.unwrap_or_else(|| text.to_lowercase())
}

fn resin(text: &str, record: &mut Record) {
    let read = resin_class(text);
    record.sample.resin_as_written = Some(text.to_owned());
    record.sample.resin_class = read.class;
    if record.sample.form.is_none() {
        record.sample.form = read.form;
    }
}

fn condition(text: &str, record: &mut Record) {
    let label = crate::lexicon::Lexicon::builtin().understand(text, &[]);
    match label.state.as_deref() {
        Some(state @ ("as-received" | "after-cleaning")) => record.sample.condition = Some(state.to_owned()),
        Some(state @ ("regenerated" | "exhausted")) => record.sample.cycle_state = Some(state.to_owned()),
        _ => {
            let lower = text.to_lowercase();
            if ["regenerated", "regeneriert", "régénéré", "regenerada"].iter().any(|w| lower.contains(w)) {
                record.sample.cycle_state = Some("regenerated".into());
            } else if ["exhausted", "erschöpft", "épuisé", "saturé", "agotada"].iter().any(|w| lower.contains(w)) {
                record.sample.cycle_state = Some("exhausted".into());
            }
        }
    }
}

fn duty(text: &str) -> Option<String> {
    let lower = text.to_lowercase();
    let table: [(&str, &[&str]); 6] = [
        ("dealkalizing", &["dealkal", "entkarbonis", "décarbonat", "decarbonat", "descarbonat", "desalcal"]),
        ("nitrate", &["nitrat"]),
        ("organics-scavenging", &["scaveng", "organics trap", "organic trap", "organik", "piège à mati", "organicos"]),
        ("polishing", &["polish", "mixed bed", "mischbett", "lit mélangé", "lecho mixto", "condensate", "kondensat"]),
        (
            "demineralizing",
            &["demin", "deion", "vollentsalz", "déminéral", "desmineral", "two-bed", "anion exchanger of the two"],
        ),
        ("softening", &["soften", "enthärt", "enthaert", "adouciss", "ablanda", "suaviza", "descalcific"]),
    ];
    table.iter().find(|(_, words)| words.iter().any(|w| lower.contains(w))).map(|(id, _)| (*id).to_owned())
}

fn yes_no(text: &str) -> Option<bool> {
    let lower = fold(text);
    let first = lower.split(' ').next().unwrap_or_default().to_owned();
    match first.as_str() {
        "ye" | "yes" | "y" | "ja" | "oui" | "si" | "tru" | "true" => Some(true),
        "no" | "n" | "nein" | "non" | "fals" | "false" | "none" => Some(false),
        _ => None,
    }
}
