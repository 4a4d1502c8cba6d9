//! The front sheet of several beds: a list, or the ranking of a site or of the fleet, each bed a link.

use super::words::{bed_title, capital, day};
use super::{Page, svg};
use crate::beds::Ranked;
use crate::report::judgement::told;
use maud::{Markup, html};

/// What the page is called.
pub fn title(page: &Page<'_>) -> String {
    match (page.site, page.ranking) {
        (Some(site), _) => format!("{site}: resin report"),
        (None, Some(ranking)) => format!("Resin report on {}", beds(ranking.len())),
        (None, None) => format!("Resin report on {}", beds(page.beds.len())),
    }
}

fn beds(count: usize) -> String {
    if count == 1 { "1 bed".to_owned() } else { format!("{count} beds") }
}

/// The front sheet.
pub fn front(page: &Page<'_>) -> Markup {
    html! {
        header class="front masthead" {
            p class="kind" { "Resin report" span { (day(page.today)) } }
            h1 { (page.site.map_or_else(|| capital(&beds(page.ranking.map_or(page.beds.len(), <[Ranked]>::len))), str::to_owned)) }
            nav aria-label="Beds" {
                @match page.ranking {
                    Some(ranking) => (ranked(page, ranking)),
                    None => (listed(page)),
                }
            }
        }
    }
}

fn headline(page: &Page<'_>, at: usize) -> Markup {
    html! {
        @if let Some(bed) = page.beds.get(at) {
            @let (word, sentence) = told(bed.judgement);
            (svg::verdict_mark(bed.judgement.verdict))
            span { strong { (capital(&word.to_lowercase())) } " " (sentence) " " span class="sure" { (capital(&bed.judgement.certainty_words)) "." } }
        }
    }
}

fn listed(page: &Page<'_>) -> Markup {
    html! {
        ol class="beds" {
            @for (at, bed) in page.beds.iter().enumerate() {
                li { a href=(format!("#bed-{}", at + 1)) { (bed_title(bed)) } p class="says" { (headline(page, at)) } }
            }
        }
    }
}

fn ranked(page: &Page<'_>, ranking: &[Ranked]) -> Markup {
    html! {
        p class="note" { "In the order of what waiting for the next sample would cost: the chance that a bed’s capacity is past its limit by then, and what readings at the bed say, times its resin." }
        ol class="beds ranked" {
            @for bed in ranking {
                @let at = page.beds.iter().position(|view| view.id.as_deref() == Some(bed.bed.as_str()));
                li {
                    @match at {
                        Some(at) => a href=(format!("#bed-{}", at + 1)) { (bed.title) },
                        None => span class="unlinked" { (bed.title) },
                    }
                    @match at {
                        Some(at) => p class="says" { (headline(page, at)) },
                        None => p class="says" { "No analysis is filed, so there is nothing to say of it yet." },
                    }
                    dl class="stake" {
                        @if let Some(capacity) = bed.capacity { div { dt { "Capacity today" } dd { (format!("{capacity:.0}")) " % of new" } } }
                        @if let Some(chance) = bed.chance { div { dt { "Chance past its limit" } dd { (format!("{:.0}", chance * 100.0)) " in 100" } } }
                        div { dt { "Resin" } dd { (format!("{:.0}", bed.volume)) " L" @if !bed.volume_known { " (taken, not known)" } } }
                        div { dt { "At stake" } dd { (format!("{:.0}", bed.at_stake)) " L" @if let Some(cost) = bed.cost { ", " (format!("{cost:.0}")) " " (bed.currency.clone().unwrap_or_default()) } } }
                        div { dt { "Next sample" } dd { (day(&bed.next_sample_on)) } }
                    }
                    p class="note" { (capital(&bed.field.iter().chain(&bed.why).cloned().collect::<Vec<_>>().join("; "))) "." }
                }
            }
        }
    }
}
