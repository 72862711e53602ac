//! The list of a season as a workbook: what is known is locked, what is wanted is in boxes, and words are chosen from
//! lists.
//!
//! Comes in: [`Line`]s. Goes out: a [`Book`], which [`crate::xlsx`] writes and [`super::read`] reads back.

use super::columns::{Column, Field, Takes};
use super::season::{Line, Place};
use crate::case::TaxYear;
use crate::wording::capital;
use crate::xlsx::{Book, Cell, Content, Face, Frame, Limit, Look, Number, Row, Tab, words};
use jiff::civil::Date;

/// Makes the workbook of a year.
pub fn book(year: TaxYear, columns: &[&'static Column], lines: &[Line]) -> Book {
    let head = Look { face: Face::Strong, frame: Frame::Shaded, wraps: true, ..Look::default() };
    let mut rows = vec![Row {
        cells: columns.iter().map(|one| words(heading(one), head)).collect(),
        lines: Some(3),
        ..Row::default()
    }];
    rows.extend(lines.iter().map(|line| Row {
        cells: columns.iter().zip(&line.places).map(|(column, place)| cell(column, place)).collect(),
        ..Row::default()
    }));
    let limits = columns.iter().map(|one| limit(one)).collect();
    let list = Tab {
        name: format!("Season {year}"),
        widths: columns.iter().map(|one| width(one)).collect(),
        rows,
        frozen: 1,
        repeated: Some(0),
        head: [
            format!("Season {year}"),
            String::new(),
            "return information: keep it in the office".to_string(),
        ],
        foot: [String::new(), "&P of &N".to_string()],
        landscape: true,
        filter: Some(0),
        limits,
        locked: true,
    };
    Book {
        title: format!("Season {year}"),
        subject: "What the cases need for the year".to_string(),
        author: "Gablework".to_string(),
        // The same cases make the same bytes, whatever day it is.
        dated: Date::constant(2000, 1, 1).with().year(year.0).month(12).day(31).build().unwrap_or_default(),
        tabs: vec![list, explained(year, columns)],
        ..Book::default()
    }
}

/// The heading of a column in words; it is read as the column's name is.
fn heading(column: &Column) -> String {
    capital(&column.name.replace('_', " "))
}

/// How wide a column is, in characters.
fn width(column: &Column) -> u16 {
    match column.takes {
        Takes::Name => 24,
        Takes::Word(_) => 22,
        Takes::Year => 6,
        _ => 13,
    }
}

fn number(column: &Column) -> Number {
    match column.takes {
        Takes::Amount => Number::Money,
        Takes::Day => Number::Day,
        Takes::Year => Number::General,
        _ => Number::Text,
    }
}

fn cell(column: &Column, place: &Place) -> Cell {
    let look = Look { number: number(column), ..Look::default() };
    match place {
        Place::Known(text) => {
            let content = match column.takes {
                Takes::Amount | Takes::Year => Content::Number(text.clone()),
                Takes::Day => text.parse().map_or_else(|_| Content::Words(text.clone()), Content::Day),
                _ => Content::Words(text.clone()),
            };
            Cell { content, look }
        }
        Place::Wanted => {
            Cell { content: Content::Blank, look: Look { frame: Frame::Box, open: true, ..look } }
        }
        Place::Open => Cell { content: Content::Blank, look: Look { open: true, ..look } },
        Place::Closed => Cell { content: Content::Blank, look },
    }
}

/// What may be typed into a column.
fn limit(column: &Column) -> Option<Limit> {
    match column.takes {
        Takes::Word(known) => Some(Limit::Words(known().iter().map(|(word, _)| word.to_string()).collect())),
        Takes::Amount => Some(Limit::NotBelowZero),
        Takes::Day => Some(Limit::Days),
        _ => None,
    }
}

/// A second tab that says what each column means.
fn explained(year: TaxYear, columns: &[&'static Column]) -> Tab {
    let wraps = Look { wraps: true, ..Look::default() };
    let mut lines = vec![
        words(format!("What the cases need for {year}"), Look { face: Face::Title, ..Look::default() }),
        words(
            "Fill in the boxes; a cell without a box may be filled in as well where something else is on the return. \
             What the cases say already is locked. Leave a client's cells empty as long as the return is not known. \
             Then take the list in with `gablework intake`.",
            wraps,
        ),
        words(
            "It holds what clients told the firm for their returns: keep it in the office, and delete it when it is done with.",
            wraps,
        ),
    ];
    for column in columns {
        let takes = match column.takes {
            Takes::Word(known) => {
                let known: Vec<&str> = known().iter().map(|(word, _)| *word).collect();
                format!(" ({})", known.join(", "))
            }
            Takes::Amount => " (dollars)".to_string(),
            Takes::Day => format!(" (a date, such as {})", column.example),
            _ => String::new(),
        };
        let meaning = match column.field {
            Field::Balance => {
                "the clean energy credit (25D) carried into the year, as the case comes to it; nothing where the year before is not known yet"
            }
            _ => column.meaning,
        };
        lines.push(words(format!("{}: {meaning}{takes}", heading(column)), wraps));
    }
    Tab {
        name: "Explanations".to_string(),
        widths: vec![100],
        rows: lines.into_iter().map(|cell| Row { cells: vec![cell], ..Row::default() }).collect(),
        limits: Vec::new(),
        locked: true,
        ..Tab::default()
    }
}
