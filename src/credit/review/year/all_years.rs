//! The limit for all years together, once the figures stand: what it cuts, and whose it is.

use crate::case::{Kind, TaxYear};
use crate::credit::chain::Reckoned;
use crate::credit::codes;
use crate::credit::evaluate::Figures;
use crate::credit::evaluate::line::{self, Place, Subject};
use crate::credit::plan::Planned;
use crate::finding::Finding;
use crate::law::{MethodStep, Rule};

/// Asks what only the figures show: where joint owners pass the limit for all years together or have earlier
/// credits, and where a couple with two main homes has window costs of earlier years.
pub(super) fn review(one: &Reckoned<'_>, made: &Figures) -> Vec<Finding> {
    let year = one.law.year;
    let limited = MethodStep::LimitOfAllYears.credit();
    let counting: Vec<&Planned<'_>> = one.items.iter().filter(|item| item.counts_for(limited)).collect();
    let rule = |name: Rule| one.law.cited(name);
    let mut found = joint_owners(&counting, year, made);
    found.extend(windows_of_two_homes(&counting, year, made));
    found.extend(limit_cuts(&counting, year, &rule(Rule::LifetimeCredits), made));
    found.extend(window_ceiling_cuts(&counting, year, &rule(Rule::LifetimeWindows), made));
    found
}

/// Where it stands how owners share the limit for all years together.
const SHARED: &str = "Form 5695 (2013), instructions pages 4 and 6";

/// Says with the sum that the limit for all years together cuts the year's credit because of earlier ones.
fn limit_cuts(counting: &[&Planned<'_>], year: TaxYear, rule: &str, made: &Figures) -> Option<Finding> {
    let at = |line| made.money(&Place::of_return(year, line));
    let (before, left) = (at(line::BEFORE_YEARS_LIMIT)?, at(line::YEARS_ROOM)?);
    let (limit, earlier) = (at(line::YEARS_LIMIT)?, at(line::EARLIER_CREDITS)?);
    let first = counting.first().filter(|_| left < before && !earlier.is_zero())?;
    let message = format!(
        "credits of earlier years come to {}, and the limit for all years together is {}: that leaves {} of the {} that the work of \
         {year} would earn",
        earlier.spoken(),
        limit.spoken(),
        left.spoken(),
        before.spoken()
    );
    let help = "compare the earlier credits with the forms that were filed; lines 306 to 314 and 388 show the sum, and what the limit \
                cuts is lost";
    let finding = codes::LIFETIME_LIMIT_CUTS.finding(message).at(first.item.key.span);
    Some(finding.about(format!("returns.{year}")).help(help).under(rule.to_string()))
}

/// Says with the sum that windows of earlier years cut what the year's windows count for.
fn window_ceiling_cuts(
    counting: &[&Planned<'_>],
    year: TaxYear,
    rule: &str,
    made: &Figures,
) -> Option<Finding> {
    let at = |line| made.money(&Place::of_return(year, line));
    let (cost, left) = (at(line::WINDOW_COST)?, at(line::WINDOW_ROOM)?);
    let (ceiling, earlier) = (at(line::WINDOW_CEILING)?, at(line::EARLIER_WINDOW_COSTS)?);
    let windows = counting.iter().find(|one| one.item.kind.value == Kind::WindowOrSkylight);
    let window = windows.filter(|_| left < cost && !earlier.is_zero())?;
    let message = format!(
        "windows of earlier years come to {} of cost, and no more than {} may ever count: that leaves {} of the {} of {year}",
        earlier.spoken(),
        ceiling.spoken(),
        left.spoken(),
        cost.spoken()
    );
    let help =
        "compare the earlier cost with the forms that were filed; lines 310 to 314 and 377 show the sum";
    let finding = codes::WINDOW_CEILING_CUTS.finding(message).at(window.item.key.span);
    Some(finding.about(format!("returns.{year}")).help(help).under(rule.to_string()))
}

/// The window worksheet is one for each form, and no source says which home's earlier windows stand on which.
fn windows_of_two_homes(counting: &[&Planned<'_>], year: TaxYear, made: &Figures) -> Option<Finding> {
    let of_home = |one: &&&Planned<'_>| {
        let of = Subject::Home(one.home.key.value.clone());
        one.item.kind.value == Kind::WindowOrSkylight
            && made.get(&Place { year, line: line::WINDOW_COUNTED, of }).is_some()
    };
    let window = counting.iter().find(of_home)?;
    let earlier = made.money(&Place::of_return(year, line::EARLIER_WINDOW_COSTS))?;
    if earlier.is_zero() {
        return None;
    }
    Some(
        codes::TWO_HOMES_EARLIER_WINDOWS.finding(
            format!(
                "to which of the two main homes do the earlier window costs of {} belong? They are taken off the ceiling of both forms of {year}",
                earlier.spoken()
            ),
        )
        .at(window.item.key.span)
        .about(format!("property.{}", window.item.key.value))
        .given([year.to_string(), earlier.spoken()])
        .help("that is the cautious reading; a preparer who knows which spouse had them may work out line by line what the other form gains"),
    )
}

/// The limit is shared by the owners' lines, which the case knows only from what they paid for the same items.
fn joint_owners(counting: &[&Planned<'_>], year: TaxYear, made: &Figures) -> Vec<Finding> {
    let of_return = |line| made.money(&Place::of_return(year, line));
    let (Some(all), Some(own)) =
        (of_return(line::OWNERS_BEFORE_YEARS_LIMIT), of_return(line::BEFORE_YEARS_LIMIT))
    else {
        return Vec::new();
    };
    let joint = counting.iter().find_map(|one| one.item.paid_by_others.as_ref().map(|paid| (one, paid)));
    let Some((first, paid)) = joint else { return Vec::new() };
    let mut found = Vec::new();
    if of_return(line::YEARS_LIMIT).is_some_and(|limit| limit < own) {
        found.push(
            codes::OTHER_OWNERS_CREDIT.finding(
                format!(
                    "do the other owners' forms of {year} hold only what they paid for these items? The limit is shared by all owners' \
                     credits before it, taken as {} together",
                    all.spoken()
                ),
            )
            .at(paid.span)
            .about(format!("property.{}", first.item.key.value))
            .given([year.to_string(), all.spoken()])
            .help("if they bought other things too, or used up the ceiling of windows before, work out this owner's share from their forms")
            .under(SHARED),
        );
    }
    if of_return(line::EARLIER_CREDITS).is_some_and(|earlier| !earlier.is_zero()) {
        found.push(
            codes::JOINT_OWNER_WITH_EARLIER_CREDIT.finding(
                format!(
                    "the form of {year} takes the credit of earlier years off this owner's share of the limit, which is never more than this owner's \
                     own credit; the law speaks of the limit itself"
                ),
            )
            .at(paid.span)
            .help("the form's arithmetic is followed; a preparer who takes the law's reading should say so on the return")
            .under(SHARED),
        );
    }
    found
}
