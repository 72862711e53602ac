//! What only the figures of a year show: limits that cut, costs that reductions pass, where form and statute differ.
//!
//! Comes in: a year as it was planned, and the figures. Goes out: findings. Changes no figure.

mod all_years;
mod limits;
mod mixed_price;
mod tax;

use crate::case::{Case, Item, TaxYear};
use crate::credit::chain::Reckoned;
use crate::credit::codes;
use crate::credit::evaluate::Figures;
use crate::credit::evaluate::line::{self, Place};
use crate::credit::plan::enabling;
use crate::finding::Finding;
use crate::law::{Law, Rule};

/// Reviews a year.
pub(super) fn review(case: &Case, law: &Law, one: &Reckoned<'_>, made: &Figures) -> Vec<Finding> {
    let year = one.law.year;
    let counting: Vec<&Item> =
        one.items.iter().filter(|item| item.qualified.ruling.counts).map(|item| item.item).collect();
    let mut found = reductions_above_cost(&counting, year, made);
    found.extend(mixed_price::of_mixed_prices(case, &one.items, law, one.law, made));
    let rule =
        one.law.rules.get(&Rule::Enabling).map(|rule| rule.authority.source.clone()).unwrap_or_default();
    found.extend(enabling::without_enabled_cost(&one.items, year, &rule, made));
    found.extend(all_years::review(one, made));
    found.extend(limits::owners(one, made));
    found.extend(limits::fuel_cells(one, made));
    if let Some(tax_return) = one.tax_return {
        found.extend(tax::review(tax_return, one.law, made));
    }
    found
}

/// Says where what reduces a cost is larger than the cost that counts, so that it stops at nothing.
fn reductions_above_cost(items: &[&Item], year: TaxYear, figures: &Figures) -> Vec<Finding> {
    let of_item = |item: &Item, line| figures.money(&Place::of_item(year, line, &item.key.value));
    let above = |item: &Item| {
        let reductions = of_item(item, line::ITEM_REDUCTIONS)?;
        let counted = of_item(item, line::ITEM_COUNTED)?;
        if reductions <= counted {
            return None;
        }
        let message = format!(
            "what reduces the cost of `{}` comes to {}, more than the cost of {} that counts; the cost stops at zero",
            item.key.value,
            reductions.spoken(),
            counted.spoken()
        );
        let span = item.incentives.first().map_or(item.key.span, |first| first.amount.span);
        let help = "see whether the incentive belongs to several items; then write it under `shared:` with the part of each";
        Some(codes::INCENTIVE_ABOVE_COST.finding(message).at(span).help(help))
    };
    items.iter().filter_map(|item| above(item)).collect()
}
