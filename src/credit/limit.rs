//! Lines 500: the limit by tax liability, first for 25C, then for 25D.
//!
//! Comes in: the year's tax before credits and its other credits. Goes out: steps for what is left of the tax for
//! each of the two. Which credits come first is law data.

use super::expression::{CaseRef, Expr, Value};
use super::line::{self, Line};
use super::plan::Plan;
use crate::case::{OtherCredit, OtherCreditEntry, ReturnForm, TaxReturn, TaxYear};
use crate::finding::Finding;
use crate::law::{Credit, Law, YearLaw};

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
pub(super) fn for_improvement(
    plan: &mut Plan<'_>,
    tax_return: &TaxReturn,
    law: &Law,
    improvement_in_force: bool,
) {
    let fact = CaseRef {
        path: format!("returns.{}.tax_before_credits", plan.year),
        words: tax_words(plan, tax_return),
        span: tax_return.tax_before_credits.span,
        value: Value::Money(tax_return.tax_before_credits.value),
        evidence: None,
    };
    plan.line(line::TAX, plan.entry(Expr::Fact(fact)), &[]);
    out_of_order(plan, tax_return, law);
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

/// Says where the tax before credits stands on the return.
fn tax_words(plan: &Plan<'_>, tax_return: &TaxReturn) -> String {
    let law = plan.year_law;
    let (form, line) = match (tax_return.form.value, &law.tax_line_nr) {
        (ReturnForm::Form1040Nr, Some(line)) => ("Form 1040-NR", line),
        _ => ("Form 1040", &law.tax_line),
    };
    format!("tax before credits, {form} line {line}")
}

/// Plans the credits before 25D, 25C among them, and what is left for it.
pub(super) fn for_clean(plan: &mut Plan<'_>, tax_return: &TaxReturn, improvement_in_force: bool) {
    let first = first_credits(plan);
    let later: Vec<OtherCredit> =
        before(plan, Credit::Clean).into_iter().filter(|one| !first.contains(one)).collect();
    let alone = plan.year_law.before.get(&Credit::Clean);
    let alone: Vec<OtherCredit> = alone.map(|order| order.lines_of_their_own.clone()).unwrap_or_default();
    let mut parts = amounts(plan, tax_return, &first);
    if !alone.is_empty() {
        // The worksheet has one line for these and further lines for others: each is rounded where it is entered.
        parts = vec![plan.entry(Expr::Sum(parts))];
    }
    if improvement_in_force {
        plan.line(line::BEFORE_IMPROVEMENT_ALLOWED, plan.at(line::IMPROVEMENT_ALLOWED), &["order"]);
        parts.push(plan.at(line::BEFORE_IMPROVEMENT_ALLOWED));
    }
    rows(plan, tax_return, &later);
    for credit in later {
        match line_of(credit).filter(|_| alone.contains(&credit)) {
            Some(line) => parts.push(plan.at(line)),
            None => parts.extend(amounts(plan, tax_return, &[credit])),
        }
    }
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

/// Returns the amounts of some credits as the case gives them: a line that holds them together adds them with their
/// cents and rounds once.
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
            && let Some(worksheet) =
                plan.year_law.before.get(&Credit::Clean).and_then(|order| order.child_tax_worksheet.clone())
        {
            let about = format!("returns.{}.other_credits.child_tax", plan.year);
            plan.findings.push(worksheet_b_question(entry, &worksheet).about(about));
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
            let order = plan.year_law.before.get(&Credit::Clean);
            let worksheet = order.and_then(|order| order.child_tax_worksheet.as_deref());
            let words = worksheet.map_or_else(
                || credit.label().to_string(),
                |worksheet| format!("child tax credit, {worksheet}"),
            );
            (amount, ".worksheet_b", words)
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

fn worksheet_b_question(entry: &OtherCreditEntry, worksheet: &str) -> Finding {
    Finding::question(
        "worksheet-b-unsaid",
        format!(
            "was the worksheet used whose amount the limit of the clean energy credit subtracts for the child tax credit, {worksheet}? \
             With this credit and qualifying children it usually is",
        ),
    )
    .at(entry.amount.span)
    .given(["child_tax".to_string(), entry.amount.value.spoken()])
    .help("write `child_tax: {return_line: 2000, worksheet_b: 800}`, or give only `return_line` if that worksheet was not used")
    .under("Instructions for Form 5695, worksheet of the tax limit (from memory)")
}

/// Complains about credits that do not stand in the year's order, and says where they do.
fn out_of_order(plan: &mut Plan<'_>, tax_return: &TaxReturn, law: &Law) {
    let known = before(plan, Credit::Clean);
    for entry in &tax_return.other_credits {
        let credit = entry.credit.value;
        if known.contains(&credit) || entry.amount.value.is_zero() {
            continue;
        }
        let stands = |year: &YearLaw| {
            year.before.get(&Credit::Clean).is_some_and(|order| order.credits.contains(&credit))
        };
        let years: Vec<TaxYear> = law.all().filter(|year| stands(year)).map(|year| year.year).collect();
        let replaced = match (credit, plan.year.0) {
            (
                OtherCredit::AlternativeMotorVehicle
                | OtherCredit::PlugInVehicle
                | OtherCredit::ElectricVehicle,
                2023..,
            ) => {
                "; from 2023 on the vehicle credits are `new_clean_vehicle` and `previously_owned_clean_vehicle`"
            }
            (OtherCredit::NewCleanVehicle | OtherCredit::PreviouslyOwnedCleanVehicle, 2009..) => {
                "; before 2023 the vehicle credits are `plug_in_vehicle` and `alternative_motor_vehicle`"
            }
            (OtherCredit::Adoption, 2010 | 2011) => "; it was refundable in 2010 and 2011 (from memory)",
            _ => "",
        };
        plan.findings.push(
            Finding::error(
                "credit-not-in-year",
                format!(
                    "the {} does not stand among the credits that come first in {}",
                    credit.label(),
                    plan.year
                ),
            )
            .at(entry.credit.span)
            .help(format!("take it out here; `{credit}` stands there in {}{replaced}", spans(&years)))
            .under(plan.authority("order").join("; ")),
        );
    }
}

/// Writes years as spans: `2009 and 2012 to 2022`.
fn spans(years: &[TaxYear]) -> String {
    let mut spans: Vec<(TaxYear, TaxYear)> = Vec::new();
    for year in years {
        match spans.last_mut() {
            Some((_, last)) if last.after() == *year => *last = *year,
            _ => spans.push((*year, *year)),
        }
    }
    let one = |(first, last): &(TaxYear, TaxYear)| match first == last {
        true => first.to_string(),
        false => format!("{first} to {last}"),
    };
    spans.iter().map(one).collect::<Vec<_>>().join(" and ")
}
