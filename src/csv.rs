//! Cells of a table for spreadsheets (RFC 4180), written and read. Comes in: text of any origin. Goes out: written, rows
//! in which every cell is what it says, and none is a formula; read, cells as they stand, each row with its number.

/// Writes a row: the cells with commas between them, and the end of line that RFC 4180 asks for.
pub(crate) fn row<S: AsRef<str>>(cells: impl IntoIterator<Item = S>) -> String {
    let mut out = String::new();
    for (n, text) in cells.into_iter().enumerate() {
        if n > 0 {
            out.push(',');
        }
        out.push_str(&cell(text.as_ref()));
    }
    out.push_str("\r\n");
    out
}

/// Writes one cell.
///
/// Where a spreadsheet would take words for a formula, an apostrophe stands before them, which spreadsheets read as
/// "these are words" (common practice). A number with its sign, such as `-12.00`, is no formula and stays a number.
/// Words stand in quotes where they hold a sign that some program divides cells or rows at.
pub(crate) fn cell(text: &str) -> String {
    let defused = match starts_a_formula(text) {
        true => format!("'{text}"),
        false => text.to_string(),
    };
    match defused.contains([',', ';', '"', '\n', '\r', '\t']) || defused.trim() != defused {
        true => format!("\"{}\"", defused.replace('"', "\"\"")),
        false => defused,
    }
}

/// Says whether a spreadsheet could compute instead of showing: it passes over leading blanks, and takes the wide
/// forms of the signs too.
pub(crate) fn starts_a_formula(text: &str) -> bool {
    let sign =
        |c: char| matches!(c, '=' | '+' | '-' | '@' | '\u{ff1d}' | '\u{ff0b}' | '\u{ff0d}' | '\u{ff20}');
    let invisible = |c: char| c.is_whitespace() || c.is_control() || matches!(c, '\u{200b}' | '\u{feff}');
    text.starts_with(['\t', '\r', '\n'])
        || text.trim_start_matches(invisible).starts_with(sign) && !is_number(text)
}

/// Says whether the text is a plain decimal number, as this program writes them.
fn is_number(text: &str) -> bool {
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let unsigned = text.strip_prefix('-').unwrap_or(text);
    match unsigned.split_once('.') {
        Some((whole, part)) => digits(whole) && digits(part),
        None => digits(unsigned),
    }
}

/// One row of a table, as read.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Row {
    /// The number that a spreadsheet gives it, from one: a cell with several lines is in one row.
    pub number: usize,
    /// Its cells, of which there is at least one.
    pub cells: Vec<String>,
}

/// Reads the rows of a table. A row whose quotation mark is never closed fails with its number, and is the last. Of a
/// row with more than `most` cells one more is kept, so that it can be seen to have too many.
pub(crate) fn rows(
    text: &str,
    separator: char,
    most: usize,
) -> impl Iterator<Item = Result<Row, usize>> + '_ {
    let mut signs = text.chars().peekable();
    let mut number = 0;
    std::iter::from_fn(move || {
        signs.peek()?;
        number += 1;
        let (mut cells, mut cell, mut quoted) = (Vec::new(), String::new(), false);
        loop {
            match signs.next() {
                None if quoted => return Some(Err(number)),
                Some('"') if quoted && signs.peek() == Some(&'"') => {
                    signs.next();
                    cell.push('"');
                }
                Some('"') if quoted => quoted = false,
                Some(c) if quoted => cell.push(c),
                // Inside of a cell without quotes, a mark is one like any other: 6" pipe.
                Some('"') if cell.trim().is_empty() => {
                    cell.clear();
                    quoted = true;
                }
                Some(c) if c == separator && cells.len() > most => cell.clear(),
                Some(c) if c == separator => cells.push(std::mem::take(&mut cell)),
                Some('\r') if signs.peek() == Some(&'\n') => {}
                None | Some('\n' | '\r') => {
                    cells.push(cell);
                    return Some(Ok(Row { number, cells }));
                }
                Some(c) => cell.push(c),
            }
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn words_that_a_spreadsheet_would_compute_are_words_again() {
        for (words, expected) in [
            ("plain words", "plain words"),
            ("=SUM(A1)", "'=SUM(A1)"),
            ("+1 555-0100", "'+1 555-0100"),
            ("-1, and more", "\"'-1, and more\""),
            ("@home", "'@home"),
            (" =1+1", "' =1+1"),
            (" led in", "\" led in\""),
            ("\t=1+1", "\"'\t=1+1\""),
            ("\r\n=1", "\"'\r\n=1\""),
            ("\u{ff1d}1+1", "'\u{ff1d}1+1"),
            ("\u{a0}=1", "'\u{a0}=1"),
            ("\u{200b}=1", "'\u{200b}=1"),
            ("1 = 1", "1 = 1"),
            ("--1", "'--1"),
            ("-", "'-"),
            ("-1e9", "'-1e9"),
            ("", ""),
        ] {
            assert_eq!(cell(words), expected, "{words:?}");
        }
    }

    #[test]
    fn numbers_stay_numbers() {
        for number in ["0", "12.00", "-12.00", "-1", "01040", "3545.00"] {
            assert_eq!(cell(number), number);
        }
    }

    #[test]
    fn a_row_ends_as_the_standard_says() {
        assert_eq!(row(["a", "b, c", "said \"so\"", "x;y"]), "a,\"b, c\",\"said \"\"so\"\"\",\"x;y\"\r\n");
        assert_eq!(row([String::new(), String::new()]), ",\r\n");
    }

    /// Reads rows as RFC 4180 has them, apart from what writes them.
    fn read(text: &str) -> Vec<Vec<String>> {
        let mut rows = vec![vec![String::new()]];
        let mut quoted = false;
        let mut signs = text.chars().peekable();
        while let Some(c) = signs.next() {
            let row = rows.last_mut().unwrap();
            let cell = row.last_mut().unwrap();
            match c {
                '"' if quoted && signs.peek() == Some(&'"') => {
                    signs.next();
                    cell.push('"');
                }
                '"' => quoted = !quoted,
                ',' if !quoted => row.push(String::new()),
                '\r' if !quoted && signs.peek() == Some(&'\n') => {
                    signs.next();
                    rows.push(vec![String::new()]);
                }
                c => cell.push(c),
            }
        }
        rows.pop();
        rows
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_back(cells in prop::collection::vec(prop::collection::vec("[-=+@ ,;\"'a1.\t\r\n]{0,6}", 1..4), 1..4)) {
            let text: String = cells.iter().map(row).collect();
            let back = read(&text);
            prop_assert_eq!(back.len(), cells.len());
            for (read, written) in back.iter().zip(&cells) {
                prop_assert_eq!(read.len(), written.len());
                for (read, written) in read.iter().zip(written) {
                    let same = read == written || read.strip_prefix('\'') == Some(written);
                    prop_assert!(same, "{read:?} for {written:?}");
                    prop_assert!(!starts_a_formula(read), "{read:?} is computed");
                }
            }
        }
    }
}
