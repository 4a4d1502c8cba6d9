//! A folder with invented reports, and the program run in it.

use assert_cmd::Command;
use std::fs;
use std::path::PathBuf;
use tempfile::TempDir;

/// A report on one softener: three figures, one of them a bound.
pub const MARCH: &str = "\
Northbank Analytical
Report no.: NB-25-0311
Site: Mill Street Laundry
Vessel: Softener 2
Date sampled: 2025-03-21
Resin: strong acid cation, gel

Total capacity (Na form): 1.72 eq/L
Moisture retention: 47.3 %
Iron, dry basis: < 50 mg/kg
";

/// A report whose names a spreadsheet would run.
pub const FORMULA: &str = "\
Vessel: =HYPERLINK(\"http://x.invalid\";\"Softener 9\")
Moisture retention: 51.0 %
";

/// No report at all: neither text nor any known kind of file.
pub const BROKEN: &[u8] = &[0, 159, 146, 150, 0, 1, 2, 3, 255, 254, 0, 7, 9, 200, 13, 0];

/// A folder of its own.
pub struct Folder {
    folder: TempDir,
}

/// What a run came to.
pub struct Run {
    pub status: i32,
    pub out: String,
    pub err: String,
}

impl Folder {
    pub fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    /// With these files.
    pub fn with(files: &[(&str, &[u8])]) -> Self {
        let folder = Self::new();
        for (name, content) in files {
            folder.write(name, content);
        }
        folder
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn write(&self, name: &str, content: &[u8]) {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, content).unwrap();
    }

    pub fn text(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
    }

    /// Names in the folder itself, sorted, hidden ones too.
    pub fn names(&self) -> Vec<String> {
        let mut names: Vec<String> =
            fs::read_dir(self.folder.path()).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    pub fn command(&self) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_beadwise"));
        command.current_dir(self.folder.path()).env_remove("NO_COLOR").env("TERM", "xterm-256color");
        // The settings of whoever runs the tests are none of theirs.
        for (name, _) in std::env::vars_os().filter(|(name, _)| name.to_string_lossy().starts_with("BEADWISE_")) {
            command.env_remove(name);
        }
        command.env("XDG_CONFIG_HOME", self.folder.path().join("no-settings"));
        command
    }

    pub fn run(&self, arguments: &[&str]) -> Run {
        self.run_with(arguments, "")
    }

    pub fn run_with(&self, arguments: &[&str], input: &str) -> Run {
        let output = self.command().args(arguments).write_stdin(input).output().unwrap();
        Run {
            status: output.status.code().expect("ended by a signal"),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }
}

/// Rows of a CSV text, each by its header.
pub fn rows(text: &str) -> Vec<std::collections::BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let header: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    reader.records().map(|row| header.iter().cloned().zip(row.unwrap().iter().map(str::to_owned)).collect()).collect()
}
