//! The complaints worth reading: in order, each mistake once.
//!
//! Comes in: all that was found in one file. Goes out: the same without what only follows from something else.

use super::file::FileKind;
use crate::finding::{Finding, Severity, Sources, Span};

/// How many findings are worth reading at once.
const MOST: usize = 200;

/// Sorts the findings of one file by place, leaves out repetitions and what only follows from another one, and says
/// how many more there are where there are very many.
pub(crate) fn in_order(findings: Vec<Finding>, sources: &Sources, kind: &FileKind) -> Vec<Finding> {
    let mut findings = without_followers(findings, sources, kind);
    findings
        .sort_by_key(|one| (one.at.map_or((0, 0), |at| (at.start, at.end)), std::cmp::Reverse(one.severity)));
    findings.dedup_by(|later, earlier| {
        later.at == earlier.at && later.code == earlier.code && later.message == earlier.message
    });
    if findings.len() > MOST {
        let more = findings.split_off(MOST);
        let message = format!("there are {} more findings behind these {MOST}", more.len());
        let worst = more.iter().map(|one| one.severity).max().unwrap_or(Severity::Error);
        let mut rest = Finding::error("more-findings", message).help("correct these first, then check again");
        rest.severity = worst;
        rest.at = more[0].at;
        findings.push(rest);
    }
    findings
}

/// How many references a file may have before they are one complaint: nobody reads one for each.
const MANY_REFERENCES: usize = 3;

/// Puts the complaints about YAML's references together where a file is full of them, with those about the keys that
/// are there only to be referred to.
fn one_for_all_references(findings: Vec<Finding>, sources: &Sources, kind: &FileKind) -> Vec<Finding> {
    let masked = |one: &Finding| one.help.as_ref().is_some_and(|help| help.starts_with("write it in quotes"));
    let refers = |one: &Finding| matches!(one.code, "alias" | "anchor") && !masked(one);
    let count = findings.iter().filter(|one| refers(one)).count();
    if count <= MANY_REFERENCES {
        return findings;
    }
    let line = |one: &Finding| one.at.map(|at| sources.line_column(at).line);
    let anchored: Vec<Option<usize>> = findings.iter().filter(|one| one.code == "anchor").map(line).collect();
    let of = |code: &str| findings.iter().find(|one| refers(one) && one.code == code);
    let said = of("alias").or(of("anchor")).cloned().map(|mut one| {
        one.message =
            format!("this file refers from one place to another with `&` and `*`, {count} times; {} has no such references", kind.a);
        one.help = Some(
            "write each value where it is needed; a text that itself begins with `&` or `*` needs quotes".to_string(),
        );
        one
    });
    let follows = |one: &Finding| one.code == "unknown-key" && anchored.contains(&line(one));
    findings.into_iter().filter(|one| !refers(one) && !follows(one)).chain(said).collect()
}

/// Leaves out complaints that only follow from another one at the same place, so that each mistake is read once.
fn without_followers(findings: Vec<Finding>, sources: &Sources, kind: &FileKind) -> Vec<Finding> {
    let findings = one_for_all_references(findings, sources, kind);
    // A file with that many complaints is of another kind, and nobody reads them one by one.
    if findings.len() > 1000 {
        return findings;
    }
    let spans = |codes: &[&str]| -> Vec<Span> {
        findings.iter().filter(|one| codes.contains(&one.code)).filter_map(|one| one.at).collect()
    };
    // A value cut in two by a comma is no value yet, whatever its first part looks like.
    let cut = spans(&["comma-in-braces"]);
    // A line that begins in the wrong column joins the value of the line above it.
    let misplaced = spans(&["indentation", "tab", "not-yaml"]);
    let line = |span: Span| sources.line_column(span).line;
    // A comment that began inside braces has swallowed what would close them.
    let swallowed: Vec<usize> = findings
        .iter()
        .filter(|one| one.code == "comment-cuts-text" && one.severity == Severity::Error)
        .filter_map(|one| one.at)
        .map(line)
        .collect();
    let opened = |one: &Finding| one.related.iter().any(|(span, _)| swallowed.contains(&line(*span)));
    let hyphens: Vec<usize> = findings
        .iter()
        .filter(|one| one.code == "wrong-shape" && one.message.contains("after the hyphen"))
        .filter_map(|one| one.at)
        .map(line)
        .collect();
    // Where reading stopped in the midst of a group, the rest of its keys is not missing.
    let cut_short = misplaced.iter().filter_map(|stop| {
        let before = findings.iter().filter_map(|one| {
            let at = one.at.filter(|at| one.code == "missing-key" && at.start < stop.start)?;
            (line(*stop) - line(at) <= 12).then_some(at)
        });
        before.max_by_key(|at| at.start)
    });
    let cut_short: Vec<Span> = cut_short.collect();
    let follows = |one: &Finding| {
        let Some(at) = one.at else { return false };
        let value = one.code.ends_with("-form") || one.code == "unknown-word";
        value && cut.iter().any(|cut| cut.start <= at.start && at.end <= cut.end)
            || value && sources.excerpt(at).contains('\n') && !misplaced.is_empty()
            || one.code == "missing-key" && cut_short.contains(&at)
            || one.code == "needs-quotes" && hyphens.contains(&line(at))
            || one.code == "brackets-open" && (swallowed.contains(&line(at)) || opened(one))
    };
    let keep: Vec<bool> = findings.iter().map(|one| !follows(one)).collect();
    findings.into_iter().zip(keep).filter_map(|(one, keep)| keep.then_some(one)).collect()
}
