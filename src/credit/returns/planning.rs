//! Lines 651 to 662: what years to come would use of the credit that is left, on an assumption about their tax.
//!
//! Comes in: a case and the figures of its returns. Goes out: figures that no return rests on, and [`Outlook`], which
//! reads them for lists and letters. It is arithmetic on an assumption, never a forecast: the tax is the case's own
//! planned figure, or that of the last return as if it stayed the same. No law of a year to come is read. All that is
//! taken from the law is what the last return's year says already: that other credits come first, and that what the
//! tax cannot take goes on to the next year.

use super::stage;
use crate::case::{Case, PlannedYear, TaxYear};
use crate::credit::evaluate::expression::{CaseRef, Expr, Rounding, Value};
use crate::credit::evaluate::line::{self, Line, Place, Subject};
use crate::credit::evaluate::{Fault, Figures, evaluate};
use crate::credit::outcome::Outcome;
use crate::credit::plan::Plan;
use crate::finding::Spanned;
use crate::law::{Law, Rule};
use crate::money::Money;
use jiff::civil::Date;

/// So many years to come are looked at, at most.
pub const MOST_YEARS: usize = 20;

/// What years to come would use of the credit, on an assumption about their tax. Every amount is a figure of the
/// lines 651 to 662.
#[derive(Clone, Debug, PartialEq)]
pub struct Outlook {
    /// The last year with a return; the years after it are those looked at.
    pub from: TaxYear,
    /// What that return carries forward.
    pub balance: Money,
    /// The years to come, from the one after the last return to the one that uses the rest, or to where the end is
    /// clear; never empty.
    pub years: Vec<IfYear>,
    /// How it ends.
    pub end: End,
    /// How much more tax in the year of the last return would use everything in that year; only while that return is
    /// projected or a draft.
    pub now: Option<More>,
    /// How much more tax in the first of the years to come would use everything in it; none where it uses everything
    /// on the assumption already.
    pub next: Option<More>,
}

/// One year to come.
#[derive(Clone, Debug, PartialEq)]
pub struct IfYear {
    /// The year.
    pub year: TaxYear,
    /// Where its tax comes from.
    pub assumed: Assumed,
    /// The tax before credits assumed.
    pub tax: Money,
    /// The credits assumed to come before the clean energy credit.
    pub credits_before: Money,
    /// What would be left of the tax for it.
    pub tax_left: Money,
    /// What would be carried in.
    pub carried_in: Money,
    /// What would be used.
    pub used: Money,
    /// What would be left for the year after.
    pub left: Money,
}

/// Where the assumed tax of a year to come is taken from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Assumed {
    /// The case's planned figure of this year or, where that lies before the year, of the last one planned before it.
    Planned(TaxYear),
    /// The last return, as if its tax stayed the same.
    LastReturn(TaxYear),
}

/// How the years looked at end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// The last of the year's returns uses the rest.
    UsedUp(TaxYear),
    /// No tax is assumed to be left for the credit, this year or later: on the assumption it would never be used up.
    Never,
    /// Something would still be left after [`MOST_YEARS`].
    NotWithin,
}

/// More tax in a year that would use everything in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct More {
    /// The year.
    pub year: TaxYear,
    /// So much more tax before credits.
    pub tax: Money,
    /// So much income makes that much tax at the federal marginal rate of the case, if all of it is taxed at that rate;
    /// none without a rate.
    pub income: Option<Money>,
}

/// Years to come in a row that assume the same of the tax.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Run<'o> {
    /// The first of them.
    pub first: &'o IfYear,
    /// The last of them.
    pub last: TaxYear,
}

impl Outlook {
    /// Returns the years to come in runs that assume the same: where the tax is from, how much it is, and what other
    /// credits take of it.
    pub fn runs(&self) -> Vec<Run<'_>> {
        let mut runs: Vec<Run<'_>> = Vec::new();
        let same = |a: &IfYear, b: &IfYear| {
            let kind = |one: &IfYear| matches!(one.assumed, Assumed::Planned(_));
            (kind(a), a.tax, a.credits_before) == (kind(b), b.tax, b.credits_before)
        };
        for one in &self.years {
            match runs.last_mut() {
                Some(run) if same(run.first, one) => run.last = one.year,
                _ => runs.push(Run { first: one, last: one.year }),
            }
        }
        runs
    }

    /// Says whether the case plans the tax of at least one of the years to come.
    pub fn is_planned(&self) -> bool {
        self.years.iter().any(|one| matches!(one.assumed, Assumed::Planned(_)))
    }

    /// Returns the year with whose return everything would be used; none where that is not within the years looked at.
    pub fn used_up(&self) -> Option<TaxYear> {
        match self.end {
            End::UsedUp(year) => Some(year),
            End::Never | End::NotWithin => None,
        }
    }

    /// Returns how much more tax would use everything in the first year that can still be shaped on a day: that of the
    /// last return while it is projected or a draft, else the first of the years to come. Nobody moves income into a
    /// year that is over, so such a year is passed over; none where no other is figured.
    pub fn more_on(&self, day: Date) -> Option<More> {
        let not_over = |more: &More| more.year >= TaxYear::of(day);
        self.now.filter(not_over).or(self.next.filter(not_over))
    }

    /// Returns what would be left after the last of the years looked at.
    pub fn left(&self) -> Money {
        self.years.last().map_or(self.balance, |last| last.left)
    }
}

/// Returns what years to come would use of the credit; none where nothing is carried out of the last return of the
/// case, or where what comes after it is more than an assumption about tax.
pub fn outlook(case: &Case, outcome: &Outcome) -> Option<Outlook> {
    let figures = &outcome.figures;
    let from = last_return(case)?;
    let at_return = |line: Line| figures.money(&Place::of_return(from, line));
    let balance = at_return(line::CARRIED_OUT)?;
    let mut years = Vec::new();
    let mut year = from.after();
    while let Some(tax) = figures.money(&ahead(from, line::IF_TAX, year)) {
        let money = |line: Line| figures.money(&ahead(from, line, year));
        years.push(IfYear {
            year,
            assumed: assumed(case, from, year),
            tax,
            credits_before: money(line::IF_CREDITS_BEFORE)?,
            tax_left: money(line::IF_TAX_LEFT)?,
            carried_in: money(line::IF_CARRIED_IN)?,
            used: money(line::IF_USED)?,
            left: money(line::IF_LEFT)?,
        });
        year = year.after();
    }
    let last = years.last()?;
    let end = if last.left.is_zero() {
        End::UsedUp(last.year)
    } else if is_end(case, last.year, last.tax_left) {
        End::Never
    } else {
        End::NotWithin
    };
    let first = from.after();
    let now =
        at_return(line::MORE_TAX).map(|tax| More { year: from, tax, income: at_return(line::MORE_INCOME) });
    let next = figures.money(&ahead(from, line::IF_MORE_TAX, first)).filter(|tax| !tax.is_zero());
    let next = next.map(|tax| More {
        year: first,
        tax,
        income: figures.money(&ahead(from, line::IF_MORE_INCOME, first)),
    });
    Some(Outlook { from, balance, years, end, now, next })
}

/// Makes the figures of the years to come.
///
/// Which years there are depends on what is left, so each is planned when the one before it has been made. What the
/// years after a return really were, the case says by their returns: an outlook starts at the last one. None is made
/// where a later year earns credit of its own, or starts from a balance of its own.
pub(in crate::credit) fn compute(case: &Case, law: &Law, figures: &mut Figures) -> Result<(), Fault> {
    let Some(from) = last_return(case) else { return Ok(()) };
    let (Some(year_law), Some(tax_return)) = (law.year(from), case.tax_return(from)) else {
        return Ok(());
    };
    let carried_out = Place::of_return(from, line::CARRIED_OUT);
    if figures.money(&carried_out).is_none_or(Money::is_zero) || goes_on(case, figures, from) {
        return Ok(());
    }
    let begin = || Plan {
        case,
        year_law,
        year: from,
        tax_return: Some(tax_return),
        items: Vec::new(),
        steps: Vec::new(),
        findings: Vec::new(),
    };
    if stage::stage(case, figures, from).is_to_come() {
        let mut plan = begin();
        more_tax_now(&mut plan, figures);
        evaluate(plan.steps, law, figures)?;
    }
    let mut year = from.after();
    for _ in 0..MOST_YEARS {
        let mut plan = begin();
        year_to_come(&mut plan, figures, year);
        evaluate(plan.steps, law, figures)?;
        let money = |line: Line| figures.money(&ahead(from, line, year)).unwrap_or(Money::ZERO);
        if money(line::IF_LEFT).is_zero() || is_end(case, year, money(line::IF_TAX_LEFT)) {
            break;
        }
        year = year.after();
    }
    Ok(())
}

/// Plans one year to come.
fn year_to_come(plan: &mut Plan<'_>, made: &Figures, year: TaxYear) {
    let from = plan.year;
    let at = |line: Line| Expr::Figure(ahead(from, line, year));
    let planned = planned(plan.case, from, year);
    let tax = match planned {
        Some(planned) => plan.entry(planned_fact(planned, "tax_before_credits", &planned.tax_before_credits)),
        None => plan.at(line::TAX),
    };
    let credits = match planned.and_then(|one| one.credits_before.as_ref().map(|amount| (one, amount))) {
        Some((planned, amount)) => plan.entry(planned_fact(planned, "credits_before", amount)),
        None => other_credits(plan, made),
    };
    let carried_in = match year == from.after() {
        true => plan.at(line::CARRIED_OUT),
        false => Expr::Figure(ahead(from, line::IF_LEFT, year.before())),
    };
    let tax_left = at(line::IF_TAX).less(at(line::IF_CREDITS_BEFORE)).not_below_zero();
    let mut row = |line: Line, expr: Expr, rules: &[Rule]| {
        plan.row(line, Subject::If(year), Some(year.to_string()), expr, rules);
    };
    row(line::IF_TAX, tax, &[]);
    row(line::IF_CREDITS_BEFORE, credits, &[Rule::Order]);
    row(line::IF_TAX_LEFT, tax_left, &[Rule::Nonrefundable]);
    row(line::IF_CARRIED_IN, carried_in, &[Rule::Carryforward]);
    row(line::IF_USED, at(line::IF_CARRIED_IN).or_smaller(at(line::IF_TAX_LEFT)), &[Rule::Carryforward]);
    row(line::IF_LEFT, at(line::IF_CARRIED_IN).less(at(line::IF_USED)), &[Rule::Carryforward]);
    if year == from.after() {
        // Tax that the other credits take in any case comes before the tax that the rest could take.
        let taken = at(line::IF_CREDITS_BEFORE).less(at(line::IF_TAX)).not_below_zero();
        row(line::IF_MORE_TAX, Expr::Sum(vec![at(line::IF_LEFT), taken]), &[Rule::Order]);
        if let Some(income) = income(plan, at(line::IF_MORE_TAX)) {
            plan.row(line::IF_MORE_INCOME, Subject::If(year), Some(year.to_string()), income, &[]);
        }
    }
}

/// Plans how much more tax in the year of a return that is not made yet would use everything.
///
/// More tax is taken first by other credits that the tax falls short of, then by the home improvement credit that would
/// be lost, and only then by what would be carried forward.
fn more_tax_now(plan: &mut Plan<'_>, made: &Figures) {
    let mut parts = vec![plan.at(line::CARRIED_OUT)];
    if made.get(&Place::of_return(plan.year, line::IMPROVEMENT_LOST)).is_some() {
        parts.push(plan.at(line::IMPROVEMENT_LOST));
    }
    parts.push(plan.at(line::BEFORE_CLEAN).less(plan.at(line::TAX)).not_below_zero());
    plan.line(line::MORE_TAX, Expr::Sum(parts), &[Rule::Order]);
    if let Some(income) = income(plan, plan.at(line::MORE_TAX)) {
        plan.line(line::MORE_INCOME, income, &[]);
    }
}

/// Returns the income that makes an amount of tax at the federal marginal rate of the case; none without a rate.
fn income(plan: &Plan<'_>, tax: Expr) -> Option<Expr> {
    // No income makes tax at a rate of nothing.
    let rate = plan.case.planning.federal_rate.as_ref().filter(|rate| !rate.value.factor().is_zero());
    let rate = rate.and_then(|_| plan.federal_rate())?;
    Some(Expr::Number(1, "whole").share(tax, rate).rounded(Rounding::ProductInCents))
}

/// Returns the other credits of the last return. The home improvement credit that came before on it is none of a year to
/// come: it is earned anew each year, and not carried.
fn other_credits(plan: &Plan<'_>, made: &Figures) -> Expr {
    let all = plan.at(line::BEFORE_CLEAN);
    match made.get(&Place::of_return(plan.year, line::BEFORE_IMPROVEMENT_ALLOWED)) {
        Some(_) => all.less(plan.at(line::BEFORE_IMPROVEMENT_ALLOWED)),
        None => all,
    }
}

fn planned_fact(planned: &PlannedYear, key: &str, amount: &Spanned<Money>) -> Expr {
    let year = planned.year.value;
    Expr::Fact(CaseRef {
        path: format!("planning.{year}.{key}"),
        words: format!("{}, planned for {year}", key.replace('_', " ")),
        span: amount.span,
        value: Value::Money(amount.value),
        evidence: None,
    })
}

/// Where a figure about a year to come stands: with those of the last return.
fn ahead(from: TaxYear, line: Line, year: TaxYear) -> Place {
    Place { year: from, line, of: Subject::If(year) }
}

fn last_return(case: &Case) -> Option<TaxYear> {
    case.returns.iter().map(|one| one.year.value).max()
}

/// Returns the planned figures that stand for a year: its own, or the last ones planned before it.
fn planned(case: &Case, from: TaxYear, year: TaxYear) -> Option<&PlannedYear> {
    let before = |one: &&PlannedYear| one.year.value > from && one.year.value <= year;
    case.planning.years.iter().filter(before).max_by_key(|one| one.year.value)
}

fn assumed(case: &Case, from: TaxYear, year: TaxYear) -> Assumed {
    planned(case, from, year).map_or(Assumed::LastReturn(from), |one| Assumed::Planned(one.year.value))
}

/// Says whether the years after one would all be like it, with nothing used.
fn is_end(case: &Case, year: TaxYear, tax_left: Money) -> bool {
    tax_left.is_zero() && !case.planning.years.iter().any(|one| one.year.value > year)
}

/// Says whether the case knows more of the years after its last return than an assumption about tax.
pub fn goes_on(case: &Case, figures: &Figures, from: TaxYear) -> bool {
    let earns = |figure: &crate::credit::evaluate::Figure| {
        let place = &figure.place;
        place.year > from
            && line::CLEAN_EARNED.contains(&place.line)
            && figure.value.money().is_some_and(|amount| !amount.is_zero())
    };
    case.carried_in.iter().any(|one| one.year.value > from) || figures.all().iter().any(earns)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::credit::sample::household;

    /// A balance of 2,480 brought into 2026, on whose return 1,150 of it is used: 1,330 go on to 2027.
    const RETIRED: &str = "carried_in:\n  2026: {amount: 2480, shown_on: 2025 Form 5695 line 16}\nreturns:\n  2026: {stage: STAGE, filing_status: married_filing_jointly, tax_before_credits: 1150OTHER}\n";

    fn retired(stage: &str, other: &str, rest: &str) -> (Case, Outcome) {
        household(&format!("{}{rest}", RETIRED.replace("STAGE", stage).replace("OTHER", other)))
    }

    fn amounts(outlook: &Outlook) -> Vec<[i64; 4]> {
        let whole = |money: Money| money.plain().trim_end_matches(".00").parse().unwrap();
        let years = outlook.years.iter();
        years
            .map(|one| [i64::from(one.year.0), whole(one.tax_left), whole(one.used), whole(one.left)])
            .collect()
    }

    /// By hand: 1,330 less 900 planned for 2027 is 430, and 900 of 2028 is enough for it.
    #[test]
    fn planned_years_use_the_rest_one_after_the_other() {
        let (case, outcome) = retired(
            "projected",
            "",
            "planning: {2027: {tax_before_credits: 900}, 2028: {tax_before_credits: 900}}\n",
        );
        let outlook = outlook(&case, &outcome).unwrap();
        assert_eq!((outlook.from, outlook.balance), (TaxYear(2026), Money::dollars(1330)));
        assert_eq!(amounts(&outlook), [[2027, 900, 900, 430], [2028, 900, 430, 0]]);
        assert_eq!(outlook.end, End::UsedUp(TaxYear(2028)));
        assert_eq!(outlook.years[0].assumed, Assumed::Planned(TaxYear(2027)));
        // 1,330 more tax in 2026 would have used all of it; 430 more in 2027 would.
        assert_eq!(outlook.now, Some(More { year: TaxYear(2026), tax: Money::dollars(1330), income: None }));
        assert_eq!(outlook.next, Some(More { year: TaxYear(2027), tax: Money::dollars(430), income: None }));
        // Until the year ends it can still be shaped; then the next one can, and then neither.
        let on = |year: i16, month: i8, day: i8| outlook.more_on(jiff::civil::date(year, month, day));
        assert_eq!([on(2026, 12, 31), on(2027, 1, 1), on(2028, 1, 1)], [outlook.now, outlook.next, None]);
    }

    /// By hand: with the tax of 2026 again, 1,150 of 1,330 in 2027 and the last 180 in 2028. A filed return cannot be
    /// shaped any more. At 10 percent, 180 of tax is made by 1,800 of income.
    #[test]
    fn without_planned_years_the_last_return_is_repeated() {
        let filed = "filed, filed: 2027-03-01";
        let (case, outcome) = retired(filed, "", "planning: {federal_rate: 10%}\n");
        let outlook = outlook(&case, &outcome).unwrap();
        assert_eq!(amounts(&outlook), [[2027, 1150, 1150, 180], [2028, 1150, 180, 0]]);
        assert!(outlook.years.iter().all(|one| one.assumed == Assumed::LastReturn(TaxYear(2026))));
        assert_eq!(outlook.now, None);
        let next = More { year: TaxYear(2027), tax: Money::dollars(180), income: Some(Money::dollars(1800)) };
        assert_eq!((outlook.next, outlook.more_on(jiff::civil::date(2027, 3, 2))), (Some(next), Some(next)));
    }

    /// By hand: other credits of 1,200 leave nothing of 1,150, so all 2,480 go on, year after year. More tax goes to
    /// them first: 50 before the first dollar of ours.
    #[test]
    fn with_no_tax_left_it_would_never_be_used_up() {
        let (case, outcome) = retired("draft", ", other_credits: {education: 1200}", "");
        let outlook = outlook(&case, &outcome).unwrap();
        assert_eq!(amounts(&outlook), [[2027, 0, 0, 2480]]);
        assert_eq!((outlook.end, outlook.used_up()), (End::Never, None));
        assert_eq!(outlook.now.unwrap().tax, Money::dollars(2530));
        assert_eq!(outlook.next.unwrap().tax, Money::dollars(2530));
    }

    /// By hand: nothing in 2027, then 500 less 100 of other credits a year: 400 in 2028 and again in 2029, of which
    /// there is no plan, and so on until 1,330 is used: 400 three times and 130.
    #[test]
    fn a_gap_in_the_plan_is_no_end_and_the_last_plan_goes_on() {
        let (case, outcome) = retired(
            "projected",
            "",
            "planning:\n  2027: {tax_before_credits: 0}\n  2028: {tax_before_credits: 500, credits_before: 100}\n",
        );
        let outlook = outlook(&case, &outcome).unwrap();
        assert_eq!(
            amounts(&outlook),
            [
                [2027, 0, 0, 1330],
                [2028, 400, 400, 930],
                [2029, 400, 400, 530],
                [2030, 400, 400, 130],
                [2031, 400, 130, 0]
            ]
        );
        assert_eq!(outlook.years[0].assumed, Assumed::Planned(TaxYear(2027)));
        assert_eq!(outlook.years[3].assumed, Assumed::Planned(TaxYear(2028)));
    }

    /// By hand: 1,330 less 20 years of 10 is 1,130.
    #[test]
    fn after_twenty_years_it_stops_and_says_so() {
        let (case, outcome) = retired("projected", "", "planning: {2027: {tax_before_credits: 10}}\n");
        let outlook = outlook(&case, &outcome).unwrap();
        assert_eq!(
            (outlook.years.len(), outlook.end, outlook.left()),
            (20, End::NotWithin, Money::dollars(1130))
        );
        assert_eq!(outlook.years[19].year, TaxYear(2046));
    }

    /// 2025: windows earn 600 of the home improvement credit, a battery 9,000 of the clean energy credit; tax 500. By
    /// hand: 500 of the 600 is allowed, 100 lost, 9,000 carried. In 2026 the home improvement credit takes nothing: 500
    /// of 9,000 a year, 18 years. 9,100 more tax in 2025 would use all: 100 for the windows first.
    #[test]
    fn the_home_improvement_credit_comes_first_this_year_and_not_again() {
        let item = |key: &str, kind: &str, more: &str, cost: u32| {
            format!(
                "  {key}:\n    kind: {kind}\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2025-08-01\n{more}    costs: [{{item: goods, as: equipment, amount: {cost}}}]\n"
            )
        };
        let (case, outcome) = household(&format!(
            "property:\n{}{}returns:\n  2025: {{stage: projected, filing_status: single, tax_before_credits: 500}}\n",
            item("w", "window_or_skylight", "    maker_code: AB12\n", 3000),
            item("b", "battery_storage", "    capacity_kwh: 10\n", 30000)
        ));
        let figures = &outcome.figures;
        let at = |line: Line| figures.money(&Place::of_return(TaxYear(2025), line)).unwrap();
        assert_eq!(
            [at(line::IMPROVEMENT_ALLOWED), at(line::IMPROVEMENT_LOST), at(line::CARRIED_OUT)],
            [500, 100, 9000].map(Money::dollars)
        );
        let outlook = outlook(&case, &outcome).unwrap();
        assert_eq!(outlook.years[0].credits_before, Money::ZERO);
        assert_eq!(outlook.end, End::UsedUp(TaxYear(2043)));
        assert_eq!(outlook.now.unwrap().tax, Money::dollars(9100));
    }

    #[test]
    fn nothing_left_or_something_known_of_later_years_is_no_outlook() {
        let (case, outcome) = household(
            "carried_in:\n  2026: {amount: 100, shown_on: 2025 Form 5695 line 16}\nreturns:\n  2026: {stage: projected, filing_status: single, tax_before_credits: 1150}\n",
        );
        assert_eq!(outlook(&case, &outcome), None, "used up");
        let (case, outcome) = household(
            "returns:\n  2026: {stage: projected, filing_status: single, tax_before_credits: 1150}\n",
        );
        assert_eq!(outlook(&case, &outcome), None, "no credit at all");
        let (case, outcome) = household(
            "carried_in:\n  2023: {amount: 2480, shown_on: 2022 Form 5695 line 16}\n  2025: {amount: 70, shown_on: 2024 Form 5695 line 16}\nreturns:\n  2023: {stage: filed, filing_status: single, filed: 2024-03-01, tax_before_credits: 1150}\n",
        );
        assert_eq!(outlook(&case, &outcome), None, "a later balance is known");
        let later = "property:\n  b:\n    kind: solar_electric\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2024-08-01\n    costs: [{item: array, as: equipment, amount: 3000}]\n";
        let balance = "carried_in:\n  2023: {amount: 2480, shown_on: 2022 Form 5695 line 16}\nreturns:\n  2023: {stage: filed, filing_status: single, filed: 2024-03-01, tax_before_credits: 1150}\n";
        let (case, outcome) = household(&format!("{later}{balance}"));
        assert_eq!(outlook(&case, &outcome), None, "2024 earns credit, and has no return");
        let (case, outcome) = household(balance);
        assert_eq!(outlook(&case, &outcome).unwrap().balance, Money::dollars(1330));
    }
}
