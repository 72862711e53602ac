//! Lines 300 of 2023 to 2025: the energy efficient home improvement credit (IRC 25C), in the order of the form.
//!
//! Comes in: the year's items with their qualified costs. Goes out: steps up to the credit before the tax limit, a
//! function for each that the law can name. The lines of 2006 to 2022 are in `until_2022`.

use super::form::{addresses, all_costs, answer, is_joint, kind_fact, own_costs, several_on_one_line};
use super::{Plan, Planned, item_fact};
use crate::case::Kind;
use crate::credit::codes;
use crate::credit::evaluate::expression::{CaseRef, Expr, Pick, Value};
use crate::credit::evaluate::line::{self, Line, Place, Subject};
use crate::law::{Class, Credit, Group, LawKey, Rule};

/// The credit whose form this is.
const THIS: Credit = Credit::Improvement;

/// One capped category with rows for its costliest items: its lines, kind and cap.
struct Category {
    kind: Kind,
    /// Cost in the costliest rows, their codes, and the rest: only on forms that have such rows.
    top: Line,
    code: Line,
    other: Line,
    cost: Line,
    /// The credit after the limit that reaches the kind; none for kinds that share their group's limit only.
    credit: Option<Line>,
}

const WINDOWS: Category = Category {
    kind: Kind::WindowOrSkylight,
    top: line::WINDOW_TOP_COST,
    code: line::WINDOW_TOP_CODE,
    other: line::WINDOW_OTHER_COST,
    cost: line::WINDOW_COST,
    credit: Some(line::WINDOW_CREDIT),
};

const ENERGY_PROPERTY: [Category; 3] = [
    Category {
        kind: Kind::CentralAirConditioner,
        top: line::AIR_CONDITIONER_TOP_COST,
        code: line::AIR_CONDITIONER_CODE,
        other: line::AIR_CONDITIONER_OTHER_COST,
        cost: line::AIR_CONDITIONER_COST,
        credit: Some(line::AIR_CONDITIONER_CREDIT),
    },
    Category {
        kind: Kind::FuelWaterHeater,
        top: line::FUEL_WATER_HEATER_TOP_COST,
        code: line::FUEL_WATER_HEATER_CODE,
        other: line::FUEL_WATER_HEATER_OTHER_COST,
        cost: line::FUEL_WATER_HEATER_COST,
        credit: Some(line::FUEL_WATER_HEATER_CREDIT),
    },
    Category {
        kind: Kind::FurnaceOrBoiler,
        top: line::FURNACE_TOP_COST,
        code: line::FURNACE_CODE,
        other: line::FURNACE_OTHER_COST,
        cost: line::FURNACE_COST,
        credit: Some(line::FURNACE_CREDIT),
    },
];

const HEAT_PUMPS: [Category; 3] = [
    Category {
        kind: Kind::HeatPump,
        top: line::HEAT_PUMP_TOP_COST,
        code: line::HEAT_PUMP_CODE,
        other: line::HEAT_PUMP_OTHER_COST,
        cost: line::HEAT_PUMP_COST,
        credit: None,
    },
    Category {
        kind: Kind::HeatPumpWaterHeater,
        top: line::HEAT_PUMP_WATER_HEATER_TOP_COST,
        code: line::HEAT_PUMP_WATER_HEATER_CODE,
        other: line::HEAT_PUMP_WATER_HEATER_OTHER_COST,
        cost: line::HEAT_PUMP_WATER_HEATER_COST,
        credit: None,
    },
    Category {
        kind: Kind::BiomassStoveOrBoiler,
        top: line::BIOMASS_TOP_COST,
        code: line::BIOMASS_CODE,
        other: line::BIOMASS_OTHER_COST,
        cost: line::BIOMASS_COST,
        credit: None,
    },
];

/// Plans the credit before the tax limit: what the limits of the year leave, of those that the year has.
pub(in crate::credit) fn total(plan: &mut Plan<'_>) {
    let parts = plan.planned(&[line::GENERAL_CREDIT, line::HEAT_PUMP_GROUP_CREDIT]);
    plan.line(line::IMPROVEMENT_BEFORE_LIMIT, Expr::Sum(parts), &[]);
}

/// Asks where a couple with two main homes files jointly: the law sets its limits for each taxpayer, and how the
/// forms of 2023 to 2025 carry a second home is not known. One set of limits is the cautious reading.
pub(in crate::credit) fn two_main_homes(plan: &mut Plan<'_>) {
    let Some(separate) = plan.tax_return.and_then(|one| one.separate_main_homes.as_ref()) else { return };
    let counts = plan.items.iter().any(|one| one.counts_for(THIS));
    if separate.value && counts {
        plan.findings.push(
            codes::TWO_MAIN_HOMES.finding(
                format!("how are the limits of {} to be applied to the two main homes of this couple?", plan.year),
            )
            .at(separate.span)
            .about(format!("returns.{}.separate_main_homes", plan.year))
            .given([plan.year])
            .help(
                "one set of limits is applied to the return, which is the cautious reading; see the instructions of Form 5695 for married \
                 taxpayers with more than one home",
            )
            .under(plan.authority(Rule::SeparateMainHomes).join("; ")),
        );
    }
}

pub(in crate::credit) fn insulation(plan: &mut Plan<'_>) {
    let items = plan.counting(THIS, Kind::InsulationOrAirSealing);
    plan.line(line::INSULATION_COST, plan.entry(plan.sum_over(line::ITEM_QUALIFIED, &items)), &[]);
    let kind = Kind::InsulationOrAirSealing;
    credit(plan, line::INSULATION_COST, line::INSULATION_CREDIT, plan.year_law.limit_of(kind), &items);
}

pub(in crate::credit) fn doors(plan: &mut Plan<'_>) {
    let items = plan.counting(THIS, Kind::ExteriorDoor);
    let rows = unit_rows(plan, line::UNIT_QUALIFIED, &items);
    let by = price_order(&rows);
    let codes = unit_codes(&items);
    let form_rows = plan.year_law.form_rows.get(&Kind::ExteriorDoor).copied().unwrap_or(1);
    let with_codes = form_rows > 1;
    let pick = |pick| Expr::Rows { rows: rows.clone(), by: by.clone(), pick };

    plan.line(line::DOOR_TOP_COST, plan.entry(pick(Pick::Nth(1))), &[]);
    if with_codes && !rows.is_empty() {
        let code = Expr::WordsOfRow { rows: rows.clone(), by: by.clone(), words: codes.clone(), nth: 1 };
        plan.line(line::DOOR_TOP_CODE, code, &[Rule::MakerCode]);
    }
    let rate = plan.value(LawKey::ImprovementRate);
    let joint = is_joint(&items).then(|| JointDoors::plan(plan, &items, &rows, &by));
    let cap = match &joint {
        Some(joint) => joint.top_cap(plan),
        None => plan.value(LawKey::DoorCapEach),
    };
    let product = plan.entry(rate.clone().times(plan.at(line::DOOR_TOP_COST)));
    plan.line(line::DOOR_TOP_CREDIT, product.or_smaller(cap), &[]);

    if with_codes {
        let mut parts = Vec::new();
        for rank in 1..form_rows {
            let of = Subject::Rank(rank);
            plan.row(line::DOOR_NEXT_COST, of.clone(), None, plan.entry(pick(Pick::Nth(rank + 1))), &[]);
            parts.push(pick(Pick::Nth(rank + 1)));
            if usize::from(rank) < rows.len() {
                let code = Expr::WordsOfRow {
                    rows: rows.clone(),
                    by: by.clone(),
                    words: codes.clone(),
                    nth: rank + 1,
                };
                plan.row(line::DOOR_NEXT_CODE, of, None, code, &[Rule::MakerCode]);
            }
        }
        plan.line(line::DOOR_NEXT_COST, plan.entry(Expr::Sum(parts)), &[]);
        plan.line(line::DOOR_REST_COST, plan.entry(pick(Pick::After(form_rows))), &[]);
        let sum = Expr::Sum(vec![plan.at(line::DOOR_NEXT_COST), plan.at(line::DOOR_REST_COST)]);
        plan.line(line::DOOR_OTHER_COST, sum, &[]);
    } else {
        plan.line(line::DOOR_OTHER_COST, plan.entry(pick(Pick::After(1))), &[]);
    }
    let mut other = plan.entry(rate.times(plan.at(line::DOOR_OTHER_COST)));
    if let Some(joint) = &joint {
        other = other.or_smaller(joint.other_cap(plan));
    }
    plan.line(line::DOOR_OTHER_CREDIT, other, &joint_rule(&items));
    let sum = Expr::Sum(vec![plan.at(line::DOOR_TOP_CREDIT), plan.at(line::DOOR_OTHER_CREDIT)]);
    plan.line(line::DOOR_CREDIT, sum.or_smaller(plan.value(LawKey::DoorCapAll)), &[]);
}

/// The limits of doors that joint occupants paid for together.
///
/// The IRS clarification to the 2023 instructions names the lines of the costliest door and of the others without
/// giving the second limit; what the costliest door leaves of the limit for all doors is taken (inference).
struct JointDoors {
    own: Vec<Place>,
    owners: Vec<Place>,
    by: Vec<Place>,
}

impl JointDoors {
    fn plan(plan: &mut Plan<'_>, items: &[Planned<'_>], rows: &[Place], by: &[Place]) -> JointDoors {
        JointDoors { own: rows.to_vec(), owners: door_owner_rows(plan, items), by: by.to_vec() }
    }

    /// Returns the doors whose rows are planned already.
    fn of(plan: &Plan<'_>, items: &[Planned<'_>]) -> JointDoors {
        let own = unit_rows(plan, line::UNIT_QUALIFIED, items);
        let by = price_order(&own);
        JointDoors { own, owners: unit_rows(plan, line::UNIT_ALL_OWNERS, items), by }
    }

    fn own(&self, pick: Pick) -> Expr {
        Expr::Rows { rows: self.own.clone(), by: self.by.clone(), pick }
    }

    fn all(&self, pick: Pick) -> Expr {
        Expr::Rows { rows: self.owners.clone(), by: self.by.clone(), pick }
    }

    fn top_cap(&self, plan: &Plan<'_>) -> Expr {
        let cap = plan.value(LawKey::DoorCapEach);
        plan.entry(cap.share(self.own(Pick::Nth(1)), self.all(Pick::Nth(1))))
    }

    fn other_cap(&self, plan: &Plan<'_>) -> Expr {
        let top = plan.value(LawKey::ImprovementRate).times(self.all(Pick::Nth(1)));
        let left = plan.value(LawKey::DoorCapAll).less(plan.value(LawKey::DoorCapEach).or_smaller(top));
        plan.entry(left.share(self.own(Pick::After(1)), self.all(Pick::After(1))))
    }
}

/// Plans the cost to all owners of each door, and returns the rows.
fn door_owner_rows(plan: &mut Plan<'_>, items: &[Planned<'_>]) -> Vec<Place> {
    for one in items {
        let key = &one.item.key.value;
        let count = one.item.units.value.max(1);
        let all_owners = one.item.paid_by_others.is_some();
        for n in 1..=count {
            let own = Expr::Figure(Place {
                year: plan.year,
                line: line::UNIT_QUALIFIED,
                of: Subject::Unit(key.clone(), n),
            });
            let expr = if all_owners {
                let others = Expr::Figure(Place::of_item(plan.year, line::ITEM_OTHERS, key));
                let one_unit = others.share(Expr::Number(1, "unit"), Expr::Number(u32::from(count), "units"));
                Expr::Sum(vec![own, one_unit])
            } else {
                own
            };
            plan.row(
                line::UNIT_ALL_OWNERS,
                Subject::Unit(key.clone(), n),
                Some(format!("{key}, unit {n} of {count}")),
                expr,
                &[],
            );
        }
    }
    unit_rows(plan, line::UNIT_ALL_OWNERS, items)
}

/// Plans windows and skylights.
pub(in crate::credit) fn windows(plan: &mut Plan<'_>) {
    category(plan, &WINDOWS);
}

/// Plans each kind of energy property.
pub(in crate::credit) fn energy_property(plan: &mut Plan<'_>) {
    ENERGY_PROPERTY.iter().for_each(|one| category(plan, one));
}

/// Plans a category's costs and, where its cap is its own, its credit.
fn category(plan: &mut Plan<'_>, category: &Category) {
    let items = plan.counting(THIS, category.kind);
    match plan.year_law.form_rows.get(&category.kind).copied() {
        Some(form_rows) => {
            let rows = unit_rows(plan, line::UNIT_QUALIFIED, &items);
            let by = price_order(&rows);
            let codes = unit_codes(&items);
            let pick = |pick| Expr::Rows { rows: rows.clone(), by: by.clone(), pick };
            if form_rows == 1 {
                plan.line(category.top, plan.entry(pick(Pick::Nth(1))), &[]);
                if !rows.is_empty() {
                    let code = Expr::WordsOfRow { rows: rows.clone(), by: by.clone(), words: codes, nth: 1 };
                    plan.line(category.code, code, &[Rule::MakerCode]);
                }
            } else {
                let mut parts = Vec::new();
                for rank in 1..=form_rows {
                    let of = Subject::Rank(rank);
                    plan.row(category.top, of.clone(), None, plan.entry(pick(Pick::Nth(rank))), &[]);
                    parts.push(pick(Pick::Nth(rank)));
                    if usize::from(rank) <= rows.len() {
                        let code = Expr::WordsOfRow {
                            rows: rows.clone(),
                            by: by.clone(),
                            words: codes.clone(),
                            nth: rank,
                        };
                        plan.row(category.code, of, None, code, &[Rule::MakerCode]);
                    }
                }
                plan.line(category.top, plan.entry(Expr::Sum(parts)), &[]);
            }
            plan.line(category.other, plan.entry(pick(Pick::After(form_rows))), &[]);
            let sum = Expr::Sum(vec![plan.at(category.top), plan.at(category.other)]);
            plan.line(category.cost, sum, &[]);
        }
        None => {
            plan.line(category.cost, plan.entry(plan.sum_over(line::ITEM_QUALIFIED, &items)), &[]);
        }
    }
    if let Some(line) = category.credit {
        credit(plan, category.cost, line, plan.year_law.limit_of(category.kind), &items);
        if category.kind != Kind::WindowOrSkylight {
            several_on_one_line(plan, &format!("the kind {}", category.kind.label()), &items);
        }
    }
}

pub(in crate::credit) fn enabling(plan: &mut Plan<'_>) {
    let items = plan.counting(THIS, Kind::EnablingProperty);
    if let Some(rows) = plan.year_law.form_rows.get(&Kind::EnablingProperty).copied() {
        let from: Vec<CaseRef> = items.iter().map(|one| kind_fact(one.item)).collect();
        let because = match items.is_empty() {
            true => "no enabling property counts".to_string(),
            false => "each item names what it made possible, installed in the same year".to_string(),
        };
        answer(
            plan,
            line::ENABLING_QUESTION,
            Value::YesNo(!items.is_empty()),
            because,
            from.clone(),
            &[Rule::Enabling],
        );
        if !items.is_empty() {
            let mut kinds: Vec<&str> = items
                .iter()
                .flat_map(|one| &one.item.enables)
                .filter_map(|key| plan.case.item(&key.value))
                .map(|other| other.kind.value.label())
                .collect();
            kinds.sort_unstable();
            kinds.dedup();
            let words = Value::Text(kinds.join("; "));
            answer(plan, line::ENABLING_KINDS, words, "from the items it enables".to_string(), from, &[]);
            let rows_of = unit_rows(plan, line::UNIT_QUALIFIED, &items);
            let by = price_order(&rows_of);
            let codes = unit_codes(&items);
            for rank in (1..=rows).take(rows_of.len()) {
                let code = Expr::WordsOfRow {
                    rows: rows_of.clone(),
                    by: by.clone(),
                    words: codes.clone(),
                    nth: rank,
                };
                plan.row(line::ENABLING_CODE, Subject::Rank(rank), None, code, &[Rule::MakerCode]);
            }
        }
    }
    plan.line(line::ENABLING_COST, plan.entry(plan.sum_over(line::ITEM_QUALIFIED, &items)), &[]);
    let cap = plan.year_law.limit_of(Kind::EnablingProperty);
    credit(plan, line::ENABLING_COST, line::ENABLING_CREDIT, cap, &items);
}

pub(in crate::credit) fn audit(plan: &mut Plan<'_>) {
    let items = plan.counting(THIS, Kind::HomeEnergyAudit);
    let from = items.iter().map(|one| kind_fact(one.item)).collect();
    let because = if items.is_empty() { "no audit counts" } else { "the case has an audit of the main home" };
    answer(
        plan,
        line::AUDIT_QUESTION,
        Value::YesNo(!items.is_empty()),
        because.to_string(),
        from,
        &[Rule::AuditYearPaid],
    );
    plan.line(line::AUDIT_COST, plan.entry(plan.sum_over(line::ITEM_QUALIFIED, &items)), &[]);
    let cap = plan.year_law.limit_of(Kind::HomeEnergyAudit);
    credit(plan, line::AUDIT_COST, line::AUDIT_CREDIT, cap, &items);
}

/// The lines whose costs the general yearly limit covers, and the lines of their credits.
const GENERAL_CREDITS: [Line; 8] = [
    line::INSULATION_CREDIT,
    line::DOOR_CREDIT,
    line::WINDOW_CREDIT,
    line::AIR_CONDITIONER_CREDIT,
    line::FUEL_WATER_HEATER_CREDIT,
    line::FURNACE_CREDIT,
    line::ENABLING_CREDIT,
    line::AUDIT_CREDIT,
];

/// The yearly limit over the general items. Where joint occupants paid for some of them and this return's own
/// items pass the limit, the limit is shared by payments (IRS clarification to the 2023 instructions). What all owners
/// come to stands beside it, and where only that passes the limit it is asked about.
pub(in crate::credit) fn general(plan: &mut Plan<'_>) {
    let parts = plan.planned(&GENERAL_CREDITS);
    plan.line(line::GENERAL_BEFORE_CAP, Expr::Sum(parts), &[]);
    let before = plan.at(line::GENERAL_BEFORE_CAP);
    let cap = plan.value(LawKey::GeneralCap);
    let items: Vec<Planned<'_>> = plan
        .items
        .iter()
        .filter(|one| one.counts_for(THIS))
        .filter(|one| one.kind_law.is_some_and(|law| law.group == Group::General))
        .cloned()
        .collect();
    if !is_joint(&items) {
        plan.line(line::GENERAL_CREDIT, before.or_smaller(cap), &[]);
        return;
    }
    let of_all = of_all_owners(plan);
    plan.line(line::OWNERS_GENERAL_BEFORE_CAP, of_all, &[Rule::JointImprovement]);
    let share = plan.entry(cap.clone().share(own_costs(plan, &items), all_costs(plan, &items)));
    let expr = Expr::Passing {
        amount: Box::new(before.clone()),
        limit: Box::new(cap),
        above: Box::new(share),
        otherwise: Box::new(before),
    };
    plan.line(line::GENERAL_CREDIT, expr, &[Rule::JointImprovement]);
}

/// Figures what all owners' items under the yearly limit come to before it: of items that others paid for too, the credit
/// on what all paid, up to the item's limit, which they share; of the rest this return's own credit.
fn of_all_owners(plan: &Plan<'_>) -> Expr {
    let rate = plan.value(LawKey::ImprovementRate);
    let of_kind = |kind: Kind, own: Line| {
        let items = plan.counting(THIS, kind);
        if !is_joint(&items) {
            return plan.at(own);
        }
        let all = rate.clone().times(all_costs(plan, &items));
        plan.entry(match plan.year_law.limit_of(kind) {
            Some(cap) => all.or_smaller(plan.value(cap)),
            None => all,
        })
    };
    let mut parts = vec![of_kind(Kind::InsulationOrAirSealing, line::INSULATION_CREDIT)];
    let doors = plan.counting(THIS, Kind::ExteriorDoor);
    parts.push(match is_joint(&doors) {
        true => {
            let owners = JointDoors::of(plan, &doors);
            let top =
                rate.clone().times(owners.all(Pick::Nth(1))).or_smaller(plan.value(LawKey::DoorCapEach));
            let other = rate.clone().times(owners.all(Pick::After(1)));
            plan.entry(Expr::Sum(vec![top, other]).or_smaller(plan.value(LawKey::DoorCapAll)))
        }
        false => plan.at(line::DOOR_CREDIT),
    });
    for category in std::iter::once(&WINDOWS).chain(&ENERGY_PROPERTY) {
        if let Some(own) = category.credit {
            parts.push(of_kind(category.kind, own));
        }
    }
    parts.push(of_kind(Kind::EnablingProperty, line::ENABLING_CREDIT));
    parts.push(of_kind(Kind::HomeEnergyAudit, line::AUDIT_CREDIT));
    Expr::Sum(parts)
}

pub(in crate::credit) fn heat_pumps(plan: &mut Plan<'_>) {
    let mut parts = Vec::new();
    let mut items = Vec::new();
    for one in &HEAT_PUMPS {
        category(plan, one);
        parts.push(plan.at(one.cost));
        items.extend(plan.counting(THIS, one.kind));
    }
    plan.line(line::HEAT_PUMP_GROUP_COST, Expr::Sum(parts), &[]);
    credit(plan, line::HEAT_PUMP_GROUP_COST, line::HEAT_PUMP_GROUP_CREDIT, Some(LawKey::HeatPumpCap), &items);
}

/// Plans a credit: the rate times the cost, at most the cap, where one reaches it, or this return's share of it.
fn credit(plan: &mut Plan<'_>, cost: Line, line: Line, cap: Option<LawKey>, items: &[Planned<'_>]) {
    let product = plan.entry(plan.value(LawKey::ImprovementRate).times(plan.at(cost)));
    let credit = match cap {
        Some(cap) => product.or_smaller(shared_cap(plan, cap, items)),
        None => product,
    };
    plan.line(line, credit, &joint_rule(items));
}

/// Returns a cap, or this return's share of it by payments where joint occupants paid for some of the items.
///
/// The smaller of the own credit and the shared cap is the own credit exactly when all occupants together stay
/// below the cap, so the cap is shared only when all together pass it.
fn shared_cap(plan: &Plan<'_>, key: LawKey, items: &[Planned<'_>]) -> Expr {
    let cap = plan.value(key);
    if !is_joint(items) {
        return cap;
    }
    plan.entry(cap.share(own_costs(plan, items), all_costs(plan, items)))
}

fn joint_rule(items: &[Planned<'_>]) -> Vec<Rule> {
    if is_joint(items) { vec![Rule::JointImprovement] } else { Vec::new() }
}

/// Returns the places of every unit of the items, in case order.
fn unit_rows(plan: &Plan<'_>, line: Line, items: &[Planned<'_>]) -> Vec<Place> {
    let units = items
        .iter()
        .flat_map(|one| (1..=one.item.units.value.max(1)).map(|n| (one.item.key.value.clone(), n)));
    units.map(|(key, n)| Place { year: plan.year, line, of: Subject::Unit(key, n) }).collect()
}

/// Returns the places that give unit rows their order by price: equal units of one item have one price, that of
/// its first unit, even where cents do not divide.
fn price_order(rows: &[Place]) -> Vec<Place> {
    let first = |place: &Place| match &place.of {
        Subject::Unit(key, _) => Place { of: Subject::Unit(key.clone(), 1), ..place.clone() },
        _ => place.clone(),
    };
    rows.iter().map(first).collect()
}

/// Returns the maker's code of every unit of the items: the four-character code, else the first four characters
/// of the product number, which begins with it.
fn unit_codes(items: &[Planned<'_>]) -> Vec<CaseRef> {
    let mut codes = Vec::new();
    for one in items {
        for n in 0..usize::from(one.item.units.value.max(1)) {
            let written = one.item.maker_code.get(n).or(one.item.maker_code.first());
            let pin = one.item.pin.get(n).or(one.item.pin.first());
            let (text, span) = match (written, pin) {
                (Some(code), _) => (code.value.clone(), code.span),
                (None, Some(pin)) => (pin.value.chars().take(4).collect(), pin.span),
                (None, None) => (String::new(), one.item.key.span),
            };
            codes.push(item_fact(one.item, "maker_code", span, Value::Text(text)));
        }
    }
    codes
}

/// The answers of Section A: main home, original user, five years, address, part of building.
pub(in crate::credit) fn envelope_answers(plan: &mut Plan<'_>) {
    let items = plan.counting_class(THIS, Class::Envelope);
    if items.is_empty() {
        return;
    }
    let from: Vec<CaseRef> = items.iter().map(|one| kind_fact(one.item)).collect();
    let yes = |plan: &mut Plan<'_>, line, because: &str| {
        answer(plan, line, Value::YesNo(true), because.to_string(), from.clone(), &[]);
    };
    yes(plan, line::IMPROVEMENT_MAIN_HOME, "the home's use on the day of installation is main home");
    yes(plan, line::IMPROVEMENT_ORIGINAL_USER, "the parts were bought new");
    yes(plan, line::IMPROVEMENT_FIVE_YEARS, "expected of new parts; the preparer confirms it");
    let address = Value::Text(items[0].home.address.one_line());
    answer(plan, line::IMPROVEMENT_ADDRESS, address, "the home of the case".to_string(), from.clone(), &[]);
    let built = plan.items.iter().any(|one| {
        one.kind_law.is_some_and(|law| law.class == Class::Envelope)
            && one.item.part_of.value == crate::case::PartOf::NewHome
    });
    let because = "from `part_of` of each item; parts of building a home are left out".to_string();
    answer(plan, line::IMPROVEMENT_CONSTRUCTION, Value::YesNo(built), because, from, &[]);
}

/// The answers of Section B: a home in the United States, first placed in service, addresses.
pub(in crate::credit) fn energy_property_answers(plan: &mut Plan<'_>) {
    let mut items = plan.counting_class(THIS, Class::EnergyProperty);
    items.extend(plan.counting_class(THIS, Class::Enabling));
    if items.is_empty() {
        return;
    }
    let from: Vec<CaseRef> = items.iter().map(|one| kind_fact(one.item)).collect();
    let because = "the home is in the United States and used as a residence".to_string();
    answer(plan, line::ENERGY_PROPERTY_HOME, Value::YesNo(true), because, from.clone(), &[]);
    let because = "the property was bought new".to_string();
    answer(plan, line::ENERGY_PROPERTY_FIRST_USE, Value::YesNo(true), because, from.clone(), &[]);
    answer(
        plan,
        line::ENERGY_PROPERTY_ADDRESSES,
        addresses(&items),
        "the homes of the case".to_string(),
        from,
        &[],
    );
}

/// The boxes of the end of the form: joint occupants, and condominium or cooperative.
pub(in crate::credit) fn boxes(plan: &mut Plan<'_>) {
    let items: Vec<Planned<'_>> = plan.items.iter().filter(|one| one.counts_for(THIS)).cloned().collect();
    if items.is_empty() {
        return;
    }
    let from: Vec<CaseRef> = items.iter().map(|one| kind_fact(one.item)).collect();
    let because = "from `paid_by_others` of the items".to_string();
    answer(
        plan,
        line::IMPROVEMENT_JOINT,
        Value::YesNo(is_joint(&items)),
        because,
        from.clone(),
        &[Rule::JointImprovement],
    );
    let association = items.iter().any(|one| one.item.association.is_some());
    let because = "from `association` of the items".to_string();
    answer(
        plan,
        line::IMPROVEMENT_ASSOCIATION,
        Value::YesNo(association),
        because,
        from,
        &[Rule::Association],
    );
}
