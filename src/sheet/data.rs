//! The figures of a year for spreadsheets.
//!
//! Comes in: the figures of a year. Goes out: CSV. Every figure is in, one entry each; nothing here decides what a page
//! shows.

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
