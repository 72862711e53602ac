//! The register of the cases under `tests/register/season`, each of which says at its head what it comes to.
//!
//! The renderings beside that folder are written by `GABLEWORK_ACCEPT=1 cargo test --test all`; read the difference.

use crate::support::program::run;
use crate::support::scratch::Scratch;
use gablework::law::Law;
use gablework::register::data;
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const ON: &str = "2026-11-20";

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/register")
}

/// Runs `register` beside the cases.
fn register(more: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_gablework"));
    command.current_dir(folder()).args(["register", "season"]).args(more);
    command.output().expect("the program runs")
}

fn said(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("UTF-8")
}

fn json(on: &str) -> Value {
    let output = register(&["--on", on, "--as", "json"]);
    serde_json::from_slice(&output.stdout).expect("JSON")
}

/// Returns the row of a reference.
fn row<'v>(register: &'v Value, reference: &str) -> &'v Value {
    let rows = register["rows"].as_array().expect("rows");
    rows.iter()
        .find(|row| row["reference"] == reference)
        .unwrap_or_else(|| panic!("{reference} is not there"))
}

/// Returns the years of a row that leave out a credit: year, whether it is open, when it closes, days left.
fn windows(register: &Value, reference: &str) -> Vec<(i64, bool, String, Option<i64>)> {
    let all = row(register, reference)["account"]["unclaimed"].as_array().expect("a list");
    let told = |one: &Value| {
        (
            one["year"].as_i64().expect("a year"),
            one["open"].as_bool().expect("yes or no"),
            one["closes"].as_str().expect("a day").to_string(),
            one["days_left"].as_i64(),
        )
    };
    all.iter().map(told).collect()
}

#[test]
fn renderings_are_as_they_were_read() {
    let edition = Law::built_in().all().map(|law| law.edition.clone()).max().expect("an edition");
    let mut wrong = Vec::new();
    for (name, arguments) in [
        ("table.txt", &["--as", "table"][..]),
        ("table-by-closing.txt", &["--sort", "closing"]),
        ("register.csv", &["--as", "csv", "--with-names"]),
        ("register.json", &["--as", "json"]),
    ] {
        let output = register(&[&["--on", ON][..], arguments].concat());
        assert_eq!(output.status.code(), Some(1), "the folder has cases with errors");
        let have = said(&output.stdout).replace(&edition, "EDITION");
        let path = folder().join(name);
        if std::env::var_os("GABLEWORK_ACCEPT").is_some() {
            fs::write(&path, &have).expect("written");
        }
        let want = fs::read_to_string(&path).unwrap_or_default();
        if have.replace("\r\n", "\n") != want.replace("\r\n", "\n") {
            wrong.push(format!("{name} differs; it is now:\n{have}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// By hand, from the heads of the cases. Nine of thirteen are computed.
///
/// Into 2024: 400 (RG-03). Into 2025: 2,000 (RG-01). Into 2026: 1,600 (RG-01) + 2,480.50 (RG-07) + 4,500 expected
/// (RG-08) = 8,580.50. Into 2027: 3,500 expected (RG-08). Left: 1,600 + 400 + 2,480.50 + 4,500 = 8,980.50 of four.
/// 25D earned before 2026: 3,000 + 2,400 + 450 + 300 + 600 + 900 + 6,000 + 1,200 = 14,850; used 14,850 + brought in
/// 2,480.50 - left 8,980.50 = 8,350. 25C: 2,000 earned, 1,250 used, 750 lost.
#[test]
fn totals_are_those_worked_by_hand() {
    let register = json(ON);
    let totals = &register["totals"];
    assert_eq!((&totals["cases"], &totals["not_counted"]), (&13.into(), &4.into()));
    let balances: Vec<String> = totals["balances"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|one| {
            let text = |key: &str| one[key].as_str().expect("an amount").to_string();
            format!("{}: {} {} {}", one["into"], one["clients"], text("amount"), text("expected"))
        })
        .collect();
    assert_eq!(
        balances,
        ["2024: 1 400.00 0.00", "2025: 1 2000.00 0.00", "2026: 3 8580.50 4500.00", "2027: 1 3500.00 3500.00"]
    );
    let left = &totals["left"];
    assert_eq!((&left["clients"], &left["amount"]), (&4.into(), &"8980.50".into()));
    for (name, amount) in [
        ("brought_in", "2480.50"),
        ("earned_25d", "14850.00"),
        ("used_25d", "8350.00"),
        ("earned_25c", "2000.00"),
        ("used_25c", "1250.00"),
        ("lost_25c", "750.00"),
    ] {
        assert_eq!(totals["so_far"][name], amount, "{name}");
    }
    let unclaimed = &totals["unclaimed"];
    assert_eq!(
        (&unclaimed["open"], &unclaimed["open_but_unsaid"], &unclaimed["closed"]),
        (&3.into(), &1.into(), &1.into())
    );
    let questions = &totals["questions"];
    assert_eq!((&questions["blocking"], &totals["papers_missing"]["clients_unsaid"]), (&2.into(), &1.into()));
}

/// What is brought in and earned is as much as what is used, lost and left, in the demo households too.
#[test]
fn rows_add_up() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo");
    let output = Command::new(env!("CARGO_BIN_EXE_gablework"))
        .current_dir(demo)
        .args(["register", ".", "--on", ON, "--as", "json"])
        .output()
        .expect("the program runs");
    let demo: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let mut seen = 0;
    for register in [demo, json(ON)] {
        for row in register["rows"].as_array().expect("rows") {
            let account = &row["account"];
            if account.is_null() {
                continue;
            }
            let cents = |value: &Value| {
                value.as_str().map_or(0, |text| text.replace('.', "").parse::<i64>().expect("an amount"))
            };
            let of = |name: &str| cents(&account["so_far"][name]);
            let came = of("brought_in") + of("earned_25d") + of("earned_25c");
            let went = of("used_25d") + of("used_25c") + of("lost_25c") + cents(&account["left"]["amount"]);
            assert_eq!(came, went, "{row}");
            seen += 1;
        }
    }
    assert!(seen >= 19, "only {seen} cases");
}

/// The days stand at the heads of the cases; 26 U.S.C. 6511, 6513 and 7503.
#[test]
fn years_close_on_their_day() {
    let on = json(ON);
    let day = |text: &str| text.to_string();
    assert_eq!(windows(&on, "RG-03"), [(2023, true, day("2027-09-03"), Some(287))]);
    assert_eq!(windows(&on, "RG-04"), [(2023, true, day("2028-01-10"), Some(416))]);
    assert_eq!(
        windows(&on, "RG-05"),
        [(2022, false, day("2026-04-15"), None), (2024, true, day("2028-04-18"), Some(515))]
    );
    assert_eq!(windows(&on, "RG-06"), [(2025, true, day("2029-04-17"), Some(879))]);
    assert_eq!(windows(&on, "RG-01"), []);
    assert_eq!(windows(&on, "RG-07"), [], "a balance brought in was claimed");
    let late = &row(&on, "RG-03")["account"]["unclaimed"][0];
    assert_eq!(late["reaches_withheld_tax_until"], "2027-04-15");
    assert_eq!(
        (&late["left_out_25d"], &late["left_out_carried_forward"]),
        (&"2000.00".into(), &"400.00".into())
    );
    // The last day is open, the next is not, and says so.
    assert_eq!(windows(&json("2027-09-03"), "RG-03"), [(2023, true, day("2027-09-03"), Some(0))]);
    assert_eq!(windows(&json("2027-09-04"), "RG-03"), [(2023, false, day("2027-09-03"), None)]);
    let table = said(&register(&["--on", "2027-09-04"]).stdout);
    assert!(
        table.contains("2027-09-03         RG-03      2023  25D $2,000, carried forward $400"),
        "{table}"
    );
    let row = table.lines().find(|line| line.starts_with("RG-03")).expect("the row");
    assert!(row.ends_with("2023 closed"), "{row}");
}

#[test]
fn the_data_is_as_the_schema_says() {
    let schema = data::schema();
    let validator = jsonschema::options().should_validate_formats(true).build(&schema).expect("a schema");
    for on in [ON, "2020-01-01", "2035-06-30"] {
        let register = json(on);
        let faults: Vec<String> = validator
            .iter_errors(&register)
            .map(|error| format!("{}: {error}", error.instance_path()))
            .collect();
        assert!(faults.is_empty(), "{}", faults.join("\n"));
    }
    let mut other = json(ON);
    other["rows"][0]["account"]["more"] = 1.into();
    assert!(!validator.is_valid(&other));
}

#[test]
fn rows_stand_in_the_order_asked_for() {
    let references = |order: &str| -> Vec<String> {
        let output = register(&["--on", ON, "--as", "csv", "--sort", order]);
        let text = said(&output.stdout);
        text.lines().skip(1).map(|line| line.split(',').next().unwrap_or("").to_string()).collect()
    };
    let by_reference = [
        "RG-01", "RG-02", "RG-03", "RG-04", "RG-05", "RG-06", "RG-07", "RG-08", "RG-09", "RG-10", "RG-11",
        "rg-11", "",
    ];
    assert_eq!(references("reference"), by_reference);
    assert_eq!(references("closing")[..4], ["RG-03", "RG-04", "RG-05", "RG-06"]);
    assert_eq!(references("balance")[..4], ["RG-08", "RG-07", "RG-01", "RG-03"]);
}

#[test]
fn names_stand_only_where_asked_for_and_no_cell_is_a_formula() {
    for form in ["table", "csv", "json"] {
        let output = said(&register(&["--on", ON, "--as", form]).stdout);
        assert!(!output.contains("Ada Rook") && !output.contains("Ivy Lane"), "{output}");
    }
    let csv = said(&register(&["--on", ON, "--as", "csv", "--with-names"]).stdout);
    assert!(csv.contains("RG-09,'=Ivy Lane,"), "{csv}");
    assert!(
        csv.lines().next().expect("a heading").ends_with(
            "packet_digest,carried_into_2024,carried_into_2025,carried_into_2026,carried_into_2027"
        )
    );
    assert!(csv.split("\r\n").all(|line| !line.contains('\n')), "RFC 4180 ends lines with CR LF");
    let table = said(&register(&["--on", ON, "--with-names"]).stdout);
    assert!(table.contains("\n  Ada Rook\n"), "{table}");
}

#[test]
fn a_line_of_the_table_fits_a_hundred_columns() {
    let table = said(&register(&["--on", ON]).stdout);
    let (rows, _) = table.split_once("\n\ninto YEAR").expect("the legend");
    for line in rows.lines().filter(|line| !line.contains("not counted")) {
        assert!(line.chars().count() <= 100, "{line}");
    }
}

#[test]
fn what_fails_is_said_and_the_others_are_done() {
    let output = register(&["--on", ON]);
    assert_eq!(output.status.code(), Some(1));
    let told = said(&output.stderr);
    for words in [
        "error[carried-in-differs] season/differs.case.yaml:",
        "error[wrong-shape] season/older/broken.case.yaml:3:9",
        "error: season/copy-a.case.yaml has the same client reference RG-11 as season/copy-b.case.yaml",
    ] {
        assert!(told.contains(words), "{words}\n{told}");
    }
    assert!(!told.contains("question["), "questions are counted, not told");
}

#[test]
fn files_are_written_whole_and_nothing_is_overwritten() {
    let desk = Scratch::new("out");
    for form in ["csv", "json", "table", "pdf"] {
        let path = desk.0.join(format!("register.{form}"));
        let out = path.to_str().expect("UTF-8");
        let written = register(&["--on", ON, "--as", form, "--out", out]);
        assert_eq!((written.status.code(), written.stdout.len()), (Some(1), 0));
        let bytes = fs::read(&path).expect("the file");
        assert!(bytes.len() > 1_000);
        assert_eq!(bytes.starts_with(b"%PDF-"), form == "pdf");
        let again = register(&["--on", ON, "--as", form, "--out", out]);
        assert_eq!(again.status.code(), Some(4));
        assert!(said(&again.stderr).contains("stands already"));
        assert_eq!(fs::read(&path).expect("the file"), bytes);
    }
    assert_eq!(fs::read_dir(&desk.0).expect("a folder").count(), 4);
    let no_file = register(&["--on", ON, "--as", "pdf"]);
    assert_eq!(no_file.status.code(), Some(2));
    assert!(said(&no_file.stderr).contains("--out"));
}

#[test]
fn packets_stand_beside_their_cases_with_the_digest_of_their_seal() {
    let desk = Scratch::new("packets");
    let cases = desk.0.join("cases");
    fs::create_dir_all(&cases).expect("a folder");
    for name in ["carries", "loses-25c", "asks"] {
        let file = format!("{name}.case.yaml");
        fs::copy(folder().join("season").join(&file), cases.join(&file)).expect("a copy");
    }
    for arguments in [
        &["packet", "cases/carries.case.yaml", "--year", "2024"][..],
        &["packet", "cases/carries.case.yaml", "--year", "2025"],
        &[
            "packet",
            "cases/carries.case.yaml",
            "--year",
            "2025",
            "--replaces",
            "RG-01-2025",
            "--because",
            "a test",
        ],
        &["packet", "cases/loses-25c.case.yaml"],
        &["packet", "cases/asks.case.yaml", "--draft"],
    ] {
        let made = run(&desk.0, &[arguments, &["--dated", ON, "--out", "season/packets"]].concat());
        assert_eq!(made.status.code(), Some(0), "{}", said(&made.stderr));
    }
    // A case that was changed after its packet was made.
    let changed = cases.join("loses-25c.case.yaml");
    let text = fs::read_to_string(&changed).expect("a case");
    fs::write(&changed, text + "# a remark\n").expect("written");
    fs::create_dir_all(desk.0.join("season/packets/HH-9-2025")).expect("a folder");
    fs::write(desk.0.join("season/packets/HH-9-2025/bagit.txt"), "no bag").expect("written");

    let asked = ["register", "cases", "--on", ON, "--packets", "season", "--as"];
    let output = run(&desk.0, &[&asked[..], &["json"]].concat());
    assert_eq!(output.status.code(), Some(0), "{}", said(&output.stderr));
    assert!(said(&output.stderr).contains("HH-9-2025 cannot be read as a packet"));
    let register: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert!(jsonschema::validator_for(&data::schema()).expect("a schema").is_valid(&register));
    let packets = |reference: &str| row(&register, reference)["packets"].as_array().expect("a list").clone();
    let names = |reference: &str| -> Vec<String> {
        packets(reference).iter().map(|one| one["packet"].as_str().expect("a name").to_string()).collect()
    };
    assert_eq!(names("RG-01"), ["RG-01-2024", "RG-01-2025", "RG-01-2025-r2"]);
    for packet in packets("RG-01") {
        let folder = desk.0.join("season/packets").join(packet["packet"].as_str().expect("a name"));
        let seal = fs::read(folder.join("tagmanifest-sha256.txt")).expect("the seal");
        assert_eq!(packet["digest"], gablework::packet::fingerprint(&seal));
        assert_eq!(packet["current"], true);
    }
    assert_eq!(packets("RG-02")[0]["current"], false);
    let draft = &packets("RG-09")[0];
    assert_eq!((&draft["draft"], &draft["digest"]), (&true.into(), &Value::Null));
    let table = said(&run(&desk.0, &[&asked[..], &["table"]].concat()).stdout);
    let latest = table.split_once("Latest packets").expect("the packets").1;
    for (reference, words) in [("RG-01", "RG-01-2025-r2"), ("RG-02", "changed"), ("RG-09", "draft")] {
        let line = latest.lines().find(|line| line.starts_with(reference)).expect("a line");
        assert!(line.contains(words), "{line}");
    }
}

/// By hand: on RG-01 the tax of 400 stays as on its last return, so 1,600 last for 2026 to 2029, and 1,200 more tax in
/// 2026 would use them there. On RG-08 the tax of 1,000 takes 3,500 in 2027 to 2030, and 3,500 more in 2026, whose return
/// is only projected, would use them there.
#[test]
fn years_to_come_are_an_if() {
    let register = json(ON);
    let told = |reference: &str| {
        let one = &row(&register, reference)["account"]["if"];
        let more = &one["more_tax"];
        format!("{} {} {} {}", one["last_return"], one["used_up_in"], more["in"], more["amount"])
    };
    assert_eq!(told("RG-01"), "2025 2029 2026 \"1200.00\"");
    assert_eq!(told("RG-08"), "2026 2030 2026 \"3500.00\"");
    assert_eq!(row(&register, "RG-02")["account"]["if"], Value::Null, "nothing is carried");
}

/// Copies a case many times, each with a reference of its own.
fn many_cases(folder: &Path, n: usize) {
    let text = fs::read_to_string(self::folder().join("season/draft.case.yaml")).expect("a case");
    fs::create_dir_all(folder).expect("a folder");
    for n in 0..n {
        let reference = format!("MANY-{n:05}");
        let file = folder.join(format!("{reference}.case.yaml"));
        fs::write(file, text.replace("RG-08", &reference)).expect("written");
    }
}

#[test]
fn a_long_register_comes_in_volumes_and_its_rows_are_each_in_one() {
    let desk = Scratch::new("volumes");
    many_cases(&desk.0.join("cases"), 1_050);
    let output = run(&desk.0, &["register", "cases", "--on", ON, "--as", "pdf", "--out", "out/season.pdf"]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output.stderr));
    let mut rows = Vec::new();
    for volume in ["season-1-of-2.pdf", "season-2-of-2.pdf"] {
        let printed = Command::new("pdftotext")
            .arg("-layout")
            .arg(desk.0.join("out").join(volume))
            .arg("-")
            .output()
            .expect("pdftotext runs");
        let text = said(&printed.stdout);
        assert_eq!(text.contains("25D credit carried into each tax year"), volume.contains("1-of-2"));
        // Of each, 4,500 are carried into 2026 and 3,500 into 2027.
        let cases = text.lines().map(str::trim).filter(|line| line.starts_with("MANY-"));
        rows.extend(cases.map(|line| line.split_whitespace().take(3).collect::<Vec<_>>().join(" ")));
    }
    assert_eq!(rows.len(), 1_050);
    for (n, row) in rows.iter().enumerate() {
        assert_eq!(row, &format!("MANY-{n:05} 4,500* 3,500*"));
    }
    assert_eq!(fs::read_dir(desk.0.join("out")).expect("a folder").count(), 2);
}

#[test]
fn one_name_that_cannot_be_printed_does_not_hold_up_the_paper() {
    let desk = Scratch::new("characters");
    let text = fs::read_to_string(folder().join("season/draft.case.yaml")).expect("a case");
    fs::write(desk.0.join("a.case.yaml"), text.replace("Hal Brook", "Hal \u{6797} Brook")).expect("written");
    let arguments = ["register", ".", "--on", ON, "--with-names", "--as", "pdf", "--out", "out.pdf"];
    let output = run(&desk.0, &arguments);
    let told = said(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{told}");
    assert!(told.contains("the typeface of the papers has no \"\u{6797}\""), "{told}");
    let printed =
        Command::new("pdftotext").arg(desk.0.join("out.pdf")).arg("-").output().expect("pdftotext runs");
    assert!(said(&printed.stdout).contains("RG-08: not counted: 1 error"));
}

/// Stopped at some moment the program leaves no file, or a whole one.
#[cfg(unix)]
#[test]
fn interrupted_it_leaves_nothing_half_written() {
    let desk = Scratch::new("interrupted");
    many_cases(&desk.0.join("cases"), 300);
    let out = desk.0.join("out");
    let arguments = ["register", "cases", "--on", ON, "--as", "csv", "--out", "out/season.csv"];
    let whole = run(&desk.0, &arguments);
    assert_eq!(whole.status.code(), Some(0), "{}", said(&whole.stderr));
    let wanted = fs::read(out.join("season.csv")).expect("the register");
    let mut stopped = 0;
    for wait in [20, 40, 80, 160, 320, 640, 1_280] {
        let _ = fs::remove_dir_all(&out);
        let child = Command::new(env!("CARGO_BIN_EXE_gablework"))
            .current_dir(&desk.0)
            .args(arguments)
            .stderr(std::process::Stdio::null())
            .spawn();
        let mut child = child.expect("the program runs");
        std::thread::sleep(std::time::Duration::from_millis(wait));
        let _ = Command::new("kill").args(["-INT", &child.id().to_string()]).status();
        let status = child.wait().expect("it ends");
        stopped += usize::from(status.code() == Some(130));
        match fs::read(out.join("season.csv")) {
            Ok(bytes) => assert!(status.success() && bytes == wanted, "a register that is not whole"),
            Err(_) => assert!(!status.success(), "it says that it is done"),
        }
        let left = fs::read_dir(&out).map_or(0, |files| {
            files.filter(|one| one.as_ref().is_ok_and(|one| one.file_name() != "season.csv")).count()
        });
        assert_eq!(left, 0, "something lies beside the register");
    }
    assert!(stopped > 0, "it was never caught at work");
}

#[test]
fn the_day_is_today_and_is_said_where_none_is_given() {
    let output = register(&["--as", "csv"]);
    let told = said(&output.stderr);
    let day = told.lines().next().and_then(|line| line.strip_prefix("On ")).expect("the day");
    let day: jiff::civil::Date = day.parse().expect("a day");
    let csv = said(&output.stdout);
    assert!(csv.lines().nth(1).expect("a row").contains(&format!(",{day},")), "{csv}");
}
