//! A cost or an incentive that belongs to several items: its keys are those of either, and it says which part each item
//! bears.

use super::cost::{Cost, Incentive, OF_EITHER, of_cost, of_incentive};
use super::kinds::{CostNature, IncentiveKind};
use super::sections::Property;
use crate::finding::{Finding, Span, Spanned};
use crate::money::{Money, Rate};
use crate::record::rule::{Block, KeyRule, Own, Takes};
use crate::record::schema::{KEY, amount, percentage, words_of};
use crate::record::tree::{Node, Value};
use crate::record::{Fields, Form, Key, Reading, Record, Section, Slot};
use serde_json::{Value as Json, json};

/// One invoice or incentive over several items; its parts add up to the whole.
#[derive(Clone, Debug, PartialEq)]
pub struct Shared {
    /// Where the row stands.
    pub span: Span,
    /// The cost or incentive itself.
    pub row: SharedRow,
    /// The items and the part each bears.
    pub over: Vec<(Spanned<Key>, Spanned<Part>)>,
}

/// What is shared.
#[derive(Clone, Debug, PartialEq)]
pub enum SharedRow {
    /// A cost.
    Cost(Cost),
    /// An incentive.
    Incentive(Incentive),
}

/// The part of something shared that one item bears.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// A percentage of the whole.
    Share(Rate),
    /// An amount.
    Amount(Money),
}

/// The keys of [`Shared`]: those of a cost and, with `from`, of an incentive.
pub static SHARED: Block = Block {
    name: "shared",
    keys: &[
        KeyRule::may("item", Takes::Line, "permit", "of a cost: what it was for, in words"),
        KeyRule::may("from", Takes::Line, "Riverton Light Department", "of an incentive: who pays it"),
        KeyRule::must(
            "as",
            Takes::Word(words),
            "permit",
            "a cost nature, or, where `from` stands, an incentive kind",
        ),
        KeyRule::must("amount", Takes::Amount, "420", "the whole amount"),
        KeyRule::must(
            "over",
            Takes::Own(&PARTS),
            "{roof-array: 70%, battery: 30%}",
            "the items and the part of each, as percentages or as amounts; the parts add up to the whole",
        ),
        KeyRule::may(
            "materials",
            Takes::Percentage,
            "60%",
            "of a cost `as: lump_sum`: the part that is materials",
        ),
        KeyRule::may("paid", Takes::Date, "2024-04-02", "of a cost: the day it was paid"),
        KeyRule::may("agreed", Takes::Date, "2024-03-01", "of an incentive: the day it was agreed"),
        KeyRule::may("received", Takes::Date, "2024-07-01", "of an incentive: the day it was received"),
        KeyRule::may("evidence", Takes::Reference("evidence"), "inv-118", "the paper that shows it"),
        KeyRule::may(
            "treat_as",
            Takes::Own(&OF_EITHER),
            "counted",
            "a treatment chosen where the law leaves it open",
        ),
        KeyRule::may("because", Takes::Text, "divided by capacity", "why"),
    ],
    besides: Some(rows),
};

fn words() -> Vec<&'static str> {
    let mut all: Vec<&str> = CostNature::ALL.iter().map(|one| one.word()).collect();
    for kind in IncentiveKind::ALL {
        if !all.contains(&kind.word()) {
            all.push(kind.word());
        }
    }
    all
}

/// Writes what a shared row is: an incentive where `from` stands, otherwise a cost, each with its own keys.
fn rows() -> Json {
    let costs: Vec<&str> = CostNature::ALL.iter().map(|one| one.word()).collect();
    let incentives: Vec<&str> = IncentiveKind::ALL.iter().map(|one| one.word()).collect();
    let nothing = json!({"type": "null"});
    json!({
        "if": {"required": ["from"], "properties": {"from": {"not": nothing}}},
        "then": {"properties": {
            "as": words_of(&incentives),
            "treat_as": {"anyOf": [of_incentive(), nothing]},
            "item": nothing, "materials": nothing, "paid": nothing,
        }},
        "else": {
            "properties": {
                "as": words_of(&costs),
                "treat_as": {"anyOf": [of_cost(), nothing]},
                "item": {"not": nothing}, "agreed": nothing, "received": nothing,
            },
            "required": ["item"],
        },
    })
}

impl Record for Shared {
    const BLOCK: &'static Block = &SHARED;

    /// Reads a shared row: an incentive where `from` stands, otherwise a cost.
    fn read<'t>(group: &Fields<'t>, reading: &mut Reading<'t>) -> Option<Shared> {
        let is_incentive = group.has("from");
        let (what, why, misplaced): (_, _, &[&str]) = match is_incentive {
            true => ("an incentive", "because `from` stands here", &["item", "materials", "paid"]),
            false => ("a cost", "because `from` does not stand here", &["agreed", "received"]),
        };
        for key in misplaced.iter().filter(|key| group.has(key)) {
            let message = format!("`{key}` is not a key of {what}, which {} is {why}", group.place);
            let mut finding = Finding::error("unknown-key", message)
                .help("delete it, or make two entries, one for the cost and one for the incentive");
            finding.at = group.key_span(key);
            reading.findings.push(finding);
        }
        if !is_incentive && !group.has("item") {
            reading.findings.push(
                Finding::error("missing-key", format!("`item` or `from` is missing in {}", group.place))
                    .at(group.head)
                    .help(
                        "add `item: permit` for a cost, or `from: ..` with the payer's name for an incentive",
                    ),
            );
        }
        let row = match is_incentive {
            true => <Incentive as Record>::read(group, reading).map(SharedRow::Incentive),
            false => <Cost as Record>::read(group, reading).map(SharedRow::Cost),
        };
        let over = group.read::<Parts>(reading, "over");
        Some(Shared { span: group.span, row: row?, over: over? })
    }
}

impl Form for Shared {
    type Value = Shared;
    const TAKES: Takes = Takes::Block(&SHARED);
    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Shared> {
        let group = slot.open(reading, &SHARED)?;
        <Shared as Record>::read(&group, reading)
    }
}

/// Percentages or amounts under the names of items.
struct Parts;

static PARTS: Own = Own {
    in_words: || "percentages or dollars by keys of `property`".to_string(),
    words: Vec::new,
    blocks: &[],
    schema: |_| {
        json!({
            "type": "object",
            "patternProperties": {KEY: {"anyOf": [amount(), percentage()]}},
            "additionalProperties": false,
        })
    },
};

impl Form for Parts {
    type Value = Vec<(Spanned<Key>, Spanned<Part>)>;
    const TAKES: Takes = Takes::Own(&PARTS);

    fn read<'t>(slot: &Slot<'t, '_>, reading: &mut Reading<'t>) -> Option<Self::Value> {
        let entries = reading.entries(slot.node, slot.head(), &|| slot.path()).unwrap_or(&[]);
        let parts: Vec<_> = entries
            .iter()
            .filter_map(|entry| {
                let name = Node {
                    span: entry.key.span,
                    value: Value::Text { text: entry.key.value.clone(), plain: false },
                    broken: entry.key.value.starts_with('?'),
                };
                let name = reading.reference(&name, slot.key, Property::NAME);
                let part = part(&Slot { node: &entry.value, ..*slot }, reading);
                Some((name?, part?))
            })
            .collect();
        // With a part that could not be read, the sum would be wrong as well.
        (parts.len() == entries.len() && !slot.node.broken).then_some(parts)
    }
}

/// Reads a percentage where the sign stands, otherwise an amount.
fn part(slot: &Slot<'_, '_>, reading: &mut Reading<'_>) -> Option<Spanned<Part>> {
    let percentage = matches!(&slot.node.value, Value::Text { text, .. } if text.trim_end().ends_with('%'));
    match percentage {
        true => reading.rate(slot.node, slot.key).map(|one| one.map(Part::Share)),
        false => reading.money(slot.node, slot.key).map(|one| one.map(Part::Amount)),
    }
}
