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

/// How many letters must be put in, taken out or changed (Levenshtein).
///
/// ```
/// assert_eq!(beadwise::specs::distance("kitten", "sitting"), 3);
/// ```
pub fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.chars().enumerate() {
        let mut next = vec![i + 1];
        for ((y, above), diagonal) in b.iter().zip(row.iter().skip(1)).zip(&row) {
            let left = next.last().copied().unwrap_or(i + 1);
            next.push((above + 1).min(left + 1).min(diagonal + usize::from(x != *y)));
        }
        row = next;
    }
    row.last().copied().unwrap_or_default()
}

/// The nearest known name, and all of them where none is near: what a message offers.
pub fn near_or_all(asked: &str, known: &[&str]) -> String {
    nearest(asked, known.iter().copied()).map_or_else(|| known.join(", "), str::to_owned)
}
