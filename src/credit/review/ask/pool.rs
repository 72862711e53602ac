//! Equipment for a pool or hot tub in the same contract as property that counts.
//!
//! Comes in: an item that counts, with its costs. Goes out: a warning for each cost that serves a pool or hot tub, and a
//! question for each price of labor that may have gone into it too.

use super::counting::{Counting, shared_costs};
use super::words::{plain, says};
use crate::case::{Case, Cost, CostNature};
use crate::credit::codes;
use crate::finding::Finding;
use crate::law::Counts;

/// Warns of what serves a pool, and asks about the labor beside it.
pub(super) fn ask(one: &Counting<'_>, case: &Case) -> Vec<Finding> {
    let item = one.item();
    let own = (1..).zip(&item.costs).map(|(n, cost)| (format!("{}.costs.{n}", one.path()), cost));
    let shared = shared_costs(case, item).map(|(n, cost)| (format!("shared.{n}"), cost));
    let costs: Vec<(String, &Cost)> = own.chain(shared).collect();
    let law = |nature: CostNature| one.law.costs.get(&(one.kind_law.class, nature));
    let counts = |nature: CostNature| law(nature).is_some_and(|law| law.counts != Counts::No);
    let serves_pool =
        |cost: &&Cost| cost.nature.value == CostNature::PoolOrHotTub && !counts(CostNature::PoolOrHotTub);
    let rule = law(CostNature::PoolOrHotTub).map_or_else(String::new, |law| law.authority.source.join("; "));
    let pool: Vec<&Cost> = costs.iter().map(|(_, cost)| *cost).filter(serves_pool).collect();
    let mut found: Vec<Finding> = costs
        .iter()
        .filter(|(_, cost)| serves_pool(cost))
        .map(|(about, cost)| {
            let message = format!(
                "`{}` serves a pool or hot tub, so {} of this contract does not count",
                cost.item.value,
                cost.amount.value.spoken()
            );
            let help = "nothing is to be done if that is so; labor, permits and other prices that it shares with what counts \
                        are split, and its part is entered `as: pool_or_hot_tub` as well";
            let warning = codes::POOL_NOT_COUNTED.finding(message).at(cost.item.span);
            warning.about(about.clone()).help(help).under(rule.clone())
        })
        .collect();
    let labor = [CostNature::OnsiteLabor, CostNature::LumpSum, CostNature::PipingAndWiring];
    for (about, cost) in &costs {
        let nature = cost.nature.value;
        // A price on a paper of its own was for what that paper says.
        let one_contract = |other: &&&Cost| match (&other.evidence, &cost.evidence) {
            (Some(theirs), Some(own)) => theirs.value == own.value,
            _ => true,
        };
        if !labor.contains(&nature) || !counts(nature) || cost.treat_as.is_some() {
            continue;
        }
        let Some(beside) = pool.iter().find(one_contract) else { continue };
        // What speaks of the pool itself is asked about already.
        let text = plain(&cost.item.value);
        if ["pool", "pools", "hot tub", "spa", "swimming"].iter().any(|word| says(&text, word)) {
            continue;
        }
        let message = format!(
            "is part of the {} for `{}` for `{}`, which does not count? Then that part does not count either",
            cost.amount.value.spoken(),
            cost.item.value,
            beside.item.value
        );
        let given = [cost.item.value.clone(), cost.amount.value.spoken(), beside.item.value.clone()];
        let help = "write that part as a cost of its own, `as: pool_or_hot_tub`, by the contractor's split; answer that none is \
                    where the contract prices the pool's part by itself, its labor included";
        let asked = codes::POOL_LABOR.finding(message).at(cost.item.span).about(about.clone());
        let asked = asked.with(beside.item.span, "this serves a pool or hot tub");
        found.push(asked.given(given).help(help).under(rule.clone()));
    }
    found
}
