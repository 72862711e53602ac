//! One writer at a time for each packet or file.
//!
//! A lock is an empty file beside the place, locked through the system, which lets go of it when a process ends,
//! however it ends. So whoever holds the lock may clear what an interrupted run left there, and runs that share a
//! folder never clear each other's work.

use super::disk::Disk;
use super::trouble::Trouble;
use std::fs::{File, TryLockError};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// How long to wait for another run; writing a packet takes a fraction of it.
const PATIENCE: Duration = Duration::from_secs(5);

/// The right to write at a place; ends when dropped.
pub(super) struct Lock<'a> {
    disk: &'a dyn Disk,
    path: PathBuf,
    _file: File,
}

impl<'a> Lock<'a> {
    /// Takes the lock of a place in a folder; waits for another run that is about to finish.
    pub fn take(disk: &'a dyn Disk, folder: &Path, name: &str) -> Result<Lock<'a>, Trouble> {
        Lock::within(disk, folder, name, PATIENCE)
    }

    /// The same, with how long to wait.
    pub fn within(
        disk: &'a dyn Disk,
        folder: &Path,
        name: &str,
        patience: Duration,
    ) -> Result<Lock<'a>, Trouble> {
        let path = folder.join(format!(".{name}.lock"));
        let begun = Instant::now();
        loop {
            let file = disk.open_lock(&path).map_err(Trouble::of("write in", folder))?;
            match file.try_lock() {
                // Who held it before may have removed the file since it was opened.
                Ok(()) if !is_at(&file, &path) => {}
                // A file system without locks: then nothing keeps two runs apart but their folders.
                Ok(()) | Err(TryLockError::Error(_)) => return Ok(Lock { disk, path, _file: file }),
                Err(TryLockError::WouldBlock) if begun.elapsed() >= patience => {
                    return Err(Trouble::Busy(folder.join(name)));
                }
                Err(TryLockError::WouldBlock) => std::thread::sleep(Duration::from_millis(10)),
            }
        }
    }
}

impl Drop for Lock<'_> {
    fn drop(&mut self) {
        // Removed while it is held, so that nobody else's is.
        let _ = self.disk.remove_file(&self.path);
    }
}

/// Says whether an open file is the one that a name leads to.
#[cfg(unix)]
fn is_at(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    match (file.metadata(), std::fs::symlink_metadata(path)) {
        (Ok(one), Ok(other)) => (one.dev(), one.ino()) == (other.dev(), other.ino()),
        _ => false,
    }
}

#[cfg(not(unix))]
fn is_at(_: &File, _: &Path) -> bool {
    true
}
