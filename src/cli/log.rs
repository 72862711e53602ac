//! The log of `verify`: a line for each verdict, added to those of earlier checks.
//!
//! It is written at the end, whole or not at all, as everything is; lines that stand already are never touched, and a
//! file that is no such log is left alone.

use super::End;
use super::access::Access;
use crate::packet::write::{self, Readers, Trouble};
use jiff::Timestamp;
use std::fs;
use std::io::{self, ErrorKind, Read};
use std::path::{Path, PathBuf};

/// The most bytes of a log: the verdicts of a thousand packets a year fill it in centuries.
const MOST: u64 = 100_000_000;

/// A log, with the lines that are still to be added.
pub(super) struct Log {
    place: PathBuf,
    lines: String,
    readers: Readers,
}

impl Log {
    /// Looks whether lines could be added to a log, which need not stand yet. Fails with the reason in words.
    pub fn at(place: &Path, access: &Access) -> Result<Log, String> {
        let readers = access.readers();
        // A link stands for what it leads to, and stays.
        let place = match place.is_symlink() {
            true => place.canonicalize().map_err(|_| "the link leads to nothing".to_string())?,
            false => place.to_path_buf(),
        };
        match place.symlink_metadata() {
            Ok(about) if !about.is_file() => return Err("it is no file".to_string()),
            Ok(about) if about.len() > MOST => return Err("it is larger than any log".to_string()),
            Ok(_) if !is_log(&place).map_err(|error| error.to_string())? => {
                return Err("it holds something else than verdicts, and nothing is added to it".to_string());
            }
            Ok(_) => {}
            Err(error) if error.kind() == ErrorKind::NotFound && folder_of(&place).is_dir() => {}
            Err(error) => return Err(error.to_string()),
        }
        write::may_stand(&place, readers).map_err(|trouble| trouble.to_string())?;
        Ok(Log { place, lines: String::new(), readers })
    }

    /// Adds a line: the time, what it is about, and what was found.
    pub fn add(&mut self, packet: &str, verdict: &str) {
        let now = Timestamp::now();
        let version = env!("CARGO_PKG_VERSION");
        self.lines.push_str(&format!("{now:.0}  {packet}  {verdict}  gablework {version}\n"));
    }

    /// Writes the lines.
    pub fn close(self) -> End {
        if self.lines.is_empty() {
            return End::Done;
        }
        match write::add_to(&self.place, self.lines.as_bytes(), self.readers) {
            Ok(()) => End::Done,
            Err(trouble) => {
                let help = match trouble {
                    Trouble::Busy(_) => trouble.help(),
                    _ => "make it writable, or name another with --log; then run the same command again",
                };
                tell!(
                    "error: these verdicts are not in the log {}: {trouble}\nhelp: {help}",
                    self.place.display()
                );
                End::Files
            }
        }
    }
}

/// Returns the folder in which a log lies.
pub(super) fn folder_of(place: &Path) -> &Path {
    match place.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// Says whether a file is a log: it is empty, or begins with a time as [`Log::add`] writes it.
fn is_log(path: &Path) -> io::Result<bool> {
    let mut head = Vec::new();
    fs::File::open(path)?.take(TIME.len() as u64).read_to_end(&mut head)?;
    let digits = |(byte, sign): (&u8, u8)| if sign == b'0' { byte.is_ascii_digit() } else { *byte == sign };
    Ok(head.is_empty() || head.len() == TIME.len() && head.iter().zip(TIME.bytes()).all(digits))
}

/// How a line begins: a time of the world's clock, with digits where a zero stands.
const TIME: &str = "0000-00-00T00:00:00Z  ";
