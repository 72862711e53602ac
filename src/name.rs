//! Names of files and folders that the program gives.
//!
//! Comes in: a text, most often a client's reference that somebody typed. Goes out: a name that is one part of a path
//! on every system, or why the text is none. Only the constructors here make such names, and what writes to a disk
//! takes nothing else, so no text can lead out of the folder it was meant for. Knows no file system.

use crate::characters::{digit, unseen};
use std::fmt;
use std::ops::Deref;

/// The name of one file or folder: one part of a path, the same on every system.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FileName(String);

/// Why a text cannot be the name of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unfit {
    /// Nothing stands there.
    Empty,
    /// It is longer than [`FileName::MOST_BYTES`].
    Long,
    /// It is `.` or `..`, or ends in a point or a blank, which Windows drops; or it begins with a blank.
    Edge,
    /// A character that separates folders or means something else on some system, or that nobody sees.
    Sign(char),
    /// Windows keeps the name for a device.
    Device,
}

impl fmt::Display for Unfit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Unfit::Empty => f.write_str("a part of it is empty"),
            Unfit::Long => write!(f, "it is longer than {} bytes", FileName::MOST_BYTES),
            Unfit::Edge => f.write_str("it begins with a blank, or ends in a period or a blank"),
            Unfit::Sign(c) if unseen(*c).is_some() => {
                write!(f, "it holds a character that cannot be seen, U+{:04X}", u32::from(*c))
            }
            Unfit::Sign(c) => write!(f, "a file name cannot hold `{c}` on every computer"),
            Unfit::Device => f.write_str("Windows keeps this name for a device"),
        }
    }
}

impl std::error::Error for Unfit {}

impl FileName {
    /// The most bytes of a name: 255 is what file systems take (from memory: ext4, NTFS and APFS), less what is put
    /// before and after it while it is written.
    pub const MOST_BYTES: usize = 220;

    /// Makes a name of a text that can be one.
    pub fn new(text: impl Into<String>) -> Result<FileName, Unfit> {
        let text = text.into();
        match unfit(&text) {
            Some(why) => Err(why),
            None => Ok(FileName(text)),
        }
    }

    /// Returns the name with an ending, such as `.pdf`.
    pub fn with(&self, ending: &str) -> Result<FileName, Unfit> {
        FileName::new(format!("{}{ending}", self.0))
    }

    /// Returns it as a text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl Deref for FileName {
    type Target = str;

    fn deref(&self) -> &str {
        &self.0
    }
}

impl AsRef<std::path::Path> for FileName {
    fn as_ref(&self) -> &std::path::Path {
        std::path::Path::new(&self.0)
    }
}

impl fmt::Display for FileName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Says why a path inside a folder, with `/` between its parts, could lead elsewhere or not be made everywhere.
pub fn unfit_path(path: &str) -> Option<Unfit> {
    path.split('/').find_map(unfit)
}

fn unfit(text: &str) -> Option<Unfit> {
    if text.is_empty() {
        return Some(Unfit::Empty);
    }
    // Microsoft, "Naming Files, Paths, and Namespaces": reserved characters (from memory).
    let sign = |c: &char| {
        matches!(c, '/' | '\\' | ':' | '*' | '?' | '"' | '<' | '>' | '|' | '\n' | '\t')
            || unseen(*c).is_some()
    };
    if let Some(c) = text.chars().find(sign) {
        return Some(Unfit::Sign(c));
    }
    if text.starts_with(char::is_whitespace) || text.ends_with(|c: char| c == '.' || c.is_whitespace()) {
        return Some(Unfit::Edge);
    }
    if is_device(text) {
        return Some(Unfit::Device);
    }
    (text.len() > FileName::MOST_BYTES).then_some(Unfit::Long)
}

/// Says whether Windows takes a name for a device, with or without an ending: CON, PRN, AUX, NUL, COM1 to COM9 and
/// LPT1 to LPT9 (Microsoft, "Naming Files, Paths, and Namespaces", from memory). COMA and COM10 are names like others.
fn is_device(name: &str) -> bool {
    let stem = name.split('.').next().unwrap_or_default().trim_end().to_uppercase();
    let port =
        |rest: &str| matches!(rest.chars().next().and_then(digit), Some(1..=9)) && rest.chars().count() == 1;
    matches!(stem.as_str(), "CON" | "PRN" | "AUX" | "NUL" | "CONIN$" | "CONOUT$")
        || stem.strip_prefix("COM").or_else(|| stem.strip_prefix("LPT")).is_some_and(port)
}

/// A client's reference: letters, digits and hyphens. It names the client's files, and nothing else does.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(transparent)]
pub struct Reference(String);

/// Why a text cannot be a reference.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoReference {
    /// It has other characters, a hyphen at an edge, or too many.
    Form,
    /// Windows keeps the name for a device.
    Device,
    /// It reads like a taxpayer number.
    Number,
}

/// Which of a client's packets for a year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edition {
    /// A draft.
    Draft,
    /// The first sealed one.
    First,
    /// A correction, counted from 2.
    Correction(usize),
}

impl Reference {
    /// The most characters of a reference.
    pub const MOST: usize = 40;

    /// Makes a reference of a text that can be one.
    pub fn new(text: &str) -> Result<Reference, NoReference> {
        if reads_as_number(text) {
            return Err(NoReference::Number);
        }
        let plain = text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
        let edge = text.is_empty() || text.starts_with('-') || text.ends_with('-');
        if !plain || edge || text.len() > Reference::MOST {
            return Err(NoReference::Form);
        }
        if is_device(text) {
            return Err(NoReference::Device);
        }
        Ok(Reference(text.to_string()))
    }

    /// The reference of a case that is not handed out, because its own could not be read.
    pub(crate) fn unread() -> Reference {
        Reference("UNREAD".to_string())
    }

    /// Returns the name of a packet of this client.
    pub fn packet(&self, year: impl fmt::Display, edition: Edition) -> FileName {
        FileName(match edition {
            Edition::Draft => format!("{self}-{year}-draft"),
            Edition::First => format!("{self}-{year}"),
            Edition::Correction(n) => format!("{self}-{year}-r{n}"),
        })
    }

    /// Returns the name of a file of this client, with an ending of letters and periods such as `.case.yaml`.
    pub fn file(&self, ending: &str) -> FileName {
        debug_assert!(ending.bytes().all(|b| b.is_ascii_lowercase() || b == b'.'));
        FileName(format!("{self}{ending}"))
    }

    /// Returns it as a text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl Deref for Reference {
    type Target = str;

    fn deref(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Reference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl PartialEq<str> for Reference {
    fn eq(&self, other: &str) -> bool {
        self.0 == other
    }
}

impl PartialEq<&str> for Reference {
    fn eq(&self, other: &&str) -> bool {
        self.0 == *other
    }
}

/// Says whether a name reads like a full taxpayer number: nine digits in a row, whatever signs stand between them,
/// unless a year that stands apart begins or ends them, as in `2025-00123`. A year beside nine digits does not hide
/// them.
pub(crate) fn reads_as_number(name: &str) -> bool {
    let chains = name.split(|c: char| c.is_alphabetic() && digit(c).is_none());
    chains.into_iter().any(|chain| {
        let groups: Vec<String> = chain
            .split(|c: char| digit(c).is_none())
            .filter(|group| !group.is_empty())
            .map(|group| group.chars().filter_map(digit).map(|one| char::from(b'0' + one)).collect())
            .collect();
        let year = |group: &String| group.len() == 4 && (group.starts_with("19") || group.starts_with("20"));
        let lengths: Vec<usize> = groups.iter().map(String::len).collect();
        let social = lengths.windows(3).any(|three| three == [3, 2, 4]);
        let apart = groups.len() > 1 && (groups.first().is_some_and(year) || groups.last().is_some_and(year));
        let nine = if apart { 9 + 4 } else { 9 };
        social || lengths.contains(&9) || lengths.iter().sum::<usize>() == nine
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_one_part_of_a_path_on_every_system() {
        for name in [
            "a",
            "HH-1-2025",
            "inv-118.pdf",
            "COMA",
            "COM10",
            "COM",
            "console.txt",
            "Ríos & Sons.pdf",
            ".kept",
            "a..b",
        ] {
            assert_eq!(FileName::new(name).as_deref().ok(), Some(name));
        }
        for (name, why) in [
            ("", Unfit::Empty),
            (".", Unfit::Edge),
            ("..", Unfit::Edge),
            ("a.", Unfit::Edge),
            ("a ", Unfit::Edge),
            (" a", Unfit::Edge),
            ("a/b", Unfit::Sign('/')),
            ("a\\b", Unfit::Sign('\\')),
            ("a:b", Unfit::Sign(':')),
            ("a*?b", Unfit::Sign('*')),
            ("a\u{202e}b", Unfit::Sign('\u{202e}')),
            ("a\nb", Unfit::Sign('\n')),
            ("a\0b", Unfit::Sign('\0')),
            ("nul", Unfit::Device),
            ("Con.txt", Unfit::Device),
            ("aux .tar.gz", Unfit::Device),
            ("com1", Unfit::Device),
            ("lpt9.pdf", Unfit::Device),
            ("COM\u{b9}", Unfit::Device),
        ] {
            assert_eq!(FileName::new(name), Err(why), "{name:?}");
        }
        assert_eq!(FileName::new("x".repeat(300)), Err(Unfit::Long));
        assert_eq!(unfit_path("papers/inv-118.pdf"), None);
        for path in ["../a", "a/../b", "/a", "a//b", "a/", "~/..", "papers/nul/a.pdf", "c:/a"] {
            assert!(unfit_path(path).is_some(), "{path}");
        }
    }

    #[test]
    fn a_reference_names_files_and_no_person() {
        for text in [
            "HH-0412",
            "a",
            "COMA",
            "COMET",
            "COM10",
            "2025-00123",
            "00123-2025",
            "1234567890",
            "12345678",
            "HH-2025-0412",
        ] {
            assert_eq!(Reference::new(text).as_deref().ok(), Some(text));
        }
        for (text, why) in [
            ("", NoReference::Form),
            ("-a", NoReference::Form),
            ("a-", NoReference::Form),
            ("./../../other/HH-0101", NoReference::Form),
            ("a:b", NoReference::Form),
            ("a*?b", NoReference::Form),
            ("a b", NoReference::Form),
            ("Ríos", NoReference::Form),
            ("con", NoReference::Device),
            ("COM7", NoReference::Device),
            ("123456789", NoReference::Number),
            ("123-45-6789", NoReference::Number),
            ("1-123-45-6789", NoReference::Number),
            ("12-3456789", NoReference::Number),
            ("HH-123456789", NoReference::Number),
            ("1-2-3-4-5-6-7-8-9", NoReference::Number),
            ("2025-123456789", NoReference::Number),
            ("123456789-2025", NoReference::Number),
            ("2025-12-3456789", NoReference::Number),
            ("1-123456789-2", NoReference::Number),
        ] {
            assert_eq!(Reference::new(text), Err(why), "{text}");
        }
        assert_eq!(Reference::new(&"x".repeat(41)), Err(NoReference::Form));
        let reference = Reference::new("HH-1").expect("a reference");
        assert_eq!(reference.packet(2025, Edition::Correction(2)).as_str(), "HH-1-2025-r2");
        assert!(FileName::new(reference.file(".case.yaml").as_str()).is_ok());
    }
}
