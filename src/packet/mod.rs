//! The files of one case: what a packet holds, what it is called, and how it comes to stand whole or not at all.
//!
//! Comes in: finished pages and data as bytes. Goes out: a folder made beside its place and renamed in. Knows
//! nothing of tax; knows file systems.

pub mod write;

use serde_json::{Map, Value, json};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;

/// One packet, before it is written.
#[derive(Clone, Debug, Default)]
pub struct Packet {
    /// The folder's name, such as `HH-0412-2024`.
    pub name: String,
    /// The files, by their path inside the folder, with `/` between its parts.
    pub files: Vec<(String, Vec<u8>)>,
}

impl Packet {
    /// Starts a packet.
    pub fn new(name: impl Into<String>) -> Packet {
        Packet { name: name.into(), files: Vec::new() }
    }

    /// Adds a file.
    pub fn add(&mut self, path: impl Into<String>, bytes: impl Into<Vec<u8>>) {
        self.files.push((path.into(), bytes.into()));
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
    /// The packet this one replaces, and why.
    pub replaces: Option<(String, String)>,
    /// The forms of letters besides PDF.
    pub also: Vec<&'static str>,
    /// Whether the firm's own letters or layout were used; they lie in the packet.
    pub kit: bool,
}

impl Request {
    /// Writes the request as the packet holds it.
    pub fn to_json(&self) -> Value {
        json!({
            "format": 1,
            "program": "gablework",
            "version": env!("CARGO_PKG_VERSION"),
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
            "replaces": self.replaces.as_ref().map(|(name, because)| json!({"packet": name, "because": because})),
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

/// The text a reader finds first in a packet.
pub fn read_me(request: &Request) -> String {
    let replaces = match &request.replaces {
        Some((name, because)) => format!("It replaces {name}: {because}.\n"),
        None => String::new(),
    };
    let kit = if request.kit { "kit/            the firm's own letters and layout, as used\n" } else { "" };
    format!(
        "Residential energy credits: worksheet, letters and computation\n\
         Client reference {reference}, tax year {year}, dated {dated}.\n\
         {replaces}\n\
         worksheet.pdf   the computation, line by line, with the official line beside each of ours\n\
         letters/        the letters to the client\n\
         figures.json    every line of the year as data: value, expression, operands, sources\n\
         figures.csv     the same lines as a table\n\
         {case}   the facts as they were given\n\
         law/            the law's values used, each beside its source\n\
         papers/         evidence files, as given\n\
         {kit}\
         request.json    what was asked for, and with which program version\n\n\
         To check a figure by hand: find its line in figures.json, look up its operands, and work the expression.\n\
         To compute everything again: gablework figures {case} --year {year}\n\n\
         This is not tax or legal advice. The official form and its instructions, and a licensed preparer, decide.\n",
        reference = request.reference,
        year = request.year,
        dated = request.dated,
        case = request.case_file,
    )
}
