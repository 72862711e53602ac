//! The figures of README and DEVELOPERS: `cargo bench --bench season` prints them as tables; and plausible cases by the
//! thousand: `cargo bench --bench season -- write FOLDER`.
//!
//! The stages of a packet are timed inside this process, on one thread. Whole commands are timed as a person would run
//! them: the program itself over a folder, files written and synced.

mod households;
mod stages;

use households::{FIRM, Lot, household};
use stages::{Desk, STAGES, WHOLE};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};
use std::time::{Duration, Instant};

const HELP: &str = "\
cargo bench --bench season -- ARGUMENTS

  (nothing)
      prints all tables; takes about ten minutes and 5 GB of disk
  stages
      prints what each stage of a packet takes
  cold
      prints what a single packet takes, the start of the program included
  many [--upto N]
      prints what whole commands take over 100, 1,000 and 10,000 cases, up to N
  write FOLDER [--count N] [--seed N] [--broken PER-THOUSAND]
      writes N cases (10,000) below FOLDER, and a firm.yaml; of a thousand, so many are broken (10)
";

fn main() -> ExitCode {
    // The build tool adds `--bench` behind the arguments.
    let given: Vec<String> = std::env::args().skip(1).filter(|one| one != "--bench").collect();
    let given: Vec<&str> = given.iter().map(String::as_str).collect();
    match given.as_slice() {
        [] => {
            machine();
            stages();
            cold();
            many(10_000);
        }
        ["stages"] => stages(),
        ["cold"] => cold(),
        ["many"] => many(10_000),
        ["many", "--upto", most] => match most.parse() {
            Ok(most) => many(most),
            Err(_) => return wrong(),
        },
        ["write", folder, options @ ..] => match lot(options) {
            Some(lot) => return write(lot, Path::new(folder)),
            None => return wrong(),
        },
        _ => return wrong(),
    }
    ExitCode::SUCCESS
}

fn wrong() -> ExitCode {
    eprint!("{HELP}");
    ExitCode::from(2)
}

fn lot(options: &[&str]) -> Option<Lot> {
    let mut lot = Lot { count: 10_000, seed: 1, broken: 10 };
    for pair in options.chunks(2) {
        match pair {
            ["--count", number] => lot.count = number.parse().ok()?,
            ["--seed", number] => lot.seed = number.parse().ok()?,
            ["--broken", number] => lot.broken = number.parse().ok().filter(|number| *number <= 1000)?,
            _ => return None,
        }
    }
    Some(lot)
}

fn write(lot: Lot, folder: &Path) -> ExitCode {
    if folder.exists() {
        eprintln!("error: {} is there already; name a folder that is not", folder.display());
        return ExitCode::from(2);
    }
    match lot.write(folder) {
        Ok(()) => {
            let broken = (0..lot.count).filter(|number| lot.breakage(*number).is_some()).count();
            println!("{} cases, {broken} of them broken, in {}", lot.count, folder.display());
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("error: cannot write below {}: {error}", folder.display());
            ExitCode::from(4)
        }
    }
}

/// Says on what the figures were measured, and whether the machine had other work.
fn machine() {
    let cores = std::thread::available_parallelism().map_or(0, usize::from);
    let memory = number_in("/proc/meminfo", "MemTotal:")
        .map_or(String::new(), |kilobytes| format!(", {} GB of memory", (kilobytes + 500_000) / 1_000_000));
    let load = fs::read_to_string("/proc/loadavg").unwrap_or_default();
    let load = load.split(' ').next().and_then(|load| load.parse().ok()).unwrap_or(0.0_f64);
    let others = if load > 0.5 { format!("; other work ran beside it, load {load}") } else { String::new() };
    println!(
        "Measured {} with version {} on a machine of {cores} cores{memory}, {}{others}.",
        jiff::Zoned::now().date(),
        env!("CARGO_PKG_VERSION"),
        std::env::consts::OS,
    );
}

/// Times every stage on different cases, each a few times, of which the fastest counts: what slows a run is other work.
fn stages() {
    const CASES: u32 = 120;
    const TIMES: u32 = 5;
    let desk = Desk::new(FIRM);
    let mut taken = vec![Vec::new(); STAGES.len()];
    let (mut papers, mut sheets) = (0, 0);
    for number in 0..CASES {
        let prepared = desk.prepare(household(1, number).as_bytes());
        papers += prepared.papers();
        sheets += prepared.sheets();
        for ((_, run), taken) in STAGES.iter().zip(&mut taken) {
            let once = |_| {
                let start = Instant::now();
                run(&prepared);
                start.elapsed()
            };
            taken.push((0..TIMES).map(once).min().unwrap_or_default());
        }
    }
    let sum = |taken: &[Duration]| taken.iter().sum::<Duration>();
    let whole = taken.last().map_or(Duration::ZERO, |taken| sum(taken));
    println!(
        "\n{CASES} different cases, {:.1} papers and {:.1} pages each, one core, everything loaded once before:\n",
        papers as f64 / f64::from(CASES),
        sheets as f64 / f64::from(CASES),
    );
    println!("| stage | share of a packet | milliseconds, median |\n|---|--:|--:|");
    let row = |name: &str, part: Duration, middle: Duration| {
        println!("| {name} | {:.0}% | {:.2} |", 100.0 * ratio(part, whole), 1000.0 * middle.as_secs_f64());
    };
    let mut rest = whole;
    for ((name, _), taken) in STAGES.iter().zip(&taken) {
        if *name == WHOLE {
            println!("| the rest | {:.0}% | |", 100.0 * ratio(rest, whole));
        }
        rest = rest.saturating_sub(sum(taken));
        row(name, sum(taken), median(taken));
    }
}

/// Times the program for one case, the start of the process included.
fn cold() {
    const TIMES: usize = 25;
    let case = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/solar-water-heater.case.yaml");
    let place = Place::new("cold");
    let mut taken = Vec::new();
    let mut peak = 0;
    for n in 0..TIMES {
        let out = place.0.join(n.to_string());
        let run = run(&["packet".as_ref(), case.as_os_str(), "--out".as_ref(), out.as_os_str()]);
        taken.push(run.processor);
        peak = peak.max(run.peak);
    }
    let wall: Vec<Duration> = (0..TIMES)
        .map(|n| {
            let out = place.0.join(format!("again-{n}"));
            run(&["packet".as_ref(), case.as_os_str(), "--out".as_ref(), out.as_os_str()]).wall
        })
        .collect();
    println!("\nOne packet with a logo, from starting the program to its end, {TIMES} times:\n");
    println!("| | milliseconds, median | fastest |\n|---|--:|--:|");
    let milliseconds = |time: Duration| 1000.0 * time.as_secs_f64();
    let fastest = wall.iter().min().copied().unwrap_or_default();
    println!(
        "| clock, files written and synced | {:.0} | {:.0} |",
        milliseconds(median(&wall)),
        milliseconds(fastest)
    );
    let processor = taken.iter().sum::<Duration>() / TIMES as u32;
    println!("| processor, mean | {:.0} | |", milliseconds(processor));
    println!("\nPeak memory {} MB.", peak / 1000);
}

/// Times whole commands over more and more cases.
fn many(most: u32) {
    let place = Place::new("many");
    println!("\nWhole commands over folders of cases, one of a hundred broken:\n");
    println!(
        "| command | cases | seconds | processor seconds | a case, against the row above | peak memory |\n|---|--:|--:|--:|--:|--:|"
    );
    let sizes: Vec<u32> = [100, 1_000, 10_000].into_iter().filter(|count| *count <= most).collect();
    let folders: Vec<PathBuf> = sizes.iter().map(|count| place.0.join(format!("cases-{count}"))).collect();
    for (count, folder) in sizes.iter().zip(&folders) {
        Lot { count: *count, seed: 1, broken: 10 }.write(folder).expect("a place for the cases");
    }
    for command in ["packet", "remind", "register"] {
        let mut before: Option<f64> = None;
        for (count, folder) in sizes.iter().zip(&folders) {
            let out = place.0.join("out");
            let out = out.as_os_str();
            let folder = folder.as_os_str();
            let run = match command {
                "packet" => run(&["packet".as_ref(), folder, "--out".as_ref(), out]),
                "remind" => run(&[
                    "remind".as_ref(),
                    folder,
                    "--for".as_ref(),
                    "2026".as_ref(),
                    "--out".as_ref(),
                    out,
                ]),
                _ => run(&["register".as_ref(), folder, "--as".as_ref(), "csv".as_ref()]),
            };
            let each = run.wall.as_secs_f64() / f64::from(*count);
            let against = before.map_or("1".to_string(), |before| format!("{:.2}", each / before));
            before = Some(each);
            println!(
                "| `{command}` | {count} | {:.1} | {:.1} | {against} | {} MB |",
                run.wall.as_secs_f64(),
                run.processor.as_secs_f64(),
                run.peak / 1000
            );
            let _ = fs::remove_dir_all(out);
        }
    }
}

/// What a run of the program took.
struct Run {
    wall: Duration,
    processor: Duration,
    /// The most memory it held, in kilobytes; nothing where the system does not tell.
    peak: u64,
}

/// Runs the program and waits for its end. Cases with errors are part of the bargain.
fn run(arguments: &[&std::ffi::OsStr]) -> Run {
    let before = processor_of_children();
    let start = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_gablework"))
        .args(arguments)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program starts");
    let status_file = format!("/proc/{}/status", child.id());
    let mut peak = 0;
    let status = loop {
        match child.try_wait().expect("the program can be waited for") {
            Some(status) => break status,
            None => {
                peak = number_in(&status_file, "VmHWM:").unwrap_or(0).max(peak);
                std::thread::sleep(Duration::from_millis(1));
            }
        }
    };
    let wall = start.elapsed();
    assert!(matches!(status.code(), Some(0 | 1)), "{arguments:?} ended with {status}");
    Run { wall, processor: processor_of_children().saturating_sub(before), peak }
}

/// Returns the processor time of all children that have ended, where the system tells: in hundredths of a second.
fn processor_of_children() -> Duration {
    let stat = fs::read_to_string("/proc/self/stat").unwrap_or_default();
    // Behind the name, which may hold blanks, stand the numbers from the third on; the sixteenth and the next are it.
    let numbers = stat.rsplit_once(')').map_or("", |(_, numbers)| numbers);
    let ticks = numbers.split_whitespace().skip(13).take(2).filter_map(|ticks| ticks.parse::<u64>().ok());
    Duration::from_millis(10 * ticks.sum::<u64>())
}

/// Reads a number behind a word at the head of a line of a file.
fn number_in(file: &str, word: &str) -> Option<u64> {
    let text = fs::read_to_string(file).ok()?;
    let line = text.lines().find_map(|line| line.strip_prefix(word))?;
    line.split_whitespace().next()?.parse().ok()
}

/// A folder for a measurement, taken away at its end.
struct Place(PathBuf);

impl Place {
    fn new(name: &str) -> Place {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(&folder).expect("a folder for the measurement");
        Place(folder)
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn ratio(part: Duration, whole: Duration) -> f64 {
    part.as_secs_f64() / whole.as_secs_f64()
}

fn median(times: &[Duration]) -> Duration {
    let mut times = times.to_vec();
    times.sort();
    times.get(times.len() / 2).copied().unwrap_or_default()
}
