//! Whose the unused clean energy credit is once someone of the return has died.
//!
//! Comes in: a case, its figures, and the date of the papers. Goes out: whether it is open whose a balance is, and
//! whether a return is the last one of its client. The section has no rule of its own; credits belong to the person who
//! earned them, so the part of someone who died ends with the return for the year of death, and nothing passes to an
//! estate (by analogy: Vichich v. Commissioner, 146 T.C. 186 (2016), on another credit; Rev. Rul. 54-207, on losses).

use super::season;
use crate::case::{Case, Person, TaxYear};
use crate::credit::outcome::Outcome;
use jiff::civil::Date;

/// Says whether a balance that enters a year was left by a return of or before the year of a death that had happened by
/// a date, and the case does not say which part of it is the survivor's.
pub fn leaves_share_open(case: &Case, outcome: &Outcome, into: TaxYear, by: Date) -> bool {
    let open = |(person, died): (&Person, TaxYear)| {
        // The first balance after the death is the one that is divided; what follows from it is the survivor's.
        let first = (died.0 + 1..=into.0)
            .map(TaxYear)
            .find(|year| season::entering(case, outcome, *year).is_some_and(|one| !one.amount.is_zero()));
        let Some(first) = first else { return false };
        let given = case.carried_in(first);
        let whose = given.and_then(|one| one.belongs_to.as_ref());
        let divided = whose.is_some_and(|whose| whose.value != person.name.value)
            || given.is_some_and(|one| one.instead_of_computed.is_some());
        !divided
    };
    season::entering(case, outcome, into).is_some() && deaths(case, by).any(open)
}

/// Says whether nobody of the client's people is living on a date, and none of them lived beyond a year: its return is
/// the last one.
pub fn is_last_return(case: &Case, year: TaxYear, by: Date) -> bool {
    let people = case.client.people.len();
    people > 0 && deaths(case, by).filter(|(_, died)| *died <= year).count() == people
}

/// The people who have died by a date, each with the year of death.
fn deaths(case: &Case, by: Date) -> impl Iterator<Item = (&Person, TaxYear)> {
    case.client.people.iter().filter_map(move |person| {
        let day = person.deceased.as_ref()?.value;
        (day <= by).then(|| (person, TaxYear::of(day)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case;
    use crate::credit;
    use crate::finding::Sources;
    use crate::law::Law;

    /// 2024: 3,000 earned, 1,000 used, 2,000 left; one of the two died on the day given.
    fn asked(died: &str, rest: &str) -> [bool; 4] {
        let text = format!(
            "format: 1\nclient:\n  reference: HH-0151\n  people: [{{name: Nell Harrow}}, {{name: Otis Harrow, deceased: {died}}}]\n  delivery: none\nhomes:\n  h:\n    address: {{street: 4 Elm Row, city: Marlow, state: OR, zip: 97099}}\n    use: main_home\n    held_as: owner\nproperty:\n  a:\n    kind: solar_electric\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2024-08-01\n    costs: [{{item: array, as: equipment, amount: 10000}}]\nreturns:\n  2024: {{filing_status: married_filing_jointly, tax_before_credits: 1000}}\n  2025: {{filing_status: single, tax_before_credits: 100}}\n{rest}"
        );
        let (case, findings) = case::read("death.case.yaml", text.as_bytes(), &mut Sources::default());
        let case = case.unwrap_or_else(|| panic!("{findings:?}"));
        let outcome = credit::compute(&case, Law::built_in()).expect("the figures are made");
        let by = "2026-03-01".parse().unwrap();
        [2024, 2025, 2026, 2027].map(|year| leaves_share_open(&case, &outcome, TaxYear(year), by))
    }

    #[test]
    fn a_balance_after_the_year_of_death_is_open_until_the_case_divides_it() {
        assert_eq!(asked("2024-11-05", ""), [false, true, true, false]);
        assert_eq!(
            asked("2025-11-05", ""),
            [false, false, true, false],
            "the year of death can use all of it"
        );
        assert_eq!(asked("2023-11-05", ""), [false, true, true, false]);
        assert_eq!(asked("2026-04-05", ""), [false; 4], "the papers are dated before the death");
        let whose = |name: &str| {
            format!(
                "carried_in:\n  2025: {{amount: 1500, belongs_to: {name}, instead_of_computed: by who paid}}\n"
            )
        };
        assert_eq!(asked("2024-11-05", &whose("Nell Harrow")), [false; 4]);
    }

    #[test]
    fn a_return_is_the_last_one_where_nobody_lived_beyond_its_year() {
        let (case, _) = case::read(
            "death.case.yaml",
            b"format: 1\nclient:\n  reference: HH-0152\n  people: [{name: Nell Harrow, deceased: 2025-02-01}, {name: Otis Harrow, deceased: 2024-11-05}]\n  delivery: none\n",
            &mut Sources::default(),
        );
        let case = case.unwrap();
        let at = |year, by: &str| is_last_return(&case, TaxYear(year), by.parse().unwrap());
        assert!(!at(2024, "2026-03-01"));
        assert!(at(2025, "2026-03-01"));
        assert!(!at(2025, "2025-01-20"));
    }
}
