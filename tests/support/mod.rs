//! What several tests share.

/// The arithmetic of the official forms, as written on them.
pub mod arithmetic;
/// Chance that is the same in every run.
pub mod chance;
/// How much work something is.
pub mod effort;
/// What lies in folders, and copies.
pub mod files;
/// Small cases completed, read and computed.
pub mod household;
/// The official lines of a year, and the check of figures against them.
pub mod official;
/// The program, run as people run it.
pub mod program;
/// A folder of its own for a test.
pub mod scratch;
