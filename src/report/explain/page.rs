//! The page itself.

use super::codes::{Code, Kind};
use super::spellings::{Spelled, Spellings};
use super::{Knowledge, units};
use crate::judge::{Rule, property_words, quantity_words};
use crate::lexicon::{FacetKind, Key, Level, Lexicon, Quantity, Role, Target, resin_class};
use crate::report::plain::{safe, wrapped};
use crate::specs::{Bound, Class, Specs};
use std::collections::BTreeSet;

/// Lines as they come.
pub struct Page<'a> {
    knowledge: &'a Knowledge<'a>,
    spellings: &'a Spellings,
    width: usize,
    lines: Vec<String>,
}

impl<'a> Page<'a> {
    /// An empty one.
    pub fn new(knowledge: &'a Knowledge<'a>, spellings: &'a Spellings, width: usize) -> Self {
        Self { knowledge, spellings, width, lines: Vec::new() }
    }

    /// Whether nothing was found yet.
    pub fn is_empty(&self) -> bool {
        self.lines.is_empty()
    }

    /// The text, if anything was found.
    pub fn finished(self) -> Option<String> {
        (!self.lines.is_empty()).then(|| self.lines.join("\n") + "\n")
    }

    fn text(&mut self, text: &str, first: &str, rest: &str) {
        self.lines.extend(wrapped(&safe(text), self.width, first, rest));
    }

    /// Opens what one term is; a term may be several things.
    fn head(&mut self, id: &str, what: &str) {
        if !self.lines.is_empty() {
            self.lines.push(String::new());
        }
        self.text(&format!("{id}: {what}"), "", "  ");
    }

    fn section(&mut self, heading: &str) {
        self.lines.push(String::new());
        self.lines.push(heading.to_owned());
    }

    /// Whatever a label may stand for.
    pub fn target(&mut self, target: &Target) {
        let lexicon = self.knowledge.lexicon;
        match target {
            Target::Property(id) => {
                if let Some(property) = lexicon.property(id) {
                    self.quantity(property, "a property of the resin", target);
                }
            }
            Target::Field(id) => {
                if let Some(quantity) = lexicon.field(id) {
                    self.quantity(quantity, "a quantity of the bed or its water", target);
                }
            }
            Target::Key(id) => {
                if let Some(key) = lexicon.keys().iter().find(|key| key.id == *id) {
                    self.key(key);
                }
            }
        }
    }

    /// A property, or a quantity of the bed.
    fn quantity(&mut self, quantity: &Quantity, what: &str, target: &Target) {
        self.head(&quantity.id, &format!("{}, {what}", quantity.name));
        if !quantity.about.is_empty() {
            self.text(&format!("{}.", sentence(&quantity.about)), "  ", "  ");
        }
        if let Some(substance) = &quantity.substance {
            self.text(&format!("Counted as {substance}."), "  ", "  ");
        }
        let units: Vec<String> = quantity.units.iter().map(|(basis, unit)| format!("{unit}{}", on(basis))).collect();
        self.text(&format!("Unit: {}.", units.join("; ")), "  ", "  ");
        let ranges: Vec<String> = quantity
            .plausible
            .iter()
            .map(|(basis, [low, high])| {
                let unit = quantity.units.get(basis).map_or("", String::as_str);
                format!("{low} to {high} {unit}{}", on(basis))
            })
            .collect();
        if !ranges.is_empty() {
            let source = if quantity.source.is_empty() { "common practice, no source" } else { &quantity.source };
            self.text(&format!("Doubted outside {} (source: {source}).", ranges.join("; ")), "  ", "  ");
        }
        self.text(&format!("Stands at {}.", quantity.origin), "  ", "  ");
        self.recognised(&quantity.means, target);
        self.new_resin(&quantity.id);
    }

    /// A fact about the sample.
    fn key(&mut self, key: &Key) {
        self.head(&key.id, "a fact about the sample");
        let reach = match key.level {
            Level::Sample => "A change of it begins a new sample.",
            Level::Site => "It may differ between samples of one report, and does not begin one.",
            Level::Report => "It belongs to the whole report.",
        };
        self.text(reach, "  ", "  ");
        self.text(&format!("Stands at {}.", key.origin), "  ", "  ");
        self.recognised(&key.means, &Target::Key(key.id.clone()));
    }

    /// How labels of a target are made, and of which words.
    fn recognised(&mut self, means: &[String], target: &Target) {
        self.section("Known by labels that consist of");
        for set in means {
            self.text(&set.split_whitespace().collect::<Vec<_>>().join(" + "), "  ", "    ");
        }
        let lexicon = self.knowledge.lexicon;
        let short: Vec<String> = self
            .spellings
            .abbreviations
            .iter()
            .filter(|short| lexicon.understand(&short.text, &[]).target.as_ref() == Some(target))
            .map(|short| format!("{} ({})", short.text, short.origin))
            .collect();
        if !short.is_empty() {
            self.text(&format!("or its short names {}", short.join(", ")), "  ", "    ");
        }
        self.text("with words for basis, form, state and unit as they come.", "  ", "    ");
        let mut seen = BTreeSet::new();
        for facet in means.iter().flat_map(|set| set.split_whitespace()) {
            if seen.insert(facet) {
                self.facet(facet);
            }
        }
    }

    fn facet(&mut self, id: &str) {
        let lexicon = self.knowledge.lexicon;
        let kind = lexicon.facet_id(id).and_then(|id| lexicon.facet(id)).map_or("", |facet| kind_words(facet.kind));
        self.section(&format!("{id} ({kind})"));
        let lines: Vec<Spelled> = self.spellings.of(id).cloned().collect();
        for line in lines {
            let words = line.words.join(", ");
            self.text(&format!("{} ({})", words, line.origin), &format!("  {:4}", line.language), "      ");
            for (word, loser, origin) in self.spellings.losers(&line, lexicon) {
                self.text(
                    &format!("\"{word}\" also stands under {loser}, which gives way ({origin})"),
                    "        ",
                    "        ",
                );
            }
        }
    }

    /// What new resin of each class shows for a property.
    fn new_resin(&mut self, property: &str) {
        let mut lines = Vec::new();
        for class in self.knowledge.specs.spec_list() {
            for figure in class.figures.iter().filter(|figure| figure.property == property) {
                let of = [figure.basis.as_deref().map(basis_words), figure.form.as_deref()];
                let of: Vec<&str> = of.into_iter().flatten().collect();
                let bound = |word: &str, bound: &Option<Bound>| {
                    bound.as_ref().map(|bound| format!("{word} {}", bound.value).trim_start().to_owned())
                };
                let bounds = [bound("min", &figure.low), bound("", &figure.typical), bound("max", &figure.high)];
                let bounds: Vec<String> = bounds.into_iter().flatten().collect();
                let of = if of.is_empty() { String::new() } else { format!(" ({})", of.join(", ")) };
                lines.push(format!("{}{of}: {}", class.id, bounds.join(", ")));
            }
        }
        if lines.is_empty() {
            return;
        }
        self.section("New resin (sources: beadwise spec show CLASS)");
        for line in lines {
            self.text(&line, "  ", "    ");
        }
    }

    /// A class.
    pub fn class(&mut self, class: &Class) {
        self.head(&class.id, "a class of resin");
        self.lines.extend(crate::report::spec::page(class, self.width).lines().map(str::to_owned));
        let Ok(builtin) = Specs::builtin() else { return };
        let Some(before) = builtin.class(&class.id) else { return };
        let lost = replaced(before, class);
        if !lost.is_empty() {
            self.section("Built-in figures that gave way");
            for line in lost {
                self.text(&line, "  ", "    ");
            }
        }
    }

    /// A doubt, an error, or a reason for setting aside.
    pub fn code(&mut self, kind: Kind, code: &Code) {
        self.head(&code.id, kind.singular());
        self.text(&code.meaning, "  ", "  ");
        if let Some(action) = &code.action {
            self.text(action, "  ", "  ");
        }
        if kind == Kind::Doubt {
            let weighs = self.knowledge.policy.doubt(&code.id).map_or_else(
                || "the figure weighs through its alternatives, or not at all where it has none".to_owned(),
                |policy| format!("{} (source: {})", policy.text, policy.source),
            );
            self.text(&format!("In a judgement: {weighs}."), "  ", "  ");
        }
        self.text(&format!("Stands at {}.", code.origin), "  ", "  ");
    }

    /// A rule's own page.
    pub fn rule(&mut self, rule: &Rule) {
        self.head(rule.id, "a rule of the verdict");
        let printed = rule.printed(self.knowledge.policy);
        let mut lines = printed.lines().skip_while(|line| line.starts_with('#') || line.trim().is_empty());
        let mut fenced = false;
        for line in &mut lines {
            let fence = line.starts_with("```");
            fenced ^= fence;
            match line.strip_prefix("## ") {
                _ if fence => {}
                Some(heading) => self.lines.push(heading.to_owned()),
                None if line.trim().is_empty() => self.lines.push(String::new()),
                None if fenced => self.lines.push(format!("    {}", safe(line))),
                None => self.text(line, "  ", if line.starts_with('-') { "    " } else { "  " }),
            }
        }
    }

    /// A limit, band, cause or cleaning of the policy.
    pub fn policy(&mut self, name: &str, dashed: &str) {
        let policy = self.knowledge.policy;
        if let Some(limit) = policy.limit(name) {
            self.head(name, "a limit of the verdict");
            self.text(limit.in_words(name).trim_start_matches("- "), "  ", "  ");
            self.text(&format!("Stands at {}.", limit.origin), "  ", "  ");
        }
        if let Some(band) = policy.band_by_id(name) {
            self.head(name, "the grades of a property");
            self.text(band.in_words().trim_start_matches("- "), "  ", "  ");
            self.text(&format!("Stands at {}.", band.origin), "  ", "  ");
        }
        if let Some(cause) = policy.cause(dashed) {
            self.head(dashed, "a cause of wear or fouling");
            self.text(&cause.name, "  ", "  ");
            self.text(&format!("Put right first: {}", cause.fix), "  ", "  ");
            let cleanings: Vec<&str> =
                cause.recipes.iter().filter_map(|id| policy.recipe(id)).map(|recipe| recipe.title.as_str()).collect();
            if !cleanings.is_empty() {
                self.text(&format!("Cleanings that answer it: {}. A judgement says whether one may be done, and with what cautions.", cleanings.join("; ")), "  ", "  ");
            }
            self.text(&format!("Source: {}.", cause.source), "  ", "  ");
        }
    }

    /// A unit, by its id or as printed.
    pub fn unit(&mut self, term: &str) {
        // "iron" and the like are asked for what they are, never for a unit that they might spell.
        let Some(unit) = units::look_up(term).filter(|_| self.is_empty()) else { return };
        self.head(term, "a unit");
        for sum in &unit.sums {
            self.text(sum, "  ", "    ");
        }
        for note in &unit.notes {
            self.text(note, "  ", "  ");
        }
        if !unit.spellings.is_empty() {
            self.text(&format!("Spelt {}, with prefixes.", unit.spellings.join(", ")), "  ", "    ");
        }
        match (&unit.id, &unit.origin) {
            (Some(id), Some(origin)) => self.text(&format!("Stands at {origin} as {id}."), "  ", "  "),
            _ => self.text("Made of the units at grammar/units.toml.", "  ", "  "),
        }
    }

    /// A label as reports have it: how it is read.
    pub fn label(&mut self, term: &str) {
        let lexicon = self.knowledge.lexicon;
        let label = lexicon.understand(term, &[]);
        let role = lexicon.role(term);
        let class = resin_class(term);
        if let Some(target) = &label.target {
            let (what, name) = target_words(target, lexicon);
            self.head(&format!("\"{term}\""), &format!("as a label it is {what} {} ({name})", target.id()));
        } else if !label.facets.is_empty() {
            self.head(&format!("\"{term}\""), "its words are known, but together they name nothing that is read");
        }
        if !self.lines.is_empty() {
            self.parts(&label);
        }
        if let Some(target) = &label.target {
            self.target(target);
        }
        if let Some(role) = role {
            self.head(&format!("\"{term}\""), &format!("as the head of a column or row it holds {}", role_words(role)));
        }
        if let Some(found) = class.class.as_ref().and_then(|id| self.knowledge.specs.class(id)) {
            self.head(
                &format!("\"{term}\""),
                &format!("as the name of a resin it is the class {} ({})", found.id, found.name),
            );
        } else if !class.candidates.is_empty() {
            let open = class.candidates.join(", ");
            self.head(&format!("\"{term}\""), &format!("as the name of a resin it leaves open which of {open}"));
        }
    }

    fn parts(&mut self, label: &crate::lexicon::Label) {
        for (what, part) in [("basis", &label.basis), ("form", &label.form), ("counted as", &label.substance)] {
            if let Some(part) = part {
                self.text(&format!("{what} {part}"), "  ", "    ");
            }
        }
        for id in &label.facets {
            let Some(facet) = self.knowledge.lexicon.facet(*id) else { continue };
            self.text(&format!("{} ({}, {})", facet.id, kind_words(facet.kind), facet.origin), "  ", "    ");
        }
        if !label.unexplained.is_empty() {
            let words = label.unexplained.join("\", \"");
            self.text(
                &format!("not understood: \"{words}\"; a figure with this label carries the doubt label-uncertain"),
                "  ",
                "    ",
            );
        }
    }
}

/// Built-in figures of a class that a user's entries took the place of.
fn replaced(before: &Class, now: &Class) -> Vec<String> {
    let mut lost = Vec::new();
    for old in &before.figures {
        let new = now
            .figures
            .iter()
            .find(|new| new.property == old.property && new.basis == old.basis && new.form == old.form);
        let Some(new) = new else { continue };
        let ends = [
            ("at least", &old.low, &new.low),
            ("compared with", &old.typical, &new.typical),
            ("at most", &old.high, &new.high),
        ];
        for (word, old_bound, new_bound) in ends {
            if let (Some(gone), Some(came)) = (old_bound, new_bound)
                && gone.origin != came.origin
            {
                let name = property_words(&old.property);
                lost.push(format!(
                    "{name}, {word}: {} ({}) gave way to {} ({})",
                    gone.value, gone.origin, came.value, came.origin
                ));
            }
        }
    }
    for (name, old) in &before.facts {
        if let Some(new) = now.facts.get(name).filter(|new| new.origin != old.origin) {
            let words = name.replace('_', " ");
            let value = quantity_words(old.value, &old.unit);
            lost.push(format!(
                "{words}: {value} ({}) gave way to {} ({})",
                old.origin,
                quantity_words(new.value, &new.unit),
                new.origin
            ));
        }
    }
    lost
}

fn target_words(target: &Target, lexicon: &Lexicon) -> (&'static str, String) {
    match target {
        Target::Property(id) => ("the property", lexicon.property(id).map_or_else(String::new, |p| p.name.clone())),
        Target::Field(id) => ("the quantity", lexicon.field(id).map_or_else(String::new, |q| q.name.clone())),
        Target::Key(_) => ("the fact", "about the sample".to_owned()),
    }
}

fn kind_words(kind: FacetKind) -> &'static str {
    match kind {
        FacetKind::Head => "what is measured",
        FacetKind::Modifier => "which of several",
        FacetKind::Basis => "per what",
        FacetKind::Form => "ionic form",
        FacetKind::As => "counted as",
        FacetKind::Context => "whose figure",
        FacetKind::Filler => "says nothing by itself",
        FacetKind::Key => "names a fact",
        FacetKind::Role => "names a column",
        FacetKind::State => "state of the sample",
        FacetKind::Position => "place in the bed",
    }
}

fn role_words(role: Role) -> &'static str {
    match role {
        Role::Result => "results",
        Role::Specification => "new-resin or specified figures",
        Role::SpecificationLow => "lower ends of specifications",
        Role::SpecificationHigh => "upper ends of specifications",
        Role::PercentOfNew => "results as shares of new, which are set aside",
        Role::Unit => "units",
        Role::Method => "test methods",
        Role::DetectionLimit => "limits of detection",
        Role::Parameter => "names of properties",
        Role::Rating => "marks of the laboratory's, which are set aside",
        Role::Average => "means of several determinations",
        Role::Deviation => "deviations or uncertainties",
        Role::Replicate => "single determinations",
        Role::Count => "how many were counted",
        Role::Change => "differences, which are set aside",
        Role::Previous => "an earlier analysis",
    }
}

fn on(basis: &str) -> String {
    if basis.is_empty() { String::new() } else { format!(" {}", basis_words(basis)) }
}

fn basis_words(basis: &str) -> &str {
    match basis {
        "volume" => "by volume",
        "dry_mass" => "of dry resin",
        "wet_mass" => "of wet resin",
        other => other,
    }
}

fn sentence(text: &str) -> String {
    let mut letters = text.trim().trim_end_matches('.').chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
