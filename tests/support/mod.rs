//! What several tests share.

/// The arithmetic of the official forms, as written on them.
pub mod arithmetic;
/// How much work something is.
pub mod effort;
/// Small cases completed, read and computed.
pub mod household;
/// The official lines of a year, and the check of figures against them.
pub mod official;
/// A folder of its own for a test.
pub mod scratch;
