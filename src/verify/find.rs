//! Finds sealed packets.
//!
//! Comes in: a folder. Goes out: the packets below it at any depth, in the order of their paths, the seal slips, and the
//! drafts, which are not sealed. Packets are not entered and links are not followed; a link in a packet's place counts as
//! that packet, and does not verify.

use crate::assemble;
use crate::packet::{bag, is_packet_name, slip, write};
use std::io;
use std::path::{Path, PathBuf};

/// The most folders inside each other that are looked through.
const MOST_DEPTH: usize = 60;

/// What lies below a folder.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Found {
    /// The packets.
    pub packets: Vec<PathBuf>,
    /// The drafts.
    pub drafts: Vec<PathBuf>,
    /// The seal slips.
    pub slips: Vec<PathBuf>,
}

/// Says whether something lies in a packet's place without being a folder: a link that is called like a sealed packet, or
/// leads to one.
pub fn is_link_for_packet(place: &Path) -> bool {
    let name = place.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    let link = place.symlink_metadata().is_ok_and(|about| about.is_symlink());
    link && (is_packet_name(&name) && !name.ends_with("-draft") || is_sealed(place))
}

/// Says whether a folder is a sealed packet, or was one: it has a part of the seal, or a packet's request and is no draft.
pub fn is_sealed(folder: &Path) -> bool {
    let has = |name: &str| folder.join(name).symlink_metadata().is_ok();
    let seal = ["manifest-sha256.txt", "manifest-sha512.txt", bag::TAG_MANIFEST, "tagmanifest-sha512.txt"];
    has(bag::DECLARATION_FILE)
        || seal.into_iter().any(has)
        || has(assemble::REQUEST) && !has(write::DRAFT_MARK)
}

/// Finds the packets below a folder, which may be one itself.
pub fn below(folder: &Path) -> Result<Found, (PathBuf, io::Error)> {
    let mut found = Found::default();
    let mut open = vec![(folder.to_path_buf(), 0)];
    while let Some((folder, depth)) = open.pop() {
        if is_sealed(&folder) {
            found.packets.push(folder);
            continue;
        }
        if folder.join(write::DRAFT_MARK).symlink_metadata().is_ok() {
            found.drafts.push(folder);
            continue;
        }
        let fail = |error| (folder.clone(), error);
        for entry in std::fs::read_dir(&folder).map_err(fail)? {
            let entry = entry.map_err(fail)?;
            // What is being written, or was left by a run that was killed, begins with a point.
            let hidden = entry.file_name().to_string_lossy().starts_with('.');
            if hidden {
                continue;
            }
            let kind = entry.file_type().map_err(fail)?;
            if kind.is_dir() && depth < MOST_DEPTH {
                open.push((entry.path(), depth + 1));
            } else if is_link_for_packet(&entry.path()) {
                found.packets.push(entry.path());
            } else if entry.file_name().to_str().and_then(slip::packet_of).is_some() {
                found.slips.push(entry.path());
            }
        }
    }
    found.packets.sort();
    found.drafts.sort();
    found.slips.sort();
    Ok(found)
}
