//! Why the verdict is what it is: reasons, every property against new, and where the capacity went.

use super::first::stands;
use super::words::capital;
use super::{Sheet, items, svg};
use crate::judge::{Grade, Measure, loss_replace};
use crate::report::judgement::{grade_name, measured, new_words, part_words, whole};
use crate::report::units::number;
use crate::specs::Family;
use maud::{Markup, html};

/// Reasons, causes with what speaks for them, and what would turn the verdict.
pub fn why(sheet: &Sheet<'_>) -> Option<Markup> {
    let judgement = sheet.bed.judgement;
    let policy = sheet.page.policy;
    let nothing = judgement.reasons.is_empty() && judgement.causes.is_empty() && judgement.would_change.is_empty();
    (!nothing).then(|| {
        html! {
            @if let Some(reasons) = items(&judgement.reasons) { (reasons) }
            @if let Some(score) = judgement.score {
                p { "Score of the resin: " strong { (format!("{score:.0}")) " of 100" } ", by its weakest property; 100 is new." }
            }
            @if !judgement.causes.is_empty() {
                (super::heading(sheet.level + 2, &format!("{}-causes", sheet.id), "Causes found"))
                ul {
                    @for cause in &judgement.causes {
                        li {
                            strong { (policy.cause(&cause.cause).map_or(cause.cause.as_str(), |known| known.name.as_str())) }
                            " (weight " (whole(cause.strength)) " of 100)"
                            @if !cause.evidence.is_empty() { ": " (cause.evidence.join(" ")) }
                        }
                    }
                }
            }
            @if let Some(lines) = items(&judgement.would_change) {
                (super::heading(sheet.level + 2, &format!("{}-change", sheet.id), "What would change this"))
                (lines)
            }
        }
    })
}

/// The table of all graded properties, each with its picture.
pub fn against_new(sheet: &Sheet<'_>) -> Option<Markup> {
    let judgement = sheet.bed.judgement;
    if judgement.grades.is_empty() {
        return None;
    }
    let family = sheet.bed.class.map(|class| class.family);
    Some(html! {
        p class="note" { (judgement.baseline.text) }
        table class="against" {
            thead {
                tr {
                    th scope="col" { "Property" }
                    th scope="col" { "Measured" }
                    th scope="col" { "New resin" }
                    th scope="col" class="between" { span { "new" } span class="sr" { "Where it stands between new and spent" } span { "spent" } }
                }
            }
            tbody { @for (at, grade) in judgement.grades.iter().enumerate() { (row(sheet, at, grade, family)) } }
        }
        (key())
        @if judgement.grades.iter().any(|grade| grade.calculated) { p class="note" { "* worked out from other figures, not measured." } }
        @if judgement.grades.iter().any(|grade| !grade.weighs) { p class="note" { "† shown, and not weighed in the score." } }
    })
}

fn row(sheet: &Sheet<'_>, at: usize, grade: &Grade, family: Option<Family>) -> Markup {
    let name = capital(&grade_name(grade));
    let spent =
        family.and_then(|family| sheet.page.policy.band(&grade.property, grade.basis.as_deref(), family)).map(|band| {
            match band.measure {
                Measure::Percent => format!("spent at {} % of new", number(band.spent())),
                Measure::Rise => format!("spent {} points above new", number(band.spent())),
                Measure::Fall => format!("spent {} points below new", number(band.spent())),
                Measure::Above => format!("spent above {}", number(band.spent())),
                Measure::Below => format!("spent below {}", number(band.spent())),
            }
        });
    html! {
        tr {
            th scope="row" {
                (name) @if !grade.weighs { " †" }
                @if let Some(form) = &grade.form { span class="small-line" { (form) " form" } }
            }
            td { (measured(grade)) @if let Some(percent) = grade.percent_of_new { span class="small-line" { (format!("{percent:.0}")) " % of new" } } }
            td { @let new = new_words(grade); @if new.is_empty() { "not known" } @else { (new) } }
            td class="between" {
                (svg::strip(&format!("{}-s{at}", sheet.id), &name, &stands(grade), grade.score))
                span class="grade" { strong { (grade.grade.word()) } @if let Some(spent) = spent { span { (spent) } } }
            }
        }
    }
}

/// What the shades of the pictures are.
fn key() -> Markup {
    html! {
        p class="key" {
            @for (zone, word) in ["new", "good", "watch", "poor", "spent"].iter().enumerate() {
                span {
                    svg class="swatch" width="20" height="12" aria-hidden="true" focusable="false" { rect class=(format!("zone zone-{zone}")) x=".5" y=".5" width="19" height="11" {} }
                    (word)
                }
            }
        }
    }
}

const KEYS: [char; 6] = ['A', 'B', 'C', 'D', 'E', 'F'];

/// The lost capacity, taken apart.
pub fn loss(sheet: &Sheet<'_>) -> Option<Markup> {
    let judgement = sheet.bed.judgement;
    let loss = judgement.loss.as_ref()?;
    let strong = sheet.bed.class.is_some_and(|class| class.family == Family::Sba);
    let limit = sheet.bed.class.map(|class| 1.0 - loss_replace(class, sheet.page.policy));
    let id = format!("{}-bar", sheet.id);
    let name = if strong { "new strong-base capacity" } else { "new total capacity" };
    let parts: Vec<svg::Share> =
        loss.parts.iter().zip(KEYS).map(|(part, key)| svg::Share { key, share: part.best }).collect();
    let told: Vec<String> =
        loss.parts.iter().map(|part| format!("{} %: {}", whole(part.best), part_words(&part.part))).collect();
    let desc = format!(
        "{} % of {name} is left, {} % is lost. {}.",
        whole(1.0 - loss.total),
        whole(loss.total),
        told.join("; ")
    );
    let recovery = judgement.recovery.as_ref();
    Some(html! {
        @if loss.total <= 0.0 {
            p { "Nothing of " (name) " is lost." }
        } @else {
            figure {
                (svg::bar(&id, "Where the capacity went", &desc, 1.0 - loss.total, &parts, limit))
            }
            table class="figures parts" {
                caption { (whole(loss.total)) " % of " (name) " is lost" }
                thead { tr { th scope="col" { "Part" } th scope="col" { "Of new" } th scope="col" { "From … to" } } }
                tbody {
                    @for (at, (part, key)) in loss.parts.iter().zip(KEYS).enumerate() {
                        tr {
                            th scope="row" { (svg::swatch(at)) " " strong { (key) } " " (capital(part_words(&part.part))) }
                            td { (whole(part.best)) " %" }
                            td { (whole(part.low)) " to " (whole(part.high)) " %" }
                        }
                    }
                }
            }
        }
        @if let Some(recovery) = recovery.filter(|_| loss.total > 0.0) {
            p {
                "After a cleaning about " strong { (whole(recovery.best)) " %" } " of " (recovery.of) " is to be expected ("
                (whole(recovery.low)) " to " (whole(recovery.high)) " %)."
            }
        }
    })
}
