//! What letterheads, headings, sentences and signatures say of the sample, with hand-written truths: what a person
//! who reads the lines would note down.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use beadwise::{lexicon::Lexicon, pipeline, readers::ReadOptions, record::Record};

const FIGURES: &str = "\n\nTotal capacity      1.71 eq/L\nMoisture            51.6 %\nWhole beads         93 %\n";

fn records(name: &str, text: &str) -> Vec<Record> {
    pipeline::read(name, text.as_bytes(), &ReadOptions::default(), Lexicon::builtin()).records
}

fn said(record: &Record, key: &str) -> String {
    let sample = serde_json::to_value(&record.sample).expect("a sample serializes");
    sample[key].as_str().unwrap_or("-").to_owned()
}

/// Checks the keys of the one sample of each head; "-" is what must stay unknown.
fn check(cases: &[(&str, &[(&str, &str)])]) {
    let mut wrong = Vec::new();
    for (head, truths) in cases {
        let found = records("report.txt", &format!("{head}{FIGURES}"));
        let [record] = found.as_slice() else {
            wrong.push(format!("{} records of {head:?}", found.len()));
            continue;
        };
        for (key, truth) in *truths {
            let got = said(record, key);
            if got != *truth {
                wrong.push(format!("{key}: {got:?}, and not {truth:?}, in {head:?}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn dates_are_told_by_the_words_before_them() {
    check(&[
        (
            "Core pulled March 3, 2024, reached us March 7, issued March 20, 2024",
            &[("sampled_on", "2024-03-03"), ("received_on", "2024-03-07"), ("reported_on", "2024-03-20")],
        ),
        (
            "Softener 3, core drawn 14 May 2024; with us 17 May; reported 2 June 2024",
            &[("sampled_on", "2024-05-14"), ("received_on", "2024-05-17"), ("reported_on", "2024-06-02")],
        ),
        (
            "Sample L/88 from vessel B.  In: 3 Dec 2024.  Out: 19 Dec 2024",
            &[("received_on", "2024-12-03"), ("reported_on", "2024-12-19")],
        ),
        (
            "Probe vom 12.03.2024, eingetroffen 15.03.2024, ausgestellt am 28.03.2024",
            &[("sampled_on", "2024-03-12"), ("received_on", "2024-03-15"), ("reported_on", "2024-03-28")],
        ),
        (
            "Carotte du 14 mai 2024, remise le 17 mai 2024\nÉdité le 30 mai 2024",
            &[("sampled_on", "2024-05-14"), ("received_on", "2024-05-17"), ("reported_on", "2024-05-30")],
        ),
        (
            "Muestra tomada el 8 de abril de 2024 y recibida el 11 de abril de 2024. Emitido el 25 de abril de 2024.",
            &[("sampled_on", "2024-04-08"), ("received_on", "2024-04-11"), ("reported_on", "2024-04-25")],
        ),
        ("Resin notes                                 Dt. 21-Aug-2024", &[("reported_on", "2024-08-21")]),
        ("BULLETIN\n                                  Le 11 juin 2024", &[("reported_on", "2024-06-11")]),
        (
            "NW-2210-B, May 6, 2024\n\nSoftener 4, cored April 22, 2024",
            &[("report_number", "NW-2210-B"), ("reported_on", "2024-05-06"), ("sampled_on", "2024-04-22")],
        ),
    ]);
}

#[test]
fn dates_of_other_things_are_left_alone() {
    check(&[
        ("Softener 2\nThe last sample was drawn 3 May 2021.", &[("sampled_on", "-")]),
        ("Softener 2, analysed 14 May 2024", &[("sampled_on", "-"), ("reported_on", "-")]),
    ]);
}

#[test]
fn the_filling_of_a_bed_is_told_by_its_words() {
    check(&[
        ("Softener 2. Resin in vessel since Nov 2014.", &[("installed_on", "2014-11")]),
        ("Softener 2, resin loaded in 2015", &[("installed_on", "2015")]),
        ("Enthärter 2, Harz eingebaut im Mai 2016", &[("installed_on", "2016-05")]),
        ("Adoucisseur 2, résine en service depuis 2017", &[("installed_on", "2017")]),
        ("Ablandador 2, en servicio desde marzo de 2018", &[("installed_on", "2018-03")]),
        ("Examined since 1988\n\nSoftener 2", &[("installed_on", "-")]),
    ]);
}

#[test]
fn report_numbers_are_read_to_the_character() {
    check(&[
        ("File NW-4502-C\nSoftener 2", &[("report_number", "NW-4502-C")]),
        ("Our ref: NB/25/0317                      2 April 2025", &[("report_number", "NB/25/0317")]),
        ("Job: OTH 25-2231          Softener 2", &[("report_number", "OTH 25-2231")]),
        ("Befund 25-077                            Datum: 14. Mai 2025", &[("report_number", "25-077")]),
        ("BULLETIN D'ANALYSE\nN° : CL 25/91             Le 11 juin 2025", &[("report_number", "CL 25/91")]),
        ("Prüfbericht  Nr. NB-2025/0138", &[("report_number", "NB-2025/0138")]),
        ("Certificate of Analysis   COA#NB-118840-01", &[("report_number", "NB-118840-01")]),
        ("Report: NBA 2025-311        Softener resin survey", &[("report_number", "NBA 2025-311")]),
        ("Softener 2 (our ref NB/N/2025/6)", &[("report_number", "NB/N/2025/6")]),
        ("Our job number for this pair is 25-B-0917.\nSoftener 2", &[("report_number", "25-B-0917")]),
        ("Please report 12 mg/L and more to us.\nSoftener 2", &[("report_number", "-")]),
    ]);
}

#[test]
fn customers_stand_in_address_blocks_and_behind_small_words() {
    check(&[
        (
            "NORTHBANK ANALYTICAL\n12 Ferry Row, Lower Marsh\n\nMill Street Laundry\n8 Mill Street\nLower Marsh, OH 43000\n\nSoftener 2",
            &[("customer", "Mill Street Laundry"), ("laboratory", "NORTHBANK ANALYTICAL")],
        ),
        (
            "OSTRANDER TEST HOUSE\n\nThe Chief Engineer\nMarsh End Creamery\n\nDear Sir,\n\nSoftener 2",
            &[("customer", "Marsh End Creamery"), ("laboratory", "OSTRANDER TEST HOUSE")],
        ),
        ("M/s Marsh End Creamery\n\nSoftener 2", &[("customer", "Marsh End Creamery")]),
        ("for: Pine Ridge Clinic\nSoftener 2", &[("customer", "Pine Ridge Clinic")]),
        ("A la atención de Textiles Loma Clara, S.A.\n\nAblandador 2", &[("customer", "Textiles Loma Clara, S.A.")]),
        (
            "Auftraggeber : Molkerei Marschende eG, 26999 Marschende\nAnlage : Enthärter 2",
            &[("customer", "Molkerei Marschende eG"), ("vessel", "Enthärter 2")],
        ),
        ("For the record only.\n\nSoftener 2", &[("customer", "-")]),
    ]);
}

#[test]
fn laboratories_are_known_by_their_letterhead_or_signature() {
    check(&[
        (
            "NORTHBANK BEAD WORKS, 410 Elevator Row, Lower Marsh, Ohio 43000\n\nSoftener 2",
            &[("laboratory", "NORTHBANK BEAD WORKS")],
        ),
        ("Harzlabor Marschende, 26999 Marschende\n\nEnthärter 2", &[("laboratory", "Harzlabor Marschende")]),
        ("From the bench of: NORTHBANK LEA SCIENTIFIC\nSoftener 2", &[("laboratory", "NORTHBANK LEA SCIENTIFIC")]),
        (
            "Tested by Northbank Ion Works, reference NB-118.\nSoftener 2",
            &[("laboratory", "Northbank Ion Works"), ("report_number", "NB-118")],
        ),
        (
            "Gabinete Técnico Loma Clara, S.L.\nTratamiento de aguas\n\nAblandador 2",
            &[("laboratory", "Gabinete Técnico Loma Clara, S.L.")],
        ),
        ("Resin analysis\n\nSoftener 2", &[("laboratory", "-")]),
    ]);
}

#[test]
fn vessels_and_places_stand_in_headings_and_sentences() {
    check(&[
        ("NORTH TANK  -  full-depth core, pulled April 22, 2025", &[("vessel", "NORTH TANK"), ("position", "core")]),
        (
            "Nitrate resin pulled June 30, 2025 from vessel N-2, top six inches.",
            &[("vessel", "N-2"), ("position", "top")],
        ),
        ("Entnahmestelle:\n    Filter E1, obere Schicht", &[("vessel", "Filter E1"), ("position", "top")]),
        ("No. 2 SOFTENER - RESIN CONDITION", &[("vessel", "No. 2 SOFTENER")]),
        ("Sample: composite of six cores, drawn 9 January 2025", &[("position", "composite")]),
        ("Stichprobe, Mischprobe aus fünf Einstichen", &[("position", "composite")]),
        ("Adoucisseur n° 2, prélevé au milieu du lit", &[("position", "middle")]),
    ]);
}

#[test]
fn forms_and_states_are_told_by_the_words_around_them() {
    check(&[
        ("8% gel cation, put in the sodium cycle for the work", &[("form", "Na")]),
        ("Untersuchung (Na-Form)", &[("form", "Na")]),
        ("Resin as free base form, weak base anion", &[("form", "FB")]),
        ("Probe : Kernprobe, Harz regeneriert", &[("cycle_state", "regenerated")]),
        ("Prélèvement : carotte complète, résine épuisée", &[("cycle_state", "exhausted"), ("position", "core")]),
    ]);
}

#[test]
fn a_mark_alone_is_a_report_number_with_a_doubt() {
    let found = records("report.txt", &format!("Northbank Laboratory — NBL 25-3008 — softener 2{FIGURES}"));
    let record = found.first().expect("one sample");
    assert_eq!(said(record, "report_number"), "NBL 25-3008");
    assert!(record.doubts.iter().any(|d| d.code == "key-guessed" && d.property.as_deref() == Some("report_number")));
}
