//! An assumption and what it comes to, as lines for a terminal.

use super::words;
use super::{From, Supposed, Way};
use crate::case::{Case, Language, TaxYear};
use crate::columns::{Columns, Side};
use crate::wrap::wrapped;

/// Writes what was supposed as lines of so many columns.
pub fn text(case: &Case, supposed: &Supposed, columns: usize) -> String {
    let words = words::of(Language::En);
    let mut out = format!("{}: what if, from {} on\n", case.client.reference.value, supposed.first);
    let say = |out: &mut String, line: &str| {
        for part in wrapped(line, columns, columns) {
            out.push_str(&part);
            out.push('\n');
        }
    };
    say(
        &mut out,
        "An example, not a forecast or a promise. All amounts are hypothetical; no return is based on them.",
    );
    if let [one] = supposed.ways.as_slice() {
        out.push('\n');
        alone(one, &mut out);
        for line in notes(one) {
            say(&mut out, &line);
        }
    } else {
        out.push('\n');
        beside(&supposed.ways, &mut out);
        out.truncate(out.trim_end().len() + 1);
        for (way, name) in supposed.ways.iter().zip([words.first_way, words.second_way]) {
            out.push('\n');
            say(&mut out, &format!("{name}:"));
            for line in notes(way) {
                for part in wrapped(&line, columns.saturating_sub(2), columns.saturating_sub(2)) {
                    out.push_str(&format!("  {part}\n"));
                }
            }
        }
    }
    say(
        &mut out,
        "Only federal tax, by the law that is known: a credit carried forward is used after other credits, and never paid out.",
    );
    out
}

/// Says how a way ends, and where its tax comes from.
fn notes(way: &Way) -> Vec<String> {
    super::page::sentences(way, words::of(Language::En))
}

/// Sets the years of the only way, step by step.
fn alone(way: &Way, out: &mut String) {
    let words = words::of(Language::En);
    let head = [words.year, words.tax, words.other, words.tax_left, words.available, words.used, words.left];
    let rows = way.years.iter().map(|one| {
        let amounts = [one.tax, one.credits_before, one.tax_left, one.available, one.used, one.left];
        std::iter::once(name(one.year, one.from)).chain(amounts.map(|amount| amount.grouped())).collect()
    });
    set(head.map(String::from).to_vec(), rows.collect(), out);
}

/// Sets two ways side by side: of each the tax, what is used and what is left.
fn beside(ways: &[Way], out: &mut String) {
    let words = words::of(Language::En);
    let mut head = vec![words.year.to_string()];
    for n in 1..=ways.len() {
        head.extend([words.tax, words.used, words.left].map(|one| format!("{n}: {one}")));
    }
    let mut all: Vec<TaxYear> = ways.iter().flat_map(|way| way.years.iter().map(|one| one.year)).collect();
    all.sort_unstable();
    all.dedup();
    let rows = all.into_iter().map(|year| {
        let mut row = vec![year.to_string()];
        for way in ways {
            let one = way.years.iter().find(|one| one.year == year);
            row.extend(match one {
                Some(one) => [one.tax, one.used, one.left].map(|amount| amount.grouped()).to_vec(),
                None => vec![String::new(); 3],
            });
        }
        row
    });
    set(head, rows.collect(), out);
}

/// Names a year; of a tax that is not assumed here a star says so.
fn name(year: TaxYear, from: From) -> String {
    match from {
        From::Assumed => year.to_string(),
        From::Return | From::Planned => format!("{year} *"),
    }
}

fn set(head: Vec<String>, rows: Vec<Vec<String>>, out: &mut String) {
    let sides = (0..head.len()).map(|n| (if n == 0 { Side::Left } else { Side::Right }, 0));
    let mut columns = Columns::new(sides);
    columns.widen(&head);
    rows.iter().for_each(|row| columns.widen(row));
    for row in std::iter::once(&head).chain(&rows) {
        out.push_str(&columns.line(row));
        out.push('\n');
    }
    out.push('\n');
}
