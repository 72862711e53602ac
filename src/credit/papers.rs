//! The papers a household keeps for each item, and until when.
//!
//! Comes in: a case, the law, the figures, and the list of papers under `layouts`. Goes out: for each item the
//! papers with what is on file, and the day up to which they are kept with its reason. No figure depends on it.

mod list;
mod paper;

use paper::on_file;
pub use paper::{Need, Paper};

use crate::case::{Case, EvidenceKind, Item, Key, TaxReturn, TaxYear};
use crate::credit::evaluate::line::{self, Place};
use crate::credit::outcome::Outcome;
use crate::credit::plan::qualify;
use crate::law::Law;
use jiff::ToSpan;
use jiff::civil::{Date, Weekday, date};

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

impl ItemPapers {
    /// Returns the papers that a rule asks for and that are not on file.
    pub fn missing(&self) -> impl Iterator<Item = &Paper> {
        self.not_on_file(Need::Required)
    }

    /// Returns the papers of a need that are not on file.
    pub fn not_on_file(&self, need: Need) -> impl Iterator<Item = &Paper> {
        self.papers.iter().filter(move |paper| paper.on_file.is_empty() && paper.need == need)
    }
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

impl Keep {
    /// Returns the day up to which the papers are kept at least, where there is one.
    pub fn day(&self) -> Option<Date> {
        match self {
            Keep::NotFiled { not_before: day, .. } | Keep::Until { day, .. } => Some(*day),
            Keep::CreditLeft(_) | Keep::BasisOnly => None,
        }
    }

    /// Says why until then, in words that continue a sentence.
    pub fn because(&self) -> String {
        match self {
            Keep::CreditLeft(year) => format!(
                "part of the credit is carried forward out of {year}, and its origin can be looked at again while a return that uses it is open"
            ),
            Keep::NotFiled { last_used, .. } => format!(
                "three years after the {last_used} return, the last to use the credit, is due; if it is filed later, three years from then"
            ),
            Keep::Until { last_used, after_payment: false, .. } => format!(
                "three years after the {last_used} return, the last to use the credit, was filed or due, whichever came later"
            ),
            Keep::Until { last_used, after_payment: true, .. } => {
                format!(
                    "two years after the last payment of tax for {last_used}, the last year to use the credit"
                )
            }
            Keep::BasisOnly => "no credit came of it; the papers show what the home cost".to_string(),
        }
    }
}

/// Returns the papers of every item whose tax year is the year given or an earlier one, in case order.
pub fn papers(case: &Case, law: &Law, outcome: &Outcome, year: TaxYear) -> Vec<ItemPapers> {
    let of_item = |item: &Item| {
        let home = case.home(&item.home.value)?;
        let its_year = qualify::timing(item, home).year().filter(|its_year| *its_year <= year)?;
        let keep = keep(case, law, outcome, item, its_year, year);
        // Where no credit came of it, only what the home cost is left to be shown.
        let wanted = |paper: &Paper| keep != Keep::BasisOnly || paper.with_home;
        let mut papers: Vec<Paper> =
            list::of_item(case, law, item, home, its_year).into_iter().filter(wanted).collect();
        if keep == Keep::BasisOnly {
            // No credit is claimed that they would have to prove.
            papers.iter_mut().for_each(|paper| paper.need = Need::Useful);
        }
        Some(ItemPapers { item: item.key.value.clone(), year: its_year, papers, keep })
    };
    case.property.iter().filter_map(of_item).collect()
}

/// Returns until when all that belongs to a year is kept: as long as any item's papers, and as long as the year's own
/// return and those that use what it carries forward.
pub fn keep_all(case: &Case, law: &Law, outcome: &Outcome, year: TaxYear) -> Keep {
    let left = outcome.figures.money(&Place::of_return(year, line::CARRIED_OUT));
    let own = match left {
        Some(left) if !left.is_zero() => Keep::CreditLeft(year),
        _ => {
            let due = due_date(case, year);
            match case.tax_return(year).and_then(|tax_return| until(tax_return, due)) {
                Some((day, after_payment)) => Keep::Until { day, last_used: year, after_payment },
                None => Keep::NotFiled { last_used: year, not_before: years_after(due, 3) },
            }
        }
    };
    let longer = |one: Keep, other: Keep| match (one, other) {
        (Keep::CreditLeft(_), _) | (_, Keep::BasisOnly) => one,
        (_, Keep::CreditLeft(_)) | (Keep::BasisOnly, _) => other,
        _ if other.day() > one.day() => other,
        _ => one,
    };
    papers(case, law, outcome, year).into_iter().map(|one| one.keep).fold(own, longer)
}

/// Says whether a paper that a rule asks for is not on file. A case that lists no papers does not say, so nothing is
/// known to be missing.
pub fn some_missing(case: &Case, law: &Law, outcome: &Outcome, year: TaxYear) -> bool {
    !case.evidence.is_empty()
        && papers(case, law, outcome, year).iter().any(|one| one.missing().next().is_some())
}

/// Returns the ordinary due date of a year's return: what the case says; else April 15 of the next year, moved
/// past Saturday, Sunday and the holiday of the District of Columbia (26 U.S.C. 7503); or the day a notice set.
pub fn due_date(case: &Case, year: TaxYear) -> Date {
    if let Some(due) = case.tax_return(year).and_then(|one| one.due.as_ref()) {
        return due.value;
    }
    if let Some(day) = list::postponed_due_date(year) {
        return day;
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
    let goes_on = |law: &crate::law::YearLaw| {
        law.kinds.get(&item.kind.value).map(|kind| law.carries_forward(kind.credit))
    };
    let goes_on = law.year(its_year).and_then(goes_on).or_else(|| law.all().find_map(goes_on));
    let (mut last, mut left_after) = (its_year, None);
    while goes_on == Some(true) {
        match outcome.figures.money(&Place::of_return(last, line::CARRIED_OUT)) {
            Some(out) if out.is_zero() => break,
            Some(_) if last == year => return Keep::CreditLeft(last),
            Some(_) => (last, left_after) = (last.after(), Some(last)),
            None => match (checkpoint(last), left_after) {
                (Some(balance), _) if !balance.amount.value.is_zero() => last = balance.year.value,
                // The return that would use the balance is not in the case: nothing says that it is used up.
                (None, Some(before)) => return Keep::CreditLeft(before),
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

/// Says whether evidence of one of some kinds is on file for an item.
pub(in crate::credit) fn proves(case: &Case, item: &Item, kinds: &[EvidenceKind]) -> bool {
    !on_file(case, item, |kind| kinds.contains(&kind)).is_empty()
}

#[cfg(test)]
mod tests {
    use super::*;

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
        // Without a return of 2026 nobody knows whether the balance is used in it.
        assert_eq!(kept(&returns(""), 2026), Keep::CreditLeft(TaxYear(2025)));
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

    /// A certificate that names its item answers for that one, and what proves only the credit goes with it.
    #[test]
    fn what_is_missing_is_what_no_paper_answers_for() {
        let item = |key: &str, kind: &str, more: &str| {
            format!(
                "  {key}:\n    kind: {kind}\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2024-08-01\n    costs: [{{item: it, as: equipment, amount: 10000, evidence: inv}}]\n{more}"
            )
        };
        let text = format!(
            "property:\n{}{}returns:\n  2024: {{filing_status: single, tax_before_credits: 9000}}\nevidence:\n  inv: {{type: invoice, on_file: true}}\n  cert: {{type: certification, on_file: true, items: [b]}}\n",
            item("a", "geothermal_heat_pump", ""),
            item(
                "b",
                "battery_storage",
                "    capacity_kwh: 13.5\n    incentives: [{from: State Fund, as: state_grant, amount: 500}]\n"
            )
        );
        let (case, outcome) = computed(&text);
        let all = papers(&case, Law::built_in(), &outcome, TaxYear(2024));
        let missing = |n: usize| all[n].missing().map(|paper| paper.what.as_str()).collect::<Vec<_>>();
        assert_eq!(
            missing(0),
            [
                "proof that you paid",
                "the maker's statement that the product qualifies",
                "the ENERGY STAR listing with its date and the model",
            ]
        );
        assert_eq!(missing(1), ["proof that you paid"]);
        let useful = all[1].not_on_file(Need::Useful).map(|paper| paper.what.as_str());
        assert_eq!(
            useful.collect::<Vec<_>>(),
            [
                "the contract or order",
                "a record of the day the work was finished",
                "proof that you lived in the home",
                "the State's award letter with program, date and amount",
                "the Form 1099 for that payment, or a note that none came",
            ]
        );
        let with_home =
            all[1].papers.iter().filter(|paper| !paper.with_home).map(|paper| paper.what.as_str());
        assert_eq!(
            with_home.collect::<Vec<_>>(),
            [
                "a record of the day the work was finished",
                "proof that you lived in the home",
                "the maker's statement that the product qualifies",
                "the data sheet or label with the capacity in kilowatt-hours",
            ]
        );
        assert!(some_missing(&case, Law::built_in(), &outcome, TaxYear(2024)));
        let silent = text.split("evidence:\n").next().unwrap().replace(", evidence: inv", "");
        let (case, outcome) = computed(&silent);
        assert!(!some_missing(&case, Law::built_in(), &outcome, TaxYear(2024)), "nothing is said of papers");
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
