#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::table::load;
use super::*;
use proptest::prelude::*;

fn unit(text: &str) -> Unit {
    Unit::parse(text).unwrap_or_else(|| panic!("{text:?} is no unit"))
}

fn close(a: f64, b: f64, relative: f64) -> bool {
    (a - b).abs() <= relative * b.abs().max(1e-300)
}

/// `text` converts to `per` of `target`.
fn check(text: &str, target: &str, per: f64) {
    let got = unit(text).convert(1.0, &unit(target));
    assert!(got.is_some_and(|g| close(g, per, 1e-9)), "1 {text} is {got:?} {target}, not {per}");
}

#[test]
fn the_table_parses() {
    load(include_str!("../../grammar/units.toml")).expect("grammar/units.toml");
}

#[test]
fn a_faulty_table_says_where() {
    let error = load("[[unit]]\nid = \"thing\"\nfactor = \"one\"\n").unwrap_err().to_string();
    assert!(error.contains("thing") && error.contains("factor"), "{error}");
}

#[test]
fn capacities_by_volume_in_many_spellings() {
    for text in [
        "eq/L",
        "Eq/l",
        "EQ/L",
        "meq/mL",
        "meq/ml",
        "mEq/mL",
        "MEQ/ML",
        "meq./mL",
        "val/l",
        "Val/L",
        "mval/ml",
        "eq/dm3",
        "eq/dm³",
        "eq·L⁻¹",
        "eq L-1",
        "eq L⁻¹",
        "mol/L",
        "mmol/mL",
        "keq/m³",
        "keq/m3",
        "kmol/m³",
        "equiv/L",
        "equivalents per liter",
        "milliequivalents per milliliter",
        "Äq/L",
        "äq/l",
        "éq/L",
        "équivalents par litre",
        "eq / L",
        "(eq/L)",
        "[eq/L]",
        "meq/cc",
        "meq/cm³",
        "val pro Liter",
        "eq je L",
        "eq por litro",
        "g-eq/L",
        "equivalentes por litro",
        "meq per mL",
        "in eq/L",
        "moles/litre",
    ] {
        check(text, "eq/L", 1.0);
    }
    check("meq/100 mL", "eq/L", 0.01);
    check("meq/L", "eq/L", 0.001);
}

#[test]
fn grains_to_the_cubic_foot_in_many_spellings() {
    // 64.79891 g / 28.316846592 L
    let grams_per_litre = 64.798_91 / 28.316_846_592;
    for text in [
        "kgr/ft3",
        "kgr/ft³",
        "Kgr/ft3",
        "KGR/FT3",
        "kgr/cu ft",
        "kgr/cu. ft.",
        "kgr/cu.ft.",
        "kgr/cuft",
        "kgr/cf",
        "kilograins per cubic foot",
        "kilograins/cubic foot",
        "kilograins/ft³",
        "Kgrs/ft³",
        "kgr per ft³",
        "kgr/ft^3",
        "1000 gr/ft³",
        "x 1000 grains/ft3",
        "kilograins per cu. ft.",
        "kgr ft-3",
        "kilo grains per cubic foot",
        "kgr/pie cúbico",
        "kgr/pies3",
        "kgr/pied cube",
    ] {
        let parsed = unit(text);
        assert_eq!(parsed.kind, UnitKind::Grains, "{text}");
        check(text, "g/L", grams_per_litre);
    }
    check("grains/ft³", "g/L", grams_per_litre / 1000.0);
    check("gr/gal", "mg/L", 64.798_91 / 3.785_411_784);
    check("kg/ft3", "g/L", 1000.0 / 28.316_846_592);
    for text in [
        "kgr/ft3 as CaCO3",
        "kgr CaCO3/ft³",
        "kilograins as CaCO3 per cubic foot",
        "kgr/ft³ (as CaCO₃)",
        "kgr/ft³ (CaCO3)",
        "kgr/ft3, as CaCO3",
        "kgr (CaCO3)/ft3",
        "kgr/ft³ as calcium carbonate",
    ] {
        assert_eq!(unit(text).substance.as_deref(), Some("CaCO3"), "{text}");
    }
}

#[test]
fn other_units() {
    check("lb/ft³", "g/L", 453.592_37 / 28.316_846_592);
    check("lbs/cu ft", "lb/ft3", 1.0);
    check("pounds per cubic foot", "lb/ft3", 1.0);
    check("libras por pie cúbico", "lb/ft3", 1.0);
    check("ft3", "L", 28.316_846_592);
    check("gal", "L", 3.785_411_784);
    check("US gallons", "L", 3.785_411_784);
    check("imp. gal", "L", 4.546_09);
    check("galones", "gal", 1.0);
    check("in", "mm", 25.4);
    check("pulgadas", "in", 1.0);
    check("Zoll", "in", 1.0);
    check("\"", "in", 1.0);
    check("ft", "in", 12.0);
    check("'", "in", 12.0);
    check("µm", "mm", 0.001);
    check("μm", "mm", 0.001);
    check("um", "mm", 0.001);
    check("microns", "µm", 1.0);
    check("Mikron", "µm", 1.0);
    check("MM", "mm", 1.0);
    check("m³", "L", 1000.0);
    check("M3", "L", 1000.0);
    check("cbm", "L", 1000.0);
    check("cc", "mL", 1.0);
    check("cm³", "mL", 1.0);
    check("gpm", "L/h", 3.785_411_784 * 60.0);
    check("gal/min", "gpm", 1.0);
    check("gpm/ft²", "m/h", 3.785_411_784e-3 * 60.0 / (0.3048 * 0.3048));
    check("m³/h", "L/h", 1000.0);
    check("gpd", "gal/day", 1.0);
    check("g/mL", "g/L", 1000.0);
    check("kg/L", "g/L", 1000.0);
    check("kg/m³", "g/L", 1.0);
    check("g/cm³", "g/mL", 1.0);
    check("g/bead", "g/bead", 1.0);
    check("g per bead", "g/bead", 1.0);
    check("g/Korn", "g/bead", 1.0);
    check("g/bille", "g/bead", 1.0);
    check("grams/bead", "g/bead", 1.0);
    check("gf/bead", "g/bead", 1.0);
    check("g/esfera", "g/bead", 1.0);
    // 1 N of load is 1/9.80665 kgf.
    check("N/bead", "g/bead", 1000.0 / 9.806_65);
    check("psi", "kPa", 6.894_757_293_168_361);
    check("mbar", "kPa", 0.1);
    check("bar", "kPa", 100.0);
    check("inH2O", "Pa", 249.088_91);
    check("days", "h", 24.0);
    check("Jahre", "a", 1.0);
    check("años", "yr", 1.0);
    check("mg/100 g", "mg/kg", 10.0);
    check("mg/g", "mg/kg", 1000.0);
    check("µg/g", "ppm", 1.0);
    check("g/100g", "%", 1.0);
    check("mg/kg", "%", 1e-4);
    check("ppb", "ppm", 1e-3);
    check("‰", "%", 0.1);
    check("meq/100 g", "eq/kg", 0.01);
    check("meq/g", "eq/kg", 1.0);
    check("meq/dry gram", "eq/kg", 1.0);
    check("gr/lb", "g/kg", 64.798_91 / 453.592_37);
    check("mg kg-1", "mg/kg", 1.0);
    check("mg·kg⁻¹", "mg/kg", 1.0);
    check("mg por kg", "mg/kg", 1.0);
    check("mg/(kg dry)", "mg/kg", 1.0);
    assert_eq!(unit("mesh").kind, UnitKind::Mesh);
    assert_eq!(unit("US mesh").kind, UnitKind::Mesh);
    assert_eq!(unit("kgr").kind, UnitKind::Grains);
    assert_eq!(unit("BV").kind, UnitKind::Dimensionless);
}

#[test]
fn conversions_leave_no_rounding_behind() {
    assert_eq!(unit("meq/mL").convert(1.72, &unit("eq/L")), Some(1.72));
    assert_eq!(unit("mmol/cm³").convert(1.72, &unit("eq/L")), Some(1.72));
    assert_eq!(unit("mg/g").convert(6.2, &unit("mg/kg")), Some(6200.0));
    assert_eq!(unit("µm").convert(612.0, &unit("mm")), Some(0.612));
    assert_eq!(unit("%").convert(0.62, &unit("ppm")), Some(6200.0));
}

#[test]
fn temperature_has_an_offset() {
    let celsius = unit("°C");
    // 140 °F = 60 °C
    assert!(close(unit("°F").convert(140.0, &celsius).unwrap(), 60.0, 1e-9));
    assert!(close(unit("deg F").convert(212.0, &celsius).unwrap(), 100.0, 1e-9));
    assert!(close(celsius.convert(25.0, &unit("K")).unwrap(), 298.15, 1e-12));
}

#[test]
fn substances() {
    for (text, substance) in [
        ("mg Fe/kg", "Fe"),
        ("mgFe/kg", "Fe"),
        ("mg/kg as Fe", "Fe"),
        ("ppm as Fe", "Fe"),
        ("ppm Fe", "Fe"),
        ("mg/L als CaCO3", "CaCO3"),
        ("mg/L en CaCO3", "CaCO3"),
        ("mg/L como CaCO₃", "CaCO3"),
        ("mg/L CaCO3", "CaCO3"),
        ("g CaCO3/L", "CaCO3"),
        ("g CaO/L", "CaO"),
        ("mg KMnO4/L", "KMnO4"),
        ("mg KMnO₄/L Harz", "KMnO4"),
        ("mg/L as SiO2", "SiO2"),
        ("mg NO3/L", "NO3"),
        ("mg/L NO3-N", "NO3-N"),
        ("mg/L as N", "N"),
        ("mg C/L", "C"),
        ("mg TOC/L", "C"),
        ("mg O2/L", "O2"),
        ("mg/L as Cl2", "Cl2"),
        ("mg/L Cl-", "Cl"),
        ("mg/L SO42-", "SO4"),
        ("mg/L SO₄²⁻", "SO4"),
        ("mg Ca2+/L", "Ca"),
        ("mg/kg calc. as Fe", "Fe"),
        ("mg/kg (als Fe)", "Fe"),
        ("mg/kg als Eisen", "Fe"),
        ("lb NaCl/ft³", "NaCl"),
        ("lbs of salt per cu ft", "NaCl"),
        ("% as Fe2O3", "Fe2O3"),
        ("ppm as CaCO3", "CaCO3"),
        ("PPM CACO3", "CaCO3"),
        ("mg of Fe per kg", "Fe"),
        ("mg (as Fe)/kg", "Fe"),
        ("mg/kg Fe dry", "Fe"),
        ("°dH", "CaCO3"),
        ("gpg", "CaCO3"),
        ("gpg as CaCO3", "CaCO3"),
        ("mg d'Fe/kg", "Fe"),
    ] {
        assert_eq!(unit(text).substance.as_deref(), Some(substance), "{text}");
    }
    assert_eq!(unit("kgr/ft3").substance, None);
    assert_eq!(unit("mg/kg").substance, None);
}

#[test]
fn matter() {
    let resin = Matter::Resin(Volume);
    for (text, matter) in [
        ("mg/kg dry", Matter::Dry),
        ("mg/kg (dry)", Matter::Dry),
        ("mg/kg TS", Matter::Dry),
        ("mg/kg TM", Matter::Dry),
        ("mg/kg trocken", Matter::Dry),
        ("mg/kg MS", Matter::Dry),
        ("mg/kg sec", Matter::Dry),
        ("mg/kg seco", Matter::Dry),
        ("mg/kg d.b.", Matter::Dry),
        ("mg/kg dry resin", Matter::Dry),
        ("meq/g (dry)", Matter::Dry),
        ("mg/kg dry weight", Matter::Dry),
        ("mg/kg, dry basis", Matter::Dry),
        ("mg/kg - dry wt.", Matter::Dry),
        ("meq/dry g", Matter::Dry),
        ("meq per dry gram", Matter::Dry),
        ("eq/kg dry basis", Matter::Dry),
        ("mg/kg Trockensubstanz", Matter::Dry),
        ("mg/kg resin, dry", Matter::Dry),
        ("mg/kg of dry resin", Matter::Dry),
        ("mg/kg de resina seca", Matter::Dry),
        ("mg/kg de résine sèche", Matter::Dry),
        ("% dry", Matter::Dry),
        ("mg Fe/kg dry resin", Matter::Dry),
        ("mg Fe/kg TS", Matter::Dry),
        ("mg/kg bezogen auf Trockenmasse", Matter::Dry),
        ("mg/(kg dry)", Matter::Dry),
        ("mg/kg dry as Fe", Matter::Dry),
        ("mg/kg (dry, as Fe)", Matter::Dry),
        ("eq/kg wet", Matter::Wet),
        ("eq/kg feucht", Matter::Wet),
        ("eq/kg humide", Matter::Wet),
        ("eq/kg húmedo", Matter::Wet),
        ("mg/kg as received", Matter::Wet),
        ("mg/kg (as-received basis)", Matter::Wet),
        ("meq/g moist", Matter::Wet),
        ("% wet", Matter::Wet),
        ("meq/wet g", Matter::Wet),
        ("eq/kg tel quel", Matter::Wet),
        ("g/L resin", resin),
        ("g/L Harz", resin),
        ("mg/L of resin", resin),
        ("eq/L R", resin),
        ("g/l résine", resin),
        ("mg/L resina", resin),
        ("meq/mL wet resin", resin),
        ("eq/L wet", resin),
        ("lb/ft³ of resin", resin),
        ("mg C/L resin", resin),
        ("g CaCO3/L Harz", resin),
        ("kgr/ft³ resin as CaCO3", resin),
    ] {
        assert_eq!(unit(text).matter, Some(matter), "{text}");
    }
    assert_eq!(unit("mg/kg resin").matter, None, "neither dry nor wet");
}

#[test]
fn fractions_and_their_shares() {
    for (text, share) in [
        ("%", None),
        ("% w/w", Some(Share::Mass)),
        ("% (w/w)", Some(Share::Mass)),
        ("%w/w", Some(Share::Mass)),
        ("% by mass", Some(Share::Mass)),
        ("Gew.-%", Some(Share::Mass)),
        ("Masse-%", Some(Share::Mass)),
        ("wt%", Some(Share::Mass)),
        ("wt.-%", Some(Share::Mass)),
        ("% (m/m)", Some(Share::Mass)),
        ("% v/v", Some(Share::Volume)),
        ("vol.-%", Some(Share::Volume)),
        ("Vol.-%", Some(Share::Volume)),
        ("% by volume", Some(Share::Volume)),
        ("% by count", Some(Share::Count)),
        ("percent", None),
        ("Prozent", None),
        ("% en peso", Some(Share::Mass)),
        ("% en masse", Some(Share::Mass)),
        ("mg/kg", Some(Share::Mass)),
        ("mL/L", Some(Share::Volume)),
    ] {
        assert_eq!(unit(text).share, share, "{text}");
    }
    assert_eq!(unit("% v/v").convert(1.0, &unit("% w/w")), None);
    assert_eq!(unit("mesh").convert(50.0, &unit("%")), None);
}

#[test]
fn what_is_no_unit() {
    for text in [
        "",
        " ",
        "()",
        "iron",
        "Fe",
        "CaCO3",
        "dry",
        "resin",
        "as",
        "as Fe",
        "per",
        "/",
        "mg/",
        "/kg",
        "mg//kg",
        "M",
        "T",
        "A",
        "mg kg",
        "g bead",
        "mg/kg iron oxide crystals",
        "total",
        "capacity",
        "mg/kg of",
        "Na",
        "in the",
        "mg and kg",
        "x",
        "% of new",
        "% Na form",
        "ftx",
        "mgs/kgz",
        "kgr/ft4",
        "1",
        "10",
        "%%",
        "N",
        "method",
        "50 mg",
        "mg/kg 50",
        "mg/kg)",
        "beads of resin",
        "days wet",
        "in dry",
        "ppmx",
        "H",
        "D2187",
        "Mg/kg/",
        "eq/",
        "° ",
        "inches of snow",
    ] {
        assert_eq!(Unit::parse(text), None, "{text:?}");
    }
}

#[test]
fn case_matters_only_where_it_must() {
    check("MG/KG", "mg/kg", 1.0);
    check("Mg/Kg", "mg/kg", 1.0);
    check("MG/L", "mg/L", 1.0);
    check("G/L", "g/L", 1.0);
    check("PPM", "ppm", 1.0);
    check("LB/FT3", "lb/ft3", 1.0);
    assert_ne!(unit("mS/cm").dimension, unit("m").dimension);
    check("mS/cm", "µS/cm", 1000.0);
    assert_eq!(unit("°F").dimension.temperature, 1);
    assert_eq!(unit("°f").kind, UnitKind::Hardness);
    // In capitals the formula is meant, not a centilitre.
    assert_eq!(Unit::parse("Cl"), None);
}

#[test]
fn risky_alone() {
    for text in ["in", "C", "h", "d", "a", "m", "g", "L", "min", "ft", "days", "beads", "\"", "gr", "K", "F"] {
        assert!(unit(text).is_risky_alone(), "{text}");
    }
    for text in ["mg/kg", "eq/L", "%", "ppm", "mm", "µm", "°C", "kgr/ft3", "g/L", "psi", "m³", "mesh", "m3", "°dH"]
    {
        assert!(!unit(text).is_risky_alone(), "{text}");
    }
}

#[test]
fn running_text_keeps_the_next_label() {
    for (text, printed) in [
        ("mg/kg Copper 15 mg/kg", "mg/kg"),
        ("mg/kg Cu 15", "mg/kg"),
        ("mg/kg dry Copper", "mg/kg dry"),
        ("% Dry weight capacity", "%"),
        ("mg/L CaCO3, Iron", "mg/L CaCO3"),
        ("% of new", "%"),
        ("kgr/ft³ as CaCO3. The beads", "kgr/ft³ as CaCO3"),
        ("in of freeboard", "in"),
        ("mg/kg on a dry basis and", "mg/kg on a dry basis"),
        ("g/L Harz", "g/L Harz"),
        ("eq/L (Na form)", "eq/L"),
        ("% (dry) and", "% (dry)"),
        ("eq/L (1.72)", "eq/L"),
        ("mg per bead of", "mg per bead"),
        ("eq/L pro", "eq/L"),
    ] {
        let (_, end) = longest_unit(text, Setting::Running).unwrap();
        assert_eq!(text.get(..end), Some(printed));
    }
}

#[test]
fn published_hardness_v1() {
    // F. de Dardel, "Concentration and capacity units", 2010, first table, to its printed digits.
    let table: [(&str, [f64; 5]); 5] = [
        ("meq/L", [1.0, 50.0, 5.0, 2.8, 2.921]),
        ("mg/L CaCO3", [0.02, 1.0, 0.1, 0.056, 0.0584]),
        ("°f", [0.2, 10.0, 1.0, 0.56, 0.5842]),
        ("°dH", [0.357, 17.86, 1.786, 1.0, 1.043]),
        ("gr/gal", [0.342, 17.12, 1.712, 0.959, 1.0]),
    ];
    let equivalents = |text: &str| unit(text).as_equivalents().unwrap_or_else(|| unit(text));
    for (from, row) in table {
        for ((to, _), published) in table.iter().zip(row) {
            let got = equivalents(from).convert(1.0, &equivalents(to)).unwrap();
            assert!(close(got, published, 1.6e-3), "1 {from} is {got} {to}, published {published}");
        }
    }
}

#[test]
fn published_capacities_v1() {
    // The second table of the same page.
    let capacity = |text: &str| unit(text).as_equivalents().unwrap_or_else(|| unit(text));
    for (from, to, published) in [
        ("eq/L", "g CaCO3/L", 50.0),
        ("eq/L", "g CaO/L", 28.0),
        ("eq/L", "kgr/ft³", 21.85),
        ("g CaO/L", "eq/L", 0.0357),
        ("g CaO/L", "g CaCO3/L", 1.786),
        ("g CaO/L", "kgr/ft³", 0.780),
        ("kgr/ft³", "eq/L", 0.0458),
        ("kgr/ft³", "g CaCO3/L", 2.29),
        ("kgr/ft³", "g CaO/L", 1.281),
    ] {
        let got = capacity(from).convert(1.0, &capacity(to)).unwrap();
        assert!(close(got, published, 1.1e-3), "1 {from} is {got} {to}, published {published}");
    }
}

#[test]
fn exact_hardness_factors() {
    // Computed from the exact definitions: 64.79891 mg / 3.785411784 L and 64.79891 mg / 4.54609 L.
    check("gpg", "mg/L", 64.798_91 / 3.785_411_784);
    check("°Clark", "mg/L", 64.798_91 / 4.546_09);
    assert!(close(unit("gpg").convert(1.0, &unit("mg/L")).unwrap(), 17.118_061, 1e-7));
    assert!(close(unit("°e").convert(1.0, &unit("mg/L")).unwrap(), 14.253_77, 1e-6));
    // https://wiktel.com/standards/hardnes.htm: 1 gpg = 1.20 Clark = 1.71 °f = 0.958 °dH
    assert!(close(unit("gpg").convert(1.0, &unit("°Clark")).unwrap(), 1.20, 5e-3));
    assert!(close(unit("gpg").convert(1.0, &unit("°f")).unwrap(), 1.71, 5e-3));
    assert!(close(unit("gpg").convert(1.0, &unit("°dH")).unwrap(), 0.958, 1e-3));
}

#[test]
fn published_calcium_v2() {
    // C.F. Michaud, WC&P, March 2011: 1.95 eq/L × 20 g/eq = 39 g Ca/L = 1.1 kg = 2.43 lb Ca per cubic foot.
    let per_litre = 1.95 * 20.0;
    assert!(close(unit("g/L").convert(per_litre, &unit("lb/ft³")).unwrap(), 2.43, 3e-3));
    assert!(close(unit("g/L").convert(per_litre, &unit("kg/ft³")).unwrap(), 1.1, 5e-3));
}

#[test]
fn published_grains_v3() {
    // J. Franks, Water Technology: 1.9 and 2.0 meq/mL are 41,499 and 43,683 gr/ft³; 5,989 gr CaCO3 to the pound of NaCl.
    let grains = unit("gr/ft³").as_equivalents().unwrap();
    for (milliequivalents, published) in [(1.9, 41_499.0), (2.0, 43_683.0)] {
        let got = unit("meq/mL").convert(milliequivalents, &grains).unwrap();
        assert!(close(got, published, 1e-3), "{got}");
    }
    // One pound of salt (58.44 g/eq) exchanges 453.59237 / 58.44 equivalents.
    let equivalents = unit("lb").convert(1.0, &unit("g")).unwrap() / 58.44;
    let got = unit("eq").convert(equivalents, &unit("gr").as_equivalents().unwrap()).unwrap();
    assert!(close(got, 5_989.0, 1e-3), "{got}");
}

#[test]
fn elements_and_oxides() {
    // 2 × 26.982 / (2 × 26.982 + 3 × 15.999) = 53.964 / 101.961 = 0.52926.
    // By hand: 2 × 55.845 / (2 × 55.845 + 3 × 15.999) = 111.69 / 159.687 = 0.69943, and so on.
    for (from, to, factor) in [
        ("Fe2O3", "Fe", 0.69943),
        ("Fe", "Fe2O3", 1.42973),
        ("SiO2", "Si", 0.46744),
        ("Si", "SiO2", 2.13933),
        ("MnO2", "Mn", 0.63194),
        ("Al2O3", "Al", 0.52926),
        ("N", "NO3", 4.42664),
        ("NO3-N", "NO3", 4.42664),
        // 40.078 / 56.077; 24.305 / 40.304; 63.546 / 79.545; 55.845 / 106.866; 40.078 / 100.086
        ("CaO", "Ca", 0.71470),
        ("MgO", "Mg", 0.60304),
        ("CuO", "Cu", 0.79887),
        ("Fe(OH)3", "Fe", 0.52257),
        ("CaCO3", "Ca", 0.40044),
        ("Fe", "Fe", 1.0),
    ] {
        let got = as_element(from, to).unwrap_or_else(|| panic!("{from} as {to}"));
        assert!(close(got, factor, 2e-5), "{from} as {to}: {got}, not {factor}");
    }
    for (from, to) in [("KMnO4", "O2"), ("C", "O2"), ("Fe", "Mn"), ("CaCO3", "C"), ("nothing", "Fe"), ("Cl2", "Cl")] {
        assert_eq!(as_element(from, to), None, "{from} as {to}");
    }
}

const SAMPLES: [&str; 14] =
    ["eq/L", "kgr/ft³", "mg/kg", "%", "ppm", "in", "mm", "°F", "°C", "gpm", "L/h", "psi", "kPa", "lb/ft3"];

proptest! {
    #[test]
    fn no_text_panics(text in "(?s).{0,60}") {
        let _ = Unit::parse(&text);
        let _ = longest_unit(&text, Setting::Running);
    }

    #[test]
    fn no_mixture_of_pieces_panics(pieces in prop::collection::vec(prop::sample::select(vec![
        "mg", "/", "kg", " ", "³", "-1", "(", ")", "as", "CaCO3", "dry", "%", "µ", "°", ".", "per", "²", "⁻", "é", "100", "'", "\"",
    ]), 0..14)) {
        let text = pieces.concat();
        if let Some(unit) = Unit::parse(&text) {
            prop_assert!(unit.factor.is_finite());
            // What was read once reads the same again.
            let again = Unit::parse(&unit.text);
            prop_assert!(again.is_some_and(|u| u.factor == unit.factor && u.dimension == unit.dimension));
        }
    }

    #[test]
    fn conversions_invert(from in prop::sample::select(&SAMPLES[..]), to in prop::sample::select(&SAMPLES[..]), value in -1e6..1e6f64) {
        let (from, to) = (unit(from), unit(to));
        if let Some(there) = from.convert(value, &to) {
            let back = to.convert(there, &from).unwrap();
            prop_assert!((back - value).abs() <= 1e-9 * value.abs().max(1.0) , "{value} {back}");
        }
    }
}
