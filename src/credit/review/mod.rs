//! What is asked and told once the figures stand.
//!
//! Comes in: the years as they were planned and evaluated. Goes out: everything the credits of a case come to, with what
//! stands open. Changes no figure.

pub(super) mod answers;
mod ask;
mod matters;
pub mod other_years;
pub mod weight;
mod year;

use super::chain::{Chain, Reckoned};
use super::outcome::Outcome;
use super::plan::earlier;
use crate::case::Case;
use crate::finding::Finding;
use crate::law::Law;

/// Reviews what a case comes to: each year by itself, then all of them together, then what of it is answered or cannot
/// matter.
pub(super) fn review(case: &Case, law: &Law, chain: Chain<'_>) -> Outcome {
    let Chain { figures, years, reckoned, mut found, .. } = chain;
    found.extend(reckoned.iter().flat_map(|one| year::review(case, law, one, &figures)));
    found.extend(ask::ask(case, law, &counting(&reckoned), &figures));
    earlier::ask_once(&mut found);
    found.extend(earlier::of_no_year(case, law));
    found.extend(other_years::notes(case, law, &found));
    found.extend(answers::unknown(case));
    let mut findings = told(found, law);
    let answered = answers::take_answered(case, &mut findings);
    matters::keep_what_matters(case, law, &figures, &mut findings);
    let forms = case.returns.iter().map(|one| (one.year.value, one.form.value)).collect();
    Outcome { figures, years, forms, findings, answered }
}

/// Returns the items that count, in their years.
fn counting<'a>(reckoned: &[Reckoned<'a>]) -> Vec<ask::Counting<'a>> {
    let of_year = |year: &Reckoned<'a>| -> Vec<ask::Counting<'a>> {
        let items = year.items.iter().zip(&year.days).filter(|(one, _)| one.qualified.ruling.counts);
        let counting = items.filter_map(|(one, day)| {
            let (kind_law, law, tax_return) = (one.kind_law?, year.law, year.tax_return);
            Some(ask::Counting { planned: one.clone(), kind_law, law, day: *day, tax_return })
        });
        counting.collect()
    };
    reckoned.iter().filter(|one| !one.for_papers_only).flat_map(of_year).collect()
}

/// Returns the findings as they are told: each once, with its documents by name.
fn told(found: Vec<Finding>, law: &Law) -> Vec<Finding> {
    let mut all: Vec<Finding> = Vec::new();
    for mut finding in found {
        for authority in &mut finding.authority {
            *authority = law.cite(authority);
        }
        if !all.contains(&finding) {
            all.push(finding);
        }
    }
    all
}
