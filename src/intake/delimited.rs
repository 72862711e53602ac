//! Delimited text (RFC 4180 and its relatives) read as a grid.
//!
//! Comes in: bytes. Goes out: a [`Grid`] of texts, or why there is none. Reads UTF-8 and UTF-16 with or without a mark,
//! and commas, semicolons or tabs between the cells; which, follows from the first rows.

use super::cells::{Cell, Grid, GridRow, MAX_COLUMNS, MAX_ROWS, NoTable};
use super::xlsx::too_many_rows;
use crate::csv;

const SAVE_AS: &str = "save the list as .xlsx, or as CSV UTF-8";

/// Reads a file of delimited text.
pub(super) fn read(bytes: &[u8]) -> Result<Grid, NoTable> {
    let text = text(bytes)?;
    let mut body = text.trim_start_matches('\u{feff}');
    // Some programs say in a first line what divides the cells.
    let mut skipped = 0;
    let said =
        body.lines().next().and_then(|line| line.strip_prefix("sep=")).and_then(|rest| rest.chars().next());
    if said.is_some() {
        body = body.split_once('\n').map_or("", |(_, rest)| rest);
        skipped = 1;
    }
    let separator = said.unwrap_or_else(|| separator(body));
    let mut grid = Grid::default();
    for row in csv::rows(body, separator, MAX_COLUMNS) {
        let row = row.map_err(|line| {
            NoTable::new(
                format!("the quotation mark opened in row {} is never closed", line + skipped),
                "close the quotation marks, or save the list as .xlsx",
            )
        })?;
        if row.cells.len() > MAX_COLUMNS {
            return Err(NoTable::new(
                format!("row {} has more than {MAX_COLUMNS} columns", row.number + skipped),
                SAVE_AS,
            ));
        }
        let cells = row.cells.into_iter().enumerate().filter(|(_, text)| !text.trim().is_empty());
        let cells: Vec<(usize, Cell)> =
            cells.map(|(column, text)| (column, Cell::text(undefused(text)))).collect();
        if cells.is_empty() {
            continue;
        }
        if grid.rows.len() == MAX_ROWS {
            return Err(too_many_rows());
        }
        grid.rows.push(GridRow { number: row.number + skipped, hidden: false, cells });
    }
    Ok(grid)
}

/// Takes away the apostrophe with which this program and others keep a spreadsheet from computing words, and the sign of
/// equality with which some keep a number a text.
fn undefused(text: String) -> String {
    if let Some(inside) = text.strip_prefix("=\"").and_then(|rest| rest.strip_suffix('"')) {
        return inside.to_string();
    }
    match text.strip_prefix('\'') {
        Some(rest) if rest.starts_with(['=', '+', '-', '@']) => rest.to_string(),
        _ => text,
    }
}

fn text(bytes: &[u8]) -> Result<String, NoTable> {
    let no_text =
        || NoTable::new("the file is neither a workbook of .xlsx nor text in UTF-8 or UTF-16", SAVE_AS);
    match bytes {
        // What older programs write, and what is locked with a password.
        [0xd0, 0xcf, 0x11, 0xe0, ..] => Err(NoTable::new(
            "this is a workbook of an older format, or one that is locked with a password",
            "open it in the spreadsheet program and save it as .xlsx without a password",
        )),
        [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => utf_16(bytes).ok_or_else(no_text),
        // Without a mark, every other byte of plain words is nothing.
        [first, 0, second, 0, ..] if *first != 0 && *second != 0 => {
            decoded(bytes, u16::from_le_bytes).ok_or_else(no_text)
        }
        _ if bytes.contains(&0) => Err(no_text()),
        _ => match std::str::from_utf8(bytes) {
            Ok(text) => Ok(text.to_string()),
            Err(error) => {
                let row = bytes[..error.valid_up_to()].iter().filter(|byte| **byte == b'\n').count() + 1;
                Err(NoTable::new(
                    format!(
                        "row {row} holds a byte that is not UTF-8 text; accented letters in an older encoding are the usual reason"
                    ),
                    SAVE_AS,
                ))
            }
        },
    }
}

/// Reads UTF-16 with its mark.
pub(super) fn utf_16(bytes: &[u8]) -> Option<String> {
    match bytes {
        [0xfe, 0xff, rest @ ..] => decoded(rest, u16::from_be_bytes),
        [0xff, 0xfe, rest @ ..] => decoded(rest, u16::from_le_bytes),
        _ => None,
    }
}

fn decoded(bytes: &[u8], unit: impl Fn([u8; 2]) -> u16) -> Option<String> {
    let units = bytes.chunks_exact(2).map(|pair| unit([pair[0], pair[1]]));
    char::decode_utf16(units).collect::<Result<String, _>>().ok().filter(|_| bytes.len().is_multiple_of(2))
}

/// Finds what divides the cells: the sign that divides most rows of the first ones, and those into most cells.
fn separator(text: &str) -> char {
    let head: String = text.split_inclusive('\n').take(20).collect();
    let cells = |sign: &char| -> usize {
        csv::rows(&head, *sign, MAX_COLUMNS).flatten().map(|row| row.cells.len() - 1).sum()
    };
    // The first of equals.
    [',', ';', '\t'].into_iter().rev().max_by_key(cells).unwrap_or(',')
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::cells::Value;

    fn words(bytes: &[u8]) -> Vec<(usize, Vec<String>)> {
        let row = |row: GridRow| {
            let text = |(_, cell): (usize, Cell)| match cell.value {
                Value::Text(text) => text,
                other => panic!("{other:?}"),
            };
            (row.number, row.cells.into_iter().map(text).collect())
        };
        read(bytes).expect("a table").rows.into_iter().map(row).collect()
    }

    #[test]
    fn the_same_list_is_read_however_it_was_saved() {
        let expected = vec![
            (1, vec!["Ref".to_string(), "Name".to_string()]),
            (3, vec!["HH-1".to_string(), "Rook, \"Ada\"".to_string()]),
        ];
        let plain = "Ref,Name\n\nHH-1,\"Rook, \"\"Ada\"\"\"\n";
        let utf_16: Vec<u8> =
            "\u{feff}".chars().chain(plain.chars()).flat_map(|c| (c as u16).to_le_bytes()).collect();
        let bare: Vec<u8> = utf_16[2..].to_vec();
        for bytes in [
            plain.as_bytes().to_vec(),
            format!("\u{feff}{plain}").into_bytes(),
            plain.replace('\n', "\r\n").into_bytes(),
            plain.replace('\n', "\r").into_bytes(),
            plain.replace("Ref,", "Ref;").replace("1,", "1;").into_bytes(),
            plain.replace("Ref,", "Ref\t").replace("1,", "1\t").into_bytes(),
            utf_16,
            bare,
        ] {
            assert_eq!(words(&bytes), expected, "{:?}", String::from_utf8_lossy(&bytes));
        }
        assert_eq!(words(b"sep=;\nRef;Name\n")[0].0, 2);
    }

    #[test]
    fn what_is_no_table_is_refused_in_words() {
        for (bytes, word) in [
            (&b"Ref,Name\nHH-1,\"Ada"[..], "row 2 is never closed"),
            (b"Ref,Name\nHH-1,Jos\xe9\n", "row 2 holds a byte"),
            (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "older format"),
            (b"Ref\0\0\0\0", "neither"),
        ] {
            let refused = read(bytes).expect_err("refused");
            assert!(refused.message.contains(word), "{}", refused.message);
        }
    }
}
