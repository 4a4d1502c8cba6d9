//! What the head and the foot of a page say by where they stand: the laboratory, the date, the vessel of a sheet.

use super::bands;
use super::cells::Row;
use super::mentions;
use super::scope::{Fact, Scopes, Trust};
use super::style::Style;
use crate::document::Page;
use crate::lexicon::{Lexicon, Target};

/// The laboratory, by the first lines of a page, or by the last where a letter is signed.
pub fn learn(rows: &[Row], style: &Style, scopes: &mut Scopes, lexicon: &Lexicon) {
    date_of_letter(rows, style, scopes, lexicon);
    let last = rows.len().saturating_sub(3).max(4);
    for row in rows.iter().take(4).chain(rows.iter().skip(last)) {
        for cell in row.cells.iter().filter(|c| !c.colon && !c.cut && c.typed.is_none()) {
            if scopes.knows("laboratory") {
                return;
            }
            if let Some(name) = mentions::laboratory(&cell.text, lexicon) {
                let fact = Fact {
                    key: "laboratory".into(),
                    text: name,
                    place: cell.place.clone(),
                    words: cell.words.clone(),
                    order: None,
                    trust: Trust::Mentioned,
                };
                scopes.learn(fact, lexicon);
            }
        }
    }
}

/// A date that stands alone at the head of a report is the report's.
fn date_of_letter(rows: &[Row], style: &Style, scopes: &mut Scopes, lexicon: &Lexicon) {
    let figure = |row: &Row| row.cells.iter().any(|c| bands::is_figure_label(c, lexicon, style));
    let head = rows.iter().take_while(|row| !figure(row)).take(8);
    // A sheet's date column, or a label before it, says otherwise.
    let alone = |row: &Row, at: usize| {
        let last = at + 1 == row.cells.len();
        let labelled = at
            .checked_sub(1)
            .and_then(|b| row.cells.get(b))
            .is_some_and(|b| b.colon || matches!(&b.seen(lexicon, style).label.target, Some(Target::Key(_))));
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
                && !lexicon.explains(before);
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
        scopes.learn(fact, lexicon);
    }
}

/// The vessel that a sheet is named after.
pub fn name_of_sheet(page: &Page, several: bool, scopes: &mut Scopes, lexicon: &Lexicon) {
    let Some(name) = &page.name else { return };
    let label = lexicon.understand(name, &[]);
    let vessel = lexicon.facet_id("vessel").is_some_and(|f| label.facets.contains(&f));
    let generic = ["sheet", "tabelle", "feuil", "hoja", "blatt", "table"];
    let lower = name.to_lowercase();
    if generic.iter().any(|g| lower.starts_with(g))
        || (label.unexplained.is_empty() && label.loose_numbers.is_empty() && !vessel)
    {
        return;
    }
    if vessel || several && label.target.is_none() && lexicon.role(name).is_none() {
        let fact = Fact { key: "vessel".into(), text: name.to_string(), trust: Trust::Guessed, ..Fact::default() };
        if vessel || label.facets.is_empty() && name.chars().any(|c| c.is_ascii_digit()) {
            scopes.start_sheet(Some(fact));
        }
    }
}
