//! The figures as JSON Schema (draft 2020-12): what `figures --as json` and a packet's `figures.json` hold.
//!
//! Nothing comes in. Goes out: the contract that [`data::figures_json`](super::data::figures_json) keeps, for
//! programs that read it. Every group of keys is closed, so a test that validates real figures sees any key
//! added there and not described here. Knows shapes, no figures.

use super::official::LineRead;
use crate::finding::Severity;
use crate::law::LawKey;
use serde_json::{Value, json};

/// A place: year, line, and what it is about; `2025:101@battery.2`.
const PLACE: &str = "^[0-9]{4}:[0-9]{3}(@[a-z0-9.-]+)?$";
/// An exact number: no exponent, no separators.
const EXACT: &str = r"^-?[0-9]+(\.[0-9]+)?$";

/// Returns the schema of a year's figures.
pub fn figures() -> Value {
    let place = json!({"type": "string", "pattern": PLACE});
    let law_key = json!({"enum": LawKey::ALL.iter().map(|key| key.word()).collect::<Vec<_>>()});
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Figures of one tax year, format 1",
        "description": "Every numbered line of a case for one year, with the expression it was computed by, its operands and its sources.",
        "type": "object",
        "properties": {
            "format": {"const": 1},
            "case": {"type": "string", "description": "The client's reference."},
            "year": {"type": "integer", "description": "The tax year."},
            "law": {"type": ["string", "null"], "description": "The edition of the year's law."},
            "lines": {"type": "array", "items": {"$ref": "#/$defs/line"}},
            "findings": {"type": "array", "items": {"$ref": "#/$defs/finding"}},
            "papers": {"type": "array", "items": {"$ref": "#/$defs/papers"}},
        },
        "required": ["format", "case", "year", "law", "lines", "findings", "papers"],
        "additionalProperties": false,
        "$defs": {
            "line": line(),
            "expr": expression(&place, &law_key),
            "used": {
                "title": "Operand",
                "description": "What the line was made of, each with the value it had.",
                "oneOf": [
                    only("figure", closed(json!({"place": place, "kind": kinds(), "value": {"type": "string"}}))),
                    only("law", closed(json!({
                        "year": {"type": "integer"}, "key": law_key, "kind": kinds(), "value": {"type": "string"},
                    }))),
                    only("fact", json!({"$ref": "#/$defs/fact"})),
                ],
            },
            "fact": described("A value of the case and where it stands.", closed(json!({
                "path": {"type": "string", "description": "Keys joined by points; entries of lists by number from 1."},
                "words": {"type": "string"},
                "kind": kinds(),
                "value": {"type": "string", "description": "Exact: amounts as decimals, shares as percentages with their sign."},
                "evidence": {"type": ["string", "null"], "description": "The key of the paper that shows it."},
                "at": {"$ref": "#/$defs/at"},
            }))),
            "ruling": described("A decision of law on an amount.", closed(json!({
                "counts": {"type": "boolean"},
                "because": {"type": "string"},
                "authority": {"type": "array", "items": {"type": "string"}},
                "settled": {"type": "boolean", "description": "Whether the law is settled here."},
                "chosen": {"anyOf": [{"$ref": "#/$defs/at"}, {"type": "null"}], "description": "Where the case chooses it."},
            }))),
            "official": described("A line of an official form.", closed(json!({
                "form": {"type": "string"},
                "line": {"type": "string"},
                "read": {
                    "enum": LineRead::ALL.iter().map(|read| read.word()).collect::<Vec<_>>(),
                    "description": "How the official line is known.",
                },
            }))),
            "finding": finding(),
            "papers": papers(),
            "at": described("A place in a file, counted from 1.", closed(json!({
                "file": {"type": "string"},
                "line": {"type": "integer", "minimum": 1},
                "column": {"type": "integer", "minimum": 1},
            }))),
        },
    })
}

/// Writes the schema of one line.
fn line() -> Value {
    let mut line = described(
        "A numbered line.",
        closed(json!({
            "line": {"type": "string", "pattern": "^[0-9]{3}$"},
            "of": {"type": ["string", "null"], "description": "What the row is about; null where the line is the return's."},
            "label": {"type": "string"},
            "kind": kinds(),
            "value": {"type": "string", "description": "Money has two decimals and no separators; a percentage its sign; a truth value is yes or no."},
            "how": {"type": "string", "description": "The arithmetic in words."},
            "expr": {"$ref": "#/$defs/expr"},
            "used": {"type": "array", "items": {"$ref": "#/$defs/used"}},
            "official": {"type": "array", "items": {"$ref": "#/$defs/official"}},
            "authority": {"type": "array", "items": {"type": "string"}},
            "rulings": {"type": "array", "items": {"$ref": "#/$defs/ruling"}},
        })),
    );
    line["allOf"] = json!([
        of_kind("money", r"^-?[0-9]+\.[0-9]{2}$"),
        of_kind("rate", r"^[0-9]+(\.[0-9]+)?%$"),
        of_kind("quantity", EXACT),
        of_kind("yes_no", "^(yes|no)$"),
    ]);
    line
}

/// Asks for the form of a value where a line is of a kind.
fn of_kind(kind: &str, pattern: &str) -> Value {
    json!({
        "if": {"properties": {"kind": {"const": kind}}},
        "then": {"properties": {"value": {"pattern": pattern}}},
    })
}

/// Writes the schema of an expression: one key that names what it does, with its parts behind it.
fn expression(place: &Value, law_key: &Value) -> Value {
    let part = json!({"$ref": "#/$defs/expr"});
    let parts = json!({"type": "array", "items": part});
    let two = json!({"type": "array", "items": part, "minItems": 2, "maxItems": 2});
    let places = json!({"type": "array", "items": place});
    let facts = json!({"type": "array", "items": {"$ref": "#/$defs/fact"}});
    // The number of the law is left out where the year has none; the figure then rests on a finding.
    let mut law = closed(json!({
        "year": {"type": "integer"}, "key": law_key, "kind": kinds(), "value": {"type": "string"},
    }));
    law["required"] = json!(["year", "key"]);
    json!({
        "title": "Expression",
        "description": "How a line is computed. Another program can compute it again.",
        "oneOf": [
            only("fact", json!({"$ref": "#/$defs/fact"})),
            only("law", law),
            only("number", closed(json!({"value": {"type": "string", "pattern": EXACT}, "unit": {"type": "string"}}))),
            only("figure", place.clone()),
            only("rows", closed(json!({
                "rows": places, "by": places, "pick": {"enum": ["nth", "after"]}, "n": {"type": "integer", "minimum": 0},
            }))),
            only("words_of_row", closed(json!({
                "rows": places, "by": places, "words": facts, "n": {"type": "integer", "minimum": 1},
            }))),
            only("sum", parts.clone()),
            only("less", two.clone()),
            only("times", two),
            only("share", closed(json!({"whole": part, "part": part, "of": part}))),
            only("smaller", parts),
            only("not_below_zero", part.clone()),
            only("passing", closed(json!({"amount": part, "limit": part, "above": part, "otherwise": part}))),
            only("round", closed(json!({
                "to": {"enum": ["whole_dollars", "cents", "tenths_of_percent"]}, "of": part,
            }))),
            only("ruled", closed(json!({"ruling": {"$ref": "#/$defs/ruling"}, "of": part}))),
            only("answer", closed(json!({
                "kind": kinds(), "value": {"type": "string"}, "because": {"type": "string"}, "from": facts,
            }))),
        ],
    })
}

/// Writes the schema of a finding, which `check --as json` has as well.
pub(crate) fn finding() -> Value {
    let severities = [Severity::Error, Severity::Warning, Severity::Question, Severity::Note];
    let mut finding = closed(json!({
        "severity": {"enum": severities.map(|one| one.to_string())},
        "code": {"type": "string", "pattern": "^[a-z0-9-]+$"},
        "message": {"type": "string"},
        "help": {"type": ["string", "null"]},
        "at": {"anyOf": [{"$ref": "#/$defs/at"}, {"type": "null"}]},
    }));
    finding["properties"]["about"] =
        json!({"type": "string", "description": "What it is about, as an answer to a question names it."});
    finding["properties"]["for"] = json!({
        "type": ["string", "null"], "description": "Questions only: the facts it is asked for, as an answer repeats them.",
    });
    finding["properties"]["blocking"] = json!({
        "type": "boolean", "description": "Questions only: no packet is sealed while it is open, for its answer could change a figure.",
    });
    described("What is wrong, asked or worth knowing.", finding)
}

/// Writes the schema of the papers of one item.
fn papers() -> Value {
    let paper = closed(json!({
        "paper": {"type": "string"},
        "on_file": {"type": "array", "items": {"type": "string"}, "description": "The keys of the papers that show it; empty where it is missing."},
        "with_home": {"type": "boolean", "description": "It is kept as long as the home is owned, and longer."},
        "source": {"type": "array", "items": {"type": "string"}},
        "standing": {"type": "string"},
    }));
    described(
        "The papers that prove an item of the year or an earlier one.",
        closed(json!({
            "item": {"type": "string"},
            "year": {"type": "integer"},
            "keep_until": {"type": ["string", "null"], "format": "date", "description": "At least until this day; null where there is no end yet, or where they stay with the home."},
            "because": {"type": "string"},
            "papers": {"type": "array", "items": paper},
        })),
    )
}

fn kinds() -> Value {
    json!({"enum": ["money", "rate", "quantity", "yes_no", "text"]})
}

/// Writes a group of keys that all stand, and no others.
pub(crate) fn closed(properties: Value) -> Value {
    let required: Vec<String> =
        properties.as_object().map(|keys| keys.keys().cloned().collect()).unwrap_or_default();
    json!({"type": "object", "properties": properties, "required": required, "additionalProperties": false})
}

/// Writes a group of the one key.
fn only(key: &str, value: Value) -> Value {
    closed(json!({key: value}))
}

pub(crate) fn described(words: &str, mut schema: Value) -> Value {
    schema["description"] = json!(words);
    schema
}
