//! Files that another program holds open: on Windows they can be neither renamed nor removed, and often not read.
//!
//! A virus scanner or an indexer lets go after a moment, so the deed is tried again; a PDF viewer or a word processor
//! does not, so whoever reads the message is told to close it.

use std::io::{self, ErrorKind};
use std::thread::sleep;
use std::time::Duration;

/// How long is waited between two attempts, in thousandths of a second; some three seconds in all.
const WAITS: [u64; 6] = [50, 100, 200, 400, 800, 1_600];

/// What Windows answers about a file that another program has open: sharing and lock violation (System Error Codes,
/// ERROR_SHARING_VIOLATION and ERROR_LOCK_VIOLATION).
const VIOLATIONS: [i32; 2] = [32, 33];

/// Says whether another program's hold on a file is why something failed.
pub fn is_held(error: &io::Error) -> bool {
    error.kind() == ErrorKind::ResourceBusy
        || cfg!(windows) && error.raw_os_error().is_some_and(|code| VIOLATIONS.contains(&code))
}

/// Does something to a file, and tries again for some seconds while another program holds it.
pub fn patiently<T>(deed: impl Fn() -> io::Result<T>) -> io::Result<T> {
    attempt(deed, &WAITS)
}

fn attempt<T>(deed: impl Fn() -> io::Result<T>, waits: &[u64]) -> io::Result<T> {
    for wait in waits {
        match deed() {
            // A folder with an open file in it is refused there as if the right to it were missing.
            Err(error) if is_held(&error) || cfg!(windows) && error.kind() == ErrorKind::PermissionDenied => {
                sleep(Duration::from_millis(*wait));
            }
            done => return done,
        }
    }
    deed()
}

/// Says why a file could not be read; in the same words on every system, which the system's own are not.
pub fn words(error: &io::Error) -> String {
    if is_held(error) { "another program has it open".to_string() } else { error.kind().to_string() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::Cell;

    #[test]
    fn what_is_held_is_tried_again_and_given_up_in_the_end() {
        let (tried, free_after) = (Cell::new(0), Cell::new(2));
        let deed = || {
            tried.set(tried.get() + 1);
            if tried.get() > free_after.get() { Ok(tried.get()) } else { Err(ErrorKind::ResourceBusy.into()) }
        };
        assert_eq!(attempt(deed, &[0, 0, 0]).ok(), Some(3));
        tried.set(0);
        free_after.set(100);
        let error = attempt(deed, &[0, 0, 0]).expect_err("held to the end");
        assert!(is_held(&error) && tried.get() == 4, "{error}, {} times", tried.get());
        assert_eq!(words(&error), "another program has it open");
    }

    #[test]
    fn what_fails_for_another_reason_is_not_tried_again() {
        let tried = Cell::new(0);
        let deed = || -> io::Result<()> {
            tried.set(tried.get() + 1);
            Err(ErrorKind::StorageFull.into())
        };
        assert!(attempt(deed, &[0, 0, 0]).is_err_and(|error| !is_held(&error)));
        assert_eq!(tried.get(), 1);
    }
}
