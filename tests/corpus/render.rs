//! One invented analysis in many layouts, number styles and languages: what is read must not depend on them.

/// A property of the analysis with its words.
pub struct Row {
    pub property: &'static str,
    pub basis: Option<&'static str>,
    /// In `unit`, for the first and the second sample.
    pub values: [f64; 2],
    digits: usize,
    pub unit: &'static str,
    /// English, German, French, Spanish.
    labels: [&'static str; 4],
    /// New-resin figure: lowest, highest.
    pub new: (Option<f64>, Option<f64>),
    method: &'static str,
    /// The same in another unit of the trade: its name, how many of it make one `unit`, digits.
    other: Option<(&'static str, f64, usize)>,
}

/// Ten properties of two samples. Other units: 1 eq/L is 21.85 kgr/ft³ as CaCO3 (the contract's own factor), 1 lb/ft³ is
/// 16.018 g/L (exact pound and foot). They close: 4.21 × 0.812 × (1 − 0.486) = 1.757, 4.05 × 0.806 × (1 − 0.497) = 1.642, and
/// beads sum to 100.
pub const ROWS: [Row; 10] = [
    Row {
        property: "total_capacity",
        basis: Some("volume"),
        values: [1.76, 1.64],
        digits: 2,
        unit: "eq/L",
        labels: ["Total capacity", "Totalkapazität", "Capacité totale", "Capacidad total"],
        new: (Some(1.9), None),
        method: "ASTM D2187",
        other: Some(("kgr/ft³ as CaCO3", 21.85, 2)),
    },
    Row {
        property: "total_capacity",
        basis: Some("dry_mass"),
        values: [4.21, 4.05],
        digits: 2,
        unit: "eq/kg",
        labels: [
            "Total capacity, dry basis",
            "Totalkapazität, Trockenbasis",
            "Capacité totale, base sèche",
            "Capacidad total, base seca",
        ],
        new: (Some(4.4), None),
        method: "ASTM D2187",
        other: Some(("meq/g", 1.0, 2)),
    },
    Row {
        property: "moisture_retention",
        basis: None,
        values: [48.6, 49.7],
        digits: 1,
        unit: "%",
        labels: ["Moisture content", "Wassergehalt", "Teneur en eau", "Contenido de humedad"],
        new: (Some(44.0), Some(48.0)),
        method: "ASTM D2187",
        other: None,
    },
    Row {
        property: "whole_beads",
        basis: None,
        values: [91.0, 88.0],
        digits: 0,
        unit: "%",
        labels: ["Whole beads", "Ganze Kugeln", "Billes entières", "Perlas enteras"],
        new: (Some(95.0), None),
        method: "NB 207",
        other: None,
    },
    Row {
        property: "cracked_beads",
        basis: None,
        values: [6.0, 8.0],
        digits: 0,
        unit: "%",
        labels: ["Cracked beads", "Gerissene Kugeln", "Billes fissurées", "Perlas agrietadas"],
        new: (None, Some(4.0)),
        method: "NB 207",
        other: None,
    },
    Row {
        property: "broken_beads",
        basis: None,
        values: [3.0, 4.0],
        digits: 0,
        unit: "%",
        labels: ["Broken beads", "Gebrochene Kugeln", "Billes cassées", "Perlas rotas"],
        new: (None, Some(1.0)),
        method: "NB 207",
        other: None,
    },
    Row {
        property: "iron",
        basis: Some("dry_mass"),
        values: [1240.0, 2375.0],
        digits: 0,
        unit: "mg/kg",
        labels: ["Iron, dry basis", "Eisen, Trockenbasis", "Fer, base sèche", "Hierro, base seca"],
        new: (None, Some(100.0)),
        method: "NB 311",
        other: Some(("%", 0.0001, 4)),
    },
    Row {
        property: "manganese",
        basis: Some("dry_mass"),
        values: [85.0, 130.0],
        digits: 0,
        unit: "mg/kg",
        labels: ["Manganese, dry basis", "Mangan, Trockenbasis", "Manganèse, base sèche", "Manganeso, base seca"],
        new: (None, Some(50.0)),
        method: "NB 311",
        other: Some(("ppm", 1.0, 0)),
    },
    Row {
        property: "bulk_density",
        basis: None,
        values: [812.0, 806.0],
        digits: 0,
        unit: "g/L",
        labels: ["Backwashed and settled density", "Rütteldichte", "Masse volumique tassée", "Densidad aparente"],
        new: (Some(800.0), Some(850.0)),
        method: "ASTM D2187",
        other: Some(("lb/ft³", 0.062_428, 2)),
    },
    Row {
        property: "mean_size",
        basis: None,
        values: [0.64, 0.61],
        digits: 2,
        unit: "mm",
        labels: ["Mean bead diameter", "Mittlerer Korndurchmesser", "Diamètre moyen", "Diámetro medio"],
        new: (Some(0.6), Some(0.8)),
        method: "NB 415",
        other: Some(("µm", 1000.0, 0)),
    },
];

/// A rendered report.
pub struct Rendered {
    /// Layout, language and number style.
    pub name: String,
    pub file: &'static str,
    pub text: String,
    /// Which of the two samples are in it, in the order of the report.
    pub samples: &'static [usize],
    /// New-resin figures stand beside the results.
    pub new_resin: bool,
}

const ONE: &[usize] = &[0];
const BOTH: &[usize] = &[0, 1];
/// The last analysis stands left of this one.
const OLDER_FIRST: &[usize] = &[1, 0];

#[derive(Clone, Copy)]
struct Style {
    /// Position in `labels`.
    language: usize,
    decimal: char,
    thousands: Option<char>,
    /// In the other units.
    american: bool,
}

const LANGUAGES: [&str; 4] = ["English", "German", "French", "Spanish"];

impl Style {
    fn name(self) -> String {
        let thousands = self.thousands.map_or("none".to_owned(), |c| format!("{c:?}"));
        let units = if self.american { ", other units" } else { "" };
        format!("{}{units}, decimal {:?}, thousands {thousands}", LANGUAGES[self.language], self.decimal)
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

    fn word(self, words: [&'static str; 4]) -> String {
        words[self.language].to_owned()
    }

    fn label(self, row: &Row) -> String {
        self.word(row.labels)
    }

    fn value(self, row: &Row, at: usize) -> String {
        self.figure(row, row.values[at])
    }

    /// A figure of the row's own unit in the unit of the report.
    fn figure(self, row: &Row, value: f64) -> String {
        match row.other.filter(|_| self.american) {
            Some((_, factor, digits)) => self.number(value * factor, digits),
            None => self.number(value, row.digits),
        }
    }

    fn unit(self, row: &Row) -> &'static str {
        row.other.filter(|_| self.american).map_or(row.unit, |(unit, _, _)| unit)
    }

    fn new_resin(self, row: &Row, signs: bool) -> String {
        let number = |v: f64| self.figure(row, v);
        let (least, most) = if signs { ("≥", "≤") } else { ("min", "max") };
        match row.new {
            (Some(low), Some(high)) => format!("{} - {}", number(low), number(high)),
            (Some(low), None) => format!("{least} {}", number(low)),
            (None, Some(high)) => format!("{most} {}", number(high)),
            (None, None) => String::new(),
        }
    }

    fn percent_of_new(self, row: &Row) -> String {
        match row.new {
            (Some(low), None) => self.number(100.0 * row.values[0] / low, 0),
            _ => String::new(),
        }
    }

    fn facts(self) -> [(String, String); 3] {
        let resin = [
            "strong acid cation, gel, Na form",
            "stark saurer Kationenaustauscher, Gel, Na-Form",
            "cationique fortement acide, gel, forme Na",
            "catiónica fuerte, gel, forma Na",
        ];
        [
            (self.word(["Site", "Standort", "Site", "Planta"]), "Mill Street Laundry".to_owned()),
            (self.word(["Resin", "Harz", "Résine", "Resina"]), self.word(resin)),
            (
                self.word(["Report date", "Berichtsdatum", "Date du rapport", "Fecha del informe"]),
                "2025-03-14".to_owned(),
            ),
        ]
    }

    fn sample_word(self) -> String {
        self.word(["Sample", "Probe", "Échantillon", "Muestra"])
    }

    fn head(self, cell: &str) -> String {
        self.word(match cell {
            "label" => ["Property", "Parameter", "Paramètre", "Parámetro"],
            "result" => ["Result", "Ergebnis", "Résultat", "Resultado"],
            "unit" => ["Unit", "Einheit", "Unité", "Unidad"],
            "method" => ["Method", "Methode", "Méthode", "Método"],
            "percent" => ["% of new", "% von Neuharz", "% du neuf", "% de nueva"],
            "spec" => ["Specification", "Spezifikation", "Spécification", "Especificación"],
            _ => ["New resin", "Neuharz", "Résine neuve", "Resina nueva"],
        })
    }

    fn cell(self, row: &Row, cell: &str) -> String {
        match cell {
            "label" => self.label(row),
            "result" => self.value(row, 0),
            "unit" => self.unit(row).to_owned(),
            "method" => row.method.to_owned(),
            "percent" => self.percent_of_new(row),
            "spec" => self.new_resin(row, true),
            _ => self.new_resin(row, false),
        }
    }
}

pub const SAMPLES: [&str; 2] = ["MSL-S1-25", "MSL-S2-25"];

fn preamble(style: Style, with_sample: bool) -> String {
    let mut text = String::new();
    for (key, value) in style.facts() {
        text.push_str(&format!("{key}: {value}\n"));
    }
    if with_sample {
        text.push_str(&format!("{}: {}\n", style.sample_word(), SAMPLES[0]));
    }
    text.push('\n');
    text
}

fn delimited_preamble(style: Style, delimiter: char, with_sample: bool) -> String {
    let mut text = String::new();
    for (key, value) in style.facts() {
        text.push_str(&joined(&[key, value], delimiter));
    }
    if with_sample {
        text.push_str(&joined(&[style.sample_word(), SAMPLES[0].to_owned()], delimiter));
    }
    text.push('\n');
    text
}

fn joined(cells: &[String], delimiter: char) -> String {
    let quoted = |text: &String| if text.contains(delimiter) { format!("\"{text}\"") } else { text.clone() };
    let cells: Vec<String> = cells.iter().map(quoted).collect();
    format!("{}\n", cells.join(&delimiter.to_string()))
}

fn padded(cells: &[(String, usize, bool)]) -> String {
    let mut line = String::new();
    for (text, width, right) in cells {
        let gap = " ".repeat(width.saturating_sub(text.chars().count()));
        let (before, after) = if *right { (gap.as_str(), "") } else { ("", gap.as_str()) };
        line.push_str(&format!("{before}{text}{after}  "));
    }
    format!("{}\n", line.trim_end())
}

/// All layouts in all styles.
pub fn reports() -> Vec<Rendered> {
    let mut all = Vec::new();
    let styles = [
        (0, '.', [None, Some(',')]),
        (1, ',', [None, Some('.')]),
        (2, ',', [None, Some('\u{a0}')]),
        (3, ',', [None, Some('.')]),
    ];
    for (language, decimal, thousands) in styles {
        for thousands in thousands {
            add_layouts(Style { language, decimal, thousands, american: false }, &mut all);
        }
        add_layouts(Style { language, decimal, thousands: None, american: true }, &mut all);
    }
    all
}

fn add_layouts(style: Style, all: &mut Vec<Rendered>) {
    let mut add = |layout: &str, file: &'static str, samples: &'static [usize], text: String| {
        let new_resin = layout.contains("new resin")
            || layout.contains("specification")
            || layout.contains("percent")
            || layout.contains("unit before")
            || layout.contains("label last");
        all.push(Rendered { name: format!("{layout}, {}", style.name()), file, text, samples, new_resin });
    };
    let text = "report.txt";
    add("label: value unit", text, ONE, pairs(style, |l, v, u| format!("{l}: {v} {u}\n")));
    add("label = value unit", text, ONE, pairs(style, |l, v, u| format!("{l} = {v} {u}\n")));
    add("label (unit): value", text, ONE, pairs(style, |l, v, u| format!("{l} ({u}): {v}\n")));
    add("label [unit] = value", text, ONE, pairs(style, |l, v, u| format!("{l} [{u}] = {v}\n")));
    add("dotted leaders", text, ONE, pairs(style, |l, v, u| format!("{l:.<44} {v} {u}\n")));
    add(
        "leaders of dots and blanks",
        text,
        ONE,
        pairs(style, |l, v, u| format!("{l} {} {v} {u}\n", ". ".repeat(22 - l.chars().count() / 2))),
    );
    add("value on the next line", text, ONE, pairs(style, |l, v, u| format!("{l}\n    {v} {u}\n")));
    add("capitals", text, ONE, pairs(style, |l, v, u| format!("{}: {v} {u}\n", l.to_uppercase())));
    add("list with dashes", text, ONE, pairs(style, |l, v, u| format!("- {l}: {v} {u}\n")));
    add("numbered list", text, ONE, numbered(style));
    add("lines end in CR LF", text, ONE, pairs(style, |l, v, u| format!("{l}: {v} {u}\n")).replace('\n', "\r\n"));
    add("samples one below the other", text, BOTH, below(style));
    for (layout, order) in [
        ("fixed columns, new resin right", &["label", "result", "unit", "new"][..]),
        ("fixed columns, new resin left", &["label", "new", "result", "unit"]),
        ("fixed columns, unit before result", &["label", "unit", "result", "new"]),
        ("fixed columns, label last", &["new", "result", "unit", "label"]),
        ("fixed columns, specification with signs", &["label", "result", "spec", "unit"]),
        ("fixed columns, specification left with signs", &["label", "unit", "spec", "result"]),
        ("fixed columns, method left", &["method", "label", "result", "unit"]),
        ("fixed columns, method right", &["label", "result", "unit", "method"]),
        ("fixed columns, percent of new", &["label", "result", "unit", "new", "percent"]),
        ("fixed columns, percent of new left", &["label", "percent", "new", "result", "unit"]),
    ] {
        add(layout, text, ONE, fixed(style, order));
        add(&format!("{layout}, in a mail's HTML"), "report.eml", ONE, mail_table(style, order));
        add(&format!("{layout}, ruled with bars"), text, ONE, ruled(style, order));
        for (name, file, delimiter) in
            [("commas", "report.csv", ','), ("semicolons", "report.csv", ';'), ("tabs", "report.tsv", '\t')]
        {
            // A comma that parts decimals or thousands between commas that part cells is another trap than the layout.
            if delimiter != ',' || (style.decimal != ',' && style.thousands != Some(',')) {
                add(&format!("{layout}, {name}"), file, ONE, delimited(style, delimiter, order));
            }
        }
    }
    add("fixed columns, samples across", text, BOTH, across_fixed(style, BOTH, SAMPLES, &style.sample_word()));
    let dated = style.word(["Sampled", "Probenahme", "Prélèvement", "Muestreo"]);
    add(
        "fixed columns, last analysis left",
        text,
        OLDER_FIRST,
        across_fixed(style, OLDER_FIRST, ["2025-03-01", "2023-05-16"], &dated),
    );
    for (name, file, delimiter) in [
        ("commas", "report.csv", ','),
        ("semicolons", "report.csv", ';'),
        ("tabs", "report.tsv", '\t'),
        ("bars", "report.txt", '|'),
    ] {
        if delimiter == ',' && (style.decimal == ',' || style.thousands == Some(',')) {
            continue;
        }
        add(&format!("samples across, {name}"), file, BOTH, across_delimited(style, delimiter));
        add(&format!("samples down, {name}"), file, BOTH, down_delimited(style, delimiter, false));
        add(
            &format!("samples down, units in a second head row, {name}"),
            file,
            BOTH,
            down_delimited(style, delimiter, true),
        );
        add(&format!("pairs, {name}"), file, ONE, pairs_delimited(style, delimiter));
    }
    add("mail with pairs", "report.eml", ONE, mail(&pairs(style, |l, v, u| format!("{l}: {v} {u}\n")), "text/plain"));
}

fn pairs(style: Style, line: impl Fn(&str, &str, &str) -> String) -> String {
    let mut text = preamble(style, true);
    for row in &ROWS {
        text.push_str(&line(&style.label(row), &style.value(row, 0), style.unit(row)));
    }
    text
}

fn numbered(style: Style) -> String {
    let mut text = preamble(style, true);
    for (at, row) in ROWS.iter().enumerate() {
        text.push_str(&format!("{}. {}: {} {}\n", at + 1, style.label(row), style.value(row, 0), style.unit(row)));
    }
    text
}

fn below(style: Style) -> String {
    let mut text = preamble(style, false);
    for (at, sample) in SAMPLES.iter().enumerate() {
        text.push_str(&format!("{}: {sample}\n", style.sample_word()));
        for row in &ROWS {
            text.push_str(&format!("  {}: {} {}\n", style.label(row), style.value(row, at), style.unit(row)));
        }
        text.push('\n');
    }
    text
}

fn fixed(style: Style, order: &[&str]) -> String {
    let shape = |name: &str, text: String| match name {
        "label" => (text, 34, false),
        "unit" => (text, 8, false),
        "method" => (text, 12, false),
        _ => (text, 15, true),
    };
    let line =
        |cell: &dyn Fn(&str) -> String| padded(&order.iter().map(|name| shape(name, cell(name))).collect::<Vec<_>>());
    let mut text = preamble(style, true);
    text.push_str(&line(&|name| style.head(name)));
    for row in &ROWS {
        text.push_str(&line(&|name| style.cell(row, name)));
    }
    text
}

fn ruled(style: Style, order: &[&str]) -> String {
    let width = |name: &str| if name == "label" { 32 } else { 16 };
    let rule: String = order.iter().map(|name| format!("+{}", "-".repeat(width(name) + 2))).collect::<String>() + "+\n";
    let line = |cell: &dyn Fn(&str) -> String| {
        let cells: String = order.iter().map(|name| format!("| {:<w$} ", cell(name), w = width(name))).collect();
        format!("{cells}|\n")
    };
    let mut text = preamble(style, true);
    text.push_str(&rule);
    text.push_str(&line(&|name| style.head(name)));
    text.push_str(&rule);
    for row in &ROWS {
        text.push_str(&line(&|name| style.cell(row, name)));
    }
    text.push_str(&rule);
    text
}

fn across_fixed(style: Style, samples: &[usize], heads: [&str; 2], corner: &str) -> String {
    let mut text = preamble(style, false);
    let line = |label: String, first: String, second: String, unit: String| {
        padded(&[(label, 34, false), (first, 12, true), (second, 12, true), (unit, 8, false)])
    };
    let of = |at: usize| samples.get(at).copied().unwrap_or(0);
    text.push_str(&line(corner.to_owned(), heads[of(0)].to_owned(), heads[of(1)].to_owned(), style.head("unit")));
    for row in &ROWS {
        text.push_str(&line(
            style.label(row),
            style.value(row, of(0)),
            style.value(row, of(1)),
            style.unit(row).to_owned(),
        ));
    }
    text
}

fn delimited(style: Style, delimiter: char, order: &[&str]) -> String {
    let mut text = delimited_preamble(style, delimiter, true);
    text.push_str(&joined(&order.iter().map(|name| style.head(name)).collect::<Vec<_>>(), delimiter));
    for row in &ROWS {
        text.push_str(&joined(&order.iter().map(|name| style.cell(row, name)).collect::<Vec<_>>(), delimiter));
    }
    text
}

fn pairs_delimited(style: Style, delimiter: char) -> String {
    let mut text = delimited_preamble(style, delimiter, true);
    for row in &ROWS {
        text.push_str(&joined(&[style.label(row), style.value(row, 0), style.unit(row).to_owned()], delimiter));
    }
    text
}

fn across_delimited(style: Style, delimiter: char) -> String {
    let mut text = delimited_preamble(style, delimiter, false);
    let heads = [style.sample_word(), style.head("unit"), SAMPLES[0].to_owned(), SAMPLES[1].to_owned()];
    text.push_str(&joined(&heads, delimiter));
    for row in &ROWS {
        let cells = [style.label(row), style.unit(row).to_owned(), style.value(row, 0), style.value(row, 1)];
        text.push_str(&joined(&cells, delimiter));
    }
    text
}

fn down_delimited(style: Style, delimiter: char, unit_row: bool) -> String {
    let mut text = delimited_preamble(style, delimiter, false);
    let mut heads = vec![style.sample_word()];
    let mut units = vec![String::new()];
    for row in &ROWS {
        heads.push(if unit_row { style.label(row) } else { format!("{} ({})", style.label(row), style.unit(row)) });
        units.push(style.unit(row).to_owned());
    }
    text.push_str(&joined(&heads, delimiter));
    if unit_row {
        text.push_str(&joined(&units, delimiter));
    }
    for (at, sample) in SAMPLES.iter().enumerate() {
        let mut cells = vec![(*sample).to_owned()];
        cells.extend(ROWS.iter().map(|row| style.value(row, at)));
        text.push_str(&joined(&cells, delimiter));
    }
    text
}

fn mail_table(style: Style, order: &[&str]) -> String {
    let mut body = "<html><body>\n".to_owned();
    for line in preamble(style, true).lines() {
        body.push_str(&format!("<p>{line}</p>\n"));
    }
    let line = |cell: &dyn Fn(&str) -> String, tag: &str| {
        let cells: String = order.iter().map(|name| format!("<{tag}>{}</{tag}>", cell(name))).collect();
        format!("<tr>{cells}</tr>\n")
    };
    body.push_str("<table>\n");
    body.push_str(&line(&|name| style.head(name), "th"));
    for row in &ROWS {
        body.push_str(&line(&|name| style.cell(row, name), "td"));
    }
    body.push_str("</table></body></html>\n");
    mail(&body, "text/html")
}

fn mail(body: &str, kind: &str) -> String {
    format!(
        "From: service@larkfield-water.example\nTo: plant@mill-street.example\nSubject: resin\nMIME-Version: 1.0\n\
         Content-Type: {kind}; charset=utf-8\nContent-Transfer-Encoding: 8bit\n\n{body}"
    )
}
