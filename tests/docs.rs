//! The documents are executed: the README's example is read and computed, its commands are run, its tables are
//! those of the program.
//!
//! The tables of the case file are written by `GABLEWORK_ACCEPT=1 cargo test --test docs`; read the difference afterwards.

use crate::support::files::copy;
use crate::support::program::{root, run_typed};
use crate::support::scratch::Scratch;
use gablework::case::firm::FIRM;
use gablework::case::format::BLOCKS;
use gablework::case::{self, CostNature, IncentiveKind, Kind, TaxYear};
use gablework::credit::{self, Place};
use gablework::finding::Sources;
use gablework::intake::columns;
use gablework::law::{Amount, Class, Counts, Credit, Effect, HomeRule, Law, LawKey, YearLaw};
use gablework::record::rule::{Block, Takes};
use gablework::register::spreadsheet;
use std::fmt::Write;
use std::process::Output;

const BEGIN: &str = "<!-- tables: begin -->\n";
const END: &str = "<!-- tables: end -->";

fn read(name: &str) -> String {
    let text = std::fs::read_to_string(root().join(name)).unwrap_or_else(|error| panic!("{name}: {error}"));
    text.replace("\r\n", "\n")
}

/// Returns the fenced blocks of a language.
fn blocks(text: &str, language: &str) -> Vec<String> {
    let opening = format!("```{language}\n");
    text.split(&opening).skip(1).map(|rest| rest.split("```").next().unwrap_or("").to_string()).collect()
}

// ---- The example ----

#[test]
fn the_example_of_the_readme_comes_to_what_it_says() {
    let readme = read("README.md");
    let example = blocks(&readme, "yaml").into_iter().next().expect("an example");
    let mut sources = Sources::default();
    let (case, findings) = case::read("README.md", example.as_bytes(), &mut sources);
    let said: Vec<String> = findings.iter().map(|finding| finding.render(&sources)).collect();
    assert!(said.is_empty(), "{}", said.join("\n\n"));
    let outcome = credit::compute(&case.expect("a case"), Law::built_in()).expect("no fault");
    let said: Vec<String> = outcome.findings.iter().map(|finding| finding.render(&sources)).collect();
    assert!(said.is_empty(), "{}", said.join("\n\n"));
    let amount = |place: &str| {
        let place = Place::read(place, TaxYear(0)).expect("a place");
        outcome.figures.money(&place).expect("an amount").grouped()
    };
    assert_eq!(amount("2025:230@roof-array"), "17,000.00");
    assert_eq!(amount("2025:411"), "5,100.00");
    assert_eq!(amount("2025:440"), "3,200.00");
    assert_eq!(amount("2025:441"), "1,900.00");
    assert_eq!(amount("2026:440"), "1,900.00");
    for words in ["is 17,000, of which 30% is 5,100", "takes 3,200 of it, and 1,900 is carried to 2026"] {
        assert!(readme.contains(words), "the README no longer says `{words}`");
    }
}

#[test]
fn the_readme_names_every_demo_case() {
    let readme = read("README.md");
    for entry in std::fs::read_dir(root().join("demo")).expect("demo") {
        let name = entry.expect("an entry").file_name().to_string_lossy().into_owned();
        if let Some(name) = name.strip_suffix(".case.yaml") {
            assert!(readme.contains(&format!("`{name}`")), "the README does not name {name}");
        }
    }
}

// ---- The commands ----

/// Splits a command line as a shell does for the plain words and double quotes that the README uses.
fn words(line: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            c => words.last_mut().expect("a word").push(c),
        }
    }
    words.retain(|word| !word.is_empty());
    words
}

/// Returns the arguments of every command of a document that calls the program.
fn commands(text: &str) -> Vec<Vec<String>> {
    let scripts = blocks(text, "sh").concat();
    let calls = scripts.lines().filter_map(|line| {
        line.strip_prefix("gablework ").or_else(|| line.strip_prefix("cargo run --release -- "))
    });
    calls.map(words).collect()
}

/// A folder of its own with the demo cases in it.
struct Desk(Scratch);

impl Desk {
    fn new(name: &str) -> Desk {
        let folder = Scratch::new(name);
        copy(&root().join("demo"), &folder.join("demo"));
        Desk(folder)
    }

    fn run(&self, arguments: &[String]) -> Output {
        self.answer(arguments, "")
    }

    /// Runs the program with something typed.
    fn answer(&self, arguments: &[String], typed: &str) -> Output {
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        run_typed(&self.0.0, &arguments, typed)
    }
}

/// The figures that the README shows are the first lines of what the program prints.
#[test]
fn the_figures_of_the_readme_are_those_of_the_program() {
    let readme = read("README.md");
    let shown = blocks(&readme, "console").concat();
    let printed = Desk::new("figures").run(&["figures", "demo/retired-couple.case.yaml"].map(str::to_string));
    let printed = String::from_utf8_lossy(&printed.stdout).into_owned();
    let sheets: Vec<&str> = printed.split_inclusive("\n\n").take(3).collect();
    let first = sheets.concat().trim_end().to_string() + "\n";
    assert!(first.contains("\n400 ") && first.lines().all(|line| line.chars().count() <= 80), "{first}");
    if std::env::var_os("GABLEWORK_ACCEPT").is_some() {
        let block = |text: &str| format!("```console\n{text}```");
        std::fs::write(root().join("README.md"), readme.replace(&block(&shown), &block(&first)))
            .expect("written");
        return;
    }
    assert_eq!(shown, first, "GABLEWORK_ACCEPT=1 writes it anew");
}

#[test]
fn every_command_of_the_readme_does_what_it_is_for() {
    let commands = commands(&read("README.md"));
    assert!(commands.len() >= 10, "the README has lost its commands");
    let desk = Desk::new("commands");
    let conversation = blocks(&read("README.md"), "text").concat();
    for arguments in &commands {
        let (arguments, into) = match arguments.as_slice() {
            [words @ .., sign, file] if sign == ">" => (words, Some(file)),
            words => (words, None),
        };
        let output = desk.answer(arguments, &crate::begin::typed(&conversation));
        if let Some(file) = into {
            assert!(!output.stdout.is_empty(), "gablework {} says nothing", arguments.join(" "));
            std::fs::write(desk.0.join(file), &output.stdout).expect("written");
        }
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(0), "gablework {}\n{said}", arguments.join(" "));
    }
    let worksheet = desk.0.join("packets/HH-0101-2026/data/worksheet.pdf");
    let bytes = std::fs::read(&worksheet).expect("the worksheet lies where the README says");
    assert!(bytes.starts_with(b"%PDF-"));
    // The line at the head of a demo case leads from the case to the schema that the README has written.
    for (file, schema) in [("solar-water-heater.case.yaml", "case"), ("firm.yaml", "firm")] {
        let text = std::fs::read_to_string(desk.0.join("demo").join(file)).expect("a demo file");
        let hint = format!("# yaml-language-server: $schema=gablework-{schema}.schema.json");
        assert_eq!(text.lines().next(), Some(hint.as_str()), "{file}");
        let schema =
            std::fs::read(desk.0.join(&format!("demo/gablework-{schema}.schema.json"))).expect("a schema");
        serde_json::from_slice::<serde_json::Value>(&schema).expect("JSON");
    }
    for place in ["packets/HH-0102-2025-r2", "packets/HH-0108-2023", "season-2026/portal"] {
        assert!(desk.0.join(place).is_dir(), "{place} is not there");
    }
    let clients = desk.run(&["register", "clients", "--on", "2027-01-05"].map(str::to_string));
    let rows = String::from_utf8_lossy(&clients.stdout).into_owned();
    for (reference, balance) in [("HH-0131", "1,900"), ("HH-0132", "2,650"), ("HH-0133", "480")] {
        let row = rows.lines().find(|row| row.starts_with(reference)).expect("a client of the README's list");
        assert!(row.contains(balance), "{row}");
    }
    assert!(desk.0.join("mailing-2026/season-2026-lot-01.pdf").is_file());
    for file in
        ["season-2026-lot-01.pdf", "mailing-list.csv", "portal/HH-0102.pdf", "report.txt", "left-out.csv"]
    {
        assert!(desk.0.join("season-2026").join(file).is_file(), "{file} is not there");
    }
}

/// The lines that cut a long list of cases into parts: each part makes its packets, together they make all.
#[cfg(unix)]
#[test]
fn a_list_of_cases_is_cut_as_the_readme_says() {
    let scripts = blocks(&read("README.md"), "sh").concat();
    let lines: Vec<&str> = scripts.lines().filter(|line| line.starts_with("find cases ")).collect();
    assert_eq!(lines.len(), 3, "{lines:?}");
    let desk = Desk::new("parts");
    copy(&desk.0.join("demo"), &desk.0.join("cases"));
    let programs = desk.0.join("bin");
    std::fs::create_dir(&programs).expect("a folder");
    std::os::unix::fs::symlink(env!("CARGO_BIN_EXE_gablework"), programs.join("gablework")).expect("a link");
    let path = std::env::join_paths(
        std::iter::once(programs).chain(std::env::split_paths(&std::env::var_os("PATH").unwrap_or_default())),
    );
    let path = path.expect("a search path");
    let shell = |line: &str, task: usize| {
        let mut shell = std::process::Command::new("sh");
        let tasks = [("TASK", task.to_string()), ("TASKS", "3".to_string())];
        shell.current_dir(&desk.0.0).env("PATH", &path).envs(tasks).args(["-c", line]);
        shell.output().expect("a shell")
    };
    let here = |program: &str| shell(&format!("command -v {program}"), 0).status.success();
    let mut all: Option<Vec<String>> = None;
    for line in lines {
        if line.contains("parallel ") && !here("parallel") {
            eprintln!("NOT RUN: GNU parallel is not installed: {line}");
            continue;
        }
        let _ = std::fs::remove_dir_all(desk.0.join("sealed"));
        for task in 0..if line.contains("$TASK") { 3 } else { 1 } {
            let ran = shell(&line.replace("-n 200", "-n 3"), task);
            let said = String::from_utf8_lossy(&ran.stderr).into_owned();
            assert_eq!(ran.status.code(), Some(0), "{line}\n{said}");
            assert!(said.contains("made;") || said.contains(" made, "), "{line}\n{said}");
        }
        let entries = std::fs::read_dir(desk.0.join("sealed")).expect("packets");
        let mut names: Vec<String> = entries
            .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        // Ten packets, and a seal slip beside each.
        assert_eq!(names.len(), 20, "{line}: {names:?}");
        assert_eq!(*all.get_or_insert_with(|| names.clone()), names, "{line}");
    }
}

#[test]
fn the_conversation_of_the_readme_is_one() {
    let readme = read("README.md");
    let conversation = blocks(&readme, "text").concat();
    let desk = Desk::new("conversation");
    let arguments = ["begin", "--dated", "2026-11-12"].map(str::to_string);
    let output = desk.answer(&arguments, &crate::begin::typed(&conversation));
    let said = crate::begin::said(&output);
    let accept = std::env::var_os("GABLEWORK_ACCEPT_CONVERSATION").is_some();
    if accept {
        std::fs::write(root().join("README.md"), readme.replace(&conversation, &said)).expect("written");
        return;
    }
    assert_eq!(said, conversation, "GABLEWORK_ACCEPT_CONVERSATION=1 writes it anew");
    assert_eq!(output.status.code(), Some(0));
    // 1,900 brought in; the tax of 1,150 takes that much.
    let figures = desk.run(&["figures", "HH-0120.case.yaml", "--as", "csv"].map(str::to_string));
    let figures = String::from_utf8_lossy(&figures.stdout).into_owned();
    for line in ["440", "441"] {
        let row = figures.lines().find(|row| row.starts_with(&format!("{line},"))).expect("the line");
        assert!(row.contains(if line == "440" { "1150.00" } else { "750.00" }), "{row}");
    }
}

// ---- The tables ----

#[test]
fn the_tables_of_the_readme_are_those_of_the_program() {
    let readme = read("README.md");
    let (before, rest) = readme.split_once(BEGIN).expect("where the tables begin");
    let (_, after) = rest.split_once(END).expect("where the tables end");
    let wanted = format!("{before}{BEGIN}{}{END}{after}", tables());
    if std::env::var_os("GABLEWORK_ACCEPT").is_some() {
        std::fs::write(root().join("README.md"), &wanted).expect("written");
        return;
    }
    for (n, (have, want)) in readme.lines().zip(wanted.lines()).enumerate() {
        assert_eq!(
            have,
            want,
            "README.md line {}; GABLEWORK_ACCEPT=1 cargo test --test docs writes the tables anew",
            n + 1
        );
    }
    assert_eq!(readme.lines().count(), wanted.lines().count());
}

fn tables() -> String {
    let mut out = String::from("\n");
    for block in BLOCKS {
        keys(block, &mut out);
    }
    let law = Law::built_in().year(TaxYear(2025)).expect("the law of 2025");
    kinds(law, &mut out);
    costs(law, &mut out);
    incentives(law, &mut out);
    other_words(&mut out);
    keys(&FIRM, &mut out);
    table_columns(&mut out);
    register_columns(&mut out);
    out
}

/// Writes the columns of a table of clients.
fn table_columns(out: &mut String) {
    out.push_str("### Columns of a table of clients\n\n| column | takes | meaning | example | headings read as well |\n|---|---|---|---|---|\n");
    for one in columns::all() {
        let takes = match one.takes {
            columns::Takes::Reference => "letters, digits and hyphens".to_string(),
            columns::Takes::Name | columns::Takes::Line => "text".to_string(),
            columns::Takes::LastFour => "four digits, or the masked number".to_string(),
            columns::Takes::State => "two letters, or the name of the state".to_string(),
            columns::Takes::Zip => "ZIP or ZIP+4".to_string(),
            columns::Takes::Amount => "dollars".to_string(),
            columns::Takes::Day => "date".to_string(),
            columns::Takes::Year => "tax year".to_string(),
            columns::Takes::Word(known) => {
                known().iter().map(|(word, _)| format!("`{word}`")).collect::<Vec<_>>().join(", ")
            }
        };
        let name =
            if one.name == "reference" { format!("**`{}`**", one.name) } else { format!("`{}`", one.name) };
        let also = one.also.join(", ");
        let _ = writeln!(out, "| {name} | {takes} | {} | `{}` | {also} |", one.meaning, one.example);
    }
    out.push('\n');
}

/// Writes the columns of the register's CSV, in their order.
fn register_columns(out: &mut String) {
    out.push_str("### Columns of the register's CSV\n\n| column | meaning |\n|---|---|\n");
    for column in spreadsheet::COLUMNS {
        let _ = writeln!(out, "| `{}` | {} |", column.name, column.meaning);
    }
    out.push_str("| `carried_into_2026`, one for each year that occurs | the 25D credit carried into that year; empty where the case does not reach it |\n\n");
}

/// Writes the keys of a block. A key in bold must stand.
fn keys(block: &Block, out: &mut String) {
    let _ = writeln!(
        out,
        "### {}\n\n| key | takes | meaning | example |\n|---|---|---|---|",
        capital(block.name)
    );
    for rule in block.keys {
        let key = if rule.required { format!("**`{}`**", rule.key) } else { format!("`{}`", rule.key) };
        let _ = writeln!(out, "| {key} | {} | {} | `{}` |", takes(&rule.takes), rule.meaning, rule.example);
    }
    out.push('\n');
}

fn capital(words: &str) -> String {
    let mut letters = words.replace('_', " ");
    letters[..1].make_ascii_uppercase();
    letters
}

/// Says what may stand behind a key. Long lists of words have tables of their own.
fn takes(takes: &Takes) -> String {
    match takes {
        Takes::FormatNumber => "the number 1".to_string(),
        Takes::Line => "text".to_string(),
        Takes::Text => "text, lines allowed".to_string(),
        Takes::Amount => "dollars".to_string(),
        Takes::Percentage => "percentage".to_string(),
        Takes::Quantity => "number".to_string(),
        Takes::Count => "whole number".to_string(),
        Takes::Date => "date".to_string(),
        Takes::YesNo => "`true` or `false`".to_string(),
        Takes::Word(list) => {
            let list = list();
            match list.len() {
                0..=5 => list.iter().map(|word| format!("`{word}`")).collect::<Vec<_>>().join(", "),
                _ => "a word, see below".to_string(),
            }
        }
        Takes::Reference(section) => format!("a key of `{section}`"),
        Takes::OneOrList(one) => format!("{}, or a list", self::takes(one)),
        Takes::List(one) => match one {
            Takes::Block(block) => format!("list of: {}", block.name.replace('_', " ")),
            one => format!("list of: {}", self::takes(one)),
        },
        Takes::Block(block) => format!("keys of: {}", block.name.replace('_', " ")),
        Takes::Named(block) => format!("by keys of your own: {}", block.name.replace('_', " ")),
        Takes::Map(one) => format!("keys, each with: {}", self::takes(one)),
        Takes::ByYear(block, _) => format!("by tax year: {}", block.name.replace('_', " ")),
        Takes::Own(own) => (own.in_words)(),
    }
}

/// Writes the kinds of property with what the law of the year asks of each.
fn kinds(law: &YearLaw, out: &mut String) {
    let _ = writeln!(out, "### Kinds of property, and what each needs in {}\n", law.year);
    out.push_str("| kind | meaning | credit | home | needs |\n|---|---|---|---|---|\n");
    for kind in Kind::ALL {
        let Some(entry) = law.kinds.get(kind) else {
            let _ = writeln!(out, "| `{kind}` | {} | none in {} | | |", kind.label(), law.year);
            continue;
        };
        let credit = entry.credit.section();
        let home = match entry.home {
            HomeRule::AnyResidence => "any residence",
            HomeRule::MainHome => "main home",
            HomeRule::OwnedMainHome => "owned main home",
        };
        let mut needs: Vec<String> = Vec::new();
        for requirement in &entry.requires {
            let least = match requirement.at_least {
                Some(Amount::Money(amount)) => format!(" from {}", amount.spoken()),
                Some(Amount::Rate(rate)) => format!(" from {rate}"),
                Some(Amount::Quantity(quantity)) => format!(" from {quantity}"),
                None => String::new(),
            };
            needs.push(format!("`{}`{least}", requirement.fact.word()));
        }
        if let (Kind::FuelCell, Some(above)) = (kind, law.values.get(&LawKey::FuelCellEfficiencyAbove))
            && let Amount::Rate(above) = above.amount
        {
            needs.push(format!("`efficiency` above {above}"));
        }
        if *kind == Kind::HomeEnergyAudit {
            needs.push("`paid`".to_string());
        }
        if entry.maker_code {
            needs.push("`maker_code` or `pin`".to_string());
        }
        let _ = writeln!(out, "| `{kind}` | {} | {credit} | {} | {} |", kind.label(), home, needs.join("; "));
    }
    let _ = writeln!(
        out,
        "\nEvery kind but the audit needs `installed` to count, `new_home` work also the home's `original_use`. A kind of 25C never counts in a new home.\n"
    );
}

/// Writes what each cost nature does by default.
fn costs(law: &YearLaw, out: &mut String) {
    let classes: [(Class, &str); 5] = [
        (Class::Clean, "25D property"),
        (Class::Envelope, "windows, doors, insulation"),
        (Class::EnergyProperty, "25C energy property"),
        (Class::Enabling, "enabling property"),
        (Class::Audit, "audit"),
    ];
    let _ =
        writeln!(out, "### Costs, and what counts in {} unless the preparer chooses otherwise\n", law.year);
    let _ = writeln!(out, "A `?` marks where the law is not settled: only there `treat_as` may choose.\n");
    let heads: Vec<&str> = classes.iter().map(|(_, words)| *words).collect();
    let _ = writeln!(
        out,
        "| nature (`as`) | meaning | {} |\n|---|---|{}",
        heads.join(" | "),
        "---|".repeat(heads.len())
    );
    for nature in CostNature::ALL {
        let cells = classes.map(|(class, _)| match law.costs.get(&(class, *nature)) {
            Some(cost) => {
                let word = match cost.counts {
                    Counts::Yes => "counts",
                    Counts::No => "no",
                    Counts::MaterialsOnly => "materials only",
                };
                format!("{word}{}", if cost.authority.settled { "" } else { " ?" })
            }
            None => String::new(),
        });
        let _ = writeln!(out, "| `{nature}` | {} | {} |", nature.label(), cells.join(" | "));
    }
    out.push('\n');
}

/// Writes what each kind of incentive does by default.
fn incentives(law: &YearLaw, out: &mut String) {
    let _ = writeln!(out, "### Incentives, and what they do to the cost in {}\n", law.year);
    let _ = writeln!(out, "| kind (`as`) | meaning | 25C | 25D | because |\n|---|---|---|---|---|");
    for kind in IncentiveKind::ALL {
        let cell = |credit| {
            law.incentives.get(&(credit, *kind)).map_or(String::new(), |entry| {
                let word = match entry.effect {
                    Effect::ReducesCost => "comes off",
                    Effect::LeavesCost => "leaves it alone",
                };
                format!("{word}{}", if entry.authority.settled { "" } else { " ?" })
            })
        };
        let because = law.incentives.get(&(Credit::Clean, *kind)).map_or("", |entry| entry.because.as_str());
        let _ = writeln!(
            out,
            "| `{kind}` | {} | {} | {} | {because} |",
            kind.label(),
            cell(Credit::Improvement),
            cell(Credit::Clean)
        );
    }
    out.push('\n');
}

/// Writes the long lists of words that have no table yet.
fn other_words(out: &mut String) {
    let _ = writeln!(out, "### Other credits of a return\n\n| word | meaning |\n|---|---|");
    for credit in case::OtherCredit::ALL {
        let _ = writeln!(out, "| `{credit}` | {} |", credit.label());
    }
    let _ = writeln!(
        out,
        "\nEnter each as it stands on the return. `child_tax` may be `{{return_line: 4400, worksheet_b: 1000}}`.\n"
    );
    let _ = writeln!(out, "### Types of paper\n\n| word | meaning |\n|---|---|");
    for kind in case::EvidenceKind::ALL {
        let _ = writeln!(out, "| `{kind}` | {} |", kind.label());
    }
    out.push('\n');
}

// ---- The contributor's guide ----

/// Returns what stands between backticks in running text.
fn code_words(text: &str) -> Vec<String> {
    let lines = text.lines().filter(|line| !line.starts_with("```"));
    lines
        .flat_map(|line| line.split('`').skip(1).step_by(2).map(ToString::to_string).collect::<Vec<_>>())
        .collect()
}

#[test]
fn every_path_of_the_contributors_guide_exists() {
    let guide = read("DEVELOPERS.md");
    let folders = ["src/", "tests/", "layouts/", "letters/", "demo/", ".ci/"];
    let mut seen = 0;
    for word in code_words(&guide).into_iter().chain(code_words(&read("README.md"))) {
        if word.contains("CODE") || !folders.iter().any(|folder| word.starts_with(folder)) {
            continue;
        }
        assert!(root().join(&word).exists(), "`{word}` is not there");
        seen += 1;
    }
    assert!(seen > 30, "the guide names too few paths");
}

#[test]
fn the_contributors_guide_gives_each_dependency_its_reason() {
    let guide = read("DEVELOPERS.md");
    let (_, reasons) = guide.split_once("## Dependencies").expect("a chapter on dependencies");
    let (reasons, _) = reasons.split_once("\n## ").expect("a chapter after it");
    let named = code_words(reasons);
    let manifest = read("Cargo.toml");
    let mut section = "";
    let mut wanted = Vec::new();
    for line in manifest.lines() {
        if line.starts_with('[') {
            section = line;
        } else if section.ends_with("dependencies]")
            && let Some((name, _)) = line.split_once(" = ")
        {
            wanted.push(name.to_string());
        }
    }
    for name in &wanted {
        assert!(named.contains(name), "DEVELOPERS.md gives no reason for {name}");
    }
    for line in reasons.lines().filter(|line| line.starts_with("| `")) {
        let names = line.trim_start_matches("| ").split(" |").next().unwrap_or("");
        for name in code_words(names) {
            assert!(wanted.contains(&name), "{name} is no dependency any more");
        }
    }
}

#[test]
fn the_checks_a_contributor_runs_are_those_of_the_guide() {
    let guide = read("DEVELOPERS.md");
    let script = read(".ci/run").replace(" --locked", "");
    let runs = blocks(&guide, "sh")
        .into_iter()
        .find(|block| block.contains("clippy"))
        .expect("what a contributor runs");
    for command in runs.lines() {
        assert!(script.lines().any(|line| line == command), ".ci/run does not run `{command}`");
    }
}
