//! What must hold for every household whose home improvement credits of 2006 to 2023 stand in one chain.
//!
//! Cases are generated as the text of a case file from a fixed seed. Each property names the rule it rests on, and
//! where the law itself breaks an otherwise natural one, a test of its own shows how.

use crate::support::household::{Household, compute};
use gablework::money::Money;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::fmt::Write;

/// Generated property.
#[derive(Clone, Debug)]
struct Thing {
    kind: &'static str,
    year: i16,
    units: u16,
    cents: Vec<u32>,
}

/// A generated household: returns for every year from the first to 2023, with the tax of each.
#[derive(Clone, Debug)]
struct House {
    things: Vec<Thing>,
    first: i16,
    tax: Vec<u32>,
    cents: bool,
}

const KINDS: [&str; 10] = [
    "window_or_skylight",
    "window_or_skylight",
    "insulation_or_air_sealing",
    "exterior_door",
    "roof",
    "central_air_conditioner",
    "heat_pump",
    "fuel_water_heater",
    "furnace_or_boiler",
    "air_circulating_fan",
];

const LAST: i16 = 2023;

fn thing() -> impl Strategy<Value = Thing> {
    let cents = prop_oneof![
        3 => 0..300_000u32,
        1 => (0..6_000u32).prop_map(|dollars| dollars * 100),
        // Just round the costs at which limits are reached.
        1 => prop::sample::select(vec![4_999, 5_000, 14_999, 15_001, 29_999, 30_000, 199_999, 200_000, 200_001, 499_999, 500_001]),
    ];
    (prop::sample::select(KINDS.to_vec()), 2006..=LAST, 1..=3u16, prop::collection::vec(cents, 1..=3))
        .prop_map(|(kind, year, units, cents)| Thing { kind, year, units, cents })
}

fn house(ample: bool) -> impl Strategy<Value = House> {
    let tax = match ample {
        true => Just(100_000u32).boxed(),
        false => prop_oneof![2 => 0..900u32, 1 => Just(100_000u32)].boxed(),
    };
    let years = (LAST - 2005) as usize;
    (
        prop::collection::vec(thing(), 1..=8),
        2006..=2013i16,
        prop::collection::vec(tax, years),
        prop::bool::weighted(0.2),
    )
        .prop_map(|(things, first, tax, cents)| House {
            things: things
                .into_iter()
                .map(|mut one| {
                    one.year = one.year.max(first);
                    one
                })
                .collect(),
            first,
            tax,
            cents,
        })
}

fn household(house: &House) -> Household {
    let mut text = String::from("property:\n");
    for (n, thing) in house.things.iter().enumerate() {
        let costs: Vec<String> = thing
            .cents
            .iter()
            .map(|cents| {
                format!("{{item: goods, as: equipment, amount: {}.{:02}}}", cents / 100, cents % 100)
            })
            .collect();
        writeln!(
            text,
            "  thing-{n}: {{kind: {}, installed: {}-05-01, units: {}, costs: [{}]}}",
            thing.kind,
            thing.year,
            thing.units,
            costs.join(", ")
        )
        .unwrap();
    }
    text.push_str("returns:\n");
    for (year, tax) in (house.first..=LAST).zip(&house.tax) {
        let rounding = if house.cents { ", rounding: cents" } else { "" };
        writeln!(text, "  {year}: {{tax_before_credits: {tax}{rounding}}}").unwrap();
    }
    text.push_str("earlier_credits: {2006: {}}\n");
    compute(&[], &text)
}

fn over(ample: bool, check: impl Fn(&House, &Household)) {
    let rng = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let config = Config { cases: 40, failure_persistence: None, ..Config::default() };
    let mut runner = TestRunner::new_with_rng(config, rng);
    let run = runner.run(&house(ample), |house| {
        check(&house, &household(&house));
        Ok(())
    });
    run.unwrap_or_else(|failure| panic!("{failure}"));
}

fn line(found: &Household, year: i16, line: &str) -> Money {
    match found.figure(&format!("{year}:{line}")) {
        Some(figure) => figure.value.money().expect("an amount"),
        None => Money::ZERO,
    }
}

fn total(found: &Household, line_number: &str, years: impl Iterator<Item = i16>) -> Money {
    years.map(|year| line(found, year, line_number)).sum()
}

/// 26 U.S.C. 25C(b) as in force in each era: 500 over all years in 2006 and 2007, 1,500 over 2009 and 2010, 500 less
/// everything since 2006 from 2011 to 2022, 200 of it for windows; nothing of it reaches 2023.
#[test]
fn no_limit_over_the_years_is_ever_passed() {
    let reached = std::cell::RefCell::new([0; 5]);
    over(false, |house, found| {
        let five_hundred = Money::dollars(500);
        assert!(total(found, "390", 2006..=2007) <= five_hundred, "{house:?}");
        assert!(total(found, "390", 2009..=2010) <= Money::dollars(1500), "{house:?}");
        let mut windows = total(found, "378", 2006..=2006);
        windows = windows + line(found, 2007, "328");
        for year in [2009, 2010] {
            let cost = line(found, year, "328");
            windows = windows + cost + cost + cost;
        }
        for year in 2011..=2022 {
            let before = total(found, "390", 2006..=year - 1);
            let room = five_hundred - before.min(five_hundred);
            assert!(line(found, year, "390") <= room, "{year} {house:?}");
            let ceiling = Money::dollars(2000);
            let left = ceiling - windows.min(ceiling);
            assert_eq!(line(found, year, "378"), line(found, year, "328").min(left), "{year} {house:?}");
            windows = windows + line(found, year, "328");
        }
        assert!(found.figure("2023:388").is_none(), "2023 looks back to nothing");

        let mut seen = reached.borrow_mut();
        let any = |wanted: &dyn Fn(i16) -> bool| (2006..=2022).any(wanted);
        seen[0] += usize::from(any(&|year| line(found, year, "307") >= five_hundred));
        seen[1] += usize::from(any(&|year| line(found, year, "378") < line(found, year, "328")));
        seen[2] += usize::from(any(&|year| line(found, year, "395") > Money::ZERO));
        seen[3] += usize::from(any(&|year| line(found, year, "313") > Money::ZERO));
        seen[4] += usize::from(total(found, "390", 2009..=2010) == Money::dollars(1500));
    });
    // The households reach the limits, so that the checks see something.
    let reached = reached.into_inner();
    assert!(reached.iter().all(|count| *count >= 2), "{reached:?}");
}

/// The same property in another order comes to the same (our rule: a household is a set of facts).
#[test]
fn the_order_of_items_and_costs_changes_nothing() {
    over(false, |house, found| {
        let mut turned = house.clone();
        turned.things.reverse();
        turned.things.iter_mut().for_each(|one| one.cents.reverse());
        let other = household(&turned);
        for year in house.first..=LAST {
            for number in ["380", "384", "390", "328", "358", "307", "314", "395"] {
                let (one, two) = (line(found, year, number), line(&other, year, number));
                assert_eq!(one, two, "{year}:{number} {house:?}");
            }
        }
    });
}

/// With tax enough, a higher cost never lowers the credit of all years together, save by the rounding of later years:
/// what it adds in its year it takes at most from the room of the later ones, since each dollar of earlier credit
/// and each dollar of window cost (three of 2009 and 2010, which were credited at three times the rate) takes away one.
#[test]
fn more_cost_never_lowers_the_credit_of_all_years_where_tax_is_ample() {
    over(true, |house, found| {
        let mut dearer = house.clone();
        dearer.things[0].cents[0] += 12_345;
        let other = household(&dearer);
        let (less, more) =
            (total(found, "390", house.first..=LAST), total(&other, "390", house.first..=LAST));
        let rounding = Money::dollars(i64::from(LAST - dearer.things[0].year));
        assert!(more + rounding >= less, "{less} {more} {house:?}");
    });
}

/// Where tax was short the law itself breaks that: windows of 2009 that brought no credit for want of tax use up the
/// ceiling of window cost all the same. Window Expense Worksheet, Form 5695 (2012), page 6: it asks for costs.
#[test]
fn windows_without_credit_use_up_the_ceiling() {
    let of = |cost: &str| {
        compute(
            &[],
            &format!(
                "property:
  old: {{kind: window_or_skylight, installed: 2009-05-01, costs: [{{item: old, as: material, amount: {cost}}}]}}
  new: {{kind: window_or_skylight, installed: 2012-05-01, costs: [{{item: new, as: material, amount: 2000}}]}}
returns:
  2009: {{tax_before_credits: 0}}
  2010: {{tax_before_credits: 0}}
  2011: {{tax_before_credits: 0}}
  2012: {{tax_before_credits: 5000}}
earlier_credits: {{2006: {{nonbusiness_energy_credit: 0}}}}"
            ),
        )
    };
    assert_eq!(line(&of("0"), 2012, "390"), Money::dollars(200));
    assert_eq!(line(&of("500"), 2012, "390"), Money::dollars(50));
}
