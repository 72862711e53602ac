//! The register as a paper for the partner's desk: totals first, a drawing, what closes when, then the rows.
//!
//! Comes in: a [`Register`]. Goes out: a [`Document`], or several volumes of it where there are many rows. Computes
//! nothing: every amount is one of the register's.

use super::row::{Account, Lying, Row};
use super::rows::Register;
use super::words::{self, Amounts, Windows};
use crate::case::TaxYear;
use crate::credit::unclaimed::Unclaimed;
use crate::document::{
    self, Align, Bar, Block, Chart, Column, Document, Furniture, Role, Series, Setting, Shade, Stretch,
    Table, Width, Words, body, column, heading, plain, strong,
};
use crate::money::{Money, Printer};
use crate::packet::bag;
use crate::wording::{self, count, counted};
use std::collections::BTreeSet;

/// How many lines of its tables a volume has at most: so many that its pages are made in little memory and open
/// quickly.
const LINES_OF_A_VOLUME: usize = 1_000;

/// How many years have a column at most.
const YEARS: usize = 3;

/// How wide the rows may be, in thousandths of a point: a little less than the flow of the pages, because widths are
/// estimated here.
const WIDTH: usize = 517_000;
/// What lies between two columns.
const GUTTER: usize = 11_000;
/// What the names of a client need at least.
const NAMES: usize = 60_000;

/// A line of the tables that are shared out over the volumes.
#[derive(Clone, Copy)]
enum Line<'r> {
    Open(&'r str, &'r Unclaimed),
    Closed(&'r str, &'r Unclaimed),
    Case(&'r Row),
    Packet(&'r str, &'r Lying),
}

/// The lines of a register in their order: years that can still be amended, years for which it is too late, cases,
/// packets.
fn lines(register: &Register) -> Vec<Line<'_>> {
    let windows = Windows::of(register);
    let open = windows.open.into_iter().map(|(name, one)| Line::Open(name, one));
    let closed = windows.closed.into_iter().map(|(name, one)| Line::Closed(name, one));
    let packets =
        register.rows.iter().flat_map(|row| row.packets.iter().map(|one| Line::Packet(row.name(), one)));
    open.chain(closed).chain(register.rows.iter().map(Line::Case)).chain(packets).collect()
}

const CAUTIONS: &[&str] = &[
    "A working paper of the firm, and not tax or legal advice. The official form and its instructions, and a licensed preparer, decide.",
    "Every amount follows its case as it stands. A credit only offsets income tax; it is never paid out, and nobody knows the tax of years to come. The home improvement credit (25C) is never carried forward: what the tax leaves over is lost.",
    "The days on which years close follow 26 U.S.C. 6511, 6513 and 7503 from the days in the case. Where a case lacks the day of filing, the day is the earliest it can be. A claim reaches only tax paid in the look-back period. Postponements, such as those for disasters, are counted only where the case gives a due date.",
    "What is headed \"If\" is arithmetic on tax that is planned or taken from the last return; it says nothing of the tax there will be. No law of a later year is read. More income uses the credit sooner and costs the tax on it; it can shrink other credits and benefits, and raise state tax. Where the credit would be used later anyway, only time is gained.",
    "This paper is return information. Keep it, and destroy it, as the firm's security plan says.",
];

/// A register about to be written on paper.
pub struct Paper<'r> {
    register: &'r Register,
    /// The digest of the register, of which a part stands on each page.
    fingerprint: String,
    lines: Vec<Line<'r>>,
    amounts: Amounts,
    /// Characters that the typeface lacks: for those in names and files stands a question mark, because one client's
    /// name must not hold up the paper of all.
    pub lacking: BTreeSet<char>,
}

impl<'r> Paper<'r> {
    /// Takes a register, and as many years as there is room for, those nearest to the day at first.
    pub fn of(register: &'r Register, fingerprint: String) -> Paper<'r> {
        let nearest = words::nearest(register);
        let with = |years: usize| {
            let mut years = nearest[..years].to_vec();
            years.sort();
            Amounts::of(register, years)
        };
        // The year nearest to the day is wanted in any case.
        let least = nearest.len().min(1);
        let lines = lines(register);
        let mut paper =
            Paper { register, fingerprint, lines, amounts: with(least), lacking: BTreeSet::new() };
        for years in least + 1..=nearest.len().min(YEARS) {
            let narrower = std::mem::replace(&mut paper.amounts, with(years));
            if paper.width() > WIDTH {
                paper.amounts = narrower;
                break;
            }
        }
        paper
    }

    /// How many volumes it has.
    pub fn volumes(&self) -> usize {
        self.lines.len().div_ceil(LINES_OF_A_VOLUME).max(1)
    }

    /// Writes a volume, counted from one. Totals and drawing stand in the first.
    pub fn write(&self, volume: usize) -> Document {
        let (register, of) = (self.register, self.volumes());
        let lines = self.lines.chunks(LINES_OF_A_VOLUME).nth(volume - 1).unwrap_or_default();
        let mut blocks = vec![heading(1, "Register of residential energy credits")];
        if of > 1 {
            blocks.push(Block::Paragraph(plain(format!("Volume {volume} of {of}."))));
        }
        if volume == 1 {
            blocks.extend(self.opening());
        }
        blocks.extend(self.windows(lines));
        let rows: Vec<&Row> = lines
            .iter()
            .filter_map(|line| if let Line::Case(row) = line { Some(*row) } else { None })
            .collect();
        if let Some(last) = rows.last() {
            let with_totals = register.rows.last().is_some_and(|one| std::ptr::eq(one, *last));
            blocks.extend(self.cases(&rows, with_totals));
        }
        blocks.extend(packets(lines));
        blocks.push(heading(2, "What to keep in mind"));
        blocks.extend(CAUTIONS.iter().map(|words| Block::Small(plain(*words))));
        let short: String = self.fingerprint.chars().take(12).collect();
        let volume_words = if of > 1 { format!(", volume {volume} of {of}") } else { String::new() };
        Document {
            title: format!("Register of energy credits, {}{volume_words}", register.on),
            language: "en".to_string(),
            subject:
                "Residential energy credits: balances, papers, open questions, years that can be amended"
                    .to_string(),
            author: String::new(),
            setting: Setting::Worksheet,
            furniture: Furniture {
                head: (
                    format!("Register, {}{volume_words}", wording::day(register.on)),
                    "Residential energy credits".to_string(),
                ),
                foot: (
                    format!("Register {short} \u{B7} Law edition {}", register.law),
                    "Page {page} of {pages}".to_string(),
                ),
                mark: None,
            },
            blocks,
        }
    }

    /// Estimates how wide the rows are.
    fn width(&self) -> usize {
        let columns = self.columns();
        let longest =
            |head: &str| head.split(' ').map(|word| word.chars().count() * 3_900).max().unwrap_or(0);
        let mut widths: Vec<usize> = columns.iter().map(|column| longest(&column.head)).collect();
        let mut widen = |cells: Vec<Words>, extra: usize| {
            for (n, (width, cell)) in widths.iter_mut().zip(cells).enumerate() {
                // Names are broken into lines.
                let words = match self.register.with_names && n == 1 {
                    true => NAMES,
                    false => cell.iter().map(|run| estimated(&run.text)).sum::<usize>() * (100 + extra) / 100,
                };
                *width = (*width).max(words);
            }
        };
        widen(self.sums(), 6);
        let rows = self.register.rows.iter();
        rows.filter_map(|row| Some((row, row.account()?)))
            .for_each(|(row, account)| widen(self.cells(row, account), 0));
        widths.iter().sum::<usize>() + GUTTER * (columns.len() - 1)
    }

    fn printable(&self, text: &str) -> String {
        text.chars().map(|c| if self.lacking.contains(&c) { '?' } else { c }).collect()
    }

    /// Writes what stands before the rows.
    fn opening(&self) -> Vec<Block> {
        let register = self.register;
        let totals = &register.totals;
        let mut intro = format!(
            "{} on {}. Clients stand here by {}.",
            counted(totals.cases, "case", "cases"),
            wording::day(register.on),
            if register.with_names { "reference and name" } else { "reference alone" }
        );
        if totals.failed > 0 {
            let failed = counted(
                totals.failed,
                "case could not be computed and is",
                "cases could not be computed and are",
            );
            intro.push_str(&format!(" {failed} in no sum."));
        }
        let mut blocks = vec![Block::Paragraph(plain(intro)), Block::Panel(vec![self.totals()])];
        blocks.extend(self.balances());
        blocks
    }

    /// The totals, each with a count and an amount.
    fn totals(&self) -> Block {
        let totals = &self.register.totals;
        let this_year = TaxYear::of(self.register.on);
        let clients = |n: usize| counted(n, "client", "clients");
        let so_far = &totals.so_far;
        let amounts =
            [totals.left.amount, so_far.brought_in, so_far.earned(), so_far.used(), so_far.lost_improvement];
        let printer = Printer::of(amounts);
        let money = |amount: Money| printer.print(amount);
        let mut rows = vec![
            [
                strong("25D credit left"),
                plain(clients(totals.left.clients)),
                strong(money(totals.left.amount)),
            ],
            [plain(format!("Brought in, before {this_year}")), plain(""), plain(money(so_far.brought_in))],
            [
                plain(format!("Earned, tax years before {this_year}, both credits")),
                plain(""),
                plain(money(so_far.earned())),
            ],
            [plain("Used in those years"), plain(""), plain(money(so_far.used()))],
            [
                plain("25C lost to the tax limit in those years"),
                plain(""),
                plain(money(so_far.lost_improvement)),
            ],
            [
                plain("Years that can still be amended for a credit left out"),
                plain(counted(totals.open, "year", "years")),
                plain(""),
            ],
            [
                plain("Papers missing"),
                plain(clients(totals.missing.0)),
                plain(counted(totals.missing.1, "paper", "papers")),
            ],
            [
                plain("Open questions"),
                plain(clients(totals.questions.0)),
                plain(match totals.blocking {
                    0 => counted(totals.questions.1, "question", "questions"),
                    n => format!(
                        "{}, {} blocking",
                        counted(totals.questions.1, "question", "questions"),
                        count(n)
                    ),
                }),
            ],
        ];
        rows.retain(|row| {
            row.iter().skip(1).any(|cell| {
                !["", "0", "0.00"].contains(&cell[0].text.as_str()) && !cell[0].text.starts_with("0 ")
            })
        });
        Block::Table(Table {
            summary: "The totals of the register".to_string(),
            columns: vec![
                column("", Width::Parts(1), Align::Left),
                column("", Width::Content, Align::Right),
                column("", Width::Content, Align::Right),
            ],
            rows: rows
                .into_iter()
                .map(|cells| document::Row { cells: cells.to_vec(), role: Role::Body })
                .collect(),
        })
    }

    /// Draws the balances by year.
    fn balances(&self) -> Vec<Block> {
        let by_year = &self.register.totals.by_year;
        if by_year.is_empty() {
            return Vec::new();
        }
        let some_expected = by_year.values().any(|total| !total.expected.is_zero());
        let some_certain = by_year.values().any(|total| total.expected != total.amount);
        let printer = Printer::of(by_year.values().map(|total| total.amount));
        let bars: Vec<Bar> = by_year
            .iter()
            .map(|(year, total)| Bar {
                name: format!("{year}"),
                numbers: vec![count(total.clients), printer.print(total.amount)],
                parts: vec![
                    Stretch { series: 0, from: 0, to: total.amount.in_cents() - total.expected.in_cents() },
                    Stretch {
                        series: 1,
                        from: total.amount.in_cents() - total.expected.in_cents(),
                        to: total.amount.in_cents(),
                    },
                ],
                total: false,
            })
            .collect();
        let sentences = by_year.iter().map(|(year, total)| {
            let expected = match total.expected {
                amount if amount.is_zero() => String::new(),
                amount if amount == total.amount => ", all of it expected".to_string(),
                amount => format!(", {} of it expected", amount.spoken()),
            };
            format!(
                "{year}: {}, {}{expected}.",
                counted(total.clients, "client", "clients"),
                total.amount.spoken()
            )
        });
        let summary = std::iter::once("A drawing of the 25D credit carried into each tax year.".to_string())
            .chain(sentences)
            .collect::<Vec<_>>()
            .join(" ");
        let mut series = vec![Series { name: "from returns that are filed".to_string(), shade: Shade::Dark }];
        series.push(Series { name: "expected: from returns not filed yet".to_string(), shade: Shade::Light });
        if !some_expected {
            series.pop();
        } else if !some_certain {
            series[0].name = "from returns that are filed (none)".to_string();
        }
        let columns = ["Clients", "Dollars"].map(String::from).to_vec();
        vec![
            heading(2, "25D credit carried into each tax year"),
            Block::Chart(Chart { summary, head: "Into tax year".to_string(), columns, series, bars }),
        ]
    }

    /// Lists the years that can still be amended, and those for which it is too late, as far as they stand in this
    /// volume. Open years of which nobody knows what the return claims are marked among the cases.
    fn windows(&self, lines: &[Line<'_>]) -> Vec<Block> {
        let open = lines
            .iter()
            .filter_map(|line| if let Line::Open(name, one) = *line { Some((name, one)) } else { None });
        let closed = lines
            .iter()
            .filter_map(|line| if let Line::Closed(name, one) = *line { Some((name, one)) } else { None });
        let (open, closed): (Vec<_>, Vec<_>) = (open.collect(), closed.collect());
        let mut blocks = Vec::new();
        if !open.is_empty() {
            blocks.push(heading(2, "Years that can still be amended, the first to close at the head"));
            blocks.push(self.window_table(&open, true));
        }
        if !closed.is_empty() {
            blocks.push(heading(2, "Too late to amend"));
            blocks.push(self.window_table(&closed, false));
        }
        blocks
    }

    fn window_table(&self, list: &[(&str, &Unclaimed)], open: bool) -> Block {
        let mut columns = vec![column(if open { "Closes" } else { "Closed" }, Width::Content, Align::Left)];
        if open {
            columns.push(column("Days left", Width::Content, Align::Right));
        }
        columns.extend([
            column("Reference", Width::Content, Align::Left),
            column("Tax year", Width::Content, Align::Left),
            column("Left out of the return", Width::Parts(1), Align::Left),
        ]);
        if open {
            columns.push(column("Withheld tax until", Width::Content, Align::Left));
        }
        let rows = list.iter().map(|(name, one)| {
            let mut cells = vec![one.window.closes.to_string()];
            if open {
                let days = words::days_left(self.register.on, one.window.closes);
                cells.push(count(usize::try_from(days).unwrap_or(0)));
            }
            cells.extend([name.to_string(), one.year.to_string(), words::left_out(one)]);
            if open {
                cells.push(match words::earlier_for_withholding(&one.window) {
                    Some(day) if day < self.register.on => "too late".to_string(),
                    Some(day) => day.to_string(),
                    None => "the same day".to_string(),
                });
            }
            body(cells)
        });
        Block::Table(Table {
            summary: "Tax years whose return leaves out a credit, with the last day for a claim".to_string(),
            columns,
            rows: rows.collect(),
        })
    }

    fn columns(&self) -> Vec<Column> {
        let mut columns = vec![column("Reference", Width::Content, Align::Left)];
        if self.register.with_names {
            columns.push(column("Client", Width::Parts(1), Align::Left));
        }
        columns.extend(
            self.amounts
                .years
                .iter()
                .map(|year| column(format!("Into {year}"), Width::Content, Align::Decimal)),
        );
        columns.extend([
            column("Earned", Width::Content, Align::Decimal),
            column("Used", Width::Content, Align::Decimal),
            column("Lost 25C", Width::Content, Align::Decimal),
            column("If: used up", Width::Content, Align::Right),
            column("If: more tax", Width::Content, Align::Right),
            column("Papers missing", Width::Content, Align::Right),
            column("Open questions", Width::Content, Align::Right),
            column("Can be amended", Width::Content, Align::Left),
        ]);
        columns
    }

    /// Writes the rows of a volume; the totals under the last.
    fn cases(&self, rows: &[&Row], with_totals: bool) -> Vec<Block> {
        let register = self.register;
        let columns = self.columns();
        let mut table_rows: Vec<crate::document::Row> = rows
            .iter()
            .map(|one| match one.account() {
                Some(account) => document::Row { cells: self.cells(one, account), role: Role::Body },
                None => {
                    let why = one.found.failure().unwrap_or_default();
                    body([self.printable(&format!("{}: {why}", one.name()))])
                }
            })
            .collect();
        if with_totals {
            table_rows.push(document::Row { cells: self.sums(), role: Role::Total });
        }
        let this_year = TaxYear::of(register.on);
        let mut notes =
            vec![format!("Earned, used and lost: both credits as computed, tax years before {this_year}.")];
        let accounts = || rows.iter().filter_map(|row| row.account());
        if accounts().any(|one| one.balances.iter().any(|one| one.expected)) {
            notes.push("A star marks a balance that comes from a return not filed yet.".to_string());
        }
        if accounts().any(|one| one.ahead.is_some()) {
            notes.push("If tax is as the case plans it, else as on its last return: the year whose return would use the rest, and how much more tax in the first year that can still be shaped would use it there. Arithmetic, and no forecast.".to_string());
        }
        if accounts().any(|one| one.missing.is_none()) {
            notes.push(
                "A dash among the papers: the case lists none, so nobody knows which are missing."
                    .to_string(),
            );
        }
        if register.totals.blocking > 0 {
            notes.push("In brackets: of the questions, those that hold up a packet.".to_string());
        }
        if accounts().any(|one| one.perhaps_open(register.on).next().is_some()) {
            notes.push(
                "A question mark behind a year: the case does not say what the filed return claims."
                    .to_string(),
            );
        }
        let unseen: Vec<String> = register
            .years
            .iter()
            .filter(|year| !self.amounts.years.contains(year))
            .map(ToString::to_string)
            .collect();
        if !unseen.is_empty() {
            notes.push(format!("Balances carried into {} have no column here; the drawing has their sums, and the register as CSV has all.", unseen.join(", ")));
        }
        vec![
            heading(2, "Cases"),
            Block::Small(plain(notes.join(" "))),
            Block::Table(Table { summary: "One row for each case".to_string(), columns, rows: table_rows }),
        ]
    }

    fn cells(&self, row: &Row, account: &Account) -> Vec<Words> {
        let mut cells = vec![row.name().to_string()];
        if self.register.with_names {
            cells.push(self.printable(&row.names.join(", ")));
        }
        cells.extend(self.amounts.row(account));
        cells.push(words::used_up(account));
        cells.push(
            account
                .ahead
                .and_then(|ahead| ahead.more)
                .map_or_else(String::new, |(_, tax)| tax.spoken().replace('$', "")),
        );
        cells.push(words::missing(account));
        cells.push(words::questions(account.questions, account.blocking));
        cells.push(words::soonest(account, self.register.on));
        // Nothing for nothing, so that the eye finds what there is; but a balance of nothing is worth knowing.
        let balances = if self.register.with_names { 2 } else { 1 } + self.amounts.years.len();
        let empty = |n: usize, cell: &str| n >= balances && ["0", "0.00"].contains(&cell);
        let quiet = |(n, cell): (usize, String)| plain(if empty(n, &cell) { String::new() } else { cell });
        cells.into_iter().enumerate().map(quiet).collect()
    }

    fn sums(&self) -> Vec<Words> {
        let totals = &self.register.totals;
        let mut cells = vec!["Total".to_string()];
        if self.register.with_names {
            cells.push(String::new());
        }
        cells.extend(self.amounts.totals(totals));
        cells.extend([String::new(), String::new()]);
        cells.push(count(totals.missing.1));
        cells.push(count(totals.questions.1));
        cells.push(counted(totals.open, "year", "years"));
        cells.into_iter().map(plain).collect()
    }
}

/// Lists the packets as far as they stand in this volume, with the digests by which they are sealed: kept apart from the
/// packets, the list shows whether one was exchanged.
fn packets(lines: &[Line<'_>]) -> Vec<Block> {
    let packets = lines
        .iter()
        .filter_map(|line| if let Line::Packet(name, one) = *line { Some((name, one)) } else { None });
    let rows: Vec<_> = packets
        .map(|(name, one)| {
            let case = if one.current { "as it is" } else { "changed since" };
            // In groups of four, as on the seal slip, so that people can compare them.
            let groups = |digest: &String| bag::groups(digest).concat().join(" ");
            let seal = one.digest.as_ref().map_or_else(|| "a draft, not sealed".to_string(), groups);
            let cells = [name.to_string(), one.year.to_string(), one.name.clone(), case.to_string(), seal];
            body(cells)
        })
        .collect();
    if rows.is_empty() {
        return Vec::new();
    }
    let columns = vec![
        column("Reference", Width::Content, Align::Left),
        column("Tax year", Width::Content, Align::Left),
        column("Packet", Width::Content, Align::Left),
        column("Case", Width::Content, Align::Left),
        column("Digest of the seal", Width::Parts(1), Align::Left),
    ];
    vec![
        heading(2, "Packets"),
        Block::Table(Table {
            summary: "The packets of the cases, with the digests of their seals".to_string(),
            columns,
            rows,
        }),
    ]
}

/// Estimates how wide words are in a cell.
fn estimated(words: &str) -> usize {
    let width = |c: char| match c {
        '0'..='9' | '?' | '+' | '*' | '(' | ')' => 4_400,
        '-' => 2_800,
        ',' | '.' | ' ' => 2_200,
        _ => 5_500,
    };
    words.chars().map(width).sum()
}
