//! Lines 900: what goes on the return, and how it compares with what was filed.

use super::expression::{CaseRef, Expr, Value};
use super::line::{self, Line};
use super::plan::Plan;
use crate::case::TaxReturn;
use crate::finding::At;
use crate::money::Money;

/// Plans the amounts for the return and, where the case says what was filed, the comparison.
pub(super) fn plan(plan: &mut Plan<'_>, tax_return: &TaxReturn, improvement_in_force: bool) {
    let claimed = tax_return.claimed.as_ref();
    if improvement_in_force {
        plan.line(line::TO_RETURN_IMPROVEMENT, plan.at(line::IMPROVEMENT_ALLOWED), &[]);
    } else if claimed.is_some_and(|claimed| claimed.improvement.is_some()) {
        // A return that claims the credit in a year without one claims too much.
        plan.line(line::TO_RETURN_IMPROVEMENT, Expr::nothing(), &[]);
    }
    plan.line(line::TO_RETURN_CLEAN, plan.at(line::CLEAN_ALLOWED), &[]);
    if let Some(authority) = plan.year_law.both_on_one_line.as_ref().filter(|_| improvement_in_force) {
        let both = Expr::Sum(vec![plan.at(line::TO_RETURN_IMPROVEMENT), plan.at(line::TO_RETURN_CLEAN)]);
        let source = authority.source.clone();
        plan.line(line::TO_RETURN_BOTH, both, &[]);
        plan.rest_on(source);
    }
    plan.line(line::TO_NEXT_YEAR, plan.at(line::CARRIED_OUT), &["carryforward"]);
    let Some(claimed) = claimed else {
        return;
    };
    let mut compare = |filed: Option<&At<Money>>, name: &str, [filed_line, computed, change]: [Line; 3]| {
        let Some(filed) = filed else { return };
        let fact = CaseRef {
            path: format!("returns.{}.claimed.{name}", plan.year),
            words: "as the filed return shows".to_string(),
            span: filed.span,
            value: Value::Money(filed.value),
            evidence: None,
        };
        plan.line(filed_line, Expr::Fact(fact), &[]);
        plan.line(change, plan.at(computed).less(plan.at(filed_line)), &[]);
    };
    compare(
        claimed.improvement.as_ref(),
        "improvement",
        [line::FILED_IMPROVEMENT, line::TO_RETURN_IMPROVEMENT, line::CHANGE_IMPROVEMENT],
    );
    compare(claimed.clean.as_ref(), "clean", [line::FILED_CLEAN, line::TO_RETURN_CLEAN, line::CHANGE_CLEAN]);
    compare(
        claimed.carried_out.as_ref(),
        "carried_out",
        [line::FILED_CARRIED_OUT, line::TO_NEXT_YEAR, line::CHANGE_CARRIED_OUT],
    );
}
