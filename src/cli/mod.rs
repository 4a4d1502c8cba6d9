//! The command line: one declaration for each option, files in, pages out, and an exit status that scripts can rely on.
//!
//! Takes the process's arguments; gives its exit status. The disk, the terminal and the environment are touched here
//! and nowhere else. Reads nothing of resin by itself: that is [`crate::pipeline`].

#[cfg(feature = "beds")]
mod beds;
mod completions;
mod config;
mod contained;
mod convert;
mod explain;
mod frames;
mod inputs;
mod judge;
mod knowledge;
#[cfg(feature = "beds")]
mod known_bed;
mod man;
mod no_report;
mod output;
mod plan;
mod progress;
mod read;
mod reading;
#[cfg(feature = "beds")]
mod report;
mod saved;
mod settings;
mod spec;
mod spool;
mod whole;
mod worker;

use clap::{Parser, Subcommand, ValueHint};
use output::{Status, Stop};
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  beadwise judge march.pdf                   what to do with the bed, and why
  beadwise plan march.pdf                    top-off, meter, salt, work orders
  beadwise report march.pdf -o march.html    a page to hand to the customer
  beadwise read march.pdf                    what the report says, as tables
  beadwise read --json march.pdf april.xlsx  the same as one JSON document
  beadwise convert reports/ --to csv -o all.csv
      a folder of reports as one table
  beadwise beds file --new reports/          the same beds across the years

Exit status: 0 all files were read; 1 some file could not be read (the others
are still printed); 2 the command line, or a file named in an option, cannot be
used.";

/// Reads a laboratory's analysis of ion-exchange resin and says what to do with the bed.
#[derive(Debug, Parser)]
#[command(name = "beadwise", version, about, after_help = EXAMPLES, term_width = 80, arg_required_else_help = true)]
struct Cli {
    /// Configuration file, instead of the one in your folder of configurations
    #[arg(long, global = true, value_name = "FILE", value_hint = ValueHint::FilePath)]
    config: Option<PathBuf>,
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Read(read::Args),
    Convert(convert::Args),
    Judge(judge::Args),
    Plan(Box<plan::Args>),
    #[cfg(feature = "beds")]
    Report(Box<report::Args>),
    #[cfg(feature = "beds")]
    Beds(Box<beds::Args>),
    Spec(spec::Args),
    Explain(explain::Args),
    Config(config::Args),
    Completions(completions::Args),
    Man(man::Args),
    /// Read what the program hands over: not for people
    #[command(hide = true, name = worker::SUB_COMMAND)]
    ReadWorker,
}

/// Runs the program with the process's own arguments; gives the exit status.
pub fn run() -> u8 {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => {
            // Help and version come this way too; a reader that went away is no failure.
            let _ = error.print();
            return u8::try_from(error.exit_code()).unwrap_or(2);
        }
    };
    let ended = settled(&cli).and_then(|()| go(&cli));
    match ended {
        Ok(Status::AllRead) | Err(Stop::PipeClosed) => 0,
        Ok(Status::SomeUnread) => 1,
        Err(Stop::Failed(text)) => {
            output::complain(&text);
            1
        }
        Err(Stop::Usage(text)) => {
            output::complain(&text);
            2
        }
    }
}

/// A whole date of the command line.
///
/// # Errors
/// How to write it.
fn date(text: &str) -> Result<chrono::NaiveDate, String> {
    chrono::NaiveDate::parse_from_str(text.trim(), "%Y-%m-%d")
        .map_err(|_| "there is no such day; write a date as 2025-03-31".to_owned())
}

/// Reads the settings, for the commands that follow them.
fn settled(cli: &Cli) -> Result<(), Stop> {
    match &cli.command {
        Command::Completions(_) | Command::Man(_) | Command::ReadWorker => Ok(()),
        Command::Config(args) if !args.shows() => Ok(()),
        _ => settings::load(cli.config.as_deref()),
    }
}

fn go(cli: &Cli) -> Result<Status, Stop> {
    match &cli.command {
        Command::Read(args) => read::run(args),
        Command::Convert(args) => convert::run(args),
        Command::Judge(args) => judge::run(args),
        Command::Plan(args) => plan::run(args),
        #[cfg(feature = "beds")]
        Command::Report(args) => report::run(args),
        #[cfg(feature = "beds")]
        Command::Beds(args) => beds::run(args),
        Command::Spec(args) => spec::run(args),
        Command::Explain(args) => explain::run(args),
        Command::Config(args) => config::run(args, cli.config.as_deref()),
        Command::Completions(args) => completions::run(args),
        Command::Man(args) => man::run(args),
        Command::ReadWorker => worker::serve().map(|()| Status::AllRead).map_err(Stop::from),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_declaration_is_sound() {
        Cli::command().debug_assert();
    }

    /// Command lines of a help text: continued lines joined, comments, pipes and redirections cut away.
    fn examples(help: &str) -> Vec<Vec<String>> {
        let lines: Vec<&str> = help.split("\\\n").collect();
        let lines = lines.iter().map(|part| part.trim_start()).collect::<Vec<_>>().join("");
        let commands = lines.lines().filter_map(|line| line.trim_start().strip_prefix("beadwise "));
        commands
            .map(|line| {
                let mut words = vec!["beadwise".to_owned()];
                for (at, piece) in line.split('"').enumerate() {
                    if at % 2 == 1 {
                        // A quoted amount stands behind its quantity: feed_iron="1.2 mg/L".
                        match words.last_mut().filter(|word| word.ends_with('=')) {
                            Some(word) => word.push_str(piece),
                            None => words.push(piece.to_owned()),
                        }
                        continue;
                    }
                    let shell = piece.find(['>', '|']).into_iter().chain(piece.find("  "));
                    let end = shell.min().unwrap_or(piece.len());
                    words.extend(piece[..end].split_whitespace().map(str::to_owned));
                    if end < piece.len() {
                        break;
                    }
                }
                words
            })
            .collect()
    }

    fn check_examples(command: &clap::Command, path: &str, wrong: &mut Vec<String>) {
        let help = command.get_after_help().map(ToString::to_string).unwrap_or_default();
        if !help.contains("Examples:\n") {
            wrong.push(format!("{path}: no examples"));
        }
        for words in examples(&help) {
            if let Err(error) = Cli::try_parse_from(&words) {
                wrong.push(format!("{path}: {}: {error}", words.join(" ")));
            }
        }
        wrong.extend(help.lines().filter(|line| line.chars().count() > 80).map(|line| format!("{path}: wide: {line}")));
        for inside in command.get_subcommands().filter(|inside| !inside.is_hide_set() && inside.get_name() != "help") {
            check_examples(inside, &format!("{path} {}", inside.get_name()), wrong);
        }
    }

    #[test]
    fn every_command_has_examples_and_every_example_can_be_given() {
        let mut wrong = Vec::new();
        check_examples(&Cli::command(), "beadwise", &mut wrong);
        assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    }
}
