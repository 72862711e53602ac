//! Pages as placed pieces: text, rules and bands, each with its place on the sheet and in the structure.
//!
//! Comes from the layout, goes to `pdf` and, as text, to tests. A piece lies where it lies: nothing here moves.
//! Places are measured from the upper left corner of the sheet. Knows nothing of how anything came to stand
//! where it does.

use super::PageFault;
use super::font::Face;
use super::units::Length;
use crate::picture::Picture;
use std::fmt::Write;

/// Laid-out pages of one or more documents.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pages {
    /// Title, for the file's properties.
    pub title: String,
    /// Language tag.
    pub language: String,
    /// What the file is about, for its properties.
    pub subject: String,
    /// Who made it, for the file's properties.
    pub author: String,
    /// The sheets, in order.
    pub frames: Vec<Frame>,
    /// The structure, parents before their children, siblings in reading order. The first is the root.
    pub elements: Vec<Element>,
    /// The headings, for the outline.
    pub bookmarks: Vec<Bookmark>,
    /// The first sheet of each document after the first, where numbers begin anew.
    pub restarts: Vec<usize>,
    /// The first document is a cover sheet, so the one after it counts as the first.
    pub cover: bool,
    /// What is not right but does not keep the pages from being used.
    pub remarks: Vec<PageFault>,
}

/// One sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Frame {
    /// Its width.
    pub width: Length,
    /// Its height.
    pub height: Length,
    /// What stands on it, in reading order.
    pub pieces: Vec<Piece>,
}

/// Something placed.
#[derive(Clone, Debug, PartialEq)]
pub enum Piece {
    /// Words.
    Text(Text),
    /// A filled rectangle: a rule, or a band behind words.
    Area(Area),
    /// The outline of a rectangle.
    Outline(Area),
    /// A filled rectangle that is part of a drawing.
    Shape(Area, ElementId),
    /// A picture, stretched over a rectangle.
    Picture(Area, Picture, ElementId),
}

/// Words of one face on one line.
#[derive(Clone, Debug, PartialEq)]
pub struct Text {
    /// Left end.
    pub x: Length,
    /// Baseline.
    pub y: Length,
    /// How far the words reach.
    pub width: Length,
    /// Their face.
    pub face: Face,
    /// Their size.
    pub size: Length,
    /// The words.
    pub text: String,
    /// A word ends here, so that whoever reads on to the next line must read a space. Not drawn.
    pub ends_word: bool,
    /// The element they belong to; none for what stands on every page.
    pub element: Option<ElementId>,
}

/// A rectangle.
#[derive(Clone, Debug, PartialEq)]
pub struct Area {
    /// Left edge.
    pub x: Length,
    /// Upper edge.
    pub y: Length,
    /// Width.
    pub width: Length,
    /// Height.
    pub height: Length,
    /// How it is inked.
    pub ink: Ink,
}

/// Black, or gray: as a rule, as a band, and dark or light in drawings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// Black.
    Black,
    /// The gray of light rules.
    Rule,
    /// The gray behind words.
    Band,
    /// The dark gray of drawings.
    Dark,
    /// The light gray of drawings.
    Light,
}

/// Names an element of [`Pages::elements`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ElementId(pub u32);

/// A part of the structure that readers of the file can follow.
#[derive(Clone, Debug, PartialEq)]
pub struct Element {
    /// What it is.
    pub kind: Kind,
    /// What it is part of; none for the root.
    pub parent: Option<ElementId>,
}

/// What an element is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The whole.
    Document,
    /// One of several documents in a file, and its language where that is not the file's.
    Part(Option<String>),
    /// A section, such as a panel of key facts.
    Section,
    /// A heading, level 1 to 3.
    Heading(u8),
    /// A paragraph.
    Paragraph,
    /// A list, numbered or not.
    List(bool),
    /// An item of a list.
    Item,
    /// The number or mark of an item.
    Label,
    /// What an item says.
    ItemBody,
    /// A table, with its summary.
    Table(String),
    /// A drawing, with what it shows in words.
    Figure(String),
    /// A row of a table.
    Row,
    /// A cell that heads its column.
    ColumnHead,
    /// A cell that heads the rows below it, over so many columns.
    RowHead(u16),
    /// A cell, over so many columns.
    Cell(u16),
}

/// A place the outline leads to.
#[derive(Clone, Debug, PartialEq)]
pub struct Bookmark {
    /// Depth, 1 to 3.
    pub level: u8,
    /// The words.
    pub words: String,
    /// Which sheet, counted from nought.
    pub frame: usize,
    /// How far down.
    pub y: Length,
}

impl Pages {
    /// Binds pages of several documents into one file. Each keeps its own page numbers; title and properties
    /// are the first one's unless given.
    pub fn bind(parts: Vec<Pages>, title: &str) -> Pages {
        let mut whole = Pages { title: title.to_owned(), ..Pages::default() };
        whole.elements.push(Element { kind: Kind::Document, parent: None });
        for part in parts {
            if !whole.frames.is_empty() {
                whole.restarts.push(whole.frames.len());
            }
            whole.restarts.extend(part.restarts.iter().map(|start| whole.frames.len() + start));
            if whole.frames.is_empty() {
                (whole.subject, whole.author) = (part.subject, part.author);
                whole.language.clone_from(&part.language);
            }
            let language = Some(part.language).filter(|language| *language != whole.language);
            let (elements, frames) = (whole.elements.len() as u32, whole.frames.len());
            let moved = |id: ElementId| ElementId(id.0 + elements);
            whole.elements.extend(part.elements.into_iter().map(|element| match element.parent {
                None => Element { kind: Kind::Part(language.clone()), parent: Some(ElementId(0)) },
                Some(parent) => Element { parent: Some(moved(parent)), ..element },
            }));
            whole.frames.extend(part.frames.into_iter().map(|mut frame| {
                for piece in &mut frame.pieces {
                    match piece {
                        Piece::Text(text) => text.element = text.element.map(moved),
                        Piece::Shape(_, element) | Piece::Picture(_, _, element) => {
                            *element = moved(*element)
                        }
                        Piece::Area(_) | Piece::Outline(_) => {}
                    }
                }
                frame
            }));
            whole.bookmarks.extend(part.bookmarks.into_iter().map(|mut bookmark| {
                bookmark.frame += frames;
                bookmark
            }));
            whole.remarks.extend(part.remarks);
        }
        whole
    }

    /// Prints every piece with its place, one a line: what most tests of the layout read.
    pub fn to_text(&self) -> String {
        let mut out = String::new();
        for (number, frame) in self.frames.iter().enumerate() {
            let _ = writeln!(out, "page {} ({} x {})", number + 1, frame.width, frame.height);
            for piece in &frame.pieces {
                let _ = match piece {
                    Piece::Text(Text { x, y, face, size, text, .. }) => {
                        writeln!(out, "{x:>8} {y:>8}  {face:?} {size}  {text}")
                    }
                    Piece::Area(Area { x, y, width, height, ink }) => {
                        writeln!(out, "{x:>8} {y:>8}  {ink:?} {width} x {height}")
                    }
                    Piece::Outline(Area { x, y, width, height, ink }) => {
                        writeln!(out, "{x:>8} {y:>8}  {ink:?} outline {width} x {height}")
                    }
                    Piece::Shape(Area { x, y, width, height, ink }, _) => {
                        writeln!(out, "{x:>8} {y:>8}  {ink:?} drawn {width} x {height}")
                    }
                    Piece::Picture(Area { x, y, width, height, .. }, picture, _) => {
                        writeln!(out, "{x:>8} {y:>8}  {picture:?} at {width} x {height}")
                    }
                };
            }
        }
        out
    }

    /// Returns the words in reading order, without what stands on every page: one string a sheet.
    pub fn words(&self) -> Vec<String> {
        let text = |frame: &Frame| {
            let mut words = String::new();
            let mut last: Option<&Text> = None;
            for piece in &frame.pieces {
                let Piece::Text(text) = piece else { continue };
                if text.element.is_none() {
                    continue;
                }
                if last.is_some_and(|last| last.ends_word || last.element != text.element) {
                    words.push(' ');
                }
                words.push_str(&text.text);
                last = Some(text);
            }
            words
        };
        self.frames.iter().map(text).collect()
    }
}
