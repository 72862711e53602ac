//! What the fuzzer tries for hours, in a few seconds: every target over its seeds, each also with a few changes.
//!
//! The changes come from a fixed beginning, so that a failure comes again. A seed that once made the program fail
//! stays among the seeds.

use crate::support::effort::spent;
use gablework::case::FILE;
use gablework::finding::Sources;
use gablework::record::tree;
use std::fs;
use std::panic;
use std::path::{Path, PathBuf};
use std::time::Duration;

#[path = "fuzz/targets/mod.rs"]
mod targets;

/// The most work that any input may be, in a build without optimization; a released program has a second.
const MOST: Duration = Duration::from_secs(8);

/// Files of the tree that are seeds too.
fn of_the_tree(target: &str) -> Vec<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let below = |folder: &str| -> Vec<PathBuf> {
        let entries = fs::read_dir(root.join(folder)).expect("a folder of the tree");
        entries.map(|entry| entry.expect("an entry").path()).filter(|path| path.is_file()).collect()
    };
    let mut found = match target {
        "agree" => whole_cases(),
        "case" => {
            vec![root.join("tests/cases/every-key.case.yaml"), root.join("demo/solar-and-battery.case.yaml")]
        }
        "firm" => vec![root.join("demo/firm.yaml")],
        "letters" => below("letters/en"),
        "layout" => vec![root.join("layouts/worksheet.yaml")],
        "picture" => vec![root.join("demo/logo.png")],
        "begun" => below("tests/begin"),
        _ => Vec::new(),
    };
    found.sort();
    found
}

/// The cases of the tree that read without an error.
fn whole_cases() -> Vec<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut found = Vec::new();
    for folder in ["demo", "tests/cases", "tests/good"] {
        let entries = fs::read_dir(root.join(folder)).expect("a folder of the tree");
        let paths = entries.map(|entry| entry.expect("an entry").path());
        found.extend(paths.filter(|path| path.to_string_lossy().ends_with(".case.yaml")));
    }
    found.sort();
    found
}

/// Where the other reader refused what ours takes, nothing would be compared.
#[test]
fn another_yaml_reader_reads_every_whole_case_alike() {
    let cases = whole_cases();
    assert!(cases.len() > 30, "{} cases", cases.len());
    for path in cases {
        let read = targets::agree::both_read(&fs::read(&path).expect("a case"));
        assert!(read, "{} is not read by both", path.display());
    }
}

/// Another text in place of the same stands for a reader that reads the same text otherwise.
#[test]
fn the_comparison_of_two_readers_can_fail() {
    let (_, root) = tree::read("a", b"a: [b, 1]\n", &FILE, &mut Sources::default(), &mut Vec::new());
    let root = root.expect("a tree");
    for same in ["a: [b, 1]", "{a: [b, 1]}", "a:\n- b\n- 1  # one\n"] {
        assert!(targets::agree::compared(&root, same), "{same}");
    }
    for other in ["a: [c, 1]", "a: [b, '1']", "a: [b]", "a: b", "a: [b, 1]\nb: 1", "", "- a"] {
        let compared = panic::catch_unwind(|| targets::agree::compared(&root, other));
        assert!(compared.is_err(), "{other}");
    }
}

/// A target that stops before it comes to what it is for would never fail.
#[test]
fn seeds_come_to_what_their_target_is_for() {
    let reached = |target: &str, run: fn(&[u8]) -> bool| {
        let seeds = seeds(target);
        seeds
            .into_iter()
            .filter(|(name, seed)| !name.contains("out-of-the-folder") && !run(seed))
            .map(|(name, _)| name)
            .collect::<Vec<_>>()
    };
    assert_eq!(reached("agree", targets::agree::both_read), [""; 0]);
    assert_eq!(reached("sealed", targets::sealed::verified), [""; 0]);
    assert_eq!(reached("tables", targets::tables::read_back), [""; 0]);
    assert_eq!(reached("names", targets::household::on_paper), [""; 0]);
}

/// The seeds of a target: its own, and files of the tree.
fn seeds(target: &str) -> Vec<(String, Vec<u8>)> {
    let own = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/seeds").join(target);
    let mut paths: Vec<PathBuf> = match fs::read_dir(own) {
        Ok(entries) => entries.map(|entry| entry.expect("an entry").path()).collect(),
        Err(_) => Vec::new(),
    };
    paths.sort();
    paths.extend(of_the_tree(target));
    paths.into_iter().map(|path| (path.display().to_string(), fs::read(path).expect("a seed"))).collect()
}

/// Numbers that look like chance and are the same in every run.
struct Dice(u64);

impl Dice {
    fn below(&mut self, most: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % most.max(1) as u64) as usize
    }
}

/// What is put into a text now and then.
const PIECES: &[&str] = &[
    "\n",
    ": ",
    "- ",
    "{",
    "}",
    "[",
    "]",
    "\"",
    "'",
    "#",
    "&a",
    "*a",
    "{{",
    "}}",
    "{{#each items}}",
    "{{/each}}",
    "|",
    "%",
    "9999999999",
    "-1",
    "0",
    "\u{202e}",
    "\u{feff}",
    "e\u{301}",
    "\u{1f600}",
    "123-45-6789",
    "\t",
    "\r",
    "\\",
    "~",
    ",",
    "2026-02-30",
];

/// Changes bytes in a few places.
fn changed(bytes: &[u8], dice: &mut Dice) -> Vec<u8> {
    let mut out = bytes.to_vec();
    for _ in 0..=dice.below(3) {
        let at = dice.below(out.len() + 1);
        let end = (at + dice.below(24)).min(out.len());
        match dice.below(5) {
            0 => drop(out.splice(at..at, PIECES[dice.below(PIECES.len())].bytes())),
            1 => drop(out.splice(at..end, [])),
            2 => {
                let copy = out[at..end].to_vec();
                let to = dice.below(out.len() + 1);
                out.splice(to..to, copy);
            }
            3 if at < out.len() => out[at] = dice.below(256) as u8,
            _ => drop(out.splice(at..end, PIECES[dice.below(PIECES.len())].bytes())),
        }
    }
    out
}

/// Runs a target over its seeds, and over so many changes of each.
fn replay(target: &str, changes: usize) {
    let run = targets::named(target).expect("a target");
    let mut seeds = seeds(target);
    assert!(!seeds.is_empty(), "the target {target} has no seeds");
    seeds.push(("nothing".to_string(), Vec::new()));
    let mut dice = Dice(0x9e37_79b9_7f4a_7c15);
    for (name, seed) in &seeds {
        let mut given = vec![seed.clone()];
        given.extend((0..changes).map(|_| changed(seed, &mut dice)));
        for (n, bytes) in given.iter().enumerate() {
            let (done, spent) = spent(|| panic::catch_unwind(|| run(bytes)));
            let shown = || String::from_utf8_lossy(bytes).into_owned();
            assert!(done.is_ok(), "{target}: {name}, change {n}:\n{}", shown());
            assert!(spent < MOST, "{target}: {name}, change {n}, takes {spent:?}:\n{}", shown());
        }
    }
}

/// Every target is replayed, and nobody forgets a new one.
macro_rules! replayed {
    ($($target:ident: $changes:expr;)*) => {
        $(#[test]
        fn $target() {
            replay(stringify!($target), $changes);
        })*

        #[test]
        fn every_target_is_replayed() {
            assert_eq!(targets::names(), [$(stringify!($target)),*]);
        }
    };
}

replayed! {
    agree: 1;
    case: 12;
    firm: 20;
    values: 20;
    places: 20;
    markup: 20;
    cells: 4;
    tables: 4;
    household: 3;
    names: 2;
    letters: 3;
    layout: 3;
    page: 4;
    picture: 10;
    begun: 6;
    bag: 20;
    verify: 2;
    sealed: 0;
}
