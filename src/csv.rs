//! Cells of comma-separated values (RFC 4180), safe to open in a spreadsheet.
//!
//! Comes in: texts. Goes out: cells and rows. Knows nothing of what they say.

/// Writes a row with its line end.
pub fn row<T: AsRef<str>>(cells: impl IntoIterator<Item = T>) -> String {
    let mut row = String::new();
    for (n, cell) in cells.into_iter().enumerate() {
        if n > 0 {
            row.push(',');
        }
        row.push_str(cell.as_ref());
    }
    row.push_str("\r\n");
    row
}

/// Writes a cell of words. One that a spreadsheet would take for a formula begins with an apostrophe; so does one
/// that begins with a wide form of such a sign, which some spreadsheets take for the sign itself.
pub fn words(text: &str) -> String {
    const SIGNS: [char; 11] = ['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'];
    match text.starts_with(SIGNS) {
        true => quoted(&format!("'{text}")),
        false => quoted(text),
    }
}

/// Quotes a cell where it holds a comma, a quote or a line end.
pub fn quoted(text: &str) -> String {
    match text.contains([',', '"', '\n', '\r']) {
        true => format!("\"{}\"", text.replace('"', "\"\"")),
        false => text.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_quoted_and_defused() {
        for (text, wanted) in [
            ("Ana Alder", "Ana Alder"),
            ("Alder, Ana", "\"Alder, Ana\""),
            ("the \"old\" house", "\"the \"\"old\"\" house\""),
            ("two\nlines", "\"two\nlines\""),
            ("=HYPERLINK(\"x\")", "\"'=HYPERLINK(\"\"x\"\")\""),
            ("+1", "'+1"),
            ("-1, and more", "\"'-1, and more\""),
            ("@sum", "'@sum"),
            ("\tx", "'\tx"),
            ("\rx", "\"'\rx\""),
            ("＝1", "'＝1"),
            ("a=b", "a=b"),
        ] {
            assert_eq!(words(text), wanted);
        }
        assert_eq!(row(["01040", "MA", ""]), "01040,MA,\r\n");
    }
}
