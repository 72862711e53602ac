//! Files that a case or a firm's file names: read where they lie in its folder or below, and nowhere else.
//!
//! Comes in: the folder, the path as written, the most bytes. Goes out: the bytes, or why not. A link may lead to
//! another place inside the folder, not out of it. What was opened is compared with what the path means once more,
//! so that a file exchanged meanwhile is not read; a pipe or a device is refused and never waited for.

use std::fs::{File, Metadata, OpenOptions};
use std::io::{self, Read};
use std::path::{Component, Path};

/// Why a file is not read.
#[derive(Debug)]
pub enum Refused {
    /// Its path leads out of the folder, by itself or through a link.
    Outside,
    /// It is a folder, a pipe, a device or the like.
    NoFile,
    /// It holds more bytes than may be read.
    TooLarge,
    /// The file system refused.
    Unreadable(io::Error),
}

/// Reads a file that is named from a folder.
pub fn read(folder: &Path, named: &str, most: u64) -> Result<Vec<u8>, Refused> {
    let (file, _) = open_inside(folder, named, most)?;
    let mut bytes = Vec::new();
    file.take(most + 1).read_to_end(&mut bytes).map_err(Refused::Unreadable)?;
    if bytes.len() as u64 > most { Err(Refused::TooLarge) } else { Ok(bytes) }
}

/// Opens a file that is named from a folder, and returns how long it is.
pub fn open_inside(folder: &Path, named: &str, most: u64) -> Result<(File, u64), Refused> {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    if !Path::new(named).components().all(|part| matches!(part, Component::Normal(_))) {
        return Err(Refused::Outside);
    }
    let full = folder.join(named);
    let before = std::fs::metadata(&full).map_err(Refused::Unreadable)?;
    stays_in(folder, &full)?;
    if !before.is_file() {
        return Err(Refused::NoFile);
    }
    let file = open(&full).map_err(Refused::Unreadable)?;
    let about = file.metadata().map_err(Refused::Unreadable)?;
    if !about.is_file() {
        return Err(Refused::NoFile);
    }
    // Between the look and the opening, another file may have been put there.
    let meant = stays_in(folder, &full)?;
    if !same(&about, &meant) {
        return Err(Refused::Outside);
    }
    if about.len() > most { Err(Refused::TooLarge) } else { Ok((file, about.len())) }
}

/// Makes sure that a path, links followed, lies in a folder, and returns what lies there.
fn stays_in(folder: &Path, full: &Path) -> Result<Metadata, Refused> {
    let folder = folder.canonicalize().map_err(Refused::Unreadable)?;
    let full = full.canonicalize().map_err(Refused::Unreadable)?;
    if !full.starts_with(&folder) {
        return Err(Refused::Outside);
    }
    // The path has no links any more; one that has come since is not followed here.
    std::fs::symlink_metadata(&full).map_err(Refused::Unreadable)
}

#[cfg(unix)]
fn same(one: &Metadata, other: &Metadata) -> bool {
    use std::os::unix::fs::MetadataExt;
    (one.dev(), one.ino()) == (other.dev(), other.ino())
}

#[cfg(not(unix))]
fn same(one: &Metadata, other: &Metadata) -> bool {
    one.file_type() == other.file_type() && one.len() == other.len()
}

/// Opens a file that is read from its beginning to its end: neither a folder nor what might be waited for, such as a
/// pipe.
pub fn open_file(path: &Path) -> io::Result<File> {
    let file = open(path)?;
    let kind = file.metadata()?.file_type();
    let what = match () {
        () if kind.is_file() => return Ok(file),
        () if kind.is_dir() => "it is a folder, and a file is wanted",
        () => "it is a pipe or a device, and a file is wanted",
    };
    Err(io::Error::new(io::ErrorKind::InvalidInput, what))
}

/// Opens a file without waiting for whoever might write into a pipe.
fn open(path: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.read(true);
    #[cfg(any(
        target_os = "linux",
        target_os = "macos",
        target_os = "freebsd",
        target_os = "openbsd",
        target_os = "netbsd"
    ))]
    {
        use std::os::unix::fs::OpenOptionsExt;
        // O_NONBLOCK, as the headers of these systems have it.
        options.custom_flags(if cfg!(target_os = "linux") { 0o4000 } else { 4 });
    }
    options.open(path)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;
    use std::path::PathBuf;

    fn scratch(name: &str) -> PathBuf {
        let path = std::env::temp_dir().join(format!("gablework-inside-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(path.join("case/papers")).unwrap();
        fs::write(path.join("case/papers/a.pdf"), "inside").unwrap();
        fs::write(path.join("secret.txt"), "outside").unwrap();
        path
    }

    #[test]
    fn what_lies_inside_is_read_and_nothing_else() {
        let root = scratch("plain");
        let folder = root.join("case");
        assert_eq!(read(&folder, "papers/a.pdf", 6).unwrap(), b"inside");
        assert!(matches!(read(&folder, "papers/a.pdf", 5), Err(Refused::TooLarge)));
        assert!(matches!(read(&folder, "../secret.txt", 99), Err(Refused::Outside)));
        assert!(matches!(read(&folder, "papers/../../secret.txt", 99), Err(Refused::Outside)));
        assert!(matches!(read(&folder, "/etc/passwd", 9999), Err(Refused::Outside)));
        assert!(matches!(read(&folder, "papers", 99), Err(Refused::NoFile)));
        assert!(matches!(read(&folder, "papers/b.pdf", 99), Err(Refused::Unreadable(_))));
        fs::remove_dir_all(root).unwrap();
    }

    #[cfg(unix)]
    #[test]
    fn a_link_may_not_lead_out() {
        use std::os::unix::fs::symlink;
        let root = scratch("links");
        let folder = root.join("case");
        symlink(root.join("secret.txt"), folder.join("out.pdf")).unwrap();
        symlink(&root, folder.join("up")).unwrap();
        symlink("papers/a.pdf", folder.join("in.pdf")).unwrap();
        symlink("loop.pdf", folder.join("loop.pdf")).unwrap();
        symlink("/dev/zero", folder.join("zero.pdf")).unwrap();
        assert!(matches!(read(&folder, "out.pdf", 99), Err(Refused::Outside)));
        assert!(matches!(read(&folder, "up/secret.txt", 99), Err(Refused::Outside)));
        assert_eq!(read(&folder, "in.pdf", 99).unwrap(), b"inside");
        assert!(matches!(read(&folder, "loop.pdf", 99), Err(Refused::Unreadable(_))));
        assert!(matches!(read(&folder, "zero.pdf", 99), Err(Refused::Outside)));
        // The folder itself may be reached by a link: that is how the firm has its folders.
        symlink(&folder, root.join("other-way")).unwrap();
        assert_eq!(read(&root.join("other-way"), "papers/a.pdf", 99).unwrap(), b"inside");
        fs::remove_dir_all(root).unwrap();
    }

    /// A link is turned to and fro by somebody else: whatever is read is what lies inside.
    #[cfg(unix)]
    #[test]
    fn a_file_exchanged_meanwhile_is_not_read() {
        use std::os::unix::fs::symlink;
        use std::sync::atomic::{AtomicBool, Ordering};
        let root = scratch("race");
        let folder = root.join("case");
        let stop = AtomicBool::new(false);
        std::thread::scope(|scope| {
            scope.spawn(|| {
                let (place, next) = (folder.join("now.pdf"), folder.join("next.pdf"));
                let mut turn = 0;
                while !stop.load(Ordering::Relaxed) {
                    let to =
                        if turn % 2 == 0 { root.join("secret.txt") } else { folder.join("papers/a.pdf") };
                    symlink(to, &next).unwrap();
                    fs::rename(&next, &place).unwrap();
                    turn += 1;
                }
            });
            for _ in 0..3000 {
                if let Ok(bytes) = read(&folder, "now.pdf", 99) {
                    assert_eq!(bytes, b"inside");
                }
            }
            stop.store(true, Ordering::Relaxed);
        });
        fs::remove_dir_all(root).unwrap();
    }
}
