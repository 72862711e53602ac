//! Finds the case files below a folder.

use crate::assemble;
use crate::packet::write::revise::FORMER;
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

/// What lies below a folder.
#[derive(Debug, Default)]
pub struct Found {
    /// Its case files, in the order of their paths; there may be none.
    pub cases: Vec<PathBuf>,
    /// Files that have nearly the name of a case, as editors and downloads make them: each with the name it would need.
    pub nearly: Vec<(PathBuf, String)>,
}

/// Returns the case files below a folder at any depth.
///
/// Packets are not entered, and links to folders are not followed. Whatever else bears the name of a case is found, also
/// a link that leads nowhere or a pipe: reading it tells why it is none, and no client is passed over in silence.
pub fn case_files(folder: &Path) -> Result<Found, Unreadable> {
    let mut found = Found::default();
    walk(folder, &mut found)?;
    found.cases.sort();
    found.nearly.sort();
    Ok(found)
}

fn walk(folder: &Path, found: &mut Found) -> Result<(), Unreadable> {
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
            found.cases.push(path);
        } else if folder.ends_with(FORMER) {
            // Former files of changed cases have nearly the name of one on purpose.
        } else if let Some(meant) = nearly(&name) {
            found.nearly.push((path, meant));
        }
    }
    Ok(())
}

/// Returns the name that a file with nearly the name of a case would need. What an editor hides or puts aside is none.
fn nearly(name: &str) -> Option<String> {
    if name.starts_with('.') {
        return None;
    }
    let small = name.to_ascii_lowercase();
    let kept = small.strip_suffix(".txt").unwrap_or(&small);
    let kept = [".yaml", ".yml"].iter().find_map(|ending| kept.strip_suffix(ending))?;
    let at = kept.rfind(".case")?;
    let after = &kept[at + ".case".len()..];
    // `x.case (1).yaml` is a second download, `x.case - Copy.yaml` a copy beside the file.
    let copied = after.trim_matches([' ', '(', ')', '-', '_']);
    after.chars().next().is_none_or(|c| !c.is_alphanumeric() && !c.is_control()).then(|| match copied {
        "" => format!("{}{CASE_ENDING}", &name[..at]),
        copied => format!("{}-{}{CASE_ENDING}", &name[..at], copied.replace(' ', "-")),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_editors_and_downloads_make_of_a_name_is_nearly_a_case() {
        let table = [
            ("x.case.yaml.txt", Some("x.case.yaml")),
            ("X.CASE.YAML", Some("X.case.yaml")),
            ("x.case.yml", Some("x.case.yaml")),
            ("x.case (1).yaml", Some("x-1.case.yaml")),
            ("x.case - Copy.yaml", Some("x-copy.case.yaml")),
            ("x.cases.yaml", None),
            ("firm.yaml", None),
            ("x.case.yaml~", None),
            (".x.case.yml", None),
            ("ñandú.case.YML", Some("ñandú.case.yaml")),
        ];
        for (name, meant) in table {
            assert_eq!(nearly(name).as_deref(), meant, "{name}");
        }
    }
}
