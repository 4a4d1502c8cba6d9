//! Names of laboratories and customers: letterheads, signatures, address blocks, "for Lakeside Creameries".

use super::super::mentions;
use super::text::Text;
use super::words::{Passing, begins, holds, lower, occurrences};
use super::{Found, Reading, tidy};
use crate::lexicon::{Lexicon, class_words_in};
use crate::value::date::find_dates;
use regex::Regex;
use std::sync::OnceLock;

/// Lines in which a letterhead may stand, and in which a letter may be signed.
const HEAD: usize = 4;
const FOOT: usize = 7;

/// Laboratory and customer.
pub fn find(page: &Reading<'_>) -> Vec<Found> {
    let mut found = laboratory(page);
    let laboratory = found.first().map(|f| f.text.clone());
    found.extend(customer(page, laboratory.as_deref()));
    found
}

fn laboratory(page: &Reading<'_>) -> Vec<Found> {
    let data = Passing::builtin();
    let (leads, trade) = (data.phrases("laboratory", "leads"), data.phrases("laboratory", "trade"));
    let mut found = Vec::new();
    for line in page.lines {
        let small = lower(&line.text);
        for (_, to) in leads.iter().flat_map(|p| occurrences(&small, p)) {
            let rest = line.text.get(to..).unwrap_or_default();
            let shift = rest.len() - rest.trim_start_matches([' ', ':', '|', '*']).len();
            let rest = rest.get(shift..).unwrap_or_default();
            let end = rest.find([',', ';', '|', '(']).or_else(|| rest.find(". ")).unwrap_or(rest.len());
            let name = rest.get(..end).unwrap_or_default().trim().trim_end_matches(['.', '"']);
            let named = holds(name, trade) || mentions::laboratory(name, page.lexicon).is_some();
            if named && is_name(name, page.lexicon) {
                found.push(Found::new("laboratory", name, line, to + shift, to + shift + name.len()));
            }
        }
    }
    let last = page.lines.len().saturating_sub(FOOT);
    let places = page.lines.iter().enumerate().filter(|(at, _)| *at < HEAD || *at >= last);
    for (at, line) in places {
        for (start, cell) in line.cells() {
            let cell_part = mentions::parts(cell).into_iter().find_map(|p| tidy::laboratory(p, page.lexicon));
            let Some(name) = cell_part else { continue };
            let strong = mentions::laboratory(&name, page.lexicon).is_some();
            if is_name(&name, page.lexicon) && (strong || holds(&name, trade)) && !labelled(line, start) {
                let from = start + cell.find(name.as_str()).unwrap_or(0);
                let named = Found::new("laboratory", &name, line, from, from + name.len());
                found.push(named);
            }
        }
        if at == 0
            && let Some(name) = by_its_address(page)
        {
            // A tagline of the trade, or a street, stands below the name of a house.
            found.insert(0, name);
        }
    }
    found
}

/// A name on the first line, with an address or a line on its trade below it.
fn by_its_address(page: &Reading<'_>) -> Option<Found> {
    let data = Passing::builtin();
    let (address, trade) = (data.phrases("laboratory", "address"), data.phrases("laboratory", "trade"));
    let first = page.lines.first().filter(|l| !l.table && l.line < page.first_figure)?;
    let (_, cell) = first.cells().into_iter().next()?;
    let (name, behind) = cell.split_once(',').unwrap_or((cell, ""));
    let name = name.trim();
    if !is_name(name, page.lexicon) || mentions::laboratory(cell, page.lexicon).is_some() {
        return None;
    }
    let below = page.lines.get(1)?;
    let tagline = below.cells().len() == 1
        && !below.text.contains(|c: char| c.is_ascii_digit() || c == ':')
        && (holds(&below.text, trade) || mentions::laboratory(&below.text, page.lexicon).is_some());
    let street = |t: &str| holds(t, address) || is_town(t);
    let addressed = street(behind) || below.paragraph == first.paragraph && street(&below.text);
    let found = Found::new("laboratory", name, first, 0, name.len());
    match (holds(name, trade) || tagline, addressed) {
        (true, true) | (true, false) if tagline || addressed => Some(found),
        (false, true) => Some(found.unsure()),
        _ => None,
    }
}

fn labelled(line: &Text, start: usize) -> bool {
    line.text.get(..start).is_some_and(|t| t.trim_end_matches([' ', '|']).ends_with([':', '=']))
}

fn customer(page: &Reading<'_>, laboratory: Option<&str>) -> Vec<Found> {
    let leads = Passing::builtin().phrases("customer", "leads");
    let mut found = Vec::new();
    for (number, line) in page.lines.iter().enumerate() {
        if super::numbers::is_head_of_mail(line, true) {
            continue;
        }
        for (at, cell) in line.cells() {
            let small = lower(cell);
            for (from, to) in leads.iter().flat_map(|p| occurrences(&small, p)) {
                let rest = cell.get(to..).unwrap_or_default();
                let shift = rest.len() - rest.trim_start_matches([' ', ':', '=', '|']).len();
                let inside = from > 0;
                let opens = cell
                    .get(..from)
                    .is_some_and(|t| t.trim_end().ends_with(['(', ';', '.', ',']) || t.trim().is_empty());
                if !opens || inside && !cell.get(to..).is_some_and(|t| t.starts_with(' ')) {
                    continue;
                }
                if let Some(name) = house(rest.get(shift..).unwrap_or_default(), page.lexicon) {
                    let start = at + to + shift;
                    found.push(Found::new("customer", name, line, start, start + name.len()));
                }
            }
            // "for Lakeside Creameries" in a line of its own at the head.
            let head = line.line < page.first_figure && number < 3 * HEAD;
            for word in ["for ", "für ", "pour ", "para "] {
                if head
                    && small.starts_with(word)
                    && let Some(name) = cell.get(word.len()..).and_then(|rest| house(rest, page.lexicon))
                {
                    let start = at + word.len();
                    found.push(Found::new("customer", name, line, start, start + name.len()));
                }
            }
        }
        // A label in its own cell: "Business | Sunraysia Citrus Packers", "To | Buckhorn Creek Campground"
        for (pair, next) in line.cells().iter().zip(line.cells().iter().skip(1)) {
            let label = lower(pair.1.trim().trim_end_matches(':'));
            let known = leads.iter().any(|l| l.trim_end_matches([':', '=']).trim() == label);
            if known && let Some(name) = house(next.1, page.lexicon) {
                found.push(Found::new("customer", name, line, next.0, next.0 + name.len()));
            }
        }
    }
    if found.is_empty() {
        found.extend(address_block(page));
    }
    found.retain(|f| laboratory.is_none_or(|l| lower(l) != lower(&f.text)));
    found
}

/// The name that a text begins with: up to a comma, a bracket, or the end of its sentence.
fn house<'t>(text: &'t str, lexicon: &Lexicon) -> Option<&'t str> {
    let mut end = text.find([',', ';', '(', '|', '/']).unwrap_or(text.len());
    if let Some(stop) = text.find(". ").filter(|stop| *stop < end && *stop > 3) {
        end = stop;
    }
    // "Textiles Monreal, S.A."
    let forms = Passing::builtin().phrases("laboratory", "forms");
    if text.get(end..).is_some_and(|t| t.starts_with(','))
        && let Some(next) = text.get(end + 1..)
    {
        let piece = next.split([',', ';', '(', '|']).next().unwrap_or_default();
        if forms.contains(&lower(piece.trim())) {
            end += 1 + piece.len();
        }
    }
    let name = text.get(..end)?.trim_end();
    let name = if forms.iter().any(|f| lower(name).ends_with(f.as_str())) { name } else { name.trim_end_matches('.') };
    is_name(name, lexicon).then_some(name)
}

/// A proper name: words with capitals, of which one at least is no word of a report.
pub fn is_name(text: &str, lexicon: &Lexicon) -> bool {
    let words: Vec<&str> = text.split_whitespace().collect();
    let small = |w: &str| {
        w.len() <= 3 && w.chars().all(|c| !c.is_uppercase()) || matches!(w, "und" | "für" | "from" | "zur" | "zum")
    };
    let capital =
        |w: &str| w.trim_start_matches(['(', '"', '\'', '«']).starts_with(|c: char| c.is_uppercase() || c == '&');
    let proper = words.iter().any(|w| {
        let bare = w.trim_matches(|c: char| !c.is_alphanumeric());
        bare.chars().count() > 2 && capital(w) && !lexicon.explains(bare)
    });
    let report = Passing::builtin().phrases("report_number", "leads");
    (1..=9).contains(&words.len())
        && words.first().is_some_and(|w| capital(w))
        && words.iter().all(|w| capital(w) || small(w))
        && proper
        && !text.contains([':', '=', '@', '|', '%', ';'])
        && !text.chars().any(|c| c.is_ascii_digit())
        && !holds(text, report)
        && class_words_in(text).is_none()
        && find_dates(text).is_empty()
        && !mentions::is_title(text)
}

/// "Hutchinson, KS 67500", "Wivenholt, Essex CO99 4ZZ", "1122 E. Iron Avenue", "74999 Grünwinkel"
pub fn is_town(text: &str) -> bool {
    static TOWN: OnceLock<Option<Regex>> = OnceLock::new();
    TOWN.get_or_init(|| {
        Regex::new(r"\b[A-Z]{2}\s+\d{5}\b|\b[A-Z]{1,2}\d{1,2}[A-Z]?\s?\d[A-Z]{2}\b|^(?:[A-Z]{1,2}-)?\d{4,5}\s+\p{Lu}|^\s*\d{1,5},?\s+(?:[NSEW]\.?\s+)?\p{L}{3,}").ok()
    })
    .as_ref()
    .is_some_and(|p| p.is_match(text))
}

/// The first line of an address below the letterhead, or above a greeting.
fn address_block(page: &Reading<'_>) -> Option<Found> {
    let data = Passing::builtin();
    let (roles, greetings) = (data.phrases("customer", "roles"), data.phrases("customer", "greetings"));
    let address = data.phrases("laboratory", "address");
    let head: Vec<&Text> =
        page.lines.iter().filter(|l| !l.table && l.part == 0 && l.line < page.first_figure).take(24).collect();
    let first = head.first()?.paragraph;
    let mut at = 0;
    while let Some(line) = head.get(at) {
        let block: Vec<&&Text> = head.iter().skip(at).take_while(|l| l.paragraph == line.paragraph).collect();
        let after = head.get(at + block.len());
        at += block.len();
        if line.paragraph == first || block.len() > 6 {
            continue;
        }
        let left: Vec<&str> = block.iter().map(|l| l.cells().first().map_or("", |c| c.1).trim()).collect();
        let role = begins(left.first()?, roles).is_some_and(|rest| rest.trim().is_empty());
        let greeted = after.is_some_and(|l| begins(&l.text, greetings).is_some());
        let addressed = left.iter().skip(1).any(|t| is_town(t) || holds(t, address));
        if !(addressed || role || greeted && block.len() >= 2) {
            continue;
        }
        let named = block.iter().zip(&left).find(|(_, t)| begins(t, roles).is_none_or(|r| !r.trim().is_empty()));
        if let Some((line, name)) = named
            && let Some(name) = house(name, page.lexicon)
        {
            let start = line.text.find(name).unwrap_or(0);
            return Some(Found::new("customer", name, line, start, start + name.len()));
        }
    }
    None
}
