//! The figures of a year for a terminal: what the year came to first, then sheet by sheet, as wide as the terminal is.
//!
//! Comes in: the figures of a year and how many columns there are. Goes out: lines of text. An amount is never broken,
//! and of zeros only those are shown that say something, unless all are asked for. Computes nothing.

use super::layout::{Layout, Sheet};
use super::lines::{TELLING_ZEROS, led_to, reference_cell};
use super::{references, unmarked};
use crate::case::{Case, TaxYear};
use crate::credit::credits::CREDITS;
use crate::credit::line::{self, Line, Subject};
use crate::credit::stage::{self, ReturnStage};
use crate::credit::{Figure, Outcome, Value};
use crate::law::{Credit, Law};
use crate::wording::{capital, counted};
use crate::wrap::{columns, wrapped};
use std::collections::BTreeSet;
use std::fmt::Write;

/// How the figures are shown.
#[derive(Clone, Copy, Debug)]
pub struct Shape {
    /// How many columns there are.
    pub columns: usize,
    /// Lines of zero and sheets of which there is nothing are shown too.
    pub all: bool,
    /// How each figure came about stands under it.
    pub how: bool,
}

/// A table gains nothing from more columns than this: amounts would stand too far from what they are.
const WIDEST: usize = 120;
/// The fewest columns into which a table can be set.
const NARROWEST: usize = 48;
/// A place that takes more stands on a line of its own.
const WIDEST_PLACE: usize = 26;
/// What it is gets at least so much, before official lines stand beside it.
const LABEL: usize = 24;
/// Before each row, and between two cells.
const GAP: usize = 2;

/// Lines of a credit that say nothing where there is no such credit.
const OF_NO_CREDIT: &[Line] = &[
    line::IMPROVEMENT_LIMIT,
    line::IMPROVEMENT_ALLOWED,
    line::IMPROVEMENT_TAX_LEFT,
    line::CLEAN_LIMIT,
    line::CLEAN_ALLOWED,
    line::CLEAN_TAX_LEFT,
];

/// Lines of a filed return that differs: what comes back or is owed.
const CHANGES: &[Line] = &[
    line::LESS_TAX_THAN_FILED,
    line::MORE_TAX_THAN_FILED,
    line::MORE_CARRIED_THAN_FILED,
    line::LESS_CARRIED_THAN_FILED,
];

/// Returns the figures of a year as lines for a terminal.
pub fn figures(case: &Case, law: &Law, year: TaxYear, outcome: &Outcome, shape: Shape) -> String {
    let shape = Shape { columns: shape.columns.clamp(NARROWEST, WIDEST), ..shape };
    let figures = outcome.figures.of_year(year);
    let shown: Vec<&Figure> = figures.iter().copied().filter(|figure| shape.all || says(figure)).collect();
    let empty: BTreeSet<u16> = match shape.all {
        true => BTreeSet::new(),
        false => {
            shown.iter().map(|one| one.place.line.sheet()).filter(|sheet| is_empty(&shown, *sheet)).collect()
        }
    };
    let result = result(law, year, &figures);
    let sheets: BTreeSet<u16> =
        shown.iter().map(|one| one.place.line.sheet()).filter(|sheet| !empty.contains(sheet)).collect();
    let shown: Vec<&Figure> =
        shown.into_iter().filter(|one| !empty.contains(&one.place.line.sheet())).collect();
    let page = Page { outcome, shape, amount: widest_amount(shown.iter().chain(&result)) };

    let mut text =
        heading(&format!("{}, tax year {year}{}", case.client.reference.value, stage(case, outcome, year)));
    page.rows(&result, &mut text);
    for sheet in sheets {
        let of_sheet: Vec<&Figure> =
            shown.iter().copied().filter(|one| one.place.line.sheet() == sheet).collect();
        text.push('\n');
        text.push_str(&heading(&title(law, year, sheet)));
        page.rows(&of_sheet, &mut text);
    }
    let mut notes = Vec::new();
    if text.contains('\u{2020}') {
        notes.push("\u{2020} not read on the printed form: compare it before using it.".to_string());
    }
    let hidden = figures.len() - shown.len();
    if hidden > 0 {
        notes.push(format!(
            "{} of zero or without a value {} not shown; --all shows them, --how shows how each figure came about.",
            counted(hidden, "line", "lines"),
            if hidden == 1 { "is" } else { "are" }
        ));
    }
    for (n, note) in notes.iter().enumerate() {
        text.push_str(if n == 0 { "\n" } else { "" });
        for line in wrapped(note, shape.columns, shape.columns) {
            let _ = writeln!(text, "{line}");
        }
    }
    text
}

/// Says what to know of the year's return: its figures are estimates, or there is none.
fn stage(case: &Case, outcome: &Outcome, year: TaxYear) -> &'static str {
    match stage::stage(case, &outcome.figures, year) {
        ReturnStage::NotInCase => " (no return in the case)",
        ReturnStage::Expected => " (return expected, so these are estimates)",
        ReturnStage::InPreparation => " (return in preparation)",
        _ => " (return filed)",
    }
}

/// Returns the figures that a year comes to: of each credit what is allowed, lost and carried, and what a filed return
/// changes by.
fn result<'f>(law: &Law, year: TaxYear, figures: &[&'f Figure]) -> Vec<&'f Figure> {
    let of = |line: Line| figures.iter().copied().find(|one| one.place.line == line);
    let not_zero = |line: Line| of(line).filter(|one| !is_zero(one));
    let mut result = Vec::new();
    for credit in &CREDITS {
        let carried = credit.carried.as_ref();
        // Where a credit has ended, a zero says so only of what could have been carried in.
        let has = carried.is_some() || law.year(year).is_some_and(|law| law.in_force(credit.credit));
        result.extend(carried.and_then(|one| not_zero(one.into)));
        result.extend(of(credit.allowed).filter(|one| has || !is_zero(one)));
        result.extend(credit.lost.and_then(not_zero));
        result.extend(carried.and_then(|one| of(one.on)));
    }
    result.extend(CHANGES.iter().filter_map(|line| not_zero(*line)));
    result
}

fn is_zero(figure: &Figure) -> bool {
    figure.value.number().is_some_and(|number| number.is_zero())
}

/// Says whether a figure says something: whatever is no zero, and a zero that something led to.
fn says(figure: &Figure) -> bool {
    match &figure.value {
        Value::Text(text) => !text.is_empty(),
        Value::YesNo(_) => true,
        _ => !is_zero(figure) || (TELLING_ZEROS.contains(&figure.place.line) && led_to(figure)),
    }
}

/// Says whether a sheet holds nothing but zeros and what follows from them.
fn is_empty(shown: &[&Figure], sheet: u16) -> bool {
    let credit = CREDITS.iter().any(|credit| credit.sheet == sheet);
    let nothing = |figure: &Figure| match &figure.value {
        Value::Text(_) | Value::YesNo(_) => true,
        _ => is_zero(figure) || (credit && OF_NO_CREDIT.contains(&figure.place.line)),
    };
    shown.iter().filter(|one| one.place.line.sheet() == sheet).all(|one| nothing(one))
}

/// Returns the title of a sheet, as the worksheet has it.
fn title(law: &Law, year: TaxYear, sheet: u16) -> String {
    let called =
        |credit: Credit| law.year(year).map_or(credit.called(), |law| law.called(credit)).to_string();
    let number = format!("{sheet} ");
    let filled = |one: &Sheet| {
        one.title.fill_with(|blank| match blank {
            "improvement" => called(Credit::Improvement),
            "clean" => called(Credit::Clean),
            _ => year.to_string(),
        })
    };
    let mut titles = Layout::built_in().sheets.iter().map(filled);
    titles.find(|title| title.starts_with(&number)).unwrap_or(number)
}

/// Writes a heading.
fn heading(words: &str) -> String {
    format!("{words}\n")
}

/// How wide the widest amount is, over all sheets, so that decimal points stand under each other.
fn widest_amount<'f>(figures: impl Iterator<Item = &'f &'f Figure>) -> usize {
    figures.map(|figure| columns(&amount(figure))).max().unwrap_or(0)
}

/// Prints what stands among the amounts; words stand behind what they are about, where they can be broken.
fn amount(figure: &Figure) -> String {
    match &figure.value {
        Value::Text(_) => String::new(),
        other => other.shown(),
    }
}

/// Prints a figure's place as `why` takes it.
fn place(figure: &Figure) -> String {
    let place = figure.place.to_string();
    place.split_once(':').map_or(place.clone(), |(_, rest)| rest.to_string())
}

/// Prints what a figure is; its place names the item or the year already.
fn what(figure: &Figure) -> String {
    let mut what = capital(&figure.label);
    let named = matches!(figure.place.of, Subject::Item(_) | Subject::Origin(_) | Subject::If(_));
    if let Some(about) = figure.about.as_ref().filter(|_| !named) {
        what.push_str(&format!(": {about}"));
    }
    if let Value::Text(text) = &figure.value {
        what.push_str(&format!(": {text}"));
    }
    what
}

/// How wide the two columns of words are.
struct Beside {
    what: usize,
    official: usize,
}

/// Sets rows of figures.
struct Page<'a> {
    outcome: &'a Outcome,
    shape: Shape,
    /// How wide the column of amounts is.
    amount: usize,
}

impl Page<'_> {
    /// Sets the rows of a sheet: place, what it is, amount, official line. What is too long for its column goes on
    /// below, an official line that is too long stands below as a whole.
    fn rows(&self, figures: &[&Figure], text: &mut String) {
        let places: Vec<String> = figures.iter().map(|one| place(one)).collect();
        let most = WIDEST_PLACE.min(self.shape.columns / 3);
        let short = places.iter().map(|one| columns(one)).filter(|width| *width <= most);
        let of_place = short.max().unwrap_or(3);
        let room = self.shape.columns.saturating_sub(GAP + of_place + GAP + GAP + self.amount);
        let official: Vec<String> =
            figures.iter().map(|one| reference_cell(&references(self.outcome, one))).collect();
        let what: Vec<String> = figures.iter().map(|one| what(one)).collect();
        let Beside { official: of_official, what: of_what } = Page::beside(room, &what, &official);
        let indent = " ".repeat(GAP + of_place + GAP);
        for (((figure, place), official), what) in figures.iter().zip(&places).zip(&official).zip(&what) {
            let mut head = format!("{}{place}", " ".repeat(GAP));
            if columns(place) > of_place {
                let _ = writeln!(text, "{head}");
                head = " ".repeat(GAP + of_place);
            } else {
                head.push_str(&" ".repeat(of_place - columns(place)));
            }
            let fits = columns(official) <= of_official;
            for (n, part) in wrapped(what, of_what, of_what).into_iter().enumerate() {
                let mut row = match n {
                    0 => format!("{head}{}{part}", " ".repeat(GAP)),
                    _ => format!("{indent}{part}"),
                };
                if n == 0 {
                    let amount = amount(figure);
                    let pad = of_what.saturating_sub(columns(&part)) + GAP + self.amount - columns(&amount);
                    row.push_str(&" ".repeat(pad));
                    row.push_str(&amount);
                    if fits {
                        row.push_str(&" ".repeat(GAP));
                        row.push_str(official);
                    }
                }
                let _ = writeln!(text, "{}", row.trim_end());
            }
            if !fits {
                self.below(&indent, official, text);
            }
            if self.shape.how && !figure.how.is_empty() {
                self.below(&indent, &format!("= {}", unmarked(&figure.how)), text);
            }
        }
    }

    /// Divides the room between what the lines are and their official lines so that the sheet takes the fewest lines; an
    /// official line that does not fit stands below.
    fn beside(room: usize, what: &[String], official: &[String]) -> Beside {
        let longest = what.iter().map(|one| columns(one)).max().unwrap_or(0);
        let divided = |of_official: usize| {
            let left = room - if of_official == 0 { 0 } else { of_official + GAP };
            Beside { official: of_official, what: longest.min(left) }
        };
        let lines = |one: &Beside| -> usize {
            let rows = what.iter().zip(official).map(|(what, official)| {
                let below = columns(official) > one.official;
                wrapped(what, one.what, one.what).len() + usize::from(below)
            });
            rows.sum()
        };
        let most = room.saturating_sub(LABEL + GAP);
        let mut widths: Vec<usize> =
            official.iter().map(|one| columns(one)).filter(|width| *width <= most).collect();
        widths.push(0);
        widths.sort_unstable();
        widths.dedup();
        let all = widths.into_iter().rev().map(divided);
        all.min_by_key(lines).unwrap_or(Beside { official: 0, what: longest.min(room) })
    }

    /// Writes words under a row.
    fn below(&self, indent: &str, words: &str, text: &mut String) {
        let width = self.shape.columns.saturating_sub(indent.len() + GAP);
        for part in wrapped(words, width, width) {
            let _ = writeln!(text, "{indent}{}{part}", " ".repeat(GAP));
        }
    }
}
