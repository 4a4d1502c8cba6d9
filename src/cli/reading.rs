//! The options that say how reports are read, shared by every command that reads one.

use super::output::Stop;
use crate::lexicon::Lexicon;
use crate::readers::ReadOptions;
use clap::ValueHint;
use std::borrow::Cow;
use std::path::PathBuf;

/// Options of reading.
#[derive(Debug, Default, clap::Args)]
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
}

impl ReadingArgs {
    /// The options as readers take them.
    pub fn options(&self) -> Result<ReadOptions, Stop> {
        if let Some(label) = &self.encoding
            && encoding_rs::Encoding::for_label(label.as_bytes()).is_none()
        {
            return Err(Stop::Usage(format!(
                "--encoding {label}: there is no encoding of this name; use one as utf-8, utf-16le, windows-1252 or iso-8859-1"
            )));
        }
        Ok(ReadOptions { password: self.password.clone(), encoding: self.encoding.clone(), ..ReadOptions::default() })
    }

    /// The files of words, each with its text.
    pub fn overlays(&self) -> Result<Vec<(String, String)>, Stop> {
        self.grammar.iter().map(|path| Ok((super::inputs::text(path), text_of("--grammar", path)?))).collect()
    }

    /// The built-in words under the user's own.
    pub fn lexicon(&self) -> Result<Cow<'static, Lexicon>, Stop> {
        if self.grammar.is_empty() {
            return Ok(Cow::Borrowed(Lexicon::builtin()));
        }
        Lexicon::with_overlays(&self.overlays()?).map(Cow::Owned).map_err(|error| Stop::Usage(error.to_string()))
    }
}

/// The text of a file that an option names.
pub fn text_of(option: &str, path: &std::path::Path) -> Result<String, Stop> {
    std::fs::read_to_string(path)
        .map_err(|error| Stop::Usage(format!("{option} {}: it cannot be read: {error}", path.display())))
}
