//! In which order findings are told: what changes most stands first, wherever findings are shown.
//!
//! Comes in: findings, with the case and its figures. Goes out: the same findings in order. Every weight follows from
//! a finding's severity, from whether its answer could change a figure on a return, and from one table of exceptions.

use crate::case::{Case, SharedRow, TaxYear};
use crate::credit::codes;
use crate::credit::evaluate::Figures;
use crate::credit::evaluate::credits::CREDITS;
use crate::credit::evaluate::line::{self, Place};
use crate::finding::{Finding, Severity};
use crate::money::Money;
use std::cmp::Reverse;

/// What a finding changes. Ordered: the first is told first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Weight {
    /// The file is not read to its end, so that all else is guesswork.
    Unread,
    /// Reading or computing stops, or the law forbids it.
    Stops,
    /// A cost or a credit counts as nothing, or as less than the case would have it.
    Changes,
    /// Its answer could change a figure on a return.
    CouldChange,
    /// It is about a return that was filed or is still to be made; the figures stand.
    OfReturns,
    /// It tells on which reading of the law, or on whose word, a figure rests that others could take otherwise.
    Rests,
    /// It is about papers, signatures and entries without effect.
    Papers,
    /// There is nothing to do.
    Told,
}

/// The findings whose weight is another than their severity tells, each with what they change.
const OTHERWISE: &[(&str, Weight)] = &[
    ("nested-too-deep", Weight::Unread),
    ("too-many-entries", Weight::Unread),
    // The figures are whole up to the tax limit; the return that would end them is not made yet.
    (codes::NO_RETURN_YET.name, Weight::OfReturns),
    (codes::FORM_NOT_IN_YEAR.name, Weight::OfReturns),
    (codes::CLAIMED_UNSAID.name, Weight::OfReturns),
    (codes::CLAIMED_TOO_LITTLE.name, Weight::OfReturns),
    (codes::CLAIMED_TOO_MUCH.name, Weight::OfReturns),
    (codes::CARRYFORWARD_GOES_ON.name, Weight::OfReturns),
    (codes::COUNTS_IN_ANOTHER_YEAR.name, Weight::OfReturns),
    (codes::IMPROVEMENT_LOST.name, Weight::OfReturns),
    (codes::FINAL_RETURN.name, Weight::OfReturns),
    // Notes with a figure behind them: silence about it would cost more than a missing paper.
    (codes::REDUCTION_OF_MIXED_PRICE.name, Weight::Rests),
    (codes::JOINT_OCCUPANTS.name, Weight::Rests),
    (codes::JOINT_OWNER_WITH_EARLIER_CREDIT.name, Weight::Rests),
    (codes::NONBUSINESS_MEASURE.name, Weight::Rests),
    (codes::OTHERS_PAID_UNSHARED.name, Weight::Rests),
    (codes::LAW_NOT_SETTLED.name, Weight::Rests),
    (codes::FORM_OR_STATUTE.name, Weight::Rests),
    (codes::FUEL_CELL_FRACTION.name, Weight::Rests),
    (codes::FORM_FOR_EACH_HOME.name, Weight::Rests),
    (codes::SUBSIDIZED_FINANCING_COUNTS.name, Weight::Rests),
    (codes::CARRIED_IN_INSTEAD.name, Weight::Rests),
    (codes::NO_PROOF.name, Weight::Papers),
    ("unknown-paper", Weight::Papers),
    ("date-after-signature", Weight::Papers),
    (codes::UNKNOWN_QUESTION.name, Weight::Papers),
    // What stands in the case and changes nothing.
    (codes::POOL_NOT_COUNTED.name, Weight::Papers),
    ("fact-without-effect", Weight::Papers),
    (codes::EARLIER_CREDIT_OF_NO_YEAR.name, Weight::Papers),
];

fn weight(finding: &Finding) -> Weight {
    let otherwise = OTHERWISE.iter().find(|(code, _)| *code == finding.code);
    match (finding.severity, otherwise) {
        (_, Some((_, weight))) => *weight,
        (Severity::Error, None) => Weight::Stops,
        (Severity::Warning, None) => Weight::Changes,
        (Severity::Question, None) if finding.blocking => Weight::CouldChange,
        (Severity::Question, None) => Weight::Papers,
        (Severity::Note, None) => Weight::Told,
    }
}

/// Puts findings in order: by what they change, the graver before the lighter, the larger amount before the smaller,
/// and then as they stand in the file. Errors stand as in the file, because one often follows from the one before.
pub fn order(findings: &mut [Finding], case: Option<&Case>, figures: &Figures) {
    findings.sort_by_cached_key(|finding| {
        let weight = weight(finding);
        let amount = case
            .filter(|_| !matches!(weight, Weight::Unread | Weight::Stops | Weight::Told))
            .map_or(Money::ZERO, |case| at_stake(finding, case, figures));
        let place = finding.at.map(|span| (span.source, span.start));
        (weight, Reverse(finding.severity), Reverse(amount), place, finding.code)
    });
}

/// Returns the amount that a finding is about, as far as what it is about tells: an item's cost, a row's amount, what
/// counts in a year, a balance.
fn at_stake(finding: &Finding, case: &Case, figures: &Figures) -> Money {
    let Some(about) = &finding.about else { return Money::ZERO };
    let steps: Vec<&str> = about.split('.').collect();
    let number = |text: &str| text.parse::<usize>().ok().and_then(|n| n.checked_sub(1));
    let paid = |key: &str| -> Money {
        let of_item = |figure: &&crate::credit::evaluate::Figure| {
            figure.place.line == line::ITEM_PAID
                && matches!(&figure.place.of, line::Subject::Item(item) if item.to_string() == key)
        };
        figures.all().iter().filter(of_item).filter_map(|figure| figure.value.money()).sum()
    };
    match steps.as_slice() {
        ["property", key, "costs", n, ..] => {
            let item = case.property.iter().find(|item| item.key.value.to_string() == *key);
            let cost = item.and_then(|item| item.costs.get(number(n)?));
            cost.map_or(Money::ZERO, |cost| cost.amount.value)
        }
        ["property", key, "incentives", n, ..] => {
            let item = case.property.iter().find(|item| item.key.value.to_string() == *key);
            let incentive = item.and_then(|item| item.incentives.get(number(n)?));
            incentive.map_or(Money::ZERO, |one| one.amount.value)
        }
        ["property", key, ..] => paid(key),
        ["shared", n, ..] => match number(n).and_then(|n| case.shared.get(n)).map(|shared| &shared.row) {
            Some(SharedRow::Cost(cost)) => cost.amount.value,
            Some(SharedRow::Incentive(incentive)) => incentive.amount.value,
            None => Money::ZERO,
        },
        ["standards", ..] => {
            let items = finding.or_about.iter().filter_map(|path| path.strip_prefix("property."));
            items.map(paid).sum()
        }
        ["carried_in", year, ..] => {
            let given = case.carried_in.iter().find(|one| one.year.value.to_string() == *year);
            given.map_or(Money::ZERO, |one| one.amount.value)
        }
        ["returns", year, ..] => {
            let Some(year) = year.parse().ok().map(TaxYear) else { return Money::ZERO };
            let of_year = |line| figures.money(&Place::of_return(year, line)).unwrap_or(Money::ZERO);
            CREDITS.iter().map(|of| of_year(of.before_limit)).sum()
        }
        _ => Money::ZERO,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_exception_is_a_finding_whose_weight_would_be_another() {
        let known = |code: &str| {
            let all = crate::case::codes::CODES.iter().map(|(code, _)| *code);
            let mut all = all.chain(codes::CODES.iter().map(|code| code.name));
            all.any(|one| one == code)
        };
        for (code, _) in OTHERWISE {
            assert!(known(code), "{code}");
            assert_eq!(OTHERWISE.iter().filter(|(other, _)| other == code).count(), 1, "{code}");
        }
    }

    #[test]
    fn the_greater_amount_comes_first_and_papers_last() {
        let (case, outcome) = crate::credit::sample::household(
            "property:\n  small:\n    kind: solar_electric\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2023-08-01\n    costs: [{item: used panels, as: equipment, amount: 1000}]\n  large:\n    kind: solar_electric\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2023-08-01\n    costs: [{item: used panels of another roof, as: equipment, amount: 9000}]\nreturns:\n  2023: {filing_status: single, tax_before_credits: 1000}\n",
        );
        let mut findings = outcome.findings.clone();
        findings.reverse();
        order(&mut findings, Some(&case), &outcome.figures);
        let told: Vec<(&str, Option<&str>)> =
            findings.iter().map(|one| (one.code, one.about.as_deref())).collect();
        let wanted = [
            ("used-words", Some("property.large.costs.1")),
            ("used-words", Some("property.small.costs.1")),
            ("no-papers", Some("property")),
        ];
        assert_eq!(told, wanted);
    }
}
