//! The folder of packets: which packet of a client and a year stands there, whether it is up to date, and what may come
//! beside it.
//!
//! Comes in: the folder, what a packet is wanted for, and what it would be made from. Goes out: what stands in its
//! place, its name, what a correction replaces, and a lost seal slip drawn again. A packet that stands is read and never
//! changed.

mod changes;
mod correction;
mod lost_slip;

pub use changes::Change;
pub use correction::{Correction, NoCorrection};
pub use lost_slip::Again;

use crate::assemble::{self, Also, Material};
use crate::case::TaxYear;
use crate::folder;
use crate::name::{Edition, FileName, Reference};
use crate::packet::write::DRAFT_MARK;
use jiff::civil::Date;
use serde_json::Value;
use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// A folder of packets.
pub struct Shelf {
    folder: PathBuf,
    /// The names there when it was looked at, by what a file system without capitals would make of them.
    names: HashMap<String, String>,
}

/// What a packet is wanted for.
#[derive(Clone, Copy)]
pub struct Wish<'a> {
    /// The client.
    pub reference: &'a Reference,
    /// The tax year.
    pub year: TaxYear,
    /// A draft, which the next draft replaces.
    pub draft: bool,
    /// A draft is made anew even where it is up to date.
    pub again: bool,
    /// The date that was asked for; none where the papers may bear any.
    pub dated: Option<Date>,
    /// The forms of letters and worksheet besides PDF.
    pub also: &'a [Also],
    /// The packet that this one replaces.
    pub correction: Option<Correction<'a>>,
}

/// What stands in a packet's place.
#[derive(Debug, PartialEq)]
pub enum Standing {
    /// Nothing, or what may be replaced.
    Free,
    /// A packet of this name, made from the same.
    UpToDate(String),
    /// A packet of this name, made from something else.
    Changed(String, Vec<Change>),
}

impl Shelf {
    /// Looks at a folder, which need not be there yet.
    pub fn at(folder: &Path) -> Shelf {
        let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
        let names = entries.map(|entry| entry.file_name().to_string_lossy().into_owned());
        let names = names.map(|name| (name.to_lowercase(), name)).collect();
        Shelf { folder: folder.to_path_buf(), names }
    }

    /// Returns where a packet of a name stands, or would.
    pub fn place(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }

    /// Returns the name that stood there and differs from a packet's only in capitals; many computers and shared drives
    /// would take the two for one.
    pub fn differs_in_capitals(&self, name: &FileName) -> Option<&str> {
        let other = self.names.get(&name.to_lowercase())?;
        Some(other.as_str()).filter(|other| *other != name.as_str())
    }

    /// Says what stands in the place of a packet that is wanted; `from` is what it would be made from.
    pub fn standing(&self, wish: Wish<'_>, from: &Material<'_>) -> Standing {
        let Some(name) = self.newest(wish) else { return Standing::Free };
        let draft = wish.draft && self.place(&name).join(DRAFT_MARK).is_file();
        let Some(stored) = self.request(&name) else {
            let unknown = vec![Change::RequestUnreadable];
            return if draft { Standing::Free } else { Standing::Changed(name, unknown) };
        };
        let changes = changes::since(&stored, wish, from.case_bytes, assemble::given(from));
        if let Some(correction) = wish.correction {
            // A correction that was made already for the same reason, by a run that was stopped.
            let same = correction.made(&stored) && changes.is_empty();
            return if same { Standing::UpToDate(name) } else { Standing::Free };
        }
        match changes.is_empty() {
            true if draft && wish.again => Standing::Free,
            true => Standing::UpToDate(name),
            false if draft => Standing::Free,
            false => Standing::Changed(name, changes),
        }
    }

    /// Returns the name of a packet that is to be made: the reference and the year; a correction counts on from the
    /// packet it replaces.
    pub fn next_name(&self, wish: Wish<'_>) -> FileName {
        let named = |edition| wish.reference.packet(wish.year, edition);
        match (wish.draft, wish.correction) {
            (true, _) => named(Edition::Draft),
            (false, None) => named(Edition::First),
            (false, Some(_)) => {
                let taken = (2..).find(|n| !self.stands(&named(Edition::Correction(*n))));
                named(Edition::Correction(taken.unwrap_or(usize::MAX)))
            }
        }
    }

    /// Returns the name of the newest packet that stands for a client and a year.
    fn newest(&self, wish: Wish<'_>) -> Option<String> {
        let named = |edition| wish.reference.packet(wish.year, edition).to_string();
        if wish.draft {
            return Some(named(Edition::Draft)).filter(|name| self.stands(name));
        }
        let corrections = (2..).map(|n| named(Edition::Correction(n))).take_while(|name| self.stands(name));
        let last = corrections.last();
        last.or_else(|| Some(named(Edition::First)).filter(|name| self.stands(name)))
    }

    fn stands(&self, name: &str) -> bool {
        self.place(name).symlink_metadata().is_ok()
    }

    /// Returns what a packet was asked for, where it can be read.
    fn request(&self, name: &str) -> Option<Value> {
        serde_json::from_slice(&folder::read(&self.place(name).join(assemble::REQUEST)).ok()?).ok()
    }
}

/// Returns a text on one line.
fn on_one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<&str>>().join(" ")
}
