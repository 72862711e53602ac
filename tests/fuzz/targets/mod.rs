//! What is fuzzed: each target takes bytes and panics where the program does something that no input may make it do.
//!
//! The fuzzer runs them for hours (`run`), and `cargo test` runs them over the seeds with a few changes
//! (`tests/fuzzed.rs`). A target knows no corpus.

pub mod agree;
mod bag;
mod begun;
mod case;
mod chance;
pub mod household;
mod letters;
mod page;
pub mod sealed;
pub mod tables;
mod verify;
mod words;
mod yaml;

/// What is done with the bytes of one try.
type Target = fn(&[u8]);

/// Every target with its name.
const TARGETS: &[(&str, Target)] = &[
    ("agree", agree::agree),
    ("case", case::case),
    ("firm", case::firm),
    ("values", words::values),
    ("places", words::places),
    ("markup", words::markup),
    ("cells", words::cells),
    ("tables", tables::tables),
    ("household", household::household),
    ("names", household::names),
    ("letters", letters::letters),
    ("layout", letters::layout),
    ("page", page::page),
    ("picture", page::picture),
    ("begun", begun::begun),
    ("bag", bag::bag),
    ("verify", verify::verify),
    ("sealed", sealed::sealed),
];

/// Returns a target.
pub fn named(name: &str) -> Option<fn(&[u8])> {
    TARGETS.iter().find(|(known, _)| *known == name).map(|(_, target)| *target)
}

/// Returns the names of all targets.
pub fn names() -> Vec<&'static str> {
    TARGETS.iter().map(|(name, _)| *name).collect()
}
