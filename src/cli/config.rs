//! `beadwise config`: what is settled, and by whom.

use super::output::{self, Status, Stop};
use super::settings::{self, From, KEYS, Key, Kind, Setting};
use crate::judge::Policy;
use crate::record::CONTRACT;
use crate::report::settings as page;
use clap::{Subcommand, ValueHint};
use serde::Serialize;
use std::path::{Path, PathBuf};

const EXAMPLES: &str = "\
Examples:
  beadwise config show                  every setting, and where it came from
  beadwise config show --units si       the same with an option over the others
  beadwise config path                  where the file is looked for
  beadwise config example > config.toml  a file to begin with
  BEADWISE_UNITS=si beadwise plan march.pdf  a setting for one run

An option comes before a variable of the environment, that before the file, and
that before what is built in. Files that lay words, figures or limits over the
built-in ones add up. The file is the one that --config names, else
BEADWISE_CONFIG, else config.toml in the folder beadwise of your folder of
configurations.";

/// Show the settings: units, store, prices, laboratory uncertainty, files of your own
#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Show every setting, and where it came from
    #[command(after_help = EXAMPLES)]
    Show(Show),
    /// Print where the file is looked for
    #[command(after_help = EXAMPLES)]
    Path,
    /// Print a file to begin with: every setting, explained and commented out
    #[command(after_help = EXAMPLES)]
    Example,
}

#[derive(Debug, clap::Args)]
struct Show {
    /// Print one JSON document instead of a page
    #[arg(long)]
    json: bool,
    /// Units of sheets, over the settings
    #[arg(long, value_name = "us|si")]
    units: Option<String>,
    /// The store of beds, over the settings
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    store: Option<String>,
    /// What convert writes, over the settings
    #[arg(long, value_name = "FORMAT")]
    to: Option<String>,
}

/// One setting as it stands.
#[derive(Serialize)]
struct Line {
    setting: &'static str,
    values: Vec<String>,
    from: String,
    what: &'static str,
}

#[derive(Serialize)]
struct Document {
    contract: u32,
    file: Option<PathBuf>,
    found: bool,
    settings: Vec<Line>,
}

impl Args {
    /// Whether the settings themselves are asked for.
    pub fn shows(&self) -> bool {
        matches!(self.what, What::Show(_))
    }
}

/// Runs the command.
pub fn run(args: &Args, named: Option<&Path>) -> Result<Status, Stop> {
    match &args.what {
        What::Path => {
            let variable = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty());
            let (_, path) = settings::place(named, &variable).ok_or_else(|| {
                Stop::Usage("this system names no folder for configurations; name a file with --config".to_owned())
            })?;
            output::print(&format!("{}\n", path.display()))?;
        }
        What::Example => output::print(&example()?)?,
        What::Show(args) => show(args)?,
    }
    Ok(Status::AllRead)
}

fn show(args: &Show) -> Result<(), Stop> {
    let settings = settings::get();
    let given = |key: &Key| match key.path {
        "units" => args.units.as_ref(),
        "store" => args.store.as_ref(),
        "to" => args.to.as_ref(),
        _ => None,
    };
    let mut lines = Vec::new();
    for key in KEYS {
        let setting = match (given(key), settings.made(key.path)) {
            (Some(value), _) => {
                let option = key.option.unwrap_or_default();
                key.check(value).map_err(|why| Stop::Usage(format!("{option}: {why}")))?;
                Setting { values: vec![value.clone()], from: From::CommandLine(option.to_owned()) }
            }
            (None, Some(made)) => made.clone(),
            (None, None) => Setting { values: built_in(key)?, from: From::BuiltIn },
        };
        let from = setting.from.to_string();
        lines.push(Line { setting: key.path, values: setting.values, from, what: key.what });
    }
    let (file, found) = settings.file.clone().map_or((None, false), |(path, found)| (Some(path), found));
    if args.json {
        return output::print_json(&Document { contract: CONTRACT, file, found, settings: lines });
    }
    let rows: Vec<page::Row<'_>> = lines
        .iter()
        .map(|line| page::Row { setting: line.setting, value: line.values.join("\n"), from: &line.from })
        .collect();
    let file = file.map(|path| path.display().to_string());
    output::print(&page::page(file.as_deref(), found, &rows, &output::look()))
}

/// What holds where nobody settles it; nothing where there is no default.
fn built_in(key: &Key) -> Result<Vec<String>, Stop> {
    let policy = Policy::builtin().map_err(|error| Stop::Failed(error.to_string()))?;
    let value = match (key.path, key.kind) {
        ("units", _) => Some("us".to_owned()),
        ("to", _) => Some("csv".to_owned()),
        #[cfg(feature = "beds")]
        ("store", _) => super::beds::usual_store().map(|path| path.display().to_string()),
        (_, Kind::Limit(name)) => policy.limit(name).map(|limit| limit.value.to_string()),
        _ => None,
    };
    Ok(value.into_iter().collect())
}

fn example() -> Result<String, Stop> {
    let mut text = String::from(
        "# Settings of beadwise. Take the # from a line to make it hold; what holds is\n\
         # shown by `beadwise config show`. Paths are told from this file. A name that is\n\
         # not known, or a value that cannot be meant, is refused.\n\n",
    );
    let mut table = "";
    for key in KEYS {
        let (of, name) = key.path.split_once('.').unwrap_or(("", key.path));
        if of != table {
            table = of;
            let about = match of {
                "prices" => "what things cost you; no price is built in",
                _ => "standard deviations of your laboratory's figures",
            };
            text.push_str(&format!("\n# {about}\n[{of}]\n"));
        }
        let value = match key.kind {
            Kind::Files => format!("[\"{}\"]", key.example),
            Kind::Limit(_) => built_in(key)?.join(""),
            _ => format!("\"{}\"", key.example),
        };
        let words = match key.kind {
            Kind::Choice(words) => format!(": {}", words.join(", ")),
            _ => String::new(),
        };
        text.push_str(&format!("# {name} = {value}  # {}{words}\n", key.what));
    }
    Ok(text)
}
