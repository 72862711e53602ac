//! What a terminal shows: findings broken between words at its width, and no more often than needed.

use crate::batches::Desk;
use crate::exit_codes::demo;
use crate::support::program::{err, out, root, run, said};
use std::process::Command;

/// Runs the program on a terminal of so many columns, and returns what it shows, without colors.
fn on_terminal(desk: &Desk, columns: u16, arguments: &[&str]) -> String {
    const TERMINAL: &str = "
import fcntl, os, pty, struct, sys, termios
child, terminal = pty.fork()
if child == 0:
    fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack('HHHH', 50, int(sys.argv[1]), 0, 0))
    os.environ['NO_COLOR'] = '1'
    os.execv(sys.argv[2], sys.argv[2:])
shown = b''
while True:
    try:
        some = os.read(terminal, 65536)
    except OSError:
        break
    if not some:
        break
    shown += some
os.waitpid(child, 0)
sys.stdout.buffer.write(shown.replace(b'\\r\\n', b'\\n'))
";
    let program = env!("CARGO_BIN_EXE_gablework");
    let mut python = Command::new("python3");
    python.current_dir(&desk.0).args(["-c", TERMINAL, &columns.to_string(), program]).args(arguments);
    let shown = python.output().expect("python3 runs");
    assert!(shown.status.success(), "{}", err(&shown));
    out(&shown)
}

fn words(text: &str) -> Vec<&str> {
    text.split_whitespace().collect()
}

#[cfg(unix)]
#[test]
fn findings_are_broken_between_words_at_the_width_of_the_terminal() {
    let desk = Desk::new("terminal");
    desk.write("a.case.yaml", &demo("solar-water-heater"));
    desk.write("b.case.yaml", &demo("finished-in-january"));
    for name in ["a.case.yaml", "b.case.yaml"] {
        let piped = said(&desk.run(&format!("check {name}")));
        assert!(piped.lines().any(|line| line.chars().count() > 120), "{piped}");
        for columns in [40, 60, 80, 120, 400] {
            let shown = on_terminal(&desk, columns, &["check", name]);
            let wide = shown
                .lines()
                .find(|line| line.chars().count() > usize::from(columns) && words(line).len() > 3);
            assert_eq!(wide, None, "{columns}: {shown}");
            // The excerpt is cut to the width as well; all else has the same words.
            let rest = |text: &str| -> Vec<String> {
                let lines = text.lines().filter(|line| !line.contains(" | "));
                lines.flat_map(words).map(String::from).collect()
            };
            assert_eq!(rest(&shown), rest(&piped), "{columns}");
        }
    }
}

/// The entry that answers a question can be pasted as it is shown, broken or not.
#[cfg(unix)]
#[test]
fn an_entry_that_was_broken_can_be_pasted() {
    let desk = Desk::new("terminal-entry");
    let asks = root().join("tests/findings/roof-words/roof-words.case.yaml");
    let text = std::fs::read_to_string(asks).expect("a case that asks");
    desk.write("a.case.yaml", &text);
    let shown = on_terminal(&desk, 60, &["check", "a.case.yaml"]);
    let (_, entry) = shown.split_once("`answers`: ").expect("an entry");
    let (entry, _) = entry.split_once('}').expect("its end");
    assert!(entry.contains('\n'), "{entry}");
    let entry = entry.replace("answer: ..", "answer: racking only").replace("by: ..", "by: J. Birch");
    let entry = entry.replace("on: ..", "on: 2026-03-02");
    desk.write("a.case.yaml", &format!("{text}answers:\n  - {entry}}}\n"));
    let answered = desk.run("check a.case.yaml");
    assert!(!said(&answered).contains("roof-words"), "{}", said(&answered));
}

/// The note on readings where the law is not settled is long once; then it names the readings.
#[test]
fn a_run_explains_unsettled_readings_once() {
    let ran = run(root(), &["check", "demo"]);
    let told = out(&ran);
    let notes: Vec<&str> = told.split("note[law-not-settled]").skip(1).collect();
    assert!(notes.len() > 3, "{told}");
    let long = |note: &&&str| note.contains("help: nothing is to be done");
    let first = |note: &str| note.split("\n\n").next().unwrap_or_default().to_string();
    assert!(first(notes[0]).contains("rule: ") && first(notes[0]).contains(" | "), "{}", notes[0]);
    for note in &notes[1..] {
        let note = first(note);
        assert!(!long(&&note.as_str()) && !note.contains("rule: ") && !note.contains(" | "), "{note}");
        assert!(note.contains("readings taken for 20"), "{note}");
    }
    let two = demo("year-of-improvements");
    assert!(two.contains("electrical permit"));
    assert!(
        told.contains("where the law is not settled: electrical permit; the worksheet gives the reasons"),
        "{told}"
    );
    // Packets of a folder, whose cases are worked on side by side, do the same in the order of the files.
    let desk = Desk::new("terminal-once");
    desk.write("a.case.yaml", &demo("solar-water-heater"));
    desk.write("b.case.yaml", &demo("year-of-improvements"));
    let made = err(&desk.run("packet . --draft --dated 2026-11-12"));
    assert_eq!(made.matches("help: nothing is to be done if they are right here").count(), 1, "{made}");
    assert_eq!(made.matches("note[law-not-settled]").count(), 2, "{made}");
    assert!(made.find("a.case.yaml:") < made.find("b.case.yaml:"), "{made}");
}

/// A reading of 2024 is told with 2024, with later years that carry credit from it, and with no other.
#[test]
fn unsettled_readings_are_not_told_with_years_they_do_not_touch() {
    let desk = Desk::new("terminal-years");
    let of = |tax: &str| {
        let text = demo("solar-water-heater");
        let (before, rest) = text.split_once("tax_before_credits: ").expect("the first return");
        let (_, after) = rest.split_once([',', '}', '\n']).expect("its end");
        format!("{before}tax_before_credits: {tax}\n{after}")
    };
    desk.write("carried.case.yaml", &demo("solar-water-heater"));
    let told = |name: &str, year: &str| {
        err(&desk.run(&format!("figures {name} --year {year}"))).contains("law-not-settled")
    };
    assert!(told("carried.case.yaml", "2024") && told("carried.case.yaml", "2026"));
    desk.write("used.case.yaml", &of("90000"));
    assert!(told("used.case.yaml", "2024"));
    assert!(!told("used.case.yaml", "2026"), "nothing of 2024 reaches 2026");
}
