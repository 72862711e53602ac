//! The register as a table for a terminal of a hundred columns.
//!
//! Comes in: a [`Register`]. Goes out: lines. Years for which there is no room are left out and said; data and paper
//! have them all.

use super::row::{Account, Row};
use super::rows::Register;
use super::words::{self, Amounts, Windows};
use crate::case::TaxYear;
use crate::characters::visible;
use crate::columns::{Columns, GAP, Side};
use crate::wording::{count, counted};
use std::io::{self, Write};

/// How wide a line is at most.
const WIDTH: usize = 100;
/// A longer reference pushes its row aside.
const WIDEST_REFERENCE: usize = 24;

/// Writes the table.
pub fn write(register: &Register, out: &mut dyn Write) -> io::Result<()> {
    let table = Table::of(register);
    let rule = "-".repeat(table.columns.width());
    let cases = counted(register.rows.len(), "case", "cases");
    writeln!(out, "Energy credits of {cases} on {}, law edition {}\n", register.on, register.law)?;
    for heads in &table.heads {
        writeln!(out, "{}", table.columns.line(heads))?;
    }
    writeln!(out, "{rule}")?;
    for row in &register.rows {
        match row.account() {
            Some(account) => writeln!(out, "{}", table.columns.line(&table.cells(row, account)))?,
            None => {
                let (name, why) = (visible(row.name()), visible(&row.found.failure().unwrap_or_default()));
                writeln!(out, "{name:0$}{1}{why}", table.columns.width_of(0), " ".repeat(GAP))?;
            }
        }
        if !row.names.is_empty() {
            writeln!(out, "  {}", visible(&row.names.join(", ")))?;
        }
    }
    writeln!(out, "{rule}")?;
    writeln!(out, "{}\n", table.columns.line(&table.totals()))?;
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
    /// The two lines of the heading.
    heads: [Vec<String>; 2],
    columns: Columns,
}

impl<'r> Table<'r> {
    /// Takes as many years as there is room for, those nearest to the day at first.
    fn of(register: &'r Register) -> Table<'r> {
        let nearest = words::nearest(register);
        let with = |years: usize| {
            let mut years = nearest[..years].to_vec();
            years.sort();
            Table::measured(register, Amounts::of(register, years))
        };
        let mut table = with(0);
        for years in 1..=nearest.len() {
            let wider = with(years);
            if wider.columns.width() > WIDTH {
                break;
            }
            table = wider;
        }
        table
    }

    /// Makes the columns, as wide as their widest cell.
    fn measured(register: &'r Register, amounts: Amounts) -> Table<'r> {
        let mut columns = vec![("", "reference".to_string(), Side::Left)];
        for (n, year) in amounts.years.iter().enumerate() {
            columns.push((if n == 0 { "into" } else { "" }, year.to_string(), Side::Starred));
        }
        let rest = [
            ("", "earned", Side::Right),
            ("", "used", Side::Right),
            ("lost", "25C", Side::Right),
            ("if: used", "up in", Side::Right),
            ("papers", "lacking", Side::Right),
            ("ques-", "tions", Side::Right),
            ("can be amended", "year, until", Side::Left),
        ];
        columns.extend(rest.map(|(above, below, side)| (above, below.to_string(), side)));
        let wide = |(above, below, side): &(&str, String, Side)| (*side, above.len().max(below.len()));
        let mut table = Table {
            register,
            amounts,
            columns: Columns::new(columns.iter().map(wide)),
            heads: [
                columns.iter().map(|(above, ..)| above.to_string()).collect(),
                columns.into_iter().map(|(_, below, _)| below).collect(),
            ],
        };
        table.columns.widen(&table.totals());
        for (row, account) in register.rows.iter().filter_map(|row| Some((row, row.account()?))) {
            table.columns.widen(&table.cells(row, account));
        }
        table.columns.at_most(0, WIDEST_REFERENCE);
        table
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
        cells.push(count(totals.missing.1));
        cells.push(words::questions(totals.questions.1, totals.blocking));
        cells.push(counted(totals.open, "year", "years"));
        cells
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
        let mut lines = vec![cells(["closes", "days", "reference", "year", "left out"])];
        for (name, one) in &windows.open {
            let days = words::days_left(register.on, one.window.closes);
            let withheld = match words::earlier_for_withholding(&one.window) {
                Some(day) if register.on <= day => format!("; withheld tax only until {day}"),
                Some(day) => format!("; withheld tax out of reach since {day}"),
                None => String::new(),
            };
            let left_out = words::left_out(one) + &withheld;
            let (closes, days, year) =
                (one.window.closes.to_string(), days.to_string(), one.year.to_string());
            lines.push(cells([&closes, &days, name, &year, &left_out]));
        }
        set(out, YEARS, &lines)?;
    }
    if !windows.closed.is_empty() {
        writeln!(out, "\nToo late to amend")?;
        let mut lines = vec![cells(["closed", "", "reference", "year", "left out"])];
        for (name, one) in &windows.closed {
            let (closed, year) = (one.window.closes.to_string(), one.year.to_string());
            lines.push(cells([&closed, "", name, &year, &words::left_out(one)]));
        }
        set(out, YEARS, &lines)?;
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
    let mut lines = vec![cells(["reference", "year", "packet", "case     seal"])];
    for (name, one) in latest {
        // The data has the digest whole; a line of the terminal has no room for it.
        let seal = match &one.digest {
            Some(digest) => digest.chars().take(16).collect(),
            None => "draft".to_string(),
        };
        let case = if one.current { "as it is" } else { "changed" };
        lines.push(cells([name, &one.year.to_string(), &one.name, &format!("{case:8} {seal}")]));
    }
    set(out, [(Side::Left, 0); 4], &lines)
}

/// The columns of the years that can still be amended and of those that cannot: when, days, reference, year, credits.
const YEARS: [(Side, usize); 5] =
    [(Side::Left, 10), (Side::Right, 5), (Side::Left, 0), (Side::Left, 0), (Side::Left, 0)];

fn cells<const N: usize>(cells: [&str; N]) -> Vec<String> {
    cells.map(str::to_string).to_vec()
}

/// Sets lines in columns and writes them.
fn set<const N: usize>(
    out: &mut dyn Write,
    sides: [(Side, usize); N],
    lines: &[Vec<String>],
) -> io::Result<()> {
    let mut columns = Columns::new(sides);
    lines.iter().for_each(|line| columns.widen(line));
    lines.iter().try_for_each(|line| writeln!(out, "{}", columns.line(line)))
}
