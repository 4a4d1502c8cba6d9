//! The grammar of units: atoms with powers, products and quotients, then what is counted and what it is counted on.
//!
//! ```text
//! unit      = factor { operator factor } { tail }
//! factor    = [multiplier] [matter] atom [power] [substance]
//! operator  = "/" | per-word | "·" | "*" | blank (before a negative power only)
//! count     = [beads] of-word number [beads] [counted]
//! tail      = ["," | "-" | "("] { lead-word } ( as-word substance | matter | share | substance ) { follow-word } [")"]
//! ```
//!
//! Works on byte offsets into one text; every offset comes from a look-up or from `char_indices`.

use super::table::{Atom, Spellings, Table, table};
use super::{Dimension, Matter, Share, Unit, UnitKind, Volume};

/// Texts longer than this are no units.
const LONGEST_UNIT: usize = 120;

/// Most factors of one unit: "mg Fe / kg / d" has three.
const MOST_FACTORS: usize = 6;

/// Where the unit stands.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Setting {
    /// Alone: every word of the text belongs to it.
    Alone,
    /// In a line of other words: only what surely belongs to it is taken.
    Running,
}

#[derive(Clone, Debug)]
struct Draft {
    dimension: Dimension,
    factor: f64,
    offset: f64,
    kind: UnitKind,
    share: Option<Share>,
    substance: Option<String>,
    matter: Option<Matter>,
    factors: usize,
    per_volume: bool,
    starts_with: Dimension,
    first_id: String,
}

struct Scan<'a> {
    text: &'a str,
    table: &'static Table,
    setting: Setting,
}

/// Reads a text that is wholly a unit; brackets around it, and "in" before it, are allowed.
pub(super) fn parse_whole(text: &str) -> Option<Unit> {
    let text = strip_dressing(text)?;
    let collapsed = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let whole = |text: &str| {
        let (unit, end) = longest_unit(text, Setting::Alone)?;
        (end == text.len()).then_some(unit)
    };
    let found = whole(&collapsed).or_else(|| {
        let (scale, rest) = multiplier(&collapsed)?;
        let unit = whole(rest)?;
        (unit.offset == 0.0).then_some(Unit { factor: unit.factor * scale, ..unit })
    });
    let found = found.or_else(|| {
        let (word, rest) = collapsed.split_once(' ')?;
        let word = word.to_lowercase();
        matches!(word.as_str(), "in" | "en" | "unit:" | "units:" | "einheit:" | "unité:" | "unidad:")
            .then(|| whole(rest.trim_start_matches(['(', '[']).trim_end_matches([')', ']'])))?
    })?;
    Some(Unit { text: text.to_owned(), ..found })
}

/// Takes away blanks, a closing colon, and brackets that enclose the whole text.
fn strip_dressing(text: &str) -> Option<&str> {
    let mut text = text.trim();
    if text.is_empty() || text.len() > LONGEST_UNIT {
        return None;
    }
    for _ in 0..3 {
        text = text.trim_end_matches(':').trim();
        let inner = [('(', ')'), ('[', ']'), ('{', '}')].into_iter().find_map(|(open, close)| {
            let inner = text.strip_prefix(open)?.strip_suffix(close)?;
            // "(a) b (c)" is not enclosed.
            let closes_early = inner.find(close).is_some_and(|at| inner.find(open).is_none_or(|o| o > at));
            (!closes_early).then_some(inner)
        });
        match inner {
            Some(inner) => text = inner.trim(),
            None => break,
        }
    }
    Some(text)
}

/// "x 1000 gr/ft³", "10³ gr/ft³".
fn multiplier(text: &str) -> Option<(f64, &str)> {
    let text = text.strip_prefix(['x', '×']).map_or(text, str::trim_start);
    [("1000", 1e3), ("1,000", 1e3), ("10^3", 1e3), ("10³", 1e3), ("10^6", 1e6), ("10⁶", 1e6)]
        .into_iter()
        .find_map(|(sign, scale)| Some((scale, text.strip_prefix(sign)?.strip_prefix(' ')?)))
}

/// The longest unit at the start of the text, with its length in bytes.
pub(crate) fn longest_unit(text: &str, setting: Setting) -> Option<(Unit, usize)> {
    let text = clip(text, LONGEST_UNIT);
    let scan = Scan { text, table: table(), setting };
    if let Some(counted) = scan.share_of_beads() {
        return Some(counted);
    }
    let (draft, end) = scan.unit()?;
    let printed = text.get(..end)?;
    // "Fe 6200 Mg 150" speaks of magnesium.
    if !draft.factor.is_finite() || draft.factor == 0.0 || matches!(printed, "Mg" | "MG") {
        return None;
    }
    Some((
        Unit {
            text: printed.to_owned(),
            dimension: draft.dimension,
            factor: draft.factor,
            offset: draft.offset,
            substance: draft.substance,
            matter: draft.matter,
            kind: draft.kind,
            share: draft.share,
        },
        end,
    ))
}

/// The atom that the whole text spells.
pub(super) fn lone_atom(text: &str) -> Option<&'static Atom> {
    let text = text.trim().trim_end_matches('.');
    let (atom, end) = table().units.longest_at(text, |_, rest| rest.is_empty())?;
    (end == text.len()).then_some(atom)
}

fn clip(text: &str, most: usize) -> &str {
    let mut end = text.len().min(most);
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    text.get(..end).unwrap_or("")
}

/// A spelling that ends in a letter may not go on with one.
fn ends_word(head: &str, rest: &str) -> bool {
    !(head.ends_with(char::is_alphabetic) && rest.starts_with(char::is_alphabetic))
}

/// As [`ends_word`], and no digit either.
fn ends_token(head: &str, rest: &str) -> bool {
    ends_word(head, rest) && !(head.ends_with(char::is_alphanumeric) && rest.starts_with(char::is_numeric))
}

impl<'a> Scan<'a> {
    fn rest(&self, pos: usize) -> &'a str {
        self.text.get(pos..).unwrap_or("")
    }

    fn skip_blank(&self, pos: usize) -> usize {
        match self.rest(pos).chars().next() {
            Some(c) if c.is_whitespace() && c != '\n' => pos + c.len_utf8(),
            _ => pos,
        }
    }

    fn take(&self, pos: usize, sign: char) -> Option<usize> {
        self.rest(pos).starts_with(sign).then(|| pos + sign.len_utf8())
    }

    fn word<T: Clone>(&self, words: &Spellings<T>, pos: usize) -> Option<(T, usize)> {
        let (item, length) = words.longest_at(self.rest(pos), ends_token)?;
        Some((item.clone(), pos + length))
    }

    fn unit(&self) -> Option<(Draft, usize)> {
        let (first, mut pos) = self.factor(0, false)?;
        let mut draft = first;
        while draft.factors < MOST_FACTORS {
            let Some((next, after)) = self.operation(&draft, pos) else { break };
            draft = next;
            pos = after;
        }
        settle_share(&mut draft);
        let pieces = if draft.counts_matter() { 4 } else { 0 };
        for _ in 0..pieces {
            let Some(after) = self.tail(&mut draft, pos) else { break };
            pos = after;
        }
        Some((draft, pos))
    }

    /// "of 200 beads", "beads per 100", "in the hundred": a share of the beads that were counted.
    fn share_of_beads(&self) -> Option<(Unit, usize)> {
        // Fewer beads than this are no count, and odd numbers are something else.
        const LEAST: u32 = 50;
        const STEP: u32 = 50;
        let beads = |pos: usize| self.word(&self.table.count_beads, pos).map(|((), end)| end);
        let start = beads(0).map_or(0, |end| self.skip_blank(end));
        let ((), of) = self.word(&self.table.count_of, start)?;
        let at = self.skip_blank(of);
        if at == of {
            return None;
        }
        let digits = self.rest(at).chars().take_while(char::is_ascii_digit).count();
        let (number, mut end) = match self.rest(at).get(..digits).and_then(|d| d.parse::<u32>().ok()) {
            Some(number) => (number, at + digits),
            None => (100, self.word(&self.table.count_hundred, at)?.1),
        };
        if number < LEAST || number % STEP != 0 || self.rest(end).starts_with(['.', ',', '/', '%', '-', '–']) {
            return None;
        }
        let mut named = start > 0;
        if let Some(after) = beads(self.skip_blank(end)) {
            (named, end) = (true, after);
        }
        if let Some(((), after)) = self.word(&self.table.count_follow, self.skip_blank(end)) {
            (named, end) = (true, after);
        }
        if !named && self.setting == Setting::Running && number != 100 {
            return None;
        }
        Some((
            Unit {
                text: self.text.get(..end)?.to_owned(),
                dimension: Dimension::default(),
                factor: 1.0 / f64::from(number),
                offset: 0.0,
                substance: None,
                matter: None,
                kind: UnitKind::Percent,
                share: Some(Share::Count),
            },
            end,
        ))
    }

    fn operation(&self, draft: &Draft, pos: usize) -> Option<(Draft, usize)> {
        if let Some(after) = self.slash(pos) {
            if let Some((next, end)) = self.group(after).or_else(|| self.factor(after, true)) {
                return Some((combine(draft, &next, -1)?, end));
            }
            return None;
        }
        let at = self.skip_blank(pos);
        if let Some(dot) = ['·', '⋅', '•', '*', '∙'].into_iter().find_map(|sign| self.take(at, sign)) {
            let (next, end) = self.factor(self.skip_blank(dot), false)?;
            return Some((combine(draft, &next, 1)?, end));
        }
        // "MΩ-cm" is a product, "mg-L" is nothing.
        let hyphen = (draft.first_id == "ohm").then(|| self.take(pos, '-')).flatten();
        if let Some((next, end)) = hyphen.and_then(|p| self.factor(p, false)) {
            return Some((combine(draft, &next, 1)?, end));
        }
        let product = if at > pos { Some(at) } else { self.take(pos, '.') }?;
        let (next, end) = self.factor(product, false)?;
        next.inverse().then(|| combine(draft, &next, 1)).flatten().map(|d| (d, end))
    }

    /// "/" or a word for it, with the blanks around it.
    fn slash(&self, pos: usize) -> Option<usize> {
        let at = self.skip_blank(pos);
        if let Some(after) = self.take(at, '/') {
            return Some(self.skip_blank(after));
        }
        let ((), end) = self.word(&self.table.per, at)?;
        let after = self.skip_blank(end);
        // "5 mgper kg" has no word "per".
        (at > pos && after > end).then_some(after)
    }

    /// "(kg dry)" or "(L·d)" under a slash.
    fn group(&self, pos: usize) -> Option<(Draft, usize)> {
        let inside = self.take(pos, '(')?;
        let (mut draft, mut at) = self.factor(inside, true)?;
        while draft.factors < MOST_FACTORS {
            let Some((next, after)) = self.operation(&draft, at) else { break };
            draft = next;
            at = after;
        }
        // The words of matter are judged as under a slash.
        draft.per_volume = draft.dimension.length >= 3;
        if let Some(after) = self.words(&mut draft, self.skip_blank(at), true) {
            at = after;
        }
        let end = self.take(self.skip_blank(at), ')')?;
        Some((draft, end))
    }

    fn factor(&self, pos: usize, below: bool) -> Option<(Draft, usize)> {
        let (scale, pos) = if below { self.sample_size(pos) } else { (1.0, pos) };
        let mut matter = None;
        let mut at = pos;
        if below && let Some((found, end)) = self.word(&self.table.matter, pos) {
            let after = self.skip_blank(end);
            if after > end && self.atom(after).is_some() {
                matter = Some(found);
                at = after;
            }
        }
        let (atom, mut end) = self.atom(at).or_else(|| if below { None } else { self.glued_mass(at) })?;
        if let Some(dot) = self.abbreviation_dot(at, end) {
            end = dot;
        }
        let (power, after_power) = self.power(atom, end);
        end = after_power;
        let mut draft = Draft {
            dimension: raise(atom.dimension, power)?,
            factor: (atom.factor * scale).powi(i32::from(power)),
            offset: atom.offset,
            kind: if power == 1 { atom.kind } else { UnitKind::Ordinary },
            share: atom.share,
            substance: atom.substance.clone(),
            matter,
            factors: 1,
            per_volume: false,
            starts_with: atom.dimension,
            first_id: atom.id.clone(),
        };
        if !below && let Some((substance, after)) = self.attached_substance(&draft, end) {
            draft.substance = Some(substance);
            end = after;
        }
        Some((draft, end))
    }

    fn atom(&self, pos: usize) -> Option<(&'static Atom, usize)> {
        let (atom, length) = self.table.units.longest_at(self.rest(pos), ends_word)?;
        Some((atom, pos + length))
    }

    /// "mgFe/kg": the unit of mass runs into the formula.
    fn glued_mass(&self, pos: usize) -> Option<(&'static Atom, usize)> {
        let rest = self.rest(pos);
        ["kg", "mg", "µg", "ug", "g"].into_iter().find_map(|symbol| {
            let after = rest.strip_prefix(symbol)?;
            let (substance, length) = self.table.substances.longest_at(after, ends_token)?;
            let end = pos + symbol.len();
            (substance.by_formula && self.slash(end + length).is_some()).then_some(())?;
            let (atom, _) = self.table.units.longest_at(symbol, |_, rest| rest.is_empty())?;
            Some((atom, end))
        })
    }

    /// "100" in "mg/100 g".
    fn sample_size(&self, pos: usize) -> (f64, usize) {
        for (sign, size) in [("1,000", 1e3), ("1000", 1e3), ("100", 1e2), ("10", 1e1), ("1", 1.0)] {
            if let Some(rest) = self.rest(pos).strip_prefix(sign)
                && !rest.starts_with(|c: char| c.is_numeric() || c == '.' || c == ',')
            {
                return (size, self.skip_blank(pos + sign.len()));
            }
        }
        (1.0, pos)
    }

    /// The dot of "lbs." or "cu. ft.", not a decimal point.
    fn abbreviation_dot(&self, from: usize, end: usize) -> Option<usize> {
        let spelling = self.text.get(from..end)?;
        let after = self.take(end, '.')?;
        let next = self.rest(after).chars().next();
        (spelling.ends_with(char::is_alphabetic) && !next.is_some_and(char::is_alphanumeric)).then_some(after)
    }

    fn power(&self, atom: &Atom, pos: usize) -> (i8, usize) {
        let rest = self.rest(pos);
        // The hyphen and the inches of `2'-2"` are no power of a foot.
        let spelt = self.text.get(..pos).is_some_and(|head| head.ends_with(char::is_alphanumeric));
        if !spelt && rest.starts_with(|c: char| c.is_ascii_digit() || c == '-') {
            return (1, pos);
        }
        let length_like = atom.dimension == Dimension { length: 1, ..Dimension::default() };
        let time_like = atom.dimension == Dimension { time: 1, ..Dimension::default() };
        let mut chars = rest.chars().peekable();
        let mut length = 0;
        let mut bare = true;
        if let Some(c) = chars.next_if(|c| *c == '^') {
            bare = false;
            length += c.len_utf8();
        }
        let mut sign = 1;
        if let Some(c) = chars.next_if(|c| matches!(c, '-' | '−' | '⁻')) {
            sign = -1;
            length += c.len_utf8();
        }
        let Some(digit) = chars.next() else { return (1, pos) };
        length += digit.len_utf8();
        let size = match digit {
            '1' | '¹' => 1,
            '2' | '²' => 2,
            '3' | '³' => 3,
            _ => return (1, pos),
        };
        if chars.peek().is_some_and(|c| c.is_alphanumeric() || matches!(c, '⁰' | '⁴'..='⁹')) {
            return (1, pos);
        }
        // "92.5 %²" and "4.1 g²" carry a footnote, "26 in²" a square; "5 ft1" nothing at all.
        let fits = sign < 0 || (size > 1 && (length_like || (time_like && (!bare || digit.is_ascii()))));
        if fits { (sign * size, pos + length) } else { (1, pos) }
    }

    /// "mg Fe/kg", "g (CaCO3)/L", "grains as CaCO3 per ft³": only where the denominator follows.
    fn attached_substance(&self, draft: &Draft, pos: usize) -> Option<(String, usize)> {
        let d = draft.dimension;
        let counts = d.mass == 1 || d.amount == 1;
        if !counts || d.length != 0 {
            return None;
        }
        let mut at = self.skip_blank(pos);
        let bracket = [('(', ')'), ('[', ']')].into_iter().find_map(|(o, c)| Some((self.take(at, o)?, c)));
        if let Some((inside, _)) = bracket {
            at = inside;
        }
        for words in [&self.table.as_substance, &self.table.lead] {
            if let Some(((), end)) = self.word(words, at) {
                at = self.skip_blank(end);
                break;
            }
        }
        let (substance, mut end) = self.word(&self.table.substances, at)?;
        if let Some((_, close)) = bracket {
            end = self.take(end, close)?;
        }
        // A blank, or a formula run on as in "mgFe".
        let apart = at > pos || substance.by_formula;
        (apart && self.slash(end).is_some()).then_some((substance.id, end))
    }

    fn tail(&self, draft: &mut Draft, pos: usize) -> Option<usize> {
        let mut at = self.take(pos, ',').unwrap_or(pos);
        at = self.skip_blank(at);
        if let Some((inside, close)) =
            [('(', ')'), ('[', ']')].into_iter().find_map(|(o, c)| Some((self.take(at, o)?, c)))
        {
            let mut trial = draft.clone();
            let end = self.words(&mut trial, self.skip_blank(inside), true)?;
            let end = self.take(self.skip_blank(end), close)?;
            *draft = trial;
            return Some(end);
        }
        if self.setting == Setting::Alone
            && let Some(dash) = ['-', '–', ';'].into_iter().find_map(|sign| self.take(at, sign))
        {
            at = self.skip_blank(dash);
        }
        // A word needs something between itself and a unit that ends in a letter.
        let glued = at == pos && self.text.get(..pos).is_some_and(|t| t.ends_with(char::is_alphanumeric));
        if glued {
            return None;
        }
        self.words(draft, at, false)
    }

    /// Words of matter, substance and share, with the small words around them.
    fn words(&self, draft: &mut Draft, pos: usize, bracketed: bool) -> Option<usize> {
        let mut at = pos;
        let mut understood = None;
        let mut led = false;
        for _ in 0..10 {
            if let Some(end) = self.meaning(draft, at, bracketed, led) {
                understood = Some(end);
                led = false;
                at = self.between(end);
            } else if let Some(((), end)) = self.word(&self.table.follow, at).filter(|_| understood.is_some() && !led) {
                understood = Some(end);
                at = self.between(end);
            } else if let Some(((), end)) = self.word(&self.table.lead, at) {
                led = true;
                at = self.skip_blank(end);
            } else {
                break;
            }
        }
        understood
    }

    fn between(&self, pos: usize) -> usize {
        let pos = self.take(pos, ',').unwrap_or(pos);
        self.take(pos, '-').unwrap_or_else(|| self.skip_blank(pos))
    }

    fn meaning(&self, draft: &mut Draft, pos: usize, bracketed: bool, led: bool) -> Option<usize> {
        let sure = bracketed || self.setting == Setting::Alone;
        let fraction = draft.dimension == Dimension::default();
        if fraction
            && let Some((share, end)) = self.word(&self.table.share, pos)
            && (sure || !self.capitalised(pos, end))
        {
            draft.share = Some(share);
            return Some(end);
        }
        if let Some((matter, end)) = self.word(&self.table.matter, pos) {
            let bare_resin = matches!(matter, Matter::Resin(_)) && !led && self.next_is_word(end);
            if sure || (!self.capitalised(pos, end) && !bare_resin) {
                settle_matter(draft, matter);
                return Some(end);
            }
        }
        if let Some(((), end)) = self.word(&self.table.as_substance, pos) {
            let at = self.skip_blank(end);
            if at > end
                && let Some((substance, end)) = self.word(&self.table.substances, at)
            {
                return self.counted(draft, substance.id, end);
            }
        }
        let (substance, end) = self.word(&self.table.substances, pos)?;
        (sure || substance.tail).then(|| self.counted(draft, substance.id, end)).flatten()
    }

    /// "% Na form" speaks of a form, not of sodium.
    fn counted(&self, draft: &mut Draft, substance: String, end: usize) -> Option<usize> {
        let next = self.rest(end).trim_start_matches([' ', '-']).to_lowercase();
        if ["form", "cycle", "-form"].iter().any(|word| next.starts_with(word)) {
            return None;
        }
        draft.substance = Some(substance);
        Some(end)
    }

    /// A capital letter begins the next label of a line, but for German nouns and abbreviations.
    fn capitalised(&self, pos: usize, end: usize) -> bool {
        let Some(word) = self.text.get(pos..end) else { return true };
        let mut chars = word.chars();
        let first_is_capital = chars.next().is_some_and(char::is_uppercase);
        first_is_capital && chars.any(char::is_lowercase) && !self.table.nouns.contains(word)
    }

    fn next_is_word(&self, pos: usize) -> bool {
        self.rest(pos).trim_start().starts_with(char::is_alphabetic)
    }
}

impl Draft {
    /// "beads of resin", "days wet" are words; only fractions, masses, amounts and volumes are of something.
    fn counts_matter(&self) -> bool {
        let d = self.dimension;
        let fraction = d == Dimension::default() && !matches!(self.kind, UnitKind::Mesh | UnitKind::Dimensionless);
        fraction || d.mass != 0 || d.amount != 0 || d.length.abs() == 3
    }

    fn inverse(&self) -> bool {
        let d = self.dimension;
        let powers = [d.mass, d.length, d.amount, d.time, d.temperature, d.bead];
        powers.iter().any(|p| *p < 0) && powers.iter().all(|p| *p <= 0)
    }
}

fn settle_matter(draft: &mut Draft, matter: Matter) {
    draft.matter = match (matter, draft.matter) {
        // Volume is always of wet, settled resin; mass "of resin" says neither dry nor wet.
        (Matter::Wet | Matter::Resin(_), None) if draft.per_volume => Some(Matter::Resin(Volume)),
        (Matter::Resin(_), earlier) => earlier,
        (matter, None) => Some(matter),
        (_, earlier) => earlier,
    };
}

/// mg/kg is a share of mass, mL/L one of volume.
fn settle_share(draft: &mut Draft) {
    if draft.factors > 1 && draft.dimension == Dimension::default() && draft.share.is_none() {
        if draft.starts_with.mass == 1 {
            draft.share = Some(Share::Mass);
        } else if draft.starts_with.length == 3 {
            draft.share = Some(Share::Volume);
        }
    }
}

fn raise(dimension: Dimension, power: i8) -> Option<Dimension> {
    Some(Dimension {
        mass: dimension.mass.checked_mul(power)?,
        length: dimension.length.checked_mul(power)?,
        amount: dimension.amount.checked_mul(power)?,
        time: dimension.time.checked_mul(power)?,
        temperature: dimension.temperature.checked_mul(power)?,
        bead: dimension.bead.checked_mul(power)?,
    })
}

fn combine(draft: &Draft, next: &Draft, sign: i8) -> Option<Draft> {
    let other = raise(next.dimension, sign)?;
    let d = draft.dimension;
    let dimension = Dimension {
        mass: d.mass.checked_add(other.mass)?,
        length: d.length.checked_add(other.length)?,
        amount: d.amount.checked_add(other.amount)?,
        time: d.time.checked_add(other.time)?,
        temperature: d.temperature.checked_add(other.temperature)?,
        bead: d.bead.checked_add(other.bead)?,
    };
    let mut combined = Draft {
        dimension,
        factor: draft.factor * next.factor.powi(i32::from(sign)),
        offset: 0.0,
        kind: if draft.kind == UnitKind::Grains { UnitKind::Grains } else { UnitKind::Ordinary },
        share: None,
        substance: draft.substance.clone().or_else(|| next.substance.clone()),
        matter: draft.matter,
        factors: draft.factors + next.factors,
        per_volume: draft.per_volume || other.length <= -3,
        starts_with: draft.starts_with,
        first_id: draft.first_id.clone(),
    };
    if let Some(matter) = next.matter {
        settle_matter(&mut combined, matter);
    }
    Some(combined)
}
