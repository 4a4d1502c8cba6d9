//! What stands around a report on every page: telephone and page numbers, addresses, the head of a mail.

use super::layout::Strip;
use super::ledger::{Ledger, WordId};
use regex::Regex;
use std::sync::OnceLock;

/// Telephone numbers, page numbers, post codes, web addresses: numbers that no report means as figures.
pub fn set_aside(strip: &Strip<'_>, ledger: &mut Ledger) {
    let whole = strip.text();
    let text = whole.as_str();
    static PHONE: OnceLock<Option<Regex>> = OnceLock::new();
    static PAGE: OnceLock<Option<Regex>> = OnceLock::new();
    static ADDRESS: OnceLock<Option<Regex>> = OnceLock::new();
    static LIMIT: OnceLock<Option<Regex>> = OnceLock::new();
    let matches = |cell: &'static OnceLock<Option<Regex>>, source: &str| {
        cell.get_or_init(|| Regex::new(source).ok())
            .as_ref()
            .map(|p| p.find_iter(text).map(|m| m.as_str().to_owned()).collect::<Vec<_>>())
            .unwrap_or_default()
    };
    let phone = matches(
        &PHONE,
        r"(?i)(?:\b(?:tel|telefon|t[ée]l[ée]?(?:phone|fono)?|phone|fax|ph|mobile|call|m[óo]vil)\b[.:\s]*|\+)[\d()+\-/.\s]{5,}|\(?\b\d{3}\)?[-.\s]\d{3}[-.]\d{4}\b|\b\d{3}-\d{4}\b",
    );
    let page = matches(
        &PAGE,
        r"(?i)\b(?:page|pg\.?|seite|blatt|p[áa]gina|hoja|sheet|p\.)\s*\d+(?:\s*(?:of|/|von|de|sur|-)\s*\d+)?|^\s*-?\s*\d+\s*/\s*\d+\s*-?\s*$",
    );
    let address = matches(
        &ADDRESS,
        r"(?i)\bp\.?\s?o\.?\s?box\s+\d+|\b[A-Z]{2}\s+\d{5}(?:-\d{4})?\b|\b\d{1,5}\s+(?:[NSEW]\.?\s+)?[A-Z][\w.']+(?:\s[A-Z][\w.']+)?\s(?:street|st|road|rd|avenue|ave|lane|ln|drive|dr|blvd|way|court|ct|place|highway|hwy|parkway|pike)\b|\b(?:\w+(?:stra(?:ß|ss)e|str\.|weg|platz|gasse|allee))\s+\d+\w?|\b(?:[A-Z]{1,2}-)?\d{5}\s+[A-ZÄÖÜÉ][\w\-]+|\b\d{1,4}[,]?\s(?:bis\s)?(?:rue|avenue|boulevard|chemin|route|impasse|place|quai)\s|\b(?:calle|avenida|av\.|carretera|camino|pol[íi]gono|c/)\s[^,\d]*,?\s*(?:n[.º°]*\s*)?\d+|\S+@\S+|https?://\S+|www\.\S+|\b(?:suite|ste|unit|room|bldg|building)\s+\d+\w?\b|\b(?:route|highway|hwy|rte)\s+\d+",
    );
    let quality = matches(&LIMIT, r"(?i)\b(?:ISO|IEC|EN|DIN|ASTM)[\s/]*(?:IEC|EN|ISO)?\s?\d{4,5}(?:[-:]\d+)*");
    for (list, reason) in [(phone, "telephone"), (page, "page-number"), (address, "address"), (quality, "method")] {
        for found in list {
            if found.chars().filter(|c| c.is_ascii_digit()).count() == 0 {
                continue;
            }
            let words: Vec<WordId> = strip
                .words
                .iter()
                .filter(|w| {
                    let token = w.word.text.trim();
                    !token.is_empty() && found.contains(token.trim_end_matches([',', '.', ';']))
                })
                .map(|w| w.id)
                .collect();
            ledger.set_aside(&words, reason);
        }
    }
}

/// "From: ...": a line of a mail's own head.
pub fn is_mail_head(text: &str) -> bool {
    static HEAD: OnceLock<Option<Regex>> = OnceLock::new();
    HEAD.get_or_init(|| {
        Regex::new(
            r"(?i)^(?:from|to|cc|bcc|date|sent|reply-to|von|an|gesendet|datum|de|à|envoyé|fecha|enviado|para)\s*:",
        )
        .ok()
    })
    .as_ref()
    .is_some_and(|p| p.is_match(text.trim()))
}
