//! What goes to the two standard streams.
//!
//! Data goes to standard output. A write that fails there is remembered, and the command then ends with an error, because
//! whoever reads the file would take what is cut off for the whole; only a reader that closed its end, such as `head`,
//! wants no more. Words for people go to standard error, where a failure can be reported to nobody.
//!
//! What nobody sees, or what would steer a terminal, is told by its number on both: file names, and whatever was typed,
//! may hold it. Only the colors of findings pass, which [`color`](super::color) gives to texts without such signs.

use super::End;
use crate::case::covered;
use crate::characters::harmless;
use crate::json;
use serde_json::Value;
use std::io::{self, Write};
use std::sync::{Mutex, PoisonError};

/// The first failed write to standard output.
static FAILED: Mutex<Option<io::Error>> = Mutex::new(None);

/// Prints data in words or rows.
pub(super) fn print(text: &str) {
    print_painted(&harmless(text));
}

/// Prints data for other programs.
pub(super) fn print_json(value: &Value) {
    print_painted(&json::written(value));
}

/// Prints findings, which may have colors, or a text in which nothing can stand that nobody sees.
pub(super) fn print_painted(text: &str) {
    let mut out = io::stdout().lock();
    note(out.write_all(text.as_bytes()).and_then(|()| out.flush()));
}

/// Remembers a write to standard output that failed.
pub(super) fn note(written: io::Result<()>) {
    let Err(error) = written else { return };
    if error.kind() != io::ErrorKind::BrokenPipe {
        FAILED.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert(error);
    }
}

/// Says, at the end of a command, that its output is incomplete, and returns how the command ends then.
pub(super) fn close(end: End) -> End {
    let failed = FAILED.lock().unwrap_or_else(PoisonError::into_inner).take();
    let Some(error) = failed else { return end };
    let help = match error.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
            "make room on that disk, or send the output elsewhere, and run the command again"
        }
        io::ErrorKind::FileTooLarge => {
            "raise the limit on the size of files (`ulimit -f` shows it), or send the output elsewhere, and run the \
             command again"
        }
        _ => "send the output elsewhere, and run the command again",
    };
    tell!(
        "error: standard output cannot be written, so what was printed is incomplete: {error}\nhelp: {help}"
    );
    end.max(End::Files)
}

/// Writes words for people, as the macros `tell!` and `tell_in_line!` say them.
pub(super) fn told(words: std::fmt::Arguments<'_>, end: &str) {
    told_painted(&harmless(&format!("{words}{end}")));
}

/// Writes findings for people, which may have colors.
pub(super) fn told_painted(text: &str) {
    // Whatever was typed or is a path may hold a number that nobody has looked for yet.
    let text = covered(text);
    // In one piece, so that lines of several threads do not mix.
    let _ = io::stderr().lock().write_all(text.as_bytes());
}
