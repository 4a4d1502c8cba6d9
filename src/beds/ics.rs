//! What is due as a calendar that other programs take: RFC 5545.

use super::ahead::Due;

/// The calendar; `stamp` is the moment of writing in UTC, as `20250331T081500Z`. What is overdue stands on `today`, for
/// nobody looks at a day that has passed, and says since when.
///
/// Lines end in CR LF and are folded at 75 octets (3.1); text is escaped (3.3.11); an all-day event ends on the day
/// after (3.6.1). An event keeps its UID for as long as the bed and the task are the same, so that taking the calendar
/// in again moves the event and adds none.
///
/// ```
/// use beadwise::beds::{Due, calendar};
/// let due = Due {
///     bed: "mill-street-laundry/softener-2".into(),
///     title: "Softener 2, Mill Street Laundry".into(),
///     site: "Mill Street Laundry".into(),
///     what: "sample".into(),
///     on: "2026-05-20".into(),
///     why: "it is aging".into(),
///     how: "A core of the whole depth.".into(),
/// };
/// let text = calendar(&[due], "2025-11-25", "20251125T080000Z");
/// assert!(text.starts_with("BEGIN:VCALENDAR\r\nVERSION:2.0\r\n"));
/// assert!(text.contains("DTSTART;VALUE=DATE:20260520\r\nDTEND;VALUE=DATE:20260521\r\n"));
/// assert!(text.contains("SUMMARY:Resin sample: Softener 2\\, Mill Street Laundry\r\n"));
/// ```
pub fn calendar(due: &[Due], today: &str, stamp: &str) -> String {
    let mut lines = vec![
        "BEGIN:VCALENDAR".to_owned(),
        "VERSION:2.0".to_owned(),
        "PRODID:-//beadwise//beds due//EN".to_owned(),
        "CALSCALE:GREGORIAN".to_owned(),
        "METHOD:PUBLISH".to_owned(),
    ];
    for item in due {
        let late = item.on.as_str() < today;
        let on = if late { today } else { item.on.as_str() };
        let Some(day) = crate::judge::first_day(on) else { continue };
        let Some(after) = day.succ_opt() else { continue };
        let task = match item.what.as_str() {
            "freeboard" => "Tape the freeboard",
            _ => "Resin sample",
        };
        let since = if late { format!("Overdue since {}.\n", item.on) } else { String::new() };
        lines.push("BEGIN:VEVENT".to_owned());
        lines.push(format!("UID:{}", escaped(&format!("{}/{}@beadwise", item.bed, item.what))));
        lines.push(format!("DTSTAMP:{stamp}"));
        lines.push(format!("DTSTART;VALUE=DATE:{}", day.format("%Y%m%d")));
        lines.push(format!("DTEND;VALUE=DATE:{}", after.format("%Y%m%d")));
        lines.push(format!("SUMMARY:{}", escaped(&format!("{task}: {}", item.title))));
        lines.push(format!("DESCRIPTION:{}", escaped(&format!("{since}Why: {}.\n{}", item.why, item.how))));
        if !item.site.is_empty() {
            lines.push(format!("LOCATION:{}", escaped(&item.site)));
        }
        lines.push("TRANSP:TRANSPARENT".to_owned());
        lines.push("END:VEVENT".to_owned());
    }
    lines.push("END:VCALENDAR".to_owned());
    lines.iter().flat_map(|line| [folded(line), "\r\n".to_owned()]).collect()
}

/// Text as RFC 5545, 3.3.11 wants it; other control characters may not stand in a calendar.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' | ';' | ',' => {
                safe.push('\\');
                safe.push(c);
            }
            '\n' => safe.push_str("\\n"),
            c if c.is_control() => {}
            c => safe.push(c),
        }
    }
    safe
}

/// A line in pieces of at most 75 octets, each but the first after a blank; never inside a character.
fn folded(line: &str) -> String {
    let mut folded = String::with_capacity(line.len() + line.len() / 70);
    let mut used = 0;
    for c in line.chars() {
        if used + c.len_utf8() > 75 {
            folded.push_str("\r\n ");
            used = 1;
        }
        folded.push(c);
        used += c.len_utf8();
    }
    folded
}

#[cfg(test)]
mod tests {
    use super::*;

    fn due(title: &str) -> Due {
        Due {
            bed: "site/bed".into(),
            title: title.into(),
            site: "Blanchisserie des Trois Gués".into(),
            what: "sample".into(),
            on: "2026-12-31".into(),
            why: "aging; near its end".into(),
            how: "A core, wet".into(),
        }
    }

    #[test]
    fn every_line_is_within_75_octets_and_unfolds_to_what_it_was() {
        let long = "Adoucisseur très éloigné, ".repeat(12);
        let text = calendar(&[due(&long)], "2025-11-25", "20251125T080000Z");
        for line in text.split("\r\n") {
            assert!(line.len() <= 75, "{} octets: {line}", line.len());
        }
        let unfolded = text.replace("\r\n ", "");
        assert!(unfolded.contains(&format!("SUMMARY:Resin sample: {}", long.replace(',', "\\,"))));
        assert!(!text.replace("\r\n", "").contains('\n'), "no bare line feed");
    }

    #[test]
    fn the_last_day_of_a_year_ends_in_the_next() {
        let text = calendar(&[due("A")], "2025-11-25", "20251125T080000Z");
        assert!(text.contains("DTSTART;VALUE=DATE:20261231\r\nDTEND;VALUE=DATE:20270101\r\n"));
        assert!(text.contains("DESCRIPTION:Why: aging\\; near its end.\\nA core\\, wet\r\n"));
    }

    #[test]
    fn what_is_overdue_stands_on_today_and_says_since_when() {
        let text = calendar(&[due("A")], "2027-02-01", "20270201T080000Z");
        assert!(text.contains("DTSTART;VALUE=DATE:20270201\r\n"), "{text}");
        assert!(text.contains("Overdue since 2026-12-31.\\n"), "{text}");
    }

    #[test]
    fn control_characters_do_not_break_a_line() {
        let text = calendar(&[due("A\r\nBEGIN:VALARM\u{7}")], "2025-11-25", "20251125T080000Z");
        assert!(text.contains("SUMMARY:Resin sample: A\\nBEGIN:VALARM\r\n"));
    }
}
