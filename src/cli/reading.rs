//! The options that say how reports are read, shared by every command that reads one.

use super::output::Stop;
use super::worker::InWorkers;
use crate::lexicon::Lexicon;
use crate::readers::{Limits, ReadOptions};
use clap::ValueHint;
use std::borrow::Cow;
use std::path::PathBuf;

/// Options of reading.
#[derive(Debug, Default, clap::Args, Clone)]
#[command(next_help_heading = "Reading")]
pub struct ReadingArgs {
    /// Words of your own, in the shape of grammar/words.toml; may be given more than once
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub grammar: Vec<PathBuf>,
    /// Encoding of text files, where it is known (utf-8, windows-1252, ...)
    #[arg(long, value_name = "LABEL")]
    pub encoding: Option<String>,
    /// Password of protected files
    #[arg(long, value_name = "PASSWORD")]
    pub password: Option<String>,
    /// How large a file may be before it is refused, as cells=5000000; may be given more than once
    /// (docs/formats.md lists the limits)
    #[arg(long, value_name = "NAME=NUMBER", value_parser = limit)]
    pub limit: Vec<(String, u64)>,
}

/// A limit as it is given: its name and its number.
fn limit(given: &str) -> Result<(String, u64), String> {
    let (name, number) = given.split_once('=').ok_or("write it as a name and a number, as in cells=5000000")?;
    let number = number.trim().replace('_', "");
    let value = number.parse().map_err(|_| format!("{number:?} is no whole number above 0"))?;
    Ok((name.trim().to_owned(), value))
}

/// The options as they are used: files of words read, encodings looked up.
pub struct Session {
    /// As readers take them.
    pub options: ReadOptions,
    /// The files of words, each with its text.
    pub overlays: Vec<(String, String)>,
    /// The built-in words under the user's own.
    pub lexicon: Cow<'static, Lexicon>,
}

impl ReadingArgs {
    /// Looks everything up that the options name.
    pub fn session(&self) -> Result<Session, Stop> {
        let options = self.options()?;
        let overlays = super::knowledge::texts(&super::settings::get().files("grammar", &self.grammar))?;
        let lexicon = if overlays.is_empty() {
            Cow::Borrowed(Lexicon::builtin())
        } else {
            Cow::Owned(Lexicon::with_overlays(&overlays).map_err(|error| Stop::Usage(error.to_string()))?)
        };
        Ok(Session { options, overlays, lexicon })
    }

    fn options(&self) -> Result<ReadOptions, Stop> {
        if let Some(label) = &self.encoding
            && encoding_rs::Encoding::for_label(label.as_bytes()).is_none()
        {
            return Err(Stop::Usage(format!(
                "--encoding {label}: there is no encoding of this name; use one as utf-8, utf-16le, windows-1252 or iso-8859-1"
            )));
        }
        let mut limits = Limits::default();
        for (name, value) in &self.limit {
            limits.set(name, *value).map_err(|error| Stop::Usage(format!("--limit {name}={value}: {error}")))?;
        }
        Ok(ReadOptions { password: self.password.clone(), encoding: self.encoding.clone(), limits })
    }
}

impl Session {
    /// Where its reports are read: out of harm's way.
    pub fn workers(&self) -> InWorkers<'_> {
        InWorkers::new(&self.options, &self.lexicon, &self.overlays)
    }
}

/// The text of a file that an option or a setting names.
pub fn text_of(named_by: &str, path: &std::path::Path) -> Result<String, Stop> {
    std::fs::read_to_string(path)
        .map_err(|error| Stop::Usage(format!("{named_by} {}: {}", path.display(), unreadable(&error))))
}

/// Why a text file cannot be read, and what to do.
pub fn unreadable(error: &std::io::Error) -> String {
    use std::io::ErrorKind;
    match error.kind() {
        ErrorKind::NotFound => "there is no such file; check the name".to_owned(),
        ErrorKind::PermissionDenied => "it may not be opened; ask for the right to read it".to_owned(),
        ErrorKind::IsADirectory => "this is a folder; name a file in it".to_owned(),
        ErrorKind::InvalidData => "it is no UTF-8 text; save it as UTF-8".to_owned(),
        _ => format!("it cannot be read: {error}"),
    }
}
