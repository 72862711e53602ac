//! Questions about figures by somebody who does not know our line numbers, put to a case or to a sealed packet.

use crate::sealed::{demo, forge, one};
use crate::support::program::{err, out, root, run, text};
use crate::support::scratch::Scratch;
use gablework::assemble;
use gablework::finding::Sources;
use gablework::law::Law;
use gablework::packet::bag;
use gablework::sheet::official::{self, Direction, Entry};
use gablework::sheet::sought::OfficialQuestion;
use std::collections::BTreeSet;
use std::fs;

const CASE: &str = "demo/solar-and-battery.case.yaml";

fn why(arguments: &[&str]) -> (Option<i32>, String, String) {
    let output = run(root(), &[&["why"][..], arguments].concat());
    (output.status.code(), out(&output), err(&output))
}

#[test]
fn every_amount_of_every_demo_is_found_by_its_official_line() {
    let (mut found, mut cases) = (0, 0);
    for entry in fs::read_dir(root().join("demo")).expect("the demo") {
        let path = entry.expect("an entry").path();
        if !path.to_string_lossy().ends_with(".case.yaml") {
            continue;
        }
        cases += 1;
        let bytes = fs::read(&path).expect("a case");
        let name = text(&path).to_string();
        let computed =
            assemble::compute(&name, &bytes, Law::built_in(), Sources::default()).expect("computes");
        let outcome = &computed.outcome;
        for year in &outcome.years {
            let map = official::map(*year).expect("a map");
            for figure in outcome.figures.of_year(*year) {
                let references = map.references(figure.place.line.0, &figure.place.of, outcome.form(*year));
                for reference in references.into_iter().filter(|one| one.entry == Entry::Amount) {
                    // As the worksheet prints it, with the year in front.
                    let asked = format!("{year} {}", reference.to_string().replace(", within line", " line"));
                    let question =
                        OfficialQuestion::read(&asked).unwrap_or_else(|| panic!("{asked} is no question"));
                    let answer = question.find(*year, Some(map), outcome);
                    let answer = answer.unwrap_or_else(|why| panic!("{name}: {asked}: {why:?}"));
                    assert!(answer.iter().any(|(one, _)| one.place == figure.place), "{name}: {asked}");
                    if reference.direction == Direction::Enter {
                        let lines: BTreeSet<&str> = answer.iter().map(|(_, one)| one.line.as_str()).collect();
                        assert_eq!(lines.len(), 1, "{name}: {asked} is one line");
                    }
                    found += 1;
                }
            }
        }
    }
    assert!(cases >= 10 && found > 300, "{found} amounts of {cases} cases");
}

#[test]
fn an_official_line_leads_to_ours_and_what_is_near_is_named() {
    let (code, told, _) = why(&[CASE, "2025 Form 5695 line 16"]);
    assert_eq!(code, Some(0));
    assert!(
        told.starts_with("Form 5695 line 16\n\n2025:441  credit carried forward to 2026  =  6,160.00"),
        "{told}"
    );
    for same in ["form 5695 line 16", "5695, Line 16", "Form 5695 (2025) line 16", "2025 form 5695 line  16"]
    {
        assert_eq!(why(&[CASE, same, "--year", "2025"]).1, told, "{same}");
    }
    let (_, told, _) = why(&[CASE, "Schedule 3 line 5a", "--depth", "0"]);
    assert!(told.contains("2026:902  clean energy credit to the return  =  4,300.00"), "{told}");
    // Before a form has been printed its lines have words.
    let (_, told, _) = why(&[CASE, "2026 Form 5695, carryforward (line not yet confirmed)", "--depth", "0"]);
    assert!(told.contains("2026:430") && !told.contains("2026:441"), "{told}");
    for (asked, wanted) in [
        ("2025 Form 5695 line 99", "near it are"),
        ("2025 Form 9999 line 1", "write one of: Form 5695; "),
        ("2024 Form 5695 line 15", "the case has no figures for 2024\nhelp: it has 2025, 2026"),
        ("whatever", "names no line"),
    ] {
        let (code, shown, told) = why(&[CASE, asked]);
        assert!(code == Some(2) && shown.is_empty() && told.contains(wanted), "{asked}: {told}");
    }
}

#[test]
fn an_amount_and_a_paper_lead_to_their_lines() {
    let (code, told, _) = why(&[CASE, "--amount", "$6,160"]);
    assert_eq!(code, Some(0));
    assert!(
        told.contains("2025:441  credit carried forward to 2026  =  6,160.00\n      Form 5695 line 16\n"),
        "{told}"
    );
    assert!(told.contains("2026:430") && !told.contains("4,820.00"), "{told}");
    let (code, _, told) = why(&[CASE, "--amount", "1"]);
    assert!(code == Some(2) && told.contains("no line shows 1.00"), "{told}");
    let (_, told, _) = why(&[CASE, "--paper", "inv-roof"]);
    let (directly, after) = told.split_once("made of that:\n").expect("two groups");
    assert!(directly.starts_with("taken from it:\n") && directly.contains("2025:101@roof-array."), "{told}");
    assert!(
        after.contains("2025:441") && after.contains("2026:440") && !after.contains("2026:501"),
        "{told}"
    );
    let (code, _, told) = why(&[CASE, "--paper", "inv-rooff"]);
    assert!(code == Some(2) && told.contains("did you mean `inv-roof`?"), "{told}");
    let json = |arguments: &[&str]| -> serde_json::Value {
        serde_json::from_str(&why(&[arguments, &["--as", "json"]].concat()).1).expect("JSON")
    };
    assert_eq!(json(&[CASE, "--amount", "6160"])["groups"][0]["lines"][0]["value"], "6,160.00");
    assert_eq!(json(&[CASE, "--paper", "inv-roof"])["groups"][1]["what"], "made of that");
}

#[test]
fn a_packet_answers_with_what_is_sealed_in_it() {
    let packet = demo().join("HH-0102-2026");
    let (code, told, warned) = why(&[text(&packet), "441"]);
    assert_eq!((code, warned.as_str()), (Some(0), ""));
    assert!(
        told.starts_with("packet HH-0102-2026, dated 2026-11-25, computed by the law sealed in it"),
        "{told}"
    );
    let (_, of_case, _) = why(&[CASE, "441"]);
    let (_, rest) = told.split_once('\n').expect("a heading");
    assert_eq!(rest.replace("solar-and-battery.case.yaml", CASE), of_case);
    // The sealed case file means its packet, and a shelf the client's latest.
    let sealed = packet.join("data/solar-and-battery.case.yaml");
    let (_, same, noted) = why(&[text(&sealed), "441"]);
    assert!(same == told && noted.contains("lies in a sealed packet"), "{noted}");
    let digest = bag::digest(&packet).expect("a digest");
    for by in [["--client", "hh-0102"], ["--digest", &digest[..16]]] {
        assert_eq!(why(&[&[text(demo()), "441"][..], &by].concat()).1, told, "{by:?}");
    }
    let (code, _, several) = why(&[text(demo()), "441"]);
    assert!(code == Some(2) && several.contains("packets of several clients: HH-0101, HH-0102"), "{several}");
    let (code, _, none) = why(&[text(demo()), "2019:441", "--client", "HH-0102"]);
    assert!(code == Some(2) && none.contains("the case has no line 2019:441"), "{none}");
    let (code, _, none) = why(&[text(demo()), "441", "--client", "HH-9999"]);
    assert!(code == Some(2) && none.contains("none of the packets in"), "{none}");
    let (code, _, refused) = why(&[CASE, "441", "--client", "HH-0102"]);
    assert!(code == Some(2) && refused.contains("is a case file"), "{refused}");
    let (code, _, empty) = why(&["demo/papers", "441"]);
    assert!(code == Some(4) && empty.contains("no sealed packet lies in"), "{empty}");
}

#[test]
fn figures_of_a_packet_are_those_of_its_case() {
    let figures = |arguments: &[&str]| {
        let output = run(root(), &[&["figures"][..], arguments].concat());
        assert_eq!(output.status.code(), Some(0), "{}", err(&output));
        out(&output)
    };
    let told = figures(&[text(demo()), "--client", "HH-0102", "--year", "2025"]);
    let (heading, table) = told.split_once('\n').expect("a heading");
    assert!(heading.starts_with("packet HH-0102-2026, dated 2026-11-25"), "{heading}");
    assert_eq!(table, figures(&[CASE, "--year", "2025"]));
    let sealed = fs::read_to_string(demo().join("HH-0102-2026/data/figures.csv")).expect("the table");
    assert_eq!(figures(&[text(&demo().join("HH-0102-2026")), "--as", "csv"]), sealed);
}

/// The case is altered in the packet, so the answer shows by which law it was made; and the seal shows that it was altered.
#[test]
fn an_altered_packet_answers_by_its_own_law_and_says_that_the_seal_is_broken() {
    let scratch = Scratch::new("sought-altered");
    let packet = one(&scratch, "HH-0102-2026");
    let tax = "tax_before_credits: 6420";
    let case = packet.join("data/solar-and-battery.case.yaml");
    let facts = fs::read_to_string(&case).expect("the case");
    assert!(facts.contains(tax), "the case has another tax");
    fs::write(&case, facts.replace(tax, "tax_before_credits: 5420")).expect("written");
    let (code, told, warned) = why(&[text(&packet), "2025:441", "--depth", "0"]);
    assert_eq!(code, Some(3), "{warned}");
    assert!(told.contains("2025:441  credit carried forward to 2026  =  7,160.00"), "{told}");
    assert!(
        warned.contains("the seal does not hold") && warned.contains("are not those that are computed"),
        "{warned}"
    );
    // Sealed anew, with another rate in its law: the sealed law is the one that answers, not today's.
    let packet = one(&scratch, "HH-0101-2026");
    let before = why(&[text(&packet), "2025:411", "--depth", "1"]).1;
    assert!(before.contains("  =  30%  ["), "{before}");
    forge(
        &packet,
        &[
            ("law/2023.yaml", &|law| law.replace("amount: 30%", "amount: 20%")),
            ("law/2025.yaml", &|law| law.replace("amount: 30%", "amount: 20%")),
        ],
    );
    let (code, after, warned) = why(&[text(&packet), "2025:411", "--depth", "1"]);
    assert!(after.contains("  =  20%  [") && code == Some(3), "{after}");
    assert!(
        !warned.contains("the seal does not hold") && warned.contains("are not those that are computed"),
        "{warned}"
    );
}
