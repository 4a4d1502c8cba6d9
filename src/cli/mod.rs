//! The command line: one declaration for each option, files in, pages out, and an exit status that scripts can rely on.
//!
//! Takes the process's arguments; gives its exit status. The disk, the terminal and the environment are touched here
//! and nowhere else. Reads nothing of resin by itself: that is [`crate::pipeline`].

#[cfg(feature = "beds")]
mod beds;
mod completions;
mod contained;
mod convert;
mod explain;
mod frames;
mod inputs;
mod judge;
mod knowledge;
#[cfg(feature = "beds")]
mod known_bed;
mod output;
mod plan;
mod read;
mod reading;
mod saved;
mod spec;
mod spool;
mod whole;
mod worker;

use clap::{Parser, Subcommand};
use output::{Status, Stop};

const EXAMPLES: &str = "\
Examples:
  beadwise judge march.pdf                        what to do with the bed, and why
  beadwise plan march.pdf                         top-off, meter, salt, work orders
  beadwise read march.pdf                         what the report says, as tables
  beadwise read --json march.pdf april.xlsx       the same as one JSON document
  beadwise convert reports/ --to csv -o all.csv   a folder of reports as one table
  beadwise beds file --new reports/               the same beds across the years

Exit status: 0 all files were read; 1 some file could not be read (the others are still
printed); 2 the command line, or a file named in an option, cannot be used.";

/// Reads a laboratory's analysis of ion-exchange resin and says what to do with the bed.
#[derive(Debug, Parser)]
#[command(name = "beadwise", version, about, after_help = EXAMPLES, arg_required_else_help = true)]
struct Cli {
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
    Beds(Box<beds::Args>),
    Spec(spec::Args),
    Explain(explain::Args),
    Completions(completions::Args),
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
    let ended = match cli.command {
        Command::Read(args) => read::run(&args),
        Command::Convert(args) => convert::run(&args),
        Command::Judge(args) => judge::run(&args),
        Command::Plan(args) => plan::run(&args),
        #[cfg(feature = "beds")]
        Command::Beds(args) => beds::run(&args),
        Command::Spec(args) => spec::run(args),
        Command::Explain(args) => explain::run(&args),
        Command::Completions(args) => completions::run(&args),
        Command::ReadWorker => worker::serve().map(|()| Status::AllRead).map_err(Stop::from),
    };
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

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_declaration_is_sound() {
        Cli::command().debug_assert();
    }
}
