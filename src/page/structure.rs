//! The structure of a file: its tags, for those who read without seeing, and its outline.
//!
//! Comes in: the elements and headings of [`Pages`], and which stretches of which sheet belong to which
//! element. Goes out: objects of the file (ISO 32000-1, 14.7 and 14.8 for tags, 12.3.3 for the outline; read
//! from memory). Knows nothing of drawing.

use super::frame::{ElementId, Kind, Pages, Piece};
use super::object::{dictionary, name, text_string};
use super::save::Ahead;
use super::units::Length;
use lopdf::{Dictionary, Document, Object, ObjectId};

/// Writes the tags. `marked` names, for each sheet, the element of each marked stretch in order.
pub(super) fn write(
    file: &mut Document,
    ahead: &mut Ahead,
    pages: &Pages,
    sheets: &[ObjectId],
    marked: &[Vec<ElementId>],
) {
    let root = file.new_object_id();
    let parents = file.new_object_id();
    let ids: Vec<ObjectId> = pages.elements.iter().map(|_| file.new_object_id()).collect();

    // What each element holds: other elements, or stretches of sheets. Never both.
    let mut kids: Vec<Vec<Kid>> = vec![Vec::new(); ids.len()];
    let mut first_sheet: Vec<Option<ObjectId>> = vec![None; ids.len()];
    for (element, id) in pages.elements.iter().zip(&ids) {
        if let Some(parent) = element.parent {
            kids[parent.0 as usize].push(Kid::Element(*id));
        }
    }
    for (stretches, sheet) in marked.iter().zip(sheets) {
        for (number, element) in stretches.iter().enumerate() {
            let element = element.0 as usize;
            let on_first = *first_sheet[element].get_or_insert(*sheet) == *sheet;
            kids[element].push(Kid::Stretch(number as i64, (!on_first).then_some(*sheet)));
        }
    }

    for (at, (element, kids)) in pages.elements.iter().zip(kids).enumerate() {
        let parent = element.parent.map_or(root, |parent| ids[parent.0 as usize]);
        let mut entry = dictionary([("S", name(tag(&element.kind))), ("P", Object::Reference(parent))]);
        if let Some(sheet) = first_sheet[at] {
            entry.set("Pg", Object::Reference(sheet));
        }
        match kids.as_slice() {
            [] => {}
            [only] => entry.set("K", only.object()),
            several => entry.set("K", several.iter().map(Kid::object).collect::<Vec<_>>()),
        }
        if let Some(attributes) = attributes(&element.kind) {
            entry.set("A", attributes);
        }
        if let Kind::Part(Some(language)) = &element.kind {
            entry.set("Lang", text_string(language));
        }
        if let Kind::Figure(summary) = &element.kind {
            entry.set("Alt", text_string(summary));
            if let Some(bounds) = bounds(pages, ElementId(at as u32)) {
                entry.set("A", bounds);
            }
        }
        ahead.write(ids[at], &Object::Dictionary(entry));
    }

    let mut numbers = Vec::with_capacity(sheets.len() * 2);
    for (at, (stretches, sheet)) in marked.iter().zip(sheets).enumerate() {
        let of_sheet: Vec<Object> = stretches.iter().map(|e| Object::Reference(ids[e.0 as usize])).collect();
        numbers.push(Object::Integer(at as i64));
        let list = file.new_object_id();
        ahead.write(list, &Object::Array(of_sheet));
        numbers.push(Object::Reference(list));
        if let Ok(Object::Dictionary(page)) = file.get_object_mut(*sheet) {
            page.set("StructParents", at as i64);
            page.set("Tabs", name("S"));
            page.remove(b"Annots");
        }
    }
    file.objects.insert(parents, Object::Dictionary(dictionary([("Nums", Object::Array(numbers))])));
    let tree = dictionary([
        ("Type", name("StructTreeRoot")),
        ("K", Object::Reference(ids[0])),
        ("ParentTree", Object::Reference(parents)),
        ("ParentTreeNextKey", Object::Integer(sheets.len() as i64)),
    ]);
    file.objects.insert(root, Object::Dictionary(tree));
    let catalog = file.catalog_mut().expect("a file has a catalog");
    catalog.set("StructTreeRoot", Object::Reference(root));
    catalog.set("MarkInfo", dictionary([("Marked", Object::Boolean(true))]));
}

/// What an element holds.
#[derive(Clone)]
enum Kid {
    /// Another element.
    Element(ObjectId),
    /// A marked stretch of its first sheet, or of the one named.
    Stretch(i64, Option<ObjectId>),
}

impl Kid {
    fn object(&self) -> Object {
        match self {
            Kid::Element(id) => Object::Reference(*id),
            Kid::Stretch(number, None) => Object::Integer(*number),
            Kid::Stretch(number, Some(sheet)) => Object::Dictionary(dictionary([
                ("Type", name("MCR")),
                ("Pg", Object::Reference(*sheet)),
                ("MCID", Object::Integer(*number)),
            ])),
        }
    }
}

/// The standard structure type of an element.
fn tag(kind: &Kind) -> &'static str {
    match kind {
        Kind::Document => "Document",
        Kind::Part(_) => "Part",
        Kind::Section => "Sect",
        Kind::Heading(1) => "H1",
        Kind::Heading(2) => "H2",
        Kind::Heading(_) => "H3",
        Kind::Paragraph => "P",
        Kind::List(_) => "L",
        Kind::Item => "LI",
        Kind::Label => "Lbl",
        Kind::ItemBody => "LBody",
        Kind::Table(_) => "Table",
        Kind::Figure(_) => "Figure",
        Kind::Row => "TR",
        Kind::ColumnHead | Kind::RowHead(_) => "TH",
        Kind::Cell(_) => "TD",
    }
}

/// What more there is to say of an element.
fn attributes(kind: &Kind) -> Option<Dictionary> {
    let mut of_table = dictionary([("O", name("Table"))]);
    match kind {
        Kind::Table(summary) if !summary.is_empty() => of_table.set("Summary", text_string(summary)),
        Kind::ColumnHead => of_table.set("Scope", name("Column")),
        Kind::RowHead(span) => {
            of_table.set("Scope", name("Row"));
            if *span > 1 {
                of_table.set("ColSpan", i64::from(*span));
            }
        }
        Kind::Cell(span) if *span > 1 => of_table.set("ColSpan", i64::from(*span)),
        Kind::List(ordered) => {
            let numbering = name(if *ordered { "Decimal" } else { "Disc" });
            return Some(dictionary([("O", name("List")), ("ListNumbering", numbering)]));
        }
        _ => return None,
    }
    Some(of_table)
}

/// Says where a drawing stands on the first sheet that holds some of it (ISO 32000-1, 14.8.5.4).
fn bounds(pages: &Pages, figure: ElementId) -> Option<Dictionary> {
    let frame = pages.frames.iter().find(|frame| frame.pieces.iter().any(|piece| belongs(piece, figure)))?;
    let boxes = frame.pieces.iter().filter(|piece| belongs(piece, figure)).filter_map(|piece| match piece {
        // A text reaches from its ascenders to its descenders.
        Piece::Text(text) => Some((text.x, text.y - text.size, text.x + text.width, text.y + text.size / 4)),
        Piece::Shape(area, _) | Piece::Picture(area, ..) => {
            Some((area.x, area.y, area.x + area.width, area.y + area.height))
        }
        Piece::Area(_) | Piece::Outline(_) => None,
    });
    let whole = boxes.reduce(|a, b| (a.0.min(b.0), a.1.min(b.1), a.2.max(b.2), a.3.max(b.3)))?;
    let point = |length: Length| Object::Real(length.in_millipoints() as f32 / 1000.0);
    let (top, bottom) = (frame.height - whole.1, frame.height - whole.3);
    let corners = vec![point(whole.0), point(bottom), point(whole.2), point(top)];
    Some(dictionary([("O", name("Layout")), ("Placement", name("Block")), ("BBox", Object::Array(corners))]))
}

fn belongs(piece: &Piece, figure: ElementId) -> bool {
    match piece {
        Piece::Text(text) => text.element == Some(figure),
        Piece::Shape(_, element) | Piece::Picture(_, _, element) => *element == figure,
        Piece::Area(_) | Piece::Outline(_) => false,
    }
}

/// Writes the numbers that readers show beside sheets (ISO 32000-1, 12.4.2): those printed at the foot, with the
/// number of the letter before them where several are bound; a cover sheet is number nought.
pub(super) fn write_labels(file: &mut Document, pages: &Pages) {
    let mut numbers = Vec::new();
    for (letter, first) in std::iter::once(0).chain(pages.restarts.iter().copied()).enumerate() {
        let mut label = dictionary([("S", name("D"))]);
        if !pages.restarts.is_empty() {
            let number = if pages.cover { letter } else { letter + 1 };
            label.set("P", text_string(&format!("{number}-")));
        }
        numbers.push(Object::Integer(first as i64));
        numbers.push(Object::Dictionary(label));
    }
    let labels = dictionary([("Nums", Object::Array(numbers))]);
    file.catalog_mut().expect("a file has a catalog").set("PageLabels", labels);
}

/// Writes the outline: the headings, nested by their level. Nothing where there are none.
pub(super) fn write_outline(file: &mut Document, pages: &Pages, sheets: &[ObjectId]) {
    if pages.bookmarks.is_empty() {
        return;
    }
    let root = file.new_object_id();
    let ids: Vec<ObjectId> = pages.bookmarks.iter().map(|_| file.new_object_id()).collect();
    // The parent of each heading: the last one before it of a higher rank.
    let parents: Vec<Option<usize>> = (0..ids.len())
        .map(|at| (0..at).rev().find(|above| pages.bookmarks[*above].level < pages.bookmarks[at].level))
        .collect();
    let children = |parent: Option<usize>| -> Vec<usize> {
        (0..ids.len()).filter(|at| parents[*at] == parent).collect()
    };
    let link = |entry: &mut Dictionary, children: &[usize], count: i64| {
        if let (Some(first), Some(last)) = (children.first(), children.last()) {
            entry.set("First", Object::Reference(ids[*first]));
            entry.set("Last", Object::Reference(ids[*last]));
            entry.set("Count", count);
        }
    };
    for (at, bookmark) in pages.bookmarks.iter().enumerate() {
        let frame = &pages.frames[bookmark.frame];
        let height = frame.height - bookmark.y;
        let top = Object::Real(height.in_millipoints() as f32 / 1000.0);
        let place =
            vec![Object::Reference(sheets[bookmark.frame]), name("XYZ"), Object::Null, top, Object::Null];
        let parent = parents[at].map_or(root, |parent| ids[parent]);
        let mut entry = dictionary([
            ("Title", text_string(&bookmark.words)),
            ("Parent", Object::Reference(parent)),
            ("Dest", Object::Array(place)),
        ]);
        let siblings = children(parents[at]);
        let place = siblings.iter().position(|sibling| *sibling == at).unwrap_or(0);
        if place > 0 {
            entry.set("Prev", Object::Reference(ids[siblings[place - 1]]));
        }
        if let Some(next) = siblings.get(place + 1) {
            entry.set("Next", Object::Reference(ids[*next]));
        }
        let inner = children(Some(at));
        link(&mut entry, &inner, inner.len() as i64);
        file.objects.insert(ids[at], Object::Dictionary(entry));
    }
    let mut entry = dictionary([("Type", name("Outlines"))]);
    link(&mut entry, &children(None), ids.len() as i64);
    file.objects.insert(root, Object::Dictionary(entry));
    let catalog = file.catalog_mut().expect("a file has a catalog");
    catalog.set("Outlines", Object::Reference(root));
    catalog.set("PageMode", name("UseOutlines"));
}
