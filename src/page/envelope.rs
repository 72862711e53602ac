//! The first page of a letter: sender, date and the address that shows through a window.
//!
//! Comes in: a letter's blocks. Goes out: their pieces at fixed places, the fold ticks, and where the text may
//! begin. Complains about what would not show, or would show too much. The geometry was calculated for a
//! number 10 window envelope, 4-1/8 x 9-1/2 in, window 1-1/8 x 4-1/2 in, 7/8 in from the left and 1/2 in from
//! the bottom (dimensions: common practice; 1/8 in clear on all sides: DMM 601.6.3), for a sheet folded at
//! 3-7/8 and 7-3/4 in with the upper panel facing out, in its worst shift.

use super::PageFault;
use super::breaks;
use super::frame::{Area, ElementId, Ink, Kind, Piece};
use super::look::{SHEET_HEIGHT, SHEET_WIDTH};
use super::measure::{self, Line, Style};
use super::paragraph::{Setter, place_line};
use super::units::Length;
use crate::document::{Block, plain};
use crate::picture::Picture;

/// Where the first line of the address begins.
const ADDRESS_TOP: Length = Length::milli_inches(2630);
/// Its left edge.
const ADDRESS_LEFT: Length = Length::milli_inches(1000);
/// How wide it may be: from 1.0 to 4.25 in every shift shows it.
const ADDRESS_WIDTH: Length = Length::milli_inches(3250);
/// How many lines surely show: they end at 3.25 in.
const ADDRESS_LINES: usize = 4;
/// Lines beyond the safe ones that a larger window may show.
const ADDRESS_LINES_AT_MOST: usize = 5;
/// Type of the address: 10 pt on 11 pt.
const ADDRESS: Style = Style { size: Length::points(10), leading: Length::points(11), strong: false };

/// Above this everything at the left must end: below it may show through the window.
const KEEP_OUT_TOP: Length = Length::milli_inches(2100);
/// Right of this nothing shows through the window.
const KEEP_OUT_RIGHT: Length = Length::milli_inches(5500);
/// The text begins here.
const TEXT_TOP: Length = Length::milli_inches(3750);

/// Where the sender begins.
const SENDER_TOP: Length = Length::milli_inches(700);
const SENDER_NAME: Style =
    Style { size: Length::millipoints(12_500), leading: Length::points(16), strong: true };
const SENDER: Style =
    Style { size: Length::millipoints(9200), leading: Length::millipoints(11_600), strong: false };
/// The place of the sender's mark: it is made to fit, and keeps its shape.
const LOGO_HEIGHT: Length = Length::points(58);
const LOGO_WIDTH: Length = Length::points(190);
/// Between the mark and the sender beside it.
const LOGO_GAP: Length = Length::points(14);
/// Between sender, date and text.
const GAP: Length = Length::points(11);

/// Where the sheet is folded, from its upper edge.
const FOLDS: [Length; 2] = [Length::milli_inches(3875), Length::milli_inches(7750)];

/// What stands at fixed places on a letter's first page.
pub(super) struct Opening {
    /// The pieces, at their places on the sheet.
    pub pieces: Vec<Piece>,
    /// Where the text begins; none where the letter opens like any page.
    pub text_top: Option<Length>,
}

/// Places sender, date and address of a letter, and takes them out of the flow: what is left are the blocks
/// returned beside it.
pub(super) fn open<'a>(
    blocks: &'a [Block],
    setter: &mut Setter,
    remarks: &mut Vec<PageFault>,
) -> (Opening, Vec<&'a Block>) {
    let mut opening = Opening { pieces: Vec::new(), text_top: None };
    let (mut logo, mut sender, mut dates, mut address) = (None, None, None, None);
    let mut rest = Vec::with_capacity(blocks.len());
    for block in blocks {
        match block {
            Block::Logo(picture) if logo.is_none() => logo = Some(picture),
            Block::Sender(lines) if sender.is_none() => sender = Some(lines),
            Block::DateLines(lines) if dates.is_none() => dates = Some(lines),
            Block::Address(lines) if address.is_none() => address = Some(lines),
            Block::Address(lines) => {
                setter
                    .faults
                    .push(PageFault::SecondAddress { line: lines.first().cloned().unwrap_or_default() });
            }
            other => rest.push(other),
        }
    }
    let mut y = setter.look.top;
    let mut beside = (setter.look.side, SENDER_TOP);
    if let Some(picture) = logo {
        beside = place_logo(picture, setter, &mut opening);
        y = beside.1;
    }
    if let Some(lines) = sender {
        y = place_sender(lines, beside.0, address.is_some(), setter, &mut opening).max(beside.1);
    }
    if let Some(lines) = dates {
        y = place_dates(
            lines,
            y,
            logo.is_some() || sender.is_some(),
            address.is_some(),
            setter,
            &mut opening,
        );
    }
    if !y.fits(SHEET_HEIGHT - setter.look.bottom) {
        setter.faults.push(PageFault::HeadTooTall);
    }
    if let Some(lines) = address {
        place_address(lines, setter, &mut opening, remarks);
        opening.text_top = Some(TEXT_TOP);
        for fold in FOLDS {
            opening.pieces.push(Piece::Area(Area {
                x: Length::points(14),
                y: fold,
                width: Length::points(9),
                height: Length::millipoints(500),
                ink: Ink::Rule,
            }));
        }
    } else if logo.is_some() || sender.is_some() || dates.is_some() {
        opening.text_top = Some(y + GAP * 2);
    }
    (opening, rest)
}

/// Places the sender's mark at the head of the page, as large as fits its place; returns where the sender begins
/// beside it, and where it ends.
fn place_logo(picture: &Picture, setter: &mut Setter, opening: &mut Opening) -> (Length, Length) {
    let element = setter.element(Kind::Figure(picture.alternative.clone()), ElementId(0));
    let (across, down) = (i64::from(picture.width.max(1)), i64::from(picture.height.max(1)));
    let (mut width, mut height) = (LOGO_HEIGHT * across / down, LOGO_HEIGHT);
    if !width.fits(LOGO_WIDTH) {
        (width, height) = (LOGO_WIDTH, LOGO_WIDTH * down / across);
    }
    let area = Area { x: setter.look.side, y: SENDER_TOP, width, height, ink: Ink::Black };
    opening.pieces.push(Piece::Picture(area, picture.clone(), element));
    (setter.look.side + width + LOGO_GAP, SENDER_TOP + height)
}

/// Places the sender at the head of the page, from a left edge on; returns where it ends.
fn place_sender(
    lines: &[String],
    left: Length,
    windowed: bool,
    setter: &mut Setter,
    opening: &mut Opening,
) -> Length {
    let element = setter.element(Kind::Paragraph, ElementId(0));
    let mut y = SENDER_TOP;
    for (at, text) in lines.iter().enumerate() {
        let style = if at == 0 { SENDER_NAME } else { SENDER };
        let width = setter.look.width() - (left - setter.look.side);
        y = place_lines(text, style, (left, width), y, element, setter, opening);
    }
    if windowed && !y.fits(KEEP_OUT_TOP) {
        setter.faults.push(PageFault::SenderTooTall { lines: lines.len() });
    }
    y
}

/// Places date and reference: below the sender where they end above the window, else right of it.
fn place_dates(
    lines: &[String],
    sender_end: Length,
    has_sender: bool,
    windowed: bool,
    setter: &mut Setter,
    opening: &mut Opening,
) -> Length {
    let style = setter.look.body;
    let element = setter.element(Kind::Paragraph, ElementId(0));
    let under = if has_sender { sender_end + GAP } else { sender_end };
    let whole = (setter.look.side, setter.look.width());
    let needed = style.leading * wrapped(lines, style, whole.1, setter) as i64;
    let (mut y, (left, width)) = if windowed && !(under + needed).fits(KEEP_OUT_TOP) {
        (ADDRESS_TOP, (KEEP_OUT_RIGHT, SHEET_WIDTH - setter.look.side - KEEP_OUT_RIGHT))
    } else {
        (under, whole)
    };
    for text in lines {
        y = place_lines(text, style, (left, width), y, element, setter, opening);
    }
    y
}

/// Counts the lines that texts take in a width.
fn wrapped(lines: &[String], style: Style, width: Length, setter: &mut Setter) -> usize {
    let count = |text: &String, faults: &mut Vec<PageFault>| {
        let atoms = measure::split_long(measure::atoms(&plain(text), style, faults), width, style.size);
        breaks::greedy(&atoms, width).len().max(1)
    };
    lines.iter().map(|text| count(text, &mut setter.faults)).sum()
}

/// Places the address; complains where it would not show.
fn place_address(lines: &[String], setter: &mut Setter, opening: &mut Opening, remarks: &mut Vec<PageFault>) {
    let element = setter.element(Kind::Paragraph, ElementId(0));
    let too_long =
        PageFault::AddressTooLong { lines: lines.len(), first: lines.first().cloned().unwrap_or_default() };
    if lines.len() > ADDRESS_LINES_AT_MOST {
        setter.faults.push(too_long);
    } else if lines.len() > ADDRESS_LINES {
        remarks.push(too_long);
    }
    let mut y = ADDRESS_TOP;
    for text in lines {
        let line = Line::of(&measure::atoms(&plain(text), ADDRESS, &mut setter.faults));
        if !line.width.fits(ADDRESS_WIDTH) {
            setter.faults.push(PageFault::AddressTooWide { line: text.clone() });
        }
        place_line(&mut opening.pieces, line, ADDRESS_LEFT, y + ADDRESS.baseline(), ADDRESS, Some(element));
        y += ADDRESS.leading;
    }
}

/// Places a text in a width, wrapped where it must be; returns where it ends.
fn place_lines(
    text: &str,
    style: Style,
    (left, width): (Length, Length),
    top: Length,
    element: ElementId,
    setter: &mut Setter,
    opening: &mut Opening,
) -> Length {
    let atoms =
        measure::split_long(measure::atoms(&plain(text), style, &mut setter.faults), width, style.size);
    let mut y = top;
    for range in breaks::greedy(&atoms, width) {
        let line = Line::of(&atoms[range]);
        place_line(&mut opening.pieces, line, left, y + style.baseline(), style, Some(element));
        y += style.leading;
    }
    // An empty line keeps its height.
    if y == top { top + style.leading } else { y }
}
