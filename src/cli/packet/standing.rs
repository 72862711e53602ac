//! Whether a packet that stands is up to date: made from the same case and the same everything else, for the same
//! wishes. What it was made from stands in its request, so nothing is computed for it.

use crate::case::TaxYear;
use crate::folder;
use crate::law::Law;
use jiff::civil::Date;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// What a packet would be made from, and what is asked for.
pub(super) struct Asked<'a> {
    pub reference: &'a str,
    pub year: TaxYear,
    pub draft: bool,
    /// The date that was asked for; none when the papers may bear any.
    pub dated: Option<Date>,
    pub also: Vec<&'static str>,
    /// The fingerprint of the case.
    pub case: String,
    /// The fingerprints of what is given besides, by path in the packet.
    pub given: BTreeMap<String, String>,
}

/// Returns the request of a packet, where it can be read.
pub(super) fn request(packet: &Path) -> Option<Value> {
    serde_json::from_slice(&folder::read(&packet.join("data/request.json")).ok()?).ok()
}

/// Returns what has changed since a packet was made, in words; nothing when it is up to date.
pub(super) fn changes(stored: &Value, asked: &Asked<'_>) -> Vec<String> {
    let mut changes = Vec::new();
    let text = |key: &str| stored[key].as_str().unwrap_or_default();
    if text("reference") != asked.reference
        || stored["year"] != asked.year.0
        || stored["draft"] != asked.draft
    {
        changes.push("it is a packet of something else".to_string());
    }
    if text("case_fingerprint") != asked.case {
        changes.push("the case was changed".to_string());
    }
    given(&stored["given"], &asked.given, &mut changes);
    if text("version") != env!("CARGO_PKG_VERSION") {
        let was = text("version");
        changes.push(format!(
            "it was made by version {was} of the program, and this is {}",
            env!("CARGO_PKG_VERSION")
        ));
    }
    for (year, edition) in stored["law_editions"].as_object().into_iter().flatten() {
        let now = year.parse().ok().and_then(|year| Law::built_in().year(TaxYear(year)));
        if now.is_none_or(|law| edition != law.edition.as_str()) {
            changes.push(format!("the law of {year} has a new edition"));
        }
    }
    let also: Vec<&str> = stored["also"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    if also != asked.also {
        changes.push("its letters are in other forms than --also asks for".to_string());
    }
    if let Some(dated) = asked.dated.filter(|dated| text("dated") != dated.to_string()) {
        changes.push(format!("it is dated {}, and --dated says {dated}", text("dated")));
    }
    changes
}

/// Compares what was given besides the case.
fn given(stored: &Value, now: &BTreeMap<String, String>, changes: &mut Vec<String>) {
    let was: BTreeMap<&str, &str> = stored
        .as_object()
        .into_iter()
        .flatten()
        .filter_map(|(path, mark)| Some((path.as_str(), mark.as_str()?)))
        .collect();
    let now: BTreeMap<&str, &str> = now.iter().map(|(path, mark)| (path.as_str(), mark.as_str())).collect();
    let mut kit = false;
    let paths: BTreeSet<&str> = was.keys().chain(now.keys()).copied().collect();
    for path in paths {
        let what = match (was.get(path), now.get(path)) {
            (Some(was), Some(now)) if was == now => continue,
            (Some(_), Some(_)) => "was changed",
            (Some(_), None) => "is not given any more",
            (None, _) => "is new",
        };
        let inside = path.strip_prefix("data/").unwrap_or(path);
        if inside.starts_with("kit/") {
            kit = true;
        } else if inside == "firm.yaml" {
            changes.push(format!("the firm file {what}"));
        } else if inside.starts_with("papers/") {
            changes.push(format!("the paper {inside} {what}"));
        } else {
            changes.push(format!("the logo {inside} {what}"));
        }
    }
    if kit {
        changes.push("the firm's own letters or layout were changed".to_string());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn asked() -> Asked<'static> {
        Asked {
            reference: "HH-1",
            year: TaxYear(2025),
            draft: false,
            dated: None,
            also: vec!["html"],
            case: "c".to_string(),
            given: BTreeMap::from([
                ("data/firm.yaml".to_string(), "f".to_string()),
                ("data/papers/invoice.pdf".to_string(), "p".to_string()),
            ]),
        }
    }

    fn stored() -> Value {
        json!({
            "version": env!("CARGO_PKG_VERSION"), "reference": "HH-1", "year": 2025, "draft": false,
            "dated": "2026-03-01", "case_fingerprint": "c", "also": ["html"],
            "law_editions": {"2025": Law::built_in().year(TaxYear(2025)).unwrap().edition},
            "given": {"data/firm.yaml": "f", "data/papers/invoice.pdf": "p"},
        })
    }

    #[test]
    fn a_packet_of_another_day_is_up_to_date_unless_a_day_was_asked_for() {
        assert_eq!(changes(&stored(), &asked()), [""; 0]);
        let on = |day| changes(&stored(), &Asked { dated: Some(day), ..asked() });
        assert_eq!(on(jiff::civil::date(2026, 3, 1)), [""; 0]);
        assert_eq!(on(jiff::civil::date(2026, 3, 2)).len(), 1);
    }

    #[test]
    fn every_ingredient_counts_and_is_told() {
        for (pointer, value, wanted) in [
            ("/reference", json!("hh-1"), "of something else"),
            ("/year", json!(2024), "of something else"),
            ("/draft", json!(true), "of something else"),
            ("/case_fingerprint", json!("d"), "the case was changed"),
            ("/version", json!("0.0.1"), "version 0.0.1"),
            ("/law_editions/2025", json!("2020-01-01"), "the law of 2025"),
            ("/also", json!([]), "--also"),
            ("/given/data~1firm.yaml", json!("g"), "the firm file was changed"),
            ("/given/data~1papers~1invoice.pdf", json!("q"), "papers/invoice.pdf was changed"),
            ("/given", json!({"data/papers/invoice.pdf": "p"}), "the firm file is new"),
            ("/given/data~1logo.png", json!("l"), "the logo logo.png is not given any more"),
            ("/given/data~1kit~1layouts~1worksheet.yaml", json!("k"), "letters or layout"),
            ("/given", json!(null), "is new"),
            ("", json!(null), "the case was changed"),
        ] {
            let mut stored = stored();
            match stored.pointer_mut(pointer) {
                Some(place) => *place = value,
                None => {
                    let key = pointer.strip_prefix("/given/").expect("new only there").replace("~1", "/");
                    stored["given"][key] = value;
                }
            }
            let told = changes(&stored, &asked());
            assert!(told.iter().any(|one| one.contains(wanted)), "{pointer}: {told:?}");
        }
    }
}
