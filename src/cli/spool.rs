//! A scratch file of lines, for outputs whose beginning is known only at their end.

use serde::Serialize;
use serde::de::DeserializeOwned;
use std::fs::File;
use std::io::{self, BufRead, BufReader, BufWriter, Seek, Write};

/// Values put by on disk, so that memory stays flat however many there are.
pub struct Spool {
    writer: BufWriter<File>,
}

impl Spool {
    /// An empty one, in the system's folder for scratch files; it is gone when the program is.
    pub fn new() -> io::Result<Self> {
        Ok(Self { writer: BufWriter::new(tempfile::tempfile()?) })
    }

    /// Puts a value by.
    pub fn push(&mut self, value: &impl Serialize) -> io::Result<()> {
        serde_json::to_writer(&mut self.writer, value)?;
        self.writer.write_all(b"\n")
    }

    /// The values as lines of JSON, in the order in which they were put by.
    pub fn lines(self) -> io::Result<impl Iterator<Item = io::Result<String>>> {
        let mut file = self.writer.into_inner().map_err(io::IntoInnerError::into_error)?;
        file.rewind()?;
        Ok(BufReader::new(file).lines())
    }

    /// The values themselves.
    pub fn values<T: DeserializeOwned>(self) -> io::Result<impl Iterator<Item = io::Result<T>>> {
        Ok(self.lines()?.map(|line| Ok(serde_json::from_str(&line?)?)))
    }
}
