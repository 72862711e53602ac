//! Lines broken between words, for terminals.
//!
//! Comes in: a text and how many columns there are. Goes out: lines that fit, unless one word alone is wider: no word is
//! broken, so an amount or a path stays whole. Knows no terminal.

/// Breaks a text between words: its first line has `first` columns, every other one `rest`.
pub(crate) fn wrapped(text: &str, first: usize, rest: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut used = 0;
    // Blanks in a row stay where they do not end a line.
    for word in text.split(' ') {
        let room = if lines.is_empty() { first } else { rest };
        let needed = columns(word);
        if line.is_empty() && used == 0 {
            line.push_str(word);
            used = needed;
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

/// Returns how many columns a text takes in a terminal.
pub(crate) fn columns(text: &str) -> usize {
    text.chars().map(width).sum()
}

/// Columns that a character takes in a terminal: none for combining marks, two for the wide characters of
/// East Asian scripts and pictures, one for all others. The ranges are the large blocks of Unicode's East
/// Asian Width property; single exceptions are left out, because a marker a column off still points.
pub(crate) fn width(c: char) -> usize {
    match c as u32 {
        0x0300..=0x036f
        | 0x0483..=0x0489
        | 0x0591..=0x05bd
        | 0x0610..=0x061a
        | 0x064b..=0x065f
        | 0x1ab0..=0x1aff
        | 0x1dc0..=0x1dff
        | 0x20d0..=0x20ff
        | 0xfe00..=0xfe0f
        | 0xfe20..=0xfe2f => 0,
        0x1100..=0x115f
        | 0x2e80..=0x303e
        | 0x3041..=0xa4cf
        | 0xa960..=0xa97f
        | 0xac00..=0xd7a3
        | 0xf900..=0xfaff
        | 0xfe30..=0xfe6f
        | 0xff00..=0xff60
        | 0xffe0..=0xffe6
        | 0x1f300..=0x1f64f
        | 0x1f900..=0x1f9ff
        | 0x20000..=0x3fffd => 2,
        _ => 1,
    }
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
        // Wide characters take two columns, combining ones none.
        assert_eq!(wrapped("\u{6771}\u{4eac} e\u{301}", 6, 6), ["\u{6771}\u{4eac} e\u{301}"]);
        assert_eq!(wrapped("\u{6771}\u{4eac} e\u{301}", 5, 5).len(), 2);
    }
}
