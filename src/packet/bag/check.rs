//! Checking a folder that claims to be a sealed packet, byte by byte.
//!
//! Comes in: a folder. Goes out: what it holds, and everything in which it differs from what was sealed. Reads only
//! plain files inside the folder, follows no link, keeps no file in memory, and believes nothing that a manifest says
//! before it has been compared with the folder. Sizes are compared before anything is read: only what a manifest lists
//! is read at all, and none of it where the whole is larger than a packet may be.
//!
//! It is stricter than the standard where a packet of ours leaves no doubt: both algorithms are there, every file of the
//! bag is listed, and manifests stand byte for byte as [`super::seal`] writes them.

use super::{
    Algorithm, DECLARATION, DECLARATION_FILE, Digests, IDENTIFIER, INFO_FILE, MOST_BYTES, MOST_DEPTH,
    MOST_FILES, MOST_TAG, PAYLOAD, TAG_MANIFEST, composed, decode, digests, encode, hex, unsafe_path,
};
use crate::held;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, Read};
use std::path::{Path, PathBuf};

/// The most files and folders that are looked through: each file of the fullest packet in some folders of its own.
const MOST_ENTRIES: usize = 4 * MOST_FILES;
/// The longest line of a manifest: a digest and the longest path there is.
const LONGEST_LINE: u64 = 8_192;
/// The most bytes that are read of a packet's description.
const MOST_INFO: u64 = 64_000;
/// The most differences that are told one by one.
const MOST_TOLD: usize = 200;

/// One way in which a folder differs from what was sealed. Paths are relative to the packet.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Damage {
    /// A file of the seal itself is not there.
    NoTagFile(String),
    /// The declaration does not say what ours says.
    Declaration,
    /// A file is listed and not there.
    Missing(String),
    /// A file is there and not listed.
    Added(String),
    /// A file is not as it was sealed.
    Altered(String),
    /// A file is listed in one manifest and not in the other.
    Unlisted {
        /// The file.
        path: String,
        /// The manifest that lacks it.
        manifest: String,
    },
    /// A folder with nothing in it.
    EmptyFolder(String),
    /// A link. It is not followed.
    Link(String),
    /// Neither file nor folder nor link. It is not opened.
    Special(String),
    /// A name that is no Unicode text.
    Name(String),
    /// A file or folder that could not be read.
    Unreadable {
        /// Which.
        path: String,
        /// The answer of the file system.
        error: String,
    },
    /// A line of a manifest is not as the program writes it.
    Line {
        /// The manifest.
        manifest: String,
        /// The line, from one.
        line: usize,
        /// What is wrong with it.
        what: &'static str,
    },
    /// A manifest of an algorithm that a packet does not use.
    Algorithm(String),
    /// The number of files and bytes is not what the description says.
    Size,
    /// There is more in the folder than in any packet; the rest was not looked at.
    TooMuch,
    /// A file of the seal, or the payload as a whole, is larger than it is in any packet; it was not read.
    TooLarge(String),
}

impl Damage {
    /// Says whether the file system, not the seal, may be to blame.
    pub fn is_unreadable(&self) -> bool {
        matches!(self, Damage::Unreadable { .. })
    }

    /// Returns the file or folder that could not be read, and why, where that is what it is.
    pub fn unread(&self) -> Option<(&str, &str)> {
        match self {
            Damage::Unreadable { path, error } => Some((path, error)),
            _ => None,
        }
    }

    /// Returns a word for it that other programs can rely on.
    pub fn code(&self) -> &'static str {
        match self {
            Damage::NoTagFile(_) => "seal_file_missing",
            Damage::Declaration => "declaration",
            Damage::Missing(_) => "missing",
            Damage::Added(_) => "added",
            Damage::Altered(_) => "altered",
            Damage::Unlisted { .. } => "unlisted",
            Damage::EmptyFolder(_) => "empty_folder",
            Damage::Link(_) => "link",
            Damage::Special(_) => "special_file",
            Damage::Name(_) => "name",
            Damage::Unreadable { .. } => "unreadable",
            Damage::Line { .. } => "manifest_line",
            Damage::Algorithm(_) => "algorithm",
            Damage::Size => "size",
            Damage::TooMuch => "too_much",
            Damage::TooLarge(_) => "too_large",
        }
    }

    /// Returns the file or folder it is about, relative to the packet.
    pub fn path(&self) -> Option<&str> {
        match self {
            Damage::NoTagFile(path)
            | Damage::Missing(path)
            | Damage::Added(path)
            | Damage::Altered(path)
            | Damage::EmptyFolder(path)
            | Damage::Link(path)
            | Damage::Special(path)
            | Damage::Name(path)
            | Damage::Algorithm(path)
            | Damage::TooLarge(path)
            | Damage::Unlisted { path, .. }
            | Damage::Unreadable { path, .. } => Some(path),
            Damage::Line { manifest, .. } => Some(manifest),
            Damage::Declaration => Some(DECLARATION_FILE),
            Damage::Size => Some(INFO_FILE),
            Damage::TooMuch => None,
        }
    }
}

/// Says what it is, in a sentence without its full stop. Names that others chose are shown harmlessly.
impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let shown = |path: &str| path.escape_debug().to_string();
        match self {
            Damage::NoTagFile(path) => write!(f, "{path} is missing; without it nothing is sealed"),
            Damage::Declaration => write!(f, "{DECLARATION_FILE} is not the declaration of a packet"),
            Damage::Missing(path) => write!(f, "{} is missing", shown(path)),
            Damage::Added(path) => match left_behind(path) {
                Some(what) => write!(f, "{} was added; {what}", shown(path)),
                None => write!(f, "{} was added", shown(path)),
            },
            Damage::Altered(path) => write!(f, "{} was altered", shown(path)),
            Damage::Unlisted { path, manifest } => write!(f, "{} is not listed in {manifest}", shown(path)),
            Damage::EmptyFolder(path) => write!(f, "the empty folder {} was added", shown(path)),
            Damage::Link(path) => {
                write!(f, "{} is a link, and a packet has none; it was not followed", shown(path))
            }
            Damage::Special(path) => {
                write!(f, "{} is neither a file nor a folder; it was not opened", shown(path))
            }
            Damage::Name(path) => write!(f, "{} was added; its name is no text", shown(path)),
            Damage::Unreadable { path, error } => write!(f, "{} cannot be read: {error}", shown(path)),
            Damage::Line { manifest, line, what } => write!(f, "line {line} of {manifest} {what}"),
            Damage::Algorithm(path) => {
                write!(f, "{} was added; a packet has no manifest of that kind", shown(path))
            }
            Damage::Size => write!(f, "the size given in {INFO_FILE} is not the size of the payload"),
            Damage::TooMuch => {
                write!(f, "there is more in the folder than in any packet; the rest was not looked at")
            }
            Damage::TooLarge(path) => {
                write!(f, "{} is larger than in any packet; it was not read", shown(path))
            }
        }
    }
}

/// Says what a file is that another program leaves beside those it shows; none where it may be anything.
fn left_behind(path: &str) -> Option<&'static str> {
    let name = path.rsplit('/').next().unwrap_or(path);
    match name {
        ".DS_Store" | "Thumbs.db" | "desktop.ini" => {
            Some("a file manager makes such a file; remove it and verify again")
        }
        _ if name.starts_with("~$") || name.starts_with(".~lock.") => Some(
            "a word processor that has a letter open makes such a file; close the letter and verify again",
        ),
        _ => None,
    }
}

/// A file of the payload as it lies there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Content {
    /// Where it lies.
    pub place: PathBuf,
    /// How many bytes it has.
    pub length: u64,
    /// Its SHA-256, in hexadecimal digits.
    pub sha256: String,
}

/// What came of checking a folder.
#[derive(Clone, Debug, Default)]
pub struct Checked {
    /// The digest that stands for the packet; none where its tag manifest cannot be read.
    pub digest: Option<String>,
    /// The packet's own name, as its description has it; none where it names none, or more than one.
    pub name: Option<String>,
    /// That description, where it could be read whole.
    pub info: Option<String>,
    /// The plain files of the payload that are listed and could be read, by their path in the packet.
    pub payload: BTreeMap<String, Content>,
    /// How the folder differs from what was sealed, in the order of kinds and paths; empty for an intact packet.
    pub damage: Vec<Damage>,
    /// How many more differences there are than those told.
    pub more: usize,
}

impl Checked {
    /// Says whether the packet is as it was sealed, to the byte.
    pub fn is_intact(&self) -> bool {
        self.damage.is_empty()
    }

    /// Returns why a file could not be read, if it is there and that is so.
    pub fn unread(&self, path: &str) -> Option<&str> {
        self.damage.iter().filter_map(Damage::unread).find(|(one, _)| *one == path).map(|(_, why)| why)
    }

    /// Returns the bytes of the payload.
    pub fn bytes(&self) -> u64 {
        self.payload.values().map(|content| content.length).sum()
    }
}

/// Checks a folder against its manifests, every byte.
///
/// What is no packet at all is refused after little work: the folder is looked through first, then the lists are read,
/// and bytes only then.
pub fn check(folder: &Path) -> Checked {
    let mut checking = Checking {
        folder: folder.to_path_buf(),
        found: BTreeMap::new(),
        damage: Damages::default(),
        absent: BTreeSet::new(),
    };
    // Whoever can change where a link leads can change the packet without touching it.
    if folder.symlink_metadata().is_ok_and(|about| about.is_symlink()) {
        checking.damage.add(Damage::Link(".".to_string()));
    } else if checking.walk() {
        checking.declaration();
        for algorithm in Algorithm::ALL {
            checking.manifest(algorithm, &algorithm.manifest(), false);
            checking.manifest(algorithm, &algorithm.tag_manifest(), true);
        }
        checking.hash();
        checking.unlisted();
        checking.size();
    }
    let (name, info) = (checking.name(), checking.info());
    let Checking { found, damage, .. } = checking;
    let digest = found.get(TAG_MANIFEST).and_then(|one| one.digests).map(|one| one.of(Algorithm::Sha256));
    let content = |(path, one): (String, Found)| {
        let digests = one.digests.filter(|_| path.starts_with(PAYLOAD))?;
        Some((path, Content { place: one.place, length: one.length, sha256: hex(&digests.sha256) }))
    };
    Checked {
        digest,
        name,
        info,
        payload: found.into_iter().filter_map(content).collect(),
        damage: damage.told.into_iter().collect(),
        more: damage.more,
    }
}

/// A plain file in the folder.
struct Found {
    place: PathBuf,
    length: u64,
    digests: Option<Digests>,
    /// The digest by which the manifests of each algorithm list it.
    listed: [Option<String>; 2],
}

/// The differences, no more of them than people read.
#[derive(Default)]
struct Damages {
    told: BTreeSet<Damage>,
    more: usize,
}

impl Damages {
    fn add(&mut self, damage: Damage) {
        if self.told.len() < MOST_TOLD {
            self.told.insert(damage);
        } else if !self.told.contains(&damage) {
            self.more += 1;
        }
    }
}

/// A folder while it is checked.
struct Checking {
    folder: PathBuf,
    /// The plain files, by their path with composed characters.
    found: BTreeMap<String, Found>,
    damage: Damages,
    /// Manifests that are not there or could not be read to their end.
    absent: BTreeSet<String>,
}

impl Checking {
    /// Finds every file below the folder. Links are not followed, and nothing is opened. Says whether it came to the end.
    fn walk(&mut self) -> bool {
        let mut open = vec![(self.folder.clone(), String::new(), 0)];
        let mut seen = 0;
        while let Some((folder, inside, depth)) = open.pop() {
            let mut entries = match fs::read_dir(&folder) {
                Ok(entries) => entries,
                Err(error) => {
                    self.unreadable(if inside.is_empty() { "the folder" } else { &inside }, &error);
                    continue;
                }
            };
            let mut named = Vec::new();
            for entry in entries.by_ref().take(MOST_ENTRIES + 1) {
                match entry {
                    Ok(entry) => named.push(entry.file_name()),
                    Err(error) => {
                        self.unreadable(if inside.is_empty() { "the folder" } else { &inside }, &error)
                    }
                }
            }
            named.sort();
            if named.is_empty() && !inside.is_empty() {
                self.damage.add(Damage::EmptyFolder(inside.clone()));
            }
            for name in named {
                seen += 1;
                if seen > MOST_ENTRIES {
                    self.damage.add(Damage::TooMuch);
                    return false;
                }
                let place = folder.join(&name);
                let path = |name: &str| match inside.as_str() {
                    "" => name.to_string(),
                    inside => format!("{inside}/{name}"),
                };
                let Some(name) = name.to_str() else {
                    self.damage.add(Damage::Name(path(&name.to_string_lossy())));
                    continue;
                };
                let path = path(name);
                let about = match fs::symlink_metadata(&place) {
                    Ok(about) => about,
                    Err(error) => {
                        self.unreadable(&path, &error);
                        continue;
                    }
                };
                if about.is_symlink() {
                    self.damage.add(Damage::Link(path));
                } else if about.is_dir() && depth + 1 >= MOST_DEPTH {
                    self.damage.add(Damage::TooMuch);
                } else if about.is_dir() {
                    open.push((place, path, depth + 1));
                } else if about.is_file() {
                    let found = Found { place, length: about.len(), digests: None, listed: [None, None] };
                    // A file whose name differs only in how its characters are composed is one too many.
                    if self.found.insert(composed(&path), found).is_some() {
                        self.damage.add(Damage::Added(path));
                    }
                } else {
                    self.damage.add(Damage::Special(path));
                }
            }
        }
        // Where a folder is closed, nobody knows what is missing.
        !self.damage.told.iter().any(Damage::is_unreadable)
    }

    /// Reads every file once that a manifest lists, for both algorithms, and compares it with what they say.
    fn hash(&mut self) {
        let listed = |path: &str, one: &Found| one.listed.iter().any(Option::is_some) || path == TAG_MANIFEST;
        let (mut bytes, mut large) = (0_u64, false);
        for (path, found) in self.found.iter().filter(|(path, one)| listed(path, one)) {
            if path.starts_with(PAYLOAD) {
                bytes = bytes.saturating_add(found.length);
            } else if found.length > MOST_TAG {
                self.damage.add(Damage::TooLarge(path.clone()));
                large = true;
            }
        }
        if bytes > MOST_BYTES {
            self.damage.add(Damage::TooLarge(PAYLOAD.trim_end_matches('/').to_string()));
            large = true;
        }
        if large {
            return;
        }
        let mut failed = Vec::new();
        for (path, found) in self.found.iter_mut().filter(|(path, one)| listed(path, one)) {
            // A file that grows while it is read is read no further than it was long.
            let read = File::open(&found.place).and_then(|file| digests(&mut file.take(found.length + 1)));
            match read {
                Ok((digests, length)) => (found.digests, found.length) = (Some(digests), length),
                Err(error) => failed.push((path.clone(), error)),
            }
        }
        for (path, error) in failed {
            self.unreadable(&path, &error);
        }
        for (path, found) in &self.found {
            let other = |one: Algorithm| {
                let (Some(said), Some(digests)) = (&found.listed[one as usize], found.digests) else {
                    return false;
                };
                *said != digests.of(one)
            };
            if Algorithm::ALL.into_iter().any(other) {
                self.damage.add(Damage::Altered(path.clone()));
            }
        }
    }

    fn unreadable(&mut self, path: &str, error: &io::Error) {
        self.damage.add(Damage::Unreadable { path: path.to_string(), error: held::words(error) });
    }

    fn declaration(&mut self) {
        if !self.found.contains_key(INFO_FILE) {
            self.damage.add(Damage::NoTagFile(INFO_FILE.to_string()));
        }
        if !self.found.contains_key(DECLARATION_FILE) {
            self.damage.add(Damage::NoTagFile(DECLARATION_FILE.to_string()));
        } else if self.beginning(DECLARATION_FILE, 1_000).as_deref() != Some(DECLARATION) {
            self.damage.add(Damage::Declaration);
        }
    }

    /// Returns the beginning of a file as text; none where it is not there or no text.
    fn beginning(&self, path: &str, most: u64) -> Option<String> {
        let file = File::open(&self.found.get(path)?.place).ok()?;
        let mut bytes = Vec::new();
        file.take(most).read_to_end(&mut bytes).ok()?;
        String::from_utf8(bytes).ok()
    }

    /// Compares the folder with a manifest, line by line.
    fn manifest(&mut self, algorithm: Algorithm, manifest: &str, of_tags: bool) {
        let Some(found) = self.found.get(manifest) else {
            self.damage.add(Damage::NoTagFile(manifest.to_string()));
            self.absent.insert(manifest.to_string());
            return;
        };
        if found.length > MOST_TAG {
            self.damage.add(Damage::TooLarge(manifest.to_string()));
            self.absent.insert(manifest.to_string());
            return;
        }
        let mut reader = match File::open(&found.place) {
            Ok(file) => BufReader::new(file.take(found.length)),
            Err(error) => {
                self.unreadable(manifest, &error);
                self.absent.insert(manifest.to_string());
                return;
            }
        };
        let (mut last, mut number, mut line) = (String::new(), 0, Vec::new());
        loop {
            line.clear();
            number += 1;
            match reader.by_ref().take(LONGEST_LINE).read_until(b'\n', &mut line) {
                Ok(0) => return,
                Ok(length) if length as u64 == LONGEST_LINE && line.last() != Some(&b'\n') => {
                    self.line(manifest, number, "is longer than any path");
                    self.absent.insert(manifest.to_string());
                    return;
                }
                Ok(_) => {}
                Err(_) => {
                    self.absent.insert(manifest.to_string());
                    return;
                }
            }
            self.entry(algorithm, manifest, of_tags, number, &line, &mut last);
        }
    }

    fn entry(
        &mut self,
        algorithm: Algorithm,
        manifest: &str,
        of_tags: bool,
        number: usize,
        line: &[u8],
        last: &mut String,
    ) {
        let Ok(text) = std::str::from_utf8(line) else {
            return self.line(manifest, number, "is no UTF-8 text");
        };
        let digits = text.find(|c: char| !c.is_ascii_hexdigit()).unwrap_or(text.len());
        let (digest, rest) = text.split_at(digits);
        let written = rest.trim_start_matches([' ', '\t']).trim_end_matches(['\n', '\r']);
        if digest.len() != algorithm.digits() || written.is_empty() || rest.len() == rest.trim_start().len() {
            return self.line(manifest, number, "is not a digest and a path");
        }
        let Some(path) = decode(written) else {
            return self.line(manifest, number, "has a percent sign that stands for nothing");
        };
        if let Some(why) = unsafe_path(&path) {
            return self.line(
                manifest,
                number,
                match why.starts_with("it leads") {
                    true => "names a path that leads out of the packet; it was not followed",
                    false => "names a path that no packet has",
                },
            );
        }
        let belongs = match of_tags {
            false => path.starts_with(PAYLOAD),
            true => !path.starts_with(PAYLOAD) && !path.starts_with("tagmanifest-"),
        };
        if !belongs {
            return self.line(manifest, number, "names a file that does not belong there");
        }
        match written.cmp(last.as_str()) {
            std::cmp::Ordering::Equal => self.line(manifest, number, "names a file a second time"),
            std::cmp::Ordering::Less => self.line(manifest, number, "is out of order"),
            std::cmp::Ordering::Greater => {}
        }
        let lower = digest.to_ascii_lowercase();
        if text != format!("{lower}  {}\n", encode(&composed(&path))) {
            self.line(manifest, number, "is not as it was written");
        }
        *last = written.to_string();
        match self.found.get_mut(&composed(&path)) {
            None if path == INFO_FILE || path == DECLARATION_FILE => {}
            None => self.damage.add(Damage::Missing(path)),
            Some(found) => {
                found.listed[algorithm as usize].get_or_insert(lower);
            }
        }
    }

    fn line(&mut self, manifest: &str, line: usize, what: &'static str) {
        self.damage.add(Damage::Line { manifest: manifest.to_string(), line, what });
    }

    /// Tells of files that are there and not listed.
    fn unlisted(&mut self) {
        for (path, found) in &self.found {
            let of_tags = !path.starts_with(PAYLOAD);
            if of_tags && Algorithm::ALL.iter().any(|one| *path == one.tag_manifest()) {
                continue;
            }
            let manifest = |one: Algorithm| if of_tags { one.tag_manifest() } else { one.manifest() };
            let lacking = Algorithm::ALL.into_iter().filter(|one| found.listed[*one as usize].is_none());
            // Where a whole manifest is not there, that has been told once.
            let lacking: Vec<Algorithm> =
                lacking.filter(|one| !self.absent.contains(&manifest(*one))).collect();
            let ours = Algorithm::ALL.iter().any(|one| *path == one.manifest());
            let kind = of_tags && !path.contains('/') && path.ends_with(".txt");
            if kind && !ours && (path.starts_with("manifest-") || path.starts_with("tagmanifest-")) {
                self.damage.add(Damage::Algorithm(path.clone()));
            } else if found.listed == [None, None] && !lacking.is_empty() || path == "fetch.txt" {
                self.damage.add(Damage::Added(path.clone()));
            } else if let [one, ..] = lacking.as_slice() {
                self.damage.add(Damage::Unlisted { path: path.clone(), manifest: manifest(*one) });
            }
        }
    }

    /// Returns the description, where it is text and not longer than in any packet.
    fn info(&self) -> Option<String> {
        let whole = self.found.get(INFO_FILE).is_some_and(|one| one.length < MOST_INFO);
        whole.then(|| self.beginning(INFO_FILE, MOST_INFO)).flatten()
    }

    /// Returns the packet's own name, as its description has it.
    fn name(&self) -> Option<String> {
        let said = self.info()?;
        let label = format!("{IDENTIFIER}: ");
        let mut named = said.lines().filter_map(|line| line.strip_prefix(&label));
        let name = named.next()?;
        named.next().is_none().then(|| name.to_string())
    }

    /// Compares the payload with its size in the description. Anything found before says more than this.
    fn size(&mut self) {
        let payload = self.found.iter().filter(|(path, _)| path.starts_with(PAYLOAD));
        let (bytes, files) = payload.fold((0, 0), |(bytes, files), (_, one)| (bytes + one.length, files + 1));
        let said = self.beginning(INFO_FILE, MOST_INFO).unwrap_or_default();
        let wanted = format!("Payload-Oxum: {bytes}.{files}");
        if self.damage.told.is_empty() && said.lines().filter(|line| *line == wanted).count() != 1 {
            self.damage.add(Damage::Size);
        }
    }
}
