//! The case file and the firm file as JSON Schema, for editors.
//!
//! Nothing comes in but the tables of keys. Goes out: their schemas. Knows no contradictions and no law: those are the
//! business of `check`. A kind of paper in the office's own words is marked by an editor and is a warning of the reader,
//! as both only ask for another look.

use super::CASE;
use super::firm::FIRM;
use crate::record::schema::whole;
use serde_json::Value;

/// Returns the schema of the case file.
pub fn case() -> Value {
    let about = "One household's facts for the US residential energy credits (IRC 25C and 25D). Named NAME.case.yaml; no arithmetic in it.";
    whole(&CASE, "Case file, format 1", about)
}

/// Returns the schema of the firm file.
pub fn firm() -> Value {
    whole(&FIRM, "Firm file", "Who sends the letters. Named firm.yaml, beside the cases.")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::schema::name;
    use serde_json::json;

    /// A group or key that the schema does not lead to would be marked as wrong by every editor.
    #[test]
    fn every_group_and_key_of_the_reader_is_in_the_schema() {
        let schema = case();
        for block in super::super::format::BLOCKS {
            let group = match block.name {
                "case" => &schema,
                // Its keys stand beside years, so they are written in place.
                "planning" => &schema["properties"]["planning"],
                _ => &schema["$defs"][name(block)],
            };
            for rule in block.keys {
                assert!(
                    group["properties"][rule.key]["description"].is_string(),
                    "{} {}",
                    block.name,
                    rule.key
                );
            }
        }
        // The mail needs what an address abroad has not.
        assert_eq!(
            firm()["$defs"]["address"]["required"],
            serde_json::json!(["street", "city", "state", "zip"])
        );
        assert_eq!(schema["$defs"]["home_address"]["required"], serde_json::json!(["street", "city"]));
    }

    #[test]
    fn keys_that_must_stand_take_no_empty_place() {
        let schema = case();
        let cost = &schema["$defs"]["cost"];
        assert_eq!(cost["required"], json!(["item", "as", "amount"]));
        assert_eq!(cost["properties"]["amount"]["type"], json!(["number", "string"]));
        assert_eq!(cost["properties"]["paid"]["type"], json!(["string", "null"]));
        assert_eq!(cost["additionalProperties"], json!(false));
        assert_eq!(schema["properties"]["client"]["type"], json!("object"));
        assert_eq!(schema["properties"]["prepared"]["type"], json!(["object", "null"]));
        assert_eq!(
            schema["$defs"]["return"]["properties"]["form"]["enum"]
                .as_array()
                .map(|all| all.contains(&json!(1040))),
            Some(true),
            "form 1040 without quotes is a number to an editor"
        );
    }
}
