//! Runs of rows: labels whose values stand a line below, and rows that are sentences.

use super::bands;
use super::cells::{Cell, Row};
use super::ledger::WordId;
use super::phrases;
use super::style::Style;
use crate::lexicon::{Lexicon, Target};
use crate::place::Where;

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

/// "water: 27 gpg, 2.1 iron, no chlorine": water that is counted in degrees of hardness is the feed.
fn of_feed(row: &Row, text: &str, lexicon: &Lexicon, style: &Style) -> bool {
    let Some(head) = row.cells.first().filter(|c| c.colon || c.text.contains(':')) else { return false };
    let label = lexicon.understand(head.text.split(':').next().unwrap_or_default(), &[]);
    let water = lexicon.facet_id("water").is_some_and(|w| label.facets.contains(&w)) && label.facets.len() == 1;
    let hardness = |unit: &crate::quantity::Unit| phrases::by_unit(unit, "", true, lexicon).is_some();
    water && style.find(text).iter().any(|(l, _)| l.value.unit.as_ref().is_some_and(hardness))
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

/// A label alone on its line, its value alone on the next.
pub fn pair_lines(rows: Vec<Row>, lexicon: &Lexicon, style: &Style) -> Vec<Row> {
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
pub fn prose_flags(rows: &[Row], lexicon: &Lexicon, style: &Style, words: &[(String, Where)]) -> Vec<bool> {
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
                // The head of a table may hold words that a sentence would: "Crush   >200 g".
                let head = spread && row.cells.len() >= 4;
                if !head
                    && row.cells.iter().all(|c| !c.cut || c.colon || row.cells.len() == 2)
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
