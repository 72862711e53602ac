use super::names::{NAMES, Name, Takes};
use super::*;
use crate::case;
use crate::credit::facts::{AMOUNT_NAMES, FACT_NAMES};
use crate::credit::{self, facts};
use crate::document::Words;
use jiff::civil::date;
use std::path::{Path, PathBuf};

/// The cases of `tests/golden/letters`, each with the years its letters are written for and whether a firm sends them.
const CASES: &[(&str, &[i16], bool)] = &[
    ("solar-carried", &[2024], true),
    ("both-credits", &[2025], true),
    ("after-the-end", &[2026], true),
    ("used-up", &[2024, 2025], false),
    ("amend", &[2023], true),
    ("left-out", &[2025], true),
    ("wrong-year", &[2023, 2025], true),
    ("low-balance", &[2024, 2025], true),
    ("too-late", &[2023], true),
    ("planned", &[2026], true),
    ("paid-before", &[2024, 2025], true),
    ("season", &[2026], true),
];

struct Written {
    letters: Vec<(String, Document)>,
    findings: Vec<Finding>,
    values: Map<String, Value>,
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/letters")
}

fn with_case<T>(
    text: &str,
    year: i16,
    with_firm: bool,
    sources: &mut Sources,
    told: impl FnOnce(Request<'_>) -> T,
) -> T {
    let (case, found) = case::read("test.case.yaml", text.as_bytes(), sources);
    let said: Vec<String> = found.iter().map(|one| one.render(sources)).collect();
    let case = case.unwrap_or_else(|| panic!("the case cannot be read:\n{}", said.join("\n")));
    let law = Law::built_in();
    let outcome = credit::compute(&case, law).expect("the figures are made");
    let errors: Vec<_> = outcome.findings.iter().filter(|one| one.severity == Severity::Error).collect();
    assert!(errors.is_empty(), "{errors:?}");
    let year = TaxYear(year);
    let facts = facts::facts(&case, Law::built_in(), &outcome, year, false, date(2026, 11, 25));
    let (firm, said) = case::firm::read("firm.yaml", include_bytes!("../../demo/firm.yaml"), sources);
    assert!(said.is_empty(), "{said:?}");
    let firm = firm.filter(|_| with_firm);
    let request = Request {
        case: &case,
        law,
        outcome: &outcome,
        year,
        facts: &facts,
        firm: firm.as_ref(),
        logo: None,
        dated: date(2026, 11, 25),
        replaces: None,
    };
    told(request)
}

fn write_case(text: &str, year: i16, with_firm: bool, kit: &Kit, sources: &mut Sources) -> Written {
    with_case(text, year, with_firm, sources, |request| {
        let (letters, findings) = write(&request, kit);
        let speech = kit
            .folders
            .iter()
            .find(|one| one.language == request.case.client.language)
            .unwrap()
            .folder()
            .speech();
        Written { letters, findings, values: values::values(&request, speech) }
    })
}

/// Hands a case of `tests/golden/letters` to a test as a request for letters.
pub(super) fn with_request<T>(name: &str, year: i16, told: impl FnOnce(Request<'_>) -> T) -> T {
    let text = std::fs::read_to_string(folder().join(format!("{name}.case.yaml"))).unwrap();
    with_case(&text, year, true, &mut Sources::default(), told)
}

fn kit() -> (Kit, Sources) {
    let mut sources = Sources::default();
    let (kit, findings) = Kit::read(BUILT_IN, &mut sources);
    let told: Vec<String> = findings.iter().map(|one| one.render(&sources)).collect();
    assert!(told.is_empty(), "{}", told.join("\n"));
    (kit, sources)
}

/// Hands every letter of every case in every language to a test.
pub(crate) fn for_every_letter(mut told: impl FnMut(&str, &Document)) {
    for language in Language::ALL {
        for (name, written) in all_in(*language) {
            for (letter, document) in &written.letters {
                told(&format!("{name} {letter} {language}"), document);
            }
        }
    }
}

fn all() -> Vec<(String, Written)> {
    all_in(Language::En)
}

/// Writes the letters of all cases, as if the clients read a language.
fn all_in(language: Language) -> Vec<(String, Written)> {
    let (kit, mut sources) = kit();
    let mut all = Vec::new();
    for (name, years, with_firm) in CASES {
        let text = std::fs::read_to_string(folder().join(format!("{name}.case.yaml"))).unwrap();
        let text = text.replacen("client:\n", &format!("client:\n  language: {language}\n"), 1);
        for year in *years {
            all.push((format!("{name}-{year}"), write_case(&text, *year, *with_firm, &kit, &mut sources)));
        }
    }
    all
}

/// Writes a document as text, so that a person can read a golden.
fn text(document: &Document) -> String {
    let mut out = format!("# {} | {} | {}\n", document.title, document.subject, document.author);
    out.push_str(&format!("# {} | {}\n", document.furniture.head.0, document.furniture.head.1));
    document.blocks.iter().for_each(|block| block_text(block, 0, &mut out));
    out
}

fn words_text(words: &Words) -> String {
    let mark = |run: &crate::document::Run| match (run.strong, run.emphasis) {
        (true, _) => format!("**{}**", run.text),
        (_, true) => format!("*{}*", run.text),
        _ => run.text.clone(),
    };
    words.iter().map(mark).collect()
}

fn block_text(block: &Block, depth: usize, out: &mut String) {
    let indent = "  ".repeat(depth);
    let mut put = |line: String| out.push_str(&format!("{indent}{line}\n"));
    match block {
        Block::Heading { level, words } => {
            put(format!("\n{} {}\n", "=".repeat(usize::from(*level)), words_text(words)))
        }
        Block::Paragraph(words) => put(words_text(words)),
        Block::Small(words) => put(format!("(small) {}", words_text(words))),
        Block::List { items, .. } => {
            for item in items {
                let mut inner = String::new();
                item.iter().for_each(|block| block_text(block, 0, &mut inner));
                out.push_str(&format!(
                    "{indent}- {}\n",
                    inner.trim_end().replace('\n', &format!("\n{indent}  "))
                ));
            }
        }
        Block::Together(blocks) => blocks.iter().for_each(|block| block_text(block, depth, out)),
        Block::Logo(picture) => put(format!("[logo] {}", picture.alternative)),
        Block::Sender(lines) => put(format!("[sender] {}", lines.join(" / "))),
        Block::Address(lines) => put(format!("[address] {}", lines.join(" / "))),
        Block::DateLines(lines) => put(format!("[date] {}", lines.join(" / "))),
        Block::Space(lines) => put(format!("[{lines} lines]")),
        Block::Table(table) => {
            let heads: Vec<&str> = table.columns.iter().map(|column| column.head.as_str()).collect();
            put(format!("| {} |", heads.join(" | ")));
            for row in &table.rows {
                let cells: Vec<String> = row.cells.iter().map(words_text).collect();
                put(format!("| {} |", cells.join(" | ")));
            }
        }
        Block::Chart(_) | Block::Panel(_) | Block::PageBreak => panic!("letters have no such block"),
    }
}

#[test]
fn letters_read_as_accepted() {
    let accept = std::env::var_os("GABLEWORK_ACCEPT").is_some();
    let mut seen = Vec::new();
    let mut differing = Vec::new();
    let spanish = all_in(Language::Es).into_iter().map(|(name, written)| (name, ".es", written));
    for (name, end, written) in all().into_iter().map(|(name, written)| (name, "", written)).chain(spanish) {
        assert!(written.findings.is_empty(), "{:?}", written.findings);
        for (letter, document) in &written.letters {
            let file = format!("{name}-{letter}{end}.txt");
            let path = folder().join(&file);
            let made = text(document);
            if accept {
                std::fs::write(&path, &made).unwrap();
            } else if std::fs::read_to_string(&path).unwrap_or_default() != made {
                differing.push(format!("{file}:\n{made}"));
            }
            seen.push(file);
        }
    }
    for entry in std::fs::read_dir(folder()).unwrap() {
        let file = entry.unwrap().file_name().into_string().unwrap();
        if file.ends_with(".txt") && !seen.contains(&file) {
            differing.push(format!("{file} belongs to no letter any more"));
        }
    }
    assert!(differing.is_empty(), "accept with GABLEWORK_ACCEPT=1 after reading:\n{}", differing.join("\n"));
}

/// Two letters that offer something for the same change could offer two amounts.
#[test]
fn no_client_gets_two_letters_about_filed_returns() {
    for language in Language::ALL {
        let mut about_filed_returns = 0;
        for (name, written) in all_in(*language) {
            let names: Vec<&str> = written.letters.iter().map(|(letter, _)| letter.as_str()).collect();
            let both = ["amended-results", "open-window"].iter().filter(|one| names.contains(one)).count();
            assert!(both < 2, "{name}: {names:?}");
            about_filed_returns += both;
        }
        assert!(about_filed_returns > 4, "the cases make such letters");
    }
}

/// 26 U.S.C. 6511(a) and (b)(2): two years after a payment, and only what was paid in them. What is amended already is
/// offered no more, and of what nobody said nothing is offered. Amounts worked by hand: 550 more of 25D, 230 less of 25C.
#[test]
fn an_amended_return_is_offered_nothing_and_a_later_payment_sets_the_day() {
    let case = std::fs::read_to_string(folder().join("amend.case.yaml")).unwrap();
    let written = |from: &str, to: &str| {
        let (kit, mut sources) = kit();
        assert!(case.contains(from), "{from}");
        let written = write_case(&case.replacen(from, to, 1), 2023, true, &kit, &mut sources);
        let of =
            |name: &str| written.letters.iter().find(|(letter, _)| letter == name).map(|(_, one)| text(one));
        assert_eq!(of("open-window"), None);
        of("amended-results").expect("what was filed differs")
    };
    let amended = written("stage: filed", "stage: amended");
    assert!(
        amended.contains("has been amended") && amended.contains("**$320 less tax** for 2023"),
        "{amended}"
    );
    assert!(!amended.contains("can be claimed") && !amended.contains("Form 1040-X"), "{amended}");
    let paid = written("    tax_before", "    tax_paid: [{on: 2026-01-08, amount: 90}]\n    tax_before");
    assert!(
        paid.contains("A refund can be claimed until **January 10, 2028**. That is two years after"),
        "{paid}"
    );
    assert!(paid.contains("the claim must be made by **April 15, 2027**"), "{paid}");
    let unsaid = written("improvement: 480, clean: 4200", "clean: 4200");
    assert!(unsaid.contains("| Clean energy credit | $4,200 | $4,750 | $550 |"), "{unsaid}");
    assert!(unsaid.contains("We cannot say yet what this comes to together"), "{unsaid}");
    assert!(!unsaid.contains("can be claimed") && !unsaid.contains("less tax"), "{unsaid}");
    let more = written(
        "tax_before_credits: 5000\n    claimed: {improvement: 480, clean: 4200",
        "tax_before_credits: 9000\n    claimed: {improvement: 480, clean: 6200",
    );
    assert!(
        more.contains("**$430 more tax** for 2023. Interest runs from the day that tax was due"),
        "{more}"
    );
    assert!(more.contains("can add a penalty") && !more.contains("can be claimed"), "{more}");
}

/// The names, helpers and questions of a text, each once.
fn used_names(text: &str) -> Vec<String> {
    let mut names: Vec<String> = tags::tags(text, 0)
        .0
        .into_iter()
        .map(|tag| text[tag.span].trim_matches(['{', '}', '~']).to_string())
        .filter(|tag| !tag.starts_with('!'))
        // Quoted words are the language's own.
        .map(|tag| tag.split('"').step_by(2).collect::<String>())
        .collect();
    names.sort();
    names.dedup();
    names
}

#[test]
fn every_language_has_the_same_letters_and_uses_the_same_names_in_them() {
    let of = |language: &str| -> Vec<(&str, &str)> {
        let folder = format!("letters/{language}/");
        let own = BUILT_IN.iter().filter(|(path, _)| path.ends_with(".md"));
        own.filter_map(|(path, text)| Some((path.strip_prefix(folder.as_str())?, *text))).collect()
    };
    let english = of("en");
    assert_eq!(english.len(), 14);
    for language in Language::ALL.iter().filter(|language| **language != Language::En) {
        let other = of(language.word());
        assert_eq!(
            english.iter().map(|(path, _)| path).collect::<Vec<_>>(),
            other.iter().map(|(path, _)| path).collect::<Vec<_>>(),
            "{language}"
        );
        for ((path, text), (_, said)) in english.iter().zip(&other) {
            assert_eq!(used_names(text), used_names(said), "{language}/{path}");
            let when = |text: &str| -> Vec<String> {
                let front = text.starts_with("---").then(|| text.lines());
                let front = front.into_iter().flatten().take_while(|line| !line.starts_with("subject"));
                front.map(str::to_string).collect()
            };
            assert_eq!(when(text), when(said), "{language}/{path} applies elsewhere");
        }
    }
}

#[test]
fn spanish_has_words_for_all_that_values_bring_in() {
    let table = built_in_words(Language::Es).expect("the Spanish words are built in");
    let spanish = Speech { language: Language::Es, table: Some(&table) };
    for phrase in speech::PHRASES {
        assert!(table.contains_key(*phrase), "letters/es/words.yaml has no words for `{phrase}`");
    }
    let mut texts: Vec<String> = values::phrases().into_iter().map(str::to_string).collect();
    texts.extend(case::Kind::ALL.iter().map(|one| one.label().to_string()));
    texts.extend(case::IncentiveKind::ALL.iter().map(|one| one.label().to_string()));
    for year in Law::built_in().all() {
        texts.extend(year.credits.values().map(|one| one.name.clone()));
        texts.extend(year.costs.values().map(|one| one.because.clone()));
        texts.extend(year.incentives.values().map(|one| one.because.clone()));
        texts.extend(year.kinds.values().flat_map(|one| &one.requires).map(|one| one.because.clone()));
    }
    papers_named(&serde_yaml::from_str(include_str!("../../layouts/papers.yaml")).unwrap(), &mut texts);
    texts.sort();
    texts.dedup();
    let missing: Vec<&String> = texts.iter().filter(|text| !spanish.knows(text)).collect();
    assert!(missing.is_empty(), "letters/es/words.yaml has no words for: {missing:#?}");
}

/// Gathers what stands behind the key `paper` anywhere in a file.
fn papers_named(file: &serde_yaml::Value, found: &mut Vec<String>) {
    match file {
        serde_yaml::Value::Mapping(map) => map.iter().for_each(|(key, value)| match value.as_str() {
            Some(words) if key.as_str() == Some("paper") => found.push(words.to_string()),
            _ => papers_named(value, found),
        }),
        serde_yaml::Value::Sequence(list) => list.iter().for_each(|one| papers_named(one, found)),
        _ => {}
    }
}

#[test]
fn spanish_has_words_for_the_reasons_of_every_case() {
    let table = built_in_words(Language::Es).expect("the Spanish words are built in");
    let spanish = Speech { language: Language::Es, table: Some(&table) };
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    for folder in ["demo", "tests/golden/letters", "tests/cases", "tests/findings"] {
        cases_below(&root.join(folder), &mut files);
    }
    let (mut told, mut missing) = (0, Vec::new());
    for file in files {
        let bytes = std::fs::read(&file).unwrap();
        let (Some(case), _) = case::read("x.case.yaml", &bytes, &mut Sources::default()) else { continue };
        let Ok(outcome) = credit::compute(&case, Law::built_in()) else { continue };
        let shown =
            [credit::line::ITEM_QUALIFIED, credit::line::COST_COUNTED, credit::line::INCENTIVE_REDUCES];
        for figure in outcome.figures.all().iter().filter(|figure| shown.contains(&figure.place.line)) {
            for ruling in figure.rulings().into_iter().filter(|ruling| ruling.chosen.is_none()) {
                told += 1;
                if !spanish.knows(&ruling.because) {
                    missing.push(ruling.because.clone());
                }
            }
        }
    }
    missing.sort();
    missing.dedup();
    assert!(told > 200, "only {told} reasons were read");
    assert!(missing.is_empty(), "letters/es/words.yaml has no words for: {missing:#?}");
}

/// Finds the case files below a folder.
fn cases_below(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            cases_below(&path, found);
        } else if path.to_string_lossy().ends_with(".case.yaml") {
            found.push(path);
        }
    }
}

#[test]
fn every_phrase_of_the_program_is_one_it_says() {
    let sources = [
        include_str!("mod.rs"),
        include_str!("values.rs"),
        include_str!("values/filed.rs"),
        include_str!("values/items.rs"),
        include_str!("values/papers.rs"),
        include_str!("values/years.rs"),
    ];
    let listed = values::phrases();
    assert!(listed.len() > 20);
    for phrase in speech::PHRASES {
        assert!(
            sources.iter().any(|text| text.contains(&format!("\"{phrase}\""))),
            "nothing says `{phrase}`"
        );
    }
}

#[test]
fn a_reminder_needs_no_return_of_its_year() {
    let text = std::fs::read_to_string(folder().join("season.case.yaml")).unwrap();
    let (kit, mut sources) = kit();
    let projected =
        "  2026: {stage: projected, filing_status: married_filing_jointly, tax_before_credits: 2500}\n";
    let with_return = format!("{text}{projected}");
    let reminder = |text: &str, year: i16, sources: &mut Sources| {
        with_case(text, year, true, sources, |request| {
            // A projected return has letters of its own, so the packet of its year holds no reminder beside them.
            let is_season = request.case.tax_return(request.year).is_none();
            assert_eq!(request.facts.holds("is_season"), Some(is_season));
            let (letter, findings) = write_one(&request, &kit, REMINDER);
            assert!(findings.is_empty(), "{findings:?}");
            self::text(&letter.expect("the reminder is written"))
        })
    };
    let (without, with) = (reminder(&text, 2026, &mut sources), reminder(&with_return, 2026, &mut sources));
    let parts = |text: &str| -> [String; 3] {
        let (before, rest) = text.split_once("== If your tax stays the same").expect("the outlook");
        let (outlook, after) = rest.split_once("\n== ").expect("what follows it");
        [before, outlook, after].map(str::to_string)
    };
    let ([before, outlook, after], [before_with, outlook_with, after_with]) = (parts(&without), parts(&with));
    assert_eq!((before, after), (before_with, after_with));
    // 5,400 less 2,600 of 2025's tax again, and again; or less 2,500 of the projected return.
    assert!(outlook.contains("**If so, 2026:** $2,600 used, $2,800 left\n"), "{outlook}");
    assert!(outlook.contains("Your 2028 return would use the last"), "{outlook}");
    assert!(outlook.contains("With $2,800 more tax in 2026,"), "{outlook}");
    assert!(outlook_with.contains("**If so, 2026:** $2,500 used, $2,900 left\n"), "{outlook_with}");
    assert!(outlook_with.contains("With $2,900 more tax in 2026,"), "{outlook_with}");
    // A year that has no law in the program yet.
    let later = reminder(&with_return, 2027, &mut sources);
    assert!(
        later.contains("your residential clean energy credit when your 2027 return is prepared"),
        "{later}"
    );
    assert!(later.contains("We expect that you will still have **$2,900**"), "{later}");
}

#[test]
fn each_letter_applies_where_its_facts_hold() {
    let names: Vec<(String, Vec<String>)> = all()
        .into_iter()
        .map(|(name, written)| (name, written.letters.into_iter().map(|(letter, _)| letter).collect()))
        .collect();
    let of =
        |case: &str| names.iter().find(|(name, _)| name == case).map(|(_, letters)| letters.clone()).unwrap();
    assert_eq!(of("solar-carried-2024"), ["results", "carryforward", "papers-missing", "papers-to-keep"]);
    assert_eq!(of("both-credits-2025"), ["results", "papers-to-keep"]);
    assert_eq!(of("used-up-2025"), ["results", "used-up", "papers-to-keep"]);
    assert_eq!(of("amend-2023"), ["amended-results", "carryforward", "papers-to-keep"]);
    assert_eq!(of("left-out-2025")[..2], ["results", "open-window"]);
    assert_eq!(of("season-2026"), ["yearly-reminder", "papers-to-keep"]);
}

#[test]
fn values_are_those_of_the_contract_and_none_is_a_number() {
    fn numbers(value: &Value, path: &str, found: &mut Vec<String>) {
        match value {
            Value::Number(_) | Value::Null => found.push(path.to_string()),
            Value::Array(list) => list.iter().for_each(|one| numbers(one, path, found)),
            Value::Object(map) => {
                map.iter().for_each(|(name, one)| numbers(one, &format!("{path}.{name}"), found))
            }
            _ => {}
        }
    }
    for (name, written) in all() {
        assert_eq!(whole_departures(&written.values), Vec::<String>::new(), "{name}");
        let mut found = Vec::new();
        numbers(&Value::Object(written.values), &name, &mut found);
        assert_eq!(found, Vec::<String>::new());
    }
}

#[test]
fn values_print_as_they_are_written() {
    let (_, written) = all().into_iter().next().unwrap();
    let results = text(&written.letters[0].1);
    assert!(results.contains("Dear Maria O'Brien and Tomás Muñoz:"), "{results}");
    assert!(results.contains("Riverton Light & Power"), "{results}");
    let (kit, mut sources) = kit();
    let case = std::fs::read_to_string(folder().join("solar-carried.case.yaml")).unwrap();
    let case = case.replace("roof carpentry", "\"# O'Brien *& Muñoz_ [x](y) <b> 1.\"");
    let written = write_case(&case, 2024, true, &kit, &mut sources);
    let results = text(&written.letters[0].1);
    let printed = "- # O'Brien *& Muñoz_ [x](y) <b> 1. (Solar electric system), $900. ";
    assert!(results.contains(printed), "{results}");
}

#[test]
fn no_letter_holds_a_taxpayer_number_or_a_promise() {
    for (name, written) in all() {
        for (letter, document) in &written.letters {
            let said = text(document).to_lowercase();
            for never in [
                "***-**",
                "guarantee",
                "you will get back",
                "you will receive",
                "free",
                "irs approved",
                "you will save",
                "audit risk",
                "shall",
                "simply",
            ] {
                let holds = said
                    .split(|c: char| !c.is_alphanumeric() && c != '*' && c != '-' && c != ' ')
                    .any(|part| format!(" {part} ").contains(&format!(" {never} ")));
                assert!(!holds, "{name} {letter} says `{never}`");
            }
            assert!(
                said.contains("law as we knew it on november 30, 2026"),
                "{name} {letter} lacks the cautions"
            );
            assert!(said.contains("please call"), "{name} {letter} says nothing of whom to call");
        }
    }
}

#[test]
fn letters_read_easily() {
    for (name, written) in all() {
        for (letter, document) in &written.letters {
            let prose = prose(&document.blocks);
            let reading = Reading::of(&prose);
            let tenths = reading.grade_in_tenths();
            println!(
                "{name} {letter}: grade {}.{} (words {}, sentences {}, longest sentence {})",
                tenths / 10,
                tenths.rem_euclid(10),
                reading.words,
                reading.sentences,
                reading.longest
            );
            assert!(
                reading.grade_in_tenths() <= 90,
                "{name} {letter}: grade {} tenths",
                reading.grade_in_tenths()
            );
            assert!(reading.longest <= 35, "{name} {letter}: a sentence of {} words", reading.longest);
        }
    }
}

#[test]
fn spanish_letters_have_short_sentences() {
    for (name, written) in all_in(Language::Es) {
        for (letter, document) in &written.letters {
            let reading = Reading::of(&prose(&document.blocks));
            assert!(reading.longest <= 40, "{name} {letter}: a sentence of {} words", reading.longest);
            let average = reading.words / reading.sentences.max(1);
            assert!(average <= 20, "{name} {letter}: {average} words a sentence");
        }
    }
}

/// The sentences of a letter's body, without addresses and signature.
fn prose(blocks: &[Block]) -> String {
    let mut out = String::new();
    for block in blocks {
        match block {
            Block::Paragraph(words) => {
                out.extend(words.iter().map(|run| run.text.as_str()));
                // An entry of a list ends like a sentence; a colon before a list ends none.
                out.push_str(if out.ends_with(':') { "\n" } else { ".\n" });
            }
            Block::List { items, .. } => items.iter().for_each(|item| out.push_str(&prose(item))),
            _ => {}
        }
    }
    out
}

/// Counts for the Flesch-Kincaid grade: 0.39 x words a sentence + 11.8 x syllables a word - 15.59 (formula from
/// memory). Syllables are counted by groups of vowels, a silent `e` at the end left out.
struct Reading {
    words: u32,
    sentences: u32,
    syllables: u32,
    longest: u32,
}

impl Reading {
    fn of(prose: &str) -> Reading {
        let mut reading = Reading { words: 0, sentences: 0, syllables: 0, longest: 0 };
        let mut length = 0;
        let pieces: Vec<&str> = prose.split_whitespace().collect();
        for (n, piece) in pieces.iter().enumerate() {
            let word: String = piece.chars().filter(|c| c.is_alphanumeric()).collect();
            if !word.is_empty() {
                reading.words += 1;
                length += 1;
                reading.syllables += syllables(&word.to_lowercase());
            }
            if piece.trim_end_matches([')', '"']).ends_with(['.', '!', '?']) || n + 1 == pieces.len() {
                reading.sentences += u32::from(length > 0);
                reading.longest = reading.longest.max(length);
                length = 0;
            }
        }
        reading
    }

    /// The grade in tenths, so that no float is needed.
    fn grade_in_tenths(&self) -> i64 {
        let per = |a: u32, b: u32, times: i64| i64::from(a) * times / i64::from(b.max(1));
        (per(self.words, self.sentences, 390) + per(self.syllables, self.words, 11800) - 15590) / 100
    }
}

fn syllables(word: &str) -> u32 {
    if word.chars().all(|c| c.is_ascii_digit()) {
        // Numbers are read as amounts; each counts as one short word.
        return 1;
    }
    let vowel = |c: char| "aeiouyáéíóúñ".contains(c) && c != 'ñ';
    let mut groups = 0;
    let mut before = false;
    for c in word.chars() {
        groups += u32::from(vowel(c) && !before);
        before = vowel(c);
    }
    let silent = word.ends_with('e') && !word.ends_with("le") && groups > 1;
    (groups - u32::from(silent)).max(1)
}

#[test]
fn the_reading_grade_is_counted_as_the_formula_says() {
    for (word, count) in
        [("the", 1), ("credit", 2), ("residential", 4), ("table", 2), ("home", 1), ("energy", 3), ("2024", 1)]
    {
        assert_eq!(syllables(word), count, "{word}");
    }
    // Six words, one sentence, seven syllables: 0.39 x 6 + 11.8 x 7/6 - 15.59 = 0.5.
    assert_eq!(Reading::of("The old tax credit can stay.").grade_in_tenths(), 5);
}

#[test]
fn helpers_count_and_join() {
    let engine = engine(Language::En);
    let render = |template: &str, list: &[&str]| {
        engine.render_template(template, &serde_json::json!({"x": list})).unwrap()
    };
    assert_eq!(render("{{count x}} {{plural x \"item\" \"items\"}}", &["a"]), "one item");
    assert_eq!(render("{{count x}} {{plural x \"item\" \"items\"}}", &[]), "no items");
    assert_eq!(
        render("{{count x}} {{plural x \"item\" \"items\"}}: {{and x}}", &["a", "b_", "c"]),
        "three items: a, b\\_, and c"
    );
    assert_eq!(render("{{count x}}", &["a"; 14]), "14");
}

fn read_kit(files: &[(&str, &str)]) -> (Vec<String>, Vec<String>) {
    let mut sources = Sources::default();
    let (kit, findings) = Kit::read(files, &mut sources);
    let told = findings.iter().map(|one| {
        let at = one.at.expect("every finding has a place");
        let place = sources.line_column(at);
        format!(
            "{}:{}:{} [{}] {}; {}",
            sources.get(at.source).name,
            place.line,
            place.column,
            one.code,
            one.message,
            one.help.as_deref().unwrap_or("")
        )
    });
    (kit.names(Language::En).iter().map(|name| name.to_string()).collect(), told.collect())
}

#[test]
fn whatever_is_wrong_in_a_kit_is_told_at_once_and_with_its_place() {
    let head = "---\nkit: 1\nsubject: Hello\n---\n";
    let good = format!("{head}Dear {{{{year}}}}\n");
    for (body, wanted) in [
        ("Dear {{client.nmaes}}", "letters/en/x.md:5:15 [template-unknown-name]"),
        ("a\n{{#if carries_uot}}\nb\n{{/if}}", "letters/en/x.md:6:7 [template-unknown-name]"),
        (
            "see [this](http://example.org)",
            "letters/en/x.md:5:5 [template-markup] letters hold no such thing: a link",
        ),
        (
            "{{#if draft}}\nan <b>x</b>\n{{/if}}",
            "letters/en/x.md:6:4 [template-markup] letters hold no such thing: an HTML tag",
        ),
        (
            "{{#if draft}}\n> quote\n{{/if}}",
            "letters/en/x.md:6:1 [template-markup] letters hold no such thing: a quotation",
        ),
        ("{{#if draft}}x", "letters/en/x.md:5:1 [template-form]"),
        ("{{year year year}}", "letters/en/x.md:5:3 [template-unknown-name] there is no helper named `year`"),
        ("{{> cautoins}}", "letters/en/x.md:5:5 [template-unknown-part]"),
        ("{{plural items \"a\" b}}", "letters/en/x.md:5:3 [template-form]"),
    ] {
        let text = format!("{head}{body}\n");
        let (names, told) = read_kit(&[
            ("letters/en/x.md", &text),
            ("letters/en/good.md", &good),
            ("letters/en/parts/cautions.md", "Take care.\n"),
        ]);
        assert_eq!(names, ["good"], "{body}");
        assert!(told[0].starts_with(wanted), "{body}: {told:?}");
    }
    for (front, wanted) in [
        ("kit: 1\nsubject: \"{{#if draft}}x{{/if}}\"", "letters/en/x.md:3:10 [template-front]"),
        ("kit: 1\nsubject: \"*x* `y`\"", "letters/en/x.md:3:"),
        ("kit: 1\nsubject: Hello {{yaer}}", "letters/en/x.md:3:18 [template-unknown-name]"),
        ("kit: 1\nsubject: x\nenclosures: [a, \"{{yaer}}\"]", "letters/en/x.md:4:20 [template-unknown-name]"),
    ] {
        let text = format!("---\n{front}\n---\nBody.\n");
        let (names, told) = read_kit(&[("letters/en/x.md", &text)]);
        assert!(names.is_empty() && told.len() == 1 && told[0].starts_with(wanted), "{front}: {told:?}");
    }
    let (_, told) = read_kit(&[("letters/en/parts/p.md", "{{yaer}}\n{{#if carries_uot}}{{/if}}\n")]);
    assert_eq!(told.len(), 2, "both are told in one run: {told:?}");
}

#[test]
fn a_letter_needs_a_firm_no_more_than_an_address() {
    let (_, written) = all().into_iter().find(|(name, _)| name == "used-up-2025").unwrap();
    let document = &written.letters[0].1;
    assert_eq!(
        document.blocks[0],
        Block::Sender(vec![String::new(); PRINTED_HEAD_LINES]),
        "printed paper has its own head"
    );
    assert!(!document.blocks.iter().any(|block| matches!(block, Block::Address(_))));
    assert!(text(document).contains("Sincerely,\n[2 lines]\nJ. Larch\n"), "{}", text(document));
    assert!(written.findings.is_empty(), "without delivery no address is missed: {:?}", written.findings);
}

#[test]
fn addresses_that_a_window_cannot_show_are_told() {
    let (kit, mut sources) = kit();
    let case = std::fs::read_to_string(folder().join("solar-carried.case.yaml")).unwrap();
    let codes = |case: &str, sources: &mut Sources| -> Vec<&'static str> {
        write_case(case, 2024, true, &kit, sources).findings.iter().map(|one| one.code).collect()
    };
    assert!(codes(&case, &mut sources).is_empty());
    let three = case.replace("Tomás Muñoz], street", "Tomás Muñoz, Estate of the Late Third Person], street");
    assert_eq!(codes(&three, &mut sources), ["letter-address-lines"]);
    let wide = case.replace(
        "street: 12 Alder Lane, unit: Apt. 4, city: Riverton, state: MA, zip: 01040-1234",
        "street: 1200 North Old Alder Lane Extension Boulevard, city: Riverton, state: MA, zip: 01040",
    );
    assert_eq!(codes(&wide, &mut sources), ["letter-address-width"]);
}

/// The case's returns were filed in April 2024 and 2025, its work was finished in August 2023 and October 2024; the letters
/// of 2024 tell of these, and of the return of 2025, filed on 2026-03-02.
#[test]
fn a_day_after_the_letters_date_that_they_tell_as_past_is_told() {
    let text = std::fs::read_to_string(folder().join("used-up.case.yaml")).unwrap();
    let (case, _) = case::read("x.case.yaml", text.as_bytes(), &mut Sources::default());
    let case = case.unwrap();
    let outcome = credit::compute(&case, Law::built_in()).unwrap();
    let told = |dated: Date| -> Vec<String> {
        let facts = facts::facts(&case, Law::built_in(), &outcome, TaxYear(2024), false, dated);
        let request = Request {
            case: &case,
            law: Law::built_in(),
            outcome: &outcome,
            year: TaxYear(2024),
            facts: &facts,
            firm: None,
            logo: None,
            dated,
            replaces: None,
        };
        dates::find(&request).into_iter().map(|one| one.message).collect()
    };
    let told_in_2025 = told(date(2025, 4, 1));
    assert_eq!(
        told_in_2025[..2],
        [
            "the letters are dated 2025-04-01, and the 2024 return was filed on 2025-04-20",
            "the letters are dated 2025-04-01, and the 2025 return was filed on 2026-03-02",
        ]
    );
    assert!(
        told(date(2024, 5, 1)).iter().any(|one| one.ends_with("`north-array` was finished on 2024-10-01"))
    );
    assert_eq!(told(date(2028, 1, 10)), Vec::<String>::new());
}

/// Says where values depart from the contract: a name without a value, or a value without a name.
fn departures(values: &Map<String, Value>, names: &[Name], extra: &[&str]) -> Vec<String> {
    let mut told = Vec::new();
    for name in names {
        match (name.takes, values.get(name.name)) {
            (_, None) => told.push(format!("`{}` has no value", name.name)),
            (Takes::Text, Some(Value::String(_))) | (Takes::Yes, Some(Value::Bool(_))) => {}
            (Takes::Texts, Some(Value::Array(list))) if list.iter().all(Value::is_string) => {}
            (Takes::Group(inner), Some(Value::Object(map))) => told.extend(departures(map, inner, &[])),
            (Takes::List(inner), Some(Value::Array(list))) => {
                for entry in list {
                    match entry {
                        Value::Object(map) => told.extend(departures(map, inner, &[])),
                        other => told.push(format!("an entry of `{}` is {other}", name.name)),
                    }
                }
            }
            (takes, Some(other)) => told.push(format!("`{}` takes {takes:?} and is {other}", name.name)),
        }
    }
    let known = |key: &str| names.iter().any(|name| name.name == key) || extra.contains(&key);
    told.extend(values.keys().filter(|key| !known(key)).map(|key| format!("`{key}` is not in the contract")));
    told
}

/// Compares values with the names, facts and amounts of the whole contract.
fn whole_departures(values: &Map<String, Value>) -> Vec<String> {
    let extra: Vec<&str> =
        FACT_NAMES.iter().map(|(name, _)| *name).chain(AMOUNT_NAMES.iter().map(|(name, _)| *name)).collect();
    let mut told = departures(values, NAMES, &extra);
    told.extend(
        FACT_NAMES
            .iter()
            .filter(|(name, _)| !values.get(*name).is_some_and(Value::is_boolean))
            .map(|(name, _)| format!("the fact `{name}` has no yes or no")),
    );
    told.extend(
        AMOUNT_NAMES
            .iter()
            .filter(|(name, _)| !values.get(*name).is_some_and(Value::is_string))
            .map(|(name, _)| format!("the amount `{name}` has no words")),
    );
    told
}

#[test]
fn no_text_can_hold_itself_or_grow_without_end() {
    let head = "---\nkit: 1\nsubject: A letter\n---\n";
    let told = |files: &[(&str, &str)]| {
        let mut sources = Sources::default();
        let (_, findings) = Kit::read(files, &mut sources);
        findings.iter().map(|one| one.message.clone()).collect::<Vec<_>>().join("; ")
    };
    let letter = format!("{head}{{{{> one}}}}\n");
    let each_other = told(&[
        ("letters/en/a.md", &letter),
        ("letters/en/parts/one.md", "{{> two}}\n"),
        ("letters/en/parts/two.md", "{{> one}}\n"),
    ]);
    assert!(each_other.contains("a part cannot take in another part, or itself"), "{each_other}");
    let within = format!(
        "{head}{{{{#each items}}}}\n{{{{#each ../items}}}}\n- {{{{name}}}}\n{{{{/each}}}}\n{{{{/each}}}}\n"
    );
    let within = told(&[("letters/en/a.md", &within)]);
    assert!(within.contains("a list from outside cannot be gone through inside `#each`"), "{within}");
    // What is longer than any letter is not read, and what is taken in ends somewhere.
    let work = "All work and no play. ".repeat(2_500);
    let written = format!("{head}{work}{work}\n");
    let too_long = told(&[("letters/en/a.md", &written)]);
    assert!(too_long.contains("at most 60000 are read"), "{too_long}");
    let long = format!("{head}{}\n", "{{> work}}\n".repeat(6));
    let mut sources = Sources::default();
    let (kit, findings) =
        Kit::read(&[("letters/en/a.md", &long), ("letters/en/parts/work.md", &work)], &mut sources);
    assert!(usable(&findings), "{findings:?}");
    let text = std::fs::read_to_string(folder().join("solar-carried.case.yaml")).unwrap();
    with_case(&text, 2024, false, &mut sources, |request| {
        let (written, findings) = write(&request, &kit);
        assert!(written.is_empty());
        assert!(
            findings.iter().any(|one| one.message.contains("it grows beyond any letter")),
            "{findings:?}"
        );
    });
}

/// A number in pieces is one on paper; so is one behind escapes.
#[test]
fn a_full_number_in_pieces_is_refused() {
    let head = "---\nkit: 1\nsubject: A letter\n---\n";
    for words in [
        "call 1**23-45-67**89 now",
        "123&#45;45&#x2d;6789",
        "&#49;23-45-6789",
        "his *SSN* **123**456789",
        "123\\-45\\-6789",
        "- 123-45-\n  6789",
        "## 123-*45*-6789",
    ] {
        let letter = format!("{head}{words}\n\nWords after it.\n");
        let mut sources = Sources::default();
        let (_, findings) = Kit::read(&[("letters/en/a.md", &letter)], &mut sources);
        assert!(findings.iter().any(|one| one.code == "taxpayer-number"), "{words}: {findings:?}");
        let told: String = findings.iter().map(|one| one.render(&sources)).collect();
        assert!(
            !told.contains("123") || told.matches("123").count() == told.matches("-1234").count(),
            "{words}: {told}"
        );
    }
    let letter = format!("{head}Your invoice 123456789 of **May 5**.\n");
    let (_, findings) = Kit::read(&[("letters/en/a.md", &letter)], &mut Sources::default());
    assert!(findings.is_empty(), "{findings:?}");
}

/// IRS, Clarification to the 2023 Instructions for Form 5695 for joint occupants: the limit times the own payment over
/// all payments. Worked by hand: 2,000 x 6,000 / 10,000 is 1,200; the cost alone would come to 30% of 6,000, 1,800.
#[test]
fn a_joint_owners_share_is_told_as_a_share_of_the_laws_limit() {
    let (kit, mut sources) = kit();
    for (language, told) in [
        (
            "en",
            "a credit of $1,800. Your share of the $2,000 limit, divided with the other owners by what each paid, is $1,200.",
        ),
        (
            "es",
            "un crédito de $1,800. La parte de usted en el límite de $2,000, repartido con los otros dueños según lo que pagó cada uno, es $1,200.",
        ),
    ] {
        let case = format!(
            "format: 1\nclient:\n  language: {language}\n  reference: HH-0177\n  people: [{{name: Nell Harrow}}]\n  delivery: none\nhomes:\n  h:\n    address: {{street: 4 Elm Row, city: Marlow, state: OR, zip: 97099}}\n    use: main_home\n    held_as: owner\nproperty:\n  heat-pump:\n    kind: heat_pump\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2023-05-01\n    paid_by_others: 4000\n    costs: [{{item: heat pump, as: equipment, amount: 6000}}]\nreturns:\n  2023: {{stage: draft, filing_status: single, tax_before_credits: 5000}}\n"
        );
        let written = write_case(&case, 2023, true, &kit, &mut sources);
        let all: Vec<String> = written.letters.iter().map(|(_, document)| text(document)).collect();
        let plain = all.join("\n").replace('\u{A0}', " ").split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(plain.contains(told), "{plain}");
    }
}
