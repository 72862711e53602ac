//! Enabling property: panelboards, circuits and feeders that count only with what they make possible.
//!
//! Comes in: the items of a year and the steps of those already planned. Goes out: the order in which the items are
//! planned, the ruling on each enabling item, and the condition under which its cost qualifies. Knows nothing of
//! limits.

use super::qualify::Qualified;
use super::{Plan, Planned};
use crate::case::{Key, TaxYear};
use crate::credit::codes;
use crate::credit::evaluate::Figures;
use crate::credit::evaluate::expression::{Expr, Ruling};
use crate::credit::evaluate::line::{self, Place};
use crate::finding::Finding;
use crate::law::{Class, Credit, Rule};
use crate::money::Money;

const ONLY_WITH_CREDIT: &str = "enabling property counts only with property that earns the 25C credit";

/// Returns the year's items in the order in which they are planned: that of the case, but enabling property after all
/// that it enables.
pub(in crate::credit) fn order(plan: &Plan<'_>) -> Vec<usize> {
    let mut order: Vec<usize> = (0..plan.items.len()).collect();
    let last_enabled = |at: usize| {
        let enables = |key: &Key| plan.items[at].item.enables.iter().any(|one| one.value == *key);
        plan.items.iter().rposition(|other| enables(&other.item.key.value)).unwrap_or(at)
    };
    order.sort_by_key(|at| match enabling(&plan.items[*at]) {
        true => (last_enabled(*at).max(*at), true),
        false => (*at, false),
    });
    order
}

/// Decides whether an enabling item counts, once the steps of what it enables are planned: at least one enabled item
/// must be a 25C envelope part or energy property that counts in the same year, with cost that can qualify.
pub(in crate::credit) fn decide(plan: &mut Plan<'_>, at: usize) {
    let one = plan.items[at].clone();
    if !enabling(&one) || !one.qualified.ruling.counts || one.item.enables.is_empty() {
        return;
    }
    let enabled = enabled(&plan.items, &one);
    let qualified = |other: &Planned<'_>| qualified(plan.year, other);
    let because = if enabled.is_empty() {
        format!(
            "enabling property counts only with 25C property that counts in the same year, and {} does not",
            names(&one)
        )
    } else if enabled.iter().all(|other| plan.never_above_zero(&qualified(other))) {
        format!("{ONLY_WITH_CREDIT}, and no cost of {} counts", names(&one))
    } else {
        return;
    };
    let authority = plan.authority(Rule::Enabling);
    plan.findings.push(objection(&one, &because, &authority));
    let ruling = Ruling { counts: false, because, authority, settled: true, chosen: None };
    plan.items[at].qualified = Qualified { ruling };
}

/// Returns the cost of an enabling item under the condition that something it enables has qualified cost; the cost of
/// any other item as it is.
pub(in crate::credit) fn conditional(plan: &Plan<'_>, one: &Planned<'_>, cost: Expr) -> Expr {
    if !enabling(one) || !one.qualified.ruling.counts {
        return cost;
    }
    let enabled = enabled(&plan.items, one).iter().map(|other| qualified(plan.year, other)).collect();
    Expr::Passing {
        amount: Box::new(Expr::Sum(enabled)),
        limit: Box::new(Expr::Number(0, "whole")),
        above: Box::new(cost),
        otherwise: Box::new(Expr::nothing()),
    }
}

/// Complains about enabling items that lost their cost because nothing is left of the cost of what they enable.
pub(in crate::credit) fn without_enabled_cost(
    items: &[Planned<'_>],
    year: TaxYear,
    authority: &[String],
    figures: &Figures,
) -> Vec<Finding> {
    let nothing_left = |other: &Planned<'_>| {
        let place = Place::of_item(year, line::ITEM_QUALIFIED, &other.item.key.value);
        figures.money(&place).is_some_and(Money::is_zero)
    };
    let counting = items.iter().filter(|one| enabling(one) && one.qualified.ruling.counts);
    counting
        .filter(|one| enabled(items, one).iter().all(nothing_left))
        .map(|one| {
            let because = format!("{ONLY_WITH_CREDIT}, and nothing is left of the cost of {}", names(one));
            objection(one, &because, authority)
        })
        .collect()
}

fn enabling(one: &Planned<'_>) -> bool {
    one.kind_law.is_some_and(|law| law.class == Class::Enabling)
}

/// Returns those of the year's items that an item enables and that can earn the credit.
fn enabled<'a>(items: &[Planned<'a>], one: &Planned<'_>) -> Vec<Planned<'a>> {
    let fits = |other: &&Planned<'a>| {
        let class = other.kind_law.map(|law| law.class);
        other.counts_for(Credit::Improvement)
            && matches!(class, Some(Class::Envelope | Class::EnergyProperty))
            && one.item.enables.iter().any(|key| key.value == other.item.key.value)
    };
    items.iter().filter(fits).cloned().collect()
}

fn qualified(year: TaxYear, one: &Planned<'_>) -> Expr {
    Expr::Figure(Place::of_item(year, line::ITEM_QUALIFIED, &one.item.key.value))
}

fn names(one: &Planned<'_>) -> String {
    let names: Vec<&str> = one.item.enables.iter().map(|key| key.value.as_str()).collect();
    names.join(", ")
}

fn objection(one: &Planned<'_>, because: &str, authority: &[String]) -> Finding {
    codes::ENABLES_NOTHING.finding(format!("`{}` does not count: {because}", one.item.key.value))
        .at(one.item.enables.first().map_or(one.item.key.span, |key| key.span))
        .help("name under `enables:` the 25C property it was installed with; solar panels and batteries are none")
        .under(authority.join("; "))
}
