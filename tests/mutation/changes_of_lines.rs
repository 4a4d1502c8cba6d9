//! Changes of lines, columns and cells.

use super::*;

fn has_figures(known: &Known, l: &Line) -> bool {
    l.words.iter().any(|w| known.baseline.iter().any(|b| b.place == w.place))
}

/// A line by chance, with or without figures.
fn any_line(known: &Known, random: &mut Random, with: impl Fn(&Line) -> bool) -> Option<At> {
    let mut all: Vec<At> = words(&known.document).filter(|(at, _)| at.word == 0).map(|(at, _)| at).collect();
    all.retain(|at| with(line(&known.document, *at)));
    random.pick(&all).copied()
}

fn lines_of(document: &mut Document, at: At) -> &mut Vec<Line> {
    &mut document.parts[at.part].pages[at.page].lines
}

pub fn line_lost(known: &Known, random: &mut Random) -> Option<Changed> {
    let at = any_line(known, random, |l| !has_figures(known, l))?;
    let mut document = known.document.clone();
    lines_of(&mut document, at).remove(at.line);
    let mut changed = plain(document, format!("line lost: \"{}\"", line(&known.document, at).text()))?;
    changed.moves_samples = true;
    Some(changed)
}

pub fn figure_line_lost(known: &Known, random: &mut Random) -> Option<Changed> {
    let at = any_line(known, random, |l| has_figures(known, l))?;
    let mut document = known.document.clone();
    lines_of(&mut document, at).remove(at.line);
    plain(document, format!("line lost: \"{}\"", line(&known.document, at).text()))
}

pub fn lines_swapped(known: &Known, random: &mut Random) -> Option<Changed> {
    let at = any_line(known, random, |l| has_figures(known, l))?;
    let below = At { line: at.line + 1, ..at };
    let mut document = known.document.clone();
    let lines = lines_of(&mut document, at);
    let next = lines.get(below.line)?;
    // Rows that each say all of themselves; a row that goes on from the one above carries its order's meaning.
    let starts_alike = |a: &Line, b: &Line| {
        let first = |l: &Line| l.words.first().map(|w| (w.x0, w.text.chars().next().is_some_and(char::is_alphabetic)));
        a.table == b.table && first(a) == first(b) && first(a).is_some_and(|f| f.1)
    };
    if !has_figures(known, next) || !starts_alike(&lines[at.line], next) {
        return None;
    }
    let edges = |l: &Line| (l.top, l.bottom);
    let (upper, lower) = (edges(&lines[at.line]), edges(next));
    lines.swap(at.line, below.line);
    (lines[at.line].top, lines[at.line].bottom) = upper;
    (lines[below.line].top, lines[below.line].bottom) = lower;
    plain(document, format!("swapped with the next: \"{}\"", line(&known.document, at).text()))
}

pub fn line_repeated(known: &Known, random: &mut Random) -> Option<Changed> {
    let at = any_line(known, random, |l| has_figures(known, l))?;
    let mut document = known.document.clone();
    let lines = lines_of(&mut document, at);
    let again = lines[at.line].clone();
    let height = again.bottom - again.top;
    lines.insert(at.line + 1, again);
    for l in &mut lines[at.line + 1..] {
        l.top += height;
        l.bottom += height;
    }
    plain(document, format!("line repeated: \"{}\"", line(&known.document, at).text()))
}

pub fn line_broken(known: &Known, random: &mut Random) -> Option<Changed> {
    let at = any_line(known, random, |l| l.table.is_none() && l.words.len() > 1 && has_figures(known, l))?;
    let mut document = known.document.clone();
    let lines = lines_of(&mut document, at);
    let cut = 1 + random.below(lines[at.line].words.len() - 1);
    let mut rest = lines[at.line].clone();
    let height = rest.bottom - rest.top;
    rest.words = lines[at.line].words.split_off(cut);
    let by = rest.words.first().map_or(0.0, |w| w.x0);
    for w in &mut rest.words {
        w.x0 -= by;
        w.x1 -= by;
    }
    lines.insert(at.line + 1, rest);
    for l in &mut lines[at.line + 1..] {
        l.top += height;
        l.bottom += height;
    }
    let what = format!("line broken: \"{}\" / \"{}\"", lines[at.line].text(), lines[at.line + 1].text());
    plain(document, what)
}

pub fn line_moved(known: &Known, random: &mut Random) -> Option<Changed> {
    let at = any_line(known, random, |l| l.table.is_none() && has_figures(known, l))?;
    let mut document = known.document.clone();
    let by = layout::char_width(&document, at) * (1 + random.below(6)) as f32;
    for w in &mut line_mut(&mut document, at).words {
        w.x0 += by;
        w.x1 += by;
    }
    plain(document, format!("moved right by {by}: \"{}\"", line(&known.document, at).text()))
}

pub fn word_moved(known: &Known, random: &mut Random) -> Option<Changed> {
    let spot = spot(known, random)?;
    let at = spot.at;
    if line(&known.document, at).table.is_some() {
        return None;
    }
    let mut document = known.document.clone();
    let width = layout::char_width(&document, at);
    let by = *random.pick(&[-2.0, -1.0, 1.0, 2.0])? * width;
    let words = &mut line_mut(&mut document, at).words;
    let is_free = |x0: f32, x1: f32| {
        let before = at.word.checked_sub(1).and_then(|i| words.get(i)).is_none_or(|w| w.x1 + 1.5 * width <= x0);
        before && words.get(at.word + 1).is_none_or(|w| x1 + 1.5 * width <= w.x0)
    };
    if !is_free(words[at.word].x0 + by, words[at.word].x1 + by) {
        return None;
    }
    words[at.word].x0 += by;
    words[at.word].x1 += by;
    let what = format!("\"{}\" moved by {by} in \"{}\"", words[at.word].text, line(&known.document, at).text());
    plain(document, what)
}

/// The lines of the hard table that a figure stands in.
fn table_of(known: &Known, at: At) -> Option<Vec<usize>> {
    let table = line(&known.document, at).table?;
    let lines = &known.document.parts[at.part].pages[at.page].lines;
    Some((0..lines.len()).filter(|i| lines[*i].table == Some(table)).collect())
}

pub fn columns_swapped(known: &Known, random: &mut Random) -> Option<Changed> {
    let at = spot(known, random)?.at;
    let rows = table_of(known, at)?;
    let mut document = known.document.clone();
    let lines = lines_of(&mut document, at);
    let column = lines[at.line].words[at.word].x0;
    let columns: Vec<f32> = lines[at.line].words.iter().skip(1).map(|w| w.x0).filter(|x| *x != column).collect();
    let other = *random.pick(&columns)?;
    let is_merged = |l: &Line| l.words.iter().any(|w| w.x1 - w.x0 > 1.5 || w.rows > 1);
    let first = lines[at.line].words.first()?.x0;
    // Labels stay where they are; a table that runs on beside itself has labels in other columns too.
    let holds_labels = |x: f32| {
        let is_label = |i: &&usize| lines[**i].words.iter().any(|w| w.x0 == x && !long_words(&w.text).is_empty());
        rows.iter().filter(is_label).count() > 2
    };
    if rows.len() < 3 || column == first || rows.iter().any(|i| is_merged(&lines[*i])) {
        return None;
    }
    if holds_labels(column) || holds_labels(other) {
        return None;
    }
    for index in rows {
        for w in &mut lines[index].words {
            let to = if w.x0 == column {
                other
            } else if w.x0 == other {
                column
            } else {
                continue;
            };
            w.x1 += to - w.x0;
            w.x0 = to;
        }
        lines[index].words.sort_by(|a, b| a.x0.total_cmp(&b.x0));
    }
    plain(document, format!("columns {column} and {other} swapped at \"{}\"", line(&known.document, at).text()))
}

pub fn cell_moved(known: &Known, random: &mut Random) -> Option<Changed> {
    let spot = spot(known, random)?;
    let at = spot.at;
    line(&known.document, at).table?;
    let mut document = known.document.clone();
    let words = &mut line_mut(&mut document, at).words;
    let by = *random.pick(&[-1.0, 1.0])?;
    let to = words[at.word].x0 + by;
    if to < 1.0 || words.iter().any(|w| w.x0 <= to && to < w.x1) {
        return None;
    }
    words[at.word].x0 += by;
    words[at.word].x1 += by;
    words.sort_by(|a, b| a.x0.total_cmp(&b.x0));
    let what =
        format!("\"{}\" moved to the cell {by} beside in \"{}\"", spot.target.number, line(&known.document, at).text());
    let mut changed = plain(document, what)?;
    changed.moves_samples = true;
    Some(changed)
}

pub fn row_moved_up(known: &Known, random: &mut Random) -> Option<Changed> {
    let spot = spot(known, random)?;
    let at = spot.at;
    line(&known.document, at).table?;
    let mut document = known.document.clone();
    let words = &mut line_mut(&mut document, at).words;
    let lost = words.remove(at.word);
    if at.word == words.len() {
        return None;
    }
    for w in &mut words[at.word..] {
        w.x0 -= 1.0;
        w.x1 -= 1.0;
    }
    let what = format!("\"{}\" lost, the rest moved up in \"{}\"", lost.text, line(&known.document, at).text());
    Some(Changed { document, what, expect: Expect::Absent, target: Some(spot.target), moves_samples: true })
}
