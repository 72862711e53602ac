//! Forms that no other key has: what may be written in several ways.
//!
//! Nothing comes in. Goes out: how each is told and its schema; reading them is the business of `meaning`.

use super::format::{CHILD_TAX, PLANNED_YEAR, PLANNING};
use super::kinds::{CostNature, IncentiveKind, OtherCredit};
use super::meaning::{COST_TREATMENTS, INCENTIVE_TREATMENTS, PLANNED_YEARS};
use crate::record::rule::Own;
use crate::record::schema::{Groups, KEY, amount, described, merge, percentage, words_of, years};
use crate::wording::sentence;
use serde_json::{Map, Value, json};

/// Amounts under words of [`OtherCredit`]; the child tax credit may have two.
pub(super) static OTHER_CREDITS: Own = Own {
    in_words: || "dollars by credit, see below".to_string(),
    words: Vec::new,
    blocks: &[&CHILD_TAX],
    schema: other_credits,
};

fn other_credits(groups: &mut Groups) -> Value {
    let mut one = |credit: OtherCredit| {
        let mut one = match credit {
            OtherCredit::ChildTax => json!({"anyOf": [amount(), groups.refer(&CHILD_TAX)]}),
            _ => amount(),
        };
        merge(&mut one, json!({"description": sentence(credit.label())}));
        one
    };
    let keys: Map<String, Value> =
        OtherCredit::ALL.iter().map(|credit| (credit.word().to_string(), one(*credit))).collect();
    json!({"type": "object", "properties": keys, "additionalProperties": false})
}

/// Percentages or amounts under the keys of items.
pub(super) static PARTS: Own = Own {
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

/// Planned years with their figures, beside the other keys of planning.
pub(super) static PLANNING_BY_YEAR: Own = Own {
    in_words: || "by tax year: planned year; and keys of: planning".to_string(),
    words: Vec::new,
    blocks: &[&PLANNING, &PLANNED_YEAR],
    schema: |groups| {
        let mut keys = Map::new();
        for rule in PLANNING.keys {
            keys.insert(rule.key.to_string(), described(rule, groups.takes(&rule.takes)));
        }
        json!({
            "type": "object",
            "properties": keys,
            "patternProperties": {years(&PLANNED_YEARS): groups.refer(&PLANNED_YEAR)},
            "additionalProperties": false,
        })
    },
};

/// A treatment of a cost.
pub(super) static OF_COST: Own = treatment(|_| of_cost());
/// A treatment of an incentive.
pub(super) static OF_INCENTIVE: Own = treatment(|_| of_incentive());
/// A treatment of what may be either.
pub(super) static OF_EITHER: Own = treatment(|_| {
    let words = [treatments(&COST_TREATMENTS), treatments(&INCENTIVE_TREATMENTS)].concat();
    json!({"anyOf": [words_of(&words), in_part("counted"), in_part("reduces")]})
});

const fn treatment(schema: fn(&mut Groups) -> Value) -> Own {
    Own {
        in_words: || {
            "`counted`, `not_counted`, `{counted: 3200.00}`, `reduces_cost`, `does_not_reduce`, `{reduces: 1600.00}`".to_string()
        },
        words: Vec::new,
        blocks: &[],
        schema,
    }
}

fn treatments<T>(all: &[(&'static str, T)]) -> Vec<&'static str> {
    all.iter().map(|(word, _)| *word).collect()
}

fn of_cost() -> Value {
    json!({"anyOf": [words_of(&treatments(&COST_TREATMENTS)), in_part("counted")]})
}

fn of_incentive() -> Value {
    json!({"anyOf": [words_of(&treatments(&INCENTIVE_TREATMENTS)), in_part("reduces")]})
}

/// Writes that a part counts or reduces the cost, under its word.
fn in_part(word: &str) -> Value {
    json!({
        "type": "object",
        "properties": {word: amount()},
        "required": [word],
        "additionalProperties": false,
    })
}

/// Writes what a shared row is: an incentive where `from` stands, otherwise a cost, each with its own keys.
pub(super) fn shared_rows() -> Value {
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
