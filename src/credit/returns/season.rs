//! The clean energy credit that enters a year, as a season's letters and lists need it.
//!
//! Comes in: a case and its figures. Goes out: the balance, the years it comes from, and what it rests on. Works
//! from the year before alone, so the year itself needs neither a return nor law. Computes no figure.

use super::stage;
use crate::case::{Case, TaxYear};
use crate::credit::evaluate::line::{self, Line, Place, Subject};
use crate::credit::outcome::Outcome;
use crate::credit::plan::brought_in;
use crate::money::Money;

/// A balance that enters a year.
#[derive(Clone, Debug, PartialEq)]
pub struct Entering {
    /// The year it enters.
    pub year: TaxYear,
    /// How much.
    pub amount: Money,
    /// The years that earned it, oldest first.
    pub origins: Vec<Origin>,
    /// The last year with a return in the case before it; none where the case brings the balance in.
    pub last_return: Option<TaxYear>,
    /// The return it comes from is projected or a draft, so the balance is an expectation.
    pub expected: bool,
}

/// The part of a balance that one year earned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Origin {
    /// The year; of a balance that was brought in, the year before the chain begins.
    pub year: TaxYear,
    /// How much of it is left.
    pub left: Money,
    /// It was brought in as a balance, whose own years are not in the case.
    pub brought_in: bool,
}

/// Returns the balance that enters a year; none where nothing is left, or where the case does not reach the year.
///
/// Where the case has the year itself, what is carried into it; otherwise what the case brings into it, or what the
/// return of the year before carries out. A case whose last return lies further back says nothing: the tax of the years between would have used credit.
pub fn entering(case: &Case, outcome: &Outcome, year: TaxYear) -> Option<Entering> {
    let figures = &outcome.figures;
    let before = year.before();
    let at_return = |year: TaxYear, line: Line| figures.money(&Place::of_return(year, line));
    let computed = at_return(before, line::CARRIED_OUT);
    // A balance that the case states stands where nothing was computed, or instead of it, unless it was refused.
    let stated = case.carried_in(year).filter(|one| computed.is_none() || one.instead_of_computed.is_some());
    let stated = stated.filter(|one| !brought_in::is_refused(case, figures, one));
    let (amount, of, line) = match (at_return(year, line::CARRIED_IN), stated) {
        (Some(amount), _) => (amount, year, line::ORIGIN_IN),
        (None, Some(stated)) => (stated.amount.value, year, line::ORIGIN_IN),
        (None, None) => (computed?, before, line::ORIGIN_LEFT),
    };
    if amount.is_zero() {
        return None;
    }
    let rows = figures.of_year(of).into_iter().filter(|figure| figure.place.line == line);
    let origins = rows.filter_map(|figure| {
        let Subject::Origin(origin) = figure.place.of else { return None };
        let left = figure.value.money().filter(|left| !left.is_zero())?;
        let earned = Place { year: origin, line: line::ORIGIN_EARNED, of: Subject::Origin(origin) };
        Some(Origin { year: origin, left, brought_in: figures.get(&earned).is_none() })
    });
    let mut origins: Vec<Origin> = origins.collect();
    if origins.is_empty() {
        origins.push(Origin { year: before, left: amount, brought_in: true });
    }
    let returns = || case.returns.iter().filter(|one| one.year.value < year);
    let last_return = returns().map(|one| one.year.value).max();
    let expected = stated.is_none() && stage::stage(case, figures, before).is_to_come();
    Some(Entering { year, amount, origins, last_return, expected })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::credit::sample::household;

    /// 2024: 3,000 earned, 1,000 used; 2025: 600 earned, 400 used of 2,600. By hand: 1,600 of 2024 and 600 of 2025
    /// enter 2026.
    #[test]
    fn a_balance_enters_with_and_without_a_return_of_the_year() {
        let item = |key: &str, year: u16, cost: u16| {
            format!(
                "  {key}:\n    kind: solar_electric\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: {year}-08-01\n    costs: [{{item: array, as: equipment, amount: {cost}}}]\n"
            )
        };
        let start = format!(
            "property:\n{}{}returns:\n  2024: {{stage: filed, filing_status: single, filed: 2025-03-01, tax_before_credits: 1000}}\n  2025: {{stage: filed, filing_status: single, filed: 2026-03-01, tax_before_credits: 400}}\n",
            item("a", 2024, 10000),
            item("b", 2025, 2000)
        );
        let with_return =
            format!("{start}  2026: {{stage: projected, filing_status: single, tax_before_credits: 100}}\n");
        for text in [&start, &with_return] {
            let (case, outcome) = household(text);
            let entering = entering(&case, &outcome, TaxYear(2026)).unwrap();
            assert_eq!(entering.amount, Money::dollars(2200));
            let parts: Vec<_> = entering.origins.iter().map(|one| (one.year.0, one.left)).collect();
            assert_eq!(parts, [(2024, Money::dollars(1600)), (2025, Money::dollars(600))]);
            assert!(entering.origins.iter().all(|one| !one.brought_in));
            assert_eq!(entering.last_return, Some(TaxYear(2025)));
            assert!(!entering.expected);
        }
        let (case, outcome) = household(&start);
        assert_eq!(entering(&case, &outcome, TaxYear(2027)), None, "no return for 2026 in between");
        let (case, outcome) = household(&with_return);
        let next = entering(&case, &outcome, TaxYear(2027)).unwrap();
        assert_eq!((next.amount, next.expected), (Money::dollars(2100), true));
    }

    #[test]
    fn a_balance_brought_in_has_no_year_of_its_own() {
        let (case, outcome) = household(
            "carried_in:\n  2025: {amount: 310, shown_on: 2024 Form 5695 line 16}\nreturns:\n  2025: {stage: filed, filing_status: single, filed: 2026-03-01, tax_before_credits: 100}\n",
        );
        let entering = entering(&case, &outcome, TaxYear(2026)).unwrap();
        assert_eq!(entering.amount, Money::dollars(210));
        assert_eq!(entering.origins.len(), 1);
        assert!(entering.origins[0].brought_in && entering.origins[0].year == TaxYear(2024));
    }

    #[test]
    fn a_balance_brought_into_a_year_without_a_return_enters_it() {
        let brought = "carried_in:\n  2026: {amount: 310, shown_on: 2025 Form 5695 line 16}\n";
        let (case, outcome) = household(brought);
        let entering = entering(&case, &outcome, TaxYear(2026)).unwrap();
        assert_eq!((entering.amount, entering.expected), (Money::dollars(310), false));
        let origin = Origin { year: TaxYear(2025), left: Money::dollars(310), brought_in: true };
        assert_eq!(entering.origins, [origin]);
        assert_eq!(super::entering(&case, &outcome, TaxYear(2027)), None, "no return for 2026 in between");
    }

    /// 2025: 3,000 earned and 1,000 used, so 2,000 would enter 2026; the case says 1,500 instead.
    #[test]
    fn a_balance_stated_instead_of_the_computed_one_enters_without_a_return_as_well() {
        let (case, outcome) = household(
            "property:\n  a:\n    kind: solar_electric\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2025-08-01\n    costs: [{item: array, as: equipment, amount: 10000}]\nreturns:\n  2025: {stage: filed, filing_status: single, filed: 2026-03-01, tax_before_credits: 1000}\ncarried_in:\n  2026: {amount: 1500, instead_of_computed: the filed return is final}\n",
        );
        let entering = entering(&case, &outcome, TaxYear(2026)).unwrap();
        assert_eq!((entering.amount, entering.expected), (Money::dollars(1500), false));
        assert!(entering.origins.iter().all(|one| one.brought_in));
    }

    /// 3,000 earned in 2024 and 1,000 used, so 2,000 enters 2025 however much more the case brings in; 640 of 25C that
    /// was lost is no balance at all. The year itself has no return.
    #[test]
    fn a_balance_that_was_refused_never_enters() {
        let item = |kind: &str, material: &str, cost: u16| {
            format!(
                "property:\n  a:\n    kind: {kind}\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2024-08-01\n    costs: [{{item: work, as: {material}, amount: {cost}}}]\n"
            )
        };
        let array = item("solar_electric", "equipment", 10000);
        let attic = item("insulation_or_air_sealing", "material", 3000);
        let of_2024 =
            |tax: u16| format!("returns:\n  2024: {{filing_status: single, tax_before_credits: {tax}}}\n");
        let brought =
            |amount: u16, reason: &str| format!("carried_in:\n  2025: {{amount: {amount}{reason}}}\n");
        let why = ", instead_of_computed: as filed";
        for (text, code, enters) in [
            (format!("{array}{}{}", of_2024(1000), brought(9100, why)), "carried-in-without-credit", 2000),
            (format!("{array}{}{}", of_2024(1000), brought(2600, "")), "carried-in-differs", 2000),
            (format!("{array}{}{}", of_2024(9000), brought(500, why)), "carried-in-without-credit", 0),
            (format!("{attic}{}{}", of_2024(260), brought(640, why)), "carried-in-lost", 0),
        ] {
            let (case, outcome) = household(&text);
            assert!(outcome.findings.iter().any(|one| one.code == code), "{text}\n{:?}", outcome.findings);
            let entering = entering(&case, &outcome, TaxYear(2025));
            let amount = entering.map_or(Money::ZERO, |one| one.amount);
            assert_eq!(amount, Money::dollars(enters), "{text}");
        }
    }
}
