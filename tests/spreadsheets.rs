//! The worksheet as a spreadsheet, computed from nothing by other people's programs.
//!
//! The programs are `soffice` (Debian's libreoffice-calc) and `ssconvert` (gnumeric); a test whose program is missing
//! fails, and README.md says how to install them. `tests/spreadsheet/recalculate.py` takes every value out of the
//! workbooks, has a program compute them, and compares each formula's value with the one that stood there, which
//! `src/workbook/tests.rs` compares with the figures. `GABLEWORK_WORKBOOKS=N` has N made households computed instead of
//! a few dozen.

use crate::generated::households;
use crate::support::household::{complete, with_everything};
use crate::support::program::{program, root, run, said};
use crate::support::scratch::Scratch;
use gablework::assemble;
use gablework::case::TaxYear;
use gablework::finding::Sources;
use gablework::law::Law;
use std::fmt::Write as _;
use std::fs;
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// So many made households are computed where nobody asks for more.
const FEW: u32 = 24;

/// Has workbooks computed again.
fn again(how: &str, program: &str, folder: &Path, files: &[PathBuf]) -> Output {
    let installed = Command::new(program).arg("--version").output();
    let package = if program == "soffice" { "libreoffice-calc" } else { "gnumeric" };
    assert!(installed.is_ok(), "`{program}` does not run; install `{package}`, see README.md");
    Command::new("python3")
        .arg(root().join("tests/spreadsheet/recalculate.py"))
        .args([how, program])
        .arg(folder)
        .args(files)
        .output()
        .unwrap_or_else(|error| panic!("python3 is needed to compare workbooks (see .ci/run): {error}"))
}

/// Writes the workbook of a case for its last year; none where it has no figures.
fn write(text: &str, path: &Path) -> Option<PathBuf> {
    let bytes = workbook(text, None)?;
    fs::write(path, bytes).expect("written");
    Some(path.to_path_buf())
}

fn workbook(text: &str, year: Option<i16>) -> Option<Vec<u8>> {
    let law = Law::built_in();
    let computed = assemble::compute("household.case.yaml", text.as_bytes(), law, Sources::default());
    let computed = computed.expect("the plan asks only for what is there");
    computed.case.as_ref()?;
    let last = computed.outcome.years.last().copied()?;
    let year = year.map_or(last, TaxYear);
    let day = jiff::civil::date(2026, 12, 1);
    Some(assemble::live_worksheet(&computed, law, text.as_bytes(), year, day).expect("a workbook"))
}

/// Returns the texts of the cases and published examples of the project, with their names.
fn texts() -> Vec<(String, String)> {
    let mut found = Vec::new();
    for (folder, ending) in
        [("demo", ".case.yaml"), ("tests/cases", ".case.yaml"), ("tests/official", ".yaml")]
    {
        let entries = fs::read_dir(root().join(folder)).expect("a folder");
        for path in entries.map(|entry| entry.expect("an entry").path()) {
            let name = path.file_name().expect("a name").to_string_lossy().into_owned();
            let Some(name) = name.strip_suffix(ending) else { continue };
            let text = fs::read_to_string(&path).expect("a text");
            let text = match folder {
                "tests/official" => {
                    let example: serde_yaml::Value = serde_yaml::from_str(&text).expect("an example");
                    let years = example["lines"].as_mapping().expect("lines").keys();
                    let years: Vec<i16> = years
                        .map(|year| year.as_i64().expect("a year").try_into().expect("a year"))
                        .collect();
                    complete(example["case"].clone(), &years)
                }
                _ => text,
            };
            found.push((format!("{}-{name}", folder.replace('/', "-")), text));
        }
    }
    found.sort();
    found
}

/// How many made households are wanted.
fn wanted() -> u32 {
    std::env::var("GABLEWORK_WORKBOOKS").map_or(FEW, |text| text.parse().expect("a number of households"))
}

/// Workbooks of every case and example of the project, of made households, and of cases of halves and of every line;
/// of the project's one in `every`, but for the demo cases, and of the made ones `made`.
fn workbooks(folder: &Path, every: usize, made: u32) -> Vec<PathBuf> {
    let mut files = Vec::new();
    for (n, (name, text)) in texts().into_iter().enumerate() {
        if name.starts_with("demo-") || n % every == 0 {
            files.extend(write(&text, &folder.join(format!("{name}.xlsx"))));
        }
    }
    for n in 0..made {
        files.extend(write(&households::household(11, n), &folder.join(format!("made-{n}.xlsx"))));
    }
    files.push(write(&halves(), &folder.join("halves.xlsx")).expect("a workbook of halves"));
    for year in [2006, 2012, 2016, 2021].into_iter().step_by(every.min(2)) {
        files.extend(write(&with_everything(year, "1040"), &folder.join(format!("all-{year}.xlsx"))));
    }
    files
}

/// The first program takes seconds for a workbook, so it computes all of them only where it is asked to.
#[test]
fn every_formula_comes_to_its_figure_in_another_program() {
    let scratch = Scratch::new("spreadsheets");
    let (every, made) = match std::env::var_os("GABLEWORK_WORKBOOKS") {
        Some(_) => (1, wanted()),
        None => (16, 3),
    };
    let files = workbooks(&scratch.0, every, made);
    assert!(files.len() > 20, "only {} workbooks", files.len());
    let done = again("same", "soffice", &scratch.0, &files);
    assert!(done.status.success(), "{}", said(&done));
    println!("soffice: {}", said(&done));
}

#[test]
fn every_formula_comes_to_its_figure_in_a_second_program() {
    let scratch = Scratch::new("spreadsheets-two");
    let files = workbooks(&scratch.0, 1, wanted());
    assert!(files.len() > 130, "only {} workbooks", files.len());
    let done = again("same", "ssconvert", &scratch.0, &files);
    assert!(done.status.success(), "{}", said(&done));
    println!("ssconvert: {}", said(&done));
}

/// A case in which nearly every product and every entry comes to half a cent or half a dollar.
fn halves() -> String {
    let mut text = String::from(
        "format: 1\nclient: {reference: HH-2, people: [{name: Ana Alder}]}\nhomes:\n  h: {address: {street: 1 A St, city: \
         X, state: VT, zip: 05099}, use: main_home, held_as: owner}\nproperty:\n",
    );
    for (key, kind, more) in [
        ("array", "solar_electric", ""),
        ("collector", "solar_water_heating", ", solar_share: 60%, certified: {by: a body}"),
        ("pump", "geothermal_heat_pump", ""),
        ("turbine", "small_wind", ", capacity_kw: 90"),
    ] {
        let _ = writeln!(
            text,
            "  {key}: {{kind: {kind}, home: h, part_of: existing_home, acquired: bought, condition: new, installed: \
             2021-05-20{more}, costs: [{{item: own, as: equipment, amount: 0.25}}]}}"
        );
    }
    text.push_str("shared:\n");
    for n in 0_u32..240 {
        // An odd number of cents, halved; a multiple of four that is none of eight, divided by eight.
        let (amount, over) = match n % 3 {
            0 => (u64::from(n) * 12_347 + 1, "{array: 50%, collector: 50%}"),
            1 => (u64::from(n * n) * 8_888 + 4, "{pump: 12.5%, turbine: 87.5%}"),
            _ => (u64::from(n * n * n) * 3 * 80 + 4, "{array: 37.5%, pump: 62.5%}"),
        };
        let _ = writeln!(
            text,
            "  - {{item: part {n}, as: equipment, amount: \"{}.{:02}\", over: {over}}}",
            amount / 100,
            amount % 100
        );
    }
    text.push_str("returns:\n  2021: {stage: draft, filing_status: single, tax_before_credits: 1234.50}\n");
    for year in 2022..2026 {
        let _ = writeln!(
            text,
            "  {year}: {{stage: draft, filing_status: single, tax_before_credits: {year}.50}}"
        );
    }
    text
}

/// Another amount in the case, and the same amount in a cell: both come to the same.
#[test]
fn a_changed_input_moves_the_workbook_as_it_moves_the_case() {
    let scratch = Scratch::new("spreadsheets-changed");
    changed(&scratch, "soffice", &demo_pairs(&scratch.0));
    let mut files = demo_pairs(&scratch.0);
    for n in 0..wanted() {
        let text = households::household(17, n);
        let before: serde_yaml::Value = serde_yaml::from_str(&text).expect("a made case");
        let mut after = before.clone();
        for (_, one) in after["returns"].as_mapping_mut().expect("returns").iter_mut() {
            let tax = one["tax_before_credits"].as_f64().unwrap_or(900.0);
            one["tax_before_credits"] = (tax + f64::from(n * 7 % 400 + 13)).into();
        }
        if before != after {
            let after = serde_yaml::to_string(&after).expect("a case");
            files.extend(pair(&scratch.0, &format!("made-{n}"), &text, &after));
        }
    }
    changed(&scratch, "ssconvert", &files);
}

/// Demo cases, and the same with another amount: the tax of the first year, which moves what later years carry, and an
/// incentive.
fn demo_pairs(folder: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    for (name, case, from, to) in [
        ("tax", "solar-water-heater", "tax_before_credits: 2140", "tax_before_credits: 1810"),
        ("more-tax", "solar-water-heater", "tax_before_credits: 2140", "tax_before_credits: 2999.50"),
        ("two", "solar-and-battery", "tax_before_credits: 6420", "tax_before_credits: 4001"),
        ("incentive", "solar-and-battery", "amount: 420, evidence", "amount: 420.55, evidence"),
        ("doors", "year-of-improvements", "tax_before_credits: 7860", "tax_before_credits: 3001.50"),
    ] {
        let path = root().join("demo").join(format!("{case}.case.yaml"));
        let text = fs::read_to_string(path).expect("a demo");
        assert!(text.contains(from), "{case} has changed: it has no `{from}`");
        files.extend(pair(folder, name, &text, &text.replacen(from, to, 1)));
    }
    files
}

/// Writes the workbooks of a case and of the same with other amounts.
fn pair(folder: &Path, name: &str, before: &str, after: &str) -> [PathBuf; 2] {
    [("before", before), ("after", after)]
        .map(|(which, text)| write(text, &folder.join(format!("{name}-{which}.xlsx"))).expect("a workbook"))
}

/// Puts the inputs of each second workbook into the one before it, and has a program compute that.
fn changed(scratch: &Scratch, program: &str, files: &[PathBuf]) {
    let done = again("changed", program, &scratch.0, files);
    let told = said(&done);
    assert!(done.status.success(), "{program}: {told}");
    println!("{program}: {told}");
    // Pairs whose plans differ prove nothing; most do not.
    let mut numbers = told.split([' ', ',']).filter_map(|word| word.parse::<usize>().ok());
    let mut next = || numbers.next().expect("a number");
    let (used, all, lines, moved) = (next(), next(), next(), next());
    assert!(all * 2 == files.len() && used * 2 > all, "{told}");
    assert!(lines > 100 * used && moved > 5 * used, "{told}");
}

/// A checker that found nothing wrong with anything would prove nothing.
#[test]
fn a_formula_that_is_another_is_noticed() {
    let scratch = Scratch::new("spreadsheets-wrong");
    let text = fs::read_to_string(root().join("demo/solar-water-heater.case.yaml")).expect("a demo");
    let bytes = workbook(&text, None).expect("a workbook");
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(bytes)).expect("a container");
    let path = scratch.join("wrong.xlsx");
    let mut out = zip::ZipWriter::new(fs::File::create(&path).expect("a file"));
    let mut altered = 0;
    for n in 0..archive.len() {
        let mut part = archive.by_index(n).expect("a part");
        let name = part.name().to_string();
        let mut text = String::new();
        part.read_to_string(&mut text).expect("text");
        altered += text.matches("<f>MIN(").count();
        out.start_file(name, zip::write::SimpleFileOptions::default()).expect("a part");
        std::io::Write::write_all(&mut out, text.replace("<f>MIN(", "<f>MAX(").as_bytes()).expect("written");
    }
    out.finish().expect("finished");
    assert!(altered > 1, "the demo has limits");
    let done = again("same", "soffice", &scratch.0, &[path]);
    assert_eq!(done.status.code(), Some(1), "{}", said(&done));
}

/// What is in the file: no macro, no link, nothing hidden, and the same bytes for the same inputs.
#[test]
fn a_workbook_holds_cells_and_nothing_else() {
    let scratch = Scratch::new("spreadsheets-parts");
    let make = |name: &str| {
        let done = run(
            root(),
            &[
                "figures",
                "demo/solar-and-battery.case.yaml",
                "--as",
                "xlsx",
                "--dated",
                "2026-12-01",
                "--out",
            ]
            .map(str::to_string)
            .iter()
            .map(String::as_str)
            .chain([scratch.join(name).to_string_lossy().as_ref()])
            .collect::<Vec<_>>(),
        );
        assert_eq!(done.status.code(), Some(0), "{}", said(&done));
        fs::read(scratch.join(name)).expect("a workbook")
    };
    let bytes = make("one.xlsx");
    assert_eq!(bytes, make("two.xlsx"));
    // What somebody may have worked in is never written over.
    let case = "demo/solar-water-heater.case.yaml";
    let out = scratch.join("one.xlsx");
    let again = run(root(), &["figures", case, "--as", "xlsx", "--out", out.to_str().expect("a plain name")]);
    assert_eq!(again.status.code(), Some(4), "{}", said(&again));
    assert!(said(&again).contains("stands already"), "{}", said(&again));
    assert_eq!(bytes, fs::read(&out).expect("the workbook is as it was"));
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(bytes)).expect("a container");
    let names: Vec<String> = archive.file_names().map(str::to_string).collect();
    for name in &names {
        let known = name.starts_with("xl/worksheets/sheet")
            || [
                "[Content_Types].xml",
                "_rels/.rels",
                "docProps/core.xml",
                "xl/workbook.xml",
                "xl/styles.xml",
            ]
            .contains(&name.as_str())
            || name == "xl/_rels/workbook.xml.rels";
        assert!(known, "{name} is in the file");
        let mut text = String::new();
        archive.by_name(name).expect("a part").read_to_string(&mut text).expect("text");
        for never in
            ["hidden", "hyperlink", "externalLink", "oleObject", "<script", "Target=\"http", "TargetMode"]
        {
            assert!(!text.contains(never), "{name} has {never}");
        }
    }
}

/// The file of a packet is sealed, drawn again by `verify`, and told of in the packet's own README.
#[test]
fn a_packet_holds_the_workbook_and_verify_writes_it_again() {
    let scratch = Scratch::new("spreadsheets-packet");
    let made = program(root())
        .args([
            "packet",
            "demo/solar-water-heater.case.yaml",
            "--dated",
            "2026-12-01",
            "--also",
            "xlsx",
            "--out",
        ])
        .arg(&scratch.0)
        .output()
        .expect("the program runs");
    assert_eq!(made.status.code(), Some(0), "{}", said(&made));
    let packet = scratch.join("HH-0101-2026");
    let file = packet.join("data/worksheet.xlsx");
    assert!(fs::read(&file).expect("the workbook").starts_with(b"PK"));
    assert!(!packet.join("data/letters/results.xlsx").exists(), "letters are no spreadsheets");
    let readme = fs::read_to_string(packet.join("data/README.txt")).expect("the README");
    assert!(readme.contains("worksheet.xlsx"), "{readme}");
    let verified = program(root()).arg("verify").arg(&packet).output().expect("the program runs");
    assert_eq!(verified.status.code(), Some(0), "{}", said(&verified));
    // A workbook that somebody saved again is no longer the sealed one.
    let mut bytes = fs::read(&file).expect("the workbook");
    let last = bytes.len() - 1;
    bytes[last] ^= 1;
    fs::write(&file, bytes).expect("altered");
    let verified = program(root()).arg("verify").arg(&packet).output().expect("the program runs");
    assert_ne!(verified.status.code(), Some(0), "{}", said(&verified));
    assert!(said(&verified).contains("worksheet.xlsx"), "{}", said(&verified));
}
