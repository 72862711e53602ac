//! The cases that are made for timing are what they are said to be: varied, repeatable, whole, and broken where asked.

#[path = "bench/households.rs"]
pub mod households;

use crate::support::household::said;
use gablework::assemble;
use gablework::finding::{Severity, Sources};
use gablework::law::Law;
use households::{Breakage, Lot, household};

const LOT: Lot = Lot { count: 10_000, seed: 1, broken: 10 };

fn computed(name: &str, bytes: &[u8]) -> assemble::Computed {
    assemble::compute(name, bytes, Law::built_in(), Sources::default()).expect("no mistake of the program")
}

/// Every case can be computed and its packet sealed: no errors, and no question that blocks.
#[test]
fn whole_cases_compute() {
    let mut wrong = Vec::new();
    let mut differ = 0;
    for number in (0..LOT.count).step_by(29) {
        let text = household(LOT.seed, number);
        let computed = computed("made.case.yaml", text.as_bytes());
        let stops =
            computed.outcome.findings.iter().filter(|one| one.blocking || one.severity == Severity::Error);
        let stops: Vec<_> = stops.cloned().collect();
        if !stops.is_empty() {
            wrong.push(format!("{number}:\n{}", said(&stops)));
        }
        let claims = |code: &str| code.starts_with("claimed-too");
        differ += usize::from(computed.outcome.findings.iter().any(|one| claims(one.code)));
    }
    assert!(wrong.is_empty(), "{} cases\n{}", wrong.len(), wrong[..wrong.len().min(8)].join("\n"));
    // What the returns claim agrees with the program in most cases; else every client would have a question open.
    assert!((5..60).contains(&differ), "{differ} of 345 claim something else than is computed");
}

#[test]
fn broken_cases_are_broken_each_in_its_way() {
    for breakage in Breakage::ALL {
        for number in [3, 40, 77, 512, 901, 4_444] {
            let bytes = breakage.of(&household(LOT.seed, number));
            let computed = computed("made.case.yaml", &bytes);
            assert!(computed.has_errors(), "{breakage:?} of {number}:\n{}", said(&computed.outcome.findings));
        }
    }
    let broken: Vec<_> = (0..LOT.count).filter_map(|number| LOT.breakage(number)).collect();
    assert_eq!(broken.len(), 100);
    assert!(Breakage::ALL.iter().all(|one| broken.contains(one)));
}

#[test]
fn the_same_seed_makes_the_same_cases_and_another_seed_others() {
    for number in [0, 1, 17, 9_999] {
        assert_eq!(household(1, number), household(1, number));
        assert_ne!(household(1, number), household(2, number));
    }
    // A case does not change with how many are made or which are broken.
    let few = Lot { count: 20, broken: 0, ..LOT };
    assert_eq!(few.case(7), LOT.case(7));
}

#[test]
fn a_lot_is_as_varied_as_the_list_of_a_firm() {
    let texts: Vec<String> = (0..3_000).map(|number| household(LOT.seed, number)).collect();
    let share = |words: &str| texts.iter().filter(|text| text.contains(words)).count();
    for words in [
        "solar_electric",
        "battery_storage",
        "geothermal_heat_pump",
        "small_wind",
        "solar_water_heating",
        "heat_pump_water",
        "window_or_skylight",
        "home_energy_audit",
        "paid_by_others",
        "other_residence",
        "association:",
        "carried_in:",
        "shared:",
        "utility_subsidy",
        "state_tax_credit",
        "price_rebate",
        "net_metering",
        "discount",
        "on_file: false",
        "language: es",
        "delivery: portal",
        "delivery: none",
        "reminder_basis: preparation",
        "accounting_services",
        "until: 2024-12-31",
        "stage: draft",
        "stage: projected",
        "stage: filed",
        "stage: amended",
        "claimed:",
        "ñ",
        "zip: 0",
        "1040-SR",
        "head_of_household",
        "worksheet_b",
        "planning:",
        "  2016:",
        "  2026:",
    ] {
        assert!(share(words) >= 10, "`{words}` stands in {} of 3,000 cases", share(words));
    }
    for words in ["reminder_basis", "mail_to"] {
        assert!(share(words) < 2_950, "`{words}` never lacks");
    }
}

#[test]
fn a_lot_is_written_with_its_firm() {
    let folder = std::env::temp_dir().join(format!("gablework-lot-{}", std::process::id()));
    let lot = Lot { count: 502, ..LOT };
    lot.write(&folder).expect("a folder for the cases");
    let found = gablework::folder::cases::case_files(&folder).expect("the folder reads");
    assert_eq!(found.cases.len(), 502);
    assert_eq!(std::fs::read(folder.join(Lot::place(501))).expect("the last case"), LOT.case(501));
    let firm = std::fs::read(folder.join("firm.yaml")).expect("the firm");
    let (firm, findings) = gablework::case::firm::read("firm.yaml", &firm, &mut Sources::default());
    assert!(firm.is_some() && findings.is_empty(), "{}", said(&findings));
    std::fs::remove_dir_all(&folder).expect("it is taken away");
}
