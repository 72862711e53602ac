//! No text leads out of the folder that was named: nothing at all is made while a reference is malformed, and every
//! path that is made is one that all systems take.

use crate::batches::{Desk, case};
use gablework::name::Reference;
use std::fs;

/// References that are none, and what each could do.
const WRONG: &[(&str, &str)] = &[
    ("./../../other/HH-0101", "lead out of the folder"),
    ("'../HH-0101'", "lead out of the folder"),
    ("'..'", "be the folder above"),
    ("/tmp/HH-0101", "be a place of its own"),
    ("'..\\HH-0101'", "lead out of the folder on Windows"),
    ("'a:b'", "be a drive or a stream on Windows"),
    ("'a*?b'", "be refused by Windows"),
    ("nul", "be a device of Windows"),
    ("'com1'", "be a device of Windows"),
    ("'HH-0101.'", "lose its period on Windows"),
    ("'-rf'", "be taken for an option"),
    ("'HH 0101'", "be two words"),
    ("123456789", "be a taxpayer number"),
    ("123-45-6789", "be a taxpayer number"),
    ("12-3456789", "be a taxpayer number"),
    ("\"\\u0031\\x323456789\"", "be a taxpayer number"),
    ("\u{ff11}\u{ff12}\u{ff13}456789", "be a taxpayer number"),
];

#[test]
fn a_malformed_reference_makes_nothing_and_is_reported() {
    let desk = Desk::new("names");
    let good = case("HH-0101");
    for (text, could) in WRONG {
        let wrong = good.replace("reference: HH-0101", &format!("reference: {text}"));
        assert_ne!(wrong, good);
        desk.write("cases/a.case.yaml", &wrong);
        // Another client's draft where the path would lead.
        desk.write("other/HH-0101-2026-draft/DRAFT.txt", "another client's");
        let before = desk.files(".");
        for line in [
            "packet cases/a.case.yaml --draft --dated 2026-11-12 --out out/packets",
            "packet cases/a.case.yaml --dated 2026-11-12 --out out/packets",
            "packet cases --draft --dated 2026-11-12 --out out/packets",
            "packet cases/a.case.yaml --year 2026 --dated 2026-11-12 --out out/packets --replaces HH-0101-2026 --because wrong",
            "figures cases/a.case.yaml",
            "figures cases/a.case.yaml --as json",
            "why cases/a.case.yaml 2026:440",
            "check cases/a.case.yaml",
            "check cases/a.case.yaml --as json",
        ] {
            let done = desk.run(line);
            let said =
                String::from_utf8_lossy(&done.stdout).into_owned() + &String::from_utf8_lossy(&done.stderr);
            assert_eq!(done.status.code(), Some(1), "{text} could {could}: {line}\n{said}");
            assert!(
                said.contains("reference-form") || said.contains("taxpayer-number"),
                "{text}: {line}\n{said}"
            );
            assert!(
                !said.contains("123456789") && !said.contains("3-45-6") && !said.contains("12-3"),
                "{text}: {line}\n{said}"
            );
        }
        // A season and a register account for the case, and show no reference that is none.
        for line in [
            "remind cases --for 2027 --dated 2026-11-12 --out season --allow-failures",
            "register cases --dated 2026-11-12 --as csv",
            "register cases --dated 2026-11-12 --as json",
        ] {
            let done = desk.run(line);
            let said =
                String::from_utf8_lossy(&done.stdout).into_owned() + &String::from_utf8_lossy(&done.stderr);
            assert_ne!(done.status.code(), Some(0), "{text}: {line}\n{said}");
            assert!(
                !said.contains("123456789") && !said.contains("3-45-6") && !said.contains("12-3"),
                "{text}: {line}\n{said}"
            );
        }
        let season = desk.files("season");
        assert!(season.iter().all(|(name, _)| !name.ends_with(".pdf")), "{text}: {:?}", desk.names("season"));
        let _ = fs::remove_dir_all(desk.0.join("season"));
        assert_eq!(desk.files("."), before, "{text} could {could}");
    }
}

/// Only the names of devices themselves are refused, not whatever begins like one.
#[test]
fn references_that_begin_like_a_device_are_references() {
    for text in ["COMA", "COMET", "COM", "COM10", "LPT", "LPTX", "NULL", "CONS", "AUX1", "PRN-1"] {
        assert!(Reference::new(text).is_ok(), "{text}");
    }
    let desk = Desk::new("device");
    desk.case("cases/a.case.yaml", "COMA");
    let done = desk.run("packet cases/a.case.yaml --draft --dated 2026-11-12 --out out");
    assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
    assert_eq!(desk.names("out"), ["COMA-2026-draft"]);
}

/// A paper that no Windows machine could take out of the packet is reported by `check`, at its line.
#[test]
fn papers_have_names_that_every_system_takes() {
    let desk = Desk::new("paper-names");
    for file in [
        "papers/nul.pdf",
        "papers/a?b.pdf",
        "con/a.pdf",
        "papers./a.pdf",
        "'papers/a.pdf.'",
        "papers/a|b.pdf",
        "'papers/a .'",
    ] {
        let text = case("HH-0101").replace("where: binder form-5695-line-16.txt", &format!("file: {file}"));
        assert!(text.contains("file: "));
        desk.write("a.case.yaml", &text);
        let done = desk.run("check a.case.yaml");
        let said =
            String::from_utf8_lossy(&done.stdout).into_owned() + &String::from_utf8_lossy(&done.stderr);
        assert!(said.contains("error[file-path] a.case.yaml:"), "{file}: {said}");
    }
}

/// Kept answers that somebody has changed lead nowhere either.
#[test]
fn begun_answers_lead_nowhere() {
    let desk = Desk::new("begun-names");
    desk.write("desk/keep", "");
    let begin = |typed: &str| {
        use std::io::Write;
        let mut child = crate::support::program::program(&desk.0)
            .args(["begin", "desk", "--plain", "--dated", "2026-11-12"])
            .stdin(std::process::Stdio::piped())
            .stdout(std::process::Stdio::piped())
            .stderr(std::process::Stdio::piped())
            .spawn()
            .expect("the program runs");
        child.stdin.take().expect("input").write_all(typed.as_bytes()).expect("typing");
        child.wait_with_output().expect("an end")
    };
    begin("HH-7\nAna Alder\nlater\n");
    assert_eq!(desk.names("desk"), ["HH-7.case.begun", "keep"]);
    let kept = fs::read_to_string(desk.0.join("desk/HH-7.case.begun")).expect("kept answers");
    assert!(kept.contains("HH-7"), "{kept}");
    desk.write("desk/HH-7.case.begun", &kept.replace("HH-7", "../HH-7"));
    begin("1\n\nAna Alder\nlater\n");
    assert_eq!(desk.names("."), ["desk"]);
}
