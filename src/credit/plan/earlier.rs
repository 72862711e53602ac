//! Lines 306 to 314: home improvement credits and window costs of earlier years, which use up the limits that
//! reach over all years.
//!
//! Comes in: the figures of the earlier years of the case, and what the case says under `earlier_credits`. Goes
//! out: one row for each year that counts, and their totals, as the lifetime and window worksheets add them up.
//! Which years count is law data. A year of the case itself is computed; of other years the case has to say.

use super::Plan;
use crate::case::{Case, EarlierCredits, Kind, TaxYear};
use crate::credit::codes;
use crate::credit::evaluate::Figures;
use crate::credit::evaluate::expression::{CaseRef, Expr, Value};
use crate::credit::evaluate::line::{self, Line, Place, Subject};
use crate::finding::{Finding, Spanned};
use crate::law::{Credit, Law, LawKey, Rule, YearLaw};
use crate::money::Money;

/// The credit whose form this is.
const THIS: Credit = Credit::Improvement;

/// What is known of an amount of an earlier year.
struct Known {
    /// The places of the case's own computation, where it has one.
    computed: Vec<Place>,
    /// The expression; nothing where the year is not known at all.
    expr: Expr,
    /// Whether the case computes or states it.
    said: bool,
}

/// Plans the credits of earlier years and their total.
pub(in crate::credit) fn credits(plan: &mut Plan<'_>, made: &Figures) {
    let Some(how) = plan.year_law.method(THIS) else { return };
    let mut rows = Vec::new();
    let mut unsaid = Vec::new();
    for year in how.earlier_credits.clone() {
        let known = known(plan, made, year, Amount::Credit);
        if !known.said {
            unsaid.push(year);
        }
        plan.row(
            line::EARLIER_CREDIT,
            Subject::Origin(year),
            Some(year.to_string()),
            known.expr,
            &[LIFETIME],
        );
        rows.push(row(plan, line::EARLIER_CREDIT, year));
    }
    plan.line(line::EARLIER_CREDITS, Expr::Sum(rows), &[LIFETIME]);
    ask_about_credits(plan, &unsaid);
}

/// Plans the window costs of earlier years and their total: those of 2009 and 2010 count several times, because
/// those years paid 30 percent and the ceiling is one of costs at 10 percent (window expense worksheet).
pub(in crate::credit) fn windows(plan: &mut Plan<'_>, made: &Figures) {
    let Some(how) = plan.year_law.method(THIS) else { return };
    let (mut rows, mut at_30_percent) = (Vec::new(), Vec::new());
    for year in how.earlier_windows.clone() {
        let known = known(plan, made, year, Amount::Windows);
        if known.computed.is_empty() && !known.said {
            ask_about_windows(plan, year);
        }
        let about = Some(year.to_string());
        plan.row(line::EARLIER_WINDOW_COST, Subject::Origin(year), about, known.expr, &[WINDOWS]);
        let of_year = row(plan, line::EARLIER_WINDOW_COST, year);
        match year.0 {
            2009 | 2010 => at_30_percent.push(of_year),
            _ => rows.push(of_year),
        }
    }
    if !at_30_percent.is_empty() {
        plan.line(line::EARLIER_WINDOWS_30_PERCENT, Expr::Sum(at_30_percent), &[WINDOWS]);
        let scaled = plan.at(line::EARLIER_WINDOWS_30_PERCENT).times(plan.value(LawKey::EarlierWindowsTimes));
        plan.line(line::EARLIER_WINDOWS_SCALED, scaled, &[WINDOWS]);
        rows.push(plan.at(line::EARLIER_WINDOWS_SCALED));
    }
    plan.line(line::EARLIER_WINDOW_COSTS, Expr::Sum(rows), &[WINDOWS]);
}

/// The rules of the year that these lines rest on.
const LIFETIME: Rule = Rule::LifetimeCredits;
const WINDOWS: Rule = Rule::LifetimeWindows;

/// Which amount of an earlier year.
#[derive(Clone, Copy, PartialEq)]
enum Amount {
    Credit,
    Windows,
}

impl Amount {
    /// The line of an earlier year that the worksheets bring forward. The window worksheet takes the cost before
    /// the ceiling, except of 2006, whose form has only the cost after it.
    fn line(self, year: TaxYear) -> Line {
        match self {
            Amount::Credit => line::IMPROVEMENT_ALLOWED,
            Amount::Windows if year == TaxYear(2006) => line::WINDOW_COUNTED,
            Amount::Windows => line::WINDOW_COST,
        }
    }

    fn key(self) -> &'static str {
        match self {
            Amount::Credit => "nonbusiness_energy_credit",
            Amount::Windows => "window_cost",
        }
    }

    fn words(self) -> &'static str {
        match self {
            Amount::Credit => "credit",
            Amount::Windows => "window cost",
        }
    }

    fn stated(self, earlier: &EarlierCredits) -> Option<&Spanned<Money>> {
        match self {
            Amount::Credit => earlier.nonbusiness_energy_credit.as_ref(),
            Amount::Windows => earlier.window_cost.as_ref(),
        }
    }
}

fn row(plan: &Plan<'_>, line: Line, year: TaxYear) -> Expr {
    Expr::Figure(Place { year: plan.year, line, of: Subject::Origin(year) })
}

/// Finds an amount of an earlier year: computed where the case has that year's return, else as the case states it.
fn known(plan: &mut Plan<'_>, made: &Figures, year: TaxYear, amount: Amount) -> Known {
    let computed = computed(made, year, amount);
    let earlier = plan.case.earlier_credits.iter().find(|one| one.year.value == year);
    let stated = earlier.and_then(|one| amount.stated(one));
    if computed.is_empty() {
        let expr = match stated {
            Some(stated) => plan.entry(Expr::Fact(CaseRef {
                path: format!("earlier_credits.{year}.{}", amount.key()),
                words: format!("{} of {year}", amount.words()),
                span: stated.span,
                value: Value::Money(stated.value),
                evidence: None,
            })),
            None => Expr::nothing(),
        };
        return Known { computed, expr, said: stated.is_some() };
    }
    if let Some(stated) = stated {
        differs(plan, made, year, amount, &computed, stated);
    }
    // A year in cents may go before a year in whole dollars; the amount is rounded where it is entered.
    let brought = match &computed[..] {
        [one] => Expr::Figure(one.clone()),
        homes => Expr::Sum(homes.iter().cloned().map(Expr::Figure).collect()),
    };
    let expr = plan.entry(brought);
    Known { computed, expr, said: true }
}

/// Returns the places of a year's own computation: of the return, or of each home where two fill in the form.
/// A year without a return took no credit and has no form, whatever was bought in it.
fn computed(made: &Figures, year: TaxYear, amount: Amount) -> Vec<Place> {
    if made.get(&Place::of_return(year, line::IMPROVEMENT_ALLOWED)).is_none() {
        return Vec::new();
    }
    let line = amount.line(year);
    let whole = Place::of_return(year, line);
    if made.get(&whole).is_some() {
        return vec![whole];
    }
    let of_home =
        |place: &&Place| place.year == year && place.line == line && matches!(place.of, Subject::Home(_));
    made.all().iter().map(|figure| &figure.place).filter(of_home).cloned().collect()
}

/// Complains where the case states another amount than it yields.
fn differs(
    plan: &mut Plan<'_>,
    made: &Figures,
    year: TaxYear,
    amount: Amount,
    computed: &[Place],
    stated: &Spanned<Money>,
) {
    let yields: Money = computed.iter().filter_map(|place| made.money(place)).sum();
    if [yields, yields.to_whole_dollars()].contains(&stated.value) {
        return;
    }
    let words = amount.words();
    let finding = codes::EARLIER_CREDIT_DIFFERS.finding(
        format!(
            "`earlier_credits` gives a {words} of {} for {year}, and the case's own figures for {year} yield {}",
            stated.value.spoken(),
            yields.spoken()
        ),
    )
    .at(stated.span)
    .help(format!(
        "correct the amount or take it out; if it is right, the property and the return of {year} are not whole in this case"
    ))
    .under(plan.authority(LIFETIME).join("; "));
    plan.findings.push(finding);
}

/// Asks where the limit looks back to years of which the case says nothing at all.
fn ask_about_credits(plan: &mut Plan<'_>, unsaid: &[TaxYear]) {
    let counts = plan.items.iter().find(|one| one.counts_for(THIS));
    let Some(first) = counts.filter(|_| !unsaid.is_empty() && plan.case.earlier_credits.is_empty()) else {
        return;
    };
    let finding = codes::EARLIER_CREDITS_UNSAID.finding(
        format!(
            "was the {} taken for {}? What was taken counts against the limit of {}, and the case says nothing of it",
            plan.year_law.name(THIS),
            spoken_years(unsaid),
            plan.year
        ),
    )
    .at(first.item.key.span)
    .about("earlier_credits")
    .given([plan.year.to_string(), spoken_years(unsaid)])
    .help(format!(
        "add `earlier_credits:` with the credit and the window cost of each year, such as \
         `{year}: {{nonbusiness_energy_credit: 120, window_cost: 800}}`, or `{year}: {{nonbusiness_energy_credit: 0}}` if none was taken",
        year = unsaid.last().expect("some year")
    ))
    .under(plan.authority(LIFETIME).join("; "));
    plan.findings.push(finding);
}

/// Leaves of the questions about earlier years the last: the last year looks back to all that the others do.
pub(in crate::credit) fn ask_once(found: &mut Vec<Finding>) {
    let asks = |one: &Finding| codes::EARLIER_CREDITS_UNSAID.is_of(one);
    let last = found.iter().rposition(asks);
    let mut at = 0;
    found.retain(|one| {
        at += 1;
        !asks(one) || Some(at - 1) == last
    });
}

/// Asks where a credit was taken for an earlier year, windows are bought now, and nothing says whether windows were
/// among what was bought then.
fn ask_about_windows(plan: &mut Plan<'_>, year: TaxYear) {
    let earlier = plan.case.earlier_credits.iter().find(|one| one.year.value == year);
    let Some(earlier) = earlier else { return };
    let taken = earlier.nonbusiness_energy_credit.as_ref().filter(|taken| !taken.value.is_zero());
    let windows = plan.counting(THIS, Kind::WindowOrSkylight);
    let (Some(taken), false) = (taken, windows.is_empty()) else { return };
    let finding = codes::EARLIER_WINDOWS_UNSAID.finding(
        format!("was any of the credit of {year} for windows or skylights? What they cost counts against the ceiling of window cost"),
    )
    .at(taken.span)
    .about(format!("earlier_credits.{year}"))
    .given([year.to_string(), taken.value.spoken()])
    .help(format!("add `window_cost:` with the cost of the windows of {year}, or `window_cost: 0` if there were none"))
    .under(plan.authority(WINDOWS).join("; "));
    plan.findings.push(finding);
}

/// Warns of credits of a year to which no limit ever looks back, such as 2008, which had none.
pub(in crate::credit) fn of_no_year(case: &Case, law: &Law) -> Vec<Finding> {
    let looks_back = |later: TaxYear, year: &TaxYear| {
        let how = law.year(later).and_then(YearLaw::looking_back);
        how.is_some_and(|how| how.earlier_credits.contains(year))
    };
    let ever = |year: &TaxYear| (year.0 + 1..=LAST).any(|later| looks_back(TaxYear(later), year));
    let warn = |one: &EarlierCredits| {
        let year = one.year.value;
        let message = match law.year(year).is_some_and(|law| law.in_force(THIS)) {
            true => {
                format!("the credit of {year} counts against nothing: no later year's limit looks back to it")
            }
            false => {
                format!("there was no such credit in {year}, so nothing of {year} counts against a limit")
            }
        };
        let help = "correct the year if it is a slip, else take the entry out";
        codes::EARLIER_CREDIT_OF_NO_YEAR.finding(message).at(one.year.span).help(help)
    };
    case.earlier_credits.iter().filter(|one| !ever(&one.year.value)).map(warn).collect()
}

/// The last year of which it is asked whether its limit looks back.
const LAST: i16 = 2022;

/// Writes a list of years for people: three or more in a row as `any year from 2011 to 2014`.
fn spoken_years(years: &[TaxYear]) -> String {
    let mut runs: Vec<(i16, i16)> = Vec::new();
    for year in years {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == year.0 => *last = year.0,
            _ => runs.push((year.0, year.0)),
        }
    }
    let words = |(first, last): &(i16, i16)| match last - first {
        0 => vec![first.to_string()],
        1 => vec![first.to_string(), last.to_string()],
        _ => vec![format!("any year from {first} to {last}")],
    };
    let mut words: Vec<String> = runs.iter().flat_map(words).collect();
    match (words.len(), words.pop()) {
        (0 | 1, last) => last.unwrap_or_default(),
        (2, Some(last)) => format!("{} or {last}", words[0]),
        (_, last) => format!("{}, or {}", words.join(", "), last.unwrap_or_default()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn years_are_spoken_in_runs() {
        let years = |list: &[i16]| spoken_years(&list.iter().map(|year| TaxYear(*year)).collect::<Vec<_>>());
        assert_eq!(years(&[2006]), "2006");
        assert_eq!(years(&[2006, 2007]), "2006 or 2007");
        assert_eq!(years(&[2006, 2007, 2009]), "2006, 2007, or 2009");
        assert_eq!(years(&[2006, 2009, 2010, 2011]), "2006 or any year from 2009 to 2011");
        assert_eq!(years(&[2009, 2010, 2011, 2012]), "any year from 2009 to 2012");
    }
}
