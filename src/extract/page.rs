//! The way through a document: parts, pages, bands.

use super::bands;
use super::cells::{self, Cell, Row};
use super::ledger::{Ledger, WordId};
use super::scope::{Fact, Scopes, Trust};
use super::style::Style;
use super::table::{self, Carried, Desk, Footnotes};
use super::{Extraction, mentions, notes, phrases, prose, sieve};
use crate::document::{Document, NoticeKind, Page, Part};
use crate::lexicon::{Lexicon, Target};
use crate::place::Where;
use crate::record::{Doubt, SetAside, Unread};
use regex::Regex;
use std::sync::OnceLock;

/// Reads one document.
pub struct Reader<'a> {
    document: &'a Document,
    lexicon: &'a Lexicon,
    scopes: Scopes,
    ledger: Ledger,
    words: Vec<(String, Where)>,
}

struct PageState {
    carried: Option<Carried>,
    pending: Vec<Row>,
    section: Vec<crate::lexicon::FacetId>,
    section_unit: Option<crate::quantity::Unit>,
    footnotes: Footnotes,
}

impl<'a> Reader<'a> {
    /// A reader of a document.
    pub fn new(document: &'a Document, lexicon: &'a Lexicon) -> Self {
        let words = document
            .parts
            .iter()
            .flat_map(|p| &p.pages)
            .flat_map(|p| &p.lines)
            .flat_map(|l| &l.words)
            .map(|w| (w.text.clone(), w.place.clone()))
            .collect();
        Self { document, lexicon, scopes: Scopes::default(), ledger: Ledger::new(document), words }
    }

    /// Reads it.
    pub fn run(mut self) -> Extraction {
        let mut next_word = 0u32;
        let mut next_line = 0u32;
        let mut line_words: Vec<Vec<WordId>> = Vec::new();
        for (number, part) in self.document.parts.iter().enumerate() {
            self.scopes.start_part(number);
            let style = Style::of(part);
            let sheets = part.pages.len() > 1 && part.pages.iter().any(|p| p.name.is_some());
            let mut state = PageState {
                carried: None,
                pending: Vec::new(),
                section: Vec::new(),
                section_unit: None,
                footnotes: Footnotes::new(),
            };
            for page in &part.pages {
                if sheets || page.name.is_some() {
                    self.scopes.start_sheet(None);
                    state = PageState {
                        carried: None,
                        pending: Vec::new(),
                        section: Vec::new(),
                        section_unit: None,
                        footnotes: Footnotes::new(),
                    };
                    self.name_of_sheet(page, sheets);
                }
                let rows = self.rows(part, page, &style, &mut next_word, &mut next_line, &mut line_words);
                state.footnotes.extend(notes::footnotes(page, self.lexicon));
                self.letterhead(&rows, &style);
                self.page(rows, &style, &mut state);
            }
        }
        let drafts = &mut self.scopes.drafts;
        notes::apply(&notes::general(self.document, self.lexicon), drafts, self.lexicon);
        self.finish(&line_words)
    }

    /// The laboratory, by the first lines of a page, or by the last where a letter is signed.
    fn letterhead(&mut self, rows: &[Row], style: &Style) {
        self.date_of_letter(rows, style);
        let last = rows.len().saturating_sub(3).max(4);
        for row in rows.iter().take(4).chain(rows.iter().skip(last)) {
            for cell in row.cells.iter().filter(|c| !c.colon && !c.cut && c.typed.is_none()) {
                if self.scopes.knows("laboratory") {
                    return;
                }
                if let Some(name) = mentions::laboratory(&cell.text, self.lexicon) {
                    let fact = Fact {
                        key: "laboratory".into(),
                        text: name,
                        place: cell.place.clone(),
                        words: cell.words.clone(),
                        order: None,
                        trust: Trust::Mentioned,
                    };
                    self.scopes.learn(fact, self.lexicon);
                }
            }
        }
    }

    /// A date that stands alone at the head of a report is the report's.
    fn date_of_letter(&mut self, rows: &[Row], style: &Style) {
        let figure = |row: &Row| row.cells.iter().any(|c| bands::is_figure_label(c, self.lexicon, style));
        let head = rows.iter().take_while(|row| !figure(row)).take(8);
        // A sheet's date column, or a label before it, says otherwise.
        let alone = |row: &Row, at: usize| {
            let last = at + 1 == row.cells.len();
            let labelled = at
                .checked_sub(1)
                .and_then(|b| row.cells.get(b))
                .is_some_and(|b| b.colon || matches!(&b.seen(self.lexicon, style).label.target, Some(Target::Key(_))));
            last && !labelled && row.cells.len() <= 3
        };
        let mut found: Vec<Fact> = Vec::new();
        for row in head.filter(|r| r.table.is_none()) {
            for (at, cell) in row.cells.iter().enumerate() {
                let dates = crate::value::date::find_dates(&cell.text);
                let [date] = dates.as_slice() else { continue };
                let before = cell.text.get(..date.start).unwrap_or_default();
                let after = cell.text.get(date.end..).unwrap_or_default();
                // "Elmsford, 12 March 2024"
                let place = before.split_whitespace().count() <= 2
                    && before.trim().chars().all(|c| c.is_alphabetic() || matches!(c, ',' | '.' | '-' | ' '))
                    && !self.lexicon.explains(before);
                if alone(row, at) && after.trim().is_empty() && (before.trim().is_empty() || place) {
                    found.push(Fact {
                        key: "reported_on".into(),
                        text: cell.text.get(date.start..date.end).unwrap_or_default().to_owned(),
                        place: cell.place.clone(),
                        words: cell.words.clone(),
                        order: style.order(),
                        trust: Trust::Guessed,
                    });
                }
            }
        }
        if let [_] = found.as_slice()
            && let Some(fact) = found.pop()
        {
            self.scopes.learn(fact, self.lexicon);
        }
    }

    fn name_of_sheet(&mut self, page: &Page, several: bool) {
        let Some(name) = &page.name else { return };
        let label = self.lexicon.understand(name, &[]);
        let vessel = self.lexicon.facet_id("vessel").is_some_and(|f| label.facets.contains(&f));
        let generic = ["sheet", "tabelle", "feuil", "hoja", "blatt", "table"];
        let lower = name.to_lowercase();
        if generic.iter().any(|g| lower.starts_with(g))
            || (label.unexplained.is_empty() && label.loose_numbers.is_empty() && !vessel)
        {
            return;
        }
        if vessel || several && label.target.is_none() && self.lexicon.role(name).is_none() {
            let fact = Fact { key: "vessel".into(), text: name.to_string(), trust: Trust::Guessed, ..Fact::default() };
            if vessel || label.facets.is_empty() && name.chars().any(|c| c.is_ascii_digit()) {
                self.scopes.start_sheet(Some(fact));
            }
        }
    }

    fn rows(
        &mut self,
        part: &Part,
        page: &Page,
        style: &Style,
        next_word: &mut u32,
        next_line: &mut u32,
        line_words: &mut Vec<Vec<WordId>>,
    ) -> Vec<Row> {
        let mut rows: Vec<Row> = Vec::new();
        let mut gap = 0;
        let mut last: Option<(f32, f32, Option<u32>, Option<u32>)> = None;
        let mail = part.format == "eml" && part.name.is_none();
        let mut in_head = mail;
        let mut last_top = f32::NEG_INFINITY;
        let mut last_pitch: Option<f32> = None;
        for (number_on_page, line) in page.lines.iter().enumerate() {
            let first = *next_word;
            let count = u32::try_from(line.words.len()).unwrap_or(u32::MAX);
            *next_word = next_word.saturating_add(count);
            line_words.push((first..*next_word).map(WordId).collect());
            let number = *next_line;
            *next_line += 1;
            if line.words.iter().all(|w| w.text.trim().is_empty()) {
                gap += 1;
                in_head = false;
                continue;
            }
            if cells::is_rule(line) && line.table.is_none() {
                if let (Some(last), Some(place)) = (last.as_mut(), line.words.first().map(|w| w.place.line)) {
                    last.1 = line.bottom;
                    last.2 = place;
                }
                continue;
            }
            let text_line = line.words.first().and_then(|w| w.place.line);
            if let Some((_, bottom, last_line, table)) = last {
                if line.table.is_some() && table == line.table {
                    gap += ((line.top - bottom).max(0.0) as u32).min(5);
                    if line.top == 0.0 && bottom == 0.0 {
                        gap = 0;
                    }
                } else if page.char_width > 1.5 {
                    let height = (line.bottom - line.top).max(1.0);
                    // Lines that all stand wide apart are one table set with room, and no blank lines.
                    let pitch = line.top - last_top;
                    let next = page.lines.get(number_on_page + 1).map(|l| l.top - line.top);
                    let even = |other: f32| (other - pitch).abs() <= 0.12 * pitch;
                    let regular = pitch < 4.0 * height && (next.is_some_and(even) || last_pitch.is_some_and(even));
                    gap += u32::from(line.top - bottom > 0.9 * height && !regular);
                } else if let (Some(a), Some(b)) = (last_line, text_line)
                    && b > a + 1
                    && gap == 0
                {
                    gap = b - a - 1;
                    in_head = false;
                }
            }
            // Rows of a sheet are counted; those of a page are as high as they are drawn.
            if last_top.is_finite() {
                last_pitch = Some(line.top - last_top);
            }
            last_top = line.top;
            let bottom = if line.table.is_some() { line.bottom.max(line.top + 1.0) } else { line.bottom };
            last = Some((line.top, bottom, text_line, line.table));
            let whole = line.text();
            let ids: Vec<WordId> = (first..*next_word).map(WordId).collect();
            self.set_aside_furniture(&whole, &ids, line);
            let mut cells = cells::cut_line(line, first, page.char_width.max(0.01), self.lexicon, style);
            cells::name_bounds(&mut cells, self.lexicon, style);
            if in_head && is_mail_head(&whole) {
                self.ledger.set_aside(&ids, "mail-head");
                continue;
            }
            if cells.is_empty() {
                continue;
            }
            let char_width = if line.table.is_some() { 0.0 } else { page.char_width };
            rows.push(Row { cells, table: line.table, gap, char_width, line: number, grouped: None });
            gap = 0;
        }
        fill_merged(&mut rows);
        rows
    }

    /// Telephone numbers, page numbers, post codes, web addresses: numbers that no report means as figures.
    fn set_aside_furniture(&mut self, text: &str, ids: &[WordId], line: &crate::document::Line) {
        static PHONE: OnceLock<Option<Regex>> = OnceLock::new();
        static PAGE: OnceLock<Option<Regex>> = OnceLock::new();
        static ADDRESS: OnceLock<Option<Regex>> = OnceLock::new();
        static LIMIT: OnceLock<Option<Regex>> = OnceLock::new();
        let matches = |cell: &'static OnceLock<Option<Regex>>, source: &str| {
            cell.get_or_init(|| Regex::new(source).ok())
                .as_ref()
                .map(|p| p.find_iter(text).map(|m| m.as_str().to_owned()).collect::<Vec<_>>())
                .unwrap_or_default()
        };
        let phone = matches(
            &PHONE,
            r"(?i)(?:\b(?:tel|telefon|t[ée]l[ée]?(?:phone|fono)?|phone|fax|ph|mobile|call|m[óo]vil)\b[.:\s]*|\+)[\d()+\-/.\s]{5,}|\(?\b\d{3}\)?[-.\s]\d{3}[-.]\d{4}\b|\b\d{3}-\d{4}\b",
        );
        let page = matches(
            &PAGE,
            r"(?i)\b(?:page|pg\.?|seite|blatt|p[áa]gina|hoja|sheet|p\.)\s*\d+(?:\s*(?:of|/|von|de|sur|-)\s*\d+)?|^\s*-?\s*\d+\s*/\s*\d+\s*-?\s*$",
        );
        let address = matches(
            &ADDRESS,
            r"(?i)\bp\.?\s?o\.?\s?box\s+\d+|\b[A-Z]{2}\s+\d{5}(?:-\d{4})?\b|\b\d{1,5}\s+(?:[NSEW]\.?\s+)?[A-Z][\w.']+(?:\s[A-Z][\w.']+)?\s(?:street|st|road|rd|avenue|ave|lane|ln|drive|dr|blvd|way|court|ct|place|highway|hwy|parkway|pike)\b|\b(?:\w+(?:stra(?:ß|ss)e|str\.|weg|platz|gasse|allee))\s+\d+\w?|\b(?:[A-Z]{1,2}-)?\d{5}\s+[A-ZÄÖÜÉ][\w\-]+|\b\d{1,4}[,]?\s(?:bis\s)?(?:rue|avenue|boulevard|chemin|route|impasse|place|quai)\s|\b(?:calle|avenida|av\.|carretera|camino|pol[íi]gono|c/)\s[^,\d]*,?\s*(?:n[.º°]*\s*)?\d+|\S+@\S+|https?://\S+|www\.\S+|\b(?:suite|ste|unit|room|bldg|building)\s+\d+\w?\b|\b(?:route|highway|hwy|rte)\s+\d+",
        );
        let quality = matches(&LIMIT, r"(?i)\b(?:ISO|IEC|EN|DIN|ASTM)[\s/]*(?:IEC|EN|ISO)?\s?\d{4,5}(?:[-:]\d+)*");
        for (list, reason) in [(phone, "telephone"), (page, "page-number"), (address, "address"), (quality, "method")] {
            for found in list {
                if found.chars().filter(|c| c.is_ascii_digit()).count() == 0 {
                    continue;
                }
                let words: Vec<WordId> = line
                    .words
                    .iter()
                    .zip(ids)
                    .filter(|(w, _)| {
                        let token = w.text.trim();
                        !token.is_empty() && found.contains(token.trim_end_matches([',', '.', ';']))
                    })
                    .map(|(_, id)| *id)
                    .collect();
                self.ledger.set_aside(&words, reason);
            }
        }
    }

    fn page(&mut self, rows: Vec<Row>, style: &Style, state: &mut PageState) {
        for band in bands::bands(rows) {
            let band = pair_lines(band, self.lexicon, style);
            for block in bands::cut_samples(band, self.lexicon, style) {
                for side in bands::split_sides(block, self.lexicon, style) {
                    self.side(side, style, state);
                }
            }
        }
        if !state.pending.is_empty() {
            let pending = std::mem::take(&mut state.pending);
            self.plain(&pending, style, state);
        }
    }

    fn side(&mut self, rows: Vec<Row>, style: &Style, state: &mut PageState) {
        let lexicon = self.lexicon;
        let mut rows = rows;
        if !state.pending.is_empty() {
            let mut joined = std::mem::take(&mut state.pending);
            joined.append(&mut rows);
            rows = joined;
        } else if rows.len() <= 3
            && rows.iter().all(|r| {
                r.cells.len() >= 2 && r.cells.iter().all(|c| !c.colon && c.seen(lexicon, style).value.is_none())
            })
            && rows.iter().any(|r| {
                r.cells
                    .iter()
                    .filter(|c| {
                        let seen = c.seen(lexicon, style);
                        seen.role.is_some()
                            || seen.date.is_some()
                            || seen.label.target.as_ref().is_some_and(Target::is_figure)
                    })
                    .count()
                    >= 2
            })
        {
            state.pending = rows;
            return;
        }
        // Runs of sentences are read as such; what is left is a table, pairs, or headings.
        let mut run: Vec<Row> = Vec::new();
        let mut prose_run: Vec<Row> = Vec::new();
        let flags = prose_flags(&rows, lexicon, style, &self.words);
        for (row, is_prose) in rows.into_iter().zip(flags) {
            if is_prose {
                if !run.is_empty() {
                    let taken = std::mem::take(&mut run);
                    self.block(&taken, style, state);
                }
                prose_run.push(row);
            } else {
                if !prose_run.is_empty() {
                    let taken = std::mem::take(&mut prose_run);
                    self.prose(&taken, style, state);
                }
                run.push(row);
            }
        }
        if !prose_run.is_empty() {
            self.prose(&prose_run, style, state);
        }
        if !run.is_empty() {
            self.block(&run, style, state);
        }
    }

    fn prose(&mut self, rows: &[Row], style: &Style, state: &mut PageState) {
        let words = std::mem::take(&mut self.words);
        let lookup = |id: WordId| words.get(id.0 as usize).cloned();
        let mut desk = Desk {
            lexicon: self.lexicon,
            style,
            scopes: &mut self.scopes,
            ledger: &mut self.ledger,
            section: state.section.clone(),
            section_unit: None,
            footnotes: &state.footnotes,
        };
        prose::read(rows, &lookup, &mut desk);
        self.words = words;
    }

    fn block(&mut self, rows: &[Row], style: &Style, state: &mut PageState) {
        let lexicon = self.lexicon;
        let mut desk = Desk {
            lexicon,
            style,
            scopes: &mut self.scopes,
            ledger: &mut self.ledger,
            section: state.section.clone(),
            section_unit: state.section_unit.clone(),
            footnotes: &state.footnotes,
        };
        if sieve::read(rows, &mut desk) {
            return;
        }
        if let Some((start, first)) = table::turned(rows, &desk) {
            let above = rows.get(..start).unwrap_or_default().to_vec();
            if !above.is_empty() {
                self.plain(&above, style, state);
            }
            let turned = table::turn(rows, start, first);
            let mut desk = Desk {
                lexicon,
                style,
                scopes: &mut self.scopes,
                ledger: &mut self.ledger,
                section: state.section.clone(),
                section_unit: state.section_unit.clone(),
                footnotes: &state.footnotes,
            };
            table::read(&turned, &mut desk, None);
            return;
        }
        self.plain(rows, style, state);
    }

    /// Rows of headings, facts and figures, in their order.
    fn plain(&mut self, rows: &[Row], style: &Style, state: &mut PageState) {
        let lexicon = self.lexicon;
        // Headings and facts above the first figure belong to what is below.
        let first_figure = rows
            .iter()
            .position(|r| r.cells.len() > 1 && r.cells.iter().any(|c| bands::is_figure_label(c, lexicon, style)));
        let mut at = 0;
        let first_figure = first_figure.or_else(|| {
            let desk = Desk {
                lexicon,
                style,
                scopes: &mut self.scopes,
                ledger: &mut self.ledger,
                section: state.section.clone(),
                section_unit: None,
                footnotes: &state.footnotes,
            };
            table::has_grouped(rows, &desk).then(|| rows.iter().position(|r| r.cells.len() > 1)).flatten()
        });
        let limit = first_figure.unwrap_or(rows.len());
        while at < limit {
            let Some(row) = rows.get(at) else { break };
            if row.cells.len() == 1 && self.heading(row, style, state) {
                at += 1;
                continue;
            }
            let mut desk = Desk {
                lexicon,
                style,
                scopes: &mut self.scopes,
                ledger: &mut self.ledger,
                section: state.section.clone(),
                section_unit: None,
                footnotes: &state.footnotes,
            };
            let is_fact = row.cells.first().is_some_and(|c| bands::is_label(c, lexicon, style) || c.colon)
                && !(row.cells.len() > 2 && row.cells.iter().skip(1).all(|c| !c.colon) && first_figure.is_some());
            if (is_fact || first_figure.is_none()) && table::facts_of_row(row, &mut desk, 0) {
                at += 1;
                continue;
            }
            if first_figure.is_none() {
                at += 1;
                continue;
            }
            break;
        }
        if let Some(rest) = rows.get(at..)
            && !rest.is_empty()
        {
            let mut desk = Desk {
                lexicon,
                style,
                scopes: &mut self.scopes,
                ledger: &mut self.ledger,
                section: state.section.clone(),
                section_unit: state.section_unit.clone(),
                footnotes: &state.footnotes,
            };
            state.carried = table::read(rest, &mut desk, state.carried.take());
        }
    }

    /// A line that stands alone: a title, a section, the name of a sample.
    fn heading(&mut self, row: &Row, style: &Style, state: &mut PageState) -> bool {
        let Some(cell) = row.cells.first() else { return false };
        let seen = cell.seen(self.lexicon, style);
        if seen.value.is_some() || seen.unit.is_some() {
            return false;
        }
        if cell.word_count() > 10 {
            let mut desk = Desk {
                lexicon: self.lexicon,
                style,
                scopes: &mut self.scopes,
                ledger: &mut self.ledger,
                section: Vec::new(),
                section_unit: None,
                footnotes: &state.footnotes,
            };
            let learnt = mentions::learn(&cell.text, &mentions::Origin::of(cell), &mut desk);
            // "B. RESIN (gel strong acid cation, converted to Na form before test)" ends a section on the water.
            if is_long_heading(&cell.text) {
                state.section = self.lexicon.heading_facets(&cell.text);
                state.section_unit = None;
                self.end_section(&cell.text, state);
                return true;
            }
            return learnt;
        }
        let text = cell.text.trim();
        let label = self.lexicon.understand(text, &[]);
        let mut desk = Desk {
            lexicon: self.lexicon,
            style,
            scopes: &mut self.scopes,
            ledger: &mut self.ledger,
            section: Vec::new(),
            section_unit: None,
            footnotes: &state.footnotes,
        };
        let named = table::names_sample(cell, &mut desk);
        mentions::learn(text, &mentions::Origin::of(cell), &mut desk);
        if named {
            state.section = self.lexicon.heading_facets(text);
            return true;
        }
        let figures = label.target.as_ref().is_some_and(Target::is_figure);
        let facets = self.lexicon.heading_facets(text);
        let sentence = text.ends_with('.') && cell.word_count() > 4;
        if label.unexplained.len() <= 3 && !sentence {
            self.end_section(text, state);
            state.section = facets;
            state.section_unit = label.unit.clone().filter(|_| !figures || label.is_clear());
        }
        true
    }

    /// Under a heading for the resin or the water, the heads of the table above no longer hold.
    fn end_section(&self, text: &str, state: &mut PageState) {
        let label = self.lexicon.understand(text, &[]);
        let resin = self.lexicon.facet_id("resin").is_some_and(|r| label.facets.contains(&r));
        if resin || !label.contexts.is_empty() {
            state.carried = None;
        }
    }

    fn finish(self, line_words: &[Vec<WordId>]) -> Extraction {
        let mut extraction = Extraction { account: self.ledger.account(), ..Extraction::default() };
        extraction.drafts = self.scopes.finish();
        let mut at = 0usize;
        let document = self.document;
        for part in &document.parts {
            for line in part.pages.iter().flat_map(|p| &p.lines) {
                let Some(ids) = line_words.get(at) else { break };
                let number = u32::try_from(at).unwrap_or(u32::MAX);
                at += 1;
                let mut unread: Option<Where> = None;
                for (word, id) in line.words.iter().zip(ids) {
                    match self.ledger.end(*id) {
                        Some(super::ledger::End::Unread) => {
                            unread.get_or_insert_with(|| word.place.clone());
                        }
                        Some(super::ledger::End::SetAside(reason)) => extraction.set_aside.push(SetAside {
                            text: word.text.trim().to_owned(),
                            reason: (*reason).to_owned(),
                            place: word.place.clone(),
                        }),
                        _ => {}
                    }
                }
                let Some(place) = unread else { continue };
                let entry = Unread { text: line.text(), place };
                let owners: Vec<usize> = extraction
                    .drafts
                    .iter()
                    .enumerate()
                    .filter(|(_, d)| d.lines.is_some_and(|(low, high)| low <= number && number <= high))
                    .map(|(i, _)| i)
                    .collect();
                let owner = match (extraction.drafts.len(), owners.as_slice()) {
                    (1, _) => Some(0),
                    (_, [one]) => Some(*one),
                    _ => None,
                };
                match owner.and_then(|i| extraction.drafts.get_mut(i)) {
                    Some(draft) => draft.unread.push(entry),
                    None => extraction.unread.push(entry),
                }
            }
        }
        for notice in &document.notices {
            let code = match notice.kind {
                NoticeKind::HiddenContent => "hidden-content",
                NoticeKind::Encoding => "encoding",
                NoticeKind::UnreadableAttachment => "unreadable-attachment",
                NoticeKind::UnmappedText => "unmapped-text",
                NoticeKind::FormulaWithoutValue => "formula-without-value",
                NoticeKind::Damaged => "damaged-file",
            };
            let doubt = Doubt::new(code, None, notice.text.clone(), &notice.place);
            if extraction.drafts.is_empty() {
                extraction.doubts.push(doubt.clone());
            }
            for draft in &mut extraction.drafts {
                draft.doubts.push(doubt.clone());
            }
        }
        extraction
    }
}

/// "water: 27 gpg, 2.1 iron, no chlorine": water that is counted in degrees of hardness is the feed.
fn of_feed(row: &Row, text: &str, lexicon: &Lexicon, style: &Style) -> bool {
    let Some(head) = row.cells.first().filter(|c| c.colon || c.text.contains(':')) else { return false };
    let label = lexicon.understand(head.text.split(':').next().unwrap_or_default(), &[]);
    let water = lexicon.facet_id("water").is_some_and(|w| label.facets.contains(&w)) && label.facets.len() == 1;
    let hardness = |unit: &crate::quantity::Unit| phrases::by_unit(unit, "", true, lexicon).is_some();
    water && style.find(text).iter().any(|(l, _)| l.value.unit.as_ref().is_some_and(hardness))
}

/// Several figures with their units in one cell, set apart by commas, strokes or semicolons, each with words of its own.
fn is_list(cell: &Cell, lexicon: &Lexicon, style: &Style) -> bool {
    if cell.typed.is_some() || cell.text.len() > 400 || !cell.text.contains([',', ';', '/', '|', '·']) {
        return false;
    }
    let found = style.find(&cell.text);
    let mut last = 0;
    let mut named = 0;
    for (located, _) in &found {
        let before = cell.text.get(last..located.start).unwrap_or_default();
        let words = before.trim_matches(|c: char| !c.is_alphanumeric() && c != '%');
        let label = lexicon.understand(words, &[]);
        let figure = label.target.as_ref().is_some_and(Target::is_figure) && label.unexplained.len() <= 1;
        named += usize::from(figure && !words.is_empty() && (located.value.unit.is_some() || last > 0));
        last = located.end;
    }
    named >= 2
}

/// A title of many words: numbered, in capitals, or with most of it in brackets.
pub fn is_long_heading(text: &str) -> bool {
    let text = text.trim();
    let before = text.split('(').next().unwrap_or_default().trim();
    let numbered = crate::lexicon::strip_numbering(text).len() < text.len();
    let capitals = before.chars().any(char::is_uppercase) && !before.chars().any(char::is_lowercase);
    let bracketed = text.contains('(') && before.split_whitespace().count() <= 4;
    !text.ends_with(['.', ';', ',']) && (capitals || bracketed && numbered || bracketed && text.ends_with(')'))
}

fn is_mail_head(text: &str) -> bool {
    static HEAD: OnceLock<Option<Regex>> = OnceLock::new();
    HEAD.get_or_init(|| {
        Regex::new(
            r"(?i)^(?:from|to|cc|bcc|date|sent|reply-to|von|an|gesendet|datum|de|à|envoyé|fecha|enviado|para)\s*:",
        )
        .ok()
    })
    .as_ref()
    .is_some_and(|p| p.is_match(text.trim()))
}

/// A merged cell holds for each row that it spans.
fn fill_merged(rows: &mut [Row]) {
    for at in 0..rows.len() {
        let Some(row) = rows.get(at) else { break };
        let merged: Vec<Cell> = row.cells.iter().filter(|c| c.rows > 1).cloned().collect();
        for cell in merged {
            for down in 1..cell.rows as usize {
                let Some(below) = rows.get_mut(at + down) else { break };
                if below.table.is_none()
                    || below.gap > 0
                    || below.cells.iter().any(|c| c.overlap(cell.x0, cell.x1) > 0.0)
                {
                    continue;
                }
                let mut copy = cell.with_text(cell.text.clone());
                copy.typed.clone_from(&cell.typed);
                copy.rows = 1;
                let position = below.cells.iter().position(|c| c.x0 > copy.x0).unwrap_or(below.cells.len());
                below.cells.insert(position, copy);
            }
        }
    }
}

/// A label alone on its line, its value alone on the next.
fn pair_lines(rows: Vec<Row>, lexicon: &Lexicon, style: &Style) -> Vec<Row> {
    let mut paired: Vec<Row> = Vec::new();
    let mut rows = rows.into_iter().peekable();
    while let Some(row) = rows.next() {
        let label = match row.cells.as_slice() {
            [cell] if row.table.is_none() || cell.colon => Some(&cell.seen(lexicon, style).label),
            _ => None,
        };
        let Some(label) = label.filter(|l| l.target.is_some() && l.unexplained.is_empty()) else {
            paired.push(row);
            continue;
        };
        let figure = label.target.as_ref().is_some_and(Target::is_figure);
        let fits = rows.peek().is_some_and(|next| match next.cells.as_slice() {
            [cell] => {
                let seen = cell.seen(lexicon, style);
                if figure {
                    seen.value.is_some() || (seen.blank && !cell.text.is_empty())
                } else {
                    !cell.colon && !bands::is_label(cell, lexicon, style) && cell.word_count() <= 8 && next.gap == 0
                }
            }
            _ => false,
        });
        if fits && let Some(next) = rows.next() {
            let mut joined = row.clone();
            for mut cell in next.cells {
                let end = joined.cells.last().map_or(0.0, |c| c.x1);
                cell.cut = true;
                let width = cell.x1 - cell.x0;
                cell.x0 = end + 1.0;
                cell.x1 = cell.x0 + width;
                joined.cells.push(cell);
            }
            if let Some(first) = joined.cells.first_mut() {
                first.colon = true;
            }
            // Its unit alone on the line below.
            let bare = joined.cells.get(1).is_some_and(|c| {
                c.seen(lexicon, style).value.as_ref().is_some_and(|(v, _)| v.unit.is_none() && v.value.is_some())
            });
            let unit_below = bare
                && rows.peek().is_some_and(|next| match next.cells.as_slice() {
                    [cell] => next.gap == 0 && cell.seen(lexicon, style).unit.is_some(),
                    _ => false,
                });
            if unit_below && let Some(below) = rows.next() {
                let end = joined.cells.last().map_or(0.0, |c| c.x1);
                for mut cell in below.cells {
                    let width = cell.x1 - cell.x0;
                    cell.x0 = end + 1.0;
                    cell.x1 = cell.x0 + width;
                    cell.cut = true;
                    joined.cells.push(cell);
                }
            }
            paired.push(joined);
        } else {
            paired.push(row);
        }
    }
    paired
}

/// Which rows are sentences.
fn prose_flags(rows: &[Row], lexicon: &Lexicon, style: &Style, words: &[(String, Where)]) -> Vec<bool> {
    const SMALL: &[&str] = &[
        "the", "was", "were", "is", "are", "of", "and", "a", "an", "we", "to", "on", "in", "at", "it", "you", "your",
        "which", "has", "have", "with", "for", "that", "from", "this", "be", "by", "our", "der", "die", "das", "und",
        "wurde", "ist", "wird", "beträgt", "bei", "mit", "ein", "eine", "von", "den", "im", "liegt", "sind", "le",
        "la", "les", "est", "été", "de", "des", "du", "et", "une", "un", "nous", "à", "sont", "el", "los", "las", "es",
        "fue", "del", "en", "y", "con", "una", "que", "por", "se", "sur", "dans", "au",
    ];
    let flags: Vec<bool> =
        rows.iter()
            .map(|row| {
                if row.table.is_some() {
                    // A cell of a sheet may hold a whole remark.
                    return row.cells.len() == 1
                        && row.cells.first().is_some_and(|c| {
                            c.word_count() >= 8 && c.typed.is_none() && !style.find(&c.text).is_empty()
                        });
                }
                let mut ids: Vec<WordId> = row.cells.iter().flat_map(|c| c.words.iter().copied()).collect();
                ids.dedup();
                let tokens: Vec<&str> =
                    ids.iter().filter_map(|id| words.get(id.0 as usize)).map(|w| w.0.as_str()).collect();
                let small = tokens
                    .iter()
                    .filter(|t| SMALL.contains(&t.trim_matches([',', '.', ';', ':', '(', ')']).to_lowercase().as_str()))
                    .count();
                let lone = row.cells.len() == 1
                    && row.cells.first().is_some_and(|c| {
                        c.seen(lexicon, style).value.is_none()
                            && c.seen(lexicon, style).date.is_none()
                            && !c.colon
                            && c.word_count() >= 3
                            && style.find(crate::lexicon::strip_numbering(&c.text)).iter().any(|(l, _)| {
                                l.value.unit.is_some()
                                    || l.value.decimals > 0
                                    || c.text.trim_end().ends_with(['.', ';', ','])
                            })
                            && !c.seen(lexicon, style).label.is_clear()
                    });
                let spread = row.cells.windows(2).any(|w| match w {
                    [a, b] => b.x0 - a.x1 > 3.0 * row.char_width.max(0.1) && !b.cut,
                    _ => false,
                });
                // "TVC 1.68 eq/L / WRC 52.0 % / BSD 797 g/L", "freeboard 22 in., bed 36 in. deep": a list is read as a sentence.
                if row.cells.iter().any(|c| is_list(c, lexicon, style)) {
                    return true;
                }
                let line = row.cells.iter().map(|c| c.text.as_str()).collect::<Vec<_>>().join(" ");
                if row.cells.iter().all(|c| !c.cut || c.colon || row.cells.len() == 2)
                    && (phrases::speaks(&line, lexicon, style) || of_feed(row, &line, lexicon, style))
                {
                    return true;
                }
                // "Jar 2, the core from softener No. 2, is the tired one: ..." is no label.
                let titled = row.cells.first().filter(|c| c.word_count() <= 7).is_some_and(|c| {
                    match &c.seen(lexicon, style).label.target {
                        // "Summary: the total capacity of 1.61 eq/L shows ..." is read for its figures like any sentence.
                        Some(Target::Key(key)) => c.colon && key != "remark",
                        Some(_) => c.colon,
                        None => false,
                    }
                });
                lone || (tokens.len() >= 7 && small >= 2 && !spread && !titled)
            })
            .collect();
    // "goes into each regeneration.": the end of a sentence that began on the line above.
    let mut flags = flags;
    for at in 1..rows.len() {
        let (Some(above), Some(row)) = (rows.get(at - 1), rows.get(at)) else { break };
        let ends =
            above.cells.last().is_some_and(|c| c.text.trim_end().ends_with(['.', ':', ';', '!', '?']) || c.colon);
        let goes_on = match row.cells.as_slice() {
            [cell] => cell.text.starts_with(char::is_lowercase) && cell.text.trim_end().ends_with('.') && !cell.colon,
            _ => false,
        };
        if flags.get(at - 1) == Some(&true)
            && !ends
            && goes_on
            && row.gap == 0
            && row.table.is_none()
            && let Some(flag) = flags.get_mut(at)
        {
            *flag = true;
        }
    }
    // A long line without a figure and without a neighbour of its kind is a heading.
    let alone = |at: usize| {
        let before = at.checked_sub(1).and_then(|b| flags.get(b)).copied().unwrap_or(false);
        let after = flags.get(at + 1).copied().unwrap_or(false);
        !before && !after && rows.len() > 1
    };
    let plain = |row: &Row| match row.cells.as_slice() {
        [cell] => style.find(&cell.text).is_empty() && !cell.text.trim_end().ends_with(['.', ';', ',']),
        _ => false,
    };
    rows.iter().enumerate().map(|(at, row)| flags.get(at) == Some(&true) && !(alone(at) && plain(row))).collect()
}
