//! What lies beside a packet and how it is called: its name, its seal slip, the packet that it replaces.
//!
//! Comes in: the packet's folder, checked, and what was asked for. Goes out: whether what lies beside belongs to it.
//! Nothing beside a packet is believed: a slip is drawn again from the packet and compared, byte by byte.

use super::read;
use crate::assemble;
use crate::packet::bag::{self, Checked};
use crate::packet::{Asked, Replaced, is_packet_name, slip};
use std::path::Path;

/// How a packet's folder is called, and how the packet calls itself in what is sealed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Naming {
    /// The folder bears the packet's own name.
    Own(String),
    /// The folder has a name that no packet has, such as that of a copy.
    Copy(String),
    /// The folder bears the name of another packet.
    Another(String),
    /// What is sealed names no packet, or not the one that was asked for.
    Unnamed,
}

impl Naming {
    pub(super) fn of(folder: &Path, seal: &Checked, asked: Option<&Asked>) -> Naming {
        let fits = |name: &&String| asked.map_or(is_packet_name(name), |asked| asked.may_be_called(name));
        let Some(own) = seal.name.as_ref().filter(fits).cloned() else { return Naming::Unnamed };
        let name = name_of(folder);
        match name == own {
            true => Naming::Own(own),
            false if is_packet_name(&name) && !name.eq_ignore_ascii_case(&own) => Naming::Another(own),
            false => Naming::Copy(own),
        }
    }

    /// Returns the packet's own name.
    pub fn own(&self) -> Option<&str> {
        match self {
            Naming::Own(own) | Naming::Copy(own) | Naming::Another(own) => Some(own),
            Naming::Unnamed => None,
        }
    }

    /// Says whether nobody could take the packet for another.
    pub fn is_right(&self) -> bool {
        matches!(self, Naming::Own(_) | Naming::Copy(_))
    }
}

/// What the seal slip beside a packet is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Slip {
    /// None lies there.
    Missing,
    /// It is the packet's, to the byte.
    Agrees,
    /// It names this packet's digest in its properties, and another program drew it: its page is for people to compare.
    NotCompared,
    /// It names another digest, or none.
    Names(Option<String>),
    /// It names this packet's digest in its properties, and is not the page that the same program draws.
    Altered,
    /// It is this packet's and bears another name, which is given.
    Misnamed(String),
    /// In its place lies what is no plain file, such as a link.
    NoFile,
    /// It, or the packet's digest, cannot be read.
    NotRead,
}

impl Slip {
    /// Says whether nothing speaks against the packet.
    pub fn is_right(&self) -> bool {
        matches!(self, Slip::Missing | Slip::Agrees | Slip::NotCompared)
    }
}

/// Says what the seal slip beside a packet is, if there is one: under the packet's own name, and under its folder's.
pub(super) fn slip(folder: &Path, naming: &Naming, seal: &Checked, asked: Option<&Asked>) -> Slip {
    let mut names = vec![slip::file_name(&name_of(folder))];
    names.extend(naming.own().map(slip::file_name));
    names.dedup();
    let of = |name: &String| one(folder, name, naming, seal, asked);
    let slips: Vec<Slip> = names.iter().map(of).collect();
    let wrong = slips.iter().find(|slip| !slip.is_right());
    wrong.or(slips.iter().find(|slip| **slip != Slip::Missing)).cloned().unwrap_or(Slip::Missing)
}

fn one(folder: &Path, name: &str, naming: &Naming, seal: &Checked, asked: Option<&Asked>) -> Slip {
    let place = folder.with_file_name(name);
    let Ok(about) = place.symlink_metadata() else { return Slip::Missing };
    if !about.is_file() {
        return Slip::NoFile;
    }
    if about.len() > slip::MOST_BYTES {
        return Slip::Names(None);
    }
    let Ok(bytes) = read(&place, slip::MOST_BYTES) else { return Slip::NotRead };
    if seal.unread(bag::TAG_MANIFEST).is_some() {
        return Slip::NotRead;
    }
    let Some(digest) = seal.digest.as_deref() else { return Slip::Names(slip::digest_in(&bytes)) };
    let drawn = naming.own().zip(asked).and_then(|(own, asked)| assemble::slip(own, asked, digest).ok());
    let right = drawn.as_ref().map(|(own, _)| own);
    match (drawn.as_ref().is_some_and(|(_, drawn)| *drawn == bytes), slip::digest_in(&bytes)) {
        (true, _) if right.is_some_and(|right| right == name) => Slip::Agrees,
        (true, _) => Slip::Misnamed(name.to_string()),
        (false, named) if named.as_deref() != Some(digest) => Slip::Names(named),
        // Another program may set the same words in another way. That it is a page at all can be said.
        (false, _) if asked.is_some_and(|asked| !asked.is_ours()) && slip::is_page(&bytes) => match right {
            Some(right) if right == name => Slip::NotCompared,
            _ => Slip::Misnamed(name.to_string()),
        },
        (false, _) => Slip::Altered,
    }
}

/// The packet that a correction replaces.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chain {
    /// Its name.
    pub packet: String,
    /// Whether it lies beside.
    pub found: Predecessor,
}

/// Whether the packet that a correction replaces lies beside it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Predecessor {
    /// It does not.
    Elsewhere,
    /// It does, and is the one named.
    Same,
    /// Something of its name does, and is not the one named: its tag manifest has another digest, or none.
    Another,
}

impl Chain {
    pub(super) fn of(folder: &Path, replaced: &Replaced) -> Chain {
        let packet = replaced.packet.clone();
        if !is_packet_name(&packet) {
            return Chain { packet, found: Predecessor::Another };
        }
        let place = folder.with_file_name(&packet);
        let found = match place.symlink_metadata() {
            Err(_) => Predecessor::Elsewhere,
            Ok(about)
                if about.is_dir() && bag::digest(&place).is_ok_and(|digest| digest == replaced.digest) =>
            {
                Predecessor::Same
            }
            Ok(_) => Predecessor::Another,
        };
        Chain { packet, found }
    }
}

/// Returns the name of a packet's folder.
pub(super) fn name_of(folder: &Path) -> String {
    folder.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}
