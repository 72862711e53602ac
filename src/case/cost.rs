//! What was paid for an item, what others pay toward it, and how either is treated where the law leaves it open.

use super::kinds::{CostNature, IncentiveKind};
use super::sections::Papers;
use crate::finding::{Finding, Span, Spanned};
use crate::money::{Money, Rate};
use crate::record::rule::{Own, Takes};
use crate::record::schema::{amount, words_of};
use crate::record::tree::Value;
use crate::record::{Form, Key, NameIn, Reading, Slot, Text, record};
use jiff::civil::Date;
use serde_json::{Value as Json, json};

record! {
    /// One cost.
    pub struct Cost: COST "cost" {
        given span: Span;
        /// what it was for, in words
        item: Spanned<String>, "collectors and tank";
        /// what it was for, by nature
        nature as "as": Spanned<CostNature>, "equipment";
        /// the amount; a discount is written as a positive amount too
        amount: Spanned<Money>, "7380.00";
        /// the part of one price that is materials; with `as: lump_sum` only
        materials: Option<Spanned<Rate>>, "60%";
        /// the day it was paid
        paid: Option<Spanned<Date>>, "2024-04-02";
        /// the paper that shows it
        evidence: Option<Spanned<Key>> => Option<NameIn<Papers>>, "inv-118";
        /// a treatment chosen where the law leaves it open
        treat_as: Option<Spanned<TreatAs>> => Option<OfCost>, "{counted: 3200.00}";
        /// why
        because: Option<Spanned<String>> => Option<Text>, "split by the installer's letter";
    }
}

record! {
    /// One incentive.
    pub struct Incentive: INCENTIVE "incentive" {
        given span: Span;
        /// who pays it
        from: Spanned<String>, "Riverton Light Department";
        /// what it is by character
        kind as "as": Spanned<IncentiveKind>, "utility_subsidy";
        /// the amount
        amount: Spanned<Money>, "500.00";
        /// the day it was agreed
        agreed: Option<Spanned<Date>>, "2024-03-01";
        /// the day it was received
        received: Option<Spanned<Date>>, "2024-07-01";
        /// the paper that shows it
        evidence: Option<Spanned<Key>> => Option<NameIn<Papers>>, "award-7";
        /// a treatment chosen where the law leaves it open
        treat_as: Option<Spanned<TreatAs>> => Option<OfIncentive>, "reduces_cost";
        /// why
        because: Option<Spanned<String>> => Option<Text>, "the award letter says so";
    }
}

/// A treatment chosen by the preparer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TreatAs {
    /// The cost counts.
    Counted,
    /// The cost does not count.
    NotCounted,
    /// This much of the cost counts.
    CountedInPart(Money),
    /// The incentive reduces the cost.
    ReducesCost,
    /// This much of the incentive reduces the cost that counts.
    ReducesInPart(Money),
    /// The incentive leaves the cost alone.
    DoesNotReduce,
}

/// How a cost, or an incentive, may be treated: one of two words, or a part of it under a third.
struct Ways {
    of: &'static str,
    words: [(&'static str, TreatAs); 2],
    part: (&'static str, fn(Money) -> TreatAs),
    written: &'static str,
}

const COST_WAYS: Ways = Ways {
    of: "a cost",
    words: [("counted", TreatAs::Counted), ("not_counted", TreatAs::NotCounted)],
    part: ("counted", TreatAs::CountedInPart),
    written: "{counted: 3200.00}",
};

const INCENTIVE_WAYS: Ways = Ways {
    of: "an incentive",
    words: [("reduces_cost", TreatAs::ReducesCost), ("does_not_reduce", TreatAs::DoesNotReduce)],
    part: ("reduces", TreatAs::ReducesInPart),
    written: "{reduces: 1600.00}",
};

/// A treatment of a cost.
struct OfCost;
/// A treatment of an incentive.
struct OfIncentive;

impl Form for OfCost {
    type Value = Spanned<TreatAs>;
    const TAKES: Takes = Takes::Own(&OF_COST);
    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Spanned<TreatAs>> {
        treatment(slot, reading, &COST_WAYS, &INCENTIVE_WAYS)
    }
}

impl Form for OfIncentive {
    type Value = Spanned<TreatAs>;
    const TAKES: Takes = Takes::Own(&OF_INCENTIVE);
    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Spanned<TreatAs>> {
        treatment(slot, reading, &INCENTIVE_WAYS, &COST_WAYS)
    }
}

/// Reads a treatment: a word, or a part, of a cost `{counted: 3200.00}`, of an incentive `{reduces: 1600.00}`.
fn treatment(
    slot: &Slot<'_, '_>,
    reading: &mut Reading<'_>,
    ways: &Ways,
    other: &Ways,
) -> Option<Spanned<TreatAs>> {
    let node = slot.node;
    let [(first, _), (second, _)] = ways.words;
    if let Value::Map { entries, .. } = &node.value {
        let (word, part) = ways.part;
        if entries.len() == 1 && entries[0].key.value == word {
            let amount = reading.money(&entries[0].value, word)?;
            return Some(Spanned::new(part(amount.value), node.span));
        }
        reading
            .wrong_shape(node.span, format!("these keys are no treatment of {}", ways.of))
            .help(format!("write `{first}`, `{second}` or `{}`", ways.written));
        return None;
    }
    let text = reading.line(node, slot.key)?;
    let named = |ways: &Ways| ways.words.iter().find(|(word, _)| *word == text.value).map(|(_, way)| *way);
    if let Some(found) = named(ways) {
        return Some(Spanned::new(found, text.span));
    }
    let message = match named(other) {
        Some(_) => format!("`{}` is a treatment of {}, and this is {}", text.value, other.of, ways.of),
        None => format!("`{}` is not a valid value for `{}`", text.value, slot.key),
    };
    let finding = Finding::error("unknown-word", message).at(text.span);
    let mut finding = reading.helped(finding, slot.key, &text.value, &[first, second]);
    finding.help = finding.help.map(|help| format!("{help}; a part is written {}", ways.written));
    reading.findings.push(finding);
    None
}

static OF_COST: Own = own(|_| of_cost());
static OF_INCENTIVE: Own = own(|_| of_incentive());
/// A treatment of what may be either.
pub(super) static OF_EITHER: Own = own(|_| any_of(&[COST_WAYS, INCENTIVE_WAYS]));

const fn own(schema: fn(&mut crate::record::rule::Groups) -> Json) -> Own {
    Own {
        in_words: || {
            "`counted`, `not_counted`, `{counted: 3200.00}`, `reduces_cost`, `does_not_reduce`, `{reduces: 1600.00}`".to_string()
        },
        words: Vec::new,
        blocks: &[],
        schema,
    }
}

/// The schema of a treatment of a cost.
pub(super) fn of_cost() -> Json {
    any_of(&[COST_WAYS])
}

/// The schema of a treatment of an incentive.
pub(super) fn of_incentive() -> Json {
    any_of(&[INCENTIVE_WAYS])
}

fn any_of(all: &[Ways]) -> Json {
    let words: Vec<&str> = all.iter().flat_map(|ways| ways.words).map(|(word, _)| word).collect();
    let parts = all.iter().map(|ways| {
        json!({
            "type": "object",
            "properties": {ways.part.0: amount()},
            "required": [ways.part.0],
            "additionalProperties": false,
        })
    });
    json!({"anyOf": std::iter::once(words_of(&words)).chain(parts).collect::<Vec<Json>>()})
}
