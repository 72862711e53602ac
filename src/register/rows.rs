//! All rows of a register: their order, the references that occur twice, the years, the totals.
//!
//! Comes in: rows, and the day the register is for. Goes out: a [`Register`] that table, data and paper are written
//! from, so that all of them say the same. Adds up; computes nothing else.

use super::row::{Found, Row, SoFar};
use crate::case::TaxYear;
use crate::money::Money;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// In which order rows stand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Order {
    /// By reference.
    #[default]
    Reference,
    /// The year that closes first at the head; then the cases with none that is open.
    Closing,
    /// The largest balance left at the head.
    Balance,
}

/// Many cases on one day.
#[derive(Clone, Debug, PartialEq)]
pub struct Register {
    /// The day it is for.
    pub on: Date,
    /// The edition of the law it was computed with.
    pub law: String,
    /// Whether it names the clients.
    pub with_names: bool,
    /// The rows, in order.
    pub rows: Vec<Row>,
    /// The years into which somebody carries a balance, in order.
    pub years: Vec<TaxYear>,
    /// The sums over the cases that could be computed.
    pub totals: Totals,
}

/// Sums over the cases that could be computed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Totals {
    /// How many cases there are.
    pub cases: usize,
    /// How many of them could not be computed; they are in no sum.
    pub failed: usize,
    /// By year: the balances carried into it.
    pub by_year: BTreeMap<TaxYear, YearTotal>,
    /// What was brought in, earned, used and lost before the year the day lies in.
    pub so_far: SoFar,
    /// The balances left.
    pub left: YearTotal,
    /// Clients with a paper missing, and the papers.
    pub missing: (usize, usize),
    /// Clients whose case lists no papers.
    pub papers_unsaid: usize,
    /// Clients with an open question, and the questions.
    pub questions: (usize, usize),
    /// How many of the questions hold up a packet.
    pub blocking: usize,
    /// Years that can still be amended for a credit that is left out.
    pub open: usize,
    /// Open years of which the case does not say what the filed return claims.
    pub perhaps_open: usize,
    /// Years whose time has passed with a credit left out.
    pub closed: usize,
}

/// Balances added up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct YearTotal {
    /// How many clients have one.
    pub clients: usize,
    /// All balances together.
    pub amount: Money,
    /// The part of it that comes from returns not filed yet.
    pub expected: Money,
}

impl YearTotal {
    const NOTHING: YearTotal = YearTotal { clients: 0, amount: Money::ZERO, expected: Money::ZERO };

    fn add(&mut self, balance: &super::row::Balance) {
        if balance.amount.is_zero() {
            return;
        }
        self.clients += 1;
        self.amount = self.amount + balance.amount;
        if balance.expected {
            self.expected = self.expected + balance.amount;
        }
    }
}

impl Register {
    /// Makes a register of rows: marks those whose reference occurs twice, puts them in order and adds them up.
    pub fn of(mut rows: Vec<Row>, on: Date, law: String, with_names: bool, order: Order) -> Register {
        mark_same_references(&mut rows);
        sort(&mut rows, on, order);
        let totals = Totals::of(&rows, on);
        let years = totals.by_year.keys().copied().collect();
        Register { on, law, with_names, rows, years, totals }
    }

    /// Returns each reference that several files have, once: the first of the files, the reference, the other files.
    pub fn same_references(&self) -> impl Iterator<Item = (&str, &str, &[String])> {
        self.rows.iter().filter_map(|row| match &row.found {
            Found::SameReference(others) if others.iter().all(|other| row.file < *other) => {
                Some((row.file.as_str(), row.name(), others.as_slice()))
            }
            _ => None,
        })
    }
}

impl Totals {
    fn of(rows: &[Row], on: Date) -> Totals {
        let mut totals = Totals {
            cases: rows.len(),
            failed: 0,
            by_year: BTreeMap::new(),
            so_far: SoFar::NOTHING,
            left: YearTotal::NOTHING,
            missing: (0, 0),
            papers_unsaid: 0,
            questions: (0, 0),
            blocking: 0,
            open: 0,
            perhaps_open: 0,
            closed: 0,
        };
        let count = |of: &mut (usize, usize), n: usize| {
            of.0 += usize::from(n > 0);
            of.1 += n;
        };
        for row in rows {
            let Some(account) = row.account() else {
                totals.failed += 1;
                continue;
            };
            for balance in account.balances.iter().filter(|balance| !balance.amount.is_zero()) {
                totals.by_year.entry(balance.year).or_insert(YearTotal::NOTHING).add(balance);
            }
            totals.so_far = totals.so_far + account.so_far;
            if let Some(left) = &account.left {
                totals.left.add(left);
            }
            match &account.missing {
                Some(missing) => count(&mut totals.missing, missing.len()),
                None => totals.papers_unsaid += 1,
            }
            count(&mut totals.questions, account.questions);
            totals.blocking += account.blocking;
            totals.open += account.open(on).count();
            totals.perhaps_open += account.perhaps_open(on).count();
            totals.closed += account.closed(on).count();
        }
        totals
    }
}

/// Takes the amounts away from rows whose reference occurs more than once, without regard to case: which of the files
/// is the client's nobody knows, and a client counted twice would be wrong in every sum.
fn mark_same_references(rows: &mut [Row]) {
    let mut files: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for row in rows.iter() {
        if let Some(reference) = &row.reference {
            files.entry(reference.to_lowercase()).or_default().push(row.file.clone());
        }
    }
    files.retain(|_, files| files.len() > 1);
    for row in rows.iter_mut() {
        let same = row.reference.as_ref().and_then(|reference| files.get(&reference.to_lowercase()));
        if let Some(files) = same {
            let others = files.iter().filter(|file| **file != row.file).cloned().collect();
            row.found = Found::SameReference(others);
        }
    }
}

fn sort(rows: &mut [Row], on: Date, order: Order) {
    // Files that nobody can read as a case come last.
    let name = |row: &Row| {
        (row.reference.is_none(), row.reference.as_ref().map(|one| one.to_lowercase()), row.file.clone())
    };
    match order {
        Order::Reference => rows.sort_by_cached_key(name),
        Order::Closing => rows.sort_by_cached_key(|row| {
            let soonest = |perhaps: bool| {
                let account = row.account()?;
                let days: Box<dyn Iterator<Item = _>> =
                    if perhaps { Box::new(account.perhaps_open(on)) } else { Box::new(account.open(on)) };
                days.map(|one| one.window.closes).min()
            };
            // A year that is known to be open comes before one that may be.
            let (known, perhaps) = (soonest(false), soonest(true));
            (known.is_none(), known, perhaps.is_none(), perhaps, name(row))
        }),
        Order::Balance => rows.sort_by_cached_key(|row| {
            let left = row.account().and_then(|account| account.left).map(|left| left.amount.decimal());
            (std::cmp::Reverse(left), name(row))
        }),
    }
}
