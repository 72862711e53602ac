//! What is known of a case while it is being asked for.
//!
//! Comes in: answers, one by one. Goes out: to [`super::yaml`] as a file, to [`super::summary`] as words. Holds texts
//! as they stand in a case; every one was read before it came here.

use crate::case::{CostNature, OtherCredit};
use crate::case::{
    EvidenceKind, FilingStatus, FinancedAs, HeldAs, HomeUse, IncentiveKind, Kind, Language, PartOf,
    ReminderBasis, ReturnForm, Stage, TaxYear,
};
use crate::law::Credit;
use crate::money::Money;
use crate::record::write::RESERVED;
pub(super) use crate::record::write::Written as Value;
use jiff::civil::Date;

/// A case so far.
#[derive(Clone, Debug, Default)]
pub(super) struct Draft {
    pub reference: String,
    pub people: Vec<Person>,
    pub mail_to: Option<Address>,
    /// Of the letters; English where nothing is said.
    pub language: Option<Language>,
    pub engagement: Option<Engagement>,
    pub prepared: Option<(String, Date)>,
    pub homes: Vec<Home>,
    pub items: Vec<Item>,
    /// Costs over several items.
    pub shared: Vec<Shared>,
    pub carried_in: Option<Carried>,
    pub earlier: Vec<Earlier>,
    pub returns: Vec<Return>,
    pub papers: Vec<Paper>,
    pub settled: Vec<Settled>,
}

#[derive(Clone, Debug)]
pub(super) struct Person {
    pub name: String,
    pub tin: Option<String>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Address {
    pub street: String,
    pub unit: Option<String>,
    pub city: String,
    pub state: String,
    pub zip: String,
}

#[derive(Clone, Debug)]
pub(super) struct Engagement {
    pub basis: ReminderBasis,
    pub consented: Option<Date>,
    pub until: Option<Date>,
}

#[derive(Clone, Debug)]
pub(super) struct Home {
    pub key: String,
    pub address: Address,
    pub use_: HomeUse,
    pub held_as: HeldAs,
    pub original_use: Option<Date>,
}

#[derive(Clone, Debug)]
pub(super) struct Item {
    pub key: String,
    pub kind: Kind,
    /// The credit it falls under in its year, if any.
    pub credit: Option<Credit>,
    /// The key of its home.
    pub home: String,
    pub part_of: PartOf,
    /// The day on which it was complete, or paid.
    pub day: Date,
    /// The tax year in which it counts.
    pub year: TaxYear,
    /// Its keys of one value each, besides `kind`, `home` and `part_of`, with their values.
    pub facts: Vec<(&'static str, Value)>,
    pub costs: Vec<Cost>,
    pub incentives: Vec<Incentive>,
}

#[derive(Clone, Debug)]
pub(super) struct Cost {
    pub item: String,
    pub nature: CostNature,
    pub amount: Money,
    pub materials: Option<String>,
    pub because: Option<String>,
    pub evidence: Option<String>,
}

/// A cost over several items.
#[derive(Clone, Debug)]
pub(super) struct Shared {
    pub cost: Cost,
    /// The keys of the items, and the part of each as it stands in a case.
    pub over: Vec<(String, String)>,
}

#[derive(Clone, Debug)]
pub(super) struct Incentive {
    pub from: String,
    pub kind: IncentiveKind,
    pub amount: Money,
    pub received: Option<Date>,
    pub evidence: Option<String>,
}

#[derive(Clone, Debug)]
pub(super) struct Carried {
    pub year: TaxYear,
    pub amount: Money,
    pub shown_on: Option<String>,
    pub belongs_to: Option<String>,
}

#[derive(Clone, Debug)]
pub(super) struct Earlier {
    pub year: TaxYear,
    pub credit: Money,
    pub windows: Option<Money>,
}

#[derive(Clone, Debug)]
pub(super) struct Return {
    pub year: TaxYear,
    pub form: ReturnForm,
    pub stage: Stage,
    pub status: FilingStatus,
    pub filed: Option<Date>,
    pub tax: Money,
    pub credits: Vec<(OtherCredit, Money)>,
    /// What is known of Worksheet B: nothing, that it was not used, or its line 14.
    pub worksheet_b: WorksheetB,
    pub claimed: Vec<(&'static str, Money)>,
    /// Why the figures differ from it, where they do.
    pub because: Option<String>,
    pub cents: bool,
    pub separate_main_homes: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum WorksheetB {
    Unsaid,
    NotUsed,
    Line14(Money),
}

/// A question that `check` would ask and that was answered here.
#[derive(Clone, Debug)]
pub(super) struct Settled {
    pub question: &'static str,
    pub about: String,
    /// The facts it was asked for, once they are known.
    pub given: Option<String>,
    pub answer: String,
}

#[derive(Clone, Debug)]
pub(super) struct Paper {
    pub key: String,
    pub kind: EvidenceKind,
    pub on_file: bool,
    pub kept_at: Option<String>,
}

/// How something was financed, as a value.
pub(super) fn financed(how: FinancedAs, amount: Money) -> Value {
    Value::Keys(vec![("as", Value::Word(how.word().to_string())), ("amount", Value::amount(amount))])
}

/// Returns the word behind a key of a fact that has keys of its own.
pub(super) fn word<'i>(item: &'i Item, fact: &str, key: &str) -> Option<&'i str> {
    let (_, Value::Keys(keys)) = item.facts.iter().find(|(known, _)| *known == fact)? else { return None };
    match keys.iter().find(|(known, _)| *known == key)? {
        (_, Value::Word(word)) => Some(word),
        _ => None,
    }
}

impl Item {
    /// What the client calls it: the kind, and which of several.
    pub fn name(&self) -> String {
        let number =
            self.key.rsplit('-').next().filter(|last| last.bytes().all(|byte| byte.is_ascii_digit()));
        match number {
            Some(number) => format!("{} {number}", self.kind.label()),
            None => self.kind.label().to_string(),
        }
    }

    /// What was paid, discounts taken off.
    pub fn paid(&self) -> Money {
        let of = |discount: bool| -> Money {
            let costs = self.costs.iter().filter(|one| (one.nature == CostNature::Discount) == discount);
            costs.map(|one| one.amount).sum()
        };
        of(false) - of(true)
    }
}

impl Paper {
    /// What a person calls it: the kind, and which of several.
    pub fn name(&self) -> String {
        let number = self.key.rsplit('-').next().unwrap_or("");
        format!("{} {number}", self.kind.label())
    }
}

impl Address {
    /// Says whether it is a box at a post office, in which nobody lives.
    pub fn is_a_box(&self) -> bool {
        let letters: String = self.street.chars().filter(|c| c.is_alphabetic()).collect();
        letters.to_lowercase().starts_with("pobox")
    }

    /// The address on one line.
    pub fn line(&self) -> String {
        let unit = self.unit.as_ref().map_or_else(String::new, |unit| format!(", {unit}"));
        format!("{}{unit}, {}, {} {}", self.street, self.city, self.state, self.zip)
    }
}

/// Makes a key that no other entry has: lower-case letters, digits and hyphens.
pub(super) fn key<'k>(words: &str, otherwise: &str, taken: impl Iterator<Item = &'k str> + Clone) -> String {
    let plain: String =
        words.to_lowercase().chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
    let parts = plain.split('-').filter(|part| !part.is_empty());
    // A house number at the head says little, and a number at the end says which of several.
    let parts: Vec<&str> = parts.filter(|part| !part.bytes().all(|byte| byte.is_ascii_digit())).collect();
    let mut base = parts.join("-");
    base.truncate(30);
    let base = base.trim_matches('-');
    let unclear = RESERVED.contains(&base);
    let base = if base.is_empty() || unclear { otherwise } else { base };
    let free = |key: &str| !taken.clone().any(|one| one == key);
    if free(base) {
        return base.to_string();
    }
    (2..).map(|n| format!("{base}-{n}")).find(|key| free(key)).unwrap_or_default()
}
