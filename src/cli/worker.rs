//! Worker processes: a file that exhausts memory, the stack or its time ends a worker, and nothing else.
//!
//! The program starts itself again under a hidden sub-command and hands it files one after the other. The worker's
//! memory and processor time are limited by the system, its time for one file by the program. Where no worker can be
//! had, files are read in the program itself.
//!
//! A worker is given a [`Setup`] once, and answers its own version; then for each file a name and bytes, and answers
//! an [`Answer`].

use super::contained::{Contained, InProcess, Kind, failed};
use super::frames;
use crate::lexicon::Lexicon;
use crate::pipeline::Outcome;
use crate::readers::{Limits, ReadOptions};
use crate::record::{FileError, FileReading, Record};
use serde::{Deserialize, Serialize};
use std::io::{self, BufReader, BufWriter, Write};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError, mpsc};
use std::time::Duration;

/// The sub-command that makes the program a worker.
pub const SUB_COMMAND: &str = "read-worker";

/// Processor time of a worker over all its files, so that one whose program was killed does not run on for ever.
const CPU_SECONDS: u64 = 1800;
/// Files after which a worker is replaced, so that what it fragments stays small.
const FILES: usize = 500;
/// Time for a worker to begin.
const START: Duration = Duration::from_secs(30);
/// Stack of the reading thread.
const STACK_BYTES: usize = 256 << 20;

/// How the worker is to read.
#[derive(Serialize, Deserialize)]
struct Setup {
    password: Option<String>,
    encoding: Option<String>,
    limits: Limits,
    overlays: Vec<(String, String)>,
    kind: Kind,
}

/// What a file came to.
#[derive(Serialize, Deserialize)]
struct Answer {
    file: Option<FileReading>,
    records: Vec<Record>,
    errors: Vec<FileError>,
}

/// Answers on standard output what comes on standard input, until that ends.
pub fn serve() -> io::Result<()> {
    limit(rlimit::Resource::CPU, CPU_SECONDS);
    limit(rlimit::Resource::CORE, 0);
    let thread = std::thread::Builder::new().stack_size(STACK_BYTES).spawn(|| {
        let mut input = BufReader::new(io::stdin().lock());
        let Some(setup) = frames::read(&mut input)? else { return Ok(()) };
        let setup: Setup = serde_json::from_slice(&setup)?;
        limit(rlimit::Resource::AS, setup.limits.memory_bytes);
        answer_all(setup, &mut input, &mut BufWriter::new(io::stdout().lock()))
    })?;
    thread.join().unwrap_or_else(|_| Err(io::Error::other("the reading thread broke down")))
}

/// A system that does not know a limit, or allows less already, is no reason not to read.
fn limit(resource: rlimit::Resource, most: u64) {
    let hard = resource.get_hard().unwrap_or(most);
    let _ = resource.set(most.min(hard), most.min(hard));
}

fn answer_all(setup: Setup, input: &mut impl io::Read, output: &mut impl Write) -> io::Result<()> {
    let options = ReadOptions { password: setup.password, encoding: setup.encoding, limits: setup.limits };
    let own;
    let lexicon = if setup.overlays.is_empty() {
        Lexicon::builtin()
    } else {
        own = Lexicon::with_overlays(&setup.overlays).map_err(io::Error::other)?;
        &own
    };
    let reader = InProcess::new(&options, lexicon).of(setup.kind);
    frames::write(output, env!("CARGO_PKG_VERSION").as_bytes())?;
    output.flush()?;
    while let Some(name) = frames::read(input)? {
        let bytes = frames::read(input)?.ok_or(io::ErrorKind::UnexpectedEof)?;
        let Outcome { file, records, errors, .. } = reader.read(&String::from_utf8_lossy(&name), &bytes);
        frames::write(output, &serde_json::to_vec(&Answer { file, records, errors })?)?;
        output.flush()?;
    }
    Ok(())
}

/// Reads in worker processes, as many as there are threads that ask.
pub struct InWorkers<'a> {
    here: InProcess<'a>,
    setup: Setup,
    idle: Mutex<Vec<Running>>,
    unusable: AtomicBool,
}

struct Running {
    child: Child,
    input: BufWriter<ChildStdin>,
    answers: mpsc::Receiver<Vec<u8>>,
    files: usize,
}

impl Drop for Running {
    fn drop(&mut self) {
        // Ended already, or about to be: either way it is to be gone, and its entry with it.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl<'a> InWorkers<'a> {
    /// With these options and words; `overlays` are the files that the lexicon was made with.
    pub fn new(options: &'a ReadOptions, lexicon: &'a Lexicon, overlays: &[(String, String)]) -> Self {
        let setup = Setup {
            password: options.password.clone(),
            encoding: options.encoding.clone(),
            limits: options.limits.clone(),
            overlays: overlays.to_vec(),
            kind: Kind::Reports,
        };
        let here = InProcess::new(options, lexicon);
        Self { here, setup, idle: Mutex::default(), unusable: AtomicBool::new(false) }
    }

    /// The same for files of another kind.
    pub fn of(mut self, kind: Kind) -> Self {
        self.setup.kind = kind;
        self.here = self.here.of(kind);
        self
    }

    fn start(&self) -> io::Result<Running> {
        let mut child = Command::new(std::env::current_exe()?)
            .arg(SUB_COMMAND)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            // What a dying worker says is not for the user; the error of its file names what happened.
            .stderr(Stdio::null())
            .spawn()?;
        let (Some(input), Some(output)) = (child.stdin.take(), child.stdout.take()) else {
            return Err(io::ErrorKind::BrokenPipe.into());
        };
        let (sender, answers) = mpsc::channel();
        let mut running = Running { child, input: BufWriter::new(input), answers, files: 0 };
        std::thread::Builder::new().spawn(move || {
            let mut output = BufReader::new(output);
            while let Ok(Some(answer)) = frames::read(&mut output) {
                if sender.send(answer).is_err() {
                    return;
                }
            }
        })?;
        frames::write(&mut running.input, &serde_json::to_vec(&self.setup)?)?;
        running.input.flush()?;
        match running.answers.recv_timeout(START) {
            Ok(version) if version == env!("CARGO_PKG_VERSION").as_bytes() => Ok(running),
            _ => Err(io::Error::other("the worker did not begin")),
        }
    }

    fn idle(&self) -> std::sync::MutexGuard<'_, Vec<Running>> {
        self.idle.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Contained for InWorkers<'_> {
    fn read(&self, name: &str, bytes: &[u8]) -> Outcome {
        if self.unusable.load(Ordering::Relaxed) {
            return self.here.read(name, bytes);
        }
        let held = self.idle().pop();
        let Ok(mut running) = held.map_or_else(|| self.start(), Ok) else {
            // Better read without the fence than not at all.
            self.unusable.store(true, Ordering::Relaxed);
            return self.here.read(name, bytes);
        };
        running.files += 1;
        let longest = Duration::from_secs(self.setup.limits.seconds);
        let sent = frames::write(&mut running.input, name.as_bytes())
            .and_then(|()| frames::write(&mut running.input, bytes))
            .and_then(|()| running.input.flush());
        let answer = sent.map_or(Err(mpsc::RecvTimeoutError::Disconnected), |()| running.answers.recv_timeout(longest));
        match answer.map(|answer| serde_json::from_slice::<Answer>(&answer)) {
            Ok(Ok(Answer { file, records, errors })) => {
                if running.files < FILES {
                    self.idle().push(running);
                }
                Outcome { file, records, errors, ..Outcome::default() }
            }
            Err(mpsc::RecvTimeoutError::Timeout) => failed(
                name,
                "time-limit",
                format!(
                    "reading it took longer than {} seconds; save only the report from it, or raise the limit seconds",
                    longest.as_secs()
                ),
            ),
            _ => failed(
                name,
                "internal",
                "reading it needed more memory or depth than is allowed, and nothing of it was read. Save only the report from it, or raise the limit memory-mib; if that fails too, please report this, with the file if it may be shown"
                    .to_owned(),
            ),
        }
    }

    fn byte_limit(&self) -> usize {
        self.here.byte_limit()
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_worker_answers_what_reading_here_gives() {
        let report = "Vessel: Softener 2\nMoisture retention: 47.3 %\nSwamp factor of feed: 3\n";
        let overlays = vec![("ours.toml".to_owned(), "[moisture]\nen = \"swamp factor\"\n".to_owned())];
        let setup = Setup {
            password: None,
            encoding: None,
            limits: Limits::default(),
            overlays: overlays.clone(),
            kind: Kind::Reports,
        };
        let mut asked = Vec::new();
        for _ in 0..2 {
            frames::write(&mut asked, b"march.txt").unwrap();
            frames::write(&mut asked, report.as_bytes()).unwrap();
        }
        let mut answered = Vec::new();
        answer_all(setup, &mut asked.as_slice(), &mut answered).unwrap();
        let mut answered = answered.as_slice();
        assert_eq!(frames::read(&mut answered).unwrap().unwrap(), env!("CARGO_PKG_VERSION").as_bytes());
        let lexicon = Lexicon::with_overlays(&overlays).unwrap();
        let options = ReadOptions::default();
        let here = InProcess::new(&options, &lexicon).read("march.txt", report.as_bytes());
        for _ in 0..2 {
            let answer: Answer = serde_json::from_slice(&frames::read(&mut answered).unwrap().unwrap()).unwrap();
            assert_eq!((&answer.file, &answer.records, &answer.errors), (&here.file, &here.records, &here.errors));
            assert!(!answer.records.is_empty());
        }
    }
}
