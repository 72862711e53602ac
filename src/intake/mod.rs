//! A table of clients taken into a firm's cases.
//!
//! Comes in: the bytes of a workbook or of delimited text, and the cases that stand. Goes out: for each client the text
//! of a new case or of a changed one, and everything that is wrong with the table or was understood. Reads and writes no
//! file. What a case says already is never written over.

mod cases;
mod cells;
pub mod columns;
mod delimited;
pub mod remark;
mod rows;
pub mod season;
mod standing;
mod values;
pub mod workbook;
mod xlsx;

pub use cases::{Came, Client, Standing, clients, take};
pub use cells::{MAX_BYTES, NoTable};
pub use rows::Row;

use crate::case::covered;
use crate::finding::Severity;
use crate::wording::listed;
use cells::Grid;
use remark::{Remark, Spot};

/// A table as it was read.
#[derive(Debug, Default)]
pub struct Table {
    /// The name of the sheet; none in a file without sheets.
    pub sheet: Option<String>,
    /// The rows about clients.
    pub rows: Vec<Row>,
    /// What is said of it.
    pub remarks: Vec<Remark>,
}

/// Reads a table. `tab` names the sheet, where a workbook has several; what is hidden is read only `with_hidden`.
pub fn read(bytes: &[u8], tab: Option<&str>, with_hidden: bool) -> Result<Table, NoTable> {
    if bytes.len() > MAX_BYTES {
        return Err(xlsx::too_large());
    }
    if bytes.iter().all(u8::is_ascii_whitespace) {
        return Err(NoTable::new("the file is empty", "name the list of clients"));
    }
    let mut table = Table::default();
    let grid = match bytes.starts_with(xlsx::PACKED) {
        true => {
            let (grids, hidden) = xlsx::read(bytes)?;
            if !hidden.is_empty() {
                let names: Vec<String> = hidden.iter().map(|name| format!("`{}`", covered(name))).collect();
                let message = format!(
                    "{} not read: {}",
                    if names.len() == 1 { "a hidden sheet is" } else { "hidden sheets are" },
                    listed(&names)
                );
                table.remarks.push(Remark::note("sheets-not-read", Spot::default(), message));
            }
            chosen(grids, tab)?
        }
        false if tab.is_some() => {
            return Err(NoTable::new("a file of delimited text has no sheets", "leave out `--tab`"));
        }
        false => delimited::read(bytes)?,
    };
    table.sheet.clone_from(&grid.sheet);
    let Some(headings) = rows::headings(&grid) else {
        return Err(no_headings(&grid));
    };
    table.rows = rows::read(&grid, headings, with_hidden, &mut table.remarks);
    if table.rows.is_empty() && table.remarks.iter().all(|one| one.severity != Severity::Error) {
        return Err(NoTable::new(
            "no row under the headings is about a client",
            "look whether the rows are hidden, or the file is the one that is meant",
        ));
    }
    Ok(table)
}

fn no_headings(grid: &Grid) -> NoTable {
    let of =
        grid.sheet.as_ref().map_or_else(String::new, |name| format!(" of the sheet `{}`", covered(name)));
    NoTable::new(
        format!("none of the first rows{of} has headings that are known"),
        "head the columns, at least `reference` and one more, such as `name` or `balance`; the README lists them all",
    )
}

/// Chooses the sheet with the list: the one that is named, else the only one with headings.
fn chosen(mut grids: Vec<Grid>, tab: Option<&str>) -> Result<Grid, NoTable> {
    let name = |grid: &Grid| covered(grid.sheet.as_deref().unwrap_or_default());
    let names =
        |grids: &[Grid]| listed(&grids.iter().map(|grid| format!("`{}`", name(grid))).collect::<Vec<_>>());
    if let Some(tab) = tab {
        let found = grids.iter().position(|grid| grid.sheet.as_deref() == Some(tab));
        return match found {
            Some(n) => Ok(grids.swap_remove(n)),
            None => Err(NoTable::new(
                format!("the workbook has no sheet `{}` that is shown", covered(tab)),
                format!("write one of: {}", names(&grids)),
            )),
        };
    }
    let headed: Vec<usize> = (0..grids.len()).filter(|n| rows::headings(&grids[*n]).is_some()).collect();
    match headed.as_slice() {
        [one] => Ok(grids.swap_remove(*one)),
        [] if grids.is_empty() => {
            Err(NoTable::new("every sheet of the workbook is hidden", "show the one with the list"))
        }
        [] => match grids.len() {
            1 => Ok(grids.swap_remove(0)),
            _ => Err(NoTable::new(
                format!("no sheet of the workbook has headings that are known: {}", names(&grids)),
                "head the columns, at least `reference` and one more, such as `name` or `balance`; the README lists them all",
            )),
        },
        several => {
            let several: Vec<String> = several.iter().map(|n| format!("`{}`", name(&grids[*n]))).collect();
            Err(NoTable::new(
                format!("several sheets read like a list of clients: {}", listed(&several)),
                "say which with `--tab NAME`, one after another",
            ))
        }
    }
}
