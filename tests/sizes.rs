//! Cases of a size that no household has: each is answered with little work, or refused with its place.

use crate::support::effort::spent;
use gablework::assemble::{self, Computed};
use gablework::finding::Sources;
use gablework::law::Law;
use std::fmt::Write;
use std::time::Duration;

/// The most work that any case may be: a second of a released program, and what a build without optimization makes of
/// that.
const MOST: Duration = Duration::from_secs(12);

const HEAD: &str = "format: 1\nclient: {reference: HH-1, people: [{name: Ana Alder}]}\n";
const HOME: &str = "{use: main_home, held_as: owner, address: {street: 1 Mill Street, city: Riverton, state: MA, zip: '01040'}}";
const RETURNS: &str = "returns:\n  2024: {filing_status: single, tax_before_credits: 5000}\n";

/// An item of property with one cost.
fn item(n: usize, amount: &str) -> String {
    format!(
        "  i{n}: {{kind: solar_electric, home: h0, part_of: existing_home, acquired: bought, condition: new, \
         installed: 2024-05-20, costs: [{{item: panels, as: equipment, amount: '{amount}'}}]}}\n"
    )
}

/// A case with so many homes and items, and more beside them.
fn case(homes: usize, items: usize, amount: &str, more: &str) -> String {
    let mut text = format!("{HEAD}homes:\n");
    (0..homes).for_each(|n| _ = writeln!(text, "  h{n}: {HOME}"));
    text.push_str("property:\n");
    (0..items).for_each(|n| text.push_str(&item(n, amount)));
    text + more + RETURNS
}

fn many(count: usize, entry: impl Fn(usize) -> String) -> String {
    (0..count).map(entry).collect::<Vec<_>>().join(", ")
}

/// Computes a case, and returns it with the codes of its errors.
fn answered(name: &str, text: &str) -> (Computed, Vec<&'static str>) {
    let (computed, spent) = spent(|| {
        let computed =
            assemble::compute("large.case.yaml", text.as_bytes(), Law::built_in(), Sources::default())
                .unwrap_or_else(|fault| panic!("{name}: {fault}"));
        computed.outcome.findings.iter().for_each(|one| _ = one.render(&computed.sources));
        computed
    });
    assert!(spent < MOST, "{name} takes {spent:?}");
    let errors =
        computed.outcome.findings.iter().filter(|one| one.severity == gablework::finding::Severity::Error);
    let codes = errors.map(|one| one.code).collect();
    (computed, codes)
}

#[test]
fn what_is_more_than_any_household_has_is_refused_with_its_place() {
    let costs = many(2_000, |n| format!("{{item: c{n}, as: equipment, amount: 1}}"));
    let shared: String = (0..20)
        .map(|_| {
            format!(
                "  - {{item: s, as: permit, amount: 100, over: {{{}}}}}\n",
                many(100, |n| format!("i{n}: 1"))
            )
        })
        .collect();
    let papers: String = (0..2_500).map(|n| format!("  p{n}: {{type: invoice, on_file: true}}\n")).collect();
    let answers: String = (0..2_500).map(|n| format!("  - {{question: q{n}, answer: yes}}\n")).collect();
    for (name, text) in [
        ("a hundred thousand items", case(1, 100_000, "10", "")[..990_000].to_string()),
        ("items", case(1, 600, "10", "")),
        ("homes", case(300, 1, "10", "")),
        ("ten thousand homes", case(10_000, 1, "10", "")[..990_000].to_string()),
        (
            "costs",
            case(1, 1, "10", "")
                .replace("[{item: panels, as: equipment, amount: '10'}]", &format!("[{costs}]")),
        ),
        ("parts of shared costs", case(1, 100, "10", &format!("shared:\n{shared}"))),
        ("papers", case(1, 1, "10", &format!("evidence:\n{papers}"))),
        ("answers", case(1, 1, "10", &format!("answers:\n{answers}"))),
        (
            "people",
            case(1, 1, "10", "").replace("{name: Ana Alder}", &many(9_000, |n| format!("{{name: Ana {n}}}"))),
        ),
    ] {
        let (computed, codes) = answered(name, &text);
        assert!(computed.case.is_none(), "{name} is computed");
        let told = computed.outcome.findings.iter().find(|one| one.code == "too-many-entries");
        assert!(told.is_some_and(|one| one.at.is_some()), "{name}: {codes:?}");
    }
}

#[test]
fn the_largest_cases_that_are_computed_take_little_work() {
    let text = "roof lease labor loan warranty generator ".repeat(4);
    let wordy = case(1, 300, "10", "").replace("item: panels", &format!("item: '{}'", text.trim()));
    for (name, text) in [
        ("homes", case(200, 1, "10", "")),
        ("items", case(1, 500, "10", "")),
        ("words to look for", wordy),
        ("long words", case(1, 300, "10", "").replace("panels", &"x".repeat(180))),
        (
            "uses",
            case(1, 1, "10", "").replace(
                "use: main_home",
                &format!(
                    "use: [{}]",
                    many(3_000, |n| format!(
                        "{{from: {}-{:02}-{:02}, is: main_home}}",
                        1930 + n / 336,
                        1 + n % 336 / 28,
                        1 + n % 28
                    ))
                ),
            ),
        ),
    ] {
        let (computed, codes) = answered(name, &text);
        assert!(computed.case.is_some(), "{name}: {codes:?}");
    }
}

/// Sums of the largest amounts that can be written stay exact: they neither wrap nor stop the program.
#[test]
fn the_largest_amounts_are_added_exactly() {
    let (computed, codes) = answered("amounts", &case(1, 500, "999,999,999,999.99", ""));
    assert!(codes.is_empty(), "{codes:?}");
    let all = computed.outcome.figures.all().iter().filter_map(|figure| figure.value.money());
    let whole = all.max().expect("amounts").to_cents().plain();
    assert_eq!(whole, "499999999999995.00", "five hundred times the largest amount");
    let (_, codes) = answered("an amount beyond", &case(1, 1, "9,999,999,999,999", ""));
    assert_eq!(codes, ["amount-form"]);
}

/// Twice as much of something is about twice the work, not four times.
#[test]
fn work_grows_with_the_size_and_no_faster() {
    type Text = fn(usize) -> String;
    let kinds: [(&str, Text); 4] = [
        ("items", |n| case(1, n, "10", "")),
        ("unknown keys", |n| {
            format!("{HEAD}{}", (0..n * 40).map(|k| format!("some_key_{k}: 1\n")).collect::<String>())
        }),
        ("numbers", |n| "123-45-6789 tin ".repeat(n * 50)),
        ("one long line", |n| format!("{HEAD}# {}", "tin 1 ".repeat(n * 200))),
    ];
    for (name, text) in kinds {
        let (small, large) = (text(100), text(400));
        let least = |text: &str| (0..3).map(|_| spent(|| answered(name, text)).1).min().unwrap_or_default();
        let (once, four_times) = (least(&small), least(&large));
        let most = once * 9 + Duration::from_millis(200);
        assert!(four_times < most, "{name}: {once:?} become {four_times:?} with four times as much");
    }
}

/// What a file may repeat, up to the most bytes that are read: each is one pass over it. Where work grows with the
/// square of the length, as it once did for the second, each takes minutes.
const REPEATED: [(&str, &str, &str); 24] = [
    ("", "# 123-45-6789\n", ""),
    ("# tin ", "1 ", "\n"),
    ("# ", "123-45-6789 ", "\n"),
    ("# ", "tin: ", "\n"),
    ("x: [", "\"\\x31\\x32\\x33-45-6789\", ", "1]\n"),
    ("x: [", "{tin: 12345678}, ", "1]\n"),
    ("tin: [", "123, ", "1]\n"),
    ("x: [", "&a 1, ", "1]\n"),
    ("x: [", "!a 1, ", "1]\n"),
    ("x: [", "*a, ", "1]\n"),
    ("x: &", "a&", "\n"),
    ("", "x: 1\n", ""),
    ("", "x: @a\n", ""),
    ("x: @", "abc ", "\n"),
    ("x: ", "[", "\n"),
    ("x: ", "a: ", "\n"),
    ("x: ", "\"a\" ", "\n"),
    ("answers:\n", "  - {question: a, about: evidence.x, answer: b}\n", ""),
    ("# ", "\u{200b}", "\n"),
    ("", "\u{a0}x: 1\n", ""),
    ("# ", "e\u{301}", "\n"),
    ("x: a", " ", "b\n"),
    ("", "\t", "\n"),
    ("", "---\n", ""),
];

#[test]
fn whatever_a_case_or_a_firm_file_repeats_is_read_in_one_pass() {
    for (before, part, after) in REPEATED {
        for head in [HEAD, ""] {
            let room = 990_000 - head.len() - before.len() - after.len();
            let text = format!("{head}{before}{}{after}", part.repeat(room / part.len()));
            let mut sources = Sources::default();
            let ((), work) = spent(|| match head {
                "" => drop(gablework::case::firm::read("firm.yaml", text.as_bytes(), &mut sources)),
                _ => drop(answered(part, &text)),
            });
            assert!(work < MOST, "{before}{part}: {work:?}");
        }
    }
}

#[test]
fn whatever_a_letter_repeats_is_read_in_one_pass() {
    for part in [
        "{{client.reference}}",
        "{{#if draft}}{{/if}}",
        "{{",
        "tin 1 ",
        "a\n",
        "{{> x}}",
        "{{#each items}}",
        "when: [a]\n",
        "&#49;",
    ] {
        for head in [
            "---\nkit: 1\nsubject: A letter\n---\n",
            "---\nkit: 1\nsubject: ",
            "---\nkit: 1\nenclosures: [",
            "---\n",
            "",
        ] {
            let text = format!("{head}{}", part.repeat(59_000 / part.len()));
            let mut sources = Sources::default();
            let (_, work) =
                spent(|| gablework::letter::Kit::read(&[("letters/en/a.md", &text)], &mut sources));
            assert!(work < MOST, "{head}{part}: {work:?}");
        }
        let table = format!("words:\n{}", part.repeat(990_000 / part.len()));
        let mut sources = Sources::default();
        let (_, work) =
            spent(|| gablework::letter::Kit::read(&[("letters/es/words.yaml", &table)], &mut sources));
        assert!(work < MOST, "words, {part}: {work:?}");
    }
}
