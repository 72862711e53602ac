//! The register as CSV (RFC 4180), one row for each case.
//!
//! Comes in: a [`Register`]. Goes out: a heading and rows. The columns of [`COLUMNS`] always stand, in that order: a
//! contract. Behind them stands a column for each year that occurs, such as `carried_into_2026`.

use super::row::{Account, Found, Lying, Row};
use super::rows::Register;
use super::words;
use crate::case::TaxYear;
use crate::contract::Choice;
use crate::credit::unclaimed::Unclaimed;
use crate::credit::window::Window;
use crate::csv;
use crate::money::Money;
use jiff::civil::Date;
use std::io::{self, Write};

/// A column that every register has.
pub struct Column {
    /// Its name in the heading.
    pub name: &'static str,
    /// What it holds.
    pub meaning: &'static str,
    cell: fn(&Row, Date) -> String,
}

/// The columns that every register has, in order.
pub const COLUMNS: &[Column] = &[
    Column {
        name: "reference",
        meaning: "the client's reference; empty where the file cannot be read as a case",
        cell: |row, _| row.reference.clone().unwrap_or_default(),
    },
    Column {
        name: "names",
        meaning: "the people of the return; empty without `--with-names`",
        cell: |row, _| row.names.join("; "),
    },
    Column { name: "file", meaning: "the case file", cell: |row, _| row.file.clone() },
    Column {
        name: "state",
        meaning: "`computed`, `errors`, `same_reference`, `unreadable` or `fault`; amounts stand only where computed",
        cell: |row, _| row.found.state().word().to_string(),
    },
    Column { name: "on", meaning: "the day the register is for", cell: |_, on| on.to_string() },
    Column {
        name: "left",
        meaning: "25D credit left: the balance carried into the year of `left_into`",
        cell: |row, _| left(row, |left| left.amount.plain()),
    },
    Column {
        name: "left_into",
        meaning: "the year of that day, or the last before it that the case reaches",
        cell: |row, _| left(row, |left| left.year.to_string()),
    },
    Column {
        name: "left_expected",
        meaning: "`yes` where it comes from a return that is not filed yet, else `no`",
        cell: |row, _| left(row, |left| if left.expected { "yes" } else { "no" }.to_string()),
    },
    Column {
        name: "brought_in",
        meaning: "balances brought in from returns that the case does not have",
        cell: |row, _| of(row, |account| account.so_far.brought_in.plain()),
    },
    Column {
        name: "earned_25d",
        meaning: "25D credit earned in tax years before that of the day (line 602)",
        cell: |row, _| of(row, |account| account.so_far.earned_clean.plain()),
    },
    Column {
        name: "used_25d",
        meaning: "25D credit allowed in those years (line 440)",
        cell: |row, _| of(row, |account| account.so_far.used_clean.plain()),
    },
    Column {
        name: "earned_25c",
        meaning: "25C credit before the tax limit in those years (line 380)",
        cell: |row, _| of(row, |account| account.so_far.earned_improvement.plain()),
    },
    Column {
        name: "used_25c",
        meaning: "25C credit allowed in those years (line 390)",
        cell: |row, _| of(row, |account| account.so_far.used_improvement.plain()),
    },
    Column {
        name: "lost_25c",
        meaning: "25C credit lost to the tax limit in those years (line 395)",
        cell: |row, _| of(row, |account| account.so_far.lost_improvement.plain()),
    },
    Column {
        name: "papers_missing",
        meaning: "how many papers should be on file and are not; empty where the case lists no papers",
        cell: |row, _| {
            of(row, |account| account.missing.as_ref().map_or_else(String::new, |one| one.len().to_string()))
        },
    },
    Column {
        name: "questions",
        meaning: "how many questions are open",
        cell: |row, _| of(row, |account| account.questions.to_string()),
    },
    Column {
        name: "questions_blocking",
        meaning: "how many of them hold up a packet",
        cell: |row, _| of(row, |account| account.blocking.to_string()),
    },
    Column {
        name: "errors",
        meaning: "how many errors the case has",
        cell: |row, _| match &row.found {
            Found::Errors(errors) => errors.len().to_string(),
            _ => "0".to_string(),
        },
    },
    Column {
        name: "open_years",
        meaning: "years that can still be amended for a credit left out, with blanks between them",
        cell: |row, on| of(row, |account| years(account.open(on))),
    },
    Column {
        name: "open_until",
        meaning: "the last day for a claim in the first of them to close",
        cell: |row, on| of(row, |account| first(account.open(on), |one| one.closes.to_string())),
    },
    Column {
        name: "open_days_left",
        meaning: "the days from the day of the register to that one",
        cell: |row, on| {
            of(row, |account| first(account.open(on), |one| words::days_left(on, one.closes).to_string()))
        },
    },
    Column {
        name: "open_withheld_until",
        meaning: "the last day on which that claim reaches tax that was withheld",
        cell: |row, on| of(row, |account| first(account.open(on), |one| one.reaches_withholding.to_string())),
    },
    Column {
        name: "unsaid_years",
        meaning: "open years of which the case does not say what the filed return claims",
        cell: |row, on| of(row, |account| years(account.perhaps_open(on))),
    },
    Column {
        name: "unsaid_until",
        meaning: "the last day for a claim in the first of these to close",
        cell: |row, on| of(row, |account| first(account.perhaps_open(on), |one| one.closes.to_string())),
    },
    Column {
        name: "closed_years",
        meaning: "years whose time has passed with a credit left out",
        cell: |row, on| of(row, |account| years(account.closed(on))),
    },
    Column {
        name: "if_used_up_in",
        meaning: "the year whose return would use the rest if tax is as the case plans it, else as on its last return; `never`, or `later` than 20 years; no forecast",
        cell: |row, _| of(row, words::used_up),
    },
    Column {
        name: "if_more_tax",
        meaning: "how much more tax would use everything in the year of `if_more_tax_in`",
        cell: |row, _| more(row, |(_, tax)| tax.plain()),
    },
    Column {
        name: "if_more_tax_in",
        meaning: "the year that can still be shaped: that of the last return while it is not filed, else the one after it",
        cell: |row, _| more(row, |(year, _)| year.to_string()),
    },
    Column {
        name: "packet",
        meaning: "the latest packet of the case in the folder of `--packets`",
        cell: |row, _| latest(row, |one| one.name.clone()),
    },
    Column {
        name: "packet_year",
        meaning: "its tax year",
        cell: |row, _| latest(row, |one| one.year.to_string()),
    },
    Column {
        name: "packet_current",
        meaning: "`yes` where it was made from the case file as it is now, else `no`",
        cell: |row, _| latest(row, |one| if one.current { "yes" } else { "no" }.to_string()),
    },
    Column {
        name: "packet_digest",
        meaning: "the digest on its seal slip; empty for a draft",
        cell: |row, _| latest(row, |one| one.digest.clone().unwrap_or_default()),
    },
];

/// Writes the register.
pub fn write(register: &Register, out: &mut dyn Write) -> io::Result<()> {
    let years = register.years.iter().map(|year| format!("carried_into_{year}"));
    let heads = COLUMNS.iter().map(|column| column.name.to_string()).chain(years);
    out.write_all(csv::row(heads).as_bytes())?;
    for row in &register.rows {
        let balances = register.years.iter().map(|year| {
            of(row, |account| account.balance(*year).map_or_else(String::new, |one| one.amount.plain()))
        });
        let cells = COLUMNS.iter().map(|column| (column.cell)(row, register.on)).chain(balances);
        out.write_all(csv::row(cells).as_bytes())?;
    }
    Ok(())
}

/// Writes a cell of a computed case; of another it is empty.
fn of(row: &Row, cell: impl Fn(&Account) -> String) -> String {
    row.account().map_or_else(String::new, cell)
}

fn left(row: &Row, cell: impl Fn(&super::row::Balance) -> String) -> String {
    of(row, |account| account.left.as_ref().map_or_else(String::new, &cell))
}

fn more(row: &Row, cell: impl Fn((TaxYear, Money)) -> String) -> String {
    of(row, |account| account.ahead.and_then(|ahead| ahead.more).map_or_else(String::new, &cell))
}

fn latest(row: &Row, cell: impl Fn(&Lying) -> String) -> String {
    row.packets.last().map_or_else(String::new, cell)
}

fn years<'a>(windows: impl Iterator<Item = &'a Unclaimed>) -> String {
    windows.map(|one| one.year.to_string()).collect::<Vec<_>>().join(" ")
}

/// Writes something of the first of some windows to close; nothing where there are none.
fn first<'a>(windows: impl Iterator<Item = &'a Unclaimed>, cell: impl Fn(&Window) -> String) -> String {
    let soonest = windows.min_by_key(|one| (one.window.closes, one.year));
    soonest.map_or_else(String::new, |one| cell(&one.window))
}
