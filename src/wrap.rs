//! Lines broken between words, for terminals.
//!
//! Comes in: a text and how many columns there are. Goes out: lines that fit, unless one word alone is wider: no word is
//! broken, so an amount or a path stays whole. Knows no terminal.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// Breaks a text between words: its first line has `first` columns, every other one `rest`. Blanks that begin it stay, and
/// so do blanks in a row that end no line.
pub(crate) fn wrapped(text: &str, first: usize, rest: usize) -> Vec<String> {
    let words = text.trim_start_matches(' ');
    let mut lines = Vec::new();
    let mut line = text[..text.len() - words.len()].to_string();
    let mut used = line.len();
    for word in words.split(' ') {
        let room = if lines.is_empty() { first } else { rest };
        let needed = columns(word);
        if line.trim_start().is_empty() {
            line.push_str(word);
            used += needed;
        } else if used + 1 + needed <= room {
            line.push(' ');
            line.push_str(word);
            used += 1 + needed;
        } else {
            lines.push(line.trim_end().to_string());
            line = word.to_string();
            used = needed;
        }
    }
    lines.push(line.trim_end().to_string());
    lines
}

/// Breaks every line of a text at so many columns; a line that goes on begins with the indent.
pub(crate) fn wrapped_at(text: &str, most: usize, indent: &str) -> String {
    let rest = most.saturating_sub(columns(indent));
    let broken = text.lines().map(|line| wrapped(line, most, rest).join(&format!("\n{indent}")));
    broken.collect::<Vec<_>>().join("\n")
}

/// Returns how many columns a text takes in a terminal.
pub(crate) fn columns(text: &str) -> usize {
    text.width()
}

/// Returns how many columns a character takes in a terminal; one that steers it is taken for one that is seen, because
/// it is shown as a mark.
pub(crate) fn width(c: char) -> usize {
    c.width().unwrap_or(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_broken_between_words_and_no_word_is() {
        assert_eq!(wrapped("one two three", 7, 5), ["one two", "three"]);
        assert_eq!(wrapped("the $1,234,567.00 left", 6, 6), ["the", "$1,234,567.00", "left"]);
        assert_eq!(wrapped("", 5, 5), [""]);
        assert_eq!(wrapped("a", 0, 0), ["a"]);
        assert_eq!(wrapped("a  b   ccc", 6, 6), ["a  b", "ccc"]);
        assert_eq!(wrapped("  - one two", 7, 7), ["  - one", "two"]);
        // Wide characters take two columns, combining ones none.
        assert_eq!(wrapped("\u{6771}\u{4eac} e\u{301}", 6, 6), ["\u{6771}\u{4eac} e\u{301}"]);
        assert_eq!(wrapped("\u{6771}\u{4eac} e\u{301}", 5, 5).len(), 2);
    }

    #[test]
    fn every_line_is_broken_and_goes_on_set_in() {
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
