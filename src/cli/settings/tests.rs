use super::*;
use std::collections::BTreeMap;
use std::ffi::OsString;

fn read(file: &str, environment: &[(&str, &str)]) -> Result<Settings, String> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("config.toml");
    std::fs::write(&path, file).unwrap();
    let variables: BTreeMap<&str, OsString> =
        environment.iter().map(|(name, value)| (*name, (*value).into())).collect();
    Settings::read(Some(&path), &|name| variables.get(name).cloned()).map_err(|stop| match stop {
        Stop::Usage(text) => text.replace(&*folder.path().to_string_lossy(), "FOLDER"),
        other => format!("{other:?}"),
    })
}

#[test]
fn the_environment_comes_before_the_file_and_each_setting_knows_its_line() {
    let settings = read(
        "units = \"si\"\n\n[prices]\non = 2025-03-01\nsalt_price = \"0.20/lb\"\n[laboratory]\ncapacity = 0.03\n",
        &[("BEADWISE_SALT_PRICE", "0.44/kg")],
    )
    .unwrap();
    assert_eq!(settings.text("units"), Some("si"));
    assert!(matches!(settings.made("units").unwrap().from, From::File { line: 1, .. }));
    assert_eq!(settings.text("prices.on"), Some("2025-03-01"));
    assert_eq!(settings.made("prices.salt_price").unwrap().from, From::Environment("BEADWISE_SALT_PRICE".into()));
    let prices = settings.prices();
    assert!(matches!(prices.as_slice(), [(Fact::SaltPrice, known)] if (known.value - 0.44).abs() < 1e-12));
    let [(name, value, _, origin)] = settings.uncertainties().try_into().unwrap();
    assert_eq!((name, value, origin.line), ("capacity_sd", 0.03, 7));
}

#[test]
fn files_are_told_from_the_file_that_names_them_and_lie_under_those_of_the_command_line() {
    let settings = read("grammar = [\"words.toml\", \"/else/more.toml\"]\n", &[]).unwrap();
    let files = settings.files("grammar", &[PathBuf::from("given.toml")]);
    let ends: Vec<bool> = files
        .iter()
        .zip(["config.toml:1: grammar", "config.toml:1: grammar", "--grammar"])
        .map(|((label, _), wanted)| label.ends_with(wanted))
        .collect();
    assert_eq!(ends, [true, true, true], "{files:?}");
    assert!(files[0].1.is_absolute() && files[0].1.ends_with("words.toml"));
    assert_eq!(files[2].1, Path::new("given.toml"));
}

#[test]
fn what_cannot_be_meant_says_where_what_and_how_it_is_written() {
    for (file, parts) in [
        ("untis = \"us\"\n", ["FOLDER/config.toml:1: untis", "did you mean units?"]),
        ("\n[prices]\nsalt = \"0.20/lb\"\n", ["config.toml:3: prices.salt", "did you mean prices.salt_price?"]),
        ("salt_price = \"0.20/lb\"\n", ["config.toml:1: salt_price", "did you mean prices.salt_price?"]),
        ("units = \"metric\"\n", ["config.toml:1: units", "none of us, si"]),
        ("units = true\n", ["config.toml:1: units", "boolean"]),
        ("[prices]\nsalt_price = \"0.20\"\n", ["config.toml:2: prices.salt_price", "price for a unit"]),
        ("[prices]\nsalt_price = \"-1/lb\"\n", ["config.toml:2", "below zero"]),
        ("[laboratory]\ncapacity = 0\n", ["config.toml:2: laboratory.capacity", "above zero"]),
        ("store = \"\"\n", ["config.toml:1: store", "empty"]),
        ("units = \"us\"\nunits = \"si\"\n", ["config.toml:2", "TOML"]),
        ("zzzzzz = 1\n", ["config.toml:1: zzzzzz", "config show"]),
    ] {
        let error = read(file, &[]).unwrap_err();
        assert!(parts.iter().all(|part| error.contains(part)), "{file}: {error}");
    }
    let error = read("", &[("BEADWISE_UNITS", "imperial")]).unwrap_err();
    assert!(error.contains("BEADWISE_UNITS") && error.contains("us, si"), "{error}");
}

#[test]
fn the_file_is_looked_for_where_it_was_named_then_in_the_folder_of_configurations() {
    let variables: BTreeMap<&str, OsString> =
        [("BEADWISE_CONFIG", "/a.toml".into()), ("XDG_CONFIG_HOME", "/x".into())].into();
    let of = |names: &'static [&'static str]| {
        let variables = variables.clone();
        move |name: &str| names.contains(&name).then(|| variables.get(name).cloned()).flatten()
    };
    let both = of(&["BEADWISE_CONFIG", "XDG_CONFIG_HOME"]);
    assert_eq!(place(Some(Path::new("b.toml")), &both).unwrap().1, Path::new("b.toml"));
    assert_eq!(place(None, &both).unwrap().1, Path::new("/a.toml"));
    assert_eq!(place(None, &of(&["XDG_CONFIG_HOME"])).unwrap().1, Path::new("/x/beadwise/config.toml"));
    assert!(place(None, &of(&[])).is_none());
}

#[test]
fn every_example_can_be_used_and_every_limit_is_one_of_the_policy() {
    let mut variables = std::collections::BTreeSet::new();
    for key in KEYS {
        assert_eq!(key.check(key.example), Ok(()), "{}", key.path);
        assert!(variables.insert(key.variable()), "{}", key.path);
        if let Kind::Limit(name) = key.kind {
            assert!(crate::judge::Limits::NAMES.contains(&name), "{name}");
        }
    }
}
