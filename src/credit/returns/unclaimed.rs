//! Years whose credits a filed return has not claimed.
//!
//! Comes in: a case and its figures. Goes out: for each such year what was left out, and until when it can be claimed.
//! No figure depends on it.

use super::window::{Window, window};
use super::{amend, as_filed, stage};
use crate::case::{Case, Key, TaxYear};
use crate::credit::evaluate::credits;
use crate::credit::evaluate::line::{self, Line, Place};
use crate::credit::outcome::Outcome;
use crate::money::Money;
use jiff::civil::Date;

/// A year in which a credit was left out.
#[derive(Clone, Debug, PartialEq)]
pub struct Unclaimed {
    /// The tax year.
    pub year: TaxYear,
    /// What the case says of the filed return.
    pub said: Said,
    /// So much less tax than the return shows, all changes of the year together.
    pub less_tax: Money,
    /// The home improvement credit: computed less filed; below zero where the return claims too much of it.
    pub improvement: Money,
    /// The clean energy credit likewise.
    pub clean: Money,
    /// The credit carried forward likewise.
    pub carried_out: Money,
    /// The items that qualify in the year, in case order.
    pub items: Vec<Key>,
    /// Until when it can be claimed.
    pub window: Window,
}

/// What the case says of what a filed return shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Said {
    /// The changes of the return come to less tax together, by more than rounding; the amounts say how much.
    Less,
    /// The case does not say what the filed return shows of a credit that is computed.
    NotSaid,
    /// The case has no return for the year.
    NoReturn,
}

impl Unclaimed {
    /// Says whether the return is known to leave out a credit.
    pub fn is_known(&self) -> bool {
        self.said == Said::Less
    }

    /// Says whether a claim made on a day would be in time.
    pub fn is_open(&self, on: Date) -> bool {
        on <= self.window.closes
    }
}

/// Returns the years in which a filed return leaves out a credit that is computed, or may leave it out because the
/// case does not say; earliest first, whether or not their time has passed.
///
/// A return that is being prepared leaves nothing out yet, and an amended one has claimed it. One that claims too much of
/// one credit leaves out only what the other is short of it. A change of the carryforward alone is no refund and has no
/// last day, so it is none of these.
pub fn unclaimed(case: &Case, outcome: &Outcome) -> Vec<Unclaimed> {
    outcome.years.iter().filter_map(|year| of_year(case, outcome, *year)).collect()
}

fn of_year(case: &Case, outcome: &Outcome, year: TaxYear) -> Option<Unclaimed> {
    let figures = &outcome.figures;
    let money = |line: Line| figures.money(&Place::of_return(year, line));
    let computed = |line: Line| money(line).is_some_and(|amount| !amount.is_zero());
    let change = |line: Line| as_filed::change(figures, year, line);
    let correction = amend::correction(case, figures, year);
    let less_tax = correction.map_or(Money::ZERO, |one| one.less_tax);
    let tax_return = case.tax_return(year);
    let said = match tax_return {
        Some(one) if !stage::stands_as_filed(one) => return None,
        Some(one) => {
            if !less_tax.is_zero() {
                Said::Less
            } else if credits::shown().any(|shown| as_filed::is_unsaid(shown, one, figures)) {
                Said::NotSaid
            } else {
                return None;
            }
        }
        // Returns before a balance brought in have been filed, and the balance is what they left.
        None if case.carried_in.iter().any(|one| one.year.value > year) => return None,
        None if computed(line::IMPROVEMENT_BEFORE_LIMIT)
            || line::CLEAN_EARNED.iter().any(|line| computed(*line)) =>
        {
            Said::NoReturn
        }
        None => return None,
    };
    let items = case.property.iter().map(|item| &item.key.value).filter(|key| {
        let qualified = figures.money(&Place::of_item(year, line::ITEM_QUALIFIED, key));
        qualified.is_some_and(|amount| !amount.is_zero())
    });
    Some(Unclaimed {
        year,
        said,
        less_tax,
        improvement: change(line::CHANGE_IMPROVEMENT),
        clean: change(line::CHANGE_CLEAN),
        carried_out: change(line::CHANGE_CARRIED_OUT),
        items: items.cloned().collect(),
        window: window(case, year),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::credit::sample::household;

    fn read(returns: &str, item: &str) -> (Case, Outcome) {
        household(&format!("{item}returns:\n{returns}"))
    }

    const ITEM: &str = "property:\n  a:\n    kind: solar_electric\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2023-08-01\n    costs: [{item: array, as: equipment, amount: 10000}]\n";

    #[test]
    fn only_a_filed_return_leaves_a_credit_out() {
        let told = |keys: &str| {
            let text = format!("  2023: {{filing_status: single, tax_before_credits: 1000, {keys}}}\n");
            let (case, outcome) = read(&text, ITEM);
            let all = unclaimed(&case, &outcome);
            all.first().map(|one| (one.said, one.clean.spoken(), one.carried_out.spoken(), one.items.len()))
        };
        let filed = "stage: filed, filed: 2024-03-12";
        let nothing = told(&format!("{filed}, claimed: {{clean: 0, carried_out: 0}}"));
        assert_eq!(nothing, Some((Said::Less, "$1,000".to_string(), "$2,000".to_string(), 1)));
        // A change of the carryforward alone is no refund.
        assert_eq!(told(&format!("{filed}, claimed: {{clean: 1000, carried_out: 500}}")), None);
        assert_eq!(told(&format!("{filed}, claimed: {{clean: 1000, carried_out: 2000}}")), None);
        assert_eq!(told(&format!("{filed}, claimed: {{clean: 1000, carried_out: 2400}}")), None);
        // A dollar comes of rounding; two do not.
        assert_eq!(told(&format!("{filed}, claimed: {{clean: 999, carried_out: 2001}}")), None);
        assert_eq!(told(&format!("{filed}, claimed: {{clean: 999, carried_out: 1999}}")), None);
        let two = told(&format!("{filed}, claimed: {{clean: 998, carried_out: 2000}}"));
        assert_eq!(two, Some((Said::Less, "$2".to_string(), "$0".to_string(), 1)));
        assert_eq!(told(filed).map(|one| one.0), Some(Said::NotSaid));
        assert_eq!(told("stage: draft"), None);
        assert_eq!(told("stage: amended, claimed: {clean: 0, carried_out: 0}"), None);
    }

    /// A client who came with a balance from a filed Form 5695: the property stays in the case for its papers.
    #[test]
    fn years_before_a_balance_brought_in_leave_nothing_out() {
        let balance = "carried_in:\n  2026: {amount: 310, shown_on: 2025 Form 5695 line 16}\n";
        let (case, outcome) = household(&format!("{ITEM}{balance}"));
        assert_eq!(unclaimed(&case, &outcome), []);
        let (case, outcome) = household(ITEM);
        assert_eq!(unclaimed(&case, &outcome)[0].said, Said::NoReturn);
    }
}
