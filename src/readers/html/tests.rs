use super::*;

fn lines(html: &str) -> Vec<String> {
    let (pages, _) = read_text_noticed(html, None);
    pages.iter().flat_map(|p| &p.lines).map(show).collect()
}

/// A hard row as `table[column+columns: text | ...]`, running text as its words.
fn show(line: &crate::document::Line) -> String {
    match line.table {
        Some(table) => {
            let cells: Vec<String> = line
                .words
                .iter()
                .map(|w| {
                    let columns = w.x1 - w.x0;
                    let spans =
                        if columns > 1.0 || w.rows > 1 { format!("({columns}x{})", w.rows) } else { String::new() };
                    format!("{}{spans}={}", w.x0, w.text.replace('\n', "⏎"))
                })
                .collect();
            format!("{table}: {}", cells.join(" | "))
        }
        None => line.text(),
    }
}

#[test]
fn spans_are_laid_out_on_the_grid() {
    let got = lines(
        "<table><tr><th rowspan=2>Property<th colspan=2>Core<th rowspan=2>Unit</tr><tr><th>top<th>bottom</tr>
         <tr><td>Moisture<td>47.2<td>49.0<td>%</table>",
    );
    assert_eq!(
        got,
        [
            "1: 0(1x2)=Property | 1(2x1)=Core | 3(1x2)=Unit",
            "1: 1=top | 2=bottom",
            "1: 0=Moisture | 1=47.2 | 2=49.0 | 3=%"
        ]
    );
}

#[test]
fn entities_raised_and_lowered_figures() {
    let got = lines(
        "<p>Iron &lt;50&nbsp;mg/kg, 20 kgr/ft<sup>3</sup>, 10<sup>&minus;3</sup>, CO<sub>2</sub>, 92.5<sup>2</sup>, \
         25 <sup>o</sup>C, 1<sup>1</sup>&frasl;<sub>2</sub> in",
    );
    assert_eq!(got, ["Iron <50\u{a0}mg/kg, 20 kgr/ft³, 10⁻³, CO2, 92.5², 25 °C, 1½ in"]);
}

#[test]
fn places_are_lines_of_the_source() {
    let html = "<html>\n<body>\n<p>Sample 7\nreceived\n4 March</p>\n<table>\n<tr><td>Moisture</td>\n<td>47.2</td></tr></table>";
    let (pages, _) = read_text_noticed(html, None);
    let words: Vec<_> = pages.iter().flat_map(|p| &p.lines).flat_map(|l| &l.words).collect();
    let at: Vec<_> = words.iter().map(|w| (w.text.as_str(), w.place.line.unwrap_or(0))).collect();
    assert_eq!(at, [("Sample", 3), ("7", 3), ("received", 4), ("4", 5), ("March", 5), ("Moisture", 7), ("47.2", 8)]);
    let cell = &words.last().map(|w| w.place.clone()).unwrap_or_default();
    assert_eq!((cell.table, cell.row, cell.column), (Some(1), Some(1), Some(2)));
}

#[test]
fn running_words_stand_at_character_columns() {
    let (pages, _) = read_text_noticed("<pre>Moisture   47.2 %\nIron\t600</pre>", None);
    let words: Vec<_> = pages.iter().flat_map(|p| &p.lines).flat_map(|l| &l.words).collect();
    let at: Vec<_> = words.iter().map(|w| (w.text.as_str(), w.x0, w.x1, w.hard_left)).collect();
    assert_eq!(
        at,
        [
            ("Moisture", 0.0, 8.0, false),
            ("47.2", 11.0, 15.0, false),
            ("%", 16.0, 17.0, false),
            ("Iron", 0.0, 4.0, false),
            ("600", 8.0, 11.0, true)
        ]
    );
}

#[test]
fn definition_lists_are_tables_of_two_columns() {
    let got = lines("<dl><dt>Moisture</dt><dd>47.2 %</dd><dt>Iron<dd>600 mg/kg<dd>(dry)</dl>");
    assert_eq!(got, ["1: 0=Moisture | 1=47.2 %", "1: 0=Iron | 1=600 mg/kg", "1: 1=(dry)"]);
}

#[test]
fn hidden_figures_are_left_out_and_said() {
    let html = "<style>.old{display:none} @media print{.now{display:none}}</style><script>var x=12</script>\
        <p class=now>Moisture 47.2 %</p><p class=old>Moisture 51.0 %</p><p hidden>Iron 9</p>\
        <p style='visibility:hidden'>no figure</p><p>Beads <s>88</s> 92 %</p><table><tr style='display: none'><td>Copper<td>7<tr><td>Iron<td>600</table>";
    let (pages, notices) = read_text_noticed(html, None);
    let got: Vec<String> = pages.iter().flat_map(|p| &p.lines).map(show).collect();
    assert_eq!(got, ["Moisture 47.2 %", "Beads 92 %", "1: 0=Iron | 1=600"]);
    assert_eq!(notices.len(), 4);
    assert!(notices.iter().all(|n| n.kind == NoticeKind::HiddenContent));
}

#[test]
fn tables_that_arrange_the_page_let_their_tables_out() {
    let got = lines(
        "<table><tr><td colspan=2><h1>Report 12</h1></td></tr><tr><td><p>Site: Mill Street</p><p>Bed: 2</p></td><td>
         <table><tr><td>Moisture<td>47.2</table></td></tr><tr><td>Iron<td>600</table>",
    );
    assert_eq!(
        got,
        ["1: 0(2x1)=Report 12", "Site: Mill Street", "Bed: 2", "2: 0=Moisture | 1=47.2", "3: 0=Iron | 1=600"]
    );
}

#[test]
fn a_row_of_stacked_lines_is_rows() {
    let got = lines("<table><tr><td>Moisture<br>Iron</td><td>47.2 %<br>600 mg/kg</td></tr></table>");
    assert_eq!(got, ["1: 0=Moisture | 1=47.2 %", "1: 0=Iron | 1=600 mg/kg"]);
    let got = lines("<table><tr><td>Site: Mill<br>Bed: 2</td><td>Moisture: 47<br>Iron: 600</td></tr></table>");
    assert_eq!(got, ["Site: Mill", "Bed: 2", "Moisture: 47", "Iron: 600"]);
}

#[test]
fn rows_made_by_style_are_rows() {
    let got = lines(
        "<style>.r{display:flex}.g{display:grid;grid-template-columns:2fr 1fr}</style><div class=r><div>Moisture</div><div>47.2</div></div>
         <div class=r><div>Iron</div><div>600</div></div><div class=g><b>Zinc</b><i>1</i><b>Tin</b><i>2</i></div>",
    );
    assert_eq!(got, ["1: 0=Moisture | 1=47.2", "1: 0=Iron | 1=600", "2: 0=Zinc | 1=1", "2: 0=Tin | 1=2"]);
}

#[test]
fn labels_of_the_encoding_are_followed() {
    let page = b"<meta charset='windows-1252'><p>Gr\xf6\xdfe 0,62 mm \xb5";
    let output = read(page, &ReadOptions::default()).unwrap_or_default();
    let text: Vec<String> = output.parts.iter().flat_map(|p| &p.pages).flat_map(|p| &p.lines).map(show).collect();
    assert_eq!(text, ["Größe 0,62 mm µ"]);
}

#[test]
fn hostile_pages_end() {
    for html in [
        "<div>".repeat(20_000),
        "<table><tr><td>".repeat(3_000),
        (0..3_000).map(|i| format!("<font size={i}>")).collect::<String>() + &"<p>x".repeat(3_000),
        "<b><a>".repeat(5_000),
        "<table><tr><td colspan=99999999999 rowspan=99999999>1<tr><td rowspan=0 colspan=-3>2".to_owned(),
        "<dl><dt>".repeat(3_000),
        "&#x0;&#xD800;&bogus;<sup>".to_owned(),
        "<svg><title><table>".repeat(1_000),
    ] {
        let _ = read(html.as_bytes(), &ReadOptions::default());
    }
}
