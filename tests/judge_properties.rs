//! What must hold for any record of any class.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a failed test is what a panic is for")]

use beadwise::judge::{Context, Judgement, Policy, Verdict, judge};
use beadwise::record::{Doubt, FieldFigure, Measurement, Qualifier, Record};
use beadwise::specs::{Family, Specs};
use proptest::prelude::*;
use std::sync::OnceLock;

/// Few draws, so that thousands of records are judged in seconds; scores and verdicts of undoubted records rest on none.
fn context() -> Context<'static> {
    static POLICY: OnceLock<Policy> = OnceLock::new();
    let policy = POLICY.get_or_init(|| {
        let mut policy = Policy::builtin().unwrap().clone();
        policy.limits.draws = 40.0;
        policy
    });
    Context { policy, ..Context::builtin().unwrap() }
}

const CLASSES: [&str; 11] = [
    "sac-gel-8",
    "sac-gel-10",
    "sac-macro",
    "wac",
    "sba1-gel",
    "sba1-porous",
    "sba1-macro",
    "sba2-gel",
    "sba-acrylic",
    "sba-nitrate",
    "wba-macro",
];

fn family(class: &str) -> Family {
    Specs::builtin().unwrap().class(class).unwrap().family
}

fn new_figure(class: &str, property: &str, basis: Option<&str>) -> Option<f64> {
    let class = Specs::builtin().unwrap().class(class).unwrap();
    let figure = class.figure(property, basis, Some(&class.standard_form))?;
    figure.typical.as_ref().or(figure.low.as_ref()).or(figure.high.as_ref()).map(|bound| bound.value)
}

fn measurement(property: &str, basis: Option<&str>, unit: &str, value: f64) -> Measurement {
    Measurement {
        property: property.to_owned(),
        basis: basis.map(str::to_owned),
        value: Some(value),
        unit: Some(unit.to_owned()),
        ..Measurement::default()
    }
}

/// One figure that gets worse in one direction, as factors of what is usual.
#[derive(Clone, Debug)]
struct Bed {
    class: &'static str,
    strong: Option<f64>,
    total: Option<f64>,
    moisture: Option<f64>,
    whole: Option<f64>,
    iron: Option<f64>,
    organics: Option<f64>,
    fines: Option<f64>,
    rest: Rest,
}

/// The figures that fewer reports carry.
#[derive(Clone, Debug, Default)]
struct Rest {
    /// The total stands per dry resin instead of per volume.
    by_dry: bool,
    crush: Option<f64>,
    broken: Option<f64>,
    manganese: Option<f64>,
    aluminium: Option<f64>,
    silica: Option<f64>,
    /// Metres that the bed's surface has dropped since start-up, pulled regenerated.
    drop: Option<f64>,
    pressure_drop: Option<f64>,
    age: Option<f64>,
}

fn rest() -> impl Strategy<Value = Rest> {
    (
        any::<bool>(),
        prop::option::of(20.0..700.0_f64),
        prop::option::of(0.0..40.0_f64),
        prop::option::of(10.0..9000.0_f64),
        prop::option::of(10.0..9000.0_f64),
        prop::option::of(50.0..20_000.0_f64),
        prop::option::of(0.0..0.5_f64),
        prop::option::of(10.0..200.0_f64),
        prop::option::of(0.5..15.0_f64),
    )
        .prop_map(|(by_dry, crush, broken, manganese, aluminium, silica, drop, pressure_drop, age)| Rest {
            by_dry,
            crush,
            broken,
            manganese,
            aluminium,
            silica,
            drop,
            pressure_drop,
            age,
        })
}

fn bed() -> impl Strategy<Value = Bed> {
    (
        prop::sample::select(CLASSES.to_vec()),
        prop::option::of(0.2..1.15_f64),
        prop::option::of(0.2..1.15_f64),
        prop::option::of(-3.0..20.0_f64),
        prop::option::of(30.0..100.0_f64),
        prop::option::of(10.0..20_000.0_f64),
        prop::option::of(50.0..15_000.0_f64),
        prop::option::of(0.0..15.0_f64),
        rest(),
    )
        .prop_map(|(class, strong, total, moisture, whole, iron, organics, fines, rest)| Bed {
            class,
            strong,
            total,
            moisture,
            whole,
            iron,
            organics,
            fines,
            rest,
        })
}

fn record(bed: &Bed) -> Record {
    let mut record = Record::default();
    record.sample.resin_class = Some(bed.class.to_owned());
    record.sample.form = Specs::builtin().unwrap().class(bed.class).map(|class| class.standard_form.clone());
    let mut add = |property: &str, basis: Option<&str>, unit: &str, value: Option<f64>| {
        if let Some(value) = value {
            record.measurements.push(measurement(property, basis, unit, value));
        }
    };
    let of_new = |property: &str, share: Option<f64>| {
        share.zip(new_figure(bed.class, property, Some("volume"))).map(|(a, b)| a * b)
    };
    if family(bed.class) == Family::Sba {
        // The total of a strong-base resin has two bad sides beside its strong sites, and one where it stands alone.
        if bed.strong.is_none() {
            add("total_capacity", Some("volume"), "eq/L", of_new("total_capacity", bed.total));
        }
        add("salt_splitting_capacity", Some("volume"), "eq/L", of_new("salt_splitting_capacity", bed.strong));
        add("organics_permanganate", Some("volume"), "mg/L", bed.organics);
    } else {
        let dry = bed.rest.by_dry.then(|| new_figure(bed.class, "total_capacity", Some("dry_mass"))).flatten();
        match dry {
            Some(new) => add("total_capacity", Some("dry_mass"), "eq/kg", bed.total.map(|share| share * new)),
            None => add("total_capacity", Some("volume"), "eq/L", of_new("total_capacity", bed.total)),
        }
        add(
            "moisture_retention",
            None,
            "%",
            bed.moisture.zip(new_figure(bed.class, "moisture_retention", None)).map(|(a, b)| a + b),
        );
    }
    add("whole_beads", None, "%", bed.whole);
    add("iron", Some("dry_mass"), "mg/kg", bed.iron);
    add("fines", None, "%", bed.fines);
    add("crush_strength", None, "g/bead", bed.rest.crush);
    add("broken_beads", None, "%", bed.rest.broken);
    add("manganese", Some("dry_mass"), "mg/kg", bed.rest.manganese);
    add("aluminium", Some("dry_mass"), "mg/kg", bed.rest.aluminium);
    add("silica", Some("dry_mass"), "mg/kg", bed.rest.silica);
    let mut field = |quantity: &str, value: Option<f64>| {
        if value.is_some() {
            record.field.push(FieldFigure { quantity: quantity.to_owned(), value, ..FieldFigure::default() });
        }
    };
    if let Some(drop) = bed.rest.drop {
        field("freeboard", Some(0.4 + drop));
        field("freeboard_at_startup", Some(0.4));
        field("bed_depth", Some(0.9 - drop));
    }
    field("pressure_drop", bed.rest.pressure_drop);
    field("service_age", bed.rest.age);
    record.sample.cycle_state = bed.rest.drop.map(|_| "regenerated".to_owned());
    record
}

fn judged(bed: &Bed) -> Judgement {
    judge(&record(bed), &context())
}

/// Mild to hard; no answer is on the scale only as none.
fn hardness(verdict: Verdict) -> Option<u8> {
    match verdict {
        Verdict::Keep => Some(0),
        Verdict::TopOff => Some(1),
        Verdict::Clean => Some(2),
        Verdict::Replace => Some(3),
        Verdict::Resample => None,
    }
}

/// The bed with one of its figures worse by a share of the way; whether the figure is a foulant.
fn worse(bed: &Bed, which: usize, step: f64) -> Option<(Bed, bool)> {
    let mut bed = bed.clone();
    let cation = family(bed.class).is_cation();
    let foulant = match which {
        0 => {
            bed.strong = Some(bed.strong? * (1.0 - step));
            false
        }
        1 => {
            bed.total = Some(bed.total? * (1.0 - step));
            false
        }
        // Moisture of an anion resin has two bad sides.
        2 if cation => {
            bed.moisture = Some(bed.moisture? + 10.0 * step);
            false
        }
        3 => {
            bed.whole = Some(bed.whole? * (1.0 - step));
            false
        }
        4 => {
            bed.iron = Some(bed.iron? * (1.0 + step));
            true
        }
        5 => {
            bed.organics = Some(bed.organics? * (1.0 + step));
            true
        }
        6 => {
            bed.fines = Some(bed.fines? + 5.0 * step);
            false
        }
        7 => {
            bed.rest.crush = Some(bed.rest.crush? * (1.0 - step));
            false
        }
        8 => {
            bed.rest.broken = Some(bed.rest.broken? + 30.0 * step);
            false
        }
        9 => {
            bed.rest.manganese = Some(bed.rest.manganese? * (1.0 + step));
            true
        }
        10 => {
            bed.rest.aluminium = Some(bed.rest.aluminium? * (1.0 + step));
            true
        }
        11 => {
            bed.rest.silica = Some(bed.rest.silica? * (1.0 + step));
            true
        }
        12 => {
            bed.rest.drop = Some((bed.rest.drop? + 0.3 * step).min(0.8));
            false
        }
        13 => {
            bed.rest.pressure_drop = Some(bed.rest.pressure_drop? * (1.0 + step));
            false
        }
        _ => return None,
    };
    Some((bed, foulant))
}

/// How many figures `worse` knows.
const WORSE: usize = 14;

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_worse_figure_never_raises_the_score(bed in bed(), which in 0..WORSE, step in 0.01..0.6_f64) {
        if let Some((worse, _)) = worse(&bed, which, step) {
            let (before, after) = (judged(&bed), judged(&worse));
            if let (Some(a), Some(b)) = (before.score, after.score) {
                prop_assert!(b <= a + 1e-9, "{a} to {b}\n{bed:?}\n{worse:?}\n{:#?}\n{:#?}", before.grades, after.grades);
            }
        }
    }

    #[test]
    fn a_worse_figure_never_softens_the_verdict(bed in bed(), which in 0..WORSE, step in 0.01..0.6_f64) {
        if let Some((worse, false)) = worse(&bed, which, step) {
            let (before, after) = (judged(&bed), judged(&worse));
            if let (Some(a), Some(b)) = (hardness(before.verdict), hardness(after.verdict)) {
                prop_assert!(b >= a, "{:?} to {:?}\n{bed:?}\n{worse:?}\n{:#?}\n{:#?}", before.verdict, after.verdict, before.reasons, after.reasons);
            }
        }
    }

    #[test]
    fn shares_add_up_and_certainty_is_the_verdicts(bed in bed()) {
        let j = judged(&bed);
        let sum: f64 = j.shares.values().sum();
        prop_assert!((sum - 1.0).abs() < 0.005, "{:?}", j.shares);
        let own = j.shares.get(j.verdict.word()).copied().unwrap_or(0.0);
        prop_assert!((own - j.certainty).abs() < 0.005, "{} {:?}", j.certainty, j.shares);
        prop_assert!(j.score.is_none_or(|score| (0.0..=100.0).contains(&score)));
        prop_assert!(!j.reasons.is_empty());
    }

    #[test]
    fn a_remedy_never_comes_without_its_cautions(bed in bed()) {
        let j = judged(&bed);
        if !j.remedy.is_empty() {
            prop_assert!(!j.cautions.is_empty());
            prop_assert!(j.cautions.iter().any(|caution| caution.contains("Local codes")));
            for remedy in &j.remedy {
                prop_assert!(!remedy.end_check.is_empty() && !remedy.source.is_empty());
            }
        }
        if j.verdict == Verdict::Replace {
            prop_assert!(j.remedy.is_empty() && j.also.is_empty());
        }
    }

    #[test]
    fn any_numbers_are_judged_without_a_panic(
        class in prop::option::of(prop::sample::select(CLASSES.to_vec())),
        figures in prop::collection::vec((0..40_usize, 0..5_usize, prop::num::f64::ANY, prop::option::of(prop::num::f64::ANY), 0..6_usize), 0..12),
        field in prop::collection::vec((0..12_usize, prop::num::f64::ANY), 0..6),
        date in ".{0,12}",
    ) {
        let record = wild(class, &figures, &field, &date);
        let j = judge(&record, &context());
        prop_assert!(serde_json::to_string(&j).is_ok());
        prop_assert!(j.certainty.is_finite() && (0.0..=1.0).contains(&j.certainty));
    }
}

fn wild(
    class: Option<&str>,
    figures: &[(usize, usize, f64, Option<f64>, usize)],
    field: &[(usize, f64)],
    date: &str,
) -> Record {
    let properties = beadwise::specs::PROPERTIES;
    let bases = [None, Some("volume"), Some("dry_mass"), Some("wet_mass"), Some("by the bag")];
    let qualifiers = [Qualifier::Equal, Qualifier::Below, Qualifier::Above, Qualifier::About, Qualifier::Range];
    let fields = [
        "freeboard",
        "freeboard_at_startup",
        "bed_depth",
        "tank_bore",
        "bed_volume",
        "bed_volume_at_startup",
        "pressure_drop",
        "feed_chlorine",
        "service_age",
        "salt_dose",
        "feed_iron",
        "nonsense",
    ];
    let mut record = Record::default();
    record.sample.resin_class = class.map(str::to_owned);
    record.sample.sampled_on = Some(date.to_owned());
    record.sample.installed_on = Some(date.chars().rev().collect());
    for (property, basis, value, high, extra) in figures {
        let mut m =
            measurement(properties.get(*property).copied().unwrap_or("nonsense"), bases[*basis], "eq/L", *value);
        m.unit = (*extra != 0).then(|| m.unit.unwrap_or_default()).filter(|_| *extra > 2);
        m.qualifier = qualifiers.get(*extra).copied().unwrap_or_default();
        m.high = *high;
        m.form = (*extra == 4).then(|| "H".to_owned());
        if *extra == 5 {
            m.doubts.push(Doubt {
                alternatives: vec![serde_json::json!(high), serde_json::json!(value)],
                ..Doubt::default()
            });
        }
        record.measurements.push(m);
    }
    for (quantity, value) in field {
        record.field.push(FieldFigure {
            quantity: fields[*quantity].to_owned(),
            value: Some(*value),
            ..FieldFigure::default()
        });
    }
    record
}

/// Every class has had its turn: a class without a grade for what its own sheet prints would be judged on nothing.
#[test]
fn every_class_grades_new_resin_as_new() {
    for class in CLASSES {
        let bed = Bed {
            class,
            strong: Some(1.0),
            total: Some(1.0),
            moisture: Some(0.0),
            whole: Some(99.0),
            iron: Some(20.0),
            organics: Some(50.0),
            fines: Some(0.2),
            rest: Rest::default(),
        };
        let j = judged(&bed);
        assert_eq!(j.verdict, Verdict::Keep, "{class}: {:?}", j.reasons);
        assert!(j.score.unwrap() > 94.0, "{class}: {:?} {:#?}", j.score, j.grades);
    }
}
