//! Files that are written whole or not at all.

use super::output::Stop;
use std::fs;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// A file on its way: it takes its name only when it is finished.
pub struct WholeFile {
    target: PathBuf,
    writer: Writer,
}

enum Writer {
    /// Beside the target, under a hidden name.
    Beside(BufWriter<NamedTempFile>),
    /// A device or pipe, which cannot be put in place afterwards.
    Direct(BufWriter<fs::File>),
}

impl WholeFile {
    /// Begins a file.
    ///
    /// # Errors
    ///
    /// A usage error where the target is a folder, or its own folder is missing or may not be written to.
    pub fn begin(option: &str, target: &Path) -> Result<Self, Stop> {
        let refused = |what: String| Stop::Usage(format!("{option} {}: {what}", target.display()));
        // A link stays a link: what it points to is replaced.
        let real = target.canonicalize().unwrap_or_else(|_| target.to_owned());
        match fs::metadata(&real) {
            Ok(data) if data.is_dir() => return Err(refused("this is a folder; name a file".into())),
            Ok(data) if !data.is_file() => {
                let file = fs::OpenOptions::new().write(true).open(&real);
                let file = file.map_err(|error| refused(format!("it cannot be written: {error}")))?;
                return Ok(Self { target: real, writer: Writer::Direct(BufWriter::new(file)) });
            }
            _ => {}
        }
        let folder = match real.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder.to_owned(),
            _ => PathBuf::from("."),
        };
        let file = temporary(&real).tempfile_in(&folder).map_err(|error| match error.kind() {
            io::ErrorKind::NotFound => refused(format!("there is no folder {}; make it first", folder.display())),
            io::ErrorKind::PermissionDenied => {
                refused(format!("the folder {} may not be written to; name another", folder.display()))
            }
            _ => refused(format!("its folder cannot be written to: {error}")),
        })?;
        Ok(Self { target: real, writer: Writer::Beside(BufWriter::new(file)) })
    }

    /// Puts the finished file in place.
    ///
    /// # Errors
    ///
    /// What the disk said. The target is then as it was before.
    pub fn finish(self) -> Result<(), Stop> {
        let failed =
            |error: io::Error| Stop::Failed(format!("{}: it could not be written: {error}", self.target.display()));
        match self.writer {
            Writer::Direct(mut writer) => writer.flush()?,
            Writer::Beside(writer) => {
                let file = writer.into_inner().map_err(|error| failed(error.into_error()))?;
                file.as_file().sync_all().map_err(failed)?;
                file.persist(&self.target).map_err(|error| failed(error.error))?;
            }
        }
        Ok(())
    }
}

#[cfg(unix)]
fn temporary(target: &Path) -> tempfile::Builder<'static, 'static> {
    use std::os::unix::fs::PermissionsExt;
    // A private mode is right for scratch files and wrong for a finished table.
    let mode = fs::metadata(target).map_or(0o666, |data| data.permissions().mode() & 0o777);
    let mut builder = tempfile::Builder::new();
    builder.prefix(".beadwise-").permissions(fs::Permissions::from_mode(mode));
    builder
}

#[cfg(not(unix))]
fn temporary(_: &Path) -> tempfile::Builder<'static, 'static> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".beadwise-");
    builder
}

impl Write for WholeFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match &mut self.writer {
            Writer::Beside(writer) => writer.write(bytes),
            Writer::Direct(writer) => writer.write(bytes),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match &mut self.writer {
            Writer::Beside(writer) => writer.flush(),
            Writer::Direct(writer) => writer.flush(),
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_there_until_it_is_finished() {
        let folder = tempfile::tempdir().unwrap();
        let target = folder.path().join("all.csv");
        fs::write(&target, "before").unwrap();
        let mut file = WholeFile::begin("-o", &target).unwrap();
        file.write_all(b"after").unwrap();
        drop(file);
        assert_eq!(fs::read_to_string(&target).unwrap(), "before");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "no scratch file is left");
        let mut file = WholeFile::begin("-o", &target).unwrap();
        file.write_all(b"after").unwrap();
        file.finish().unwrap();
        assert_eq!(fs::read_to_string(&target).unwrap(), "after");
    }

    #[test]
    fn folders_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        assert!(matches!(WholeFile::begin("-o", folder.path()), Err(Stop::Usage(_))));
        assert!(matches!(WholeFile::begin("-o", &folder.path().join("none/all.csv")), Err(Stop::Usage(_))));
    }
}
