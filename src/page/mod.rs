//! Lays documents out on pages and writes them as PDF.
//!
//! Comes in: a [`Document`]. Goes out: [`Pages`] of placed pieces, and from them the bytes of a file. Knows
//! lengths and type; has no word of tax. Only `pdf` knows the file format.
//!
//! The way: words into measured atoms (`measure`), atoms into lines (`breaks`), blocks into strips (`paragraph`,
//! `table`, `chart`, `envelope`), strips onto pages (`flow`), what stands on every page (`furniture`), pages as placed
//! pieces (`frame`), pieces into a file (`pdf`). The same document always gives the same pages and the same
//! bytes.

mod breaks;
mod chart;
mod content;
mod envelope;
mod flow;
mod font;
mod frame;
mod furniture;
mod look;
mod measure;
mod object;
mod paragraph;
mod pdf;
mod properties;
mod save;
mod structure;
mod table;
#[cfg(test)]
mod tests;
mod units;

pub use font::Face;
pub use frame::{Area, Bookmark, Element, ElementId, Frame, Ink, Kind, Pages, Piece, Text};
pub use pdf::to_pdf;
pub use properties::Stamp;
pub use units::Length;

use crate::document::{Document, Setting};
use flow::{Region, fill};
use furniture::Fittings;
use look::{Look, SHEET_HEIGHT, SHEET_WIDTH};
use paragraph::{Measure, Setter};
use std::fmt;

/// Lays a document out on pages.
///
/// # Errors
/// Everything that would make a page wrong: a character the type lacks, an address that would not show through
/// its window. What is only worth knowing stands in [`Pages::remarks`].
pub fn lay_out(document: &Document) -> Result<Pages, Vec<PageFault>> {
    let look = Look::of(document.setting);
    let fittings = Fittings::new(&document.furniture, document.setting);
    let mut setter = Setter::new(look);
    let mut remarks = Vec::new();

    let later = fittings.region(&mut setter.faults);
    fittings.check_mark(&mut setter.faults);
    let at = Measure {
        left: look.side,
        width: look.width(),
        body: look.body,
        parent: ElementId(0),
        in_panel: false,
    };
    let (opening, first) = match document.setting {
        Setting::Worksheet => {
            setter.blocks(&document.blocks, at);
            (Vec::new(), later)
        }
        Setting::Letter => {
            let (opening, rest) = envelope::open(&document.blocks, &mut setter, &mut remarks);
            rest.into_iter().for_each(|block| setter.blocks(std::slice::from_ref(block), at));
            (opening.pieces, Region { top: opening.text_top.unwrap_or(later.top), ..later })
        }
    };
    if !setter.faults.is_empty() {
        return Err(setter.faults);
    }

    let filled = fill(setter.strips, first, later, look.last_page);
    let count = filled.pages.len();
    let mut frames = Vec::with_capacity(count);
    for (at, pieces) in filled.pages.into_iter().enumerate() {
        let mut all = Vec::with_capacity(pieces.len() + 8);
        fittings.draw(at + 1, count, &mut all);
        if at == 0 {
            all.extend(opening.iter().cloned());
        }
        all.extend(pieces);
        frames.push(Frame { width: SHEET_WIDTH, height: SHEET_HEIGHT, pieces: all });
    }
    Ok(Pages {
        title: document.title.clone(),
        language: document.language.clone(),
        subject: document.subject.clone(),
        author: document.author.clone(),
        frames,
        elements: setter.elements,
        bookmarks: filled.bookmarks,
        restarts: Vec::new(),
        cover: false,
        remarks,
    })
}

/// Says whether every face of the typeface has a shape for a character.
pub fn prints(character: char) -> bool {
    let faces = [(false, false), (true, false), (false, true), (true, true)];
    faces.iter().all(|(strong, emphasis)| {
        font::glyph(Face::of(*strong, *emphasis), character).is_some_and(|glyph| glyph.id != 0)
    })
}

/// What is wrong with a document as pages.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PageFault {
    /// Occurs if a text holds a character for which the typeface has no shape.
    MissingCharacter {
        /// The character.
        character: char,
        /// The words around it.
        around: String,
    },
    /// Occurs if an address has more lines than a window shows. Up to five lines it is a remark: a larger
    /// window may still show them.
    AddressTooLong {
        /// How many lines it has.
        lines: usize,
        /// Its first line.
        first: String,
    },
    /// Occurs if a line of an address is wider than a window shows.
    AddressTooWide {
        /// The line.
        line: String,
    },
    /// Occurs if a letter has two addresses.
    SecondAddress {
        /// The first line of the second.
        line: String,
    },
    /// Occurs if a sender reaches down into the area that shows through the window.
    SenderTooTall {
        /// How many lines it has.
        lines: usize,
    },
    /// Occurs if sender and dates leave no room on the sheet.
    HeadTooTall,
}

impl PageFault {
    /// Says what to do about it.
    pub fn help(&self) -> &'static str {
        match self {
            PageFault::MissingCharacter { .. } => {
                "write it with letters, figures and signs of the Latin alphabet"
            }
            PageFault::AddressTooLong { .. } => {
                "join both names on one line or put the unit on the street line; four lines surely show"
            }
            PageFault::AddressTooWide { .. } => "shorten the line, or divide it where lines are to spare",
            PageFault::SecondAddress { .. } => "leave one address in the letter",
            PageFault::SenderTooTall { .. } => {
                "shorten the name or the address; six lines of usual length fit"
            }
            PageFault::HeadTooTall => "leave out lines above the salutation",
        }
    }
}

/// Says what is wrong, in one sentence without its full stop.
impl fmt::Display for PageFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PageFault::MissingCharacter { character, around } => {
                let code = u32::from(*character);
                if character.is_control() || character.is_whitespace() {
                    write!(f, "a control character (U+{code:04X}) cannot be printed, near \"{around}\"")
                } else {
                    write!(f, "the typeface has no \"{character}\" (U+{code:04X}), in \"{around}\"")
                }
            }
            PageFault::AddressTooLong { lines, first } => {
                write!(f, "the address of \"{first}\" has {lines} lines; the window surely shows four")
            }
            PageFault::AddressTooWide { line } => {
                write!(f, "the address line \"{line}\" is wider than the window (3.25 in)")
            }
            PageFault::SecondAddress { line } => {
                write!(f, "the letter has a second address, \"{line}\"")
            }
            PageFault::SenderTooTall { lines } => {
                write!(f, "the sender's {lines} lines reach down to where the window is")
            }
            PageFault::HeadTooTall => f.write_str("the lines above the salutation do not fit on the sheet"),
        }
    }
}

impl std::error::Error for PageFault {}
