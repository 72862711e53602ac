//! Light Markdown: headings, paragraphs, strong, emphasis, lists and small tables, nothing else.
//!
//! Comes in: a letter's words after its names are filled in. Goes out: blocks of a document, or what stands there
//! that a letter does not have, with its place. Values are escaped before they come here ([`escape`]), so only the
//! letter's author can write markup. Knows nothing of tax or of names.

use crate::characters::unseen;
use crate::document::{Align, Block, Column, Role, Row, Run, Table, Width, Words};
use pulldown_cmark::{Alignment, Event, HeadingLevel, Options, Parser, Tag};
use std::ops::Range;

/// Something that a letter cannot hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Refused {
    /// Where it stands, in bytes of the text given.
    pub range: Range<usize>,
    /// What it is, such as `a link`.
    pub what: &'static str,
    /// What to write instead.
    pub help: &'static str,
}

/// Turns words with light markup into blocks.
///
/// Fails with everything that a letter cannot hold.
pub fn blocks(text: &str) -> Result<Vec<Block>, Vec<Refused>> {
    let mut reading = Reading {
        events: Parser::new_ext(text, Options::ENABLE_TABLES).into_offset_iter(),
        refused: Vec::new(),
        depth: 0,
    };
    let blocks = reading.blocks();
    if reading.refused.is_empty() { Ok(blocks) } else { Err(reading.refused) }
}

/// Turns one line with light markup into words without styles, for subject lines and lists of enclosures.
pub fn line(text: &str) -> Result<String, Vec<Refused>> {
    let blocks = blocks(text)?;
    let mut words = String::new();
    for block in &blocks {
        match block {
            Block::Paragraph(runs) => runs.iter().for_each(|run| words.push_str(&run.text)),
            _ => {
                let help = "write plain words";
                return Err(vec![Refused { range: 0..text.len(), what: "a heading or a list", help }]);
            }
        }
    }
    Ok(words)
}

/// Returns the words of blocks as they are read on paper, a line for each paragraph, item and row.
pub fn words(blocks: &[Block]) -> String {
    let mut out = String::new();
    let mut open: Vec<&[Block]> = vec![blocks];
    while let Some(blocks) = open.pop() {
        for block in blocks {
            match block {
                Block::Paragraph(words) | Block::Heading { words, .. } => {
                    words.iter().for_each(|run| out.push_str(&run.text));
                }
                Block::List { items, .. } => open.extend(items.iter().map(Vec::as_slice)),
                Block::Table(table) => {
                    for row in &table.rows {
                        for words in &row.cells {
                            words.iter().for_each(|run| out.push_str(&run.text));
                            out.push_str(" | ");
                        }
                        out.push('\n');
                    }
                }
                _ => {}
            }
            out.push('\n');
        }
    }
    out
}

/// Escapes a value so that Markdown prints it as it is.
///
/// Every punctuation mark that means something to Markdown gets a backslash; breaks and tabs become blanks, since
/// a value stands inside a line.
pub fn escape(value: &str) -> String {
    let mut out = String::with_capacity(value.len() + 8);
    for c in value.trim().chars() {
        if matches!(c, '\n' | '\r' | '\t') {
            out.push(' ');
            continue;
        }
        if "\\`*_{}[]<>()#+-.!|&~=^".contains(c) {
            out.push('\\');
        }
        out.push(c);
    }
    out
}

/// The events of a text, and what was refused so far.
struct Reading<'t> {
    events: pulldown_cmark::OffsetIter<'t>,
    refused: Vec<Refused>,
    /// In how many lists and emphases the reading is.
    depth: usize,
}

/// How deep lists and emphases may lie in each other; on paper three can be told apart.
const MAX_DEPTH: usize = 8;

/// What encloses the events being read.
#[derive(Clone, Copy, PartialEq)]
struct Style {
    strong: bool,
    emphasis: bool,
}

const PLAIN: Style = Style { strong: false, emphasis: false };

impl Reading<'_> {
    /// Reads blocks up to the end of what encloses them.
    fn blocks(&mut self) -> Vec<Block> {
        let mut blocks = Vec::new();
        // A list without blank lines gives its items' words bare; they become a paragraph.
        let mut loose: Words = Vec::new();
        while let Some((event, range)) = self.events.next() {
            match event {
                Event::End(_) => break,
                Event::Start(tag) => {
                    if !matches!(tag, Tag::Strong | Tag::Emphasis) && !loose.is_empty() {
                        blocks.push(Block::Paragraph(joined(std::mem::take(&mut loose))));
                    }
                    match tag {
                        Tag::Paragraph => blocks.push(Block::Paragraph(joined(self.words(PLAIN)))),
                        Tag::Heading { level, .. } => {
                            let level = self.level(level, range);
                            blocks.push(Block::Heading { level, words: joined(self.words(PLAIN)) });
                        }
                        Tag::List(_) if self.depth == MAX_DEPTH => {
                            self.refuse_as(range, "lists too deep in each other", "begin a list of its own");
                            self.skip();
                        }
                        Tag::List(first) => {
                            let mut items = Vec::new();
                            self.depth += 1;
                            while let Some((Event::Start(Tag::Item), _)) = self.events.next() {
                                items.push(self.blocks());
                            }
                            self.depth -= 1;
                            blocks.push(Block::List { ordered: first.is_some(), items });
                        }
                        Tag::Table(alignments) => blocks.push(Block::Table(self.table(&alignments))),
                        Tag::Strong | Tag::Emphasis => {
                            let style = Style { strong: tag == Tag::Strong, emphasis: tag == Tag::Emphasis };
                            loose.extend(self.words(style));
                        }
                        other => {
                            self.refuse(&other, range);
                            self.skip();
                        }
                    }
                }
                other => self.inline(other, range, PLAIN, &mut loose),
            }
        }
        if !loose.is_empty() {
            blocks.push(Block::Paragraph(joined(loose)));
        }
        blocks
    }

    /// Reads a table up to its end. Its heading says what it shows, also to those who cannot see it.
    fn table(&mut self, alignments: &[Alignment]) -> Table {
        let mut heads: Vec<String> = Vec::new();
        let mut rows = Vec::new();
        while let Some((event, _)) = self.events.next() {
            match event {
                Event::Start(Tag::TableHead) => {
                    let cells = self.cells();
                    heads =
                        cells.iter().map(|cell| cell.iter().map(|run| run.text.as_str()).collect()).collect();
                }
                Event::Start(Tag::TableRow) => rows.push(Row { cells: self.cells(), role: Role::Body }),
                _ => break,
            }
        }
        let columns = heads.iter().enumerate().map(|(n, head)| {
            let right = alignments.get(n) == Some(&Alignment::Right);
            Column {
                head: head.clone(),
                width: if n == 0 { Width::Parts(1) } else { Width::Content },
                align: if right { Align::Right } else { Align::Left },
            }
        });
        Table { columns: columns.collect(), summary: heads.join("; "), rows }
    }

    /// Reads the cells of one row up to its end.
    fn cells(&mut self) -> Vec<Words> {
        let mut cells = Vec::new();
        while let Some((Event::Start(Tag::TableCell), _)) = self.events.next() {
            cells.push(joined(self.words(PLAIN)));
        }
        cells
    }

    /// Reads words up to the end of what encloses them.
    fn words(&mut self, style: Style) -> Words {
        self.depth += 1;
        let words = self.words_inside(style);
        self.depth -= 1;
        words
    }

    fn words_inside(&mut self, style: Style) -> Words {
        let mut words = Vec::new();
        while let Some((event, range)) = self.events.next() {
            match event {
                Event::End(_) => break,
                Event::Start(Tag::Strong | Tag::Emphasis) if self.depth > 2 * MAX_DEPTH => {
                    self.refuse_as(range, "emphasis too deep in emphasis", "use **strong** or *emphasis*");
                    self.skip();
                }
                Event::Start(Tag::Strong) => words.extend(self.words(Style { strong: true, ..style })),
                Event::Start(Tag::Emphasis) => words.extend(self.words(Style { emphasis: true, ..style })),
                Event::Start(other) => {
                    self.refuse(&other, range);
                    self.skip();
                }
                other => self.inline(other, range, style, &mut words),
            }
        }
        words
    }

    fn inline(&mut self, event: Event<'_>, range: Range<usize>, style: Style, words: &mut Words) {
        let text = match event {
            // Escapes such as `&#x202e;` are resolved here; a character written as itself has been refused before.
            Event::Text(text) if text.chars().any(|c| unseen(c).is_some()) => {
                let help = "leave the escape out; nobody would see the character, and it may turn the words around it";
                self.refuse_as(range, "a character that cannot be seen", help);
                return;
            }
            Event::Text(text) => text.to_string(),
            Event::SoftBreak => " ".to_string(),
            Event::HardBreak => {
                self.refuse_as(range, "a forced line break", "begin a new paragraph or a list");
                return;
            }
            Event::Code(_) => {
                self.refuse_as(range, "words between backticks", "use **strong** or *emphasis*");
                return;
            }
            Event::Html(_) | Event::InlineHtml(_) => {
                self.refuse_as(
                    range,
                    "an HTML tag",
                    "write it in plain words; a `<` of its own needs a backslash before it",
                );
                return;
            }
            Event::Rule => {
                self.refuse_as(range, "a rule across the page", "use a heading");
                return;
            }
            _ => {
                self.refuse_as(
                    range,
                    "markup that letters do not have",
                    "use headings, paragraphs and lists",
                );
                return;
            }
        };
        words.push(Run { text, strong: style.strong, emphasis: style.emphasis, value: None });
    }

    /// Reads past the inside of something refused.
    fn skip(&mut self) {
        let mut depth = 1;
        for (event, _) in self.events.by_ref() {
            match event {
                Event::Start(_) => depth += 1,
                Event::End(_) => depth -= 1,
                _ => {}
            }
            if depth == 0 {
                return;
            }
        }
    }

    fn level(&mut self, level: HeadingLevel, range: Range<usize>) -> u8 {
        match level {
            HeadingLevel::H1 => {
                self.refuse_as(
                    range,
                    "a heading of the first level",
                    "begin it with `##`; the subject line is the first heading",
                );
                1
            }
            HeadingLevel::H2 => 2,
            HeadingLevel::H3 => 3,
            _ => {
                self.refuse_as(
                    range,
                    "a heading below the third level",
                    "letters have two levels: `##` and `###`",
                );
                3
            }
        }
    }

    fn refuse(&mut self, tag: &Tag<'_>, range: Range<usize>) {
        let (what, help) = match tag {
            Tag::Link { .. } => ("a link", "write the address in plain words; paper cannot be clicked"),
            Tag::Image { .. } => ("a picture", "letters hold words only"),
            Tag::BlockQuote(_) => {
                ("a quotation", "write a paragraph; a `>` at the start of a line needs a backslash before it")
            }
            Tag::CodeBlock(_) => ("a block of code", "begin the line at the left margin"),
            Tag::HtmlBlock => {
                ("an HTML tag", "write it in plain words; a `<` of its own needs a backslash before it")
            }
            _ => ("markup that letters do not have", "use headings, paragraphs, lists and tables"),
        };
        self.refuse_as(range, what, help);
    }

    fn refuse_as(&mut self, range: Range<usize>, what: &'static str, help: &'static str) {
        self.refused.push(Refused { range, what, help });
    }
}

/// Joins neighbors of one style; an escaped mark splits the words around it.
fn joined(words: Words) -> Words {
    let mut out: Words = Vec::new();
    for run in words {
        match out.last_mut() {
            Some(last) if last.strong == run.strong && last.emphasis == run.emphasis => {
                last.text.push_str(&run.text)
            }
            _ => out.push(run),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::plain;

    fn text(words: &Words) -> String {
        words.iter().map(|run| run.text.as_str()).collect()
    }

    #[test]
    fn the_five_forms_become_blocks() {
        let found = blocks("## What to do\n\nFile **early**, *please*.\nThen rest.\n\n- one\n- two **bold** end\n\n1. first\n").unwrap();
        assert_eq!(found[0], Block::Heading { level: 2, words: plain("What to do") });
        let Block::Paragraph(words) = &found[1] else { panic!("{found:?}") };
        assert_eq!(text(words), "File early, please. Then rest.");
        assert!(words[1].strong && words[3].emphasis);
        let Block::List { ordered: false, items } = &found[2] else { panic!("{found:?}") };
        let Block::Paragraph(second) = &items[1][0] else { panic!("{items:?}") };
        assert_eq!(text(second), "two bold end");
        assert!(matches!(&found[3], Block::List { ordered: true, .. }));
    }

    #[test]
    fn a_table_has_a_heading_and_rows() {
        let found = blocks(
            "| Credit | Change |\n|:---|---:|\n| *Clean* \\| energy | $5 |\n| Other | $1,200 |\n\nAfter.",
        )
        .unwrap();
        let Block::Table(table) = &found[0] else { panic!("{found:?}") };
        assert_eq!(table.columns[1].head, "Change");
        assert_eq!(table.columns[1].align, Align::Right);
        assert_eq!(table.rows.len(), 2);
        assert_eq!(text(&table.rows[0].cells[0]), "Clean | energy");
        assert_eq!(table.summary, "Credit; Change");
        assert!(matches!(&found[1], Block::Paragraph(_)), "{found:?}");
    }

    #[test]
    fn what_lies_too_deep_is_refused_whatever_its_depth() {
        for depth in [20, 3000] {
            let lists = "- ".repeat(depth) + "words";
            assert_eq!(blocks(&lists).expect_err("too deep")[0].what, "lists too deep in each other");
            let emphases = "*a ".repeat(depth) + &"b* ".repeat(depth);
            assert_eq!(blocks(&emphases).expect_err("too deep")[0].what, "emphasis too deep in emphasis");
        }
    }

    #[test]
    fn lists_hold_lists() {
        let found = blocks("- outer words\n  - inner\n- next\n").unwrap();
        let Block::List { items, .. } = &found[0] else { panic!("{found:?}") };
        assert_eq!(items.len(), 2);
        assert!(matches!(&items[0][..], [Block::Paragraph(_), Block::List { .. }]), "{items:?}");
    }

    #[test]
    fn whatever_a_letter_does_not_have_is_refused_with_its_place() {
        for (written, what) in [
            ("See [here](http://example.org).", "a link"),
            ("See <http://example.org>.", "a link"),
            ("A <b>tag</b>.", "an HTML tag"),
            ("<div>\nx\n</div>\n", "an HTML tag"),
            ("![x](y.png)", "a picture"),
            ("> said", "a quotation"),
            ("    code", "a block of code"),
            ("```\ncode\n```", "a block of code"),
            ("some `code`", "words between backticks"),
            ("# Top", "a heading of the first level"),
            ("#### Deep", "a heading below the third level"),
            ("a\n\n---\n\nb", "a rule across the page"),
            ("a  \nb", "a forced line break"),
            ("a &#x202e; b", "a character that cannot be seen"),
            ("a &#8203;b", "a character that cannot be seen"),
            ("- a &shy; b", "a character that cannot be seen"),
        ] {
            let refused = blocks(written).expect_err(written);
            assert_eq!(refused[0].what, what, "{written}");
            assert!(refused[0].range.end <= written.len());
        }
    }

    /// What takes a reader of Markdown the longest, as long as a letter may be.
    #[test]
    fn whatever_a_letter_repeats_is_read_in_time() {
        for part in [
            "[",
            "[a]",
            "[a](",
            "*a ",
            "**a*",
            "*_",
            "<",
            "![",
            "- a\n",
            "# a\n",
            "a|b\n-|-\n",
            "`a``",
            "1. ",
            "&#1;",
            "> ",
        ] {
            let text = part.repeat(super::super::bounded::MOST_WRITTEN / part.len());
            let begun = std::time::Instant::now();
            let _ = blocks(&text);
            assert!(begun.elapsed().as_secs() < 20, "{part:?}: {:?}", begun.elapsed());
        }
    }

    #[test]
    fn values_print_as_they_are() {
        for value in [
            "O'Brien *& Muñoz_",
            "1. Main <b>St</b>",
            "# 4",
            "- dash",
            "[x](y) `z` \\ &amp; ~~s~~",
            "a_b_c __d__",
            "+ plus",
            "==== ----",
            "> quote ![i]",
            "$1,540.50",
        ] {
            let found = blocks(&escape(value)).unwrap_or_else(|refused| panic!("{value}: {refused:?}"));
            let [Block::Paragraph(words)] = &found[..] else { panic!("{value}: {found:?}") };
            assert_eq!(text(words), value);
            assert!(words.iter().all(|run| !run.strong && !run.emphasis));
        }
        assert_eq!(line(&escape("two\nlines")).unwrap(), "two lines");
    }
}
