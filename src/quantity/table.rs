//! The table of units, read once from `grammar/units.toml` and turned into look-ups by spelling.

use super::{Dimension, Matter, Share, UnitKind, Volume};
use serde::Deserialize;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::OnceLock;

const SOURCE: &str = include_str!("../../grammar/units.toml");

/// Longest spelling that is looked up, in characters: bounds the work on hostile text.
const LONGEST: usize = 40;

#[derive(Deserialize, Default)]
#[serde(default, deny_unknown_fields)]
struct File {
    prefix: Vec<PrefixEntry>,
    unit: Vec<UnitEntry>,
    substance: Vec<SubstanceEntry>,
    weights: BTreeMap<String, f64>,
    words: Words,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PrefixEntry {
    id: String,
    factor: String,
    symbols: Vec<String>,
    words: Vec<String>,
}

#[derive(Deserialize, Default)]
#[serde(default, deny_unknown_fields)]
struct UnitEntry {
    id: String,
    dimension: DimensionEntry,
    factor: String,
    offset: Option<String>,
    kind: Option<String>,
    share: Option<String>,
    substance: Option<String>,
    prefixes: Vec<String>,
    symbols: Vec<String>,
    exact: Vec<String>,
    names: Vec<String>,
    risky: Vec<String>,
    spaced: Vec<String>,
}

#[derive(Deserialize, Default)]
#[serde(default, deny_unknown_fields)]
struct DimensionEntry {
    mass: i8,
    length: i8,
    amount: i8,
    time: i8,
    temperature: i8,
    bead: i8,
}

#[derive(Deserialize, Default)]
#[serde(default, deny_unknown_fields)]
struct SubstanceEntry {
    id: String,
    formula: BTreeMap<String, u32>,
    key: Option<String>,
    charge: Option<String>,
    tail: bool,
    spellings: Vec<String>,
    names: Vec<String>,
}

#[derive(Deserialize, Default)]
#[serde(default, deny_unknown_fields)]
struct Words {
    per: Vec<String>,
    #[serde(rename = "as")]
    as_substance: Vec<String>,
    lead: Vec<String>,
    follow: Vec<String>,
    nouns: Vec<String>,
    counted: CountedWords,
    matter: MatterWords,
    share: ShareWords,
}

#[derive(Deserialize, Default)]
#[serde(default, deny_unknown_fields)]
struct CountedWords {
    of: Vec<String>,
    beads: Vec<String>,
    hundred: Vec<String>,
    follow: Vec<String>,
}

#[derive(Deserialize, Default)]
#[serde(default, deny_unknown_fields)]
struct MatterWords {
    dry: Vec<String>,
    dry_exact: Vec<String>,
    wet: Vec<String>,
    wet_exact: Vec<String>,
    resin: Vec<String>,
    resin_exact: Vec<String>,
}

#[derive(Deserialize, Default)]
#[serde(default, deny_unknown_fields)]
struct ShareWords {
    mass: Vec<String>,
    volume: Vec<String>,
    count: Vec<String>,
}

/// One unit of the table with its prefix, as one spelling gives it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Atom {
    /// Permanent id of the unit, without its prefix.
    pub id: String,
    pub dimension: Dimension,
    pub factor: f64,
    pub offset: f64,
    pub kind: UnitKind,
    pub share: Option<Share>,
    pub substance: Option<String>,
    /// This spelling means much else.
    pub risky: bool,
    /// This spelling is never glued to a number.
    pub spaced: bool,
}

/// A substance and how it may stand beside a unit.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Substance {
    pub id: String,
    pub formula: BTreeMap<String, u32>,
    pub key: Option<String>,
    pub tail: bool,
    /// Spelt as a formula, not as a word.
    pub by_formula: bool,
}

/// A look-up by spelling: first in the printed case, then in any.
#[derive(Debug)]
pub(super) struct Spellings<T> {
    exact: HashMap<String, T>,
    folded: HashMap<String, T>,
    /// Most text is no unit, and shows it within a character or two.
    tree: Tree,
    longest: usize,
}

impl<T> Default for Spellings<T> {
    fn default() -> Self {
        Self { exact: HashMap::new(), folded: HashMap::new(), tree: Tree::default(), longest: 0 }
    }
}

impl<T: Clone> Spellings<T> {
    fn measure(&mut self, spelling: &str) {
        self.longest = self.longest.max(spelling.chars().count()).min(LONGEST);
        self.tree.add(normal(spelling).chars().flat_map(char::to_lowercase));
        // A whole word may fold otherwise than its characters do one by one.
        self.tree.add(fold(spelling).chars());
    }

    fn add_exact(&mut self, spelling: &str, item: T) {
        self.measure(spelling);
        self.exact.entry(normal(spelling)).or_insert(item);
    }

    fn add_folded(&mut self, spelling: &str, item: T) {
        self.measure(spelling);
        self.folded.entry(fold(spelling)).or_insert(item);
    }

    /// The longest spelling that stands at the start of the text, with its length in bytes.
    ///
    /// `ends` says whether a spelling may end before the given rest of the text.
    pub fn longest_at(&self, text: &str, ends: impl Fn(&str, &str) -> bool) -> Option<(&T, usize)> {
        // Both spellings once, so that each cut is a slice of them, and only as far as any spelling goes.
        let (mut plain, mut folded) = (String::new(), String::new());
        let mut cuts = Vec::new();
        let mut node = 0;
        for (at, c) in text.char_indices().take(self.longest) {
            let c_plain = normal_char(c);
            let Some(next) = c_plain.to_lowercase().try_fold(node, |node, c| self.tree.after(node, c)) else { break };
            node = next;
            plain.push(c_plain);
            folded.extend(c_plain.to_lowercase());
            if self.tree.ends_at(node) {
                cuts.push((at + c.len_utf8(), plain.len(), folded.len()));
            }
        }
        for (cut, plain_cut, folded_cut) in cuts.into_iter().rev() {
            let found = plain
                .get(..plain_cut)
                .and_then(|head| self.exact.get(head))
                .or_else(|| folded.get(..folded_cut).and_then(|head| self.folded.get(head)));
            if let Some(item) = found
                && let (Some(head), Some(rest)) = (text.get(..cut), text.get(cut..))
                && ends(head, rest)
            {
                return Some((item, cut));
            }
        }
        None
    }
}

/// Which characters lead to a spelling, one after the other.
#[derive(Debug)]
struct Tree(Vec<Node>);

#[derive(Debug, Default)]
struct Node {
    next: Vec<(char, usize)>,
    ends: bool,
}

impl Default for Tree {
    fn default() -> Self {
        Self(vec![Node::default()])
    }
}

impl Tree {
    fn add(&mut self, spelling: impl Iterator<Item = char>) {
        let mut node = 0;
        for c in spelling {
            node = self.after(node, c).unwrap_or_else(|| {
                let new = self.0.len();
                self.0.push(Node::default());
                if let Some(node) = self.0.get_mut(node) {
                    node.next.push((c, new));
                }
                new
            });
        }
        if let Some(node) = self.0.get_mut(node) {
            node.ends = true;
        }
    }

    fn after(&self, node: usize, c: char) -> Option<usize> {
        self.0.get(node)?.next.iter().find(|(known, _)| *known == c).map(|(_, next)| *next)
    }

    fn ends_at(&self, node: usize) -> bool {
        self.0.get(node).is_some_and(|node| node.ends)
    }
}

/// The table ready to use.
#[derive(Debug, Default)]
pub(super) struct Table {
    pub units: Spellings<Atom>,
    pub substances: Spellings<Substance>,
    pub per: Spellings<()>,
    pub as_substance: Spellings<()>,
    pub lead: Spellings<()>,
    pub follow: Spellings<()>,
    pub matter: Spellings<Matter>,
    pub share: Spellings<Share>,
    pub count_of: Spellings<()>,
    pub count_beads: Spellings<()>,
    pub count_hundred: Spellings<()>,
    pub count_follow: Spellings<()>,
    pub nouns: HashSet<String>,
    pub by_id: HashMap<String, Substance>,
    pub weights: BTreeMap<String, f64>,
}

/// The built-in table.
pub(super) fn table() -> &'static Table {
    static TABLE: OnceLock<Table> = OnceLock::new();
    TABLE.get_or_init(|| load(SOURCE).unwrap_or_default())
}

/// Why a table of units could not be read.
#[derive(Debug, thiserror::Error)]
pub(super) enum TableError {
    #[error("the table of units is not TOML of the expected shape: {0}")]
    Shape(#[from] toml::de::Error),
    #[error("unit or prefix {id}: {what} is not known: {text}")]
    Entry { id: String, what: &'static str, text: String },
}

fn entry_error(id: &str, what: &'static str, text: &str) -> TableError {
    TableError::Entry { id: id.to_owned(), what, text: text.to_owned() }
}

pub(super) fn load(source: &str) -> Result<Table, TableError> {
    let file: File = toml::from_str(source)?;
    let mut table = Table { weights: file.weights, ..Table::default() };
    let mut prefixes = HashMap::new();
    for prefix in &file.prefix {
        let factor = product(&prefix.factor).ok_or_else(|| entry_error(&prefix.id, "factor", &prefix.factor))?;
        prefixes.insert(prefix.id.as_str(), (prefix, factor));
    }
    for unit in &file.unit {
        add_unit(&mut table.units, unit, &prefixes)?;
    }
    for entry in file.substance {
        add_substance(&mut table, entry);
    }
    add_words(&mut table.per, &file.words.per, ());
    add_words(&mut table.as_substance, &file.words.as_substance, ());
    add_words(&mut table.lead, &file.words.lead, ());
    add_words(&mut table.follow, &file.words.follow, ());
    let counted = &file.words.counted;
    add_words(&mut table.count_of, &counted.of, ());
    add_words(&mut table.count_beads, &counted.beads, ());
    add_words(&mut table.count_hundred, &counted.hundred, ());
    add_words(&mut table.count_follow, &counted.follow, ());
    let matter = &file.words.matter;
    for (words, exact, item) in [
        (&matter.dry, &matter.dry_exact, Matter::Dry),
        (&matter.wet, &matter.wet_exact, Matter::Wet),
        (&matter.resin, &matter.resin_exact, Matter::Resin(Volume)),
    ] {
        add_words(&mut table.matter, words, item);
        for word in exact {
            table.matter.add_exact(word, item);
        }
    }
    let share = &file.words.share;
    add_words(&mut table.share, &share.mass, Share::Mass);
    add_words(&mut table.share, &share.volume, Share::Volume);
    add_words(&mut table.share, &share.count, Share::Count);
    table.nouns = file.words.nouns.into_iter().collect();
    Ok(table)
}

fn add_words<T: Clone>(to: &mut Spellings<T>, words: &[String], item: T) {
    for word in words {
        to.add_folded(word, item.clone());
    }
}

fn add_unit(
    to: &mut Spellings<Atom>,
    unit: &UnitEntry,
    prefixes: &HashMap<&str, (&PrefixEntry, f64)>,
) -> Result<(), TableError> {
    let factor = product(&unit.factor).ok_or_else(|| entry_error(&unit.id, "factor", &unit.factor))?;
    let offset = match &unit.offset {
        Some(text) => product(text).ok_or_else(|| entry_error(&unit.id, "offset", text))?,
        None => 0.0,
    };
    let kind = match unit.kind.as_deref() {
        None => UnitKind::Ordinary,
        Some("percent") => UnitKind::Percent,
        Some("permille") => UnitKind::Permille,
        Some("ppm") => UnitKind::PartsPerMillion,
        Some("ppb") => UnitKind::PartsPerBillion,
        Some("mesh") => UnitKind::Mesh,
        Some("grains") => UnitKind::Grains,
        Some("hardness") => UnitKind::Hardness,
        Some("dimensionless") => UnitKind::Dimensionless,
        Some(other) => return Err(entry_error(&unit.id, "kind", other)),
    };
    let share = match unit.share.as_deref() {
        None => None,
        Some("mass") => Some(Share::Mass),
        Some("volume") => Some(Share::Volume),
        Some("count") => Some(Share::Count),
        Some(other) => return Err(entry_error(&unit.id, "share", other)),
    };
    let d = &unit.dimension;
    let dimension = Dimension {
        mass: d.mass,
        length: d.length,
        amount: d.amount,
        time: d.time,
        temperature: d.temperature,
        bead: d.bead,
    };
    let plain = Atom {
        id: unit.id.clone(),
        dimension,
        factor,
        offset,
        kind,
        share,
        substance: unit.substance.clone(),
        risky: false,
        spaced: false,
    };
    let atom = |spelling: &str, scale: f64| Atom {
        factor: factor * scale,
        risky: unit.risky.iter().any(|r| fold(r) == fold(spelling)),
        spaced: unit.spaced.iter().any(|r| r == spelling),
        ..plain.clone()
    };
    for spelling in unit.exact.iter().chain(&unit.symbols) {
        to.add_exact(spelling, atom(spelling, 1.0));
    }
    for spelling in unit.symbols.iter().chain(&unit.names) {
        to.add_folded(spelling, atom(spelling, 1.0));
    }
    for id in &unit.prefixes {
        let (prefix, scale) = prefixes.get(id.as_str()).ok_or_else(|| entry_error(&unit.id, "prefix", id))?;
        for sign in &prefix.symbols {
            for spelling in unit.exact.iter().chain(&unit.symbols) {
                to.add_exact(&format!("{sign}{spelling}"), Atom { risky: false, ..atom(spelling, *scale) });
            }
            for spelling in &unit.symbols {
                to.add_folded(&format!("{sign}{spelling}"), Atom { risky: false, ..atom(spelling, *scale) });
            }
        }
        for word in &prefix.words {
            for name in &unit.names {
                to.add_folded(&format!("{word}{name}"), Atom { risky: false, ..atom(name, *scale) });
            }
        }
    }
    Ok(())
}

fn add_substance(table: &mut Table, entry: SubstanceEntry) {
    let formula =
        Substance { id: entry.id.clone(), formula: entry.formula, key: entry.key, tail: entry.tail, by_formula: true };
    table.by_id.insert(entry.id.clone(), formula.clone());
    for spelling in std::iter::once(&entry.id).chain(&entry.spellings) {
        table.substances.add_exact(spelling, formula.clone());
        // "CACO3" is a heading in capitals; "FE" and "CL" are words and abbreviations too often.
        if spelling.chars().count() > 2 {
            table.substances.add_folded(spelling, formula.clone());
        }
    }
    if let Some(charge) = &entry.charge {
        for charged in charges(&entry.id, charge) {
            table.substances.add_exact(&charged, formula.clone());
        }
    }
    for name in &entry.names {
        table.substances.add_folded(name, Substance { by_formula: false, ..formula.clone() });
    }
}

/// Ways to print an ion: `Ca2+`, `Ca++`, `Ca+2`, `SO4 2-`.
fn charges(id: &str, charge: &str) -> Vec<String> {
    let sign = if charge.ends_with('+') { '+' } else { '-' };
    let count = charge.trim_end_matches(['+', '-']).parse::<usize>().unwrap_or(1);
    let mut forms = vec![format!("{id}{}", sign.to_string().repeat(count))];
    if count > 1 {
        forms.extend([
            format!("{id}{count}{sign}"),
            format!("{id}{sign}{count}"),
            format!("{id} {count}{sign}"),
            format!("{id}({count}{sign})"),
        ]);
    }
    // Iron is reported in either state.
    if id == "Fe" {
        forms.extend(["Fe3+".to_owned(), "Fe+3".to_owned(), "Fe+++".to_owned(), "Fe(III)".to_owned()]);
        forms.extend(["Fe(II)".to_owned(), "Fe(3+)".to_owned()]);
    }
    forms
}

/// Evaluates `a * b / c` of plain numbers.
fn product(text: &str) -> Option<f64> {
    let mut total: Option<f64> = None;
    let mut divide = false;
    for piece in text.split_whitespace() {
        match piece {
            "*" => divide = false,
            "/" => divide = true,
            number => {
                let number: f64 = number.parse().ok()?;
                total = Some(match total {
                    None => number,
                    Some(so_far) if divide => so_far / number,
                    Some(so_far) => so_far * number,
                });
            }
        }
    }
    total.filter(|v| v.is_finite() && *v != 0.0)
}

/// One spelling for signs that look alike: subscripts, superscript charges, the two micro signs, dashes and blanks.
fn normal(text: &str) -> String {
    text.chars().map(normal_char).collect()
}

fn normal_char(c: char) -> char {
    match c {
        '\u{3bc}' => 'µ',
        '₀'..='₉' => char::from_digit(u32::from(c) - 0x2080, 10).unwrap_or(c),
        '²' => '2',
        '³' => '3',
        '⁺' => '+',
        '⁻' | '−' | '–' | '‐' | '‑' => '-',
        c if c.is_whitespace() => ' ',
        c => c,
    }
}

fn fold(text: &str) -> String {
    normal(text).to_lowercase()
}
