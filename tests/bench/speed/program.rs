//! The program as it is run: its start, its cores, its memory.

use std::error::Error;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const PROGRAM: &str = env!("CARGO_BIN_EXE_beadwise");

pub fn all(measured: bool, most: Option<usize>, report: &dyn Fn(usize) -> String) -> Result<(), Box<dyn Error>> {
    let folder = std::env::temp_dir().join(format!("beadwise-speed-{}", std::process::id()));
    fs::create_dir_all(&folder)?;
    let done = start(&folder, if measured { 30 } else { 1 }, report).and_then(|()| {
        let most = most.unwrap_or(if measured { 10_000 } else { 3 });
        let sizes = [1000, 10_000, 100_000].into_iter().filter(|n| *n <= most);
        let sizes: Vec<usize> = if most < 1000 { vec![most] } else { sizes.collect() };
        sizes.into_iter().try_for_each(|size| scale(&folder, size, report))
    });
    fs::remove_dir_all(&folder)?;
    done
}

fn run(program: &str, arguments: &[&str]) -> Result<Duration, Box<dyn Error>> {
    let start = Instant::now();
    Command::new(program).args(arguments).stdout(Stdio::null()).stderr(Stdio::null()).status()?;
    Ok(start.elapsed())
}

/// From the command to its end, with one small report.
fn start(folder: &Path, rounds: u32, report: &dyn Fn(usize) -> String) -> Result<(), Box<dyn Error>> {
    let file = folder.join("one.txt");
    fs::write(&file, report(1))?;
    let file = file.to_string_lossy().into_owned();
    let pdf = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus/development/pages/copperline-1.pdf");
    let pdf = pdf.to_string_lossy().into_owned();
    println!();
    let show = |what: &str, program: &str, arguments: &[&str]| {
        let mut times: Vec<Duration> = (0..rounds).filter_map(|_| run(program, arguments).ok()).collect();
        times.sort();
        match (times.first(), times.get(times.len() / 2)) {
            (Some(least), Some(middle)) => println!(
                "{what:<46}{:>8.1} ms least,{:>8.1} ms median",
                1000.0 * least.as_secs_f64(),
                1000.0 * middle.as_secs_f64()
            ),
            _ => println!("{what:<46} is not on this machine"),
        }
    };
    show("start: beadwise --version", PROGRAM, &["--version"]);
    show("start: beadwise read, one text report", PROGRAM, &["read", &file]);
    show("start: beadwise judge, one text report", PROGRAM, &["judge", &file]);
    show("start: beadwise read, one PDF", PROGRAM, &["read", &pdf]);
    show("start: pdftotext -layout, the same PDF", "pdftotext", &["-layout", &pdf, "-"]);
    show("start: python3 -c pass", "python3", &["-c", "pass"]);
    Ok(())
}

/// Many reports to one table, on one core and on all, with the memory of the program and its workers.
fn scale(folder: &Path, size: usize, report: &dyn Fn(usize) -> String) -> Result<(), Box<dyn Error>> {
    let reports = folder.join(format!("reports-{size}"));
    for part in 0..size.div_ceil(1000) {
        let inner = reports.join(format!("{part:03}"));
        fs::create_dir_all(&inner)?;
        for n in part * 1000..((part + 1) * 1000).min(size) {
            fs::write(inner.join(format!("{n:06}.txt")), report(n))?;
        }
    }
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let mut one = 0.0;
    for threads in if cores > 1 { vec![1, cores] } else { vec![1] } {
        let begin = Instant::now();
        let mut child = Command::new(PROGRAM)
            .arg("convert")
            .arg(&reports)
            .args(["--to", "csv", "-o"])
            .arg(folder.join("all.csv"))
            .env("RAYON_NUM_THREADS", threads.to_string())
            .stderr(Stdio::null())
            .spawn()?;
        let mut peak = 0;
        while child.try_wait()?.is_none() {
            peak = peak.max(memory(child.id()));
            std::thread::sleep(Duration::from_millis(10));
        }
        let seconds = begin.elapsed().as_secs_f64();
        if threads == 1 {
            one = seconds;
        }
        println!(
            "{size:>7} reports on {threads} core(s): {seconds:>7.2} s, {:>6.0} a second, {:.2} times one core, {:>5.0} MB at most",
            size as f64 / seconds,
            one / seconds,
            peak as f64 / 1024.0
        );
    }
    fs::remove_dir_all(reports)?;
    Ok(())
}

/// Resident kilobytes of a process and those that it started; 0 where the system does not say.
fn memory(id: u32) -> u64 {
    let own = fs::read_to_string(format!("/proc/{id}/status")).unwrap_or_default();
    let resident = own.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    let own = resident.and_then(|text| text.trim().trim_end_matches("kB").trim().parse().ok()).unwrap_or(0);
    let tasks = fs::read_dir(format!("/proc/{id}/task")).into_iter().flatten().flatten();
    let started: u64 = tasks
        .filter_map(|task| fs::read_to_string(task.path().join("children")).ok())
        .flat_map(|text| text.split_whitespace().filter_map(|c| c.parse().ok()).collect::<Vec<u32>>())
        .map(memory)
        .sum();
    own + started
}
