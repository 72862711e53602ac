//! From facts and law to numbered lines.
//!
//! Comes in: a case and the law. Goes out: the figures of every year that can be computed, chained, and all that
//! was found on the way. A line is an expression and expressions are data: the plan writes them, `evaluate`
//! is the only arithmetic, and everything later reads them.

pub mod amend;
mod answers;
pub mod as_filed;
mod ask;
mod basis;
mod brought_in;
mod carryforward;
mod clean;
pub mod codes;
pub mod credits;
mod earlier;
mod enabling;
pub mod evaluate;
pub mod expression;
pub mod facts;
mod form;
mod improvement;
mod limit;
pub mod line;
mod matters;
pub mod other_years;
pub mod papers;
mod plan;
pub mod planning;
mod purchase;
pub mod qualify;
mod reduction;
pub mod season;
pub mod stage;
mod steps;
mod transfer;
mod until_2022;
pub mod weight;
pub mod why;
pub mod window;

pub use evaluate::{Fault, Figure, Figures, Step, Used};
pub use expression::{CaseRef, Expr, Ruling, Value};
pub use line::{Line, LineKind, Of, Place};

use crate::case::{Case, ReturnForm, RoundingChoice, TaxYear};
use crate::finding::{Finding, Severity};
use crate::law::{Law, YearLaw};
use crate::money::Money;
use credits::CREDITS;
use jiff::civil::Date;
use plan::{Plan, Planned};
use qualify::Timing;
use std::collections::{BTreeMap, BTreeSet};

/// Everything the credits of a case come to.
#[derive(Clone, Debug, Default)]
pub struct Outcome {
    /// The figures.
    pub figures: Figures,
    /// The years with figures, in order.
    pub years: Vec<TaxYear>,
    /// The forms of the returns: which official papers the figures of a year belong to.
    pub forms: BTreeMap<TaxYear, ReturnForm>,
    /// What was found on the way and stands open.
    pub findings: Vec<Finding>,
    /// The questions that the case answers, each with the number of its answer, from zero.
    pub answered: Vec<(usize, Finding)>,
}

impl Outcome {
    /// Returns the form of a year's return; Form 1040 where the case has no return of the year.
    pub fn form(&self, year: TaxYear) -> ReturnForm {
        self.forms.get(&year).copied().unwrap_or(ReturnForm::Form1040)
    }
}

/// Computes every year of a case that has a return or property, chained from year to year.
///
/// Fails only through a mistake of the program: a plan that asks for what is not there.
pub fn compute(case: &Case, law: &Law) -> Result<Outcome, Fault> {
    let mut chain = reckon(case, law)?;
    chain.years_to_come()?;
    let Chain { mut outcome, counting, .. } = chain;
    outcome.forms = case.returns.iter().map(|one| (one.year.value, one.form.value)).collect();
    outcome.findings.extend(ask::ask(case, law, &counting, &outcome.figures));
    earlier::ask_once(&mut outcome.findings);
    outcome.findings.extend(earlier::of_no_year(case, law));
    let of_other_years = other_years::notes(case, law, &outcome.findings);
    outcome.findings.extend(of_other_years);
    outcome.findings.extend(answers::unknown(case));
    for finding in &mut outcome.findings {
        for authority in &mut finding.authority {
            *authority = law.cite(authority);
        }
    }
    let mut seen: Vec<Finding> = Vec::new();
    outcome.findings.retain(|finding| {
        let new = !seen.contains(finding);
        if new {
            seen.push(finding.clone());
        }
        new
    });
    for finding in &mut outcome.findings {
        finding.blocking = finding.severity == Severity::Question && codes::blocks(finding.code);
    }
    outcome.answered = answers::take_answered(case, &mut outcome.findings);
    matters::keep_what_matters(case, law, &outcome.figures, &mut outcome.findings);
    Ok(outcome)
}

/// Computes every year, apart from years to come and from what a reviewer would ask.
fn reckon<'a>(case: &'a Case, law: &'a Law) -> Result<Chain<'a>, Fault> {
    let mut chain = Chain {
        case,
        law,
        outcome: Outcome::default(),
        origins: Vec::new(),
        counting: Vec::new(),
        broken: false,
    };
    chain.untimed();
    for year in chain.years() {
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
struct Chain<'a> {
    case: &'a Case,
    law: &'a Law,
    outcome: Outcome,
    /// The years whose credit may still be alive, oldest first.
    origins: Vec<TaxYear>,
    /// The items that count, in their years.
    counting: Vec<ask::Counting<'a>>,
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
            self.outcome.findings.extend(qualify::untimed(item, home, timing));
        }
    }

    /// Returns the years from the first to the last that the case speaks of.
    fn years(&self) -> Vec<TaxYear> {
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

    fn year(&mut self, year: TaxYear) -> Result<(), Fault> {
        let of_year = self.items(year);
        let Some(year_law) = self.law.year(year) else {
            self.year_without_law(year, &of_year);
            return Ok(());
        };
        let tax_return = self.case.tax_return(year);
        let mut plan = Plan {
            case: self.case,
            year_law,
            year,
            tax_return,
            items: Vec::new(),
            steps: Vec::new(),
            findings: Vec::new(),
        };
        plan.items = planned(&mut plan, self.law, &of_year);
        purchase::plan(&mut plan);
        let straddling = of_year.iter().zip(&plan.items).filter_map(|((item, _, day), one)| {
            let credit = one.kind_law.filter(|law| one.counts_for(law.credit))?.credit;
            qualify::straddles(item, *day, credit, self.law)
        });
        let asked: Vec<Finding> = straddling.collect();
        plan.findings.extend(asked);
        // What lies before the balance that starts the chain is kept for the papers only.
        if tax_return.is_some() || self.restart_after(year).is_none() {
            let days = of_year.iter().zip(&plan.items);
            let counting =
                days.filter(|(_, one)| one.qualified.ruling.counts).filter_map(|((_, _, day), one)| {
                    let kind_law = one.kind_law?;
                    Some(ask::Counting {
                        planned: one.clone(),
                        kind_law,
                        law: year_law,
                        day: *day,
                        tax_return,
                    })
                });
            self.counting.extend(counting);
        }
        let restart = self.checkpoint(year);
        let balance = self.balance(year.before());
        let starts_later = self.restart_after(year);
        if tax_return.is_none() {
            self.without_return(year, &plan, balance, starts_later);
            self.origins.clear();
        }
        for of in CREDITS.iter().filter(|of| year_law.in_force(of.credit)) {
            steps::of_new_property(&mut plan, of.credit, &self.outcome.figures);
        }
        if let Some(tax_return) = tax_return {
            self.broken = false;
            let carried_in = self.carried_in(&plan, restart);
            steps::with_carried_in(&mut plan, carried_in);
            limit::plan(&mut plan, tax_return, self.law);
            for of in &CREDITS {
                limit::for_credit(&mut plan, tax_return, of);
                if plan.takes_part(of.credit) {
                    steps::after_limit(&mut plan, of);
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
            carryforward::plan(&mut plan, &self.origins, restart, rounded_on_entry);
            basis::plan_basis(&mut plan, &self.outcome.figures);
            basis::plan_net_cost(&mut plan, &self.outcome.figures);
            transfer::plan(&mut plan, tax_return);
        }
        let enabling_rule = plan.authority("enabling");
        let lifetime_rules =
            ["lifetime.credits", "lifetime.windows"].map(|rule| plan.authority(rule).join("; "));
        let Plan { steps, findings, items, .. } = plan;
        let counting: Vec<&crate::case::Item> =
            items.iter().filter(|one| one.qualified.ruling.counts).map(|one| one.item).collect();
        let any = !steps.is_empty();
        self.outcome.findings.extend(findings);
        evaluate::evaluate(steps, self.law, &mut self.outcome.figures)?;
        amend::compute(self.case, self.law, year, &mut self.outcome.figures)?;
        self.outcome.findings.extend(purchase::reductions_above_cost(&counting, year, &self.outcome.figures));
        self.outcome.findings.extend(reduction::of_mixed_prices(
            self.case,
            &items,
            self.law,
            year_law,
            &self.outcome.figures,
        ));
        self.outcome.findings.extend(enabling::without_enabled_cost(
            &items,
            year,
            &enabling_rule,
            &self.outcome.figures,
        ));
        self.outcome.findings.extend(until_2022::afterwards(
            &items,
            year,
            &lifetime_rules,
            &self.outcome.figures,
        ));
        self.outcome.findings.extend(improvement::afterwards(&items, year_law, &self.outcome.figures));
        self.outcome.findings.extend(clean::afterwards(&items, year_law, &self.outcome.figures));
        if let Some(tax_return) = tax_return {
            self.outcome.findings.extend(limit::afterwards(tax_return, year_law, &self.outcome.figures));
        }
        if any {
            self.outcome.years.push(year);
        }
        Ok(())
    }

    /// Adds what years to come would use of the credit, on an assumption about their tax.
    fn years_to_come(&mut self) -> Result<(), Fault> {
        if self.broken {
            return Ok(());
        }
        planning::compute(self.case, self.law, &mut self.outcome.figures)
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
        self.outcome.figures.money(&Place::of_return(year, line::CARRIED_OUT))
    }

    /// Says whether a year's chain starts at a balance the case gives, and compares it with what the case yields. What
    /// cannot be 25D credit starts no chain: then the case's own figures stand.
    fn checkpoint(&mut self, year: TaxYear) -> bool {
        let Some(given) = self.case.carried_in(year) else {
            return false;
        };
        let checked = brought_in::check(self.case, self.law, &self.outcome.figures, given);
        self.outcome.findings.extend(checked.found);
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
                value: expression::Value::Money(given.amount.value),
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
                self.outcome.findings.push(
                    Finding::note(
                        "before-checkpoint",
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
            let mut finding =
                Finding::error("missing-return", format!("there is no return for {year}, and {why}"))
                    .at(self.case.returns.first().map_or(self.case.whole, |one| one.span))
                    .help(return_to_add(plan, "even if the tax was zero"))
                    .under("26 U.S.C. 25D(c): the credit goes to the succeeding taxable year");
            let counting = plan.items.iter().filter(|one| one.qualified.ruling.counts);
            for installed in counting.filter_map(|one| one.item.installed.as_ref()) {
                finding = finding
                    .with(installed.span, format!("this day puts it into {}", TaxYear::of(installed.value)));
            }
            self.outcome.findings.push(finding);
        } else if earns {
            self.outcome.findings.push(
                Finding::warning(
                    "no-return-yet",
                    format!("there is no return for {year} in the case, so its credit is figured only up to the tax limit"),
                )
                .at(plan.items.iter().find(|one| one.qualified.ruling.counts).map_or(self.case.whole, |one| one.item.key.span))
                .help(return_to_add(plan, "with expected figures if it is not prepared yet")),
            );
        }
    }

    /// Says up to which year the law goes, and when the credits ended where they have.
    fn years_of_law(&self) -> String {
        let ended = self.law.all().next_back().and_then(YearLaw::all_ended);
        let ended = ended.map_or_else(String::new, |day| {
            format!("both credits ended for work completed after {}, and ", TaxYear::of(day))
        });
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
                self.outcome.findings.push(
                    Finding::warning(
                        "before-the-credits",
                        format!(
                            "`{}` was complete on {day}, before there was either credit, so it earns none",
                            item.key.value
                        ),
                    )
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
            self.outcome.findings.push(
                Finding::error("year-without-law", format!("the law of {year} is not in this program"))
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

/// A small household for the tests of this module.
#[cfg(test)]
mod sample {
    use super::{Outcome, compute};
    use crate::case::Case;
    use crate::law::Law;

    /// Reads and computes a case of one person with one home, `h`; `rest` is what follows `homes`.
    pub(super) fn household(rest: &str) -> (Case, Outcome) {
        let text = format!(
            "format: 1\nclient:\n  reference: HH-1\n  people: [{{name: A Person}}]\n  delivery: none\nhomes:\n  h:\n    address: {{street: 1 A St, city: X, state: VT, zip: 05099}}\n    use: main_home\n    held_as: owner\n{rest}"
        );
        let mut sources = crate::finding::Sources::default();
        let (case, findings) = crate::case::read("x.case.yaml", text.as_bytes(), &mut sources);
        let told: Vec<String> = findings.iter().map(|one| one.render(&sources)).collect();
        let case = case.unwrap_or_else(|| panic!("{}", told.join("\n")));
        let outcome = compute(&case, Law::built_in()).unwrap();
        (case, outcome)
    }
}
