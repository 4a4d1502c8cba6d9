//! Changes of units, labels and heads.

use super::*;

/// A unit printed with a figure: its word and bytes there.
fn unit_spot(known: &Known, random: &mut Random) -> Option<(Spot, At, Range<usize>)> {
    let spot = spot(known, random)?;
    let read = known.baseline.iter().find(|r| spot.target.is(r))?;
    let number_end = numbers(&read.as_written).first()?.end;
    let unit = read.as_written[number_end..].trim();
    if unit.is_empty() || unit.contains(char::is_whitespace) || !unit.contains(|c: char| c.is_alphabetic() || c == '%')
    {
        return None;
    }
    let text = &word(&known.document, spot.at).text;
    if text[spot.range.end..].trim() == unit {
        let start = text.len() - text[spot.range.end..].trim_start().len();
        let at = spot.at;
        return Some((spot, at, start..start + unit.len()));
    }
    let next = At { word: spot.at.word + 1, ..spot.at };
    let follows = line(&known.document, next).words.get(next.word)?;
    (follows.text == unit).then(|| (spot, next, 0..unit.len()))
}

fn with_unit(known: &Known, found: (Spot, At, Range<usize>), unit: &str, expect: Expect) -> Option<Changed> {
    let (spot, at, range) = found;
    let mut document = known.document.clone();
    let mut text = word(&document, at).text.clone();
    text.replace_range(range, unit);
    let what = format!("unit becomes \"{unit}\" in \"{}\"", line(&document, at).text());
    if text.trim().is_empty() {
        line_mut(&mut document, at).words.remove(at.word);
    } else {
        retype(&mut document, at, &text);
    }
    Some(Changed { document, what, expect, target: Some(spot.target), moves_samples: false })
}

pub fn unit_misspelled(known: &Known, random: &mut Random) -> Option<Changed> {
    let found = unit_spot(known, random)?;
    let unit = word(&known.document, found.1).text[found.2.clone()].to_owned();
    let letters: Vec<(usize, char)> = unit.char_indices().filter(|(_, c)| c.is_ascii_alphabetic()).collect();
    let (at, _) = *random.pick(&letters)?;
    let mut new = unit.clone();
    new.replace_range(at..=at, random.pick(&["x", "q", "w", "z"])?);
    with_unit(known, found, &new, Expect::Same)
}

/// Units that a property of this unit can't have, by the first letters of the unit as it stands.
pub fn unit_of_another_dimension(known: &Known, random: &mut Random) -> Option<Changed> {
    let found = unit_spot(known, random)?;
    let read = known.baseline.iter().find(|r| found.0.target.is(r))?;
    let others: &[&str] = match read.unit.as_deref()? {
        "%" => &["mm", "eq/L", "gpm"],
        "eq/L" => &["mm", "%", "psi"],
        "eq/kg" => &["mm", "%", "psi"],
        "mg/kg" | "mg/L" => &["mm", "psi", "gpm"],
        "mm" => &["%", "mg/L", "eq/L"],
        "g/L" | "g/mL" => &["mm", "eq/L", "psi"],
        "g/bead" => &["mm", "%", "eq/L"],
        "m" | "kPa" | "L" | "L/h" => &["%", "eq/L", "mg/kg"],
        _ => return None,
    };
    let other = *random.pick(others)?;
    with_unit(known, found, other, Expect::Doubted)
}

pub fn unit_of_another_size(known: &Known, random: &mut Random) -> Option<Changed> {
    // Exact factors within one dimension: 7,000 grains to the pound, the rest decimal.
    const SIZES: [(&str, &str, f64); 12] = [
        ("mg/kg", "g/kg", 1000.0),
        ("mg/L", "g/L", 1000.0),
        ("ppm", "mg/g", 1000.0),
        ("g/L", "kg/L", 1000.0),
        ("g/mL", "g/L", 0.001),
        ("mm", "µm", 0.001),
        ("µm", "mm", 1000.0),
        ("kgr/ft³", "lb/ft³", 7.0),
        ("kgr/ft3", "lb/ft3", 7.0),
        ("meq/mL", "eq/L", 1.0),
        ("meq/g", "eq/kg", 1.0),
        ("eq/L", "meq/L", 0.001),
    ];
    let found = unit_spot(known, random)?;
    let unit = &word(&known.document, found.1).text[found.2.clone()];
    let (_, other, factor) = *SIZES.iter().find(|(from, _, _)| *from == unit)?;
    with_unit(known, found, other, Expect::Scaled(factor))
}

pub fn unit_lost(known: &Known, random: &mut Random) -> Option<Changed> {
    let found = unit_spot(known, random)?;
    with_unit(known, found, "", Expect::Same)
}

pub fn unit_glued(known: &Known, random: &mut Random) -> Option<Changed> {
    let (spot, at, range) = unit_spot(known, random)?;
    let mut document = known.document.clone();
    let unit = word(&document, at).text[range.clone()].to_owned();
    let mut text = word(&document, spot.at).text.clone();
    if at == spot.at {
        text.replace_range(spot.range.end..range.start, "");
    } else {
        text.push_str(&unit);
        line_mut(&mut document, at).words.remove(at.word);
    }
    retype(&mut document, spot.at, &text);
    let what = format!("unit glued in \"{}\"", line(&known.document, spot.at).text());
    plain(document, what)
}

/// A word of letters before a figure on its line.
fn label_word(known: &Known, random: &mut Random) -> Option<(At, Range<usize>)> {
    let spot = spot(known, random)?;
    let of_line = &line(&known.document, spot.at).words;
    let before: Vec<(At, Range<usize>)> = (0..spot.at.word)
        .flat_map(|index| {
            let at = At { word: index, ..spot.at };
            long_words(&of_line[index].text).into_iter().map(move |r| (at, r))
        })
        .collect();
    random.pick(&before).cloned()
}

/// Runs of at least four letters.
pub fn long_words(text: &str) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    let mut start = None;
    for (at, c) in text.char_indices().chain([(text.len(), ' ')]) {
        if c.is_alphabetic() {
            start.get_or_insert(at);
        } else if let Some(from) = start.take()
            && text[from..at].chars().count() >= 4
        {
            found.push(from..at);
        }
    }
    found
}

fn misspelled(text: &str, random: &mut Random) -> String {
    let mut letters: Vec<char> = text.chars().collect();
    let at = random.below(letters.len() - 1);
    match random.below(3) {
        0 => letters.swap(at, at + 1),
        1 => drop(letters.remove(at)),
        _ => letters.insert(at, letters[at]),
    }
    letters.into_iter().collect()
}

fn reworded(known: &Known, at: At, range: Range<usize>, new: &str) -> Option<Changed> {
    let mut document = known.document.clone();
    let mut text = word(&document, at).text.clone();
    if text[range.clone()] == *new {
        return None;
    }
    let what = format!("\"{}\" becomes \"{new}\" in \"{}\"", &text[range.clone()], line(&document, at).text());
    text.replace_range(range, new);
    if text.trim().is_empty() {
        line_mut(&mut document, at).words.remove(at.word);
    } else {
        retype(&mut document, at, &text);
    }
    plain(document, what)
}

pub fn label_misspelled(known: &Known, random: &mut Random) -> Option<Changed> {
    let (at, range) = label_word(known, random)?;
    let new = misspelled(&word(&known.document, at).text[range.clone()], random);
    reworded(known, at, range, &new)
}

/// Words that no language of the trade has.
const NONSENSE: [&str; 3] = ["Quorvix", "blandorf", "Zerrumpel"];

pub fn label_of_nonsense(known: &Known, random: &mut Random) -> Option<Changed> {
    let (at, range) = label_word(known, random)?;
    let new = *random.pick(&NONSENSE)?;
    reworded(known, at, range, new)
}

/// A word of letters above a figure, on a line without figures.
fn head_word(known: &Known, random: &mut Random) -> Option<(At, Range<usize>)> {
    let spot = spot(known, random)?;
    let lines = &known.document.parts[spot.at.part].pages[spot.at.page].lines;
    let is_of_figure = |l: &Line| l.words.iter().any(|w| known.baseline.iter().any(|b| b.place == w.place));
    let above: Vec<(At, Range<usize>)> = (spot.at.line.saturating_sub(12)..spot.at.line)
        .filter(|index| !is_of_figure(&lines[*index]))
        .flat_map(|index| {
            lines[index].words.iter().enumerate().flat_map(move |(word, w)| {
                let at = At { line: index, word, ..spot.at };
                long_words(&w.text).into_iter().map(move |r| (at, r))
            })
        })
        .collect();
    random.pick(&above).cloned()
}

/// What is said of the samples may go with a head; what is said of the figures may not change unseen.
fn of_a_head(changed: Option<Changed>) -> Option<Changed> {
    changed.map(|c| Changed { moves_samples: true, ..c })
}

pub fn head_word_lost(known: &Known, random: &mut Random) -> Option<Changed> {
    let (at, range) = head_word(known, random)?;
    of_a_head(reworded(known, at, range, ""))
}

pub fn head_word_of_nonsense(known: &Known, random: &mut Random) -> Option<Changed> {
    let (at, range) = head_word(known, random)?;
    let new = *random.pick(&NONSENSE)?;
    of_a_head(reworded(known, at, range, new))
}
