//! Comparing figures: what they mean, place by place, not how they are written.
//!
//! Comes in: the figures as sealed, which anybody may have written, and as computed again. Goes out: where they differ.
//! A later version of the program may add keys and lines to the figures; that is no difference.

use crate::wording::counted;
use serde_json::Value;
use std::collections::BTreeMap;
use std::iter::Peekable;
use std::str::Chars;

/// The most differences that are told one by one.
const MOST_TOLD: usize = 100;

/// A place where figures differ.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Difference {
    /// The line, such as `416` or `230@roof-array`; or a file of the packet.
    pub place: String,
    /// What the line is called, or what is wrong with the file.
    pub label: String,
    /// The sealed value; none where there is none.
    pub sealed: Option<String>,
    /// The value computed; none where there is none.
    pub computed: Option<String>,
}

/// What a comparison has found.
#[derive(Debug, Default)]
pub(super) struct Comparison {
    pub differences: Vec<Difference>,
    pub more: usize,
    pub notes: Vec<String>,
}

impl Comparison {
    fn add(&mut self, difference: Difference) {
        if self.differences.len() < MOST_TOLD { self.differences.push(difference) } else { self.more += 1 }
    }

    /// Adds what is wrong with a file or a line apart from its value.
    pub fn words(&mut self, place: &str, what: &str) {
        self.add(Difference {
            place: place.to_string(),
            label: what.to_string(),
            sealed: None,
            computed: None,
        });
    }
}

/// Returns the lines of figures, by their place and in that order.
fn lines(figures: &Value) -> BTreeMap<(String, String), &Value> {
    let lines = figures["lines"].as_array().into_iter().flatten();
    lines.map(|line| ((shown(&line["line"]), shown(&line["of"])), line)).collect()
}

/// A value as people read it; nothing for none.
fn shown(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

fn place((line, of): &(String, String)) -> String {
    if of.is_empty() { line.clone() } else { format!("{line}@{of}") }
}

/// Compares figures as sealed with those computed again. Where the same program made both, they must be the same in
/// everything; else the value of every sealed line.
pub(super) fn figures(sealed: &Value, computed: &Value, same_program: bool, found: &mut Comparison) {
    for key in ["format", "case", "year"] {
        if sealed[key] != computed[key] {
            found.words(
                "figures.json",
                &format!("says `{key}` is {}, and it is {}", sealed[key], computed[key]),
            );
        }
    }
    let (of_sealed, of_computed) = (lines(sealed), lines(computed));
    let count = sealed["lines"].as_array().map_or(0, Vec::len);
    if of_sealed.len() != count {
        found.words("figures.json", "has a line twice");
    }
    let mut ways = 0;
    for (at, line) in &of_sealed {
        let again = of_computed.get(at);
        let value = again.map(|again| shown(&again["value"]));
        if value.as_deref() != Some(&shown(&line["value"])) {
            found.add(Difference {
                place: place(at),
                label: shown(&line["label"]),
                sealed: Some(shown(&line["value"])),
                computed: value,
            });
            continue;
        }
        let Some(again) = again.filter(|again| again != &line) else { continue };
        if same_program {
            let keys = ["kind", "expr", "used", "how", "label", "official", "authority", "rulings"];
            let key = keys.into_iter().find(|key| line[*key] != again[*key]).unwrap_or("keys");
            found.words(
                &place(at),
                &format!("the value is right, and `{key}` is not what the program writes"),
            );
        } else if line.get("expr").is_some_and(|expr| *expr != again["expr"]) {
            ways += 1;
        }
    }
    let added: Vec<String> = of_computed.keys().filter(|at| !of_sealed.contains_key(at)).map(place).collect();
    if same_program {
        for at in &added {
            found.words(at, "the line is missing");
        }
        for key in ["law", "findings", "papers"] {
            if sealed[key] != computed[key] {
                found.words("figures.json", &format!("`{key}` is not what the program writes"));
            }
        }
        if found.differences.is_empty() && sealed != computed {
            found.words("figures.json", "is not what the program writes");
        }
        return;
    }
    if ways > 0 {
        found.notes.push(format!(
            "{} about in another way in this version, with the same values",
            counted(ways, "line comes", "lines come")
        ));
    }
    if !added.is_empty() {
        found.notes.push(format!("this version has lines that the packet does not have: {}", listed(&added)));
    }
}

fn listed(places: &[String]) -> String {
    match places.len() {
        0..=12 => places.join(", "),
        more => format!("{} and {} more", places[..12].join(", "), more - 12),
    }
}

/// Returns the lines whose values differ between two sets of figures, in the order of the lines.
pub(super) fn values(sealed: &Value, other: &Value) -> Vec<Difference> {
    let (of_sealed, of_other) = (lines(sealed), lines(other));
    let mut places: Vec<&(String, String)> = of_sealed.keys().chain(of_other.keys()).collect();
    places.sort();
    places.dedup();
    let differ = places.into_iter().filter_map(|at| {
        let (line, again) = (of_sealed.get(at), of_other.get(at));
        let (before, after) = (line.map(|one| shown(&one["value"])), again.map(|one| shown(&one["value"])));
        (before != after).then(|| Difference {
            place: place(at),
            label: line.or(again).map(|one| shown(&one["label"])).unwrap_or_default(),
            sealed: before,
            computed: after,
        })
    });
    differ.collect()
}

/// Compares the table of figures with the figures.
pub(super) fn table(csv: &str, figures: &Value, found: &mut Comparison) {
    let mut rows = Rows(csv.chars().peekable());
    let head = rows.next().unwrap_or_default();
    let column = |name: &str| head.iter().position(|cell| cell == name);
    let (Some(line), Some(of), Some(value)) = (column("line"), column("of"), column("value")) else {
        return found.words("figures.csv", "has not the columns line, of and value");
    };
    let lines = lines(figures);
    let mut seen = 0;
    for row in rows {
        let cell = |at: usize| row.get(at).map(String::as_str).unwrap_or_default();
        let at = (cell(line).to_string(), cell(of).to_string());
        let wanted = lines.get(&at).map(|line| shown(&line["value"]));
        let told = cell(value);
        // Words that a spreadsheet would compute stand behind an apostrophe.
        let same =
            wanted.as_deref().is_some_and(|wanted| told == wanted || told.strip_prefix('\'') == Some(wanted));
        seen += 1;
        if !same {
            let wanted = wanted.map_or("no such line".to_string(), |wanted| wanted);
            found.words(
                &format!("figures.csv, line {}", place(&at)),
                &format!("says {told}, and figures.json {wanted}"),
            );
        }
    }
    if seen != lines.len() {
        found.words("figures.csv", &format!("has {seen} lines, and figures.json {}", lines.len()));
    }
}

/// The most cells of a row that are kept; the table of figures has seven columns.
const MOST_CELLS: usize = 32;

/// The rows of a table (RFC 4180), one after the other. Whatever the text is, it comes to some rows.
struct Rows<'a>(Peekable<Chars<'a>>);

impl Iterator for Rows<'_> {
    type Item = Vec<String>;

    fn next(&mut self) -> Option<Vec<String>> {
        let (mut row, mut cell, mut quoted) = (Vec::new(), String::new(), false);
        self.0.peek()?;
        while let Some(sign) = self.0.next() {
            match sign {
                '"' if quoted && self.0.peek() == Some(&'"') => {
                    self.0.next();
                    cell.push('"');
                }
                '"' => quoted = !quoted,
                ',' if !quoted => {
                    let done = std::mem::take(&mut cell);
                    if row.len() < MOST_CELLS {
                        row.push(done);
                    }
                }
                '\r' if !quoted => {}
                '\n' if !quoted => break,
                sign => cell.push(sign),
            }
        }
        row.push(cell);
        Some(row)
    }
}
