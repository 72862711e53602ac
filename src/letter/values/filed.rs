//! What letters say of filed returns: what was filed against what is computed, what the changes of each year come to
//! together, and until when a refund can be claimed.

use super::Telling;
use super::years::some;
use crate::case::TaxYear;
use crate::credit::amend::{Correction, corrections};
use crate::credit::line::{self, Line, Place};
use crate::credit::window;
use crate::law::Credit;
use crate::letter::names;
use crate::money::Money;
use crate::wording::capital;

/// The rows of the comparison with the filed return: the credit, and its lines.
const AS_FILED: [(Credit, [Line; 4]); 3] = [
    (
        Credit::Improvement,
        [
            line::FILED_IMPROVEMENT,
            line::TO_RETURN_IMPROVEMENT,
            line::CHANGE_IMPROVEMENT,
            line::IMPROVEMENT_ALLOWED,
        ],
    ),
    (Credit::Clean, [line::FILED_CLEAN, line::TO_RETURN_CLEAN, line::CHANGE_CLEAN, line::CLEAN_ALLOWED]),
    (
        Credit::Clean,
        [line::FILED_CARRIED_OUT, line::TO_NEXT_YEAR, line::CHANGE_CARRIED_OUT, line::CARRIED_OUT],
    ),
];

impl Telling<'_> {
    /// Returns what a year's return shows as filed beside what is computed, a row for each amount that the case gives.
    pub(super) fn as_filed(&self, year: TaxYear) -> Vec<names::Filed> {
        let figures = &self.request.outcome.figures;
        let at = |line: Line| figures.money(&Place::of_return(year, line));
        AS_FILED
            .iter()
            .filter_map(|(credit, [filed, correct, change, official])| {
                let credit = self.called(year, *credit);
                let what = match *official {
                    line::CARRIED_OUT => self.speech.say("{} carried forward", &[&credit]),
                    _ => credit,
                };
                let (filed, correct, change) = (at(*filed)?, at(*correct)?, at(*change)?);
                if filed.is_zero() && correct.is_zero() {
                    return None;
                }
                Some(names::Filed {
                    what: capital(&what),
                    official: self.official_place(year, *official),
                    filed: filed.spoken(),
                    correct: correct.spoken(),
                    change: change.spoken(),
                })
            })
            .collect()
    }

    /// Returns the filed returns that change, whether before or after the year of the letter, because a change of what
    /// one year carries forward changes the years after it. Of those that have been amended only that of the letter.
    pub(super) fn changed_years(&self) -> Vec<names::ChangedYear> {
        let request = &self.request;
        let told = corrections(request.case, request.outcome);
        let told = told.iter().filter(|one| !one.amended || one.year == request.year);
        told.map(|one| self.changed_year(one)).collect()
    }

    fn changed_year(&self, one: &Correction) -> names::ChangedYear {
        let Correction { year, window, .. } = *one;
        let dated = self.request.dated;
        let at = |line: Line| self.request.outcome.figures.money(&Place::of_return(year, line));
        let at = |line: Line| at(line).unwrap_or(Money::ZERO).spoken();
        let refund = !one.amended && !one.less_tax.is_zero();
        let open = one.refund_is_open(dated);
        let early = open && window.reaches_withholding < window.closes;
        names::ChangedYear {
            year: year.to_string(),
            next_year: year.after().to_string(),
            rows: self.as_filed(year),
            less_tax: some(one.less_tax),
            more_tax: some(one.more_tax),
            same_tax: one.same_tax(),
            carries_otherwise: one.moves_carryforward(),
            carried_filed: at(line::FILED_CARRIED_OUT),
            carried_correct: at(line::TO_NEXT_YEAR),
            open,
            at_least: matches!(window.from, window::From::DueAsFar(_)),
            over: !one.amended && !one.same_tax() && one.is_over(dated),
            unknown: refund && !open && !one.is_over(dated),
            closes: self.speech.date(window.closes),
            by_payment: matches!(window.from, window::From::Paid(_)),
            withheld_until: if early { self.speech.date(window.reaches_withholding) } else { String::new() },
            withheld_is_past: early && window.reaches_withholding < dated,
        }
    }
}
