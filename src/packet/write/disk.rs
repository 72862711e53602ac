//! The few things the writing layer asks of a file system, one by one, so that each can be made to fail in a test.

use crate::held::patiently;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::Path;

/// Who may read what is written. Never everybody.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Readers {
    /// The owner alone.
    #[default]
    Owner,
    /// The owner's group as well, for a shared drive; only the owner writes.
    Group,
}

impl Readers {
    /// The rights of a file, as Unix counts them.
    pub fn file_mode(self) -> u32 {
        match self {
            Readers::Owner => 0o600,
            Readers::Group => 0o640,
        }
    }

    /// The rights of a folder, as Unix counts them.
    pub fn folder_mode(self) -> u32 {
        match self {
            Readers::Owner => 0o700,
            Readers::Group => 0o750,
        }
    }
}

/// What is asked of a file system.
pub(super) trait Disk: Sync {
    /// Makes one folder; fails where anything of that name stands.
    fn create_folder(&self, path: &Path, readers: Readers) -> io::Result<()>;
    /// Makes an empty file; fails where anything of that name stands.
    fn create_file(&self, path: &Path, readers: Readers) -> io::Result<File>;
    /// Opens a file to be locked; makes it where there is none.
    fn open_lock(&self, path: &Path) -> io::Result<File>;
    /// Writes to a file.
    fn write(&self, file: &mut File, bytes: &[u8]) -> io::Result<()>;
    /// Waits until a file's bytes would outlast a loss of power.
    fn sync_file(&self, file: &File) -> io::Result<()>;
    /// The same for the names in a folder.
    fn sync_folder(&self, path: &Path) -> io::Result<()>;
    /// Gives a file or a folder another name.
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Gives a file a second name; fails where anything of that name stands.
    fn link(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Removes a file.
    fn remove_file(&self, path: &Path) -> io::Result<()>;
    /// Removes a folder with all that is in it.
    fn remove_folder(&self, path: &Path) -> io::Result<()>;
}

/// The file system itself.
pub(super) struct Real;

impl Disk for Real {
    fn create_folder(&self, path: &Path, readers: Readers) -> io::Result<()> {
        let mut builder = fs::DirBuilder::new();
        #[cfg(unix)]
        {
            use std::os::unix::fs::DirBuilderExt;
            // Not even for a moment more than the owner's.
            builder.mode(0o700);
        }
        builder.create(path)?;
        protect(path, readers.folder_mode())
    }

    fn create_file(&self, path: &Path, readers: Readers) -> io::Result<File> {
        let mut options = OpenOptions::new();
        options.write(true).create_new(true);
        #[cfg(unix)]
        {
            use std::os::unix::fs::OpenOptionsExt;
            options.mode(0o600);
        }
        let file = options.open(path)?;
        protect(path, readers.file_mode())?;
        Ok(file)
    }

    fn open_lock(&self, path: &Path) -> io::Result<File> {
        let mut options = OpenOptions::new();
        options.write(true).create(true).truncate(false);
        #[cfg(unix)]
        {
            use std::os::unix::fs::OpenOptionsExt;
            options.mode(0o600);
        }
        options.open(path)
    }

    fn write(&self, file: &mut File, bytes: &[u8]) -> io::Result<()> {
        file.write_all(bytes)
    }

    fn sync_file(&self, file: &File) -> io::Result<()> {
        file.sync_all()
    }

    fn sync_folder(&self, path: &Path) -> io::Result<()> {
        // Elsewhere a folder cannot be opened, and the file system looks after names itself.
        if cfg!(unix) { File::open(path)?.sync_all() } else { Ok(()) }
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        patiently(|| fs::rename(from, to))
    }

    fn link(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::hard_link(from, to)
    }

    fn remove_file(&self, path: &Path) -> io::Result<()> {
        patiently(|| fs::remove_file(path))
    }

    fn remove_folder(&self, path: &Path) -> io::Result<()> {
        patiently(|| fs::remove_dir_all(path))
    }
}

/// Sets the rights of what was just made, whatever the user's mask. What a shared drive's folder hands down to those
/// in it, such as its group, stays.
#[cfg(unix)]
fn protect(path: &Path, mode: u32) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    let now = fs::symlink_metadata(path)?.permissions().mode();
    let wanted = (now & 0o7000) | mode;
    if now & 0o7777 == wanted {
        Ok(())
    } else {
        fs::set_permissions(path, fs::Permissions::from_mode(wanted))
    }
}

#[cfg(not(unix))]
fn protect(_: &Path, _: u32) -> io::Result<()> {
    Ok(())
}
