//! Beds as pages of terminal text: the register, a history with its charts, what is due, and the ranking.
//!
//! Chooses words, order and places on the page; computes nothing.

use super::look::Look;
use super::plain::{safe, wrapped};
use crate::beds::{Amount, Bed, Checked, Due, Entry, Event, History, Measured, Ranked, Rereading, Trend, overdue};
use crate::judge::{property_words, quantity_words};
use comfy_table::{Cell, CellAlignment, ContentArrangement, Table, presets};

mod chart;

struct Page {
    lines: Vec<String>,
    look: Look,
}

impl Page {
    fn new(look: &Look) -> Self {
        Self { lines: Vec::new(), look: *look }
    }

    fn text(&mut self, text: &str, first: &str, rest: &str) {
        self.lines.extend(wrapped(&safe(text), usize::from(self.look.width), first, rest));
    }

    fn title(&mut self, text: &str) {
        if !self.lines.is_empty() {
            self.lines.push(String::new());
        }
        let text = safe(text);
        self.lines.push(if self.look.color { format!("\u{1b}[1m{text}\u{1b}[0m") } else { text });
    }

    fn table(&mut self, head: &[&str], rows: Vec<Vec<String>>, right: &[usize]) {
        let mut table = Table::new();
        table
            .load_style(presets::NOTHING)
            .set_content_arrangement(ContentArrangement::Dynamic)
            .set_width(self.look.width)
            .force_no_tty();
        table.set_header(head.iter().map(|cell| Cell::new(*cell)));
        for row in rows {
            table.add_row(row.into_iter().map(|cell| Cell::new(safe(&cell))));
        }
        for at in right {
            if let Some(column) = table.column_mut(*at) {
                column.set_cell_alignment(CellAlignment::Right);
            }
        }
        self.lines.extend(table.lines().map(|line| format!(" {}", line.trim_end())));
    }

    fn ended(self) -> String {
        let mut text = self.lines.join("\n");
        text.push('\n');
        text
    }
}

fn dash(text: Option<String>) -> String {
    text.unwrap_or_else(|| "-".to_owned())
}

/// All beds of the register, one a line.
pub fn list(beds: &[Bed], look: &Look) -> String {
    let mut page = Page::new(look);
    if beds.is_empty() {
        page.text("The store holds no beds yet.", "", "");
        return page.ended();
    }
    let longest = beds.iter().map(|bed| bed.id.chars().count()).max().unwrap_or_default();
    for bed in beds {
        let facts: Vec<String> =
            [bed.resin_class.clone(), bed.duty.clone(), bed.installed_on.as_ref().map(|on| format!("filled {on}"))]
                .into_iter()
                .flatten()
                .collect();
        let (id, facts) = (safe(&bed.id), safe(&facts.join(", ")));
        if longest + 2 + facts.chars().count() <= usize::from(look.width) {
            page.lines.push(format!("{id:longest$}  {facts}").trim_end().to_owned());
        } else {
            page.lines.push(id);
            page.text(&facts, "    ", "    ");
        }
    }
    page.ended()
}

/// One bed's entry in the register, each amount in both systems of units.
///
/// ```
/// use beadwise::{beds::{Bed, amount}, report::{beds::entry, look::Look}};
/// let bed = Bed { volume: Some(amount("bed_volume", "10 ft3")?), ..Bed::named("Mill Street Laundry", "Softener 2") };
/// let text = entry(&bed, &Look::default());
/// assert!(text.contains("283 L (10 ft³)"), "{text}");
/// # Ok::<(), String>(())
/// ```
pub fn entry(bed: &Bed, look: &Look) -> String {
    let mut page = Page::new(look);
    page.title(&bed.title());
    let mut row = |name: &str, value: Option<String>| {
        if let Some(value) = value {
            page.text(&value, &format!("  {name:<22}"), &" ".repeat(24));
        }
    };
    let amount = |amount: &Option<Amount>| amount.as_ref().map(both_units);
    row("id", Some(bed.id.clone()));
    row("duty", bed.duty.clone());
    row("resin class", bed.resin_class.clone());
    row("resin", bed.product.clone());
    row("filled on", bed.installed_on.clone());
    row("drinking water", bed.drinking_water.map(|yes| if yes { "yes" } else { "no" }.to_owned()));
    row("volume at start-up", amount(&bed.volume));
    row("tank bore", amount(&bed.tank_bore));
    row("tank height", amount(&bed.tank_height));
    row("freeboard at start-up", amount(&bed.freeboard_at_startup));
    row("run at start-up", amount(&bed.run_at_startup));
    row(
        "price of resin",
        bed.resin_price.as_ref().map(|price| {
            let on = price.on.as_ref().map(|on| format!(", {on}")).unwrap_or_default();
            format!("{}{on}", price.as_written)
        }),
    );
    for (quantity, water) in &bed.water {
        row(&property_words(quantity), Some(both_units(water)));
    }
    row("complaint", bed.complaint.clone());
    row("note", bed.note.clone());
    page.ended()
}

/// An amount in the store's unit and in the trade's other one, and as it was typed where that differs.
fn both_units(amount: &Amount) -> String {
    let shown = match amount.unit.as_str() {
        "kg" => format!("{:.4} kg ({:.1} lb)", amount.value, amount.value / 0.453_592_37),
        "kPa" => format!("{:.0} kPa ({:.1} psi)", amount.value, amount.value / 6.894_757),
        "L/h" => format!("{:.0} L/h ({:.1} gpm)", amount.value, amount.value / 3.785_411_784 / 60.0),
        "L" if amount.value >= 1500.0 => {
            format!("{:.0} L ({:.0} gal)", amount.value, amount.value / 3.785_411_784)
        }
        unit => quantity_words(amount.value, unit),
    };
    format!("{shown}, given as {}", amount.as_written)
}

/// One bed over the years.
pub fn history(history: &History, only: Option<&str>, look: &Look) -> String {
    let mut page = Page::new(look);
    page.title(&history.bed.title());
    let class = history.resin_class.clone().unwrap_or_else(|| "resin class not known".to_owned());
    let duty = history.bed.duty.as_ref().map(|duty| format!(", {duty}")).unwrap_or_default();
    page.text(&format!("{class}{duty}; {}", history.bed.id), "", "  ");
    if history.entries.is_empty() {
        page.text("No analysis of it is filed yet: beadwise beds file REPORT", "", "");
    }
    for (at, charge) in history.charges.iter().enumerate() {
        let from = charge.from.clone().unwrap_or_else(|| "an unknown day".to_owned());
        page.title(&format!("Charge {} of {from} (told by {})", at + 1, charge.told_by));
        let entries: Vec<&Entry> = history.entries.iter().filter(|entry| entry.charge == at + 1).collect();
        if entries.is_empty() {
            page.text("No analysis of it is filed.", "  ", "  ");
            continue;
        }
        let rows = entries.iter().map(|entry| analysis_row(entry)).collect();
        page.table(
            &["Date", "Capacity", "Of new", "Moisture", "Whole", "Iron, dry", "Score", "Verdict"],
            rows,
            &[1, 2, 3, 4, 5, 6],
        );
        for entry in &entries {
            analysis_notes(&mut page, entry);
        }
    }
    if history.entries.iter().flat_map(|entry| &entry.figures).any(|figure| figure.doubted) {
        page.lines.push(String::new());
        page.text("? the reader doubted the figure: it is on no line.", "  ", "  ");
    }
    events(&mut page, &history.events);
    readings(&mut page, &history.readings);
    for trend in history.trends.iter().filter(|trend| only.is_none_or(|only| only == trend.property)) {
        trend_block(&mut page, trend);
    }
    if !history.notes.is_empty() {
        page.title("To know");
        for note in &history.notes {
            page.text(note, "  - ", "    ");
        }
    }
    page.ended()
}

/// One analysis as a row of figures: date, capacity, of new, moisture, whole beads, iron, score, verdict.
pub(super) fn analysis_row(entry: &Entry) -> Vec<String> {
    let find = |property: &str, basis: Option<&str>| {
        entry.figures.iter().find(|figure| figure.property == property && figure.basis.as_deref() == basis)
    };
    let volume = Some("volume");
    let capacity = match (find("salt_splitting_capacity", volume), find("total_capacity", volume)) {
        (Some(strong), _) => Some(strong),
        (None, total) => total,
    };
    let shown = |figure: Option<&crate::beds::Shown>, digits: usize, unit: &str| {
        dash(figure.and_then(|figure| {
            let sign = match figure.qualifier.as_str() {
                "<" | ">" | "~" => figure.qualifier.as_str(),
                _ => "",
            };
            let doubt = if figure.doubted { "?" } else { "" };
            Some(format!("{sign}{:.digits$}{unit}{doubt}", figure.value?))
        }))
    };
    let mark = if entry.counts { "" } else { " (replaced)" };
    let place = match (entry.condition.as_deref(), entry.position.as_deref()) {
        (Some("after-cleaning"), _) => " cleaned".to_owned(),
        (_, Some("core") | None) => String::new(),
        (_, Some(position)) => format!(" {position}"),
    };
    vec![
        format!("{}{place}{mark}", entry.on.clone().unwrap_or_else(|| "undated".to_owned())),
        shown(capacity, 2, " eq/L"),
        dash(capacity.and_then(|figure| figure.percent_of_new).map(|percent| format!("{percent:.0} %"))),
        shown(find("moisture_retention", None), 1, " %"),
        shown(find("whole_beads", None), 0, " %"),
        shown(find("iron", Some("dry_mass")), 0, ""),
        dash(entry.score.map(|score| format!("{score:.0}"))),
        entry.verdict.word().to_owned(),
    ]
}

fn analysis_notes(page: &mut Page, entry: &Entry) {
    let on = entry.on.clone().unwrap_or_else(|| "undated".to_owned());
    let by = entry.laboratory.clone().unwrap_or_else(|| "laboratory not named".to_owned());
    let number = entry.report_number.as_ref().map(|number| format!(", {number}")).unwrap_or_default();
    page.text(&format!("{on}: {by}{number}; {}", entry.file), "   ", "     ");
    if let Some(file) = &entry.repeats {
        page.text(&format!("the same sample as in {file}"), "     ", "     ");
    }
    if !entry.changes.is_empty() {
        page.text(
            &format!("changed since the one before, which can make a false step: {}", entry.changes.join("; ")),
            "     ",
            "     ",
        );
    }
}

fn events(page: &mut Page, events: &[Event]) {
    if events.is_empty() {
        return;
    }
    page.title("What was done");
    for event in events {
        let mut parts = vec![event.kind.words().to_owned()];
        parts.extend(event.volume.as_ref().map(|volume| volume.as_written.clone()));
        parts.extend(event.lot.as_ref().map(|lot| format!("lot {lot}")));
        parts.extend(event.certificate.as_ref().map(|paper| format!("certificate {paper}")));
        parts.extend(event.kept_sample.as_ref().map(|place| format!("sample kept: {place}")));
        parts.extend(event.note.clone());
        page.text(&format!("{} {}", event.happened_on, parts.join(", ")), "  ", "    ");
    }
}

fn readings(page: &mut Page, readings: &[Measured]) {
    if readings.is_empty() {
        return;
    }
    page.title("Measured at the bed");
    for reading in readings {
        let mut parts = vec![quantity_words(reading.value, &reading.unit)];
        if let (true, Some(spread)) = (reading.points > 1, reading.spread) {
            parts.push(format!("mean of {}, {} apart", reading.points, quantity_words(spread, &reading.unit)));
        }
        parts.extend(reading.state.clone());
        parts.extend(reading.rim.as_ref().map(|rim| format!("from the {rim}")));
        parts.extend(reading.file.clone());
        parts.extend(reading.note.clone());
        page.text(&format!("{} {}: {}", reading.on, property_words(&reading.quantity), parts.join(", ")), "  ", "    ");
    }
}

/// The trends of one bed.
pub fn trends(history: &History, only: Option<&str>, look: &Look) -> String {
    let mut page = Page::new(look);
    page.title(&history.bed.title());
    let mut any = false;
    for trend in history.trends.iter().filter(|trend| only.is_none_or(|only| only == trend.property)) {
        any = true;
        trend_block(&mut page, trend);
    }
    if !any {
        page.text("No line can be drawn yet: it takes a dated analysis, a plain figure and the resin's class.", "", "");
    }
    for note in &history.notes {
        page.text(note, "  - ", "    ");
    }
    page.ended()
}

fn trend_block(page: &mut Page, trend: &Trend) {
    let name = property_words(&trend.property);
    let basis = if trend.basis.as_deref() == Some("dry_mass") { ", dry" } else { "" };
    page.title(&format!("{}{basis}, {}", capital(&name), trend.unit));
    let width = usize::from(page.look.width);
    page.lines.extend(chart::chart(trend, width));
    let slope = trend.per_year;
    let figures = if trend.count == 1 { "1 figure".to_owned() } else { format!("{} figures", trend.count) };
    let robust = match slope.robust {
        Some(robust) if trend.count > 2 => format!("; the median slope is {}", signed(robust)),
        _ => String::new(),
    };
    page.text(
        &format!(
            "{figures}: {} a year ({} to {}, four times in five){robust}. The line stands at {} today, give or take {}.",
            signed(slope.best),
            signed(slope.low),
            signed(slope.high),
            number(trend.now),
            number(trend.now_within)
        ),
        "  ",
        "  ",
    );
    if let (Some(limit), Some(meets)) = (trend.limit, &trend.meets) {
        let source = trend.limit_source.clone().unwrap_or_default();
        let when = match (&meets.earliest, &meets.likely, &meets.latest) {
            (Some(early), Some(likely), latest) => format!(
                "around {}, between {} and {} four times in five",
                month(likely),
                month(early),
                latest.as_deref().map_or("a time out of sight", |latest| latest.get(..7).unwrap_or(latest))
            ),
            (Some(early), None, _) => format!("hardly; one chance in ten by {}", month(early)),
            (None, ..) => "in no time that can be foreseen".to_owned(),
        };
        page.text(&format!("Meets its limit of {} ({source}): {when}.", number(limit)), "  ", "  ");
    }
    for (on, why) in &trend.left_out {
        page.text(&format!("Not on the line: {on}, {why}."), "  - ", "    ");
    }
    for note in &trend.notes {
        page.text(note, "  - ", "    ");
    }
}

fn month(date: &str) -> &str {
    date.get(..7).unwrap_or(date)
}

fn number(value: f64) -> String {
    if value.abs() >= 1000.0 { format!("{value:.0}") } else { format!("{value:.1}") }
}

pub(super) fn signed(value: f64) -> String {
    if value.abs() >= 1000.0 { format!("{value:+.0}") } else { format!("{value:+.1}") }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map(|first| first.to_uppercase().chain(chars).collect()).unwrap_or_default()
}

/// What is due, the earliest first.
pub fn due(due: &[Due], today: &str, look: &Look) -> String {
    let mut page = Page::new(look);
    if due.is_empty() {
        page.text("Nothing is due.", "", "");
        return page.ended();
    }
    for item in due {
        let late = if overdue(item, today).is_some() { " (overdue)" } else { "" };
        let task = if item.what == "freeboard" { "tape the freeboard of" } else { "sample" };
        page.text(&format!("{}{late}  {task} {}", item.on, item.title), "", "  ");
        page.text(&format!("{}.", capital(&item.why)), "    ", "    ");
        page.text(&item.how, "    ", "    ");
    }
    page.ended()
}

/// All beds, the one first that waiting would cost most.
pub fn rank(beds: &[Ranked], look: &Look) -> String {
    let mut page = Page::new(look);
    if beds.is_empty() {
        page.text("The store holds no beds yet.", "", "");
        return page.ended();
    }
    let rows = beds
        .iter()
        .enumerate()
        .map(|(at, bed)| {
            let known = if bed.volume_known { "" } else { "?" };
            vec![
                (at + 1).to_string(),
                bed.title.clone(),
                dash(bed.capacity.map(|capacity| format!("{capacity:.0} %"))),
                dash(bed.chance.map(|chance| format!("{:.0} %", chance * 100.0))),
                format!("{:.0} L{known}", bed.volume),
                format!("{:.0} L", bed.at_stake),
                dash(bed.cost.map(|cost| format!("{cost:.0} {}", bed.currency.clone().unwrap_or_default()))),
                bed.next_sample_on.clone(),
            ]
        })
        .collect();
    page.table(&["", "Bed", "Of new", "Chance", "Resin", "At stake", "Cost", "Next sample"], rows, &[0, 2, 3, 4, 5, 6]);
    page.lines.push(String::new());
    for (at, bed) in beds.iter().enumerate().take(10) {
        let mut why = bed.field.clone();
        why.extend(bed.why.iter().cloned());
        page.text(&format!("{}. {}", at + 1, why.join("; ")), "  ", "     ");
    }
    let blind = beds.iter().filter(|bed| bed.chance.is_none()).count();
    if blind > 0 {
        page.text(
            &format!("{blind} beds cannot be ranked by chance: they have no dated plain capacity, or no class. `beds due` names them."),
            "  ",
            "  ",
        );
    }
    page.lines.push(String::new());
    page.text(
        "Chance: that the capacity's line is past its limit by the next sample. At stake: that chance, and what readings at the bed say, times the volume of resin. ? no volume is known.",
        "  ",
        "  ",
    );
    page.ended()
}

/// What a check found.
pub fn checked(checked: &Checked, look: &Look) -> String {
    let mut page = Page::new(look);
    page.text(
        &format!(
            "{} beds, {} reports with their files, {} analyses, {} readings, {} events.",
            checked.beds, checked.reports, checked.analyses, checked.readings, checked.events
        ),
        "",
        "",
    );
    if checked.wrong.is_empty() {
        page.text("All of it is whole.", "", "");
    }
    for wrong in &checked.wrong {
        page.text(wrong, "  - ", "    ");
    }
    page.ended()
}

/// What reading old reports again changes.
pub fn reread(all: &[Rereading], applied: bool, look: &Look) -> String {
    let mut page = Page::new(look);
    let changed: Vec<&Rereading> = all.iter().filter(|each| !each.changes.is_empty()).collect();
    for each in &changed {
        page.text(&each.file, "", "  ");
        for change in &each.changes {
            page.text(change, "  - ", "    ");
        }
        if let Some(hindrance) = &each.hindrance {
            page.text(&format!("Left as it was: {hindrance}."), "    ", "    ");
        }
    }
    let end = match (changed.is_empty(), applied) {
        (true, _) => "nothing changes.".to_owned(),
        (false, true) => format!("{} changed.", changed.len()),
        (false, false) => format!("{} would change. Nothing was changed: --apply does it.", changed.len()),
    };
    page.text(&format!("{} reports read again; {end}", all.len()), "", "");
    page.ended()
}
