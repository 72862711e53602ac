//! Lines 500: the limit by tax liability, first for 25C, then for 25D.
//!
//! Comes in: the year's tax before credits and its other credits. Goes out: steps for what is left of the tax for
//! each of the two. Which credits come first is law data.

use super::expression::{CaseRef, Expr, Value};
use super::line::{self, Line};
use super::plan::Plan;
use crate::case::{OtherCredit, OtherCreditEntry, TaxReturn};
use crate::finding::Finding;
use crate::law::Credit;

/// The line of each other credit.
const LINES: [(OtherCredit, Line); 15] = [
    (OtherCredit::PartnershipAdjustment, line::BEFORE_PARTNERSHIP),
    (OtherCredit::ForeignTax, line::BEFORE_FOREIGN_TAX),
    (OtherCredit::ChildAndDependentCare, line::BEFORE_DEPENDENT_CARE),
    (OtherCredit::ElderlyOrDisabled, line::BEFORE_ELDERLY),
    (OtherCredit::Education, line::BEFORE_EDUCATION),
    (OtherCredit::RetirementSavings, line::BEFORE_RETIREMENT),
    (OtherCredit::NewCleanVehicle, line::BEFORE_NEW_VEHICLE),
    (OtherCredit::PreviouslyOwnedCleanVehicle, line::BEFORE_USED_VEHICLE),
    (OtherCredit::ChildTax, line::BEFORE_CHILD_TAX),
    (OtherCredit::MortgageInterest, line::BEFORE_MORTGAGE_INTEREST),
    (OtherCredit::Adoption, line::BEFORE_ADOPTION),
    (OtherCredit::DcFirstHome, line::BEFORE_DC_FIRST_HOME),
    (OtherCredit::AlternativeMotorVehicle, line::BEFORE_ALTERNATIVE_VEHICLE),
    (OtherCredit::PlugInVehicle, line::BEFORE_PLUG_IN_VEHICLE),
    (OtherCredit::ElectricVehicle, line::BEFORE_ELECTRIC_VEHICLE),
];

/// Plans the tax, the credits before 25C, and what is left for it.
pub(super) fn for_improvement(plan: &mut Plan<'_>, tax_return: &TaxReturn, improvement_in_force: bool) {
    let fact = CaseRef {
        path: format!("returns.{}.tax_before_credits", plan.year),
        words: format!("tax before credits, Form 1040 line {}", plan.year_law.tax_line),
        span: tax_return.tax_before_credits.span,
        value: Value::Money(tax_return.tax_before_credits.value),
        evidence: None,
    };
    plan.line(line::TAX, plan.entry(Expr::Fact(fact)), &[]);
    out_of_order(plan, tax_return);
    let first = first_credits(plan);
    rows(plan, tax_return, &first);
    if !improvement_in_force {
        return;
    }
    let total = plan.entry(Expr::Sum(amounts(plan, tax_return, &first)));
    plan.line(line::BEFORE_IMPROVEMENT, total, &["order"]);
    let left = plan.at(line::TAX).less(plan.at(line::BEFORE_IMPROVEMENT)).not_below_zero();
    plan.line(line::IMPROVEMENT_TAX_LEFT, left, &["nonrefundable"]);
}

/// Plans the credits before 25D, 25C among them, and what is left for it.
pub(super) fn for_clean(plan: &mut Plan<'_>, tax_return: &TaxReturn, improvement_in_force: bool) {
    let first = first_credits(plan);
    let later: Vec<OtherCredit> =
        before(plan, Credit::Clean).into_iter().filter(|one| !first.contains(one)).collect();
    let mut parts = amounts(plan, tax_return, &first);
    if improvement_in_force {
        plan.line(line::BEFORE_IMPROVEMENT_ALLOWED, plan.at(line::IMPROVEMENT_ALLOWED), &["order"]);
        parts.push(plan.at(line::BEFORE_IMPROVEMENT_ALLOWED));
    }
    rows(plan, tax_return, &later);
    parts.extend(amounts(plan, tax_return, &later));
    let total = plan.entry(Expr::Sum(parts));
    plan.line(line::BEFORE_CLEAN, total, &["order"]);
    let left = plan.at(line::TAX).less(plan.at(line::BEFORE_CLEAN)).not_below_zero();
    plan.line(line::CLEAN_TAX_LEFT, left, &["nonrefundable"]);
}

/// The credits that come before both: all those before 25C, or before 25D where 25C is not in force.
fn first_credits(plan: &Plan<'_>) -> Vec<OtherCredit> {
    before(plan, Credit::Improvement)
}

fn before(plan: &Plan<'_>, credit: Credit) -> Vec<OtherCredit> {
    plan.year_law.before.get(&credit).map(|order| order.credits.clone()).unwrap_or_default()
}

fn line_of(credit: OtherCredit) -> Option<Line> {
    LINES.iter().find(|(one, _)| *one == credit).map(|(_, line)| *line)
}

/// Returns the amounts of some credits as the case gives them: a worksheet line adds them with their cents and
/// rounds once.
fn amounts(plan: &Plan<'_>, tax_return: &TaxReturn, which: &[OtherCredit]) -> Vec<Expr> {
    let entries = which.iter().flat_map(|credit| entries(tax_return, *credit));
    entries.map(|entry| Expr::Fact(fact(plan, entry))).collect()
}

fn entries(tax_return: &TaxReturn, credit: OtherCredit) -> impl Iterator<Item = &OtherCreditEntry> {
    tax_return.other_credits.iter().filter(move |entry| entry.credit.value == credit)
}

/// Plans a line for each of some credits.
fn rows(plan: &mut Plan<'_>, tax_return: &TaxReturn, which: &[OtherCredit]) {
    for credit in which {
        let Some(line) = line_of(*credit) else { continue };
        let expr = plan.entry(Expr::Sum(amounts(plan, tax_return, &[*credit])));
        plan.line(line, expr, &[]);
        if let Some(entry) = entries(tax_return, *credit).next()
            && *credit == OtherCredit::ChildTax
            && entry.worksheet_b_unsaid
            && !entry.amount.value.is_zero()
            && clean_matters(plan)
        {
            let about = format!("returns.{}.other_credits.child_tax", plan.year);
            plan.findings.push(worksheet_b_question(entry).about(about));
        }
    }
}

/// Says whether the year has anything on which the 25D limit could bear.
fn clean_matters(plan: &Plan<'_>) -> bool {
    plan.items.iter().any(|one| one.counts_for(Credit::Clean))
        || plan.case.carried_in(plan.year).is_some()
        || plan
            .case
            .property
            .iter()
            .any(|item| item.installed.as_ref().is_some_and(|day| day.value.year() < plan.year.0))
}

fn fact(plan: &Plan<'_>, entry: &OtherCreditEntry) -> CaseRef {
    let credit = entry.credit.value;
    let (amount, part, words) = match &entry.worksheet_b {
        Some(amount) => {
            let words = "child tax credit, line 14 of Credit Limit Worksheet B of Schedule 8812";
            (amount, ".worksheet_b", words.to_string())
        }
        None => (&entry.amount, "", credit.label().to_string()),
    };
    CaseRef {
        path: format!("returns.{}.other_credits.{credit}{part}", plan.year),
        words,
        span: amount.span,
        value: Value::Money(amount.value),
        evidence: None,
    }
}

fn worksheet_b_question(entry: &OtherCreditEntry) -> Finding {
    Finding::question(
        "worksheet-b-unsaid",
        "was Credit Limit Worksheet B of the Schedule 8812 instructions used for the child tax credit? With a clean energy credit \
         and qualifying children it usually is, and then its line 14 is what the limit subtracts",
    )
    .at(entry.amount.span)
    .given(["child_tax".to_string(), entry.amount.value.spoken()])
    .help("write `child_tax: {return_line: 2000, worksheet_b: 800}`, or give only `return_line` if Worksheet B was not used")
    .under("Schedule 8812 instructions, Credit Limit Worksheet B; Instructions for Form 5695, Line 14 (from memory)")
}

/// Complains about credits that do not exist in the year's order.
fn out_of_order(plan: &mut Plan<'_>, tax_return: &TaxReturn) {
    let known = before(plan, Credit::Clean);
    for entry in &tax_return.other_credits {
        if known.contains(&entry.credit.value) || entry.amount.value.is_zero() {
            continue;
        }
        plan.findings.push(
            Finding::error(
                "credit-not-in-year",
                format!("the {} does not stand among the credits of {}", entry.credit.value.label(), plan.year),
            )
            .at(entry.credit.span)
            .help("from 2023 on the vehicle credits are `new_clean_vehicle` and `previously_owned_clean_vehicle`")
            .under(plan.authority("order").join("; ")),
        );
    }
}
