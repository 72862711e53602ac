//! Many cases at once: which files are cases, and working through them in parallel.
//!
//! Comes in: a folder. Goes out: the result of each case, in the order of the file names. Knows nothing of tax.

pub mod many;
pub mod remind;
pub mod scan;
