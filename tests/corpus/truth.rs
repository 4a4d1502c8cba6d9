//! What an attentive person reads from a report, as written down by hand beside it.

use serde::Deserialize;
use std::fs;
use std::path::{Path, PathBuf};

/// One report with its truth.
pub struct Case {
    pub name: String,
    pub file: String,
    pub bytes: Vec<u8>,
    pub truth: Truth,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Truth {
    pub file: String,
    /// Numbers most likely to be taken for results.
    #[serde(default)]
    pub numbers_set_aside: Vec<Aside>,
    #[serde(default)]
    pub record: Vec<TruthRecord>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Aside {
    pub text: String,
    pub reason: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TruthRecord {
    #[serde(default)]
    pub sample: toml::Table,
    #[serde(default)]
    pub measurement: Vec<Figure>,
    #[serde(default)]
    pub field: Vec<Figure>,
    #[serde(default)]
    pub sieve: Vec<Sieve>,
    #[serde(default)]
    pub remark: Vec<Remark>,
    #[serde(default)]
    pub doubt: Vec<RecordDoubt>,
}

/// A measurement, or a figure of the bed and its water.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Figure {
    #[serde(alias = "quantity")]
    pub property: String,
    pub basis: Option<String>,
    pub form: Option<String>,
    pub qualifier: String,
    pub value: Option<f64>,
    pub high: Option<f64>,
    pub unit: Option<String>,
    pub as_written: String,
    #[serde(rename = "where")]
    pub place: toml::Table,
    pub reference: Option<Reference>,
    pub uncertainty: Option<Uncertainty>,
    #[serde(default)]
    pub doubts: Vec<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reference {
    pub low: Option<f64>,
    pub high: Option<f64>,
    pub typical: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Uncertainty {
    pub value: Option<f64>,
    #[allow(dead_code)]
    pub kind: String,
    pub n: Option<u32>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sieve {
    pub opening: f64,
    #[allow(dead_code)]
    pub unit: String,
    pub kind: String,
    pub value: f64,
    #[serde(rename = "where")]
    pub place: toml::Table,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Remark {
    pub text: String,
    #[serde(rename = "where")]
    #[allow(dead_code)]
    pub place: toml::Table,
}

#[derive(Debug, Deserialize)]
pub struct RecordDoubt {
    pub code: String,
    pub property: Option<String>,
}

/// All reports of the demo, in the order of their folders.
pub fn cases() -> Vec<Case> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures-demo");
    let mut folders: Vec<PathBuf> = fs::read_dir(&root)
        .expect("fixtures-demo is readable")
        .map(|entry| entry.expect("entry is readable").path())
        .filter(|path| path.join("truth.toml").is_file())
        .collect();
    folders.sort();
    folders
        .into_iter()
        .map(|folder| {
            let name = folder.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
            let text = fs::read_to_string(folder.join("truth.toml")).expect("truth is readable");
            let truth: Truth = toml::from_str(&text).unwrap_or_else(|e| panic!("{name}/truth.toml: {e}"));
            let bytes = fs::read(folder.join(&truth.file)).unwrap_or_else(|e| panic!("{name}/{}: {e}", truth.file));
            Case { name, file: truth.file.clone(), bytes, truth }
        })
        .collect()
}
