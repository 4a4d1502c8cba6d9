//! The name that was likely meant.

/// The known name nearest to one that is not known; none where all are far from it.
///
/// ```
/// use beadwise::specs::nearest;
/// assert_eq!(nearest("capcity_sd", ["moisture_sd", "capacity_sd"].into_iter()), Some("capacity_sd"));
/// assert_eq!(nearest("zzz", ["capacity_sd"].into_iter()), None);
/// ```
pub fn nearest<'a>(asked: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let count = asked.chars().count();
    known
        .map(|name| (distance(asked, name), name))
        .filter(|(distance, name)| distance * 3 <= count || (count >= 3 && name.contains(asked)))
        .min()
        .map(|(_, name)| name)
}

/// How many letters must be put in, taken out, changed, or changed places with their neighbour
/// (optimal string alignment).
///
/// ```
/// use beadwise::specs::distance;
/// assert_eq!(distance("kitten", "sitting"), 3);
/// assert_eq!(distance("untis", "units"), 1);
/// ```
pub fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut before: Vec<usize> = Vec::new();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    let mut letter_before = None;
    for (i, x) in a.chars().enumerate() {
        let mut next = vec![i + 1];
        for (j, y) in b.iter().enumerate() {
            let at = |row: &[usize], j: usize| row.get(j).copied().unwrap_or(usize::MAX - 1);
            let mut best = (at(&row, j + 1) + 1).min(at(&next, j) + 1).min(at(&row, j) + usize::from(x != *y));
            let swapped = j > 0 && letter_before == Some(*y) && b.get(j - 1) == Some(&x);
            if swapped && let Some(cost) = before.get(j - 1) {
                best = best.min(cost + 1);
            }
            next.push(best);
        }
        before = std::mem::replace(&mut row, next);
        letter_before = Some(x);
    }
    row.last().copied().unwrap_or_default()
}

/// The nearest known name, and all of them where none is near: what a message offers.
pub fn near_or_all(asked: &str, known: &[&str]) -> String {
    nearest(asked, known.iter().copied()).map_or_else(|| known.join(", "), str::to_owned)
}
