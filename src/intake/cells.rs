//! A table as a spreadsheet holds it: cells with their place, and what a reader of the file would not see on the screen.
//!
//! Nothing comes in. Goes out: [`Grid`], which [`super::xlsx`] and [`super::delimited`] fill. Knows no column by its
//! meaning.

use jiff::civil::Date;
use rust_decimal::Decimal;
use std::collections::BTreeSet;
use std::fmt;

/// The largest file that is read, in bytes. A list of ten thousand clients has about two million.
pub const MAX_BYTES: usize = 50_000_000;
/// How many bytes the parts of a workbook may come to when they are unpacked.
pub(super) const MAX_UNPACKED: u64 = 150_000_000;
/// How many rows with something in them a table may have.
pub(super) const MAX_ROWS: usize = 50_000;
/// How many cells with something in them a table may have, and how many texts they may name.
pub(super) const MAX_CELLS: usize = 3_000_000;
/// How many cells may be merged with others, counted row by row.
pub(super) const MAX_MERGED: usize = 200_000;
/// How many columns a table may have.
pub(super) const MAX_COLUMNS: usize = 300;

/// Why a file cannot be read as a table, and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoTable {
    /// What is wrong, in a sentence without a final period.
    pub message: String,
    /// What to do.
    pub help: String,
}

impl NoTable {
    pub(super) fn new(message: impl Into<String>, help: impl Into<String>) -> NoTable {
        NoTable { message: message.into(), help: help.into() }
    }
}

/// What one cell holds.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Value {
    /// A text.
    Text(String),
    /// A number, exact, and how the spreadsheet shows it.
    Number(Decimal, Shown),
    /// True or false.
    Truth(bool),
    /// An error such as `#N/A`.
    Error(String),
    /// A formula whose value the file does not hold.
    NotComputed,
}

/// How a spreadsheet shows a number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Shown {
    /// As a number.
    Plain,
    /// As a day, counted from the end of 1899, or of 1903.
    Day,
    /// As a percentage.
    Percent,
    /// In so many digits, with hyphens between, such as `00000` or `00000-0000`.
    Digits(String),
}

/// A cell: what it holds, and whether a formula made it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Cell {
    pub value: Value,
    pub formula: bool,
}

/// A row with something in it.
#[derive(Clone, Debug, Default)]
pub(super) struct GridRow {
    /// Its number, from one, as the spreadsheet shows it.
    pub number: usize,
    pub hidden: bool,
    /// Its cells by column, counted from zero, in order; empty ones are left out.
    pub cells: Vec<(usize, Cell)>,
}

/// A range of cells: first and last row from one, first and last column from zero.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Range {
    pub rows: (usize, usize),
    pub columns: (usize, usize),
}

/// One sheet of a workbook, or a whole file of delimited text.
#[derive(Clone, Debug, Default)]
pub(super) struct Grid {
    /// The name of the sheet; none in a file without sheets.
    pub sheet: Option<String>,
    pub rows: Vec<GridRow>,
    pub merged: Vec<Range>,
    pub hidden_columns: BTreeSet<usize>,
    /// Days are counted from the end of 1903.
    pub from_1904: bool,
}

impl GridRow {
    pub fn cell(&self, column: usize) -> Option<&Cell> {
        let at = self.cells.binary_search_by_key(&column, |(column, _)| *column).ok()?;
        Some(&self.cells[at].1)
    }
}

impl Cell {
    pub fn text(text: impl Into<String>) -> Cell {
        Cell { value: Value::Text(text.into()), formula: false }
    }

    /// Returns the text of a cell as the spreadsheet shows it; nothing for a day, an error or a truth value.
    pub fn words(&self) -> Option<String> {
        match &self.value {
            Value::Text(text) => Some(tidy(text)),
            Value::Number(number, Shown::Plain) => Some(number.normalize().to_string()),
            Value::Number(number, Shown::Digits(code)) => Some(in_digits(*number, code)),
            _ => None,
        }
    }
}

/// Makes blanks of what looks like one and is none, such as the non-breaking space that comes with pasted text; leaves
/// out those at the edges and all but one in a row. An end of line stays.
pub(super) fn tidy(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.trim().chars() {
        // A tab is a blank here, as on the screen.
        let blank = c == '\t' || c != '\n' && c != '\r' && c.is_whitespace();
        match (blank, out.ends_with(' ')) {
            (true, true) => {}
            (true, false) => out.push(' '),
            (false, _) => out.push(c),
        }
    }
    // A blank before an end of line is none that anybody sees.
    out.replace("\r\n", "\n").replace(" \n", "\n").trim().to_string()
}

/// Writes a number as a format of zeros and hyphens shows it.
fn in_digits(number: Decimal, code: &str) -> String {
    let plain = number.normalize().to_string();
    let fits = plain.bytes().all(|byte| byte.is_ascii_digit());
    let places = code.chars().filter(|c| *c == '0').count();
    if !fits || plain.len() > places {
        return plain;
    }
    let padded = format!("{plain:0>places$}");
    let mut digits = padded.chars();
    code.chars().filter_map(|c| if c == '0' { digits.next() } else { Some(c) }).collect()
}

/// The day of a count of days as spreadsheets keep it.
///
/// The count from 1900 has a February 29, 1900, that never was, as ECMA-376 part 1, 18.17.4.1 has it (from memory), so
/// days before March 1900 are none here.
pub(super) fn day(count: Decimal, from_1904: bool) -> Option<Date> {
    use rust_decimal::prelude::ToPrimitive;
    let days = count.trunc().to_i64()?;
    let first = if from_1904 { Date::constant(1904, 1, 1) } else { Date::constant(1899, 12, 30) };
    let sound = if from_1904 { 0..=72_000 } else { 61..=73_500 };
    sound.contains(&days).then(|| first.checked_add(jiff::Span::new().days(days)).ok()).flatten()
}

/// The letters of a column, counted from zero.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Letters(pub usize);

impl fmt::Display for Letters {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (mut rest, mut letters) = (self.0 + 1, Vec::new());
        while rest > 0 {
            letters.push(char::from(b'A' + ((rest - 1) % 26) as u8));
            rest = (rest - 1) / 26;
        }
        f.write_str(&letters.iter().rev().collect::<String>())
    }
}

/// Reads the name of a cell, such as `B12`: column from zero, row from one.
pub(super) fn named(name: &str) -> Option<(usize, usize)> {
    let name = name.replace('$', "");
    let split = name.find(|c: char| c.is_ascii_digit())?;
    let (letters, digits) = name.split_at(split);
    if letters.is_empty() || letters.len() > 3 || digits.len() > 7 {
        return None;
    }
    let mut column = 0usize;
    for c in letters.bytes() {
        column = column * 26 + usize::from(c.to_ascii_uppercase().checked_sub(b'A').filter(|n| *n < 26)?) + 1;
    }
    Some((column - 1, digits.parse().ok().filter(|row| *row > 0)?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn cells_are_named_as_spreadsheets_name_them() {
        for (name, column, row) in
            [("A1", 0, 1), ("Z9", 25, 9), ("AA10", 26, 10), ("XFD1048576", 16383, 1_048_576)]
        {
            assert_eq!(named(name), Some((column, row)), "{name}");
            assert_eq!(Letters(column).to_string(), name.trim_end_matches(|c: char| c.is_ascii_digit()));
        }
        for name in ["", "A", "12", "A0", "ABCD1", "A99999999", "?1"] {
            assert_eq!(named(name), None, "{name}");
        }
    }

    #[test]
    fn days_are_counted_from_both_beginnings() {
        // 45,658 days from the end of 1899 are January 1, 2025: 125 years of 365 days, 31 leap days, and the one that
        // never was. From the beginning of 1904 it is 1,462 days less.
        assert_eq!(day(Decimal::from(45_658), false), Some(date(2025, 1, 1)));
        assert_eq!(day(Decimal::from(44_196), true), Some(date(2025, 1, 1)));
        assert_eq!(day("45658.75".parse().unwrap(), false), Some(date(2025, 1, 1)));
        for count in [-1, 0, 60, 99_999_999] {
            assert_eq!(day(Decimal::from(count), false), None, "{count}");
        }
    }

    #[test]
    fn a_number_is_shown_in_the_digits_of_its_format() {
        for (number, code, shown) in [
            (2134, "00000", "02134"),
            (21341234, "00000-0000", "02134-1234"),
            (412, "0000", "0412"),
            (123456, "00000", "123456"),
        ] {
            assert_eq!(in_digits(Decimal::from(number), code), shown);
        }
    }

    #[test]
    fn what_looks_like_a_blank_is_one() {
        assert_eq!(tidy("\u{a0}Ana\u{a0} Alder \t"), "Ana Alder");
        assert_eq!(tidy("12 Alder Lane \r\nApt 4"), "12 Alder Lane\nApt 4");
    }
}
