//! The options that lay a user's own specifications and limits over the built-in ones.

use super::inputs;
use super::output::Stop;
use super::reading::text_of;
use super::saved;
use crate::judge::Policy;
use crate::record::Record;
use crate::specs::{KnowledgeError, Specs, Text};
use clap::ValueHint;
use std::path::{Path, PathBuf};

/// Options of judging.
#[derive(Debug, Default, clap::Args)]
#[command(next_help_heading = "Knowledge")]
pub struct KnowledgeArgs {
    /// New-resin figures of your own, in the shape of grammar/specs/*.toml, or one product's sheet as
    /// spec read --json prints it; may be given more than once
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub spec: Vec<PathBuf>,
    /// Limits of your own, in the shape of grammar/policy.toml; may be given more than once
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub policy: Vec<PathBuf>,
}

impl KnowledgeArgs {
    /// Specifications and policy with the user's entries over them.
    pub fn load(&self) -> Result<(Specs, Policy), Stop> {
        let texts = |option: &str, paths: &[PathBuf]| -> Result<Vec<(String, String)>, Stop> {
            paths.iter().map(|path| Ok((inputs::text(path), text_of(option, path)?))).collect()
        };
        let (_, toml): (Vec<PathBuf>, Vec<PathBuf>) = self.spec.iter().cloned().partition(|path| is_sheet(path));
        let own_specs = texts("--spec", &toml)?;
        let own_policy = texts("--policy", &self.policy)?;
        let unusable = |error: KnowledgeError| Stop::Usage(error.to_string());
        let specs = Specs::with_overlay(&borrowed(&own_specs)).map_err(unusable)?;
        let policy = Policy::with_overlay(&borrowed(&own_policy)).map_err(unusable)?;
        Ok((specs, policy))
    }
}

impl KnowledgeArgs {
    /// Product sheets among the specifications.
    pub fn sheet(&self) -> Result<Vec<Record>, Stop> {
        let sheets: Vec<PathBuf> = self.spec.iter().filter(|path| is_sheet(path)).cloned().collect();
        saved::records("--spec", &sheets)
    }
}

fn is_sheet(path: &Path) -> bool {
    saved::is_saved(&inputs::text(path))
}

fn borrowed(texts: &[(String, String)]) -> Vec<Text<'_>> {
    texts.iter().map(|(name, text)| Text { name, text }).collect()
}

/// The usage error for a class that is not there.
pub fn no_class(option: &str, id: &str, specs: &Specs) -> Stop {
    let known: Vec<&str> = specs.spec_list().map(|class| class.id.as_str()).collect();
    Stop::Usage(format!("{option}{id}: there is no such class; known are {}", known.join(", ")))
}
