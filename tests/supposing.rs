//! `suppose`: what years to come would use on an assumed tax, in words, as data and as a page.

use crate::batches::{Desk, case};
use crate::support::program::{err, out};
use serde_json::Value;
use std::fs;
use std::process::Command;

fn desk(name: &str) -> Desk {
    let desk = Desk::new(name);
    desk.write("a.case.yaml", &case("HH-1"));
    desk
}

const TWO: &str =
    "suppose a.case.yaml --tax 2026=2000 --tax 2027=300 --and --tax 2026=0 --tax 2027=2480 --tax 2028=5";

/// By hand: 2,480 are brought into 2026. First 2,000 and 300 of it are used and 180 left, or else nothing and then all.
#[test]
fn two_assumptions_stand_side_by_side() {
    let desk = desk("suppose");
    let before = desk.read("a.case.yaml");
    let ran = desk.run(TWO);
    assert_eq!(ran.status.code(), Some(0), "{}", err(&ran));
    let told = out(&ran);
    let row = |year: &str| -> Vec<String> {
        let line = told.lines().find(|line| line.starts_with(year)).unwrap_or_else(|| panic!("{told}"));
        line.split_whitespace().map(String::from).collect()
    };
    assert_eq!(row("2026"), ["2026", "2,000.00", "2,000.00", "480.00", "0.00", "0.00", "2,480.00"]);
    assert_eq!(row("2027"), ["2027", "300.00", "300.00", "180.00", "2,480.00", "2,480.00", "0.00"]);
    for words in [
        "$180 of the credit would be left after 2027",
        "the 2027 return would use the last of the credit",
        "Not needed, because nothing would be left: 2028.",
        "not a forecast or a promise",
    ] {
        assert!(told.replace('\n', " ").contains(words), "{words}: {told}");
    }
    assert!(told.lines().all(|line| line.chars().count() <= 80), "{told}");
    assert_eq!(desk.read("a.case.yaml"), before);
    assert_eq!(desk.names("."), ["a.case.yaml"]);
    // Where it stands among the words decides which assumption an amount belongs to, not which option comes first.
    let other = desk.run(
        "suppose --tax 2026=2000 a.case.yaml --tax 2027=300 --and --tax=2027=2480 --tax=2026=0 --tax 2028=5",
    );
    assert_eq!(out(&other), told, "{}", err(&other));
}

#[test]
fn the_data_follows_its_schema() {
    let desk = desk("suppose-data");
    let data: Value = serde_json::from_slice(&desk.run(&format!("{TWO} --as json")).stdout).expect("JSON");
    let schema: Value = serde_json::from_slice(&desk.run("schema suppose").stdout).expect("JSON");
    let validator = jsonschema::validator_for(&schema).expect("a schema");
    assert!(
        validator.is_valid(&data),
        "{:?}",
        validator.iter_errors(&data).map(|e| e.to_string()).collect::<Vec<_>>()
    );
    assert_eq!(data["assumptions"][0]["left"], "180.00");
    assert_eq!(data["assumptions"][0]["used_up_in"], Value::Null);
    assert_eq!(data["assumptions"][1]["used_up_in"], 2027);
    assert_eq!(data["assumptions"][1]["not_needed"], serde_json::json!([2028]));
    assert_eq!(data["assumptions"][0]["years"][0]["tax_from"], "assumed");
    let mut other = data.clone();
    other["assumptions"][0]["years"][0]["tax_from"] = "guessed".into();
    assert!(!validator.is_valid(&other));
}

/// One page, tagged, in the client's language, with the cautions; the same bytes again; nothing is overwritten.
#[test]
fn the_page_is_one_in_the_language_of_the_client() {
    for (language, words) in [
        ("en", ["an example, not a forecast", "hypothetical", "not tax or legal advice", "Left"]),
        ("es", ["un ejemplo, no un pronóstico", "hipotéticas", "No es asesoría tributaria", "Queda"]),
    ] {
        let desk = desk("suppose-page");
        let text = case("HH-1").replacen("client:\n", &format!("client:\n  language: {language}\n"), 1);
        desk.write("a.case.yaml", &text);
        let line = format!("{TWO} --as pdf --dated 2026-12-01 --out");
        let made = desk.run(&format!("{line} a.pdf"));
        assert_eq!(made.status.code(), Some(0), "{}", err(&made));
        assert_eq!(desk.run(&format!("{line} b.pdf")).status.code(), Some(0));
        let bytes = fs::read(desk.join("a.pdf")).expect("a page");
        assert_eq!(bytes, fs::read(desk.join("b.pdf")).expect("a page"));
        let again = desk.run(&format!("{line} a.pdf"));
        assert_eq!(again.status.code(), Some(4), "{}", err(&again));
        let with = |program: &str, arguments: &[&str]| {
            out(&Command::new(program).current_dir(&desk.0).args(arguments).output().expect("poppler-utils"))
        };
        let about = with("pdfinfo", &["a.pdf"]);
        assert!(about.contains("Pages:           1") && about.contains("Tagged:          yes"), "{about}");
        let page =
            with("pdftotext", &["-layout", "a.pdf", "-"]).split_whitespace().collect::<Vec<_>>().join(" ");
        for words in words {
            assert!(page.contains(words), "{words}: {page}");
        }
        assert!(page.contains("2,480") && !page.contains("***"), "{page}");
    }
}

#[test]
fn odd_assumptions_are_refused_in_words() {
    let desk = desk("suppose-odd");
    for (line, words) in [
        ("", "--tax"),
        ("--tax 2026", "--tax: `2026` is not a year with an amount"),
        ("--tax 2026=", "--tax:"),
        ("--tax 2026=-5", "--tax: a tax is not negative"),
        ("--tax 26=5", "--tax: `26` is no tax year"),
        ("--tax 2026=5.123", "--tax:"),
        ("--tax 2026=5 --tax 2026=6", "2026 is assumed twice"),
        ("--tax 2025=5", "comes before the first year that is open"),
        ("--tax 2026=5 --tax 2030=5", "nothing is known of the tax of 2029"),
        ("--tax 2026=5 --other 2027=5", "other credits are assumed for 2027, and no tax"),
        ("--tax 2027=5 --other 2027=5 --other 2027=6", "2027 is assumed twice"),
        ("--tax 2026=5 --other 2026=5", "the case has the 2026 return with its other credits"),
        ("--tax 2026=5 --and", "an assumption beside --and has no tax"),
        (
            "--tax 2026=5 --and --tax 2026=6 --and --tax 2026=7",
            "two assumptions stand side by side, and 3 are given",
        ),
        ("--tax 9999=5", "more than 20 years to come"),
        ("--tax 2026=5 --as pdf", "a PDF needs a file"),
    ] {
        let ran = desk.run(format!("suppose a.case.yaml {line}").trim());
        assert_eq!(ran.status.code(), Some(2), "{line}: {}", err(&ran));
        assert!(err(&ran).contains(words) && err(&ran).contains("help: "), "{line}: {}", err(&ran));
        assert!(ran.stdout.is_empty());
    }
    desk.write("b.case.yaml", "format: 1\nclient: 7\n");
    let bad = desk.run("suppose b.case.yaml --tax 2026=5");
    assert_eq!(bad.status.code(), Some(1));
    assert!(err(&bad).contains("the case has errors"), "{}", err(&bad));
    assert_eq!(desk.run("suppose c.case.yaml --tax 2026=5").status.code(), Some(4));
}
