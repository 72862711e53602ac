//! The figures of a year for spreadsheets and for a terminal.
//!
//! Comes in: the figures of a year. Goes out: CSV, and plain text columns. Every figure is in, one entry each; nothing
//! here decides what a page shows.

use super::official::OfficialRef;
use super::references;
use crate::case::TaxYear;
use crate::contract::Choice;
use crate::credit::{Figure, Outcome};
use crate::csv;

/// Returns the year's figures as CSV (RFC 4180): a heading, then a row for each figure.
///
/// A cell of words that a spreadsheet would take for a formula begins with an apostrophe.
pub fn figures_csv(year: TaxYear, outcome: &Outcome) -> String {
    let mut csv = csv::row(["line", "of", "label", "kind", "value", "official", "how"]);
    for figure in outcome.figures.of_year(year) {
        csv.push_str(&csv::row([
            figure.place.line.to_string(),
            figure.place.of.to_string(),
            label(figure),
            figure.place.line.kind().word().to_string(),
            figure.value.plain(),
            official_words(&references(outcome, figure)),
            figure.how.clone(),
        ]));
    }
    csv
}

/// Returns the year's figures as plain text columns for a terminal: line, what it is about, label, value, how.
pub fn figures_table(year: TaxYear, outcome: &Outcome) -> String {
    let head = ["line", "of", "what it is", "value", "official", "how"].map(String::from);
    let figures = outcome.figures.of_year(year);
    let rows: Vec<[String; 6]> = std::iter::once(head)
        .chain(figures.into_iter().map(|figure| {
            [
                figure.place.line.to_string(),
                figure.place.of.to_string(),
                figure.label.clone(),
                figure.value.shown(),
                official_words(&references(outcome, figure)),
                figure.how.clone(),
            ]
        }))
        .collect();
    let width = |at: usize| rows.iter().map(|row| row[at].chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..5).map(width).collect();
    let mut text = String::new();
    for row in &rows {
        let mut line = String::new();
        for (at, width) in widths.iter().enumerate() {
            let pad = " ".repeat(width - row[at].chars().count());
            // Values stand at the right, so that their decimal points stand under each other.
            let cell = if at == 3 { format!("{pad}{}", row[at]) } else { format!("{}{pad}", row[at]) };
            line.push_str(&cell);
            line.push_str("  ");
        }
        line.push_str(&row[5]);
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

/// Names a figure, with what its row is about.
pub(super) fn label(figure: &Figure) -> String {
    match &figure.about {
        Some(about) => format!("{}: {about}", figure.label),
        None => figure.label.clone(),
    }
}

/// Prints official references in words, each that was not read in print with a dagger.
pub(super) fn official_words(references: &[OfficialRef]) -> String {
    let words: Vec<String> = references.iter().map(|one| format!("{one}{}", dagger(one))).collect();
    words.join("; ")
}

/// Returns the mark of a reference that was not read in print.
pub(super) fn dagger(reference: &OfficialRef) -> &'static str {
    if reference.needs_dagger() { "\u{2020}" } else { "" }
}
