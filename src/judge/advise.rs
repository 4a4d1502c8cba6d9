//! What follows from a verdict: what to put right first, how to clean, cautions, what to test and when.
//!
//! Takes the findings and the policy's data, gives words and dates. Decides nothing.

use super::case::Info;
use super::decide::{ResampleHow, Verdict};
use super::findings::{Cause, Findings};
use super::judgement::{Economic, Remedy, ReplaceBy};
use super::model::Model;
use super::policy::{Dose, Recipe};
use super::slot::Slot;
use super::words::number;
use super::{dates, words};
use crate::specs::Family;

/// Litres to a cubic foot.
const L_PER_FT3: f64 = 28.316_846_592;
/// Litres to a US gallon.
const L_PER_GAL: f64 = 3.785_411_784;
/// Grams to a pound.
const G_PER_LB: f64 = 453.592_37;

/// Causes told, the strongest first.
pub fn told_causes(findings: &Findings, info: &Info<'_>) -> Vec<Cause> {
    let mut causes: Vec<Cause> =
        findings.causes.iter().filter(|cause| cause.strength >= info.limits().tell_cause_from).cloned().collect();
    causes.sort_by(|a, b| b.strength.total_cmp(&a.strength));
    causes
}

/// What must be put right upstream, for each cause.
pub fn fix_first(causes: &[Cause], info: &Info<'_>) -> Vec<String> {
    let mut fixes: Vec<String> = Vec::new();
    for cause in causes {
        if let Some(entry) = info.policy.cause(&cause.cause)
            && !fixes.contains(&entry.fix)
        {
            fixes.push(entry.fix.clone());
        }
    }
    fixes
}

/// Ways of cleaning that answer the causes; the ones that a bed people drink from may have stand first.
pub fn remedies(causes: &[Cause], info: &Info<'_>) -> Vec<Remedy> {
    let mut remedies: Vec<Remedy> = Vec::new();
    for cause in causes {
        let Some(entry) = info.policy.cause(&cause.cause) else { continue };
        for id in &entry.recipes {
            if let Some(known) = remedies.iter_mut().find(|remedy| remedy.recipe == *id) {
                known.answers.push(entry.name.clone());
                continue;
            }
            // What is not for drinking water is not offered where people drink it.
            let may = |recipe: &&Recipe| {
                recipe.families.contains(&info.family())
                    && (recipe.drinking_water || info.sample.drinking_water != Some(true))
            };
            let Some(recipe) = info.policy.recipe(id).filter(may) else { continue };
            let own_limit = info.class.fact("temperature_max_oh").or_else(|| info.class.fact("temperature_max"));
            let temperature_max =
                recipe.temperature_max.as_ref().map(|limit| own_limit.map_or(limit.value, |own| own.min(limit.value)));
            remedies.push(Remedy {
                recipe: id.clone(),
                title: recipe.title.clone(),
                answers: vec![entry.name.clone()],
                drinking_water: recipe.drinking_water,
                dose: (!recipe.dose.is_empty())
                    .then(|| recipe.dose.iter().map(|dose| dose_words(dose, info)).collect::<Vec<_>>().join(" ")),
                steps: recipe.steps.clone(),
                temperature_max,
                end_check: recipe.end_check.clone(),
                source: recipe.source.clone(),
            });
        }
    }
    remedies.sort_by_key(|remedy| !remedy.drinking_water);
    remedies
}

/// A dose for each litre and cubic foot, and for the bed where its volume is known; pure and as it is bought.
fn dose_words(dose: &Dose, info: &Info<'_>) -> String {
    let amount = |litres: f64| {
        let grams = dose.value * litres;
        let bought = dose.supplied.as_ref().map_or(String::new(), |supplied| {
            let volume = grams / 1000.0 / supplied.share / supplied.density;
            format!(", which is {} L ({} US gal) of {}", number(volume), number(volume / L_PER_GAL), supplied.name)
        });
        (grams, bought)
    };
    let (grams, bought) = amount(L_PER_FT3);
    let bed = bed_litres(info).map_or(String::new(), |litres| {
        let (grams, bought) = amount(litres);
        format!(
            " For this bed of {}: {} kg ({} lb){bought}.",
            words::quantity(litres, "L"),
            number(grams / 1000.0),
            number(grams / G_PER_LB)
        )
    });
    format!(
        "{}: {} g for each litre of resin, {} lb for each cubic foot{bought}; {}. (Source of the dose: {}.){bed}",
        words::sentence(&dose.chemical),
        number(dose.value),
        number((grams / G_PER_LB * 10.0).round() / 10.0),
        dose.text,
        dose.source
    )
}

/// Volume of the bed, as printed or from its bore and depth.
pub fn bed_litres(info: &Info<'_>) -> Option<f64> {
    let at = |slot| info.figures.get(slot).map(super::figures::Figure::at);
    at(Slot::BedVolume).or_else(|| at(Slot::BedVolumeAtStartup)).or_else(|| {
        let (bore, depth) = at(Slot::TankBore).zip(at(Slot::BedDepth))?;
        Some(std::f64::consts::PI / 4.0 * bore * bore * depth * 1000.0)
    })
}

/// What may be cheaper than the verdict, where the bed or its beads speak for that.
pub fn economic(verdict: Verdict, model: &Model, info: &Info<'_>) -> Option<Economic> {
    if verdict != Verdict::Clean {
        return None;
    }
    let limits = info.limits();
    let says = |text: String| Some(Economic { verdict: Verdict::Replace, text });
    if let Some(litres) = bed_litres(info).filter(|litres| *litres <= limits.small_bed) {
        return says(format!(
            "On a bed of {} a new charge may cost less than a cleaning visit: compare both prices.",
            words::quantity(litres, "L")
        ));
    }
    let whole = info.figures.get(Slot::Whole).map(super::figures::Figure::at);
    if let Some(whole) = whole.filter(|whole| *whole < limits.whole_beads_supported) {
        return says(format!(
            "With {} of the beads whole a cleaning seldom pays: set its price against that of a new charge.",
            words::quantity(whole, "%")
        ));
    }
    let gain = model.after.zip(model.remaining).map(|(after, left)| after - left);
    if info.cleaned && gain.is_some_and(|gain| gain < limits.cleaning_gain_from) {
        return says(
            "The bed has been cleaned before this sample; where that brought little, a second time seldom pays."
                .to_owned(),
        );
    }
    None
}

/// Cautions of the verdict and of every remedy named with it.
pub fn cautions(
    verdict: Verdict,
    also: &[Verdict],
    findings: &Findings,
    remedies: &[Remedy],
    info: &Info<'_>,
) -> Vec<String> {
    let mut ids: Vec<&str> = Vec::new();
    let mut add = |id| {
        if !ids.contains(&id) {
            ids.push(id);
        }
    };
    if verdict == Verdict::Clean || also.contains(&Verdict::Clean) {
        if info.sample.drinking_water != Some(false) {
            add("drinking-water");
        }
        if info.sample.drinking_water.is_none() {
            add("not-for-drinking-water");
        }
        for remedy in remedies {
            let cautions = info.policy.recipe(&remedy.recipe).map_or(&[][..], |recipe| recipe.cautions.as_slice());
            let nobody_drinks = info.sample.drinking_water == Some(false);
            for id in cautions.iter().filter(|id| !nobody_drinks || id.as_str() != "drinking-water") {
                add(id);
            }
        }
    }
    for id in &findings.cautions {
        add(id);
    }
    if verdict == Verdict::TopOff || also.contains(&Verdict::TopOff) {
        add("top-off-order");
        add("pressure");
    }
    if verdict == Verdict::Replace {
        add("lead-of-new-charge");
        add("pressure");
        add("waste");
    }
    if matches!(verdict, Verdict::Replace | Verdict::TopOff) {
        add("licence");
    }
    if info.sample.duty.as_deref() == Some("nitrate") || info.class.id == "sba-nitrate" {
        add("nitrate");
    }
    if info.family() == Family::Sba
        && info.sample.duty.as_deref() == Some("demineralizing")
        && verdict == Verdict::Replace
    {
        add("two-bed");
    }
    // The last word on who may do it comes last.
    ids.sort_by_key(|id| *id == "licence");
    ids.iter().filter_map(|id| info.policy.caution(id)).map(|caution| caution.text.clone()).collect()
}

/// Tests that would tell more: those that rules asked for, then what a report on this family should carry.
pub fn missing(findings: &Findings, info: &Info<'_>) -> Vec<String> {
    let mut missing: Vec<String> = findings.missing.iter().map(|id| (*id).to_owned()).collect();
    let measured = |property: &str| {
        info.figures.by_slot.keys().any(|slot| match property {
            "organics" => slot.is_organics(),
            "total_capacity" if info.family() == Family::Sac => {
                matches!(slot.property(), "total_capacity" | "salt_splitting_capacity")
            }
            "total_capacity" if !matches!(info.family(), Family::Sba) => {
                matches!(slot.property(), "total_capacity" | "weak_capacity")
            }
            "crush_strength" => matches!(slot, Slot::CrushStrength | Slot::CrushAbove200),
            _ => slot.property() == property,
        })
    };
    for property in info.policy.wanted(info.family()) {
        if !measured(property) {
            let name = if property == "organics" { "organics_permanganate" } else { property };
            if !missing.iter().any(|known| known == name) {
                missing.push(name.to_owned());
            }
        }
    }
    let has = |slot| info.figures.get(slot).is_some();
    if has(Slot::Freeboard) && !has(Slot::FreeboardAtStartup) && !has(Slot::BedVolumeAtStartup) {
        missing.push("freeboard_at_startup".to_owned());
    }
    missing
}

/// When a bed that is kept comes to its end, if that is in sight.
pub fn replace_by(model: &Model, info: &Info<'_>, judged_on: Option<&str>) -> Option<ReplaceBy> {
    let limits = info.limits();
    let (watch, limit) = (info.loss_watch(), info.loss_replace);
    if model.remaining.is_none() || model.loss < watch || model.loss >= limit {
        return None;
    }
    let own = info.age.filter(|age| *age >= limits.pace_from_age).map(|age| model.loss / age);
    let (slow, fast) = match own {
        // The bed's own mean rate, with room for a loss that runs faster or slower than a straight line.
        Some(rate) => (rate * limits.pace_slow, rate * limits.pace_fast),
        None if info.family() == Family::Sba => return None,
        None => (info.class.fact("loss_per_year_low")?, info.class.fact("loss_per_year_high")?),
    };
    let left = limit - model.loss;
    let earliest = left / fast;
    if !earliest.is_finite() || earliest > limits.in_sight {
        return None;
    }
    let on = |years: f64| dates::months_on(judged_on?, years * 12.0).and_then(|date| dates::month_of(&date));
    Some(ReplaceBy { earliest: on(earliest)?, latest: on((left / slow).min(50.0))? })
}

/// The date of the next sample, and why then.
pub fn next_sample(
    verdict: Verdict,
    how: Option<ResampleHow>,
    model: &Model,
    info: &Info<'_>,
    judged_on: Option<&str>,
    today: Option<&str>,
) -> (Option<String>, String) {
    let limits = info.limits();
    let (watch, limit) = (info.loss_watch(), info.loss_replace);
    let (months, why) = match verdict {
        Verdict::Resample if how == Some(ResampleHow::NewCore) => {
            (0.0, "a new core is needed now, for the laboratory will hardly have this one any more")
        }
        Verdict::Resample => (0.0, "no new jar yet: ask the laboratory, or have it test what it has kept"),
        Verdict::Clean => (limits.next_sample_cleaned, "counted from the cleaning, to see what it brought back"),
        Verdict::Replace => (limits.next_sample_replaced, "for a first look at the new charge"),
        _ if model.loss > (watch + limit) / 2.0 => {
            (limits.next_sample_late, "because the bed is near the end of its life")
        }
        _ if model.loss >= watch => (limits.next_sample_aging, "because the bed is aging"),
        _ if !info.family().is_cation() => (limits.next_sample_aging, "because anion resin is looked at every year"),
        _ => (limits.next_sample_sound, "because the bed is sound"),
    };
    // What is still to be done is done from today on, however old the report.
    let later = |on: &str| today.filter(|today| *today > on).map_or_else(|| on.to_owned(), str::to_owned);
    let from = match verdict {
        Verdict::Clean | Verdict::Replace => judged_on.map(later),
        _ => judged_on.map(str::to_owned),
    };
    let date = from.and_then(|on| dates::months_on(&on, months));
    if verdict == Verdict::Resample {
        return (None, why.to_owned());
    }
    let today = today.and_then(dates::first_day).map(|day| day.format("%Y-%m-%d").to_string());
    let why = format!("{} months on, {why}", number(months));
    match (date, today) {
        // An old report's next sample is already due.
        (Some(date), Some(today)) if date < today => (Some(today), format!("due since {date}: {why}")),
        (date, _) => (date, why),
    }
}
