//! What each column of a table holds, by its head and by its cells.

use super::*;

/// A row above the figures that names columns: no fact of its own, more than one cell or one that is a role.
pub(super) fn is_head_row(row: &Row, lexicon: &Lexicon, style: &Style) -> bool {
    let Some(first) = row.cells.first() else { return false };
    if row.cells.len() == 1 {
        let seen = first.seen(lexicon, style);
        return seen.role.is_some() && first.word_count() <= 4 && !first.colon || (seen.unit.is_some() && !first.colon);
    }
    let fact = bands::is_label(first, lexicon, style)
        && !first.seen(lexicon, style).label.target.as_ref().is_some_and(Target::is_figure)
        && (first.colon || row.cells.len() == 2);
    if fact && row.cells.iter().skip(1).all(|c| c.seen(lexicon, style).role.is_none()) {
        return false;
    }
    if is_pair_row(row, lexicon, style)
        || row.cells.iter().skip(1).any(|c| c.colon)
        || row
            .cells
            .iter()
            .any(|c| mentions::find(&c.text, lexicon).iter().any(|m| m.key == "report_number" || m.key == "resin"))
    {
        return false;
    }
    let values = row.cells.iter().filter(|c| {
        let seen = c.seen(lexicon, style);
        seen.value.as_ref().is_some_and(|(v, _)| v.unit.is_some() || v.qualifier != Qualifier::Equal)
    });
    // "pH 7.3": a word that nothing explains and its figure head no columns.
    let pair = match row.cells.as_slice() {
        [_, value] => {
            value.seen(lexicon, style).value.is_some() && crate::value::date::parse_date(&value.text).is_none()
        }
        _ => false,
    };
    values.count() == 0 && !pair
}

/// "Report | WT/25/66 | Sampled | 2025-06-10": facts, each behind its own label. An export may put the kind of the line
/// before them.
pub fn is_pair_row(row: &Row, lexicon: &Lexicon, style: &Style) -> bool {
    let kind = row.cells.first().is_some_and(|c| c.text.chars().count() == 1 && c.letters() == 1);
    let cells = row.cells.get(usize::from(kind && row.cells.len() % 2 == 1)..).unwrap_or_default();
    let names_fact = |cell: &Cell| {
        let seen = cell.seen(lexicon, style);
        matches!(&seen.label.target, Some(Target::Key(_))) && seen.label.is_clear()
    };
    // The same label twice stands over two samples side by side.
    let mut names: Vec<&Target> = Vec::new();
    cells.len() >= 4
        && cells.len() % 2 == 0
        && cells.chunks_exact(2).all(|pair| {
            let [name, fact] = pair else { return false };
            let Some(target) = name.seen(lexicon, style).label.target.as_ref() else { return false };
            let new = !names.contains(&target);
            names.push(target);
            new && names_fact(name) && fact.seen(lexicon, style).role.is_none() && !names_fact(fact)
        })
}

pub(super) fn describe(spans: &[Span], heads: &[&Row], body: &[&Row], desk: &Desk<'_>) -> Vec<Column> {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let plain: Vec<Row> = heads.iter().filter(|r| !attribute_like(r, lexicon, style)).map(|r| (*r).clone()).collect();
    let joined = join_heads(&plain, spans);
    let label_at = label_column(spans, body, lexicon, style);
    spans
        .iter()
        .enumerate()
        .zip(joined)
        .map(|((at, &span), head)| {
            let mut column = Column {
                span,
                holds: Holds::Words,
                head: None,
                head_text: head.text.clone(),
                facts: Vec::new(),
                previous: false,
                mean: false,
                replicate: false,
                named: false,
                unsure: false,
                is_result: false,
                describes: false,
            };
            if Some(at) == label_at {
                column.holds = Holds::Label;
                return column;
            }
            name_column(&mut column, &head, body, desk);
            column
        })
        .collect()
}

/// A row that begins with the label of a fact and goes on with the facts, rather than with the names of columns.
pub(super) fn attribute_like(row: &Row, lexicon: &Lexicon, style: &Style) -> bool {
    let Some(first) = row.cells.first() else { return false };
    if !is_fact_label(first, lexicon, style) || row.cells.len() < 3 {
        return false;
    }
    let names = row.cells.iter().skip(1).filter(|c| {
        let seen = c.seen(lexicon, style);
        let key = matches!(&seen.label.target, Some(Target::Key(_))) && seen.label.is_clear();
        key || matches!(seen.role, Some(Role::Unit | Role::Parameter | Role::Result | Role::Method | Role::Rating))
    });
    names.count() * 2 < row.cells.len() - 1
}

pub(super) fn is_fact_label(cell: &Cell, lexicon: &Lexicon, style: &Style) -> bool {
    matches!(&cell.seen(lexicon, style).label.target, Some(Target::Key(_)))
        && (cell.colon || cell.seen(lexicon, style).label.is_clear())
}

pub(super) fn label_column(spans: &[Span], body: &[&Row], lexicon: &Lexicon, style: &Style) -> Option<usize> {
    let mut counts = vec![0usize; spans.len()];
    for row in body {
        if let Some(cell) = row
            .cells
            .iter()
            .find(|c| bands::is_figure_label(c, lexicon, style))
            .or_else(|| row.grouped.and_then(|at| row.cells.get(at)))
            && let Some(at) = bands::over(cell, spans, 0.0).first()
            && let Some(count) = counts.get_mut(*at)
        {
            *count += 1;
        }
    }
    counts.iter().enumerate().max_by_key(|(at, n)| (**n, usize::MAX - at)).filter(|(_, n)| **n > 0).map(|(at, _)| at)
}

/// What the head and the cells of a column say that it holds.
pub(super) fn name_column(column: &mut Column, head: &Head, body: &[&Row], desk: &Desk<'_>) {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let cells: Vec<&Cell> = body
        .iter()
        .flat_map(|r| r.cells.iter().filter(|c| bands::over(c, std::slice::from_ref(&column.span), 0.0).len() == 1))
        .collect();
    let count = |f: &dyn Fn(&Cell) -> bool| cells.iter().filter(|c| f(c)).count();
    let values = count(&|c| is_figure(c, lexicon, style));
    let units = count(&|c| c.seen(lexicon, style).unit.is_some());
    let methods = count(&|c| c.seen(lexicon, style).method);
    let filled = count(&|c| !c.seen(lexicon, style).blank);
    let text = head.text.trim();
    column.named = !text.is_empty();
    let mut label = lexicon.understand(text, &[]);
    // A head that is a unit and nothing else.
    if label.unit.is_none()
        && let Some(unit) = head.cells.iter().find_map(|c| Unit::parse(&c.text)).or_else(|| Unit::parse(text))
    {
        label.basis = label.basis.take().or_else(|| {
            unit.matter.map(|m| match m {
                Matter::Dry => "dry_mass".to_owned(),
                Matter::Wet => "wet_mass".to_owned(),
                Matter::Resin(_) => "volume".to_owned(),
            })
        });
        label.unit = Some(unit);
    }
    match text.to_lowercase().as_str() {
        "in" | "inlet" => label.contexts.push("feed".to_owned()),
        "out" | "outlet" => label.contexts.push("outlet".to_owned()),
        _ => {}
    }
    let bases = count(&|c| names_basis(&c.text, lexicon));
    // "count", "drained" in a column of bases belong to properties that have none.
    if bases > 0 && (bases == filled || bases * 2 > filled && values == 0 && units == 0 && filled >= 4) {
        column.holds = Holds::Basis;
        return;
    }
    // "R", "F", "H" down the side of an export are kinds of lines, not degrees.
    let kinds = count(&|c| c.text.trim().chars().count() == 1 && c.text.chars().all(char::is_uppercase));
    if kinds > 1 && kinds == filled && text.is_empty() {
        column.holds = Holds::Words;
        return;
    }
    if units > 0 && units * 2 > filled && values <= filled / 3 {
        column.holds = Holds::Unit;
        return;
    }
    let signs = count(&|c| matches!(c.text.trim(), "=" | "<" | ">" | "~" | "≤" | "≥" | "<=" | ">="));
    if signs > 0 && signs == cells.len() {
        column.holds = Holds::Sign;
        return;
    }
    if methods > 0 && methods * 2 > filled {
        column.holds = Holds::Method;
        return;
    }
    if text.is_empty() {
        column.holds = by_content(&cells, values, filled, lexicon, style);
        column.unsure = column.holds == Holds::Value;
        return;
    }
    // A head of several lines: the role may stand in one of them ("Result" over "mg/kg", "2024" over "Result").
    let roles: Vec<Role> = head.cells.iter().filter_map(|c| c.seen(lexicon, style).role).collect();
    let role = lexicon.role(text).or_else(|| {
        let strong = roles.iter().copied().find(|r| !matches!(r, Role::Result | Role::Average));
        strong.or_else(|| roles.first().copied())
    });
    column.previous = label.has_context("previous") || role == Some(Role::Previous);
    let new = label.has_context("new") || label.has_context("startup");
    column.holds = match role {
        Some(Role::Result | Role::Previous) => Holds::Value,
        Some(Role::Average) => {
            column.mean = true;
            Holds::Value
        }
        Some(Role::Replicate) => {
            column.replicate = true;
            Holds::Value
        }
        Some(role @ (Role::Specification | Role::SpecificationLow | Role::SpecificationHigh)) => Holds::Reference(role),
        Some(Role::Unit) if units > 0 || values == 0 => Holds::Unit,
        Some(Role::Method) => Holds::Method,
        Some(Role::DetectionLimit) => Holds::Detection,
        Some(Role::Deviation) => Holds::Deviation,
        Some(Role::Parameter) if values == 0 => Holds::Words,
        // "Metric" over figures is no name of a property; "Item" over 1, 2, 3 counts them.
        Some(Role::Parameter) if fold(text) == "metric" => Holds::Value,
        Some(role) => Holds::Other(role),
        None if new || names_limits(text, &label, lexicon) => Holds::Reference(Role::Specification),
        None => {
            if matches!(&label.target, Some(Target::Key(key)) if key == "remark") {
                Holds::Other(Role::Rating)
            } else if let Some(Target::Key(key)) = &label.target
                && (values == 0 || names_by_number(key, &cells, lexicon, style))
                && label.is_clear()
            {
                Holds::Fact(key.clone())
            } else if values > 0 || filled == 0 {
                Holds::Value
            } else {
                by_content(&cells, values, filled, lexicon, style)
            }
        }
    };
    if column.holds == Holds::Value {
        column.is_result = matches!(role, Some(Role::Result));
        column.describes = column.is_result || only_describes(&label, lexicon);
        if !column.describes || matches!(role, Some(Role::Result)) {
            column.facts = head_facts(head, desk);
        }
    }
    column.head = Some(label);
}

/// Samples named by numbers: whole ones, each on several rows.
pub(super) fn names_by_number(key: &str, cells: &[&Cell], lexicon: &Lexicon, style: &Style) -> bool {
    let whole = |c: &&Cell| {
        c.text.chars().all(|c| c.is_ascii_digit())
            && c.seen(lexicon, style).value.as_ref().is_some_and(|(v, _)| v.unit.is_none())
    };
    let mut names: Vec<&str> = cells.iter().map(|c| c.text.as_str()).collect();
    let all = names.len();
    names.sort_unstable();
    names.dedup();
    matches!(key, "sample_id" | "vessel" | "report_number")
        && cells.iter().all(whole)
        && (names.len() < all || all == 1)
}

/// "dry", "Trockenmasse", "wet volume": a basis and nothing else.
pub(super) fn names_basis(text: &str, lexicon: &Lexicon) -> bool {
    let label = lexicon.understand(text, &[]);
    let basis = label.basis.is_some() && label.target.is_none() || of_volume(&label, lexicon);
    basis && label.unexplained.is_empty() && !text.contains(['/', '%'])
}

/// "Harzvolumen" in a column of bases.
pub(super) fn of_volume(label: &Label, lexicon: &Lexicon) -> bool {
    label.facets.len() == 1 && lexicon.facet_id("bed_volume").is_some_and(|v| label.facets.contains(&v))
}

/// "on the dry resin": a remark that is a basis and nothing else.
pub(super) fn says_basis(cell: &Cell, lexicon: &Lexicon) -> bool {
    let label = lexicon.understand(&cell.text, &[]);
    label.basis.is_some() && label.unexplained.is_empty() && label.loose_numbers.is_empty()
}

/// "Supplier's specification", "Plant limits": a word of the head says it, whatever stands beside it.
pub(super) fn names_limits(text: &str, label: &Label, lexicon: &Lexicon) -> bool {
    !label.target.as_ref().is_some_and(Target::is_figure)
        && text.split_whitespace().any(|word| {
            matches!(lexicon.role(word), Some(Role::Specification | Role::SpecificationLow | Role::SpecificationHigh))
        })
}

pub(super) fn by_content(cells: &[&Cell], values: usize, filled: usize, lexicon: &Lexicon, style: &Style) -> Holds {
    if values == 0 {
        return Holds::Words;
    }
    let bounded = cells
        .iter()
        .filter(|c| {
            c.seen(lexicon, style).value.as_ref().is_some_and(|(v, _)| {
                v.bound.is_some()
                    || v.qualifier == Qualifier::Range
                    || (v.qualifier != Qualifier::Equal && !v.not_detected)
            })
        })
        .count();
    if bounded * 2 > values && filled > 1 { Holds::Reference(Role::Specification) } else { Holds::Value }
}

/// "Dry basis", "Na form", "metric", "In": they say of what the figures are, and name no sample.
pub(super) fn only_describes(label: &Label, lexicon: &Lexicon) -> bool {
    let described =
        |kind: FacetKind| matches!(kind, FacetKind::Basis | FacetKind::Form | FacetKind::As | FacetKind::Context);
    label.unexplained.is_empty()
        && label.loose_numbers.is_empty()
        && label.facets.iter().all(|&id| lexicon.facet(id).is_some_and(|f| described(f.kind)))
}
