//! Whether what a return shows and what is computed differ by more than rounding.
//!
//! Comes in: an amount as filed and the same amount as computed. Goes out: whether the two say different things. Every
//! comparison of a filed return with its computation asks here, so that facts, findings, letters and the register
//! agree on it. No figure depends on it: the lines of sheet 900 show the difference to the dollar in any case.
//!
//! The rule is ours, for no authority was found that says from which difference on two returns differ. A return may
//! be in whole dollars (26 U.S.C. 6102(a)), the rounding leaves the computation of the amount itself alone
//! (6102(c)), and cents are added before a line is rounded (instructions for Form 1040, "Rounding Off to Whole
//! Dollars"). So who rounds each cost, and who rounds their sum, may both follow the rules and come to lines that lie a
//! dollar apart. Therefore amounts that lie no more than one unit of rounding apart count as the same: a dollar
//! where one of them has no cents, and a cent where both have some.

use super::evaluate::Figures;
use super::line::{self, Line, Place};
use crate::case::TaxYear;
use crate::money::Money;

/// The lines that say by how much a computed amount exceeds the one that was filed.
pub const CHANGES: [Line; 3] = [line::CHANGE_IMPROVEMENT, line::CHANGE_CLEAN, line::CHANGE_CARRIED_OUT];

/// Says whether two amounts differ by more than rounding does.
pub fn differ(filed: Money, computed: Money) -> bool {
    let in_dollars = [filed, computed].into_iter().any(|amount| amount == amount.to_whole_dollars());
    let unit = if in_dollars { Money::dollars(1) } else { Money::cents(1) };
    let apart = if filed < computed { computed - filed } else { filed - computed };
    apart > unit
}

/// Returns computed less filed, as the line of [`CHANGES`] says; nothing where rounding explains the difference, or where
/// the case does not say what was filed.
pub fn change(figures: &Figures, year: TaxYear, change: Line) -> Money {
    let at = |line: Line| figures.money(&Place::of_return(year, line));
    let (filed, computed) = match change {
        line::CHANGE_IMPROVEMENT => (line::FILED_IMPROVEMENT, line::TO_RETURN_IMPROVEMENT),
        line::CHANGE_CLEAN => (line::FILED_CLEAN, line::TO_RETURN_CLEAN),
        _ => (line::FILED_CARRIED_OUT, line::TO_NEXT_YEAR),
    };
    match (at(change), at(filed), at(computed)) {
        (Some(change), Some(filed), Some(computed)) if differ(filed, computed) => change,
        _ => Money::ZERO,
    }
}

/// Says whether an amount of a year's return differs from what was filed, but by no more than rounding.
pub fn by_rounding_only(figures: &Figures, year: TaxYear) -> bool {
    let shown = |line: &Line| figures.money(&Place::of_return(year, *line)).unwrap_or(Money::ZERO);
    CHANGES.iter().any(|line| !shown(line).is_zero())
        && CHANGES.iter().all(|line| change(figures, year, *line).is_zero())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_unit_of_rounding_makes_no_difference() {
        for (filed, computed, differs) in [
            ("376", "377", false),
            ("377", "376", false),
            ("376", "378", true),
            ("0", "1", false),
            ("376", "376.49", false),
            // A return in cents, set against whole dollars.
            ("376.40", "377", false),
            ("375.99", "377", true),
            // Both in cents.
            ("376.40", "376.41", false),
            ("376.40", "376.42", true),
        ] {
            let read = |text| Money::read(text).unwrap();
            assert_eq!(differ(read(filed), read(computed)), differs, "{filed} filed, {computed} computed");
        }
    }
}
