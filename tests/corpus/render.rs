//! One invented analysis in many layouts, number styles and two languages: what is read must not depend on them.

/// A property of the analysis with its words.
pub struct Row {
    pub property: &'static str,
    pub basis: Option<&'static str>,
    /// In the property's own unit, for the first and the second sample.
    pub values: [f64; 2],
    pub digits: usize,
    pub unit: &'static str,
    /// Unit as the record has it.
    pub canonical: &'static str,
    pub english: &'static str,
    pub german: &'static str,
    /// New-resin figure: lowest, highest.
    pub new: (Option<f64>, Option<f64>),
}

/// Ten properties of two samples; the figures close: 4.21 × 0.812 × (1 − 0.486) = 1.757, 4.05 × 0.806 × (1 − 0.497) = 1.642;
/// beads sum to 100.
pub const ROWS: [Row; 10] = [
    row("total_capacity", Some("volume"), [1.76, 1.64], 2, ("eq/L", "eq/L"), "Total capacity", "Totalkapazität", (Some(1.9), None)),
    row(
        "total_capacity",
        Some("dry_mass"),
        [4.21, 4.05],
        2,
        ("eq/kg", "eq/kg"),
        "Total capacity, dry basis",
        "Totalkapazität, Trockenbasis",
        (Some(4.4), None),
    ),
    row("moisture_retention", None, [48.6, 49.7], 1, ("%", "%"), "Moisture content", "Wassergehalt", (Some(44.0), Some(48.0))),
    row("whole_beads", None, [91.0, 88.0], 0, ("%", "%"), "Whole beads", "Ganze Kugeln", (Some(95.0), None)),
    row("cracked_beads", None, [6.0, 8.0], 0, ("%", "%"), "Cracked beads", "Gerissene Kugeln", (None, Some(4.0))),
    row("broken_beads", None, [3.0, 4.0], 0, ("%", "%"), "Broken beads", "Gebrochene Kugeln", (None, Some(1.0))),
    row("iron", Some("dry_mass"), [1240.0, 2375.0], 0, ("mg/kg", "mg/kg"), "Iron, dry basis", "Eisen, Trockenbasis", (None, Some(100.0))),
    row("manganese", Some("dry_mass"), [85.0, 130.0], 0, ("mg/kg", "mg/kg"), "Manganese, dry basis", "Mangan, Trockenbasis", (None, Some(50.0))),
    row("bulk_density", None, [812.0, 806.0], 0, ("g/L", "g/L"), "Backwashed and settled density", "Rütteldichte", (Some(800.0), Some(850.0))),
    row("mean_size", None, [0.64, 0.61], 2, ("mm", "mm"), "Mean bead diameter", "Mittlerer Korndurchmesser", (Some(0.6), Some(0.8))),
];

#[allow(clippy::too_many_arguments)]
const fn row(
    property: &'static str,
    basis: Option<&'static str>,
    values: [f64; 2],
    digits: usize,
    (unit, canonical): (&'static str, &'static str),
    english: &'static str,
    german: &'static str,
    new: (Option<f64>, Option<f64>),
) -> Row {
    Row { property, basis, values, digits, unit, canonical, english, german, new }
}

/// A rendered report.
pub struct Rendered {
    /// Layout, language and number style.
    pub name: String,
    pub file: &'static str,
    pub text: String,
    /// How many of the two samples are in it.
    pub samples: usize,
}

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Language {
    English,
    German,
}

#[derive(Clone, Copy)]
struct Style {
    language: Language,
    decimal: char,
    thousands: Option<char>,
}

impl Style {
    fn name(self) -> String {
        let thousands = self.thousands.map_or("none".to_owned(), |c| format!("{c:?}"));
        format!("{:?}, decimal {:?}, thousands {thousands}", self.language, self.decimal)
    }

    fn number(self, value: f64, digits: usize) -> String {
        let plain = format!("{value:.digits$}");
        let (whole, fraction) = plain.split_once('.').unwrap_or((&plain, ""));
        let mut text = whole.to_owned();
        if let Some(separator) = self.thousands
            && text.len() > 3
        {
            text.insert(text.len() - 3, separator);
        }
        if !fraction.is_empty() {
            text.push(self.decimal);
            text.push_str(fraction);
        }
        text
    }

    fn label(self, row: &Row) -> &'static str {
        self.word(row.english, row.german)
    }

    fn word(self, english: &'static str, german: &'static str) -> &'static str {
        if self.language == Language::English { english } else { german }
    }

    fn new_resin(self, row: &Row) -> String {
        let number = |v: f64| self.number(v, row.digits);
        match row.new {
            (Some(low), Some(high)) => format!("{} - {}", number(low), number(high)),
            (Some(low), None) => format!("min {}", number(low)),
            (None, Some(high)) => format!("max {}", number(high)),
            (None, None) => String::new(),
        }
    }

    fn facts(self) -> [(&'static str, &'static str); 3] {
        [
            (self.word("Site", "Standort"), "Mill Street Laundry"),
            (self.word("Resin", "Harz"), self.word("strong acid cation, gel, Na form", "stark saurer Kationenaustauscher, Gel, Na-Form")),
            (self.word("Report date", "Berichtsdatum"), "2025-03-14"),
        ]
    }

    fn sample(self, at: usize) -> &'static str {
        ["MSL-S1-25", "MSL-S2-25"].get(at).copied().unwrap_or_default()
    }
}

fn preamble(style: Style, with_sample: bool) -> String {
    let mut text = String::new();
    for (key, value) in style.facts() {
        text.push_str(&format!("{key}: {value}\n"));
    }
    if with_sample {
        text.push_str(&format!("{}: {}\n", style.word("Sample", "Probe"), style.sample(0)));
    }
    text.push('\n');
    text
}

fn delimited_preamble(style: Style, delimiter: char, with_sample: bool) -> String {
    let mut text = String::new();
    for (key, value) in style.facts() {
        text.push_str(&format!("{key}{delimiter}{}\n", quoted(value, delimiter)));
    }
    if with_sample {
        text.push_str(&format!("{}{delimiter}{}\n", style.word("Sample", "Probe"), style.sample(0)));
    }
    text.push('\n');
    text
}

fn quoted(text: &str, delimiter: char) -> String {
    if text.contains(delimiter) { format!("\"{text}\"") } else { text.to_owned() }
}

fn padded(cells: &[(String, usize, bool)]) -> String {
    let mut line = String::new();
    for (text, width, right) in cells {
        let gap = " ".repeat(width.saturating_sub(text.chars().count()));
        if *right {
            line.push_str(&format!("{gap}{text}  "));
        } else {
            line.push_str(&format!("{text}{gap}  "));
        }
    }
    format!("{}\n", line.trim_end())
}

/// All layouts in all styles.
pub fn reports() -> Vec<Rendered> {
    let mut all = Vec::new();
    let english = [None, Some(',')].map(|thousands| Style { language: Language::English, decimal: '.', thousands });
    let german = [None, Some('.')].map(|thousands| Style { language: Language::German, decimal: ',', thousands });
    for style in english.into_iter().chain(german) {
        let mut add = |layout: &str, file: &'static str, samples: usize, text: String| {
            all.push(Rendered { name: format!("{layout}, {}", style.name()), file, text, samples });
        };
        add("label: value unit", "report.txt", 1, pairs(style, |label, value, unit| format!("{label}: {value} {unit}\n")));
        add("label = value unit", "report.txt", 1, pairs(style, |label, value, unit| format!("{label} = {value} {unit}\n")));
        add("label (unit): value", "report.txt", 1, pairs(style, |label, value, unit| format!("{label} ({unit}): {value}\n")));
        add("dotted leaders", "report.txt", 1, pairs(style, |label, value, unit| format!("{label:.<44} {value} {unit}\n")));
        add("value on the next line", "report.txt", 1, pairs(style, |label, value, unit| format!("{label}\n    {value} {unit}\n")));
        for (layout, order) in [
            ("fixed columns, new resin right", ["label", "result", "unit", "new"]),
            ("fixed columns, new resin left", ["label", "new", "result", "unit"]),
            ("fixed columns, unit before result", ["label", "unit", "result", "new"]),
            ("fixed columns, label last", ["new", "result", "unit", "label"]),
        ] {
            add(layout, "report.txt", 1, fixed(style, order));
        }
        add("fixed columns, samples across", "report.txt", 2, across_fixed(style));
        for (name, file, delimiter) in
            [("comma", "report.csv", ','), ("semicolon", "report.csv", ';'), ("tab", "report.tsv", '\t'), ("pipe", "report.txt", '|')]
        {
            // A decimal or thousands comma between commas is another trap than the layout.
            if delimiter == ',' && (style.decimal == ',' || style.thousands == Some(',')) {
                continue;
            }
            add(&format!("{name}, one property a row"), file, 1, delimited(style, delimiter, false));
            add(&format!("{name}, new resin left"), file, 1, delimited(style, delimiter, true));
            add(&format!("{name}, samples across"), file, 2, across_delimited(style, delimiter));
            add(&format!("{name}, samples down"), file, 2, down_delimited(style, delimiter));
        }
        add("mail with a table in HTML", "report.eml", 1, mail(style, true));
        add("mail with pairs", "report.eml", 1, mail(style, false));
    }
    all
}

fn pairs(style: Style, line: impl Fn(&str, &str, &str) -> String) -> String {
    let mut text = preamble(style, true);
    for row in &ROWS {
        text.push_str(&line(style.label(row), &style.number(row.values[0], row.digits), row.unit));
    }
    text
}

fn head(style: Style, cell: &str) -> String {
    match cell {
        "label" => style.word("Property", "Parameter"),
        "result" => style.word("Result", "Ergebnis"),
        "unit" => style.word("Unit", "Einheit"),
        _ => style.word("New resin", "Neuharz"),
    }
    .to_owned()
}

fn cell(style: Style, row: &Row, cell: &str) -> String {
    match cell {
        "label" => style.label(row).to_owned(),
        "result" => style.number(row.values[0], row.digits),
        "unit" => row.unit.to_owned(),
        _ => style.new_resin(row),
    }
}

fn fixed(style: Style, order: [&str; 4]) -> String {
    let shape = |name: &str, text: String| match name {
        "label" => (text, 34, false),
        "unit" => (text, 8, false),
        _ => (text, 14, true),
    };
    let mut text = preamble(style, true);
    text.push_str(&padded(&order.map(|name| shape(name, head(style, name)))));
    for row in &ROWS {
        text.push_str(&padded(&order.map(|name| shape(name, cell(style, row, name)))));
    }
    text
}

fn across_fixed(style: Style) -> String {
    let mut text = preamble(style, false);
    let line = |label: String, first: String, second: String, unit: String| {
        padded(&[(label, 34, false), (first, 12, true), (second, 12, true), (unit, 8, false)])
    };
    text.push_str(&line(
        style.word("Sample", "Probe").to_owned(),
        style.sample(0).to_owned(),
        style.sample(1).to_owned(),
        head(style, "unit"),
    ));
    for row in &ROWS {
        let [first, second] = row.values.map(|v| style.number(v, row.digits));
        text.push_str(&line(style.label(row).to_owned(), first, second, row.unit.to_owned()));
    }
    text
}

fn delimited(style: Style, delimiter: char, new_left: bool) -> String {
    let order = if new_left { ["label", "new", "result", "unit"] } else { ["label", "result", "unit", "new"] };
    let joined = |cells: [String; 4]| {
        let cells: Vec<String> = cells.iter().map(|c| quoted(c, delimiter)).collect();
        format!("{}\n", cells.join(&delimiter.to_string()))
    };
    let mut text = delimited_preamble(style, delimiter, true);
    text.push_str(&joined(order.map(|name| head(style, name))));
    for row in &ROWS {
        text.push_str(&joined(order.map(|name| cell(style, row, name))));
    }
    text
}

fn across_delimited(style: Style, delimiter: char) -> String {
    let joined = |cells: [String; 4]| {
        let cells: Vec<String> = cells.iter().map(|c| quoted(c, delimiter)).collect();
        format!("{}\n", cells.join(&delimiter.to_string()))
    };
    let mut text = delimited_preamble(style, delimiter, false);
    text.push_str(&joined([
        style.word("Sample", "Probe").to_owned(),
        head(style, "unit"),
        style.sample(0).to_owned(),
        style.sample(1).to_owned(),
    ]));
    for row in &ROWS {
        let [first, second] = row.values.map(|v| style.number(v, row.digits));
        text.push_str(&joined([style.label(row).to_owned(), row.unit.to_owned(), first, second]));
    }
    text
}

fn down_delimited(style: Style, delimiter: char) -> String {
    let mut text = delimited_preamble(style, delimiter, false);
    let mut heads = vec![style.word("Sample", "Probe").to_owned()];
    heads.extend(ROWS.iter().map(|row| quoted(&format!("{} ({})", style.label(row), row.unit), delimiter)));
    text.push_str(&format!("{}\n", heads.join(&delimiter.to_string())));
    for at in 0..2 {
        let mut cells = vec![style.sample(at).to_owned()];
        cells.extend(ROWS.iter().map(|row| style.number(row.values[at], row.digits)));
        text.push_str(&format!("{}\n", cells.join(&delimiter.to_string())));
    }
    text
}

fn mail(style: Style, table: bool) -> String {
    let mut body = String::new();
    if table {
        body.push_str("<html><body>\n");
        for line in preamble(style, true).lines() {
            body.push_str(&format!("<p>{line}</p>\n"));
        }
        body.push_str("<table>\n");
        let order = ["label", "result", "unit", "new"];
        let line = |cells: [String; 4], tag: &str| {
            let cells: Vec<String> = cells.iter().map(|c| format!("<{tag}>{c}</{tag}>")).collect();
            format!("<tr>{}</tr>\n", cells.concat())
        };
        body.push_str(&line(order.map(|name| head(style, name)), "th"));
        for row in &ROWS {
            body.push_str(&line(order.map(|name| cell(style, row, name)), "td"));
        }
        body.push_str("</table></body></html>\n");
    } else {
        body = pairs(style, |label, value, unit| format!("{label}: {value} {unit}\n"));
    }
    let kind = if table { "text/html" } else { "text/plain" };
    format!(
        "From: service@larkfield-water.example\nTo: plant@mill-street.example\nSubject: resin\nMIME-Version: 1.0\n\
         Content-Type: {kind}; charset=utf-8\nContent-Transfer-Encoding: 8bit\n\n{body}"
    )
}
