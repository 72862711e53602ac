//! The seal: a packet as a BagIt bag (RFC 8493, version 1.0), with SHA-256 and SHA-512.
//!
//! Comes in: the files of a packet; or a folder that claims to be a bag. Goes out: the tag files that seal the packet;
//! or everything in which the folder differs from what was sealed. Knows nothing of what the files mean.
//!
//! A bag shows whether its files are as they were sealed. It does not show who sealed them: whoever can rewrite all of
//! it can seal it anew. Therefore the digest of the tag manifest ([`digest`]) is kept in another place as well.

mod check;

pub use check::{Checked, Content, Damage, check};

use super::Packet;
use crate::name::unfit_path;
use crate::wording::{count, counted};
use sha2::{Digest, Sha256, Sha512};
use std::collections::BTreeMap;
use std::fmt::Write;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use unicode_normalization::UnicodeNormalization;

/// The file that makes a folder a bag.
pub const DECLARATION_FILE: &str = "bagit.txt";
/// What it holds (RFC 8493, section 2.1.1).
pub const DECLARATION: &str = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";
/// The file that describes a bag.
pub const INFO_FILE: &str = "bag-info.txt";
/// The tag manifest whose digest stands for the whole packet.
pub const TAG_MANIFEST: &str = "tagmanifest-sha256.txt";
/// The folder of the payload, as paths begin with it.
const PAYLOAD: &str = "data/";

/// The element of the description that holds the packet's name.
pub const IDENTIFIER: &str = "External-Identifier";

// What a packet holds at most. No packet is sealed that has more, so none with more need be read.

/// The most files of a packet: the papers and answers of the largest case, letters, law and layouts.
pub const MOST_FILES: usize = 5_000;
/// The most folders inside each other.
pub const MOST_DEPTH: usize = 40;
/// The most bytes of a path in a packet.
pub const MOST_PATH: usize = 1_000;
/// The most bytes of the payload: 100 megabytes of papers, and as much again for what the program writes.
pub const MOST_BYTES: u64 = 200_000_000;
/// The most bytes of a file of the seal. The lists of the most files with usual names have some 1.5 megabytes.
pub const MOST_TAG: u64 = 4_000_000;

/// How many files the seal itself has.
const SEAL_FILES: usize = 6;

/// An algorithm of the manifests. RFC 8493 (section 2.4) asks for these two and leaves MD5 and SHA-1 to old bags.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Algorithm {
    Sha256,
    Sha512,
}

impl Algorithm {
    const ALL: [Algorithm; 2] = [Algorithm::Sha256, Algorithm::Sha512];

    fn word(self) -> &'static str {
        match self {
            Algorithm::Sha256 => "sha256",
            Algorithm::Sha512 => "sha512",
        }
    }

    /// How many hexadecimal digits its digests have.
    fn digits(self) -> usize {
        match self {
            Algorithm::Sha256 => 64,
            Algorithm::Sha512 => 128,
        }
    }

    fn manifest(self) -> String {
        format!("manifest-{}.txt", self.word())
    }

    fn tag_manifest(self) -> String {
        format!("tagmanifest-{}.txt", self.word())
    }
}

/// The digests of one file.
#[derive(Clone, Copy, PartialEq, Eq)]
struct Digests {
    sha256: [u8; 32],
    sha512: [u8; 64],
}

impl Digests {
    fn of(self, algorithm: Algorithm) -> String {
        match algorithm {
            Algorithm::Sha256 => hex(&self.sha256),
            Algorithm::Sha512 => hex(&self.sha512),
        }
    }
}

/// What `bag-info.txt` says: elements of the standard's reserved set (RFC 8493, section 2.2.2), in order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Info(pub Vec<(&'static str, String)>);

impl Info {
    /// Writes the description of a bag whose payload has some bytes in some files.
    pub fn describe(&self, bytes: u64, files: usize) -> String {
        let mut description = String::new();
        for (label, value) in &self.0 {
            description.push_str(&element(label, value));
        }
        description.push_str(&element("Payload-Oxum", &format!("{bytes}.{files}")));
        description
    }
}

/// Seals a packet: adds the declaration, the description, and the manifests. Returns the digest of the tag manifest.
///
/// `known` are SHA-256 digests of files that have been worked out already, by their path, in hexadecimal digits.
/// Fails, with a sentence for people, when the files could not all stand in one folder under their names.
pub fn seal(
    packet: &mut Packet,
    info: &Info,
    known: &BTreeMap<String, String>,
) -> Result<String, Unnameable> {
    nameable(packet.files.iter().map(|(path, _)| path.as_str()))?;
    let payload: Vec<(&str, &[u8])> =
        packet.files.iter().map(|(path, bytes)| (path.as_str(), bytes.as_slice())).collect();
    let (bytes, files) = (payload.iter().map(|(_, bytes)| bytes.len()).sum::<usize>(), payload.len());
    fits(payload.iter().map(|(path, _)| *path), bytes as u64)?;
    let mut tags = manifests(&payload, known, Algorithm::manifest);
    tags.push((INFO_FILE.to_string(), info.describe(bytes as u64, files).into_bytes()));
    tags.push((DECLARATION_FILE.to_string(), DECLARATION.as_bytes().to_vec()));
    tags.sort();
    let of_tags: Vec<(&str, &[u8])> =
        tags.iter().map(|(path, bytes)| (path.as_str(), bytes.as_slice())).collect();
    let tag_manifests = manifests(&of_tags, &BTreeMap::new(), Algorithm::tag_manifest);
    let sealed = tag_manifests.iter().find(|(path, _)| path == TAG_MANIFEST);
    let digest = sealed.map_or_else(String::new, |(_, bytes)| hex(&Sha256::digest(bytes)));
    packet.files.extend(tags);
    packet.files.extend(tag_manifests);
    packet.files.sort();
    Ok(digest)
}

/// Why files cannot stand in a packet, or one not under its name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unnameable {
    /// The path in the packet of the one to blame; empty where it is all of them.
    pub path: String,
    /// The reason, as a sentence for people.
    pub reason: String,
}

/// Makes sure that a packet has no more than may be sealed: files, bytes of all together, bytes of their lists.
pub fn fits<'a>(paths: impl Iterator<Item = &'a str>, bytes: u64) -> Result<(), Unnameable> {
    let too_large = |reason: String| Err(Unnameable { path: String::new(), reason });
    let longest = Algorithm::Sha512;
    let (mut files, mut list) = (SEAL_FILES, 0);
    for path in paths {
        files += 1;
        list += longest.digits() + encode(path).len() + "  \n".len();
    }
    if bytes > MOST_BYTES || files > MOST_FILES {
        return too_large(format!(
            "the packet would have {} of {}; {} of {} are the most",
            counted(files, "file", "files"),
            counted(bytes as usize, "byte", "bytes"),
            count(MOST_FILES),
            counted(MOST_BYTES as usize, "byte", "bytes")
        ));
    }
    if list as u64 > MOST_TAG {
        return too_large(format!(
            "the names of its files are too long together: {} would have more than {}",
            longest.manifest(),
            counted(MOST_TAG as usize, "byte", "bytes")
        ));
    }
    Ok(())
}

/// Makes sure that files can all stand in one folder under their paths.
pub fn nameable<'a>(paths: impl Iterator<Item = &'a str>) -> Result<(), Unnameable> {
    let mut named: BTreeMap<String, &str> = BTreeMap::new();
    let refused = |path: &str, reason: String| Err(Unnameable { path: path.to_string(), reason });
    for path in paths {
        if let Some(why) = unsafe_path(path) {
            return refused(path, format!("a file of the packet cannot be called `{path}`: {why}"));
        }
        if let Some(why) = unfit_path(path) {
            return refused(path, format!("a file of the packet cannot be called `{path}`: {why}"));
        }
        // Some file systems take letters for the same whatever their case.
        if let Some(other) = named.insert(path.to_lowercase(), path) {
            return refused(
                path,
                format!("two files of the packet would have one name, `{other}` and `{path}`"),
            );
        }
    }
    Ok(())
}

/// Returns a path as a bag has it: with its characters composed (NFC), because file systems differ in that.
pub fn composed(path: &str) -> String {
    path.nfc().collect()
}

/// Returns the digest that stands for a whole sealed packet: the SHA-256 of its tag manifest, in hexadecimal digits.
///
/// It is only as good as the folder is: [`check`] says whether the rest agrees with it.
pub fn digest(folder: &Path) -> io::Result<String> {
    let place = folder.join(TAG_MANIFEST);
    let about = place.symlink_metadata()?;
    if !about.is_file() || about.len() > MOST_TAG {
        return Err(io::Error::new(io::ErrorKind::InvalidData, "it is no list of a packet's files"));
    }
    let (digests, _) = digests(&mut File::open(place)?.take(about.len()))?;
    Ok(hex(&digests.sha256))
}

/// Returns a digest in four rows of four groups of four digits, as the seal slip prints it and people compare it.
pub fn groups(digest: &str) -> Vec<Vec<&str>> {
    let part = |at: usize| digest.get(at * 4..at * 4 + 4).unwrap_or("");
    (0..4).map(|row| (0..4).map(|column| part(row * 4 + column)).collect()).collect()
}

/// Writes a manifest for each algorithm over some files, in the order of their paths.
fn manifests(
    files: &[(&str, &[u8])],
    known: &BTreeMap<String, String>,
    name: impl Fn(Algorithm) -> String,
) -> Vec<(String, Vec<u8>)> {
    let mut encoded: Vec<(String, &str, &[u8])> =
        files.iter().map(|(path, bytes)| (encode(path), *path, *bytes)).collect();
    encoded.sort();
    let write = |algorithm: Algorithm| {
        let mut text = String::new();
        for (shown, path, bytes) in &encoded {
            let digest = match algorithm {
                Algorithm::Sha256 => known.get(*path).cloned().unwrap_or_else(|| hex(&Sha256::digest(bytes))),
                Algorithm::Sha512 => hex(&Sha512::digest(bytes)),
            };
            // Two blanks, as the programs that check such lists on every system expect.
            let _ = writeln!(text, "{digest}  {shown}");
        }
        (name(algorithm), text.into_bytes())
    };
    Algorithm::ALL.into_iter().map(write).collect()
}

/// Works out both digests of what a reader holds, in one pass and in little memory, and its length.
fn digests(reader: &mut impl Read) -> io::Result<(Digests, u64)> {
    let (mut sha256, mut sha512, mut length) = (Sha256::new(), Sha512::new(), 0);
    let mut buffer = vec![0; 64 * 1024];
    loop {
        let read = match reader.read(&mut buffer) {
            Ok(0) => break,
            Ok(read) => read,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(error),
        };
        sha256.update(&buffer[..read]);
        sha512.update(&buffer[..read]);
        length += read as u64;
    }
    Ok((Digests { sha256: sha256.finalize().into(), sha512: sha512.finalize().into() }, length))
}

fn hex(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len() * 2);
    for byte in bytes {
        let _ = write!(text, "{byte:02x}");
    }
    text
}

/// Writes a path as a manifest has it: line ends and the percent sign stand for themselves no longer (RFC 8493,
/// section 2.1.3).
fn encode(path: &str) -> String {
    path.replace('%', "%25").replace('\r', "%0D").replace('\n', "%0A")
}

/// Reads a path of a manifest; none where a percent sign stands for nothing that the standard knows.
fn decode(written: &str) -> Option<String> {
    let mut path = String::with_capacity(written.len());
    let mut rest = written;
    while let Some(at) = rest.find('%') {
        path.push_str(&rest[..at]);
        path.push(match rest.get(at + 1..at + 3)? {
            "25" => '%',
            "0D" | "0d" => '\r',
            "0A" | "0a" => '\n',
            _ => return None,
        });
        rest = &rest[at + 3..];
    }
    path.push_str(rest);
    Some(path)
}

/// Says why a path may not stand in a bag; none where it may.
fn unsafe_path(path: &str) -> Option<&'static str> {
    if path.starts_with('/') || path.starts_with('~') || path.as_bytes().get(1) == Some(&b':') {
        return Some("it leads out of the packet");
    }
    if path.contains(['\\', '\0']) {
        return Some("it holds a character that means something else on other systems");
    }
    if path.split('/').any(|part| part == "..") {
        return Some("it leads out of the packet");
    }
    if path.split('/').any(|part| part.is_empty() || part == ".") {
        return Some("a part of it is empty");
    }
    if path.len() > MOST_PATH || path.split('/').count() > MOST_DEPTH {
        return Some("it is longer than any path of a packet");
    }
    None
}

/// Writes an element of `bag-info.txt`, folded so that no line is much longer than the standard advises (79).
fn element(label: &str, value: &str) -> String {
    let mut text = format!("{label}:");
    let mut width = text.chars().count();
    for word in value.split(|c: char| c.is_whitespace() || c.is_control()).filter(|word| !word.is_empty()) {
        let length = word.chars().count();
        if width + 1 + length > 79 && width > label.len() + 1 {
            text.push_str("\n ");
            width = 1;
        }
        text.push(' ');
        text.push_str(word);
        width += 1 + length;
    }
    text.push('\n');
    text
}

#[cfg(test)]
mod tests;
