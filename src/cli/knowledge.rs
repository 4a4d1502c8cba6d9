//! The options that lay a user's own specifications and limits over the built-in ones.

use super::inputs;
use super::output::Stop;
use super::reading::text_of;
use crate::judge::Policy;
use crate::specs::{KnowledgeError, Specs, Text};
use clap::ValueHint;
use std::path::PathBuf;

/// Options of judging.
#[derive(Debug, Default, clap::Args)]
#[command(next_help_heading = "Knowledge")]
pub struct KnowledgeArgs {
    /// New-resin figures of your own, in the shape of grammar/specs/*.toml; may be given more than once
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
        let own_specs = texts("--spec", &self.spec)?;
        let own_policy = texts("--policy", &self.policy)?;
        let unusable = |error: KnowledgeError| Stop::Usage(error.to_string());
        let specs = Specs::with_overlay(&borrowed(&own_specs)).map_err(unusable)?;
        let policy = Policy::with_overlay(&borrowed(&own_policy)).map_err(unusable)?;
        Ok((specs, policy))
    }
}

fn borrowed(texts: &[(String, String)]) -> Vec<Text<'_>> {
    texts.iter().map(|(name, text)| Text { name, text }).collect()
}

/// The usage error for a class that is not there.
pub fn no_class(option: &str, id: &str, specs: &Specs) -> Stop {
    let known: Vec<&str> = specs.spec_list().map(|class| class.id.as_str()).collect();
    Stop::Usage(format!("{option}{id}: there is no such class; known are {}", known.join(", ")))
}
