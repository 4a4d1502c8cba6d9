//! What leaves the program: pages, messages, and how a command ended.

use crate::record::FileError;
use crate::report::look::Look;
use crate::report::plain::safe;
use std::io::{self, BufWriter, IsTerminal, Write};

/// How a command ended that ran to its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Status {
    /// Every file was read.
    AllRead,
    /// Some file, or part of one, could not be read.
    SomeUnread,
}

impl Status {
    /// By whether there were errors.
    pub fn of(errors: bool) -> Self {
        if errors { Self::SomeUnread } else { Self::AllRead }
    }
}

/// Why a command ended before its end.
#[derive(Debug)]
pub enum Stop {
    /// The command line, or a file named in an option, cannot be used.
    Usage(String),
    /// An output could not be written.
    Failed(String),
    /// Whoever read the output has had enough of it.
    PipeClosed,
}

impl From<io::Error> for Stop {
    fn from(error: io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::BrokenPipe => Self::PipeClosed,
            _ => Self::Failed(format!("the output could not be written: {error}")),
        }
    }
}

impl From<serde_json::Error> for Stop {
    fn from(error: serde_json::Error) -> Self {
        io::Error::from(error).into()
    }
}

impl From<csv::Error> for Stop {
    fn from(error: csv::Error) -> Self {
        match error.into_kind() {
            csv::ErrorKind::Io(error) => error.into(),
            other => Self::Failed(format!("the output could not be written: {other:?}")),
        }
    }
}

/// Standard output, buffered. Flush it: an error in dropping it would be lost.
pub fn standard_output() -> BufWriter<io::StdoutLock<'static>> {
    BufWriter::new(io::stdout().lock())
}

/// Writes a page to standard output.
pub fn print(page: &str) -> Result<(), Stop> {
    let mut out = standard_output();
    out.write_all(page.as_bytes())?;
    out.flush()?;
    Ok(())
}

/// Writes a value to standard output as one indented JSON document, and nothing else.
pub fn print_json(value: &impl serde::Serialize) -> Result<(), Stop> {
    let mut out = standard_output();
    serde_json::to_writer_pretty(&mut out, value)?;
    out.write_all(b"\n")?;
    out.flush()?;
    Ok(())
}

/// Says on standard error what is wrong with the command.
pub fn complain(text: &str) {
    say(&format!("beadwise: {text}"));
}

/// Says on standard error what could not be read, as `file: where: what, what to do`.
pub fn report(error: &FileError) {
    say(&message(error));
}

/// A line on standard error. Nothing is left to tell anybody if that is closed too.
pub fn say(text: &str) {
    super::progress::aside(|| {
        let _ = writeln!(io::stderr().lock(), "{}", safe(text));
    });
}

fn message(error: &FileError) -> String {
    let part = error.part.as_ref().map(|part| format!("{part}: ")).unwrap_or_default();
    format!("{}: {part}{} [{}]", error.file, error.text, error.code)
}

/// How pages on standard output are to look, by the terminal and the environment.
pub fn look() -> Look {
    let terminal = io::stdout().is_terminal();
    let width = if terminal { comfy_table::Table::new().width() } else { None };
    look_by(terminal, width, |name| std::env::var(name).ok())
}

/// `NO_COLOR` counts where it is set and not empty, as <https://no-color.org> has it.
fn look_by(terminal: bool, width: Option<u16>, variable: impl Fn(&str) -> Option<String>) -> Look {
    let plain = variable("NO_COLOR").is_some_and(|value| !value.is_empty());
    let dumb = variable("TERM").is_some_and(|term| term == "dumb");
    Look { width: width.unwrap_or(80).clamp(60, 110), color: terminal && !plain && !dumb }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_message_names_file_part_cause_and_code() {
        let error = FileError {
            file: "mail.eml".into(),
            part: Some("core.xlsx".into()),
            code: "not-a-workbook".into(),
            text: "it is cut off; fetch it again".into(),
        };
        assert_eq!(message(&error), "mail.eml: core.xlsx: it is cut off; fetch it again [not-a-workbook]");
    }

    #[test]
    fn pages_are_plain_but_on_a_terminal_that_wants_colour() {
        let set =
            |name: &'static str, value: &'static str| move |asked: &str| (asked == name).then(|| value.to_owned());
        assert!(look_by(true, None, set("TERM", "xterm")).color);
        assert!(look_by(true, None, set("NO_COLOR", "")).color);
        assert!(!look_by(true, None, set("NO_COLOR", "1")).color);
        assert!(!look_by(true, None, set("TERM", "dumb")).color);
        assert!(!look_by(false, None, |_| None).color);
        assert_eq!(look_by(false, None, |_| None).width, 80);
        assert_eq!(look_by(true, Some(300), |_| None).width, 110);
    }
}
