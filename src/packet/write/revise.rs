//! A file that people write, replaced by a changed one, and never lost.
//!
//! The former file stays under another name in a folder beside it; the new one is written whole, synced, and moved in.
//! A file that is no longer as it was when it was read is left alone.

use super::disk::{Disk, Real};
use super::{Growing, Readers, Trouble, create_folders, folder_of, put_file_on};
use jiff::civil::Date;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// The folder of former files, beside the file.
pub const FORMER: &str = "former";

/// How many former files of a day are told apart.
const MOST_A_DAY: usize = 1000;

/// Replaces a file, and returns where the former one stays.
///
/// `was` are the bytes as they were read, `day` the day that names the former file. Where the path is a link, the file
/// that it leads to is replaced, and the link stays. The new file has the rights of the former one.
pub fn revise(path: &Path, was: &[u8], new: &[u8], day: Date) -> Result<PathBuf, Trouble> {
    revise_on(&Real, path, was, new, day)
}

pub(super) fn revise_on(
    disk: &dyn Disk,
    path: &Path,
    was: &[u8],
    new: &[u8],
    day: Date,
) -> Result<PathBuf, Trouble> {
    let place = path.canonicalize().map_err(Trouble::of("read", path))?;
    let unchanged = || match fs::read(&place) {
        Ok(now) if now == was => Ok(()),
        Ok(_) => Err(Trouble::Changed(path.to_path_buf())),
        Err(error) => Err(Trouble::of("read", path)(error)),
    };
    unchanged()?;
    // Whoever may not write the file has no business replacing it, even where the folder would allow it.
    fs::OpenOptions::new().append(true).open(&place).map_err(Trouble::of("write", path))?;
    let mut growing = Growing::begin_on(disk, &place, true, Readers::Owner)?;
    growing.add(new)?;
    like(&growing.part, &place).map_err(Trouble::of("write", path))?;
    let former = keep(disk, &place, was, day)?;
    unchanged()?;
    growing.finish()?;
    Ok(path.with_file_name(FORMER).join(former.file_name().unwrap_or_default()))
}

/// Gives a file the rights and the group of another one; where it cannot have the group, the group has no rights.
#[cfg(unix)]
fn like(new: &Path, old: &Path) -> std::io::Result<()> {
    use std::os::unix::fs::{MetadataExt, PermissionsExt, chown};
    let (wanted, is) = (fs::metadata(old)?, fs::metadata(new)?);
    let group = wanted.gid() == is.gid() || chown(new, None, Some(wanted.gid())).is_ok();
    let mode = wanted.mode() & if group { 0o777 } else { 0o707 };
    fs::set_permissions(new, fs::Permissions::from_mode(mode))
}

#[cfg(not(unix))]
fn like(_: &Path, _: &Path) -> std::io::Result<()> {
    Ok(())
}

/// Gives the file a second name in the folder of former ones, so that it stays when the first name goes to the new one.
fn keep(disk: &dyn Disk, place: &Path, was: &[u8], day: Date) -> Result<PathBuf, Trouble> {
    let folder = place.with_file_name(FORMER);
    create_folders(disk, &folder, Readers::Owner)?;
    if !folder.is_dir() {
        return Err(Trouble::of("create", &folder)(ErrorKind::NotADirectory.into()));
    }
    for n in 1..=MOST_A_DAY {
        let former = folder.join(former_name(place, day, n));
        match disk.link(place, &former) {
            Ok(()) => {
                disk.sync_folder(&folder).map_err(Trouble::of("sync", &folder))?;
                return Ok(former);
            }
            // An earlier run kept it and came no further, or an earlier change of the day.
            Err(error) if error.kind() == ErrorKind::AlreadyExists => {
                if fs::read(&former).is_ok_and(|kept| kept == was) {
                    return Ok(former);
                }
            }
            // The file system has no second names, or the folder is on another disk: a copy then.
            Err(_) => {
                match put_file_on(disk, &former, was, false, Readers::Owner) {
                    Err(Trouble::Stands(_)) if fs::read(&former).is_ok_and(|kept| kept == was) => {}
                    Err(Trouble::Stands(_)) => continue,
                    written => written?,
                }
                return Ok(former);
            }
        }
    }
    Err(Trouble::Stands(folder.join(former_name(place, day, MOST_A_DAY))))
}

/// Names a former file, so that it does not end as the file does and is not taken for one of its kind:
/// `HH-0412.case.2027-01-12.yaml`, and from the second of a day on `HH-0412.case.2027-01-12-2.yaml`.
fn former_name(place: &Path, day: Date, number: usize) -> String {
    let name = place.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let (stem, ending) = name.rsplit_once('.').unwrap_or((&name, "txt"));
    match number {
        1 => format!("{stem}.{day}.{ending}"),
        number => format!("{stem}.{day}-{number}.{ending}"),
    }
}

/// Says whether a folder has room for a former file, so that nobody answers questions in vain.
pub fn may_be_revised(path: &Path) -> Result<(), Trouble> {
    let place = path.canonicalize().map_err(Trouble::of("read", path))?;
    fs::OpenOptions::new().append(true).open(&place).map_err(Trouble::of("write", path))?;
    Growing::begin(&place, true, Readers::Owner).map(drop)?;
    match fs::symlink_metadata(folder_of(&place).join(FORMER)) {
        Ok(stands) if !stands.is_dir() => {
            Err(Trouble::of("create", &folder_of(&place).join(FORMER))(ErrorKind::NotADirectory.into()))
        }
        _ => Ok(()),
    }
}
