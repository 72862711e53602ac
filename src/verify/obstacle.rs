//! Why something of a packet cannot be read, computed or drawn again, in words for people.

use crate::assemble::NoPacket;
use crate::credit::Fault;
use crate::json;
use crate::name::Unfit;
use crate::packet::NoRequest;
use crate::picture::Unusable;
use std::fmt;

/// Why something of a packet cannot be compared.
#[derive(Clone, Debug, PartialEq)]
pub enum Obstacle {
    /// A file of the payload cannot be used; its path stands first.
    File(String, InFile),
    /// The request says nothing that this program understands.
    Request(NoRequest),
    /// No law lies in the packet.
    NoLaw,
    /// The sealed law cannot be read; the first complaint.
    Law(String),
    /// The sealed case cannot be read as a case; what is wrong with it first.
    Case(Option<String>),
    /// The sealed case cannot be computed under the sealed law.
    Computing(Fault),
    /// The sealed firm file cannot be read.
    Firm,
    /// The sealed logo cannot be used.
    Logo(Unusable),
    /// The sealed letters and layout cannot be used; what is wrong with them first.
    Kit(String),
    /// The sealed layout cannot be used; what is wrong with it first.
    Layout(String),
    /// The packet cannot be called so.
    Name(String, Unfit),
    /// No packet comes of it.
    NoPacket(NoPacket),
    /// The figures could not be computed again, so there is nothing to draw.
    Figures,
    /// Another program made the packet, and its pages cannot be drawn here.
    MadeElsewhere {
        /// Which program made it.
        by: String,
        /// Why they cannot be drawn.
        why: Box<Obstacle>,
    },
    /// Another program made the packet, and this one draws other pages, which says nothing.
    DrawnElsewhere {
        /// Which program made it.
        by: String,
        /// How many pages are the same.
        alike: usize,
        /// How many there are.
        of: usize,
    },
    /// What lies in the packet made the program fail.
    OutOfStep,
}

/// Why a file of a packet cannot be used, in words that follow its path.
#[derive(Clone, Debug, PartialEq)]
pub enum InFile {
    /// It is not there, or no list names it.
    Missing,
    /// The file system refused.
    Unreadable(String),
    /// It is larger than any honest one.
    TooLarge,
    /// It is no text.
    NotText,
    /// It is no JSON that can be used.
    Json(json::Unusable),
}

impl InFile {
    /// Names the file.
    pub(super) fn of(self, path: &str) -> Obstacle {
        Obstacle::File(path.to_string(), self)
    }
}

impl fmt::Display for Obstacle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Obstacle::File(path, why) => write!(f, "{path} {why}"),
            Obstacle::Request(why) => write!(f, "{why}"),
            Obstacle::NoLaw => f.write_str("no law lies in the packet"),
            Obstacle::Law(why) => write!(f, "the sealed law cannot be read: {why}"),
            Obstacle::Case(None) => f.write_str("the sealed case cannot be read as a case"),
            Obstacle::Case(Some(why)) => write!(f, "the sealed case cannot be read as a case: {why}"),
            Obstacle::Computing(fault) => {
                write!(f, "the sealed case cannot be computed under the sealed law: {fault}")
            }
            Obstacle::Firm => f.write_str("the sealed firm file cannot be read"),
            Obstacle::Logo(why) => write!(f, "the sealed logo cannot be used: {why}"),
            Obstacle::Kit(why) => write!(f, "the sealed letters and layout cannot be used: {why}"),
            Obstacle::Layout(why) => write!(f, "the sealed layout cannot be used: {why}"),
            Obstacle::Name(name, why) => write!(f, "the packet cannot be called `{name}`: {why}"),
            Obstacle::NoPacket(why) => write!(f, "{why}"),
            Obstacle::Figures => f.write_str("the figures could not be computed again"),
            Obstacle::MadeElsewhere { by, why } => write!(f, "{by}, and {why}"),
            Obstacle::DrawnElsewhere { by, alike, of } => {
                write!(f, "{by}; this is another program, which draws {alike} of {of} alike")
            }
            Obstacle::OutOfStep => f.write_str("what lies in the packet brought the program out of step"),
        }
    }
}

impl fmt::Display for InFile {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            InFile::Missing => f.write_str("is missing, or not listed"),
            InFile::Unreadable(why) => write!(f, "cannot be read: {why}"),
            InFile::TooLarge => f.write_str("is larger than any honest one"),
            InFile::NotText => f.write_str("is no UTF-8 text"),
            InFile::Json(why) => write!(f, "{why}"),
        }
    }
}

impl std::error::Error for Obstacle {}
impl std::error::Error for InFile {}
