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
const PLACE: &str = "^[0-9]{4}:[0-9]{3,4}(@[a-z0-9.-]+)?$";
/// An exact number: no exponent, no separators.
const EXACT: &str = r"^-?[0-9]+(\.[0-9]+)?$";

/// Returns the schema of a year's figures.
pub fn figures() -> Value {
    let place = json!({"type": "string", "pattern": PLACE});
    let law_key = json!({"enum": LawKey::ALL.iter().map(|key| key.word()).collect::<Vec<_>>()});
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Figures of one tax year, format 1",
        "description": "Every numbered line of a case for one year, with the expression it was computed by, its operands and its sources. The file stands alone: another program can compute every value again from the expressions, in any order in which a line comes after the lines it names. Values of the law and facts of the case stand in the expressions; a figure of the same year is a line of this file; a figure of another year has its value under `used` of the line that names it. Numbers are exact decimals, so nothing is to be computed in binary fractions. The line's printed value is made from the exact one at the end only; a line that names another takes its exact value.",
        "type": "object",
        "properties": {
            "format": {"const": 1},
            "case": {"type": "string", "description": "The client's reference."},
            "year": {"type": "integer", "description": "The tax year."},
            "law": {"type": ["string", "null"], "description": "The edition of the year's law."},
            "lines": {"type": "array", "items": {"$ref": "#/$defs/line"}},
            "findings": {"type": "array", "items": {"$ref": "#/$defs/finding"}},
            "papers": {"type": "array", "items": {"$ref": "#/$defs/papers"}},
            "amended_return": {"anyOf": [{"$ref": "#/$defs/amended_return"}, {"type": "null"}]},
        },
        "required": ["format", "case", "year", "law", "lines", "findings", "papers", "amended_return"],
        "additionalProperties": false,
        "$defs": {
            "line": line(),
            "expr": expression(&place, &law_key),
            "used": {
                "title": "Operand",
                "description": "What the line was made of, in the order it was used, each with its exact value: amounts and quantities as decimals, a share as a factor (0.3 for 30%). Where a division does not come out, 28 significant digits stand. Of an expression with a choice only what was chosen is listed.",
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
                "value": {"type": "string", "description": "Exact: amounts and quantities as decimals, a share as a factor (0.3 for 30%)."},
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
            "amended_return": amended_return(),
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
            "line": {"type": "string", "pattern": "^[0-9]{3,4}$"},
            "of": {"type": ["string", "null"], "description": "What the row is about; null where the line is the return's. Year, line and this make the line's place: `2025:101@battery.2`. Of the lines 651 to 658 it is a year to come."},
            "label": {"type": "string"},
            "kind": kinds(),
            "value": {"type": "string", "description": "As printed. Money has two decimals and no separators, rounded half up (a tie away from zero); a share is a percentage with its sign, with one decimal where more than eight would be needed; a truth value is yes or no."},
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
            described("A fact of the case: its value.", only("fact", json!({"$ref": "#/$defs/fact"}))),
            described("A value of the law of a year, with the name that the year's law gives it.", only("law", law)),
            described(
                "A number that belongs to a unit of measure, such as the two halves of a kilowatt.",
                only("number", closed(json!({"value": {"type": "string", "pattern": EXACT}, "unit": {"type": "string"}}))),
            ),
            described("Another figure: its exact value. A place that is not there is a mistake, never zero.", only("figure", place.clone())),
            described(
                "Rows in the order of their amounts, the largest first; equal amounts keep the order in which they are listed here. The amounts are those of `rows` or, where `by` lists places, of `by`, one for each row. `nth` is the amount of the n-th row, counted from 1, and nothing where there are fewer; `after` is the sum of the rows after the n-th.",
                only("rows", closed(json!({
                    "rows": places, "by": places, "pick": {"enum": ["nth", "after"]}, "n": {"type": "integer", "minimum": 0},
                }))),
            ),
            described(
                "The words of the n-th row, counted from 1, in the order that `rows` explains; `words` has one entry for each row.",
                only("words_of_row", closed(json!({
                    "rows": places, "by": places, "words": facts, "n": {"type": "integer", "minimum": 1},
                }))),
            ),
            described("The sum; of nothing it is zero.", only("sum", parts.clone())),
            described("The first less the second; it may be negative.", only("less", two.clone())),
            described("The product of the two.", only("times", two)),
            described(
                "`whole` times `part`, divided by `of`, not rounded; nothing where `of` is zero.",
                only("share", closed(json!({"whole": part, "part": part, "of": part}))),
            ),
            described("The smallest of them.", only("smaller", parts)),
            described("The inner value, or zero where that is negative.", only("not_below_zero", part.clone())),
            described(
                "`above` where `amount` is greater than `limit`, else `otherwise`.",
                only("passing", closed(json!({"amount": part, "limit": part, "above": part, "otherwise": part}))),
            ),
            described(
                "The value of `of`, rounded half up (a tie away from zero): to whole dollars where an amount enters an official line (26 U.S.C. 6102), to cents where a product or a share becomes money, or to tenths of a percent, which are thousandths.",
                only("round", closed(json!({
                    "to": {"enum": ["whole_dollars", "cents", "tenths_of_percent"]}, "of": part,
                }))),
            ),
            described(
                "The value of `of` where the ruling counts it, else zero.",
                only("ruled", closed(json!({"ruling": {"$ref": "#/$defs/ruling"}, "of": part}))),
            ),
            described(
                "An answer read from facts: its value stands here.",
                only("answer", closed(json!({
                    "kind": kinds(), "value": {"type": "string"}, "because": {"type": "string"}, "from": facts,
                }))),
            ),
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

/// Writes the schema of what Form 1040-X asks for.
fn amended_return() -> Value {
    let amount = json!({"type": "string", "pattern": r"^-?[0-9]+\.[0-9]{2}$"});
    let row = closed(json!({
        "line": {"type": "string", "description": "The line of the form; empty for a part of the line above it, `none` for what has no line there."},
        "what": {"type": "string"},
        "a": amount,
        "b": amount,
        "c": amount,
        "ours": {"type": "array", "items": {"type": "string", "pattern": PLACE}, "description": "The lines of this file that hold the amounts."},
    }));
    described(
        "What Form 1040-X asks for, where the filed return differs from the figures and the case says what it shows: column A as filed, B the net change, C the correct amount. The preparer decides whether it is filed.",
        closed(json!({
            "form": {"type": "string"},
            "lines": {"type": "array", "items": row},
            "explanation": {"type": "string", "description": "The explanation of changes, ready to paste."},
            "reason_given": {"type": "boolean", "description": "Whether the case says why the filed return differs, and so the explanation does."},
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
