//! A report as one file of HTML that a dealer hands to a customer: it prints, needs no other file and runs no script.
//!
//! Takes judgements with what is known of their beds, gives the whole text of the file. Chooses words, order and
//! places; every figure on it was reckoned elsewhere.

mod evidence;
mod figures;
mod first;
mod fleet;
mod svg;
mod words;
mod years;

use super::units::Units;
use crate::beds::{History, Ranked};
use crate::judge::{Judgement, LeftAlone, Policy};
use crate::plan::Plan;
use crate::record::Record;
use crate::specs::Class;
use maud::{DOCTYPE, Markup, PreEscaped, html};

const STYLE: &str = include_str!("page.css");

/// One bed with all that the page says of it.
pub struct BedView<'a> {
    /// Id in the store, where it comes from one.
    pub id: Option<String>,
    /// The verdict on its newest sample.
    pub judgement: &'a Judgement,
    /// That sample, as read.
    pub record: &'a Record,
    /// What somebody complains of.
    pub complaint: Option<&'a str>,
    /// Class of the resin, where it is known.
    pub class: Option<&'a Class>,
    /// What to do, how much and what it is worth; none where the figures do not allow one.
    pub plan: Option<&'a Plan>,
    /// Why there is no plan.
    pub no_plan: Option<String>,
    /// The bed across the years.
    pub history: Option<&'a History>,
    /// What comes of it where nothing is done.
    pub left_alone: Vec<LeftAlone>,
}

/// The whole page.
pub struct Page<'a> {
    /// ISO date that it speaks from.
    pub today: &'a str,
    /// Units of plans.
    pub units: Units,
    /// Limits with their sources.
    pub policy: &'a Policy,
    /// The beds, in the order of the page.
    pub beds: Vec<BedView<'a>>,
    /// All beds in the order of what waiting would cost, where a site or the fleet is shown.
    pub ranking: Option<&'a [Ranked]>,
    /// Whose beds they are, where the page is of one site.
    pub site: Option<&'a str>,
}

/// The text of the file. The same page gives the same bytes.
///
/// Whatever a report says stays text: it is escaped, and control characters and marks that turn the writing round are
/// taken out.
///
/// ```
/// use beadwise::judge::{Context, example, judge, left_alone};
/// use beadwise::report::{page::{BedView, Page, html}, units::Units};
/// let context = Context::builtin()?;
/// let record = example::record("class sac-gel-8\nform Na\nvessel <b>2</b>\ntotal_capacity volume 1.94\nmoisture_retention 47")?;
/// let judgement = judge(&record, &context);
/// let bed = BedView {
///     id: None, judgement: &judgement, record: &record, complaint: None, class: context.specs.class("sac-gel-8"),
///     plan: None, no_plan: None, history: None, left_alone: left_alone(&judgement, context.policy),
/// };
/// let page = Page { today: "2026-01-05", units: Units::Us, policy: context.policy, beds: vec![bed], ranking: None, site: None };
/// let text = html(&page);
/// assert!(text.contains("&lt;b&gt;2&lt;/b&gt;"), "what a report says stays text");
/// assert!(!text.contains("src=") && !text.contains("<script"), "nothing is loaded from anywhere");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn html(page: &Page<'_>) -> String {
    let many = page.beds.len() != 1 || page.ranking.is_some();
    let title = match (page.beds.first(), many) {
        (Some(bed), false) => format!("{}: resin report", words::bed_title(bed)),
        _ => fleet::title(page),
    };
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                // Nothing may be fetched, whatever a report says.
                meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; img-src data:";
                meta name="generator" content="beadwise";
                link rel="icon" href="data:,";
                title { (title) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                (svg::patterns())
                @if many { (fleet::front(page)) }
                main {
                    @for (at, bed) in page.beds.iter().enumerate() {
                        (article(page, bed, at + 1, if many { 2 } else { 1 }))
                    }
                }
                footer class="colophon" {
                    p {
                        "Made by beadwise on " (words::day(page.today)) " from the reports named in it. Figures are the laboratory’s; what was "
                        "reckoned from them is marked so. Local codes, the makers of resin and vessel, and licensed practice come first."
                    }
                }
            }
        }
    };
    words::printable(markup.into_string())
}

/// What every part of one bed's pages needs.
struct Sheet<'a> {
    page: &'a Page<'a>,
    bed: &'a BedView<'a>,
    /// Begins the ids of this bed.
    id: String,
    /// What the bed is called, unlike any other of the page.
    name: String,
    /// Level of the bed's own heading.
    level: u8,
}

impl Sheet<'_> {
    /// A part of the bed's pages with its heading; nothing where it has nothing to say.
    fn part(&self, name: &str, title: &str, body: Option<Markup>) -> Markup {
        let id = format!("{}-{name}", self.id);
        html! {
            @if let Some(body) = body {
                section id=(id) aria-label=(format!("{title}: {}", self.name)) class=(name) {
                    (heading(self.level + 1, &format!("{id}-head"), title))
                    (body)
                }
            }
        }
    }
}

/// A heading of a level that is told.
fn heading(level: u8, id: &str, text: &str) -> Markup {
    html! {
        @match level {
            1 => h1 id=(id) { (text) },
            2 => h2 id=(id) { (text) },
            3 => h3 id=(id) { (text) },
            _ => h4 id=(id) { (text) },
        }
    }
}

/// A list of sentences, none where there are none.
fn items(lines: &[String]) -> Option<Markup> {
    (!lines.is_empty()).then(|| html! { ul { @for line in lines { li { (line) } } } })
}

fn article(page: &Page<'_>, bed: &BedView<'_>, number: usize, level: u8) -> Markup {
    let title = words::bed_title(bed);
    let alike = page.beds.iter().filter(|other| words::bed_title(other) == title).count() > 1;
    let name = if alike { format!("{title} ({number})") } else { title };
    let sheet = Sheet { page, bed, id: format!("bed-{number}"), name, level };
    let judgement = bed.judgement;
    let parts = [
        ("why", "Why", figures::why(&sheet)),
        ("against-new", "Every property against new resin", figures::against_new(&sheet)),
        ("loss", "Where the capacity went", figures::loss(&sheet)),
        (
            "compared",
            "Against the sample before",
            items(judgement.compared.as_ref().map_or(&[], |c| c.text.as_slice())),
        ),
        ("years", "The years", years::years(&sheet)),
        ("cleaning", "How to clean", first::cleaning(&sheet)),
        ("plan", "The work in figures", first::plan(&sheet)),
        ("evidence", "The evidence", evidence::evidence(&sheet)),
        ("doubts", "What is in doubt", evidence::doubts(&sheet)),
        ("missing", "What is missing", evidence::missing(&sheet)),
        ("limits", "Where the limits come from", evidence::limits(&sheet)),
        ("cautions", "Cautions", evidence::cautions(&sheet)),
    ];
    html! {
        article id=(sheet.id) aria-labelledby=(format!("{}-name", sheet.id)) {
            (first::sheet(&sheet))
            nav class="contents" aria-label=(format!("Further pages: {}", sheet.name)) {
                ul {
                    @for (name, title, body) in &parts {
                        @if body.is_some() { li { a href=(format!("#{}-{name}", sheet.id)) { (title) } } }
                    }
                }
            }
            @for (name, title, body) in parts { (sheet.part(name, title, body)) }
        }
    }
}
