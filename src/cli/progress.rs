//! How far a long run has come: a bar with the time left on a terminal, plain lines elsewhere; and the wish to stop.

use super::{End, our_fault};
use indicatif::{ProgressBar, ProgressStyle};
use std::io::IsTerminal;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Set once the user has pressed Ctrl-C.
static STOP: AtomicBool = AtomicBool::new(false);

/// How often a plain line is written where there is no terminal.
const EVERY: Duration = Duration::from_secs(10);

/// From now on Ctrl-C, or the system's wish that the program end, asks the run to stop after the cases under way; a
/// second one ends the program at once.
///
/// Nothing stands half-written in either case: files are renamed in when they are whole.
pub(super) fn stoppable() -> Result<&'static AtomicBool, End> {
    let pressed = || {
        if STOP.swap(true, Ordering::Relaxed) {
            std::process::exit(i32::from(End::Interrupted.code()));
        }
        tell("Stopping after the cases under way; press Ctrl-C again to end at once.");
    };
    match ctrlc::set_handler(pressed) {
        Ok(()) => Ok(&STOP),
        // It needs a thread of its own.
        Err(ctrlc::Error::System(error)) => {
            tell!(
                "error: the system gives the program no room for another thread: {error}\n\
                 help: raise the limits on memory and processes (`ulimit -a` shows them), and run the command again"
            );
            Err(End::Files)
        }
        Err(error) => Err(our_fault(&error)),
    }
}

/// Writes a line for people; a terminal that has gone away is no reason to fail.
fn tell(line: &str) {
    use std::io::Write;
    let _ = writeln!(std::io::stderr(), "{line}");
}

/// The state of a long run, shown on the standard error stream.
pub(super) enum Progress {
    /// A bar on a terminal.
    Bar(ProgressBar),
    /// A line now and then.
    Lines {
        /// What is counted.
        of: &'static str,
        total: usize,
        done: usize,
        last: Instant,
    },
}

impl Progress {
    /// Starts with how many of what there are, such as 412 `cases`.
    pub(super) fn start(total: usize, of: &'static str) -> Progress {
        if !std::io::stderr().is_terminal() {
            return Progress::Lines { of, total, done: 0, last: Instant::now() };
        }
        let bar = ProgressBar::new(total as u64);
        let look = ProgressStyle::with_template("{bar:30} {pos} of {len} {msg}, {eta} left");
        if let Ok(look) = look {
            bar.set_style(look);
        }
        bar.set_message(of);
        Progress::Bar(bar)
    }

    /// Counts one more as done.
    pub(super) fn step(&mut self) {
        match self {
            Progress::Bar(bar) => bar.inc(1),
            Progress::Lines { of, total, done, last } => {
                *done += 1;
                if last.elapsed() >= EVERY && *done < *total {
                    tell(&format!("{done} of {total} {of} done"));
                    *last = Instant::now();
                }
            }
        }
    }

    /// Writes to the terminal without tearing the bar.
    pub(super) fn aside(&self, write: impl FnOnce()) {
        match self {
            Progress::Bar(bar) => bar.suspend(write),
            Progress::Lines { .. } => write(),
        }
    }

    /// Takes the bar away.
    pub(super) fn end(self) {
        if let Progress::Bar(bar) = self {
            bar.finish_and_clear();
        }
    }
}
