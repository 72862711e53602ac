//! A law that is not there yet, given as data: files of law and an official line map, and no line of code.
//!
//! Invented, under `tests/next-law`: in 2028 section 25D is revived at 20 percent for property completed from April 1 on,
//! with a limit of $2,000 for batteries and a least efficiency of 22 percent for solar modules, and section 25C is gone;
//! 2027 is as 2026. Editions hold for a whole process, so each test here runs in one of its own.

use crate::support::scratch::Scratch;
use gablework::assemble::{self, Computed, Material, Wanted};
use gablework::case::{Kind, TaxYear};
use gablework::credit::line::{self, Line};
use gablework::credit::{Place, Subject, why::Why};
use gablework::editions;
use gablework::finding::Sources;
use gablework::law::{Credit, Law};
use gablework::letter::Kit;
use gablework::money::Money;
use gablework::verify::{self, Desk, Pages};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Set in the process in which the invented law holds.
const ALONE: &str = "GABLEWORK_NEXT_LAW";

/// Runs a test again in a process of its own, and says whether this is that process.
fn alone(name: &str) -> bool {
    if std::env::var_os(ALONE).is_some() {
        let file = |path: &str| fs::read_to_string(folder().join(path)).expect("a file of the invented law");
        let law = [file("law/2027.yaml"), file("law/2028.yaml")];
        let map = file("official/2028.yaml");
        editions::set_beside(&[(2027, &law[0]), (2028, &law[1])], &[(2028, &map)]).expect("nothing was read");
        return true;
    }
    let run = Command::new(std::env::current_exe().expect("this program"))
        .args(["--exact", name, "--nocapture"])
        .env(ALONE, "1")
        .output()
        .expect("it runs");
    let said = String::from_utf8_lossy(&run.stdout);
    assert!(run.status.success(), "{said}\n{}", String::from_utf8_lossy(&run.stderr));
    assert!(said.contains("1 passed"), "{said}");
    false
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/next-law")
}

fn case() -> Vec<u8> {
    fs::read(folder().join("2028.case.yaml")).expect("the case")
}

fn computed() -> Computed {
    let made = assemble::compute("2028.case.yaml", &case(), Law::built_in(), Sources::default());
    let made = made.expect("no fault of the program");
    let told: Vec<String> = made.outcome.findings.iter().map(|one| one.render(&made.sources)).collect();
    assert!(!made.has_errors(), "{}", told.join("\n"));
    made
}

/// The chain by hand. 25D of 2025: 30% of 20,000 is 6,000, the tax takes 1,000, 5,000 goes on. 2026: 1,500 of it. 2027: 800,
/// and 2,700 goes on to 2028. New in 2028: the battery, 20% of 15,000 is 3,000, at most 2,000; the roof, 20% of 10,000 is
/// 2,000. The carport's modules have 21 percent of efficiency where 22 are asked for, the shed's battery was complete on
/// March 31, and the door is of a section that is gone: nothing. Together 2,000 + 2,000 + 2,700 = 6,700. The tax of 4,000
/// less the credit for dependent care of 600 leaves 3,400: so much is allowed, and 3,300 goes on to 2029. The oldest is
/// used first: all 2,700 of 2025, and 700 of the 4,000 of 2028.
#[test]
fn a_law_given_as_data_is_computed() {
    if !alone("next_law::a_law_given_as_data_is_computed") {
        return;
    }
    let made = computed();
    let figures = &made.outcome.figures;
    let at = |year, line: Line| figures.money(&Place::of_return(TaxYear(year), line));
    for (year, line, dollars) in [
        (2025, line::CLEAN_ALLOWED, 1000),
        (2025, line::CARRIED_OUT, 5000),
        (2026, line::CARRIED_OUT, 3500),
        (2027, line::CLEAN_ALLOWED, 800),
        (2028, line::CARRIED_IN, 2700),
        (2028, line::BATTERY_COST, 15_000),
        (2028, line::BATTERY_RATE_TIMES_COST, 3000),
        (2028, line::BATTERY_CAP, 2000),
        (2028, line::BATTERY_CREDIT, 2000),
        (2028, line::CLEAN_COST, 10_000),
        (2028, line::CLEAN_RATE_TIMES_COST, 2000),
        (2028, line::CLEAN_BEFORE_LIMIT, 6700),
        (2028, line::CLEAN_TAX_LEFT, 3400),
        (2028, line::CLEAN_ALLOWED, 3400),
        (2028, line::CARRIED_OUT, 3300),
        (2028, line::TO_RETURN_CLEAN, 3400),
    ] {
        assert_eq!(at(year, line), Some(Money::dollars(dollars)), "{year} line {line}");
    }
    for (origin, used, left) in [(2025, 2700, 0), (2028, 700, 3300)] {
        let of = |line| Place { year: TaxYear(2028), line, of: Subject::Origin(TaxYear(origin)) };
        assert_eq!(figures.money(&of(line::ORIGIN_USED)), Some(Money::dollars(used)), "{origin}");
        assert_eq!(figures.money(&of(line::ORIGIN_LEFT)), Some(Money::dollars(left)), "{origin}");
    }
    // Section 25C has no line in a year that does not have it.
    assert_eq!(at(2028, line::IMPROVEMENT_ALLOWED), None);
    assert_eq!(at(2028, line::TO_RETURN_IMPROVEMENT), None);
    let of_item = |item: &str| {
        let about = format!("property.{item}");
        let found = made.outcome.findings.iter().filter(|one| one.about.as_deref() == Some(&about));
        found.map(|one| format!("{}: {}", one.code, one.message)).collect::<Vec<_>>().join("\n")
    };
    let said = of_item("carport-2028");
    assert!(
        said.contains("below-requirement") && said.contains("from an efficiency of 22 percent"),
        "{said}"
    );
    let said = of_item("shed-2028");
    assert!(
        said.contains("the revived clean energy credit is for work completed from 2028-04-01 on"),
        "{said}"
    );
    let said = of_item("door-2028");
    assert!(
        said.contains("kind-not-in-law") && said.contains("falls under neither credit in 2028"),
        "{said}"
    );
}

#[test]
fn a_law_given_as_data_is_explained() {
    if !alone("next_law::a_law_given_as_data_is_explained") {
        return;
    }
    let made = computed();
    let case = made.case.as_ref().expect("a case");
    let law = Law::built_in();
    let outcome = &made.outcome;
    let why = Why {
        figures: &outcome.figures,
        case,
        law,
        answered: &outcome.answered,
        sources: &made.sources,
        depth: None,
    };
    let place = Place::read("2028:4063", TaxYear(2028)).expect("a line of four digits");
    let told = why.line(&place).expect("a derivation").text();
    for words in [
        "battery storage technology: credit  =  2,000.00",
        "= smaller of 3,000.00 (4061) and 2,000.00 (4062)",
        "= 20% \u{d7} 15,000.00 (406), rounded",
        "law of 2028: 25D limit for battery storage  =  2,000.00  [ACT_2028 section 3; statute]",
        "ACT_2028: an invented act of 2028",
    ] {
        assert!(told.contains(words), "{words}: {told}");
    }
    let sheet = why.sheet(TaxYear(2028), 400).expect("sheet 400").text();
    assert!(sheet.contains("2028:4063") && sheet.contains("6,700.00"), "{sheet}");
    // The terms of the year in words.
    let year = law.year(TaxYear(2028)).expect("the invented law");
    assert!(!year.in_force(Credit::Improvement) && year.in_force(Credit::Clean));
    let text = gablework::law::show::text(law, year);
    for words in [
        "revived clean energy credit (25D): new property earns it; for work completed from 2028-04-01 on",
        "how 25D is figured: the address of the home served; cost of each kind",
        "25D limit for battery storage: $2,000",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
    let effect = gablework::law::effects::of_kind(Kind::BatteryStorage, year);
    assert_eq!(
        effect,
        "25D of 20%, up to $2,000; what the tax cannot take is carried forward; for a home the client lives in"
    );
}

/// The packet of 2028 is drawn, sealed and verified; what its worksheet says is read with poppler's `pdftotext`.
#[test]
fn a_law_given_as_data_is_drawn_and_sealed() {
    if !alone("next_law::a_law_given_as_data_is_drawn_and_sealed") {
        return;
    }
    let mut made = computed();
    let case_bytes = case();
    let mut sources = Sources::default();
    let kit = Kit::built_in(&mut sources);
    let wanted = Wanted {
        year: TaxYear(2028),
        dated: jiff::civil::date(2029, 2, 1),
        draft: false,
        case_file: "2028.case.yaml".to_string(),
        replaces: None,
        name: gablework::name::FileName::new("NL-2028-2028").expect("a name"),
        also: Vec::new(),
    };
    let material = Material {
        letters: &kit,
        layout: None,
        kit: &[],
        case_bytes: &case_bytes,
        firm: None,
        logo: None,
        papers: &[],
    };
    let packet = assemble::packet(&mut made, Law::built_in(), &wanted, &material).expect("a packet").packet;
    let scratch = Scratch::new("next-law");
    let place = scratch.join("NL-2028-2028");
    for (path, bytes) in &packet.files {
        let full = place.join(path);
        fs::create_dir_all(full.parent().expect("a folder")).expect("made");
        fs::write(full, bytes).expect("written");
    }
    let read =
        Command::new("pdftotext").arg("-layout").arg(place.join("data/worksheet.pdf")).arg("-").output();
    let read = read.expect("pdftotext of poppler-utils runs");
    assert!(read.status.success());
    let words = String::from_utf8(read.stdout).expect("text");
    let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
    for said in [
        "400 Section 25D: revived clean energy credit",
        "4061 Battery storage technology: rate times cost 20% \u{d7} 406, rounded [2 section 2] 3,000.00",
        "4062 Battery storage technology: limit $2,000 [2 section 3] 2,000.00",
        "4063 Battery storage technology: credit smaller of 4061 and 4062 2,000.00 Form 5695, line 2d",
        "411 Clean energy property: rate times cost 20% \u{d7} 410, rounded [2 section 2] 2,000.00",
        "431 Credit before the tax limit 4063 + 411 + 430 6,700.00",
        "440 Clean energy credit allowed for 2028 smaller of 431 and 435 3,400.00",
        "441 Credit carried forward to 2029 431 \u{2212} 440, not below 0 3,300.00",
        "Revived clean energy credit allowed for 2028 3,400",
    ] {
        assert!(words.contains(said), "{said}: {words}");
    }
    assert!(!words.contains("300 Section 25C"), "a credit that is gone has no sheet");
    let report = verify::verify(&place, &Desk::default());
    assert!(report.is_sealed() && report.figures_agree(), "{report:?}");
    assert!(matches!(report.pages, Pages::Identical { .. }), "{report:?}");
}
