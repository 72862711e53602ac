//! A season's reminders: who gets a letter and who does not, the lots and the lists, whole or not at all.
//!
//! `tests/season` holds small invented cases, one for each thing that can stand in the way; what they come to is worked
//! by hand in their first lines. `GABLEWORK_ACCEPT=1` writes report, lists and count sheet anew; read the difference.

use crate::support::files::{files, paths};
use crate::support::program::{root, run, said};
use crate::support::scratch::Scratch;
use gablework::case::TaxYear;
use gablework::finding::Sources;
use gablework::folder::senders::Senders;
use gablework::law::Law;
use gablework::letter;
use gablework::page;
use gablework::register::remind::Season;
use gablework::register::remind::left_out::Reason;
use gablework::register::remind::lots::{Lot, Paper, count_sheet};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

impl Scratch {
    /// Puts a case into the folder.
    fn season_case(&self, name: &str, text: &str) {
        self.write(&format!("cases/{name}.case.yaml"), text);
    }

    /// Makes the season of the cases in the folder, with options.
    fn season(&self, more: &[&str]) -> Output {
        let mut arguments = vec!["remind", "cases", "--for", "2026", "--dated", "2027-01-05", "--out", "out"];
        arguments.extend(more);
        run(&self.0, &arguments)
    }

    /// The rows of a list, without its heading, as cells. No cell of these tests holds a comma.
    fn rows(&self, name: &str) -> Vec<Vec<String>> {
        self.read(name).lines().skip(1).map(|row| row.split(',').map(str::to_string).collect()).collect()
    }
}

/// A case with a balance to write about, and with other lines where they are given.
fn balance(reference: &str, zip: &str, more: &str) -> String {
    format!(
        "format: 1\nclient:\n  reference: {reference}\n  people: [{{name: Ada Rook}}]\n  mail_to: {{names: [Ada Rook], street: 9 Mill Street, city: Harrow Bend, state: OH, zip: {zip}}}\n  engagement: {{reminder_basis: preparation}}\n{more}carried_in:\n  2026: {{amount: 1234, shown_on: 2025 Form 5695 line 16}}\n"
    )
}

/// Compares with what was recorded under `tests/golden/season`.
fn as_recorded(name: &str, text: &str) {
    let path = root().join("tests/golden/season").join(name);
    if std::env::var_os("GABLEWORK_ACCEPT").is_some() {
        fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
        fs::write(&path, text).expect("written");
        return;
    }
    let recorded = fs::read_to_string(&path).unwrap_or_default();
    assert_eq!(recorded.replace("\r\n", "\n"), text.replace("\r\n", "\n"), "{name}");
}

// ---- The recorded season ----

#[test]
fn the_recorded_season_is_accounted_for_case_by_case() {
    let scratch = Scratch::new("recorded");
    let out = scratch.0.join("out");
    let made = |out: &Path, more: &[&str]| {
        let mut arguments = vec!["remind", "tests/season", "--for", "2026", "--dated", "2027-01-05", "--out"];
        arguments.push(out.to_str().expect("plain text"));
        arguments.extend(more);
        run(root(), &arguments)
    };
    let plain = made(&out, &[]);
    assert_eq!(plain.status.code(), Some(1), "two cases fail: {}", said(&plain));
    for name in ["report.txt", "left-out.csv", "failed.txt", "mailing-list.csv", "portal-list.csv"] {
        as_recorded(name, &scratch.read(&format!("out/{name}")));
    }
    let with = made(&scratch.0.join("with"), &["--with-amounts"]);
    assert_eq!(with.status.code(), Some(1));
    for name in ["mailing-list.csv", "portal-list.csv"] {
        let (stem, _) = name.split_once('.').expect("an ending");
        as_recorded(&format!("{stem}-with-amounts.csv"), &scratch.read(&format!("with/{name}")));
    }
    // Findings stand as `check` shows them.
    let checked = run(root(), &["check", "tests/season/not-a-case.case.yaml"]);
    let checked = String::from_utf8_lossy(&checked.stdout).into_owned();
    let first = checked.split("\n\n").next().expect("a finding");
    assert!(first.starts_with("error[") && scratch.read("out/failed.txt").contains(first), "{first}");
    assert!(String::from_utf8_lossy(&plain.stderr).contains(first));
    // The terminal gives the same counts as the report.
    let counts: Vec<&str> = scratch.read("out/report.txt").leak().split("\n\n").collect();
    assert!(String::from_utf8_lossy(&plain.stdout).contains(counts[1]), "{}", counts[1]);
}

/// Every reason not to write has a case that shows it; without an address alone is the next test's.
#[test]
fn every_reason_not_to_write_stands_in_the_recorded_report() {
    let list = fs::read_to_string(root().join("tests/golden/season/left-out.csv")).expect("recorded");
    for (word, _) in Reason::WORDS.iter().filter(|(word, _)| *word != "no-address") {
        assert!(list.contains(&format!(",{word},")), "no case of tests/season shows {word}");
    }
    assert!(list.contains("add `mail_to:`"));
    let cases = 18;
    let rows = list.lines().count() - 1;
    let letters = fs::read_to_string(root().join("tests/golden/season/mailing-list.csv")).expect("recorded");
    let portal = fs::read_to_string(root().join("tests/golden/season/portal-list.csv")).expect("recorded");
    assert_eq!(rows + letters.lines().count() - 1 + portal.lines().count() - 1, cases);
}

#[test]
fn without_an_address_there_is_no_letter_by_mail_and_one_for_the_portal() {
    let scratch = Scratch::new("address");
    let whole = balance("N-1", "45990", "");
    let nowhere: String =
        whole.lines().filter(|line| !line.contains("mail_to")).flat_map(|line| [line, "\n"]).collect();
    scratch.season_case("nowhere", &nowhere);
    scratch.season_case(
        "portal",
        &nowhere.replace("N-1", "N-2").replace("  people", "  delivery: portal\n  people"),
    );
    let made = scratch.season(&[]);
    assert_eq!(made.status.code(), Some(0), "{}", said(&made));
    assert_eq!(scratch.rows("out/left-out.csv")[0][..3], ["nowhere.case.yaml", "N-1", "no-address"]);
    assert_eq!(scratch.rows("out/portal-list.csv")[0][..2], ["N-2", "portal/N-2.pdf"]);
    assert!(!scratch.0.join("out/mailing-list.csv").exists());
}

#[test]
fn a_count_sheet_says_what_to_count_and_names_nobody() {
    let mut sources = Sources::default();
    let kit = letter::Kit::built_in(&mut sources);
    let season = Season {
        year: TaxYear(2026),
        dated: jiff::civil::date(2027, 1, 5),
        law: Law::built_in(),
        kit: &kit,
        texts: &sources,
        senders: &Senders::default(),
        single: false,
    };
    let lot = Lot {
        number: 3,
        file: "season-2026-lot-03.pdf".to_string(),
        letters: 500,
        pages: 980,
        sheets: 980,
        first_zip: "01040".to_string(),
        last_zip: "12345".to_string(),
        languages: BTreeMap::from([("English", 420), ("Spanish", 80)]),
        lengths: BTreeMap::from([(1, 20), (2, 480)]),
    };
    let sheet = count_sheet(&lot, &season, Paper { lot: 500, both_sides: false });
    let pages = page::lay_out(&sheet).expect("it can be drawn");
    assert_eq!(pages.frames.len(), 1);
    let words = pages.frames.iter().flat_map(|frame| &frame.pieces).filter_map(|piece| match piece {
        page::Piece::Text(text) => Some(format!("{}\n", text.text)),
        _ => None,
    });
    as_recorded("count-sheet.txt", &words.collect::<String>());
    let both = count_sheet(&lot, &season, Paper { lot: 500, both_sides: true });
    let both = page::lay_out(&both).expect("it can be drawn").words().concat();
    assert!(both.contains("Print on both sides") && !both.contains("on one side only"), "{both}");
}

// ---- Lots and lists ----

#[test]
fn letters_lie_in_the_order_of_zip_street_and_name_and_lots_end_where_they_are_full() {
    let scratch = Scratch::new("lots");
    for (reference, zip, street) in [
        ("L-1", "97998", "9 Mill Street"),
        ("L-2", "01040-0137", "9 Mill Street"),
        ("L-3", "01040", "9 Mill Street"),
        ("L-4", "45990", "9 Mill Street"),
        ("L-5", "45990", "12 Alder Lane"),
    ] {
        scratch.season_case(reference, &balance(reference, zip, "").replace("9 Mill Street", street));
    }
    let order = ["L-3", "L-2", "L-5", "L-4", "L-1"];
    for (lot, wanted) in [("1", vec![1, 1, 1, 1, 1]), ("2", vec![2, 2, 1]), ("5", vec![5]), ("6", vec![5])] {
        let made = scratch.season(&["--lot", lot, "--replace"]);
        assert_eq!(made.status.code(), Some(0), "{}", said(&made));
        let rows = scratch.rows("out/mailing-list.csv");
        let references: Vec<&str> = rows.iter().map(|row| row[3].as_str()).collect();
        assert_eq!(references, order);
        let places: Vec<(usize, usize)> = rows
            .iter()
            .map(|row| (row[0].parse().expect("a lot"), row[1].parse().expect("a position")))
            .collect();
        let expected: Vec<(usize, usize)> = wanted
            .iter()
            .enumerate()
            .flat_map(|(lot, size)| (1..=*size).map(move |position| (lot + 1, position)))
            .collect();
        assert_eq!(places, expected);
        let lots: Vec<String> =
            paths(&scratch.join("out")).into_iter().filter(|name| name.ends_with(".pdf")).collect();
        let names: Vec<String> =
            (1..=wanted.len()).map(|lot| format!("season-2026-lot-{lot:02}.pdf")).collect();
        assert_eq!(lots, names, "file names hold neither a name nor a reference");
        // The second page of the third letter is shown as 3-2; the count sheet is 0.
        if lot == "5" {
            let bytes = fs::read(scratch.0.join("out/season-2026-lot-01.pdf")).expect("a lot");
            let file = lopdf::Document::load_mem(&bytes).expect("a file that can be read");
            let pages: usize = rows.iter().map(|row| row[2].parse::<usize>().expect("pages")).sum();
            assert_eq!(file.get_pages().len(), pages + 1);
            assert!(file.catalog().expect("a catalog").get(b"Outlines").is_err());
        }
    }
}

#[test]
fn printed_on_both_sides_every_letter_begins_on_a_sheet_of_its_own() {
    let scratch = Scratch::new("sides");
    scratch.season_case("a", &balance("D-1", "45990", ""));
    scratch.season_case("b", &balance("D-2", "45991", ""));
    assert_eq!(scratch.season(&["--both-sides"]).status.code(), Some(0));
    let bytes = fs::read(scratch.0.join("out/season-2026-lot-01.pdf")).expect("a lot");
    let file = lopdf::Document::load_mem(&bytes).expect("a file that can be read");
    let labels = file.catalog().and_then(|catalog| catalog.get(b"PageLabels")).expect("labels");
    let numbers = labels.as_dict().and_then(|labels| labels.get(b"Nums")).and_then(lopdf::Object::as_array);
    let starts: Vec<i64> = numbers.expect("a list").iter().filter_map(|entry| entry.as_i64().ok()).collect();
    assert_eq!(starts.len(), 3);
    assert!(starts.iter().all(|start| start % 2 == 0), "{starts:?}");
}

#[test]
fn amounts_years_and_returns_stand_in_the_lists_only_where_they_are_wanted() {
    let scratch = Scratch::new("amounts");
    scratch.season_case("a", &balance("A-1", "01040", ""));
    scratch.season_case("b", &balance("A-2", "01041", "  delivery: portal\n"));
    assert_eq!(scratch.season(&[]).status.code(), Some(0));
    for name in ["mailing-list.csv", "portal-list.csv", "left-out.csv", "report.txt"] {
        let path = scratch.0.join("out").join(name);
        let text = fs::read_to_string(path).unwrap_or_default();
        for word in ["1234", "1,234", "balance", "origin", "2025"] {
            assert!(!text.contains(word), "{name} holds {word}");
        }
    }
    assert!(!scratch.0.join("out/left-out.csv").exists(), "nobody was left out");
    assert_eq!(scratch.season(&["--with-amounts", "--replace"]).status.code(), Some(0));
    let row = &scratch.rows("out/mailing-list.csv")[0];
    assert_eq!(row[10], "01040", "a ZIP keeps its zero");
    assert_eq!(row[15..], ["1234.00", "known", "2025 or before", ""]);
}

/// As filed 900 goes on, as computed 860; the preparer takes the filed return's amount and says why.
#[test]
fn a_balance_that_the_preparer_has_settled_is_told_as_settled() {
    let scratch = Scratch::new("settled");
    let differs =
        fs::read_to_string(root().join("tests/season/differs-from-filed.case.yaml")).expect("a case");
    scratch.season_case("open", &differs);
    assert_eq!(scratch.season(&["--with-amounts"]).status.code(), Some(0));
    assert_eq!(scratch.rows("out/left-out.csv")[0][2], "differs-from-filed");
    let settled = "  2026: {amount: 900, shown_on: 2025 Form 5695 line 16, instead_of_computed: the filed return is final}\nreturns:";
    scratch.season_case("open", &differs.replace("returns:", settled));
    let made = scratch.season(&["--with-amounts", "--replace"]);
    assert_eq!(made.status.code(), Some(0), "{}", said(&made));
    let row = &scratch.rows("out/mailing-list.csv")[0];
    assert_eq!(row[15..17], ["900.00", "known"]);
}

/// 1,500 was brought into 2025, whose return uses 640, so no more than 860 can enter 2026; the case brings in 2,600 with a
/// reason, and has no return for 2026. That amount is in no letter, no list and no total.
#[test]
fn a_balance_that_was_refused_is_in_no_letter_and_no_total() {
    let scratch = Scratch::new("refused");
    let case = balance("RF-1", "44444", "").replace(
        "  2026: {amount: 1234, shown_on: 2025 Form 5695 line 16}\n",
        "  2025: {amount: 1500, shown_on: 2024 Form 5695 line 16}\n  2026: {amount: 2600, shown_on: 2025 Form 5695 line 16, instead_of_computed: the client says so}\nreturns:\n  2025: {stage: filed, filing_status: single, filed: 2026-03-01, tax_before_credits: 640}\n",
    );
    scratch.season_case("refused", &case);
    scratch.season_case("good", &balance("RF-2", "44444", ""));
    let made = scratch.season(&["--with-amounts"]);
    assert_eq!(made.status.code(), Some(1), "{}", said(&made));
    assert!(said(&made).contains("error[carried-in-without-credit]"), "{}", said(&made));
    let rows = scratch.rows("out/mailing-list.csv");
    assert_eq!(rows.len(), 1, "{rows:?}");
    assert_eq!(rows[0][15], "1234.00");
    let register = run(&scratch.0, &["register", "cases", "--on", "2027-01-05", "--as", "json"]);
    let register: serde_json::Value = serde_json::from_slice(&register.stdout).expect("JSON");
    let totals = register["totals"].to_string();
    assert!(totals.contains("1234") && !totals.contains("2600"), "{totals}");
    let row = register["rows"].as_array().and_then(|rows| rows.iter().find(|row| row["reference"] == "RF-1"));
    assert!(row.is_some_and(|row| row["account"].is_null()), "{row:?}");
}

#[test]
fn no_cell_is_a_formula() {
    let scratch = Scratch::new("formula");
    scratch.season_case("=cmd", &balance("F-1", "45990", "").replace("preparation", "consent"));
    let names = balance("F-2", "45990", "").replace("[Ada Rook]", "[\"=HYPERLINK(1)\", \"+Ada Rook\"]");
    scratch.season_case("names", &names.replace("9 Mill Street", "\"@9 Mill Street\""));
    let made = scratch.season(&[]);
    assert_eq!(made.status.code(), Some(0), "{}", said(&made));
    for name in ["mailing-list.csv", "left-out.csv"] {
        let text = scratch.read(&format!("out/{name}"));
        for cell in text.split([',', '\n']) {
            assert!(!cell.trim_start_matches('"').starts_with(['=', '+', '@', '-']), "{name}: {cell}");
        }
    }
    assert!(scratch.read("out/left-out.csv").contains("'=cmd.case.yaml,F-1,no-basis"));
}

#[test]
fn single_letters_are_named_by_the_reference() {
    let scratch = Scratch::new("single");
    scratch.season_case("a", &balance("P-1", "45990", ""));
    scratch.season_case("b", &balance("P-2", "45991", "  language: es\n"));
    assert_eq!(scratch.season(&["--single"]).status.code(), Some(0));
    let names: Vec<String> = paths(&scratch.join("out")).into_iter().collect();
    assert_eq!(
        names,
        ["mailing-list.csv", "report.txt", "season-2026-lot-01.pdf", "single/P-1.pdf", "single/P-2.pdf"]
    );
    assert_eq!(scratch.rows("out/mailing-list.csv")[1][4], "es");
}

// ---- Whole or not at all ----

#[test]
fn what_stands_is_replaced_only_when_told_and_only_where_it_is_a_season() {
    let scratch = Scratch::new("replace");
    scratch.season_case("a", &balance("R-1", "45990", ""));
    assert_eq!(scratch.season(&[]).status.code(), Some(0));
    let first = files(&scratch.0.join("out"));
    let again = scratch.season(&["--lot", "1"]);
    assert_eq!(again.status.code(), Some(4));
    assert!(said(&again).contains("stands already"), "{}", said(&again));
    assert_eq!(files(&scratch.0.join("out")), first);
    assert_eq!(scratch.season(&["--replace"]).status.code(), Some(0));
    assert_eq!(files(&scratch.0.join("out")), first, "the same cases give the same bytes");
    fs::write(scratch.0.join("out/notes.txt"), "mailed on Tuesday").expect("written");
    let refused = scratch.season(&["--replace"]);
    assert_eq!(refused.status.code(), Some(4));
    assert!(said(&refused).contains("notes.txt"), "{}", said(&refused));
    assert_eq!(scratch.read("out/notes.txt"), "mailed on Tuesday");
}

#[test]
fn what_an_interrupted_run_left_does_not_matter() {
    let scratch = Scratch::new("interrupted");
    for n in 0..12 {
        scratch.season_case(&format!("c{n}"), &balance(&format!("I-{n}"), "45990", ""));
    }
    assert_eq!(scratch.season(&["--lot", "5"]).status.code(), Some(0));
    let whole = files(&scratch.0.join("out"));
    fs::remove_dir_all(scratch.0.join("out")).expect("removed");
    fs::create_dir_all(scratch.0.join(".out.part/single")).expect("a folder");
    fs::write(scratch.0.join(".out.part/season-2026-lot-01.pdf"), "half").expect("written");
    assert_eq!(scratch.season(&["--lot", "5"]).status.code(), Some(0));
    assert_eq!(files(&scratch.0.join("out")), whole);
    assert!(!scratch.0.join(".out.part").exists());
    assert_eq!(scratch.season(&["--lot", "5", "--replace", "--threads", "1"]).status.code(), Some(0));
    assert_eq!(files(&scratch.0.join("out")), whole, "whatever the number of threads");
}

/// Makes a folder of cases large enough to be interrupted in the midst of it.
fn many(name: &str) -> Scratch {
    let scratch = Scratch::new(name);
    for n in 0..60 {
        let zip = format!("{:05}", 97998 - n * 13);
        scratch.season_case(&format!("c{n:02}"), &balance(&format!("K-{n:02}"), &zip, ""));
    }
    scratch
}

/// Starts a season in the folder.
fn started(scratch: &Scratch) -> std::process::Child {
    Command::new(env!("CARGO_BIN_EXE_gablework"))
        .current_dir(&scratch.0)
        .args([
            "remind",
            "cases",
            "--for",
            "2026",
            "--dated",
            "2027-01-05",
            "--out",
            "out",
            "--lot",
            "7",
            "--single",
        ])
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::null())
        .spawn()
        .expect("the program runs")
}

/// What stands in the folder beside the cases, hidden names too.
fn beside(scratch: &Scratch) -> Vec<String> {
    let entries = fs::read_dir(&scratch.0).expect("a folder");
    let names = entries.map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned());
    names.filter(|name| name != "cases").collect()
}

/// Waits until the season is being written, and a little longer; not for ever.
fn in_the_midst(scratch: &Scratch, longer: u64) {
    let moment = std::time::Duration::from_millis;
    for _ in 0..2000 {
        if scratch.0.join(".out.part").exists() || scratch.0.join("out").exists() {
            break;
        }
        std::thread::sleep(moment(5));
    }
    std::thread::sleep(moment(longer));
}

#[test]
fn killed_at_whatever_moment_a_season_stands_whole_or_not_at_all() {
    let scratch = many("killed");
    assert!(started(&scratch).wait().expect("it ends").success());
    let whole = files(&scratch.0.join("out"));
    assert_eq!(whole.len(), 60 + 9 + 2, "single letters, lots, list and report");
    for wait in [0, 10, 40, 90, 150, 220, 300, 400, 600, 900] {
        fs::remove_dir_all(scratch.0.join("out")).expect("removed");
        let mut run = started(&scratch);
        in_the_midst(&scratch, wait);
        run.kill().expect("killed");
        run.wait().expect("it ends");
        if scratch.0.join("out").exists() {
            assert_eq!(files(&scratch.0.join("out")), whole, "after {wait} ms");
        } else {
            assert!(beside(&scratch).iter().all(|name| name.starts_with('.')), "{:?}", beside(&scratch));
            assert!(started(&scratch).wait().expect("it ends").success());
        }
        assert_eq!(files(&scratch.0.join("out")), whole, "after {wait} ms");
        assert_eq!(beside(&scratch), ["out"]);
    }
}

#[cfg(unix)]
#[test]
fn ctrl_c_leaves_nothing_behind() {
    let scratch = many("stopped");
    let mut stopped = 0;
    for wait in [0, 5, 20, 60, 150, 400] {
        let mut run = started(&scratch);
        in_the_midst(&scratch, wait);
        let interrupt = Command::new("kill").args(["-INT", &run.id().to_string()]).status();
        assert!(interrupt.is_ok());
        match run.wait().expect("it ends").code() {
            Some(130) => {
                stopped += 1;
                assert!(beside(&scratch).is_empty(), "{:?}", beside(&scratch));
            }
            // It was done before.
            Some(0) => fs::remove_dir_all(scratch.0.join("out")).expect("a season"),
            code => panic!("{code:?}"),
        }
    }
    assert!(stopped > 0, "no run was stopped in its midst");
}

#[cfg(unix)]
#[test]
fn files_are_for_their_owners_eyes() {
    use std::os::unix::fs::PermissionsExt;
    let scratch = Scratch::new("private");
    scratch.season_case("a", &balance("M-1", "45990", ""));
    scratch.season_case("b", &balance("M-2", "45990", "  delivery: portal\n"));
    scratch.season_case("c", "format: 1\n");
    assert_eq!(scratch.season(&["--single"]).status.code(), Some(1));
    let mode = |path: &Path| fs::metadata(path).expect("it stands").permissions().mode() & 0o777;
    let out = scratch.0.join("out");
    assert_eq!(mode(&out), 0o700);
    for name in paths(&out) {
        assert_eq!(mode(&out.join(&name)), 0o600, "{name}");
    }
    assert_eq!(mode(&out.join("portal")), 0o700);
    assert_eq!(scratch.season(&["--replace", "--group-readable"]).status.code(), Some(1));
    assert_eq!((mode(&out), mode(&out.join("mailing-list.csv"))), (0o750, 0o640));
}

#[test]
fn a_slip_in_the_date_and_a_broken_firm_file_stop_the_run_before_anything_is_written() {
    let scratch = Scratch::new("slips");
    scratch.season_case("a", &balance("Q-1", "45990", ""));
    let early =
        run(&scratch.0, &["remind", "cases", "--for", "2026", "--dated", "2017-01-05", "--out", "out"]);
    assert_eq!(early.status.code(), Some(2), "{}", said(&early));
    fs::write(scratch.0.join("cases/firm.yaml"), "name: Larch Tax\n").expect("written");
    let broken = scratch.season(&[]);
    assert_eq!(broken.status.code(), Some(1), "{}", said(&broken));
    assert!(!scratch.0.join("out").exists());
    fs::remove_file(scratch.0.join("cases/firm.yaml")).expect("removed");
    let without = scratch.season(&[]);
    assert_eq!(said(&without).matches("No firm file was found").count(), 1);
}

/// Of a pipe nobody knows when it ends, so none is waited for.
#[cfg(unix)]
#[test]
fn a_case_that_is_a_pipe_is_told_and_not_waited_for() {
    let scratch = Scratch::new("pipe");
    scratch.season_case("a", &balance("N-1", "01040", ""));
    let pipe = scratch.0.join("cases/b.case.yaml");
    assert!(Command::new("mkfifo").arg(&pipe).status().expect("mkfifo runs").success());
    // Whoever waits is let go after a while, and would have read nothing.
    let writer = std::thread::spawn({
        let pipe = pipe.clone();
        move || {
            std::thread::sleep(std::time::Duration::from_secs(10));
            drop(fs::OpenOptions::new().read(true).write(true).open(pipe));
        }
    });
    let made = scratch.season(&[]);
    assert_eq!(made.status.code(), Some(4), "{}", said(&made));
    assert!(said(&made).contains("it is a pipe or a device, and a file is wanted"), "{}", said(&made));
    assert_eq!(scratch.rows("out/mailing-list.csv").len(), 1);
    drop(writer);
}
