//! Records as pages of terminal text: who and when, figures with their words and places, and every doubt in words.
//!
//! Takes what was read, gives text of a stated width. Rounds for the eye only: the report's own figure stands beside.

use super::look::{Look, borderless};
use super::plain::{safe, wrapped};
use crate::lexicon::Lexicon;
use crate::place::Where;
use crate::record::{Doubt, FileReading, Measurement, Qualifier, Record, Reference, Unread};
use comfy_table::{Cell, Color, Table};
use std::collections::BTreeMap;

/// The page of one file: its records, then what belongs to none of them.
///
/// ```
/// use beadwise::{lexicon::Lexicon, pipeline, readers::ReadOptions, report::{look::Look, table::page}};
/// let lexicon = Lexicon::builtin();
/// let outcome = pipeline::read("march.txt", b"Vessel: Softener 2\nMoisture: 47.3 %\n", &ReadOptions::default(), lexicon);
/// let text = page(outcome.file.as_ref(), &outcome.records, lexicon, &Look::default(), false);
/// assert!(text.starts_with("Softener 2\n"));
/// assert!(text.contains("47.3 %"));
/// assert!(text.lines().all(|line| line.chars().count() <= 80));
/// ```
pub fn page(file: Option<&FileReading>, records: &[Record], lexicon: &Lexicon, look: &Look, all: bool) -> String {
    let mut page = Page { lines: Vec::new(), width: usize::from(look.width), look: *look, lexicon };
    for record in records {
        if !page.lines.is_empty() {
            page.lines.push(String::new());
        }
        page.record(record, all);
    }
    if let Some(file) = file {
        page.file(file, all);
    }
    if page.lines.is_empty() {
        return String::new();
    }
    let mut text = page.lines.join("\n");
    text.push('\n');
    text
}

struct Page<'a> {
    lines: Vec<String>,
    width: usize,
    look: Look,
    lexicon: &'a Lexicon,
}

/// Doubts of a record in the order in which they are marked.
#[derive(Default)]
struct Marks<'a> {
    doubts: Vec<(String, &'a Doubt)>,
}

impl<'a> Marks<'a> {
    fn mark(&mut self, of: &str, doubts: &'a [Doubt]) -> String {
        let mut marks = String::new();
        for doubt in doubts {
            self.doubts.push((of.to_owned(), doubt));
            marks.push_str(&format!(" [{}]", self.doubts.len()));
        }
        marks
    }
}

impl Page<'_> {
    fn text(&mut self, text: &str, first: &str, rest: &str) {
        self.lines.extend(wrapped(&safe(text), self.width, first, rest));
    }

    fn bold(&self, text: &str) -> String {
        if self.look.color { format!("\u{1b}[1m{text}\u{1b}[0m") } else { text.to_owned() }
    }

    fn heading(&mut self, text: &str) {
        self.lines.push(String::new());
        let text = self.bold(text);
        self.lines.push(text);
    }

    fn record(&mut self, record: &Record, all: bool) {
        self.head(record);
        let mut marks = Marks::default();
        self.measurements(record, &mut marks);
        self.field(record, &mut marks);
        self.sieve(record);
        if !record.remarks.is_empty() {
            self.heading("Remarks");
            for remark in &record.remarks {
                self.text(&format!("\"{}\" ({})", remark.text.trim(), remark.place), "  ", "    ");
            }
        }
        marks.mark("", &record.doubts);
        self.doubts(&marks);
        self.unread(&record.unread, all);
    }

    fn head(&mut self, record: &Record) {
        let sample = &record.sample;
        let known = |value: &Option<String>| value.clone().filter(|text| !text.trim().is_empty());
        let mut title: Vec<String> =
            [&sample.vessel, &sample.site, &sample.customer].into_iter().filter_map(known).collect();
        title.extend(known(&sample.sample_id).map(|id| format!("sample {id}")));
        title.extend(known(&sample.position));
        if title.is_empty() {
            title.push("Sample without a name".into());
        }
        let mut lines = wrapped(&safe(&title.join(", ")), self.width, "", "  ");
        if let Some(first) = lines.first_mut() {
            *first = self.bold(first);
        }
        self.lines.extend(lines);
        let mut dates = Vec::new();
        for (what, value) in [
            ("sampled", &sample.sampled_on),
            ("received", &sample.received_on),
            ("reported", &sample.reported_on),
            ("installed", &sample.installed_on),
        ] {
            dates.extend(known(value).map(|date| format!("{what} {date}")));
        }
        self.text(&dates.join(", "), "  ", "    ");
        let mut resin = Vec::new();
        resin.extend(known(&sample.resin_as_written).map(|words| format!("resin \"{words}\"")));
        resin.extend(known(&sample.resin_class).map(|class| format!("class {class}")));
        resin.extend(known(&sample.form).map(|form| format!("{form} form")));
        resin.extend(known(&sample.condition));
        resin.extend(known(&sample.cycle_state));
        resin.extend(known(&sample.duty).map(|duty| format!("duty {duty}")));
        resin.extend(
            sample.drinking_water.map(|drunk| if drunk { "drinking water" } else { "not drinking water" }.to_owned()),
        );
        self.text(&resin.join(", "), "  ", "    ");
        let mut from = Vec::new();
        from.extend(known(&sample.laboratory));
        from.extend(known(&sample.report_number).map(|number| format!("report {number}")));
        from.push(format!("file {} ({})", record.source.file, record.source.format));
        self.text(&from.join(", "), "  ", "    ");
    }

    fn table(&self, header: &[&str]) -> Table {
        // The page's indent takes one column.
        let mut table = borderless(&Look { width: self.look.width.saturating_sub(1), ..self.look });
        table.set_header(header.iter().map(|name| Cell::new(*name).fg(Color::DarkGrey)));
        table
    }

    fn close(&mut self, table: &Table) {
        // The style's own padding gives one blank; the page's indent is two.
        self.lines.extend(table.lines().map(|line| format!(" {}", line.trim_end())));
    }

    fn doubted(&self, text: String, is_doubted: bool) -> Cell {
        let cell = Cell::new(safe(&text));
        if is_doubted { cell.fg(Color::Yellow) } else { cell }
    }

    fn measurements<'r>(&mut self, record: &'r Record, marks: &mut Marks<'r>) {
        if record.measurements.is_empty() {
            return;
        }
        self.lines.push(String::new());
        let with_reference = record.measurements.iter().any(|m| m.reference.is_some());
        let with_method = record.measurements.iter().any(|m| m.method.is_some());
        let mut header = vec!["Property", "Result", "As written"];
        header.extend(with_reference.then_some("New resin"));
        header.extend(with_method.then_some("Method"));
        header.push("Where");
        let mut table = self.table(&header);
        for m in &record.measurements {
            let name = self.property(m);
            let mark = marks.mark(&name, &m.doubts);
            let mut row = vec![
                Cell::new(&name),
                self.doubted(format!("{}{mark}", result(m)), !m.doubts.is_empty()),
                Cell::new(safe(m.as_written.trim())),
            ];
            if with_reference {
                row.push(Cell::new(m.reference.as_ref().map_or_else(String::new, reference)));
            }
            if with_method {
                row.push(Cell::new(safe(m.method.as_deref().unwrap_or_default())));
            }
            row.push(Cell::new(safe(&place(&m.place))));
            table.add_row(row);
        }
        self.close(&table);
    }

    fn property(&self, m: &Measurement) -> String {
        let mut name = self.lexicon.property(&m.property).map_or_else(|| m.property.clone(), |p| p.name.clone());
        let basis = match m.basis.as_deref() {
            Some("volume") => ", by volume",
            Some("dry_mass") => ", dry",
            Some("wet_mass") => ", wet",
            _ => "",
        };
        name.push_str(basis);
        if let Some(form) = &m.form {
            name.push_str(&format!(", {form} form"));
        }
        name
    }

    fn field<'r>(&mut self, record: &'r Record, marks: &mut Marks<'r>) {
        if record.field.is_empty() {
            return;
        }
        self.heading("The bed and its water");
        let mut table = self.table(&["Quantity", "Figure", "As written", "Where"]);
        for f in &record.field {
            let name = self.lexicon.field(&f.quantity).map_or_else(|| f.quantity.clone(), |q| q.name.clone());
            let mark = marks.mark(&name, &f.doubts);
            let figure = figure(f.qualifier, f.value, f.high, f.unit.as_deref());
            table.add_row([
                Cell::new(&name),
                self.doubted(format!("{figure}{mark}"), !f.doubts.is_empty()),
                Cell::new(safe(f.as_written.trim())),
                Cell::new(safe(&place(&f.place))),
            ]);
        }
        self.close(&table);
    }

    fn sieve(&mut self, record: &Record) {
        if record.sieve.is_empty() {
            return;
        }
        self.heading("Sieve analysis");
        let mut table = self.table(&["Opening", "Share", "Where"]);
        for s in &record.sieve {
            table.add_row([
                format!("{} {}", rounded(s.opening), s.unit),
                format!("{} % {}", rounded(s.value), s.kind.replace('_', " ")),
                safe(&place(&s.place)),
            ]);
        }
        self.close(&table);
    }

    fn doubts(&mut self, marks: &Marks<'_>) {
        if marks.doubts.is_empty() {
            return;
        }
        self.heading("Not sure");
        for (at, (of, doubt)) in marks.doubts.iter().enumerate() {
            self.doubt(&format!("[{}]", at + 1), of, doubt);
        }
    }

    fn doubt(&mut self, mark: &str, of: &str, doubt: &Doubt) {
        let of = match (of, doubt.property.as_deref()) {
            ("", Some(property)) => self.name_of(property),
            _ => of.to_owned(),
        };
        let mut text = if of.is_empty() { String::new() } else { format!("{of}: ") };
        text.push_str(if doubt.text.trim().is_empty() { &doubt.code } else { doubt.text.trim() });
        if !doubt.alternatives.is_empty() {
            let readings: Vec<String> = doubt.alternatives.iter().map(alternative).collect();
            text.push_str(&format!(" Possible readings: {}.", readings.join(" | ")));
        }
        let place = doubt.place.to_string();
        let place = if place.is_empty() { place } else { format!(", {place}") };
        self.text(&format!("{text} ({}{place})", doubt.code), &format!("  {mark} "), "      ");
    }

    /// The name of a property, field quantity or key of the sample.
    fn name_of(&self, id: &str) -> String {
        let quantity = self.lexicon.property(id).or_else(|| self.lexicon.field(id));
        quantity.map_or_else(|| id.replace('_', " "), |quantity| quantity.name.clone())
    }

    fn unread(&mut self, unread: &[Unread], all: bool) {
        if unread.is_empty() {
            return;
        }
        let hint = if all { ":" } else { " (--all lists them)" };
        self.lines.push(String::new());
        let count = unread.len();
        let s = if count == 1 { "" } else { "s" };
        self.text(&format!("{count} number{s} not understood{hint}"), "", "  ");
        if all {
            for line in unread {
                self.text(&format!("{} ({})", line.text.trim(), line.place), "  - ", "    ");
            }
        }
    }

    fn file(&mut self, file: &FileReading, all: bool) {
        if !file.doubts.is_empty() {
            self.heading("Of the whole file");
            for doubt in &file.doubts {
                self.doubt("-", "", doubt);
            }
        }
        self.unread(&file.unread, all);
        if file.set_aside.is_empty() {
            return;
        }
        let mut reasons: BTreeMap<&str, usize> = BTreeMap::new();
        for aside in &file.set_aside {
            *reasons.entry(aside.reason.as_str()).or_default() += 1;
        }
        let reasons: Vec<String> = reasons.iter().map(|(reason, count)| format!("{reason} {count}")).collect();
        let count = file.set_aside.len();
        let s = if count == 1 { "" } else { "s" };
        let end = if all { ":" } else { "" };
        self.lines.push(String::new());
        self.text(&format!("{count} number{s} set aside: {}{end}", reasons.join(", ")), "", "  ");
        if all {
            for aside in &file.set_aside {
                self.text(&format!("{}: {} ({})", aside.reason, aside.text.trim(), aside.place), "  - ", "    ");
            }
        }
    }
}

fn alternative(reading: &serde_json::Value) -> String {
    match reading {
        serde_json::Value::String(text) => text.clone(),
        serde_json::Value::Object(parts) => {
            let parts: Vec<String> = parts
                .iter()
                .filter(|(_, value)| !value.is_null())
                .map(|(name, value)| format!("{name} {}", alternative(value)))
                .collect();
            parts.join(", ")
        }
        serde_json::Value::Number(number) => number.as_f64().map_or_else(|| number.to_string(), rounded),
        other => other.to_string(),
    }
}

fn result(m: &Measurement) -> String {
    let mut text = figure(m.qualifier, m.value, m.high, m.unit.as_deref());
    if let Some(uncertainty) = &m.uncertainty {
        if let Some(value) = uncertainty.value {
            text.push_str(&format!(" ± {}", rounded(value)));
        }
        if let Some(n) = uncertainty.n {
            text.push_str(&format!(" (n {n})"));
        }
    }
    text
}

fn figure(qualifier: Qualifier, value: Option<f64>, high: Option<f64>, unit: Option<&str>) -> String {
    let unit = match unit {
        None | Some("1") => String::new(),
        Some("Cel") => " °C".to_owned(),
        Some("a") => " years".to_owned(),
        Some(unit) => format!(" {unit}"),
    };
    match (value, high) {
        (Some(low), Some(high)) => format!("{} to {}{unit}", rounded(low), rounded(high)),
        (Some(value), None) => {
            let sign = qualifier.sign();
            let blank = if sign.is_empty() { "" } else { " " };
            format!("{sign}{blank}{}{unit}", rounded(value))
        }
        (None, Some(high)) => format!("to {}{unit}", rounded(high)),
        (None, None) => format!("{} unknown", qualifier.sign()).trim_start().to_owned(),
    }
}

fn reference(reference: &Reference) -> String {
    match (reference.low, reference.high, reference.typical) {
        (Some(low), Some(high), _) => format!("{} to {}", rounded(low), rounded(high)),
        (Some(low), None, _) => format!("min {}", rounded(low)),
        (None, Some(high), _) => format!("max {}", rounded(high)),
        (None, None, Some(typical)) => rounded(typical),
        (None, None, None) => safe(reference.as_written.trim()),
    }
}

/// Four figures are as many as any test of resin has.
fn rounded(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return value.to_string();
    }
    let before = value.abs().log10().floor() + 1.0;
    // Whole figures stay whole: 12345 mg/kg is printed so.
    let decimals = (4.0 - before).clamp(0.0, 12.0) as usize;
    let text = format!("{value:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// A place in as few characters as tell it.
fn place(place: &Where) -> String {
    match (&place.sheet, &place.cell, &place.part) {
        (Some(sheet), Some(cell), None) => format!("{sheet}!{cell}"),
        _ => place.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Sample;

    #[test]
    fn figures_are_rounded_for_the_eye_only() {
        for (value, text) in [
            (1.720_823_8, "1.721"),
            (47.3, "47.3"),
            (6200.0, "6200"),
            (12345.6, "12346"),
            (0.66, "0.66"),
            (0.0, "0"),
            (0.000_012_34, "0.00001234"),
        ] {
            assert_eq!(rounded(value), text);
        }
    }

    #[test]
    fn doubts_are_marked_and_said_in_words() {
        let record = Record {
            sample: Sample { vessel: Some("Softener\u{1b}[31m 2".into()), ..Sample::default() },
            measurements: vec![Measurement {
                property: "iron".into(),
                basis: Some("dry_mass".into()),
                qualifier: Qualifier::Below,
                value: Some(50.0),
                unit: Some("mg/kg".into()),
                doubts: vec![
                    Doubt::new("conflict", Some("iron"), "Two figures differ.", &Where::line(3))
                        .with_alternatives([50.0, 60.0]),
                ],
                ..Measurement::default()
            }],
            ..Record::default()
        };
        let text = page(None, &[record], Lexicon::builtin(), &Look::default(), false);
        assert!(!text.contains('\u{1b}'), "{text}");
        assert!(text.contains("< 50 mg/kg [1]"), "{text}");
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            words
                .contains("[1] Iron on resin, dry: Two figures differ. Possible readings: 50 | 60. (conflict, line 3)"),
            "{text}"
        );
    }
}
