//! Assumptions worked by hand, what cannot be supposed, and that supposing is the same computation as the case's own.

use super::words::years as named;
use super::*;
use crate::credit::sample::household;

/// 2,480 brought into 2026, whose return is expected to have a tax of 1,150.
const RETIRED: &str = "carried_in:\n  2026: {amount: 2480, shown_on: 2025 Form 5695 line 16}\nreturns:\n  2026: {stage: projected, filing_status: single, tax_before_credits: 1150}\n";
/// 1,234 brought into 2026, and no return.
const BALANCE: &str = "carried_in:\n  2026: {amount: 1234, shown_on: 2025 Form 5695 line 16}\n";
/// 3,000 earned in 2025, of which the filed return uses 800 of a tax of 1,000.
const FILED: &str = "property:\n  b:\n    kind: solar_electric\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2025-08-01\n    costs: [{item: array, as: equipment, amount: 10000}]\nreturns:\n  2025: {stage: filed, filing_status: single, filed: 2026-03-01, tax_before_credits: 1000, other_credits: {retirement_savings: 200}, claimed: {clean: 800, carried_out: 2200}}\n";

fn assumed(tax: &[(i16, i64)]) -> Vec<Assumed> {
    tax.iter()
        .map(|(year, tax)| Assumed { year: TaxYear(*year), tax: Money::dollars(*tax), other: None })
        .collect()
}

fn supposed(case: &str, ways: &[Vec<Assumed>]) -> Result<Supposed, Refused> {
    let (case, outcome) = household(case);
    match suppose(&case, Law::built_in(), &outcome, ways) {
        Ok(supposed) => Ok(supposed),
        Err(NotSupposed::Refused(refused)) => Err(refused),
        Err(NotSupposed::Fault(fault)) => panic!("{fault}"),
    }
}

/// Of each year: tax left, to use, used, left.
fn rows(way: &Way) -> Vec<[i64; 5]> {
    let whole = |money: Money| money.in_cents() / 100;
    let years = way.years.iter();
    years
        .map(|one| {
            [
                i64::from(one.year.0),
                whole(one.tax_left),
                whole(one.available),
                whole(one.used),
                whole(one.left),
            ]
        })
        .collect()
}

/// By hand: of 2,480 the tax of 2,000 takes as much, then 300 of the 480, and 180 are left.
#[test]
fn an_assumed_tax_takes_the_place_of_an_expected_one() {
    let supposed = supposed(
        RETIRED,
        &[assumed(&[(2026, 2000), (2027, 300)]), assumed(&[(2026, 2480), (2027, 9), (2028, 9)])],
    );
    let supposed = supposed.unwrap();
    assert_eq!(supposed.first, TaxYear(2026));
    assert_eq!(rows(&supposed.ways[0]), [[2026, 2000, 2480, 2000, 480], [2027, 300, 480, 300, 180]]);
    assert_eq!(supposed.ways[0].left(), Money::dollars(180));
    // The tax of 2026 takes all of it, so what comes after is not needed.
    assert_eq!(rows(&supposed.ways[1]), [[2026, 2480, 2480, 2480, 0]]);
    assert_eq!(supposed.ways[1].not_needed, [2027, 2028].map(TaxYear));
}

/// By hand: 1,000 less 200 of other credits is 800 of the 1,234; the rest of 434 is used of 5,000.
#[test]
fn a_balance_without_a_return_is_used_by_assumed_ones() {
    let mut ways = assumed(&[(2026, 1000), (2027, 5000)]);
    ways[0].other = Some(Money::dollars(200));
    let supposed = supposed(BALANCE, &[ways]).unwrap();
    assert_eq!(rows(&supposed.ways[0]), [[2026, 800, 1234, 800, 434], [2027, 5000, 434, 434, 0]]);
    assert_eq!(
        supposed.ways[0].years[1].credits_before,
        Money::ZERO,
        "those of 2026 are not assumed of 2027"
    );
}

/// By hand: 2,200 carried out of 2025. Without another word the other credits of 2025, 200, come first again.
#[test]
fn years_after_a_filed_return_go_on_from_it() {
    let mut ways = assumed(&[(2026, 1000), (2027, 1000)]);
    ways[1].other = Some(Money::ZERO);
    let supposed = supposed(FILED, &[ways]).unwrap();
    assert_eq!(rows(&supposed.ways[0]), [[2026, 800, 2200, 800, 1400], [2027, 1000, 1400, 1000, 400]]);
}

/// What the case itself gives of a year is taken, and told.
#[test]
fn a_year_that_is_not_assumed_is_taken_from_the_case() {
    let planned = format!("{RETIRED}planning: {{2027: {{tax_before_credits: 400}}}}\n");
    let supposed = supposed(&planned, &[assumed(&[(2028, 5000)])]).unwrap();
    let from: Vec<From> = supposed.ways[0].years.iter().map(|one| one.from).collect();
    assert_eq!(from, [From::Return, From::Planned, From::Assumed]);
    assert_eq!(
        rows(&supposed.ways[0]),
        [[2026, 1150, 2480, 1150, 1330], [2027, 400, 1330, 400, 930], [2028, 5000, 930, 930, 0]]
    );
}

/// The same tax written into the case yields the same, and the case is not touched.
#[test]
fn supposing_is_the_computation_of_a_case_with_that_tax() {
    let tax = [(2026, 700), (2027, 800), (2028, 100)];
    let written = RETIRED.replace("1150", "700")
        + "planning: {2027: {tax_before_credits: 800}, 2028: {tax_before_credits: 100}}\n";
    let (case, outcome) = household(RETIRED);
    let before = case.clone();
    let supposed = suppose(&case, Law::built_in(), &outcome, &[assumed(&tax)]).ok().unwrap();
    assert_eq!(case, before);
    let (case, outcome) = household(&written);
    let outlook = planning::outlook(&case, &outcome).unwrap();
    let own: Vec<[Money; 3]> =
        outlook.years.iter().take(2).map(|one| [one.carried_in, one.used, one.left]).collect();
    let years = &supposed.ways[0].years;
    assert_eq!(years[1..].iter().map(|one| [one.available, one.used, one.left]).collect::<Vec<_>>(), own);
    let used = outcome.figures.money(&Place::of_return(TaxYear(2026), line::CLEAN_ALLOWED)).unwrap();
    assert_eq!(years[0].used, used);
}

#[test]
fn what_cannot_be_supposed_is_refused_with_what_to_do() {
    let year = TaxYear;
    let one = |case: &str, tax: &[(i16, i64)]| supposed(case, &[assumed(tax)]).unwrap_err();
    assert_eq!(one(FILED, &[(2025, 5)]), Refused::Filed { year: year(2025), first: year(2026) });
    assert_eq!(one(RETIRED, &[(2024, 5)]), Refused::Before { year: year(2024), first: year(2026) });
    assert_eq!(one(RETIRED, &[(2027, 5), (2027, 6)]), Refused::Twice(year(2027)));
    assert_eq!(one(RETIRED, &[(2026, 5), (2029, 6)]), Refused::Gap { year: year(2027), last: year(2029) });
    assert_eq!(one(RETIRED, &[(2046, 5)]), Refused::TooLate { year: year(2046), last: year(2045) });
    let nothing = "returns:\n  2026: {stage: projected, filing_status: single, tax_before_credits: 1150}\n";
    assert_eq!(one(nothing, &[(2026, 5)]), Refused::Nothing(year(2026)));
    assert_eq!(one("", &[(2026, 5)]), Refused::NoYear);
    let mut with_other = assumed(&[(2026, 5)]);
    with_other[0].other = Some(Money::dollars(1));
    assert_eq!(supposed(RETIRED, &[with_other]).unwrap_err(), Refused::OtherOfReturn(year(2026)));
    for refused in [Refused::NoYear, Refused::Nothing(year(2026)), Refused::OtherAlone(year(2026))] {
        assert!(refused.to_string().len() > 20 && refused.help().len() > 10);
    }
}

/// No tax at all uses nothing, year after year, up to the last that is looked at.
#[test]
fn no_tax_leaves_all_of_it() {
    let all: Vec<(i16, i64)> = (2026..=2045).map(|year| (year, 0)).collect();
    let supposed = supposed(RETIRED, &[assumed(&all)]).unwrap();
    assert_eq!(supposed.ways[0].left(), Money::dollars(2480));
}

#[test]
fn years_are_named_as_people_do() {
    let of = |years: &[i16]| named(&years.iter().map(|year| TaxYear(*year)).collect::<Vec<_>>(), "and");
    assert_eq!(of(&[2026]), "2026");
    assert_eq!(of(&[2026, 2027]), "2026 and 2027");
    assert_eq!(of(&[2026, 2027, 2028, 2030]), "2026\u{2013}2028 and 2030");
}
