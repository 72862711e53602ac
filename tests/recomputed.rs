//! The figures of packets, computed again by another program from nothing but `figures.json`.
//!
//! `tests/recompute/recompute.py` is that program: another language, its standard library, and the words of the JSON
//! Schema. Cases are those of the tree, some made ones, and, where `GABLEWORK_CASES` names a folder, every case in it as
//! well, so that any number of households can be tried.

use crate::generated::households;
use crate::support::household::Household;
use crate::support::program::said;
use crate::support::scratch::Scratch;
use gablework::case::{self, TaxYear};
use gablework::credit;
use gablework::finding::Sources;
use gablework::law::Law;
use gablework::sheet::json::figures;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Has files computed again.
fn again(files: &[PathBuf]) -> Output {
    Command::new("python3")
        .arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/recompute/recompute.py"))
        .args(files)
        .output()
        .unwrap_or_else(|error| {
            panic!("python3 is needed for the independent computation (see .ci/run): {error}")
        })
}

/// Reads and computes a case file; none where it cannot be read as a case.
fn household(path: &Path) -> Option<Household> {
    of(&fs::read(path).unwrap_or_else(|error| panic!("{}: {error}", path.display())))
}

fn of(bytes: &[u8]) -> Option<Household> {
    let mut sources = Sources::default();
    let (case, mut findings) = case::read("household.case.yaml", bytes, &mut sources);
    let case = case?;
    let outcome = credit::compute(&case, Law::built_in()).expect("the plan asks only for what is there");
    findings.extend(outcome.findings.iter().cloned());
    Some(Household { sources, case, outcome, findings })
}

/// Writes the figures of every year of a household, and returns the files.
fn write(household: &Household, name: &str, folder: &Path) -> Vec<PathBuf> {
    let Household { case, outcome, sources, .. } = household;
    let years = outcome.years.iter().map(|year| {
        let path = folder.join(format!("{name}-{year}.json"));
        let data = figures(case, *year, Law::built_in(), outcome, sources);
        fs::write(&path, format!("{data:#}")).expect("written");
        path
    });
    years.collect()
}

/// Returns the case files of a folder, in order.
fn cases(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()));
    let mut found: Vec<PathBuf> = entries.map(|entry| entry.expect("an entry").path()).collect();
    found.retain(|path| path.to_string_lossy().ends_with(".case.yaml"));
    found.sort();
    assert!(!found.is_empty(), "{} has no case", folder.display());
    found
}

#[test]
fn every_year_of_every_case_comes_to_the_same_by_another_program() {
    let scratch = Scratch::new("recomputed");
    let own =
        ["demo", "tests/good", "tests/cases"].map(|one| Path::new(env!("CARGO_MANIFEST_DIR")).join(one));
    let mut paths: Vec<(bool, PathBuf)> =
        own.iter().flat_map(|one| cases(one)).map(|path| (true, path)).collect();
    if let Some(more) = std::env::var_os("GABLEWORK_CASES") {
        paths.extend(cases(Path::new(&more)).into_iter().map(|path| (false, path)));
    }
    let (mut files, mut count) = (Vec::new(), 0);
    for (n, (own, path)) in paths.iter().enumerate() {
        let Some(household) = household(path) else {
            assert!(!own, "{} is not read", path.display());
            continue;
        };
        count += 1;
        files.extend(write(&household, &n.to_string(), &scratch.0));
    }
    assert!(files.len() > 80, "only {} files", files.len());
    // Some of the households that are made for timing, which go through kinds, years and limits in every mixture.
    for number in (0..10_000).step_by(250) {
        let household = of(households::household(7, number).as_bytes()).expect("a made case is read");
        count += 1;
        files.extend(write(&household, &format!("made-{number}"), &scratch.0));
    }
    // Not all at once: a command line has an end.
    for some in files.chunks(500) {
        let output = again(some);
        assert!(output.status.success(), "{}", said(&output));
    }
    println!("{count} households, {} files of figures", files.len());
}

/// What lies in sealed packets is what is computed again: nothing but the file is taken along.
#[test]
fn the_figures_of_sealed_packets_come_to_the_same() {
    let scratch = Scratch::new("sealed-figures");
    let made = Command::new(env!("CARGO_BIN_EXE_gablework"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(["packet", "demo", "--dated", "2026-11-25", "--out"])
        .arg(&scratch.0)
        .output()
        .expect("the program runs");
    assert_eq!(made.status.code(), Some(0), "{}", said(&made));
    let packets = fs::read_dir(&scratch.0).expect("a folder").map(|entry| entry.expect("an entry").path());
    let mut files = Vec::new();
    for packet in packets.filter(|path| path.is_dir()) {
        assert!(packet.join("bagit.txt").is_file(), "{} is not sealed", packet.display());
        let alone = scratch.0.join(format!("{}.json", files.len()));
        fs::rename(packet.join("data/figures.json"), &alone).expect("the figures of a packet");
        fs::remove_dir_all(&packet).expect("the rest of the packet is taken away");
        files.push(alone);
    }
    assert!(files.len() >= 9, "only {} packets", files.len());
    let output = again(&files);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
}

/// A program that found nothing wrong with anything would prove nothing: each amount of a file that is altered by a cent
/// is found, and so is an expression.
#[test]
fn what_is_altered_comes_to_something_else() {
    let scratch = Scratch::new("altered");
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/solar-and-battery.case.yaml");
    let household = household(&path).expect("a demo is read");
    let year = TaxYear(2025);
    let data = figures(&household.case, year, Law::built_in(), &household.outcome, &household.sources);
    let put = |name: String, data: &serde_json::Value| {
        let file = scratch.0.join(name);
        fs::write(&file, data.to_string()).expect("written");
        file
    };
    let output = again(&[put("whole.json".to_string(), &data)]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let lines = data["lines"].as_array().expect("lines");
    let mut files = Vec::new();
    for (n, line) in lines.iter().enumerate().filter(|(_, line)| line["kind"] == "money") {
        let mut altered = data.clone();
        let (whole, cents) = line["value"].as_str().and_then(|value| value.split_once('.')).expect("cents");
        let cents = if cents == "00" { "01" } else { "00" };
        altered["lines"][n]["value"] = format!("{whole}.{cents}").into();
        files.push(put(format!("{}-{n}.json", line["line"]), &altered));
    }
    assert!(files.len() > 40, "only {} amounts", files.len());
    let allowed = lines.iter().position(|line| line["line"] == "440").expect("line 440");
    let mut altered = data.clone();
    altered["lines"][allowed]["expr"] = serde_json::json!({"figure": "2025:431"});
    files.push(put("without-limit.json".to_string(), &altered));
    let output = again(&files);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    let differences = String::from_utf8_lossy(&output.stdout).into_owned();
    for file in &files {
        let name = format!("{}:", file.display());
        assert!(differences.contains(&name), "the difference in {name} was not found");
    }
}
