//! `intake`: a table of clients, from a spreadsheet, taken into cases.
//!
//! Under `tests/intake` lie tables with what is said of them, which `GABLEWORK_ACCEPT=1` writes anew; read the
//! difference. `list.xlsx` was saved by a spreadsheet program of `list.fods` beside it:
//! `soffice --headless --convert-to xlsx list.fods`.

use crate::support::files::{copy, files, paths};
use crate::support::program::{err, out, program, root, run};
use crate::support::scratch::Scratch;
use std::fs;
use std::io::Write;
use std::path::PathBuf;
use std::process::{Output, Stdio};
use std::time::Duration;
use zip::write::SimpleFileOptions;

/// The cases of the desk, without the former files that are kept.
fn cases(desk: &Scratch) -> Vec<(String, Vec<u8>)> {
    let mut all = files(&desk.join("cases"));
    all.retain(|(name, _)| name.ends_with(".case.yaml"));
    all
}

/// The tables of this folder.
fn tables() -> Vec<PathBuf> {
    let entries = fs::read_dir(root().join("tests/intake")).expect("tables");
    let mut paths: Vec<PathBuf> = entries.map(|entry| entry.expect("an entry").path()).collect();
    paths.retain(|path| path.extension().is_some_and(|ending| ending == "csv" || ending == "xlsx"));
    paths.sort();
    paths
}

fn take(desk: &Scratch, arguments: &str) -> Output {
    let words: Vec<&str> = ["intake"].into_iter().chain(arguments.split(' ')).collect();
    run(&desk.0, &words)
}

/// Takes a table in, and kills the program after so many milliseconds.
fn cut(desk: &Scratch, arguments: &str, after: u64) {
    let mut intake = program(&desk.0);
    intake.arg("intake").args(arguments.split(' ')).stdout(Stdio::null()).stderr(Stdio::null());
    let mut child = intake.spawn().expect("the program runs");
    std::thread::sleep(Duration::from_millis(after));
    child.kill().expect("killed");
    child.wait().expect("it ends");
}

/// Runs another command, which has nothing to complain of, and returns what it prints.
fn well(desk: &Scratch, line: &str) -> String {
    let done = run(&desk.0, &line.split(' ').collect::<Vec<_>>());
    assert_eq!(done.status.code(), Some(0), "{line}: {}{}", out(&done), err(&done));
    out(&done)
}

#[test]
fn what_is_said_of_a_table_is_what_stands_beside_it() {
    let accept = std::env::var_os("GABLEWORK_ACCEPT").is_some();
    let mut wrong = Vec::new();
    for table in tables() {
        let desk = Scratch::new("intake-said");
        let name = table.file_name().expect("a name").to_str().expect("plain").to_string();
        copy(&table, &desk.join(&name));
        let tried = take(&desk, &format!("{name} --into cases --try --dated 2027-01-05"));
        assert!(!desk.join("cases").exists(), "{name}: a trial writes nothing");
        let code = tried.status.code().expect("a code");
        let said = format!("{}{}exit code {code}\n", out(&tried), err(&tried));
        assert!(!said.contains("876"), "{name} shows a taxpayer number:\n{said}");
        let beside = table.with_extension(format!("{}.txt", name.rsplit('.').next().expect("an ending")));
        if accept {
            fs::write(&beside, &said).expect("written");
        } else if fs::read_to_string(&beside).unwrap_or_default() != said {
            wrong.push(said);
        }
    }
    assert!(wrong.is_empty(), "GABLEWORK_ACCEPT=1 writes anew:\n{}", wrong.join("\n\n"));
}

/// The list of a spreadsheet program becomes cases that `check` takes and `remind` writes to; the same list again
/// changes nothing.
#[test]
fn a_list_of_a_spreadsheet_program_becomes_cases() {
    let desk = Scratch::new("intake-list");
    copy(&root().join("tests/intake/list.xlsx"), &desk.join("list.xlsx"));
    let taken = take(&desk, "list.xlsx --into cases --dated 2027-01-05");
    assert_eq!(taken.status.code(), Some(1), "one row shows an error: {}", err(&taken));
    let read = |name: &str| desk.read(&format!("cases/{name}.case.yaml"));
    let wanda = read("HH-0501");
    for part in [
        "{name: Wanda Birch, tin: \"***-**-0120\"}",
        "street: 5 Orchard Row, city: Old Quay, state: ME, zip: \"04990\"",
        "2026: {amount: 1900, shown_on: 2025 Form 5695 line 16}",
        "# The case of HH-0501, begun on 2027-01-05 with `gablework intake`.",
    ] {
        assert!(wanda.contains(part), "{part}\n{wanda}");
    }
    let ada = read("HH-0502");
    for part in [
        "amount: 2500",
        "consented: 2026-03-01",
        "filed: 2027-03-30",
        "filing_status: married_filing_jointly",
        "unit: \"4\"",
    ] {
        assert!(ada.contains(part), "{part}\n{ada}");
    }
    assert!(read("HH-0503").contains("zip: \"01040\""));
    // A hidden row is not read unless it is asked for.
    assert!(!desk.join("cases/HH-0504.case.yaml").exists());
    let before = files(&desk.join("cases"));
    let again = take(&desk, "list.xlsx --into cases --dated 2027-02-05");
    assert!(out(&again).contains("unchanged                          3"), "{}", out(&again));
    assert_eq!(files(&desk.join("cases")), before);
    let hidden = take(&desk, "list.xlsx --into cases --dated 2027-01-05 --hidden");
    assert!(err(&hidden).contains("hidden row is read: 7"), "{}", err(&hidden));
    assert!(desk.join("cases/HH-0504.case.yaml").exists());
    well(&desk, "check cases");
    let reminded = well(&desk, "remind cases --for 2026 --dated 2027-01-05");
    let letters = "letters to mail                                             3";
    assert!(reminded.contains(letters), "{reminded}");
}

/// Nothing that a case says is written over: another value is refused with both and their places.
#[test]
fn another_value_than_that_of_the_case_is_refused_with_both() {
    let desk = Scratch::new("intake-other");
    desk.write("a.csv", "Ref,Name,Balance,Shown on,Year\nHH-1,Ada Rook,1900,2025 Form 5695 line 16,2026\nHH-2,Ben Rook,500,2025 Form 5695 line 16,2026\n");
    assert_eq!(take(&desk, "a.csv --into cases").status.code(), Some(0));
    let before = files(&desk.join("cases"));
    desk.write("b.csv", "Ref,Name,Balance,Year\nHH-1,ada  rook,1800,2026\nHH-2,BEN ROOK,$500.00,2026\n");
    let taken = take(&desk, "b.csv --into cases");
    assert_eq!(taken.status.code(), Some(1));
    let said = err(&taken);
    assert!(said.contains("error[other-value] b.csv, row 2, column C (Balance)"), "{said}");
    assert!(
        said.contains("`balance` is $1,800 here and $1,900 in the case, cases/HH-1.case.yaml:15"),
        "{said}"
    );
    assert!(out(&taken).contains("unchanged                          1"), "{}", out(&taken));
    assert_eq!(files(&desk.join("cases")), before);
    // A zero that a spreadsheet drops must not make a second client.
    desk.write("c.csv", "Ref,Name\nHH-0001,Ada Rook\nhh-2,Ben Rook\n");
    let taken = take(&desk, "c.csv --into cases");
    assert_eq!(taken.status.code(), Some(4), "{}", err(&taken));
    for words in ["HH-0001 has no case, and HH-1 has one", "hh-2 has no case, and HH-2 has one"] {
        assert!(err(&taken).contains(words), "{}", err(&taken));
    }
    assert_eq!(files(&desk.join("cases")), before);
}

/// A workbook of a few parts.
fn workbook(parts: &[(&str, &str)]) -> Vec<u8> {
    let mut file = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let relationships = |kind: &str, target: &str| {
        format!(
            "<Relationships><Relationship Id=\"r1\" Type=\"x/{kind}\" Target=\"{target}\"/></Relationships>"
        )
    };
    let (main, sheet) =
        (relationships("officeDocument", "xl/workbook.xml"), relationships("worksheet", "sheet.xml"));
    let usual = [
        ("_rels/.rels", main.as_str()),
        ("xl/_rels/workbook.xml.rels", &sheet),
        (
            "xl/workbook.xml",
            "<workbook><sheets><sheet name=\"L\" sheetId=\"1\" r:id=\"r1\"/></sheets></workbook>",
        ),
        ("xl/sheet.xml", ROWS),
    ];
    for (name, text) in
        usual.iter().filter(|(name, _)| parts.iter().all(|(other, _)| other != name)).chain(parts)
    {
        file.start_file(*name, SimpleFileOptions::default()).expect("a part");
        file.write_all(text.as_bytes()).expect("written");
    }
    file.finish().expect("whole").into_inner()
}

const ROWS: &str = "<worksheet><sheetData><row><c t=\"inlineStr\"><is><t>Ref</t></is></c><c t=\"inlineStr\"><is><t>Name</t></is></c></row><row><c t=\"inlineStr\"><is><t>HH-1</t></is></c><c t=\"inlineStr\"><is><t>Ada Rook</t></is></c></row></sheetData></worksheet>";

#[test]
fn a_workbook_that_somebody_made_to_stall_is_refused() {
    let desk = Scratch::new("intake-hostile");
    let take = |bytes: &[u8]| {
        fs::write(desk.join("a.xlsx"), bytes).expect("written");
        take(&desk, "a.xlsx --into cases --try")
    };
    assert_eq!(take(&workbook(&[])).status.code(), Some(0), "the workbook itself is sound");
    let bomb = format!("<worksheet>{}</worksheet>", " ".repeat(160_000_000));
    let nested = format!("<worksheet>{}", "<a>".repeat(400_000));
    let entities =
        ROWS.replace("<worksheet>", "<!DOCTYPE a [<!ENTITY b \"cccc\"><!ENTITY d \"&b;&b;\">]><worksheet>");
    let far = "<worksheet><sheetData><row r=\"1048576\"><c r=\"XFD1048576\"><v>1</v></c></row></sheetData></worksheet>";
    let back = "<worksheet><sheetData><row r=\"2\"><c r=\"B2\"><v>1</v></c><c r=\"A2\"><v>1</v></c></row></sheetData></worksheet>";
    let shared = ROWS.replace("t=\"inlineStr\"><is><t>Ref</t></is>", "t=\"s\"><v>99</v>");
    let outside = "<Relationships><Relationship Id=\"r1\" Type=\"x/worksheet\" Target=\"http://example.com/a.xml\" TargetMode=\"External\"/></Relationships>";
    let above = "<Relationships><Relationship Id=\"r1\" Type=\"x/worksheet\" Target=\"../../../etc/passwd\"/></Relationships>";
    for (part, text, words) in [
        ("xl/sheet.xml", bomb.as_str(), "more than 150,000,000 bytes"),
        ("xl/sheet.xml", &nested, "no sheet"),
        ("xl/sheet.xml", &entities, "declares a document type"),
        ("xl/sheet.xml", &ROWS.replace("Ref", "&x;"), "names an entity"),
        ("xl/sheet.xml", far, "more than 300 columns"),
        ("xl/sheet.xml", back, "not in order"),
        ("xl/sheet.xml", &shared, "names a text that it does not have"),
        ("xl/sheet.xml", "<worksheet><sheetData>", "headings"),
        ("xl/_rels/workbook.xml.rels", outside, "it has no sheet"),
        ("xl/_rels/workbook.xml.rels", above, "has no part"),
        ("xl/workbook.xml", "<workbook", "not well formed"),
    ] {
        let taken = take(&workbook(&[(part, text)]));
        assert_eq!(taken.status.code(), Some(1), "{words}: {}", err(&taken));
        assert!(
            err(&taken).contains(words) || words == "no sheet" && err(&taken).contains("headings"),
            "{words}: {}",
            err(&taken)
        );
    }
    // Cut off anywhere, and with a byte exchanged anywhere, it is read or refused.
    let whole = fs::read(root().join("tests/intake/list.xlsx")).expect("a list");
    for at in (0..whole.len()).step_by(whole.len() / 40) {
        let mut changed = whole.clone();
        changed[at] ^= 0x55;
        for bytes in [&whole[..at], changed.as_slice()] {
            let taken = take(bytes);
            assert!(matches!(taken.status.code(), Some(0 | 1)), "{at}: {}", err(&taken));
        }
    }
}

/// A table of so many clients, as a firm has it: in columns of its own, with what spreadsheets do to it.
fn clients(count: usize) -> String {
    let mut table = String::from(
        "Our clients with credit left,,,\n\nClient ID,Client Name,Spouse,SSN last 4,Address,City,ST,ZIP,Carryforward,Shown on,Engagement,Partner\n",
    );
    const PLACES: [(&str, &str, &str); 4] = [
        ("Old Quay", "ME", "4990"),
        ("Harrow Bend", "OH", "45990"),
        ("Riverton", "Massachusetts", "1040"),
        ("Dry Fork", "NM", "87990"),
    ];
    const NAMES: [&str; 5] = ["\"Birch, Wanda\"", "Ada Rook", "Tom Finch ", "\u{a0}Eva Wren", "IDA LARK"];
    for n in 1..=count {
        let (city, state, zip) = PLACES[n % 4];
        let spouse = if n % 3 == 0 { "Ben Rook" } else { "" };
        let balance = [
            format!("\"$ {},{:03}.00 \"", n % 9 + 1, n % 1000),
            format!("{}.50", n + 100),
            (n + 400).to_string(),
        ];
        table.push_str(&format!(
            "HH-{:04},{},{spouse},{},{n} Orchard Row,{city},{state},{zip},{},2025 Form 5695 line 16,preparation,RF\n",
            n + 1000,
            NAMES[n % 5],
            n % 10_000,
            balance[n % 3],
        ));
    }
    table + "\nTotal,,,,,,,,\"$ 999,999.00 \",,,\n"
}

/// From the list of a firm to letters for the mail in one go.
#[test]
fn a_firms_list_becomes_letters_in_one_go() {
    let count = std::env::var("GABLEWORK_CLIENTS").ok().and_then(|n| n.parse().ok()).unwrap_or(24);
    let desk = Scratch::new("intake-firm");
    desk.write("clients.csv", &clients(count));
    let taken = take(&desk, "clients.csv --into cases --for 2026 --dated 2027-01-05");
    assert_eq!(taken.status.code(), Some(0), "{}", err(&taken));
    let checked = well(&desk, "check cases");
    for finding in checked.lines().filter(|line| line.contains('[')) {
        assert!(finding.starts_with("note[return-awaited]") || !finding.contains("case.yaml"), "{finding}");
    }
    let reminded = well(&desk, "remind cases --for 2026 --dated 2027-01-05");
    let without = "without a letter                                            0";
    assert!(reminded.contains(without), "{reminded}");
    let before = files(&desk.join("cases"));
    let again = take(&desk, "clients.csv --into cases --for 2026 --dated 2027-03-05");
    assert_eq!(again.status.code(), Some(0), "{}", err(&again));
    assert!(out(&again).contains(&format!("unchanged {:>26}", count)), "{}", out(&again));
    assert_eq!(files(&desk.join("cases")), before);
}

/// Killed at any moment, every case is whole or not there, and the same command goes on.
#[test]
fn a_run_that_is_killed_leaves_whole_cases() {
    let desk = Scratch::new("intake-killed");
    desk.write("clients.csv", &clients(60));
    let arguments = "clients.csv --into cases --for 2026 --dated 2027-01-05";
    for wait in [5, 15, 30, 60] {
        cut(&desk, arguments, wait);
        for (name, bytes) in files(&desk.join("cases")) {
            if name.ends_with(".case.yaml") {
                let text = String::from_utf8(bytes).expect("text");
                assert!(text.ends_with("shown_on: 2025 Form 5695 line 16}\n"), "{name}: {text}");
            }
        }
    }
    let taken = take(&desk, arguments);
    assert_eq!(taken.status.code(), Some(0), "{}", err(&taken));
    let names = paths(&desk.join("cases"));
    assert!(names.len() == 60 && names.iter().all(|name| name.ends_with(".case.yaml")), "{names:?}");
}

/// A run that is killed right after it gave a case its name leaves a second, hidden name of the case. The next run does
/// not write that case, and clears it all the same, wherever cases are; a trial touches nothing.
#[test]
fn what_a_killed_run_left_beside_a_whole_case_is_cleared_by_the_next() {
    let desk = Scratch::new("intake-left");
    desk.write("a.csv", "Ref,Name\nHH-1,Ada Rook\nHH-2,Ben Rook\n");
    assert_eq!(take(&desk, "a.csv --into cases").status.code(), Some(0));
    let case = desk.read("cases/HH-1.case.yaml");
    desk.write("cases/below/HH-2.case.yaml", &desk.read("cases/HH-2.case.yaml"));
    fs::remove_file(desk.join("cases/HH-2.case.yaml")).expect("moved");
    let whole = files(&desk.join("cases"));
    for name in [
        ".HH-1.case.yaml.part",
        ".HH-1.case.yaml.lock",
        "below/.HH-2.case.yaml.lock",
        "below/former/.HH-2.case.2027-01-12.yaml.part",
    ] {
        desk.write(&format!("cases/{name}"), &case);
    }
    let left = files(&desk.join("cases"));
    assert_eq!(take(&desk, "a.csv --into cases --try").status.code(), Some(0));
    assert_eq!(files(&desk.join("cases")), left);
    assert_eq!(take(&desk, "a.csv --into cases").status.code(), Some(0));
    assert_eq!(files(&desk.join("cases")), whole);
}

/// A taxpayer number is in nothing that is printed or written, wherever in the table it stood.
#[test]
fn a_full_taxpayer_number_is_neither_shown_nor_written() {
    let desk = Scratch::new("intake-secret");
    const NUMBER: &str = "876-54-3219";
    for column in [
        "Ref",
        "Name",
        "Last 4",
        "Address",
        "Zip",
        "Balance",
        "Shown on",
        "Consent date",
        "Stage",
        "Remarks",
        NUMBER,
    ] {
        desk.write(
            "a.csv",
            &format!("Ref,Name,{column}\nHH-1,Ada Rook,{NUMBER}\n")
                .replace(
                    &format!("Ref,Name,Ref\nHH-1,Ada Rook,{NUMBER}"),
                    &format!("Ref,Name\n{NUMBER},Ada Rook"),
                )
                .replace(
                    &format!("Ref,Name,Name\nHH-1,Ada Rook,{NUMBER}"),
                    &format!("Ref,Name\nHH-1,Ada {NUMBER}"),
                ),
        );
        let taken = take(&desk, "a.csv --into cases --for 2026");
        let said = format!("{}{}", out(&taken), err(&taken));
        assert!(!said.contains("876") && !said.contains("54-3"), "{column}: {said}");
        for (name, bytes) in files(&desk.join("cases")) {
            let text = String::from_utf8_lossy(&bytes).into_owned();
            assert!(!text.contains("876") && !name.contains("876"), "{column}: {text}");
        }
        let _ = fs::remove_dir_all(desk.join("cases"));
    }
}

/// What a part of a packed file says.
fn part(bytes: &[u8], name: &str) -> String {
    let mut file = zip::ZipArchive::new(std::io::Cursor::new(bytes)).expect("a workbook");
    let mut text = String::new();
    std::io::Read::read_to_string(&mut file.by_name(name).expect("a part"), &mut text).expect("text");
    text
}

/// What is written into a row of the list; nothing where a cell stays empty.
type Fill<'f> = &'f dyn Fn(usize) -> Option<String>;

/// Fills in the boxes of a list, as a person does: each column's blanks that are open, in every row.
fn filled(bytes: &[u8], what: &[(&str, Fill<'_>)]) -> Vec<u8> {
    let sheet = part(bytes, "xl/worksheets/sheet1.xml");
    let head = sheet.split("</row>").next().expect("headings");
    let headings: Vec<&str> = head
        .split("<t xml:space=\"preserve\">")
        .skip(1)
        .map(|rest| rest.split('<').next().expect("words"))
        .collect();
    let rows = sheet.matches("<row ").count();
    let mut changed = sheet.clone();
    for (heading, value) in what {
        let column = headings
            .iter()
            .position(|one| one == heading)
            .unwrap_or_else(|| panic!("{heading} in {headings:?}"));
        let letter = char::from(b'A' + u8::try_from(column).expect("a letter"));
        for row in 2..=rows {
            let Some(value) = value(row) else { continue };
            let start = changed.find(&format!("<c r=\"{letter}{row}\"")).expect("a cell");
            let end = start + changed[start..].find("/>").expect("an empty cell") + 2;
            let cell = changed[start..end].to_string();
            assert!(!cell[2..].contains('<'), "{heading} in row {row} is not empty: {cell}");
            let cell = match value.parse::<u32>() {
                Ok(_) => cell.replace("/>", &format!("><v>{value}</v></c>")),
                Err(_) => cell.replace("/>", &format!(" t=\"inlineStr\"><is><t>{value}</t></is></c>")),
            };
            changed.replace_range(start..end, &cell);
        }
    }
    let mut old = zip::ZipArchive::new(std::io::Cursor::new(bytes)).expect("a workbook");
    let mut new = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for name in
        (0..old.len()).map(|n| old.by_index(n).expect("a part").name().to_string()).collect::<Vec<_>>()
    {
        new.start_file(&name, SimpleFileOptions::default()).expect("a part");
        let text = if name == "xl/worksheets/sheet1.xml" { changed.clone() } else { part(bytes, &name) };
        new.write_all(text.as_bytes()).expect("written");
    }
    new.finish().expect("whole").into_inner()
}

/// The second season: last year's clients are carried on with the list that the program makes, and every comment in
/// every case is still there.
#[test]
fn the_next_january_takes_one_list() {
    let count: usize = std::env::var("GABLEWORK_CLIENTS").ok().and_then(|n| n.parse().ok()).unwrap_or(12);
    let desk = Scratch::new("intake-next");
    let rows: String = (1..=count)
        .map(|n| {
            let credit = if n % 4 == 0 { "200" } else { "" };
            format!(
                "HH-{n:04},Client {},{n} Elm St,Riverton,MA,01040,preparation,2025,{},2024 Form 5695 line 16,filed,single,2026-03-30,1000,{credit},{},{}\n",
                char::from(b'A' + (n % 26) as u8),
                n * 10 + 1000,
                if n % 4 == 0 { 800 } else { 1000 },
                n * 10 + if n % 4 == 0 { 200 } else { 0 },
            )
        })
        .collect();
    let head = "Ref,Name,Address,City,State,Zip,Reminders,Year,Balance,Shown on,Stage,Filing status,Filed,Line 18,education,Claimed 25D,Carried out\n";
    desk.write("first.csv", &format!("{head}{rows}"));
    let taken = take(&desk, "first.csv --into cases --dated 2026-04-20");
    assert_eq!(taken.status.code(), Some(0), "{}", err(&taken));
    // A person writes into the cases.
    for (name, bytes) in cases(&desk) {
        let text = String::from_utf8(bytes).expect("text");
        let mut text = text.replace(
            "\ncarried_in:",
            "  # kept by hand\n\n# of last year, see the binder\ncarried_in:   # by hand",
        );
        text.push_str("\n# the end, by hand\n");
        fs::write(desk.join("cases").join(&name), text).expect("written");
    }
    let made = take(&desk, "--sheet cases --for 2026 --out season.xlsx");
    assert_eq!(made.status.code(), Some(0), "{}", err(&made));
    let sheet = fs::read(desk.join("season.xlsx")).expect("the list");
    let again = take(&desk, "--sheet cases --for 2026 --out again.xlsx");
    assert_eq!(again.status.code(), Some(0), "{}", err(&again));
    assert_eq!(fs::read(desk.join("again.xlsx")).expect("the list"), sheet, "the same cases, the same bytes");
    // Left blank, it changes nothing.
    let before = cases(&desk);
    let taken = take(&desk, "season.xlsx --into cases");
    assert_eq!(taken.status.code(), Some(0), "{}", err(&taken));
    assert_eq!(cases(&desk), before);
    // In the order of the cases: every fourth had education credits.
    let bytes = filled(
        &sheet,
        &[
            ("Stage", &|_| Some("draft".to_string())),
            ("Filing status", &|_| Some("single".to_string())),
            ("Tax before credits", &|row| Some((row * 5).to_string())),
            ("Education", &|row| ((row - 1) % 4 == 0).then(|| "0".to_string())),
        ],
    );
    fs::write(desk.join("filled.xlsx"), bytes).expect("written");
    let taken = take(&desk, "filled.xlsx --into cases");
    assert_eq!(taken.status.code(), Some(0), "{}", err(&taken));
    assert!(out(&taken).contains(&format!("cases changed {:>22}", count)), "{}", out(&taken));
    for (name, old) in &before {
        let (old, new) = (String::from_utf8_lossy(old).into_owned(), desk.read(&format!("cases/{name}")));
        // What was there is there, line by line and in its order; what is new is the return.
        let mut lines = new.lines();
        for line in old.lines() {
            assert!(lines.any(|one| one == line), "{name} lost `{line}`:\n{new}");
        }
        assert!(new.contains("\n  2026:"), "{new}");
        assert_eq!(new.matches("by hand").count(), 3, "{new}");
    }
    let after = cases(&desk);
    let taken = take(&desk, "filled.xlsx --into cases");
    assert!(out(&taken).contains(&format!("unchanged {:>26}", count)), "{}{}", out(&taken), err(&taken));
    assert_eq!(cases(&desk), after);
    well(&desk, "check cases");
    well(&desk, "remind cases --for 2027 --dated 2027-12-05");
}

/// The full circle: the list that the program made was filled in and saved by a spreadsheet program, and is read back.
/// `tests/intake/season/filled.xlsx` was made of the demo list's cases: the list of 2026, converted to the spreadsheet
/// program's own flat format, filled in there, and saved by it as a workbook.
#[test]
fn a_list_filled_in_with_a_spreadsheet_program_is_read_back() {
    let desk = Scratch::new("intake-circle");
    copy(&root().join("demo/clients.csv"), &desk.join("clients.csv"));
    copy(&root().join("tests/intake/season/filled.xlsx"), &desk.join("filled.xlsx"));
    assert_eq!(take(&desk, "clients.csv --into cases --for 2026 --dated 2027-01-05").status.code(), Some(0));
    let taken = take(&desk, "filled.xlsx --into cases --dated 2027-04-20");
    assert_eq!(taken.status.code(), Some(0), "{}", err(&taken));
    assert!(out(&taken).contains("cases changed                      2"), "{}", out(&taken));
    let oona = desk.read("cases/HH-0131.case.yaml");
    for line in [
        "    stage: filed",
        "    filing_status: single",
        "    filed: 2027-03-30",
        "    tax_before_credits: 1150",
        "    claimed: {clean: 1150, carried_out: 750}",
    ] {
        assert!(oona.lines().any(|one| one == line), "{line}\n{oona}");
    }
    let leo = desk.read("cases/HH-0133.case.yaml");
    for line in ["    form: 1040-SR", "    filing_status: head_of_household", "      education: 100"] {
        assert!(leo.lines().any(|one| one == line), "{line}\n{leo}");
    }
    // The former file stays, and no command takes it for a misspelled case.
    assert!(desk.join("cases/former/HH-0131.case.2027-04-20.yaml").exists());
    let checked = run(&desk.0, &["check", "cases"]);
    assert_eq!(checked.status.code(), Some(0), "{}", out(&checked));
    assert!(!err(&checked).contains("former"), "{}", err(&checked));
    // 1,900 less 1,150 is what the return carries forward; 480 is all used by 600 less 100.
    well(&desk, "remind cases --for 2027 --dated 2027-12-05");
}

/// What the case knows is locked, what it needs is open, and words are chosen from a list.
#[test]
fn the_list_to_fill_in_has_blanks_for_exactly_what_is_needed() {
    let desk = Scratch::new("intake-blanks");
    copy(&root().join("demo/clients.csv"), &desk.join("clients.csv"));
    assert_eq!(take(&desk, "clients.csv --into cases --for 2026 --dated 2027-01-05").status.code(), Some(0));
    let made = take(&desk, "--sheet cases --for 2026 --out season.xlsx");
    assert_eq!(made.status.code(), Some(0), "{}", err(&made));
    // One of the three has a return that is projected, and nothing of it can come from a list.
    assert!(out(&made).contains("with all that is asked, left out                   1"), "{}", out(&made));
    let sheet = part(&fs::read(desk.join("season.xlsx")).expect("the list"), "xl/worksheets/sheet1.xml");
    assert!(sheet.contains("<sheetProtection sheet=\"1\""), "{sheet}");
    assert!(sheet.contains("state=\"frozen\""), "{sheet}");
    for words in [
        "&quot;projected,draft,filed,amended&quot;",
        "type=\"date\"",
        "type=\"decimal\" operator=\"greaterThanOrEqual\"",
    ] {
        assert!(sheet.contains(words), "{words}\n{sheet}");
    }
    let styles = part(&fs::read(desk.join("season.xlsx")).expect("the list"), "xl/styles.xml");
    let looks: Vec<&str> = styles.split("<cellXfs").nth(1).expect("looks").split("<xf ").skip(1).collect();
    let is_open = |place: &str| {
        let cell =
            sheet.split(&format!("<c r=\"{place}\" s=\"")).nth(1).unwrap_or_else(|| panic!("no {place}"));
        let look: usize = cell.split('"').next().expect("a number").parse().expect("a number");
        looks[look].contains("locked=\"0\"")
    };
    // Reference, name, year and balance are known; stage, status and tax are wanted.
    for (place, open) in
        [("A2", false), ("B2", false), ("D2", false), ("E2", false), ("G2", true), ("H2", true), ("J2", true)]
    {
        assert_eq!(is_open(place), open, "{place}");
    }
    // Nothing is overwritten, and a name that is no workbook's is refused.
    assert_eq!(take(&desk, "--sheet cases --for 2026 --out season.xlsx").status.code(), Some(4));
    assert_eq!(take(&desk, "--sheet cases --for 2026 --out season.csv").status.code(), Some(2));
    assert_eq!(take(&desk, "--sheet cases --for 2199 --out other.xlsx").status.code(), Some(2));
    for line in [
        "--sheet cases --for 2026",
        "--sheet cases --out a.xlsx",
        "clients.csv",
        "--into cases",
        "clients.csv --into cases --out a.xlsx",
    ] {
        let ended = take(&desk, line);
        assert_eq!(ended.status.code(), Some(2), "{line}: {}", err(&ended));
    }
}

/// A list that is not there is not called a case, and a place that cannot be is said once.
#[test]
fn a_list_or_a_folder_that_is_not_there_is_told_for_what_it_is() {
    let desk = Scratch::new("intake-nowhere");
    let told = take(&desk, "clients.csv --into cases");
    assert_eq!(told.status.code(), Some(4), "{}", err(&told));
    assert!(err(&told).contains("help: check the name of the list\n"), "{}", err(&told));
    desk.write("clients.csv", "Ref,Name\nHH-1,Ada Rook\n");
    let told = take(&desk, "clients.csv --into clients.csv/cases");
    assert_eq!(told.status.code(), Some(4), "{}", err(&told));
    assert_eq!(err(&told).matches("a file stands in its way").count(), 1, "{}", err(&told));
}

/// Killed while cases are changed, each is as before or as after, and the same command goes on.
#[test]
fn a_change_that_is_killed_leaves_the_old_case_or_the_new_one() {
    let desk = Scratch::new("intake-cut");
    desk.write("clients.csv", &clients(40));
    let dated = "--for 2026 --dated 2027-01-05";
    assert_eq!(take(&desk, &format!("clients.csv --into cases {dated}")).status.code(), Some(0));
    let rows: String = (1..=40).map(|n| format!("HH-{:04},single,draft,{n}\n", n + 1000)).collect();
    desk.write("returns.csv", &format!("Ref,Filing status,Stage,Line 18\n{rows}"));
    let old = cases(&desk);
    for wait in [5, 20, 40, 80] {
        cut(&desk, &format!("returns.csv --into cases {dated}"), wait);
        for ((name, now), (_, before)) in cases(&desk).iter().zip(&old) {
            let text = String::from_utf8_lossy(now).into_owned();
            assert!(
                now == before || text.contains("\n    tax_before_credits: ") && text.ends_with("16}\n"),
                "{name}: {text}"
            );
        }
    }
    let taken = take(&desk, &format!("returns.csv --into cases {dated}"));
    assert_eq!(taken.status.code(), Some(0), "{}", err(&taken));
    for (name, now) in cases(&desk) {
        let text = String::from_utf8_lossy(&now).into_owned();
        assert_eq!(text.matches("tax_before_credits").count(), 1, "{name}: {text}");
    }
}
