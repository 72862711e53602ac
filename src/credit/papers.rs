//! The papers a household keeps for each item, and until when.
//!
//! Comes in: a case, the law, the figures, and the list of papers under `layouts`. Goes out: for each item the
//! papers with what is on file, and the day up to which they are kept with its reason. No figure depends on it.

use super::line::{self, Place};
use super::{Outcome, qualify};
use crate::case::{
    Case, EvidenceKind, FinancedAs, HeldAs, Item, Key, Kind, PartOf, SharedRow, TaxReturn, TaxYear,
};
use crate::law::{Credit, Law, Standing};
use crate::written::{Text, Unique, Written, read, written_words};
use jiff::ToSpan;
use jiff::civil::{Date, Weekday, date};
use serde::Deserialize;
use std::sync::OnceLock;

/// The papers of one item.
#[derive(Clone, Debug, PartialEq)]
pub struct ItemPapers {
    /// The item.
    pub item: Key,
    /// The tax year of its credit.
    pub year: TaxYear,
    /// Its papers.
    pub papers: Vec<Paper>,
    /// Until when they are kept.
    pub keep: Keep,
}

/// One paper.
#[derive(Clone, Debug, PartialEq)]
pub struct Paper {
    /// What it is, in plain words.
    pub what: String,
    /// It is asked for every item, not for this kind or for something about this item.
    pub common: bool,
    /// The evidence that shows it is on file; empty where none does.
    pub on_file: Vec<Key>,
    /// The documents that ask for it.
    pub source: Vec<String>,
    /// What that rests on.
    pub standing: Standing,
}

/// Until when the papers of an item are kept; always "at least", and papers that show what the home cost stay
/// longer (Pub. 552 (2008); Pub. 530 (2012)).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Keep {
    /// No end yet: part of the credit is carried forward out of the year given.
    CreditLeft(TaxYear),
    /// No day yet: the return of the year given decides, and the case does not say when it was filed.
    NotFiled {
        /// The year of that return.
        last_used: TaxYear,
        /// Three years after its due date: the day cannot be earlier.
        not_before: Date,
    },
    /// Up to a day: three years after the return of the last year that used the credit was filed or due,
    /// whichever came later, and not before two years after the last payment of its tax.
    Until {
        /// The last day.
        day: Date,
        /// That year.
        last_used: TaxYear,
        /// The payment decides, not the filing.
        after_payment: bool,
    },
    /// No credit came of it; its papers count for the cost of the home only.
    BasisOnly,
}

/// Returns the papers of every item whose tax year is the year given or an earlier one, in case order.
pub fn papers(case: &Case, law: &Law, outcome: &Outcome, year: TaxYear) -> Vec<ItemPapers> {
    let of_item = |item: &Item| {
        let home = case.home(&item.home.value)?;
        let its_year = qualify::timing(item, home).year().filter(|its_year| *its_year <= year)?;
        Some(ItemPapers {
            item: item.key.value.clone(),
            year: its_year,
            papers: of_item(case, law, item, its_year),
            keep: keep(case, law, outcome, item, its_year, year),
        })
    };
    case.property.iter().filter_map(of_item).collect()
}

/// Returns the ordinary due date of a year's return: what the case says; else April 15 of the next year, moved
/// past Saturday, Sunday and the holiday of the District of Columbia (26 U.S.C. 7503); or the day a notice set.
pub fn due_date(case: &Case, year: TaxYear) -> Date {
    if let Some(due) = case.tax_return(year).and_then(|one| one.due.as_ref()) {
        return due.value;
    }
    if let Some(day) = list().postponed_due_dates.days.0.get(&year) {
        return day.0.0;
    }
    let mut day = date(year.0 + 1, 4, 15);
    while matches!(day.weekday(), Weekday::Saturday | Weekday::Sunday) || day == emancipation_day(year.0 + 1)
    {
        day = day.tomorrow().unwrap_or(day);
    }
    day
}

/// Returns the day on which Emancipation Day is observed in the District of Columbia: April 16, or the working day
/// next to it when it falls on a weekend. From memory.
fn emancipation_day(year: i16) -> Date {
    let day = date(year, 4, 16);
    match day.weekday() {
        Weekday::Saturday => date(year, 4, 15),
        Weekday::Sunday => date(year, 4, 17),
        _ => day,
    }
}

/// Decides until when an item's credit papers are kept.
///
/// The law orders no origin year before another, so the papers of a clean energy credit stay until the whole
/// unbroken carryforward after its year is used, not only the part our bookkeeping gives to that year.
fn keep(case: &Case, law: &Law, outcome: &Outcome, item: &Item, its_year: TaxYear, year: TaxYear) -> Keep {
    let qualified = outcome.figures.money(&Place::of_item(its_year, line::ITEM_QUALIFIED, &item.key.value));
    let checkpoint = |after: TaxYear| {
        let later = case.carried_in.iter().filter(|one| one.year.value > after && one.year.value <= year);
        later.min_by_key(|one| one.year.value)
    };
    // Property from before a balance brought in has no figures where the program has no law for its year.
    if qualified.map_or(checkpoint(its_year).is_none(), |amount| amount.is_zero()) {
        return Keep::BasisOnly;
    }
    let kind = |law: &crate::law::YearLaw| law.kinds.get(&item.kind.value).map(|kind| kind.credit);
    let credit = law.year(its_year).and_then(kind).or_else(|| law.all().find_map(kind));
    let mut last = its_year;
    while credit == Some(Credit::Clean) {
        match outcome.figures.money(&Place::of_return(last, line::CARRIED_OUT)) {
            Some(out) if out.is_zero() => break,
            Some(_) if last == year => return Keep::CreditLeft(last),
            Some(_) => last = last.after(),
            None => match checkpoint(last) {
                Some(balance) if !balance.amount.value.is_zero() => last = balance.year.value,
                _ => break,
            },
        }
    }
    let due = due_date(case, last);
    match case.tax_return(last).and_then(|tax_return| until(tax_return, due)) {
        Some((day, after_payment)) => Keep::Until { day, last_used: last, after_payment },
        None => Keep::NotFiled { last_used: last, not_before: years_after(due, 3) },
    }
}

/// Returns until when the papers of a filed return are kept, and whether a payment decides: three years after
/// filing or due date, whichever is later, and two years after the last payment (26 U.S.C. 6501(a), (b)(1),
/// 6511(a)).
pub fn until(tax_return: &TaxReturn, due: Date) -> Option<(Date, bool)> {
    let filed = years_after(tax_return.filed.as_ref()?.value.max(due), 3);
    let paid = tax_return.tax_paid.iter().map(|paid| years_after(paid.on.value, 2)).max();
    Some(paid.filter(|paid| *paid > filed).map_or((filed, false), |paid| (paid, true)))
}

/// Returns the same day some years later, or the day itself at the end of time.
fn years_after(day: Date, years: i64) -> Date {
    day.checked_add(years.years()).unwrap_or(day)
}

/// Returns the papers of an item, each with the evidence that shows it is on file.
fn of_item(case: &Case, law: &Law, item: &Item, its_year: TaxYear) -> Vec<Paper> {
    let list = list();
    let audit = item.kind.value == Kind::HomeEnergyAudit;
    let code = law
        .year(its_year)
        .and_then(|law| law.kinds.get(&item.kind.value))
        .is_some_and(|kind| kind.maker_code);
    let incentives = !item.incentives.is_empty()
        || case.shared.iter().any(|shared| {
            matches!(shared.row, SharedRow::Incentive(_))
                && shared.over.iter().any(|(key, _)| key.value == item.key.value)
        });
    let member = item.association.is_some()
        || case
            .home(&item.home.value)
            .is_some_and(|home| matches!(home.held_as.value, HeldAs::CoopShareholder | HeldAs::CondoMember));
    let loan = item
        .financed
        .as_ref()
        .is_some_and(|one| matches!(one.how.value, FinancedAs::Loan | FinancedAs::SubsidizedEnergyFinancing));
    let none = Vec::new();
    let sections: [(&[PaperFile], bool, bool); 8] = [
        (&list.every_item, true, true),
        (&list.maker_statement, true, !audit),
        (list.kinds.0.get(&item.kind.value).unwrap_or(&none), false, true),
        (&list.maker_code, false, code),
        (&list.incentive, false, incentives),
        (&list.association, false, member),
        (&list.new_home, false, item.part_of.value == PartOf::NewHome),
        (&list.loan, false, loan),
    ];
    let asked = sections.into_iter().filter(|(_, _, holds)| *holds);
    asked
        .flat_map(|(papers, common, _)| papers.iter().map(move |paper| (paper, common)))
        .map(|(paper, common)| Paper {
            what: paper.paper.0.clone(),
            common,
            on_file: on_file(case, item, |kind| paper.answered_by.iter().any(|one| one.0 == kind)),
            source: paper.source.iter().map(|one| one.0.clone()).collect(),
            standing: paper.standing.0,
        })
        .collect()
}

/// Says whether evidence of one of some kinds is on file for an item.
pub(super) fn proves(case: &Case, item: &Item, kinds: &[EvidenceKind]) -> bool {
    !on_file(case, item, |kind| kinds.contains(&kind)).is_empty()
}

/// Returns the evidence on file that answers for a paper of an item.
///
/// Evidence that costs or incentives point at belongs to their items. Other evidence names no item: proof of the
/// home and filed returns serve them all; the rest counts only where the case has a single item, because a
/// certificate of one product says nothing of another.
fn on_file(case: &Case, item: &Item, fits: impl Fn(EvidenceKind) -> bool) -> Vec<Key> {
    let serves = |key: &Key, kind: EvidenceKind| {
        let holders = holders(case, key);
        if holders.is_empty() {
            matches!(kind, EvidenceKind::ProofOfHome | EvidenceKind::FiledReturn) || case.property.len() == 1
        } else {
            holders.contains(&&item.key.value)
        }
    };
    case.evidence
        .iter()
        .filter(|one| one.on_file.value && fits(one.kind.value) && serves(&one.key.value, one.kind.value))
        .map(|one| one.key.value.clone())
        .collect()
}

/// Returns the items whose costs or incentives point at a paper.
fn holders<'c>(case: &'c Case, key: &Key) -> Vec<&'c Key> {
    let points = |evidence: Option<&crate::finding::At<Key>>| evidence.is_some_and(|one| one.value == *key);
    let mut found = Vec::new();
    for item in &case.property {
        let own = item.costs.iter().any(|cost| points(cost.evidence.as_ref()))
            || item.incentives.iter().any(|one| points(one.evidence.as_ref()));
        let shared = case.shared.iter().any(|shared| {
            let evidence = match &shared.row {
                SharedRow::Cost(cost) => cost.evidence.as_ref(),
                SharedRow::Incentive(incentive) => incentive.evidence.as_ref(),
            };
            points(evidence) && shared.over.iter().any(|(over, _)| over.value == item.key.value)
        });
        if own || shared {
            found.push(&item.key.value);
        }
    }
    found
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ListFile {
    every_item: Vec<PaperFile>,
    maker_statement: Vec<PaperFile>,
    kinds: Unique<Kind, Vec<PaperFile>>,
    maker_code: Vec<PaperFile>,
    incentive: Vec<PaperFile>,
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
    source: Vec<Text<String>>,
    standing: Text<Standing>,
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

written_words!(EvidenceKind);

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Day(Date);

impl Written for Day {
    fn from_text(text: &str) -> Result<Day, String> {
        text.parse().map(Day).map_err(|_| "a day is written like 2020-07-15".to_string())
    }
}

const FILE: (&str, &str) = ("papers.yaml", include_str!("../../layouts/papers.yaml"));

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
            assert!(list.kinds.0.contains_key(kind), "{kind}");
        }
        let all =
            list.kinds.0.values().flatten().chain(&list.every_item).chain(&list.maker_code).chain(&list.loan);
        for paper in all {
            assert!(!paper.source.is_empty(), "{}", paper.paper.0);
            assert!(!paper.paper.0.ends_with('.') && !paper.paper.0.contains("shall"), "{}", paper.paper.0);
        }
    }

    /// Due dates as remembered (2018 to 2025 returns); from memory.
    #[test]
    fn due_dates_move_to_the_next_business_day() {
        let case = case("property: {}\nreturns:\n  2024: {filing_status: single, tax_before_credits: 0}\n");
        for (year, day) in [
            (2018, date(2019, 4, 15)),
            (2019, date(2020, 7, 15)),
            (2020, date(2021, 5, 17)),
            (2021, date(2022, 4, 18)),
            (2022, date(2023, 4, 18)),
            (2023, date(2024, 4, 15)),
            (2024, date(2025, 4, 15)),
            (2025, date(2026, 4, 15)),
            (2026, date(2027, 4, 15)),
            (2027, date(2028, 4, 18)),
        ] {
            assert_eq!(due_date(&case, TaxYear(year)), day, "{year}");
        }
    }

    /// The example of our rule: installed 2023, last used on the 2026 return, filed before its due date; then two
    /// more ways the end can come, and the ways in which there is none yet.
    #[test]
    fn papers_stay_until_the_last_return_that_used_the_credit_is_out_of_time() {
        let start = "property:\n  array:\n    kind: solar_electric\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2023-08-01\n    costs: [{item: array, as: equipment, amount: 10000}]\n";
        let filed = |year: i16, tax: u32, filed: &str| {
            format!(
                "  {year}: {{stage: filed, filing_status: single, filed: {filed}, tax_before_credits: {tax}}}\n"
            )
        };
        let returns = |last: &str| {
            format!(
                "{start}returns:\n{}{}{}{last}",
                filed(2023, 1000, "2024-04-10"),
                filed(2024, 0, "2025-04-20"),
                filed(2025, 500, "2026-04-01")
            )
        };
        let until = |day: Date, last_used: i16, after_payment: bool| Keep::Until {
            day,
            last_used: TaxYear(last_used),
            after_payment,
        };
        let full = returns(&filed(2026, 6000, "2027-04-10"));
        assert_eq!(kept(&full, 2026), until(date(2030, 4, 15), 2026, false));
        assert_eq!(kept(&full, 2025), Keep::CreditLeft(TaxYear(2025)));
        let late = returns(&filed(2026, 6000, "2027-09-02"));
        assert_eq!(kept(&late, 2026), until(date(2030, 9, 2), 2026, false));
        let paid = returns(
            "  2026: {stage: filed, filing_status: single, filed: 2027-04-10, tax_before_credits: 6000, tax_paid: [{on: 2029-01-10, amount: 5}]}\n",
        );
        assert_eq!(kept(&paid, 2026), until(date(2031, 1, 10), 2026, true));
        let projected =
            returns("  2026: {stage: projected, filing_status: single, tax_before_credits: 6000}\n");
        assert_eq!(
            kept(&projected, 2026),
            Keep::NotFiled { last_used: TaxYear(2026), not_before: date(2030, 4, 15) }
        );
        let brought = format!(
            "{}returns:\n{}carried_in:\n  2025: {{amount: 400, shown_on: 2024 Form 5695 line 16}}\n",
            start.replace("2023-08-01", "2019-08-01"),
            filed(2025, 6000, "2026-04-01")
        );
        assert_eq!(
            kept(&brought, 2025),
            until(date(2029, 4, 15), 2025, false),
            "property from before the balance"
        );
        let rented = full
            .replace("installed: 2023-08-01", "installed: 2023-08-01\n    acquired: leased")
            .replacen("    acquired: bought\n", "", 1);
        assert_eq!(kept(&rented, 2023), Keep::BasisOnly);
    }

    #[test]
    fn evidence_counts_for_the_items_it_belongs_to() {
        let item = |key: &str, paper: &str| {
            format!(
                "  {key}:\n    kind: solar_electric\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2024-08-01\n    costs: [{{item: array, as: equipment, amount: 10000{paper}}}]\n"
            )
        };
        let rest = "returns:\n  2024: {stage: filed, filing_status: single, filed: 2025-04-10, tax_before_credits: 9000}\nevidence:\n  inv: {type: invoice, on_file: true}\n  cert: {type: certification, on_file: true}\n  deed: {type: proof_of_home, on_file: true}\n  order: {type: contract, on_file: false}\n";
        let on_file = |text: String, key: &str| {
            let (case, outcome) = computed(&text);
            let all = papers(&case, Law::built_in(), &outcome, TaxYear(2024));
            let one = all.into_iter().find(|one| one.item.as_str() == key).unwrap();
            let keys = one.papers.into_iter().flat_map(|paper| paper.on_file);
            let mut keys: Vec<String> = keys.map(|key| key.to_string()).collect();
            keys.sort();
            keys.dedup();
            keys
        };
        let one = format!("property:\n{}{rest}", item("a", ", evidence: inv"));
        assert_eq!(on_file(one, "a"), ["cert", "deed", "inv"]);
        let two = format!("property:\n{}{}{rest}", item("a", ", evidence: inv"), item("b", ""));
        assert_eq!(
            on_file(two.clone(), "a"),
            ["deed", "inv"],
            "the certificate may belong to the other item"
        );
        assert_eq!(on_file(two, "b"), ["deed"]);
    }

    fn kept(rest: &str, year: i16) -> Keep {
        let (case, outcome) = computed(rest);
        papers(&case, Law::built_in(), &outcome, TaxYear(year))[0].keep
    }

    fn computed(rest: &str) -> (Case, Outcome) {
        let case = case(rest);
        let outcome = crate::credit::compute(&case, Law::built_in()).unwrap();
        (case, outcome)
    }

    fn case(rest: &str) -> Case {
        let text = format!(
            "format: 1\nclient:\n  reference: HH-1\n  people: [{{name: A Person}}]\n  delivery: none\nhomes:\n  h:\n    address: {{street: 1 A St, city: X, state: VT, zip: 05099}}\n    use: main_home\n    held_as: owner\n{rest}"
        );
        let mut sources = crate::finding::Sources::default();
        let (case, findings) = crate::case::read("x.case.yaml", text.as_bytes(), &mut sources);
        let told: Vec<String> = findings.iter().map(|one| one.render(&sources)).collect();
        case.unwrap_or_else(|| panic!("{}", told.join("\n")))
    }
}
