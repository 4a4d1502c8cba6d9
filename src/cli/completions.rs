//! `beadwise completions`: the command line's own declaration, as a shell's completions.

use super::output::{self, Status, Stop};
use clap::CommandFactory;
use clap_complete::Shell;

const EXAMPLES: &str = "\
Examples:
  beadwise completions bash > \\
      ~/.local/share/bash-completion/completions/beadwise
  beadwise completions fish > ~/.config/fish/completions/beadwise.fish";

/// Print completions for a shell
#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Args {
    /// Which shell
    #[arg(value_enum)]
    pub shell: Shell,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Status, Stop> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut super::Cli::command(), "beadwise", &mut script);
    output::print(&String::from_utf8_lossy(&script))?;
    Ok(Status::AllRead)
}
