//! The files of one case: what a packet holds, what it is called, and how it comes to stand whole or not at all.
//!
//! Comes in: finished pages and data as bytes. Goes out: a folder made beside its place and renamed in; sealed as a
//! bag ([`bag`]) unless it is a draft. Computes nothing; knows file systems.

mod asked;
pub mod bag;
pub mod read_me;
pub mod slip;
pub mod write;

use crate::name::FileName;
pub use asked::{Asked, NoRequest};
use bag::Info;
use jiff::civil::Date;
use serde_json::{Map, Value, json};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;

/// A mark of the sources this program was built from. Programs with one version number and different marks may draw
/// different pages.
pub const SOURCES: &str = env!("GABLEWORK_SOURCES");

/// One packet, before it is written.
#[derive(Clone, Debug)]
pub struct Packet {
    /// The folder's name, such as `HH-0412-2024`.
    pub name: FileName,
    /// The files, by their path inside the folder, with `/` between its parts.
    pub files: Vec<(String, Vec<u8>)>,
    /// The seal slip, which comes to stand beside the folder under its own name; a draft has none.
    pub slip: Option<(String, Vec<u8>)>,
}

impl Packet {
    /// Starts a packet.
    pub fn new(name: FileName) -> Packet {
        Packet { name, files: Vec::new(), slip: None }
    }

    /// Adds a file. Its path is kept with composed characters (NFC), because file systems differ in that.
    pub fn add(&mut self, path: impl AsRef<str>, bytes: impl Into<Vec<u8>>) {
        self.files.push((bag::composed(path.as_ref()), bytes.into()));
    }
}

/// What was asked for, stored in the packet so that it can be computed again.
#[derive(Clone, Debug, PartialEq)]
pub struct Request {
    /// The client's reference.
    pub reference: String,
    /// The tax year.
    pub year: i16,
    /// The date on the papers.
    pub dated: String,
    /// Whether it is a draft.
    pub draft: bool,
    /// The name of the case file.
    pub case_file: String,
    /// The fingerprint of the case as read.
    pub case_fingerprint: String,
    /// The fingerprint of the figures.
    pub figures_fingerprint: String,
    /// The law's edition: the latest of its years.
    pub law_edition: String,
    /// The edition of each year's law that lies in the packet.
    pub law_editions: BTreeMap<i16, String>,
    /// What was given besides the case, by its path in the packet, with its fingerprint: the firm's file, its logo, its
    /// own letters and layout, and the papers.
    pub given: BTreeMap<String, String>,
    /// Until when the packet is kept at least, and why.
    pub keep: Keep,
    /// The packet this one replaces, and why.
    pub replaces: Option<Replaced>,
    /// The forms of letters besides PDF.
    pub also: Vec<&'static str>,
    /// Whether the firm's own letters or layout were used; they lie in the packet.
    pub kit: bool,
}

/// Until when a packet is kept.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Keep {
    /// The day, such as `2030-04-15`; none where no end can be told yet.
    pub until: Option<String>,
    /// Why, in words that continue a sentence.
    pub because: String,
}

impl Keep {
    /// Says it in a sentence without its full stop.
    pub fn told(&self) -> String {
        match &self.until {
            Some(day) => format!("Keep at least until {day}: {}", self.because),
            None => format!("Keep, no end date yet: {}", self.because),
        }
    }
}

/// The packet that a correction replaces.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Replaced {
    /// Its name.
    pub packet: String,
    /// The digest that stands for it ([`bag::digest`]), in hexadecimal digits.
    pub digest: String,
    /// The date on its papers; none where a packet of an earlier version does not repeat it.
    pub dated: Option<Date>,
    /// Why it is replaced, as the preparer wrote it.
    pub because: String,
}

impl Replaced {
    /// Says it in a sentence without its full stop.
    pub fn told(&self) -> String {
        format!(
            "Replaces {}, whose tag manifest has the SHA-256 digest {}: {}",
            self.packet, self.digest, self.because
        )
    }
}

impl Request {
    /// Returns what a bag says of itself in `bag-info.txt`: elements of the standard's reserved set, and no name of a
    /// person.
    pub fn info(&self, packet: &str) -> Info {
        let description = format!(
            "Residential energy credits (26 U.S.C. 25C and 25D), tax year {}: worksheet, letters, figures as data, the \
             case, the law used, papers. Made by gablework {}.",
            self.year,
            env!("CARGO_PKG_VERSION")
        );
        let mut elements = vec![
            ("External-Description", description),
            ("Bagging-Date", self.dated.clone()),
            (bag::IDENTIFIER, packet.to_string()),
            ("Internal-Sender-Identifier", self.reference.clone()),
            ("Internal-Sender-Description", format!("{}.", self.keep.told())),
        ];
        if let Some(replaced) = &self.replaces {
            elements
                .push(("Internal-Sender-Description", format!("{}.", replaced.told().trim_end_matches('.'))));
        }
        Info(elements)
    }

    /// Writes the request as the packet holds it.
    pub fn to_json(&self) -> Value {
        json!({
            "format": 1,
            "program": "gablework",
            "version": env!("CARGO_PKG_VERSION"),
            "sources": SOURCES,
            "reference": self.reference,
            "year": self.year,
            "dated": self.dated,
            "draft": self.draft,
            "case_file": self.case_file,
            "case_fingerprint": self.case_fingerprint,
            "figures_fingerprint": self.figures_fingerprint,
            "law_edition": self.law_edition,
            "law_editions": self.law_editions.iter().map(|(year, edition)| (year.to_string(), json!(edition))).collect::<Map<String, Value>>(),
            "given": self.given,
            "keep": {"until": self.keep.until, "because": self.keep.because},
            "replaces": self.replaces.as_ref().map(|one| json!({
                "packet": one.packet,
                "digest": one.digest,
                "dated": one.dated.map(|day| day.to_string()),
                "because": one.because,
            })),
            "also": self.also,
            "kit": self.kit,
        })
    }
}

/// Says whether a name is one that a packet's folder may have: a reference, a year, and `draft` or the number of a
/// correction.
pub fn is_packet_name(name: &str) -> bool {
    let number = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    let plain = match name.rsplit_once('-') {
        Some((plain, "draft")) => plain,
        Some((plain, last)) if last.strip_prefix('r').is_some_and(number) => plain,
        _ => name,
    };
    plain.rsplit_once('-').is_some_and(|(reference, year)| {
        let signs = reference.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
        !reference.is_empty() && signs && year.len() == 4 && number(year)
    })
}

/// Returns the SHA-256 of some bytes as lower-case hexadecimal digits.
pub fn fingerprint(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Returns the first sixteen bytes of the SHA-256 of some bytes, for a file's identifier.
pub fn short_fingerprint(bytes: &[u8]) -> [u8; 16] {
    let mut out = [0; 16];
    out.copy_from_slice(&Sha256::digest(bytes)[..16]);
    out
}
