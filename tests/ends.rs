//! How commands end: what cannot be printed is reported, and no command fails without a reason.

use crate::batches::{Desk, case};
use crate::exit_codes::demo;
use crate::findings::{Bad, catalog};
use crate::support::program::{err, out, program, root};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

/// A folder with a case, its packet, and a register of it.
fn desk(name: &str) -> Desk {
    let desk = Desk::new(name);
    desk.write("a.case.yaml", &case("HH-1"));
    desk.write("clients.csv", "Reference,Name\nHH-2,Ada Rook\n");
    let made = desk.run("packet a.case.yaml --dated 2026-11-12 --out sealed");
    assert_eq!(made.status.code(), Some(0), "{}", err(&made));
    desk
}

/// A line for every way in which a command prints data. `%` is another number in every run.
const PRINTING: &[&str] = &[
    "intake clients.csv --into taken-% --try",
    "packet a.case.yaml --dated 2026-11-12 --out made-%",
    "packet a.case.yaml --dated 2026-11-12 --out sealed",
    "packet a.case.yaml --out today-%",
    "remind . --for 2026 --dated 2026-11-12 --out season-%",
    "check a.case.yaml",
    "check a.case.yaml --as json",
    "figures a.case.yaml",
    "figures a.case.yaml --as json",
    "figures a.case.yaml --as csv",
    "why a.case.yaml 440",
    "why a.case.yaml 400 --as json",
    "suppose a.case.yaml --tax 2026=5000",
    "suppose a.case.yaml --tax 2026=5000 --as json",
    "register . --on 2026-11-12",
    "register . --on 2026-11-12 --as json",
    "register . --on 2026-11-12 --as csv",
    "verify sealed/HH-1-2026 --no-log",
    "verify sealed --no-log --as json",
    "law",
    "law 2025",
    "law --as json",
    "law 2025 --as json",
    "kit kit-%",
    "schema",
    "schema firm",
    "schema figures",
    "schema register",
    "schema suppose",
    "completions bash",
    "completions zsh",
    "completions fish",
    "completions elvish",
    "completions powershell",
    "manual",
    "manual packet",
    "--help",
    "--version",
    "help",
    "begin --help",
    "begin -h",
];

fn ended(desk: &Desk, line: &str, output: Stdio, errors: Stdio) -> Output {
    static RUNS: AtomicUsize = AtomicUsize::new(0);
    let line = line.replace('%', &RUNS.fetch_add(1, Ordering::Relaxed).to_string());
    let mut program = program(&desk.0);
    program.args(line.split(' ')).stdin(Stdio::null()).stdout(output).stderr(errors);
    let child = program.spawn().expect("the program starts");
    child.wait_with_output().expect("it ends")
}

#[test]
fn every_command_is_among_those_whose_output_is_tried() {
    let help = out(&Desk::new("ends-help").run("--help"));
    let listed = help.split("Commands:").nth(1).and_then(|rest| rest.split("Options:").next());
    let commands: BTreeSet<&str> = listed
        .expect("a list of commands")
        .lines()
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    assert!(commands.len() > 10, "{commands:?}");
    let tried: BTreeSet<&str> = PRINTING.iter().filter_map(|line| line.split(' ').next()).collect();
    assert!(commands.is_subset(&tried), "not tried: {:?}", commands.difference(&tried));
}

/// A device that is always full stands for a full disk.
#[cfg(target_os = "linux")]
#[test]
fn output_that_cannot_be_written_is_an_error_of_every_command() {
    let full = || Stdio::from(std::fs::File::options().write(true).open("/dev/full").expect("/dev/full"));
    let desk = desk("ends-full");
    for line in PRINTING {
        let failed = ended(&desk, line, full(), Stdio::piped());
        let told = err(&failed);
        assert_eq!(failed.status.code(), Some(4), "{line}: {told}");
        assert!(told.contains("standard output cannot be written"), "{line}: {told}");
        assert!(told.contains("help: make room"), "{line}: {told}");
        // Nobody can be told anything: the code remains.
        let mute = ended(&desk, &line.replace("kit kit-%", "kit other"), full(), full());
        assert!(mute.status.code().is_some_and(|code| code == 4), "{line}: {:?}", mute.status);
    }
}

#[test]
fn a_reader_that_has_gone_away_is_no_error() {
    let desk = desk("ends-gone");
    for line in PRINTING {
        let (reader, writer) = std::io::pipe().expect("a pipe");
        drop(reader);
        let gone = ended(&desk, line, Stdio::from(writer), Stdio::piped());
        assert_eq!(gone.status.code(), Some(0), "{line}: {}", err(&gone));
        assert!(!err(&gone).contains("error"), "{line}: {}", err(&gone));
    }
}

/// Words that nobody can read change nothing about how a command ends.
#[cfg(target_os = "linux")]
#[test]
fn words_that_nobody_can_read_end_no_command() {
    let full = || Stdio::from(std::fs::File::options().write(true).open("/dev/full").expect("/dev/full"));
    let desk = desk("ends-mute");
    desk.write("bad.case.yaml", "format: 1\n");
    for (line, code) in [
        ("check bad.case.yaml", 1),
        ("figures bad.case.yaml", 1),
        ("packet bad.case.yaml --dated 2026-11-12", 1),
        ("check nothing.case.yaml", 4),
        ("register . --on 2026-11-12", 1),
        ("verify .", 0),
        ("figures a.case.yaml --year 1999", 2),
        ("nonsense", 2),
        ("begin", 130),
    ] {
        let mute = ended(&desk, line, Stdio::null(), full());
        assert_eq!(mute.status.code(), Some(code), "{line}");
    }
}

/// The system's own streams are not what the tests above replace.
#[test]
fn a_closed_standard_output_is_taken_as_nobody_listening() {
    let desk = desk("ends-closed");
    let script = "exec \"$0\" figures a.case.yaml >&-";
    let mut shell = Command::new("sh");
    shell.current_dir(&desk.0).args(["-c", script, env!("CARGO_BIN_EXE_gablework")]);
    let closed = shell.output().expect("a shell");
    assert_eq!(closed.status.code(), Some(0), "{}", err(&closed));
}

/// How long a command may take over a bad case, far above what it needs on a busy machine.
const PATIENCE: Duration = Duration::from_secs(30);

/// Every command over a case, one line each.
const OVER_A_CASE: &[&str] = &[
    "check @",
    "check @ --as json",
    "figures @",
    "figures @ --as json",
    "why @ 440",
    "packet @ --dated 2026-11-12 --out sealed",
    "packet @ --dated 2026-11-12 --out drafts --draft",
    "register @ --on 2026-11-12",
    "remind @ --for 2027 --dated 2026-12-01 --out season",
    "verify @ --no-log",
];

/// No command fails without a word about why, each ends in time, each finding has its place in the case, and what
/// keeps a packet from being made is found by `check`.
#[test]
fn every_command_over_every_bad_case_says_why_it_fails() {
    let bad = catalog();
    let next = AtomicUsize::new(0);
    let wrong = Mutex::new(Vec::new());
    // More than cores, because some wait for the disk.
    let workers = std::thread::available_parallelism().map_or(8, |cores| cores.get() * 4);
    std::thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(|| {
                while let Some(one) = bad.get(next.fetch_add(1, Ordering::Relaxed)) {
                    let told = over(one);
                    wrong.lock().expect("a list").extend(told);
                }
            });
        }
    });
    let mut wrong = wrong.into_inner().expect("a list");
    wrong.sort();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Runs every command over a bad case, and returns what is not as it should be.
fn over(bad: &Bad) -> Vec<String> {
    let mut wrong = Vec::new();
    let mut must = |holds: bool, told: String| {
        if !holds {
            wrong.push(told);
        }
    };
    let what = format!("{}/{}", bad.code, bad.name);
    let desk = Desk::new(&format!("ends-{}-{}", bad.code, bad.name));
    std::fs::write(desk.0.join(&bad.name), &bad.bytes).expect("a case");
    let mut ends = BTreeMap::new();
    let mut found = Value::Null;
    for line in OVER_A_CASE {
        let begun = Instant::now();
        let ended = desk.run(&line.replace('@', &bad.name));
        let code = ended.status.code();
        must(begun.elapsed() < PATIENCE, format!("{what}: {line} takes {:?}", begun.elapsed()));
        must(
            code.is_some_and(|code| (0..=4).contains(&code)),
            format!("{what}: {line}: {code:?} {}", err(&ended)),
        );
        must(
            code == Some(0) || !err(&ended).trim().is_empty(),
            format!("{what}: {line}: {code:?} without a word"),
        );
        if *line == "check @ --as json" {
            found = serde_json::from_slice(&ended.stdout).expect("findings");
        }
        ends.insert(*line, code);
    }
    let findings = found["findings"].as_array().expect("a list");
    for finding in findings {
        must(finding["at"]["line"].as_u64().is_some(), format!("{what}: without a place: {finding}"));
    }
    let (checked, sealed) = (ends["check @"], ends["packet @ --dated 2026-11-12 --out sealed"]);
    let waits = findings.iter().any(|finding| finding["blocking"] == true);
    let refused = checked == Some(1) || waits;
    must(
        sealed == Some(i32::from(refused)),
        format!("{what}: `packet` ends with {sealed:?}, `check` with {checked:?}, questions wait: {waits}"),
    );
    wrong
}

/// A household that nothing is wrong with, with something put in another's place.
fn changed(from: &str, to: &str) -> String {
    let whole = case("HH-1");
    assert!(whole.contains(from), "{from}");
    whole.replace(from, to)
}

const FIRM: &str = "name: Larch Tax\naddress: {street: 1 Larch Way, city: Old Quay, state: ME, zip: 04990}\n\
                    phone: 207-555-0142\nsignatory: R. Larch\n";

/// What refuses a packet, and the place where `check` finds it.
#[test]
fn what_refuses_a_packet_is_found_by_check_at_its_line() {
    let names = |names: &str| changed("names: [", &format!("names: [{names}"));
    let long = "Bartholomew Featherstonehaugh-Wolverhampton";
    let evidence = |rows: &str| changed("evidence:\n", &format!("evidence:\n{rows}"));
    let firm = |from: &str, to: &str| {
        assert!(FIRM.contains(from));
        Some(FIRM.replace(from, to))
    };
    let wide = "WWWWW ".repeat(32);
    let tall =
        FIRM.replace("name: Larch Tax", &format!("name: {wide}")).replace("1 Larch Way", wide.trim_end());
    for (what, text, firm, code, place) in [
        ("four names", names("Alma Birch, Bruno Birch, Carla Birch, "), None, "page-fault", "a.case.yaml"),
        ("a long name", names(&format!("{long}, ")), None, "page-fault", "a.case.yaml"),
        (
            "a long street",
            changed(
                "street: 12 Lantern Hill, city: Old Quay, state: ME, zip: \"04990\"}\n  eng",
                "street: 12 Long And Winding Lantern Hill Road Upper Floor West, city: Old Quay, state: ME, zip: \"04990\"}\n  eng",
            ),
            None,
            "page-fault",
            "a.case.yaml",
        ),
        (
            "a paper that is not there",
            evidence("  lost: {type: other, on_file: true, file: lost.pdf}\n"),
            None,
            "paper-unreadable",
            "a.case.yaml",
        ),
        (
            "a paper named twice",
            evidence(
                "  one: {type: other, on_file: true, file: one.pdf}\n  two: {type: other, on_file: true, file: one.pdf}\n",
            ),
            None,
            "packet-names",
            "a.case.yaml",
        ),
        ("a sender too tall", case("HH-1"), Some(tall), "page-fault", "firm.yaml"),
        ("half a firm", case("HH-1"), firm("phone: 207-555-0142\n", ""), "missing-key", "firm.yaml"),
        (
            "a logo that is not there",
            case("HH-1"),
            firm("signatory", "logo: lost.png\nsignatory"),
            "logo-unreadable",
            "firm.yaml",
        ),
    ] {
        let desk = Desk::new("ends-agree");
        desk.write("a.case.yaml", &text);
        desk.write("one.pdf", "a paper");
        if let Some(firm) = firm {
            desk.write("firm.yaml", &firm);
        }
        let checked = desk.run("check a.case.yaml --as json");
        assert_eq!(checked.status.code(), Some(1), "{what}: {}", err(&checked));
        let found: Value = serde_json::from_slice(&checked.stdout).expect("findings");
        let errors: Vec<&Value> = found["findings"]
            .as_array()
            .expect("a list")
            .iter()
            .filter(|finding| finding["severity"] == "error")
            .collect();
        assert_eq!(errors.len(), 1, "{what}: {found:#}");
        assert_eq!(errors[0]["code"], code, "{what}");
        assert_eq!(errors[0]["at"]["file"], place, "{what}");
        assert!(errors[0]["at"]["line"].as_u64().is_some_and(|line| line > 0), "{what}: {found:#}");
        let packet = desk.run("packet a.case.yaml --dated 2026-11-12");
        assert_eq!(packet.status.code(), Some(1), "{what}: {}", err(&packet));
        let line = format!("{place}:{}:{}", errors[0]["at"]["line"], errors[0]["at"]["column"]);
        assert!(err(&packet).contains(&format!("error[{code}] {line}")), "{what}, {line}: {}", err(&packet));
        assert!(!desk.0.join("packets").exists(), "{what}");
    }
}

/// More files than a packet may have: found before any is made.
#[test]
fn more_than_a_packet_holds_is_found_by_check() {
    let desk = Desk::new("ends-many");
    desk.write("a.case.yaml", &case("HH-1"));
    assert_eq!(desk.run("kit kit").status.code(), Some(0));
    let letter = "---\nkit: 1\nwhen: amends\nsubject: Never sent\n---\nNothing.\n";
    for n in 0..5_000 {
        std::fs::write(desk.0.join(format!("kit/letters/en/other-{n}.md")), letter).expect("a letter");
    }
    let checked = desk.run("check a.case.yaml --kit kit");
    assert_eq!(checked.status.code(), Some(1), "{}", err(&checked));
    let told = out(&checked);
    assert!(told.contains("error[packet-names] a.case.yaml:"), "{told}");
    assert!(
        told.contains("the packet would have 5,0") && told.contains("5,000 of 200,000,000 bytes"),
        "{told}"
    );
    assert!(told.contains("help: take out of the kit"), "{told}");
    let packet = desk.run("packet a.case.yaml --dated 2026-11-12 --kit kit");
    assert_eq!(packet.status.code(), Some(1), "{}", err(&packet));
    assert!(err(&packet).contains("error[packet-names] a.case.yaml:"), "{}", err(&packet));
    assert!(!desk.0.join("packets").exists());
}

/// The case goes into its packet under its own name, which other systems must be able to keep.
#[cfg(unix)]
#[test]
fn a_name_of_the_case_file_that_refuses_a_packet_is_found_by_check() {
    for name in ["a\"b".to_string(), "a?".to_string(), "x".repeat(230)] {
        let desk = Desk::new("ends-name");
        desk.write(&format!("{name}.case.yaml"), &case("HH-1"));
        let checked = desk.run("check .");
        assert_eq!(checked.status.code(), Some(1), "{name}: {}", err(&checked));
        let told = String::from_utf8_lossy(&checked.stdout).into_owned();
        assert!(told.contains("error[packet-names]"), "{name}: {told}");
        let packet = desk.run("packet . --dated 2026-11-12");
        assert_eq!(packet.status.code(), Some(1), "{name}: {}", err(&packet));
        assert!(err(&packet).contains("error[packet-names]"), "{name}: {}", err(&packet));
        assert!(!desk.0.join("packets").exists(), "{name}");
    }
}

/// A case that speaks of no tax year, or of a balance alone: each command that needs a figure says so.
#[test]
fn a_case_without_figures_is_told_of_by_every_command_that_needs_them() {
    let none = "format: 1\nclient: {reference: HH-1, people: [{name: Ada Rook}]}\n";
    let balance = format!("{none}carried_in:\n  2026: {{amount: 310, shown_on: 2025 Form 5695 line 16}}\n");
    for (text, place) in [(none, "a.case.yaml:2:21"), (&balance, "a.case.yaml:4:18")] {
        let desk = Desk::new("ends-no-figures");
        desk.write("a.case.yaml", text);
        // A client who brings a balance in January has no return yet, and nothing is wrong with the case.
        let checked = desk.run("check a.case.yaml");
        let (code, word) =
            if text == none { (1, "error[nothing-to-compute]") } else { (0, "note[return-awaited]") };
        assert_eq!(checked.status.code(), Some(code), "{}", err(&checked));
        assert!(out(&checked).contains(&format!("{word} {place}")), "{}", out(&checked));
        for line in [
            "figures a.case.yaml",
            "figures a.case.yaml --year 2026 --as json",
            "why a.case.yaml 440",
            "packet a.case.yaml --dated 2026-11-12",
            "packet a.case.yaml --dated 2026-11-12 --draft --year 2026",
        ] {
            let told = desk.run(line);
            assert_eq!(told.status.code(), Some(1), "{line}: {}", err(&told));
            let both = format!("{}{}", out(&told), err(&told));
            assert!(both.contains(&format!("error[nothing-to-compute] {place}")), "{line}: {both}");
            assert!(!err(&told).trim().is_empty(), "{line}");
        }
        assert_eq!(desk.run("register . --on 2026-11-12").status.code(), Some(0));
    }
}

/// The catalog under `tests/findings` records what is told first; a terminal shows the same order.
#[test]
fn check_tells_findings_in_the_order_of_what_they_change() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/findings");
    for (folder, name) in [
        ("counts-in-another-year", "without-papers"),
        ("carried-in-lost", "carried-in-lost"),
        ("pool-labor", "pool-labor"),
        ("two-homes-and-joint-owners", "two-homes-and-joint-owners"),
    ] {
        let read = |path| std::fs::read_to_string(path).expect("a file of the catalog");
        let at = |end: &str| root.join(folder).join(format!("{name}.{end}"));
        let (text, told) = (read(at("case.yaml")), read(at("txt")));
        let desk = Desk::new("ends-order");
        desk.write("a.case.yaml", &text);
        let checked = out(&desk.run("check a.case.yaml"));
        let codes = |text: &str| -> Vec<String> {
            let heads =
                text.lines().filter(|line| !line.starts_with(' ')).filter_map(|line| line.split_once('['));
            heads.filter_map(|(_, rest)| Some(rest.split_once(']')?.0.to_string())).collect()
        };
        assert!(!codes(&told).is_empty(), "{folder}");
        assert_eq!(codes(&checked), codes(&told), "{folder}");
    }
}

#[test]
fn check_finds_cases_that_share_a_reference() {
    let desk = Desk::new("ends-shared");
    desk.write("a.case.yaml", &case("HH-1"));
    desk.write("b.case.yaml", &case("hh-1"));
    desk.write("c.case.yaml", &case("HH-2"));
    let checked = desk.run("check .");
    assert_eq!(checked.status.code(), Some(1));
    assert_eq!(out(&checked).matches("error[reference-shared]").count(), 2, "{}", out(&checked));
    assert!(err(&checked).contains("2 of 3 cases have errors"), "{}", err(&checked));
    assert!(out(&checked).ends_with("\n3 cases: 2 with errors, 1 clean\n"), "{}", out(&checked));
    assert_eq!(desk.run("check a.case.yaml c.case.yaml").status.code(), Some(0));
}

/// Each case is counted once, by the gravest of its findings, and only notes leave it clean.
#[test]
fn check_ends_with_a_count_of_what_the_cases_of_a_folder_came_to() {
    let desk = Desk::new("ends-count");
    let asks = root().join("tests/findings/roof-words/roof-words.case.yaml");
    desk.write("error.case.yaml", "format: 1\nclient: 7\n");
    desk.write("question.case.yaml", &std::fs::read_to_string(asks).expect("a case that asks"));
    desk.write("warning.case.yaml", &demo("finished-in-january"));
    desk.write("notes.case.yaml", &case("HH-2"));
    std::os::unix::fs::symlink("nowhere", desk.join("unread.case.yaml")).expect("a link");
    let count = "5 cases: 1 cannot be read, 1 with errors, 1 with open questions, 1 with warnings, 1 clean";
    let checked = desk.run("check .");
    assert_eq!(checked.status.code(), Some(4), "{}", err(&checked));
    assert_eq!(out(&checked).lines().last(), Some(count));
    let data: Value = serde_json::from_slice(&desk.run("check . --as json").stdout).expect("data");
    let counts =
        serde_json::json!({"cases": 5, "unread": 1, "errors": 1, "questions": 1, "warnings": 1, "clean": 1});
    assert_eq!(data["counts"], counts);
    // A folder of one case is a folder; of a case that was named its own line says all.
    let alone = |line: &str| out(&desk.run(line)).matches("case: ").count();
    std::fs::create_dir(desk.join("one")).expect("a folder");
    desk.write("one/a.case.yaml", &case("HH-3"));
    assert_eq!((alone("check one"), alone("check one/a.case.yaml")), (1, 0));
}

/// A firm file that became unusable is told of also where the packet that was made before is up to date but for it.
#[test]
fn a_broken_firm_file_beside_a_packet_is_an_error() {
    for draft in ["", " --draft"] {
        let desk = Desk::new("ends-firm");
        desk.write("a.case.yaml", &case("HH-1"));
        let line = format!("packet a.case.yaml --dated 2026-11-12{draft}");
        assert_eq!(desk.run(&line).status.code(), Some(0));
        desk.write("firm.yaml", "name: [\n");
        let told = desk.run(&line);
        assert_eq!(told.status.code(), Some(1), "{}", err(&told));
        assert!(err(&told).contains("firm.yaml:1:"), "{}", err(&told));
        assert!(err(&told).contains("the firm file firm.yaml cannot be used"), "{}", err(&told));
    }
}

/// What it makes, how, and the words it is refused with.
#[cfg(unix)]
type Maker<'a> = (&'a str, &'a dyn Fn(&Path), &'a str);

/// What has the name of a firm file is meant for one.
#[cfg(unix)]
#[test]
fn a_firm_file_that_is_no_file_is_an_error_of_every_command_that_looks_for_it() {
    use std::os::unix::fs::symlink;
    let pipe = |path: &Path| {
        assert!(Command::new("mkfifo").arg(path).status().expect("mkfifo runs").success());
    };
    let link = |path: &Path| symlink("nowhere.yaml", path).expect("a link");
    let folder = |path: &Path| std::fs::create_dir(path).expect("a folder");
    let makers: [Maker<'_>; 3] = [
        ("a link to nothing", &link, "No such file"),
        ("a pipe", &pipe, "it is a pipe or a device"),
        ("a folder", &folder, "it is a folder"),
    ];
    for (what, make, words) in makers {
        let desk = Desk::new("ends-no-firm");
        desk.write("a.case.yaml", &case("HH-1"));
        make(&desk.0.join("firm.yaml"));
        for line in [
            "packet a.case.yaml --dated 2026-11-12",
            "packet . --dated 2026-11-12 --draft",
            "check a.case.yaml",
            "remind . --for 2026 --dated 2026-11-12",
        ] {
            let told = desk.run(line);
            assert_eq!(told.status.code(), Some(4), "{what}: {line}: {}", err(&told));
            let both = format!("{}{}", out(&told), err(&told));
            assert!(both.contains("firm-unreadable") && both.contains(words), "{what}: {line}: {both}");
        }
        assert_eq!(desk.names("."), ["a.case.yaml", "firm.yaml"], "{what}");
    }
}

/// Without a firm file a packet is sealed with letters that have no sender, which is said before.
#[test]
fn a_packet_without_a_firm_file_is_warned_of_before_it_is_sealed() {
    let desk = Desk::new("ends-no-sender");
    desk.write("a.case.yaml", &case("HH-1"));
    desk.write("b.case.yaml", &case("HH-2"));
    let warned = |line: &str| {
        let made = desk.run(&format!("{line} --dated 2026-11-12"));
        assert_eq!(made.status.code(), Some(0), "{}", err(&made));
        err(&made).matches("warning: there is no firm file, so the letters lack the firm's name").count()
    };
    assert_eq!(warned("packet a.case.yaml --out one"), 1);
    assert_eq!(warned("packet . --out many"), 1, "once for a folder");
    assert_eq!(warned("packet a.case.yaml --out drafts --draft"), 0);
    desk.write("firm.yaml", FIRM);
    assert_eq!(warned("packet a.case.yaml --out firm"), 0);
}
