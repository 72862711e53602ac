//! A table of keys as JSON Schema (draft 2020-12), for editors that complete and check while one types.
//!
//! Nothing comes in but the table that the reader itself uses, so a key known here is a key read there. Goes out: a
//! schema of what the reader accepts *by its form*. An editor may read a plain word as a number or a truth value (ZIP
//! 45990, unit 4), where the reader takes the text as written; such places take both. Knows no kind of file.

use super::leaf::MAX_LINE;
use super::rule::{Block, Groups, KeyRule, Takes};
use crate::wording::{capital, sentence};
use serde_json::{Map, Value, json};
use std::ops::RangeInclusive;

/// An amount in text: digits, thousands separated by commas or not at all, cents or none.
const AMOUNT: &str = r"^(\$ *)?([0-9]{1,12}|[0-9]{1,3}(,[0-9]{3}){1,3})(\.[0-9]{1,2})?$";
/// A percentage from 0% to 100%.
const PERCENTAGE: &str = r"^(0?[0-9]{1,2}(\.[0-9]{1,8})?|100(\.0{1,8})?) *%$";
/// A plain number.
const QUANTITY: &str = r"^[0-9]{1,6}(\.[0-9]{1,4})?$";
/// A whole number from 1 to 1000.
const COUNT: &str = r"^(0{0,3}[1-9]|0{0,2}[1-9][0-9]|0?[1-9][0-9]{2}|1000)$";
/// A day from 1900 to 2099; that it exists in its month, `check` sees.
const DATE: &str = r"^(19|20)[0-9]{2}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$";
/// A name that the preparer chose for a home, an item or a paper.
pub(crate) const KEY: &str = r"^[a-z0-9]([a-z0-9-]{0,38}[a-z0-9])?$";
/// A text on one line that is not blank.
const LINE: &str = r"^\s*\S[^\n]*\s*$";
/// A text that is not blank.
const TEXT: &str = r"\S";

/// Writes the schema of a file whose outermost keys are those of a block.
pub(crate) fn whole(block: &'static Block, title: &str, about: &str) -> Value {
    let mut schema = Map::new();
    schema.insert("$schema".to_string(), json!("https://json-schema.org/draft/2020-12/schema"));
    schema.insert("title".to_string(), json!(title));
    schema.insert("description".to_string(), json!(about));
    let mut groups = Groups::default();
    let Value::Object(keys) = groups.block(block) else { return Value::Null };
    schema.extend(keys.into_iter().filter(|(word, _)| word != "title"));
    let mut named = Map::new();
    // A group met while another is written joins the end of the list, so every group is written once.
    let mut written = 0;
    while let Some(next) = groups.met.get(written).copied() {
        // Whether the place may be empty says the place that refers to it.
        let mut group = groups.block(next);
        or_nothing(&mut group);
        named.insert(name(next), group);
        written += 1;
    }
    schema.insert("$defs".to_string(), Value::Object(named));
    Value::Object(schema)
}

impl Groups {
    /// Writes a group of keys.
    fn block(&mut self, block: &'static Block) -> Value {
        let mut keys = Map::new();
        for rule in block.keys {
            let mut one = self.takes(&rule.takes);
            if !rule.required {
                or_nothing(&mut one);
            }
            keys.insert(rule.key.to_string(), described(rule, one));
        }
        let required: Vec<&str> =
            block.keys.iter().filter(|rule| rule.required).map(|rule| rule.key).collect();
        let mut schema = json!({
            "title": capital(&block.name.replace('_', " ")),
            "type": "object",
            "properties": keys,
            "required": required,
            "additionalProperties": false,
        });
        if let Some(besides) = block.besides {
            merge(&mut schema, besides());
        }
        schema
    }

    /// Refers to a group of keys and remembers that it must be written.
    pub(crate) fn refer(&mut self, block: &'static Block) -> Value {
        if !self.met.iter().any(|one| std::ptr::eq(*one, block)) {
            self.met.push(block);
        }
        json!({"$ref": format!("#/$defs/{}", name(block)), "type": "object"})
    }

    /// Writes what may be written behind a key.
    pub(crate) fn takes(&mut self, takes: &'static Takes) -> Value {
        match takes {
            Takes::FormatNumber => json!({"enum": [1, "1"]}),
            Takes::Line => {
                json!({"type": ["string", "number", "boolean"], "maxLength": MAX_LINE, "pattern": LINE})
            }
            Takes::Text => json!({"type": ["string", "number", "boolean"], "pattern": TEXT}),
            Takes::Amount => amount(),
            Takes::Percentage => percentage(),
            Takes::Quantity => {
                json!({"type": ["number", "string"], "minimum": 0, "exclusiveMaximum": 1_000_000, "pattern": QUANTITY})
            }
            Takes::Count => {
                json!({"type": ["integer", "string"], "minimum": 1, "maximum": 1000, "pattern": COUNT})
            }
            Takes::Date => json!({"type": "string", "format": "date", "pattern": DATE}),
            Takes::YesNo => {
                json!({"enum": [true, false, "true", "True", "TRUE", "yes", "Yes", "YES", "false", "False", "FALSE", "no", "No", "NO"]})
            }
            Takes::Word(words) => words_of(&words()),
            Takes::Reference(_) => json!({"type": ["string", "integer"], "minimum": 0, "pattern": KEY}),
            Takes::OneOrList(one) => {
                let one = self.takes(one);
                json!({"anyOf": [one, {"type": "array", "items": one}]})
            }
            Takes::List(one) => json!({"type": "array", "items": self.takes(one)}),
            Takes::Block(group) => self.refer(group),
            Takes::Named(group) => {
                json!({"type": "object", "patternProperties": {KEY: self.refer(group)}, "additionalProperties": false})
            }
            Takes::Map(one) => json!({"type": "object", "additionalProperties": self.takes(one)}),
            Takes::ByYear(group, range) => json!({
                "type": "object",
                "patternProperties": {years(&range()): self.refer(group)},
                "additionalProperties": false,
            }),
            Takes::Own(own) => (own.schema)(self),
        }
    }
}

/// An amount of dollars.
pub(crate) fn amount() -> Value {
    json!({"type": ["number", "string"], "minimum": 0, "exclusiveMaximum": 1_000_000_000_000_u64, "pattern": AMOUNT})
}

/// A percentage with its sign.
pub(crate) fn percentage() -> Value {
    json!({"type": "string", "pattern": PERCENTAGE})
}

/// Writes a choice of words. A word of digits alone, such as form 1040, is a number to an editor.
pub(crate) fn words_of(words: &[&str]) -> Value {
    let mut all: Vec<Value> = Vec::new();
    for word in words {
        if let Ok(number) = word.parse::<u32>() {
            all.push(json!(number));
        }
        all.push(json!(word));
    }
    json!({"enum": all})
}

/// Lets an empty place stand, which the reader passes over behind every key that need not stand.
fn or_nothing(schema: &mut Value) {
    if let Some(words) = schema.get_mut("enum").and_then(Value::as_array_mut) {
        words.push(Value::Null);
    } else if let Some(kinds) = schema.get_mut("type") {
        *kinds = match kinds.take() {
            Value::Array(mut all) => {
                all.push(json!("null"));
                Value::Array(all)
            }
            one => json!([one, "null"]),
        };
    } else if let Some(ways) = schema.get_mut("anyOf").and_then(Value::as_array_mut) {
        ways.push(json!({"type": "null"}));
    }
}

/// Adds the key's name in words, its meaning and its example in front.
pub(crate) fn described(rule: &KeyRule, schema: Value) -> Value {
    let example = match rule.example.contains("..") || rule.example.is_empty() {
        // Examples with something left out show a shape, and an editor may show them as they are.
        true => format!("{} Shape: {}", sentence(rule.meaning), rule.example),
        false => format!("{} Example: {}", sentence(rule.meaning), rule.example),
    };
    let mut all = json!({"title": capital(&rule.key.replace('_', " ")), "description": example});
    merge(&mut all, schema);
    all
}

/// Adds the keys of one schema to another.
pub(crate) fn merge(schema: &mut Value, more: Value) {
    if let (Value::Object(schema), Value::Object(more)) = (schema, more) {
        schema.extend(more);
    }
}

/// Writes the years of a range as a pattern for keys.
pub(crate) fn years(range: &RangeInclusive<i16>) -> String {
    let all: Vec<String> = range.clone().map(|year| year.to_string()).collect();
    format!("^({})$", all.join("|"))
}

/// Returns the name of a group under `$defs`.
pub(crate) fn name(block: &Block) -> String {
    block.name.replace(' ', "_")
}
