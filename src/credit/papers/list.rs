//! Which papers prove an item, from the list under `layouts`.
//!
//! Comes in: an item with its home, the law of its year, and the list. Goes out: its papers with what is on file, and
//! the due dates that notices moved. Knows no figure and no day of keeping.

use super::paper::{Need, Paper, on_file};
use crate::case::{
    Case, EvidenceKind, FinancedAs, HeldAs, Home, IncentiveKind, Item, Kind, PartOf, SharedRow, TaxYear,
};
use crate::law::{Law, Standing};
use crate::written::{Text, Unique, Written, read, written_words};
use jiff::civil::Date;
use serde::Deserialize;
use std::sync::OnceLock;

/// Returns the papers of an item, each with the evidence that shows it is on file.
pub(super) fn of_item(case: &Case, law: &Law, item: &Item, home: &Home, its_year: TaxYear) -> Vec<Paper> {
    let list = list();
    let audit = item.kind.value == Kind::HomeEnergyAudit;
    let kind_law = law.year(its_year).and_then(|law| law.kinds.get(&item.kind.value));
    let code = kind_law.is_some_and(|kind| kind.maker_code);
    let member = item.association.is_some()
        || matches!(home.held_as.value, HeldAs::CoopShareholder | HeldAs::CondoMember);
    let loan = item
        .financed
        .as_ref()
        .is_some_and(|one| matches!(one.how.value, FinancedAs::Loan | FinancedAs::SubsidizedEnergyFinancing));
    let none = Vec::new();
    let mut sections: Vec<(&[PaperFile], bool)> = vec![
        (&list.every_item, true),
        (if audit { &none } else { &list.maker_statement }, true),
        (list.kinds.0.get(&item.kind.value).unwrap_or(&none), false),
        (if code { &list.maker_code } else { &none }, false),
    ];
    for kind in incentives(case, item) {
        sections.push((list.incentives.0.get(&kind).unwrap_or(&none), false));
    }
    for (papers, holds) in [
        (&list.association, member),
        (&list.new_home, item.part_of.value == PartOf::NewHome),
        (&list.loan, loan),
    ] {
        sections.push((if holds { papers } else { &none }, false));
    }
    let mut found: Vec<Paper> = Vec::new();
    for (papers, common) in sections {
        for paper in papers.iter().filter(|paper| paper.holds_in(its_year)) {
            // Two incentives of one character ask for the same paper once.
            if found.iter().any(|one| one.what == paper.paper.0) {
                continue;
            }
            found.push(Paper {
                what: paper.paper.0.clone(),
                common,
                // A tenant has no home whose cost a paper could show.
                with_home: paper.with_home && home.held_as.value != HeldAs::Renter,
                on_file: on_file(case, item, |kind| paper.answered_by.iter().any(|one| one.0 == kind)),
                source: paper.source.iter().map(|one| one.0.clone()).collect(),
                standing: paper.standing.0,
                need: paper.need.0,
            });
        }
    }
    found
}

/// Returns the characters of an item's own and shared incentives.
fn incentives(case: &Case, item: &Item) -> Vec<IncentiveKind> {
    let shared = case.shared.iter().filter_map(|shared| match &shared.row {
        SharedRow::Incentive(one) if shared.over.iter().any(|(key, _)| key.value == item.key.value) => {
            Some(one.kind.value)
        }
        _ => None,
    });
    item.incentives.iter().map(|one| one.kind.value).chain(shared).collect()
}

/// Returns the day to which a notice moved the due date of a year's return, if one did.
pub(super) fn postponed_due_date(year: TaxYear) -> Option<Date> {
    list().postponed_due_dates.days.0.get(&year).map(|day| day.0.0)
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ListFile {
    every_item: Vec<PaperFile>,
    maker_statement: Vec<PaperFile>,
    kinds: Unique<Kind, Vec<PaperFile>>,
    maker_code: Vec<PaperFile>,
    incentives: Unique<IncentiveKind, Vec<PaperFile>>,
    association: Vec<PaperFile>,
    new_home: Vec<PaperFile>,
    loan: Vec<PaperFile>,
    postponed_due_dates: DueFile,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PaperFile {
    paper: Text<String>,
    answered_by: Vec<Text<EvidenceKind>>,
    #[serde(default)]
    with_home: bool,
    from: Option<Text<TaxYear>>,
    to: Option<Text<TaxYear>>,
    source: Vec<Text<String>>,
    standing: Text<Standing>,
    need: Text<Need>,
    // For the readers of the list; a test sees that no paper is called merely useful without a reason.
    #[cfg_attr(not(test), expect(dead_code, reason = "read by people and by the test"))]
    because: Option<Text<String>>,
}

impl PaperFile {
    fn holds_in(&self, year: TaxYear) -> bool {
        self.from.as_ref().is_none_or(|from| from.0 <= year) && self.to.as_ref().is_none_or(|to| to.0 >= year)
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DueFile {
    // Read so that a day without a source is refused.
    #[serde(rename = "source")]
    _source: Vec<Text<String>>,
    #[serde(rename = "standing")]
    _standing: Text<Standing>,
    days: Unique<TaxYear, Text<Day>>,
}

written_words!(EvidenceKind, Need);

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Day(Date);

impl Written for Day {
    fn from_text(text: &str) -> Result<Day, String> {
        text.parse().map(Day).map_err(|_| "a day is written like 2020-07-15".to_string())
    }
}

const FILE: (&str, &str) = ("papers.yaml", include_str!("../../../layouts/papers.yaml"));

/// Returns the list of papers built into the program, read once.
fn list() -> &'static ListFile {
    static LIST: OnceLock<ListFile> = OnceLock::new();
    LIST.get_or_init(|| {
        // The file is part of the program and a test reads it, so only a broken build comes here.
        read(FILE.0, FILE.1)
            .unwrap_or_else(|told| panic!("the built-in list of papers cannot be read:\n{told}"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_its_papers_and_every_paper_its_source() {
        let list = list();
        for kind in Kind::ALL {
            assert!(list.kinds.0.get(kind).is_some_and(|papers| !papers.is_empty()), "{kind}");
        }
        for kind in IncentiveKind::ALL {
            assert!(list.incentives.0.get(kind).is_some_and(|papers| !papers.is_empty()), "{kind}");
        }
        let of_kinds = list.kinds.0.values().chain(list.incentives.0.values()).flatten();
        let others = [&list.every_item, &list.maker_statement, &list.maker_code, &list.association];
        let others = others.into_iter().chain([&list.new_home, &list.loan]).flatten();
        for paper in of_kinds.chain(others) {
            assert!(!paper.source.is_empty(), "{}", paper.paper.0);
            assert!(!paper.paper.0.ends_with('.') && !paper.paper.0.contains("shall"), "{}", paper.paper.0);
            assert!(!paper.answered_by.is_empty(), "nothing could show {}", paper.paper.0);
            // What is asked for by rule names the rule; what is merely useful says why no more.
            let ruled = !matches!(paper.standing.0, Standing::CommonPractice | Standing::Inference);
            assert_eq!(paper.need.0 == Need::Useful, paper.because.is_some(), "{}", paper.paper.0);
            assert!(paper.need.0 == Need::Useful || ruled, "no rule asks for {}", paper.paper.0);
        }
    }
}
