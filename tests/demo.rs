//! The demo households: each is read and computed, and its key lines are what the head of its file says.
//!
//! The figures here were worked by hand from the law's rules, not copied from the program; the working stands in
//! each case file, where people read it, and briefly beside each figure here.

use gablework::case::{self, Case, TaxYear};
use gablework::credit::{self, Outcome, Place};
use gablework::finding::Sources;
use gablework::law::Law;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// A demo case, read and computed, with the codes of everything found.
struct Demo {
    name: &'static str,
    case: Case,
    outcome: Outcome,
    codes: Vec<&'static str>,
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo")
}

fn demo(name: &'static str) -> Demo {
    let path = folder().join(format!("{name}.case.yaml"));
    let bytes = std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let mut sources = Sources::default();
    let (case, mut findings) = case::read(name, &bytes, &mut sources);
    let said = |findings: &[gablework::finding::Finding], sources: &Sources| -> String {
        findings.iter().map(|finding| finding.render(sources)).collect::<Vec<_>>().join("\n\n")
    };
    let case = case.unwrap_or_else(|| panic!("{name} is not read:\n{}", said(&findings, &sources)));
    let outcome = credit::compute(&case, Law::built_in()).expect("the plan asks only for what is there");
    findings.extend(outcome.findings.iter().cloned());
    let errors: Vec<_> = findings
        .iter()
        .filter(|finding| finding.severity == gablework::finding::Severity::Error)
        .cloned()
        .collect();
    assert!(errors.is_empty(), "{name} has errors:\n{}", said(&errors, &sources));
    let codes = findings.iter().map(|finding| finding.code).collect();
    Demo { name, case, outcome, codes }
}

impl Demo {
    /// Asserts the amounts on places such as `2024:440` or `2025:230@battery`.
    fn has(&self, lines: &[(&str, &str)]) {
        for (place, amount) in lines {
            let at = Place::read(place, TaxYear(0)).unwrap_or_else(|| panic!("{place} is no place"));
            let figure = self.outcome.figures.money(&at);
            let figure = figure.unwrap_or_else(|| panic!("{}: no amount on {place}", self.name));
            assert_eq!(figure.plain(), *amount, "{}: {place}", self.name);
        }
    }

    /// Asserts that nothing was found but what the head of the file says is meant.
    fn finds(&self, codes: &[&str]) {
        assert_eq!(self.codes, codes, "{}: what was found", self.name);
    }
}

#[test]
fn a_solar_water_heater_is_used_up_over_three_years() {
    let demo = demo("solar-water-heater");
    demo.has(&[
        // 7,380.00 + 640.00 + 2,150.00 + 531.36 + 185.00; roof carpentry and removal do not count.
        ("2024:111@roof-collector", "10886.36"),
        // Utility subsidy 500.00 and maker's rebate 300.00; the State's tax credit leaves the cost alone.
        ("2024:210@roof-collector", "800.00"),
        ("2024:230@roof-collector", "10086.36"),
        // Rounded where it enters the form; 30% of 10,086 is 3,025.80.
        ("2024:402", "10086.00"),
        ("2024:411", "3026.00"),
        // 2,140 less 600 leaves 1,540; 3,026 less 1,540 goes on.
        ("2024:440", "1540.00"),
        ("2024:441", "1486.00"),
        // 1,310 less 200 leaves 1,110; 1,486 less 1,110 goes on.
        ("2025:430", "1486.00"),
        ("2025:440", "1110.00"),
        ("2025:441", "376.00"),
        // 1,820 is more than enough.
        ("2026:440", "376.00"),
        ("2026:441", "0.00"),
        ("2026:604@2024", "376.00"),
        // As filed and as computed agree.
        ("2024:909", "0.00"),
        ("2025:910", "0.00"),
        // The whole price 11,936.36 without the 150.00 of removal, less 800.00, less the credit of 3,026.
        ("2026:702", "10986.36"),
        ("2026:709", "7960.36"),
    ]);
    demo.finds(&["law-not-settled"]);
}

#[test]
fn worksheet_b_leaves_more_tax_for_the_clean_energy_credit() {
    let demo = demo("solar-and-battery");
    demo.has(&[
        // 70% and 30% of the permit of 420.
        ("2025:101@roof-array.10", "294.00"),
        ("2025:101@battery.4", "126.00"),
        // 17,400 + 2,350 + 1,480 + 4,600 + 650 - 500 + 294, less 1,000 of the subsidy.
        ("2025:230@roof-array", "25274.00"),
        // Of the backup panel 700 by the preparer's judgment.
        ("2025:102@battery.3", "700.00"),
        // 9,800 + 1,200 + 700 + 126, less 500 of the subsidy.
        ("2025:230@battery", "11326.00"),
        // 30% of 36,600.
        ("2025:411", "10980.00"),
        // 6,420 less 600 less 1,000 of Worksheet B, not the whole child credit of 4,400.
        ("2025:540", "4820.00"),
        ("2025:440", "4820.00"),
        ("2025:441", "6160.00"),
        // 5,900 less 600 less 1,000.
        ("2026:440", "4300.00"),
        ("2026:441", "1860.00"),
    ]);
    let answer = &demo.case.answers[0];
    assert_eq!(answer.question.value, "worksheet-b-unsaid");
    demo.finds(&["reduction-of-mixed-price", "law-not-settled"]);
}

#[test]
fn a_year_of_improvements_meets_the_limits() {
    let demo = demo("year-of-improvements");
    demo.has(&[
        // 30% of 1,800.
        ("2025:311", "540.00"),
        // 30% of 1,450 is 435, at most 250; 30% of 1,540 is 462; together at most 500.
        ("2025:317", "250.00"),
        ("2025:321", "1540.00"),
        ("2025:322", "462.00"),
        ("2025:323", "500.00"),
        // 65% of 4,800 over four windows, and the skylight.
        ("2025:231@street-windows.unit.1", "780.00"),
        ("2025:325@(i)", "1100.00"),
        ("2025:327", "780.00"),
        ("2025:328", "4220.00"),
        ("2025:329", "600.00"),
        ("2025:337", "600.00"),
        // 30% of 2,450 is 735, at most 600.
        ("2025:354", "600.00"),
        // 30% of 550 is 165, at most 150.
        ("2025:357", "150.00"),
        // 540 + 500 + 600 + 600 + 600 + 150, at most 1,200.
        ("2025:360", "2990.00"),
        ("2025:361", "1200.00"),
        // 7,300 + 2,250; 30% is 2,865, at most 2,000.
        ("2025:375", "9550.00"),
        ("2025:376", "2000.00"),
        ("2025:380", "3200.00"),
        // 7,860 less 500.
        ("2025:520", "7360.00"),
        ("2025:390", "3200.00"),
        ("2025:395", "0.00"),
    ]);
    demo.finds(&["law-not-settled"]);
}

#[test]
fn two_owners_share_the_limit_by_payments() {
    let first = demo("two-owners-first");
    first.has(&[
        ("2025:236@heat-pump", "14000.00"),
        // 2,000 x 9,000 / 14,000 = 1,285.71.
        ("2025:376", "1286.00"),
        ("2025:390", "1286.00"),
    ]);
    let second = demo("two-owners-second");
    second.has(&[
        ("2025:236@heat-pump", "14000.00"),
        // 2,000 x 5,000 / 14,000 = 714.29.
        ("2025:376", "714.00"),
        // The tax is 610.
        ("2025:390", "610.00"),
        ("2025:395", "104.00"),
    ]);
    first.finds(&["joint-occupants"]);
    second.finds(&["improvement-lost", "joint-occupants"]);
}

#[test]
fn a_new_house_counts_when_it_is_first_used() {
    let demo = demo("new-house");
    assert_eq!(demo.outcome.years, [TaxYear(2024), TaxYear(2025)], "nothing counts in 2023");
    demo.has(&[
        // 14,200 + 11,800 + 3,100 + 2,900 - 1,200; the ducts do not count, the State's grant leaves the cost alone.
        ("2024:230@ground-loop", "30800.00"),
        ("2024:202@ground-loop.incentive.2", "0.00"),
        // 70% of 11,450.
        ("2024:230@battery", "8015.00"),
        ("2024:230@water-heater", "0.00"),
        // 30% of 38,815 is 11,644.50.
        ("2024:411", "11645.00"),
        // 8,420 less 135.60, which enters as 136.
        ("2024:540", "8284.00"),
        ("2024:441", "3361.00"),
        ("2025:440", "3361.00"),
        ("2025:441", "0.00"),
    ]);
    demo.finds(&["new-home-improvement", "law-not-settled", "nonbusiness-measure", "nonbusiness-measure"]);
}

#[test]
fn panels_finished_in_january_earn_nothing() {
    let demo = demo("finished-in-january");
    demo.has(&[
        // 30% of 4,000, below 2,000: finished before the year was over.
        ("2025:390", "1200.00"),
        // 30% of 7,600; 4,300 less 1,200 leaves 3,100.
        ("2025:540", "3100.00"),
        ("2025:440", "2280.00"),
        ("2026:230@roof-array", "0.00"),
        ("2026:440", "0.00"),
        ("2026:441", "0.00"),
    ]);
    demo.finds(&["ended", "counts-in-another-year"]);
    assert_eq!(demo.outcome.answered[0].1.code, "days-straddle-year-end");
}

#[test]
fn a_filed_return_is_compared_with_what_the_law_gives() {
    let demo = demo("amend-2023");
    demo.has(&[
        // 30% of 17,500 against 30% of 14,100.
        ("2023:440", "5250.00"),
        ("2023:906", "4230.00"),
        ("2023:909", "1020.00"),
        // At most 250 for one door, against 480.
        ("2023:390", "250.00"),
        ("2023:908", "-230.00"),
        ("2023:910", "0.00"),
        // 6,100 less 250.
        ("2023:540", "5850.00"),
    ]);
    demo.finds(&["law-not-settled"]);
}

#[test]
fn a_balance_starts_the_chain() {
    let demo = demo("retired-couple");
    demo.has(&[
        ("2026:430", "2480.00"),
        ("2026:440", "1150.00"),
        ("2026:441", "1330.00"),
        ("2026:601@2025", "2480.00"),
        // What if: the 900 planned for each of two years, against 1,330.
        ("2026:655@2027", "900.00"),
        ("2026:656@2027", "430.00"),
        ("2026:655@2028", "430.00"),
        ("2026:656@2028", "0.00"),
        ("2026:661", "1330.00"),
        ("2026:662", "13300.00"), // 1,330 / 10%
        ("2026:657@2027", "430.00"),
        ("2026:658@2027", "4300.00"),
    ]);
    demo.finds(&["before-checkpoint"]);
    // What was used on the panels of 2021 before the balance is not in the case, so no net cost may be told.
    let facts = |demo: &Demo| {
        let (law, day) = (Law::built_in(), jiff::civil::date(2026, 11, 3));
        credit::facts::facts(&demo.case, law, &demo.outcome, TaxYear(2026), false, day)
    };
    let told = |demo: &Demo| ["precedes_balance", "has_net_cost"].map(|name| facts(demo).holds(name));
    assert_eq!(told(&demo), [Some(true), Some(false)]);
    assert_eq!(told(&self::demo("solar-water-heater")), [Some(false), Some(true)]);
}

#[test]
fn a_member_of_a_condominium_has_a_share() {
    let demo = demo("condominium");
    demo.has(&[
        // 1.25% of 412,640.50 is 5,158.00625.
        ("2025:222@common-roof", "5158.01"),
        // What the household bears is its part, not the association's cost: 5,158.01 less the credit of 1,547.40.
        ("2025:113@common-roof", "5158.01"),
        ("2025:801", "5158.01"),
        ("2025:811", "3610.61"),
        // 30% of it is 1,547.403; this return keeps cents.
        ("2025:411", "1547.40"),
        // 2,988.40 less 88.15.
        ("2025:540", "2900.25"),
        ("2025:440", "1547.40"),
    ]);
    demo.finds(&[]);
}

/// The names of the demo cases, in the folder's order.
fn names() -> BTreeSet<String> {
    let entries = std::fs::read_dir(folder()).expect("the folder of demo cases");
    let names = entries.filter_map(|entry| {
        let name = entry.expect("an entry").file_name().to_string_lossy().into_owned();
        name.strip_suffix(".case.yaml").map(ToString::to_string)
    });
    names.collect()
}

#[test]
fn every_demo_case_is_tested_here_and_has_a_reference_of_its_own() {
    let here = include_str!("demo.rs");
    let mut references = BTreeSet::new();
    for name in names() {
        assert!(here.contains(&format!("demo(\"{name}\")")), "{name} is not tested");
        let name: &'static str = name.leak();
        let reference = demo(name).case.client.reference.value.to_lowercase();
        assert!(references.insert(reference), "{name}: the reference stands in another case too");
    }
}

#[test]
fn every_paper_named_lies_there_and_every_paper_that_lies_there_is_named() {
    let mut named = BTreeSet::new();
    for name in names() {
        for paper in &demo(name.leak()).case.evidence {
            if let Some(file) = &paper.file {
                assert!(folder().join(&file.value).is_file(), "{} is not there", file.value);
                named.insert(file.value.clone());
            }
        }
    }
    let papers = std::fs::read_dir(folder().join("papers")).expect("the papers");
    let there: BTreeSet<String> = papers
        .map(|entry| format!("papers/{}", entry.expect("an entry").file_name().to_string_lossy()))
        .collect();
    assert_eq!(named, there);
}
