//! Which files are meant: names, folders and standard input, in an order that does not change.
//!
//! Takes paths as given; gives [`Input`]s and an error for each path that leads nowhere. Opens a file only when its
//! bytes are asked for.

use crate::record::FileError;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// One file to read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Input {
    /// What outputs call it.
    pub name: String,
    /// Where it is; none for standard input.
    pub path: Option<PathBuf>,
}

/// All that the paths of a command line lead to.
#[derive(Debug, Default)]
pub struct Inputs {
    /// Files in order.
    pub files: Vec<Input>,
    /// Paths that lead nowhere.
    pub errors: Vec<FileError>,
    /// Files that were named more than once.
    pub repeated: Vec<String>,
    /// Files of folders that are plainly no report, each with why.
    pub passed_over: Vec<(String, String)>,
}

impl Inputs {
    /// Says which files were named more than once, and which are passed over: nobody should wonder where they are.
    pub fn tell_repeated(&self) {
        for name in &self.repeated {
            super::output::say(&format!("{name}: named more than once; it is read once"));
        }
        const SHOWN: usize = 3;
        let (one, more) = (self.passed_over.len() == 1, self.passed_over.len().saturating_sub(SHOWN));
        let names: Vec<&str> = self.passed_over.iter().take(SHOWN).map(|(name, _)| name.as_str()).collect();
        if !names.is_empty() {
            let more = if more > 0 { format!(" and {more} more") } else { String::new() };
            let (are, them) = if one { ("is no report and is", "it") } else { ("are no reports and are", "one") };
            super::output::say(&format!(
                "{}{more} {are} passed over; to have {them} read all the same, name the file itself",
                names.join(", ")
            ));
        }
    }
}

/// A file found, before it is known whether its short name tells it from the others.
struct Found {
    short: String,
    long: String,
    path: Option<PathBuf>,
}

#[derive(Default)]
struct Gathering {
    found: Vec<Found>,
    errors: Vec<FileError>,
    repeated: Vec<String>,
    passed_over: Vec<(String, String)>,
    folders: BTreeSet<PathBuf>,
    files: BTreeSet<PathBuf>,
    standard_input: bool,
}

/// Follows paths to files: folders are walked to their ends in sorted order, without hidden files, each once.
///
/// A file is called by its name, or by its path inside the folder that was named. Where two files of one command
/// would then be called the same, they are called by their paths as given.
pub fn gather(paths: &[PathBuf]) -> Inputs {
    let mut gathering = Gathering::default();
    for path in paths {
        gathering.add(path);
    }
    let mut uses: BTreeMap<String, usize> = BTreeMap::new();
    for found in &gathering.found {
        *uses.entry(found.short.clone()).or_default() += 1;
    }
    let files = gathering
        .found
        .into_iter()
        .map(|found| {
            let alone = uses.get(&found.short).is_none_or(|count| *count == 1);
            Input { name: if alone { found.short } else { found.long }, path: found.path }
        })
        .collect();
    Inputs { files, errors: gathering.errors, repeated: gathering.repeated, passed_over: gathering.passed_over }
}

impl Gathering {
    fn add(&mut self, path: &Path) {
        let given = text(path);
        if given == "-" {
            if std::mem::replace(&mut self.standard_input, true) {
                self.repeated.push(given);
            } else {
                self.found.push(Found { short: given.clone(), long: given, path: None });
            }
            return;
        }
        match fs::metadata(path) {
            Err(error) => self.error(&given, &error),
            Ok(data) if data.is_dir() => {
                let before = self.found.len() + self.errors.len() + self.repeated.len();
                self.folder(path, path);
                if self.found.len() + self.errors.len() + self.repeated.len() == before {
                    self.errors.push(FileError {
                        file: given,
                        part: None,
                        code: "no-files".into(),
                        text: "this folder holds no report (hidden files, and files that are plainly none, are left out); name the folder with the reports"
                            .into(),
                    });
                }
            }
            Ok(_) => {
                let short = path.file_name().map_or_else(|| given.clone(), |name| name.to_string_lossy().into_owned());
                self.file(path, short);
            }
        }
    }

    fn folder(&mut self, root: &Path, folder: &Path) {
        // A link that leads back up, or two links to one folder, must not be walked again.
        if let Ok(real) = folder.canonicalize()
            && !self.folders.insert(real)
        {
            return;
        }
        let entries = match fs::read_dir(folder) {
            Ok(entries) => entries,
            Err(error) => return self.error(&text(folder), &error),
        };
        let mut paths: Vec<PathBuf> = Vec::new();
        for entry in entries {
            match entry {
                Ok(entry) if !entry.file_name().to_string_lossy().starts_with('.') => paths.push(entry.path()),
                Ok(_) => {}
                Err(error) => self.error(&text(folder), &error),
            }
        }
        paths.sort();
        for path in paths {
            match fs::metadata(&path) {
                Ok(data) if data.is_dir() => self.folder(root, &path),
                Ok(data) if data.is_file() => {
                    let inside = path.strip_prefix(root).map_or_else(|_| text(&path), text);
                    match super::no_report::why(&path) {
                        Some(why) => self.passed_over.push((text(&path), why)),
                        None => self.file(&path, inside),
                    }
                }
                // Sockets and pipes are no reports, and reading one could wait for ever.
                Ok(_) => {}
                Err(error) => self.error(&text(&path), &error),
            }
        }
    }

    fn file(&mut self, path: &Path, short: String) {
        if let Ok(real) = path.canonicalize()
            && !self.files.insert(real)
        {
            self.repeated.push(text(path));
            return;
        }
        self.found.push(Found { short, long: text(path), path: Some(path.to_owned()) });
    }

    fn error(&mut self, file: &str, error: &io::Error) {
        self.errors.push(unreachable(file, error));
    }
}

/// A path as outputs show it: with `/` on every system.
pub fn text(path: &Path) -> String {
    let shown = path.to_string_lossy();
    if std::path::MAIN_SEPARATOR == '/' { shown.into_owned() } else { shown.replace(std::path::MAIN_SEPARATOR, "/") }
}

fn unreachable(file: &str, error: &io::Error) -> FileError {
    let (code, text) = match error.kind() {
        io::ErrorKind::NotFound => ("not-found", "there is no such file; check the name".to_owned()),
        io::ErrorKind::PermissionDenied => {
            ("not-permitted", "it may not be opened; ask for the right to read it".to_owned())
        }
        _ => ("not-readable", format!("it could not be opened ({error}); copy it to a local disk and try again")),
    };
    FileError { file: file.to_owned(), part: None, code: code.to_owned(), text }
}

impl Input {
    /// The bytes of the file, of which there may be at most `limit`.
    pub fn bytes(&self, limit: usize) -> Result<Vec<u8>, FileError> {
        let mut bytes = Vec::new();
        let beyond = u64::try_from(limit).unwrap_or(u64::MAX).saturating_add(1);
        let read = match &self.path {
            None => io::stdin().lock().take(beyond).read_to_end(&mut bytes),
            Some(path) => fs::File::open(path).and_then(|file| file.take(beyond).read_to_end(&mut bytes)),
        };
        read.map_err(|error| unreachable(&self.name, &error))?;
        if bytes.len() > limit {
            return Err(FileError {
                file: self.name.clone(),
                part: None,
                code: "too-large".into(),
                text: format!("it has more than {limit} bytes, which no report has; save only the report from it"),
            });
        }
        Ok(bytes)
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn names(inputs: &Inputs) -> Vec<&str> {
        inputs.files.iter().map(|input| input.name.as_str()).collect()
    }

    #[test]
    fn folders_are_walked_in_sorted_order_without_hidden_files() {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path();
        fs::create_dir(root.join("b")).unwrap();
        fs::create_dir(root.join(".git")).unwrap();
        for name in ["c.txt", "a.txt", "b/z.txt", "b/.hidden", ".git/config"] {
            fs::write(root.join(name), name).unwrap();
        }
        assert_eq!(names(&gather(&[root.to_owned()])), ["a.txt", "b/z.txt", "c.txt"]);
    }

    #[test]
    fn a_file_named_twice_is_read_once_and_said() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("a.txt"), "a").unwrap();
        let inputs = gather(&[folder.path().join("a.txt"), folder.path().to_owned()]);
        assert_eq!(names(&inputs), ["a.txt"]);
        assert_eq!(inputs.repeated.len(), 1);
        assert!(inputs.errors.is_empty());
    }

    #[test]
    fn files_of_one_name_are_called_by_their_paths() {
        let folder = tempfile::tempdir().unwrap();
        let paths: Vec<PathBuf> = ["x", "y"].iter().map(|inner| folder.path().join(inner)).collect();
        for path in &paths {
            fs::create_dir(path).unwrap();
            fs::write(path.join("march.txt"), "a").unwrap();
        }
        let inputs = gather(&paths);
        let [one, two] = inputs.files.as_slice() else { unreachable!() };
        assert!(one.name.ends_with("x/march.txt") && two.name.ends_with("y/march.txt"));
    }

    #[cfg(unix)]
    #[test]
    fn links_that_lead_back_up_are_not_followed_for_ever() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("a.txt"), "a").unwrap();
        std::os::unix::fs::symlink(folder.path(), folder.path().join("loop")).unwrap();
        assert_eq!(names(&gather(&[folder.path().to_owned()])), ["a.txt"]);
    }

    #[test]
    fn missing_files_and_empty_folders_are_errors_and_not_the_end() {
        let folder = tempfile::tempdir().unwrap();
        let inputs = gather(&[folder.path().join("none.txt"), folder.path().to_owned()]);
        let codes: Vec<&str> = inputs.errors.iter().map(|error| error.code.as_str()).collect();
        assert_eq!(codes, ["not-found", "no-files"]);
    }
}
