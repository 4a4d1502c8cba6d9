//! Filing, timelines and what is due, on stores in memory and on disk.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use super::*;
use crate::judge::{Context, Verdict, example};
use crate::place::Source;
use crate::record::{FileReading, Record};

const TODAY: &str = "2025-11-25";

fn context() -> Context<'static> {
    Context { today: Some(TODAY), ..Context::builtin().unwrap() }
}

fn record(text: &str) -> Record {
    let (numbers, lines): (Vec<&str>, Vec<&str>) = text.lines().partition(|line| line.starts_with("report_number "));
    let mut record =
        example::record(&format!("class sac-gel-8\nform Na\nduty softening\n{}", lines.join("\n"))).unwrap();
    record.sample.report_number = numbers.first().map(|line| line["report_number ".len()..].to_owned());
    record
}

/// Files records as one report whose bytes are its name.
fn file(store: &mut Store, name: &str, records: Vec<(Record, Target)>, twin: Twin) -> Result<Filed, StoreError> {
    let source = Source { file: name.to_owned(), format: "text".to_owned(), sha256: hash(name.as_bytes()) };
    let reading = FileReading { source: source.clone(), ..FileReading::default() };
    let records: Vec<Placed> = records
        .into_iter()
        .map(|(record, target)| Placed {
            record: Record { source: source.clone(), ..record },
            given: Given::default(),
            target,
        })
        .collect();
    store.file(&Report { bytes: name.as_bytes(), reading: &reading, records: &records, today: TODAY, twin })
}

fn softener_2(store: &mut Store) -> String {
    let bed = Bed {
        installed_on: Some("2016-05".to_owned()),
        resin_class: Some("sac-gel-8".to_owned()),
        volume: Some(amount("bed_volume_at_startup", "10 ft3").unwrap()),
        tank_bore: Some(amount("tank_bore", "24 in").unwrap()),
        freeboard_at_startup: Some(amount("freeboard_at_startup", "20 in").unwrap()),
        ..Bed::named("Mill Street Laundry", "Softener 2")
    };
    store.add_bed(&bed).unwrap()
}

/// A charge of May 2016 that loses about 2.5 points of new a year.
fn with_years(store: &mut Store, bed: &str) {
    for (year, capacity) in [(2018, 1.90), (2020, 1.80), (2022, 1.70), (2024, 1.60)] {
        let text = format!(
            "sampled_on {year}-05-15\nlaboratory Northbank Analytical\nreport_number NB-{year}\ntotal_capacity volume {capacity}\nmoisture_retention 48"
        );
        file(store, &format!("{year}.txt"), vec![(record(&text), Target::Bed(bed.to_owned()))], Twin::Refuse).unwrap();
    }
}

#[test]
fn a_report_is_found_its_bed_by_site_and_vessel() {
    let mut store = Store::in_memory().unwrap();
    let id = softener_2(&mut store);
    let placed = |store: &Store, text: &str| store.place(&record(text).sample).unwrap();
    assert_eq!(
        placed(&store, "site mill street laundry.\nvessel Softener No. 2 (lead)"),
        Placing::Known { bed: id.clone() }
    );
    assert_eq!(placed(&store, "site Mill Street Laundry\nvessel Softener 1"), Placing::Unknown);
    assert_eq!(placed(&store, "site Mill Street\nvessel Softener 2"), Placing::Unsure { beds: vec![id.clone()] });
    assert_eq!(placed(&store, "vessel Softener 2"), Placing::Unsure { beds: vec![id.clone()] });
    assert_eq!(placed(&store, "site Marsh End Creamery"), Placing::Nameless);
    assert_eq!(placed(&store, "position core"), Placing::Nameless);
    // What somebody says once holds from then on, where both names stand.
    let said = record("site Mill Street\nvessel Lead softener\ntotal_capacity volume 1.9");
    file(&mut store, "a.txt", vec![(said, Target::Bed(id.clone()))], Twin::Refuse).unwrap();
    assert_eq!(placed(&store, "site mill street\nvessel LEAD SOFTENER"), Placing::Known { bed: id });
}

#[test]
fn the_same_bytes_twice_change_nothing() {
    let mut store = Store::in_memory().unwrap();
    let id = softener_2(&mut store);
    with_years(&mut store, &id);
    let mut before = Vec::new();
    store.export(&mut before).unwrap();
    let again = file(&mut store, "2018.txt", vec![(record("total_capacity volume 9"), Target::Bed(id))], Twin::Refuse);
    assert!(again.unwrap().already);
    let mut after = Vec::new();
    store.export(&mut after).unwrap();
    assert_eq!(before, after);
}

#[test]
fn another_file_of_the_same_report_is_refused_replaced_or_kept_beside() {
    let mut store = Store::in_memory().unwrap();
    let id = softener_2(&mut store);
    let text =
        "sampled_on 2024-05-15\nlaboratory NORTHBANK Analytical\nreport_number nb-2024\ntotal_capacity volume 1.5";
    with_years(&mut store, &id);
    let revised = || vec![(record(text), Target::Bed(id.clone()))];
    let counting = |store: &Store| store.timeline(&id).unwrap().analyses.iter().filter(|a| a.counts).count();
    let refused = file(&mut store, "revised.pdf", revised(), Twin::Refuse).unwrap_err();
    assert!(refused.to_string().contains("2024.txt"), "{refused}");
    assert_eq!(counting(&store), 4);
    let replaced = file(&mut store, "revised.pdf", revised(), Twin::Replace).unwrap();
    assert_eq!(replaced.replaced, ["2024.txt"]);
    assert_eq!(counting(&store), 4);
    assert_eq!(store.timeline(&id).unwrap().analyses.len(), 5, "the old one stays to be seen");
    file(&mut store, "third.pdf", revised(), Twin::Beside).unwrap();
    assert_eq!(counting(&store), 5);
    assert!(store.check().unwrap().wrong.is_empty());
}

#[test]
fn a_report_with_one_impossible_record_leaves_no_trace() {
    let mut store = Store::in_memory().unwrap();
    let id = softener_2(&mut store);
    let records = vec![
        (record("sampled_on 2024-05-15\ntotal_capacity volume 1.5"), Target::Bed(id.clone())),
        (record("sampled_on 2024-05-15\ntotal_capacity volume 1.5"), Target::Bed("no-such-bed".to_owned())),
    ];
    assert!(file(&mut store, "two.txt", records, Twin::Refuse).is_err());
    assert_eq!(store.timeline(&id).unwrap().analyses.len(), 0);
    assert_eq!(store.reports(None).unwrap().len(), 0);
}

#[test]
fn a_steady_loss_is_foretold() {
    let mut store = Store::in_memory().unwrap();
    let id = softener_2(&mut store);
    with_years(&mut store, &id);
    let history = store.timeline(&id).unwrap().history(&context());
    let trend = &history.trends[0];
    assert_eq!((trend.property.as_str(), trend.count), ("total_capacity", 4));
    // By hand: 0.05 eq/L a year of 2.00 (the class sac-gel-8) is 2.5 points; from 80 % in May 2024 two years to 75 %.
    assert!((trend.per_year.best + 2.5).abs() < 0.15, "{:?}", trend.per_year);
    let likely = trend.meets.as_ref().unwrap().likely.clone().unwrap();
    assert!(("2026-01"..="2026-10").contains(&&likely[..7]), "{likely}");
    assert!(!trend.fast);
    // With nothing but the four points, by hand: slope 0.1 in 2 years throughout.
    assert!((trend.per_year.robust.unwrap() + 2.5).abs() < 0.01);
    assert_eq!(history.entries[3].figures[0].percent_of_new.map(f64::round), Some(80.0));
}

#[test]
fn decline_above_five_points_a_year_is_to_be_investigated() {
    let mut store = Store::in_memory().unwrap();
    let id = softener_2(&mut store);
    for (year, capacity) in [(2017, 1.96), (2018, 1.82), (2019, 1.68), (2020, 1.54)] {
        let text = format!("sampled_on {year}-05-15\ntotal_capacity volume {capacity}");
        file(&mut store, &format!("{year}"), vec![(record(&text), Target::Bed(id.clone()))], Twin::Refuse).unwrap();
    }
    let trend = store.timeline(&id).unwrap().history(&context()).trends.swap_remove(0);
    assert!(trend.fast, "{:?}", trend.per_year);
    assert!(trend.notes.iter().any(|note| note.contains("look for the cause")));
}

#[test]
fn a_rebed_begins_the_timeline_anew() {
    let mut store = Store::in_memory().unwrap();
    let id = softener_2(&mut store);
    with_years(&mut store, &id);
    let event = Event { happened_on: "2024-08-01".into(), kind: EventKind::Rebedded, ..Event::default() };
    assert!(store.add_event(&id, &event).unwrap());
    assert!(!store.add_event(&id, &event).unwrap(), "the same event twice is one");
    let new = record("sampled_on 2024-09-01\ntotal_capacity volume 2.04");
    file(&mut store, "new", vec![(new, Target::Bed(id.clone()))], Twin::Refuse).unwrap();
    let timeline = store.timeline(&id).unwrap();
    assert_eq!(timeline.charges.len(), 2);
    assert_eq!(timeline.analyses.iter().map(|a| a.charge).collect::<Vec<_>>(), [0, 0, 0, 0, 1]);
    let history = timeline.history(&context());
    assert_eq!(history.trends[0].count, 1);
    assert!(history.trends[0].notes[0].contains("own first analysis"));
}

#[test]
fn a_later_filling_in_a_report_is_told_and_not_hidden() {
    let mut store = Store::in_memory().unwrap();
    let id = softener_2(&mut store);
    with_years(&mut store, &id);
    let told = record("sampled_on 2025-02-20\ninstalled_on 2025-02-12\ntotal_capacity volume 2.03");
    file(&mut store, "told.eml", vec![(told, Target::Bed(id.clone()))], Twin::Refuse).unwrap();
    let history = store.timeline(&id).unwrap().history(&context());
    assert_eq!(history.charges.len(), 2);
    assert!(history.notes.iter().any(|note| note.contains("told.eml")), "{:?}", history.notes);
    assert_eq!(
        store.bed(&id).unwrap().installed_on.as_deref(),
        Some("2016-05"),
        "a report never overwrites the register"
    );
}

#[test]
fn a_change_of_laboratory_method_form_or_unit_is_marked() {
    let mut store = Store::in_memory().unwrap();
    let id = softener_2(&mut store);
    let mut one = record("sampled_on 2020-05-15\nlaboratory Northbank Analytical\ntotal_capacity volume 1.9");
    let mut two = record("sampled_on 2022-05-15\nlaboratory Ostrander Test House\ntotal_capacity volume 1.8\n");
    one.measurements[0].method = Some("ASTM D2187".into());
    one.measurements[0].as_written = "41.5 kgr/ft³".into();
    two.measurements[0].method = Some("DIN 54402".into());
    two.measurements[0].as_written = "1,80 val/l".into();
    one.measurements[0].form = Some("Na".into());
    two.measurements[0].form = Some("H".into());
    for (name, record) in [("one", one), ("two", two)] {
        file(&mut store, name, vec![(record, Target::Bed(id.clone()))], Twin::Refuse).unwrap();
    }
    let history = store.timeline(&id).unwrap().history(&context());
    let changes = history.entries[1].changes.join("; ");
    for part in ["laboratory: Northbank", "method: ASTM", "form: Na, then H", "unit: kgr/ft³, then val/l"] {
        assert!(changes.contains(part), "{part} is missing in {changes}");
    }
}

#[test]
fn the_verdict_rests_on_the_beds_own_first_analysis_and_freeboard() {
    let mut store = Store::in_memory().unwrap();
    let id = softener_2(&mut store);
    let first = record("sampled_on 2016-06-01\ntotal_capacity volume 2.10\nmoisture_retention 46");
    file(&mut store, "first", vec![(first, Target::Bed(id.clone()))], Twin::Refuse).unwrap();
    let points = ["25 in", "26 in", "27 in"].iter().map(|text| amount("freeboard", text).unwrap()).collect();
    let reading = Reading {
        taken_on: "2025-10-20".into(),
        quantity: "freeboard".into(),
        points,
        state: BedState::Regenerated,
        ..Reading::default()
    };
    store.add_reading(&id, &reading).unwrap();
    let now = record(
        "sampled_on 2025-11-01\ntotal_capacity volume 1.95\nmoisture_retention 47\nwhole_beads 95\niron dry_mass 100",
    );
    let timeline = store.timeline(&id).unwrap();
    let judgement = timeline.verdict(&now, &context());
    assert_eq!(judgement.baseline.from.as_deref(), Some("bed"), "{:?}", judgement.baseline);
    // By hand: the surface fell by 6 in = 0.1524 m of a bed 283.2 L / 0.2919 m2 = 0.970 m deep: 16 % of it is gone.
    assert_eq!(judgement.verdict, Verdict::TopOff, "{:#?}", judgement.reasons);
    assert!(judgement.reasons.iter().any(|reason| reason.contains("Over 2 analyses")), "{:?}", judgement.reasons);
    // The report's own figures are never replaced by the register's.
    let own = record("sampled_on 2025-11-01\ntotal_capacity volume 1.95\nfreeboard 0.508");
    assert_eq!(timeline.verdict(&own, &context()).verdict, Verdict::Keep);
}

#[test]
fn a_worn_first_analysis_does_not_stand_for_new_resin() {
    let mut store = Store::in_memory().unwrap();
    let id = softener_2(&mut store);
    let first = record("sampled_on 2023-06-01\ntotal_capacity volume 1.60");
    file(&mut store, "first", vec![(first, Target::Bed(id.clone()))], Twin::Refuse).unwrap();
    let now = record("sampled_on 2025-11-01\ntotal_capacity volume 1.45");
    let judgement = store.timeline(&id).unwrap().verdict(&now, &context());
    assert_eq!(judgement.baseline.from.as_deref(), Some("class"));
}

#[test]
fn what_is_due_follows_from_age_wear_and_what_was_done() {
    let mut store = Store::in_memory().unwrap();
    let id = softener_2(&mut store);
    let c = context();
    let sample = |store: &Store| {
        let outlooks = store.outlooks(None, TODAY, c.specs, c.policy).unwrap();
        due(&outlooks, TODAY, c.specs, c.policy).into_iter().find(|due| due.what == "sample").unwrap()
    };
    assert!(sample(&store).why.contains("no dated analysis"));
    with_years(&mut store, &id);
    // 80 % left of which 75 % is the limit, last sampled in May 2024: six months on.
    assert_eq!(sample(&store).on, "2024-11-15");
    let cleaned = Event { happened_on: "2025-09-01".into(), kind: EventKind::Cleaned, ..Event::default() };
    store.add_event(&id, &cleaned).unwrap();
    assert_eq!(sample(&store).on, "2025-12-01", "three months after a cleaning");
    let rebed = Event { happened_on: "2025-11-01".into(), kind: EventKind::Rebedded, ..Event::default() };
    store.add_event(&id, &rebed).unwrap();
    let first = sample(&store);
    assert_eq!(first.on, "2025-12-01", "{}", first.why);
    assert!(first.why.contains("no analysis of its own"), "{}", first.why);
}

#[test]
fn the_bed_that_waiting_costs_most_comes_first() {
    let mut store = Store::in_memory().unwrap();
    let worn = softener_2(&mut store);
    with_years(&mut store, &worn);
    let big = Bed {
        volume: Some(amount("bed_volume_at_startup", "100 ft3").unwrap()),
        ..Bed::named("Marsh End", "Softener")
    };
    let big = store
        .add_bed(&Bed { resin_class: Some("sac-gel-8".into()), installed_on: Some("2022".into()), ..big })
        .unwrap();
    let sound = record("sampled_on 2025-05-15\ntotal_capacity volume 1.98");
    file(&mut store, "sound", vec![(sound, Target::Bed(big.clone()))], Twin::Refuse).unwrap();
    let c = context();
    let order = |store: &Store| {
        let outlooks = store.outlooks(None, TODAY, c.specs, c.policy).unwrap();
        rank(&outlooks, TODAY, c.specs, c.policy)
    };
    let ranked = order(&store);
    assert_eq!(ranked[0].bed, worn, "{ranked:#?}");
    for (on, gallons) in [("2022-06-01", "90000 gal"), ("2025-10-01", "45000 gal")] {
        let points = vec![amount("volume_between_regenerations", gallons).unwrap()];
        let quantity = "volume_between_regenerations".to_owned();
        store.add_reading(&big, &Reading { taken_on: on.into(), quantity, points, ..Reading::default() }).unwrap();
    }
    let ranked = order(&store);
    assert_eq!(ranked[0].bed, big, "half of the run is gone on a bed ten times as big");
    assert!(ranked[0].field[0].contains("50 %"), "{:?}", ranked[0].field);
    let one = store.outlooks(Some("marsh end"), TODAY, c.specs, c.policy).unwrap();
    assert_eq!(one.len(), 1, "a site alone");
}

#[test]
fn an_export_taken_in_gives_the_same_export() {
    let mut store = Store::in_memory().unwrap();
    let id = softener_2(&mut store);
    with_years(&mut store, &id);
    store
        .add_event(&id, &Event { happened_on: "2023-01-01".into(), kind: EventKind::ValveRebuilt, ..Event::default() })
        .unwrap();
    let points = vec![amount("freeboard", "21 in").unwrap()];
    store
        .add_reading(
            &id,
            &Reading { taken_on: "2023-01-01".into(), quantity: "freeboard".into(), points, ..Reading::default() },
        )
        .unwrap();
    let mut lines = Vec::new();
    store.export(&mut lines).unwrap();
    let mut other = Store::in_memory().unwrap();
    other.import(lines.as_slice()).unwrap();
    let mut again = Vec::new();
    other.export(&mut again).unwrap();
    assert_eq!(String::from_utf8(lines.clone()).unwrap(), String::from_utf8(again).unwrap());
    assert!(other.check().unwrap().wrong.is_empty());
    assert_eq!(other.original(&hash(b"2018.txt")).unwrap(), b"2018.txt");
    assert!(other.import(lines.as_slice()).is_err(), "a store that holds something takes none in");
    let mut cut = Store::in_memory().unwrap();
    let half = &lines[..lines.len() / 2];
    assert!(cut.import(half).is_err());
    assert_eq!(cut.beds(None).unwrap().len(), 0, "nothing of half a file is taken in");
}

#[test]
fn a_backup_comes_back_and_what_it_replaces_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("beds.db");
    let mut store = Store::open_or_begin(&path).unwrap();
    let id = softener_2(&mut store);
    with_years(&mut store, &id);
    let backup = folder.path().join("backup.db");
    store.back_up(&backup).unwrap();
    assert!(store.back_up(&backup).is_err(), "a backup never takes another file's place");
    store.add_bed(&Bed::named("Pine Ridge Clinic", "Softener")).unwrap();
    let saved = store.restore(&backup, "stamp").unwrap().unwrap();
    assert_eq!(store.beds(None).unwrap().len(), 1);
    assert_eq!(store.timeline(&id).unwrap().analyses.len(), 4);
    assert_eq!(Store::open(&saved).unwrap().beds(None).unwrap().len(), 2);
    std::fs::write(folder.path().join("bad.db"), "no store").unwrap();
    assert!(store.restore(&folder.path().join("bad.db"), "s2").is_err());
    assert_eq!(store.beds(None).unwrap().len(), 1);
}

#[test]
fn damage_is_found() {
    let mut store = Store::in_memory().unwrap();
    let id = softener_2(&mut store);
    with_years(&mut store, &id);
    assert!(store.check().unwrap().wrong.is_empty());
    store.run(|db| db.execute("UPDATE report SET content = x'00' WHERE name = '2018.txt'", [])).unwrap();
    store.run(|db| db.execute("UPDATE analysis SET record = '{' WHERE taken_on LIKE '2020%'", [])).unwrap();
    store
        .run(|db| {
            db.execute("DELETE FROM figure WHERE analysis = (SELECT id FROM analysis WHERE taken_on LIKE '2022%')", [])
        })
        .unwrap();
    let wrong = store.check().unwrap().wrong;
    assert_eq!(wrong.len(), 3, "{wrong:#?}");
}

#[test]
fn reading_again_shows_what_changes_before_it_changes() {
    let mut store = Store::in_memory().unwrap();
    let id = softener_2(&mut store);
    with_years(&mut store, &id);
    let report = store.reports(Some(&id)).unwrap().swap_remove(0);
    let mut better = store.timeline(&id).unwrap().analyses[0].record.clone();
    better.measurements[0].value = Some(1.88);
    let found = store.compare_reading(&report, std::slice::from_ref(&better)).unwrap();
    assert_eq!(found.changes.len(), 1, "{:?}", found.changes);
    assert!(found.changes[0].contains("1.88") && found.changes[0].contains("1.9 "), "{:?}", found.changes);
    assert_eq!(store.timeline(&id).unwrap().analyses[0].record.measurements[0].value, Some(1.9));
    let reading = FileReading { source: better.source.clone(), ..FileReading::default() };
    store.take_reading(&report.sha256, &reading, std::slice::from_ref(&better)).unwrap();
    assert_eq!(store.timeline(&id).unwrap().analyses[0].record.measurements[0].value, Some(1.88));
    assert!(store.check().unwrap().wrong.is_empty());
    let none = store.compare_reading(&report, &[]).unwrap();
    assert!(none.hindrance.is_some());
}

#[test]
fn depths_of_one_day_are_one_point_and_a_bench_trial_is_none() {
    use super::outlook::{Role, Sighting, lined_up};
    let sighting = |on: &str, role, value| Sighting { on: on.into(), role, laboratory: None, form: "Na".into(), value };
    let (line, cleaned) = lined_up(&[
        sighting("2020-01-01", Role::Depth, 1.0),
        sighting("2020-01-01", Role::Depth, 2.0),
        sighting("2021-01-01", Role::Depth, 1.0),
        sighting("2022-01-01", Role::Bed, 1.5),
        sighting("2022-01-01", Role::Cleaned, 1.8),
        sighting("2023-01-01", Role::Cleaned, 1.7),
    ]);
    let values: Vec<(&str, f64)> = line.iter().map(|(dated, _)| (dated.on.as_str(), dated.value)).collect();
    assert_eq!(values, [("2020-01-01", 1.5), ("2022-01-01", 1.5), ("2023-01-01", 1.7)]);
    assert_eq!(cleaned, ["2023-01-01"]);
}
