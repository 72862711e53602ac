//! Generated households from 2006 to 2026, every year set against its own official form.
//!
//! Both credits, every kind of every year, a balance through every renumbering, earlier credits and window costs from
//! the case's own years: what the forms compute from the figures on their lines must be what stands on them. The forms
//! know nothing of the program (see `support::official`).

use crate::support::household::{Household, bought, computed, said};
use crate::support::official::{check_official, figure_of, years};
use gablework::case::{Kind, OtherCredit, TaxYear};
use gablework::credit::{Line, Place, line};
use gablework::law::{Credit, Law};
use gablework::money::Money;
use proptest::prelude::*;
use proptest::sample::Index;
use proptest::test_runner::{Config, RngAlgorithm, TestError, TestRng, TestRunner};
use std::collections::BTreeMap;
use std::fmt::Write;

const FIRST: i16 = 2006;
const LAST: i16 = 2026;

/// Generated property: its kind is one of its year's.
#[derive(Clone, Debug)]
struct Thing {
    kind: Index,
    year: i16,
    units: u16,
    cents: u32,
}

/// A generated return: its other credits are some of its year's, in whole dollars.
#[derive(Clone, Debug)]
struct Filed {
    tax: u32,
    other: Vec<(Index, u32)>,
}

#[derive(Clone, Debug)]
struct House {
    things: Vec<Thing>,
    returns: Vec<Filed>,
}

fn thing() -> impl Strategy<Value = Thing> {
    let cents = prop_oneof![
        3 => 0..1_500_000u32,
        1 => (0..9_000u32).prop_map(|dollars| dollars * 100),
        // Just round the costs at which limits are reached.
        1 => prop::sample::select(vec![
            4_999, 5_001, 14_999, 15_001, 29_999, 30_001, 199_999, 200_001, 499_999, 500_001, 666_666, 666_667, 1_333_334,
        ]),
    ];
    (any::<Index>(), FIRST..LAST, 1..=4u16, cents).prop_map(|(kind, year, units, cents)| Thing {
        kind,
        year,
        units,
        cents,
    })
}

fn house() -> impl Strategy<Value = House> {
    let tax = prop_oneof![3 => 0..1_500u32, 1 => 0..9_000u32, 1 => Just(0u32)];
    let other = prop::collection::vec((any::<Index>(), 0..300u32), 0..=3);
    let filed = (tax, other).prop_map(|(tax, other)| Filed { tax, other });
    let returns = prop::collection::vec(filed, usize::from((LAST - FIRST + 1) as u16));
    (prop::collection::vec(thing(), 1..=30), returns).prop_map(|(things, returns)| House { things, returns })
}

impl House {
    fn text(&self) -> String {
        let law = |year: i16| Law::built_in().year(TaxYear(year)).expect("a year of the law");
        let mut out = String::from(
            "format: 1\nclient: {reference: HH-2006, people: [{name: Ana Alder}]}\nhomes:\n  alder-lane: {use: main_home, \
             held_as: owner, address: {street: 12 Alder Lane, city: Riverton, state: MA, zip: '01040'}}\nproperty:\n",
        );
        for (n, thing) in self.things.iter().enumerate() {
            // Enabling property must name what it enables; the households of 2023 to 2025 have it.
            let kinds: Vec<Kind> = law(thing.year)
                .kinds
                .keys()
                .copied()
                .filter(|kind| *kind != Kind::EnablingProperty)
                .collect();
            let amount = format!("{}.{:02}", thing.cents / 100, thing.cents % 100);
            let kind = *thing.kind.get(&kinds);
            out += &bought(&format!("item-{n}"), kind, thing.year, thing.units, &amount);
        }
        let _ = writeln!(out, "returns:");
        for (year, one) in (FIRST..=LAST).zip(&self.returns) {
            let _ = write!(
                out,
                "  {year}: {{filing_status: single, tax_before_credits: {}, other_credits: {{",
                one.tax
            );
            let order =
                law(year).before.get(&Credit::Clean).map(|order| order.credits.clone()).unwrap_or_default();
            let chosen: BTreeMap<OtherCredit, u32> =
                one.other.iter().map(|(credit, amount)| (*credit.get(&order), *amount)).collect();
            for (credit, amount) in chosen {
                let _ = match credit {
                    OtherCredit::ChildTax => write!(out, "child_tax: {{return_line: {amount}}}, "),
                    _ => write!(out, "{credit}: {amount}, "),
                };
            }
            let _ = writeln!(out, "}}}}");
        }
        out
    }
}

/// Runs a check over generated households, always the same ones.
fn over(check: impl Fn(&Household) -> Result<(), String>) {
    let config = Config { cases: 40, failure_persistence: None, ..Config::default() };
    let mut runner = TestRunner::new_with_rng(config, TestRng::from_seed(RngAlgorithm::ChaCha, &[6; 32]));
    let result = runner.run(&house(), |house| {
        let household = computed(&house.text()).map_err(TestCaseError::fail)?;
        check(&household).map_err(TestCaseError::fail)
    });
    if let Err(error) = result {
        let text = match &error {
            TestError::Fail(_, house) => house.text(),
            TestError::Abort(_) => String::new(),
        };
        panic!("{error}\n{text}");
    }
}

fn amount(household: &Household, year: i16, line: Line) -> Money {
    let place = Place::of_return(TaxYear(year), line);
    household.outcome.figures.money(&place).unwrap_or(Money::ZERO)
}

/// Rows of units are rounded one by one and the box beside them once, from the cents, so that printed rows need not add
/// up to it: Form 5695 (2025) lines 19d, 20a and 23a.
const BOXES_OF_ROWS: [&str; 3] =
    ["2025 Form 5695 line 19d:", "2025 Form 5695 line 20a:", "2025 Form 5695 line 23a:"];

/// Form 5695 of 2006 to 2025 with its worksheets, and where its credits go on the return.
#[test]
fn every_form_since_2006_computes_the_same() {
    let compared = std::cell::Cell::new(0);
    over(|household| {
        let mut wrong = Vec::new();
        for year in years() {
            match check_official(year, "1040", |place| figure_of(household, place)) {
                Ok(lines) => compared.set(compared.get() + lines),
                Err(departures) => wrong.extend(
                    departures
                        .into_iter()
                        .filter(|one| !BOXES_OF_ROWS.iter().any(|line| one.starts_with(line))),
                ),
            }
        }
        match wrong.is_empty() {
            true => Ok(()),
            false => Err(format!("{}\n{}", wrong.join("\n"), said(&household.findings))),
        }
    });
    assert!(compared.get() > 20_000, "only {} lines were compared", compared.get());
}

/// What one year carries out the next carries in, and over twenty years no more is used than was earned: 26 U.S.C.
/// 25D(c). The generated households reach both a balance through every year and a credit that is used up.
#[test]
fn twenty_years_use_and_leave_what_they_earned() {
    let (through, used_up) = (std::cell::Cell::new(0), std::cell::Cell::new(0));
    over(|household| {
        let earned: Money = household
            .outcome
            .figures
            .all()
            .iter()
            .filter(|figure| figure.place.line == line::ORIGIN_EARNED)
            .filter_map(|figure| figure.value.money())
            .sum();
        let used: Money = (FIRST..=LAST).map(|year| amount(household, year, line::CLEAN_ALLOWED)).sum();
        let left = amount(household, LAST, line::CARRIED_OUT);
        for year in FIRST..LAST {
            let (out, next) =
                (amount(household, year, line::CARRIED_OUT), amount(household, year + 1, line::CARRIED_IN));
            if out != next {
                return Err(format!("{year} carries out {out}, the next year takes in {next}"));
            }
        }
        through.set(
            through.get()
                + usize::from(
                    (FIRST..LAST)
                        .all(|year| year < 2010 || !amount(household, year, line::CARRIED_OUT).is_zero()),
                ),
        );
        used_up.set(used_up.get() + usize::from(left.is_zero() && !used.is_zero()));
        match used + left == earned {
            true => Ok(()),
            false => Err(format!("{used} used and {left} left of {earned}")),
        }
    });
    assert!(through.get() > 2 && used_up.get() > 2, "{} and {}", through.get(), used_up.get());
}
