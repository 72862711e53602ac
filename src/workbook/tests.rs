use super::*;
use crate::credit;
use crate::credit::line;
use crate::finding::Sources;
use crate::law::Law;
use crate::money::Money;
use crate::sheet::{Layout, Stamps};

/// Reads and computes a case, and makes its book.
fn made(text: &str, year: i16) -> (Outcome, Book) {
    let mut sources = Sources::default();
    let (case, findings) = crate::case::read("x.case.yaml", text.as_bytes(), &mut sources);
    let told: Vec<String> = findings.iter().map(|one| one.render(&sources)).collect();
    let case = case.unwrap_or_else(|| panic!("{}", told.join("\n")));
    let law = Law::built_in();
    let outcome = credit::compute(&case, law).expect("computed");
    let (year, dated) = (TaxYear(year), jiff::civil::date(2026, 12, 1));
    let material = Material {
        layout: Layout::built_in(),
        case: &case,
        law,
        outcome: &outcome,
        year,
        facts: &facts(&case, law, &outcome, year, false, dated),
        sources: &sources,
        stamps: &Stamps::default(),
    };
    let book = book(&material, dated);
    (outcome, book)
}

/// A case of a folder of the project.
fn file(path: &str) -> String {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(root.join(path)).expect("a case file")
}

fn cell<'b>(book: &'b Book, name: &str) -> &'b Cell {
    let (tab, at) = book.names.get(name).unwrap_or_else(|| panic!("nothing is named {name}"));
    &book.tabs[*tab].rows[at.row].cells[at.column]
}

#[test]
fn every_line_of_every_year_has_a_cell_with_its_value() {
    for (path, year) in [
        ("demo/solar-and-battery.case.yaml", 2026),
        ("demo/year-of-improvements.case.yaml", 2025),
        ("demo/two-owners-second.case.yaml", 2025),
        ("tests/cases/every-key.case.yaml", 2026),
        ("demo/amend-2023.case.yaml", 2025),
    ] {
        let (outcome, book) = made(&file(path), year);
        let mut years = 0;
        for figure in outcome.figures.all().iter().filter(|figure| figure.place.year.0 <= year) {
            years = years.max(figure.place.year.0);
            let cell = cell(&book, &line_name(&figure.place));
            match (&cell.content, &figure.expr) {
                (Content::Words(words), Expr::Answer { .. }) => assert_eq!(*words, figure.value.shown()),
                (Content::Formula(_, value), _) => assert_eq!(*value, now(figure), "{}", figure.place),
                (other, _) => panic!("{path}: {} is {other:?}", figure.place),
            }
        }
        assert!(years > 2000, "{path} has figures");
    }
}

#[test]
fn a_formula_is_its_lines_expression_and_leads_to_the_receipt() {
    let (_, book) = made(&file("demo/solar-and-battery.case.yaml"), 2025);
    let formula = |name: &str| match &cell(&book, name).content {
        Content::Formula(formula, _) => formula.clone(),
        other => panic!("{name} is {other:?}"),
    };
    assert_eq!(formula("L440_2025"), "MIN(L431_2025,L435_2025)");
    assert_eq!(formula("L441_2025"), "MAX(0,L431_2025-L440_2025)");
    // From the credit to the tax of the return, and from the credit to a receipt.
    assert_eq!(formula("L501_2025"), "ROUND(FACT_returns_2025_tax_before_credits,0)");
    let tab = |name: &str| book.tabs[book.names[name].0].name.as_str();
    assert_eq!(tab("FACT_returns_2025_tax_before_credits"), inputs::FACTS);
    assert_eq!(tab("LAW_2025_clean_rate"), inputs::LAW);
    assert!(tab("L440_2025").starts_with("2025 400"), "{}", tab("L440_2025"));
    let paid = book.names.keys().find(|name| name.starts_with("L101_2025_")).expect("a cost");
    assert!(formula(paid).contains("FACT_"), "{}", formula(paid));
    let counted = paid.replace("L101", "L102");
    assert!(formula(&counted).contains(&format!("COUNTS_{counted}=\"yes\"")), "{}", formula(&counted));
    let (tab, at) = book.names[&format!("COUNTS_{counted}")];
    assert_eq!(book.tabs[tab].name, inputs::DECISIONS);
    assert!(book.tabs[tab].rows[at.row].cells.len() == 6, "a decision stands beside its reason");
}

/// Words of a case can become no formula, and no character of theirs can break the file.
#[test]
fn words_of_a_case_stay_words() {
    let text = file("demo/solar-water-heater.case.yaml");
    let (old, new) =
        ("collectors and tank", "'=HYPERLINK(\"http://a.example\";\"=1\") & <b> _x0041_ collectors'");
    assert!(text.contains(old), "the demo case has changed");
    let (_, book) = made(&text.replacen(old, new, 1), 2024);
    let hostile = |content: &Content| match content {
        Content::Words(words) => words.contains("HYPERLINK"),
        Content::Formula(formula, _) => {
            assert!(!formula.contains("HYPERLINK"), "{formula}");
            false
        }
        _ => false,
    };
    let cells = book.tabs.iter().flat_map(|tab| &tab.rows).flat_map(|row| &row.cells);
    assert!(
        cells.filter(|cell| hostile(&cell.content)).count() >= 2,
        "its words stand on the sheet and beside the input"
    );
    assert!(xlsx::write(&book).expect("written").starts_with(b"PK"));
}

#[test]
fn rows_that_only_order_decides_stand_with_their_ranks() {
    let (outcome, book) = made(&file("demo/year-of-improvements.case.yaml"), 2025);
    let rows = book.tabs.iter().find(|tab| tab.name == ROWS).expect("the tab of rows");
    let ranks: Vec<&Now> = rows
        .rows
        .iter()
        .filter_map(|row| match row.cells.get(formula::RANK).map(|cell| &cell.content) {
            Some(Content::Formula(_, rank)) => Some(rank),
            _ => None,
        })
        .collect();
    assert!(ranks.len() > 4, "{} rows", ranks.len());
    let top = Place { year: TaxYear(2025), line: line::DOOR_TOP_COST, of: credit::Subject::Return };
    assert!(outcome.figures.money(&top).is_some_and(|amount| amount > Money::ZERO));
    let Content::Formula(formula, _) = &cell(&book, "L315_2025").content else { panic!("no formula") };
    assert!(
        formula.starts_with("ROUND(SUMIF('Rows in order'!") || formula.contains("SUMIF('Rows in order'!"),
        "{formula}"
    );
}

#[test]
fn a_long_sum_stands_in_rows_and_no_formula_is_too_long() {
    let mut costs = String::new();
    for n in 0..700 {
        costs
            .push_str(&format!("      - {{item: part {n}, as: equipment, amount: \"10.{:02}\"}}\n", n % 100));
    }
    let text = format!(
        "format: 1\nclient:\n  reference: HH-1\n  people: [{{name: A Person}}]\n  delivery: none\nhomes:\n  h:\n    address: {{street: 1 A St, city: X, state: VT, zip: 05099}}\n    use: main_home\n    held_as: owner\nproperty:\n  array:\n    kind: solar_electric\n    home: h\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2025-03-01\n    costs:\n{costs}returns:\n  2025: {{stage: draft, filing_status: single, tax_before_credits: 900}}\n"
    );
    let (_, book) = made(&text, 2025);
    let mut longest = 0;
    for cell in book.tabs.iter().flat_map(|tab| &tab.rows).flat_map(|row| &row.cells) {
        if let Content::Formula(formula, _) = &cell.content {
            longest = longest.max(formula.len());
        }
    }
    // The limit of the format is 8,192.
    assert!((40..4_000).contains(&longest), "{longest}");
    let Content::Formula(sum, _) = &cell(&book, "L110_2025_array").content else { panic!("no formula") };
    assert!(sum.contains("SUM('Rows in order'!"), "{sum}");
}

#[test]
fn names_are_unlike_each_other_and_none_is_a_cell() {
    let (_, book) = made(&file("tests/cases/every-key.case.yaml"), 2026);
    assert!(book.names.len() > 300, "{} names", book.names.len());
    let mut seen = std::collections::HashSet::new();
    for name in book.names.keys() {
        assert!(seen.insert(name.to_lowercase()), "{name} stands twice");
        assert!(name.starts_with(|c: char| c.is_ascii_alphabetic()), "{name}");
        assert!(name.contains('_') && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_'), "{name}");
        assert!(name.len() <= 255, "{name}");
    }
}

/// The head that a page repeats is that of all tables on the tab, or none: another would name columns wrongly.
#[test]
fn a_head_is_repeated_where_it_holds_for_the_whole_tab() {
    let (_, book) = made(&file("demo/year-of-improvements.case.yaml"), 2025);
    let tab = |start: &str| book.tabs.iter().find(|tab| tab.name.starts_with(start)).expect("a tab");
    let said = |tab: &Tab| match &tab.rows[tab.repeated.expect("a row")].cells[0].content {
        Content::Words(words) => words.clone(),
        other => panic!("{other:?}"),
    };
    assert_eq!(said(tab("2025 300")), "Line");
    assert_eq!(tab("2025 300").frozen, tab("2025 300").repeated.expect("a row") + 1);
    // Incentives in rows, and then lines: two heads.
    assert_eq!(said(tab("2025 200")), "200 Incentives and qualified cost");
    assert_eq!(tab("2025 200").frozen, OWN_ROWS);
    assert!(book.tabs.iter().any(|tab| tab.name == ROWS));
    let (_, book) = made(&file("demo/retired-couple.case.yaml"), 2026);
    assert!(!book.tabs.iter().any(|tab| tab.name == ROWS), "nothing there is set in order");
}

/// A page is as wide as its tab, so what is printed of a wide one is too small to read: at 9.8 inches, 150 characters
/// of ten points come to nine.
#[test]
fn no_tab_is_too_wide_to_be_read_on_paper() {
    for (path, year) in [
        ("demo/solar-and-battery.case.yaml", 2026),
        ("demo/solar-water-heater.case.yaml", 2026),
        ("demo/year-of-improvements.case.yaml", 2025),
        ("demo/amend-2023.case.yaml", 2025),
        ("demo/two-owners-second.case.yaml", 2025),
        ("tests/cases/every-key.case.yaml", 2026),
    ] {
        for tab in made(&file(path), year).1.tabs {
            let wide: u16 = tab.widths.iter().sum();
            assert!(wide <= 150, "{path}: {} is {wide} characters wide: {:?}", tab.name, tab.widths);
        }
    }
}
