//! The README's table of exit codes: the program's help says the same, and every example in it is run.

use crate::batches::{Desk, case};
use crate::support::program::{err, out, program, root, run, run_typed, said};
use std::fs;
use std::process::{Output, Stdio};

/// The rows of the table: code, meaning, examples.
fn table() -> Vec<(String, String, Vec<String>)> {
    let readme = fs::read_to_string(root().join("README.md")).expect("the README");
    let (_, table) =
        readme.split_once("| code | meaning | for example |\n|---|---|---|\n").expect("the table");
    let rows = table.lines().take_while(|line| line.starts_with('|'));
    rows.map(|row| {
        let cells: Vec<&str> = row.trim_matches('|').split('|').map(str::trim).collect();
        let [code, meaning, examples] = cells[..] else { panic!("three columns: {row}") };
        let examples = examples.split("; ").map(String::from).collect();
        (code.to_string(), meaning.to_string(), examples)
    })
    .collect()
}

#[test]
fn the_help_lists_the_same_codes_as_the_readme() {
    let help = out(&run(root(), &["--help"]));
    let (_, listed) = help.split_once("Exit codes:\n").expect("the help lists the exit codes");
    let listed: Vec<(String, String)> = listed
        .lines()
        .take_while(|line| !line.trim().is_empty())
        .map(|line| line.trim().split_once(' ').expect("a code and its meaning"))
        .map(|(code, meaning)| (code.to_string(), meaning.trim().to_string()))
        .collect();
    let table: Vec<(String, String)> =
        table().into_iter().map(|(code, meaning, _)| (code, meaning)).collect();
    assert_eq!(table, listed);
}

const ERROR: &str = "format: 1\nclient: 7\n";

/// A case with a warning.
fn warned() -> String {
    demo("finished-in-january")
}

/// A demo case with its papers kept elsewhere.
pub fn demo(name: &str) -> String {
    let text = fs::read_to_string(root().join(format!("demo/{name}.case.yaml"))).expect("a demo case");
    text.replace("file: papers/", "where: binder ")
}

fn season(name: &str) -> String {
    fs::read_to_string(root().join(format!("tests/season/{name}.case.yaml"))).expect("a case of the season")
}

/// A desk with a packet of one case.
fn sealed(name: &str) -> Desk {
    let desk = Desk::new(name);
    desk.write("a.case.yaml", &case("HH-1"));
    let made = desk.run("packet a.case.yaml --dated 2026-11-12 --out sealed");
    assert_eq!(made.status.code(), Some(0), "{}", err(&made));
    desk
}

/// A desk with a packet of which a byte was changed.
fn changed(name: &str) -> Desk {
    let desk = sealed(name);
    let worksheet = desk.join("sealed/HH-1-2026/data/worksheet.pdf");
    let mut bytes = fs::read(&worksheet).expect("the worksheet");
    bytes[100] ^= 1;
    fs::write(worksheet, bytes).expect("written");
    desk
}

/// Runs the example of a row, and returns how it ended with words that must have been said; nothing for an example that
/// this list does not know.
fn example(words: &str) -> Option<(Output, &'static str)> {
    let with = |text: &str, line: &str| {
        let desk = Desk::new("code");
        desk.write("a.case.yaml", text);
        desk.run(line)
    };
    let ended = match words {
        "`check` of a case with a warning" => (with(&warned(), "check a.case.yaml"), "1 warning"),
        "`packet` where a sealed packet is up to date, which it says" => (
            sealed("code").run("packet a.case.yaml --out sealed"),
            "stands and is up to date; nothing was made",
        ),
        "`packet` of a folder in which some cases have nothing for `--year`" => {
            let desk = Desk::new("code");
            desk.write("a.case.yaml", &case("HH-1"));
            desk.write("b.case.yaml", &demo("condominium"));
            (desk.run("packet . --year 2026 --dated 2026-11-12"), "1 made, 1 left out")
        }
        "`remind` where no client has credit left" => (
            with(&demo("condominium"), "remind . --for 2026 --dated 2027-01-05"),
            "no credit is left                                         1",
        ),
        "`check` of a case with an error" => (with(ERROR, "check a.case.yaml"), "error: the case has errors"),
        "`check --strict` of a case with a warning" => (
            with(&warned(), "check --strict a.case.yaml"),
            "error: the case has errors, warnings or questions",
        ),
        "`packet` of a case with a question that could change a figure" => (
            with(&season("open-question"), "packet a.case.yaml --dated 2026-11-12"),
            "answers:\n  - {question:",
        ),
        "`packet` of two cases with one reference" => {
            let desk = Desk::new("code");
            desk.write("a.case.yaml", &case("HH-1"));
            desk.write("b.case.yaml", &case("HH-1"));
            (desk.run("packet . --dated 2026-11-12"), "2 cases: 2 refused")
        }
        "`packet` with a firm file that has errors" => {
            let desk = Desk::new("code");
            desk.write("a.case.yaml", &case("HH-1"));
            desk.write("firm.yaml", "name: [x]\n");
            (desk.run("packet a.case.yaml --dated 2026-11-12"), "the firm file firm.yaml cannot be used")
        }
        "`remind` where a letter waits for an answer, with the client named" => (
            with(&season("open-question"), "remind . --for 2026 --dated 2027-01-05"),
            "error: 1 client gets no letter before the case is fixed:\n  ",
        ),
        "`register` of a case with an error" => (with(ERROR, "register . --on 2026-11-12"), "error["),
        "an unknown option" => (with("", "check --nonsense"), "help: "),
        "`figures` of a year that the case does not have" => (
            with(&case("HH-1"), "figures a.case.yaml --year 2012"),
            "error: the case has no figures for 2012",
        ),
        "`why` of a line that the case does not have" => {
            (with(&case("HH-1"), "why a.case.yaml 2012:440"), "error: the case has no line 2012:440")
        }
        "`packet --replaces` of a packet that is not there" => (
            sealed("code").run(
                "packet a.case.yaml --dated 2026-11-12 --out sealed --replaces HH-1-2020 --because mistake",
            ),
            "there is no packet `HH-1-2020`",
        ),
        "`verify` of a packet with a changed byte" => {
            (changed("code").run("verify sealed/HH-1-2026 --no-log"), "worksheet.pdf")
        }
        "`packet --replaces` of such a packet" => {
            let desk = changed("code");
            desk.write("a.case.yaml", &(case("HH-1") + "# later\n"));
            let line =
                "packet a.case.yaml --dated 2026-11-12 --out sealed --replaces HH-1-2026 --because mistake";
            (desk.run(line), "is not as it was sealed")
        }
        "a case file that is not there" => {
            (with(ERROR, "check b.case.yaml"), "error: cannot read b.case.yaml")
        }
        "a folder without cases" => (Desk::new("code").run("check ."), "error: no file named *.case.yaml"),
        "`packet` where a sealed packet was made from something else" => {
            let desk = sealed("code");
            desk.write("a.case.yaml", &(case("HH-1") + "# later\n"));
            (desk.run("packet a.case.yaml --dated 2026-11-12 --out sealed"), "the case was changed")
        }
        "`remind` where the season's folder is there already" => {
            let desk = Desk::new("code");
            desk.write("a.case.yaml", &case("HH-1"));
            fs::create_dir(desk.join("season-2026")).expect("a folder");
            (desk.run("remind . --for 2026 --dated 2027-01-05"), "--replace")
        }
        "output to a full disk" => {
            let full =
                fs::File::options().write(true).open("/dev/full").expect("a device that is always full");
            let mut full_disk = program(root());
            full_disk.args(["law", "2025"]).stdout(full).stderr(Stdio::piped());
            (full_disk.spawn().expect("it starts").wait_with_output().expect("it ends"), "help: make room")
        }
        "`intake` of a list in which a client is refused" => {
            let desk = Desk::new("code");
            desk.write("clients.csv", "Reference,Name,State,ZIP\nHH-1,Ada Rook,OH,1040\n");
            (desk.run("intake clients.csv --into cases"), "1 client was refused")
        }
        "`begin` where the input ends before the case is written" => {
            (run_typed(&Desk::new("code").0, &["begin", "--plain"], "HH-0120\n"), "HH-0120")
        }
        _ => return None,
    };
    Some(ended)
}

#[cfg(target_os = "linux")]
#[test]
fn every_example_of_the_readme_ends_with_its_code_and_a_reason() {
    let mut run = 0;
    for (code, _, examples) in table() {
        for words in examples {
            match words.as_str() {
                // A fault is by its nature not known; `cli` tests that one ends so.
                "none is known" => assert_eq!(code, "70"),
                "a limit on memory that is too low" => assert_eq!(code, "134"),
                words => {
                    let (ended, wanted) =
                        example(words).unwrap_or_else(|| panic!("the README's example is not run: {words}"));
                    let told = said(&ended);
                    assert_eq!(ended.status.code(), code.parse().ok(), "{words}: {told}");
                    assert!(told.contains(wanted), "{words}: {told}");
                    run += 1;
                }
            }
        }
    }
    assert!(run > 20, "{run}");
}

/// The shell adds 128 to the number of the signal that ends a program.
#[cfg(target_os = "linux")]
#[test]
fn without_memory_the_shell_sees_134() {
    let desk = Desk::new("code-memory");
    desk.write("a.case.yaml", &case("HH-1"));
    let ended = (20_000..400_000).step_by(3_000).find_map(|limit| {
        let script =
            format!("ulimit -c 0; ulimit -v {limit}; \"$0\" packet a.case.yaml --draft --threads 1; exit $?");
        let mut shell = std::process::Command::new("sh");
        shell.current_dir(&desk.0).args(["-c", &script, env!("CARGO_BIN_EXE_gablework")]);
        let ended = shell.output().expect("a shell");
        (ended.status.code() == Some(134)).then(|| err(&ended))
    });
    let told = ended.expect("some limit lets it start and then run out");
    assert!(told.contains("memory allocation of "), "{told}");
}
