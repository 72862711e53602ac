//! A firm's folder as it lies on the disk: which files are cases, what they and the firm's file name, who sends their
//! letters, and which cases share a reference.
//!
//! Comes in: paths. Goes out: bytes, and findings about what cannot be read. Everything is read in one way: neither
//! past a bound nor waiting for whoever might write into a pipe, and what a file names lies in its own folder or below.
//! Writes nothing and prints nothing.

pub mod cases;
pub mod inside;
mod logo;
pub mod papers;
pub mod senders;
pub mod twins;

use crate::case::limits::MAX_BYTES;
use std::io::{self, Read};
use std::path::Path;

/// Reads a file that people write. Past the limit of a case file it is read only so far, and whoever reads the text
/// refuses it.
pub fn read(path: &Path) -> io::Result<Vec<u8>> {
    let file = inside::open_file(path)?;
    let mut bytes = Vec::new();
    file.take(MAX_BYTES as u64 + 1).read_to_end(&mut bytes)?;
    Ok(bytes)
}
