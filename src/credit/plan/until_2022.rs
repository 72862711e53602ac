//! Lines 300 of 2006 to 2022: the nonbusiness energy property credit, in the order of that time's form.
//!
//! Comes in: the year's items with their qualified costs, and the figures of earlier years. Goes out: steps up to
//! the credit before the tax limit, a function for each that the law can name. Its years figured it in two ways: a rate
//! for the building envelope and cost up to fixed amounts for energy property (2006, 2007, 2011 to 2022), or one rate
//! for all costs (2009, 2010); both with a limit for several years together.

use super::earlier;
use super::form::{addresses, all_costs, answer, is_joint, kind_fact, own_costs, several_on_one_line};
use super::{Plan, Planned};
use crate::case::{Key, Kind, PartOf};
use crate::credit::codes;
use crate::credit::evaluate::Figures;
use crate::credit::evaluate::expression::{CaseRef, Expr, Value};
use crate::credit::evaluate::line::{self, Line, Place, Subject};
use crate::law::{Class, Credit, LawKey, MethodStep, Rule};

/// The credit whose form this is.
const THIS: Credit = Credit::Improvement;

/// The envelope parts without a ceiling of their own: kind and line of cost.
const ENVELOPE: [(Kind, Line); 3] = [
    (Kind::InsulationOrAirSealing, line::INSULATION_COST),
    (Kind::ExteriorDoor, line::DOOR_COST),
    (Kind::Roof, line::ROOF_COST),
];

/// A line of the form for energy property: which items stand on it, their cost, the credit and its limit.
struct EnergyLine {
    label: &'static str,
    holds: fn(Kind) -> bool,
    cost: Line,
    credit: Line,
    cap: LawKey,
}

/// Energy property in the order of the form: what is neither furnace nor fan is energy-efficient building property.
const ENERGY_PROPERTY: [EnergyLine; 3] = [
    EnergyLine {
        label: "energy-efficient building property",
        holds: |kind| !matches!(kind, Kind::FurnaceOrBoiler | Kind::AirCirculatingFan),
        cost: line::BUILDING_PROPERTY_COST,
        credit: line::BUILDING_PROPERTY_CREDIT,
        cap: LawKey::BuildingPropertyCap,
    },
    EnergyLine {
        label: "furnaces and hot water boilers",
        holds: |kind| kind == Kind::FurnaceOrBoiler,
        cost: line::FURNACE_COST,
        credit: line::FURNACE_CREDIT,
        cap: LawKey::FurnaceCap,
    },
    EnergyLine {
        label: "advanced main air circulating fans",
        holds: |kind| kind == Kind::AirCirculatingFan,
        cost: line::FAN_COST,
        credit: line::FAN_CREDIT,
        cap: LawKey::FanCap,
    },
];

/// The rules of the year that these lines rest on.
const JOINT: Rule = Rule::JointImprovement;
const TWO_HOMES: Rule = Rule::SeparateMainHomes;

/// A form, or the part of one that is filled in for one of two homes.
pub(in crate::credit) struct Part<'a> {
    of: Subject,
    about: Option<String>,
    items: Vec<Planned<'a>>,
}

impl<'a> Part<'a> {
    fn kind(&self, kind: Kind) -> Vec<Planned<'a>> {
        self.items.iter().filter(|one| one.item.kind.value == kind).cloned().collect()
    }

    /// Returns the items on a line for energy property: those that its limit reaches, or where the year has no such
    /// limit, those of its kinds.
    fn energy(&self, plan: &Plan<'_>, which: &EnergyLine) -> Vec<Planned<'a>> {
        let holds = |kind: Kind| match plan.year_law.values.get(&which.cap) {
            Some(cap) => cap.reaches.contains(&kind),
            None => (which.holds)(kind),
        };
        let on_it = |one: &&Planned<'a>| {
            one.kind_law.is_some_and(|law| law.class == Class::EnergyProperty) && holds(one.item.kind.value)
        };
        self.items.iter().filter(on_it).cloned().collect()
    }

    fn row(&self, plan: &mut Plan<'_>, line: Line, expr: Expr, rules: &[Rule]) {
        plan.row(line, self.of.clone(), self.about.clone(), expr, rules);
    }

    fn at(&self, plan: &Plan<'_>, line: Line) -> Expr {
        Expr::Figure(Place { year: plan.year, line, of: self.of.clone() })
    }
}

/// Plans the limit for several years together, less what earlier years took of it, and the credit that it leaves.
pub(in crate::credit) fn limit_of_all_years(plan: &mut Plan<'_>, parts: &[Part<'_>], made: &Figures) {
    if let [first, second] = parts {
        let both = Expr::Sum(vec![
            first.at(plan, line::BEFORE_YEARS_LIMIT),
            second.at(plan, line::BEFORE_YEARS_LIMIT),
        ]);
        plan.line(line::BEFORE_YEARS_LIMIT, both, &[TWO_HOMES]);
    }
    years_limit(plan, parts);
    let mut room = plan.at(line::YEARS_LIMIT);
    if plan.year_law.looking_back().is_some() {
        earlier::credits(plan, made);
        let left = plan.at(line::YEARS_LIMIT).less(plan.at(line::EARLIER_CREDITS)).not_below_zero();
        plan.line(line::YEARS_ROOM, left, &[Rule::LifetimeCredits]);
        room = plan.at(line::YEARS_ROOM);
    }
    let before = plan.at(line::BEFORE_YEARS_LIMIT).or_smaller(room);
    plan.line(line::IMPROVEMENT_BEFORE_LIMIT, before, &[Rule::LifetimeCredits]);
}

/// Returns the form's parts: one, or one for each home of a couple with two main homes.
pub(in crate::credit) fn parts<'a>(plan: &mut Plan<'a>) -> Vec<Part<'a>> {
    let counting = |one: &&Planned<'a>| one.counts_for(THIS);
    let items: Vec<Planned<'a>> = plan.items.iter().filter(counting).cloned().collect();
    let mut homes: Vec<Key> = Vec::new();
    for one in &items {
        if !homes.contains(&one.home.key.value) {
            homes.push(one.home.key.value.clone());
        }
    }
    let whole = || vec![Part { of: Subject::Return, about: None, items: items.clone() }];
    let separate = plan.tax_return.and_then(|one| one.separate_main_homes.as_ref()).filter(|one| one.value);
    let Some(separate) = separate.filter(|_| !homes.is_empty()) else { return whole() };
    let authority = plan.authority(TWO_HOMES).join("; ");
    let year = plan.year;
    let finding = match homes.len() {
        1 => codes::TWO_MAIN_HOMES.finding(
            format!("only one of the two main homes of this couple has work of {year}; whose limit does it use?"),
        )
        .about(format!("returns.{year}.separate_main_homes"))
        .given([year.to_string(), homes[0].to_string()])
        .help("one limit is applied to the return, less all earlier credits of both, which is the cautious reading"),
        2 => codes::FORM_FOR_EACH_HOME.finding(
            format!("two main homes on one joint return: the form is filled in for each home and both are filed together for {year}"),
        )
        .help("write \"More than one main home\" beside the limit of the form on which the two are added up, and attach both forms"),
        many => codes::THREE_MAIN_HOMES.finding(
            format!("a couple has at most two main homes, and work of {year} stands at {many} homes"),
        )
        .help("correct `home:` of the items, or `use:` of the homes with the days on which the main home changed"),
    };
    plan.findings.push(finding.at(separate.span).under(authority));
    if homes.len() != 2 {
        return whole();
    }
    if is_joint(&items) {
        plan.findings.push(
            codes::TWO_HOMES_AND_JOINT_OWNERS.finding(
                format!(
                    "how other owners share the limit of {year} with a couple that has two main homes is written nowhere, so it is not computed"
                ),
            )
            .at(separate.span)
            .help("work out the two forms by the year's instructions, and keep this case without `paid_by_others` or without `separate_main_homes`")
            .under(plan.authority(JOINT).join("; ")),
        );
    }
    let of_home = |home: &Key| Part {
        of: Subject::Home(home.clone()),
        about: Some(home.to_string()),
        items: items.iter().filter(|one| one.home.key.value == *home).cloned().collect(),
    };
    homes.iter().map(of_home).collect()
}

/// Plans the cost of insulation, doors and roofs.
pub(in crate::credit) fn envelope_cost(plan: &mut Plan<'_>, part: &Part<'_>) {
    for (kind, line) in ENVELOPE {
        let items = part.kind(kind);
        part.row(plan, line, plan.entry(plan.sum_over(line::ITEM_QUALIFIED, &items)), &[]);
    }
}

/// Plans the rate of what counts of the building envelope.
pub(in crate::credit) fn envelope_rate(plan: &mut Plan<'_>, part: &Part<'_>) {
    let mut costs: Vec<Expr> = ENVELOPE.iter().map(|(_, line)| part.at(plan, *line)).collect();
    costs.push(part.at(plan, line::WINDOW_COUNTED));
    part.row(plan, line::ENVELOPE_COST, Expr::Sum(costs), &[]);
    let product = plan.value(LawKey::ImprovementRate).times(part.at(plan, line::ENVELOPE_COST));
    part.row(plan, line::ENVELOPE_CREDIT, plan.entry(product), &[]);
}

/// Plans energy property, which counts with its cost up to fixed amounts.
pub(in crate::credit) fn energy_property_amounts(plan: &mut Plan<'_>, part: &Part<'_>) {
    let mut credits = Vec::new();
    for which in &ENERGY_PROPERTY {
        let items = part.energy(plan, which);
        part.row(plan, which.cost, plan.entry(plan.sum_over(line::ITEM_QUALIFIED, &items)), &[]);
        let credit = part.at(plan, which.cost).or_smaller(ceiling(plan, which.cap, &items));
        part.row(plan, which.credit, credit, joint_rule(&items));
        credits.push(part.at(plan, which.credit));
        several_on_one_line(plan, which.label, &items);
    }
    part.row(plan, line::ENERGY_PROPERTY_CREDIT, Expr::Sum(credits), &[]);
}

/// Plans the rate of the envelope and the amounts for energy property together.
pub(in crate::credit) fn amounts_total(plan: &mut Plan<'_>, part: &Part<'_>) {
    let both =
        Expr::Sum(vec![part.at(plan, line::ENVELOPE_CREDIT), part.at(plan, line::ENERGY_PROPERTY_CREDIT)]);
    before_years_limit(plan, part, both);
}

/// Plans the cost of windows and energy property, and of everything.
pub(in crate::credit) fn cost_of_all(plan: &mut Plan<'_>, part: &Part<'_>) {
    let mut costs: Vec<Expr> = ENVELOPE.iter().map(|(_, line)| part.at(plan, *line)).collect();
    let windows = part.kind(Kind::WindowOrSkylight);
    part.row(plan, line::WINDOW_COST, plan.entry(plan.sum_over(line::ITEM_QUALIFIED, &windows)), &[]);
    costs.push(part.at(plan, line::WINDOW_COST));
    for which in &ENERGY_PROPERTY {
        let items = part.energy(plan, which);
        part.row(plan, which.cost, plan.entry(plan.sum_over(line::ITEM_QUALIFIED, &items)), &[]);
        costs.push(part.at(plan, which.cost));
    }
    part.row(plan, line::IMPROVEMENT_COST, Expr::Sum(costs), &[]);
}

/// Plans one rate for the cost of everything.
pub(in crate::credit) fn rate_of_all(plan: &mut Plan<'_>, part: &Part<'_>) {
    let product = plan.value(LawKey::ImprovementRate).times(part.at(plan, line::IMPROVEMENT_COST));
    let product = plan.entry(product);
    before_years_limit(plan, part, product);
}

/// Plans the credit before the limit for all years; of one of two homes it is at most one limit.
fn before_years_limit(plan: &mut Plan<'_>, part: &Part<'_>, credit: Expr) {
    let (credit, rules): (Expr, &[Rule]) = match part.of {
        Subject::Home(_) => (credit.or_smaller(plan.value(LawKey::AllYearsCap)), &[TWO_HOMES]),
        _ => (credit, &[]),
    };
    part.row(plan, line::BEFORE_YEARS_LIMIT, credit, rules);
}

/// Plans the window cost and what earlier years leave of its ceiling.
pub(in crate::credit) fn windows(plan: &mut Plan<'_>, part: &Part<'_>) {
    let items = part.kind(Kind::WindowOrSkylight);
    let own = plan.sum_over(line::ITEM_QUALIFIED, &items);
    let cost = match is_joint(&items) {
        true => own.or_smaller(shared(plan, LawKey::WindowCostCap, &items)),
        false => own,
    };
    part.row(plan, line::WINDOW_COST, plan.entry(cost), joint_rule(&items));
    part.row(plan, line::WINDOW_CEILING, plan.value(LawKey::WindowCostCap), &[]);
    let left = part.at(plan, line::WINDOW_CEILING).less(plan.at(line::EARLIER_WINDOW_COSTS)).not_below_zero();
    part.row(plan, line::WINDOW_ROOM, left, &[Rule::LifetimeWindows]);
    let counted = part.at(plan, line::WINDOW_COST).or_smaller(part.at(plan, line::WINDOW_ROOM));
    part.row(plan, line::WINDOW_COUNTED, counted, &[Rule::LifetimeWindows]);
}

/// Plans the limit for all years together: as the law has it, twice for two main homes, or this owner's share.
fn years_limit(plan: &mut Plan<'_>, parts: &[Part<'_>]) {
    let cap = plan.value(LawKey::AllYearsCap);
    let [part] = parts else {
        let homes = Expr::Number(parts.len() as u32, "homes");
        plan.line(line::YEARS_LIMIT, cap.times(homes), &[TWO_HOMES]);
        return;
    };
    if !is_joint(&part.items) {
        plan.line(line::YEARS_LIMIT, cap, &[Rule::LifetimeCredits]);
        return;
    }
    let all = Expr::Sum(vec![plan.at(line::BEFORE_YEARS_LIMIT), of_others(plan, part)]);
    plan.line(line::OWNERS_BEFORE_YEARS_LIMIT, all, &[JOINT]);
    let own = plan.at(line::BEFORE_YEARS_LIMIT);
    let share = plan.entry(cap.share(own.clone(), plan.at(line::OWNERS_BEFORE_YEARS_LIMIT)));
    plan.line(line::YEARS_LIMIT, own.or_smaller(share), &[JOINT]);
}

/// Figures the other owners' credit from what the case says they paid, by the same rules.
fn of_others(plan: &Plan<'_>, part: &Part<'_>) -> Expr {
    let paid = |items: &[Planned<'_>]| {
        let with_others = items.iter().filter(|one| one.item.paid_by_others.is_some());
        let rows = with_others
            .map(|one| Expr::Figure(Place::of_item(plan.year, line::ITEM_OTHERS, &one.item.key.value)));
        Expr::Sum(rows.collect())
    };
    let rate = plan.value(LawKey::ImprovementRate);
    if plan.year_law.figured_with(MethodStep::RateOfAll) {
        return plan.entry(rate.times(paid(&part.items)));
    }
    let capped = |items: &[Planned<'_>], cap| {
        plan.value(cap).share(paid(items), all_costs(plan, items)).or_smaller(paid(items))
    };
    let mut envelope: Vec<Expr> = Vec::new();
    for (kind, _) in ENVELOPE {
        let items = part.kind(kind);
        if is_joint(&items) {
            envelope.push(paid(&items));
        }
    }
    let windows = part.kind(Kind::WindowOrSkylight);
    if is_joint(&windows) {
        envelope.push(capped(&windows, LawKey::WindowCostCap));
    }
    let mut credits = Vec::new();
    if !envelope.is_empty() {
        credits.push(plan.entry(rate.times(Expr::Sum(envelope))));
    }
    for which in &ENERGY_PROPERTY {
        let items = part.energy(plan, which);
        if is_joint(&items) {
            credits.push(plan.entry(capped(&items, which.cap)));
        }
    }
    Expr::Sum(credits)
}

/// Returns a ceiling, or this owner's share of it by payments.
fn ceiling(plan: &Plan<'_>, key: LawKey, items: &[Planned<'_>]) -> Expr {
    match is_joint(items) {
        true => plan.entry(shared(plan, key, items)),
        false => plan.value(key),
    }
}

fn shared(plan: &Plan<'_>, key: LawKey, items: &[Planned<'_>]) -> Expr {
    plan.value(key).share(own_costs(plan, items), all_costs(plan, items))
}

fn joint_rule(items: &[Planned<'_>]) -> &'static [Rule] {
    if is_joint(items) { &[JOINT] } else { &[] }
}

/// The questions at the head of the form: main home, its address, part of building; and whether there are two.
pub(in crate::credit) fn answers(plan: &mut Plan<'_>, parts: &[Part<'_>]) {
    let items: Vec<&Planned<'_>> = parts.iter().flat_map(|part| &part.items).collect();
    if items.is_empty() {
        return;
    }
    let from: Vec<CaseRef> = items.iter().map(|one| kind_fact(one.item)).collect();
    let because = "the home's use on the day of installation is main home".to_string();
    answer(plan, line::IMPROVEMENT_MAIN_HOME, Value::YesNo(true), because, from.clone(), &[]);
    for part in parts {
        let value = addresses(&part.items);
        let from = part.items.iter().map(|one| kind_fact(one.item)).collect();
        let expr = Expr::Answer { value, because: "the home of the case".to_string(), from };
        part.row(plan, line::IMPROVEMENT_ADDRESS, expr, &[]);
    }
    let built = plan.items.iter().any(|one| {
        one.kind_law.is_some_and(|law| law.credit == THIS) && one.item.part_of.value == PartOf::NewHome
    });
    let because = "from `part_of` of each item; parts of building a home are left out".to_string();
    answer(plan, line::IMPROVEMENT_CONSTRUCTION, Value::YesNo(built), because, from.clone(), &[]);
    let because = "from `separate_main_homes` and the homes of the items".to_string();
    answer(plan, line::IMPROVEMENT_TWO_HOMES, Value::YesNo(parts.len() > 1), because, from, &[TWO_HOMES]);
}
