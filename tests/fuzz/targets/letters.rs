//! A firm's own kit: letters, parts, tables of words and the worksheet's layout, filled with a case and set on pages.

use super::case::{told, well_told};
use super::page::well_placed;
use gablework::assemble::Computed;
use gablework::case::TaxYear;
use gablework::credit::facts::{Facts, facts};
use gablework::finding::Sources;
use gablework::law::Law;
use gablework::letter::{self, BUILT_IN, Kit, Request};
use gablework::sheet::{self, Layout, Stamps};
use gablework::{docx, html, page};
use jiff::civil::date;
use std::sync::OnceLock;

const CASE: &[u8] = include_bytes!("../../cases/worksheet-2025.case.yaml");
const YEAR: TaxYear = TaxYear(2025);
/// Returns that were filed, one of them to be amended.
const FILED: &[u8] = include_bytes!("../../../demo/amend-2023.case.yaml");

/// A case with its facts.
struct Ready {
    computed: Computed,
    facts: Facts,
    year: TaxYear,
}

fn ready(filed: bool) -> &'static Ready {
    static READY: [OnceLock<Ready>; 2] = [OnceLock::new(), OnceLock::new()];
    READY[usize::from(filed)].get_or_init(|| {
        let computed = told(if filed { FILED } else { CASE });
        let case = computed.case.as_ref().expect("a case");
        let year = if filed { computed.latest_year().expect("a year") } else { YEAR };
        let facts = facts(case, Law::built_in(), &computed.outcome, year, false, date(2026, 11, 12));
        Ready { computed, facts, year }
    })
}

/// A letter's own text; text that begins with `!` is a part that letters take in, with `%` a table of words. Before it
/// `^` asks for the case of returns that were filed.
pub fn letters(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let (filed, text) = match text.strip_prefix('^') {
        Some(text) => (true, text),
        None => (false, text),
    };
    let calls_part = "---\nkit: 1\nwhen: has_return\nsubject: A letter\n---\n{{> own}}\n\n{{> own}}\n";
    let words;
    let mut files: Vec<(&str, &str)> = Vec::new();
    if let Some(part) = text.strip_prefix('!') {
        files.extend([("letters/en/own-letter.md", calls_part), ("letters/en/parts/own.md", part)]);
    } else if let Some(table) = text.strip_prefix('%') {
        words = table.to_string();
        files.extend(
            BUILT_IN.iter().filter(|(path, _)| path.starts_with("letters/es") && !path.ends_with(".yaml")),
        );
        files.push(("letters/es/words.yaml", &words));
    } else {
        files.push(("letters/en/own-letter.md", text));
    }
    files.extend(BUILT_IN.iter().filter(|(path, _)| path.starts_with("letters/en/parts")));
    let Ready { computed, facts, year } = ready(filed);
    let mut sources = computed.sources.clone();
    let (kit, findings) = Kit::read(&files, &mut sources);
    well_told(&findings, &sources);
    if !letter::usable(&findings) {
        return;
    }
    let case = computed.case.as_ref().expect("a case");
    let request = Request {
        case,
        law: Law::built_in(),
        outcome: &computed.outcome,
        year: *year,
        facts,
        firm: None,
        logo: None,
        dated: date(2026, 11, 12),
        replaces: None,
    };
    let (written, findings) = letter::write(&request, &kit);
    well_told(&findings, &sources);
    for (_, document) in &written {
        html::write(document);
        docx::write(document, date(2026, 11, 12)).expect("a word processor's file");
        if let Ok(pages) = page::lay_out(document) {
            well_placed(&pages);
        }
    }
}

/// The worksheet's layout.
pub fn layout(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let law = Law::built_in();
    let mut sources = Sources::default();
    let (layout, findings) = Layout::read("layouts/worksheet.yaml", text, &mut sources);
    well_told(&findings, &sources);
    let Some(layout) = layout else {
        assert!(!findings.is_empty(), "refused without a word");
        return;
    };
    let Ready { computed, facts, .. } = ready(false);
    let case = computed.case.as_ref().expect("a case");
    let document = sheet::write(&sheet::Material {
        layout: &layout,
        case,
        law,
        outcome: &computed.outcome,
        year: YEAR,
        facts,
        sources: &computed.sources,
        stamps: &Stamps::default(),
    });
    if let Ok(pages) = page::lay_out(&document) {
        well_placed(&pages);
    }
}
