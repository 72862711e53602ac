//! What was asked for when a packet was made, read from its `request.json`.
//!
//! Comes in: the text of that file, which anybody may have written. Goes out: [`Asked`], or why it cannot be used. Keys
//! that a later version may add are passed over.

use super::{Replaced, SOURCES, is_packet_name};
use crate::case::TaxYear;
use crate::json;
use jiff::civil::Date;
use serde_json::Value;
use std::fmt;

/// The most values a request has: some for each paper of the largest case.
const MOST_VALUES: usize = 20_000;

/// What was asked for when a packet was made.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// The client's reference.
    pub reference: String,
    /// The tax year.
    pub year: TaxYear,
    /// The date on the papers.
    pub dated: Date,
    /// The version of the program that made it.
    pub version: String,
    /// The mark of that program's sources; empty where it is not told.
    pub sources: String,
    /// The name of the case file.
    pub case_file: String,
    /// The fingerprint of the case.
    pub case_fingerprint: String,
    /// The fingerprint of the figures.
    pub figures_fingerprint: String,
    /// The latest edition of the law used.
    pub law_edition: String,
    /// The packet it replaces.
    pub replaces: Option<Replaced>,
    /// The forms of letters besides PDF, by their words, each once.
    pub also: Vec<String>,
}

/// Why a `request.json` says nothing that this program understands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoRequest {
    /// It is no JSON that can be used.
    Json(json::Unusable),
    /// It has a format of a later version.
    Format(u64),
    /// It does not say its format.
    NoFormat,
    /// It does not say what stands under a key.
    Lacks(&'static str),
    /// The case file it names lies in another folder.
    OtherFolder,
    /// A date is none.
    NoDate,
}

impl fmt::Display for NoRequest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("request.json ")?;
        match self {
            NoRequest::Json(why) => write!(f, "{why}"),
            NoRequest::Format(format) => {
                write!(f, "has format {format}, which this version of the program does not know")
            }
            NoRequest::NoFormat => f.write_str("does not say its format"),
            NoRequest::Lacks(key) => write!(f, "does not say `{key}`"),
            NoRequest::OtherFolder => f.write_str("names a case file in another folder"),
            NoRequest::NoDate => f.write_str("has a date that is none"),
        }
    }
}

impl std::error::Error for NoRequest {}

impl Asked {
    /// Reads the text of a `request.json`.
    ///
    /// Fails where it is none that this program understands.
    pub fn read(text: &str) -> Result<Asked, NoRequest> {
        let request = json::read(text.as_bytes(), MOST_VALUES).map_err(NoRequest::Json)?;
        match request["format"].as_u64() {
            Some(1) => {}
            Some(format) => return Err(NoRequest::Format(format)),
            None => return Err(NoRequest::NoFormat),
        }
        let word = |from: &Value, key: &'static str| {
            let said = from[key].as_str().filter(|said| !said.is_empty() && said.len() <= 4_000);
            said.map(str::to_string).ok_or(NoRequest::Lacks(key))
        };
        let case_file = word(&request, "case_file")?;
        if case_file.contains(['/', '\\']) {
            return Err(NoRequest::OtherFolder);
        }
        let year = request["year"].as_i64().and_then(|year| i16::try_from(year).ok());
        let dated = word(&request, "dated")?;
        let replaces = match &request["replaces"] {
            Value::Null => None,
            said => Some(Replaced {
                packet: word(said, "packet")?,
                digest: word(said, "digest")?,
                dated: match &said["dated"] {
                    Value::Null => None,
                    day => {
                        let read = day.as_str().and_then(|day| day.parse().ok());
                        Some(read.ok_or(NoRequest::NoDate)?)
                    }
                },
                because: word(said, "because")?,
            }),
        };
        let mut also: Vec<String> = Vec::new();
        for form in request["also"].as_array().into_iter().flatten().filter_map(Value::as_str) {
            if !also.iter().any(|known| known == form) {
                also.push(form.to_string());
            }
        }
        Ok(Asked {
            reference: word(&request, "reference")?,
            year: TaxYear(year.ok_or(NoRequest::Lacks("year"))?),
            dated: dated.parse().map_err(|_| NoRequest::NoDate)?,
            version: word(&request, "version")?,
            sources: request["sources"].as_str().unwrap_or_default().to_string(),
            case_file,
            case_fingerprint: word(&request, "case_fingerprint")?,
            figures_fingerprint: word(&request, "figures_fingerprint")?,
            law_edition: request["law_edition"].as_str().unwrap_or_default().to_string(),
            replaces,
            also,
        })
    }

    /// Says whether a name is one that the packet may have: its reference and year, and the number of a correction where
    /// it is one.
    pub fn may_be_called(&self, name: &str) -> bool {
        let plain = format!("{}-{}", self.reference, self.year);
        let rest = name.strip_prefix(&plain).filter(|_| is_packet_name(name));
        rest.is_some_and(|rest| rest.is_empty() != self.replaces.is_some() && !rest.ends_with("-draft"))
    }

    /// Says whether the program that made the packet is this one: the same version, built from the same sources.
    pub fn is_ours(&self) -> bool {
        self.version == env!("CARGO_PKG_VERSION") && self.sources == SOURCES
    }

    /// Says which program made the packet.
    pub fn made_by(&self) -> String {
        let build = match self.sources.get(..8) {
            Some(mark) if self.version == env!("CARGO_PKG_VERSION") => format!(", build {mark}"),
            _ => String::new(),
        };
        format!("made by gablework {}{build}", self.version)
    }
}
