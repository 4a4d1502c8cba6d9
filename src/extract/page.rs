//! The way through a document: parts, pages, blocks, bands.

use super::bands;
use super::cells::Row;
use super::layout;
use super::ledger::{Ledger, WordId};
use super::pages::{Repeats, Sheet};
use super::scope::Scopes;
use super::style::Style;
use super::table::{self, Carried, Desk, Footnotes};
use super::{Extraction, closing, letterhead, mentions, notes, pages, passing, prose, rows, runs, sieve, wraps};
use crate::document::Document;
use crate::lexicon::{FacetId, Lexicon, Target};
use crate::place::Where;
use crate::quantity::Unit;

/// Reads one document.
pub struct Reader<'a> {
    document: &'a Document,
    lexicon: &'a Lexicon,
    scopes: Scopes,
    ledger: Ledger,
    words: Vec<(String, Where)>,
}

/// What the bands above say to those below them.
#[derive(Default)]
struct PageState {
    carried: Option<Carried>,
    pending: Vec<Row>,
    section: Vec<FacetId>,
    section_unit: Option<Unit>,
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
        let mut line_words: Vec<Vec<WordId>> = Vec::new();
        for (number, part) in self.document.parts.iter().enumerate() {
            self.scopes.start_part(number);
            let style = Style::of(part);
            let sheets = part.pages.len() > 1 && part.pages.iter().any(|p| p.name.is_some());
            let is_mail = part.format == "eml" && part.name.is_none();
            let mut state = PageState::default();
            let strips = part.pages.iter().map(|page| layout::strips(page, &mut line_words)).collect();
            let mut repeats = Repeats { lexicon: self.lexicon, style: &style, ledger: &mut self.ledger };
            let prepared = pages::prepare(strips, part, &mut repeats);
            for (page, sheet) in part.pages.iter().zip(prepared) {
                if sheets || page.name.is_some() {
                    self.scopes.start_sheet(None);
                    state = PageState::default();
                    letterhead::name_of_sheet(page, sheets, &mut self.scopes, self.lexicon);
                }
                state.footnotes.extend(notes::footnotes(page, self.lexicon));
                self.page(sheet, is_mail, &style, &mut state);
            }
        }
        let drafts = &mut self.scopes.drafts;
        notes::apply(&notes::general(self.document, self.lexicon), drafts, self.lexicon);
        let mut drafts = self.scopes.finish();
        let orders: Vec<_> = self.document.parts.iter().map(|part| Style::of(part).order()).collect();
        let order = |part: usize| orders.get(part).copied().flatten();
        passing::complete(self.document, &line_words, self.lexicon, &mut drafts, &mut self.ledger, &order);
        closing::close(self.document, &self.ledger, drafts, &line_words)
    }

    fn page(&mut self, sheet: Sheet<'a>, is_mail: bool, style: &Style, state: &mut PageState) {
        let width = sheet.char_width;
        let mut blocks = layout::blocks(sheet.body, width, self.lexicon, style);
        // What the foot of each page says, it says of all that follows.
        let mut foot = sheet.foot;
        let foot = rows::rows(&mut foot, width, is_mail, self.lexicon, style, &mut self.ledger);
        let blocks: Vec<Vec<Row>> = blocks
            .iter_mut()
            .map(|block| rows::rows(block, width, is_mail, self.lexicon, style, &mut self.ledger))
            .collect();
        letterhead::learn(&[blocks.concat(), foot.clone()].concat(), style, &mut self.scopes, self.lexicon);
        self.page_block(foot, style, state);
        for block in blocks {
            self.page_block(block, style, state);
        }
    }

    /// What the reading of rows under the headings above needs.
    fn desk<'d>(&'d mut self, style: &'d Style, state: &'d PageState) -> Desk<'d> {
        Desk {
            section: state.section.clone(),
            section_unit: state.section_unit.clone(),
            ..self.bare_desk(style, state)
        }
    }

    /// What the reading of a heading needs: none of those above bears on it.
    fn bare_desk<'d>(&'d mut self, style: &'d Style, state: &'d PageState) -> Desk<'d> {
        Desk {
            lexicon: self.lexicon,
            style,
            scopes: &mut self.scopes,
            ledger: &mut self.ledger,
            section: Vec::new(),
            section_unit: None,
            footnotes: &state.footnotes,
        }
    }

    /// Reads the rows of one block of a page.
    fn page_block(&mut self, rows: Vec<Row>, style: &Style, state: &mut PageState) {
        for band in bands::bands(wraps::join(rows, self.lexicon, style)) {
            let band = runs::pair_lines(band, self.lexicon, style);
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
        let flags = runs::prose_flags(&rows, lexicon, style, &self.words);
        let mut flagged = rows.as_slice();
        let mut rest = flags.as_slice();
        while let Some(is_prose) = rest.first().copied() {
            let length = rest.iter().take_while(|f| **f == is_prose).count();
            let (run, later) = flagged.split_at(length.min(flagged.len()));
            if is_prose {
                self.prose(run, style, state)
            } else {
                self.block(run, style, state)
            }
            flagged = later;
            rest = rest.get(length..).unwrap_or_default();
        }
    }

    fn prose(&mut self, rows: &[Row], style: &Style, state: &mut PageState) {
        let words = std::mem::take(&mut self.words);
        let lookup = |id: WordId| words.get(id.0 as usize).cloned();
        let mut desk = Desk { section_unit: None, ..self.desk(style, state) };
        prose::read(rows, &lookup, &mut desk);
        self.words = words;
    }

    fn block(&mut self, rows: &[Row], style: &Style, state: &mut PageState) {
        let mut desk = self.desk(style, state);
        if sieve::read(rows, &mut desk) {
            return;
        }
        if let Some((start, first)) = table::turned(rows, &desk) {
            let above = rows.get(..start).unwrap_or_default().to_vec();
            if !above.is_empty() {
                self.plain(&above, style, state);
            }
            let turned = table::turn(rows, start, first);
            let mut desk = self.desk(style, state);
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
            let desk = self.desk(style, state);
            table::has_grouped(rows, &desk).then(|| rows.iter().position(|r| r.cells.len() > 1)).flatten()
        });
        let limit = first_figure.unwrap_or(rows.len());
        while at < limit {
            let Some(row) = rows.get(at) else { break };
            if row.cells.len() == 1 && self.heading(row, style, state) {
                at += 1;
                continue;
            }
            let mut desk = Desk { section_unit: None, ..self.desk(style, state) };
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
            let carried = state.carried.take();
            let mut desk = self.desk(style, state);
            state.carried = table::read(rest, &mut desk, carried);
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
            let mut desk = self.bare_desk(style, state);
            let learnt = mentions::learn(&cell.text, &mentions::Origin::of(cell), &mut desk);
            // "B. RESIN (gel strong acid cation, converted to Na form before test)" ends a section on the water.
            if runs::is_long_heading(&cell.text) {
                state.section = self.lexicon.heading_facets(&cell.text);
                state.section_unit = None;
                self.end_section(&cell.text, state);
                return true;
            }
            return learnt;
        }
        let text = cell.text.trim();
        let label = self.lexicon.understand(text, &[]);
        let mut desk = self.bare_desk(style, state);
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
}
