//! A grid read as rows about clients: where the headings are, what each column means, what each cell says.
//!
//! Comes in: a [`Grid`]. Goes out: [`Row`]s, and everything that is wrong with the table or was understood. What is
//! hidden in the spreadsheet is left out and said, unless it is asked for.

use super::cells::{Cell, Grid, GridRow, Letters, MAX_MERGED, Range, Value};
use super::columns::{self, Column, Field, Meant, Takes};
use super::remark::{Remark, Spot};
use super::values::{self, Around, Understood};
use crate::case::covered;
use crate::wording::{counted, listed};
use std::collections::{BTreeMap, BTreeSet};

/// What one cell says of a client.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Given {
    /// The text as a case holds it.
    pub text: String,
    /// Where.
    pub at: Spot,
}

/// One row about a client.
#[derive(Clone, Debug, Default)]
pub struct Row {
    /// Its number, from one.
    pub number: usize,
    /// What it says.
    pub given: BTreeMap<Field, Given>,
    /// Something in it cannot be read, so nothing of it is taken.
    pub refused: bool,
}

impl Row {
    pub(super) fn text(&self, field: Field) -> Option<&str> {
        self.given.get(&field).map(|one| one.text.as_str())
    }

    /// Where a field stands, else the row.
    pub(super) fn spot(&self, field: Field) -> Spot {
        self.given.get(&field).map_or_else(|| Spot::row(self.number), |one| one.at.clone())
    }
}

/// How many rows may stand above the headings.
const ABOVE: usize = 30;

/// What is found of the headings.
pub(super) struct Headings {
    /// Where they are among the rows with something in them.
    at: usize,
    columns: Vec<(usize, String, Meant)>,
}

/// Finds the row of headings: the one of the first rows with the most headings that are known, two at
/// least.
pub(super) fn headings(grid: &Grid) -> Option<Headings> {
    let headed = |row: &GridRow| -> Vec<(usize, String)> {
        let text = |(column, cell): &(usize, Cell)| match &cell.value {
            Value::Text(_) => Some((*column, cell.words()?.replace('\n', " "))),
            _ => None,
        };
        row.cells.iter().filter_map(text).collect()
    };
    let known =
        |row: &GridRow| headed(row).iter().filter(|(_, words)| columns::named(words).is_some()).count();
    let rows = grid.rows.iter().take(ABOVE).enumerate().map(|(at, row)| (at, known(row)));
    // The first of equals.
    let (at, _) = rows.filter(|(_, known)| *known > 1).rev().max_by_key(|(_, known)| *known)?;
    let columns = headed(&grid.rows[at]).into_iter().map(|(column, words)| {
        let meant = columns::meant(&words);
        (column, words, meant)
    });
    Some(Headings { at, columns: columns.collect() })
}

/// Reads the rows under the headings. Where the columns themselves are in doubt, no row is read.
pub(super) fn read(
    grid: &Grid,
    headings: Headings,
    with_hidden: bool,
    remarks: &mut Vec<Remark>,
) -> Vec<Row> {
    let Headings { at, columns } = headings;
    let heading_row = grid.rows[at].number;
    let Some(columns) = columns_of(grid, heading_row, columns, with_hidden, remarks) else {
        return Vec::new();
    };
    let mut rows: Vec<&GridRow> = grid.rows[at + 1..].iter().collect();
    let hidden: Vec<usize> = rows.iter().filter(|row| row.hidden).map(|row| row.number).collect();
    if !hidden.is_empty() {
        said_of_hidden(&hidden, with_hidden, remarks);
        rows.retain(|row| with_hidden || !row.hidden);
    }
    let merged = merged(grid, &columns, remarks);
    let table = Reading { grid, merged, columns: &columns, day_first: day_first(&rows, &columns) };
    let mut understood = BTreeMap::new();
    let mut read = Vec::new();
    for row in &rows {
        if let Some(row) = table.row(row, remarks, &mut understood) {
            read.push(row);
        }
    }
    table.totals(&mut read, remarks);
    for ((how, letters), (first, words, count)) in understood {
        let column = columns.iter().find(|(column, ..)| *column == letters.0);
        let at = Spot { row: Some(first), column: column.map(|(_, heading, _)| (letters, heading.clone())) };
        let more = match count {
            1 => String::new(),
            n => format!("; so in {}", counted(n, "cell of the column", "cells of the column")),
        };
        remarks.push(Remark::note(how.code(), at, format!("{words}{more}")));
    }
    read
}

/// What each column means; nothing where one of them is in doubt.
fn columns_of(
    grid: &Grid,
    heading_row: usize,
    found: Vec<(usize, String, Meant)>,
    with_hidden: bool,
    remarks: &mut Vec<Remark>,
) -> Option<Vec<(usize, String, &'static Column)>> {
    let mut columns: Vec<(usize, String, &'static Column)> = Vec::new();
    let (mut unknown, mut hidden, mut doubt) = (Vec::new(), Vec::new(), false);
    let spot = |column: usize, heading: &str| Spot {
        row: Some(heading_row),
        column: Some((Letters(column), covered(heading))),
    };
    for (column, heading, meant) in found {
        let shown = format!("{} ({})", Letters(column), covered(&heading));
        if grid.hidden_columns.contains(&column) && !matches!(meant, Meant::Unknown) {
            hidden.push(shown.clone());
            if !with_hidden {
                continue;
            }
        }
        match meant {
            Meant::Unknown => unknown.push(shown),
            Meant::Near(names) => {
                doubt = true;
                let message = format!("`{}` is not the heading of a column that is read", covered(&heading));
                remarks.push(Remark::error("heading-unknown", spot(column, &heading), message).help(
                    format!(
                        "write `{}` if that is meant, or a heading that is not so near to it",
                        names.join("` or `")
                    ),
                ));
            }
            Meant::Column(meant) => {
                if let Some((other, _, _)) = columns.iter().find(|(_, _, one)| one.field == meant.field) {
                    doubt = true;
                    let message = format!(
                        "the columns {} and {} both are `{}`",
                        Letters(*other),
                        Letters(column),
                        meant.name
                    );
                    remarks.push(
                        Remark::error("heading-twice", spot(column, &heading), message)
                            .help("head the one that is not meant otherwise, or take it out"),
                    );
                }
                columns.push((column, heading, meant));
            }
        }
    }
    if !hidden.is_empty() {
        let (message, help) = match with_hidden {
            true => (
                format!("hidden columns are read: {}", listed(&hidden)),
                "leave out `--hidden` to leave them out",
            ),
            false => (
                format!("hidden columns are not read: {}", listed(&hidden)),
                "show them in the spreadsheet, or say `--hidden` to read what is hidden",
            ),
        };
        remarks.push(Remark::warning("hidden-columns", Spot::default(), message).help(help));
    }
    if !unknown.is_empty() {
        let message = format!(
            "{} not read: {}",
            if unknown.len() == 1 { "a column is" } else { "columns are" },
            listed(&unknown)
        );
        remarks.push(Remark::note("columns-not-read", Spot::default(), message));
    }
    if !doubt && !columns.iter().any(|(_, _, one)| one.field == Field::Reference) {
        doubt = true;
        remarks.push(
            Remark::error("no-reference", Spot::row(heading_row), "no column is the client's reference")
                .help("head the column with your reference for each client `reference`, and show it where it is hidden"),
        );
    }
    (!doubt).then_some(columns)
}

fn said_of_hidden(hidden: &[usize], with_hidden: bool, remarks: &mut Vec<Remark>) {
    let ten: Vec<String> = hidden.iter().take(10).map(usize::to_string).collect();
    let more = match hidden.len().saturating_sub(10) {
        0 => String::new(),
        n => format!(" and {n} more"),
    };
    let rows = format!("{}{more}", if more.is_empty() { listed(&ten) } else { ten.join(", ") });
    let count = counted(hidden.len(), "hidden row is", "hidden rows are");
    let (message, help) = match with_hidden {
        true => (format!("{count} read: {rows}"), "leave out `--hidden` to leave them out"),
        false => (
            format!("{count} not read: {rows}"),
            "show them in the spreadsheet, also those that a filter hides, or say `--hidden` to read what is hidden",
        ),
    };
    remarks.push(Remark::warning("hidden-rows", Spot::default(), message).help(help));
}

/// The columns of days in which one can only be meant with the day first.
fn day_first(rows: &[&GridRow], columns: &[(usize, String, &'static Column)]) -> BTreeSet<usize> {
    let days = columns.iter().filter(|(_, _, one)| matches!(one.takes, Takes::Day));
    let is = |column: usize| {
        rows.iter().any(|row| match row.cell(column).map(|cell| &cell.value) {
            Some(Value::Text(text)) => values::is_day_first(text),
            _ => false,
        })
    };
    days.map(|(column, ..)| *column).filter(|column| is(*column)).collect()
}

/// What was understood: in which column first in which row, in which words, and how often.
type UnderstoodCells = BTreeMap<(Understood, Letters), (usize, String, usize)>;

/// The ranges of merged cells, by row, that tear apart what rows and columns say.
fn merged(
    grid: &Grid,
    columns: &[(usize, String, &'static Column)],
    remarks: &mut Vec<Remark>,
) -> BTreeMap<usize, Vec<Range>> {
    let mut by_row: BTreeMap<usize, Vec<Range>> = BTreeMap::new();
    let mut count = 0;
    for range in &grid.merged {
        let read = columns.iter().filter(|(one, ..)| (range.columns.0..=range.columns.1).contains(one));
        if read.count() < if range.rows.0 == range.rows.1 { 2 } else { 1 } {
            continue;
        }
        let from = grid.rows.partition_point(|row| row.number < range.rows.0);
        for row in grid.rows[from..].iter().take_while(|row| row.number <= range.rows.1) {
            by_row.entry(row.number).or_default().push(*range);
            count += 1;
        }
        if count > MAX_MERGED {
            let message = "so many cells are merged that no row can be told from another";
            remarks.push(
                Remark::error("merged-cells", Spot::default(), message)
                    .help("take the merging back in the spreadsheet"),
            );
            break;
        }
    }
    by_row
}

struct Reading<'g> {
    merged: BTreeMap<usize, Vec<Range>>,
    grid: &'g Grid,
    columns: &'g [(usize, String, &'static Column)],
    day_first: BTreeSet<usize>,
}

impl Reading<'_> {
    /// Reads one row; nothing where it says nothing of a client.
    fn row(&self, row: &GridRow, remarks: &mut Vec<Remark>, understood: &mut UnderstoodCells) -> Option<Row> {
        for (column, cell) in &row.cells {
            let read = self.columns.iter().any(|(one, ..)| one == column);
            if !read && cell.words().is_some_and(|words| values::has_number(&words)) {
                let at = Spot { row: Some(row.number), column: Some((Letters(*column), String::new())) };
                let message = "a full taxpayer number, or what reads like one, is in a column that is not read (not shown)";
                remarks.push(
                    Remark::warning("taxpayer-number", at, message).help(
                        "nothing of it was kept; keep the last four digits at most, in the list as well",
                    ),
                );
            }
        }
        let mut out = Row { number: row.number, ..Row::default() };
        let mut cells: Vec<(&(usize, String, &'static Column), &Cell)> =
            self.columns.iter().filter_map(|one| Some((one, row.cell(one.0)?))).collect();
        if cells.is_empty() {
            return None;
        }
        // Nothing in a row of sums is about a client, its errors included.
        let named = cells.iter().find(|((_, _, one), _)| one.field == Field::Reference);
        let is_sum = match named.and_then(|(_, cell)| cell.words()) {
            Some(words) => is_total(&words),
            None => cells.iter().any(|(_, cell)| cell.words().is_some_and(|words| is_total(&words))),
        };
        if is_sum {
            let at = Spot::row(row.number);
            out.given.insert(Field::Reference, Given { text: String::new(), at });
            return Some(out);
        }
        // A ZIP code is read by its state.
        cells.sort_by_key(|((_, _, column), _)| column.field);
        for ((column, heading, meant), cell) in cells {
            let at = Spot { row: Some(row.number), column: Some((Letters(*column), covered(heading))) };
            if let Some(range) = self.merged(row.number, *column) {
                let message =
                    format!("the cell is merged with others, in rows {} to {}", range.rows.0, range.rows.1);
                let message = if range.rows.0 == range.rows.1 {
                    "the cell is merged with others of its row".to_string()
                } else {
                    message
                };
                remarks.push(
                    Remark::error("merged-cells", at, message)
                        .help("take the merging back in the spreadsheet and write the value into each row"),
                );
                out.refused = true;
                continue;
            }
            let state = match meant.field {
                Field::Zip => out.text(Field::State),
                Field::HomeZip => out.text(Field::HomeState),
                _ => None,
            };
            let around = Around {
                state,
                from_1904: self.grid.from_1904,
                day_first: self.day_first.contains(column),
                name: list_of(meant),
            };
            match values::read(cell, meant.takes, around) {
                Ok(said) => {
                    for (how, written) in said.understood {
                        let words = how.words(&written, said.text.as_deref().unwrap_or_default());
                        let entry =
                            understood.entry((how, Letters(*column))).or_insert((row.number, words, 0));
                        entry.2 += 1;
                    }
                    if let Some(text) = said.text {
                        out.given.insert(meant.field, Given { text, at });
                    }
                }
                Err(refusal) => {
                    let code = match refusal.message.contains("taxpayer number") {
                        true => "taxpayer-number",
                        false => "cell-value",
                    };
                    remarks.push(Remark::error(code, at, refusal.message).help(refusal.help));
                    out.refused = true;
                }
            }
        }
        // A value of a merged cell stands in the first one only.
        (out.refused || !out.given.is_empty()).then_some(out)
    }

    /// The range that a cell is merged into with other cells.
    fn merged(&self, row: usize, column: usize) -> Option<Range> {
        let inside = |range: &&Range| (range.columns.0..=range.columns.1).contains(&column);
        self.merged.get(&row)?.iter().find(inside).copied()
    }

    /// Takes rows without a reference out: sums at the end and between; anything else is refused.
    fn totals(&self, rows: &mut Vec<Row>, remarks: &mut Vec<Remark>) {
        let last =
            rows.iter().rposition(|row| row.text(Field::Reference).is_some_and(|text| !text.is_empty()));
        let mut sums = Vec::new();
        let mut kept = Vec::new();
        for (n, mut row) in std::mem::take(rows).into_iter().enumerate() {
            let is_sum = match row.text(Field::Reference) {
                Some(text) => text.is_empty(),
                // The cell of the reference is one of those that could not be read, or there is none.
                None if row.refused => false,
                None => {
                    let amounts = row.given.keys().all(|field| matches!(field.column().takes, Takes::Amount));
                    amounts && last.is_none_or(|last| n > last)
                }
            };
            if is_sum {
                sums.push(row.number.to_string());
                continue;
            }
            if row.text(Field::Reference).is_none() && !row.refused {
                let message = "the row has no reference, so nobody can tell whose it is";
                remarks.push(
                    Remark::error("no-reference", Spot::row(row.number), message)
                        .help("write the client's reference, or take the row out of the list"),
                );
                row.refused = true;
            }
            kept.push(row);
        }
        *rows = kept;
        if !sums.is_empty() {
            let message = match sums.as_slice() {
                [one] => format!("row {one} is a sum of the list and is not read"),
                several => format!("rows {} are sums of the list and are not read", listed(several)),
            };
            remarks.push(Remark::note("sums-not-read", Spot::default(), message));
        }
    }
}

/// The list of words that a column takes, by the name that the case format has for it.
fn list_of(column: &Column) -> &'static str {
    match column.field {
        Field::HomeUse => "use",
        Field::HeldAs => "held_as",
        _ => column.name,
    }
}

/// Says whether a text heads a row of sums.
fn is_total(text: &str) -> bool {
    let plain: String = text.chars().filter(|c| c.is_alphabetic()).flat_map(char::to_lowercase).collect();
    matches!(
        plain.as_str(),
        "total" | "totals" | "grandtotal" | "subtotal" | "sum" | "sums" | "average" | "count"
    )
}
