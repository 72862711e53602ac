//! An item that counts in a year, as questions about it see it.

use crate::case::{Case, Cost, Item, Kind, SharedRow, TaxReturn, TaxYear};
use crate::credit::plan::Planned;
use crate::finding::Finding;
use crate::law::{Credit, KindLaw, Rule, YearLaw, sources_for};
use jiff::civil::Date;

/// An item that counts in a year.
#[derive(Clone)]
pub(in crate::credit) struct Counting<'a> {
    /// The item, its home, and that it counts.
    pub planned: Planned<'a>,
    /// What the year's law says of its kind.
    pub kind_law: &'a KindLaw,
    /// The law of its year.
    pub law: &'a YearLaw,
    /// The day that decides its year.
    pub day: Date,
    /// The return of its year, where the case has one.
    pub tax_return: Option<&'a TaxReturn>,
}

impl Counting<'_> {
    pub(super) fn item(&self) -> &Item {
        self.planned.item
    }

    /// Returns the item's path in the case.
    pub(super) fn path(&self) -> String {
        format!("property.{}", self.item().key.value)
    }

    pub(super) fn year(&self) -> TaxYear {
        self.law.year
    }

    /// Returns the sources of a rule of its year.
    pub(super) fn rule(&self, name: Rule) -> String {
        let rule = self.law.rule_for(name, self.kind_law.credit);
        rule.map_or_else(String::new, |rule| self.cites(&rule.source))
    }

    /// Joins sources, without those of the other credit, or of fuel cells where the item is none.
    pub(super) fn cites(&self, sources: &[String]) -> String {
        let mut sources = sources_for(sources, self.kind_law.credit);
        sources.retain(|one| self.item().kind.value == Kind::FuelCell || one != "ENERGYSTAR_FC");
        sources.join("; ")
    }

    /// Starts a question about the item.
    pub(super) fn asked(&self, question: Finding) -> Finding {
        question.at(self.item().key.span).about(self.path())
    }
}

/// Returns the shared costs that an item bears a part of, each with its number from one.
pub(super) fn shared_costs<'c>(case: &'c Case, item: &'c Item) -> impl Iterator<Item = (usize, &'c Cost)> {
    let of_item = |over: &[(crate::finding::Spanned<crate::case::Key>, _)]| {
        over.iter().any(|(key, _)| key.value == item.key.value)
    };
    (1..).zip(&case.shared).filter_map(move |(n, shared)| match &shared.row {
        SharedRow::Cost(cost) if of_item(&shared.over) => Some((n, cost)),
        _ => None,
    })
}

/// Says whether an item belongs to the clean energy credit.
pub(super) fn is_clean(one: &Counting<'_>) -> bool {
    one.kind_law.credit == Credit::Clean
}
