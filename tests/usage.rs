//! What is typed wrongly: every option of every command says what is wrong and what to write instead, in words for the
//! people who use it.

use crate::batches::{Desk, case};
use crate::support::program::{err, out, program};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan, Zoned};
use std::collections::BTreeSet;
use std::process::Output;
use std::sync::atomic::{AtomicUsize, Ordering};

fn typed(desk: &Desk, words: &[&str]) -> Output {
    program(&desk.0).args(words).stdin(std::process::Stdio::null()).output().expect("the program runs")
}

/// Words of programmers and of the library that reads command lines.
const FOREIGN: &[&str] = &[
    "invalid",
    "digit found",
    "parse",
    "For more information",
    "tip:",
    "Usage:",
    "number too",
    "is not in",
    "unexpected",
    "were not provided",
    "is required for",
    "cannot be used with",
    "possible values",
    "unrecognized",
    "RFC",
    "i16",
    "usize",
];

/// What is wrong with a command line that ended so; nothing where it was understood.
fn complaint(ended: &Output, line: &str) -> Option<String> {
    let told = err(ended);
    let code = ended.status.code();
    assert!(code.is_some_and(|code| [0, 1, 2, 3, 4, 130].contains(&code)), "{line}: {code:?} {told}");
    if code != Some(2) {
        return None;
    }
    let error = told.lines().find(|one| one.starts_with("error: "));
    let help = told.lines().find(|one| one.starts_with("help: "));
    assert!(error.is_some_and(|one| one.len() > 12), "{line}: without what is wrong: {told}");
    assert!(help.is_some_and(|one| one.len() > 12), "{line}: without what to do: {told}");
    for word in FOREIGN {
        assert!(!told.contains(word), "{line}: `{word}` is a programmer's word: {told}");
    }
    assert!(!told.contains(['\u{202e}', '\u{1b}']), "{line}: {told}");
    Some(told)
}

/// The commands, each with arguments with which it is understood.
const COMMANDS: &[&[&str]] = &[
    &["begin", "."],
    &["intake", "clients.csv", "--into", "cases"],
    &["packet", "a.case.yaml", "--dated", "2026-11-12"],
    &["remind", ".", "--for", "2026", "--dated", "2026-11-12"],
    &["check", "a.case.yaml"],
    &["figures", "a.case.yaml"],
    &["why", "a.case.yaml", "440"],
    &["suppose", "a.case.yaml", "--tax", "2026=5000"],
    &["register", ".", "--on", "2026-11-12"],
    &["verify", "sealed", "--no-log"],
    &["law", "2025"],
    &["kit", "our-kit"],
    &["schema", "firm"],
    &["completions", "bash"],
    &["manual", "packet"],
];

/// The options of a command, as its help lists them; and whether each takes a value.
fn options(desk: &Desk, command: &str) -> Vec<(String, bool)> {
    let help = out(&typed(desk, &[command, "--help"]));
    let described = help.lines().map(str::trim_start).filter(|line| line.starts_with("--"));
    let mut options: Vec<(String, bool)> = described
        .map(|line| {
            let (name, rest) = line.split_once(' ').unwrap_or((line, ""));
            (name.to_string(), rest.starts_with('<'))
        })
        .collect();
    options.retain(|(name, _)| name != "--help");
    options
}

#[test]
fn every_option_with_every_wrong_value_is_told_of_in_words_for_people() {
    let desk = Desk::new("usage-sweep");
    desk.write("a.case.yaml", &case("HH-1"));
    let listed: BTreeSet<&str> = COMMANDS.iter().map(|words| words[0]).collect();
    let help = out(&typed(&desk, &["--help"]));
    let commands = help.split("Commands:").nth(1).and_then(|rest| rest.split("Options:").next());
    for line in
        commands.expect("a list").lines().filter(|line| line.starts_with("  ") && !line.starts_with("   "))
    {
        let name = line.split_whitespace().next().expect("a name");
        assert!(listed.contains(name) || name == "help", "{name} is not tried");
    }
    let wrong = [
        "",
        "abc",
        "0",
        "-1",
        "1.5",
        "99999999999999999999",
        "2026-02-30",
        "9999-12-31",
        "a\u{202e}b",
        "x y",
    ];
    let (tried, refused) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let tell = |words: &[&str]| {
        let complained = complaint(&typed(&desk, words), &words.join(" ")).is_some();
        tried.fetch_add(1, Ordering::Relaxed);
        refused.fetch_add(usize::from(complained), Ordering::Relaxed);
    };
    let over = |words: &[&str]| {
        for (option, takes) in options(&desk, words[0]) {
            let mut lines: Vec<Vec<String>> = Vec::new();
            let own = |more: &[&str]| -> Vec<String> {
                let kept: Vec<&str> = match words.iter().position(|word| *word == option) {
                    // The option stands there already, with its value.
                    Some(at) => [&words[..at], &words[at + 1 + usize::from(takes)..]].concat(),
                    None => words.to_vec(),
                };
                kept.iter().chain(more).map(|word| word.to_string()).collect()
            };
            if takes {
                lines.push(own(&[&option]));
                lines.extend(wrong.iter().map(|value| own(&[&format!("{option}={value}")])));
                lines.extend(wrong.iter().map(|value| own(&[&option, value])));
            } else {
                lines.push(own(&[&format!("{option}=yes")]));
                lines.push(own(&[&option, &option]));
            }
            for line in lines {
                tell(&line.iter().map(String::as_str).collect::<Vec<&str>>());
            }
        }
        // An option and an argument that do not exist, and what must stand left out.
        for more in [&["--nothing"][..], &["one", "two", "three"], &["--", "--x", "--y", "--z"]] {
            tell(&[words, more].concat());
        }
        tell(&words[..1]);
    };
    std::thread::scope(|scope| {
        for words in COMMANDS {
            scope.spawn(|| over(words));
        }
    });
    let (tried, refused) = (tried.into_inner(), refused.into_inner());
    assert!(tried > 400 && refused > 200, "{tried} tried, {refused} refused");
}

/// What is typed, what is wrong with it, what to write instead.
const TABLE: &[(&str, &str, &str)] = &[
    ("packet a.case.yaml --threads 0", "--threads: `0` cannot be how many", "a whole number from 1 to 256"),
    ("packet a.case.yaml --threads four", "--threads: `four` cannot be how many", "a whole number from 1"),
    ("packet a.case.yaml --year 26", "--year: `26` is no tax year", "four digits, such as 2025"),
    ("packet a.case.yaml --year -5", "--year: `-5` is no tax year", "four digits"),
    (
        "packet a.case.yaml --dated 3/12/2026",
        "`3/12/2026` is no date as they are written here",
        "write `2026-03-12`",
    ),
    (
        "packet a.case.yaml --dated 2026-02-30",
        "there is no day 30 in month 2 of 2026",
        "write a day that exists",
    ),
    ("packet a.case.yaml --dated 9999-12-31", "the year 9999 cannot be meant", "in four digits"),
    ("packet a.case.yaml --also xml", "--also cannot be `xml`", "write one of: html, docx, xlsx"),
    ("figures a.case.yaml --as xlsx", "a spreadsheet needs a file to be written to", "add --out FILE"),
    ("figures a.case.yaml --out a.xlsx", "--out is for a spreadsheet", "add --as xlsx"),
    ("packet a.case.yaml --replaces HH-1", "--because is missing", "`gablework packet --help`"),
    ("packet", "CASE is missing", "`gablework packet --help`"),
    ("packet a.case.yaml --yaer 2025", "there is no option `--yaer` here", "did you mean --year?"),
    ("packet a.case.yaml --year 2025 --year 2026", "--year stands there twice", "write it once"),
    ("packet a.case.yaml --draft=yes", "--draft takes nothing more, and `yes` stands behind it", "--help"),
    ("law abc", "YEAR: `abc` is no tax year", "four digits, such as 2025"),
    ("law 2026 2025", "`2025` is one word too many", "`gablework law --help`"),
    ("law 1999", "the program does not have the law of 1999", "2006"),
    ("remind . --for 2006", "no credit can be carried into 2006", "from 2007"),
    ("remind . --for 2026 --lot 0", "--lot: `0` cannot be how many letters", "from 1 to 2000"),
    ("remind .", "--for is missing", "`gablework remind --help`"),
    (
        "remind . --for 2026 --dated 2019-01-05",
        "lies long before the tax year 2026",
        "correct --dated or --for",
    ),
    ("why a.case.yaml 440 --depth much", "--depth: `much` cannot be how many steps", "a whole number"),
    ("why a.case.yaml", "LINE, --amount or --paper is missing", "`gablework why --help`"),
    ("why a.case.yaml --amount much", "--amount: `much` is no amount", "write it like 12500"),
    ("why a.case.yaml abc", "`abc` names no line", "write a line as 440"),
    ("verify . --log a --no-log", "--log and --no-log exclude each other", "leave one of them out"),
    ("schema abc", "OF cannot be `abc`", "write one of: case, firm, figures, register"),
    ("completions", "SHELL is missing", "`gablework completions --help`"),
    ("manual abc", "there is no command `abc`", "write one of: begin, intake, packet"),
    ("pakcet a.case.yaml", "there is no command `pakcet`", "did you mean `packet`?"),
    ("register . --sort name", "--sort cannot be `name`", "write one of: reference, closing, balance"),
];

#[test]
fn what_is_wrong_and_what_to_write_instead() {
    let desk = Desk::new("usage-table");
    desk.write("a.case.yaml", &case("HH-1"));
    for (line, what, help) in TABLE {
        let ended = desk.run(line);
        assert_eq!(ended.status.code(), Some(2), "{line}: {}", err(&ended));
        let told = complaint(&ended, line).expect("refused");
        assert!(told.contains(what) && told.contains(help), "{line}: {told}");
        assert_eq!(desk.names("."), ["a.case.yaml"], "{line}");
    }
}

/// Editors with hidden endings, and second downloads, make such names; a client would be missed in silence.
#[test]
fn a_file_with_nearly_the_name_of_a_case_is_named() {
    let desk = Desk::new("usage-nearly");
    desk.write("a.case.yaml", &case("HH-1"));
    desk.write("below/b.case.yaml.txt", &case("HH-2"));
    for line in ["packet . --draft", "register .", "remind . --for 2026 --out season", "check ."] {
        let ended = desk.run(line);
        let told = err(&ended);
        assert!(
            told.contains("b.case.yaml.txt is passed over: it has nearly the name of a case"),
            "{line}: {told}"
        );
        assert!(told.contains("rename it to b.case.yaml if it is one"), "{line}: {told}");
    }
}

/// At every moment it is another day at 14 hours before Greenwich's clock than at 11 hours behind it.
#[test]
fn today_is_that_of_the_office_and_not_of_greenwich() {
    let desk = Desk::new("usage-zones");
    desk.write("a.case.yaml", &case("HH-1"));
    for (zone, hours) in [("Pacific/Kiritimati", 14), ("Pacific/Pago_Pago", -11), ("<-11>11", -11)] {
        let there =
            || Timestamp::now().checked_add(hours.hours()).expect("a moment").to_zoned(TimeZone::UTC).date();
        let before = there();
        let far = before.saturating_add(13.months()).to_string();
        let told = err(&program(&desk.0)
            .env("TZ", zone)
            .args(["register", ".", "--on", &far])
            .output()
            .expect("runs"));
        let days = [before, there()];
        assert!(
            days.iter().any(|day| told.contains(&format!("a year after {day}, today by"))),
            "{zone}: {told}"
        );
    }
}

/// Dates are compared with the clock of the machine that runs the test.
#[test]
fn a_date_far_from_today_is_told_of_and_an_absurd_one_refused() {
    let desk = Desk::new("usage-dates");
    desk.write("a.case.yaml", &case("HH-1"));
    let today: Date = Zoned::now().date();
    let soon = today.saturating_add(11.months());
    let late = today.saturating_add(13.months());
    let absurd = today.saturating_add(10.years()).saturating_add(1.day());
    let lines = [
        "packet a.case.yaml --draft --out drafts-% --dated %",
        "remind . --for 2026 --out season-% --dated %",
        "register . --on %",
        "begin --plain --dated %",
    ];
    for line in lines {
        let option = if line.contains("--on") { "--on" } else { "--dated" };
        let run = |day: Date| {
            let line = line.replace('%', &day.to_string());
            typed(&desk, &line.split(' ').collect::<Vec<&str>>())
        };
        let quiet = run(soon);
        assert!(!err(&quiet).contains("today by this computer's clock"), "{line}: {}", err(&quiet));
        let warned = run(late);
        let words = format!("warning: {option} {late} lies more than a year after {today}");
        assert!(err(&warned).contains(&words), "{line}: {}", err(&warned));
        assert_eq!(warned.status.code(), quiet.status.code(), "{line}: {}", err(&warned));
        let refused = run(absurd);
        assert_eq!(refused.status.code(), Some(2), "{line}: {}", err(&refused));
        let words = format!("error: {option} {absurd} lies more than ten years after {today}");
        assert!(err(&refused).contains(&words), "{line}: {}", err(&refused));
        assert!(!desk.0.join(format!("drafts-{absurd}")).exists());
        let long_ago = run(jiff::civil::date(1999, 1, 1));
        assert_eq!(long_ago.status.code(), Some(2), "{line}: {}", err(&long_ago));
        assert!(err(&long_ago).contains("lies long before 2006"), "{line}: {}", err(&long_ago));
    }
}

/// One is one, in every count that a command prints.
#[test]
fn one_is_told_as_one() {
    let desk = Desk::new("usage-one");
    desk.write("cases/a.case.yaml", &case("HH-1"));
    desk.write("cases/b.case.yaml", "format: 1\n");
    let all: Vec<String> = [
        "packet cases/a.case.yaml --dated 2026-11-12 --out sealed",
        "packet cases/a.case.yaml --dated 2026-11-12 --out sealed --draft",
        "verify sealed --no-log",
        "verify sealed/HH-1-2026 --no-log",
        "check cases",
        "packet cases --dated 2026-11-12 --out many",
        "register cases --on 2026-11-12",
        "remind cases --for 2026 --dated 2026-11-12 --out season",
        "kit our-kit",
        "kit our-kit",
    ]
    .iter()
    .map(|line| {
        let ended = desk.run(line);
        format!("{}{}", out(&ended), err(&ended))
    })
    .collect();
    let all = all.join("\n");
    for words in ["1 packet: 1 verified; 1 draft passed over, which is not sealed", "1 of 2 cases has errors"]
    {
        assert!(all.contains(words), "{words}: {all}");
    }
    for line in all.lines() {
        let words: Vec<&str> = line.split_whitespace().collect();
        for pair in words.windows(2) {
            let many = pair[1].trim_end_matches([':', ',', '.', ';', ')']);
            let plural =
                many.len() > 3 && many.ends_with('s') && many.chars().all(|c| c.is_ascii_lowercase());
            assert!(!(pair[0] == "1" && plural), "{pair:?}: {line}");
        }
    }
}
