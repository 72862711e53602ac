//! One sheet's pieces as a content stream: the drawing operators of ISO 32000-1, 8 and 9 (read from memory).
//!
//! Comes in: a [`Frame`] and the cut faces. Goes out: bytes, and which element each marked stretch belongs to.
//! Written directly rather than through a drawing library, because a sheet has thousands of glyphs and a
//! library's operators cost more time than all the rest of a file. Lengths are printed as they are, so no float
//! exists here.

use super::font::{self, Cut, Face};
use super::frame::{Area, ElementId, Frame, Ink, Piece, Text};
use super::units::Length;
use std::collections::BTreeMap;
use std::io::Write;
use std::sync::Arc;

/// A sheet, drawn.
pub(super) struct Content {
    /// The stream.
    pub bytes: Vec<u8>,
    /// The element of each marked stretch, in order.
    pub marked: Vec<ElementId>,
}

/// Draws a sheet.
pub(super) fn draw(frame: &Frame, cuts: &BTreeMap<Face, Arc<Cut>>) -> Content {
    let mut pen = Pen {
        frame,
        cuts,
        bytes: Vec::new(),
        marked: Vec::new(),
        open: None,
        type_set: None,
        in_text: false,
        ink: None,
    };
    let mut pictures = 0;
    for piece in &frame.pieces {
        match piece {
            Piece::Text(text) => pen.text(text),
            Piece::Area(area) => pen.area(area, None),
            Piece::Shape(area, element) => pen.area(area, Some(*element)),
            Piece::Outline(area) => pen.outline(area),
            Piece::Picture(area, _, element) => {
                pen.picture(area, *element, pictures);
                pictures += 1;
            }
        }
    }
    pen.close();
    Content { bytes: pen.bytes, marked: pen.marked }
}

/// The name a face goes by in content streams. Not F1 to F14, which mean the built-in fonts to printpdf.
pub(super) fn resource_name(face: Face) -> &'static str {
    match face {
        Face::Regular => "Text",
        Face::Bold => "Strong",
        Face::Italic => "Emphasis",
    }
}

/// The name a picture of a sheet goes by in its content stream.
pub(super) fn picture_name(number: usize) -> String {
    format!("Picture{number}")
}

/// The state of drawing.
struct Pen<'a> {
    frame: &'a Frame,
    cuts: &'a BTreeMap<Face, Arc<Cut>>,
    bytes: Vec<u8>,
    marked: Vec<ElementId>,
    /// What the open stretch belongs to: an element, or nothing (an artifact).
    open: Option<Option<ElementId>>,
    in_text: bool,
    /// The face and size set in the open text object.
    type_set: Option<(Face, Length)>,
    ink: Option<Ink>,
}

impl Pen<'_> {
    fn text(&mut self, text: &Text) {
        self.enter(text.element);
        self.ink(Ink::Black);
        if !self.in_text {
            self.put(format_args!("BT\n"));
            (self.in_text, self.type_set) = (true, None);
        }
        if self.type_set != Some((text.face, text.size)) {
            self.put(format_args!("/{} {} Tf\n", resource_name(text.face), text.size));
            self.type_set = Some((text.face, text.size));
        }
        self.put(format_args!("1 0 0 1 {} {} Tm\n", text.x, self.frame.height - text.y));
        self.show(text);
    }

    /// Shows a text: glyph numbers of two bytes, and where letters are moved closer, by how much, which the format
    /// counts in thousandths of the size to the left. The bytes stand as they are, not in hexadecimal, which would be
    /// twice as much to deflate.
    fn show(&mut self, text: &Text) {
        let font = &self.cuts[&text.face].font;
        self.bytes.extend(b"[(");
        let mut before = None;
        // The space between this line's last word and the next line's first shows nowhere, but without it both
        // would be read as one word.
        let space = (text.ends_word && text.element.is_some()).then_some(' ');
        for character in text.text.chars().chain(space) {
            let kern = before.map_or(0, |before| font::kern(text.face, before, character));
            if kern != 0 {
                self.put(format_args!("){}(", -kern));
            }
            let glyph = font.lookup_glyph_index(u32::from(character)).unwrap_or(0);
            for byte in glyph.to_be_bytes() {
                match byte {
                    b'(' | b')' | b'\\' => self.bytes.extend([b'\\', byte]),
                    // A line end of any kind is read as a line feed.
                    b'\r' => self.bytes.extend(b"\\r"),
                    byte => self.bytes.push(byte),
                }
            }
            before = Some(character);
        }
        self.bytes.extend(b")]TJ\n");
    }

    fn area(&mut self, area: &Area, element: Option<ElementId>) {
        self.enter(element);
        self.leave_text();
        self.ink(area.ink);
        self.rectangle(area);
        self.put(format_args!(" f\n"));
    }

    fn outline(&mut self, area: &Area) {
        self.enter(None);
        self.leave_text();
        self.put(format_args!("{} G 0.8 w ", gray(area.ink)));
        self.rectangle(area);
        self.put(format_args!(" S\n"));
    }

    /// Draws the sheet's picture of a number, from nought, over a rectangle.
    fn picture(&mut self, area: &Area, element: ElementId, number: usize) {
        self.enter(Some(element));
        self.leave_text();
        let lower = self.frame.height - area.y - area.height;
        let name = picture_name(number);
        self.put(format_args!("q {} 0 0 {} {} {lower} cm /{name} Do Q\n", area.width, area.height, area.x));
    }

    fn rectangle(&mut self, area: &Area) {
        let lower = self.frame.height - area.y - area.height;
        self.put(format_args!("{} {} {} {} re", area.x, lower, area.width, area.height));
    }

    /// Opens a stretch that belongs to an element, or to none, unless it is open already.
    fn enter(&mut self, element: Option<ElementId>) {
        if self.open == Some(element) {
            return;
        }
        self.close();
        match element {
            Some(element) => {
                self.put(format_args!("/Span <</MCID {}>> BDC\n", self.marked.len()));
                self.marked.push(element);
            }
            None => self.put(format_args!("/Artifact BMC\n")),
        }
        self.open = Some(element);
    }

    /// Closes the open stretch.
    fn close(&mut self) {
        self.leave_text();
        if self.open.take().is_some() {
            self.put(format_args!("EMC\n"));
        }
    }

    fn leave_text(&mut self) {
        if std::mem::take(&mut self.in_text) {
            self.put(format_args!("ET\n"));
        }
    }

    fn ink(&mut self, ink: Ink) {
        if self.ink != Some(ink) {
            self.put(format_args!("{} g\n", gray(ink)));
            self.ink = Some(ink);
        }
    }

    fn put(&mut self, text: std::fmt::Arguments<'_>) {
        self.bytes.write_fmt(text).expect("writing to memory does not fail");
    }
}

/// How light an ink is: 0 is black.
fn gray(ink: Ink) -> &'static str {
    match ink {
        Ink::Black => "0",
        Ink::Rule => "0.6",
        Ink::Band => "0.92",
        Ink::Dark => "0.35",
        Ink::Light => "0.82",
    }
}
