//! Which packets of the cases lie in a folder, and by which digest each is sealed.
//!
//! Comes in: a folder of packets. Goes out: what the request in each of them says, and the digest of its seal. Judges
//! no seal; `verify` does.

use super::row::{Lying, Row};
use crate::assemble::REQUEST;
use crate::case::TaxYear;
use crate::folder::{self, cases::Unreadable};
use crate::packet::bag;
use serde_json::Value as Json;
use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// The packets of a folder, by reference without regard to case.
#[derive(Default)]
pub struct Packets {
    by_reference: HashMap<String, Vec<Found>>,
    /// The packets that could not be read.
    pub unreadable: Vec<PathBuf>,
}

/// A packet before it is set beside its case.
struct Found {
    packet: Lying,
    case_fingerprint: String,
}

/// Finds the packets below a folder at any depth. Links are not followed.
pub fn below(folder: &Path) -> Result<Packets, Unreadable> {
    let mut packets = Packets::default();
    walk(folder, &mut packets)?;
    packets.unreadable.sort();
    for found in packets.by_reference.values_mut() {
        // A correction, `HH-1-2025-r2`, comes after what it replaces, and `-r10` after `-r9`.
        found.sort_by_key(|one| (one.packet.year, one.packet.name.len(), one.packet.name.clone()));
    }
    Ok(packets)
}

impl Packets {
    /// Sets the packets beside the case of a row, the latest year last and within it the last correction.
    pub fn beside(&self, row: &mut Row) {
        let Some(reference) = &row.reference else { return };
        let found = self.by_reference.get(&reference.to_lowercase()).into_iter().flatten();
        let current =
            |one: &Found| Lying { current: one.case_fingerprint == row.fingerprint, ..one.packet.clone() };
        row.packets = found.map(current).collect();
    }
}

fn walk(folder: &Path, packets: &mut Packets) -> Result<(), Unreadable> {
    let fail = |error| Unreadable { folder: folder.to_path_buf(), error };
    for entry in std::fs::read_dir(folder).map_err(fail)? {
        let entry = entry.map_err(fail)?;
        if !entry.file_type().map_err(fail)?.is_dir() {
            continue;
        }
        let path = entry.path();
        if !path.join("bagit.txt").exists() && !path.join(REQUEST).exists() {
            walk(&path, packets)?;
            continue;
        }
        match read(&path) {
            Some((reference, found)) => {
                packets.by_reference.entry(reference.to_lowercase()).or_default().push(found)
            }
            None => packets.unreadable.push(path),
        }
    }
    Ok(())
}

fn read(packet: &Path) -> Option<(String, Found)> {
    let request: Json = serde_json::from_slice(&folder::read(&packet.join(REQUEST)).ok()?).ok()?;
    let reference = request["reference"].as_str()?.to_string();
    let draft = request["draft"].as_bool()?;
    let packet = Lying {
        name: packet.file_name()?.to_string_lossy().into_owned(),
        year: TaxYear(i16::try_from(request["year"].as_i64()?).ok()?),
        draft,
        digest: if draft { None } else { Some(bag::digest(packet).ok()?) },
        current: false,
    };
    Some((reference, Found { packet, case_fingerprint: request["case_fingerprint"].as_str()?.to_string() }))
}
