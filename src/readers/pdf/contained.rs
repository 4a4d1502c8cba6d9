//! A worker process: what a file does to it is no harm to the others.
//!
//! The program starts itself again with a hidden sub-command, hands it files one after the other, and ends it when
//! it takes too long. Memory, time and core dumps of the worker are limited by the system.

use super::worker::{self, PdfWorker};
use super::{LONGEST, broken, time_limit};
use crate::readers::{ReadError, ReadOptions, ReadOutput};
use std::ffi::OsString;
use std::io::{self, BufReader, BufWriter};
use std::path::PathBuf;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::{Mutex, mpsc};
use std::time::Duration;

/// Address space of a worker.
const MEMORY: u64 = 1024 * 1024 * 1024;
/// Processor time of a worker over all its files; it is replaced long before.
const CPU_SECONDS: u64 = 900;
/// Files after which a worker is replaced, so that what it leaks or fragments stays small.
const FILES: usize = 200;
/// Time beyond the reader's own limit that a worker is given to end by itself.
const GRACE: Duration = Duration::from_secs(3);

/// The sub-command that makes the program a worker.
pub const SUB_COMMAND: &str = "read-worker";

/// Runs the worker's side: limits this process, then answers requests on standard input.
///
/// # Errors
///
/// What the pipes give.
pub fn run_worker() -> io::Result<()> {
    limit(rlimit::Resource::AS, MEMORY);
    limit(rlimit::Resource::CPU, CPU_SECONDS);
    limit(rlimit::Resource::CORE, 0);
    worker::serve(BufReader::new(io::stdin().lock()), BufWriter::new(io::stdout().lock()))
}

/// A system that knows a limit not at all, or allows less already, is no reason not to read.
fn limit(resource: rlimit::Resource, most: u64) {
    let hard = resource.get_hard().unwrap_or(most);
    let _ = resource.set(most.min(hard), most.min(hard));
}

/// Reads in a worker process, which is started at the first file and kept for the next.
pub struct Contained {
    program: PathBuf,
    arguments: Vec<OsString>,
    longest: Duration,
    worker: Mutex<Option<Running>>,
}

struct Running {
    child: Child,
    input: BufWriter<ChildStdin>,
    answers: mpsc::Receiver<io::Result<Option<Result<ReadOutput, ReadError>>>>,
    files: usize,
}

impl Drop for Running {
    fn drop(&mut self) {
        // Ended already, or about to be: either way it is to be gone, and its entry with it.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Contained {
    /// A worker that is this program itself, under its hidden sub-command.
    ///
    /// # Errors
    ///
    /// Where the program's own file cannot be found.
    pub fn of_this_program() -> io::Result<Self> {
        Ok(Self::new(std::env::current_exe()?, vec![SUB_COMMAND.into()]))
    }

    /// A worker that is another program.
    pub fn new(program: PathBuf, arguments: Vec<OsString>) -> Self {
        Self { program, arguments, longest: LONGEST + GRACE, worker: Mutex::new(None) }
    }

    /// The same with another limit of time for one file.
    pub fn within(mut self, longest: Duration) -> Self {
        self.longest = longest;
        self
    }

    fn start(&self) -> io::Result<Running> {
        let mut child = Command::new(&self.program)
            .args(&self.arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            // What a dying worker says is not for the user; the answer names what happened.
            .stderr(Stdio::null())
            .spawn()?;
        let (Some(input), Some(output)) = (child.stdin.take(), child.stdout.take()) else {
            return Err(io::ErrorKind::BrokenPipe.into());
        };
        let (sender, answers) = mpsc::channel();
        std::thread::spawn(move || {
            let mut output = BufReader::new(output);
            loop {
                let answer = worker::answer(&mut output);
                let ended = !matches!(answer, Ok(Some(_)));
                if sender.send(answer).is_err() || ended {
                    return;
                }
            }
        });
        Ok(Running { child, input: BufWriter::new(input), answers, files: 0 })
    }
}

impl PdfWorker for Contained {
    fn read(&self, bytes: &[u8], options: &ReadOptions) -> Result<ReadOutput, ReadError> {
        // A reader that panicked while it held the worker left it in no known state: it is replaced.
        let mut held = self.worker.lock().unwrap_or_else(|poisoned| {
            let mut held = poisoned.into_inner();
            *held = None;
            held
        });
        let running = match held.take() {
            Some(running) if running.files < FILES => Ok(running),
            _ => self.start(),
        };
        let Ok(mut running) = running else {
            // Better read without the fence than not at all.
            return super::read(bytes, options);
        };
        running.files += 1;
        if worker::ask(&mut running.input, bytes, options).is_err() {
            return Err(broken("it ended the program that read it"));
        }
        match running.answers.recv_timeout(self.longest) {
            Ok(Ok(Some(answer))) => {
                // After a time-out of its own the worker still has a thread at work.
                if !answer.as_ref().is_err_and(|e| e.code == "time-limit") {
                    *held = Some(running);
                }
                answer
            }
            Err(mpsc::RecvTimeoutError::Timeout) => Err(time_limit()),
            _ => Err(broken("it ended the program that read it")),
        }
    }
}
