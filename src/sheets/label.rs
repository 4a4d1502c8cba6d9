//! What the words before a figure on a sheet mean.

use super::words::{Limit, SheetWords};
use crate::lexicon::{Cut, FacetKind, Lexicon, Target, fold, is_method, words as split};
use crate::quantity::{Unit, UnitKind};
use regex::Regex;
use std::sync::OnceLock;

/// What a label stands for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Kind {
    /// Nothing known.
    #[default]
    Unknown,
    /// No word of its own: only a form, basis, bound or unit.
    Sub,
    /// A property of the resin.
    Property(String),
    /// Something that is not the resin's own.
    Aside,
    /// The form in which it is sold.
    Shipped,
    /// Something that is told in words: matrix, appearance.
    Told,
}

/// A label, taken apart.
#[derive(Clone, Debug, Default)]
pub struct Lab {
    /// As it stands, in plain words.
    pub text: String,
    /// What it stands for.
    pub kind: Kind,
    /// Forms named, in order.
    pub forms: Vec<String>,
    /// Basis named.
    pub basis: Option<String>,
    /// Unit named.
    pub unit: Option<Unit>,
    /// Bound named.
    pub limit: Option<Limit>,
    /// Tolerance named: half-width, and whether it is a percentage of the figure.
    pub tolerance: Option<(f64, bool)>,
    /// Sieve or load named.
    pub cut: Option<Cut>,
    /// Ids of its facets.
    pub facets: Vec<String>,
    /// Words that nothing explains.
    pub unexplained: Vec<String>,
    /// Part of a mixed bed that it names.
    pub component: Option<String>,
    /// It was counted after a test that wears beads.
    pub attrition: bool,
    /// Where its unit counts by mass, the term is defined for dry resin.
    pub dry_by_standard: bool,
    /// It stands where a sheet speaks of operation.
    pub operating: bool,
}

fn pattern<'a>(cell: &'a OnceLock<Option<Regex>>, text: &str) -> Option<&'a Regex> {
    cell.get_or_init(|| Regex::new(text).ok()).as_ref()
}

/// What labels are read with.
pub struct Reader<'a> {
    /// The words of reports.
    pub lexicon: &'a Lexicon,
    /// The words of sheets.
    pub words: &'a SheetWords,
    /// The sheet is one of a mixed bed.
    pub mixed: bool,
    /// Folded spellings of forms, and the form.
    forms: Vec<(String, String)>,
}

impl<'a> Reader<'a> {
    /// With the words of reports and of sheets.
    pub fn new(lexicon: &'a Lexicon, words: &'a SheetWords, mixed: bool) -> Self {
        let forms = lexicon
            .facets()
            .iter()
            .filter(|facet| facet.kind == FacetKind::Form)
            .filter_map(|facet| Some((facet, facet.gives.clone()?)))
            .flat_map(|(facet, form)| facet.spellings.iter().map(move |s| (fold(s), form.clone())))
            .collect();
        Self { lexicon, words, mixed, forms }
    }

    /// Reads a label.
    pub fn label(&self, text: &str) -> Lab {
        let mut lab =
            Lab { text: text.trim().trim_end_matches([':', ',', ';', '-', '=']).trim().to_owned(), ..Lab::default() };
        let mut rest = without_marks(&lab.text);
        if self.words.shipped.is(&rest) {
            lab.kind = Kind::Shipped;
            return lab;
        }
        if self.words.told.is(&rest)
            || (self.words.told.after(&rest).is_some() && !rest.contains(|c: char| c.is_ascii_digit()))
        {
            lab.kind = Kind::Told;
            return lab;
        }
        lab.tolerance = take_tolerance(&mut rest);
        (rest, lab.forms) = self.take_forms(&rest);
        if self.mixed
            && let Some((component, less)) = self.words.component(&rest)
        {
            lab.component = Some(component.to_owned());
            rest = less;
        }
        lab.attrition = rest.contains("attrition_test");
        lab.dry_by_standard = rest.contains("dry_by_standard");
        rest = rest.replace("attrition_test", " ").replace("dry_by_standard", " ");
        let sieved = self.lexicon.understand(rest.trim(), &[]);
        let cuts = sieved.cut.is_some()
            && matches!(&sieved.target, Some(Target::Property(id)) if self.lexicon.property(id).is_some_and(|p| p.cut));
        if !cuts {
            lab.unit = take_unit(&mut rest);
        }
        (rest, lab.limit) = self.words.take_bound(&rest);
        // The full stop of "min." stays behind.
        if lab.limit.is_some() {
            rest.truncate(rest.trim_end_matches(['.', ',', ';', ' ']).len());
        }
        if lab.unit.is_none() && !cuts {
            lab.unit = take_unit(&mut rest);
        }
        let aside = self.words.aside.within(&rest);
        let mut bare = self.words.filler.without(&rest).0;
        bare = bare.replace(['(', ')', '[', ']', ',', ';', '*'], " ");
        let full = self.lexicon.understand(rest.trim(), &[]);
        let mut read = self.lexicon.understand(bare.trim(), &[]);
        if read.target.is_none() && full.target.is_some() {
            read = full.clone();
        }
        if !matches!(read.target, Some(Target::Property(_))) && !lab.forms.is_empty() {
            // "Conversion to H+ form": the form is part of what is meant.
            let forms: Vec<String> = lab.forms.iter().map(|form| format!("{form} form")).collect();
            let with_form = self.lexicon.understand(&format!("{} {}", bare.trim(), forms.join(" ")), &[]);
            let as_it_stands = self.lexicon.understand(&lab.text, &[]);
            let property = |label: &crate::lexicon::Label| matches!(label.target, Some(Target::Property(_)));
            if let Some(better) = [with_form, as_it_stands].into_iter().find(property) {
                read = better;
            }
        }
        lab.basis = full.basis.clone().or_else(|| read.basis.clone());
        if lab.forms.is_empty() {
            lab.forms.extend(full.form.clone());
        }
        if lab.unit.is_none() {
            lab.unit = full.unit.clone().filter(|unit| !is_time(unit));
        }
        lab.cut = full.cut.clone().or_else(|| read.cut.clone());
        let ids = |of: &crate::lexicon::Label| -> Vec<String> {
            of.facets.iter().filter_map(|id| self.lexicon.facet(*id)).map(|facet| facet.id.clone()).collect()
        };
        lab.facets = ids(&full);
        lab.facets.extend(ids(&read));
        lab.unexplained = if read.target.is_some() && full.is_clear() { Vec::new() } else { read.unexplained.clone() };
        lab.unexplained.extend(read.loose_numbers.iter().filter(|n| lab.cut.is_none() || n.len() > 4).cloned());
        let empty = !bare.chars().any(char::is_alphanumeric);
        let headless = |id: &str| {
            (id == "salt_splitting_capacity" || id == "weak_capacity") && !lab.facets.iter().any(|f| f == "capacity")
        };
        lab.kind = match &read.target {
            _ if empty => Kind::Sub,
            Some(Target::Property(id)) if headless(id) => Kind::Unknown,
            Some(Target::Property(id)) if id == "operating_capacity" => Kind::Property(id.clone()),
            _ if aside => Kind::Aside,
            Some(Target::Property(id)) => Kind::Property(id.clone()),
            Some(_) => Kind::Aside,
            None if self.says_nothing(&bare, &read) => Kind::Sub,
            None => Kind::Unknown,
        };
        lab
    }

    fn says_nothing(&self, bare: &str, read: &crate::lexicon::Label) -> bool {
        let silent = read.facets.iter().filter_map(|id| self.lexicon.facet(*id)).all(|facet| {
            matches!(
                facet.kind,
                FacetKind::Basis | FacetKind::Form | FacetKind::State | FacetKind::Filler | FacetKind::As
            )
        });
        let empty = !bare.chars().any(char::is_alphanumeric);
        empty
            || (silent && read.unexplained.is_empty() && read.loose_numbers.is_empty() && read.cut.is_none())
            || is_method(bare.trim())
    }

    /// The text without the forms it names: ions, then the lexicon's words.
    pub fn take_forms(&self, text: &str) -> (String, Vec<String>) {
        let (mut rest, mut forms) = self.words.take_ions(text);
        let words = split(&rest);
        let mut at = 0;
        let mut blank = Vec::new();
        while at < words.len() {
            let hit = (1..=4usize).rev().find_map(|length| {
                let run = words.get(at..at + length)?;
                let phrase: Vec<&str> = run.iter().map(|w| w.folded.as_str()).collect();
                let form = self.form_of(&phrase.join(" "))?;
                // A lone letter or ion is a form only with the word "form" or a charge.
                (length > 1 || phrase.first().is_some_and(|w| w.len() > 3)).then_some((length, form))
            });
            match hit {
                Some((length, form)) => {
                    if let (Some(first), Some(last)) = (words.get(at), words.get(at + length - 1)) {
                        blank.push((first.start, last.end));
                    }
                    forms.push(form);
                    at += length;
                }
                None => at += 1,
            }
        }
        for (start, end) in blank {
            rest.replace_range(start..end, &" ".repeat(end - start));
        }
        (rest, forms)
    }

    fn form_of(&self, phrase: &str) -> Option<String> {
        self.forms.iter().find(|(spelling, _)| spelling == phrase).map(|(_, form)| form.clone())
    }
}

/// Marks of footnotes are no part of a label.
fn without_marks(text: &str) -> String {
    static MARK: OnceLock<Option<Regex>> = OnceLock::new();
    let text = text.replace(['¹', '*', '†', '‡', '#'], " ");
    pattern(&MARK, r"\[\d{1,2}\]|\(\d\)|\b\d\)").map_or(text.clone(), |mark| mark.replace_all(&text, " ").into_owned())
}

/// "(± 5 %)" of a label.
fn take_tolerance(rest: &mut String) -> Option<(f64, bool)> {
    static TOLERANCE: OnceLock<Option<Regex>> = OnceLock::new();
    let found = pattern(&TOLERANCE, r"\(?\s*(?:±|\+/-)\s*(\d+(?:[.,]\d+)?)\s*(%?)\s*\)?")?;
    let (span, half, share) = {
        let caught = found.captures(rest)?;
        let half: f64 = caught.get(1)?.as_str().replace(',', ".").parse().ok()?;
        (caught.get(0)?.range(), half, caught.get(2).is_some_and(|m| !m.as_str().is_empty()))
    };
    rest.replace_range(span, " ");
    Some((half, share))
}

fn is_time(unit: &Unit) -> bool {
    unit.dimension == crate::quantity::Dimension { time: 1, ..Default::default() }
}

/// A unit in brackets, or at the end of the label.
pub fn take_unit(rest: &mut String) -> Option<Unit> {
    static BRACKETS: OnceLock<Option<Regex>> = OnceLock::new();
    let usable = |text: &str| {
        let unit = Unit::parse(text.trim().trim_matches(['(', ')', '[', ']', ',']))?;
        (!is_time(&unit)).then_some(unit)
    };
    if let Some(brackets) = pattern(&BRACKETS, r"[\(\[]\s*([^()\[\]]{1,24})\s*[\)\]]") {
        let hit = brackets
            .captures_iter(rest)
            .find_map(|caught| Some((caught.get(0)?.range(), usable(caught.get(1)?.as_str())?)));
        if let Some((span, unit)) = hit {
            rest.replace_range(span, " ");
            return Some(unit);
        }
    }
    let words: Vec<(usize, &str)> = {
        let mut at = 0;
        rest.split_whitespace()
            .filter_map(|word| {
                let start = rest.get(at..)?.find(word)? + at;
                at = start + word.len();
                Some((start, word))
            })
            .collect()
    };
    let most = words.len().min(5);
    let hit = (1..=most).rev().find_map(|count| {
        let (start, _) = words.get(words.len() - count)?;
        let text = rest.get(*start..)?;
        let unit = usable(text)?;
        let whole = *start == 0 || rest.trim() == text.trim();
        let comma = rest.get(..*start).is_some_and(|t| t.trim_end().ends_with([',', '/', ':', '-']));
        (!unit.is_risky_alone() || whole || comma || unit.kind == UnitKind::Percent).then_some((*start, unit))
    });
    let (start, unit) = hit?;
    rest.truncate(start);
    Some(unit)
}
