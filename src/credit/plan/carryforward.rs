//! Lines 600: the carryforward by the year in which each credit was earned.
//!
//! Our bookkeeping rule, oldest used first; it changes no amount on a return and is printed as such.

use super::Plan;
use crate::case::TaxYear;
use crate::credit::evaluate::expression::Expr;
use crate::credit::evaluate::line::{self, Place, Subject};
use crate::law::Rule;

/// Plans a row per origin year, oldest first, and the totals.
///
/// `origins` are the years whose credit may still be alive; `checkpoint` says that the oldest of them is a balance
/// brought in, which this year's line 430 holds. `rounded_on_entry` says that a balance kept in cents enters this year
/// in whole dollars: then the newest of the years brought in bears the difference, so that the rows add up to line 430.
pub(in crate::credit) fn plan(
    plan: &mut Plan<'_>,
    origins: &[TaxYear],
    checkpoint: bool,
    rounded_on_entry: bool,
) {
    let newest = origins.iter().rev().find(|origin| **origin < plan.year).copied();
    let mut available = Vec::new();
    let mut used = Vec::new();
    let mut left = Vec::new();
    let place = |line, origin| Place { year: plan.year, line, of: Subject::Origin(origin) };
    let at = |line, origin| Expr::Figure(place(line, origin));
    let before = plan.year.before();
    let left_before =
        |origin| Expr::Figure(Place { year: before, line: line::ORIGIN_LEFT, of: Subject::Origin(origin) });
    let mut rows = Vec::new();
    for origin in origins {
        let brought = *origin < plan.year;
        let source = if brought {
            let expr = if checkpoint && *origin == origins[0] {
                plan.at(line::CARRIED_IN)
            } else if rounded_on_entry && Some(*origin) == newest {
                let others = origins.iter().filter(|other| **other < *origin);
                plan.at(line::CARRIED_IN).less(Expr::Sum(others.map(|other| left_before(*other)).collect()))
            } else {
                left_before(*origin)
            };
            rows.push((line::ORIGIN_IN, *origin, expr));
            at(line::ORIGIN_IN, *origin)
        } else {
            let earned = Expr::Sum(super::steps::earned(plan));
            rows.push((line::ORIGIN_EARNED, *origin, earned));
            at(line::ORIGIN_EARNED, *origin)
        };
        rows.push((line::ORIGIN_AVAILABLE, *origin, source));
        let room = plan.at(line::CLEAN_ALLOWED).less(Expr::Sum(used.clone())).not_below_zero();
        rows.push((line::ORIGIN_USED, *origin, at(line::ORIGIN_AVAILABLE, *origin).or_smaller(room)));
        rows.push((
            line::ORIGIN_LEFT,
            *origin,
            at(line::ORIGIN_AVAILABLE, *origin).less(at(line::ORIGIN_USED, *origin)),
        ));
        available.push(at(line::ORIGIN_AVAILABLE, *origin));
        used.push(at(line::ORIGIN_USED, *origin));
        left.push(at(line::ORIGIN_LEFT, *origin));
    }
    for (line, origin, expr) in rows {
        plan.row(
            line,
            Subject::Origin(origin),
            Some(format!("earned in {origin}")),
            expr,
            &[Rule::Carryforward],
        );
    }
    plan.line(line::CHAIN_AVAILABLE, Expr::Sum(available), &[Rule::Carryforward]);
    plan.line(line::CHAIN_USED, Expr::Sum(used), &[Rule::Carryforward]);
    plan.line(line::CHAIN_LEFT, Expr::Sum(left), &[Rule::Carryforward]);
}
