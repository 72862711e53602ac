//! The household's facts.
//!
//! Comes in: the text of one case file. Goes out: [`Case`], every value with the place it was written, and
//! all that is wrong with it. Knows what the contract of the case file allows (format 1); knows nothing of
//! rates, caps or years of law.

mod answer;
mod check;
mod client;
pub mod codes;
mod cost;
mod evidence;
pub mod firm;
pub mod format;
mod habits;
mod home;
mod item;
pub mod kinds;
pub mod limits;
mod planning;
mod returns;
pub mod schema;
mod sections;
mod shared;
pub mod single;
mod spoken;
mod states;
mod whole;
mod year;

pub use crate::record::Key;
pub use answer::*;
pub use client::*;
pub use cost::{COST, Cost, INCENTIVE, Incentive, TreatAs};
pub use evidence::*;
pub use habits::FILE;
pub use home::{HOME, HOME_ADDRESS, Home, HomeAddress, USE, UseFrom};
pub use item::*;
pub use kinds::*;
pub use planning::*;
pub use returns::*;
pub use shared::*;
pub use whole::{CASE, Case, Format};
pub use year::TaxYear;

use crate::characters::harmless_line;
use crate::finding::{Finding, Severity, Sources, Span};
use crate::record::edit::{Change, Refused, edit};
use crate::record::{Reading, in_order, tree};
use crate::redact;

/// Errors with which not even a draft is made: a taxpayer number that is not masked would go on paper.
pub const NOTHING_IS_MADE: [&str; 2] = [redact::CODE, check::TIN_FORM];

/// Writes the path of a file for people, with full taxpayer numbers in it covered and what nobody sees told by its number.
pub fn shown(path: &std::path::Path) -> String {
    harmless_line(&redact::in_path(&path.display().to_string()).0)
}

/// Changes the text of a case in its place; see [`edit`](crate::record::edit).
pub fn edited(bytes: &[u8], changes: &[Change]) -> Result<String, Refused> {
    edit(bytes, &FILE, &CASE, changes)
}

/// Covers full taxpayer numbers in words for people.
pub(crate) fn covered(words: &str) -> String {
    redact::apply(words, &redact::find(words))
}

/// Reads one case file: what it says, what it means, and all that is wrong with it.
///
/// The case is `None` where a value that a computation needs could not be read, because figures made from
/// the rest would mislead; contradictions between values that could be read leave the case standing. The
/// findings are sorted by place and hold none twice.
pub fn read(name: &str, bytes: &[u8], sources: &mut Sources) -> (Option<Case>, Vec<Finding>) {
    read_for_print(name, bytes, sources, &|_| true)
}

/// The same for a case that goes on paper: what the typeface cannot print is an error as well.
pub fn read_for_print(
    name: &str,
    bytes: &[u8],
    sources: &mut Sources,
    prints: &dyn Fn(char) -> bool,
) -> (Option<Case>, Vec<Finding>) {
    let mut findings = Vec::new();
    let (source, root) = tree::read(name, bytes, &FILE, sources, &mut findings);
    let malformed =
        findings.iter().any(|one| one.severity == Severity::Error && one.code != "taxpayer-number");
    let text = &sources.get(source).text;
    let whole = Span { source, start: 0, end: text.len() as u32 };
    let case = root.and_then(|root| {
        let mut reading = Reading::new(&root, text, &FILE);
        let (case, usable) = whole::read(&root, whole, &mut reading);
        findings.extend(reading.findings);
        findings.extend(reading.asides);
        tree::not_printed(&root, sources, prints, &mut findings);
        let case = case?;
        let passed = limits::passed(&case);
        if !passed.is_empty() {
            findings.extend(passed);
            return None;
        }
        findings.extend(check::contradictions(&case));
        // A number is refused where it is found; what is left of it is not complained about as well.
        let hidden = |at: Span| {
            let number = |one: &Finding| {
                one.code == redact::CODE && one.at.is_some_and(|of| of.start < at.end && at.start < of.end)
            };
            findings.iter().any(number)
        };
        let named = !hidden(case.client.reference.span);
        let followers: Vec<bool> =
            findings.iter().map(|one| one.code == check::TIN_FORM && one.at.is_some_and(hidden)).collect();
        let mut followers = followers.into_iter();
        findings.retain(|_| followers.next() != Some(true));
        (usable && !malformed && named).then_some(case)
    });
    (case, in_order(findings, sources, &FILE))
}
