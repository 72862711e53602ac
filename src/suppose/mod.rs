//! What years to come would use of a carried credit, on tax that somebody assumes for them.
//!
//! Comes in: a case, and for some years a tax. Goes out: a row for each year, every amount of which is a figure of the
//! engine. The case is computed once more with the assumed tax in place of that of returns that are not filed and of
//! planned years; nothing is computed here. What the case holds stays as it is, and no law of a year to come is read:
//! since 25D earns nothing new after 2025, all there is to show is how the tax of those years uses what is left.

pub mod data;
pub mod page;
pub mod text;
mod words;

use crate::case::{
    Case, FilingStatus, OtherCredit, OtherCreditEntry, PlannedYear, ReturnForm, RoundingChoice, Stage,
    TaxReturn, TaxYear,
};
use crate::credit::line::{self, Line, Place};
use crate::credit::planning::{self, MOST_YEARS};
use crate::credit::stage::stage;
use crate::credit::{Fault, Figures, Outcome, compute};
use crate::finding::Spanned;
use crate::law::Law;
use crate::money::Money;
use std::fmt;

/// What is assumed of a year.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Assumed {
    /// The year.
    pub year: TaxYear,
    /// Its tax before credits.
    pub tax: Money,
    /// The credits that come before the clean energy credit, in one amount; none where nothing is assumed of them.
    pub other: Option<Money>,
}

/// One or two assumptions, side by side.
#[derive(Clone, Debug, PartialEq)]
pub struct Supposed {
    /// The first year looked at.
    pub first: TaxYear,
    /// What each assumption comes to, in the order in which they were made.
    pub ways: Vec<Way>,
}

/// What one assumption comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// What was assumed.
    pub assumed: Vec<Assumed>,
    /// The years, from the first one that is open to the one that uses the rest, or to the last one assumed; never empty.
    pub years: Vec<Year>,
    /// The years that were assumed and are not needed, because nothing is left for them.
    pub not_needed: Vec<TaxYear>,
}

/// One year of an assumption.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Year {
    /// The year.
    pub year: TaxYear,
    /// Where its tax comes from.
    pub from: From,
    /// The tax before credits.
    pub tax: Money,
    /// The credits that come before the clean energy credit.
    pub credits_before: Money,
    /// What would be left of the tax for it.
    pub tax_left: Money,
    /// What there would be to use: carried in, and in a return's year also earned.
    pub available: Money,
    /// What would be used.
    pub used: Money,
    /// What would be left for the year after.
    pub left: Money,
}

/// Where the tax of a year comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum From {
    /// It is assumed.
    Assumed,
    /// The case's own return of the year, which is not filed.
    Return,
    /// The case's own figures for planning.
    Planned,
}

impl Way {
    /// Returns what is left after the last of its years; nothing where it is used up.
    pub fn left(&self) -> Money {
        self.years.last().map_or(Money::ZERO, |one| one.left)
    }

    /// Returns its last year.
    pub fn last(&self) -> Option<TaxYear> {
        self.years.last().map(|one| one.year)
    }
}

/// Why nothing can be supposed.
#[derive(Clone, Debug, PartialEq)]
pub enum Refused {
    /// The return of the year is filed.
    Filed { year: TaxYear, first: TaxYear },
    /// The year comes before those that are open.
    Before { year: TaxYear, first: TaxYear },
    /// The year is assumed twice.
    Twice(TaxYear),
    /// Nothing is known of the tax of a year in between.
    Gap { year: TaxYear, last: TaxYear },
    /// Other credits are assumed, and no tax.
    OtherAlone(TaxYear),
    /// The case has the return of the year with its other credits.
    OtherOfReturn(TaxYear),
    /// The year is later than any that is looked at.
    TooLate { year: TaxYear, last: TaxYear },
    /// There is no credit to use.
    Nothing(TaxYear),
    /// The case knows no year at all.
    NoYear,
}

impl Refused {
    /// Returns what to do.
    pub fn help(&self) -> String {
        match self {
            Refused::Filed { first, .. } => {
                format!("assume a tax for {first} or later; `figures` shows what the filed years used")
            }
            Refused::Before { first, .. } => format!("the first open year is {first}; begin with it"),
            Refused::Twice(_) => "give each year once, or put a second assumption after --and".to_string(),
            Refused::Gap { year, .. } => format!("add --tax {year}=AMOUNT"),
            Refused::OtherAlone(year) => format!("add --tax {year}=AMOUNT"),
            Refused::OtherOfReturn(year) => {
                format!("leave --other {year}=.. out, or change `other_credits` in the case")
            }
            Refused::TooLate { last, .. } => format!("write a year up to {last}"),
            Refused::Nothing(_) => "nothing carries forward, so there is nothing to suppose".to_string(),
            Refused::NoYear => "add a balance under `carried_in`, or a return".to_string(),
        }
    }
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Refused::Filed { year, .. } => {
                write!(f, "the {year} return is filed, so its tax is not an assumption")
            }
            Refused::Before { year, .. } => write!(f, "{year} comes before the first year that is open"),
            Refused::Twice(year) => write!(f, "{year} is assumed twice"),
            Refused::Gap { year, last } => {
                write!(f, "a tax is assumed for {last}, and nothing is known of the tax of {year}")
            }
            Refused::OtherAlone(year) => write!(f, "other credits are assumed for {year}, and no tax"),
            Refused::OtherOfReturn(year) => {
                write!(f, "the case has the {year} return with its other credits, each on its line")
            }
            Refused::TooLate { year, .. } => write!(f, "{year} is more than {MOST_YEARS} years to come"),
            Refused::Nothing(first) => {
                write!(f, "the case has no clean energy credit to use in {first} or later")
            }
            Refused::NoYear => f.write_str("the case has no return and no balance"),
        }
    }
}

/// Why there is no answer.
#[derive(Debug)]
pub enum NotSupposed {
    /// What was asked for cannot be supposed.
    Refused(Refused),
    /// A mistake of the program.
    Fault(Fault),
}

impl std::convert::From<Refused> for NotSupposed {
    fn from(refused: Refused) -> NotSupposed {
        NotSupposed::Refused(refused)
    }
}

impl std::convert::From<Fault> for NotSupposed {
    fn from(fault: Fault) -> NotSupposed {
        NotSupposed::Fault(fault)
    }
}

/// Supposes a tax for years to come, in each way that is given.
pub fn suppose(
    case: &Case,
    law: &Law,
    outcome: &Outcome,
    ways: &[Vec<Assumed>],
) -> Result<Supposed, NotSupposed> {
    let first = first_open(case, outcome).ok_or(Refused::NoYear)?;
    let ways = ways.iter().map(|assumed| way(case, law, outcome, first, assumed));
    Ok(Supposed { first, ways: ways.collect::<Result<_, NotSupposed>>()? })
}

/// Returns the first year whose tax is open: that of the first return that is not filed, else the one after the last
/// return, or the one that a later balance is brought into.
fn first_open(case: &Case, outcome: &Outcome) -> Option<TaxYear> {
    let returns = || case.returns.iter().map(|one| one.year.value);
    let not_filed = returns().filter(|year| !stage(case, &outcome.figures, *year).is_filed()).min();
    let last = returns().max();
    let later = |year: &TaxYear| last.is_none_or(|last| *year > last);
    let balance = case.carried_in.iter().map(|one| one.year.value).filter(later).max();
    let after_last = last.map(TaxYear::after);
    not_filed.or(balance).or(after_last).or_else(|| outcome.years.first().copied())
}

fn way(
    case: &Case,
    law: &Law,
    outcome: &Outcome,
    first: TaxYear,
    given: &[Assumed],
) -> Result<Way, NotSupposed> {
    let mut assumed = given.to_vec();
    assumed.sort_by_key(|one| one.year);
    fits(case, outcome, first, &assumed)?;
    let last = assumed.last().map_or(first, |one| one.year);
    let changed = changed(case, law, outcome, first, &assumed);
    let figures = compute(&changed, law)?;
    let mut years = rows(case, &changed, &figures, first, last, &assumed);
    // What comes before there is anything to use says nothing.
    let begins = years.iter().position(|one| !one.available.is_zero()).ok_or(Refused::Nothing(first))?;
    years.drain(..begins);
    // Nothing is earned any more once it is used up.
    let ends = years.iter().rposition(|one| !one.available.is_zero()).map_or(0, |at| at + 1);
    years.truncate(ends);
    let until = years.last().map_or(first, |one| one.year);
    let not_needed = assumed.iter().map(|one| one.year).filter(|year| *year > until).collect();
    Ok(Way { assumed, years, not_needed })
}

/// Refuses what cannot be supposed.
fn fits(case: &Case, outcome: &Outcome, first: TaxYear, assumed: &[Assumed]) -> Result<(), Refused> {
    if let Some(pair) = assumed.windows(2).find(|pair| pair[0].year == pair[1].year) {
        return Err(Refused::Twice(pair[0].year));
    }
    let limit = TaxYear(first.0 + MOST_YEARS as i16 - 1);
    for one in assumed {
        let year = one.year;
        if case.tax_return(year).is_some() {
            if stage(case, &outcome.figures, year).is_filed() {
                return Err(Refused::Filed { year, first });
            }
            if one.other.is_some() {
                return Err(Refused::OtherOfReturn(year));
            }
        }
        if year < first {
            return Err(Refused::Before { year, first });
        }
        if year > limit {
            return Err(Refused::TooLate { year, last: limit });
        }
    }
    let known = |year: TaxYear| {
        assumed.iter().any(|one| one.year == year)
            || case.tax_return(year).is_some()
            || case.planning.years.iter().any(|one| one.year.value == year)
    };
    let last = assumed.last().map_or(first, |one| one.year);
    match (first.0..last.0).map(TaxYear).find(|year| !known(*year)) {
        Some(year) => Err(Refused::Gap { year, last }),
        None => Ok(()),
    }
}

/// Returns the case as if the assumed tax were its own: in returns that are not filed, else among the planned years. Where
/// planning cannot start from a last return, because something is known of the years after it, those of which there is
/// law get a return.
fn changed(case: &Case, law: &Law, outcome: &Outcome, first: TaxYear, assumed: &[Assumed]) -> Case {
    let mut changed = case.clone();
    let spanned = |amount: Money| Spanned::new(amount, case.whole);
    let last_return = case.returns.iter().map(|one| one.year.value).max();
    let plans_from_last = last_return.is_some_and(|last| !planning::goes_on(case, &outcome.figures, last));
    let default = (!plans_from_last).then_some(Money::ZERO);
    let planned = |year: TaxYear, tax: Money, other: Option<Money>| PlannedYear {
        year: Spanned::new(year, case.whole),
        tax_before_credits: spanned(tax),
        credits_before: other.or(default).map(spanned),
    };
    for one in assumed {
        if let Some(own) = changed.returns.iter_mut().find(|own| own.year.value == one.year) {
            own.tax_before_credits = spanned(one.tax);
            continue;
        }
        changed.planning.years.retain(|own| own.year.value != one.year);
        changed.planning.years.push(planned(one.year, one.tax, one.other));
    }
    changed.planning.years.sort_by_key(|one| one.year.value);
    if !plans_from_last {
        let has_none = |year: &TaxYear| case.tax_return(*year).is_none() && law.year(*year).is_some();
        let begin = last_return.map_or(first, |last| last.after()).max(first);
        let last = assumed.last().map_or(first, |one| one.year);
        for year in (begin.0..=last.0).map(TaxYear).filter(has_none) {
            let own = changed.planning.years.iter().find(|one| one.year.value == year).cloned();
            let Some(own) = own else { continue };
            changed.returns.push(expected_return(case, year, &own));
        }
        changed.returns.sort_by_key(|one| one.year.value);
    }
    changed
}

/// Makes the return of a year of which nothing but an amount of tax and of other credits is assumed. That of another
/// credit is entered as the one that comes first in every year; which it is changes nothing of what is left after it.
fn expected_return(case: &Case, year: TaxYear, planned: &PlannedYear) -> TaxReturn {
    let spanned = |year: TaxYear| Spanned::new(year, case.whole);
    let other = planned.credits_before.clone().filter(|amount| !amount.value.is_zero());
    TaxReturn {
        span: case.whole,
        year: spanned(year),
        form: Spanned::new(ReturnForm::Form1040, case.whole),
        stage: Spanned::new(Stage::Projected, case.whole),
        filing_status: case
            .returns
            .last()
            .map_or(Spanned::new(FilingStatus::Single, case.whole), |last| last.filing_status.clone()),
        filed: None,
        due: None,
        extended_to: None,
        tax_paid: Vec::new(),
        tax_before_credits: planned.tax_before_credits.clone(),
        other_credits: other
            .map(|amount| OtherCreditEntry {
                credit: Spanned::new(OtherCredit::ForeignTax, case.whole),
                amount,
                worksheet_b: None,
                worksheet_b_unsaid: false,
            })
            .into_iter()
            .collect(),
        claimed: None,
        rounding: case.returns.last().map_or(RoundingChoice::WholeDollars, |last| last.rounding),
        separate_main_homes: None,
    }
}

/// Reads the years from the figures: those of returns, then those that are planned.
fn rows(
    case: &Case,
    changed: &Case,
    outcome: &Outcome,
    first: TaxYear,
    last: TaxYear,
    assumed: &[Assumed],
) -> Vec<Year> {
    let from = |year: TaxYear| match () {
        () if assumed.iter().any(|one| one.year == year) => From::Assumed,
        () if case.tax_return(year).is_some() => From::Return,
        () => From::Planned,
    };
    let of_return = |year: TaxYear| of_return(&outcome.figures, year, from(year));
    let returns =
        changed.returns.iter().map(|one| one.year.value).filter(|year| (first..=last).contains(year));
    let mut rows: Vec<Year> = returns.filter_map(of_return).collect();
    let outlook = planning::outlook(changed, outcome);
    let to_come = outlook.into_iter().flat_map(|one| one.years).filter(|one| one.year <= last);
    rows.extend(to_come.map(|one| Year {
        year: one.year,
        from: from(one.year),
        tax: one.tax,
        credits_before: one.credits_before,
        tax_left: one.tax_left,
        available: one.carried_in,
        used: one.used,
        left: one.left,
    }));
    rows
}

fn of_return(figures: &Figures, year: TaxYear, from: From) -> Option<Year> {
    let at = |line: Line| figures.money(&Place::of_return(year, line));
    Some(Year {
        year,
        from,
        tax: at(line::TAX)?,
        credits_before: at(line::BEFORE_CLEAN)?,
        tax_left: at(line::CLEAN_TAX_LEFT)?,
        available: at(line::CLEAN_BEFORE_LIMIT)?,
        used: at(line::CLEAN_ALLOWED)?,
        left: at(line::CARRIED_OUT)?,
    })
}

#[cfg(test)]
mod tests;
