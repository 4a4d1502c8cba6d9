//! `beadwise report`: one page of HTML, what stands on it, and where it goes.

use crate::kit::{BROKEN, Folder, MARCH};
use scraper::{Html, Selector};
use serde_json::Value;

/// Markup in every field that a report can fill.
const HOSTILE: &str = include_str!("../browser/hostile.txt");

/// A swollen, iron-bearing softener, so that most parts of a page have something to say.
const SPENT: &str = "\
Northbank Analytical
Report no.: NB-25-0418
Site: Mill Street Laundry
Vessel: Softener 2
Date sampled: 2025-03-21
Resin: strong acid cation, gel
Duty: softening
Total capacity (Na form): 1.41 eq/L
Moisture retention: 58.0 %
Whole beads: 76 %
Iron, dry basis: 4,250 mg/kg
";

fn page(folder: &Folder, arguments: &[&str]) -> String {
    let run = folder.run(&[&["report", "--today", "2025-04-01"], arguments].concat());
    assert_eq!(run.status, 0, "{}", run.err);
    run.out
}

fn select(text: &str) -> Selector {
    Selector::parse(text).unwrap()
}

/// All words that a reader sees, with one space between.
fn words(html: &str) -> String {
    let document = Html::parse_document(html);
    let body = document.select(&select("body")).next().unwrap();
    body.text().flat_map(str::split_whitespace).collect::<Vec<_>>().join(" ")
}

fn heads(html: &str) -> Vec<(u8, String)> {
    let document = Html::parse_document(html);
    document
        .select(&select("h1, h2, h3, h4, h5, h6"))
        .map(|head| (head.value().name().as_bytes()[1] - b'0', head.text().collect()))
        .collect()
}

#[test]
fn the_first_sheet_says_what_matters_in_its_order() {
    let folder = Folder::with(&[("spent.txt", SPENT.as_bytes())]);
    let html = page(&folder, &["spent.txt"]);
    let heads = heads(&html);
    assert_eq!(heads[0], (1, "Softener 2".to_owned()));
    let first: Vec<&str> = heads[1..6].iter().map(|(_, text)| text.as_str()).collect();
    assert_eq!(
        first,
        [
            "If nothing is done",
            "The three figures that decide it",
            "What to do",
            "What it costs and saves",
            "When to sample again"
        ]
    );
    let rest: Vec<&str> =
        heads.iter().filter(|(level, _)| *level == 2).map(|(_, text)| text.as_str()).skip(5).collect();
    assert_eq!(
        rest,
        [
            "Why",
            "Every property against new resin",
            "Where the capacity went",
            "The evidence",
            "What is missing",
            "Where the limits come from",
            "Cautions"
        ]
    );
    for pair in heads.windows(2) {
        assert!(pair[1].0 <= pair[0].0 + 1, "{pair:?}");
    }
    let text = words(&html);
    let at = |words: &str| text.find(words).unwrap_or_else(|| panic!("{words} is not in {text}"));
    assert!(at("Mill Street Laundry") < at("Replace this resin") && at("Replace this resin") < at("of 100."));
}

#[test]
fn every_figure_of_the_judgement_is_on_the_page() {
    let folder = Folder::with(&[("spent.txt", SPENT.as_bytes())]);
    let text = words(&page(&folder, &["spent.txt"]));
    let run = folder.run(&["judge", "--json", "--today", "2025-04-01", "spent.txt"]);
    let json: Value = serde_json::from_str(&run.out).unwrap();
    let judgement = &json["judgements"][0];
    let mut wanted: Vec<String> = Vec::new();
    for list in ["reasons", "fix_first", "would_change", "cautions"] {
        wanted.extend(judgement[list].as_array().unwrap().iter().map(|line| line.as_str().unwrap().to_owned()));
    }
    let whole = |share: &Value| format!("{:.0}", share.as_f64().unwrap() * 100.0);
    wanted.push(format!("{} of 100", whole(&judgement["certainty"])));
    wanted.push(format!("{:.0} of 100", judgement["score"].as_f64().unwrap()));
    wanted.push(judgement["baseline"]["text"].as_str().unwrap().to_owned());
    // By hand: 1.41 of 2.00 eq/L is 70.5 %; 4,250 parts a thousand by commas; the other two stand as they are.
    wanted.extend(["1.41 eq/L", "30.8 kgr/ft³", "58 %", "76 %", "4,250 mg/kg"].map(str::to_owned));
    assert_eq!(judgement["grades"].as_array().unwrap().len(), 4, "each of them is named above");
    for grade in judgement["grades"].as_array().unwrap() {
        wanted.push(grade["grade"].as_str().unwrap().to_owned());
        wanted.push(grade["band"].as_str().unwrap().to_owned());
        wanted.push(grade["new"]["source"].as_str().unwrap().to_owned());
        if let Some(percent) = grade["percent_of_new"].as_f64() {
            wanted.push(format!("{percent:.0} % of new"));
        }
    }
    for part in judgement["loss"]["parts"].as_array().unwrap() {
        wanted.push(format!("{} %", whole(&part["best"])));
        wanted.push(format!("{} to {} %", whole(&part["low"]), whole(&part["high"])));
    }
    let recovery = &judgement["recovery"];
    wanted.push(format!("({} to {} %)", whole(&recovery["low"]), whole(&recovery["high"])));
    for cause in judgement["causes"].as_array().unwrap() {
        wanted.push(format!("weight {} of 100", whole(&cause["strength"])));
    }
    // 12 months after the day the page speaks from.
    wanted.push("1 April 2026".to_owned());
    for words in wanted {
        let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(text.contains(&words), "{words} is not in {text}");
    }
}

#[test]
fn each_figure_of_the_report_stands_with_its_words_and_place() {
    let folder = Folder::with(&[("spent.txt", SPENT.as_bytes())]);
    let html = page(&folder, &["spent.txt"]);
    let document = Html::parse_document(&html);
    let rows: Vec<String> = document
        .select(&select(".evidence-table tbody tr"))
        .map(|row| row.text().collect::<Vec<_>>().join("|"))
        .collect();
    assert_eq!(rows.len(), 4);
    for (row, label, line) in [
        (0, "Total capacity (Na form)", 8),
        (1, "Moisture retention", 9),
        (2, "Whole beads", 10),
        (3, "Iron, dry basis", 11),
    ] {
        assert!(rows.iter().any(|r| r.contains(label) && r.ends_with(&format!("line {line}"))), "{row}: {rows:?}");
    }
}

#[test]
fn what_a_report_says_stays_text() {
    let folder = Folder::with(&[("hostile.txt", HOSTILE.as_bytes())]);
    let html = page(&folder, &["hostile.txt"]);
    let document = Html::parse_document(&html);
    for forbidden in ["script", "iframe", "img", "b", "math", "base", "object", "form", "input"] {
        assert!(document.select(&select(forbidden)).next().is_none(), "{forbidden} got through");
    }
    for element in document.select(&select("*")) {
        for (name, value) in element.value().attrs() {
            assert!(!name.starts_with("on") && name != "autofocus", "{name} got through");
            assert!(!matches!(name, "href" | "src") || value.starts_with('#') || value == "data:,", "{name}={value}");
        }
    }
    // What was written is there to read, to the letter.
    let text = words(&html);
    for written in [
        "<script>alert(1)</script>",
        "</style><script>alert(6)</script>",
        "'\"><svg onload=alert(5)>",
        "Mill & Street <b>Laundry</b>",
    ] {
        let plain = written.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(text.contains(&plain), "{written} is not in {text}");
    }
    let bad = |c: char| (c.is_control() && c != '\n') || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    assert!(!html.contains(bad), "no control character and no mark that turns the writing round");
    assert_eq!(
        document
            .select(&select("title"))
            .filter(|t| t.parent().is_some_and(|p| p.value().as_element().is_some_and(|e| e.name() == "head")))
            .count(),
        1
    );
}

#[test]
fn the_page_is_one_file_that_loads_nothing_and_each_picture_has_words() {
    let folder = Folder::with(&[
        ("spent.txt", SPENT.as_bytes()),
        ("old.txt", SPENT.replace("2025-03", "2021-03").replace("1.41", "1.70").as_bytes()),
    ]);
    let html = page(&folder, &["old.txt", "spent.txt"]);
    for loaded in ["http:", "https:", "url(//", "@import", "<link rel=\"stylesheet\"", "src="] {
        assert!(!html.contains(loaded), "{loaded}");
    }
    let document = Html::parse_document(&html);
    let pictures: Vec<_> = document.select(&select("svg[role=img]")).collect();
    assert!(pictures.iter().any(|svg| svg.value().attr("class") == Some("chart")), "two years are drawn");
    for svg in pictures {
        let text = |name: &str| svg.children().filter_map(scraper::ElementRef::wrap).find(|e| e.value().name() == name);
        for name in ["title", "desc"] {
            let element = text(name).unwrap_or_else(|| panic!("no {name}"));
            assert!(!element.text().collect::<String>().trim().is_empty());
            assert!(svg.value().attr("aria-labelledby").unwrap().contains(element.value().attr("id").unwrap()));
        }
    }
    let ids: Vec<&str> = document.select(&select("[id]")).filter_map(|e| e.value().attr("id")).collect();
    let mut once = ids.clone();
    once.sort_unstable();
    once.dedup();
    assert_eq!(once.len(), ids.len(), "an id stands twice");
    for link in document.select(&select("a[href]")) {
        let target = link.value().attr("href").unwrap().trim_start_matches('#');
        assert!(ids.contains(&target), "{target} is nowhere");
    }
}

#[test]
fn a_figure_that_is_only_a_limit_is_shown_as_one() {
    let folder = Folder::with(&[("march.txt", MARCH.as_bytes())]);
    assert!(words(&page(&folder, &["march.txt", "--class", "sac-gel-8"])).contains("<50 mg/kg"));
}

#[test]
fn the_same_reports_give_the_same_bytes() {
    let folder = Folder::with(&[("spent.txt", SPENT.as_bytes())]);
    assert_eq!(page(&folder, &["spent.txt"]), page(&folder, &["spent.txt"]));
}

#[test]
fn a_file_is_written_whole_or_not_at_all_and_no_report_is_written_over() {
    let folder = Folder::with(&[("spent.txt", SPENT.as_bytes()), ("broken.bin", BROKEN)]);
    let run = folder.run(&["report", "spent.txt", "-o", "page.html"]);
    assert_eq!((run.status, run.out.as_str()), (0, ""), "{}", run.err);
    assert!(folder.text("page.html").ends_with("</html>"));
    let before = folder.names();
    let run = folder.run(&["report", "broken.bin", "-o", "page2.html"]);
    assert_eq!(run.status, 1);
    assert_eq!(folder.names(), before, "nothing was found, and nothing is written");
    let run = folder.run(&["report", "spent.txt", "-o", "spent.txt"]);
    assert_eq!(run.status, 2, "{}", run.err);
    assert_eq!(folder.text("spent.txt"), SPENT);
    let run = folder.run(&["report", "spent.txt", "broken.bin", "-o", "page3.html"]);
    assert_eq!(run.status, 1, "one could not be read");
    assert!(folder.text("page3.html").contains("Softener 2"), "and the other is there");
}

#[test]
fn beds_of_one_page_are_links_of_its_front() {
    let folder =
        Folder::with(&[("a.txt", MARCH.as_bytes()), ("b.txt", SPENT.replace("Softener 2", "Softener 7").as_bytes())]);
    let html = page(&folder, &["a.txt", "b.txt"]);
    let document = Html::parse_document(&html);
    let links: Vec<(String, &str)> = document
        .select(&select(".beds a"))
        .map(|link| (link.text().collect(), link.value().attr("href").unwrap()))
        .collect();
    assert_eq!(
        links,
        [
            ("Softener 2, Mill Street Laundry".to_owned(), "#bed-1"),
            ("Softener 7, Mill Street Laundry".to_owned(), "#bed-2")
        ]
    );
    assert_eq!(document.select(&select("h1")).count(), 1);
    assert_eq!(document.select(&select("article")).count(), 2);
    let run = folder.run(&["report", "a.txt", "b.txt", "--tank-bore", "24in"]);
    assert_eq!(run.status, 2, "a bore is of one bed: {}", run.err);
    assert!(words(&page(&folder, &["a.txt", "b.txt", "--vessel", "softener 7"])).contains("Softener 7"));
}

#[test]
fn prices_that_are_told_say_what_each_course_costs() {
    let folder = Folder::with(&[("spent.txt", SPENT.as_bytes())]);
    let priced = [
        "spent.txt",
        "--state",
        "regenerated",
        "--tank-bore",
        "24in",
        "--bed-depth",
        "36in",
        "--feed-hardness",
        "20gpg",
        "--salt-dose",
        "8lb/ft3",
        "--daily-use",
        "900gal",
        "--salt-price",
        "0.20/lb",
        "--water-price",
        "12/1000gal",
        "--resin-price",
        "120/ft3",
        "--disposal-price",
        "20/ft3",
        "--rebed-labour",
        "600",
    ];
    let html = page(&folder, &priced);
    let text = words(&html);
    // By hand: 24 in x 36 in are 9.425 ft3; at 120 + 20 a cubic foot and 600 of labour, 1,919 at once.
    assert!(text.contains("1,919"), "{text}");
    assert!(text.contains("New resin (advised)") && text.contains("At your prices, over 5 years"));
    assert!(words(&page(&folder, &["spent.txt"])).contains("No prices were told, so no money is reckoned."));
    let evidence = Html::parse_document(&html);
    assert_eq!(evidence.select(&select(".evidence-table tbody tr")).count(), 4, "what was told is no evidence");
}

#[test]
fn a_bed_of_the_store_comes_with_its_years_and_the_fleet_with_its_ranking() {
    let folder = Folder::new();
    for (year, capacity) in [(2019, "1.90"), (2021, "1.80"), (2023, "1.70"), (2025, "1.60")] {
        let report = SPENT
            .replace("2025-03", &format!("{year}-03"))
            .replace("1.41", capacity)
            .replace("NB-25", &format!("NB-{year}"));
        folder.write(&format!("in/{year}.txt"), report.as_bytes());
    }
    folder.write("in/other.txt", MARCH.replace("Softener 2", "Softener 9").as_bytes());
    assert_eq!(folder.run(&["beds", "--store", "beds.db", "file", "--new", "in"]).status, 0);
    let told = "Hard water on Fridays <again>";
    assert_eq!(folder.run(&["beds", "--store", "beds.db", "set", "softener-2", "--complaint", told]).status, 0);
    let html = page(&folder, &["--store", "beds.db", "--bed", "softener-2"]);
    let text = words(&html);
    assert!(text.contains(told) && text.contains("The years"), "{text}");
    let document = Html::parse_document(&html);
    let chart = document.select(&select("svg.chart")).next().expect("a chart of the capacity");
    assert_eq!(chart.select(&select("circle.dot")).count(), 4);
    let table = document.select(&select("table.numbers")).next().expect("its numbers");
    let rows: Vec<String> = table.select(&select("tbody tr")).map(|row| row.text().collect()).collect();
    // 1.60 of 2.00 eq/L is 80 %.
    assert!(rows.iter().any(|row| row.contains("21 March 2025") && row.contains("80.0")), "{rows:?}");
    let all = page(&folder, &["--store", "beds.db", "--all"]);
    let document = Html::parse_document(&all);
    assert_eq!(document.select(&select(".ranked > li > a")).count(), 2);
    assert_eq!(document.select(&select("article")).count(), 2);
    let site = page(&folder, &["--store", "beds.db", "--site", "Mill Street Laundry"]);
    assert!(words(&site).contains("At stake"));
    let run = folder.run(&["report", "--store", "beds.db", "--site", "Nowhere"]);
    assert_eq!(run.status, 2, "{}", run.err);
}
