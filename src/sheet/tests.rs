//! What a worksheet of small whole cases says, how its layout is refused, and that its data can be computed again.

use super::*;
use crate::credit::line::LINES;
use crate::money::Money;
use rust_decimal::{Decimal, RoundingStrategy};
use serde_json::Value as Json;
use std::collections::BTreeMap;

const IN_2025: (&str, &str) =
    ("worksheet-2025.case.yaml", include_str!("../../tests/cases/worksheet-2025.case.yaml"));
const IN_2026: (&str, &str) =
    ("worksheet-2026.case.yaml", include_str!("../../tests/cases/worksheet-2026.case.yaml"));
const LONG_CHAIN: (&str, &str) =
    ("long-chain.case.yaml", include_str!("../../tests/cases/long-chain.case.yaml"));
const EVERY_KEY: (&str, &str) =
    ("every-key.case.yaml", include_str!("../../tests/cases/every-key.case.yaml"));

/// A case computed: all that a worksheet needs.
struct Ready {
    case: Case,
    outcome: Outcome,
    sources: Sources,
}

fn ready((name, text): (&str, &str)) -> Ready {
    let mut sources = Sources::default();
    let (case, findings) = crate::case::read(&format!("folder/{name}"), text.as_bytes(), &mut sources);
    let case = case.unwrap_or_else(|| panic!("{name} cannot be read: {findings:?}"));
    let outcome = crate::credit::compute(&case, Law::built_in()).unwrap();
    Ready { case, outcome, sources }
}

impl Ready {
    fn document(&self, year: i16) -> Document {
        let year = TaxYear(year);
        let facts = crate::credit::facts::facts(
            &self.case,
            Law::built_in(),
            &self.outcome,
            year,
            true,
            jiff::civil::date(2026, 11, 12),
        );
        let stamps = Stamps {
            case_fingerprint: "0123456789abcdef".to_string(),
            figures_fingerprint: "fedcba9876543210".to_string(),
            law_edition: Law::built_in().year(year).unwrap().edition.clone(),
            draft: true,
            dated: Some(jiff::civil::date(2026, 3, 5)),
            replaces: None,
        };
        write(&Material {
            layout: Layout::built_in(),
            case: &self.case,
            law: Law::built_in(),
            outcome: &self.outcome,
            year,
            facts: &facts,
            sources: &self.sources,
            stamps: &stamps,
        })
    }

    fn text(&self, year: i16) -> String {
        self.document(year).blocks.iter().map(text_of).collect()
    }
}

/// Writes a block as text: headings after a mark, cells between bars, one line each.
fn text_of(block: &Block) -> String {
    let words = |words: &Words| words.iter().map(|run| run.text.as_str()).collect::<String>();
    match block {
        Block::Heading { level, words: title } => {
            format!("{} {}\n", "#".repeat(usize::from(*level)), words(title))
        }
        Block::Paragraph(one) | Block::Small(one) => format!("{}\n", words(one)),
        Block::List { items, .. } => items.iter().flatten().map(text_of).collect(),
        Block::Panel(blocks) | Block::Together(blocks) => blocks.iter().map(text_of).collect(),
        Block::Chart(chart) => {
            let bar = |bar: &crate::document::Bar| format!("{} | {}\n", bar.name, bar.numbers.join(" | "));
            format!("[{}]\n{}", chart.summary, chart.bars.iter().map(bar).collect::<String>())
        }
        Block::Table(table) => {
            let row =
                |row: &Row| format!("{}\n", row.cells.iter().map(words).collect::<Vec<String>>().join(" | "));
            table.rows.iter().map(row).collect()
        }
        _ => String::new(),
    }
}

/// Asserts that the worksheet holds some words, and shows it where it does not.
fn says(text: &str, words: &str) {
    assert!(text.contains(words), "the worksheet does not say `{words}`:\n{text}");
}

#[test]
fn the_summary_names_each_credit_and_what_goes_on() {
    let text = ready(IN_2025).text(2025);
    says(&text, "Energy efficient home improvement credit allowed for 2025 | 2,500 | 390");
    says(&text, "Residential clean energy credit allowed for 2025 | 3,545 | 440");
    says(&text, "Credit carried forward to 2026 | 5,071 | 441");
    says(&text, "To do next: enter $5,071 on the 2026 return as the credit carried forward from 2025.");
}

#[test]
fn each_cost_stands_with_its_reason_authority_and_paper() {
    let text = ready(IN_2025).text(2025);
    says(
        &text,
        "1 | panels and inverter (equipment), paid 2025-07-01 | 14,200.00 | 14,200.00 | The property itself counts [1\u{A0}(d)]. | inv-31",
    );
    says(&text, "3 | replacing rafters (roof structure) | 2,100.00 | 0.00 | ");
    says(&text, "permit (permit), 70% of $420 shared | 294.00 | 294.00 | ");
    says(
        &text,
        "1 | Westbrook Light (public utility subsidy), agreed 2025-06-01, received 2025-10-01 | 1,000.00 | 1,000.00 | ",
    );
    says(
        &text,
        "roof-array: solar electric property, at 48 Harbor Street (harbor-street), existing home, completed 2025-08-22",
    );
}

#[test]
fn the_guide_follows_the_official_form_and_joins_code_and_cost() {
    let document = ready(IN_2025).document(2025);
    let text: String = document.blocks.iter().map(text_of).collect();
    let guide = text.split("## Entries by official line").nth(1).unwrap();
    says(guide, "Form 5695 (2025)\nhead | Names as shown on the return |  | Rosa Linden and Karl Linden | ");
    says(guide, "***-**-2201, in full on the return");
    says(guide, "6b | Clean energy property: rate times cost | 8,616 |  | 411");
    says(guide, "16 | Credit carried forward to 2026 | 5,071 |  | 441");
    says(guide, "29a | Costliest heat pump: cost | 11,250 | H4P1 | 363, 362");
    says(guide, "19a | Costliest exterior door: cost | 1,200 |  | 315");
    says(guide, "32a | Joint occupants share a limit |  | leave the box blank | 391");
    says(guide, "is not credited, even where the money was spent (common practice)");
    let lines: Vec<&str> = guide.lines().map(|line| line.split(" | ").next().unwrap()).collect();
    let at = |official: &str| {
        lines.iter().position(|line| *line == official).unwrap_or_else(|| panic!("no {official}"))
    };
    assert!(at("1") < at("6b") && at("6b") < at("16") && at("16") < at("17a"));
    // Form 5695 has a line 5a as well; the last one is that of Schedule 3.
    let schedule = lines.iter().rposition(|line| *line == "5a").expect("Schedule 3 line 5a");
    assert!(at("17a") < at("32") && at("32") < schedule);
}

#[test]
fn the_dagger_is_explained_where_it_is_met_first_and_under_the_guide() {
    let text = ready(IN_2025).text(2025);
    let first = text.find('\u{2020}').unwrap();
    let explained: Vec<usize> =
        text.match_indices("\u{2020} This official reference was not read").map(|(at, _)| at).collect();
    assert_eq!(explained.len(), 2);
    assert_eq!(text[first..explained[0]].matches("\n## ").count(), 0, "the same sheet explains it");
}

#[test]
fn judgments_questions_and_places_stand_in_words() {
    let text = ready(IN_2025).text(2025);
    says(
        &text,
        "202@heat-pump.incentive.1 | Town of Westbrook (local grant) | leaves the cost alone | Preparer's judgment: the town reported the grant as income to the client",
    );
    says(&text, "worksheet-2025.case.yaml, line ");
    assert!(!text.contains("folder/"), "folders of the machine stay out");
    assert!(!text.contains('`'), "no code marks on paper");
    says(
        &text,
        "used-words: not asked any more | property.roof-array | seen at the house | J. Birch, 2026-02-19",
    );
    says(&text, "inv-32 | invoice | roof-array.3 | missing | ");
    says(&text, "1 | 26 U.S.C. 25D as amended");
}

#[test]
fn the_chain_runs_through_all_years_up_to_this_one() {
    let text = ready(IN_2026).text(2026);
    let chain = text.split("## 600 Carryforward").nth(1).unwrap();
    says(chain, "2023 | 850.00 | 850.00 | 850.00 | 0.00");
    says(chain, "All |  | 2,650.00 | 1,900.00 | 750.00");
    says(chain, "2023 | 7,200.00 | 2023: 2,100.00; 2024: 1,850.00; 2025: 2,400.00; 2026: 850.00 | 0.00");
    says(chain, "2024 | 1,800.00 | 2026: 1,050.00 | 750.00");
    says(chain, "2024 | 5,100.00 | 1,800.00 | 1,850.00 | 5,050.00 | 12, 16");
    says(chain, "2025 | 5,050.00 | 0.00 | 2,400.00 | 2,650.00 | 12, 16");
    says(chain, "This is our bookkeeping rule; it changes no amount on a return.");
    says(chain, "The end of the credit bars new expenditures only");
}

#[test]
fn the_carryforwards_way_is_drawn_with_its_numbers_and_said_in_words() {
    let document = ready(IN_2026).document(2026);
    let charts: Vec<&crate::document::Chart> = document
        .blocks
        .iter()
        .filter_map(|block| match block {
            Block::Chart(chart) => Some(chart),
            _ => None,
        })
        .collect();
    let way = charts[0];
    // Earned 7,200 in 2023 and 1,800 in 2024; used 2,100, 1,850, 2,400 and 1,900.
    let rows: Vec<(&str, Vec<&str>)> = way
        .bars
        .iter()
        .map(|bar| (bar.name.as_str(), bar.numbers.iter().map(String::as_str).collect()))
        .collect();
    assert_eq!(
        rows[..3],
        [
            ("2023", vec!["7,200", "2,100", "5,100"]),
            ("2024", vec!["1,800", "1,850", "5,050"]),
            ("2025", vec!["", "2,400", "2,650"]),
        ]
    );
    assert_eq!(rows[3].1, ["", "1,900", "750"]);
    // What one year leaves, the next has: the bars join.
    for pair in way.bars.windows(2) {
        assert_eq!(pair[0].parts[0].to, pair[1].parts[0].from);
    }
    assert_eq!(way.bars[3].parts[1].to, 900_000, "in the end all that was earned lies on the scale");
    says(&way.summary, "2024: carried in $5,100, earned $1,800, used $1,850, left $5,050.");
    let text = ready(IN_2026).text(2026);
    says(&text, "Earned: $7,200 in 2023 and $1,800 in 2024.");
    says(&text, "$750 is left for 2027.");
}

#[test]
fn without_a_carryforward_no_way_is_drawn() {
    says(&ready(IN_2026).text(2023), "[A drawing of the carryforward");
    // With tax enough, 2023 uses all that it earns.
    let text = IN_2026.1.replace("tax_before_credits: 2100", "tax_before_credits: 21000");
    let text = ready(("enough.case.yaml", &text)).text(2023);
    says(&text, "allowed for 2023 | 7,200 | 440");
    assert!(!text.contains("[A drawing of the carryforward"), "{text}");
}

#[test]
fn the_way_from_the_price_to_the_net_cost_is_drawn() {
    let document = ready(IN_2025).document(2025);
    let net = document.blocks.iter().find_map(|block| match block {
        Block::Chart(chart) if chart.summary.starts_with("A drawing of the way") => Some(chart),
        _ => None,
    });
    let net = net.expect("a drawing on sheet 800");
    let bar = |name: &str| net.bars.iter().find(|bar| bar.name == name).unwrap_or_else(|| panic!("{name}"));
    assert_eq!(net.bars[0].numbers[1], "100%");
    // Each bar that takes off begins where the one before it ended.
    let ends: Vec<(i64, i64)> = net.bars.iter().map(|bar| (bar.parts[0].from, bar.parts[0].to)).collect();
    let so_far = net.bars.iter().position(|bar| bar.name.starts_with("Net cost counting")).unwrap();
    for at in 1..so_far {
        assert_eq!(ends[at].1, if at == 1 { ends[0].1 } else { ends[at - 1].0 });
    }
    assert_eq!(ends[so_far].1, ends[so_far - 1].0, "nothing is left out between price and net cost");
    assert_eq!(bar("Carried forward, not yet received").numbers[0], "\u{2212}5,071.00");
    says(&ready(IN_2025).text(2025), "if the whole carryforward is used in the end.");
}

#[test]
fn a_credit_of_which_there_is_nothing_has_no_sheet_and_is_skipped_in_the_guide() {
    let text = ready(IN_2026).text(2024);
    for gone in ["## 300", "Tax left for the energy efficient", "| 390", "17a", "901 |"] {
        assert!(!text.contains(gone), "{gone}:\n{text}");
    }
    says(&text, "Nothing to enter in Part II, energy efficient home improvement credit: leave it blank.");
    says(&text, "## 400");
}

#[test]
fn notes_count_from_one_and_each_document_stands_once() {
    let text = ready(IN_2025).text(2025);
    let list = text.split("## Authorities cited").nth(1).unwrap().split("## ").next().unwrap();
    let rows: Vec<&str> = list.lines().filter(|line| line.contains(" | ")).collect();
    for (n, row) in rows.iter().enumerate() {
        assert!(row.starts_with(&format!("{} | ", n + 1)), "{row}");
    }
    let documents: std::collections::BTreeSet<&str> =
        rows.iter().map(|row| row.split(" | ").nth(1).unwrap()).collect();
    assert_eq!(documents.len(), rows.len());
    // Every number in brackets has its document, and no key of the law's list is left on paper.
    let mut most = 0;
    for note in text.split('[').skip(1).filter_map(|rest| rest.split(']').next()) {
        // What else stands in brackets are the drawings of this test.
        let numbers = note.split("; ").map(|one| one.split('\u{A0}').next().unwrap().parse::<usize>());
        most = numbers.flatten().fold(most, usize::max);
    }
    assert_eq!(most, rows.len(), "{list}");
    for key in Law::built_in().year(TaxYear(2025)).unwrap().sources.keys().filter(|key| key.contains('_')) {
        assert!(!text.contains(key.as_str()), "the key {key} stands on paper");
    }
}

/// Worked by hand. The credit of 2006 (30% of 6,400) is used in three years; that of 2009 (30% of 31,000) and 2016
/// (30% of 24,500) in the tax of the years after; in 2021 a stove earns 26% of 5,200, in 2024 a battery 30% of 9,800.
/// 25C takes 160 in 2006, 210 in 2010 and in 2013 the 130 that the $500 still leave.
#[test]
fn twenty_years_stand_on_one_sheet_each_with_its_own_lines() {
    let text = ready(LONG_CHAIN).text(2026);
    let chain = text.split("## 600 Carryforward").nth(1).unwrap();
    for words in [
        "2021 | 757.00 | 757.00 | 757.00 | 0.00",
        "2024 | 2,940.00 | 2,940.00 | 943.00 | 1,997.00",
        "All |  | 3,697.00 | 1,700.00 | 1,997.00",
        "2006 | 1,920.00 | 2006: 1,050.00; 2007: 480.00; 2008: 390.00 | 0.00",
        "2009 | 9,300.00 | 2009: 1,410.00; 2010: 1,510.00; 2011: 940.00; 2012: 870.00; 2013: 800.00; 2014: 760.00; 2015: 905.00; 2016: 1,180.00; 2017: 925.00 | 0.00",
        "2016 | 7,350.00 | 2017: 315.00; 2018: 655.00; 2019: 710.00; 2021: 820.00; 2022: 1,015.00; 2023: 1,300.00; 2024: 1,490.00; 2025: 1,045.00 | 0.00",
        "2021 | 1,352.00 | 2025: 595.00; 2026: 757.00 | 0.00",
        "2024 | 2,940.00 | 2026: 943.00 | 1,997.00",
        "2006 | 0.00 | 1,920.00 | 1,050.00 | 870.00 | none, 30\u{2020}",
        "2007 | 870.00 | 0.00 | 480.00 | 390.00 | 28\u{2020}, 34",
        "2008 | 390.00 | 0.00 | 390.00 | 0.00 | 22, 28\u{2020}",
        "2011 | 6,380.00 | 0.00 | 940.00 | 5,440.00 | 26, 32",
        "2012 | 5,440.00 | 0.00 | 870.00 | 4,570.00 | 12, 18",
        "2013 | 4,570.00 | 0.00 | 800.00 | 3,770.00 | 12, 16",
        "2020 | 5,670.00 | 0.00 | 0.00 | 5,670.00 | 12, 16",
        "2026 | 3,697.00 | 0.00 | 1,700.00 | 1,997.00",
    ] {
        says(chain, words);
    }
    assert!(!chain.contains("2006 | 0.00 | 0.00"), "a credit used up long ago has no row of zeros");
}

const PLANNED: (&str, &str) =
    ("planned.case.yaml", include_str!("../../tests/golden/letters/planned.case.yaml"));

/// By hand: of 6,000 the projected 2026 uses 1,500 less 400; 4,900 are left. Planned are 1,800 of tax for 2027, with the
/// other credits of 2026, and 2,100 from 2029 on with 100: 1,400, 1,400, 2,000 and the last 100. All of it in 2026 takes
/// 4,900 more tax, which 12% makes of 40,833.33; in 2027 3,500, of 29,166.67.
#[test]
fn what_if_stands_on_a_sheet_of_its_own_and_nowhere_else() {
    let ready = ready(PLANNED);
    let text = ready.text(2026);
    let (before, rest) = text.split_once("## What if: the years after 2026\n").expect("the sheet");
    let (sheet, after) = rest.split_once("\n## ").expect("what follows it");
    for words in [
        "What if, not a figure of any return. Assumed: the tax before credits is $1,800 from 2027 through 2028 and $2,100 from 2029 on, as planned in the case;",
        "Then the last of the $4,900 would be used on the 2030 return.",
        "if 2027 | 1,800.00 | 400.00 | 1,400.00 | 4,900.00 | 1,400.00 | 3,500.00",
        "if 2028 | 1,800.00 | 400.00 | 1,400.00 | 3,500.00 | 1,400.00 | 2,100.00",
        "if 2029 | 2,100.00 | 100.00 | 2,000.00 | 2,100.00 | 2,000.00 | 100.00",
        "if 2030 | 2,100.00 | 100.00 | 2,000.00 | 100.00 | 100.00 | 0.00",
        "With $4,900 more tax before credits in 2026, all of the credit would be used by the 2026 return (line 661).",
        "federal rate of 12% that the case gives, $40,833.33 more income would make that much tax (line 662).",
        "With $3,500 more tax before credits than assumed in 2027, all of the credit would be used by the 2027 return (line 657).",
        "$29,166.67 more income",
        "It is no forecast and no promise",
        "long-term gains",
    ] {
        says(sheet, words);
    }
    for (place, part) in [("before it", before), ("after it", after)] {
        for number in ["3,500", "2030", "40,833", "what if", "What if"] {
            assert!(!part.contains(number), "`{number}` stands {place}");
        }
    }
    // Every amount of the table is in italics, and no amount of any other table is.
    let slanted = |table: &Table| -> Vec<bool> {
        let rows = table.rows.iter().filter(|row| row.role == Role::Body);
        rows.flat_map(|row| &row.cells).flatten().map(|run| run.emphasis).collect()
    };
    let document = ready.document(2026);
    for block in &document.blocks {
        let Block::Table(table) = block else { continue };
        let what_if = table.columns[0].head == "What if";
        assert!(slanted(table).into_iter().all(|one| one == what_if), "{}", table.summary);
    }
}

/// By hand: 6,000 less 100 of 2026 is 5,900; less 20 years of 200 it is 1,900; the years between are told in a remark.
#[test]
fn a_long_outlook_is_told_shortly() {
    let text = PLANNED
        .1
        .replace("1500, other", "500, other")
        .replace("2027: {tax_before_credits: 1800}", "2027: {tax_before_credits: 600}");
    let text: String =
        text.lines().filter(|line| !line.contains("2029:")).map(|line| format!("{line}\n")).collect();
    let text = ready((PLANNED.0, &text)).text(2026);
    for words in [
        "is $600 from 2027 on, as planned in the case; other credits that come first take $400 each year.",
        "Then $1,900 of the $5,900 would still be left after 20 years.",
        "if 2029 | 600.00 | 400.00 | 200.00 | 5,500.00 | 200.00 | 5,300.00\n2030 to 2045: the same each year\nif 2046 | 600.00 | 400.00 | 200.00 | 2,100.00 | 200.00 | 1,900.00\n",
    ] {
        says(&text, words);
    }
}

/// The names of the two credits and the order of the lines are those of the year: IRS, Forms 5695 (2010, 2013).
#[test]
fn an_old_year_reads_as_its_form_did() {
    let ready = ready(LONG_CHAIN);
    let text = ready.text(2013);
    for words in [
        "## 300 Section 25C: nonbusiness energy property credit",
        "## 400 Section 25D: residential energy efficient property credit",
        "Nonbusiness energy property credit allowed for 2013 | smaller of 380 and 385 | 130.00 | Form 5695, line 30",
        "Both credits together to the return",
        "from Form 1040, line 46",
    ] {
        says(&text, words);
    }
    assert!(!text.contains("lean energy credit"), "no name of a later year: {text}");
    let order = |text: &str, lines: &[&str]| {
        let sheet = text.split("## 300 Section 25C").nth(1).unwrap().split("\n## ").next().unwrap();
        let places: Vec<usize> = lines
            .iter()
            .map(|line| {
                sheet.find(&format!("\n{line} | ")).unwrap_or_else(|| panic!("no line {line}: {sheet}"))
            })
            .collect();
        assert!(places.is_sorted(), "{lines:?} are in another order:\n{sheet}");
    };
    order(&text, &["301", "346", "347", "382", "384", "387", "307", "388", "380", "385", "390"]);
    assert!(!text.contains("\n374 | "), "a year without windows has no ceiling of window cost");
    let of_2006 = ready.text(2006);
    order(&of_2006, &["301", "328", "378", "379", "381", "384", "387", "380", "390"]);
    order(&ready.text(2010), &["301", "310", "383", "384", "387", "388", "380", "385", "390"]);
}

#[test]
fn in_2026_the_official_line_is_said_to_be_unconfirmed() {
    let text = ready(IN_2026).text(2026);
    says(
        &text,
        "carryforward (line not yet confirmed)\u{2020} | Credit carried in from 2025 | 2,650 |  | 430",
    );
    says(&text, "Official lines not confirmed: the 2026 Form 5695 was not yet available as a final form.");
    assert!(!text.contains("## 300"), "a credit not in force has no sheet");
    assert!(!text.contains("## 100"), "a year without property has no purchases");
}

#[test]
fn tables_of_lines_that_follow_each_other_are_one_table() {
    let document = ready(IN_2025).document(2025);
    let blocks = &document.blocks;
    let is_title =
        |block: &Block| matches!(block, Block::Heading { words, .. } if words[0].text.starts_with("400 "));
    let start = blocks.iter().position(is_title).unwrap();
    let Block::Table(table) = &blocks[start + 1] else {
        panic!("a table follows the title: {:?}", blocks[start + 1]);
    };
    let groups: Vec<&str> = table
        .rows
        .iter()
        .filter(|row| row.role == Role::Group)
        .map(|row| row.cells[0][0].text.as_str())
        .collect();
    assert_eq!(groups, ["New property", "The credit"]);
    let full = |row: &Row| row.cells.len() == table.columns.len() || row.cells.len() == 1;
    assert!(table.rows.iter().all(full));
}

#[test]
fn findings_are_words_on_paper() {
    let text = ready(EVERY_KEY).text(2024);
    says(&text, "Error | The law is settled here and leaves no choice: ");
    says(&text, " Remove treat_as. [");
    // Findings name documents in words; on paper these are notes like all others.
    let findings = text.split("## Findings and questions").nth(1).unwrap().split("\n## ").next().unwrap();
    assert!(!findings.contains("U.S.C. 25D as amended"), "{findings}");
}

/// Paid in 2024 and complete in 2025: whoever looks at either year's paper sees where the credit is.
#[test]
fn the_year_that_decides_is_on_the_paper_of_both_years() {
    let case = include_str!("../../tests/golden/letters/paid-before.case.yaml");
    let ready = ready(("paid-before.case.yaml", case));
    for year in [2024, 2025] {
        let text = ready.text(year);
        says(
            &text,
            "roof-array was complete on 2025-01-09, so it belongs to 2025, although it was paid on 2024-11-20.",
        );
        says(&text, "so it counts in no year yet, although it was paid on 2024-12-20");
    }
}

#[test]
fn what_was_filed_stands_beside_what_was_computed() {
    let text = ready(IN_2026).text(2024);
    says(&text, "902, 906, 909 | Clean energy credit | 1,850.00 | 1,850.00 | 0.00");
    says(&text, "903, 907, 910 | Credit carried forward | 5,050.00 | 5,000.00 | 50.00");
    says(&text, "What was filed for 2024 differs from these figures.");
}

const AMENDED: (&str, &str) = ("amend-2023.case.yaml", include_str!("../../demo/amend-2023.case.yaml"));

/// Form 1040-X (Rev. December 2025): columns A, B and C, decreases in parentheses. Amounts worked by hand at the head of
/// the demo case.
#[test]
fn what_form_1040_x_asks_for_stands_ready() {
    let ready = ready(AMENDED);
    let text = ready.text(2023);
    says(&text, "6 | Tax before these credits | 6,100.00 | 0.00 | 6,100.00 | 501");
    says(&text, "7 | Nonrefundable credits | 4,710.00 | 790.00 | 5,500.00 | 922, 911, 923");
    says(&text, " | Of these: home improvement credit | 480.00 | (230.00) | 250.00 | 905, 908, 901");
    says(&text, "8 | Line 6 less line 7 | 1,390.00 | (790.00) | 600.00 | 924, 926, 925");
    says(&text, "Reason: the installer's labor of $3,400 was left out of the cost of the panels");
    says(
        &text,
        "Residential clean energy credit: $4,230 as filed, $5,250 as corrected, an increase of $1,020.",
    );
    says(
        &text,
        "It is figured on: solar electric property, installation completed September 22, 2023, qualified cost $17,500.",
    );
    says(&text, "Limits applied: costliest exterior door, $250 instead of $480.");
    says(&text, "Form 5695 as corrected: line 1, $17,500; line 15, $5,250.");
    says(&text, "Net change of the nonrefundable credits on line 7: an increase of $790.");
    assert!(!text.contains("the case does not say it. Add the reason"));
    let json = json::figures(&ready.case, TaxYear(2023), Law::built_in(), &ready.outcome, &ready.sources);
    let amended = &json["amended_return"];
    assert_eq!(
        (&amended["lines"][1]["line"], &amended["lines"][1]["b"]),
        (&Json::from("7"), &Json::from("790.00"))
    );
    says(&text, amended["explanation"].as_str().unwrap());
    assert_eq!(amended["reason_given"], Json::Bool(true));
}

/// 5,250 earned, 1,000 used in 2024 and 4,250 carried forward; filed 3,000 forward, so 2025 took 3,000 of 3,800. By hand:
/// 2025 may use 3,800, and 450 goes on.
#[test]
fn a_change_of_the_carryforward_explains_the_year_after_it() {
    let ready = ready((
        "chain.case.yaml",
        concat!(
            include_str!("../../tests/golden/letters/low-balance.case.yaml"),
            "  2026: {stage: draft, filing_status: single, tax_before_credits: 100}\n"
        ),
    ));
    let text = ready.text(2024);
    says(
        &text,
        "none | Credit carried forward to 2025 (Form 5695 only) | 3,000.00 | 1,250.00 | 4,250.00 | 907, 910, 903",
    );
    says(&text, "Residential clean energy credit: $1,000, as filed.");
    says(
        &text,
        "Credit carried forward to 2025: $3,000 as filed, $4,250 as corrected, an increase of $1,250.",
    );
    says(&text, "The nonrefundable credits on line 7 do not change.");
    says(&text, "The form asks why the return is changed, and the case does not say it.");
    assert!(!ready.text(2025).contains("Form 1040-X asks for"));
    let filed = include_str!("../../tests/golden/letters/low-balance.case.yaml").replace(
        "  2025: {stage: draft, filing_status: single, tax_before_credits: 800}",
        "  2025: {filing_status: single, filed: 2026-03-12, tax_before_credits: 3800, claimed: {clean: 3000, carried_out: 0}}",
    );
    let both = self::ready(("chain.case.yaml", filed.leak()));
    let text = both.text(2025);
    says(&text, "Carried in from 2024: $4,250, where Form 5695 of 2024 as filed shows $3,000.");
    says(&text, "2024 |  | 1,250.00 | ");
    says(&text, "2025 | 800.00 | 450.00 | 2029-04-17");
}

#[test]
fn every_page_bears_its_fingerprints() {
    let document = ready(IN_2025).document(2025);
    assert_eq!(document.furniture.head.0, "HH-0733, tax year 2025");
    assert!(
        document.furniture.foot.0.contains("Case 0123456789ab ")
            && document.furniture.foot.0.contains("Figures fedcba987654 ")
    );
    assert_eq!(document.furniture.foot.1, "Page {page} of {pages}");
    assert_eq!(document.furniture.mark.as_deref(), Some("DRAFT"));
}

/// The case with every key of format 1: each value of a text or date must reach the paper of one of its years.
#[test]
fn every_key_of_the_case_is_printed() {
    let ready = ready(EVERY_KEY);
    let text: String = ready.outcome.years.iter().map(|year| ready.text(year.0)).collect();
    for words in [
        "Ana Alder, ***-**-4410",
        "Ben Alder, ***-**-4411, died 2026-01-20",
        "PO Box 17 Apt 4, Riverton, MA 01040",
        "written consent, consent of 2025-03-01, until 2028-12-31",
        "J. Birch, 2026-03-01",
        "M. Cedar, 2026-03-04",
        "12 Alder Lane Unit #4, Riverton, MA 01040-1234, US",
        "main home from 2019-06-01, rented to others from 2025-08-15",
        "cooperative shareholder",
        "Inspected: 2024-05-20",
        "Permission to operate: 2024-06-02",
        "Placed in service: 2024-06-03",
        "a certification body, number 2024-1187",
        "3.2 kilowatts",
        "13.5 kilowatt-hours",
        "Share of energy from the sun: 60%",
        "Efficiency: 75%",
        "sun and natural gas",
        "Paid by others: $8,000",
        "Alder Lane Condominium, client's share 1.25%",
        "loan, $12,000",
        "Construction began: 2021-09-01",
        "CEE highest tier 2025",
        "AB12, AB13",
        "AB12345678901234X, AB13345678901234Y",
        "Enables: heat-pump",
        "200 amperes",
        "R. Dogwood, number 12-3456789, program a qualified certification program",
        "Audit performed: 2024-02-01",
        "Audit paid: 2024-02-10",
        "60% materials",
        "split by the installer's letter",
        "The part under the collectors,",
        "agreed 2025-01-02, received 2025-07-01",
        "Due: 2025-04-15",
        "Extended to: 2025-10-15",
        "$900 on 2025-04-15",
        "$2,000 on the return, $800 on line 14 of Credit Limit Worksheet B",
        "Spouses with separate main homes: no",
        "shown on 2023 Form 5695 line 16",
        "belongs to Ana Alder",
        "taken instead of the computed amount: the filed return is final",
        "Nonbusiness energy property credit of 2010: credit $1,500, window cost $0",
        "Planning: tax before credits in 2026: $1,500",
        "Planning: federal marginal rate: 22%",
        "Planning: itemizes deductions: yes",
        "binder 3; papers/inv-118.pdf",
        "seen at the house",
    ] {
        says(&text, words);
    }
}

#[test]
fn a_layout_is_refused_with_file_and_line() {
    let (name, text) = layout::BUILT_IN;
    // What is read when the program starts is read by one reader; here both read it.
    let (read, told) = Layout::read(name, text, &mut Sources::default());
    assert!(told.is_empty() && read.as_ref() == Some(Layout::built_in()), "{told:?}");
    for (from, to, wrong, expected) in [
        ("lines: [501]", "lines: [599]", "599", "there is no line 599"),
        (
            "show: has_net_cost",
            "show: has_net_costs",
            "has_net_costs",
            "there is no fact named `has_net_costs`; did you mean `has_net_cost`?",
        ),
        (
            "zero: show",
            "zero: maybe",
            "maybe",
            "`maybe` is none of the known words; write one of: hide, show",
        ),
        (
            "part: chain",
            "part: chains",
            "chains",
            "`chains` is none of the known words; did you mean `chain`?",
        ),
        ("        by: item", "        per: item", "per", "`per` is not a key of sheets."),
        (
            "rule: basis.unused",
            "rule: basis.unusd",
            "basis.unusd",
            "`basis.unusd` is none of the known words; did you mean `basis.unused`?",
        ),
        (
            "- part: purchases",
            "- part: purchases\n        lines: [101]",
            "lines",
            "the part `purchases` chooses its own lines; remove `lines:`",
        ),
    ] {
        assert!(text.contains(from), "{from}");
        let changed = text.replacen(from, to, 1);
        let mut sources = Sources::default();
        let (layout, findings) = Layout::read(name, &changed, &mut sources);
        let [finding] = findings.as_slice() else { panic!("{to}: {findings:?}") };
        let at = finding.at.expect("a place");
        assert!(layout.is_none());
        assert_eq!(sources.excerpt(at), wrong);
        let line = changed.find(to).map_or(0, |at| changed[..at + to.len()].lines().count());
        assert_eq!(sources.line_column(at).line, line, "{to}");
        let told = format!("{}; {}", finding.message, finding.help.as_deref().unwrap_or_default());
        assert!(told.starts_with(expected), "{told}");
    }
    let blank = text.replacen("enter {carried_out} on", "enter {carried_off} on", 1);
    let (_, findings) = Layout::read(name, &blank, &mut Sources::default());
    assert_eq!(findings[0].message, "there is no blank `{carried_off}`");
}

#[test]
fn every_line_has_its_place_on_the_worksheet() {
    let placed = Layout::built_in().lines();
    let missing: Vec<Line> =
        LINES.iter().map(|entry| entry.0).filter(|line| !placed.contains(line)).collect();
    assert_eq!(missing, Vec::<Line>::new(), "lines without a place in layouts/worksheet.yaml");
    let twice = placed.iter().filter(|line| placed.iter().filter(|one| one == line).count() > 1);
    // The summary repeats the lines a client looks for.
    let twice: Vec<u16> =
        twice.map(|line| line.0).collect::<std::collections::BTreeSet<u16>>().into_iter().collect();
    assert_eq!(twice, [390, 430, 440, 441]);
}

#[test]
fn every_figure_is_in_the_data_and_can_be_computed_again_from_it() {
    for source in [IN_2025, IN_2026, EVERY_KEY] {
        let ready = ready(source);
        let mut checked = 0;
        for year in &ready.outcome.years {
            let json = json::figures(&ready.case, *year, Law::built_in(), &ready.outcome, &ready.sources);
            let json: Json = serde_json::from_str(&json.to_string()).unwrap();
            let lines = json["lines"].as_array().unwrap();
            assert_eq!(lines.len(), ready.outcome.figures.of_year(*year).len());
            for line in lines {
                let known: BTreeMap<String, Decimal> = line["used"]
                    .as_array()
                    .unwrap()
                    .iter()
                    .filter_map(|used| {
                        let figure = &used["figure"];
                        Some((figure["place"].as_str()?.to_string(), decimal(&figure["value"])?))
                    })
                    .collect();
                match line["kind"].as_str().unwrap() {
                    "money" => {
                        let again = again(&line["expr"], &known, &ready, *year);
                        assert_eq!(line["value"], Money::exact(again).plain(), "{line}");
                        checked += 1;
                    }
                    "yes_no" => assert_eq!(line["expr"]["answer"]["value"], line["value"]),
                    _ => {}
                }
            }
        }
        assert!(checked > 30, "{checked} amounts were computed again");
    }
}

fn decimal(value: &Json) -> Option<Decimal> {
    value.as_str()?.parse().ok()
}

/// Computes an expression of the data file again, knowing nothing of the program's own expressions. Ordered rows
/// need the rows' amounts, which stand on lines of their own.
fn again(expr: &Json, known: &BTreeMap<String, Decimal>, ready: &Ready, year: TaxYear) -> Decimal {
    let (name, inner) = expr.as_object().unwrap().iter().next().unwrap();
    let compute = |expr: &Json| again(expr, known, ready, year);
    let all = |parts: &Json| parts.as_array().unwrap().iter().map(compute).collect::<Vec<Decimal>>();
    match name.as_str() {
        "fact" | "law" | "number" => decimal(&inner["value"]).unwrap(),
        "figure" => known[inner.as_str().unwrap()],
        "sum" => all(inner).into_iter().sum(),
        "less" => all(inner)[0] - all(inner)[1],
        "times" => all(inner).into_iter().product(),
        "smaller" => all(inner).into_iter().min().unwrap(),
        "not_below_zero" => compute(inner).max(Decimal::ZERO),
        "share" => match compute(&inner["of"]) {
            of if of.is_zero() => of,
            of => compute(&inner["whole"]) * compute(&inner["part"]) / of,
        },
        "passing" => match compute(&inner["amount"]) > compute(&inner["limit"]) {
            true => compute(&inner["above"]),
            false => compute(&inner["otherwise"]),
        },
        "round" => {
            let places = if inner["to"] == "whole_dollars" { 0 } else { 2 };
            compute(&inner["of"]).round_dp_with_strategy(places, RoundingStrategy::MidpointAwayFromZero)
        }
        "ruled" => match inner["ruling"]["counts"].as_bool().unwrap() {
            true => compute(&inner["of"]),
            false => Decimal::ZERO,
        },
        "rows" => {
            let amount = |place: &Json| {
                let place = Place::read(place.as_str().unwrap(), year).unwrap();
                ready.outcome.figures.money(&place).unwrap().decimal()
            };
            let rows: Vec<Decimal> = inner["rows"].as_array().unwrap().iter().map(amount).collect();
            let by: Vec<Decimal> = inner["by"].as_array().unwrap().iter().map(amount).collect();
            let by = if by.is_empty() { rows.clone() } else { by };
            let mut order: Vec<usize> = (0..rows.len()).collect();
            order.sort_by(|a, b| by[*b].cmp(&by[*a]));
            let n = inner["n"].as_u64().unwrap() as usize;
            match inner["pick"].as_str().unwrap() {
                "nth" => order.get(n - 1).map_or(Decimal::ZERO, |row| rows[*row]),
                _ => order.iter().skip(n).map(|row| rows[*row]).sum(),
            }
        }
        other => panic!("the data file has an expression `{other}`"),
    }
}

#[test]
fn the_data_follows_its_contract() {
    let ready = ready(IN_2025);
    let json = json::figures(&ready.case, TaxYear(2025), Law::built_in(), &ready.outcome, &ready.sources);
    let keys = |value: &Json| value.as_object().unwrap().keys().cloned().collect::<Vec<String>>();
    assert_eq!(
        keys(&json),
        ["format", "case", "year", "law", "lines", "findings", "papers", "amended_return"]
    );
    let line = |number: &str, of: Json| {
        let lines = json["lines"].as_array().unwrap();
        lines.iter().find(|line| line["line"] == number && line["of"] == of).unwrap()
    };
    let allowed = line("440", Json::Null);
    let expected =
        ["line", "of", "label", "kind", "value", "how", "expr", "used", "official", "authority", "rulings"];
    assert_eq!(keys(allowed), expected);
    assert_eq!(allowed["value"], "3545.00");
    assert_eq!(
        allowed["official"],
        serde_json::json!([{"form": "Form 5695", "line": "15", "read": "printed"}])
    );
    let counted = line("102", serde_json::json!("roof-array.3"));
    assert_eq!(counted["rulings"][0]["counts"], false);
    assert_eq!(keys(&counted["rulings"][0]), ["counts", "because", "authority", "settled", "chosen"]);
    let grant = line("202", serde_json::json!("heat-pump.incentive.1"));
    assert_eq!(grant["rulings"][0]["chosen"]["file"], "folder/worksheet-2025.case.yaml");
}

#[test]
fn csv_is_quoted_and_defused() {
    let quoted = IN_2025.1.replace("two doors,", "\"a \\\"pair\\\", two doors\",");
    let ready = ready(("quoted.case.yaml", &quoted));
    let csv = data::figures_csv(TaxYear(2025), &ready.outcome);
    assert!(csv.starts_with("line,of,label,kind,value,official,how\r\n"));
    says(&csv, "\"amount paid: a \"\"pair\"\", two doors (material)\",money,2400.00,,from the case");
    says(&csv, "440,,clean energy credit allowed for 2025,money,3545.00,");
    assert_eq!(csv.lines().count() - 1, ready.outcome.figures.of_year(TaxYear(2025)).len());
}

/// Every amount of some lines of a terminal: the number with its decimals that stands among the words.
fn amounts(text: &str) -> Vec<&str> {
    let amount = |word: &&str| {
        let digits = word.trim_start_matches('\u{2212}').replace(',', "");
        digits.split_once('.').is_some_and(|(whole, cents)| {
            cents.len() == 2
                && [whole, cents].iter().all(|part| part.bytes().all(|byte| byte.is_ascii_digit()))
        })
    };
    text.split_whitespace().filter(amount).collect()
}

#[test]
fn a_terminal_of_any_width_shows_whole_amounts_and_the_result_first() {
    let shape = |columns, all| terminal::Shape { columns, all, how: false };
    for (case, year) in [(IN_2025, 2025), (IN_2026, 2026), (LONG_CHAIN, 2026), (EVERY_KEY, 2025)] {
        let ready = ready(case);
        let shown =
            |shape| terminal::figures(&ready.case, Law::built_in(), TaxYear(year), &ready.outcome, shape);
        let whole = shown(shape(120, true));
        for columns in [48, 80, 100, 120] {
            let text = shown(shape(columns, true));
            let wide = text.lines().find(|line| line.chars().count() > columns && line.trim().contains("  "));
            assert_eq!(wide, None, "{columns}");
            assert_eq!(amounts(&text), amounts(&whole), "{columns}");
            // Decimal points stand under each other on a sheet.
            let (_, sheet) = text.split_once("\n400 ").expect("a sheet");
            let sheet = sheet.split("\n\n").next().unwrap_or_default();
            let sums = sheet.lines().filter(|line| amounts(line).len() == 1);
            let point = |line: &str| {
                let at = line.find(amounts(line)[0])? + amounts(line)[0].find('.')?;
                Some(line[..at].chars().count())
            };
            let points: std::collections::BTreeSet<_> = sums.map(point).collect();
            assert_eq!(points.len(), 1, "{columns}: {points:?} {sheet}");
        }
        let figures = ready.outcome.figures.of_year(TaxYear(year));
        for figure in figures.iter().filter(|one| one.value.money().is_some()) {
            assert!(amounts(&whole).contains(&figure.value.shown().as_str()), "{:?}", figure.place);
        }
        let short = shown(shape(80, false));
        assert!(short.lines().count() < whole.lines().count(), "{short}");
        // What it came to stands before the first sheet.
        let at = |words: &str| short.find(words).unwrap_or_else(|| panic!("{words}: {short}"));
        assert!(at("  440  ") < at("\n400 ") && at("  441  ") < at("\n400 "), "{short}");
        assert!(short.contains("not shown; --all shows"), "{short}");
        let how = terminal::figures(
            &ready.case,
            Law::built_in(),
            TaxYear(year),
            &ready.outcome,
            terminal::Shape { columns: 80, all: false, how: true },
        );
        assert!(how.contains("\n         = "), "{how}");
        assert!(how.lines().all(|line| line.chars().count() <= 80), "{how}");
    }
}

#[test]
fn zeros_that_say_nothing_and_sheets_of_nothing_are_shown_where_they_are_asked_for() {
    let ready = ready(IN_2026);
    let shown = |all| {
        let shape = terminal::Shape { columns: 80, all, how: false };
        terminal::figures(&ready.case, Law::built_in(), TaxYear(2026), &ready.outcome, shape)
    };
    let rows = |text: &str| {
        text.lines()
            .filter(|line| line.starts_with("  ") && line[2..].starts_with(|c: char| c.is_ascii_digit()))
            .count()
    };
    let all = shown(true);
    let figures = ready.outcome.figures.of_year(TaxYear(2026)).len();
    // Those of the result stand twice.
    assert!(rows(&all) > figures && rows(&all) <= figures + 6, "{} of {figures}", rows(&all));
    let few = shown(false);
    assert!(
        few.lines().all(|line| !line.contains(" 0.00")
            || few.find(line).is_some_and(|at| at < few.find("\n\n").unwrap_or(0))
            || ["435", "440", "540", "902"].iter().any(|one| line.starts_with(&format!("  {one}")))),
        "{few}"
    );
}
