//! Finds the case files below a folder.

use crate::assemble;
use std::io;
use std::path::{Path, PathBuf};

/// How a case file's name ends.
pub const CASE_ENDING: &str = ".case.yaml";

/// What marks a folder as a packet, whose sealed case is not one of the firm's cases.
const MARKS: [&str; 2] = ["bagit.txt", assemble::REQUEST];

/// Why a folder could not be read through.
#[derive(Debug)]
pub struct Unreadable {
    /// The folder.
    pub folder: PathBuf,
    /// The answer of the file system.
    pub error: io::Error,
}

impl std::fmt::Display for Unreadable {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "cannot read the folder {}: {}", self.folder.display(), self.error)
    }
}

impl std::error::Error for Unreadable {}

/// Returns the case files below a folder at any depth, in the order of their paths; there may be none.
///
/// Packets are not entered, and links to folders are not followed. Whatever else bears the name of a case is found, also
/// a link that leads nowhere or a pipe: reading it tells why it is none, and no client is passed over in silence.
pub fn case_files(folder: &Path) -> Result<Vec<PathBuf>, Unreadable> {
    let mut found = Vec::new();
    walk(folder, &mut found)?;
    found.sort();
    Ok(found)
}

fn walk(folder: &Path, found: &mut Vec<PathBuf>) -> Result<(), Unreadable> {
    let fail = |error| Unreadable { folder: folder.to_path_buf(), error };
    for entry in std::fs::read_dir(folder).map_err(fail)? {
        let entry = entry.map_err(fail)?;
        let kind = entry.file_type().map_err(fail)?;
        let path = entry.path();
        let name = entry.file_name();
        let name = name.to_string_lossy();
        // Some editors mark an open file with a link of such a name, which leads nowhere.
        let mark = kind.is_symlink() && name.starts_with(".#");
        if kind.is_dir() {
            if !MARKS.iter().any(|mark| path.join(mark).exists()) {
                walk(&path, found)?;
            }
        } else if name.ends_with(CASE_ENDING) && !mark {
            found.push(path);
        }
    }
    Ok(())
}
