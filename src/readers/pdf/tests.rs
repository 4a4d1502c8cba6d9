#![allow(clippy::unwrap_used, clippy::indexing_slicing)]
use super::*;
use crate::document::Line;

/// A line as its words, ` | ` before a hard border; a table's row as `T1 0=text 1=text`.
fn show(line: &Line) -> String {
    let mut shown = line.table.map_or(String::new(), |t| format!("T{t}"));
    for word in &line.words {
        if line.table.is_some() {
            let spans = if word.x1 - word.x0 > 1.0 || word.rows > 1 {
                format!("({}x{})", word.x1 - word.x0, word.rows)
            } else {
                String::new()
            };
            shown.push_str(&format!(" {}{spans}={}", word.x0, word.text.replace('\n', "⏎")));
        } else {
            if !shown.is_empty() {
                shown.push_str(if word.hard_left { " | " } else { " " });
            }
            shown.push_str(&word.text);
        }
    }
    shown
}

fn file(name: &str) -> Vec<u8> {
    std::fs::read(format!("{}/tests/readers/pdf/{name}", env!("CARGO_MANIFEST_DIR"))).unwrap()
}

fn output(name: &str) -> ReadOutput {
    read(&file(name), &ReadOptions::default()).unwrap()
}

fn lines(name: &str) -> Vec<String> {
    output(name).parts[0].pages.iter().flat_map(|p| &p.lines).map(show).collect()
}

#[track_caller]
fn holds(name: &str, wanted: &[&str]) {
    let lines = lines(name);
    for wanted in wanted {
        assert!(lines.iter().any(|l| l == wanted), "{wanted:?} is not in\n{}", lines.join("\n"));
    }
}

fn notices(name: &str) -> Vec<String> {
    output(name).notices.into_iter().map(|n| n.text).collect()
}

const RULED: [&str; 11] = [
    "Northbank Analytical Report NB-2231",
    "Customer: Mill Street Laundry",
    "Sampled: 1 March 2025",
    "T1 0=Property 1=Result 2=Unit 3=New resin 4=Method",
    "T1 0=Total capacity, volume basis,⏎as backwashed and settled 1=1.62 2=eq/L 3=≥ 2.0 4=in-house 4",
    "T1 0=Moisture retention 1=52.4¹ 2=% 3=44 − 48 4=in-house 2",
    "T1 0=Whole beads 1=88.5 ± 2.0 2=% 3=≥ 95 4=in-house 7",
    "T1 0=Iron 1=6,200 2=mg/kg dry 3=≤ 100 4=in-house 9",
    "T1 0=Rated capacity 1=24.5 2=kgr/ft³ 3=30",
    "T1 0=Leakage 1=3.2 x 10⁻³ 2=eq/L",
    "¹ after drying at 105 °C",
];

#[test]
fn a_ruled_table_is_hard_rows() {
    let got = lines("reportlab-ruled.pdf");
    assert_eq!(got[..11], RULED);
    assert_eq!(got[11], "Page 1");
}

#[test]
fn a_turned_page_reads_the_same() {
    assert_eq!(lines("qpdf-rotated.pdf"), lines("reportlab-ruled.pdf"));
}

#[test]
fn columns_beside_each_other_share_lines() {
    let got = lines("reportlab-columns.pdf");
    let want = [
        "Resin analysis",
        "Site: Pine Ridge Clinic | Moisture 47.2 %",
        "Vessel: Softener 1 | Total capacity 1.91 eq/L",
        "Sampled: 2025-03-01 | Whole beads 93 %",
        "Resin: gel cation | Copper < 50 mg/kg",
        "Rated 30 kgr/ft³ at 15 lb",
        "Iron 600 mg/kg",
        "Beads 92.5²%",
        "² counted under the microscope, 200 beads",
        "Form 12-7",
        "COPY",
    ];
    assert_eq!(got, want);
    let output = output("reportlab-columns.pdf");
    let iron = &output.parts[0].pages[0].lines[6];
    // Drawn from x = 50, and to end at x = 545 with "600 mg/kg".
    assert!((iron.words[0].x0 - 50.0).abs() < 0.5 && (iron.words[2].x1 - 545.0).abs() < 0.5);
    assert_eq!(iron.words[1].place, Where::page_line(1, 7));
    // The baseline stands 620 points over the lower edge of a sheet of 842.
    assert!(iron.top < 222.0 && 222.0 < iron.bottom);
}

#[test]
fn tables_beside_each_other_are_two() {
    let want = [
        "Results Sieve analysis",
        "T1 0=Property 1=Result 2=Unit",
        "T1 0=Moisture 1=47.2 2=%",
        "T1 0=Iron 1=600 2=mg/kg",
        "T2 0=Opening, mm 1=Retained, %",
        "T2 0=1.18 1=2.1",
        "T2 0=0.60 1=71.5",
        "T2 0=0.30 1=25.9",
        "Remarks: beads are dark",
    ];
    assert_eq!(lines("reportlab-beside.pdf"), want);
}

#[test]
fn form_objects_stand_where_they_are_drawn_and_turned_heads_in_their_cells() {
    let want = [
        "Inside 12.5",
        "Inside 12.5",
        "T1 0=Core 1=Moisture, % 2=Iron, mg/kg",
        "T1 0=top 1=47.2 2=600",
        "T1 0=bottom 1=49.0 2=710",
    ];
    assert_eq!(lines("reportlab-forms.pdf"), want);
    holds("reportlab-fields.pdf", &["Moisture, % 47.2"]);
}

#[test]
fn a_table_over_two_pages_keeps_its_head() {
    let output = output("reportlab-long.pdf");
    let pages: Vec<Vec<String>> = output.parts[0].pages.iter().map(|p| p.lines.iter().map(show).collect()).collect();
    assert_eq!(pages.len(), 2);
    assert_eq!(pages[0][1], "No. Property Top Bottom Unit");
    assert_eq!(pages[1][0], "No. Property Top Bottom Unit");
    assert_eq!(pages[0][2], "1 Property 1 1.1 101.5 mg/kg");
    assert!(pages[1].iter().any(|l| l == "60 Property 60 60.0 160.5 mg/kg"));
    assert_eq!(output.parts[0].pages[1].lines[1].words[0].place.page, Some(2));
    assert!(output.notices.iter().all(|n| n.text.contains("cut off")));
}

#[test]
fn what_nobody_sees_is_said_and_not_read() {
    assert_eq!(lines("reportlab-unseen.pdf"), ["Moisture 47.2 %", "Iron 600 mg/kg", "Copper 70 mg/kg"]);
    let notices = notices("reportlab-unseen.pdf");
    assert!(notices.iter().any(|n| n.contains("Moisture 51.0 %")));
    assert!(notices.iter().any(|n| n.contains("struck out") && n.contains("77")));
    assert!(notices.iter().any(|n| n.contains("cut off")));
}

#[test]
fn a_scan_is_refused_and_its_invisible_text_marked() {
    let error = read(&file("reportlab-scan.pdf"), &ReadOptions::default()).unwrap_err();
    assert_eq!(error.code, "no-text-layer");
    assert!(error.text.contains("--ocr") && error.text.contains("tesseract"));
    let output = output("reportlab-ocr.pdf");
    let words = &output.parts[0].pages[0].lines[0].words;
    assert_eq!(show(&output.parts[0].pages[0].lines[0]), "Moisture 47.2 %");
    assert!(words.iter().all(|w| w.recognized == Some(0.5)));
}

#[test]
fn cores_side_by_side_without_rules() {
    let want = [
        "Larkfield Water Service – three cores, Feed: µS/cm",
        "V1 top V1 middle V1 bottom Spec.",
        "Moisture, % 47,2 48,0 50,1 44 – 48",
        "Diam. µm 640 652 655 ≥ 600",
        "Capacity eq/L 1,91 1,88 1,70 ≥ 2,0",
        "Fines ≤ 0,3 mm 0,4 0,6 1,2 ≤ 1",
    ];
    assert_eq!(lines("fpdf2-unruled.pdf"), want);
    holds("fpdf2-table.pdf", &["T1 0=Property 1=Result 2=Unit", "T1 0=Total capacity 1=1.62 2=eq/L"]);
}

#[test]
fn office_letters_and_sheets() {
    holds(
        "libreoffice-letter.pdf",
        &[
            "Northbank Analytical, report NB-2231",
            "Customer: Marsh End Creamery",
            "T1 0=Property 1=Result 2=Unit 3=New",
            "T1 0=Total capacity 1=1.62 2=eq/L 3=≥ 2.0",
            "T1 0=Moisture,⏎sodium form,⏎drained and fully⏎swollen 1=52.4 2=% 3=44–48",
            "T1 0=Iron 1=< 50 2=mg/kg 3=≤ 100",
            "T1 0(4x1)=All figures on the dry basis",
            "Rated 30 kgr/ft³ at 15 lb; CO2 absent. Efficient office affluent.",
        ],
    );
    let want = [
        "Befund über Ionenaustauscherharz",
        "Wassergehalt % 47,2",
        "Totalkapazität val/L 1,91",
        "Eisen (trocken) mg/kg −12,5",
        "Schüttdichte 820 kg/m³, Größe 0,62 mm ± 0,05²",
        "² Mittel aus zwei Proben",
    ];
    assert_eq!(lines("libreoffice-odt.pdf"), want);
    holds(
        "libreoffice-sheet.pdf",
        &["Total capacity 1.62 eq/L min 2.0", "Iron -12.5 mg/kg max 100", "Cracked beads 5.3%"],
    );
}

const PAGE: [&str; 10] = [
    "Site: Mill Street Laundry Report: 4471",
    "Received: 4 March 2025 Form: sodium",
    "T1 0(1x2)=Property 1(2x1)=Core 3(1x2)=Unit",
    "T1 1=top 2=bottom",
    "T1 0=Total capacity, backwashed⏎and settled 1=1.62 2=1.71 3=eq/L",
    "T1 0=Moisture 1=52.4ᵃ 2=51.0 3=%",
    "T1 0=Iron 1=< 50 2=−12 3=mg/kg",
    "Freeboard 24 in",
    "Rated 30 kgr/ft³, office efficient flow; 10⁻³ eq.",
    "a mean of two; ½ m³ of resin, 640 µm",
];

#[test]
fn pages_printed_by_a_browser() {
    for name in ["chromium-report.pdf", "weasyprint-report.pdf", "gs-distilled.pdf"] {
        holds(name, &PAGE);
        assert!(notices(name).is_empty());
    }
}

#[test]
fn tables_of_tex() {
    holds(
        "pdflatex-tables.pdf",
        &[
            "Efficient affluent analysis",
            "Total capacity | 1.62 | eq/L",
            "Iron | < 50 | mg/kg",
            "Fines | ≤ 0.8 | %",
            "Whole beads, % 88.5 ± 2.0 −12.5",
            "Rated, kgr/ft³ 24.5 25.0",
            "Leakage 3.2 × 10⁻³ 92.5²",
            "T1 0=A 1=1",
            "T1 0=B 1=2",
        ],
    );
}

#[test]
fn other_producers() {
    let want = ["Moisture 47.2 %", "Officinal effluent 12.5 mg/L", "Diameter 640 µm ± 5", "Iron ≤ 100 mg/kg"];
    assert_eq!(lines("cairo-plain.pdf"), want);
    holds("matplotlib-type3.pdf", &["Moisture 47.2 %", "Total capacity 1.62 eq/L", "Resin 10⁻³ m³"]);
}

#[test]
fn locks() {
    assert_eq!(lines("qpdf-owner.pdf"), lines("reportlab-columns.pdf"));
    let locked = file("qpdf-user.pdf");
    let with = |password: Option<&str>| {
        read(&locked, &ReadOptions { password: password.map(str::to_owned), ..ReadOptions::default() })
    };
    let error = with(None).unwrap_err();
    assert_eq!(error.code, "encrypted");
    assert!(error.text.contains("--password"));
    assert_eq!(with(Some("wrong")).unwrap_err().code, "encrypted");
    assert!(with(Some("user")).is_ok());
}

/// A file of one page with this content; objects from number 5 on may be given.
fn small(content: &str, resources: &str, others: &[&str]) -> Vec<u8> {
    let mut writer = super::writer::Writer::default();
    let root = writer.add(b"<</Type/Catalog/Pages 2 0 R>>");
    writer.add(b"<</Type/Pages/Count 1/Kids[3 0 R]>>");
    let page = format!("<</Type/Page/Parent 2 0 R/MediaBox[0 0 400 400]/Contents 4 0 R/Resources<<{resources}>>>>");
    writer.add(page.as_bytes());
    writer.add_stream(b"", content.as_bytes());
    for other in others {
        writer.add(other.as_bytes());
    }
    writer.finish(root)
}

fn small_lines(content: &str, resources: &str, others: &[&str]) -> Result<Vec<String>, ReadError> {
    let output = read(&small(content, resources, others), &ReadOptions::default())?;
    Ok(output.parts[0].pages[0].lines.iter().map(show).collect())
}

const HELVETICA: &str = "/Font<</F<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>>>";

#[test]
fn operators_that_the_text_pass_drops() {
    let content = "BT /F 10 Tf 20 TL 50 300 Td (Moisture) Tj (47.2) ' 0 0 (Iron) \" ET B* (lost) Tj";
    assert_eq!(small_lines(content, HELVETICA, &[]).unwrap()[..3], ["Moisture", "47.2", "Iron"]);
}

#[test]
fn a_layer_that_is_off_is_not_read() {
    let mut writer = super::writer::Writer::default();
    let root = writer.add(b"<</Type/Catalog/Pages 2 0 R/OCProperties<</OCGs[5 0 R]/D<</OFF[5 0 R]>>>>>>");
    writer.add(b"<</Type/Pages/Count 1/Kids[3 0 R]>>");
    let page = format!(
        "<</Type/Page/Parent 2 0 R/MediaBox[0 0 400 400]/Contents 4 0 R/Resources<<{HELVETICA}/Properties<</L 5 0 R>>>>>>"
    );
    writer.add(page.as_bytes());
    writer
        .add_stream(b"", b"BT /F 10 Tf 50 300 Td (Iron 600) Tj ET /OC /L BDC BT /F 10 Tf 50 200 Td (Iron 9) Tj ET EMC");
    writer.add(b"<</Type/OCG/Name(x)>>");
    let output = read(&writer.finish(root), &ReadOptions::default()).unwrap();
    assert_eq!(output.parts[0].pages[0].lines.iter().map(show).collect::<Vec<_>>(), ["Iron 600"]);
    assert!(output.notices[0].text.contains("Iron 9"));
}

#[test]
fn text_whose_font_says_not_what_it_shows_is_refused_or_named() {
    let font = "/Font<</F<</Type/Font/Subtype/Type0/BaseFont/X/Encoding/Identity-H/DescendantFonts[<</Type/Font\
        /Subtype/CIDFontType2/BaseFont/X>>]>>/G<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>>>";
    let error = small_lines("BT /F 10 Tf 50 300 Td <00010002> Tj ET", font, &[]).unwrap_err();
    assert_eq!(error.code, "no-text-layer");
    let content = "BT /G 10 Tf 50 300 Td (Moisture retention 47.2) Tj /F 10 Tf <0001> Tj ET";
    let output = read(&small(content, font, &[]), &ReadOptions::default()).unwrap();
    assert_eq!(output.notices[0].kind, NoticeKind::UnmappedText);
    assert_eq!(show(&output.parts[0].pages[0].lines[0]), "Moisture retention 47.2\u{fffd}");
}

#[test]
fn names_of_glyphs_that_nobody_knows_are_no_characters() {
    let font = "/Font<</F<</Type/Font/Subtype/Type1/BaseFont/X/FirstChar 65/LastChar 68/Widths[500 500 500 500]\
        /Encoding<</Differences[65/seven/lessequal/xyz12/three.superior]>>>>>>";
    let output = read(&small("BT /F 10 Tf 50 300 Td (AAAAABABCD) Tj ET", font, &[]), &ReadOptions::default()).unwrap();
    assert_eq!(show(&output.parts[0].pages[0].lines[0]), "77777≤7≤\u{fffd}³");
}

#[test]
fn files_made_to_hurt_end() {
    let deep = format!("{}BT /F 10 Tf (x) Tj ET", "q ".repeat(100_000));
    let form = "<</Type/XObject/Subtype/Form/BBox[0 0 9 9]/Resources<</XObject<</X 5 0 R>>>>/Length 5>>stream\n/X Do\nendstream";
    let many = "BT /F 10 Tf 1 0 0 1 5 5 Tm (xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx) Tj ET ".repeat(9_000);
    for (content, others) in [
        (deep.as_str(), vec![]),
        ("/X Do", vec![form]),
        (many.as_str(), vec![]),
        ("BT /F 1e9 Tf 99999999 0 0 9999999999 0 0 Tm (x) Tj 0 0 0 0 0 0 cm (y) Tj ET", vec![]),
        ("[[[[[[[[[[[[[[[[[[[[ ((( <<<< BT Tj TJ ' \" Tf Td Tm cm Do gs sh BI ID", vec![]),
    ] {
        let resources = format!("{HELVETICA}/XObject<</X 5 0 R>>");
        let _ = read(&small(content, &resources, &others), &ReadOptions::default());
    }
    for bytes in
        [&b""[..], b"%PDF-1.7", b"%PDF-1.4\n1 0 obj\n<</Type/Catalog/Pages 1 0 R>>\nendobj\ntrailer<</Root 1 0 R>>"]
    {
        assert!(read(bytes, &ReadOptions::default()).is_err());
    }
}

#[test]
fn damaged_files_end_in_words_or_an_error() {
    let whole = file("reportlab-ruled.pdf");
    let mut state = 99_u32;
    for _ in 0..150 {
        let mut bytes = whole.clone();
        for _ in 0..8 {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let at = (state >> 8) as usize % bytes.len();
            bytes[at] = (state >> 3) as u8;
        }
        if let Err(error) = read(&bytes, &ReadOptions::default()) {
            assert!(!error.text.is_empty());
        }
    }
}
