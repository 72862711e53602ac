//! Lines 400: the clean energy credit (IRC 25D), in the order of the form.
//!
//! Comes in: the year's items with their qualified costs, and what the year before carried out. Goes out: steps up
//! to the credit before the tax limit, and from the limit to the credit allowed and carried out.

use super::expression::{CaseRef, Expr, Value};
use super::improvement::{answer, kind_fact};
use super::line::{self, Line, Of, Place};
use super::plan::{Plan, Planned, counts, item_fact};
use crate::case::Kind;
use crate::law::{Credit, LawKey};

/// The cost lines of the form, by kind.
const COSTS: [(Kind, Line); 5] = [
    (Kind::SolarElectric, line::SOLAR_ELECTRIC_COST),
    (Kind::SolarWaterHeating, line::SOLAR_WATER_HEATING_COST),
    (Kind::SmallWind, line::SMALL_WIND_COST),
    (Kind::GeothermalHeatPump, line::GEOTHERMAL_COST),
    (Kind::BatteryStorage, line::BATTERY_COST),
];

/// Plans the lines of new property: costs, rate, fuel cells.
pub(super) fn new_property(plan: &mut Plan<'_>) {
    address(plan);
    let mut parts = Vec::new();
    for (kind, line) in COSTS {
        let items = plan.counting(Credit::Clean, kind);
        if kind == Kind::BatteryStorage {
            battery_answer(plan, &items);
        }
        plan.line(line, plan.entry(plan.sum_over(line::ITEM_QUALIFIED, &items)), &[]);
        parts.push(plan.at(line));
    }
    plan.line(line::CLEAN_COST, Expr::Sum(parts), &[]);
    let product = plan.value(LawKey::CleanRate).times(plan.at(line::CLEAN_COST));
    plan.line(line::CLEAN_RATE_TIMES_COST, plan.entry(product), &[]);
    fuel_cells(plan);
}

/// Plans the credit before the tax limit: new credit and what was carried in.
pub(super) fn before_limit(plan: &mut Plan<'_>, carried_in: Expr, in_force: bool) {
    plan.line(line::CARRIED_IN, carried_in, &["carryforward"]);
    let mut parts = vec![plan.at(line::CARRIED_IN)];
    if in_force {
        parts.insert(0, plan.at(line::FUEL_CELL_CREDIT));
        parts.insert(0, plan.at(line::CLEAN_RATE_TIMES_COST));
    }
    plan.line(line::CLEAN_BEFORE_LIMIT, Expr::Sum(parts), &[]);
}

/// Plans the lines from the tax limit on.
pub(super) fn after_limit(plan: &mut Plan<'_>) {
    plan.line(line::CLEAN_LIMIT, plan.at(line::CLEAN_TAX_LEFT), &["nonrefundable"]);
    let before = plan.at(line::CLEAN_BEFORE_LIMIT);
    plan.line(line::CLEAN_ALLOWED, before.clone().or_smaller(plan.at(line::CLEAN_LIMIT)), &["nonrefundable"]);
    let out = before.less(plan.at(line::CLEAN_ALLOWED)).not_below_zero();
    plan.line(line::CARRIED_OUT, out, &["carryforward"]);
}

fn address(plan: &mut Plan<'_>) {
    let items: Vec<Planned<'_>> =
        COSTS.iter().flat_map(|(kind, _)| plan.counting(Credit::Clean, *kind)).collect();
    if items.is_empty() {
        return;
    }
    let mut addresses: Vec<String> = Vec::new();
    for one in &items {
        let address = one.home.address.one_line();
        if !addresses.contains(&address) {
            addresses.push(address);
        }
    }
    let from: Vec<CaseRef> = items.iter().map(|one| kind_fact(one.item)).collect();
    let words = Value::Text(addresses.join("; "));
    answer(plan, line::CLEAN_ADDRESS, words, "the homes of the case".to_string(), from, &[]);
}

fn battery_answer(plan: &mut Plan<'_>, counting: &[Planned<'_>]) {
    let all: Vec<&Planned<'_>> =
        plan.items.iter().filter(|one| one.item.kind.value == Kind::BatteryStorage).collect();
    if all.is_empty() {
        return;
    }
    let from = all
        .iter()
        .filter_map(|one| {
            let capacity = one.item.capacity_kwh.as_ref()?;
            Some(item_fact(one.item, "capacity_kwh", capacity.span, Value::Quantity(capacity.value)))
        })
        .collect();
    let because = "from the capacity of each battery".to_string();
    answer(plan, line::BATTERY_QUESTION, Value::YesNo(!counting.is_empty()), because, from, &[]);
}

/// Plans the fuel cell lines. Joint occupants' cost is the smaller of the own payment and the own share of the
/// home's ceiling (26 U.S.C. 25D(e)(4)).
fn fuel_cells(plan: &mut Plan<'_>) {
    let items = plan.counting(Credit::Clean, Kind::FuelCell);
    let joint =
        |one: &Planned<'_>| one.item.paid_by_others.as_ref().is_some_and(|paid| !paid.value.is_zero());
    let any: Vec<CaseRef> = plan
        .items
        .iter()
        .filter(|one| one.item.kind.value == Kind::FuelCell)
        .map(|one| kind_fact(one.item))
        .collect();
    if !any.is_empty() {
        let because = "from the home's use on the day of installation".to_string();
        answer(plan, line::FUEL_CELL_MAIN_HOME, Value::YesNo(!items.is_empty()), because, any.clone(), &[]);
    }
    if let Some(first) = items.first() {
        let words = Value::Text(first.home.address.one_line());
        answer(plan, line::FUEL_CELL_ADDRESS, words, "the home of the case".to_string(), any.clone(), &[]);
        let shared = items.iter().any(joint);
        let because = "from `paid_by_others` of the fuel cell".to_string();
        answer(plan, line::FUEL_CELL_JOINT, Value::YesNo(shared), because, any, &["joint.fuel_cell"]);
    }
    let mut kilowatts = Vec::new();
    for one in &items {
        let Some(capacity) = &one.item.capacity_kw else {
            continue;
        };
        let key = &one.item.key.value;
        let fact =
            || Expr::Fact(item_fact(one.item, "capacity_kw", capacity.span, Value::Quantity(capacity.value)));
        kilowatts.push(fact());
        let own = Expr::At(Place::of_item(plan.year, line::ITEM_QUALIFIED, key));
        let about = Some(super::purchase::item_words(one.item));
        let counted = if joint(one) {
            let ceiling = plan
                .value(LawKey::FuelCellJointCostPerHalfKw)
                .times(Expr::Number(2, "half kilowatts"))
                .times(fact());
            plan.row(
                line::FUEL_CELL_JOINT_CEILING,
                Of::Item(key.clone()),
                about.clone(),
                ceiling,
                &["joint.fuel_cell"],
            );
            let ceiling = Expr::At(Place::of_item(plan.year, line::FUEL_CELL_JOINT_CEILING, key));
            let all = Expr::At(Place::of_item(plan.year, line::ITEM_ALL_OWNERS, key));
            let share = ceiling.share(own.clone(), all).rounded(super::expression::Rounding::ProductInCents);
            let ruling =
                counts("the home's cost ceiling is shared by payments", plan.authority("joint.fuel_cell"));
            own.or_smaller(share).ruled(ruling)
        } else {
            own
        };
        plan.row(line::FUEL_CELL_ALLOCATED, Of::Item(key.clone()), about, counted, &[]);
    }
    let cost = plan.sum_over(line::FUEL_CELL_ALLOCATED, &items);
    plan.line(line::FUEL_CELL_COST, plan.entry(cost), &[]);
    let product = plan.value(LawKey::CleanRate).times(plan.at(line::FUEL_CELL_COST));
    plan.line(line::FUEL_CELL_RATE_TIMES_COST, plan.entry(product), &[]);
    plan.line(line::FUEL_CELL_KILOWATTS, Expr::Sum(kilowatts), &[]);
    let cap = plan.value(LawKey::FuelCellCapPerKw).times(plan.at(line::FUEL_CELL_KILOWATTS));
    plan.line(line::FUEL_CELL_CAP, plan.entry(cap), &[]);
    let credit = plan.at(line::FUEL_CELL_RATE_TIMES_COST).or_smaller(plan.at(line::FUEL_CELL_CAP));
    plan.line(line::FUEL_CELL_CREDIT, credit, &[]);
}
