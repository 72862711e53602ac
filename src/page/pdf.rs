//! Placed pieces as the bytes of a PDF file.
//!
//! Comes in: [`Pages`] and a [`Stamp`]. Goes out: a file, the same for the same input on every run and thread.
//! Translates and places nothing. printpdf makes the sheets and embeds the type; what it does not write, or
//! would write by chance (identifiers, dates), is set here on the finished objects. What stands on a sheet is
//! drawn by `content`, the structure is built by `structure`, the file's properties by `properties`.

use super::font::{self, Cut, Face};
use super::frame::{ElementId, Frame, Pages, Piece};
use super::object::{deflated_stream, dictionary, name};
use super::properties::Stamp;
use super::save::{Ahead, save};
use super::units::Length;
use super::{content, properties, structure};
use crate::deflate::Deflater;
use crate::picture::Picture;
use lopdf::{Dictionary, Document, Object, ObjectId};
use printpdf::{
    FontId, Op, PdfDocument, PdfFont, PdfFontHandle, PdfPage, PdfSaveOptions, Pt, Rect, TextItem,
};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Writes pages as a PDF file: version 1.7, tagged, type embedded, with an outline of its headings, and marked
/// as PDF/A-2a (ISO 19005-2) and PDF/UA-1 (ISO 14289-1).
pub fn to_pdf(pages: &Pages, stamp: &Stamp) -> Vec<u8> {
    write(pages, stamp, 2)
}

/// Writes the file, marked with a part of ISO 19005. Part 1 exists for checking alone: its validators are
/// easier to come by, and but for the mark and a list of glyphs, which part 2 no longer asks for, the bytes are
/// the same.
fn write(pages: &Pages, stamp: &Stamp, part: u8) -> Vec<u8> {
    let used = used_characters(pages);
    let cuts: BTreeMap<Face, Arc<Cut>> =
        used.iter().map(|(face, characters)| (*face, font::cut(*face, characters))).collect();
    let options =
        PdfSaveOptions { optimize: true, subset_fonts: false, secure: true, image_optimization: None };
    let mut file = blank_sheets(pages, &used, &cuts).to_lopdf_document(&options, &mut Vec::new());

    file.version = "1.7".to_owned();
    let sheets: Vec<ObjectId> = file.get_pages().into_values().collect();
    // Which elements the marked stretches of each sheet belong to, in order.
    let mut marked: Vec<Vec<ElementId>> = Vec::with_capacity(sheets.len());
    let mut pictures = Embedded::new();
    let mut deflater = Deflater::default();
    for (frame, sheet) in pages.frames.iter().zip(&sheets) {
        let content = content::draw(frame, &cuts);
        replace_content(&mut file, *sheet, content.bytes, &mut deflater);
        embed_pictures(&mut file, frame, *sheet, &mut pictures);
        marked.push(content.marked);
    }
    embed_deflated(&mut file, &cuts);
    if part == 1 {
        list_glyphs(&mut file, &cuts);
    }
    let mut ahead = Ahead::default();
    structure::write(&mut file, &mut ahead, pages, &sheets, &marked);
    structure::write_outline(&mut file, pages, &sheets);
    structure::write_labels(&mut file, pages);
    properties::write(&mut file, pages, stamp, part);
    file.objects.values_mut().for_each(|object| deflate(object, &mut deflater));
    save(file, &ahead)
}

/// Lists the characters in use, by face. A space may end any line.
fn used_characters(pages: &Pages) -> BTreeMap<Face, BTreeSet<char>> {
    let mut used: BTreeMap<Face, BTreeSet<char>> = BTreeMap::new();
    // A sheet has thousands of characters and some eighty different ones: what was seen is looked up in a table.
    let mut seen = [[false; 128]; Face::ALL.len()];
    for piece in pages.frames.iter().flat_map(|frame| &frame.pieces) {
        let Piece::Text(text) = piece else { continue };
        let characters = used.entry(text.face).or_insert_with(|| BTreeSet::from([' ']));
        for character in text.text.chars() {
            match seen[text.face as usize].get_mut(character as usize) {
                Some(seen) if *seen => {}
                Some(seen) => {
                    *seen = true;
                    characters.insert(character);
                }
                None => {
                    characters.insert(character);
                }
            }
        }
    }
    used
}

/// Makes the sheets and has printpdf embed the faces: it lists for each the glyphs it sees shown, so the first
/// sheet shows every character once. What the sheets really hold replaces that.
fn blank_sheets(
    pages: &Pages,
    used: &BTreeMap<Face, BTreeSet<char>>,
    cuts: &BTreeMap<Face, Arc<Cut>>,
) -> PdfDocument {
    let mut sheets = PdfDocument::new("");
    let mut samples = vec![Op::StartTextSection];
    for (face, characters) in used {
        let id = FontId(content::resource_name(*face).to_owned());
        sheets.resources.fonts.map.insert(id.clone(), PdfFont::new(cuts[face].font.clone()));
        samples.push(Op::SetFont { font: PdfFontHandle::External(id), size: Pt(1.0) });
        samples.push(Op::ShowText { items: vec![TextItem::Text(characters.iter().collect())] });
    }
    samples.push(Op::EndTextSection);
    for frame in &pages.frames {
        let size = Rect::from_wh(points(frame.width), points(frame.height));
        sheets.pages.push(PdfPage {
            media_box: size.clone(),
            trim_box: size.clone(),
            crop_box: size,
            ops: std::mem::take(&mut samples),
        });
    }
    sheets
}

/// Puts a content stream in the place of the one a sheet has.
fn replace_content(file: &mut Document, sheet: ObjectId, bytes: Vec<u8>, deflater: &mut Deflater) {
    let content =
        file.get_dictionary(sheet).and_then(|page| page.get(b"Contents")).and_then(Object::as_reference);
    let content = content.expect("a sheet has a content stream");
    let mut stream = Object::Stream(lopdf::Stream::new(Dictionary::new(), bytes));
    deflate(&mut stream, deflater);
    file.objects.insert(content, stream);
}

/// The pictures embedded so far: one that stands on many sheets, such as the sender's mark, is embedded once.
type Embedded<'p> = Vec<(&'p Picture, ObjectId)>;

/// Embeds the pictures of a sheet, by the names that its content calls them.
fn embed_pictures<'p>(file: &mut Document, frame: &'p Frame, sheet: ObjectId, embedded: &mut Embedded<'p>) {
    let pictures = frame.pieces.iter().filter_map(|piece| match piece {
        Piece::Picture(_, picture, _) => Some(picture),
        _ => None,
    });
    let mut named = Dictionary::new();
    for (number, picture) in pictures.enumerate() {
        let same = |(before, _): &&(&Picture, ObjectId)| {
            (before.width, before.height) == (picture.width, picture.height)
                && (Arc::ptr_eq(&before.points, &picture.points) || before.points == picture.points)
        };
        if let Some((_, id)) = embedded.iter().find(same) {
            named.set(content::picture_name(number), Object::Reference(*id));
            continue;
        }
        let shape = dictionary([
            ("Type", name("XObject")),
            ("Subtype", name("Image")),
            ("Width", Object::Integer(i64::from(picture.width))),
            ("Height", Object::Integer(i64::from(picture.height))),
            ("ColorSpace", name("DeviceRGB")),
            ("BitsPerComponent", Object::Integer(8)),
        ]);
        let id = file.add_object(deflated_stream(shape, picture.deflated.to_vec()));
        embedded.push((picture, id));
        named.set(content::picture_name(number), Object::Reference(id));
    }
    if named.is_empty() {
        return;
    }
    let resources = file.get_dictionary(sheet).and_then(|page| page.get(b"Resources")).cloned();
    match resources {
        Ok(Object::Reference(id)) => {
            // Sheets may share their resources, so this one gets its own.
            let mut own = file.get_dictionary(id).cloned().unwrap_or_default();
            own.set("XObject", named);
            set_resources(file, sheet, own);
        }
        Ok(Object::Dictionary(mut own)) => {
            own.set("XObject", named);
            set_resources(file, sheet, own);
        }
        _ => set_resources(file, sheet, dictionary([("XObject", Object::Dictionary(named))])),
    }
}

fn set_resources(file: &mut Document, sheet: ObjectId, resources: Dictionary) {
    if let Ok(Object::Dictionary(page)) = file.get_object_mut(sheet) {
        page.set("Resources", resources);
    }
}

/// Sizes of sheets as the library wants them.
fn points(length: Length) -> Pt {
    Pt(length.in_millipoints() as f32 / 1000.0)
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

/// Deflates a stream that is not deflated yet.
fn deflate(object: &mut Object, deflater: &mut Deflater) {
    let Object::Stream(stream) = object else { return };
    if !stream.allows_compression || stream.dict.has(b"Filter") {
        return;
    }
    let deflated = deflater.zlib(&stream.content);
    stream.dict.set("Filter", "FlateDecode");
    stream.set_content(deflated);
}

/// Lists the glyphs of each cut face beside it, one bit for each, as part 1 of ISO 19005 asks (6.3.5).
fn list_glyphs(file: &mut Document, cuts: &BTreeMap<Face, Arc<Cut>>) {
    let descriptors: Vec<(ObjectId, usize)> = file
        .objects
        .iter()
        .filter_map(|(id, object)| {
            let name = object.as_dict().ok()?.get(b"FontName").and_then(Object::as_name).ok()?;
            let cut =
                cuts.values().find(|cut| cut.font.font_name.as_deref().map(str::as_bytes) == Some(name))?;
            Some((*id, cut.font.glyph_widths.len()))
        })
        .collect();
    for (id, glyphs) in descriptors {
        let mut bits = vec![0xFF_u8; glyphs.div_ceil(8)];
        if let Some(last) = bits.last_mut().filter(|_| glyphs % 8 > 0) {
            *last <<= 8 - glyphs % 8;
        }
        let list = file.add_object(lopdf::Stream::new(Dictionary::new(), bits));
        if let Ok(Object::Dictionary(descriptor)) = file.get_object_mut(id) {
            descriptor.set("CIDSet", list);
        }
    }
}

#[cfg(test)]
pub(super) fn write_for_checking(pages: &Pages, stamp: &Stamp) -> Vec<u8> {
    write(pages, stamp, 1)
}
