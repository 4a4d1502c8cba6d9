//! The command line.

use crate::lexicon::Lexicon;
use crate::pipeline;
use crate::readers::ReadOptions;
use crate::record::Reading;
use std::io::Write;

/// Runs.
pub fn run() -> u8 {
    let args: Vec<String> = std::env::args().skip(3).collect();
    let mut reading = Reading::default();
    for file in args {
        let Ok(bytes) = std::fs::read(&file) else { continue };
        let name = std::path::Path::new(&file).file_name().and_then(|n| n.to_str()).unwrap_or("file").to_owned();
        let outcome = pipeline::read(&name, &bytes, &ReadOptions::default(), Lexicon::builtin());
        reading.files.extend(outcome.file);
        reading.records.extend(outcome.records);
        reading.errors.extend(outcome.errors);
    }
    let text = serde_json::to_string_pretty(&reading).unwrap_or_default();
    let _ = writeln!(std::io::stdout(), "{text}");
    u8::from(!reading.errors.is_empty())
}
