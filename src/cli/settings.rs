//! What a user settles once: units, store, prices, the laboratory's uncertainty, words and limits of their own.
//!
//! Takes the configuration file and the environment; gives each setting with where it came from. An option of the
//! command line comes before the environment, that before the file, and that before what is built in.

mod file;
mod keys;

pub use keys::{KEYS, Key, Kind};

use super::output::Stop;
use super::plan::Figures;
use crate::plan::{Fact, Known, Origin};
use crate::specs;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// Names the configuration file, where the option does not.
pub const FILE_VARIABLE: &str = "BEADWISE_CONFIG";

/// Where a setting came from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum From {
    /// The program's own.
    BuiltIn,
    /// The configuration file, at a line counted from 1.
    File {
        /// The file.
        path: PathBuf,
        /// Its line.
        line: u32,
    },
    /// A variable of the environment.
    Environment(String),
    /// An option.
    CommandLine(String),
}

impl std::fmt::Display for From {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::BuiltIn => f.write_str("built in"),
            Self::File { path, line } => write!(f, "{}:{line}", path.display()),
            Self::Environment(name) => write!(f, "environment, {name}"),
            Self::CommandLine(option) => write!(f, "command line, {option}"),
        }
    }
}

/// A setting that somebody made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Setting {
    /// One, or several for a list of files.
    pub values: Vec<String>,
    /// Who says so.
    pub from: From,
}

/// All settings that the file and the environment make.
#[derive(Clone, Debug, Default)]
pub struct Settings {
    made: BTreeMap<&'static str, Setting>,
    /// The file, and whether it is there.
    pub file: Option<(PathBuf, bool)>,
}

static SETTINGS: OnceLock<Settings> = OnceLock::new();

/// The settings of this run.
pub fn get() -> &'static Settings {
    SETTINGS.get_or_init(Settings::default)
}

/// Reads file and environment, for [`get`].
///
/// # Errors
/// A file that was named and is not there, and anything in it or in the environment that cannot be meant: with the
/// line or the variable.
pub fn load(named: Option<&Path>) -> Result<(), Stop> {
    let settings = Settings::read(named, &|name| std::env::var_os(name).filter(|value| !value.is_empty()))?;
    let _ = SETTINGS.set(settings);
    Ok(())
}

/// Where the file is looked for: what names it, and the path. None where this system has no such place.
pub fn place(named: Option<&Path>, variable: &Variables<'_>) -> Option<(String, PathBuf)> {
    if let Some(path) = named {
        return Some(("--config".to_owned(), path.to_owned()));
    }
    if let Some(path) = variable(FILE_VARIABLE) {
        return Some((FILE_VARIABLE.to_owned(), PathBuf::from(path)));
    }
    // As the XDG base directory specification has it: a relative path there does not count.
    let absolute = |name: &str| variable(name).map(PathBuf::from).filter(|path| path.is_absolute());
    let folder = absolute("XDG_CONFIG_HOME").or_else(|| match () {
        () if cfg!(windows) => absolute("APPDATA"),
        () if cfg!(target_os = "macos") => absolute("HOME").map(|home| home.join("Library/Application Support")),
        () => absolute("HOME").map(|home| home.join(".config")),
    })?;
    Some((String::new(), folder.join("beadwise").join("config.toml")))
}

/// Looks a variable of the environment up.
pub type Variables<'a> = dyn Fn(&str) -> Option<std::ffi::OsString> + 'a;

impl Settings {
    fn read(named: Option<&Path>, variable: &Variables<'_>) -> Result<Self, Stop> {
        let mut settings = Self::default();
        if let Some((by, path)) = place(named, variable) {
            let text = match std::fs::read_to_string(&path) {
                Ok(text) => Some(text),
                // Nobody asked for this place by name: having no file there is the usual thing.
                Err(error) if by.is_empty() && error.kind() == std::io::ErrorKind::NotFound => None,
                Err(error) => {
                    let by = if by.is_empty() { String::new() } else { format!("{by} ") };
                    return Err(Stop::Usage(format!(
                        "{by}{}: {}; `beadwise config example` prints a configuration to begin with",
                        path.display(),
                        super::reading::unreadable(&error)
                    )));
                }
            };
            if let Some(text) = &text {
                settings.made = file::parse(&path, text)?;
            }
            settings.file = Some((path, text.is_some()));
        }
        for key in KEYS {
            if let Some(value) = variable(&key.variable()) {
                settings.made.insert(key.path, key.read_environment(&value)?);
            }
        }
        Ok(settings)
    }

    /// A setting that somebody made.
    pub fn made(&self, path: &str) -> Option<&Setting> {
        self.made.get(path)
    }

    /// The one value of a setting.
    pub fn text(&self, path: &str) -> Option<&str> {
        self.made(path).and_then(|setting| setting.values.first()).map(String::as_str)
    }

    /// Files of a list: the settings' first, so that those of the command line lie over them.
    pub fn files(&self, path: &str, given: &[PathBuf]) -> Vec<(String, PathBuf)> {
        let label = |setting: &Setting| match &setting.from {
            From::CommandLine(option) => option.clone(),
            from => format!("{from}: {path}"),
        };
        let made = self.made(path).into_iter().flat_map(|setting| {
            let label = label(setting);
            setting.values.iter().map(move |file| (label.clone(), PathBuf::from(file)))
        });
        made.chain(given.iter().map(|file| (format!("--{path}"), file.clone()))).collect()
    }

    /// Prices, as a plan takes them.
    pub fn prices(&self) -> Figures {
        let prices = KEYS.iter().filter_map(|key| match key.kind {
            Kind::Price(fact) => Some((fact, self.text(key.path)?)),
            _ => None,
        });
        // Each was read once already, when it was settled.
        prices
            .filter_map(|(fact, text)| Some((fact, Known { value: figure(fact, text).ok()?, from: Origin::Given })))
            .collect()
    }

    /// The laboratory's uncertainties: name of the limit, value, source, and where it was settled.
    pub fn uncertainties(&self) -> Vec<(&'static str, f64, String, specs::Origin)> {
        let source = self.text("laboratory.source").unwrap_or("the user's own figure, no source").to_owned();
        let limits = KEYS.iter().filter_map(|key| match key.kind {
            Kind::Limit(name) => Some((name, self.made(key.path)?)),
            _ => None,
        });
        let origin = |setting: &Setting| match &setting.from {
            From::File { path, line } => specs::Origin { file: path.to_string_lossy().into(), line: *line },
            from => specs::Origin { file: from.to_string().into(), line: 1 },
        };
        limits
            .filter_map(|(name, made)| Some((name, made.values.first()?.parse().ok()?, source.clone(), origin(made))))
            .collect()
    }
}

/// A price as it is written, in canonical units.
fn figure(fact: Fact, text: &str) -> Result<f64, String> {
    let knowledge = crate::plan::Knowledge::builtin().map_err(|error| error.to_string())?;
    let input = knowledge.input(fact).ok_or_else(|| format!("nothing is known of {}", fact.id()))?;
    super::plan::canonical(text, input)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests;
