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

use crate::case::{TaxReturn, TaxYear};
use crate::credit::evaluate::Figures;
use crate::credit::evaluate::credits::{self, Shown};
use crate::credit::evaluate::line::{Line, Place};
use crate::money::Money;

/// Returns the lines that say by how much a computed amount exceeds the one that was filed.
pub fn changes() -> impl Iterator<Item = Line> {
    credits::shown().map(|shown| shown.change)
}

/// Says whether two amounts differ by more than rounding does.
pub fn differ(filed: Money, computed: Money) -> bool {
    let in_dollars = [filed, computed].into_iter().any(|amount| amount == amount.to_whole_dollars());
    let unit = if in_dollars { Money::dollars(1) } else { Money::cents(1) };
    let apart = if filed < computed { computed - filed } else { filed - computed };
    apart > unit
}

/// Returns computed less filed, as the line of [`changes`] says; nothing where rounding explains the difference, or where
/// the case does not say what was filed.
pub fn change(figures: &Figures, year: TaxYear, change: Line) -> Money {
    let at = |line: Line| figures.money(&Place::of_return(year, line));
    let Some(shown) = credits::shown().find(|shown| shown.change == change) else { return Money::ZERO };
    match (at(change), at(shown.filed), at(shown.computed)) {
        (Some(change), Some(filed), Some(computed)) if differ(filed, computed) => change,
        _ => Money::ZERO,
    }
}

/// Says whether a filed return is known to show another amount than is computed, by more than rounding.
pub fn differs(shown: Shown, figures: &Figures, year: TaxYear) -> bool {
    !change(figures, year, shown.change).is_zero()
}

/// Says whether an amount is computed for a return, and the case does not give what the return shows of it.
pub fn is_unsaid(shown: Shown, one: &TaxReturn, figures: &Figures) -> bool {
    let computed = figures.money(&Place::of_return(one.year.value, shown.computed));
    let given = one.claimed.as_ref().and_then(shown.claimed);
    given.is_none() && computed.is_some_and(|amount| amount != Money::ZERO)
}

/// Says whether an amount of a year's return differs from what was filed, but by no more than rounding.
pub fn by_rounding_only(figures: &Figures, year: TaxYear) -> bool {
    let shown = |line: Line| figures.money(&Place::of_return(year, line)).unwrap_or(Money::ZERO);
    changes().any(|line| !shown(line).is_zero())
        && changes().all(|line| change(figures, year, line).is_zero())
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
