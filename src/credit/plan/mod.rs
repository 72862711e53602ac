//! What a year's plan is made of: the facts, the year's law, and the steps gathered so far.
//!
//! The plan decides which rows exist and which rules apply. It looks at facts and law, never at figures.

pub(super) mod basis;
pub mod brought_in;
pub(super) mod carryforward;
mod clean;
pub(super) mod earlier;
pub(super) mod enabling;
mod form;
mod improvement;
pub(super) mod limit;
pub(super) mod purchase;
pub mod qualify;
pub(super) mod steps;
pub(super) mod transfer;
mod until_2022;

use crate::case::{Case, Home, Item, Kind, RoundingChoice, TaxReturn, TaxYear};
use crate::credit::evaluate::Step;
use crate::credit::evaluate::credits;
use crate::credit::evaluate::expression::{CaseRef, Expr, Rounding, Ruling, Value};
use crate::credit::evaluate::line::{Line, Place, Subject};
use crate::finding::Finding;
use crate::law::{Class, Credit, KindLaw, LawKey, Rule, YearLaw};
use qualify::Qualified;
use rust_decimal::Decimal;

/// One year's plan in the making.
pub(in crate::credit) struct Plan<'a> {
    /// The facts.
    pub case: &'a Case,
    /// The law of the year.
    pub year_law: &'a YearLaw,
    /// The year.
    pub year: TaxYear,
    /// The year's return, where the case has one.
    pub tax_return: Option<&'a TaxReturn>,
    /// The items whose credit falls in the year, in case order.
    pub items: Vec<Planned<'a>>,
    /// The steps, in the order they can be made.
    pub steps: Vec<Step>,
    /// What was found on the way.
    pub findings: Vec<Finding>,
}

/// An item whose credit falls in the year.
#[derive(Clone)]
pub(in crate::credit) struct Planned<'a> {
    /// The item.
    pub item: &'a Item,
    /// The home it serves.
    pub home: &'a Home,
    /// What the year's law says of its kind; none where it falls under no credit of the year.
    pub kind_law: Option<&'a KindLaw>,
    /// Whether it qualifies.
    pub qualified: Qualified,
}

impl Planned<'_> {
    /// Says whether the item counts toward a credit.
    pub fn counts_for(&self, credit: Credit) -> bool {
        self.qualified.ruling.counts && self.kind_law.is_some_and(|law| law.credit == credit)
    }
}

impl<'a> Plan<'a> {
    /// Returns the client's federal marginal rate, where the case gives one.
    pub fn federal_rate(&self) -> Option<Expr> {
        let rate = self.case.planning.federal_rate.as_ref()?;
        Some(Expr::Fact(CaseRef {
            path: "planning.federal_rate".to_string(),
            words: "federal marginal rate".to_string(),
            span: rate.span,
            value: Value::Rate(rate.value.factor()),
            evidence: None,
        }))
    }

    /// Adds a step about the return as a whole, resting on named rules of the year.
    pub fn line(&mut self, line: Line, expr: Expr, rules: &[Rule]) {
        self.row(line, Subject::Return, None, expr, rules);
    }

    /// Adds a step about a row.
    pub fn row(&mut self, line: Line, of: Subject, about: Option<String>, expr: Expr, rules: &[Rule]) {
        let authority = rules.iter().flat_map(|rule| self.authority(*rule)).collect();
        self.steps.push(Step { place: Place { year: self.year, line, of }, about, expr, authority });
    }

    /// Adds to the last step what it rests on besides rules.
    pub fn rest_on(&mut self, authority: Vec<String>) {
        if let Some(step) = self.steps.last_mut() {
            step.authority.extend(authority);
        }
    }

    /// Says whether a credit can be on the year's return: new property earns it, or what earlier years left can be used.
    pub fn takes_part(&self, credit: Credit) -> bool {
        self.year_law.in_force(credit) || credits::of(credit).carried.is_some()
    }

    /// Returns the sources of a named rule of the year.
    pub fn authority(&self, rule: Rule) -> Vec<String> {
        self.year_law.rules.get(&rule).map(|rule| rule.authority.source.clone()).unwrap_or_default()
    }

    /// Returns another figure of the return in the same year.
    pub fn at(&self, line: Line) -> Expr {
        Expr::at(self.year, line)
    }

    /// Returns a value of the year's law.
    pub fn value(&self, key: LawKey) -> Expr {
        Expr::Law(self.year, key)
    }

    /// Returns those of some lines of the return that are planned.
    pub fn planned(&self, lines: &[Line]) -> Vec<Expr> {
        let is_planned =
            |line: &&Line| self.steps.iter().any(|step| step.place == Place::of_return(self.year, **line));
        lines.iter().filter(is_planned).map(|line| self.at(*line)).collect()
    }

    /// Rounds an amount where it enters an official line, by the return's choice.
    pub fn entry(&self, expr: Expr) -> Expr {
        let choice = self.tax_return.map_or(RoundingChoice::WholeDollars, |one| one.rounding);
        expr.rounded(match choice {
            RoundingChoice::WholeDollars => Rounding::EntryInWholeDollars,
            RoundingChoice::Cents => Rounding::ProductInCents,
        })
    }

    /// Returns the items of a kind that count toward a credit, in case order.
    pub fn counting(&self, credit: Credit, kind: Kind) -> Vec<Planned<'a>> {
        self.items
            .iter()
            .filter(|one| one.counts_for(credit) && one.item.kind.value == kind)
            .cloned()
            .collect()
    }

    /// Returns the items of a class that count toward a credit, in case order.
    pub fn counting_class(&self, credit: Credit, class: Class) -> Vec<Planned<'a>> {
        let of_class = |one: &&Planned<'a>| one.kind_law.is_some_and(|law| law.class == class);
        self.items.iter().filter(|one| one.counts_for(credit)).filter(of_class).cloned().collect()
    }

    /// Says whether rulings and facts alone show that an amount cannot be above zero. Amounts of a case are not
    /// negative, so whatever is taken off only lowers.
    pub fn never_above_zero(&self, expr: &Expr) -> bool {
        let never = |expr: &Expr| self.never_above_zero(expr);
        match expr {
            Expr::Fact(fact) => fact.value.number().is_some_and(|number| number <= Decimal::ZERO),
            Expr::Figure(place) => self.steps.iter().any(|step| step.place == *place && never(&step.expr)),
            Expr::Sum(parts) => parts.iter().all(never),
            Expr::Smaller(parts) => parts.iter().any(never),
            Expr::Times(a, b) => never(a) || never(b),
            Expr::Share { whole, part, .. } => never(whole) || never(part),
            Expr::Passing { above, otherwise, .. } => never(above) && never(otherwise),
            Expr::Ruled(ruling, inner) => !ruling.counts || never(inner),
            Expr::Less(inner, _) | Expr::NotBelowZero(inner) | Expr::Round(_, inner) => never(inner),
            _ => false,
        }
    }

    /// Returns the sum of a line over items.
    pub fn sum_over(&self, line: Line, items: &[Planned<'_>]) -> Expr {
        let rows = items.iter().map(|one| Expr::Figure(Place::of_item(self.year, line, &one.item.key.value)));
        Expr::Sum(rows.collect())
    }
}

/// Makes the reference to a fact of an item.
pub(in crate::credit) fn item_fact(
    item: &Item,
    name: &str,
    span: crate::finding::Span,
    value: Value,
) -> CaseRef {
    CaseRef {
        path: format!("property.{}.{name}", item.key.value),
        words: name.replace('_', " "),
        span,
        value,
        evidence: None,
    }
}

/// Makes a ruling of settled law that an amount counts.
pub(in crate::credit) fn counts(because: impl Into<String>, authority: Vec<String>) -> Ruling {
    Ruling { counts: true, because: because.into(), authority, settled: true, chosen: None }
}
