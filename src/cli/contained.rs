//! Reading one file in such a way that whatever is wrong with it stays with it.
//!
//! Takes a name and bytes; gives an [`Outcome`], also where the reading itself broke down.

use super::inputs::Input;
use super::progress::Progress;
use crate::lexicon::Lexicon;
use crate::pipeline::{self, Outcome};
use crate::readers::ReadOptions;
use crate::record::FileError;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::cell::{Cell, RefCell};
use std::panic::{self, AssertUnwindSafe};
use std::sync::Once;

/// Something that reads one report and never takes the program down with it.
pub trait Contained: Sync {
    /// Reads the bytes of a report.
    fn read(&self, name: &str, bytes: &[u8]) -> Outcome;
    /// How many bytes a file may have.
    fn byte_limit(&self) -> usize;
}

/// Reads in this process; a panic becomes the file's error.
pub struct InProcess<'a> {
    options: &'a ReadOptions,
    lexicon: &'a Lexicon,
    kind: Kind,
}

/// What the files are.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Kind {
    /// Laboratories' reports.
    #[default]
    Reports,
    /// Product data sheets.
    Sheets,
}

thread_local! {
    static CONTAINED: Cell<bool> = const { Cell::new(false) };
    static BROKE_AT: RefCell<String> = const { RefCell::new(String::new()) };
}

static HOOK: Once = Once::new();

impl<'a> InProcess<'a> {
    /// With these options and words.
    pub fn new(options: &'a ReadOptions, lexicon: &'a Lexicon) -> Self {
        HOOK.call_once(|| {
            let usual = panic::take_hook();
            panic::set_hook(Box::new(move |info| {
                if CONTAINED.get() {
                    let at = info.location().map(ToString::to_string).unwrap_or_default();
                    BROKE_AT.with(|broke| broke.replace(at));
                } else {
                    usual(info);
                }
            }));
        });
        Self { options, lexicon, kind: Kind::Reports }
    }

    /// The same for files of another kind.
    pub fn of(self, kind: Kind) -> Self {
        Self { kind, ..self }
    }
}

impl Contained for InProcess<'_> {
    fn read(&self, name: &str, bytes: &[u8]) -> Outcome {
        contain(name, || match self.kind {
            Kind::Reports => pipeline::read(name, bytes, self.options, self.lexicon),
            Kind::Sheets => pipeline::read_sheet(name, bytes, self.options, self.lexicon),
        })
    }

    fn byte_limit(&self) -> usize {
        self.options.limits.file_bytes
    }
}

fn contain(name: &str, work: impl FnOnce() -> Outcome) -> Outcome {
    CONTAINED.set(true);
    // What a broken reading leaves behind is dropped whole, so nothing half-made is looked at afterwards.
    let outcome = panic::catch_unwind(AssertUnwindSafe(work));
    CONTAINED.set(false);
    outcome.unwrap_or_else(|_| {
        let at = BROKE_AT.with(RefCell::take);
        let text = format!(
            "the program itself failed on this file ({at}); nothing of it was read. Please report this, with the file if it may be shown"
        );
        failed(name, "internal", text)
    })
}

/// The outcome of a file that could not be read.
pub fn failed(name: &str, code: &str, text: String) -> Outcome {
    let error = FileError { file: name.to_owned(), part: None, code: code.to_owned(), text };
    Outcome { errors: vec![error], ..Outcome::default() }
}

/// Files that are read before any of them is handed on: enough to keep all cores busy, few enough to keep memory flat.
const AT_ONCE: usize = 64;

/// Room for readers that go deep into nested contents, where no worker is to be had. Untouched memory costs nothing.
const STACK_BYTES: usize = 256 << 20;

/// Reads files on all cores and hands their outcomes on in the order of the files, a few at a time.
///
/// # Errors
///
/// The first error of `take`, which ends the reading.
pub fn each<E: Send>(
    files: &[Input],
    contained: &dyn Contained,
    take: impl FnMut(&Input, Outcome) -> Result<(), E>,
) -> Result<(), E> {
    each_of(files, contained, &Progress::over(files.len(), true), take)
}

/// The same, where it is known that no pages come out in between.
///
/// # Errors
///
/// The first error of `take`, which ends the reading.
pub fn each_of<E: Send>(
    files: &[Input],
    contained: &dyn Contained,
    progress: &Progress,
    mut take: impl FnMut(&Input, Outcome) -> Result<(), E>,
) -> Result<(), E> {
    let read = |input: &Input| {
        let outcome = match input.bytes(contained.byte_limit()) {
            Ok(bytes) => contained.read(&input.name, &bytes),
            Err(error) => Outcome { errors: vec![error], ..Outcome::default() },
        };
        progress.step();
        outcome
    };
    let pool = rayon::ThreadPoolBuilder::new().stack_size(STACK_BYTES).build();
    for few in files.chunks(AT_ONCE) {
        let outcomes: Vec<Outcome> = match &pool {
            Ok(pool) => pool.install(|| few.par_iter().map(read).collect()),
            // Where no threads are to be had, one file after the other still reads them all.
            Err(_) => few.iter().map(read).collect(),
        };
        for (input, outcome) in few.iter().zip(outcomes) {
            take(input, outcome)?;
        }
    }
    Ok(())
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::panic)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_is_the_error_of_its_file() {
        let _hook = InProcess::new(&ReadOptions::default(), Lexicon::builtin());
        let outcome = contain("odd.txt", || panic!("boom"));
        let error = outcome.errors.first().unwrap();
        assert_eq!((error.file.as_str(), error.code.as_str()), ("odd.txt", "internal"));
        assert!(error.text.contains("contained.rs"), "{}", error.text);
    }

    struct Slow;

    impl Contained for Slow {
        fn read(&self, name: &str, _: &[u8]) -> Outcome {
            if name.ends_with("0.txt") {
                std::thread::sleep(std::time::Duration::from_millis(20));
            }
            failed(name, "slow", String::new())
        }

        fn byte_limit(&self) -> usize {
            10
        }
    }

    #[test]
    fn outcomes_come_in_the_order_of_the_files() {
        let folder = tempfile::tempdir().unwrap();
        let files: Vec<Input> = (0..150)
            .map(|n| {
                let path = folder.path().join(format!("{n}.txt"));
                std::fs::write(&path, "x").unwrap();
                Input { name: format!("{n}.txt"), path: Some(path) }
            })
            .collect();
        let mut seen = Vec::new();
        each::<()>(&files, &Slow, |_, outcome| {
            seen.extend(outcome.errors.into_iter().map(|error| error.file));
            Ok(())
        })
        .unwrap();
        let expected: Vec<String> = files.iter().map(|input| input.name.clone()).collect();
        assert_eq!(seen, expected);
    }
}
