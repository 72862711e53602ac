//! Lines 500: the limit by tax liability, for each credit in its order.
//!
//! Comes in: the year's tax before credits and its other credits. Goes out: steps for what is left of the tax for
//! each of ours. Which credits come first is law data.

use super::Plan;
use crate::case::{OtherCredit, OtherCreditEntry, ReturnForm, TaxReturn, TaxYear};
use crate::credit::codes;
use crate::credit::evaluate::credits::{CREDITS, CreditLines};
use crate::credit::evaluate::expression::{CaseRef, Expr, Value};
use crate::credit::evaluate::line::{self, Line};
use crate::finding::Finding;
use crate::law::{Credit, Law, Rule, YearLaw};

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

/// Plans the tax, and complains about credits that the year's order does not have.
pub(in crate::credit) fn plan(plan: &mut Plan<'_>, tax_return: &TaxReturn, law: &Law) {
    let fact = CaseRef {
        path: format!("returns.{}.tax_before_credits", plan.year),
        words: tax_words(plan, tax_return),
        span: tax_return.tax_before_credits.span,
        value: Value::Money(tax_return.tax_before_credits.value),
        evidence: None,
    };
    plan.line(line::TAX, plan.entry(Expr::Fact(fact)), &[]);
    out_of_order(plan, tax_return, law);
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

/// Plans the credits that come before one of ours, earlier ones of ours among them, and what is left of the tax for it.
pub(in crate::credit) fn for_credit(plan: &mut Plan<'_>, tax_return: &TaxReturn, of: &CreditLines) {
    let earlier = || CREDITS.iter().take_while(|one| one.credit != of.credit);
    let first: Vec<OtherCredit> = earlier().flat_map(|one| before(plan, one.credit)).collect();
    let later: Vec<OtherCredit> =
        before(plan, of.credit).into_iter().filter(|one| !first.contains(one)).collect();
    rows(plan, tax_return, &later);
    if !plan.takes_part(of.credit) {
        return;
    }
    let alone = plan.year_law.before.get(&of.credit);
    let alone: Vec<OtherCredit> = alone.map(|order| order.lines_of_their_own.clone()).unwrap_or_default();
    let mut parts = amounts(plan, tax_return, &first);
    if !alone.is_empty() {
        // The worksheet has one line for these and further lines for others: each is rounded where it is entered.
        parts = vec![plan.entry(Expr::Sum(parts))];
    }
    for one in earlier().filter(|one| plan.takes_part(one.credit)).collect::<Vec<_>>() {
        let Some(taken) = one.taken_before else { continue };
        plan.line(taken, plan.at(one.allowed), &[Rule::Order]);
        parts.push(plan.at(taken));
    }
    for credit in later {
        match line_of(credit).filter(|_| alone.contains(&credit)) {
            Some(line) => parts.push(plan.at(line)),
            None => parts.extend(amounts(plan, tax_return, &[credit])),
        }
    }
    let total = plan.entry(Expr::Sum(parts));
    plan.line(of.come_before, total, &[Rule::Order]);
    let left = plan.at(line::TAX).less(plan.at(of.come_before)).not_below_zero();
    plan.line(of.tax_left, left, &[Rule::Nonrefundable]);
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
            && limit_matters(plan)
            && let Some((_, worksheet)) = child_tax_worksheet(plan.year_law)
        {
            let about = format!("returns.{}.other_credits.child_tax", plan.year);
            plan.findings.push(worksheet_b_question(entry, worksheet).about(about));
        }
    }
}

/// Returns the worksheet line that holds the child tax credit where that worksheet was used, and the credit of ours
/// whose limit subtracts it.
pub(in crate::credit) fn child_tax_worksheet(law: &YearLaw) -> Option<(Credit, &str)> {
    law.before.iter().find_map(|(credit, order)| Some((*credit, order.child_tax_worksheet.as_deref()?)))
}

/// Says whether the year has anything on which the limit after the child tax credit could bear.
fn limit_matters(plan: &Plan<'_>) -> bool {
    let limited = child_tax_worksheet(plan.year_law).map(|(credit, _)| credit);
    plan.items.iter().any(|one| limited.is_some_and(|credit| one.counts_for(credit)))
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
            let words = child_tax_worksheet(plan.year_law).map_or_else(
                || credit.label().to_string(),
                |(_, worksheet)| format!("child tax credit, {worksheet}"),
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
    codes::WORKSHEET_B_UNSAID.finding(
        format!("what is {worksheet}, or was that worksheet not used?"),
    )
    .at(entry.amount.span)
    .given(["child_tax".to_string(), entry.amount.value.spoken()])
    .help(format!(
        "write `child_tax: {{return_line: {0}, worksheet_b: ..}}` with its amount, or `child_tax: {{return_line: {0}}}` \
         if it was not used; with a clean energy credit and children it usually is",
        entry.amount.value.decimal().normalize()
    ))
    .under("Instructions for Form 5695, worksheet of the tax limit (from memory)")
}

/// Complains about credits that do not stand in the year's order, and says where they do.
fn out_of_order(plan: &mut Plan<'_>, tax_return: &TaxReturn, law: &Law) {
    let known: Vec<OtherCredit> =
        plan.year_law.before.values().flat_map(|order| order.credits.clone()).collect();
    for entry in &tax_return.other_credits {
        let credit = entry.credit.value;
        if known.contains(&credit) || entry.amount.value.is_zero() {
            continue;
        }
        let stands = |year: &YearLaw| year.before.values().any(|order| order.credits.contains(&credit));
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
            codes::CREDIT_NOT_IN_YEAR
                .finding(format!(
                    "the {} does not stand among the credits that come first in {}",
                    credit.label(),
                    plan.year
                ))
                .at(entry.credit.span)
                .help(format!("take it out here; `{credit}` stands there in {}{replaced}", spans(&years)))
                .under(plan.authority(Rule::Order).join("; ")),
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
