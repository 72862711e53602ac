//! How wide and high the terminal is, where there is one, and lines broken to a width.

use std::io::{IsTerminal, stderr, stdout};
use terminal_size::{Height, Width, terminal_size_of};
use unicode_width::UnicodeWidthStr;

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

/// Breaks lines of more than so many columns between words; a line that goes on begins with the indent.
pub(super) fn wrapped_at(text: &str, columns: usize, indent: &str) -> String {
    text.lines().map(|line| wrapped_line(line, columns, indent)).collect::<Vec<_>>().join("\n")
}

fn wrapped_line(line: &str, columns: usize, indent: &str) -> String {
    if line.width() <= columns {
        return line.to_string();
    }
    let words = line.trim_start_matches(' ');
    let mut out = line[..line.len() - words.len()].to_string();
    let mut used = out.width();
    for (n, word) in words.split(' ').enumerate() {
        let length = word.width();
        if n > 0 && used + 1 + length > columns {
            out.push('\n');
            out.push_str(indent);
            used = indent.width();
        } else if n > 0 {
            out.push(' ');
            used += 1;
        }
        out.push_str(word);
        used += length;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_broken_between_words_and_keep_how_they_begin() {
        for (text, columns, broken) in [
            ("one two three", 7, "one two\n  three"),
            ("   2  a long label", 10, "   2  a\n  long\n  label"),
            ("short\n\nagain", 10, "short\n\nagain"),
            ("withoutanyblank at", 5, "withoutanyblank\n  at"),
            ("\u{4e2d}\u{4e2d} \u{4e2d}", 5, "\u{4e2d}\u{4e2d}\n  \u{4e2d}"),
        ] {
            assert_eq!(wrapped_at(text, columns, "  "), broken, "{text}");
        }
    }
}
