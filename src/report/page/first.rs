//! The first sheet, which says all that matters, and the sheets of work.

use super::words::{capital, day, month, names};
use super::{Sheet, heading, items, svg};
use crate::judge::{Grade, Judgement, Verdict, quantity_words};
use crate::plan::Course;
use crate::report::judgement::{also_sentence, grade_name, new_words, others, told, whole};
use crate::report::sheet::{self, Block};
use crate::report::units::{Of, money};
use maud::{Markup, html};

/// Whose bed, the verdict, and what follows from it.
pub fn sheet(sheet: &Sheet<'_>) -> Markup {
    let (bed, id) = (sheet.bed, &sheet.id);
    let (name, place) = names(&bed.judgement.sample);
    let level = sheet.level + 1;
    let small = |name: &str, title: &str| heading(level, &format!("{id}-{name}"), title);
    let deciding = deciding(bed.judgement);
    html! {
        div class="first" {
        header class="masthead" {
            p class="kind" { "Resin report" span { (day(sheet.page.today)) } }
            (heading(sheet.level, &format!("{id}-name"), &name))
            @if let Some(place) = place { p class="place" { (place) } }
            p class="from" { (from(sheet)) }
            @if let Some(complaint) = bed.complaint { p class="complaint" { strong { "Complaint: " } (complaint) } }
        }
        div class=(format!("verdict verdict-{}", bed.judgement.verdict.word())) {
            (svg::verdict_mark(bed.judgement.verdict))
            div { (verdict(bed.judgement)) }
        }
        section class="waiting" {
            (small("waiting", "If nothing is done"))
            (waiting(sheet))
        }
        @if !deciding.is_empty() {
            section {
                (small("deciding", &deciding_title(deciding.len())))
                ul class="deciding" {
                    @for (at, grade) in deciding.iter().enumerate() { (deciding_figure(&format!("{id}-d{at}"), grade)) }
                }
            }
        }
        div class="columns" {
            section {
                (small("do", "What to do"))
                ol class="do" { @for line in to_do(sheet) { li { (line) } } }
                @if bed.judgement.verdict != Verdict::Keep || !bed.judgement.fix_first.is_empty() { p class="pointer" { "Read the " a href=(format!("#{id}-cautions")) { "cautions" } " before any of this is begun." } }
            }
            div {
                section {
                    (small("money", "What it costs and saves"))
                    (costs(sheet))
                }
                section {
                    (small("next", "When to sample again"))
                    (next(bed.judgement))
                }
            }
        }
        }
    }
}

/// When, by whom and from which file.
fn from(sheet: &Sheet<'_>) -> String {
    let (bed, sample) = (sheet.bed, &sheet.bed.judgement.sample);
    let mut parts: Vec<String> = Vec::new();
    parts.extend(sample.sampled_on.as_ref().map(|on| format!("Sampled {}", day(on))));
    parts.extend(sample.position.as_ref().filter(|place| *place != "core").map(|place| format!("{place} of the bed")));
    parts.extend(sample.laboratory.as_ref().map(|name| format!("tested by {name}")));
    parts.extend(sample.report_number.as_ref().map(|number| format!("report {number}")));
    match (bed.class, &sample.resin_as_written) {
        (Some(class), _) => parts.push(class.name.clone()),
        (None, Some(words)) => parts.push(words.clone()),
        (None, None) => parts.push("resin not named".to_owned()),
    }
    parts.extend(sample.installed_on.as_ref().map(|on| format!("filled {}", day(on))));
    capital(&parts.join(" · "))
}

fn verdict(judgement: &Judgement) -> Markup {
    let (word, sentence) = told(judgement);
    let others = others(judgement);
    html! {
        p class="headline" { strong { (capital(&word.to_lowercase())) } " " (sentence) }
        @for also in &judgement.also { p class="also" { (also_sentence(*also)) } }
        p class="sure" {
            @if judgement.verdict != Verdict::Resample {
                strong { (capital(&judgement.certainty_words)) } ": " (whole(judgement.certainty.min(0.99))) " of 100."
                @if let Some(others) = &others { " The rest: " (others) "." }
            } @else if let Some(others) = &others {
                "If it had to be said today: " (others) " of 100."
            }
        }
        @if let Some(economic) = &judgement.economic { p class="by-cost" { strong { "By cost: " } (economic.text) } }
    }
}

fn waiting(sheet: &Sheet<'_>) -> Markup {
    let bed = sheet.bed;
    let capacity = bed.history.and_then(|history| history.trends.first()).filter(|trend| trend.unit == "% of new");
    let dated = capacity.and_then(|trend| {
        let (limit, meets) = trend.limit.zip(trend.meets.as_ref())?;
        let words = match (&meets.earliest, &meets.likely, &meets.latest) {
            _ if trend.now <= limit => format!("Its line stands at {:.0} % of new and is past the limit of {limit:.0} % already.", trend.now),
            (Some(early), Some(likely), Some(late)) => format!(
                "On its own line, {:.0} % of new today, it meets the limit of {limit:.0} % around {}; four times in five between {} and {}.",
                trend.now, month(likely), month(early), month(late)
            ),
            (Some(early), Some(likely), None) => format!(
                "On its own line, {:.0} % of new today, it meets the limit of {limit:.0} % around {}, hardly before {}.",
                trend.now, month(likely), month(early)
            ),
            _ => format!("On its own line, {:.0} % of new today, the limit of {limit:.0} % is out of sight.", trend.now),
        };
        Some(words)
    });
    let by = bed.judgement.replace_by.as_ref().filter(|_| dated.is_none()).map(|by| {
        format!("At this pace the resin comes to its end between {} and {}.", day(&by.earliest), day(&by.latest))
    });
    html! {
        p {
            @for line in &bed.left_alone { (line.text) " " }
            @if let Some(dated) = dated { (dated) }
            @if let Some(by) = by { (by) }
        }
    }
}

/// The figures nearest to spent, one for each property.
fn deciding(judgement: &Judgement) -> Vec<&Grade> {
    let mut grades: Vec<&Grade> = judgement.grades.iter().filter(|grade| grade.weighs).collect();
    grades.sort_by(|a, b| a.score.total_cmp(&b.score));
    let mut chosen: Vec<&Grade> = Vec::new();
    for grade in grades {
        if chosen.len() < 3 && chosen.iter().all(|other| other.property != grade.property) {
            chosen.push(grade);
        }
    }
    chosen
}

fn deciding_title(count: usize) -> String {
    match count {
        1 => "The figure that decides it".to_owned(),
        2 => "The two figures that decide it".to_owned(),
        _ => "The three figures that decide it".to_owned(),
    }
}

fn deciding_figure(id: &str, grade: &Grade) -> Markup {
    let words = quantity_words(grade.value, &grade.unit);
    let (first, second) =
        words.split_once(" (").map_or((words.as_str(), None), |(first, rest)| (first, rest.strip_suffix(')')));
    let new = new_words(grade);
    html! {
        li {
            p class="name" { (capital(&grade_name(grade))) " " strong { (grade.grade.word()) } }
            p class="value" { (grade.qualifier.sign()) (first) }
            p class="beside" {
                @if let Some(second) = second { (second) br; }
                @if let Some(percent) = grade.percent_of_new { (format!("{percent:.0}")) " % of new (" (new) ")" }
                @else if !new.is_empty() { "new: " (new) }
                @else { "no figure of new resin" }
            }
            (svg::strip(id, &capital(&grade_name(grade)), &stands(grade), grade.score))
            p class="ends" { span { "new" } span { "spent" } }
        }
    }
}

/// Where a figure stands, in a sentence.
pub fn stands(grade: &Grade) -> String {
    let of_new = grade.percent_of_new.map_or(String::new(), |percent| format!(", {percent:.0} % of new"));
    format!(
        "{}{of_new}: {}; {:.0} of 100 between spent, 0, and new, 100.",
        quantity_words(grade.value, &grade.unit),
        grade.grade.word(),
        grade.score
    )
}

fn to_do(sheet: &Sheet<'_>) -> Vec<String> {
    let (bed, judgement) = (sheet.bed, sheet.bed.judgement);
    let mut lines = judgement.fix_first.clone();
    let cleans = judgement.verdict == Verdict::Clean || judgement.also.contains(&Verdict::Clean);
    if cleans {
        let first = judgement.remedy.first().map_or_else(
            || "Have the bed cleaned by a specialist.".to_owned(),
            |remedy| format!("Clean the bed. Mildest way that answers what was found: {}.", remedy.title),
        );
        lines.push(first);
        lines.push(
            "Rinse, measure the freeboard again, and have the resin tested before anything more is decided.".to_owned(),
        );
    }
    if let Some(litres) = bed.plan.and_then(|plan| plan.top_off.as_ref()?.litres) {
        lines.push(format!(
            "Top off with {} of new resin, once the freeboard has been taped again after a backwash.",
            sheet::both(litres)
        ));
    } else if judgement.verdict == Verdict::TopOff {
        lines.push("Measure bore, depth and freeboard: they tell how much resin to add.".to_owned());
    }
    match judgement.verdict {
        Verdict::Replace => {
            let volume = bed.plan.and_then(|plan| plan.shape.volume_at_startup.or(plan.shape.volume));
            lines.push(volume.map_or_else(
                || "Put in a new charge, and keep a sample of it.".to_owned(),
                |litres| format!("Put in a new charge of {}, and keep a sample of it.", sheet::both(litres)),
            ));
        }
        Verdict::Resample => lines.push(capital(told(judgement).1)),
        Verdict::Keep if lines.is_empty() => {
            lines.push("Nothing to the resin. Keep the sampling date below.".to_owned())
        }
        _ => {}
    }
    lines
}

fn costs(sheet: &Sheet<'_>) -> Markup {
    let bed = sheet.bed;
    let Some(plan) = bed.plan else {
        return html! { p { "Nothing is reckoned here. " @if let Some(why) = &bed.no_plan { (why) } } };
    };
    let units = sheet.page.units;
    if let Some(costs) = &plan.costs {
        let advised = plan.softening.as_ref().map(|softening| softening.advised);
        return html! {
            div class="scroll" {
                table class="figures" {
                    caption { "At your prices, over " (crate::report::units::number(costs.years)) " years" }
                    thead { tr { th scope="col" { "" span class="sr" { "Course" } } th scope="col" { "At once" } th scope="col" { "In all, today" } th scope="col" { "Saves" } } }
                    tbody {
                        @for cost in &costs.courses {
                            tr class=[(Some(cost.course) == advised).then_some("advised")] {
                                th scope="row" { (sheet::course_words(cost.course)) @if Some(cost.course) == advised && cost.course != Course::Keep { " (advised)" } }
                                td { (money(cost.first)) }
                                td { (money(cost.present)) }
                                td { (cost.saved.map_or_else(|| "–".to_owned(), |saved| money(saved.best).replace('-', "\u{2212}"))) }
                            }
                        }
                    }
                }
            }
            p class="note" {
                @if let Some(cheapest) = costs.cheapest { "Cheapest: " (sheet::course_words(cheapest).to_lowercase()) ". " }
                "Money stands beside the verdict and does not move it."
            }
        };
    }
    let year = plan.softening.as_ref().and_then(|softening| {
        let now = softening.outcomes.iter().find(|outcome| outcome.course == Course::Keep)?;
        let after = softening.outcomes.iter().find(|outcome| outcome.course == softening.advised)?;
        let words = |year: &crate::plan::Year| {
            format!("{} of salt and {} of water", units.show(year.salt, Of::Mass), units.show(year.water, Of::Water))
        };
        let (now_year, after_year) = (now.year.as_ref()?, after.year.as_ref()?);
        Some(if after.course == Course::Keep {
            format!("A year of it takes {}.", words(now_year))
        } else {
            format!(
                "A year takes {} as it is, and {} once the work is done ({}).",
                words(now_year),
                words(after_year),
                sheet::course_words(after.course).to_lowercase()
            )
        })
    });
    html! {
        @if let Some(year) = year { p { (year) } }
        p { "No prices were told, so no money is reckoned." }
    }
}

fn next(judgement: &Judgement) -> Markup {
    let why = capital(&judgement.next_sample_why);
    html! {
        @if let Some(on) = &judgement.next_sample_on { p class="date" { (day(on)) } }
        p { (why) "." }
    }
}

/// The recipes, where the verdict calls for one.
pub fn cleaning(sheet: &Sheet<'_>) -> Option<Markup> {
    let judgement = sheet.bed.judgement;
    if judgement.verdict != Verdict::Clean && !judgement.also.contains(&Verdict::Clean) {
        return None;
    }
    let potable = judgement.sample.drinking_water;
    let specialist = judgement.remedy.iter().all(|remedy| !remedy.drinking_water);
    Some(html! {
        p class="pointer" { "The " a href=(format!("#{}-cautions", sheet.id)) { "cautions" } " come before the first step." }
        @if specialist && potable == Some(false) && judgement.remedy.is_empty() {
            p { "No recipe here answers what was found: leave it to a specialist." }
        } @else if specialist && potable != Some(false) {
            p { "No cleaning named here is for a bed that people drink from, or may drink from: leave it to a specialist with a cleaner listed for drinking water." }
        }
        @for remedy in &judgement.remedy {
            div class="recipe" {
                p class="recipe-name" {
                    strong { (remedy.title) "." }
                    @if !remedy.drinking_water && potable != Some(false) { " Not for drinking water: only where it is certain that nobody drinks it." }
                }
                dl {
                    dt { "Answers" } dd { (remedy.answers.join(", ")) }
                    @if let Some(dose) = &remedy.dose { dt { "Dose" } dd { (dose) } }
                    dt { "Steps" } dd { (remedy.steps) }
                    @if let Some(limit) = remedy.temperature_max { dt { "No hotter than" } dd { (quantity_words(limit, "Cel")) } }
                    dt { "Done when" } dd { (remedy.end_check) }
                    dt { "Source" } dd { (remedy.source) }
                }
            }
        }
    })
}

/// What the plan reckons: volume, meter, year, money.
pub fn plan(sheet: &Sheet<'_>) -> Option<Markup> {
    let plan = sheet.bed.plan?;
    let parts = sheet::work_in_figures(plan, sheet.page.units);
    if parts.is_empty() {
        return None;
    }
    Some(html! {
        @for (at, (title, blocks)) in parts.iter().enumerate() {
            div class="group" {
                (heading(sheet.level + 2, &format!("{}-plan-{at}", sheet.id), title))
                @for block in blocks { (self::block(block, &format!("{title}, table: {}", sheet.name))) }
            }
        }
    })
}

fn block(block: &Block, name: &str) -> Markup {
    match block {
        Block::Text(text) => html! { p { (text) } },
        Block::Items(lines) | Block::Checks(lines) => items(lines).unwrap_or_default(),
        Block::Steps(lines) => html! { ol { @for line in lines { li { (line) } } } },
        Block::Pairs(pairs) | Block::Form(pairs) => {
            html! { dl { @for (name, value) in pairs { dt { (name) } dd { (value) } } } }
        }
        Block::Table { head, rows } => html! {
            div class="scroll" tabindex="0" role="region" aria-label=(name) {
                table class="figures" {
                    thead { tr { @for cell in head { @if cell.is_empty() { td {} } @else { th scope="col" { (cell) } } } } }
                    tbody {
                        @for row in rows {
                            tr { @for (at, cell) in row.iter().enumerate() { @if at == 0 { th scope="row" { (cell) } } @else { td { (cell) } } } }
                        }
                    }
                }
            }
        },
    }
}
