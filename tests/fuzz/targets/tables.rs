//! Tables for spreadsheets: read by a strict reader of RFC 4180, every cell is what was meant, and none is a formula.

use super::case::told;
use super::chance::Chance;
use gablework::case::{Language, TaxYear};
use gablework::credit::season::Entering;
use gablework::folder::senders::Senders;
use gablework::law::Law;
use gablework::letter::{Kit, post::Postal};
use gablework::money::Money;
use gablework::name::Reference;
use gablework::page::Pages;
use gablework::register::remind::left_out::{LeftOut, Reason};
use gablework::register::remind::reminder::{Reminder, Route};
use gablework::register::remind::report::{Tally, left_out_csv};
use gablework::register::remind::{Season, mailing};
use gablework::register::row::Row;
use gablework::register::rows::{Order, Register};
use gablework::register::spreadsheet;
use gablework::sheet::data;
use jiff::civil::date;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// Words of people, each ended by a zero byte, in every table that the program writes.
pub fn tables(bytes: &[u8]) {
    read_back(bytes);
}

/// Reads them, and says whether the words stood in a case that was computed.
pub fn read_back(bytes: &[u8]) -> bool {
    let mut chance = Chance(bytes);
    let postal = Postal {
        zip5: chance.text(),
        zip4: chance.text(),
        street: chance.text(),
        names: vec![chance.text(), chance.text(), chance.text()],
        city: chance.text(),
        state: chance.text(),
    };
    let (reference, file) = (chance.text(), chance.text());
    mailing_list(&postal, &reference);
    left_out(&reference, &file);
    case_tables(&mut Chance(bytes), &file)
}

/// The figures of a case and a register of it, with the words wherever a case has words.
fn case_tables(chance: &mut Chance, file: &str) -> bool {
    let mut word = || chance.quoted();
    let (name, spouse, item, from, city, paper) = (word(), word(), word(), word(), word(), word());
    let case = format!(
        "format: 1\nclient: {{reference: HH-1, people: [{{name: {name}}}, {{name: {spouse}}}]}}\nhomes:\n  h: {{use: main_home, held_as: owner, \
         address: {{street: 1 Mill Street, city: {city}, state: MA, zip: '01040'}}}}\nproperty:\n  a:\n    kind: solar_electric\n    home: h\n    \
         part_of: existing_home\n    acquired: bought\n    condition: new\n    installed: 2025-05-01\n    costs: [{{item: {item}, as: equipment, \
         amount: 10000, evidence: p}}, {{item: {item}, as: onsite_labor, amount: 10}}]\n    incentives: [{{from: {from}, as: utility_subsidy, \
         amount: 500}}]\nreturns:\n  2025: {{filing_status: married_filing_jointly, tax_before_credits: 1000}}\nevidence:\n  p: {{type: invoice, \
         on_file: false, where: {paper}}}\n"
    );
    let computed = told(case.as_bytes());
    let year = TaxYear(2025);
    let rows = strict(&data::figures_csv(year, &computed.outcome));
    let figures = computed.outcome.figures.of_year(year);
    assert_eq!(rows.len(), figures.len() + 1);
    for (row, figure) in rows[1..].iter().zip(figures) {
        let place = &figure.place;
        let meant = [place.line.to_string(), place.of.to_string(), figure.value.plain(), figure.how.clone()];
        for (cell, meant) in [&row[0], &row[1], &row[4], &row[6]].into_iter().zip(&meant) {
            same(cell, meant);
        }
        let about = figure.about.iter().all(|about| row[2].ends_with(about.as_str()));
        assert!(about && row[2].trim_start_matches('\'').starts_with(&figure.label), "{row:?}");
    }

    let day = date(2026, 11, 12);
    let row = Row::of(file.to_string(), "0123".to_string(), &computed, Law::built_in(), day);
    let names = row.names.join("; ");
    let register = Register::of(vec![row], day, "law".to_string(), true, Order::Reference);
    let mut written = Vec::new();
    spreadsheet::write(&register, &mut written).expect("memory");
    let rows = strict(&String::from_utf8(written).expect("text"));
    assert_eq!(rows.len(), 2);
    let at = |name: &str| rows[0].iter().position(|head| head == name).expect("a column");
    same(&rows[1][at("names")], &names);
    same(&rows[1][at("file")], file);
    let is_computed = computed.case.is_some() && !computed.has_errors();
    assert_eq!(rows[1][at("state")], if is_computed { "computed" } else { "errors" });
    is_computed
}

/// The list of a season's letters, for the printer and for the portal.
fn mailing_list(postal: &Postal, reference: &str) {
    let reference =
        Reference::new(reference).unwrap_or_else(|_| Reference::new("HH-1").expect("a reference"));
    static KIT: OnceLock<Kit> = OnceLock::new();
    let (senders, texts) = (Senders::default(), Default::default());
    let season = Season {
        year: TaxYear(2026),
        dated: date(2026, 11, 12),
        law: Law::built_in(),
        kit: KIT.get_or_init(|| Kit::built_in(&mut Default::default())),
        texts: &texts,
        senders: &senders,
        single: false,
    };
    let amount = Money::cents(123_456);
    let reminder = Reminder {
        reference: reference.clone(),
        route: Route::Mail(postal.clone()),
        language: Language::En,
        entering: Entering {
            year: season.year,
            amount,
            origins: Vec::new(),
            last_return: None,
            expected: true,
        },
        pages: Pages::default(),
        single: None,
        id: [0; 16],
        remarks: Vec::new(),
    };
    for with_amounts in [false, true] {
        let list =
            mailing::heading(with_amounts) + &mailing::row((1, 2), &reminder, postal, &season, with_amounts);
        let rows = strict(&list);
        let at = |name: &str| rows[0].iter().position(|head| head == name).expect("a column");
        let meant = [
            ("client_ref", reference.to_string()),
            ("name_line_1", postal.names[0].clone()),
            ("name_line_2", postal.names[1..].join(" AND ")),
            ("street_line", postal.street.clone()),
            ("city", postal.city.clone()),
            ("state", postal.state.clone()),
            ("zip5", postal.zip5.clone()),
            ("zip4", postal.zip4.clone()),
            ("last_line", postal.last_line()),
        ];
        assert_eq!(rows.len(), 2);
        meant.iter().for_each(|(name, meant)| same(&rows[1][at(name)], meant));
        let list = mailing::portal_heading(with_amounts)
            + &mailing::portal_row(&postal.street, &reminder, &season, with_amounts);
        let rows = strict(&list);
        assert_eq!(rows.len(), 2);
        same(&rows[1][0], &reference);
        same(&rows[1][1], &postal.street);
    }
}

/// The cases without a letter.
fn left_out(reference: &str, file: &str) {
    let file = file.replace('\\', "/");
    let one = |reasons| LeftOut { file: PathBuf::from(&file), reference: reference.to_string(), reasons };
    let tally = Tally {
        left_out: vec![
            one(vec![Reason::Failed]),
            one(vec![Reason::SameReference(vec![PathBuf::from(&file)])]),
        ],
        ..Tally::default()
    };
    let rows = strict(&left_out_csv(&tally, Path::new("cases")));
    assert_eq!(rows.len(), 3);
    for row in &rows[1..] {
        same(&row[1], reference);
    }
}

/// Checks that a cell holds what was meant; before what would be a formula an apostrophe may stand.
fn same(cell: &str, meant: &str) {
    let same = cell == meant || (is_formula(meant) && cell.strip_prefix('\'') == Some(meant));
    assert!(same, "{cell:?} for {meant:?}");
}

/// Reads rows as RFC 4180 has them, and refuses all that it has not: a quote within words, words behind a quote, a
/// row that does not end, rows of different length. No cell may be a formula.
fn strict(text: &str) -> Vec<Vec<String>> {
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut rest = text;
    while !rest.is_empty() {
        let mut row = Vec::new();
        loop {
            let (cell, behind) = cell(rest);
            assert!(!is_formula(&cell), "{cell:?} is computed");
            row.push(cell);
            if let Some(behind) = behind.strip_prefix("\r\n") {
                rest = behind;
                break;
            }
            rest = behind.strip_prefix(',').unwrap_or_else(|| panic!("a cell does not end in {text:?}"));
        }
        let as_long = rows.first().is_none_or(|first| first.len() == row.len());
        assert!(as_long, "a row of another length: {row:?}");
        rows.push(row);
    }
    rows
}

/// The first cell of a text, and what stands behind it.
fn cell(text: &str) -> (String, &str) {
    let Some(mut rest) = text.strip_prefix('"') else {
        let end = text.find([',', '\r', '\n']).unwrap_or(text.len());
        assert!(!text[..end].contains('"'), "a quote within words: {text:?}");
        return (text[..end].to_string(), &text[end..]);
    };
    let mut cell = String::new();
    loop {
        let end = rest.find('"').unwrap_or_else(|| panic!("a quote does not close: {text:?}"));
        cell.push_str(&rest[..end]);
        rest = &rest[end + 1..];
        match rest.strip_prefix('"') {
            Some(behind) => {
                cell.push('"');
                rest = behind;
            }
            None => return (cell, rest),
        }
    }
}

/// Says whether a spreadsheet would compute: a sign that begins formulas, in narrow or wide form, first or behind what
/// does not show, and not the sign of a plain number; or a first character that some program takes for the end of a
/// cell.
fn is_formula(cell: &str) -> bool {
    let number = cell.strip_prefix('-').unwrap_or(cell).split('.').collect::<Vec<_>>();
    let digits = |part: &&str| !part.is_empty() && part.chars().all(|c| c.is_ascii_digit());
    if number.len() <= 2 && number.iter().all(digits) {
        return false;
    }
    let shows = |c: &char| !(c.is_whitespace() || c.is_control() || matches!(c, '\u{200b}' | '\u{feff}'));
    cell.starts_with(['\t', '\r', '\n'])
        || cell.chars().find(shows).is_some_and(|c| "=+-@\u{ff1d}\u{ff0b}\u{ff0d}\u{ff20}".contains(c))
}
