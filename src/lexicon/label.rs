//! Labels and column heads as sets of facets.
//!
//! A label is understood when its facets are one of the sets that a property, bed quantity or sample fact lists in
//! the grammar, and no word of it is left over. What is left over is handed on, so that a doubt can name it.

use super::{Facet, FacetId, FacetKind, Lexicon, Phrases, words};
use crate::quantity::{Matter, Share, Unit, UnitKind};
use crate::value::{self, Decimal};
use regex::Regex;
use std::collections::BTreeSet;
use std::sync::OnceLock;

/// What a label stands for.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Target {
    /// A property of the resin.
    Property(String),
    /// A quantity of the bed or its water.
    Field(String),
    /// A fact about the sample.
    Key(String),
}

impl Target {
    /// The permanent id.
    pub fn id(&self) -> &str {
        match self {
            Self::Property(id) | Self::Field(id) | Self::Key(id) => id,
        }
    }

    /// Whether it is a figure: a property or a bed quantity.
    pub fn is_figure(&self) -> bool {
        !matches!(self, Self::Key(_))
    }
}

/// A sieve opening or load that a label names: "through 50 mesh", "above 200 g".
#[derive(Clone, Debug, PartialEq)]
pub struct Cut {
    /// Figure as written.
    pub value: f64,
    /// Its unit.
    pub unit: Unit,
    /// True for a minimum: "above", "+16".
    pub above: bool,
    /// True where the label itself says that it is a maximum: "below", "<", "-50".
    pub below: bool,
}

impl Cut {
    /// Opening in mm, where the cut is a sieve: US mesh numbers by ASTM E11-17.
    pub fn opening_mm(&self) -> Option<f64> {
        if self.unit.kind == UnitKind::Mesh {
            return mesh_opening_mm(self.value);
        }
        let mm = Unit::parse("mm")?;
        self.unit.convert(self.value, &mm)
    }
}

/// Openings of US sieves in mm. Source: ASTM E11-17, as transcribed in the public library `fluids` 1.3.1.
pub fn mesh_opening_mm(mesh: f64) -> Option<f64> {
    const TABLE: &[(f64, f64)] = &[
        (8.0, 2.36),
        (10.0, 2.0),
        (12.0, 1.7),
        (14.0, 1.4),
        (16.0, 1.18),
        (18.0, 1.0),
        (20.0, 0.85),
        (25.0, 0.71),
        (30.0, 0.6),
        (35.0, 0.5),
        (40.0, 0.425),
        (45.0, 0.355),
        (50.0, 0.3),
        (60.0, 0.25),
        (70.0, 0.212),
        (80.0, 0.18),
        (100.0, 0.15),
        (120.0, 0.125),
        (140.0, 0.106),
        (170.0, 0.09),
        (200.0, 0.075),
        (230.0, 0.063),
        (270.0, 0.053),
        (325.0, 0.045),
    ];
    TABLE.iter().find(|(number, _)| (number - mesh).abs() < 0.01).map(|(_, mm)| *mm)
}

/// What a label says.
#[derive(Clone, Debug, Default)]
pub struct Label {
    /// What it stands for, if that is known.
    pub target: Option<Target>,
    /// All its facets but fillers.
    pub facets: BTreeSet<FacetId>,
    /// Basis named in it.
    pub basis: Option<String>,
    /// Ionic form named in it.
    pub form: Option<String>,
    /// Substance that the figure is counted as.
    pub substance: Option<String>,
    /// Unit in brackets, after a comma, or at its end.
    pub unit: Option<Unit>,
    /// Sieve or load.
    pub cut: Option<Cut>,
    /// State of the sample: `as-received`, `after-cleaning`, `regenerated`, `exhausted`.
    pub state: Option<String>,
    /// Place in the bed.
    pub position: Option<String>,
    /// Contexts by id: `feed`, `outlet`, `startup`, `new`, `previous`, `wash`.
    pub contexts: Vec<String>,
    /// Test method named in it.
    pub method: Option<String>,
    /// Words that nothing explains.
    pub unexplained: Vec<String>,
    /// Words that were explained, fillers among them.
    pub explained: usize,
    /// Figures in it that are neither cut, dose nor method.
    pub loose_numbers: Vec<String>,
    /// A regenerant dose: "at 15 lb/ft³".
    pub dose: Option<(f64, Unit)>,
    /// A whole unit stood in the label and the label names a percentage by word.
    pub percent_word: bool,
    /// What was brought off the resin is named by the liquid that it was found in: "TOC, brine extract".
    pub eluate: bool,
}

impl Label {
    /// Whether the context is among those of the label.
    pub fn has_context(&self, id: &str) -> bool {
        self.contexts.iter().any(|c| c == id)
    }

    /// Understood without a word left over.
    pub fn is_clear(&self) -> bool {
        self.target.is_some() && self.unexplained.is_empty() && self.loose_numbers.is_empty()
    }
}

/// What a column or row of a table holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    /// The result.
    Result,
    /// New-resin or specified figures.
    Specification,
    /// Their lower end.
    SpecificationLow,
    /// Their upper end.
    SpecificationHigh,
    /// Result as a share of new.
    PercentOfNew,
    /// Unit.
    Unit,
    /// Method.
    Method,
    /// Detection limit.
    DetectionLimit,
    /// Name of the property.
    Parameter,
    /// Words on the result.
    Rating,
    /// Mean of the others.
    Average,
    /// Deviation or uncertainty.
    Deviation,
    /// One of several determinations.
    Replicate,
    /// How many.
    Count,
    /// Difference to something.
    Change,
    /// An earlier result.
    Previous,
}

impl Lexicon {
    /// Facets of the words of a text: known phrases, and words that nothing explains.
    fn facets_of(&self, text: &str) -> (Vec<FacetId>, Vec<String>, usize) {
        let list = words(text);
        let mut facets = Vec::new();
        let mut left = Vec::new();
        let mut explained = 0;
        let mut at = 0;
        while let Some(word) = list.get(at) {
            let written = text.get(word.start..word.end).unwrap_or_default();
            // "Softener A": a lone capital behind another word is a mark, not the article.
            let mark = at > 0 && written.len() == 1 && written.chars().all(|c| c.is_ascii_uppercase());
            let phrase = longest(&self.label_phrases, &list, at)
                .filter(|(length, ids)| !(mark && *length == 1 && ids.iter().all(|&id| self.is_filler(id))));
            if let Some((length, ids)) = phrase {
                facets.extend(ids);
                explained += length;
                at += length;
            } else if let Some(ids) = self.compound(&word.folded) {
                facets.extend(ids);
                explained += 1;
                at += 1;
            } else {
                left.push(text.get(word.start..word.end).unwrap_or(&word.folded).to_owned());
                at += 1;
            }
        }
        (facets, left, explained)
    }

    fn is_filler(&self, id: FacetId) -> bool {
        self.facet(id).is_some_and(|f| f.kind == FacetKind::Filler)
    }

    /// German compounds: a word that is wholly made of known words, with a linking s, n or es between them.
    fn compound(&self, word: &str) -> Option<Vec<FacetId>> {
        if word.chars().count() < 8 || !word.is_ascii() {
            return None;
        }
        self.split_compound(word, 0)
    }

    fn split_compound(&self, word: &str, depth: usize) -> Option<Vec<FacetId>> {
        let single = |part: &str| self.compound_parts.get(part).map(|id| vec![*id]);
        // Compounds lose the final e of their parts ("Kapazitätswert"), as folding does of whole words.
        if depth > 0
            && let Some(ids) = single(word)
        {
            return Some(ids);
        }
        if depth > 3 {
            return None;
        }
        for cut in (3..word.len().saturating_sub(2)).rev() {
            let (head, tail) = word.split_at_checked(cut)?;
            let Some(mut ids) = single(head) else { continue };
            for link in ["", "s", "n", "en", "es", "e"] {
                let Some(rest) = tail.strip_prefix(link) else { continue };
                if rest.len() < 3 {
                    continue;
                }
                if let Some(more) = self.split_compound(rest, depth + 1) {
                    ids.extend(more);
                    return Some(ids);
                }
            }
        }
        None
    }

    /// Reads a label. `section` holds the facets of the headings that stand above it; its own facets go first.
    pub fn understand(&self, text: &str, section: &[FacetId]) -> Label {
        if section.is_empty() {
            self.understood.answer(text, |text| self.read_label(text, section))
        } else {
            self.read_label(text, section)
        }
    }

    fn read_label(&self, text: &str, section: &[FacetId]) -> Label {
        let mut label = Label::default();
        let mut rest = spell_out(strip_numbering(text));
        take_method(&mut rest, &mut label);
        take_brackets(&mut rest, &mut label, self);
        drop_bead_count(&mut rest);
        take_cuts(&mut rest, &mut label);
        take_tail_unit(&mut rest, &mut label, self);
        let (facets, left, explained) = self.facets_of(&rest);
        label.explained += explained;
        for word in left {
            if word.chars().any(|c| c.is_ascii_digit()) {
                label.loose_numbers.push(word);
            } else {
                label.unexplained.push(word);
            }
        }
        self.sort_facets(&facets, &mut label);
        // "Beads above 200 g", "Fines < 0.3 mm": the word or sign went with the figure that it bounds.
        let bound = match &label.cut {
            Some(cut) if cut.above => self.facet_id("above"),
            Some(cut) if cut.below => self.facet_id("through"),
            _ => None,
        };
        label.facets.extend(bound);
        if label.substance.as_deref() == Some("KMnO4") {
            label.facets.extend(self.facet_id("as_kmno4"));
        }
        let lower = rest.to_lowercase();
        label.percent_word =
            ["percent", "pct", "prozent", "pourcent", "porcentaje", "%"].iter().any(|w| lower.contains(w));
        self.resolve(&mut label, section);
        self.in_or_out(&mut label, &rest);
        self.by_permanganate(&mut label);
        if label.unit.is_none() && !self.name_units.is_empty() {
            let folded: Vec<String> = words(&rest).into_iter().map(|w| w.folded).collect();
            if let Some(unit) = self.name_units.get(&folded.join(" ")) {
                set_unit(&mut label, unit.clone());
            }
        }
        label
    }

    /// "Load [g KMnO4/l resin]": permanganate by the volume of resin measures organic matter and nothing else.
    fn by_permanganate(&self, label: &mut Label) {
        let per_resin = label.unit.as_ref().is_some_and(|u| {
            u.dimension.mass == 1 && u.dimension.length == -3 && matches!(u.matter, Some(Matter::Resin(_)))
        });
        if label.target.is_none() && per_resin && label.substance.as_deref() == Some("KMnO4") {
            label.target = self
                .properties()
                .iter()
                .find(|p| p.id == "organics_permanganate")
                .map(|p| Target::Property(p.id.clone()));
        }
    }

    /// "Iron in", "Hardness out": at the inlet or outlet, where what is measured can be in the water.
    fn in_or_out(&self, label: &mut Label, text: &str) {
        let last = text.split_whitespace().next_back().unwrap_or_default().to_lowercase();
        let context = match last.as_str() {
            "in" | "inlet" => "feed",
            "out" => "outlet",
            _ => return,
        };
        // "Freeboard in": a length is in inches, and has no inlet.
        if last == "in"
            && label.unit.is_none()
            && let Some(Target::Field(id)) = &label.target
            && matches!(id.as_str(), "freeboard" | "freeboard_at_startup" | "bed_depth" | "tank_bore")
            && let Some(unit) = Unit::parse("in")
        {
            set_unit(label, unit);
            return;
        }
        let only_out = label.unexplained.iter().all(|w| w.eq_ignore_ascii_case("out"));
        if label.unit.is_some() || text.split_whitespace().count() < 2 || !only_out || !label.contexts.is_empty() {
            return;
        }
        let mut with = label.facets.clone();
        with.extend(self.facet_id(context));
        if let Some(target @ Target::Field(_)) = self.target_of(&with, label) {
            label.target = Some(target);
            label.facets = with;
            label.contexts.push(context.to_owned());
            label.unexplained.clear();
        }
    }

    fn sort_facets(&self, facets: &[FacetId], label: &mut Label) {
        for &id in facets {
            let Some(facet) = self.facet(id) else { continue };
            match facet.kind {
                FacetKind::Filler => continue,
                FacetKind::Basis => {
                    if label.basis.is_none() {
                        label.basis.clone_from(&facet.gives);
                    } else if label.basis != facet.gives {
                        // "wet volume" and its like are phrases of their own; "dry" beside "volume" is no basis we know.
                        label.basis = combine_bases(label.basis.as_deref(), facet.gives.as_deref());
                    }
                }
                FacetKind::Form => label.form.clone_from(&facet.gives),
                FacetKind::As => {
                    if facet.gives.is_some() {
                        label.substance.clone_from(&facet.gives);
                    }
                }
                FacetKind::Context => label.contexts.push(facet.id.clone()),
                FacetKind::State => label.state.clone_from(&facet.gives),
                FacetKind::Position => label.position.clone_from(&facet.gives),
                FacetKind::Head | FacetKind::Modifier | FacetKind::Key | FacetKind::Role => {}
            }
            label.facets.insert(id);
        }
    }

    fn kinds(&self, set: &BTreeSet<FacetId>, keep: impl Fn(FacetKind, bool) -> bool) -> BTreeSet<FacetId> {
        set.iter().copied().filter(|&id| self.facet(id).is_some_and(|f| keep(f.kind, f.soft))).collect()
    }

    fn resolve(&self, label: &mut Label, section: &[FacetId]) {
        let section: BTreeSet<FacetId> = section.iter().copied().collect();
        let section_contexts = self.kinds(&section, |k, _| k == FacetKind::Context);
        let own = label.facets.clone();
        if own.is_empty() {
            return;
        }
        label.target = self.target_of(&own, label);
        let own_context = own.iter().any(|&id| self.facet(id).is_some_and(|f| f.kind == FacetKind::Context));
        let section_names: Vec<String> =
            section_contexts.iter().filter_map(|&id| self.facet(id)).map(|f| f.id.clone()).collect();
        if !own_context && !section_contexts.is_empty() {
            label.contexts.extend(section_names.iter().cloned());
            // Under a heading for the feed, iron is iron in the feed; a key or a resin-only property stays what it is.
            if section_names.iter().any(|n| n == "feed" || n == "outlet" || n == "wash" || n == "startup")
                && !matches!(label.target, Some(Target::Key(_)))
            {
                let mut with = own.clone();
                with.extend(&section_contexts);
                label.target = self.target_of(&with, label);
            }
        }
        if label.target.is_none() && label.unexplained.is_empty() {
            // A group row above: "Capacity" over "total", "Beads" over "whole".
            let heads = self.kinds(&section, |k, _| matches!(k, FacetKind::Head | FacetKind::Modifier));
            if !heads.is_empty() {
                let mut with = own.clone();
                with.extend(&heads);
                label.target = self.target_of(&with, label);
            }
        }
        self.of_eluate(label, &own);
        // "Total capacity, % of new" is no capacity.
        let share = label.unit.as_ref().is_some_and(|u| u.kind == UnitKind::Percent) || label.percent_word;
        if share
            && (label.has_context("new") || label.has_context("startup"))
            && matches!(&label.target, Some(Target::Property(id)) if id.ends_with("_capacity"))
        {
            label.target = None;
        }
        if matches!(label.target, Some(Target::Property(_))) {
            for &id in &section {
                let Some(facet) = self.facet(id) else { continue };
                match facet.kind {
                    FacetKind::Basis if label.basis.is_none() => label.basis.clone_from(&facet.gives),
                    FacetKind::Form if label.form.is_none() => label.form.clone_from(&facet.gives),
                    // "Organics, as KMnO4" on a line of its own counts no iron below it.
                    FacetKind::As
                        if label.substance.is_none()
                            && facet.gives.is_some()
                            && (self.counts_organics(label) || !of_organics(facet)) =>
                    {
                        label.substance.clone_from(&facet.gives);
                    }
                    FacetKind::State if label.state.is_none() => label.state.clone_from(&facet.gives),
                    _ => {}
                }
            }
        }
    }

    fn counts_organics(&self, label: &Label) -> bool {
        label.target.as_ref().is_some_and(|t| t.id().starts_with("organics_"))
    }

    /// "TOC eluted", "COD of brine extract": organic matter is always found in what was washed off the resin; of other
    /// substances a unit per litre or kilogram of resin says so.
    fn of_eluate(&self, label: &mut Label, own: &BTreeSet<FacetId>) {
        let Some(wash) = self.facet_id("wash") else { return };
        if label.target.is_some() || !own.contains(&wash) {
            return;
        }
        let mut without = own.clone();
        without.remove(&wash);
        let Some(target @ Target::Property(_)) = self.target_of(&without, label) else { return };
        let of_resin = label.unit.as_ref().is_some_and(|u| u.matter.is_some());
        if target.id().starts_with("organics_") || of_resin {
            label.target = Some(target);
            label.contexts.retain(|c| c != "wash");
            label.facets.remove(&wash);
            label.eluate = !of_resin;
        }
    }

    fn target_of(&self, set: &BTreeSet<FacetId>, label: &Label) -> Option<Target> {
        let plain = |k: FacetKind| matches!(k, FacetKind::Head | FacetKind::Modifier | FacetKind::Key);
        let no_state = |k: FacetKind| !matches!(k, FacetKind::State | FacetKind::As | FacetKind::Form);
        let context = |k: FacetKind| k == FacetKind::Context;
        let full = set.clone();
        let contextual = self.kinds(set, |k, _| no_state(k));
        let no_position = self.kinds(set, |k, _| no_state(k) && k != FacetKind::Position);
        let field = self.kinds(set, |k, _| plain(k) || context(k));
        let field_hard = self.kinds(set, |k, soft| (plain(k) && !soft) || context(k));
        for candidate in [&full, &contextual, &no_position] {
            if let Some(target @ (Target::Field(_) | Target::Key(_))) = self.meanings.get(candidate) {
                return Some(target.clone());
            }
        }
        for candidate in [&field, &field_hard] {
            if let Some(target @ Target::Field(_)) = self.meanings.get(candidate) {
                return Some(target.clone());
            }
        }
        // What is said of the feed, the outlet or a wash is never a property of the resin.
        let foreign = set.iter().any(|&id| {
            self.facet(id)
                .is_some_and(|f| f.kind == FacetKind::Context && matches!(f.id.as_str(), "feed" | "outlet" | "wash"))
        });
        if foreign {
            return None;
        }
        let all = self.kinds(set, |k, _| plain(k));
        let hard = self.kinds(set, |k, soft| plain(k) && !soft);
        // "Organics as KMnO4": what is counted says which test it was.
        let counted = self.kinds(set, |k, soft| plain(k) && !soft || k == FacetKind::As);
        let mut tries = vec![all, hard.clone(), counted];
        if let Some(mean) = self.facet_id("mean") {
            // "Average total capacity": the mean of something that has no mean of its own.
            let mut less = hard.clone();
            if less.remove(&mean) {
                tries.push(less);
            }
        }
        for candidate in &tries {
            if let Some(target) = self.meanings.get(candidate) {
                if let Target::Property(id) = target
                    && self.property(id).is_some_and(|p| p.cut)
                    && !self.cut_fits(id, label, candidate)
                {
                    continue;
                }
                return Some(target.clone());
            }
        }
        None
    }

    /// "Through" and "above" mean nothing without their sieve or load.
    fn cut_fits(&self, property: &str, label: &Label, set: &BTreeSet<FacetId>) -> bool {
        if property == "fines" {
            let named = self.facet_id("fines").is_some_and(|f| set.contains(&f));
            return match &label.cut {
                None => named,
                Some(cut) => !cut.above && cut.opening_mm().is_some(),
            };
        }
        label
            .cut
            .as_ref()
            .is_some_and(|cut| !cut.below && cut.unit.dimension.mass == 1 && (cut.value - 200.0).abs() < 0.5)
    }

    /// Facets of a heading, for the labels under it.
    pub fn heading_facets(&self, text: &str) -> Vec<FacetId> {
        let label = self.understand(text, &[]);
        let mut facets: Vec<FacetId> = label.facets.iter().copied().collect();
        // "Resin from the softener at Well 7" is a title, and no heading for the well's water.
        let names = |id: &str| self.facet_id(id).is_some_and(|f| label.facets.contains(&f));
        let of_resin = names("resin") || names("lab_word") || names("report") || label.unexplained.len() > 1;
        facets.retain(|&id| {
            self.facet(id).is_some_and(|f| {
                !(of_resin && f.kind == FacetKind::Context)
                    && matches!(
                        f.kind,
                        FacetKind::Head
                            | FacetKind::Modifier
                            | FacetKind::Basis
                            | FacetKind::Form
                            | FacetKind::As
                            | FacetKind::Context
                            | FacetKind::State
                    )
            })
        });
        let unit_matter = label.unit.as_ref().and_then(|u| u.matter);
        let by_matter = match unit_matter {
            Some(Matter::Dry) => self.facet_id("dry_mass"),
            Some(Matter::Wet) => self.facet_id("wet_mass"),
            Some(Matter::Resin(_)) => self.facet_id("volume"),
            None => None,
        };
        facets.extend(by_matter);
        facets
    }

    /// What a column or row head says that the column holds; none if a word of it is not a role's.
    pub fn role(&self, text: &str) -> Option<Role> {
        // "1. Bestimmung", "2nd result": one of several determinations.
        let counted = text.trim().strip_prefix(['1', '2', '3', '4', '5', '6']).and_then(|t| {
            let t = t.trim_start_matches(|c: char| c.is_alphabetic() && !c.is_uppercase());
            t.strip_prefix(['.', ' ', 'º', 'ª', '°']).map(str::trim)
        });
        if counted.is_some_and(|t| matches!(self.role(t), Some(Role::Parameter | Role::Result | Role::Replicate))) {
            return Some(Role::Replicate);
        }
        let mut scratch = Label::default();
        let mut rest = strip_numbering(text).to_owned();
        let lower = rest.trim().to_lowercase();
        if lower.is_empty() {
            return None;
        }
        take_brackets(&mut rest, &mut scratch, self);
        let bracket_roles = scratch.unexplained.clone();
        take_tail_unit(&mut rest, &mut scratch, self);
        let list = words(&rest);
        let mut roles: BTreeSet<&str> = BTreeSet::new();
        let mut at = 0;
        let mut numbered = !scratch.loose_numbers.is_empty();
        let mut previous = scratch.has_context("previous");
        let mut new_context = scratch.has_context("new") || scratch.has_context("startup");
        while list.get(at).is_some() {
            let role = longest(&self.role_phrases, &list, at);
            let label = longest(&self.label_phrases, &list, at);
            let role_length = role.as_ref().map_or(0, |r| r.0);
            let label_length = label.as_ref().map_or(0, |l| l.0);
            if role_length > 0 && role_length >= label_length {
                let (length, ids) = role?;
                roles.extend(ids.iter().filter_map(|&id| self.facet(id)).map(|f| f.id.as_str()));
                if let Some((_, ids)) = label {
                    previous |= ids.iter().any(|&id| self.facet(id).is_some_and(|f| f.id == "previous"));
                }
                at += length;
                continue;
            }
            let Some((length, ids)) = label else {
                // "Run 1", "Result 2024": a number tells columns of one role apart.
                let word = list.get(at)?;
                if word.folded.len() <= 4 && word.folded.chars().all(|c| c.is_ascii_digit()) {
                    numbered = true;
                    at += 1;
                    continue;
                }
                return None;
            };
            for id in ids {
                let facet = self.facet(id)?;
                match facet.kind {
                    FacetKind::Filler | FacetKind::State | FacetKind::As | FacetKind::Form | FacetKind::Basis => {}
                    FacetKind::Context if facet.id == "previous" => previous = true,
                    FacetKind::Context if facet.id == "new" || facet.id == "startup" => new_context = true,
                    _ if facet.soft => {}
                    FacetKind::Key if matches!(facet.id.as_str(), "lab_word" | "date" | "analysed" | "remark") => {}
                    _ => return None,
                }
            }
            at += length;
        }
        if !bracket_roles.is_empty() && roles.is_empty() {
            return None;
        }
        let tells_apart =
            roles.contains("replicate") || roles.contains("result") || previous || roles.contains("new_value");
        if numbered && !tells_apart {
            return None;
        }
        let has = |id: &str| roles.contains(id);
        let spec = has("specification") || has("new_value") || new_context;
        // "% of new", "% du neuf", "% Neuharz": the sign before the words; behind them it is the unit of new figures.
        let share = ["%", "pct", "percent", "prozent", "pourcent"].iter().any(|w| lower.starts_with(w));
        Some(if has("percent_of_new") || (spec && (share || lower.contains('%') && lower.contains("of"))) {
            Role::PercentOfNew
        } else if has("detection_limit") {
            Role::DetectionLimit
        } else if has("deviation") {
            Role::Deviation
        } else if has("change") {
            Role::Change
        } else if has("minimum") && has("maximum") {
            Role::Specification
        } else if has("minimum") {
            Role::SpecificationLow
        } else if has("maximum") {
            Role::SpecificationHigh
        } else if has("average") && !spec {
            Role::Average
        } else if has("replicate") {
            Role::Replicate
        } else if has("count") {
            Role::Count
        } else if spec {
            Role::Specification
        } else if has("method") {
            Role::Method
        } else if previous {
            Role::Previous
        } else if has("unit") {
            Role::Unit
        } else if has("parameter") {
            Role::Parameter
        } else if has("result") {
            Role::Result
        } else if has("rating") {
            Role::Rating
        } else {
            return None;
        })
    }
}

/// Permanganate, oxygen and carbon count organic matter only.
fn of_organics(facet: &Facet) -> bool {
    matches!(facet.gives.as_deref(), Some("KMnO4" | "O2" | "C"))
}

fn combine_bases(a: Option<&str>, b: Option<&str>) -> Option<String> {
    let both = [a.unwrap_or_default(), b.unwrap_or_default()];
    if both.contains(&"wet_mass") && both.contains(&"volume") { Some("volume".to_owned()) } else { None }
}

/// Longest phrase that starts at a word: how many words, and its facets.
fn longest(phrases: &Phrases, list: &[super::Word], at: usize) -> Option<(usize, Vec<FacetId>)> {
    let first = list.get(at)?;
    for (rest, ids) in phrases.get(&first.folded)? {
        let end = at + 1 + rest.len();
        let Some(following) = list.get(at + 1..end) else { continue };
        if following.iter().zip(rest).all(|(word, want)| &word.folded == want) {
            return Some((1 + rest.len(), ids.clone()));
        }
    }
    None
}

fn pattern(cell: &'static OnceLock<Option<Regex>>, source: &str) -> Option<&'static Regex> {
    cell.get_or_init(|| Regex::new(source).ok()).as_ref()
}

/// "1.", "3.2", "a)", "(4)", "IV." in front of a label, and colons and dots behind it.
pub(crate) fn strip_numbering(text: &str) -> &str {
    static NUMBERING: OnceLock<Option<Regex>> = OnceLock::new();
    let trimmed = text.trim().trim_end_matches([':', '=', '.', '…', '：', ' ', '\u{a0}', '*', '†', '‡']);
    // "meq/mL ²": a raised mark set off from the unit is a footnote's.
    let trimmed = [" ¹", " ²", " ³"].iter().fold(trimmed, |t, mark| t.strip_suffix(mark).unwrap_or(t).trim_end());
    let Some(found) = pattern(
        &NUMBERING,
        r"^(?:\(?\d{1,2}(?:\.\d{1,2})*[.)]\s+|\(?[a-zA-Z][.)]\s+|[ivxIVX]{1,4}[.)]\s+|[-•·*–—▪►]\s*)",
    )
    .and_then(|p| p.find(trimmed)) else {
        return trimmed;
    };
    let rest = trimmed.get(found.end()..).unwrap_or(trimmed).trim_start();
    if rest.chars().any(char::is_alphabetic) { rest } else { trimmed }
}

/// "FE_MGKG_DRY": names of columns in exported tables spell units without their strokes.
fn spell_out(text: &str) -> String {
    const UNITS: [(&str, &str); 20] = [
        ("MEQ_ML", "meq/mL"),
        ("MEQ_G", "meq/g"),
        ("MG_KG", "mg/kg"),
        ("MG_L", "mg/L"),
        ("G_L", "g/L"),
        ("EQ_L", "eq/L"),
        ("EQ_KG", "eq/kg"),
        ("LB_FT3", "lb/ft3"),
        ("KGR_FT3", "kgr/ft3"),
        ("MGKG", "mg/kg"),
        ("MGL", "mg/L"),
        ("GL", "g/L"),
        ("EQL", "eq/L"),
        ("EQKG", "eq/kg"),
        ("MEQML", "meq/mL"),
        ("KGRFT3", "kgr/ft3"),
        ("LBFT3", "lb/ft3"),
        ("PCT", "%"),
        ("PPM", "ppm"),
        ("MM", "mm"),
    ];
    if !text.contains('_') || text.contains(' ') || text.chars().any(|c| c.is_lowercase()) {
        return text.to_owned();
    }
    let mut spelt = format!("_{text}_");
    for (code, unit) in UNITS {
        if let Some(at) = spelt.find(&format!("_{code}_")) {
            spelt.replace_range(at..at + code.len() + 2, "_");
            return format!("{}, {unit}", spelt.replace('_', " ").trim());
        }
    }
    text.to_owned()
}

/// A test method, as "ASTM D2187 Method B", "DIN 54402", "SOP-12".
pub(crate) fn find_method(text: &str) -> Option<(usize, usize)> {
    static METHOD: OnceLock<Option<Regex>> = OnceLock::new();
    let p = pattern(
        &METHOD,
        r"(?x)\b(?:
            (?:ASTM|DIN|ISO|EN|AFNOR|NF|UNE|BS|JIS|GB/?T?|GOST|APHA|EPA|AWWA|USP|SOP|WI|VDI|DL/T|SM|TP|LM|PV|AA|MA|PNT|AM|VA|HV|WLA|LP|TM|QM|IHM|MOP|RM|NTA|MET)
            (?:[\s\-/:.]*(?:EN|ISO|IEC|DIN|T|M|S)\b)*[\s\-.:/]*(?:[A-Z]{1,3}[\s\-.]?)?\d[\w.\-:/]*(?:\s*[,]?\s*(?:[Mm]ethod|[Pp]rocedure|[Mm][ée]thode|[Vv]erfahren|[Mm][ée]todo)\s+[A-Z0-9]{1,2}\b)?(?:\s*\(\d{4}\))?
            | (?i:in[\s-]?house(?:\s+method)?(?:\s+\w*\d+\w*)?|hausverfahren|m[ée]thode\s+interne|m[ée]todo\s+interno)
            | D\s?\d{4}(?:[-–]\d{2,4}[a-z]?)?(?:\s*[,]?\s*(?:[Mm]ethod|[Mm]eth\.?|[Pp]roc\.?)?\s*[A-M]\b)?
        )",
    )?;
    p.find(text).map(|m| (m.start(), m.end()))
}

/// Whether the text is a test method and nothing else.
pub fn is_method(text: &str) -> bool {
    find_method(text).is_some_and(|(start, end)| start == 0 && end + 1 >= text.trim_end().len())
}

fn take_method(rest: &mut String, label: &mut Label) {
    if let Some((start, end)) = find_method(rest) {
        label.method = rest.get(start..end).map(|m| m.trim().to_owned());
        rest.replace_range(start..end, " ");
    }
}

/// Brackets hold a unit, a basis, a form, "as Fe", a cut, a count, or plain words of the label.
fn take_brackets(rest: &mut String, label: &mut Label, lexicon: &Lexicon) {
    let mut guard = 0;
    while guard < 8 {
        guard += 1;
        let Some(open) = rest.find(['(', '[', '{']) else { break };
        let Some(length) = rest.get(open..).and_then(|t| t.find([')', ']', '}'])) else { break };
        let inside = rest.get(open + 1..open + length).unwrap_or_default().trim().to_owned();
        rest.replace_range(open..open + length + 1, " ");
        take_bracket(&inside, label, lexicon);
    }
}

fn take_bracket(inside: &str, label: &mut Label, lexicon: &Lexicon) {
    let inside = inside.trim();
    if inside.is_empty() || inside.chars().all(|c| matches!(c, '-' | '+' | '–')) {
        return;
    }
    if bead_count(inside).is_some() {
        return;
    }
    if let Some(unit) = Unit::parse(inside) {
        set_unit(label, unit);
        return;
    }
    if find_method(inside).is_some_and(|(s, e)| e - s + 2 >= inside.len()) {
        label.method = Some(inside.to_owned());
        return;
    }
    for (mark, pieces) in [(',', 2..=4), (';', 2..=4)] {
        let parts: Vec<&str> = inside.split(mark).collect();
        if pieces.contains(&parts.len()) && !inside.chars().any(|c| c.is_ascii_digit()) {
            for part in parts {
                take_bracket(part, label, lexicon);
            }
            return;
        }
    }
    // A lone mark: "(1)", "(a)".
    if inside.chars().count() <= 2
        && (inside.chars().all(|c| c.is_ascii_digit()) || matches!(inside, "a" | "b" | "c" | "d"))
    {
        return;
    }
    let mut text = inside.to_owned();
    take_cuts(&mut text, label);
    take_tail_unit(&mut text, label, lexicon);
    let (facets, left, explained) = lexicon.facets_of(&text);
    label.explained += explained;
    lexicon.sort_facets(&facets, label);
    for word in left {
        if word.chars().any(|c| c.is_ascii_digit()) {
            label.loose_numbers.push(word);
        } else {
            label.unexplained.push(word);
        }
    }
}

/// "n = 200", "200 beads": beads counted, or replicates.
pub(crate) fn bead_count(text: &str) -> Option<u32> {
    static COUNT: OnceLock<Option<Regex>> = OnceLock::new();
    let p = pattern(
        &COUNT,
        r"(?i)^(?:(?:n|of|based on|aus|sur|sobre|count(?:ed)?)\s*[=:]?\s*(\d{2,5})(?:\s*(?:beads?|counted|kugeln|perlen|billes|perlas|esferas|gez[aä]hlt|compt[ée]es|contadas))?|(\d{2,5})\s*(?:beads?|kugeln|perlen|billes|perlas|esferas|counted|gez[aä]hlt|ausgez[aä]hlt|compt[ée]es|contadas)(?:\s+\w+)?)$",
    )?;
    let found = p.captures(text.trim())?;
    found.get(1).or_else(|| found.get(2))?.as_str().parse().ok()
}

/// "Mean of 50 beads": how many were measured is no part of the name.
fn drop_bead_count(rest: &mut String) {
    static COUNTED: OnceLock<Option<Regex>> = OnceLock::new();
    let Some(p) = pattern(
        &COUNTED,
        r"(?i)\b(?:of|aus|de|sur|over|über|an|on)\s+\d{2,4}\s+(beads?|kugeln|perlen|körnern?|billes|perles|perlas|esferas)\b",
    ) else {
        return;
    };
    if let Some(found) = p.captures(rest)
        && let (Some(whole), Some(beads)) = (found.get(0), found.get(1))
    {
        let (range, beads) = (whole.range(), beads.as_str().to_owned());
        rest.replace_range(range, &beads);
    }
}

fn set_unit(label: &mut Label, unit: Unit) {
    // "Whole (200 beads counted)": the figure may be a percentage all the same.
    const HUNDREDTH: f64 = 0.01;
    if unit.share == Some(Share::Count) && (unit.factor - HUNDREDTH).abs() > 1e-9 {
        return;
    }
    match unit.matter {
        Some(Matter::Dry) if label.basis.is_none() => label.basis = Some("dry_mass".into()),
        Some(Matter::Wet) if label.basis.is_none() => label.basis = Some("wet_mass".into()),
        Some(Matter::Resin(_)) if label.basis.is_none() => label.basis = Some("volume".into()),
        _ => {}
    }
    if label.substance.is_none() {
        label.substance.clone_from(&unit.substance);
    }
    if label.unit.is_none() {
        label.unit = Some(unit);
    }
}

/// Figures inside a label: a sieve, a load, a dose.
fn take_cuts(rest: &mut String, label: &mut Label) {
    static MESH: OnceLock<Option<Regex>> = OnceLock::new();
    static MESH_AGAIN: OnceLock<Option<Regex>> = OnceLock::new();
    if let Some(found) = pattern(
        &MESH,
        r"(?i)(?P<sign>[-+<>−–]\s*)?(?:(?:u\.?s\.?\s*)?(?:no\.?|nr\.?|n°|#|mesh|tamiz|malla|sieb|tamis|maille)\s*|(?:u\.?s\.?\s+))?(?P<mesh>\d{1,3})\s*(?:u\.?s\.?\s*)?(?:mesh|maschen)|(?P<sign2>[-+<>−–]\s*)?(?:u\.?s\.?\s*)?(?:(?:sieve|mesh|screen|tamiz|malla|sieb|tamis|maille)\s*(?:no\.?|nr\.?|n°|#)?\s*|(?:no\.?|#)\s*)(?P<mesh2>\d{1,3})\b",
    )
    .and_then(|p| p.captures(rest))
        && label.cut.is_none()
    {
        let number = found.name("mesh").or_else(|| found.name("mesh2")).and_then(|m| m.as_str().parse::<f64>().ok());
        let sign = found.name("sign").or_else(|| found.name("sign2")).map_or("", |m| m.as_str().trim());
        if let (Some(number), Some(whole)) = (number, found.get(0))
            && mesh_opening_mm(number).is_some()
        {
            label.cut =
                Unit::parse("mesh").map(|unit| Cut {
                value: number,
                unit,
                above: sign.starts_with(['+', '>']),
                below: sign.starts_with(['-', '<', '−', '–']),
            });
            let range = whole.range();
            rest.replace_range(range, " ");
        }
    }
    // "Passing 50 mesh (0.300 mm)": the opening stood in its brackets, and the mesh names it again.
    if label.cut.as_ref().is_some_and(|c| c.unit.kind != UnitKind::Mesh)
        && let Some(found) = pattern(&MESH_AGAIN, r"(?i)\b(?:no\.?\s*)?(?P<mesh>\d{1,3})\s*(?:mesh|maschen)\b")
            .and_then(|p| p.captures(rest))
        && let (Some(whole), Some(mesh)) =
            (found.get(0), found.name("mesh").and_then(|m| m.as_str().parse::<f64>().ok()))
        && let (Some(a), Some(b)) = (mesh_opening_mm(mesh), label.cut.as_ref().and_then(Cut::opening_mm))
        && (a - b).abs() < 0.02 * b
    {
        let range = whole.range();
        rest.replace_range(range, " sieve ");
    }
    let mut spans: Vec<(usize, usize)> = Vec::new();
    for located in value::find(rest, guess_decimal(rest)) {
        let Some(unit) = &located.value.unit else { continue };
        let Some(number) = located.value.value else { continue };
        let before = rest.get(..located.start).unwrap_or_default();
        let sized = unit.dimension.length == 1
            && unit.dimension.mass == 0
            && unit.dimension.time == 0
            && unit.dimension.amount == 0
            && unit.kind != UnitKind::Mesh;
        let load = unit.dimension.mass == 1 && unit.dimension.length == 0 && number >= 50.0;
        let dose = unit.dimension.mass == 1 && (unit.dimension.length == -3 || unit.dimension.length == 0);
        if (sized || load) && label.cut.is_none() {
            let lower = before.to_lowercase();
            let above = located.value.qualifier == crate::record::Qualifier::Above
                || [
                    ">",
                    "above",
                    "over",
                    "greater",
                    "more than",
                    "at least",
                    "plus de",
                    "über",
                    "más de",
                    "mayor",
                    "mehr",
                ]
                .iter()
                .any(|w| lower.trim_end().ends_with(w));
            let tail_load = load && !above && rest.get(located.end..).is_some_and(|t| t.trim_start().starts_with('+'));
            label.cut = Some(Cut {
                value: number,
                unit: unit.clone(),
                above: above || tail_load,
                below: located.value.qualifier == crate::record::Qualifier::Below,
            });
            spans.push((located.start, located.end));
        } else if dose && label.dose.is_none() {
            label.dose = Some((number, unit.clone()));
            spans.push((located.start, located.end));
        } else if unit.kind == UnitKind::Percent {
            // "8 % DVB", "10 % NaCl": part of a name, never the figure itself.
            spans.push((located.start, located.end));
        }
    }
    for (start, end) in spans.into_iter().rev() {
        if rest.is_char_boundary(start) && rest.is_char_boundary(end) && end <= rest.len() {
            rest.replace_range(start..end, " ");
        }
    }
}

fn guess_decimal(text: &str) -> Decimal {
    static COMMA: OnceLock<Option<Regex>> = OnceLock::new();
    match pattern(&COMMA, r"\d,\d") {
        Some(p) if p.is_match(text) => Decimal::Comma,
        _ => Decimal::Point,
    }
}

/// A unit at the end or the start of a label: "Moisture, %", "Capacity in eq/L", "% whole beads".
fn take_tail_unit(rest: &mut String, label: &mut Label, lexicon: &Lexicon) {
    if label.unit.is_some() {
        return;
    }
    let text = rest.trim_end().trim_end_matches([',', ';', ':']).to_owned();
    let starts: Vec<usize> = text
        .char_indices()
        .filter(|&(at, c)| {
            c.is_whitespace()
                || matches!(c, ',' | ';' | ':' | '/' | '-' | '–')
                    && text.get(at + c.len_utf8()..).is_some_and(|t| t.starts_with(' '))
        })
        .map(|(at, c)| at + c.len_utf8())
        .collect();
    for &start in starts.iter().rev().take(6).rev() {
        let Some(tail) = text.get(start..) else { continue };
        let tail = tail.trim();
        if tail.is_empty() {
            continue;
        }
        // The dot of "mg/kg d.b." went with the label's own full stop.
        let Some(unit) = Unit::parse(tail).or_else(|| Unit::parse(&format!("{tail}."))) else { continue };
        // "Whole beads in the hundred": the beads are the label's.
        let shorter = tail.split_once(' ').and_then(|(_, t)| Unit::parse(t));
        if unit.share == Some(Share::Count) && shorter.is_some_and(|s| s.share == Some(Share::Count)) {
            continue;
        }
        // "Na", "in", "Fe" at the end of a label are words of it.
        let set_off = text.get(..start).is_some_and(|t| t.trim_end().ends_with(','));
        let word = lexicon.explains(tail) && unit.kind == UnitKind::Ordinary && !tail.contains('/');
        if (unit.is_risky_alone() || word) && !set_off {
            continue;
        }
        let head = text.get(..start).unwrap_or_default().trim_end().trim_end_matches([',', ';', ':', '/', '-', '–']);
        if head.trim().is_empty() {
            continue;
        }
        *rest = head.to_owned();
        set_unit(label, unit);
        return;
    }
    // "Crush, g/bead avg": a word for the mean behind the unit.
    if let Some((head, last)) = text.rsplit_once(' ')
        && lexicon.only_means(last)
        && head.contains('/')
    {
        let mut shorter = head.to_owned();
        take_tail_unit(&mut shorter, label, lexicon);
        if label.unit.is_some() {
            *rest = format!("{shorter} {last}");
            return;
        }
    }
    leading_unit(&text, rest, label, lexicon);
}

/// "% whole beads", "ppm iron", "kilograins per cubic foot, total capacity", "grams to crush a bead".
fn leading_unit(text: &str, rest: &mut String, label: &mut Label, lexicon: &Lexicon) {
    const MOST_WORDS: usize = 6;
    let gaps: Vec<usize> =
        text.char_indices().filter(|(_, c)| c.is_whitespace()).map(|(at, _)| at).take(MOST_WORDS).collect();
    // "% whole beads", "ppm iron, on the dried resin": what follows is the label.
    let short = gaps.first().filter(|&&at| {
        let unit = text.get(..at).and_then(Unit::parse);
        unit.is_some_and(|u| matches!(u.kind, UnitKind::Percent | UnitKind::PartsPerMillion))
    });
    for &at in short.into_iter().chain(gaps.iter().rev()) {
        let (head, tail) = (text.get(..at).unwrap_or_default(), text.get(at..).unwrap_or_default());
        let set_off = head.trim_end().ends_with(',');
        let head = head.trim().trim_end_matches(',');
        let Some(unit) = Unit::parse(head).filter(|_| !head.contains(',')) else { continue };
        // "Beads, whole": the beads are no unit.
        let word = lexicon.explains(head);
        let (spelt, set_off) = (head.chars().count() >= 5 && !word, set_off && !word);
        let plain = matches!(unit.kind, UnitKind::Percent | UnitKind::PartsPerMillion) || head.contains('/');
        if unit.is_risky_alone() && !set_off || !(plain || spelt || set_off) {
            continue;
        }
        *rest = tail.trim().trim_start_matches(['-', '–', ':', ',']).trim_start().to_owned();
        set_unit(label, unit);
        return;
    }
}

impl Lexicon {
    /// The end of a range that a head names and nothing else: "Low", "Upper". Only a column of results beside it tells
    /// that it is a limit and no place in the bed.
    pub fn end_of_range(&self, text: &str) -> Option<Role> {
        let list = words(text);
        let (length, ids) = longest(&self.role_phrases, &list, 0)?;
        let named = |id: &str| ids.iter().any(|&i| self.facet(i).is_some_and(|f| f.id == id));
        match () {
            () if length < list.len() => None,
            () if named("lower_end") => Some(Role::SpecificationLow),
            () if named("upper_end") => Some(Role::SpecificationHigh),
            () => None,
        }
    }

    /// Whether every word of the text is known to the lexicon.
    pub fn explains(&self, text: &str) -> bool {
        let (_, left, explained) = self.facets_of(text);
        left.is_empty() && explained > 0
    }

    /// "avg", "Mittel": words for a mean and no other.
    fn only_means(&self, text: &str) -> bool {
        let (facets, left, _) = self.facets_of(text);
        let mean = |id: &FacetId| self.facet(*id).is_some_and(|f| f.id == "mean" || f.id == "average");
        left.is_empty() && facets.iter().any(mean)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn target(text: &str) -> Option<String> {
        Lexicon::builtin().understand(text, &[]).target.map(|t| t.id().to_owned())
    }

    #[test]
    fn word_order_and_fillers_do_not_matter() {
        for text in
            ["Total capacity", "Capacity, total", "Exchange capacity (total)", "TEC", "Total exchange capacity, eq/L"]
        {
            assert_eq!(target(text).as_deref(), Some("total_capacity"), "{text}");
        }
        assert_eq!(target("Moisture holding capacity").as_deref(), Some("moisture_retention"));
        assert_eq!(target("Salt-splitting capacity").as_deref(), Some("salt_splitting_capacity"));
        assert_eq!(target("Whole beads (%)").as_deref(), Some("whole_beads"));
        assert_eq!(target("% whole beads").as_deref(), Some("whole_beads"));
    }

    #[test]
    fn feed_iron_is_not_iron_on_the_resin() {
        assert_eq!(target("Iron in feed water").as_deref(), Some("feed_iron"));
        assert_eq!(target("Iron").as_deref(), Some("iron"));
        let lexicon = Lexicon::builtin();
        let section = lexicon.heading_facets("Feed water analysis");
        let label = lexicon.understand("Iron", &section);
        assert_eq!(label.target, Some(Target::Field("feed_iron".into())));
    }

    #[test]
    fn a_word_that_nothing_explains_is_left_over() {
        let label = Lexicon::builtin().understand("Moisture of the widget", &[]);
        assert_eq!(label.unexplained, ["widget"]);
        assert!(!label.is_clear());
    }

    #[test]
    fn column_heads_have_roles() {
        let lexicon = Lexicon::builtin();
        for (text, role) in [
            ("Result", Role::Result),
            ("New resin spec.", Role::Specification),
            ("% of new", Role::PercentOfNew),
            ("Min.", Role::SpecificationLow),
            ("Units", Role::Unit),
            ("Test method", Role::Method),
            ("Detection limit", Role::DetectionLimit),
            ("Parameter", Role::Parameter),
        ] {
            assert_eq!(lexicon.role(text), Some(role), "{text}");
        }
        assert_eq!(lexicon.role("Softener 2"), None);
    }
}
