//! Files that `begin` and `intake` write: the answers kept meanwhile, and the case at the end.
//!
//! Each is written whole beside its place, for its owner's eyes only, and then moved in. Kept answers take the place
//! of older ones; a case takes the place of nothing.

use super::End;
use crate::begin::Answers;
use crate::characters::harmless_line;
use crate::folder::inside;
use crate::packet::write::{self, Readers, Trouble};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Answers of an unfinished case.
pub(super) struct Kept {
    /// Where they are kept.
    pub path: PathBuf,
    /// What was answered.
    pub answers: Answers,
}

/// The ending of a file of kept answers; that of a case file ends in `yaml` instead.
const ENDING: &str = ".case.begun";

/// The most bytes of kept answers; far above any.
const MOST_BYTES: u64 = 1_000_000;

impl Kept {
    /// Reads kept answers, if there are any at this place.
    pub fn of(path: &Path) -> Option<Kept> {
        let name = path.file_name()?.to_str()?;
        let bytes = inside::read(path.parent().unwrap_or(Path::new(".")), name, MOST_BYTES).ok()?;
        let answers = Answers::from_bytes(&bytes)?;
        Some(Kept { path: path.to_path_buf(), answers })
    }

    /// Reads all kept answers of a folder.
    pub fn all_in(folder: &Path) -> Result<Vec<Kept>, End> {
        let read = || -> io::Result<Vec<PathBuf>> {
            fs::read_dir(folder)?.map(|entry| entry.map(|entry| entry.path())).collect()
        };
        let mut paths = read().map_err(|error| {
            tell!("error: cannot read the folder {}: {error}", folder.display());
            End::Files
        })?;
        paths.retain(|path| path.to_string_lossy().ends_with(ENDING));
        paths.sort();
        Ok(paths.iter().filter_map(|path| Kept::of(path)).collect())
    }

    /// The name a person knows it by, as a terminal can show it.
    pub fn name(&self) -> String {
        let name = self.path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        harmless_line(name.strip_suffix(ENDING).unwrap_or(&name))
    }
}

/// Returns the place of kept answers beside a case file.
pub(super) fn beside(case_file: &Path) -> PathBuf {
    let name = case_file.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    case_file.with_file_name(format!("{}{ENDING}", name.strip_suffix(".case.yaml").unwrap_or(&name)))
}

/// Keeps answers, in place of older ones.
pub(super) fn keep(path: &Path, bytes: &[u8]) -> io::Result<()> {
    write::put_file(path, bytes, true, Readers::Owner)
        .map_err(|trouble| io::Error::other(format!("{trouble}; {}", trouble.help())))
}

/// Writes a new file; fails where anything stands already.
pub(super) fn write_new(path: &Path, bytes: &[u8]) -> Result<(), Trouble> {
    write::put_file(path, bytes, false, Readers::Owner)
}

/// Removes what killed runs left beside the cases of a folder, where there is one; whatever cannot be removed is said and
/// does no harm.
pub(super) fn tidy(folder: &Path) {
    if folder.is_dir()
        && let Err(trouble) = write::tidy(folder)
    {
        tell!("warning: {trouble}");
    }
}
