//! The layout: whatever the blocks, nothing stands outside the sheet, nothing is lost, nothing covers anything.

use super::chance::Chance;
use gablework::document::*;
use gablework::page::{self, Length, Pages, Piece, Text};
use gablework::picture;
use jiff::civil::date;
use unicode_normalization::UnicodeNormalization;

/// Characters of many kinds, all of which the typeface has or the layout must refuse by name.
const LETTERS: &[&str] = &[
    "a",
    "b",
    "e",
    "i",
    "m",
    "n",
    "o",
    "r",
    "s",
    "t",
    " ",
    " ",
    " ",
    "A",
    "W",
    "0",
    "1",
    "9",
    ",",
    ".",
    "-",
    "/",
    "(",
    ")",
    "\u{e9}",
    "\u{f1}",
    "\u{a7}",
    "\u{2013}",
    "\u{2212}",
    "\u{a0}",
    "\u{ad}",
    "e\u{301}",
    "\u{2020}",
    "$",
    "%",
    "fi",
    "\u{fb01}",
    "\u{5d0}",
    "\u{4e2d}",
    "\u{1f600}",
    "\u{200b}",
    "\u{202e}",
    "\u{301}",
    "\u{9}",
    "\n",
];

fn text(chance: &mut Chance) -> String {
    let length = match chance.below(8) {
        7 => usize::from(chance.number() % 2000),
        6 => chance.below(256),
        n => n * 6,
    };
    let strange = chance.once_in(8);
    let of = if strange { LETTERS } else { &LETTERS[..36] };
    let repeated = chance.once_in(6).then(|| chance.one(of));
    (0..length).map(|_| *repeated.unwrap_or_else(|| chance.one(of))).collect()
}

fn words(chance: &mut Chance) -> Words {
    (0..chance.below(4))
        .map(|_| Run {
            text: text(chance),
            strong: chance.once_in(3),
            emphasis: chance.once_in(3),
            value: None,
        })
        .collect()
}

fn table(chance: &mut Chance) -> Table {
    let count = 1 + chance.below(8);
    let columns = (0..count).map(|_| Column {
        head: text(chance),
        width: if chance.once_in(2) { Width::Parts(1 + chance.byte() % 5) } else { Width::Content },
        align: *chance.one(&[Align::Left, Align::Right, Align::Decimal]),
    });
    let columns = columns.collect();
    let rows = (0..chance.below(40)).map(|_| Row {
        cells: (0..if chance.once_in(6) { 1 } else { count }).map(|_| words(chance)).collect(),
        role: *chance.one(&[Role::Body, Role::Body, Role::Group, Role::Total, Role::Remark]),
    });
    Table { summary: String::new(), rows: rows.collect(), columns }
}

fn chart(chance: &mut Chance) -> Chart {
    let columns = 1 + chance.below(4);
    let wide = |chance: &mut Chance| {
        let number = i64::from(chance.number()) - 30_000;
        if chance.once_in(9) { number.saturating_mul(1 << 40) } else { number }
    };
    Chart {
        summary: text(chance),
        head: text(chance),
        columns: (0..columns).map(|_| number(chance)).collect(),
        series: (0..chance.below(5))
            .map(|_| Series {
                name: text(chance),
                shade: *chance.one(&[Shade::Dark, Shade::Light, Shade::Open, Shade::Edge]),
            })
            .collect(),
        bars: (0..chance.below(20))
            .map(|_| Bar {
                name: text(chance),
                numbers: (0..columns).map(|_| number(chance)).collect(),
                parts: (0..chance.below(4))
                    .map(|_| Stretch { series: chance.below(5), from: wide(chance), to: wide(chance) })
                    .collect(),
                total: chance.once_in(4),
            })
            .collect(),
    }
}

/// What stands beside a bar: an amount, or a word over amounts.
fn number(chance: &mut Chance) -> String {
    text(chance).chars().filter(|c| *c != '\n').take(18).collect()
}

fn lines(chance: &mut Chance) -> Vec<String> {
    (0..chance.below(7)).map(|_| text(chance)).collect()
}

fn block(chance: &mut Chance, depth: usize) -> Block {
    let blocks =
        |chance: &mut Chance| (0..chance.below(5)).map(|_| block(chance, depth + 1)).collect::<Vec<_>>();
    match chance.below(if depth < 4 { 16 } else { 10 }) {
        0 | 1 => Block::Paragraph(words(chance)),
        2 => Block::Small(words(chance)),
        3 => Block::Heading { level: 1 + chance.byte() % 3, words: words(chance) },
        4 | 5 => Block::Table(table(chance)),
        6 => Block::Chart(chart(chance)),
        7 => Block::Space(chance.byte()),
        8 => Block::PageBreak,
        9 => Block::DateLines(lines(chance)),
        10 | 11 => Block::List {
            ordered: chance.once_in(2),
            items: (0..chance.below(6)).map(|_| blocks(chance)).collect(),
        },
        12 => Block::Panel(blocks(chance)),
        13 => Block::Together(blocks(chance)),
        14 => Block::Sender(lines(chance)),
        _ => Block::Address(lines(chance)),
    }
}

/// Random blocks on pages and in the other forms.
pub fn page(bytes: &[u8]) {
    let mut chance = Chance(bytes);
    let setting = if chance.once_in(2) { Setting::Letter } else { Setting::Worksheet };
    let mut blocks = Vec::new();
    while chance.any_left() && blocks.len() < 40 {
        blocks.push(block(&mut chance, 0));
    }
    let furniture = Furniture {
        head: ("HH-1, tax year 2025".to_string(), "Page {page} of {pages}".to_string()),
        foot: ("case 0123".to_string(), "law 2026-11".to_string()),
        mark: Some("DRAFT".to_string()),
    };
    let document = Document {
        title: "Fuzzed".into(),
        language: "en".into(),
        setting,
        furniture,
        blocks,
        ..Document::default()
    };
    gablework::html::write(&document);
    gablework::docx::write(&document, date(2026, 11, 12)).expect("a word processor's file");
    let Ok(pages) = page::lay_out(&document) else { return };
    well_placed(&pages);
    let mut words = String::new();
    reading_order(&document).into_iter().for_each(|block| words_of(block, &mut words));
    assert_eq!(bare(&read_aloud(&pages)), bare(&words), "words are lost or changed");
    page::to_pdf(&pages, &page::Stamp { id: [7; 16], date: date(2026, 11, 12) });
}

/// What can be compared of words that were broken and set: no blanks, no marks that only steer where lines end, and
/// combining forms put together.
fn bare(text: &str) -> String {
    let steers = |c: char| c.is_whitespace() || matches!(c, '\u{ad}' | '\u{200b}');
    // An accent behind such a mark stands on the letter before it.
    text.chars().filter(|c| !steers(*c)).nfc().collect()
}

/// The blocks as they are read: a letter's mark, sender, dates and address stand before its text, wherever they come.
fn reading_order(document: &Document) -> Vec<&Block> {
    let mut opening: [Option<&Block>; 4] = [None; 4];
    let mut text = Vec::new();
    for block in &document.blocks {
        let place = match block {
            Block::Logo(_) => 0,
            Block::Sender(_) => 1,
            Block::DateLines(_) => 2,
            Block::Address(_) => 3,
            _ => opening.len(),
        };
        match opening.get_mut(place) {
            Some(free @ None) if document.setting == Setting::Letter => *free = Some(block),
            _ => text.push(block),
        }
    }
    opening.into_iter().flatten().chain(text).collect()
}

/// The words of a block, in reading order.
fn words_of(block: &Block, out: &mut String) {
    let put = |words: &Words, out: &mut String| words.iter().for_each(|run| out.push_str(&run.text));
    match block {
        Block::Heading { words, .. } | Block::Paragraph(words) | Block::Small(words) => put(words, out),
        Block::List { ordered, items } => {
            for (n, item) in (1..).zip(items) {
                match ordered {
                    true => out.push_str(&format!("{n}.")),
                    false => out.push('\u{2022}'),
                }
                item.iter().for_each(|block| words_of(block, out));
            }
        }
        Block::Table(table) => {
            table.columns.iter().for_each(|column| out.push_str(&column.head));
            table.rows.iter().flat_map(|row| &row.cells).for_each(|cell| put(cell, out));
        }
        Block::Chart(chart) if chart.bars.is_empty() => {}
        Block::Chart(chart) => {
            out.push_str(&chart.head);
            chart.series.iter().for_each(|series| out.push_str(&series.name));
            chart.columns.iter().for_each(|head| out.push_str(head));
            for bar in &chart.bars {
                out.push_str(&bar.name);
                bar.numbers.iter().for_each(|number| out.push_str(number));
            }
        }
        Block::Panel(blocks) | Block::Together(blocks) => {
            blocks.iter().for_each(|block| words_of(block, out))
        }
        Block::Sender(lines) | Block::Address(lines) | Block::DateLines(lines) => {
            lines.iter().for_each(|line| out.push_str(line))
        }
        Block::Logo(picture) => out.push_str(&picture.alternative),
        Block::Space(_) | Block::PageBreak => {}
    }
}

/// The words of pages by element: what a reader of the structure reads.
fn read_aloud(pages: &Pages) -> String {
    let mut by_element = vec![String::new(); pages.elements.len()];
    for piece in pages.frames.iter().flat_map(|frame| &frame.pieces) {
        if let Piece::Text(Text { element: Some(element), text, .. }) = piece {
            by_element[element.0 as usize].push_str(text);
        }
    }
    by_element.concat()
}

/// Checks where everything stands.
pub fn well_placed(pages: &Pages) {
    for (page, frame) in pages.frames.iter().enumerate() {
        let mut boxes = Vec::new();
        for piece in &frame.pieces {
            match piece {
                Piece::Text(text) => {
                    let (top, bottom) = (text.y - text.size * 72 / 100, text.y + text.size * 20 / 100);
                    let right = text.x + text.width;
                    let edge = Length::points(36);
                    let inside = text.x >= edge
                        && right <= frame.width - edge
                        && top >= Length::points(18)
                        && bottom <= frame.height - Length::points(30);
                    assert!(inside, "page {page}: stands outside: {text:?}");
                    boxes.push((text.x, top, right, bottom, &text.text));
                }
                Piece::Area(area)
                | Piece::Outline(area)
                | Piece::Shape(area, _)
                | Piece::Picture(area, ..) => {
                    let edge = Length::points(10);
                    let inside = area.x >= edge
                        && area.x + area.width <= frame.width - edge
                        && area.y >= edge
                        && area.y + area.height <= frame.height - edge;
                    assert!(inside, "page {page}: {area:?} stands outside");
                }
            }
        }
        let slack = Length::millipoints(30);
        boxes.sort_by_key(|one| one.1);
        for (at, a) in boxes.iter().enumerate() {
            for b in boxes[at + 1..].iter().take_while(|b| b.1 + slack < a.3) {
                let apart = a.2 <= b.0 + slack || b.2 <= a.0 + slack || b.3 <= a.1 + slack;
                assert!(apart, "page {page}: {:?} stands over {:?}", a.4, b.4);
            }
        }
    }
}

/// A picture file.
pub fn picture(bytes: &[u8]) {
    if let Ok(picture) = picture::read(bytes, "a mark") {
        assert_eq!(picture.points.len(), picture.width as usize * picture.height as usize * 3);
        let document = Document {
            setting: Setting::Letter,
            blocks: vec![Block::Logo(picture), Block::Sender(vec!["A firm".to_string()])],
            ..Document::default()
        };
        let pages = page::lay_out(&document).expect("a letter's head");
        well_placed(&pages);
        page::to_pdf(&pages, &page::Stamp { id: [7; 16], date: date(2026, 11, 12) });
    }
}
