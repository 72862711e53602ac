//! Lines 900: what goes on the return, and how it compares with what was filed.

use super::Plan;
use crate::case::TaxReturn;
use crate::credit::evaluate::credits::{self, CREDITS};
use crate::credit::evaluate::expression::{CaseRef, Expr, Value};
use crate::credit::evaluate::line;
use crate::law::Rule;

/// Plans the amounts for the return and, where the case says what was filed, the comparison.
pub(in crate::credit) fn plan(plan: &mut Plan<'_>, tax_return: &TaxReturn) {
    let claimed = tax_return.claimed.as_ref();
    for of in &CREDITS {
        if plan.takes_part(of.credit) {
            plan.line(of.shown.computed, plan.at(of.allowed), &[]);
        } else if claimed.is_some_and(|claimed| (of.shown.claimed)(claimed).is_some()) {
            // A return that claims the credit in a year without one claims too much.
            plan.line(of.shown.computed, Expr::nothing(), &[]);
        }
    }
    let all = CREDITS.iter().all(|of| plan.takes_part(of.credit));
    if let Some(authority) = plan.year_law.both_on_one_line.as_ref().filter(|_| all) {
        let both = Expr::Sum(CREDITS.iter().map(|of| plan.at(of.shown.computed)).collect());
        let source = authority.source.clone();
        plan.line(line::TO_RETURN_BOTH, both, &[]);
        plan.rest_on(source);
    }
    for carried in
        CREDITS.iter().filter(|of| plan.takes_part(of.credit)).filter_map(|of| of.carried).collect::<Vec<_>>()
    {
        plan.line(carried.shown.computed, plan.at(carried.on), &[Rule::Carryforward]);
    }
    let Some(claimed) = claimed else {
        return;
    };
    for shown in credits::shown() {
        let Some(filed) = (shown.claimed)(claimed) else { continue };
        let fact = CaseRef {
            path: format!("returns.{}.claimed.{}", plan.year, shown.key),
            words: "as the filed return shows".to_string(),
            span: filed.span,
            value: Value::Money(filed.value),
            evidence: None,
        };
        plan.line(shown.filed, Expr::Fact(fact), &[]);
        plan.line(shown.change, plan.at(shown.computed).less(plan.at(shown.filed)), &[]);
    }
}
