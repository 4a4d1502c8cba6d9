//! What reading costs, in one run: against the bare libraries over the same files, on one core and on all, at the
//! start of the program, and in memory as the number of reports grows.
//!
//! ```text
//! cargo bench --bench speed                 about a minute
//! cargo bench --bench speed -- 100000       memory and speed with up to so many reports
//! ```
//!
//! Times are the least of several rounds, which is what a busy machine disturbs least. In a test run each part is made
//! once, so that it stays sound; no limit is set on a time, because machines differ.

#[path = "speed/bare.rs"]
mod bare;
#[path = "speed/program.rs"]
mod program;

use beadwise::lexicon::Lexicon;
use beadwise::pipeline;
use beadwise::readers::{self, ReadOptions};
use std::error::Error;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Instant;

type Outcome = Result<(), Box<dyn Error>>;

/// One report with its name.
type Report = (String, Vec<u8>);

/// Reports of the repository with one of these extensions.
fn reports(extensions: &[&str]) -> Result<Vec<Report>, Box<dyn Error>> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut folders = vec![root.join("fixtures-demo"), root.join("tests/corpus/development")];
    let mut files: Vec<PathBuf> = Vec::new();
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder)? {
            let path = entry?.path();
            let extension = path.extension().map(|e| e.to_string_lossy().into_owned()).unwrap_or_default();
            if path.is_dir() {
                folders.push(path);
            } else if extensions.contains(&extension.as_str()) && !path.to_string_lossy().contains("/score") {
                files.push(path);
            }
        }
    }
    files.sort();
    let name = |path: &Path| path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    files.iter().map(|path| Ok((name(path), fs::read(path)?))).collect()
}

/// Least time of a pass over all files, in seconds.
fn least(rounds: u32, files: &[Report], mut pass: impl FnMut(&Report)) -> f64 {
    let mut least = f64::INFINITY;
    for _ in 0..rounds {
        let start = Instant::now();
        files.iter().for_each(&mut pass);
        least = least.min(start.elapsed().as_secs_f64());
    }
    least
}

/// Our reader, and the whole way to records, against the library's own pass over the same files.
fn against(rounds: u32, name: &str, files: &[Report], bare: impl Fn(&[u8])) {
    let options = ReadOptions::default();
    let lexicon = Lexicon::builtin();
    let library = least(rounds, files, |(_, bytes)| bare(bytes));
    let reader = least(rounds, files, |(name, bytes)| drop(readers::read(name, bytes, &options)));
    let all = least(rounds, files, |(name, bytes)| drop(pipeline::read(name, bytes, &options, lexicon)));
    let each = |seconds: f64| 1000.0 * seconds / files.len().max(1) as f64;
    println!(
        "{name:<26}{:>6}{:>12.3}{:>12.3}{:>9.2}{:>12.3}{:>9.2}",
        files.len(),
        each(library),
        each(reader),
        reader / library,
        each(all),
        all / library
    );
}

/// A text report as a laboratory mails it, number `n`.
fn text_report(n: usize) -> String {
    let vary = |base: f64, step: f64| base + step * (n % 17) as f64;
    format!(
        "Northbank Analytical\nReport no.: NB-{n:06}\nSite: Mill Street Laundry\nVessel: Softener {}\nDate sampled: 2024-0{}-1{}\nResin: strong acid cation, gel, 8 % DVB\n\n\
         Test                          Result    Unit       New resin\n\
         Total capacity (Na form)      {:.2}      eq/L       min 1.9\n\
         Dry weight capacity           {:.2}      eq/kg      min 4.4\n\
         Moisture retention            {:.1}      %          44 - 48\n\
         Whole beads                   {:.0}        %          min 95\n\
         Iron, dry basis               {:.0}       mg/kg      max 100\n\
         Manganese, dry basis          {:.0}        mg/kg      max 50\n\
         Settled density               {:.0}       g/L        800 - 850\n\
         Uniformity coefficient        {:.2}                 max 1.6\n\n\
         Freeboard 26 in. Some broken beads were seen under the microscope.\n",
        n % 9 + 1,
        n % 9 + 1,
        n % 10,
        vary(1.50, 0.02),
        vary(4.1, 0.03),
        vary(45.0, 0.4),
        vary(80.0, 1.0),
        vary(200.0, 90.0),
        vary(20.0, 6.0),
        vary(790.0, 3.0),
        vary(1.3, 0.02),
    )
}

fn text_speed(rounds: u32, count: usize) {
    let files: Vec<Report> = (0..count).map(|n| (format!("{n}.txt"), text_report(n).into_bytes())).collect();
    let lexicon = Lexicon::builtin();
    let options = ReadOptions::default();
    let seconds = least(rounds, &files, |(name, bytes)| drop(pipeline::read(name, bytes, &options, lexicon)));
    println!("\ntext reports of {} bytes on one core: {:.0} a second", text_report(0).len(), count as f64 / seconds);
}

fn main() -> Outcome {
    let measured = !cfg!(debug_assertions);
    let most = std::env::args().find_map(|argument| argument.parse::<usize>().ok());
    let rounds = if measured { 5 } else { 1 };
    let start = Instant::now();
    let words = Lexicon::builtin().properties().len();
    println!("words of {words} properties ready in {:.1} ms\n", 1000.0 * start.elapsed().as_secs_f64());
    bare::silence();
    println!(
        "{:<26}{:>6}{:>12}{:>12}{:>9}{:>12}{:>9}",
        "milliseconds a file", "files", "library", "reader", "ratio", "to records", "ratio"
    );
    let some = |mut files: Vec<Report>| {
        files.truncate(if measured { usize::MAX } else { 3 });
        files
    };
    against(rounds, "PDF, pdf-extract", &some(reports(&["pdf"])?), bare::pdf);
    against(rounds, ".xlsx, calamine", &some(reports(&["xlsx", "xlsm"])?), bare::workbook);
    against(rounds, ".xls, calamine", &some(reports(&["xls"])?), bare::workbook);
    against(rounds, ".ods, calamine", &some(reports(&["ods"])?), bare::workbook);
    against(rounds, "delimited, csv", &some(reports(&["csv", "tsv", "psv"])?), bare::delimited);
    let big = vec![("big.xlsx".to_owned(), bare::big_workbook(if measured { 20_000 } else { 20 })?)];
    against(rounds, "one big .xlsx, calamine", &big, bare::workbook);
    let big = vec![("big.csv".to_owned(), bare::big_table(if measured { 50_000 } else { 50 }))];
    against(rounds, "one big .csv, csv", &big, bare::delimited);
    text_speed(rounds, if measured { 2000 } else { 20 });
    program::all(measured, most, &text_report)
}
