//! How wide and high the terminal is, where there is one.

use std::io::{IsTerminal, stderr, stdout};
use terminal_size::{Height, Width, terminal_size_of};

/// So many columns a table has where it goes to no terminal: what a page of a plain text holds.
pub(super) const WITHOUT_TERMINAL: usize = 80;
/// So many rows a terminal is taken to have that does not say.
const WITHOUT_TERMINAL_ROWS: usize = 24;
/// The fewest columns that a terminal is taken to have; some say none.
const FEWEST: usize = 20;

/// Returns the columns of the terminal that standard output goes to; none where it goes elsewhere.
pub(super) fn of_output() -> Option<usize> {
    stdout().is_terminal().then(|| columns(terminal_size_of(stdout())))
}

/// Returns the columns of the terminal that words for people go to; none where they go elsewhere.
pub(super) fn of_errors() -> Option<usize> {
    stderr().is_terminal().then(|| columns(terminal_size_of(stderr())))
}

/// Returns how many rows that terminal has.
pub(super) fn rows_of_errors() -> usize {
    let told = terminal_size_of(stderr()).map(|(_, Height(rows))| usize::from(rows));
    told.filter(|rows| *rows > 0).unwrap_or(WITHOUT_TERMINAL_ROWS)
}

fn columns(told: Option<(Width, Height)>) -> usize {
    let told = told.map(|(Width(columns), _)| usize::from(columns));
    told.filter(|columns| *columns >= FEWEST).unwrap_or(WITHOUT_TERMINAL)
}
