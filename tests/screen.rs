//! `begin` on a terminal: keys that correct a line, lists, and what stays on the screen.
//!
//! A terminal of the system is opened, keys are typed into it one after another as soon as what they answer has appeared,
//! and the rows that the program drew are read as a terminal would show them.

use crate::batches::Desk;
use crate::support::program::{err, out};
use std::process::Command;

/// Types keys when what stands before them has appeared since the keys before, and prints what is on the screen at the
/// end. The terminal has as many rows and columns as are named; what leaves it at the top is kept, and out of the reach
/// of the program.
const TERMINAL: &str = r"
import fcntl, json, os, pty, re, select, struct, sys, termios, time
child, terminal = pty.fork()
rows, columns = int(sys.argv[2]), int(sys.argv[3])
if child == 0:
    fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack('HHHH', rows, columns, 0, 0))
    os.environ['NO_COLOR'], os.environ['TERM'] = '1', 'xterm'
    os.execv(sys.argv[4], sys.argv[4:])
shown, since = b'', 0
def read(seconds):
    global shown
    if not select.select([terminal], [], [], seconds)[0]:
        return True
    try:
        some = os.read(terminal, 65536)
    except OSError:
        some = b''
    shown += some
    return bool(some)
for awaited, keys in json.loads(sys.argv[1]):
    end = time.time() + 60
    while awaited.encode() not in shown[since:]:
        if time.time() > end or not read(1):
            sys.exit('waited for ' + awaited + ' in ' + repr(shown[since:]))
    since = len(shown)
    os.write(terminal, keys.encode())
while read(60):
    pass
os.waitpid(child, 0)
screen, row, column, top = [[]], 0, 0, 0
for control, argument, letter, sign in re.findall('(\x1b\\[)([?0-9;]*)([A-Za-z])|(.)', shown.decode(), re.S):
    count = int(argument) if argument.isdigit() else 1
    if sign == '\r': column = 0
    elif sign == '\n': row += 1
    elif sign:
        screen[row][column:column + 1] = sign
        column += 1
    elif letter == 'A': row = max(row - count, top)
    elif letter == 'G': column = count - 1
    elif letter == 'J':
        del screen[row + 1:], screen[row][column:]
    top = max(top, row - rows + 1)
    while len(screen) <= row: screen.append([])
    screen[row] += ' ' * (column - len(screen[row]))
sys.stdout.buffer.write('\n'.join(''.join(line).rstrip() for line in screen).encode())
";

/// Begins a case on a terminal, and returns what it shows at the end.
fn on_screen(desk: &Desk, (rows, columns): (u16, u16), keys: &[(&str, &str)]) -> String {
    let keys = serde_json::to_string(keys).expect("keys");
    let mut python = Command::new("python3");
    python.current_dir(&desk.0).args(["-c", TERMINAL, &keys, &rows.to_string(), &columns.to_string()]);
    python.args([env!("CARGO_BIN_EXE_gablework"), "begin", "--dated", "2026-11-12"]);
    let shown = python.output().expect("python3 runs");
    assert!(shown.status.success(), "{}", err(&shown));
    out(&shown)
}

/// Says that some lines are on the screen, one below the other.
fn shows(screen: &str, lines: &str) {
    assert!(screen.contains(lines), "{lines}\nis not in\n{screen}");
}

#[cfg(unix)]
#[test]
fn a_line_is_corrected_with_the_usual_keys_and_after_a_refusal() {
    let desk = Desk::new("screen-line");
    let reference = "such as HH-0412";
    let screen = on_screen(
        &desk,
        (30, 80),
        &[
            // Ctrl-U takes all away, Ctrl-A goes to the beginning, Ctrl-E to the end, Ctrl-W takes a word.
            (reference, "wrong\u{15}H 1 x\u{1}\u{1b}[3~h\u{5}\u{17}\r"),
            // What is refused stays to be corrected, but for a number that no case may hold.
            ("letters, digits and hyphens", "\u{8}\u{8}\u{8}-2\r"),
            ("full name", "\u{1b}"),
            (reference, "123-45-6789\r"),
            ("last four digits only", "HH-1\r"),
            ("full name", "\u{3}"),
        ],
    );
    shows(&screen, "Your reference for the client, such as HH-0412\n> h-2\n");
    shows(&screen, "(back)\n");
    shows(&screen, "Your reference for the client, such as HH-0412 [h-2]\n> HH-1\n");
    assert!(!screen.contains("123-45"), "{screen}");
    shows(&screen, "Your answers are kept in HH-1.case.begun");
    let kept = std::fs::read_to_string(desk.0.join("HH-1.case.begun")).expect("kept answers");
    assert!(!kept.contains("wrong") && !kept.contains("h-2"), "{kept}");
}

/// Puts unfinished cases into a folder, from HH-1 on, with a reference each.
fn unfinished(desk: &Desk, count: usize) {
    for n in 1..=count {
        let kept = format!(r#"{{"about": "", "format": 1, "answers": [["client.reference", "HH-{n}"]]}}"#);
        desk.write(&format!("HH-{n}.case.begun"), &kept);
    }
}

#[cfg(unix)]
#[test]
fn a_list_is_answered_with_digits_letters_or_arrows_and_stays() {
    let desk = Desk::new("screen-list");
    unfinished(&desk, 3);
    let words = "An unfinished case lies here";
    for (keys, chosen) in [
        (&[(words, "3\r")] as &[(&str, &str)], 3),
        (&[(words, "go on with hh-2\r")], 2),
        (&[(words, "\u{1b}[A\u{1b}[A\r")], 3),
        (&[(words, "\r")], 1),
        (&[(words, "9\r"), ("a number from 1 to 4", "\u{15}2\r")], 2),
        (&[(words, "?"), ("Choose one and press Enter", "2\r")], 2),
    ] {
        let screen = on_screen(&desk, (30, 80), &[keys, &[("full name", "\u{3}")]].concat());
        let label = |n: usize| match n {
            4 => "begin a new case".to_string(),
            n => format!("go on with HH-{n}: 1 answer is kept"),
        };
        let mark = |n| if n == chosen { '>' } else { ' ' };
        let lines: String = (1..=4).map(|n| format!("{} {n:>2}  {}\n", mark(n), label(n))).collect();
        shows(&screen, &format!("{words}\n{lines}"));
        shows(&screen, &format!("Your answers are kept in HH-{chosen}.case.begun"));
    }
}

/// A terminal of few rows shows a part of a long list, and what is chosen is always in it.
#[cfg(unix)]
#[test]
fn a_long_list_is_shown_in_part() {
    let desk = Desk::new("screen-long");
    unfinished(&desk, 20);
    let screen = on_screen(
        &desk,
        (12, 80),
        &[("1 to 7 of 21", "15"), ("9 to 15 of 21", "\r"), ("full name", "\u{3}")],
    );
    shows(&screen, "An unfinished case lies here\n   9  ");
    assert_eq!(screen.matches("An unfinished case lies here").count(), 1, "{screen}");
}

/// In a small terminal what the keys do takes several rows, and a long answer more than there are: nothing of it may leave
/// the terminal before it is taken away, or each key leaves a copy.
#[cfg(unix)]
#[test]
fn a_small_terminal_keeps_one_copy_of_a_question() {
    let desk = Desk::new("screen-small");
    unfinished(&desk, 20);
    let words = "An unfinished case lies here";
    let screen = on_screen(
        &desk,
        (12, 40),
        &[
            ("of 21", "\u{1b}[B"),
            (">  2", "\u{1b}[B"),
            (">  3", "\u{1b}[6~"),
            ("> 21", "\r"),
            ("Your reference", &"x".repeat(600)),
            ("xxx", "\u{15}HH-99\r"),
            ("full name", "\u{3}"),
        ],
    );
    assert_eq!(screen.matches(words).count(), 1, "{screen}");
    assert_eq!(screen.matches("Your reference").count(), 1, "{screen}");
    assert!(!screen.contains("xxx"), "{screen}");
    shows(&screen, "> HH-99\n");
}
