//! The figures of a year as data: for other programs, for spreadsheets, for a terminal.
//!
//! Comes in: the figures of a year. Goes out: JSON whose expressions another program can compute again, CSV, and
//! plain text columns. Every figure is in, one entry each; nothing here decides what a page shows.

use super::official::{Entry, OfficialRef};
use super::references;
use crate::case::{Case, TaxYear};
use crate::credit::expression::{Pick, Rounding, law_value};
use crate::credit::line::Subject;
use crate::credit::{CaseRef, Expr, Figure, LineKind, Outcome, Ruling, Used, Value};
use crate::csv;
use crate::finding::{Sources, Span};
use crate::law::Law;
use serde_json::{Map, Value as Json, json};

/// Returns the year's figures and the case's findings as JSON: the contract of `figures --as json`, format 1.
///
/// Money is a string with two decimals; in expressions, exact numbers are strings too, shares as factors. A place
/// is written `2024:230@roof-array`.
pub fn figures_json(case: &Case, year: TaxYear, law: &Law, outcome: &Outcome, sources: &Sources) -> Json {
    let writer = Writer { outcome, law, sources };
    let figures = outcome.figures.of_year(year);
    let lines: Vec<Json> = figures.into_iter().map(|figure| writer.figure(figure)).collect();
    let findings: Vec<Json> = outcome.findings.iter().map(|finding| finding.to_json(sources)).collect();
    object([
        ("format", json!(1)),
        ("case", json!(case.client.reference.value)),
        ("year", json!(year)),
        ("law", json!(law.year(year).map(|law| law.edition.clone()))),
        ("lines", Json::Array(lines)),
        ("findings", Json::Array(findings)),
        ("papers", super::proof::papers_json(case, law, outcome, year)),
        ("amended_return", super::amended::amended_json(case, law, outcome, year)),
    ])
}

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
            kind(figure.place.line.kind()).to_string(),
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

/// Writes figures with what they point into.
struct Writer<'a> {
    outcome: &'a Outcome,
    law: &'a Law,
    sources: &'a Sources,
}

impl Writer<'_> {
    fn figure(&self, figure: &Figure) -> Json {
        let of = match &figure.place.of {
            Subject::Return => Json::Null,
            of => Json::String(of.to_string()),
        };
        let references = references(self.outcome, figure);
        let official = references.iter().filter(|one| !one.within && one.entry != Entry::Cost);
        object([
            ("line", Json::String(figure.place.line.to_string())),
            ("of", of),
            ("label", Json::String(label(figure))),
            ("kind", json!(kind(figure.place.line.kind()))),
            ("value", Json::String(figure.value.plain())),
            ("how", json!(figure.how)),
            ("expr", self.expr(&figure.expr)),
            ("used", figure.used.iter().map(|used| self.used(used)).collect()),
            ("official", official.map(reference).collect()),
            ("authority", json!(figure.authority)),
            ("rulings", figure.rulings().into_iter().map(|ruling| self.ruling(ruling)).collect()),
        ])
    }

    fn expr(&self, expr: &Expr) -> Json {
        let all = |parts: &[Expr]| parts.iter().map(|part| self.expr(part)).collect::<Json>();
        let facts = |facts: &[CaseRef]| facts.iter().map(|fact| self.fact(fact)).collect::<Json>();
        let (what, entry) = match expr {
            Expr::Fact(fact) => ("fact", self.fact(fact)),
            Expr::Law(year, key) => {
                let mut entry = Map::new();
                entry.insert("year".to_string(), json!(year));
                entry.insert("key".to_string(), json!(key));
                if let Some(value) = law_value(self.law, *year, *key) {
                    exact(&mut entry, &value);
                }
                ("law", Json::Object(entry))
            }
            Expr::Number(number, unit) => ("number", json!({"value": number.to_string(), "unit": unit})),
            Expr::Figure(place) => ("figure", json!(place)),
            Expr::Rows { rows, by, pick } => {
                let (pick, n) = match pick {
                    Pick::Nth(n) => ("nth", n),
                    Pick::After(n) => ("after", n),
                };
                ("rows", json!({"rows": rows, "by": by, "pick": pick, "n": n}))
            }
            Expr::WordsOfRow { rows, by, words, nth } => {
                let words = ("words", facts(words));
                ("words_of_row", object([("rows", json!(rows)), ("by", json!(by)), words, ("n", json!(nth))]))
            }
            Expr::Sum(parts) => ("sum", all(parts)),
            Expr::Less(a, b) => ("less", Json::Array(vec![self.expr(a), self.expr(b)])),
            Expr::Times(a, b) => ("times", Json::Array(vec![self.expr(a), self.expr(b)])),
            Expr::Share { whole, part, of } => {
                let parts = [("whole", whole), ("part", part), ("of", of)];
                ("share", object(parts.map(|(name, part)| (name, self.expr(part)))))
            }
            Expr::Smaller(parts) => ("smaller", all(parts)),
            Expr::NotBelowZero(inner) => ("not_below_zero", self.expr(inner)),
            Expr::Passing { amount, limit, above, otherwise } => {
                let parts =
                    [("amount", amount), ("limit", limit), ("above", above), ("otherwise", otherwise)];
                ("passing", object(parts.map(|(name, part)| (name, self.expr(part)))))
            }
            Expr::Round(rounding, inner) => {
                let to = match rounding {
                    Rounding::EntryInWholeDollars => "whole_dollars",
                    Rounding::ProductInCents => "cents",
                    Rounding::ShareInTenthsOfPercent => "tenths_of_percent",
                };
                ("round", object([("to", json!(to)), ("of", self.expr(inner))]))
            }
            Expr::Ruled(ruling, inner) => {
                ("ruled", object([("ruling", self.ruling(ruling)), ("of", self.expr(inner))]))
            }
            Expr::Answer { value, because, from } => {
                let mut entry = Map::new();
                exact(&mut entry, value);
                entry.insert("because".to_string(), json!(because));
                entry.insert("from".to_string(), facts(from));
                ("answer", Json::Object(entry))
            }
        };
        object([(what, entry)])
    }

    fn used(&self, used: &Used) -> Json {
        let mut entry = Map::new();
        let what = match used {
            Used::Figure(place, value) => {
                entry.insert("place".to_string(), json!(place));
                exact(&mut entry, value);
                "figure"
            }
            Used::Law(year, key, value) => {
                entry.insert("year".to_string(), json!(year));
                entry.insert("key".to_string(), json!(key));
                exact(&mut entry, value);
                "law"
            }
            Used::Fact(fact) => return object([("fact", self.fact(fact))]),
        };
        object([(what, Json::Object(entry))])
    }

    fn fact(&self, fact: &CaseRef) -> Json {
        let mut entry = Map::new();
        entry.insert("path".to_string(), json!(fact.path));
        entry.insert("words".to_string(), json!(fact.words));
        exact(&mut entry, &fact.value);
        entry.insert("evidence".to_string(), json!(fact.evidence));
        entry.insert("at".to_string(), self.at(fact.span));
        Json::Object(entry)
    }

    fn ruling(&self, ruling: &Ruling) -> Json {
        json!({
            "counts": ruling.counts,
            "because": ruling.because,
            "authority": ruling.authority,
            "settled": ruling.settled,
            "chosen": ruling.chosen.map(|span| self.at(span)),
        })
    }

    fn at(&self, span: Span) -> Json {
        let place = self.sources.line_column(span);
        json!({"file": self.sources.get(span.source).name, "line": place.line, "column": place.column})
    }
}

/// Makes an object of entries that are JSON already, without writing them out once more as the macro would.
fn object<const N: usize>(entries: [(&str, Json); N]) -> Json {
    Json::Object(entries.into_iter().map(|(key, value)| (key.to_string(), value)).collect())
}

/// Adds a value's kind and its exact form: numbers as decimal strings, shares as factors.
fn exact(entry: &mut Map<String, Json>, value: &Value) {
    let (kind, text) = match value {
        Value::Money(money) => ("money", money.decimal().to_string()),
        Value::Rate(rate) => ("rate", rate.to_string()),
        Value::Quantity(quantity) => ("quantity", quantity.0.to_string()),
        Value::YesNo(_) => ("yes_no", value.plain()),
        Value::Text(text) => ("text", text.clone()),
    };
    entry.insert("kind".to_string(), json!(kind));
    entry.insert("value".to_string(), json!(text));
}

fn reference(reference: &OfficialRef) -> Json {
    json!({"form": reference.form, "line": reference.line, "read": reference.read})
}

fn kind(kind: LineKind) -> &'static str {
    match kind {
        LineKind::Money => "money",
        LineKind::Rate => "rate",
        LineKind::Quantity => "quantity",
        LineKind::YesNo => "yes_no",
        LineKind::Text => "text",
    }
}

/// Names a figure, with what its row is about.
fn label(figure: &Figure) -> String {
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
