//! Lines 700 and 800: the effect on the home's basis, and the net cost to the household.
//!
//! Comes in: every item of the years computed so far and the credits allowed in them. Goes out: steps that no
//! return line depends on.

use super::Plan;
use crate::case::{Item, TaxYear};
use crate::credit::evaluate::Figures;
use crate::credit::evaluate::expression::{Expr, Rounding};
use crate::credit::evaluate::line::{self, Line, Place, Subject};
use crate::law::Rule;

/// Plans the effect on basis. `made` holds the figures of earlier years; items and credits of this year are planned
/// already.
pub(in crate::credit) fn plan_basis(plan: &mut Plan<'_>, made: &Figures) {
    let added = everywhere(plan, made, line::ITEM_BASIS);
    plan.line(line::BASIS_ADDED, Expr::Sum(added), &[Rule::Basis]);
    let improvement = everywhere(plan, made, line::IMPROVEMENT_ALLOWED);
    plan.line(line::BASIS_IMPROVEMENT, Expr::Sum(improvement), &[Rule::Basis]);
    let clean = own_clean_allowed(plan, made);
    plan.line(line::BASIS_CLEAN, Expr::Sum(clean), &[Rule::Basis]);
    let credits = Expr::Sum(vec![plan.at(line::BASIS_IMPROVEMENT), plan.at(line::BASIS_CLEAN)]);
    plan.line(
        line::BASIS_INCREASE,
        plan.at(line::BASIS_ADDED).less(credits).not_below_zero(),
        &[Rule::Basis],
    );
    let unused = own_clean_left(plan, made);
    plan.line(line::BASIS_UNUSED, unused, &[Rule::Basis]);
    let if_used = plan.at(line::BASIS_INCREASE).less(plan.at(line::BASIS_UNUSED)).not_below_zero();
    plan.line(line::BASIS_IF_USED, if_used, &[Rule::Basis]);
}

/// Plans the net cost: both what has been received so far and what it would be if all is used (common practice).
pub(in crate::credit) fn plan_net_cost(plan: &mut Plan<'_>, made: &Figures) {
    let gross = client_part(plan, made, line::ITEM_PAID, line::ITEM_CLIENT_PAID);
    if gross.is_empty() {
        return;
    }
    plan.line(line::GROSS_PRICE, Expr::Sum(gross), &[]);
    let reductions = client_part(plan, made, line::ITEM_REDUCTIONS, line::ITEM_CLIENT_REDUCTIONS);
    plan.line(line::PRICE_REDUCTIONS, Expr::Sum(reductions), &[]);
    let net = plan.at(line::GROSS_PRICE).less(plan.at(line::PRICE_REDUCTIONS)).not_below_zero();
    plan.line(line::NET_PRICE, net, &[]);
    let qualified = everywhere(plan, made, line::ITEM_QUALIFIED);
    plan.line(line::QUALIFIED_COST, Expr::Sum(qualified), &[]);
    let figured = [line::IMPROVEMENT_BEFORE_LIMIT];
    let figured =
        figured.iter().chain(line::CLEAN_EARNED).flat_map(|line| everywhere(plan, made, *line)).collect();
    plan.line(line::FEDERAL_CREDIT, Expr::Sum(figured), &[]);
    let mut used = everywhere(plan, made, line::IMPROVEMENT_ALLOWED);
    used.extend(own_clean_allowed(plan, made));
    plan.line(line::FEDERAL_USED, Expr::Sum(used), &[]);
    let left = own_clean_left(plan, made);
    plan.line(line::FEDERAL_LEFT, left, &[Rule::Carryforward]);
    state_and_other(plan, made);
    let received = Expr::Sum(vec![
        plan.at(line::FEDERAL_USED),
        plan.at(line::STATE_CREDIT_NET),
        plan.at(line::TAXABLE_INCENTIVES_NET),
    ]);
    plan.line(line::NET_COST_SO_FAR, plan.at(line::NET_PRICE).less(received), &[]);
    plan.line(line::NET_COST_IF_USED, plan.at(line::NET_COST_SO_FAR).less(plan.at(line::FEDERAL_LEFT)), &[]);
    let share = |line: Line| {
        let share = Expr::Number(1, "whole").share(plan.at(line), plan.at(line::GROSS_PRICE));
        share.rounded(Rounding::ShareInTenthsOfPercent)
    };
    let (so_far, if_used) = (share(line::NET_COST_SO_FAR), share(line::NET_COST_IF_USED));
    plan.line(line::NET_SHARE_SO_FAR, so_far, &[]);
    plan.line(line::NET_SHARE_IF_USED, if_used, &[]);
}

/// Returns the clean energy credit allowed so far on property of the case. A balance brought in from before the case's
/// property is credit of other property, whose basis and cost are not the case's (26 U.S.C. 25D(f) speaks of the
/// expenditure that earned the credit).
fn own_clean_allowed(plan: &Plan<'_>, made: &Figures) -> Vec<Expr> {
    match foreign_origins(plan, made).is_empty() {
        true => everywhere(plan, made, line::CLEAN_ALLOWED),
        false => own_origin_rows(plan, made, line::ORIGIN_USED),
    }
}

/// Returns what is carried forward of it.
fn own_clean_left(plan: &Plan<'_>, made: &Figures) -> Expr {
    if foreign_origins(plan, made).is_empty() {
        return plan.at(line::CARRIED_OUT);
    }
    let of_year = |expr: &Expr| matches!(expr, Expr::Figure(place) if place.year == plan.year);
    Expr::Sum(own_origin_rows(plan, made, line::ORIGIN_LEFT).into_iter().filter(of_year).collect())
}

/// Returns the rows by origin year of credit that property of the case earned.
fn own_origin_rows(plan: &Plan<'_>, made: &Figures, line: Line) -> Vec<Expr> {
    let foreign = foreign_origins(plan, made);
    let own = |expr: &Expr| match expr {
        Expr::Figure(Place { of: Subject::Origin(origin), .. }) => !foreign.contains(origin),
        _ => false,
    };
    everywhere(plan, made, line).into_iter().filter(own).collect()
}

/// Returns the origin years up to which the case has no property: their credit was earned by something else.
fn foreign_origins(plan: &Plan<'_>, made: &Figures) -> Vec<TaxYear> {
    let first = everywhere(plan, made, line::ITEM_BASIS).into_iter().filter_map(|expr| match expr {
        Expr::Figure(place) => Some(place.year),
        _ => None,
    });
    let first = first.min();
    let origins = everywhere(plan, made, line::ORIGIN_USED).into_iter().filter_map(|expr| match expr {
        Expr::Figure(Place { of: Subject::Origin(origin), .. }) => Some(origin),
        _ => None,
    });
    origins.filter(|origin| first.is_none_or(|first| *origin < first)).collect()
}

/// State credits and incentives that leave the cost alone, each after federal tax where the case gives the rate.
/// A state credit lowers an itemized deduction for state tax, so its worth is less by the federal rate; with the
/// standard deduction it keeps its face amount (common practice; the reasoning of the Department of Energy's
/// homeowner guide, formula from memory).
fn state_and_other(plan: &mut Plan<'_>, made: &Figures) {
    use crate::case::IncentiveKind as Kind;
    let after_tax = |plan: &Plan<'_>, taxed: bool| {
        let rate = plan.federal_rate().filter(|_| taxed)?;
        Some(Expr::Number(1, "whole").less(rate))
    };
    let face = incentives(plan, made, &|kind| kind == Kind::StateTaxCredit);
    plan.line(line::STATE_CREDIT, Expr::Sum(face), &[]);
    let itemizes = plan.case.planning.itemizes.as_ref().is_some_and(|one| one.value);
    let net = match after_tax(plan, itemizes) {
        Some(kept) => plan.at(line::STATE_CREDIT).times(kept).rounded(Rounding::ProductInCents),
        None => plan.at(line::STATE_CREDIT),
    };
    plan.line(line::STATE_CREDIT_NET, net, &[]);
    let rest = incentives(plan, made, &|kind| {
        matches!(kind, Kind::StateGrant | Kind::LocalGrant | Kind::EnergyCertificate | Kind::Other)
    });
    let net = match after_tax(plan, true) {
        Some(kept) if !rest.is_empty() => Expr::Sum(rest).times(kept).rounded(Rounding::ProductInCents),
        _ => Expr::Sum(rest),
    };
    plan.line(line::TAXABLE_INCENTIVES_NET, net, &[]);
}

/// Returns what incentives of some kinds did not already take off the price, over all items so far.
fn incentives(
    plan: &Plan<'_>,
    made: &Figures,
    wanted: &dyn Fn(crate::case::IncentiveKind) -> bool,
) -> Vec<Expr> {
    let mut found = Vec::new();
    let planned = plan.steps.iter().map(|step| &step.place);
    let earlier = made.all().iter().map(|figure| &figure.place);
    for place in
        earlier.chain(planned).filter(|place| place.line == line::INCENTIVE_AMOUNT && place.year <= plan.year)
    {
        let Subject::Incentive(key, n) = &place.of else {
            continue;
        };
        let Some(item) = plan.case.item(key) else { continue };
        if incentive_kind(plan, item, *n).is_some_and(wanted) {
            let reduces = Place { line: line::INCENTIVE_REDUCES, ..place.clone() };
            found.push(Expr::Figure(place.clone()).less(Expr::Figure(reduces)));
        }
    }
    found
}

/// Returns the kind of the n-th incentive an item bears, shared ones after its own.
fn incentive_kind(plan: &Plan<'_>, item: &Item, n: u16) -> Option<crate::case::IncentiveKind> {
    let at = usize::from(n) - 1;
    if let Some(own) = item.incentives.get(at) {
        return Some(own.kind.value);
    }
    plan.case
        .shared
        .iter()
        .filter(|shared| shared.over.iter().any(|(key, _)| key.value == item.key.value))
        .filter_map(|shared| match &shared.row {
            crate::case::SharedRow::Incentive(incentive) => Some(incentive.kind.value),
            crate::case::SharedRow::Cost(_) => None,
        })
        .nth(at - item.incentives.len())
}

/// Returns what the client bore of a line: of an association's cost only the client's part.
fn client_part(plan: &Plan<'_>, made: &Figures, whole: Line, part: Line) -> Vec<Expr> {
    let of_association = |expr: &Expr| match expr {
        Expr::Figure(Place { of: Subject::Item(key), .. }) => {
            plan.case.item(key).is_some_and(|item| item.association.is_some())
        }
        _ => false,
    };
    let own = everywhere(plan, made, whole).into_iter().filter(|expr| !of_association(expr));
    own.chain(everywhere(plan, made, part)).collect()
}

/// Returns every figure on a line, of earlier years and of this year's plan, up to this year.
fn everywhere(plan: &Plan<'_>, made: &Figures, line: Line) -> Vec<Expr> {
    let earlier = made.all().iter().map(|figure| &figure.place).filter(|place| place.year < plan.year);
    let planned = plan.steps.iter().map(|step| &step.place);
    earlier
        .chain(planned)
        .filter(|place| place.line == line)
        .map(|place| Expr::Figure(place.clone()))
        .collect()
}
