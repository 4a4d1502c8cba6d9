//! The configuration file: TOML, every key known, every value checked, each with its line.

use super::{From, KEYS, Key, Kind, Setting};
use crate::cli::output::Stop;
use crate::specs::{line_at, nearest};
use std::collections::BTreeMap;
use std::path::Path;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The settings that a file makes.
pub(super) fn parse(path: &Path, text: &str) -> Result<BTreeMap<&'static str, Setting>, Stop> {
    let text = text.trim_start_matches('\u{feff}');
    let table = DeTable::parse(text).map_err(|error| {
        let line = line_at(text, error.span().map_or(0, |span| span.start));
        Stop::Usage(format!("{}:{line}: this is no TOML: {}", path.display(), error.message()))
    })?;
    let mut reading = Reading { path, text, made: BTreeMap::new() };
    reading.table("", table.get_ref())?;
    Ok(reading.made)
}

struct Reading<'a> {
    path: &'a Path,
    text: &'a str,
    made: BTreeMap<&'static str, Setting>,
}

impl Reading<'_> {
    fn table(&mut self, above: &str, table: &DeTable<'_>) -> Result<(), Stop> {
        for (name, value) in table {
            let line = line_at(self.text, name.span().start);
            let path = format!("{above}{}", name.get_ref());
            let inside = format!("{path}.");
            if let (DeValue::Table(table), true) =
                (value.get_ref(), KEYS.iter().any(|key| key.path.starts_with(&inside)))
            {
                self.table(&inside, table)?;
                continue;
            }
            let Some(key) = KEYS.iter().find(|key| key.path == path) else {
                return Err(self.wrong(line, &path, &unknown(&path)));
            };
            let values = self.values(key, value).map_err(|why| self.wrong(line, &path, &why))?;
            let from = From::File { path: self.path.to_owned(), line };
            self.made.insert(key.path, Setting { values, from });
        }
        Ok(())
    }

    fn wrong(&self, line: u32, path: &str, why: &str) -> Stop {
        Stop::Usage(format!("{}:{line}: {path}: {why}", self.path.display()))
    }

    fn values(&self, key: &Key, value: &Spanned<DeValue<'_>>) -> Result<Vec<String>, String> {
        let texts: Vec<String> = match (key.kind, value.get_ref()) {
            (Kind::Files, DeValue::Array(items)) => {
                items.iter().map(|item| one(item.get_ref(), key)).collect::<Result<_, _>>()?
            }
            (_, value) => vec![one(value, key)?],
        };
        texts.iter().try_for_each(|text| key.check(text))?;
        let folder = self.path.parent().unwrap_or(Path::new(""));
        let is_path = matches!(key.kind, Kind::File | Kind::Files);
        // A path is told from the file that names it, wherever the program is run.
        Ok(texts
            .into_iter()
            .map(|text| if is_path { folder.join(&text).to_string_lossy().into_owned() } else { text })
            .collect())
    }
}

fn one(value: &DeValue<'_>, key: &Key) -> Result<String, String> {
    match value {
        DeValue::String(text) => Ok(text.to_string()),
        DeValue::Integer(number) => Ok(number.as_str().replace('_', "")),
        DeValue::Float(number) => Ok(number.as_str().replace('_', "")),
        DeValue::Datetime(date) => Ok(date.to_string()),
        other => {
            let files = if key.kind == Kind::Files { ", or a list of them" } else { "" };
            Err(format!("this is a TOML {}; write it as \"{}\"{files}", other.type_str(), key.example))
        }
    }
}

fn unknown(path: &str) -> String {
    let known = KEYS.iter().map(|key| key.path);
    let last = path.rsplit('.').next().unwrap_or(path);
    // A key under the wrong table is often right by its own name.
    let at_home = KEYS.iter().find(|key| key.path.rsplit('.').next() == Some(last)).map(|key| key.path);
    match at_home.or_else(|| nearest(path, known)) {
        Some(near) => format!("there is no such setting; did you mean {near}?"),
        None => "there is no such setting; `beadwise config show` lists all".to_owned(),
    }
}
