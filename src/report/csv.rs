//! Records as rows: one for each measurement, or one for each sample.
//!
//! Takes a [`Record`], gives cells of text in the order of [`LONG`] or of a [`WideTable`]. Writes nothing: where rows
//! go is for the caller. Text that came from a report is guarded against formula injection unless it is asked for
//! exactly.

use crate::lexicon::Lexicon;
use crate::record::{Doubt, Measurement, Qualifier, Record};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// Header of the table with one row for each measurement.
pub const LONG: [&str; 21] = [
    "file",
    "sample_id",
    "site",
    "vessel",
    "position",
    "sampled_on",
    "reported_on",
    "laboratory",
    "resin_class",
    "property",
    "basis",
    "form",
    "qualifier",
    "value",
    "high",
    "unit",
    "label",
    "as_written",
    "method",
    "where",
    "doubts",
];

/// How many of [`LONG`] say who, where and when; they head the wide table too.
const WHO: usize = 9;

/// Header of the list of files that could not be read.
pub const REJECTS: [&str; 4] = ["file", "part", "code", "text"];

/// Whether text of a report is kept exactly, or guarded against spreadsheets that would run it as a formula.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Text {
    /// A cell that a spreadsheet would take for a formula begins with an apostrophe.
    Guarded,
    /// As the report has it.
    Exact,
}

impl Text {
    /// A cell with text that came from outside.
    ///
    /// What begins a formula is OWASP's list ("CSV Injection"): `=`, `+`, `-`, `@`, tab, carriage return, line feed,
    /// and the full-width forms of the signs.
    ///
    /// ```
    /// use beadwise::report::csv::Text;
    /// assert_eq!(Text::Guarded.cell("=1+1"), "'=1+1");
    /// assert_eq!(Text::Guarded.cell("Softener 2"), "Softener 2");
    /// assert_eq!(Text::Exact.cell("=1+1"), "=1+1");
    /// ```
    pub fn cell(self, text: &str) -> String {
        let runs = text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠']);
        if self == Self::Guarded && runs { format!("'{text}") } else { text.to_owned() }
    }

    fn maybe(self, text: Option<&String>) -> String {
        text.map_or_else(String::new, |text| self.cell(text))
    }

    fn who(self, record: &Record) -> Vec<String> {
        let sample = &record.sample;
        vec![
            self.cell(&record.source.file),
            self.maybe(sample.sample_id.as_ref()),
            self.maybe(sample.site.as_ref()),
            self.maybe(sample.vessel.as_ref()),
            self.maybe(sample.position.as_ref()),
            self.maybe(sample.sampled_on.as_ref()),
            self.maybe(sample.reported_on.as_ref()),
            self.maybe(sample.laboratory.as_ref()),
            sample.resin_class.clone().unwrap_or_default(),
        ]
    }
}

/// A number as it is: the shortest decimal that reads back to the same value, without an exponent.
fn number(value: Option<f64>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

/// Rows of a record, one for each measurement, in the order of [`LONG`].
pub fn long_rows(record: &Record, text: Text) -> impl Iterator<Item = Vec<String>> {
    let who = text.who(record);
    record.measurements.iter().map(move |m| {
        let mut row = who.clone();
        row.extend([
            m.property.clone(),
            m.basis.clone().unwrap_or_default(),
            m.form.clone().unwrap_or_default(),
            m.qualifier.word().to_owned(),
            number(m.value),
            number(m.high),
            m.unit.clone().unwrap_or_default(),
            text.cell(&m.label),
            text.cell(&m.as_written),
            text.maybe(m.method.as_ref()),
            m.place.to_string(),
            doubts_of(record, m),
        ]);
        row
    })
}

/// Codes of a measurement's doubts, and of the record's doubts about this property or about a key that the row shows.
fn doubts_of(record: &Record, measurement: &Measurement) -> String {
    let own = measurement.doubts.iter().map(|doubt| doubt.code.clone());
    let record = record.doubts.iter().filter_map(|doubt| match doubt.property.as_deref() {
        Some(property) if property == measurement.property => Some(doubt.code.clone()),
        Some(key) if is_shown_key(key) => Some(about(doubt, key)),
        _ => None,
    });
    joined(own.chain(record))
}

fn about(doubt: &Doubt, of: &str) -> String {
    format!("{}({of})", doubt.code)
}

fn is_shown_key(key: &str) -> bool {
    key != "file" && LONG.iter().take(WHO).any(|column| *column == key)
}

/// Whether any row of [`long_rows`] shows a doubt of the record.
pub fn is_shown(record: &Record, doubt: &Doubt) -> bool {
    !record.measurements.is_empty()
        && doubt
            .property
            .as_deref()
            .is_some_and(|of| is_shown_key(of) || record.measurements.iter().any(|m| m.property == of))
}

fn joined(codes: impl Iterator<Item = String>) -> String {
    let mut seen = BTreeSet::new();
    let codes: Vec<String> = codes.filter(|code| seen.insert(code.clone())).collect();
    codes.join("; ")
}

/// A row of the wide table while its columns are not all known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WideRow {
    who: Vec<String>,
    cells: Vec<WideCell>,
    doubts: String,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct WideCell {
    column: usize,
    /// Which measurement of the record it is.
    measurement: usize,
    value: String,
    high: String,
    qualifier: String,
    form: String,
}

/// What a column of the wide table holds, in the order in which columns stand.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Key {
    /// Place of the property in the grammar.
    property_at: usize,
    property: String,
    /// Place of the basis among [`BASES`].
    basis_at: usize,
    basis: Option<String>,
    unit: Option<String>,
    /// Counts from 1 where a sample has several figures for one property and basis.
    nth: usize,
}

impl Key {
    fn of(m: &Measurement, lexicon: &Lexicon) -> Self {
        let canonical = lexicon.property(&m.property);
        let canonical = canonical.and_then(|p| p.units.get(m.basis.as_deref().unwrap_or_default()));
        Self {
            property_at: lexicon.properties().iter().position(|p| p.id == m.property).unwrap_or(usize::MAX),
            property: m.property.clone(),
            basis_at: BASES.iter().position(|b| Some(*b) == m.basis.as_deref()).unwrap_or(BASES.len()),
            basis: m.basis.clone(),
            unit: m.unit.as_ref().or(canonical).cloned(),
            nth: 0,
        }
    }
}

#[derive(Clone, Debug, Default)]
struct Needs {
    column: usize,
    qualifier: bool,
    high: bool,
    form: bool,
}

/// Bases in the order of the contract.
const BASES: [&str; 3] = ["volume", "dry_mass", "wet_mass"];

/// Columns of the wide table, gathered row by row: they are known only when the last record has been seen.
#[derive(Clone, Debug, Default)]
pub struct WideTable {
    columns: BTreeMap<Key, Needs>,
}

impl WideTable {
    /// Takes a record in; gives its row for [`WideTable::finished`].
    pub fn row(&mut self, record: &Record, lexicon: &Lexicon, text: Text) -> WideRow {
        let mut seen: BTreeMap<Key, Vec<Option<&str>>> = BTreeMap::new();
        let mut cells = Vec::new();
        for (measurement, m) in record.measurements.iter().enumerate() {
            // A figure without a value has no cell; its doubt says that it was there.
            if m.value.is_none() && m.high.is_none() && m.qualifier == Qualifier::Equal {
                continue;
            }
            let mut key = Key::of(m, lexicon);
            let forms = seen.entry(key.clone()).or_default();
            let in_other_form = forms.iter().any(|form| *form != m.form.as_deref());
            forms.push(m.form.as_deref());
            key.nth = forms.len();
            let next = self.columns.len();
            let needs = self.columns.entry(key).or_insert_with(|| Needs { column: next, ..Needs::default() });
            needs.qualifier |= m.qualifier != Qualifier::Equal;
            needs.high |= m.high.is_some();
            needs.form |= in_other_form;
            cells.push(WideCell {
                column: needs.column,
                measurement,
                value: number(m.value),
                high: number(m.high),
                qualifier: m.qualifier.word().to_owned(),
                form: m.form.clone().unwrap_or_default(),
            });
        }
        let of_figures = record.measurements.iter().flat_map(|m| {
            let name = name(&m.property, m.basis.as_deref());
            m.doubts.iter().map(move |doubt| about(doubt, &name))
        });
        let of_record = record.doubts.iter().map(|doubt| match doubt.property.as_deref() {
            Some(of) => about(doubt, of),
            None => doubt.code.clone(),
        });
        WideRow { who: text.who(record), cells, doubts: joined(of_figures.chain(of_record)) }
    }

    /// Header of the table, once all records have been seen.
    pub fn header(&self) -> Vec<String> {
        self.columns().into_iter().map(|column| column.name).collect()
    }

    /// Columns of the table, once all records have been seen.
    pub fn columns(&self) -> Vec<WideColumn> {
        let column = |name: String, holds| WideColumn { name, holds };
        let mut columns: Vec<WideColumn> =
            LONG.iter().take(WHO).map(|name| column((*name).to_owned(), Holds::of_key(name))).collect();
        for (key, needs) in &self.columns {
            let mut of =
                format!("{}[{}]", name(&key.property, key.basis.as_deref()), key.unit.as_deref().unwrap_or(""));
            if key.nth > 1 {
                of.push_str(&format!(".{}", key.nth));
            }
            columns.push(column(of.clone(), Holds::Figure(Some(needs.column))));
            columns.extend(needs.beside().map(|what| {
                let holds = if what == "high" { Holds::Figure(None) } else { Holds::Word };
                column(format!("{of}.{what}"), holds)
            }));
        }
        columns.push(column("doubts".into(), Holds::Word));
        columns
    }

    /// A row under [`WideTable::header`] or [`WideTable::columns`].
    pub fn finished(&self, row: &WideRow) -> Vec<String> {
        let cells: BTreeMap<usize, &WideCell> = row.cells.iter().map(|cell| (cell.column, cell)).collect();
        let mut finished = row.who.clone();
        for needs in self.columns.values() {
            let cell = cells.get(&needs.column);
            finished.push(cell.map_or_else(String::new, |cell| cell.value.clone()));
            finished.extend(needs.beside().map(|what| {
                cell.map_or_else(String::new, |cell| match what {
                    "qualifier" => cell.qualifier.clone(),
                    "high" => cell.high.clone(),
                    _ => cell.form.clone(),
                })
            }));
        }
        finished.push(row.doubts.clone());
        finished
    }
}

/// A column of the wide table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WideColumn {
    /// Its head.
    pub name: String,
    /// What its cells hold.
    pub holds: Holds,
}

/// What the cells of a column hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Holds {
    /// Words.
    Word,
    /// A date, or what is known of one.
    Date,
    /// A number: a figure by its place in [`WideRow::figures`], or the high end of one.
    Figure(Option<usize>),
}

impl Holds {
    /// By the head of a column of [`LONG`].
    pub fn of_key(name: &str) -> Self {
        match name {
            "sampled_on" | "reported_on" => Self::Date,
            "value" | "high" => Self::Figure(None),
            _ => Self::Word,
        }
    }
}

impl WideRow {
    /// Each figure's column, with which measurement of its record it is.
    pub fn figures(&self) -> impl Iterator<Item = (usize, usize)> {
        self.cells.iter().map(|cell| (cell.column, cell.measurement))
    }
}

impl Needs {
    /// Columns that stand beside the value's own.
    fn beside(&self) -> impl Iterator<Item = &'static str> {
        [(self.qualifier, "qualifier"), (self.high, "high"), (self.form, "form")]
            .into_iter()
            .filter_map(|(needed, what)| needed.then_some(what))
    }
}

fn name(property: &str, basis: Option<&str>) -> String {
    basis.map_or_else(|| property.to_owned(), |basis| format!("{property}.{basis}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::place::{Source, Where};
    use crate::record::Sample;

    fn record() -> Record {
        Record {
            source: Source { file: "march.txt".into(), ..Source::default() },
            sample: Sample {
                vessel: Some("=HYPERLINK(\"x\")".into()),
                sampled_on: Some("2025-04-03".into()),
                ..Sample::default()
            },
            measurements: vec![
                Measurement {
                    property: "moisture_retention".into(),
                    value: Some(47.3),
                    unit: Some("%".into()),
                    label: "Moisture".into(),
                    as_written: "47.3 %".into(),
                    place: Where::line(4),
                    ..Measurement::default()
                },
                Measurement {
                    property: "iron".into(),
                    basis: Some("dry_mass".into()),
                    qualifier: Qualifier::Below,
                    value: Some(50.0),
                    unit: Some("mg/kg".into()),
                    as_written: "-".into(),
                    doubts: vec![Doubt::new("no-detection-limit", Some("iron"), "", &Where::default())],
                    ..Measurement::default()
                },
            ],
            doubts: vec![
                Doubt::new("ambiguous-date", Some("sampled_on"), "", &Where::default()),
                Doubt::new("hidden-content", None, "", &Where::default()),
            ],
            ..Record::default()
        }
    }

    #[test]
    fn a_measurement_is_a_row_with_who_and_when() {
        let rows: Vec<Vec<String>> = long_rows(&record(), Text::Guarded).collect();
        let expected = [
            "march.txt",
            "",
            "",
            "'=HYPERLINK(\"x\")",
            "",
            "2025-04-03",
            "",
            "",
            "",
            "moisture_retention",
            "",
            "",
            "=",
            "47.3",
            "",
            "%",
            "Moisture",
            "47.3 %",
            "",
            "line 4",
            "ambiguous-date(sampled_on)",
        ];
        assert_eq!(rows.first().map(Vec::as_slice), Some(expected.map(str::to_owned).as_slice()));
        let iron = rows.get(1).cloned().unwrap_or_default();
        assert_eq!(iron.get(12).map(String::as_str), Some("<"), "a qualifier is no formula");
        assert_eq!(iron.get(17).map(String::as_str), Some("'-"));
        assert_eq!(iron.get(20).map(String::as_str), Some("no-detection-limit; ambiguous-date(sampled_on)"));
    }

    #[test]
    fn a_sample_is_a_row_with_qualifiers_beside_figures_that_have_one() {
        let mut table = WideTable::default();
        let row = table.row(&record(), Lexicon::builtin(), Text::Exact);
        let header = table.header();
        let finished = table.finished(&row);
        assert_eq!(header.len(), finished.len());
        let cells: BTreeMap<&str, &str> =
            header.iter().map(String::as_str).zip(finished.iter().map(String::as_str)).collect();
        assert_eq!(cells.get("vessel"), Some(&"=HYPERLINK(\"x\")"));
        assert_eq!(cells.get("moisture_retention[%]"), Some(&"47.3"));
        assert!(!cells.contains_key("moisture_retention[%].qualifier"));
        assert_eq!(cells.get("iron.dry_mass[mg/kg]"), Some(&"50"));
        assert_eq!(cells.get("iron.dry_mass[mg/kg].qualifier"), Some(&"<"));
        assert_eq!(
            cells.get("doubts"),
            Some(&"no-detection-limit(iron.dry_mass); ambiguous-date(sampled_on); hidden-content")
        );
    }

    #[test]
    fn several_figures_for_one_property_keep_columns_of_their_own() {
        let mut two = record();
        let mut other = two.measurements.first().cloned().unwrap_or_default();
        other.form = Some("H".into());
        other.value = Some(54.0);
        two.measurements.push(other);
        let mut table = WideTable::default();
        table.row(&two, Lexicon::builtin(), Text::Exact);
        let header = table.header();
        assert!(header.contains(&"moisture_retention[%]".to_owned()), "{header:?}");
        assert!(header.contains(&"moisture_retention[%].2".to_owned()), "{header:?}");
        assert!(header.contains(&"moisture_retention[%].2.form".to_owned()), "{header:?}");
    }
}
