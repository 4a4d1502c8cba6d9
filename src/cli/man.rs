//! `beadwise man`: the command line's own declaration, as manual pages.

use super::output::{self, Status, Stop};
use super::whole::WholeFile;
use clap::{Command, CommandFactory, ValueHint};
use std::io::Write;
use std::path::{Path, PathBuf};

const EXAMPLES: &str = "\
Examples:
  beadwise man | man -l -                     the page of the program
  beadwise man beds file | man -l -           the page of a command
  beadwise man --all ~/.local/share/man/man1  every page, where man finds it";

/// Print a manual page
#[derive(Debug, clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Args {
    /// Command that the page is of; the program's own without one
    #[arg(value_name = "COMMAND", conflicts_with = "all")]
    pub command: Vec<String>,
    /// Write every page into this folder, which is made where it is missing
    #[arg(long, value_name = "FOLDER", value_hint = ValueHint::DirPath)]
    pub all: Option<PathBuf>,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Status, Stop> {
    let mut program = super::Cli::command();
    program.build();
    if let Some(folder) = &args.all {
        std::fs::create_dir_all(folder)
            .map_err(|error| Stop::Usage(format!("--all {}: it cannot be made: {error}", folder.display())))?;
        let written = write_all(&program, folder)?;
        output::say(&format!("{written} pages in {}", folder.display()));
        return Ok(Status::AllRead);
    }
    let mut command = &program;
    for name in &args.command {
        let inside: Vec<&str> = shown(command).map(Command::get_name).collect();
        command = shown(command).find(|inside| inside.get_name() == name).ok_or_else(|| {
            let near = crate::specs::near_or_all(name, &inside);
            Stop::Usage(format!("man {name}: there is no such command; did you mean {near}?"))
        })?;
    }
    output::print(&String::from_utf8_lossy(&page(command)?))?;
    Ok(Status::AllRead)
}

fn shown(command: &Command) -> impl Iterator<Item = &Command> {
    command.get_subcommands().filter(|inside| !inside.is_hide_set() && inside.get_name() != "help")
}

/// A page. Its examples are kept line by line: they are commands.
fn page(command: &Command) -> Result<Vec<u8>, Stop> {
    let mut page = Vec::new();
    clap_mangen::Man::new(command.clone()).render(&mut page)?;
    Ok(page)
}

fn write_all(command: &Command, folder: &Path) -> Result<usize, Stop> {
    let name = command.get_display_name().unwrap_or(command.get_name());
    let mut file = WholeFile::begin("--all", &folder.join(format!("{name}.1")))?;
    file.write_all(&page(command)?)?;
    file.finish()?;
    shown(command).try_fold(1, |written, inside| Ok(written + write_all(inside, folder)?))
}
