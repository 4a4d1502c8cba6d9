//! The `beadwise` program: see [`beadwise::cli`].

use std::process::ExitCode;

fn main() -> ExitCode {
    ExitCode::from(beadwise::cli::run())
}
