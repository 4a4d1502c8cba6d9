//! What stands in the XML of an `.xlsx` beside values and styles.

use super::archive::Archive;
use super::grid::{Merged, Spans};
use super::workbook::Look;
use super::xml::{attribute, is_true, reader, resolve};
use crate::readers::ReadError;
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use std::collections::BTreeMap;

/// Deepest column and row that a sheet has, counted from 0 (ECMA-376 part 1, section 18.3.1.7 and Excel's own bounds).
const LAST_COLUMN: u32 = 16_383;
const LAST_ROW: u32 = 1_048_575;

/// Where the sheets stand, and which shared strings are not what their characters say.
#[derive(Debug, Default)]
pub struct Package {
    paths: BTreeMap<String, String>,
    drawn_strings: BTreeMap<usize, String>,
    strings: usize,
    /// Whoever wrote the file left the computing to whoever opens it: zeros stand where results belong.
    computes_on_load: bool,
}

/// What a sheet says of itself beside its values. Positions are row and column from 0.
#[derive(Debug, Default)]
pub struct SheetFacts {
    /// Hidden rows, and those without height.
    pub hidden_rows: Spans,
    /// Hidden columns, and those without width.
    pub hidden_columns: Spans,
    /// Merged ranges.
    pub merged: Vec<Merged>,
    /// Text of cells with raised figures or signs of the symbol font, and of cells whose value is none that the format allows.
    pub texts: BTreeMap<(u32, u32), String>,
    /// Formulas of cells without a value, or with a zero that nobody computed.
    pub formulas: BTreeMap<(u32, u32), String>,
}

impl Package {
    /// Reads the lists of a package.
    ///
    /// # Errors
    ///
    /// `not-a-workbook` where the archive is damaged or its string table claims more strings than it can hold.
    pub fn read(archive: &mut Archive<'_>) -> Result<Self, ReadError> {
        let root = archive.text("_rels/.rels")?.unwrap_or_default();
        let workbook = relationships(&root)
            .into_values()
            .find(|(kind, _)| kind.ends_with("/officeDocument"))
            .map_or_else(|| "xl/workbook.xml".to_owned(), |(_, target)| target.trim_start_matches('/').to_owned());
        let (folder, file) = workbook.rsplit_once('/').unwrap_or(("", &workbook));
        let rels = archive.text(&format!("{folder}/_rels/{file}.rels"))?.unwrap_or_default();
        let rels = relationships(&rels);
        let mut package = Self::default();
        let listing = archive.text(&workbook)?.unwrap_or_default();
        package.computes_on_load = computes_on_load(&listing);
        for (name, id) in sheets(&listing) {
            if let Some((_, target)) = rels.get(&id) {
                package.paths.insert(name, in_folder(folder, target));
            }
        }
        package.read_strings(&archive.text(&format!("{folder}/sharedStrings.xml"))?.unwrap_or_default())?;
        Ok(package)
    }

    /// The archive's entry of a sheet.
    pub fn sheet_path(&self, name: &str) -> Option<&str> {
        self.paths.get(name).map(String::as_str)
    }

    fn read_strings(&mut self, xml: &str) -> Result<(), ReadError> {
        let mut events = reader(xml);
        while let Ok(event) = events.read_event() {
            match event {
                Event::Start(e) if e.local_name().as_ref() == "sst" => {
                    // The claim is reserved as memory further on; a string takes at least `<si/>`.
                    let claimed = attribute(&e, "uniqueCount").and_then(|n| n.parse::<u64>().ok()).unwrap_or(0);
                    if claimed > xml.len() as u64 {
                        let text = format!("the table of strings claims {claimed} strings and is far shorter");
                        return Err(super::workbook::not_a_workbook(&text));
                    }
                }
                Event::Start(e) if e.local_name().as_ref() == "si" => {
                    let (text, is_drawn) = rich_text(&mut events, "si");
                    if is_drawn {
                        self.drawn_strings.insert(self.strings, text);
                    }
                    self.strings += 1;
                }
                Event::Eof => break,
                _ => {}
            }
        }
        Ok(())
    }
}

/// Kind and target of each relationship, by its id.
pub fn relationships(xml: &str) -> BTreeMap<String, (String, String)> {
    let mut all = BTreeMap::new();
    let mut events = reader(xml);
    while let Ok(event) = events.read_event() {
        match event {
            Event::Start(e) if e.local_name().as_ref() == "Relationship" => {
                let get = |name| attribute(&e, name).unwrap_or_default();
                all.insert(get("Id"), (get("Type"), get("Target")));
            }
            Event::Eof => break,
            _ => {}
        }
    }
    all
}

/// Names and relationship ids of the sheets.
fn sheets(xml: &str) -> Vec<(String, String)> {
    let mut all = Vec::new();
    let mut events = reader(xml);
    while let Ok(event) = events.read_event() {
        match event {
            Event::Start(e) if e.local_name().as_ref() == "sheet" => {
                let id =
                    e.attributes().with_checks(false).flatten().find(|a| {
                        a.key.as_ref() != "id" && a.key.local_name().as_ref() == "id" || a.key.as_ref() == "id"
                    });
                let id = id.map(|a| a.value.to_string()).unwrap_or_default();
                all.push((attribute(&e, "name").unwrap_or_default(), id));
            }
            Event::Eof => break,
            _ => {}
        }
    }
    all
}

fn computes_on_load(xml: &str) -> bool {
    let mut events = reader(xml);
    while let Ok(event) = events.read_event() {
        match event {
            Event::Start(e) if e.local_name().as_ref() == "calcPr" => {
                return attribute(&e, "fullCalcOnLoad").is_some_and(|v| is_true(&v));
            }
            Event::Eof => break,
            _ => {}
        }
    }
    false
}

/// The path of a target that is given from a folder.
pub fn in_folder(folder: &str, target: &str) -> String {
    if let Some(absolute) = target.strip_prefix('/') {
        return absolute.to_owned();
    }
    let mut pieces: Vec<&str> = folder.split('/').collect();
    for piece in target.split('/') {
        match piece {
            ".." => {
                pieces.pop();
            }
            "." | "" => {}
            piece => pieces.push(piece),
        }
    }
    pieces.join("/")
}

/// The text of a rich string as it is drawn, read up to its end; whether any run is drawn other than it stands.
fn rich_text(events: &mut Reader<&[u8]>, end: &str) -> (String, bool) {
    let (mut text, mut run, mut font) = (String::new(), String::new(), String::new());
    let (mut is_raised, mut any_drawn, mut in_text, mut phonetic) = (false, false, false, false);
    while let Ok(event) = events.read_event() {
        match event {
            Event::Start(e) => match e.local_name().as_ref() {
                "r" => (is_raised, run, font) = (false, String::new(), String::new()),
                "rPh" => phonetic = true,
                "vertAlign" => is_raised = attribute(&e, "val").is_some_and(|v| v == "superscript"),
                "rFont" => font = attribute(&e, "val").unwrap_or_default(),
                "t" => in_text = !phonetic,
                _ => {}
            },
            Event::Text(t) if in_text => run.push_str(&t.xml10_content()),
            Event::CData(t) if in_text => run.push_str(&t.xml10_content()),
            Event::GeneralRef(r) if in_text => run.extend(resolve(&r)),
            Event::End(e) => match e.local_name().as_ref() {
                "t" => in_text = false,
                "rPh" => phonetic = false,
                name if name == "r" || name == end => {
                    let look = Look::of(&font, is_raised);
                    any_drawn |= look != Look::Plain && !run.trim().is_empty();
                    look.append(&mut text, &run);
                    (is_raised, run, font) = (false, String::new(), String::new());
                    if name == end {
                        break;
                    }
                }
                _ => {}
            },
            Event::Eof => break,
            _ => {}
        }
    }
    (text, any_drawn)
}

/// Reads what a sheet's XML says beside its values.
///
/// # Errors
///
/// None today; the XML's own faults are reported by the reader of values.
pub fn sheet_facts(xml: &str, package: &Package) -> Result<SheetFacts, ReadError> {
    let mut facts = SheetFacts::default();
    let mut events = reader(xml);
    let (mut row, mut column) = (0_u32, 0_u32);
    while let Ok(event) = events.read_event() {
        match event {
            Event::Start(e) => match e.local_name().as_ref() {
                "col" => hidden_column(&e, &mut facts.hidden_columns),
                "row" => {
                    let number = attribute(&e, "r").and_then(|r| r.parse::<u32>().ok());
                    row = number.map_or(row, |r| r.saturating_sub(1)).min(LAST_ROW);
                    column = 0;
                    let flag = |name| attribute(&e, name).is_some_and(|v| is_true(&v));
                    if flag("hidden") || (is_zero(attribute(&e, "ht")) && flag("customHeight")) {
                        facts.hidden_rows.add(row, row);
                    }
                }
                "c" => {
                    let at = attribute(&e, "r").and_then(|r| position(&r)).unwrap_or((row, column));
                    column = at.1.saturating_add(1);
                    let kind = attribute(&e, "t");
                    cell(&mut events, at, kind.as_deref(), package, &mut facts);
                }
                "mergeCell" => facts.merged.extend(attribute(&e, "ref").and_then(|r| range(&r))),
                _ => {}
            },
            Event::End(e) if e.local_name().as_ref() == "row" => row = row.saturating_add(1),
            Event::Eof => break,
            _ => {}
        }
    }
    Ok(facts)
}

fn hidden_column(element: &BytesStart<'_>, hidden: &mut Spans) {
    let number = |name| attribute(element, name).and_then(|v| v.parse::<u32>().ok());
    let is_hidden = attribute(element, "hidden").is_some_and(|v| is_true(&v)) || is_zero(attribute(element, "width"));
    if let (true, Some(first), Some(last)) = (is_hidden, number("min"), number("max")) {
        hidden.add(first.saturating_sub(1), last.saturating_sub(1).min(LAST_COLUMN));
    }
}

fn is_zero(size: Option<String>) -> bool {
    size.and_then(|s| s.parse::<f64>().ok()).is_some_and(|s| s == 0.0)
}

/// Reads one cell up to its end.
fn cell(events: &mut Reader<&[u8]>, at: (u32, u32), kind: Option<&str>, package: &Package, facts: &mut SheetFacts) {
    let (mut value, mut formula, mut has_formula, mut has_text) = (String::new(), String::new(), false, false);
    let mut inside = ' ';
    while let Ok(event) = events.read_event() {
        match event {
            Event::Start(e) => match e.local_name().as_ref() {
                "v" => inside = 'v',
                "f" => (inside, has_formula) = ('f', true),
                "is" => {
                    let (text, is_drawn) = rich_text(events, "is");
                    has_text = !text.is_empty();
                    if is_drawn {
                        facts.texts.insert(at, text);
                    }
                }
                _ => {}
            },
            Event::Text(t) => append(inside, &t.xml10_content(), &mut value, &mut formula),
            Event::CData(t) => append(inside, &t.xml10_content(), &mut value, &mut formula),
            Event::GeneralRef(r) => {
                let character = resolve(&r).map(String::from).unwrap_or_default();
                append(inside, &character, &mut value, &mut formula);
            }
            Event::End(e) => match e.local_name().as_ref() {
                "c" => break,
                _ => inside = ' ',
            },
            Event::Eof => break,
            _ => {}
        }
    }
    let value = value.trim();
    if value.is_empty() {
        // An empty string is a formula's value like any other.
        if has_formula && !has_text && kind != Some("str") {
            facts.formulas.insert(at, formula);
        }
        return;
    }
    if has_formula && package.computes_on_load && value == "0" && matches!(kind, None | Some("n")) {
        facts.formulas.insert(at, formula);
        return;
    }
    match kind {
        Some("s") => match value.parse::<usize>().ok().filter(|index| *index < package.strings) {
            Some(index) => facts.texts.extend(package.drawn_strings.get(&index).map(|text| (at, text.clone()))),
            None => {
                facts.texts.insert(at, format!("#missing string {value}"));
            }
        },
        None | Some("str" | "inlineStr" | "is" | "d") => {}
        Some("n") if value.parse::<f64>().is_ok() => {}
        Some("b") if matches!(value.to_ascii_lowercase().as_str(), "0" | "1" | "true" | "false") => {}
        Some(_) => {
            facts.texts.insert(at, value.to_owned());
        }
    }
}

fn append(inside: char, text: &str, value: &mut String, formula: &mut String) {
    match inside {
        'v' => value.push_str(text),
        'f' => formula.push_str(text),
        _ => {}
    }
}

/// Row and column from 0 of `C7` or `$C$7`.
pub fn position(reference: &str) -> Option<(u32, u32)> {
    let (mut column, mut row) = (0_u32, 0_u32);
    for byte in reference.bytes().filter(|b| *b != b'$') {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' if row == 0 => {
                column = column.checked_mul(26)?.checked_add(u32::from(byte.to_ascii_uppercase() - b'A') + 1)?;
            }
            b'0'..=b'9' => row = row.checked_mul(10)?.checked_add(u32::from(byte - b'0'))?,
            _ => return None,
        }
    }
    let at = (row.checked_sub(1)?, column.checked_sub(1)?);
    (at.0 <= LAST_ROW && at.1 <= LAST_COLUMN).then_some(at)
}

fn range(reference: &str) -> Option<Merged> {
    let (first, last) = reference.split_once(':')?;
    Some(Merged { first: position(first)?, last: position(last)? })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn references_are_bounded() {
        assert_eq!(position("C7"), Some((6, 2)));
        assert_eq!(position("$XFD$1048576"), Some((LAST_ROW, LAST_COLUMN)));
        for wrong in ["", "7", "C", "C0", "XFE1", "A1048577", "ZZZZZZZZZ1", "A99999999999", "C7C"] {
            assert_eq!(position(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn targets_are_resolved() {
        assert_eq!(in_folder("xl", "worksheets/sheet1.xml"), "xl/worksheets/sheet1.xml");
        assert_eq!(in_folder("xl", "/xl/a.xml"), "xl/a.xml");
        assert_eq!(in_folder("xl/b", "../a.xml"), "xl/a.xml");
    }

    #[test]
    fn runs_are_drawn_as_their_fonts_have_them() {
        let xml = "<sst><si><t>plain</t></si><si><r><t>g/cm</t></r><r><rPr><vertAlign val=\"superscript\"/></rPr><t>3</t></r>\
            <r><t xml:space=\"preserve\"> &lt; 1 </t></r><r><rPr><rFont val=\"Symbol\"/></rPr><t>m</t></r><r><t>m</t></r><rPh><t>x</t></rPh></si></sst>";
        let mut package = Package::default();
        package.read_strings(xml).unwrap();
        assert_eq!(package.strings, 2);
        assert_eq!(package.drawn_strings.get(&1).map(String::as_str), Some("g/cm³ < 1 µm"));
    }

    fn facts(rows: &str, package: &Package) -> SheetFacts {
        sheet_facts(&format!("<worksheet>{rows}</worksheet>"), package).unwrap()
    }

    #[test]
    fn rows_and_columns_without_size_are_hidden() {
        let facts = facts(
            "<cols><col min=\"2\" max=\"3\" hidden=\"1\"/><col min=\"5\" max=\"5\" width=\"0\" customWidth=\"1\"/></cols>\
            <sheetData><row r=\"4\" ht=\"0\" customHeight=\"1\"/><row hidden=\"true\"/><row r=\"9\" ht=\"15\"/></sheetData>",
            &Package::default(),
        );
        let mut columns = Spans::default();
        columns.add(1, 2);
        columns.add(4, 4);
        let mut rows = Spans::default();
        rows.add(3, 4);
        assert_eq!((facts.hidden_columns, facts.hidden_rows), (columns, rows));
    }

    #[test]
    fn formulas_without_a_value_are_told_from_those_with_an_empty_or_zero_one() {
        let rows = "<row r=\"1\"><c r=\"A1\"><f>B1&lt;2</f><v/></c><c><f>1-1</f><v>0</v></c>\
            <c t=\"str\"><f>\"\"</f><v></v></c><c><f>2-1</f><v>1</v></c></row>";
        let stored = facts(rows, &Package::default());
        assert_eq!(stored.formulas, BTreeMap::from([((0, 0), "B1<2".to_owned())]));
        let package = Package { computes_on_load: true, ..Package::default() };
        assert_eq!(facts(rows, &package).formulas.keys().collect::<Vec<_>>(), [&(0, 0), &(0, 1)]);
    }

    #[test]
    fn cells_that_break_the_rules_keep_their_text() {
        let rows = "<row r=\"1\"><c r=\"A1\" t=\"e\"><v>#SPILL!</v></c><c r=\"B1\" t=\"n\"><v>1,5</v></c><c r=\"C1\" t=\"s\"><v>7</v></c></row>";
        let texts = facts(rows, &Package::default()).texts;
        assert_eq!(texts.values().collect::<Vec<_>>(), ["#SPILL!", "1,5", "#missing string 7"]);
    }

    #[test]
    fn a_table_of_strings_that_claims_the_moon_is_refused() {
        let mut package = Package::default();
        assert_eq!(package.read_strings("<sst uniqueCount=\"99999999999\"></sst>").unwrap_err().code, "not-a-workbook");
    }
}
