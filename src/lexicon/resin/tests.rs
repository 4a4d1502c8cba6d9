//! Names of resins against the class that they say.
#![allow(clippy::panic)]

use super::*;

#[test]
fn built_in_classes_are_sound() {
    if let Err(error) = Rules::load(RESIN_WORDS, RESINS) {
        panic!("{error}");
    }
    assert_eq!(resin_classes().len(), 11);
    for class in resin_classes() {
        assert!(class.crosslink.is_none() || !class.source.is_empty(), "{}", class.id);
    }
}

/// Reads a table of `text | class or - | form or -` and reports every line that reads otherwise.
fn check(table: &str) -> usize {
    let mut wrong = Vec::new();
    let mut lines = 0;
    for line in table.lines().map(str::trim).filter(|l| !l.is_empty() && !l.starts_with("//")) {
        let mut cells = line.split('|').map(str::trim);
        let (text, class, form) =
            (cells.next().unwrap_or(""), cells.next().unwrap_or("-"), cells.next().unwrap_or("-"));
        let read = resin_class(text);
        let found = (read.class.as_deref().unwrap_or("-"), read.form.as_deref().unwrap_or("-"));
        if found != (class, form) {
            wrong.push(format!("{text}: {found:?}, not {:?}; open: {:?}", (class, form), read.candidates));
        }
        lines += 1;
    }
    assert!(wrong.is_empty(), "{} of {lines}\n{}", wrong.len(), wrong.join("\n"));
    lines
}

// Spellings as the trade writes them, from general knowledge of it; common practice, no source.
#[test]
fn english_spellings() {
    check(
        "Strong acid cation, gel, 8 % DVB, Na form | sac-gel-8 | Na
        SAC 8% | sac-gel-8 | -
        SAC | sac-gel-8 | -
        SAC gel | sac-gel-8 | -
        SAC, Na | sac-gel-8 | Na
        sac gel 8% | sac-gel-8 | -
        softener resin | sac-gel-8 | -
        Softening resin, sodium form | sac-gel-8 | Na
        Water softener resin (cation) | sac-gel-8 | -
        Cation resin for softening | sac-gel-8 | -
        Standard softener resin, 8% crosslinked | sac-gel-8 | -
        10% crosslinked softener resin | sac-gel-10 | -
        Strong acid cation resin, gel | sac-gel-8 | -
        strong acid cation gel | sac-gel-8 | -
        Strong acid cation exchange resin | sac-gel-8 | -
        Strongly acidic cation exchanger, gel type | sac-gel-8 | -
        Cation exchange resin, strong acid, gel type, sodium form | sac-gel-8 | Na
        cation, strong acid, gel, hydrogen form | sac-gel-8 | H
        strong acid cation, gel, tested as Na | sac-gel-8 | Na
        Strong cation, gel | sac-gel-8 | -
        Gel SAC, Na+ form | sac-gel-8 | Na
        SAC-gel, H+ | sac-gel-8 | H
        Sulfonated polystyrene, gel, 8 % crosslinkage | sac-gel-8 | -
        sulphonic acid cation resin, 8 pct DVB | sac-gel-8 | -
        Styrene-DVB gel, sulfonic acid, DVB 8 | sac-gel-8 | -
        Gel polystyrene crosslinked with divinylbenzene, sulfonic acid functional groups | sac-gel-8 | -
        a gel type strong acid cation resin with 8 % crosslinking | sac-gel-8 | -
        SAC gel, crosslinking 8.0 % | sac-gel-8 | -
        SAC gel 7-8 % DVB | sac-gel-8 | -
        strong acid cation, gel, nominal 8 percent divinylbenzene | sac-gel-8 | -
        cation gel 8% crosslinked | sac-gel-8 | -
        gel cation 10% crosslinked | sac-gel-10 | -
        strong acid cation, gel, 10 % crosslinked | sac-gel-10 | -
        Strong acid cation, gel, 10 % DVB, Na form | sac-gel-10 | Na
        SAC 10% | sac-gel-10 | -
        SAC 10 % DVB H form | sac-gel-10 | H
        high crosslink SAC gel, 10 per cent | sac-gel-10 | -
        10% DVB SAC | sac-gel-10 | -
        SAC macro | sac-macro | -
        Strong acid cation, macroporous, Na | sac-macro | Na
        macroreticular strong acid cation | sac-macro | -
        Macroporous SAC, 12 % DVB | sac-macro | -
        weak acid cation | wac | -
        Weak acid | wac | -
        WAC, H form | wac | H
        WAC acrylic | wac | -
        Weak acid cation, macroporous polyacrylic, hydrogen form | wac | H
        carboxylic acid cation exchanger | wac | -
        polymethacrylic gel, carboxylic, hydrogen form | wac | H
        SBA type 1 gel | sba1-gel | -
        SBA-1 | sba1-gel | -
        SBA 1 gel, Cl | sba1-gel | Cl
        Strong base anion, type 1, gel | sba1-gel | -
        Strong base anion, type 1, gel; chloride form for all tests | sba1-gel | Cl
        strong base anion type I | sba1-gel | -
        Anion, type 1, OH form | sba1-gel | OH
        type 1 strong base anion exchange resin, gel, hydroxide form | sba1-gel | OH
        Quaternary ammonium type I gel anion | sba1-gel | -
        Strong base anion, trimethylammonium, gel | sba1-gel | -
        SBA type 1 porous gel | sba1-porous | -
        SBA Type I, porous | sba1-porous | -
        Type 1 anion, isoporous, Cl- | sba1-porous | Cl
        strong base anion type 1 high porosity gel | sba1-porous | -
        SBA-1 macroporous Cl | sba1-macro | Cl
        strong base anion, type 1, macroreticular | sba1-macro | -
        SBA Type II | sba2-gel | -
        SBA-2 | sba2-gel | -
        Strong base anion type 2 gel chloride form | sba2-gel | Cl
        Type II anion | sba2-gel | -
        dimethylethanolamine anion resin, gel | sba2-gel | -
        Acrylic strong base anion, gel | sba-acrylic | -
        SBA acrylic Cl | sba-acrylic | Cl
        Strong base acrylic type 1 | sba-acrylic | -
        nitrate selective | sba-nitrate | -
        nitrate-selective strong base anion, macroporous, Cl form | sba-nitrate | Cl
        Nitrate-selective anion, macroporous | sba-nitrate | -
        Nitrate selective SBA, triethylamine | sba-nitrate | -
        tributylamine anion resin for nitrate | sba-nitrate | -
        weak base anion macroporous FB | wba-macro | FB
        WBA | wba-macro | -
        weak base anion, free base form | wba-macro | FB
        Weak base anion, macroporous, styrenic, free base | wba-macro | FB
        tertiary amine weak base anion, macroporous | wba-macro | -
        macroporous anion, free base | wba-macro | FB
        SAC, MR, H+ form | sac-macro | H
        strong-acid cation, MP | sac-macro | -
        Mr Hale's strong acid cation | sac-gel-8 | -
        SAC_GEL_10 | sac-gel-10 | -
        Ten percent crosslinked strong acid cation (gel) | sac-gel-10 | -
        Softening resin (8 % DVB), 5 yrs old | sac-gel-8 | -
        SAC gel 8 % DVB, mixed Na/Ca/Mg form as received | sac-gel-8 | mixed
        High crosslink (10%) gel cation, sodium | sac-gel-10 | Na
        Strong base anion gel type 1, OH- form | sba1-gel | OH
        strong base anion, gel, type one | sba1-gel | -
        001x7 | sac-gel-8 | -
        001×7 Na | sac-gel-8 | Na
        201x7 (Cl form) | sba1-gel | Cl
        D113 | wac | -
        D001 strong acid cation | sac-macro | -
        D301 weak base | wba-macro | -",
    );
}

#[test]
fn german_spellings() {
    check(
        "starksaures Gelharz 8 % DVB | sac-gel-8 | -
        Starksaurer Kationenaustauscher, Gel, Na-Form | sac-gel-8 | Na
        stark saurer Kationenaustauscher, Gel | sac-gel-8 | -
        stark sauren Kationenharzes (Gel, Na-Form) | sac-gel-8 | Na
        Stark saures Kationenharz, gelförmig, 8 % vernetzt | sac-gel-8 | -
        Kationenaustauscher, stark sauer, Natriumform | sac-gel-8 | Na
        Enthärterharz | sac-gel-8 | -
        Enthärtungsharz 8 % Vernetzung | sac-gel-8 | -
        Weichwasserharz, Natriumform | sac-gel-8 | Na
        Kationenharz zur Enthärtung | sac-gel-8 | -
        Kationenharz, Enthärtung, Gel, Vernetzungsgrad 10 % | sac-gel-10 | -
        starksaures Kationenharz, 10 % DVB | sac-gel-10 | -
        starksauer, Gel, 10 Prozent vernetzt, H-Form | sac-gel-10 | H
        SAK, Gel, Na | sac-gel-8 | Na
        makroporöses starksaures Kationenharz | sac-macro | -
        Starksaurer Kationenaustauscher, makroporös, Wasserstoffform | sac-macro | H
        schwachsaures Kationenharz | wac | -
        Schwach saurer Kationenaustauscher, Acryl, H-Form | wac | H
        starkbasisches Anionenharz Typ 1, Gel | sba1-gel | -
        Stark basischer Anionenaustauscher, Typ I, Chloridform | sba1-gel | Cl
        starkbasisch, Typ 1, porös | sba1-porous | -
        starkbasischer Anionenaustauscher Typ 1 makroporös, OH-Form | sba1-macro | OH
        starkbasisches Anionenharz Typ II | sba2-gel | -
        starkbasisches Acrylharz, Cl-Form | sba-acrylic | Cl
        nitratselektives Anionenharz | sba-nitrate | -
        nitratselektiver Anionenaustauscher, makroporös, Chloridform | sba-nitrate | Cl
        schwachbasisches Anionenharz, makroporös | wba-macro | -
        Schwach basischer Anionenaustauscher, freie Base | wba-macro | FB",
    );
}

#[test]
fn french_spellings() {
    check(
        "résine cationique fortement acide, type gel | sac-gel-8 | -
        cationique fortement acide, type gel, forme sodium | sac-gel-8 | Na
        Résine cationique forte, gel, réticulée à 8 % | sac-gel-8 | -
        résine d'adoucissement | sac-gel-8 | -
        Résine d'adoucisseur, forme Na+ | sac-gel-8 | Na
        résine cationique pour adoucissement | sac-gel-8 | -
        cation fort, gel, forme H | sac-gel-8 | H
        Résine cationique forte, gel, taux de réticulation 10 % | sac-gel-10 | -
        cationique forte 10 % de DVB | sac-gel-10 | -
        polystyrène sulfoné, gel, 8 % de divinylbenzène | sac-gel-8 | -
        résine cationique forte macroporeuse, forme sodique | sac-macro | Na
        résine cationique faible | wac | -
        cationique faiblement acide, acrylique, forme hydrogène | wac | H
        échangeur de cations faiblement acide, carboxylique | wac | -
        résine anionique forte type 1 gel | sba1-gel | -
        résine anionique fortement basique, type 1, forme chlorure | sba1-gel | Cl
        anionique forte type 1 gel poreux | sba1-porous | -
        anionique forte, type 1, macroporeuse, forme OH | sba1-macro | OH
        résine anionique forte type 2 | sba2-gel | -
        résine anionique forte acrylique | sba-acrylic | -
        résine sélective des nitrates | sba-nitrate | -
        résine anionique sélective nitrates, forme chlorure | sba-nitrate | Cl
        résine anionique faible, macroporeuse, base libre | wba-macro | FB
        anion faible | wba-macro | -",
    );
}

#[test]
fn spanish_spellings() {
    check(
        "catiónica fuerte, tipo gel, forma sodio | sac-gel-8 | Na
        Resina catiónica fuerte tipo gel, 8 % de DVB, forma sódica | sac-gel-8 | Na
        resina de intercambio catiónico, ácido fuerte, gel | sac-gel-8 | -
        resina suavizadora | sac-gel-8 | -
        Resina de ablandamiento, ciclo sodio | sac-gel-8 | Na
        resina catiónica para ablandamiento | sac-gel-8 | -
        resina catiónica fuerte, gel, entrecruzamiento 8 por ciento | sac-gel-8 | -
        resina catiónica fuerte, 10 % de divinilbenceno, forma hidrógeno | sac-gel-10 | H
        resina catiónica fuerte, grado de reticulación 10 % | sac-gel-10 | -
        catiónica fuerte macroporosa | sac-macro | -
        resina catiónica débil | wac | -
        catiónica débilmente ácida, acrílica, forma H | wac | H
        resina aniónica fuerte tipo 1, gel, forma cloruro | sba1-gel | Cl
        aniónica fuertemente básica tipo I | sba1-gel | -
        aniónica fuerte tipo 1 porosa | sba1-porous | -
        aniónica fuerte tipo 1 macroporosa | sba1-macro | -
        resina aniónica fuerte tipo II | sba2-gel | -
        resina aniónica fuerte acrílica | sba-acrylic | -
        resina selectiva a nitratos | sba-nitrate | -
        resina aniónica débil, macroporosa, base libre | wba-macro | FB
        aniónica débil | wba-macro | -",
    );
}

#[test]
fn what_the_words_do_not_settle_stays_open() {
    check(
        "resin | - | -
        Harz | - | -
        Ion exchange resin | - | -
        cation | - | -
        Cation resin | - | -
        cation exchanger | - | -
        Kationenharz | - | -
        résine cationique | - | -
        resina catiónica, forma Na | - | Na
        anion exchanger | - | -
        Anion | - | -
        résine anionique | - | -
        anion, macroporous | - | -
        cation, gel | - | -
        cation, macroporous | - | -
        gel | - | -
        gel resin | - | -
        type 1 | - | -
        Type 2 gel | - | -
        macroporous | - | -
        strong base anion | - | -
        SBA | - | -
        SBA gel Cl | - | Cl
        SBA macroporous | - | -
        starkbasisches Anionenharz | - | -
        SAC 12 % | - | -
        SAC gel 16 % DVB | - | -
        SAC gel 9 % | - | -
        SAC gel, 8-10 % DVB | - | -
        SAC gel 2 % DVB | - | -
        strong acid cation, porous | - | -
        SAC, gel and macroporous | - | -
        strong and weak acid cation | - | -
        SBA type 1 and type 2 | - | -
        SBA-2 macroporous | - | -
        acrylic anion | - | -
        WBA acrylic | - | -
        weak base anion, gel | - | -
        SAC acrylic | - | -
        mixed bed | - | -
        Mischbettharz | - | -
        lit mélangé | - | -
        Mixed bed, SAC gel H and SBA type 1 gel OH | - | -
        001x7 / 201x7 | - | -
        001x7 macroporous | - | -
        chelating weak acid cation, macroporous | - | -
        inert resin | - | -
        nitrate removal resin | - | -
        scavenger resin | - | -
        operating capacity | - | -
        30,000 grains at 15 lb | - | -
        regenerated with 10 % brine | - | -
        cleaned with strong acid | - | -
        the resin was cleaned with a strong acid | - | -
        strong smell, brown resin | - | -
        25 sacs de résine | - | -
        weak flow at the softener | - | -
        8 % moisture | - | -
        8 % | - | -
        Softener 2 | - | -
        dealkalizer resin | - | -
        see above | - | -",
    );
}

#[test]
fn percentages_that_are_no_crosslinking_are_left_alone() {
    check(
        "strong acid cation gel, moisture 48 % | sac-gel-8 | -
        SAC gel, 10 % broken beads | sac-gel-8 | -
        SAC, gel, 10 % capacity loss | sac-gel-8 | -
        strong acid cation, gel, whole beads 12 % | sac-gel-8 | -",
    );
}

#[test]
fn forms_alone() {
    check(
        "Na form | - | Na
        sodium form | - | Na
        Na+ form | - | Na
        Natrium form | - | Na
        Natriumform | - | Na
        forme sodium | - | Na
        sodique form | - | Na
        forma sódica | - | Na
        H+ form | - | H
        chloride form | - | Cl
        Cl- form | - | Cl
        Cl⁻ form | - | Cl
        hydroxide form | - | OH
        free base form | - | FB
        base libre form | - | FB
        NO₃ form | - | NO3
        sulfate form | - | SO4
        mixed form | - | mixed
        Na/Ca form | - | mixed
        gemischte Form | - | mixed
        calcium | - | -
        fouled with calcium | - | -
        24 h | - | -",
    );
}

#[test]
fn the_reading_says_what_it_assumed_and_what_is_open() {
    assert!(resin_class("Strong acid cation, gel, 8 % DVB").assumed.is_empty());
    let plain = resin_class("SAC");
    assert_eq!(plain.assumed.len(), 2);
    assert!(plain.assumed.iter().all(|a| a.contains("common practice, no source")), "{:?}", plain.assumed);
    assert_eq!(resin_class("cation").candidates, ["sac-gel-8", "sac-gel-10", "sac-macro", "wac"]);
    assert_eq!(resin_class("SBA macroporous").candidates, ["sba1-macro", "sba-acrylic", "sba-nitrate"]);
    assert_eq!(resin_class("SAC gel 9 %").candidates, ["sac-gel-8", "sac-gel-10"]);
    assert!(resin_class("SAC gel 16 %").candidates.is_empty());
    assert_eq!(resin_class("001x7 / 201x7").candidates, ["sac-gel-8", "sba1-gel"]);
    assert!(resin_class("mixed bed").candidates.len() > 1);
    assert!(resin_class("brown").candidates.is_empty());
}

#[test]
fn class_words_are_found_in_running_text() {
    for (text, expected) in [
        (
            "It is the same strong acid cation gel resin as before, tested in\nthe sodium form.",
            "strong acid cation gel resin",
        ),
        (
            "wir haben die Kernprobe Ihres stark sauren Kationenharzes (Gel, Na-Form)\nuntersucht.",
            "stark sauren Kationenharzes (Gel, Na-Form)",
        ),
        (
            "Il s'agit de la même résine cationique fortement acide, type gel, analysée sous\nforme sodium.",
            "résine cationique fortement acide, type gel",
        ),
        ("The bed holds 12 ft3 of SAC gel 8 %.", "SAC gel 8 %"),
        (
            "The bed holds a strong base\nanion resin of type 1, macroporous. Iron is low.",
            "strong base\nanion resin of type 1, macroporous",
        ),
        ("El lecho contiene una resina catiónica fuerte tipo gel de 2016.", "resina catiónica fuerte tipo gel"),
        ("We tested the nitrate-selective anion from Marsh End.", "nitrate-selective anion"),
        (
            "This is a gel type strong acid cation resin with 8 % crosslinking and it is brown.",
            "gel type strong acid cation resin with 8 % crosslinking",
        ),
        ("filled with 001x7 resin in 2012", "001x7 resin"),
    ] {
        let found = class_words_in(text).and_then(|(start, end)| text.get(start..end));
        assert_eq!(found, Some(expected), "{text}");
    }
    for text in [
        "The resin in the softener is brown.",
        "The softener resin was sampled in March.",
        "Strong base capacity 1.15 eq/L",
        "Strong base anion capacity 1.15 eq/L",
        "Weak acid sites 0.2 eq/L",
        "Cation exchange capacity: 1.8 eq/L",
        "The anion resin and the cation resin were separated.",
        "Iron was taken off with strong acid.",
        "a strong smell of resin",
        "Gel 8 %",
        "",
    ] {
        let found = class_words_in(text).and_then(|(start, end)| text.get(start..end));
        assert_eq!(found, None, "{text}");
    }
}
