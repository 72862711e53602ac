//! Which papers prove an item, from the list under `layouts`.
//!
//! Comes in: an item with its home, the law of its year, and the list. Goes out: its papers with what is on file, and
//! the due dates that notices moved. Knows no figure and no day of keeping.

use super::paper::{Need, Paper, on_file};
use crate::case::{
    Case, EvidenceKind, FinancedAs, HeldAs, Home, IncentiveKind, Item, Kind, PartOf, SharedRow, TaxYear,
};
use crate::law::{Law, Standing};
use crate::record::FileKind;
use crate::record::shape::{Keyed, Refused, Written, built_in, records};
use jiff::civil::Date;
use std::collections::BTreeMap;
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
        (list.kinds.get(&item.kind.value).unwrap_or(&none), false),
        (if code { &list.maker_code } else { &none }, false),
    ];
    for kind in incentives(case, item) {
        sections.push((list.incentives.get(&kind).unwrap_or(&none), false));
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
            if found.iter().any(|one| one.what == paper.paper) {
                continue;
            }
            found.push(Paper {
                what: paper.paper.clone(),
                common,
                // A tenant has no home whose cost a paper could show.
                with_home: paper.with_home && home.held_as.value != HeldAs::Renter,
                on_file: on_file(case, item, |kind| paper.answered_by.contains(&kind)),
                source: paper.source.clone(),
                standing: paper.standing,
                need: paper.need,
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
    list().postponed_due_dates.days.get(&year).map(|day| day.0)
}

records! {
    /// The list of papers.
    struct ListFile, "list of papers" {
        must every_item: Vec<PaperFile>, "[..]", "papers of every item";
        must maker_statement: Vec<PaperFile>, "[..]", "papers of every item but an audit";
        must kinds: BTreeMap<Kind, Vec<PaperFile>>, "{..}", "papers of one kind of property";
        must maker_code: Vec<PaperFile>, "[..]", "papers where the maker's code must stand on the return";
        must incentives: BTreeMap<IncentiveKind, Vec<PaperFile>>, "{..}", "papers of an incentive";
        must association: Vec<PaperFile>, "[..]", "papers of who paid through an association";
        must new_home: Vec<PaperFile>, "[..]", "papers of a new home";
        must loan: Vec<PaperFile>, "[..]", "papers of a loan";
        must postponed_due_dates: DueFile, "{..}", "due dates that notices moved";
    }

    /// A paper.
    struct PaperFile, "paper" {
        must paper: String, "the invoice", "what it is";
        must answered_by: Vec<EvidenceKind>, "[invoice]", "the kinds of evidence that show it";
        may with_home: bool, "yes", "whether it belongs to the home's cost";
        may from: Option<TaxYear>, "2023", "the first year in which it is asked for";
        may to: Option<TaxYear>, "2025", "the last one";
        must source: Vec<String>, "[FS_2025_01]", "the documents that ask for it";
        must standing: Standing, "irs_guidance", "what kind of text that is";
        must need: Need, "required", "how much it is needed";
        #[cfg_attr(not(test), expect(dead_code, reason = "read by people, and by the test that no paper is merely useful without it"))]
        may because: Option<String>, "it shortens an examination", "why a paper that no rule asks for is useful";
    }

    /// Due dates.
    struct DueFile, "due dates" {
        #[expect(dead_code, reason = "read so that a day without a source is refused")]
        must source: Vec<String>, "[N2020_23]", "the notices";
        #[expect(dead_code, reason = "read so that a day without its standing is refused")]
        must standing: Standing, "irs_guidance", "what kind of text that is";
        must days: BTreeMap<TaxYear, Day>, "{2019: 2020-07-15}", "the days, by tax year";
    }
}

impl PaperFile {
    fn holds_in(&self, year: TaxYear) -> bool {
        self.from.is_none_or(|from| from <= year) && self.to.is_none_or(|to| to >= year)
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Day(Date);

impl Written for Day {
    fn of(text: &str) -> Result<Day, Refused> {
        let refused = |_| Refused::new(format!("`{text}` is no day"), "a day is written like 2020-07-15");
        text.parse().map(Day).map_err(refused)
    }
}

/// The list of papers as a kind of file.
static KIND: FileKind = FileKind::data(
    "a list of papers",
    "the list of papers",
    &[ListFile::BLOCK, PaperFile::BLOCK, DueFile::BLOCK],
);

const FILE: (&str, &str) = ("papers.yaml", include_str!("../../../layouts/papers.yaml"));

/// Returns the list of papers built into the program, read once.
fn list() -> &'static ListFile {
    static LIST: OnceLock<ListFile> = OnceLock::new();
    LIST.get_or_init(|| {
        let (_, list) = built_in(FILE.0, FILE.1, &KIND);
        list
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is read when the program starts is read by one reader; here both read it.
    #[test]
    fn the_list_reads_without_complaint() {
        let mut sources = crate::finding::Sources::default();
        let (read, told) =
            crate::record::shape::read_whole::<ListFile>(FILE.0, FILE.1, &KIND, "list-form", &mut sources);
        assert!(read.is_some() && told.is_empty(), "{told:?}");
    }

    #[test]
    fn every_kind_has_its_papers_and_every_paper_its_source() {
        let list = list();
        for kind in Kind::ALL {
            assert!(list.kinds.get(kind).is_some_and(|papers| !papers.is_empty()), "{kind}");
        }
        for kind in IncentiveKind::ALL {
            assert!(list.incentives.get(kind).is_some_and(|papers| !papers.is_empty()), "{kind}");
        }
        let of_kinds = list.kinds.values().chain(list.incentives.values()).flatten();
        let others = [&list.every_item, &list.maker_statement, &list.maker_code, &list.association];
        let others = others.into_iter().chain([&list.new_home, &list.loan]).flatten();
        for paper in of_kinds.chain(others) {
            assert!(!paper.source.is_empty(), "{}", paper.paper);
            assert!(!paper.paper.ends_with('.') && !paper.paper.contains("shall"), "{}", paper.paper);
            assert!(!paper.answered_by.is_empty(), "nothing could show {}", paper.paper);
            // What is asked for by rule names the rule; what is merely useful says why no more.
            let ruled = !matches!(paper.standing, Standing::CommonPractice | Standing::Inference);
            assert_eq!(paper.need == Need::Useful, paper.because.is_some(), "{}", paper.paper);
            assert!(paper.need == Need::Useful || ruled, "no rule asks for {}", paper.paper);
        }
    }
}
