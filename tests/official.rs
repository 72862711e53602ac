//! Published examples and rules with figures: one file each under `tests/official`.
//!
//! A file says where its figures come from, what it shows, the facts that matter, and the lines to expect; the rest
//! of the case is filled in by `support/household.rs`. Numbers are compared as exact decimals.
//!
//! Not here is one rule that a case file cannot say: an oil furnace must be rated for blends of at least 20 percent
//! (26 U.S.C. 25C(d)(2)(C)(i)(II)). Efficiency standards of section 25C are for the preparer to confirm from the maker's
//! certificate; the program does not judge them.

use crate::support::household::{complete, computed, said};
use gablework::finding::Severity;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::Path;

/// How many files the folder holds at least, so that none is lost without notice.
const AT_LEAST: usize = 104;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Example {
    source: Source,
    because: String,
    case: serde_yaml::Value,
    lines: BTreeMap<i16, BTreeMap<String, String>>,
    #[serde(default)]
    findings: Vec<String>,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum Source {
    Published(Published),
    Word(String),
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Published {
    document: String,
    year: i16,
    section: String,
}

#[test]
fn every_published_example_comes_out_as_published() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/official");
    let mut files: Vec<_> = std::fs::read_dir(&folder)
        .expect("the folder of examples")
        .map(|entry| entry.expect("an entry of the folder").path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "yaml"))
        .collect();
    files.sort();
    assert!(files.len() >= AT_LEAST, "{} files, expected {AT_LEAST} at least", files.len());
    let mut wrong = Vec::new();
    for path in &files {
        let name = path.file_name().expect("a file has a name").to_string_lossy();
        let text = std::fs::read_to_string(path).expect("a readable file");
        let complaints = match serde_yaml::from_str::<Example>(&text) {
            Ok(example) => check(&example),
            Err(error) => vec![error.to_string()],
        };
        wrong.extend(complaints.into_iter().map(|complaint| format!("{name}: {complaint}")));
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

fn check(example: &Example) -> Vec<String> {
    let mut wrong = Vec::new();
    let sourced = match &example.source {
        Source::Published(one) => {
            !one.document.is_empty() && !one.section.is_empty() && (1970..=2026).contains(&one.year)
        }
        Source::Word(word) => ["common practice", "from memory"].contains(&word.as_str()),
    };
    if !sourced {
        wrong.push(
            "the source is a document with year and section, `common practice` or `from memory`".into(),
        );
    }
    if example.because.is_empty() || example.because.ends_with('.') {
        wrong.push("`because` is one sentence without a full stop".into());
    }
    if example.lines.values().map(BTreeMap::len).sum::<usize>() == 0 {
        wrong.push("no line is expected".into());
    }
    let years: Vec<i16> = example.lines.keys().copied().collect();
    let household = match computed(&complete(example.case.clone(), &years)) {
        Ok(household) => household,
        Err(why) => return vec![why],
    };
    for (year, lines) in &example.lines {
        for (line, expected) in lines {
            if let Some(found) = household.differs(&format!("{year}:{line}"), expected) {
                wrong.push(format!("{year}:{line} should be {expected} and is {found}"));
            }
        }
    }
    for code in &example.findings {
        if !household.found(code) {
            wrong.push(format!("`{code}` was not found, but\n{}", said(&household.findings)));
        }
    }
    let unexpected: Vec<_> = household
        .findings
        .iter()
        .filter(|one| {
            one.severity >= Severity::Warning && !example.findings.iter().any(|code| code == one.code)
        })
        .cloned()
        .collect();
    if !unexpected.is_empty() {
        wrong.push(format!("not expected:\n{}", said(&unexpected)));
    }
    wrong
}
