//! Placed pieces as the bytes of a PDF file.
//!
//! Comes in: [`Pages`] and a [`Stamp`]. Goes out: a file, the same for the same input on every run and thread.
//! Translates and places nothing. printpdf draws the pages and embeds the type; what it does not write, or
//! would write by chance (identifiers, dates), is set here on the finished objects. The structure is built by
//! `structure`, the file's properties by `properties`.

use super::font::{self, Cut, Face};
use super::frame::{Area, ElementId, Frame, Ink, Pages, Piece, Text};
use super::units::Length;
use super::{properties, structure};
use lopdf::{Dictionary, Document, Object, ObjectId};
use printpdf::{
    Color, DictItem, FontId, Greyscale, Op, PaintMode, PdfDocument, PdfFont, PdfFontHandle, PdfPage,
    PdfSaveOptions, Pt, Rect, TextItem, TextMatrix,
};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// What identifies a file and dates it: both come from the caller, never from chance or a clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// Identifier, from a hash of what the file says.
    pub id: [u8; 16],
    /// The day it bears.
    pub date: jiff::civil::Date,
}

/// Writes pages as a PDF file: version 1.7, tagged, type embedded, with an outline of its headings, and marked
/// as PDF/A-2a (ISO 19005-2) and PDF/UA-1 (ISO 14289-1).
pub fn to_pdf(pages: &Pages, stamp: &Stamp) -> Vec<u8> {
    write(pages, stamp, 2)
}

/// Writes the file, marked with a part of ISO 19005. Part 1 exists for checking alone: its validators are
/// easier to come by, and but for the mark the bytes are the same.
fn write(pages: &Pages, stamp: &Stamp, part: u8) -> Vec<u8> {
    let cuts = cut_faces(pages);
    let mut drawing = PdfDocument::new("");
    for (face, cut) in &cuts {
        drawing.resources.fonts.map.insert(font_id(*face), PdfFont::new(cut.font.clone()));
    }
    // Which elements the marked stretches of each page belong to, in order.
    let mut marked: Vec<Vec<ElementId>> = Vec::with_capacity(pages.frames.len());
    for frame in &pages.frames {
        let mut page = PageOps::default();
        frame.pieces.iter().for_each(|piece| page.piece(piece, frame));
        page.close();
        marked.push(page.marked);
        drawing.pages.push(page_of(frame, page.ops));
    }
    let options =
        PdfSaveOptions { optimize: true, subset_fonts: false, secure: true, image_optimization: None };
    let mut file = drawing.to_lopdf_document(&options, &mut Vec::new());

    file.version = "1.7".to_owned();
    embed_deflated(&mut file, &cuts);
    let sheets: Vec<ObjectId> = file.get_pages().into_values().collect();
    structure::write(&mut file, pages, &sheets, &marked);
    structure::write_outline(&mut file, pages, &sheets);
    properties::write(&mut file, pages, stamp, part);
    file.compress();
    let mut bytes = Vec::new();
    file.save_to(&mut bytes).expect("writing to memory does not fail");
    bytes
}

/// Cuts the faces in use down to the characters in use.
fn cut_faces(pages: &Pages) -> BTreeMap<Face, Arc<Cut>> {
    let mut used: BTreeMap<Face, BTreeSet<char>> = BTreeMap::new();
    for piece in pages.frames.iter().flat_map(|frame| &frame.pieces) {
        if let Piece::Text(text) = piece {
            used.entry(text.face).or_default().extend(text.text.chars());
        }
    }
    used.into_iter().map(|(face, characters)| (face, font::cut(face, &characters))).collect()
}

/// The name a face goes by in content streams. Not F1 to F14, which mean the built-in fonts to printpdf.
fn font_id(face: Face) -> FontId {
    FontId(
        match face {
            Face::Regular => "Text",
            Face::Bold => "Strong",
            Face::Italic => "Emphasis",
        }
        .to_owned(),
    )
}

fn page_of(frame: &Frame, ops: Vec<Op>) -> PdfPage {
    let sheet = Rect::from_wh(points(frame.width), points(frame.height));
    PdfPage { media_box: sheet.clone(), trim_box: sheet.clone(), crop_box: sheet, ops }
}

/// The one place where a length becomes a float: the file's numbers.
fn points(length: Length) -> Pt {
    Pt(length.in_millipoints() as f32 / 1000.0)
}

/// Drawing operations of a page, as they come together.
#[derive(Default)]
struct PageOps {
    ops: Vec<Op>,
    /// The element of each marked stretch so far.
    marked: Vec<ElementId>,
    /// What the open stretch belongs to: an element, or nothing (an artifact).
    open: Option<Option<ElementId>>,
    in_text: bool,
    ink: Option<Ink>,
    type_set: Option<(Face, Length)>,
}

impl PageOps {
    fn piece(&mut self, piece: &Piece, frame: &Frame) {
        match piece {
            Piece::Text(text) => self.text(text, frame),
            Piece::Area(area) => {
                self.enter(None);
                self.leave_text();
                self.fill_with(area.ink);
                self.ops.push(Op::DrawRectangle { rectangle: rectangle(area, frame, PaintMode::Fill) });
            }
            Piece::Outline(area) => {
                self.enter(None);
                self.leave_text();
                self.ops.push(Op::SetOutlineColor { col: colour(area.ink) });
                self.ops.push(Op::SetOutlineThickness { pt: Pt(0.8) });
                self.ops.push(Op::DrawRectangle { rectangle: rectangle(area, frame, PaintMode::Stroke) });
            }
        }
    }

    fn text(&mut self, text: &Text, frame: &Frame) {
        self.enter(text.element);
        if !self.in_text {
            self.ops.push(Op::StartTextSection);
            (self.in_text, self.type_set) = (true, None);
        }
        self.fill_with(Ink::Black);
        if self.type_set != Some((text.face, text.size)) {
            let font = PdfFontHandle::External(font_id(text.face));
            self.ops.push(Op::SetFont { font, size: points(text.size) });
            self.type_set = Some((text.face, text.size));
        }
        let matrix = TextMatrix::Translate(points(text.x), points(frame.height - text.y));
        self.ops.push(Op::SetTextMatrix { matrix });
        // The space between this line's last word and the next line's first shows nowhere, but without it both
        // would be read as one word.
        let space = if text.ends_word && text.element.is_some() { " " } else { "" };
        self.ops.push(Op::ShowText { items: kerned(text.face, &format!("{}{space}", text.text)) });
    }

    /// Opens a stretch that belongs to an element, or to none, unless it is open already.
    fn enter(&mut self, element: Option<ElementId>) {
        if self.open == Some(element) {
            return;
        }
        self.close();
        let op = match element {
            Some(element) => {
                let number = self.marked.len() as i64;
                self.marked.push(element);
                let map = BTreeMap::from([("MCID".to_owned(), DictItem::Int(number))]);
                Op::BeginMarkedContentWithProperties {
                    tag: "Span".to_owned(),
                    properties: DictItem::Dict { map },
                }
            }
            None => Op::BeginMarkedContent { tag: "Artifact".to_owned() },
        };
        self.ops.push(op);
        self.open = Some(element);
    }

    /// Closes the open stretch.
    fn close(&mut self) {
        self.leave_text();
        if self.open.take().is_some() {
            self.ops.push(Op::EndMarkedContent);
        }
    }

    fn leave_text(&mut self) {
        if std::mem::take(&mut self.in_text) {
            self.ops.push(Op::EndTextSection);
        }
    }

    fn fill_with(&mut self, ink: Ink) {
        if self.ink != Some(ink) {
            self.ops.push(Op::SetFillColor { col: colour(ink) });
            self.ink = Some(ink);
        }
    }
}

fn colour(ink: Ink) -> Color {
    let percent = match ink {
        Ink::Black => 0.0,
        Ink::Rule => 0.6,
        Ink::Band => 0.92,
    };
    Color::Greyscale(Greyscale { percent, icc_profile: None })
}

fn rectangle(area: &Area, frame: &Frame, mode: PaintMode) -> Rect {
    let lower = frame.height - area.y - area.height;
    let mut rectangle =
        Rect::from_xywh(points(area.x), points(lower), points(area.width), points(area.height));
    rectangle.mode = Some(mode);
    rectangle
}

/// Splits a text where letters are moved closer: the format counts such moves in thousandths of the size, to
/// the left.
fn kerned(face: Face, text: &str) -> Vec<TextItem> {
    let mut items = Vec::new();
    let mut open = String::new();
    let mut before = None;
    for character in text.chars() {
        let kern = before.map_or(0, |before| font::kern(face, before, character));
        if kern != 0 {
            items.push(TextItem::Text(std::mem::take(&mut open)));
            items.push(TextItem::Offset(-(kern as f32)));
        }
        open.push(character);
        before = Some(character);
    }
    items.push(TextItem::Text(open));
    items
}

/// Puts the font programs in as they were deflated once for the process: deflating them anew would take longer
/// than all the rest.
fn embed_deflated(file: &mut Document, cuts: &BTreeMap<Face, Arc<Cut>>) {
    for object in file.objects.values_mut() {
        let Object::Stream(stream) = object else { continue };
        if !stream.dict.has(b"Length1") {
            continue;
        }
        if let Some(cut) = cuts.values().find(|cut| cut.font.original_bytes == stream.content) {
            stream.dict.set("Filter", "FlateDecode");
            stream.set_content(cut.deflated.clone());
        }
    }
}

/// A text string as the format wants it: plain where it is ASCII, else UTF-16 with a byte order mark.
pub(super) fn text_string(text: &str) -> Object {
    if text.is_ascii() {
        return Object::string_literal(text);
    }
    let mut bytes = vec![0xFE, 0xFF];
    bytes.extend(text.encode_utf16().flat_map(u16::to_be_bytes));
    Object::String(bytes, lopdf::StringFormat::Hexadecimal)
}

/// Makes a dictionary.
pub(super) fn dictionary<const N: usize>(entries: [(&str, Object); N]) -> Dictionary {
    Dictionary::from_iter(entries)
}

/// Makes a name.
pub(super) fn name(name: &str) -> Object {
    Object::Name(name.as_bytes().to_vec())
}

#[cfg(test)]
pub(super) fn write_for_checking(pages: &Pages, stamp: &Stamp) -> Vec<u8> {
    write(pages, stamp, 1)
}
