//! The lines of each credit: a row of [`CREDITS`] for each, in the order in which they take their part of the tax.
//!
//! What a credit is called and under which terms it is given is law (`law::Credit`, the years' files); here stands where
//! its figures go. Whoever does the same for every credit walks this table.

use super::line::{self, Line};
use crate::case::Claimed;
use crate::finding::Spanned;
use crate::law::Credit;
use crate::money::Money;

/// The lines of one credit.
#[derive(Debug)]
pub struct CreditLines {
    /// The credit.
    pub credit: Credit,
    /// The sheet on which it is figured.
    pub sheet: u16,
    /// The credit before the tax limit.
    pub before_limit: Line,
    /// The other credits that come before it, and what they leave of the tax.
    pub come_before: Line,
    /// What is left of the tax for it.
    pub tax_left: Line,
    /// The tax limit, as its form has it.
    pub limit: Line,
    /// What is allowed.
    pub allowed: Line,
    /// What is allowed, where it comes before a later credit.
    pub taken_before: Option<Line>,
    /// What the tax limit takes for good.
    pub lost: Option<Line>,
    /// Where it can be carried forward: what comes in and what goes on.
    pub carried: Option<Carried>,
    /// What it has taken off the home's basis so far.
    pub basis: Line,
    /// The amount for the return, the amount filed, and the change.
    pub shown: Shown,
}

/// The lines of a credit that is carried forward.
#[derive(Clone, Copy, Debug)]
pub struct Carried {
    /// What the year before carried out.
    pub into: Line,
    /// What goes to the year after.
    pub on: Line,
    /// The same on the return, as filed, and the change.
    pub shown: Shown,
}

/// An amount that a return shows.
#[derive(Clone, Copy, Debug)]
pub struct Shown {
    /// As computed.
    pub computed: Line,
    /// As filed.
    pub filed: Line,
    /// The first less the second.
    pub change: Line,
    /// Its key under `claimed`.
    pub key: &'static str,
    /// What the case gives under that key.
    pub claimed: fn(&Claimed) -> Option<&Spanned<Money>>,
}

/// Every credit.
pub static CREDITS: [CreditLines; 2] = [
    CreditLines {
        credit: Credit::Improvement,
        sheet: 300,
        before_limit: line::IMPROVEMENT_BEFORE_LIMIT,
        come_before: line::BEFORE_IMPROVEMENT,
        tax_left: line::IMPROVEMENT_TAX_LEFT,
        limit: line::IMPROVEMENT_LIMIT,
        allowed: line::IMPROVEMENT_ALLOWED,
        taken_before: Some(line::BEFORE_IMPROVEMENT_ALLOWED),
        lost: Some(line::IMPROVEMENT_LOST),
        carried: None,
        basis: line::BASIS_IMPROVEMENT,
        shown: Shown {
            computed: line::TO_RETURN_IMPROVEMENT,
            filed: line::FILED_IMPROVEMENT,
            change: line::CHANGE_IMPROVEMENT,
            key: "improvement",
            claimed: |claimed| claimed.improvement.as_ref(),
        },
    },
    CreditLines {
        credit: Credit::Clean,
        sheet: 400,
        before_limit: line::CLEAN_BEFORE_LIMIT,
        come_before: line::BEFORE_CLEAN,
        tax_left: line::CLEAN_TAX_LEFT,
        limit: line::CLEAN_LIMIT,
        allowed: line::CLEAN_ALLOWED,
        taken_before: None,
        lost: None,
        carried: Some(Carried {
            into: line::CARRIED_IN,
            on: line::CARRIED_OUT,
            shown: Shown {
                computed: line::TO_NEXT_YEAR,
                filed: line::FILED_CARRIED_OUT,
                change: line::CHANGE_CARRIED_OUT,
                key: "carried_out",
                claimed: |claimed| claimed.carried_out.as_ref(),
            },
        }),
        basis: line::BASIS_CLEAN,
        shown: Shown {
            computed: line::TO_RETURN_CLEAN,
            filed: line::FILED_CLEAN,
            change: line::CHANGE_CLEAN,
            key: "clean",
            claimed: |claimed| claimed.clean.as_ref(),
        },
    },
];

/// Returns the lines of a credit.
pub fn of(credit: Credit) -> &'static CreditLines {
    CREDITS.iter().find(|one| one.credit == credit).unwrap_or_else(|| panic!("`{credit}` has no lines"))
}

/// Returns the lines of the credit that is carried forward, those of what goes on first.
pub fn carried() -> Option<(&'static CreditLines, Carried)> {
    CREDITS.iter().find_map(|one| Some((one, one.carried?)))
}

/// Returns every amount that a return shows: each credit, then what is carried forward of them.
pub fn shown() -> impl Iterator<Item = Shown> {
    let credits = CREDITS.iter().map(|one| one.shown);
    credits.chain(CREDITS.iter().filter_map(|one| one.carried).map(|carried| carried.shown))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_credit_has_lines_in_the_order_of_the_tax() {
        assert!(CREDITS.iter().map(|one| one.credit).eq(Credit::ALL.iter().copied()));
        for one in &CREDITS {
            assert_eq!(one.before_limit.sheet(), one.sheet, "{}", one.credit);
            assert!(one.lost.is_some() != one.carried.is_some(), "{} is either lost or carried", one.credit);
        }
    }
}
