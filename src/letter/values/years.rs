//! What letters say of a credit's way through the years: earned, used and left, what enters a year, and what years to
//! come would use.

use super::Telling;
use crate::case::TaxYear;
use crate::credit::Value as Worth;
use crate::credit::line::{self, Line, Place, Subject};
use crate::credit::papers::due_date;
use crate::credit::planning;
use crate::credit::season;
use crate::credit::stage::{self, ReturnStage};
use crate::letter::names;
use crate::money::Money;

/// Letters tell of so many years to come one by one.
const YEARS_TOLD: usize = 5;

/// Writes an amount out; nothing for zero.
pub(super) fn some(amount: Money) -> String {
    if amount.is_zero() { String::new() } else { amount.spoken() }
}

impl Telling<'_> {
    /// Returns the chain of the year: a row per origin year, oldest first.
    pub(super) fn chain(&self) -> Vec<names::Origin> {
        let (outcome, year) = (self.request.outcome, self.request.year);
        let figures = &outcome.figures;
        let at = |year: TaxYear, line: Line, origin: TaxYear| {
            figures.money(&Place { year, line, of: Subject::Origin(origin) })
        };
        let of_year = figures.of_year(year);
        let origins = of_year.iter().filter_map(|figure| match figure.place.of {
            Subject::Origin(origin) if figure.place.line == line::ORIGIN_AVAILABLE => Some(origin),
            _ => None,
        });
        origins
            .map(|origin| {
                let earned = at(origin, line::ORIGIN_EARNED, origin);
                let first = outcome.years.iter().find_map(|year| at(*year, line::ORIGIN_AVAILABLE, origin));
                let used_so_far: Money = outcome
                    .years
                    .iter()
                    .filter(|one| **one <= year)
                    .filter_map(|one| at(*one, line::ORIGIN_USED, origin))
                    .sum();
                let here = |line: Line| at(year, line, origin).unwrap_or(Money::ZERO).spoken();
                names::Origin {
                    origin: origin.to_string(),
                    brought_in: earned.is_none(),
                    earned: earned.or(first).unwrap_or(Money::ZERO).spoken(),
                    available: here(line::ORIGIN_AVAILABLE),
                    used: here(line::ORIGIN_USED),
                    used_so_far: used_so_far.spoken(),
                    left: here(line::ORIGIN_LEFT),
                }
            })
            .collect()
    }

    /// Returns the clean energy credit year by year, up to the year of the letter.
    pub(super) fn history(&self) -> Vec<names::PastYear> {
        let (outcome, year) = (self.request.outcome, self.request.year);
        let row = |one: &TaxYear| {
            let money = |line: Line| match outcome
                .figures
                .get(&Place::of_return(*one, line))
                .map(|figure| &figure.value)
            {
                Some(Worth::Money(amount)) => *amount,
                _ => Money::ZERO,
            };
            let earned: Money = line::CLEAN_EARNED.iter().map(|line| money(*line)).sum();
            let (carried_in, used, left) =
                (money(line::CARRIED_IN), money(line::CLEAN_ALLOWED), money(line::CARRIED_OUT));
            let any = [earned, carried_in, used, left].iter().any(|amount| !amount.is_zero());
            any.then(|| names::PastYear {
                year: one.to_string(),
                otherwise: self.stage(*one) == ReturnStage::FiledOtherwise,
                earned: some(earned),
                carried_in: some(carried_in),
                used: some(used),
                left: some(left),
            })
        };
        // A year before the balance that starts the chain has no return here: what was used in it is not known.
        let told = |one: &&TaxYear| **one <= year && self.request.case.tax_return(**one).is_some();
        outcome.years.iter().filter(told).filter_map(row).collect()
    }

    /// Returns the balance that enters the year; empty words where none does.
    pub(super) fn entering(&self) -> names::Entering {
        let request = &self.request;
        let entering = season::entering(request.case, request.outcome, request.year);
        let origins: Vec<names::OriginLeft> = entering
            .iter()
            .flat_map(|one| &one.origins)
            .map(|one| names::OriginLeft {
                origin: one.year.to_string(),
                brought_in: one.brought_in,
                left: one.left.spoken(),
            })
            .collect();
        let before = request.year.before();
        let other = request.facts.holds("previous_other_balance") == Some(true);
        let filed = request.outcome.figures.money(&Place::of_return(before, line::FILED_CARRIED_OUT));
        names::Entering {
            amount: entering.as_ref().map_or_else(String::new, |one| one.amount.spoken()),
            several: origins.len() > 1,
            origins,
            expected: entering.as_ref().is_some_and(|one| one.expected),
            shown_on: self.official_place(before, line::CARRIED_OUT),
            filed: filed.filter(|_| other).map_or_else(String::new, Money::spoken),
            unsaid: self.stage(before) == ReturnStage::FiledUnsaid,
        }
    }

    /// Returns what years to come would use of the credit; empty words where nothing is left, or where the letter is
    /// about other years.
    pub(super) fn outlook(&self) -> names::Outlook {
        let request = &self.request;
        // A year whose return was due already is no year to come.
        let starts_here = |one: &planning::Outlook| {
            [one.from, one.from.after()].contains(&request.year)
                && due_date(request.case, one.from.after()) >= request.dated
        };
        let outlook = planning::outlook(request.case, request.outcome).filter(starts_here);
        let outlook = outlook.as_ref();
        let first = outlook.and_then(|one| one.years.first());
        let last = outlook.and_then(|one| one.years.last());
        let year = |one: Option<TaxYear>| one.map_or_else(String::new, |year| year.to_string());
        let entry = |year: TaxYear, tax: Money, used: Money, left: Money| names::YearToCome {
            year: year.to_string(),
            tax: tax.spoken(),
            used: some(used),
            left: some(left),
        };
        // A return that is only projected is itself a year to come.
        let projected = outlook.filter(|one| one.from == request.year && one.now.is_some()).map(|one| {
            let at = |line: Line| request.outcome.figures.money(&Place::of_return(one.from, line));
            let at = |line: Line| at(line).unwrap_or(Money::ZERO);
            entry(one.from, at(line::TAX), at(line::CLEAN_ALLOWED), one.balance)
        });
        let all = outlook.iter().flat_map(|one| &one.years);
        let mut all: Vec<names::YearToCome> = projected
            .into_iter()
            .chain(all.map(|one| entry(one.year, one.tax, one.used, one.left)))
            .collect();
        let goes_on = all.len() > YEARS_TOLD;
        all.truncate(YEARS_TOLD);
        let more = outlook.and_then(|one| one.more_on(request.dated));
        names::Outlook {
            some: outlook.is_some(),
            from: year(outlook.map(|one| one.from)),
            planned: outlook.is_some_and(planning::Outlook::is_planned),
            assumed: outlook.map_or_else(Vec::new, |one| self.assumed(one)),
            first: year(first.map(|one| one.year)),
            tax: first.map_or_else(String::new, |one| one.tax.spoken()),
            credits_before: first.map_or_else(String::new, |one| some(one.credits_before)),
            goes_on,
            years: all,
            used_up: year(outlook.and_then(planning::Outlook::used_up)),
            never: outlook.is_some_and(|one| one.end == planning::End::Never),
            beyond: outlook.is_some_and(|one| one.end == planning::End::NotWithin),
            last: year(last.map(|one| one.year)),
            left: last.map_or_else(String::new, |one| some(one.left)),
            more_tax: more.map_or_else(String::new, |one| some(one.tax)),
            more_in: year(more.map(|one| one.year)),
            more_income: more.and_then(|one| one.income).map_or_else(String::new, some),
        }
    }

    /// Returns what is assumed of the tax of the years to come, run by run.
    fn assumed(&self, outlook: &planning::Outlook) -> Vec<names::Assumed> {
        let end = outlook.years.last().map(|one| one.year);
        let (runs, speech) = (outlook.runs(), self.speech);
        let several = runs.len() > 1;
        let run = |run: &planning::Run| {
            let (first, last) = (run.first.year.to_string(), run.last.to_string());
            let when = match first == last {
                true => speech.say("For {}", &[&first]),
                false if Some(run.last) == end && several => speech.say("From {} on", &[&first]),
                false if Some(run.last) == end => speech.say("For each year", &[]),
                false => speech.say("From {} through {}", &[&first, &last]),
            };
            names::Assumed {
                when,
                tax: run.first.tax.spoken(),
                planned: matches!(run.first.assumed, planning::Assumed::Planned(_)),
                from: outlook.from.to_string(),
                expected: self.stage(outlook.from).is_to_come(),
                credits_before: some(run.first.credits_before),
            }
        };
        runs.iter().map(run).collect()
    }

    /// Returns how far the return of a year has come.
    fn stage(&self, year: TaxYear) -> ReturnStage {
        stage::stage(self.request.case, &self.request.outcome.figures, year)
    }
}
