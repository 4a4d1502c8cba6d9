//! Tables whose rules run only between their rows: where cells wrap, lines alone no longer tell what stands beside
//! what, and the rules do.
//!
//! Only tables with a wrapped cell are made hard here; the rest stay running lines, whose columns are not for a
//! reader to weigh.

use super::ruled::{NEAR, Placed, Table, TableCell, TableRow, by_line, is_figure, merged, text_of};
use super::upright::Stroke;
use super::words::Piece;

/// Rules whose ends differ by less belong to one table.
const SAME_END: f32 = 5.0;
/// A row higher than this is a passage.
const HIGHEST: f32 = 120.0;
/// Gap between two cells, over the size of the type; blanks are narrower.
const CELL_GAP: f32 = 0.6;
/// Lines of a head that stands above the first rule.
const MOST_HEAD: usize = 4;

/// Finds banded tables. Words that stand in one are taken out of `words`.
pub fn tables(levels: &[Stroke], words: &mut Vec<Placed>) -> Vec<Table> {
    let mut found = Vec::new();
    for rules in stacks(&merged(levels)) {
        for run in runs(&rules, words) {
            if let Some((table, taken)) = table(&run, words) {
                found.push(table);
                let mut index = 0;
                words.retain(|_| {
                    index += 1;
                    taken.binary_search(&(index - 1)).is_err()
                });
            }
        }
    }
    found
}

/// Rules of the same length, above each other.
fn stacks(levels: &[Stroke]) -> Vec<Vec<Stroke>> {
    let mut stacks: Vec<Vec<Stroke>> = Vec::new();
    for level in levels {
        let same = |s: &Stroke| (s.from - level.from).abs() < SAME_END && (s.to - level.to).abs() < SAME_END;
        match stacks.iter_mut().find(|s| s.last().is_some_and(same)) {
            Some(stack) if stack.last().is_some_and(|l| level.at - l.at <= NEAR) => {}
            Some(stack) => stack.push(*level),
            None => stacks.push(vec![*level]),
        }
    }
    stacks.retain(|s| s.len() >= 3);
    stacks
}

fn inside(piece: &Piece, left: f32, right: f32, top: f32, bottom: f32) -> bool {
    let (x, y) = piece.middle();
    left - NEAR <= x && x <= right + NEAR && top < y && y <= bottom
}

/// Runs of rules that have words between each two.
fn runs(rules: &[Stroke], words: &[Placed]) -> Vec<Vec<Stroke>> {
    let mut runs: Vec<Vec<Stroke>> = Vec::new();
    for rule in rules {
        let goes_on = runs.last().and_then(|r| r.last()).is_some_and(|last| {
            rule.at - last.at < HIGHEST && words.iter().any(|w| inside(&w.piece, rule.from, rule.to, last.at, rule.at))
        });
        match runs.last_mut() {
            Some(run) if goes_on => run.push(*rule),
            _ => runs.push(vec![*rule]),
        }
    }
    runs.retain(|r| r.len() >= 3);
    runs
}

/// Indices of words, and what they make a row of.
struct Band {
    top: f32,
    bottom: f32,
    words: Vec<usize>,
}

fn table(rules: &[Stroke], words: &[Placed]) -> Option<(Table, Vec<usize>)> {
    let (left, right) = (rules.first()?.from, rules.first()?.to);
    let mut bands: Vec<Band> = rules
        .windows(2)
        .filter_map(|pair| {
            let [above, below] = pair else { return None };
            let within = |w: &&(usize, &Placed)| inside(&w.1.piece, left, right, above.at, below.at);
            let words = words.iter().enumerate().collect::<Vec<_>>();
            let words = words.iter().filter(within).map(|w| w.0).collect();
            Some(Band { top: above.at, bottom: below.at, words })
        })
        .collect();
    let columns = columns(&bands, words);
    if columns.len() < 2 {
        return None;
    }
    let mut sizes: Vec<f32> =
        bands.iter().flat_map(|b| &b.words).filter_map(|i| words.get(*i)).map(|w| w.piece.size).collect();
    sizes.sort_by(f32::total_cmp);
    let typical = *sizes.get(sizes.len() / 2)?;
    if let Some(head) = outer(rules.first()?, true, &columns, typical, words) {
        bands.insert(0, head);
    }
    if let Some(last) = rules.last().filter(|r| r.edge)
        && let Some(foot) = outer(last, false, &columns, typical, words)
    {
        bands.push(foot);
    }
    let rows: Vec<Vec<Vec<Vec<&Placed>>>> = bands.iter().map(|b| cells(b, &columns, words)).collect();
    let wraps = rows.iter().flatten().any(|cell| cell.len() > 1);
    let sound = rows.iter().enumerate().all(|(index, row)| !is_stacked(row, index == 0) && !has_gaps(row));
    if rows.len() < 3 || !wraps || !sound {
        return None;
    }
    let mut taken: Vec<usize> = bands.iter().flat_map(|b| &b.words).copied().collect();
    taken.sort_unstable();
    let rows = bands.iter().zip(&rows).map(|(band, row)| TableRow {
        top: band.top,
        bottom: band.bottom,
        cells: row
            .iter()
            .enumerate()
            .filter_map(|(column, lines)| {
                let first = lines.first()?.first()?;
                Some(TableCell {
                    column,
                    columns: 1,
                    rows: 1,
                    text: text_of(lines),
                    line: first.line,
                    recognized: lines.iter().flatten().any(|w| w.piece.recognized),
                })
            })
            .collect(),
    });
    Some((Table { rows: rows.collect() }, taken))
}

/// What stands between white rivers that run through all rows.
fn columns(bands: &[Band], words: &[Placed]) -> Vec<(f32, f32)> {
    let mut covered: Vec<(f32, f32)> = Vec::new();
    for band in bands {
        for line in by_line(band.words.iter().filter_map(|i| words.get(*i)).collect()) {
            let mut open: Option<(f32, f32)> = None;
            for word in line {
                let piece = &word.piece;
                match &mut open {
                    Some((_, end)) if piece.x0 - *end < CELL_GAP * piece.size => *end = end.max(piece.x1),
                    _ => {
                        covered.extend(open);
                        open = Some((piece.x0, piece.x1));
                    }
                }
            }
            covered.extend(open);
        }
    }
    covered.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut columns: Vec<(f32, f32)> = Vec::new();
    for (from, to) in covered {
        match columns.last_mut() {
            Some(last) if from - last.1 < 1.5 => last.1 = last.1.max(to),
            _ => columns.push((from, to)),
        }
    }
    columns
}

/// Lines close to the first or last rule, outside it, whose words fit the columns: a head without a rule above it, or
/// the last of rows that are told apart by their backgrounds.
fn outer(rule: &Stroke, above: bool, columns: &[(f32, f32)], typical: f32, words: &[Placed]) -> Option<Band> {
    let (top, bottom) = if above { (rule.at - HIGHEST, rule.at) } else { (rule.at, rule.at + HIGHEST) };
    let near: Vec<(usize, &Placed)> =
        words.iter().enumerate().filter(|(_, w)| inside(&w.piece, rule.from, rule.to, top, bottom)).collect();
    let mut lines: Vec<u32> = near.iter().map(|w| w.1.line).collect();
    lines.sort_unstable();
    lines.dedup();
    if above {
        lines.reverse();
    }
    let mut band = Band { top: rule.at, bottom: rule.at, words: Vec::new() };
    let mut filled: Vec<usize> = Vec::new();
    for line in lines.into_iter().take(MOST_HEAD) {
        let members: Vec<&(usize, &Placed)> = near.iter().filter(|w| w.1.line == line).collect();
        let Some(one) = members.first() else { break };
        let (y, size) = (one.1.piece.y, one.1.piece.size);
        let distance = if above { band.top - y } else { y - 0.7 * size - band.bottom };
        // Lines of a row stand close, and are of one size; what stands farther off, or larger, is a title.
        let farthest = if band.words.is_empty() { 1.6 * size } else { 0.7 * size };
        if distance > farthest || (typical - size).abs() > 0.15 * typical {
            break;
        }
        let slots: Option<Vec<usize>> = members.iter().map(|w| slot(columns, &w.1.piece)).collect();
        let Some(slots) = slots else { break };
        filled.extend(slots);
        band.words.extend(members.iter().map(|w| w.0));
        if above { band.top = y - size } else { band.bottom = y }
    }
    filled.sort_unstable();
    filled.dedup();
    // A title or a sentence stands in one column alone.
    (filled.len() >= 2).then_some(band)
}

/// Column of a word; none where it reaches over two.
fn slot(columns: &[(f32, f32)], piece: &Piece) -> Option<usize> {
    let meets = |c: &&(usize, &(f32, f32))| piece.x0 < c.1.1 && c.1.0 < piece.x1;
    let listed: Vec<(usize, &(f32, f32))> = columns.iter().enumerate().collect();
    let met: Vec<usize> = listed.iter().filter(meets).map(|c| c.0).collect();
    match met.as_slice() {
        [one] => Some(*one),
        [] => {
            let x = piece.middle().0;
            let distance = |c: &(f32, f32)| (c.0 - x).max(x - c.1);
            listed.iter().min_by(|a, b| distance(a.1).total_cmp(&distance(b.1))).map(|c| c.0)
        }
        _ => None,
    }
}

fn cells<'a>(band: &Band, columns: &[(f32, f32)], words: &'a [Placed]) -> Vec<Vec<Vec<&'a Placed>>> {
    let mut cells: Vec<Vec<&Placed>> = vec![Vec::new(); columns.len()];
    for word in band.words.iter().filter_map(|i| words.get(*i)) {
        if let Some(cell) = slot(columns, &word.piece).and_then(|s| cells.get_mut(s)) {
            cell.push(word);
        }
    }
    cells.into_iter().map(by_line).collect()
}

/// Whether a row holds several rows: all its cells are equally many lines. Words in a head may wrap as they like.
fn is_stacked(row: &[Vec<Vec<&Placed>>], is_head: bool) -> bool {
    let filled = || row.iter().filter(|c| !c.is_empty());
    let first = filled().next().map_or(0, Vec::len);
    let figures = filled().flatten().any(|l| l.first().is_some_and(|w| is_figure(&w.piece.text)));
    first >= 2 && filled().count() >= 2 && filled().all(|c| c.len() == first) && (!is_head || figures)
}

/// Whether a cell holds words as far apart as cells are: then the columns are wrong.
fn has_gaps(row: &[Vec<Vec<&Placed>>]) -> bool {
    let gap = |pair: &[&Placed]| match pair {
        [one, next] => next.piece.x0 - one.piece.x1 > 1.2 * one.piece.size,
        _ => false,
    };
    row.iter().flatten().any(|line| line.windows(2).any(gap))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn word(text: &str, x0: f32, y: f32, line: u32) -> Placed {
        let x1 = x0 + 5.0 * text.chars().count() as f32;
        Placed { piece: Piece { text: text.to_owned(), x0, x1, y, size: 10.0, ..Piece::default() }, line }
    }

    fn rule(at: f32) -> Stroke {
        Stroke { at, from: 0.0, to: 300.0, edge: false }
    }

    /// A label of two lines with its figure set between them, then a plain row.
    #[test]
    fn a_figure_in_the_middle_of_its_row_is_put_to_its_label() {
        let mut words = vec![
            word("Property", 0.0, 12.0, 1),
            word("Result", 200.0, 12.0, 1),
            word("Whole", 0.0, 32.0, 2),
            word("92.5", 200.0, 38.0, 3),
            word("beads", 0.0, 44.0, 4),
            word("Iron", 0.0, 62.0, 5),
            word("600", 200.0, 62.0, 5),
        ];
        let found = tables(&[rule(20.0), rule(50.0), rule(70.0), rule(200.0)], &mut words);
        let rows: Vec<Vec<&str>> =
            found.iter().flat_map(|t| &t.rows).map(|r| r.cells.iter().map(|c| c.text.as_str()).collect()).collect();
        assert_eq!(rows, [vec!["Property", "Result"], vec!["Whole\nbeads", "92.5"], vec!["Iron", "600"]]);
        assert!(words.is_empty());
    }

    #[test]
    fn plain_rows_and_stacked_rows_stay_lines() {
        let mut plain = vec![
            word("Iron", 0.0, 32.0, 1),
            word("600", 200.0, 32.0, 1),
            word("Tin", 0.0, 62.0, 2),
            word("5", 200.0, 62.0, 2),
        ];
        assert!(tables(&[rule(20.0), rule(50.0), rule(70.0)], &mut plain).is_empty());
        let mut stacked = vec![
            word("Iron", 0.0, 32.0, 1),
            word("600", 200.0, 32.0, 1),
            word("Tin", 0.0, 44.0, 2),
            word("5", 200.0, 44.0, 2),
            word("Zinc", 0.0, 62.0, 3),
            word("7", 200.0, 62.0, 3),
        ];
        assert!(tables(&[rule(20.0), rule(50.0), rule(70.0), rule(90.0)], &mut stacked).is_empty());
    }
}
