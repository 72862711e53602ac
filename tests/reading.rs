//! Reading whole cases: the case that uses every key, junk, and random damage.

use crate::support::effort::spent;
use gablework::case::{self, *};
use gablework::finding::{Severity, Sources};
use gablework::money::Money;
use proptest::prelude::*;
use std::time::Duration;

const EVERY_KEY: &str = include_str!("cases/every-key.case.yaml");

fn read(text: &[u8]) -> (Option<Case>, Vec<gablework::finding::Finding>, Sources) {
    let mut sources = Sources::default();
    let (case, findings) = case::read("a.case.yaml", text, &mut sources);
    (case, findings, sources)
}

#[test]
fn the_case_with_every_key_reads_without_findings() {
    let (case, findings, sources) = read(EVERY_KEY.as_bytes());
    let shown: Vec<String> = findings.iter().map(|one| one.render(&sources)).collect();
    assert!(findings.is_empty(), "{}", shown.join("\n"));
    let case = case.unwrap();

    assert_eq!(case.client.reference.value, "HH-0412");
    assert_eq!(case.client.people[1].deceased.as_ref().unwrap().to_string(), "2026-01-20");
    let mail_to = case.client.mail_to.as_ref().unwrap();
    assert_eq!(mail_to.zip.value, "01040", "the leading zero stays");
    assert_eq!(mail_to.names.len(), 2);
    assert_eq!(case.homes[0].uses[1].is.value, HomeUse::RentedToOthers);
    assert_eq!(case.homes[1].uses[0].from, None);
    assert_eq!(case.homes[1].country.value, "US");

    let collector = case.item(&Key::new("roof-collector")).unwrap();
    assert_eq!(collector.paid_by_others.as_ref().unwrap().value, Money::dollars(8000));
    assert_eq!(collector.financed.as_ref().unwrap().amount.value, Money::dollars(12000));
    assert_eq!(collector.solar_share.as_ref().unwrap().to_string(), "60%");
    assert_eq!(
        collector.costs[1].treat_as.as_ref().unwrap().value,
        TreatAs::CountedInPart(Money::dollars(300))
    );
    assert_eq!(
        collector.costs[1].because.as_ref().unwrap().value,
        "The part under the collectors,\nby the carpenter's letter."
    );
    assert_eq!(case.item(&Key::new("heat-pump")).unwrap().units.value, 2);
    assert_eq!(case.item(&Key::new("panel")).unwrap().pin.len(), 1);
    assert_eq!(case.item(&Key::new("panel")).unwrap().units.value, 1);

    assert!(matches!(case.shared[0].row, SharedRow::Cost(_)));
    assert_eq!(case.shared[1].over[1].1.value, Part::Amount(Money::dollars(600)));
    assert!(matches!(case.shared[2].row, SharedRow::Incentive(_)));

    let filed = case.tax_return(TaxYear(2024)).unwrap();
    let child = filed.other_credits.iter().find(|one| one.credit.value == OtherCredit::ChildTax).unwrap();
    assert_eq!(child.worksheet_b.as_ref().unwrap().value, Money::dollars(800));
    assert!(!child.worksheet_b_unsaid);
    assert_eq!(filed.claimed.as_ref().unwrap().carried_out.as_ref().unwrap().value, Money::dollars(5100));
    assert!(!filed.separate_main_homes.as_ref().unwrap().value);
    let draft = case.tax_return(TaxYear(2025)).unwrap();
    assert_eq!(draft.rounding, RoundingChoice::Cents);
    assert_eq!(draft.tax_before_credits.value, Money::cents(214_000));

    assert!(case.planning.itemizes.as_ref().unwrap().value);
    assert_eq!(case.planning.years.len(), 1);
    assert_eq!(case.planning.years[0].credits_before.as_ref().unwrap().value, Money::dollars(200));
    assert!(!case.evidence[1].on_file.value);
    assert_eq!(case.answers[0].answer.value, "yes");
    assert_eq!(case.earlier_credits[0].window_cost.as_ref().unwrap().value, Money::ZERO);
}

/// A key that the table has and the case does not would be a key nobody has tried.
#[test]
fn the_case_with_every_key_has_every_key() {
    for block in case::format::BLOCKS {
        for rule in block.keys {
            let stands = EVERY_KEY
                .split(|c: char| !(c.is_alphanumeric() || c == '_' || c == ':'))
                .any(|word| word.strip_suffix(':') == Some(rule.key));
            assert!(stands, "{}.{} is not used", block.name, rule.key);
        }
    }
}

/// Writes a case out without the places of its values.
fn without_places(case: &Case) -> String {
    let text = format!("{case:#?}");
    let places = ["start: ", "end: "];
    text.lines().filter(|line| !places.iter().any(|one| line.trim_start().starts_with(one))).collect()
}

#[test]
fn line_ends_and_marks_of_other_systems_change_nothing() {
    let (plain, ..) = read(EVERY_KEY.as_bytes());
    let (crlf, findings, _) = read(EVERY_KEY.replace('\n', "\r\n").as_bytes());
    assert_eq!(findings, []);
    assert_eq!(without_places(&plain.unwrap()), without_places(&crlf.unwrap()));
    let (marked, findings, sources) = read(format!("\u{feff}{EVERY_KEY}").as_bytes());
    assert_eq!(findings, []);
    let marked = marked.unwrap();
    assert_eq!(sources.excerpt(marked.client.reference.span), "HH-0412");
    assert_eq!(sources.line_column(marked.client.reference.span).column, 14);
}

#[test]
fn positions_hold_behind_characters_of_several_bytes() {
    let text =
        "format: 1\nclient:\n  reference: HH-1\n  people:\n    - {name: \"Zoë Ånström\", tin: 'nope'} # ü\n";
    let (_, findings, sources) = read(text.as_bytes());
    assert_eq!(findings.len(), 1);
    assert_eq!(sources.excerpt(findings[0].at.unwrap()), "'nope'");
    assert_eq!(sources.line_column(findings[0].at.unwrap()).column, 34);
}

/// One run shows errors of every part, also behind a place that is no YAML.
#[test]
fn all_findings_come_in_one_run() {
    let text = EVERY_KEY
        .replace("tin: \"***-**-4410\"", "tin: ***-**-4410")
        .replace("kind: heat_pump", "kind: heatpump")
        .replace("amount: 9000}]", "amount: 9.000,00}]")
        .replace("tax_before_credits: 6140", "tax_before_credits:");
    let (case, findings, _) = read(text.as_bytes());
    let codes: Vec<&str> = findings.iter().map(|one| one.code).collect();
    assert!(case.is_none());
    for code in ["alias", "unknown-word", "comma-in-braces", "nothing-here"] {
        assert!(codes.contains(&code), "{code} is not among {codes:?}");
    }
}

/// What YAML has for longer texts reads alike in both readers, with either kind of line end.
#[test]
fn long_texts_may_be_written_in_every_way_yaml_has() {
    let text = "format: 1\nclient:\n  reference: HH-1\n  people:\n  - name: 'Ana O''Alder'\n    tin: XXX-XX-4410\nanswers:\n\
        \x20 - question: a\n    answer: >\n      folded\n      over lines\n\n      and on\n    because: |-\n      kept\n        as is\n\
        \x20 - question: b\n    answer: plain text\n      over lines   # with a comment\n    because: \"quoted \\\n      over lines, \\u00e9 \\\"x\\\"\"\n\
        \x20 - {question: c, answer: 'it is, as said: yes', because: \"#1\",\n     by: ~, on:\n     }\n  # the end\n...\n";
    for text in [text.to_string(), text.replace('\n', "\r\n")] {
        let (case, findings, sources) = read(text.as_bytes());
        let shown: String = findings.iter().map(|one| one.render(&sources)).collect();
        assert!(findings.is_empty(), "{shown}");
        let case = case.unwrap();
        assert_eq!(case.client.people[0].name.value, "Ana O'Alder");
        let texts: Vec<&str> = case
            .answers
            .iter()
            .flat_map(|one| [one.answer.value.as_str(), one.because.as_ref().unwrap().value.as_str()])
            .collect();
        assert_eq!(
            texts,
            [
                "folded over lines\nand on",
                "kept\n  as is",
                "plain text over lines",
                "quoted over lines, \u{e9} \"x\"",
                "it is, as said: yes",
                "#1"
            ]
        );
    }
}

/// A missing paper is an error, and the figures can still be made, so that their findings show as well.
#[test]
fn errors_that_no_figure_depends_on_leave_the_case_standing() {
    let missing_paper = EVERY_KEY.replace("  inv-118: {type", "  inv-119: {type");
    let wrong_zip = EVERY_KEY.replace("zip: 01040\n", "zip: 1040\n");
    let stranger = EVERY_KEY.replace("  language: en", "  color: blue");
    for text in [missing_paper, wrong_zip, stranger] {
        assert_ne!(text, EVERY_KEY);
        let (case, findings, _) = read(text.as_bytes());
        assert!(findings.iter().any(|one| one.severity == Severity::Error));
        assert!(case.is_some(), "{findings:?}");
    }
    let misspelt = EVERY_KEY.replace("installed: 2024-05-14", "instaled: 2024-05-14");
    assert!(read(misspelt.as_bytes()).0.is_none(), "the item would seem not to be installed");
}

#[test]
fn junk_is_answered_quickly() {
    let bomb: String = (0..10)
        .map(|n| match n {
            0 => "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n".to_string(),
            n => format!("a{n}: &a{n} [{}]\n", vec![format!("*a{}", n - 1); 10].join(", ")),
        })
        .collect();
    let junk: Vec<(&str, Vec<u8>)> = vec![
        ("empty", Vec::new()),
        ("blank", b"  \n\n# nothing\n".to_vec()),
        ("five megabytes", b"key: value\n".repeat(500_000)),
        ("binary", (0..=255u8).cycle().take(900_000).collect()),
        ("no line ends", vec![b'x'; 990_000]),
        ("lists in lists", vec![b'['; 990_000]),
        ("braces in braces", b"{a: ".repeat(240_000)),
        ("dashes", b"- ".repeat(490_000)),
        ("question marks", b"? ".repeat(490_000)),
        ("quotes", b"\"".repeat(990_000)),
        ("stars", b"a: *b\n".repeat(160_000)),
        ("marks", b"a: &b c\n".repeat(120_000)),
        ("colons", b"a: b: c\n".repeat(120_000)),
        ("one key again and again", b"a: b\n".repeat(190_000)),
        ("a million digits", b"123-45-6789 ".repeat(80_000)),
        ("strange keys", (0..24_000).flat_map(|n| format!("some_key_{n}: 1\n").into_bytes()).collect()),
        ("references to nothing", {
            let items: String = (0..10_000).map(|n| format!("  roof-array-{n}:\n")).collect();
            let enables: String = (0..20_000).map(|n| format!("roof-arry-{n}, ")).collect();
            format!("format: 1\nproperty:\n{items}  panel: {{enables: [{enables}]}}\n").into_bytes()
        }),
        ("aliases in aliases", bomb.into_bytes()),
    ];
    for (name, bytes) in junk {
        let ((case, findings, words), spent) = spent(|| {
            let (case, findings, sources) = read(&bytes);
            let words: usize = findings.iter().map(|one| one.render(&sources).len()).sum();
            (case, findings, words)
        });
        assert!(case.is_none(), "{name}");
        assert!(findings.iter().any(|one| one.severity == Severity::Error), "{name}");
        // Of the processor, in a build without optimization.
        assert!(spent < Duration::from_secs(5), "{name}: {spent:?}");
        println!("{name}: {spent:?}, {} findings, {words} bytes of words", findings.len());
    }
}

#[test]
fn no_excerpt_and_no_value_shows_a_taxpayer_number() {
    let text = EVERY_KEY
        .replace("# One invented", "# 123-45-6789 One invented")
        .replace("name: Ben Alder", "name: Ben 123-45-6789")
        .replace("\"***-**-4410\"", "\"\\x3123-45-6789\"");
    let (case, findings, sources) = read(text.as_bytes());
    let shown: String = findings.iter().map(|one| one.render(&sources)).collect();
    assert_eq!(findings.iter().filter(|one| one.code == "taxpayer-number").count(), 3, "{shown}");
    assert!(!shown.contains("123-45-6789") && !shown.contains("12345"), "{shown}");
    assert!(!format!("{case:?}").contains("123-45-6789"));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn random_bytes_are_answered(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let (_, findings, sources) = read(&bytes);
        for finding in &findings {
            finding.render(&sources);
        }
    }

    #[test]
    fn random_text_with_the_signs_of_yaml_is_answered(text in "[a-c0-9 \\n\\t:,{}\\[\\]&*!|>'\"%@`#?~.é-]{0,200}") {
        let (_, findings, sources) = read(text.as_bytes());
        for finding in &findings {
            finding.render(&sources);
        }
    }

    /// Damages a good case in a few places; it must be answered, and a case that still reads must not be one
    /// that two readers understand differently.
    #[test]
    fn damaged_cases_are_answered(
        damages in proptest::collection::vec((any::<prop::sample::Index>(), 0usize..6, "[a-z0-9 \\n\\t:,{}\\[\\]&*!|>'\"%@`#?~.é-]{0,3}"), 1..4)
    ) {
        let mut chars: Vec<char> = EVERY_KEY.chars().collect();
        for (place, cut, put) in damages {
            let at = place.index(chars.len());
            let end = (at + cut).min(chars.len());
            chars.splice(at..end, put.chars());
        }
        let text: String = chars.into_iter().collect();
        let (case, findings, sources) = read(text.as_bytes());
        for finding in &findings {
            let shown = finding.render(&sources);
            prop_assert!(finding.code != "two-readings" || case.is_none(), "{}", shown);
        }
        prop_assert!(case.is_some() || findings.iter().any(|one| one.severity == Severity::Error));
    }
}
