//! Whether a packet that stands is up to date: made from the same case and the same everything else, for the same
//! wishes. What it was made from stands in its request, so nothing is computed for it.

use super::Wish;
use crate::case::TaxYear;
use crate::law::Law;
use crate::packet::fingerprint;
use jiff::civil::Date;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// What has changed since a packet was made.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// What it was made from cannot be read.
    RequestUnreadable,
    /// It is for another client or year.
    Another,
    /// The case.
    Case,
    /// The firm's own letters or layout.
    Kit,
    /// A file that was given besides the case: what it is, and what became of it.
    Given { what: String, became: &'static str },
    /// The program, which had this version.
    Version(String),
    /// The law of a year.
    Law(String),
    /// The forms of its letters and its worksheet.
    Forms,
    /// The day on its papers: theirs, and the one asked for.
    Dated { was: String, asked: Date },
}

impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Change::RequestUnreadable => f.write_str("what it was made from cannot be read"),
            Change::Another => f.write_str("it is a packet of something else"),
            Change::Case => f.write_str("the case was changed"),
            Change::Kit => f.write_str("the firm's own letters or layout were changed"),
            Change::Given { what, became } => write!(f, "{what} {became}"),
            Change::Version(was) => write!(
                f,
                "it was made by version {was} of the program, and this is {}",
                env!("CARGO_PKG_VERSION")
            ),
            Change::Law(year) => write!(f, "the law of {year} has a new edition"),
            Change::Forms => f.write_str("its letters or worksheet are in other forms than --also asks for"),
            Change::Dated { was, asked } => write!(f, "it is dated {was}, and --dated says {asked}"),
        }
    }
}

/// Returns what has changed since a packet with this request was made; nothing when it is up to date. `given` is what
/// is given besides the case, by path in the packet.
pub(super) fn since(stored: &Value, wish: Wish<'_>, case: &[u8], given: Vec<(String, &[u8])>) -> Vec<Change> {
    let mut changes = Vec::new();
    let text = |key: &str| stored[key].as_str().unwrap_or_default();
    if text("reference") != wish.reference.as_str()
        || stored["year"] != wish.year.0
        || stored["draft"] != wish.draft
    {
        changes.push(Change::Another);
    }
    if text("case_fingerprint") != fingerprint(case) {
        changes.push(Change::Case);
    }
    let now = given.into_iter().map(|(path, bytes)| (path, fingerprint(bytes))).collect();
    besides(&stored["given"], &now, &mut changes);
    if text("version") != env!("CARGO_PKG_VERSION") {
        changes.push(Change::Version(text("version").to_string()));
    }
    for (year, edition) in stored["law_editions"].as_object().into_iter().flatten() {
        let now = year.parse().ok().and_then(|year| Law::built_in().year(TaxYear(year)));
        if now.is_none_or(|law| edition != law.edition.as_str()) {
            changes.push(Change::Law(year.clone()));
        }
    }
    let also = stored["also"].as_array().into_iter().flatten().filter_map(Value::as_str);
    if !also.eq(wish.also.iter().map(|form| form.word())) {
        changes.push(Change::Forms);
    }
    if let Some(asked) = wish.dated.filter(|asked| text("dated") != asked.to_string()) {
        changes.push(Change::Dated { was: text("dated").to_string(), asked });
    }
    changes
}

/// Compares what was given besides the case.
fn besides(stored: &Value, now: &BTreeMap<String, String>, changes: &mut Vec<Change>) {
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
        let became = match (was.get(path), now.get(path)) {
            (Some(was), Some(now)) if was == now => continue,
            (Some(_), Some(_)) => "was changed",
            (Some(_), None) => "is not given any more",
            (None, _) => "is new",
        };
        let inside = path.strip_prefix("data/").unwrap_or(path);
        let what = match inside {
            kits if kits.starts_with("kit/") => {
                kit = true;
                continue;
            }
            "firm.yaml" => "the firm file".to_string(),
            paper if paper.starts_with("papers/") => format!("the paper {paper}"),
            logo => format!("the logo {logo}"),
        };
        changes.push(Change::Given { what, became });
    }
    if kit {
        changes.push(Change::Kit);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assemble::Also;
    use crate::name::Reference;
    use serde_json::json;

    fn stored() -> Value {
        json!({
            "version": env!("CARGO_PKG_VERSION"), "reference": "HH-1", "year": 2025, "draft": false,
            "dated": "2026-03-01", "case_fingerprint": fingerprint(b"case"), "also": ["html"],
            "law_editions": {"2025": Law::built_in().year(TaxYear(2025)).unwrap().edition},
            "given": {"data/firm.yaml": fingerprint(b"firm"), "data/papers/invoice.pdf": fingerprint(b"paper")},
        })
    }

    fn told(stored: &Value, dated: Option<Date>) -> Vec<String> {
        let reference = Reference::new("HH-1").unwrap();
        let wish = Wish {
            reference: &reference,
            year: TaxYear(2025),
            draft: false,
            again: false,
            dated,
            also: &[Also::Html],
            correction: None,
        };
        let given: [(&str, &[u8]); 2] = [("data/firm.yaml", b"firm"), ("data/papers/invoice.pdf", b"paper")];
        let given = given.map(|(path, bytes)| (path.to_string(), bytes)).to_vec();
        since(stored, wish, b"case", given).iter().map(ToString::to_string).collect()
    }

    #[test]
    fn a_packet_of_another_day_is_up_to_date_unless_a_day_was_asked_for() {
        assert_eq!(told(&stored(), None), [""; 0]);
        let on = |day| told(&stored(), Some(day));
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
            let told = told(&stored, None);
            assert!(told.iter().any(|one| one.contains(wanted)), "{pointer}: {told:?}");
        }
    }
}
