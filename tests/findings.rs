//! The catalog of findings, run: under `tests/findings/CODE` lie small bad cases, each with its findings as
//! they are printed beside it. `GABLEWORK_ACCEPT=1` writes the expected texts anew; read the diff after it.
//!
//! A file ends in `.case.yaml`, or in `.recipe` where the case would be too large to keep: then each line is
//! a number and a text in quotes as in JSON, and the case consists of each text so many times.

use gablework::finding::{Finding, Sources};
use gablework::law::Law;
use gablework::{assemble, case, credit};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// One bad case of the catalog.
pub struct Bad {
    pub code: String,
    pub name: String,
    pub bytes: Vec<u8>,
    expected: PathBuf,
}

pub fn catalog() -> Vec<Bad> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/findings");
    let mut all = Vec::new();
    let mut folders: Vec<PathBuf> = fs::read_dir(&root).unwrap().map(|one| one.unwrap().path()).collect();
    folders.sort();
    for folder in folders {
        let code = folder.file_name().unwrap().to_str().unwrap().to_string();
        let mut files: Vec<PathBuf> = fs::read_dir(&folder).unwrap().map(|one| one.unwrap().path()).collect();
        files.sort();
        for file in files {
            let name = file.file_name().unwrap().to_str().unwrap().to_string();
            let (stem, bytes) = if let Some(stem) = name.strip_suffix(".case.yaml") {
                (stem, fs::read(&file).unwrap())
            } else if let Some(stem) = name.strip_suffix(".recipe") {
                (stem, cook(&fs::read_to_string(&file).unwrap()))
            } else {
                assert!(name.ends_with(".txt"), "{name} is neither a case nor an expected text");
                continue;
            };
            all.push(Bad {
                code: code.clone(),
                name: format!("{stem}.case.yaml"),
                bytes,
                expected: folder.join(format!("{stem}.txt")),
            });
        }
    }
    all
}

fn cook(recipe: &str) -> Vec<u8> {
    recipe
        .lines()
        .flat_map(|line| {
            let (count, text) = line.split_once(' ').unwrap();
            let text: String = serde_json::from_str(text).unwrap();
            text.repeat(count.parse().unwrap()).into_bytes()
        })
        .collect()
}

/// All codes with their meaning: of reading a case, then of computing it.
fn codes() -> impl Iterator<Item = (&'static str, &'static str)> {
    let of_computing = credit::codes::CODES.iter().map(|code| (code.name, code.means));
    case::codes::CODES.iter().copied().chain(of_computing)
}

/// Reads and computes a bad case, as a command does. A case about reading leaves out most of a household, so what
/// computing says of it besides would only hide what it shows.
fn found(bad: &Bad) -> (Vec<Finding>, Sources) {
    let computed = assemble::compute(&bad.name, &bad.bytes, Law::built_in(), Sources::default());
    let computed = computed.unwrap_or_else(|fault| panic!("{}/{}: {fault}", bad.code, bad.name));
    let of_reading = |code: &str| case::codes::CODES.iter().any(|(one, _)| *one == code);
    let mut findings = computed.outcome.findings;
    findings.retain(|one| !of_reading(&bad.code) || of_reading(one.code));
    (findings, computed.sources)
}

#[test]
fn every_bad_case_is_explained_as_recorded() {
    let accept = std::env::var_os("GABLEWORK_ACCEPT").is_some();
    let mut wrong = Vec::new();
    for bad in catalog() {
        let (findings, sources) = found(&bad);
        let text: Vec<String> = findings.iter().map(|one| one.render(&sources)).collect();
        let text = text.join("\n");
        assert!(
            findings.iter().any(|one| one.code == bad.code),
            "{}/{} does not yield its code:\n{text}",
            bad.code,
            bad.name
        );
        if accept {
            fs::write(&bad.expected, &text).unwrap();
            continue;
        }
        let expected = fs::read_to_string(&bad.expected).unwrap_or_default();
        if expected != text {
            wrong.push(format!("{}/{}\nexpected:\n{expected}\nfound:\n{text}", bad.code, bad.name));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n----\n"));
}

/// The cases whose decisive finding is another than the one they show, each judged by hand: what the preparer must know
/// first. In every other case it is the one that the folder is named for.
const DECISIVE: &[(&str, &str, &str)] = &[
    ("alias/with-anchor", "anchor", "the alias follows from the anchor above it"),
    (
        "carryforward-goes-on/after-2025",
        "claimed-too-little",
        "what to do about the filed return; the note says why",
    ),
    ("carryforward-goes-on/carryforward-goes-on", "claimed-too-little", "what to do about the filed return"),
    (
        "joint-owner-with-earlier-credit/joint-owner-with-earlier-credit",
        "lifetime-limit-cuts",
        "it halves the credit; the note is about a reading of the form",
    ),
    ("key-form/named-elsewhere", "reference-form", "the same mistake, where it first stands"),
    ("more-findings/more-findings", "anchor", "that there are more says nothing about any one of them"),
    (
        "pool-not-counted/in-a-shared-contract",
        "pool-labor",
        "its answer changes the credit; the warning repeats the case",
    ),
];

/// What changes most is told first. Judged by hand for every bad case, not by the order that the program uses.
#[test]
fn the_decisive_finding_comes_first() {
    let mut wrong = Vec::new();
    for bad in catalog() {
        let (findings, _) = found(&bad);
        let path = format!("{}/{}", bad.code, bad.name.trim_end_matches(".case.yaml"));
        let other = DECISIVE.iter().find(|(case, _, _)| *case == path);
        let wanted = other.map_or(bad.code.as_str(), |(_, code, _)| *code);
        let told: Vec<&str> = findings.iter().map(|one| one.code).collect();
        if told.first() != Some(&wanted) {
            wrong.push(format!("{path}: wanted {wanted} first, told {}", told.join(", ")));
        }
    }
    let known: BTreeSet<String> = catalog()
        .iter()
        .map(|bad| format!("{}/{}", bad.code, bad.name.trim_end_matches(".case.yaml")))
        .collect();
    wrong
        .extend(DECISIVE.iter().filter(|one| !known.contains(one.0)).map(|one| format!("no case {}", one.0)));
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_code_has_a_case_and_every_case_a_code() {
    let known: BTreeSet<&str> = codes().map(|(code, _)| code).collect();
    assert_eq!(known.len(), codes().count(), "a code stands twice in the tables");
    let cases = catalog();
    let shown: BTreeSet<&str> = cases.iter().map(|bad| bad.code.as_str()).collect();
    let absent: Vec<&&str> = known.difference(&shown).collect();
    assert!(absent.is_empty(), "codes without a case: {absent:?}");
    let strangers: Vec<&&str> = shown.difference(&known).collect();
    assert!(strangers.is_empty(), "cases without a code: {strangers:?}");
    for bad in &cases {
        for finding in found(bad).0 {
            assert!(known.contains(finding.code), "{} is not in the table", finding.code);
        }
    }
}

/// Codes in the program that the table lacks would have neither a meaning nor a case.
#[test]
fn every_code_of_the_program_is_in_the_table() {
    for (folder, table, places) in [
        ("src/case", case::codes::CODES, 50),
        // What reading any file can yield, a case can.
        ("src/record", case::codes::CODES, 40),
    ] {
        let known: BTreeSet<&str> = table.iter().map(|(code, _)| *code).collect();
        let mut used = BTreeSet::new();
        let mut seen = 0;
        for file in files_under(&Path::new(env!("CARGO_MANIFEST_DIR")).join(folder)) {
            let text = fs::read_to_string(file).unwrap();
            for start in STARTS {
                for (at, _) in text.match_indices(start) {
                    let rest = text[at + start.len()..].trim_start();
                    if let Some(code) = rest.strip_prefix('"').and_then(|rest| rest.split('"').next()) {
                        assert!(known.contains(code), "{code} is not in the table of {folder}");
                        used.insert(code.to_string());
                        seen += 1;
                    }
                }
            }
        }
        assert!(seen >= places, "the search found only {seen} places in {folder}");
    }
}

/// A code of the engine that nothing gives any more would promise what does not happen.
#[test]
fn every_code_of_the_engine_is_given_somewhere() {
    let files = files_under(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src/credit"));
    let texts: Vec<String> = files.iter().map(|file| fs::read_to_string(file).unwrap()).collect();
    let given = |code: &credit::codes::Code| {
        let constant = format!("codes::{}", code.name.to_uppercase().replace('-', "_"));
        let ends = |rest: &str| !rest.starts_with(|c: char| c.is_alphanumeric() || c == '_');
        texts
            .iter()
            .any(|text| text.match_indices(&constant).any(|(at, _)| ends(&text[at + constant.len()..])))
    };
    let idle: Vec<&str> =
        credit::codes::CODES.iter().filter(|code| !given(code)).map(|code| code.name).collect();
    assert!(idle.is_empty(), "codes that nothing gives: {idle:?}");
    let asks =
        credit::codes::CODES.iter().filter(|code| code.severity == gablework::finding::Severity::Question);
    assert!(asks.map(|code| code.name).eq(credit::codes::questions().map(|code| code.name)));
}

/// Every question says whether it blocks a packet and why, what it is about, and the facts it is asked for; only so
/// can an answer to it be pasted, and grow old.
#[test]
fn every_question_can_be_answered_and_says_whether_it_blocks() {
    let listed: BTreeSet<&str> = credit::codes::questions().map(|one| one.name).collect();
    assert_eq!(listed.len(), credit::codes::questions().count(), "a question stands twice");
    let mut asked = BTreeSet::new();
    for bad in catalog() {
        for finding in found(&bad).0 {
            if finding.severity != gablework::finding::Severity::Question {
                assert!(!finding.blocking && !listed.contains(finding.code), "{}", finding.code);
                continue;
            }
            let question = credit::codes::questions().find(|one| one.name == finding.code);
            let question = question.and_then(|one| one.asks);
            let question =
                question.unwrap_or_else(|| panic!("{} is not in the table of questions", finding.code));
            assert_eq!(finding.blocking, question.blocking, "{}", finding.code);
            assert!(!question.why.is_empty() && !question.why.ends_with('.'), "{}", finding.code);
            assert!(finding.about.is_some(), "{} names no path", finding.code);
            assert!(
                finding.given.as_ref().is_some_and(|given| !given.is_empty()),
                "{} has no facts",
                finding.code
            );
            asked.insert(finding.code);
        }
    }
    let never: Vec<&&str> = listed.difference(&asked).collect();
    assert!(never.is_empty(), "questions that no bad case yields: {never:?}");
}

fn files_under(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap().map(|one| one.unwrap().path());
    entries.flat_map(|path| if path.is_dir() { files_under(&path) } else { vec![path] }).collect()
}

/// A finding in a case about one of the credits cites that credit's authorities: never the other section, but for what
/// section 25C borrows from 25D, and never the page on fuel cells where there is none.
#[test]
fn every_finding_cites_the_authority_of_its_own_point() {
    let law = Law::built_in().year(case::TaxYear(2025)).unwrap();
    let mut walked = BTreeSet::new();
    let mut wrong = Vec::new();
    for bad in catalog() {
        let mut sources = Sources::default();
        let (Some(read), _) = case::read(&bad.name, &bad.bytes, &mut sources) else { continue };
        let kinds: BTreeSet<_> = read.property.iter().map(|item| item.kind.value).collect();
        let credits: Vec<_> = kinds.iter().filter_map(|kind| Some(law.kinds.get(kind)?.credit)).collect();
        if credits.is_empty() || credits.len() < kinds.len() || credits.iter().any(|one| *one != credits[0]) {
            continue;
        }
        // What is said of a return or a balance is about the return's credits, whatever was bought.
        let of_items = |finding: &Finding| {
            let within = |span: gablework::finding::Span| {
                finding.at.is_some_and(|at| span.start <= at.start && at.end <= span.end)
            };
            !read.returns.iter().any(|one| within(one.span))
                && !read.carried_in.iter().any(|one| within(one.span))
        };
        for finding in found(&bad).0.into_iter().filter(of_items) {
            for cited in finding.authority.iter().flat_map(|one| one.split("; ")) {
                let other = match credits[0] {
                    gablework::law::Credit::Clean => cited.contains("25C") && !cited.contains("25D"),
                    gablework::law::Credit::Improvement => {
                        cited.contains("25D") && !cited.contains("25C") && !cited.contains("(e)(")
                    }
                };
                // What a panel is to each credit is a matter of section 25C, which names it.
                let other = other && !cited.contains("(d)(2)(D)");
                let fuel_cell = cited.contains("fuel cells") && !kinds.contains(&case::Kind::FuelCell);
                if other || fuel_cell {
                    wrong.push(format!("{}/{}: {} cites {cited}", bad.code, bad.name, finding.code));
                }
                walked.insert(finding.code);
            }
        }
    }
    assert!(walked.len() > 60, "only {} codes were walked over", walked.len());
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// What stands in the sources before the code of a finding.
const STARTS: [&str; 7] = [
    "Finding::error(",
    "Finding::warning(",
    "Finding::question(",
    "Finding::note(",
    "make(",
    "self.object(",
    "code: ",
];

#[test]
fn no_expected_text_is_left_over() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/findings");
    let wanted: BTreeSet<PathBuf> = catalog().into_iter().map(|bad| bad.expected).collect();
    for folder in fs::read_dir(root).unwrap() {
        for file in fs::read_dir(folder.unwrap().path()).unwrap() {
            let file = file.unwrap().path();
            if file.extension().is_some_and(|end| end == "txt") {
                assert!(wanted.contains(&file), "{} belongs to no case", file.display());
            }
        }
    }
}

#[test]
fn findings_keep_the_style() {
    for bad in catalog() {
        let findings = found(&bad).0;
        for pair in findings.windows(2) {
            assert_ne!(pair[0], pair[1], "{}: a finding twice", bad.name);
        }
        for finding in findings {
            let all = format!("{} {}", finding.message, finding.help.clone().unwrap_or_default());
            assert!(finding.help.is_some(), "{}: no help", finding.code);
            assert!(!finding.message.ends_with('.'), "{}: full stop", finding.code);
            assert!(!all.contains("(s)") && !all.contains("simply"), "{all}");
        }
    }
}
