//! The register as a table for a terminal of a hundred columns.
//!
//! Comes in: a [`Register`]. Goes out: lines. Years for which there is no room are left out and said; data and paper
//! have them all.

use super::row::{Account, Row};
use super::rows::Register;
use super::words::{self, Amounts, Windows, counted, visible};
use crate::case::TaxYear;
use crate::credit::window::Unclaimed;
use std::io::{self, Write};

/// How wide a line is at most.
const WIDTH: usize = 100;
/// Between columns.
const GAP: usize = 2;
/// A longer reference pushes its row aside.
const WIDEST_REFERENCE: usize = 24;

/// Where the words of a column stand.
#[derive(Clone, Copy, PartialEq)]
enum Side {
    Left,
    Right,
    /// At the right, with room for a star behind the amounts.
    Starred,
}

impl Side {
    /// How much stays free behind a cell.
    fn kept_free(self, cell: &str) -> usize {
        usize::from(self == Side::Starred && !cell.ends_with('*'))
    }
}

/// A column: the two lines of its heading and its cells.
struct Column {
    head: [String; 2],
    side: Side,
    width: usize,
}

/// Writes the table.
pub fn write(register: &Register, out: &mut dyn Write) -> io::Result<()> {
    let table = Table::of(register);
    let rule = "-".repeat(table.width());
    let cases = counted(register.rows.len(), "case", "cases");
    writeln!(out, "Energy credits of {cases} on {}, law edition {}\n", register.on, register.law)?;
    for line in 0..2 {
        let heads = table.columns.iter().map(|column| column.head[line].clone()).collect();
        table.put(out, heads)?;
    }
    writeln!(out, "{rule}")?;
    for row in &register.rows {
        match row.account() {
            Some(account) => table.put(out, table.cells(row, account))?,
            None => {
                let (name, why) = (visible(row.name()), visible(&row.found.failure().unwrap_or_default()));
                writeln!(out, "{name:0$}{1}{why}", table.columns[0].width, " ".repeat(GAP))?;
            }
        }
        if !row.names.is_empty() {
            writeln!(out, "  {}", visible(&row.names.join(", ")))?;
        }
    }
    writeln!(out, "{rule}")?;
    table.put(out, table.totals())?;
    writeln!(out)?;
    for line in table.legend() {
        writeln!(out, "{line}")?;
    }
    windows(register, out)?;
    packets(register, out)
}

/// A register about to be written.
struct Table<'r> {
    register: &'r Register,
    amounts: Amounts,
    columns: Vec<Column>,
}

impl<'r> Table<'r> {
    /// Takes as many years as there is room for, those nearest to the day at first.
    fn of(register: &'r Register) -> Table<'r> {
        let nearest = words::nearest(register);
        let with = |years: usize| {
            let mut years = nearest[..years].to_vec();
            years.sort();
            let mut table = Table { register, amounts: Amounts::of(register, years), columns: Vec::new() };
            table.columns = table.measured();
            table
        };
        let mut table = with(0);
        for years in 1..=nearest.len() {
            let wider = with(years);
            if wider.width() > WIDTH {
                break;
            }
            table = wider;
        }
        table
    }

    fn width(&self) -> usize {
        self.columns.iter().map(|column| column.width + GAP).sum::<usize>() - GAP
    }

    /// Makes the columns, as wide as their widest cell.
    fn measured(&self) -> Vec<Column> {
        let head = |above: &str, below: &str, side| Column {
            head: [above.to_string(), below.to_string()],
            side,
            width: above.len().max(below.len()),
        };
        let mut columns = vec![head("", "reference", Side::Left)];
        for (n, year) in self.amounts.years.iter().enumerate() {
            columns.push(head(if n == 0 { "into" } else { "" }, &year.to_string(), Side::Starred));
        }
        columns.extend([
            head("", "earned", Side::Right),
            head("", "used", Side::Right),
            head("lost", "25C", Side::Right),
            head("if: used", "up in", Side::Right),
            head("papers", "lacking", Side::Right),
            head("ques-", "tions", Side::Right),
            head("can be amended", "year, until", Side::Left),
        ]);
        let accounts = self.register.rows.iter().filter_map(|row| Some((row, row.account()?)));
        let mut widen = |cells: Vec<String>| {
            for (column, cell) in columns.iter_mut().zip(cells) {
                column.width = column.width.max(cell.chars().count() + column.side.kept_free(&cell));
            }
        };
        widen(self.totals());
        accounts.for_each(|(row, account)| widen(self.cells(row, account)));
        columns[0].width = columns[0].width.min(WIDEST_REFERENCE);
        columns
    }

    fn cells(&self, row: &Row, account: &Account) -> Vec<String> {
        let mut cells = vec![row.name().to_string()];
        cells.extend(self.amounts.row(account));
        cells.push(words::used_up(account));
        cells.push(words::missing(account));
        cells.push(words::questions(account.questions, account.blocking));
        cells.push(words::soonest(account, self.register.on));
        cells
    }

    fn totals(&self) -> Vec<String> {
        let totals = &self.register.totals;
        let mut cells = vec!["total".to_string()];
        cells.extend(self.amounts.totals(totals));
        cells.push(String::new());
        cells.push(words::grouped(totals.missing.1));
        cells.push(words::questions(totals.questions.1, totals.blocking));
        cells.push(counted(totals.open, "year", "years"));
        cells
    }

    /// Writes cells into their columns, without blanks at the end of the line.
    fn put(&self, out: &mut dyn Write, cells: Vec<String>) -> io::Result<()> {
        let mut line = String::new();
        for (column, cell) in self.columns.iter().zip(cells) {
            let free = column.side.kept_free(&cell);
            let pad = " ".repeat(column.width.saturating_sub(cell.chars().count() + free));
            match column.side {
                Side::Left => line.extend([cell, pad]),
                Side::Right | Side::Starred => line.extend([pad, cell, " ".repeat(free)]),
            }
            line.push_str(&" ".repeat(GAP));
        }
        writeln!(out, "{}", line.trim_end())
    }

    /// Says what the columns mean, as far as it does not go without saying, and what is not shown.
    fn legend(&self) -> Vec<String> {
        let (register, totals) = (self.register, &self.register.totals);
        let this_year = TaxYear::of(register.on);
        let mut lines = vec![
            "into YEAR: 25D credit carried into that year".to_string(),
            format!("earned, used, lost: both credits as computed, tax years before {this_year}"),
        ];
        let accounts = || register.rows.iter().filter_map(|row| row.account());
        if accounts().any(|one| one.balances.iter().any(|one| one.expected)) {
            lines.push("*  expected: it comes from a return that is not filed yet".to_string());
        }
        if accounts().any(|one| one.ahead.is_some()) {
            lines.push(
                "if: if tax is as the case plans it, else as on its last return; no forecast".to_string(),
            );
        }
        if totals.papers_unsaid > 0 {
            lines.push("-  the case lists no papers, so nobody knows which are missing".to_string());
        }
        if totals.blocking > 0 {
            lines.push("(n)  of these questions, so many hold up a packet".to_string());
        }
        if totals.perhaps_open > 0 {
            lines.push(
                "?  the case does not say what the filed return claims; enter it under `claimed`".to_string(),
            );
        }
        let unseen: Vec<String> = register
            .years
            .iter()
            .filter(|year| !self.amounts.years.contains(year))
            .map(ToString::to_string)
            .collect();
        if !unseen.is_empty() {
            lines.push(format!("For want of room not shown: {}; --as csv has all years", unseen.join(", ")));
        }
        if totals.failed > 0 {
            lines.push(format!("{} not counted, in no sum", counted(totals.failed, "case is", "cases are")));
        }
        lines
    }
}

/// Writes the years that can still be amended, and those for which it is too late.
fn windows(register: &Register, out: &mut dyn Write) -> io::Result<()> {
    let windows = Windows::of(register);
    if let Some((name, one)) = windows.perhaps.first() {
        let years = counted(windows.perhaps.len(), "open year", "open years");
        writeln!(
            out,
            "{years} of which the case does not say what the return claims; the first to close: {} of {name} on {}",
            one.year, one.window.closes
        )?;
    }
    if !windows.open.is_empty() {
        writeln!(out, "\nYears that can still be amended, the first to close at the head")?;
        let width = names_width(&windows.open);
        writeln!(out, "{:10}  {:>5}  {:width$}  year  left out", "closes", "days", "reference")?;
        for (name, one) in &windows.open {
            let days = words::days_left(register.on, one.window.closes);
            let withheld = match words::earlier_for_withholding(&one.window) {
                Some(day) if register.on <= day => format!("; withheld tax only until {day}"),
                Some(day) => format!("; withheld tax out of reach since {day}"),
                None => String::new(),
            };
            let (closes, year, left_out) = (one.window.closes, one.year, words::left_out(one));
            writeln!(out, "{closes}  {days:>5}  {name:width$}  {year}  {left_out}{withheld}")?;
        }
    }
    if !windows.closed.is_empty() {
        writeln!(out, "\nToo late to amend")?;
        let width = names_width(&windows.closed);
        writeln!(out, "{:10}  {:5}  {:width$}  year  left out", "closed", "", "reference")?;
        for (name, one) in &windows.closed {
            let (closed, year, left_out) = (one.window.closes, one.year, words::left_out(one));
            writeln!(out, "{closed}         {name:width$}  {year}  {left_out}")?;
        }
    }
    Ok(())
}

/// Writes the latest packet of each case, where packets were looked for.
fn packets(register: &Register, out: &mut dyn Write) -> io::Result<()> {
    let latest: Vec<_> =
        register.rows.iter().filter_map(|row| Some((row.name(), row.packets.last()?))).collect();
    if latest.is_empty() {
        return Ok(());
    }
    writeln!(out, "\nLatest packets")?;
    let names = latest.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0).max("reference".len());
    let packets =
        latest.iter().map(|(_, one)| one.name.chars().count()).max().unwrap_or(0).max("packet".len());
    writeln!(out, "{:names$}  year  {:packets$}  case     seal", "reference", "packet")?;
    for (name, one) in latest {
        // The data has the digest whole; a line of the terminal has no room for it.
        let seal = match &one.digest {
            Some(digest) => digest.chars().take(16).collect(),
            None => "draft".to_string(),
        };
        let case = if one.current { "as it is" } else { "changed " };
        writeln!(out, "{name:names$}  {}  {:packets$}  {case} {seal}", one.year, one.name)?;
    }
    Ok(())
}

fn names_width(list: &[(&str, &Unclaimed)]) -> usize {
    list.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0).max("reference".len())
}
