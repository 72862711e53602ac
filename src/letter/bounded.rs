//! Room for a letter's words. Comes in: what a text yields when its names are filled in. Goes out: the same, or an
//! error where it grows beyond any letter.

use std::io;

/// The most bytes a letter's words may have: some fifty pages. Reading markup can take time that grows with the square
/// of its length; within these bounds that is at most seconds.
const MOST_BYTES: usize = 250_000;
/// The most bytes of a letter or part as its author writes it; ours have some thousand.
pub(super) const MOST_WRITTEN: usize = 60_000;

/// Takes words up to the limit.
#[derive(Default)]
pub(super) struct Bounded(Vec<u8>);

impl Bounded {
    /// Returns what was taken.
    pub fn into_text(self) -> String {
        String::from_utf8_lossy(&self.0).into_owned()
    }
}

impl io::Write for Bounded {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if self.0.len() + bytes.len() > MOST_BYTES {
            return Err(io::Error::other("it grows beyond any letter; a list in it has too many entries"));
        }
        self.0.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}
