//! Files that `begin` writes: the answers kept meanwhile, and the case at the end.
//!
//! Each is written whole beside its place, for its owner's eyes only, and then moved in. Kept answers take the place
//! of older ones; a case takes the place of nothing.

use super::End;
use crate::begin::Answers;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
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

impl Kept {
    /// Reads kept answers, if there are any at this place.
    pub fn of(path: &Path) -> Option<Kept> {
        let answers = Answers::from_bytes(&fs::read(path).ok()?)?;
        Some(Kept { path: path.to_path_buf(), answers })
    }

    /// Reads all kept answers of a folder.
    pub fn all_in(folder: &Path) -> Result<Vec<Kept>, End> {
        let read = || -> io::Result<Vec<PathBuf>> {
            fs::read_dir(folder)?.map(|entry| entry.map(|entry| entry.path())).collect()
        };
        let mut paths = read().map_err(|error| {
            eprintln!("error: cannot read the folder {}: {error}", folder.display());
            End::Files
        })?;
        paths.retain(|path| path.to_string_lossy().ends_with(ENDING));
        paths.sort();
        Ok(paths.iter().filter_map(|path| Kept::of(path)).collect())
    }

    /// The name a person knows it by.
    pub fn name(&self) -> String {
        let name = self.path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        name.strip_suffix(ENDING).unwrap_or(&name).to_string()
    }
}

/// Returns the place of kept answers beside a case file.
pub(super) fn beside(case_file: &Path) -> PathBuf {
    let name = case_file.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    case_file.with_file_name(format!("{}{ENDING}", name.strip_suffix(".case.yaml").unwrap_or(&name)))
}

/// Keeps answers, in place of older ones.
pub(super) fn keep(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let part = part(path, bytes)?;
    fs::rename(&part, path).inspect_err(|_| drop(fs::remove_file(&part)))
}

/// Writes a new file; fails where anything stands already.
pub(super) fn write_new(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let part = part(path, bytes)?;
    // A second name for the finished file fails where the name is taken, which a rename does not.
    let linked = match fs::hard_link(&part, path) {
        Err(error) if error.kind() != io::ErrorKind::AlreadyExists => without_links(&part, path),
        other => other,
    };
    // A rename has taken it along.
    let _ = fs::remove_file(&part);
    linked?;
    sync_folder(path)
}

/// The same where the file system has no second names: claims the name first, then fills it by a rename.
fn without_links(part: &Path, path: &Path) -> io::Result<()> {
    OpenOptions::new().write(true).create_new(true).open(path)?;
    fs::rename(part, path)
}

/// Writes a file beside its place, readable for its owner only.
fn part(path: &Path, bytes: &[u8]) -> io::Result<PathBuf> {
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let part = path.with_file_name(format!(".{name}.part"));
    match fs::remove_file(&part) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
        _ => {}
    }
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    let mut file = options.open(&part)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    Ok(part)
}

fn sync_folder(path: &Path) -> io::Result<()> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    if cfg!(unix) { File::open(folder)?.sync_all() } else { Ok(()) }
}
