//! What the forms of all years and credits have in common: answers, addresses, costs shared with other owners.
//!
//! Comes in: the plan and some of its items. Goes out: steps and parts of expressions. Knows no rate and no limit.

use super::{Plan, Planned, item_fact};
use crate::case::Item;
use crate::credit::codes;
use crate::credit::evaluate::expression::{CaseRef, Expr, Value};
use crate::credit::evaluate::line::{self, Line, Place};
use crate::law::Rule;

/// Plans an answer the facts give.
pub(in crate::credit) fn answer(
    plan: &mut Plan<'_>,
    line: Line,
    value: Value,
    because: String,
    from: Vec<CaseRef>,
    rules: &[Rule],
) {
    plan.line(line, Expr::Answer { value, because, from }, rules);
}

/// Makes the reference to what an item is.
pub(in crate::credit) fn kind_fact(item: &Item) -> CaseRef {
    item_fact(item, "kind", item.kind.span, Value::Text(item.kind.value.label().to_string()))
}

/// Returns the addresses of some items' homes, each once, in case order.
pub(in crate::credit) fn addresses(items: &[Planned<'_>]) -> Value {
    let mut addresses: Vec<String> = Vec::new();
    for one in items {
        let address = one.home.address.one_line();
        if !addresses.contains(&address) {
            addresses.push(address);
        }
    }
    Value::Text(addresses.join("; "))
}

/// Says whether others than the client paid toward an item.
pub(in crate::credit) fn paid_with_others(one: &Planned<'_>) -> bool {
    one.item.paid_by_others.as_ref().is_some_and(|paid| !paid.value.is_zero())
}

/// Says whether others than the client paid toward some of the items.
pub(in crate::credit) fn is_joint(items: &[Planned<'_>]) -> bool {
    items.iter().any(paid_with_others)
}

/// Returns what the client paid for the items, as it counts.
pub(in crate::credit) fn own_costs(plan: &Plan<'_>, items: &[Planned<'_>]) -> Expr {
    plan.sum_over(line::ITEM_QUALIFIED, items)
}

/// Returns what all owners paid for the items.
pub(in crate::credit) fn all_costs(plan: &Plan<'_>, items: &[Planned<'_>]) -> Expr {
    let rows = items.iter().map(|one| {
        let line =
            if one.item.paid_by_others.is_some() { line::ITEM_ALL_OWNERS } else { line::ITEM_QUALIFIED };
        Expr::Figure(Place::of_item(plan.year, line, &one.item.key.value))
    });
    Expr::Sum(rows.collect())
}

/// Says where the form's one capped line gives less than the statute's cap for each item would.
pub(in crate::credit) fn several_on_one_line(plan: &mut Plan<'_>, kind: &str, items: &[Planned<'_>]) {
    let count: u32 = items.iter().map(|one| u32::from(one.item.units.value)).sum();
    if count > 1 {
        plan.findings.push(
            codes::FORM_OR_STATUTE.finding(
                format!(
                    "{count} items of {kind} stand on one line of the {} form, which has one limit; the statute speaks of a limit for each item",
                    plan.year
                ),
            )
            .at(items[0].item.key.span)
            .help("the form's arithmetic is followed; a preparer who takes the statute's reading should say so on the return")
            .under(plan.authority(Rule::FormOrStatuteTwoItems).join("; ")),
        );
    }
}
