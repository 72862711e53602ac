//! Puts a packet's folder, or a file, in its place: whole, or not at all.
//!
//! Everything is written beside the place, synced, and renamed in. What stands is never overwritten; only a draft may
//! take the place of a draft. What a killed run left beside a place is cleared by the next one that writes there.

mod building;
mod disk;
mod lock;
pub mod revise;
mod trouble;

#[cfg(test)]
mod faults;
#[cfg(test)]
mod tests;

use super::Packet;
use crate::name::unfit_path;
pub use building::{Building, Rows};
pub use disk::Readers;
use disk::{Disk, Real};
use lock::Lock;
use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::time::Duration;
pub use trouble::Trouble;

/// The file that marks a folder as a draft that may be replaced.
pub const DRAFT_MARK: &str = "DRAFT.txt";

/// What the names of a case, of its former files and of the answers to an unfinished one have in common:
/// `HH-0412.case.yaml`, `HH-0412.case.2027-01-12.yaml`, `HH-0412.case.begun`.
const OF_A_CASE: &str = ".case.";

/// Writes a packet into a folder, and returns where it stands.
///
/// Fails when a folder of that name stands already, unless both are drafts; then the old one is replaced.
pub fn put(out: &Path, packet: &Packet, readers: Readers) -> Result<PathBuf, Trouble> {
    put_on(&Real, out, packet, readers)
}

fn put_on(disk: &dyn Disk, out: &Path, packet: &Packet, readers: Readers) -> Result<PathBuf, Trouble> {
    sound(packet)?;
    let place = out.join(&packet.name);
    create_folders(disk, out, readers)?;
    let _lock = Lock::take(disk, out, &packet.name)?;
    let beside = Beside::of(out, &packet.name);
    beside.tidy(disk)?;
    let replace = may_take_its_place(&place, packet)?;
    let slip = packet.slip.as_ref().map(|(name, bytes)| (out.join(name), bytes));
    if let Some((slip, bytes)) = &slip
        && fs::symlink_metadata(slip).is_ok()
        && fs::read(slip).ok().as_ref() != Some(bytes)
    {
        // The slip of a packet that is no longer here; it may be all that is left of it.
        return Err(Trouble::Stands(slip.clone()));
    }
    let written = write_all(disk, &beside.part, packet, readers).and_then(|()| {
        if !replace {
            return move_in(disk, &beside.part, &place);
        }
        disk.rename(&place, &beside.old).map_err(Trouble::of("move", &place))?;
        move_in(disk, &beside.part, &place).inspect_err(|_| {
            // The old draft is better than none.
            let _ = disk.rename(&beside.old, &place);
        })
    });
    if let Err(trouble) = written {
        let _ = clear(disk, &beside.part);
        return Err(trouble.speaking_of(&place, &beside.part));
    }
    let synced = disk.sync_folder(out).map_err(Trouble::of("sync", out));
    if replace {
        clear(disk, &beside.old)?;
    }
    synced?;
    // After the packet, so that no slip stands for a packet that does not; a slip that was lost in between can be made
    // again from the packet.
    if let Some((slip, bytes)) = slip
        && fs::symlink_metadata(&slip).is_err()
    {
        match put_file_on(disk, &slip, bytes, false, readers) {
            // Another run found it missing and was faster.
            Err(Trouble::Stands(_)) if fs::read(&slip).ok().as_ref() == Some(bytes) => {}
            written => written?,
        }
    }
    Ok(place)
}

/// Makes sure once more that every file of a packet will stand inside it, whatever its path was made of.
fn sound(packet: &Packet) -> Result<(), Trouble> {
    let unfit = packet.files.iter().find_map(|(path, _)| Some((path, unfit_path(path)?)));
    unfit.map_or(Ok(()), |(path, why)| Err(Trouble::Name { path: path.clone(), why }))
}

/// Waits until no other run is writing a packet.
pub fn wait_for(out: &Path, name: &str) -> Result<(), Trouble> {
    Lock::take(&Real, out, name).map(drop)
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

/// Removes what killed runs left in a folder of packets or of cases, unless another run is at work on it.
///
/// Only names that this module gives are touched: that of a packet, of its slip or of a case's file, after a period, with
/// `.part`, `.old` or `.lock`. A new file has two names for a moment, and a run that is killed then leaves a file that
/// stands already, so that no later run would write it and clear its other name.
pub fn tidy(out: &Path) -> Result<(), Trouble> {
    let mut names = BTreeSet::new();
    let entries = match fs::read_dir(out) {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(()),
        entries => entries.map_err(Trouble::of("read the folder", out))?,
    };
    for entry in entries {
        let entry = entry.map_err(Trouble::of("read the folder", out))?;
        let name = entry.file_name().to_string_lossy().into_owned();
        let Some((name, ending)) = name.strip_prefix('.').and_then(|name| name.rsplit_once('.')) else {
            continue;
        };
        let folder = entry.file_type().is_ok_and(|kind| kind.is_dir());
        let file = super::slip::packet_of(name).is_some() || name.contains(OF_A_CASE);
        let ours = match ending {
            "part" | "old" => folder != file,
            "lock" => !folder,
            _ => false,
        };
        if ours && (file || super::is_packet_name(name)) {
            names.insert(name.to_string());
        }
    }
    for name in names {
        match Lock::within(&Real, out, &name, Duration::ZERO) {
            Ok(_lock) => Beside::of(out, &name).tidy(&Real)?,
            Err(Trouble::Busy(_)) => {}
            Err(trouble) => return Err(trouble),
        }
    }
    Ok(())
}

/// Writes one file into its place: whole, or not at all.
///
/// Fails when something of that name stands already, unless it may be replaced.
pub fn put_file(path: &Path, bytes: &[u8], replace: bool, readers: Readers) -> Result<(), Trouble> {
    put_file_on(&Real, path, bytes, replace, readers)
}

fn put_file_on(
    disk: &dyn Disk,
    path: &Path,
    bytes: &[u8],
    replace: bool,
    readers: Readers,
) -> Result<(), Trouble> {
    let mut growing = Growing::begin_on(disk, path, replace, readers)?;
    growing.add(bytes)?;
    growing.finish()
}

/// Adds bytes to a file that is kept for long, as lines of their own: what stands already is taken over, so that at any
/// moment either the old file stands or the new one, whole. Where there is none, one is made.
pub fn add_to(path: &Path, lines: &[u8], readers: Readers) -> Result<(), Trouble> {
    add_to_on(&Real, path, lines, readers)
}

fn add_to_on(disk: &dyn Disk, path: &Path, lines: &[u8], readers: Readers) -> Result<(), Trouble> {
    // The lock is held from here on, so that no line of another run is lost.
    let mut growing = Growing::begin_on(disk, path, true, readers)?;
    let mut all = match fs::read(path) {
        Err(error) if error.kind() == ErrorKind::NotFound => Vec::new(),
        read => read.map_err(Trouble::of("read", path))?,
    };
    if !all.is_empty() && !all.ends_with(b"\n") {
        all.push(b'\n');
    }
    all.extend(lines);
    growing.add(&all)?;
    growing.finish()
}

/// Says whether a file could be written at a place, in which it may replace another; leaves nothing there.
pub fn may_stand(path: &Path, readers: Readers) -> Result<(), Trouble> {
    Growing::begin(path, true, readers).map(drop)
}

/// A file that grows beside its place and is moved in when it is whole; removed again when dropped before.
pub struct Growing<'a> {
    disk: &'a dyn Disk,
    file: File,
    part: PathBuf,
    place: PathBuf,
    replace: bool,
    finished: bool,
    _lock: Lock<'a>,
}

impl Growing<'static> {
    /// Begins a file. Fails when something of that name stands already, unless it may be replaced.
    pub fn begin(place: &Path, replace: bool, readers: Readers) -> Result<Growing<'static>, Trouble> {
        Growing::begin_on(&Real, place, replace, readers)
    }
}

impl<'a> Growing<'a> {
    fn begin_on(
        disk: &'a dyn Disk,
        place: &Path,
        replace: bool,
        readers: Readers,
    ) -> Result<Growing<'a>, Trouble> {
        let folder = folder_of(place);
        create_folders(disk, folder, readers)?;
        let name = place.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        let lock = Lock::take(disk, folder, &name)?;
        let part = folder.join(format!(".{name}.part"));
        clear(disk, &part)?;
        if !replace && fs::symlink_metadata(place).is_ok() {
            return Err(Trouble::Stands(place.to_path_buf()));
        }
        let file = disk.create_file(&part, readers).map_err(Trouble::of("create", place))?;
        let place = place.to_path_buf();
        Ok(Growing { disk, file, part, place, replace, finished: false, _lock: lock })
    }

    /// Adds bytes to the file. Many at a time cost less than few.
    pub fn add(&mut self, bytes: &[u8]) -> Result<(), Trouble> {
        self.disk.write(&mut self.file, bytes).map_err(Trouble::of("write", &self.place))
    }

    /// Moves the file into its place.
    pub fn finish(mut self) -> Result<(), Trouble> {
        self.disk.sync_file(&self.file).map_err(Trouble::of("sync", &self.place))?;
        if self.replace {
            self.disk.rename(&self.part, &self.place).map_err(Trouble::of("move into place", &self.place))?;
        } else {
            self.give_name()?;
        }
        self.finished = true;
        let folder = folder_of(&self.place);
        self.disk.sync_folder(folder).map_err(Trouble::of("sync", folder))
    }

    /// Gives the finished file its name, which fails where the name is taken meanwhile; a rename would not.
    fn give_name(&self) -> Result<(), Trouble> {
        let taken = |error: std::io::Error| match error.kind() {
            ErrorKind::AlreadyExists => Trouble::Stands(self.place.clone()),
            _ => Trouble::of("move into place", &self.place)(error),
        };
        match self.disk.link(&self.part, &self.place) {
            Ok(()) => {
                // The file stands; a first name that stays is cleared by the next run.
                let _ = self.disk.remove_file(&self.part);
                Ok(())
            }
            Err(error) if error.kind() == ErrorKind::AlreadyExists => Err(taken(error)),
            // The file system has no second names; the lock keeps other runs away.
            Err(_) => {
                if fs::symlink_metadata(&self.place).is_ok() {
                    return Err(Trouble::Stands(self.place.clone()));
                }
                self.disk.rename(&self.part, &self.place).map_err(taken)
            }
        }
    }
}

impl Drop for Growing<'_> {
    fn drop(&mut self) {
        if !self.finished {
            let _ = self.disk.remove_file(&self.part);
        }
    }
}

/// What stands beside a packet's place while it is written.
struct Beside {
    place: PathBuf,
    /// The new packet, while it grows.
    part: PathBuf,
    /// The draft that is being replaced.
    old: PathBuf,
}

impl Beside {
    fn of(out: &Path, name: &str) -> Beside {
        Beside {
            place: out.join(name),
            part: out.join(format!(".{name}.part")),
            old: out.join(format!(".{name}.old")),
        }
    }

    /// Removes what an interrupted run left. A draft that was moved away and has no successor goes back.
    fn tidy(&self, disk: &dyn Disk) -> Result<(), Trouble> {
        if fs::symlink_metadata(&self.old).is_ok() && fs::symlink_metadata(&self.place).is_err() {
            disk.rename(&self.old, &self.place).map_err(Trouble::of("move back", &self.old))?;
        }
        clear(disk, &self.old)?;
        clear(disk, &self.part)
    }
}

fn write_all(disk: &dyn Disk, part: &Path, packet: &Packet, readers: Readers) -> Result<(), Trouble> {
    let mut folders = BTreeSet::from([part.to_path_buf()]);
    disk.create_folder(part, readers).map_err(Trouble::of("create", part))?;
    for (path, bytes) in &packet.files {
        let full = part.join(path);
        let mut missing: Vec<&Path> =
            full.ancestors().skip(1).take_while(|folder| !folders.contains(*folder)).collect();
        missing.reverse();
        for folder in missing {
            disk.create_folder(folder, readers).map_err(Trouble::of("create", folder))?;
            folders.insert(folder.to_path_buf());
        }
        let mut file = disk.create_file(&full, readers).map_err(Trouble::of("create", &full))?;
        disk.write(&mut file, bytes).map_err(Trouble::of("write", &full))?;
        disk.sync_file(&file).map_err(Trouble::of("sync", &full))?;
    }
    // Inner folders first.
    for folder in folders.iter().rev() {
        disk.sync_folder(folder).map_err(Trouble::of("sync", folder))?;
    }
    Ok(())
}

/// Renames the finished folder in. A rename onto a folder that is not empty fails, so nothing that appeared
/// meanwhile is overwritten.
fn move_in(disk: &dyn Disk, part: &Path, place: &Path) -> Result<(), Trouble> {
    if fs::symlink_metadata(place).is_ok() {
        return Err(Trouble::Stands(place.to_path_buf()));
    }
    disk.rename(part, place).map_err(Trouble::of("move into place", place))
}

/// Removes a file, or a folder with all that is in it, where there is one.
fn clear(disk: &dyn Disk, path: &Path) -> Result<(), Trouble> {
    let removed = match fs::symlink_metadata(path) {
        Err(_) => return Ok(()),
        Ok(kind) if kind.is_dir() => disk.remove_folder(path),
        Ok(_) => disk.remove_file(path),
    };
    removed.map_err(Trouble::of("remove", path))
}

/// Makes a folder and those above it that do not stand yet, so that they would outlast a loss of power.
fn create_folders(disk: &dyn Disk, path: &Path, readers: Readers) -> Result<(), Trouble> {
    if path.as_os_str().is_empty() || path.is_dir() {
        return Ok(());
    }
    create_folders(disk, folder_of(path), readers)?;
    match disk.create_folder(path, readers) {
        // Another run was faster.
        Err(error) if error.kind() == ErrorKind::AlreadyExists && path.is_dir() => return Ok(()),
        made => made.map_err(Trouble::of("create", path))?,
    }
    disk.sync_folder(folder_of(path)).map_err(Trouble::of("sync", path))
}

/// The folder in which something stands.
fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}
