//! Lines 400: the clean energy credit (IRC 25D), in the order of the form.
//!
//! Comes in: the year's items with their qualified costs. Goes out: steps up to the credit earned on them, a function
//! for each that the law can name. Which kinds there are in a year, and which of them a limit reaches, is law data.

use super::form::{addresses, answer, is_joint, kind_fact, paid_with_others};
use super::{Plan, Planned, counts, item_fact};
use crate::case::Kind;
use crate::credit::evaluate::expression::{CaseRef, Expr, Value};
use crate::credit::evaluate::line::{self, Line, Place, Subject};
use crate::law::{Credit, LawKey, Rule};

/// The credit whose form this is.
const THIS: Credit = Credit::Clean;

/// A kind of property other than fuel cells, with its lines.
struct KindLines {
    kind: Kind,
    cost: Line,
    /// The lines of its limit, for the years that have one.
    limit: KindLimit,
}

/// The limit of one kind of property: rate times cost, limit, credit. Which limit reaches it, the year's law says.
struct KindLimit {
    product: Line,
    cap_line: Line,
    credit: Line,
    /// The most that all joint occupants of a home may count together.
    joint_cost: LawKey,
    /// Where capacity limits the credit too.
    capacity: Option<CapacityLimit>,
}

/// A limit by kilowatts.
struct CapacityLimit {
    kilowatts: Line,
    cap_line: Line,
    cap_per_kw: LawKey,
    joint_cost_per_half_kw: LawKey,
}

/// The kinds in the order of the form.
const KINDS: [KindLines; 6] = [
    KindLines {
        kind: Kind::SolarElectric,
        cost: line::SOLAR_ELECTRIC_COST,
        limit: KindLimit {
            product: line::SOLAR_ELECTRIC_RATE_TIMES_COST,
            cap_line: line::SOLAR_ELECTRIC_CAP,
            credit: line::SOLAR_ELECTRIC_CREDIT,
            joint_cost: LawKey::SolarElectricJointCost,
            capacity: None,
        },
    },
    KindLines {
        kind: Kind::SolarWaterHeating,
        cost: line::SOLAR_WATER_HEATING_COST,
        limit: KindLimit {
            product: line::SOLAR_WATER_HEATING_RATE_TIMES_COST,
            cap_line: line::SOLAR_WATER_HEATING_CAP,
            credit: line::SOLAR_WATER_HEATING_CREDIT,
            joint_cost: LawKey::SolarWaterHeatingJointCost,
            capacity: None,
        },
    },
    KindLines {
        kind: Kind::SmallWind,
        cost: line::SMALL_WIND_COST,
        limit: KindLimit {
            product: line::SMALL_WIND_RATE_TIMES_COST,
            cap_line: line::SMALL_WIND_CAP,
            credit: line::SMALL_WIND_CREDIT,
            joint_cost: LawKey::SmallWindJointCost,
            capacity: Some(CapacityLimit {
                kilowatts: line::SMALL_WIND_KILOWATTS,
                cap_line: line::SMALL_WIND_CAPACITY_CAP,
                cap_per_kw: LawKey::SmallWindCapPerKw,
                joint_cost_per_half_kw: LawKey::SmallWindJointCostPerHalfKw,
            }),
        },
    },
    KindLines {
        kind: Kind::GeothermalHeatPump,
        cost: line::GEOTHERMAL_COST,
        limit: KindLimit {
            product: line::GEOTHERMAL_RATE_TIMES_COST,
            cap_line: line::GEOTHERMAL_CAP,
            credit: line::GEOTHERMAL_CREDIT,
            joint_cost: LawKey::GeothermalJointCost,
            capacity: None,
        },
    },
    KindLines {
        kind: Kind::BatteryStorage,
        cost: line::BATTERY_COST,
        limit: KindLimit {
            product: line::BATTERY_RATE_TIMES_COST,
            cap_line: line::BATTERY_CAP,
            credit: line::BATTERY_CREDIT,
            joint_cost: LawKey::BatteryJointCost,
            capacity: None,
        },
    },
    KindLines {
        kind: Kind::BiomassStoveOrBoiler,
        cost: line::CLEAN_BIOMASS_COST,
        limit: KindLimit {
            product: line::CLEAN_BIOMASS_RATE_TIMES_COST,
            cap_line: line::CLEAN_BIOMASS_CAP,
            credit: line::CLEAN_BIOMASS_CREDIT,
            joint_cost: LawKey::CleanBiomassJointCost,
            capacity: None,
        },
    },
];

/// Returns the kinds that the year's law has under 25D.
fn kinds(plan: &Plan<'_>) -> impl Iterator<Item = &'static KindLines> + use<> {
    let known: Vec<Kind> =
        plan.year_law.kinds.iter().filter(|(_, law)| law.credit == THIS).map(|(kind, _)| *kind).collect();
    KINDS.iter().filter(move |one| known.contains(&one.kind))
}

/// Plans the cost of each kind, and where a limit reaches the kind, its credit.
pub(in crate::credit) fn costs(plan: &mut Plan<'_>) {
    for one in kinds(plan) {
        let items = plan.counting(THIS, one.kind);
        if one.kind == Kind::BatteryStorage {
            battery_answer(plan, &items);
        }
        match plan.year_law.limit_of(one.kind) {
            Some(cap) => limited_kind(plan, one.cost, cap, &one.limit, &items),
            None => plan.line(one.cost, plan.entry(plan.sum_over(line::ITEM_QUALIFIED, &items)), &[]),
        }
    }
}

/// Plans the rate of the cost of the kinds that no limit reaches, together.
pub(in crate::credit) fn rate(plan: &mut Plan<'_>) {
    let law = plan.year_law;
    let unlimited = kinds(plan).filter(|one| law.limit_of(one.kind).is_none());
    let parts = unlimited.map(|one| plan.at(one.cost)).collect();
    plan.line(line::CLEAN_COST, Expr::Sum(parts), &[]);
    let product = plan.value(LawKey::CleanRate).times(plan.at(line::CLEAN_COST));
    plan.line(line::CLEAN_RATE_TIMES_COST, plan.entry(product), &[Rule::RateEnacted]);
}

/// Plans the lines of a kind that has a limit of its own, as in 2006 to 2008.
fn limited_kind(plan: &mut Plan<'_>, cost_line: Line, cap: LawKey, limit: &KindLimit, items: &[Planned<'_>]) {
    let shared = Shared {
        ceiling_line: line::CLEAN_JOINT_CEILING,
        cost_line: line::CLEAN_ALLOCATED,
        rule: Rule::JointKinds,
        most: Some(limit.joint_cost),
        per_half_kw: limit.capacity.as_ref().map(|capacity| capacity.joint_cost_per_half_kw),
    };
    let counted: Vec<Expr> = items
        .iter()
        .map(|one| shared_cost(plan, &shared, one, items).unwrap_or_else(|| qualified(plan, one)))
        .collect();
    plan.line(cost_line, plan.entry(Expr::Sum(counted)), &[]);
    let product = plan.value(LawKey::CleanRate).times(plan.at(cost_line));
    plan.line(limit.product, plan.entry(product), &[]);
    let mut least = vec![plan.at(limit.product)];
    if let Some(capacity) = &limit.capacity {
        let paid_for = kilowatts(items, |one| qualified(plan, one));
        plan.line(capacity.kilowatts, paid_for, &[]);
        let cap = plan.value(capacity.cap_per_kw).times(plan.at(capacity.kilowatts));
        plan.line(capacity.cap_line, plan.entry(cap), &[Rule::FuelCellHalfKilowatt]);
        least.push(plan.at(capacity.cap_line));
    }
    plan.line(limit.cap_line, plan.value(cap), &[Rule::LimitsKinds]);
    least.push(plan.at(limit.cap_line));
    plan.line(limit.credit, Expr::Smaller(least), &[]);
}

/// The ceiling of what all joint occupants of a home may count together for a kind of property: its lines, its rule,
/// and what it comes to. Where both amounts are given, the smaller.
struct Shared {
    ceiling_line: Line,
    cost_line: Line,
    rule: Rule,
    most: Option<LawKey>,
    per_half_kw: Option<LawKey>,
}

/// Plans what counts of an item where others than the client paid toward property of its kind in the same home; none
/// where nobody else did.
///
/// All occupants together may count no more than the home's ceiling for the kind and the year, and each the own share
/// of it by payments (26 U.S.C. 25D(e)(4)). The ceiling is one for all items of the kind in the home: each item takes
/// the part of it that was paid for it. The part is not rounded here: an amount is rounded once, where it enters the
/// official line (26 CFR 301.6102-1).
fn shared_cost(
    plan: &mut Plan<'_>,
    shared: &Shared,
    one: &Planned<'_>,
    items: &[Planned<'_>],
) -> Option<Expr> {
    let key = &one.item.key.value;
    let of_home: Vec<Planned<'_>> =
        items.iter().filter(|other| other.home.key.value == one.home.key.value).cloned().collect();
    if !is_joint(&of_home) {
        return None;
    }
    let by_capacity = shared.per_half_kw.map(|per| {
        let kilowatts = kilowatts(&of_home, |one| all_owners(plan, one));
        plan.value(per).times(Expr::Number(2, "half kilowatts")).times(kilowatts)
    });
    let ceiling = match (shared.most.map(|most| plan.value(most)), by_capacity) {
        (Some(most), Some(by_capacity)) => most.or_smaller(by_capacity),
        (most, by_capacity) => most.or(by_capacity)?,
    };
    let about = Some(super::purchase::item_words(one.item));
    plan.row(shared.ceiling_line, Subject::Item(key.clone()), about.clone(), ceiling, &[shared.rule]);
    let ceiling = Expr::Figure(Place::of_item(plan.year, shared.ceiling_line, key));
    let all = Expr::Sum(of_home.iter().map(|other| all_owners(plan, other)).collect());
    let own = qualified(plan, one);
    let ruling = counts("the home's cost ceiling is shared by payments", plan.authority(shared.rule));
    let counted = own.clone().or_smaller(ceiling.share(own, all)).ruled(ruling);
    plan.row(shared.cost_line, Subject::Item(key.clone()), about, counted, &[shared.rule]);
    Some(Expr::Figure(Place::of_item(plan.year, shared.cost_line, key)))
}

/// Returns what all owners paid for an item.
fn all_owners(plan: &Plan<'_>, one: &Planned<'_>) -> Expr {
    let line = if paid_with_others(one) { line::ITEM_ALL_OWNERS } else { line::ITEM_QUALIFIED };
    Expr::Figure(Place::of_item(plan.year, line, &one.item.key.value))
}

/// Returns the qualified cost of an item.
fn qualified(plan: &Plan<'_>, one: &Planned<'_>) -> Expr {
    Expr::Figure(Place::of_item(plan.year, line::ITEM_QUALIFIED, &one.item.key.value))
}

/// Returns the kilowatts of some items together. Form and law speak of the capacity of what was paid for: of several
/// items, one that cost nothing adds none to the limit of the others.
fn kilowatts(items: &[Planned<'_>], cost: impl Fn(&Planned<'_>) -> Expr) -> Expr {
    let several = items.len() > 1;
    let capacities = items.iter().filter_map(|one| {
        let capacity = one.item.capacity_kw.as_ref()?;
        let value = Value::Quantity(capacity.value);
        let fact = Expr::Fact(item_fact(one.item, "capacity_kw", capacity.span, value));
        if !several {
            return Some(fact);
        }
        Some(Expr::Passing {
            amount: Box::new(cost(one)),
            limit: Box::new(Expr::Number(0, "dollars")),
            above: Box::new(fact),
            otherwise: Box::new(Expr::Number(0, "kilowatts")),
        })
    });
    Expr::Sum(capacities.collect())
}

/// Plans the address of the homes served.
pub(in crate::credit) fn address(plan: &mut Plan<'_>) {
    let items: Vec<Planned<'_>> = KINDS.iter().flat_map(|one| plan.counting(THIS, one.kind)).collect();
    if items.is_empty() {
        return;
    }
    let from: Vec<CaseRef> = items.iter().map(|one| kind_fact(one.item)).collect();
    answer(plan, line::CLEAN_ADDRESS, addresses(&items), "the homes of the case".to_string(), from, &[]);
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
pub(in crate::credit) fn fuel_cells(plan: &mut Plan<'_>) {
    let items = plan.counting(THIS, Kind::FuelCell);
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
        let shared = is_joint(&items);
        let because = "from `paid_by_others` of the fuel cell".to_string();
        answer(plan, line::FUEL_CELL_JOINT, Value::YesNo(shared), because, any, &[Rule::JointFuelCell]);
    }
    let shared = Shared {
        ceiling_line: line::FUEL_CELL_JOINT_CEILING,
        cost_line: line::FUEL_CELL_ALLOCATED,
        rule: Rule::JointFuelCell,
        most: None,
        per_half_kw: Some(LawKey::FuelCellJointCostPerHalfKw),
    };
    for one in &items {
        if shared_cost(plan, &shared, one, &items).is_none() {
            let of = Subject::Item(one.item.key.value.clone());
            let about = Some(super::purchase::item_words(one.item));
            plan.row(line::FUEL_CELL_ALLOCATED, of, about, qualified(plan, one), &[]);
        }
    }
    let cost = plan.sum_over(line::FUEL_CELL_ALLOCATED, &items);
    plan.line(line::FUEL_CELL_COST, plan.entry(cost), &[]);
    let product = plan.value(LawKey::CleanRate).times(plan.at(line::FUEL_CELL_COST));
    plan.line(line::FUEL_CELL_RATE_TIMES_COST, plan.entry(product), &[]);
    let paid_for = kilowatts(&items, |one| qualified(plan, one));
    plan.line(line::FUEL_CELL_KILOWATTS, paid_for, &[]);
    let cap = plan.value(LawKey::FuelCellCapPerKw).times(plan.at(line::FUEL_CELL_KILOWATTS));
    plan.line(line::FUEL_CELL_CAP, plan.entry(cap), &[]);
    let credit = plan.at(line::FUEL_CELL_RATE_TIMES_COST).or_smaller(plan.at(line::FUEL_CELL_CAP));
    plan.line(line::FUEL_CELL_CREDIT, credit, &[]);
    fuel_cell_each(plan, &items);
}

/// Plans the credit of several fuel cells with the limit held against each by itself, as the law has it from 2009 on:
/// there the limit of an expenditure is that of the property it was made for (26 U.S.C. 25D(b)(1)), while the form has
/// one line for the cost of all and one for their kilowatts.
fn fuel_cell_each(plan: &mut Plan<'_>, items: &[Planned<'_>]) {
    if items.len() < 2 || !plan.year_law.rules.contains_key(&FORM_OR_STATUTE) {
        return;
    }
    let each = items.iter().map(|one| {
        let counted = Expr::Figure(Place::of_item(plan.year, line::FUEL_CELL_ALLOCATED, &one.item.key.value));
        let cap = plan
            .value(LawKey::FuelCellCapPerKw)
            .times(kilowatts(std::slice::from_ref(one), |_| Expr::nothing()));
        plan.value(LawKey::CleanRate).times(counted).or_smaller(cap)
    });
    let sum = plan.entry(Expr::Sum(each.collect()));
    plan.line(line::FUEL_CELL_CREDIT_EACH, sum, &[FORM_OR_STATUTE]);
}

/// The rule of the year that says where form and law differ on several fuel cells.
const FORM_OR_STATUTE: Rule = Rule::FormOrStatuteFuelCells;
