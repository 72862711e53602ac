//! What holds for every household, over generated ones.
//!
//! Cases are generated as the text of a case file, so that reading is tested with computing, from a fixed seed, so
//! that a failure comes again. Each property names the rule it rests on. Where the law itself breaks an otherwise
//! natural property, the generator or the check leaves that out and says why.

use crate::support::household::{Household, computed, said};
use crate::support::official::{check_official, figure_of};
use gablework::case::TaxYear;
use gablework::credit::planning::{Outlook, outlook};
use gablework::credit::{Line, LineKind, Place, Step, Subject, Value, line};
use gablework::law::Law;
use gablework::money::Money;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::collections::BTreeSet;
use std::fmt::Write;

// ---- Generated households ----

/// A cost of generated property, in cents.
#[derive(Clone, Debug)]
struct Row {
    nature: &'static str,
    cents: u32,
}

/// Generated property.
#[derive(Clone, Debug)]
struct Thing {
    kind: &'static str,
    year: i16,
    month: u8,
    units: u16,
    second_home: bool,
    nonbusiness: Option<u8>,
    others: Option<u32>,
    subsidy: Option<u32>,
    grant: Option<u32>,
    subsidized_loan: Option<u32>,
    association: Option<u32>,
    tenths_of_kilowatt: u16,
    rows: Vec<Row>,
}

/// A generated return.
#[derive(Clone, Debug)]
struct Filed {
    tax: u32,
    other: Vec<(&'static str, u32)>,
    cents: bool,
}

/// A generated household: the years run from 2023 to 2026 without a gap.
#[derive(Clone, Debug)]
struct House {
    things: Vec<Thing>,
    shared: Option<(u32, u8)>,
    returns: Vec<Filed>,
    carried_in: Option<u32>,
}

const KINDS: [&str; 18] = [
    "solar_electric",
    "solar_water_heating",
    "small_wind",
    "geothermal_heat_pump",
    "battery_storage",
    "fuel_cell",
    "insulation_or_air_sealing",
    "exterior_door",
    "window_or_skylight",
    "central_air_conditioner",
    "fuel_water_heater",
    "furnace_or_boiler",
    "enabling_property",
    "home_energy_audit",
    "heat_pump",
    "heat_pump_water_heater",
    "biomass_stove_or_boiler",
    "roof",
];

/// The kinds of the home improvement credit whose costs stand on rows by unit on the form of 2025.
const ENVELOPE: [&str; 3] = ["insulation_or_air_sealing", "exterior_door", "window_or_skylight"];

fn cents() -> impl Strategy<Value = u32> {
    prop_oneof![
        4 => 0..1_500_000u32,
        2 => (0..15_000u32).prop_map(|dollars| dollars * 100),
        // Just round the costs at which limits are reached.
        1 => prop::sample::select(vec![49_999, 50_000, 83_333, 83_334, 199_999, 200_000, 200_001, 400_000, 666_667]),
    ]
}

fn row() -> impl Strategy<Value = Row> {
    let natures = vec![
        "equipment",
        "equipment",
        "material",
        "onsite_labor",
        "sales_tax",
        "permit",
        "roof_structure",
        "warranty",
        "other",
    ];
    (prop::sample::select(natures), cents()).prop_map(|(nature, cents)| Row { nature, cents })
}

fn thing(joint: bool) -> impl Strategy<Value = Thing> {
    let others = if joint { prop::option::weighted(0.3, cents()).boxed() } else { Just(None).boxed() };
    (
        (prop::sample::select(KINDS.to_vec()), 2023..=2026i16, 1..=12u8, 1..=4u16),
        (prop::bool::weighted(0.1), prop::option::weighted(0.2, 0..=100u8), others),
        (
            prop::option::weighted(0.2, cents()),
            prop::option::weighted(0.1, cents()),
            prop::option::weighted(0.1, cents()),
            prop::option::weighted(0.1, 1..=1_000_000u32),
        ),
        (0..=60u16, prop::collection::vec(row(), 1..=4)),
    )
        .prop_map(
            |(
                (kind, year, month, units),
                (second_home, nonbusiness, others),
                (subsidy, grant, subsidized_loan, association),
                (tenths_of_kilowatt, rows),
            )| Thing {
                kind,
                // Most work falls into years with a credit.
                year: if year == 2026 && month > 3 { 2025 } else { year },
                month,
                units,
                second_home,
                nonbusiness,
                others,
                subsidy,
                grant,
                subsidized_loan,
                association,
                tenths_of_kilowatt,
                rows,
            },
        )
}

fn filed() -> impl Strategy<Value = Filed> {
    let credits = prop::sample::subsequence(
        vec![
            "foreign_tax",
            "child_and_dependent_care",
            "education",
            "child_tax",
            "mortgage_interest",
            "adoption",
        ],
        0..=3,
    );
    (
        prop_oneof![2 => 0..600_000u32, 1 => 0..5_000u32, 1 => Just(5_000_000u32)],
        credits,
        0..150_000u32,
        any::<bool>(),
    )
        .prop_map(|(tax, credits, amount, cents)| Filed {
            tax,
            other: credits.into_iter().zip(1..).map(|(credit, n)| (credit, amount / n)).collect(),
            cents,
        })
}

fn house(joint: bool) -> impl Strategy<Value = House> {
    (
        prop::collection::vec(thing(joint), 1..=6),
        prop::option::weighted(0.3, (0..100_000u32, 1..=99u8)),
        prop::collection::vec(filed(), 4),
        prop::option::weighted(0.2, 0..800_000u32),
        prop_oneof![3 => Just(Some(false)), 1 => Just(Some(true)), 1 => Just(None)],
    )
        .prop_map(|(things, shared, mut returns, carried_in, cents)| {
            if let Some(cents) = cents {
                returns.iter_mut().for_each(|one| one.cents = cents);
            }
            House { things, shared, returns, carried_in }
        })
}

fn amount(cents: u32) -> String {
    format!("{}.{:02}", cents / 100, cents % 100)
}

impl Thing {
    fn write(&self, n: usize, out: &mut String) {
        let day = format!("{}-{:02}-15", self.year, self.month);
        let home = if self.second_home { "lake-road" } else { "alder-lane" };
        let _ = write!(
            out,
            "  item-{n}:\n    kind: {}\n    home: {home}\n    part_of: existing_home\n    acquired: bought\n    condition: new\n",
            self.kind
        );
        let _ = match self.kind {
            "home_energy_audit" => {
                writeln!(out, "    performed: {day}\n    paid: {day}\n    certified: {{by: a program}}")
            }
            _ => writeln!(out, "    installed: {day}\n    units: {}\n    maker_code: CD{n:02}", self.units),
        };
        let _ = match self.kind {
            "solar_water_heating" => writeln!(out, "    solar_share: 60%\n    certified: {{by: a body}}"),
            "battery_storage" => writeln!(out, "    capacity_kwh: {}", f_tenths(self.tenths_of_kilowatt * 3)),
            "fuel_cell" => writeln!(out, "    capacity_kw: {}", f_tenths(self.tenths_of_kilowatt)),
            "biomass_stove_or_boiler" => writeln!(out, "    efficiency: 80%"),
            "enabling_property" => writeln!(out, "    amperage: 200\n    enables: [item-0]"),
            _ => Ok(()),
        };
        if let Some(share) = self.nonbusiness {
            let _ = writeln!(out, "    nonbusiness_use: {share}%");
        }
        if let Some(others) = self.others {
            let _ = writeln!(out, "    paid_by_others: {}", amount(others));
        }
        if let Some(loan) = self.subsidized_loan {
            let _ =
                writeln!(out, "    financed: {{as: subsidized_energy_financing, amount: {}}}", amount(loan));
        }
        if let Some(share) = self.association {
            let _ = writeln!(
                out,
                "    association: {{name: the association, share: {}.{:04}%}}",
                share / 10_000,
                share % 10_000
            );
        }
        let _ = writeln!(out, "    costs:");
        for (n, row) in self.rows.iter().enumerate() {
            let _ = writeln!(
                out,
                "      - {{item: cost {n}, as: {}, amount: {}}}",
                row.nature,
                amount(row.cents)
            );
        }
        let incentives = [("utility_subsidy", self.subsidy), ("state_grant", self.grant)];
        if incentives.iter().any(|(_, given)| given.is_some()) {
            let _ = writeln!(out, "    incentives:");
        }
        for (kind, given) in incentives {
            if let Some(given) = given {
                let _ = writeln!(out, "      - {{from: payer, as: {kind}, amount: {}}}", amount(given));
            }
        }
    }
}

fn f_tenths(tenths: u16) -> String {
    format!("{}.{}", tenths / 10, tenths % 10)
}

impl House {
    fn text(&self) -> String {
        let mut out = String::from(
            "format: 1
client: {reference: HH-1000, people: [{name: Ana Alder}]}
homes:
  alder-lane: {use: main_home, held_as: owner, address: {street: 12 Alder Lane, city: Riverton, state: MA, zip: '01040'}}
  lake-road: {use: other_residence, held_as: owner, address: {street: 3 Lake Road, city: Hillside, state: VT, zip: '05401'}}
property:
",
        );
        for (n, thing) in self.things.iter().enumerate() {
            thing.write(n, &mut out);
        }
        if let (Some((whole, share)), true) = (self.shared, self.things.len() > 1) {
            let rest = 100 - share;
            let _ = writeln!(
                out,
                "shared:\n  - {{item: one invoice, as: equipment, amount: {}, over: {{item-0: {share}%, item-1: {rest}%}}}}",
                amount(whole)
            );
        }
        let _ = writeln!(out, "returns:");
        for (year, one) in (2023..).zip(&self.returns) {
            let _ = writeln!(
                out,
                "  {year}:\n    filing_status: married_filing_jointly\n    tax_before_credits: {}\n    rounding: {}",
                amount(one.tax),
                if one.cents { "cents" } else { "whole_dollars" }
            );
            if !one.other.is_empty() {
                let _ = writeln!(out, "    other_credits:");
            }
            for (credit, given) in &one.other {
                let _ = match *credit {
                    "child_tax" => writeln!(out, "      child_tax: {{return_line: {}}}", amount(*given)),
                    _ => writeln!(out, "      {credit}: {}", amount(*given)),
                };
            }
        }
        if let Some(brought) = self.carried_in {
            let _ = writeln!(
                out,
                "carried_in:\n  2023: {{amount: {}, shown_on: 2022 Form 5695}}",
                amount(brought)
            );
        }
        out
    }

    fn compute(&self) -> Household {
        computed(&self.text()).unwrap_or_else(|why| panic!("{why}\n{}", self.text()))
    }
}

/// Runs a property over generated households, always the same ones.
fn over(count: u32, joint: bool, check: impl Fn(&House) -> Result<(), String>) {
    let config = Config { cases: count, failure_persistence: None, ..Config::default() };
    let mut runner = TestRunner::new_with_rng(config, TestRng::from_seed(RngAlgorithm::ChaCha, &[7; 32]));
    let result = runner.run(&house(joint), |house| check(&house).map_err(TestCaseError::fail));
    if let Err(error) = result {
        let text = match &error {
            proptest::test_runner::TestError::Fail(_, house) => house.text(),
            proptest::test_runner::TestError::Abort(_) => String::new(),
        };
        panic!("{error}\n{text}");
    }
}

/// How many households each property sees.
const HOUSEHOLDS: u32 = 60;

const YEARS: [i16; 4] = [2023, 2024, 2025, 2026];

fn at(household: &Household, year: i16, line: Line) -> Option<Money> {
    household.outcome.figures.money(&Place::of_return(TaxYear(year), line))
}

fn zero_if_none(household: &Household, year: i16, line: Line) -> Money {
    at(household, year, line).unwrap_or(Money::ZERO)
}

fn require(holds: bool, what: impl FnOnce() -> String) -> Result<(), String> {
    if holds { Ok(()) } else { Err(what()) }
}

fn keeps_cents(house: &House, year: i16) -> bool {
    house.returns[usize::from((year - 2023) as u16)].cents
}

// ---- The chain ----

/// What a year carries out the next carries in, and over the chain what was allowed and what is left come to what was
/// earned and brought in: 26 U.S.C. 25D(c). A balance kept in cents is rounded where it enters a year in whole dollars
/// (26 CFR 301.6102-1).
#[test]
fn nothing_is_lost_between_the_years() {
    over(HOUSEHOLDS, true, |house| {
        let household = house.compute();
        let mut earned = zero_if_none(&household, 2023, line::CARRIED_IN);
        let mut allowed = Money::ZERO;
        for year in YEARS {
            let fresh = zero_if_none(&household, year, line::CLEAN_RATE_TIMES_COST)
                + zero_if_none(&household, year, line::FUEL_CELL_CREDIT);
            earned = earned + fresh;
            allowed = allowed + zero_if_none(&household, year, line::CLEAN_ALLOWED);
            let out = zero_if_none(&household, year, line::CARRIED_OUT);
            let chain = [line::CHAIN_AVAILABLE, line::CHAIN_USED, line::CHAIN_LEFT]
                .map(|line| zero_if_none(&household, year, line));
            let form = [line::CLEAN_BEFORE_LIMIT, line::CLEAN_ALLOWED, line::CARRIED_OUT]
                .map(|line| zero_if_none(&household, year, line));
            require(chain == form, || {
                format!("{year}: the origin years come to {chain:?}, the form to {form:?}")
            })?;
            if year == 2026 {
                require(allowed + out == earned, || format!("{allowed} allowed and {out} left of {earned}"))?;
                continue;
            }
            let next = zero_if_none(&household, year + 1, line::CARRIED_IN);
            let entered = if keeps_cents(house, year + 1) { out } else { out.to_whole_dollars() };
            require(next == entered, || format!("{year} carries out {out}, the next year takes in {next}"))?;
            earned = earned + next - out;
        }
        Ok(())
    });
}

/// The oldest credit is used first and no row is negative: our bookkeeping rule.
#[test]
fn the_oldest_credit_is_used_first() {
    over(HOUSEHOLDS, true, |house| {
        let household = house.compute();
        for year in YEARS {
            let rows = |line: Line| {
                let figures = household.outcome.figures.of_year(TaxYear(year));
                let of_line = figures.into_iter().filter(move |figure| figure.place.line == line);
                of_line
                    .filter_map(|figure| match figure.place.of {
                        Subject::Origin(origin) => figure.value.money().map(|money| (origin, money)),
                        _ => None,
                    })
                    .collect::<Vec<_>>()
            };
            let (used, left) = (rows(line::ORIGIN_USED), rows(line::ORIGIN_LEFT));
            require(used.is_sorted_by_key(|(origin, _)| *origin), || "origins are not in order".to_string())?;
            for ((_, left), (origin, used_later)) in left.iter().zip(used.iter().skip(1)) {
                require(left.is_zero() || used_later.is_zero(), || {
                    format!(
                        "{year}: {used_later} of {origin} was used while {left} of an older year was left"
                    )
                })?;
            }
            require(used.iter().chain(&left).all(|(_, money)| !money.is_negative()), || {
                format!("{year}: a row by origin year is negative")
            })?;
        }
        Ok(())
    });
}

// ---- Limits ----

/// No credit passes the tax left for it (26 U.S.C. 26(a)), nor its limit (26 U.S.C. 25C(b)).
#[test]
fn no_credit_passes_its_limits() {
    let caps: [(Line, i64); 10] = [
        (line::INSULATION_CREDIT, 1200),
        (line::DOOR_CREDIT, 500),
        (line::DOOR_TOP_CREDIT, 250),
        (line::WINDOW_CREDIT, 600),
        (line::AIR_CONDITIONER_CREDIT, 600),
        (line::FUEL_WATER_HEATER_CREDIT, 600),
        (line::FURNACE_CREDIT, 600),
        (line::ENABLING_CREDIT, 600),
        (line::AUDIT_CREDIT, 150),
        (line::HEAT_PUMP_GROUP_CREDIT, 2000),
    ];
    over(HOUSEHOLDS, true, |house| {
        let household = house.compute();
        for year in YEARS {
            let of = |line| zero_if_none(&household, year, line);
            for (line, cap) in
                caps.iter().chain(&[(line::GENERAL_CREDIT, 1200), (line::IMPROVEMENT_ALLOWED, 3200)])
            {
                require(of(*line) <= Money::dollars(*cap), || {
                    format!("{year}: line {line} is {}", of(*line))
                })?;
            }
            let both = of(line::IMPROVEMENT_ALLOWED) + of(line::CLEAN_ALLOWED);
            require(both <= of(line::TAX), || {
                format!("{year}: {both} of credit on a tax of {}", of(line::TAX))
            })?;
            for (allowed, left) in [
                (line::IMPROVEMENT_ALLOWED, line::IMPROVEMENT_TAX_LEFT),
                (line::CLEAN_ALLOWED, line::CLEAN_TAX_LEFT),
            ] {
                require(of(allowed) <= of(left), || format!("{year}: line {allowed} passes line {left}"))?;
            }
            require(of(line::FUEL_CELL_CREDIT) <= of(line::FUEL_CELL_CAP), || {
                format!("{year}: the fuel cell limit")
            })?;
            for line in
                [line::CARRIED_OUT, line::IMPROVEMENT_LOST, line::CLEAN_TAX_LEFT, line::IMPROVEMENT_TAX_LEFT]
            {
                require(!of(line).is_negative(), || format!("{year}: line {line} is negative"))?;
            }
        }
        Ok(())
    });
}

/// Returns all credit a household gets in the end: allowed in any year, and still carried forward.
fn in_total(household: &Household) -> Money {
    let allowed: Money = YEARS
        .iter()
        .flat_map(|year| {
            [line::IMPROVEMENT_ALLOWED, line::CLEAN_ALLOWED].map(|line| zero_if_none(household, *year, line))
        })
        .sum();
    allowed + zero_if_none(household, 2026, line::CARRIED_OUT)
}

/// More cost never means less credit in total, carryforward included.
///
/// It follows from 26 U.S.C. 25C(a), (b) and 25D(a), (c) for one household alone. It does not hold for joint occupants,
/// whose share of a limit moves with their payments, so nobody else pays here. Nor does it hold where 25C grows in a
/// year of little tax: it displaces 25D, which is then carried forward, so nothing is lost, and 25C itself is never
/// taken back. Whole dollars may move a rounding by a dollar a line, so cents are kept.
#[test]
fn more_cost_never_means_less_credit() {
    over(HOUSEHOLDS, false, |house| {
        let mut house = house.clone();
        house.returns.iter_mut().for_each(|one| one.cents = true);
        let before = in_total(&house.compute());
        for n in 0..house.things.len() {
            let mut more = house.clone();
            more.things[n].rows.push(Row { nature: "material", cents: 123_456 });
            let after = in_total(&more.compute());
            require(after >= before, || format!("item-{n} costs more, and {before} became {after}"))?;
        }
        Ok(())
    });
}

// ---- Order and splitting ----

/// Returns all amounts of the official sheets and of the chain: what order and splitting must not change.
fn amounts(household: &Household) -> Vec<(Place, Value)> {
    let figures = household.outcome.figures.all().iter();
    let wanted = figures.filter(|figure| {
        figure.place.line.sheet() >= 300
            && figure.place.line.kind() != LineKind::Text
            && matches!(figure.place.of, Subject::Return | Subject::Rank(_) | Subject::Origin(_))
    });
    let mut all: Vec<_> = wanted.map(|figure| (figure.place.clone(), figure.value.clone())).collect();
    all.sort_by(|a, b| a.0.cmp(&b.0));
    all
}

fn same(what: &str, one: &Household, other: &Household) -> Result<(), String> {
    let (one, other) = (amounts(one), amounts(other));
    let differing = one.iter().zip(&other).find(|(one, other)| one != other);
    require(one == other, || {
        format!("{what} changes {differing:?} ({} and {} lines)", one.len(), other.len())
    })
}

/// The order of costs changes no amount: addition does not ask for it.
#[test]
fn the_order_of_costs_changes_nothing() {
    over(HOUSEHOLDS, true, |house| {
        let mut turned = house.clone();
        turned.things.iter_mut().for_each(|thing| thing.rows.reverse());
        same("the order of costs", &house.compute(), &turned.compute())
    });
}

/// The order of items changes no amount: the form orders by cost, and equal costs are equal.
///
/// Joint doors of equal own cost are left out: which of them is the costliest decides whose payments share the limit
/// of one door, and the case's order breaks the tie.
#[test]
fn the_order_of_items_changes_nothing() {
    over(HOUSEHOLDS, true, |house| {
        let mut turned = house.clone();
        turned.shared = None;
        turned.things.retain(|thing| thing.kind != "enabling_property");
        if turned.things.iter().any(|thing| thing.kind == "exterior_door" && thing.others.is_some()) {
            return Ok(());
        }
        let straight = turned.compute();
        turned.things.reverse();
        same("the order of items", &straight, &turned.compute())
    });
}

/// Splitting a cost in two rows changes nothing: the law counts amounts paid, and pieces only for doors, windows and
/// other units, which `units` says.
#[test]
fn splitting_a_cost_changes_nothing() {
    over(HOUSEHOLDS, true, |house| {
        let mut split = house.clone();
        for thing in &mut split.things {
            let rows = std::mem::take(&mut thing.rows);
            for row in rows {
                let part = row.cents / 3;
                thing.rows.push(Row { nature: row.nature, cents: part });
                thing.rows.push(Row { nature: row.nature, cents: row.cents - part });
            }
        }
        same("splitting a cost", &house.compute(), &split.compute())
    });
}

// ---- The figures themselves ----

/// Every figure is what its expression makes of the figures before it, once more and alone: our rule, on which the
/// seal's check rests. Its operands are noted with the values they have.
#[test]
fn every_figure_is_made_again_from_its_operands() {
    over(HOUSEHOLDS, true, |house| {
        let household = house.compute();
        let mut again = gablework::credit::Figures::default();
        for figure in household.outcome.figures.all() {
            let step = Step {
                place: figure.place.clone(),
                about: figure.about.clone(),
                expr: figure.expr.clone(),
                authority: Vec::new(),
            };
            gablework::credit::evaluate::evaluate(vec![step], Law::built_in(), &mut again)
                .map_err(|fault| fault.to_string())?;
            let made = again.get(&figure.place).map(|figure| &figure.value);
            require(made == Some(&figure.value), || {
                format!("{} is {made:?}, not {:?}", figure.place, figure.value)
            })?;
            for used in &figure.used {
                if let gablework::credit::Used::Figure(place, value) = used {
                    let stands = household.outcome.figures.get(place).map(|figure| &figure.value);
                    require(stands == Some(value), || format!("{} used {place} as {value:?}", figure.place))?;
                }
            }
        }
        Ok(())
    });
}

/// Every amount that a year's official forms ask of us has a figure, and those of the forms are whole dollars where the
/// return is: 26 CFR 301.6102-1.
#[test]
fn every_official_amount_stands_and_is_whole() {
    over(HOUSEHOLDS, true, |house| {
        let household = house.compute();
        for year in YEARS {
            let map = gablework::sheet::official::map(TaxYear(year)).expect("a map of the year");
            for one in map.lines().filter(|one| one.place.entry.word() == "amount") {
                let of = one.rank.map_or(Subject::Return, Subject::Rank);
                let place = Place { year: TaxYear(year), line: Line(one.ours), of };
                let Some(figure) = household.outcome.figures.get(&place) else {
                    return Err(format!("{year}: {} asks for {place}, and there is none", one.place.line));
                };
                let money = figure.value.money();
                // Kilowatts stand beside the amount of line 10 as words.
                let whole = money.is_none_or(|money| money == money.to_whole_dollars());
                let in_cents = money.is_none_or(|money| money == money.to_cents());
                require(in_cents, || format!("{place} has a fraction of a cent: {:?}", figure.value))?;
                require(whole || keeps_cents(house, year), || {
                    format!("{place} is not whole: {:?}", figure.value)
                })?;
            }
        }
        Ok(())
    });
}

/// The lines whose box holds rows that are printed beside it: rows are rounded one by one and the box once, from the
/// cents, so that where cents were paid the printed rows need not add up to it.
const BOXES_OF_ROWS: [&str; 3] = ["line 19d:", "line 20a:", "line 23a:"];

/// Every computation printed on the official forms is true of our figures: Form 5695 of 2023 to 2025 with its
/// worksheets. Joint occupants depart from the form's own arithmetic by law, and returns in cents round otherwise. The
/// other credits are whole dollars here, as on a return in whole dollars; with cents the worksheet adds them first.
#[test]
fn the_official_forms_compute_the_same() {
    let mut seen = BTreeSet::new();
    let counted = std::cell::RefCell::new(&mut seen);
    over(HOUSEHOLDS, false, |house| {
        let mut house = house.clone();
        for one in &mut house.returns {
            one.cents = false;
            one.other.iter_mut().for_each(|(_, given)| *given -= *given % 100);
        }
        let household = house.compute();
        for year in [2023, 2024, 2025] {
            match check_official(year, "1040", |place| figure_of(&household, place)) {
                Ok(compared) => {
                    counted.borrow_mut().insert(compared);
                    require(compared > 30, || format!("{year}: only {compared} lines were compared"))?;
                }
                Err(departures) => {
                    let unexplained: Vec<String> = departures
                        .into_iter()
                        .filter(|one| !BOXES_OF_ROWS.iter().any(|line| one.contains(line)))
                        .collect();
                    require(unexplained.is_empty(), || {
                        format!("{year}:\n{}\n{}", unexplained.join("\n"), said(&household.findings))
                    })?;
                }
            }
        }
        Ok(())
    });
    assert!(!seen.is_empty(), "no household was compared in full");
}

// ---- Planning ----

/// A household with planned years after its last, and what they would use.
fn planned(house: &House, taxes: &[u32]) -> Option<(Household, Outlook)> {
    let mut text = house.text();
    if !taxes.is_empty() {
        text.push_str("planning:\n");
    }
    for (year, tax) in (2027..).zip(taxes) {
        let _ = writeln!(text, "  {year}: {{tax_before_credits: {}}}", amount(*tax));
    }
    let household = computed(&text).unwrap_or_else(|why| panic!("{why}\n{text}"));
    let outlook = outlook(&household.case, &household.outcome)?;
    Some((household, outlook))
}

fn in_cents(money: Money) -> u32 {
    money.plain().replace('.', "").parse().expect("an amount of generated size")
}

/// What is used year after year and what is left come to what was carried out; no year uses more than it has, or more
/// than its tax leaves (26 U.S.C. 25D(c)); and only the last can use up the rest.
#[test]
fn years_to_come_use_what_there_is_and_no_more() {
    over(HOUSEHOLDS, true, |house| {
        for taxes in [&[][..], &[0, 150_000], &[70_000], &[1_000_000]] {
            let Some((household, outlook)) = planned(house, taxes) else { continue };
            let told = || format!("{outlook:?}");
            let carried = zero_if_none(&household, 2026, line::CARRIED_OUT);
            require(outlook.balance == carried && !carried.is_zero(), told)?;
            let used: Money = outlook.years.iter().map(|one| one.used).sum();
            require(used + outlook.left() == outlook.balance, told)?;
            let mut carried = outlook.balance;
            for one in &outlook.years {
                require(one.carried_in == carried && one.used <= carried && one.used <= one.tax_left, told)?;
                require(one.used + one.left == carried, told)?;
                carried = one.left;
            }
            let before = outlook.years.split_last().map(|(_, before)| before).unwrap_or_default();
            require(before.iter().all(|one| !one.left.is_zero()), told)?;
            require(outlook.used_up().is_some() == outlook.left().is_zero(), told)?;
        }
        Ok(())
    });
}

/// More tax in a year to come never uses the credit later.
#[test]
fn more_tax_never_uses_the_credit_later() {
    over(HOUSEHOLDS, true, |house| {
        for (less, more) in [([20_000, 90_000], [60_000, 90_000]), ([20_000, 90_000], [20_000, 400_000])] {
            let (Some((_, less)), Some((_, more))) = (planned(house, &less), planned(house, &more)) else {
                continue;
            };
            let late = |one: &Outlook| one.used_up().map_or(i16::MAX, |year| year.0);
            require(late(&more) <= late(&less), || format!("{less:?} and {more:?}"))?;
        }
        Ok(())
    });
}

/// The tax of lines 657 and 661 is enough to use everything in its year, and a dollar less is not.
#[test]
fn so_much_more_tax_would_use_everything_and_a_dollar_less_would_not() {
    let seen = std::cell::Cell::new([0u32; 3]);
    over(HOUSEHOLDS, true, |house| {
        let mut counts = seen.get();
        if let Some((_, outlook)) = planned(house, &[30_000])
            && let Some(next) = outlook.next
        {
            let tax = 30_000 + in_cents(next.tax);
            let enough = planned(house, &[tax]).map(|(_, outlook)| outlook.years[0].left);
            let short = planned(house, &[tax - 100]).map(|(_, outlook)| outlook.years[0].left);
            require(enough == Some(Money::ZERO), || format!("{enough:?} is left with {next:?}"))?;
            require(short == Some(Money::dollars(1)), || {
                format!("{short:?} is left a dollar below {next:?}")
            })?;
            counts[0] += 1;
        }
        // 2025 still has a home improvement credit, which comes first; 2026 has none.
        for (n, last) in [2025, 2026].into_iter().enumerate() {
            let mut house = house.clone();
            house.returns.truncate(3 + n);
            // Half a dollar more or less of the tax itself would blur what a dollar does.
            house.returns[2 + n].tax -= house.returns[2 + n].tax % 100;
            let Some((_, Outlook { now: Some(now), .. })) = planned(&house, &[]) else { continue };
            let left = |more: u32| {
                let mut house = house.clone();
                house.returns[2 + n].tax += more;
                zero_if_none(&house.compute(), last, line::CARRIED_OUT)
            };
            let more = in_cents(now.tax);
            require(now.year.0 == last && left(more).is_zero() && !left(more - 100).is_zero(), || {
                format!("{now:?}")
            })?;
            counts[1 + n] += 1;
        }
        seen.set(counts);
        Ok(())
    });
    assert!(seen.get().iter().all(|count| *count >= 5), "{:?}", seen.get());
}

/// The generator reaches what the properties speak of; otherwise they would hold of nothing.
#[test]
fn the_generated_households_are_not_empty() {
    let counts = std::cell::RefCell::new([0u32; 6]);
    over(HOUSEHOLDS, true, |house| {
        let household = house.compute();
        let any = |line: Line| YEARS.iter().any(|year| !zero_if_none(&household, *year, line).is_zero());
        let mut counts = counts.borrow_mut();
        counts[0] += u32::from(any(line::CARRIED_OUT));
        counts[1] += u32::from(any(line::IMPROVEMENT_ALLOWED));
        counts[2] += u32::from(any(line::FUEL_CELL_CREDIT));
        counts[3] += u32::from(any(line::IMPROVEMENT_LOST));
        counts[4] +=
            u32::from(house.things.iter().any(|one| one.others.is_some() && ENVELOPE.contains(&one.kind)));
        counts[5] += u32::from(any(line::GENERAL_CREDIT) && any(line::HEAT_PUMP_GROUP_CREDIT));
        Ok(())
    });
    let counts = counts.into_inner();
    assert!(counts.iter().all(|count| *count >= 5), "{counts:?}");
}
