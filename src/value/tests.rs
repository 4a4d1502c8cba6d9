#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use proptest::prelude::*;
use serde::Deserialize;
use std::fmt::Write as _;

#[derive(Deserialize)]
struct Cases {
    case: Vec<Case>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    text: String,
    style: Option<String>,
    #[serde(default)]
    no: bool,
    q: Option<String>,
    value: Option<f64>,
    high: Option<f64>,
    plus_minus: Option<f64>,
    #[serde(default)]
    deviation: bool,
    count: Option<u32>,
    decimals: Option<u8>,
    last: Option<f64>,
    bound: Option<String>,
    #[serde(default)]
    nd: bool,
    #[serde(default)]
    trace: bool,
    mended: Option<String>,
    unit: Option<String>,
    #[serde(default)]
    also: Vec<(f64, String)>,
    footnote: Option<String>,
    proves: Option<String>,
    grouped: Option<bool>,
}

fn cases() -> Vec<Case> {
    let cases: Cases = toml::from_str(include_str!("../../grammar/value.cases.toml")).expect("value.cases.toml");
    cases.case
}

fn near(a: Option<f64>, b: Option<f64>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= 1e-9 * b.abs(),
        (None, None) => true,
        _ => false,
    }
}

/// What differs between a case and what was read.
fn differences(case: &Case, got: &Value) -> String {
    let mut out = String::new();
    let mut say = |what: &str, fits: bool, got: &dyn std::fmt::Debug| {
        if !fits {
            let _ = write!(out, " {what} is {got:?};");
        }
    };
    say("value", near(got.value, case.value), &got.value);
    say("high", near(got.high, case.high), &got.high);
    say("plus_minus", near(got.plus_minus, case.plus_minus), &got.plus_minus);
    say("deviation", got.plus_minus_is_deviation == case.deviation, &got.plus_minus_is_deviation);
    say("count", got.count == case.count, &got.count);
    say("qualifier", got.qualifier.word() == case.q.as_deref().unwrap_or("="), &got.qualifier);
    let bound = got.bound.map(|b| match b {
        Bound::Minimum => "min",
        Bound::Maximum => "max",
        Bound::Typical => "typ",
    });
    say("bound", bound == case.bound.as_deref(), &got.bound);
    say("not_detected", got.not_detected == case.nd, &got.not_detected);
    say("trace", got.trace == case.trace, &got.trace);
    say("mended", got.mended == case.mended, &got.mended);
    say("footnote", got.footnote == case.footnote, &got.footnote);
    let unit = got.unit.as_ref().map(|u| u.text.clone());
    say("unit", unit == case.unit, &unit);
    let also = got.also.iter().map(|(v, u)| (*v, u.text.clone())).collect::<Vec<_>>();
    say("also", also == case.also, &also);
    say("decimals", case.decimals.is_none_or(|d| d == got.decimals), &got.decimals);
    say("last digit", case.last.is_none_or(|l| near(Some(got.last_digit), Some(l))), &got.last_digit);
    say("grouped", case.grouped.is_none_or(|g| g == got.blank_grouped), &got.blank_grouped);
    let proves = match got.styles {
        StyleUse::Neutral => "neutral",
        StyleUse::Ambiguous => "ambiguous",
        StyleUse::Proves(Decimal::Point) => "point",
        StyleUse::Proves(Decimal::Comma) => "comma",
    };
    say("styles", case.proves.as_deref().is_none_or(|p| p == proves), &proves);
    out
}

#[test]
fn the_cases_read_as_written() {
    let cases = cases();
    assert!(cases.len() >= 200, "only {} cases", cases.len());
    let mut wrong = String::new();
    for case in &cases {
        let decimal = if case.style.as_deref() == Some("comma") { Decimal::Comma } else { Decimal::Point };
        match (parse(&case.text, decimal), case.no) {
            (Some(got), false) => {
                let differences = differences(case, &got);
                if !differences.is_empty() {
                    let _ = writeln!(wrong, "{:?}:{differences}", case.text);
                }
            }
            (Some(got), true) => {
                let _ = writeln!(wrong, "{:?} should be refused, reads {:?} {:?}", case.text, got.value, got.unit);
            }
            (None, false) => {
                let _ = writeln!(wrong, "{:?} is refused", case.text);
            }
            (None, true) => {}
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

#[test]
fn each_production_has_its_function() {
    let code = [include_str!("grammar.rs"), include_str!("number.rs"), include_str!("unit.rs"), include_str!("mod.rs")]
        .concat();
    let productions = words::productions(words::GRAMMAR);
    assert!(productions.len() > 60);
    for production in productions {
        let name = &production.name;
        let function = code.contains(&format!("fn {name}(")) || code.contains(&format!("fn {name}<"));
        let words = code.contains(&format!("word(\"{name}\""));
        assert!(function || words, "no function for the production {name}");
        if words && !function {
            assert!(!production.terminals.is_empty(), "{name} has no words");
        }
    }
}

/// Text, and what `find` shows of it: start of the printed figure, value.
fn found(text: &str, decimal: Decimal) -> Vec<(&str, Option<f64>)> {
    find(text, decimal).into_iter().map(|l| (text.get(l.start..l.end).unwrap(), l.value.value)).collect()
}

#[test]
fn values_in_running_text() {
    type Expected = &'static [(&'static str, Option<f64>)];
    let cases: &[(&str, Expected)] = &[
        (
            "Moisture of core V2 was 47.3 % and iron 6,200 mg/kg dry.",
            &[("47.3 %", Some(47.3)), ("6,200 mg/kg dry", Some(6200.0))],
        ),
        ("Iron 6200 mg/kg Copper 15 mg/kg", &[("6200 mg/kg", Some(6200.0)), ("15 mg/kg", Some(15.0))]),
        ("Iron........6200 mg/kg", &[("6200 mg/kg", Some(6200.0))]),
        ("Whole beads . . . . . 92 %", &[("92 %", Some(92.0))]),
        ("Iron:6200mg/kg", &[("6200mg/kg", Some(6200.0))]),
        ("Iron<5 mg/kg", &[("<5 mg/kg", Some(5.0))]),
        ("Freeboard 26 in of the 72 in tank", &[("26 in", Some(26.0)), ("72 in", Some(72.0))]),
        ("We saw 5 in the jar, 12 in total", &[("5", Some(5.0)), ("12", Some(12.0))]),
        ("the capacity is about 1.72 eq/L (37.6 kgr/ft³)", &[("about 1.72 eq/L (37.6 kgr/ft³)", Some(1.72))]),
        ("moisture between 45 and 50 %, typically", &[("between 45 and 50 %, typically", Some(45.0))]),
        ("D2187, C100, Fe2O3, 001x7, 12A, V-2, 25-0317", &[]),
        ("Tel. 555-0199 or (555) 019-9123 or +49 30 1234567", &[]),
        ("sampled 2025-03-01, reported 14.03.2025 at 10:12", &[]),
        ("on 3 April 2024 we found 47 %", &[("47 %", Some(47.0))]),
        ("ND", &[("ND", None)]),
        ("Copper: ND (<5 mg/kg), barium n.d.", &[("ND (<5 mg/kg)", Some(5.0)), ("n.d.", None)]),
        ("the 2nd and 3rd of nd", &[]),
        ("trace metals and a trace of iron", &[]),
        ("Iron: trace", &[("trace", None)]),
        ("Whole beads (n = 200)", &[]),
        ("Moisture, % 47.3 Whole", &[("% 47.3", Some(47.3))]),
        ("Vessel 2 - 47.3 % moisture", &[("2", Some(2.0)), ("47.3 %", Some(47.3))]),
        ("Vessel 2 ... 47 %", &[("2", Some(2.0)), ("47 %", Some(47.0))]),
        ("cost $450 or 450 €", &[]),
        ("ratio 1:1, scale 24×72, page 1/2", &[]),
        ("Sodium 47,3 % und Eisen 0,62 g/kg", &[("47,3 %", Some(47.3)), ("0,62 g/kg", Some(0.62))]),
        ("from 92.5² to", &[("92.5²", Some(92.5))]),
        ("a 24-inch tank with a 2' 2\" freeboard", &[("24-inch", Some(24.0)), ("2' 2\"", Some(26.0))]),
        ("rated 30,000 grains at 15 lb", &[("30,000 grains", Some(30_000.0)), ("15 lb", Some(15.0))]),
        ("30,000 grains at 15 lb/ft³ of salt", &[("30,000 grains", Some(30_000.0)), ("15 lb/ft³ of salt", Some(15.0))]),
        ("47 % 48 % 49 %", &[("47 %", Some(47.0)), ("48 %", Some(48.0)), ("49 %", Some(49.0))]),
        ("92 100 98", &[("92", Some(92.0)), ("100", Some(100.0)), ("98", Some(98.0))]),
        ("1.72   1.9   90", &[("1.72", Some(1.72)), ("1.9", Some(1.9)), ("90", Some(90.0))]),
        ("Capacity 6,2OO mg/kg", &[("6,2OO mg/kg", Some(6200.0))]),
        ("less than 5 mg/kg of copper", &[("less than 5 mg/kg", Some(5.0))]),
        ("eau à 15 °C, pH 7", &[("15 °C", Some(15.0)), ("7", Some(7.0))]),
        ("1.2.3 section and 192.168.0.1", &[]),
        ("Report No. 24-1187, ref 0199", &[]),
        (
            "Fe 6200 Mg 150 Mn 20 Ca 12 mg/kg",
            &[("6200", Some(6200.0)), ("150", Some(150.0)), ("20", Some(20.0)), ("12 mg/kg", Some(12.0))],
        ),
        ("Resin 100 L/vessel", &[]),
        ("between 2016 and 2024, 2016-2024", &[("2016", Some(2016.0)), ("2024", Some(2024.0))]),
        ("ND = not detected; BDL = below detection limit", &[]),
        ("2 x 5 ft³ of resin", &[]),
        (
            "24 in x 72 in, 24 x 54 in",
            &[("24 in", Some(24.0)), ("72 in", Some(72.0)), ("24", Some(24.0)), ("54 in", Some(54.0))],
        ),
        ("CA 12 MG 150", &[("12", Some(12.0)), ("150", Some(150.0))]),
        ("See item 4.", &[("4", Some(4.0))]),
        ("-5 and −6 and (7)", &[("-5", Some(-5.0)), ("−6", Some(-6.0)), ("7", Some(7.0))]),
    ];
    let mut wrong = String::new();
    for (text, expected) in cases {
        let got = found(text, Decimal::Point);
        if got != *expected {
            let _ = writeln!(wrong, "{text:?}: {got:?}");
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

#[test]
fn minutes_stay_open_in_running_text() {
    let value = find("rinse for 30 min then", Decimal::Point).remove(0).value;
    assert_eq!(value.unit.map(|u| u.text), Some("min".to_owned()));
    assert_eq!(value.bound, Some(Bound::Minimum));
    assert_eq!(value.qualifier, Qualifier::Equal);
}

#[test]
fn marks_of_nothing() {
    for text in [
        "",
        "n/a",
        "N/A",
        "-",
        "—",
        "---",
        "not tested",
        "NT",
        "n.b.",
        "nicht bestimmt",
        "pending",
        "(n/a)",
        "NA",
        "k.A.",
        "sin datos",
    ] {
        assert!(is_blank_mark(text), "{text:?}");
        assert_eq!(parse(text, Decimal::Point), None, "{text:?}");
    }
    for text in ["ND", "0", "Na", "n.d.", "trace", "5", "iron", "nt5", "n.n."] {
        assert!(!is_blank_mark(text), "{text:?}");
    }
}

#[test]
fn styles_of_cells() {
    for (text, style) in [
        ("0,62", StyleUse::Proves(Decimal::Comma)),
        ("1.5", StyleUse::Proves(Decimal::Point)),
        ("12.345,6 mg/kg", StyleUse::Proves(Decimal::Comma)),
        ("1,234,567", StyleUse::Proves(Decimal::Point)),
        ("< 0,5 - 1", StyleUse::Neutral),
        ("1,234 %", StyleUse::Ambiguous),
        ("1.234", StyleUse::Ambiguous),
        ("1e3", StyleUse::Neutral),
        ("iron", StyleUse::Neutral),
        ("45,5 - 50", StyleUse::Proves(Decimal::Comma)),
    ] {
        assert_eq!(style_of(text), style, "{text}");
    }
}

#[test]
#[ignore = "timed: run it with --release --ignored on an idle machine"]
fn long_text_is_read_in_linear_time() {
    let start = std::time::Instant::now();
    for piece in
        ["9", "1,", "1 234 ", "< ", "mg/kg ", "(((", "5 - ", "ND (", "1.2.", "a b ", "+1 ", "12/", "½", "2025-"]
    {
        let text = piece.repeat(200_000 / piece.len());
        let _ = find(&text, Decimal::Point);
        let _ = super::date::find_dates(&text);
        let _ = parse(&text, Decimal::Comma);
        let _ = is_blank_mark(&text);
    }
    // A quadratic reader needs minutes for this.
    assert!(start.elapsed() < std::time::Duration::from_secs(20), "{:?}", start.elapsed());
}

fn printed(value: f64, decimals: usize, decimal: Decimal, grouped: bool) -> String {
    let plain = format!("{value:.decimals$}");
    let (whole, fraction) = plain.split_once('.').unwrap_or((&plain, ""));
    let (mark, group) = if decimal == Decimal::Point { ('.', ',') } else { (',', '.') };
    let mut text = String::new();
    for (at, digit) in whole.chars().enumerate() {
        if grouped && at > 0 && (whole.len() - at).is_multiple_of(3) {
            text.push(group);
        }
        text.push(digit);
    }
    if !fraction.is_empty() {
        text.push(mark);
        text.push_str(fraction);
    }
    text
}

proptest! {
    #[test]
    fn no_text_panics(text in "(?s).{0,80}", comma: bool) {
        let decimal = if comma { Decimal::Comma } else { Decimal::Point };
        let _ = parse(&text, decimal);
        let _ = style_of(&text);
        let _ = is_blank_mark(&text);
        let mut last = 0;
        for located in find(&text, decimal) {
            prop_assert!(located.start >= last && located.start < located.end);
            prop_assert!(text.get(located.start..located.end).is_some());
            last = located.end;
        }
    }

    #[test]
    fn no_mixture_of_pieces_panics(pieces in prop::collection::vec(prop::sample::select(vec![
        "1", "23", "456", ".", ",", " ", "-", "–", "±", "<", "≥", "%", "mg/kg", "ND", "(", ")", "e3", "x10^", "³", "½", "in", "'", "\"",
        "min", "O", "l", "to", "n=", "§", "é", "\u{a0}", "/", ":", "+",
    ]), 0..16)) {
        let text = pieces.concat();
        for decimal in [Decimal::Point, Decimal::Comma] {
            if let Some(value) = parse(&text, decimal) {
                prop_assert!(value.value.is_none_or(f64::is_finite) && value.high.is_none_or(f64::is_finite));
                prop_assert!(value.value.is_some() || value.not_detected || value.trace);
                prop_assert!(value.high.is_none_or(|h| value.value.is_some_and(|v| v <= h)));
            }
            for located in find(&text, decimal) {
                prop_assert!(text.get(located.start..located.end).is_some());
            }
        }
    }

    #[test]
    fn print_then_parse_is_identity(thousandths in 0u32..2_000_000_000, decimals in 0usize..4, comma: bool, grouped: bool) {
        let decimal = if comma { Decimal::Comma } else { Decimal::Point };
        let value: f64 = format!("{:.decimals$}", f64::from(thousandths) / 1000.0).parse().unwrap();
        let text = printed(value, decimals, decimal, grouped);
        let read = parse(&text, decimal).unwrap();
        prop_assert_eq!(read.value, Some(value), "{}", text);
        prop_assert_eq!(usize::from(read.decimals), decimals);
        if let StyleUse::Proves(style) = read.styles {
            let zeroless = !text.starts_with('0');
            prop_assert!(style == decimal || !zeroless, "{}", text);
        }
        // The same figure in a sentence.
        let sentence = format!("reads {text} mg/kg today");
        let found = find(&sentence, decimal);
        prop_assert_eq!(found.len(), 1);
        prop_assert_eq!(found[0].value.value, Some(value));
    }

    /// The wrong style may be read right or left open, but never wrong and sure.
    #[test]
    fn the_other_style_is_never_wrong_and_sure(thousandths in 0u32..2_000_000_000, decimals in 0usize..4, comma: bool, grouped: bool) {
        let (own, other) = if comma { (Decimal::Comma, Decimal::Point) } else { (Decimal::Point, Decimal::Comma) };
        let value: f64 = format!("{:.decimals$}", f64::from(thousandths) / 1000.0).parse().unwrap();
        let text = printed(value, decimals, own, grouped);
        let read = parse(&text, other).unwrap();
        prop_assert!(read.value == Some(value) || read.styles == StyleUse::Ambiguous, "{} reads {:?}", text, read);
    }
}
