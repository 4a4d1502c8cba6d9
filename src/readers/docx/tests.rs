#![allow(clippy::unwrap_used, clippy::indexing_slicing)]
use super::*;
use std::io::Write;

/// A letter with a body, and other parts where the test needs them.
fn letter(body: &str, others: &[(&str, &str)]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let document = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?><w:document xmlns:w=\"w\" xmlns:r=\"r\" xmlns:mc=\"mc\" \
         xmlns:wps=\"wps\" xmlns:v=\"v\" xmlns:m=\"m\"><w:body>{body}</w:body></w:document>"
    );
    for (name, text) in [("word/document.xml", document.as_str())].iter().chain(others) {
        zip.start_file(*name, zip::write::SimpleFileOptions::default()).unwrap();
        zip.write_all(text.as_bytes()).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

fn show(line: &Line) -> String {
    let cells = line.words.iter().map(|w| {
        let spans =
            if w.x1 - w.x0 > 1.0 || w.rows > 1 { format!("({}x{})", w.x1 - w.x0, w.rows) } else { String::new() };
        format!("{}{spans}={}", w.x0, w.text.replace('\n', "⏎"))
    });
    match line.table {
        Some(table) => format!("{table}: {}", cells.collect::<Vec<_>>().join(" | ")),
        None => line.text(),
    }
}

fn lines(bytes: &[u8]) -> Vec<String> {
    let output = read(bytes, &ReadOptions::default()).unwrap();
    output.parts.iter().flat_map(|p| &p.pages).flat_map(|p| &p.lines).map(show).collect()
}

fn notices(bytes: &[u8]) -> Vec<String> {
    read(bytes, &ReadOptions::default()).unwrap().notices.into_iter().map(|n| n.text).collect()
}

#[test]
fn a_detection_limit_keeps_its_sign() {
    let file = letter("<w:p><w:r><w:t>Iron &lt; 50 mg/kg &#177; 5</w:t></w:r></w:p>", &[]);
    assert_eq!(lines(&file), ["Iron < 50 mg/kg ± 5"]);
}

#[test]
fn raised_figures_stay_apart() {
    let raised = |t: &str| format!("<w:r><w:rPr><w:vertAlign w:val='superscript'/></w:rPr><w:t>{t}</w:t></w:r>");
    let plain = |t: &str| format!("<w:r><w:t xml:space='preserve'>{t}</w:t></w:r>");
    let low = "<w:r><w:rPr><w:vertAlign w:val='subscript'/></w:rPr><w:t>2</w:t></w:r>";
    let body = format!(
        "<w:p>{}{}{}{}{}{}{}{}{low}</w:p>",
        plain("20 kgr/ft"),
        raised("3"),
        plain(", 92.5"),
        raised("2"),
        plain(", 10"),
        raised("−"),
        raised("3"),
        plain(" CO")
    );
    assert_eq!(lines(&letter(&body, &[])), ["20 kgr/ft³, 92.5², 10⁻³ CO2"]);
    let formula = "<w:p><m:oMath><m:sSup><m:e><m:r><m:t>ft</m:t></m:r></m:e><m:sup><m:r><m:t>3</m:t></m:r></m:sup>\
                   </m:sSup></m:oMath></w:p>";
    assert_eq!(lines(&letter(formula, &[])), ["ft³"]);
}

#[test]
fn merged_cells_span_and_name_their_place() {
    let cell = |p: &str, t: &str| format!("<w:tc><w:tcPr>{p}</w:tcPr><w:p><w:r><w:t>{t}</w:t></w:r></w:p></w:tc>");
    let body = format!(
        "<w:p/><w:tbl><w:tr>{}{}</w:tr><w:tr>{}{}{}</w:tr><w:tr>{}{}{}</w:tr></w:tbl>",
        cell("<w:vMerge w:val='restart'/>", "Property"),
        cell("<w:gridSpan w:val='2'/>", "Core"),
        cell("<w:vMerge/>", ""),
        cell("", "top"),
        cell("", "bottom"),
        cell("", "Moisture, %"),
        cell("", "47.2"),
        "<w:tc><w:p><w:r><w:t>49.0</w:t></w:r></w:p><w:p><w:r><w:t>(mean)</w:t></w:r></w:p></w:tc>"
    );
    let file = letter(&body, &[]);
    assert_eq!(
        lines(&file),
        ["1: 0(1x2)=Property | 1(2x1)=Core", "1: 1=top | 2=bottom", "1: 0=Moisture, % | 1=47.2 | 2=49.0⏎(mean)"]
    );
    let output = read(&file, &ReadOptions::default()).unwrap();
    let last = output.parts[0].pages[0].lines[2].words[1].place.clone();
    assert_eq!(last, Where::table_cell(1, 3, 2));
}

#[test]
fn paragraphs_count_and_tabs_are_borders() {
    let body = "<w:p><w:r><w:t>Site: Mill Street</w:t></w:r></w:p><w:p/>\
        <w:p><w:pPr><w:tabs><w:tab w:val='left' w:pos='2200'/><w:tab w:val='decimal' w:pos='4400'/></w:tabs></w:pPr>\
        <w:r><w:t>Moisture</w:t><w:tab/><w:t>%</w:t><w:tab/><w:t>47.2</w:t></w:r></w:p>";
    let output = read(&letter(body, &[]), &ReadOptions::default()).unwrap();
    let page = &output.parts[0].pages[0];
    assert_eq!(page.lines[0].words[0].place, Where::line(1));
    let words = &page.lines[1].words;
    assert!(words.iter().all(|w| w.place == Where::line(3)));
    // 2200 twips are 110 points; an ordinary character of 11-point text is 5.5 points wide.
    assert_eq!(words[1].x0, 20.0);
    assert!(!words[0].hard_left && words[1].hard_left && words[2].hard_left);
    // The decimal point stands at 220 points: two figures of 0.52 × 11 points before it.
    assert!((words[2].x0 - (220.0 - 2.0 * 0.52 * 11.0) / 5.5).abs() < 0.01);
}

#[test]
fn deleted_hidden_and_struck_text_is_said_and_not_read() {
    let body = "<w:p><w:r><w:t>Moisture 47.2 %</w:t></w:r><w:del><w:r><w:delText>51.0</w:delText></w:r></w:del>\
        <w:ins><w:r><w:t> (core)</w:t></w:r></w:ins></w:p>\
        <w:p><w:r><w:rPr><w:vanish/></w:rPr><w:t>Iron 9</w:t></w:r><w:r><w:rPr><w:vanish w:val='0'/></w:rPr><w:t>Iron 600</w:t></w:r>\
        <w:r><w:rPr><w:strike/></w:rPr><w:t>700</w:t></w:r></w:p>";
    let file = letter(
        body,
        &[(
            "word/comments.xml",
            "<w:comments xmlns:w='w'><w:comment><w:p><w:r><w:t>wrong?</w:t></w:r></w:p></w:comment></w:comments>",
        )],
    );
    assert_eq!(lines(&file), ["Moisture 47.2 % (core)", "Iron 600"]);
    assert_eq!(
        notices(&file),
        [
            "a tracked deletion was left out: 51.0",
            "hidden text was left out: Iron 9",
            "struck-out text was left out: 700",
            "comments in the margin were not read"
        ]
    );
}

#[test]
fn text_boxes_are_read_once() {
    let content = "<w:txbxContent><w:p><w:r><w:t>Report 12</w:t></w:r></w:p></w:txbxContent>";
    let body = format!(
        "<w:p><w:r><w:t>Dear customer</w:t></w:r><w:r><mc:AlternateContent><mc:Choice Requires='wps'><w:drawing><wps:txbx>{content}\
         </wps:txbx></w:drawing></mc:Choice><mc:Fallback><w:pict><v:textbox>{content}</v:textbox></w:pict></mc:Fallback>\
         </mc:AlternateContent></w:r></w:p>"
    );
    assert_eq!(lines(&letter(&body, &[])), ["Dear customer", "Report 12"]);
}

#[test]
fn headers_notes_and_footers() {
    let body = "<w:p><w:r><w:t>Beads 92.5</w:t><w:footnoteReference w:id='7'/></w:r></w:p><w:sectPr><w:headerReference r:id='a' w:type='default'/>\
        <w:headerReference r:id='b' w:type='first'/></w:sectPr>";
    let header = |t: &str| format!("<w:hdr xmlns:w='w'><w:p><w:r><w:t>{t}</w:t></w:r></w:p></w:hdr>");
    let file = letter(
        body,
        &[
            (
                "word/_rels/document.xml.rels",
                "<R><Relationship Id='a' Target='header1.xml'/><Relationship Id='b' Target='header2.xml'/></R>",
            ),
            ("word/header1.xml", &header("Report 12")),
            ("word/header2.xml", &header("Report 11")),
            (
                "word/footnotes.xml",
                "<w:footnotes xmlns:w='w'><w:footnote w:id='7'><w:p><w:r><w:footnoteRef/></w:r><w:r><w:t>whole beads</w:t></w:r></w:p></w:footnote></w:footnotes>",
            ),
        ],
    );
    assert_eq!(lines(&file), ["Report 12", "Beads 92.5¹", "¹ whole beads"]);
    assert_eq!(notices(&file), ["a header that no page shows was left out"]);
}

#[test]
fn signs_of_the_symbol_font() {
    let body = "<w:p><w:r><w:sym w:font='Symbol' w:char='F0B3'/><w:t xml:space='preserve'> 1.8, 5 </w:t></w:r>\
        <w:r><w:rPr><w:rFonts w:ascii='Symbol'/></w:rPr><w:t>m</w:t></w:r><w:r><w:t>m</w:t></w:r></w:p>";
    assert_eq!(lines(&letter(body, &[])), ["≥ 1.8, 5 µm"]);
}

#[test]
fn what_is_no_letter_says_so() {
    for (bytes, code) in [
        (b"PK\x03\x04garbage".to_vec(), "not-a-docx"),
        (Vec::new(), "not-a-docx"),
        (letter("<w:p><w:r>", &[]), "not-a-docx"),
        (letter("", &[("word/media/image1.png", "x")]), "no-text-layer"),
        (letter(&"<w:sdt>".repeat(5000), &[]).clone(), "not-a-docx"),
        (letter(&("<w:sdt>".repeat(5000) + &"</w:sdt>".repeat(5000)), &[]), "too-large"),
        (
            [
                &[0xd0, 0xcf, 0x11, 0xe0][..],
                &"EncryptedPackage".encode_utf16().flat_map(u16::to_le_bytes).collect::<Vec<_>>(),
            ]
            .concat(),
            "encrypted",
        ),
    ] {
        assert_eq!(read(&bytes, &ReadOptions::default()).unwrap_err().code, code);
    }
}

#[test]
fn a_bomb_is_refused() {
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let deflated = zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Deflated);
    zip.start_file("word/document.xml", deflated).unwrap();
    let blanks = vec![b' '; 1 << 20];
    for _ in 0..80 {
        zip.write_all(&blanks).unwrap();
    }
    let bytes = zip.finish().unwrap().into_inner();
    assert_eq!(read(&bytes, &ReadOptions::default()).unwrap_err().code, "too-large");
}

#[test]
fn mutated_letters_never_panic() {
    let file =
        letter("<w:p><w:r><w:t>Iron &lt; 50</w:t></w:r></w:p><w:tbl><w:tr><w:tc><w:p/></w:tc></w:tr></w:tbl>", &[]);
    let mut state = 12345_u32;
    for _ in 0..2000 {
        let mut bytes = file.clone();
        for _ in 0..3 {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let at = (state >> 8) as usize % bytes.len();
            bytes[at] = state as u8;
        }
        let _ = read(&bytes, &ReadOptions::default());
    }
}
