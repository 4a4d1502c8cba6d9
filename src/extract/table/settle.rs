//! What the columns say together: which of several is the result, and whose figures they are.

use super::*;

/// Rows that give a fact for each column: "Sample ID | A-1 | A-2".
pub(super) fn is_attribute_row(row: &Row, columns: &[Column], lexicon: &Lexicon, style: &Style) -> bool {
    let Some(first) = row.cells.first() else { return false };
    let values: Vec<&Column> = columns.iter().filter(|c| c.holds == Holds::Value).collect();
    is_fact_label(first, lexicon, style)
        && row.cells.len() > 2
        && values.len() > 1
        && row.cells.iter().skip(1).filter(|c| values.iter().any(|v| c.overlap(v.span.x0, v.span.x1) > 0.0)).count()
            >= 2
}

pub(super) fn attribute_rows(rows: &[Row], columns: &mut [Column], desk: &Desk<'_>) {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let spans: Vec<Span> = columns.iter().map(|c| c.span).collect();
    for row in rows {
        let Some(first) = row.cells.first() else { continue };
        let enough = row.cells.len() > 2 || (row.table == Some(u32::MAX) && row.cells.len() == 2);
        let turned = row.table == Some(u32::MAX);
        if !is_fact_label(first, lexicon, style)
            || !enough
            || figure_row(row, lexicon, style)
            || (!turned && !attribute_like(row, lexicon, style))
            // "Unit" over the names of rows, once they are turned, is a column's head and no vessel.
            || (turned && (first.x0 > 0.0 || first.seen(lexicon, style).role.is_some()))
        {
            continue;
        }
        let Some(Target::Key(key)) = first.seen(lexicon, style).label.target.clone() else { continue };
        let key = if key == "reported_on" && fold(&first.text) != fold("report date") {
            "sampled_on".to_owned()
        } else {
            key
        };
        for cell in row.cells.iter().skip(1) {
            for at in bands::over(cell, &spans, 0.0) {
                let Some(column) = columns.get_mut(at) else { continue };
                if column.holds == Holds::Label {
                    continue;
                }
                // "Superior, media, inferior": among places in the bed the mean is the middle.
                let middle = fold(&cell.text) == "media"
                    && row.cells.iter().any(|c| c.seen(lexicon, style).label.position.is_some());
                if middle && column.facts.iter().all(|f| f.key != "position") {
                    column.facts.push(Fact {
                        key: "position".into(),
                        text: "middle".into(),
                        place: cell.place.clone(),
                        words: cell.words.clone(),
                        order: style.order(),
                        trust: Trust::Stated,
                    });
                    column.holds = Holds::Value;
                    column.mean = false;
                    continue;
                }
                if let Some(role) = cell.seen(lexicon, style).role
                    && role != Role::Result
                    && column.holds == Holds::Value
                {
                    column.named = true;
                    match role {
                        Role::Specification | Role::SpecificationLow | Role::SpecificationHigh => {
                            column.holds = Holds::Reference(role);
                        }
                        Role::Average => column.mean = true,
                        Role::Previous => column.previous = true,
                        Role::Unit => column.holds = Holds::Unit,
                        Role::Method => column.holds = Holds::Method,
                        Role::DetectionLimit => column.holds = Holds::Detection,
                        Role::Deviation => column.holds = Holds::Deviation,
                        other => column.holds = Holds::Other(other),
                    }
                    continue;
                }
                let label = &cell.seen(lexicon, style).label;
                if (label.has_context("new"))
                    && column.holds == Holds::Value
                    && matches!(key.as_str(), "sample_id" | "vessel" | "position")
                {
                    column.holds = Holds::Reference(Role::Specification);
                    column.named = true;
                    continue;
                }
                // "Softener 9 | 2024-05-21 | 2022-05-24"
                let dated = cell.seen(lexicon, style).date.is_some() && !key.ends_with("_on");
                let placed = key == "sample_id" && label.position.is_some() && label.unexplained.is_empty();
                let key = match () {
                    () if dated => "sampled_on".to_owned(),
                    () if placed => "position".to_owned(),
                    () => key.clone(),
                };
                if column.facts.iter().any(|f| f.key == key) {
                    continue;
                }
                let text = if key == "sample_id" { strip_sample_word(&cell.text, lexicon) } else { cell.text.clone() };
                column.facts.push(Fact {
                    key: key.clone(),
                    text,
                    place: cell.place.clone(),
                    words: cell.words.clone(),
                    order: style.order(),
                    trust: Trust::Stated,
                });
            }
        }
    }
}

/// "Outcome | Low | High": beside one column of results the ends of a range are its limits. "Upper | Lower" without
/// one are two places in the bed.
pub(super) fn limits_beside_result(columns: &mut [Column], lexicon: &Lexicon) {
    let end = |c: &Column| lexicon.end_of_range(&c.head_text).filter(|_| c.holds == Holds::Value && !c.is_result);
    let ends: Vec<Option<Role>> = columns.iter().map(end).collect();
    let both = [Role::SpecificationLow, Role::SpecificationHigh].iter().all(|role| ends.contains(&Some(*role)));
    // The one column left is the result, whatever it is called, unless it too is a place in the bed.
    let others: Vec<&Column> =
        columns.iter().zip(&ends).filter(|(c, e)| c.holds == Holds::Value && e.is_none()).map(|(c, _)| c).collect();
    let between = |f: &Fact| {
        let position = lexicon.understand(&f.text, &[]).position;
        position.is_some_and(|p| p != "core" && p != "composite")
    };
    let placed = |c: &&Column| c.facts.iter().any(|f| f.key == "position" && between(f));
    if !both || others.len() != 1 || others.iter().any(placed) {
        return;
    }
    for (column, end) in columns.iter_mut().zip(ends) {
        if let Some(role) = end {
            column.holds = Holds::Reference(role);
            column.facts.clear();
        }
    }
}

/// Where the heads leave open which of several columns is the result.
pub(super) fn settle(columns: &mut [Column], body: &[&Row], desk: &Desk<'_>) {
    let (lexicon, style) = (desk.lexicon, desk.style);
    limits_beside_result(columns, lexicon);
    for column in columns.iter_mut().filter(|c| !c.facts.is_empty() && c.holds == Holds::Value) {
        column.unsure = false;
        column.named = true;
    }
    // "Superior, media, inferior": among places in the bed the mean is the middle.
    let places = columns.iter().filter(|c| c.facts.iter().any(|f| f.key == "position")).count();
    for column in columns.iter_mut().filter(|c| c.mean && places >= 2 && fold(&c.head_text) == "media") {
        column.mean = false;
        column.unsure = false;
        column.facts.push(Fact { key: "position".into(), text: "middle".into(), ..Fact::default() });
    }
    // A mean beside several samples is no sample; beside replicates it is the result.
    let samples = columns.iter().filter(|c| c.holds == Holds::Value && !c.mean && !c.replicate).count();
    if samples > 0 {
        for column in columns.iter_mut().filter(|c| c.holds == Holds::Value && c.mean) {
            column.holds = Holds::Other(Role::Average);
        }
    }
    let has_result = columns.iter().any(|c| c.holds == Holds::Value && !c.unsure && !c.previous);
    let results = columns.iter().filter(|c| c.holds == Holds::Value && c.is_result).count();
    if results == 1 {
        // "k", "Charge": beside the one column headed as the result, a word that says nothing names no sample.
        for column in columns.iter_mut().filter(|c| c.holds == Holds::Value && !c.is_result) {
            let named = column.facts.iter().any(|f| f.key != "sample_id" || f.text.chars().any(|c| c.is_ascii_digit()));
            if !named && !column.previous && !column.mean && !column.replicate && !column.describes {
                column.holds = Holds::Other(Role::Rating);
            }
        }
    }
    if has_result {
        // Beside a named result, a column without a head is no sample.
        for column in columns.iter_mut().filter(|c| c.unsure) {
            column.holds = Holds::Other(Role::Rating);
        }
    }
    // Roles printed in the cells themselves: "min 1.9", "new 2.0".
    for column in columns.iter_mut().filter(|c| c.holds == Holds::Value && c.facts.is_empty()) {
        let cells: Vec<&Cell> = body
            .iter()
            .flat_map(|r| r.cells.iter().filter(|c| c.overlap(column.span.x0, column.span.x1) > 0.0))
            .collect();
        let bounded = cells
            .iter()
            .filter(|c| c.seen(lexicon, style).value.as_ref().is_some_and(|(v, _)| v.bound.is_some()))
            .count();
        if bounded > 0 && bounded * 2 > cells.len() && !column.named {
            column.holds = Holds::Reference(Role::Specification);
        }
    }
}

pub(super) fn open_samples(columns: &[Column], desk: &mut Desk<'_>) -> Vec<Option<usize>> {
    let values: Vec<usize> = columns
        .iter()
        .enumerate()
        .filter(|(_, c)| c.holds == Holds::Value && !c.mean && !c.replicate)
        .map(|(at, _)| at)
        .collect();
    let long = columns
        .iter()
        .any(|c| matches!(&c.holds, Holds::Fact(k) if crate::extract::scope::IDENTITY.contains(&k.as_str())));
    let alone = values.len() <= 1;
    let mut samples: Vec<Option<usize>> = vec![None; columns.len()];
    if long {
        return samples;
    }
    let named = values.iter().any(|&at| columns.get(at).is_some_and(|c| !c.facts.is_empty()));
    for &at in &values {
        let Some(column) = columns.get(at) else { continue };
        let mut facts = column.facts.clone();
        if alone && facts.is_empty() && !column.previous {
            // The sample that is open when the row is read: a heading between rows may change it.
            continue;
        }
        if !alone && facts.is_empty() && !column.previous && !column.describes && column.named && named {
            facts.push(Fact { key: "sample_id".into(), text: column.head_text.clone(), ..Fact::default() });
        }
        for fact in &facts {
            desk.ledger.set_aside(&fact.words, reason(&fact.key));
        }
        let previous = column.previous && !alone;
        let index = desk.scopes.sample_for(&facts, alone, previous);
        if let Some(slot) = samples.get_mut(at) {
            *slot = Some(index);
        }
    }
    samples
}
