//! PDF: placed words, rules as hard borders, ruled tables as hard rows.
//!
//! ```text
//! bytes ─ source ─▶ pages ─ content, fonts, paths ─▶ minimal PDF ─ pdf-extract (glyphs) ─▶ glyphs
//!       ─ upright ─▶ upright page ─ lines, words, ruled ─▶ lines and tables ─▶ Page
//! ```
//!
//! Takes the bytes of a file, gives a page for each of its pages. Knows nothing of meaning.

mod banded;
mod cmap;
mod content;
mod core_widths;
mod fonts;
mod glyphs;
mod lexer;
mod lines;
mod names;
mod page;
mod pass;
mod paths;
mod ruled;
mod simple;
mod source;
mod upright;
mod words;
mod writer;

use super::{Limits, ReadError, ReadOptions, ReadOutput};
use crate::document::{Notice, NoticeKind, Part};
use crate::place::Where;
use content::Excess;
use pass::{Failure, RawPage};
use std::cell::Cell;
use std::panic::AssertUnwindSafe;
use std::sync::{Once, mpsc};
use std::time::{Duration, Instant};

/// Stack of the reading thread: parsers of PDF go deep on honest files too.
const STACK: usize = 32 * 1024 * 1024;
/// Share of characters that no font explains, above which the text is of no use.
const MOST_UNEXPLAINED: f32 = 0.2;

/// Reads a PDF, on a thread of its own, within limits of time and size.
///
/// A file made to exhaust memory or the stack can still end the process; the command line therefore reads in another.
///
/// # Errors
///
/// `not-a-pdf`, `encrypted`, `no-text-layer`, `too-large`, `time-limit`, `broken-pdf`: each says what to do.
pub fn read(bytes: &[u8], options: &ReadOptions) -> Result<ReadOutput, ReadError> {
    if !has_header(bytes) {
        return Err(error("not-a-pdf", "this is no PDF file; check that it was saved or sent whole"));
    }
    let longest = Duration::from_secs(options.limits.pdf_seconds);
    let until = Instant::now() + longest;
    let owned = bytes.to_vec();
    let for_job = options.clone();
    let (sender, receiver) = mpsc::channel();
    let job = move || {
        // The caller may have stopped waiting.
        let _ = sender.send(read_quietly(&owned, &for_job, until));
    };
    if std::thread::Builder::new().name("pdf".to_owned()).stack_size(STACK).spawn(job).is_err() {
        return Err(error("broken-pdf", "no thread could be started to read it; try again"));
    }
    match receiver.recv_timeout(longest + Duration::from_secs(2)) {
        Ok(result) => result,
        Err(mpsc::RecvTimeoutError::Timeout) => Err(time_limit(&options.limits)),
        Err(mpsc::RecvTimeoutError::Disconnected) => Err(broken("it ended the reader")),
    }
}

/// Whether the mark of a PDF stands near the start, as viewers accept it.
fn has_header(bytes: &[u8]) -> bool {
    bytes.get(..bytes.len().min(1024)).unwrap_or_default().windows(5).any(|w| w == b"%PDF-")
}

thread_local! {
    static QUIET: Cell<bool> = const { Cell::new(false) };
}

/// The text pass panics on what it does not know; that is expected here and nobody's message.
fn silence_this_thread() {
    static HOOK: Once = Once::new();
    HOOK.call_once(|| {
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            if !QUIET.get() {
                before(info);
            }
        }));
    });
    QUIET.set(true);
}

fn read_quietly(bytes: &[u8], options: &ReadOptions, until: Instant) -> Result<ReadOutput, ReadError> {
    silence_this_thread();
    let attempt = |bare| {
        std::panic::catch_unwind(AssertUnwindSafe(|| attempt(bytes, options, until, bare)))
            .unwrap_or_else(|_| Err(broken("its fonts or its content make no sense")))
    };
    match attempt(false) {
        // Font programs are what the text pass stumbles over most.
        Err(e) if e.code == "broken-pdf" && Instant::now() < until => attempt(true),
        result => result,
    }
}

fn attempt(bytes: &[u8], options: &ReadOptions, until: Instant, bare: bool) -> Result<ReadOutput, ReadError> {
    let ReadOptions { password, limits, .. } = options;
    let doc = source::load(bytes, password.as_deref()).map_err(|e| load_error(&e, options))?;
    if doc.is_encrypted() {
        return Err(encrypted(password.is_some()));
    }
    let pages = pass::run(&doc, until, bare, limits.pages).map_err(|failure| match failure {
        Failure::Excess(Excess::Size) => too_large(limits),
        Failure::Excess(Excess::Time) => time_limit(limits),
        Failure::Broken(what) => broken(&what),
    })?;
    if pages.is_empty() {
        return Err(broken("no page can be found in it"));
    }
    let attachments = pass::has_attachments(&doc);
    let rebuilt = doc.xref_recovery == Some(lopdf::xref::XrefRecovery::Reconstructed) || source::has_strays_only(&doc);
    drop(doc);
    let mut output = assemble(&pages, until, limits)?;
    if rebuilt {
        output.notices.push(Notice {
            kind: NoticeKind::Damaged,
            text: "the file was damaged; it was read as far as it goes, and something may be missing".to_owned(),
            place: Where::default(),
        });
    }
    if attachments {
        output.notices.push(Notice {
            kind: NoticeKind::UnreadableAttachment,
            text: "files attached inside the PDF were not read; save them and read them by themselves".to_owned(),
            place: Where::default(),
        });
    }
    Ok(output)
}

fn assemble(raw: &[RawPage], until: Instant, limits: &Limits) -> Result<ReadOutput, ReadError> {
    let mut pages = Vec::new();
    let mut notices = Vec::new();
    let mut shown = 0;
    let mut unexplained = 0;
    let mut silent = Vec::new();
    for (number, raw) in (1_u32..).zip(raw) {
        if Instant::now() > until {
            return Err(time_limit(limits));
        }
        let read = page::read(raw, number);
        shown += read.shown;
        unexplained += read.unexplained;
        if read.shown == 0 && (read.is_scan || !raw.pictures.is_empty()) {
            silent.push(number);
        }
        notices.extend(read.notices);
        pages.push(read.page);
    }
    let scanned = !silent.is_empty();
    if shown == 0 {
        let holds = if scanned { "holds pictures of pages and no text" } else { "holds no text" };
        return Err(error(
            "no-text-layer",
            &format!(
                "the file {holds}, so that no figure can be read; ask the laboratory for the file that its program \
                 wrote, or read the picture with --ocr (which needs the programs tesseract and pdftoppm)"
            ),
        ));
    }
    if unexplained as f32 > MOST_UNEXPLAINED * shown as f32 {
        return Err(error(
            "no-text-layer",
            &format!(
                "{unexplained} of {shown} characters cannot be told, because the file's fonts do not say which \
                 characters they show; ask the laboratory for another file, or print this one and read it with --ocr"
            ),
        ));
    }
    for number in silent {
        notices.push(Notice {
            kind: NoticeKind::UnmappedText,
            text: format!("page {number} is a picture without text; what it shows was not read"),
            place: Where { page: Some(number), ..Where::default() },
        });
    }
    let part = Part { name: None, format: "pdf".to_owned(), pages };
    Ok(ReadOutput { parts: vec![part], notices })
}

fn error(code: &'static str, text: &str) -> ReadError {
    ReadError { code, text: text.to_owned(), part: None }
}

fn broken(what: &str) -> ReadError {
    error(
        "broken-pdf",
        &format!("the file is damaged: {what}; open it in a viewer and print it to a new PDF, or ask for it again"),
    )
}

fn too_large(limits: &Limits) -> ReadError {
    error(
        "too-large",
        &format!(
            "the file is larger than any report (at most {} pages are read, and what would fill them); cut out the \
             pages that matter, or raise the limit pages",
            limits.pages
        ),
    )
}

fn time_limit(limits: &Limits) -> ReadError {
    error(
        "time-limit",
        &format!(
            "reading took longer than {} seconds and was given up; print the file to a new PDF and read that, or \
             raise the limit pdf-seconds",
            limits.pdf_seconds
        ),
    )
}

fn encrypted(given: bool) -> ReadError {
    let text = if given {
        "the password does not open the file; check it, or ask the laboratory for it"
    } else {
        "the file needs a password to be opened; give it with --password"
    };
    error("encrypted", text)
}

fn load_error(e: &lopdf::Error, options: &ReadOptions) -> ReadError {
    match e {
        lopdf::Error::InvalidPassword | lopdf::Error::Decryption(_) => encrypted(options.password.is_some()),
        lopdf::Error::Decompress(lopdf::DecompressError::MemoryLimitExceeded { .. }) => too_large(&options.limits),
        _ => broken(&format!("it cannot be opened ({e})")),
    }
}

#[cfg(test)]
#[path = "pdf/tests.rs"]
mod tests;
