//! Blocks of a document into strips: paragraphs, headings, lists, panels.
//!
//! Comes in: blocks. Goes out: strips for `flow`, and the structure they belong to. Tables are set by `table`, drawings
//! by `chart`.
//! Knows widths and type, but not where on a page anything will stand.

use super::PageFault;
use super::breaks;
use super::flow::{Cling, Strip};
use super::frame::{Area, Element, ElementId, Ink, Kind, Piece, Text};
use super::look::{LIGHT_RULE, Look, STRONG_RULE};
use super::measure::{self, Line, Style};
use super::units::Length;
use crate::document::{Block, Run, Words, plain};

/// Turns blocks into strips, in reading order.
pub(super) struct Setter {
    pub look: &'static Look,
    pub strips: Vec<Strip>,
    pub elements: Vec<Element>,
    pub faults: Vec<PageFault>,
    /// The level the last heading has in the structure, where no level may be skipped.
    last_heading: u8,
    /// Space asked for above the next strip.
    pending_space: Length,
    /// A new page asked for before the next strip.
    pending_page: bool,
}

/// Where blocks are set: a left edge, a width, a type, and what they are part of.
#[derive(Clone, Copy)]
pub(super) struct Measure {
    pub left: Length,
    pub width: Length,
    pub body: Style,
    pub parent: ElementId,
    /// Inside a panel: tables without light rules.
    pub in_panel: bool,
}

impl Setter {
    /// Begins a document.
    pub fn new(look: &'static Look) -> Setter {
        Setter {
            look,
            strips: Vec::new(),
            elements: vec![Element { kind: Kind::Document, parent: None }],
            faults: Vec::new(),
            last_heading: 0,
            pending_space: Length::ZERO,
            pending_page: false,
        }
    }

    /// Adds an element to the structure.
    pub fn element(&mut self, kind: Kind, parent: ElementId) -> ElementId {
        let id = u32::try_from(self.elements.len()).expect("fewer than four thousand million elements");
        self.elements.push(Element { kind, parent: Some(parent) });
        ElementId(id)
    }

    /// Sets blocks, one after another.
    pub fn blocks(&mut self, blocks: &[Block], at: Measure) {
        for (n, block) in blocks.iter().enumerate() {
            let start = self.strips.len();
            // Notes under a table or a drawing never stand alone on the next page.
            let remarks_on = matches!(block, Block::Small(_))
                && n > 0
                && matches!(blocks[n - 1], Block::Table(_) | Block::Chart(_) | Block::Small(_));
            if remarks_on && let Some(last) = self.strips.last_mut() {
                last.cling = last.cling.max(Cling::Firm);
            }
            self.block(block, at);
            let introduces = matches!(block, Block::Paragraph(_) | Block::Small(_))
                && n > 0
                && matches!(blocks[n - 1], Block::Heading { .. })
                && matches!(blocks.get(n + 1), Some(Block::Table(_) | Block::Chart(_) | Block::List { .. }));
            if introduces {
                self.introduce(start);
            }
        }
    }

    /// Holds a short paragraph that stands between a heading and a table to the table: heading and introduction
    /// alone at the foot of a page say nothing.
    fn introduce(&mut self, start: usize) {
        let lines = &mut self.strips[start..];
        if lines.len() <= 4 {
            for strip in lines {
                strip.cling = strip.cling.max(Cling::Firm);
            }
        }
    }

    fn block(&mut self, block: &Block, at: Measure) {
        match block {
            Block::Heading { level, words } => self.heading(*level, words, at),
            Block::Paragraph(words) => {
                let element = self.element(Kind::Paragraph, at.parent);
                self.paragraph(words, at.body, element, at);
            }
            Block::Small(words) => {
                let element = self.element(Kind::Paragraph, at.parent);
                self.paragraph(words, self.look.small, element, at);
            }
            Block::List { ordered, items } => self.list(*ordered, items, at),
            Block::Table(table) => self.table(table, at),
            Block::Chart(chart) => self.chart(chart, at),
            Block::Panel(blocks) => self.panel(blocks, at),
            // In a letter `envelope` takes these out of the flow; elsewhere they are lines like any others.
            Block::Sender(lines) | Block::Address(lines) | Block::DateLines(lines) => {
                let element = self.element(Kind::Paragraph, at.parent);
                self.paragraph(&plain(lines.join("\n")), at.body, element, at);
            }
            // Only a letter has a head for it; elsewhere its words stand for it.
            Block::Logo(picture) => {
                let element = self.element(Kind::Paragraph, at.parent);
                self.paragraph(&plain(picture.alternative.clone()), at.body, element, at);
            }
            Block::Together(blocks) => {
                let start = self.strips.len();
                self.blocks(blocks, at);
                self.hold_together(start);
            }
            Block::Space(lines) => self.pending_space += at.body.leading * i64::from(*lines),
            Block::PageBreak => self.pending_page = true,
        }
    }

    /// Adds a strip below the last.
    pub fn push(&mut self, mut strip: Strip) {
        strip.before = strip.before.max(self.pending_space);
        strip.new_page |= self.pending_page;
        (self.pending_space, self.pending_page) = (Length::ZERO, false);
        self.strips.push(strip);
    }

    /// Holds all strips from one on together, as far as a page allows; the first and the last of them firmly, so that
    /// where they are parted all the same, no strip stands alone.
    pub fn hold_together(&mut self, start: usize) {
        let Some((_, held)) = self.strips[start..].split_last_mut() else { return };
        let last = held.len().saturating_sub(1);
        for (at, strip) in held.iter_mut().enumerate() {
            let hold = if at < 2 || at == last { Cling::Firm } else { Cling::Block };
            strip.cling = strip.cling.max(hold);
        }
    }

    fn heading(&mut self, level: u8, words: &Words, at: Measure) {
        let level = level.clamp(1, 3);
        let style = self.look.headings[usize::from(level - 1)];
        // A heading may look smaller than its place in the structure: after level 1 comes 2, whatever it
        // looks like (ISO 14289-1, 7.4.2).
        let tagged = level.min(self.last_heading + 1);
        self.last_heading = tagged;
        let element = self.element(Kind::Heading(tagged), at.parent);
        let start = self.strips.len();
        self.lines_of(words, style, element, at);
        let plain_words: Vec<&str> = words.iter().map(|run| run.text.as_str()).collect();
        if let Some(first) = self.strips.get_mut(start) {
            first.before = first.before.max(self.look.heading_before[usize::from(level - 1)]);
            first.bookmark = Some((tagged, plain_words.concat()));
        }
        for strip in &mut self.strips[start..] {
            strip.cling = Cling::Firm;
        }
        if let Some(last) = self.strips.get_mut(start..).and_then(<[Strip]>::last_mut) {
            last.after = self.look.heading_after[usize::from(level - 1)];
        }
    }

    /// Sets a paragraph: its lines weighed together, the first two and the last two never parted.
    fn paragraph(&mut self, words: &[Run], style: Style, element: ElementId, at: Measure) {
        let start = self.strips.len();
        self.lines_of(words, style, element, at);
        let count = self.strips.len() - start;
        if count == 0 {
            return;
        }
        let lines = &mut self.strips[start..];
        lines[0].before = lines[0].before.max(self.look.gap / 2);
        lines[count - 1].after = self.look.gap;
        if count > 1 {
            lines[0].cling = Cling::Firm;
            lines[count - 2].cling = Cling::Firm;
        }
    }

    /// Sets words line by line, each a strip.
    fn lines_of(&mut self, words: &[Run], style: Style, element: ElementId, at: Measure) {
        let atoms = measure::atoms(words, style, &mut self.faults);
        let atoms = measure::split_long(atoms, at.width, style.size);
        for range in breaks::total_fit(&atoms, at.width) {
            let line = Line::of(&atoms[range]);
            let mut strip = Strip { height: style.leading, ..Strip::default() };
            place_line(&mut strip.pieces, line, at.left, style.baseline(), style, Some(element));
            self.push(strip);
        }
    }

    fn list(&mut self, ordered: bool, items: &[Vec<Block>], at: Measure) {
        let list = self.element(Kind::List(ordered), at.parent);
        let label = |number: usize| {
            if ordered { format!("{number}.") } else { "•".to_owned() }
        };
        let widest = measure::width_of(super::font::Face::Regular, &label(items.len()), at.body.size);
        let indent = (widest + at.body.size / 2).max(at.body.size * 13 / 10);
        for (number, blocks) in items.iter().enumerate() {
            let item = self.element(Kind::Item, list);
            let label_element = self.element(Kind::Label, item);
            let body = self.element(Kind::ItemBody, item);
            let start = self.strips.len();
            let inner = Measure { left: at.left + indent, width: at.width - indent, parent: body, ..at };
            self.blocks(blocks, inner);
            if self.strips.len() == start {
                self.push(Strip { height: at.body.leading, after: self.look.gap, ..Strip::default() });
            }
            let first = &mut self.strips[start];
            first.before = first.before.min(self.look.gap / 2);
            let atoms = measure::atoms(&plain(label(number + 1)), at.body, &mut self.faults);
            let mut pieces = Vec::new();
            let line = Line::of(&atoms);
            let left = if ordered { at.left + widest - line.width } else { at.left };
            place_line(&mut pieces, line, left, at.body.baseline(), at.body, Some(label_element));
            first.pieces.splice(0..0, pieces);
            // Items stand closer to each other than paragraphs do.
            let last = self.strips.last_mut().expect("an item has a strip");
            if number + 1 < items.len() {
                last.after = last.after.min(self.look.gap / 2);
            }
        }
    }

    /// Sets a panel: key facts between a strong rule and a light one, on one page where they fit.
    fn panel(&mut self, blocks: &[Block], at: Measure) {
        let start = self.strips.len();
        let section = self.element(Kind::Section, at.parent);
        let rule = |height: Length, y: Length| {
            Piece::Area(Area { x: at.left, y, width: at.width, height, ink: Ink::Black })
        };
        let pad = self.look.gap;
        self.push(Strip {
            height: STRONG_RULE + pad,
            pieces: vec![rule(STRONG_RULE, Length::ZERO)],
            before: self.look.gap * 2,
            cling: Cling::Firm,
            ..Strip::default()
        });
        let inner = Measure { body: self.look.panel, parent: section, in_panel: true, ..at };
        let inside = self.strips.len();
        self.blocks(blocks, inner);
        if let Some(first) = self.strips.get_mut(inside) {
            first.before = Length::ZERO;
        }
        if let Some(last) = self.strips.last_mut() {
            last.after = Length::ZERO;
            last.cling = Cling::Firm;
        }
        self.push(Strip {
            height: pad + LIGHT_RULE,
            pieces: vec![rule(LIGHT_RULE, pad)],
            after: self.look.gap * 2,
            ..Strip::default()
        });
        self.hold_together(start);
    }
}

/// Places a line's words, each face a piece.
pub(super) fn place_line(
    pieces: &mut Vec<Piece>,
    line: Line,
    left: Length,
    baseline: Length,
    style: Style,
    element: Option<ElementId>,
) {
    let mut x = left;
    let last = line.spans.len().saturating_sub(1);
    for (at, span) in line.spans.into_iter().enumerate() {
        let width = span.width;
        pieces.push(Piece::Text(Text {
            x,
            y: baseline,
            width,
            face: span.face,
            size: style.size,
            text: span.text,
            ends_word: at == last && line.ends_word,
            element,
        }));
        x += width;
    }
}
