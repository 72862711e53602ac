//! The steps by which a credit is figured, in the order in which the year's law names them.
//!
//! Comes in: the plan, and the figures of earlier years. Goes out: steps up to the credit before the tax limit, and from
//! the limit to what is allowed, lost or carried forward. Which steps a credit has in a year is law data; what each plans
//! is in the module of its form.

use super::Plan;
use super::clean;
use super::earlier;
use super::improvement;
use super::until_2022;
use super::until_2022::Part;
use crate::credit::evaluate::Figures;
use crate::credit::evaluate::credits::{self, CreditLines};
use crate::credit::evaluate::expression::Expr;
use crate::credit::evaluate::line;
use crate::law::{Credit, MethodStep, Rule};

/// Plans what a credit is figured from, up to the credit earned on the year's own property.
pub(in crate::credit) fn of_new_property(plan: &mut Plan<'_>, credit: Credit, made: &Figures) {
    let law = plan.year_law;
    let Some(how) = law.method(credit) else { return };
    // The form of 2006 to 2022 is filled in for each of two homes; its parts are known with its first step.
    let mut parts: Option<Vec<Part<'_>>> = None;
    for step in &how.steps {
        match step {
            MethodStep::TwoMainHomes => improvement::two_main_homes(plan),
            MethodStep::EnvelopeQuestions => improvement::envelope_answers(plan),
            MethodStep::Insulation => improvement::insulation(plan),
            MethodStep::Doors => improvement::doors(plan),
            MethodStep::Windows => improvement::windows(plan),
            MethodStep::EnergyPropertyQuestions => improvement::energy_property_answers(plan),
            MethodStep::EnergyProperty => improvement::energy_property(plan),
            MethodStep::EnablingProperty => improvement::enabling(plan),
            MethodStep::Audits => improvement::audit(plan),
            MethodStep::YearlyLimit => improvement::general(plan),
            MethodStep::HeatPumps => improvement::heat_pumps(plan),
            MethodStep::YearlyTotal => improvement::total(plan),
            MethodStep::Questions => {
                let parts = parts.get_or_insert_with(|| until_2022::parts(plan));
                until_2022::answers(plan, parts);
            }
            MethodStep::EarlierWindows => earlier::windows(plan, made),
            MethodStep::EnvelopeCost => each(plan, &mut parts, until_2022::envelope_cost),
            MethodStep::WindowCeiling => each(plan, &mut parts, until_2022::windows),
            MethodStep::EnvelopeRate => each(plan, &mut parts, until_2022::envelope_rate),
            MethodStep::EnergyPropertyAmounts => each(plan, &mut parts, until_2022::energy_property_amounts),
            MethodStep::AmountsTotal => each(plan, &mut parts, until_2022::amounts_total),
            MethodStep::CostOfAll => each(plan, &mut parts, until_2022::cost_of_all),
            MethodStep::RateOfAll => each(plan, &mut parts, until_2022::rate_of_all),
            MethodStep::LimitOfAllYears => {
                let parts = parts.get_or_insert_with(|| until_2022::parts(plan));
                until_2022::limit_of_all_years(plan, parts, made);
            }
            MethodStep::Address => clean::address(plan),
            MethodStep::Costs => clean::costs(plan),
            MethodStep::Rate => clean::rate(plan),
            MethodStep::FuelCells => clean::fuel_cells(plan),
        }
    }
}

/// Plans a step for each part of the form.
fn each<'a>(plan: &mut Plan<'a>, parts: &mut Option<Vec<Part<'a>>>, of_part: fn(&mut Plan<'_>, &Part<'_>)) {
    let parts = parts.get_or_insert_with(|| until_2022::parts(plan));
    parts.iter().for_each(|part| of_part(plan, part));
}

/// Returns the credit earned on the year's own clean energy property.
pub(in crate::credit) fn earned(plan: &Plan<'_>) -> Vec<Expr> {
    plan.planned(line::CLEAN_EARNED)
}

/// Plans what is carried in and, with what is earned, the credit before the tax limit.
pub(in crate::credit) fn with_carried_in(plan: &mut Plan<'_>, carried_in: Expr) {
    let Some((of, carried)) = credits::carried() else { return };
    plan.line(carried.into, carried_in, &[Rule::Carryforward]);
    let mut parts = earned(plan);
    parts.push(plan.at(carried.into));
    plan.line(of.before_limit, Expr::Sum(parts), &[]);
}

/// Plans the lines from the tax limit on: what is allowed, and what becomes of the rest.
pub(in crate::credit) fn after_limit(plan: &mut Plan<'_>, of: &CreditLines) {
    plan.line(of.limit, plan.at(of.tax_left), &[Rule::Nonrefundable]);
    let before = plan.at(of.before_limit);
    plan.line(of.allowed, before.clone().or_smaller(plan.at(of.limit)), &[Rule::Nonrefundable]);
    if of.credit == Credit::Improvement {
        improvement::boxes(plan);
    }
    let rest = before.less(plan.at(of.allowed)).not_below_zero();
    if let Some(carried) = of.carried {
        let goes_on = plan.year_law.carries_forward(of.credit);
        plan.line(carried.on, if goes_on { rest.clone() } else { Expr::nothing() }, &[Rule::Carryforward]);
    }
    if let Some(lost) = of.lost {
        plan.line(lost, rest, &[Rule::ImprovementNoCarryforward]);
    }
}
