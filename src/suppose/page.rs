//! An assumption and what it comes to as a page for the talk with the client, in the client's language.

use super::words::{self, Words, filled, years};
use super::{From, Supposed, Way};
use crate::case::{Case, TaxYear};
use crate::document::{
    Align, Block, Document, Furniture, Role, Row, Run, Setting, Table, Width, column, heading, plain, strong,
};
use crate::money::Money;

/// Writes the page.
pub fn page(case: &Case, supposed: &Supposed, day: &str) -> Document {
    let words = words::of(case.client.language);
    let first = supposed.first.to_string();
    let reference = case.client.reference.value.to_string();
    let people: Vec<String> = case.client.people.iter().map(|one| one.name.value.clone()).collect();
    let names = match people.as_slice() {
        [] => reference.clone(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} {} {last}", rest.join(", "), words.and),
    };
    let balance = supposed.ways.first().and_then(|way| way.years.first());
    let (amount, from) = balance.map_or((Money::ZERO, supposed.first), |one| (one.available, one.year));
    let mut blocks = vec![heading(1, words.title)];
    let mut box_words = strong(format!("{} ", words.example));
    box_words.extend(plain(filled(words.balance, &[&names, &amount.spoken(), &from.to_string()])));
    blocks.push(Block::Panel(vec![Block::Paragraph(box_words)]));
    let several = supposed.ways.len() > 1;
    for (way, name) in supposed.ways.iter().zip([words.first_way, words.second_way]) {
        blocks.push(heading(2, if several { name } else { words.what_if }));
        blocks.push(Block::Table(table(way, words)));
        blocks.extend(sentences(way, words).into_iter().map(|one| Block::Paragraph(plain(one))));
    }
    blocks.push(heading(2, words.cautions_head));
    let cautions = words.cautions.iter().map(|one| vec![Block::Paragraph(plain(*one))]);
    blocks.push(Block::List { ordered: false, items: cautions.collect() });
    Document {
        title: format!("{}, {reference}", words.title),
        language: case.client.language.word().to_string(),
        subject: filled(words.subject, &[&first]),
        author: case.prepared_by().to_string(),
        setting: Setting::Worksheet,
        furniture: Furniture {
            head: (reference, filled(words.head, &[day])),
            foot: (format!("Gablework {}", env!("CARGO_PKG_VERSION")), words.foot.to_string()),
            mark: None,
        },
        blocks,
    }
}

/// Says how a way ends, and where the tax of its years comes from.
pub(super) fn sentences(way: &Way, words: &Words) -> Vec<String> {
    let last = way.last().map_or_else(String::new, |year| year.to_string());
    let mut said = vec![match way.left().is_zero() {
        true => filled(words.used_up, &[&last]),
        false => filled(words.some_left, &[&way.left().spoken(), &last]),
    }];
    for (from, sentence) in
        [(From::Assumed, words.assumed), (From::Return, words.from_return), (From::Planned, words.planned)]
    {
        let of: Vec<TaxYear> = way.years.iter().filter(|one| one.from == from).map(|one| one.year).collect();
        if !of.is_empty() {
            said.push(filled(sentence, &[&years(&of, words.and)]));
        }
    }
    for one in &way.assumed {
        if let Some(other) = one.other.filter(|_| way.years.iter().any(|year| year.year == one.year)) {
            said.push(filled(words.other_assumed, &[&other.spoken(), &one.year.to_string()]));
        }
    }
    if !way.not_needed.is_empty() {
        said.push(filled(words.not_needed, &[&years(&way.not_needed, words.and)]));
    }
    said
}

fn table(way: &Way, words: &Words) -> Table {
    let heads = [words.tax, words.other, words.tax_left, words.available, words.used, words.left];
    let mut columns = vec![column(words.year, Width::Content, Align::Left)];
    columns.extend(heads.map(|head| column(head, Width::Parts(2), Align::Decimal)));
    // What is an if is set in italics, here as on the worksheet.
    let slanted = |text: String| vec![Run { text, emphasis: true, ..Run::default() }];
    let rows = way.years.iter().map(|one| {
        let amounts = [one.tax, one.credits_before, one.tax_left, one.available, one.used, one.left];
        let cells = std::iter::once(one.year.to_string()).chain(amounts.map(|amount| amount.grouped()));
        Row { cells: cells.map(slanted).collect(), role: Role::Body }
    });
    Table { summary: words.table.to_string(), columns, rows: rows.collect() }
}
