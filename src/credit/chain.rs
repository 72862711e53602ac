//! Year after year: each is planned, evaluated, and hands its balance on to the next.
//!
//! Comes in: a case and the law. Goes out: the figures of every year that can be computed, and what a review needs of
//! each. Which lines a year has is in `plan`; here stands how years hang together.

use super::evaluate::credits::CREDITS;
use super::evaluate::line::{self, Place};
use super::evaluate::{self, CaseRef, Expr, Fault, Figures, Value};
use super::plan::qualify::{self, Timing};
use super::plan::{Plan, Planned};
use super::plan::{basis, brought_in, carryforward, limit, purchase, steps, transfer};
use super::returns::{amend, planning};
use crate::case::{Case, RoundingChoice, TaxReturn, TaxYear};
use crate::credit::codes;
use crate::finding::Finding;
use crate::law::{Law, YearLaw};
use crate::money::Money;
use jiff::civil::Date;
use std::collections::BTreeSet;

/// A year that was planned and evaluated: what a review of it needs.
pub(in crate::credit) struct Reckoned<'a> {
    /// The year's law.
    pub law: &'a YearLaw,
    /// The year's return, where the case has one.
    pub tax_return: Option<&'a TaxReturn>,
    /// The items whose credit falls in the year, in case order.
    pub items: Vec<Planned<'a>>,
    /// The day that decides, for each item.
    pub days: Vec<Date>,
    /// The year lies before the balance that starts the chain: nothing in it is asked about.
    pub for_papers_only: bool,
}

/// Computes every year, apart from years to come and from what a reviewer would ask.
pub(in crate::credit) fn reckon<'a>(case: &'a Case, law: &'a Law) -> Result<Chain<'a>, Fault> {
    let mut chain = Chain {
        case,
        law,
        figures: Figures::default(),
        years: Vec::new(),
        reckoned: Vec::new(),
        found: Vec::new(),
        origins: Vec::new(),
        broken: false,
    };
    chain.untimed();
    for year in chain.span() {
        chain.year(year)?;
    }
    Ok(chain)
}

/// Says how a return that the case lacks is added, at each stage it may be at.
fn return_to_add(plan: &Plan<'_>, also: &str) -> String {
    let (year, line) = (plan.year, &plan.year_law.tax_line);
    format!(
        "add under `returns`, {also}:\n{year}: {{stage: .., filing_status: .., tax_before_credits: ..}}   # line {line} of Form 1040\n\
         `stage: projected` if it is not begun, `draft` if it is being prepared, `filed` if it was filed, with `filed:` and `claimed:`"
    )
}

/// The chain of years in the making.
pub(in crate::credit) struct Chain<'a> {
    case: &'a Case,
    law: &'a Law,
    /// The figures.
    pub figures: Figures,
    /// The years with figures, in order.
    pub years: Vec<TaxYear>,
    /// The years of which there is law, and what was planned in them.
    pub reckoned: Vec<Reckoned<'a>>,
    /// What was found on the way.
    pub found: Vec<Finding>,
    /// The years whose credit may still be alive, oldest first.
    origins: Vec<TaxYear>,
    /// A credit is stuck before a year that has no return; what it comes to afterwards nobody can say.
    broken: bool,
}

impl<'a> Chain<'a> {
    /// Complains about items whose year is not known.
    fn untimed(&mut self) {
        for item in &self.case.property {
            let Some(home) = self.case.home(&item.home.value) else {
                continue;
            };
            let timing = qualify::timing(item, home);
            self.found.extend(qualify::untimed(item, home, timing));
        }
    }

    /// Returns the years from the first to the last that the case speaks of.
    fn span(&self) -> Vec<TaxYear> {
        let mut years: BTreeSet<TaxYear> = self.case.returns.iter().map(|one| one.year.value).collect();
        years.extend(self.case.carried_in.iter().map(|one| one.year.value));
        for item in &self.case.property {
            years
                .extend(self.case.home(&item.home.value).and_then(|home| qualify::timing(item, home).year()));
        }
        match (years.first(), years.last()) {
            (Some(first), Some(last)) => (first.0..=last.0).map(TaxYear).collect(),
            _ => Vec::new(),
        }
    }

    /// Plans a year, evaluates the plan, and keeps what a review needs of it.
    fn year(&mut self, year: TaxYear) -> Result<(), Fault> {
        let of_year = self.items(year);
        let Some(year_law) = self.law.year(year) else {
            self.year_without_law(year, &of_year);
            return Ok(());
        };
        let mut plan = self.bought(year_law, &of_year);
        let restart = self.checkpoint(year);
        let balance = self.balance(year.before());
        let starts_later = self.restart_after(year);
        let has_return = plan.tax_return.is_some();
        if !has_return {
            self.without_return(year, &plan, balance, starts_later);
            self.origins.clear();
        }
        self.credits(&mut plan, restart);

        let Plan { steps, findings, items, tax_return, .. } = plan;
        if !steps.is_empty() {
            self.years.push(year);
        }
        self.found.extend(findings);
        evaluate::evaluate(steps, self.law, &mut self.figures)?;
        amend::compute(self.case, self.law, year, &mut self.figures)?;
        self.reckoned.push(Reckoned {
            law: year_law,
            tax_return,
            items,
            days: of_year.iter().map(|(_, _, day)| *day).collect(),
            // What lies before the balance that starts the chain is kept for the papers only.
            for_papers_only: !has_return && starts_later.is_some(),
        });
        Ok(())
    }

    /// Plans what was bought in a year: whether it qualifies, and its qualified cost.
    fn bought(
        &self,
        year_law: &'a YearLaw,
        of_year: &[(&'a crate::case::Item, &'a crate::case::Home, Date)],
    ) -> Plan<'a> {
        let year = year_law.year;
        let mut plan = Plan {
            case: self.case,
            year_law,
            year,
            tax_return: self.case.tax_return(year),
            items: Vec::new(),
            steps: Vec::new(),
            findings: Vec::new(),
        };
        plan.items = planned(&mut plan, self.law, of_year);
        purchase::plan(&mut plan);
        let straddling = of_year.iter().zip(&plan.items).filter_map(|((item, _, day), one)| {
            let credit = one.kind_law.filter(|law| one.counts_for(law.credit))?.credit;
            qualify::straddles(item, *day, credit, self.law)
        });
        let asked: Vec<Finding> = straddling.collect();
        plan.findings.extend(asked);
        plan
    }

    /// Plans the credits of a year, in the order of the tax: what is earned, and where the year has a return, what the
    /// tax leaves of it, what goes on, and what all of it means for the home and the household.
    fn credits(&mut self, plan: &mut Plan<'a>, restart: bool) {
        let (year, year_law) = (plan.year, plan.year_law);
        for of in CREDITS.iter().filter(|of| year_law.in_force(of.credit)) {
            steps::of_new_property(plan, of.credit, &self.figures);
        }
        let Some(tax_return) = plan.tax_return else { return };
        self.broken = false;
        let carried_in = self.carried_in(plan, restart);
        steps::with_carried_in(plan, carried_in);
        limit::plan(plan, tax_return, self.law);
        for of in &CREDITS {
            limit::for_credit(plan, tax_return, of);
            if plan.takes_part(of.credit) {
                steps::after_limit(plan, of);
            }
        }
        if restart {
            self.origins = vec![year.before()];
        }
        let goes_on =
            |one: &Planned<'_>| one.kind_law.is_some_and(|law| year_law.carries_forward(law.credit));
        if plan.items.iter().any(|one| one.qualified.ruling.counts && goes_on(one)) {
            self.origins.push(year);
        }
        let keeps_cents = |one: &crate::case::TaxReturn| one.rounding == RoundingChoice::Cents;
        let rounded_on_entry =
            !keeps_cents(tax_return) && self.case.tax_return(year.before()).is_some_and(keeps_cents);
        carryforward::plan(plan, &self.origins, restart, rounded_on_entry);
        basis::plan_basis(plan, &self.figures);
        basis::plan_net_cost(plan, &self.figures);
        transfer::plan(plan, tax_return);
    }

    /// Adds what years to come would use of the credit, on an assumption about their tax.
    pub fn years_to_come(&mut self) -> Result<(), Fault> {
        if self.broken {
            return Ok(());
        }
        planning::compute(self.case, self.law, &mut self.figures)
    }

    /// Returns the items whose credit falls in a year, with their homes and days.
    fn items(&self, year: TaxYear) -> Vec<(&'a crate::case::Item, &'a crate::case::Home, Date)> {
        let case = self.case;
        case.property
            .iter()
            .filter_map(|item| {
                let home = case.home(&item.home.value)?;
                match qualify::timing(item, home) {
                    Timing::On(day) if TaxYear::of(day) == year => Some((item, home, day)),
                    _ => None,
                }
            })
            .collect()
    }

    /// Returns what the case itself carries out of a year.
    fn balance(&self, year: TaxYear) -> Option<Money> {
        self.figures.money(&Place::of_return(year, line::CARRIED_OUT))
    }

    /// Says whether a year's chain starts at a balance the case gives, and compares it with what the case yields. What
    /// cannot be 25D credit starts no chain: then the case's own figures stand.
    fn checkpoint(&mut self, year: TaxYear) -> bool {
        let Some(given) = self.case.carried_in(year) else {
            return false;
        };
        let checked = brought_in::check(self.case, self.law, &self.figures, given);
        self.found.extend(checked.found);
        checked.starts_chain
    }

    /// Returns the year at which a balance starts the chain anew after a year, with no return in between that would
    /// need to know what came before.
    fn restart_after(&self, year: TaxYear) -> Option<TaxYear> {
        let start =
            self.case.carried_in.iter().map(|one| one.year.value).filter(|start| *start > year).min()?;
        let between = |one: &crate::case::TaxReturn| one.year.value > year && one.year.value < start;
        (!self.case.returns.iter().any(between)).then_some(start)
    }

    /// Returns the expression for what is carried in.
    fn carried_in(&self, plan: &Plan<'_>, restart: bool) -> Expr {
        let year = plan.year;
        if restart && let Some(given) = self.case.carried_in(year) {
            let shown = given.shown_on.as_ref().map(|shown| shown.value.clone());
            return plan.entry(Expr::Fact(CaseRef {
                path: format!("carried_in.{year}.amount"),
                words: shown.map_or_else(
                    || "carried in".to_string(),
                    |shown| format!("carried in, shown on {shown}"),
                ),
                span: given.amount.span,
                value: Value::Money(given.amount.value),
                evidence: None,
            }));
        }
        match self.balance(year.before()) {
            // A year in cents may go before a year in whole dollars; the amount is rounded where it is entered.
            Some(_) => plan.entry(Expr::at(year.before(), line::CARRIED_OUT)),
            None => Expr::nothing(),
        }
    }

    /// Complains where a year without a return stands in the way of a balance, or of a credit.
    fn without_return(
        &mut self,
        year: TaxYear,
        plan: &Plan<'_>,
        balance: Option<Money>,
        starts_later: Option<TaxYear>,
    ) {
        let later = self.case.returns.iter().any(|one| one.year.value > year);
        // Of a year's 25C credit the case may say under `earlier_credits` what was taken.
        let stated = self
            .case
            .earlier_credits
            .iter()
            .any(|one| one.year.value == year && one.nonbusiness_energy_credit.is_some());
        let looks_back = |one: &Planned<'_>| {
            let how = one.kind_law.and_then(|law| plan.year_law.method(law.credit));
            how.is_some_and(|how| how.steps.contains(&crate::law::MethodStep::LimitOfAllYears))
        };
        let earns = plan.items.iter().any(|one| one.qualified.ruling.counts && !(stated && looks_back(one)));
        let brought = self.case.carried_in(year).map(|given| given.amount.value);
        let carries = self.broken || brought.or(balance).is_some_and(|amount| !amount.is_zero());
        self.broken = later && starts_later.is_none() && (earns || carries);
        if let Some(start) = starts_later {
            for one in &plan.items {
                self.found.push(
                    codes::BEFORE_CHECKPOINT.finding(
                        format!(
                            "`{}` was complete before the balance carried into {} starts the chain; it is kept for basis and papers only",
                            one.item.key.value, start
                        ),
                    )
                    .at(one.item.key.span)
                    .help(format!(
                        "credit allowed on it before {start} does not stand in the case; take it off lines 709 and 711 as well, and what the property cost the household in the end is not figured"
                    )),
                );
            }
            return;
        }
        if self.broken {
            let why = if earns { "property counts in that year" } else { "a carryforward passes through it" };
            let mut finding = codes::MISSING_RETURN
                .finding(format!("there is no return for {year}, and {why}"))
                .at(self.case.returns.first().map_or(self.case.whole, |one| one.span))
                .help(return_to_add(plan, "even if the tax was zero"))
                .under("26 U.S.C. 25D(c): the credit goes to the succeeding taxable year");
            let counting = plan.items.iter().filter(|one| one.qualified.ruling.counts);
            for installed in counting.filter_map(|one| one.item.installed.as_ref()) {
                finding = finding
                    .with(installed.span, format!("this day puts it into {}", TaxYear::of(installed.value)));
            }
            self.found.push(finding);
        } else if earns {
            self.found.push(
                codes::NO_RETURN_YET.finding(
                    format!("there is no return for {year} in the case, so its credit is figured only up to the tax limit"),
                )
                .at(plan.items.iter().find(|one| one.qualified.ruling.counts).map_or(self.case.whole, |one| one.item.key.span))
                .help(return_to_add(plan, "with expected figures if it is not prepared yet")),
            );
        }
    }

    /// Says up to which year the law goes, and when the credits ended where they have.
    fn years_of_law(&self) -> String {
        let last = self.law.all().next_back();
        let ended = last.and_then(|law| law.all_ended(TaxYear::of)).map(|told| format!("{told}, and "));
        let ended = ended.unwrap_or_default();
        format!("correct the year; {ended}later returns cannot be computed yet")
    }

    /// A year outside the law in the program: an error where a credit or a return needs it.
    fn year_without_law(&mut self, year: TaxYear, items: &[(&crate::case::Item, &crate::case::Home, Date)]) {
        let covered = self.case.carried_in.iter().any(|one| one.year.value > year);
        if covered {
            return;
        }
        if self.law.known().next().is_some_and(|first| year < first) {
            for (item, _, day) in items {
                let span = item.installed.as_ref().map_or(item.key.span, |day| day.span);
                self.found.push(
                    codes::BEFORE_THE_CREDITS
                        .finding(format!(
                            "`{}` was complete on {day}, before there was either credit, so it earns none",
                            item.key.value
                        ))
                        .at(span)
                        .help("correct the day if it is a slip; else keep the item for the home's basis")
                        .under("26 U.S.C. 25C and 25D: property placed in service after December 31, 2005"),
                );
            }
            return;
        }
        let span = self.case.tax_return(year).map(|one| one.year.span).or(items
            .first()
            .map(|(item, _, _)| item.installed.as_ref().map_or(item.key.span, |day| day.span)));
        if let Some(span) = span {
            self.found.push(
                codes::YEAR_WITHOUT_LAW
                    .finding(format!("the law of {year} is not in this program"))
                    .at(span)
                    .help(self.years_of_law()),
            );
        }
    }
}

/// Decides for each item whether it qualifies, apart from what enabling property asks of other items.
fn planned<'a>(
    plan: &mut Plan<'a>,
    law: &Law,
    items: &[(&'a crate::case::Item, &'a crate::case::Home, Date)],
) -> Vec<Planned<'a>> {
    items
        .iter()
        .map(|(item, home, day)| Planned {
            item,
            home,
            kind_law: plan.year_law.kinds.get(&item.kind.value),
            qualified: qualify::qualify(item, home, plan.year_law, law, *day, &mut plan.findings),
        })
        .collect()
}
