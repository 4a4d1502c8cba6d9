//! The figures of one row, with what stands beside them.

use super::*;

/// Reads the figures of one row.
pub(super) fn figures(
    row: &Row,
    columns: &[Column],
    samples: &[Option<usize>],
    group: &[FacetId],
    desk: &mut Desk<'_>,
) {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let spans: Vec<Span> = columns.iter().map(|c| c.span).collect();
    let mut section = desk.section.clone();
    section.extend(group);
    // Cells to the left of the label in the same row are its group: "Metals | Iron".
    let labels: Vec<usize> = (0..row.cells.len())
        .filter(|&at| row.cells.get(at).is_some_and(|c| bands::is_figure_label(c, lexicon, style)))
        .collect();
    let mut starts = labels.clone();
    if let (true, Some(at)) = (starts.is_empty(), row.grouped) {
        starts.push(at);
    }
    if starts.is_empty() {
        // "total" under "Capacity": a label only with its group.
        let first = row.cells.iter().position(|c| {
            let seen = c.seen(lexicon, style);
            seen.value.is_none() && seen.date.is_none() && c.letters() > 1
        });
        match first {
            Some(at) => starts.push(at),
            None => return,
        }
    }
    for (number, &at) in starts.iter().enumerate() {
        let end = starts.get(number + 1).copied().unwrap_or(row.cells.len());
        let Some(cell) = row.cells.get(at) else { continue };
        let mut own_section = section.clone();
        let names = |c: &Cell| {
            bands::over(c, &spans, 0.0)
                .first()
                .and_then(|&at| columns.get(at))
                .is_some_and(|c| matches!(c.holds, Holds::Fact(_)))
        };
        for before in row.cells.iter().take(at).filter(|c| !is_figure(c, lexicon, style) && !names(c)) {
            own_section.extend(lexicon.heading_facets(&before.text));
        }
        let raised = row.cells.iter().flat_map(|c| &c.marks).map(|m| plain_mark(m));
        for mark in row.cells.iter().flat_map(|c| marks(&c.text)).chain(raised) {
            own_section.extend(desk.footnotes.get(&mark).into_iter().flatten());
        }
        if composite(row, at, end, cell, &own_section, columns, samples, desk) {
            continue;
        }
        let mut label = lexicon.understand(&cell.text, &own_section);
        if feed_against_unit(&label, row, lexicon, style) {
            label = lexicon.understand(&cell.text, group);
        }
        if label.target.is_none() {
            label = by_substance(label, cell, row, &own_section, lexicon, style);
        }
        let Some(target) = label.target.clone() else { continue };
        if !target.is_figure() {
            continue;
        }
        let mut around = Around::default();
        let mut results: Vec<(&Cell, Option<usize>)> = Vec::new();
        let right: Vec<&Cell> = row.cells.iter().take(end).skip(at + 1).collect();
        let mut cells = right.clone();
        if number == 0 {
            cells.extend(row.cells.iter().take(at));
        }
        for cell in cells {
            let column = bands::over(cell, &spans, 0.0).first().copied();
            let holds = column.and_then(|c| columns.get(c)).map(|c| c.holds.clone());
            // "Moisture 50.2 %   Density 822 g/L": behind a second label the columns of the table do not hold.
            let apart = starts.len() > 1 && matches!(holds, Some(Holds::Other(_) | Holds::Words | Holds::Label));
            let (column, holds) = if apart { (None, None) } else { (column, holds) };
            place_cell(
                cell,
                column,
                holds,
                &mut around,
                &mut results,
                columns,
                right.iter().any(|c| std::ptr::eq(*c, cell)),
                desk,
            );
        }
        let takes = |basis: &String| match &target {
            Target::Property(id) => lexicon.property(id).is_none_or(|p| p.units.contains_key(basis)),
            _ => true,
        };
        if label.basis.is_none() {
            label.basis = around.basis.clone().filter(takes);
        }
        let row_facts = row_facts(row, columns, &spans, desk);
        emit(row, cell, &label, around, results, columns, samples, row_facts, desk);
    }
}

/// "92 / 6 / 2 %": figures with a stroke between them; the stroke of "mg/L" is a unit's.
pub(super) fn is_figure_list(text: &str) -> bool {
    static LIST: OnceLock<Option<Regex>> = OnceLock::new();
    LIST.get_or_init(|| Regex::new(r"^\s*[<>~]?\s*\d[\d.,]*\s*%?(?:\s*/\s*[<>~]?\s*\d[\d.,]*\s*%?)+(?:\s*\D*)?$").ok())
        .as_ref()
        .is_some_and(|p| p.is_match(text))
}

/// "Beads whole / cracked / broken: 92 / 6 / 2 %": several labels and as many figures in one cell each.
#[allow(clippy::too_many_arguments)]
pub(super) fn composite(
    row: &Row,
    at: usize,
    end: usize,
    cell: &Cell,
    section: &[FacetId],
    columns: &[Column],
    samples: &[Option<usize>],
    desk: &mut Desk<'_>,
) -> bool {
    let lexicon = desk.lexicon;
    let labels: Vec<&str> = cell.text.split('/').map(str::trim).filter(|t| !t.is_empty()).collect();
    if labels.len() < 2 {
        return false;
    }
    let Some(value_cell) = row.cells.iter().take(end).skip(at + 1).find(|c| is_figure_list(&c.text)) else {
        return false;
    };
    let figures: Vec<&str> =
        value_cell.text.splitn(labels.len(), '/').map(str::trim).filter(|t| !t.is_empty()).collect();
    if figures.len() != labels.len() {
        return false;
    }
    let mut group = section.to_vec();
    group.extend(lexicon.heading_facets(labels.first().copied().unwrap_or_default()));
    let understood: Vec<Label> = labels.iter().map(|t| lexicon.understand(t, &group)).collect();
    let distinct: std::collections::BTreeSet<_> = understood.iter().filter_map(|l| l.target.clone()).collect();
    if distinct.len() != labels.len() || !distinct.iter().all(Target::is_figure) {
        return false;
    }
    let unit = desk.style.value(figures.last().copied().unwrap_or_default()).and_then(|(v, _)| v.unit);
    let sum: f64 = figures.iter().filter_map(|t| desk.style.value(t)).filter_map(|(v, _)| v.value).sum();
    // Shares of one count that add up to the whole need no sign to be percentages.
    let shares =
        figures.len() >= 2 && (99.0..=101.0).contains(&sum) && distinct.iter().all(|t| t.id().ends_with("_beads"));
    let beside = || {
        row.cells.iter().skip_while(|c| c.x0 <= value_cell.x0).find_map(|c| c.seen(lexicon, desk.style).unit.clone())
    };
    let unit = unit.or_else(|| if shares { Unit::parse("%") } else { beside() });
    let column = bands::over(value_cell, &columns.iter().map(|c| c.span).collect::<Vec<_>>(), 0.0).first().copied();
    let sample = column.and_then(|c| samples.get(c).copied().flatten()).unwrap_or_else(|| desk.scopes.open_index());
    for (label, text) in understood.into_iter().zip(figures) {
        let Some((mut value, other_style)) = desk.style.value(text) else { continue };
        if value.unit.is_none() {
            value.unit.clone_from(&unit);
        }
        let figure = Figure {
            label_text: cell.text.clone(),
            value,
            other_style,
            head: None,
            unit_column: None,
            section_unit: None,
            references: Vec::new(),
            detection_limit: None,
            deviation: None,
            method: None,
            as_written: value_cell.text.clone(),
            place: value_cell.place.clone(),
            doubts: recognized(value_cell, label.target.as_ref()).into_iter().collect(),
            label,
            is_mean: false,
            is_replicate: false,
            in_column: false,
        };
        if let Some(draft) = desk.scopes.drafts.get_mut(sample) {
            draft.figures.push(figure);
        }
    }
    desk.ledger.read(&value_cell.words);
    true
}

/// Under a heading for the feed, a figure per kilogram is still one of the resin.
pub(super) fn feed_against_unit(label: &Label, row: &Row, lexicon: &Lexicon, style: &Style) -> bool {
    if !matches!(&label.target, Some(Target::Field(id)) if id.starts_with("feed_")) || label.unit.is_some() {
        return false;
    }
    row.cells.iter().any(|c| {
        let seen = c.seen(lexicon, style);
        let unit = seen.unit.as_ref().or(seen.value.as_ref().and_then(|(v, _)| v.unit.as_ref()));
        unit.is_some_and(|u| u.matter.is_some() || u.text.to_lowercase().contains("kg"))
    })
}

/// "Organic matter: 1,650 mg KMnO4 per litre of resin": the unit says which test it was.
pub(super) fn by_substance(
    label: Label,
    cell: &Cell,
    row: &Row,
    section: &[FacetId],
    lexicon: &Lexicon,
    style: &Style,
) -> Label {
    let organics = lexicon.facet_id("organics").is_some_and(|o| label.facets.contains(&o));
    if !organics || !label.unexplained.is_empty() {
        return label;
    }
    let substance = row.cells.iter().find_map(|c| {
        let seen = c.seen(lexicon, style);
        let unit = seen.unit.as_ref().or(seen.value.as_ref().and_then(|(v, _)| v.unit.as_ref()));
        unit.and_then(|u| u.substance.clone())
    });
    let test = match substance.as_deref() {
        Some("KMnO4") => "permanganate",
        Some("O2") => "COD",
        Some("C") => "TOC",
        _ => return label,
    };
    let named = lexicon.understand(&format!("{} {test}", cell.text), section);
    if named.target.is_some() { named } else { label }
}

#[derive(Default)]
pub(super) struct Around {
    pub(super) references: Vec<ReferenceText>,
    pub(super) units: Vec<(f32, String, Option<Unit>)>,
    pub(super) method: Option<String>,
    pub(super) detection: Option<crate::value::Value>,
    pub(super) deviation: Option<crate::value::Value>,
    pub(super) basis: Option<String>,
    pub(super) sign: Option<String>,
}

#[allow(clippy::too_many_arguments)]
pub(super) fn place_cell<'c>(
    cell: &'c Cell,
    column: Option<usize>,
    holds: Option<Holds>,
    around: &mut Around,
    results: &mut Vec<(&'c Cell, Option<usize>)>,
    columns: &[Column],
    right: bool,
    desk: &mut Desk<'_>,
) {
    let (lexicon, style) = (desk.lexicon, desk.style);
    let seen = cell.seen(lexicon, style);
    let value = seen.value.as_ref().map(|(v, _)| v.clone());
    if matches!(cell.text.trim(), "=" | "<" | ">" | "~" | "≤" | "≥" | "<=" | ">=") {
        around.sign = Some(cell.text.trim().to_owned());
        return;
    }
    if seen.unit.is_some() && !(matches!(holds, Some(Holds::Value)) && value.is_some() || holds == Some(Holds::Basis)) {
        // The raised 3 of ft³ is no number of its own.
        desk.ledger.set_aside(&cell.words, "label");
        around.units.push((cell.x0, cell.text.clone(), seen.unit.clone()));
        return;
    }
    match holds {
        Some(Holds::Reference(role)) => {
            desk.ledger.set_aside(&cell.words, "limit");
            around.references.push(ReferenceText { role, text: cell.text.clone(), value });
        }
        Some(Holds::Unit) => {
            around.units.push((cell.x0, cell.text.clone(), seen.unit.clone()));
        }
        Some(Holds::Method) => {
            desk.ledger.set_aside(&cell.words, "method");
            around.method.get_or_insert(cell.text.clone());
        }
        Some(Holds::Detection) => {
            desk.ledger.set_aside(&cell.words, "detection-limit");
            around.detection = value;
        }
        Some(Holds::Deviation) => {
            desk.ledger.read(&cell.words);
            around.deviation = value;
        }
        Some(Holds::Other(Role::Rating) | Holds::Words) if value.is_none() && says_basis(cell, lexicon) => {
            around.basis = lexicon.understand(&cell.text, &[]).basis;
        }
        Some(Holds::Other(role)) => desk.ledger.set_aside(
            &cell.words,
            match role {
                Role::PercentOfNew => "percent-of-new",
                Role::Change => "change",
                Role::Count => "count",
                Role::Rating => "rating",
                _ => "other-column",
            },
        ),
        Some(Holds::Fact(_)) => {}
        Some(Holds::Basis) => {
            let label = lexicon.understand(&cell.text, &[]);
            let volume = of_volume(&label, lexicon).then(|| "volume".to_owned());
            around.basis = label.basis.or(volume);
        }
        Some(Holds::Sign) => around.sign = Some(cell.text.trim().to_owned()),
        Some(Holds::Label) | None if seen.method => {
            desk.ledger.set_aside(&cell.words, "method");
            around.method.get_or_insert(cell.text.clone());
        }
        Some(Holds::Words | Holds::Label) if !right => {}
        _ => {
            if seen.method {
                desk.ledger.set_aside(&cell.words, "method");
                around.method.get_or_insert(cell.text.clone());
                return;
            }
            if !right && !matches!(holds, Some(Holds::Value)) {
                return;
            }
            let bounded = value.as_ref().is_some_and(|v| v.bound.is_some());
            let unnamed = column.and_then(|c| columns.get(c)).is_none_or(|c| !c.named && c.facts.is_empty());
            if bounded && unnamed && !results.is_empty() {
                desk.ledger.set_aside(&cell.words, "limit");
                around.references.push(ReferenceText { role: Role::Specification, text: cell.text.clone(), value });
                return;
            }
            if value.is_none() && reference_words(cell, around, desk) {
                return;
            }
            if !seen.blank {
                results.push((cell, column));
            }
        }
    }
}

/// "(new: 2.0)", "spec. 45-50": a reference that says so itself.
pub(super) fn reference_words(cell: &Cell, around: &mut Around, desk: &mut Desk<'_>) -> bool {
    let Some(split) = prose::figures_of_cell(&cell.text, desk.lexicon, desk.style) else { return false };
    if split.result.is_some() || split.references.is_empty() {
        return false;
    }
    desk.ledger.set_aside(&cell.words, "limit");
    around.references.extend(split.references);
    true
}

/// Facts that stand in the row itself, in a table with one row for each figure.
pub(super) fn row_facts(row: &Row, columns: &[Column], spans: &[Span], desk: &mut Desk<'_>) -> Vec<Fact> {
    let mut facts = Vec::new();
    for cell in &row.cells {
        let Some(at) = bands::over(cell, spans, 0.0).first().copied() else { continue };
        let Some(Column { holds: Holds::Fact(key), .. }) = columns.get(at) else { continue };
        let mut key = if key == "reported_on" { "sampled_on".to_owned() } else { key.clone() };
        let label = desk.lexicon.understand(&cell.text, &[]);
        let vessel = desk.lexicon.facet_id("vessel").is_some_and(|v| label.facets.contains(&v));
        if matches!(key.as_str(), "position" | "site" | "sample_id") && (vessel || label.position.is_some()) {
            // "Softener North - core", "AB-2 / middle": a name and a place in one.
            let named = name_facts(cell, &cell.text, desk);
            if !named.is_empty() && (key != "sample_id" || named.len() > 1) {
                desk.ledger.set_aside(&cell.words, reason(&key));
                facts.extend(named);
                continue;
            }
            if vessel {
                key = "vessel".to_owned();
            }
        }
        desk.ledger.set_aside(&cell.words, reason(&key));
        facts.push(Fact {
            key,
            text: cell.text.clone(),
            place: cell.place.clone(),
            words: cell.words.clone(),
            order: desk.style.order(),
            trust: Trust::Stated,
        });
    }
    facts
}

#[allow(clippy::too_many_arguments)]
pub(super) fn emit(
    row: &Row,
    label_cell: &Cell,
    label: &Label,
    around: Around,
    results: Vec<(&Cell, Option<usize>)>,
    columns: &[Column],
    samples: &[Option<usize>],
    row_facts: Vec<Fact>,
    desk: &mut Desk<'_>,
) {
    let identity: Vec<Fact> = row_facts
        .iter()
        .filter(|f| crate::extract::scope::IDENTITY.contains(&f.key.as_str()) || f.key == "sampled_on")
        .cloned()
        .collect();
    let named = |at: Option<usize>| at.and_then(|c| columns.get(c)).is_some_and(|c| !c.unsure);
    let unsure: Vec<&Cell> = results.iter().filter(|(_, at)| !named(*at)).map(|(c, _)| *c).collect();
    for &(cell, at) in &results {
        let column = at.and_then(|c| columns.get(c));
        let first_unsure = unsure.first().is_some_and(|c| std::ptr::eq(*c, cell));
        if !named(at) && !first_unsure {
            continue;
        }
        let Some(mut figure) = figure_of(cell, label, label_cell, &around, desk) else { continue };
        if !named(at) && unsure.len() > 1 {
            let others: Vec<String> = unsure.iter().map(|c| c.text.clone()).collect();
            let others: Vec<String> =
                others.into_iter().filter(|t| desk.style.value(t).is_some_and(|(v, _)| v.value.is_some())).collect();
            if others.len() > 1 {
                figure.doubts.push(
                    Doubt::new(
                        "ambiguous-column",
                        label.target.as_ref().map(Target::id),
                        "Several figures stand in this row and no head says which is the result.",
                        &cell.place,
                    )
                    .with_alternatives(others),
                );
            }
        }
        if let Some(head) = column.and_then(|c| c.head.as_ref())
            && (head.has_context("feed") || head.has_context("outlet"))
        {
            let context: Vec<FacetId> = head.contexts.iter().filter_map(|c| desk.lexicon.facet_id(c)).collect();
            let again = desk.lexicon.understand(&label_cell.text, &context);
            if again.target.as_ref().is_none_or(|t| !t.is_figure()) {
                continue;
            }
            figure.label = again;
        }
        if let Some(column) = column {
            figure.head.clone_from(&column.head);
            figure.in_column = column.named || !column.facts.is_empty();
            per_head(&mut figure);
            figure.is_mean = column.mean;
            figure.is_replicate = column.replicate;
        }
        let sample = if identity.is_empty() {
            at.and_then(|c| samples.get(c).copied().flatten())
        } else {
            let index = desk.scopes.sample_for(&identity, false, false);
            if let Some(draft) = desk.scopes.drafts.get_mut(index) {
                for fact in &row_facts {
                    draft.learn(fact.clone());
                }
            }
            Some(index)
        };
        let sample = sample.unwrap_or_else(|| desk.scopes.open_index());
        desk.ledger.read(&cell.words);
        desk.ledger.set_aside(&label_cell.words, "label");
        if let Some(draft) = desk.scopes.drafts.get_mut(sample) {
            let (low, high) = draft.lines.unwrap_or((row.line, row.line));
            draft.lines = Some((low.min(row.line), high.max(row.line)));
            draft.figures.push(figure);
        }
    }
}

/// "eq" in the unit column under "per litre" or "per kg dry resin": head and column make the unit together.
pub(super) fn per_head(figure: &mut Figure) {
    let per = match figure.head.as_ref().and_then(|h| h.basis.as_deref()) {
        Some("volume") => "L",
        Some("dry_mass" | "wet_mass") => "kg",
        _ => return,
    };
    let Some((text, Some(unit))) = &figure.unit_column else { return };
    let d = &unit.dimension;
    let bare = d.length == 0 && d.time == 0 && d.temperature == 0 && d.bead == 0 && d.amount + d.mass == 1;
    if bare
        && unit.matter.is_none()
        && let Some(whole) = Unit::parse(&format!("{text}/{per}"))
    {
        figure.unit_column = Some((format!("{text}/{per}"), Some(whole)));
    }
}

/// The doubt on what character recognition read.
pub fn recognized(cell: &Cell, target: Option<&Target>) -> Option<Doubt> {
    let confidence = cell.recognized?;
    let text = format!("Read by character recognition, confidence {:.0} %.", confidence * 100.0);
    Some(Doubt::new("recognized-text", target.map(Target::id), text, &cell.place))
}

pub(super) fn unit_distance(cell: &Cell, x: f32) -> f32 {
    if x >= cell.x0 { x - cell.x0 } else { 1000.0 + cell.x0 - x }
}

/// The figure that a cell holds.
pub(super) fn figure_of(
    cell: &Cell,
    label: &Label,
    label_cell: &Cell,
    around: &Around,
    desk: &mut Desk<'_>,
) -> Option<Figure> {
    let seen = cell.seen(desk.lexicon, desk.style).clone();
    let mut references = around.references.clone();
    let mut doubts = Vec::new();
    let mut label = label.clone();
    let (mut value, other_style) = match seen.value {
        Some(pair) => pair,
        None => {
            let split = prose::figures_of_cell(&cell.text, desk.lexicon, desk.style)?;
            references.extend(split.references);
            if label.basis.is_none() {
                label.basis = desk.lexicon.understand(&split.words, &[]).basis;
            }
            let (value, other) = split.result?;
            if !split.leftover.is_empty() {
                doubts.push(
                    Doubt::new(
                        "more-than-one-figure",
                        label.target.as_ref().map(Target::id),
                        format!("\"{}\" holds more than one figure.", cell.text),
                        &cell.place,
                    )
                    .with_alternatives(split.leftover),
                );
            }
            (value, other)
        }
    };
    match around.sign.as_deref() {
        Some("<" | "≤" | "<=") if value.qualifier == Qualifier::Equal => value.qualifier = Qualifier::Below,
        Some(">" | "≥" | ">=") if value.qualifier == Qualifier::Equal => value.qualifier = Qualifier::Above,
        Some("~") if value.qualifier == Qualifier::Equal => value.qualifier = Qualifier::About,
        _ => {}
    }
    doubts.extend(recognized(cell, label.target.as_ref()));
    // Between hard borders, or beside a unit of its own, a blank can only be one between thousands.
    let bordered = cell.place.cell.is_some() || cell.place.column.is_some() || cell.hard;
    if value.blank_grouped && !bordered && desk.style.decimal() != Some(crate::value::Decimal::Comma) {
        doubts.push(Doubt::new(
            "blank-grouped",
            label.target.as_ref().map(Target::id),
            format!("\"{}\" is read as one number; it may be two.", cell.text),
            &cell.place,
        ));
    }
    // Of several units the one beside the figure, its right side first.
    let own_unit = around
        .units
        .iter()
        .min_by(|a, b| unit_distance(cell, a.0).total_cmp(&unit_distance(cell, b.0)))
        .map(|(_, text, unit)| (text.clone(), unit.clone()));
    let mut as_written = cell.text.clone();
    if value.unit.is_none() {
        let unit = own_unit.as_ref().map(|u| u.0.clone()).or_else(|| label.unit.as_ref().map(|u| u.text.clone()));
        if let Some(unit) = unit {
            as_written = format!("{as_written} {unit}");
        }
    }
    let method = around.method.clone().or_else(|| label.method.clone());
    Some(Figure {
        label,
        label_text: label_cell.text.clone(),
        value,
        other_style,
        head: None,
        unit_column: own_unit,
        section_unit: desk.section_unit.clone(),
        references,
        detection_limit: around.detection.clone(),
        deviation: around.deviation.clone(),
        method,
        as_written,
        place: cell.place.clone(),
        doubts,
        is_mean: false,
        is_replicate: false,
        in_column: false,
    })
}
