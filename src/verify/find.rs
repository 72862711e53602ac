//! Finds sealed packets.
//!
//! Comes in: a folder. Goes out: the packets below it at any depth, in the order of their paths, and the drafts, which
//! are not sealed. Packets are not entered and links are not followed.

use crate::packet::{bag, write};
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
}

/// Says whether a folder is a sealed packet, or was one: it has a part of the seal, or a packet's request and is no draft.
pub fn is_sealed(folder: &Path) -> bool {
    let has = |name: &str| folder.join(name).symlink_metadata().is_ok();
    let seal = ["manifest-sha256.txt", "manifest-sha512.txt", bag::TAG_MANIFEST, "tagmanifest-sha512.txt"];
    has(bag::DECLARATION_FILE)
        || seal.into_iter().any(has)
        || has("data/request.json") && !has(write::DRAFT_MARK)
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
            if depth < MOST_DEPTH && !hidden && entry.file_type().map_err(fail)?.is_dir() {
                open.push((entry.path(), depth + 1));
            }
        }
    }
    found.packets.sort();
    found.drafts.sort();
    Ok(found)
}
