//! Puts a packet's folder in its place: whole, or not at all.
//!
//! Everything is written to a folder beside the place, synced, and renamed in. What stands is never overwritten;
//! only a draft may take the place of a draft.

use super::Packet;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Why a packet could not be put in its place.
#[derive(Debug)]
pub enum Trouble {
    /// A folder of that name stands already.
    Stands(PathBuf),
    /// The file system refused.
    File {
        /// What was being done, such as `write`.
        doing: &'static str,
        /// To what.
        path: PathBuf,
        /// Its answer.
        error: io::Error,
    },
}

impl std::fmt::Display for Trouble {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Trouble::Stands(path) => {
                write!(f, "{} stands already, and a packet is never overwritten", path.display())
            }
            Trouble::File { path, error, .. }
                if matches!(error.kind(), io::ErrorKind::AlreadyExists | io::ErrorKind::NotADirectory) =>
            {
                write!(f, "{} cannot be a folder: a file of that name stands there", path.display())
            }
            Trouble::File { path, error, .. } if error.kind() == io::ErrorKind::PermissionDenied => {
                write!(
                    f,
                    "{} may not be written by you; name another folder or ask whoever owns it",
                    path.display()
                )
            }
            Trouble::File { doing, path, error } => write!(f, "cannot {doing} {}: {error}", path.display()),
        }
    }
}

/// The file that marks a folder as a draft that may be replaced.
pub const DRAFT_MARK: &str = "DRAFT.txt";

/// Writes a packet into a folder, and returns where it stands.
///
/// Fails when a folder of that name stands already, unless both are drafts; then the old one is replaced.
pub fn put(out: &Path, packet: &Packet) -> Result<PathBuf, Trouble> {
    let place = out.join(&packet.name);
    let replace = may_take_its_place(&place, packet)?;
    create_folder(out)?;
    let beside = out.join(format!(".{}.part", packet.name));
    clear(&beside)?;
    let written = write_all(&beside, packet).and_then(|()| {
        if replace {
            let old = out.join(format!(".{}.old", packet.name));
            clear(&old)?;
            fs::rename(&place, &old).map_err(|error| Trouble::File {
                doing: "move",
                path: place.clone(),
                error,
            })?;
            move_in(&beside, &place)?;
            clear(&old)
        } else {
            move_in(&beside, &place)
        }
    });
    if let Err(trouble) = written {
        let _ = fs::remove_dir_all(&beside);
        return Err(trouble);
    }
    sync_folder(out)?;
    Ok(place)
}

/// Writes one file into its place: whole, or not at all.
///
/// Fails when something of that name stands already, unless it may be replaced.
pub fn put_file(path: &Path, bytes: &[u8], replace: bool) -> Result<(), Trouble> {
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    if !replace && fs::symlink_metadata(path).is_ok() {
        return Err(Trouble::Stands(path.to_path_buf()));
    }
    create_folder(folder)?;
    let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    let beside = folder.join(format!(".{name}.part"));
    clear(&beside)?;
    let moved = write_file(&beside, bytes).and_then(|()| {
        fs::rename(&beside, path).map_err(|error| Trouble::File {
            doing: "move into place",
            path: path.to_path_buf(),
            error,
        })
    });
    if let Err(trouble) = moved {
        let _ = fs::remove_file(&beside);
        return Err(trouble);
    }
    sync_folder(folder)
}

/// Says whether the place is free or holds a draft that this draft may replace.
pub fn may_take_its_place(place: &Path, packet: &Packet) -> Result<bool, Trouble> {
    if fs::symlink_metadata(place).is_err() {
        return Ok(false);
    }
    let both_drafts =
        place.join(DRAFT_MARK).is_file() && packet.files.iter().any(|(path, _)| path == DRAFT_MARK);
    if both_drafts { Ok(true) } else { Err(Trouble::Stands(place.to_path_buf())) }
}

fn write_all(folder: &Path, packet: &Packet) -> Result<(), Trouble> {
    create_folder(folder)?;
    for (path, bytes) in &packet.files {
        let full = folder.join(path);
        if let Some(parent) = full.parent() {
            create_folder(parent)?;
        }
        write_file(&full, bytes)?;
    }
    sync_folder(folder)
}

pub(super) fn write_file(path: &Path, bytes: &[u8]) -> Result<(), Trouble> {
    let fail = |doing| move |error| Trouble::File { doing, path: path.to_path_buf(), error };
    let mut file = OpenOptions::new().write(true).create_new(true).open(path).map_err(fail("create"))?;
    private(&file).map_err(fail("protect"))?;
    file.write_all(bytes).map_err(fail("write"))?;
    file.sync_all().map_err(fail("sync"))
}

/// Renames the finished folder in. A rename onto an existing folder that is not empty fails, so nothing that
/// appeared meanwhile is overwritten.
pub(super) fn move_in(beside: &Path, place: &Path) -> Result<(), Trouble> {
    if fs::symlink_metadata(place).is_ok() {
        return Err(Trouble::Stands(place.to_path_buf()));
    }
    fs::rename(beside, place).map_err(|error| Trouble::File {
        doing: "move into place",
        path: place.to_path_buf(),
        error,
    })
}

/// Removes what an interrupted run left behind.
pub(super) fn clear(path: &Path) -> Result<(), Trouble> {
    match fs::symlink_metadata(path) {
        Err(_) => Ok(()),
        Ok(kind) if kind.is_dir() => fs::remove_dir_all(path).map_err(|error| Trouble::File {
            doing: "remove",
            path: path.to_path_buf(),
            error,
        }),
        Ok(_) => fs::remove_file(path).map_err(|error| Trouble::File {
            doing: "remove",
            path: path.to_path_buf(),
            error,
        }),
    }
}

pub(super) fn create_folder(path: &Path) -> Result<(), Trouble> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::DirBuilderExt;
        builder.mode(0o700);
    }
    builder.create(path).map_err(|error| Trouble::File {
        doing: "create folder",
        path: path.to_path_buf(),
        error,
    })
}

/// People's finances are for their owner's eyes.
pub(super) fn private(file: &File) -> io::Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        file.set_permissions(fs::Permissions::from_mode(0o600))?;
    }
    Ok(())
}

pub(super) fn sync_folder(path: &Path) -> Result<(), Trouble> {
    let fail = |error| Trouble::File { doing: "sync", path: path.to_path_buf(), error };
    if cfg!(unix) { File::open(path).and_then(|folder| folder.sync_all()).map_err(fail) } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scratch(name: &str) -> PathBuf {
        let path = std::env::temp_dir().join(format!("gablework-packet-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        path
    }

    fn packet(text: &str, draft: bool) -> Packet {
        let mut packet = Packet::new("HH-1-2024");
        packet.add("data/a.txt", text);
        if draft {
            packet.add(DRAFT_MARK, "draft");
        }
        packet
    }

    #[test]
    fn what_stands_is_never_overwritten() {
        let out = scratch("stands");
        put(&out, &packet("first", false)).unwrap();
        assert!(matches!(put(&out, &packet("second", false)), Err(Trouble::Stands(_))));
        assert!(matches!(put(&out, &packet("second", true)), Err(Trouble::Stands(_))));
        assert_eq!(fs::read_to_string(out.join("HH-1-2024/data/a.txt")).unwrap(), "first");
        fs::remove_dir_all(out).unwrap();
    }

    #[test]
    fn a_file_stands_whole_and_is_replaced_only_when_told() {
        let out = scratch("file");
        put_file(&out.join("list.csv"), b"first", false).unwrap();
        assert!(matches!(put_file(&out.join("list.csv"), b"second", false), Err(Trouble::Stands(_))));
        assert_eq!(fs::read_to_string(out.join("list.csv")).unwrap(), "first");
        put_file(&out.join("list.csv"), b"second", true).unwrap();
        assert_eq!(fs::read_to_string(out.join("list.csv")).unwrap(), "second");
        assert_eq!(fs::read_dir(&out).unwrap().count(), 1);
        fs::remove_dir_all(out).unwrap();
    }

    #[test]
    fn a_draft_takes_the_place_of_a_draft_and_leaves_nothing_beside() {
        let out = scratch("draft");
        put(&out, &packet("first", true)).unwrap();
        put(&out, &packet("second", true)).unwrap();
        assert_eq!(fs::read_to_string(out.join("HH-1-2024/data/a.txt")).unwrap(), "second");
        assert_eq!(fs::read_dir(&out).unwrap().count(), 1);
        fs::remove_dir_all(out).unwrap();
    }
}
