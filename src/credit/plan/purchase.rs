//! Schedules 100 and 200: what was bought, what it cost, which incentives came, and what of it qualifies.
//!
//! Comes in: the items of a year. Goes out: steps from each cost and incentive row to the qualified cost of each
//! item (line 230). Amounts of money are kept in cents and shares of them exactly: an amount is rounded once, where it
//! enters an official line (26 CFR 301.6102-1).

use super::enabling;
use super::{Plan, Planned, counts, item_fact};
use crate::case::{
    Acquired, Cost, CostNature, FinancedAs, Incentive, IncentiveKind, Item, Key, Kind, Part, Shared,
    SharedRow, TreatAs,
};
use crate::credit::codes;
use crate::credit::evaluate::expression::{CaseRef, Expr, Rounding, Ruling, Value, share_value};
use crate::credit::evaluate::line::{self, Line, Place, Subject};
use crate::finding::Finding;
use crate::law::{Amount, Authority, Class, Counts, Credit, Effect, LawKey, Rule};
use crate::money::Money;

/// A cost or incentive as one item bears it: its own row, or its part of a shared one.
struct Borne<'a, T> {
    pub row: &'a T,
    pub amount: Expr,
    /// The whole amount, where the row is shared.
    whole: Option<Expr>,
}

impl<T> Borne<'_, T> {
    /// Returns the item's part of an amount that the case gives for the row as a whole.
    fn part_of(&self, of_row: Expr) -> Expr {
        match &self.whole {
            Some(whole) => of_row.share(self.amount.clone(), whole.clone()),
            None => of_row,
        }
    }
}

/// Plans schedules 100 and 200 of every item of the year.
pub(in crate::credit) fn plan(plan: &mut Plan<'_>) {
    for at in enabling::order(plan) {
        enabling::decide(plan, at);
        schedule(plan, &plan.items[at].clone());
    }
}

fn schedule(plan: &mut Plan<'_>, planned: &Planned<'_>) {
    let item = planned.item;
    let key = &item.key.value;
    let class = planned.kind_law.map(|law| law.class);
    let credit = planned.kind_law.map(|law| law.credit);
    let costs = costs_of(plan, item);
    let incentives = incentives_of(plan, item);

    let mut paid = Vec::new();
    let mut counted = Vec::new();
    let mut basis = Vec::new();
    let mixed = mixed_price(plan, planned, class, &costs);
    for (n, cost) in (1u16..).zip(&costs) {
        let of = Subject::Cost(key.clone(), n);
        let about = Some(format!("{} ({})", cost.row.item.value, cost.row.nature.value.label()));
        let signed = |amount: Expr| match cost.row.nature.value {
            CostNature::Discount => Expr::nothing().less(amount),
            _ => amount,
        };
        plan.row(line::COST_PAID, of.clone(), about.clone(), signed(cost.amount.clone()), &[]);
        let amount = Expr::Figure(Place { year: plan.year, line: line::COST_PAID, of: of.clone() });
        let (expr, in_basis) = counted_part(plan, planned, class, cost, amount.clone(), mixed);
        plan.row(line::COST_COUNTED, of.clone(), about, expr, &[]);
        paid.push(amount.clone());
        if in_basis {
            basis.push(amount);
        }
        counted.push(Expr::Figure(Place { year: plan.year, line: line::COST_COUNTED, of }));
    }
    let of_item = |line: Line| Expr::Figure(Place::of_item(plan.year, line, key));
    let at_counted = of_item(line::ITEM_COUNTED);
    let (at_reductions, at_subsidized) = (of_item(line::ITEM_REDUCTIONS), of_item(line::ITEM_SUBSIDIZED));
    let (at_net, at_association) = (of_item(line::ITEM_NET), of_item(line::ITEM_ASSOCIATION_SHARE));
    let at_nonbusiness = of_item(line::ITEM_NONBUSINESS);
    item_line(plan, line::ITEM_PAID, item, Expr::Sum(paid).not_below_zero());
    item_line(plan, line::ITEM_COUNTED, item, Expr::Sum(counted).not_below_zero());

    let mut reductions = Vec::new();
    for (n, incentive) in (1u16..).zip(&incentives) {
        let of = Subject::Incentive(key.clone(), n);
        let about = Some(format!("{} ({})", incentive.row.from.value, incentive.row.kind.value.label()));
        plan.row(line::INCENTIVE_AMOUNT, of.clone(), about.clone(), incentive.amount.clone(), &[]);
        let amount = Expr::Figure(Place { year: plan.year, line: line::INCENTIVE_AMOUNT, of: of.clone() });
        let (part, ruling) = incentive_ruling(plan, credit, incentive, mixed);
        plan.row(line::INCENTIVE_REDUCES, of.clone(), about, part.unwrap_or(amount).ruled(ruling), &[]);
        reductions.push(Expr::Figure(Place { year: plan.year, line: line::INCENTIVE_REDUCES, of }));
    }
    item_line(plan, line::ITEM_REDUCTIONS, item, Expr::Sum(reductions));

    let mut net = at_counted.less(at_reductions.clone());
    if let Some(ruling) = subsidized(plan, credit, item) {
        let financed = item.financed.as_ref().expect("a ruling on financing needs financing");
        let fact =
            item_fact(item, "financed.amount", financed.amount.span, Value::Money(financed.amount.value));
        item_line(plan, line::ITEM_SUBSIDIZED, item, Expr::Fact(fact).ruled(ruling));
        net = net.less(at_subsidized);
    }
    item_line(plan, line::ITEM_NET, item, net.not_below_zero());
    let mut last = at_net;
    let mut basis_total = Expr::Sum(basis).less(at_reductions).not_below_zero();
    if let Some(association) = &item.association {
        let fact = item_fact(
            item,
            "association.share",
            association.share.span,
            share_value(association.share.value),
        );
        let share = Expr::Fact(fact);
        let rules = plan.authority(Rule::Association);
        let ruling = counts(
            format!(
                "a member is treated as having paid {} of the association's cost",
                association.share.value
            ),
            rules,
        );
        let expr = last.times(share.clone()).ruled(ruling);
        item_line(plan, line::ITEM_ASSOCIATION_SHARE, item, expr);
        for (whole, part) in
            [(line::ITEM_PAID, line::ITEM_CLIENT_PAID), (line::ITEM_REDUCTIONS, line::ITEM_CLIENT_REDUCTIONS)]
        {
            let whole = Expr::Figure(Place::of_item(plan.year, whole, key));
            item_line(plan, part, item, whole.times(share.clone()).rounded(Rounding::ProductInCents));
        }
        last = at_association;
        basis_total = basis_total.times(share).rounded(Rounding::ProductInCents);
    }
    if let Some((share, ruling)) = nonbusiness(plan, item) {
        item_line(plan, line::ITEM_NONBUSINESS, item, last.times(share).ruled(ruling));
        last = at_nonbusiness;
    }
    let last = enabling::conditional(plan, planned, last);
    item_line(plan, line::ITEM_QUALIFIED, item, last.ruled(planned.qualified.ruling.clone()));
    if plan.year_law.form_rows.contains_key(&item.kind.value) {
        units(plan, item);
    }
    others(plan, item);
    if item.acquired.value != Acquired::Bought {
        let because = format!("the client does not own it ({})", item.acquired.value.label());
        let ruling = Ruling { counts: false, ..counts(because, plan.authority(Rule::Lease)) };
        basis_total = basis_total.ruled(ruling);
    }
    item_line(plan, line::ITEM_BASIS, item, basis_total);
}

/// Adds a step about an item.
fn item_line(plan: &mut Plan<'_>, line: Line, item: &Item, expr: Expr) {
    plan.row(line, Subject::Item(item.key.value.clone()), Some(item_words(item)), expr, &[]);
}

/// Names an item for people.
pub(in crate::credit) fn item_words(item: &Item) -> String {
    let units = if item.units.value > 1 { format!(", {} units", item.units.value) } else { String::new() };
    format!("{} ({}{units})", item.key.value, item.kind.value.label())
}

/// Decides what of a cost counts. Returns the expression and whether the cost adds to the home's basis.
fn counted_part(
    plan: &mut Plan<'_>,
    planned: &Planned<'_>,
    class: Option<Class>,
    borne: &Borne<'_, Cost>,
    amount: Expr,
    mixed: bool,
) -> (Expr, bool) {
    let cost = borne.row;
    let Some(class) = class else {
        return (amount.ruled(planned.qualified.ruling.clone()), true);
    };
    // The covering of a roof that is itself the property is its material, not the roof under some other property.
    let nature = match (planned.item.kind.value, cost.nature.value) {
        (Kind::Roof, CostNature::RoofCovering) => CostNature::Material,
        (_, nature) => nature,
    };
    let Some(law) = plan.year_law.costs.get(&(class, nature)) else {
        return (amount.ruled(planned.qualified.ruling.clone()), true);
    };
    let law = law.clone();
    let ruling = |counts: bool| Ruling {
        counts,
        because: law.because.clone(),
        authority: law.authority.source.clone(),
        settled: law.authority.settled,
        chosen: None,
    };
    if let Some(chosen) = &cost.treat_as {
        let divided = nature == CostNature::Discount && matches!(chosen.value, TreatAs::CountedInPart(_));
        if law.authority.settled && !(divided && mixed) {
            plan.findings.push(overruled(chosen.span, &law.because, &law.authority));
        } else if let Some(expr) = chosen_cost(borne, chosen, amount.clone(), &law.authority) {
            return (expr, law.adds_to_basis);
        }
    }
    let expr = match law.counts {
        Counts::Yes => amount.ruled(ruling(true)),
        Counts::No => amount.ruled(ruling(false)),
        Counts::MaterialsOnly => match &cost.materials {
            Some(materials) => {
                let fact =
                    cost_fact(planned.item, cost, "materials", materials.span, share_value(materials.value));
                let part = borne.amount.clone().times(Expr::Fact(fact));
                part.ruled(ruling(true))
            }
            None => {
                plan.findings.push(
                    codes::MISSING_MATERIALS_SHARE.finding(
                        format!("how much of `{}` is for goods? Only they count for {}; until it is said, nothing of this price does", cost.item.value, planned.item.kind.value.label()),
                    )
                    .at(cost.nature.span)
                    .about(format!("property.{}", planned.item.key.value))
                    .given([cost.item.value.clone(), cost.amount.value.spoken()])
                    .help("add `materials: 60%` with the installer's split, and `because:` saying how it was made")
                    .under(law.authority.source.join("; ")),
                );
                amount.ruled(ruling(false))
            }
        },
    };
    (expr, law.adds_to_basis)
}

/// Applies a treatment the preparer chose where the law leaves it open.
fn chosen_cost(
    borne: &Borne<'_, Cost>,
    chosen: &crate::finding::Spanned<TreatAs>,
    amount: Expr,
    authority: &Authority,
) -> Option<Expr> {
    let cost = borne.row;
    let because = cost.because.as_ref().map_or_else(String::new, |because| because.value.clone());
    let ruling = |counts| Ruling {
        counts,
        because: format!("preparer's judgment: {because}"),
        authority: authority.source.clone(),
        settled: false,
        chosen: Some(chosen.span),
    };
    match chosen.value {
        TreatAs::Counted => Some(amount.ruled(ruling(true))),
        TreatAs::NotCounted => Some(amount.ruled(ruling(false))),
        TreatAs::CountedInPart(part) if part <= cost.amount.value => {
            let fact = CaseRef {
                path: "treat_as.counted".to_string(),
                words: format!("part of {} that counts", cost.item.value),
                span: chosen.span,
                value: Value::Money(part),
                evidence: cost.evidence.as_ref().map(|key| key.value.to_string()),
            };
            let part = borne.part_of(Expr::Fact(fact));
            let part = match cost.nature.value {
                CostNature::Discount => Expr::nothing().less(part),
                _ => part,
            };
            Some(part.ruled(ruling(true)))
        }
        // The reading of the case has complained about these.
        TreatAs::CountedInPart(_)
        | TreatAs::ReducesCost
        | TreatAs::DoesNotReduce
        | TreatAs::ReducesInPart(_) => None,
    }
}

/// Complains about a choice where the law leaves none.
fn overruled(span: crate::finding::Span, because: &str, authority: &Authority) -> Finding {
    codes::SETTLED_LAW
        .finding(format!("the law is settled here and leaves no choice: {because}"))
        .at(span)
        .help("remove `treat_as:`")
        .under(authority.source.join("; "))
}

/// Decides what an incentive does to the cost. Returns the part that it concerns too, where the preparer has divided it.
fn incentive_ruling(
    plan: &mut Plan<'_>,
    credit: Option<Credit>,
    borne: &Borne<'_, Incentive>,
    mixed: bool,
) -> (Option<Expr>, Ruling) {
    let incentive = borne.row;
    let credit = credit.unwrap_or(Credit::Clean);
    let Some(law) = plan.year_law.incentives.get(&(credit, incentive.kind.value)).cloned() else {
        return (None, counts("reduces the price paid", Vec::new()));
    };
    let by_law = Ruling {
        counts: law.effect == Effect::ReducesCost,
        because: law.because.clone(),
        authority: law.authority.source.clone(),
        settled: law.authority.settled,
        chosen: None,
    };
    let Some(chosen) = &incentive.treat_as else {
        return (None, by_law);
    };
    let divided = incentive.kind.value == IncentiveKind::PriceRebate
        && matches!(chosen.value, TreatAs::ReducesInPart(_));
    if law.authority.settled && !(divided && mixed) {
        plan.findings.push(overruled(chosen.span, &law.because, &law.authority));
        return (None, by_law);
    }
    let (reduces, part) = match chosen.value {
        TreatAs::ReducesCost => (true, None),
        TreatAs::DoesNotReduce => (false, None),
        TreatAs::ReducesInPart(part) if part <= incentive.amount.value => {
            let fact = CaseRef {
                path: "treat_as.reduces".to_string(),
                words: format!("part of the incentive from {} that reduces the cost", incentive.from.value),
                span: chosen.span,
                value: Value::Money(part),
                evidence: incentive.evidence.as_ref().map(|key| key.value.to_string()),
            };
            (true, Some(borne.part_of(Expr::Fact(fact))))
        }
        // The reading of the case has complained about these.
        _ => return (None, by_law),
    };
    let because = incentive.because.as_ref().map_or_else(String::new, |because| because.value.clone());
    let ruling = Ruling {
        counts: reduces,
        because: format!("preparer's judgment: {because}"),
        settled: false,
        chosen: Some(chosen.span),
        ..by_law
    };
    (part, ruling)
}

/// Says whether what was paid for an item holds costs that do not count beside others: then nothing says how much of a
/// reduction of the price belongs to what counts.
fn mixed_price(
    plan: &Plan<'_>,
    planned: &Planned<'_>,
    class: Option<Class>,
    costs: &[Borne<'_, Cost>],
) -> bool {
    let Some(class) = class.filter(|_| planned.qualified.ruling.counts) else { return false };
    let positive = costs.iter().map(|one| one.row).filter(|one| one.nature.value != CostNature::Discount);
    positive.filter(|one| !one.amount.value.is_zero()).any(|cost| {
        let of_roof = planned.item.kind.value == Kind::Roof && cost.nature.value == CostNature::RoofCovering;
        let law = plan.year_law.costs.get(&(class, cost.nature.value)).filter(|_| !of_roof);
        let chosen = cost.treat_as.as_ref().filter(|_| law.is_some_and(|law| !law.authority.settled));
        match (chosen.map(|chosen| chosen.value), law.map(|law| law.counts)) {
            (Some(TreatAs::NotCounted | TreatAs::CountedInPart(_)), _) => true,
            (Some(TreatAs::Counted), _) => false,
            (_, counts) => counts.is_some_and(|counts| counts != Counts::Yes),
        }
    })
}

/// Returns the ruling on subsidized energy financing, where the item has some.
fn subsidized(plan: &Plan<'_>, credit: Option<Credit>, item: &Item) -> Option<Ruling> {
    let financed = item.financed.as_ref()?;
    if financed.how.value != FinancedAs::SubsidizedEnergyFinancing {
        return None;
    }
    let (counts_in_cost, authority) = plan.year_law.subsidized_financing_counts.get(&credit?)?.clone();
    let because = if counts_in_cost {
        "subsidized energy financing does not take anything from the cost of this credit"
    } else {
        "cost paid from subsidized energy financing does not count for this credit"
    };
    Some(Ruling {
        counts: !counts_in_cost,
        because: because.to_string(),
        authority: authority.source,
        settled: authority.settled,
        chosen: None,
    })
}

/// Returns the share and the ruling on nonbusiness use, where it lies below the threshold.
fn nonbusiness(plan: &Plan<'_>, item: &Item) -> Option<(Expr, Ruling)> {
    let share = item.nonbusiness_use.as_ref()?;
    let entry = plan.year_law.values.get(&LawKey::BusinessThreshold)?;
    let Amount::Rate(threshold) = entry.amount else {
        return None;
    };
    if share.value >= threshold {
        return None;
    }
    let because = format!("below {threshold} of nonbusiness use only the nonbusiness share counts");
    let fact = item_fact(item, "nonbusiness_use", share.span, share_value(share.value));
    Some((Expr::Fact(fact), counts(because, entry.authority.source.clone())))
}

/// Plans one row per unit of an item. So many units together are worth their part of the whole, rounded to the
/// cent; one unit is what it adds to those before it, so that the rows come to the whole.
fn units(plan: &mut Plan<'_>, item: &Item) {
    let key = &item.key.value;
    let count = item.units.value.max(1);
    let together = |n: u16| {
        let whole = Expr::Figure(Place::of_item(plan.year, line::ITEM_QUALIFIED, key));
        if n == count {
            return whole;
        }
        let (n, count) = (Expr::Number(u32::from(n), "units"), Expr::Number(u32::from(count), "units"));
        whole.share(n, count).rounded(Rounding::ProductInCents)
    };
    let rows: Vec<(u16, Expr)> = (1..=count)
        .map(|n| (n, if n == 1 { together(1) } else { together(n).less(together(n - 1)) }))
        .collect();
    for (n, expr) in rows {
        let about = Some(format!("{key}, unit {n} of {count}"));
        plan.row(line::UNIT_QUALIFIED, Subject::Unit(key.clone(), n), about, expr, &[]);
    }
}

/// Plans what joint occupants paid, and per unit what all owners paid.
fn others(plan: &mut Plan<'_>, item: &Item) {
    let Some(paid) = &item.paid_by_others else { return };
    let key = &item.key.value;
    let fact = item_fact(item, "paid_by_others", paid.span, Value::Money(paid.value));
    let mut expr = Expr::Fact(fact);
    if let Some((share, ruling)) = nonbusiness(plan, item) {
        expr = expr.times(share).ruled(ruling);
    }
    item_line(plan, line::ITEM_OTHERS, item, expr);
    let own = Expr::Figure(Place::of_item(plan.year, line::ITEM_QUALIFIED, key));
    let rest = Expr::Figure(Place::of_item(plan.year, line::ITEM_OTHERS, key));
    item_line(plan, line::ITEM_ALL_OWNERS, item, Expr::Sum(vec![own, rest]));
}

/// Returns the costs an item bears: its own, then its parts of shared ones.
fn costs_of<'a>(plan: &Plan<'a>, item: &'a Item) -> Vec<Borne<'a, Cost>> {
    let own = item.costs.iter().enumerate().map(|(n, cost)| {
        let fact = CaseRef {
            path: format!("property.{}.costs.{}.amount", item.key.value, n + 1),
            words: cost.item.value.clone(),
            span: cost.amount.span,
            value: Value::Money(cost.amount.value),
            evidence: cost.evidence.as_ref().map(|key| key.value.to_string()),
        };
        Borne { row: cost, amount: Expr::Fact(fact), whole: None }
    });
    let shared = plan.case.shared.iter().enumerate().filter_map(|(n, shared)| match &shared.row {
        SharedRow::Cost(cost) => {
            let amount = part_of(
                shared,
                n,
                &item.key.value,
                &cost.item.value,
                cost.amount.span,
                cost.amount.value,
                cost.evidence.as_ref().map(|key| key.value.to_string()),
            )?;
            Some(Borne {
                row: cost,
                amount,
                whole: Some(whole(cost.amount.span, cost.amount.value, &cost.item.value, n)),
            })
        }
        SharedRow::Incentive(_) => None,
    });
    own.chain(shared).collect()
}

/// Returns the incentives an item bears: its own, then its parts of shared ones.
fn incentives_of<'a>(plan: &Plan<'a>, item: &'a Item) -> Vec<Borne<'a, Incentive>> {
    let own = item.incentives.iter().enumerate().map(|(n, incentive)| {
        let fact = CaseRef {
            path: format!("property.{}.incentives.{}.amount", item.key.value, n + 1),
            words: incentive.from.value.clone(),
            span: incentive.amount.span,
            value: Value::Money(incentive.amount.value),
            evidence: incentive.evidence.as_ref().map(|key| key.value.to_string()),
        };
        Borne { row: incentive, amount: Expr::Fact(fact), whole: None }
    });
    let shared = plan.case.shared.iter().enumerate().filter_map(|(n, shared)| match &shared.row {
        SharedRow::Incentive(incentive) => {
            let amount = part_of(
                shared,
                n,
                &item.key.value,
                &incentive.from.value,
                incentive.amount.span,
                incentive.amount.value,
                incentive.evidence.as_ref().map(|key| key.value.to_string()),
            )?;
            Some(Borne {
                row: incentive,
                amount,
                whole: Some(whole(incentive.amount.span, incentive.amount.value, &incentive.from.value, n)),
            })
        }
        SharedRow::Cost(_) => None,
    });
    own.chain(shared).collect()
}

/// Makes the whole amount of a shared row.
fn whole(span: crate::finding::Span, amount: Money, words: &str, n: usize) -> Expr {
    Expr::Fact(CaseRef {
        path: format!("shared.{}.amount", n + 1),
        words: words.to_string(),
        span,
        value: Value::Money(amount),
        evidence: None,
    })
}

/// Returns the part of a shared row that one item bears; the last item bears the cents that do not divide.
fn part_of(
    shared: &Shared,
    n: usize,
    item: &Key,
    words: &str,
    span: crate::finding::Span,
    whole: Money,
    evidence: Option<String>,
) -> Option<Expr> {
    let at = shared.over.iter().position(|(key, _)| key.value == *item)?;
    let fact = |name: String, span, value| CaseRef {
        path: format!("shared.{}.{name}", n + 1),
        words: words.to_string(),
        span,
        value,
        evidence: evidence.clone(),
    };
    let whole_fact = || Expr::Fact(fact("amount".to_string(), span, Value::Money(whole)));
    let one = |(key, part): &(crate::finding::Spanned<Key>, crate::finding::Spanned<Part>)| match part.value {
        Part::Share(rate) => {
            let share = Expr::Fact(fact(format!("over.{}", key.value), part.span, share_value(rate)));
            whole_fact().times(share).rounded(Rounding::ProductInCents)
        }
        Part::Amount(amount) => {
            Expr::Fact(fact(format!("over.{}", key.value), part.span, Value::Money(amount)))
        }
    };
    let shares_only = shared.over.iter().all(|(_, part)| matches!(part.value, Part::Share(_)));
    if shares_only && at + 1 == shared.over.len() && at > 0 {
        return Some(whole_fact().less(Expr::Sum(shared.over[..at].iter().map(one).collect())));
    }
    Some(one(&shared.over[at]))
}

/// Makes the reference to a fact of a cost.
fn cost_fact(item: &Item, cost: &Cost, name: &str, span: crate::finding::Span, value: Value) -> CaseRef {
    CaseRef {
        path: format!("property.{}.costs.{name}", item.key.value),
        words: format!("{name} of {}", cost.item.value),
        span,
        value,
        evidence: cost.evidence.as_ref().map(|key| key.value.to_string()),
    }
}
