//! Discounts and rebates on one price for what counts and what does not.
//!
//! Comes in: the costs and incentives of an item, and the figures made of them. Goes out: findings that offer the
//! division of the price. Whether it is such a mixed one, and what comes off by default, is decided in `purchase`.

use crate::case::{Case, CostNature, IncentiveKind, Item, Key, Shared, SharedRow, TreatAs};
use crate::credit::codes;
use crate::credit::evaluate::expression::{CaseRef, Expr, Rounding, Value};
use crate::credit::evaluate::line::{self, Place, Subject};
use crate::credit::evaluate::{self, Figures};
use crate::credit::plan::Planned;
use crate::finding::Finding;
use crate::law::{Law, Rule, YearLaw};
use crate::money::Money;

/// Says where a discount or a rebate is taken off what counts, although the price holds costs that do not count, and
/// offers the division by price; and complains where less than that was chosen.
pub(super) fn of_mixed_prices(
    case: &Case,
    items: &[Planned<'_>],
    law: &Law,
    year_law: &YearLaw,
    figures: &Figures,
) -> Vec<Finding> {
    let mut found = Vec::new();
    for one in items.iter().filter(|one| one.kind_law.is_some() && one.qualified.ruling.counts) {
        found.extend(of_mixed_price(case, one.item, law, year_law, figures));
    }
    found
}

/// A row that takes something off the price of an item.
struct Reduction<'a> {
    /// Where its amount and what comes off what counts stand.
    amount: Place,
    reduces: Place,
    /// The row in the case.
    words: &'a str,
    paper: Option<&'a Key>,
    written: &'a crate::finding::Spanned<Money>,
    chosen: Option<&'a crate::finding::Spanned<TreatAs>>,
    /// How a part is written.
    part: &'static str,
}

fn of_mixed_price(
    case: &Case,
    item: &Item,
    law: &Law,
    year_law: &YearLaw,
    figures: &Figures,
) -> Vec<Finding> {
    let year = year_law.year;
    let key = &item.key.value;
    let of_item = |shared: &&Shared| shared.over.iter().any(|(over, _)| over.value == *key);
    let shared = || case.shared.iter().filter(of_item).map(|shared| &shared.row);
    let costs = item.costs.iter().chain(shared().filter_map(|row| match row {
        SharedRow::Cost(cost) => Some(cost),
        SharedRow::Incentive(_) => None,
    }));
    let incentives = item.incentives.iter().chain(shared().filter_map(|row| match row {
        SharedRow::Incentive(incentive) => Some(incentive),
        SharedRow::Cost(_) => None,
    }));
    let mut reductions = Vec::new();
    let mut costs_of_price: Vec<(Option<&Key>, Place, Place)> = Vec::new();
    for (n, cost) in (1u16..).zip(costs) {
        let place = |line| Place { year, line, of: Subject::Cost(key.clone(), n) };
        if cost.nature.value == CostNature::Discount {
            reductions.push(Reduction {
                amount: place(line::COST_PAID),
                reduces: place(line::COST_COUNTED),
                words: &cost.item.value,
                paper: cost.evidence.as_ref().map(|paper| &paper.value),
                written: &cost.amount,
                chosen: cost.treat_as.as_ref(),
                part: "counted",
            });
        } else {
            let paper = cost.evidence.as_ref().map(|paper| &paper.value);
            costs_of_price.push((paper, place(line::COST_PAID), place(line::COST_COUNTED)));
        }
    }
    for (n, incentive) in (1u16..).zip(incentives) {
        if incentive.kind.value == IncentiveKind::PriceRebate {
            let place = |line| Place { year, line, of: Subject::Incentive(key.clone(), n) };
            reductions.push(Reduction {
                amount: place(line::INCENTIVE_AMOUNT),
                reduces: place(line::INCENTIVE_REDUCES),
                words: &incentive.from.value,
                paper: incentive.evidence.as_ref().map(|paper| &paper.value),
                written: &incentive.amount,
                chosen: incentive.treat_as.as_ref(),
                part: "reduces",
            });
        }
    }
    let here = Place::of_item(year, line::ITEM_COUNTED, key);
    let worth = |expr: &Expr| evaluate::amount(expr, &here, law, figures);
    let authority = year_law.rules.get(&MIXED_PRICE).map(|rule| rule.authority.source.join("; "));
    let authority = authority.unwrap_or_default();
    let mut found = Vec::new();
    for one in reductions {
        // Where papers tell contracts apart, only what stands on the paper of the reduction is its price.
        let same = |paper: &Option<&Key>| paper.is_none() || *paper == one.paper;
        let known = costs_of_price.iter().any(|(paper, ..)| paper.is_some() && *paper == one.paper);
        let of_price = || costs_of_price.iter().filter(|(paper, ..)| !known || same(paper));
        let paid = Expr::Sum(of_price().map(|(_, paid, _)| Expr::Figure(paid.clone())).collect());
        let counted = Expr::Sum(of_price().map(|(_, _, counted)| Expr::Figure(counted.clone())).collect());
        let (Some(all), Some(counts)) = (worth(&paid), worth(&counted)) else { continue };
        if counts >= all || counts.is_zero() {
            continue;
        }
        let whole = Expr::Fact(CaseRef {
            path: String::new(),
            words: one.words.to_string(),
            span: one.written.span,
            value: Value::Money(one.written.value),
            evidence: None,
        });
        let by_price = whole.share(counted.clone(), paid.clone()).rounded(Rounding::ProductInCents);
        let Some(by_price) = worth(&by_price).filter(|_| figures.get(&one.amount).is_some()) else {
            continue;
        };
        let takes = figures.money(&one.reduces).unwrap_or(Money::ZERO);
        // What a maker pays, it pays for its product.
        let of_maker = ["maker", "manufacturer"].iter().any(|word| one.words.to_lowercase().contains(word));
        if (takes.is_zero() || of_maker) && one.chosen.is_none() {
            continue;
        }
        let sums =
            format!("of {} paid for `{key}`, {} does not count", all.spoken(), (all - counts).spoken());
        match one.chosen.map(|chosen| (chosen.span, chosen.value)) {
            Some((span, TreatAs::CountedInPart(part) | TreatAs::ReducesInPart(part))) if part < by_price => {
                let message = format!(
                    "{} of the {} is to come off what counts, less than its share by price: {sums}, so {} comes off what counts",
                    part.spoken(),
                    one.written.value.spoken(),
                    by_price.spoken()
                );
                let help = format!("write `treat_as: {{{}: {}}}`, or more", one.part, by_price.plain());
                found.push(
                    codes::REDUCTION_BELOW_SHARE
                        .finding(message)
                        .at(span)
                        .help(help)
                        .under(authority.clone()),
                );
            }
            Some(_) => {}
            None => {
                let message = format!(
                    "all of the {} (`{}`) is taken off what counts, which is the cautious reading; {sums}, so by price {} would come off",
                    one.written.value.spoken(),
                    one.words,
                    by_price.spoken()
                );
                let help = format!(
                    "nothing is to be done if it was granted on what counts; if it was granted on the whole price, write `treat_as: {{{}: {}}}` with `because:`, as a judgment on an open point",
                    one.part,
                    by_price.plain()
                );
                found.push(
                    codes::REDUCTION_OF_MIXED_PRICE
                        .finding(message)
                        .at(one.written.span)
                        .help(help)
                        .under(authority.clone()),
                );
            }
        }
    }
    found
}

/// The rule of the year about a reduction of a price that holds more than what counts.
const MIXED_PRICE: Rule = Rule::ReductionMixedPrice;
