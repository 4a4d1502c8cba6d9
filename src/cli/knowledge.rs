//! The options that lay a user's own specifications and limits over the built-in ones.

use super::inputs;
use super::output::Stop;
use super::reading::text_of;
use super::saved;
use super::settings;
use crate::judge::Policy;
use crate::record::Record;
use crate::specs::{KnowledgeError, Specs, Text, near_or_all};
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
        let settings = settings::get();
        let mut own_specs = settings.files("spec", &self.spec);
        own_specs.retain(|(_, path)| !is_sheet(path));
        let own_specs = texts(&own_specs)?;
        let own_policy = texts(&settings.files("policy", &self.policy))?;
        let unusable = |error: KnowledgeError| Stop::Usage(error.to_string());
        let specs = Specs::with_overlay(&borrowed(&own_specs)).map_err(unusable)?;
        let mut policy = Policy::builtin().map_err(unusable)?.clone();
        for (name, value, source, origin) in settings.uncertainties() {
            policy = policy.with_limit(name, value, &source, origin).map_err(unusable)?;
        }
        Ok((specs, policy.over(&borrowed(&own_policy)).map_err(unusable)?))
    }
}

impl KnowledgeArgs {
    /// Product sheets among the specifications.
    pub fn sheet(&self) -> Result<Vec<Record>, Stop> {
        let mut sheets = settings::get().files("spec", &self.spec);
        sheets.retain(|(_, path)| is_sheet(path));
        saved::records(&sheets)
    }
}

/// The texts of files that options or settings name, each with its name.
pub fn texts(files: &[(String, PathBuf)]) -> Result<Vec<(String, String)>, Stop> {
    files.iter().map(|(label, path)| Ok((inputs::text(path), text_of(label, path)?))).collect()
}

fn is_sheet(path: &Path) -> bool {
    saved::is_saved(&inputs::text(path))
}

/// Texts as the parts that hold knowledge take them.
pub fn borrowed(texts: &[(String, String)]) -> Vec<Text<'_>> {
    texts.iter().map(|(name, text)| Text { name, text }).collect()
}

/// The usage error for a class that is not there.
pub fn no_class(option: &str, id: &str, specs: &Specs) -> Stop {
    let known: Vec<&str> = specs.spec_list().map(|class| class.id.as_str()).collect();
    let near = near_or_all(id, &known);
    Stop::Usage(format!("{option}{id}: there is no such class; did you mean {near}? `beadwise spec list` shows all"))
}
