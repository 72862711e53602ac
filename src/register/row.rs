//! One case as a row of the register.
//!
//! Comes in: a case, read and computed, and the day the register is for. Goes out: a [`Row`]. Every amount of it is a
//! figure of the case, or a sum of such figures; nothing else is computed here. Knows no other case.

use crate::assemble::Computed;
use crate::case::{Case, Key, TaxYear};
use crate::contract::choice;
use crate::credit::line::{self, Line, Place};
use crate::credit::papers;
use crate::credit::planning::{self, End};
use crate::credit::season;
use crate::credit::unclaimed::{self, Said, Unclaimed};
use crate::credit::{Figures, Outcome};
use crate::finding::{Finding, Reported, Severity};
use crate::law::Law;
use crate::money::Money;
use jiff::civil::Date;
use std::collections::BTreeSet;
use std::ops::Add;

/// One case in the register.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// The case file, as it was named.
    pub file: String,
    /// The client's reference; none where the file cannot be read as a case.
    pub reference: Option<String>,
    /// The names of the people of the return; empty unless they were asked for.
    pub names: Vec<String>,
    /// The digest of the file, in hexadecimal; empty where it could not be read.
    pub fingerprint: String,
    /// What came of it.
    pub found: Found,
    /// The packets of the case that lie in the folder named for them, the latest last.
    pub packets: Vec<Lying>,
}

/// A packet that lies in the folder.
#[derive(Clone, Debug, PartialEq)]
pub struct Lying {
    /// The name of its folder.
    pub name: String,
    /// The tax year.
    pub year: TaxYear,
    /// A draft, which is not sealed.
    pub draft: bool,
    /// The digest that its seal slip bears; none for a draft.
    pub digest: Option<String>,
    /// It was made from the case file as it is now.
    pub current: bool,
}

/// What came of a case.
#[derive(Clone, Debug, PartialEq)]
pub enum Found {
    /// It was computed.
    Account(Box<Account>),
    /// It has errors, so none of its amounts are to be relied on; the errors as the figures' contract has them.
    Errors(Vec<Reported>),
    /// Other files have the same reference, so nobody knows which of them is the client's; their names.
    SameReference(Vec<String>),
    /// The file could not be read; why.
    Unreadable(String),
    /// The program made a mistake; which.
    Fault(String),
}

/// What came of a case, as one word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// It was computed.
    Computed,
    /// It has errors.
    Errors,
    /// Other files have its reference.
    SameReference,
    /// Its file could not be read.
    Unreadable,
    /// The program made a mistake.
    Fault,
}

choice! {
    State {
        State::Computed => "computed",
        State::Errors => "errors",
        State::SameReference => "same_reference",
        State::Unreadable => "unreadable",
        State::Fault => "fault",
    }
}

/// What a computed case comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct Account {
    /// The balance carried into each year that the case reaches, in order; also where it is nothing.
    pub balances: Vec<Balance>,
    /// Sums of the years before the one the day lies in.
    pub so_far: SoFar,
    /// The balance carried into the year the day lies in, or into the last year before it that the case reaches.
    pub left: Option<Balance>,
    /// The papers that are missing; none where the case lists no papers, so that nobody knows.
    pub missing: Option<Vec<Missing>>,
    /// How many questions stand open.
    pub questions: usize,
    /// How many of them hold up a packet.
    pub blocking: usize,
    /// The years whose filed return leaves out a credit or may do so, open or not, earliest first.
    pub windows: Vec<Unclaimed>,
    /// What years to come would use of the balance, on an assumption about their tax; none where nothing is carried out
    /// of the last return of the case.
    pub ahead: Option<Ahead>,
}

/// What years to come would use, as an *if*: arithmetic on the case's planned tax or on that of its last return, and no
/// forecast.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ahead {
    /// The last year with a return.
    pub from: TaxYear,
    /// How the years to come would end.
    pub end: End,
    /// The year that can still be shaped, and how much more tax in it would use everything (lines 661 and 657); none
    /// where it uses everything on the assumption already.
    pub more: Option<(TaxYear, Money)>,
}

/// A balance carried into a year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Balance {
    /// The year.
    pub year: TaxYear,
    /// How much.
    pub amount: Money,
    /// It comes from a return that is not filed yet.
    pub expected: bool,
}

/// Sums over the years before the one the day lies in. Brought in and earned are as much as used, lost and left
/// together, where every year of the case has a return and nothing is rounded on the way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SoFar {
    /// Balances that the case brings in.
    pub brought_in: Money,
    /// 25D earned on property (line 602).
    pub earned_clean: Money,
    /// 25C figured before the tax limit (line 380).
    pub earned_improvement: Money,
    /// 25D allowed (line 440).
    pub used_clean: Money,
    /// 25C allowed (line 390).
    pub used_improvement: Money,
    /// 25C lost to the tax limit (line 395).
    pub lost_improvement: Money,
}

/// A paper that is not on file.
#[derive(Clone, Debug, PartialEq)]
pub struct Missing {
    /// What it is, in plain words.
    pub what: String,
    /// The items it proves.
    pub items: Vec<Key>,
}

impl Row {
    /// Makes the row of a case that was read and computed.
    pub fn of(file: String, fingerprint: String, computed: &Computed, law: &Law, on: Date) -> Row {
        let errors =
            || computed.outcome.findings.iter().filter(|finding| finding.severity == Severity::Error);
        let found = match &computed.case {
            Some(case) if errors().next().is_none() => {
                Found::Account(Box::new(Account::of(case, law, &computed.outcome, on)))
            }
            _ => Found::Errors(errors().map(|finding| Reported::of(finding, &computed.sources)).collect()),
        };
        let client = computed.case.as_ref().map(|case| &case.client);
        Row {
            file,
            reference: client.map(|client| client.reference.value.to_string()),
            names: client
                .map_or_else(Vec::new, |client| client.names().into_iter().map(str::to_string).collect()),
            fingerprint,
            found,
            packets: Vec::new(),
        }
    }

    /// Returns what the case comes to; none where it could not be computed.
    pub fn account(&self) -> Option<&Account> {
        match &self.found {
            Found::Account(account) => Some(account),
            _ => None,
        }
    }

    /// Returns what people know the row by: the reference, or the file where there is none.
    pub fn name(&self) -> &str {
        self.reference.as_deref().unwrap_or(&self.file)
    }
}

impl Found {
    /// Returns in one word what came of the case.
    pub fn state(&self) -> State {
        match self {
            Found::Account(_) => State::Computed,
            Found::Errors(_) => State::Errors,
            Found::SameReference(_) => State::SameReference,
            Found::Unreadable(_) => State::Unreadable,
            Found::Fault(_) => State::Fault,
        }
    }

    /// Says in a few words why there are no amounts; nothing where there are.
    pub fn failure(&self) -> Option<String> {
        match self {
            Found::Account(_) => None,
            Found::Errors(errors) => Some(match errors.len() {
                1 => "not counted: 1 error".to_string(),
                n => format!("not counted: {n} errors"),
            }),
            Found::SameReference(others) => {
                Some(format!("not counted: the same reference as {}", others.join(", ")))
            }
            Found::Unreadable(why) => Some(format!("cannot be read: {why}")),
            Found::Fault(_) => Some("not counted: a fault of the program".to_string()),
        }
    }
}

impl Account {
    fn of(case: &Case, law: &Law, outcome: &Outcome, on: Date) -> Account {
        let this_year = TaxYear::of(on);
        let balances = balances(case, outcome);
        let left = balances.iter().rev().find(|balance| balance.year <= this_year).copied();
        let open = |blocking: bool| {
            let questions = outcome.findings.iter().filter(move |one| is_open(one, blocking));
            questions.count()
        };
        Account {
            so_far: SoFar::before(this_year, case, outcome),
            left,
            balances,
            missing: missing(case, law, outcome),
            questions: open(false),
            blocking: open(true),
            windows: unclaimed::unclaimed(case, outcome),
            ahead: planning::outlook(case, outcome).map(|outlook| Ahead {
                from: outlook.from,
                end: outlook.end,
                more: outlook.more_on(on).map(|more| (more.year, more.tax)),
            }),
        }
    }

    /// Returns the balance carried into a year; none where the case does not reach it.
    pub fn balance(&self, year: TaxYear) -> Option<&Balance> {
        self.balances.iter().find(|balance| balance.year == year)
    }

    /// Returns the years that can still be amended on a day for a credit that is known to be left out.
    pub fn open(&self, on: Date) -> impl Iterator<Item = &Unclaimed> {
        self.windows.iter().filter(move |one| one.said != Said::NotSaid && one.is_open(on))
    }

    /// Returns the years that can still be amended on a day, where the case does not say what the return claims.
    pub fn perhaps_open(&self, on: Date) -> impl Iterator<Item = &Unclaimed> {
        self.windows.iter().filter(move |one| one.said == Said::NotSaid && one.is_open(on))
    }

    /// Returns the years that leave out a credit and whose time has passed on a day.
    pub fn closed(&self, on: Date) -> impl Iterator<Item = &Unclaimed> {
        self.windows.iter().filter(move |one| one.said != Said::NotSaid && !one.is_open(on))
    }
}

impl SoFar {
    /// Nothing at all.
    pub const NOTHING: SoFar = SoFar {
        brought_in: Money::ZERO,
        earned_clean: Money::ZERO,
        earned_improvement: Money::ZERO,
        used_clean: Money::ZERO,
        used_improvement: Money::ZERO,
        lost_improvement: Money::ZERO,
    };

    /// Adds up the years with a return before a year. A balance brought into that year itself is in.
    fn before(year: TaxYear, case: &Case, outcome: &Outcome) -> SoFar {
        let figures = &outcome.figures;
        let years =
            || outcome.years.iter().copied().filter(|one| *one < year && case.tax_return(*one).is_some());
        let sum = |line: Line| years().filter_map(|year| at(figures, year, line)).sum();
        let brought = case.carried_in.iter().filter(|one| one.year.value <= year);
        // A year whose own figures lead up to it brings nothing in.
        let brought = brought.filter(|one| at(figures, one.year.value.before(), line::CARRIED_OUT).is_none());
        let brought =
            brought.map(|one| at(figures, one.year.value, line::CARRIED_IN).unwrap_or(one.amount.value));
        let rows = figures.all().iter().filter(|figure| {
            figure.place.line == line::ORIGIN_EARNED && years().any(|year| year == figure.place.year)
        });
        SoFar {
            brought_in: brought.sum(),
            earned_clean: rows.filter_map(|figure| figure.value.money()).sum(),
            earned_improvement: sum(line::IMPROVEMENT_BEFORE_LIMIT),
            used_clean: sum(line::CLEAN_ALLOWED),
            used_improvement: sum(line::IMPROVEMENT_ALLOWED),
            lost_improvement: sum(line::IMPROVEMENT_LOST),
        }
    }

    /// Both credits earned.
    pub fn earned(&self) -> Money {
        self.earned_clean + self.earned_improvement
    }

    /// Both credits used.
    pub fn used(&self) -> Money {
        self.used_clean + self.used_improvement
    }
}

impl Add for SoFar {
    type Output = SoFar;
    fn add(self, other: SoFar) -> SoFar {
        SoFar {
            brought_in: self.brought_in + other.brought_in,
            earned_clean: self.earned_clean + other.earned_clean,
            earned_improvement: self.earned_improvement + other.earned_improvement,
            used_clean: self.used_clean + other.used_clean,
            used_improvement: self.used_improvement + other.used_improvement,
            lost_improvement: self.lost_improvement + other.lost_improvement,
        }
    }
}

fn at(figures: &Figures, year: TaxYear, line: Line) -> Option<Money> {
    figures.money(&Place::of_return(year, line))
}

fn is_open(finding: &Finding, blocking: bool) -> bool {
    finding.severity == Severity::Question && (finding.blocking || !blocking)
}

/// Returns the balance carried into each year from the first of the case to the one after its last.
fn balances(case: &Case, outcome: &Outcome) -> Vec<Balance> {
    let mut years: BTreeSet<TaxYear> = outcome.years.iter().flat_map(|year| [*year, year.after()]).collect();
    years.extend(case.carried_in.iter().map(|one| one.year.value));
    let of_year = |year: TaxYear| {
        if let Some(entering) = season::entering(case, outcome, year) {
            return Some(Balance { year, amount: entering.amount, expected: entering.expected });
        }
        let figures = &outcome.figures;
        let amount =
            at(figures, year, line::CARRIED_IN).or_else(|| at(figures, year.before(), line::CARRIED_OUT))?;
        Some(Balance { year, amount, expected: false })
    };
    years.into_iter().filter_map(of_year).collect()
}

/// Returns the papers that are not on file, each once with the items it proves, as the letter that asks for them has
/// them.
fn missing(case: &Case, law: &Law, outcome: &Outcome) -> Option<Vec<Missing>> {
    let last = *outcome.years.last()?;
    if case.evidence.is_empty() {
        return None;
    }
    let mut found: Vec<Missing> = Vec::new();
    for one in papers::papers(case, law, outcome, last) {
        for paper in one.missing() {
            match found.iter_mut().find(|known| known.what == paper.what) {
                Some(known) => known.items.push(one.item.clone()),
                None => found.push(Missing { what: paper.what.clone(), items: vec![one.item.clone()] }),
            }
        }
    }
    Some(found)
}
