//! Why something could not be put in its place, in words for people, and what to do about it.

use crate::name::Unfit;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// Why something could not be put in its place. Nothing half-written stands then.
#[derive(Debug)]
pub enum Trouble {
    /// Something of that name stands already.
    Stands(PathBuf),
    /// A file is no longer as it was when it was read.
    Changed(PathBuf),
    /// Another run of the program is writing it.
    Busy(PathBuf),
    /// A path that could lead out of the folder it is meant for, or that some systems refuse.
    Name {
        /// The path.
        path: String,
        /// What is wrong with it.
        why: Unfit,
    },
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

impl Trouble {
    /// Says what was being done, and to what, when the file system refused.
    pub(super) fn of(doing: &'static str, path: &Path) -> impl FnOnce(io::Error) -> Trouble {
        let path = path.to_path_buf();
        move |error| Trouble::File { doing, path, error }
    }

    /// Speaks of the place where something was to stand rather than of the one where it was being made.
    pub(super) fn speaking_of(self, place: &Path, beside: &Path) -> Trouble {
        match self {
            Trouble::File { doing, path, error } => {
                let path = match path.strip_prefix(beside) {
                    Ok(rest) if rest.as_os_str().is_empty() => place.to_path_buf(),
                    Ok(rest) => place.join(rest),
                    Err(_) => path,
                };
                Trouble::File { doing, path, error }
            }
            other => other,
        }
    }

    /// Says what to do about it.
    pub fn help(&self) -> &'static str {
        let error = match self {
            Trouble::Stands(_) => return "name another folder, or move away what stands there",
            Trouble::Changed(_) => {
                return "run the same command again; it starts from the file as it is now. Nothing was written";
            }
            Trouble::Busy(_) => return "let the other run finish, then run the same command again",
            Trouble::Name { .. } => return "rename the file, and write its new name in the case",
            Trouble::File { error, .. } => error,
        };
        match error.kind() {
            ErrorKind::StorageFull => {
                "make room, or name a folder on another disk; then run the same command again. Nothing half-written \
                 stands"
            }
            ErrorKind::QuotaExceeded => {
                "delete what is no longer needed or ask for more room, or name a folder on another disk; then run the \
                 same command again. Nothing half-written stands"
            }
            ErrorKind::FileTooLarge => {
                "raise the limit on the size of files (`ulimit -f` shows it), or name a folder on another disk; then \
                 run the same command again. Nothing half-written stands"
            }
            ErrorKind::ReadOnlyFilesystem => "name a folder on a disk that can be written",
            ErrorKind::PermissionDenied => "name another folder, or ask whoever owns it",
            ErrorKind::NotFound => {
                "see that the folder is there again (a shared drive may have been disconnected), then run the same \
                 command again"
            }
            ErrorKind::InvalidFilename => "name a folder with a shorter path",
            ErrorKind::AlreadyExists | ErrorKind::NotADirectory => "name another folder",
            ErrorKind::TimedOut
            | ErrorKind::StaleNetworkFileHandle
            | ErrorKind::HostUnreachable
            | ErrorKind::NetworkUnreachable
            | ErrorKind::NotConnected => {
                "see that the shared drive is connected, then run the same command again"
            }
            _ => "see that the disk is sound and connected, then run the same command again",
        }
    }
}

impl std::fmt::Display for Trouble {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (doing, path, error) = match self {
            Trouble::Stands(path) => {
                return write!(f, "{} stands already, and is never overwritten", path.display());
            }
            Trouble::Changed(path) => {
                return write!(f, "{} was changed by somebody else in the meantime", path.display());
            }
            Trouble::Busy(path) => return write!(f, "another run is writing {}", path.display()),
            Trouble::Name { path, why } => return write!(f, "no file can be called `{path}`: {why}"),
            Trouble::File { doing, path, error } => (doing, path.display(), error),
        };
        match error.kind() {
            ErrorKind::StorageFull => write!(f, "the disk is full: there is no room for {path}"),
            ErrorKind::QuotaExceeded => {
                write!(f, "your share of the disk is used up: there is no room for {path}")
            }
            ErrorKind::FileTooLarge => write!(f, "{path} is larger than a file may be here"),
            ErrorKind::ReadOnlyFilesystem => write!(f, "{path} lies on a disk that can only be read"),
            ErrorKind::PermissionDenied => write!(f, "{path} may not be written by you"),
            ErrorKind::NotFound => {
                write!(f, "cannot {doing} {path}: its folder was moved, deleted or disconnected")
            }
            ErrorKind::InvalidFilename => write!(f, "{path} is too long a name for this disk"),
            ErrorKind::AlreadyExists | ErrorKind::NotADirectory => {
                write!(f, "{path} cannot be made: a file stands in its way")
            }
            _ => write!(f, "cannot {doing} {path}: {error}"),
        }
    }
}

impl std::error::Error for Trouble {}
