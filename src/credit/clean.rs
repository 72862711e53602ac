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
const COSTS: [(Kind, Line); 6] = [
    (Kind::SolarElectric, line::SOLAR_ELECTRIC_COST),
    (Kind::SolarWaterHeating, line::SOLAR_WATER_HEATING_COST),
    (Kind::SmallWind, line::SMALL_WIND_COST),
    (Kind::GeothermalHeatPump, line::GEOTHERMAL_COST),
    (Kind::BatteryStorage, line::BATTERY_COST),
    (Kind::BiomassStoveOrBoiler, line::CLEAN_BIOMASS_COST),
];

/// The lines that hold new credit: of all kinds together, of fuel cells, and of each kind in the years whose law limits
/// each by itself.
pub(super) const NEW_CREDIT: [Line; 6] = [
    line::CLEAN_RATE_TIMES_COST,
    line::FUEL_CELL_CREDIT,
    line::SOLAR_ELECTRIC_CREDIT,
    line::SOLAR_WATER_HEATING_CREDIT,
    line::SMALL_WIND_CREDIT,
    line::GEOTHERMAL_CREDIT,
];

/// A kind that has limits of its own in the years up to 2008.
struct Limited {
    kind: Kind,
    cost: Line,
    rate_times_cost: Line,
    /// The limit in the law, and its line.
    limit: (LawKey, Line),
    /// The limit for one kilowatt in the law, the lines of the kilowatts and of the limit by capacity.
    by_capacity: Option<(LawKey, Line, Line)>,
    credit: Line,
    /// The ceiling of all joint occupants' cost, and the one for half a kilowatt.
    joint: (LawKey, Option<LawKey>),
}

const LIMITED: [Limited; 4] = [
    Limited {
        kind: Kind::SolarElectric,
        cost: line::SOLAR_ELECTRIC_COST,
        rate_times_cost: line::SOLAR_ELECTRIC_RATE_TIMES_COST,
        limit: (LawKey::SolarElectricCap, line::SOLAR_ELECTRIC_CAP),
        by_capacity: None,
        credit: line::SOLAR_ELECTRIC_CREDIT,
        joint: (LawKey::SolarElectricJointCost, None),
    },
    Limited {
        kind: Kind::SolarWaterHeating,
        cost: line::SOLAR_WATER_HEATING_COST,
        rate_times_cost: line::SOLAR_WATER_HEATING_RATE_TIMES_COST,
        limit: (LawKey::SolarWaterHeatingCap, line::SOLAR_WATER_HEATING_CAP),
        by_capacity: None,
        credit: line::SOLAR_WATER_HEATING_CREDIT,
        joint: (LawKey::SolarWaterHeatingJointCost, None),
    },
    Limited {
        kind: Kind::SmallWind,
        cost: line::SMALL_WIND_COST,
        rate_times_cost: line::SMALL_WIND_RATE_TIMES_COST,
        limit: (LawKey::SmallWindCap, line::SMALL_WIND_CAP),
        by_capacity: Some((
            LawKey::SmallWindCapPerKw,
            line::SMALL_WIND_KILOWATTS,
            line::SMALL_WIND_CAPACITY_CAP,
        )),
        credit: line::SMALL_WIND_CREDIT,
        joint: (LawKey::SmallWindJointCost, Some(LawKey::SmallWindJointCostPerHalfKw)),
    },
    Limited {
        kind: Kind::GeothermalHeatPump,
        cost: line::GEOTHERMAL_COST,
        rate_times_cost: line::GEOTHERMAL_RATE_TIMES_COST,
        limit: (LawKey::GeothermalCap, line::GEOTHERMAL_CAP),
        by_capacity: None,
        credit: line::GEOTHERMAL_CREDIT,
        joint: (LawKey::GeothermalJointCost, None),
    },
];

/// Plans the lines of new property: costs, rate, limits by kind where the year has them, fuel cells.
pub(super) fn new_property(plan: &mut Plan<'_>) {
    address(plan);
    let limited = LIMITED.iter().filter(|one| plan.year_law.values.contains_key(&one.limit.0));
    let limited: Vec<&Limited> = limited.collect();
    if limited.is_empty() {
        all_kinds_together(plan);
    }
    for one in limited {
        kind_by_itself(plan, one);
    }
    fuel_cells(plan);
}

fn all_kinds_together(plan: &mut Plan<'_>) {
    let mut parts = Vec::new();
    for (kind, line) in COSTS {
        if plan.year_law.kinds.get(&kind).is_none_or(|law| law.credit != Credit::Clean) {
            continue;
        }
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
}

/// Plans one kind with its own limits (26 U.S.C. 25D(b)(1) as in force through 2008). Joint occupants' cost is the
/// smaller of the own payment and the own share of the home's ceiling (25D(e)(4) as in force then).
fn kind_by_itself(plan: &mut Plan<'_>, one: &Limited) {
    let items = plan.counting(Credit::Clean, one.kind);
    if items.is_empty() {
        return;
    }
    let mut costs = Vec::new();
    let mut kilowatts = Vec::new();
    for item in &items {
        let key = &item.item.key.value;
        let own = Expr::At(Place::of_item(plan.year, line::ITEM_QUALIFIED, key));
        let capacity = || {
            let capacity = item.item.capacity_kw.as_ref()?;
            let value = Value::Quantity(capacity.value);
            Some(Expr::Fact(item_fact(item.item, "capacity_kw", capacity.span, value)))
        };
        kilowatts.extend(capacity());
        if item.item.paid_by_others.as_ref().is_none_or(|paid| paid.value.is_zero()) {
            costs.push(own);
            continue;
        }
        let mut ceiling = plan.value(one.joint.0);
        if let (Some(per_half), Some(kilowatts)) = (one.joint.1, capacity()) {
            let halves = Expr::Number(2, "half kilowatts").times(kilowatts);
            ceiling = ceiling.or_smaller(plan.value(per_half).times(halves));
        }
        let about = Some(super::purchase::item_words(item.item));
        let of = Of::Item(key.clone());
        plan.row(line::CLEAN_JOINT_CEILING, of.clone(), about.clone(), ceiling, &["joint.kinds"]);
        let ceiling = Expr::At(Place::of_item(plan.year, line::CLEAN_JOINT_CEILING, key));
        let all = Expr::At(Place::of_item(plan.year, line::ITEM_ALL_OWNERS, key));
        let share = ceiling.share(own.clone(), all).rounded(super::expression::Rounding::ProductInCents);
        let because = "the home's cost ceiling is shared by payments";
        let ruling = counts(because, plan.authority("joint.kinds"));
        plan.row(line::CLEAN_ALLOCATED, of, about, own.or_smaller(share).ruled(ruling), &[]);
        costs.push(Expr::At(Place::of_item(plan.year, line::CLEAN_ALLOCATED, key)));
    }
    plan.line(one.cost, plan.entry(Expr::Sum(costs)), &[]);
    let product = plan.value(LawKey::CleanRate).times(plan.at(one.cost));
    plan.line(one.rate_times_cost, plan.entry(product), &[]);
    let mut credit = plan.at(one.rate_times_cost);
    if let Some((per_kilowatt, capacity, limit)) = one.by_capacity {
        plan.line(capacity, Expr::Sum(kilowatts), &[]);
        plan.line(limit, plan.entry(plan.value(per_kilowatt).times(plan.at(capacity))), &[]);
        credit = credit.or_smaller(plan.at(limit));
    }
    plan.line(one.limit.1, plan.value(one.limit.0), &[]);
    plan.line(one.credit, credit.or_smaller(plan.at(one.limit.1)), &[]);
}

/// Returns the new credit of the year, line by line.
pub(super) fn new_credit(plan: &Plan<'_>) -> Vec<Expr> {
    let planned =
        |line: &Line| plan.steps.iter().any(|step| step.place == Place::of_return(plan.year, *line));
    NEW_CREDIT.into_iter().filter(planned).map(|line| plan.at(line)).collect()
}

/// Plans the credit before the tax limit: new credit and what was carried in.
pub(super) fn before_limit(plan: &mut Plan<'_>, carried_in: Expr, in_force: bool) {
    plan.line(line::CARRIED_IN, carried_in, &["carryforward"]);
    let mut parts = if in_force { new_credit(plan) } else { Vec::new() };
    parts.push(plan.at(line::CARRIED_IN));
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
