//! Lines 911 to 932: what the changes of a filed return come to together, as Form 1040-X asks for it.
//!
//! Comes in: a year's figures and what its return shows as filed. Goes out: figures that no return rests on, and
//! [`Correction`], which reads them for letters and the worksheet. An item claimed too high stands beside one left out
//! on the same line of the form, so only the net of a year says whether tax comes back or is due. Interest and
//! penalties are the IRS's to figure; none are figured here.
//!
//! The form (Rev. December 2025, and the editions since 2019): column A the amount as filed, B the net change, C the
//! correct amount; line 6 the tax before nonrefundable credits, line 7 all of them in one sum, line 8 the rest, not
//! below zero. A change that only moves the carryforward has no line on it.

use super::as_filed;
use super::stage;
use super::window::{self, Window};
use crate::case::{Case, OtherCreditEntry, TaxReturn, TaxYear};
use crate::credit::evaluate::credits::{CREDITS, Shown};
use crate::credit::evaluate::expression::{CaseRef, Expr, Value};
use crate::credit::evaluate::line::{self, Line, Place};
use crate::credit::evaluate::{Fault, Figures, evaluate};
use crate::credit::outcome::Outcome;
use crate::credit::plan::Plan;
use crate::law::{Law, Rule};
use crate::money::Money;
use jiff::civil::Date;

/// What the changes of a filed return come to. Every amount is a figure.
#[derive(Clone, Debug, PartialEq)]
pub struct Correction {
    /// The tax year.
    pub year: TaxYear,
    /// The return has been amended since to what is computed.
    pub amended: bool,
    /// So much less tax than the return shows; zero where it is not less.
    pub less_tax: Money,
    /// So much more tax than the return shows; zero where it is not more.
    pub more_tax: Money,
    /// So much more credit is carried forward than the return shows.
    pub more_carried: Money,
    /// So much less credit is carried forward than the return shows.
    pub less_carried: Money,
    /// Until when a refund can be claimed.
    pub window: Window,
}

impl Correction {
    /// Says whether a refund can be claimed on a day.
    pub fn refund_is_open(&self, on: Date) -> bool {
        !self.amended && !self.less_tax.is_zero() && on <= self.window.closes
    }

    /// Says whether the time for a refund is known to be over on a day: without a day of filing to count from, nobody
    /// knows.
    pub fn is_over(&self, on: Date) -> bool {
        on > self.window.closes && !matches!(self.window.from, window::From::DueAsFar(_))
    }

    /// Says whether the credit carried forward is another than the return shows.
    pub fn moves_carryforward(&self) -> bool {
        !self.more_carried.is_zero() || !self.less_carried.is_zero()
    }

    /// Says whether the tax stays what the return shows.
    pub fn same_tax(&self) -> bool {
        self.less_tax.is_zero() && self.more_tax.is_zero()
    }

    /// Says whether somebody has to decide on a day whether the return is amended: for a refund or more tax while its
    /// time is open, and wherever another amount is carried forward.
    pub fn asks_for_decision(&self, on: Date) -> bool {
        let changes_tax = !self.same_tax() && !self.is_over(on);
        !self.amended && (changes_tax || self.moves_carryforward())
    }
}

/// Returns what the changes of each filed return come to, earliest first: of those whose credits differ from what is
/// computed and whose changes are known.
///
/// A change of one year's carryforward changes the years after it, so they belong together.
pub fn corrections(case: &Case, outcome: &Outcome) -> Vec<Correction> {
    outcome.years.iter().filter_map(|year| correction(case, &outcome.figures, *year)).collect()
}

/// Returns what the changes of one filed return come to.
pub fn correction(case: &Case, figures: &Figures, year: TaxYear) -> Option<Correction> {
    let tax_return = case.tax_return(year)?;
    let at = |line: Line| figures.money(&Place::of_return(year, line));
    let some = |line: Line| at(line).unwrap_or(Money::ZERO);
    // Where the preparer has said which balance the next year starts from, and why, what the form shows is settled.
    let settled = case.carried_in(year.after()).is_some_and(|one| one.instead_of_computed.is_some());
    let change = |line: Line| match line {
        line::CHANGE_CARRIED_OUT if settled => Money::ZERO,
        line => as_filed::change(figures, year, line),
    };
    if as_filed::changes().all(|line| change(line).is_zero()) {
        return None;
    }
    // What rounding explains is no change of tax or of the carryforward.
    let by_more_than_rounding = |changes: bool, amount: Money| if changes { amount } else { Money::ZERO };
    let taxes = as_filed::differ(at(line::TAX_AS_FILED)?, at(line::TAX_CORRECT)?);
    let carried = !change(line::CHANGE_CARRIED_OUT).is_zero();
    Some(Correction {
        year,
        amended: stage::is_filed(tax_return) && !stage::stands_as_filed(tax_return),
        less_tax: by_more_than_rounding(taxes, some(line::LESS_TAX_THAN_FILED)),
        more_tax: by_more_than_rounding(taxes, some(line::MORE_TAX_THAN_FILED)),
        more_carried: by_more_than_rounding(carried, some(line::MORE_CARRIED_THAN_FILED)),
        less_carried: by_more_than_rounding(carried, some(line::LESS_CARRIED_THAN_FILED)),
        window: window::window(case, year),
    })
}

/// Makes the figures of a year's correction, where the case says what the filed return shows of each credit.
///
/// What a return shows of a credit that comes to nothing need not be said. Which of them do is seen only when the year
/// has been computed, so these lines are planned after it.
pub(in crate::credit) fn compute(
    case: &Case,
    law: &Law,
    year: TaxYear,
    figures: &mut Figures,
) -> Result<(), Fault> {
    let (Some(year_law), Some(tax_return)) = (law.year(year), case.tax_return(year)) else {
        return Ok(());
    };
    if !stage::is_filed(tax_return) || tax_return.claimed.is_none() {
        return Ok(());
    }
    let mut plan = Plan {
        case,
        year_law,
        year,
        tax_return: Some(tax_return),
        items: Vec::new(),
        steps: Vec::new(),
        findings: Vec::new(),
    };
    let at = |line: Line| figures.money(&Place::of_return(year, line));
    if at(line::CHANGE_CARRIED_OUT).is_some() {
        let (filed, correct) = (plan.at(line::FILED_CARRIED_OUT), plan.at(line::TO_NEXT_YEAR));
        let more = correct.clone().less(filed.clone()).not_below_zero();
        plan.line(line::MORE_CARRIED_THAN_FILED, more, &[Rule::AmendingCarryforward]);
        plan.line(
            line::LESS_CARRIED_THAN_FILED,
            filed.less(correct).not_below_zero(),
            &[Rule::AmendingCarryforward],
        );
    }
    let shown = CREDITS.each_ref().map(|of| of.shown);
    let is_known = |shown: &Shown| at(shown.filed).is_some() || at(shown.computed).is_none_or(Money::is_zero);
    if shown.iter().all(is_known) {
        let said: Vec<Shown> = shown.into_iter().filter(|shown| at(shown.filed).is_some()).collect();
        together(&mut plan, tax_return, &said);
    }
    evaluate(plan.steps, law, figures)
}

/// Plans the net of a year's changes.
fn together(plan: &mut Plan<'_>, tax_return: &TaxReturn, said: &[Shown]) {
    let changes = said.iter().map(|shown| plan.at(shown.change));
    plan.line(line::CHANGE_CREDITS, Expr::Sum(changes.collect()), &[Rule::Amending]);
    let others = tax_return.other_credits.iter();
    let others = others.map(|entry| plan.entry(Expr::Fact(on_return(plan.year, entry))));
    plan.line(line::OTHER_CREDITS, Expr::Sum(others.collect()), &[Rule::Amending]);
    let mut filed = vec![plan.at(line::OTHER_CREDITS)];
    filed.extend(said.iter().map(|shown| plan.at(shown.filed)));
    plan.line(line::CREDITS_AS_FILED, Expr::Sum(filed), &[Rule::Amending]);
    let correct = vec![plan.at(line::CREDITS_AS_FILED), plan.at(line::CHANGE_CREDITS)];
    plan.line(line::CREDITS_CORRECT, Expr::Sum(correct), &[Rule::Amending]);
    for (after, credits) in
        [(line::TAX_AS_FILED, line::CREDITS_AS_FILED), (line::TAX_CORRECT, line::CREDITS_CORRECT)]
    {
        plan.line(after, plan.at(line::TAX).less(plan.at(credits)).not_below_zero(), &[Rule::Nonrefundable]);
    }
    let (filed, correct) = (plan.at(line::TAX_AS_FILED), plan.at(line::TAX_CORRECT));
    plan.line(line::CHANGE_TAX, correct.clone().less(filed.clone()), &[Rule::Amending]);
    plan.line(
        line::LESS_TAX_THAN_FILED,
        filed.clone().less(correct.clone()).not_below_zero(),
        &[Rule::Amending],
    );
    plan.line(line::MORE_TAX_THAN_FILED, correct.less(filed).not_below_zero(), &[Rule::Amending]);
    let above = plan.at(line::CREDITS_CORRECT).less(plan.at(line::TAX)).not_below_zero();
    plan.line(line::CREDITS_ABOVE_TAX, above, &[Rule::Nonrefundable]);
}

/// Makes the reference to another credit as it stands on the return: of the child tax credit not the worksheet's
/// amount, which only the limit of the clean energy credit takes.
fn on_return(year: TaxYear, entry: &OtherCreditEntry) -> CaseRef {
    let credit = entry.credit.value;
    let part = if entry.worksheet_b.is_some() { ".return_line" } else { "" };
    CaseRef {
        path: format!("returns.{year}.other_credits.{credit}{part}"),
        words: credit.label().to_string(),
        span: entry.amount.span,
        value: Value::Money(entry.amount.value),
        evidence: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::credit::sample::household;
    use jiff::civil::date;

    /// Solar panels of 2023 and a door above its limit, as in `demo/amend-2023.case.yaml`, with keys of the return.
    fn solar_and_door(returns: &str) -> (Case, Outcome) {
        household(&format!(
            "property:\n  a:\n    kind: solar_electric\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2023-08-01\n    costs: [{{item: array, as: equipment, amount: 17500}}]\n  d:\n    kind: exterior_door\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2023-05-04\n    costs: [{{item: door, as: material, amount: 1600}}]\nreturns:\n{returns}"
        ))
    }

    fn dollars(outcome: &Outcome, year: i16, line: Line) -> Option<String> {
        outcome.figures.money(&Place::of_return(TaxYear(year), line)).map(Money::spoken)
    }

    /// What the changes of each year come to: year, less tax, more tax, more and less carried forward.
    fn told(case: &Case, outcome: &Outcome) -> Vec<(i16, [String; 4])> {
        let row = |one: &Correction| {
            (one.year.0, [one.less_tax, one.more_tax, one.more_carried, one.less_carried].map(Money::spoken))
        };
        corrections(case, outcome).iter().map(row).collect()
    }

    fn row(amounts: [&str; 4]) -> [String; 4] {
        amounts.map(str::to_string)
    }

    /// Worked by hand. 25D: 17,500 x 30% = 5,250. 25C: 1,600 x 30% = 480, at most 250 for a door. Filed 4,230 and 480:
    /// 1,020 more and 230 less are 790 less tax. Line 7: A 4,710, B 790, C 5,500; line 8: A 1,390, B -790, C 600.
    #[test]
    fn an_item_claimed_too_high_is_netted_with_one_left_out() {
        let (case, outcome) = solar_and_door(
            "  2023: {filing_status: single, filed: 2024-03-12, tax_before_credits: 6100, claimed: {improvement: 480, clean: 4230, carried_out: 0}}\n",
        );
        for (line, amount) in [
            (line::CHANGE_CREDITS, "$790"),
            (line::CREDITS_AS_FILED, "$4,710"),
            (line::CREDITS_CORRECT, "$5,500"),
            (line::TAX_AS_FILED, "$1,390"),
            (line::TAX_CORRECT, "$600"),
            (line::CHANGE_TAX, "\u{2212}$790"),
        ] {
            assert_eq!(dollars(&outcome, 2023, line).as_deref(), Some(amount), "line {line}");
        }
        assert_eq!(told(&case, &outcome), [(2023, row(["$790", "$0", "$0", "$0"]))]);
        let one = &corrections(&case, &outcome)[0];
        assert!(one.refund_is_open(date(2027, 4, 15)) && !one.refund_is_open(date(2027, 4, 16)));
        assert!(one.asks_for_decision(date(2027, 4, 15)) && !one.asks_for_decision(date(2027, 4, 16)));
    }

    /// Worked by hand: 480 filed for the door and 250 right, 5,150 filed for the panels and 5,250 right: 130 more tax.
    #[test]
    fn the_net_can_be_more_tax() {
        let (case, outcome) = solar_and_door(
            "  2023: {filing_status: single, filed: 2024-03-12, tax_before_credits: 6100, claimed: {improvement: 480, clean: 5150, carried_out: 0}}\n",
        );
        assert_eq!(told(&case, &outcome), [(2023, row(["$0", "$130", "$0", "$0"]))]);
        assert!(!corrections(&case, &outcome)[0].refund_is_open(date(2024, 6, 1)));
    }

    /// Worked by hand. The return claimed 5,250 and 250 against a tax of 3,000: its tax was nothing. Right are 250 and
    /// 2,750, and 2,500 go on. The credits fall by 2,500, and the tax stays nothing.
    #[test]
    fn credit_claimed_beyond_the_tax_is_no_more_tax() {
        let (case, outcome) = solar_and_door(
            "  2023: {filing_status: single, filed: 2024-03-12, tax_before_credits: 3000, claimed: {improvement: 250, clean: 5250, carried_out: 0}}\n",
        );
        assert_eq!(dollars(&outcome, 2023, line::CHANGE_CREDITS).as_deref(), Some("\u{2212}$2,500"));
        assert_eq!(told(&case, &outcome), [(2023, row(["$0", "$0", "$2,500", "$0"]))]);
    }

    /// Worked by hand. The labor was left out of a balance that the tax of 2023 could not take: 25C 250, tax 1,250, so
    /// 1,000 of 25D is used and 4,250 goes on; filed were 3,000. In 2024 the tax is 3,800: filed 3,000, right 3,800,
    /// and 450 goes on. The first return has no refund, the second one of 800.
    #[test]
    fn a_carryforward_alone_is_no_refund_and_the_next_year_has_it() {
        let (case, outcome) = solar_and_door(
            "  2023: {filing_status: single, filed: 2024-03-12, tax_before_credits: 1250, claimed: {improvement: 250, clean: 1000, carried_out: 3000}}\n  2024: {filing_status: single, filed: 2025-03-12, tax_before_credits: 3800, claimed: {clean: 3000, carried_out: 0}}\n",
        );
        assert_eq!(
            told(&case, &outcome),
            [(2023, row(["$0", "$0", "$1,250", "$0"])), (2024, row(["$800", "$0", "$450", "$0"]))]
        );
        let all = corrections(&case, &outcome);
        assert!(all[0].same_tax() && !all[0].refund_is_open(date(2024, 6, 1)));
        // What is carried forward is asked about whether or not a refund is in time.
        assert!(all[0].asks_for_decision(date(2030, 1, 1)));
    }

    /// Worked by hand. The panels were complete in 2024 and claimed for 2023: 5,250 more tax for the one year, 5,250
    /// less for the other.
    #[test]
    fn a_year_with_more_tax_stands_beside_one_with_a_refund() {
        let (case, outcome) = household(
            "property:\n  a:\n    kind: solar_electric\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2024-01-08\n    costs: [{item: array, as: equipment, amount: 17500}]\nreturns:\n  2023: {filing_status: single, filed: 2024-03-12, tax_before_credits: 9000, claimed: {clean: 5250, carried_out: 0}}\n  2024: {filing_status: single, filed: 2025-03-12, tax_before_credits: 8000, claimed: {clean: 0, carried_out: 0}}\n",
        );
        assert_eq!(
            told(&case, &outcome),
            [(2023, row(["$0", "$5,250", "$0", "$0"])), (2024, row(["$5,250", "$0", "$0", "$0"]))]
        );
    }

    /// Worked by hand. Foreign tax credit 4,750 of 6,000: left for 25C 1,250, so 250; left for 25D 1,000 of 5,250.
    /// Filed 1,200 and 4,050: 50 less tax in 2023. In 2024 4,250 is carried in and used; filed 4,050: 200 less.
    #[test]
    fn credits_that_come_first_stand_on_the_same_line() {
        let (case, outcome) = solar_and_door(
            "  2023: {filing_status: single, filed: 2024-03-12, tax_before_credits: 6000, other_credits: {foreign_tax: 4750}, claimed: {improvement: 0, clean: 1200, carried_out: 4050}}\n  2024: {filing_status: single, filed: 2025-03-12, tax_before_credits: 9000, claimed: {clean: 4050, carried_out: 0}}\n",
        );
        assert_eq!(dollars(&outcome, 2023, line::OTHER_CREDITS).as_deref(), Some("$4,750"));
        assert_eq!(dollars(&outcome, 2023, line::CREDITS_AS_FILED).as_deref(), Some("$5,950"));
        assert_eq!(
            told(&case, &outcome),
            [(2023, row(["$50", "$0", "$200", "$0"])), (2024, row(["$200", "$0", "$0", "$0"]))]
        );
    }

    /// Line 14 of Worksheet B limits 25D, and the return shows the other amount (Form 1040 line 19). Worked by hand:
    /// tax 6,000, on the return 2,000 of child credit, worksheet 1,500; 25C 250, left for 25D 4,250 of 5,250.
    #[test]
    fn line_7_takes_the_child_credit_of_the_return() {
        let (case, outcome) = solar_and_door(
            "  2023: {filing_status: single, filed: 2024-03-12, tax_before_credits: 6000, other_credits: {child_tax: {return_line: 2000, worksheet_b: 1500}}, claimed: {improvement: 0, clean: 3500, carried_out: 1750}}\n",
        );
        assert_eq!(dollars(&outcome, 2023, line::CREDITS_AS_FILED).as_deref(), Some("$5,500"));
        assert_eq!(dollars(&outcome, 2023, line::CREDITS_CORRECT).as_deref(), Some("$6,500"));
        // The credits pass the tax: others, which come later, have to be figured again.
        assert_eq!(dollars(&outcome, 2023, line::CREDITS_ABOVE_TAX).as_deref(), Some("$500"));
        assert_eq!(told(&case, &outcome), [(2023, row(["$500", "$0", "$0", "$750"]))]);
    }

    #[test]
    fn what_is_not_said_is_not_netted() {
        let net = |claimed: &str, stage: &str| {
            let (case, outcome) = solar_and_door(&format!(
                "  2023: {{filing_status: single, stage: {stage}, filed: 2024-03-12, tax_before_credits: 6100, claimed: {{{claimed}}}}}\n"
            ));
            (dollars(&outcome, 2023, line::CHANGE_CREDITS), corrections(&case, &outcome).len())
        };
        assert_eq!(net("clean: 4230", "filed"), (None, 0));
        assert_eq!(net("improvement: 480", "filed"), (None, 0));
        assert_eq!(net("improvement: 480, clean: 4230", "filed"), (Some("$790".to_string()), 1));
        assert_eq!(net("improvement: 250, clean: 5250", "filed"), (Some("$0".to_string()), 0));
        assert_eq!(net("improvement: 480, clean: 4230", "amended"), (Some("$790".to_string()), 1));
    }

    /// 25C ended: a return for 2026 that claims it claims too much (26 U.S.C. 25C(i), as of April 2026).
    #[test]
    fn a_credit_claimed_in_a_year_without_one_is_more_tax() {
        let (case, outcome) = household(
            "property: {}\nreturns:\n  2026: {filing_status: single, filed: 2027-03-12, tax_before_credits: 3000, claimed: {improvement: 600, clean: 0}}\n",
        );
        assert_eq!(told(&case, &outcome), [(2026, row(["$0", "$600", "$0", "$0"]))]);
    }

    /// As above, where the preparer lets the balance of the filed form stand: nothing is left to correct in 2023.
    #[test]
    fn a_balance_that_the_preparer_lets_stand_is_no_change() {
        let (case, outcome) = solar_and_door(
            "  2023: {filing_status: single, filed: 2024-03-12, tax_before_credits: 1250, claimed: {improvement: 250, clean: 1000, carried_out: 3000}}\n  2024: {filing_status: single, filed: 2025-03-12, tax_before_credits: 3800, claimed: {clean: 3000, carried_out: 0}}\ncarried_in:\n  2024: {amount: 3000, shown_on: 2023 Form 5695 line 16, instead_of_computed: the filed return stands}\n",
        );
        assert_eq!(told(&case, &outcome), []);
    }

    #[test]
    fn an_amended_return_asks_for_nothing() {
        let (case, outcome) = solar_and_door(
            "  2023: {filing_status: single, stage: amended, filed: 2024-03-12, tax_before_credits: 6100, claimed: {improvement: 480, clean: 4230, carried_out: 0}}\n",
        );
        let one = &corrections(&case, &outcome)[0];
        assert!(one.amended && !one.asks_for_decision(date(2025, 1, 1)));
        assert!(!one.refund_is_open(date(2025, 1, 1)));
    }
}
