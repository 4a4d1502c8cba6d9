//! Reading in another process: the trait, and the protocol that both ends speak.
//!
//! A request is two frames, `{"password": …}` in JSON and the bytes of the file; an answer is one frame of JSON,
//! `{"Ok": …}` or `{"Err": …}`. A frame is its length, four bytes, the lowest first, and then its bytes. One worker
//! answers requests until its input ends.

use crate::readers::{ReadError, ReadOptions, ReadOutput};
use serde::{Deserialize, Serialize};
use std::io::{self, ErrorKind, Read, Write};

/// Longest frame that is taken.
const MOST_OF_A_FRAME: usize = 256 * 1024 * 1024;

/// Reads PDF files, in this process or in another.
pub trait PdfWorker {
    /// Reads one file.
    ///
    /// # Errors
    ///
    /// As [`super::read`]; also `broken-pdf` where the file ended the process that read it.
    fn read(&self, bytes: &[u8], options: &ReadOptions) -> Result<ReadOutput, ReadError>;
}

/// Reads in this process: no file can be contained fully, but nothing is started.
#[derive(Clone, Copy, Debug, Default)]
pub struct InProcess;

impl PdfWorker for InProcess {
    fn read(&self, bytes: &[u8], options: &ReadOptions) -> Result<ReadOutput, ReadError> {
        super::read(bytes, options)
    }
}

#[derive(Serialize, Deserialize)]
struct Request {
    password: Option<String>,
}

#[derive(Serialize, Deserialize)]
struct Refusal {
    code: String,
    text: String,
}

/// Answers requests until the input ends.
///
/// # Errors
///
/// What reading or writing the pipes gives; a request that makes no sense is [`ErrorKind::InvalidData`].
pub fn serve(mut input: impl Read, mut output: impl Write) -> io::Result<()> {
    while let Some(request) = read_frame(&mut input)? {
        let request: Request = serde_json::from_slice(&request)?;
        let bytes = read_frame(&mut input)?.ok_or(ErrorKind::UnexpectedEof)?;
        let options = ReadOptions { password: request.password, ..ReadOptions::default() };
        let answer = super::read(&bytes, &options).map_err(|e| Refusal { code: e.code.to_owned(), text: e.text });
        write_frame(&mut output, &serde_json::to_vec(&answer)?)?;
        output.flush()?;
    }
    Ok(())
}

/// Sends one request.
pub(super) fn ask(output: &mut impl Write, bytes: &[u8], options: &ReadOptions) -> io::Result<()> {
    write_frame(output, &serde_json::to_vec(&Request { password: options.password.clone() })?)?;
    write_frame(output, bytes)?;
    output.flush()
}

/// Takes one answer. `None` where the worker ended instead.
pub(super) fn answer(input: &mut impl Read) -> io::Result<Option<Result<ReadOutput, ReadError>>> {
    let Some(frame) = read_frame(input)? else { return Ok(None) };
    let answer: Result<ReadOutput, Refusal> = serde_json::from_slice(&frame)?;
    Ok(Some(answer.map_err(|e| ReadError { code: known_code(&e.code), text: e.text, part: None })))
}

/// Codes are permanent and few; one that is not known comes from another version of the program.
fn known_code(code: &str) -> &'static str {
    const CODES: [&str; 6] = ["not-a-pdf", "encrypted", "no-text-layer", "too-large", "time-limit", "broken-pdf"];
    CODES.iter().find(|c| **c == code).copied().unwrap_or("broken-pdf")
}

fn write_frame(output: &mut impl Write, bytes: &[u8]) -> io::Result<()> {
    let length = u32::try_from(bytes.len()).map_err(|_| ErrorKind::InvalidInput)?;
    output.write_all(&length.to_le_bytes())?;
    output.write_all(bytes)
}

/// A frame, or none at the end of the input.
fn read_frame(input: &mut impl Read) -> io::Result<Option<Vec<u8>>> {
    let mut length = [0; 4];
    let mut filled = 0;
    while let Some(rest) = length.get_mut(filled..).filter(|r| !r.is_empty()) {
        match input.read(rest) {
            Ok(0) if filled == 0 => return Ok(None),
            Ok(0) => return Err(ErrorKind::UnexpectedEof.into()),
            Ok(count) => filled += count,
            Err(e) if e.kind() == ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
    let length = u32::from_le_bytes(length) as usize;
    if length > MOST_OF_A_FRAME {
        return Err(ErrorKind::InvalidData.into());
    }
    let mut bytes = Vec::new();
    input.take(length as u64).read_to_end(&mut bytes)?;
    if bytes.len() < length {
        return Err(ErrorKind::UnexpectedEof.into());
    }
    Ok(Some(bytes))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn several_files_over_one_pipe() {
        let mut pipe = Vec::new();
        for file in [&b"no pdf"[..], b"%PDF-1.4 nothing"] {
            ask(&mut pipe, file, &ReadOptions::default()).unwrap();
        }
        let mut answers = Vec::new();
        serve(pipe.as_slice(), &mut answers).unwrap();
        let mut answers = answers.as_slice();
        let mut codes = Vec::new();
        while let Some(answer) = answer(&mut answers).unwrap() {
            codes.push(answer.unwrap_err().code);
        }
        assert_eq!(codes, ["not-a-pdf", "broken-pdf"]);
    }

    #[test]
    fn a_pipe_that_breaks_off_is_an_error() {
        assert!(serve(&[5, 0, 0, 0, b'{'][..], Vec::new()).is_err());
        assert!(serve(&[0xff, 0xff, 0xff, 0xff][..], Vec::new()).is_err());
        assert!(serve(&[][..], Vec::new()).is_ok());
    }
}
