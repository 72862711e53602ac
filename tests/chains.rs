//! Long chains of years: a credit on its way from 2006 to 2026.
//!
//! One chain worked by hand, through every renumbering of the form, and what holds for every chain of the clean energy
//! credit, over generated ones.

use crate::support::household::{Household, complete, compute, computed, said};
use gablework::case::{ReturnForm, TaxYear};
use gablework::credit::{Place, Subject, line};
use gablework::finding::Severity;
use gablework::money::Money;
use gablework::sheet::official::map;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::fmt::Write;

// ---- One chain by hand ----

/// Each year in turn: what is earned, what the tax leaves, what is used and what goes on. The limits of 2006 to 2008
/// are those of Form 5695 (2006) lines 13 to 16 and (2008) lines 13 to 17; the rates those of 26 U.S.C. 25D(g); what
/// comes before is that of the year's limit worksheet.
const CHAIN: &str = "
property:
  panels-2006: {kind: solar_electric, installed: 2006-06-01, costs: [{item: panels, as: lump_sum, amount: 10000}]}
  turbine-2008: {kind: small_wind, capacity_kw: 2.5, installed: 2008-06-01, costs: [{item: turbine, as: lump_sum, amount: 10000}]}
  loop-2009: {kind: geothermal_heat_pump, installed: 2009-06-01, costs: [{item: heat pump, as: lump_sum, amount: 20000}]}
  cell-2017: {kind: fuel_cell, capacity_kw: 1, efficiency: 45%, installed: 2017-06-01, costs: [{item: cell, as: equipment, amount: 5000}]}
  panels-2020: {kind: solar_electric, installed: 2020-06-01, costs: [{item: panels, as: lump_sum, amount: 10000}]}
  stove-2021: {kind: biomass_stove_or_boiler, efficiency: 80%, installed: 2021-06-01, costs: [{item: stove, as: equipment, amount: 6000}]}
  stove-2022: {kind: biomass_stove_or_boiler, efficiency: 80%, installed: 2022-06-01, costs: [{item: stove, as: equipment, amount: 1000}]}
  battery-2023: {kind: battery_storage, capacity_kwh: 10, installed: 2023-06-01, costs: [{item: battery, as: equipment, amount: 10000}]}
  panels-2025: {kind: solar_electric, installed: 2025-06-01, costs: [{item: panels, as: lump_sum, amount: 1000}]}
returns:
  2006: {tax_before_credits: 500}
  2007: {tax_before_credits: 300, other_credits: {child_tax: 100}}
  2008: {tax_before_credits: 1000, other_credits: {foreign_tax: 100, child_tax: {return_line: 300, worksheet_b: 250}}}
  2009: {tax_before_credits: 2000, other_credits: {plug_in_vehicle: 400, electric_vehicle: 100, alternative_motor_vehicle: 50}}
  2010: {tax_before_credits: 1700}
  2011: {tax_before_credits: 1000}
  2012: {tax_before_credits: 900, other_credits: {adoption: 200}}
  2013: {tax_before_credits: 800}
  2014: {tax_before_credits: 500}
  2015: {tax_before_credits: 500}
  2016: {tax_before_credits: 0}
  2017: {tax_before_credits: 600}
  2018: {tax_before_credits: 400}
  2019: {tax_before_credits: 400}
  2020: {tax_before_credits: 700}
  2021: {tax_before_credits: 560}
  2022: {tax_before_credits: 300}
  2023: {tax_before_credits: 1000}
  2024: {tax_before_credits: 1000}
  2025: {tax_before_credits: 1300}
  2026: {tax_before_credits: 2000}
";

/// Year, earned, tax left, used, carried out, by hand.
const BY_HAND: [(i16, i64, i64, i64, i64); 21] = [
    (2006, 2000, 500, 500, 1500),   // 30% of 10,000 stops at 2,000
    (2007, 0, 200, 200, 1300),      // 300 less the child tax credit of 100
    (2008, 2500, 650, 650, 3150),   // 2.5 kilowatts; 1,000 less 100 and 250
    (2009, 6000, 1450, 1450, 7700), // 2,000 less 400, 100 and 50
    (2010, 0, 1700, 1700, 6000),
    (2011, 0, 1000, 1000, 5000),
    (2012, 0, 700, 700, 4300), // 900 less 200
    (2013, 0, 800, 800, 3500),
    (2014, 0, 500, 500, 3000),
    (2015, 0, 500, 500, 2500),
    (2016, 0, 0, 0, 2500),
    (2017, 1000, 600, 600, 2900), // 30% of 5,000 stops at 1,000 for one kilowatt
    (2018, 0, 400, 400, 2500),
    (2019, 0, 400, 400, 2100),
    (2020, 2600, 700, 700, 4000), // 26%
    (2021, 1560, 560, 560, 5000), // 26% of 6,000
    (2022, 300, 300, 300, 5000),  // 30%
    (2023, 3000, 1000, 1000, 7000),
    (2024, 0, 1000, 1000, 6000),
    (2025, 300, 1300, 1300, 5000),
    (2026, 0, 2000, 2000, 3000),
];

/// Form 5695 of each year: the line that takes the carryforward in, and the one that sends it on. 2006 and 2007 in part
/// from memory; Forms 5695 (2008), (2011), (2012) and (2013) name the lines of the year before them.
const LINES: [(i16, Option<&str>, &str); 20] = [
    (2006, None, "30"),
    (2007, Some("28"), "34"),
    (2008, Some("22"), "28"),
    (2009, Some("22"), "28"),
    (2010, Some("22"), "28"),
    (2011, Some("26"), "32"),
    (2012, Some("12"), "18"),
    (2013, Some("12"), "16"),
    (2014, Some("12"), "16"),
    (2015, Some("12"), "16"),
    (2016, Some("12"), "16"),
    (2017, Some("12"), "16"),
    (2018, Some("12"), "16"),
    (2019, Some("12"), "16"),
    (2020, Some("12"), "16"),
    (2021, Some("12"), "16"),
    (2022, Some("12"), "16"),
    (2023, Some("12"), "16"),
    (2024, Some("12"), "16"),
    (2025, Some("12"), "16"),
];

#[test]
fn a_credit_goes_from_2006_to_2026_as_worked_by_hand() {
    let found = compute(&[], CHAIN).without_errors();
    let mut before = Money::ZERO;
    for (year, earned, left, used, out) in BY_HAND {
        let at = |line| found.outcome.figures.money(&Place::of_return(TaxYear(year), line));
        let dollars = |amount: i64| Some(Money::dollars(amount));
        assert_eq!(at(line::CARRIED_IN), Some(before), "{year}: carried in");
        assert_eq!(at(line::CLEAN_TAX_LEFT), dollars(left), "{year}: tax left");
        let available = before + Money::dollars(earned);
        assert_eq!(at(line::CLEAN_BEFORE_LIMIT), Some(available), "{year}: before the limit");
        assert_eq!(at(line::CLEAN_ALLOWED), dollars(used), "{year}: used");
        assert_eq!(at(line::CARRIED_OUT), dollars(out), "{year}: carried out");
        assert_eq!(at(line::CHAIN_LEFT), dollars(out), "{year}: left by the years of origin");
        before = Money::dollars(out);
    }
    // 2,000 + 2,500 + 6,000 + 1,000 + 2,600 + 1,560 + 300 + 3,000 + 300 earned, 3,000 left, the rest used.
    let used: i64 = BY_HAND.iter().map(|row| row.3).sum();
    assert_eq!((BY_HAND.iter().map(|row| row.1).sum::<i64>(), used), (19260, 16260));
    // Oldest first: what is left at the end is of 2022 and later, 300 + 3,000 + 300 less what they gave.
    found.expect(2026, &[("605@2023", "2700.00"), ("605@2025", "300.00"), ("605@2022", "0.00")]);
    // Said of 2016 and now of 2025: a return that left the balance out is told that it goes on.
    for year in [2017, 2026] {
        let left_out = format!("  {year}: {{claimed: {{clean: 0, carried_out: 0}}, tax");
        let told = compute(&[], &CHAIN.replace(&format!("  {year}: {{tax"), &left_out));
        assert_eq!(told.with_code("carryforward-goes-on").len(), 1, "{year}: {}", said(&told.findings));
    }
    assert!(!found.found("carryforward-goes-on"));
}

#[test]
fn every_year_names_its_own_lines() {
    for (year, carried_in, carried_out) in LINES {
        let map = map(TaxYear(year)).expect("the year has a map");
        let stands = |line: u16, official: &str| {
            let places = map.references(line, &Subject::Return, ReturnForm::Form1040);
            places.iter().any(|one| one.form == "Form 5695" && one.line == official)
        };
        assert!(stands(441, carried_out), "{year}: carried out on line {carried_out}");
        if let Some(carried_in) = carried_in {
            assert!(stands(430, carried_in), "{year}: carried in on line {carried_in}");
        }
    }
}

#[test]
fn a_balance_given_is_held_against_what_the_case_yields() {
    let with = |amount: &str| compute(&[], &format!("{CHAIN}carried_in: {{2015: {{amount: {amount}}}}}\n"));
    let right = with("3000");
    assert_eq!(right.codes(Severity::Error), Vec::<&str>::new(), "{}", said(&right.findings));
    assert_eq!(with("3001").codes(Severity::Error), ["carried-in-differs"]);
}

/// 26 U.S.C. 25D(c): to the succeeding taxable year, so its tax uses the credit up.
#[test]
fn a_year_left_out_of_the_chain_is_refused() {
    let gap = CHAIN.replace("  2014: {tax_before_credits: 500}\n", "");
    let found = compute(&[], &gap);
    assert_eq!(found.codes(Severity::Error), ["missing-return"], "{}", said(&found.findings));
    assert!(found.with_code("missing-return")[0].message.contains("2014"));
}

// ---- What holds for every chain ----

/// A generated item of 25D, in one of the years in which its kind was in it.
#[derive(Clone, Debug)]
struct Thing {
    kind: &'static str,
    year: i16,
    cents: u32,
    others: u32,
    tenths_of_kilowatt: u16,
}

/// Kinds with the years in which 25D had them (26 U.S.C. 25D(d); Public Law 110-343 for wind and geothermal heat pumps;
/// amendment notes of 2020 and 2022 for biomass and batteries).
const KINDS: [(&str, i16, i16); 7] = [
    ("solar_electric", 2006, 2025),
    ("solar_water_heating", 2006, 2025),
    ("fuel_cell", 2006, 2025),
    ("small_wind", 2008, 2025),
    ("geothermal_heat_pump", 2008, 2025),
    ("biomass_stove_or_boiler", 2021, 2022),
    ("battery_storage", 2023, 2025),
];

fn thing() -> impl Strategy<Value = Thing> {
    let kind = prop::sample::select(KINDS.to_vec());
    let when = kind.prop_flat_map(|(kind, from, to)| (Just(kind), from..=to));
    (when, 0..4_000_000u32, prop_oneof![3 => Just(0u32), 1 => 0..3_000_000u32], 5..=80u16).prop_map(
        |((kind, year), cents, others, tenths_of_kilowatt)| Thing {
            kind,
            year,
            cents,
            others,
            tenths_of_kilowatt,
        },
    )
}

fn case(things: &[Thing], taxes: &[u32], cents: bool) -> String {
    let mut text = String::from("property:\n");
    for (n, one) in things.iter().enumerate() {
        let _ = writeln!(
            text,
            "  thing-{n}: {{kind: {}, installed: {}-05-01, paid_by_others: {}.{:02}, capacity_kw: {}, capacity_kwh: 5, \
             solar_share: 80%, efficiency: 80%, certified: {{by: a body}}, costs: [{{item: it, as: equipment, amount: {}.{:02}}}]}}",
            one.kind,
            one.year,
            one.others / 100,
            one.others % 100,
            tenths(one.tenths_of_kilowatt),
            one.cents / 100,
            one.cents % 100,
        );
    }
    text.push_str("returns:\n");
    for (n, tax) in taxes.iter().enumerate() {
        let rounding = if cents { "cents" } else { "whole_dollars" };
        let _ = writeln!(text, "  {}: {{tax_before_credits: {tax}, rounding: {rounding}}}", 2006 + n);
    }
    complete(serde_yaml::from_str(&text).expect("the test's own YAML"), &[])
}

/// Writes tenths as a decimal number.
fn tenths(count: u16) -> String {
    format!("{}.{}", count / 10, count % 10)
}

fn of(household: &Household, year: i16, line: gablework::credit::Line) -> Money {
    household.outcome.figures.money(&Place::of_return(TaxYear(year), line)).unwrap_or(Money::ZERO)
}

fn earned(household: &Household, year: i16) -> Money {
    line::CLEAN_EARNED.iter().map(|line| of(household, year, *line)).sum()
}

/// The credit of all years: what was used, and what is left in the end.
fn total(household: &Household) -> Money {
    let used: Money = (2006..=2026).map(|year| of(household, year, line::CLEAN_ALLOWED)).sum();
    used + of(household, 2026, line::CARRIED_OUT)
}

#[test]
fn chains_keep_every_dollar_and_depend_on_no_order() {
    let config = Config { cases: 48, failure_persistence: None, ..Config::default() };
    let mut runner = TestRunner::new_with_rng(config, TestRng::deterministic_rng(RngAlgorithm::ChaCha));
    let strategy = (
        prop::collection::vec(thing(), 1..6),
        prop::collection::vec(prop_oneof![1 => Just(0u32), 4 => 0..4000u32], 21),
        prop::bool::ANY,
        0..1_000_000u32,
    );
    let run = runner.run(&strategy, |(things, taxes, cents, more)| {
        let text = case(&things, &taxes, cents);
        let household = computed(&text).map_err(TestCaseError::fail)?;
        let said = || format!("{}\n{text}", said(&household.findings));
        let mut before = Money::ZERO;
        for year in 2006..=2026i16 {
            let at = |line| of(&household, year, line);
            // 25D(c): the rest goes to the succeeding year and is added to that year's credit.
            prop_assert_eq!(at(line::CARRIED_IN), before, "{}: {}", year, said());
            prop_assert_eq!(
                at(line::CLEAN_BEFORE_LIMIT),
                before + earned(&household, year),
                "{}: {}",
                year,
                said()
            );
            // 26(a): never more than the tax.
            prop_assert!(at(line::CLEAN_ALLOWED) <= at(line::TAX), "{}: {}", year, said());
            prop_assert_eq!(at(line::CHAIN_LEFT), at(line::CARRIED_OUT), "{}: {}", year, said());
            before = at(line::CARRIED_OUT);
        }
        // Nothing is lost on the way and nothing comes in beside: used and left are what was earned.
        let all: Money = (2006..=2026).map(|year| earned(&household, year)).sum();
        prop_assert_eq!(total(&household), all, "{}", said());
        // The law looks at each year's sums, never at an order of items.
        let turned: Vec<Thing> = things.iter().rev().cloned().collect();
        let turned = computed(&case(&turned, &taxes, cents)).map_err(TestCaseError::fail)?;
        prop_assert_eq!(total(&turned), all, "{}", said());
        // A percentage, and limits and shares that never fall when the own payment rises.
        let mut dearer = things.clone();
        dearer[0].cents += more;
        let dearer = computed(&case(&dearer, &taxes, cents)).map_err(TestCaseError::fail)?;
        prop_assert!(total(&dearer) >= all, "{}", said());
        Ok(())
    });
    if let Err(failure) = run {
        panic!("{failure}");
    }
}
