//! Numbers to digits as a spreadsheet writes them: fifteen significant digits, halves away from zero.

/// Significant digits that a spreadsheet shows of a double at most.
const SIGNIFICANT: usize = 15;

/// As many digits as there are: `37.6`, `0.3` for the sum of 0.1 and 0.2, `1E+20` beyond twenty places.
///
/// ```
/// use beadwise::readers::kit::decimal::general;
/// assert_eq!(general(0.1 + 0.2), "0.3");
/// assert_eq!(general(-6200.0), "-6200");
/// ```
pub fn general(value: f64) -> String {
    if value == 0.0 {
        return "0".into();
    }
    let (digits, exponent) = significant(value);
    let digits = digits.trim_end_matches('0');
    if !(-10..=20).contains(&exponent) {
        return scientific(value, digits.len().saturating_sub(1));
    }
    fixed(value, usize::try_from(digits.len() as i64 - 1 - i64::from(exponent)).unwrap_or(0), 0, 1)
}

/// With at most `most` and at least `least` decimals, and at least `integers` figures before the point.
pub fn fixed(value: f64, most: usize, least: usize, integers: usize) -> String {
    let most = most.min(30);
    let (digits, exponent) = significant(value);
    // Position of the last digit kept, counted in digits from the first significant one.
    let keep = i64::from(exponent) + 1 + most as i64;
    let (digits, exponent) = rounded(&digits, exponent, keep);
    let at = |power: i64| {
        let index = usize::try_from(i64::from(exponent) - power).ok();
        index.and_then(|i| digits.as_bytes().get(i)).map_or('0', |b| char::from(*b))
    };
    let top = i64::from(exponent).max(integers as i64 - 1).min(330);
    let whole: String = (0..=top).rev().map(at).collect();
    let whole = whole.trim_start_matches('0');
    let whole = format!("{whole:0>integers$}", integers = integers.min(330));
    let part: String = (1..=most as i64).map(|place| at(-place)).collect();
    let trimmed = part.trim_end_matches('0').len().max(least.min(part.len()));
    let part = part.get(..trimmed).unwrap_or_default();
    let point = if part.is_empty() { "" } else { "." };
    let is_zero = whole.bytes().chain(part.bytes()).all(|b| b == b'0');
    let whole = if whole.is_empty() && part.is_empty() { "0" } else { whole.as_str() };
    let sign = if value < 0.0 && !is_zero { "-" } else { "" };
    format!("{sign}{whole}{point}{part}")
}

/// `6.20E+03`.
pub fn scientific(value: f64, decimals: usize) -> String {
    let decimals = decimals.min(SIGNIFICANT - 1);
    if value == 0.0 {
        return format!("{}E+00", fixed(0.0, decimals, decimals, 1));
    }
    let (digits, exponent) = significant(value);
    let (digits, exponent) = rounded(&digits, exponent, decimals as i64 + 1);
    let (first, rest) = digits.split_at(1.min(digits.len()));
    let part: String = rest.chars().chain(std::iter::repeat('0')).take(decimals).collect();
    let point = if part.is_empty() { "" } else { "." };
    let sign = if value < 0.0 { "-" } else { "" };
    format!("{sign}{first}{point}{part}E{}{:02}", if exponent < 0 { '-' } else { '+' }, exponent.abs())
}

/// The significant digits of a number and the power of ten of the first one.
fn significant(value: f64) -> (String, i32) {
    let written = format!("{:.*e}", SIGNIFICANT - 1, value.abs());
    let (digits, exponent) = written.split_once('e').unwrap_or((&written, "0"));
    (digits.replace('.', ""), exponent.parse().unwrap_or(0))
}

/// Rounds to the first `keep` digits, halves up.
fn rounded(digits: &str, exponent: i32, keep: i64) -> (String, i32) {
    let Ok(keep) = usize::try_from(keep) else { return ("0".into(), exponent) };
    let Some(next) = digits.as_bytes().get(keep) else { return (digits.to_owned(), exponent) };
    let mut kept: Vec<u8> = digits.bytes().take(keep).collect();
    if *next < b'5' {
        return (String::from_utf8(kept).unwrap_or_default(), exponent);
    }
    for digit in kept.iter_mut().rev() {
        if *digit == b'9' {
            *digit = b'0';
        } else {
            *digit += 1;
            return (String::from_utf8(kept).unwrap_or_default(), exponent);
        }
    }
    kept.insert(0, b'1');
    (String::from_utf8(kept).unwrap_or_default(), exponent + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_round_away_from_zero_as_they_are_printed() {
        // 2.675 is stored a little below its printed value; a spreadsheet still shows 2.68.
        assert_eq!(fixed(2.675, 2, 2, 1), "2.68");
        assert_eq!(fixed(-2.5, 0, 0, 1), "-3");
        assert_eq!(fixed(0.5, 0, 0, 1), "1");
        assert_eq!(fixed(0.05, 1, 1, 1), "0.1");
        assert_eq!(fixed(0.004, 2, 2, 1), "0.00");
        assert_eq!(fixed(99.96, 1, 1, 1), "100.0");
        assert_eq!(fixed(0.0, 1, 1, 1), "0.0");
        assert_eq!(fixed(0.0, 0, 0, 0), "0");
    }

    #[test]
    fn general_shows_what_was_typed() {
        for text in ["1.721", "47.3", "6200", "0.00012", "123456789012345", "0.1"] {
            assert_eq!(text.parse::<f64>().map(general), Ok(text.to_owned()));
        }
        assert_eq!(general(1e22), "1E+22");
        assert_eq!(general(1.5e-12), "1.5E-12");
    }
}
